"""How questions are worded alike on paper and at the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from fitment.measuring.questions.forms import Group, Question, SheetRow, rows
from fitment.units import MM_PER_INCH

_ANGLES = ("angle", "angles", "clock")


def gives_text(question: Question, units: str) -> str:
    """What the tool gives, such as "+-2 mm" or "+-0.079 in"; empty where nothing is measured."""
    if question.gives is None:
        return ""
    if question.form in _ANGLES:
        return f"+-{question.gives:g} deg"
    return f"+-{question.gives / MM_PER_INCH:.2g} in" if units == "in" else f"+-{question.gives:g} mm"


def with_text(question: Question, units: str) -> str:
    """The tool and what it gives; empty where there is none."""
    parts = (question.tool, gives_text(question, units)) if question.tool else ()
    return ", ".join(part for part in parts if part)


def is_for(asked: Question | Group, kinds: Sequence[str]) -> bool:
    """Whether a question or a section belongs on a sheet for suspensions of these kinds."""
    return bool(set(dict(asked.when).get("kind", kinds)) & set(kinds))


def rows_for(top: Group, kinds: Sequence[str]) -> tuple[SheetRow, ...]:
    """The questions of a sheet for suspensions of these kinds, in order."""
    return tuple(
        row
        for row in rows(top)
        if is_for(row.section, kinds) and is_for(row.question, kinds) and (not row.kind or row.kind in kinds)
    )
