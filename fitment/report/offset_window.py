"""The offsets that fit a wheel size and a tire, as text and JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from fitment.report.common import pose_words, rounded, table, wrapped
from fitment.report.readings import slip_lines, usual_json
from fitment.units import MM_PER_INCH, in_units, length_text, read_text

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.checks.case import Ready
    from fitment.screening.offset_window import End, Window

HEAD = ("", "offset", "backspacing", "", "track", "scrub radius", "")
CAUTION = (
    "These offsets count clearances only, for a wheel of this size with a flat disc. They say nothing about caliper "
    "and spokes, bolt circle, bore, studs or load: check the wheel itself. Test fit before mounting a tire."
)


def window_json(ready: Ready, found: Window) -> dict[str, Any]:
    """One wheel size with one tire; lengths in mm, null where nothing clears."""
    from fitment.screening.offset_window import on_its_rim

    ends = found.ends
    return {
        "axle": ready.axle.name,
        "build": ready.build,
        "wheel": size_words(found),
        "tire": found.setup.tire.code,
        "spacer_mm": found.setup.spacer.thickness,
        "ride_mm": found.setup.ride,
        "offset_min_mm": None if ends is None else ends[0].offset,
        "offset_max_mm": None if ends is None else ends[1].offset,
        "rim_in_range": on_its_rim(found),
        "nominal_only": None if found.allowed is None else [rounded(offset, 2) for offset in found.allowed],
        "other_spans_mm": [[rounded(offset, 2) for offset in span] for span in found.others],
        "ends": [] if ends is None else [_end_json(end) for end in ends],
        "nearest_to_fitting": None if found.best is None else _best_json(found),
        "usual_tolerance": usual_json(ready),
        "baseline_overlaps": list(ready.baseline_touches),
    }


def _end_json(end: End) -> dict[str, Any]:
    from fitment.report.builds import clearance_json

    stance = end.case.stance
    return {
        "offset_mm": end.offset,
        "backspacing_mm": rounded(stance.backspacing),
        "backspacing_in": rounded(stance.backspacing / MM_PER_INCH),
        "track_mm": rounded(stance.track),
        "scrub_radius_mm": rounded(stance.scrub_radius),
        "stopped_by": None if end.limit or end.stop is None else clearance_json(end.stop),
    }


def _best_json(found: Window) -> dict[str, Any]:
    from fitment.report.builds import clearance_json
    from fitment.screening.offset_window import stop

    assert found.best is not None
    entry = stop(found.best)
    return {
        "offset_mm": found.best.fit.setup.wheel.offset,
        "in_the_way": None if entry is None else clearance_json(entry),
    }


def size_words(found: Window) -> str:
    """The wheel's size as the trade says it."""
    return f"{found.setup.wheel.rim_diameter:g}x{found.setup.wheel.rim_width:g}"


def window_text(ready: Ready, found: Sequence[Window], units: str = "mm") -> str:
    """One size in full, several as a table of widths and tires."""
    head = f"Offsets that clear: {ready.axle.name} axle, build {ready.build}, {ride_words(found[0], units)}"
    rests_on = [wrapped(in_units(words, units), first="  ", rest="  ") for words in ready.rests_on]
    parts = [head, *slip_lines([ready]), *rests_on, ""]
    parts += _single(found[0], units) if len(found) == 1 else _matrix(found, units)
    return "\n".join([*parts, "", wrapped(CAUTION)])


def ride_words(found: Window, units: str) -> str:
    """The ride height the setups stand at."""
    setup = found.setup
    name = f"{setup.ride_name}, " if setup.ride_name else ""
    return f"{name}travel {length_text(setup.ride, units, digits=0, sign=True)} at rest"


def _single(found: Window, units: str) -> list[str]:
    size = f"{size_words(found)} with {found.setup.tire.code}"
    if found.setup.spacer.thickness:
        size += f" and a {read_text(found.setup.spacer.thickness, units, tape=False)} spacer"
    if found.ends is None:
        return [f"{size}: no offset clears.", *_nearest(found, units)]
    low, high = found.ends
    lines = [
        f"{size}: {span_words(low.offset, high.offset)}.",
        "There every required clearance is met, and in the worst case nothing touches.",
        "",
        table([HEAD, *(_end_row(end, units) for end in (low, high))]),
    ]
    if found.allowed is not None and (found.allowed[0] < low.offset - 0.5 or found.allowed[1] > high.offset + 0.5):
        nominal = span_words(math.ceil(found.allowed[0]), math.floor(found.allowed[1]))
        lines += ["", wrapped(f"{_NOMINAL} from {nominal}. Outside the range above that is TIGHT at best, not CLEARS.")]
    if found.others:
        also = ", ".join(span_words(*span) for span in found.others)
        lines += ["", wrapped(f"Apart from that range these offsets clear too (looked up): {also}.")]
    return lines


def _end_row(end: End, units: str) -> tuple[str, ...]:
    stance = end.case.stance
    scrub = "-" if stance.scrub_radius is None else length_text(stance.scrub_radius, units, sign=True)
    mm, inches = length_text(stance.backspacing, "mm"), length_text(stance.backspacing, "in")
    return (
        "",
        f"ET{end.offset:+.1f}",
        mm,
        inches,
        length_text(stance.track, units, digits=0),
        scrub,
        stop_words(end, units),
    )


def stop_words(end: End, units: str) -> str:
    """What is met first at an end of the window, and where."""
    if end.limit or end.stop is None:
        return "nothing measured stops it"
    return f"{end.stop.part} to {end.stop.obstacle}, {pose_words(end.stop, units)}"


def span_words(low: float, high: float) -> str:
    """A span of offsets."""
    return f"ET{low:+.4g} to ET{high:+.4g}"


_NOMINAL = "Without the worst case (nominal tire, readings as given) every required clearance is met"


def _nearest(found: Window, units: str) -> list[str]:
    from fitment.screening.offset_window import stop

    if found.best is None:
        return []
    entry, offset = stop(found.best), found.best.fit.setup.wheel.offset
    if entry is None:
        return [wrapped("No part near the wheel was checked.")]
    words = (
        f"Nearest to clearing is ET{offset:+.1f}: {entry.part} to {entry.obstacle}, {_gap_words(entry.clearance)} "
        f"where {entry.allowance:g} mm is required, in the worst case {_gap_words(entry.worst_case)}, at "
        f"{pose_words(entry, units)}."
    )
    lines = [wrapped(in_units(words, units))]
    if found.allowed is not None:
        nominal = f"{found.allowed[0]:+.1f} to ET{found.allowed[1]:+.1f}"
        lines.append(wrapped(f"{_NOMINAL} from ET{nominal}. There the build is TIGHT at best, not CLEARS."))
    return lines


def _gap_words(gap: float) -> str:
    return f"{gap:.1f} mm" if gap >= 0 else f"an overlap of {-gap:.1f} mm"


def _matrix(found: Sequence[Window], units: str) -> list[str]:
    """Widths across, tires down; then what stops each, and the widest."""
    from fitment.screening.offset_window import widest

    sizes = list(dict.fromkeys(size_words(window) for window in found))
    tires = list(dict.fromkeys(window.setup.tire.code for window in found))
    cells = {(size_words(window), window.setup.tire.code): cell_words(window) for window in found}
    rows = [("tire", *sizes), *((tire, *(cells.get((size, tire), "") for size in sizes)) for tire in tires)]
    marks = (
        "-: no offset clears; empty: the tire is not for that rim diameter; *: the rim's width is outside the tire's "
        "range"
    )
    lines = [table(rows), "", wrapped(marks, first="  ", rest="  "), ""]
    for window in found:
        if window.ends is not None:
            low, high = (stop_words(end, units) for end in window.ends)
            size = f"{size_words(window)} with {window.setup.tire.code}"
            lines.append(
                wrapped(f"{size}: ET{window.ends[0].offset:+.1f} {low}; ET{window.ends[1].offset:+.1f} {high}")
            )
    best = widest(found)
    words = (
        "none, on a rim width that its tire allows"
        if best is None
        else f"{size_words(best)} with {best.setup.tire.code}"
    )
    return [*lines, "", f"The widest that clears: {words}."]


def cell_words(found: Window) -> str:
    """A window in a few letters."""
    if found.ends is None:
        return "-"
    from fitment.screening.offset_window import on_its_rim

    low, high = math.ceil(found.ends[0].offset), math.floor(found.ends[1].offset)
    return f"{low:+d}..{high:+d}" + ("" if on_its_rim(found) else "*")
