"""What the pad and the sliders of a page move through: poses computed beforehand, with the clearances in each.

A motion is one way to move the wheel: travel by one slider, steering and, of a solid axle, the opposite wheel by
others. Its places are a grid, at least as fine as the one of a check, and the places where a part comes closest. In a
pose that the check reports, the page has the check's own numbers; the poses between them come from the same engine.
Nothing is interpolated.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fitment.checks.case import Case
from fitment.checks.fit import Clearance
from fitment.checks.posed_case import PosedCase, posed
from fitment.checks.posed_case import place_of as place_of_pose
from fitment.clearance.pose_grid import grid
from fitment.errors import MotionError
from fitment.frames import Array
from fitment.motion.poses import Poses, joined
from fitment.motion.suspension import Family, Kind, between, families, travel_levels
from fitment.parts.axle import SolidAxle

STEPS: dict[Kind, int] = {"steer": 17, "roll": 9}  # stops of a slider that is alone beside travel
STEPS_OF_BOTH: dict[Kind, int] = {"steer": 9, "roll": 5}  # of two beside travel, which then has the stops of a check
MOST_TRAVELS = 30  # a grid is not made finer than this many levels
SAME = 1e-5  # [mm] hub faces that are no farther apart are one pose
Index = NDArray[np.intp]


@dataclass(frozen=True)
class SliderMotion:
    """One way to move the wheel.

    name : of its family of poses, as `suspension.families` has it
    kinds : what the sliders beside travel move
    levels : stops of the sliders, (n,) each: travels [mm], then lock fractions -1 to 1 [-]
    places : (n, k) of the grid, over travel [mm], then each lock fraction [-]; then of the closest places
    """

    name: str
    kinds: tuple[Kind, ...]
    levels: tuple[Array, ...]
    places: Array

    @property
    def stops(self) -> int:
        """How many places the grid has; what follows them are closest places."""
        return int(np.prod([len(stops) for stops in self.levels]))


@dataclass(frozen=True)
class Moved:
    """A case in every place of every motion.

    case : with the poses and clearances of the places
    at : of each motion, the number of the pose in each place (n,), -1 where the case has none
    """

    case: PosedCase
    at: tuple[Index, ...]


def motions(cases: Sequence[Case]) -> tuple[SliderMotion, ...]:
    """The motions of an axle, over what all cases do; the last case's closest places are among their places."""
    kinds = _kinds(cases)
    travels = np.unique(np.round(np.concatenate([travel_levels(c.fit.axle, c.fit.setup.ride) for c in cases]), 6))
    if 2 * len(travels) - 1 <= MOST_TRAVELS and len(kinds) < 2:
        travels = between(travels)
    steps = STEPS_OF_BOTH if len(kinds) > 1 else STEPS
    levels = (travels, *(np.linspace(-1.0, 1.0, steps[kind]) for kind in kinds))
    slider_motions = [SliderMotion(name, kinds, levels, grid(*levels)) for name in _names(cases)]
    extra = _closest(cases[-1], slider_motions)
    return tuple(
        replace(motion, places=np.concatenate([motion.places, np.array(more).reshape(-1, len(levels))]))
        for motion, more in zip(slider_motions, extra, strict=True)
    )


def _kinds(cases: Sequence[Case]) -> tuple[Kind, ...]:
    """What moves beside travel in some of the cases."""
    every = [families(case.fit.axle)[0] for case in cases]
    moving = {kind for family in every for kind, at in zip(family.kinds, family.levels, strict=True) if len(at) > 1}
    return tuple(sorted(moving))


def _names(cases: Sequence[Case]) -> list[str]:
    """Names of the families to show: those of a solid axle where there is one, since it has more."""
    solid = [case for case in cases if isinstance(case.fit.axle.suspension, SolidAxle)]
    names = [family.name for case in (solid or cases) for family in families(case.fit.axle)]
    return list(dict.fromkeys(names))


def _family(case: Case, motion: SliderMotion) -> Family:
    """The case's own family for a motion; a wheel on its own suspension moves alike on both sides."""
    own = {family.name: family for family in families(case.fit.axle)}
    return own.get(motion.name) or next(iter(own.values()))


def moved(case: Case, found: Sequence[SliderMotion]) -> Moved:
    """The case in every place of the motions that it reaches."""
    parts, at, count = [], [], 0
    for motion in found:
        poses, reached = _poses(case, motion)
        where = np.full(len(motion.places), -1)
        where[reached] = count + np.arange(int(reached.sum()))
        at.append(where)
        if poses is not None:
            parts.append(poses)
            count += len(poses)
    there = posed(case, joined(parts))
    return Moved(_with_the_checks_numbers(there, case), tuple(at))


def _poses(case: Case, motion: SliderMotion) -> tuple[Poses | None, NDArray[np.bool_]]:
    """Poses in the places within the case's travel, and which these are (n,)."""
    axle, family = case.fit.axle, _family(case, motion)
    travel = motion.places[:, 0]
    reached = (travel >= axle.droop - SAME) & (travel <= axle.bump + SAME)
    places = np.column_stack([travel, *(_share(motion, family, i) for i in range(len(family.kinds)))])
    try:
        return family.poses(*places[reached].T), reached
    except MotionError:  # a pose of the other case's grid; find out which
        for i in np.flatnonzero(reached):
            reached[i] = _reaches(family, places[i : i + 1])
    return (family.poses(*places[reached].T) if reached.any() else None), reached


def _share(motion: SliderMotion, family: Family, i: int) -> Array:
    """One share of a family in the places of a motion (n,), 0 where the motion or the family does not move it."""
    moves = family.kinds[i] in motion.kinds and len(family.levels[i]) > 1
    return motion.places[:, 1 + motion.kinds.index(family.kinds[i])] if moves else np.zeros(len(motion.places))


def _reaches(family: Family, place: Array) -> bool:
    try:
        return bool(family.poses(*place.T).reachable.all())
    except MotionError:
        return False


def _with_the_checks_numbers(there: PosedCase, case: Case) -> PosedCase:
    """Where a pose is one of the check's, the check's own entries, so that no digit differs."""
    known, poses = case.fit.poses, there.fit.poses
    entries: dict[tuple[int, str, str], Clearance] = {(e.pose, e.obstacle, e.part): e for e in case.fit.clearances}
    twin = np.full(len(poses), -1)
    for k in range(len(known)):
        near = np.max(np.abs(poses.origin - known.origin[k]), axis=1) < SAME
        near &= np.max(np.abs(poses.rotation - known.rotation[k]), axis=(1, 2)) < SAME
        twin[near & (poses.corner == known.corner[k])] = k
    twins = twin.tolist()
    clearances = tuple(
        e if (own := entries.get((twins[e.pose], e.obstacle, e.part))) is None else replace(own, pose=e.pose)
        for e in there.fit.clearances
    )
    return replace(there, fit=replace(there.fit, clearances=clearances))


# ---------------------------------------------------------------- closest places


def _closest(case: Case, found: Sequence[SliderMotion]) -> list[list[Array]]:
    """Of each motion, the places of the smallest margins that are not on its grid."""
    more: list[list[Array]] = [[] for _ in found]
    for pose in dict.fromkeys(entry.pose for entry in case.fit.worst_each):
        name, place = place_of_pose(case, pose)
        m = next((m for m, motion in enumerate(found) if motion.name == name), 0)
        where = _in_motion(case, found[m], place)
        if np.min(np.max(np.abs(np.array([*found[m].places, *more[m]]) - where), axis=1)) > SAME:
            more[m].append(where)
    return more


def _in_motion(case: Case, motion: SliderMotion, place: Sequence[float]) -> Array:
    """A place of the case's own family as one of a motion (1 + kinds,)."""
    family = _family(case, motion)
    lock_fraction = dict(zip(family.kinds, place[1:], strict=True))
    return np.array([place[0], *(lock_fraction.get(kind, 0.0) for kind in motion.kinds)])


def _distance(poses: Poses, known: Poses, pose: int) -> Array:
    """How far poses are from one of the check's (n,) [mm], far beyond for the other corner."""
    turned = 500.0 * np.max(np.abs(poses.rotation - known.rotation[pose]), axis=(1, 2))
    off = np.max(np.abs(poses.origin - known.origin[pose]), axis=1) + turned
    return np.where(poses.corner == known.corner[pose], off, 1e6)


def place_of(there: Moved, case: Case, pose: int) -> tuple[int, int] | None:
    """Motion and place in which one of the check's poses is shown."""
    best, chosen = 1e-2, None
    off = _distance(there.case.fit.poses, case.fit.poses, pose)
    for m, at in enumerate(there.at):
        here = np.where(at >= 0, off[at], np.inf)
        if here.min() < best:
            best, chosen = float(here.min()), (m, int(np.argmin(here)))
    return chosen


def rest_place(motion: SliderMotion, case: Case) -> int:
    """The place at the case's ride height, straight ahead, both wheels level."""
    travels, *lock_fractions = motion.levels
    at = [int(np.argmin(np.abs(travels - case.fit.setup.ride))), *(len(stops) // 2 for stops in lock_fractions)]
    return int(np.ravel_multi_index(at, [len(stops) for stops in motion.levels]))
