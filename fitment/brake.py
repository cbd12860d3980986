"""The brake inside the wheel: outlines in the hub frame, (y', r) [mm]."""

from __future__ import annotations

from dataclasses import dataclass

Outline = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Rotor:
    """diameter, bore (centring hole), hat_thickness [mm], mass [kg], outline (y', r) of its section."""

    diameter: float | None = None
    bore: float | None = None
    hat_thickness: float | None = None
    mass: float | None = None
    outline: Outline = ()


@dataclass(frozen=True)
class Caliper:
    """outline (y', r) swept at the wheel [mm]; clock range [deg], 0 = forward, 90 = up."""

    outline: Outline = ()
    clock: tuple[float, float] = (0.0, 360.0)


@dataclass(frozen=True)
class Brake:
    """Rotor and caliper of one corner; either may be unknown."""

    rotor: Rotor | None = None
    caliper: Caliper | None = None
