"""Wheels: what a spec says, the rim contour, and the section of the metal."""

from __future__ import annotations

from dataclasses import dataclass

from fitment.brake import Outline
from fitment.hub import BoltCircle


@dataclass(frozen=True)
class Wheel:
    """A wheel as its spec and its seller state it.

    rim_diameter, rim_width : [in]
    offset : [mm], positive = mounting face outboard of the rim's centre line; tolerance [mm]
    bolt_circle, centre_bore : None where the spec does not tell
    overall_width : measured flange to flange [mm]; None = rim width + 2 x 12.7 mm (common practice)
    barrel_clear_diameter : largest cylinder that passes into the barrel [mm]
    spoke_back : (y' counted from the wheel's mounting face, r) of the back of the spokes [mm]
    pad_diameter, pad_thickness : of the hub pad [mm]
    barrel_thickness : of the barrel's metal [mm]
    """

    spec: str
    rim_diameter: float
    rim_width: float
    offset: float
    offset_tolerance: float = 0.0
    bolt_circle: BoltCircle | None = None
    centre_bore: float | None = None
    overall_width: float | None = None
    barrel_clear_diameter: float | None = None
    spoke_back: Outline = ()
    pad_diameter: float | None = None
    pad_thickness: float | None = None
    barrel_thickness: float | None = None
