"""Several changes together, where no single one serves or it is hard: the smallest set first, then the easiest to make.

What a set would do is looked up in points of the parts (`near_points`), which never say less than a check finds. The
set that looks easiest is checked as `check` does it; where it does not do, the places that came nearest join the
points. What is told was checked through all poses.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import count, product

import numpy as np
from shapely import Polygon

from fitment.answers.changes.ask import Ask, kept
from fitment.answers.changes.camber import camber_asks
from fitment.answers.changes.near_points import NearPoints, laid_points, nearest_points
from fitment.answers.changes.obstacles import moved_point, part_ask, stays, ways_of
from fitment.answers.changes.record import Change, ChangeSet, Kind, Sets, Together, Use
from fitment.answers.changes.tires import sizes_for, tire_asks
from fitment.answers.changes.travel import bump_asks, lock_asks, ride_asks, turning_circle
from fitment.answers.changes.trials import Bench, Trial, short, tightest, told
from fitment.answers.changes.usable import CAMBER, EFFORT, LOWER, ROLLED, USABLE_BUMP, USES, WIDER, usability
from fitment.answers.changes.wheels import offset_asks
from fitment.answers.changes.words import new_cautions, new_failures, too_close, worst_words
from fitment.checks.case import Case
from fitment.clearance.trace import Index
from fitment.clearance.worst_case import setup_sections
from fitment.errors import FitmentError
from fitment.frames import Array
from fitment.parts.axle import Setup
from fitment.parts.tire import overall_diameter
from fitment.progress import doing

MOST = 3  # changes of a set
TOLD = 3  # sets of the smallest size
CHECKS = 24  # sets that are checked through all poses until one serves
EASIER = 12  # the same where a hard change serves alone
FURTHER = 6  # that are checked once one does
STEPS = (1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 14, 16, 18, 20, 23, 26, 30, 35, 40, 50, 60)  # [mm] of offset, either way
WITH_TIRE = (2, 4, 6, 8, 10, 12, 15, 18, 22, 26, 30)  # [mm] the same with another tire
FARTHEST = 60  # [mm] how far a part is moved
SLACK = 0.05  # [mm] by which a point must keep what is required: less decides in no check
CLOSE = 0.05  # [mm, or deg] between two poses that are one
# how much of a kind is as much trouble as one kind further down the list; common practice, no published source
PER_STEP: Mapping[Kind, float] = {
    "offset": 10.0, "tire": 2.0, "camber": 0.5, "ride": 20.0, "part": 5.0, "steering_stop": 2.0, "bump_stop": 10.0,
}  # fmt: skip


@dataclass(frozen=True)
class SetStep:
    """One change of a set.

    value : what to set, or how far a part is moved [mm, deg, or a code]; part, way : its name and the direction
    """

    kind: Kind
    value: float | str
    part: str = ""
    way: str = ""


Steps = tuple[SetStep, ...]
Key = tuple[float, ...]


def easiest_sets(case: Case, mate: Case | None = None, *, easier: bool = False) -> Sets:
    """The easiest sets of two or three changes that make a checked build clear. Raises FitmentError.

    mate : the other corner of an axle whose sides differ; the set is made there as well, and checked
    easier : a single change serves but is hard, so that only sets without a hard change are of use
    """
    with doing("sets of changes, each checked"):
        return _Search(case, mate, easier=easier).found()


def serving_alone(changes: Sequence[Change]) -> Use:
    """How usable the easiest change is that on its own makes the build clear; 'not_usable' where there is none."""
    uses = [change.use for change in changes if change.achieves == "clears" and change.kind != "parts_together"]
    return min(uses, key=USES.index, default="not_usable")


def composed(bench: Bench, steps: Steps) -> tuple[Trial, tuple[tuple[Ask, int], ...]]:
    """The build with all of these changes, and how each is said. Raises FitmentError for one that cannot be had."""
    asked = []
    for step in steps:
        ask, i = _asked(bench, step)
        asked.append((ask, i))
        bench = bench.on(ask.lever.trial(i))
    return bench.base, tuple(asked)


def _asked(bench: Bench, step: SetStep) -> tuple[Ask, int]:
    asks: Sequence[Ask]
    if step.kind == "tire":
        first, last = tire_asks(bench)
        asks = [*first, last]
    elif step.kind == "part":
        asks = [part_ask(bench, step.part, step.way)]
    else:
        kinds = {
            "offset": offset_asks, "camber": camber_asks, "ride": ride_asks, "bump_stop": bump_asks,
            "steering_stop": lock_asks,
        }  # fmt: skip
        asks = kinds[step.kind](bench)
    for ask in asks:
        if step.value in ask.lever.values:
            return ask, list(ask.lever.values).index(step.value)
    raise FitmentError(f"{step.kind} {step.value} cannot be had here.")


@dataclass
class _Standing:
    """A wheel and tire, before stops and parts: what the points say of it so far.

    steps : that lead to it; base : of which camber; sections : tire, largest, wheel; shift : inward [mm]
    rooms : of the points that were looked at (k,) [mm]
    """

    steps: Steps
    base: int
    sections: tuple[Polygon, Polygon, Polygon]
    shift: float
    rooms: Array = field(default_factory=lambda: np.empty(0))


@dataclass
class _Base:
    """A camber: its steps and the points of its poses; laid : whether the lines of the parts are among them."""

    steps: Steps
    case: Case
    points: NearPoints
    nearest: int


class _Search:
    def __init__(self, case: Case, mate: Case | None, *, easier: bool = False) -> None:
        self._easier = easier
        self._bench, self._mate = Bench(case), None if mate is None else Bench(mate)
        fit = case.fit
        self._names = [o.name for o in fit.obstacles if any(e.obstacle == o.name for e in fit.clearances)]
        self._fixed = np.array([bool(stays(next(o for o in fit.obstacles if o.name == n))) for n in self._names])
        worst = [tightest([e for e in fit.clearances if e.obstacle == n], "clears") for n in self._names]
        self._ways = [
            [] if fixed or entry is None else ways_of(self._bench, entry)
            for fixed, entry in zip(self._fixed, worst, strict=True)
        ]
        locks, bumps = lock_asks(self._bench), bump_asks(self._bench)
        self._locks = np.array([0.0, *(float(v) for v in locks[0].lever.values)] if locks else [0.0])
        self._bumps = np.array([np.inf, *(float(v) for v in bumps[0].lever.values)] if bumps else [np.inf])
        steering = self._bench.base.ready.axle.steering
        self._inner = max(steering.lock_left, steering.lock_right) if steering else 0.0
        self._hard_lock = np.array([False, *(self._is_hard(SetStep("steering_stop", v), 0.0) for v in self._locks[1:])])
        rides = ride_asks(self._bench)
        self._lowest_ride = min((float(v) for v in rides[0].lever.values), default=np.inf) if rides else np.inf
        self._bases = [self._base(case, ())]
        self._standing: list[_Standing] = []
        self._heap: list[tuple[Key, int, int, Steps, bool]] = []  # key, order, standing, steps, whether settled
        self._order = count(0)
        self._looked: dict[int, int] = {}  # with how many points a standing was looked at
        self._tried: set[Steps] = set()
        self._told: list[Steps] = []
        self._first_at = 0  # how many were checked when the first was found
        self._blocked: dict[str, None] = {}

    # what is looked at -----------------------------------------------------------------------------------------

    def _base(self, case: Case, steps: Steps) -> _Base:
        sections = _sections(case.fit.setup)
        near = nearest_points(case.fit, self._names, sections, ())
        laid = laid_points(case.fit, self._names, near, sections)
        return _Base(steps, case, near.joined(laid), len(near.name))

    def _cambers(self) -> Iterator[_Base]:
        for ask in camber_asks(self._bench):
            if ask.lever.values:
                step = SetStep("camber", ask.lever.values[-1])
                try:
                    yield self._base(self._bench.check(composed(self._bench, (step,))[0]), (step,))
                except FitmentError:
                    continue

    def _standings(self) -> Iterator[_Standing]:
        self._bases += list(self._cambers())
        setup = self._bench.base.setup
        now = setup.wheel.offset
        offsets = {float(v) for ask in offset_asks(self._bench) for v in ask.lever.values}

        def shifted(steps: Sequence[float]) -> list[float]:
            near = {round(now + sign * by) for by in steps for sign in (-1, 1)}
            return sorted(v for v in offsets if v in near)

        sizes = [setup.tire, *(size.tire for size in sizes_for(setup))]
        for k, base in enumerate(self._bases):
            for tire in sizes if k == 0 else sizes[:1]:
                with_tire = (SetStep("tire", tire.code),) if tire is not setup.tire else ()
                if self._easier and self._hardness((*base.steps, *with_tire)):
                    continue
                own = replace(setup, tire=tire)
                try:
                    sections = _sections(own)
                except FitmentError:
                    continue
                values = [now, *shifted(WITH_TIRE if with_tire else STEPS)]
                for value in values:
                    offset = (SetStep("offset", value),) if value != now else ()
                    yield _Standing((*base.steps, *offset, *with_tire), k, sections, value - now)

    def _looked_at(self, standing: _Standing, many: int) -> Array:
        """Rooms of the first points of its base (many,) [mm]."""
        have = len(standing.rooms)
        if have < many:
            more = self._bases[standing.base].points.at(np.arange(have, many))
            rooms = more.rooms(standing.sections, more.places(shift=standing.shift))
            standing.rooms = np.concatenate([standing.rooms, rooms])
        return standing.rooms[:many]

    def _reach(self, points: NearPoints) -> tuple[Index, Index]:
        """Of each point from which lock, and from which bump stop on its pose is no longer reached (k,)."""
        left = float(np.maximum(points.steer, 0).max(initial=0.0))
        right = float(np.maximum(-points.steer, 0).max(initial=0.0))
        share = self._locks / max(self._inner, 1e-9)
        share[0] = 1.0
        turned = np.maximum(
            points.steer / max(left, 1e-9) if left > CLOSE else 0.0,
            -points.steer / max(right, 1e-9) if right > CLOSE else 0.0,
        ) + np.zeros(len(points.steer))
        lock = np.sum(turned[:, None] <= share + CLOSE / max(left, right, 1.0), axis=1)
        bump = np.sum(points.travel[:, None] <= self._bumps + CLOSE, axis=1)
        return lock, bump

    def _tables(self, standing: _Standing, many: int) -> Array:
        """Least room of each part, by lock and bump stop (parts, locks, bumps) [mm]."""
        points = self._bases[standing.base].points.at(np.arange(many))
        lock, bump = self._reach(points)
        rooms = self._looked_at(standing, many)
        table = np.full((len(self._names), len(self._locks), len(self._bumps)), np.inf)
        np.minimum.at(table.reshape(-1), np.ravel_multi_index((points.name, lock - 1, bump - 1), table.shape), rooms)
        table = np.minimum.accumulate(table[:, ::-1, ::-1], axis=1)
        return np.minimum.accumulate(table, axis=2)[:, ::-1, ::-1]

    # what looks easiest ----------------------------------------------------------------------------------------

    def _proposals(self, standing: _Standing, many: int) -> list[tuple[Key, Steps]]:
        """The easiest of each pattern (lock, bump stop or neither) on a standing, by its key; parts as they seem."""
        table = self._tables(standing, many)
        short = table < SLACK
        blocked = np.any(short & self._fixed[:, None, None], axis=0)
        lacking = np.where(short, np.minimum(-table, FARTHEST) + SLACK, 0.0)
        parts = short.sum(axis=0)
        ride = self._bench.base.setup.ride
        proposals = []
        for is_lock, is_bump in product((False, True), (False, True)):
            i, j = (slice(1, None) if used else slice(0, 1) for used in (is_lock, is_bump))
            if table[0, i, j].size == 0:
                continue
            bumps = np.where(np.isinf(self._bumps[j]), ride + USABLE_BUMP, self._bumps[j])
            raised = np.maximum(ride + USABLE_BUMP - bumps, 0.0) * is_bump
            raised = np.where(ride - raised >= self._lowest_ride, raised, np.where(raised > 0, np.inf, 0.0))
            size = len(standing.steps) + is_lock + is_bump + (raised > 0) + parts[i, j]
            cost = np.sum(lacking[:, i, j] / PER_STEP["part"], axis=0)
            cost = (
                cost + (np.arange(size.shape[0])[:, None] + is_lock) / 4 + 0.1 * np.arange(size.shape[1]) + raised / 20
            )
            out = blocked[i, j] | (size > MOST) | (size < 2) | np.isinf(raised)
            if self._easier:
                out = out | self._hard_lock[i, None] | np.any(lacking[:, i, j] > ROLLED, axis=0)
            cost = np.where(out, np.inf, cost + 1000.0 * size)
            a, b = np.unravel_index(int(np.argmin(cost)), cost.shape)
            if np.isinf(cost[a, b]):
                continue
            steps = list(standing.steps)
            if raised[b] > 0:
                steps.append(SetStep("ride", float(np.floor(ride - raised[b]))))
            steps += [SetStep("bump_stop", float(self._bumps[j][b]))] if is_bump else []
            steps += [SetStep("steering_stop", float(self._locks[i][a]))] if is_lock else []
            ia, jb = a + is_lock, b + is_bump
            steps += [
                SetStep("part", float(np.ceil(lacking[n, ia, jb])), self._names[n])
                for n in np.flatnonzero(short[:, ia, jb])
            ]
            proposals.append((self._key(tuple(steps)), tuple(steps)))
        return proposals

    def _key(self, steps: Steps) -> Key:
        """Smallest first, then what is not hard, then the kind that is the most trouble, then how much of all."""
        setup = self._bench.base.setup
        amount = sum(EFFORT.index(step.kind) + self._amount(step, setup) / PER_STEP[step.kind] for step in steps)
        return len(steps), self._hardness(steps), max(EFFORT.index(step.kind) for step in steps), amount

    def _hardness(self, steps: Steps) -> int:
        """1 where any of the changes is hard, else 0."""
        setup = self._bench.base.setup
        return max((int(self._is_hard(step, self._amount(step, setup))) for step in steps), default=0)

    def _amount(self, step: SetStep, setup: Setup) -> float:
        if step.kind == "tire":
            size = next(s for s in sizes_for(setup) if s.tire.code == step.value)
            return 0.2 * size.narrower + 100 * size.lower / overall_diameter(setup.tire)
        assert isinstance(step.value, float)
        present = {
            "offset": setup.wheel.offset, "ride": setup.ride, "steering_stop": self._inner,
            "bump_stop": self._bench.base.ready.axle.bump, "camber": self._bench.stance.camber,
        }.get(step.kind, 0.0)  # fmt: skip
        return abs(step.value - present)

    def _is_hard(self, step: SetStep, by: float) -> bool:
        """As far as it is known before the set is made; `usability` says it of the set that was."""
        if step.kind == "part":
            return by > ROLLED
        if step.kind == "tire":
            size = next(s for s in sizes_for(self._bench.base.setup) if s.tire.code == step.value)
            return 100 * size.lower / overall_diameter(self._bench.base.setup.tire) > LOWER
        if step.kind == "steering_stop":
            steering = self._bench.base.ready.axle.steering
            return steering is not None and turning_circle(steering, float(step.value)) > WIDER
        return step.kind == "camber" and abs(float(step.value)) > CAMBER

    def _settled(self, standing: _Standing, steps: Steps) -> Steps | None:
        """The parts' directions and how far each has to go by the points; None where one would have to go too far."""
        base = self._bases[standing.base]
        lock, bump = self._reach(base.points)
        limits = {step.kind: step.value for step in steps}
        i = int(np.flatnonzero(self._locks == limits["steering_stop"])[0]) if "steering_stop" in limits else 0
        j = int(np.flatnonzero(self._bumps == limits["bump_stop"])[0]) if "bump_stop" in limits else 0
        stay = (lock > i) & (bump > j)
        settled = []
        for step in steps:
            if step.kind != "part":
                settled.append(step)
                continue
            n = self._names.index(step.part)
            own = np.flatnonzero(stay & (base.points.name == n))
            points, now = base.points.at(own), self._looked_at(standing, len(stay))[own]
            best = min((self._way_off(standing, points, now, way) for way in self._ways[n]), default=None)
            if best is None or best[0] > FARTHEST:
                return None
            settled.append(SetStep("part", best[0], step.part, best[1]))
        return tuple(settled)

    def _way_off(self, standing: _Standing, points: NearPoints, now: Array, way: str) -> tuple[float, str]:
        """How far a part has to move in a direction, whole mm; beyond FARTHEST where that is too little.

        now : rooms of the points before it moves (k,) [mm]; none changes by more than the part moves
        """
        centre = self._bench.case.fit.axle.hub_face_at
        low, high = 0, FARTHEST + 1
        while high - low > 1:  # farther is taken to be better, as it is for what is moved away
            middle = (low + high) // 2
            near = now < middle + SLACK
            points, now = points.at(np.flatnonzero(near)), now[near]
            body = moved_point(points.body, centre, way, middle)
            rooms = points.rooms(standing.sections, points.places(body, standing.shift))
            short = rooms < SLACK
            low, high = (middle, high) if short.any() else (low, middle)
            left = short if short.any() else rooms < SLACK + middle - low
            points, now = points.at(np.flatnonzero(left)), now[left]
        return float(high), way

    # checked ---------------------------------------------------------------------------------------------------

    def found(self) -> Sets:
        """The search itself: what looks easiest is checked, and what it learns counts for all."""
        self._standing = list(self._standings())
        for k in range(len(self._standing)):
            self._put(k, self._bases[self._standing[k].base].nearest)
        sets: list[ChangeSet] = []
        one_sided: list[ChangeSet] = []
        while self._heap and self._goes_on(sets):
            steps = self._easiest()
            if (
                steps is None
                or steps[1] in self._tried
                or any(_changes(each) <= _changes(steps[1]) for each in self._told)
            ):
                continue
            self._tried.add(steps[1])
            made = self._checked(*steps)
            if made is not None:
                (sets if made.other_verdict in (None, "clears") else one_sided).append(made)
        told = tuple(sorted((sets or one_sided)[:TOLD], key=lambda each: (len(each.changes), USES.index(each.use))))
        blocked = () if told else tuple(self._blocked) or self._bench.offenders("clears")
        return Sets(told, blocked, self._bench.checked, ran_out=bool(self._heap) and not told, easier=self._easier)

    def _goes_on(self, sets: Sequence[ChangeSet]) -> bool:
        """Whether to look for more: of a size with one that is usable, and not for long once there is one."""
        if not sets:
            return len(self._tried) < (EASIER if self._easier else CHECKS)
        larger = self._heap[0][0][0] > len(sets[0].changes)
        if larger and any(each.use == "usable" for each in sets):
            return False
        return len(sets) < TOLD and len(self._tried) < self._first_at + FURTHER

    def _put(self, k: int, many: int) -> None:
        for key, steps in self._proposals(self._standing[k], many):
            heapq.heappush(self._heap, (key, next(self._order), k, steps, False))

    def _easiest(self) -> tuple[_Standing, Steps] | None:
        """What looks easiest, if all points say so; else it is put back where they put it."""
        key, _, k, steps, settled = heapq.heappop(self._heap)
        standing = self._standing[k]
        many = len(self._bases[standing.base].points.name)
        if self._looked.get(k) != many:  # what was learned since says more
            self._looked[k] = many
            self._heap = [each for each in self._heap if each[2] != k]
            heapq.heapify(self._heap)
            self._put(k, many)
            return None
        if settled:
            return standing, steps
        exact = self._settled(standing, steps)
        if exact is not None and not (self._easier and self._hardness(exact)):
            heapq.heappush(self._heap, (max(key, self._key(exact)), next(self._order), k, exact, True))
        return None

    def _checked(self, standing: _Standing, steps: Steps) -> ChangeSet | None:
        """The set as a check finds it; None where it does not do, which is learned from."""
        try:
            trial, asked = composed(self._bench, steps)
            case = self._bench.check(trial)
        except FitmentError:
            return None
        if kept(case):
            case = self._bench.told(case)
            return self._made(case, steps, asked) if kept(case) else None
        moves = [(s.part, s.way, float(s.value)) for s in steps if s.kind == "part"]
        base = self._bases[standing.base]
        base.points = base.points.joined(nearest_points(case.fit, self._names, _sections(case.fit.setup), moves))
        close = [e.obstacle for e in case.fit.worst_each if e.margin < 0 or e.worst_case < 0]
        self._blocked |= dict.fromkeys(close)
        return None

    def _made(self, case: Case, steps: Steps, asked: Sequence[tuple[Ask, int]]) -> ChangeSet | None:
        changes = tuple(self._change(case, step, *each) for step, each in zip(steps, asked, strict=True))
        worst = max(changes, key=lambda change: USES.index(change.use))
        failed = new_failures(self._bench.case, case)
        use: Use = "hard" if failed and worst.use == "usable" else worst.use
        if self._easier and use != "usable":
            return None
        without = tuple(self._without(steps, i, case) for i in range(len(steps)))
        if any(each.entry is not None and short(each.entry, "clears") >= 0 for each in without):
            return None  # fewer of them serve
        self._first_at = self._first_at if self._told else len(self._tried)
        self._told.append(steps)
        caution = new_cautions(self._bench.case, case)
        other = self._other_corner(steps)
        return ChangeSet(
            changes, tuple(without), case.fit.verdict, case.fit.worst,
            use=use, use_why=worst.use_why or ("does not bolt on without other parts" if failed else ""),
            note=" ".join(filter(None, (
                f"But then the build does not bolt on: {failed}." if failed else "",
                f"These bolt-on checks then become cautions: {caution}." if caution else "",
            ))),
            apply=_together(asked), other_corner="" if other is None else other.fit.axle.name,
            other_verdict=None if other is None else other.fit.verdict,
        )  # fmt: skip

    def _change(self, case: Case, step: SetStep, ask: Ask, i: int) -> Change:
        value = ask.lever.values[i]
        by = None if isinstance(value, str) or isinstance(ask.present, str) else value - ask.present
        effects = ask.effects(i, case)
        use, why = usability(step.kind, by, effects, "", ask.present)
        return Change(
            step.kind, ask.what(i), "clears", case.fit.verdict, case.fit.worst,
            value=value, unit=ask.unit, by=by, part=ask.part, side_effects=effects, caution=ask.caution, use=use,
            use_why=why, apply=ask.apply(i),
        )  # fmt: skip

    def _without(self, steps: Steps, i: int, case: Case) -> Together:
        """What the set lacks without one of its changes."""
        step, rest = steps[i], (*steps[:i], *steps[i + 1 :])
        if step.kind == "ride":
            bump = next((float(s.value) for s in steps if s.kind == "bump_stop"), 0.0)
            return Together(
                None, f"the bump stop leaves {bump - self._bench.base.setup.ride:g} mm of bump travel from rest"
            )
        trial = composed(self._bench, rest)[0]
        parts = {step.part} if step.kind == "part" else None
        entries = self._bench.against(trial, parts) if parts else self._bench.check(trial).fit.clearances
        entry = told(entries, case.fit.setup.ride)
        return Together(entry, "" if entry is None else too_close(entry) + worst_words(entry, entry))

    def _other_corner(self, steps: Steps) -> Case | None:
        if self._mate is None:
            return None
        try:
            return self._mate.told(self._mate.check(composed(self._mate, steps)[0]))
        except FitmentError:
            return self._mate.case  # it cannot be made there, so nothing is better


def _sections(setup: Setup) -> tuple[Polygon, Polygon, Polygon]:
    nominal, largest = setup_sections(setup), setup_sections(setup, largest=True)
    return nominal["tire"], largest["tire"], nominal["wheel"]


def _changes(steps: Steps) -> set[tuple[str, str]]:
    """What a set changes."""
    return {(step.kind, step.part) for step in steps}


def _together(asked: Sequence[tuple[Ask, int]]) -> dict[str, object]:
    """All of the changes as `apply` of each has them; parts as a build's `obstacles` has them."""
    together: dict[str, object] = {}
    parts: dict[str, object] = {}
    for ask, i in asked:
        made = dict(ask.apply(i))
        if "obstacle" in made:
            parts[str(made["obstacle"])] = {"move": made["move"]}
        else:
            together |= made
    return together | ({"obstacles": parts} if parts else {})
