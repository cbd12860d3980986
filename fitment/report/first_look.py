"""What a first look says: the answer first, then how sure it is and what to measure next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fitment.report.builds import clearance_words, verdict_words
from fitment.report.common import VERDICT_WORDS, setup_words, wrapped
from fitment.report.next_reading import chance_words, how_words, nothing_words, reading_label
from fitment.units import in_units

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.answers.next_reading import Sure
    from fitment.checks.full_case import FullCase


def first_answer(case: FullCase, sure: Sure | None, units: str = "mm") -> str:
    """Verdict, closest call, how sure, and the next reading, in a few lines."""
    fit = case.fit
    closest = clearance_words(case, units)
    lines = [
        f"{VERDICT_WORDS[fit.verdict]}  {fit.axle.name}, build {case.ready.build}: {setup_words(fit.setup, units)}"
    ]
    if any(check.status == "fail" for check in fit.bolt_on):
        lines.append(f"{verdict_words(case, units)}.")
    lines.append(f"Closest call: {closest[:1].upper()}{closest[1:]}.")
    lines.append(f"How sure: {how_sure_words(sure)}.")
    lines.append(f"Measure next: {next_words(sure, fit.axle.name)}")
    return "\n".join(wrapped(in_units(line, units), first="", rest="  ") for line in lines)


def as_it_stands(now: FullCase, units: str = "mm") -> str:
    """Whether the readings say that the vehicle rubs as it stands, which its driver would know."""
    if now.fit.verdict != "touches":
        return wrapped("As it stands now, the same readings say that nothing touches.", first="", rest="  ")
    line = (
        f"As it stands now, the same readings already say: {clearance_words(now, units)}. If nothing rubs there, this "
        "answer is too dark: a reading or an assumed value is off, or the part is smaller than the flat that stands "
        "for it. Take the next reading first."
    )
    return wrapped(in_units(line, units), first="", rest="  ")


def how_sure_words(sure: Sure | None) -> str:
    """The chance as it is said, and what it is about."""
    if sure is None:
        return "nothing can be said, because no part near the wheel was seen"
    return f"{chance_words(sure)}; only the parts that you named are counted"


def next_words(sure: Sure | None, axle: str) -> str:
    """The reading that decides most, and how it is taken; lengths in mm."""
    if sure is None:
        return "the fender lip, and what is nearest inboard of the tire."
    if not sure.decided_by:
        return nothing_words(sure)
    first = sure.decided_by[0]
    return f"{reading_label(first, axle)}. {how_words(first)}"
