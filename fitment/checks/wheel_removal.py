"""Whether wheel and tire come off as one past the bodywork: how far the wheel has to hang, and how it is steered.

The body is lifted and the wheel hangs. Wheel and tire, the tire not deflated and as large as is permitted, are slid
straight along the spin axis until the rim's inner edge has passed the ends of the studs and the brake; from there they
can be lowered. Tilting, a smaller tire and a suspension taken apart are not looked at.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import takewhile
from typing import NamedTuple

import numpy as np
import shapely
from shapely import Polygon
from shapely.affinity import translate

from fitment.checks.bolt_on import BoltOn
from fitment.checks.bolt_on.result import Status, numbers
from fitment.clearance.alike import alike_groups
from fitment.clearance.pose_grid import known_motion
from fitment.clearance.section_distance import clearances
from fitment.frames import UP, Array
from fitment.motion.poses import Poses
from fitment.motion.suspension import LOCKS, poses_level
from fitment.parts.axle import Axle, Setup
from fitment.parts.obstacles import Obstacle
from fitment.parts.sections import passed_over, tire_section, wheel_section
from fitment.parts.tables import specified_rim_diameter
from fitment.parts.wheel import edges

ITEM = "taking the wheel off"
STUDS = 60.0  # [mm] past the hub face where their length is not known; assumption
STEP = 5.0  # [mm] of travel between the heights that are tried
LOWER = 200.0  # [mm] below full droop to which is tried how much would be missing
HINDERS = 0.05  # [mm] by which a part must come closer on the way than at the seat to count
BEGUN = 20.0  # [mm] of the way after which a part inboard of the tire is free of it
LIMITS = (
    "Looked at: body lifted, the largest tire permitted, inflated, the wheel slid straight off until the rim's inner "
    "edge has passed studs and brake ({0:.0f} mm{1}). Not looked at: tilting the wheel"
)


@dataclass(frozen=True)
class Way:
    """The wheel slid off with the suspension in one place; lengths [mm].

    travel : of the suspension, + = wheel up into the body
    steer : [deg], + to the left
    left : the least on the way, less the part's tolerance, minus the depth of an overlap, of the parts that come
        closer on the way than at the seat; infinite where there is none
    past : that part, empty where there is none
    """

    travel: float
    steer: float
    left: float
    past: str


@dataclass(frozen=True)
class Removal:
    """Whether and where wheel and tire come off as one.

    slide : how far it is slid [mm]
    hanging : at full droop, straight ahead first, then steered
    at : where it comes off with the least droop, straight ahead if it does at all; None where it never does
    """

    slide: float
    hanging: tuple[Way, ...]
    at: Way | None
    check: BoltOn


def removal(axle: Axle, setup: Setup, lips: Sequence[str]) -> Removal:
    """Whether wheel and tire come off as one past the bodywork.

    lips : names of the edges of the bodywork over the tread
    Raises MotionError, CodeError.
    Source: derived here: the way of `slide.passing`, hanging; that nobody tilts the wheel is an assumption.
    """
    slide, parts = _slide(axle, setup), known_motion(axle)[0]
    if not parts:
        return Removal(slide, (), None, BoltOn(ITEM, "not_checked", f"no part is in the profile; {_NO_LIP}"))
    whole = shapely.union(
        tire_section(setup.tire, setup.wheel, setup.spacer.thickness, largest=True),
        wheel_section(setup.wheel, setup.spacer.thickness),
    )
    sure = whole if _barrel_known(setup) else _outside(whole, setup)
    off = _Off(axle, parts, sure, passed_over(sure, slide))
    lock_fractions = sorted(LOCKS, key=abs) if axle.steering else [0.0]
    hanging = tuple(_ways(off, [(axle.droop, lock_fraction) for lock_fraction in lock_fractions]))
    free = next(
        (lock_fraction for lock_fraction, way in zip(lock_fractions, hanging, strict=True) if way.left >= 0), None
    )
    at = None if free is None else _least_droop(off, setup, free)
    best = (
        max(range(len(lock_fractions)), key=lambda k: hanging[k].left) if free is None else lock_fractions.index(free)
    )
    lower = _lower(off, lock_fractions[best]) if free is None else None
    words, status = _words(axle, setup, hanging, at, lower)
    if sure is not whole:
        inside = next(_ways(_Off(axle, parts, whole, passed_over(whole, slide)), [(axle.droop, lock_fractions[best])]))
        if inside.left < min(0.0, hanging[best].left):
            words += (
                f"; the inside of the rim is assumed, not measured: by that {inside.past} would be "
                f"{-inside.left:.0f} mm in its way"
            )
            status = "not_checked" if status == "ok" else status
    if not lips:
        words, status = f"{words}; {_NO_LIP}", "not_checked" if status == "ok" else status
    length = "" if _stud_end(axle, setup) is not None else f", studs of {STUDS:g} mm assumed"
    figures = numbers(
        slide_mm=slide, left_at_droop_mm=hanging[0].left if hanging[0].past else None,
        travel_mm=at.travel if at else None, steer_deg=at.steer if at else None, lower_mm=lower,
    )  # fmt: skip
    return Removal(slide, hanging, at, BoltOn(ITEM, status, f"{words}. {LIMITS.format(slide, length)}", figures))


class _Off(NamedTuple):
    """What is slid off past what.

    metal, passed : the section at its seat, and all that it passes over
    """

    axle: Axle
    parts: Sequence[Obstacle]
    metal: Polygon
    passed: Polygon


# ---------------------------------------------------------------- what is slid, and how far


def _barrel_known(setup: Setup) -> bool:
    return setup.wheel.barrel_clear_diameter is not None or bool(setup.wheel.barrel_inside)


def _outside(whole: Polygon, setup: Setup) -> Polygon:
    """Tire and wheel without the inside of a rim that nobody measured: what lies outside of the bead seats' radius."""
    seat = specified_rim_diameter(setup.wheel.rim_diameter) / 2
    y0, _, y1, r1 = whole.bounds
    cut = shapely.intersection(whole, shapely.box(y0, seat, y1, r1))
    return max(getattr(cut, "geoms", [cut]), key=lambda part: part.area)


def _slide(axle: Axle, setup: Setup) -> float:
    """How far the rim is slid until its inner edge has passed studs, registers and brake [mm]."""
    stud, brake = _stud_end(axle, setup), axle.brake
    outlines = [part.outline for part in (brake.caliper, brake.rotor) if part is not None] if brake else []
    register = axle.hub.wheel_register if axle.hub else None
    ends = [0.0, STUDS if stud is None else stud, *(y for outline in outlines for y, _ in outline)]
    ends += [register.length] if register and register.length else []
    return max(max(ends) - edges(setup.wheel, setup.spacer.thickness)[0], 0.0)


def _stud_end(axle: Axle, setup: Setup) -> float | None:
    """How far the studs that the wheel goes on stand past the hub face [mm], None = not known."""
    adapter = setup.spacer.adapter
    if adapter is not None and adapter.has_studs:
        return None if adapter.stud_length is None else setup.spacer.thickness + adapter.stud_length
    return axle.hub.stud_length if axle.hub else None


# ---------------------------------------------------------------- tried


def _ways(off: _Off, at: Sequence[tuple[float, float]]) -> Iterator[Way]:
    """The wheel slid off at travels [mm] and shares of the lock; of an axle with two corners the worse one."""
    travel, lock_fraction = np.array(at).T
    corner_poses = list(poses_level(off.axle, travel, lock_fraction).values())
    left = np.min([_left(off, off.parts, poses) for poses in corner_poses], axis=0)
    which = np.argmin(left, axis=0)
    for k in range(len(at)):
        least = float(left[which[k], k])
        yield Way(
            float(travel[k]),
            float(corner_poses[0].turned[k]),
            least,
            off.parts[which[k]].name if least < np.inf else "",
        )


def _left(off: _Off, parts: Sequence[Obstacle], poses: Poses) -> Array:
    """What is left on the way at every part in every pose (k, n) [mm], infinite where the way takes nothing, or leaves
    no less than at a part that is looked at before."""
    left, least = np.full((len(parts), len(poses)), np.inf), np.full(len(poses), np.inf)
    begun = translate(off.metal, BEGUN, 0.0)
    for group in alike_groups(parts, poses):
        traced, pose = group.trace_in(poses), np.tile(np.arange(len(poses)), len(group.obstacles))
        way = clearances(off.passed, traced)
        left_there = way - np.repeat([obstacle.tolerance for obstacle in group.obstacles], len(poses))
        nearer = np.flatnonzero(left_there < least[pose])
        if not len(nearer):  # whatever hinders more is known
            continue
        traced, way = traced.at(nearer), way[nearer]
        hinders = way < clearances(off.metal, traced) - HINDERS
        doubt = np.flatnonzero((way < 0) & ~hinders)
        if len(doubt):  # it overlaps at the seat: the first of the way tells on which side it is
            hinders[doubt] = clearances(begun, traced.at(doubt)) < 0
        there = np.full(len(pose), np.inf)
        there[nearer[hinders]] = left_there[nearer[hinders]]
        left[list(group.numbers)] = there.reshape(-1, len(poses))
        least = left.min(axis=0)
    return left


def _least_droop(off: _Off, setup: Setup, lock_fraction: float) -> Way:
    """The highest place, not above that at rest, from which it comes off all the way down to full droop."""
    droop, rest = off.axle.droop, max(setup.ride, off.axle.droop)
    ways = _ways(off, [(height, lock_fraction) for height in (*np.arange(droop, rest, STEP).tolist(), rest)])
    return list(takewhile(lambda way: way.left >= 0, ways))[-1]


def _lower(off: _Off, lock_fraction: float) -> float | None:
    """How much lower than at full droop the wheel would have to hang, its lean unchanged [mm]; None = not found."""
    body = [part for part in off.parts if set(part.fixed_to) == {"body"} and part.shape != "ring"]
    rest = [part for part in off.parts if part not in body]
    down = np.arange(STEP, LOWER + STEP, STEP)
    free = np.arange(len(down))
    for poses in poses_level(off.axle, np.full(len(down), off.axle.droop), lock_fraction).values():
        if not np.all(_left(off, rest, poses.at(np.array([0]))) >= 0):
            return None
        lowered = replace(poses, origin=poses.origin - down[:, None] * UP)
        first = 0
        while first < len(body):  # more and more at once, each asked only where those before leave room
            some = body[first : 2 * first + 1]
            free = free[np.all(_left(off, some, lowered.at(free)) >= 0, axis=0)]
            first += len(some)
            if not len(free):
                return None
    return float(down[free[0]])


# ---------------------------------------------------------------- words


def _words(axle: Axle, setup: Setup, hanging: Sequence[Way], at: Way | None, lower: float | None) -> tuple[str, Status]:
    straight, droop = hanging[0], f"full droop ({axle.droop:+.0f} mm)"
    if at is None:
        words = f"does not come off: at {droop} {straight.past} is {-straight.left:.0f} mm in its way"
        best = max(hanging, key=lambda way: way.left)
        if best.left > straight.left + HINDERS:
            words += f"; steered {best.steer:+.0f} deg, {best.past} is {-best.left:.0f} mm in its way"
        if lower is not None:
            words += f". The wheel would have to hang about {lower:.0f} mm lower"
        return words, "caution"
    height = f"at {at.travel:+.0f} mm of travel or lower" if at.travel < setup.ride else "at the height it rests at"
    if straight.left >= 0:
        return f"comes off straight ahead, {height}; {_left_words(straight, droop)}", "ok"
    here = next(way for way in hanging if way.left >= 0)
    words = f"comes off steered {at.steer:+.0f} deg, {height}; {_left_words(here, droop)}"
    return f"{words}; straight ahead {straight.past} is {-straight.left:.0f} mm in its way", "ok"


def _left_words(way: Way, droop: str) -> str:
    return f"{way.left:.0f} mm left past {way.past} at {droop}" if way.past else f"nothing in its way at {droop}"


_NO_LIP = "no edge of the bodywork over the tread is in the profile, so the lip was not looked at"
