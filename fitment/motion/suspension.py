"""Where the hub is through travel and steer, whatever the suspension; and the grid of a check.

A place of a family of poses is a travel and a lock fraction of each other way to move. A steering position is a share
of the way to a lock: -1 right lock, 0 straight ahead, +1 left lock, so that one grid serves every kind. A lock at a
travel is where the rack's stop holds it or, where the profile's `steer_limit` is below 1, that share of the lock angle
of the profile, whichever comes first. The way to it is divided by the rack's displacement, or by the angle where no
rack is described. A solid axle also rolls, by the opposite wheel's travel: -1 at the lowest that is swept, 0 level with
this wheel, +1 at the highest; one that steers does both at once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from fitment.errors import MotionError
from fitment.frames import Array
from fitment.motion.link_suspension import link_poses, rack_stops, stop_of, strut_length
from fitment.motion.poses import Poses
from fitment.motion.solid_axle import solid_axle_poses
from fitment.motion.tape_suspension import tape_poses
from fitment.parts.axle import Axle, LinkSuspension, SolidAxle, TapeSuspension

TRAVEL_STEP = 20.0  # [mm] largest step of the pose grid before it is refined
FINER = (24, 12)  # into how many steps a way is divided, again and again, to find a bend of the lock in it
SAME_BEND = 0.01  # [mm] between two bends below which they are one
LOCKS = (-1.0, -0.5, 0.0, 0.5, 1.0)  # locks, half locks and straight
LOCK_FRACTION = {"left": 1.0, "straight": 0.0, "right": -1.0}  # of the words for them
ROLLS = (-1.0, -0.5, 0.0, 0.5, 1.0)  # the opposite wheel lowest, halfway there, level, halfway to highest, highest


Kind = Literal["steer", "roll"]
"""What a share moves."""


@dataclass(frozen=True)
class Family:
    """Poses of a travel and one or two shares from -1 to 1, that are swept together.

    name : the corner where that matters
    kinds : what each share moves
    levels : of each share (m,) [-], those that are always reported
    poses : (travel (n,), a share (n,) of each kind) -> Poses
    turns : how far the wheel turns from lock fraction 0 to 1 at most [deg], of each kind, to weigh a lock fraction
        against travel
    """

    name: str
    kinds: tuple[Kind, ...]
    levels: tuple[Array, ...]
    poses: Callable[..., Poses]
    turns: tuple[float, ...]

    @property
    def search_levels(self) -> tuple[Array, ...]:
        """Shares (m,) [-] from which closer contacts are sought: those reported and the middle between each.

        Of two shares the first, a beam's roll, is not divided: it turns the wheel by a few degrees only.
        """
        *first, last = self.levels
        return *first, between(last)

    def rest(self, travel: ArrayLike) -> Array:
        """Places with every share 0: straight ahead, both wheels level.

        travel : (n,) [mm]
        Returns : (n, k) [mm, then -], a travel and its shares
        Source: derived here, zeros beside the travels.
        """
        t = np.atleast_1d(np.asarray(travel, dtype=float))
        return np.column_stack([t, *(np.zeros_like(t) for _ in self.kinds)])


def between(levels: Array) -> Array:
    """Levels, rising, and the middle between each two, (2 n - 1,) [-].

    levels : (n,) [-]
    Source: derived here, halfway.
    """
    return np.unique(np.concatenate([levels, (levels[1:] + levels[:-1]) / 2]))


def families(axle: Axle) -> tuple[Family, ...]:
    """Everything a check sweeps on this axle.

    One family, but for a solid axle: its two corners are not mirror images, and each is swept in roll and, where it
    steers, in both together.
    """
    steered = np.array(LOCKS if axle.steering else (0.0,))
    lock = max(axle.steering.lock_left, axle.steering.lock_right) if axle.steering else 0.0
    if not isinstance(axle.suspension, SolidAxle):
        return (Family("steer", ("steer",), (steered,), lambda t, s: poses_at_lock_fraction(axle, t, s), (lock,)),)
    low, high = swept_travel(axle, axle.hub_face_at[2])
    roll = float(np.degrees((high - low) / (2 * axle.hub_face_at[1])))
    kinds: tuple[Kind, ...] = ("roll", "steer") if axle.steering else ("roll",)
    levels, turns = (np.array(ROLLS), steered)[: len(kinds)], (roll, lock)[: len(kinds)]
    return tuple(
        Family(f"{corner} corner", kinds, levels, _beam(axle, axle.suspension, corner), turns) for corner in axle.sides
    )


def corners_alike(axle: Axle) -> bool:
    """Whether all families of an axle have the same poses: no bar leads a solid axle to one side."""
    return not isinstance(axle.suspension, SolidAxle) or None in (
        axle.suspension.panhard_body,
        axle.suspension.panhard_axle,
    )


def travel_levels(axle: Axle, ride: float) -> Array:
    """Travels (n,) [mm] of the pose grid: droop, every ride height, bump, bends of the locks, steps between.

    ride : travel at rest of the setup [mm]
    Source: derived here, steps of at most TRAVEL_STEP; closer contacts between them are sought later.
    """
    bends = [t for t in lock_bends(axle) if axle.droop < t < axle.bump]  # the motion is not smooth there
    anchors = np.unique([axle.droop, axle.bump, ride, *(z for _, z in axle.ride_heights), *bends])
    pieces = [np.linspace(a, b, int(np.ceil((b - a) / TRAVEL_STEP)) + 1)[:-1] for a, b in pairwise(anchors)]
    return np.concatenate([*pieces, anchors[-1:]])


def swept_travel(axle: Axle, ride: float) -> tuple[float, float]:
    """Lowest and highest travel of the pose grid [mm]: a ride height may lie outside droop and bump.

    ride : travel at rest of the setup [mm]
    Source: derived here from the profile's travels.
    """
    rides = [ride, *(z for _, z in axle.ride_heights)]
    return min(axle.droop, *rides), max(axle.bump, *rides)


def usable_lock_fraction(axle: Axle, travel: ArrayLike) -> Array:
    """Share of the lock angle usable at travels, (n,) [-]; 1 = no limit but the stop.

    travel : (n,) [mm]
    Source: the profile's `steer_limit`, linear between its points, ends held.
    """
    t = np.asarray(travel, dtype=float)
    if not axle.steer_limit:
        return np.ones_like(t)
    at, lock_fraction = zip(*axle.steer_limit, strict=True)
    return np.interp(t, at, lock_fraction)


def lock_bends(axle: Axle) -> tuple[float, ...]:
    """Travels [mm], rising, at which the way to a lock is not smooth.

    Source: derived here: the points of `steer_limit`, and where the angle that it leaves meets the one that the rack's
    stop gives.
    """
    at = [t for t, _ in axle.steer_limit]
    if not at or not isinstance(axle.suspension, LinkSuspension):
        return tuple(at)
    return tuple(sorted({*at, *_stop_meets_limit(replace(axle, obstacles=()))}))


def rack_at_lock_fraction(axle: Axle, travel: ArrayLike, lock_fraction: ArrayLike) -> Array:
    """Rack displacement (n,) [mm] at steering positions, + to the left.

    travel : (n,) [mm]
    lock_fraction : (n,) [-], -1 right lock to +1 left lock
    Where `steer_limit` holds, the lock is where the wheel has its share of the lock angle, which takes another rack
    displacement at every travel; never beyond the rack's stop.
    Source: derived here: the linkage solved for the angle at the lock, divided by displacement.
    """
    t, s = np.broadcast_arrays(np.asarray(travel, dtype=float), np.asarray(lock_fraction, dtype=float))
    lock = np.where(s >= 0, *rack_stops(axle))
    held = (usable_lock_fraction(axle, t) < 1) & (s != 0)
    if held.any():
        places, back = np.unique(np.stack([t[held], s[held] >= 0]), axis=1, return_inverse=True)
        beyond, rack = _limited_rack(axle, *places)
        lock[held] = np.where(beyond >= 0, np.where(places[1] > 0, *rack_stops(axle)), rack)[back.ravel()]
    return lock * np.abs(s)


def _limited_rack(axle: Axle, travel: Array, left: Array) -> tuple[Array, Array]:
    """How far past the rack's stop the angle lies that `steer_limit` leaves of a lock, and its rack, both (n,) [mm].

    left : 1 for the left lock, 0 for the right one (n,)
    An angle that the linkage does not reach at a travel is past the stop.
    """
    assert isinstance(axle.suspension, LinkSuspension)
    at, angle = [t for t, _ in axle.steer_limit], _limited_angles(replace(axle, obstacles=()))
    steer = np.where(left > 0, *(np.interp(travel, at, lock) for lock in angle))
    poses = link_poses(axle, axle.suspension, travel, steer=steer)
    assert poses.rack is not None
    stop = np.where(left > 0, *rack_stops(axle))
    beyond = (poses.rack - stop) * np.sign(stop)
    return np.where(poses.reachable, beyond, np.abs(stop)), poses.rack


@lru_cache(maxsize=256)
def _limited_angles(axle: Axle) -> tuple[Array, Array]:
    """Steer [deg] at the left and the right lock at the points of `steer_limit` (m,), whatever the stop.

    Where all of the lock is usable the stop may give more than the lock angle, so that the way to the next point
    starts from there.
    """
    assert isinstance(axle.suspension, LinkSuspension)
    assert axle.steering is not None
    travel, lock_fraction = np.array(axle.steer_limit).T
    angles = lock_fraction * np.array([[axle.steering.lock_left], [-axle.steering.lock_right]])
    beside = np.pad(lock_fraction, 1, mode="edge")
    bend = np.flatnonzero((lock_fraction >= 1) & (np.minimum(beside[:-2], beside[2:]) < 1))
    at = np.tile(travel[bend], 2)
    poses = link_poses(axle, axle.suspension, at, rack=np.repeat(rack_stops(axle), len(bend)))
    at_stop = np.where(poses.reachable, poses.steer, 0.0).reshape(2, -1)
    angles[:, bend] = np.where(at_stop / angles[:, bend] > 1, at_stop, angles[:, bend])
    return angles[0], angles[1]


@lru_cache(maxsize=256)
def _stop_meets_limit(axle: Axle) -> tuple[float, ...]:
    """Travels [mm] at which a lock changes from the rack's stop to the angle that `steer_limit` leaves, or back."""
    low, high = swept_travel(axle, axle.hub_face_at[2])
    ends = np.unique([low, *(t for t, _ in axle.steer_limit if low < t < high), high])
    spans = [span for span in pairwise(ends.tolist()) if usable_lock_fraction(axle, np.mean(span)) < 1]
    near = np.array([(*span, left) for span in spans for left in (1.0, 0.0)]).reshape(-1, 3)
    for steps in FINER:
        t = np.linspace(near[:, 0], near[:, 1], steps + 1, axis=1)
        left = np.repeat(near[:, 2], steps + 1)
        beyond = _limited_rack(axle, t.ravel(), left)[0].reshape(t.shape)
        row, k = np.nonzero((beyond[:, :-1] < 0) != (beyond[:, 1:] < 0))
        near = np.stack([t[row, k], t[row, k + 1], near[row, 2]], -1)
        before, after = np.abs(beyond[row, k]), np.abs(beyond[row, k + 1])
    meeting = near[:, 0] + before / (before + after) * (near[:, 1] - near[:, 0])
    return tuple(t for t in meeting.tolist() if np.min(np.abs(ends - t)) > SAME_BEND)


def steer_at_lock_fraction(axle: Axle, travel: ArrayLike, lock_fraction: ArrayLike) -> Array:
    """Steer angle (n,) [deg] at steering positions, for a suspension without a rack; + to the left.

    travel : (n,) [mm]
    lock_fraction : (n,) [-], -1 right lock to +1 left lock; 0 is the wheel's own toe
    Source: derived here: a lock is `steer_limit` x lock angle, as on one with a rack; linear from straight ahead.
    """
    t, s = np.broadcast_arrays(np.asarray(travel, dtype=float), np.asarray(lock_fraction, dtype=float))
    straight = -axle.suspension.toe_in
    if axle.steering is None:
        return np.full(t.shape, straight)
    lock = np.where(s >= 0, axle.steering.lock_left, axle.steering.lock_right)
    return lock * s * usable_lock_fraction(axle, t) + straight * (1 - np.abs(s))


def poses_at_lock_fraction(axle: Axle, travel: ArrayLike, lock_fraction: ArrayLike) -> Poses:
    """Poses at travels and steering positions.

    travel : (n,) [mm]
    lock_fraction : (n,) [-], -1 right lock to +1 left lock
    Raises MotionError where one is out of reach.
    Source: derived here, by the kind of suspension.
    """
    t, s = _both(travel, lock_fraction)
    if isinstance(axle.suspension, LinkSuspension):
        return _reached(axle, link_poses(axle, axle.suspension, t, rack=rack_at_lock_fraction(axle, t, s)), t)
    return poses_at_steer(axle, t, steer_at_lock_fraction(axle, t, s))


def poses_level(axle: Axle, travel: ArrayLike, lock_fraction: ArrayLike) -> dict[str, Poses]:
    """Poses at travels and steering positions with both wheels level, of every corner by its name.

    travel : (n,) [mm]
    lock_fraction : (n,) [-], -1 right lock to +1 left lock
    The first is the axle's own; a solid axle whose sides are alike has both, which are not mirror images.
    Raises MotionError.
    Source: derived here, by the kind of suspension.
    """
    first, *other = axle.sides
    own = {first: poses_at_lock_fraction(axle, travel, lock_fraction)}
    if not isinstance(axle.suspension, SolidAxle):
        return own
    t, s = _both(travel, lock_fraction)
    steer = steer_at_lock_fraction(axle, t, s)
    return own | {side: solid_axle_poses(axle, axle.suspension, t, steer, t, corner=side) for side in other}


def poses_at_steer(axle: Axle, travel: ArrayLike, steer: ArrayLike, opposite: ArrayLike | None = None) -> Poses:
    """Poses at travels and steer angles; see `Poses.reachable`.

    travel : (n,) [mm]
    steer : (n,) [deg], + to the left
    opposite : travel of a solid axle's opposite wheel (n,) [mm]; None = level with this one
    Raises MotionError where a tape-measured corner or a solid axle cannot get there.
    Source: derived here, by the kind of suspension.
    """
    t, d = _both(travel, steer)
    suspension = axle.suspension
    if isinstance(suspension, TapeSuspension):
        return tape_poses(axle, suspension, t, d)
    if isinstance(suspension, SolidAxle):
        other = t if opposite is None else np.broadcast_to(np.asarray(opposite, dtype=float), t.shape)
        return solid_axle_poses(axle, suspension, t, d, other, corner=axle.sides[0])
    return link_poses(axle, suspension, t, steer=d)


def poses_at_rack(axle: Axle, travel: ArrayLike, rack: ArrayLike) -> Poses:
    """Poses at travels and rack displacements; see `Poses.reachable`.

    travel : (n,) [mm]
    rack : (n,) [mm], + to the left
    Raises MotionError for a suspension without a rack.
    Source: derived here, see `link_poses`.
    """
    t, q = _both(travel, rack)
    if not isinstance(axle.suspension, LinkSuspension):
        raise MotionError("this kind of suspension describes no rack; give steer angles instead.")
    return link_poses(axle, axle.suspension, t, rack=q)


def check_reach(axle: Axle) -> None:
    """Raises MotionError when the declared travel or a lock is more than the linkage can do."""
    if isinstance(axle.suspension, SolidAxle):
        ends = np.array(swept_travel(axle, axle.hub_face_at[2]))
        poses_at_steer(axle, np.repeat(ends, 2), -axle.suspension.toe_in, np.tile(ends, 2))
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
        f"the strut's stroke is good for travel {low:+.0f} to {high:+.0f} mm only; the profile gives {axle.droop:+g} "
        f"to {axle.bump:+g} mm. That needs the strut {-longer.min():.1f} mm shorter and {longer.max():.1f} mm longer; "
        f"its stroke is {suspension.stroke[0]:g} mm and {suspension.stroke[1]:g} mm."
    )


def stop_words(axle: Axle, travel: float) -> str:
    """Why a pose that the linkage does not reach is out of reach.

    travel : of that pose [mm]
    """
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
            f"the linkage of the {axle.title} cannot reach travel {there:+.1f} mm at a steering position within "
            "the locks; use steer_limit or a smaller travel."
        )
    return poses


def _beam(axle: Axle, solid: SolidAxle, corner: str) -> Callable[..., Poses]:
    """Poses of one corner of a solid axle by travel, roll and, where it steers, steering position, all (n,).

    The opposite wheel goes where this one goes: to ride heights beyond droop and bump too.
    """

    def at(travel: Array, roll: Array, lock_fraction: ArrayLike = 0.0) -> Poses:
        opposite = opposite_travel(axle, travel, roll)
        return solid_axle_poses(
            axle, solid, travel, steer_at_lock_fraction(axle, travel, lock_fraction), opposite, corner=corner
        )

    return at


def opposite_travel(axle: Axle, travel: Array, roll: Array) -> Array:
    """Travel of a solid axle's opposite wheel (n,) [mm].

    travel : of this wheel (n,) [mm]
    roll : share (n,) [-], -1 opposite wheel lowest, 0 level, +1 highest
    Source: derived here, linear from level to each end.
    """
    low, high = swept_travel(axle, axle.hub_face_at[2])
    return np.asarray(travel + np.abs(roll) * (np.where(roll >= 0, high, low) - travel))
