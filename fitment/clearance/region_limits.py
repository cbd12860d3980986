"""How far regions of poses reach in which something is below zero: limits on the safe side, by halving cells.

A cell is a box of travel and lock fractions with the values at its corners. What it could hold below them is told by
how the values bend. Only cells that could widen the region are divided, so that few poses are computed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from itertools import pairwise, product

import numpy as np
from numpy.typing import NDArray

from fitment.clearance.trace import Index
from fitment.frames import Array

ROUNDS = 24  # times at most that cells are halved
SURER = 4.0  # times what a curve takes from values between corners: a V bent as much at the nodes goes 4 times as deep
SAFE = 0.01  # [mm] above zero that counts as below: what polynomials and chords may be off by
ROUGH = 0.6  # [mm] of bulge in a way above which a cell is halved in it
SAME = 6  # decimals of a place

Measure = Callable[[Index, Index, Array], Array]
"""(family and region of each (q,), places (q, k): travel and lock fractions) -> value (q,) [mm], below zero inside"""
Coordinates = Callable[[int, Array], Array]
"""(family, places (q, k)) -> what limits are stated of (q, m)"""
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Cells:
    """Boxes of travel and lock fractions.

    region : the number of the one that each could widen (n,)
    family : of the poses (n,)
    low, high : ends (n, k) [mm, then -]
    values : (n, c) [mm] at the corners, 2 a way, the last way fastest; a way without a width has both ends
    bulge : (n, k) [mm], how far values may lie below those of the corners, by each way
    """

    region: Index
    family: Index
    low: Array
    high: Array
    values: Array
    bulge: Array

    def __len__(self) -> int:
        return len(self.family)

    def at(self, chosen: Flags | Index | slice) -> Cells:
        """Some of the cells."""
        return Cells(*(getattr(self, field.name)[chosen] for field in fields(self)))

    @property
    def lowest(self) -> Array:
        """What a cell could hold (n,) [mm]. Source: derived here, its lowest corner less the bulge."""
        return np.asarray(self.values.min(axis=1) - self.bulge.sum(axis=1) - SAFE)


def by_region(cells: Cells, count: int) -> list[Cells]:
    """The cells of each of so many regions [-]."""
    order = np.argsort(cells.region, kind="stable")
    ends = np.searchsorted(cells.region[order], np.arange(count + 1)).tolist()
    risen = cells.at(order)
    return [risen.at(slice(first, end)) for first, end in pairwise(ends)]


def joined(parts: Sequence[Cells]) -> Cells:
    """Cells one after another."""
    return Cells(*(np.concatenate([getattr(part, field.name) for part in parts]) for field in fields(Cells)))


def cells_of(family: int, levels: Sequence[Array], values: Array) -> Cells:
    """The cells of a grid, of one region after another.

    family : the number of its family [-]
    levels : travels [mm], then shares [-], (n,) each
    values : of every region at the nodes (r, n, m, ...) [mm]
    Source: derived here; the bulge is what linear interpolation may be off by, h^2 / 8 times the second derivative
    of a curve, SURER times that of a V, of which only what bends downward between corners counts.
    """
    levels = [at if len(at) > 1 else np.repeat(at, 2) for at in levels]
    for way in range(1, values.ndim):
        values = np.repeat(values, 2, axis=way) if values.shape[way] < 2 else values
    ends = np.array(list(product(*(pairwise(at.tolist()) for at in levels))))
    corners = [
        values[(slice(None), *(slice(1, None) if step else slice(-1) for step in steps))].ravel()
        for steps in product((0, 1), repeat=len(levels))
    ]
    bulge = np.stack([_bulge(at, values, 1 + way).ravel() for way, at in enumerate(levels)], -1)
    region = np.repeat(np.arange(len(values)), len(ends))
    low, high = (np.tile(ends[..., i], (len(values), 1)) for i in range(2))
    return Cells(region, np.full(len(region), family), low, high, np.stack(corners, -1), SURER * bulge)


def _bulge(at: Array, values: Array, way: int) -> Array:
    """What each cell of the grids (r, n, m, ...) may hold below its corners by one way [mm]."""
    rows, width = np.moveaxis(values, way, 0), np.diff(at)
    bend = np.zeros_like(rows)
    if len(at) > 2:
        slope = np.diff(rows, axis=0) / width.reshape(-1, *[1] * (rows.ndim - 1))
        inner = 2 * np.diff(slope, axis=0) / (at[2:] - at[:-2]).reshape(-1, *[1] * (rows.ndim - 1))
        bend = np.maximum(np.concatenate([inner[:1], inner, inner[-1:]]), 0.0)
    bend = np.moveaxis(bend, 0, way)
    for i in range(1, values.ndim):
        first, second = (np.take(bend, range(k, bend.shape[i] - 1 + k), axis=i) for k in (0, 1))
        bend = np.maximum(first, second)
    return np.asarray(bend * (width**2 / 8).reshape([-1 if i == way else 1 for i in range(values.ndim)]))


def places_in(region: Index | int, family: Index | int, places: Array, values: Array | None = None) -> Cells:
    """Single places as cells without a width.

    region, family : the number of theirs, or of each one's (q,) [-]
    places : (q, k) [mm, then -]
    values : there (q,) [mm], where they matter
    Source: none needed, they are put down as given.
    """
    own = np.zeros(len(places)) if values is None else values
    corners = np.repeat(own[:, None], 2 ** places.shape[1], axis=1)
    of_region, of_family = (np.array(np.broadcast_to(number, len(places))) for number in (region, family))
    return Cells(of_region, of_family, places, places, corners, np.zeros_like(places))


def extents(
    count: int, cells: Cells, known: Cells, measure: Measure, coordinates: Coordinates, step: Array
) -> tuple[Array, Array]:
    """Smallest and largest coordinates (r, m) [mm, deg or -] of regions below zero, each at most about a step out.

    Where nothing is below zero the smallest are infinite, the largest minus infinite.
    count : of the regions [-], which are looked at side by side
    known : single places of which it is known that they are in their region
    step : of each coordinate (m,) [mm, deg or -], infinite where it need not be found closely
    Source: derived here: cells that could reach a step beyond what is known are halved; what is left in doubt counts
    as in the region.
    """
    low, high = np.full((count, len(step)), np.inf), np.full((count, len(step)), -np.inf)

    def widen(ends: tuple[Array, Array], own: Index, inside: Array) -> None:
        np.minimum.at(ends[0], own, inside.reshape(len(own), -1, len(step)).min(axis=1))
        np.maximum.at(ends[1], own, inside.reshape(len(own), -1, len(step)).max(axis=1))

    if len(known):
        widen((low, high), known.region, at_corners(known, coordinates)[:, 0])
    least, most = low.copy(), high.copy()
    corners = at_corners(cells, coordinates)
    for left in reversed(range(ROUNDS)):
        kept = (cells.lowest < 0) | _holds(cells, known)
        cells, corners = cells.at(kept), corners[kept]
        if not len(cells):
            break
        own = cells.region
        beyond = (low[own] - corners.min(axis=1) > step) | (corners.max(axis=1) - high[own] > step)
        far = beyond.any(axis=1) & (left > 0)
        if not far.all():
            widen((least, most), own[~far], corners[~far])
        if not far.any():
            break
        cells, corners, ways = cells.at(far), corners[far], _ways(cells.at(far), corners[far], beyond[far], step)
        cells, corners, new, inside = divided(cells, corners, ways, measure, coordinates)
        if len(new):
            widen((low, high), new, inside)
    return np.minimum(low, least), np.maximum(high, most)


def _ways(cells: Cells, corners: Array, beyond: Flags, step: Array) -> Flags:
    """In which ways cells are halved (n, k): those that widen them beyond what is known, and those of a large bulge."""
    ways = cells.low.shape[1]
    grid = corners.reshape(len(cells), *[2] * ways, corners.shape[-1])
    spread = np.stack(
        [
            np.abs(np.diff(grid, axis=1 + way)).reshape(len(cells), -1, corners.shape[-1]).max(axis=1)
            for way in range(ways)
        ],
        1,
    )
    chosen = np.any((spread > step / 2) & beyond[:, None], axis=2) | (cells.bulge > ROUGH)
    none = np.flatnonzero(~chosen.any(axis=1))
    chosen[none, np.argmax(cells.bulge[none], axis=1)] = True
    return np.asarray(chosen & (cells.high > cells.low))


def at_corners(cells: Cells, coordinates: Coordinates) -> Array:
    """Coordinates (n, c, m) [mm, deg or -] at the corners of cells.

    Source: none needed, they are asked for there, once where many meet.
    """
    steps = np.array(list(product((0.0, 1.0), repeat=cells.low.shape[1])))
    places = cells.low[:, None] + steps * (cells.high - cells.low)[:, None]
    owner = np.repeat(cells.family, len(steps))
    once, back = np.unique(np.column_stack([owner, places.reshape(len(owner), -1)]), axis=0, return_inverse=True)
    there = _by_family(coordinates, once[:, 0].astype(np.intp), np.asarray(once[:, 1:]))
    return there[back.ravel()].reshape(len(cells), len(steps), -1)


def _by_family(function: Callable[[int, Array], Array], family: Index, places: Array) -> Array:
    """A function of one family's places at those (q, k) of several."""
    several = np.unique(family).tolist()
    if len(several) == 1:
        return function(several[0], places)
    parts = {own: function(own, places[family == own]) for own in several}
    whole = np.empty((len(places), *parts[several[0]].shape[1:]))
    for own, part in parts.items():
        whole[family == own] = part
    return whole


def _holds(cells: Cells, known: Cells) -> Flags:
    """Which cells hold a known place of their region (n,)."""
    order = np.argsort(known.region, kind="stable")
    first, end = (np.searchsorted(known.region[order], cells.region, side=side) for side in ("left", "right"))
    cell = np.repeat(np.arange(len(cells)), end - first)
    place = order[np.arange(len(cell)) - np.repeat(np.cumsum(end - first) - end, end - first)]
    within = (cells.low[cell] <= known.low[place] + 1e-9) & (known.low[place] - 1e-9 <= cells.high[cell])
    held = np.zeros(len(cells), dtype=bool)
    held[cell[within.all(axis=1) & (cells.family[cell] == known.family[place])]] = True
    return held


def divided(
    cells: Cells, corners: Array, ways: Flags, measure: Measure, coordinates: Coordinates
) -> tuple[Cells, Array, Index, Array]:
    """Cells halved, and coordinates at their corners (n, c, m) [mm, deg or -]; of new places that are in a region its
    number (q,) and their coordinates (q, m).

    corners : coordinates at those of the cells (n, c, m) [mm, deg or -]
    ways : in which each is halved (n, k)
    Source: derived here; the bulge is a quarter of the larger of what was expected and what was seen. Half a V goes no
    deeper below its corners than the middle of the whole was seen to lie below the line between its ends.
    """
    count = cells.low.shape[1]
    steps = np.array(list(product((0.0, 0.5, 1.0), repeat=count)))
    corner = np.all(steps != 0.5, axis=1)
    nodes = cells.low[:, None] + steps * (cells.high - cells.low)[:, None]
    wanted = ~corner & ~np.any((steps == 0.5)[None] & ~ways[:, None], axis=2)
    owners = (np.broadcast_to(own[:, None], wanted.shape)[wanted] for own in (cells.region, cells.family))
    keys = np.column_stack([*owners, np.round(nodes[wanted], SAME)])
    once, back = np.unique(keys, axis=0, return_inverse=True)
    (region, family), places = once[:, :2].T.astype(np.intp), once[:, 2:]
    there = measure(family, region, places)
    at = _by_family(coordinates, family, places)
    values = np.full(wanted.shape, np.nan)
    values[:, corner], values[wanted] = cells.values, there[back.ravel()]
    where = np.full((*wanted.shape, corners.shape[2]), np.nan)
    where[:, corner], where[wanted] = corners, at[back.ravel()]
    seen = SURER * _seen_bulge(values, count)
    bulge = np.where(ways, np.maximum(cells.bulge, seen) / 4, cells.bulge)
    place, ends = 3 ** np.arange(count)[::-1], np.array(list(product((0, 1), repeat=count)))
    halves, their_corners = [], []
    for first in product((0, 1), repeat=count):
        mine = np.all(ways | (np.array(first) == 0), axis=1)
        own_cells, split = cells.at(mine), ways[mine]
        width = np.where(split, 0.5, 1.0) * (own_cells.high - own_cells.low)
        low = own_cells.low + np.array(first) * width
        index = np.where(split[:, None], np.array(first) + ends, 2 * ends) @ place
        at_ends = np.take_along_axis(values[mine], index, axis=1)
        halves.append(Cells(own_cells.region, own_cells.family, low, low + width, at_ends, bulge[mine]))
        their_corners.append(np.take_along_axis(where[mine], index[..., None], axis=1))
    short = there < SAFE
    return joined(halves), np.concatenate(their_corners), region[short], at[short]


def _seen_bulge(values: Array, ways: int) -> Array:
    """How far the middles of cells lie below their ends, by each way (n, k) [mm]; values : (n, 3^k), nan unknown."""
    grid = values.reshape(len(values), *[3] * ways)
    seen = []
    for way in range(1, ways + 1):
        first, middle, last = (np.take(grid, i, axis=way).reshape(len(values), -1) for i in range(3))
        seen.append(np.nan_to_num(np.maximum((first + last) / 2 - middle, 0.0), nan=0.0).max(axis=1))
    return np.stack(seen, -1)
