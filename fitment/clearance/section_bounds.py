"""Certain bounds of the signed distance of very many points to a section, from nodes of a raster that are near them.

A node knows its own signed distance, the place of the outline that is nearest to it, and a plane that all of the
section, a solid of revolution, lies behind. What is farther off than the nearest known place at most is left out by
these bounds before anything is measured. A node is worked out when a point beside it is first asked for.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from typing import Protocol

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from fitment.frames import Array

Index = NDArray[np.intp]
NODE = 5.0  # [mm] between the nodes
MARGIN = 300.0  # [mm] round the section as far as they reach
COARSE = 8  # chords of a line that are first looked at together
SAFE = 1e-6  # [mm] by which a bound may be off by rounding


class InChords(Protocol):
    """Traced lines in chords, as `trace.LaidOut` has them."""

    @property
    def count(self) -> Index:
        """Chords of each line (q,)."""
        ...

    def points(self, line: Index, number: Index) -> Array:
        """Ends of chords (k, 2), (y', r) [mm], by their lines and numbers (k,). Source: the lines' own."""
        ...

    def bows(self, steps: int) -> Array:
        """How far so many chords lie off the line between their ends at most (q,) [mm]. Source: the lines' own."""
        ...


class DistanceBounds:
    """The nodes of one section.

    Each keeps (6,): its signed distance [mm], the place of the outline next to it (y', r) [mm], the unit normal (y', r)
    of a plane behind which the hull of the section lies as a solid of revolution, and how far along that it is [mm];
    without a plane the normal is nought and the last infinite.
    """

    def __init__(self, section: Polygon) -> None:
        self._section, self._hull = section, _convex_hull(section)
        self._ring, self._hull_ring = shapely.get_exterior_ring(section), shapely.get_exterior_ring(self._hull)
        shapely.prepare([section, self._hull, self._ring, self._hull_ring])
        low, high = np.array(section.bounds).reshape(2, 2)
        self._low = low - MARGIN
        self._shape = np.ceil((high - low + 2 * MARGIN) / NODE).astype(np.intp) + 1
        count = int(np.prod(self._shape))
        self._at, self._known = np.zeros((count, 6)), np.zeros(count, dtype=bool)

    def _nodes(self, points: Array) -> tuple[Array, Array]:
        """What the node next to each point knows (q, 6), and how far off that is (q,) [mm]."""
        y, r = (points[:, k] - self._low[k] for k in (0, 1))  # each in one piece, which numpy goes through much quicker
        row, column = (
            np.minimum(np.maximum(np.rint(at / NODE), 0.0), count - 1.0)
            for at, count in zip((y, r), self._shape.tolist(), strict=True)
        )
        node = (row * self._shape[1] + column).astype(np.intp)
        new = node[~self._known[node]]
        if len(new):
            self._work_out(np.unique(new))
        return self._at.take(node, axis=0), np.hypot(y - row * NODE, r - column * NODE)

    def _work_out(self, node: Index) -> None:
        place = np.stack(np.divmod(node, self._shape[1]), -1) * NODE + self._low
        points = shapely.points(place)
        on_outline = shapely.get_coordinates(shapely.shortest_line(self._ring, points)).reshape(-1, 2, 2)[:, 0]
        on_hull = shapely.get_coordinates(shapely.shortest_line(self._hull_ring, points)).reshape(-1, 2, 2)[:, 0]
        at = self._at[node]
        at[:, 0] = np.linalg.norm(place - on_outline, axis=1)
        at[shapely.contains_xy(self._section, place[:, 0], place[:, 1]), 0] *= -1.0
        at[:, 1:3] = on_outline
        way = place - on_hull
        way[shapely.contains_xy(self._hull, place[:, 0], place[:, 1])] *= -1.0
        length = np.linalg.norm(way, axis=1)
        # one that leans towards the axis has the hull's far side before it, in space
        beyond = (length > NODE / 100) & (way[:, 1] >= 0)
        at[:, 3:5] = np.where(beyond[:, None], way / np.maximum(length, SAFE)[:, None], 0.0)
        at[:, 5] = np.where(beyond, np.sum(at[:, 3:5] * on_hull, axis=1), np.inf)
        self._at[node], self._known[node] = at, True

    def places(self, points: Array) -> tuple[Array, Array, Array, Array]:
        """What the signed distance of points is at least and at most, and a plane behind which the hull lies.

        points : (q, 2) [mm]
        Returns : (q,), (q,); the plane's unit normal (y', r) (q, 2) and how far along it is (q,) [mm, mm, -, mm]
        Source: geometry: distance changes by no more than the way walked, and none is larger than that from a place of
        the outline; what lies before such a plane is no nearer to the section, and what lies behind it no deeper in it.
        """
        at, off = self._nodes(points)
        planes = at[:, 3] * points[:, 0] + at[:, 4] * points[:, 1] - at[:, 5]
        least = np.maximum(at[:, 0] - off, planes) - SAFE
        return least, np.minimum(at[:, 0] + off, _length(points - at[:, 1:3])) + SAFE, at[:, 3:5], at[:, 5]

    def depth_at_most(self, a: Array, b: Array) -> Array:
        """What the depth in the section of places on short stretches is at most (q,) [mm].

        a, b : ends of the stretches (q, 2) [mm]
        Source: geometry: none is larger than the distance from a place of the outline, here one next to the middle,
        and along a stretch that is largest at an end.
        """
        on_outline = self._nodes((a + b) / 2)[0][:, 1:3]
        return np.maximum(_length(a - on_outline), _length(b - on_outline)) + SAFE

    def near_chords(
        self, lines: InChords, own: Index, owner: Index, best: Array
    ) -> tuple[Index, Index, Index, Array, Array]:
        """Line and number (k,) of the chords that could hold the point of least signed distance of their owner.

        own : which of the lines (q,); owner : of each of these (q,)
        best : what is known of every owner at most (n,) [mm], lowered here
        Returns : line and number; the nearer end of each chord, 0 or 1; what is known of that at most, and of the whole
            chord at least (k,) [-, mm]
        Source: geometry. Along a way distance changes by no more than its length. What lies before a plane that the
        section lies behind is at least as far from the section as from the plane, and what lies behind it no deeper
        in the section; along a chord that is least at one of its ends.
        """
        count, bow = lines.count[own], lines.bows(COARSE)[own]
        pieces = -(-count // COARSE)
        q, first = numbered(pieces)
        points, at = chord_ends(lambda i, k: lines.points(own[i], np.minimum(k * COARSE, count[i])), q, first)
        low, most = self.places(points)[:2]
        np.minimum.at(best, owner[q], np.minimum(most[at], most[at + 1]))
        straight = _length(points[at + 1] - points[at])
        kept = (low[at] + low[at + 1] - straight) / 2 - bow[q] <= best[owner[q]]
        q, first = q[kept], first[kept] * COARSE
        piece, number = numbered(np.minimum(count[q] - first, COARSE))
        q, number = q[piece], first[piece] + number
        points, at = chord_ends(lines.points, own[q], number)
        low, most, normal, ahead = self.places(points)
        ends = points[at], points[at + 1]
        least = (low[at] + low[at + 1] - _length(ends[1] - ends[0])) / 2
        for end in (at, at + 1):
            planes = [np.einsum("qi,qi->q", normal[end], place) - ahead[end] for place in ends]
            least = np.maximum(least, np.minimum(*planes) - SAFE)
        nearer, most = (most[at + 1] < most[at]).astype(np.intp), np.minimum(most[at], most[at + 1])
        np.minimum.at(best, owner[q], most)
        kept = least <= best[owner[q]]
        return own[q[kept]], number[kept], nearer[kept], most[kept], least[kept]


def numbered(counts: Index) -> tuple[Index, Index]:
    """Of things in groups the group and the number in it (k,), one group after another; counts : of each group (q,)."""
    ends = np.cumsum(counts)
    group = np.repeat(np.arange(len(counts)), counts)
    return group, np.arange(len(group)) - (ends - counts)[group]


def chord_ends(points: Callable[[Index, Index], Array], line: Index, number: Index) -> tuple[Array, Index]:
    """Ends of chords, and which of them each chord begins with (k,); it ends with the next.

    points : ends by their lines and numbers (m, 2) [mm]
    line, number : of each chord (k,), in their order
    Returns : (m, 2), (k,) [mm, -]
    Source: none needed: where the next chord of a line begins this one ends, so that it is worked out once.
    """
    last = np.ones(len(line), dtype=bool)
    last[:-1] = (line[1:] != line[:-1]) | (number[1:] != number[:-1] + 1)
    twice = np.repeat(np.arange(len(line)), 1 + last)
    first = np.arange(len(line)) + np.cumsum(last) - last
    ends = number[twice]
    ends[first[last] + 1] += 1
    return points(line[twice], ends), first


def _length(way: Array) -> Array:
    return np.asarray(np.hypot(way[..., 0], way[..., 1]))


@lru_cache(maxsize=32)
def distance_bounds(section: Polygon) -> DistanceBounds:
    """The nodes of a section, which are shared by all that ask for it.

    section : hub frame, (y', r) [mm]
    Source: none needed, they are kept.
    """
    return DistanceBounds(section)


class SeveralBounds:
    """The nodes of the section of each pose."""

    def __init__(self, section: Polygon | NDArray[np.object_]) -> None:
        """section : one for all poses, or one for each (n,), (y', r) [mm]"""
        several = [section] if isinstance(section, Polygon) else section.tolist()
        known = {id(own): own for own in several}
        number = {identity: k for k, identity in enumerate(known)}
        self._bounds = [distance_bounds(own) for own in known.values()]
        self._of_pose = np.array([number[id(own)] for own in several], dtype=np.uint16)  # such are sorted quickly

    def places(self, pose: Index, points: Array) -> tuple[Array, Array, Array, Array]:
        """What `DistanceBounds.places` tells of points and the sections of their poses.

        pose : of each point (q,)
        points : (q, 2) [mm]
        Returns : at least, at most, normal, how far along it: (q,), (q,), (q, 2), (q,) [mm, mm, -, mm]
        Source: see there; each section's own.
        """
        if len(self._bounds) == 1:
            return self._bounds[0].places(points)
        own = self._of_pose[pose]
        order = np.argsort(own, kind="stable")
        ends = np.cumsum(np.bincount(own, minlength=len(self._bounds))).tolist()
        least, most, way, ahead = (np.empty((len(pose), *shape)) for shape in ((), (), (2,), ()))
        for bounds, start, end in zip(self._bounds, [0, *ends], ends, strict=False):
            if end > start:
                mine = order[start:end]
                least[mine], most[mine], way[mine], ahead[mine] = bounds.places(points[mine])
        return least, most, way, ahead


def _convex_hull(section: Polygon) -> Polygon:
    """The convex hull of a section as a solid of revolution, cut through the axis."""
    mirrored = shapely.transform(section, lambda places: places * (1.0, -1.0))
    return shapely.convex_hull(shapely.union(section, mirrored))
