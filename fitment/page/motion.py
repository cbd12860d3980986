"""What the sliders of a page move through: poses computed beforehand, with the clearances in each.

A motion is one way to move the wheel: travel by one slider, steering (of a solid axle also roll) by the other. Its
places are a grid, finer than the one of a check, and the places where a part comes closest. In a pose that the check
reports, the page has the check's own numbers; the poses between them come from the same engine. Nothing is
interpolated.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fitment.cases import Case
from fitment.draw.scene import posed
from fitment.errors import MotionError
from fitment.fit import Clearance
from fitment.frames import Array
from fitment.poses import Poses, joined
from fitment.suspension import Family, between, families, travel_levels
from fitment.vehicle import SolidAxle

STEERED, ROLLED = 17, 9  # steps of the second slider
MOST_TRAVELS = 30  # a grid with more levels than this is not made finer
SAME = 1e-5  # [mm] hub faces that are no farther apart are one pose
STEER, ROLL = "steer", "roll"
Index = NDArray[np.intp]


@dataclass(frozen=True)
class Motion:
    """One way to move the wheel.

    name : as `suspension.families` has it; kind : 'steer' or 'roll', what the second slider moves
    travels (nt,) [mm], shares (ns,) -1..1 : stops of the sliders
    places : travel and share (n, 2) of the grid, over travel, then share; then of the closest places
    """

    name: str
    kind: str
    travels: Array
    shares: Array
    places: Array


@dataclass(frozen=True)
class Moved:
    """A case in every place of every motion.

    case : with the poses and clearances of the places
    at : of each motion, the number of the pose in each place (n,), -1 where the case has none
    """

    case: Case
    at: tuple[Index, ...]


def motions(cases: Sequence[Case]) -> tuple[Motion, ...]:
    """The motions of an axle, over what all cases do; the last case's closest places are among their places."""
    last = cases[-1]
    travels = np.unique(np.round(np.concatenate([travel_levels(c.fit.axle, c.fit.setup.ride) for c in cases]), 6))
    if len(travels) <= MOST_TRAVELS:
        travels = between(travels)
    found = []
    for name in _names(cases):
        kind = ROLL if name.endswith(ROLL) else STEER
        moves = any(len(family.shares) > 1 for family in (_family(case, name) for case in cases) if family)
        steps = (ROLLED if kind == ROLL else STEERED) if moves else 1
        shares = np.linspace(-1.0, 1.0, steps) if steps > 1 else np.zeros(1)
        grid = np.stack([a.ravel() for a in np.meshgrid(travels, shares, indexing="ij")], -1)
        found.append(Motion(name, kind, travels, shares, grid))
    extra = _closest(last, found)
    return tuple(
        replace(motion, places=np.concatenate([motion.places, np.array(more).reshape(-1, 2)]))
        for motion, more in zip(found, extra, strict=True)
    )


def _names(cases: Sequence[Case]) -> list[str]:
    """Names of the families to show: those of a solid axle where there is one, since it has more."""
    solid = [case for case in cases if isinstance(case.fit.axle.suspension, SolidAxle)]
    names = [family.name for case in (solid or cases) for family in families(case.fit.axle)]
    return list(dict.fromkeys(names))


def _family(case: Case, name: str) -> Family | None:
    """The case's own family for a motion; a wheel on its own suspension steers alike on both sides, and rolls not."""
    own = {family.name: family for family in families(case.fit.axle)}
    if name in own:
        return own[name]
    if STEER not in own:
        return None
    return own[STEER] if name.endswith(STEER) else replace(own[STEER], shares=np.zeros(1))


def moved(case: Case, found: Sequence[Motion]) -> Moved:
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


def _poses(case: Case, motion: Motion) -> tuple[Poses | None, NDArray[np.bool_]]:
    """Poses in the places within the case's travel, and which these are (n,)."""
    axle, family = case.fit.axle, _family(case, motion.name)
    travel, share = motion.places.T
    reached = (travel >= axle.droop - SAME) & (travel <= axle.bump + SAME)
    if family is None:
        return None, np.zeros_like(reached)
    if len(family.shares) == 1:
        share = np.zeros_like(share)
    try:
        return family.poses(travel[reached], share[reached]), reached
    except MotionError:  # a pose of the other case's grid; find out which
        for i in np.flatnonzero(reached):
            reached[i] = _reaches(family, travel[i : i + 1], share[i : i + 1])
    return (family.poses(travel[reached], share[reached]) if reached.any() else None), reached


def _reaches(family: Family, travel: Array, share: Array) -> bool:
    try:
        return bool(family.poses(travel, share).reachable.all())
    except MotionError:
        return False


def _with_the_checks_numbers(there: Case, case: Case) -> Case:
    """Where a pose is one of the check's, the check's own entries, so that no digit differs."""
    known, poses = case.fit.poses, there.fit.poses
    entries: dict[tuple[int, str, str], Clearance] = {(e.pose, e.obstacle, e.part): e for e in case.fit.clearances}
    twin = np.full(len(poses), -1)
    for k in range(len(known)):
        near = np.max(np.abs(poses.origin - known.origin[k]), axis=1) < SAME
        near &= np.max(np.abs(poses.rotation - known.rotation[k]), axis=(1, 2)) < SAME
        twin[near & (poses.corner == known.corner[k])] = k
    found = tuple(
        replace(entries[int(twin[e.pose]), e.obstacle, e.part], pose=e.pose) if twin[e.pose] >= 0 else e
        for e in there.fit.clearances
    )
    return replace(there, fit=replace(there.fit, clearances=found))


# ---------------------------------------------------------------- closest places


def _closest(case: Case, found: Sequence[Motion]) -> list[list[tuple[float, float]]]:
    """Of each motion, the places of the smallest margins that are not on its grid."""
    more: list[list[tuple[float, float]]] = [[] for _ in found]
    for pose in dict.fromkeys(entry.pose for entry in case.fit.worst_each):
        for motion, places in zip(found, more, strict=True):
            where = _place_of(case, motion, pose)
            if where is None:
                continue
            if np.min(np.max(np.abs(motion.places - where), axis=1)) > SAME:
                places.append(where)
            break
    return more


def _place_of(case: Case, motion: Motion, pose: int) -> tuple[float, float] | None:
    """Travel and share of one of the check's poses in a motion, None when it is not of that motion."""
    known, family = case.fit.poses, _family(case, motion.name)
    travel = float(np.round(known.travel[pose], 6))
    if family is None:
        return None
    shares = np.linspace(-1.0, 1.0, 401) if len(family.shares) > 1 else np.zeros(1)
    for _ in range(3 if len(shares) > 1 else 1):  # each round looks a hundred times closer
        off = _distance(family.poses(np.full_like(shares, travel), shares), known, pose)
        best, step = float(shares[int(np.argmin(off))]), float(np.ptp(shares[:2]))
        shares = np.clip(np.linspace(best - 2 * step, best + 2 * step, 401), -1.0, 1.0)
    if off.min() > 1e-3:
        return None
    return travel, round(best, 6)


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


def rest_place(motion: Motion, case: Case) -> int:
    """The place at the case's ride height, straight ahead or level."""
    i = int(np.argmin(np.abs(motion.travels - case.fit.setup.ride)))
    return i * len(motion.shares) + len(motion.shares) // 2
