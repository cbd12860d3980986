"""Whether bodywork covers the tread, over the sector of the published wheel-guard rule, at each ride height.

The rule: wheels straight ahead, from a radial plane 30 degrees ahead of the wheel's centre to one 50 degrees behind it
the guard is at least as wide as the tire's section. Source: Council Directive 78/549/EEC Annex I, carried on by
Commission Regulation (EU) 1009/2010; read in the Australian Design Rule for passenger cars, wheel guards, clauses
15.1.2.1.1 to 15.1.2.1.3.1, as quoted on a public forum. Its rear edge and depth are not looked at. Many local rules
ask for the tread alone; both are given.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from fitment.checks.bolt_on import BoltOn
from fitment.checks.bolt_on.result import numbers
from fitment.checks.ground_clearance import ride_levels
from fitment.frames import Array
from fitment.motion.poses import Poses
from fitment.motion.suspension import poses_level
from fitment.parts.axle import Axle, Setup
from fitment.parts.obstacles import Obstacle, core
from fitment.parts.sections import tire_section, tread_width, wheel_section

AHEAD, BEHIND = 30.0, 50.0  # [deg] of the sector, about the wheel's centre, from straight up
TOUCH = 1e-6  # [mm]
STEP = 1.0  # [deg] between the directions looked in
RULE = f"Looked at: from {AHEAD:g} deg ahead to {BEHIND:g} deg behind; local rules decide"


@dataclass(frozen=True)
class Covered:
    """One corner at one ride height; lengths [mm], positive = stands out past the bodywork's edge.

    travel : of the ride height, + = wheel up into the body
    tread, whole : of the tread's outer edge, and of the widest place of tire and wheel, each at its worst direction
    tread_at, whole_at : that direction [deg], positive = ahead of straight up, negative = behind
    described : first and last direction in which an edge is described [deg], ahead and behind
    gaps : whether there are some between them
    """

    ride: str
    travel: float
    corner: str
    tread: float | None
    tread_at: float | None
    whole: float | None
    whole_at: float | None
    described: tuple[float, float] | None
    gaps: bool


@dataclass(frozen=True)
class TreadCover:
    """The tread against the bodywork's edge at every ride height.

    edges : names of the edges taken as the bodywork's
    tolerance : the largest of theirs [mm]
    """

    edges: tuple[str, ...]
    tolerance: float
    heights: tuple[Covered, ...]
    check: BoltOn


def edges_over_tread(axle: Axle, outboard_of: float) -> tuple[Obstacle, ...]:
    """The edges of the bodywork that the tread is held against.

    outboard_of : y of the baseline's rim centre line [mm]; an edge fixed to the body counts when it lies outboard
        of it, unless its own `cover_of_tread` says otherwise
    Source: our reading of which bodywork the rule's cover is.
    """
    return tuple(obstacle for obstacle in axle.obstacles if _is_edge(obstacle, outboard_of))


def cover_of_tread(axle: Axle, setup: Setup, edges: Sequence[Obstacle]) -> TreadCover:
    """The tread against the bodywork's edges at every ride height.

    Raises MotionError, CodeError.
    Source: the sector of Council Directive 78/549/EEC Annex I, read as the top of the module says.
    """
    if not edges:
        return TreadCover((), 0.0, (), BoltOn("bodywork cover", "not_checked", _NO_EDGE))
    heights = [_covered(axle, setup, edges, name, travel) for name, travel in ride_levels(axle, setup)]
    covered = tuple(corner for corners in heights for corner in corners)
    tolerance = max(edge.tolerance for edge in edges)
    names = tuple(edge.name for edge in edges)
    return TreadCover(names, tolerance, covered, _check(covered, names, tolerance))


_NO_EDGE = (
    "no outboard edge of the bodywork is in the profile; give the lip as an obstacle of shape edge from "
    f"{AHEAD:g} degrees ahead of the wheel's centre to {BEHIND:g} behind"
)


def _is_edge(obstacle: Obstacle, outboard_of: float) -> bool:
    if obstacle.shape != "edge" or set(obstacle.fixed_to) != {"body"}:
        return False
    if obstacle.cover is not None:
        return obstacle.cover
    return all(y >= outboard_of for _, y, _ in obstacle.points)


def _covered(axle: Axle, setup: Setup, edges: Sequence[Obstacle], name: str, travel: float) -> list[Covered]:
    covered = []
    towards = np.arange(AHEAD, -BEHIND - STEP / 2, -STEP)
    for corner, poses in poses_level(axle, travel, 0.0).items():
        lip = np.max([_edge_out(edge, poses, setup, towards) for edge in edges], axis=0)
        known = np.isfinite(lip)
        if not known.any():
            covered.append(Covered(name, travel, corner, None, None, None, None, None, True))
            continue
        tread = _reach(poses, _tread_corner(setup), towards)[known] - lip[known]
        whole = _reach(poses, _outline(setup), towards)[known] - lip[known]
        seen = towards[known]
        gaps = len(seen) < 1 + round((seen[0] - seen[-1]) / STEP)
        covered.append(
            Covered(
                name, travel, corner, float(tread.max()), float(seen[tread.argmax()]),
                float(whole.max()), float(seen[whole.argmax()]), (float(seen[0]), float(seen[-1])), gaps,
            )
        )  # fmt: skip
    return covered


def _edge_out(edge: Obstacle, poses: Poses, setup: Setup, towards: Array) -> Array:
    """y of the edge's outer side (m,) [mm] where the radial planes cut it; -inf where they do not."""
    points = core(edge) - (poses.origin[0] + (setup.spacer.thickness - setup.wheel.offset) * poses.spin_axis[0])
    y = core(edge)[:, 1] + edge.radius
    clock = np.radians(90.0 - towards)[:, None]
    side = points[:, 0] * np.sin(clock) - points[:, 2] * np.cos(clock)
    side = np.where(np.abs(side) < TOUCH, 0.0, side)  # an end that lies in the plane is met
    along = points[:, 0] * np.cos(clock) + points[:, 2] * np.sin(clock)
    a, b = side[:, :-1], side[:, 1:]
    cut = a * b <= 0
    share = np.where(cut, a / np.where(a == b, 1.0, a - b), 0.0)
    ahead = along[:, :-1] + share * (along[:, 1:] - along[:, :-1]) > 0
    out = y[:-1] + share * (y[1:] - y[:-1])
    return np.asarray(np.max(np.where(cut & ahead, out, -np.inf), axis=1))


def _tread_corner(setup: Setup) -> Array:
    """(1, 2): y' and r of the tread's outer edge on the tire's outline [mm]."""
    section = tire_section(setup.tire, setup.wheel, setup.spacer.thickness)
    centre = setup.spacer.thickness - setup.wheel.offset
    outline = np.array(section.exterior.coords)
    y, r = outline[:, 0] - centre, outline[:, 1]
    outer = (y >= 0) & (r >= r[np.argmax(y)])
    order = np.argsort(y[outer])
    half = min(tread_width(setup.tire) / 2, float(y.max()))
    return np.array([[centre + half, float(np.interp(half, y[outer][order], r[outer][order]))]])


def _outline(setup: Setup) -> Array:
    """(k, 2): the outlines of tire and wheel, (y', r) [mm]."""
    spacer = setup.spacer.thickness
    sections = tire_section(setup.tire, setup.wheel, spacer), wheel_section(setup.wheel, spacer)
    return np.concatenate([np.array(section.exterior.coords) for section in sections])


def _reach(poses: Poses, outline: Array, towards: Array) -> Array:
    """y of the outermost place of the outline (m,) [mm] in the directions."""
    clock = np.radians(90.0 - towards)[:, None]
    turn, (y, r) = poses.rotation[0], outline.T
    out = turn[1, 0] * r * np.cos(clock) + turn[1, 1] * y + turn[1, 2] * r * np.sin(clock)
    return np.asarray(poses.origin[0, 1] + out.max(axis=1))


# ---------------------------------------------------------------- judged


def _check(heights: Sequence[Covered], names: Sequence[str], tolerance: float) -> BoltOn:
    known = [height for height in heights if height.tread is not None]
    part = [height for height in heights if not _whole_sector(height)]
    if not known:
        return BoltOn("bodywork cover", "not_checked", f"{', '.join(names)} does not reach the sector; {_NO_EDGE}")
    own, *others = (_at(known, ride) for ride in dict.fromkeys(height.ride for height in known))
    words = f"at {own.ride} the tread stands {_side(own.tread)} {' and '.join(names)} (furthest out "
    way = "ahead of" if own.tread_at >= 0 else "behind"
    words += f"{abs(own.tread_at):.0f} deg {way} the wheel's centre), tire and wheel {_side(own.whole)}"
    words += "".join(
        f". At {height.ride}: tread {_side(height.tread)}, tire and wheel {_side(height.whole)}" for height in others
    )
    most = max(height.whole for height in (own, *others))
    if 0 >= most > -tolerance:
        words += f". The outermost place is inside by less than the edge's tolerance of {tolerance:g} mm"
    if part:
        words += f". The edge was measured only {_described(part[0])}; the rest was not checked"
    status: Literal["ok", "caution", "not_checked"] = "not_checked" if part else "ok"
    figures = numbers(tread_out_mm=max(height.tread for height in (own, *others)), whole_out_mm=most)
    return BoltOn("bodywork cover", "caution" if most > -tolerance else status, f"{words}. {RULE}", figures)


@dataclass(frozen=True)
class _Worst:
    """Of both corners at one ride height."""

    ride: str
    tread: float
    tread_at: float
    whole: float


def _at(known: Sequence[Covered], ride: str) -> _Worst:
    treads = [(height.tread, height.tread_at) for height in known if height.ride == ride]
    wholes = [height.whole for height in known if height.ride == ride]
    tread, at = max((t, a) for t, a in treads if t is not None and a is not None)
    return _Worst(ride, tread, at, max(whole for whole in wholes if whole is not None))


def _whole_sector(covered: Covered) -> bool:
    return not covered.gaps and covered.described == (AHEAD, -BEHIND)


def _side(out: float) -> str:
    return f"{abs(out):.0f} mm {'outside' if out > 0 else 'inside'}"


def _direction(at: float) -> str:
    return f"{abs(at):.0f} deg {'ahead' if at >= 0 else 'behind'}"


def _described(covered: Covered) -> str:
    if covered.described is None:
        return f"outside of that sector at {covered.ride}"
    first, last = covered.described
    gaps = " with gaps" if covered.gaps else ""
    return f"from {_direction(first)} to {_direction(last)}{gaps} at {covered.ride}"
