"""The pose set of a check: the grid, and the poses between its nodes where something comes closer.

The search knows nothing of wheels: it is given a function that tells the clearance of one pair
(an obstacle and a part) in any poses, and finds the lowest place near every low node of the grid.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from fitment.frames import Array

STARTS = 4  # low nodes of the grid from which each pair is searched
SETTLED = 0.04  # [mm] motion of a point at the tread below which a search stops
SETTLED_INSIDE = 1.0  # [mm] the same where parts overlap already: a depth only tells that they do, and about how deep
SMOOTH = 0.004  # [mm] how well a quadratic must fit before it is trusted
REACH = 450.0  # [mm] distance from the hub at which that motion is taken
ROUNDS = 30
AROUND = np.array([(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1) if (i, j) != (0, 0)], dtype=float)
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


def closest_places(
    travels: Array, shares: Array, kept: NDArray[np.bool_], on_grid: Sequence[Array], clearance: Clearance, lock: float
) -> list[tuple[int, float, float]]:
    """(pair, travel, share) of places that are closer than every kept node of the grid for that pair.

    travels (nt,), shares (ns,) : the grid; on_grid : clearance (nt, ns) of each pair
    kept : the nodes that are reported anyway (nt, ns)
    lock : largest lock [deg], to weigh a step in share against one in travel
    """
    starts = [(pair, node) for pair, values in enumerate(on_grid) for node in low_nodes(values)]
    if not starts:
        return []
    pairs = np.array([pair for pair, _ in starts])
    at = np.array([(travels[i], shares[j]) for _, (i, j) in starts])
    step = np.array([(_spacing(travels, i), _spacing(shares, j)) for _, (i, j) in starts]) / 2
    first = np.array([on_grid[pair][node] for pair, node in starts])
    value, at = _descend(pairs, at, step, first, clearance, lock, (travels, shares))
    found = []
    for pair, values in enumerate(on_grid):
        mine = np.flatnonzero(pairs == pair)
        best = mine[np.argmin(value[mine])]
        if value[best] < values[kept].min() - 1e-3:
            found.append((pair, float(at[best, 0]), float(at[best, 1])))
    return found


def _descend(
    pairs: NDArray[np.intp], at: Array, step: Array, value: Array, clearance: Clearance, lock: float,
    levels: tuple[Array, Array],
) -> tuple[Array, Array]:  # fmt: skip
    """Lowest clearance near each start (q,) and its place (q, 2), all searches side by side.

    Each moves to the best of eight neighbours, or halves its step where none is lower. It stops when the step
    no longer matters, or when a quadratic through its last two rounds fits them and has nothing lower to offer;
    until then the lowest place of that quadratic is tried beside the neighbours, which helps along narrow valleys.
    """
    low, high = (np.array([level[i] for level in levels]) for i in (0, -1))
    motion = np.array([1.0, np.radians(lock) * REACH])
    settled = np.zeros(len(pairs), dtype=bool)
    hint = at.copy()
    earlier: list[Array] = [np.empty((0, 3)) for _ in pairs]
    for _ in range(ROUNDS):
        enough = np.where(value < 0, SETTLED_INSIDE, SETTLED)
        active = np.flatnonzero(~settled & (np.max(step * motion, axis=1) >= enough))
        if not len(active):
            break
        around = at[active, None] + AROUND * step[active, None]
        trial = np.clip(np.concatenate([around, hint[active, None]], axis=1), low, high)
        real = np.any(np.abs(trial - at[active, None]) > 1e-9, axis=2)
        there = np.full(real.shape, np.inf)
        there[real] = clearance(np.repeat(pairs[active], real.sum(axis=1)), *trial[real].T)
        for row, k in enumerate(active):
            tried = np.column_stack([trial[row][real[row]], there[row][real[row]]])
            known = np.concatenate([[[*at[k], value[k]]], tried, earlier[k]])
            earlier[k] = known[: len(tried) + 1]
            best = np.argmin(there[row])
            lower = there[row, best] < value[k] - 1e-6
            if lower:
                at[k], value[k] = trial[row, best], there[row, best]
            hint[k], offers = _model(known, at[k], value[k], step[k], (low, high))
            if not lower:
                settled[k] = offers < SMOOTH
                step[k] /= 2
    return value, at


def _model(known: Array, at: Array, value: float, step: Array, ends: tuple[Array, Array]) -> tuple[Array, float]:
    """Lowest place of a quadratic through known places (travel, share, clearance), and how much lower it promises.

    The promise is infinite where the quadratic does not fit.
    """
    scale = np.where(step > 0, step, 1.0)
    x = (known[:, :2] - at) / scale
    factors, _, rank, _ = np.linalg.lstsq(_powers(x), known[:, 2], rcond=1e-9)
    off = np.max(np.abs(_powers(x) @ factors - known[:, 2]))
    box = (np.clip(at + BOX * scale, *ends) - at) / scale
    there = _powers(box) @ factors
    best = int(np.argmin(there))
    full = 6 if np.all(step > 0) else 3  # at an end of the grid too few places may tell how it bends
    trusted = rank == full and len(known) > full + 2 and off < SMOOTH
    return at + box[best] * scale, float(value - there[best]) if trusted else np.inf


def _powers(x: Array) -> Array:
    t, s = x.T
    return np.stack([np.ones_like(t), t, s, t * t, s * s, t * s], -1)


def _spacing(levels: Array, i: int) -> float:
    if len(levels) == 1:
        return 0.0
    return float(max(levels[min(i + 1, len(levels) - 1)] - levels[i], levels[i] - levels[max(i - 1, 0)]))
