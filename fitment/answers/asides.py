"""What stands beside a check: how likely it clears, and if asked for, how sure each place is and what would help."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from fitment.answers.next_reading import Sure, sure_of
from fitment.answers.uncertainty import Certainty, how_sure
from fitment.checks.case import Case
from fitment.checks.full_case import FullCase
from fitment.progress import doing

if TYPE_CHECKING:  # a plain check does not pay for loading what changes and maps are made with
    from fitment.answers.changes import Change
    from fitment.answers.changes.record import Sets
    from fitment.answers.cut_lines import CutLines
    from fitment.answers.margin_map import MarginMap


@dataclass(frozen=True)
class Asides:
    """What stands beside a check.

    sure : how likely the setup clears and what to measure next, None where no part was checked
    how_sure : whether it was asked; certainty : the answer, None where no part was checked
    changes : None where they were not asked for
    change_sets : several changes together, where no single one serves or it is hard; None where not looked for
    margin_map : over travel and steering, None where it was not asked for or no part was checked
    cut : where a part must be cut, None where it was not asked for
    """

    sure: Sure | None
    how_sure: bool
    certainty: Certainty | None
    changes: tuple[Change, ...] | None
    margin_map: MarginMap | None = None
    change_sets: Sets | None = None
    cut: CutLines | None = None


def beside_check(
    case: Case,
    *,
    certainty: bool = False,
    changes: bool = False,
    with_map: bool = False,
    part: str | None = None,
    processes: int = 1,
) -> Asides:
    """Works out what is asked for, and how likely it clears. Raises FitmentError.

    part : whose cut lines; processes : among which their places are spread
    """
    cut = None if part is None else _cut(case, part, processes)
    with doing("how likely it clears"):
        sure, places = sure_of(case), how_sure(case) if certainty else None
    tried, together = _changes(case) if changes else (None, None)
    return Asides(sure, certainty, places, tried, _map(case) if with_map else None, together, cut)


def _changes(case: Case) -> tuple[tuple[Change, ...], Sets | None]:
    """Every single change, and sets of them where no single one serves or only hard ones do."""
    from fitment.answers.changes import least_changes
    from fitment.answers.changes.other_corner import with_other_corner
    from fitment.answers.changes.sets import easiest_sets, serving_alone

    found = least_changes(case)
    mate = case.mate if isinstance(case, FullCase) else None
    alone = serving_alone(found)
    together = None if not found or alone == "usable" else easiest_sets(case, mate, easier=alone == "hard")
    return (found if mate is None else with_other_corner(found, mate)), together


def _map(case: Case) -> MarginMap | None:
    from fitment.answers.margin_map import least_margins

    with doing("the map of margin"):
        return least_margins(case)


def _cut(case: Case, part: str, processes: int) -> CutLines:
    from fitment.answers.cut_lines import lines_to_cut

    return lines_to_cut(case, part, processes=processes)


def part_of(cases: Sequence[Case], part: str | None) -> list[str | None]:
    """The part of each case whose cut lines are asked for: of the axles that have it. Raises FitmentError.

    The tightest of every axle that has anything to cut.
    """
    if part is None:
        return [None] * len(cases)
    from fitment.answers.cut_lines import TIGHTEST, cannot_cut, has_part

    if part == TIGHTEST:
        own = [None if cannot_cut(case) else part for case in cases]
    else:
        own = [part if has_part(case, part) else None for case in cases]
    if not any(own):
        own = [part, *own[1:]]  # the first says why
    return own
