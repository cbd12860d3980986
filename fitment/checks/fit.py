"""One setup on one axle through all of its poses: clearances, bolt-on checks, verdict.

`check` and `screen` both come here, so they use the same poses and give the same verdict.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from fitment.checks.bolt_on import BoltOn, bolt_on_checks
from fitment.clearance import closest_poses
from fitment.clearance.pose_grid import Sweep, Variant
from fitment.clearance.section_distance import Gaps, clearances, gaps
from fitment.clearance.trace import Trace, hub_corners, trace_obstacle
from fitment.clearance.worst_case import SetupSections, read_again, sections_of, setup_sections, worst_clearance
from fitment.frames import Array
from fitment.motion.poses import Poses, joined
from fitment.motion.suspension import families, poses_at_lock_fraction
from fitment.parts.axle import Axle, Setup
from fitment.parts.obstacles import Obstacle, Part, Point

Verdict = Literal["clears", "tight", "not_checked", "touches", "does_not_bolt_on"]
VERDICTS: tuple[Verdict, ...] = ("clears", "tight", "not_checked", "touches", "does_not_bolt_on")


@dataclass(frozen=True)
class Approach:
    """One obstacle, one part, one pose.

    clearance, allowance : [mm]
    point : nearest (or deepest) point of the obstacle's core, body frame [mm]
    at_part : the place on the tire or wheel next to it, body frame [mm]
    corner : 'right' for the mirrored corner of an axle that is not symmetric
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
        """Least comes first: an overlap, the deepest first, before what is merely short, the smallest margin first."""
        overlaps = self.clearance < 0
        return not overlaps, round(self.clearance if overlaps else self.margin, 6)


@dataclass(frozen=True, kw_only=True)
class Clearance(Approach):
    """An approach in a pose of the check.

    worst_case : [mm]; the largest permitted tire and every measured value moved against us by its tolerance
    """

    worst_case: float


@dataclass(frozen=True)
class Fit:
    """The finished answer for one setup on one axle.

    places : travels and lock fractions (n, k) of the poses, one array for each family of the axle
    clearances : every obstacle x part x pose
    not_checked : (obstacle, reason)
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

    @cached_property
    def worst(self) -> Clearance | None:
        """The deepest overlap, else the entry of smallest margin; None when nothing was checked."""
        return min(self.clearances, key=self._urgency, default=None)

    def _urgency(self, entry: Clearance) -> tuple[tuple[bool, float], float, float, float]:
        """The most urgent first; among equals (a part fixed to the hub) the pose nearest to rest."""
        rolled = 0.0 if entry.opposite is None else abs(entry.opposite - entry.travel)
        return entry.urgency, abs(entry.travel - self.setup.ride), abs(entry.steer), rolled

    @cached_property
    def worst_each(self) -> tuple[Clearance, ...]:
        """The entry of smallest margin of every obstacle and part: overlaps first, then the tightest."""
        best: dict[tuple[str, str], Clearance] = {}
        for entry in self.clearances:
            key = (entry.obstacle, entry.part)
            if key not in best or self._urgency(entry) < self._urgency(best[key]):
                best[key] = entry
        return tuple(sorted(best.values(), key=lambda c: c.urgency))

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
        """Distance of an entry's place on the tire or wheel from the spin axis [mm]."""
        x, _, z = (np.array(entry.at_part) - self.poses.origin[entry.pose]) @ self.poses.rotation[entry.pose]
        return float(np.hypot(x, z))

    @cached_property
    def verdict(self) -> Verdict:
        """`does_not_bolt_on` outranks the rest; then touches, tight, clears. Without any part, `not_checked`."""
        if any(check.status == "fail" for check in self.bolt_on):
            return "does_not_bolt_on"
        if not self.clearances:
            return "not_checked"
        if any(c.clearance < 0 for c in self.clearances):
            return "touches"
        if any(c.margin < 0 or c.worst_case < 0 for c in self.clearances):
            return "tight"
        return "clears"


def touching_at_rest(axle: Axle, setup: Setup) -> tuple[str, ...]:
    """Names of the parts that overlap the setup at its ride height, straight ahead. Raises MotionError, CodeError."""
    if setup.wheel.rim_diameter != setup.tire.rim_code:
        return ()
    pose, own = poses_at_lock_fraction(axle, setup.ride, 0.0), setup_sections(setup)
    return tuple(
        o.name
        for o in axle.obstacles
        if o.shape == "ring" or all(carrier in pose.motions for carrier in o.fixed_to)
        if any(clearances(own[part], trace_obstacle(o, pose))[0] < 0 for part in o.meets)
    )


def fit_setup(setup: Setup, swept: Sweep, variants: Sequence[Variant] = (), others: Sequence[Setup] = ()) -> Fit:
    """Everything about one setup on the axle that was swept. Raises MotionError, CodeError.

    variants, others : the axle and the setup with one reading moved by its tolerance, each
    """
    parts = sections_of(setup, variants, others)
    where = closest_poses.find_closest(swept, [parts])[0]
    at = _at_places(swept, where, parts)
    more = _worse_places(swept, where, at.measured, parts)
    if any(len(each) for each in more):
        where = [closest_poses.sorted_places(np.concatenate(both)) for both in zip(where, more, strict=True)]
        at = _at_places(swept, where, parts)
    return Fit(
        axle=swept.axle, setup=setup, places=tuple(where), poses=at.poses, obstacles=swept.checked, traces=at.traces,
        tire=parts.nominal["tire"], wheel=parts.nominal["wheel"], clearances=at.entries,
        bolt_on=bolt_on_checks(swept.axle, setup), not_checked=swept.not_checked,
    )  # fmt: skip


class _AtPlaces(NamedTuple):
    """What stands where in some poses.

    measured : of every obstacle, by its index, and part the clearances and the worst cases [mm]
    """

    poses: Poses
    traces: tuple[Trace, ...]
    entries: tuple[Clearance, ...]
    measured: dict[tuple[int, Part], tuple[Array, Array]]


def _at_places(swept: Sweep, where: Sequence[Array], parts: SetupSections) -> _AtPlaces:
    """The poses at the places of every family, the obstacles traced in them, and every clearance."""
    poses = closest_poses.poses_at(swept.axle, where)
    traces = tuple(trace_obstacle(obstacle, poses) for obstacle in swept.checked)
    there = [closest_poses.poses_at(swept.axle, where, variant.axle) for variant in parts.variants]
    entries: list[Clearance] = []
    measured: dict[tuple[int, Part], tuple[Array, Array]] = {}
    for i, each in enumerate(traces):
        read = read_again(each.obstacle, parts)
        moved = [(other, hub_corners(other, poses)) for other, poses in zip(read, there, strict=True)]
        for part in each.obstacle.meets:
            found = gaps(parts.nominal[part], each)
            worst = worst_clearance(each, part, found if part == "wheel" else None, moved, parts)
            entries += _entries(each, part, poses, found, worst)
            measured[i, part] = found.clearance, worst
    return _AtPlaces(poses, traces, tuple(entries), measured)


def _worse_places(
    swept: Sweep, where: Sequence[Array], measured: dict[tuple[int, Part], tuple[Array, Array]], parts: SetupSections
) -> list[Array]:
    """Travels and lock fractions (n, k) of every family at which a worst case that could decide the verdict is
    worst.
    """
    starts = [
        start
        for (i, part), found in measured.items()
        for start in closest_poses.could_be_worse(swept, i, part, parts, where, *found)
    ]
    found = closest_poses.find_worse(swept, starts)
    return [
        np.array([at for start, at in found if start.family == k]).reshape(-1, each.shape[1])
        for k, each in enumerate(where)
    ]


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


def _entries(each: Trace, part: Part, poses: Poses, found: Gaps, worst_case: Array) -> list[Clearance]:
    obstacle = each.obstacle
    pose = np.arange(len(poses))[:, None]
    hub = np.einsum("nc,nci->ni", found.weights, each.hub[pose, found.corners])
    across = np.hypot(hub[:, 0], hub[:, 2])
    near = np.stack([hub[:, 0], found.on_section[:, 0], hub[:, 2]], -1)
    near[:, [0, 2]] *= (found.on_section[:, 1] / np.maximum(across, 1e-9))[:, None]
    point, at_part = (np.einsum("nij,nj->ni", poses.rotation, p) + poses.origin for p in (hub, near))
    allowance = obstacle.allowance_to(part)
    return [
        Clearance(
            obstacle.name, part, k, float(poses.travel[k]), float(poses.steer[k]), float(found.clearance[k]),
            allowance, _point(point[k]), _point(at_part[k]), str(poses.corner[k]),
            None if poses.opposite is None else float(poses.opposite[k]), worst_case=float(worst_case[k]),
        )
        for k in range(len(poses))
    ]  # fmt: skip


def _point(values: Array) -> Point:
    x, y, z = values.tolist()
    return x, y, z
