"""A thin slice of a scan as a line: its places in the order in which a finger would follow them, folds and all."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fitment.frames import Array, unit

CELL = 4.0  # [mm] of the raster by which places hang together
HOP = 20.0  # [mm] over which a line does not go on; wider, and it is two, or there is a hole
LEAST = 4  # cells of a line
STEP, ARM = 2.0, 5  # [mm] between places where a line's turn is looked at, and so many steps to either side
FOLD, NEAR = 35.0, 4  # [deg] of a turn that is a fold; steps within which each line has it


def section_curve(places: Array) -> Array | None:
    """The line through places of a slice (n, 2) [mm], from one end to the other (k, 2) [mm]; None where there is none.

    Source: derived here. Cells of a raster are joined by ways that are dearer than they are long beyond neighbours, so
    that the shortest way from one end goes along the sheet, round its folds (Dijkstra 1959; the end is the farthest
    cell from the farthest).
    """
    if not len(places):
        return None
    _, of = np.unique(np.rint(places / CELL).astype(int), axis=0, return_inverse=True)
    of = of.ravel()
    at = _means(places, of)
    if len(at) < LEAST:
        return None
    apart = np.linalg.norm(at[:, None] - at[None], axis=2)
    way = np.maximum(apart, apart**3 / (2 * CELL) ** 2)
    along = _ways_from(int(np.argmax(_ways_from(0, way))), way)
    order = np.argsort(along)
    if np.linalg.norm(np.diff(at[order], axis=0), axis=1).max() > HOP:
        return None
    line = _means(places, np.unique((along[of] / CELL).astype(int), return_inverse=True)[1].ravel())
    if len(line) < LEAST:
        return None
    for end, beside in ((0, 1), (-1, -2)):  # to where the places end, not to the middle of the last ones
        out = unit(line[end] - line[beside])
        near = places[np.linalg.norm(places - line[end], axis=1) < 2 * CELL]
        line[end] += max(float(np.max((near - line[end]) @ out, initial=0.0)), 0.0) * out
    return line


def _means(places: Array, of: NDArray[np.intp]) -> Array:
    count = np.bincount(of)
    return np.stack([np.bincount(of, places[:, k]) / count for k in (0, 1)], -1)


def _ways_from(start: int, way: Array) -> Array:
    """The shortest ways from one cell to all (n,)."""
    found, done = way[start].copy(), np.zeros(len(way), bool)
    found[start] = 0.0
    for _ in range(len(way)):
        k = int(np.argmin(np.where(done, np.inf, found)))
        done[k] = True
        found = np.minimum(found, found[k] + way[k])
    return found


def columns_of(curves: Sequence[Array], apart: float, most: int) -> tuple[list[Array], tuple[int, ...]]:
    """Places on lines (k, 2), the same number on each (c, 2) [mm], and which of them are the folds that lines share.

    apart : between places where no fold is nearer [mm]; most : of them
    The lines must lead the same way. Source: derived here: a fold is where arms of ARM before and behind turn most.
    """
    lengths = [_along(curve)[-1] for curve in curves]
    count = int(np.ceil(max(lengths) / STEP)) + 1
    fine = np.stack([at_shares(curve, count) for curve in curves])
    turns = np.stack([_turn(line) for line in fine])
    shared = [0, *_peaks(turns.mean(axis=0)), count - 1]
    parts = [max(int(np.ceil((b - a) * STEP / apart)), 1) for a, b in pairwise(shared)]
    while sum(parts) + 1 > most:
        parts = [max(part - 1, 1) for part in parts]
    found = []
    for line, turn in zip(fine, turns, strict=True):
        own = [0, *(k - NEAR + int(np.argmax(turn[k - NEAR : k + NEAR + 1])) for k in shared[1:-1]), count - 1]
        corners = [line[0], *(_corner(line, k) for k in own[1:-1]), line[-1]]
        pieces = [
            at_shares(np.concatenate([first[None], line[a + 1 : b], last[None]]), part + 1)[:-1]
            for (a, b), (first, last), part in zip(pairwise(own), pairwise(corners), parts, strict=True)
        ]
        found.append(np.concatenate([*pieces, corners[-1][None]]))
    return found, tuple(np.cumsum(parts)[:-1].tolist())


def _turn(line: Array) -> Array:
    """By how much a line of places STEP apart turns at each of them (n,) [deg]; near its ends not at all."""
    turn = np.zeros(len(line))
    if len(line) > 2 * ARM:
        before, behind = (line[ARM:-ARM] - line[: -2 * ARM]), (line[2 * ARM :] - line[ARM:-ARM])
        cross = before[:, 0] * behind[:, 1] - before[:, 1] * behind[:, 0]
        turn[ARM:-ARM] = np.degrees(np.abs(np.arctan2(cross, np.sum(before * behind, axis=1))))
    return turn


def _peaks(turn: Array) -> list[int]:
    """Where a line is folded, in order."""
    left, found = turn.copy(), []
    while left.max() > FOLD:
        k = int(np.argmax(left))
        found.append(k)
        left[max(k - 2 * ARM, 0) : k + 2 * ARM + 1] = 0.0
    return sorted(found)


def _corner(line: Array, k: int) -> Array:
    """Where the arms before and behind a fold meet (2,) [mm]; the fold itself where they do not meet near it."""
    (a, b), (c, d) = (line[k - ARM], line[k - 2]), (line[k + 2], line[k + ARM])
    ways = np.stack([b - a, c - d], -1)
    if abs(float(np.linalg.det(ways))) < 1e-6:
        return line[k]
    meet = a + np.linalg.solve(ways, c - a)[0] * (b - a)
    return np.asarray(meet if np.linalg.norm(meet - line[k]) < ARM * STEP else line[k])


def at_shares(line: Array, count: int) -> Array:
    """So many places on a line (k, 2) from end to end, equally far apart along it (count, 2) [mm].

    Source: the lengths of its stretches, added.
    """
    along = _along(line)
    share = np.linspace(0.0, along[-1], count)
    return np.stack([np.interp(share, along, line[:, k]) for k in (0, 1)], -1)


def _along(line: Array) -> Array:
    return np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
