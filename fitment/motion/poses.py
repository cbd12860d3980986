"""The hub in many poses: one record, whatever the suspension."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitment.frames import Array, camber_of, steer_of

Motion = tuple[Array, Array]
"""(R (n, 3, 3), t (n, 3)): a point at the reference pose moves to R x + t"""


@dataclass(frozen=True)
class Poses:
    """The hub in n poses, body frame.

    origin : centre of the hub face (n, 3) [mm]
    rotation : hub to body (n, 3, 3) [-]
    motions : how each carrier moves since the reference pose: rotation (n, 3, 3) [-] and shift (n, 3) [mm]
    axis_lower, axis_upper : two points of the steering axis (n, 3) [mm], or None
    rack : rack displacement along y [mm] (n,), or None where no rack is described
    opposite : travel of the opposite wheel [mm] (n,), or None where it does not matter
    corner : 'left', or 'right' for the mirrored corner of an axle that is not symmetric
    reachable : whether the suspension reaches the pose (n,); numbers of the others mean nothing
    """

    origin: Array
    rotation: Array
    motions: Mapping[str, Motion]
    axis_lower: Array | None
    axis_upper: Array | None
    rack: Array | None
    opposite: Array | None
    corner: NDArray[np.str_]
    reachable: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.origin)

    @property
    def travel(self) -> Array:
        """z of the hub-face centre (n,) [mm], positive = wheel up into the body."""
        return self.origin[:, 2]

    @property
    def spin_axis(self) -> Array:
        """Outboard spin axes (n, 3), unit vectors [-]."""
        return self.rotation[:, :, 1]

    @property
    def steer(self) -> Array:
        """Steer angle (n,) [deg], positive to the left."""
        return steer_of(self.spin_axis)

    @property
    def turned(self) -> Array:
        """Steer angle (n,) [deg] on the wheel's own side of the vehicle: a right corner is posed as in a mirror."""
        return np.where(self.corner == "right", -self.steer, self.steer) + 0.0

    @property
    def camber(self) -> Array:
        """Camber (n,) [deg], negative = top leans inboard."""
        return camber_of(self.spin_axis)

    def at(self, chosen: NDArray[np.bool_] | NDArray[np.intp]) -> Poses:
        """Some of the poses, by mask or index."""

        def some(part: Array | None) -> Array | None:
            return None if part is None else part[chosen]

        return Poses(
            origin=self.origin[chosen],
            rotation=self.rotation[chosen],
            motions={name: (rotation[chosen], shift[chosen]) for name, (rotation, shift) in self.motions.items()},
            axis_lower=some(self.axis_lower),
            axis_upper=some(self.axis_upper),
            rack=some(self.rack),
            opposite=some(self.opposite),
            corner=self.corner[chosen],
            reachable=self.reachable[chosen],
        )


def poses_with_body(
    origin: Array,
    rotation: Array,
    motions: Mapping[str, Motion],
    *,
    axis: tuple[Array, Array] | None = None,
    rack: Array | None = None,
    opposite: Array | None = None,
    corner: str = "left",
    reachable: NDArray[np.bool_] | None = None,
) -> Poses:
    """Poses with what every suspension has: the body, which stays where it is.

    origin, rotation, motions, rack, opposite : as in `Poses`, (n, 3) [mm], (n, 3, 3) [-], (n,) [mm]
    axis : lower and upper point of the steering axis, each (n, 3) [mm]
    reachable : (n,), None = all are
    Source: derived here: the body has no rotation and no shift.
    """
    n = len(origin)
    still = (np.broadcast_to(np.eye(3), (n, 3, 3)), np.zeros((n, 3)))
    return Poses(
        origin=origin,
        rotation=rotation,
        motions={"body": still, **motions},
        axis_lower=None if axis is None else axis[0],
        axis_upper=None if axis is None else axis[1],
        rack=rack,
        opposite=opposite,
        corner=np.full(n, corner),
        reachable=np.ones(n, dtype=bool) if reachable is None else reachable,
    )


def joined(parts: Sequence[Poses]) -> Poses:
    """Poses one after another; all of one axle, so all have the same parts."""

    def stacked(name: str) -> Array | None:
        pieces = [getattr(part, name) for part in parts]
        return None if pieces[0] is None else np.concatenate(pieces)

    if len(parts) == 1:
        return parts[0]
    return Poses(
        origin=np.concatenate([part.origin for part in parts]),
        rotation=np.concatenate([part.rotation for part in parts]),
        motions={
            name: (
                np.concatenate([part.motions[name][0] for part in parts]),
                np.concatenate([part.motions[name][1] for part in parts]),
            )
            for name in parts[0].motions
        },
        axis_lower=stacked("axis_lower"),
        axis_upper=stacked("axis_upper"),
        rack=stacked("rack"),
        opposite=stacked("opposite"),
        corner=np.concatenate([part.corner for part in parts]),
        reachable=np.concatenate([part.reachable for part in parts]),
    )
