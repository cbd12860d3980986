"""Whether the wheel can be slid on: past every part that stands still to the hub and reaches into it.

A wheel goes on along the hub's axis, held straight. So the room at a depth is the smallest that the metal inboard of it
leaves: that metal has passed the depth on its way. What is not known of the wheel's inside is left out here; what is
taken for granted in its place is held against these parts where the taking off is (`removal`).
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import shapely
from shapely import Polygon

from fitment.checks.bolt_on.result import BoltOn, Check, Status, numbers
from fitment.checks.told_first import urgency
from fitment.clearance.section_distance import clearances, gaps
from fitment.clearance.trace import Trace, trace_obstacle
from fitment.motion.suspension import poses_at_lock_fraction
from fitment.parts.axle import Axle, Setup, SolidAxle
from fitment.parts.obstacles import Obstacle, fixed_to_hub
from fitment.parts.sections import barrel_section, disc_section, hub_pad, passed_over
from fitment.parts.tables import specified_rim_diameter
from fitment.parts.wheel import Wheel, edges
from fitment.units import MM_PER_INCH

ITEM = "sliding the wheel on"
SAME = 0.05  # [mm] by which the way may leave less than the seat and is not told
THIN = 0.02  # [mm] half the height of the strip in which the metal that passes is looked for


class Passing(NamedTuple):
    """A part that stands still to the hub against the metal of a wheel.

    seated, sliding : clearance [mm], minus the depth of an overlap; the least on the way, the seat included
    part, metal : (y', r) of the part and of the metal that comes closest to it on the way [mm]
    """

    seated: float
    sliding: float
    part: tuple[float, float]
    metal: tuple[float, float]


def passing(metal: Polygon, passed: Polygon, part: Trace) -> Passing:
    """How a part fares when a wheel's metal passes over it and seats.

    metal, passed : the section at its seat, and all that it passes over, hub frame (y', r) [mm]
    part : traced in one pose
    Source: derived here: the wheel slides straight along the hub's axis, which is an assumption on the safe side.
    """
    seated, way = float(clearances(metal, part)[0]), gaps(passed, part)
    (y, r), (_, height) = way.on_core[0], way.on_section[0]
    line = shapely.intersection(metal, shapely.box(-2000.0, height - THIN, 2000.0, height + THIN))
    at = float(line.bounds[0]) if not line.is_empty else float(way.on_section[0, 0])
    return Passing(seated, float(way.clearance[0]), (float(y), float(r)), (at, float(height)))


def way_words(past: Passing, name: str, spacer: float, more: str) -> str:
    """Where a part and the metal that passes over it come closest, when that is not at the seat.

    spacer : thickness [mm]
    more : what is said beside the clearance at the seat
    """
    (y, r), (at, height) = past.part, past.metal
    part, metal = from_face(spacer - y), from_face(spacer - at)
    if past.sliding < 0:
        return (
            f"the wheel cannot be slid on straight: {name} is {-past.sliding:.1f} mm in its way. "
            f"{name[:1].upper()}{name[1:]} stands at radius {r:.1f} mm, {part}; the wheel's metal that must pass over "
            f"it is at radius {height:.1f} mm, {metal}. Once seated, {past.seated:.1f} mm would be left{more}. "
            "Tilting the wheel was not looked at"
        )
    return (
        f"{past.sliding:.1f} mm left while sliding on, {past.seated:.1f} mm once seated{more}. Tightest: the wheel's "
        f"metal (radius {height:.1f} mm, {metal}) passing over {name} (radius {r:.1f} mm, {part})"
    )


def from_face(depth: float) -> str:
    """A depth in words.

    depth : [mm], positive inboard of the wheel's mounting face
    """
    return f"{abs(round(depth, 1)):g} mm {'behind' if depth >= 0 else 'in front of'} the mounting face"


# ---------------------------------------------------------------- parts of the vehicle


def _slide(axle: Axle, setup: Setup) -> Iterator[BoltOn]:
    wheel, spacer = setup.wheel, setup.spacer.thickness
    metal, barrel = _known_metal(setup), _barrel_known(setup)
    inner, seat = edges(wheel, spacer)[0] if barrel else -np.inf, specified_rim_diameter(wheel.rim_diameter) / 2
    ways_past, open_ = [], False
    for part in _traced(axle, _still(axle)):
        reach, least = float(part.every.high[..., 0].max()) + part.obstacle.radius, float(part.every.low[..., 1].min())
        if metal and reach > inner and least - part.obstacle.radius < seat:
            ways = [passing(piece, passed_over(piece), part) for piece in metal]
            seated = min(way.seated for way in ways)
            if seated >= 0:  # an overlap at the seat is one of the clearances
                ways_past.append((part.obstacle, min(ways, key=lambda way: way.sliding)._replace(seated=seated)))
                open_ |= not measured_to(reach, wheel, spacer)
    ways_past.sort(key=_urgency)
    if not ways_past:
        yield from _under_unknown(axle, setup)
        return
    obstacle, past = ways_past[0]
    asked = obstacle.allowance_to("wheel")
    figures = numbers(gap_mm=past.seated, asked_mm=asked, sliding_gap_mm=past.sliding)
    status: Status = "not_checked" if open_ else "ok"
    if past.sliding < 0:
        status = "fail"
    elif past.sliding < max(asked, obstacle.tolerance):
        status = "caution"
    if barrel or past.sliding < max(asked, obstacle.tolerance):  # the bore alone promises nothing about the barrel
        more = ". Not all of the barrel that slides over a part was measured" if open_ else ""
        yield BoltOn(ITEM, status, _words(ways_past, setup) + more, figures)
    else:
        yield from _under_unknown(axle, setup)


def _urgency(way_past: tuple[Obstacle, Passing]) -> tuple[bool, float]:
    """Least comes first: what cannot be passed, before what is passed with too little left [-, mm]."""
    obstacle, way = way_past
    return urgency(way.sliding, way.sliding - max(obstacle.allowance_to("wheel"), obstacle.tolerance))


def _under_unknown(axle: Axle, setup: Setup) -> Iterator[BoltOn]:
    """The first part that a barrel passes over which nobody measured; none hangs below half the bead seat's radius."""
    if _barrel_known(setup):
        return
    seat = specified_rim_diameter(setup.wheel.rim_diameter) / 2
    inner = edges(setup.wheel, setup.spacer.thickness)[0]
    for part in _traced(axle, _still(axle)):
        radius, (reach, top) = part.obstacle.radius, part.every.high.reshape(-1, 2).max(axis=0)
        least = float(part.every.low[..., 1].min()) - radius
        if reach + radius > inner and top + radius > 0.5 * seat and least < seat:
            words = f"the barrel's inside, which passes over {part.obstacle.name}, was not measured"
            yield BoltOn(ITEM, "not_checked", words)
            return


def _words(ways_past: Sequence[tuple[Obstacle, Passing]], setup: Setup) -> str:
    obstacle, past = ways_past[0]
    rest = [other.name for other, way in ways_past[1:] if way.sliding < 0]
    required = f"; {obstacle.allowance_to('wheel'):g} mm required" if past.sliding >= 0 else ""
    if past.seated - past.sliding < SAME:
        words = f"{past.seated:.1f} mm left past {obstacle.name}, both seated and while sliding on{required}"
    else:
        words = way_words(past, obstacle.name, setup.spacer.thickness, required)
    return words + (f". Also in its way: {', '.join(rest)}" if rest else "")


def _still(axle: Axle) -> tuple[Obstacle, ...]:
    """The parts that stand still to the hub: on a beam that does not steer also those fixed to it."""
    fixed = {"knuckle", "axle"} if isinstance(axle.suspension, SolidAxle) and axle.steering is None else {"knuckle"}
    return tuple(o for o in axle.obstacles if "wheel" in o.meets and (fixed_to_hub(o) or set(o.fixed_to) <= fixed))


@lru_cache(maxsize=64)
def _traced(axle: Axle, parts: tuple[Obstacle, ...]) -> tuple[Trace, ...]:
    poses = poses_at_lock_fraction(axle, 0.0, 0.0)
    known = [o for o in parts if o.shape == "ring" or all(carrier in poses.motions for carrier in o.fixed_to)]
    return tuple(trace_obstacle(obstacle, poses) for obstacle in known)


def _barrel_known(setup: Setup) -> bool:
    return setup.wheel.barrel_clear_diameter is not None or bool(setup.wheel.barrel_inside)


def _known_metal(setup: Setup) -> list[Polygon]:
    """What of the wheel's inside was given, in the hub frame: barrel, back of the spokes, pad round the bore."""
    wheel, spacer = setup.wheel, setup.spacer.thickness
    known = [measured_barrel(wheel, spacer)] if _barrel_known(setup) else []
    known += [disc_section(wheel, spacer)] if wheel.spoke_back else []
    return known + ([hub_pad(wheel, spacer)] if wheel.centre_bore is not None else [])


def measured_span(wheel: Wheel, spacer: float) -> tuple[float, float]:
    """First and last place y' along the axis [mm] at which the barrel was measured point by point.

    spacer : thickness [mm]
    Source: geometry; what is counted from the rim's centre line stands spacer - ET further out.
    """
    start, end = (y + spacer - wheel.offset for y in (wheel.barrel_inside[0][0], wheel.barrel_inside[-1][0]))
    return start, end


def measured_to(reach: float, wheel: Wheel, spacer: float) -> bool:
    """Whether the barrel is known from the flange at its inner edge out to a place along the axis.

    reach : that place, y' [mm], positive outboard
    spacer : thickness [mm]
    """
    if wheel.barrel_clear_diameter is not None or not wheel.barrel_inside:
        return True
    (start, end), (inner, outer) = measured_span(wheel, spacer), edges(wheel, spacer)
    flange = (outer - inner - wheel.rim_width * MM_PER_INCH) / 2
    return start <= inner + flange + 1 and min(reach, outer) <= end + 1


def measured_barrel(wheel: Wheel, spacer: float) -> Polygon:
    """Of the barrel's metal what was given (y', r) [mm]: all below a clear diameter, else the depths measured.

    spacer : thickness [mm]
    Source: `barrel_section`, cut to the depths measured.
    """
    barrel = barrel_section(wheel, spacer)
    if wheel.barrel_clear_diameter is not None:
        return barrel
    start, end = measured_span(wheel, spacer)
    cut = shapely.intersection(barrel, shapely.box(start, 0.0, end, 2000.0))
    return max(getattr(cut, "geoms", [cut]), key=lambda part: part.area)


def _key(axle: Axle, setup: Setup) -> Hashable:
    wheel, spacer = setup.wheel, setup.spacer.thickness
    if not _still(axle):
        return None
    if _barrel_known(setup) or wheel.spoke_back:
        return wheel, spacer
    pad = wheel.centre_bore, wheel.bolt_circle, wheel.pad_diameter, wheel.pad_thickness
    return pad, wheel.rim_diameter, edges(wheel, spacer)[0], spacer


CHECKS = (Check(ITEM, _slide, _key),)
