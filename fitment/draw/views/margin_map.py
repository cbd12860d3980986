"""The map of margin: travel up the page, steering or the opposite wheel across, and which part decides where.

The margin is the least over all parts of clearance less what is required; the heavy line is where it is nothing.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from textwrap import wrap

import numpy as np
from matplotlib.axes import Axes
from numpy.typing import NDArray
from shapely import Polygon
from shapely import box as rectangle
from shapely.geometry.base import BaseGeometry

from fitment.answers.margin_map import MarginMap
from fitment.checks.case import Case
from fitment.checks.fit import Clearance
from fitment.checks.full_case import FullCase
from fitment.checks.short_regions import WhereShort
from fitment.draw.chart import Chart, Scale, new_chart, scale_of, spread
from fitment.draw.figure_page import Box, Sheet, height_text, unframed
from fitment.draw.labels import place_labels
from fitment.draw.lettering import letter
from fitment.draw.panel import Panel
from fitment.draw.style import BODY, BOLD, DOTTED, HAIR, HATCH_OLD, HATCH_PART, LETTER, LINE, SMALL, THIN, Theme, words
from fitment.frames import Array
from fitment.report.where_short import where_words
from fitment.units import MM_PER_INCH, clearance_text, length_text

MAP_HEIGHT, LEAST_MAP = 6.0, 4.0  # [in] of the map on a sheet of its own, and in a low box
KEY_ROW, KEY_LINE, KEY_INDENT = 0.25, 0.2, 26.0  # [in], [in], [pt] of the key below the map
MOST_KEYS = 6  # parts that are named
TICK_ROOM, TICK_LINE = 66.0, 18.0  # [pt] between numbers across, and up
LETTER_BOX = 16.0  # [pt] round its place in which a letter needs no leader
TICKS, NAMES, NARROW_NAMES, FOOT = 62.0, 134.0, 14.0, 48.0  # [pt] left, right and below the plot
ALARM = 30.0  # [pt] above it for the label of the tightest pose
NARROW = 5.2  # [in] a box in which the ride heights are named within the plot
BANDS = {"mm": (0.0, 10.0, 20.0, 40.0), "in": (0.0, 0.5 * MM_PER_INCH, MM_PER_INCH, 1.5 * MM_PER_INCH)}  # [mm]
NUMBER = re.compile(r"([\d)]) (mm|in|deg|\d)")  # with its unit; not parted at the end of a line
UNREACHED = "not checked: no part near the wheel"


@dataclass(frozen=True)
class Key:
    """A part in the key.

    name : its letter on the map, empty where another part is tighter everywhere
    pair : its number in the map, None for one that is not in it; entry : where it is tightest
    where : where it falls short, None where it does not or that is not known
    """

    name: str
    pair: int | None
    entry: Clearance
    where: WhereShort | None


def keys_of(case: Case, margins: MarginMap) -> list[Key]:
    """Parts that decide somewhere, or fall short; the tightest first. Parts that stand still have no letter."""
    moving = _moving(margins)
    decides = set(np.unique(moving.between).tolist()) - {-1}
    regions = {(w.obstacle, w.part): w for w in case.where_short} if isinstance(case, FullCase) else {}
    keys: list[Key] = []
    letters = iter("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
    for entry in case.fit.worst_each:
        pair = (entry.obstacle, entry.part)
        number = moving.pairs.index(pair) if pair in moving.pairs else None
        short = entry.margin < 0 or entry.worst_case < 0
        if number in decides or short:
            name = next(letters, "") if number in decides else ""
            keys.append(Key(name, number, entry, regions.get(pair)))
    return keys


def _moving(margins: MarginMap) -> MarginMap:
    """Without the parts that stand still to the hub, which would hide what changes; all where nothing else is there."""
    moves = ~margins.still
    if moves.all() or not moves.any():
        return margins
    pairs = tuple(pair for pair, kept in zip(margins.pairs, moves, strict=True) if kept)
    return replace(
        margins, pairs=pairs, still=margins.still[moves], clearance=margins.clearance[moves],
        required=margins.required[moves],
    )  # fmt: skip


def map_height(new: tuple[Case, MarginMap | None], old: tuple[Case, MarginMap | None] | None, width: float) -> float:
    """What the view needs on a sheet of its own [in]; width : of the sheet between its margins [in]."""
    sides = [new] if old is None else [old, new]
    wide = width / len(sides)
    return MAP_HEIGHT + max(_key_height(_key_lines(case, margins, "mm", wide)) for case, margins in sides)


def map_view(
    sheet: Sheet, box: Box, new: tuple[Case, MarginMap | None], old: tuple[Case, MarginMap | None] | None, units: str
) -> None:
    """The map of a case with its key, beside that of the old case where there is one."""
    sides = [(new, False)] if old is None else [(old, True), (new, False)]
    known = [margins for (_, margins), _ in sides if margins is not None]
    narrow = box.width < NARROW + 1.0 and box.height > box.width
    boxes = (box.rows if narrow else box.columns)(*[1.0] * len(sides))
    keys = [_key_lines(case, margins, units, boxes[0].width) for (case, margins), _ in sides]
    for lines in keys:
        while lines and boxes[0].height - _key_height(lines) < LEAST_MAP:
            lines.pop()
    below = max(map(_key_height, keys))
    for ((case, margins), is_old), own, lines in zip(sides, boxes, keys, strict=True):
        title = "" if old is None else f"{'old' if is_old else 'new'}: {case.ready.build}"
        upper = Box(own.left, own.top, own.width, own.height - below)
        panel = Panel(sheet.at(upper), sheet.theme)
        if margins is None:
            panel.dress()
            panel.heading(title or "Margin over travel", UNREACHED, "")
            continue
        _map_panel(panel, case, margins, known, title, units, lettered=len(lines), named=own.width >= NARROW)
        if lines:
            _key(unframed(sheet.at(Box(own.left, own.top + upper.height, own.width, below))), sheet.theme, lines)


# ---------------------------------------------------------------- the map


def _map_panel(
    panel: Panel, case: Case, margins: MarginMap, known: list[MarginMap], title: str, units: str, *,
    lettered: int, named: bool,
) -> None:  # fmt: skip
    """lettered : parts that the key below tells by their letters; the others are named on the map"""
    per = MM_PER_INCH if units == "in" else 1.0
    keys = [key if i < lettered else replace(key, name=key.name and words(key.entry.obstacle, 16))
            for i, key in enumerate(keys_of(case, margins))]  # fmt: skip
    moving, right = _moving(margins), NAMES if named else NARROW_NAMES
    caption = "\n".join([_caption(moving, units), *_not_drawn(case, moving, units)])
    panel.heading(title or _title(moving), caption, _compass(moving, brief=not named))
    room = panel.size_pt()[1] - panel.head - ALARM - FOOT
    ticks = int(np.clip(room / TICK_LINE, 1, 8))
    up = scale_of([m.travel / per for m in known], least=1.0, most_ticks=ticks, pad=0.0)
    across = _across_scale(known, per, max(2, int((panel.size_pt()[0] - TICKS - right) / TICK_ROOM)))
    on = new_chart(panel, across, up, (TICKS, right, FOOT, panel.head + ALARM))
    on.grid_up(lambda v: length_text(v * per, units, digits=0 if units == "mm" else 1, sign=abs(v) > 1e-9))
    if moving.beside_kind is None:
        on.grid_across(lambda v: length_text(v * per, units, digits=0 if units == "mm" else 1, sign=abs(v) > 1e-9))
        _curves(on, case, moving, keys, per)
    else:
        on.grid_across(lambda v: _across_text(v, moving, units, per))
        _field(on, moving, keys, units, per)
        _tightest(on, case, moving, units, per)
    _heights(on, case, units, per, named=named)
    place_labels(panel)


def _across_scale(known: list[MarginMap], per: float, ticks: int) -> Scale:
    if known[0].beside_kind is None:
        moving = [_moving(m) for m in known]
        return scale_of([np.zeros(1), *(m.margin / per for m in moving)], least=10.0 / per, most_ticks=min(ticks, 6))
    return scale_of([_across(m, per) for m in known], least=1.0, most_ticks=min(ticks, 7), pad=0.0)


def _across(margins: MarginMap, per: float) -> Array:
    """Places across the page (n, m): left lock at the left, and the opposite wheel drooping at the left."""
    return -margins.beside if margins.beside_kind == "steer" else margins.beside / per


def _across_text(value: float, margins: MarginMap, units: str, per: float) -> str:
    if margins.beside_kind == "steer":
        angle = round(-value, 1) + 0.0
        return f"{abs(angle):g}° {'left' if angle > 0 else 'right'}" if abs(angle) > 1e-6 else "0°"
    return length_text(value * per, units, digits=0 if units == "mm" else 1, sign=abs(value) > 1e-9)


def _title(margins: MarginMap) -> str:
    beside = {"steer": " and steering", "opposite": " and the opposite wheel", None: ""}[margins.beside_kind]
    return f"Margin over travel{beside}"


def _caption(margins: MarginMap, units: str) -> str:
    if margins.beside_kind is None:
        return f"clearance less what is required, {units}; left of the heavy line: too close; hatched: touches"
    return "crosses: touches; stripes: closer than required; heavy line: just what is required"


def _not_drawn(case: Case, moving: MarginMap, units: str) -> list[str]:
    """Parts that are short in every pose alike, which the map leaves out."""
    short = [e for e in case.fit.worst_each if e.margin < 0 and (e.obstacle, e.part) not in moving.pairs]
    told = ", ".join(f"{words(e.obstacle, 20)} to {e.part} {clearance_text(e.clearance, units)}" for e in short)
    return [f"not drawn, since it is so in every pose: {told}"] if short else []


def _compass(margins: MarginMap, *, brief: bool) -> str:
    across = {"steer": "◀ steered left   steered right ▶", "opposite": "◀ opposite wheel droops   bumps ▶"}
    if brief:
        across["opposite"] = "◀ opposite droops   bumps ▶"
    told = across.get(margins.beside_kind or "", "more room ▶")
    return told if brief else f"{told}   wheel up into the body ▲"


def _field(on: Chart, margins: MarginMap, keys: list[Key], units: str, per: float) -> None:
    """Bands of margin, what touches, the lines between, and the parts by their letters."""
    panel, theme, ax = on.panel, on.panel.theme, on.panel.ax
    x, y = _across(margins, per), np.broadcast_to(margins.travel[:, None] / per, margins.beside.shape)
    margin, clearance = np.ma.masked_invalid(margins.margin), np.ma.masked_invalid(margins.clearance.min(axis=0))
    bands = BANDS[units]
    fills = (theme.new_wheel, theme.new_tire, theme.new_pale)
    for low, high, fill in zip(bands, bands[1:], fills, strict=False):
        panel.keep(ax.contourf(x, y, margin, levels=(low, high), colors=(fill,), zorder=1.0))
    _hatched(on, x, y, margin, theme.panel, HATCH_OLD, theme.quiet)
    _hatched(on, x, y, clearance, theme.part_far, HATCH_PART, theme.part_fill)
    _line(on, x, y, clearance, 0.0, theme.ink, THIN)
    for level in bands[1:]:
        _name_line(on, _line(on, x, y, margin, level, theme.quiet, HAIR), level, units)
    _line(on, x, y, margin, 0.0, theme.ink, BOLD)
    outline = Polygon(np.concatenate([np.stack([a, b], -1) for a, b in _ring(x, y)]))
    panel.area(outline, edge=theme.ink, width=LINE, layer=3.2)
    _letters(on, margins, keys, x, y)


def _ring(x: Array, y: Array) -> list[tuple[Array, Array]]:
    """The border of the grid, once round."""
    return [(x[0], y[0]), (x[1:, -1], y[1:, -1]), (x[-1, -2::-1], y[-1, -2::-1]), (x[-2:0:-1, 0], y[-2:0:-1, 0])]


def _hatched(on: Chart, x: Array, y: Array, values: Array, fill: str, hatch: str, color: str) -> None:
    """What is below zero, filled and hatched."""
    panel = on.panel
    if not float(values.min()) < 0:
        return
    levels = (float(values.min()) - 1.0, 0.0)
    panel.keep(panel.ax.contourf(x, y, values, levels=levels, colors=(fill,), zorder=1.2))
    marks = panel.ax.contourf(x, y, values, levels=levels, colors="none", hatches=[hatch], zorder=1.3)
    marks.set_edgecolor(color)
    marks.set_linewidth(0.0)
    panel.keep(marks)


def _line(on: Chart, x: Array, y: Array, values: Array, level: float, color: str, width: float) -> list[Array]:
    """Where values have a level, as polylines."""
    panel = on.panel
    if not float(values.min()) < level < float(values.max()):
        return []
    drawn = panel.ax.contour(x, y, values, levels=(level,), colors=(color,), linewidths=(width,), zorder=3.0)
    panel.keep(drawn)
    path = drawn.get_paths()[0]  # `allsegs` of matplotlib 3.8.0 does not part what is not connected
    starts = np.flatnonzero(np.asarray(path.codes) == path.MOVETO)[1:]
    pieces = [piece for piece in np.split(np.asarray(path.vertices), starts) if len(piece) > 1]
    for piece in pieces:
        panel.leave_ink(piece, 0.5)
    return pieces


def _name_line(on: Chart, pieces: list[Array], level: float, units: str) -> None:
    if pieces:
        longest = max(pieces, key=len)
        text = length_text(level, units, digits=0 if units == "mm" else 1, sign=True)
        on.panel.wish(text, longest[len(longest) // 2], on.panel.theme.quiet, optional=True)


def _letters(on: Chart, margins: MarginMap, keys: list[Key], x: Array, y: Array) -> None:
    """Dotted borders between the parts that decide, and the letter of each in the middle of where it does."""
    panel, theme = on.panel, on.panel.theme
    between, scale = margins.between, np.array([on.across_per_pt, on.up_per_pt])
    every = np.stack([x, y], -1) / scale
    for key in keys:
        if not key.name or key.pair is None:
            continue
        own, others = margins.margins[key.pair], np.delete(margins.margins, key.pair, axis=0)
        if len(others):
            lead = np.ma.masked_invalid(others.min(axis=0) - own)
            if float(lead.min()) < 0 < float(lead.max()):
                panel.keep(panel.ax.contour(x, y, lead, levels=(0.0,), colors=(theme.ink,), linewidths=(THIN,),
                                            linestyles=(DOTTED,), zorder=2.8))  # fmt: skip
        mine, away = every[between == key.pair], every[(between != key.pair) & (between >= 0)]
        far = np.full(len(mine), 60.0)
        if len(away):
            far = np.minimum(far, np.hypot(*np.moveaxis(mine[:, None] - away[None], -1, 0)).min(axis=1))
        edge = np.concatenate([np.stack([a, b], -1) for a, b in _ring(x, y)]) / scale
        far = np.minimum(far, np.hypot(*np.moveaxis(mine[:, None] - edge[None], -1, 0)).min(axis=1) + 4.0)
        middle = mine[int(np.argmax(far))]
        area = rectangle(*((middle - LETTER_BOX) * scale), *((middle + LETTER_BOX) * scale))
        panel.wish(key.name, middle * scale, theme.ink, bold=True, area=area)


def _tightest(on: Chart, case: Case, margins: MarginMap, units: str, per: float) -> None:
    """The tightest pose of the check among the parts that move."""
    entry = next((e for e in case.fit.worst_each if (e.obstacle, e.part) in margins.pairs), None)
    if entry is None:
        return
    at = -entry.steer if margins.beside_kind == "steer" else (entry.opposite or 0.0) / per
    place = (at, entry.travel / per)
    on.panel.marks([place], "o", 9.0, on.panel.theme.ink, face=on.panel.theme.panel, width=LINE, layer=6.0, ink=5.0)
    on.panel.marks([place], "o", 3.0, on.panel.theme.ink, layer=6.1)
    text = f"{words(entry.obstacle, 20)} {clearance_text(entry.clearance, units)}"
    on.panel.wish(text, place, on.panel.theme.ink, alarm=True)


# ---------------------------------------------------------------- without a second way


def _curves(on: Chart, case: Case, margins: MarginMap, keys: list[Key], per: float) -> None:
    """The margin of each part over travel, the least bold, and where something touches."""
    panel, theme = on.panel, on.panel.theme
    y, least = margins.travel / per, margins.margin[:, 0] / per
    touches: NDArray[np.bool_] = np.any(margins.clearance[:, :, 0] < 0, axis=0)
    panel.area(_left_of_zero(on.across.low, y), hatch=HATCH_OLD, hatch_color=theme.faint, layer=0.7, ink=False)
    for first, last in _runs(touches):
        edge = np.stack([least[first : last + 1], y[first : last + 1]], -1)
        zero = np.stack([np.zeros(last + 1 - first), y[first : last + 1]], -1)[::-1]
        shape = np.concatenate([edge, zero])
        if len(edge) > 1:
            panel.area(shape, fill=theme.part_far, layer=1.5, ink=False)
            panel.area(shape, hatch=HATCH_PART, hatch_color=theme.part_fill, layer=1.6, ink=False)
    panel.line([(0.0, y[0]), (0.0, y[-1])], theme.ink, width=BOLD, layer=3.0)
    for key in keys:
        if not key.name or key.pair is None:
            continue
        own = np.stack([margins.margins[key.pair, :, 0] / per, y], -1)
        panel.line(own[own[:, 0] <= on.across.high], theme.new, width=THIN, layer=3.5)
        mine = np.flatnonzero(margins.between[:, 0] == key.pair)
        panel.wish(key.name, own[mine[len(mine) // 2]], theme.ink, bold=True)
    panel.line(np.stack([least, y], -1), theme.new, width=BOLD, layer=4.0)
    entry = next((e for e in case.fit.worst_each if (e.obstacle, e.part) in margins.pairs), None)
    if entry is not None:
        place = (entry.margin / per, entry.travel / per)
        panel.marks([place], "o", 9.0, theme.ink, face=theme.panel, width=LINE, layer=6.0, ink=5.0)
        units = "in" if per > 1 else "mm"
        panel.wish(
            f"{words(entry.obstacle, 20)} {clearance_text(entry.clearance, units)}", place, theme.ink, alarm=True
        )


def _left_of_zero(low: float, y: Array) -> BaseGeometry:
    """Where less is left than required."""
    return Polygon([(low, y[0]), (0.0, y[0]), (0.0, y[-1]), (low, y[-1])]) if low < 0 else Polygon()


def _runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last number of every run of flags, one neighbour more at each end."""
    padded = np.concatenate([[False], flags, [False]]).astype(int)
    starts, ends = np.flatnonzero(np.diff(padded) == 1), np.flatnonzero(np.diff(padded) == -1) - 1
    return [(max(int(a) - 1, 0), min(int(b) + 1, len(flags) - 1)) for a, b in zip(starts, ends, strict=True)]


# ---------------------------------------------------------------- heights, key


def _heights(on: Chart, case: Case, units: str, per: float, *, named: bool) -> None:
    """A line at every ride height and at both ends of travel, its name at the right, or above it in a narrow panel."""
    panel, theme, axle = on.panel, on.panel.theme, case.fit.axle
    levels = {axle.droop: "droop", axle.bump: "bump"} | {travel: name for name, travel in reversed(axle.ride_heights)}
    levels[case.fit.setup.ride] = case.fit.setup.ride_name or "at rest"
    rising = sorted(levels)
    gap = 15.0 * on.up_per_pt
    places = spread([travel / per for travel in rising], gap, on.up.low + gap / 2, on.up.high + gap / 2)
    low, high, step = on.across.low, on.across.high, 9.0 * on.across_per_pt
    for travel, place in zip(rising, places, strict=True):
        stands = travel == case.fit.setup.ride
        color, width = (theme.ink, LINE) if stands else (theme.quiet, HAIR)
        path = [(low, travel / per), (high, travel / per)]
        panel.line([*path, (high + step, place)] if named else path, color, width=width,
                   style="-" if stands else DOTTED, layer=2.5)  # fmt: skip
        told = f"{words(levels[travel], 10)} {height_text(travel, units)}"
        if named:
            panel.text((high + 1.3 * step, place), told, color=color, bold=stands, ha="left", va="center")
        elif stands:
            panel.wish(told, (low + 0.5 * (high - low), travel / per), color, optional=True)


def _key_lines(case: Case, margins: MarginMap | None, units: str, width: float) -> list[tuple[str, str, list[str]]]:
    """Of every part in the key its letter, name with gap, and the lines that tell where it falls short."""
    if margins is None:
        return []
    room = max(24, int((width * 72 - KEY_INDENT) / LETTER))
    lines = []
    for key in keys_of(case, margins)[:MOST_KEYS]:
        entry = key.entry
        gap, asked = clearance_text(entry.clearance, units), length_text(entry.allowance, units)
        head = f"{entry.part} - {words(entry.obstacle, 26)}  {gap}, {asked} required"
        told = wrap(NUMBER.sub("\\1\N{NO-BREAK SPACE}\\2", where_words(key.where, units)), room) if key.where else []
        lines.append((key.name or "·", head, told))
    return lines


def _key_height(lines: list[tuple[str, str, list[str]]]) -> float:
    return 0.12 + sum(KEY_ROW + KEY_LINE * len(told) for _, _, told in lines) if lines else 0.0


def _key(ax: Axes, theme: Theme, lines: list[tuple[str, str, list[str]]]) -> None:
    """The parts of the map by their letters, from the top of a blank."""
    level = float(ax.get_ylim()[1]) - 0.06 * 72
    for name, head, told in lines:
        level -= KEY_ROW * 72 / 2
        letter(ax, 8, level, name, theme.ink, BODY, bold=True)
        letter(ax, KEY_INDENT, level, head, theme.ink, BODY, least=SMALL)
        level -= KEY_ROW * 72 / 2
        for line in told:
            letter(ax, KEY_INDENT, level - KEY_LINE * 36, line, theme.quiet, SMALL)
            level -= KEY_LINE * 72
