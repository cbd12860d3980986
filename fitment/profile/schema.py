"""The keys of a profile, as pydantic models. Every description names the unit; every refusal names the key.

Units are read here (values.py) and nowhere deeper: the models hold millimetres and degrees.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    ModelWrapValidatorHandler,
    ValidationError,
    model_validator,
)
from pydantic_core import core_schema

from fitment.errors import CodeError, did_you_mean
from fitment.hub import SEATS
from fitment.profile.values import (
    Angle,
    AngleRule,
    BoltCircleRule,
    FormatRule,
    Length,
    LengthRule,
    ListRule,
    NumberRule,
    Outline,
    OutlineRule,
    Point,
    PointRule,
    Problem,
    RefusedError,
    RimInchRule,
    Rule,
    StudRule,
    TextRule,
    WordRule,
    YesRule,
    read_list,
    refused,
    same_point,
    shown,
    unknown_word,
)
from fitment.profile.yaml_core import At
from fitment.tire import Tire, parse_tire
from fitment.vehicle import VEHICLE_CLASSES
from fitment.wheel import Wheel, parse_wheel

# plausible ranges [mm]: assumptions of this program, wide enough for any road vehicle
Name = Annotated[str, TextRule(100)]
Label = Annotated[str, TextRule(100, label=True)]
Code = Annotated[str, TextRule(150)]
Radius = LengthRule(0, 300)
Travel = LengthRule(-500, 500, "travel")
INNER = PointRule((-1500, 1500), (-300, 1400), (-800, 1200))  # a point of the suspension in the body
OUTER = PointRule((-600, 600), (100, 1400), (-700, 900))  # a point of the suspension at the wheel
ACROSS = PointRule((-1500, 1500), (-1400, 1400), (-800, 1200))  # an end of a bar that crosses the vehicle
PLACE = PointRule()  # a point of an obstacle
HUB_FACE_AT = PointRule((-500, 500), (300, 1400), (-500, 500))


_NO_MERGE = " It merges nothing in YAML 1.2; a build states only what differs, or use an alias for a whole value."


class Part(BaseModel):
    """Base of every map of a profile: reads it whole and lists every problem in it."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)
    hints: ClassVar[dict[str, str]] = {}  # for keys that are often written in the wrong place

    @classmethod
    def keys(cls) -> dict[str, str]:
        """Key as written -> name of the field."""
        return {field.alias or name: name for name, field in cls.model_fields.items()}

    @classmethod
    def extra_keys(cls) -> tuple[str, ...]:
        """Keys that are kept as they are, to be read later."""
        return ()

    @model_validator(mode="wrap")
    @classmethod
    def _read(cls, data: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        if not isinstance(data, dict):
            raise refused(f"{shown(data)} stands where a map is expected; its keys are {', '.join(cls.keys())}.")
        problems, wrong = cls._wrong_keys(data)
        problems += cls._missing_keys(data, wrong)
        kept = {key: value for key, value in data.items() if key not in wrong}
        try:
            made = handler(kept)
        except ValidationError as error:
            problems += problems_of(error, kept)
        except RefusedError as error:
            problems += error.problems
        if problems:
            raise RefusedError(*problems)
        return made

    @classmethod
    def _wrong_keys(cls, data: dict[str, Any]) -> tuple[list[Problem], set[str]]:
        problems = []
        allowed = (*cls.keys(), *cls.extra_keys())
        for key, value in data.items():
            if key not in allowed:
                hint = {"<<": _NO_MERGE, **cls.hints}.get(key) or unknown_word(key, allowed)
                problems.append(Problem((key,), f'unknown key "{key}".{hint}'))
            elif value is None and key not in cls.extra_keys():
                problems.append(Problem((key,), f"{key} has no value; give one, or remove the line."))
        return problems, {str(problem.at[0]) for problem in problems}

    @classmethod
    def _missing_keys(cls, data: dict[str, Any], wrong: set[str]) -> list[Problem]:
        """Required keys that are not there, but for those that a mistyped key was meant to be."""
        keys = cls.keys()
        meant = {key for key in keys for word in wrong if f'"{key}"' in did_you_mean(word, keys)}
        return [
            Problem((), f"{key} is missing: {cls.model_fields[name].description}.")
            for key, name in keys.items()
            if cls.model_fields[name].is_required() and key not in data and key not in meant
        ]


def problems_of(error: ValidationError, data: Any) -> list[Problem]:
    """pydantic's errors as ours: key paths as they stand in the file, our own words."""
    found: list[Problem] = []
    for each in error.errors(include_url=False, include_input=False):
        at = _path(each["loc"], data)
        cause = each.get("ctx", {}).get("error")
        if isinstance(cause, RefusedError):
            found += [Problem(at + problem.at, problem.text) for problem in cause.problems]
        elif isinstance(cause, ValueError):
            found.append(Problem(at, str(cause)))
        elif each["type"] != "missing":  # told by Part, with what is missing
            found.append(Problem(at, _plain_words(each["type"], each.get("ctx", {}), _value(data, at))))
    return found


def _path(loc: Iterable[str | int], data: Any) -> At:
    """A key path without the tags that pydantic puts in for the kind or shape that it chose."""
    at: list[str | int] = []
    node = data
    for step in loc:
        if isinstance(node, dict) and step not in node and step in (node.get("kind"), node.get("shape")):
            continue
        if step == "[key]":
            continue
        at.append(step)
        node = _value(node, (step,))
    return tuple(at)


def _value(data: Any, at: Iterable[str | int]) -> Any:
    for step in at:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError):
            return None
    return data


def _plain_words(kind: str, context: dict[str, Any], given: Any) -> str:
    if kind == "union_tag_not_found":
        key = str(context.get("discriminator", "kind")).strip("'")
        return f"{key} is missing; it says which keys are read here."
    if kind == "union_tag_invalid":
        key, words = str(context["discriminator"]).strip("'"), context["expected_tags"].replace("'", "").split(", ")
        return f"{shown(context['tag'])} is not a known {key}.{unknown_word(str(context['tag']), words)}"
    if kind in {"tuple_type", "list_type"}:
        return f"{shown(given)} stands where a list is expected; begin each item with a dash, or write [..., ...]."
    if kind in {"dict_type", "model_type", "model_attributes_type"}:
        return f"{shown(given)} stands where a map is expected; write `key: value` lines, or {{key: value}}."
    return f"{shown(given)} is not understood here; see profiles/README.md for this key."


class Before:
    """Another way to write a value, turned into its full form before the model reads it."""

    def __init__(self, turn: Any, schema: dict[str, Any]) -> None:
        self.turn, self.schema = turn, schema

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.no_info_before_validator_function(self.turn, handler(source))

    def __get_pydantic_json_schema__(self, schema: Any, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {"anyOf": [self.schema, handler(schema)]}


# suspension ----------------------------------------------------------------------------------------------------


class SuspensionPart(Part):
    camber: Annotated[Angle, AngleRule(-15, 15)] = Field(
        Angle(0.0), description="camber at the reference pose [deg], negative = top leans inboard; 0 if not given"
    )
    toe_in: Annotated[Angle, AngleRule(-5, 5)] = Field(
        Angle(0.0), description="toe-in of each wheel at the reference pose [deg]; 0 if not given"
    )

    def point_names(self) -> tuple[str, ...]:
        """Names of the points that are given."""
        points = getattr(self, "points", None)
        return tuple(name for name in type(points).model_fields if getattr(points, name)) if points else ()


def _inner(what: str) -> Any:
    return Field(description=f"{what}, body frame [x, y, z] [mm]")


class WishbonePoints(Part):
    lower_inner_front: Annotated[Point, INNER] = _inner("front pivot of the lower arm")
    lower_inner_rear: Annotated[Point, INNER] = _inner("rear pivot of the lower arm")
    lower_ball: Annotated[Point, OUTER] = _inner("lower ball joint")
    upper_inner_front: Annotated[Point, INNER] = _inner("front pivot of the upper arm")
    upper_inner_rear: Annotated[Point, INNER] = _inner("rear pivot of the upper arm")
    upper_ball: Annotated[Point, OUTER] = _inner("upper ball joint")
    tie_inner: Annotated[Point, INNER] = _inner("inner end of the tie rod or toe link")
    tie_outer: Annotated[Point, OUTER] = _inner("outer end of the tie rod or toe link")

    @model_validator(mode="after")
    def _sound(self) -> Self:
        _check_apart(self)
        _check_above(self, "lower_ball", "upper_ball")
        return self


class StrutPoints(Part):
    lower_inner_front: Annotated[Point, INNER] = _inner("front pivot of the lower arm")
    lower_inner_rear: Annotated[Point, INNER] = _inner("rear pivot of the lower arm")
    lower_ball: Annotated[Point, OUTER] = _inner("lower ball joint")
    strut_top: Annotated[Point, INNER] = _inner("centre of the strut's top mount in the body")
    strut_axis_point: Annotated[Point, OUTER] = _inner("a second point of the strut's axis, fixed to the knuckle")
    tie_inner: Annotated[Point, INNER] = _inner("inner end of the tie rod or toe link")
    tie_outer: Annotated[Point, OUTER] = _inner("outer end of the tie rod or toe link")

    @model_validator(mode="after")
    def _sound(self) -> Self:
        _check_apart(self)
        _check_above(self, "lower_ball", "strut_top")
        return self


class FiveLinkPoints(Part):
    upper_front_body: Annotated[Point, INNER] = _inner("upper front link at the body")
    upper_front_knuckle: Annotated[Point, OUTER] = _inner("upper front link at the knuckle")
    upper_rear_body: Annotated[Point, INNER] = _inner("upper rear link at the body")
    upper_rear_knuckle: Annotated[Point, OUTER] = _inner("upper rear link at the knuckle")
    lower_front_body: Annotated[Point, INNER] = _inner("lower front link at the body")
    lower_front_knuckle: Annotated[Point, OUTER] = _inner("lower front link at the knuckle")
    lower_rear_body: Annotated[Point, INNER] = _inner("lower rear link at the body")
    lower_rear_knuckle: Annotated[Point, OUTER] = _inner("lower rear link at the knuckle")
    toe_body: Annotated[Point, INNER] = _inner("toe link at the body (the end a rack would move)")
    toe_knuckle: Annotated[Point, OUTER] = _inner("toe link at the knuckle")

    @model_validator(mode="after")
    def _sound(self) -> Self:
        _check_apart(self)
        return self


class SolidAxlePoints(Part):
    panhard_body: Annotated[Point | None, ACROSS] = Field(None, description="panhard bar at the body [mm]")
    panhard_axle: Annotated[Point | None, ACROSS] = Field(None, description="panhard bar at the axle [mm]")
    lower_ball: Annotated[Point | None, OUTER] = Field(None, description="lower end of the steering axis [mm]")
    upper_ball: Annotated[Point | None, OUTER] = Field(None, description="upper end of the steering axis [mm]")

    @model_validator(mode="after")
    def _sound(self) -> Self:
        for one, other in (("panhard_body", "panhard_axle"), ("lower_ball", "upper_ball")):
            if (getattr(self, one) is None) != (getattr(self, other) is None):
                raise refused(f"{one} and {other} belong together; give both, or neither.")
        _check_apart(self)
        if self.lower_ball:
            _check_above(self, "lower_ball", "upper_ball")
        return self


def _check_apart(points: Part) -> None:
    given = [(name, getattr(points, name)) for name in type(points).model_fields if getattr(points, name)]
    for index, (name, point) in enumerate(given):
        for earlier, other in given[:index]:
            if same_point(point, other):
                raise refused(f"{name} is the same point as {earlier}; measure both.", name)


def _check_above(points: Part, lower: str, upper: str) -> None:
    low, high = getattr(points, lower), getattr(points, upper)
    if isinstance(low, tuple) and isinstance(high, tuple) and low[2].value >= high[2].value:
        raise refused(f"{upper} is not above {lower} (z is up); are the two mixed up?", upper)


class WishboneSuspension(SuspensionPart):
    kind: Literal["double_wishbone"] = Field(description="kind of suspension")
    points: WishbonePoints = Field(description="hardpoints of the left side")


class FiveLinkSuspension(SuspensionPart):
    kind: Literal["five_link"] = Field(description="kind of suspension")
    points: FiveLinkPoints = Field(description="hardpoints of the left side")


class StrokePart(Part):
    compression: Annotated[Length, LengthRule(0, 400, "stroke")] = Field(
        description="how much shorter than at the reference pose the strut can get [mm]"
    )
    extension: Annotated[Length, LengthRule(0, 400, "stroke")] = Field(
        description="how much longer than at the reference pose the strut can get [mm]"
    )


class StrutSuspension(SuspensionPart):
    kind: Literal["strut"] = Field(description="kind of suspension")
    points: StrutPoints = Field(description="hardpoints of the left side")
    stroke: StrokePart | None = Field(None, description="what the strut can do from the reference pose, if measured")


class SolidAxleSuspension(SuspensionPart):
    kind: Literal["solid_axle"] = Field(description="kind of suspension")
    points: SolidAxlePoints | None = Field(None, description="panhard bar and steering axis, where there are any")


class SteeringAxis(Part):
    lower: Annotated[Point, OUTER] = Field(description="a lower point of the steering axis, body frame [mm]")
    upper: Annotated[Point, OUTER] = Field(description="an upper point of the steering axis, body frame [mm]")

    @model_validator(mode="after")
    def _sound(self) -> Self:
        _check_above(self, "lower", "upper")
        if same_point(self.lower, self.upper):
            raise refused("lower and upper are the same point; give two points of the axis.", "upper")
        return self


class TapeSuspension(SuspensionPart):
    kind: Literal["tape"] = Field(description="kind of suspension: measured motion, no hardpoints")
    camber_per_100mm: Annotated[Angle, AngleRule(-20, 20)] = Field(
        Angle(0.0), description="change of camber for 100 mm of bump [deg]; 0 if not given"
    )
    track_per_100mm: Annotated[Length, LengthRule(-80, 80)] = Field(
        Length(0.0), description="outward motion of this hub face for 100 mm of bump [mm]; 0 if not given"
    )
    steering_axis: SteeringAxis | None = Field(None, description="two points of the steering axis")


Suspension = Annotated[
    WishboneSuspension | FiveLinkSuspension | StrutSuspension | SolidAxleSuspension | TapeSuspension,
    Field(discriminator="kind"),
]


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
_Carrier = Annotated[str | None, WordRule(CARRIED)]
_CARRIER_DOC = "what carries it: body, knuckle, upper_arm, lower_arm, rack, a five_link's rod, axle"


class GapPart(Part):
    to: Annotated[str, WordRule(("tire", "wheel"))] = Field(description="what the tape was held to: tire or wheel")
    gap: Annotated[Length, LengthRule(0, 500)] = Field(description="what the tape read [mm]")


class ObstaclePart(Part):
    name: Label = Field(description="a name of its own, used in every report")
    fixed_to: _Carrier = Field(None, description=f"{_CARRIER_DOC}; body if not given")
    allowance: Annotated[Length | None, LengthRule(0, 100)] = Field(
        None, description="clearance required [mm]; 5 to the tire and 3 to the wheel if not given"
    )
    tolerance: Annotated[Length | None, LengthRule(0, 100)] = Field(
        None, description="how far the part may be from where it was measured [mm]"
    )
    meets: Annotated[str, WordRule(("tire", "wheel", "both"))] = Field("both", description="what it is checked against")
    side: Annotated[str | None, WordRule(("left", "right"))] = Field(
        None, description="label of a part found on one side only"
    )

    def points_at(self) -> list[tuple[At, Point]]:
        """Every point with its key path."""
        return []

    def carriers_at(self) -> list[tuple[At, str]]:
        """Every carrier that is named, with its key path."""
        return [(("fixed_to",), self.fixed_to)] if self.fixed_to else []


class SolidPart(ObstaclePart):
    radius: Annotated[Length, Radius] = Field(Length(0.0), description="put round its core [mm]; 0 if not given")
    measured_from: Annotated[str, WordRule(("centre_plane", "hub_face"))] = Field(
        "centre_plane", description="where y is counted from: centre_plane, or the baseline's hub_face"
    )
    measured_gap: GapPart | None = Field(
        None, description="a tape reading to the baseline's tire or wheel, that settles the part's y"
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


class Edge(SolidPart):
    shape: Literal["edge"] = Field(description="a line of straight pieces, or a smooth curve")
    points: Annotated[tuple[Point, ...], ListRule(PLACE, "[[x, y, z], [x, y, z], ...]", least=2)] = Field(
        description="its points in order [mm]"
    )
    smooth: Annotated[bool, YesRule()] = Field(False, description="joined by a smooth curve, not straight")
    cover: Annotated[bool | None, YesRule()] = Field(
        None, description="whether it is the bodywork's edge over the tread; decided by its place if not given"
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
    fixed_to: _Carrier = Field(None, description=f"{_CARRIER_DOC}; the rod's own if not given")
    at: Annotated[Point, PLACE] = Field(description="[x, y, z] [mm], or a point as the tape finds it")


def _rod_end(given: Any) -> Any:
    bare = isinstance(given, list) or (isinstance(given, dict) and "clock" in given)
    return {"at": given} if bare else given


_RodEnd = Annotated[RodEnd, Before(_rod_end, PLACE.schema())]


class Rod(SolidPart):
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


class Ball(SolidPart):
    shape: Literal["ball"] = Field(description="a ball")
    at: Annotated[Point, PLACE] = Field(description="its centre [mm]")

    def points_at(self) -> list[tuple[At, Point]]:
        return [(("at",), self.at)]


class RowsRule(Rule):
    """Rows of equally many points, at least 2 by 2."""

    def read(self, given: Any) -> tuple[tuple[Point, ...], ...]:
        form = "[[[x, y, z], [x, y, z]], [[x, y, z], [x, y, z]]]"
        rows = read_list(given, lambda row: read_list(row, PLACE.read, least=2, form=form), least=2, form=form)
        for index, row in enumerate(rows):
            if len(row) != len(rows[0]):
                raise refused(f"{len(row)} points in this row, {len(rows[0])} in the first; give as many.", index)
        return rows

    def schema(self) -> dict[str, Any]:
        return ListRule(ListRule(PLACE, "", least=2), "", least=2).schema()


class Panel(SolidPart):
    shape: Literal["panel"] = Field(description="a surface over rows of points")
    rows: Annotated[tuple[tuple[Point, ...], ...], RowsRule()] = Field(
        description="rows of equally many points [mm], at least 2 by 2"
    )
    solid: Annotated[str | None, WordRule(("behind",))] = Field(
        None, description="behind: the space on its far side from the wheel is filled"
    )

    def points_at(self) -> list[tuple[At, Point]]:
        return [(("rows", i, j), point) for i, row in enumerate(self.rows) for j, point in enumerate(row)]


_Clock = Annotated[tuple[Angle, Angle], ListRule(AngleRule(-360, 720), "[60, 130]", size=2)]


def _check_clock(clock: tuple[Angle, Angle]) -> None:
    first, last = clock[0].value, clock[1].value
    if not 0 < last - first <= 360:
        raise refused(
            f"[{first:g}, {last:g}] is not a range of at most 360 degrees that rises; through forward write "
            f"[{first:g}, {last + 360:g}].",
            "clock",
        )


class Ring(ObstaclePart):
    hints: ClassVar[dict[str, str]] = {"radius": " A ring has no radius; draw its outline as large as the part."}
    shape: Literal["ring"] = Field(description="an outline in the hub frame over a clock range, as a caliper")
    outline: Annotated[Outline, OutlineRule()] = Field(description="[[y', r], ...] in the hub frame [mm]")
    clock: _Clock = Field((Angle(0.0), Angle(360.0)), description="range [deg], 0 = forward, 90 = up; all if not given")

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if self.fixed_to not in {None, "knuckle"}:
            raise refused("a ring is drawn in the hub frame and moves with the knuckle; remove the line.", "fixed_to")
        _check_clock(self.clock)
        return self


Obstacle = Annotated[Edge | Rod | Ball | Panel | Ring, Field(discriminator="shape")]


# hub, brake, adjusters -----------------------------------------------------------------------------------------

_Thread = Annotated[str | None, StudRule()]
_Circle = Annotated[tuple[int, float] | None, BoltCircleRule()]
_RegisterDiameter = LengthRule(30, 300, "register diameter")
_Seat = Annotated[str | None, WordRule(SEATS)]


class RegisterPart(Part):
    diameter: Annotated[Length, _RegisterDiameter] = Field(description="diameter of the step [mm]")
    length: Annotated[Length | None, LengthRule(0, 80, "register length")] = Field(
        None, description="length of the step [mm]"
    )


class HubPart(Part):
    bolt_circle: _Circle = Field(None, description="lugs x diameter [mm], such as 5x114.3")
    stud: _Thread = Field(None, description="thread, such as M14x1.5 or 1/2-20")
    stud_length: Annotated[Length | None, LengthRule(5, 150)] = Field(
        None, description="of the studs beyond the wheel mounting face [mm]"
    )
    wheel_register: RegisterPart | None = Field(
        None, description="the step that centres the wheel; its length beyond the hub face as fitted"
    )
    rotor_register: RegisterPart | None = Field(None, description="the step behind it, if there is one")
    nut: _Thread = Field(None, description="thread of the nuts in hand, such as M14x1.5")
    nut_seat: _Seat = Field(None, description="seat of the nuts in hand: cone, ball or flat")


class RotorPart(Part):
    diameter: Annotated[Length | None, LengthRule(150, 500, "rotor diameter")] = Field(
        None, description="outer diameter [mm]"
    )
    bore: Annotated[Length | None, LengthRule(30, 300, "rotor bore")] = Field(None, description="centring hole [mm]")
    hat_thickness: Annotated[Length | None, LengthRule(1, 40)] = Field(
        None, description="of the hat between hub and wheel [mm]"
    )
    mass: Annotated[float | None, NumberRule(0.5, 80, "kg")] = Field(None, description="[kg]")
    outline: Annotated[Outline, OutlineRule()] = Field((), description="[[y', r], ...] of its section [mm]")
    stud_hole: Annotated[Length | None, LengthRule(8, 40)] = Field(None, description="diameter of a stud's hole [mm]")


class CaliperPart(Part):
    mass: Annotated[float | None, NumberRule(0.5, 60, "kg")] = Field(None, description="with its pads [kg]")
    outline: Annotated[Outline, OutlineRule()] = Field(
        description="swept at the wheel, [[y', r], ...] in the hub frame [mm]"
    )
    clock: _Clock = Field((Angle(0.0), Angle(360.0)), description="range [deg], 0 = forward, 90 = up; all if not given")

    @model_validator(mode="after")
    def _sound(self) -> Self:
        _check_clock(self.clock)
        return self


class BrakePart(Part):
    rotor: RotorPart | None = Field(None, description="the rotor")
    caliper: CaliperPart | None = Field(None, description="the caliper")


_Settings = ListRule(LengthRule(-60, 60, "setting"), "[-6, 0, 6]")


def _one_or_more(given: Any) -> Any:
    return [given] if isinstance(given, str) else given


class AdjusterPart(Part):
    name: Label = Field(description="a name of its own")
    moves: Annotated[
        tuple[Name, ...], Field(min_length=1), Before(_one_or_more, {"type": "string", "minLength": 1})
    ] = Field(description="the suspension point it moves, or a list of them")
    out: Annotated[tuple[Length, ...], _Settings] = Field((), description="outward settings [mm]")
    forward: Annotated[tuple[Length, ...], _Settings] = Field((), description="forward settings [mm]")
    eccentric: Annotated[Length | None, LengthRule(0.2, 30, "eccentric")] = Field(
        None, description="radius of the eccentric's circle [mm]"
    )
    step: Annotated[Angle | None, AngleRule(0.5, 180)] = Field(
        None, description="smallest turn of the eccentric [deg]; any turn if not given"
    )
    now: Annotated[tuple[Angle, ...], ListRule(AngleRule(-360, 360), "[90, 90]")] = Field(
        (), description="how each eccentric is set, 0 = outboard, 90 = up [deg], if known"
    )
    length: Annotated[tuple[Length, ...], _Settings] = Field(
        (), description="least and most by which a link of a five_link can be made longer than measured [mm]"
    )

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if not self.moves:
            raise refused("moves names no point; name at least one.", "moves")
        if self.length and (self.eccentric is not None or self.out or self.forward):
            raise refused("a link's length is an adjuster of its own; move the other keys to another one.", "length")
        if self.length and not (len(self.length) == 2 and self.length[0].value < self.length[1].value):
            raise refused("give the least and the most by which the link gets longer, such as [-6, 8].", "length")
        if self.eccentric is None and not self.out and not self.forward and not self.length:
            raise refused("an adjuster needs `out` and/or `forward` settings, `eccentric`, or `length`; give one.")
        if self.eccentric is not None and (self.out or self.forward):
            raise refused("an eccentric turns; `out` and `forward` belong to another adjuster.", "eccentric")
        if self.eccentric is None and (self.step or self.now):
            raise refused("`step` and `now` belong to an eccentric; give `eccentric`, or remove them.")
        if self.now and len(self.now) != len(self.moves):
            raise refused(f"{len(self.now)} angles for {len(self.moves)} points; give one for each.", "now")
        return self


# axle ----------------------------------------------------------------------------------------------------------


class SteeringPart(Part):
    lock_left: Annotated[Angle, AngleRule(1, 75)] = Field(
        description="steer of the left wheel at the left lock, reference travel [deg], positive"
    )
    lock_right: Annotated[Angle, AngleRule(1, 75)] = Field(
        description="steer of the left wheel at the right lock, reference travel [deg], positive"
    )


class TravelPart(Part):
    droop: Annotated[Length, LengthRule(-500, 0, "droop")] = Field(
        description="lowest travel of the wheel [mm], 0 or negative"
    )
    bump: Annotated[Length, LengthRule(0, 500, "bump")] = Field(
        description="highest travel of the wheel [mm], 0 or positive"
    )

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if self.bump.value <= self.droop.value:
            raise refused("droop and bump are both 0; give the travel that the wheel has.")
        return self


class SteerLimitRule(Rule):
    """[[travel, share], ...] with rising travels and shares from 0 to 1."""

    def read(self, given: Any) -> tuple[tuple[Length, float], ...]:
        pairs: tuple[tuple[Length, float], ...] = read_list(
            given, self._pair, least=1, form="[[travel, share], ...] such as [[-80, 1.0], [90, 0.6]]"
        )
        for index in range(1, len(pairs)):
            if pairs[index][0].value <= pairs[index - 1][0].value:
                raise refused("the travels of steer_limit must rise; put the pairs in order.", index)
        return pairs

    @staticmethod
    def _pair(given: Any) -> tuple[Length, float]:
        if not isinstance(given, list) or len(given) != 2:
            raise refused(f"{shown(given)} where [travel, share] is expected, such as [90, 0.6].")
        share = given[1]
        if isinstance(share, bool) or not isinstance(share, int | float) or not 0 <= share <= 1:
            raise refused(f"{shown(share)} is not a share of the lock angle (0 to 1); 60 % is 0.6.", 1)
        return Travel.read(given[0]), float(share)

    def schema(self) -> dict[str, Any]:
        share = {"type": "number", "minimum": 0, "maximum": 1}
        pair = {"type": "array", "prefixItems": [Travel.schema(), share], "minItems": 2, "maxItems": 2}
        return {"type": "array", "items": pair, "minItems": 1}


class RideHeightsRule(Rule):
    """{name: travel}; the names are the user's own."""

    def read(self, given: Any) -> dict[str, Length]:
        if not isinstance(given, dict):
            raise refused(f"{shown(given)} stands where a map is expected; write {{parked: 70, cruise: 35}}.")
        found, problems = {}, []
        for name, value in given.items():
            try:
                found[TextRule(60, label=True).read(name)] = Travel.read(value)
            except RefusedError as error:
                problems += [Problem((name, *each.at), each.text) for each in error.problems]
        if problems:
            raise RefusedError(*problems)
        return found

    def schema(self) -> dict[str, Any]:
        return {"type": "object", "additionalProperties": Travel.schema()}


class LowPointPart(Part):
    name: Label = Field(description="a name of its own, used in every report")
    fixed_to: _Carrier = Field(None, description=f"{_CARRIER_DOC}; body if not given")
    at: Annotated[Point, PLACE] = Field(description="the lowest place of the part, body frame [x, y, z] [mm]")


class AxlePart(Part):
    hints: ClassVar[dict[str, str]] = {
        key: f' "{key}" belongs to a build, such as builds: {{stock: {{front: {{{key}: ...}}}}}}.'
        for key in ("wheel", "tire", "spacer", "ride")
    }
    driven: Annotated[bool, YesRule()] = Field(False, description="whether this axle is driven")
    final_drive: Annotated[float | None, NumberRule(1, 12, "turns")] = Field(
        None, description="turns of the drive shaft for one of the wheel, such as 3.73"
    )
    axle_load: Annotated[float | None, NumberRule(50, 15000, "kg")] = Field(
        None, description="load on the whole axle [kg]"
    )
    top_speed: Annotated[float | None, NumberRule(20, 500, "km/h")] = Field(
        None, description="top speed of the vehicle [km/h]"
    )
    hub_face_width: Annotated[Length, LengthRule(900, 2600)] = Field(
        description="hub face to hub face at the reference pose, both sides [mm]"
    )
    hub_face_at: Annotated[Point | None, HUB_FACE_AT] = Field(
        None, description="centre of the hub face at the reference pose, body frame; [0, hub_face_width / 2, 0]"
    )
    hub_height: Annotated[Length, LengthRule(150, 900)] = Field(
        description="hub centre above ground at the reference pose [mm]"
    )
    suspension: Suspension = Field(description="how the wheel moves")
    steering: SteeringPart | None = Field(None, description="locks of the left wheel, if the axle steers")
    travel: TravelPart = Field(description="ends of travel: {droop: -80, bump: 90} [mm]")
    ride_heights: Annotated[dict[str, Length], RideHeightsRule()] = Field(
        {}, description="travel at rest, by name [mm]"
    )
    steer_limit: Annotated[tuple[tuple[Length, float], ...], SteerLimitRule()] = Field(
        (), description="share of the lock angle usable at a travel, 1 = to the stop: [[travel [mm], share 0..1], ...]"
    )
    hub: HubPart | None = Field(None, description="what the wheel bolts to")
    brake: BrakePart | None = Field(None, description="rotor and caliper")
    obstacles: tuple[Obstacle, ...] = Field((), description="parts that a wheel could meet")
    adjusters: tuple[AdjusterPart, ...] = Field((), description="what can be set on the suspension")
    low_points: tuple[LowPointPart, ...] = Field((), description="what hangs lowest, held against the ground")

    @model_validator(mode="after")
    def _sound(self) -> Self:
        problems = [
            *_repeated([each.name for each in self.obstacles], "obstacles"),
            *_repeated([each.name for each in self.adjusters], "adjusters"),
            *_repeated([each.name for each in self.low_points], "low_points"),
            *self._wrong_carriers(),
            *self._wrong_adjusters(),
        ]
        if isinstance(self.hub_face_at, tuple) is False and self.hub_face_at is not None:
            problems.append(Problem(("hub_face_at",), "a clock point counts from the hub face; write [x, y, z]."))
        if self.steer_limit and self.steering is None:
            problems.append(Problem(("steer_limit",), "steer_limit without steering; give steering: {lock_left: ...}."))
        if problems:
            raise RefusedError(*problems)
        return self

    def _wrong_carriers(self) -> list[Problem]:
        kind = self.suspension.kind
        allowed = CARRIERS[kind]
        return [
            Problem(
                ("obstacles", index, *at),
                f'"{carrier}" does not exist in a suspension of kind {kind}.{unknown_word(carrier, allowed)}',
            )
            for index, obstacle in enumerate(self.obstacles)
            for at, carrier in obstacle.carriers_at()
            if carrier not in allowed
        ] + [
            Problem(
                ("low_points", index, "fixed_to"),
                f'"{low.fixed_to}" does not exist in a suspension of kind {kind}.{unknown_word(low.fixed_to, allowed)}',
            )
            for index, low in enumerate(self.low_points)
            if low.fixed_to and low.fixed_to not in allowed
        ]

    def _wrong_adjusters(self) -> list[Problem]:
        names = self.suspension.point_names()
        if self.suspension.kind == "tape":
            return []  # without points there is nothing to adjust: a caution, see resolve
        return [
            Problem(
                ("adjusters", index, "moves"),
                f'"{name}" is not a point of this suspension.{unknown_word(name, names)}',
            )
            for index, adjuster in enumerate(self.adjusters)
            for name in adjuster.moves
            if name not in names
        ] or [
            Problem(("adjusters", index), why)
            for index, adjuster in enumerate(self.adjusters)
            if (why := _cannot_set(adjuster, self.suspension.kind, [each.moves for each in self.adjusters[:index]]))
        ]


TOE = ("toe_body", "toe_knuckle")


def _cannot_set(adjuster: AdjusterPart, kind: str, before: list[tuple[str, ...]]) -> str:
    """Why an adjuster cannot work on a kind of suspension, or nothing; before : what earlier ones move."""
    moves, five = adjuster.moves, kind == "five_link"
    wrong = (
        (
            bool(adjuster.length) and not five,
            "`length` sets a link of a five_link; on other suspensions give `out`, `forward` or `eccentric`.",
        ),
        (
            bool(adjuster.length) and not (len(moves) == 1 and moves[0].endswith("_knuckle")),
            "a link whose length is set is named by its one end on the knuckle, such as toe_knuckle.",
        ),
        (
            five and bool(adjuster.out or adjuster.forward),
            "five links are set by an `eccentric` at an end on the body, or by a link's `length`.",
        ),
        (
            five and adjuster.eccentric is not None and not all(name.endswith("_body") for name in moves),
            "an eccentric of a five_link sits at an end on the body, such as lower_rear_body.",
        ),
        (
            five and len(moves) > 1 and "toe_body" in moves,
            "toe_body needs an adjuster of its own: toe is re-set with it.",
        ),
        (
            moves[0] in TOE and any(each[0] in TOE for each in before),
            "toe is re-set with one adjuster; keep the one that is used for it.",
        ),
    )
    return next((why for is_wrong, why in wrong if is_wrong), "")


def _repeated(names: list[str], key: str) -> list[Problem]:
    return [
        Problem((key, index, "name"), f'the name "{name}" is used twice; names tell parts apart, change one.')
        for index, name in enumerate(names)
        if name in names[:index]
    ]


# builds --------------------------------------------------------------------------------------------------------


def _offset(value: float, what: str) -> LengthRule:
    return LengthRule(-value, value, what)


_WHEEL_LENGTHS = ("overall_width", "barrel_clear_diameter", "barrel_thickness", "pad_diameter", "pad_thickness")


class WheelPart(Part):
    spec: Code = Field(description="as the trade writes it: 20x10 ET25 6x139.7 CB78.1")
    offset: Annotated[Length | None, _offset(200, "offset")] = Field(
        None, description="measured offset [mm], positive = mounting face outboard; beats the spec's"
    )
    offset_tolerance: Annotated[Length | None, LengthRule(0, 20)] = Field(
        None, description="half width of the band that the offset lies in [mm]"
    )
    overall_width: Annotated[Length | None, LengthRule(100, 500)] = Field(
        None, description="flange to flange [mm]; rim width + 2 x 12.7 if not given"
    )
    barrel_clear_diameter: Annotated[Length | None, LengthRule(200, 750)] = Field(
        None, description="largest cylinder that passes into the barrel [mm]"
    )
    barrel_thickness: Annotated[Length | None, LengthRule(1, 40)] = Field(None, description="metal of the barrel [mm]")
    spoke_back: Annotated[Outline, OutlineRule((-150, 300), (20, 400), open=True)] = Field(
        (), description="[[y', r], ...] of the back of the spokes, y' from the mounting face [mm]"
    )
    pad_diameter: Annotated[Length | None, LengthRule(80, 350)] = Field(None, description="of the hub pad [mm]")
    pad_thickness: Annotated[Length | None, LengthRule(1, 120)] = Field(
        None, description="of the pad, mounting face to nut seat [mm]"
    )
    mass: Annotated[float | None, NumberRule(2, 120, "kg")] = Field(None, description="of the bare wheel [kg]")
    barrel_inside: Annotated[Outline, OutlineRule((-350, 250), (80, 420), open=True)] = Field(
        (), description="[[y', r], ...] of the barrel's inner surface, y' from the mounting face [mm]"
    )
    seat: _Seat = Field(None, description="of its nuts: cone, ball or flat")
    stud_hole: Annotated[Length | None, LengthRule(8, 40)] = Field(None, description="diameter of a stud's hole [mm]")
    load_rating: Annotated[float | None, NumberRule(150, 6000, "kg")] = Field(
        None, description="what one wheel may carry, as its maker states it [kg]"
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
    section_width: Annotated[Length | None, LengthRule(80, 520)] = Field(
        None, description="from the maker's data sheet [mm]; beats the formula"
    )
    on_rim: Annotated[float | None, RimInchRule(2.5, 20)] = Field(
        None, description="rim width that section_width was measured on [in]"
    )
    tread_width: Annotated[Length | None, LengthRule(60, 480)] = Field(None, description="from the data sheet [mm]")
    overall_diameter: Annotated[Length | None, LengthRule(350, 1600)] = Field(
        None, description="from the data sheet [mm]; beats the formula"
    )
    mass: Annotated[float | None, NumberRule(2, 150, "kg")] = Field(None, description="from the data sheet [kg]")
    approved_rims: Annotated[tuple[float, float] | None, ListRule(RimInchRule(2.5, 20), "[9, 11]", size=2)] = Field(
        None, description="narrowest and widest rim of the maker's data sheet [in]"
    )

    def record(self) -> Tire:
        """The tire, the data sheet in place of the formula. Raises CodeError."""
        measured = {
            key: getattr(self, key).value
            for key in ("section_width", "tread_width", "overall_diameter")
            if getattr(self, key) is not None
        }
        measured |= {"on_rim": self.on_rim, "mass": self.mass, "approved_rims": self.approved_rims}
        return replace(parse_tire(self.code), **measured)

    @model_validator(mode="after")
    def _readable(self) -> Self:
        try:
            self.record()
        except CodeError as error:
            raise refused(str(error), "code") from None
        if self.on_rim is not None and self.section_width is None:
            raise refused("on_rim says which rim section_width was measured on; give section_width.", "on_rim")
        if self.approved_rims is not None and self.approved_rims[0] > self.approved_rims[1]:
            raise refused("the narrower rim comes first, such as [9, 11].", "approved_rims")
        return self


class SpacerPart(Part):
    thickness: Annotated[Length, LengthRule(0, 150, "spacer")] = Field(description="[mm]")
    mass: Annotated[float | None, NumberRule(0.05, 30, "kg")] = Field(None, description="with its studs [kg]")
    bolt_circle: _Circle = Field(None, description="of an adapter: the circle it offers to the wheel")
    stud: _Thread = Field(None, description="of an adapter: the thread of its own studs")
    stud_length: Annotated[Length | None, LengthRule(5, 150)] = Field(
        None, description="of its own studs beyond its outer face [mm]"
    )
    register_diameter: Annotated[Length | None, _RegisterDiameter] = Field(
        None, alias="register", description="diameter of the step it offers to the wheel [mm]"
    )
    register_length: Annotated[Length | None, LengthRule(0, 80, "register length")] = Field(
        None, description="of the step it offers to the wheel [mm]"
    )
    nut: _Thread = Field(None, description="of an adapter: thread of the nuts in hand for its studs")
    nut_seat: _Seat = Field(None, description="of an adapter: seat of these nuts: cone, ball or flat")
    hub_circle: _Circle = Field(None, description="of an adapter: the circle it is drilled with for the hub's studs")
    bore: Annotated[Length | None, LengthRule(30, 300, "bore")] = Field(
        None, description="its own, which sits on the hub's register [mm]"
    )
    seat_thickness: Annotated[Length | None, LengthRule(1, 120)] = Field(
        None, description="of an adapter: metal between the hub face and the seat of the hub's nuts [mm]"
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

    model_config = ConfigDict(extra="allow")

    wheel: Annotated[WheelPart, Before(_named("spec"), _TEXT)] | None = Field(
        None, description="spec as a text, or a map with `spec` and what was measured"
    )
    tire: Annotated[TirePart, Before(_named("code"), _TEXT)] | None = Field(
        None, description="code as a text, or a map with `code` and its data sheet"
    )
    spacer: Annotated[SpacerPart, Before(_spacer, LengthRule(0, 150).schema())] | None = Field(
        None, description="thickness [mm], or a map with thickness and what else is known, as of an adapter"
    )
    ride: Annotated[str | Length | None, RideRule()] = Field(
        None, description="a name of ride_heights, or the travel at rest [mm]; 0 if not given"
    )

    @classmethod
    def extra_keys(cls) -> tuple[str, ...]:
        return tuple(AxlePart.keys())


class BuildPart(Part):
    front: CornerPart | None = Field(None, description="the front axle in this build")
    rear: CornerPart | None = Field(None, description="the rear axle in this build")


class AxlesPart(Part):
    front: AxlePart | None = Field(None, description="the front axle")
    rear: AxlePart | None = Field(None, description="the rear axle")

    @model_validator(mode="after")
    def _some(self) -> Self:
        if self.front is None and self.rear is None:
            raise refused("no axle; give front, rear or both.")
        return self


class ProfileModel(Part):
    format: Annotated[int, FormatRule()] = Field(description="number of the profile format: 1")
    name: Name = Field(description="what the vehicle is called")
    note: Annotated[str, TextRule(20_000, lines=True)] = Field("", description="free text")
    wheelbase: Annotated[Length | None, LengthRule(1000, 9000)] = Field(None, description="axle to axle [mm]")
    vehicle_class: Annotated[str | None, WordRule(VEHICLE_CLASSES)] = Field(
        None, description="passenger_car or light_truck; decides what a passenger tire may carry"
    )
    diameter_tolerance: Annotated[float | None, NumberRule(0, 20, "%")] = Field(
        None, description="what the vehicle's maker permits between front and rear overall diameter [%]"
    )
    axles: AxlesPart = Field(description="the axles, measured with the baseline build on the vehicle")
    builds: dict[Name, BuildPart] = Field(description="named states of the vehicle")
    baseline: Name = Field(description="the build that was on the vehicle when it was measured")

    @model_validator(mode="after")
    def _sound(self) -> Self:
        problems = []
        if not self.builds:
            problems.append(Problem(("builds",), "no build; give at least the one that was measured."))
        elif self.baseline not in self.builds:
            text = f'"{self.baseline}" is not a build.{unknown_word(self.baseline, tuple(self.builds))}'
            problems.append(Problem(("baseline",), text))
        for name, build in self.builds.items():
            problems += [
                Problem(("builds", name, axle), f"the profile has no {axle} axle; describe it under axles.")
                for axle in ("front", "rear")
                if getattr(build, axle) is not None and getattr(self.axles, axle) is None
            ]
        if problems:
            raise RefusedError(*problems)
        return self
