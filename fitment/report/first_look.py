"""What a first look says: the answer first, then how sure it is and what to measure next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fitment.report.builds import clearance_words, verdict_words
from fitment.report.common import VERDICT_WORDS, setup_words, wrapped
from fitment.report.uncertainty import chance_text, reading_words
from fitment.units import in_units, length_text

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.answers.uncertainty import Certainty, Doubt
    from fitment.checks.full_case import FullCase

HOW_TO_TAKE = {  # by the beginning of a reading's path: how it is taken, and the key it goes to
    "travel.bump": "jack the wheel up to its stop and read how far its hub rises (travel: bump)",
    "travel.droop": "lift the body until the wheel hangs and read how far its hub drops (travel: droop)",
    "steering.lock_left": "full left lock, chalk line: the two readings of box 9 (steering: lock_left)",
    "steering.lock_right": "the two readings of box 9 at full right lock (steering: lock_right)",
    "suspension.camber_per_100mm": "camber before and after the hub is jacked up 100 mm (suspension: camber_per_100mm)",
    "suspension.track_per_100mm": "the hub's way outward while it is jacked up 100 mm (suspension: track_per_100mm)",
    "suspension.steering_axis": "the centres of both ball joints, or the strut's top (suspension: steering_axis)",
    "suspension.camber": "camber by a gauge on the rim, box 3 (suspension: camber)",
    "suspension.toe_in": "toe between straightedges on both tires (suspension: toe_in)",
}
LEAST = 0.02  # share of the spread below which no reading is named


def first_answer(case: FullCase, sure: Certainty | None, units: str = "mm") -> str:
    """Verdict, closest call, how sure, and the next reading, in a few lines; what was not looked at is in the note."""
    fit = case.fit
    head = f"{VERDICT_WORDS[fit.verdict]}  {fit.axle.name}, build {case.ready.build}: {setup_words(fit.setup, units)}"
    lines = [head, f"Closest call: {_capital(clearance_words(case, units))}."]
    if fit.verdict == "does_not_bolt_on":
        lines.insert(1, f"{verdict_words(case, units)}.")
    lines += [f"How sure: {sure_words(sure, units)}", f"Measure next: {next_words(sure, fit.axle.name, units)}"]
    return "\n".join(wrapped(in_units(line, units), first="", rest="  ") for line in lines)


def sure_words(sure: Certainty | None, units: str) -> str:
    """The chance that all keeps clear, in a sentence."""
    if sure is None or sure.any_contact is None or sure.any_short is None:
        return "no chance can be told, because no part was checked whose way out is known."
    low, high = (1.0 - chance for chance in reversed(sure.any_contact))
    kept_low, kept_high = (1.0 - chance for chance in reversed(sure.any_short))
    least = min(place.entry.worst_case for place in sure.places)
    words = (
        f"the chance that nothing touches is {_between(low, high)}, that every part keeps the gap required "
        f"{_between(kept_low, kept_high)}."
    )
    if least < 0:
        words += f" With every band and tolerance against you, parts would overlap by {length_text(-least, units)}."
    return words + " Only what was read is counted."


def _between(low: float, high: float) -> str:
    """A chance between two; one where they read alike."""
    texts = chance_text(low), chance_text(high)
    return texts[0] if texts[0] == texts[1] else f"{texts[0]} to {texts[1]}"


def next_words(sure: Certainty | None, axle: str, units: str) -> str:
    """The reading that decides most at the tightest place, and how it is taken."""
    ranked = [again.doubt for again in sure.measure_again] if sure is not None else []
    readings = [doubt for doubt in ranked if doubt.kind in ("reading", "place", "setup", "offset")]
    if sure is None or not readings or sure.limiting.share(readings[0]) < LEAST:
        return "nothing stands out. Fill in the full sheets: fitment worksheet."
    doubt, place = readings[0], sure.limiting
    band = length_text(doubt.tolerance, units) if doubt.unit == "mm" else f"{doubt.tolerance:g} deg"
    return (
        f"{how_to_take(doubt, axle)}. It is known to +- {band}, and {chance_text(place.share(doubt))} of the spread of "
        f"{place.entry.part} to {place.entry.obstacle} comes from it."
    )


def how_to_take(doubt: Doubt, axle: str) -> str:
    """A reading, and how it is taken."""
    bare = doubt.name.removeprefix("baseline:")
    for path, how in HOW_TO_TAKE.items():
        if bare.startswith(path):
            return f"{reading_words(doubt, axle)}: {how}"
    if doubt.kind == "place":
        return f"{reading_words(doubt, axle)}: points of the part itself, by the full sheets' form for parts"
    return f"{reading_words(doubt, axle)}, once more and finer"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
