"""Setups on one axle through all of their poses: clearances, bolt-on checks, and the one rule for the verdict.

`check` and `screen` both come here, so they use the same poses and give the same verdict.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely import Polygon

from fitment.checks.bolt_on import BoltOn, bolt_on_checks
from fitment.checks.evaluation import Evaluation, Left, evaluate
from fitment.checks.service_gaps import InService
from fitment.checks.told_first import urgency
from fitment.clearance.alike import alike_groups
from fitment.clearance.closest_poses import PARTS, Near, NearPose, poses_at, value_at
from fitment.clearance.pose_grid import Sweep, Variant
from fitment.clearance.section_distance import clearances
from fitment.clearance.trace import Index, Trace, trace_obstacle
from fitment.clearance.worst_case import SetupSections, sections_of, setup_sections
from fitment.frames import Array
from fitment.motion.poses import Poses, joined
from fitment.motion.suspension import families, poses_at_lock_fraction
from fitment.parts.axle import Axle, Setup
from fitment.parts.obstacles import Obstacle, Part, Point, fixed_to_hub

Verdict = Literal["clears", "tight", "not_checked", "touches", "does_not_bolt_on"]
VERDICTS: tuple[Verdict, ...] = ("clears", "tight", "not_checked", "touches", "does_not_bolt_on")
LEAST = ("clearance", "margin", "worst_case")  # of which the smallest decide
CLEARS, TIGHT, NOT_CHECKED, TOUCHES, DOES_NOT_BOLT_ON = range(len(VERDICTS))
SURELY = 0.01  # [mm] short in one pose, which every check finds: it knows the lowest place to less


def verdicts_on(clearance: ArrayLike, margin: ArrayLike, worst_case: ArrayLike) -> Index:
    """The verdict on clearances, whatever the bolt-on checks say, as an index in VERDICTS.

    clearance, margin, worst_case : the smallest [mm] of one setup, or of several (n,); infinite where nothing is met
    Source: derived here, the rule for the verdict: an overlap touches, what is short is tight.
    """
    clearance, margin, worst_case = map(np.asarray, (clearance, margin, worst_case))
    short = (margin < 0) | (worst_case < 0)
    return np.select([~np.isfinite(margin), clearance < 0, short], [NOT_CHECKED, TOUCHES, TIGHT], CLEARS)


@dataclass(frozen=True)
class Approach:
    """One obstacle, one part, one pose.

    travel : of the hub [mm]; steer : of the wheel [deg], positive to the left of the vehicle
    clearance, allowance : [mm]
    point : nearest (or deepest) point of the obstacle's core, body frame [mm]
    at_part : the place on the tire or wheel next to it, body frame [mm]
    corner : 'right' for the right corner of an axle that is not symmetric; its points are as in a mirror
    opposite : travel of the opposite wheel [mm] where it matters, else None
    """

    obstacle: str
    part: Part
    pose: int
    travel: float
    steer: float
    clearance: float
    allowance: float
    point: Point
    at_part: Point
    corner: str = "left"
    opposite: float | None = None

    @property
    def margin(self) -> float:
        """Clearance less the allowance [mm]."""
        return self.clearance - self.allowance

    @property
    def urgency(self) -> tuple[bool, float]:
        """Least comes first [-, mm]: the deepest overlap, before what is merely short, the smallest margin first."""
        return urgency(self.clearance, self.margin)


@dataclass(frozen=True, kw_only=True)
class Clearance(Approach):
    """An approach in a pose of the check.

    worst_case : [mm]; the largest permitted tire and every measured value moved against us by its tolerance
    """

    worst_case: float


@dataclass(frozen=True)
class Fit:
    """The finished answer for one setup on one axle.

    places : (n, k) of the poses: travel [mm], then lock fractions [-]; one array for each family of the axle
    tire, wheel : sections in the hub's half plane (y', r) [mm]
    clearances : every obstacle x part x pose; of many obstacles not in poses that are only another's closest
    not_checked : (obstacle, reason)
    in_service : what is left in service, where the profile asks for it and it was looked at
    """

    axle: Axle
    setup: Setup
    places: tuple[Array, ...]
    poses: Poses
    obstacles: tuple[Obstacle, ...]
    traces: tuple[Trace, ...]
    tire: Polygon
    wheel: Polygon
    clearances: tuple[Clearance, ...]
    bolt_on: tuple[BoltOn, ...]
    not_checked: tuple[tuple[str, str], ...]
    in_service: InService | None = None

    @cached_property
    def worst(self) -> Clearance | None:
        """The deepest overlap, else the entry of smallest margin; None when nothing was checked."""
        return min(self.worst_each, key=self._urgency, default=None)

    def _urgency(self, entry: Clearance) -> tuple[tuple[bool, float], float, float, float]:
        """The most urgent first; among equals (a part fixed to the hub) the pose nearest to rest."""
        rolled = 0.0 if entry.opposite is None else abs(entry.opposite - entry.travel)
        return entry.urgency, abs(entry.travel - self.setup.ride), abs(entry.steer), rolled

    @cached_property
    def worst_each(self) -> tuple[Clearance, ...]:
        """The entry of smallest margin of every obstacle and part: overlaps first, then the tightest."""
        alike: dict[tuple[str, str], list[Clearance]] = {}
        for entry in self.clearances:
            alike.setdefault((entry.obstacle, entry.part), []).append(entry)
        return tuple(sorted((min(own, key=self._urgency) for own in alike.values()), key=lambda c: c.urgency))

    @cached_property
    def at_rest(self) -> dict[tuple[str, Part, str], Clearance]:
        """Of every obstacle, part and corner the entry at the ride height, straight ahead, both wheels level."""
        poses, ride = self.poses, self.setup.ride
        straight = float(poses_at_lock_fraction(self.axle, ride, 0.0).steer[0])
        off = np.abs(poses.travel - ride) + np.abs(poses.steer - straight)
        off = off if poses.opposite is None else off + np.abs(poses.opposite - ride)
        rest = {int(np.argmin(np.where(poses.corner == corner, off, np.inf))) for corner in np.unique(poses.corner)}
        return {(c.obstacle, c.part, c.corner): c for c in self.clearances if c.pose in rest}

    def across(self, entry: Clearance) -> float:
        """Distance of an entry's place on the tire or wheel from the spin axis [mm]. Source: geometry."""
        x, _, z = (np.array(entry.at_part) - self.poses.origin[entry.pose]) @ self.poses.rotation[entry.pose]
        return float(np.hypot(x, z))

    @cached_property
    def clearance_verdict(self) -> Verdict:
        """The verdict of the clearances alone."""
        entries = self.clearances
        least = (min((getattr(c, name) for c in entries), default=np.inf) for name in LEAST)
        return VERDICTS[int(verdicts_on(*least))]

    @property
    def verdict(self) -> Verdict:
        """`does_not_bolt_on` outranks the rest; then touches, tight, clears. Without any part, `not_checked`.

        What clears as measured and has less than required in service is tight.
        """
        if any(check.status == "fail" for check in self.bolt_on):
            return "does_not_bolt_on"
        return "tight" if self.is_tight_in_service else self.clearance_verdict

    @property
    def is_tight_in_service(self) -> bool:
        """Whether it clears but for what happens in service."""
        return self.kept and self.in_service is not None and self.in_service.is_tight

    @cached_property
    def decides(self) -> Clearance | None:
        """The entry that the verdict hangs on: `worst`, or where it is tight in service only, where that is tightest.

        That is of the part that is closest in service the entry that has least left then; its clearance is as measured.
        """
        found = self.in_service
        if found is None or found.worst is None or not self.is_tight_in_service:
            return self.worst
        pair = found.worst.obstacle, found.worst.part
        left = zip(found.entries, self.clearances, strict=True)
        own = [(served, entry) for served, entry in left if served is not None and (entry.obstacle, entry.part) == pair]
        return min(own, key=lambda each: each[0])[1]

    @property
    def kept(self) -> bool:
        """Whether every required clearance is met and nothing touches in the worst case, whatever bolts on.

        What happens in service is not in it.
        """
        return self.clearance_verdict == "clears"


def touching_at_rest(axle: Axle, setup: Setup) -> tuple[str, ...]:
    """Names of the parts that overlap the setup at its ride height, straight ahead. Raises MotionError, CodeError."""
    if setup.wheel.rim_diameter != setup.tire.rim_code:
        return ()
    pose, own = poses_at_lock_fraction(axle, setup.ride, 0.0), setup_sections(setup)
    known = [o for o in axle.obstacles if o.shape == "ring" or all(carrier in pose.motions for carrier in o.fixed_to)]
    touching = np.zeros(len(known), dtype=bool)
    for group in alike_groups(known, pose):
        traced = group.trace_in(pose)
        for part in PARTS:
            meets = np.flatnonzero([part in obstacle.meets for obstacle in group.obstacles])
            if len(meets):
                touching[np.array(group.numbers)[meets]] |= clearances(own[part], traced.at(meets)) < 0
    return tuple(o.name for o, touches in zip(known, touching.tolist(), strict=True) if touches)


def fit_setup(setup: Setup, swept: Sweep, variants: Sequence[Variant] = (), others: Sequence[Setup] = ()) -> Fit:
    """Everything about one setup on the axle that was swept. Raises MotionError, CodeError.

    variants, others : the axle and the setup with one reading moved by its tolerance, each
    """
    parts = sections_of(setup, variants, others)
    return _fit(setup, swept, parts, evaluate(swept, [parts])[0])


def fit_setups(setups: Sequence[Setup], swept: Sweep, variants: Sequence[Variant]) -> list[Fit]:
    """The same of several setups side by side. Raises MotionError, CodeError."""
    several = [sections_of(setup, variants) for setup in setups]
    evaluations = evaluate(swept, several)
    return [
        _fit(setup, swept, parts, evaluation)
        for setup, parts, evaluation in zip(setups, several, evaluations, strict=True)
    ]


def clearance_verdicts(
    swept: Sweep,
    setups: Sequence[Setup],
    variants: Sequence[Variant],
    near: Sequence[Near] | None = None,
    others: Sequence[Sequence[Setup]] | None = None,
) -> list[int]:
    """The verdict on the clearances of each setup, as an index in VERDICTS.

    near : of every setup the parts that alone are looked at; None for all
    others : every setup with one reading moved by its tolerance, each. Raises MotionError, CodeError.
    """
    return [int(verdicts_on(*least)) for least in least_of(swept, setups, variants, near, others)]


def least_of(
    swept: Sweep,
    setups: Sequence[Setup],
    variants: Sequence[Variant],
    near: Sequence[Near] | None = None,
    others: Sequence[Sequence[Setup]] | None = None,
) -> list[tuple[float, float, float]]:
    """Smallest clearance, margin and worst case of each setup [mm], infinite where nothing is met.

    near, others : as for `clearance_verdicts`. Raises MotionError, CodeError.
    Source: none needed, the least of what was evaluated.
    """
    moved = [()] * len(setups) if others is None else others
    parts = [sections_of(setup, variants, own) for setup, own in zip(setups, moved, strict=True)]
    return [evaluation.least(swept) for evaluation in evaluate(swept, parts, near)]


def is_short_there(
    setup: Setup, swept: Sweep, variants: Sequence[Variant], fit: Fit, entry: Clearance, *, worst: bool
) -> bool:
    """Whether a setup is short in the very pose of an entry of another one, by more than SURELY.

    worst : whether its worst case is looked at, not what is left of what is required
    If it is, no check of all poses finds that it clears; if not, nothing is known of the other poses.
    Raises MotionError.
    """
    number = next(k for k, obstacle in enumerate(swept.checked) if obstacle.name == entry.obstacle)
    if fixed_to_hub(swept.checked[number]):
        return False
    first = np.cumsum([0, *map(len, fit.places)])
    family = int(np.searchsorted(first, entry.pose, side="right")) - 1
    at = fit.places[family][entry.pose - first[family]]
    parts = sections_of(setup, variants)
    place = NearPose(parts, number, entry.part, family, tuple(at.tolist()), worst)
    value = float(value_at(swept, family, place)(parts, at[None])[0])
    return value - (0.0 if worst else entry.allowance) < -SURELY


def with_parts(axle: Axle, near: Near) -> Axle:
    """The axle with the obstacles that are near, each met only by what is near it."""
    met = {
        obstacle.name: tuple(part for part in obstacle.meets if (obstacle.name, part) in near)
        for obstacle in axle.obstacles
    }
    return replace(
        axle,
        obstacles=tuple(
            replace(obstacle, meets=met[obstacle.name]) for obstacle in axle.obstacles if met[obstacle.name]
        ),
    )


def _fit(setup: Setup, swept: Sweep, parts: SetupSections, evaluation: Evaluation) -> Fit:
    poses = poses_at(swept.axle, evaluation.places)
    traces = tuple(trace_obstacle(obstacle, poses) for obstacle in swept.checked)
    opposite = [None] * len(poses) if poses.opposite is None else poses.opposite.tolist()
    known = list(zip(poses.travel.tolist(), poses.turned.tolist(), poses.corner.tolist(), opposite, strict=True))
    entries = [
        entry for (i, part), left in evaluation.found.items() for entry in _entries(traces[i], part, poses, known, left)
    ]
    return Fit(
        axle=swept.axle, setup=setup, places=evaluation.places, poses=poses, obstacles=swept.checked, traces=traces,
        tire=parts.nominal["tire"], wheel=parts.nominal["wheel"], clearances=tuple(entries),
        bolt_on=bolt_on_checks(swept.axle, setup), not_checked=swept.not_checked,
    )  # fmt: skip


def moved_poses(found: Fit, axle: Axle, chosen: NDArray[np.intp]) -> Poses:
    """Some poses of a fit, by rising index, on its axle with a reading moved. Raises MotionError.

    They stand at the same share of the lock. A pose at an end of travel moves with that end; one between stays,
    since the closest of all poses is closest there whichever way the ends move.
    """
    parts, first = [], 0
    for family, where in zip(families(axle), found.places, strict=True):
        travel, *lock_fractions = where[chosen[(chosen >= first) & (chosen < first + len(where))] - first].T
        first += len(where)
        there = np.clip(travel, axle.droop, axle.bump)
        there = np.where(np.isclose(travel, found.axle.droop), axle.droop, there)
        there = np.where(np.isclose(travel, found.axle.bump), axle.bump, there)
        parts += [family.poses(there, *lock_fractions)] if len(there) else []
    return joined(parts)


def _entries(
    each: Trace, part: Part, poses: Poses, known: Sequence[tuple[float, float, str, float | None]], left: Left
) -> list[Clearance]:
    """known : travel, steer, corner, and travel of the opposite wheel in all poses"""
    obstacle = each.obstacle
    gap, worst, pose = left.gaps, left.worst_case, left.poses
    if fixed_to_hub(obstacle):
        gap, worst = gap.at(np.zeros(len(pose), dtype=np.intp)), np.repeat(worst, len(pose))
    hub = np.einsum("nc,nci->ni", gap.weights, each.hub[pose[:, None], gap.corners])
    across = np.hypot(hub[:, 0], hub[:, 2])
    near = np.stack([hub[:, 0], gap.on_section[:, 0], hub[:, 2]], -1)
    near[:, [0, 2]] *= (gap.on_section[:, 1] / np.maximum(across, 1e-9))[:, None]
    rotation, origin = poses.rotation[pose], poses.origin[pose]
    point, at_part = (map(tuple, (np.einsum("nij,nj->ni", rotation, p) + origin).tolist()) for p in (hub, near))
    allowance = obstacle.required_to(part)
    numbers = zip(pose.tolist(), gap.clearance.tolist(), worst.tolist(), point, at_part, strict=True)
    entries = []
    for k, free, worst_case, nearest, beside in numbers:
        travel, steer, corner, opposite = known[k]
        places = nearest, beside, corner, opposite
        entries.append(
            Clearance(obstacle.name, part, k, travel, steer, free, allowance, *places, worst_case=worst_case)
        )
    return entries
