"""The best rows of a screened list, each checked again by itself, to be looked at closely."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from fitment import profile as profiles
from fitment.checks.case import Case, Ready, run
from fitment.checks.fit import VERDICTS
from fitment.progress import steps
from fitment.screening.screen import ScreenedRow

BEST = 12  # rows that are looked at when it is not told how many


@dataclass(frozen=True)
class RowCase:
    """A row with its check on the axle that decides its verdict."""

    row: ScreenedRow
    case: Case


def best_rows(prepared: Sequence[Ready], ranked: Sequence[ScreenedRow], best: int = BEST) -> tuple[RowCase, ...]:
    """The first rows, at most so many, that name a wheel and a tire that go on each other. Raises FitmentError.

    prepared : the axles the list was checked on; ranked : its rows, best first
    """
    row_cases: list[RowCase] = []
    for row in steps("checking the best again", ranked, min(best, len(ranked))):
        case = None if row.verdict == "unreadable" else _deciding(prepared, row)
        row_cases += [] if case is None else [RowCase(row, case)]
        if len(row_cases) == best:
            break
    return tuple(row_cases)


def _deciding(prepared: Sequence[Ready], row: ScreenedRow) -> Case | None:
    """The row on the axle that decides its verdict; None when the tire does not go on the rim."""
    given: dict[str, Any] = {name: row.candidate.get(name) or None for name in ("wheel", "tire", "spacer", "ride")}
    cases = []
    for ready in prepared:
        setup = profiles.setup(ready.profile, ready.axle.name, ready.build, **given)
        if setup.wheel.rim_diameter != setup.tire.rim_code:
            return None
        cases.append(run(ready, setup))

    def fits(case: Case) -> tuple[int, tuple[bool, float]]:
        worst = case.fit.worst
        return -VERDICTS.index(case.fit.verdict), (True, float("inf")) if worst is None else worst.urgency

    return min(cases, key=fits)
