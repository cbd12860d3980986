"""A checked build with what was asked for beside it: how sure the verdict is, and what would make it clear."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fitment.report.builds import case_json, case_text
from fitment.report.changes import changes_json, changes_text
from fitment.report.uncertainty import certainty_json, certainty_text

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.answers.changes import Change
    from fitment.answers.uncertainty import Certainty
    from fitment.checks.case import Case


@dataclass(frozen=True)
class Asides:
    """What was asked for beside a check.

    how_sure : whether it was asked; certainty : the answer, None where no part was checked
    changes : None where they were not asked for
    """

    how_sure: bool = False
    certainty: Certainty | None = None
    changes: Sequence[Change] | None = None


def asides(case: Case, *, how_sure: bool = False, changes: bool = False) -> Asides:
    """Works out what is asked for. Raises FitmentError."""
    certainty = found = None
    if how_sure:
        from fitment.answers.uncertainty import how_sure as answer

        certainty = answer(case)
    if changes:
        from fitment.answers.changes import least_changes as searched

        found = searched(case)
    return Asides(how_sure, certainty, found)


def checked_json(case: Case, more: Asides, *, geometry: bool = False) -> dict[str, Any]:
    """The contract's `check` object with `how_sure` and `least_changes` where they were asked for."""
    data = case_json(case, geometry=geometry)
    if more.how_sure:
        data["how_sure"] = certainty_json(more.certainty, case.fit.setup, case.fit.axle.name)
    if more.changes is not None:
        data["changes"] = changes_json(more.changes)
    return data


def checked_text(case: Case, more: Asides, units: str = "mm", *, last: bool = True) -> str:
    """The check, then what was asked for beside it; last : of the axles that are told."""
    parts = [case_text(case, units, last=last)]
    if more.how_sure:
        parts.append(certainty_text(more.certainty, case.fit.setup, case.fit.axle.name, units))
    if more.changes is not None:
        parts.append(changes_text(case, more.changes, units))
    return "\n\n".join(parts)
