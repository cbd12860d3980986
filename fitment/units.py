"""Text to float and back: millimetres, degrees, kilograms inside, anything sensible outside.

The only module that knows pint. Millimetres, centimetres, metres, inches and feet are read
here without it, because importing pint costs a third of a second on every command.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Any

from fitment.errors import UnitError, shown

UNITS = ("mm", "in")  # of texts and pictures
MM_PER_INCH = 25.4  # exact: international yard and pound agreement, 1959
KG_PER_LB = 0.45359237  # exact, the same agreement
KM_PER_MILE = 1.609344  # exact
G_PER_OZ = 1000 * KG_PER_LB / 16
DEEP = 20.0  # [mm] of an overlap to which its depth is right to half a millimetre; beyond, it is rough and told as more
N_PER_LBF = KG_PER_LB * 9.80665  # with standard gravity
N_M_PER_LB_FT = N_PER_LBF * 12 * MM_PER_INCH / 1000
_MM_PER = {
    "mm": 1.0, "millimeter": 1.0, "millimetre": 1.0, "millimeters": 1.0, "millimetres": 1.0,
    "cm": 10.0, "m": 1000.0,
    "in": MM_PER_INCH, "inch": MM_PER_INCH, "inches": MM_PER_INCH, '"': MM_PER_INCH, "''": MM_PER_INCH,
    "ft": 12 * MM_PER_INCH, "foot": 12 * MM_PER_INCH, "feet": 12 * MM_PER_INCH,
}  # fmt: skip
_NUMBER = re.compile(
    r"""\s*(?P<sign>[+-]?)\s*
    (?:(?P<whole>\d{1,9})[ -]+(?P<num>\d{1,4})/(?P<den>\d{1,4})
      |(?P<num2>\d{1,4})/(?P<den2>\d{1,4})
      |(?P<decimal>(?:\d{1,12}(?:\.\d{0,20})?|\.\d{1,20})(?:[eE][+-]?\d{1,2})?))
    \s*(?P<unit>[^\d\s].*?)?\s*""",
    re.VERBOSE,
)


@dataclass(frozen=True)
class Measured:
    """A reading with its tolerance.

    value : [mm], or [deg] for an angle
    tolerance : half width of the band the true value lies in, same unit, >= 0
    stated : whether a tolerance was given; one of 0 says that the value is exact
    assumed : a typical value with its band, that nobody read on this vehicle
    """

    value: float
    tolerance: float = 0.0
    stated: bool = False
    assumed: bool = False


def split_quantity(text: str) -> tuple[float, str]:
    """Number and unit of a text such as '4 1/2 in' or '11.4 cm'; the unit may be empty.

    Raises UnitError when there is no number, or a fraction divides by zero.
    >>> split_quantity("4 1/2 in")
    (4.5, 'in')
    """
    match = _NUMBER.fullmatch(text)
    if match is None:
        raise UnitError(f'"{text}" is not a quantity; write a number with a unit, such as 114.3 mm or "4 1/2 in".')
    part = match.groupdict()
    try:
        if part["decimal"]:
            value = float(part["decimal"])
        elif part["num2"]:
            value = float(Fraction(int(part["num2"]), int(part["den2"])))
        else:
            value = int(part["whole"]) + float(Fraction(int(part["num"]), int(part["den"])))
    except ZeroDivisionError:
        raise UnitError(f'"{text}" divides by zero.') from None
    return (-value if part["sign"] == "-" else value), part["unit"] or ""


def to_mm(given: Any) -> float:
    """A length in millimetres from a number (millimetres) or a text with a unit.

    Raises UnitError for texts without a unit, other dimensions, and non-finite numbers.
    >>> to_mm("4 1/2 in")
    114.3
    >>> to_mm(62)
    62.0
    """
    if isinstance(given, bool) or not isinstance(given, (int, float, str)):
        raise UnitError(f"{shown(given)} is not a length; write millimetres as a number or a text with a unit.")
    if isinstance(given, str):
        value, unit = split_quantity(given)
        if not unit:
            raise UnitError(f'"{given}" has no unit; write {given} without quotes for mm, or "{given} in".')
        value *= _mm_per(unit)
    else:
        value = _float(given)
    if not math.isfinite(value):
        raise UnitError(f"{given!r} is not a finite length.")
    return round(value, 9)  # 4.5 in is 114.3 mm, not 114.29999999999998


def typed_mm(given: Any) -> float:
    """As `to_mm`, but of a text without a unit the number is taken for millimetres, as on a command line.

    >>> typed_mm("12 in"), typed_mm("305"), typed_mm(305)
    (304.8, 305.0, 305.0)
    """
    if not isinstance(given, str):
        return to_mm(given)
    value, unit = split_quantity(given)
    return to_mm(given if unit else value)


def to_plain(given: Any, what: str) -> float:
    """A finite number for a quantity whose unit is fixed (degrees, kg, km/h).

    Raises UnitError for texts and non-finite numbers.
    """
    if isinstance(given, bool) or not isinstance(given, (int, float)):
        raise UnitError(f"{shown(given)} is not a number; write {what} as a plain number.")
    if not math.isfinite(_float(given)):
        raise UnitError(f"{given!r} is not finite; write {what} as a plain number.")
    return float(given)


# Units in which a load or a speed may be given.
CONVERTED = {
    "kg": {"kg": 1.0} | dict.fromkeys(("lb", "lbs", "pound", "pounds"), KG_PER_LB),
    "km/h": {"km/h": 1.0, "kmh": 1.0, "kph": 1.0, "mph": KM_PER_MILE, "mi/h": KM_PER_MILE},
}


def converted(given: Any, unit: str, limits: tuple[float, float]) -> Any:
    """A load or a speed typed with its unit, as a number in kg or km/h; anything else comes back as it was.

    unit : kg or km/h; limits : of what is plausible [same unit], which tell 2,400 lb from 2.4 lb
    Raises UnitError for another unit, and for a comma that could be either.
    >>> converted("2400 lb", "kg", (50, 15000)), converted("120 mph", "km/h", (20, 500))
    (1088.62, 193.12)
    """
    if unit not in CONVERTED or not isinstance(given, str):
        return given
    match = re.fullmatch(r"\s*(\d{1,6}(?:[.,]\d{1,6})?)\s*([^\d\s].*?)?\s*", given)
    factor = CONVERTED[unit].get((match[2] or "").lower().rstrip(".")) if match else None
    if match is None or factor is None:
        known = {"kg": "kg or lb", "km/h": "km/h or mph"}[unit]
        raise UnitError(f'"{given}" is not in {known}; write a number of {unit}, or a text with its unit.')
    readings = [float(match[1].replace(",", "."))]
    if re.fullmatch(r"[1-9]\d{0,2},\d{3}", match[1]):  # thousands, or a decimal comma
        readings.append(float(match[1].replace(",", "")))
    plausible = [number for number in readings if limits[0] <= number * factor <= limits[1]]
    if len(plausible) > 1:
        first, second = plausible
        raise UnitError(f'"{given}" could be {first:g} or {second:g}; write it without a comma.')
    return round((plausible or readings)[0] * factor, 2)


def _float(given: float) -> float:
    """A whole number may have more digits than a float can hold. Raises UnitError."""
    try:
        return float(given)
    except OverflowError:
        raise UnitError("a number with more than 300 digits is not taken.") from None


def _mm_per(unit: str) -> float:
    known = _MM_PER.get(unit.lower())
    if known is None and unit.isalpha() and len(unit) <= 20:  # pint would evaluate an expression
        known = _rare(unit)
    if known is None:
        raise UnitError(f'"{unit[:20]}" is not a unit of length; use mm, cm, m, in or ft.')
    return known


@lru_cache(maxsize=4096)
def _rare(unit: str) -> float | None:
    """Millimetres in a unit that pint knows; None where it is none of length."""
    try:
        return float(_registry()(unit).to("mm").magnitude)
    except Exception:  # whatever it says of a word
        return None


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint  # a third of a second, and as long again: only for units that are not in the table above

    return pint.UnitRegistry()


def inches(mm: float, *, parts: int = 16, sign: bool = False) -> str:
    """A length as a tape tells it, to the nearest sixteenth: '-1 5/8 in'.

    >>> inches(114.3), inches(101.6, sign=True)
    ('4 1/2 in', '+4 in')
    >>> inches(-3.0)
    '-1/8 in'
    """
    steps = round(abs(mm) / MM_PER_INCH * parts)
    whole, rest = divmod(steps, parts)
    fraction = Fraction(rest, parts)
    mark = "-" if mm < 0 and steps else "+" if sign else ""
    words = [str(whole)] if whole or not rest else []
    if rest:
        words.append(f"{fraction.numerator}/{fraction.denominator}")
    return f"{mark}{' '.join(words)} in"


def length_text(mm: float, units: str = "mm", *, digits: int = 1, sign: bool = False) -> str:
    """A length with its unit: millimetres, or for `units='in'` the figures that a shop would say.

    digits : decimals of the millimetres; 0 is a figure of a tape, in inches the nearest sixteenth; 1 is computed, or
        read with a caliper, in inches a hundredth, or a thousandth where a hundredth would say nothing
    >>> length_text(114.3, "in"), length_text(75, "in", digits=0), length_text(-0.1, "in"), length_text(4.25, sign=True)
    ('4.50 in', '2 15/16 in', '-0.004 in', '+4.2 mm')
    """
    plus = "+" if sign else ""
    if units == "in" and not digits:
        return inches(mm, sign=sign)
    if units == "in":
        tells_nothing = round(mm, digits) and abs(mm) < _LITTLE
        value, places, unit = mm / MM_PER_INCH, max(digits + 1, 3 if tells_nothing else 0), "in"
    else:
        value, places, unit = mm, digits, "mm"
    value = round(value, places) + 0.0  # no "-0.0"
    return f"{value:{plus}.{places}f} {unit}"


def clearance_text(mm: float, units: str = "mm") -> str:
    """A clearance or what is left of it with its unit: as `length_text`, down to DEEP below zero.

    >>> clearance_text(-3.2), clearance_text(-47.0), clearance_text(-47.0, "in")
    ('-3.2 mm', 'below -20 mm', 'below -0.79 in')
    """
    return length_text(mm, units) if mm >= -DEEP else f"below -{deep_text(units)}"


def deep_text(units: str = "mm") -> str:
    """DEEP with its unit: 20 mm."""
    return length_text(DEEP, units) if units == "in" else f"{DEEP:g} mm"


def depth_words(mm: float) -> str:
    """How deep an overlap is, in a sentence that `in_units` turns."""
    return f"{mm:.1f} mm" if mm <= DEEP else f"more than {deep_text()}"


def read_text(mm: float, units: str = "mm", *, tape: bool = True, sign: bool = False) -> str:
    """A length as it was read, no figure finer: whole millimetres stay whole; in inches sixteenths, or a caliper's.

    >>> read_text(322), read_text(7.5), read_text(75, "in", sign=True), read_text(19.05, "in", tape=False)
    ('322 mm', '7.5 mm', '+2 15/16 in', '0.75 in')
    """
    return length_text(mm, units, digits=int(not tape if units == "in" else round(mm, 1) % 1 != 0), sign=sign)


_LITTLE = 0.5  # below it hundredths of an inch say too little [mm]
_DECIMAL = r"[+-]?\d+(?:\.\d+)?"
_MM = r"\d+(?:\.\d+)? mm"
_EITHER = re.compile(r"\{(\d[^{}|]*)\|(\d[^{}|]*)\}")
_TRADE = re.compile(  # what a shop says in mm whatever its tape: circles and bores, with what they differ by
    r"\b\d+x[\d.]+(?: mm)?: " + _MM + " apart"
    r"|\b[Bb]ore(?: drawn as)? " + _MM + f"(?: is {_MM} (?:too small for(?: the)? {_MM}|larger than the {_MM}))?"
    r"|\b(?:register is|circle of|studs on|rings?,) " + _MM + f"(?: or {_MM})*(?: outside and {_MM} inside)?"
    f"|(?<=the bore is ){_MM}(?= larger)|{_MM}(?= (?:register|ring|bore)\\b)"
)
_CIRCLE = re.compile(r"\b(\d+x\d+(?:\.\d+)?) mm\b")  # 5x120 is 5x120
_AMOUNT = re.compile(
    r"(?:\b(at least|at most|no \w+ than|travel|travel at rest|lowered) )?"
    rf"(?<![\d./])({_DECIMAL}(?:(?:, {_DECIMAL})* (?:to|or) {_DECIMAL})?) (g mm|mm|kg|km/h|km|N m|N|g)\b"
)
_SAFE_SIDE: dict[str, Callable[[float], int]] = {"at least": math.ceil, "at most": math.floor}
_HEIGHTS = ("travel", "travel at rest", "lowered")  # read and set by tape, wherever they stand
_TURNS = re.compile(rf"({_DECIMAL}) (turns a|per) km\b(?: \(({_DECIMAL})\))?")


def in_units(text: str, units: str, *, tape: bool = False) -> str:
    """A sentence in mm, kg, km/h, km, g and N m, in the units asked for.

    Bolt circles, bores, registers, threads and ET stay as the trade writes them. What is asked for (at least, at most)
    is rounded to its safe side. A height to go to may be given for both: {100 mm|4 in}.

    tape : what stands in whole mm was read, or will be, with a tape: to the nearest sixteenth of an inch
    >>> in_units("bore 73.1 mm, ET45, 5x120 mm, 12 mm left", "in")
    'bore 73.1 mm, ET45, 5x120, 0.47 in left'
    >>> in_units("at {100 mm|4 in} of bump the tape reads 102 mm", "in", tape=True)
    'at 4 in of bump the tape reads 4 in'
    >>> in_units("allowed is -50 to 50 mm", "in")
    'allowed is -1.97 to 1.97 in'
    >>> in_units("0.1 mm too thick, at least 402 mm; 980 kg at 160 km/h", "in")
    '0.004 in too thick, at least 15.83 in; 2161 lb at 99 mph'
    """
    text = _EITHER.sub(lambda match: match[2] if units == "in" else match[1], text)
    if units == "mm":
        return text
    kept: list[str] = []

    def keep(match: re.Match[str]) -> str:
        kept.append(_CIRCLE.sub(r"\1", match[0]))
        return f"\0{len(kept) - 1}\0"

    text = _CIRCLE.sub(r"\1", _TRADE.sub(keep, text))
    text = _TURNS.sub(_turns, text)
    text = _AMOUNT.sub(lambda match: _amount(match, tape), text)
    text = re.sub(r"\b(per|a) km\b", r"\1 mile", text)
    text = text.replace("several millimetres", "a few sixteenths of an inch")
    return re.sub(r"\0(\d+)\0", lambda match: kept[int(match[1])], text)


def _amount(match: re.Match[str], tape: bool) -> str:
    """One number of a sentence with its unit, or some that share it, as a shop with an inch tape says it."""
    asked, numbers, unit = match[1] or "", match[2], match[3]
    way = math.floor if asked.startswith("no ") else _SAFE_SIDE.get(asked, round)
    is_tape = tape or asked in _HEIGHTS
    words = re.sub(_DECIMAL, lambda number: _turned(number[0], unit, way, is_tape), numbers)
    return f"{asked} {words} {_IN_INCHES[unit]}".lstrip()


_IN_INCHES = {
    "mm": "in", "kg": "lb", "km/h": "mph", "km": "miles", "N m": "lb ft", "N": "lbf", "g": "oz", "g mm": "oz in",
}  # fmt: skip


def _turned(number: str, unit: str, way: Callable[[float], int], tape: bool) -> str:
    """A number of one of these units in that beside inches, with its plus sign if it has one."""
    value, plus = float(number), "+" if number.startswith("+") else ""
    if unit == "mm":
        return _inch_text(number, way, tape)
    if unit == "kg":
        return _pounds(value, plus, way)
    if unit == "km":
        return f"{5 * round(value / KM_PER_MILE / 5)}"  # a way to drive: nobody counts it closer
    if unit in ("km/h", "N m"):
        return f"{value / (KM_PER_MILE if unit == 'km/h' else N_M_PER_LB_FT):{plus}.0f}"
    return _two_figures(value / {"N": N_PER_LBF, "g": G_PER_OZ, "g mm": G_PER_OZ * MM_PER_INCH}[unit])


def _inch_text(number: str, way: Callable[[float], int], tape: bool) -> str:
    """Inches of a number in mm: sixteenths of a tape's, else hundredths, or thousandths of the smallest."""
    mm, sign = float(number), number.startswith("+")
    if tape and "." not in number:
        return inches(way(round(mm / MM_PER_INCH * 16, 6)) / 16 * MM_PER_INCH, sign=sign).removesuffix(" in")
    places = 3 if 0 < abs(mm) < _LITTLE else 2
    steps = way(round(mm / MM_PER_INCH * 10**places, 6))
    return f"{steps / 10**places + 0.0:{'+' if sign else ''}.{places}f}"


def _two_figures(value: float) -> str:
    return f"{value:.0f}" if abs(value) >= 10 else f"{float(f'{value:.2g}'):g}"


def _turns(match: re.Match[str]) -> str:
    change = f" ({float(match[3]) * KM_PER_MILE:+.0f})" if match[3] else ""
    return f"{float(match[1]) * KM_PER_MILE:.0f} {match[2]} mile{change}"


def mass_text(kg: float, units: str = "mm", *, sign: bool = False) -> str:
    """A mass: kilograms, or pounds beside inches; tenths of a small one.

    >>> mass_text(980.0, "in"), mass_text(2.5, "in", sign=True), mass_text(13.0)
    ('2161 lb', '+5.5 lb', '13 kg')
    """
    if units == "mm":
        return f"{kg:{'+.1f' if sign else 'g'}} kg"
    return f"{_pounds(kg, '+' if sign else '')} lb"


def _pounds(kg: float, plus: str = "", way: Callable[[float], int] = round) -> str:
    scale = 10 if abs(kg / KG_PER_LB) < 20 else 1
    steps = way(round(kg / KG_PER_LB * scale, 6))
    return f"{steps / scale:{plus}.{1 if scale > 1 else 0}f}"
