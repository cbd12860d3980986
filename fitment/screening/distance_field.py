"""Signed distances of very many points to sections, quickly: a raster tells the nearest stretch of an outline.

`section_distance.signed_distance` is the exact answer for a few points; here a point looks up which stretch of the
outline is nearest and measures to that. Negative inside.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from fitment.frames import Array
from fitment.screening import raster

Floats = NDArray[np.floating]
Single = NDArray[np.float32]
Complex = NDArray[np.complexfloating]
Index = NDArray[np.integer]
Straight = tuple[Floats, Floats, Floats, Floats, Floats]
NODE = 4.0  # [mm] spacing of the raster
REACH = NODE / 2  # [mm]
STRETCH = 3.0  # [mm] longest stretch of the outline
FORK = 0.1  # [mm] by which it falls short at the next node where another side may be nearer
ROUND = 8  # corners of an outline that stand before and after it again
KINK = 0.3  # [mm] what a straight continuation is off by at the next node where two sides are about as far
BENT = 0.01  # [mm] off in both ways, as where an outline that bulges is not all there is nearby
BESIDE = 4  # corners on either side of a node's nearest among which a point's nearest is sought
ROUNDING = 1e-6  # [mm]
AT_ONCE = 1 << 14  # points measured in one go, so that what is looked up for them stays near the processor


@dataclass(frozen=True)
class DistanceFields:
    """The outlines of some sections and, on one raster, the signed distance and the nearest stretch of each.

    outline : corners y' + i r of all of them, counter-clockwise, each outline with some of its corners before and after
        again, so that the neighbours of a corner stand beside it
    corner : (y', r) of the raster's first node; shape : its nodes along y' and r
    at : at the nodes, one section after another, the signed distance, how it changes with y' and r, and by what a
        straight continuation to the next node may be too large and too small there (k n, 5)
    nearest : index of the corner next to each node (k n,)
    mirrored : the sections are symmetric about y' = 0 and only y' >= 0 is kept
    cut : corners of sides that are none of the section's own, as where it is cut off
    """

    outline: Complex
    corner: tuple[float, float]
    shape: tuple[int, int]
    at: Single
    nearest: NDArray[np.int32]
    mirrored: bool
    cut: NDArray[np.bool_]

    @cached_property
    def own(self) -> NDArray[np.complex64]:
        """The corners of the section's own sides in single precision, the others infinitely far."""
        return np.where(self.cut, np.complex64(np.inf), self.single)

    @cached_property
    def single(self) -> NDArray[np.complex64]:
        """The corners in single precision, which tells the nearest of them."""
        return self.outline.astype(np.complex64)

    def _nodes(self, which: Index, y: Floats, r: Floats) -> tuple[NDArray[np.int32], Floats, Floats]:
        """Flat index of the node nearest to each point, and the way from there; points beyond get one at the edge."""
        y, r = (at * (1 / NODE) - low / NODE for at, low in zip((y, r), self.corner, strict=True))
        i, j = (np.minimum(np.maximum(np.rint(at), 0), n - 1) for at, n in zip((y, r), self.shape, strict=True))
        node = (i * self.shape[1] + j).astype(np.int32) + which * np.int32(self.shape[0] * self.shape[1])
        return node, (y - i) * NODE, (r - j) * NODE

    def lines(self, which: Index, y: Floats, r: Floats, way: float = 0.0) -> Straight:
        """Of points their section's signed distance, how it changes with y' and r, and by what it may be less and more.

        which : index of the section of each (q,); way : [mm] by which y' may change besides
        Beyond the band the distance comes out too small.
        """
        node, dy, dr = self._nodes(which, np.abs(y) if self.mirrored else y, r)
        distance, by_y, by_r, less, more = self.at.take(node, axis=0).T
        distance = distance + by_y * dy + by_r * dr
        share = (np.abs(dy) + np.abs(dr) + np.float32(way)) * np.float32(1 / NODE)
        less, more = less * share, more * share
        if not self.mirrored:
            return distance, by_y, by_r, less, more
        if way:  # on the other side it turns round
            turns = np.where(np.abs(y) < way, np.abs(by_y) * np.float32(2 * way), np.float32(0.0))
            less, more = less + turns, more + turns
        return distance, np.copysign(by_y, by_y * y), by_r, less, more

    def unsure(self, which: Index, y: Floats, r: Floats) -> NDArray[np.bool_]:
        """Of points (q,) whether another side of the outline may be nearer than the one that is looked up."""
        node = self._nodes(which, np.abs(y) if self.mirrored else y, r)[0]
        return np.asarray(np.maximum(self.at[node, 3], self.at[node, 4]) > KINK)

    def forks(self, which: Index, y: Floats, r: Floats) -> NDArray[np.bool_]:
        """Of points (q,) outside whether the nearest place of the outline may jump to another side close by.

        There the distance falls short of a straight continuation; where it is more the outline only bulges.
        """
        node = self._nodes(which, np.abs(y) if self.mirrored else y, r)[0]
        return np.asarray((self.at[node, 3] > FORK) & (self.at[node, 0] > 0))

    def signed(self, which: Index, y: Array, r: Array) -> tuple[Array, Array]:
        """Signed distance (q,) of points to their section's stretches next to their own nearest corner.

        The second is the vector (q, 2) from the outline to each point.
        """
        distance, off = np.empty(len(y)), np.empty((len(y), 2))
        for k in range(0, len(y), AT_ONCE):
            some = slice(k, k + AT_ONCE)
            distance[some], off[some] = self._measured(which[some], y[some], r[some])
        return distance, off

    def at_most(self, which: Index, y: Array, r: Array) -> Array:
        """What points (q,) are off their section's outline at most [mm], inside or outside.

        As far as the stretches are that are nearest to any of the four nodes round them; hardly ever is another nearer.
        Infinite where those are all cut off.
        """
        found = np.empty(len(y))
        for k in range(0, len(y), AT_ONCE):
            some = slice(k, k + AT_ONCE)
            found[some] = self._off(which[some], y[some], r[some])
        return found

    def _off(self, which: Index, y: Array, r: Array) -> Array:
        y = np.abs(y) if self.mirrored else y
        p, half = y + 1j * r, NODE / 2
        nodes = [self._nodes(which, y + by, r + up)[0] for by in (-half, half) for up in (-half, half)]
        beside = (self.nearest[np.stack(nodes, -1)][..., None] + np.arange(-2, 3)).reshape(len(p), -1)
        off = self.own[beside] - p.astype(np.complex64)[:, None]
        here = beside[np.arange(len(p)), np.argmin(off.real**2 + off.imag**2, axis=1)]
        return np.where(self.cut[here], np.inf, np.abs(_to_corner(p, self.outline, here)[0]))

    def _measured(self, which: Index, y: Array, r: Array) -> tuple[Array, Array]:
        """The same of some points together."""
        side = np.where(y < 0, -1.0, 1.0) if self.mirrored else np.ones_like(y)
        p = side * y + 1j * r
        beside = self.nearest[self._nodes(which, side * y, r)[0]][:, None] + np.arange(-BESIDE, BESIDE + 1)
        off = self.single[beside] - p.astype(np.complex64)[:, None]
        here = beside[np.arange(len(p)), np.argmin(off.real**2 + off.imag**2, axis=1)]
        distance, off = _to_corner(p, self.outline, here)
        return distance, np.column_stack([off.real * side, off.imag])


def _to_corner(p: Complex, outline: Complex, corner: NDArray[np.integer]) -> tuple[Array, Complex]:
    """Signed distance of points (q,) to the two stretches that meet in a corner, and the way from there."""
    before, at, after = (outline[corner + k] for k in (-1, 0, 1))
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


def distance_fields(
    sections: Sequence[Polygon], band: float, *, mirrored: bool = False, cut: bool = False
) -> DistanceFields:
    """The fields of sections (y', r) [mm] and a band round them.

    mirrored : they are symmetric about y' = 0; cut : their lowest sides are none of their own
    Farther away than `band` a looked-up distance is too small, and a measured one may be too large.
    """
    rings = shapely.get_exterior_ring(shapely.orient_polygons(np.array(sections, dtype=object)))
    corners = [shapely.get_coordinates(ring)[:-1] for ring in shapely.segmentize(rings, STRETCH)]
    low = np.min([ring.min(axis=0) for ring in corners], axis=0) - band
    high = np.max([ring.max(axis=0) for ring in corners], axis=0) + band
    if mirrored:
        low[0] = 0.0
    low = np.floor(np.maximum(low, (low[0], 0.0)) / NODE) * NODE
    high[1] = min(high[1], raster.FARTHEST[2])
    shape = (int((high[0] - low[0]) / NODE) + 2, int((high[1] - low[1]) / NODE) + 2)
    y, r = (low[k] + NODE * np.arange(shape[k]) for k in (0, 1))
    outlines = [np.pad(ring[:, 0] + 1j * ring[:, 1], ROUND, mode="wrap") for ring in corners]
    starts = np.cumsum([0, *(len(outline) for outline in outlines)])
    nearest = np.concatenate(
        [start + _nearest(y, r, outline, mirrored) for start, outline in zip(starts.tolist(), outlines, strict=False)]
    )
    lowest = np.repeat([outline.imag.min() for outline in outlines], list(map(len, outlines)))
    outline = np.concatenate(outlines)
    cut_off = (outline.imag <= lowest + ROUNDING) & cut
    nodes = np.tile((y[:, None] + 1j * r).ravel().astype(np.complex64), len(corners))
    at = _at_nodes(nodes, outline.astype(np.complex64), nearest, shape)
    return DistanceFields(
        outline, (float(low[0]), float(low[1])), shape, at, nearest.astype(np.int32), mirrored, cut_off
    )


def _at_nodes(nodes: Complex, outline: Complex, nearest: Index, shape: tuple[int, int]) -> Single:
    """What `Fields.at` holds, at nodes (k n,) -> (k n, 5)."""
    distance, off = _to_corner(nodes, outline, nearest)
    away = off / np.where(np.abs(distance) > 1e-6, distance, np.inf)
    values = np.zeros((len(nodes), 5), dtype=np.float32)
    values[:, 0], values[:, 1], values[:, 2] = distance, away.real, away.imag
    grid = values.reshape(-1, *shape, 5)
    for axis, k in ((1, 1), (2, 2)):
        low, high = (np.moveaxis(grid, axis, 0)[part] for part in (slice(None, -1), slice(1, None)))
        step = high[..., 0] - low[..., 0]
        for side, missed in (
            (low, step - np.float32(NODE) * low[..., k]),
            (high, np.float32(NODE) * high[..., k] - step),
        ):
            np.maximum(side[..., 3], -missed, out=side[..., 3])
            np.maximum(side[..., 4], missed, out=side[..., 4])
    less, more = values[:, 3], values[:, 4]
    symmetric = (values[:, 0] < 0) | (np.minimum(less, more) > BENT)
    less[symmetric] = more[symmetric] = np.maximum(less[symmetric], more[symmetric])
    return values


def _nearest(y: Array, r: Array, outline: Complex, mirrored: bool) -> Index:
    """Index of the outline's corner nearest to each node of a grid, over y', then r.

    outline : with ROUND of its corners before and after again
    On a mirrored outline, which is nearly convex, among every fourth corner first, then among those beside it.
    """
    own = np.arange(ROUND, len(outline) - ROUND)
    near = own[outline.real[own] >= -2 * STRETCH][::4] if mirrored else own
    across, up = (
        np.square(part[:, None] - at).astype(np.float32)
        for at, part in ((outline[near].real, y), (outline[near].imag, r))
    )
    corner = near[np.concatenate([(square + up).argmin(axis=1) for square in across])]
    if not mirrored:
        return corner
    beside = corner[:, None] + np.arange(-2, 3)
    nodes = (y[:, None] + 1j * r).ravel().astype(np.complex64)
    off = outline.astype(np.complex64)[beside] - nodes[:, None]
    return np.asarray(beside[np.arange(corner.size), np.argmin(off.real**2 + off.imag**2, axis=1)])
