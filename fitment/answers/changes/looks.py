"""How far a build with something changed keeps a goal with some obstacles, before it is checked."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial

import numpy as np

from fitment.answers.changes.trials import Bench, Goal, short, tightest
from fitment.checks.fit import Clearance, Fit
from fitment.clearance.section_distance import Sections, clearances, outside, signed_distance
from fitment.clearance.trace import Trace, trace_obstacle
from fitment.clearance.worst_case import setup_sections
from fitment.frames import Array, to_half_plane
from fitment.motion.poses import Poses
from fitment.parts.axle import Setup
from fitment.parts.obstacles import Part
from fitment.screening.verdicts import BETTER, LESS

AT_ONCE = 20  # setups that are looked up side by side
TIGHTEST = 8  # poses of each part in which a bound is taken
SLACK = 0.1  # [mm] by which a check may find more in a pose that is not on its grid
Look = Callable[[int, Goal, frozenset[str]], float]
"""About how far values[i] of a lever keep a goal with some obstacles [mm]."""


def looked_up(bench: Bench, setup: Callable[[int], Setup], count: int) -> Look:
    """Of setups (count,) on the build's axle, from the sweep of the obstacles; a check finds no more."""

    @cache
    def rooms(names: frozenset[str], first: int) -> dict[Goal, Array]:
        met = bench.looked_up([setup(i) for i in range(first, min(first + AT_ONCE, count))], names)
        clears = np.minimum(met.margin + LESS, met.worst_at_nearest + BETTER)
        return {"clears": clears, "no_contact": met.clearance + LESS}

    return lambda i, goal, names: float(rooms(names, i - i % AT_ONCE)[goal][i % AT_ONCE])


def bounded(bench: Bench, setup: Callable[[int], Setup]) -> Look:
    """Of setups on the build's axle, from the poses in which it comes closest now: a check finds no more.

    Quick, since it stops at the first obstacle that is too close, and for a value that cannot do no obstacle is swept.
    """
    fit = bench.case.fit

    close = cache(partial(_close, fit))

    @cache
    def sections(i: int, largest: bool) -> dict[Part, Sections]:
        return setup_sections(setup(i), largest=largest)

    @cache
    def room(i: int, goal: Goal, name: str) -> float:
        trace, near = close(name)
        least = _nominal(trace, near, sections(i, False), goal)
        if least >= -SLACK and goal == "clears" and "tire" in near:
            least = min(least, float(outside(sections(i, True)["tire"], trace).min()))
        return least + SLACK

    def look(i: int, goal: Goal, names: frozenset[str]) -> float:
        least = np.inf
        for name in bench.rooms(goal):
            if name in names and (least := min(least, room(i, goal, name))) < 0:
                break
        return float(least)

    return look


@dataclass(frozen=True)
class _Passing:
    """How near an obstacle comes to tire or wheel as the build is.

    allowance, radius : [mm]; core : places (y', r) (q, 2) of the obstacle's core that come nearest, a pose each [mm]
    """

    allowance: float
    radius: float
    core: Array


def _close(fit: Fit, name: str) -> tuple[Trace, dict[Part, _Passing]]:
    """An obstacle in its TIGHTEST poses, and how near it comes, the tighter part first."""
    trace = next(trace for trace in fit.traces if trace.obstacle.name == name)
    entries = sorted((e for e in fit.clearances if e.obstacle == name), key=lambda e: short(e, "clears"))
    own = {part: [e for e in entries if e.part == part] for part in dict.fromkeys(e.part for e in entries)}
    poses = {e.pose for near in own.values() for e in near[:TIGHTEST]}
    return trace_obstacle(trace.obstacle, fit.poses.at(np.array(sorted(poses)))), {
        part: _Passing(near[0].allowance, trace.obstacle.radius, _core(fit.poses, near)) for part, near in own.items()
    }


def _nominal(trace: Trace, near: Mapping[Part, _Passing], sections: Mapping[Part, Sections], goal: Goal) -> float:
    """The most that a check could find of the nominal tire and wheel [mm]; no more is looked for below -SLACK."""
    least = np.inf
    for part, own in near.items():
        asked = own.allowance if goal == "clears" else 0.0
        least = min(least, float(signed_distance(sections[part], own.core).min()) - own.radius - asked)
        if least >= -SLACK:  # what is inside for certain is not looked for
            least = min(least, float(outside(sections[part], trace).min()) - asked)
        if least < -SLACK:
            break
    return least


def _core(poses: Poses, entries: Sequence[Clearance]) -> Array:
    at = np.array([e.pose for e in entries])
    off = np.array([e.point for e in entries]) - poses.origin[at]
    return to_half_plane(np.einsum("ni,nij->nj", off, poses.rotation[at]))


def left_over(bench: Bench, stays: Callable[[int, Clearance], bool]) -> Look:
    """From what the check of the build found in poses that stay; a check of what is left finds no more."""

    @cache
    def tightest_first(goal: Goal, names: frozenset[str]) -> list[Clearance]:
        return sorted((e for e in bench.case.fit.clearances if e.obstacle in names), key=lambda e: short(e, goal))

    def look(i: int, goal: Goal, names: frozenset[str]) -> float:
        return next((short(e, goal) for e in tightest_first(goal, names) if stays(i, e)), np.inf)

    return look


def traced(bench: Bench, traces: Callable[[int, frozenset[str]], Iterable[Trace]]) -> Look:
    """From traces of the obstacles in some poses. In the worst case a clearance is taken to lose what it loses now."""
    fit = bench.case.fit
    sections = {"tire": fit.tire, "wheel": fit.wheel}

    @cache
    def asked(name: str, part: Part) -> float:
        entry = tightest([e for e in fit.clearances if (e.obstacle, e.part) == (name, part)], "clears")
        return 0.0 if entry is None else max(entry.allowance, entry.clearance - entry.worst_case)

    @cache
    def free(i: int, names: frozenset[str]) -> list[tuple[str, Part, float]]:
        return [
            (trace.obstacle.name, part, float(clearances(sections[part], trace).min()))
            for trace in traces(i, names)
            for part in trace.obstacle.meets
        ]

    return lambda i, goal, names: min(
        clear - (asked(name, part) if goal == "clears" else 0.0) for name, part, clear in free(i, names)
    )
