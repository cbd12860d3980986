"""How close sections come to the keep-out at many offsets: the quick half of a screen.

With another offset rim and tire move along the spin axis. The keep-out's boundary is kept in blocks, these in cells,
and these in points: what could be closest is looked up roughly in the section's field, finer from level to level,
and only the points that are left are measured.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon, contains_xy

from fitment.clearance.section_distance import off_outline, signed_distance
from fitment.clearance.trace import Index
from fitment.frames import Array
from fitment.parts.obstacles import Part
from fitment.screening.distance_field import NODE, REACH, DistanceFields, Floats, Single
from fitment.screening.raster import cell_of, centre_of, shape, surrounded
from fitment.screening.swept_obstacle import SweptObstacle

BLOCKS = (4, 16)  # cells along the side of the groups in which points are kept, beside those of a cell
TILE = 2 * REACH  # [mm] of the offset
TILES = 1 << 20  # more of them than there can be, so that a section and a tile are one number
TURN = 2 / NODE  # [1/mm] by which the gradient turns on the way for what the distance is off by there
FACETS = 0.05  # by which it may turn besides, at a corner of the outline
AT_ONCE = 50_000  # blocks x tiles looked up in one go
FREE = np.inf
WAYS = 3  # columns of a place: travel and at most two shares, 0 where there are fewer
TURNS = 5  # in which the least that is looked up is measured, before all is that may be less
ROUNDING = 1e-9  # [mm]
MAYBE = 0.016  # [mm] a clearance looked up below that may be an overlap; chords are off by 0.015
Lines = tuple[Floats, Floats, Floats, Floats, Floats, Floats, Floats]


@dataclass(frozen=True)
class PointGroups:
    """The boundary in groups of what the next level holds.

    centre : (y', r) of each (m, 2); first : index of its first member (m + 1,); obstacle : of each (m,)
    size : [mm] from the centre to the farthest point it may hold (m,)
    most : the most that readings can move its points (m,) [mm]
    """

    centre: Array
    first: Index
    obstacle: Index
    size: Array
    most: Array

    @cached_property
    def single(self) -> tuple[Single, Single, Single, Single]:
        """y', r, size with some rounding, and most, in single precision (m,)."""
        y, r = self.centre.T
        columns = (y, r, self.size + 1e-3, self.most)
        return tuple(np.ascontiguousarray(column, dtype=np.float32) for column in columns)  # type: ignore[return-value]


@dataclass(frozen=True)
class Boundary:
    """The keep-out's boundary as one part of the wheel meets it.

    names : of all obstacles (o,)
    levels : from the largest blocks to cells and points; the points' members are themselves
    radius, allowance, against : of each obstacle (o,) [mm]; against: tolerance and what readings add to the radius
    moved : by which each reading moves the points (q, v, 2) [mm]
    at : travel and lock fractions of their poses (q, WAYS); family : of the poses (q,)
    alone : whether some obstacle meets this part of the wheel and not the other
    covered : raster cells within what each obstacle sweeps (o, ny, nr); met : indexes of the obstacles met
    """

    part: Part
    names: tuple[str, ...]
    met: tuple[int, ...]
    levels: tuple[PointGroups, ...]
    radius: Array
    allowance: Array
    against: Array
    moved: Array
    at: Array
    family: Index
    alone: bool
    covered: NDArray[np.bool_]

    @cached_property
    def moved_single(self) -> Single:
        """What readings move the points by, in single precision (q, v, 2)."""
        return self.moved.astype(np.float32)

    @property
    def points(self) -> PointGroups:
        """The finest level."""
        return self.levels[-1]

    @cached_property
    def radii(self) -> Array:
        """The radius of each point's obstacle (n,) [mm]."""
        return self.radius[self.points.obstacle]

    @cached_property
    def worst_off(self) -> Array:
        """What a worst case takes off the distance of each point, at most (n,) [mm]."""
        return self.radii + self.against[self.points.obstacle] + self.points.most


@dataclass(frozen=True)
class Closest:
    """What comes closest at n offsets.

    clearance, margin, worst_case : the smallest of each [mm] (n,), infinite where nothing is met
    worst_at_nearest : worst case at the point nearest to the largest section; `check` finds one between these two
    obstacle, allowance, family, wheel : of what limits, that is of an overlap the deepest, else the smallest margin:
        index, [mm], family of its pose, and whether it is the wheel that is met (n,)
    place : travel and lock fractions of its pose (n, WAYS)
    against, against_wheel : obstacle of the smallest worst case, and whether it is the wheel (n,)
    against_place, against_family : its pose (n, WAYS), (n,)
    """

    clearance: Array
    margin: Array
    worst_case: Array
    worst_at_nearest: Array
    obstacle: Index
    allowance: Array
    place: Array
    family: Index
    wheel: NDArray[np.bool_]
    against: Index
    against_wheel: NDArray[np.bool_]
    against_place: Array
    against_family: Index

    @property
    def gap(self) -> Array:
        """Clearance of what limits [mm] (n,)."""
        return np.where(self.clearance < MAYBE, self.clearance, self.margin + self.allowance)

    def at(self, chosen: Index) -> Closest:
        """Some of the offsets."""
        return Closest(*(getattr(self, field.name)[chosen] for field in fields(self)))


def nothing(count: int) -> Closest:
    """What a part finds that meets no obstacle."""
    free, none, no = np.full(count, FREE), np.full(count, -1), np.zeros(count, dtype=bool)
    nowhere = np.full((count, WAYS), FREE)
    return Closest(free, free, free, free, none, free, nowhere, none, no, none, no, nowhere, none)


def joined(parts: Sequence[Closest]) -> Closest:
    """Several answers one after another."""
    return Closest(*(np.concatenate([getattr(part, field.name) for part in parts]) for field in fields(Closest)))


def nearer(one: Closest, other: Closest) -> Closest:
    """The closest of two parts of a wheel at the same offsets."""
    less, tighter, worse = (getattr(other, name) < getattr(one, name) for name in ("clearance", "margin", "worst_case"))
    limits = np.where(np.minimum(one.clearance, other.clearance) < MAYBE, less, tighter)
    of = {"clearance": less, "margin": tighter}
    of |= {field.name: worse for field in fields(Closest) if field.name.startswith("against")} | {"worst_case": worse}
    of["worst_at_nearest"] = other.worst_at_nearest < one.worst_at_nearest
    return Closest(
        *(_where(of.get(e.name, limits), getattr(other, e.name), getattr(one, e.name)) for e in fields(Closest))
    )


def _where(chosen: NDArray[np.bool_], one: Array, other: Array) -> Any:
    """Of numbers or rows of numbers, (n,) or (n, k), those of one where it is chosen (n,), else those of the other."""
    return np.where(chosen[:, None] if one.ndim > 1 else chosen, one, other)


def boundary(swept: Sequence[SweptObstacle], part: Part) -> Boundary | None:
    """What the part meets, or None where that is nothing."""
    met = [(i, sweep) for i, sweep in enumerate(swept) if part in sweep.obstacle.meets and len(sweep.plane)]
    if not met:
        return None
    order = [np.lexsort((sweep.cells, *(_block_of(sweep.cells, side) for side in BLOCKS))) for _, sweep in met]
    obstacles = [sweep.obstacle for sweep in swept]

    def by_cell(values: Callable[[SweptObstacle], Any]) -> Any:
        return np.concatenate([values(sweep)[rank] for (_, sweep), rank in zip(met, order, strict=True)])

    obstacle = np.repeat([i for i, _ in met], [len(sweep.plane) for _, sweep in met])
    cell, plane, moved = by_cell(lambda e: e.cells), by_cell(lambda e: e.plane), by_cell(lambda e: e.moved)
    most = np.linalg.norm(moved, axis=2).sum(axis=1)
    levels = [PointGroups(plane, np.arange(len(plane) + 1), obstacle, np.zeros(len(plane)), most)]
    for side in (1, *BLOCKS):
        group = _block_of(cell, side)
        levels.append(_grouped(levels[-1], group))
        cell = cell[levels[-1].first[:-1]]
    return Boundary(
        part=part,
        names=tuple(o.name for o in obstacles),
        met=tuple(i for i, _ in met),
        levels=tuple(reversed(levels)),
        radius=np.array([o.radius for o in obstacles]),
        allowance=np.array([o.required_to(part) for o in obstacles]),
        against=np.array([sweep.obstacle.tolerance + sweep.thicker for sweep in swept]),
        moved=moved,
        at=by_cell(lambda e: np.pad(e.at, [(0, 0), (0, WAYS - e.at.shape[1])])),
        family=by_cell(lambda e: e.family),
        alone=any(len(sweep.obstacle.meets) == 1 for _, sweep in met),
        covered=np.stack([_well_within(sweep) for sweep in swept]),
    )


def _well_within(swept: SweptObstacle) -> NDArray[np.bool_]:
    """Raster cells (ny, nr) that an obstacle covers: of a filled ring by their centres, else with all round them."""
    outline = swept.obstacle.outline
    if swept.obstacle.shape != "ring" or len(outline) < 3:
        return surrounded(swept.swept)
    y, r = centre_of(np.arange(swept.swept.size)).T
    return np.asarray(contains_xy(Polygon(outline), y, r)).reshape(swept.swept.shape)


def _grouped(members: PointGroups, group: Index) -> PointGroups:
    """Neighbouring members of one group and one obstacle together; group : of each member."""
    first = np.flatnonzero(np.r_[True, (np.diff(group) != 0) | (np.diff(members.obstacle) != 0)])
    low = np.minimum.reduceat(members.centre - members.size[:, None], first)
    high = np.maximum.reduceat(members.centre + members.size[:, None], first)
    return PointGroups(
        (low + high) / 2,
        np.r_[first, len(group)],
        members.obstacle[first],
        np.linalg.norm(high - low, axis=1) / 2,
        np.maximum.reduceat(members.most, first),
    )


def _block_of(cells: Index, side: int) -> Index:
    """Index of the block of some cells on a side that holds each cell."""
    y, r = np.divmod(cells, shape()[1])
    return np.asarray((y // side) * shape()[1] + r // side)


@dataclass(frozen=True)
class Outlines:
    """Sections ready to be looked up, each about the place where its centre line or mounting face stands.

    sections : (k,); within : a place in the middle of each, (y', r) (k, 2)
    peaks : gives of one, by its index, (y', r) and depth of where it is deepest (q, 3)
    """

    sections: NDArray[np.object_]
    fields: DistanceFields
    within: Array
    peaks: Callable[[int], Array]

    @cached_property
    def rings(self) -> NDArray[np.object_]:
        """The outline of each section (k,)."""
        rings = shapely.get_exterior_ring(self.sections)
        shapely.prepare(rings)
        return np.asarray(rings)


class Nearby:
    """The points that could be nearest to a section, by tiles of the offset; found when a tile is first asked for.

    Two measures count, each for itself: A, the distance less what is required and what readings may take, and B.
    asked : of each obstacle, for A and for B (o,), (o,) [mm]
    moving : what the offset may be off by [mm], where readings may move the points for A; None where they stay
    """

    def __init__(
        self, bound: Boundary, outlines: Outlines, asked: tuple[Array, Array], moving: float | None = None
    ) -> None:
        self.bound, self.outlines = bound, outlines
        self._moving = moving
        self._less = tuple((bound.radius + required).astype(np.float32) for required in asked)
        self._tiles = self._first = self._count = np.empty(0, dtype=np.intp)  # of every tile found so far, by tile
        self._points = np.empty(0, dtype=np.intp)

    def pairs(self, which: Index, shifts: Array) -> tuple[Index, Index]:
        """Row and point (q,) of all that could be least for some section at a shift (n,)."""
        tiles = which * TILES + np.rint(shifts / TILE).astype(np.intp) + TILES // 2
        new = np.setdiff1d(tiles, self._tiles)
        step = max(AT_ONCE // len(self.bound.levels[0].centre), 1)
        for i in range(0, len(new), step):
            self._find(new[i : i + step])
        mine = np.searchsorted(self._tiles, tiles)
        row, point = _spread(self._first[mine], self._count[mine])
        point = self._points[point]
        return self._could_be_nearest(which, row, point, shifts)

    @property
    def readings(self) -> bool:
        """Whether readings may move the points."""
        return self._moving is not None

    def taken(self, point: Index) -> Array:
        """What readings and the offset may take of the distance of points (q,) for A at most [mm]."""
        return np.zeros(len(point)) if self._moving is None else self.bound.points.most[point] + self._moving

    def _could_be_nearest(self, which: Index, row: Index, point: Index, shifts: Array) -> tuple[Index, Index]:
        """Those of rows and points (q,) that could be least in A or in B at their row's shift.

        What looks least in each row is measured, and no other may be more.
        """
        a, a_less, a_more, b, b_less, b_more, _ = self.lines(self.bound.points, which, row, point, shifts, 0.0)
        starts = np.searchsorted(row, np.arange(len(shifts)))
        kept = np.zeros(len(row), dtype=bool)
        best = [_lowest(row, value, starts) for value in (a, b)]
        exact = self._exact(np.tile(which, 2), np.tile(shifts, 2), point[np.concatenate(best)])
        measures = ((a, a_less, a_more, exact[0][: len(which)]), (b, b_less, b_more, exact[1][len(which) :]))
        for value, less, more, measured in measures:
            kept |= value - less <= np.minimum(measured, np.minimum.reduceat(value + more, starts))[row]
        kept[np.concatenate(best)] = True
        return row[kept], point[kept]

    def _exact(self, which: Index, shifts: Array, point: Index) -> tuple[Array, Array]:
        """A and B of a point at each shift (n,), infinite where another side of the section may be nearer."""
        y, r = self.bound.points.centre[point].T
        y = y - shifts
        distance, off = self.outlines.fields.signed(which, y, r)
        distance = np.where(self.outlines.fields.unsure(which, y, r), np.inf, distance)
        a, b = (distance - less[self.bound.points.obstacle[point]] for less in self._less)
        return a if self._moving is None else a - _loss(self.bound, point, off, self._moving), b

    def _find(self, tiles: Index) -> None:
        """Find what could be least somewhere within the tiles."""
        which, centres = tiles // TILES, TILE * (tiles % TILES - TILES // 2).astype(np.float64)
        levels = self.bound.levels
        row, member = _spread(np.zeros_like(tiles), np.full_like(tiles, len(levels[0].centre)))
        for above, level in zip((None, *levels), levels, strict=False):
            if above is not None:
                row, member = _members(above, row, member)
            lines = self.lines(level, which, row, member, centres, TILE / 2)
            kept = _could_be_least(lines, row, np.searchsorted(row, np.arange(len(tiles))))
            row, member = row[kept], member[kept]
        first = np.searchsorted(row, np.arange(len(tiles) + 1))
        at = np.searchsorted(self._tiles, tiles)
        self._tiles = np.insert(self._tiles, at, tiles)
        self._first = np.insert(self._first, at, first[:-1] + len(self._points))
        self._count = np.insert(self._count, at, np.diff(first))
        self._points = np.concatenate([self._points, member])

    def lines(self, level: PointGroups, which: Index, row: Index, member: Index, centres: Array, way: float) -> Lines:
        """Of members (q,) of a level the measures at their row's offset (7, q) [mm], straight across a tile.

        which, centres : of every row its section and its offset (n,)
        A, what it may be less and more by, B and the same for it, and how both change to the tile's end.
        """
        y, r, size, most = level.single
        own, place = which[row], (y[member] - centres.astype(np.float32)[row], r[member])
        value, by_y, by_r, less, more = self.outlines.fields.lines(own, *place, way)
        asked, plain = (limit[level.obstacle[member]] for limit in self._less)
        turned = np.float32(TURN) * np.maximum(less, more) + np.float32(FACETS)
        less, more = less + size[member], more + size[member]
        a, a_less, a_more = value - asked, less, more
        if self._moving is not None and level is not self.bound.points:
            a_less = less + (most[member] + np.float32(self._moving))
        elif self._moving is not None:
            loss, across = self._loss(member, by_y, by_r)
            turned[self.outlines.fields.forks(own, *place)] = 1.0  # another side may be nearer, wherever it looks
            unsure = across * turned + (most[member] + np.float32(self._moving)) * turned * turned
            a, a_less, a_more = a - loss, less + unsure, more + unsure
        return a, a_less, a_more, value - plain, less, more, by_y * np.float32(-TILE / 2)

    def _loss(self, point: Index, by_y: Floats, by_r: Floats) -> tuple[Floats, Floats]:
        """What readings and the offset may take of the distance of points (q,) whose gradient is given [mm].

        The second is what they move the points by across that.
        """
        moved, moving = self.bound.moved_single[point], np.float32(self._moving or 0.0)
        ones = np.ones(moved.shape[1], dtype=np.float32)
        along = np.abs(moved[..., 0] * by_y[:, None] + moved[..., 1] * by_r[:, None]) @ ones
        across = np.abs(moved[..., 0] * by_r[:, None] - moved[..., 1] * by_y[:, None]) @ ones
        return np.asarray(along + moving * np.abs(by_y)), np.asarray(across + moving * np.abs(by_r))


def _could_be_least(lines: Lines, row: Index, starts: Index) -> NDArray[np.bool_]:
    """Which members (q,) could be least in A or B somewhere on the way across their tile.

    lines : see `Nearby`; row, starts : of each member, and the first member of each row
    """
    a, a_less, a_more, b, b_less, b_more, rise = lines
    return _least_somewhere(a - a_less, a + a_more, rise, row, starts) | _least_somewhere(
        b - b_less, b + b_more, rise, row, starts
    )


def _least_somewhere(low: Floats, high: Floats, rise: Floats, row: Index, starts: Index) -> NDArray[np.bool_]:
    """Which members could be least: between low and high in the middle of a tile, and -rise, +rise at its ends.

    What is least at one end and what is at the other bound what the least one can be; both are straight lines.
    """
    kept, steep = np.zeros(len(row), dtype=bool), np.abs(rise)
    near = np.flatnonzero(low - steep <= np.minimum.reduceat(high + steep, starts)[row])
    first, last = high - rise, high + rise
    ends = [end[row[near]] for end in (_lowest(row, first, starts), _lowest(row, last, starts))]
    here, there = ((low[near] - rise[near] - first[end], low[near] + rise[near] - last[end]) for end in ends)
    kept[near[_both_negative(*here, *there)]] = True
    return kept


def _both_negative(a0: Floats, a1: Floats, b0: Floats, b1: Floats) -> NDArray[np.bool_]:
    """Whether two straight lines, given at both ends, are somewhere both negative or zero."""
    gap, change = a0 - b0, (a0 - b0) - (a1 - b1)
    fraction = np.clip(gap / np.where(change == 0, 1, change), 0, 1)
    crossing = np.maximum(a0 + fraction * (a1 - a0), b0 + fraction * (b1 - b0))
    return np.asarray(np.minimum(np.minimum(np.maximum(a0, b0), np.maximum(a1, b1)), crossing) <= 0)


def closest_in_worst_case(
    nominal: Nearby, largest: Outlines, which: Index, shifts: Array, offset_tolerance: float = 0.0
) -> Closest:
    """Sections at y' = shifts (n,) [mm] against the keep-out: nominal, and the largest in the worst case.

    nominal : from `nearby`; which : index of the section that is meant at each shift (n,)
    Beyond the band of the fields a distance may come out too large, never below the band.
    """
    return _with_worst(nominal, largest, which, shifts, offset_tolerance, closest_nominal(nominal, which, shifts))


def nearby(bound: Boundary, outlines: Outlines) -> Nearby:
    """What could come closest to sections, for their clearances and margins."""
    return Nearby(bound, outlines, (bound.allowance, np.zeros_like(bound.allowance)))


def largest_nearby(bound: Boundary, outlines: Outlines, offset_tolerance: float) -> Nearby:
    """What could leave the largest sections with least, for their worst cases."""
    return Nearby(bound, outlines, (bound.against, bound.against), offset_tolerance)


def closest_nominal(near: Nearby, which: Index, shifts: Array) -> Closest:
    """The same without the worst case, which is left infinite."""
    n, bound = len(shifts), near.bound
    row, point = near.pairs(which, shifts)
    obstacle = bound.points.obstacle[point]
    less = np.stack([bound.radius[obstacle], bound.radius[obstacle] + bound.allowance[obstacle]])
    (free, left), _, starts = _measured(near, which, shifts, row, point, less)
    best, tightest = (_lowest(row, values, starts) for values in (free, left))
    limits = np.where(free[best] < MAYBE, best, tightest)
    at, is_wheel = point[limits], np.full(n, bound.part == "wheel")
    closest = Closest(
        clearance=free[best], margin=left[tightest],
        worst_case=np.full(n, FREE), worst_at_nearest=np.full(n, FREE),
        obstacle=obstacle[limits], allowance=bound.allowance[obstacle[limits]],
        place=bound.at[at], family=bound.family[at], wheel=is_wheel,
        against=np.full(n, -1), against_wheel=is_wheel, against_place=np.full((n, WAYS), FREE),
        against_family=np.full(n, -1),
    )  # fmt: skip
    for i, depth in _covered(bound, near.outlines, which, shifts):
        deep = -depth - bound.radius[i]
        deeper = deep < closest.clearance
        closest = replace(
            closest,
            clearance=np.minimum(closest.clearance, deep),
            margin=np.minimum(closest.margin, deep - bound.allowance[i]),
            obstacle=np.where(deeper, i, closest.obstacle),
            allowance=np.where(deeper, bound.allowance[i], closest.allowance),
        )
    return closest


def _with_worst(
    nominal: Nearby, largest: Outlines, which: Index, shifts: Array, offset_tolerance: float, found: Closest
) -> Closest:
    """The same with the worst case; where the largest section is deepest it is hardly deeper than the nominal."""
    bound = nominal.bound
    near = largest_nearby(bound, largest, offset_tolerance)
    row, point = near.pairs(which, shifts)
    obstacle = bound.points.obstacle[point]
    plain = bound.radius[obstacle] + bound.against[obstacle]
    (values, without), off, starts = _measured(near, which, shifts, row, point, np.stack([plain, plain]))
    values = values - _loss(bound, point, off, offset_tolerance)
    lowest = _lowest(row, values, starts)
    against, worst, at_nearest = obstacle[lowest], values[lowest], values[_lowest(row, without, starts)]
    where = point[lowest]
    for i, depth in _covered(bound, nominal.outlines, which, shifts):
        deep = -depth - bound.radius[i] - bound.against[i]
        against, worst = np.where(deep < worst, i, against), np.minimum(worst, deep)
        at_nearest = np.minimum(at_nearest, deep)
    return replace(
        found, worst_case=worst, worst_at_nearest=at_nearest, against=against, against_place=bound.at[where],
        against_family=bound.family[where],
    )  # fmt: skip


def near_limits(near: Nearby, which: Index, shifts: Array, within: float) -> list[set[str]]:
    """Of every shift (n,) the names of the obstacles whose A or B may be less than `within` [mm]."""
    bound = near.bound
    count = len(bound.levels[0].centre)
    row, member = _spread(np.zeros_like(which), np.full_like(which, count))
    for above, level in zip((None, *bound.levels), bound.levels, strict=False):
        if above is not None:
            row, member = _members(above, row, member)
        a, a_less, _, b, b_less, *_ = near.lines(level, which, row, member, shifts, 0.0)
        kept = (a - a_less < within) | (b - b_less < within)
        row, member = row[kept], member[kept]
    names: list[set[str]] = [set() for _ in which]
    pairs = np.unique(np.column_stack([row, bound.points.obstacle[member]]), axis=0)
    for k, obstacle in pairs.tolist():
        names[k].add(bound.names[obstacle])
    return names


def _spread(first: Index, count: Index) -> tuple[Index, Index]:
    """Row and index of every member of rows (n,) of which the first and how many there are is known."""
    row = np.repeat(np.arange(len(count)), count)
    return row, np.arange(len(row)) + np.repeat(first - np.cumsum(count) + count, count)


def _members(level: PointGroups, row: Index, group: Index) -> tuple[Index, Index]:
    """Row and index of everything in the groups (q,)."""
    first = level.first[group]
    owner, member = _spread(first, level.first[group + 1] - first)
    return row[owner], member


def _lowest(row: Index, values: Floats, starts: Index) -> Index:
    """Index of the lowest value of each row; rows rise and none is missing; starts : of each row."""
    low = np.minimum.reduceat(values, starts)
    hits = np.flatnonzero(values == low[row])
    return hits[np.searchsorted(row[hits], np.arange(len(starts)))]


def _measured(
    near: Nearby, which: Index, shifts: Array, row: Index, point: Index, less: Array
) -> tuple[Array, Array, Index]:
    """Distance of points (q,) less something (k, q), the way from the outline (q, 2), and where each row starts.

    That way is only sure where readings make it count.
    Where another side of the section may be nearer a looked-up distance inside is too deep. What could then be the
    least of its row is measured exactly; of that what is found not to be by less is given as infinite.
    """
    own, distance_fields = which[row], near.outlines.fields
    y, r = near.bound.points.centre[point].T
    y = y - shifts[row]
    starts = np.searchsorted(row, np.arange(len(shifts)))
    distance, off = distance_fields.signed(own, y, r)
    open_: NDArray[np.bool_] = distance_fields.unsure(own, y, r)

    def measure(some: Index) -> None:
        which, places = own[some], np.column_stack([y[some], r[some]])
        sections, rings = near.outlines.sections[which], near.outlines.rings[which]
        distance[some] = signed_distance(sections, places, rings)
        if near.readings:
            off[some] = off_outline(sections, places, rings)
        open_[some] = False

    for turn in range(2 if near.readings else TURNS, 0, -1):
        values = distance - less
        if turn > 1:
            chosen = np.zeros(len(row), dtype=bool)
            chosen[np.concatenate([_lowest(row, value, starts) for value in values])] = True
        else:
            limits = np.minimum.reduceat(np.where(open_, np.inf, values), starts, axis=1)[:, row]
            chosen = np.any(values < limits, axis=0)
        anew = np.flatnonzero(open_ & chosen)
        if not len(anew):
            break  # what is least is sure
        if turn == 1:  # what is deep in a section is often unsure, and there is much of it
            deep = anew[distance[anew] < 0]
            least = -distance_fields.at_most(own[deep], y[deep], r[deep])
            first = np.concatenate([_lowest_each(row[deep], least - value) for value in less[:, deep]])
            measure(np.union1d(anew[distance[anew] >= 0], deep[first]))
            limits = np.minimum.reduceat(np.where(open_, np.inf, distance - less), starts, axis=1)[:, row[deep]]
            taken = near.taken(point[deep])
            could = np.any(least - less[:, deep] - taken <= limits + ROUNDING, axis=0) & open_[deep]
            distance[deep[~could & open_[deep]]] = np.inf
            anew = deep[could]
        measure(anew)
    return distance - less, off, starts


def _lowest_each(row: Index, values: Array) -> Index:
    """Indexes of the lowest values of every row that there is; rows rise."""
    if not len(row):
        return np.empty(0, dtype=np.intp)
    new = np.r_[True, row[1:] != row[:-1]]
    return np.flatnonzero(values == np.minimum.reduceat(values, np.flatnonzero(new))[np.cumsum(new) - 1])


def _loss(bound: Boundary, point: Index, off: Array, offset_tolerance: float) -> Array:
    """What the distance of points (q,) loses with every reading moved against us by its tolerance, to first order.

    off : way from the outline to each point (q, 2)
    """
    size = np.hypot(off[:, 0], off[:, 1])
    known = size > 1e-9
    away = off / np.where(known, size, 1.0)[:, None]
    move = bound.moved[point]
    along = np.abs(move[..., 0] * away[:, :1] + move[..., 1] * away[:, 1:])
    losses = along if known.all() else np.where(known[:, None], along, np.hypot(move[..., 0], move[..., 1]))
    return np.asarray(losses @ np.ones(losses.shape[1]) + offset_tolerance * np.abs(away[:, 0]))


def _covered(bound: Boundary, outlines: Outlines, which: Index, shifts: Array) -> Iterator[tuple[int, Array]]:
    """Index and depth (n,) of every obstacle that covers places where a section is deepest; elsewhere -infinity."""
    along = np.stack([shifts, np.zeros(len(shifts))], -1)
    middle = cell_of(outlines.within[which] + along)
    for i in bound.met:
        covered = bound.covered[i].ravel()
        sections = np.unique(which[covered[middle]])
        if len(sections):
            rows = np.flatnonzero(np.isin(which, sections))
            peaks = _stacked([outlines.peaks(k) for k in sections.tolist()])[np.searchsorted(sections, which[rows])]
            here = covered[cell_of((peaks[..., :2] + along[rows, None]).reshape(-1, 2))].reshape(peaks.shape[:2])
            depth = np.full(len(shifts), -np.inf)
            depth[rows] = np.where(here, peaks[..., 2], -np.inf).max(axis=1)
            yield i, depth


def _stacked(several: Sequence[Array]) -> Array:
    """Arrays (q, 3) of different lengths as one (k, q, 3); shorter ones repeat their last row."""
    rows = np.arange(max(map(len, several)))
    return np.stack([each[np.minimum(rows, len(each) - 1)] for each in several])
