"""The rows of a screened list in order and in groups."""

from __future__ import annotations

import math
from collections.abc import Sequence

from fitment.checks.fit import VERDICTS
from fitment.errors import Argument, FitmentError
from fitment.screening.candidates import Candidate
from fitment.screening.cell_numbers import looks_like_numbers, numbers
from fitment.screening.screen import ScreenedRow

EVERY = 0  # the limit that leaves every row
SORTS = ("margin", "clearance", "worst", "offsets")


def ranked(rows: Sequence[ScreenedRow], sort: str = "margin") -> list[ScreenedRow]:
    """Best first: by verdict, then as `sort` says; unreadable rows last, in the list's order. Raises FitmentError.

    Of those that are tight, rows that clear if their tire has no rim protector come first.

    sort : one of SORTS, largest first, or a column of the list, smallest first; a minus before it turns it round.
        Rows that tell no value come behind those that do.
    """
    name, turned = sort.removeprefix("-"), sort.startswith("-")
    readable = [row for row in rows if row.verdict != "unreadable"]
    check_sort([row.candidate for row in readable], sort)
    best = {str(verdict): i for i, verdict in enumerate(VERDICTS)}
    told = [None] * len(readable) if name in SORTS else numbers([row.candidate.get(name.lower()) for row in readable])
    places = [
        (best[row.verdict], not row.clears_without_rib, *_place(row, name, turned, number))
        for row, number in zip(readable, told, strict=True)
    ]
    order = [readable[i] for i in sorted(range(len(readable)), key=places.__getitem__)]
    broken = [row for row in rows if row.verdict == "unreadable"]
    return [*(row.ranked(i) for i, row in enumerate(order, 1)), *broken]


def check_sort(rows: Sequence[Candidate], sort: str) -> None:
    """Raises FitmentError for an order that no row tells anything of; asked before the work and after it."""
    name = sort.removeprefix("-")
    if name not in SORTS and rows and not any(row.get(name.lower()) for row in rows):
        known = ", ".join(SORTS)
        raise FitmentError(Argument("sort"), f" {sort}: there is no such column with values; use {known} or a column.")


def _place(row: ScreenedRow, name: str, turned: bool, number: float | None) -> tuple[bool, float, str]:
    """Where a row stands among those of its verdict: whether it tells nothing, a number, a text."""
    if name in SORTS:
        own = _own(row, name)
        return own is None, (own or 0.0) * (1.0 if turned else -1.0), ""
    text = row.candidate.get(name.lower())
    if number is None:
        letters = "".join(chr(0x10FFFF - ord(letter)) for letter in text) if turned else text
        return not text, math.inf, letters
    return not math.isfinite(number), number * (-1.0 if turned else 1.0) if math.isfinite(number) else 0.0, ""


def without_number(rows: Sequence[ScreenedRow], sort: str) -> list[ScreenedRow]:
    """Rows that could be read whose cell is no finite number, in a column to sort by that has numbers."""
    name = sort.removeprefix("-")
    if name in SORTS:
        return []
    told = [(row, row.candidate.get(name.lower())) for row in rows if row.verdict != "unreadable"]
    read = numbers([text for _, text in told])
    if all(number is None for number in read):
        return []
    odd = [
        row
        for (row, text), number in zip(told, read, strict=True)
        if text and (number is None or not math.isfinite(number))
    ]
    return sorted(odd, key=lambda row: row.candidate.line)


def sorted_as_text(rows: Sequence[ScreenedRow], sort: str) -> str | None:
    """A cell of the column to sort by, where all look like numbers and none can be read as one; else None."""
    name = sort.removeprefix("-")
    if name in SORTS:
        return None
    return looks_like_numbers([row.candidate.get(name.lower()) for row in rows if row.verdict != "unreadable"])


def _own(row: ScreenedRow, name: str) -> float | None:
    if name == "margin":
        return row.margin
    if name == "offsets":
        known = row.offset_min is not None and row.offset_max is not None
        return row.offset_max - row.offset_min if known else None  # type: ignore[operator]
    return row.clearance if name == "clearance" else row.worst_case


def grouped(rows: Sequence[ScreenedRow], column: str) -> dict[str, list[ScreenedRow]]:
    """Rows that could be read by a column's text, the group of the best row first."""
    groups: dict[str, list[ScreenedRow]] = {}
    for row in rows:
        if row.verdict != "unreadable":
            groups.setdefault(row.candidate.get(column.lower()), []).append(row)
    return groups


def limit_of(given: object) -> int | None:
    """How many rows are wanted: EVERY for 0 or "all", None where it was not told. Raises FitmentError."""
    if given is None:
        return None
    if isinstance(given, str) and given.strip().lower() == "all":
        return EVERY
    try:
        number = int(given) if isinstance(given, str | int) and not isinstance(given, bool) else -1
    except ValueError:  # no number, or one of very many digits
        number = -1
    if number < 0:
        shown = given if len(str(given)) < 40 else f"{str(given)[:40]}..."
        raise FitmentError(
            Argument("limit"), f" {shown}: give a whole number of rows, such as 20, or all (0) for every row."
        )
    return number


def limited(rows: Sequence[ScreenedRow], limit: int | None, column: str | None = None) -> list[ScreenedRow]:
    """At most so many of ranked rows, the best first; None or EVERY leaves all.

    column : rows stand in its groups; the best of each group are taken first, then the second of each. Rows that
        could not be read come last.
    """
    if column is None:
        return list(rows[: limit or None])
    groups = [list(enumerate(members)) for members in grouped(rows, column).values()]
    broken = [row for row in rows if row.verdict == "unreadable"]
    places = sorted((place, group) for group, members in enumerate(groups) for place, _ in members)
    taken = set(places[: limit or None])
    chosen = [row for group, members in enumerate(groups) for place, row in members if (place, group) in taken]
    return [*chosen, *(broken[: limit - len(chosen)] if limit else broken)]
