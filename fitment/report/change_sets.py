"""Several changes together that would make a build fit, as text and JSON."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from fitment.report.builds import clearance_json
from fitment.report.changes import KINDS, change_json, said, with_it
from fitment.report.common import VERDICT_WORDS, wrapped
from fitment.units import length_text

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.answers.changes.record import Change, ChangeSet, Sets, Together

TITLE = "Several changes together, since no single one is enough"
EASIER = "Several easier changes together, since what is enough alone is hard to do"
HOW = (
    "Each set was checked again through all poses: with it every required clearance is met, and in the worst case "
    "nothing touches."
)


def sets_json(sets: Sets) -> dict[str, Any]:
    """The sets, the easiest first, with what each change contributes; lengths in mm."""
    return {"found": [_set_json(each) for each in sets.found], "blocked": list(sets.blocked), "checked": sets.checked,
            "ran_out": sets.ran_out}  # fmt: skip


def _set_json(each: ChangeSet) -> dict[str, Any]:
    pairs = zip(each.changes, each.without, strict=True)
    data = {
        "changes": [_change_json(change) | {"without_it": _without_json(lacks)} for change, lacks in pairs],
        "verdict": each.verdict,
        "worst": None if each.worst is None else clearance_json(each.worst),
        "use": each.use,
        "use_why": each.use_why or None,
        "note": each.note or None,
        "apply": dict(each.apply),
    }
    if each.other_verdict is not None:
        data["other_corner"] = {"corner": each.other_corner.partition(" ")[2], "verdict": each.other_verdict}
    return data


def _change_json(change: Change) -> dict[str, Any]:
    """Of a change what is its own; the rest is told of the whole set."""
    ours = ("kind", "part", "what", "value", "unit", "by", "side_effects", "caution", "use", "use_why", "apply")
    return {key: value for key, value in change_json(change).items() if key in ours}


def _without_json(lacks: Together) -> dict[str, Any]:
    return {"worst": None if lacks.entry is None else clearance_json(lacks.entry), "what": lacks.words}


def sets_text(sets: Sets, units: str = "mm", *, full: bool = False) -> str:
    """The sets, the easiest first; what each change contributes; full : also what comes with it and what to mind.

    Beside a hard change that serves alone only the easiest set is told, unless full.
    """
    lines = [EASIER if sets.easier else TITLE]
    if not sets.found:
        names = ", ".join(sets.blocked)
        easy = " easy" if sets.easier else ""
        most = "None that was tried" if sets.ran_out else f"No set of up to three{easy} changes"
        return "\n".join([*lines, wrapped(f"{most} is enough. What stays too close: {names}.", first="  ", rest="  ")])
    lines.append(wrapped(HOW, first="  ", rest="  "))
    shown = sets.found if full or not sets.easier else sets.found[:1]
    for number, each in enumerate(shown, 1):
        lines += _set_lines(number, each, units, full=full)
    if len(shown) < len(sets.found):
        lines.append(f"  {len(sets.found) - len(shown)} more: --full")
    if full:
        told = dict.fromkeys(f"{KINDS[c.kind]}: {c.caution}" for each in sets.found for c in each.changes if c.caution)
        lines += ["", "  Mind", *(said(words, units, "  - ", "    ") for words in told)]
    return "\n".join(lines)


def _set_lines(number: int, each: ChangeSet, units: str, *, full: bool) -> Iterator[str]:
    yield said(f"{number}. {_ends_with(each, units)}", units, "  ", "     ")
    for change, lacks in zip(each.changes, each.without, strict=True):
        yield said(change.what, units, "     * ", "       ")
        yield said(f"Without it {lacks.words}.", units, "         ", "         ")
        if full and change.side_effects:
            yield said(with_it(change.side_effects, units), units, "         ", "         ")
    if each.note:
        yield said(each.note, units, "     ", "     ")


def _ends_with(each: ChangeSet, units: str) -> str:
    """What the set makes of the build, and how hard it is."""
    count = {2: "Two changes", 3: "Three changes"}[len(each.changes)]
    words = count
    if each.worst is not None:
        gap, asked = length_text(each.worst.clearance, units), length_text(each.worst.allowance, units)
        words += f": then the tightest is {each.worst.part} to {each.worst.obstacle}, {gap} ({asked} required)"
    if each.other_verdict is not None:
        words += f"; made on both sides, {each.other_corner} {VERDICT_WORDS[each.other_verdict]}"
    words += "."
    return words if each.use == "usable" else f"{words} Hard to do: {each.use_why}."
