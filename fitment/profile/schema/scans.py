"""A scan among the parts around a wheel: its file, how it lies in the body, and what of it counts."""

import math
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import Field, model_validator

from fitment.errors import shown
from fitment.profile.schema.base import PLACE, Before, Label, Part, Travel, optional
from fitment.profile.schema.obstacles import ClockRange, ObstaclePart, check_clock_range
from fitment.profile.values import (
    Angle,
    AngleRule,
    Length,
    LengthRule,
    ListRule,
    PlainLengthRule,
    Point,
    Rule,
    TextRule,
    WordRule,
    YesRule,
    refused,
)
from fitment.scans.reading import UNITS

MOST_BOXES = 50  # boxes, zones or reference points of a scan
_RANGE = ListRule(PlainLengthRule(-5000, 5000, "{key} of a box"), "[from, to]", size=2)
_HEIGHTS = ListRule(PlainLengthRule(-100, 5000, "{key} of a box"), "[from, to]", size=2)
_Range = tuple[float, float]


class RegionPart(Part):
    """A box, open where no range is given; or what the clock passes over."""

    ahead: Annotated[_Range | None, _RANGE] = optional("from and to, ahead of the hub face's centre [mm]")
    out: Annotated[_Range | None, _RANGE] = optional("from and to, outboard of the baseline's hub face [mm]")
    up: Annotated[_Range | None, _RANGE] = optional("from and to, above the hub face's centre [mm]")
    above_ground: Annotated[_Range | None, _HEIGHTS] = optional("from and to, above the ground [mm], in place of up")
    clock: ClockRange | None = optional("from and to about the hub, at most half a turn: [10:30, 1:30], or degrees")

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if not self.model_fields_set:
            raise refused("an empty box; give one range or more, such as {up: [0, 500], out: [-300, 0]}.")
        for key in ("ahead", "out", "up", "above_ground"):
            ends = getattr(self, key)
            if ends and ends[1] <= ends[0]:
                raise refused(f"the ends of {key} must rise; write [{ends[1]:g}, {ends[0]:g}].", key)
        if self.up and self.above_ground:
            raise refused("the height is given twice, as up and above_ground; keep one.", "above_ground")
        if self.clock:
            check_clock_range(self.clock)
            if self.clock[1].value - self.clock[0].value > 180:
                raise refused("at most half a turn (6 hours) is taken here; write two of them.", "clock")
        return self


ScanPlace = tuple[float, float, float]


@dataclass(frozen=True)
class ScanPlaceRule(Rule):
    """A place in the scan's own axes and units."""

    def read(self, given: Any) -> ScanPlace:
        if not isinstance(given, list) or len(given) != 3:
            raise refused(f"{shown(given)} where a place in the scan is expected; write [x, y, z].")
        for index, value in enumerate(given):
            sound = isinstance(value, int | float) and not isinstance(value, bool)
            if not sound or not math.isfinite(value) or abs(value) > 1e6:
                raise refused(f"{shown(value)} is no plain number; write it in the file's units.", index)
        x, y, z = map(float, given)
        return x, y, z

    def schema(self) -> dict[str, Any]:
        return {"type": "array", "items": {"type": "number"}, "minItems": 3, "maxItems": 3}


class ReferencePart(Part):
    name: Label | None = optional("what it is, such as hub centre")
    scan: Annotated[ScanPlace, ScanPlaceRule()] = Field(
        description="where it lies in the scan, in the file's own axes and units: [x, y, z]"
    )
    at: Annotated[Point, PLACE] = Field(description="the same place by tape: [x, y, z] [mm], or as the tape finds it")
    fixed_to: Annotated[str, WordRule(("body", "knuckle"))] = Field(
        "body",
        description="knuckle: read by tape at the reference pose, and moved with the hub to where it was scanned",
    )


DROOP = "droop"  # in place of a travel: as low as the profile says that the wheel goes
AT_HEIGHT = "height"  # in place of the other wheel's: as at the reference pose


@dataclass(frozen=True)
class ScannedTravelRule(Rule):
    """A travel [mm], or one of some words in its place."""

    words: tuple[str, ...] = (DROOP,)

    def read(self, given: Any) -> Length | str:
        if isinstance(given, str) and not any(letter.isdigit() for letter in given):
            return WordRule(self.words).read(given)
        return Travel.read(given)

    def schema(self) -> dict[str, Any]:
        return {"anyOf": [Travel.schema(), *({"const": word} for word in self.words)]}


class ScanPosePart(Part):
    """How the hub stood when it was scanned; what is not given is as at the reference pose."""

    travel: Annotated[Length | str | None, ScannedTravelRule()] = optional(
        "travel of the wheel, from the reference pose [mm], or droop: full droop, as on a lift; 0 if not given"
    )
    hub_to_lip: Annotated[
        tuple[Length, Length] | None,
        ListRule(LengthRule(100, 1200, "height"), "[at the reference pose, when scanned]", size=2),
    ] = optional(
        "in place of travel: from the hub's centre straight up to the fender lip, at the reference pose and when "
        "scanned [mm]"
    )
    other: Annotated[Length | str | None, ScannedTravelRule((AT_HEIGHT, DROOP))] = optional(
        "of a solid axle, travel of the opposite wheel then [mm]; height: as at the reference pose; or droop; "
        "level with this wheel if not given"
    )
    lock: Annotated[str, WordRule(("left", "right", "straight"))] = Field(
        "straight", description="the vehicle's steering: left, right or straight"
    )
    steer: Annotated[Angle | None, AngleRule(-75, 75)] = optional(
        "in place of lock: steer of this wheel when it was scanned [deg], + to the left"
    )

    @model_validator(mode="after")
    def _once(self) -> Self:
        if self.travel is not None and self.hub_to_lip is not None:
            raise refused("the travel is given twice; keep travel or hub_to_lip.", "hub_to_lip")
        if self.steer is not None and "lock" in self.model_fields_set:
            raise refused("the steering is given twice; keep lock or steer.", "steer")
        return self


_PLACES = "[[x, y, z], ...], in the scan's own axes and units"


class RimEdgePart(Part):
    """The edge of the rim that stood on the hub, as it was picked in the scan, and what tells which way is up."""

    edge: Annotated[tuple[ScanPlace, ScanPlace, ScanPlace], ListRule(ScanPlaceRule(), _PLACES, size=3)] = Field(
        description="three places on the edge, a third of the way round from each other, in the scan's axes and units"
    )
    floor: Annotated[tuple[ScanPlace, ScanPlace] | None, ListRule(ScanPlaceRule(), _PLACES, size=2)] = optional(
        "in place of reference points: two places on the level floor in the scan, one behind the wheel, one ahead of it"
    )
    inboard: Annotated[ScanPlace | None, ScanPlaceRule()] = optional(
        "with floor: any place in the scan well inboard of that edge, such as on the inner wall"
    )

    @model_validator(mode="after")
    def _together(self) -> Self:
        if self.floor and not self.inboard:
            raise refused("inboard is missing: with floor, a place in the scan on the inner wall, [x, y, z].")
        if self.inboard and not self.floor:
            raise refused("inboard goes with floor; reference points tell that side themselves.", "inboard")
        return self


class HubFacePart(RimEdgePart):
    diameter: Annotated[float, PlainLengthRule(80, 450, "diameter")] = Field(
        description="of the flat face's outer edge, by tape or caliper [mm]"
    )


_WITHIN = PlainLengthRule(0, 100, "distance")


class OldWheelPart(Part):
    within: Annotated[float, _WITHIN] = Field(
        description="how near to the baseline's wheel and tire, or in them, a triangle is taken for theirs [mm]"
    )
    inside: Annotated[bool, YesRule()] = Field(False, description="so is what lies inside the barrel: brake, knuckle")


def _old_wheel(given: Any) -> Any:
    return given if isinstance(given, dict) else {"within": given}


class ScanPart(ObstaclePart):
    hints: ClassVar[dict[str, str]] = {
        "radius": " A scan has no radius; give its tolerance.",
        "points": " The points that place a scan are called placed_by: [{scan: [x, y, z], at: point}, ...].",
        "measured_gap": " A scan is placed by its reference points, placed_by.",
    }
    shape: Literal["scan"] = Field(description="a surface of triangles, read from a file beside the profile")
    file: Annotated[str, TextRule(200)] = Field(description="its name: well.ply, .stl or .obj, beside the profile")
    units: Annotated[str, WordRule(tuple(UNITS))] = Field("mm", description="of the file: mm, cm, m or in")
    placed_by: Annotated[tuple[ReferencePart, ...], Field(max_length=MOST_BOXES)] = Field(
        (),
        description="three places or more that were found in the scan and by tape: [{scan: [x, y, z], at: point}]; "
        "with hub_face or rim_edge one or more",
    )
    hub_face: HubFacePart | None = optional("the hub's bare face in the scan places it; placed_by then tells the turn")
    rim_edge: RimEdgePart | None = optional(
        "the outboard edge of the rim of the baseline's wheel, which was on, places it; placed_by then tells the turn"
    )
    at: ScanPosePart | None = optional(
        "how the hub stood when it was scanned: {travel, lock}; taken as at the reference pose, with a caution"
    )
    axes: Annotated[str | None, WordRule(("body",))] = optional(
        "body, in place of placed_by: the scan's axes are the body's, x forward, y outboard from the centre plane, z up"
    )
    scale: Annotated[str, WordRule(("fixed", "free"))] = Field(
        "fixed", description="free: the reference points tell the scan's scale too"
    )
    mirrored: Annotated[bool, YesRule()] = Field(
        False, description="the scan is a mirror image, such as one of the right side; it is turned over"
    )
    keep: Annotated[tuple[RegionPart, ...], Field(max_length=MOST_BOXES)] = Field(
        (), description="boxes: only what lies in one of them counts"
    )
    cut: Annotated[tuple[RegionPart, ...], Field(max_length=MOST_BOXES)] = Field(
        (), description="boxes: what lies in one of them does not count"
    )
    cut_wheel: Annotated[OldWheelPart | None, Before(_old_wheel, _WITHIN.schema())] = optional(
        "the baseline's wheel was on: what lies within so many mm of it and its tire does not count"
    )
    cut_floor: Annotated[float | None, PlainLengthRule(0, 300, "height")] = optional(
        "what lies lower than so much above the ground does not count [mm]"
    )
    zones: dict[Label, RegionPart] = Field(
        {}, max_length=MOST_BOXES, description="parts of the scan with a name of their own, each a box or clock range"
    )

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if self.trim is not None:
            raise refused("a scan has no edge to trim; cut it with a box (cut).", "trim")
        ways = [key for key in ("axes", "hub_face", "rim_edge") if getattr(self, key)]
        if len(ways) > 1 or (self.axes and self.placed_by):
            raise refused("it is placed twice; keep one of placed_by, hub_face, rim_edge and axes: body.")
        if not ways and not self.placed_by:
            raise refused(
                "placed_by is missing: [{scan: [x, y, z], at: point}, ...], three places or more that were found "
                "in the scan and by tape; or hub_face or rim_edge, three places picked on that edge in the scan; or "
                "axes: body, where the scan lies in the body's axes already."
            )
        if self.face and bool(self.face.floor) == bool(self.placed_by):
            raise refused(
                "what tells which way is up is given twice; keep placed_by or floor."
                if self.placed_by
                else "which way is up is missing, since a circle leaves that open: one reference point far from the "
                "hub or more (placed_by), or two places on the floor (floor: [behind, ahead], inboard).",
                ways[0],
            )
        if ways and self.scale == "free":
            raise refused("a free scale needs reference points alone; give three or more as placed_by.", "scale")
        if self.axes and self.mirrored:
            raise refused("with axes: body nothing is turned over; y is outboard on either side.", "mirrored")
        if self.at and not (self.face or self.cut_wheel or any(p.fixed_to == "knuckle" for p in self.placed_by)):
            raise refused(
                "how the hub stood changes nothing here, since all that places the scan is fixed to the body; remove "
                "at, or say which reference point moves with the hub (fixed_to: knuckle).",
                "at",
            )
        return self

    @property
    def face(self) -> RimEdgePart | None:
        """The round face that places it."""
        return self.hub_face or self.rim_edge

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the obstacles that come of it, its own first."""
        return (self.name, *(f"{self.name}: {zone}" for zone in self.zones))
