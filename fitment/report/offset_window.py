"""The offsets that fit a wheel size and a tire, as text and JSON."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from fitment.corners import axle_of
from fitment.report.common import axle_json, offset_words, offsets_text, pose_words, rounded, table, wrapped
from fitment.report.readings import slip_lines, usual_json
from fitment.terminal import measure
from fitment.units import DEEP, MM_PER_INCH, depth_words, in_units, length_text, read_text

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.checks.case import Ready
    from fitment.screening.offset_window import End, Window

WORST, MEASURED = "worst case too", "as measured"  # what the two ranges are called in tables
FULL, PALE = "#", "."  # letters of their bars
TICK = 9  # columns from one offset of a bar's scale to the next, at least
NO_PART = "no part near the wheel was checked"
HEAD = ("", "offset", "backspacing", "", "track", "scrub radius")
READ_SO = (
    "As measured: the nominal tire and readings as given meet every required clearance. In the worst case too: nothing "
    "touches, even with the largest tire permitted and every reading off by its tolerance. At an offset that clears "
    "only as measured `fitment check` says TIGHT."
)
CAUTION = (
    "These offsets count clearances only, for a wheel of this size with a flat disc. They say nothing about caliper "
    "and spokes, bolt circle, bore, studs or load: check the wheel itself. Test fit before mounting a tire."
)


def window_json(ready: Ready, found: Window) -> dict[str, Any]:
    """One wheel size with one tire; lengths in mm, null where nothing clears.

    offset_min_mm, offset_max_mm, ends, other_spans_mm : in the worst case too
    nominal_min_mm, nominal_max_mm, nominal_ends, other_nominal_spans_mm : as measured, with the nominal tire
    nominal_only : the latter range as looked up, to 0.02 mm, not checked
    """
    from fitment.checks.case import LISTED
    from fitment.screening.offset_window import on_its_rim

    ends, nominal = found.ends, found.nominal
    return {
        **axle_json(ready.axle.name),
        "build": ready.build,
        "wheel": size_words(found),
        "tire": found.setup.tire.code,
        "spacer_mm": found.setup.spacer.thickness,
        "ride_mm": found.setup.ride,
        "offset_min_mm": None if ends is None else ends[0].offset,
        "offset_max_mm": None if ends is None else ends[1].offset,
        "nominal_min_mm": None if nominal is None else nominal[0].offset,
        "nominal_max_mm": None if nominal is None else nominal[1].offset,
        "rim_in_range": on_its_rim(found),
        "nominal_only": None if found.allowed is None else [rounded(offset, 2) for offset in found.allowed],
        "other_spans_mm": [[rounded(offset, 2) for offset in span] for span in found.others],
        "other_nominal_spans_mm": [[rounded(offset, 2) for offset in span] for span in found.nominal_others],
        "ends": [_end_json(end) for end in ends or ()],
        "nominal_ends": [_end_json(end) for end in nominal or ()],
        "nearest_to_fitting": None if found.best is None else _best_json(found),
        "usual_tolerance": usual_json(ready),
        "baseline_overlaps": list(ready.baseline_touches),
        "not_counted": None if ready.axle.service is None else LISTED,
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


def without_json(done: Sequence[str], without: Sequence[Window]) -> dict[str, Any]:
    """What the builder is ready to do, and the ranges without it; nothing where nothing was said."""
    if not without:
        return {}
    ranges = (without[0].ends, without[0].nominal)
    (low, high), (nominal_low, nominal_high) = ((e[0].offset, e[1].offset) if e else (None, None) for e in ranges)
    return {
        "with": list(done),
        "without": {
            "offset_min_mm": low, "offset_max_mm": high, "nominal_min_mm": nominal_low, "nominal_max_mm": nominal_high,
        },
    }  # fmt: skip


def _without_lines(found: Sequence[Window], without: Sequence[Window], done: Sequence[str], units: str) -> list[str]:
    """What the offsets are with what the builder is ready to do, beside those without it; the widest that fits."""
    from fitment.screening.offset_window import widest

    if not without:
        return []
    lines = [wrapped(in_units(f"With {'; '.join(done)}", units), first="  ", rest="    ")]
    for window, before in zip(found, without, strict=True):
        lines.append(wrapped(f"{_size(window, units)}: {ranges_words(window)}.", first="  ", rest="    "))
        lines.append(wrapped(f"Without that: {ranges_words(before)}.", first="    ", rest="    "))
    if len(found) > 1:
        best, was = (widest(each) for each in (found, without))
        words = [f"{size_words(each)} with {each.setup.tire.code}" if each else "none" for each in (best, was)]
        lines.append(wrapped(f"Widest that clears: {words[0]}; without that: {words[1]}.", first="  ", rest="    "))
    return [*lines, ""]


def window_text(
    ready: Ready,
    found: Sequence[Window],
    units: str = "mm",
    done: Sequence[str] = (),
    without: Sequence[Window] = (),
) -> str:
    """One size in full, several as a table; then bars, what stops each, and how it is to be read.

    done : what the builder is ready to do; without : the windows without that, told first beside those with it
    """
    head = f"Offsets that clear: {ready.axle.title}, build {ready.build}, {ride_words(found[0], units)}"
    rests_on = [wrapped(in_units(words, units), first="  ", rest="  ") for words in ready.listed_on]
    parts = [wrapped(head, first="", rest="  "), *slip_lines([ready], units), *rests_on, ""]
    parts += _without_lines(found, without, done, units)
    parts += _single(found[0], units) if len(found) == 1 else _several(found, units)
    return "\n".join([*parts, "", *(wrapped(words) for words in (*_read_so(found), CAUTION))])


def both_sides_text(ready: Ready, found: Sequence[Window], units: str = "mm") -> str:
    """What clears on the left and on the right, a line a size; each side's own stands behind it."""
    from fitment.checks.case import LISTED

    axle = axle_of(ready.axle.name)
    lines = [f"Offsets that clear on both sides: {axle} axle, build {ready.build}, {ride_words(found[0], units)}"]
    for window in found:
        ranges = ranges_words(window) if window.nominal else "none; each side's own offsets stand below"
        lines.append(f"{_size(window, units)}: {ranges}.")
    if ready.axle.service is not None:
        lines.append(f"{LISTED[:1].upper()}{LISTED[1:]}.")
    return "\n".join(wrapped(line, first="", rest="  ") for line in lines)


def ride_words(found: Window, units: str) -> str:
    """The ride height the setups stand at."""
    setup = found.setup
    name = f"{setup.ride_name}, " if setup.ride_name else ""
    return f"{name}travel {length_text(setup.ride, units, digits=0, sign=True)} at rest"


def ranges_words(found: Window) -> str:
    """Both ranges in a line, that of the worst case first."""
    if found.nominal is None:
        return none_words(found)
    measured = f"as measured {ends_words(found.nominal)}"
    if found.ends is None:
        return f"no offset clears in the worst case; {measured}"
    return f"{ends_words(found.ends)} in the worst case too, {measured}"


def none_words(found: Window) -> str:
    """Why there is no range."""
    return "no offset clears, not even as measured" if found.best is None or found.best.fit.clearances else NO_PART


def _size(found: Window, units: str) -> str:
    spacer = found.setup.spacer.thickness
    beside = f" and a {read_text(spacer, units, tape=False)} spacer" if spacer else ""
    return f"{size_words(found)} with {found.setup.tire.code}{beside}"


def _single(found: Window, units: str) -> list[str]:
    lines = [wrapped(f"{_size(found, units)}: {ranges_words(found)}.", first="", rest="  ")]
    if found.nominal is not None:
        lines += ["", *bar_lines([found], names=False)]
        lines += ["", table([HEAD, *_end_rows(found, units)], left=2, least=("scrub radius",))]
    return [*lines, "", *_stopped(found, units), *_apart(found)]


def _end_rows(found: Window, units: str) -> list[tuple[str, ...]]:
    """The ends of both ranges, from the smallest offset to the largest."""
    worst, measured = found.ends or (), found.nominal or ()
    named = [*((end, WORST) for end in worst), *((end, MEASURED) for end in measured)]
    if len(named) > 2:
        named = [named[2], named[0], named[1], named[3]]
    rows = [_end_row(end, name, units) for end, name in named]
    return list(dict.fromkeys(rows))  # of a range of one offset one


def _end_row(end: End, name: str, units: str) -> tuple[str, ...]:
    stance = end.case.stance
    scrub = "-" if stance.scrub_radius is None else length_text(stance.scrub_radius, units, sign=True)
    mm, inches = length_text(stance.backspacing, "mm"), length_text(stance.backspacing, "in")
    track = length_text(stance.track, units, digits=0)
    return name, offset_words(end.offset), mm, inches, track, scrub


def _stopped(found: Window, units: str) -> list[str]:
    """What stops both ranges on both sides; where none clears in the worst case, what comes nearest to it."""
    lines = []
    for name, ends in (("As measured", found.nominal), ("In the worst case too", found.ends)):
        if ends is not None:
            told = dict.fromkeys(f"{offset_words(end.offset)} ({stop_words(end, units)})" for end in ends)
            lines.append(wrapped(f"{name}: {' to '.join(told)}."))
    return lines + _nearest(found, units)


def stop_words(end: End, units: str) -> str:
    """What is met first at an end of the window, and where."""
    if end.limit or end.stop is None:
        return "nothing measured stops it"
    return f"{end.stop.part} to {end.stop.obstacle}, {pose_words(end.stop, units)}"


def span_words(low: float, high: float) -> str:
    """A span of offsets."""
    first, last = offset_words(low), offset_words(high)
    return f"{first} only" if first == last else f"{first} to {last}"


def ends_words(ends: tuple[End, End]) -> str:
    """A range of offsets by its ends."""
    return span_words(ends[0].offset, ends[1].offset)


def _nearest(found: Window, units: str) -> list[str]:
    if found.best is None:
        return []
    return [wrapped(nearest_words(found, units))]


def nearest_words(found: Window, units: str) -> str:
    """The offset that comes nearest to clearing, what is in the way there, and by how much."""
    from fitment.screening.offset_window import stop

    assert found.best is not None
    entry, offset = stop(found.best), found.best.fit.setup.wheel.offset
    if entry is None:
        return f"{NO_PART[0].upper()}{NO_PART[1:]}."
    short = f" ({-entry.margin:.1f} mm short)" if entry.clearance >= 0 > entry.margin else ""
    words = (
        f"Nearest to clearing is {offset_words(offset)}: {entry.part} to {entry.obstacle}, "
        f"{gap_words(entry.clearance)} where {entry.allowance:g} mm is required{short}, "
        f"in the worst case {gap_words(entry.worst_case)}, at {pose_words(entry, units)}."
    )
    return in_units(words, units)


def nearest_short(found: Window, units: str) -> str:
    """The same in a line for a picture."""
    from fitment.screening.offset_window import stop

    assert found.best is not None
    entry, offset = stop(found.best), found.best.fit.setup.wheel.offset
    if entry is None:
        return NO_PART
    if entry.clearance < -DEEP:
        words = f"{entry.obstacle} overlaps by {depth_words(-entry.clearance)}"
    elif entry.margin < 0:
        words = f"{entry.obstacle}, {-entry.margin:.1f} mm more needed"
    else:
        words = f"in the worst case {entry.obstacle} overlaps by {depth_words(-entry.worst_case)}"
    return in_units(f"nearest {offset_words(offset)}: {words}", units)


def _apart(found: Window) -> list[str]:
    """Further ranges, apart from those that are told."""
    lines = []
    for name, spans in (("in the worst case too", found.others), ("as measured", found.nominal_others)):
        if spans:
            also = ", ".join(span_words(*span) for span in spans)
            lines.append(wrapped(f"Apart from that range these offsets clear {name} (looked up): {also}."))
    return lines


def gap_words(gap: float) -> str:
    """A clearance in words [mm]."""
    return f"{gap:.1f} mm" if gap >= 0 else f"an overlap of {depth_words(-gap)}"


def _read_so(found: Sequence[Window]) -> list[str]:
    return [READ_SO] if any(window.nominal is not None for window in found) else []


# ---------------------------------------------------------------- several sizes


def _several(found: Sequence[Window], units: str) -> list[str]:
    """A row for each size with each tire; then bars, what stops each, and the widest."""
    rows = [("wheel", "tire", WORST, MEASURED)]
    rows += [(_starred(w), w.setup.tire.code, cell_words(w.ends), cell_words(w.nominal)) for w in found]
    lines = [table(rows, left=2)]
    if any(not on_rim for on_rim in map(_on_its_rim, found)):
        lines.append(wrapped("*: the rim's width is outside the tire's range", first="  ", rest="  "))
    if any(window.nominal is not None for window in found):
        lines += ["", *bar_lines(found)]
    for window in found:
        lines += ["", wrapped(_size(window, units), first="  ", rest="  "), *_stopped(window, units), *_apart(window)]
    return [*lines, "", *(wrapped(words, first="", rest="  ") for words in _widest_words(found))]


def _on_its_rim(found: Window) -> bool:
    from fitment.screening.offset_window import on_its_rim

    return on_its_rim(found)


def _starred(found: Window) -> str:
    return size_words(found) + ("" if _on_its_rim(found) else "*")


def _widest_words(found: Sequence[Window]) -> list[str]:
    """The widest that clears, and where it is another the widest as measured."""
    from fitment.screening.offset_window import widest

    best, measured = widest(found), widest(found, as_measured=True)
    none = "none, on a rim width that its tire allows"
    lines = [f"The widest that clears: {none if best is None else f'{size_words(best)} with {best.setup.tire.code}'}."]
    if measured is not best and measured is not None:
        lines.append(f"The widest as measured: {size_words(measured)} with {measured.setup.tire.code}.")
    return lines


def cell_words(ends: tuple[End, End] | None) -> str:
    """A range in a few letters, rounded inwards: what is printed fits."""
    return "none" if ends is None else offsets_text(ends[0].offset, ends[1].offset)


# ---------------------------------------------------------------- bars of text


def bar_lines(found: Sequence[Window], *, names: bool = True) -> list[str]:
    """Both ranges of each size on one scale of offsets, and what the letters of a bar mean.

    A size without any says which offset comes nearest.
    """
    labels = [f"{size_words(window)} {window.setup.tire.code}" if names else "" for window in found]
    margin = 2 + max(map(len, labels)) + (2 if names else 0)
    scale = _scale(found, measure() - margin)
    lines = [" " * margin + _ticks(scale)]
    for label, window in zip(labels, found, strict=True):
        bar = _bar(window, scale) if window.nominal else f"none{_nearest_offset(window)}"
        lines.append(f"  {label}".ljust(margin) + bar)
    key = f"{FULL} in the worst case too   {PALE} as measured"
    return [line.rstrip() for line in (*lines, f"  {key}")]


def _nearest_offset(found: Window) -> str:
    return "" if found.best is None else f"; nearest is {offset_words(found.best.fit.setup.wheel.offset)}"


def _scale(found: Sequence[Window], columns: int) -> tuple[float, float, int]:
    """The offset at the left edge [mm], what a column is [mm], and how many there are."""
    low, high = scale_ends(found)
    return low, (high - low) / columns, columns


def scale_ends(found: Sequence[Window]) -> tuple[int, int]:
    """Both ends of a scale [mm, whole tens] on which every range stands, and where there is none the nearest offset."""
    offsets = [offset for window in found for span in drawn_spans(window)[0] for offset in span]
    offsets += [window.best.fit.setup.wheel.offset for window in found if window.best is not None]
    low, high = min(offsets, default=0.0), max(offsets, default=50.0)
    return 10 * math.floor(low / 10 - 0.5), 10 * math.ceil(high / 10 + 0.5)


def drawn_spans(found: Window) -> tuple[list[tuple[float, float]], list[tuple[float, float]]]:
    """All spans of offsets as measured, and those in the worst case too."""
    measured, worst = (
        [*([] if ends is None else [(ends[0].offset, ends[1].offset)]), *others]
        for ends, others in ((found.nominal, found.nominal_others), (found.ends, found.others))
    )
    return measured, worst


def _bar(found: Window, scale: tuple[float, float, int]) -> str:
    low, each, columns = scale
    letters = [" "] * columns
    for spans, letter in zip(drawn_spans(found), (PALE, FULL), strict=True):
        for first, last in spans:
            within = [k for k in range(columns) if first <= low + (k + 0.5) * each <= last]
            for k in within or [min(columns - 1, int(((first + last) / 2 - low) / each))]:
                letters[k] = letter
    return "".join(letters)


def _ticks(scale: tuple[float, float, int]) -> str:
    """Marks at whole offsets, each with its number to the right."""
    low, each, columns = scale
    step = next((step for step in (10, 20, 50) if step / each >= TICK), 100)
    line = ""
    for offset in range(step * math.ceil(low / step), math.ceil(low + columns * each), step):
        name = f"|{offset_words(offset, 0)}"
        at = round((offset - low) / each)
        if at + len(name) <= columns:
            line = line.ljust(at) + name
    return line
