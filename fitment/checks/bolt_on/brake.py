"""Caliper and rotor inside the wheel: against the barrel with its drop centre, the back of the spokes and the tire.

A wheel is slid on along the hub's axis, so whatever metal lies inboard of a part once the wheel is seated has passed
over that part: both places are judged, seated and on the way. A wheel that passes only when it is tilted or held off
the axis counts as one that does not pass.

The outlines are rings in the hub frame, so the clearance is the one that every other part of the vehicle gets. What a
spec does not tell, the inner shape of the wheel, is not checked, and the figures to ask the seller for are given.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np
import shapely
from shapely import Polygon

from fitment.checks.bolt_on.result import BoltOn, Check, Status, numbers, over
from fitment.checks.bolt_on.slide import SAME, Passing, from_face, measured_barrel, measured_to, passing, way_words
from fitment.clearance.trace import Trace, trace_obstacle
from fitment.motion.poses import Poses
from fitment.parts.axle import Axle, Setup
from fitment.parts.brake import Outline
from fitment.parts.obstacles import Obstacle
from fitment.parts.sections import (
    BARREL_THICKNESS,
    barrel_passed_over,
    barrel_section,
    disc_section,
    hub_pad,
    passed_over,
    tire_section,
)
from fitment.parts.tables import rim_contour_row, specified_rim_diameter
from fitment.parts.wheel import Wheel, edges

BRAKE_GAP = 3.0  # [mm] required between brake and wheel; common practice, no published source
HIGH = 30.0  # [mm] no drop centre hangs so far down that it meets a part lower than its top by this; assumption
PARTS = ("caliper", "rotor")
WEIGHTS = "balance weights over the caliper"


def _brake(axle: Axle, setup: Setup) -> Iterator[BoltOn]:
    outlines = _outlines(axle)
    caliper, rotor = outlines["caliper"], outlines["rotor"]
    answers = [*_part("caliper", caliper, setup)]
    yield from answers
    yield from _under_weights(axle, answers)
    told = {check.status for check in answers}
    if rotor and caliper and _within(rotor, caliper) and told <= {"ok", "not_checked"}:
        status: Status = "not_checked" if "not_checked" in told else "ok"
        words = "the rotor lies inside the caliper's outline, so what is said of the caliper holds for it"
        yield BoltOn("rotor in the wheel", status, words)
    elif rotor or (axle.brake is not None and axle.brake.rotor is not None):
        yield from _part("rotor", rotor, setup)


def _under_weights(axle: Axle, answers: Sequence[BoltOn]) -> Iterator[BoltOn]:
    """What balance weights stuck inside the barrel leave over the caliper, where the profile asks for them."""
    weights = axle.service.weights if axle.service else None
    if weights is None:
        return
    for check in (each for each in answers if each.item == "caliper in the barrel"):
        known = [value for name, value in check.numbers if name in ("gap_mm", "sliding_gap_mm")]
        if not known:
            yield BoltOn(WEIGHTS, "not_checked", "the gap between barrel and caliper is not known, see there")
            continue
        left = min(known) - weights
        figures = numbers(left_mm=left, weights_mm=weights)
        if left < 0:
            words = f"weights of {weights:g} mm stuck inside the barrel would meet the caliper: put them beside it"
            yield BoltOn(WEIGHTS, "caution", words, figures)
        else:
            words = f"{left:.1f} mm left under weights of {weights:g} mm stuck inside the barrel"
            yield BoltOn(WEIGHTS, "ok", words, figures)


def _outlines(axle: Axle) -> dict[str, Outline]:
    brake = axle.brake
    parts = (brake.caliper, brake.rotor) if brake else (None, None)
    return {name: part.outline if part else () for name, part in zip(PARTS, parts, strict=True)}


def _part(name: str, outline: Outline, setup: Setup) -> Iterator[BoltOn]:
    if outline:
        yield _in_barrel(name, outline, setup)
        yield from _by_tire(name, outline, setup)
        yield _behind_spokes(name, outline, setup)
    else:
        yield BoltOn(f"{name} in the wheel", "not_checked", f"the {name}'s outline is not in the profile")


# ---------------------------------------------------------------- barrel


def _in_barrel(name: str, outline: Outline, setup: Setup) -> BoltOn:
    item, wheel, spacer = f"{name} in the barrel", setup.wheel, setup.spacer.thickness
    top, clear = max(r for _, r in outline), wheel.barrel_clear_diameter
    if clear is None and not wheel.barrel_inside:
        return _in_unknown_barrel(item, outline, setup)
    words = (
        f"radius {top:g} mm in a clear diameter of {clear:g} mm"
        if clear
        else f"radius {top:g} mm in the barrel as measured"
    )
    barrel, passed = barrel_section(wheel, spacer), barrel_passed_over(wheel, spacer)
    if clear is not None or _measured_over(outline, wheel, spacer):
        return _passes(item, name, passing(barrel, passed, _trace(outline)), spacer, words)
    known = measured_barrel(wheel, spacer)
    answer = _passes(item, name, passing(known, passed_over(known), _trace(outline)), spacer, words)
    if answer.status != "ok":
        return answer
    words = (
        f"{answer.detail}; but part of the barrel that slides over the {name} was not measured. "
        f"Measure the barrel from the inner edge to {from_face(over(spacer, _high(outline, wheel, spacer).bounds[2]))}"
    )
    return BoltOn(item, "not_checked", words, answer.numbers)


def _in_unknown_barrel(item: str, outline: Outline, setup: Setup) -> BoltOn:
    """Nothing higher than the bead seats goes into a rim; of what is lower the barrel decides, which nobody knows."""
    seat, inner = specified_rim_diameter(setup.wheel.rim_diameter) / 2, edges(setup.wheel, setup.spacer.thickness)
    top = max(r for _, r in outline)
    if top < seat:
        return _ask_barrel(item, outline, setup, seat)
    within = _top_within(outline, inner[0])
    figures = numbers(radius_mm=top, radius_in_rim_mm=within, bead_seat_radius_mm=seat)
    if within >= seat:
        words = (
            f"too large for the rim: it reaches radius {within:g} mm inside the rim, where the rim's bead seat has "
            f"radius {seat:g} mm"
        )
        return BoltOn(item, "fail", words, figures)
    if within == 0:
        return _judged(item, inner[0] - max(y for y, _ in outline), "inboard of the rim's inner edge")
    words = (
        f"ask the seller for the barrel's clear diameter: at least {2 * (within + BRAKE_GAP):g} mm. Inside the rim the "
        f"part reaches radius {within:g} mm; what is higher stands inboard of the rim"
    )
    return BoltOn(item, "not_checked", words, figures)


def _top_within(outline: Outline, inner: float) -> float:
    """Largest radius [mm] that a part has outboard of the rim's inner edge, all of which the rim is slid over."""
    cut = shapely.intersection(_shape(outline), shapely.box(inner, 0.0, 2000.0, 2000.0))
    return 0.0 if cut.is_empty else float(cut.bounds[3])


def _measured_over(outline: Outline, wheel: Wheel, spacer: float) -> bool:
    """Whether the barrel is known from its inner edge to where the part last stands high."""
    high = _high(outline, wheel, spacer)
    return high.is_empty or measured_to(high.bounds[2], wheel, spacer)


def _high(outline: Outline, wheel: Wheel, spacer: float) -> shapely.Geometry:
    """What of a part stands so high within the rim that a drop centre could meet it."""
    (inner, outer), least = edges(wheel, spacer), max(r for _, r in outline) - HIGH
    return shapely.intersection(_shape(outline), shapely.box(inner, least, outer, 2000.0))


def _ask_barrel(item: str, outline: Outline, setup: Setup, seat: float) -> BoltOn:
    """The figures to ask for: the wheel slides over the part from its inner edge to where the part is highest."""
    top, wheel = max(r for _, r in outline), setup.wheel
    depth = over(setup.spacer.thickness, max(y for y, r in outline if r > top - 0.5))
    well, ask = rim_contour_row(wheel.rim_diameter, wheel.rim_width, wheel.flange).well_depth, 2 * (top + BRAKE_GAP)
    left = seat - well - BARREL_THICKNESS - top
    guess = f"{left:.0f} mm would be left" if left >= 0 else f"{-left:.0f} mm would be missing"
    standard = (
        f"A guess only: under a standard drop-centre well ({well:g} mm deep, {BARREL_THICKNESS:g} mm of metal assumed)"
    )
    return BoltOn(
        item, "not_checked",
        f"ask the seller for the barrel's clear diameter: at least {ask:g} mm from the inner edge to "
        f"{from_face(depth)}. {standard} {guess}",
        numbers(radius_mm=top, ask_clear_diameter_mm=ask, ask_depth_mm=depth, assumed_left_mm=left),
    )  # fmt: skip


# ---------------------------------------------------------------- tire


def _by_tire(name: str, outline: Outline, setup: Setup) -> Iterator[BoltOn]:
    """A part as high as the bead seats may reach into the tire; one that is lower has the rim between."""
    mounted = setup.tire.rim_code == setup.wheel.rim_diameter  # else the rim's own check fails
    if not mounted or not _high_as_seat(max(r for _, r in outline), setup.wheel):
        return
    tire, wheel, spacer = setup.tire, setup.wheel, setup.spacer.thickness
    nominal, largest = (tire_section(tire, wheel, spacer, largest=large) for large in (False, True))
    answer = _passes(
        f"{name} to the tire", name, passing(nominal, passed_over(nominal), _trace(outline)), spacer, "nominal tire"
    )
    most = passing(largest, passed_over(largest), _trace(outline))
    left = round(min(most.seated, most.sliding), 3)
    figures = (*answer.numbers, *numbers(largest_gap_mm=left))
    if answer.status == "fail" or left >= 0:
        yield replace(answer, numbers=figures)
    else:
        words = f"the largest tire permitted would overlap the {name} by {-left:.1f} mm; {answer.detail}"
        yield BoltOn(answer.item, "caution", words, figures)


def _high_as_seat(reach: float, wheel: Wheel) -> bool:
    return 2 * reach >= specified_rim_diameter(wheel.rim_diameter)


# ---------------------------------------------------------------- spokes


def _behind_spokes(name: str, outline: Outline, setup: Setup) -> BoltOn:
    item, wheel, spacer = f"{name} behind the spokes", setup.wheel, setup.spacer.thickness
    top = max(r for _, r in outline)
    if not wheel.spoke_back:
        return _ask_spokes(item, name, outline, spacer)
    disc = disc_section(wheel, spacer)
    past = passing(disc, passed_over(disc), _trace(outline))
    answer = _passes(item, name, past, spacer, "to the nearest spoke or the pad")
    measured = max(r for _, r in wheel.spoke_back)
    first = min(r for _, r in wheel.spoke_back)
    if answer.status == "ok" and _under_gap(outline, hub_pad(wheel, spacer).bounds[3], first):
        words = (
            f"{answer.detail}; but the back of the spokes was not measured from the pad out to radius {first:g} mm, "
            f"where the {name} also stands"
        )
        return BoltOn(item, "not_checked", words, answer.numbers)
    if answer.status == "ok" and top > measured + 1:
        words = (
            f"{answer.detail}; but the back of the spokes was measured only out to radius {measured:g} mm, and the "
            f"{name} reaches radius {top:g} mm"
        )
        return BoltOn(item, "not_checked", words, answer.numbers)
    return answer


def _under_gap(outline: Outline, pad: float, first: float) -> bool:
    """Whether a part stands at radii between the pad and the first place at which the spokes' back was measured."""
    return first > pad + 1 and min(r for _, r in outline) < first - 1 and max(r for _, r in outline) > pad


def _ask_spokes(item: str, name: str, outline: Outline, spacer: float) -> BoltOn:
    face, top = over(max(y for y, _ in outline), spacer), max(r for _, r in outline)
    least = min(r for _, r in outline)
    return BoltOn(
        item, "not_checked",
        f"ask the seller where the back of the spokes is: from radius {least:g} mm to {top:g} mm it must be "
        f"{_outboard_of(face + BRAKE_GAP)} (this {name} reaches {from_face(-face)})",
        numbers(face_mm=face, ask_back_mm=face + BRAKE_GAP, from_radius_mm=least, to_radius_mm=top),
    )  # fmt: skip


def _outboard_of(y: float) -> str:
    """Where the spokes' back may not pass, counted from the mounting face."""
    if y <= 0:
        return f"no more than {-y:g} mm behind the mounting face"
    return f"at least {y:g} mm in front of the mounting face"


# ---------------------------------------------------------------- clearance


def _passes(item: str, name: str, past: Passing, spacer: float, words: str) -> BoltOn:
    """Seated, and on the way there where that leaves less."""
    places = numbers(
        sliding_gap_mm=past.sliding,
        part_depth_mm=over(spacer, past.part[0]),
        metal_depth_mm=over(spacer, past.metal[0]),
    )
    if past.seated < 0 or past.seated - past.sliding < SAME:
        where = words if past.seated < 0 else f"both seated and while sliding on; {words}"
        answer = _judged(item, past.seated, where)
        return replace(answer, numbers=(*answer.numbers, *places))
    status: Status = "fail" if past.sliding < 0 else "caution" if past.sliding < BRAKE_GAP else "ok"
    figures = (*numbers(gap_mm=past.seated, asked_mm=BRAKE_GAP), *places)
    return BoltOn(item, status, way_words(past, f"the {name}", spacer, f" ({words})"), figures)


def _judged(item: str, gap: float, words: str) -> BoltOn:
    gap = round(gap, 3)  # an outline is drawn to a micrometre
    figures = numbers(gap_mm=gap, asked_mm=BRAKE_GAP)
    if gap < 0:
        return BoltOn(item, "fail", f"overlaps by about {-gap:.1f} mm ({words})", figures)
    if gap < BRAKE_GAP:
        return BoltOn(item, "caution", f"{gap:.1f} mm left, less than {BRAKE_GAP:g} mm ({words})", figures)
    return BoltOn(item, "ok", f"{gap:.1f} mm left ({words})", figures)


_STILL = Poses(
    origin=np.zeros((1, 3)), rotation=np.eye(3)[None], motions={}, axis_lower=None, axis_upper=None, rack=None,
    opposite=None, corner=np.array(["left"]), reachable=np.array([True]),
)  # fmt: skip


@lru_cache(maxsize=64)
def _trace(outline: Outline) -> Trace:
    return trace_obstacle(Obstacle("brake", "ring", fixed_to=("knuckle",), outline=outline), _STILL)


def _shape(outline: Outline) -> shapely.Geometry:
    return Polygon(outline) if len(outline) > 2 else shapely.LineString(outline)


@lru_cache(maxsize=64)
def _within(inner: Outline, outer: Outline) -> bool:
    return bool(len(outer) > 2 and shapely.covers(_shape(outer), _shape(inner)))


def _key(axle: Axle, setup: Setup) -> Hashable:
    wheel, spacer = setup.wheel, setup.spacer.thickness
    if axle.brake is None:
        return None
    tire = setup.tire if _high_as_seat(axle.brake.reach, wheel) else None
    if wheel.barrel_clear_diameter is not None or wheel.barrel_inside or wheel.spoke_back:
        return wheel, spacer, tire
    rim = wheel.rim_diameter, wheel.rim_width, wheel.flange
    if tire is None:
        return rim, spacer
    return rim, spacer, wheel.offset, wheel.overall_width, tire


CHECKS = (Check("brake", _brake, _key),)
