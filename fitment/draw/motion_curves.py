"""The motion sheet: camber, toe and track over travel, side by side; steer of both wheels and its ideal.

Travel runs up the page, as the wheel does; each ride height is a level line through all three charts, with its
name at the left and the numbers at the right of each chart.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fitment.answers.motion_curves import Curves, OneWheel, SteerCurves, ackermann_share
from fitment.draw.chart import Chart, Scale, new_chart, scale_of, spread
from fitment.draw.figure_page import EDGE, GAP, NOTE, Box, Sheet, height_text, new_sheet, notes, title_block
from fitment.draw.labels import place_labels
from fitment.draw.lettering import letter
from fitment.draw.panel import Panel
from fitment.draw.style import (
    BODY,
    BOLD,
    CHAIN,
    DASHED,
    DOTTED,
    HAIR,
    LIGHT,
    LINE,
    SMALL,
    THIN,
    Theme,
    font,
    look,
    words,
)
from fitment.frames import Array
from fitment.units import MM_PER_INCH, length_text

TRAVEL_ROW, STEER_ROW = 5.4, 5.0  # [in]
NARROW, CLOSE = 7.0, 0.11  # [in] a box in which three charts have no room; between two of them there
KEY_LINE = 0.38  # [in]
NAMES = 112.0  # [pt] for the names of the ride heights
LINE_GAP, PAIR_GAP = 15.0, 29.0  # [pt] between the numbers of two ride heights, one line and two
ENDS = 16.0  # [pt] between the plot's edge and droop or bump
STEER_MARGINS = (50.0, 22.0, 36.0, 70.0)  # [pt] left, right, bottom, top
KIND_WORDS = {"tape": "measured by tape", "double_wishbone": "double wishbone", "five_link": "five links"}


@dataclass(frozen=True)
class Quantity:
    """One of the charts over travel.

    values : of a case, in the units on the page; beside : a second curve drawn thin, and what both are called
    least : the smallest range shown; tick, number : texts of a tick and of a value
    room : for the numbers at the right [pt]
    """

    title: str
    caption: str
    values: Callable[[Curves], Array]
    least: float
    tick: Callable[[Scale, float], str]
    number: Callable[[float], str]
    room: float
    beside: Callable[[Curves], Array] | None = None
    names: tuple[str, str] = ("", "")


def quantities(units: str, *, rolls: bool = False) -> tuple[Quantity, ...]:
    """Camber, toe-in and half-track; rolls : a solid axle, with this wheel alone beside both wheels level."""
    per = MM_PER_INCH if units == "in" else 1.0
    unit = " in" if units == "in" else " mm"
    alone = ("both wheels", "this one alone") if rolls else ("", "")
    angle: dict[str, Any] = {
        "tick": lambda scale, v: scale.text(v, "°"),
        "number": lambda v: f"{round(v, 2) + 0.0:.2f}°",
        "room": 62.0,
        "names": alone,
    }
    return (
        Quantity("Camber", "negative: top leans inboard", lambda c: c.camber, 1.0, **angle,
                 beside=_alone(lambda a: a.camber) if rolls else None),
        Quantity("Toe-in", "of this wheel", lambda c: c.toe_in, 0.4, **angle,
                 beside=_alone(lambda a: a.toe_in) if rolls else None),
        Quantity(
            "Half-track", f"outward since travel 0,{unit}", lambda c: c.half_track_change / per, 10.0 / per,
            tick=lambda scale, v: scale.text(v, ""), number=lambda v: length_text(v * per, units, sign=True), room=82.0,
            beside=_alone_outward(per) if rolls else lambda c: c.hub_face_change / per,
            names=alone if rolls else ("at the ground", "hub face"),
        ),
    )  # fmt: skip


def _alone(values: Callable[[OneWheel], Array]) -> Callable[[Curves], Array]:
    """A quantity of one wheel moved alone; unknown for an axle that does not roll."""
    return lambda c: np.full_like(c.travel, np.nan) if c.alone is None else values(c.alone)


def _alone_outward(per: float) -> Callable[[Curves], Array]:
    """Half-track of one wheel moved alone against both wheels level at travel 0."""
    return lambda c: _alone(lambda a: a.half_track - c.at(c.half_track, 0.0))(c) / per


def motion_sheet(
    new: Curves, old: Curves | None = None, *, units: str = "mm", theme: Theme = LIGHT, date: str | None = None
) -> Figure:
    """Curves of one axle over its travel and over its steering; `old` lies dashed beneath."""
    lines = note_lines(new, old, units)
    key = 0.0 if old is None else 2 * KEY_LINE
    heights = [1.0 + key, TRAVEL_ROW, *([STEER_ROW] if new.steer else []), 0.1 + NOTE * len(lines)]
    with look():
        sheet = new_sheet(2 * EDGE + sum(heights) + GAP * (len(heights) - 1), theme)
        _head(sheet, new, old, units, heights[0], date)
        travel_row(sheet, sheet.box(TRAVEL_ROW), new, old, units)
        if new.steer is not None:
            steer_row(sheet, sheet.box(STEER_ROW), new, old, units)
        notes(sheet.blank(heights[-1]), theme, lines)
        return sheet.figure


def _head(sheet: Sheet, new: Curves, old: Curves | None, units: str, height: float, date: str | None) -> None:
    theme, ax, top = sheet.theme, sheet.blank(height), height * 72
    build = words(new.build, 30) if old is None else f"{words(old.build, 24)} → {words(new.build, 24)}"
    line = f"{new.axle} axle, {build}: how the wheel moves, {_kind(new)}"
    title_block(ax, theme, new.name, line, top, date=date)
    level = top - 84
    for case, is_old in (*([(old, True), (new, False)] if old else []),):
        drawn: dict[str, Any] = (
            {"color": theme.old, "linestyle": DASHED} if is_old else {"color": theme.new, "linestyle": "-"}
        )
        ax.plot([1, 45], [level, level], linewidth=BOLD, **drawn)
        text = f"{words(case.build, 40)}: {_kind(case)}, {_at_ride(case, units)}"
        letter(ax, 56, level, text, theme.ink, BODY)
        level -= KEY_LINE * 72


def _kind(case: Curves) -> str:
    return KIND_WORDS.get(case.kind, case.kind.replace("_", " "))


def _at_ride(case: Curves, units: str) -> str:
    name = next((name for name, travel in case.rides if travel == case.ride), "at rest")
    return f"{words(name, 20)} {height_text(case.ride, units)}"


def note_lines(new: Curves, old: Curves | None, units: str) -> list[str]:
    """How the curves were made, and what they do not say."""
    both = [case for case in (old, new) if case is not None]

    def told(values: Callable[[Curves], Array]) -> str:
        return " → ".join(length_text(case.at(values(case), 0.0), units) for case in both)

    lines = [
        f"At travel 0: hub face {told(lambda c: c.hub_face)}, half-track {told(lambda c: c.half_track)} from centre.",
        "Travel: the wheel's height in the body, up is bump. Bold: where the vehicle stands. Straight ahead"
        + (", both wheels level." if new.alone is not None else "."),
    ]
    if new.alone is not None:
        lines.append("Thin: this (left) wheel alone, the other one at its ride height; the beam rolls.")
    steer = new.steer
    if steer is None:
        return lines
    if steer.rack is None:
        lines.append("No rack is in the profile: both wheels are assumed to be equally far on the way to their lock.")
    else:
        lines.append("Right wheel: the left one's mirror image, with the rack moved as far the other way.")
    if new.wheelbase is not None:
        spacing, wheelbase = (length_text(distance, units, digits=0) for distance in (steer.spacing, new.wheelbase))
        lines.append(
            f"Ideal: cot(outer) - cot(inner) = a / b. a: steering axes apart at the ground, {spacing}; b: wheelbase, "
            f"{wheelbase}."
        )
    return lines


# ---------------------------------------------------------------- over travel


@dataclass(frozen=True)
class NamedTravel:
    """A travel with a name: a ride height or an end of travel."""

    name: str
    travel: float
    place: float
    stands: bool = False


def _levels(new: Curves, gap: float, scale: Scale) -> tuple[NamedTravel, ...]:
    """Droop, ride heights and bump, rising, each with the travel at which its name is written."""
    named = {travel: name for name, travel in reversed(new.rides)}
    for end, name in ((float(new.travel[0]), "droop"), (float(new.travel[-1]), "bump")):
        named.setdefault(end, name)
    rising = sorted(named)
    places = spread(rising, gap, scale.low, scale.high)
    return tuple(
        NamedTravel(named[travel], travel, place, travel == new.ride)
        for travel, place in zip(rising, places, strict=True)
    )


def travel_row(sheet: Sheet, box: Box, new: Curves, old: Curves | None, units: str) -> None:
    """Camber, toe and half-track over travel, side by side; in a narrow box the first and the last, stacked."""
    cases = [new] if old is None else [old, new]
    up = scale_of([case.travel for case in cases], least=1.0, most_ticks=6, pad=0.0)
    camber, toe, half_track = quantities(units, rolls=new.alone is not None)
    if box.width < NARROW:
        upper, lower = box.rows(1.0, 1.0, gap=CLOSE)
        drawn = [(camber, upper, NAMES), (half_track, lower, NAMES)]
        heights = {case.ride for case in cases}
        new = replace(new, rides=tuple(ride for ride in new.rides if ride[1] in heights))  # no room for others
    else:
        width = (box.width - 2 * GAP - NAMES / 72) / 3
        boxes = box.columns(width + NAMES / 72, width, width)
        drawn = list(zip((camber, toe, half_track), boxes, (NAMES, 0.0, 0.0), strict=True))
    for quantity, chart_box, names in drawn:
        _travel_chart(Panel(sheet.at(chart_box), sheet.theme), quantity, new, old, up, names, units)


def steer_row(sheet: Sheet, box: Box, new: Curves, old: Curves | None, units: str) -> None:
    """Steer of both wheels over the rack, and how much more the inner one turns; for an axle that steers."""
    assert new.steer is not None
    left, right = (sheet.at(half) for half in box.columns(1.0, 1.0, gap=GAP))
    before = None if old is None else old.steer
    _steer_chart(left, sheet.theme, new.steer, before, _at_ride(new, units), units)
    _ackermann_chart(right, sheet.theme, new, old)


def _travel_chart(
    panel: Panel, quantity: Quantity, new: Curves, old: Curves | None, up: Scale, names: float, units: str
) -> None:
    cases = [(new, False)] if old is None else [(old, True), (new, False)]
    sources = [quantity.values] + ([quantity.beside] if quantity.beside else [])
    across = scale_of([f(case) for case, _ in cases for f in sources], least=quantity.least, most_ticks=4)
    on = new_chart(panel, across, up, (names + 14.0, quantity.room, 20.0 + ENDS, 58.0 + ENDS))
    panel.heading(quantity.title, quantity.caption, "")
    gap = (LINE_GAP if old is None else PAIR_GAP) * on.up_per_pt
    ends = ENDS * on.up_per_pt
    levels = _levels(new, gap, Scale(up.low - ends / 2, up.high + ends / 2, (), 1.0))
    _level_lines(on, levels, named=names > 0, units=units)
    on.grid_across(lambda v: quantity.tick(across, v))
    for case, is_old in cases:
        for source in sources:
            thin = source is quantity.beside
            line = np.stack([source(case), case.travel], -1)
            _curve(on, line, is_old, width=THIN if thin else BOLD)
            if not thin:
                _level_dots(on, levels, case, source(case), is_old)
    _level_numbers(on, levels, quantity, new, old)
    if quantity.beside is not None:
        _name_both(panel, new, quantity, across)
    place_labels(panel)


def _name_both(panel: Panel, new: Curves, quantity: Quantity, across: Scale) -> None:
    """Names of the two curves of a chart, away from each other; one name where they lie together."""
    assert quantity.beside is not None
    main, beside = quantity.values(new), quantity.beside(new)
    if np.abs(main - beside).max() < 0.03 * (across.high - across.low):
        index = int(np.argmin(np.abs(new.travel - 0.55 * new.travel[0])))
        panel.wish("\nand ".join(quantity.names), (main[index], new.travel[index]), panel.theme.new)
        return
    for values, other, name, end in ((main, beside, quantity.names[0], 0), (beside, main, quantity.names[1], -1)):
        index = int(np.argmin(np.abs(new.travel - 0.6 * new.travel[end])))
        side = float(np.sign(values[index] - other[index]))
        panel.wish(name, (values[index], new.travel[index]), panel.theme.new, prefer=(side, 0.0))


def _curve(on: Chart, points: Array, is_old: bool, *, width: float, layer: float = 4.0) -> None:
    """A curve as everything old or new is drawn; places that are not known break it."""
    theme = on.panel.theme
    for piece in np.split(points, np.flatnonzero(~np.isfinite(points).all(axis=1))):
        known = piece[np.isfinite(piece).all(axis=1)]
        if len(known) > 1:
            color, style = (theme.old, DASHED) if is_old else (theme.new, "-")
            on.panel.line(known, color, width=width, style=style, layer=layer + (0.2 if is_old else 0.0))


def _level_lines(on: Chart, levels: tuple[NamedTravel, ...], *, named: bool, units: str) -> None:
    """A line at each level, bent toward its name where names stand closer than levels."""
    panel, low, high = on.panel, on.across.low, on.across.high
    step = 9.0 * on.across_per_pt
    for level in levels:
        end = level.name in ("droop", "bump")
        path = [(low, level.travel), (high, level.travel), (high + step, level.place)]
        if named:
            path.insert(0, (low - step, level.place))
        panel.line(
            path,
            panel.theme.ink if level.stands else panel.theme.quiet,
            width=THIN if level.stands else HAIR,
            style="-" if end or level.stands else DOTTED,
            layer=1.0,
        )
        if named:
            _level_name(panel, level, low - 1.3 * step, units)


def _level_name(panel: Panel, level: NamedTravel, end: float, units: str) -> None:
    """The name of a level, up to `end`; where bold type would leave the panel, plain, then a shorter name."""
    color = panel.theme.ink if level.stands else panel.theme.quiet
    height = height_text(level.travel, units)
    told = panel.text(
        (end, level.place), f"{words(level.name, 10)} {height}", bold=level.stands, color=color, ha="right", va="center"
    )
    for most in range(10, 0, -1):
        if panel.extent(told)[0] >= float(panel.ax.bbox.x0) + panel.pt(2):
            break
        told.set_fontproperties(font(SMALL))
        told.set_text(f"{words(level.name, most)} {height}")
    panel.boxes[-1] = panel.extent(told)


def _level_dots(on: Chart, levels: tuple[NamedTravel, ...], case: Curves, values: Array, is_old: bool) -> None:
    theme = on.panel.theme
    points = np.array([(case.at(values, level.travel), level.travel) for level in levels])
    on.dots(points, theme.outline(is_old), hollow=is_old, layer=5.2 if is_old else 5.0)


def _level_numbers(
    on: Chart, levels: tuple[NamedTravel, ...], quantity: Quantity, new: Curves, old: Curves | None
) -> None:
    """The numbers at each level: old above, new below."""
    panel, theme = on.panel, on.panel.theme
    at = on.across.high + (quantity.room - 6.0) * on.across_per_pt
    half = 6.4 * on.up_per_pt
    for level in levels:
        rows = [(new, theme.new, 0.0)] if old is None else [(old, theme.old, half), (new, theme.new, -half)]
        for case, color, step in rows:
            value = case.at(quantity.values(case), level.travel)
            text = quantity.number(value) if np.isfinite(value) else "-"
            panel.text((at, level.place + step), text, color=color, bold=level.stands, ha="right", va="center")


# ---------------------------------------------------------------- over steering


def _steer_chart(ax: Axes, theme: Theme, new: SteerCurves, old: SteerCurves | None, ride: str, units: str) -> None:
    """Steer of both wheels over the rack, or over the left wheel's own steer where no rack is described."""
    per, unit = (MM_PER_INCH, " in") if units == "in" else (1.0, " mm")
    cases = [(new, False)] if old is None else [(old, True), (new, False)]
    by_rack = all(case.rack is not None for case, _ in cases)

    def across_of(case: SteerCurves) -> Array:
        return case.rack / per if by_rack and case.rack is not None else case.left

    across = scale_of([across_of(case) for case, _ in cases], least=1.0, most_ticks=5)
    up = scale_of([side for case, _ in cases for side in (case.left, case.right)], least=1.0, most_ticks=8)
    panel = Panel(ax, theme)
    on = new_chart(panel, across, up, STEER_MARGINS)
    over = "the rack" if by_rack else "the left one's steer"
    panel.heading("Steer of both wheels", f"at {ride}; over {over}, + to the left", "")
    on.grid_across(lambda v: across.text(v, unit if by_rack else "°"))
    on.grid_up(lambda v: up.text(v, "°"))
    for case, is_old in cases:
        x = across_of(case)
        for side, width in ((case.left, BOLD), (case.right, THIN)):
            _curve(on, np.stack([x, side], -1), is_old, width=width)
            ends = np.array([(x[0], side[0]), (x[-1], side[-1])])
            on.dots(ends, theme.outline(is_old), hollow=is_old)
    for end in (0, -1):
        _end_labels(panel, new, old, across_of(new), end)
    place_labels(panel)


def _end_labels(panel: Panel, new: SteerCurves, old: SteerCurves | None, x: Array, end: int) -> None:
    """Both wheels' angles at one stop, old to new, the higher one above."""
    wheels = [("left", "left"), ("right", "right")]
    wheels.sort(key=lambda each: -float(getattr(new, each[1])[end]))
    for (name, side), way in zip(wheels, (1.0, -1.0), strict=True):
        values = [float(getattr(case, side)[end]) for case in (old, new) if case is not None]
        if not np.isfinite(values).all():
            continue
        text = f"{name} " + " → ".join(f"{round(value, 1) + 0.0:.1f}°" for value in values)
        panel.wish(text, (x[end], values[-1]), panel.theme.new, prefer=(0.0, way))


def _ackermann_chart(ax: Axes, theme: Theme, new: Curves, old: Curves | None) -> None:
    """How much farther the inner wheel is turned than the outer, against the ideal, in a left turn."""
    cases = [(case, is_old) for case, is_old in ((old, True), (new, False)) if case is not None]
    steers = [(case.steer, is_old) for case, is_old in cases if case.steer is not None]
    lines = [steer.inner - steer.outer for steer, _ in steers]
    lines += [steer.inner - steer.ideal for steer, _ in steers if steer.ideal is not None]
    across = scale_of([np.zeros(1), *(steer.inner for steer, _ in steers)], least=5.0, most_ticks=6)
    up = scale_of([np.zeros(1), *lines], least=2.0, most_ticks=8)
    panel = Panel(ax, theme)
    on = new_chart(panel, across, up, STEER_MARGINS)
    panel.heading("Inner minus outer wheel", "over the steer of the inner wheel, left turn", "")
    on.grid_across(lambda v: across.text(v, "°"))
    on.grid_up(lambda v: up.text(v, "°"))
    for steer, is_old in steers:
        _curve(on, np.stack([steer.inner, steer.inner - steer.outer], -1), is_old, width=BOLD)
    _ideal(on, new, old)
    known = np.flatnonzero(np.isfinite(steers[-1][0].outer))
    if len(known):
        panel.wish("this axle", _on_curve(steers[-1][0], int(known[len(known) // 2])), theme.new)
    panel.wish("parallel", (0.3 * across.high, 0.0), theme.quiet, prefer=(0.0, -1.0))
    place_labels(panel)


def _on_curve(steer: SteerCurves, index: int) -> tuple[float, float]:
    return float(steer.inner[index]), float((steer.inner - steer.outer)[index])


def _ideal(on: Chart, new: Curves, old: Curves | None) -> None:
    """The ideal as a chain line and how far the lock is from it."""
    panel, theme, steer = on.panel, on.panel.theme, new.steer
    assert steer is not None
    if steer.ideal is None:
        at = on.across.low, on.up.high + 8 * on.up_per_pt
        text = "ideal not drawn: the profile has no wheelbase"
        panel.text(at, text, color=theme.quiet, ha="left", va="bottom")
        return
    wanted = steer.inner - steer.ideal
    panel.line(np.stack([steer.inner, wanted], -1), theme.ink, width=LINE, style=CHAIN, layer=3.5)
    i = _last(steer.outer)
    if i is None:
        return
    x, y = _on_curve(steer, i)
    panel.line([(x, y), (x, wanted[i])], theme.new, width=LINE, layer=5, ink=False)
    on.dots(np.array([(x, y), (x, wanted[i])]), theme.new)
    told = deviation_text([case for case in (old, new) if case is not None])
    panel.wish(told, (x, (y + float(wanted[i])) / 2), theme.ink, alarm=True, prefer=(-1.0, 0.0))
    share = int(0.62 * i)
    panel.wish("ideal", (steer.inner[share], wanted[share]), theme.ink, prefer=(-0.7, 0.7))


def _last(values: Array) -> int | None:
    """Number of the last value that is known."""
    known = np.flatnonzero(np.isfinite(values))
    return int(known[-1]) if len(known) else None


def deviation_text(cases: Sequence[Curves]) -> str:
    """How far the outer wheel is from the ideal at the lock, and the share of the ideal difference, old to new."""
    offs, shares = [], []
    for case in cases:
        steer, wheelbase = case.steer, case.wheelbase
        i = None if steer is None else _last(steer.outer)
        if steer is None or steer.deviation is None or wheelbase is None or i is None:
            continue
        offs.append(round(float(steer.deviation[i]), 1) + 0.0)
        shares.append(float(ackermann_share(steer.inner[i], steer.outer[i], steer.spacing, wheelbase)))
    signed = min(offs) < 0 < max(offs)
    angles = " → ".join(f"{off:+.1f}°" if signed else f"{abs(off):.1f}°" for off in offs)
    where = "from" if signed else "beyond" if max(offs) > 0 else "short of"
    told = " → ".join(f"{share:.0%}" for share in shares)
    return f"outer wheel {angles} {where} the ideal,\n{told} of the ideal difference"
