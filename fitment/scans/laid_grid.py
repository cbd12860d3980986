"""A scan as a grid of points over it, as a tape would find them: rows on the clock, columns across or out.

What a pattern is cut by must be one sheet that lies flat, without noise and holes. So the scan's places are gathered
round the nodes of a grid, each node stands in their middle, and how far the scan comes nearer to the wheel than the
grid is told: whoever draws by the grid takes that off.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitment.errors import FitmentError
from fitment.frames import Array
from fitment.parts.obstacles import Obstacle, Point
from fitment.parts.scan import ScanMesh

NODE = 40.0  # [mm] between the nodes of the grid
SAMPLED = 2.5  # [mm] between the places of the scan that are looked at, or its own corners where these are closer
FEWEST, MOST = 4, 60  # lines of the grid each way
OFF = 15.0  # [mm] by which the scan may come nearer than the grid; more, and it is no single sheet
SETTLED = 300  # rounds after which a skin over a hole lies still
AT_ONCE = 2_000_000  # places of a scan
Index = NDArray[np.intp]


@dataclass(frozen=True)
class GridOver:
    """A scan as a panel.

    readings : the panel as measured, and with each reading moved; the same rows and columns
    off : how far the scan comes nearer to the wheel than the panel, at most [mm]
    bridged : share of the panel's points beside which the scan has nothing, as at a hole [-]
    """

    readings: tuple[Obstacle, ...]
    off: float
    bridged: float


@dataclass(frozen=True)
class _Map:
    """Places as (turn, lean, height): about the spin axis, in its half plane round the tire's middle, and from that.

    centre : of the hub's face; heart : (along, radius) of the tire's middle from it [mm]; middle : turn counted as 0
    """

    centre: Array
    heart: tuple[float, float]
    middle: float

    def of(self, places: Array) -> Array:
        """(..., 3) of (..., 3) [rad, rad, mm]; lean grows from the axle's middle over the top to the outside."""
        way = places - self.centre
        turn = (np.arctan2(way[..., 2], way[..., 0]) - self.middle + np.pi) % (2 * np.pi) - np.pi
        along, up = way[..., 1] - self.heart[0], np.hypot(way[..., 0], way[..., 2]) - self.heart[1]
        return np.stack([turn, np.arctan2(along, up), np.hypot(along, up)], -1)

    def back(self, mapped: Array) -> Array:
        """The places of what is mapped (..., 3) [mm]."""
        turn, lean, height = np.moveaxis(mapped, -1, 0)
        along, radius = self.heart[0] + height * np.sin(lean), self.heart[1] + height * np.cos(lean)
        turn = turn + self.middle
        return np.asarray(self.centre + np.stack([radius * np.cos(turn), along, radius * np.sin(turn)], -1))


def grid_over(readings: Sequence[Obstacle], centre: Point, heart: tuple[float, float]) -> GridOver:
    """A scan, as measured and with each reading moved, as panels.

    centre : of the hub's face, body frame at the reference pose [mm]; heart : how far along the spin axis from it, and
        how far from the axis, the middle of the tire's section is [mm]
    Raises FitmentError for a scan that is no single sheet as seen from there.
    Source: derived here, see the top of the module.
    """
    meshes = [reading.mesh for reading in readings]
    own = meshes[0]
    assert own is not None
    shares, faces = _samples(own)
    places = _at(own, faces, shares)
    mean = places.mean(axis=0) - np.array(centre)
    rows, off, node, empty = _laid(places, _Map(np.array(centre), heart, float(np.arctan2(mean[2], mean[0]))))
    if off > OFF:
        raise FitmentError(
            f"{readings[0].name}: no line to cut along is drawn on it, since it is no single sheet: as seen from the "
            f"tire it stands up to {off:.0f} mm before a smooth one, {OFF:g} mm are allowed. Part it: give "
            "each face a zone of its own (zones: in the profile, boxes of ahead, up and out, or clock); a narrow lip "
            "that is still refused, read by tape as an edge."
        )
    panels = [rows]
    for mesh in meshes[1:]:
        assert mesh is not None
        moved = np.stack([_mean(each, node, rows.shape[:2]) for each in (_at(mesh, faces, shares) - places).T], -1)
        panels.append(rows + _bridged(moved, empty))
    named = tuple(
        Obstacle(
            reading.name, "panel", tuple((x, y, z) for x, y, z in panel.reshape(-1, 3).tolist()), panel.shape[1],
            reading.fixed_to, reading.radius + off, reading.allowance, reading.tolerance, reading.meets, reading.side,
        )
        for reading, panel in zip(readings, panels, strict=True)
    )  # fmt: skip
    return GridOver(named, off, float(np.mean(empty)))


def _samples(mesh: ScanMesh) -> tuple[Array, Index]:
    """Places on the triangles: their shares of the three corners (s, 3) and which triangle each is on (s,)."""
    corners = mesh.vertices[mesh.faces]
    longest = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=-1).max(axis=1)
    parts = np.ceil(longest / SAMPLED).astype(int).clip(1, 400)
    wanted = float(np.sum((parts + 1.0) * (parts + 2.0) / 2))
    if wanted > AT_ONCE:  # fine enough by its own corners
        parts = np.maximum((parts * np.sqrt(AT_ONCE / wanted)).astype(int), 1)
    shares, faces = [], []
    for count in np.unique(parts).tolist():
        mine = np.flatnonzero(parts == count)
        i, j = np.array([(i, j) for i in range(count + 1) for j in range(count + 1 - i)]).T
        own = np.stack([i, j, count - i - j], -1) / count
        shares.append(np.tile(own, (len(mine), 1)))
        faces.append(np.repeat(mine, len(own)))
    return np.concatenate(shares), np.concatenate(faces)


def _at(mesh: ScanMesh, faces: Index, shares: Array) -> Array:
    return np.asarray(np.einsum("sc,sck->sk", shares, mesh.vertices[mesh.faces[faces]]))


def _laid(places: Array, way: _Map) -> tuple[Array, float, Index, NDArray[np.bool_]]:
    """The grid (r, c, 3) [mm], by how much the places are nearer at most [mm], the node of each, nodes without one."""
    mapped = way.of(places)
    turn, across, height = mapped.T
    rows = _lines(float(np.ptp(turn)) * float(np.mean(np.hypot(*(places - way.centre)[:, [0, 2]].T))))
    turns = np.linspace(turn.min(), turn.max(), rows)
    low, high = _edges(turn, across, turns)
    columns = _lines(float(np.max(high - low)) * float(np.mean(height)))
    u = (turn - turns[0]) / max(float(turns[1] - turns[0]), 1e-9)
    v = _share(u, across, low, high) * (columns - 1)
    node = np.rint(u).astype(int) * columns + np.rint(v).astype(int)
    lift = _lifted(height, u, v, node, (rows, columns))
    wide = low[:, None] + (high - low)[:, None] * np.linspace(0, 1, columns)
    grid = way.back(np.stack([np.broadcast_to(turns[:, None], wide.shape), wide, lift], -1))
    empty = np.isnan(lift)
    grid = _bridged(grid, empty)
    there = way.of(_on(grid, u, v))[:, 2]
    return grid, max(float(np.max(there - height)), 0.0), node, empty


def _lines(length: float) -> int:
    return int(np.clip(np.ceil(length / NODE) + 1, FEWEST, MOST))


def _edges(turn: Array, across: Array, turns: Array) -> tuple[Array, Array]:
    """From where to where places reach across at each turn, those of the stretches beside it counted (r,) [rad]."""
    step = np.clip(np.searchsorted(turns, turn, side="right") - 1, 0, len(turns) - 2)
    low, high = np.full(len(turns) - 1, np.inf), np.full(len(turns) - 1, -np.inf)
    np.minimum.at(low, step, across)
    np.maximum.at(high, step, across)
    low, high = np.where(np.isfinite(low), low, across.min()), np.where(np.isfinite(high), high, across.max())
    low = np.minimum(np.append(low, low[-1]), np.insert(low, 0, low[0]))
    high = np.maximum(np.append(high, high[-1]), np.insert(high, 0, high[0]))
    return low, np.maximum(high, low + 1e-6)


def _share(u: Array, across: Array, low: Array, high: Array) -> Array:
    """How far across each place is, 0 at the low edge, 1 at the high one."""
    lines = np.arange(len(low))
    first, last = np.interp(u, lines, low), np.interp(u, lines, high)
    return np.clip((across - first) / (last - first), 0.0, 1.0)


def _mean(values: Array, node: Index, shape: tuple[int, ...]) -> Array:
    """The mean of the values round each node, nan where there are none."""
    size = int(np.prod(shape))
    count = np.bincount(node, minlength=size)
    return np.asarray(
        np.where(count > 0, np.bincount(node, values, size) / np.maximum(count, 1), np.nan).reshape(shape)
    )


def _lifted(height: Array, u: Array, v: Array, node: Index, shape: tuple[int, int]) -> Array:
    """The height of each node: the mean round it, brought from where that stands to the node, along the slope there."""
    mean = _mean(height, node, shape)
    for axis, at in enumerate((u, v)):
        lines = np.arange(shape[axis]).reshape((-1, 1) if axis == 0 else (1, -1))
        stands = _mean(at, node, shape)
        slope = _slope(mean, stands, axis)
        mean = mean - np.where(np.isfinite(slope), slope, 0.0) * (stands - lines)
    return mean


def _slope(mean: Array, stands: Array, axis: int) -> Array:
    """How the mean changes along an axis from the node before to the one behind, or from or to the node itself."""

    def ahead(values: Array, by: int) -> Array:
        moved = np.roll(values, -by, axis)
        edge = [slice(None), slice(None)]
        edge[axis] = slice(-1, None) if by > 0 else slice(0, 1)
        moved[tuple(edge)] = np.nan
        return np.where(np.isfinite(moved), moved, values)

    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray((ahead(mean, 1) - ahead(mean, -1)) / (ahead(stands, 1) - ahead(stands, -1)))


def _bridged(grid: Array, empty: NDArray[np.bool_]) -> Array:
    """The grid with its empty nodes in the middle of those beside them, as a skin over a hole."""
    grid = np.where(empty[..., None], np.nan, grid)
    for _ in range(SETTLED):
        if not empty.any():
            break
        beside = np.pad(grid, ((1, 1), (1, 1), (0, 0)), constant_values=np.nan)
        near = np.stack([beside[:-2, 1:-1], beside[2:, 1:-1], beside[1:-1, :-2], beside[1:-1, 2:]])
        known = np.isfinite(near)
        total, count = np.where(known, near, 0.0).sum(axis=0), known.sum(axis=0)
        grid = np.where(empty[..., None] & (count > 0), total / np.maximum(count, 1), grid)
    return grid


def _on(grid: Array, u: Array, v: Array) -> Array:
    """Places (n, 3) on a grid's triangles [mm]: u rows down, v columns across; cells are split as a panel's."""
    i = np.clip(u.astype(int), 0, grid.shape[0] - 2)
    j = np.clip(v.astype(int), 0, grid.shape[1] - 2)
    a, b = (u - i)[:, None], (v - j)[:, None]
    first, last = grid[i, j], grid[i + 1, j + 1]
    across, down = grid[i, j + 1], grid[i + 1, j]
    one = first + b * (across - first) + a * (last - across)
    other = first + a * (down - first) + b * (last - down)
    return np.where(b >= a, one, other)
