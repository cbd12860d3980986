"""What would make a build fit, as text and JSON."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from fitment.report.builds import clearance_json
from fitment.report.common import VERDICT_WORDS, angle_text, rounded, wrapped
from fitment.units import in_units, length_text

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.answers.changes import Change, Value
    from fitment.checks.case import Case
    from fitment.checks.fit import Clearance

TITLE = "What would make it clear: one change at a time, each checked again through all poses"
GROUPS = (
    (("clears",), "With each of these alone every required clearance is met, and in the worst case nothing touches"),
    (
        ("no_contact",),
        "Each alone ends the contact, but a clearance stays below required, or something touches in the worst case",
    ),
    (("this_part",), "These help with one part; others stay too close"),
)
UNUSABLE = "Tried, but not usable"
KINDS = {
    "offset": "another offset",
    "spacer": "a spacer",
    "tire": "another tire",
    "ride": "ride height",
    "bump_stop": "bump stop",
    "steering_stop": "steering stops",
    "part": "trimming or moving a part",
    "parts_together": "trimming or moving a part",
    "camber": "camber",
}
BEST = 3  # changes of which a summary tells
FOOT = 0.3048  # [m]
# kinds of which a larger value is the smaller change
NEVER_MORE = {"bump_stop": "Ending the travel at ", "steering_stop": "Ending the steering at "}


def changes_json(found: Sequence[Change]) -> list[dict[str, Any]]:
    """Every change with its value, what it makes of the build, and what comes with it; lengths in mm."""
    return [change_json(change) for change in found]


def change_json(change: Change) -> dict[str, Any]:
    """One change: what to set, what it makes of the build, what comes with it."""
    return {
        "kind": change.kind,
        "part": change.part or None,
        "what": change.what,
        "achieves": change.achieves,
        "value": _number(change.value),
        "unit": change.unit or None,
        "by": rounded(change.by),
        "verdict": change.verdict,
        "worst": None if change.worst is None else clearance_json(change.worst),
        "one_step_less": {
            "value": _number(change.less),
            "worst": None if change.less_worst is None else clearance_json(change.less_worst),
        },
        "side_effects": {name: _number(value) for name, value in change.side_effects.items()},
        "caution": change.caution or None,
        "use": change.use,
        "use_why": change.use_why or None,
        "note": change.note or None,
        "apply": dict(change.apply),
        "checked": change.checked,
        **_other_corner_json(change),
    }


def _other_corner_json(change: Change) -> dict[str, Any]:
    """What the change makes of the other corner, where the sides differ."""
    if change.other_verdict is None:
        return {}
    return {"other_corner": {"corner": change.other_corner.partition(" ")[2], "verdict": change.other_verdict}}


def changes_text(case: Case, found: Sequence[Change], units: str = "mm") -> str:
    """What to change, by how much, what comes with it and what to mind; then what does not help."""
    lines = [TITLE, *_opening(case, found, units)]
    for kinds, heading in GROUPS:
        group = [change for change in found if change.achieves in kinds and _on_its_own(change)]
        if group:
            lines += ["", wrapped(heading, first="  ", rest="  ")]
            lines += [line for change in group for line in _lines(case, change, units)]
    together = [change for change in found if change.kind == "parts_together"]
    if together:
        lines += ["", "  More than one change", *(line for change in together for line in _lines(case, change, units))]
    unusable = [change for change in found if change.use == "not_usable"]
    if unusable:
        lines += ["", f"  {UNUSABLE}", *(line for change in unusable for line in _lines(case, change, units))]
    nothing = [change for change in found if change.achieves == "nothing" and change.kind != "parts_together"]
    if nothing:
        lines += ["", "  None of these is enough alone"]
        lines += [said(f"{change.what}. {change.note}", units, "  - ", "    ") for change in nothing]
    mind = dict.fromkeys(f"{KINDS[change.kind]}: {change.caution}" for change in found if change.caution)
    if mind:
        lines += ["", "  Mind", *(said(words, units, "  - ", "    ") for words in mind)]
    return "\n".join(lines)


def best_changes_text(case: Case, found: Sequence[Change], units: str = "mm") -> str:
    """The best few changes, and how many more the full text tells, with what comes with each and what to mind."""
    lines = [TITLE, *_opening(case, found, units)]
    helpful = [change for change in found if change.achieves != "nothing" and change.use != "not_usable"]
    best = helpful[:BEST]
    for kinds, heading in GROUPS:
        group = [change for change in best if change.achieves in kinds]
        if group:
            lines.append(wrapped(f"{heading}:", first="  ", rest="  "))
        for change in group:
            lines.append(said(change.what, units, "  * ", "    "))
            lines += [
                said(words, units, "      ", "      ")
                for words in (elsewhere(change), _use(change), still_close(case, change))
                if words
            ]
    if best:
        more = len(found) - len(best)
        also = f"{more} more, and what" if more else "What"
        lines.append(wrapped(f"{also} comes with each and what to mind: --full", first="  ", rest="  "))
    elif found:
        lines.append(wrapped("What was tried, and how far each misses: --full", first="  ", rest="  "))
    return "\n".join(lines)


def _opening(case: Case, found: Sequence[Change], units: str) -> Iterable[str]:
    failed = [check for check in case.fit.bolt_on if check.status == "fail"]
    if failed:
        words = "; ".join(f"{check.item}: {check.detail}" for check in failed)
        yield said(f"The build does not bolt on, and nothing here helps with that ({words}).", units, "  ", "  ")
    if found and case.fit.in_service is not None and case.fit.in_service.worst is not None:
        from fitment.answers.changes.in_service import SPARE  # whoever has changes has it loaded

        gap = case.fit.in_service.worst
        words = (
            f"In service counts too: what it takes is added to what is required ({gap.part} to {gap.obstacle} "
            f"{gap.allowance:.1f} mm, {gap.ideal - gap.clearance:.1f} mm that it takes, {SPARE:g} mm to spare). What "
            "is told to clear was checked in service again."
        )
        yield said(words, units, "  ", "  ")
    if not case.fit.clearances:
        yield "  No part near the wheel was checked, so there is nothing to try."
    elif not found:
        yield "  Every required clearance is met already, and in the worst case nothing touches:"
        yield "  the clearances need no change."
    elif not any(change.achieves == "clears" and _on_its_own(change) for change in found):
        of_use = "usable " if any(change.use == "not_usable" for change in found) else ""
        words = (
            f"No single {of_use}change tried here is enough: a clearance stays below required, or something touches in "
            "the worst case."
        )
        yield wrapped(words, first="  ", rest="  ")


def _on_its_own(change: Change) -> bool:
    """Whether it is one change that a builder can use."""
    return change.kind != "parts_together" and change.use != "not_usable"


def _lines(case: Case, change: Change, units: str) -> Iterable[str]:
    yield said(change.what, units, "  * ", "    ")
    for words in (
        elsewhere(change),
        _use(change),
        _less(case, change),
        with_it(change.side_effects, units),
        still_close(case, change),
        change.note,
    ):
        if words:
            yield said(words, units, "      ", "      ")


def elsewhere(change: Change) -> str:
    """That a change which helps here leaves the other corner too close."""
    if change.other_verdict in (None, "clears"):
        return ""
    return f"It does not do for both sides: {change.other_corner} is {VERDICT_WORDS[change.other_verdict]} with it."


def _use(change: Change) -> str:
    """Why a change is hard to make or not usable."""
    word = {"hard": "Hard to do", "not_usable": "Not usable"}.get(change.use)
    return "" if word is None else f"{word}: {change.use_why}."


def still_close(case: Case, change: Change) -> str:
    """What stays too close beside a part that is clear of the wheel."""
    if change.kind == "parts_together":
        if change.achieves == "clears":
            return "With all of them every required clearance is met, and in the worst case nothing touches."
        return "" if change.worst is None else f"Then {_too_close(change.worst)}."
    if change.achieves != "this_part":
        return ""
    short = [e.obstacle for e in case.fit.worst_each if e.margin < 0 or e.worst_case < 0]
    short += [gap.obstacle for gap in case.fit.in_service.gaps if gap.margin < 0] if case.fit.in_service else []
    return f"Still too close: {', '.join(name for name in dict.fromkeys(short) if name != change.part)}."


def _less(case: Case, change: Change) -> str:
    """That one step less does not do; of the smallest step nothing, as that is the build itself."""
    if change.less is None or change.less_worst is None or _is_present(case, change):
        return ""
    step = f"{NEVER_MORE.get(change.kind, '')}{_value(change.kind, change.less)}"
    return f"{step} is not enough: {_too_close(change.less_worst)}."


def _too_close(entry: Clearance) -> str:
    from fitment.answers.changes.words import too_close

    return too_close(entry)


def _is_present(case: Case, change: Change) -> bool:
    if change.by is not None and isinstance(change.value, float) and isinstance(change.less, float):
        return abs(change.value - change.by - change.less) < 1e-9
    return change.less == case.fit.setup.tire.code


def _value(kind: str, value: Value) -> str:
    if isinstance(value, str) or value is None:
        return str(value)
    if kind == "offset":
        return f"ET{value:g}"
    if kind == "camber":
        return angle_text(value)
    if kind == "steering_stop":
        return f"{value:g} deg at the larger lock"
    return f"{value:{'+' if kind in ('ride', 'bump_stop') else ''}g} mm"  # turned with the sentence


def with_it(effects: Mapping[str, float | str], units: str) -> str:
    words = "; ".join(_effects(effects, units))
    return f"Comes with it: {words}." if words else ""


def _effects(effects: Mapping[str, float | str], units: str) -> Iterable[str]:
    """What comes with a change, each in a few words."""

    def length(name: str, *, sign: bool = False) -> str:
        return length_text(float(effects[name]), units, sign=sign)

    def way(name: str, more: str, less: str) -> str:
        value = float(effects[name])
        return f"{length_text(abs(value), units)} {more if value > 0 else less}"

    if "track_change_mm" in effects:
        yield f"track {way('track_change_mm', 'wider', 'narrower')}"
    if "scrub_radius_change_mm" in effects:
        then = f" (then {length('scrub_radius_mm')})" if "scrub_radius_mm" in effects else ""
        yield f"scrub radius {way('scrub_radius_change_mm', 'more', 'less')}{then}"
    if "tire_outer_change_mm" in effects:
        yield f"tire's outer side {way('tire_outer_change_mm', 'further out', 'further in')}"
    if "backspacing_mm" in effects:
        yield f"backspacing {length('backspacing_mm')}"
    if "overall_diameter_change_mm" in effects:
        percent = float(effects["overall_diameter_change_percent"])
        yield f"overall diameter {length('overall_diameter_change_mm', sign=True)} ({percent:+.1f} %)"
        if abs(float(effects["section_width_change_mm"])) >= 0.05:
            yield f"section width {length('section_width_change_mm', sign=True)}"
        yield f"the body {way('hub_height_change_mm', 'higher', 'lower')} on this axle"
    yield from _load_words(effects)
    if "body_height_change_mm" in effects:
        yield f"the body {way('body_height_change_mm', 'higher', 'lower')} on this axle"
    yield from _travel_words(effects, length, units)
    yield from (
        f"{name.split('_')[0]} {angle_text(float(effects[name]))}{then}"
        for name, then in (("camber_change_deg", ""), ("caster_change_deg", ""), ("camber_deg", " then"))
        if name in effects
    )


def _load_words(effects: Mapping[str, float | str]) -> Iterable[str]:
    now = f" ({effects['load_index_now']} now)" if "load_index_now" in effects else ""
    if "load_index_needed" in effects:
        yield f"load index at least {effects['load_index_needed']} for the axle load{now}"
    elif "load_index_now" in effects:
        yield f"axle load not in the profile: a load index not below the present {effects['load_index_now']}"


def _travel_words(effects: Mapping[str, float | str], length: Callable[[str], str], units: str) -> Iterable[str]:
    if "travel_lost_mm" in effects:
        yield f"{length('travel_lost_mm')} of bump travel lost, {length('bump_from_rest_mm')} left from rest"
    if "ride_heights_lost" in effects:
        yield f"ride height lost: {effects['ride_heights_lost']}"
    if "lock_left_lost_deg" in effects:
        left, right = (float(effects[f"lock_{side}_lost_deg"]) for side in ("left", "right"))
        wider = f"turning circle {float(effects['turning_circle_change_percent']):+.0f} %"
        path = float(effects.get("turning_circle_mm", 0.0)) / 1000
        wide = f"{path / FOOT:.0f} ft" if units == "in" else f"{path:.1f} m"
        circle = f" (the outer wheel's path about {wide} across)" if path else ""
        yield f"{left:.1f} and {right:.1f} deg of lock lost; {wider}{circle}"
    if "rack_travel_lost_mm" in effects:
        yield f"the rack stops about {length('rack_travel_lost_mm')} sooner to each side"


def _number(value: Value) -> Value:
    return rounded(value) if isinstance(value, float) else value


def said(words: str, units: str, first: str, rest: str) -> str:
    return wrapped(in_units(words, units), first=first, rest=rest)
