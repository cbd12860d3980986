"""A raster of the hub's half plane: which cells are swept, grown, closed, enclosed, or hang together."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fitment.clearance.trace import Index
from fitment.frames import Array

CELL = 2.0  # [mm]
FARTHEST = (-520.0, 520.0, 600.0)  # [mm] y' from and to, and r, of what is kept
SMOOTH = 2.0 * CELL  # [mm] to which an outline's steps are rounded off
JUMP = 16  # cells of a way between two poses, above which a fold went elsewhere and passed nothing
Mask = NDArray[np.bool_]
Floats = NDArray[np.float32]
Cells = NDArray[np.int32]


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


def cell_number(y: Floats, r: Floats) -> Cells:
    """Numbers of the cells that hold places in cells; what lies beyond is put into the outermost."""
    rows, columns = shape()
    cells = np.clip(y, np.float32(0.0), np.float32(rows - 0.5)).astype(np.int32)
    cells *= np.int32(columns)
    cells += np.minimum(r, np.float32(columns - 0.5)).astype(np.int32)
    return cells


def mark_between(begin: tuple[Floats, Floats], end: tuple[Floats, Floats], marked: Mask) -> None:
    """Mark every second cell at least that is passed between places y', r (q,), (q,), in cells of the raster."""
    ways = [b - a for a, b in zip(begin, end, strict=True)]
    size = np.maximum(np.abs(ways[0]), np.abs(ways[1]))
    parts = np.where(size <= JUMP, np.ceil(size / 2), 1).astype(np.int8)
    flat = marked.ravel()
    for n in np.flatnonzero(np.bincount(parts)).tolist():
        mine = np.flatnonzero(parts == n)
        (y, r), (dy, dr) = ([each[mine] for each in pair] for pair in (begin, ways))
        for along in np.linspace(0.0, 1.0, n + 1, dtype=np.float32):
            flat[cell_number(y + along * dy, r + along * dr)] = True
    marked[[0, -1]] = marked[:, -1] = False  # what lies beyond was put there


def within(plane: Array) -> Mask:
    """Which points (..., 2) the raster holds, less its outermost cells."""
    y, r = plane[..., 0], plane[..., 1]
    return np.asarray((y > FARTHEST[0] + CELL) & (y < FARTHEST[1] - CELL) & (r < FARTHEST[2] - CELL))


def grown(raster: Mask, by: int) -> Mask:
    """Cells within `by` of a marked one, in both directions."""
    for axis in (0, 1):
        reach = 1
        raster = np.pad(raster, [(by, by) if i == axis else (0, 0) for i in (0, 1)])
        while reach < 2 * by + 1:  # each cell stands for `reach` of them from its own on
            step = min(reach, 2 * by + 1 - reach)
            raster = raster[:-step] | raster[step:] if axis == 0 else raster[:, :-step] | raster[:, step:]
            reach += step
    return raster


def closed(raster: Mask, by: int) -> Mask:
    """The raster with gaps of up to twice `by` cells closed."""
    return ~grown(~grown(raster, by), by) | raster if by else raster


def surrounded(raster: Mask) -> Mask:
    """Marked cells whose neighbours are all marked."""
    return ~grown(~raster, 1)


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


def outline_of(raster: Mask) -> BaseGeometry:
    """Outline of marked cells, their steps rounded off, good to about a millimetre."""
    step = np.diff(np.pad(raster, [(0, 0), (1, 1)]).astype(np.int8), axis=1)
    row, first = np.nonzero(step == 1)
    _, after = np.nonzero(step == -1)
    low, half = centre_of(row * shape()[1] + first), CELL / 2
    high = centre_of(row * shape()[1] + after - 1)
    boxes = shapely.box(low[:, 0] - half, low[:, 1] - half, high[:, 0] + half, high[:, 1] + half)
    return shapely.union_all(boxes).buffer(SMOOTH).buffer(-SMOOTH).simplify(0.6 * CELL)


def frame() -> BaseGeometry:
    """The rectangle within which something can be marked: less the outermost cells."""
    low, high, far = FARTHEST
    return shapely.box(low + 2 * CELL, 0.0, high - 2 * CELL, far - 2 * CELL)
