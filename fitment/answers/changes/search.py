"""The least change of one kind that reaches a goal, found again through all poses as `check` does.

A lever has values from the smallest change to the largest. The value given back was itself checked, and so was the one
a step smaller, which does not reach the goal. Where no value does, the nearest miss was checked.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass

from fitment.answers.changes.looks import Look
from fitment.answers.changes.trials import Bench, Goal, Trial, short, tightest, told
from fitment.checks.case import Case
from fitment.checks.fit import Clearance
from fitment.errors import FitmentError

IMPOSSIBLE = float("-inf")  # [mm] short where the suspension cannot be set so
AT_MOST = 6  # values that are checked for a nearest miss
FEW = 2  # checks that may fail in a search that is to be quick


@dataclass(frozen=True)
class Lever:
    """Something that can be changed, value by value, the smallest change first.

    values : what to set [mm, or deg]
    trial : the build with values[i]. Raises FitmentError where it cannot be had
    look : about how far values[i] keeps a goal with some obstacles [mm], before it is checked
    bound : the most that a check could find of that [mm], quicker; below zero no look is taken
    shift : bound on how far values[i] changes any clearance [mm]; values in between that cannot reach the goal by it
        are passed over. Without it every value is looked at, and nothing comes nearer
    steady : a larger change is never worse, as it only takes poses away; then the values are halved, by checks
    part : the obstacle that alone is moved
    """

    values: Sequence[float | str]
    trial: Callable[[int], Trial]
    look: Look
    shift: Callable[[int], float] | None = None
    steady: bool = False
    part: str | None = None
    bound: Look | None = None


@dataclass(frozen=True)
class LeastChange:
    """What came out.

    index : of the least value that reaches the goal, or of the nearest miss; None where no value could be had
    case : the whole check of a value that reaches the goal, else None
    entry : what is too close with the nearest miss; worst : its entry with the smallest worst case
    less : what is too close one step less
    others : of the nearest miss, the obstacles that are too close as well
    """

    index: int | None
    case: Case | None = None
    entry: Clearance | None = None
    worst: Clearance | None = None
    less: Clearance | None = None
    others: tuple[str, ...] = ()


class Search:
    """The search for the least value of a lever that reaches a goal with the obstacles that are too close now.

    misses : where no value does, the nearest miss is sought, and one step less than what does is checked; without it
        FEW values that fail a check end the search, and one step less is looked at
    """

    def __init__(self, bench: Bench, lever: Lever, *, misses: bool = True) -> None:
        self._bench, self._lever, self._misses = bench, lever, misses
        self._last = len(lever.values) - 1
        self._entries: dict[tuple[int, frozenset[str]], tuple[Clearance, ...]] = {}
        self._cases: dict[int, Case | None] = {}
        self._set("clears")

    def _set(self, goal: Goal) -> None:
        self._goal: Goal = goal
        self._room_now = self._bench.rooms(goal)
        self._close = {self._lever.part} if self._lever.part else set(self._bench.offenders(goal))
        self._bias = 0.0  # [mm] what a check found beyond the look

    def least(self, goal: Goal) -> LeastChange:
        """The least value that reaches the goal, or the nearest miss; where it is to end contact no miss is sought."""
        self._set(goal)
        i, failed = self.seeming(0), 0
        while i is not None and (self._misses or failed < FEW):
            if self._reaches(i):
                return self._walked_back(i)
            i, failed = self.seeming(i + 1), failed + 1
        missed = self._misses and self._last >= 0 and self._goal == "clears"
        return self._nearest_miss() if missed else LeastChange(None)

    def promised(self) -> int:
        """About which value clears; past the last where none seems to."""
        index = self.seeming(0)
        return self._last + 1 if index is None else index

    # which value seems to do ----------------------------------------------------------------------------------

    def seeming(self, i: int) -> int | None:
        """The first value from values[i] on that seems to reach the goal."""
        while i <= self._last:
            room = self._bound(i)
            room = self._look(i) if room >= 0 else room
            if room >= 0:
                return self._halved(i, self._last) if self._lever.steady else i
            i = self._after(i, room)
        return None

    def _minded(self, i: int) -> frozenset[str]:
        """What values[i] is looked at with: a quick search, which checks few values, minds what it could come near."""
        return frozenset(self._close if self._misses else self._close | self._within(i))

    def _look(self, i: int) -> float:
        """About how far values[i] keeps the goal [mm]."""
        try:
            return self._lever.look(i, self._goal, self._minded(i)) + self._bias
        except FitmentError:
            return IMPOSSIBLE

    def _bound(self, i: int) -> float:
        """The most that a check of values[i] could find [mm]."""
        if self._lever.bound is None:
            return 0.0
        try:
            return self._lever.bound(i, self._goal, self._minded(i))
        except FitmentError:
            return IMPOSSIBLE

    def _after(self, i: int, room: float) -> int:
        """The next value that could reach the goal when values[i] is so much short of it."""
        j, shift = i + 1, self._lever.shift
        while shift and room > IMPOSSIBLE and j <= self._last and shift(j) < shift(i) - room - 1e-6:
            j += 1
        return j

    def _halved(self, first: int, last: int) -> int | None:
        """The first value whose check reaches the goal, by where a straight line would; None before values[first]."""
        over = self._checked(last)
        if over < 0:
            return None
        first -= 1  # that one does not
        short_of = max(-self._look(first) if first >= 0 else -min(self._room_now.values()), 0.0)
        while last - first > 1:
            least = max(1, (last - first) // 8)  # taken off at either end, so that it ends soon
            line = first + round((last - first) * short_of / max(short_of + over, 1e-9))
            middle = min(max(line, first + least), last - least)
            room = self._checked(middle)
            if room >= 0:
                last, over = middle, room
            else:
                first, short_of = middle, -room
        return last

    # through all poses ----------------------------------------------------------------------------------------

    def _checked(self, i: int) -> float:
        """How far values[i] keeps the goal with what is too close, by a check [mm]."""
        return self._room(self._against(i, self._close))

    def _room(self, entries: Sequence[Clearance]) -> float:
        return min((short(e, self._goal) for e in entries), default=IMPOSSIBLE)

    def _too_close(self, entries: Sequence[Clearance]) -> set[str]:
        return {e.obstacle for e in entries if short(e, self._goal) < 0}

    def _against(self, i: int, names: Collection[str]) -> tuple[Clearance, ...]:
        """What a check of values[i] finds of some obstacles; nothing where it cannot be had."""
        key = i, frozenset(names)
        if key not in self._entries:
            try:
                self._entries[key] = self._bench.against(self._lever.trial(i), names)
            except FitmentError:
                self._entries[key] = ()
        return self._entries[key]

    def _case(self, i: int) -> Case | None:
        """The check of values[i]; None where it cannot be had."""
        if i not in self._cases:
            self._cases[i] = self._case_of_part(i, self._lever.part) if self._lever.part else self._whole(i)
        return self._cases[i]

    def _whole(self, i: int) -> Case | None:
        try:
            return self._bench.check(self._lever.trial(i))
        except FitmentError:
            return None

    def _case_of_part(self, i: int, part: str) -> Case | None:
        entries = self._against(i, {part})
        return self._bench.with_part(part, entries) if entries else None

    def _reaches(self, i: int) -> bool:
        """Whether a check says that values[i] reaches the goal; what it finds is minded in the next looks."""
        if self._lever.part:
            entries = self._against(i, self._close)
        else:
            case = self._case(i)
            entries = () if case is None else case.fit.clearances
            self._close |= self._too_close(entries)
        if entries and not self._lever.steady:
            self._bias += self._room(entries) - self._look(i)
        return self._room(entries) >= 0

    def _walked_back(self, i: int) -> LeastChange:
        """From a value that reaches the goal down to the least that does.

        A check has told how far looks are off, so values are passed over by looks; those that were halved by checks are
        not. Of a part that is moved one check is all.
        """
        moved, by_looks = self._lever.part is not None, not self._lever.steady
        while i > 0:
            if not self._misses and self._look(i - 1) < 0:
                return LeastChange(i, self._case(i))
            less = self._seeming_down(i - 1) if by_looks else i - 1
            if (moved or self._checked(less) >= 0) and self._reaches(less):
                i = less
            elif less == i - 1:
                break
            else:
                by_looks = self._look(less) < 0  # else nothing was learnt
        less_found = self._told(self._against(i - 1, self._close)) if i else self._of_base()
        return LeastChange(i, self._case(i), less=less_found)

    def _seeming_down(self, i: int) -> int:
        """The least value with which, and with all up to values[i], it looks as if it did; i where none does."""
        while i > 0 and self._look(i) >= 0 and self._look(i - 1) >= 0:
            i -= 1
        return i

    def _nearest_miss(self) -> LeastChange:
        """Of the values that were looked at the one that misses by the least, as checks find it.

        A look is about the most that a check can find, so values are checked in its order until no other looks better.
        """
        rooms: dict[int, float] = {}
        while (i := self._next_to_check(rooms)) is not None:
            entries = self._against(i, self._close | self._within(i))
            close = self._too_close(entries)
            if not close <= self._close:
                self._close |= close
                rooms.clear()
                continue
            rooms[i] = self._room(entries)
            if rooms[i] >= 0 and self._reaches(i):
                return self._walked_back(i)  # it looked worse than it is
        best = max(rooms, key=lambda i: (rooms[i], -i))
        entries = self._against(best, self._close | self._within(best))
        entry, worst = self._told(entries), min(entries, key=lambda e: e.worst_case, default=None)
        others = () if entry is None else tuple(sorted(self._too_close(entries) - {entry.obstacle}))
        return LeastChange(None if entry is None else best, None, entry, worst, others=others)

    def _next_to_check(self, rooms: Mapping[int, float]) -> int | None:
        """The value that looks best of those not checked yet; None where none looks better than what checks found."""
        if self._lever.steady:
            return None if rooms else self._last
        if len(rooms) == AT_MOST:
            return None
        looks = {i: self._look(i) for i in range(self._last + 1) if i not in rooms}
        best = max(looks, key=lambda i: (looks[i], -i), default=None)
        return None if best is None or (rooms and looks[best] <= max(rooms.values())) else best

    def _within(self, i: int) -> set[str]:
        """Obstacles that values[i] could bring too close."""
        if self._lever.shift is None or self._lever.part:
            return set()
        near = self._lever.shift(i) + 1.0
        return {name for name, room in self._room_now.items() if room < near}

    def _told(self, entries: Sequence[Clearance]) -> Clearance | None:
        return told(entries, self._bench.base.setup.ride)

    def _of_base(self) -> Clearance | None:
        fit = self._bench.case.fit
        entries = [e for e in fit.clearances if self._lever.part in (None, e.obstacle)]
        return tightest(entries, self._goal, fit.setup.ride)
