"""A screened list as text, JSON and CSV."""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from fitment.report.common import VERDICT_WORDS, free_name, rounded, table, wrapped
from fitment.terminal import cell
from fitment.units import in_units, length_text

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.screening.screen import ScreenedRow


def screen_json(rows: Sequence[ScreenedRow]) -> list[dict[str, Any]]:
    """The input's columns, then the answer's; a clash keeps the input's name."""
    return [row.candidate.fields | answer_columns(row) for row in rows]


def answer_columns(row: ScreenedRow) -> dict[str, Any]:
    """The added columns of a row under names that do not clash with the input's."""
    return {
        free_name(name, row.candidate.fields): rounded(value, 3) if isinstance(value, float) else value
        for name, value in row.answer().items()
    }


def screen_text(rows: Sequence[ScreenedRow], units: str = "mm", most: int = 15, also: Sequence[str] = ()) -> str:
    """Counts by verdict, then the best rows with what limits each, and why; also : columns of the list to show."""
    lines = screen_rows(rows, units, most, also)
    parts = [counts_words(rows), "", table(lines, left=len(lines[0]))]
    why = _why([row for row in rows if row.verdict != "unreadable"][:most], units)
    parts += ["", *why] if why else []
    parts += [wrapped(in_units(cell(row.reason), units)) for row in rows if row.verdict == "unreadable"][:most]
    return "\n".join(parts)


def groups_text(
    rows: Sequence[ScreenedRow], column: str, units: str = "mm", most: int = 3, also: Sequence[str] = ()
) -> str:
    """Counts by verdict, then the best rows of each group, and why."""
    from fitment.screening.ranking import grouped

    parts = [counts_words(rows)]
    shown: list[ScreenedRow] = []
    for name, members in grouped(rows, column).items():
        clear = sum(row.verdict == "clears" for row in members)
        lines = screen_rows(members, units, most, also)
        parts += [
            "",
            f"{column} {cell(name) or '(none)'}: {clear} of {len(members)} clear",
            table(lines, left=len(lines[0])),
        ]
        shown += members[:most]
    why = _why(shown, units)
    return "\n".join([*parts, *(["", *why] if why else [])])


def _why(rows: Sequence[ScreenedRow], units: str) -> list[str]:
    """What the table does not tell of rows: why they do not bolt on, what they leave open; and what its offsets are."""
    of_reason: dict[str, list[str]] = {}
    for row in rows:
        if row.reason and (row.verdict in ("clears", "does_not_bolt_on") or row.reason.startswith("worst case")):
            of_reason.setdefault(row.reason, []).append(str(row.rank))
    lines = [wrapped(f"{', '.join(ranks)}: {in_units(cell(reason), units)}") for reason, ranks in of_reason.items()]
    if any(row.offset_min is not None for row in rows):
        lines.append(wrapped(OFFSETS))
    return lines


OFFSETS = (
    "At the offsets the nominal tire meets every required clearance. They leave out the worst case; fitment window "
    "counts it too. Before ordering, run fitment order."
)


def counts_words(rows: Sequence[ScreenedRow]) -> str:
    """How many candidates there are, and how many of each verdict."""
    counts = {word: sum(row.verdict == word for row in rows) for word in VERDICT_WORDS}
    head = ", ".join(f"{n} {VERDICT_WORDS[word].lower()}" for word, n in counts.items() if n)
    return f"{len(rows)} candidates{': ' if head else ''}{head}"


def screen_rows(
    rows: Sequence[ScreenedRow], units: str = "mm", most: int = 15, also: Sequence[str] = ()
) -> list[list[str]]:
    """Heading and cells of the best rows that could be read, with what limits each; also : columns of the list."""
    shown = [row for row in rows if row.verdict != "unreadable"][:most]
    known = dict.fromkeys(("name", "wheel", "tire", "spacer", "ride", *(name.lower() for name in also)))
    columns = [name for name in known if any(r.candidate.get(name) for r in shown)]
    lines = [["", *columns, "verdict", "tightest", "limited by", "nominal offsets"]]
    for row in shown:
        span = "-"
        if row.offset_min is not None and row.offset_max is not None:
            span = offsets_text(row.offset_min, row.offset_max)
        gap = "-" if row.gap is None else length_text(row.gap, units)
        verdict = VERDICT_WORDS[row.verdict].lower()
        given = (cell(row.candidate.get(name)) for name in columns)
        met = f"{cell(row.limited_by)}, {row.part}" if row.limited_by else "-"
        lines.append([str(row.rank), *given, verdict, gap, met, span])
    return lines


def offsets_text(low: float, high: float) -> str:
    """A range of offsets, rounded inwards: what is printed fits."""
    digits = 0 if math.ceil(low) <= math.floor(high) else 2
    step = 10.0**-digits
    return f"ET{math.ceil(low / step) * step:.{digits}f} to ET{math.floor(high / step) * step:.{digits}f}"


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
        return f"{value:.3f}".replace(".", "," if comma else ".")
    return "" if value is None else value


def _decimal_commas(rows: Sequence[ScreenedRow]) -> bool:
    """Whether the list writes its own decimals with a comma: its spreadsheet would take 12.345 for 12345."""
    cells = {cell for row in rows for cell in row.candidate.cells}
    commas = any(re.fullmatch(r"\W*\d+,\d{1,2}\W*", cell) for cell in cells)
    return commas and not any(re.fullmatch(r"\W*\d+\.\d{1,2}\W*", cell) for cell in cells)
