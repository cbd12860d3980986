"""Where on a scan a clearance is, in words against the hub: a scan has no names of its own."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import TYPE_CHECKING

from fitment.report.common import wrapped
from fitment.units import length_text

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.checks.fit import Approach, Clearance, Fit

ASIDE = math.sin(math.radians(22.5))  # share of the way in the side view from which it is told: eight directions


def scan_side(entry: Approach, fit: Fit) -> str:
    """Where a scan's nearest place lies as seen from the side, against the hub at rest; empty for another part.

    >>> from types import SimpleNamespace as Any
    >>> fit = Any(obstacles=[Any(name="well", mesh="")], axle=Any(hub_face_at=(0, 800, 0)))
    >>> [scan_side(Any(obstacle="well", point=point), fit) for point in ((300, 700, 350), (9, 1, -60))]
    ['ahead of and above the hub', 'below the hub']
    """
    if not _is_scan(entry, fit):
        return ""
    ahead, _, up = _from_hub(entry, fit)
    way = math.hypot(ahead, up)
    words = []
    if abs(ahead) > ASIDE * way:
        words.append("ahead of" if ahead > 0 else "behind")
    if abs(up) > ASIDE * way:
        words.append("above" if up > 0 else "below")
    return f"{' and '.join(words)} the hub" if words else "beside the hub"


def scan_place(entry: Approach, fit: Fit, units: str) -> str:
    """The same with how far it is each way from the hub face's centre as measured, along the vehicle's axes."""
    side = scan_side(entry, fit)
    if not side:
        return ""
    return f"{side}: {off_words(_from_hub(entry, fit), units)} from the centre of the hub's face"


def place_line(entry: Clearance, fit: Fit, units: str) -> list[str]:
    """Where on a scan a part of the wheel comes closest, as a line of text; none for another part."""
    place = scan_place(entry, fit, units)
    words = f"{entry.part} - {entry.obstacle}: closest {place}"
    return [wrapped(words, first="  ", rest="    ")] if place else []


def off_words(off: Iterable[float], units: str) -> str:
    """How far it is ahead, out and up, or the other way.

    >>> off_words((120.2, -80, 3), "mm")
    '120 mm ahead, 80 mm in, 3 mm up'
    """
    ways = zip(off, (("ahead", "behind"), ("out", "in"), ("up", "down")), strict=True)
    return ", ".join(f"{length_text(abs(each), units, digits=0)} {names[each < 0]}" for each, names in ways)


def with_side(entry: Approach, fit: Fit) -> str:
    """The part's name; of a scan with where on it."""
    return ", ".join(filter(None, (entry.obstacle, scan_side(entry, fit))))


def _is_scan(entry: Approach, fit: Fit) -> bool:
    return any(obstacle.name == entry.obstacle and obstacle.mesh is not None for obstacle in fit.obstacles)


def _from_hub(entry: Approach, fit: Fit) -> list[float]:
    """The nearest place from the hub face's centre, body axes [mm]."""
    return [at - hub for at, hub in zip(entry.point, fit.axle.hub_face_at, strict=True)]
