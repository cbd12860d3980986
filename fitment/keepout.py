"""The keep-out: where parts are, seen from the hub, in every pose of travel and steer, with identity kept.

Traced points of every obstacle are laid on a raster of the hub's half plane, and those on the boundary of what
they sweep are kept: what comes closest to a section, or goes deepest into it, lies there, or at a place where the
section itself is deepest. Points between the first poses follow from the motion's own derivatives.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, contains_xy

from fitment import smooth
from fitment.fit import Variant, known_motion, stretched_travel
from fitment.frames import Array, to_half_plane
from fitment.obstacles import Obstacle
from fitment.suspension import Family, families
from fitment.trace import Index, Trace, trace
from fitment.vehicle import Axle

CELL = 2.0  # [mm] of the raster
STEP = 12.0  # [mm] motion of a point at the tread between the first poses
SPACING = 4.0  # [mm] of points along a line in these poses
MOST_PASSED = 16  # places looked at between two poses
FINER = 4  # parts into which a step of travel and of share is divided afterwards
REACH = 450.0  # [mm] distance from the hub at which a step of share is taken
FARTHEST = (-520.0, 520.0, 600.0)  # [mm] y' from and to, and r, of what is kept
DIRECTIONS = 16  # in which the outermost points are kept
PATCH = 1.0  # [mm] of which they are the outermost
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Points:
    """Traced points (q,) of one obstacle.

    plane : (y', r) [mm] (q, 2)
    travel, share : pose [mm], [-1 .. 1]; family : index of its family of poses
    corners, weights : where on the obstacle's corners (q, 3), (q, 3)
    along : change of the weights from one point to the next along the traced line (q, 3)
    """

    plane: Array
    travel: Array
    share: Array
    family: Index
    corners: Index
    weights: Array
    along: Array

    def __len__(self) -> int:
        return len(self.plane)

    def at(self, chosen: Index | Mask) -> Points:
        """Some of them."""
        return Points(*(getattr(self, each.name)[chosen] for each in fields(self)))


@dataclass(frozen=True)
class KeptOut:
    """What one obstacle sweeps.

    points : its boundary; cells : the raster cell of each (q,); moved : (y', r) by which each toleranced reading
        moves the points against us or for us (q, v, 2) [mm]; thicker : sum of what the readings add to its radius
    swept : raster cells that it sweeps, (ny, nr), for places where a section is deepest
    """

    obstacle: Obstacle
    points: Points
    cells: Index
    moved: Array
    thicker: float
    swept: Mask


@dataclass(frozen=True)
class Ask:
    """An axle whose keep-out is wanted over a range of travel [mm], and the axle with one reading moved, each."""

    axle: Axle
    travel: smooth.Span
    variants: tuple[Variant, ...] = ()


@dataclass(frozen=True)
class KeepOut:
    """All parts of an axle in all poses; serves every wheel at any ride height within the travel."""

    ask: Ask
    parts: tuple[KeptOut, ...]


# ---------------------------------------------------------------- the raster


def shape() -> tuple[int, int]:
    """Cells of the raster along y' and r."""
    low, high, far = FARTHEST
    return int((high - low) / CELL), int(far / CELL)


def cell_of(plane: Array) -> Index:
    """Flat index (q,) of the cells that hold points (q, 2); they must lie within FARTHEST."""
    columns = shape()[1]
    along = np.floor((plane - (FARTHEST[0], 0.0)) / CELL).astype(np.intp)
    return np.asarray(along[:, 0] * columns + along[:, 1])


def centre_of(cells: Index) -> Array:
    """(y', r) of the cells' centres (q, 2) [mm]."""
    along = np.stack(np.divmod(cells, shape()[1]), -1)
    return np.asarray((along + 0.5) * CELL + (FARTHEST[0], 0.0))


def _within(plane: Array) -> Mask:
    """Which points (..., 2) the raster holds, less its outermost cells."""
    y, r = plane[..., 0], plane[..., 1]
    return np.asarray((y > FARTHEST[0] + CELL) & (y < FARTHEST[1] - CELL) & (r < FARTHEST[2] - CELL))


def _grown(raster: Mask, by: int) -> Mask:
    """Cells within `by` of a marked one, in both directions."""
    for axis in (0, 1):
        wide = np.pad(raster, [(by, by) if i == axis else (0, 0) for i in (0, 1)])
        n = raster.shape[axis]
        parts = (wide[i : i + n] if axis == 0 else wide[:, i : i + n] for i in range(2 * by + 1))
        raster = np.logical_or.reduce(list(parts))
    return raster


def _closed(raster: Mask, by: int) -> Mask:
    """The raster with gaps of up to twice `by` cells closed."""
    return ~_grown(~_grown(raster, by), by) | raster if by else raster


def surrounded(raster: Mask) -> Mask:
    """Marked cells whose neighbours are all marked."""
    return ~_grown(~raster, 1)


def spread(reached: Mask, free: Mask) -> Mask:
    """Free cells that hang together with reached ones, by their sides."""
    while True:
        more = _along_runs(_along_runs(reached, free).T, free.T).T
        if np.array_equal(more, reached):
            return more
        reached = more


def _along_runs(reached: Mask, free: Mask) -> Mask:
    """Reached cells spread along the free runs of their rows."""
    run = np.cumsum(~free, axis=1) + np.arange(len(free))[:, None] * (free.shape[1] + 1)
    known = np.zeros(run.max() + 1, dtype=bool)
    known[run[reached & free]] = True
    return known[run] & free


# ---------------------------------------------------------------- the sweep


def keep_out(ask: Ask) -> KeepOut:
    """All obstacles of an axle whose motion is known, on a dense sweep of travel and steer. Raises MotionError."""
    return KeepOut(ask, tuple(kept_out(ask, obstacle) for obstacle in known_motion(ask.axle)[0]))


def kept_out(ask: Ask, obstacle: Obstacle) -> KeptOut:
    """What one obstacle of the axle sweeps. Raises MotionError."""
    solved = _solved(ask.axle, ask.axle, ask.travel)
    points, cells, swept = _boundary(obstacle, solved)
    moved, thicker = np.empty((len(points), len(ask.variants), 2)), 0.0
    for i, variant in enumerate(ask.variants):
        read = next(o for o in variant.axle.obstacles if o.name == obstacle.name)
        moved[:, i] = _placed(read, _solved(variant.axle, ask.axle, ask.travel), points) - points.plane
        thicker += abs(read.radius - obstacle.radius)
    return KeptOut(obstacle, points, cells, moved, thicker, swept)


@dataclass(frozen=True)
class _Solved:
    """A family of poses and its motion in pieces."""

    family: Family
    pieces: tuple[smooth.Piece, ...]


@lru_cache(maxsize=64)
def _solved(axle: Axle, measured: Axle, travel: smooth.Span) -> tuple[_Solved, ...]:
    """The motion of an axle over the travel of the axle as measured, its own travel stretched to that."""
    stretch = None if axle is measured else lambda t: stretched_travel(t, measured, axle)
    return tuple(_Solved(f, smooth.pieces(axle, f.poses, travel, f.shares, stretch)) for f in families(axle))


def still(obstacle: Obstacle) -> bool:
    """Whether the obstacle stands still in the hub's frame."""
    return obstacle.shape == "ring" or set(obstacle.fixed_to) == {"knuckle"}


def _boundary(obstacle: Obstacle, solved: Sequence[_Solved]) -> tuple[Points, Index, Mask]:
    """The obstacle's outermost points, their cells, and the cells it sweeps."""
    if still(obstacle):
        zero = np.zeros(1)
        points = _traced(trace(obstacle, solved[0].family.poses(zero, zero)), zero, zero, 0, CELL / 4)
        points = points.at(_within(points.plane))
        cells, swept = cell_of(points.plane), _region(obstacle, _raster(points), 0)
        order = np.argsort(cells, kind="stable")
        return points.at(order), cells[order], swept
    first, marked = [], np.zeros(shape(), dtype=bool)
    for i, each in enumerate(solved):
        for piece in each.pieces:
            first.append(_first(obstacle, each.family, i, piece, marked))
    swept = _region(obstacle, marked)
    outer, _ = _outermost(_joined(first), swept)
    finer = _joined([_refined(obstacle, each, outer.at(outer.family == i)) for i, each in enumerate(solved)])
    points, cells = _outermost(finer, swept | _raster(finer))
    return points, cells, swept


def _joined(parts: Sequence[Points]) -> Points:
    return Points(*(np.concatenate([getattr(part, each.name) for part in parts]) for each in fields(Points)))


def _first(obstacle: Obstacle, family: Family, index: int, piece: smooth.Piece, marked: Mask) -> Points:
    """Traced points in poses STEP apart; marks the raster cells that they pass on the way from pose to pose."""
    spans = zip((piece.travel, piece.share), _steps(family, piece), strict=True)
    levels = [np.linspace(*span, n + 1) for span, n in spans]
    t, s = (level.ravel() for level in np.meshgrid(*levels, indexing="ij"))
    points = _traced(trace(obstacle, family.poses(t, s)), t, s, index, SPACING)
    grid = points.plane.reshape(len(levels[0]), len(levels[1]), -1, 2)
    for axis in (0, 1):
        _mark_between(grid, axis, marked)
    return points.at(_within(points.plane))


def _mark_between(grid: Array, axis: int, marked: Mask) -> None:
    """Mark the cells passed from pose to pose along one axis of a grid of traced points (nt, ns, k, 2)."""
    start, end = (np.take(grid, range(*ends), axis=axis) for ends in ((0, grid.shape[axis] - 1), (1, grid.shape[axis])))
    if not start.size:
        start = end = grid
    start, step = start.reshape(-1, 2), (end - start).reshape(-1, 2)
    near = _within(start) | _within(start + step)
    start, step = start[near], step[near]
    parts = int(np.ceil(np.abs(step).max(initial=0.0) / CELL)) + 1
    for share in np.linspace(0.0, 1.0, min(parts, MOST_PASSED) + 1):
        plane = start + share * step
        marked.ravel()[cell_of(plane[_within(plane)])] = True


def _steps(family: Family, piece: smooth.Piece) -> tuple[int, int]:
    """Steps of travel and of share across a piece."""
    turned = np.radians(family.turn) * REACH * (piece.share[1] - piece.share[0])
    t, s = (int(np.ceil(way / STEP)) for way in (piece.travel[1] - piece.travel[0], turned))
    return t, s


def _traced(traced: Trace, travel: Array, share: Array, family: int, spacing: float) -> Points:
    """Points at most `spacing` apart on the lines of a trace in poses (n,): the same number in every pose."""
    low, high = traced.low, traced.high
    near = (high[..., 0] > FARTHEST[0]) & (low[..., 0] < FARTHEST[1]) & (low[..., 1] < FARTHEST[2])
    real = np.ones_like(near) if traced.point else (high - low).max(axis=2) > 1e-9
    lines = np.flatnonzero((near & real).any(axis=0))
    longest = np.linalg.norm(traced.last[:, lines] - traced.first[:, lines], axis=2).max(axis=0)
    parts = np.maximum(np.ceil(longest / spacing).astype(int), 0 if traced.point else 1)
    line = np.repeat(lines, parts + 1)
    part = np.repeat(1.0 / np.maximum(parts, 1), parts + 1)
    at = (np.arange(len(line)) - np.repeat(np.cumsum(parts + 1) - parts - 1, parts + 1)) * part
    a, b, start, end = (each[:, line] for each in (traced.first, traced.last, traced.start, traced.end))
    n, k = a.shape[:2]
    step = end - start
    return Points(
        to_half_plane(a + at[:, None] * (b - a)).reshape(-1, 2), np.repeat(travel, k), np.repeat(share, k),
        np.full(n * k, family), np.tile(traced.mesh.lines[line], (n, 1)),
        (start + at[:, None] * step).reshape(-1, 3), (step * part[:, None]).reshape(-1, 3),
    )  # fmt: skip


def _refined(obstacle: Obstacle, each: _Solved, points: Points) -> Points:
    """The points and others around them, a FINERth of a step apart in travel, share and along the line.

    Their places follow from the first and second derivatives of the motion.
    """
    found = [points.at(np.empty(0, dtype=np.intp))]
    for piece in each.pieces:
        steps = _steps(each.family, piece)
        mine = points.at(smooth.inside(piece, points.travel, points.share))
        factors = smooth.coefficients(piece, obstacle)
        dt, ds, dl = _around(piece, steps, moves=obstacle.shape != "ball")
        plane = to_half_plane(_moved(piece, factors, mine, dt, ds, dl))
        shape = plane.shape[:2]
        weights = mine.weights[:, None] + dl[:, None] * mine.along[:, None]
        travel, share = mine.travel[:, None] + dt, mine.share[:, None] + ds
        real = smooth.inside(piece, travel, share) & (weights.min(axis=2) > -1e-9)
        real &= _within(plane)
        corners, along = (np.broadcast_to(a[:, None], (*shape, 3))[real] for a in (mine.corners, mine.along))
        family = np.full(int(real.sum()), mine.family[0] if len(mine) else 0)
        found.append(Points(plane[real], travel[real], share[real], family, corners, weights[real], along))
    return _joined(found)


def _around(piece: smooth.Piece, steps: tuple[int, int], *, moves: bool) -> tuple[Array, Array, Array]:
    """Steps (k,) in travel [mm], share, and along the line [shares of the spacing] to the places round a point."""
    part = np.arange(-(FINER // 2), FINER // 2 + 1) / FINER
    still_ = np.zeros(1)
    t, s = (
        (span[1] - span[0]) / n * part if n else still_
        for span, n in zip((piece.travel, piece.share), steps, strict=True)
    )
    line = np.array([-1.0, 0.0, 1.0]) / 3 if moves else still_
    dt, ds, dl = (a.ravel() for a in np.meshgrid(t, s, line, indexing="ij"))
    return dt, ds, dl


def _moved(piece: smooth.Piece, factors: Array, points: Points, dt: Array, ds: Array, dl: Array) -> Array:
    """Places (q, k, 3) in the hub frame of points (q,) moved by steps (k,), to second order."""
    material = np.einsum("qc,kqcx->kqx", points.weights, factors[:, points.corners])
    beside = np.einsum("qc,kqcx->kqx", points.along, factors[:, points.corners])

    def derivative(of: Array, t: int, s: int) -> Array:
        return np.einsum("qk,kqx->qx", smooth.basis(piece, points.travel, points.share, (t, s)), of)[:, None]

    terms = ((0, 0, 1.0), (1, 0, dt), (0, 1, ds), (2, 0, dt * dt / 2), (1, 1, dt * ds), (0, 2, ds * ds / 2))
    place: Array = sum(derivative(material, t, s) * np.broadcast_to(by, dt.shape)[:, None] for t, s, by in terms)
    line: Array = sum(derivative(beside, t, s) * np.broadcast_to(by, dt.shape)[:, None] for t, s, by in terms[:3])
    return place + line * dl[:, None]


def _placed(obstacle: Obstacle, solved: Sequence[_Solved], points: Points) -> Array:
    """Where the points' material is on another reading of the obstacle and its suspension, (y', r) (q, 2)."""
    found = np.empty((len(points), 3))
    for i, each in enumerate(solved):
        for piece in each.pieces:
            mine = (points.family == i) & smooth.inside(piece, points.travel, points.share)
            factors = smooth.coefficients(piece, obstacle)
            material = np.einsum("qc,kqcx->kqx", points.weights[mine], factors[:, points.corners[mine]])
            found[mine] = np.einsum(
                "qk,kqx->qx", smooth.basis(piece, points.travel[mine], points.share[mine]), material
            )
    return to_half_plane(found)


def _raster(points: Points) -> Mask:
    marked = np.zeros(shape(), dtype=bool)
    marked.ravel()[cell_of(points.plane)] = True
    return marked


def _region(obstacle: Obstacle, marked: Mask, gap: int = 1) -> Mask:
    """Cells (ny, nr) an obstacle covers, of the cells its traced points pass, gaps of 2 `gap` cells closed.

    A panel's lines bound what it covers; what they enclose cannot be reached from the hub and counts as covered.
    """
    closed = _closed(marked, gap)
    if obstacle.shape == "panel":
        outside = np.zeros_like(closed)
        outside[[0, -1]] = outside[:, -1] = True
        return ~spread(outside & ~closed, ~closed)
    if obstacle.shape == "ring" and len(obstacle.outline) > 2:
        y, r = centre_of(np.arange(closed.size)).T
        closed |= contains_xy(Polygon(obstacle.outline), y, r).reshape(closed.shape)
    return closed


def _outermost(points: Points, covered: Mask) -> tuple[Points, Index]:
    """Points in cells beside uncovered ones, of each patch those that lie farthest in some direction, by cell."""
    cells = cell_of(points.plane)
    kept = np.flatnonzero(_grown(~covered, 1).ravel()[cells])
    if not len(kept):
        return points.at(kept), cells[kept]
    patch = (np.floor(points.plane[kept] / PATCH) @ (10_000, 1)).astype(np.intp)
    order = np.lexsort((patch, cells[kept]))
    kept, patch = kept[order], patch[order]
    starts = np.flatnonzero(np.r_[True, (np.diff(cells[kept]) != 0) | (np.diff(patch) != 0)])
    size = np.diff(np.r_[starts, len(kept)])
    group = np.repeat(np.arange(len(starts)), size)
    farthest = np.zeros(len(kept), dtype=bool)
    y, r = points.plane[kept].T
    for angle in np.arange(DIRECTIONS) * 2 * np.pi / DIRECTIONS:
        out = y * np.cos(angle) + r * np.sin(angle)
        best = np.flatnonzero(out >= np.repeat(np.maximum.reduceat(out, starts), size))
        farthest[best[np.r_[True, np.diff(group[best]) > 0]]] = True
    return points.at(kept[farthest]), cells[kept[farthest]]
