"""What a report says of the readings in the profile that it rests on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from fitment.errors import named_in_a_row
from fitment.report.common import rounded, wrapped
from fitment.units import in_units, length_text

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.checks.case import Ready
    from fitment.checks.full_case import FullCase
    from fitment.profile import Assumed


def slip_words(ready: Ready) -> str:
    """That a reading must be wrong, the best sign of a typing slip, or is missing; empty where there is none."""
    told = []
    if ready.baseline_touches:
        names = named_in_a_row(ready.baseline_touches)
        told.append(f"Measure again: as measured, the baseline itself overlaps {names} at rest ({ready.axle.title}).")
    if ready.doubts:
        told.append(f"Look at this first: {'; '.join(ready.doubts)} ({ready.axle.title}).")
    if ready.scans:
        from fitment.profile.scan_parts import not_said  # what a scan takes is loaded where there is one

        for part, scan in ready.scans:
            if scan.placement.off:
                point, off = scan.placement.off
                face = scan.placement.face
                says = f"where its {face.fit.what} puts it" if face else "what the others say"
                told.append(
                    f"Measure again: the scan of {part.name} lies wrong: its reference point {point} is {off:.0f} mm "
                    f"off {says} ({ready.axle.title})."
                )
            if taken := not_said(part, scan):
                told.append(f"Taken for granted: {taken}")
    return " ".join(told)


def slip_lines(prepared: Sequence[Ready], units: str) -> list[str]:
    """The same of every axle, a paragraph each, for the first lines of a text."""
    told = (in_units(slip_words(ready), units, tape=True) for ready in prepared)
    return [wrapped(words, first="  ", rest="    ") for words in told if words]


def usual_json(ready: Ready) -> list[dict[str, Any]]:
    """The parts that state no tolerance, and what was taken."""
    from fitment.parts.obstacles import USUAL_TOLERANCE  # with it comes numpy, which not every report needs

    return [{"obstacle": name, "tolerance_mm": USUAL_TOLERANCE} for name in ready.usual_parts]


def assumed_json(ready: Ready) -> list[dict[str, Any]]:
    """What nobody read, with its band."""
    return [
        {
            "reading": value.path, "value": value.value, "tolerance": value.tolerance, "unit": value.unit,
            "source": value.source,
        }
        for value in ready.assumed
    ]  # fmt: skip


def effects_json(case: FullCase) -> list[dict[str, Any]]:
    """The same, and what each band takes from the least worst case."""
    told = zip(assumed_json(case.ready), case.assumed, strict=True)
    return [value | {"worst_case_effect_mm": rounded(effect.takes)} for value, effect in told]


def assumed_words(case: FullCase, units: str) -> str:
    """What nobody read, with its bands, and what they do to the answer; empty where all was read."""
    if not case.assumed:
        return ""
    bands: dict[str, list[str]] = {}
    for each in case.assumed:
        key = each.value.path.rpartition(".")[2].replace("_", " ")
        is_one_of_many = each.value.name in ("steering axis", "the axle's links")
        bands.setdefault(each.value.name, []).append(
            f"{key} {_band(each.value, units)}" if is_one_of_many else _band(each.value, units)
        )
    told = [f"{name} ({', '.join(own)})" for name, own in bands.items()]
    words = f"assumed as typical: {', '.join(told)}"
    takes = case.assumed_takes
    if takes is not None:
        against = min(case.fit.clearances, key=lambda entry: entry.worst_case)
        words += f"; of the worst case, {against.part} to {against.obstacle}, this takes {length_text(takes, units)}"
    ahead = case.straight_ahead
    if ahead is not None:
        gap = length_text(ahead.clearance, units)
        words += f"; straight ahead, whatever the axis: {ahead.part} to {ahead.obstacle}, {gap}"
    return words


def _band(value: Assumed, units: str) -> str:
    if value.unit == "deg":
        return f"{value.value:g} +- {value.tolerance:g} deg"
    low, band = (length_text(each, units) for each in (value.value, value.tolerance))
    return f"{low.removesuffix(f' {units}')} +- {band}"


def source_lines(ready: Ready) -> list[str]:
    """From which reading each part came, parts of one kind together."""
    from fitment import profile as profiles

    known = profiles.sources(ready.profile, ready.axle.name, ready.build)
    names: dict[str, list[str]] = {}
    for obstacle in ready.axle.obstacles:
        names.setdefault(known[obstacle.name], []).append(obstacle.name)
    return [wrapped(f"{source}: {', '.join(own)}") for source, own in names.items()]
