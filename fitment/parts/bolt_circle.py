"""Bolt circles: which are the same, which are only near, and what a tape between two studs tells.

The studs stand on a regular polygon, so a chord from one to the k-th next of n is diameter x sin(180 k / n degrees).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

from fitment.errors import Argument, FitmentError
from fitment.parts.hub import BoltCircle
from fitment.parts.tables import bolt_circles
from fitment.units import MM_PER_INCH

To = Literal["next", "second", "opposite"]
STUDS: tuple[To, ...] = ("next", "second", "opposite")
SAME = 0.06  # [mm] two roundings of one circle: 4.75 in is 120.65 mm and is also written 120.7
NEAR = 6.0  # [mm] a wheel so far off can be drawn on by force; common practice, no published source
TAPE = 1.0  # [mm] how far a tape between two studs may be off; assumption
LUGS = (3, 10)
PLAUSIBLE = (80.0, 300.0)  # [mm]
STUD_WORDS = {"next": "the next stud", "second": "the second-next stud", "opposite": "the opposite stud"}


def same_circle(one: BoltCircle, other: BoltCircle) -> bool:
    """Whether two circles are one, whatever unit each is written in.

    Source: derived here from the roundings in use (SAME).
    >>> same_circle(BoltCircle(5, 114.3), BoltCircle(5, 4.5 * 25.4))
    True
    >>> same_circle(BoltCircle(5, 120), BoltCircle(5, 4.75 * 25.4))
    False
    """
    return one.lugs == other.lugs and round(abs(one.diameter - other.diameter), 6) <= SAME


def rounded_from(written: BoltCircle, other: BoltCircle) -> bool:
    """Whether a circle that is in use nowhere is another one with its decimals dropped, such as 5x114 for 5x114.3."""
    known = any(abs(written.diameter - circle) <= SAME for circle in bolt_circles(written.lugs))
    whole = written.diameter == int(written.diameter)
    return written.lugs == other.lugs and whole and not known and abs(written.diameter - other.diameter) < 1


def steps(lugs: int, to: To) -> int:
    """How many studs on the measured one is. Raises FitmentError where there is no such stud.

    >>> steps(5, "second"), steps(6, "opposite")
    (2, 3)
    """
    if to == "next":
        return 1
    if to == "second" and lugs >= 5:
        return 2
    if to == "opposite" and lugs % 2 == 0:
        return lugs // 2
    asked = "none stands opposite another" if to == "opposite" else "the second-next is the next or opposite one"
    raise FitmentError(Argument("to"), f" {to}: of {lugs} studs {asked}; measure to the next one.")


def factor(lugs: int, step: int) -> float:
    """Bolt circle diameter over the chord from a stud to the step-th next [-].

    Source: geometry of a regular polygon.
    >>> round(factor(5, 1), 5), round(factor(5, 2), 5), round(factor(6, 1), 5)
    (1.7013, 1.05146, 2.0)
    """
    return 1.0 / math.sin(math.pi * step / lugs)


@dataclass(frozen=True)
class ChordReading:
    """What one chord means.

    to : the stud measured to
    factor : diameter over chord [-]
    circle, low, high : diameter of the bolt circle, and the band the tape leaves open [mm]
    standard : circles in use within that band [mm]
    """

    lugs: int
    to: To
    factor: float
    circle: float
    low: float
    high: float
    standard: tuple[float, ...]

    @property
    def plausible(self) -> bool:
        """Whether a wheel can have such a circle."""
        return PLAUSIBLE[0] <= self.circle <= PLAUSIBLE[1]


def readings(chord: float, lugs: int, *, to: To | None = None, tolerance: float = TAPE) -> tuple[ChordReading, ...]:
    """What a chord between two studs means, for each stud it can lead to.

    chord : between the centres of the two studs [mm]
    to : the stud it was measured to; None = the next one, of 5 or 7 studs also the second-next
    tolerance : how far the chord may be off [mm]
    Raises FitmentError for figures that no wheel has.
    Source: geometry, see `factor`; the circles in use from data/bolt_circles.csv, from memory.
    """
    if not LUGS[0] <= lugs <= LUGS[1]:
        raise FitmentError(Argument("lugs"), f" {lugs}: it should be {LUGS[0]} to {LUGS[1]}; count the studs.")
    if not 0 <= tolerance <= 10:
        raise FitmentError(Argument("tolerance"), f" {tolerance:g}: it should be 0 to 10 mm.")
    asked: tuple[To, ...] = (to,) if to else ("next", "second") if lugs in (5, 7) else ("next",)
    meanings = [_reading(chord, lugs, stud, tolerance) for stud in asked]
    if not any(meaning.plausible for meaning in meanings):
        circles = " or ".join(f"{meaning.circle:.1f} mm" for meaning in meanings)
        inch = any(PLAUSIBLE[0] <= meaning.circle * MM_PER_INCH <= PLAUSIBLE[1] for meaning in meanings)
        hint = f' Was it in inches? Write "{chord:g} in".' if inch else ""
        raise FitmentError(
            Argument("chord"),
            f" {chord:g} mm between {lugs} studs is a bolt circle of {circles}; it should be "
            f"{PLAUSIBLE[0]:g} to {PLAUSIBLE[1]:g} mm.{hint}",
        )
    return tuple(meanings)


def _reading(chord: float, lugs: int, to: To, tolerance: float) -> ChordReading:
    by = factor(lugs, steps(lugs, to))
    low, high = (by * (chord - tolerance), by * (chord + tolerance))
    standard = tuple(circle for circle in bolt_circles(lugs) if low - 1e-6 <= circle <= high + 1e-6)
    return ChordReading(lugs, to, by, by * chord, low, high, standard)


def readings_json(meanings: tuple[ChordReading, ...], chord: float, tolerance: float) -> dict[str, Any]:
    """The machine-readable keys of `wheel --from-chord` (mm, in).

    chord, tolerance : as `readings` got them [mm]
    """
    return {
        "lugs": meanings[0].lugs,
        "chord_mm": round(chord, 4),
        "tolerance_mm": round(tolerance, 4),
        "readings": [
            {
                "to": meaning.to,
                "factor": round(meaning.factor, 6),
                "bolt_circle_mm": round(meaning.circle, 4),
                "bolt_circle_min_mm": round(meaning.low, 4),
                "bolt_circle_max_mm": round(meaning.high, 4),
                "standard": [_standard_json(meaning, circle) for circle in meaning.standard],
            }
            for meaning in meanings
        ],
        "cautions": list(cautions(meanings)),
    }


def _standard_json(reading: ChordReading, circle: float) -> dict[str, Any]:
    return {
        "bolt_circle": f"{reading.lugs}x{circle:g}",
        "bolt_circle_mm": circle,
        "bolt_circle_in": round(circle / MM_PER_INCH, 4),
        "chord_mm": round(circle / reading.factor, 3),
    }


def name(reading: ChordReading, circle: float) -> str:
    """A circle as the trade writes it, with its inches where these are eighths.

    circle : diameter [mm]
    >>> name(readings(67.2, 5)[0], 114.3)
    '5x114.3 (4.5 in)'
    """
    return f"{reading.lugs}x{circle:g}" + (f" ({circle / MM_PER_INCH:g} in)" if is_in_inches(circle) else "")


def is_in_inches(circle: float) -> bool:
    """Whether a circle was laid out in inches, by eighths: 114.3 mm, not 120 mm.

    circle : diameter [mm]
    Source: common practice.
    """
    eighths = circle / MM_PER_INCH * 8
    return abs(eighths - round(eighths)) < 1e-6


def cautions(meanings: tuple[ChordReading, ...]) -> tuple[str, ...]:
    """What to do so that the reading can be trusted."""
    notes = ["Measure from one edge of a stud to the same edge of the other: that is centre to centre."]
    if meanings[0].lugs % 2 and any(len(meaning.standard) > 1 for meaning in meanings if meaning.to == "next"):
        notes.append("The chord to the second-next stud is longer and tells circles apart better.")
    if any(len(meaning.standard) > 1 for meaning in meanings):
        notes.append("A wheel of a near circle must not be forced on: studs bend, seats do not meet, nuts work loose.")
    return tuple(notes)
