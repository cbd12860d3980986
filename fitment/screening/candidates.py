"""A list of candidates, a CSV file or mappings: every row is kept as it was, with its line number."""

from __future__ import annotations

import csv
import io
import os
import re
from collections import deque
from collections.abc import Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import chain
from pathlib import Path
from typing import IO, Any, NamedTuple

from fitment.errors import ListError, did_you_mean

REQUIRED = ("wheel", "tire")
OPTIONAL = ("spacer", "ride")
BESIDE = ("offset", "backspacing", "circle", "bore")  # of a wheel, in columns of their own
READ = (*REQUIRED, *BESIDE, *OPTIONAL)
# What spreadsheets call the columns, without capitals, units and marks. Source: common practice.
NAMES = {
    "wheel": ("wheel", "wheels", "rim", "rims", "wheel size", "rim size", "wheel spec"),
    "tire": ("tire", "tires", "tyre", "tyres", "tire size", "tyre size", "tire code", "tyre code"),
    "offset": ("offset", "et", "wheel offset"),
    "backspacing": ("backspacing", "backspace", "bs"),
    "circle": ("bolt circle", "bolt pattern", "pcd", "lug pattern", "stud pattern", "circle", "lk"),
    "bore": ("bore", "centre bore", "center bore", "hub bore", "cb", "ml"),
}
LAST_RESORT = "size"  # of the wheel, where no other column is its name
MISSING = ("nan", "NaT", "<NA>")  # what libraries for tables write for a value that is not there
UNCLOSED = "a quotation mark opens a cell and does not close it on this line; close it, or remove the mark"
LONGEST = 10_000  # [characters] of a cell
LONGEST_LINE = 1_000_000  # [characters]
MOST_LINES = 1_000_001  # a million rows and their heading
MOST_LETTERS = 300_000_000
TOO_LARGE = f"more than {MOST_LETTERS // 1_000_000} million characters; leave out columns, or screen it in parts."
TOO_LONG = f"a cell has more than {LONGEST:,} characters"


class Candidate(NamedTuple):
    """One row of the list: its line number, the columns' names and its cells; `problem` when the row itself is broken.

    counted : what `line` counts, for messages
    named : (what is read, the column's name), of columns with another name
    """

    line: int
    header: tuple[str, ...]
    cells: tuple[str, ...]
    problem: str | None = None
    counted: str = "line"
    named: tuple[tuple[str, str], ...] = ()

    @property
    def place(self) -> str:
        """Where the row stands, in words."""
        return f"{self.counted} {self.line}"

    @property
    def fields(self) -> dict[str, str]:
        """The cells by their columns' names."""
        return dict(zip(self.header, self.cells, strict=True))

    def get(self, column: str) -> str:
        """A cell by its column's name, whatever its capitals; empty where there is none."""
        number = _numbers(self.header, self.named).get(column)
        return "" if number is None else self.cells[number].strip()

    @property
    def beside(self) -> tuple[tuple[str, str], ...]:
        """What of the wheel stands in columns of its own: (what, the cell), without empty ones."""
        found = _beside(self.header, self.named)
        return tuple((what, self.cells[i].strip()) for what, i in found if self.cells[i].strip())


@lru_cache(maxsize=8)
def _numbers(header: tuple[str, ...], named: tuple[tuple[str, str], ...]) -> dict[str, int]:
    """The columns' numbers by name, by name in small letters where no other column has it, and by what is read."""
    exact = {name: i for i, name in enumerate(header)}
    by_name = {name.lower(): i for i, name in reversed(list(enumerate(header)))} | exact
    return by_name | {what: exact[name] for what, name in named if what not in BESIDE and name in exact}


@lru_cache(maxsize=8)
def _beside(header: tuple[str, ...], named: tuple[tuple[str, str], ...]) -> tuple[tuple[str, int], ...]:
    """The columns that tell something of the wheel; those that are asked for take the place of those found by name."""
    asked = [(what, header.index(name)) for what, name in named if what in BESIDE]
    known = {what for what, _ in asked}
    taken = {name for _, name in named}
    found = [
        (what, i)
        for i, name in enumerate(header)
        for what in BESIDE
        if what not in known and name not in taken and _bare_name(name) in NAMES[what]
    ]
    return (*asked, *found)


def _bare_name(name: str) -> str:
    """A column's name without capitals, units and marks: "Wheel_Size (in)" is wheel size."""
    return " ".join(re.sub(r"[(\[].*?[)\]]|[^a-z0-9]", " ", name.lower()).split()).removesuffix(" mm")


def _named(header: Sequence[str], columns: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """The columns that are asked for or have a common name: (what is read, the column's name). Raises ListError."""
    named = []
    for what, name in columns.items():
        close = [column for column in header if column.lower() == name.strip().lower()]
        if len(close) != 1 and name not in header:
            hint = did_you_mean(name, header)
            raise ListError(f'column {what}: the list has no column "{name}"; it has {", ".join(header)}.{hint}')
        named.append((what, name if name in header else close[0]))
    asked = {name for _, name in named}
    for what in REQUIRED:
        if what in columns or what in [name.lower() for name in header]:
            continue
        alike = [name for name in header if name not in asked and _bare_name(name) in NAMES[what]]
        if not alike and what == "wheel":
            alike = [name for name in header if name not in asked and _bare_name(name) == LAST_RESORT]
        if len(alike) > 1:
            words = " and ".join(f'"{name}"' for name in alike)
            raise ListError(f'both {words} could be the {what}; say which: --column {what}="{alike[0]}".')
        named += [(what, name) for name in alike]
    return tuple(named)


class Listed(NamedTuple):
    """A list: its columns' names, its rows, read as they are asked for, and the mark between its cells."""

    header: list[str]
    rows: Iterator[Candidate]
    delimiter: str = ","


def read_candidates(path: str | Path, columns: Mapping[str, str] | None = None) -> Listed:
    """A CSV list. Raises ListError.

    columns : names of its columns by what is read (one of READ), where they are no common ones
    """
    stream, lines, delimiter, header, named = _begun(Path(path), columns or {})
    return Listed(header, _rows(stream, lines, delimiter, header, named), delimiter)


def header_of(path: str | Path) -> list[str] | None:
    """The names of its columns alone; None of a pipe, which is read once. Raises ListError."""
    if not Path(path).is_file():
        return None
    stream, _, _, header, _ = _begun(Path(path), {})
    stream.close()
    return header


def _begun(file: Path, asked: Mapping[str, str]) -> tuple[IO[str], _Lines, str, list[str], tuple[tuple[str, str], ...]]:
    """A list whose first line is read: its mark between cells, its header, columns under other names."""
    try:
        # bytes that are no UTF-8 come through as lone surrogates, so that their row and no other is unreadable
        stream = _opened(file)
    except OSError as error:
        raise ListError(f"{file}: {error.strerror}; give the path of a CSV file.") from None
    within = _within_limits(file, stream)
    try:
        first = next(within, "")
        lines = _Lines(chain([first] if first else [], within))  # a pipe cannot be read twice
        delimiter = _delimiter(first, asked)
        header = [name.strip() for name in next(csv.reader(lines, delimiter=delimiter, strict=True), [])]
        _check_lengths(header)
    except csv.Error as error:
        stream.close()
        raise ListError(f"{file}:1: not a CSV table ({error}).") from None
    except ListError:
        stream.close()
        raise
    except OSError as error:
        raise ListError(f"{file}: {error.strerror}; give the path of a CSV file.") from None
    try:
        named = _check_header(file, header, asked)
    except ListError:
        stream.close()
        raise
    return stream, lines, delimiter, header, named


def _within_limits(file: Path, stream: IO[str]) -> Iterator[str]:
    """The lines of a list. Raises ListError where it is too large, before more of it is read."""
    left, count = MOST_LETTERS, 0
    while line := stream.readline(LONGEST_LINE + 1):
        left, count = left - len(line), count + 1
        if len(line) > LONGEST_LINE:
            raise ListError(f"{file}:{count}: more than {LONGEST_LINE:,} characters in a line; is this a CSV table?")
        if count > MOST_LINES:
            raise ListError(f"{file}: more than {MOST_LINES - 1:,} rows; screen it in parts.")
        if left < 0:
            raise ListError(f"{file}: {TOO_LARGE}")
        yield line


def _opened(file: Path) -> IO[str]:
    """UTF-8 with or without a byte order mark, or the UTF-16 that spreadsheets write as "Unicode text"."""
    raw = file.open("rb")
    try:
        if os.fstat(raw.fileno()).st_size > 4 * MOST_LETTERS:  # bytes that a letter has at most
            raise ListError(f"{file}: {TOO_LARGE}")
        wide = raw.peek(2)[:2] in (b"\xff\xfe", b"\xfe\xff")
    except (OSError, ListError):
        raw.close()
        raise
    encoding, errors = ("utf-16", "replace") if wide else ("utf-8-sig", "surrogateescape")
    return io.TextIOWrapper(raw, encoding=encoding, errors=errors, newline="")


def _delimiter(first: str, columns: Mapping[str, str]) -> str:
    """Comma, semicolon or tab: the one that parts the names of the required columns."""
    for mark in ",;\t":
        header = [cell.strip(' "') for cell in first.rstrip("\r\n").split(mark)]
        try:
            named = dict(_named(header, columns))
        except ListError:
            continue
        if {name.lower() for name in header}.union(named).issuperset(REQUIRED):
            return mark
    return max(",;\t", key=first.count)


def _check_header(file: Path, header: Sequence[str], columns: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """The columns that are read under another name. Raises ListError."""
    if not any(header):
        raise ListError(f"{file}: the list is empty; its first line names the columns, wheel and tire among them.")
    if any(map(_is_no_text, header)):
        raise ListError(f"{file}:1: not a CSV table in UTF-8; save the list as CSV with UTF-8 text.")
    try:
        named = _named(header, columns)
    except ListError as error:
        raise ListError(f"{file}:1: {error}") from None
    for name in REQUIRED:
        if name not in [column.lower() for column in header] and name not in dict(named):
            hint = did_you_mean(name, header) or " The first line must name the columns."
            raise ListError(f"{file}:1: there is no column {name}; found: {', '.join(header)}.{hint}")
    twice = sorted({name for name in header if name and header.count(name) > 1})
    if twice:
        raise ListError(f"{file}:1: column {twice[0]} stands twice; rename one of them.")
    return named


class _Lines:
    """The lines of a file, of which those behind the first of a broken row can be given back.

    number : of the line last read
    """

    def __init__(self, lines: Iterator[str]) -> None:
        self._lines, self._again = lines, deque[str]()
        self._row: list[str] = []
        self._further = 0  # characters of the present row behind its first line
        self.number = 0

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        if self._further > LONGEST:
            raise csv.Error(TOO_LONG)
        line = self._again.popleft() if self._again else next(self._lines)
        self._further += len(line) if self._row else 0
        self._row.append(line)
        self.number += 1
        return line

    def begin_row(self) -> int:
        """Number of the line that comes next."""
        self._row.clear()
        self._further = 0
        return self.number + 1

    @property
    def several(self) -> bool:
        """Whether the present row has more than one line."""
        return len(self._row) > 1

    def give_back(self) -> bool:
        """All lines of the present row but its first; whether there were any."""
        behind = self._row[1:]
        self._again.extendleft(reversed(behind))
        self.number -= len(behind)
        return bool(behind)


def _rows(
    stream: IO[str], lines: _Lines, delimiter: str, header: Sequence[str], named: tuple[tuple[str, str], ...]
) -> Iterator[Candidate]:
    names = tuple(name or f"column {i}" for i, name in enumerate(header, 1))
    empty = ("",) * len(names)
    reader = csv.reader(lines, delimiter=delimiter, strict=True)
    with stream:
        while True:
            line = lines.begin_row()
            try:
                cells = next(reader)
                _check_lengths(cells)
            except StopIteration:
                return
            except csv.Error as error:
                said = UNCLOSED if lines.give_back() or "end of data" in str(error) else f"not a CSV row ({error})"
                yield Candidate(line, names, empty, f"line {line}: {said}")
                continue
            if not any(map(str.strip, cells)):
                continue
            if lines.several and _swallowed(header, cells, delimiter, named) and lines.give_back():
                yield Candidate(line, names, empty, f"line {line}: {UNCLOSED}")
                continue
            kept = tuple([*cells, *[""] * len(header)][: len(header)])
            problem = None
            if len(cells) != len(header):
                over = f"; left over: {', '.join(cells[len(header) :])}" if len(cells) > len(header) else ""
                problem = f"line {line}: {len(cells)} fields under {len(header)} columns{over}"
            if _is_no_text("".join(cells)):
                problem = f"line {line}: not UTF-8 text; save the list as CSV with UTF-8 text"
                kept = tuple(cell.encode(errors="surrogateescape").decode(errors="replace") for cell in kept)
            yield Candidate(line, names, kept, problem, named=named)


def _check_lengths(cells: Sequence[str]) -> None:
    """Raises csv.Error for a cell that is too long, as the reader does beyond a limit that all of a program shares."""
    if max(map(len, cells), default=0) > LONGEST:
        raise csv.Error(TOO_LONG)


def _swallowed(header: Sequence[str], cells: Sequence[str], delimiter: str, named: Sequence[tuple[str, str]]) -> bool:
    """Whether a row of several lines looks like several rows that a quotation mark has joined."""
    if any(line.count(delimiter) >= len(header) - 1 for cell in cells for line in cell.splitlines()[1:]):
        return True  # a line within a cell is a whole row
    known = {*REQUIRED, *OPTIONAL, *(name.lower() for _, name in named)}
    read = [cell for name, cell in zip(header, cells, strict=False) if name.lower() in known]
    return len(cells) != len(header) or any("\n" in cell.strip() or "\r" in cell.strip() for cell in read)


def _is_no_text(cell: str) -> bool:
    """Whether a cell holds bytes that are no UTF-8."""
    return not cell.isascii() and any("\ud800" <= letter <= "\udfff" for letter in cell)


# ---------------------------------------------------------------- rows that are already in memory


def from_records(records: Iterable[Mapping[str, Any]], columns: Mapping[str, str] | None = None) -> Listed:
    """Column names and rows of mappings, their values as texts; rows are counted from 1. Raises ListError.

    columns : as of `read_candidates`
    """
    rows: list[dict[str, str]] = []
    if not isinstance(records, Iterable):
        raise ListError(f"candidates: got {type(records).__name__}; give a CSV file or a mapping for each candidate.")
    for i, record in enumerate(records, 1):
        if i >= MOST_LINES:
            raise ListError(f"candidates: more than {MOST_LINES - 1:,}; screen them in parts.")
        if not isinstance(record, Mapping):
            raise ListError(
                f"candidate {i}: got {type(record).__name__}; give a mapping of column to value for each, such as "
                '{"wheel": "20x10 ET25", "tire": "305/45R20"}.'
            )
        rows.append({str(name).strip(): _as_text(value) for name, value in record.items()})
    header = list(dict.fromkeys(name for row in rows for name in row))
    named = _named(header, columns or {}) if rows else ()
    for name in REQUIRED:
        if rows and name not in [column.lower() for column in header] and name not in dict(named):
            hint = did_you_mean(name, header) or " Every candidate needs it."
            raise ListError(f"candidates: there is no column {name}; found: {', '.join(header)}.{hint}")
    names, cells = tuple(header), [tuple(row.get(name, "") for name in header) for row in rows]
    return Listed(header, (Candidate(i, names, row, None, "candidate", named) for i, row in enumerate(cells, 1)))


def _as_text(value: object) -> str:
    """As a CSV file would have it; nothing, also a table's mark for a missing number, is an empty text."""
    text = "" if value is None else str(value)
    return text if isinstance(value, str) or text not in MISSING else ""
