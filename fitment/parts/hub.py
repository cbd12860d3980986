"""The hub: bolt circle, studs and the steps (registers) that centre rotor and wheel."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Literal

from fitment.units import MM_PER_INCH

Seat = Literal["cone", "ball", "flat"]
SEATS: tuple[Seat, ...] = ("cone", "ball", "flat")


# A bolt circle's number without a unit is read as inches between these. No circle is so small in mm; those in use are
# 98 to 210 mm, so none is so small in cm either. Above it could be any of them, and is refused.
BARE_INCHES = (3.2, 9.0)


def in_bare_inches(value: float) -> bool:
    """Whether a bolt circle's number without a unit can only be in inches.

    value : the bare number [-]
    Source: derived here: circles in use are 98 to 210 mm (BARE_INCHES).
    """
    return BARE_INCHES[0] <= value <= BARE_INCHES[1]


def bare_words(lugs: int | str, given: str, value: float) -> str:
    """Why a bolt circle's number without a unit is refused, and what to write instead.

    given, value : the number as written, and as read [-]
    """
    low, high = BARE_INCHES
    units = [unit for unit, mm in (("in", MM_PER_INCH), ("cm", 10.0)) if 80 <= value * mm <= 300]
    write = f"write {' or '.join(f'{lugs}x{given}{unit}' for unit in units)}." if units else "check it."
    return f"{write} (Without a unit, {low:g} to {high:g} is read as inches, 80 and more as mm.)"


# A bolt circle as the trade writes it, in capitals: 5x120, 6-5.5in, 5 on 4 3/4; 5/120 and 5/4.5, but not 5/8, which
# is a fraction; and the size first, 120/5 and 112x5, where it can only be one in mm.
_UNIT = r"(?:MM|CM|INCH(?:ES)?|IN|\"|'')?"
_CIRCLE_SIZE = r"(?:\d{1,4}[ -]\d{1,2}/\d{1,2}|\d{1,2}/\d{1,2}|\d{1,4}(?:\.\d{1,6})?)"
CIRCLE_WAYS = (
    rf"(?P<lugs>\d{{1,2}})(?: ?[X-] ?| ON )(?P<size>{_CIRCLE_SIZE} ?{_UNIT})",
    rf"(?P<lugs>\d{{1,2}}) ?/ ?(?P<size>(?:(?:[89]\d|\d{{3}})(?:\.\d{{1,6}})?|\d\.\d{{1,6}}) ?{_UNIT})",
    r"(?P<size>(?:[89]\d|[12]\d\d)(?:\.\d{1,6})?) ?[X/] ?(?P<lugs>\d{1,2})",
)
# [mm] Those in use. Source: reference table of bolt circles (common practice).
CIRCLES = (
    98, 100, 105, 108, 110, 112, 114.3, 115, 118, 120, 120.65, 127, 130, 132, 135, 139.7, 150, 160, 165.1, 170, 180,
    200, 205, 210,
)  # fmt: skip


@dataclass(frozen=True)
class BoltCircle:
    """Studs or holes evenly spaced on a circle.

    diameter : through their centres [mm]
    """

    lugs: int
    diameter: float

    def __str__(self) -> str:
        return f"{self.lugs}x{self.diameter:g}"


@dataclass(frozen=True)
class Register:
    """A step that centres a part.

    diameter, length : [mm]; length None = not measured
    The wheel's step counts from the hub face as fitted (with a slip-on rotor, from the outer face of its hat), the
    rotor's step from the flange that the hat sits on.
    """

    diameter: float
    length: float | None = None


@dataclass(frozen=True)
class Hub:
    """What the wheel bolts to.

    stud : thread as written, such as M14x1.5 or 1/2-20
    stud_length : beyond the wheel mounting face [mm]
    wheel_register, rotor_register : the outer step, and the one behind it if there is one
    nut, nut_seat : thread and seat of the nuts that go on these studs
    """

    bolt_circle: BoltCircle | None = None
    stud: str | None = None
    stud_length: float | None = None
    wheel_register: Register | None = None
    rotor_register: Register | None = None
    nut: str | None = None
    nut_seat: Seat | None = None


@dataclass(frozen=True)
class Adapter:
    """What is known of a spacer beside its thickness; with a circle or studs of its own it is an adapter.

    bolt_circle : the one it offers to the wheel
    stud, stud_length : its own studs; length beyond its outer face [mm]
    register, register_length : diameter and length of the step it offers to the wheel [mm]
    nut, nut_seat : thread and seat of the nuts that hold the wheel on its studs
    hub_circle : the one it is drilled with for the hub's studs
    bore : its own, which sits on the hub's register [mm]
    seat_thickness : of its metal between the hub face and the seat of the hub's nuts [mm]
    """

    bolt_circle: BoltCircle | None = None
    stud: str | None = None
    stud_length: float | None = None
    register: float | None = None
    register_length: float | None = None
    nut: str | None = None
    nut_seat: Seat | None = None
    hub_circle: BoltCircle | None = None
    bore: float | None = None
    seat_thickness: float | None = None

    @property
    def has_studs(self) -> bool:
        """Whether the wheel bolts to it and not to the hub through it."""
        return self.bolt_circle is not None or self.stud is not None


@dataclass(frozen=True)
class Thread:
    """A thread.

    diameter, pitch : major diameter and pitch [mm]; pitch None where the designation leaves it out
    """

    diameter: float
    pitch: float | None = None


def parse_thread(stud: str) -> Thread | None:
    """Diameter and pitch of a thread such as M14x1.5, 1/2-20 or 9/16-18 UNF; None when it is neither.

    Source: the designations themselves, ISO 261 (diameter x pitch in mm) and ASME B1.1 (inches - threads per inch),
    from memory.
    >>> parse_thread("M14x1.5"), parse_thread("1/2-20")
    (Thread(diameter=14.0, pitch=1.5), Thread(diameter=12.7, pitch=1.27))
    """
    metric = re.fullmatch(r"M(\d{1,2}(?:\.\d)?)(?:\s*[xX*]\s*(\d(?:\.\d+)?))?", stud.strip(), re.IGNORECASE)
    if metric:
        return Thread(float(metric[1]), float(metric[2]) if metric[2] else None)
    unified = re.fullmatch(r"(\d{1,2})/(\d{1,2})(?:\s*-\s*(\d{1,2}))?(?:\s*UN[FC])?", stud.strip(), re.IGNORECASE)
    if unified and int(unified[2]) and unified[3] != "0":
        pitch = round(MM_PER_INCH / int(unified[3]), 6) if unified[3] else None
        return Thread(float(Fraction(int(unified[1]), int(unified[2]))) * MM_PER_INCH, pitch)
    return None
