"""The kinds of suspension in a profile and their hardpoints."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import (
    Field,
    model_validator,
)

from fitment.parts.tables import typical_values
from fitment.parts.travel_curve import off_parabola
from fitment.profile.schema.assumed import OR_TYPICAL_AXIS, OR_TYPICAL_LINKS, or_typical
from fitment.profile.schema.base import ACROSS, INNER, OUTER, Part, Travel, optional
from fitment.profile.values import (
    Angle,
    AngleRule,
    Length,
    LengthRule,
    Point,
    Problem,
    RefusedError,
    refused,
    same_point,
)

READ = ("camber", "out", "ahead")  # what a reading at a travel may tell
RATES = {"camber": "camber_per_100mm", "out": "track_per_100mm"}
APART = 10.0  # [mm] of travel between readings, at least
MORE = " of several readings"  # in data/typical.csv, after the key of a bend
UNREAD = " of an assumed rate"

# suspension ----------------------------------------------------------------------------------------------------


class SuspensionPart(Part):
    camber: Annotated[Angle, AngleRule(-15, 15), or_typical("suspension.camber")] = Field(
        Angle(0.0), description="camber at the reference pose [deg], negative = top leans inboard; 0 if not given"
    )
    toe_in: Annotated[Angle, AngleRule(-5, 5), or_typical("suspension.toe_in")] = Field(
        Angle(0.0), description="toe-in of each wheel at the reference pose [deg]; 0 if not given"
    )

    def point_names(self) -> tuple[str, ...]:
        """Names of the points that are given."""
        points = getattr(self, "points", None)
        return tuple(name for name in type(points).model_fields if getattr(points, name)) if points else ()


def _inner(what: str) -> Any:
    return Field(description=f"{what}, body frame [x, y, z] [mm]")


class Hardpoints(Part):
    """Points of a suspension; axis : the lower and the upper one of the steering axis."""

    axis: ClassVar[tuple[str, str] | None] = None

    def check(self) -> None:
        named = ((name, getattr(self, name)) for name in type(self).model_fields)
        given = [(name, value) for name, value in named if value and not isinstance(value, Length | Angle)]
        for index, (name, point) in enumerate(given):
            for earlier, other in given[:index]:
                if same_point(point, other):
                    raise refused(f"{name} is the same point as {earlier}; measure both.", name)
        if self.axis is not None:
            _check_above(self, *self.axis)

    @model_validator(mode="after")
    def _sound(self) -> Self:
        self.check()
        return self


class LowerArmPoints(Hardpoints):
    lower_inner_front: Annotated[Point, INNER] = _inner("front pivot of the lower arm")
    lower_inner_rear: Annotated[Point, INNER] = _inner("rear pivot of the lower arm")
    lower_ball: Annotated[Point, OUTER] = _inner("lower ball joint")


class WishbonePoints(LowerArmPoints):
    axis = ("lower_ball", "upper_ball")
    upper_inner_front: Annotated[Point, INNER] = _inner("front pivot of the upper arm")
    upper_inner_rear: Annotated[Point, INNER] = _inner("rear pivot of the upper arm")
    upper_ball: Annotated[Point, OUTER] = _inner("upper ball joint")
    tie_inner: Annotated[Point, INNER] = _inner("inner end of the tie rod or toe link")
    tie_outer: Annotated[Point, OUTER] = _inner("outer end of the tie rod or toe link")


class StrutPoints(LowerArmPoints):
    axis = ("lower_ball", "strut_top")
    strut_top: Annotated[Point, INNER] = _inner("centre of the strut's top mount in the body")
    strut_axis_point: Annotated[Point, OUTER] = _inner("a second point of the strut's axis, fixed to the knuckle")
    tie_inner: Annotated[Point, INNER] = _inner("inner end of the tie rod or toe link")
    tie_outer: Annotated[Point, OUTER] = _inner("outer end of the tie rod or toe link")


class FiveLinkPoints(Hardpoints):
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


class SolidAxlePoints(Hardpoints):
    axis = ("lower_ball", "upper_ball")
    panhard_body: Annotated[Point | None, ACROSS] = optional("panhard bar at the body [mm]")
    panhard_axle: Annotated[Point | None, ACROSS] = optional("panhard bar at the axle [mm]")
    lower_ball: Annotated[Point | None, OUTER] = optional("lower end of the steering axis [mm]")
    upper_ball: Annotated[Point | None, OUTER] = optional("upper end of the steering axis [mm]")

    def check(self) -> None:
        for name, partner in (("panhard_body", "panhard_axle"), ("lower_ball", "upper_ball")):
            if (getattr(self, name) is None) != (getattr(self, partner) is None):
                raise refused(f"{name} and {partner} belong together; give both, or neither.")
        super().check()


def _check_above(points: Part, lower: str, upper: str) -> None:
    low, high = getattr(points, lower), getattr(points, upper)
    if isinstance(low, tuple) and isinstance(high, tuple) and low[2].value >= high[2].value:
        raise refused(f"{upper} is not above {lower} (z is up); are the two mixed up?", upper)


class SteeringAxis(Part):
    lower: Annotated[Point | None, OUTER] = Field(None, description="a lower point of the axis, body frame [mm]")
    upper: Annotated[Point | None, OUTER] = Field(None, description="an upper point of the axis, body frame [mm]")
    kingpin_inclination: Annotated[Angle | None, AngleRule(-5, 40)] = Field(
        None, description="in place of the points: kingpin inclination [deg], positive = top inboard"
    )
    caster: Annotated[Angle | None, AngleRule(-15, 25)] = Field(None, description="[deg], positive = top rearward")
    offset: Annotated[Length | None, LengthRule(-100, 400)] = Field(
        None, description="hub face outboard of the axis, at the height of the hub's centre [mm]"
    )
    ahead: Annotated[Length, LengthRule(-150, 150)] = Field(
        Length(0.0), description="axis ahead of the hub's centre, at its height [mm]; 0 if not given"
    )

    @model_validator(mode="after")
    def _sound(self) -> Self:
        given = self.model_fields_set
        by_points, by_angles = ("lower", "upper"), ("kingpin_inclination", "caster", "offset")
        if not given:
            raise refused(
                f"the axis is empty; give {' and '.join(by_points)}, or {', '.join(by_angles)}, or `assumed`."
            )
        if given & {*by_points} and given - {*by_points}:
            raise refused("the axis is given by points and by angles; keep one of them.")
        for key in by_points if given & {*by_points} else by_angles:
            if getattr(self, key) is None:
                raise refused(f"{key} is missing: {type(self).model_fields[key].description}.")
        if self.lower is not None and self.upper is not None:
            _check_above(self, "lower", "upper")
            if same_point(self.lower, self.upper):
                raise refused("lower and upper are the same point; give two points of the axis.", "upper")
        return self


def _told_by_points(axis: str) -> dict[str, str]:
    """What to say of keys that belong to a suspension without hardpoints; axis : what its steering axis is."""
    change = " The points tell how camber and track change; remove the line."
    return {
        "steering_axis": f" The points tell it: {axis}; remove the line.",
        "camber_per_100mm": change,
        "track_per_100mm": change,
    }


class WishboneSuspensionPart(SuspensionPart):
    hints: ClassVar[dict[str, str]] = _told_by_points("from lower_ball to upper_ball")
    kind: Literal["double_wishbone"] = Field(description="kind of suspension")
    points: WishbonePoints = Field(description="hardpoints of the left side")


class FiveLinkSuspensionPart(SuspensionPart):
    hints: ClassVar[dict[str, str]] = _told_by_points("what the five links let the knuckle turn about")
    kind: Literal["five_link"] = Field(description="kind of suspension")
    points: FiveLinkPoints = Field(description="hardpoints of the left side")


class StrokePart(Part):
    compression: Annotated[Length, LengthRule(0, 400, "stroke")] = Field(
        description="how much shorter than at the reference pose the strut can get [mm]"
    )
    extension: Annotated[Length, LengthRule(0, 400, "stroke")] = Field(
        description="how much longer than at the reference pose the strut can get [mm]"
    )


class StrutSuspensionPart(SuspensionPart):
    hints: ClassVar[dict[str, str]] = _told_by_points("from lower_ball to strut_top")
    kind: Literal["strut"] = Field(description="kind of suspension")
    points: StrutPoints = Field(description="hardpoints of the left side")
    stroke: StrokePart | None = optional("what the strut can do from the reference pose, if measured")


class AxleLinksPart(Hardpoints):
    """What leads a solid axle fore and aft: links, or leaf springs, by points; else how it was seen to move."""

    lower_body: Annotated[Point | None, INNER] = optional("lower or only link of this side at the body [mm]")
    lower_axle: Annotated[Point | None, INNER] = optional("lower or only link of this side at the axle [mm]")
    upper_body: Annotated[Point | None, INNER] = optional("upper link of this side at the body [mm]")
    upper_axle: Annotated[Point | None, INNER] = optional("upper link of this side at the axle [mm]")
    spring_eye: Annotated[Point | None, INNER] = optional("leaf spring: centre of its fixed eye on the body [mm]")
    spring_axle: Annotated[Point | None, INNER] = optional("leaf spring: where it is clamped to the axle [mm]")
    ahead_per_100mm: Annotated[Length, LengthRule(-60, 60)] = Field(
        Length(0.0), description="how far the hub face moves ahead for 100 mm of bump [mm], beside what links tell"
    )
    ahead_bend: Annotated[Length, LengthRule(-60, 60)] = Field(
        Length(0.0), description="the same, but what grows with the square of the travel, bump and droop alike [mm]"
    )
    caster_per_100mm: Annotated[Angle, AngleRule(-20, 20)] = Field(
        Angle(0.0), description="change of caster for 100 mm of bump of both wheels [deg], where no upper links tell it"
    )

    def check(self) -> None:
        given = [name for name in LINK_POINTS if getattr(self, name) is not None]
        for name, partner in LINK_ENDS:
            if (name in given) != (partner in given):
                raise refused(f"{name} and {partner} belong together; give both, or neither.")
        if not given and not self.model_fields_set:
            raise refused(f"links is empty; give {' and '.join(LINK_ENDS[0])}, or {' and '.join(LINK_ENDS[2])}.")
        if "spring_eye" in given and len(given) > 2:
            raise refused("a leaf spring leads the axle by itself; give it, or links.", "spring_eye")
        if "upper_body" in given and "lower_body" not in given:
            raise refused("upper links need the lower ones; a single pair of links is the lower one.", "upper_body")
        super().check()
        for name, partner in LINK_ENDS:
            self._long_enough(name, partner)
        low, high = self.lower_axle, self.upper_axle
        if isinstance(low, tuple) and isinstance(high, tuple) and high[2].value - low[2].value < LEAST_APART:
            raise refused(f"upper_axle is not {LEAST_APART:g} mm above lower_axle; are the two mixed up?", "upper_axle")

    def _long_enough(self, name: str, partner: str) -> None:
        ends = getattr(self, name), getattr(self, partner)
        if not all(isinstance(end, tuple) for end in ends):
            return
        ahead, aside = (abs(ends[0][i].value - ends[1][i].value) for i in (0, 1))
        if ahead < max(LEAST_REACH, aside):
            raise refused(
                f"from {name} to {partner} it is {ahead:.0f} mm fore and aft and {aside:.0f} mm sideways; a link that "
                f"leads the axle reaches at least {LEAST_REACH:g} mm fore and aft, and farther than sideways.",
                partner,
            )


LINK_ENDS = (("lower_body", "lower_axle"), ("upper_body", "upper_axle"), ("spring_eye", "spring_axle"))
LINK_POINTS = tuple(name for ends in LINK_ENDS for name in ends)
LEAST_REACH, LEAST_APART = 100.0, 30.0  # [mm] assumptions


class SolidAxleSuspensionPart(SuspensionPart):
    kind: Literal["solid_axle"] = Field(description="kind of suspension")
    points: SolidAxlePoints | None = optional("panhard bar and steering axis, where there are any")
    links: Annotated[AxleLinksPart | None, OR_TYPICAL_LINKS] = optional(
        "what leads the axle fore and aft: links or leaf springs; assumed if not given"
    )
    steering_axis: Annotated[SteeringAxis | None, OR_TYPICAL_AXIS] = optional(
        "the steering axis, where its ball joints are not among the points"
    )

    @model_validator(mode="after")
    def _one_axis(self) -> Self:
        if self.steering_axis and self.points and self.points.lower_ball:
            raise refused("lower_ball and upper_ball tell the axis already; remove one of both.", "steering_axis")
        return self


def _bend(what: str, unit: str, none: Angle | Length) -> Any:
    text = f"how much more {what} at 100 mm of travel than the curve through the readings tells [{unit}], with its band"
    return Field(none, description=f"{text}; a usual band if not given")


class TravelReadingPart(Part):
    """What was read with the hub raised or lowered, wheels straight ahead."""

    travel: Annotated[Length, Travel] = Field(description="of the hub from the reference pose [mm], bump positive")
    camber: Annotated[Angle | None, AngleRule(-30, 30)] = optional("camber as the gauge shows it there [deg]")
    out: Annotated[Length | None, LengthRule(-150, 150)] = optional(
        "hub face's centre outboard of where it is at the reference pose [mm]"
    )
    ahead: Annotated[Length | None, LengthRule(-150, 150)] = optional(
        "hub face's centre ahead of where it is at the reference pose [mm]; taken as 0 where no reading tells it"
    )

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if all(getattr(self, key) is None for key in READ):
            raise refused(f"a reading tells {', '.join(READ[:-1])} or {READ[-1]}; give what was read at this travel.")
        return self


class TapeSuspensionPart(SuspensionPart):
    kind: Literal["tape"] = Field(description="kind of suspension: measured motion, no hardpoints")
    camber_per_100mm: Annotated[Angle, AngleRule(-20, 20), or_typical("suspension.camber_per_100mm")] = Field(
        Angle(0.0), description="change of camber for 100 mm of bump [deg]; 0 if not given"
    )
    track_per_100mm: Annotated[Length, LengthRule(-80, 80), or_typical("suspension.track_per_100mm")] = Field(
        Length(0.0), description="outward motion of this hub face for 100 mm of bump [mm]; 0 if not given"
    )
    readings: tuple[TravelReadingPart, ...] = Field(
        (), description="in place of these two: readings at several travels, at least one in bump and one in droop"
    )
    camber_bend: Annotated[Angle, AngleRule(-10, 10)] = _bend("camber changes", "deg", Angle(0.0))
    out_bend: Annotated[Length, LengthRule(-80, 80)] = _bend("the hub face moves outboard", "mm", Length(0.0))
    ahead_bend: Annotated[Length, LengthRule(-80, 80)] = _bend("the hub face moves ahead", "mm", Length(0.0))
    steering_axis: Annotated[SteeringAxis | None, OR_TYPICAL_AXIS] = optional(
        "the steering axis, by two points or by its angles; assumed if not given"
    )

    def read(self, key: str) -> tuple[tuple[Length, Angle | Length], ...]:
        """Travel and value of every reading that tells this."""
        return tuple((each.travel, getattr(each, key)) for each in self.readings if getattr(each, key) is not None)

    @model_validator(mode="after")
    def _sound(self) -> Self:
        given = self.model_fields_set
        if "readings" not in given:
            rates = {key: getattr(self, rate) for key, rate in RATES.items() if rate in given}
            return self.model_copy(update=self._bends({key: 0 if rate.assumed else 1 for key, rate in rates.items()}))
        problems = [
            Problem((rate,), f"{rate} and readings tell the same; keep the readings, and remove this line.")
            for rate in RATES.values()
            if rate in given
        ]
        if not self.readings:
            problems.append(Problem(("readings",), "no reading in the list; give one, or remove the line."))
        for key in READ:
            problems += self._too_near(key)
        if problems:
            raise RefusedError(*problems)
        bends = self._bends({key: len(self.read(key)) for key in READ if self.read(key)})
        return self.model_copy(update={"readings": self._with_misfit(), **bends})

    def _too_near(self, key: str) -> Iterator[Problem]:
        """Readings so near the reference pose, or one another, that a millimetre would bend the whole curve."""
        taken = [0.0]
        for index, each in enumerate(self.readings):
            if getattr(each, key) is None:
                continue
            near = next((at for at in taken if abs(at - each.travel.value) < APART), None)
            if near is not None:
                what = "the reference pose" if near == 0 else f"the reading at {near:g} mm"
                text = f"{key} was read within {APART:g} mm of {what}; read further away, or keep one of them."
                yield Problem(("readings", index, "travel"), text)
            taken.append(each.travel.value)

    def _bends(self, told: dict[str, int]) -> dict[str, Angle | Length]:
        """The band of what nobody read between and beyond so many readings of each key, unless it is given.

        told : of each key how often it was read, 0 of an assumed rate
        """
        found = {}
        for key, count in told.items():
            if f"{key}_bend" not in self.model_fields_set:
                row = typical_values()[f"suspension.{key}_bend{(UNREAD, '')[count] if count < 2 else MORE}"]
                kind = type(getattr(self, f"{key}_bend"))
                found[f"{key}_bend"] = kind(row.value, row.tolerance, stated=True, assumed=count < 2)
        return found

    def _with_misfit(self) -> tuple[TravelReadingPart, ...]:
        """The readings, each off by at least as much as it lies off the parabola nearest to all."""
        readings = list(self.readings)
        for key in READ:
            mine = [index for index, each in enumerate(readings) if getattr(each, key) is not None]
            zero = self.camber.value if key == "camber" else 0.0
            points = [(readings[i].travel.value, getattr(readings[i], key).value - zero) for i in mine]
            for index, off in zip(mine, off_parabola(points) if points else (), strict=True):
                value = getattr(readings[index], key)
                if round(abs(off), 2) > value.tolerance:
                    wider = replace(value, tolerance=round(abs(off), 2), stated=True)
                    readings[index] = readings[index].model_copy(update={key: wider})
        return tuple(readings)


Suspension = Annotated[
    WishboneSuspensionPart
    | FiveLinkSuspensionPart
    | StrutSuspensionPart
    | SolidAxleSuspensionPart
    | TapeSuspensionPart,
    Field(discriminator="kind"),
]
