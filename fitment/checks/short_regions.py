"""Where a part is short of what is required: the region of travel and steering, or of travel and the opposite wheel.

The nodes of the check's grid are known; between them only what could widen the region is looked at, so that its limits
are on the safe side: a region holds every pose in which the part is short, and is at most about a step larger.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Literal

import numpy as np

from fitment.checks.fit import Clearance, Fit
from fitment.clearance.closest_poses import NearPose, value_at
from fitment.clearance.motion_polynomials import tracker
from fitment.clearance.pose_grid import Sweep, Variant, grid, sweep
from fitment.clearance.region_limits import Cells, at_corners, cells_of, extent, joined, places_in
from fitment.clearance.section_distance import outside
from fitment.clearance.trace import trace_of_corners
from fitment.clearance.worst_case import SetupSections, sections_of
from fitment.frames import Array, steer_of
from fitment.motion.suspension import opposite_travel
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
    Source: derived here, see `extent`.
    """
    known: dict[tuple[str, str], list[Clearance]] = {}
    for entry in fit.clearances:
        known.setdefault((entry.obstacle, entry.part), []).append(entry)
    pairs = [known[entry.obstacle, entry.part] for entry in fit.worst_each]
    short = [entries for entries in pairs if _shortfall(entries) is not None]
    if not short:
        return ()
    looked = _Looked(fit, sweep(fit.axle, fit.setup.ride), sections_of(fit.setup, variants, others))
    return tuple(_where(looked, entries) for entries in short)


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

    def coordinates(self, family: int, places: Array) -> Array:
        """Travel [mm], what is told beside it [deg or mm], and its share [-], (q, 3)."""
        travel, *shares = places.T
        if self.beside is None:
            return np.stack([travel, np.zeros_like(travel), np.zeros_like(travel)], -1)
        if self.beside == "opposite":
            return np.stack([travel, opposite_travel(self.fit.axle, travel, shares[0]), shares[0]], -1)
        hub = tracker(self.swept.motion(family), AXES)(places)
        spin = (hub[:, 1:, 1] - hub[:, :1, 1]) / ARM
        return np.stack([travel, steer_of(spin), shares[-1]], -1)


def _where(looked: _Looked, entries: Sequence[Clearance]) -> WhereShort:
    kind = _shortfall(entries)
    assert kind is not None
    part, number = entries[0].part, [o.name for o in looked.swept.checked].index(entries[0].obstacle)
    obstacle = looked.swept.checked[number]
    limit = obstacle.allowance_to(part) if kind == "too_close" else 0.0
    values = np.array([entry.worst_case if kind == "worst_case" else entry.clearance for entry in entries]) - limit
    cells, nodes, known = _on_grid(looked, values)
    there = at_corners(nodes, looked.coordinates)[:, 0]
    whole = _region(looked, (there.min(axis=0), there.max(axis=0)), every_height=True)
    still, always = fixed_to_hub(obstacle), bool((nodes.values < 0).all())
    made = partial(WhereShort, obstacle.name, part, kind, limit, looked.beside)
    if still or always:
        return made((whole,), whole, True, still)
    measure = _measure(looked, number, part, kind, limit)
    step = np.array([STEP_TRAVEL, STEP_STEER if looked.beside == "steer" else STEP_TRAVEL, np.inf])
    short = joined([nodes.at(nodes.values[:, 0] < 0), known])
    regions = []
    for own_cells, own_short in _pieces(looked, cells, short):
        limits = extent(own_cells, own_short, measure, looked.coordinates, step)
        regions.append(_region(looked, limits, every_height=_every_height(looked, own_short)))
    from_lock_to_lock = looked.beside == "steer" and len(regions) == 1 and all(regions[0].ends)
    straight = _straight(looked, values, measure, step) if from_lock_to_lock else None
    return made(tuple(regions), whole, False, straight=straight)


def _measure(
    looked: _Looked, obstacle: int, part: Part, kind: Shortfall, limit: float
) -> Callable[[int, Array], Array]:
    """What is below zero where the part is short, in any poses of a family."""
    own, parts = looked.swept.checked[obstacle], looked.parts

    def nominal(family: int, places: Array) -> Array:
        corners = tracker(looked.swept.motion(family), own)(places)
        return outside(parts.nominal[part], trace_of_corners(own, corners)) - limit

    def worst(family: int, places: Array) -> Array:
        near = NearPose(parts, obstacle, part, family, tuple(places[0].tolist()), True)
        return value_at(looked.swept, family, near)(parts, places)

    return worst if kind == "worst_case" else nominal


def _straight(looked: _Looked, values: Array, measure: Callable[[int, Array], Array], step: Array) -> Span | tuple[()]:
    """Travel in which the part is short straight ahead."""
    cells, nodes, known = _on_grid(looked, values, straight=True)
    low, high = extent(cells, joined([nodes.at(nodes.values[:, 0] < 0), known]), measure, looked.coordinates, step)
    return (float(low[0]), float(high[0])) if low[0] <= high[0] else ()


def _on_grid(looked: _Looked, values: Array, *, straight: bool = False) -> tuple[Cells, Cells, Cells]:
    """Cells of the check's grid, its nodes, and what other poses of the check are short.

    values : of the check's poses [mm]; straight : only of those that are not steered
    """
    cells, nodes, others, first = [], [], [], 0
    for number, (own, where) in enumerate(zip(looked.swept.families, looked.fit.places, strict=True)):
        levels = (looked.swept.travels, *own.family.levels)
        levels = (*levels[:-1], levels[-1][levels[-1] == 0]) if straight else levels
        here, first = values[first : first + len(where)], first + len(where)
        places = np.round(grid(*levels), 6)
        order = {place: i for i, place in enumerate(map(tuple, where.tolist()))}
        at = np.array([order[place] for place in map(tuple, (places + 0.0).tolist())])
        cells.append(cells_of(number, levels, here[at].reshape([len(level) for level in levels])))
        nodes.append(places_in(number, places, here[at]))
        more = np.setdiff1d(np.flatnonzero((here < 0) & ~(straight & (where[:, -1] != 0))), at)
        others.append(places_in(number, where[more]))
    return joined(cells), joined(nodes), joined(others)


def _pieces(looked: _Looked, cells: Cells, short: Cells) -> list[tuple[Cells, Cells]]:
    """The cells with what is short in them, in one piece, or in two where these are together much smaller."""
    ways = [0] if looked.beside is None else [0, looked.ways[-1] if looked.beside == "steer" else looked.ways[1]]
    best, chosen = WORTH_TWO * _area(looked, cells, short), None
    for way in ways:
        for line in np.unique(cells.low[:, way])[1:]:
            before, after = short.at(short.low[:, way] <= line), short.at(short.low[:, way] >= line)
            if not len(before) or not len(after):
                continue
            area = _area(looked, cells, before) + _area(looked, cells, after)
            if area < best - 1e-9 or (chosen and area < best + 1e-9 and abs(line) < abs(chosen[1])):
                best, chosen = area, (way, float(line), before, after)
    if chosen is None:
        return [(cells, short)]
    way, line, before, after = chosen
    return [(cells.at(cells.high[:, way] <= line), before), (cells.at(cells.low[:, way] >= line), after)]


def _area(looked: _Looked, cells: Cells, short: Cells) -> float:
    """Of the box of places, each taken for half a cell around it [shares of the whole]."""
    low, high = short.low.min(axis=0), short.high.max(axis=0)
    size = 1.0
    for way in looked.ways:
        steps = np.diff(np.unique(cells.low[:, way]))
        pad = float(np.median(steps)) / 2 if len(steps) else 0.0
        ends = float(cells.low[:, way].min()), float(cells.high[:, way].max())
        size *= min(float(high[way]) + pad, ends[1]) - max(float(low[way]) - pad, ends[0])
    return size


def _every_height(looked: _Looked, short: Cells) -> bool:
    """Whether something is short at every height of the grid."""
    return bool(np.isin(np.round(looked.swept.travels, 6), np.round(short.low[:, 0], 6)).all())


def _region(looked: _Looked, limits: tuple[Array, Array], *, every_height: bool) -> Region:
    low, high = (end.tolist() for end in limits)
    moves = looked.beside is not None
    ends = (low[2] <= -1 + 1e-9, high[2] >= 1 - 1e-9) if moves else (True, True)
    return Region((low[0], high[0]), (low[1], high[1]) if moves else None, ends, every_height)
