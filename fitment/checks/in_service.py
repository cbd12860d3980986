"""A checked setup in service: how near it comes when it is pushed and has grown, beside the ideal solid's clearance.

Every pose of the check is looked at, and from the lowest places those between. It stands beside the clearance and the
worst case and is in neither: as measured, with the nominal tire.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fitment.checks.fit import Fit
from fitment.checks.service_effects import LEVELS, Effects, Move, Sections, effects_on, moves_of
from fitment.checks.service_gaps import InService, ServiceGap
from fitment.clearance.closest_poses import PARTS, start_near
from fitment.clearance.motion_polynomials import frames_at, tracker
from fitment.clearance.pose_grid import Sweep, sweep
from fitment.clearance.pose_search import At, Clearance, descend
from fitment.clearance.pushed_wheel import Pushes, pushed
from fitment.clearance.section_distance import clearances
from fitment.clearance.trace import CarriedCorners, Index, Trace, trace_obstacle, trace_of_corners
from fitment.frames import Array
from fitment.motion.suspension import families
from fitment.parts.axle import Axle, Setup
from fitment.parts.obstacles import Part, fixed_to_hub
from fitment.parts.sections import flange_top

STARTS = 3  # poses from which lower ones are sought
COULD_DECIDE = 12.0  # [mm] above what is required within which lower places are sought between the poses
ROWS = 4000  # traces that are measured at once


def left_in_service(fit: Fit, deflection: float) -> InService | None:
    """A checked setup in service; None where the profile asks for nothing of it. Raises MotionError.

    deflection : how far the tire is pressed in at rest [mm]
    Source: derived here: the sections and pushes of `service_effects`, measured as every clearance is.
    """
    if fit.axle.service is None:
        return None
    effects, left_open = effects_on(fit.axle, fit.setup, deflection)
    measure = _Measure(effects, fit.axle, fit.setup)
    swept = sweep(fit.axle, fit.setup.ride)
    entries: list[float | None] = [None] * len(fit.clearances)
    of_pair: dict[tuple[str, Part], list[int]] = {}
    for number, entry in enumerate(fit.clearances):
        of_pair.setdefault((entry.obstacle, entry.part), []).append(number)
    traces = {trace.obstacle.name: trace for trace in fit.traces}
    up = fit.poses.rotation[:, 2, :]
    found: list[_Lowest] = []
    for (obstacle, part), numbers in of_pair.items():
        free = np.array([fit.clearances[k].clearance for k in numbers])
        low = np.flatnonzero(free - measure.reach(part) <= free.min())
        poses = np.array([fit.clearances[numbers[k]].pose for k in low])
        left, _ = measure(traces[obstacle], part, poses, up, fit.poses.travel[poses])
        for k, value in zip(low.tolist(), left.tolist(), strict=True):
            entries[numbers[k]] = value
        index = next(i for i, own in enumerate(swept.checked) if own.name == obstacle)
        for k in np.argsort(left, kind="stable")[:STARTS].tolist():
            found.append(_Lowest(index, part, *_place(fit, int(poses[k])), float(left[k])))
    found = _least_each(_between(swept, measure, found))
    gaps = by_urgency([_gap(fit, swept, measure, place) for place in found])
    first = next((p for p in found if gaps and _named(swept, p) == (gaps[0].obstacle, gaps[0].part)), None)
    return InService(effects, left_open, gaps, _takes(fit, swept, effects, first), tuple(entries))


def by_urgency(gaps: Sequence[ServiceGap]) -> tuple[ServiceGap, ...]:
    """Gaps in service in the order in which they are told."""
    return tuple(sorted(gaps, key=lambda gap: gap.urgency))


@dataclass(frozen=True)
class _Lowest:
    """Where an obstacle, by its index, is closest in service: a family of poses and a place in it."""

    obstacle: int
    part: Part
    family: int
    at: At
    clearance: float


def _least_each(places: Sequence[_Lowest]) -> list[_Lowest]:
    """The lowest place of every obstacle and part."""
    least: dict[tuple[int, Part], _Lowest] = {}
    for place in sorted(places, key=lambda place: place.clearance):
        least.setdefault((place.obstacle, place.part), place)
    return list(least.values())


def _named(swept: Sweep, place: _Lowest) -> tuple[str, Part]:
    return swept.checked[place.obstacle].name, place.part


def _place(fit: Fit, pose: int) -> tuple[int, At]:
    """The family of a pose of the check, and its place there."""
    for family, where in enumerate(fit.places):
        if pose < len(where):
            return family, tuple(where[pose].tolist())
        pose -= len(where)
    raise IndexError(pose)


class _Measure:
    """Clearances in service of traces."""

    def __init__(self, effects: Effects, axle: Axle, setup: Setup) -> None:
        self.effects, self._axle, self._ride = effects, axle, setup.ride
        self._sections = Sections(effects, setup)
        self._flange = flange_top(setup.wheel)[1]
        self._moves: dict[Part, tuple[Move, ...]] = {part: moves_of(effects, part) for part in PARTS}

    def reach(self, part: Part) -> float:
        """By how much at most a clearance is narrowed [mm]."""
        radius = self._sections.radius
        pushes = (push for move in self._moves[part] for push in (move.whole, move.own))
        return self._sections.grown + max(push.reach(radius) for push in pushes)

    def name(self, part: Part, how: int) -> str:
        """How the vehicle goes in a move."""
        return self._moves[part][how].name

    def __call__(self, trace: Trace, part: Part, chosen: Index, up: Array, travel: Array) -> tuple[Array, Index]:
        """The least of every push in some poses of a trace (q,) [mm], and which push that is.

        up : the body's upward direction in the hub frame of all poses (n, 3); travel : of the chosen (q,) [mm]
        """
        step = max(ROWS // len(self._moves[part]), 1)
        pieces = [
            self._piece(trace, part, chosen[i : i + step], up, travel[i : i + step])
            for i in range(0, len(chosen), step)
        ]
        left, how = (np.concatenate(each) for each in zip(*pieces, strict=True))
        return left, how

    def _piece(self, trace: Trace, part: Part, chosen: Index, up: Array, travel: Array) -> tuple[Array, Index]:
        moves = self._moves[part]
        pushes = Pushes(tuple(move.whole for move in moves), tuple(move.own for move in moves))
        there = pushed(trace, chosen, up, pushes, self._sections.centre)
        levels = self._levels(there, np.tile(up[chosen], (len(moves), 1)), np.tile(travel, len(moves)), part)
        chained = np.repeat([move.chained for move in moves], len(chosen))
        own = [
            self._sections.of(part, self._bulge(level), chained=bool(chain))
            for level, chain in zip(levels.tolist(), chained.tolist(), strict=True)
        ]
        sections = own[0] if all(one is own[0] for one in own) else np.array(own, dtype=object)
        left = clearances(sections, there).reshape(len(moves), len(chosen))
        how = left.argmin(axis=0)
        return left[how, np.arange(len(chosen))], how

    def _bulge(self, level: int) -> float:
        bulging = self.effects.bulge
        return 0.0 if bulging is None or level < 0 else bulging.side[level]

    def _levels(self, trace: Trace, up: Array, travel: Array, part: Part) -> Index:
        """Which level of bulging counts in each pose (n,), -1 where the obstacle stands above what bulges."""
        bulging = self.effects.bulge
        if bulging is None or part != "tire":
            return np.full(len(trace), -1)
        way = max(self._axle.bump - self._ride, 1e-9)
        level = np.ceil(np.clip((travel - self._ride) / way, 0.0, 1.0) * (LEVELS - 1) - 1e-9).astype(int)
        hub = trace.hub
        if trace.obstacle.mesh is not None and isinstance(hub, CarriedCorners):
            hub = hub.box  # reaches as low at least
        lowest = np.einsum("nvi,ni->nv", np.asarray(hub), up).min(axis=1) - trace.radius
        limit = -self._flange * np.cos(np.radians(np.array(bulging.angle)))[level]
        return np.where(lowest < limit, level, -1)


def _between(swept: Sweep, measure: _Measure, found: Sequence[_Lowest]) -> list[_Lowest]:
    """The places, each moved to where it is lower between the poses of the check, where that could decide."""
    places = list(found)
    for index in range(len(swept.families)):
        mine = [
            k
            for k, place in enumerate(places)
            if place.family == index
            and not fixed_to_hub(swept.checked[place.obstacle])
            and 0 <= place.clearance < swept.checked[place.obstacle].allowance_to(place.part) + COULD_DECIDE
        ]
        if not mine:
            continue
        starts = [start_near(swept, n, index, places[k].at, places[k].clearance) for n, k in enumerate(mine)]
        there = _on_polynomials(swept, measure, index, [places[k] for k in mine])
        values, at = descend(starts, there, swept.families[index].family.turns)
        for k, value, where in zip(mine, values.tolist(), at.tolist(), strict=True):
            if value < places[k].clearance - 1e-3:
                places[k] = replace(places[k], at=tuple(where), clearance=value)
    return places


def _on_polynomials(swept: Sweep, measure: _Measure, index: int, places: Sequence[_Lowest]) -> Clearance:
    """What is measured of places by their number (q,), at other travels and shares (q, k) -> (q,) [mm]."""
    motion = swept.motion(index)

    def there(pair: Index, at: Array) -> Array:
        up, left = frames_at(motion, at)("body")[:, 2], np.empty(len(pair))
        for k in dict.fromkeys(pair.tolist()):
            mine, place = np.flatnonzero(pair == k), places[k]
            obstacle = swept.checked[place.obstacle]
            trace = trace_of_corners(obstacle, tracker(motion, obstacle)(at[mine]))
            left[mine], _ = measure(trace, place.part, np.arange(len(mine)), up[mine], at[mine, 0])
        return left

    return there


def _gap(fit: Fit, swept: Sweep, measure: _Measure, place: _Lowest) -> ServiceGap:
    """The place as it is told, measured in the solved pose."""
    obstacle = swept.checked[place.obstacle]
    poses = families(fit.axle)[place.family].poses(*np.array([place.at]).T)
    trace = trace_obstacle(obstacle, poses)
    section = fit.tire if place.part == "tire" else fit.wheel
    left, how = measure(trace, place.part, np.arange(1), poses.rotation[:, 2, :], poses.travel)
    return ServiceGap(
        obstacle.name, place.part, float(left[0]), obstacle.allowance_to(place.part),
        float(clearances(section, trace)[0]), float(poses.travel[0]), float(poses.turned[0]), str(poses.corner[0]),
        None if poses.opposite is None else float(poses.opposite[0]),
        measure.name(place.part, int(how[0])),
    )  # fmt: skip


def _takes(fit: Fit, swept: Sweep, effects: Effects, place: _Lowest | None) -> tuple[tuple[str, float], ...]:
    """By how much each effect alone narrows a place [mm], the largest first."""
    if place is None:
        return ()
    obstacle = swept.checked[place.obstacle]
    poses = families(fit.axle)[place.family].poses(*np.array([place.at]).T)
    trace, up = trace_obstacle(obstacle, poses), poses.rotation[:, 2, :]
    ideal = float(clearances(fit.tire if place.part == "tire" else fit.wheel, trace)[0])
    takes = []
    for name in effects.named:
        alone = _Measure(effects.alone(name), fit.axle, fit.setup)
        left, _ = alone(trace, place.part, np.arange(1), up, poses.travel)
        takes.append((name, ideal - float(left[0])))
    return tuple(sorted(takes, key=lambda take: -take[1]))
