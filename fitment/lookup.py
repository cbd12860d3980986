"""How close one section comes to the keep-out at many offsets: the quick half of a screen.

With another offset rim and tire move along the spin axis. The keep-out's boundary is kept in blocks, these in cells,
and these in points: what could be closest is looked up roughly in the section's field, finer from level to level,
and only the points that are left are measured.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields, replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from fitment.clearance import signed_distance
from fitment.field import NEARLY, NODE, Field
from fitment.frames import Array
from fitment.keepout import CELL, KeepOut, KeptOut, cell_of, centre_of, shape, surrounded
from fitment.obstacles import Part
from fitment.trace import Index

BLOCK = 4  # cells along the side of a block
ROUGH = float(np.hypot(NODE, NODE)) / 2  # [mm] error of a looked-up distance
AT_ONCE = 2_000_000  # blocks x offsets looked up in one go
FREE = np.inf


@dataclass(frozen=True)
class Level:
    """The boundary in groups of what the next level holds.

    centre : (y', r) of each (m, 2); first : index of its first member (m + 1,); obstacle : of each (m,)
    size : [mm] from the centre to the farthest point it may hold
    most : the most that readings can move its points (m,) [mm]
    """

    centre: Array
    first: Index
    obstacle: Index
    size: float
    most: Array


@dataclass(frozen=True)
class Boundary:
    """The keep-out's boundary as one part of the wheel meets it.

    levels : blocks, cells, points; the points' members are themselves
    radius, allowance, against : of each obstacle (o,) [mm]; against: tolerance and what readings add to the radius
    moved : by which each reading moves the points (q, v, 2) [mm]; travel, share, family : their poses (q,)
    covered : raster cells well within what each obstacle sweeps (o, ny, nr); met : indexes of the obstacles met
    """

    part: Part
    met: tuple[int, ...]
    levels: tuple[Level, ...]
    radius: Array
    allowance: Array
    against: Array
    moved: Array
    travel: Array
    share: Array
    family: Index
    covered: NDArray[np.bool_]

    @property
    def points(self) -> Level:
        """The finest level."""
        return self.levels[-1]


@dataclass(frozen=True)
class Closest:
    """What comes closest at n offsets.

    clearance, margin, worst_case : the smallest of each [mm] (n,), infinite where nothing is met
    worst_at_nearest : worst case at the point nearest to the largest section; `check` finds one between these two
    obstacle, allowance, travel, share, family, wheel : of the smallest margin: index, [mm], pose, and whether it is
        the wheel that is met (n,)
    against, against_wheel : obstacle of the smallest worst case, and whether it is the wheel (n,)
    """

    clearance: Array
    margin: Array
    worst_case: Array
    worst_at_nearest: Array
    obstacle: Index
    allowance: Array
    travel: Array
    share: Array
    family: Index
    wheel: NDArray[np.bool_]
    against: Index
    against_wheel: NDArray[np.bool_]

    def at(self, chosen: Index) -> Closest:
        """Some of the offsets."""
        return Closest(*(getattr(self, each.name)[chosen] for each in fields(self)))


def nothing(count: int) -> Closest:
    """What a part finds that meets no obstacle."""
    free, none, no = np.full(count, FREE), np.full(count, -1), np.zeros(count, dtype=bool)
    return Closest(free, free, free, free, none, free, free, free, none, no, none, no)


def joined(parts: Sequence[Closest]) -> Closest:
    """Several answers one after another."""
    return Closest(*(np.concatenate([getattr(part, each.name) for part in parts]) for each in fields(Closest)))


def nearer(one: Closest, other: Closest) -> Closest:
    """The closest of two parts of a wheel at the same offsets."""
    tighter, worse = other.margin < one.margin, other.worst_case < one.worst_case
    of = {"clearance": other.clearance < one.clearance}
    of |= dict.fromkeys(("worst_case", "against", "against_wheel"), worse)
    of["worst_at_nearest"] = other.worst_at_nearest < one.worst_at_nearest
    return Closest(
        *(np.where(of.get(e.name, tighter), getattr(other, e.name), getattr(one, e.name)) for e in fields(Closest))
    )


def boundary(kept: KeepOut, part: Part) -> Boundary | None:
    """What the part meets, or None where that is nothing."""
    met = [(i, each) for i, each in enumerate(kept.parts) if part in each.obstacle.meets and len(each.points)]
    if not met:
        return None
    order = [np.lexsort((each.cells, _block_of(each.cells))) for _, each in met]
    every = [each.obstacle for each in kept.parts]

    def by_cell(values: Callable[[KeptOut], Any]) -> Any:
        return np.concatenate([values(each)[rank] for (_, each), rank in zip(met, order, strict=True)])

    obstacle = np.repeat([i for i, _ in met], [len(each.points) for _, each in met])
    cell, plane, moved = by_cell(lambda e: e.cells), by_cell(lambda e: e.points.plane), by_cell(lambda e: e.moved)
    most = np.linalg.norm(moved, axis=2).sum(axis=1)
    points = Level(plane, np.arange(len(plane) + 1), obstacle, 0.0, most)
    cells = _grouped(points, cell, centre_of(cell), CELL)
    block = _block_of(cell[cells.first[:-1]])
    blocks = _grouped(cells, block, _block_centre(block), CELL * BLOCK)
    return Boundary(
        part=part,
        met=tuple(i for i, _ in met),
        levels=(blocks, cells, points),
        radius=np.array([each.radius for each in every]),
        allowance=np.array([each.allowance_to(part) for each in every]),
        against=np.array([each.obstacle.tolerance + each.thicker for each in kept.parts]),
        moved=moved,
        travel=by_cell(lambda e: e.points.travel),
        share=by_cell(lambda e: e.points.share),
        family=by_cell(lambda e: e.points.family),
        covered=np.stack([surrounded(each.swept) for each in kept.parts]),
    )


def _grouped(members: Level, group: Index, centre: Array, side: float) -> Level:
    """Neighbouring members of one group and one obstacle together; group, centre : of each member."""
    new = np.r_[True, (np.diff(group) != 0) | (np.diff(members.obstacle) != 0)]
    first = np.flatnonzero(new)
    return Level(
        centre[first],
        np.r_[first, len(group)],
        members.obstacle[first],
        side / np.sqrt(2),
        np.maximum.reduceat(members.most, first),
    )


def _block_of(cells: Index) -> Index:
    """Index of the block that holds each cell."""
    y, r = np.divmod(cells, shape()[1])
    return np.asarray((y // BLOCK) * shape()[1] + r // BLOCK)


def _block_centre(block: Index) -> Array:
    y, r = np.divmod(block, shape()[1])
    corner = centre_of(y * BLOCK * shape()[1] + r * BLOCK)
    return np.asarray(corner + CELL * (BLOCK - 1) / 2)


@dataclass(frozen=True)
class Outline:
    """A section ready to be looked up, about the place where its centre line or mounting face stands.

    within : a place in its middle (y', r); peaks : gives (y', r) and depth of where it is deepest (k, 3)
    """

    section: Polygon
    field: Field
    within: tuple[float, float]
    peaks: Callable[[], Array]


def closest(
    bound: Boundary, nominal: Outline, largest: Outline, shifts: Array, offset_tolerance: float = 0.0
) -> Closest:
    """The section at y' = shifts (n,) [mm] against the keep-out: nominal, and the largest in the worst case.

    Beyond the band of the fields a distance may come out too large, never below the band.
    """
    step = max(AT_ONCE // len(bound.levels[0].centre), 1)
    found = []
    for i in range(0, len(shifts), step):
        some = shifts[i : i + step]
        found.append(_with_worst(bound, largest, some, offset_tolerance, nearest(bound, nominal, some)))
    return joined(found)


def nearest(bound: Boundary, outline: Outline, shifts: Array) -> Closest:
    """The same without the worst case, which is left infinite."""
    n = len(shifts)
    row, point = _could_be_least(bound, outline.field, shifts, bound.allowance, None)
    obstacle = bound.points.obstacle[point]
    y, r = bound.points.centre[point].T
    free = outline.field.signed(y - shifts[row], r)[0] - bound.radius[obstacle]
    left = free - bound.allowance[obstacle]
    best, tightest = (_lowest(row, values, n) for values in (free, left))
    at, is_wheel = point[tightest], np.full(n, bound.part == "wheel")
    clearance, margin = (_exactly(bound, outline, shifts, point[chosen]) for chosen in (best, tightest))
    found = Closest(
        clearance=clearance, margin=margin - bound.allowance[obstacle[tightest]],
        worst_case=np.full(n, FREE), worst_at_nearest=np.full(n, FREE),
        obstacle=obstacle[tightest], allowance=bound.allowance[obstacle[tightest]],
        travel=bound.travel[at], share=bound.share[at], family=bound.family[at], wheel=is_wheel,
        against=np.full(n, -1), against_wheel=is_wheel,
    )  # fmt: skip
    for i, depth in _covered(bound, outline, shifts):
        deep = -depth - bound.radius[i]
        tighter = deep - bound.allowance[i] < found.margin
        found = replace(
            found,
            clearance=np.minimum(found.clearance, deep),
            margin=np.minimum(found.margin, deep - bound.allowance[i]),
            obstacle=np.where(tighter, i, found.obstacle),
            allowance=np.where(tighter, bound.allowance[i], found.allowance),
        )
    return found


def _with_worst(bound: Boundary, largest: Outline, shifts: Array, offset_tolerance: float, found: Closest) -> Closest:
    row, point = _could_be_least(bound, largest.field, shifts, bound.against, offset_tolerance)
    values, without = _against(bound, largest.field, shifts[row], point, offset_tolerance)
    lowest, plain = _lowest(row, values, len(shifts)), _lowest(row, without, len(shifts))
    against = bound.points.obstacle[point[lowest]]
    worst, at_nearest = (
        values[at] - without[at] + _exactly(bound, largest, shifts, point[at])
        - bound.against[bound.points.obstacle[point[at]]]
        for at in (lowest, plain)
    )  # fmt: skip
    for i, depth in _covered(bound, largest, shifts):
        deep = -depth - bound.radius[i] - bound.against[i]
        against, worst = np.where(deep < worst, i, against), np.minimum(worst, deep)
        at_nearest = np.minimum(at_nearest, deep)
    return replace(found, worst_case=worst, worst_at_nearest=at_nearest, against=against)


def _could_be_least(
    bound: Boundary, field: Field, shifts: Array, asked: Array, moving: float | None
) -> tuple[Index, Index]:
    """Row and point (q,) of all that could have the least distance, or the least one less what is asked for.

    asked : of each obstacle (o,) [mm]
    moving : what the offset may be off by [mm], where readings may move the points; None where they stay
    """
    row, member = _blocks(bound, field, shifts, asked, moving)
    for above, level in pairwise(bound.levels):
        row, member = _members(above, row, member)
        y, r = level.centre[member].T
        obstacle = level.obstacle[member]
        rough = field.roughly(y - shifts[row], r) - bound.radius[obstacle]
        less = rough - asked[obstacle]
        starts, slack = np.searchsorted(row, np.arange(len(shifts))), 2 * (ROUGH + level.size)
        limit = np.minimum.reduceat(less, starts)[row] + slack
        if moving is None:
            kept = (less <= limit) | (rough <= np.minimum.reduceat(rough, starts)[row] + slack)
        else:
            kept = less - level.most[member] - moving <= limit
        row, member = row[kept], member[kept]
    return _nearly_least(bound, field, shifts, asked, moving, row, member)


def _nearly_least(
    bound: Boundary, field: Field, shifts: Array, asked: Array, moving: float | None, row: Index, point: Index
) -> tuple[Index, Index]:
    """Of these points those that could still be the least, by a measure off by less than NEARLY."""
    y, r = bound.points.centre[point].T
    obstacle = bound.points.obstacle[point]
    value = field.nearly(y - shifts[row], r) - bound.radius[obstacle]
    less, starts = value - asked[obstacle], np.searchsorted(row, np.arange(len(shifts)))
    limit = np.minimum.reduceat(less, starts)[row] + NEARLY
    if moving is None:
        kept = (less <= limit) | (value <= np.minimum.reduceat(value, starts)[row] + NEARLY)
    else:
        kept = less - bound.points.most[point] - moving <= limit
    return row[kept], point[kept]


def _blocks(bound: Boundary, field: Field, shifts: Array, asked: Array, moving: float | None) -> tuple[Index, Index]:
    """The same for the blocks: all of them for every shift, in single precision."""
    top, single = bound.levels[0], np.float32
    y, r = top.centre.T.astype(single)
    rough = field.roughly(y - shifts.astype(single)[:, None], r)
    rough -= bound.radius[top.obstacle].astype(single)
    less = rough - asked[top.obstacle].astype(single)
    slack = single(2 * (ROUGH + top.size) + 1e-3)
    limit = less.min(axis=1, keepdims=True) + slack
    if moving is None:
        kept = (less <= limit) | (rough <= rough.min(axis=1, keepdims=True) + slack)
    else:
        kept = less <= limit + (top.most + moving).astype(single)
    return np.divmod(np.flatnonzero(kept), len(top.centre))


def _members(level: Level, row: Index, group: Index) -> tuple[Index, Index]:
    """Row and index of everything in the groups (q,)."""
    count = level.first[group + 1] - level.first[group]
    owner = np.repeat(np.arange(len(group)), count)
    member = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count) + level.first[group][owner]
    return row[owner], member


def _lowest(row: Index, values: Array, rows: int) -> Index:
    """Index (rows,) of the lowest value of each row; rows rise and none is missing."""
    starts = np.searchsorted(row, np.arange(rows))
    low = np.minimum.reduceat(values, starts)
    hits = np.flatnonzero(values == low[row])
    return hits[np.searchsorted(row[hits], np.arange(rows))]


def _exactly(bound: Boundary, outline: Outline, shifts: Array, point: Index) -> Array:
    """Clearance of one point to the section at each shift (n,)."""
    plane = bound.points.centre[point] - np.stack([shifts, np.zeros_like(shifts)], -1)
    return np.asarray(signed_distance(outline.section, plane) - bound.radius[bound.points.obstacle[point]])


def _against(
    bound: Boundary, field: Field, shifts: Array, point: Index, offset_tolerance: float
) -> tuple[Array, Array]:
    """Worst case at points (q,), every reading moved against us by its tolerance, to first order; and without those."""
    y, r = bound.points.centre[point].T
    distance, off = field.signed(y - shifts, r)
    size = np.hypot(off[:, 0], off[:, 1])
    known = size > 1e-9
    away = off / np.where(known, size, 1.0)[:, None]
    loss = offset_tolerance * np.abs(away[:, 0])
    for reading in range(bound.moved.shape[1]):
        move = bound.moved[point, reading]
        along = np.abs(move[:, 0] * away[:, 0] + move[:, 1] * away[:, 1])
        loss += np.where(known, along, np.hypot(move[:, 0], move[:, 1]))
    obstacle = bound.points.obstacle[point]
    without = distance - bound.radius[obstacle] - bound.against[obstacle]
    return without - loss, without


def _covered(bound: Boundary, outline: Outline, shifts: Array) -> Iterator[tuple[int, Array]]:
    """Index and depth (n,) of every obstacle that covers places where the section is deepest."""
    middle = cell_of(np.stack([shifts + outline.within[0], np.full(len(shifts), outline.within[1])], -1))
    for i in bound.met:
        if bound.covered[i].ravel()[middle].any():
            yield i, _depth_covered(bound.covered[i], outline.peaks(), shifts)


def _depth_covered(covered: NDArray[np.bool_], peaks: Array, shifts: Array) -> Array:
    """Depth (n,) of the deepest place of the section that the part covers, minus infinity where there is none."""
    depth = np.full(len(shifts), -np.inf)
    for y, r, deep in peaks:
        here = covered.ravel()[cell_of(np.stack([y + shifts, np.full(len(shifts), r)], -1))]
        depth = np.where(here, np.maximum(depth, deep), depth)
    return depth
