"""The least change of one kind that reaches a goal: guessed quickly, then checked through all poses.

A lever has values from the smallest change to the largest. The value given back was itself checked, and so was the one
a step smaller, which does not reach the goal. Where no value seems to, the nearest miss was checked.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from fitment.answers.changes.trials import Bench, Goal, Guess, Trial, short, tightest, told
from fitment.checks.case import Case
from fitment.checks.fit import Clearance, Fit
from fitment.errors import FitmentError

AROUND = 8  # values to either side of the nearest miss among which a nearer one is sought
IMPOSSIBLE = float("-inf")  # [mm] short where the suspension cannot be set so, or the tire not be mounted


@dataclass(frozen=True)
class Lever:
    """Something that can be changed, value by value, the smallest change first.

    values : what to set
    trial : the build with values[i]. Raises FitmentError where it cannot be had
    shift : bound on how far values[i] changes any clearance [mm]; values in between that cannot reach the goal by it
        are passed over. Without it every value is looked at
    steady : a larger change is never worse, as it only takes poses away; then the values are halved
    part : the obstacle that alone is looked at
    """

    values: Sequence[float | str]
    trial: Callable[[int], Trial]
    shift: Callable[[int], float] | None = None
    steady: bool = False
    part: str | None = None


@dataclass(frozen=True)
class LeastChange:
    """What came out.

    index : of the least value that reaches the goal, or of the nearest miss; None where no value could be had
    reached : whether it reaches the goal
    fit : of that value, against all obstacles or the lever's part; case : the same as a whole check, where reached
    entry : what is too close there, through all poses; of a value that reaches the goal its tightest
    worst : of the nearest miss, the entry with the smallest worst case, by which it was chosen
    less : what is too close one step less, through all poses
    others : of the nearest miss, the obstacles that are too close as well
    """

    index: int | None
    reached: bool
    fit: Fit | None = None
    case: Case | None = None
    entry: Clearance | None = None
    worst: Clearance | None = None
    less: Clearance | None = None
    others: tuple[str, ...] = ()


def least(bench: Bench, lever: Lever, goal: Goal) -> LeastChange:
    """The least value of a lever that reaches the goal, or the nearest miss.

    That something touches is certain from the quick answer, so then no nearest miss is checked.
    """
    if not lever.values:
        return LeastChange(None, False)
    return _Search(bench, lever, goal).run()


def guess(bench: Bench, lever: Lever, goal: Goal) -> int:
    """About which value reaches the goal; past the last where none seems to."""
    if not lever.values:
        return 0
    found = _Search(bench, lever, goal).next(0)
    return len(lever.values) if found is None else found


class _Search:
    def __init__(self, bench: Bench, lever: Lever, goal: Goal) -> None:
        self._bench, self._lever, self._goal = bench, lever, goal
        self._close = {lever.part} if lever.part else set(bench.offenders(goal))
        self._bias = 0.0  # [mm] what a check found beyond the quick answer
        self._quick: dict[tuple[int, frozenset[str]], Guess] = {}
        self._at_guess: dict[tuple[int, Guess], Clearance] = {}
        self._checked: dict[int, tuple[float, Fit | None, Case | None]] = {}
        self._alone: dict[int, tuple[Clearance, ...]] = {}

    def run(self) -> LeastChange:
        nearest = None
        for _ in range(2):
            i = self.next(0)
            while i is not None:
                if self._check(i) >= 0:
                    return self._walked_back(i)
                i = self.next(i + 1)
            if self._goal == "no_contact":
                return LeastChange(None, False)
            nearest = self._nearest_miss()
            if nearest is None:
                return LeastChange(None, False)
            miss = self._missed(nearest)
            if not miss or short(self._told(miss), self._goal) < 0 or self._check(nearest) < 0:
                return self._not_reached(nearest)
            # the quick answers were too dark: search again with what this check found
        assert nearest is not None
        return self._walked_back(nearest)

    # quick ----------------------------------------------------------------------------------------------------

    def _guess(self, i: int) -> float:
        """About how far values[i] keeps the goal [mm]."""
        return self._look(i).room + self._bias

    def _look(self, i: int, *, whole: bool = False) -> Guess:
        names = set(self._close)
        if self._lever.shift and not self._lever.part:
            names |= self._bench.within(self._goal, self._lever.shift(i) + 1.0)
        key = (i, frozenset(names))
        known = self._quick.get(key)
        if known is None or (whole and known.rough):
            try:
                trial = self._lever.trial(i)
                reach = self._lever.shift(i) if self._lever.shift and self._bench.same_motion(trial) else None
                known = self._bench.quick(trial, self._goal, names, reach, whole=whole)
            except FitmentError:
                known = Guess(IMPOSSIBLE, "", 0.0)
            self._quick[key] = known
        return known

    def next(self, i: int) -> int | None:
        """The first value from values[i] on that seems to reach the goal."""
        last = len(self._lever.values) - 1
        if self._lever.steady:
            return self._halved(i, last) if i <= last and self._guess(last) >= 0 else None
        while i <= last:
            room = self._guess(i)
            if room >= 0:
                return i
            i = self._after(i, room)
        return None

    def _after(self, i: int, room: float) -> int:
        """The next value that could reach the goal when values[i] is so much short of it."""
        j, shift = i + 1, self._lever.shift
        while shift and room > IMPOSSIBLE and j < len(self._lever.values) and shift(j) < shift(i) - room - 1e-6:
            j += 1
        return j

    def _halved(self, first: int, last: int) -> int:
        """The first value that seems to reach the goal, of which the last does; by where a straight line would."""
        if self._guess(first) >= 0:
            return first
        while last - first > 1:
            short_of, over = min(-self._guess(first), 1e3), self._guess(last)
            least = max(1, (last - first) // 8)  # taken off at either end, so that it ends soon
            line = first + round((last - first) * short_of / (short_of + over))
            middle = min(max(line, first + least), last - least)
            first, last = (first, middle) if self._guess(middle) >= 0 else (middle, last)
        return last

    def _nearest_miss(self) -> int | None:
        """Of the values that were looked at, and of those around the best of them, the one that misses by the least."""
        room = {i: self._look(i).room for i in dict.fromkeys(i for i, _ in self._quick)}
        exact: set[int] = set()
        best = max(room, key=lambda i: (room[i], -i))
        while best not in exact:  # a rough answer is never too low
            room[best] = self._whole(best)
            exact.add(best)
            best = max(room, key=lambda i: (room[i], -i))
        if room[best] == IMPOSSIBLE:
            return None
        step = AROUND if self._lever.shift else 0
        while step:
            around = [j for j in (best - step, best + step) if 0 <= j < len(self._lever.values)]
            better = max(around, key=self._whole, default=best)
            if self._whole(better) > self._whole(best):
                best = better
            else:
                step //= 2
        return best

    def _whole(self, i: int) -> float:
        """How far values[i] keeps the goal [mm]: as checked, else in all poses that are known."""
        return self._checked[i][0] if i in self._checked else self._look(i, whole=True).room

    # through all poses ----------------------------------------------------------------------------------------

    def _check(self, i: int) -> float:
        """How far values[i] keeps the goal [mm], through all poses."""
        if i not in self._checked:
            self._checked[i] = self._made(i)
            room, found, _ = self._checked[i]
            if room > IMPOSSIBLE:
                self._bias = room - self._look(i).room
            if found is not None and not self._lever.part:
                self._close |= {e.obstacle for e in found.clearances if short(e, self._goal) < 0}
        return self._checked[i][0]

    def _made(self, i: int) -> tuple[float, Fit | None, Case | None]:
        try:
            first = short(self._there(i), self._goal)
            if first < 0:  # too close where it was guessed to be closest: there is no need to go through all poses
                return first, None, None
            trial = self._lever.trial(i)
            if self._lever.part:
                case, found = None, self._bench.alone(trial, {self._lever.part})
            else:
                case = self._bench.check(trial)
                found = case.fit
        except FitmentError:
            return IMPOSSIBLE, None, None
        return min(short(e, self._goal) for e in found.clearances), found, case

    def _missed(self, i: int) -> tuple[Clearance, ...]:
        """The entries of a value in all poses: of the obstacles that the quick answer names, where it was not checked.

        None of them where the value cannot be had.
        """
        known = self._checked.get(i, (0.0, None, None))[1]
        if known is not None:
            return known.clearances
        if i not in self._alone:
            look = self._look(i, whole=True)
            try:
                found = self._bench.alone(self._lever.trial(i), {look.obstacle, *look.others})
                self._alone[i] = found.clearances
            except FitmentError:
                self._alone[i] = ()
        return self._alone[i]

    def _miss(self, i: int) -> Clearance | None:
        """What is too close with a value; None where it cannot be had."""
        entries = self._missed(i)
        return self._told(entries) if entries else None

    def _told(self, entries: Sequence[Clearance]) -> Clearance:
        entry = told(entries, self._bench.base.setup.ride)
        assert entry is not None
        return entry

    def _not_reached(self, i: int) -> LeastChange:
        entries = self._missed(i)
        if not entries:
            return LeastChange(i, False)
        entry, worst = self._told(entries), min(entries, key=lambda e: e.worst_case)
        close = {e.obstacle for e in entries if short(e, self._goal) < 0}
        return LeastChange(i, False, entry=entry, worst=worst, others=tuple(sorted(close - {entry.obstacle})))

    def _there(self, i: int) -> Clearance:
        """The tightest entry of a value at the travel, and of the obstacle, that the quick answer names."""
        look = self._look(i)
        if (i, look) not in self._at_guess:
            there = self._bench.alone(self._lever.trial(i), {look.obstacle}, look.travel)
            self._at_guess[i, look] = self._tightest(there)
        return self._at_guess[i, look]

    def _tightest(self, found: Fit) -> Clearance:
        entry = tightest(found.clearances, self._goal, found.setup.ride)
        assert entry is not None  # a build without obstacles has nothing to change
        return entry

    def _walked_back(self, i: int) -> LeastChange:
        """From a value that reaches the goal down to the least that does."""
        j = self.next(0)  # by what the check of i has told
        if j is not None and j < i and self._check(j) >= 0:
            return self._walked_back(j)
        less = None
        while i > 0:
            less = self._miss(i - 1)
            if less is None or short(less, self._goal) < 0:
                break
            if self._check(i - 1) < 0:
                less = self._miss(i - 1)
                break
            i -= 1
        _, found, case = self._checked[i]
        assert found is not None
        less = less if i else self._of_base()
        case = case or self._bench.check(self._lever.trial(i))
        return LeastChange(i, True, found, case, self._tightest(found), less=less)

    def _of_base(self) -> Clearance | None:
        entries = [e for e in self._bench.case.fit.clearances if self._lever.part in (None, e.obstacle)]
        return tightest(entries, self._goal, self._bench.case.fit.setup.ride)
