"""How far a build with something changed keeps a goal with some obstacles, before it is checked."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import cache

import numpy as np

from fitment.answers.changes.trials import Bench, Goal, short, tightest
from fitment.checks.fit import Clearance
from fitment.clearance.section_distance import clearances
from fitment.clearance.trace import Trace
from fitment.frames import Array
from fitment.parts.axle import Setup
from fitment.parts.obstacles import Part
from fitment.screening.verdicts import BETTER, LESS

AT_ONCE = 20  # setups that are looked up side by side
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


def left_over(bench: Bench, stays: Callable[[int, Clearance], bool]) -> Look:
    """From what the check of the build found in poses that stay; a check of what is left finds no more."""

    def look(i: int, goal: Goal, names: frozenset[str]) -> float:
        entries = (e for e in bench.case.fit.clearances if e.obstacle in names and stays(i, e))
        return min((short(e, goal) for e in entries), default=np.inf)

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
