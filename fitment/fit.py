"""One setup on one axle through all of its poses: clearances, bolt-on checks, verdict.

`check` and `screen` both come here, so they use the same poses and give the same verdict.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from fitment.bolt_on import BoltOn, bolt_on_checks
from fitment.clearance import Gaps, clearances, gaps
from fitment.closest import closest_places
from fitment.frames import Array
from fitment.obstacles import Obstacle, Part, Point
from fitment.poses import Poses, joined
from fitment.sections import tire_section, wheel_section
from fitment.suspension import Family, between, families, poses_at_share, travel_levels
from fitment.trace import Trace, hub_corners, trace
from fitment.vehicle import Axle, Setup

Verdict = Literal["clears", "tight", "not_checked", "touches", "does_not_bolt_on"]
COULD_TOUCH = 15.0  # [mm] of the nominal tire, less a part's tolerance, within which the largest could touch
LEFT_FOR_READINGS = 6.0  # [mm] of the largest tire, less that tolerance, that the other readings could take away
VERDICTS: tuple[Verdict, ...] = ("clears", "tight", "not_checked", "touches", "does_not_bolt_on")


@dataclass(frozen=True)
class Clearance:
    """One obstacle, one part, one pose.

    clearance, worst_case, allowance : [mm]; worst case: the largest permitted tire and every
        measured value moved against us by its tolerance
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
    worst_case: float
    allowance: float
    point: Point
    at_part: Point
    corner: str = "left"
    opposite: float | None = None

    @property
    def margin(self) -> float:
        """Clearance less the allowance [mm]."""
        return self.clearance - self.allowance


@dataclass(frozen=True)
class Variant:
    """The same axle with one reading moved by its tolerance."""

    reading: str
    axle: Axle


@dataclass(frozen=True)
class SweptFamily:
    """One family of poses on its search grid (nt, ns), run over travel, then share, with every obstacle traced."""

    family: Family
    poses: Poses
    traces: tuple[Trace, ...]


@dataclass(frozen=True)
class Sweep:
    """What is the same for every wheel on an axle: the grids of poses and the obstacles traced in them.

    travels : of the poses that are always reported (nt,)
    checked, not_checked : obstacles with a known motion, and (name, reason) of the rest
    """

    axle: Axle
    travels: Array
    checked: tuple[Obstacle, ...]
    not_checked: tuple[tuple[str, str], ...]
    families: tuple[SweptFamily, ...]


@dataclass(frozen=True)
class Fit:
    """The finished answer for one setup on one axle.

    places : travels and shares (n, 2) of the poses, one array for each family of the axle
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
        """The entry of smallest margin; None when nothing was checked."""
        return min(self.clearances, key=self._urgency, default=None)

    def _urgency(self, entry: Clearance) -> tuple[float, float, float]:
        """Smallest margin first; among equals (a part fixed to the hub) the pose nearest to rest."""
        return round(entry.margin, 6), abs(entry.travel - self.setup.ride), abs(entry.steer)

    @cached_property
    def worst_each(self) -> tuple[Clearance, ...]:
        """The entry of smallest margin of every obstacle and part, tightest first."""
        best: dict[tuple[str, str], Clearance] = {}
        for entry in self.clearances:
            key = (entry.obstacle, entry.part)
            if key not in best or self._urgency(entry) < self._urgency(best[key]):
                best[key] = entry
        return tuple(sorted(best.values(), key=lambda c: c.margin))

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


def sweep(axle: Axle, ride: float) -> Sweep:
    """The grids of poses of an axle and its obstacles traced in them. Raises MotionError."""
    travels = travel_levels(axle, ride)
    search = between(travels)
    checked, left_out = known_motion(axle)
    swept = []
    for family in families(axle):
        poses = family.poses(*_grid(search, family.search_shares).T)
        swept.append(SweptFamily(family, poses, tuple(trace(o, poses) for o in checked)))
    return Sweep(axle, travels, checked, left_out, tuple(swept))


def known_motion(axle: Axle) -> tuple[tuple[Obstacle, ...], tuple[tuple[str, str], ...]]:
    """Obstacles whose motion the suspension describes, and (name, reason) of the rest."""
    carriers = families(axle)[0].poses(np.zeros(1), np.zeros(1)).motions
    checked, left_out = [], []
    for obstacle in axle.obstacles:
        unknown = [c for c in obstacle.fixed_to if obstacle.shape != "ring" and c not in carriers]
        if unknown:
            left_out.append((obstacle.name, f"the motion of the {unknown[0]} is not described by this suspension"))
        else:
            checked.append(obstacle)
    return tuple(checked), tuple(left_out)


def _grid(travels: Array, shares: Array) -> Array:
    """Nodes (nt * ns, 2), over travel, then share."""
    return np.stack([a.ravel() for a in np.meshgrid(travels, shares, indexing="ij")], -1)


def touching_at_rest(axle: Axle, setup: Setup) -> tuple[str, ...]:
    """Names of the parts that overlap the setup at its ride height, straight ahead. Raises MotionError, CodeError."""
    if setup.wheel.rim_diameter != setup.tire.rim_code:
        return ()
    pose, sections = poses_at_share(axle, setup.ride, 0.0), _sections(setup)
    return tuple(
        o.name
        for o in axle.obstacles
        if o.shape == "ring" or all(carrier in pose.motions for carrier in o.fixed_to)
        if any(clearances(sections[part], trace(o, pose))[0] < 0 for part in o.meets)
    )


def fit(setup: Setup, swept: Sweep, variants: Sequence[Variant] = (), others: Sequence[Setup] = ()) -> Fit:
    """Everything about one setup on the axle that was swept. Raises MotionError, CodeError.

    variants, others : the axle and the setup with one reading moved by its tolerance, each
    """
    nominal, biggest = _sections(setup), _sections(setup, largest=True)
    others_biggest = [_sections(other, largest=True) for other in others]

    places = [_places(swept.travels, each, nominal, biggest["tire"]) for each in swept.families]
    poses = _poses_at(swept.axle, places)
    traces = tuple(trace(obstacle, poses) for obstacle in swept.checked)
    moved = [(v.axle, _poses_at(v.axle, _stretched(places, swept.axle, v.axle))) for v in variants]
    entries: list[Clearance] = []
    for each in traces:
        for part in each.obstacle.meets:
            found = gaps(nominal[part], each)
            big = gaps(biggest[part], each) if part == "tire" else found
            loss = _loss(each, big, moved, setup.wheel.offset_tolerance)
            for other in others_biggest:
                loss = loss + np.abs(gaps(other[part], each).clearance - big.clearance)
            entries += _entries(each, part, poses, found, big.clearance - each.obstacle.tolerance - loss)
    return Fit(
        axle=swept.axle, setup=setup, places=tuple(places), poses=poses, obstacles=swept.checked, traces=traces,
        tire=nominal["tire"], wheel=nominal["wheel"], clearances=tuple(entries),
        bolt_on=bolt_on_checks(swept.axle, setup), not_checked=swept.not_checked,
    )  # fmt: skip


def _sections(setup: Setup, *, largest: bool = False) -> dict[Part, Polygon]:
    spacer = setup.spacer.thickness
    return {
        "tire": tire_section(setup.tire, setup.wheel, spacer, largest=largest),
        "wheel": wheel_section(setup.wheel, spacer),
    }


def _poses_at(axle: Axle, places: Sequence[Array]) -> Poses:
    return joined([family.poses(*where.T) for family, where in zip(families(axle), places, strict=True)])


def stretched_travel(travel: Array, axle: Axle, other: Axle) -> Array:
    """Travels [mm] (n,) stretched so that droop and bump become the other axle's."""
    end, goal = np.where(travel < 0, axle.droop, axle.bump), np.where(travel < 0, other.droop, other.bump)
    return np.asarray(travel * np.where(end == 0, 1.0, goal / np.where(end == 0, 1.0, end)))


def _stretched(places: Sequence[Array], axle: Axle, other: Axle) -> list[Array]:
    return [np.column_stack([stretched_travel(where[:, 0], axle, other), where[:, 1]]) for where in places]


def moved_poses(found: Fit, axle: Axle, chosen: NDArray[np.intp]) -> Poses:
    """Some poses of a fit, by rising index, on its axle with a reading moved. Raises MotionError.

    They stand at the same share of the lock. A pose at an end of travel moves with that end; one between stays,
    since the closest of all poses is closest there whichever way the ends move.
    """
    parts, first = [], 0
    for family, where in zip(families(axle), found.places, strict=True):
        travel, share = where[chosen[(chosen >= first) & (chosen < first + len(where))] - first].T
        first += len(where)
        there = np.clip(travel, axle.droop, axle.bump)
        there = np.where(np.isclose(travel, found.axle.droop), axle.droop, there)
        there = np.where(np.isclose(travel, found.axle.bump), axle.bump, there)
        parts += [family.poses(there, share)] if len(there) else []
    return joined(parts)


def _places(travels: Array, swept: SweptFamily, nominal: dict[Part, Polygon], largest: Polygon) -> Array:
    """Travels and shares (n, 2) of the grid and of the closest places between its nodes.

    largest : the largest tire, whose closest places are sought too where it could touch
    """
    family, search = swept.family, between(travels)
    shape = (len(search), len(family.search_shares))
    pairs: list[tuple[int, Polygon]] = []
    on_grid: list[Array] = []
    for i, each in enumerate(swept.traces):
        if each.obstacle.shape == "ring" or set(each.obstacle.fixed_to) == {"knuckle"}:
            continue
        for part in each.obstacle.meets:
            pairs.append((i, nominal[part]))
            on_grid.append(clearances(nominal[part], each).reshape(shape))
            if part == "tire" and 0 <= on_grid[-1].min() < COULD_TOUCH + each.obstacle.tolerance:
                big = clearances(largest, each).reshape(shape)
                if big.min() < LEFT_FOR_READINGS + each.obstacle.tolerance:
                    pairs.append((i, largest))
                    on_grid.append(big)
    of_trace = np.array([i for i, _ in pairs], dtype=int)

    def clearance(pair: NDArray[np.intp], travel: Array, share: Array) -> Array:
        poses = family.poses(travel, share)
        there = np.empty(len(pair))
        owner = of_trace[pair]
        for i in np.unique(owner):  # a part is traced once for all sections
            mine = np.flatnonzero(owner == i)
            traced = trace(swept.traces[i].obstacle, poses.at(mine))
            for k in np.unique(pair[mine]):
                chosen = pair[mine] == k
                there[mine[chosen]] = clearances(pairs[k][1], traced.at(chosen))
        return there

    kept = np.isin(search, travels)[:, None] & np.isin(family.search_shares, family.shares)
    more = closest_places(search, family.search_shares, kept, on_grid, clearance, family.turn)
    extra = np.array([(t, s) for _, t, s in more]).reshape(-1, 2)
    return np.unique(np.round(np.concatenate([_grid(travels, family.shares), extra]), 6), axis=0)


def _loss(each: Trace, found: Gaps, moved: Sequence[tuple[Axle, Poses]], offset_tolerance: float) -> Array:
    """Clearance lost (n,) [mm] when every toleranced reading goes against us, to first order.

    A reading moves the nearest material point in the half plane; what counts is its motion along the line
    from the section to the point. Where they touch that line is unknown and the whole motion counts.
    """
    loss = offset_tolerance * np.abs(found.away[:, 0])
    pose = np.arange(len(loss))[:, None]
    here = _at(each.hub[pose, found.corners], found.weights)
    for axle, poses in moved:
        obstacle = next(o for o in axle.obstacles if o.name == each.obstacle.name)
        there = _at(hub_corners(obstacle, poses)[pose, found.corners], found.weights)
        step = there - here
        along = np.abs(np.sum(step * found.away, -1))
        known = np.any(found.away != 0, axis=1)
        thicker = abs(obstacle.radius - each.obstacle.radius)
        loss = loss + np.where(known, along, np.linalg.norm(step, axis=-1)) + thicker
    return loss


def _at(points: Array, weights: Array) -> Array:
    x, y, z = np.moveaxis(np.einsum("nc,nci->ni", weights, points), -1, 0)
    return np.stack([y, np.hypot(x, z)], -1)


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
            float(worst_case[k]), allowance, _point(point[k]), _point(at_part[k]),
            str(poses.corner[k]), None if poses.opposite is None else float(poses.opposite[k]),
        )
        for k in range(len(poses))
    ]  # fmt: skip


def _point(values: Array) -> Point:
    x, y, z = values.tolist()
    return x, y, z
