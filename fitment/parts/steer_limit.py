"""A steer limit of many points as one of few that holds as much steering or a little more."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from fitment.frames import Array

MANY = 24  # points up to which all stand as given
SHARE = 0.001  # [-] of the lock by which points may lie off the line that takes their place, to either side
Points = tuple[tuple[float, float], ...]
"""(travel [mm], share of the lock angle) pairs, rising travel."""


def fewer_points(limit: Points) -> Points:
    """Points between which the limit is nowhere below the given one, and at most 2 SHARE above it.

    Where it bends, everything that is sought between poses is sought anew, so a curve in many points would cost
    very much. More steering is the safe side: every pose of the given limit is one of this. Where a point allows
    all of the lock and another does not, or hardly not, both are kept.
    limit : (travel, share of the lock angle) pairs, travels rising [mm, -]
    Returns : the same of fewer [mm, -]
    Source: derived here: lines from point to point, as far as all between lie near them, raised over those above.
    """
    if len(limit) <= MANY:
        return limit
    travel, share = np.array(limit).T
    kept = _ends(travel, share)
    raised = share[kept]
    for i, (first, last) in enumerate(pairwise(kept)):
        between = slice(first, last + 1)
        line = np.interp(travel[between], travel[[first, last]], share[[first, last]])
        above = float(np.max(share[between] - line))
        for end, at in ((i, first), (i + 1, last)):
            raised[end] = max(raised[end], share[at] + above)
    return tuple(zip(travel[kept].tolist(), raised.tolist(), strict=True))


def _ends(travel: Array, share: Array) -> list[int]:
    """Which points the lines run between, rising."""
    kind = np.select([share >= 1, share < 1 - SHARE], [1, -1], 0)  # unlike ones are joined by no longer line
    ends, low, high = [0], -np.inf, np.inf
    for i in range(1, len(share)):
        first = ends[-1]
        slope = (share[i] - share[first]) / (travel[i] - travel[first])
        alike = kind[i] == kind[first] != 0 and kind[i] == kind[i - 1]
        if i - 1 > first and not (alike and low <= slope <= high):
            ends.append(i - 1)
            first, low, high = i - 1, -np.inf, np.inf
        off = SHARE / (travel[i] - travel[first])
        slope = (share[i] - share[first]) / (travel[i] - travel[first])
        low, high = max(low, slope - off), min(high, slope + off)
    return [*ends, len(share) - 1]
