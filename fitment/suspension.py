"""Where the hub is through travel and steer, whatever the suspension; and the grid of a check.

A place of a family of poses is a travel and a share of each other way to move. A steering position is a share
of the way to a lock: -1 right lock, 0 straight ahead, +1 left lock, so that one grid serves every kind. How far
a lock reaches at a travel is the profile's `steer_limit`. A solid axle also rolls, by the opposite wheel's
travel: -1 at droop, 0 level with this wheel, +1 at bump; one that steers does both at once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from fitment.errors import MotionError
from fitment.frames import Array
from fitment.links import link_poses, rack_stops, stop_of, strut_length
from fitment.poses import Poses
from fitment.solid_axle import solid_axle_poses
from fitment.tape import tape_poses
from fitment.vehicle import Axle, LinkSuspension, SolidAxle, TapeSuspension

TRAVEL_STEP = 20.0  # [mm] largest step of the pose grid before it is refined
LOCKS = (-1.0, -0.5, 0.0, 0.5, 1.0)  # locks, half locks and straight
ROLLS = (-1.0, -0.5, 0.0, 0.5, 1.0)  # the opposite wheel at droop, halfway there, level, halfway to bump, at bump


Kind = Literal["steer", "roll"]
"""What a share moves."""


@dataclass(frozen=True)
class Family:
    """Poses of a travel and one or two shares from -1 to 1, that are swept together.

    name : the corner where that matters
    kinds : what each share moves; levels : of each share, those that are always reported
    poses : (travel (n,), a share (n,) of each kind) -> Poses
    turns : how far the wheel turns from share 0 to 1 at most [deg], of each kind, to weigh a share against travel
    """

    name: str
    kinds: tuple[Kind, ...]
    levels: tuple[Array, ...]
    poses: Callable[..., Poses]
    turns: tuple[float, ...]

    @property
    def search_levels(self) -> tuple[Array, ...]:
        """Shares of the grid from which closer contacts are sought: those reported and the middle between each.

        Of two shares the first, a beam's roll, is not divided: it turns the wheel by a few degrees only.
        """
        *first, last = self.levels
        return *first, between(last)

    def rest(self, travel: ArrayLike) -> Array:
        """Places (n, 1 + shares) at travels [mm] with every share 0: straight ahead, both wheels level."""
        t = np.atleast_1d(np.asarray(travel, dtype=float))
        return np.column_stack([t, *(np.zeros_like(t) for _ in self.kinds)])


def between(levels: Array) -> Array:
    """Levels (n,), rising, and the middle between each two."""
    return np.unique(np.concatenate([levels, (levels[1:] + levels[:-1]) / 2]))


def families(axle: Axle) -> tuple[Family, ...]:
    """Everything a check sweeps on this axle.

    One family, but for a solid axle: its two corners are not mirror images, and each is swept in roll and, where it
    steers, in both together.
    """
    steered = np.array(LOCKS if axle.steering else (0.0,))
    lock = max(axle.steering.lock_left, axle.steering.lock_right) if axle.steering else 0.0
    if not isinstance(axle.suspension, SolidAxle):
        return (Family("steer", ("steer",), (steered,), lambda t, s: poses_at_share(axle, t, s), (lock,)),)
    roll = float(np.degrees((axle.bump - axle.droop) / (2 * axle.hub_face_at[1])))
    kinds: tuple[Kind, ...] = ("roll", "steer") if axle.steering else ("roll",)
    levels, turns = (np.array(ROLLS), steered)[: len(kinds)], (roll, lock)[: len(kinds)]
    return tuple(
        Family(f"{corner} corner", kinds, levels, _beam(axle, axle.suspension, corner), turns)
        for corner in ("left", "right")
    )


def travel_levels(axle: Axle, ride: float) -> Array:
    """Travels of the pose grid: droop, every ride height, bump, bends of steer_limit, steps between."""
    bends = [t for t, _ in axle.steer_limit if axle.droop < t < axle.bump]  # the motion is not smooth there
    anchors = np.unique([axle.droop, axle.bump, ride, *(z for _, z in axle.ride_heights), *bends])
    pieces = [np.linspace(a, b, int(np.ceil((b - a) / TRAVEL_STEP)) + 1)[:-1] for a, b in pairwise(anchors)]
    return np.concatenate([*pieces, anchors[-1:]])


def swept_travel(axle: Axle, ride: float) -> tuple[float, float]:
    """Lowest and highest travel of the pose grid [mm]: a ride height may lie outside droop and bump."""
    rides = [ride, *(z for _, z in axle.ride_heights)]
    return min(axle.droop, *rides), max(axle.bump, *rides)


def limit_share(axle: Axle, travel: ArrayLike) -> Array:
    """Share of the lock (of the rack, where there is one) usable at a travel; linear, ends held."""
    t = np.asarray(travel, dtype=float)
    if not axle.steer_limit:
        return np.ones_like(t)
    at, share = zip(*axle.steer_limit, strict=True)
    return np.interp(t, at, share)


def rack_at_share(axle: Axle, travel: ArrayLike, share: ArrayLike) -> Array:
    """Rack displacement [mm] at steering positions (-1 right lock .. +1 left lock)."""
    t, s = np.broadcast_arrays(np.asarray(travel, dtype=float), np.asarray(share, dtype=float))
    left, right = rack_stops(axle)
    return np.where(s >= 0, left, right) * np.abs(s) * limit_share(axle, t)


def steer_at_share(axle: Axle, travel: ArrayLike, share: ArrayLike) -> Array:
    """Steer angle [deg] at steering positions, for a suspension without a rack; share 0 is the wheel's own toe."""
    t, s = np.broadcast_arrays(np.asarray(travel, dtype=float), np.asarray(share, dtype=float))
    straight = -axle.suspension.toe_in
    if axle.steering is None:
        return np.full(t.shape, straight)
    lock = np.where(s >= 0, axle.steering.lock_left, axle.steering.lock_right)
    return lock * s * limit_share(axle, t) + straight * (1 - np.abs(s))


def poses_at_share(axle: Axle, travel: ArrayLike, share: ArrayLike) -> Poses:
    """Poses at travels [mm] and steering positions, both (n,). Raises MotionError where one is out of reach."""
    t, s = _both(travel, share)
    if isinstance(axle.suspension, LinkSuspension):
        return _reached(axle, link_poses(axle, axle.suspension, t, rack=rack_at_share(axle, t, s)), t)
    return poses_at_steer(axle, t, steer_at_share(axle, t, s))


def poses_at_steer(axle: Axle, travel: ArrayLike, steer: ArrayLike, opposite: ArrayLike | None = None) -> Poses:
    """Poses at travels [mm] and steer angles [deg], both (n,); see `Poses.reachable`. Raises MotionError.

    opposite : travel of a solid axle's other wheel [mm]; None = level with this one
    """
    t, d = _both(travel, steer)
    suspension = axle.suspension
    if isinstance(suspension, TapeSuspension):
        return tape_poses(axle, suspension, t, d)
    if isinstance(suspension, SolidAxle):
        other = t if opposite is None else np.broadcast_to(np.asarray(opposite, dtype=float), t.shape)
        return solid_axle_poses(axle, suspension, t, d, other)
    return link_poses(axle, suspension, t, steer=d)


def poses_at_rack(axle: Axle, travel: ArrayLike, rack: ArrayLike) -> Poses:
    """Poses at travels and rack displacements [mm], both (n,); see `Poses.reachable`. Raises MotionError."""
    t, q = _both(travel, rack)
    if not isinstance(axle.suspension, LinkSuspension):
        raise MotionError("this kind of suspension describes no rack; give steer angles instead.")
    return link_poses(axle, axle.suspension, t, rack=q)


def check_reach(axle: Axle) -> None:
    """Raises MotionError when the declared travel or a lock is more than the linkage can do."""
    if not isinstance(axle.suspension, LinkSuspension):
        return
    rack_stops(axle)
    for name, travel in (("droop", axle.droop), ("bump", axle.bump)):
        stop, rods = stop_of(axle, axle.suspension, travel)
        if abs(stop - travel) > 1e-6:
            raise MotionError(
                f"travel {name} {travel:+g} mm is more than the linkage can do: it stops at {stop:+.1f} mm"
                f"{_in_line(rods)}."
            )
    _check_stroke(axle, axle.suspension)


def _check_stroke(axle: Axle, suspension: LinkSuspension) -> None:
    """Refuse a travel for which the strut is too short or too long."""
    if suspension.stroke is None:
        return
    travel = np.linspace(axle.droop, axle.bump, 201)
    longer = strut_length(suspension, link_poses(axle, suspension, travel, rack=np.zeros_like(travel)))
    fits = (longer >= -suspension.stroke[0] - 1e-6) & (longer <= suspension.stroke[1] + 1e-6)
    if fits.all():
        return
    low, high = (float(travel[fits].min()), float(travel[fits].max())) if fits.any() else (0.0, 0.0)
    raise MotionError(
        f"travel {axle.droop:+g} to {axle.bump:+g} mm makes the strut {-longer.min():.1f} mm shorter and "
        f"{longer.max():.1f} mm longer; its stroke is {suspension.stroke[0]:g} and {suspension.stroke[1]:g} mm, "
        f"good for travel {low:+.0f} to {high:+.0f} mm."
    )


def stop_words(axle: Axle, travel: float) -> str:
    """Why a pose that the linkage does not reach is out of reach."""
    if isinstance(axle.suspension, LinkSuspension):
        stop, rods = stop_of(axle, axle.suspension, travel)
        if abs(stop - travel) > 1e-6:
            return f"the linkage stops at travel {stop:+.1f} mm{_in_line(rods)}"
    return "the linkage does not reach this steering position at this travel"


def _in_line(rods: tuple[str, ...]) -> str:
    if not rods:
        return ""
    return f", where {' and '.join(rods)} {'come' if len(rods) > 1 else 'comes'} into line"


def _both(first: ArrayLike, second: ArrayLike) -> tuple[Array, Array]:
    a, b = np.broadcast_arrays(np.asarray(first, dtype=float), np.asarray(second, dtype=float))
    return np.atleast_1d(a), np.atleast_1d(b)


def _reached(axle: Axle, poses: Poses, travel: Array) -> Poses:
    if not poses.reachable.all():
        there = float(travel[~poses.reachable][0])
        raise MotionError(
            f"the linkage of the {axle.name} axle cannot reach travel {there:+.1f} mm at a steering position within "
            "the locks; use steer_limit or a smaller travel."
        )
    return poses


def _beam(axle: Axle, solid: SolidAxle, corner: str) -> Callable[..., Poses]:
    """Poses of one corner of a solid axle by travel, roll and, where it steers, steering position, all (n,)."""

    def at(travel: Array, roll: Array, share: ArrayLike = 0.0) -> Poses:
        end = np.where(roll >= 0, axle.bump, axle.droop)
        opposite = travel + np.abs(roll) * (end - travel)
        return solid_axle_poses(axle, solid, travel, steer_at_share(axle, travel, share), opposite, corner=corner)

    return at
