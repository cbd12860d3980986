"""Offsets that clear as bars over one scale: hatched as measured, filled in the worst case too.

Names stand above their bars and letters are large, so that the picture is read on a phone as well.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from fitment.draw.lettering import letter, width_of
from fitment.draw.style import HAIR, LINE, SMALL, THIN, Theme, words
from fitment.report.common import offset_words
from fitment.report.offset_window import drawn_spans, nearest_short, none_words, scale_ends, size_words
from fitment.screening.offset_window import End, Window, on_its_rim

LARGE, NAME = 17.0, 19.0  # [pt] 9 pixels and more at 360 across
LINE_OF_TEXT = 23.0  # [pt]
BAR = 22.0  # [pt] height of a bar
NAMED = NAME + 14.0  # [pt] from the top of a row to what stands above its bar
ROW = NAMED + 2 * LINE_OF_TEXT + BAR + 26.0  # [pt] of one size
SCALE, KEY = 34.0, 40.0  # [pt] of the scale's numbers, and of the samples
HATCH = "////"
EDGE = 2.0  # [pt] that a text keeps from the side of its panel: the ground behind it is as much wider
TICK_ROOM = 84.0  # [pt] from one offset of the scale to the next: ET+100 and a space
FULL_WORDS, PALE_WORDS = "clears in the worst case too", "clears as measured only"


@dataclass(frozen=True)
class _Strip:
    """An axes in points with a scale of offsets. across : offset [mm] -> place [pt]; width : of the axes [pt]"""

    ax: Axes
    theme: Theme
    across: Callable[[float], float]
    width: float


def height_of(count: int, *, named: bool = True) -> float:
    """Height [in] that so many sizes take."""
    return (count * (ROW if named else ROW - NAMED) + SCALE + KEY) / 72


def draw_bars(ax: Axes, found: Sequence[Window], units: str, theme: Theme, *, named: bool = True) -> None:
    """Bars of every size from the top of an unframed axes, and samples below; named : whether sizes are told."""
    strip, top = _strip(ax, found, theme), float(ax.get_ylim()[1])
    for i, window in enumerate(found):
        _row(strip, window, top - SCALE - i * ROW, units, named)
    _samples(strip, KEY / 2 - 4)


def _strip(ax: Axes, found: Sequence[Window], theme: Theme) -> _Strip:
    """The scale with its lines."""
    low, high = scale_ends(found)
    (left, right), top = ax.get_xlim(), float(ax.get_ylim()[1])
    left, right = left + 4, right - 4
    per_mm = (right - left) / (high - low)

    def across(offset: float) -> float:
        return float(left + (offset - low) * per_mm)

    step = next((s for s in (5, 10, 20, 50) if s * per_mm >= TICK_ROOM), 100)
    ends = -np.inf
    for tick in np.arange(step * np.ceil(low / step), high + 1e-6, step):
        at, name = across(tick), offset_words(tick, 0)
        half = len(name) * LARGE * 0.32
        ax.plot([at] * 2, [KEY, top - 24], color=theme.faint, linewidth=HAIR, zorder=1)
        middle = min(max(at, left + half), right - half)
        if middle - half > ends + LARGE / 2:
            letter(ax, middle, top - 13, name, theme.quiet, LARGE, ha="center")
            ends = middle + half
    return _Strip(ax, theme, across, float(ax.get_xlim()[1]))


def _row(strip: _Strip, found: Window, top: float, units: str, named: bool) -> None:
    """A size's name, what stops it as measured, the bar, and what stops it in the worst case too."""
    ax, theme = strip.ax, strip.theme
    over: dict[str, Any] = {"bbox": {"facecolor": theme.paper, "edgecolor": "none", "pad": 1.0}, "zorder": 4}
    if named:
        name = f"{size_words(found)} with {found.setup.tire.code}"
        name += "" if on_its_rim(found) else " *"
        letter(ax, EDGE, top - NAME, name, theme.ink, NAME, bold=True, least=LARGE, **over)
    level = top - (NAMED if named else 0) - LINE_OF_TEXT
    measured, worst = drawn_spans(found)
    full, pale = _looks(theme)
    for spans, look in ((measured, pale), (worst, full)):
        for low, high in spans:
            left = strip.across(low)
            bar = Rectangle((left, level - BAR), max(strip.across(high) - left, 2.0), BAR, zorder=2.5, **look)
            ax.add_artist(bar)
    if found.nominal is not None:
        _stops(strip, found.nominal, level + 12, over)
    else:
        letter(ax, 4, level + 12, none_words(found), theme.ink, LARGE, **over)
    if found.ends is not None:
        _stops(strip, found.ends, level - BAR - 13, over)
    elif found.best is not None:
        at = strip.across(found.best.fit.setup.wheel.offset)
        ax.plot([at], [level - BAR / 2], marker="X", markersize=13, color=theme.ink, zorder=5)
        told = nearest_short(found, units)
        letter(ax, 4, level - BAR - 13, told, theme.ink, LARGE, least=SMALL + 3, **over)


def _looks(theme: Theme) -> tuple[dict[str, Any], dict[str, Any]]:
    """Of a bar in the worst case too, filled, and as measured, hatched."""
    return (
        {"facecolor": theme.new_wheel, "edgecolor": theme.new, "linewidth": LINE},
        {"facecolor": theme.new_pale, "edgecolor": theme.new, "linewidth": THIN, "hatch": HATCH},
    )


def _stops(strip: _Strip, ends: tuple[End, End], level: float, over: dict[str, Any]) -> None:
    """Both ends of a range with what stops it there, towards each other where there is room, else outward."""
    places = [strip.across(end.offset) for end in ends]
    texts = [
        letter(strip.ax, at, level, _stop(end), strip.theme.ink, LARGE, ha=align, **over)
        for end, at, align in zip(ends, places, ("left", "right"), strict=True)
    ]
    lengths = [width_of(text, strip.ax) for text in texts]
    if places[1] - places[0] > sum(lengths) + 16:
        return
    edges = _outward(places, lengths, strip.width)
    for text, left in zip(texts, edges, strict=True):
        text.set_horizontalalignment("left")
        text.set_x(left)


def _outward(places: Sequence[float], lengths: Sequence[float], width: float) -> tuple[float, float]:
    """Left ends of two texts on either side of a short range, both on the page and apart from each other."""
    middle, gap = sum(places) / 2, 8.0
    first = max(min(places[0], middle - gap) - lengths[0], EDGE)
    second = max(first + lengths[0] + 2 * gap, min(max(places[1], middle + gap), width - EDGE - lengths[1]))
    if second + lengths[1] > width - EDGE:
        second = width - EDGE - lengths[1]
        first = max(EDGE, min(first, second - 2 * gap - lengths[0]))
    return first, second


def _stop(end: End) -> str:
    """The offset, and the part that stops it."""
    name = "nothing measured" if end.limit or end.stop is None else words(end.stop.obstacle, 20)
    return f"{offset_words(end.offset)} {name}"


def _samples(strip: _Strip, level: float) -> None:
    """What the two looks of a bar mean."""
    ax, theme, at = strip.ax, strip.theme, 4.0
    for told, look in zip((FULL_WORDS, PALE_WORDS), _looks(theme), strict=True):
        ax.add_artist(Rectangle((at, level - 9), 34, 18, zorder=3, **look))
        text = letter(ax, at + 42, level, told, theme.ink, LARGE)
        at += 42 + width_of(text, ax) + 26
