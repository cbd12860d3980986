"""One kind of change, asked and answered: the lever, its words and what comes with it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from fitment.answers.changes.in_service import serves
from fitment.answers.changes.record import Achieves, Change, Kind, Value
from fitment.answers.changes.search import LeastChange, Lever, Search
from fitment.answers.changes.trials import Bench
from fitment.answers.changes.usable import usability
from fitment.answers.changes.words import Effects, new_cautions, new_failures, too_close, worst_words
from fitment.checks.case import Case


@dataclass(frozen=True)
class Ask:
    """What is sought and how it is said.

    sought : the kind of change, for an answer that there is none; searched : how far, such as 'ET31 to ET90'
    present : what the build has [mm, or deg]; unit : of it and of the values
    name, what, effects, apply : of values[i]: short, in words, what comes with it in the whole check, how to make it
    note : what else is to be said where none clears; remark : of values[i]; part : the obstacle that is moved
    """

    kind: Kind
    lever: Lever
    sought: str
    searched: str
    unit: str
    present: float | str
    name: Callable[[int], str]
    what: Callable[[int], str]
    effects: Callable[[int, Case], Effects]
    apply: Callable[[int], Mapping[str, object]]
    caution: str
    note: str = ""
    remark: Callable[[int], str] = lambda _i: ""
    part: str = ""


def answered(bench: Bench, ask: Ask, *, misses: bool = True) -> Change:
    """The least change that clears; else the least with which nothing touches; else that there is none.

    misses : of a kind that does nothing the nearest miss is told
    """
    before, search = bench.checked, Search(bench, ask.lever, misses=misses)
    least_change = search.least("clears")
    if least_change.case is not None:
        told = _told(bench, ask, least_change)
        achieves = _achieves(told, ask.lever.part)
        if achieves is not None:
            return _change(bench, ask, least_change, told, achieves, before)
    miss = _miss_words(ask, least_change)
    decides = ask.lever.part is None or bench.offenders("clears") == (ask.lever.part,)
    if decides and bench.offenders("no_contact"):
        free = search.least("no_contact")
        if free.case is not None:
            return _change(bench, ask, free, _told(bench, ask, free), "no_contact", before, miss)
    return Change(
        ask.kind, ask.sought, "nothing", bench.case.fit.verdict, least_change.entry, unit=ask.unit, part=ask.part,
        note=" ".join(filter(None, (miss, ask.note))), checked=bench.checked - before,
    )  # fmt: skip


def kept(case: Case) -> bool:
    """Whether every required clearance is met and nothing touches in the worst case, whatever bolts on.

    In service too, where the case tells it.
    """
    return all(e.margin >= 0 and e.worst_case >= 0 for e in case.fit.clearances) and serves(case)


def _told(bench: Bench, ask: Ask, found: LeastChange) -> Case:
    """The check of what was found as it is told; of a part that alone was moved that part's."""
    assert found.case is not None
    assert found.index is not None
    part = ask.lever.part
    return bench.told(found.case, {part: ask.lever.trial(found.index)} if part else None)


def _achieves(told: Case, part: str | None) -> Achieves | None:
    """What a change makes of the build; None where too little is left in service after all."""
    if kept(told):
        return "clears"
    return "this_part" if serves(told, part) else None


def _miss_words(ask: Ask, found: LeastChange) -> str:
    if found.case is not None:
        return f"Tried: {ask.searched}. With what looked enough too little is left in service."
    if found.index is None or found.entry is None:
        return f"Tried: {ask.searched}."
    too = f"; also too close: {', '.join(found.others)}" if found.others else ""
    where = f"{too_close(found.entry)}{worst_words(found.entry, found.worst)}{too}"
    return f"Tried: {ask.searched}. Best: {ask.name(found.index)}, but there {where}."


def _change(
    bench: Bench, ask: Ask, found: LeastChange, case: Case, achieves: Achieves, before: int, note: str = ""
) -> Change:
    assert found.index is not None
    i = found.index
    value = ask.lever.values[i]
    by = None if isinstance(value, str) or isinstance(ask.present, str) else value - ask.present
    less: Value = ask.lever.values[i - 1] if i else ask.present
    failed = new_failures(bench.case, case)
    caution = new_cautions(bench.case, case)
    effects = ask.effects(i, case)
    use, why = usability(ask.kind, by, effects, failed, ask.present)
    words = [
        note,
        ask.remark(i),
        f"But then the build does not bolt on: {failed}." if failed else "",
        f"These bolt-on checks then become cautions: {caution}." if caution else "",
    ]
    return Change(
        ask.kind, ask.what(i), achieves, case.fit.verdict, case.fit.worst,
        value=value, unit=ask.unit, part=ask.part,
        by=by, less=less, less_worst=found.less, side_effects=effects, caution=ask.caution, use=use, use_why=why,
        note=" ".join(filter(None, words)), apply=ask.apply(i), checked=bench.checked - before,
    )  # fmt: skip
