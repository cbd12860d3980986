"""What a tire code and a wheel spec mean, as text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fitment.parts.bolt_circle import STUD_WORDS, cautions, name
from fitment.parts.wheel import wheel_json
from fitment.report.common import table, wrapped
from fitment.units import MM_PER_INCH, in_units, inches, length_text, mass_text, to_mm

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.parts.bolt_circle import ChordReading
    from fitment.parts.tire import TireSize
    from fitment.parts.wheel import Wheel


def tire_text(size: TireSize, units: str = "mm") -> str:
    """A tire code explained."""
    family = {
        "metric": "metric passenger", "P": "P-metric passenger", "HL": "high-load passenger", "LT": "light truck",
        "C": "light commercial", "flotation": "flotation light truck",
    }  # fmt: skip
    range_words = f"{size.rim_min:g} to {size.rim_max:g} in (common practice, no published source)"
    rows = [
        ("construction", f"{family[size.family]}, {'radial' if size.radial else 'bias ply'}"),
        ("rim diameter", f"{size.rim_diameter:g} in"),
        ("measuring rim", f"{size.measuring_rim:g} in wide"),
        ("rim range", range_words),
        (f"section width on {size.rim:g} in", _across(size.section_width, units)),
        ("  largest permitted", _across(size.section_width_max, units)),
        ("section height", _across(size.section_height, units)),
        ("overall diameter", _across(size.overall_diameter, units)),
        ("  smallest, largest", " to ".join(
            _across(d, units) for d in (size.overall_diameter_min, size.overall_diameter_max))),
        ("load", "not in the code" if size.load_kg is None else
            f"index {size.load_index}: {mass_text(size.load_kg, units)} a tire"),
        ("speed", in_units(_speed_words(size), units)),
        ("revolutions", "-" if size.revs_per_km is None else in_units(f"{size.revs_per_km:.0f} per km", units)),
    ]  # fmt: skip
    return "\n".join(
        [size.code, table(rows, left=2), *(wrapped(in_units(caution, units)) for caution in size.cautions)]
    )


def _across(mm: float, units: str) -> str:
    """A size of a tire: whole millimetres, or tenths of an inch as data sheets have it."""
    return f"{mm / MM_PER_INCH:.1f} in" if units == "in" else length_text(mm, units, digits=0)


def _speed_words(size: TireSize) -> str:
    if size.speed_kmh is None:
        return "not in the code"
    above = "above " if size.speed_at_least else ""
    return f"{size.speed_symbol or 'ZR'}: {above}{size.speed_kmh:g} km/h"


def _beside_hub_face(value: float, units: str) -> str:
    return f"{length_text(abs(value), units)} {'outboard' if value >= 0 else 'inboard'} of the hub face"


def wheel_text(wheel: Wheel, units: str = "mm") -> str:
    """A wheel spec explained."""
    data = wheel_json(wheel)
    unknown = "not in the spec"
    circle = wheel.bolt_circle
    circle_words = unknown if circle is None else f"{circle.lugs} on {circle.diameter:g} mm"
    rows = [
        ("rim", f"{wheel.rim_diameter:g} in diameter, {wheel.rim_width:g} in wide"),
        ("overall width", length_text(data["overall_width_mm"], units)),
        ("offset", f"ET{wheel.offset:g} mm" + (f" ({length_text(wheel.offset, units)})" if units == "in" else "")),
        ("backspacing", f"{length_text(data['backspacing_mm'], units)} ({inches(data['backspacing_mm'])})"),
        ("outer rim edge", _beside_hub_face(data["outer_edge_mm"], units)),
        ("inner rim edge", _beside_hub_face(data["inner_edge_mm"], units)),
        ("bolt circle", circle_words),
        ("centre bore", unknown if wheel.centre_bore is None else length_text(wheel.centre_bore)),
    ]
    return "\n".join(
        [wheel.spec, table(rows, left=2), *(wrapped(in_units(words, units)) for words in data.get("assumptions", ()))]
    )


def chord_text(found: tuple[ChordReading, ...], chord: float, tolerance: float, units: str = "mm") -> str:
    """What a chord between two studs means: every stud it can lead to, and the circles in use there."""
    head = (
        f"{_as_read(chord, units)} between two of {found[0].lugs} studs, the tape off by at most "
        f"{length_text(tolerance, units)}"
    )
    rows = [("measured to", "bolt circle", "")]
    rows += [
        (STUD_WORDS[reading.to], length_text(reading.circle, units), _circle_words(reading, units)) for reading in found
    ]
    return "\n".join([head, table(rows), *(wrapped(words) for words in cautions(found))])


def _as_read(chord: float, units: str) -> str:
    """A chord in sixteenths where a tape gave these, else to the hundredth of an inch that calipers give."""
    by_tape = units == "in" and abs(to_mm(inches(chord)) - chord) < 1e-6
    return inches(chord) if by_tape else length_text(chord, units)


def _circle_words(reading: ChordReading, units: str) -> str:
    if not reading.plausible:
        return "no wheel has that"
    low, high = (length_text(bound, units) for bound in (reading.low, reading.high))
    names = [name(reading, circle) for circle in reading.standard]
    if not names:
        return f"{low} to {high}: no circle in use lies there"
    if len(names) == 1:
        return f"{low} to {high}: of the circles in use only {names[0]}"
    return f"{low} to {high}: {', '.join(names[:-1])} or {names[-1]}, the tape cannot tell"
