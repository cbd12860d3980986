"""The brake inside the wheel: outlines in the hub frame, (y', r) [mm]."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

Outline = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Rotor:
    """The rotor; None = not known.

    diameter, bore, hat_thickness, stud_hole : [mm]; the bore is the hole that centres it
    mass : [kg]
    outline : of its section, (y', r) in the hub frame [mm]
    """

    diameter: float | None = None
    bore: float | None = None
    hat_thickness: float | None = None
    mass: float | None = None
    outline: Outline = ()
    stud_hole: float | None = None


@dataclass(frozen=True)
class Caliper:
    """The caliper.

    outline : swept at the wheel, (y', r) in the hub frame [mm]
    clock : the range it takes up [deg], 0 = forward, 90 = up
    mass : with its pads [kg], None = not known
    """

    outline: Outline = ()
    clock: tuple[float, float] = (0.0, 360.0)
    mass: float | None = None


@dataclass(frozen=True)
class Brake:
    """Rotor and caliper of one corner; either may be unknown."""

    rotor: Rotor | None = None
    caliper: Caliper | None = None

    @cached_property
    def reach(self) -> float:
        """Largest radius of the outlines that are known [mm], 0 without any."""
        outlines = [part.outline for part in (self.rotor, self.caliper) if part is not None]
        return max((r for outline in outlines for _, r in outline), default=0.0)
