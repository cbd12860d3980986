"""Signed distances of very many points to one section, quickly: a raster tells the nearest stretch of its outline.

`clearance.signed_distance` is the exact answer for a few points; here a point looks up which stretch of the outline
is nearest and measures to that. Negative inside.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from fitment.frames import Array

Floats = NDArray[np.floating]
Single = NDArray[np.float32]
Complex = NDArray[np.complex128]
NODE = 4.0  # [mm] spacing of the raster
REACH = NODE / 2  # [mm]
STRETCH = 3.0  # [mm] longest stretch of the outline
KINK = 0.3  # [mm] what a straight continuation is off by at the next node where two sides are about as far
BESIDE = 4  # corners on either side of a node's nearest among which a point's nearest is sought


@dataclass(frozen=True)
class Field:
    """The outline of a section and, on a raster, its signed distance and nearest stretch.

    outline : corners y' + i r, the first not repeated, counter-clockwise (m,)
    corner : (y', r) of the raster's first node; shape : its nodes along y' and r
    at : at the nodes the signed distance, how it changes with y' and r, and what the distance may be off by on the way
        to the next node (n, 4); nearest : index of the outline's corner next to each (n,)
    mirrored : the section is symmetric about y' = 0 and only y' >= 0 is kept
    """

    outline: Complex
    corner: tuple[float, float]
    shape: tuple[int, int]
    at: Single
    nearest: NDArray[np.int32]
    mirrored: bool

    def _nodes(self, y: Floats, r: Floats) -> tuple[NDArray[np.int32], Floats, Floats]:
        """Flat index of the node nearest to each point, and the way from there; points beyond get one at the edge."""
        y, r = (at * (1 / NODE) - low / NODE for at, low in zip((y, r), self.corner, strict=True))
        i, j = (np.minimum(np.maximum(np.rint(at), 0), n - 1) for at, n in zip((y, r), self.shape, strict=True))
        return (i * self.shape[1] + j).astype(np.int32), (y - i) * NODE, (r - j) * NODE

    def lines(self, y: Floats, r: Floats, way: float = 0.0) -> tuple[Floats, Floats, Floats, Floats]:
        """Of points the signed distance, how it changes with y' and r, and what the distance may be off by.

        way : [mm] by which y' may change besides. Beyond the band the distance comes out too small.
        """
        node, dy, dr = self._nodes(np.abs(y) if self.mirrored else y, r)
        distance, by_y, by_r, off = np.moveaxis(self.at.take(node, axis=0), -1, 0)
        distance = distance + by_y * dy + by_r * dr
        off = off * ((np.abs(dy) + np.abs(dr) + np.float32(way)) * np.float32(1 / NODE))
        if not self.mirrored:
            return distance, by_y, by_r, off
        if way:  # on the other side it turns round
            off = np.where(np.abs(y) < way, off + np.abs(by_y) * np.float32(2 * way), off)
        return distance, np.copysign(by_y, by_y * y), by_r, off

    def unsure(self, y: Array, r: Array) -> NDArray[np.bool_]:
        """Of points (q,) whether another side of the outline may be nearer than the one that is looked up."""
        return np.asarray(self.at[self._nodes(np.abs(y) if self.mirrored else y, r)[0], 3] > KINK)

    def signed(self, y: Array, r: Array) -> tuple[Array, Array]:
        """Signed distance (q,) of points to the outline's stretches next to their own nearest corner.

        The second is the vector (q, 2) from the outline to each point.
        """
        side = np.where(y < 0, -1.0, 1.0) if self.mirrored else np.ones_like(y)
        p, m = side * y + 1j * r, len(self.outline)
        beside = (self.nearest[self._nodes(side * y, r)[0]][:, None] + np.arange(-BESIDE, BESIDE + 1)) % m
        off = self.outline[beside] - p[:, None]
        here = beside[np.arange(len(p)), np.argmin(off.real**2 + off.imag**2, axis=1)]
        distance, off = _to_corner(p, self.outline, here)
        return distance, np.column_stack([off.real * side, off.imag])


def _to_corner(p: Complex, outline: Complex, corner: NDArray[np.integer]) -> tuple[Array, Complex]:
    """Signed distance of points (q,) to the two stretches that meet in a corner, and the way from there."""
    before, at, after = (outline[(corner + k) % len(outline)] for k in (-1, 0, 1))
    one, off_one = _to_stretch(p, before, at)
    other, off_other = _to_stretch(p, at, after)
    first = np.abs(one) < np.abs(other)
    return np.where(first, one, other), np.where(first, off_one, off_other)


def _to_stretch(p: Complex, a: Complex, b: Complex) -> tuple[Array, Complex]:
    """Distance of points to stretches a-b, negative on their left, the inside of a counter-clockwise outline.

    The second is the way from the stretch to the point.
    """
    v, w = b - a, p - a
    along = v.conj() * w
    off = w - np.clip(along.real / np.maximum(v.real**2 + v.imag**2, 1e-12), 0.0, 1.0) * v
    return np.where(along.imag > 0, -np.abs(off), np.abs(off)), off


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
    nodes = np.stack(np.meshgrid(y, r, indexing="ij"), -1).reshape(-1, 2)
    outline = ring[:, 0] + 1j * ring[:, 1]
    nearest = _nearest(y, r, outline, mirrored)
    at = _at_nodes(nodes[:, 0] + 1j * nodes[:, 1], outline, nearest, shape)
    return Field(outline, (float(low[0]), float(low[1])), shape, at, nearest.astype(np.int32), mirrored)


def _at_nodes(nodes: Complex, outline: Complex, nearest: NDArray[np.intp], shape: tuple[int, int]) -> Single:
    """Distance, its change with y' and r, and what that may be off by, at nodes (n,) -> (n, 4)."""
    distance, off = _to_corner(nodes, outline, nearest)
    away = off / np.where(np.abs(distance) > 1e-6, distance, np.inf)
    found = np.column_stack([distance, away.real, away.imag, np.zeros(len(nodes))]).astype(np.float32)
    grid = found.reshape(*shape, 4)
    for axis, k in ((0, 1), (1, 2)):
        low, high = (np.moveaxis(grid, axis, 0)[part] for part in (slice(None, -1), slice(1, None)))
        step = high[..., 0] - low[..., 0]
        for side in (low, high):
            np.maximum(side[..., 3], np.abs(step - np.float32(NODE) * side[..., k]), out=side[..., 3])
    return found


def _nearest(y: Array, r: Array, outline: Complex, mirrored: bool) -> NDArray[np.intp]:
    """Index of the outline's corner nearest to each node of a grid, over y', then r.

    On a mirrored outline, which is nearly convex, among every fourth corner first, then among those beside it.
    """
    m = len(outline)
    near = np.flatnonzero(outline.real >= -2 * STRETCH)[::4] if mirrored else np.arange(m)
    across, up = (
        np.square(part[:, None] - at).astype(np.float32)
        for at, part in ((y, outline[near].real), (r, outline[near].imag))
    )
    least = np.full((len(y), len(r)), np.inf, dtype=np.float32)
    found = np.zeros(least.shape, dtype=np.intp)
    for corner, one, other in zip(near.tolist(), across, up, strict=True):
        square = one[:, None] + other
        closer = square < least
        np.copyto(least, square, where=closer)
        np.copyto(found, corner, where=closer)
    if not mirrored:
        return found.ravel()
    beside = (found.ravel()[:, None] + np.arange(-2, 3)) % m
    off = outline[beside] - (np.repeat(y, len(r)) + 1j * np.tile(r, len(y)))[:, None]
    return beside[np.arange(found.size), np.argmin(off.real**2 + off.imag**2, axis=1)]
