"""The space behind a solid panel as tetrahedra, and which places lie in it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray

from fitment.frames import Array
from fitment.parts.obstacles import Obstacle, core
from fitment.parts.solid_panel import far_points, fill_of

PARTS = [[0, 1, 2, 5], [0, 1, 4, 5], [0, 3, 4, 5]]  # the tetrahedra of a piece, by its corners


@dataclass(frozen=True, eq=False)
class FilledSpace:
    """Tetrahedra where they stand.

    first : one corner of each (m, 3) [mm]
    shares : what turns a way from there into shares of its sides (m, 3, 3) [-, a mm of way]
    low, high : of the box round each (m, 3) [mm]
    corners : the numbers of its points (m, 4)
    found : those whose boxes a place lies in, seen along the third of `ways`, the axis along which they are longest
    """

    first: Array
    shares: Array
    low: Array
    high: Array
    corners: NDArray[np.intp]
    found: shapely.STRtree
    ways: tuple[int, int, int]

    def holds(self, places: Array) -> NDArray[np.bool_]:
        """Which places lie in it (q,).

        places : (q, 3) [mm]
        Source: geometry, shares of the sides of a tetrahedron.
        """
        inside = np.zeros(len(places), dtype=bool)
        inside[self.around(places)[0]] = True
        return inside

    def around(self, places: Array) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Which places lie in which tetrahedra (k,), (k,).

        places : (q, 3) [mm]
        Source: see `holds`.
        """
        a, b, c = self.ways
        place, part = self.found.query(shapely.points(places[:, [a, b]]))
        level = (self.low[part, c] <= places[place, c]) & (places[place, c] <= self.high[part, c])
        place, part = place[level], part[level]
        shares = (self.shares[part] @ (places[place] - self.first[part])[..., None])[..., 0]
        inside = np.all(shares >= 0, axis=1) & (shares.sum(axis=1) <= 1)
        return place[inside], part[inside]


def space_of(points: Array, pieces: NDArray[np.intp]) -> FilledSpace:
    """What pieces fill, three tetrahedra each.

    points : (v, 3) [mm]
    pieces : by number of the points, two triangles joined corner by corner (m, 6)
    Source: derived here, the usual three of a prism.
    """
    numbers = pieces[:, PARTS].reshape(-1, 4)
    corners = points[numbers]
    system = np.moveaxis(corners[:, 1:] - corners[:, :1], 1, 2)
    usable = np.abs(np.linalg.det(system)) > 1e-6
    numbers, corners, shares = numbers[usable], corners[usable], np.linalg.inv(system[usable])
    low, high = corners.min(axis=1), corners.max(axis=1)
    a, b, c = np.argsort((high - low).sum(axis=0)).tolist()
    boxes = shapely.box(low[:, a], low[:, b], high[:, a], high[:, b])
    return FilledSpace(corners[:, 0], shares, low, high, numbers, shapely.STRtree(boxes), (a, b, c))


@lru_cache(maxsize=16)
def filled_by(obstacle: Obstacle) -> FilledSpace:
    """What is filled behind a solid panel, where its carrier has it at the reference pose."""
    return space_of(np.concatenate([core(obstacle), far_points(obstacle)]), fill_of(obstacle).pieces)
