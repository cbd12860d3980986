"""Of very many points those that a section could touch first: the ones an empty disc can be laid against.

A section's outline is rounder than a small disc. A point that no such disc reaches without holding others is
nearest to nothing, and there are far more of these.
"""

from __future__ import annotations

import numpy as np

from fitment.clearance.trace import Index
from fitment.frames import Array

DISC = 2.0  # [mm] radius of the disc
DIRECTIONS = 16  # from which it is laid against a point
DEEP = 4.0  # [mm] how far ahead others are looked for: what is free behind them is too narrow for anything
STEEPEST = float(1 - np.cos(np.pi / DIRECTIONS)) * 1.1 * DISC  # [mm] what a disc between two directions may gain


def outer_points(plane: Array, slack: float, width: float) -> Index:
    """Indexes of the points (q, 2) [mm] that a disc reaches from some direction, one of each strip `width` wide.

    slack : [mm] by which others may stand in the disc
    """
    chosen = np.zeros(len(plane), dtype=bool)
    if len(plane):
        for angle in np.arange(DIRECTIONS) * (2 * np.pi / DIRECTIONS):
            along = np.array([np.cos(angle), np.sin(angle)])
            chosen[_reached(plane @ along, plane @ (-along[1], along[0]), slack + STEEPEST, width)] = True
    return np.flatnonzero(chosen)


def _reached(ahead: Array, across: Array, slack: float, width: float) -> Index:
    """Of points by their place ahead and across [mm] (q,) those farthest ahead in their strip and in reach there."""
    around = int(np.ceil(DISC / width))
    strips, layers = (np.floor((a - a.min()) / size).astype(np.intp) for a, size in ((across, width), (ahead, DEEP)))
    columns = int(layers.max()) + 2
    key = (strips + around) * columns + layers
    farthest = np.full((int(strips.max()) + 2 * around + 1) * columns, -np.inf)
    np.maximum.at(farthest, key, ahead)
    best = np.flatnonzero(ahead >= farthest[key])
    best = best[np.unique(key[best], return_index=True)[1]]
    limit = farthest[key[best] + 1]
    for step in range(-around, around + 1):
        lower = (min(abs(step) + 1, around) * width) ** 2 / (2 * DISC) if step else 0.0
        beside = key[best] + step * columns
        limit = np.maximum(limit, np.maximum(farthest[beside], farthest[beside + 1]) - lower)
    return np.asarray(best[ahead[best] >= limit - slack])
