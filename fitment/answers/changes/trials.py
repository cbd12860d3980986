"""A build with something changed, checked again: through all poses, or quickly in the poses known already."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from fitment.checks.case import Case, Ready, run
from fitment.checks.fit import Clearance, Fit, fit_setup
from fitment.clearance.pose_grid import Sweep, SweptFamily, Variant, grid, sweep
from fitment.clearance.section_distance import clearances
from fitment.clearance.trace import Trace, trace_obstacle
from fitment.frames import Array
from fitment.motion.suspension import families
from fitment.motion.wheel_position import WheelPosition, position_at_rest
from fitment.parts.axle import Axle, Setup
from fitment.parts.obstacles import Part
from fitment.parts.sections import tire_section, wheel_section

FAR = -1.0  # [mm] short of the goal by more than that, a quick look at the closest poses is enough
Goal = Literal["clears", "no_contact"]


@dataclass(frozen=True)
class Trial:
    """A build with something changed, in the axle, in its variants and in the setup alike."""

    ready: Ready
    setup: Setup
    others: tuple[Setup, ...] = ()


@dataclass(frozen=True)
class Guess:
    """About how far a trial keeps a goal [mm], the obstacle that it keeps by the least, and the travel there [mm].

    rough : only the poses that were the closest before were looked at, so that it may be less
    others : obstacles that do not keep it either
    """

    room: float
    obstacle: str
    travel: float
    rough: bool = False
    others: tuple[str, ...] = ()


def short(entry: Clearance, goal: Goal) -> float:
    """By how much an entry keeps what the goal asks [mm], negative where it does not."""
    return min(entry.margin, entry.worst_case) if goal == "clears" else entry.clearance


def tightest(entries: Sequence[Clearance], goal: Goal, ride: float = 0.0) -> Clearance | None:
    """The entry that keeps the goal by the least; among equals the pose nearest to rest."""
    return min(
        entries, key=lambda e: (round(short(e, goal), 6), abs(e.travel - ride), abs(e.steer)), default=None
    )  # fmt: skip


def told(entries: Sequence[Clearance], ride: float = 0.0) -> Clearance | None:
    """The entry to say what is too close: an overlap, else a clearance that is short, else the smallest worst case."""
    first = min(entries, key=lambda e: (e.urgency, abs(e.travel - ride), abs(e.steer)), default=None)
    return first if first is None or first.clearance < 0 or first.margin < 0 else tightest(entries, "clears", ride)


def with_axle(trial: Trial, axle: Axle, variants: Sequence[Axle]) -> Trial:
    """The trial on another axle; `variants` are those of the trial, changed in the same way."""
    changed = tuple(Variant(v.reading, a) for v, a in zip(trial.ready.variants, variants, strict=True))
    return replace(trial, ready=replace(trial.ready, axle=axle, variants=changed))


class Bench:
    """Where the trials of one build are made.

    case : the build as it is; base : the same as a trial
    checked : how many checks were made so far, of all poses or of the ones that matter most
    """

    def __init__(self, case: Case) -> None:
        self.case = case
        self.base = Trial(case.ready, case.fit.setup, case.others)
        self.checked = 0
        self._sweep: Sweep | None = None
        self._room: dict[Goal, dict[tuple[str, Part], float]] = {"clears": {}, "no_contact": {}}
        self._poses: dict[Goal, dict[tuple[str, Part], Array]] = {}
        self._asked: dict[tuple[str, Part], float] = {}
        for entry in case.fit.clearances:
            key = (entry.obstacle, entry.part)
            for goal, room in self._room.items():
                if short(entry, goal) < room.get(key, float("inf")):
                    room[key] = short(entry, goal)
                    if goal == "clears":
                        self._asked[key] = max(entry.allowance, entry.clearance - entry.worst_case)

    @cached_property
    def stance(self) -> WheelPosition:
        """Where the build as it is stands."""
        return self.stance_of(self.case)

    def stance_of(self, case: Case) -> WheelPosition:
        """Where a checked trial stands, on its tire's own loaded radius."""
        return position_at_rest(case.ready.axle, case.fit.setup, case.ready.deflection)

    def offenders(self, goal: Goal) -> tuple[str, ...]:
        """Obstacles that are too close in the build as it is, worst first."""
        room = self._room[goal]
        return tuple(dict.fromkeys(pair[0] for pair in sorted(room, key=lambda pair: room[pair]) if room[pair] < 0))

    def within(self, goal: Goal, reach: float) -> set[str]:
        """Obstacles that a change of every clearance by at most `reach` [mm] could bring too close."""
        return {name for (name, _), room in self._room[goal].items() if room < reach}

    def check(self, trial: Trial) -> Case:
        """The trial as `check` would find it. Raises FitmentError."""
        self.checked += 1
        other = self.case.other_setup
        return run(trial.ready, trial.setup, self._swept(trial), others=trial.others, other_axle=other)

    def alone(self, trial: Trial, names: Collection[str], travel: float | None = None) -> Fit:
        """The trial against some of the obstacles, through all poses or all steering at one travel [mm].

        Raises FitmentError.
        """
        self.checked += 1
        variants = [Variant(v.reading, only(v.axle, names)) for v in trial.ready.variants]
        axle = only(trial.ready.axle, names)
        swept = sweep(axle, trial.setup.ride) if travel is None else _sweep_at(axle, travel)
        return fit_setup(trial.setup, swept, variants, trial.others)

    def quick(
        self, trial: Trial, goal: Goal, names: Collection[str], reach: float | None = None, *, whole: bool = False
    ) -> Guess:
        """About how the trial keeps the goal, in poses that are known.

        Contact is certain; what a clearance loses in the worst case is taken from the build as it is. Where the
        poses that were the closest are far from kept, the others are looked at only when `whole`.
        reach : bound on the change of every clearance [mm]; poses that by it cannot be the closest are left out
        """
        traced, sections = self._traces(trial, names), self._sections(trial)
        if not self.same_motion(trial):
            return self._least(traced, sections, goal, None)
        closest = {key: room <= room.min() for key, room in self._by_pose(goal).items()}
        first = self._least(traced, sections, goal, closest)
        if first.room < FAR and not whole:
            return replace(first, rough=True)
        if reach is None:
            return self._least(traced, sections, goal, None)
        limit = min(room for (name, _), room in self._room[goal].items() if name in names) + 2 * reach + 1.0
        limit = max(limit, reach) if whole else limit  # then all that are too close are named
        return self._least(traced, sections, goal, {key: room <= limit for key, room in self._by_pose(goal).items()})

    def _least(
        self,
        traced: Sequence[tuple[Trace, Array]],
        sections: Mapping[Part, Polygon],
        goal: Goal,
        poses: Mapping[tuple[str, Part], NDArray[np.bool_]] | None,
    ) -> Guess:
        """What is kept by the least, in some poses of the build or in all that are traced."""
        found = []
        for each, travel in traced:
            for part in each.obstacle.meets:
                chosen = np.ones(len(each), dtype=bool) if poses is None else poses[each.obstacle.name, part]
                if chosen.any():
                    values = clearances(sections[part], each if chosen.all() else each.at(chosen))
                    k = int(np.argmin(values))
                    room = float(values[k]) - self._needed(each.obstacle.name, part, goal)
                    found.append(Guess(room, each.obstacle.name, float(travel[chosen][k])))
        least = min(found, key=lambda guess: guess.room)
        short_too = sorted({guess.obstacle for guess in found if guess.room < 0} - {least.obstacle})
        return replace(least, others=tuple(short_too))

    def _by_pose(self, goal: Goal) -> dict[tuple[str, Part], Array]:
        """How far the build as it is keeps the goal, of every obstacle and part in every pose [mm]."""
        if goal not in self._poses:
            kept: dict[tuple[str, Part], list[float]] = {}
            for entry in self.case.fit.clearances:
                key = (entry.obstacle, entry.part)
                kept.setdefault(key, []).append(entry.clearance - self._needed(*key, goal))
            self._poses[goal] = {key: np.array(values) for key, values in kept.items()}
        return self._poses[goal]

    def _needed(self, name: str, part: Part, goal: Goal) -> float:
        return self._asked[name, part] if goal == "clears" else 0.0

    def _sections(self, trial: Trial) -> dict[Part, Polygon]:
        wheel, spacer = trial.setup.wheel, trial.setup.spacer.thickness
        return {"tire": tire_section(trial.setup.tire, wheel, spacer), "wheel": wheel_section(wheel, spacer)}

    def _traces(self, trial: Trial, names: Collection[str]) -> list[tuple[Trace, Array]]:
        """Traces of some obstacles with their travels: in the build's poses where they are the same, else on a grid."""
        known, axle = self.case.fit, trial.ready.axle
        if self.same_motion(trial):
            as_is = {each.obstacle: each for each in known.traces}
            wanted = [o for o in axle.obstacles if o.name in names]
            return [(as_is.get(o) or trace_obstacle(o, known.poses), known.poses.travel) for o in wanted]
        swept = sweep(only(axle, names), trial.setup.ride)
        return [(each, family.travel) for family in swept.families for each in family.traces]

    def same_motion(self, trial: Trial) -> bool:
        """Whether the trial has the poses of the build as it is."""
        mine, axle = trial.ready.axle, self.base.ready.axle
        same = mine is axle or replace(mine, obstacles=()) == replace(axle, obstacles=())
        return same and trial.setup.ride == self.base.setup.ride

    def _swept(self, trial: Trial) -> Sweep:
        axle, ride = trial.ready.axle, trial.setup.ride
        if axle is not self.base.ready.axle or ride != self.base.setup.ride:
            return sweep(axle, ride)
        if self._sweep is None:
            self._sweep = sweep(axle, ride)
        return self._sweep


def _sweep_at(axle: Axle, travel: float) -> Sweep:
    """The sweep of an axle at one travel only [mm], all of its obstacles with a known motion."""
    level = np.array([travel])
    found = [SweptFamily(each, grid(level, *each.search_levels), axle.obstacles) for each in families(axle)]
    return Sweep(axle, level, axle.obstacles, (), tuple(found))


def only(axle: Axle, names: Collection[str]) -> Axle:
    """The axle with some of its obstacles."""
    return replace(axle, obstacles=tuple(o for o in axle.obstacles if o.name in names))
