"""Wheels: what a spec says, and where the flanges stand against the hub face.

Offset ET is positive when the mounting face lies outboard of the rim's centre line. Millimetres inside; rim
diameter and width in inches, as the trade names them.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

from fitment.errors import CodeError, UnitError, did_you_mean
from fitment.parts.brake import Outline
from fitment.parts.hub import CIRCLE_WAYS, CIRCLES, BoltCircle, Seat, bare_words, in_bare_inches
from fitment.parts.tables import FIFTEEN_DEGREE_RIMS, Flange
from fitment.parts.tire_code import as_given, only_reading, plain_text
from fitment.units import MM_PER_INCH, split_quantity, to_mm

FLANGE_THICKNESS = 12.7  # [mm] each side, common practice; JIS D 4218 table 3 asks for at least 11.0 on a J rim
RIM_DIAMETER = (10, 30)  # [in]
RIM_WIDTH = (3, 16)  # [in]
OFFSET = (-150, 150)  # [mm]
CIRCLE = (80, 300)  # [mm]
BORE = (40, 200)  # [mm]
LUGS = (3, 10)
# Backspacing is often rounded to a quarter inch; beside an offset it may be off by half of that.
BACKSPACING_ROUNDING = 3.2  # [mm]


@dataclass(frozen=True)
class Wheel:
    """A wheel as its spec and its seller state it.

    rim_diameter, rim_width : [in]
    offset : [mm], positive = mounting face outboard of the rim's centre line
    offset_tolerance : how far it may be off [mm]
    bolt_circle : None where the spec does not tell
    centre_bore : diameter [mm], None where the spec does not tell
    overall_width : measured flange to flange [mm]; None = rim width + 2 x 12.7 mm (common practice)
    barrel_clear_diameter : largest cylinder that passes into the barrel [mm]
    barrel_inside : (y counted from the rim's centre line, r) of the barrel's inner surface, y rising [mm]
    spoke_back : (y' counted from the wheel's mounting face, r) of the back of the spokes [mm]
    pad_diameter, pad_thickness : of the hub pad [mm]
    barrel_thickness : of the barrel's metal [mm]
    flange : letter of the rim flange
    seat : of its nuts
    stud_hole : diameter of its holes for the studs [mm]
    load_rating : what one wheel may carry [kg], None = not known
    from_backspacing : the spec gave the backspacing, and the offset was worked out from it
    mass : of the bare wheel [kg], None = not known
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
    flange: Flange = "J"
    from_backspacing: bool = False
    barrel_inside: Outline = ()
    seat: Seat | None = None
    stud_hole: float | None = None
    load_rating: float | None = None
    mass: float | None = None

    def __post_init__(self) -> None:
        _refuse_implausible(self)


def _refuse_implausible(wheel: Wheel) -> None:
    """Measured figures that cannot belong to the wheel, most often a wrong unit or a radius for a diameter."""
    rim = wheel.rim_width * MM_PER_INCH
    limits = {
        "overall_width": (rim + 8, rim + 80),
        "pad_diameter": (60, 350),
        "pad_thickness": (2, 80),
        "barrel_thickness": (2, 30),
    }
    for name, (low, high) in limits.items():
        value = getattr(wheel, name)
        if value is not None and not low <= value <= high:
            raise CodeError(
                f"{wheel.spec}: {name} is {value:g} mm; it should be {low:g} to {high:g} mm. Was it given in inches?"
            )


# ---------------------------------------------------------------- relations


def overall_width(wheel: Wheel) -> float:
    """Flange to flange [mm], outside: the measured one, else rim width + 2 x 12.7 mm.

    Source: common practice; JIS D 4218:2021 table 3 asks for flanges of at least 11.0 mm on a J rim.
    >>> overall_width(parse_wheel("20x10 ET25"))
    279.4
    """
    return overall_width_of(wheel.rim_width) if wheel.overall_width is None else wheel.overall_width


def overall_width_of(rim_width: float) -> float:
    """Outside width [mm] of a rim with flanges of 12.7 mm each.

    rim_width : between the flanges [in]
    Source: common practice, see `overall_width`.
    """
    return round(rim_width * MM_PER_INCH + 2 * FLANGE_THICKNESS, 9)


def backspacing(wheel: Wheel) -> float:
    """Inboard edge of the rim to the mounting face [mm]: overall width / 2 + ET. Source: geometry.

    >>> round(backspacing(parse_wheel("20x10 ET25")), 3)
    164.7
    """
    return overall_width(wheel) / 2 + wheel.offset


def offset_from_backspacing(back: float, width: float) -> float:
    """Offset ET [mm], positive = mounting face outboard of the rim's centre line; the inverse of `backspacing`.

    back : backspacing [mm]
    width : overall width, flange to flange [mm]
    Source: geometry.
    >>> offset_from_backspacing(164.7, 279.4)
    25.0
    """
    return round(back - width / 2, 9)


def edges(wheel: Wheel, spacer: float = 0.0) -> tuple[float, float]:
    """y' [mm] of the inboard and the outboard edge of the rim, counted from the hub face, positive outboard.

    spacer : thickness between hub and wheel [mm]
    Source: geometry; the rim's centre line stands at y' = spacer - ET.
    """
    centre, half = spacer - wheel.offset, overall_width(wheel) / 2
    return centre - half, centre + half


# ---------------------------------------------------------------- reading a spec

_NUM = r"\d{1,4}(?:\.\d{1,4})?"
_MIXED = r"(?:\d{1,4}[ -]\d{1,2}/\d{1,2}|\d{1,2}/\d{1,2}|\d{1,4}(?:\.\d{1,4})?)"
_UNIT = r"(?:MM|CM|INCH(?:ES)?|IN|\"|'')"
_INCH = r"INCH|IN|\"|''"
_FLANGE = r"(?:JJ|J|K|B)(?![A-DF-Z0-9]|E(?!T))"
_RIM = rf"{_NUM}(?: (?:1/2|1/4|3/4))?"
_HUMP = r"(?: ?(?:EH2\+|[EFC]?H2?|FP|CP)(?![A-Z0-9]))?"  # hump marks, which stand behind the size
_END = r"(?=[ ,;|()]|$)"
_BEHIND_SIZE = r"(?=[ ,;+|()]|ET ?[:=]? ?[+-]?\d|$)"
_SIZE = re.compile(
    rf"(?P<d>{_RIM}) ?(?:{_INCH})? ?X ?(?P<w>{_RIM})(?: ?(?P<f>{_FLANGE}))?"
    rf"(?: ?(?:{_INCH})(?![A-Z0-9]))?{_HUMP}{_BEHIND_SIZE}"
)
_SIZE_MARKED = re.compile(rf"(?P<w>{_RIM}) ?(?P<f>JJ|J|K|B) ?X ?(?P<d>{_NUM}) ?(?:{_INCH})?{_HUMP}{_BEHIND_SIZE}")
_BACK = r"(?:B/?S|BACK ?-?SPAC(?:ING|ED?))"
_BORE = r"(?:CB|C/B|DIA|MLB?|NB|(?:CENT(?:RE|ER) |HUB )?BORE)"
_OFFSET = r"(?:ET|OFFSET)"
_CIRCLE = r"(?:(?:PCD|LK|(?:BOLT|LUG|STUD) (?:CIRCLE|PATTERN)) ?[:=]? ?)?"
_LENGTH = rf"({_MIXED} ?{_UNIT}?)"
_PLAIN = rf"({_NUM} ?{_UNIT}?)"
_TOKENS: tuple[tuple[str, re.Pattern[str]], ...] = tuple(
    (name, re.compile(pattern))
    for name, pattern in (
        ("backspacing", rf"{_BACK} ?[:=]? ?{_LENGTH}{_END}"),
        ("bore", rf"{_BORE} ?[:=]? ?{_PLAIN}{_END}"),
        *(("circle", rf"{_CIRCLE}{way}(?: ?PCD)?{_END}") for way in CIRCLE_WAYS),
        ("offset", rf"{_OFFSET} ?[:=]? ?([+-]? ?{_NUM} ?{_UNIT}?){_END}"),
        ("offset", rf"(?:(?<=[ ,;|(])|(?<=[A-Z0-9\"])(?=\+))((?:\+ ?|-){_NUM} ?{_UNIT}?)(?: ?OFFSET)?{_END}"),
        ("torn", rf"{_LENGTH} ?({_BACK}|{_BORE}) ?[:=]? ?{_LENGTH}{_END}"),
        ("torn", rf"{_LENGTH} ?(OFFSET) ?[:=]? ?((?:[+-] ?)?{_NUM} ?{_UNIT}?){_END}"),
        ("backspacing", rf"{_LENGTH} ?{_BACK}{_END}"),
        ("bore", rf"{_PLAIN} ?{_BORE}{_END}"),
        ("offset", rf"{_PLAIN} ?OFFSET{_END}"),
        ("bare", rf"{_PLAIN}{_END}"),
    )
)
_WORDS = ("ET", "BS", "CB", "OFFSET", "BACKSPACING", "BORE", "CENTRE BORE", "PCD", "MM", "IN")
_HELP = "After the size come ET25 or BS 6.5in, the bolt circle 6x139.7 and the bore CB78.1, in any order."
_LED_BY = {"offset": "ET", "backspacing": "BS ", "circle": "", "bore": "CB"}
# [mm] Of a wheel, a bore is smaller than the bolt circle by at least a nut's seat. Source: derived here.
BORE_BELOW_CIRCLE = 20.0
Fields = dict[str, tuple[str, ...]]


def parse_wheel(spec: str, *, overall_width: float | None = None, beside: Sequence[tuple[str, str]] = ()) -> Wheel:
    """A wheel spec as the trade writes it, or CodeError with the reason and what to try.

    overall_width : measured flange to flange [mm]; it decides the offset of a spec that gives the backspacing
    beside : what stands in columns of its own: (offset, backspacing, circle or bore; its text)
    The size comes first (20x10, 20x10J, 10Jx20 or 8.5x19), then offset or backspacing, bolt circle and bore in any
    order; millimetres unless marked, decimals with point or comma. A number without a word is the bore where it can
    be nothing else. The offset is required; nothing is guessed: what could be read in two ways is refused, both named.
    Source: how the trade writes it, common practice, no published source; humps as ETRTO marks them, from memory.
    >>> wheel = parse_wheel("20x10 +25 6x5.5 78,1")
    >>> wheel.spec, wheel.bolt_circle.diameter
    ('20x10 ET25 6x139.7 CB78.1', 139.7)
    """
    text = plain_text(spec, "wheel spec")
    with as_given(spec, text):
        return only_reading(text, lambda points: _parsed(points, overall_width, beside), lambda wheel: wheel.spec)


def _parsed(text: str, overall_width: float | None, beside: Sequence[tuple[str, str]]) -> Wheel:
    match = _SIZE_MARKED.match(text) or _SIZE.match(text)
    if match is None:
        raise CodeError(f"{text}: {_why_not(text)}")
    diameter, width = _checked_size(text, *_in_order(_inches(match["d"]), _inches(match["w"])))
    wheel = Wheel(
        spec=f"{diameter:g}x{width:g}",
        rim_diameter=diameter,
        rim_width=width,
        offset=0.0,
        overall_width=overall_width,
        flange=match["f"] or "J",  # type: ignore[arg-type]
    )
    fields = _fields(text, match.end())
    for name, cell in beside:
        _add_beside(text, fields, name, cell)
    if "circle" in fields:
        wheel = replace(wheel, bolt_circle=_circle(text, *fields["circle"]))
    wheel = _with_offset(wheel, text, fields)
    if "bare" in fields:
        fields["bore"] = _bare_bore(wheel, text, fields)
    if "bore" in fields:
        wheel = replace(wheel, centre_bore=_length(text, "centre bore", fields["bore"][0], BORE))
    return replace(wheel, spec=_normal_spec(wheel))


def _inches(number: str) -> float:
    return split_quantity(number)[0]


def _in_order(first: float, second: float) -> tuple[float, float]:
    """Diameter and width: a rim is wider across than it is wide, so 8.5x19 can only be a 19x8.5."""
    turned = RIM_WIDTH[0] <= first <= RIM_WIDTH[1] and RIM_DIAMETER[0] <= second <= RIM_DIAMETER[1] and first < second
    return (second, first) if turned and second == int(second) else (first, second)


def _add_beside(text: str, fields: Fields, name: str, cell: str) -> None:
    """Take in what a column of its own says; what the spec says too must be the same. Raises CodeError."""
    plain = re.sub(r"(?<=\d),(?=\d)", ".", plain_text(cell, "wheel spec"))
    read: Fields = {}
    for words in (f" {plain}", f" {_LED_BY[name]}{plain}"):
        with suppress(CodeError):
            read = _fields(words, 0)
            if list(read) == [name]:
                break
    if list(read) != [name]:
        raise CodeError(f'{text}: "{cell.strip()}" is not read as the {_NAMES[name]} that its column names. {_HELP}')
    if name in fields and _size_of(text, fields[name]) != _size_of(text, read[name]):
        said = " ".join(fields[name])
        raise CodeError(
            f'{text}: the {_NAMES[name]} is "{said}" here and "{cell.strip()}" in a column of its own; keep one.'
        )
    fields.setdefault(name, read[name])


def _size_of(text: str, field: tuple[str, ...]) -> tuple[object, ...]:
    """A field's numbers, to compare it with another."""
    value, unit = _quantity(text, field[-1])
    inches = not unit and (in_bare_inches(value) if len(field) > 1 else "/" in field[-1])
    return *map(int, field[:-1]), round(to_mm(f"{value:.9f} {'in' if inches else unit or 'mm'}"), 2)


def _bare_bore(wheel: Wheel, text: str, fields: Fields) -> tuple[str]:
    """A number without a word, where it can only be the bore: the offset is told, and nothing else is so large.

    Raises CodeError with the readings that are possible.
    """
    given = fields["bare"][0]
    value, unit = _quantity(text, given)
    mm = to_mm(f"{value:.9f} {unit or 'mm'}")
    if "bore" in fields:
        raise CodeError(f'{text}: "{given}" says not what it is; offset and bore are told already.')
    readings = []
    circle = wheel.bolt_circle
    if BORE[0] <= mm <= BORE[1] and (circle is None or mm <= circle.diameter - BORE_BELOW_CIRCLE):
        readings.append(f"the bore, CB{given}")
    if (circle is None and mm >= CIRCLE[0]) or any(abs(mm - known) < 0.05 for known in CIRCLES):
        readings.append("a bolt circle, such as " + f"{circle.lugs if circle else 5}x{given}")
    if "backspacing" not in fields and abs(mm - backspacing(wheel)) <= BACKSPACING_ROUNDING:
        readings.append(f"the backspacing, BS {given}{'' if unit else 'mm'}")
    if "offset" not in fields and abs(mm - wheel.offset) <= BACKSPACING_ROUNDING:
        readings.append(f"the offset, ET{given}")
    if len(readings) == 1 and "CB" in readings[0]:
        return (given,)
    could = f"could be {' or '.join(readings)}" if readings else "says not what it is"
    raise CodeError(f'{text}: "{given}" {could}. {_HELP}')


def _no_bore(text: str, given: str) -> bool:
    """Whether a number can be no bore: it has a sign, or is too small."""
    return given[0] in "+-" or _quantity(text, given)[0] < BORE[0]


def _checked_size(text: str, d: float, w: float) -> tuple[float, float]:
    if not RIM_DIAMETER[0] <= d <= RIM_DIAMETER[1] or not RIM_WIDTH[0] <= w <= RIM_WIDTH[1]:
        hint = ""
        if LUGS[0] <= d <= LUGS[1]:
            hint = f" {d:g}x{w:g} looks like a bolt circle; the size comes first, such as 20x10."
        elif d > 200 or w > 70:
            hint = " Is it in millimetres? Rims are named in inches."
        raise CodeError(
            f"{text}: rim size {d:g}x{w:g}: the diameter is 10 to 30 in and the width 3 to 16 in, such as 20x10.{hint}"
        )
    if d in FIFTEEN_DEGREE_RIMS:
        raise CodeError(f"{text}: a {d:g} in rim has 15 degree bead seats; its contour is not covered.")
    if d != int(d):
        raise CodeError(f"{text}: there is no {d:g} in rim; rim diameters are whole inches.")
    if w >= d:
        raise CodeError(f"{text}: a rim {w:g} in wide and {d:g} in across; the diameter comes first, such as 20x10.")
    return d, w


def _fields(text: str, position: int) -> Fields:
    fields: Fields = {}
    while position < len(text):
        if text[position] in " ,;|()" or text.startswith("/ ", position):
            position += 1
            continue
        hits = ((name, pattern.match(text, position)) for name, pattern in _TOKENS)
        name, match = next(((name, match) for name, match in hits if match), ("", None))
        if match is None:
            raise CodeError(f"{text}: {_unknown(text, position)}")
        if name == "torn":
            first, word, second = map(str.strip, match.groups())
            if "bare" not in fields and word == "OFFSET" and _no_bore(text, second):
                fields["bare"] = (first,)
                position += len(first)
                continue
            raise CodeError(
                f'{text}: "{match[0]}" could be {word} {first} or {word} {second}; write each word before its number.'
            )
        if name in fields:
            raise CodeError(f"{text}: the {_NAMES[name]} stands twice, again at character {position + 1}; keep one.")
        fields[name] = (match["lugs"], match["size"]) if name == "circle" else match.groups()
        position = match.end()
    return fields


_NAMES = {"backspacing": "backspacing", "bore": "centre bore", "circle": "bolt circle", "offset": "offset"}
_NAMES["bare"] = "number without a word"


def _unknown(text: str, position: int) -> str:
    word = re.split(r"[ ,;]", text[position:])[0]
    where = f'"{word}" at character {position + 1}'
    if re.match(r"\d+(?:\.\d+)?X\d", word):
        return f"{where} is not one bolt circle; of a wheel drilled twice give the circle in use. {_HELP}"
    if re.match(r"-", word):
        return f"{where}: a dash could be a minus or a hyphen here; write ET-12, or -12 after a space."
    if re.match(r"\d{3}/\d|R\d", word):
        return f"{where} belongs to a tire; give the wheel spec alone."
    letters = re.match(r"[A-Z]+", word)
    if letters and letters[0] == word and word in _WORDS:
        return f"{where} has no number behind it. {_HELP}"
    hint = did_you_mean(letters[0] if letters else word, _WORDS)
    return f"{where} is not read here.{hint} {_HELP}"


def _length(text: str, what: str, given: str, limits: tuple[float, float]) -> float:
    """Millimetres from a number (mm) or a text with its unit."""
    value, unit = _quantity(text, given)
    mm = to_mm(f"{value:.9f} {unit or 'mm'}")
    if not limits[0] <= mm <= limits[1]:
        inches = not unit and limits[0] <= value * MM_PER_INCH <= limits[1]
        hint = f" Is {value:g} in inches? Then write {value:g}in." if inches else ""
        raise CodeError(f"{text}: the {what} is {mm:g} mm; it should be {limits[0]:g} to {limits[1]:g} mm.{hint}")
    return mm


def _quantity(text: str, given: str) -> tuple[float, str]:
    try:
        value, unit = split_quantity(given.replace("+ ", "+").replace("- ", "-"))
    except UnitError as error:
        raise CodeError(f"{text}: {error}") from None
    return value, unit.lower()


def _circle(text: str, lugs: str, given: str) -> BoltCircle:
    if not LUGS[0] <= int(lugs) <= LUGS[1]:
        hint = " A second rim size? Keep one." if RIM_DIAMETER[0] <= int(lugs) <= RIM_DIAMETER[1] else ""
        raise CodeError(f"{text}: a bolt circle of {lugs} lugs; it should be {LUGS[0]} to {LUGS[1]}.{hint}")
    value, unit = _quantity(text, given)
    if not unit and in_bare_inches(value):
        given = f"{given} in"
    elif not unit and value < CIRCLE[0]:
        raise CodeError(f"{text}: the bolt circle {lugs}x{given} has no unit; {bare_words(lugs, given, value)}")
    return BoltCircle(int(lugs), _length(text, "bolt circle", given, CIRCLE))


def _with_offset(wheel: Wheel, text: str, fields: Fields) -> Wheel:
    back = _backspacing(wheel, text, fields["backspacing"][0]) if "backspacing" in fields else None
    if "offset" in fields:
        offset = _length(text, "offset", fields["offset"][0].replace(" ", ""), OFFSET)
        if back is not None and abs(back - offset) > BACKSPACING_ROUNDING:
            raise CodeError(
                f"{text}: offset and backspacing contradict each other: that backspacing is ET{back:.1f} with an "
                f"overall width of {overall_width(wheel):g} mm. Keep the one that was measured."
            )
        return replace(wheel, offset=offset)
    if back is None and "bare" in fields:
        word = fields["bare"][0]
        raise CodeError(f'{text}: "{word}" says not what it is; write ET{word} for the offset, CB{word} for the bore.')
    if back is None:
        raise CodeError(f"{text}: the offset is missing; add ET25 (mm), or the backspacing as BS 6.5in or BS 165mm.")
    if not OFFSET[0] <= back <= OFFSET[1]:
        raise CodeError(
            f"{text}: that backspacing is an offset of {back:.1f} mm; it should be {OFFSET[0]} to {OFFSET[1]} mm."
        )
    return replace(wheel, offset=back, from_backspacing=True)


def _backspacing(wheel: Wheel, text: str, given: str) -> float:
    """The offset [mm] that a backspacing stands for."""
    value, unit = _quantity(text, given)
    unit = unit or ("in" if "/" in given else "")  # nobody writes fractions of a millimetre
    if not unit:
        raise CodeError(f"{text}: the backspacing {given} has no unit; write BS {given}in or BS {given}mm.")
    return offset_from_backspacing(to_mm(f"{value:.9f} {unit}"), overall_width(wheel))


def _normal_spec(wheel: Wheel) -> str:
    letter = "" if wheel.flange == "J" else wheel.flange
    words = [f"{wheel.rim_diameter:g}x{wheel.rim_width:g}{letter}"]
    words.append(f"BS {_plain(backspacing(wheel))}mm" if wheel.from_backspacing else f"ET{_plain(wheel.offset)}")
    if wheel.bolt_circle:
        words.append(f"{wheel.bolt_circle.lugs}x{_plain(wheel.bolt_circle.diameter)}")
    if wheel.centre_bore:
        words.append(f"CB{_plain(wheel.centre_bore)}")
    return " ".join(words)


def _plain(value: float) -> str:
    return f"{round(value, 4) + 0.0:.4f}".rstrip("0").rstrip(".")


def _why_not(text: str) -> str:
    if re.match(r"(?:P|HL|LT)? ?\d{3} ?/|\d{2} ?X ?[\d.]+ ?R ?\d", text):
        return "this looks like a tire code; a wheel spec is written such as 20x10 ET25 6x139.7 CB78.1."
    zeros = re.sub(r"(?<=\d)O|O(?=\d)", "0", text)
    if zeros != text and (_SIZE.match(zeros) or _SIZE_MARKED.match(zeros)):
        return f"there is a letter O where a digit belongs. Did you mean {zeros}?"
    glued = re.match(r"(\d+ ?X ?\d+(?:\.\d+)?J?)(-\d+(?:\.\d+)?)", text)
    if glued:
        return f"a dash glued to the size could be a minus or a hyphen; write {glued[1]} ET{glued[2]}."
    if re.match(r"\d+(?:\.\d+)?(?: |$)", text):
        return "the rim size needs diameter x width, such as 20x10."
    return "a wheel spec starts with the rim size, diameter x width in inches, such as 20x10 ET25 6x139.7 CB78.1."


# ---------------------------------------------------------------- output


def assumptions(wheel: Wheel) -> tuple[str, ...]:
    """What the spec left open and was filled in by common practice, in plain words."""
    notes = []
    if wheel.overall_width is None:
        notes.append(
            f"Overall width {overall_width(wheel):g} mm is rim width + 2 x 12.7 mm (common practice); measure it for "
            "an exact one."
        )
    if wheel.from_backspacing:
        notes.append(
            f"Offset {wheel.offset:.1f} mm is worked out from the backspacing and an overall width of "
            f"{overall_width(wheel):g} mm."
        )
    if wheel.bolt_circle is None:
        notes.append("The spec gives no bolt circle, so whether the wheel bolts on is not known.")
    if wheel.centre_bore is None:
        notes.append("The spec gives no centre bore, so whether the wheel seats on the hub's register is not known.")
    return tuple(notes)


def wheel_json(wheel: Wheel) -> dict[str, Any]:
    """The stable machine-readable keys of a wheel (mm, in), null where the spec does not tell."""
    inner, outer = edges(wheel)
    circle = wheel.bolt_circle
    return {
        "spec": wheel.spec,
        "rim_diameter_in": wheel.rim_diameter,
        "rim_width_in": wheel.rim_width,
        "offset_mm": round(wheel.offset, 4),
        "backspacing_mm": round(backspacing(wheel), 4),
        "overall_width_mm": round(overall_width(wheel), 4),
        "lugs": circle.lugs if circle else None,
        "bolt_circle_mm": circle.diameter if circle else None,
        "centre_bore_mm": wheel.centre_bore,
        "bolt_circle_in": round(circle.diameter / MM_PER_INCH, 4) if circle else None,
        "backspacing_in": round(backspacing(wheel) / MM_PER_INCH, 4),
        "inner_edge_mm": round(inner, 4),
        "outer_edge_mm": round(outer, 4),
        "flange": wheel.flange,
        "assumptions": list(assumptions(wheel)),
    }
