"""The hub: bolt circle, studs and the steps (registers) that centre rotor and wheel."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True)
class BoltCircle:
    """lugs on a circle of `diameter` [mm]."""

    lugs: int
    diameter: float

    def __str__(self) -> str:
        return f"{self.lugs}x{self.diameter:g}"


@dataclass(frozen=True)
class Register:
    """A step that centres a part: diameter and length [mm]; length None = not measured."""

    diameter: float
    length: float | None = None


@dataclass(frozen=True)
class Hub:
    """What the wheel bolts to.

    stud : thread as written, such as M14x1.5 or 1/2-20
    stud_length : beyond the wheel mounting face [mm]
    wheel_register, rotor_register : the outer step, and the one behind it if there is one
    """

    bolt_circle: BoltCircle | None = None
    stud: str | None = None
    stud_length: float | None = None
    wheel_register: Register | None = None
    rotor_register: Register | None = None


@dataclass(frozen=True)
class Adapter:
    """A spacer with studs of its own.

    bolt_circle : the one it offers to the wheel
    stud, stud_length : its own studs; length beyond its outer face [mm]
    register : diameter of the step it offers to the wheel [mm]
    """

    bolt_circle: BoltCircle | None = None
    stud: str | None = None
    stud_length: float | None = None
    register: float | None = None


def thread_diameter(stud: str) -> float | None:
    """Major diameter [mm] of a thread such as M14x1.5, 1/2-20 or 9/16-18; None when it is neither.

    >>> thread_diameter("M14x1.5"), thread_diameter("1/2-20")
    (14.0, 12.7)
    """
    metric = re.fullmatch(r"M(\d{1,2}(?:\.\d)?)(?:\s*[xX*]\s*\d(?:\.\d+)?)?", stud.strip(), re.IGNORECASE)
    if metric:
        return float(metric[1])
    unified = re.fullmatch(r"(\d{1,2})/(\d{1,2})(?:\s*-\s*\d{1,2})?(?:\s*UNF|\s*UNC)?", stud.strip(), re.IGNORECASE)
    if unified and int(unified[2]):
        return float(Fraction(int(unified[1]), int(unified[2]))) * 25.4
    return None
