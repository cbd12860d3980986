"""The parts of a checked profile as the frozen records of the trade modules, in body coordinates."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Any, cast

import numpy as np

from fitment.frames import hub_rotation, spin_axis
from fitment.parts import axle
from fitment.parts.brake import Brake, Caliper, Rotor
from fitment.parts.hub import Adapter, BoltCircle, Hub, Register, Seat
from fitment.parts.obstacles import USUAL_TOLERANCE, MeasuredGap, Obstacle
from fitment.parts.obstacles import Point as BodyPoint
from fitment.profile.measured import measured_values
from fitment.profile.schema.axle import AdjusterPart, AxlePart, LowPointPart
from fitment.profile.schema.builds import SpacerPart
from fitment.profile.schema.hub_and_brake import BrakePart, HubPart, RegisterPart
from fitment.profile.schema.obstacles import EdgePart, PanelPart, RingPart, RodPart
from fitment.profile.schema.suspension import SolidAxleSuspensionPart, SteeringAxis, TapeSuspensionPart
from fitment.profile.values import Angle, ClockPoint, Point
from fitment.units import Measured

APART = 0.01  # [mm] below which two places are one
AXIS_UP = 150.0  # [mm] from the hub's centre up and down to the two points of an axis that is given by its angles


@dataclass(frozen=True)
class Datum:
    """The baseline's hub face, from which the body was measured.

    centre : body frame [mm]
    rotation : hub to body, at the baseline's reference camber and toe
    """

    centre: BodyPoint
    rotation: Any

    def place(self, point: Point, *, from_hub_face: bool = False) -> BodyPoint:
        """A measured point in the body frame [mm]."""
        x0, y0, z0 = self.centre
        if not isinstance(point, ClockPoint):
            x, y, z = (coordinate.value for coordinate in point)
            return x, y + (y0 if from_hub_face else 0.0), z
        angle = np.radians(point.clock.value)
        offset = np.array([point.radius.value * np.cos(angle), point.out.value, point.radius.value * np.sin(angle)])
        dx, dy, dz = self.rotation @ offset if point.to_hub else offset
        return tuple(round(float(value), 9) for value in (x0 + dx, y0 + dy, z0 + dz))  # type: ignore[return-value]


def hub_face_at(part: AxlePart) -> BodyPoint:
    if isinstance(part.hub_face_at, tuple):
        x, y, z = (coordinate.value for coordinate in part.hub_face_at)
        return x, y, z
    return 0.0, part.hub_face_width.value / 2, 0.0


def datum_of(baseline: AxlePart) -> Datum:
    suspension = baseline.suspension
    axis = spin_axis(suspension.camber.value, -suspension.toe_in.value)
    return Datum(hub_face_at(baseline), hub_rotation(axis))


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
    )


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
    return axle.SolidAxle(
        camber=part.camber.value,
        toe_in=part.toe_in.value,
        panhard_body=points.get("panhard_body"),
        panhard_axle=points.get("panhard_axle"),
        axis_lower=axis[0] if axis else points.get("lower_ball"),
        axis_upper=axis[1] if axis else points.get("upper_ball"),
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


def obstacle(part: Any, datum: Datum) -> Obstacle:
    common = Obstacle(
        name=part.name,
        shape=part.shape,
        fixed_to=(part.fixed_to or ("knuckle" if part.shape == "ring" else "body"),),
        allowance=_value(part.allowance),
        tolerance=part.tolerance.value if part.tolerance else 0.0 if states_tolerance(part) else USUAL_TOLERANCE,
        meets=("tire", "wheel") if part.meets == "both" else (part.meets,),
        side=part.side,
    )
    if isinstance(part, RingPart):
        return replace(common, outline=_outline(part.outline), clock=_clock(part.clock))
    place = partial(datum.place, from_hub_face=part.measured_from == "hub_face")
    gap = part.measured_gap
    carriers = common.fixed_to
    if isinstance(part, RodPart):
        carriers = tuple(end.fixed_to or carriers[0] for end in (part.start, part.to))
    return replace(
        common,
        points=tuple(place(point) for _, point in part.points_at()),
        columns=len(part.rows[0]) if isinstance(part, PanelPart) else 0,
        fixed_to=carriers,
        radius=part.radius.value,
        smooth=isinstance(part, EdgePart) and part.smooth,
        cover=part.cover if isinstance(part, EdgePart) else None,
        solid_behind=isinstance(part, PanelPart) and part.solid == "behind",
        measured_gap=MeasuredGap(gap.to, gap.gap.value) if gap else None,
    )


def source(part: Any) -> str:
    """From which reading an obstacle came, in words."""
    if isinstance(part, RingPart):
        return "an outline in the hub's own frame"
    if part.measured_gap is not None:
        return f"points, their y from the gap measured to the baseline's {part.measured_gap.to}"
    points = [point for _, point in part.points_at()]
    taped = sum(isinstance(point, ClockPoint) for point in points)
    from_plane = f"points, y from the {'hub face' if part.measured_from == 'hub_face' else 'centre plane'}"
    from_hub = "points by clock and radius about the hub centre, outboard of the hub face"
    return from_hub if taped == len(points) else f"{from_plane}, some by clock and radius" if taped else from_plane


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


def _height_tolerance(point: Point) -> float:
    """Tolerance of a point's height [mm]."""
    return point.radius.tolerance if isinstance(point, ClockPoint) else point[2].tolerance


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
