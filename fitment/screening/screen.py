"""A list of candidates, each checked as `check` would, ranked; every row comes back.

What needs no geometry is settled first: rim diameter, bolt circle, bore (`row_setups`). The rest is answered axle by
axle (`verdicts`), while the list is still being read where there are processes to spare.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import compress
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fitment.checks.bolt_on import BoltOn
from fitment.checks.case import Ready
from fitment.checks.fit import CLEARS, DOES_NOT_BOLT_ON, TIGHT, TOUCHES, VERDICTS
from fitment.checks.untold import told_tire
from fitment.frames import Array
from fitment.motion.suspension import swept_travel
from fitment.parts.axle import Setup
from fitment.parts.sections import RIB_HEIGHT
from fitment.progress import steps
from fitment.screening.candidates import Candidate
from fitment.screening.keep_out import keep_outs_meanwhile
from fitment.screening.row_setups import Mounted, Reader, Settled, failures
from fitment.screening.verdicts import Answers, checked, looked_up
from fitment.units import clearance_text, depth_words
from fitment.workers import without_collecting

COLUMNS = (
    "verdict", "rank", "clearance_mm", "worst_case_mm", "limited_by", "travel_mm", "steer_deg",
    "offset_min_mm", "offset_max_mm", "reason", "margin_mm", "part", "gap_mm",
)  # fmt: skip
WITHOUT_RIB = "clears if the tire has no rib beside the rim"
FEW = 6  # rows that are all told with the numbers of their checks
PARTS = ("tire", "wheel")


class ScreenedRow(NamedTuple):
    """A candidate with its answer. Lengths [mm], None where nothing was computed.

    verdict : one of check's, or 'unreadable'
    rank : 1 = best; None for unreadable rows
    clearance, worst_case : the smallest of each, of whatever part
    limited_by : the deepest overlap, else the part with the smallest margin; part, gap : what of the wheel meets it,
        and the clearance there
    margin : the smallest, minus infinity where there is none
    clears_without_rib : a row whose tire may have a rim protector, which nobody told, and that clears without one
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
    part: str | None = None
    gap: float | None = None
    margin: float = -math.inf
    clears_without_rib: bool = False

    def answer(self) -> dict[str, object]:
        """The columns this program adds, by name."""
        return dict(zip(COLUMNS, self.values(), strict=True))

    def values(self) -> tuple[object, ...]:
        """The columns this program adds, in their order."""
        return *self[1:11], _known(self.margin), self.part, self.gap

    def ranked(self, rank: int) -> ScreenedRow:
        """The row with its rank."""
        return ScreenedRow(self[0], self[1], rank, *self[3:])


def screen_candidates(axles: Sequence[Ready], candidates: Iterable[Candidate], processes: int = 1) -> list[ScreenedRow]:
    """Every candidate's answer, in the list's order; a row that cannot be read says why and where.

    processes : among which the work on a long list is spread
    """
    with without_collecting():
        return _screened(axles, list(candidates), processes)


def _screened(axles: Sequence[Ready], listed: Sequence[Candidate], processes: int) -> list[ScreenedRow]:
    reader = Reader(axles)
    few = len(listed) <= FEW
    read = [reader.read(candidate) for candidate in listed] if few else []  # a long list is read meanwhile
    idle = few and not any(isinstance(row, Mounted) for row in read)
    spans = [swept_travel(ready.axle, setup.ride) for ready, setup in zip(axles, reader.stand(), strict=True)]
    with keep_outs_meanwhile(axles, spans, 1 if idle else processes) as waiting:  # those of most rows
        read = read or [reader.read(candidate) for candidate in steps("reading rows, row", listed)]
        open_ = [i for i, row in enumerate(read) if isinstance(row, Mounted)]
        mounted = [row for row in read if isinstance(row, Mounted)]
        answers = []

        def answered(setups_of: Sequence[tuple[Setup, ...]]) -> list[Answers]:
            return [
                (checked if few else looked_up)(ready, setups, processes, {spans[k]: waiting[k]})
                for k, (ready, setups) in enumerate(zip(axles, zip(*setups_of, strict=True), strict=False))
            ]

        answers = answered([row.setups for row in mounted])
        found = _rows([listed[i] for i in open_], axles, answers, mounted)
        by_rib = [k for k, row in enumerate(found) if _may_hang_on_rib(row, mounted[k])]
        plain = answered([tuple(map(_without_rib, mounted[k].setups)) for k in by_rib])
        clear = [all(answer.verdict[i] == CLEARS for answer in plain) for i in range(len(by_rib))]
        for k in compress(by_rib, clear):
            found[k] = found[k]._replace(reason=f"{found[k].reason}; {WITHOUT_RIB}", clears_without_rib=True)
    rows = dict(zip(open_, found, strict=True))
    return [
        ScreenedRow(candidate, row.verdict, reason=_settled(row)) if isinstance(row, Settled) else rows[i]
        for i, (candidate, row) in enumerate(zip(listed, read, strict=True))
    ]


def _may_hang_on_rib(row: ScreenedRow, mounted: Mounted) -> bool:
    """Whether a row is tight by no more than what a rim protector takes that nobody told of."""
    tire = mounted.setups[0].tire
    is_open = tire.rim_protector is None and not tire.outline and row.verdict == VERDICTS[TIGHT]
    return is_open and row.margin >= 0 and row.worst_case is not None and row.worst_case > -RIB_HEIGHT - 1


def _without_rib(setup: Setup) -> Setup:
    return replace(setup, tire=told_tire(setup.tire, ("rim_protector",)))


def _settled(row: Settled) -> str:
    """Why a row needs no look at its clearances, and that they were not looked at."""
    return f"{row.reason}; clearances not checked" if row.verdict == "does_not_bolt_on" else row.reason


# ---------------------------------------------------------------- rows


def _rows(
    candidates: Sequence[Candidate], axles: Sequence[Ready], answers: Sequence[Answers], mounted: Sequence[Mounted]
) -> list[ScreenedRow]:
    """The rows of what was looked up or checked on every axle."""
    if not answers:
        return []
    verdicts = np.stack([answer.verdict for answer in answers]).max(axis=0)
    deciding = _deciding(answers, verdicts)

    def of_deciding(name: str) -> Array:
        return np.stack([getattr(answer, name) for answer in answers])[deciding, np.arange(len(candidates))]

    low = np.stack([answer.offsets[:, 0] for answer in answers]).max(axis=0)  # nan where an axle has none
    high = np.stack([answer.offsets[:, 1] for answer in answers]).min(axis=0)
    low, high = (np.where(low <= high, end, np.nan) for end in (low, high))
    columns = [
        verdicts, deciding, np.stack([answer.clearance for answer in answers]).min(axis=0),
        np.stack([answer.worst_case for answer in answers]).min(axis=0), of_deciding("limit"), of_deciding("travel"),
        of_deciding("steer"), low, high, np.stack([answer.margin for answer in answers]).min(axis=0),
        of_deciding("gap"),
    ]  # fmt: skip
    words = _Words(axles, answers, mounted)
    rows = []
    for i, (candidate, *values) in enumerate(zip(candidates, *(column.tolist() for column in columns), strict=True)):
        verdict, axle, clearance, worst, limit, travel, steer, first, last, margin, gap = values
        failed = words.failed(i)
        rows.append(ScreenedRow(
            candidate, VERDICTS[DOES_NOT_BOLT_ON if failed else verdict], None, _known(clearance), _known(worst),
            words.limited_by(axle, limit), _known(travel), _known(steer), _known(first), _known(last),
            words.whole_reason(i, axle, limit, VERDICTS[verdict]), words.part(i, axle, limit), _known(gap), margin,
        ))  # fmt: skip
    return rows


def _deciding(answers: Sequence[Answers], verdicts: NDArray[np.intp]) -> NDArray[np.intp]:
    """Which axle gives each row its verdict (n,); of several the one with the deepest overlap or smallest margin."""
    least = np.stack([np.where(verdicts == TOUCHES, answer.clearance, answer.margin) for answer in answers])
    decides = np.stack([answer.verdict == verdicts for answer in answers]) & np.isfinite(least)
    return np.argmin(np.where(decides | ~decides.any(axis=0), least, np.inf), axis=0)


def _known(value: float) -> float | None:
    return value if math.isfinite(value) else None


class _Words:
    """What rows say; what many of them share is put together once."""

    def __init__(self, axles: Sequence[Ready], answers: Sequence[Answers], mounted: Sequence[Mounted]) -> None:
        self._axles, self._answers, self._mounted = axles, answers, mounted
        self._names = [
            [name if len(axles) == 1 else f"{ready.axle.name}: {name}" for name in answer.parts]
            for ready, answer in zip(axles, answers, strict=True)
        ]
        self._numbers = [
            [getattr(answer, name).tolist() for name in ("gap", "allowance", "by_wheel", "worst_case", "against")]
            for answer in answers
        ]
        self._failed: dict[int, str] = {}
        self._open: dict[int, str] = {}

    def failed(self, row: int) -> str:
        """The bolt-on checks that fail, or an empty text."""
        bolted = self._mounted[row].bolt_on
        if id(bolted) not in self._failed:
            self._failed[id(bolted)] = failures(bolted)
        return self._failed[id(bolted)]

    def limited_by(self, axle: int, limit: int) -> str | None:
        """The part that limits."""
        return None if limit < 0 else self._names[axle][limit]

    def part(self, row: int, axle: int, limit: int) -> str | None:
        """What of the wheel meets that part."""
        return None if limit < 0 else PARTS[self._numbers[axle][2][row]]

    def whole_reason(self, row: int, axle: int, limit: int, verdict: str) -> str:
        """Why it does not bolt on, and what overlaps besides; else the reason of its clearances."""
        failed = self.failed(row)
        if not failed:
            return self.reason(row, axle, limit, verdict)
        return f"{failed}; and besides, {self.reason(row, axle, limit, verdict)}" if verdict == "touches" else failed

    def reason(self, row: int, axle: int, limit: int, verdict: str) -> str:
        """Why the verdict is what it is, or what it leaves open."""
        if verdict == "not_checked":
            return "no part near the wheel was checked"
        free, allowance, by_wheel, worst, against = (column[row] for column in self._numbers[axle])
        answers = self._answers[axle]
        part, name = PARTS[by_wheel], answers.parts[limit]
        if verdict == "touches":
            return f"{part} overlaps {name} by " + (depth_words(-free) if free < -0.05 else "less than 0.1 mm")
        if verdict == "tight" and free - allowance < max(worst, 0.0):
            return f"{free:.1f} mm from {part} to {name}, {allowance:g} mm required"
        if verdict == "tight":
            met = PARTS[bool(answers.against_wheel[row])]
            return f"worst case {clearance_text(worst)} from {met} to {answers.parts[against]}"
        bolted = self._mounted[row].bolt_on
        if id(bolted) not in self._open:
            left_out = [answer.not_checked for answer in self._answers]
            self._open[id(bolted)] = _left_open(bolted, left_out, [ready.listed_on for ready in self._axles])
        return self._open[id(bolted)]


def _left_open(
    bolted: Sequence[Sequence[BoltOn]], not_checked: Sequence[Sequence[str]], readings: Sequence[Sequence[str]]
) -> str:
    """What a row that clears leaves open."""
    words = [f"not checked: {name}" for names in not_checked for name in names]
    words += dict.fromkeys(words for each in readings for words in each)
    for status, what in (("caution", "caution"), ("not_checked", "not checked")):
        items = [check.item for checks in bolted for check in checks if check.status == status]
        if items:
            words.append(f"{what}: {', '.join(dict.fromkeys(items))}")
    return "; ".join(words)
