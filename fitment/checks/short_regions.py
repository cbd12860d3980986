"""Where a part is short of what is required: the region of travel and steering, or of travel and the opposite wheel.

The nodes of the check's grid are known; between them only what could widen the region is looked at, so that its limits
are on the safe side: a region holds every pose in which the part is short, and is at most about a step larger.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fitment.checks.fit import Clearance, Fit
from fitment.clearance.alike import alike_groups
from fitment.clearance.closest_poses import NearPose, value_at
from fitment.clearance.motion_polynomials import corners_at, frames_at, tracker
from fitment.clearance.pose_grid import Sweep, Variant, grid, sweep
from fitment.clearance.region_limits import (
    Cells,
    Measure,
    at_corners,
    by_region,
    cells_of,
    extents,
    joined,
    places_in,
)
from fitment.clearance.section_distance import of_rows, outside
from fitment.clearance.trace import Index
from fitment.clearance.worst_case import SetupSections, sections_of
from fitment.frames import Array, steer_of
from fitment.motion.suspension import corners_alike, opposite_travel
from fitment.parts.axle import Setup
from fitment.parts.obstacles import Obstacle, Part, fixed_to_hub

Shortfall = Literal["rubs", "too_close", "worst_case"]
"""Touches, is less than required, or touches in the worst case only."""
Beside = Literal["steer", "opposite"]
"""What moves beside travel: steering [deg], or the opposite wheel's travel [mm]."""
Span = tuple[float, float]
STEP_TRAVEL, STEP_STEER = 0.4, 0.2  # [mm], [deg] by which a limit may be too far out
WORTH_TWO = 0.6  # two regions are told where they are together no more than this share of the one that holds both
ARM = 300.0  # [mm] between the points that tell how the hub is turned
AXES = Obstacle("axes", "edge", ((0.0, 0.0, 0.0), (ARM, 0.0, 0.0), (0.0, ARM, 0.0), (0.0, 0.0, ARM)))


@dataclass(frozen=True)
class Region:
    """Poses in a box; all in which the part is short lie in one.

    travel : [mm]; beside : steer [deg], positive to the left, or the opposite wheel's travel [mm]; None where only
        travel moves
    ends : whether it goes to the right and to the left lock, or to the opposite wheel's lowest and highest
    every_height : whether the part is short somewhere at every height that was looked at
    """

    travel: Span
    beside: Span | None
    ends: tuple[bool, bool]
    every_height: bool


@dataclass(frozen=True)
class WhereShort:
    """Where one obstacle is short to one part.

    kind : in what it is short, the worst that it is anywhere; limit : the clearance that is not kept [mm]
    beside : what moves beside travel, None where nothing does
    regions : one, or two; whole : all that was looked at
    always : in every pose that was looked at
    still : the obstacle does not move against the wheel
    straight : of a region from lock to lock the travel in which it is short straight ahead, () where it never is
        [mm]; None of any other
    """

    obstacle: str
    part: Part
    kind: Shortfall
    limit: float
    beside: Beside | None
    regions: tuple[Region, ...]
    whole: Region
    always: bool
    still: bool = False
    straight: Span | tuple[()] | None = None


def where_short(fit: Fit, variants: Sequence[Variant] = (), others: Sequence[Setup] = ()) -> tuple[WhereShort, ...]:
    """Of every obstacle and part that is short where it is, in the order of `Fit.worst_each`.

    variants, others : the axle and the setup with one reading moved by its tolerance, each
    Raises MotionError.
    Source: derived here, see `extents`.
    """
    entries: dict[tuple[str, str], list[Clearance]] = {}
    for entry in fit.clearances:
        entries.setdefault((entry.obstacle, entry.part), []).append(entry)
    number = {obstacle.name: i for i, obstacle in enumerate(fit.obstacles)}
    every = (entries[entry.obstacle, entry.part] for entry in fit.worst_each)
    short = [pair for own in every for pair in _short(fit, number[own[0].obstacle], own)]
    if not short:
        return ()
    looked = _Looked(fit, sweep(fit.axle, fit.setup.ride), sections_of(fit.setup, variants, others))
    cells, nodes, known = (by_region(each, len(short)) for each in _on_grid(looked, short))
    at_nodes = at_corners(nodes[0], looked.coordinates)[:, 0]
    whole = _region(looked, at_nodes.min(axis=0), at_nodes.max(axis=0), every_height=True)
    box = _Box.of(looked, cells[0])
    pieces: list[tuple[int, Cells, Cells]] = []
    for k, pair in enumerate(short):
        if not fixed_to_hub(pair.obstacle) and not (nodes[k].values < 0).all():
            own_short = joined([nodes[k].at(nodes[k].values[:, 0] < 0), known[k]])
            pieces += [(k, cells[k].at(own), own_short.at(known)) for own, known in _pieces(box, cells[k], own_short)]
    regions: dict[int, list[Region]] = {}
    low, high = _extents(looked, [short[k] for k, _, _ in pieces], [piece[1:] for piece in pieces])
    for (k, _, own_short), *limits in zip(pieces, low, high, strict=True):
        found = _region(looked, *limits, every_height=_every_height(looked, own_short))
        regions.setdefault(k, []).append(found)
    locks = [k for k, own in regions.items() if looked.beside == "steer" and len(own) == 1 and all(own[0].ends)]
    straight = dict(zip(locks, _straight(looked, [short[k] for k in locks]), strict=True))
    return tuple(
        WhereShort(
            pair.obstacle.name, pair.part, pair.kind, pair.limit, looked.beside, tuple(regions.get(k, (whole,))), whole,
            k not in regions, fixed_to_hub(pair.obstacle), straight.get(k),
        )
        for k, pair in enumerate(short)
    )  # fmt: skip


class _Short(NamedTuple):
    """An obstacle, by its number among those checked too, and a part of the wheel to which it is short.

    values : in the check's poses (n,) [mm], below zero where it is short, infinite where it was not looked at
    """

    obstacle: Obstacle
    number: int
    part: Part
    kind: Shortfall
    limit: float
    values: Array


def _short(fit: Fit, number: int, entries: Sequence[Clearance]) -> Iterator[_Short]:
    """Entries of an obstacle and a part, if it is short anywhere."""
    kind = _shortfall(entries)
    if kind is None:
        return
    obstacle, part = fit.obstacles[number], entries[0].part
    limit = obstacle.allowance_to(part) if kind == "too_close" else 0.0
    values = np.full(len(fit.poses), np.inf)
    measured = [entry.worst_case if kind == "worst_case" else entry.clearance for entry in entries]
    values[[entry.pose for entry in entries]] = np.array(measured) - limit
    yield _Short(obstacle, number, part, kind, limit, values)


def _shortfall(entries: Sequence[Clearance]) -> Shortfall | None:
    if min(entry.clearance for entry in entries) < 0:
        return "rubs"
    if min(entry.margin for entry in entries) < 0:
        return "too_close"
    return "worst_case" if min(entry.worst_case for entry in entries) < 0 else None


@dataclass(frozen=True)
class _Looked:
    """A fit with what its poses are looked at by."""

    fit: Fit
    swept: Sweep
    parts: SetupSections

    @property
    def ways(self) -> list[int]:
        """Which columns of a place move: travel, and the shares that do."""
        levels = self.swept.families[0].family.levels
        return [0, *(1 + i for i, at in enumerate(levels) if len(at) > 1)]

    @property
    def beside(self) -> Beside | None:
        """What moves beside travel: steering where it does, since a roll turns the wheel by little only."""
        kinds = self.swept.families[0].family.kinds
        moving = [kinds[i - 1] for i in self.ways[1:]]
        return None if not moving else "steer" if "steer" in moving else "opposite"

    @property
    def mirrored(self) -> NDArray[np.bool_]:
        """Of which families the steering is as in a mirror: a right corner's."""
        corners = [side == "right" for side in self.fit.axle.sides]
        return np.array(corners[: len(self.swept.families)]) & (self.beside == "steer")

    def coordinates(self, family: int, places: Array) -> Array:
        """Travel [mm], what is told beside it [deg or mm], and its share [-], (q, 3), as a person sees them."""
        travel, *shares = places.T
        if self.beside is None:
            return np.stack([travel, np.zeros_like(travel), np.zeros_like(travel)], -1)
        if self.beside == "opposite":
            return np.stack([travel, opposite_travel(self.fit.axle, travel, shares[0]), shares[0]], -1)
        hub = tracker(self.swept.motion(family), AXES)(places)
        spin, sign = (hub[:, 1:, 1] - hub[:, :1, 1]) / ARM, -1.0 if self.mirrored[family] else 1.0
        return np.stack([travel, sign * steer_of(spin), sign * shares[-1]], -1)


def _extents(looked: _Looked, short: Sequence[_Short], pieces: Sequence[tuple[Cells, Cells]]) -> tuple[Array, Array]:
    """Limits (r, 3) of what is short in cells, from places where it is."""
    if not pieces:
        return np.empty((0, 3)), np.empty((0, 3))
    cells, known = (
        joined([replace(each, region=np.full(len(each), k)) for k, each in enumerate(own)])
        for own in zip(*pieces, strict=True)
    )
    step = np.array([STEP_TRAVEL, STEP_STEER if looked.beside == "steer" else STEP_TRAVEL, np.inf])
    return extents(len(pieces), cells, known, _measure(looked, short), looked.coordinates, step)


def _measure(looked: _Looked, short: Sequence[_Short]) -> Measure:
    """What is below zero where each is short, in any poses of a family."""
    swept, parts = looked.swept, looked.parts
    groups = alike_groups(swept.checked, looked.fit.poses)
    place_of = {number: (g, k) for g, group in enumerate(groups) for k, number in enumerate(group.numbers)}
    of_group, owner = np.array([place_of[pair.number] for pair in short]).T
    limit = np.array([pair.limit for pair in short])
    kinds: list[tuple[int, Part | None]] = [  # an obstacle in the worst case, or a group
        (pair.number, pair.part) if pair.kind == "worst_case" else (g, None)
        for pair, g in zip(short, of_group.tolist(), strict=True)
    ]
    nominal = [parts.nominal[pair.part] for pair in short]
    of_kind = {kind: k for k, kind in enumerate(dict.fromkeys(kinds))}
    own_kind = np.array([of_kind[kind] for kind in kinds])
    alike = np.array(corners_alike(swept.axle))

    def measure(families: Index, region: Index, places: Array) -> Array:
        once = np.column_stack([families * ~alike, region, places])
        once, back = np.unique(once, axis=0, return_inverse=True)
        families, region, places = once[:, 0].astype(np.intp), once[:, 1].astype(np.intp), once[:, 2:]
        there = np.empty(len(places))
        for family in np.unique(families).tolist():
            mine = np.flatnonzero(families == family)
            there[mine] = of_family(family, region[mine], places[mine])
        return there[back.ravel()]

    def of_family(family: int, region: Index, places: Array) -> Array:
        motion, there = swept.motion(family), np.empty(len(region))
        frames = frames_at(motion, places)
        for (number, part), kind in of_kind.items():
            mine = np.flatnonzero(own_kind[region] == kind)
            if part and len(mine):
                near = NearPose(parts, number, part, family, (), True)
                there[mine] = value_at(swept, family, near)(parts, places[mine])
            elif len(mine):
                group, own = groups[number], owner[region[mine]]
                traced = group.trace(own, corners_at(motion, group, own, places, frames, mine))
                there[mine] = outside(of_rows(nominal, region[mine]), traced) - limit[region[mine]]
        return there

    return measure


def _straight(looked: _Looked, short: Sequence[_Short]) -> list[Span | tuple[()]]:
    """Travel in which each is short straight ahead."""
    if not short:
        return []
    cells, nodes, known = (by_region(each, len(short)) for each in _on_grid(looked, short, straight=True))
    inside = [joined([own.at(own.values[:, 0] < 0), more]) for own, more in zip(nodes, known, strict=True)]
    low, high = (ends[:, 0].tolist() for ends in _extents(looked, short, list(zip(cells, inside, strict=True))))
    return [(first, last) if first <= last else () for first, last in zip(low, high, strict=True)]


def _on_grid(looked: _Looked, short: Sequence[_Short], *, straight: bool = False) -> tuple[Cells, Cells, Cells]:
    """Of each the cells of the check's grid, its nodes, and what other poses of the check are short.

    straight : only of those that are not steered
    """
    cells, nodes, others, first = [], [], [], 0
    values, count = np.array([pair.values for pair in short]), len(short)
    for number, (own, where) in enumerate(zip(looked.swept.families, looked.fit.places, strict=True)):
        levels = (looked.swept.travels, *own.family.levels)
        levels = (*levels[:-1], levels[-1][levels[-1] == 0]) if straight else levels
        here, first = values[:, first : first + len(where)], first + len(where)
        places = np.round(grid(*levels), 6)
        order = {place: i for i, place in enumerate(map(tuple, where.tolist()))}
        at = np.array([order[place] for place in map(tuple, (places + 0.0).tolist())])
        there = here[:, at]
        cells.append(cells_of(number, levels, there.reshape(count, *(len(level) for level in levels))))
        region, node = np.divmod(np.arange(there.size), len(at))
        nodes.append(places_in(region, number, places[node], there.ravel()))
        more = (here < 0) & ~(straight & (where[:, -1] != 0))
        more[:, at] = False
        region, pose = np.nonzero(more)
        others.append(places_in(region, number, where[pose]))
    return joined(cells), joined(nodes), joined(others)


class _Box(NamedTuple):
    """The ways in which places move that are told, and what a place counts for in each.

    mirrored : families (f,) whose shares beside travel are as in a mirror
    pad : half a cell (k,); low, high : ends of all cells (k,)
    """

    ways: list[int]
    beside: int | None
    mirrored: NDArray[np.bool_]
    pad: Array
    low: Array
    high: Array

    @classmethod
    def of(cls, looked: _Looked, cells: Cells) -> _Box:
        """That of the grid's cells."""
        ways = looked.ways
        beside = None if looked.beside is None else ways[-1] if looked.beside == "steer" else ways[1]
        steps = [np.diff(np.unique(cells.low[:, way])) for way in ways]
        pad = np.array([float(np.median(step)) / 2 if len(step) else 0.0 for step in steps])
        low, high = cells.low[:, ways].min(axis=0), cells.high[:, ways].max(axis=0)
        return cls(ways, beside, looked.mirrored, pad, low, high)

    def seen(self, places: Cells) -> tuple[Array, Array]:
        """Ends (n, k) of places as a person sees them."""
        if self.beside is None or not self.mirrored.any():
            return places.low, places.high
        low, high, turned = places.low.copy(), places.high.copy(), self.mirrored[places.family]
        low[turned, self.beside], high[turned, self.beside] = -high[turned, self.beside], -low[turned, self.beside]
        return low, high

    def area(self, at: Array, chosen: NDArray[np.bool_]) -> Array:
        """Of the boxes (b,) of some of the places (n, k), chosen for each (b, n), each taken for half a cell around."""
        own = at[:, self.ways]
        low = np.where(chosen[..., None], own, np.inf).min(axis=1)
        high = np.where(chosen[..., None], own, -np.inf).max(axis=1)
        size = np.minimum(high + self.pad, self.high) - np.maximum(low - self.pad, self.low)
        return np.asarray(np.prod(size, axis=1))


def _pieces(box: _Box, cells: Cells, short: Cells) -> list[tuple[NDArray[np.bool_], NDArray[np.bool_]]]:
    """Which cells, and which places that are short, are one piece; two where these are together much smaller."""
    (low, high), (at, _) = box.seen(cells), box.seen(short)
    best, chosen = WORTH_TWO * float(box.area(at, np.ones((1, len(short)), dtype=bool))[0]), None
    for way in [0] if box.beside is None else [0, box.beside]:
        lines = np.unique(low[:, way])[1:]
        before, after = at[:, way] <= lines[:, None], at[:, way] >= lines[:, None]
        both = np.flatnonzero(before.any(axis=1) & after.any(axis=1))
        areas = box.area(at, before[both]) + box.area(at, after[both])
        for line, area in zip(lines[both].tolist(), areas.tolist(), strict=True):
            if area < best - 1e-9 or (chosen and area < best + 1e-9 and abs(line) < abs(chosen[1])):
                best, chosen = area, (way, line)
    if chosen is None:
        return [(np.ones(len(cells), dtype=bool), np.ones(len(short), dtype=bool))]
    way, line = chosen
    return [(high[:, way] <= line, at[:, way] <= line), (low[:, way] >= line, at[:, way] >= line)]


def _every_height(looked: _Looked, short: Cells) -> bool:
    """Whether something is short at every height of the grid."""
    return bool(np.isin(np.round(looked.swept.travels, 6), np.round(short.low[:, 0], 6)).all())


def _region(looked: _Looked, smallest: Array, largest: Array, *, every_height: bool) -> Region:
    low, high = smallest.tolist(), largest.tolist()
    moves = looked.beside is not None
    ends = (low[2] <= -1 + 1e-9, high[2] >= 1 - 1e-9) if moves else (True, True)
    return Region((low[0], high[0]), (low[1], high[1]) if moves else None, ends, every_height)
