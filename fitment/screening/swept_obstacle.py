"""What an obstacle sweeps, seen from the hub, in every pose of travel and steer.

Its traced points are laid on a raster of the hub's half plane, and those on the boundary of what
they sweep are kept: what comes closest to a section, or goes deepest into it, lies there, or at a place where the
section itself is deepest. Points between the first poses follow from the motion's own derivatives.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from functools import partial, reduce
from itertools import combinations_with_replacement

import numpy as np
from shapely import Polygon, contains_xy

from fitment.clearance import motion_polynomials
from fitment.clearance.pose_grid import Variant, grid
from fitment.clearance.trace import (
    CarriedCorners,
    Index,
    Trace,
    fold,
    laid_out,
    mesh_of,
    trace_obstacle,
    trace_of_corners,
)
from fitment.frames import Array, to_half_plane
from fitment.motion.suspension import Family
from fitment.parts.axle import Axle
from fitment.parts.obstacles import Obstacle, fixed_to_hub
from fitment.screening.boundary_points import outer_points
from fitment.screening.raster import (
    CELL,
    FARTHEST,
    Cells,
    Floats,
    Mask,
    cell_number,
    cell_of,
    centre_of,
    closed,
    grown,
    mark_between,
    shape,
    spread,
    within,
)
from fitment.screening.swept_scan import BESIDE, FIRST, SPACING, followed_places, lines_beside, scan_places

STEP = 16.0  # [mm] motion of a point at the tread between the first poses
KNOWN = 11  # cells round one that are all marked, where no shorter way is followed
MANY_PASSED = 50_000  # points that are followed before that is looked up anew
BESIDE_PLACES = (0.5, 0.5)  # slack and width [mm] of what is kept of the lines beside a scan's places
FINER = ((4, 0.1, 0.5), (3, 0.0, 0.5))  # parts of a step; slack and width [mm] of what is kept then
FINER_ALONG = 3  # parts of a spacing
REACH = 450.0  # [mm] distance from the hub at which a step of share is taken
AT_ONCE = 20_000  # points followed in one go
AROUND_AT_ONCE = 2000  # points looked around in one go
LINES, PLACES = 200_000, 500_000  # lines, and points on them, that are held in all poses together, at most
STRETCH = 24  # points of a line that are looked at together
ROUNDS = 16  # times as many points as are followed in one go that are looked at together
Places = tuple[slice, ...]


@dataclass(frozen=True)
class Points:
    """Traced points (q,) of one obstacle.

    plane : (y', r) [mm] (q, 2)
    at : travel [mm] and lock fractions [-1 .. 1] of the pose (q, k); family : index of its family of poses
    corners, weights : where on the obstacle's corners (q, 3), (q, 3)
    start, end : weights of the ends of the traced line (q, 3); along, step : where on it, and to the next (q,)
    fold : whether the line is a triangle's fold, which lies elsewhere in every pose
    """

    plane: Array
    at: Array
    family: Index
    corners: Index
    weights: Array
    start: Array
    end: Array
    along: Array
    step: Array
    fold: Mask

    def __len__(self) -> int:
        return len(self.plane)

    def some(self, chosen: Index | Mask) -> Points:
        """Some of them."""
        return Points(*(getattr(self, field.name)[chosen] for field in fields(self)))


@dataclass(frozen=True)
class SweptObstacle:
    """What one obstacle sweeps.

    plane : points of its boundary, (y', r) [mm] (q, 2); at : travel [mm] and lock fractions [-1 .. 1] of their poses
        (q, k); family : index of the poses' family (q,); cells : the raster cell of each (q,)
    moved : (y', r) by which each toleranced reading moves the points against us or for us (q, v, 2) [mm]
    thicker : sum of what the readings add to its radius [mm]
    swept : raster cells that it sweeps, (ny, nr), for places where a section is deepest
    """

    obstacle: Obstacle
    plane: Array
    at: Array
    family: Index
    cells: Index
    moved: Array
    thicker: float
    swept: Mask


@dataclass(frozen=True)
class SweepRequest:
    """An axle to be swept over a range of travel [mm], and the axle with one reading moved, each."""

    axle: Axle
    travel: motion_polynomials.Span
    variants: tuple[Variant, ...] = ()


# ---------------------------------------------------------------- the sweep


def sweep_obstacle(ask: SweepRequest, obstacle: Obstacle) -> SweptObstacle:
    """What one obstacle of the axle sweeps. Raises MotionError."""
    solved = motion_polynomials.hub_motions(ask.axle, ask.axle, ask.travel)
    points, cells, swept = _boundary(obstacle, solved)
    moved, thicker = np.empty((len(points), len(ask.variants), 2)), 0.0
    for i, variant in enumerate(ask.variants):
        read = next(o for o in variant.axle.obstacles if o.name == obstacle.name)
        moved[:, i] = (
            _placed(read, motion_polynomials.hub_motions(variant.axle, ask.axle, ask.travel), points) - points.plane
        )
        thicker += abs(read.radius - obstacle.radius)
    plane, at = np.ascontiguousarray(points.plane), np.ascontiguousarray(points.at)  # as what was kept lies in memory
    return SweptObstacle(obstacle, plane, at, np.ascontiguousarray(points.family), cells, moved, thicker, swept)


def _boundary(obstacle: Obstacle, solved: Sequence[motion_polynomials.HubMotion]) -> tuple[Points, Index, Mask]:
    """The obstacle's outermost points, their cells, and the cells it sweeps."""
    if fixed_to_hub(obstacle):
        rest = solved[0].family.rest(0.0)
        traced = trace_obstacle(obstacle, solved[0].family.poses(*rest.T))
        laid = _laid(traced, traced.mesh.lines, rest, 0, CELL / 4)
        every = np.arange(len(laid.line))
        points = laid.points(np.zeros_like(every), every)
        cells, swept = cell_of(points.plane), _region(obstacle, _raster(points), 0)
        order = np.argsort(cells, kind="stable")
        return points.some(order), cells[order], swept
    if obstacle.mesh is not None:
        points, swept = _first_of_scan(obstacle, solved)
    else:
        marked = _Marked(np.zeros(shape(), dtype=bool), np.ones(shape(), dtype=bool))
        first: list[Points] = []
        for i, motion in enumerate(solved):
            for piece in motion.pieces:
                first += _first(obstacle, i, motion.family, piece, marked)
        swept = _region(obstacle, marked.cells)
        beside = grown(~swept, BESIDE)
        points = joined([some.some(beside.ravel()[cell_of(some.plane)]) for some in first])
        points = points.some(outer_points(points.plane, *FIRST))
    step = 1.0
    for parts, slack, width in FINER:
        points = _outermost(_refined(obstacle, solved, points, step, parts), swept, slack, width) or points
        step /= parts
    cells = cell_of(points.plane)
    order = np.argsort(cells, kind="stable")
    return points.some(order), cells[order], swept


def _outermost(around: Sequence[_Around], swept: Mask, slack: float, width: float) -> Points | None:
    """Of places round points those that are outermost; None where there are none.

    swept : cells that are; slack, width : of what is kept [mm]
    """
    if not around:  # no point is where something is looked for
        return None
    plane = np.concatenate([each.plane for each in around])
    cells = cell_of(plane)
    covered = swept.ravel().copy()
    covered[cells] = True
    near = np.flatnonzero(grown(~covered.reshape(shape()), BESIDE).ravel()[cells])
    return _picked(around, near[outer_points(plane[near], slack, width)])


def _first_of_scan(obstacle: Obstacle, solved: Sequence[motion_polynomials.HubMotion]) -> tuple[Points, Mask]:
    """A scan's points in poses STEP apart that may be outermost, and the cells it sweeps."""
    assert obstacle.mesh is not None
    mesh, corners, marked = mesh_of(obstacle, 0), obstacle.mesh.vertices, np.zeros(shape(), dtype=bool)
    every, found = scan_places(mesh, corners), []
    for i, motion in enumerate(solved):
        for piece in motion.pieces:
            places, counts, hub = _in_first_poses(obstacle, motion.family, piece)
            pose, own, plane = followed_places(hub, every, counts, marked, partial(_region, obstacle))
            found.append((np.full(len(own), i), places[pose], own, plane))
    swept = _region(obstacle, marked)
    family, at, own, plane = (np.concatenate([each[k] for each in found]) for k in range(4))
    chosen = np.flatnonzero(grown(~swept, BESIDE).ravel()[cell_of(plane)])
    chosen = chosen[outer_points(plane[chosen], *FIRST)]
    place, line, number, parts = lines_beside(mesh, corners, every.some(own[chosen]))
    poses, pose = np.unique(np.column_stack([family, at])[chosen[place]], axis=0, return_inverse=True)
    once = np.unique(np.stack([pose.ravel(), line, number]), axis=1, return_index=True)[1]
    pose, line, number, parts = pose.ravel()[once], line[once], number[once], parts[once]
    start, end, along = mesh.start[line], mesh.end[line], number / parts
    points = Points(
        plane[chosen[place[once]]], poses[pose, 1:], poses[pose, 0].astype(np.intp), mesh.lines[line],
        start + along[:, None] * (end - start), start, end, along, 1.0 / parts, mesh.folds[line],
    )  # fmt: skip
    return _outermost(_refined(obstacle, solved, points, 0.0, 1), swept, *BESIDE_PLACES) or points, swept


def joined(parts: Sequence[Points]) -> Points:
    """Points of several pieces together."""
    return Points(*(np.concatenate([getattr(part, field.name) for part in parts]) for field in fields(Points)))


# ---------------------------------------------------------------- the first poses


@dataclass(frozen=True)
class _Laid:
    """Points on some lines of a trace in n poses, the same k in every one.

    corners : numbers of the corners on which each line of the trace runs (m, 3)
    line : the traced line of each point (k,); along : where on it, step : to the next (k,)
    places : travel and lock fractions of each pose (n, ways); family : index of the poses' family
    """

    traced: Trace
    corners: Index
    line: Index
    along: Array
    step: Array
    places: Array
    family: int

    def at(self, chosen: Index) -> Array:
        """Where some points (q,) are in every pose, (y', r) [mm] (n, q, 2)."""
        every, line, along = self.traced.every, self.line[chosen], self.along[chosen, None]
        return to_half_plane(every.first[:, line] * (1 - along) + every.last[:, line] * along)

    def seen(self, chosen: Index) -> Floats:
        """The same, neighbours on a line one after another, in cells of the raster (2, n, q); good to a thousandth."""
        line, along = self.line[chosen], self.along[chosen].astype(np.float32)
        lines = slice(line.min(initial=0), line.max(initial=0) + 1)
        begin, end = self.traced.every.first[:, lines], self.traced.every.last[:, lines]
        first, way = (np.moveaxis(part, 2, 0).astype(np.float32) for part in (begin, end - begin))
        x, y, z = (a[:, line - lines.start] + b[:, line - lines.start] * along for a, b in zip(first, way, strict=True))
        return np.asarray(np.stack([y - np.float32(FARTHEST[0]), np.sqrt(x * x + z * z)]) / np.float32(CELL))

    def points(self, pose: Index, k: Index) -> Points:
        """Some points in some poses (q,), (q,), less those beyond the raster."""
        line, along, every = self.line[k], self.along[k, None], self.traced.every
        start, end = every.start[pose, line], every.end[pose, line]
        plane = to_half_plane(every.first[pose, line] * (1 - along) + every.last[pose, line] * along)
        return Points(
            plane, self.places[pose], np.full(len(k), self.family), self.corners[line],
            start + along * (end - start), start, end, self.along[k], self.step[k], self.traced.mesh.folds[line],
        ).some(within(plane))  # fmt: skip


def _first(
    obstacle: Obstacle, index: int, family: Family, piece: motion_polynomials.Piece, marked: _Marked
) -> Iterator[Points]:
    """Traced points in poses STEP apart that may be outermost; marks the cells they pass on the way from pose to pose.

    Lines are gone through some at a time, so that memory is bounded however many there are. What lies well within what
    those before sweep is left out: it marks nothing, and all of them sweep no less.
    """
    places, counts, carried = _in_first_poses(obstacle, family, piece)
    for traced, corners in _some_lines(trace_of_corners(laid_out(obstacle, piece.poses), carried), counts, marked):
        laid = _laid(traced, corners, places, index, SPACING)
        some = max(PLACES // len(places), 1)
        for k in range(0, len(laid.line) or 1, ROUNDS * some):
            yield _followed(obstacle, laid, np.arange(k, min(k + ROUNDS * some, len(laid.line))), counts, some, marked)


def _in_first_poses(
    obstacle: Obstacle, family: Family, piece: motion_polynomials.Piece
) -> tuple[Array, tuple[int, ...], CarriedCorners]:
    """Poses STEP apart of a piece (n, ways), how many along each way, and the obstacle's corners there."""
    levels = [np.linspace(low, high, n + 1) for (low, high), n in zip(piece.spans, _steps(family, piece), strict=True)]
    places, counts = grid(*levels), tuple(map(len, levels))
    weights, factors = motion_polynomials.coefficients(piece, obstacle)
    return places, counts, CarriedCorners(weights, _in_poses(factors, motion_polynomials.basis(piece, places)))


def _followed(
    obstacle: Obstacle, laid: _Laid, every: Index, counts: tuple[int, ...], some: int, marked: _Marked
) -> Points:
    """Those of points (q,) that may be outermost, followed `some` at a time; what they pass is marked."""
    line = laid.line[every]
    first = np.flatnonzero((np.arange(len(every)) % STRETCH == 0) | np.r_[True, line[1:] != line[:-1]][: len(every)])
    size = np.diff(np.r_[first, len(every)])
    boxes, open_ = (
        _boxes_passed(*_boxes_round(laid, every[first], every[first + size - 1]), counts),
        np.arange(len(first)),
    )
    inner = np.pad(np.ones((shape()[0] - 2, shape()[1] - 1), dtype=bool), [(1, 1), (0, 1)])
    poses, numbers = [np.empty(0, dtype=np.intp)], [np.empty(0, dtype=np.intp)]
    while len(open_):
        leaving = boxes.leave(open_, ~marked.beside)
        open_, leaving = open_[leaving.any(axis=0)], leaving[:, leaving.any(axis=0)]
        now = max(int(np.searchsorted(np.cumsum(size[open_]), some, side="right")), 1)
        own, open_ = open_[:now], open_[now:]
        if len(own):
            chosen = every[np.repeat(np.isin(np.arange(len(first)), own), size)]
            leaving = np.repeat(leaving[:, :now], size[own], axis=1)
            known = np.count_nonzero(marked.cells)
            pose, k, cell = _mark_passed(laid, chosen, leaving, counts, marked)
            if np.count_nonzero(marked.cells) > known:
                marked.beside = grown(~_region(obstacle, marked.cells), BESIDE)
            beside = (marked.beside & inner).ravel()[cell]
            poses, numbers = [*poses, pose[beside]], [*numbers, chosen[k[beside]]]
    pose, k = np.concatenate(poses), np.concatenate(numbers)
    order = np.lexsort((k, pose, k // some))
    return laid.points(pose[order], k[order])


def _some_lines(traced: Trace, counts: tuple[int, ...], marked: _Marked) -> Iterator[tuple[Trace, Index]]:
    """The trace of some lines after others, a solid's sheet first, and numbers of the corners they run on (m, 3).

    Of many triangles without those lines that have no say, but of each some with one of them at least.
    """
    mesh, count = traced.mesh, max(LINES // len(traced), 1)
    if not isinstance(traced.hub, CarriedCorners) or not (traced.many or len(mesh.lines) > count):
        yield traced, mesh.lines
        return
    order = np.argsort(mesh.lines.max(axis=1) >= len(traced.obstacle.points), kind="stable")
    for lines in (order[k : k + count] for k in range(0, len(order), count)):
        counting = _may_count(_of_lines(traced, traced.hub, lines), counts, ~marked.beside)
        kept = lines[counting] if counting.any() else lines[:1]
        yield _of_lines(traced, traced.hub, kept), mesh.lines[kept]


def _of_lines(traced: Trace, hub: CarriedCorners, lines: Index) -> Trace:
    """The trace of some lines alone."""
    mesh = traced.mesh
    own, number = np.unique(mesh.lines[lines], return_inverse=True)
    some = replace(
        mesh, lines=number.reshape(-1, 3), start=mesh.start[lines], end=mesh.end[lines], folds=mesh.folds[lines]
    )
    return Trace(traced.obstacle, some, replace(hub, points=hub.points[own]))


def _may_count(traced: Trace, poses: tuple[int, ...], within_swept: Mask) -> Mask:
    """Which lines (m,) come within FARTHEST, and may leave cells well within what is swept, by their corners alone.

    A line, and a triangle in which the axis is not, comes no nearer to the axis than its sides do, and a side no
    nearer than half of what the way from the axis along its ends is longer than the side is, seen along the axis.
    """
    x, y, z = np.moveaxis(np.asarray(traced.hub), 2, 0)
    r, corners = np.sqrt(x * x + z * z), list(traced.mesh.lines.T)
    ys, rs, xs, zs = ([every[:, corner] for corner in corners] for every in (y, r, x, z))
    sides = [np.hypot(xs[k] - xs[k - 1], zs[k] - zs[k - 1]) for k in range(3)]
    least = reduce(np.minimum, [rs[k] + rs[k - 1] - sides[k] for k in range(3)]) / 2
    least[reduce(np.minimum, rs) <= reduce(np.maximum, sides)] = 0.0
    low = np.stack([reduce(np.minimum, ys), least], -1)
    high = np.stack([reduce(np.maximum, ys), reduce(np.maximum, rs)], -1)
    return _leaving(low, high, poses, within_swept)


def _leaving(low: Array, high: Array, poses: tuple[int, ...], within_swept: Mask) -> Mask:
    """Which boxes (m,), (y', r) from and to (n, m, 2) [mm], come within FARTHEST, and may leave some cells."""
    within_reach = (high[..., 0] > FARTHEST[0]) & (low[..., 0] < FARTHEST[1]) & (low[..., 1] < FARTHEST[2])
    near = np.asarray(within_reach.any(axis=0))
    if near.any() and within_swept.any():
        boxes = _boxes_passed(low[:, near], high[:, near], poses)
        near[near] = boxes.leave(np.arange(boxes.beyond.shape[1]), within_swept).any(axis=0)
    return near


def _boxes_round(laid: _Laid, first: Index, last: Index) -> tuple[Array, Array]:
    """Boxes round stretches of lines between two points of each (m,), (y', r) from and to (n, m, 2) [mm].

    y' changes evenly along a line, and r by no more than its length seen along the axis.
    """
    ends, own, every = (laid.at(first), laid.at(last)), laid.line[first], laid.traced.every
    whole = np.hypot(*(every.last[:, own, i] - every.first[:, own, i] for i in (0, 2)))
    length = whole * (laid.along[last] - laid.along[first])
    low, high = np.minimum(*ends), np.maximum(*ends)
    low[..., 1] = (ends[0][..., 1] + ends[1][..., 1] - length) / 2
    return low, high


@dataclass(frozen=True)
class _PassedBoxes:
    """Cells of the raster that boxes pass between neighbouring poses, from each to the next ones.

    first, last : y' and r of the first and the last cell (2, n, m); beyond : whether they pass the raster by (n, m)
    """

    first: Cells
    last: Cells
    beyond: Mask

    def leave(self, chosen: Index, within_swept: Mask) -> Mask:
        """Between which poses some boxes (q,) may leave some cells (n, q)."""
        total = np.zeros(np.add(within_swept.shape, 1), dtype=np.int32)
        np.cumsum(np.cumsum(~within_swept, axis=1, dtype=np.int32), axis=0, dtype=np.int32, out=total[1:, 1:])
        (i0, j0), (i1, j1) = self.first[..., chosen], self.last[..., chosen] + np.int32(1)
        others = total[i1, j1] - total[i0, j1] - total[i1, j0] + total[i0, j0]
        return np.asarray((others > 0) & ~self.beyond[:, chosen])


def _boxes_passed(low: Array, high: Array, poses: tuple[int, ...]) -> _PassedBoxes:
    """What boxes, (y', r) from and to (n, m, 2), pass on the ways between neighbouring poses.

    From pose to pose points are led straight, so within the box round those of both.
    """
    count, between = low.shape[1], int(np.prod(np.maximum(np.subtract(poses, 1), 1)))
    low, high = (edge.reshape(*poses, count, 2) for edge in (low, high))
    for axis in (axis for axis, n in enumerate(poses) if n > 1):
        before, after = ((*[slice(None)] * axis, part) for part in (slice(None, -1), slice(1, None)))
        low, high = np.minimum(low[before], low[after]), np.maximum(high[before], high[after])
    origin, most = np.array([FARTHEST[0], 0.0]), np.array([shape()[0] - 2, shape()[1] - 2], dtype=np.int32)
    i, j = (np.floor((edge - origin) / CELL).astype(np.int32).reshape(between, count, 2) for edge in (low, high))
    beyond = ((i > most) | (j < (1, 0))).any(axis=2)
    first, last = (np.moveaxis(np.clip(edge, np.array([1, 0], dtype=np.int32), most), -1, 0) for edge in (i, j))
    return _PassedBoxes(np.ascontiguousarray(first), np.ascontiguousarray(last), beyond)


def _steps(family: Family, piece: motion_polynomials.Piece) -> list[int]:
    """Steps of travel and of each share across a piece."""
    way = [
        float(np.hypot(1.0, motion_polynomials.turning(piece) * REACH)),
        *(np.radians(turn) * REACH for turn in family.turns),
    ]
    return [int(np.ceil((high - low) * rate / STEP)) for (low, high), rate in zip(piece.spans, way, strict=True)]


def _laid(traced: Trace, corners: Index, places: Array, family: int, spacing: float) -> _Laid:
    """Points at most `spacing` apart on the lines of a trace that come within FARTHEST."""
    every = traced.every
    low, high = every.low, every.high
    near = (high[..., 0] > FARTHEST[0]) & (low[..., 0] < FARTHEST[1]) & (low[..., 1] < FARTHEST[2])
    real = np.ones_like(near) if traced.point else (high - low).max(axis=2) > 1e-9
    lines = np.flatnonzero((near & real).any(axis=0))
    longest = np.linalg.norm(every.last[:, lines] - every.first[:, lines], axis=2).max(axis=0)
    parts = np.maximum(np.ceil(longest / spacing).astype(int), 0 if traced.point else 1)
    line, step = np.repeat(lines, parts + 1), np.repeat(1.0 / np.maximum(parts, 1), parts + 1)
    along = (np.arange(len(line)) - np.repeat(np.cumsum(parts + 1) - parts - 1, parts + 1)) * step
    return _Laid(traced, corners, line, along, step, places, family)


@dataclass
class _Marked:
    """Raster cells that are passed.

    beside : those not well within what is swept, as far as that was looked up
    deep : those with all within KNOWN passed, when that was last looked up, since when so many points were followed
    """

    cells: Mask
    beside: Mask
    deep: Mask | None = None
    since: int = 0

    def followed(self, count: int) -> None:
        """So many more points were followed."""
        self.since += count
        if self.since > MANY_PASSED:
            self.since, self.deep = 0, ~grown(~closed(self.cells, 1), KNOWN).ravel()


def _mark_passed(
    laid: _Laid, chosen: Index, leaving: Mask, counts: Sequence[int], marked: _Marked
) -> tuple[Index, Index, Cells]:
    """Mark the cells that some points (q,) pass between neighbouring poses, where they leave what is known.

    leaving : from which poses to the next ones (n, q); counts : poses along travel and every share
    Returns : there, of poses and points, their numbers and the cell they are in
    """
    y, r = (each.reshape(*counts, -1) for each in laid.seen(chosen))
    leaving = leaving.reshape(*(max(n - 1, 1) for n in counts), -1)
    for axis, n in enumerate(counts):  # the last poses are those of the ways that lead there
        leaving = leaving.take(np.minimum(np.arange(n), max(n - 2, 0)), axis)
    loose = ~_moves_little(laid, chosen, counts)
    for here, there in _neighbours(counts, max(int(np.count_nonzero(leaving) / np.prod(counts)), 1)):
        fresh = np.flatnonzero(leaving[here])
        begin, end = ((y[at].ravel()[fresh], r[at].ravel()[fresh]) for at in (here, there))
        if marked.deep is not None:
            known = marked.deep[cell_number(*begin)]
            size = np.maximum(*(np.abs(b - a) for a, b in zip(begin, end, strict=True)))
            new = np.flatnonzero(~known | (loose[fresh % len(loose)] & (size > KNOWN - 1)))
            begin, end = ((pair[0][new], pair[1][new]) for pair in (begin, end))
        mark_between(begin, end, marked.cells)
        marked.followed(len(begin[0]))
    there_too = np.flatnonzero(leaving)
    pose, k = np.divmod(there_too, len(chosen))
    return pose, k, cell_number(y.ravel()[there_too], r.ravel()[there_too])


def _neighbours(counts: Sequence[int], points: int) -> Iterator[tuple[Places, Places]]:
    """Indexes of poses, by travel and every share, and of those next to them along one; some of so many at once."""
    many = max(1, AT_ONCE // (points * int(np.prod(counts[1:]))))
    for i in range(0, counts[0], many):
        rows, ahead = slice(i, i + many), min(i + many, counts[0] - 1)
        if i < ahead or i == 0:
            yield (slice(i, max(ahead, 1)),), (slice(min(i + 1, counts[0] - 1), ahead + 1),)
        for axis, n in enumerate(counts[1:]):
            if n > 1:
                row = (rows, *[slice(None)] * axis)
                yield (*row, slice(0, n - 1)), (*row, slice(1, n))


def _moves_little(laid: _Laid, chosen: Index, counts: Sequence[int]) -> Mask:
    """Which of some points move less than KNOWN cells between neighbouring poses (q,).

    Source: derived here: a point between two ends moves no farther than one of them, seen from the axis or not.
    """
    line = laid.line[chosen]
    lines = slice(line.min(), line.max() + 1)
    most = np.zeros(lines.stop - lines.start)
    for ends in (laid.traced.every.first[:, lines], laid.traced.every.last[:, lines]):
        placed = ends.reshape(*counts, *ends.shape[1:])
        for axis, n in enumerate(counts):
            if n > 1:
                moved = np.linalg.norm(np.diff(placed, axis=axis), axis=-1).reshape(-1, len(most))
                most = np.maximum(most, moved.max(axis=0))
    return np.asarray(most < (KNOWN - 1) * CELL)[line - lines.start]


# ---------------------------------------------------------------- finer poses


@dataclass(frozen=True)
class _Around:
    """Places round some points (q,) of a piece: k poses, the same steps from each point's own, m along its line.

    chosen : those that the piece and the line have, and the raster holds, of all (k, q, m) (c,)
    plane : (y', r) [mm] of these (c, 2)
    steps : to the poses (k, ways) [mm], [-]; along : where on the line (q, m), the next a share of a spacing away
    start, end : weights of the ends of folds in every pose (k, folds, 3), the others' are their own
    """

    points: Points
    chosen: Index
    plane: Array
    steps: Array
    along: Array
    start: Array
    end: Array

    def some(self, picked: Index) -> Points:
        """Some of the places, by their index among those chosen."""
        points, m = self.points, self.along.shape[1]
        pose, rest = np.divmod(self.chosen[picked], len(points) * m)
        own, k = np.divmod(rest, m)
        start, end = points.start[own], points.end[own]
        folds = points.fold[own]
        if folds.any():
            number = np.cumsum(points.fold)[own[folds]] - 1
            start[folds], end[folds] = self.start[pose[folds], number], self.end[pose[folds], number]
        along = self.along[own, k]
        return Points(
            self.plane[picked], points.at[own] + self.steps[pose], points.family[own], points.corners[own],
            start + along[:, None] * (end - start), start, end, along, points.step[own] / FINER_ALONG, points.fold[own],
        )  # fmt: skip


def _picked(around: Sequence[_Around], chosen: Index) -> Points:
    """Some of the places round all points, by their rising index among those of all."""
    ends = np.cumsum([len(each.chosen) for each in around])
    parts = np.split(chosen, np.searchsorted(chosen, ends[:-1]))
    return joined([each.some(own - end + len(each.chosen)) for each, own, end in zip(around, parts, ends, strict=True)])


def _refined(
    obstacle: Obstacle, solved: Sequence[motion_polynomials.HubMotion], points: Points, step: float, parts: int
) -> list[_Around]:
    """The points and others around them, a share of a step apart in travel, in lock and along their lines.

    step : what they are apart now, in the first poses' steps and spacings; parts : into which that is divided
    """
    batches = []
    for i, motion in enumerate(solved):
        for piece in motion.pieces:
            mine = np.flatnonzero((points.family == i) & motion_polynomials.inside(piece, points.at))
            ways = zip(piece.spans, _steps(motion.family, piece), strict=True)
            size = [step * (high - low) / n if n else 0.0 for (low, high), n in ways]
            carried = motion_polynomials.coefficients(piece, obstacle)
            for k in range(0, len(mine), AROUND_AT_ONCE):
                some = points.some(mine[k : k + AROUND_AT_ONCE])
                batches.append(_around(piece, carried, some, size, parts, moves=obstacle.shape != "ball"))
    return batches


def _around(
    piece: motion_polynomials.Piece, carried: tuple[Array, Array], points: Points, size: Sequence[float], parts: int,
    *, moves: bool,
) -> _Around:  # fmt: skip
    """Places round some points of a piece; size : steps [mm], [shares] that are divided into parts."""
    part = np.arange(-(parts // 2), parts // 2 + 1) / parts
    steps = grid(*(part * step if step else np.zeros(1) for step in size))
    dl = np.array([-1.0, 0.0, 1.0]) / FINER_ALONG if moves else np.zeros(1)
    along = points.along[:, None] + dl * points.step[:, None]
    first, way, start, end = _moved_lines(piece, carried, points, steps)
    plane = to_half_plane(first[:, :, None] + along[:, :, None] * way[:, :, None])
    places = points.at + steps[:, None]
    real = motion_polynomials.inside(piece, places)[..., None] & ((along > -1e-9) & (along < 1 + 1e-9))
    chosen = np.flatnonzero(real & within(plane))
    return _Around(points, chosen, plane.reshape(-1, 2)[chosen], steps, along, start, end)


def _moved_lines(
    piece: motion_polynomials.Piece, carried: tuple[Array, Array], points: Points, steps: Array
) -> tuple[Array, Array, Array, Array]:
    """The points' lines moved by steps (k, ways), to second order, in the hub frame.

    Returns : where they begin and the way to their end (k, q, 3) [mm]; weights of folds' ends (k, folds, 3)
    """
    weights, factors = carried
    orders, shares = _taylor(steps)
    poses, pose = np.unique(points.at, axis=0, return_inverse=True)
    frames = np.stack([_in_poses(factors, part) for part in motion_polynomials.bases(piece, poses, orders)])
    frames = frames[:, pose.ravel()]  # (terms, q, j, 3)
    corners = weights[points.corners]  # (q, 3, j)
    ends = np.stack([points.start, points.end - points.start], 1) @ corners
    first, way = np.moveaxis(_summed(shares, ends @ frames), 2, 0)
    none = np.empty((len(steps), 0, 3))
    folds = np.flatnonzero(points.fold)
    if not len(folds):
        return first, way, none, none
    placed = _summed(shares, corners[folds] @ frames[:, folds])
    start, end = fold(placed)
    first[:, folds] = np.einsum("kqc,kqcx->kqx", start, placed)
    way[:, folds] = np.einsum("kqc,kqcx->kqx", end - start, placed)
    return first, way, start, end


def _summed(shares: Array, terms: Array) -> Array:
    """Sums (k, ...) of terms (t, ...) by their shares (k, t)."""
    return np.asarray((shares @ terms.reshape(len(terms), -1)).reshape(len(shares), *terms.shape[1:]))


def _taylor(steps: Array) -> tuple[list[tuple[int, ...]], Array]:
    """Orders (t) of the derivatives to second order, and what each counts after steps (k, ways): (k, t)."""
    ways = steps.shape[1]
    orders, shares = [(0,) * ways], [np.ones(len(steps))]
    for order in (1, 2):
        for chosen in combinations_with_replacement(range(ways), order):
            orders.append(tuple(chosen.count(i) for i in range(ways)))
            shares.append(np.prod(steps[:, chosen], axis=1) / (2 if max(orders[-1]) == 2 else 1))
    return orders, np.stack(shares, -1)


def _in_poses(factors: Array, basis: Array) -> Array:
    """What has coefficients (k, j, 3) in some poses (q, j, 3), or its derivatives."""
    return np.asarray((basis @ factors.reshape(len(factors), -1)).reshape(len(basis), *factors.shape[1:]))


def _placed(obstacle: Obstacle, solved: Sequence[motion_polynomials.HubMotion], points: Points) -> Array:
    """Where the points' material is on another reading of the obstacle and its suspension, (y', r) (q, 2)."""
    places = np.empty((len(points), 3))
    for i, motion in enumerate(solved):
        for piece in motion.pieces:
            mine = np.flatnonzero((points.family == i) & motion_polynomials.inside(piece, points.at))
            weights, factors = motion_polynomials.coefficients(piece, obstacle)
            frames = _in_poses(factors, motion_polynomials.basis(piece, points.at[mine]))
            own = points.weights[mine, None] @ weights[points.corners[mine]]
            places[mine] = (own @ frames)[:, 0]
    return to_half_plane(places)


def _raster(points: Points) -> Mask:
    marked = np.zeros(shape(), dtype=bool)
    marked.ravel()[cell_of(points.plane)] = True
    return marked


def _region(obstacle: Obstacle, marked: Mask, gap: int = 1) -> Mask:
    """Cells (ny, nr) an obstacle covers, of the cells its traced points pass, gaps of 2 `gap` cells closed.

    A panel's lines bound what it covers; what they enclose counts as covered. Where a part closes the room all round,
    inboard and outboard as far as is looked, that is everything: on the safe side.
    """
    whole = closed(marked, gap)
    if obstacle.shape in ("panel", "scan"):
        outside = np.zeros_like(whole)
        outside[[0, -1]] = outside[:, -1] = True
        return ~spread(outside & ~whole, ~whole)
    if obstacle.shape == "ring" and len(obstacle.outline) > 2:
        y, r = centre_of(np.arange(whole.size)).T
        whole |= contains_xy(Polygon(obstacle.outline), y, r).reshape(whole.shape)
    return whole
