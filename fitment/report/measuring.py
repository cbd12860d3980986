"""The questions of the worksheet as text: the whole list, and one question at the terminal."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from fitment.measuring.questions import ALL, CAUTIONS, TOOLS
from fitment.measuring.questions.first import FIRST_CAUTIONS, first_rows
from fitment.measuring.questions.forms import Question, SheetRow
from fitment.measuring.questions.words import (
    LENGTHS,
    example_text,
    gives_text,
    per_unit,
    rows_for,
    unit_text,
    with_text,
)
from fitment.report.common import wrapped
from fitment.units import MM_PER_INCH, in_units

if TYPE_CHECKING:  # a question in its place is made where it is asked
    from fitment.measuring.interview import Asked

SHOWN = 40  # characters of a value in a prompt
FORMS = {
    "length": "{unit}", "lengths": "{unit}, separated by commas", "angle": "degrees",
    "angles": "degrees, separated by commas", "twice": "front, rear in {unit}", "spot": "o'clock",
    "point": "x, y, z in {unit}; or clock, radius, out", "row": "points in {unit}, separated by ;",
    "pair": "y', r in {unit}", "clock": "first, last in degrees", "share": "{unit}, 0 to 1",
    "raised": "{unit}, {unit}, degrees", "named": "name = {unit}",
    "ride": "name, or {unit}", "rim": "in", "rims": "in, in", "yes": "yes or no", "names": "names, separated by commas",
}  # fmt: skip


def form_text(question: Question, units: str) -> str:
    """How the answer is written, such as "mm" or "x, y, z in mm"."""
    if question.choices and not question.choices[0].startswith("{"):
        return ", ".join(question.choices)
    return FORMS.get(question.form, unit_text(question, units)).format(unit=units)


def worksheet_text(kinds: Sequence[str], units: str = "mm") -> str:
    """Everything to measure, in order, with where and with what."""
    lines = ["BEFORE YOU START", *(wrapped(text) for text in CAUTIONS)]
    lines += ["", "YOU NEED", *(wrapped(in_units(text, units)) for text in TOOLS)]
    section = None
    for row in rows_for(ALL, kinds):
        if row.section is not section:
            section = row.section
            lines += ["", f"{row.number.split('.')[0]} {section.title.upper()}"]
            lines += [_wrapped(section.how, units, "  ")] if section.how else []
        lines += _entry(row, units)
    lines += ["", "Tolerances are what a tool gives under a vehicle: common practice, no published source."]
    return "\n".join(lines)


def _wrapped(text: str, units: str, first: str, rest: str | None = None) -> str:
    return wrapped(in_units(text, units, tape=True), first=first, rest=first if rest is None else rest)


def first_sheet_text(axle: str, units: str = "mm") -> str:
    """The questions of a first look, in order."""
    lines = ["BEFORE YOU START", *(wrapped(text) for text in FIRST_CAUTIONS), "", f"FIRST LOOK, {axle.upper()} AXLE"]
    for row in first_rows(axle):
        lines += _entry(row, units)
    lines += ["", "Tolerances are what a tool gives: common practice, no published source."]
    return in_units("\n".join(lines), units)


def _entry(each: SheetRow, units: str) -> Iterator[str]:
    question = each.question
    form = form_text(question, units)
    skip = "" if question.need or question.default or question.many else "may be skipped"
    note = ", ".join(part for part in (form, skip) if part)
    ask = f"{question.ask} [{note}]" if note else question.ask
    yield _wrapped(ask, units, f"  {each.number:<6}", " " * 10)
    about = [question.how, f"With: {with_text(question, units)}." if question.tool else ""]
    about += [f"From: {question.datum}." if question.datum else ""]
    text = " ".join(part for part in about if part)
    if text:
        yield _wrapped(text, units, " " * 10)


def question_text(asked: Asked, units: str) -> str:
    """What follows the question at the terminal: how to write the answer, and what is plausible."""
    question = asked.question
    form = ", ".join(asked.choices) if question.form in ("word", "names", "text") else form_text(question, units)
    form += ", or a new name" if question.form == "text" and form else ""
    limits = _limits(asked, units)
    parts = [part for part in (form, limits) if part]
    return f" [{'; '.join(parts)}]" if parts else ""


def _limits(asked: Asked, units: str) -> str:
    limits = asked.plausible()
    if limits is None:
        return ""
    per = 1.0
    if units == "in":
        per = MM_PER_INCH if asked.question.form == "length" else per_unit(asked.question)
    if per == 1.0:
        return f"{limits[0]:g} to {limits[1]:g}"
    low, high = (limit / per for limit in limits)
    steps = 1 if high > 150 and asked.question.form != "length" else 10 if high - low > 1 else 100
    return f"{math.ceil(round(low * steps, 6)) / steps:g} to {math.floor(round(high * steps, 6)) / steps:g}"


def stays_text(asked: Asked, units: str) -> str:
    """What stands in the profile and stays when nothing is typed; with its unit where another one is typed."""
    text = reading_text(asked.stays)
    if unit_text(asked.question, units) != asked.question.unit and isinstance(asked.stays, int | float):
        return f"{text} {asked.question.unit}"
    is_bare = asked.question.form in LENGTHS and not re.search(r"\d *(?:in|mm|cm|m|ft|\")|assumed", text)
    return f"{text} mm" if units == "in" and is_bare else text


def reading_text(value: Any) -> str:
    """A value of a profile as it would be typed; a long one cut."""
    if isinstance(value, dict) and "value" in value:
        band = f" +- {value['tolerance']}" if "tolerance" in value else ""
        return f"{value['value']}{band}{', assumed,' if value.get('assumed') else ''}"
    if isinstance(value, dict):
        text = ", ".join(f"{key} {reading_text(entry)}" for key, entry in value.items())
    elif isinstance(value, list):
        text = ", ".join(reading_text(item) for item in value)
    elif isinstance(value, bool):
        return "yes" if value else "no"
    else:
        text = str(value)
    return text if len(text) <= SHOWN else f"{text[: SHOWN - 4]} ..."


def question_help(asked: Asked, units: str) -> list[str]:
    """Everything about a question, line by line."""
    question = asked.question
    limits = _limits(asked, units)
    lines = [
        question.how or question.ask,
        f"With: {question.tool}" if question.tool else "",
        f"Counted from: {question.datum}" if question.datum else "",
        f"How exact that is: {gives_text(question, units)} (common practice)" if question.gives is not None else "",
        f"Plausible: {limits} {units if question.form == 'length' else unit_text(question, units)}" if limits else "",
        f"What for: {question.why}" if question.why else "",
        f"For example: {example_text(question, units)}" if question.example else "",
        "" if asked.may_skip else "This one cannot be skipped.",
    ]
    return [line for line in lines if line]
