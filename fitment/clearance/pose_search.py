"""The pose set of a check: the grid, and the poses between its nodes where something comes closer.

The search knows nothing of wheels: it is given a function that tells the clearance of one pair
(an obstacle and a part) in any poses, and finds the lowest place near every low node of the grid.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, pairwise, product

import numpy as np
from numpy.typing import NDArray

from fitment.frames import Array
from fitment.units import DEEP

STARTS = 4  # low nodes of the grid from which each pair is searched
BESIDE_BEND = 12.0  # [mm] above the lowest node up to which low nodes beside a bend are searched from
SETTLED = 0.04  # [mm] motion of a point at the tread below which a search stops
SETTLED_INSIDE = 0.2  # [mm] the same where parts overlap already: a depth only tells that they do, and about how deep
SETTLED_DEEP = 2.0  # [mm] the same deeper than DEEP; nor is a valley followed there
SMOOTH = 0.004  # [mm] how well a quadratic must fit before it is trusted
SURER = 10.0  # times what a quadratic is off by at known places, as much as it is taken to be off by between them
REACH = 450.0  # [mm] distance from the hub at which that motion is taken
ROUNDS = 30
ALONG = np.array([-8.0, -4.0, -2.0, -1.0, 1.0, 2.0, 4.0, 8.0])[:, None]  # [mm of motion] tried along a valley
BELIEVED = 3.0  # [steps] each way within which the quadratic is believed
TRIED = {2: 37, 3: 13}  # places each way at which it is looked at, by how many ways there are

Clearance = Callable[[NDArray[np.intp], Array], Array]
"""(pair (q,), places (q, k): travel and lock fractions) -> clearance (q,) [mm]"""
Node = tuple[int, ...]
At = tuple[float, ...]


def _low(clearance: Array) -> NDArray[np.bool_]:
    """Which nodes of grids (p, n, m, ...) are not higher than any neighbour of their own."""
    wide = np.pad(clearance, [(0, 0), *[(1, 1)] * (clearance.ndim - 1)], constant_values=np.inf)
    around = [
        wide[(slice(None), *(slice(i, i + n) for i, n in zip(corner, clearance.shape[1:], strict=True)))]
        for corner in product(range(3), repeat=clearance.ndim - 1)
    ]
    return np.asarray(clearance <= np.min(around, axis=0))


def _lowest_first(clearance: Array, low: NDArray[np.bool_]) -> list[Node]:
    """Low nodes of one grid (n, m, ...), lowest first, at most STARTS."""
    nodes = np.argwhere(low)
    order = np.argsort(clearance[low], kind="stable")
    return [tuple(node) for node in nodes[order[:STARTS]].tolist()]


@dataclass(frozen=True)
class Start:
    """Where a pair's search starts, how far its first steps go, and the smooth patch in which it stays.

    at, step, low, high : travel and lock fractions [mm, then -]
    value : what is known at the start [mm]
    """

    pair: int
    at: At
    step: At
    value: float
    low: At
    high: At


def _starts(levels: Sequence[Array], values: Array, reach: Array, bends: Sequence[float]) -> Iterator[Start]:
    """Of each pair the low nodes of every patch on which the motion is smooth, lowest first, but for those beside which
    no place can be lower than the lowest node.

    values : clearance of every pair (p, n, m, ...); reach : how much lower it can come beside a node (p,) [mm]
    A valley that crosses a bend goes on as another one. A node next to a lower one beyond the bend is no low node
    of the whole grid; it is searched from only where it is almost as low as the lowest.
    """
    lowest = values.min(axis=tuple(range(1, values.ndim)))
    near = values <= (lowest + reach).reshape(-1, *[1] * (values.ndim - 1))
    low = _low(values)
    kinks = [bends, *([(0.0,)] * (len(levels) - 1))]
    boxes = list(product(*(_spans(level, at) for level, at in zip(levels, kinks, strict=True))))
    patches = [tuple(slice(first, last + 1) for first, last in box) for box in boxes]
    inner_low = [_low(values[(slice(None), *patch)]) for patch in patches]
    for pair, limit in enumerate((lowest + BESIDE_BEND).tolist()):
        whole = set(_lowest_first(values[pair], low[pair])) if lowest[pair] > -DEEP else set[Node]()
        starts: list[Start] = []
        for box, patch, lows in zip(boxes, patches, inner_low, strict=True):
            for inner in _lowest_first(values[pair][patch], lows[pair]):
                node = tuple(first + i for (first, _), i in zip(box, inner, strict=True))
                value = float(values[pair][node])
                if near[pair][node] and (node in whole or value < limit):
                    ends: list[Node] = list(zip(*box, strict=True))
                    at, start, end = (_at(levels, corner) for corner in (node, *ends))
                    step = tuple(_spacing(level, i) / 2 for level, i in zip(levels, node, strict=True))
                    starts.append(Start(pair, at, step, value, start, end))
        yield from sorted(starts, key=lambda start: start.value)[: 2 * STARTS]


def _at(levels: Sequence[Array], node: Node) -> At:
    return tuple(float(level[i]) for level, i in zip(levels, node, strict=True))


def _spans(levels: Array, bends: Sequence[float]) -> list[tuple[int, int]]:
    """First and last index of the levels between bends, which are levels themselves."""
    inner = [int(np.argmin(np.abs(levels - b))) for b in sorted(bends) if levels[0] < b < levels[-1]]
    return list(pairwise([0, *inner, len(levels) - 1])) if len(levels) > 1 else [(0, 0)]


def closest_places(
    levels: Sequence[Array], kept: NDArray[np.bool_], on_grid: Array, reach: Array, clearance: Clearance,
    turns: Sequence[float], bends: Sequence[float] = (),
) -> list[tuple[int, At, float]]:  # fmt: skip
    """(pair, place, clearance) of places that are closer than every kept node of the grid for that pair.

    levels : of the grid, travels (n,) [mm], then each share (m,) [-]
    kept : the nodes that are reported anyway (n, m, ...)
    on_grid : clearance [mm] of each pair (p, n, m, ...)
    reach : how much lower it can come beside a node (p,) [mm]
    turns : largest turn of the wheel by each share [deg], to weigh a step in lock fraction against one in travel
    bends : travels of the grid at which the motion is not smooth [mm]; at share 0 it is not either
    Returns : the pair's index, its place, a travel and its lock fractions, and the clearance [-; mm, then -; mm]
    Source: derived here: the low nodes of every smooth patch, each searched as `descend` tells.
    """
    if not len(on_grid):
        return []
    starts = list(_starts(levels, on_grid, reach, bends))
    pairs = np.array([start.pair for start in starts])
    value, at = descend(starts, clearance, turns)
    closer = []
    first = np.searchsorted(pairs, np.arange(len(on_grid) + 1)).tolist()
    reported = on_grid[:, kept].min(axis=1)
    for pair, (start, end) in enumerate(pairwise(first)):
        best = start + int(np.argmin(value[start:end]))
        if value[best] < reported[pair] - 1e-3:
            closer.append((pair, tuple(at[best].tolist()), float(value[best])))
    return closer


def descend(starts: Sequence[Start], clearance: Clearance, turns: Sequence[float]) -> tuple[Array, Array]:
    """Lowest clearance near each start (q,) [mm] and its place (q, k) [mm, then -], all searches side by side.

    turns : largest turn of the wheel by each share [deg]
    Each moves to the best of its neighbours, or halves its step where none is lower. It settles when the step
    no longer matters, or when a quadratic through its last two rounds fits them and has nothing lower to offer;
    until then the lowest place of that quadratic is tried beside the neighbours, which helps along narrow valleys.
    It is done when the way along which that bends least, a valley perhaps, leads to nothing lower either, or when the
    quadratic tells that another start of its pair is lower than anything here.
    Source: derived here, a pattern search with a quadratic model.
    """
    pairs, value, at, step, low, high = (
        np.array([getattr(start, name) for start in starts]) for name in ("pair", "value", "at", "step", "low", "high")
    )
    motion = np.array([1.0, *(max(np.radians(turn) * REACH, 1e-9) for turn in turns)])
    neighbours = _neighbours(at.shape[1])
    along_valley = np.zeros((len(neighbours), 1))  # the ways that are tried along one, and as many empty as fill up
    along_valley[: len(ALONG)] = ALONG
    settled, done = np.zeros(len(pairs), dtype=bool), np.zeros(len(pairs), dtype=bool)
    lowest = np.full(pairs.max(initial=-1) + 1, np.inf)
    hint, valley = at.copy(), np.zeros_like(at)
    earlier = np.full((len(pairs), 1 + len(neighbours) + 1, at.shape[1] + 1), np.nan)
    for _ in range(ROUNDS):
        limit = np.select([value < -DEEP, value < 0], [SETTLED_DEEP, SETTLED_INSIDE], SETTLED)
        settled |= np.max(step * motion, axis=1) < limit
        done |= settled & (value < -DEEP)
        k = np.flatnonzero(~done)
        if not len(k):
            break
        around = at[k, None] + neighbours * step[k, None]
        around = np.where(settled[k, None, None], at[k, None] + along_valley * valley[k, None], around)
        trial = np.clip(np.concatenate([around, hint[k, None]], axis=1), low[k, None], high[k, None])
        real = np.any(np.abs(trial - at[k, None]) > 1e-9, axis=2)
        there = np.full(real.shape, np.nan)
        # what two starts ask, as beside the end of a patch, is measured once
        asked = np.column_stack([np.repeat(pairs[k], real.sum(axis=1)), np.round(trial[real], 9)])
        once, back = np.unique(asked, axis=0, return_inverse=True)
        there[real] = clearance(once[:, 0].astype(np.intp), once[:, 1:])[back.ravel()]
        tried = np.concatenate([trial, there[..., None]], axis=2)
        latest = np.concatenate([np.column_stack([at[k], value[k]])[:, None], tried], axis=1)
        known = np.concatenate([latest, earlier[k]], axis=1)
        earlier[k] = latest
        best, row = np.argmin(np.where(real, there, np.inf), axis=1), np.arange(len(k))
        gain = np.where(real[row, best], value[k] - there[row, best], -np.inf)
        along = k[settled[k]]
        done[along] = gain[settled[k]] < SMOOTH
        step[along] = np.abs(trial[row, best] - at[k])[settled[k]] / 2
        lower = gain > 1e-6
        at[k[lower]], value[k[lower]] = trial[row, best][lower], there[row, best][lower]
        fitted, stuck = ~settled[k], ~lower
        settled[along], hint[along] = False, at[along]
        n = k[fitted]
        hint[n], offers, least, valley[n] = _models(known[fitted], at[n], value[n], step[n], (low[n], high[n]), motion)
        np.minimum.at(lowest, pairs[k], value[k])
        done[n] = least > lowest[pairs[n]]
        settled[n[stuck[fitted]]] = offers[stuck[fitted]] < SMOOTH
        step[n[stuck[fitted]]] /= 2
    return value, at


@lru_cache(maxsize=2)
def _neighbours(ways: int) -> Array:
    """Steps (n, ways) of one to every side and corner; of three ways not to the edges, which a quadratic can spare."""
    steps = [step for step in product((-1.0, 0.0, 1.0), repeat=ways) if sum(map(abs, step)) in (1, ways)]
    return np.array(steps)


def _lowest(factors: Array, low: Array, high: Array) -> tuple[Array, Array]:
    """The lowest places (q, k) [steps] of quadratics, of those at which they are looked at, and how low that is [mm].

    factors : in the order of `_powers`; low, high : ends (q, k) [steps]
    """
    count, ways = low.shape
    side = np.linspace(-BELIEVED, BELIEVED, TRIED[ways])
    tried = np.clip(side, low[..., None], high[..., None])
    x = [tried[:, i].reshape(count, *(len(side) if i == way else 1 for way in range(ways))) for i in range(ways)]
    first, *others = factors.T.reshape(factors.shape[1], count, *[1] * ways)
    there = first + sum(others[i] * x[i] for i in range(ways))
    for factor, (i, j) in zip(others[ways:], _pairs(ways), strict=True):
        there = there + factor * (x[i] * x[j])
    there = there.reshape(count, len(side) ** ways)
    best, row = np.argmin(there, axis=1), np.arange(count)
    at = np.unravel_index(best, (len(side),) * ways)
    return np.stack([tried[row, i, own] for i, own in enumerate(at)], -1), there[row, best]


def _models(
    known: Array, at: Array, value: Array, step: Array, ends: tuple[Array, Array], motion: Array
) -> tuple[Array, Array, Array, Array]:
    """Lowest places (q, k) of quadratics through known places, how much lower they promise (q,), how low it is there at
    least (q,), and their valleys.

    A valley is the way (q, k) along which a quadratic bends least, a millimetre of motion long.
    known : travel, lock fractions, clearance (q, m, k + 1), nan where there is none; at, value, step, ends : of each
        search
    A promise is infinite where the quadratic does not fit. Between known places it is taken to be off by SURER times
    what it is off by there.
    """
    ways = at.shape[1]
    real = ~np.isnan(known[..., -1])
    scale = np.where(step > 0, step, 1.0)
    powers = np.where(real[..., None], _powers((known[..., :-1] - at[:, None]) / scale[:, None]), 0.0)
    wanted = np.where(real, known[..., -1], 0.0)
    factors, rank = _least_squares(powers, wanted)
    off = np.max(np.abs(np.einsum("qmk,qk->qm", powers, factors) - wanted), axis=1)
    low, high = ((end - at) / scale for end in ends)
    place, lowest = _lowest(factors, low, high)
    free = np.sum(step > 0, axis=1)
    full = (free + 1) * (free + 2) // 2  # at an end of the grid too few places may tell how it bends
    told = (rank == full) & (real.sum(axis=1) > full + 2)
    size = scale * motion
    bend, across = np.linalg.eigh(_bending(factors, ways) / (size[:, :, None] * size[:, None, :]))
    valley = across[np.arange(len(at)), :, np.argmin(np.abs(bend), axis=1)] / motion
    promise = np.where(told & (off < SMOOTH), value - lowest, np.inf)
    return at + place * scale, promise, np.where(told, lowest - SURER * off, -np.inf), valley


def _bending(factors: Array, ways: int) -> Array:
    """Second derivatives (q, k, k) of quadratics by their factors, in the order of `_powers`."""
    bending = np.zeros((len(factors), ways, ways))
    for column, (i, j) in enumerate(_pairs(ways), start=1 + ways):
        bending[:, i, j] += factors[:, column]
        bending[:, j, i] += factors[:, column]
    return bending


def _least_squares(powers: Array, wanted: Array) -> tuple[Array, NDArray[np.intp]]:
    """Factors (q, k) of powers (q, m, k) that come nearest to what is wanted (q, m), and the rank of each (q,)."""
    u, size, v = np.linalg.svd(powers, full_matrices=False)
    told = size > 1e-9 * size[:, :1]
    lock_fraction = np.einsum("qmk,qm->qk", u, wanted) / np.where(told, size, np.inf)
    return np.einsum("qkj,qk->qj", v, lock_fraction), told.sum(axis=1)


def _pairs(ways: int) -> list[tuple[int, int]]:
    return [*((i, i) for i in range(ways)), *combinations(range(ways), 2)]


def _powers(x: Array) -> Array:
    """1, every coordinate, every square, every product of two (..., n) of places (..., k)."""
    products = (x[..., i] * x[..., j] for i, j in _pairs(x.shape[-1]))
    return np.stack([np.ones_like(x[..., 0]), *np.moveaxis(x, -1, 0), *products], -1)


def patch(level: float, ends: tuple[float, float], bends: Sequence[float]) -> tuple[float, float]:
    """Between which bends, or ends of its range, a level lies, in the unit of that level [mm, or -].

    level : a travel or a lock fraction [mm, or -]
    ends, bends : of the same kind [mm, or -]
    Source: derived here, the nearest below and above.
    """
    inner = [*ends, *(bend for bend in bends if ends[0] < bend < ends[1])]
    level = min(max(level, ends[0]), ends[1])
    return max(b for b in inner if b <= level), min(b for b in inner if b > level or b == ends[1])


def _spacing(levels: Array, i: int) -> float:
    if len(levels) == 1:
        return 0.0
    return float(max(levels[min(i + 1, len(levels) - 1)] - levels[i], levels[i] - levels[max(i - 1, 0)]))
