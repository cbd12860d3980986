"""LevelLines on a sheet of triangles along which a value is just so much, and what of the sheet lies below it.

The sheet is divided where a line could pass, which is known since a value changes by no more than about the way walked;
each point of a line is then sought along the side of a triangle that it crosses.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from fitment.frames import Array

Index = NDArray[np.intp]
Shapes = NDArray[np.object_]
Values = Sequence[Callable[[Array], Array]]
"""Functions (places (q, 1 + m, 3) -> (q,)) [mm]."""
STEEP = 0.7  # [-] by which a value may change over a side's length, against the straight line between corners
ROUND = 10.0  # [mm] radius to which it may bend at most, an outline's with what is clear
EXACT = 0.02  # [mm] of a value within which a line's point is
TURNS = 40  # of the search for it at most


@dataclass(frozen=True)
class Level:
    """A line to be found.

    value : which of the values; at : how much that is on it [mm]; finest : longest side of a triangle there [mm]
    """

    value: int
    at: float
    finest: float


@dataclass(frozen=True)
class TriangleSheet:
    """A sheet of triangles, in one or more pieces that lie flat.

    places : of each corner as measured and as each reading moves it (v, n, 3) [mm]
    plan : where it is in a plan in which no two places coincide (v, 2) [-]
    flat : where it lies in each piece (v, p, 2) [mm], nan in one that it does not belong to
    faces : corners of each triangle (t, 3); piece : which each belongs to (t,)
    """

    places: Array
    plan: Array
    flat: Array
    faces: Index
    piece: Index

    def between(self, ends: Index, share: Array) -> tuple[Array, Array, Array]:
        """Places (n, k, 3) [mm], plan (n, 2) [-] and flat (n, p, 2) [mm] of points on sides.

        ends : corners of each side (n, 2); share : how far along it each is (n,) [-]
        Source: none needed, all are linear along a side.
        """
        found = []
        for of_corners in (self.places, self.plan, self.flat):
            start, end = of_corners[ends[:, 0]], of_corners[ends[:, 1]]
            found.append(start + share.reshape(-1, *[1] * (start.ndim - 1)) * (end - start))
        return found[0], found[1], found[2]


def divided(sheet: TriangleSheet, values: Values, levels: Sequence[Level]) -> tuple[TriangleSheet, Array]:
    """The sheet with no side longer than is fine where one of the lines could pass, and its values (v, k) [mm].

    Source: derived here: a side that is too long is cut in its middle, and the triangles on it with it. Between its
    corners a distance is below the straight line by no more than a circle of radius ROUND bends over a side.
    """
    known = _known(sheet.places, values)
    while True:
        sides = np.sort(sheet.faces[:, [[0, 1], [1, 2], [2, 0]]], axis=2)
        ways = sheet.places[sides[..., 0], 0] - sheet.places[sides[..., 1], 0]
        length = np.linalg.norm(ways, axis=-1)
        longest = length.max(axis=1)
        off = np.minimum(STEEP * longest, longest**2 / (8 * ROUND))
        own = known[sheet.faces]
        low, high = own.min(axis=1) - off[:, None], own.max(axis=1) + off[:, None]
        passes = [(low[:, k.value] <= k.at) & (high[:, k.value] >= k.at) for k in levels]
        finest = np.min([np.where(own, k.finest, np.inf) for own, k in zip(passes, levels, strict=True)], axis=0)
        long = length > finest[:, None]
        if not long.any():
            return sheet, known
        edges = np.unique(sides[long], axis=0)
        more = sheet.between(edges, np.full(len(edges), 0.5))
        own_parts = (sheet.places, sheet.plan, sheet.flat)
        places, plan, flat = (np.concatenate(pair) for pair in zip(own_parts, more, strict=True))
        faces, of = _cut(sheet.faces, edges, len(sheet.places))
        sheet = TriangleSheet(places, plan, flat, faces, sheet.piece[of])
        known = np.concatenate([known, _known(more[0], values)])


def _known(places: Array, values: Values) -> Array:
    return np.stack([value(places) for value in values], -1)


def _cut(faces: Index, edges: Index, first: int) -> tuple[Index, Index]:
    """The triangles with some edges cut in their middles, numbered from `first` on, and which each was of."""
    size = int(faces.max()) + 1
    order = edges[:, 0] * size + edges[:, 1]
    sides = np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]], axis=2)
    key = sides[..., 0] * size + sides[..., 1]
    at = np.minimum(np.searchsorted(order, key), len(order) - 1)
    middle = np.where(order[at] == key, first + at, -1)
    count = (middle >= 0).sum(axis=1)
    # turned so that of one the first side is cut, of two the third is not
    turn = np.where(count == 1, np.argmax(middle >= 0, axis=1), (np.argmax(middle < 0, axis=1) + 1) % 3)
    roll = (np.arange(3) + turn[:, None]) % 3
    (a, b, c), (p, q, r) = np.take_along_axis(faces, roll, 1).T, np.take_along_axis(middle, roll, 1).T
    parts = {
        0: ((a, b, c),),
        1: ((a, p, c), (p, b, c)),
        2: ((p, b, q), (a, p, q), (a, q, c)),
        3: ((a, p, r), (p, b, q), (r, q, c), (p, q, r)),
    }
    cut = [(np.stack(t, -1)[count == n], np.flatnonzero(count == n)) for n, own in parts.items() for t in own]
    return np.concatenate([own for own, _ in cut]), np.concatenate([of for _, of in cut])


@dataclass(frozen=True)
class SheetLine:
    """A line on one piece of a sheet.

    places : as measured (n, 3) [mm]; plan : in the plan (n, 2) [-]; flat : where it lies flat (n, 2) [mm]
    """

    places: Array
    plan: Array
    flat: Array
    piece: int


@dataclass(frozen=True)
class LevelLines:
    """The lines of one level, and what of the sheet lies below it, triangle by triangle.

    below : flat (t,) [mm]; plan : the same in the plan (t,) [-]; piece : of each (t,)
    ends : both ends of what of the sheet's own edge lies below (e, 2, 3) [mm]; ends_plan : in the plan (e, 2, 2) [-]
    """

    lines: tuple[SheetLine, ...]
    below: Shapes
    plan: Shapes
    piece: Index
    ends: Array
    ends_plan: Array


def level_lines(sheet: TriangleSheet, known: Array, value: Callable[[Array], Array], level: Level) -> LevelLines:
    """The lines of one level on a divided sheet.

    known : its values (v, k) [mm]
    Source: derived here, straight within triangles; on their sides each point is searched, to its side not below.
    """
    off = known[:, level.value] - level.at
    faces, low = sheet.faces, off < 0
    lows = low[faces].sum(axis=1)
    mixed = np.flatnonzero((lows > 0) & (lows < 3))
    sides = np.sort(faces[mixed][:, [[0, 1], [1, 2], [2, 0]]], axis=2)
    crossed = low[sides[..., 0]] != low[sides[..., 1]]
    edges, number = np.unique(sides[crossed], axis=0, return_inverse=True)
    share = _shares(sheet, off, edges, lambda places: value(places) - level.at)
    places, plan, flat = sheet.between(edges, share)
    of_side = np.full(crossed.shape, -1)
    of_side[crossed] = number.ravel()
    lines = []
    for k in np.unique(sheet.piece[mixed]).tolist():
        own = np.sort(of_side[sheet.piece[mixed] == k], axis=1)[:, 1:]
        lines += [SheetLine(places[chain, 0], plan[chain], flat[chain, k], k) for chain in _chains(own)]
    corners = faces[lows == 3], faces[mixed]
    piece = np.concatenate([sheet.piece[lows == 3], sheet.piece[mixed]])
    own = sheet.piece[:, None]
    flats = [np.take_along_axis(sheet.flat[faces], own[:, :, None, None], 2)[:, :, 0]] if len(faces) else []
    side_flat = np.where(
        (of_side >= 0)[..., None], flat[of_side, sheet.piece[mixed][:, None]], np.nan
    ) if len(mixed) else np.empty((0, 3, 2))  # fmt: skip
    side_plan = plan[of_side] if len(mixed) else np.empty((0, 3, 2))
    below = _shapes(flats[0][lows == 3], flats[0][mixed], low[corners[1]], of_side, side_flat)
    in_plan = _shapes(sheet.plan[corners[0]], sheet.plan[corners[1]], low[corners[1]], of_side, side_plan)
    return LevelLines(tuple(lines), below, in_plan, piece, *_own_edge(sheet, low, edges, places, plan))


def _shares(sheet: TriangleSheet, known: Array, edges: Index, value: Callable[[Array], Array]) -> Array:
    """How far along each side the value is nought (n,) [-], to its end that is not below."""
    start, end = sheet.places[edges[:, 0]], sheet.places[edges[:, 1]]
    low = known[edges[:, 0]] < 0
    inside, outside = np.where(low, 0.0, 1.0), np.where(low, 1.0, 0.0)
    ends = known[edges]
    below, above = ends.min(axis=1, initial=0.0), ends.max(axis=1, initial=0.0)
    left = np.flatnonzero(above > EXACT)
    for turn in range(TURNS):
        if not len(left):
            break
        aim = below[left] - 0.4 * EXACT
        share = np.full(len(left), 0.5) if turn % 3 == 2 else aim / (aim - above[left])
        at = inside[left] + share * (outside[left] - inside[left])
        there = value(start[left] + at[:, None, None] * (end[left] - start[left]))
        under = there < 0
        inside[left[under]], below[left[under]] = at[under], there[under]
        outside[left[~under]], above[left[~under]] = at[~under], there[~under]
        left = left[(above[left] > EXACT) & (np.abs(inside[left] - outside[left]) > 1e-5)]
    return outside


def _shapes(whole: Array, mixed: Array, low: NDArray[np.bool_], of_side: Index, crossing: Array) -> Shapes:
    """Triangles that are below (t, 3, 2), and what is of those that a line crosses."""
    parts = []
    for corners, is_low, sides, across in zip(mixed, low.tolist(), of_side.tolist(), crossing, strict=True):
        ring = []
        for k in range(3):
            ring += [corners[k]] if is_low[k] else []
            ring += [across[k]] if sides[k] >= 0 else []
        parts.append(shapely.Polygon(ring))
    return np.concatenate([shapely.polygons(whole), np.array(parts, dtype=object)])


def _own_edge(
    sheet: TriangleSheet, low: NDArray[np.bool_], edges: Index, places: Array, plan: Array
) -> tuple[Array, Array]:
    """What of the sheet's own edge lies below: both ends, in space (e, 2, 3) [mm] and in the plan (e, 2, 2)."""
    sides = np.sort(sheet.faces[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
    once, count = np.unique(sides, axis=0, return_counts=True)
    own = once[count == 1]
    own = own[low[own].any(axis=1)]
    ends, in_plan = sheet.places[own, 0].copy(), sheet.plan[own].copy()
    size = len(sheet.places)
    order = edges[:, 0] * size + edges[:, 1]
    for k in np.flatnonzero(~low[own].all(axis=1)).tolist():
        at = int(np.searchsorted(order, own[k, 0] * size + own[k, 1]))
        high = 1 if low[own[k, 0]] else 0
        ends[k, high], in_plan[k, high] = places[at, 0], plan[at]
    return ends, in_plan


def _chains(pairs: Index) -> list[Index]:
    """Numbers of points in their order along each line; pairs : of points that are joined (n, 2)."""
    beside: dict[int, list[int]] = {}
    for a, b in pairs.tolist():
        beside.setdefault(a, []).append(b)
        beside.setdefault(b, []).append(a)
    chains, seen = [], set()
    for start in sorted(beside, key=lambda node: len(beside[node])):  # ends of open lines first
        if start in seen:
            continue
        chain, node = [start], start
        seen.add(start)
        while True:
            following = next((other for other in beside[node] if other not in seen), None)
            if following is None:
                break
            chain.append(following)
            seen.add(following)
            node = following
        if len(chain) > 2 and start in beside[node]:
            chain.append(start)
        chains.append(np.array(chain))
    return chains
