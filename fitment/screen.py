"""A list of candidates, each checked as `check` would, ranked; every row comes back."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain
from pathlib import Path

from fitment import profile as profiles
from fitment.cases import Case, Ready, run
from fitment.errors import FitmentError, ListError, did_you_mean
from fitment.fit import VERDICTS, Clearance, Sweep, sweep
from fitment.offsets import Blocked, offset_range
from fitment.tire import parse_tire
from fitment.wheel import parse_wheel

REQUIRED = ("wheel", "tire")
OPTIONAL = ("spacer", "ride")
COLUMNS = (
    "verdict", "rank", "clearance_mm", "worst_case_mm", "limited_by", "travel_mm", "steer_deg",
    "offset_min_mm", "offset_max_mm", "reason",
)  # fmt: skip
MOST_KEPT = 32  # sweeps, and sizes whose blocked offsets are remembered
LONGEST_FIELD = 10_000  # [characters] longer ones are refused by the csv reader


@dataclass(frozen=True)
class Candidate:
    """One row of the list: its line number and its fields; `problem` when the row itself is broken.

    cells : the fields in the order of the heading, also those of columns without a name
    """

    line: int
    fields: Mapping[str, str]
    problem: str | None = None
    cells: tuple[str, ...] = ()

    def get(self, column: str) -> str:
        """A field by its column's name, whatever its capitals; empty where there is none."""
        if column in self.fields:
            return self.fields[column].strip()
        return next((value.strip() for name, value in self.fields.items() if name.lower() == column), "")


@dataclass(frozen=True)
class Row:
    """A candidate with its answer. Lengths [mm], None where nothing was computed.

    verdict : one of check's, or 'unreadable'
    rank : 1 = best; None for unreadable rows
    """

    candidate: Candidate
    verdict: str
    rank: int | None = None
    clearance: float | None = None
    worst_case: float | None = None
    limited_by: str | None = None
    travel: float | None = None
    steer: float | None = None
    offset_min: float | None = None
    offset_max: float | None = None
    reason: str = ""
    margin: float = field(default=-math.inf, compare=False)

    def answer(self) -> dict[str, object]:
        """The columns this program adds, by name."""
        values = (
            self.verdict, self.rank, self.clearance, self.worst_case, self.limited_by, self.travel, self.steer,
            self.offset_min, self.offset_max, self.reason,
        )  # fmt: skip
        return dict(zip(COLUMNS, values, strict=True))


def read_candidates(path: str | Path) -> tuple[list[str], Iterator[Candidate]]:
    """Column names and the rows of a CSV list, read as they are asked for. Raises ListError."""
    file = Path(path)
    try:
        # bytes that are no UTF-8 come through as lone surrogates, so that their row and no other is unreadable
        stream = file.open(encoding="utf-8-sig", errors="surrogateescape", newline="")
    except OSError as error:
        raise ListError(f"{file}: {error.strerror}; give the path of a CSV file.") from None
    csv.field_size_limit(LONGEST_FIELD)
    try:
        first = stream.readline()
        lines = chain([first] if first else [], stream)  # a pipe cannot be read twice
        reader = csv.reader(lines, delimiter=_delimiter(first), strict=True)
        header = [name.strip() for name in next(reader, [])]
    except csv.Error as error:
        stream.close()
        raise ListError(f"{file}:1: not a CSV table ({error}).") from None
    try:
        _check_header(file, header)
    except ListError:
        stream.close()
        raise
    return header, _rows(stream, reader, header)


def _delimiter(first: str) -> str:
    """Comma, semicolon or tab: the one that parts the names of the required columns."""
    for mark in ",;\t":
        if {cell.strip(' "') for cell in first.rstrip("\r\n").split(mark)}.issuperset(REQUIRED):
            return mark
    return ","


def _check_header(file: Path, header: Sequence[str]) -> None:
    if not any(header):
        raise ListError(f"{file}: the list is empty; its first line names the columns, wheel and tire among them.")
    if any(map(_is_no_text, header)):
        raise ListError(f"{file}:1: not a CSV table in UTF-8; save the list as CSV with UTF-8 text.")
    for name in REQUIRED:
        if name not in [each.lower() for each in header]:
            hint = did_you_mean(name, header) or " The first line must name the columns."
            raise ListError(f"{file}:1: there is no column {name}; found: {', '.join(header)}.{hint}")
    twice = sorted({name for name in header if name and header.count(name) > 1})
    if twice:
        raise ListError(f"{file}:1: column {twice[0]} stands twice; rename one of them.")


def _rows(stream: Iterable[str], reader: Iterator[list[str]], header: Sequence[str]) -> Iterator[Candidate]:
    names = [name or f"column {i}" for i, name in enumerate(header, 1)]
    with stream:  # type: ignore[attr-defined]
        while True:
            line = reader.line_num + 1  # type: ignore[attr-defined]
            try:
                cells = next(reader)
            except StopIteration:
                return
            except csv.Error as error:
                yield Candidate(line, dict.fromkeys(names, ""), f"line {line}: not a CSV row ({error})")
                continue
            if not any(cell.strip() for cell in cells):
                continue
            kept = tuple([*cells, *[""] * len(header)][: len(header)])
            problem = None
            if len(cells) != len(header):
                over = f"; left over: {', '.join(cells[len(header) :])}" if len(cells) > len(header) else ""
                problem = f"line {line}: {len(cells)} fields under {len(header)} columns{over}"
            if any(map(_is_no_text, cells)):
                problem = f"line {line}: not UTF-8 text; save the list as CSV with UTF-8 text"
                kept = tuple(cell.encode(errors="surrogateescape").decode(errors="replace") for cell in kept)
            yield Candidate(line, dict(zip(names, kept, strict=True)), problem, kept)


def _is_no_text(cell: str) -> bool:
    """Whether a cell holds bytes that are no UTF-8."""
    return any("\ud800" <= letter <= "\udfff" for letter in cell)


class Screener:
    """Checks candidates on the axles of one build; sweeps are kept for rows of the same ride height."""

    def __init__(self, axles: Sequence[Ready]) -> None:
        self._axles = axles
        self._sweeps: dict[tuple[str, float], Sweep] = {}
        self._blocked: dict[tuple[object, ...], Blocked] = {}

    def check(self, candidate: Candidate) -> Row:
        """The row's answer; a row that cannot be read says why and where."""
        if candidate.problem:
            return Row(candidate, "unreadable", reason=candidate.problem)
        try:
            misfit = _rim_misfit(candidate)
            if misfit:
                return Row(candidate, "does_not_bolt_on", reason=misfit)
            cases = [self._case(ready, candidate) for ready in self._axles]
        except FitmentError as error:
            return Row(candidate, "unreadable", reason=f"line {candidate.line}: {error}")
        return self._row(candidate, cases)

    def _case(self, ready: Ready, candidate: Candidate) -> Case:
        given = {name: candidate.get(name) for name in (*REQUIRED, *OPTIONAL)}
        setup = profiles.setup(
            ready.profile, ready.axle.name, ready.build,
            wheel=given["wheel"], tire=given["tire"], spacer=given["spacer"] or None, ride=given["ride"] or None,
        )  # fmt: skip
        return run(ready, setup, self._sweep(ready, setup.ride))

    def _sweep(self, ready: Ready, ride: float) -> Sweep:
        key = (ready.axle.name, ride)
        if key not in self._sweeps:
            if len(self._sweeps) > MOST_KEPT:  # a list may name a height of its own in every row
                self._sweeps.clear()
            self._sweeps[key] = sweep(ready.axle, ride)
        return self._sweeps[key]

    def _row(self, candidate: Candidate, cases: Sequence[Case]) -> Row:
        verdict = max((case.fit.verdict for case in cases), key=VERDICTS.index)
        tightest = min(cases, key=_margin)
        worst = tightest.fit.worst
        entries: list[Clearance] = [c for case in cases for c in case.fit.clearances]
        low, high = _common([self._offsets(case) if case.fit.clearances else None for case in cases])
        return Row(
            candidate,
            verdict,
            clearance=min((c.clearance for c in entries), default=None),
            worst_case=min((c.worst_case for c in entries), default=None),
            limited_by=None if worst is None else self._named(tightest, worst.obstacle),
            travel=None if worst is None else worst.travel,
            steer=None if worst is None else worst.steer,
            offset_min=low,
            offset_max=high,
            reason=_reason(cases),
            margin=math.inf if worst is None else worst.margin,
        )

    def _offsets(self, case: Case) -> tuple[float, float] | None:
        setup = case.fit.setup
        rest = replace(setup.wheel, spec="", offset=0.0, bolt_circle=None, centre_bore=None)
        key = (case.ready.axle.name, rest, setup.tire, setup.spacer.thickness, setup.ride)
        if len(self._blocked) > MOST_KEPT:
            self._blocked.clear()
        known = self._blocked.setdefault(key, Blocked())
        return offset_range(case.fit, self._sweep(case.ready, setup.ride), known)

    def _named(self, case: Case, obstacle: str) -> str:
        return obstacle if len(self._axles) == 1 else f"{case.ready.axle.name}: {obstacle}"


def _rim_misfit(candidate: Candidate) -> str:
    """Why the tire does not go on the rim, or an empty text. Raises FitmentError for fields that cannot be read."""
    for name in REQUIRED:
        if not candidate.get(name):
            raise FitmentError(f"the {name} is missing")
    wheel, tire = parse_wheel(candidate.get("wheel")), parse_tire(candidate.get("tire"))
    if wheel.rim_diameter == tire.rim_code:
        return ""
    return f"rim diameter: the tire is for a {tire.rim_code:g} in rim, the wheel is {wheel.rim_diameter:g} in"


def _margin(case: Case) -> float:
    return math.inf if case.fit.worst is None else case.fit.worst.margin


def _common(ranges: Sequence[tuple[float, float] | None]) -> tuple[float | None, float | None]:
    """What every axle allows; (None, None) when there is nothing."""
    known = [r for r in ranges if r is not None]
    if len(known) < len(ranges) or not known:
        return None, None
    low, high = max(r[0] for r in known), min(r[1] for r in known)
    return (low, high) if low <= high else (None, None)


def _reason(cases: Sequence[Case]) -> str:
    for case in cases:
        failed = [f"{check.item}: {check.detail}" for check in case.fit.bolt_on if check.status == "fail"]
        if failed:
            return "; ".join(failed)
    case = min(cases, key=_margin)
    worst = case.fit.worst
    if worst is None:
        return "no obstacle to check against"
    if worst.clearance < 0:
        return f"{worst.part} overlaps {worst.obstacle} by {-worst.clearance:.1f} mm"
    if worst.margin < 0:
        return f"{worst.clearance:.1f} mm from {worst.part} to {worst.obstacle}, {worst.allowance:g} mm asked for"
    against = min(case.fit.clearances, key=lambda c: c.worst_case)
    if against.worst_case < 0:
        return f"worst case {against.worst_case:.1f} mm from {against.part} to {against.obstacle}"
    return "; ".join(_open(cases))


def _open(cases: Sequence[Case]) -> list[str]:
    """What a row that clears leaves open."""
    words = [f"not checked: {name}" for case in cases for name, _ in case.fit.not_checked]
    for status, what in (("caution", "caution"), ("not_checked", "not checked")):
        items = [check.item for case in cases for check in case.fit.bolt_on if check.status == status]
        if items:
            words.append(f"{what}: {', '.join(dict.fromkeys(items))}")
    return words


def ranked(rows: Sequence[Row]) -> list[Row]:
    """Best first: by verdict, then by the smallest margin; unreadable rows last, in the list's order."""
    readable = [row for row in rows if row.verdict != "unreadable"]
    order = sorted(readable, key=lambda row: (VERDICTS.index(row.verdict), -row.margin))
    broken = [row for row in rows if row.verdict == "unreadable"]
    return [*(replace(row, rank=i) for i, row in enumerate(order, 1)), *broken]
