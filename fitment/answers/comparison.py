"""Two builds of one axle side by side."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fitment.checks.case import moved
from fitment.checks.full_case import FullCase, road_between
from fitment.checks.road_changes import RoadChanges


@dataclass(frozen=True)
class Comparison:
    """An old and a new build of one axle.

    change : what is larger in the new one at rest, name -> [mm]; road : what changes on the road from old to new
    """

    old: FullCase
    new: FullCase
    change: Mapping[str, float]
    road: RoadChanges


def compared(old: FullCase, new: FullCase) -> Comparison:
    """What differs from one checked build to another of the same axle. Raises FitmentError."""
    return Comparison(old, new, moved(old.stance, new.stance), road_between(old, new))
