"""What hangs lowest: suspension and body against the ground at each ride height, and against the flat-tire line.

Ground is the plane through the contact points with the loaded radius; the flat-tire line is the ground when both
wheels of the axle stand on the edge of their rims (the tire's thickness under them is not counted, so the true line
is some millimetres lower). With the stand of the other axle both planes lean with the body's rake; without it the
body is taken to drop parallel to the ground.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from fitment.checks.bolt_on import BoltOn
from fitment.checks.bolt_on.result import numbers
from fitment.frames import UP, Array, unit
from fitment.motion.link_suspension import RODS, carrier_of
from fitment.motion.poses import Poses
from fitment.motion.steering_geometry import steering_angles
from fitment.motion.suspension import poses_at_lock_fraction
from fitment.parts.axle import Axle, LinkSuspension, LowPoint, Setup, SolidAxle
from fitment.parts.obstacles import core
from fitment.parts.tables import rim_contour_row, specified_rim_diameter
from fitment.parts.wheel import edges

Kind = Literal["low point", "hardpoint", "obstacle"]
LEAST_HEIGHT = 100.0  # [mm] above the ground at the build's own ride height; common practice, no published source
FULL_BUMP = "full bump"


@dataclass(frozen=True)
class StandingAxle:
    """Where the wheels of an axle stand at n heights of its suspension, straight ahead; the setup's own is first.

    names : of the heights
    poses : the hub at each
    tire : contact points with the tire as loaded, body frame (n, 3) [mm]
    rim : lowest places of the rim's edge, body frame (n, 3) [mm]
    """

    names: tuple[str, ...]
    poses: Poses
    tire: Array
    rim: Array


@dataclass(frozen=True)
class OtherAxle:
    """The other axle on the ground, for the body's rake.

    x : its axle line in this axle's body frame [mm], positive ahead
    raised : its frame's origin above this one's [mm]
    """

    name: str
    stand: StandingAxle
    x: float
    raised: float


@dataclass(frozen=True)
class Height:
    """The lowest place of one part at one height of the suspension.

    travel : of that height [mm], + = wheel up into the body
    above_ground, above_flat_line : [mm], negative = below
    tolerance : of the reading [mm]
    """

    part: str
    kind: Kind
    ride: str
    travel: float
    above_ground: float
    above_flat_line: float
    tolerance: float = 0.0


@dataclass(frozen=True)
class GroundClearance:
    """Every part at every ride height and at full bump, lowest first within a height.

    rake : nose-down pitch against the measured state [deg] at the setup's own height; None = taken as parallel
    level_because : why the rake is not known, or an empty text
    """

    heights: tuple[Height, ...]
    rake: float | None
    level_because: str
    checks: tuple[BoltOn, ...]


@dataclass(frozen=True)
class _Part:
    """places : (n, k, 3), body frame [mm], already lowered by the radius"""

    name: str
    kind: Kind
    places: Array
    tolerance: float


def ride_levels(axle: Axle, setup: Setup) -> tuple[tuple[str, float], ...]:
    """(name, travel [mm]) of the setup's own ride height, then of the axle's others.

    Source: the profile's `ride_heights`.
    """
    own = setup.ride_name or "rest"
    others = ((name, travel) for name, travel in axle.ride_heights if abs(travel - setup.ride) > 1e-6)
    return ((own, setup.ride), *others)


def standing_axle(axle: Axle, setup: Setup, loaded_radius: float) -> StandingAxle:
    """The wheels on the ground at every ride height and at full bump.

    loaded_radius : wheel centre to ground along the wheel plane [mm]
    Raises MotionError.
    Source: geometry in the poses straight ahead; contact points by `steering_angles`.
    """
    names, travel = zip(*ride_levels(axle, setup), (FULL_BUMP, axle.bump), strict=True)
    poses = poses_at_lock_fraction(axle, np.array(travel), 0.0)
    centre = setup.spacer.thickness - setup.wheel.offset
    contact = steering_angles(poses, centre_line=centre, loaded_radius=loaded_radius).contact
    return StandingAxle(names, poses, contact, _rim_edge(poses, setup))


def flange_radius(setup: Setup) -> float:
    """Radius of the rim's edge [mm]: half the specified diameter and the height of the flange.

    Source: JIS D 4218:2021 table 3 (flange height 17.5 of a J rim, +-1.0); seat diameter ISO 4000-2, from memory.
    """
    wheel = setup.wheel
    row = rim_contour_row(wheel.rim_diameter, wheel.rim_width, wheel.flange)
    return specified_rim_diameter(wheel.rim_diameter) / 2 + row.flange_height


def _rim_edge(poses: Poses, setup: Setup) -> Array:
    s = poses.spin_axis
    down = unit(UP - s[:, 2:] * s)
    edge_points = np.stack(
        [poses.origin + y * s - flange_radius(setup) * down for y in edges(setup.wheel, setup.spacer.thickness)]
    )
    return np.asarray(edge_points[np.argmin(edge_points[..., 2], axis=0), np.arange(len(poses))])


def heights_above_ground(
    axle: Axle, here: StandingAxle, other: OtherAxle | None, level_because: str = ""
) -> GroundClearance:
    """Every part against the ground and the flat-tire line.

    here : the axle's own stand
    other : the other axle's, or None with the reason in `level_because`
    Source: geometry; the least height, LEAST_HEIGHT, is common practice, no published source.
    """
    parts = tuple(part for part in _parts(axle, here.poses) if _hangs(part, here.poses))
    tire, rim = _planes(here, here.tire, other), _planes(here, here.rim, other)
    heights = [
        Height(part.name, part.kind, ride, float(here.poses.travel[k]), up, flat, part.tolerance)
        for part in parts
        for k, (ride, up, flat) in enumerate(
            zip(here.names, _least(part, tire).tolist(), _least(part, rim).tolist(), strict=True)
        )
    ]
    heights.sort(key=lambda height: (here.names.index(height.ride), height.above_ground))
    rake = None if other is None else float(np.degrees(np.arctan(tire[0, 2])))
    still = tuple(low for low in axle.low_points if low.fixed_to not in here.poses.motions)
    checks = tuple(_checks(axle, here.names, heights, (level_because if other is None else "", still)))
    return GroundClearance(tuple(heights), rake, "" if other else level_because, checks)


def _planes(here: StandingAxle, points: Array, other: OtherAxle | None) -> Array:
    """(n, 3): x and z of a point of the ground's line in the side view, and its slope dz/dx, at every height."""
    at = points[:, [0, 2]]
    if other is None:
        return np.column_stack([at, np.zeros(len(at))])
    # at this axle's other ride heights the other one stands at its own of the same name, else where the build has it
    named = here.names[1:-1]
    same = [0, *(other.stand.names.index(name) if name in other.stand.names else 0 for name in named), 0]
    there = other.stand.tire[same][:, [0, 2]] + (other.x, other.raised)
    return np.column_stack([at, (there[:, 1] - at[:, 1]) / (there[:, 0] - at[:, 0])])


def _least(part: _Part, planes: Array) -> Array:
    """Height of the part's lowest place above the plane (n,) [mm]."""
    x, z, slope = (column[:, None] for column in planes.T)
    off = part.places[..., 2] - z - slope * (part.places[..., 0] - x)
    return np.asarray(np.min(off / np.hypot(1.0, slope), axis=1))


def _parts(axle: Axle, poses: Poses) -> Iterator[_Part]:
    for low in axle.low_points:
        if low.fixed_to in poses.motions:
            yield _Part(low.name, "low point", _moved(poses, [low.fixed_to], np.array([low.at])), low.tolerance)
    for name, carrier, place in _hardpoints(axle):
        if carrier in poses.motions:
            yield _Part(name.replace("_", " "), "hardpoint", _moved(poses, [carrier], np.array([place])), 0.0)
    for obstacle in axle.obstacles:
        if obstacle.shape != "ring" and all(carrier in poses.motions for carrier in obstacle.fixed_to):
            places = _moved(poses, obstacle.fixed_to, core(obstacle)) - obstacle.radius * UP
            yield _Part(obstacle.name, "obstacle", places, obstacle.tolerance)


def _hangs(part: _Part, poses: Poses) -> bool:
    """Whether it reaches below the hub's centre at some height; what does not is no answer to what hangs lowest."""
    return part.kind == "low point" or bool(np.any(part.places[..., 2].min(axis=1) < poses.travel))


def _moved(poses: Poses, carriers: Sequence[str], points: Array) -> Array:
    """Points (k, 3) in every pose (n, k, 3); one carrier for all, or one each."""
    if len(carriers) == 1:
        turn, shift = poses.motions[carriers[0]]
        return np.asarray(points @ np.swapaxes(turn, -1, -2) + np.reshape(shift, (-1, 1, 3)))
    of_point = carriers if len(carriers) == len(points) else [carriers[0]] * len(points)
    moves = [poses.motions[carrier] for carrier in of_point]
    return np.stack([turn @ point + shift for (turn, shift), point in zip(moves, points, strict=True)], axis=1)


def _hardpoints(axle: Axle) -> Iterator[tuple[str, str, Sequence[float]]]:
    """Name, carrier and place of every joint of the suspension whose place is known."""
    suspension = axle.suspension
    if isinstance(suspension, LinkSuspension):
        moved = dict(suspension.on_body)
        named = {end for _, *ends in RODS[suspension.kind] for end in ends}
        for name, place in suspension.points:
            if name in named:
                yield name, carrier_of(name), moved.get(name, place)
    elif isinstance(suspension, SolidAxle):
        for name, carrier, at in (
            ("panhard bar at the body", "body", suspension.panhard_body),
            ("panhard bar at the axle", "axle", suspension.panhard_axle),
            ("lower ball", "axle", suspension.axis_lower),
            *((name, "body" if name.endswith(("_body", "_eye")) else "axle", at) for name, at in suspension.links),
        ):
            if at is not None:
                yield name, carrier, at


# ---------------------------------------------------------------- judged


def _checks(
    axle: Axle, names: Sequence[str], heights: Sequence[Height], limits: tuple[str, Sequence[LowPoint]]
) -> Iterator[BoltOn]:
    """limits : why the rake is not known, or an empty text; low points whose motion is not known"""
    level, still = limits
    if not heights:
        why = "nothing below the hub's centre is in the profile; measure what hangs lowest and give it under low_points"
        for item in ("ground", "flat tire"):
            yield BoltOn(item, "not_checked", why + _not_moved(still))
        return
    for check in (_ground(axle, names, heights, level), _flat_tire(axle, names[:-1], heights)):
        status = "not_checked" if still and check.status == "ok" else check.status
        yield replace(check, status=status, detail=check.detail + _not_moved(still))


def _not_moved(still: Sequence[LowPoint]) -> str:
    words = [f"{low.name}, because the motion of the {low.fixed_to} is not described" for low in still]
    return f"; not checked: {', '.join(words)}" if words else ""


def _ground(axle: Axle, names: Sequence[str], heights: Sequence[Height], level: str) -> BoltOn:
    lowest = [min(_at(heights, name), key=lambda height: height.above_ground) for name in names]
    own, *others = lowest[:-1]
    bump = lowest[-1]
    words = f"{own.part} is lowest, {own.above_ground:.0f} mm above the ground at {own.ride}"
    words += _others(others, own.part, [height.above_ground for height in others])
    low = own.above_ground < LEAST_HEIGHT
    if low:
        words += f"; less than {LEAST_HEIGHT:g} mm (common practice, no published source; local rules decide)"
    if bump.above_ground < 0:
        words += f"; at full bump {bump.part} would hit the ground, {-bump.above_ground:.0f} mm too low"
    if level:
        words += f"; the body is assumed to stand parallel to the ground, because {level}"
    caution = low or any(height.above_ground < height.tolerance for height in lowest)
    figures = numbers(above_ground_mm=own.above_ground, at_full_bump_mm=bump.above_ground)
    return BoltOn("ground", "caution" if caution else _unless_points(axle), words + _only_known(axle), figures)


def _flat_tire(axle: Axle, names: Sequence[str], heights: Sequence[Height]) -> BoltOn:
    lowest = [min(_at(heights, name), key=lambda height: height.above_flat_line) for name in names]
    worst = min(lowest, key=lambda height: height.above_flat_line)
    figures = numbers(least_above_rim_edge_mm=worst.above_flat_line)
    if worst.above_flat_line < 0:
        others = [height for height in lowest if height is not worst and height.above_flat_line < 0]
        words = f"with a flat tire {worst.part} meets the ground before the rim does: it hangs "
        words += f"{-worst.above_flat_line:.0f} mm below the rim's edge at {worst.ride}"
        words += _others(others, worst.part, [-height.above_flat_line for height in others])
        return BoltOn("flat tire", "caution", words, figures)
    own, *others = lowest
    words = f"{own.part} stays {own.above_flat_line:.0f} mm above the rim's edge at {own.ride}"
    words += _others(others, own.part, [height.above_flat_line for height in others])
    near = [height.ride for height in lowest if height.above_flat_line < height.tolerance]
    if near:
        words += f"; at {', '.join(near)} that is less than the reading's own tolerance"
    return BoltOn("flat tire", "caution" if near else _unless_points(axle), words + _only_known(axle), figures)


def _at(heights: Sequence[Height], name: str) -> list[Height]:
    return [height for height in heights if height.ride == name]


def _others(heights: Sequence[Height], part: str, values: Sequence[float]) -> str:
    """The other ride heights in brackets, with the part's name where it is another one."""
    pairs = zip(heights, values, strict=True)
    words = [f"{h.ride} {v:.0f} mm" + ("" if h.part == part else f" ({h.part})") for h, v in pairs]
    return f"; {', '.join(words)}" if words else ""


def _unless_points(axle: Axle) -> Literal["ok", "not_checked"]:
    return "ok" if axle.low_points else "not_checked"


def _only_known(axle: Axle) -> str:
    return "" if axle.low_points else ". Only joints and parts in the profile were looked at: no low_points are given"
