"""A scan among the parts around a wheel: its file, how it lies in the body, and what of it counts."""

import math
from dataclasses import dataclass
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import Field, model_validator

from fitment.errors import shown
from fitment.profile.schema.base import PLACE, Before, Label, Part, optional
from fitment.profile.schema.obstacles import ClockRange, ObstaclePart, check_clock_range
from fitment.profile.values import ListRule, PlainLengthRule, Point, Rule, TextRule, WordRule, YesRule, refused
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


@dataclass(frozen=True)
class ScanPlaceRule(Rule):
    """A place in the scan's own axes and units."""

    def read(self, given: Any) -> tuple[float, float, float]:
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
    scan: Annotated[tuple[float, float, float], ScanPlaceRule()] = Field(
        description="where it lies in the scan, in the file's own axes and units: [x, y, z]"
    )
    at: Annotated[Point, PLACE] = Field(description="the same place by tape: [x, y, z] [mm], or as the tape finds it")


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
        (), description="three places or more that were found in the scan and by tape: [{scan: [x, y, z], at: point}]"
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
        if bool(self.placed_by) == (self.axes is not None):
            raise refused(
                "it is placed twice; keep placed_by or axes: body."
                if self.axes
                else "placed_by is missing: [{scan: [x, y, z], at: point}, ...], three places or more that were found "
                "in the scan and by tape; or axes: body, where the scan lies in the body's axes already."
            )
        if self.axes and self.scale == "free":
            raise refused("a free scale needs reference points; give placed_by.", "scale")
        if self.axes and self.mirrored:
            raise refused("with axes: body nothing is turned over; y is outboard on either side.", "mirrored")
        return self

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the obstacles that come of it, its own first."""
        return (self.name, *(f"{self.name}: {zone}" for zone in self.zones))
