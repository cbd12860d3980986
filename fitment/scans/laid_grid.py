"""A scan as a grid of points over it, as a tape would find them: rows on the clock, columns across or out.

What a pattern is cut by must be one sheet that lies flat, without noise and holes. So the scan's places are gathered
round the nodes of a grid, each node stands in their middle, and how far the scan comes nearer to the wheel than the
grid is told: whoever draws by the grid takes that off. A sheet with folds, such as a lip with its flange, hides itself
as seen from the tire: its columns go along its section instead, slice by slice, and every fold is one of them.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitment.errors import FitmentError
from fitment.frames import Array
from fitment.parts.obstacles import Obstacle, Point
from fitment.parts.scan import ScanMesh
from fitment.scans.folded_section import columns_of, section_curve

NODE = 40.0  # [mm] between the nodes of the grid
SAMPLED = 2.5  # [mm] between the places of the scan that are looked at, or its own corners where these are closer
SLICE, FOLD_NODE = 15.0, 12.0  # [mm] half of a section's thickness; between columns of a sheet with folds
FEWEST, MOST = 4, 60  # lines of the grid each way
OFF = 15.0  # [mm] by which the scan may come nearer than the grid; more, and it is no single sheet
SETTLED = 300  # rounds after which a skin over a hole lies still
AT_ONCE = 2_000_000  # places of a scan
Index = NDArray[np.intp]
_Laid = tuple[Array, float, Index, NDArray[np.bool_], tuple[int, ...]]


@dataclass(frozen=True)
class GridOver:
    """A scan as a panel.

    readings : the panel as measured, and with each reading moved; the same rows and columns
    off : how far the scan comes nearer to the wheel than the panel, at most; of one with folds, how far it lies off it
        on either side [mm]
    bridged : share of the panel's points beside which the scan has nothing, as at a hole [-]
    is_folded : its columns go along the scan's section; folds : those at which it is folded
    """

    readings: tuple[Obstacle, ...]
    off: float
    bridged: float
    is_folded: bool = False
    folds: tuple[int, ...] = ()


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
    way = _Map(np.array(centre), heart, float(np.arctan2(mean[2], mean[0])))
    rows, off, node, empty, folds = _laid(places, way)
    unrolled = _unrolled(places, way) if off > OFF else None
    if unrolled and unrolled[1] <= OFF:
        rows, off, node, empty, folds = unrolled
    elif off > OFF:
        raise FitmentError(
            f"{readings[0].name}: no line to cut along is drawn on it, since it is no single sheet: as seen from the "
            f"tire it stands up to {off:.0f} mm before a smooth one, {OFF:g} mm are allowed, and "
            f"{_followed(unrolled)}. Part it: give each face a zone of its own (zones: in the profile, boxes of ahead, "
            "up and out, or clock); a narrow lip that is still refused, read by tape as an edge."
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
    return GridOver(named, off, float(np.mean(empty)), is_folded=unrolled is not None, folds=folds)


def _followed(unrolled: _Laid | None) -> str:
    """How a sheet with folds, along its section, was refused."""
    if unrolled is None:
        return "its section is no single line round folds either"
    return f"{unrolled[1]:.0f} mm off one laid along its folds"


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


def _laid(places: Array, way: _Map) -> _Laid:
    """The grid (r, c, 3) [mm], by how much the places are nearer at most [mm], the node of each, nodes without one, and
    the columns that are folds."""
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
    return grid, max(float(np.max(there - height)), 0.0), node, empty, ()


@dataclass(frozen=True)
class _Slices:
    """Places cut across: how far along each is (n,) [mm], and where in its section (n, 2) [mm].

    back : places (c, 3) of a line in the section so far along (c, 2)
    """

    along: Array
    section: Array
    back: Callable[[float, Array], Array]


def _slices(places: Array, way: _Map) -> tuple[_Slices, _Slices]:
    """Slices about the spin axis, and straight ones across the longest way through the places."""
    out = places - way.centre
    turn, radius = way.of(places)[:, 0], np.hypot(out[:, 0], out[:, 2])
    mean = float(np.mean(radius))

    def about(along: float, line: Array) -> Array:
        angle = along / mean + way.middle
        x, z = line[:, 1] * np.cos(angle), line[:, 1] * np.sin(angle)
        return np.asarray(way.centre + np.stack([x, line[:, 0], z], -1))

    middle = places.mean(axis=0)
    axes = np.linalg.eigh(np.cov((places - middle).T))[1].T  # the longest way last
    straight = (places - middle) @ axes.T

    def across(along: float, line: Array) -> Array:
        return np.asarray(middle + np.column_stack([line, np.full(len(line), along)]) @ axes)

    round_ = _Slices(turn * mean, np.stack([out[:, 1], radius], -1), about)
    return round_, _Slices(straight[:, 2], straight[:, :2], across)


def _unrolled(places: Array, way: _Map) -> _Laid | None:
    """The same of a sheet with folds, its columns along its section in each slice; None where it has no section.

    Off is here how far a place of the scan is from the grid, before it or behind it.
    """
    found = [laid for each in _slices(places, way) if (laid := _along_sections(places, each))]
    return min(found, key=lambda laid: laid[1], default=None)


def _along_sections(places: Array, slices: _Slices) -> _Laid | None:
    low, high = float(slices.along.min()), float(slices.along.max())
    rows = _lines(high - low)
    at = np.linspace(low, high, rows)
    curves = [section_curve(slices.section[np.abs(slices.along - each) < SLICE]) for each in at]
    known = [i for i, curve in enumerate(curves) if curve is not None]
    if len(known) < rows / 2:
        return None
    found, folds = columns_of(_one_way([curve for curve in curves if curve is not None]), FOLD_NODE, MOST)
    lines = _smoothed(found)
    columns = len(lines[0])
    grid = np.full((rows, columns, 3), np.nan)
    for i, line in zip(known, lines, strict=True):
        grid[i] = slices.back(float(at[i]), line)
    grid = _bridged(grid, np.isnan(grid[..., 0]))
    u = (slices.along - low) / max(float(at[1] - at[0]), 1e-9)
    v = _nearest_across(grid, places, u)
    node = np.rint(u).astype(int) * columns + np.rint(v).astype(int)
    empty = np.bincount(node, minlength=rows * columns).reshape(rows, columns) == 0
    return grid, float(np.linalg.norm(_on(grid, u, v) - places, axis=1).max()), node, empty, folds


def _smoothed(lines: Sequence[Array]) -> Array:
    """Lines of as many places each (r, c, 2), each in the middle of those beside it.

    Source: Savitzky and Golay 1964, five neighbours and a parabola, so that what is curved stays where it is.
    """
    found = np.array(lines)
    if len(found) > 4:
        beside = [found[k : len(found) - 4 + k] for k in range(5)]
        found[2:-2] = np.tensordot(np.array([-3.0, 12.0, 17.0, 12.0, -3.0]) / 35, beside, 1)
    return found


def _one_way(curves: Sequence[Array]) -> list[Array]:
    """Lines (k, 2), each turned so that it leads the way of the one before."""
    found = [curves[0]]
    for curve in curves[1:]:
        straight, turned = (np.linalg.norm(each[[0, -1]] - found[-1][[0, -1]]) for each in (curve, curve[::-1]))
        found.append(curve if straight <= turned else curve[::-1])
    return found


def _nearest_across(grid: Array, places: Array, u: Array) -> Array:
    """The column, with its share to the next, of the nearest place on a grid's line at each place's turn (n,)."""
    found = np.empty(len(places))
    for some in np.array_split(np.arange(len(places)), len(places) * grid.shape[1] // 1_000_000 + 1):
        i = np.clip(u[some].astype(int), 0, grid.shape[0] - 2)
        share = (u[some] - i)[:, None, None]
        line = grid[i] + share * (grid[i + 1] - grid[i])
        step, off = np.diff(line, axis=1), places[some, None] - line[:, :-1]
        size = np.maximum(np.sum(step**2, axis=2), 1e-12)
        at = np.clip(np.sum(off * step, axis=2) / size, 0.0, 1.0)
        far = np.sum((off - at[..., None] * step) ** 2, axis=2)
        best = np.argmin(far, axis=1)
        found[some] = best + np.take_along_axis(at, best[:, None], 1)[:, 0]
    return found


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
