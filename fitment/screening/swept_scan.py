"""What a scan sweeps, first roughly: places on its triangles are followed from pose to pose, a few lines only later.

Every corner is a place, a side has some between where it is longer than SPACING, a wide triangle some within. Seen from
the hub a triangle lies nearer to the axis than its corners do by no more than its radius squared over twice their
distance: with places ACROSS apart a quarter of a millimetre where any wheel begins, less than what is kept. Then the
lines of the triangles at the places that are kept are looked at (`lines_beside`), folds among them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fitment.clearance.trace import CarriedCorners, Index, Mesh
from fitment.frames import Array
from fitment.screening.boundary_points import outer_points
from fitment.screening.raster import (
    CELL,
    FARTHEST,
    Floats,
    Mask,
    cell_number,
    cell_of,
    grown,
    mark_between,
    shape,
    within,
)

SPACING = 4.0  # [mm] of places along a side, and of points along a line
ACROSS = 8.0  # [mm] of places within a triangle
BESIDE = 2  # cells from what is not swept within which places are kept
FARTHER = 24  # cells up to which it is known how far the next one is that is not swept
FOLLOWED_AT_ONCE = 200_000  # places in poses
THINNED_AT = 400_000  # places in poses that are kept at most before those are left out that are not outermost
GROWN = 1.002  # times as many cells that are swept, from which it is looked up anew which are within
OFTEN = 8  # pieces after which it is looked up in any case
FIRST = (0.5, 1.0)  # slack and width [mm] of what is kept
AROUND = 2.5 * SPACING  # [mm] round a place, within which lines are looked at
CORNER, SIDE, FACE = range(3)
Region = Callable[[Mask], Mask]


class ScanPlaces(NamedTuple):
    """Places on a scan.

    kind : CORNER, SIDE or FACE that each lies on (q,); number : of that corner, line or triangle (q,)
    corners, weights : where on the scan's corners (q, 3), (q, 3) [-]
    """

    kind: NDArray[np.int8]
    number: Index
    corners: Index
    weights: Array

    def some(self, chosen: Index) -> ScanPlaces:
        return ScanPlaces(self.kind[chosen], self.number[chosen], self.corners[chosen], self.weights[chosen])


def scan_places(mesh: Mesh, corners: Array) -> ScanPlaces:
    """Places all over a scan, in no order. corners : (v, 3) [mm]"""
    used = np.unique(mesh.triangles)
    found = [(CORNER, used, np.repeat(used[:, None], 3, axis=1), np.tile([1.0, 0.0, 0.0], (len(used), 1)))]
    sides = np.flatnonzero(~mesh.folds)
    ends = mesh.lines[sides]
    parts = _parts(np.linalg.norm(corners[ends[:, 1]] - corners[ends[:, 0]], axis=1), SPACING)
    for k in range(1, int(parts.max(initial=1))):
        own = np.flatnonzero(parts > k)
        share = k / parts[own]
        found.append((SIDE, sides[own], ends[own], np.stack([1 - share, share, np.zeros_like(share)], -1)))
    a, b, c = (corners[mesh.triangles[:, k]] for k in range(3))
    longest = np.sqrt(np.max([((u - v) ** 2).sum(axis=1) for u, v in ((a, b), (b, c), (c, a))], axis=0))
    parts = _parts(longest, ACROSS)
    for n in np.unique(parts[parts > 2]).tolist():
        own = np.flatnonzero(parts == n)
        inner = np.array([(i, j, n - i - j) for i in range(1, n) for j in range(1, n - i)]) / n
        each = np.repeat(own, len(inner))
        found.append((FACE, each, mesh.triangles[each], np.tile(inner, (len(own), 1))))
    kind = np.concatenate([np.full(len(numbers), kind, dtype=np.int8) for kind, numbers, *_ in found])
    every = ScanPlaces(kind, *(np.concatenate([each[k] for each in found]) for k in (1, 2, 3)))
    return every.some(np.random.default_rng(0).permutation(len(kind)))


def _parts(length: Array, spacing: float) -> Index:
    return np.maximum(np.ceil(length / spacing).astype(np.intp), 1)


# ---------------------------------------------------------------- from pose to pose


@dataclass
class _Known:
    """What is swept as far as it is known.

    marked : cells that are passed; away : how many cells each is from the next that is not well within (ny * nr,)
    """

    marked: Mask
    away: NDArray[np.uint8]
    count: int = 0
    pieces: int = 0

    def look_up(self, region: Region) -> None:
        """Looks up anew how far cells are within, where many more are marked."""
        count, self.pieces = int(np.count_nonzero(self.marked)), self.pieces + 1
        if count > self.count * (GROWN if self.pieces % OFTEN else 1.0):
            self.count = count
            beside = grown(~region(self.marked), BESIDE)
            away = np.zeros(beside.shape, dtype=np.uint8)
            for _ in range(FARTHER):
                away += ~beside
                beside = grown(beside, 1)
            self.away = away.ravel()


def followed_places(
    hub: CarriedCorners, places: ScanPlaces, counts: tuple[int, ...], marked: Mask, region: Region
) -> tuple[Index, Index, Array]:
    """Poses (q,) and places (q,) that may be outermost, (y', r) there (q, 2) [mm]; the cells that places pass from
    pose to pose are marked.

    hub : the scan's corners in all poses; counts : poses along travel and every share
    region : cells that are passed -> those that are swept
    """
    known = _Known(marked, np.zeros(marked.size, dtype=np.uint8))
    known.look_up(region)
    frame = np.array(hub.frame)
    frame[:, 3, 1] -= FARTHEST[0]
    y_of, x_of, z_of = (np.ascontiguousarray(frame[:, :, k] / CELL, dtype=np.float32) for k in (1, 0, 2))
    moves, some = _moves(hub.frame, counts), max(FOLLOWED_AT_ONCE // len(frame), 1)
    columns = shape()[1]
    kept: list[tuple[Index, Index, Array]] = []
    for k in range(0, len(places.kind), some):
        weights, corners = places.weights[k : k + some], hub.points[places.corners[k : k + some]]
        at = np.ascontiguousarray(np.einsum("qc,qcx->xq", weights, corners), dtype=np.float32)
        y, x, z = y_of @ at, x_of @ at, z_of @ at
        r = np.sqrt(x * x + z * z)
        cells = cell_number(y, r)
        beyond = np.maximum(np.maximum(-y, y - shape()[0]), r - columns)
        near = np.flatnonzero((known.away[cells] <= moves[:, None]) & (beyond <= moves[:, None]))
        _mark(y.ravel(), r.ravel(), near, (*counts, y.shape[1]), known)
        known.look_up(region)
        there = cells.ravel()[near]
        near = near[(known.away[there] == 0) & (beyond.ravel()[near] < 0)]
        pose, own = np.divmod(near, y.shape[1])
        plane = np.stack([y.ravel()[near], r.ravel()[near]], -1).astype(float) * CELL + (FARTHEST[0], 0.0)
        inside = within(plane)
        kept.append((pose[inside], own[inside] + k, plane[inside]))
        if sum(len(each[0]) for each in kept) > THINNED_AT:
            kept = [_thinned(kept, known.away)]
    return _thinned(kept, known.away)


def _thinned(kept: list[tuple[Index, Index, Array]], away: NDArray[np.uint8]) -> tuple[Index, Index, Array]:
    """Of places in poses those that may be outermost among all that are swept."""
    pose, own, plane = (np.concatenate([each[k] for each in kept]) for k in range(3))
    beside = np.flatnonzero(away[cell_of(plane)] == 0)
    outer = beside[outer_points(plane[beside], *FIRST)]
    return pose[outer], own[outer], plane[outer]


def _moves(frame: Array, counts: tuple[int, ...]) -> NDArray[np.uint8]:
    """By how many cells at most anything within FARTHEST moves from each pose to the next ones, and two (n,).

    Source: geometry: a rigid motion moves no point of a prism farther than its farthest corner.
    """
    turn = np.arange(8) * np.pi / 4
    wide = FARTHEST[2] / np.cos(np.pi / 8)
    box = np.array(
        [(wide * x, y, wide * z) for x, z in zip(np.cos(turn), np.sin(turn), strict=True) for y in FARTHEST[:2]]
    )
    there = (box - frame[:, 3][:, None]) @ np.linalg.inv(frame[:, :3])  # where the carrier has the box's corners
    numbers, most = np.arange(len(frame)).reshape(counts), np.zeros(len(frame))
    for axis, n in enumerate(counts):
        for here, next_ in ((slice(0, n - 1), slice(1, n)), (slice(1, n), slice(0, n - 1))):
            first, then = (numbers[(*[slice(None)] * axis, part)].ravel() for part in (here, next_))
            moved = there[first] @ frame[then, :3] + frame[then, 3][:, None] - box
            most[first] = np.maximum(most[first], np.linalg.norm(moved, axis=2).max(axis=1))
    return np.minimum(np.ceil(most / CELL) + 2, FARTHER).astype(np.uint8)


def _mark(y: Floats, r: Floats, near: Index, layout: tuple[int, ...], known: _Known) -> None:
    """Marks the cells that some places pass on the way to the next poses, where that may leave what is well within.

    layout : poses along travel and every share, then places
    """
    for begin, end in _ways(near, layout):
        size = np.maximum(np.abs(y[end] - y[begin]), np.abs(r[end] - r[begin]))
        own = np.flatnonzero(known.away[cell_number(y[begin], r[begin])] <= size + 1)
        mark_between((y[begin[own]], r[begin[own]]), (y[end[own]], r[end[own]]), known.marked)


def _ways(near: Index, layout: tuple[int, ...]) -> Iterator[tuple[Index, Index]]:
    """Of some places in poses their numbers, and those in the next pose along travel and every share."""
    if max(layout[:-1]) == 1:
        yield near, near
    for axis, n in enumerate(layout[:-1]):
        if n > 1:
            step = int(np.prod(layout[axis + 1 :]))
            begin = near[near // step % n < n - 1]
            yield begin, begin + step


# ---------------------------------------------------------------- the lines there


def lines_beside(mesh: Mesh, corners: Array, places: ScanPlaces) -> tuple[Index, Index, Index, Index]:
    """Points SPACING apart on the lines of the triangles at places (q,), sides near by, folds as a whole.

    corners : (v, 3) [mm]
    Returns : number of the place and of the line (k,), (k,); which of its points, and of how many but one (k,), (k,)
    """
    kinds = ((CORNER, mesh.triangles), (SIDE, mesh.sides[:, :3]), (FACE, np.arange(len(mesh.sides))[:, None]))
    pairs = [_at(np.flatnonzero(places.kind == kind), places.number, held) for kind, held in kinds]
    place, face = (np.concatenate([pair[k] for pair in pairs]) for k in (0, 1))
    count = len(mesh.lines)
    place, line = np.divmod(np.unique(np.repeat(place, 4) * count + mesh.sides[face].ravel()), count)
    ends = corners[mesh.lines[line]]
    is_fold = mesh.folds[line]
    length = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    longest = np.max([np.linalg.norm(ends[:, k] - ends[:, k - 1], axis=1) for k in range(3)], axis=0)
    parts = _parts(np.where(is_fold, longest, length), SPACING)
    own = np.repeat(np.arange(len(line)), parts + 1)
    number = np.arange(len(own)) - np.repeat(np.cumsum(parts + 1) - parts - 1, parts + 1)
    at = np.einsum("qc,qcx->qx", places.weights, corners[places.corners])[place[own]]
    first, along = ends[own, 0], (number / parts[own])[:, None]
    near = is_fold[own] | (np.linalg.norm(first + along * (ends[own, 1] - first) - at, axis=1) <= AROUND)
    own, number = own[near], number[near]
    return place[own], line[own], number, parts[own]


def _at(asked: Index, number: Index, held: Index) -> tuple[Index, Index]:
    """Each of what is asked (q,) and every triangle that holds its number (k,), (k,).

    held : numbers that each triangle holds (p, m)
    """
    wanted = np.zeros(int(max(held.max(initial=0), number.max(initial=0))) + 1, dtype=bool)
    wanted[number[asked]] = True
    face, which = np.nonzero(wanted[held])
    numbers = held[face, which]
    order = np.argsort(numbers, kind="stable")
    first, after = (np.searchsorted(numbers[order], number[asked], side=side) for side in ("left", "right"))
    size = after - first
    every = np.repeat(first - np.cumsum(size) + size, size) + np.arange(size.sum())
    return np.repeat(asked, size), face[order[every]]
