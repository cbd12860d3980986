"""A checked build with what was asked for beside it: how sure the verdict is, and what would make it clear."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fitment.report.builds import case_json, case_text
from fitment.report.change_sets import sets_json, sets_text
from fitment.report.changes import changes_json, changes_text
from fitment.report.cut_lines import cut_json, cut_text
from fitment.report.next_reading import sure_json, sure_words
from fitment.report.uncertainty import certainty_json, certainty_text
from fitment.report.where_short import map_json

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.answers.asides import Asides
    from fitment.checks.full_case import FullCase


def checked_json(case: FullCase, more: Asides, *, geometry: bool = False) -> dict[str, Any]:
    """The contract's `check` object with `sure`, and `how_sure` and `least_changes` where they were asked for."""
    data = case_json(case, geometry=geometry) | {"sure": sure_json(more.sure, case.fit)}
    if more.how_sure:
        data["how_sure"] = certainty_json(more.certainty, case.fit.setup, case.fit.axle.name)
    if more.changes is not None:
        data["changes"] = changes_json(more.changes)
        data["change_sets"] = None if more.change_sets is None else sets_json(more.change_sets)
    if more.margin_map is not None:
        data["margin_map"] = map_json(more.margin_map)
    if more.cut is not None:
        data["cut"] = cut_json(more.cut)
    return data


def checked_text(case: FullCase, more: Asides, units: str = "mm", *, last: bool = True) -> str:
    """The check, then what was asked for beside it; last : of the axles that are told."""
    parts = [case_text(case, units, last=last, sure=sure_words(more.sure, units, case.fit))]
    if more.how_sure:
        parts.append(certainty_text(more.certainty, case.fit.setup, case.fit.axle.name, units))
    if more.changes is not None:
        parts.append(changes_text(case, more.changes, units))
        parts += [] if more.change_sets is None else [sets_text(more.change_sets, units, full=True)]
    parts += [] if more.cut is None else [cut_text(more.cut, units)]
    return "\n\n".join(parts)
