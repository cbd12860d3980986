"""The pose set of a check: the grid, and the poses between its nodes where something comes closer.

The search knows nothing of wheels: it is given a function that tells the clearance of one pair
(an obstacle and a part) in any poses, and finds the lowest place near every low node of the grid.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fitment.frames import Array

STARTS = 4  # low nodes of the grid from which each pair is searched
BESIDE_BEND = 12.0  # [mm] above the lowest node up to which low nodes beside a bend are searched from
SETTLED = 0.04  # [mm] motion of a point at the tread below which a search stops
SETTLED_INSIDE = 0.2  # [mm] the same where parts overlap already: a depth only tells that they do, and about how deep
SMOOTH = 0.004  # [mm] how well a quadratic must fit before it is trusted
REACH = 450.0  # [mm] distance from the hub at which that motion is taken
ROUNDS = 30
AROUND = np.array([(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1) if (i, j) != (0, 0)], dtype=float)
ALONG = np.array([-8.0, -4.0, -2.0, -1.0, 1.0, 2.0, 4.0, 8.0])[:, None]  # [mm of motion] tried along a valley
_SIDE = np.linspace(-3.0, 3.0, 37)
BOX = np.stack(np.meshgrid(_SIDE, _SIDE), -1).reshape(-1, 2)  # [steps] where the quadratic is believed

Clearance = Callable[[NDArray[np.intp], Array, Array], Array]
"""(pair (q,), travel (q,), share (q,)) -> clearance (q,) [mm]"""


def low_nodes(clearance: Array) -> list[tuple[int, int]]:
    """Nodes (i, j) of a grid (nt, ns) not higher than any neighbour, lowest first, at most STARTS."""
    wide = np.pad(clearance, 1, constant_values=np.inf)
    n, m = clearance.shape
    around = [wide[i : i + n, j : j + m] for i in range(3) for j in range(3)]
    found = np.argwhere(clearance <= np.min(around, axis=0))
    order = np.argsort(clearance[tuple(found.T)], kind="stable")
    return [(int(i), int(j)) for i, j in found[order[:STARTS]]]


@dataclass(frozen=True)
class Start:
    """Where a pair's search starts, how far its first steps go, and the smooth patch in which it stays.

    at, step, low, high : (travel [mm], share)
    """

    pair: int
    at: tuple[float, float]
    step: tuple[float, float]
    value: float
    low: tuple[float, float]
    high: tuple[float, float]


def _starts(pair: int, travels: Array, shares: Array, values: Array, bends: Sequence[float]) -> list[Start]:
    """Low nodes of every patch on which the motion is smooth, lowest first.

    A valley that crosses a bend goes on as another one. A node next to a lower one beyond the bend is no low node
    of the whole grid; it is searched from only where it is almost as low as the lowest.
    """
    found: list[Start] = []
    whole, limit = set(low_nodes(values)), float(values.min()) + BESIDE_BEND
    for t0, t1 in _spans(travels, bends):
        for s0, s1 in _spans(shares, (0.0,)):
            for t, s in low_nodes(values[t0 : t1 + 1, s0 : s1 + 1]):
                node = (t0 + t, s0 + s)
                value = float(values[node])
                if node in whole or value < limit:
                    at, low, high = ((float(travels[k]), float(shares[m])) for k, m in (node, (t0, s0), (t1, s1)))
                    step = (_spacing(travels, node[0]) / 2, _spacing(shares, node[1]) / 2)
                    found.append(Start(pair, at, step, value, low, high))
    return sorted(found, key=lambda start: start.value)[: 2 * STARTS]


def _spans(levels: Array, bends: Sequence[float]) -> list[tuple[int, int]]:
    """First and last index of the levels between bends, which are levels themselves."""
    inner = [int(np.argmin(np.abs(levels - b))) for b in sorted(bends) if levels[0] < b < levels[-1]]
    return list(pairwise([0, *inner, len(levels) - 1])) if len(levels) > 1 else [(0, 0)]


def closest_places(
    travels: Array, shares: Array, kept: NDArray[np.bool_], on_grid: Sequence[Array], clearance: Clearance,
    lock: float, bends: Sequence[float] = (),
) -> list[tuple[int, float, float]]:  # fmt: skip
    """(pair, travel, share) of places that are closer than every kept node of the grid for that pair.

    travels (nt,), shares (ns,) : the grid; on_grid : clearance (nt, ns) of each pair
    kept : the nodes that are reported anyway (nt, ns)
    lock : largest lock [deg], to weigh a step in share against one in travel
    bends : travels [mm] of the grid at which the motion is not smooth; straight ahead it is not either
    """
    starts = [each for pair, values in enumerate(on_grid) for each in _starts(pair, travels, shares, values, bends)]
    if not starts:
        return []
    pairs = np.array([each.pair for each in starts])
    value, at = descend(starts, clearance, lock)
    found = []
    for pair, values in enumerate(on_grid):
        mine = np.flatnonzero(pairs == pair)
        best = mine[np.argmin(value[mine])]
        if value[best] < values[kept].min() - 1e-3:
            found.append((pair, float(at[best, 0]), float(at[best, 1])))
    return found


def descend(starts: Sequence[Start], clearance: Clearance, lock: float) -> tuple[Array, Array]:
    """Lowest clearance near each start (q,) and its place (q, 2), all searches side by side.

    Each moves to the best of eight neighbours, or halves its step where none is lower. It settles when the step
    no longer matters, or when a quadratic through its last two rounds fits them and has nothing lower to offer;
    until then the lowest place of that quadratic is tried beside the neighbours, which helps along narrow valleys.
    It is done when the way along which that bends least, a valley perhaps, leads to nothing lower either.
    """
    pairs, value, at, step, low, high = (
        np.array([getattr(each, name) for each in starts]) for name in ("pair", "value", "at", "step", "low", "high")
    )
    motion = np.array([1.0, max(np.radians(lock) * REACH, 1e-9)])
    settled, done = np.zeros(len(pairs), dtype=bool), np.zeros(len(pairs), dtype=bool)
    hint, valley = at.copy(), np.zeros_like(at)
    earlier = np.full((len(pairs), 1 + len(AROUND) + 1, 3), np.nan)
    for _ in range(ROUNDS):
        settled |= np.max(step * motion, axis=1) < np.where(value < 0, SETTLED_INSIDE, SETTLED)
        k = np.flatnonzero(~done)
        if not len(k):
            break
        around = at[k, None] + AROUND * step[k, None]
        around = np.where(settled[k, None, None], at[k, None] + ALONG * valley[k, None], around)
        trial = np.clip(np.concatenate([around, hint[k, None]], axis=1), low[k, None], high[k, None])
        real = np.any(np.abs(trial - at[k, None]) > 1e-9, axis=2)
        there = np.full(real.shape, np.nan)
        there[real] = clearance(np.repeat(pairs[k], real.sum(axis=1)), *trial[real].T)
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
        hint[n], offers, valley[n] = _models(known[fitted], at[n], value[n], step[n], (low[n], high[n]), motion)
        settled[n[stuck[fitted]]] = offers[stuck[fitted]] < SMOOTH
        step[n[stuck[fitted]]] /= 2
    return value, at


def _models(
    known: Array, at: Array, value: Array, step: Array, ends: tuple[Array, Array], motion: Array
) -> tuple[Array, Array, Array]:
    """Lowest places (q, 2) of quadratics through known places, how much lower they promise (q,), and their valleys.

    A valley is the way (q, 2) along which a quadratic bends least, a millimetre of motion long.
    known : travel, share, clearance (q, m, 3), nan where there is none; at, value, step, ends : of each search
    A promise is infinite where the quadratic does not fit.
    """
    real = ~np.isnan(known[..., 2])
    scale = np.where(step > 0, step, 1.0)
    powers = np.where(real[..., None], _powers((known[..., :2] - at[:, None]) / scale[:, None]), 0.0)
    wanted = np.where(real, known[..., 2], 0.0)
    factors, rank = _least_squares(powers, wanted)
    off = np.max(np.abs(np.einsum("qmk,qk->qm", powers, factors) - wanted), axis=1)
    low, high = ((end - at) / scale for end in ends)
    box = np.clip(BOX, low[:, None], high[:, None])
    there = np.einsum("qmk,qk->qm", _powers(box), factors)
    best, row = np.argmin(there, axis=1), np.arange(len(at))
    full = np.where(np.all(step > 0, axis=1), 6, 3)  # at an end of the grid too few places may tell how it bends
    trusted = (rank == full) & (real.sum(axis=1) > full + 2) & (off < SMOOTH)
    _, _, _, tt, ss, ts = factors.T
    size = scale * motion
    bends = np.stack([2 * tt, ts, ts, 2 * ss], -1).reshape(-1, 2, 2) / (size[:, :, None] * size[:, None, :])
    bend, ways = np.linalg.eigh(bends)
    valley = ways[row, :, np.argmin(np.abs(bend), axis=1)] / motion
    return at + box[row, best] * scale, np.where(trusted, value - there[row, best], np.inf), valley


def _least_squares(powers: Array, wanted: Array) -> tuple[Array, NDArray[np.intp]]:
    """Factors (q, k) of powers (q, m, k) that come nearest to what is wanted (q, m), and the rank of each (q,)."""
    u, size, v = np.linalg.svd(powers, full_matrices=False)
    told = size > 1e-9 * size[:, :1]
    share = np.einsum("qmk,qm->qk", u, wanted) / np.where(told, size, np.inf)
    return np.einsum("qkj,qk->qj", v, share), told.sum(axis=1)


def _powers(x: Array) -> Array:
    t, s = x[..., 0], x[..., 1]
    return np.stack([np.ones_like(t), t, s, t * t, s * s, t * s], -1)


def patch(level: float, ends: tuple[float, float], bends: Sequence[float]) -> tuple[float, float]:
    """Between which bends, or ends of its range, a level lies."""
    inner = [*ends, *(bend for bend in bends if ends[0] < bend < ends[1])]
    level = min(max(level, ends[0]), ends[1])
    return max(b for b in inner if b <= level), min(b for b in inner if b > level or b == ends[1])


def _spacing(levels: Array, i: int) -> float:
    if len(levels) == 1:
        return 0.0
    return float(max(levels[min(i + 1, len(levels) - 1)] - levels[i], levels[i] - levels[max(i - 1, 0)]))
