"""Readings that are possible but unlikely: said, never refused."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from fitment.frames import Array
from fitment.parts.tire import overall_diameter
from fitment.parts.travel_curve import off_parabola
from fitment.parts.wheel import parse_wheel
from fitment.profile.schema.axle import AxlePart
from fitment.profile.schema.builds import CornerPart
from fitment.profile.schema.obstacles import EdgePart, RingPart, SolidPart
from fitment.profile.schema.suspension import RATES, SuspensionPart, TapeSuspensionPart
from fitment.profile.values import ClockPoint, Point, SquarePoint

LEAST_OF_CURVE = 5  # points, below which nobody can tell which of them is off
OFF_CURVE, SCATTER = 5.0, 5.0  # [-], [mm] scatter that a tape has anyway; common practice, no published source
OVER_TIRE = 300.0  # [mm] of a lip over the tire; common practice, no published source: a hub height and a usual gap
AHEAD_UNREAD = 13.0  # [mm] the most of six published sets (Project Chrono) over 80 mm up and down, tests
# Signs that are likely swapped; common practice, no published source.
LEANS_OUT = 3.0  # [deg] of camber at the reference pose
NET_GAIN, GAIN = 1.5, 2.5  # [deg] of camber in 100 mm, from droop to bump and from the reference pose to bump
ACROSS = (60.0, 250.0, 150.0)  # [mm] an edge that runs across: spread of x, its greatest |x|, least |y| either way
PRACTICE = "common practice, no published source"
INCHES = 'inches? write them with their unit, such as "3 in"'


def cautions_of(axle: AxlePart, setup: CornerPart | None, baseline: CornerPart | None, *, is_front: bool) -> list[str]:
    """Cautions about one axle in one build; `baseline` is what was bolted on when it was measured."""
    return [*doubts_of(axle, baseline, is_front=is_front), *_motion(axle), *_bolted(setup)]


def doubts_of(axle: AxlePart, baseline: CornerPart | None, *, is_front: bool) -> list[str]:
    """Of the cautions those that belong beside a verdict: a reading is likely a slip, or is lacking."""
    return [
        *_steering(axle, is_front=is_front), *_heights(axle, baseline), *_camber(axle.suspension), *_places(axle),
        *_lips(axle, baseline), *_round_the_wheel(axle),
    ]  # fmt: skip


def _steering(axle: AxlePart, *, is_front: bool) -> Iterator[str]:
    if axle.steering is None and (is_front or getattr(axle.suspension, "steering_axis", None) is not None):
        yield (
            "no steering is given, so the wheel was looked at straight ahead only; give lock_left and lock_right under "
            "steering, as read or assumed"
        )


def _heights(axle: AxlePart, baseline: Any) -> Iterator[str]:
    droop, bump = axle.travel.droop.value, axle.travel.bump.value
    if bump - droop < 25:
        yield f"travel of {bump - droop:g} mm in all is very short; {INCHES}"
    rides = {name: height.value for name, height in axle.ride_heights.items()}
    for name, height in rides.items():
        if not droop <= height <= bump:
            yield f"ride height {name} ({height:g} mm) lies outside the travel ({droop:g} to {bump:g} mm)"
    if baseline is not None and baseline.tire is not None:
        free, height = overall_diameter(baseline.tire.record()) / 2, axle.hub_height.value
        pressed = free - _loaded_radius(axle, baseline)
        if pressed < 0:
            yield (
                f"hub_height {height:g} mm is too high for the baseline's tire, which has {free:.1f} mm from centre to "
                "tread; measure the height again with that tire on the ground"
            )
        elif pressed > 0.15 * free:
            yield (
                f"with hub_height {height:g} mm the baseline's tire is pressed in by {pressed:.0f} mm (without load it "
                f"has {free:.0f} mm from centre to tread); was this tire on, and was it inflated?"
            )
    if isinstance(axle.hub_face_at, tuple):
        there, half = axle.hub_face_at[1].value, axle.hub_face_width.value / 2
        if abs(there - half) > 5:
            yield f"hub_face_at has y = {there:g} mm, hub_face_width / 2 is {half:g} mm; hub_face_at is used"


def _loaded_radius(axle: AxlePart, setup: Any) -> float:
    """Of the tire that stands under the hub at `hub_height`, its camber counted as in `wheel_position.pressed_in`
    [mm].
    """
    offset = 0.0 if setup.wheel is None else setup.wheel.record().offset
    centre = (0.0 if setup.spacer is None else setup.spacer.thickness.value) - offset
    camber = math.radians(axle.suspension.camber.value)
    return float((axle.hub_height.value - centre * math.sin(camber)) / math.cos(camber))


def _camber(suspension: SuspensionPart) -> Iterator[str]:
    """Camber that leans out far, or grows in bump, where its sign or that of the travel is likely swapped.

    A strut whose arm rises outboard, as it does when lowered far, leans out in bump, but by less than the limits.
    """
    camber = suspension.camber
    if camber.value > LEANS_OUT and not camber.assumed:
        yield (
            f"camber {camber.value:+g} deg: the top leans out; was the sign swapped? Top in is negative (told from "
            f"{LEANS_OUT:+g} deg on: {PRACTICE})"
        )
    if not isinstance(suspension, TapeSuspensionPart):
        return
    rate = suspension.camber_per_100mm
    points = [(travel.value, value.value) for travel, value in suspension.read("camber")]
    if not points and not rate.assumed:
        points = [(100.0, camber.value + rate.value)]
    here = (0.0, camber.value)
    (low, below), (high, above) = min([here, *points]), max([here, *points])
    for begin, start, limit in ((low, below, NET_GAIN), (*here, GAIN)):
        if begin < high and (begin < 0 or limit == GAIN) and above - start > max(1.0, limit * (high - begin) / 100):
            yield (
                f"camber grows by {above - start:.1f} deg between {begin:.0f} and {high:.0f} mm of travel, so the top "
                "leans outward as the wheel goes up; was the sign of camber swapped, or of travel? Top in is negative, "
                f"bump positive (told from {limit:g} deg in {{100 mm|4 in}} on: {PRACTICE})"
            )
            return


def _motion(axle: AxlePart) -> Iterator[str]:
    suspension = axle.suspension
    if isinstance(suspension, TapeSuspensionPart):
        yield from _read_through_travel(suspension, axle.travel.droop.value, axle.travel.bump.value)
        if axle.adjusters:
            yield "adjusters are not used: kind tape has no points that they could move"
    if axle.steer_limit and all(share < 1 for _, share in axle.steer_limit):
        most = max(share for _, share in axle.steer_limit)
        yield (
            f"steer_limit allows at most {100 * most:g} % of the lock angle at every travel. If full lock can be used "
            "lower down, begin the list with the highest travel at which it can, and share 1: the first share also "
            "holds at all travels below it"
        )


def _read_through_travel(tape: TapeSuspensionPart, droop: float, bump: float) -> Iterator[str]:
    """What the readings of a tape-measured suspension leave open."""
    if not tape.read("ahead") and "ahead_bend" not in tape.model_fields_set:
        yield (
            "no reading tells ahead, so the program assumes that the wheel moves neither ahead nor back through "
            f"travel; published suspensions move up to {AHEAD_UNREAD:g} mm at 80 mm. Read it in bump and in droop "
            "(readings: ahead)"
        )
    for key, rate in RATES.items():
        if getattr(tape, rate).assumed:
            continue  # listed with what is assumed, with its band and the bend's
        what, unit, doubtful = ("camber", "deg", 0.5) if key == "camber" else ("track", "mm", 4.0)
        read, bend = tape.read(key), getattr(tape, f"{key}_bend")
        at = [travel.value for travel, _ in read] or [100.0] * (rate in tape.model_fields_set)
        if not at:
            missing = f"no reading tells {key}" if tape.readings else f"{rate} is not given"
            yield f"{missing}, so the program assumes that {what} stays the same through travel"
        elif len(at) == 1 and bend.assumed:
            end, open_by = max(
                ((end, abs(bend.tolerance * end * (end - at[0])) / 100**2) for end in (droop, bump)), key=lambda e: e[1]
            )
            yield (
                f"{what} through travel was read at one travel only, so a straight line is taken. It may bend: "
                f"{open_by:.{0 if unit == 'mm' else 1}f} {unit} at travel {end:+.0f} mm counts in the worst case. Read "
                "it in bump and in droop (readings)"
            )
        elif len(at) > 1 and min(at) * max(at) > 0:
            side, other = ("bump", "droop") if at[0] > 0 else ("droop", "bump")
            yield f"{what} was read in {side} only, and the curve goes on from there; read it in {other} too"
        zero = tape.camber.value if key == "camber" else 0.0
        points = [(travel.value, value.value - zero) for travel, value in read]
        off = max(zip(map(abs, off_parabola(points)), at, strict=True), default=(0.0, 0.0)) if points else (0.0, 0.0)
        if off[0] > doubtful:
            yield (
                f"{key} at travel {off[1]:+g} mm lies {off[0]:.1f} {unit} off the parabola of all readings; read it "
                f"again (told from {doubtful:g} {unit} on)"
            )


def _places(axle: AxlePart) -> Iterator[str]:
    for obstacle in axle.obstacles:
        if not isinstance(obstacle, SolidPart):
            continue
        points = [point for _, point in obstacle.points_at() if isinstance(point, tuple)]
        if not points:
            continue
        if all(abs(coordinate.value) < 60 for point in points for coordinate in point):
            yield f"{obstacle.name}: no coordinate is larger than 60 mm; {INCHES}"
        elif (
            obstacle.measured_from == "centre_plane"
            and obstacle.measured_gap is None
            and all(abs(y.value) < 150 for _, y, _ in points)
        ):
            yield (
                f"{obstacle.name}: every point lies within 150 mm of the vehicle's centre plane; if y was counted "
                "from the hub face, say measured_from: hub_face"
            )


def _lips(axle: AxlePart, baseline: CornerPart | None) -> Iterator[str]:
    """Edges measured from the hub face that run across it, as one does whose x and y are swapped, or that stand so far
    above the baseline's tire, outboard of the hub face, that z may count from the ground.
    """
    free = math.inf if baseline is None or baseline.tire is None else overall_diameter(baseline.tire.record()) / 2
    for obstacle in axle.obstacles:
        if not isinstance(obstacle, EdgePart) or obstacle.measured_from != "hub_face":
            continue
        points = [point for _, point in obstacle.points_at() if isinstance(point, tuple)]
        if not points:
            continue
        (x, y, z) = ([each.value for each in along] for along in zip(*points, strict=True))
        if max(x) - min(x) < ACROSS[0] and max(map(abs, x)) < ACROSS[1] and min(-min(y), max(y)) > ACROSS[2]:
            yield (
                f"{obstacle.name}: it runs from {-min(y):.0f} mm inboard of the hub face to {max(y):.0f} mm outboard "
                "of it, across the wheel; were x and y swapped? x is forward, y outboard (told from "
                f"{ACROSS[2]:g} mm either way: {PRACTICE})"
            )
        above = max(z) - free
        if above > OVER_TIRE and min(y) > 0:
            yield (
                f"{obstacle.name}: it stands {above:.0f} mm above the baseline's tire; if z was counted from the "
                f"ground, take hub_height off, or write above_ground (told from {OVER_TIRE:g} mm on)"
            )


# ---------------------------------------------------------------- points round the wheel


def _round_the_wheel(axle: AxlePart) -> Iterator[str]:
    """Angles that may be o'clock, that go back and forth, or a point that the others do not lead to."""
    for name, bare in _bare_clocks(axle):
        if bare and all(_may_be_oclock(value) for value in bare):
            hours = f"{int(bare[0])}:{'30' if bare[0] % 1 else '00'}"
            yield (
                f"{name}: clock {bare[0]:g} is taken as {bare[0]:g} degrees (0 = forward, 90 = up); if it was "
                f"read as o'clock, write {hours}"
            )
    for obstacle in axle.obstacles:
        if not isinstance(obstacle, SolidPart):
            continue
        points = [point for _, point in obstacle.points_at()]
        clocked = [point for point in points if isinstance(point, ClockPoint)]
        if isinstance(obstacle, EdgePart) and len(clocked) == len(points):
            angles = [point.clock.value for point in clocked]
            back = _turns_back(angles)
            if back is not None and not all(map(_may_be_oclock, angles)):
                yield (
                    f"{obstacle.name}: its angles go back and forth at points[{back}]; put the points in order, and "
                    "check which angles are degrees (0 = forward, 90 = up) and which o'clock"
                )
        if isinstance(obstacle, EdgePart):
            yield from _off_curve(obstacle.name, points, axle.hub_height.value)


def _bare_clocks(axle: AxlePart) -> Iterator[tuple[str, list[float]]]:
    """Every part with the angles about the hub that are bare numbers [deg]; a joint goes with the other joints."""
    for obstacle in axle.obstacles:
        if isinstance(obstacle, RingPart):
            yield obstacle.name, [end.value for end in obstacle.clock]
        else:
            yield obstacle.name, _bare([point for _, point in obstacle.points_at()])
    if axle.brake is not None and axle.brake.caliper is not None:
        yield "caliper", [end.value for end in axle.brake.caliper.clock]
    for low in axle.low_points:
        yield low.name, _bare([low.at])
    suspension = axle.suspension
    given = getattr(suspension, "points", None)
    joints = [getattr(given, name) for name in suspension.point_names()]
    axis = getattr(suspension, "steering_axis", None)
    yield "suspension", _bare(joints + ([axis.lower, axis.upper] if axis else []))


def _bare(points: Sequence[Point | None]) -> list[float]:
    return [point.clock.value for point in points if isinstance(point, ClockPoint) and not point.as_time]


def _may_be_oclock(angle: float) -> bool:
    return 1 <= angle <= 12 and (2 * angle).is_integer()


def _turns_back(angles: Sequence[float]) -> int | None:
    """Index of the first point from which the angles [deg] go the other way than before."""
    steps = [(b - a + 180) % 360 - 180 for a, b in pairwise(angles)]
    return next((i for i in range(1, len(steps)) if steps[i] * steps[i - 1] < 0), None)


def _off_curve(name: str, points: Sequence[Point], hub_height: float) -> Iterator[str]:
    """The point of an edge round the wheel that lies furthest off the curve of the others, if it lies far off.

    The curve is a parabola over the angle through the other points, for radius and for out apart. Far is OFF_CURVE
    times as far as what they scatter about it (at least SCATTER) lets expect of one more point. Derived here.
    """
    forms = {(type(point), getattr(point, "keys", ())) for point in points}
    if len(points) < LEAST_OF_CURVE or len(forms) > 1:
        return
    angles, radius, out = np.array([_seen_from_outside(point, hub_height) for point in points]).T
    turned = np.unwrap(angles, period=360.0)
    if radius.min() < 100 or not (np.all(np.diff(turned) > 1) or np.all(np.diff(turned) < -1)):
        return
    t = (turned - turned.mean()) / 90
    worst = max((*_furthest(t, values), what) for values, what in ((radius, "radius"), (out, "out")))
    far, index, off, what = worst
    if far > OFF_CURVE:
        yield (
            f"{name}: points[{index}] lies {abs(off):.0f} mm off the curve of the others in its {what}; check its "
            f"readings (told from {OFF_CURVE:g} times what the others scatter on)"
        )


def _seen_from_outside(point: Point, hub_height: float) -> tuple[float, float, float]:
    """Angle [deg] and distance from the hub centre in the side view, and y or out [mm]."""
    if isinstance(point, ClockPoint):
        return point.clock.value, point.radius.value, point.out.value
    if isinstance(point, SquarePoint):
        x, y, z = point.ahead.value, point.out.value, point.height.value - (0.0 if point.up else hub_height)
    else:
        x, y, z = (coordinate.value for coordinate in point)
    return math.degrees(math.atan2(z, x)), math.hypot(x, z), y


def _furthest(t: Array, values: Array) -> tuple[float, int, float]:
    """Of the point that lies furthest off a parabola through the others: how many times too far, its index, by what."""
    furthest = (0.0, 0, 0.0)
    for i in range(len(t)):
        rest = np.arange(len(t)) != i
        curve, here = np.vander(t[rest], 3), np.vander(t[i : i + 1], 3)[0]
        factors = np.linalg.lstsq(curve, values[rest], rcond=None)[0]
        scatter = math.sqrt(float(np.sum((values[rest] - curve @ factors) ** 2)) / (len(t) - 4))
        expected = max(SCATTER, scatter) * math.sqrt(1 + float(here @ np.linalg.inv(curve.T @ curve) @ here))
        off = float(values[i] - here @ factors)
        furthest = max(furthest, (abs(off) / expected, i, off))
    return furthest


def _bolted(setup: CornerPart | None) -> Iterator[str]:
    if setup is None or setup.wheel is None:
        return
    wheel = setup.wheel.record()
    said = parse_wheel(setup.wheel.spec, overall_width=wheel.overall_width).offset
    if abs(said - wheel.offset) > 1:
        yield f"the wheel's offset is given twice: offset {wheel.offset:g} mm is used, the spec says {said:g} mm"
    if setup.tire is not None and setup.tire.record().rim_code != wheel.rim_diameter:
        tire = setup.tire.record()
        yield f"tire {tire.code} is for a {tire.rim_code:g} in rim, wheel {wheel.spec} is {wheel.rim_diameter:g} in"
