"""Hub, studs, registers and brake in a profile."""

from typing import Annotated, Self

from pydantic import (
    Field,
    model_validator,
)

from fitment.parts.hub import SEATS
from fitment.profile.schema.base import Part, optional
from fitment.profile.schema.obstacles import ClockRange, check_clock_range
from fitment.profile.values import (
    Angle,
    BoltCircleRule,
    Length,
    LengthRule,
    NumberRule,
    Outline,
    OutlineRule,
    StudRule,
    WordRule,
)

# hub, brake, adjusters -----------------------------------------------------------------------------------------

StudThread = Annotated[str | None, StudRule()]
CircleCode = Annotated[tuple[int, float] | None, BoltCircleRule()]
RegisterDiameter = LengthRule(30, 300, "register diameter")
SeatWord = Annotated[str | None, WordRule(SEATS)]


class RegisterPart(Part):
    diameter: Annotated[Length, RegisterDiameter] = Field(description="diameter of the register [mm]")
    length: Annotated[Length | None, LengthRule(0, 80, "register length")] = optional("length of the register [mm]")


class HubPart(Part):
    bolt_circle: CircleCode = optional("lugs x diameter [mm], such as 5x114.3")
    stud: StudThread = optional("thread, such as M14x1.5 or 1/2-20")
    stud_length: Annotated[Length | None, LengthRule(5, 150)] = optional(
        "how far the studs stand out of the hub face [mm]"
    )
    wheel_register: RegisterPart | None = optional(
        "the step that centres the wheel; its length out of the hub face as fitted"
    )
    rotor_register: RegisterPart | None = optional("the larger step behind it that centres the rotor, if there is one")
    nut: StudThread = optional("thread of the nuts in hand, such as M14x1.5")
    nut_seat: SeatWord = optional("seat of the nuts in hand: cone, ball or flat")


class RotorPart(Part):
    diameter: Annotated[Length | None, LengthRule(150, 500, "rotor diameter")] = optional("outer diameter [mm]")
    bore: Annotated[Length | None, LengthRule(30, 300, "rotor bore")] = optional("centring hole [mm]")
    hat_thickness: Annotated[Length | None, LengthRule(1, 40)] = optional("of the hat between hub and wheel [mm]")
    mass: Annotated[float | None, NumberRule(0.5, 80, "kg")] = optional("[kg]")
    outline: Annotated[Outline, OutlineRule()] = Field((), description="[[y', r], ...] of its section [mm]")
    stud_hole: Annotated[Length | None, LengthRule(8, 40)] = optional("diameter of one stud hole [mm]")


class CaliperPart(Part):
    mass: Annotated[float | None, NumberRule(0.5, 60, "kg")] = optional("with its pads [kg]")
    outline: Annotated[Outline, OutlineRule()] = Field(
        description="swept at the wheel, [[y', r], ...] in the hub frame [mm]"
    )
    clock: ClockRange = Field(
        (Angle(0.0), Angle(360.0)), description="range [deg], 0 = forward, 90 = up; all if not given"
    )

    @model_validator(mode="after")
    def _sound(self) -> Self:
        check_clock_range(self.clock)
        return self


class BrakePart(Part):
    rotor: RotorPart | None = optional("the rotor")
    caliper: CaliperPart | None = optional("the caliper")
