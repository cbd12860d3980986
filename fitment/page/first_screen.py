"""What a page answers first, of each axle: one sentence, its figures, what would make it fit, what is still open.

Words are a customer's: a part hits, or so much is left. Nothing is computed here.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from fitment.answers.changes import Change, kept
from fitment.answers.handover import Subject
from fitment.checks.case import Case
from fitment.checks.fit import Clearance
from fitment.checks.full_case import FullCase
from fitment.corners import axle_of
from fitment.parts.obstacles import fixed_to_hub
from fitment.report import angle_text, corner_words, setup_words, slip_words
from fitment.report.builds import hangs_words, open_checks
from fitment.report.changes import elsewhere, still_close
from fitment.report.common import SAID, first_sentence, overlap_text
from fitment.report.in_service import open_in_service, service_cell, service_words
from fitment.report.next_reading import chance_words, how_sure, reading_label
from fitment.report.readings import assumed_words
from fitment.units import clearance_text, in_units, length_text

STRAIGHT = 1.0  # [deg] of steer that nobody calls turned
NEAR_END = 0.5  # [mm] of travel from its end that is called the end
READINGS = 2  # that are named
ACHIEVES = {
    "clears": "Then every required clearance is kept.",
    "no_contact": "Then nothing touches, but a gap stays below what is required, or the worst case touches.",
}


def axle_answer(subject: Subject, units: str) -> dict[str, Any]:
    """What the first screen says of one axle, but for what would make it fit."""
    new, old = subject.new, subject.old
    return {
        "verdict": new.fit.verdict,
        "word": SAID[new.fit.verdict],
        "sentence": sentence(new, units),
        "figures": figures(new, units),
        "setup": setup_words(new.fit.setup, units),
        "slip": in_units(slip_words(new.ready), units, tape=True),
        "before": None if old is None else _before(old, units),
        "ask": [check.item for check in new.fit.bolt_on if check.asks_seller],
        "measure": _measure(subject, units),
        "sure": _sure(subject, units),
        "open": _open_words(new, units),
        "service": service_words(new.fit, units),
    }


def sentence(case: Case, units: str) -> str:
    """The answer in one sentence of a customer's words."""
    fit, worst = case.fit, case.fit.worst
    failed = [check for check in fit.bolt_on if check.status == "fail"]
    if failed:
        why = "; ".join(f"{check.item}, {in_units(first_sentence(check.detail), units)}" for check in failed)
        return f"Does not bolt on: {why}.{_too(case)}"
    if worst is None:
        return "Not checked: no part near the wheel was checked, so nothing is known about clearances."
    if worst.clearance < 0:
        return f"Touches: {_hits(case, worst, units)}."
    where = f"the {worst.part} and the {worst.obstacle}{_when(case, worst, units)}"
    if worst.margin < 0:
        asked = length_text(worst.allowance, units)
        return f"Tight: only {clearance_text(worst.clearance, units)} between {where}; {asked} required."
    against = min(fit.clearances, key=lambda entry: entry.worst_case)
    if against.worst_case < 0:
        return (
            f"Tight: the {against.part} clears the {against.obstacle} as measured, but in the worst case they touch"
            f"{_when(case, against, units)}."
        )
    return _driven(case, units) or (
        f"{_verdict_lead(case)}: the tightest place has {clearance_text(worst.clearance, units)} left, between {where}."
    )


def _driven(case: Case, units: str) -> str:
    """What is tight in service only; empty where nothing is."""
    found = case.fit.in_service
    gap = found.worst if found is not None and case.fit.is_tight_in_service else None
    if gap is None:
        return ""
    left = "touch" if gap.clearance < 0 else f"are {clearance_text(gap.clearance, units)} apart"
    asked = length_text(gap.allowance, units)
    return (
        f"Tight in service: all clears as measured, but when driven the {gap.part} and the {gap.obstacle} "
        f"{left} ({gap.how}); {asked} required."
    )


def _verdict_lead(case: Case) -> str:
    words = SAID[case.fit.verdict]
    return f"{words[0].upper()}{words[1:]}"


def _hits(case: Case, entry: Clearance, units: str) -> str:
    return f"the {entry.part} hits the {entry.obstacle}{_when(case, entry, units)}"


def _too(case: Case) -> str:
    """Beside a wheel that does not bolt on: what it would hit."""
    pairs = [f"the {e.part} would hit the {e.obstacle}" for e in case.fit.worst_each if e.clearance < 0]
    return f" Mounted, {' and '.join(pairs)}." if pairs else ""


def _when(case: Case, entry: Clearance, units: str) -> str:
    """In which position of travel and steering, behind a sentence's words."""
    obstacle = next(o for o in case.fit.obstacles if o.name == entry.obstacle)
    if fixed_to_hub(obstacle):
        return ", in every position of the wheel"
    axle, words = case.fit.axle, []
    if axle.steering is not None:
        turned = "left" if entry.steer > 0 else "right"
        words.append("straight ahead" if abs(entry.steer) < STRAIGHT else f"when turned {turned}")
    travel = length_text(entry.travel, units, digits=0, sign=True)
    if abs(entry.travel - axle.bump) < NEAR_END:
        words.append(f"at full bump ({travel} of travel)")
    elif abs(entry.travel - axle.droop) < NEAR_END:
        words.append(f"at full droop ({travel} of travel)")
    else:
        words.append(f"at {travel} of travel")
    more = corner_words(entry, units)
    return f" {' '.join(words)}{f' ({more})' if more else ''}"


def figures(case: Case, units: str) -> list[tuple[str, str]]:
    """Figures of the entry that decides as measured, which is named where the sentence is about others."""
    worst = case.fit.decides
    if worst is None:
        return []
    named = _named(case, worst)
    pair = [] if named == (worst.part, worst.obstacle) else [("closest call", f"{worst.part} to {worst.obstacle}")]
    gap = ("overlap", overlap_text(worst.clearance, units)) if worst.clearance < 0 else (
        "as measured" if case.fit.is_tight_in_service else "clearance", clearance_text(worst.clearance, units)
    )  # fmt: skip
    rows = [*pair, gap, ("required", length_text(worst.allowance, units))]
    rows.append(("worst case", clearance_text(worst.worst_case, units)))
    rows += [("in service", service_cell(case.fit, worst, units))] if case.fit.in_service else []
    rest = case.fit.at_rest.get((worst.obstacle, worst.part, worst.corner))
    if rest is not None:
        rows.append(("at rest", clearance_text(rest.clearance, units)))
    rows.append(("travel", length_text(worst.travel, units, digits=0, sign=True)))
    return [*rows, ("steer", angle_text(worst.steer, 1))] if case.fit.axle.steering is not None else rows


def _named(case: Case, worst: Clearance) -> tuple[str, str]:
    """Part and obstacle that the sentence is about."""
    fit = case.fit
    if worst.clearance >= 0 and worst.margin >= 0:
        against = min(fit.clearances, key=lambda entry: entry.worst_case)
        if against.worst_case < 0:
            return against.part, against.obstacle
    return worst.part, worst.obstacle


def _before(old: FullCase, units: str) -> dict[str, str]:
    return {
        "build": old.ready.build,
        "verdict": old.fit.verdict,
        "word": SAID[old.fit.verdict],
        "sentence": sentence(old, units),
        "setup": setup_words(old.fit.setup, units),
        "slip": in_units(slip_words(old.ready), units, tape=True),
        "open": _open_words(old, units),
    }


# ---------------------------------------------------------------- what would make it fit


def change_answer(
    case: FullCase, changes: Sequence[Change], units: str, check: str, *, every_kind: bool
) -> dict[str, Any]:
    """What would make a build fit; check : the command that checks it; every_kind : of change was tried."""
    enough = any(change.achieves == "clears" for change in changes)
    return {
        "fits": fit_words(case, changes, units),
        "enough": enough,
        "tried": _tried(case, changes, every_kind, enough=enough),
        "try_all": "" if every_kind and enough else f"{check} --axle {axle_of(case.fit.axle.name)} --changes",
    }


def fit_words(case: FullCase, changes: Sequence[Change], units: str) -> list[str]:
    """The best changes, each with what it reaches."""
    told = []
    for change in changes:
        what = f"{change.what[:1].upper()}{change.what[1:]}"
        reached = ACHIEVES.get(change.achieves) or still_close(case, change)
        hard = f"Hard to do: {change.use_why}." if change.use == "hard" else ""
        told.append(in_units(" ".join(filter(None, (f"{what}.", reached, elsewhere(change), hard))), units))
    return told


def _tried(case: FullCase, changes: Sequence[Change], every_kind: bool, *, enough: bool) -> str:
    """What was tried; empty where there is nothing to mend."""
    if not case.fit.clearances or kept(case):
        return ""
    none = "" if changes else "No single change tried here was found to help. "
    none += "What happens in service counts too. " if case.fit.in_service is not None else ""
    if every_kind:
        return f"{none}Every kind of change was tried, each alone.{'' if enough else ' Several together:'}"
    tried = "Tried here: offset, spacer, tire, ride height, trimming each part that is too close, in a quick search."
    more = "stops, camber, a tire both narrower and lower, several changes together"
    return f"{none}{tried} Not tried: {more}. All of it:"


# ---------------------------------------------------------------- what is open


def _measure(subject: Subject, units: str) -> list[str]:
    """Readings that decide, the most useful first."""
    sure = subject.sure[-1]
    if sure is None:
        return []
    axle = subject.new.fit.axle.name
    return [
        f"{in_units(reading_label(reading, axle), units)} ({100 * reading.share:.0f} % of the doubt"
        f"{f', sheet {reading.question.number}' if reading.question else ''})"
        for reading in sure.decided_by[:READINGS]
    ]


def _sure(subject: Subject, units: str) -> str:
    """How likely it clears, where that is worth saying."""
    sure = subject.sure[-1]
    return (
        ""
        if sure is None or not sure.worth_saying
        else in_units(f"{how_sure(subject.new.fit)}: {chance_words(sure)}.", units)
    )


def _open_words(case: FullCase, units: str) -> str:
    """What the verdict leaves open beside what a seller is asked."""
    fit = case.fit
    told_of_tire = hangs_words(case.hangs_on)
    words = [
        *filter(
            None,
            (
                told_of_tire,
                *(in_units(each, units) for each in (case.ready.usual_words, case.ready.scan_words)),
                assumed_words(case, units),
            ),
        )
    ]
    words += [f"not checked: {', '.join(name for name, _ in fit.not_checked)}"] if fit.not_checked else []
    words += open_checks("bolt-on", [check for check in fit.bolt_on if not check.asks_seller])
    words += open_checks("ground and bodywork", case.on_ground)
    words += [f"not checked: {left}" for left in [in_units(open_in_service(fit), units)] if left]
    if case.near_barrel:
        words.append(f"assumed, not measured: the inside of the barrel, next to {', '.join(case.near_barrel)}")
    told = "; ".join(words) or "nothing else in these checks"
    return f"{told[:1].upper()}{told[1:]}."
