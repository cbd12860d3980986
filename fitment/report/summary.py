"""What `check` and `compare` say unless all of it is asked for: verdict, what limits, what to do, the verdict again.

What is left out here is counted, and stands in the full text (`report/builds.py`, `report/checked.py`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from fitment.corners import axle_of
from fitment.report.builds import CHANGE_WORDS, unlike_lines, verdict_words
from fitment.report.change_sets import sets_text
from fitment.report.changes import best_changes_text
from fitment.report.common import VERDICT_WORDS, case_words, first_sentence, measure_text, overlap_text, table, wrapped
from fitment.report.cut_lines import cut_text
from fitment.report.in_service import is_short_in_service, open_in_service, service_cell, service_limit
from fitment.report.next_reading import sure_words
from fitment.report.readings import slip_lines
from fitment.report.scan_places import place_line, with_side
from fitment.report.uncertainty import certainty_text
from fitment.report.where_short import where_touching
from fitment.terminal import measure
from fitment.units import clearance_text, in_units, length_text

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.answers.asides import Asides
    from fitment.answers.comparison import Comparison
    from fitment.checks.bolt_on import BoltOn
    from fitment.checks.case import Case
    from fitment.checks.fit import Clearance, Fit
    from fitment.checks.full_case import FullCase

SHOWN = 5  # rows of a table
CELLS = 7  # of a bar
STATUSES = ("fail", "caution", "not_checked")  # what is not ok, the worst first
WHY = "--full says why"  # where reasons would take a line each
CHANGES = "; --changes: what would help"
LEAST = ("opposite", "steer", "travel", "at rest")  # columns that a narrow terminal does without, the first to go first
LEAST_CHANGE = 0.05  # [mm] told


# ---------------------------------------------------------------- the verdict


def headline(case: Case, units: str = "mm") -> str:
    """The verdict of an axle and what limits it, in a line."""
    fit = case.fit
    words = f"{VERDICT_WORDS[fit.verdict]}  {fit.axle.name}, build {case.ready.build}: {limit_words(fit, units)}"
    return wrapped(words, first="", rest="  ")


def verdict_lines(cases: Sequence[Case], units: str = "mm") -> str:
    """The verdict of every axle where the answer went into a file; that a reading must be wrong is said there too."""
    return "\n".join(line for case in cases for line in (headline(case, units), *slip_lines([case.ready], units)))


def limit_words(fit: Fit, units: str) -> str:
    """What limits, in a few words."""
    failed = [check.item for check in fit.bolt_on if check.status == "fail"]
    worst = fit.worst
    if failed:
        return ", ".join(failed)
    if worst is None:
        return "no part near the wheel was checked"
    if worst.clearance < 0:
        return f"{worst.part} overlaps {with_side(worst, fit)} by {overlap_text(worst.clearance, units)}"
    against = min(fit.clearances, key=lambda entry: entry.worst_case)
    if worst.margin >= 0 and against.worst_case < 0:
        overlap = overlap_text(against.worst_case, units)
        return f"in the worst case {against.part} overlaps {against.obstacle} by {overlap}"
    if fit.is_tight_in_service:
        return service_limit(fit, units)
    gap, asked = length_text(worst.clearance, units), length_text(worst.allowance, units)
    return f"tightest {worst.part} to {with_side(worst, fit)}, {gap}; {asked} required"


def closing(cases: Sequence[Case], units: str = "mm") -> str:
    """The last line: the verdict of every axle again."""
    if len(cases) == 1:
        return headline(cases[0], units)
    words = "; ".join(f"{case.fit.axle.name} {VERDICT_WORDS[case.fit.verdict]}{_where(case.fit)}" for case in cases)
    return wrapped(f"Verdict: {words}", first="", rest="  ")


def _where(fit: Fit) -> str:
    """The part that decides, where something is wrong."""
    failed = [check.item for check in fit.bolt_on if check.status == "fail"]
    if failed:
        return f" ({', '.join(failed)})"
    if fit.is_tight_in_service and fit.in_service is not None and fit.in_service.worst is not None:
        return f" (in service: {fit.in_service.worst.part}, {fit.in_service.worst.obstacle})"
    return "" if fit.verdict == "clears" or fit.worst is None else f" ({fit.worst.part}, {fit.worst.obstacle})"


def before_driving() -> str:
    """What every answer about a fit asks for before driving."""
    from fitment.checks.case import TEST_FIT  # with it comes numpy, which not every report needs

    return wrapped(TEST_FIT, first="", rest="  ")


# ---------------------------------------------------------------- check


def check_summary(cases: Sequence[FullCase], asides: Sequence[Asides], units: str = "mm") -> str:
    """Every axle in about twenty lines, what was asked for beside it, and the verdict again."""
    blocks = []
    for i, (case, more) in enumerate(zip(cases, asides, strict=True)):
        is_second = i > 0 and cases[i - 1] is not case and _of_one_axle(cases[i - 1], case)
        blocks.append(_other_corner(case, more, units) if is_second else _checked(case, more, units))
        if more.how_sure:
            blocks.append(certainty_text(more.certainty, case.fit.setup, case.fit.axle.name, units))
        if more.changes is not None:
            blocks.append(best_changes_text(case, more.changes, units))
        if more.change_sets is not None:
            blocks.append(sets_text(more.change_sets, units))
        if more.cut is not None:
            blocks.append(cut_text(more.cut, units))
    if len(cases) == 1 and cases[0].unlike:  # one corner was asked for alone
        blocks.append("\n".join(unlike_lines(cases[0], units)))
    return "\n\n".join([*blocks, f"{before_driving()}\n{closing(cases, units)}"])


def _checked(case: FullCase, more: Asides, units: str) -> str:
    fit = case.fit
    head = f"{VERDICT_WORDS[fit.verdict]}  {fit.axle.name}, build {case.ready.build}: {case_words(case, units)}"
    sure = sure_words(more.sure, units, fit)
    lines = [
        wrapped(head, first="", rest="  "),
        *slip_lines([case.ready], units),
        wrapped(verdict_words(case, units), first="  ", rest="  "),
        *([wrapped(sure, first="  ", rest="  ")] if sure else []),
        "",
    ]
    if fit.clearances:
        lines += [*tightest_lines(fit, units, where_touching(case, units)), ""]
    needs_none = fit.clearance_verdict in ("clears", "not_checked") and not fit.is_tight_in_service
    is_tried = more.changes is not None or needs_none
    return "\n".join([*lines, *open_lines(case, units, "" if is_tried else CHANGES)])


def _of_one_axle(case: Case, other: Case) -> bool:
    """Whether they are the two corners of an axle."""
    return axle_of(case.fit.axle.name) == axle_of(other.fit.axle.name)


def _other_corner(case: FullCase, more: Asides, units: str) -> str:
    """Of the corner that has more room: its verdict, what is short there, and how the sides differ."""
    fit = case.fit
    lines = [
        wrapped(f"{VERDICT_WORDS[fit.verdict]}  {fit.axle.name}{_other_setup(case, units)}", first="", rest="  "),
        *slip_lines([case.ready], units),
        wrapped(verdict_words(case, units), first="  ", rest="  "),
    ]
    sure = sure_words(more.sure, units, fit)
    lines += [wrapped(sure, first="  ", rest="  ")] if sure else []
    if any(map(is_short, fit.worst_each)):
        lines += ["", *tightest_lines(fit, units, where_touching(case, units)), ""]
    return "\n".join([*lines, *_open_there(case, units), *unlike_lines(case, units)])


def _open_there(case: FullCase, units: str) -> list[str]:
    """What is not ok or was not checked at this corner and is not told of the other one."""
    told = set() if case.mate is None else set(open_lines(case.mate, units))
    return [line for line in open_lines(case, units)[1:-1] if line not in told]


def _other_setup(case: FullCase, units: str) -> str:
    """What is bolted on there, where it is not what the other side has."""
    same = case.mate is not None and case.mate.fit.setup == case.fit.setup
    return "" if same else f": {case_words(case, units)}"


def tightest(fit: Fit) -> tuple[Clearance, ...]:
    """The clearances that a summary shows: those that are short or touch first, in the order of the full table."""
    in_service = {(gap.obstacle, gap.part): n for n, gap in enumerate(fit.in_service.gaps)} if fit.in_service else {}

    def rank(entry: Clearance) -> tuple[bool, bool, int, tuple[bool, float]]:
        served = in_service.get((entry.obstacle, entry.part), 0) if fit.is_tight_in_service else 0
        return not is_short(entry), not is_short_in_service(fit, entry), served, entry.urgency

    chosen = sorted(fit.worst_each, key=rank)[:SHOWN]
    return tuple(entry for entry in fit.worst_each if entry in chosen)


def is_short(entry: Clearance) -> bool:
    """Whether a clearance keeps a setup from clearing."""
    return entry.margin < 0 or entry.worst_case < 0


def tightest_lines(fit: Fit, units: str, where: Mapping[tuple[str, str], str] | None = None) -> list[str]:
    """The tightest clearances as a table, and how to read it.

    where : of (obstacle, part) in which poses it is short, a sentence
    """
    shown = tightest(fit)
    text = _fitted(_columns(fit, shown, units))
    lines = [text]
    for entry in shown:
        lines += place_line(entry, fit, units) if is_short(entry) or entry is shown[0] else []
        told = (where or {}).get((entry.obstacle, entry.part)) if is_short(entry) else None
        lines += [wrapped(f"{entry.part} - {entry.obstacle}: {told}", first="  ", rest="    ")] if told else []
    return [*lines, _note(fit, shown, text, units)]


def _columns(fit: Fit, shown: Sequence[Clearance], units: str) -> dict[str, list[str]]:
    """Cells by heading, top down; numbers bear no unit, the first heading does."""

    def of(mm: float) -> str:
        return clearance_text(mm, units).removesuffix(f" {units}")

    def height(mm: float) -> str:
        return length_text(mm, units, digits=0, sign=True).removesuffix(f" {units}")

    some = f"{len(shown)} tightest of {len(fit.worst_each)}" if len(shown) < len(fit.worst_each) else "closest approach"
    columns = {
        f"{some}, {units}": [_pair(entry) for entry in shown],
        "bar": [bar(entry) for entry in shown],
        "clearance": [of(entry.clearance) for entry in shown],
        "at rest": [of(fit.at_rest[entry.obstacle, entry.part, entry.corner].clearance) for entry in shown],
        "required": [of(entry.allowance) for entry in shown],
        "worst": [of(entry.worst_case) for entry in shown],
        **(
            {"in service": [service_cell(fit, entry, units).removesuffix(f" {units}") for entry in shown]}
            if fit.in_service
            else {}
        ),
        "travel": [height(entry.travel) for entry in shown],
    }
    if fit.axle.steering is not None:
        columns["steer"] = [f"{round(entry.steer, 1) + 0.0:+.1f}" for entry in shown]
    if any(entry.opposite is not None for entry in shown):
        columns["opposite"] = ["" if entry.opposite is None else height(entry.opposite) for entry in shown]
    return columns


def _pair(entry: Clearance) -> str:
    return (
        f"{entry.part} - {entry.obstacle}{', right' if entry.corner == 'right' and entry.opposite is not None else ''}"
    )


def bar(entry: Clearance) -> str:
    """How much of the clearance required is there, filled where it is met; an overlap is said."""
    if entry.clearance < 0:
        return "overlap"
    if entry.margin >= 0:
        return "#" * CELLS
    full = int(CELLS * entry.clearance / entry.allowance)
    return f"{'#' * max(full, 1 if entry.clearance > 0 else 0):.<{CELLS}}"


def _fitted(columns: Mapping[str, Sequence[str]]) -> str:
    """The table. A bar shares the column of its clearance, so that they stay together; a narrow page has no room."""
    cells = dict(columns)
    bars, numbers = cells.pop("bar"), cells["clearance"]
    widest = max(map(len, numbers))
    together = [f"{each}  {number:>{widest}}" for each, number in zip(bars, numbers, strict=True)]
    rows = _rows(cells | {"clearance": together})
    wide = sum(max(map(len, column)) + 2 for column in zip(*rows, strict=True))
    return table(rows if wide <= measure() else _rows(cells), least=LEAST)


def _rows(columns: Mapping[str, Sequence[str]]) -> list[tuple[str, ...]]:
    return [tuple(columns), *zip(*columns.values(), strict=True)]


def _note(fit: Fit, shown: Sequence[Clearance], text: str, units: str) -> str:
    """How to read the table, and the clearances that it does not show; which of them are short is never left out."""
    ride = length_text(fit.setup.ride, units, digits=0, sign=True)
    keys = ["# of what is required"] * ("#" in text) + ["steer in deg"] * ("  steer" in text)
    words = "; ".join([*keys, f"at rest: straight ahead, travel {ride}"])
    others = [entry for entry in fit.worst_each if entry not in shown]
    short = ", ".join(_pair(entry) for entry in others if is_short(entry) or is_short_in_service(fit, entry))
    if others:
        words += f"; {len(others)} more, " + (f"of them too close: {short}" if short else "all kept")
    return wrapped(words, first="  ", rest="  ")


# ---------------------------------------------------------------- what is not ok, and what was taken for granted


def open_lines(case: FullCase, units: str, more: str = "") -> list[str]:
    """What is not ok or was not checked, one line each, and how much more the full text tells.

    more : said behind that
    """
    fit = case.fit
    bolt_on, ground = fit.bolt_on, case.on_ground
    counts = [f"{name} {_ok(checks)} ok" for name, checks in (("Bolt-on", bolt_on), ("ground and bodywork", ground))]
    lines = [", ".join(counts)]
    for status in STATUSES:
        items: dict[str, list[str]] = {}
        for check in (*bolt_on, *ground):
            if check.status == status and not check.asks_seller:
                words = in_units(first_sentence(check.detail), units, tape=check in ground)
                items.setdefault(words, []).append(check.item)
        if status == "not_checked" and len(items) > 1:
            items = {WHY: [name for names in items.values() for name in names]}
        lines += [_check_line(status, f"{', '.join(names)}: {words}") for words, names in items.items()]
    if fit.not_checked:
        lines.append(_check_line("not_checked", ", ".join(name for name, _ in fit.not_checked)))
    asked = [check.item for check in bolt_on if check.asks_seller]
    if asked:
        words = f"{', '.join(asked)}: ask the seller (`fitment order` has the questions)"
        lines.append(_check_line("not_checked", words))
    lines += [_check_line("not_checked", left) for left in [in_units(open_in_service(fit), units)] if left]
    if case.near_barrel:
        lines.append(_check_line("assumed", f"the barrel's inside, next to {', '.join(case.near_barrel)}"))
    return [*lines, wrapped(f"{_counted(case)}{more}", first="", rest="  ")]


def _ok(checks: Iterable[BoltOn]) -> int:
    return sum(check.status == "ok" for check in checks)


def _check_line(status: str, words: str) -> str:
    return wrapped(words, first=f"  {status.replace('_', ' '):<12}", rest=" " * 14)


def _counted(case: FullCase) -> str:
    """How many cautions, assumptions and readings assumed there are, and where they stand."""
    cautions = len(case.caused) + len(case.standing) + len(case.cautions)
    counts = [_count(cautions, "caution"), _count(len(case.assumptions), "assumption")]
    if case.assumed:
        names = dict.fromkeys(effect.value.name for effect in case.assumed)
        counts.append(f"{_count(len(case.assumed), 'reading')} assumed ({', '.join(names)})")
    if case.ready.usual_parts:
        counts.append(f"{_count(len(case.ready.usual_parts), 'part')} with the usual tolerance")
    return f"{', '.join(counts)}: --full shows them"


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


# ---------------------------------------------------------------- compare


def compare_summary(pairs: Sequence[Comparison], units: str = "mm") -> str:
    """Of every axle both verdicts, what moved most, and what the new build comes closest to; the verdict again."""
    blocks = [_compared(both, units) for both in pairs]
    return "\n\n".join([*blocks, f"{before_driving()}\n{closing([both.new for both in pairs], units)}"])


def _compared(both: Comparison, units: str) -> str:
    old, new = both.old, both.new
    lines = [f"{VERDICT_WORDS[new.fit.verdict]}  {new.fit.axle.name}: {old.ready.build} -> {new.ready.build}"]
    lines += slip_lines([new.ready], units)
    for label, case in (("old", old), ("new", new)):
        head = f"{label}  {VERDICT_WORDS[case.fit.verdict]}  {case.ready.build}: {case_words(case, units)}"
        lines.append(wrapped(head, first="  ", rest="       "))
        lines.append(wrapped(verdict_words(case, units), first="       ", rest="       "))
    moved = most_moved(both, units)
    if len(moved) > 1:
        lines += ["", table(moved)]
    if new.fit.clearances:
        lines += ["", *_both_tightest(both, units)]
    return "\n".join([*lines, "", *open_lines(new, units)])


def most_moved(both: Comparison, units: str) -> list[tuple[str, ...]]:
    """Heading and cells: the measures of the wheel at rest that differ most, in the order of the full table."""
    before, after = both.old.stance.lengths(), both.new.stance.lengths()
    moved = sorted((name for name in CHANGE_WORDS if abs(both.change.get(name, 0.0)) >= LEAST_CHANGE),
                   key=lambda name: -abs(both.change[name]))[:SHOWN]  # fmt: skip
    rows: list[tuple[str, ...]] = [("what moved most, at rest", both.old.ready.build, both.new.ready.build, "change")]
    for name, words in CHANGE_WORDS.items():
        if name in moved:
            texts = (measure_text(name, lengths[name], units) for lengths in (before, after))
            rows.append((words, *texts, measure_text(name, both.change[name], units, sign=True)))
    return rows


def _both_tightest(both: Comparison, units: str) -> list[str]:
    """The tightest clearances of the new build, beside the old build's."""
    fit = both.new.fit
    shown = tightest(fit)
    was = {(entry.obstacle, entry.part): entry.clearance for entry in both.old.fit.worst_each}
    gaps = [was.get((entry.obstacle, entry.part)) for entry in shown]
    columns = _columns(fit, shown, units)
    first = next(iter(columns))
    before = ["-" if gap is None else clearance_text(gap, units).removesuffix(f" {units}") for gap in gaps]
    text = _fitted({first: columns.pop(first), "before": before, **columns})
    return [text, _note(fit, shown, text, units)]
