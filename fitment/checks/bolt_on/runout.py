"""What a part clamped off centre does on the road: imbalance, the weight it is worth, force and frequency."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fitment.checks.bolt_on.result import Numbers, numbers, rounded
from fitment.parts.axle import Axle, Setup
from fitment.parts.hub import parse_thread
from fitment.parts.tables import specified_rim_diameter
from fitment.parts.tire import revs_per_km

SPEED = 100.0  # [km/h] where the profile states no top speed
HOLES_HOLD = 2.0  # [mm] farther off than this the stud holes, not the bore, are taken to hold a part; assumption


def imbalance(mass: float, eccentricity: float) -> float:
    """U = m e [g mm] of a mass whose centre stands off the axis.

    mass : [kg]
    eccentricity : [mm]
    Source: textbook mechanics.
    >>> imbalance(10.0, 1.5)
    15000.0
    """
    return mass * 1000.0 * eccentricity


def force(unbalance: float, frequency: float) -> float:
    """F = m e w^2 [N], the turning force of an imbalance.

    unbalance : [g mm]
    frequency : turns in a second [1/s]
    Source: textbook mechanics.
    >>> round(force(15000.0, 10.0), 1)
    59.2
    """
    return unbalance * 1e-6 * (2 * math.pi * frequency) ** 2


def frequency(revolutions: float, speed: float) -> float:
    """Turns in a second [1/s].

    revolutions : turns in a kilometre [1/km]
    speed : [km/h]
    Source: derived here, 3600 seconds in an hour.
    >>> frequency(500.0, 72.0)
    10.0
    """
    return revolutions * speed / 3600.0


@dataclass(frozen=True)
class Play:
    """How far off centre a part can be clamped.

    largest : half the gap at its bore, or what its stud holes leave where that is less [mm]
    counted : what the imbalance is worked out for [mm]: the same, or 1 mm where stud holes nobody has measured will
        hold the part before its bore does
    """

    largest: float
    counted: float

    @property
    def each_mm(self) -> bool:
        """Whether the imbalance is that of each millimetre."""
        return self.counted != self.largest


def play(gap: float, hole: float | None, stud: str | None) -> Play:
    """How far off centre a part can be clamped, from its bore and its stud holes.

    gap : bore less register, diameters [mm]
    hole : diameter of the stud holes [mm], None = not measured
    stud : thread as written
    Source: geometry; HOLES_HOLD is an assumption.
    >>> play(2.0, None, None), play(2.0, 15.0, "M14x1.5").largest, play(28.0, None, None)
    (Play(largest=1.0, counted=1.0), 0.5, Play(largest=14.0, counted=1.0))
    """
    thread = parse_thread(stud) if stud else None
    if hole is not None and thread is not None:
        held = max(min(gap, hole - thread.diameter), 0.0) / 2
        return Play(held, held)
    return Play(gap / 2, gap / 2 if gap / 2 <= HOLES_HOLD else 1.0)


@dataclass(frozen=True)
class Shake:
    """An imbalance on the road.

    unbalance : [g mm]
    weight : what it is worth at `radius` [g]
    radius : of the bead seat [mm]
    speed : [km/h], `stated` when the profile names it
    turns : in a second [1/s], None without a rolling circumference
    force : [N], None without a rolling circumference
    """

    unbalance: float
    weight: float
    radius: float
    speed: float
    stated: bool
    turns: float | None
    force: float | None


def shake(axle: Axle, setup: Setup, mass: float, eccentricity: float) -> Shake:
    """What a mass off centre does on the setup's tire.

    mass : [kg]
    eccentricity : [mm]
    Source: textbook mechanics; rolling circumference 3.05 x overall diameter, radial tires only: ETRTO design practice,
        from memory.
    """
    unbalance, radius = imbalance(mass, eccentricity), specified_rim_diameter(setup.wheel.rim_diameter) / 2
    speed, revolutions = axle.top_speed or SPEED, revs_per_km(setup.tire)
    turns = None if revolutions is None else frequency(revolutions, speed)
    pull = None if turns is None else force(unbalance, turns)
    return Shake(unbalance, unbalance / radius, radius, speed, axle.top_speed is not None, turns, pull)


def shake_words(off: Play, whose: str, shaken: Shake) -> str:
    """What limits the play, the imbalance, what it is worth at the rim, and what it does on the road.

    whose : '13 kg', or 'each 1 kg of it'
    """
    lead = f"With {whose} that"
    if off.each_mm:
        lead = f"The bore allows no more; the stud holes may allow less. With {whose}, each 1 mm off centre"
    words = (
        f"{lead} shakes like {rounded(shaken.weight)} g of extra weight at the bead seat "
        f"({shaken.radius:.0f} mm from the axis; imbalance {shaken.unbalance:.0f} g mm)."
    )
    if shaken.turns is None or shaken.force is None:
        return f"{words} The force is not computed, because no rolling circumference is known for a bias-ply tire"
    top = " (top speed)" if shaken.stated else ""
    return (
        f"{words} At {shaken.speed:g} km/h{top} that pulls with {rounded(shaken.force)} N, "
        f"{shaken.turns:.1f} times a second"
    )


def shake_numbers(off: Play, mass: float, shaken: Shake) -> Numbers:
    """The same for a machine [unit of the name].

    mass : [kg]
    Source: `shake`.
    """
    return numbers(
        eccentricity_mm=off.largest, counted_eccentricity_mm=off.counted, mass_kg=mass, imbalance_g_mm=shaken.unbalance,
        weight_g=shaken.weight, weight_radius_mm=shaken.radius, speed_kmh=shaken.speed, turns_per_s=shaken.turns,
        force_n=shaken.force,
    )  # fmt: skip
