"""The tables and sentences of a page, as plain texts that the template escapes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fitment.answers.alignment import Alignment
from fitment.answers.handover import Subject
from fitment.checks.bolt_on import BoltOn
from fitment.checks.case import Case
from fitment.checks.fit import Clearance
from fitment.checks.full_case import FullCase
from fitment.page.moving_drawing import letters_of, row_pairs
from fitment.report import (
    CHANGE_WORDS,
    angle_text,
    both_units,
    corner_words,
    measure_text,
)
from fitment.report.alignment import ride_rows
from fitment.report.in_service import is_short_in_service, service_cell
from fitment.report.road_changes import ASSUMED, road_words
from fitment.units import clearance_text, in_units, length_text

ANGLES = (
    ("camber", "camber"),
    ("caster", "caster"),
    ("kingpin_inclination", "kingpin inclination"),
    ("toe_in", "toe-in, each wheel"),
)
ALIGNMENT_HEAD = (
    "ride height", "travel", "camber", "caster", "caster to ground", "toe-in", "kingpin inclination", "scrub radius"
)  # fmt: skip


def here_rows(old: Case | None, new: Case, units: str) -> list[dict[str, str]]:
    """Names of the rows that follow the sliders."""
    letters = letters_of(old, new)
    asked = {(e.obstacle, e.part): e.allowance for case in (old, new) if case for e in case.fit.worst_each}
    return [
        {"letter": letters[name], "name": f"{part} to {name}", "asked": length_text(asked[name, part], units)}
        for name, part in row_pairs(old, new)
    ]


def closest_rows(old: Case | None, new: Case, units: str) -> list[dict[str, Any]]:
    """The smallest clearance of every obstacle and part over the whole motion, tightest first."""
    before = {} if old is None else {(e.obstacle, e.part): e for e in old.fit.worst_each}
    after = {(e.obstacle, e.part): e for e in new.fit.worst_each}
    letters = letters_of(old, new)
    return [
        {
            "letter": letters[pair[0]],
            "name": f"{pair[1]} to {pair[0]}",
            "was": _clearance(before.get(pair), units),
            "is": _clearance(after.get(pair), units),
            "asked": length_text((after.get(pair) or before[pair]).allowance, units),
            "worst": "-" if pair not in after else clearance_text(after[pair].worst_case, units),
            "served": "-" if pair not in after else service_cell(new.fit, after[pair], units),
            "is_short": pair in after and is_short_in_service(new.fit, after[pair]),
            "where": "-" if pair not in after else _where(after[pair], units),
            "mark": "" if pair not in after else _mark(after[pair]),
            "shows": pair in after,
        }
        for pair in row_pairs(old, new)
    ]


def _clearance(entry: Clearance | None, units: str) -> dict[str, str]:
    """The text, and the millimetres of the contract's JSON behind it."""
    if entry is None:
        return {"text": "-", "mm": ""}
    return {"text": clearance_text(entry.clearance, units), "mm": repr(round(entry.clearance, 4) + 0.0)}


def _where(entry: Clearance, units: str) -> str:
    words = f"{length_text(entry.travel, units, digits=0, sign=True)}, {angle_text(entry.steer, 1)}"
    return ", ".join(filter(None, (words, corner_words(entry, units))))


def _mark(entry: Clearance) -> str:
    if entry.clearance < 0:
        return "overlap"
    return "below required" if entry.margin < 0 else "worst case" if entry.worst_case < 0 else ""


def stance_rows(subject: Subject, units: str) -> list[tuple[str, ...]]:
    """At rest, straight ahead: what, old, new, change; of one build: what, value, change against the baseline."""
    change = subject.new.change if subject.comparison is None else subject.comparison.change
    lengths = [case.stance.lengths() for case in subject.cases]
    rows: list[tuple[str, ...]] = []
    for name, words in CHANGE_WORDS.items():
        if all(name in measures for measures in lengths):
            texts = (measure_text(name, measures[name], units) for measures in lengths)
            rows.append((words, *texts, _moved(name, change.get(name), units)))
    for name, words in ANGLES:
        angles = [getattr(case.stance, name) for case in subject.cases]
        if None not in angles:
            moved = angle_text(angles[1] - angles[0]) if len(angles) == 2 else ""
            rows.append((words, *map(angle_text, angles), moved))
    return rows


def _moved(name: str, move: float | None, units: str) -> str:
    return "" if move is None else " ".join(both_units(name, move, units)).rstrip()


def bolt_on_rows(case: Case, units: str) -> list[dict[str, str]]:
    """Every bolt-on check with its status in words."""
    return [_bolt_on(check, units) for check in case.fit.bolt_on]


def ground_rows(case: FullCase, units: str) -> list[dict[str, str]]:
    """The checks against the ground and of the bodywork's cover."""
    return [_bolt_on(check, units, tape=True) for check in case.on_ground]


def ground_words(units: str) -> str:
    """What the checks against the ground rest on."""
    return in_units(ASSUMED, units)


def road_rows(subject: Subject, units: str) -> list[tuple[str, str]]:
    """What changes on the road, against the old build or the baseline."""
    comparison, new = subject.comparison, subject.new
    if comparison is None:
        return list(road_words(new.road, units, new.ready.profile.baseline))
    return list(road_words(comparison.road, units, comparison.old.ready.build))


def _bolt_on(check: BoltOn, units: str, *, tape: bool = False) -> dict[str, str]:
    words = check.status.replace("_", " ")
    return {
        "item": check.item,
        "status": check.status,
        "word": words,
        "detail": in_units(check.detail, units, tape=tape),
    }


def alignment_table(found: Alignment, units: str) -> dict[str, Any]:
    """Angles at each ride height."""
    return {"build": found.ready.build, "rows": ride_rows(found, units)[1:]}


def reach_words(found: Sequence[Alignment], units: str) -> list[str]:
    """What the adjusters reach in each build, said once where it is the same."""
    words = [(alignment.ready.build, _reach(alignment, units)) for alignment in found]
    if len({reach for _, reach in words}) == 1:
        return [words[0][1]]
    return [f"{build}: {reach[0].lower()}{reach[1:]}" for build, reach in words]


def _reach(found: Alignment, units: str) -> str:
    if found.reach is None:
        return f"What can be reached: not computed, because {found.why_not}."
    camber, caster = found.reach.camber, found.reach.caster
    at = ", ".join(filter(None, (found.ride_name, length_text(found.travel, units, digits=0, sign=True))))
    return (
        f"The adjusters reach, at {at}, toe re-set: camber {camber.min():+.2f} to {camber.max():+.2f} deg, caster "
        f"{caster.min():+.2f} to {caster.max():+.2f} deg (not every camber with every caster)."
    )


def cautions(old: Case | None, new: Case, units: str) -> list[str]:
    """Cautions of the new build, then those that only the old one has, with its name before them."""
    return _of_both(old, new.cautions, () if old is None else old.cautions, units)


def taken_for_granted(old: Case | None, new: Case, units: str) -> list[str]:
    """What was assumed about the new build's wheel and tire, then what only about the old one's."""
    return _of_both(old, new.assumptions, () if old is None else old.assumptions, units)


def _of_both(old: Case | None, mine: Sequence[str], before: Sequence[str], units: str) -> list[str]:
    words = [in_units(text, units) for text in mine]
    more = [] if old is None else [f"{old.ready.build}: {in_units(e, units)}" for e in before if e not in mine]
    return [*dict.fromkeys([*words, *more])]
