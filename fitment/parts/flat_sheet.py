"""A panel laid flat: rolled out row by row, what does not lie flat stretched as little as can be, and by how much."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fitment.frames import Array
from fitment.parts.solid_panel import sheet_triangles

Index = NDArray[np.intp]
STRETCH = 0.01  # [-] to which a length may be off in what lies flat in one piece; common practice, no published source
ROUNDS, SETTLED = 30, 1e-6  # of the search for the least stretch; [mm] by which nothing moves any more
HOLD = 1e-9  # of a corner where it is, against the lengths


@dataclass(frozen=True)
class FlatSheet:
    """A panel laid flat.

    corners : of each point (n, 2) [mm], the first row along x from the left
    stretch : by how much a length on it is off at most, as a share of it [-]
    off : the same of the longest line through it, along a row, a column or corner to corner [mm]
    folded : some of it lies over another part of it
    """

    corners: Array
    stretch: float
    off: float
    folded: bool

    @property
    def lies(self) -> bool:
        """Whether it lies flat in one piece."""
        return self.stretch <= STRETCH and not self.folded


def laid_flat(rows: Array) -> FlatSheet:
    """A panel laid flat on the side that its rows and columns turn counter-clockwise.

    rows : (r, c, 3) [mm]
    Source: geometry. Each triangle is laid beside the one before it by its three sides, row by row; where that leaves
    sides that do not meet, the squares of all sides' misfits are made least (Gauss-Newton). How much each triangle is
    stretched is told by the singular values of its map. A rough and narrow sheet may come out with a triangle turned
    over; it is then begun from its two edges, which lie flat by themselves, and what is between them.
    """
    count, columns = rows.shape[:2]
    points, faces = rows.reshape(-1, 3), sheet_triangles(count, columns)
    sides = np.unique(np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1), axis=0)
    length = np.linalg.norm(points[sides[:, 0]] - points[sides[:, 1]], axis=1)
    flat = _least_misfit(_rolled_out(rows), sides, length, columns)
    stretch, folded = _stretch(points[faces], flat[faces])
    if folded:
        other = _least_misfit(_between_edges(rows), sides, length, columns)
        there = _stretch(points[faces], other[faces])
        flat, (stretch, folded) = (flat, (stretch, folded)) if there[1] else (other, there)
    flat = _level(flat, columns)
    return FlatSheet(flat, stretch, stretch * _longest(rows), folded)


@dataclass(frozen=True)
class FlatPiece:
    """Part of a panel laid flat: its rows and columns, from the first to before the last, and how it lies."""

    rows: tuple[int, int]
    columns: tuple[int, int]
    flat: FlatSheet


def pieces_laid_flat(rows: Array) -> tuple[FlatPiece, ...]:
    """A panel in as few pieces as lie flat within STRETCH, parted along its columns, or its rows where these are fewer.

    rows : (r, c, 3) [mm]
    Source: geometry: the strip between two columns always lies flat, since it is a row of triangles.
    """
    down, across = rows.shape[:2]
    by_column = _parted(across, lambda a, b: laid_flat(rows[:, a:b]))
    if len(by_column) == 1:
        return (FlatPiece((0, down), (0, across), by_column[0][1]),)
    by_row = _parted(down, lambda a, b: laid_flat(rows[a:b]))
    if len(by_row) < len(by_column):
        return tuple(FlatPiece(span, (0, across), flat) for span, flat in by_row)
    return tuple(FlatPiece((0, down), span, flat) for span, flat in by_column)


def _parted(count: int, lay: Callable[[int, int], FlatSheet]) -> list[tuple[tuple[int, int], FlatSheet]]:
    """As many lines to a piece as lie flat, one after another."""
    pieces, first = [], 0
    while first < count - 1:
        last, flat = count, lay(first, count)
        if last > first + 2 and not flat.lies:
            low, last, flat = first + 2, count, lay(first, first + 2)  # a strip always lies flat
            while last - low > 1:
                middle = (low + last) // 2
                tried = lay(first, middle)
                if tried.lies:
                    low, flat = middle, tried
                else:
                    last = middle
            last = low
        pieces.append(((first, last), flat))
        first = last - 1
    return pieces


def _longest(rows: Array) -> float:
    """Of rows and columns [mm]."""
    along = np.linalg.norm(np.diff(rows, axis=1), axis=2).sum(axis=1)
    down = np.linalg.norm(np.diff(rows, axis=0), axis=2).sum(axis=0)
    return float(max(along.max(), down.max()))


def _rolled_out(rows: Array) -> Array:
    """Every point laid by two of its triangle's sides (n, 2) [mm]; the rest of the sides may misfit."""
    count, columns = rows.shape[:2]
    flat = np.zeros((count, columns, 2))
    flat[0] = _first_row(rows)
    for i in range(count - 1):
        for j in range(1, columns):
            known = (rows[i, j - 1], rows[i, j]), (flat[i, j - 1], flat[i, j])
            flat[i + 1, j] = _beside(rows[i + 1, j], *known, right=True)
        known = (rows[i, 0], rows[i + 1, 1]), (flat[i, 0], flat[i + 1, 1])
        flat[i + 1, 0] = _beside(rows[i + 1, 0], *known, right=True)
    return flat.reshape(-1, 2)


def _between_edges(rows: Array) -> Array:
    """Every point between the first and the last column, which are laid flat as one strip (n, 2) [mm]."""
    first, last = np.moveaxis(_rolled_out(rows[:, [0, -1]]).reshape(-1, 2, 2), 1, 0)
    along = np.cumsum(np.linalg.norm(np.diff(rows, axis=1, prepend=rows[:, :1]), axis=2), axis=1)
    share = (along / np.maximum(along[:, -1:], 1e-9))[..., None]
    return np.asarray(first[:, None] + share * (last - first)[:, None]).reshape(-1, 2)


def _first_row(rows: Array) -> Array:
    """The first row as the first strip has it (c, 2) [mm]: its triangles side by side."""
    columns = rows.shape[1]
    upper, lower = np.zeros((columns, 2)), np.zeros((columns, 2))
    upper[1] = np.linalg.norm(rows[0, 1] - rows[0, 0]), 0.0
    lower[1] = _beside(rows[1, 1], (rows[0, 0], rows[0, 1]), (upper[0], upper[1]), right=True)
    for j in range(2, columns):
        lower[j] = _beside(rows[1, j], (rows[0, j - 1], rows[1, j - 1]), (upper[j - 1], lower[j - 1]), right=False)
        upper[j] = _beside(rows[0, j], (rows[0, j - 1], rows[1, j]), (upper[j - 1], lower[j]), right=False)
    return upper


def _beside(point: Array, ends: tuple[Array, Array], flat: tuple[Array, Array], *, right: bool) -> Array:
    """Where a triangle's third point lies flat, right or left of its side (2,) [mm]."""
    way = ends[1] - ends[0]
    length = float(np.linalg.norm(way)) or 1e-9
    along = float(way @ (point - ends[0])) / length
    up = float(np.sqrt(max(float((point - ends[0]) @ (point - ends[0])) - along**2, 0.0)))
    x = (flat[1] - flat[0]) / (float(np.linalg.norm(flat[1] - flat[0])) or 1e-9)
    side = np.array([x[1], -x[0]]) if right else np.array([-x[1], x[0]])
    return np.asarray(flat[0] + along * x + up * side)


def _least_misfit(flat: Array, sides: Index, length: Array, columns: int) -> Array:
    """Corners (n, 2) [mm] that give the sides their lengths as nearly as can be."""
    a, b = sides.T
    for _ in range(ROUNDS):
        way = flat[b] - flat[a]
        now = np.maximum(np.linalg.norm(way, axis=1), 1e-9)
        unit = way / now[:, None]
        step = _step(unit, length - now, a, b, (len(flat) // columns, columns))
        flat = flat + step
        if np.abs(step).max() < SETTLED:
            break
    return flat


def _step(unit: Array, misfit: Array, a: Index, b: Index, shape: tuple[int, int]) -> Array:
    """The corners' moves (n, 2) that take the misfit of the sides, least squares.

    A side joins corners of one row or of two that are neighbours, so the normal equations are solved row by row.
    """
    rows, columns = shape
    add: Any = np.add.at
    pull, square = misfit[:, None] * unit, unit[:, :, None] * unit[:, None]
    right = np.zeros((rows * columns, 2))
    add(right, b, pull)
    add(right, a, -pull)
    own = np.zeros((rows, columns, 2, columns, 2))
    below = np.zeros((rows, columns, 2, columns, 2))  # a row against the next one
    (i, j), (k, m) = np.divmod(a, columns), np.divmod(b, columns)  # a comes before b
    same = i == k
    for p, q in ((0, 0), (0, 1), (1, 0), (1, 1)):
        part = square[:, p, q]
        for row, column in ((i, j), (k, m)):
            add(own, (row, column, p, column, q), part)
        add(own, (i[same], j[same], p, m[same], q), -part[same])
        add(own, (i[same], m[same], p, j[same], q), -part[same])
        add(below, (i[~same], j[~same], p, m[~same], q), -part[~same])
    size = 2 * columns
    blocks, links = own.reshape(rows, size, size) + HOLD * np.eye(size), below.reshape(rows, size, size)
    sought = right.reshape(rows, size)
    for n in range(1, rows):
        share = np.linalg.solve(blocks[n - 1], np.column_stack([links[n - 1], sought[n - 1]]))
        blocks[n] -= links[n - 1].T @ share[:, :-1]
        sought[n] -= links[n - 1].T @ share[:, -1]
    found = np.zeros_like(sought)
    found[-1] = np.linalg.solve(blocks[-1], sought[-1])
    for n in range(rows - 2, -1, -1):
        found[n] = np.linalg.solve(blocks[n], sought[n] - links[n] @ found[n + 1])
    return found.reshape(-1, 2)


def _level(flat: Array, columns: int) -> Array:
    """Turned so that the sheet's rows run along x, moved so that nothing is below 0."""
    row = flat.reshape(-1, columns, 2)
    way = np.sum(row[:, -1] - row[:, 0], axis=0)
    x = way / (float(np.linalg.norm(way)) or 1e-9)
    turned = flat @ np.array([[x[0], -x[1]], [x[1], x[0]]])
    return np.asarray(turned - turned.min(axis=0))


def _stretch(solid: Array, flat: Array) -> tuple[float, bool]:
    """How much any length on triangles (t, 3, 3) is off when they lie flat (t, 3, 2) [-], and whether one is turned."""
    one, two = solid[:, 1] - solid[:, 0], solid[:, 2] - solid[:, 0]
    long = np.linalg.norm(one, axis=1)
    x = np.sum(one * two, axis=1) / long
    y = np.linalg.norm(np.cross(one, two), axis=1) / long
    there = np.stack([flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]], -1)
    zero = np.zeros_like(x)
    own = np.stack([np.stack([long, x], -1), np.stack([zero, y], -1)], 1)
    real = (y > 1e-6) & (long > 1e-6)
    maps = there[real] @ np.linalg.inv(own[real])
    values = np.linalg.svd(maps, compute_uv=False)
    turned = np.sign(np.linalg.det(maps))
    return float(np.abs(values - 1).max(initial=0.0)), bool(len(turned) and (turned != turned[0]).any())
