"""Where the hub is: one pose for each travel and steering position.

A steering position is a share of the way to a lock: -1 right lock, 0 straight ahead, +1 left lock,
so that one grid serves every kind of suspension. How far a lock reaches at a travel is the
profile's `steer_limit`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fitment.errors import MotionError
from fitment.frames import (
    Array,
    camber_of,
    hub_rotation,
    rotation_about,
    spin_axis,
    steer_of,
    unit,
)
from fitment.vehicle import Axle, TapeSuspension

TRAVEL_STEP = 20.0  # [mm] largest step of the pose grid before it is refined
STEER_SHARES = (-1.0, -0.5, 0.0, 0.5, 1.0)  # locks, half locks and straight


@dataclass(frozen=True)
class Poses:
    """The hub in n poses, body frame.

    travel, steer : z of the hub-face centre [mm], steer angle [deg], (n,)
    rack : rack displacement [mm], (n,), or None where no rack is described
    origin : centre of the hub face (n, 3) [mm]
    rotation : hub to body (n, 3, 3)
    motions : carrier -> (R (n, 3, 3), t (n, 3)); a point at the reference pose moves to R x + t
    axis_lower, axis_upper : two points of the steering axis (n, 3), or None
    """

    travel: Array
    steer: Array
    rack: Array | None
    origin: Array
    rotation: Array
    motions: Mapping[str, tuple[Array, Array]]
    axis_lower: Array | None = None
    axis_upper: Array | None = None

    def __len__(self) -> int:
        return len(self.travel)

    def at(self, chosen: NDArray[np.bool_] | NDArray[np.intp]) -> Poses:
        """Some of the poses, by mask or index."""
        return Poses(
            travel=self.travel[chosen],
            steer=self.steer[chosen],
            rack=None if self.rack is None else self.rack[chosen],
            origin=self.origin[chosen],
            rotation=self.rotation[chosen],
            motions={name: (rotation[chosen], shift[chosen]) for name, (rotation, shift) in self.motions.items()},
            axis_lower=None if self.axis_lower is None else self.axis_lower[chosen],
            axis_upper=None if self.axis_upper is None else self.axis_upper[chosen],
        )

    @property
    def spin_axis(self) -> Array:
        """Outboard spin axes (n, 3)."""
        return self.rotation[:, :, 1]

    @property
    def camber(self) -> Array:
        """[deg], negative = top leans inboard, (n,)"""
        return camber_of(self.spin_axis)


def travel_levels(axle: Axle, ride: float) -> Array:
    """Travels of the pose grid: droop, every ride height, bump, and steps of at most TRAVEL_STEP between."""
    anchors = np.unique([axle.droop, axle.bump, ride, *(z for _, z in axle.ride_heights)])
    pieces = [np.linspace(a, b, int(np.ceil((b - a) / TRAVEL_STEP)) + 1)[:-1] for a, b in pairwise(anchors)]
    return np.concatenate([*pieces, anchors[-1:]])


def steer_shares(axle: Axle) -> Array:
    """Steering positions of the pose grid; straight ahead only on an axle that does not steer."""
    return np.array(STEER_SHARES if axle.steering else (0.0,))


def steer_angle(axle: Axle, travel: ArrayLike, share: ArrayLike) -> Array:
    """Steer angle [deg] of the left wheel at steering positions (-1 right lock .. +1 left lock).

    Straight ahead is the wheel's own toe. At a lock the angle is the lock times `steer_limit`.
    """
    t, s = np.broadcast_arrays(np.asarray(travel, dtype=float), np.asarray(share, dtype=float))
    straight = -_toe_in(axle)
    if axle.steering is None:
        return np.full(t.shape, straight)
    lock = np.where(s >= 0, axle.steering.lock_left, axle.steering.lock_right)
    return np.asarray(lock * s * limit_share(axle, t) + straight * (1 - np.abs(s)))


def limit_share(axle: Axle, travel: ArrayLike) -> Array:
    """Share of the lock usable at a travel: linear between the profile's points, ends held."""
    t = np.asarray(travel, dtype=float)
    if not axle.steer_limit:
        return np.ones_like(t)
    at, share = zip(*axle.steer_limit, strict=True)
    return np.asarray(np.interp(t, at, share))


def poses_at_share(axle: Axle, travel: ArrayLike, share: ArrayLike) -> Poses:
    """Poses at travels [mm] and steering positions, both (n,). Raises MotionError."""
    return poses_at_steer(axle, travel, steer_angle(axle, travel, share))


def poses_at_steer(axle: Axle, travel: ArrayLike, steer: ArrayLike) -> Poses:
    """Poses at travels [mm] and steer angles [deg], both (n,). Raises MotionError where none exists."""
    t, d = (np.atleast_1d(np.array(a, dtype=float)) for a in np.broadcast_arrays(travel, steer))
    return _tape(axle, axle.suspension, t, d)


def _toe_in(axle: Axle) -> float:
    return axle.suspension.toe_in


def _tape(axle: Axle, tape: TapeSuspension, travel: Array, steer: Array) -> Poses:
    """Linear motion in the suspension's own height h, then a turn about the carried steering axis.

    h and the turn are solved together so that hub z and steer are as asked. The camber change is a turn
    about the wheel's horizontal x axis, so that it leaves the steer angle alone.
    """
    at = np.array(axle.hub_face_at)
    axis = spin_axis(tape.camber, -tape.toe_in)
    toe = np.radians(-tape.toe_in)
    fore_aft = np.array([np.cos(toe), np.sin(toe), 0.0])

    def carried(h: Array) -> tuple[Array, Array]:
        turn = rotation_about(np.broadcast_to(fore_aft, (len(h), 3)), -tape.camber_per_100mm * h / 100)
        return turn, at + np.stack([0 * h, tape.track_per_100mm * h / 100, h], -1)

    if tape.axis_lower is None or tape.axis_upper is None:
        if np.any(np.abs(steer + tape.toe_in) > 1e-9):
            raise MotionError("this axle has no steering axis, so only its own toe can be had; give steering_axis.")
        relative, origin = carried(travel)
        return _assemble(at, axis, relative, origin, None, None)

    lower, upper = np.array(tape.axis_lower), np.array(tape.axis_upper)
    h = travel.copy()
    for _ in range(60):
        turn, centre = carried(h)
        pivot = centre + turn @ (lower - at)
        e = unit(turn @ (upper - lower))
        spin = rotation_about(e, turn_to_steer(turn @ axis, e, steer))
        origin = pivot + np.einsum("nij,nj->ni", spin, centre - pivot)
        error = travel - origin[:, 2]
        if np.max(np.abs(error), initial=0.0) < 1e-10:
            break
        h = h + error
    else:
        raise MotionError("the tape suspension does not settle at the travel asked for; check its rates and axis.")
    relative = spin @ turn
    return _assemble(at, axis, relative, origin, lower, upper)


def turn_to_steer(axis: Array, about: Array, steer: Array) -> Array:
    """Angle [deg] by which spin axes (n, 3), turned about unit axes (n, 3), reach steer angles [deg].

    Raises MotionError where no turn does. Closed form of A cos + B sin + C = 0, the root nearer to zero.
    """
    d = np.radians(steer)
    across = np.stack([np.cos(d), np.sin(d), 0 * d], -1)  # level, square to the wanted heading
    c = np.sum(across * about, -1) * np.sum(about * axis, -1)
    a = np.sum(across * axis, -1) - c
    b = np.sum(across * np.cross(about, axis), -1)
    size = np.hypot(a, b)
    if np.any(np.abs(c) > size):
        raise MotionError("no turn about the steering axis reaches the steer angle asked for.")
    middle, half = np.arctan2(b, a), np.arccos(-c / size)
    roots = np.stack([middle + half, middle - half])
    roots = (roots + np.pi) % (2 * np.pi) - np.pi
    return np.asarray(np.degrees(np.take_along_axis(roots, np.argmin(np.abs(roots), 0)[None], 0)[0]))


def _assemble(
    at: Array, axis: Array, relative: Array, origin: Array, lower: Array | None, upper: Array | None
) -> Poses:
    shift = origin - relative @ at
    still = (np.broadcast_to(np.eye(3), relative.shape), np.zeros_like(origin))
    rotation = relative @ hub_rotation(axis)
    return Poses(
        travel=origin[:, 2],
        steer=steer_of(rotation[:, :, 1]),
        rack=None,
        origin=origin,
        rotation=rotation,
        motions={"body": still, "knuckle": (relative, shift)},
        axis_lower=None if lower is None else relative @ lower + shift,
        axis_upper=None if upper is None else relative @ upper + shift,
    )
