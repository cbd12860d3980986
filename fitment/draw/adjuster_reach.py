"""What alignment can reach, as a map: camber across, caster up, the target and where the wheel stands now."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import wrap
from typing import Any

import numpy as np
import shapely
from matplotlib.figure import Figure
from shapely.geometry.base import BaseGeometry

from fitment.draw.chart import Chart, Scale, new_chart, nice_step
from fitment.draw.figure_page import EDGE, GAP, ROW, new_sheet, notes, table, title_block
from fitment.draw.labels import place_labels
from fitment.draw.panel import Area, Panel, area_of
from fitment.draw.style import BOLD, DASHED, DOTTED, HAIR, LIGHT, LINE, THIN, Theme, look
from fitment.draw.style import words as clean
from fitment.frames import Array
from fitment.units import in_units

MAP_ROW = 7.4  # [in]
MARGINS = (66.0, 30.0, 54.0, 78.0)  # [pt] left, right, bottom, top
LEAST = 0.6  # [deg] of camber and caster shown at least round what is drawn
MOST_TICKS = 8
FEW = 4  # with more outlines, only those that reach the edge of the region are named
AT = 0.03  # [deg] closer than this the best settings are on the target
MARK_INK = 5.0  # how much labels avoid marks
WRAP = 104  # characters of a line below the map
CAPTION = "camber across (negative: top leans inboard), caster up"
NAMED = "\neach outline: what one position of the ball joint reaches, named beside it"
PROMISE = "From the points given: 2 mm misread is some tenths of camber. Set and measure on an alignment rack."

Pair = tuple[float, float]
Wanted = tuple[float | None, float | None]


def reach_sheet(
    *,
    hull: Array,
    present: Pair,
    target: Wanted | None,
    best: Pair | None,
    discrete: Sequence[tuple[str, Array]],
    title: str,
    subtitle: str,
    words: Sequence[str],
    units: str = "mm",
    theme: Theme = LIGHT,
    date: str | None = None,
) -> Figure:
    """A map of (camber, caster) [deg] with what the adjusters reach.

    hull : outline of the region (m, 2), vertices in order; one point or two are allowed
    present : as the wheel stands now
    target : what is wanted; None in it = as it comes
    best : what the chosen settings give
    discrete : (label, outline (m, 2)) of the region for each position of a joint that has several
    words : lines below the map, such as the settings; lengths in them are turned into `units`
    """
    told = in_units("\n".join([*(clean(text, 400) for text in words), PROMISE]), units).split("\n")
    lines = [line for text in told for line in wrap(text, WRAP)]
    rows = state_rows(present, target, best)
    heights = [1.0, MAP_ROW, ROW * len(rows) + 0.1, 0.1 + 0.23 * len(lines)]
    with look():
        sheet = new_sheet(2 * EDGE + sum(heights) + GAP * (len(heights) - 1), theme)
        title_block(sheet.blank(heights[0]), theme, title, clean(subtitle, 84), heights[0] * 72, date=date)
        panel = Panel(sheet.row(1, MAP_ROW)[0], theme)
        shapes = [hull, *(outline for _, outline in discrete)]
        on = _chart(panel, _area(shapes, present, target, best))
        panel.heading("Camber and caster within reach", CAPTION + (NAMED if len(discrete) > 1 else ""), "")
        on.grid_across(lambda v: on.across.text(v, "°"))
        on.grid_up(lambda v: on.up.text(v, "°"))
        _region(panel, hull, discrete)
        _target(on, target)
        _states(panel, hull, present, target, best)
        place_labels(panel)
        heads = (theme.quiet,) * 3
        table(sheet.blank(heights[2]), theme, rows, (0.0, 0.8, 1.0), heads)
        notes(sheet.blank(heights[3]), theme, lines)
        return sheet.figure


def state_rows(present: Pair, target: Wanted | None, best: Pair | None) -> list[tuple[str, ...]]:
    """Header and rows: what, camber, caster."""
    rows: list[tuple[str, ...]] = [("", "camber", "caster"), ("as it stands", *_texts(present))]
    if target is not None:
        rows.append(("target", *("as it comes" if v is None else _angle(v) for v in target)))
    if best is not None:
        rows.append(("chosen settings", *_texts(best)))
    if best is not None and target is not None:
        left = [None if wanted is None else wanted - got for wanted, got in zip(target, best, strict=True)]
        rows.append(("still missing", *("" if v is None else _angle(v, sign=True) for v in left)))
    return rows


def _angle(value: float, *, sign: bool = False) -> str:
    return f"{round(value, 2) + 0.0:{'+' if sign else ''}.2f}°"


def _texts(pair: Pair) -> tuple[str, str]:
    return _angle(pair[0]), _angle(pair[1])


def _area(shapes: Sequence[Array], present: Pair, target: Wanted | None, best: Pair | None) -> Area:
    """Everything drawn, and at least a little of both angles round it; a coordinate not asked for adds nothing."""
    points = [np.reshape(shape, (-1, 2)) for shape in shapes]
    points += [np.array([pair], dtype=float) for pair in (present, best) if pair is not None]
    middle = area_of(points)
    if target is not None:
        free = (middle.low + middle.high) / 2
        points.append(np.array([[f if v is None else v for v, f in zip(target, free, strict=True)]]))
    whole = area_of(points)
    short = np.maximum(LEAST - (whole.high - whole.low), 0.0) / 2
    pad = 0.06 * (whole.high - whole.low + 2 * short)
    return Area(whole.low - short - pad, whole.high + short + pad)


def _chart(panel: Panel, area: Area) -> Chart:
    """Camber across and caster up, each as large as there is room: their scales differ."""
    across, up = (Scale(low, high, *_ticks(low, high)) for low, high in zip(area.low, area.high, strict=True))
    return new_chart(panel, across, up, MARGINS)


def _ticks(low: float, high: float) -> tuple[tuple[float, ...], float]:
    """Round values, clear of the ends, and the step between them."""
    step = nice_step((high - low) / MOST_TICKS)
    inset = 0.25 * step  # numbers stay clear of the plot's corners
    first, last = np.ceil((low + inset) / step), np.floor((high - inset) / step)
    return tuple(float(k * step) for k in np.arange(first, last + 1)), step


def shape_of(outline: Array) -> BaseGeometry:
    """An outline (m, 2) as an area, a line or a point."""
    points = np.reshape(np.asarray(outline, dtype=float), (-1, 2))
    return shapely.MultiPoint(points).convex_hull if len(points) < 3 else shapely.Polygon(points).buffer(0)


def _region(panel: Panel, hull: Array, discrete: Sequence[tuple[str, Array]]) -> None:
    theme = panel.theme
    _shape(panel, hull, theme.new, fill=theme.new_tire, width=LINE)
    for _, outline in discrete:
        _shape(panel, outline, theme.new, fill="none", width=THIN)
    edge, middle = shape_of(hull).boundary, np.reshape(hull, (-1, 2)).mean(axis=0)
    for label, outline in discrete:
        points = np.reshape(outline, (-1, 2))
        away = points.mean(axis=0) - middle
        away = away / max(float(np.hypot(*away)), 1e-9)
        outer = points[shapely.distance(shapely.points(points), edge) < AT] if not edge.is_empty else points
        if len(outer) == 0 and len(discrete) > FEW:
            continue  # inside the others: its name would point into a tangle
        choice = outer if len(outer) else points
        anchor = choice[int(np.argmax(choice @ away))]
        panel.wish(clean(label, 40), anchor, theme.new, prefer=(float(away[0]), float(away[1])))


def _shape(panel: Panel, outline: Array, edge: str, *, fill: str, width: float) -> None:
    """An area with its edge, a thick line, or a dot."""
    shape = shape_of(outline)
    if shape.is_empty or shape.area < 1e-9:
        points = np.reshape(outline, (-1, 2))
        if len(points) > 1 and shape.length > 1e-6:
            panel.line(points, edge, width=BOLD, layer=2.5)
        else:
            _mark(panel, tuple(points[0]), "s", 5.0, edge, face=edge)
        return
    panel.area(shape, edge=edge, fill=fill, width=width, layer=2.0 if fill != "none" else 2.4)


def _target(on: Chart, target: Wanted | None) -> None:
    """Lines through the target; one line where only one angle is asked for."""
    if target is None:
        return
    panel, (camber, caster) = on.panel, target
    look_of: dict[str, Any] = {"width": HAIR, "style": DOTTED, "layer": 3.0}
    if camber is not None:
        panel.line([(camber, on.up.low), (camber, on.up.high)], panel.theme.ink, **look_of)
    if caster is not None:
        panel.line([(on.across.low, caster), (on.across.high, caster)], panel.theme.ink, **look_of)


def _states(panel: Panel, hull: Array, present: Pair, target: Wanted | None, best: Pair | None) -> None:
    """Now: hollow, as everything old; chosen settings: filled, as everything new; target: a ring with a cross."""
    theme = panel.theme
    _mark(panel, present, "o", 11.0, theme.old, face=theme.panel)
    panel.wish(f"as it stands\n{_both(present)}", present, theme.old, bold=True)
    there = best if best is not None else present
    aim = None if target is None else tuple(g if v is None else v for v, g in zip(target, there, strict=True))
    missed = best is not None and aim is not None and float(np.hypot(*np.subtract(aim, best))) >= AT
    if best is not None:
        panel.line([present, best], theme.old, width=THIN, style=DASHED, layer=4.5, ink=False)
        _mark(panel, best, "D", 10.0, theme.panel, face=theme.new)
        if missed or aim is None:
            panel.wish(f"chosen settings\n{_both(best)}", best, theme.new, bold=True)
    if aim is None or target is None:
        return
    if missed and best is not None:
        _to_target(panel, best, aim)
    _mark(panel, aim, "o", 15.0, theme.ink, face="none")
    _mark(panel, aim, "+", 21.0, theme.ink, face=theme.ink)
    within = shape_of(hull).distance(shapely.Point(aim)) < AT
    state = "" if within else " out of reach"
    told = f"target{state}\n{_wanted(target)}"
    if best is not None and not missed:
        told += f"\nreached with\n{_both(best)}"
    panel.wish(told, aim, theme.ink, alarm=True)


def _to_target(panel: Panel, best: Pair, aim: tuple[float, ...]) -> None:
    """What is left over, as an arrow that ends at the ring round the target."""
    start, end = panel.px([best, aim])
    step = end - start
    end = end - step * min(panel.pt(8.0) / float(np.hypot(*step)), 0.5)
    panel.arrow(best, panel.ax.transData.inverted().transform(end), panel.theme.ink, width=THIN, layer=4.6)


def _both(pair: Pair) -> str:
    return f"{_angle(pair[0])}, {_angle(pair[1])}"


def _wanted(target: Wanted) -> str:
    camber, caster = target
    if camber is None or caster is None:
        return f"camber {_angle(camber)}" if camber is not None else f"caster {_angle(caster or 0.0)}"
    return _both((camber, caster))


def _mark(panel: Panel, at: tuple[float, ...], marker: str, size: float, edge: str, *, face: str) -> None:
    panel.marks(at, marker, size, edge, face=face, width=LINE, layer=5.5, ink=MARK_INK)
