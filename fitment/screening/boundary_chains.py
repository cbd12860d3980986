"""The boundary of what a part sweeps as lines: its points in the order in which a disc rolls round them, few of them.

Between two points of a line the boundary is straight to a hundredth of a millimetre, and what readings do to it changes
evenly. Where the disc rolls over a notch no line is drawn.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from fitment.clearance.trace import Index
from fitment.frames import Array
from fitment.screening.raster import CELL, outline_of
from fitment.screening.swept_obstacle import SweptObstacle

DISC = 2 * CELL  # [mm] radius of the disc, more or less: it rolls round the outline of the raster's cells
ROLL = 0.4  # [mm] of the disc's way from one place to the next
NOTCH = 2.0  # [mm] between neighbouring points, above which a notch lies between them
STRAIGHT = 0.006  # [mm] by which the boundary may leave a line
EVEN = 0.008  # [mm] by which what a reading does may leave an even change


@dataclass(frozen=True)
class Chain:
    """One closed line round what a part sweeps.

    plane : its corners (y', r) [mm] (n, 2); moved : by which each reading moves them (n, v, 2) [mm]
    notch : whether the step to the next corner only leads over a notch (n,)
    """

    plane: Array
    moved: Array
    notch: Index


def chains_round(swept: SweptObstacle) -> tuple[Chain, ...]:
    """The lines round what one part sweeps, without its radius."""
    plane, moved = swept.plane, swept.moved
    if not len(plane):
        return ()
    tree = shapely.STRtree(shapely.points(plane))
    chains = []
    for ring in _rings(outline_of(swept.swept).buffer(DISC)):
        touched = tree.nearest(shapely.points(_places_along(np.asarray(ring.coords))))
        order = (
            touched[np.flatnonzero(touched != np.roll(touched, 1))] if len(set(touched.tolist())) > 1 else touched[:1]
        )
        chains.append(_thinned(plane[order], moved[order]))
    return tuple(chains)


def _places_along(corners: Array) -> Array:
    """Places (n, 2) on a closed line of corners (k, 2), ROLL apart."""
    ends = np.insert(np.cumsum(np.linalg.norm(np.diff(corners, axis=0), axis=1)), 0, 0.0)
    along = np.linspace(0.0, ends[-1], max(int(ends[-1] / ROLL), 8), endpoint=False)
    return np.stack([np.interp(along, ends, way) for way in corners.T], -1)


def _rings(area: BaseGeometry) -> Iterator[BaseGeometry]:
    for part in shapely.get_parts(area):
        yield from (part.exterior, *part.interiors)


def _thinned(plane: Array, moved: Array) -> Chain:
    """The corners that a closed line of points (n, 2) needs."""
    n = len(plane)
    step = np.linalg.norm(np.roll(plane, -1, axis=0) - plane, axis=1)
    notch = step > NOTCH
    start = int(np.flatnonzero(notch)[0]) + 1 if notch.any() else 0
    turn = np.roll(np.arange(n), -start)
    values = np.hstack([plane / STRAIGHT, moved.reshape(n, -1) / EVEN])[turn]
    ends = [0, *(np.flatnonzero(notch[turn][:-1]) + 1).tolist(), n]
    kept = np.zeros(n, dtype=bool)
    for first, last in pairwise(ends):
        _keep(values[first:last], kept[first:last])
    mine = turn[kept]
    return Chain(plane[mine], moved[mine], notch[mine])


def _keep(values: Array, kept: Array) -> None:
    """Mark the points of an open line (m, k) that it needs so that none is more than 1 off, in its column's unit.

    Stretches are divided where they are off most, all that are left at once.
    """
    kept[[0, -1]] = True
    first, last = np.array([0]), np.array([len(values) - 1])
    while len(some := np.flatnonzero(last - first > 1)):
        first, last = first[some], last[some]
        count = last - first - 1
        begin = np.cumsum(count) - count
        own = np.repeat(np.arange(len(count)), count)
        inner = np.arange(len(own)) + (first + 1 - begin)[own]
        way, off = (values[last] - values[first])[own], values[inner] - values[first[own]]
        size = (way[:, :2] ** 2).sum(axis=1)
        along = (off[:, :2] * way[:, :2]).sum(axis=1) / np.where(size > 0, size, 1.0)
        off -= np.where(size > 0, np.clip(along, 0.0, 1.0), 0.0)[:, None] * way
        miss = np.maximum(np.hypot(off[:, 0], off[:, 1]), np.abs(off[:, 2:]).max(axis=1, initial=0.0))
        most = np.maximum.reduceat(miss, begin)
        at = inner[np.minimum.reduceat(np.where(miss == most[own], np.arange(len(own)), len(own)), begin)][most > 1]
        kept[at] = True
        first, last = first[most > 1], last[most > 1]
        first, last = np.concatenate([first, at]), np.concatenate([at, last])
