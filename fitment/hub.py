"""The hub: bolt circle, studs and the steps (registers) that centre rotor and wheel."""

from __future__ import annotations

from dataclasses import dataclass


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
