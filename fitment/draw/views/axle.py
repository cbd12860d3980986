"""The axle from the front: the section through both hubs, what moves at the wheel, and how the track widens."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from matplotlib.artist import Artist
from matplotlib.axes import Axes

from fitment.checks.case import Case
from fitment.draw import case_parts
from fitment.draw.dimensions import (
    BESIDE,
    DIAMETERS,
    DIMENSION_ROW,
    ONE_LINE,
    below,
    diameters,
    moves,
    track,
    wider_text,
    widths,
)
from fitment.draw.labels import place_labels
from fitment.draw.panel import Area, Panel
from fitment.draw.projection import FRONT, FRONT_RIGHT, View
from fitment.draw.scene import Height, Shown, shown
from fitment.draw.style import CHAIN, HAIR, LIGHT, Theme
from fitment.units import length_text

MARGIN, TOP = 14.0, 34.0  # [pt] at the sides; below the heading, for the labels of what hangs above the wheels
WORDS = 112.0  # [pt] outboard of the left wheel, for the words of its moves and for labels
LABELS = 82.0  # [pt] the same where there is little room
FOOT = 40.0  # [pt] below the last row of dimensions, for directions and scale
TOP_SMALL, FOOT_SMALL, BAR = 10.0, 22.0, 14.0  # [pt] where there is little room; for the bar of the scale
HEAD = 50.0  # [pt] of a heading with one line below
HEAD_ONE = 34.0  # [pt] of a heading alone


@dataclass(frozen=True)
class Detail:
    """How much the axle carries: every dimension, or the track alone, or none; labels of one corner at most."""

    full: bool = True
    labels: int = case_parts.MOST_LABELS
    track: bool = True


def axle_section(
    ax: Axes,
    new: Case,
    old: Case | None = None,
    *,
    travel: Height = None,
    title: str = "",
    caption: str = "",
    units: str = "mm",
    theme: Theme = LIGHT,
    detail: Detail | None = None,
) -> list[Artist]:
    """Section through both hubs straight ahead, from the front: the vehicle's left is to the right.

    travel : [mm], 'droop' or 'bump', or None for each case's own ride height
    """
    detail = detail or Detail()
    left, right = (shown(new, old, travel=travel, corner=corner) for corner in ("left", "right"))
    panel = Panel(ax, theme)
    words = caption or (_track_words(left, units) if detail.full else "")
    name = "At ride height" if detail.full else "At ride height, from the front"
    panel.heading(title or name, words, "right side ◀  ▶ left side" if detail.full else "")
    lean = 0.5 if detail.full or not detail.labels else 0.0  # labels stand outboard of the left wheel
    panel.fit(_area(left, right), _margins(left, detail, panel.head), (False, False), lean=lean)
    case_parts.scale(panel, units)
    _centre_line(panel)
    case_parts.ground(panel, left, named=False)
    told = [_corner(panel, both, view) for both, view in ((left, FRONT), (right, FRONT_RIGHT))]
    _dimensions(panel, left, right, units, detail)
    _labels(panel, left, right, told, units, detail)
    place_labels(panel)
    return panel.artists


def axle_height(new: Case, old: Case | None, width: float) -> float:
    """Height [in] that a panel so many inches wide needs to show the axle as large as it can."""
    wide, high, before, after, bottom, top = _needs(new, old, Detail(), HEAD)
    per_pt = wide / (width * 72 - before - after)
    return (high / per_pt + bottom + top) / 72


def axle_width(new: Case, old: Case | None, height: float, detail: Detail) -> float:
    """Width [in] beyond which a panel so many inches high cannot show the axle any larger."""
    wide, high, before, after, bottom, top = _needs(new, old, detail, HEAD_ONE)
    per_pt = high / (height * 72 - bottom - top)
    return (wide / per_pt + before + after) / 72


def _needs(new: Case, old: Case | None, detail: Detail, head: float) -> tuple[float, ...]:
    """Width and height of what is shown [mm]; the margins left, right, bottom and top [pt]."""
    left, right = (shown(new, old, travel=None, corner=corner) for corner in ("left", "right"))
    area = _area(left, right)
    return (*(area.high - area.low).tolist(), *_margins(left, detail, head))


def _corner(panel: Panel, both: Shown, view: View) -> tuple[str, ...]:
    """One corner of the axle; returns the parts that are found on the other side only."""
    own = "right" if view.mirror else "left"
    hidden = tuple(o.name for o in both.new.fit.obstacles if o.side is not None and o.side != own)
    x0, y0, x1, y1 = panel.drawing_area().bounds
    half = shapely.box(x0, y0, 0.0, y1) if view.mirror else shapely.box(0.0, y0, x1, y1)
    case_parts.vehicle(panel, both, view, hidden=hidden, within=half)
    case_parts.brake(panel, both.new.fit.axle.brake, both.new_at, view, named=False)
    return hidden


def _labels(panel: Panel, left: Shown, right: Shown, hidden: list[tuple[str, ...]], units: str, detail: Detail) -> None:
    """Clearances of the left corner; of the right one what it alone has, or where it is no mirror image."""
    told_left = {
        o.name: case_parts.change_text(left, o.name, units) for o in right.new.fit.obstacles if o.side != "right"
    }
    same = (name for name, text in told_left.items() if text == case_parts.change_text(right, name, units))
    both_hidden = (hidden[0], (*hidden[1], *same))
    least = [
        min(
            (near.entry.clearance for near in case_parts.worth_naming(both.new, both.new_at, view, hidden=out)),
            default=1e9,
        )
        for both, view, out in zip((left, right), (FRONT, FRONT_RIGHT), both_hidden, strict=True)
    ]
    more: dict[str, Any] = {"most": detail.labels, "narrow": not detail.full}
    named = case_parts.clearances(panel, left, FRONT, units, hidden=both_hidden[0], worst=least[0] <= least[1], **more)
    told = case_parts.clearances(
        panel, right, FRONT_RIGHT, units, hidden=both_hidden[1], worst=least[1] < least[0], **more
    )
    if detail.full:
        case_parts.names(panel, left, FRONT, named, hidden=hidden[0])
        case_parts.names(panel, right, FRONT_RIGHT, told, hidden=[*hidden[1], *told_left])


def _dimensions(panel: Panel, left: Shown, right: Shown, units: str, detail: Detail) -> None:
    first = level = below(panel, left)
    if detail.full:
        level = moves(panel, left, first, units)
        widths(panel, right, first, units, FRONT_RIGHT)
        across = max(case.stance.tire_outer for case, _, _ in right.both()) + BESIDE * panel.per_pt
        diameters(panel, right, across, DIAMETERS * panel.per_pt, units, FRONT_RIGHT)
        level += 3 * panel.per_pt
    if detail.track:
        track(panel, left, right, level, units)


def _margins(both: Shown, detail: Detail, head: float) -> tuple[float, float, float, float]:
    """Left, right, bottom and top [pt]."""
    cases = len(both.both())
    rows = ONE_LINE * cases
    if not detail.full:
        right = LABELS if detail.labels else MARGIN
        return MARGIN, right, FOOT_SMALL + max(rows if detail.track else 0.0, BAR), head + TOP_SMALL
    rows += DIMENSION_ROW * cases
    return MARGIN + BESIDE + DIAMETERS * cases, WORDS, FOOT + rows, head + TOP


def _area(left: Shown, right: Shown) -> Area:
    """Both corners."""
    left_area, right_area = case_parts.area_round([left], FRONT), case_parts.area_round([right], FRONT_RIGHT)
    ground = min(float(at.origin[2]) - case.stance.hub_height for case, at, _ in left.both())
    low, high = np.minimum(left_area.low, right_area.low), np.maximum(left_area.high, right_area.high)
    return replace(left_area, low=np.array([low[0], min(low[1], ground)]), high=high)


def _centre_line(panel: Panel) -> None:
    """The vehicle's centre plane."""
    _, bottom, _, top = panel.drawing_area().bounds
    panel.line([(0.0, bottom + 14 * panel.per_pt), (0.0, top - 14 * panel.per_pt)], panel.theme.faint, width=HAIR,
               style=CHAIN, layer=0.6)  # fmt: skip
    panel.text((0.0, top), "centre", color=panel.theme.quiet, ha="center", va="top")


def _track_words(both: Shown, units: str) -> str:
    tracks = " → ".join(length_text(case.stance.track, units) for case, _, _ in both.both())
    words = f"section through both hubs, from the front; track {tracks}"
    if both.old is not None:
        words += f", {wider_text(both.new.stance.track - both.old.stance.track, units)}"
    return words
