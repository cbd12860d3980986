"""The parts of a checked profile as the frozen records of the trade modules, in body coordinates."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Any, cast

import numpy as np

from fitment.parts import axle
from fitment.parts.brake import Brake, Caliper, Rotor
from fitment.parts.hub import Adapter, BoltCircle, Hub, Register, Seat
from fitment.parts.obstacles import USUAL_TOLERANCE, MeasuredGap, Obstacle
from fitment.parts.obstacles import Point as BodyPoint
from fitment.parts.rework import Cut, End, Rework
from fitment.parts.service import Compliance, Service
from fitment.parts.tables import service_figures
from fitment.profile.datum import Datum
from fitment.profile.measured import measured_values
from fitment.profile.schema.axle import AdjusterPart, LowPointPart
from fitment.profile.schema.builds import SpacerPart
from fitment.profile.schema.hub_and_brake import BrakePart, HubPart, RegisterPart
from fitment.profile.schema.obstacles import EdgePart, MovePart, PanelPart, RingPart, RodPart
from fitment.profile.schema.scans import ScanPart
from fitment.profile.schema.service import NONE, USUAL, PlayPart, ServicePart
from fitment.profile.schema.suspension import (
    LINK_POINTS,
    RATES,
    AxleLinksPart,
    SolidAxleSuspensionPart,
    SteeringAxis,
    TapeSuspensionPart,
)
from fitment.profile.values import Angle, ClockPoint, Point
from fitment.units import Measured

APART = 0.01  # [mm] below which two places are one
AXIS_UP = 150.0  # [mm] from the hub's centre up and down to the two points of an axis that is given by its angles


def _axis(part: SteeringAxis | None, datum: Datum, hub_face: BodyPoint) -> tuple[BodyPoint, BodyPoint] | None:
    """Lower and upper point of a steering axis, body frame [mm]; hub_face : from which its offset is counted."""
    if part is None:
        return None
    if part.lower is not None and part.upper is not None:
        return datum.place(part.lower), datum.place(part.upper)
    assert part.kingpin_inclination is not None
    assert part.caster is not None
    assert part.offset is not None
    x, y, z = hub_face[0] + part.ahead.value, hub_face[1] - part.offset.value, hub_face[2]
    back, inboard = (AXIS_UP * np.tan(np.radians(angle.value)) for angle in (part.caster, part.kingpin_inclination))
    return (x + back, y + inboard, z - AXIS_UP), (x - back, y - inboard, z + AXIS_UP)


def _tape(part: TapeSuspensionPart, datum: Datum, hub_face: BodyPoint) -> axle.Suspension:
    axis = _axis(part.steering_axis, datum, hub_face)
    return axle.TapeSuspension(
        camber=part.camber.value,
        toe_in=part.toe_in.value,
        camber_per_100mm=part.camber_per_100mm.value,
        track_per_100mm=part.track_per_100mm.value,
        axis_lower=axis[0] if axis else None,
        axis_upper=axis[1] if axis else None,
        camber_curve=_curve(part, "camber", part.camber.value),
        out_curve=_curve(part, "out"),
        ahead_curve=_curve(part, "ahead"),
    )


def _curve(part: TapeSuspensionPart, key: str, at_reference: float = 0.0) -> axle.TravelCurve:
    """What was read under a key, less what it is at the reference pose; a rate is a line read at 100 mm.

    An assumed rate was read nowhere: it is one over as much bump as droop, as the table's are.
    """
    bend = getattr(part, f"{key}_bend").value
    if part.readings:
        points = tuple((travel.value, value.value - at_reference) for travel, value in part.read(key))
        return axle.TravelCurve(points, bend if points else 0.0)
    assumed = key in RATES and getattr(part, RATES[key]).assumed
    return axle.TravelCurve(() if assumed or not bend else ((100.0, 0.0),), bend)


def _links(part: Any, datum: Datum, _hub_face: BodyPoint) -> axle.Suspension:
    points = ((name, datum.place(getattr(part.points, name))) for name in part.point_names())
    stroke = getattr(part, "stroke", None)
    return axle.LinkSuspension(
        part.kind,
        part.camber.value,
        part.toe_in.value,
        tuple(points),
        stroke=(stroke.compression.value, stroke.extension.value) if stroke else None,
    )


def _solid_axle(part: SolidAxleSuspensionPart, datum: Datum, hub_face: BodyPoint) -> axle.Suspension:
    axis = _axis(part.steering_axis, datum, hub_face)
    points = {name: datum.place(getattr(part.points, name)) for name in part.point_names()}
    links = part.links or AxleLinksPart.model_construct()
    known = ((name, getattr(links, name)) for name in LINK_POINTS)
    return axle.SolidAxle(
        camber=part.camber.value,
        toe_in=part.toe_in.value,
        panhard_body=points.get("panhard_body"),
        panhard_axle=points.get("panhard_axle"),
        axis_lower=axis[0] if axis else points.get("lower_ball"),
        axis_upper=axis[1] if axis else points.get("upper_ball"),
        links=tuple((name, datum.place(point)) for name, point in known if point is not None),
        ahead_per_100mm=links.ahead_per_100mm.value,
        ahead_bend=links.ahead_bend.value,
        caster_per_100mm=links.caster_per_100mm.value,
    )


# one function for each kind whose motion is computed: (its model, datum, hub face of its axis) -> the record that moves
SUSPENSIONS: dict[str, Callable[[Any, Datum, BodyPoint], axle.Suspension]] = {
    "tape": _tape,
    "double_wishbone": _links,
    "five_link": _links,
    "strut": _links,
    "solid_axle": _solid_axle,
}


def adjuster(part: AdjusterPart) -> axle.Adjuster:
    return axle.Adjuster(
        name=part.name,
        moves=part.moves,
        out=tuple(setting.value for setting in part.out),
        forward=tuple(setting.value for setting in part.forward),
        eccentric=_value(part.eccentric),
        step=_value(part.step),
        now=tuple(angle.value for angle in part.now),
        length=(part.length[0].value, part.length[1].value) if part.length else None,
    )


def _value(measured: Measured | None) -> float | None:
    return None if measured is None else measured.value


def _outline(points: Any) -> tuple[tuple[float, float], ...]:
    return tuple((y.value, r.value) for y, r in points)


def _circle(given: tuple[int, float] | None) -> BoltCircle | None:
    return BoltCircle(*given) if given else None


def hub(part: HubPart) -> Hub:
    def register(each: RegisterPart | None) -> Register | None:
        return Register(each.diameter.value, _value(each.length)) if each else None

    return Hub(
        bolt_circle=_circle(part.bolt_circle),
        stud=part.stud,
        stud_length=_value(part.stud_length),
        wheel_register=register(part.wheel_register),
        rotor_register=register(part.rotor_register),
        nut=part.nut,
        nut_seat=cast(Seat | None, part.nut_seat),
    )


def _clock(pair: tuple[Angle, Angle]) -> tuple[float, float]:
    return pair[0].value, pair[1].value


def brake(part: BrakePart) -> Brake:
    rotor, caliper = part.rotor, part.caliper
    return Brake(
        rotor=Rotor(
            diameter=_value(rotor.diameter),
            bore=_value(rotor.bore),
            hat_thickness=_value(rotor.hat_thickness),
            mass=rotor.mass,
            outline=_outline(rotor.outline),
            stud_hole=_value(rotor.stud_hole),
        )
        if rotor
        else None,
        caliper=Caliper(_outline(caliper.outline), _clock(caliper.clock), caliper.mass) if caliper else None,
    )


def states_tolerance(part: Any) -> bool:
    """Whether a part says how far it may be off, 0 included: itself, or a reading that places it."""
    return part.tolerance is not None or any(
        reading.stated for path, reading in measured_values(part, "") if path != "radius"
    )


def obstacles(part: Any, datum: Datum, as_read: tuple[Any, Datum]) -> tuple[Obstacle, ...]:
    """What a part of the profile comes to: one obstacle, or of a scan one for each zone. Raises ScanError.

    as_read : part and datum with no reading moved
    """
    one = obstacle(part, datum)
    if not isinstance(part, ScanPart):
        return (one,)
    from fitment.profile.scan_parts import obstacles_of  # what a scan takes is loaded where there is one

    return obstacles_of(part, one, datum, as_read)


def names_of(part: Any) -> tuple[str, ...]:
    """The names that its obstacles may have."""
    return part.names if isinstance(part, ScanPart) else (part.name,)


def _tolerance(part: Any) -> float:
    if isinstance(part, ScanPart):
        from fitment.profile.scan_parts import stated_tolerance

        return stated_tolerance(part)
    return part.tolerance.value if part.tolerance else 0.0 if states_tolerance(part) else USUAL_TOLERANCE


def obstacle(part: Any, datum: Datum) -> Obstacle:
    """A part by itself; of a scan without its triangles."""
    common = Obstacle(
        name=part.name,
        shape=part.shape,
        fixed_to=(part.fixed_to or ("knuckle" if part.shape == "ring" else "body"),),
        allowance=_value(part.allowance),
        tolerance=_tolerance(part),
        meets=("tire", "wheel") if part.meets == "both" else (part.meets,),
        side=part.side,
        rework=_rework(part),
    )
    if isinstance(part, RingPart):
        return replace(common, outline=_outline(part.outline), clock=_clock(part.clock))
    if isinstance(part, ScanPart):
        return common
    place = partial(datum.place, from_hub_face=part.measured_from == "hub_face")
    gap = part.measured_gap
    carriers = common.fixed_to
    if isinstance(part, RodPart):
        carriers = tuple(end.fixed_to or carriers[0] for end in (part.start, part.to))
    return replace(
        common,
        points=_completed(part, tuple(place(point) for _, point in part.points_at())),
        columns=part.columns if isinstance(part, PanelPart) else 0,
        fixed_to=carriers,
        radius=part.radius.value,
        smooth=isinstance(part, EdgePart) and part.smooth,
        cover=part.cover if isinstance(part, EdgePart) else None,
        solid_behind=isinstance(part, PanelPart) and part.solid == "behind",
        measured_gap=MeasuredGap(gap.to, gap.gap.value, _value(gap.at.travel), gap.at.lock, gap.along) if gap else None,
    )


def _rework(part: Any) -> Rework | None:
    """What a build does to a part; its cuts in the order of the panel's ends."""
    if part.move is None and part.trim is None:
        return None
    move, trim = part.move or MovePart.model_construct(), part.trim
    ends: tuple[tuple[End | None, float | None], ...] = (
        () if trim is None else ((None, trim.by), ("first", trim.first_row), ("last", trim.last_row))
    )
    cuts = tuple(Cut(end, by) for end, by in ends if by is not None)
    return Rework(move.out, move.ahead, move.up, move.away, cuts)


def _completed(part: Any, points: tuple[BodyPoint, ...]) -> tuple[BodyPoint, ...]:
    """The points, of three corners of a flat panel as two rows with the fourth that completes the parallelogram."""
    if not (isinstance(part, PanelPart) and part.corners):
        return points
    first, between, last = points
    fourth = tuple(round(a + c - b, 9) for a, b, c in zip(first, between, last, strict=True))
    return first, between, cast(BodyPoint, fourth), last


def source(part: Any) -> str:
    """From which reading an obstacle came, in words."""
    if isinstance(part, RingPart):
        return "an outline in the hub's own frame"
    if isinstance(part, ScanPart):
        return f"a scan ({part.file})"
    if part.measured_gap is not None:
        gap, settled = part.measured_gap, {"out": "y", "ahead": "x", "up": "z", "radial": "radius"}
        at = "" if gap.at.lock == "straight" else f" at {gap.at.lock} lock"
        at += "" if gap.at.travel is None else f" at travel {gap.at.travel.value:g} mm"
        edge = {"rim_plane": "rim edge", "tire_plane": "tire's sidewall"}.get(gap.to, gap.to)
        return f"points, their {settled[gap.along]} from the gap measured to the baseline's {edge}{at}"
    points = [point for _, point in part.points_at()]
    plane = f", y from the {'hub face' if part.measured_from == 'hub_face' else 'centre plane'}"
    by_clock = " by clock and radius", " about the hub centre, outboard of the hub face"
    along, above = ((f" by ahead, {up} and out", " from the hub face's centre") for up in ("up", "height above ground"))
    ways = [(plane, ""), by_clock, along, above]
    kinds = sorted({_way(point) for point in points})
    first, *others = (ways[kind] for kind in kinds)
    return f"points{first[0]}{'' if others else first[1]}{''.join(f', some{short}' for short, _ in others)}"


def _way(point: Point) -> int:
    """How a point was read: 0 = coordinates, 1 = clock and radius, 2 = along the axes, 3 = so, from the ground."""
    if isinstance(point, tuple):
        return 0
    return 1 if isinstance(point, ClockPoint) else 2 if point.up else 3


def no_extent(obstacle: Obstacle) -> str:
    """What is wrong with a part whose points coincide, or an empty text."""
    points = np.array(obstacle.points, dtype=float).reshape(-1, 3)
    if obstacle.shape == "panel":
        spread = np.linalg.svd(points - points.mean(axis=0), compute_uv=False)
        if spread[1] < APART:
            return "all points of the panel lie on one line, so it has no surface; measure more, or use shape: edge."
    elif len(points) > 1 and np.linalg.norm(np.diff(points, axis=0), axis=1).min() < APART:
        return "two neighbouring points are the same place; remove one of them."
    return ""


def low_point(part: LowPointPart, datum: Datum) -> axle.LowPoint:
    return axle.LowPoint(part.name, part.fixed_to or "body", datum.place(part.at), _height_tolerance(part.at))


BY_RULE = ("growth", "bulge")  # whose starting figure depends on the tire


def service(part: ServicePart) -> Service:
    """What is counted in service, starting figures looked up where `usual` stands."""
    usual: list[str] = []

    def figures(given: ServicePart | PlayPart, path: str = "") -> dict[str, Any]:
        stated = {key: value for key, value in given if value not in (None, NONE) and not isinstance(value, PlayPart)}
        for key, value in stated.items():
            if value == USUAL:
                usual.append(f"{path}{key}")
                stated[key] = USUAL if key in BY_RULE else service_figures()[f"{path}{key}"].value
        return stated

    own = figures(part)
    play = Compliance(**figures(part.play, "play.")) if part.play else None
    return Service(**own, play=None if play == Compliance() else play, usual=tuple(usual))


def _height_tolerance(point: Point) -> float:
    """Tolerance of a point's height [mm]."""
    if isinstance(point, tuple):
        return point[2].tolerance
    return (point.radius if isinstance(point, ClockPoint) else point.height).tolerance


def spacer(part: SpacerPart | None) -> axle.Spacer:
    if part is None:
        return axle.Spacer()
    adapter = Adapter(
        bolt_circle=_circle(part.bolt_circle),
        stud=part.stud,
        stud_length=_value(part.stud_length),
        register=_value(part.register_diameter),
        register_length=_value(part.register_length),
        nut=part.nut,
        nut_seat=cast(Seat | None, part.nut_seat),
        hub_circle=_circle(part.hub_circle),
        bore=_value(part.bore),
        seat_thickness=_value(part.seat_thickness),
    )
    return axle.Spacer(part.thickness.value, None if adapter == Adapter() else adapter, part.mass)
