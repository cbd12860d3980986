"""What a view shows: a case, what it is compared with, and the pose of each, computed exactly where it is drawn."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from fitment.checks.case import Case
from fitment.checks.fit import Approach, Clearance
from fitment.checks.full_case import FullCase
from fitment.checks.posed_case import AnyCase, place_of, posed
from fitment.clearance.trace import Trace
from fitment.draw.projection import PosedHub, posed_hub
from fitment.motion.suspension import families, poses_level

SAME = 1e-5  # [mm, share] a pose of the check that is no farther off is the one asked for
STILL = 0.05  # [mm] a part that moves less against the hub keeps its place
ENDS = ("droop", "bump")

Height = float | str | None
"""A travel [mm], 'droop' or 'bump', or None for each case's own ride height"""


@dataclass(frozen=True)
class Shown:
    """The new case and what it is compared with, each in its own pose of one view."""

    new: AnyCase
    new_at: PosedHub
    old: AnyCase | None = None
    old_at: PosedHub | None = None

    def both(self) -> list[tuple[AnyCase, PosedHub, bool]]:
        """(case, stand, is it the old one), old first."""
        first = [(self.old, self.old_at, True)] if self.old is not None and self.old_at is not None else []
        return [*first, (self.new, self.new_at, False)]


def shown(
    new: Case, old: Case | None, *, travel: Height, lock_fraction: float = 0.0, corner: str | None = None
) -> Shown:
    """Both cases at a travel, at one steering position (-1 right lock .. +1 left lock); corner : else their own."""
    there = placed(new, travel, lock_fraction, corner=corner)
    return Shown(*there) if old is None else Shown(*there, *placed(old, travel, lock_fraction, corner=corner))


def placed(
    case: Case, travel: Height, lock_fraction: float = 0.0, *, corner: str | None = None
) -> tuple[AnyCase, PosedHub]:
    """The case in a pose of its own, and the hub there; a solid axle with both wheels level.

    A travel beyond the axle's own droop or bump stops there. A pose that the check did not need is computed. Of an
    axle whose sides differ a corner is that of its own check.
    """
    corner = corner or case.fit.axle.sides[0]
    case = case.on(corner) if isinstance(case, FullCase) else case
    axle = case.fit.axle
    low, high = limits(case)
    height = min(max(travel_of(case, travel), low), high)
    known = _known(case, height, lock_fraction, corner)
    if known is not None:
        return case, posed_hub(case.fit.poses, known)
    corners = poses_level(axle, height, lock_fraction)
    poses = corners.get(corner, next(iter(corners.values())))
    return posed(case, poses), posed_hub(poses, 0)


def _known(case: Case, travel: float, lock_fraction: float, corner: str) -> int | None:
    """The pose of the check at a travel and a steering position, None where it has none there."""
    first = 0
    for family, where in zip(families(case.fit.axle), case.fit.places, strict=False):
        steers = lock_fraction == 0.0 or "steer" in family.kinds
        if steers and (family.name == "steer" or family.name.startswith(corner)):
            place = [travel, *(lock_fraction if kind == "steer" else 0.0 for kind in family.kinds)]
            there = np.flatnonzero(np.abs(where - place).max(axis=1) < SAME)
            if len(there):
                return first + int(there[0])
        first += len(where)
    return None


def travel_of(case: Case, travel: Height) -> float:
    """A height in figures [mm]."""
    if travel is None:
        return case.fit.setup.ride
    if isinstance(travel, str):
        return {"droop": case.fit.axle.droop, "bump": case.fit.axle.bump}[travel]
    return travel


def limits(case: Case) -> tuple[float, float]:
    """Ends of travel, and a ride height that lies beyond them [mm]."""
    axle, ride = case.fit.axle, case.fit.setup.ride
    return min(axle.droop, ride), max(axle.bump, ride)


def at_same_place(case: Case, entry: Approach, other: Case) -> tuple[AnyCase, PosedHub] | None:
    """Another case at the travel and the share of the way to the lock (or of roll) at which a case has an entry.

    None where its travel does not reach, or it is another kind of axle.
    """
    name, place = place_of(case, entry.pose)
    own = next(family for family in families(case.fit.axle) if family.name == name)
    family = next((family for family in families(other.fit.axle) if family.name == name), None)
    low, high = limits(other)
    if family is None or family.kinds != own.kinds or not low - SAME <= place[0] <= high + SAME:
        return None
    poses = family.poses(*np.array([place]).T)
    return posed(other, poses), posed_hub(poses, 0)


def rides(case: Case) -> list[tuple[str, float]]:
    """Ride heights by name, lowest travel first; the setup's own is always among them."""
    named = list(case.fit.axle.ride_heights)
    own = case.fit.setup
    if all(abs(travel - own.ride) > SAME for _, travel in named):
        named.append((own.ride_name or "at rest", own.ride))
    return sorted(named, key=lambda each: each[1])


def tightest(case: AnyCase, at: PosedHub, hidden: Collection[str] = ()) -> Approach | None:
    """The deepest overlap in one pose, else the entry of smallest margin."""
    entries = [e for e in case.fit.clearances if e.pose == at.index and e.obstacle not in hidden]
    return min(entries, key=lambda e: e.urgency, default=None)


def closest_moving(case: Case) -> Clearance | None:
    """The most urgent entry to a part that moves against the wheel; to any where none does."""
    still = steady(case)
    moving = [entry for entry in case.fit.worst_each if entry.obstacle not in still]
    return moving[0] if moving else case.fit.worst


def steady(case: Case) -> frozenset[str]:
    """Parts that keep their place to the wheel in all poses: those at the knuckle, whose gap never changes.

    None where nothing moves at all.
    """
    still = {trace.obstacle.name for trace in case.fit.traces if _keeps_its_place(trace)}
    return frozenset() if len(still) == len(case.fit.traces) else frozenset(still)


def _keeps_its_place(each: Trace) -> bool:
    """Rings stand in the hub's frame; of other parts the hub frame tells."""
    return each.obstacle.shape == "ring" or bool(np.ptp(each.hub, axis=0).max(initial=0.0) < STILL)
