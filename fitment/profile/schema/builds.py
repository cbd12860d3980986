"""What a build bolts on: wheel, tire, spacer, ride height, and what it lays over the axle."""

from dataclasses import replace
from typing import Annotated, Any, ClassVar, Self

from pydantic import (
    ConfigDict,
    Field,
    model_validator,
)

from fitment.errors import CodeError
from fitment.parts.tire import SHOULDERS, Tire
from fitment.parts.tire_code import parse_tire
from fitment.parts.tire_outline import check_outline, with_outline
from fitment.parts.wheel import Wheel, parse_wheel
from fitment.profile.schema.axle import BELONGS, AxlePart
from fitment.profile.schema.base import Before, Code, Part, Travel, optional
from fitment.profile.schema.hub_and_brake import CircleCode, RegisterDiameter, SeatWord, StudThread
from fitment.profile.values import (
    Length,
    LengthRule,
    ListRule,
    NumberRule,
    Outline,
    OutlineRule,
    RimInchRule,
    Rule,
    TextRule,
    WordRule,
    YesRule,
    refused,
)

# builds --------------------------------------------------------------------------------------------------------


_WHEEL_LENGTHS = ("overall_width", "barrel_clear_diameter", "barrel_thickness", "pad_diameter", "pad_thickness")


class WheelPart(Part):
    spec: Code = Field(description="as the trade writes it: 20x10 ET25 6x139.7 CB78.1")
    offset: Annotated[Length | None, LengthRule(-200, 200, "offset")] = optional(
        "measured offset [mm], positive = mounting face outboard; beats the spec's"
    )
    offset_tolerance: Annotated[Length | None, LengthRule(0, 20)] = optional(
        "how far the offset may be off either way [mm]"
    )
    overall_width: Annotated[Length | None, LengthRule(100, 500)] = optional(
        "flange to flange [mm]; rim width + 2 x 12.7 if not given"
    )
    barrel_clear_diameter: Annotated[Length | None, LengthRule(200, 750)] = optional(
        "largest cylinder that passes into the barrel [mm]"
    )
    barrel_thickness: Annotated[Length | None, LengthRule(1, 40)] = optional("metal of the barrel [mm]")
    spoke_back: Annotated[Outline, OutlineRule((-150, 300), (20, 400), open=True)] = Field(
        (), description="[[y', r], ...] of the back of the spokes, y' from the mounting face [mm]"
    )
    pad_diameter: Annotated[Length | None, LengthRule(80, 350)] = optional("of the hub pad [mm]")
    pad_thickness: Annotated[Length | None, LengthRule(1, 120)] = optional("of the pad, mounting face to nut seat [mm]")
    mass: Annotated[float | None, NumberRule(2, 120, "kg")] = optional("of the bare wheel [kg]")
    barrel_inside: Annotated[Outline, OutlineRule((-350, 250), (80, 420), open=True)] = Field(
        (), description="[[y', r], ...] of the barrel's inner surface, y' from the mounting face [mm]"
    )
    seat: SeatWord = optional("of its nuts: cone, ball or flat")
    stud_hole: Annotated[Length | None, LengthRule(8, 40)] = optional("diameter of one stud hole [mm]")
    load_rating: Annotated[float | None, NumberRule(150, 6000, "kg")] = optional(
        "what one wheel may carry, as its maker states it [kg]"
    )

    def record(self) -> Wheel:
        """The wheel, what was measured in place of what the spec says. Raises CodeError."""
        measured: dict[str, Any] = {
            key: getattr(self, key).value for key in (*_WHEEL_LENGTHS, "stud_hole") if getattr(self, key) is not None
        }
        stated = {key: getattr(self, key) for key in ("mass", "seat", "load_rating")}
        measured |= {key: value for key, value in stated.items() if value is not None}
        if self.spoke_back:
            measured["spoke_back"] = tuple((y.value, r.value) for y, r in self.spoke_back)
        if self.offset is not None:
            measured |= {
                "offset": self.offset.value,
                "offset_tolerance": self.offset.tolerance,
                "from_backspacing": False,
            }
        if self.offset_tolerance is not None:
            measured["offset_tolerance"] = self.offset_tolerance.value
        wheel = replace(parse_wheel(self.spec, overall_width=measured.get("overall_width")), **measured)
        inside = tuple((y.value + wheel.offset, r.value) for y, r in self.barrel_inside)
        return replace(wheel, barrel_inside=inside if inside[:1] <= inside[-1:] else inside[::-1])

    @model_validator(mode="after")
    def _readable(self) -> Self:
        try:
            self.record()
        except CodeError as error:
            raise refused(str(error), "spec") from None
        if self.offset is not None and self.offset.tolerance and self.offset_tolerance is not None:
            raise refused("the offset's tolerance is given twice; keep one.", "offset_tolerance")
        depths = [y.value for y, _ in self.barrel_inside]
        if depths not in (sorted(depths), sorted(depths, reverse=True)):
            raise refused("list the points of the barrel's inside in the order of their depth.", "barrel_inside")
        if depths and depths[0] == depths[-1]:
            raise refused("all points stand at one depth; measure the barrel's inside at two or more.", "barrel_inside")
        return self


class TirePart(Part):
    code: Code = Field(description="as on the sidewall: 305/45R20 112W XL, LT305/55R20, 33x12.50R20LT")
    section_width: Annotated[Length | None, LengthRule(80, 520)] = optional(
        "from the maker's data sheet [mm]; beats the formula"
    )
    on_rim: Annotated[float | None, RimInchRule(2.5, 20)] = optional(
        "rim width that section_width was measured on [in]"
    )
    tread_width: Annotated[Length | None, LengthRule(60, 480)] = optional("from the data sheet [mm]")
    overall_diameter: Annotated[Length | None, LengthRule(350, 1600)] = optional(
        "from the data sheet [mm]; beats the formula"
    )
    mass: Annotated[float | None, NumberRule(2, 150, "kg")] = optional("from the data sheet [kg]")
    approved_rims: Annotated[tuple[float, float] | None, ListRule(RimInchRule(2.5, 20), "[9, 11]", size=2)] = optional(
        "narrowest and widest rim of the maker's data sheet [in]"
    )
    shoulder: Annotated[str | None, WordRule(SHOULDERS)] = optional(
        "round, usual, square or lugged: how the tread goes over into the sidewall; the usual one if not told, and the "
        "square one in the worst case"
    )
    outline: Annotated[Outline, OutlineRule((-300, 300), (150, 800), open=True)] = Field(
        (),
        description="[[y, r], ...] of one side from the sidewall to the crown, read with a contour gauge, y from the "
        "tire's middle plane, r from the axis [mm]; beats the formula",
    )
    rim_protector: Annotated[bool | None, YesRule()] = optional(
        "false: no rib stands out of the sidewall to guard the rim; one is counted in the worst case if not told"
    )

    def record(self) -> Tire:
        """The tire, data sheet and outline in place of the formula. Raises CodeError."""
        tire = self._as_sold()
        return with_outline(tire, self._gauge()) if self.outline else tire

    def _gauge(self) -> list[tuple[float, float]]:
        return [(y.value, r.value) for y, r in self.outline]

    def _as_sold(self) -> Tire:
        measured: dict[str, Any] = {
            key: getattr(self, key).value
            for key in ("section_width", "tread_width", "overall_diameter")
            if getattr(self, key) is not None
        }
        measured |= {"on_rim": self.on_rim, "mass": self.mass, "approved_rims": self.approved_rims}
        measured |= {"shoulder": self.shoulder, "rim_protector": self.rim_protector}
        return replace(parse_tire(self.code), **measured)

    @model_validator(mode="after")
    def _readable(self) -> Self:
        try:
            self.record()
            if self.outline:
                check_outline(self._as_sold(), self._gauge())
        except CodeError as error:
            raise refused(str(error), "outline" if ": outline: " in str(error) else "code") from None
        if self.on_rim is not None and self.section_width is None and not self.outline:
            raise refused("on_rim says which rim section_width was measured on; give section_width.", "on_rim")
        if self.outline and self.shoulder is not None:
            raise refused("the outline tells the shoulder; keep one of both.", "shoulder")
        if self.approved_rims is not None and self.approved_rims[0] > self.approved_rims[1]:
            raise refused("the narrower rim comes first, such as [9, 11].", "approved_rims")
        return self


class SpacerPart(Part):
    thickness: Annotated[Length, LengthRule(0, 150, "spacer")] = Field(description="[mm]")
    mass: Annotated[float | None, NumberRule(0.05, 30, "kg")] = optional("with its studs [kg]")
    bolt_circle: CircleCode = optional("of an adapter: the circle it offers to the wheel")
    stud: StudThread = optional("of an adapter: the thread of its own studs")
    stud_length: Annotated[Length | None, LengthRule(5, 150)] = optional(
        "how far its own studs stand out of its outer face [mm]"
    )
    register_diameter: Annotated[Length | None, RegisterDiameter] = Field(
        None, alias="register", description="diameter of the register it offers to the wheel [mm]"
    )
    register_length: Annotated[Length | None, LengthRule(0, 80, "register length")] = optional(
        "length of the register it offers to the wheel [mm]"
    )
    nut: StudThread = optional("of an adapter: thread of the nuts in hand for its studs")
    nut_seat: SeatWord = optional("of an adapter: seat of these nuts: cone, ball or flat")
    hub_circle: CircleCode = optional("of an adapter: the circle it is drilled with for the hub's studs")
    bore: Annotated[Length | None, LengthRule(30, 300, "bore")] = optional(
        "its own, which sits on the hub's register [mm]"
    )
    seat_thickness: Annotated[Length | None, LengthRule(1, 120)] = optional(
        "of an adapter: metal between the hub face and the seat of the hub's nuts [mm]"
    )


def _named(key: str) -> Any:
    def turn(given: Any) -> Any:
        return {key: given} if isinstance(given, str) else given

    return turn


def _spacer(given: Any) -> Any:
    bare = not isinstance(given, dict) or "value" in given
    return {"thickness": given} if bare else given


class RideRule(Rule):
    """A name of the axle's ride_heights, or a travel [mm]."""

    def read(self, given: Any) -> str | Length:
        if isinstance(given, str):
            return TextRule(60).read(given)  # names are known only after the merge, see resolve
        return Travel.read(given)

    def schema(self) -> dict[str, Any]:
        return Travel.schema() | {"pattern": ".", "minLength": 1}


_TEXT = {"type": "string", "minLength": 1}


class CornerPart(Part):
    """What a build says of one axle: the setup here, overrides of the axle kept for the merge."""

    hints: ClassVar[dict[str, str]] = BELONGS
    model_config = ConfigDict(extra="allow")

    wheel: Annotated[WheelPart, Before(_named("spec"), _TEXT)] | None = optional(
        "spec as a text, or a map with `spec` and what was measured"
    )
    tire: Annotated[TirePart, Before(_named("code"), _TEXT)] | None = optional(
        "code as a text, or a map with `code` and its data sheet"
    )
    spacer: Annotated[SpacerPart, Before(_spacer, LengthRule(0, 150).schema())] | None = optional(
        "thickness [mm], or a map with thickness and what else is known, as of an adapter"
    )
    ride: Annotated[str | Length | None, RideRule()] = optional(
        "a name of ride_heights, or the travel at rest [mm]; 0 if not given"
    )

    @classmethod
    def extra_keys(cls) -> tuple[str, ...]:
        return tuple(AxlePart.keys())


class BuildPart(Part):
    front: CornerPart | None = optional("the front axle in this build")
    rear: CornerPart | None = optional("the rear axle in this build")
