"""What is too close, and what else a change moves, in words and numbers."""

from __future__ import annotations

from fitment.checks.case import Case
from fitment.checks.fit import Clearance
from fitment.motion.wheel_position import WheelPosition
from fitment.units import depth_words

Effects = dict[str, float | str]
LITTLE = 0.15  # [mm] below which a figure says no more than a word


def too_close(entry: Clearance) -> str:
    """What an entry that is too close lacks, in a few words, lengths in mm."""
    pair = f"{entry.part} and {entry.obstacle}"
    if entry.clearance < 0:
        return f"{pair} {_overlap(-entry.clearance)}"
    if entry.margin < 0:
        if entry.margin >= -LITTLE:
            return f"{pair} are just less than the required {entry.allowance:.1f} mm apart"
        return f"{pair} are {entry.clearance:.1f} mm apart, {entry.allowance:.1f} mm required"
    if entry.worst_case < 0:
        return f"{pair} {_overlap(-entry.worst_case)} in the worst case"
    return f"{pair} are {entry.clearance:.1f} mm apart"


def worst_words(entry: Clearance, worst: Clearance | None) -> str:
    """What the worst case does beside an entry that is told by its clearance; empty where it takes no more."""
    if worst is None or entry.margin >= 0 or worst.worst_case >= min(entry.margin, 0.0):
        return ""
    same = (entry.part, entry.obstacle) == (worst.part, worst.obstacle)
    who = "they" if same else f"{worst.part} and {worst.obstacle}"
    return f"; in the worst case {who} {_overlap(-worst.worst_case)}"


def _overlap(depth: float) -> str:
    return f"overlap by {depth_words(depth)}" if depth > LITTLE else "just overlap"


def moved(before: WheelPosition, after: WheelPosition, *names: str) -> Effects:
    """Changes of some of the stance's lengths, by name [mm]; what is not known is left out. Source: geometry."""
    old, new = before.lengths(), after.lengths()
    return {f"{name}_change_mm": new[name] - old[name] for name in names if name in old and name in new}


def new_cautions(before: Case, after: Case) -> str:
    """Bolt-on checks that ask for caution with a change and did not before; empty where there are none."""
    known = {check.item for check in before.fit.bolt_on if check.status in ("caution", "fail")}
    new = [check.item for check in after.fit.bolt_on if check.status == "caution" and check.item not in known]
    return ", ".join(dict.fromkeys(new))


def new_failures(before: Case, after: Case) -> str:
    """Bolt-on checks that fail with a change and did not before, in words; empty where there are none."""
    failed = {check.item for check in before.fit.bolt_on if check.status == "fail"}
    new = [check for check in after.fit.bolt_on if check.status == "fail" and check.item not in failed]
    return "; ".join(f"{check.item}: {check.detail}" for check in new)
