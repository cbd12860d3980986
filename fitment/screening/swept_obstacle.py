"""What an obstacle sweeps, seen from the hub, in every pose of travel and steer.

Its traced points are laid on a raster of the hub's half plane, and those on the boundary of what
they sweep are kept: what comes closest to a section, or goes deepest into it, lies there, or at a place where the
section itself is deepest. Points between the first poses follow from the motion's own derivatives.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields, replace
from itertools import combinations_with_replacement

import numpy as np
from shapely import Polygon, contains_xy

from fitment.clearance import motion_polynomials
from fitment.clearance.pose_grid import Variant, grid
from fitment.clearance.trace import CarriedCorners, Index, Trace, fold, trace_obstacle
from fitment.frames import Array, to_half_plane
from fitment.motion.suspension import Family
from fitment.parts.axle import Axle
from fitment.parts.obstacles import Obstacle, fixed_to_hub
from fitment.screening.boundary_points import outer_points
from fitment.screening.distance_field import Floats
from fitment.screening.raster import CELL, FARTHEST, Mask, cell_of, centre_of, closed, grown, shape, spread, within

STEP = 16.0  # [mm] motion of a point at the tread between the first poses
SPACING = 4.0  # [mm] of points along a line in these poses
MOST_PASSED = 16  # places looked at between two poses
FINER = ((4, 0.5, 1.0), (3, 0.1, 0.5))  # parts of a step; slack and width [mm] of what is kept before
WIDTH = 0.5  # [mm] of the strips of which the outermost point is kept in the end
REACH = 450.0  # [mm] distance from the hub at which a step of share is taken
AT_ONCE = 2000  # points looked around in one go
LINES, PLACES = 200_000, 500_000  # lines, and points on them, that are held in all poses together, at most
STRETCH = 24  # points of a line that are looked at together


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
        points = _outer(laid, every, laid.at(every), np.ones(shape(), dtype=bool))
        cells, swept = cell_of(points.plane), _region(obstacle, _raster(points), 0)
        order = np.argsort(cells, kind="stable")
        return points.some(order), cells[order], swept
    marked = np.zeros(shape(), dtype=bool)
    first: list[Points] = []
    for i, motion in enumerate(solved):
        for piece in motion.pieces:
            first += _first(obstacle, i, motion.family, piece, marked)
    swept = _region(obstacle, marked)
    beside = grown(~swept, 2)
    points = joined([some.some(beside.ravel()[cell_of(some.plane)]) for some in first])
    step = 1.0
    for parts, slack, width in FINER:
        points = points.some(outer_points(points.plane, slack, width))
        points = _refined(obstacle, solved, points, step, parts)
        points = points.some(beside.ravel()[cell_of(points.plane)])
        step /= parts
    cells = cell_of(points.plane)
    points = points.some(grown(~(swept | _raster(points)), 1).ravel()[cells])
    points = points.some(outer_points(points.plane, 0.0, WIDTH))
    cells = cell_of(points.plane)
    order = np.argsort(cells, kind="stable")
    return points.some(order), cells[order], swept


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

    def some(self, pose: Index, k: Index, plane: Array) -> Points:
        """Some of the points: in which pose, which, and where (q,), (q,), (q, 2)."""
        line = self.line[k]
        start, end = self.traced.every.start[pose, line], self.traced.every.end[pose, line]
        return Points(
            plane, self.places[pose], np.full(len(k), self.family), self.corners[line],
            start + self.along[k, None] * (end - start), start, end, self.along[k], self.step[k],
            self.traced.mesh.folds[line],
        )  # fmt: skip


def _first(
    obstacle: Obstacle, index: int, family: Family, piece: motion_polynomials.Piece, marked: Mask
) -> Iterator[Points]:
    """Traced points in poses STEP apart that may be outermost; marks the cells they pass on the way from pose to pose.

    Lines are gone through some at a time, so that memory is bounded however many there are. What lies well within what
    those before sweep is left out: it marks nothing, and all of them sweep no less.
    """
    levels = [np.linspace(low, high, n + 1) for (low, high), n in zip(piece.spans, _steps(family, piece), strict=True)]
    places, poses = grid(*levels), tuple(map(len, levels))
    beside = grown(~_region(obstacle, marked), 2)
    for traced, corners in _some_lines(trace_obstacle(obstacle, family.poses(*places.T))):
        laid = _laid(traced, corners, places, index, SPACING)
        step = max(PLACES // len(places), 1)
        for k in range(0, len(laid.line), step):
            chosen = np.arange(k, min(k + step, len(laid.line)))
            chosen = chosen[_leaves(laid, chosen, poses, ~beside)]
            if not len(chosen):
                continue
            plane = laid.at(chosen)
            _mark_passed(plane.reshape(*poses, -1, 2), marked)
            beside = grown(~_region(obstacle, marked), 2)
            yield _outer(laid, chosen, plane, beside)


def _some_lines(traced: Trace) -> Iterator[tuple[Trace, Index]]:
    """The trace of some lines after others, a solid's sheet first, and numbers of the corners they run on (m, 3)."""
    mesh, count = traced.mesh, max(LINES // len(traced), 1)
    if len(mesh.lines) <= count or not isinstance(traced.hub, CarriedCorners):
        yield traced, mesh.lines
        return
    order = np.argsort(mesh.lines.max(axis=1) >= len(traced.obstacle.points), kind="stable")
    for lines in (order[k : k + count] for k in range(0, len(order), count)):
        own, number = np.unique(mesh.lines[lines], return_inverse=True)
        some = replace(
            mesh, lines=number.reshape(-1, 3), start=mesh.start[lines], end=mesh.end[lines], folds=mesh.folds[lines]
        )
        yield Trace(traced.obstacle, some, replace(traced.hub, points=traced.hub.points[own])), mesh.lines[lines]


def _leaves(laid: _Laid, chosen: Index, poses: tuple[int, ...], within_swept: Mask) -> Mask:
    """Which of some points (k,) may leave cells well within what is swept, in a pose or on the way to the next one.

    A stretch of a line is as a whole in a box: y' changes evenly along it, and r by no more than its length. From pose
    to pose points are led straight, so within the box round those of both.
    """
    line, every = laid.line[chosen], laid.traced.every
    first = np.flatnonzero((np.arange(len(chosen)) % STRETCH == 0) | np.r_[True, line[1:] != line[:-1]])
    last = np.r_[first[1:], len(chosen)] - 1
    ends = laid.at(chosen[first]), laid.at(chosen[last])
    whole = np.linalg.norm(every.last[:, line[first]] - every.first[:, line[first]], axis=2)
    length = whole * (laid.along[chosen[last]] - laid.along[chosen[first]])
    low, high = np.minimum(*ends), np.maximum(*ends)
    low[..., 1] = (ends[0][..., 1] + ends[1][..., 1] - length) / 2
    low, high = (edge.reshape(*poses, -1, 2) for edge in (low, high))
    for axis, n in enumerate(poses):
        before, after = range(max(n - 1, 1)), range(min(1, n - 1), n)
        low = np.minimum(low.take(before, axis), low.take(after, axis))
        high = np.maximum(high.take(before, axis), high.take(after, axis))
    rows, columns = within_swept.shape
    origin, most = np.array([FARTHEST[0], 0.0]), np.array([rows - 2, columns - 2])
    i, j = (np.floor((edge - origin) / CELL).astype(np.int32).reshape(-1, len(first), 2) for edge in (low, high))
    beyond = ((i > most) | (j < (1, 0))).any(axis=2)
    (i0, i1), (j0, j1) = (np.moveaxis(np.clip(edge, (1, 0), most), -1, 0) for edge in (i, j))
    total = np.pad(np.cumsum(np.cumsum(~within_swept, axis=0), axis=1), [(1, 0), (1, 0)])
    others = total[j0 + 1, j1 + 1] - total[i0, j1 + 1] - total[j0 + 1, i1] + total[i0, i1]
    leaves = ((others > 0) & ~beyond).any(axis=0)
    return np.repeat(leaves, last - first + 1)


def _steps(family: Family, piece: motion_polynomials.Piece) -> list[int]:
    """Steps of travel and of each share across a piece."""
    way = [1.0, *(np.radians(turn) * REACH for turn in family.turns)]
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


def _mark_passed(plane: Array, marked: Mask) -> None:
    """Mark the cells that traced points (nt, ns, ..., k, 2) are in and pass between neighbouring poses."""
    y, r = (np.ascontiguousarray((plane[..., i] - low) / CELL, np.float32) for i, low in enumerate((FARTHEST[0], 0.0)))
    for axis in range(plane.ndim - 2):
        n = plane.shape[axis]
        if n > 1 or not axis:
            first, last = range(max(n - 1, 1)), range(min(1, n - 1), n)
            ends = [(a.take(first, axis), a.take(last, axis)) for a in (y, r)]
            _mark_between(ends[0], ends[1], marked)


def _mark_between(y: tuple[Floats, Floats], r: tuple[Floats, Floats], marked: Mask) -> None:
    """Mark the cells passed from first to second places, in cells of the raster."""
    rows, columns = marked.shape
    steps = [last - first for first, last in (y, r)]
    parts = int(np.ceil(max(float(np.abs(step).max(initial=0.0)) for step in steps))) + 1
    flat = marked.ravel()
    for along in np.linspace(0.0, 1.0, min(parts, MOST_PASSED) + 1, dtype=np.float32):
        row, column = (first + along * step for (first, _), step in zip((y, r), steps, strict=True))
        real = (row >= 1) & (row < rows - 1) & (column < columns - 1)
        flat[row[real].astype(np.int32) * np.int32(columns) + column[real].astype(np.int32)] = True


def _outer(laid: _Laid, chosen: Index, plane: Array, beside: Mask) -> Points:
    """Those of some points (k,), in all poses (n, k, 2), that lie in some of the cells."""
    flat = plane.reshape(-1, 2)
    real = np.flatnonzero(within(flat))
    real = real[beside.ravel()[cell_of(flat[real])]]
    return laid.some(real // len(chosen), chosen[real % len(chosen)], flat[real])


# ---------------------------------------------------------------- finer poses


def _refined(
    obstacle: Obstacle, solved: Sequence[motion_polynomials.HubMotion], points: Points, step: float, parts: int
) -> Points:
    """The points and others around them, a share of a step apart in travel, in lock and along their lines.

    step : what they are apart now, in the first poses' steps and spacings; parts : into which that is divided
    """
    batches = []
    for i, motion in enumerate(solved):
        for piece in motion.pieces:
            mine = points.some((points.family == i) & motion_polynomials.inside(piece, points.at))
            ways = zip(piece.spans, _steps(motion.family, piece), strict=True)
            size = [step * (high - low) / n if n else 0.0 for (low, high), n in ways]
            factors = motion_polynomials.coefficients(piece, obstacle)
            for k in range(0, len(mine), AT_ONCE):
                some = mine.some(np.arange(k, min(k + AT_ONCE, len(mine))))
                batches.append(_around(piece, factors, some, size, parts, moves=obstacle.shape != "ball"))
    return joined(batches) if batches else points


def _around(
    piece: motion_polynomials.Piece, factors: Array, points: Points, size: Sequence[float], parts: int, *, moves: bool
) -> Points:
    """Places round some points of a piece; size : steps [mm], [shares] that are divided into parts."""
    part = np.arange(-(parts // 2), parts // 2 + 1) / parts
    steps = grid(*(part * step if step else np.zeros(1) for step in size))
    dl = np.array([-1.0, 0.0, 1.0]) / 3 if moves else np.zeros(1)
    at = _moved(piece, factors, points, steps)
    k, m = len(steps), len(dl)
    start, end = (np.repeat(place[:, None], k, axis=1) for place in (points.start, points.end))
    if points.fold.any():
        start[points.fold], end[points.fold] = fold(at[points.fold])
    along = points.along[:, None] + dl * points.step[:, None]
    weights = start[:, :, None] + along[:, None, :, None] * (end - start)[:, :, None]
    plane = to_half_plane(np.einsum("qkmc,qkcx->qkmx", weights, at))
    places = points.at[:, None] + steps
    real = motion_polynomials.inside(piece, places)[:, :, None] & ((along > -1e-9) & (along < 1 + 1e-9))[:, None, :]
    chosen = np.flatnonzero((real & within(plane)).ravel())
    own, pose, line = chosen // (k * m), chosen // m, chosen // (k * m) * m + chosen % m
    return Points(
        plane.reshape(-1, 2)[chosen], places.reshape(-1, len(size))[pose], points.family[own], points.corners[own],
        weights.reshape(-1, 3)[chosen], start.reshape(-1, 3)[pose], end.reshape(-1, 3)[pose],
        along.ravel()[line], points.step[own] / 3, points.fold[own],
    )  # fmt: skip


def _moved(piece: motion_polynomials.Piece, factors: Array, points: Points, steps: Array) -> Array:
    """Places (q, k, 3 corners, 3) in the hub frame of the points' corners moved by steps (k, ways), to second order."""
    ways = steps.shape[1]
    terms = {(0,) * ways: np.ones(len(steps))}
    for order in (1, 2):
        for chosen in combinations_with_replacement(range(ways), order):
            orders = tuple(chosen.count(i) for i in range(ways))
            terms[orders] = np.prod([steps[:, i] for i in chosen], axis=0) / (2 if max(orders) == 2 else 1)
    places = np.zeros((len(points), len(steps), 3, 3))
    own = np.arange(len(points))[:, None]
    parts = motion_polynomials.bases(piece, points.at, tuple(terms))
    for part, by in zip(parts, terms.values(), strict=True):
        change = _corners(factors, part)[own, points.corners]
        places += change[:, None] * by[:, None, None]
    return places


def _corners(factors: Array, basis: Array) -> Array:
    """All corners of the obstacle (q, v, 3) in some poses, or their derivatives."""
    return np.asarray((basis @ factors.reshape(len(factors), -1)).reshape(len(basis), *factors.shape[1:]))


def _placed(obstacle: Obstacle, solved: Sequence[motion_polynomials.HubMotion], points: Points) -> Array:
    """Where the points' material is on another reading of the obstacle and its suspension, (y', r) (q, 2)."""
    places = np.empty((len(points), 3))
    for i, motion in enumerate(solved):
        for piece in motion.pieces:
            mine = np.flatnonzero((points.family == i) & motion_polynomials.inside(piece, points.at))
            some = points.some(mine)
            basis = motion_polynomials.basis(piece, some.at)
            at = _corners(motion_polynomials.coefficients(piece, obstacle), basis)
            places[mine] = np.einsum("qc,qcx->qx", some.weights, at[np.arange(len(some))[:, None], some.corners])
    return to_half_plane(places)


def _raster(points: Points) -> Mask:
    marked = np.zeros(shape(), dtype=bool)
    marked.ravel()[cell_of(points.plane)] = True
    return marked


def _region(obstacle: Obstacle, marked: Mask, gap: int = 1) -> Mask:
    """Cells (ny, nr) an obstacle covers, of the cells its traced points pass, gaps of 2 `gap` cells closed.

    A panel's lines bound what it covers; what they enclose cannot be reached from the hub and counts as covered.
    """
    whole = closed(marked, gap)
    if obstacle.shape == "panel":
        outside = np.zeros_like(whole)
        outside[[0, -1]] = outside[:, -1] = True
        return ~spread(outside & ~whole, ~whole)
    if obstacle.shape == "ring" and len(obstacle.outline) > 2:
        y, r = centre_of(np.arange(whole.size)).T
        whole |= contains_xy(Polygon(obstacle.outline), y, r).reshape(whole.shape)
    return whole
