"""Signed distances of very many points to one section, quickly: a raster tells the nearest stretch of its outline.

`clearance.signed_distance` is the exact answer for a few points; here a point looks up which stretch of the outline
is nearest and measures to that. Negative inside.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from fitment.frames import Array

Floats = NDArray[np.floating]
NODE = 3.0  # [mm] spacing of the raster
STRETCH = 3.0  # [mm] longest stretch of the outline
NEARLY = 0.8  # [mm] the most by which a neighbouring corner's stretches are farther than the nearest
BESIDE = 4  # corners on either side of a node's nearest among which a point's nearest is sought


@dataclass(frozen=True)
class Field:
    """The outline of a section and, on a raster, its signed distance and nearest stretch.

    outline : corners, the first not repeated, counter-clockwise (m, 2)
    corner : (y', r) of the raster's first node; shape : its nodes along y' and r
    distance : signed, at the nodes (n,); nearest : index of the outline's corner next to each (n,)
    mirrored : the section is symmetric about y' = 0 and only y' >= 0 is kept
    """

    outline: Array
    corner: tuple[float, float]
    shape: tuple[int, int]
    distance: NDArray[np.float32]
    nearest: NDArray[np.int32]
    mirrored: bool

    def nodes(self, y: Floats, r: Floats) -> NDArray[np.int32]:
        """Flat index of the node nearest to each point; points beyond the raster get one at its edge."""
        if self.mirrored:
            y = np.abs(y)
        i, j = (
            np.minimum(np.maximum(np.rint((at - low) * (1 / NODE)), 0), count - 1).astype(np.int32)
            for at, low, count in zip((y, r), self.corner, self.shape, strict=True)
        )
        return i * np.int32(self.shape[1]) + j

    def roughly(self, y: Floats, r: Floats) -> NDArray[np.float32]:
        """Signed distance of points, off by no more than the way to the node: 2.2 mm on the raster."""
        return self.distance.take(self.nodes(y, r))

    def nearly(self, y: Array, r: Array) -> Array:
        """Signed distance (q,) to the stretches next to the node's nearest corner: too large by less than NEARLY."""
        at = self.nearest[self.nodes(y, r)]
        p, m = np.stack([np.abs(y) if self.mirrored else y, r], -1), len(self.outline)
        one, other = (
            _to_stretch(p, self.outline[a % m], self.outline[b % m])[0] for a, b in ((at - 1, at), (at, at + 1))
        )
        return np.where(np.abs(one) < np.abs(other), one, other)

    def signed(self, y: Array, r: Array) -> tuple[Array, Array]:
        """Signed distance (q,) of points to the outline's stretches next to their own nearest corner.

        The second is the vector (q, 2) from the outline to each point.
        """
        side = np.where(y < 0, -1.0, 1.0) if self.mirrored else np.ones_like(y)
        p, m = np.stack([y * side, r], -1), len(self.outline)
        beside = (self.nearest[self.nodes(y, r)][:, None] + np.arange(-BESIDE, BESIDE + 1)) % m
        off = self.outline[beside] - p[:, None]
        here = beside[np.arange(len(p)), np.argmin(off[..., 0] ** 2 + off[..., 1] ** 2, axis=1)]
        before, at, after = (self.outline[(here + k) % m] for k in (-1, 0, 1))
        one, off_one = _to_stretch(p, before, at)
        other, off_other = _to_stretch(p, at, after)
        first = np.abs(one) < np.abs(other)
        off = np.where(first[:, None], off_one, off_other)
        off[:, 0] *= side
        return np.where(first, one, other), off


def _to_stretch(p: Array, a: Array, b: Array) -> tuple[Array, Array]:
    """Distance of points to stretches a-b, negative on their left, the inside of a counter-clockwise outline.

    The second is the vector from the stretch to the point.
    """
    v, w = b - a, p - a
    size = np.maximum(v[:, 0] ** 2 + v[:, 1] ** 2, 1e-12)
    share = np.clip((v[:, 0] * w[:, 0] + v[:, 1] * w[:, 1]) / size, 0.0, 1.0)
    off = w - share[:, None] * v
    return np.where(v[:, 0] * w[:, 1] - v[:, 1] * w[:, 0] > 0, -1.0, 1.0) * np.hypot(off[:, 0], off[:, 1]), off


def field(section: Polygon, band: float, *, mirrored: bool = False) -> Field:
    """The field of a section (y', r) [mm] and a band round it; `mirrored` for one symmetric about y' = 0.

    Farther away than `band` a looked-up distance is too small, and a measured one may be too large.
    """
    ring = shapely.get_coordinates(shapely.segmentize(shapely.orient_polygons(section).exterior, STRETCH))[:-1]
    low, high = ring.min(axis=0) - band, ring.max(axis=0) + band
    if mirrored:
        low[0] = 0.0
    low = np.floor(np.maximum(low, (low[0], 0.0)) / NODE) * NODE
    shape = (int((high[0] - low[0]) / NODE) + 2, int((high[1] - low[1]) / NODE) + 2)
    y, r = (low[k] + NODE * np.arange(shape[k]) for k in (0, 1))
    near = np.flatnonzero(ring[:, 0] >= -2 * STRETCH) if mirrored else np.arange(len(ring))
    nearest = near[_nearest(y, r, ring[near])].astype(np.int32)
    made = Field(ring, (float(low[0]), float(low[1])), shape, np.empty(0, np.float32), nearest, mirrored)
    nodes = (each.ravel() for each in np.meshgrid(y, r, indexing="ij"))
    return replace(made, distance=made.nearly(*nodes).astype(np.float32))


def _nearest(y: Array, r: Array, ring: Array) -> NDArray[np.intp]:
    """Index of the outline's corner nearest to each node of a grid, over y', then r."""
    across, up = (np.square(at[:, None] - ring[:, k]).astype(np.float32) for k, at in enumerate((y, r)))
    return np.concatenate([np.argmin(up + row, axis=1) for row in across])
