"""How likely a whole setup clears, in a sentence, and which reading to take next, as text and JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from fitment.report.common import VERDICT_WORDS, head_json, rounded, setup_words, table, wrapped
from fitment.report.in_service import not_counted_json
from fitment.report.readings import slip_lines
from fitment.report.uncertainty import path_words
from fitment.units import in_units

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.answers.next_reading import NextReading, Sure
    from fitment.checks.case import Case
    from fitment.checks.fit import Clearance, Fit

LIKELY = ((0.99, "99 in 100"), (0.95, "19 in 20"), (0.9, "9 in 10"))  # from a chance on, said so
AGAIN_FIRST = (
    "Measure that first: the vehicle stands as it is, so a part cannot overlap its tire. Until then no chance holds."
)
NOTES = (
    (
        "The chance is that every required clearance is kept, at all checked parts together: it counts what was "
        "measured and what was assumed, each reading once, with two standard deviations in a tolerance, and every "
        "permitted size of the tire as equally likely. Parts that nobody measured, shapes that nobody saw, play, give "
        "and mistaken readings are not in it; nor are the bolt-on checks."
    ),
    (
        "Share: how much of the doubt about the answer goes on average when this reading is taken: with half its "
        "tolerance, in place of an assumed value with what a tape or gauge usually reads, a gap to 2 mm. Readings that "
        "tell of the same have it in common, so the shares may come to more than 100 %."
    ),
    "After each reading ask again: what it turned out to be changes what is worth measuring.",
)


# ---------------------------------------------------------------- in a sentence


def how_sure(fit: Fit | None) -> str:
    """What a chance is of: of the clearances as measured, whatever happens in service."""
    return "How sure, without what happens in service" if fit is not None and fit.in_service else "How sure"


def sure_words(sure: Sure | None, units: str = "mm", fit: Fit | None = None) -> str:
    """The sentence beside the verdict; empty where readings leave nothing open."""
    if sure is None or not sure.worth_saying:
        return ""
    return in_units(f"{how_sure(fit)}: {chance_words(sure)}{_decided_words(sure)}", units)


def chance_words(sure: Sure) -> str:
    """The chance as a builder says it, never more than was computed."""
    for chance, does in ((sure.chance, "clears"), (1 - sure.chance, "does not clear")):
        words = next((words for least, words in LIKELY if chance >= least - 1e-9), None)
        if words:
            return f"{does}, {words}"
    count = math.floor(100 * sure.chance + 1e-6)
    return f"open, {count} in 100 that every required clearance is kept"


def _decided_words(sure: Sure) -> str:
    """What decides an open answer."""
    if not sure.decided_by or not chance_words(sure).startswith("open"):
        return ""
    return f"; decided by {reading_label(sure.decided_by[0])}: measure it next"


TAKEN_WHOLE = {
    "tire": "the tire's own size",
    "tire.shoulder": "the shape of the tire's shoulder",
    "tire.rim_protector": "whether the tire has a rib beside the rim",
    "suspension.steering_axis": "the steering axis",
    "suspension.links": "the axle's links, or its leaf springs",
}


def reading_label(reading: NextReading, axle: str = "") -> str:
    """A reading as a shop says it."""
    place, path = reading.place, reading.name.removeprefix("baseline:")
    if place is not None:
        where = {"left": " at left lock", "right": " at right lock"}.get(reading.lock, "")
        return f"the {place.part}'s gap to the {place.obstacle}{where}"
    if path in TAKEN_WHOLE:
        return TAKEN_WHOLE[path]
    if reading.question is None:
        return path_words(reading.name, axle).strip()
    ask = reading.question.question.ask
    ask = ask.replace("left wheel", "right wheel") if axle.endswith("right") else ask
    was = " of the baseline" if reading.name.startswith("baseline:") else ""
    return (ask if ask[1:2].isupper() else ask[:1].lower() + ask[1:]) + was


# ---------------------------------------------------------------- how to take it


def how_words(reading: NextReading, axle: str = "") -> str:
    """How to take a reading, and where it goes; lengths in mm. Of a right corner it goes under `right`."""
    question = reading.question
    if reading.place is not None:
        words = _at_part(reading, reading.place)
    elif reading.name == "tire":
        words = (
            "Mounted and inflated: section width with calipers over the sidewalls, overall diameter from the way round "
            "the tread divided by 3.14. Not bought yet: ask for both. In the profile: section_width and "
            "overall_diameter, each with a tolerance."
        )
    elif reading.name == "tire.shoulder":
        words = (
            "Look at where tread and sidewall meet, or at the maker's picture: shoulder: round, usual, square or "
            "lugged. Or hold a contour gauge against the mounted tire from the sidewall to the middle of the tread: "
            "outline."
        )
    elif reading.name == "tire.rim_protector":
        words = (
            "Look at the sidewall beside the rim. No rib: rim_protector: false. A rib: hold a contour gauge against "
            "the mounted tire from the sidewall beside the rim to the middle of the tread: outline."
        )
    elif reading.name.endswith("steering_axis"):
        words = (
            "Two points: the centre of the lower ball joint, and that of the upper one, or of a strut's top mount. "
            "Plumb bob and tape: forward of the axle line, out from the centre plane, above the hub centre."
        )
    elif reading.name.endswith("suspension.links"):
        words = (
            "Front and rear pivot of each link, or of a leaf spring its fixed eye and its seat on the axle. Plumb bob "
            "and tape: forward of the axle line, out from the centre plane, above the hub centre."
        )
    elif question is not None:
        asked = question.question
        tool = f"{asked.tool[:1].upper()}{asked.tool[1:]}" if asked.tool else ""
        from_where = f" from: {asked.datum}" if asked.datum else ""
        head = f"{tool}{',' if tool and from_where else ''}{from_where}".strip()
        words = ". ".join(filter(None, (head, asked.how))) or f"{asked.ask}."
        words = words if words.endswith(".") else f"{words}."
    else:
        words = "Read it again, and give it a tolerance in the profile."
    if axle.endswith("right") and reading.name != "tire":
        return f"{words} On the right side; in the profile it goes under `right`."
    return words if question is None else f"{words} Sheet: {question.number}."


def _at_part(reading: NextReading, place: Clearance) -> str:
    if reading.shape == "ring":
        return (
            f"Measure the outline of {place.obstacle} again: straightedge across the hub face, calipers; give its "
            "tolerance in the profile."
        )
    lock = {"straight": "straight ahead"}.get(reading.lock, f"at full {reading.lock} lock")
    step = [abs(a - b) for a, b in zip(place.point, place.at_part, strict=True)]
    along = ("ahead", "out", "up")[step.index(max(step))]
    more = [f"at: {{lock: {reading.lock}}}"] if reading.lock != "straight" else []
    more += [f"along: {along}"] if along != "out" else []
    keys = ", ".join([f"to: {place.part}", "gap: ...", *more])
    return (
        f"With the wheels of the baseline on, at rest, {lock}: the shortest gap between {place.part} and "
        f"{place.obstacle}, tape or feeler sticks. In the profile, at {place.obstacle}: measured_gap: {{{keys}}}. "
        "Or measure its points again."
    )


# ---------------------------------------------------------------- the whole answer


def sure_json(sure: Sure | None, fit: Fit) -> dict[str, Any] | None:
    """The contract's `sure`; a setup that does not bolt on has no chance."""
    if sure is None:
        return None
    if not sure.bolts_on:
        return {"chance_clears": 0.0, "decided_by": []}
    axle, left_out = fit.axle.name, not_counted_json(fit.axle)
    return ({} if left_out is None else {"not_counted": left_out}) | {
        "chance_clears": rounded(sure.chance, 3),
        "decided_by": [
            {
                "reading": reading.name,
                "words": in_units(reading_label(reading, axle), "mm"),
                "share": rounded(reading.share, 3),
                "how_to_take_it": in_units(how_words(reading, axle), "mm"),
                "sheet": reading.question.number if reading.question else None,
                "assumed": reading.assumed,
            }
            for reading in sure.decided_by
        ],
    }


def next_json(case: Case, sure: Sure | None) -> dict[str, Any]:
    """What to measure next on one axle."""
    return {
        **head_json(case),
        "verdict": case.fit.verdict,
        "sure": sure_json(sure, case.fit),
        "notes": list(NOTES),
    }


def next_text(pairs: Sequence[tuple[Case, Sure | None]], units: str = "mm") -> str:
    """Each axle: how sure, and the readings in order with how to take them; then what that rests on."""
    parts = [_axle_text(case, sure, units) for case, sure in pairs]
    notes = "\n".join(["What this rests on", *(wrapped(in_units(note, units)) for note in NOTES)])
    return "\n\n".join([*parts, notes])


def _axle_text(case: Case, sure: Sure | None, units: str) -> str:
    fit = case.fit
    head = f"What to measure next: {fit.axle.name}, build {case.ready.build}: {setup_words(fit.setup, units)}"
    lines = [wrapped(head, first="", rest="  "), *slip_lines([case.ready], units)]
    if sure is None:
        return "\n".join([*lines, "  No part near the wheel was checked: measure the parts that it could meet."])
    told = f"{VERDICT_WORDS[fit.verdict]}. {how_sure(fit)}: {chance_words(sure)}."
    if not sure.bolts_on:
        told = f"{VERDICT_WORDS[fit.verdict]}. What follows is about the clearances alone: {chance_words(sure)}."
    lines.append(wrapped(told, first="  ", rest="  "))
    if case.ready.baseline_touches:
        return "\n".join([*lines, wrapped(AGAIN_FIRST, first="  ", rest="  ")])
    if not sure.decided_by:
        return "\n".join([*lines, wrapped(nothing_words(sure), first="  ", rest="  ")])
    rows = [("", "share", "reading")]
    rows += [
        (f"{i}.", f"{100 * reading.share:.0f} %", in_units(reading_label(reading, fit.axle.name), units))
        for i, reading in enumerate(sure.decided_by, start=1)
    ]
    lines += ["", table(rows, left=3), ""]
    for (number, *_), reading in zip(rows[1:], sure.decided_by, strict=True):
        lines.append(wrapped(in_units(how_words(reading, fit.axle.name), units), first=f"  {number} ", rest="     "))
    return "\n".join(lines)


def nothing_words(sure: Sure) -> str:
    """Why no reading is worth taking next."""
    if 0.01 < sure.chance < 0.99:
        return "No single reading decides: each alone leaves the answer as it is."
    if sure.chance >= 0.5:
        return "No reading decides: every clearance has more to spare than the readings could be off."
    return "No reading decides: a clearance is missing by more than the readings could be off."
