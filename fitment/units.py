"""Text to float and back: millimetres, degrees, kilograms inside, anything sensible outside.

The only module that knows pint. Millimetres, centimetres, metres, inches and feet are read
here without it, because importing pint costs a third of a second on every command.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Any

from fitment.errors import UnitError

MM_PER_INCH = 25.4  # exact: international yard and pound agreement, 1959
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
        raise UnitError(f"{given!r} is not a length; write millimetres as a number or a text with a unit.")
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
        raise UnitError(f"{given!r} is not a number; write {what} as a plain number.")
    if not math.isfinite(_float(given)):
        raise UnitError(f"{given!r} is not finite; write {what} as a plain number.")
    return float(given)


# Units in which a load or a speed may be given: exact by the international pound and mile, 1959.
CONVERTED = {
    "kg": {"kg": 1.0, "lb": 0.45359237, "lbs": 0.45359237, "pound": 0.45359237, "pounds": 0.45359237},
    "km/h": {"km/h": 1.0, "kmh": 1.0, "kph": 1.0, "mph": 1.609344, "mi/h": 1.609344},
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


@lru_cache(maxsize=64)
def _mm_per(unit: str) -> float:
    known = _MM_PER.get(unit.lower())
    if known is not None:
        return known
    if not unit.isalpha() or len(unit) > 20:  # pint would evaluate an expression
        raise UnitError(f'"{unit[:20]}" is not a unit of length; use mm, cm, m, in or ft.')
    import pint  # a third of a second: only for units that are not in the table above

    try:
        return float(pint.UnitRegistry()(unit).to("mm").magnitude)
    except Exception:
        raise UnitError(f'"{unit}" is not a unit of length; use mm, cm, m, in or ft.') from None


def inches(mm: float, *, parts: int = 16) -> str:
    """A length as the trade writes it, to the nearest sixteenth: '-1 5/8 in'.

    >>> inches(114.3)
    '4 1/2 in'
    >>> inches(-3.0)
    '-1/8 in'
    """
    steps = round(abs(mm) / MM_PER_INCH * parts)
    whole, rest = divmod(steps, parts)
    fraction = Fraction(rest, parts)
    sign = "-" if mm < 0 and steps else ""
    words = [str(whole)] if whole or not rest else []
    if rest:
        words.append(f"{fraction.numerator}/{fraction.denominator}")
    return f"{sign}{' '.join(words)} in"


def length_text(mm: float, units: str = "mm", *, digits: int = 1, sign: bool = False) -> str:
    """A length with its unit: millimetres, or decimal inches for `units='in'`.

    >>> length_text(114.3, "in"), length_text(4.25, sign=True)
    ('4.50 in', '+4.2 mm')
    """
    plus = "+" if sign else ""
    if units == "in":
        value, places, unit = mm / MM_PER_INCH, digits + 1, "in"
    else:
        value, places, unit = mm, digits, "mm"
    value = round(value, places) + 0.0  # no "-0.0"
    return f"{value:{plus}.{places}f} {unit}"


def in_units(text: str, units: str) -> str:
    """A sentence whose lengths are in mm, in the units asked for: every number followed by mm is turned.

    >>> in_units("bore 73.1 mm, ET45, 12 mm left", "in")
    'bore 2.88 in, ET45, 0.47 in left'
    >>> in_units("allowed is -50 to 50 mm", "in")
    'allowed is -1.97 to 1.97 in'
    >>> in_units("0.1 mm too small", "in")
    '0.004 in too small'
    """
    if units == "mm":
        return text

    def turned(match: re.Match[str]) -> str:
        words = match[0].removesuffix(" mm")
        return f"{_DECIMAL.sub(lambda n: _inch_text(n[0]), words)} in"

    return re.sub(rf"{_DECIMAL.pattern}(?: to {_DECIMAL.pattern})? mm\b", turned, text)


_DECIMAL = re.compile(r"[+-]?\d+(?:\.\d+)?")


def _inch_text(number: str) -> str:
    """Inches of a number in mm to a hundredth, below a tenth to a thousandth, so that 0.1 mm does not vanish."""
    value = float(number) / MM_PER_INCH
    return f"{value:{'+' if number.startswith('+') else ''}.{3 if 0 < abs(value) < 0.1 else 2}f}"
