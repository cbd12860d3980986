"""The pose set of a check: the grid, and the poses between its nodes where something comes closer.

The search knows nothing of wheels: it is given a function that tells the clearance of one pair
(an obstacle and a part) in any poses, and finds the lowest place near every low node of the grid.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from fitment.frames import Array

STARTS = 3  # low nodes of the grid from which each pair is searched
SETTLED = 0.02  # [mm] motion of a point at the tread below which a search stops
REACH = 450.0  # [mm] distance from the hub at which that motion is taken
ROUNDS = 24

Clearance = Callable[[int, Array, Array], Array]
"""(pair, travel (q,), share (q,)) -> clearance (q,) [mm]"""


def low_nodes(clearance: Array) -> list[tuple[int, int]]:
    """Nodes (i, j) of a grid (nt, ns) not higher than any neighbour, lowest first, at most STARTS."""
    wide = np.pad(clearance, 1, constant_values=np.inf)
    n, m = clearance.shape
    around = [wide[i : i + n, j : j + m] for i in range(3) for j in range(3)]
    found = np.argwhere(clearance <= np.min(around, axis=0))
    order = np.argsort(clearance[tuple(found.T)], kind="stable")
    return [(int(i), int(j)) for i, j in found[order[:STARTS]]]


def closest_places(
    travels: Array, shares: Array, on_grid: Sequence[Array], clearance: Clearance, lock: float
) -> list[tuple[int, float, float]]:
    """(pair, travel, share) of places that are closer than every node of the grid for that pair.

    travels (nt,), shares (ns,) : the grid; on_grid : clearance (nt, ns) of each pair
    lock : largest lock [deg], to weigh a step in share against one in travel
    """
    found = []
    for pair, values in enumerate(on_grid):
        best, place = float(values.min()) - 1e-3, None
        for i, j in low_nodes(values):
            value, travel, share = _descend(pair, travels, shares, values, (i, j), clearance, lock)
            if value < best:
                best, place = value, (pair, travel, share)
        if place is not None:
            found.append(place)
    return found


def _descend(
    pair: int, travels: Array, shares: Array, values: Array, node: tuple[int, int], clearance: Clearance, lock: float
) -> tuple[float, float, float]:
    """Lowest clearance near a node: move to the best of eight neighbours, halve the step where none is lower."""
    at = np.array([travels[node[0]], shares[node[1]]])
    value = float(values[node])
    low, high = np.array([travels[0], shares[0]]), np.array([travels[-1], shares[-1]])
    step = np.array([_spacing(travels, node[0]), _spacing(shares, node[1])]) / 2
    motion = np.array([1.0, np.radians(lock) * REACH])
    around = np.array([(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1) if (i, j) != (0, 0)])
    for _ in range(ROUNDS):
        if np.max(step * motion) < SETTLED:
            break
        trial = np.unique(np.clip(at + around * step, low, high), axis=0)
        trial = trial[np.any(trial != at, axis=1)]
        if not len(trial):
            break
        there = clearance(pair, trial[:, 0], trial[:, 1])
        k = int(np.argmin(there))
        if there[k] < value - 1e-6:
            value, at = float(there[k]), trial[k]
        else:
            step = step / 2
    return value, float(at[0]), float(at[1])


def _spacing(levels: Array, i: int) -> float:
    if len(levels) == 1:
        return 0.0
    return float(max(levels[min(i + 1, len(levels) - 1)] - levels[i], levels[i] - levels[max(i - 1, 0)]))
