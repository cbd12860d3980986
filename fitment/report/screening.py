"""A screened list as text, JSON and CSV."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from fitment.report.common import VERDICT_WORDS, free_name, offsets_text, rounded, table, wrapped
from fitment.terminal import cell, columns
from fitment.units import DEEP, clearance_text, in_units

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.checks.case import Ready
    from fitment.screening.screen import ScreenedRow


def screen_json(rows: Sequence[ScreenedRow]) -> list[dict[str, Any]]:
    """The input's columns, then the answer's; a clash keeps the input's name."""
    return [row.candidate.fields | answer_columns(row) for row in rows]


def answer_columns(row: ScreenedRow) -> dict[str, Any]:
    """The added columns of a row, and that a number is rough, under names that do not clash with the input's."""
    told = [length for length in (row.clearance, row.worst_case) if length is not None]
    answer = row.answer() | ({"rough": True} if min(told, default=0.0) < -DEEP else {})
    return {
        free_name(name, row.candidate.fields): rounded(value, 3) if isinstance(value, float) else value
        for name, value in answer.items()
    }


def screen_text(
    rows: Sequence[ScreenedRow], units: str = "mm", *, every: Sequence[ScreenedRow] = (), sort: str = "margin",
    also: Sequence[str] = (), checked: Sequence[Ready] = (),
) -> str:  # fmt: skip
    """Counts by verdict, then the rows with what limits each, and why.

    checked : the axles that the list was checked on
    every : all rows of the list, where `rows` are only some; sort : what ranks within a verdict
    also : columns of the list to show
    """
    parts = [shown_words(rows, every or rows, sort, checked), "", _table(rows, units, sort, also)]
    why = _why(readable(rows), units)
    parts += ["", *why] if why else []
    return "\n".join([*parts, *_unreadable(every or rows, units), *rib_lines(every or rows)])


def groups_text(
    rows: Sequence[ScreenedRow], column: str, units: str = "mm", *, every: Sequence[ScreenedRow] = (),
    ranked: Sequence[ScreenedRow] = (), sort: str = "margin", also: Sequence[str] = (),
    checked: Sequence[Ready] = (),
) -> str:  # fmt: skip
    """Counts by verdict, then the rows of each group, and why.

    checked : the axles that the list was checked on
    ranked : all rows that could be shown, where `rows` are only some of them
    """
    from fitment.screening.ranking import grouped

    parts, whole = [shown_words(rows, every or rows, sort, checked)], grouped(ranked or rows, column)
    for name, members in grouped(rows, column).items():
        clear = sum(row.verdict == "clears" for row in whole[name])
        head = f"{column} {cell(name) or '(none)'}: {clear} of {len(whole[name])} clear"
        parts += ["", head, _table(members, units, sort, also)]
    why = _why(readable(rows), units)
    end = [*_unreadable(every or rows, units), *rib_lines(every or rows)]
    return "\n".join([*parts, *(["", *why] if why else []), *end])


def rib_lines(rows: Sequence[ScreenedRow]) -> list[str]:
    """How many rows more clear if their tire has no rim protector, and how to tell it; none where none does."""
    count = sum(row.clears_without_rib for row in rows)
    if not count:
        return []
    more, their = ("1 row more clears", "its") if count == 1 else (f"{count} rows more clear", "their")
    look = "look at the sidewall, and tell it in a column rim_protector (no)"
    words = f"{more} if {their} tire has no rib beside the rim: {look}."
    return [wrapped(words)]


def _table(rows: Sequence[ScreenedRow], units: str, sort: str, also: Sequence[str]) -> str:
    lines, there = screen_rows(rows, units, sort, also), columns()
    note = ""
    if there is not None and there < NARROW:  # a row in three lines is read, in four hardly
        lines = [line[:-2] for line in lines]
        note = "\n" + wrapped(f"Left out at {there} columns: {', '.join(LEAST)}.", first="  ", rest="  ")
    return table(lines, left=lines[0].index("limited by"), least=LEAST) + note


def readable(rows: Sequence[ScreenedRow]) -> list[ScreenedRow]:
    """The rows that could be read."""
    return [row for row in rows if row.verdict != "unreadable"]


def _unreadable(rows: Sequence[ScreenedRow], units: str) -> list[str]:
    return [wrapped(in_units(cell(row.reason), units)) for row in rows if row.verdict == "unreadable"][:MOST]


def _why(rows: Sequence[ScreenedRow], units: str) -> list[str]:
    """What the table does not tell of rows: why they do not bolt on, what they leave open; and what its offsets are."""
    of_reason: dict[str, list[int]] = {}
    for row in rows:
        if row.reason and (row.verdict in ("clears", "does_not_bolt_on") or row.reason.startswith("worst case")):
            of_reason.setdefault(row.reason, []).append(int(row.rank or 0))
    lines = [wrapped(f"{_runs(ranks)}: {in_units(cell(reason), units)}") for reason, ranks in of_reason.items()]
    if any(row.worst_case is not None for row in rows):
        lines.append(wrapped(COLUMNS_MEAN))
        if not all(row.candidate.get(name) for row in rows for name in TOLD):
            lines.append(wrapped(UNTOLD))
    if any(row.offset_min is not None for row in rows):
        lines.append(wrapped(OFFSETS))
    return lines


def _runs(ranks: Sequence[int]) -> str:
    """Numbers in rising order, three and more in a row as a span."""
    runs: list[list[int]] = []
    for rank in sorted(ranks):
        if runs and rank == runs[-1][-1] + 1:
            runs[-1].append(rank)
        else:
            runs.append([rank])
    spans = (f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs)
    return ", ".join(spans)


LEAST = ("tightest", "nominal offsets")  # columns at the end that a narrow terminal can do without
NARROW = 78  # columns
MOST = 15  # rows that a text shows when it is not told how many
RANKS = {
    "margin": "margin", "clearance": "smallest clearance", "worst": "worst case", "offsets": "range of nominal offsets"
}  # fmt: skip
COLUMNS_MEAN = (
    "margin: what is left of the required clearance, as measured, where least is left. worst case: the smallest "
    "clearance with the largest tire and every reading off by its tolerance; below zero something may touch. tightest: "
    "the clearance to what limits."
)
TOLD = ("shoulder", "rim_protector")  # columns about a tire
UNTOLD = (
    "The worst case takes a square shoulder and a rim protector where a row does not tell; columns shoulder (round, "
    "usual, square, lugged) and rim_protector (yes, no) do. Both can be seen on a picture of the tire."
)
OFFSETS = (
    "At the offsets the nominal tire meets every required clearance. They leave out the worst case; fitment window "
    "counts it too. Before ordering, run fitment order."
)


def counts_words(rows: Sequence[ScreenedRow], checked: Sequence[Ready] = ()) -> str:
    """How many candidates there are, on which axles of which build, and how many of each verdict."""
    where = f" for {' and '.join(ready.axle.name for ready in checked)}, build {checked[0].build}" if checked else ""
    counts = {word: sum(row.verdict == word for row in rows) for word in VERDICT_WORDS}
    head = ", ".join(f"{n} {VERDICT_WORDS[word].lower()}" for word, n in counts.items() if n)
    return f"{len(rows)} candidate{'' if len(rows) == 1 else 's'}{where}{': ' if head else ''}{head}"


def shown_words(
    rows: Sequence[ScreenedRow], every: Sequence[ScreenedRow], sort: str, checked: Sequence[Ready] = ()
) -> str:
    """How many there are of each verdict, how many of them are shown, and in which order."""
    name, turned = sort.removeprefix("-"), sort.startswith("-")
    largest = turned if name not in RANKS else not turned
    order = f"by verdict, then {RANKS.get(name, cell(name))}, {'largest' if largest else 'smallest'} first"
    words = f"{counts_words(every, checked)}. {len(rows)} of {len(every)} shown, {order}."
    return wrapped(words, first="", rest="  ")


def screen_rows(
    rows: Sequence[ScreenedRow], units: str = "mm", sort: str = "margin", also: Sequence[str] = ()
) -> list[list[str]]:
    """Heading and cells of the rows that could be read, with what limits each; also : columns of the list."""
    shown = readable(rows)
    known = dict.fromkeys(("name", "wheel", "tire", "spacer", "ride", *(name.lower() for name in also)))
    named = [name for name in known if any(r.candidate.get(name) for r in shown)]
    smallest = ["clearance"] if sort.removeprefix("-") == "clearance" else []
    numbers = ["margin", "worst case", *smallest, "tightest"]
    lines = [["", *named, "verdict", "limited by", *numbers, "nominal offsets"]]
    for row in shown:
        span = "-"
        if row.offset_min is not None and row.offset_max is not None:
            span = offsets_text(row.offset_min, row.offset_max)
        margin = row.margin if math.isfinite(row.margin) else None
        lengths = [margin, row.worst_case, *([row.clearance] if smallest else []), row.gap]
        given = (cell(row.candidate.get(name)) for name in named)
        met = f"{cell(row.limited_by)}, {row.part}" if row.limited_by else "-"
        told = ("-" if length is None else clearance_text(length, units) for length in lengths)
        lines.append([str(row.rank), *given, VERDICT_WORDS[row.verdict].lower(), met, *told, span])
    return lines


def screen_csv(header: Sequence[str], rows: Sequence[ScreenedRow], delimiter: str = ",") -> str:
    """The list with its own columns untouched and the answer's behind them."""
    from fitment.screening.screen import COLUMNS

    stream = io.StringIO()
    added = [free_name(name, header) for name in COLUMNS]
    writer = csv.writer(stream, delimiter=delimiter, lineterminator="\n")
    writer.writerow([*header, *added])
    comma = delimiter != "," and _decimal_commas(rows)
    writer.writerows((*row.candidate.cells, *[_cell(value, comma) for value in row.values()]) for row in rows)
    return stream.getvalue()


def _cell(value: object, comma: bool) -> object:
    if type(value) is float:
        text = f"{value:.3f}"
        return text.replace(".", ",") if comma else text
    return "" if value is None else value


def _decimal_commas(rows: Sequence[ScreenedRow]) -> bool:
    """Whether the list writes its own decimals with a comma: its spreadsheet would take 12.345 for 12345."""
    cells = {cell for row in rows for cell in row.candidate.cells}
    commas = any(re.fullmatch(r"\W*\d+,\d{1,2}\W*", cell) for cell in cells)
    return commas and not any(re.fullmatch(r"\W*\d+\.\d{1,2}\W*", cell) for cell in cells)
