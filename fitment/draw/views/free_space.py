"""The room round the hub: what every part sweeps in all poses, and the wheel that is to go between.

The page is the hub's half plane, as in the closest call: outboard to the right, away from the axle up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fitment.checks.case import Case
from fitment.draw import case_parts
from fitment.draw.figure_page import EDGE, GAP, NOTE, Sheet, new_sheet, notes, title_block, unframed, wrapped
from fitment.draw.headings import BRIEF, NOT_SERVED
from fitment.draw.labels import place_labels
from fitment.draw.panel import Area, Panel
from fitment.draw.projection import edges
from fitment.draw.style import (
    BOLD,
    CHAIN,
    DASHED,
    DOTTED,
    HAIR,
    LIGHT,
    LINE,
    SHEET_WIDTH,
    THIN,
    Theme,
    look,
    words,
)
from fitment.draw.views.closest import closest_call
from fitment.draw.views.offset_bars import draw_bars, height_of
from fitment.parts.axle import Axle
from fitment.report.common import offset_words
from fitment.report.offset_window import gap_words, nearest_words
from fitment.screening.free_space import FreeSpace, space_round_hub
from fitment.screening.keep_out import KeepOut, keep_out_at
from fitment.screening.offset_window import End, Window
from fitment.units import clearance_text, in_units

SIDE, FOOT = 16.0, 34.0  # [pt] margins left and right, below
BESIDE, ABOVE = 75.0, 55.0  # [mm] shown beside and above the tire
HEIGHT = 7.4  # [in] of the panel
NOT_ROOM = "...."
ELSEWHERE = 0.6  # how much a name avoids the areas of others
# told apart by lightness and hatch as well; every area carries its name
TINTS = ("#e69f00", "#56b4e9", "#009e73", "#cc79a7", "#d55e00", "#0072b2", "#b8a900", "#999999")
HATCHES = (None, "\\\\\\", "+++", "---", "ooo", None, "|||", "...")
EXPLAINED = (
    "Read it so: the page is a cut through the wheel from the axle (bottom) outward. Each coloured area is everywhere "
    "that part gets to, seen from the hub, through all travel and all steering. What has no colour is free. A wheel "
    "and tire fit when their outline stays out of the colours, and as far from them as is required. Areas are drawn "
    "to about a millimetre; clearances are computed, not read off."
)


@dataclass(frozen=True)
class Laid:
    """A wheel with its tire laid over the room, in words and as sections (y', r) [mm].

    style : of its lines; named_at : where its name points to, as a share of its width from the inboard side
    """

    name: str
    tire: shapely.Polygon
    wheel: shapely.Polygon
    color: str
    style: Any = "-"
    filled: bool = True
    named_at: float = 0.5


def room_view(
    ax: Axes, new: Case, old: Case | None = None, *, title: str = "", units: str = "mm", theme: Theme = LIGHT
) -> list[Artist]:
    """The room of the new case with its wheel and tire, and those of the old one as they sat on its hub."""
    kept = keep_out_at(replace(new.ready, variants=()), new.fit.setup.ride)
    laid = [Laid("", new.fit.tire, new.fit.wheel, theme.new)]
    if old is not None:
        laid.append(Laid("", old.fit.tire, old.fit.wheel, theme.old, DASHED, filled=False))
    call = closest_call(new)
    told = "" if call is None else call.entry.obstacle
    panel = _room(ax, kept, laid, title or "The room round the hub", units, theme, told=told)
    if call is not None:
        panel.dimension_gap(call.part, call.surface, theme.ink)
        value = clearance_text(call.entry.clearance, units)
        middle = (call.part + call.surface) / 2
        panel.wish(f"{words(call.entry.obstacle, 20)}\n{value}", middle, theme.ink, alarm=True)
    place_labels(panel)
    return panel.artists


def _room(
    ax: Axes, kept: KeepOut, laid: Sequence[Laid], title: str, units: str, theme: Theme, *, told: str = ""
) -> Panel:
    """told : the part that another label names as well"""
    panel, free = Panel(ax, theme), space_round_hub(kept)
    panel.heading(
        title,
        "coloured: where each part gets to in all travel and steering. Uncoloured: free",
        "outboard ▶   away from the axle ▲",
    )
    panel.fit(_area(laid), (SIDE, SIDE, FOOT, panel.head), (False, False))
    case_parts.scale(panel, units)
    drawn = panel.drawing_area()
    for assembly in laid:  # names stay out of the wheel
        panel.fill_ink(assembly.tire.union(assembly.wheel), ELSEWHERE, named=True)
    _kept_out(panel, free, drawn, told)
    _brake(panel, kept.axle, drawn)
    for assembly in laid:
        _laid(panel, assembly)
    _hub(panel, drawn)
    return panel


def _area(laid: Sequence[Laid]) -> Area:
    bounds = np.array([assembly.tire.bounds for assembly in laid] + [assembly.wheel.bounds for assembly in laid])
    low, high = bounds[:, :2].min(axis=0), bounds[:, 2:].max(axis=0)
    return Area(np.array([min(low[0], -30.0) - BESIDE, -8.0]), np.array([max(high[0], 30.0) + BESIDE, high[1] + ABOVE]))


def _kept_out(panel: Panel, free: FreeSpace, drawn: shapely.Polygon, told: str) -> None:
    """Every part's area in its own tint, named; and what is free but cannot be reached from the hub."""
    theme, taken = panel.theme, shapely.union_all([area for _, area in free.kept_out])
    above = drawn.intersection(shapely.box(-2e3, 0.0, 2e3, 2e3))
    beyond = above.difference(shapely.union_all([taken, free.free]))
    if beyond.area > 1.0:
        panel.area(beyond, fill=theme.part_far, hatch=NOT_ROOM, hatch_color=theme.faint, layer=1, ink=False)
    seen = [area.intersection(above) for _, area in free.kept_out]
    for i, (name, area) in enumerate(zip([name for name, _ in free.kept_out], seen, strict=True)):
        if area.is_empty:
            continue
        panel.area(area, fill=TINTS[i % len(TINTS)], layer=1.2 + 0.01 * i, ink=False)
        if hatch := HATCHES[i % len(HATCHES)]:
            panel.area(area, hatch=hatch, hatch_color=theme.panel, layer=1.25 + 0.01 * i, ink=False)
        panel.area(area, edge=theme.part, width=HAIR, layer=1.3 + 0.01 * i)
        panel.fill_ink(area, ELSEWHERE, named=True)
        on_top = area.difference(shapely.union_all(seen[i + 1 :]))
        _named(panel, name, area if on_top.area < 1.0 else on_top, theme.ink, within=name == told)
    if beyond.area > 1.0:
        panel.fill_ink(beyond, ELSEWHERE, named=True)
        _named(panel, "not reached\nfrom the hub", beyond, theme.quiet)


def _named(panel: Panel, name: str, area: Any, color: str, *, within: bool = False) -> None:
    """The name in the largest piece of an area, or beside it; within : only there."""
    largest = max(shapely.get_parts(area), key=lambda part: part.area)
    place = shapely.maximum_inscribed_circle(largest, tolerance=1.0).coords[0]
    text = "\n".join(words(line, 24) for line in name.split("\n"))
    panel.wish(text, place, color, area=largest, within=within, optional=within)


def _brake(panel: Panel, axle: Axle, drawn: shapely.Polygon) -> None:
    """Rotor and caliper, which turn with the hub or stand at it."""
    brake, theme = axle.brake, panel.theme
    pieces = [("rotor", brake.rotor.outline if brake and brake.rotor else ())]
    pieces.append(("caliper", brake.caliper.outline if brake and brake.caliper else ()))
    parts = []
    for name, outline in pieces:
        if len(outline) < 2:
            continue
        shape = shapely.Polygon(outline) if len(outline) > 2 else shapely.LineString(outline).buffer(2.0)
        parts.append((name, shape.intersection(drawn)))
        panel.area(parts[-1][1], fill=theme.part_far, edge=theme.part, width=THIN, layer=2.3)
    for i, (name, seen) in enumerate(parts):
        on_top = seen.difference(shapely.union_all([over for _, over in parts[i + 1 :]]))
        if on_top.area > 1.0:
            panel.wish_within(name, on_top, theme.quiet)


def _laid(panel: Panel, each: Laid) -> None:
    theme = panel.theme
    for section, fill, layer in ((each.tire, theme.new_tire, 2.0), (each.wheel, theme.new_wheel, 2.1)):
        if each.filled:
            panel.area(section, fill=fill, layer=layer, ink=False)
    for edge in edges(each.tire, each.wheel):
        panel.area(edge, edge=each.color, width=LINE, style=each.style, layer=3.7)
    if each.name:
        x0, _, x1, top = each.tire.bounds
        panel.wish(each.name, (x0 + each.named_at * (x1 - x0), top), each.color, bold=True, prefer=(0.0, 1.0))


def _hub(panel: Panel, drawn: shapely.Polygon) -> None:
    theme = panel.theme
    x0, _, x1, _ = drawn.bounds
    panel.line([(x0, 0.0), (x1, 0.0)], theme.quiet, width=HAIR, style=CHAIN, layer=4)
    panel.line([(0.0, 0.0), (0.0, 95.0)], theme.ink, width=BOLD, layer=4.2)
    panel.wish("hub face", (0.0, 90.0), theme.ink, prefer=(1.0, 0.0))
    panel.wish("axle (spin axis)", (x0 + 0.2 * (x1 - x0), 0.0), theme.quiet, optional=True)


# ---------------------------------------------------------------- a window


def window_sheet(
    kept: KeepOut, found: Sequence[Window], title: tuple[str, str], *, units: str = "mm", theme: Theme = LIGHT,
    date: str | None = None,
) -> Figure:  # fmt: skip
    """One wheel size in its room at the ends of its window, under its bar; of many sizes the bars over the offset.

    title : the vehicle's name, and axle and build; date : text for the title block
    """
    with look():
        if len(found) == 1:
            return _one_size(kept, found[0], title, units, theme, date)
        return _bars(kept, found, title, units, theme, date)


def _size(each: Window) -> str:
    return f"{each.setup.wheel.rim_diameter:g}x{each.setup.wheel.rim_width:g} with {each.setup.tire.code}"


def _sheet(
    title: tuple[str, str], line: str, height: float, foot: Sequence[str], theme: Theme, date: str | None
) -> Sheet:  # fmt: skip
    sheet = new_sheet(2 * EDGE + 0.9 + height + NOTE * len(foot) + 0.03 + 2 * GAP, theme)
    block = sheet.blank(0.9)
    title_block(block, theme, title[0], f"{title[1]}: {line}", block.get_ylim()[1], date=date)
    return sheet


def _brief(kept: KeepOut) -> str:
    """The safety notice, and what is not counted where the profile asks a check to."""
    return BRIEF if kept.axle.service is None else NOT_SERVED + BRIEF


def _one_size(
    kept: KeepOut, window: Window, title: tuple[str, str], units: str, theme: Theme, date: str | None
) -> Figure:  # fmt: skip
    """The bar, and below it the room with the wheel at the ends, or where nothing fits at the nearest offset."""
    bars, laid = height_of(1, named=False), _laid_at_ends(window, theme)
    foot = wrapped([_stops(window, units), EXPLAINED, _brief(kept)], SHEET_WIDTH - 2 * EDGE)
    sheet = _sheet(title, f"{_size(window)}, ET in mm", bars + GAP + HEIGHT, foot, theme, date)
    draw_bars(unframed(sheet.at(sheet.box(bars))), [window], units, theme, named=False)
    panel = _room(sheet.at(sheet.box(HEIGHT)), kept, laid, "The room round the hub", units, theme)
    place_labels(panel)
    notes(sheet.blank(NOTE * len(foot) + 0.03), theme, foot)
    return sheet.figure


def _laid_at_ends(found: Window, theme: Theme) -> list[Laid]:
    """The wheel at both ends of the range that counts most, the first filled; else where it comes nearest."""
    ends = found.ends or found.nominal
    if ends is None:
        assert found.best is not None
        fit = found.best.fit
        return [Laid(offset_words(fit.setup.wheel.offset), fit.tire, fit.wheel, theme.new)]
    shown = [
        Laid(
            offset_words(end.offset),
            end.case.fit.tire,
            end.case.fit.wheel,
            theme.new,
            style,
            filled=filled,
            named_at=at,
        )
        for end, style, filled, at in ((ends[1], CHAIN, False, 0.2), (ends[0], "-", True, 0.8))
    ]
    if found.ends is None or found.nominal is None:
        return shown
    outer = [
        _at(end, theme.quiet, DOTTED, filled=False)
        for end, own in zip(found.nominal, found.ends, strict=True)
        if end.offset != own.offset
    ]
    return [*outer, *shown]


def _at(end: End, color: str, style: Any, *, name: str = "", filled: bool, named_at: float = 0.5) -> Laid:
    return Laid(name, end.case.fit.tire, end.case.fit.wheel, color, style, filled=filled, named_at=named_at)


def _stops(found: Window, units: str) -> str:
    """What stops it at each end of both ranges, and how much is left there; in which lines the room shows them."""
    told = []
    for name, ends in (("As measured", found.nominal), ("In the worst case too", found.ends)):
        if ends is not None:
            told.append(f"{name}: {'; '.join(map(_end_words, ends))}.")
    if found.best is not None:
        told.append(nearest_words(found, units))
    if found.ends is not None:
        told.append("In the room: solid and chain lines at the ends of the worst case, dotted at those as measured.")
    return in_units(" ".join(told), units)


def _end_words(end: End) -> str:
    at = f"{offset_words(end.offset)} (backspacing {end.case.stance.backspacing:.1f} mm)"
    if end.limit or end.stop is None:
        return f"{at} nothing measured stops it"
    left = f"{end.stop.clearance:.1f} mm left, in the worst case {gap_words(end.stop.worst_case)}"
    return f"{at} {end.stop.part} to {end.stop.obstacle}, {left}"


BELOW = (
    "Above each bar: what stops the range as measured (nominal tire, readings as given) at each end. Below it: what "
    "stops that of the worst case (largest tire, every reading off by its tolerance). ET in mm. X: nearest where none "
    "clears. (*) the rim's width is outside the range for the tire."
)


def _bars(
    kept: KeepOut, found: Sequence[Window], title: tuple[str, str], units: str, theme: Theme, date: str | None
) -> Figure:  # fmt: skip
    foot = wrapped([BELOW, _brief(kept)], SHEET_WIDTH - 2 * EDGE)
    height = height_of(len(found))
    sheet = _sheet(title, "offsets that clear, ET in mm", height, foot, theme, date)
    draw_bars(unframed(sheet.at(sheet.box(height))), found, units, theme)
    notes(sheet.blank(NOTE * len(foot) + 0.03), theme, foot)
    return sheet.figure
