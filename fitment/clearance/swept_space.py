"""The space that solids of revolution sweep on the move, as a field: how far any point is from ever being met.

A point's distance to a section in the hub's half plane is its distance in space; the least of it over all poses is its
distance to what is swept. Poses are laid out in cells of travel and lock shares, in each of which the motion is told
to second order; where a point can be nearest is found by bounds, and the least in such a cell by search, so that
nothing hangs on how many poses were taken.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import product

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from fitment.clearance.motion_polynomials import HubMotion, Piece, frames_at
from fitment.clearance.section_bounds import distance_bounds
from fitment.clearance.section_distance import off_outline, signed_distance
from fitment.frames import Array
from fitment.workers import Map

Index = NDArray[np.intp]
Frames = Callable[[Array], Array]
CELL = 14.0  # [mm] that any place of the wheel moves across a cell of poses at most, in each way
NODE = 1.0  # [mm] between the nodes of a raster of distances
AROUND = 64.0  # [mm] round a section as far as its raster reaches
ROUGH = 0.71  # [mm] by which the node beside a place may be off
SLACK = 0.08  # [mm] by which a raster may be off beside a corner of the section
ROUNDS = 7  # in which a search in a cell halves its step
BLOCK = 32.0  # [mm] of points that are told the poses to look at together
FEW = 2_000  # points that are not told apart by blocks
POINTS = 3_000  # that are searched together
AT_ONCE = 3_000_000  # distances that are worked out at once
WAYS = 3  # in which poses move at most: travel, roll, steer


@dataclass(frozen=True, eq=False)
class Raster:
    """Signed distances to a section at nodes of its half plane.

    section : (y', r) [mm]; low : the first node (y', r) [mm]
    nodes : [mm] at (y', r), NODE apart (n, m)
    """

    section: Polygon
    low: tuple[float, float]
    nodes: Array

    def at(self, hub: Array) -> Array:
        """Signed distances (n,) [mm] of places in the hub frame (3, n) [mm].

        Beyond the nodes the distance to them is added, so that it is never less than the true one.
        hub : (3, n) [mm]
        Source: the distances at four nodes, linear between.
        """
        (a, b, c, d), s, t, off = self._beside(hub)
        low = a + s * (b - a)
        return np.asarray(low + t * (c + s * (d - c) - low) + off)

    def beside(self, y: NDArray[np.float32], across: NDArray[np.float32]) -> NDArray[np.float32]:
        """Distances (n, c) [mm] of places by the node beside each, within ROUGH where there are nodes.

        y, across : along the spin axis and from it (n, c) [mm]
        Source: as `at`.
        """
        flat, (tall, wide) = self._rounded
        row = np.clip(y * np.float32(1 / NODE) + np.float32(0.5 - self.low[0] / NODE), 0, tall - 1).astype(np.int32)
        column = np.minimum(across * np.float32(1 / NODE) + np.float32(0.5 - self.low[1] / NODE), wide - 1)
        return flat[row * np.int32(wide) + column.astype(np.int32)]

    @cached_property
    def _rounded(self) -> tuple[NDArray[np.float32], tuple[int, int]]:
        return self.nodes.astype(np.float32).ravel(), self.nodes.shape

    def _beside(self, hub: Array) -> tuple[list[Array], Array, Array, Array]:
        """Distances at the four nodes round each place, how far it is between them, and how far beyond all."""
        tall, wide = self.nodes.shape
        y, r = (hub[1] - self.low[0]) / NODE, (np.sqrt(hub[0] ** 2 + hub[2] ** 2) - self.low[1]) / NODE
        y_in, r_in = np.minimum(np.maximum(y, 0.0), tall - 1.001), np.minimum(np.maximum(r, 0.0), wide - 1.001)
        row, column = y_in.astype(np.int32), r_in.astype(np.int32)
        first = row * np.int32(wide) + column
        flat = self.nodes.ravel()
        corners = [flat[first], flat[first + wide], flat[first + 1], flat[first + (wide + 1)]]
        off = np.sqrt((y - y_in) ** 2 + (r - r_in) ** 2) * NODE
        return corners, y_in - row, r_in - column, off


def raster_of(section: Polygon, around: float = 0.0) -> Raster:
    """A raster of signed distances round a section.

    section : (y', r) [mm]; around : distances that are asked for [mm]
    Source: `signed_distance` at each node.
    """
    y0, r0, y1, r1 = section.bounds
    wide = AROUND + around
    spans = (y0 - wide, y1 + wide), (max(r0 - wide, 0.0), r1 + wide)
    ys, rs = (np.arange(start, end + NODE, NODE) for start, end in spans)
    places = np.stack(np.meshgrid(ys, rs, indexing="ij"), -1).reshape(-1, 2)
    return Raster(section, (float(ys[0]), float(rs[0])), signed_distance(section, places).reshape(len(ys), len(rs)))


@dataclass(frozen=True, eq=False)
class Sweeping:
    """A section on its way, seen from a carrier: one setup in one family of poses, over all that its motion covers."""

    raster: Raster
    motion: HubMotion
    carrier: str = "body"


@dataclass(frozen=True, eq=False)
class _Cells:
    """Boxes of poses, and the motion in each to second order.

    sweeping, raster : whose (n,); middle, half : of each way (n, WAYS)
    reach : [mm] that a place of the wheel is moved within it (n,)
    bent : [mm] of that by how the motion bends, of places less than AROUND from it too (n,)
    frame : of the carrier in the hub frame at its middle (n, 4, 3); slope, bend : its derivatives (n, WAYS, 4, 3) and
        (n, WAYS, WAYS, 4, 3)
    """

    sweeping: Index
    raster: Index
    middle: Array
    half: Array
    reach: Array
    bent: Array
    frame: Array
    slope: Array
    bend: Array


@dataclass(frozen=True, eq=False)
class NearestSwept:
    """Where points come nearest to what is swept.

    distance : (n,) [mm]; away : the direction in which it grows (n, 3) [-]; sweeping : which it is nearest to (n,)
    at : travel and shares there (n, 3) [mm, -]
    """

    distance: Array
    away: Array
    sweeping: Index
    at: Array


@dataclass(frozen=True, eq=False)
class SweptSpace:
    """All that some sections sweep, in the frame of their carrier [mm]."""

    sweepings: tuple[Sweeping, ...]

    @cached_property
    def _rasters(self) -> tuple[Raster, ...]:
        return tuple({id(each.raster): each.raster for each in self.sweepings}.values())

    @cached_property
    def _cells(self) -> _Cells:
        numbers = {id(raster): k for k, raster in enumerate(self._rasters)}
        parts = [
            _cells_of(number, numbers[id(each.raster)], each, piece)
            for number, each in enumerate(self.sweepings)
            for piece in each.motion.pieces
        ]
        return _Cells(*(np.concatenate([getattr(p, name) for p in parts]) for name in _Cells.__dataclass_fields__))

    @property
    def poses(self) -> int:
        """How many cells of poses there are."""
        return len(self._cells.half)

    @cached_property
    def box(self) -> tuple[Array, Array]:
        """Corners (3,), (3,) [mm] of a box that holds all of it. Source: corners of boxes round the sections."""
        corners = []
        for k, raster in enumerate(self._rasters):
            own = self._cells.raster == k
            frame = self._cells.frame[own]
            hub = _round(raster.section)
            placed = np.einsum("cnj,nij->cni", hub[:, None, :] - frame[None, :, 3], frame[:, :3])
            reach = self._cells.reach[own][None, :, None]
            corners += [(placed - reach).min(axis=(0, 1)), (placed + reach).max(axis=(0, 1))]
        return np.min(corners, axis=0), np.max(corners, axis=0)

    @property
    def early(self) -> float:
        """By how much `roughly` is too small at most [mm]. Source: the node beside a place."""
        return ROUGH

    @property
    def late(self) -> float:
        """By how much `roughly` is too large at most [mm]. Source: how far any place moves in a cell."""
        return float(self._cells.reach.max()) + ROUGH

    def roughly(self, points: Array) -> Array:
        """Distance (n,) [mm] of points to what is swept, by the middles of cells alone and the nodes beside.

        points : (n, 3) [mm]
        Source: the least of the distances.
        """
        least, every = np.empty(len(points)), np.arange(self.poses)
        if len(points) > FEW:
            for group, cells in self.in_blocks(points):
                least[group] = self._middles(points[group], cells).min(axis=1)
            return least
        step = max(AT_ONCE // self.poses, 1)
        for first in range(0, len(points), step):
            least[first : first + step] = self._middles(points[first : first + step], every).min(axis=1)
        return least

    def _middles(self, points: Array, cells: Index) -> NDArray[np.float32]:
        """Distances (n, c) of points in the middles of cells, each by the node beside it, within ROUGH."""
        x, y, z = (
            np.column_stack([points, np.ones(len(points))]).astype(np.float32) @ one for one in self._flat(cells)
        )
        across = np.sqrt(x * x + z * z)
        found = np.empty(across.shape, dtype=np.float32)
        raster = self._cells.raster[cells]
        for k, own in enumerate(self._rasters):
            mine = np.flatnonzero(raster == k)
            if len(mine) == len(cells):
                return own.beside(y, across)
            if len(mine):
                found[:, mine] = own.beside(y[:, mine], across[:, mine])
        return found

    def _flat(self, cells: Index) -> NDArray[np.float32]:
        """How places in the hub frame follow from points and 1 (3, 4, c)."""
        return np.ascontiguousarray(self._cells.frame[cells].transpose(2, 1, 0), dtype=np.float32)

    def in_blocks(self, points: Array) -> list[tuple[Index, Index]]:
        """Points near each other, and the cells that any of them could be nearest in.

        points : (n, 3) [mm]
        Source: a distance changes by no more than the point moves.
        """
        block = np.floor(points / BLOCK).astype(np.int64)
        _, back = np.unique(block, axis=0, return_inverse=True)
        order = np.argsort(back.ravel(), kind="stable")
        groups = np.split(order, np.flatnonzero(np.diff(back.ravel()[order])) + 1)
        centres = np.array([(points[g].min(axis=0) + points[g].max(axis=0)) / 2 for g in groups])
        radii = np.array([np.linalg.norm(points[g] - c, axis=1).max() for g, c in zip(groups, centres, strict=True)])
        every = np.arange(self.poses)
        blocks = []
        size = max(AT_ONCE // self.poses, 1)
        for first in range(0, len(groups), size):
            here = slice(first, first + size)
            value = self._middles(centres[here], every)
            bar = value.min(axis=1) + 2 * radii[here] + 2 * ROUGH
            near = value - self._cells.reach < bar[:, None]
            blocks += [(g, np.flatnonzero(row)) for g, row in zip(groups[here], near, strict=True)]
        return blocks

    def nearest(self, points: Array, each: Map | None = None) -> tuple[Array, Array]:
        """Distance (n,) [mm] of points to what is swept, and the direction (n, 3) [-] in which it grows.

        points : (n, 3) [mm]; each : a map over this space, of one process if not given
        Source: as `closest`.
        """
        found = self.closest(points, each)
        return found.distance, found.away

    def closest(self, points: Array, each: Map | None = None) -> NearestSwept:
        """The distance of points to what is swept, and where that is.

        points : (n, 3) [mm]; each : a map over this space, of one process if not given
        Negative inside: by how deep the point is in the pose that holds it deepest. To the outline itself, so that no
        raster is in the answer. What is farther than a raster reaches is told as farther.
        Source: derived here: bounds say in which cells it can be, a search finds it there.
        """
        blocks = self.in_blocks(points) if len(points) else []
        ends = np.cumsum([len(group) for group, _ in blocks]) // POINTS
        jobs = [[blocks[i] for i in np.flatnonzero(ends == turn).tolist()] for turn in np.unique(ends).tolist()]
        asked = [[(points[group], cells) for group, cells in job] for job in jobs]
        count, nowhere = len(points), np.zeros(len(points), dtype=np.intp)
        every = NearestSwept(np.empty(count), np.empty((count, 3)), nowhere, np.empty((count, WAYS)))
        for job, found in zip(jobs, (each or Map(self))(SweptSpace.searched, asked, "places measured"), strict=True):
            some = np.concatenate([group for group, _ in job])
            for name in NearestSwept.__dataclass_fields__:
                getattr(every, name)[some] = getattr(found, name)
        return every

    def searched(self, blocks: Sequence[tuple[Array, Index]]) -> NearestSwept:
        """What `closest` tells, of the places of blocks in their order.

        blocks : places (n, 3) [mm], with the cells that each could be nearest in
        Source: as `closest`.
        """
        return self._searched(np.concatenate([places for places, _ in blocks]), *self._candidates(blocks))

    def _candidates(self, blocks: Sequence[tuple[Array, Index]]) -> tuple[Index, Index]:
        """Points, counted through the blocks, and cells that each could be nearest in, by how far it moves in them."""
        pairs, first = [], 0
        for places, cells in blocks:
            middle = self._middles(places, cells)
            bar = middle.min(axis=1, keepdims=True) + 2 * ROUGH
            point, which = np.nonzero(middle - self._cells.reach[cells].astype(np.float32) < bar)
            pairs.append((point + first, cells[which]))
            first += len(places)
        return np.concatenate([point for point, _ in pairs]), np.concatenate([cell for _, cell in pairs])

    def _searched(self, points: Array, point: Index, cell: Index) -> NearestSwept:
        own, ways = self._cells, self._ways
        at = np.column_stack([points, np.ones(len(points))])[point]
        hub = _placed(at, own.frame[cell])
        value = self._values(own.raster[cell], hub)
        best = _least(value, point, len(points))
        could = np.flatnonzero(value - own.reach[cell] < best[point] + SLACK)
        point, cell, value, at, hub = point[could], cell[could], value[could], at[could], hub[:, could]
        way = np.stack([_placed(at, own.slope[cell, k]) * own.half[cell, k] for k in ways])
        reach = np.where(value < AROUND, np.minimum(_reach(hub, way, own.bent[cell]), own.reach[cell]), own.reach[cell])
        could = np.flatnonzero(value - reach - SLACK < best[point])
        point, cell, value, at, hub = point[could], cell[could], value[could], at[could], hub[:, could]
        way, reach, bends = way[..., could], reach[could], self._bends(at, cell)
        least = np.maximum(value - reach, self._in_front(own.raster[cell], hub, [*way, *bends])) - SLACK
        first = np.lexsort([least, point])[np.unique(point, return_index=True)[1]]  # of every point the likeliest
        known = np.full(len(points), np.inf)
        ends = []
        for which in (first, np.arange(len(point))):
            some = which[least[which] < np.minimum(best, known)[point[which]]]
            found = _Found(
                point[some], hub[:, some], way[..., some], bends[..., some], own.raster[cell[some]],
                reach[some], value[some], np.zeros((len(ways), len(some))),
            )  # fmt: skip
            self._descend(found, known)
            ends.append((found, cell[some]))
            known = np.minimum(known, _least(found.value, found.point, len(points)))
        return self._measured(
            _joined([found for found, _ in ends]), np.concatenate([cell for _, cell in ends]), len(points)
        )

    def _in_front(self, raster: Index, hub: Array, moves: Sequence[Array]) -> Array:
        """What the distance of places is at least anywhere in a cell (n,) [mm], by planes that the sections lie behind.

        hub : (3, n) [mm]; moves : what each way and bend adds to it at most, either way (3, n) [mm]
        No place comes nearer to a section than to such a plane, and to that only by what leads straight to it.
        """
        across = np.sqrt(hub[0] ** 2 + hub[2] ** 2)
        plane, least = np.stack([hub[1], across], -1), np.empty(len(across))
        for k, own in enumerate(self._rasters):
            mine = np.flatnonzero(raster == k)
            normal, ahead = distance_bounds(own.section).places(plane[mine])[2:]
            spoke = normal[:, 1] / np.maximum(across[mine], 1e-9)
            x, y, z = spoke * hub[0, mine], normal[:, 0], spoke * hub[2, mine]
            led = sum(np.abs(x * one[0, mine] + y * one[1, mine] + z * one[2, mine]) for one in moves)
            least[mine] = np.sum(normal * plane[mine], axis=1) - ahead - led
        return least

    def _bends(self, at: Array, cell: Index) -> Array:
        """What each two ways add to places and 1 (n, 4) at the ends of a cell (w (w + 1) / 2, 3, n)."""
        own = self._cells
        bends = []
        for i, k in enumerate(self._ways):
            for other in self._ways[: i + 1]:
                by = own.half[cell, k] * own.half[cell, other] / (2 if other == k else 1)
                bends.append(_placed(at, own.bend[cell, k, other]) * by)
        return np.stack(bends)

    @cached_property
    def _ways(self) -> list[int]:
        """Those in which anything moves."""
        return np.flatnonzero(self._cells.half.max(axis=0) > 0).tolist() or [0]

    def _descend(self, found: _Found, known: Array) -> None:
        """The least value in each cell: a step that halves, to all sides, as long as it could still be the least.

        known : of every point a value that is known already
        """
        sides = np.array([side for side in product((-1.0, 0.0, 1.0), repeat=len(found.way)) if any(side)])
        value, share = found.value, found.share
        live = np.arange(len(value))
        for k in range(ROUNDS):
            here, step = found.at(live), 0.5**k
            start, best_value, best_share = here.share, here.value, here.share
            for side in sides:
                tried = np.clip(start + side[:, None] * step, -1.0, 1.0)
                own = self._values(here.raster, here.hub_at(tried))
                better = own < best_value
                best_value, best_share = np.where(better, own, best_value), np.where(better, tried, best_share)
            value[live], share[:, live] = best_value, best_share
            least = np.minimum(known, _least(value, found.point, len(known)))
            live = live[best_value - here.reach * step - SLACK / 2 < least[here.point]]

    def _measured(self, found: _Found, cell: Index, count: int) -> NearestSwept:
        """To the outline itself, in the cell that has each nearest."""
        order = np.lexsort([found.value, found.point])
        one = order[np.unique(found.point[order], return_index=True)[1]]  # of every point the least
        found, cell = found.at(one), cell[one]
        hub = found.hub_at(found.share)
        own, by = self._cells, found.share * self._cells.half[cell].T[self._ways]
        frame = own.frame[cell].copy()
        for i, k in enumerate(self._ways):
            frame += by[i][:, None, None] * own.slope[cell, k]
            for j, other in enumerate(self._ways):
                frame += (by[i] * by[j] / 2)[:, None, None] * own.bend[cell, k, other]
        value, away = np.empty(count), np.empty((count, 3))
        for k, each in enumerate(self._rasters):
            mine = np.flatnonzero(found.raster == k)
            if len(mine):
                value[mine], hub_away = _to_outline(each.section, hub[:, mine])
                away[mine] = np.einsum("jn,nij->ni", hub_away, frame[mine, :3])
        at = own.middle[cell].copy()
        at[:, self._ways] += by.T
        return NearestSwept(value, away, own.sweeping[cell], at)

    def _values(self, raster: Index, hub: Array) -> Array:
        if len(self._rasters) == 1:
            return self._rasters[0].at(hub)
        found = np.empty(hub.shape[1])
        for k, own in enumerate(self._rasters):
            mine = np.flatnonzero(raster == k)
            found[mine] = own.at(hub[:, mine])
        return found


def _placed(points: Array, frame: Array) -> Array:
    """Points and 1 (n, 4), each in a frame of its own (n, 4, 3): (3, n)."""
    return np.stack([np.einsum("ni,ni->n", points, frame[..., j]) for j in range(3)])


@dataclass(frozen=True, eq=False)
class SpreadSpace:
    """A swept space as a field, of which several processes look for the nearest places; each : a map over it."""

    space: SweptSpace
    each: Map

    @property
    def box(self) -> tuple[Array, Array]:
        """Corners (3,), (3,) [mm] of a box that holds all of it. Source: `SweptSpace`."""
        return self.space.box

    @property
    def early(self) -> float:
        """By how much `roughly` is too small at most [mm]. Source: `SweptSpace`."""
        return self.space.early

    @property
    def late(self) -> float:
        """By how much `roughly` is too large at most [mm]. Source: `SweptSpace`."""
        return self.space.late

    def roughly(self, points: Array) -> Array:
        """Distance (n,) [mm] of points to what is swept, by the middles of cells.

        points : (n, 3) [mm]
        Source: `SweptSpace`.
        """
        return self.space.roughly(points)

    def nearest(self, points: Array) -> tuple[Array, Array]:
        """Distance (n,) [mm] of points to what is swept, and the direction (n, 3) [-] in which it grows.

        points : (n, 3) [mm]
        Source: `SweptSpace`.
        """
        return self.space.nearest(points, self.each)


def _least(value: Array, point: Index, count: int) -> Array:
    """The least of the values of each point (count,); the points rise."""
    starts = np.flatnonzero(np.diff(point, prepend=-1))
    least = np.full(count, np.inf)
    if len(point):
        least[point[starts]] = np.minimum.reduceat(value, starts)
    return least


@dataclass(frozen=True, eq=False)
class _Found:
    """Points, each in a cell in which it could be nearest.

    point : which, rising; hub : its place at the cell's middle (3, n); way, bend : what half a cell changes in it
        (w, 3, n) and (w (w + 1) / 2, 3, n); value : its distance at `share` of half a cell (w, n)
    """

    point: Index
    hub: Array
    way: Array
    bend: Array
    raster: Index
    reach: Array
    value: Array
    share: Array

    def at(self, some: Index) -> _Found:
        return _Found(*(getattr(self, name)[..., some] for name in self.__dataclass_fields__))

    def hub_at(self, share: Array) -> Array:
        """The points in the hub frame (3, n) at a share of each way (w, n)."""
        placed, bend = self.hub.copy(), iter(self.bend)
        for k in range(len(share)):
            turned = self.way[k].copy()
            for other in range(k + 1):
                turned += share[other] * next(bend)
            turned *= share[k]
            placed += turned
        return placed


def _to_outline(section: Polygon, hub: Array) -> tuple[Array, Array]:
    """Signed distances (n,) of places (3, n) to the outline, and the way (3, n) in which they grow, hub frame."""
    across = np.sqrt(hub[0] ** 2 + hub[2] ** 2)
    plane = np.stack([hub[1], across], -1)
    value, off = signed_distance(section, plane), off_outline(section, plane)
    way = np.where(np.abs(value) > 1e-6, off.T / np.where(np.abs(value) > 1e-6, value, 1.0), 0.0)
    spoke = way[1] / np.maximum(across, 1e-9)
    return value, np.stack([spoke * hub[0], way[0], spoke * hub[2]])


def _reach(hub: Array, way: Array, bent: Array) -> Array:
    """By how much the distance of places may change in a cell (n,) [mm]: as far as they move in the half plane.

    hub : (3, n) [mm]; way : of half a cell (w, 3, n) [mm]; bent : what bends of the motion add (n,) [mm]
    Source: derived here; what goes round the axis, t at r, lifts a place by sqrt(r^2 + t^2) - r at most. Both count
    twice, so that a share of it holds from anywhere in the cell.
    """
    across = np.sqrt(hub[0] ** 2 + hub[2] ** 2)
    outward, around = hub[::2] / np.maximum(across, 1e-9), np.zeros(len(across))
    moved = np.zeros(len(across))
    for one in way:
        rise = outward[0] * one[0] + outward[1] * one[2]
        moved += np.sqrt(one[1] ** 2 + rise**2)
        around += np.abs(outward[0] * one[2] - outward[1] * one[0])
    nearer = np.maximum(across - moved, 0.0)  # where going round lifts it most
    return np.asarray(moved + 2 * (bent + np.sqrt(nearer**2 + around**2) - nearer))


def _joined(parts: Sequence[_Found]) -> _Found:
    return _Found(*(np.concatenate([getattr(p, name) for p in parts], axis=-1) for name in _Found.__dataclass_fields__))


def _round(section: Polygon, around: float = 0.0) -> Array:
    """Corners (8, 3) of a box round a section's solid and so much round it [mm], hub frame."""
    y0, _, y1, r1 = np.array(section.bounds) + around * np.array([-1.0, 0.0, 1.0, 1.0])
    return np.array(list(product((-r1, r1), (y0, y1), (-r1, r1))))


def _cells_of(number: int, raster: int, sweeping: Sweeping, piece: Piece) -> _Cells:
    """The cells of a piece of a motion; number : of the sweeping, raster : of its raster."""
    spans = [*piece.spans, *[(0.0, 0.0)] * (WAYS - len(piece.spans))]
    ways = len(piece.spans)

    def frames(places: Array) -> Array:
        """The carrier in the hub frame (q, 4, 3) at places of this piece (q, WAYS)."""
        return frames_at(HubMotion(sweeping.motion.family, (piece,)), places[:, :ways])(sweeping.carrier)

    section = sweeping.raster.section
    corners = _round(section)
    counts = [_count(frames, corners, spans, k) for k in range(WAYS)]
    middles, halves = [], []
    for (low, high), count in zip(spans, counts, strict=True):
        ends = np.linspace(low, high, count + 1)
        middles.append((ends[1:] + ends[:-1]) / 2)
        halves.append((high - low) / count / 2)
    at = np.stack([a.ravel() for a in np.meshgrid(*middles, indexing="ij")], -1)
    half = np.array(halves)
    frame = frames(at)
    slope, bend = _derivatives(frames, at, half)
    reach = np.zeros(len(at))
    inside = np.einsum("ncj,nij->nci", corners[None] - frame[:, None, 3], frame[:, :3])
    for side in product((-1.0, 1.0), repeat=WAYS):
        there = frames(at + np.array(side) * half)
        moved = np.einsum("nci,nij->ncj", inside, there[:, :3]) + there[:, None, 3] - corners[None]
        reach = np.maximum(reach, np.linalg.norm(moved, axis=-1).max(axis=1))
    n = len(at)
    ends = np.column_stack([_round(section, AROUND), np.ones(8)])
    by = np.einsum("cm,qijmk->qijck", ends, bend)
    bent = np.einsum("qijc,i,j->qc", np.linalg.norm(by, axis=-1), half, half).max(axis=1) / 2
    halves_of = np.broadcast_to(half, (n, WAYS)).copy()
    of = np.full(n, number), np.full(n, raster)
    return _Cells(*of, at, halves_of, reach * 1.02, bent * 1.02 + 0.02, frame, slope, bend)


def _count(frames: Frames, corners: Array, spans: Sequence[tuple[float, float]], way: int) -> int:
    """Into how many cells a way is divided, so that no place of the wheel moves more than CELL in one."""
    low, high = spans[way]
    if low == high:
        return 1
    line = np.linspace(low, high, 13)
    longest = 0.0
    others = [np.unique([a, (a + b) / 2, b]) for a, b in (span for k, span in enumerate(spans) if k != way)]
    for rest in product(*others):
        at = np.insert(np.broadcast_to(rest, (len(line), WAYS - 1)), way, line, axis=1)
        there = frames(at)
        body = np.einsum("ncj,nij->nci", corners[None] - there[:, None, 3], there[:, :3])
        longest = max(longest, float(np.linalg.norm(np.diff(body, axis=0), axis=-1).max()) * (len(line) - 1))
    return max(int(np.ceil(longest / CELL)), 1)


def _derivatives(frames: Frames, at: Array, half: Array) -> tuple[Array, Array]:
    """First and second derivatives of the frames at places, by differences over a part of the cell."""
    n = len(at)
    slope, bend = np.zeros((n, WAYS, 4, 3)), np.zeros((n, WAYS, WAYS, 4, 3))
    step = np.diag(half)
    middle = frames(at)
    moving = [k for k in range(WAYS) if half[k] > 0]
    plus = {k: frames(at + step[k]) for k in moving}
    minus = {k: frames(at - step[k]) for k in moving}
    for k in moving:
        slope[:, k] = (plus[k] - minus[k]) / (2 * half[k])
        bend[:, k, k] = (plus[k] + minus[k] - 2 * middle) / half[k] ** 2
        for other in moving:
            if other < k:
                both = frames(at + step[k] + step[other]) + frames(at - step[k] - step[other])
                across = frames(at + step[k] - step[other]) + frames(at - step[k] + step[other])
                bend[:, k, other] = bend[:, other, k] = (both - across) / (4 * half[k] * half[other])
    return slope, bend
