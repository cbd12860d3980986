"""The parts around a wheel in a profile: shapes, what they are fixed to, tape readings."""

from dataclasses import dataclass, replace
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import (
    Field,
    model_validator,
)

from fitment.profile.schema.base import PLACE, Before, Label, Part, Radius, Travel, optional
from fitment.profile.values import (
    Angle,
    ClockRule,
    Length,
    LengthRule,
    ListRule,
    Outline,
    OutlineRule,
    PlainLengthRule,
    Point,
    Rule,
    SquarePoint,
    WordRule,
    YesRule,
    read_list,
    refused,
    same_point,
)
from fitment.profile.yaml_core import At

# obstacles -----------------------------------------------------------------------------------------------------

_ARMS = ("body", "knuckle", "upper_arm", "lower_arm", "rack")
CARRIERS: dict[str, tuple[str, ...]] = {
    "double_wishbone": _ARMS,
    "strut": ("body", "knuckle", "lower_arm", "rack"),
    "five_link": ("body", "knuckle", "upper_front", "upper_rear", "lower_front", "lower_rear", "toe", "rack"),
    "solid_axle": ("body", "knuckle", "axle", "rack"),
    "tape": _ARMS,
}
CARRIED = ("body", "knuckle", "upper_arm", "lower_arm", "rack",
           "upper_front", "upper_rear", "lower_front", "lower_rear", "toe", "axle")  # fmt: skip
Carrier = Annotated[str | None, WordRule(CARRIED)]
PLANES = ("rim_plane", "tire_plane")
CARRIER_DOC = "what carries it: body, knuckle, upper_arm, lower_arm, rack, a five_link's rod, axle"


class GapPosePart(Part):
    travel: Annotated[Length | None, Travel] = optional(
        "travel of the wheel for the reading [mm]; at rest if not given"
    )
    lock: Annotated[str, WordRule(("left", "right", "straight"))] = Field(
        default="straight", description="the vehicle's steering: left, right or straight"
    )


class GapPart(Part):
    to: Annotated[str, WordRule(("tire", "wheel", *PLANES))] = Field(
        description="what the tape was held to: tire, wheel, or a straightedge across the rim's edge (rim_plane) or "
        "the tire's sidewall (tire_plane)"
    )
    gap: Annotated[Length, LengthRule(-300, 500)] = Field(
        description="what the tape read [mm]; negative where the part reaches past the straightedge to the wheel"
    )
    at: GapPosePart = Field(
        default_factory=GapPosePart, description="how the wheel stood: {travel, lock}; at rest, straight"
    )
    along: Annotated[str, WordRule(("out", "ahead", "up", "radial"))] = Field(
        "out", description="the way in which the part is slid: out, ahead, up, or radial, away from the hub centre"
    )

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if self.gap.value < 0 and self.to not in PLANES:
            raise refused(
                f"{self.gap.value:g} mm is not a plausible gap (0 to 500 mm) to a {self.to}; only a straightedge "
                "(rim_plane, tire_plane) can be passed. Check the reading.",
                "gap",
            )
        return self


class MovePart(Part):
    """How far a build moves a part; body axes, as seen from its own side."""

    out: Annotated[float, PlainLengthRule(-300, 300, "shift")] = Field(0.0, description="outboard [mm]")
    ahead: Annotated[float, PlainLengthRule(-300, 300, "shift")] = Field(0.0, description="forward [mm]")
    up: Annotated[float, PlainLengthRule(-300, 300, "shift")] = Field(0.0, description="upward [mm]")
    away: Annotated[float, PlainLengthRule(-300, 300, "shift")] = Field(
        0.0, description="every point away from the wheel's centre as seen from the side [mm]"
    )

    @model_validator(mode="after")
    def _somewhere(self) -> Self:
        if not any((self.out, self.ahead, self.up, self.away)):
            raise refused("move moves nothing; write {out: 10}, with out, ahead, up or away.")
        return self


_TRIM = PlainLengthRule(0.1, 300, "trim")


class TrimPart(Part):
    """What a build takes off a part."""

    by: Annotated[float | None, _TRIM] = optional("off an edge, or off a panel's end that is nearer to the wheel [mm]")
    first_row: Annotated[float | None, _TRIM] = optional("off the end where a panel's rows begin [mm]")
    last_row: Annotated[float | None, _TRIM] = optional("off the end where a panel's rows end [mm]")

    @model_validator(mode="after")
    def _something(self) -> Self:
        rows = self.first_row is not None or self.last_row is not None
        if rows == (self.by is not None):
            raise refused("write trim: 20, or of a panel trim: {first_row: 20, last_row: 20}, one of them or both.")
        return self


def _trim(given: Any) -> Any:
    return given if isinstance(given, dict) else {"by": given}


class ObstaclePart(Part):
    name: Label = Field(description="a name of its own, used in every report")
    fixed_to: Carrier = optional(f"{CARRIER_DOC}; body if not given")
    allowance: Annotated[Length | None, LengthRule(0, 100)] = optional(
        "clearance required [mm]; 5 to the tire and 3 to the wheel if not given"
    )
    tolerance: Annotated[Length | None, LengthRule(0, 100)] = optional(
        "how far the part may be from where it was measured [mm]"
    )
    meets: Annotated[str, WordRule(("tire", "wheel", "both"))] = Field("both", description="what it is checked against")
    side: Annotated[str | None, WordRule(("left", "right"))] = optional("label of a part found on one side only")
    move: MovePart | None = optional("in a build: how far it moves the part: {out, ahead, up, away} [mm]")
    trim: Annotated[TrimPart, Before(_trim, _TRIM.schema())] | None = optional(
        "in a build: what it cuts off an edge, seen from the side, or off a panel's nearer end [mm]"
    )

    def points_at(self) -> list[tuple[At, Point]]:
        """Every point with its key path."""
        return []

    def carriers_at(self) -> list[tuple[At, str]]:
        """Every carrier that is named, with its key path."""
        return [(("fixed_to",), self.fixed_to)] if self.fixed_to else []


class SolidPart(ObstaclePart):
    radius: Annotated[Length, Radius] = Field(
        Length(0.0), description="half its thickness, put round its points [mm]; 0 if not given"
    )
    measured_from: Annotated[str, WordRule(("centre_plane", "hub_face"))] = Field(
        "centre_plane", description="where y is counted from: centre_plane, or the baseline's hub_face"
    )
    measured_gap: GapPart | None = optional(
        "the gap that a tape read to the baseline's wheel or tire; the part's y, x, z or radius comes from it"
    )

    @model_validator(mode="after")
    def _places(self) -> Self:
        low, high = (-1200, 500) if self.measured_from == "hub_face" else (-300, 1600)
        for at, point in self.points_at():
            if isinstance(point, tuple) and not low <= point[1].value <= high:
                other = "remove measured_from: hub_face" if low == -1200 else "say measured_from: hub_face"
                raise refused(
                    f"y of {point[1].value:g} mm is not plausible ({low} to {high} mm, counted from the "
                    f"{self.measured_from}); {other}, or check the sign (y is outboard).",
                    *at,
                    1,
                )
        return self


class EdgePart(SolidPart):
    shape: Literal["edge"] = Field(description="a line of straight pieces, or a smooth curve")
    points: Annotated[tuple[Point, ...], ListRule(PLACE, "[[x, y, z], [x, y, z], ...]", least=2)] = Field(
        description="its points in order [mm]"
    )
    smooth: Annotated[bool, YesRule()] = Field(False, description="joined by a smooth curve, not straight")
    cover: Annotated[bool | None, YesRule()] = optional(
        "whether it is the bodywork's edge over the tread; decided by its place if not given"
    )

    def points_at(self) -> list[tuple[At, Point]]:
        return [(("points", index), point) for index, point in enumerate(self.points)]

    @model_validator(mode="after")
    def _apart(self) -> Self:
        for index in range(1, len(self.points)):
            if same_point(self.points[index - 1], self.points[index]):
                raise refused("the point repeats the one before it; remove one of them.", "points", index)
        return self


class RodEnd(Part):
    fixed_to: Carrier = optional(f"{CARRIER_DOC}; the rod's own if not given")
    at: Annotated[Point, PLACE] = Field(description="[x, y, z] [mm], or a point as the tape finds it")


def _rod_end(given: Any) -> Any:
    bare = isinstance(given, list) or (isinstance(given, dict) and not {"at", "fixed_to"} & given.keys())
    return {"at": given} if bare else given


_RodEnd = Annotated[RodEnd, Before(_rod_end, PLACE.schema())]


class RodPart(SolidPart):
    shape: Literal["rod"] = Field(description="a straight rod of round section")
    start: _RodEnd = Field(alias="from", description="one end: {fixed_to, at}")
    to: _RodEnd = Field(description="the other end: {fixed_to, at}")

    def points_at(self) -> list[tuple[At, Point]]:
        return [(("from", "at"), self.start.at), (("to", "at"), self.to.at)]

    def carriers_at(self) -> list[tuple[At, str]]:
        ends = (("from", self.start), ("to", self.to))
        return super().carriers_at() + [((key, "fixed_to"), end.fixed_to) for key, end in ends if end.fixed_to]

    @model_validator(mode="after")
    def _apart(self) -> Self:
        if same_point(self.start.at, self.to.at):
            raise refused("both ends are the same point; give two, or use shape: ball.", "to")
        return self


class BallPart(SolidPart):
    shape: Literal["ball"] = Field(description="a ball")
    at: Annotated[Point, PLACE] = Field(description="its centre [mm]")

    def points_at(self) -> list[tuple[At, Point]]:
        return [(("at",), self.at)]


MOST_PANEL_POINTS = 10_000


class RowsRule(Rule):
    """Rows of equally many points, at least 2 by 2."""

    def read(self, given: Any) -> tuple[tuple[Point, ...], ...]:
        form = "[[[x, y, z], [x, y, z]], [[x, y, z], [x, y, z]]]"
        rows = read_list(given, lambda row: read_list(row, PLACE.read, least=2, form=form), least=2, form=form)
        if sum(map(len, rows)) > MOST_PANEL_POINTS:
            raise refused(
                f"{sum(map(len, rows))} points in the panel, at most {MOST_PANEL_POINTS} are taken; leave out rows "
                "where it is flat, or make two panels of it."
            )
        for index, row in enumerate(rows):
            if len(row) != len(rows[0]):
                raise refused(f"{len(row)} points in this row, {len(rows[0])} in the first; give as many.", index)
        return rows

    def schema(self) -> dict[str, Any]:
        return ListRule(ListRule(PLACE, "", least=2), "", least=2).schema()


_FROM_TO = "[from, to]"


class WallPart(Part):
    out: Annotated[Length, LengthRule(-1200, 700)] = Field(description="outboard of the baseline's hub face [mm]")
    up: Annotated[tuple[Length, ...], ListRule(LengthRule(-900, 1500), _FROM_TO, size=2)] = Field(
        default=(), description="lowest and highest height above the hub face's centre [mm]"
    )
    above_ground: Annotated[tuple[Length, ...], ListRule(LengthRule(0, 2400), _FROM_TO, size=2)] = Field(
        default=(), description="lowest and highest height above the ground [mm], in place of up"
    )
    ahead: Annotated[tuple[Length, ...], ListRule(LengthRule(-1500, 1500), _FROM_TO, size=2)] = Field(
        default=(Length(-600.0), Length(600.0)),
        description="its ends ahead of the hub face's centre [mm]; -600 and 600 if not given",
    )

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if bool(self.up) == bool(self.above_ground):
            many = "twice, as up and above_ground; keep one" if self.up else "missing; give up or above_ground"
            raise refused(f"the wall's height is {many}: [lowest, highest].")
        for key, ends in (("up", self.up), ("above_ground", self.above_ground), ("ahead", self.ahead)):
            if ends and ends[1].value <= ends[0].value:
                low, high = ends[1].value, ends[0].value
                raise refused(f"the ends of {key} must rise; write [{low:g}, {high:g}].", key)
        return self

    def rows(self) -> tuple[tuple[SquarePoint, ...], ...]:
        """Its four corners as rows of a panel, the lower edge first."""
        if self.up:
            return tuple(tuple(SquarePoint(x, self.out, up=up) for x in self.ahead) for up in self.up)
        heights = self.above_ground
        return tuple(tuple(SquarePoint(x, self.out, above_ground=z) for x in self.ahead) for z in heights)


class PanelPart(SolidPart):
    shape: Literal["panel"] = Field(description="a surface: over rows of points, or a flat one")
    rows: Annotated[tuple[tuple[Point, ...], ...], RowsRule()] = Field(
        default=(), description="rows of equally many points [mm], at least 2 by 2"
    )
    corners: Annotated[tuple[Point, ...], ListRule(PLACE, "[point, point, point]", size=3)] = Field(
        default=(), description="of a flat one, three corners in order round it [mm]; the fourth completes them"
    )
    wall: WallPart | None = optional("a flat one that stands upright, parallel to the vehicle's side: {out, up, ahead}")
    solid: Annotated[str | None, WordRule(("behind",))] = optional(
        "behind: the space on the side away from the wheel is filled"
    )

    def points_at(self) -> list[tuple[At, Point]]:
        if self.corners:
            return [(("corners", i), point) for i, point in enumerate(self.corners)]
        rows = self.wall.rows() if self.wall else self.rows
        at = ("wall",) if self.wall else ("rows",)
        return [((*at, i, j), point) for i, row in enumerate(rows) for j, point in enumerate(row)]

    @property
    def surface_key(self) -> str:
        """Under which key its surface is given."""
        return "rows" if self.rows else "corners" if self.corners else "wall"

    @property
    def columns(self) -> int:
        """Points in each of its rows."""
        return len(self.rows[0]) if self.rows else 2

    @model_validator(mode="after")
    def _one_surface(self) -> Self:
        given = [key for key in ("rows", "corners", "wall") if getattr(self, key)]
        if len(given) > 1:
            raise refused(f"a panel is given by rows, corners or wall; keep one of {' and '.join(given)}.", given[1])
        if not given:
            raise refused(
                "rows is missing: rows of equally many points [mm], at least 2 by 2; or give corners or wall."
            )
        return self


@dataclass(frozen=True)
class ClockRangeRule(ListRule):
    """First and last angle about the hub; a last one that is a time lies ahead of the first, clockwise from outside."""

    def read(self, given: Any) -> tuple[Angle, ...]:
        first, last = super().read(given)
        ends_in_time = isinstance(given[1].get("value") if isinstance(given[1], dict) else given[1], str)
        return first, replace(last, value=last.value + 360) if ends_in_time and last.value <= first.value else last


ClockRange = Annotated[tuple[Angle, Angle], ClockRangeRule(ClockRule(-360, 720), "[60, 130]", size=2)]


def check_clock_range(clock: tuple[Angle, Angle]) -> None:
    first, last = clock[0].value, clock[1].value
    if not 0 < last - first <= 360:
        raise refused(
            f"[{first:g}, {last:g}]: the second angle must be larger than the first, by at most 360 degrees. A range "
            f"that passes forward (0) is written [{first:g}, {last + 360:g}].",
            "clock",
        )


class RingPart(ObstaclePart):
    hints: ClassVar[dict[str, str]] = {"radius": " A ring has no radius; draw its outline as large as the part."}
    shape: Literal["ring"] = Field(description="an outline in the hub frame over a clock range, as a caliper")
    outline: Annotated[Outline, OutlineRule()] = Field(description="[[y', r], ...] in the hub frame [mm]")
    clock: ClockRange = Field(
        (Angle(0.0), Angle(360.0)), description="range [deg], 0 = forward, 90 = up; all if not given"
    )

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if self.fixed_to not in {None, "knuckle"}:
            raise refused("a ring is drawn in the hub frame and moves with the knuckle; remove the line.", "fixed_to")
        for key in ("move", "trim"):
            if getattr(self, key) is not None:
                raise refused("a ring is drawn in the hub frame; give its outline as it is then.", key)
        check_clock_range(self.clock)
        return self
