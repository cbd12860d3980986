"""What may be asked for beside a check: how sure the verdict is, and what would make it clear."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fitment.answers.uncertainty import Certainty, how_sure
from fitment.checks.case import Case

if TYPE_CHECKING:  # a plain check does not pay for loading what changes are made with
    from fitment.answers.changes import Change


@dataclass(frozen=True)
class Asides:
    """What was asked for beside a check.

    how_sure : whether it was asked; certainty : the answer, None where no part was checked
    changes : None where they were not asked for
    """

    how_sure: bool
    certainty: Certainty | None
    changes: tuple[Change, ...] | None


def beside_check(case: Case, *, certainty: bool = False, changes: bool = False) -> Asides:
    """Works out what is asked for. Raises FitmentError."""
    sure = how_sure(case) if certainty else None
    if not changes:
        return Asides(certainty, sure, None)
    from fitment.answers.changes import least_changes

    return Asides(certainty, sure, least_changes(case))
