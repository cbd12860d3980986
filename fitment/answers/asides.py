"""What stands beside a check: how likely it clears, and if asked for, how sure each place is and what would help."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from fitment.answers.next_reading import Sure, sure_of
from fitment.answers.uncertainty import Certainty, how_sure
from fitment.checks.case import Case
from fitment.checks.full_case import FullCase
from fitment.progress import doing

if TYPE_CHECKING:  # a plain check does not pay for loading what changes and maps are made with
    from fitment.answers.changes import Change
    from fitment.answers.margin_map import MarginMap


@dataclass(frozen=True)
class Asides:
    """What stands beside a check.

    sure : how likely the setup clears and what to measure next, None where no part was checked
    how_sure : whether it was asked; certainty : the answer, None where no part was checked
    changes : None where they were not asked for
    margin_map : over travel and steering, None where it was not asked for or no part was checked
    """

    sure: Sure | None
    how_sure: bool
    certainty: Certainty | None
    changes: tuple[Change, ...] | None
    margin_map: MarginMap | None = None


def beside_check(case: Case, *, certainty: bool = False, changes: bool = False, with_map: bool = False) -> Asides:
    """Works out what is asked for, and how likely it clears. Raises FitmentError."""
    with doing("how likely it clears"):
        sure, places = sure_of(case), how_sure(case) if certainty else None
    return Asides(sure, certainty, places, _changes(case) if changes else None, _map(case) if with_map else None)


def _changes(case: Case) -> tuple[Change, ...]:
    from fitment.answers.changes import least_changes

    found = least_changes(case)
    if not isinstance(case, FullCase) or case.mate is None:
        return found
    from fitment.answers.changes.other_corner import with_other_corner

    return with_other_corner(found, case.mate)


def _map(case: Case) -> MarginMap | None:
    from fitment.answers.margin_map import least_margins

    with doing("the map of margin"):
        return least_margins(case)
