"""What is told first of several gaps, one rule for every answer."""

from __future__ import annotations


def urgency(clearance: float, margin: float) -> tuple[bool, float]:
    """Least comes first: the deepest overlap, before what is merely short, the smallest margin first [-, mm].

    clearance : [mm]; margin : the clearance less what is required [mm]
    Source: derived here, the order in which a verdict is told.
    """
    overlaps = clearance < 0
    return not overlaps, round(clearance if overlaps else margin, 6)
