"""How questions are worded alike on paper and at the terminal."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from fitment.measuring.questions.forms import Group, Question, SheetRow, rows
from fitment.units import KG_PER_LB, KM_PER_MILE, MM_PER_INCH, inches

# answers with lengths in them
LENGTHS = ("length", "lengths", "twice", "point", "row", "pair", "share", "raised", "named")
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
ANGLES = ("angle", "angles", "clock")


def gives_text(question: Question, units: str) -> str:
    """What the tool gives, such as "+-2 mm" or "+-3/32 in"; empty where nothing is measured."""
    if question.gives is None:
        return ""
    if question.form in ANGLES:
        return f"+-{question.gives:g} deg"
    return f"+-{tolerance_text(question.gives, units)}"


def tolerance_text(mm: float, units: str) -> str:
    """What a tool gives as it is typed; in inches never less than in mm.

    A tape's is in 32nds of an inch, from 1/8 on in 16ths; a caliper's, below 1 mm, in thousandths.
    >>> tolerance_text(2, "mm"), tolerance_text(2, "in"), tolerance_text(5, "in"), tolerance_text(0.1, "in")
    ('2 mm', '3/32 in', '1/4 in', '0.004 in')
    """
    if units == "mm":
        return f"{mm:g} mm"
    parts = 1000 if mm < 1 else 32 if mm < MM_PER_INCH / 8 else 16
    steps = math.ceil(round(mm / MM_PER_INCH * parts, 6))
    return f"{steps / parts:g} in" if mm < 1 else inches(steps / parts * MM_PER_INCH, parts=parts)


def unit_text(question: Question, units: str) -> str:
    """The unit of a number: kg and km/h, or lb and mph beside inches; others stay."""
    return {"kg": "lb", "km/h": "mph"}.get(question.unit, question.unit) if units == "in" else question.unit


def per_unit(question: Question) -> float:
    """How much of the question's own unit one of `unit_text` beside inches is: kg in a lb, km/h in a mph, else 1."""
    return {"kg": KG_PER_LB, "km/h": KM_PER_MILE}.get(question.unit, 1.0)


def example_text(question: Question, units: str) -> str:
    """The example, as it would be typed in these units: a tape's reading in sixteenths, a caliper's in decimals."""
    if units == "mm":
        return question.example
    if question.form == "number":
        per = per_unit(question)
        return question.example if per == 1 else f"{float(f'{float(question.example) / per:.2g}'):g}"
    if question.form not in LENGTHS:
        return question.example
    is_caliper = "caliper" in question.tool
    count = {"share": 1, "raised": 2}.get(question.form, 0)  # share and camber, behind these, are no lengths
    return _NUMBER.sub(lambda found: _in_inches(found[0], caliper=is_caliper), question.example, count=count)


def _in_inches(number: str, *, caliper: bool) -> str:
    mm = float(number)
    return f"{mm / MM_PER_INCH:.3f}" if caliper else inches(mm).removesuffix(" in")


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
