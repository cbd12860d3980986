"""A build with something changed, checked again: against all parts, against some, or looked up in what these sweep."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, replace
from functools import cache, cached_property, lru_cache
from typing import Literal

from fitment.answers.changes.in_service import required_as_well, told_in_service, told_with_parts
from fitment.checks.case import Case, Ready, run
from fitment.checks.fit import Clearance, Fit, fit_setup
from fitment.clearance.pose_grid import sweep
from fitment.motion.wheel_position import WheelPosition, position_at_rest
from fitment.parts.axle import Axle, Setup
from fitment.screening.keep_out import Closest, KeepOut, keep_out_at, look_up

Goal = Literal["clears", "no_contact"]
SWEEPS = 4  # that are kept for the next check of the same axle


@dataclass(frozen=True)
class Trial:
    """A build with something changed, in the axle, in its variants and in the setup alike."""

    ready: Ready
    setup: Setup
    others: tuple[Setup, ...] = ()


def short(entry: Clearance, goal: Goal) -> float:
    """By how much an entry keeps what the goal asks [mm], negative where it does not. Source: derived here."""
    return min(entry.margin, entry.worst_case) if goal == "clears" else entry.clearance


def tightest(entries: Sequence[Clearance], goal: Goal, ride: float = 0.0) -> Clearance | None:
    """The entry that keeps the goal by the least; among equals the pose nearest to rest.

    ride : travel at rest [mm]
    Source: `short`.
    """
    return min(
        entries, key=lambda e: (round(short(e, goal), 6), abs(e.travel - ride), abs(e.steer)), default=None
    )  # fmt: skip


def told(entries: Sequence[Clearance], ride: float = 0.0) -> Clearance | None:
    """The entry to say what is too close: an overlap, else a clearance that is short, else the smallest worst case.

    ride : travel at rest [mm]
    Source: derived here, the order in which a check tells what limits.
    """
    first = min(entries, key=lambda e: (e.urgency, abs(e.travel - ride), abs(e.steer)), default=None)
    return first if first is None or first.clearance < 0 or first.margin < 0 else tightest(entries, "clears", ride)


def with_axle(trial: Trial, axle: Axle, variants: Sequence[Axle]) -> Trial:
    """The trial on another axle; `variants` are those of the trial, changed in the same way."""
    changed = tuple(replace(v, axle=a) for v, a in zip(trial.ready.variants, variants, strict=True))
    return replace(trial, ready=replace(trial.ready, axle=axle, variants=changed))


def only(trial: Trial, names: Collection[str]) -> Trial:
    """The trial with some of its obstacles."""

    def some(axle: Axle) -> Axle:
        return replace(axle, obstacles=tuple(o for o in axle.obstacles if o.name in names))

    return with_axle(trial, some(trial.ready.axle), [some(v.axle) for v in trial.ready.variants])


class Bench:
    """Where the trials of one build are made.

    case : the build as it is; base : the same as a trial
    in_service : what the build has left in service; where it counts, `case` and trials require what it takes as well
    checked : how many checks were made so far, of all parts or of the ones that matter
    """

    def __init__(self, case: Case) -> None:
        self.in_service = case.fit.in_service
        self.case = case = required_as_well(case)
        self.base = Trial(case.ready, case.fit.setup, case.others)
        self.checked = 0
        self._swept = lru_cache(SWEEPS)(sweep)
        self._around = cache(self._kept_out)
        self._keep_outs: dict[str, KeepOut] = {}
        self._entries: dict[tuple[Axle, Setup], tuple[Clearance, ...]] = {}
        self._rooms: dict[Goal, dict[str, float]] = {}

    def on(self, trial: Trial) -> Bench:
        """The same bench where a trial is what is changed further; what it knows of the build stays."""
        bench = copy(self)
        bench.base = trial
        return bench

    @cached_property
    def stance(self) -> WheelPosition:
        """Where the build as it is stands."""
        return self.stance_of(self.case)

    def stance_of(self, case: Case) -> WheelPosition:
        """Where a checked trial stands, on its tire's own loaded radius."""
        return position_at_rest(case.ready.axle, case.fit.setup, case.ready.deflection)

    def rooms(self, goal: Goal) -> Mapping[str, float]:
        """By how much each obstacle keeps the goal in the build as it is [mm], the worst first. Source: `short`."""
        if goal not in self._rooms:
            room: dict[str, float] = {}
            for entry in self.case.fit.clearances:
                room[entry.obstacle] = min(short(entry, goal), room.get(entry.obstacle, float("inf")))
            self._rooms[goal] = dict(sorted(room.items(), key=lambda each: each[1]))
        return self._rooms[goal]

    def offenders(self, goal: Goal) -> tuple[str, ...]:
        """Obstacles that are too close in the build as it is, worst first."""
        return tuple(name for name, room in self.rooms(goal).items() if room < 0)

    def check(self, trial: Trial) -> Case:
        """The trial as `check` would find it. Raises FitmentError."""
        self.checked += 1
        swept, other = self._swept(trial.ready.axle, trial.setup.ride), self.case.other_setup
        return run(trial.ready, trial.setup, swept, others=trial.others, other_axle=other)

    def told(self, case: Case, moved: Mapping[str, Trial] | None = None) -> Case:
        """A checked trial as `check` tells it, in service too where that counts. Raises FitmentError.

        moved : of each part of the body that alone was moved, the trial that it was checked on
        """
        if self.in_service is None:
            return case
        if not moved:
            return told_in_service(case)
        return told_with_parts(
            case, self.in_service, {name: self._fit(only(own, {name})) for name, own in moved.items()}
        )

    def against(self, trial: Trial, names: Collection[str]) -> tuple[Clearance, ...]:
        """What a check of the trial finds of some obstacles, through all poses. Raises FitmentError."""
        some = only(trial, names)
        key = some.ready.axle, trial.setup
        if key not in self._entries:
            self._entries[key] = self._fit(some).clearances
        return self._entries[key]

    def _fit(self, trial: Trial) -> Fit:
        self.checked += 1
        swept = self._swept(trial.ready.axle, trial.setup.ride)
        return fit_setup(trial.setup, swept, trial.ready.variants, trial.others)

    def with_part(self, name: str, entries: Sequence[Clearance], case: Case | None = None) -> Case:
        """The build with one part of the body moved, which leaves every other part where it was checked.

        entries : what a check found of the part where it is now, through all poses
        case : the build with other parts moved already; None as it is
        """
        case = case or self.case
        others = tuple(entry for entry in case.fit.clearances if entry.obstacle != name)
        return replace(case, fit=replace(case.fit, clearances=(*others, *entries)))

    def looked_up(self, setups: Sequence[Setup], names: frozenset[str]) -> Closest:
        """How near setups at the build's ride height come to some obstacles. Raises FitmentError."""
        return look_up(self._around(names), setups).closest

    def _kept_out(self, names: frozenset[str]) -> KeepOut:
        """Some obstacles as wheels meet them, each swept once."""
        for name in names - set(self._keep_outs):
            self._keep_outs[name] = keep_out_at(only(self.base, {name}).ready, self.base.setup.ride)
        kept = [self._keep_outs[name] for name in sorted(names)]
        swept = tuple(part for keep_out in kept for part in keep_out.swept)
        return replace(kept[0], axle=only(self.base, names).ready.axle, swept=swept)
