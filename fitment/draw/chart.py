"""A panel whose two directions carry different quantities: its scales, grid and numbers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from matplotlib.text import Text

from fitment.draw.panel import Panel
from fitment.draw.style import HAIR
from fitment.frames import Array

APART = 2.0  # [pt] least between two numbers
DOT_INK = 3.0  # how much labels avoid marks
ZERO = 1e-9  # [of the quantity] a tick nearer to zero stands at it
STEPS = (1.0, 2.0, 2.5, 5.0, 10.0)


@dataclass(frozen=True)
class Scale:
    """Range of one quantity [its unit], widened to `least`, and its ticks."""

    low: float
    high: float
    ticks: tuple[float, ...]
    step: float

    def text(self, value: float, unit: str) -> str:
        """A tick's number with its unit, as many places as the step needs."""
        places = 0 if abs(self.step - round(self.step)) < 1e-9 else 1 if abs(self.step * 10 % 1) < 1e-9 else 2
        return f"{round(value, places) + 0.0:.{places}f}{unit}"


def scale_of(values: Sequence[Array], *, least: float, most_ticks: int, pad: float = 0.06) -> Scale:
    """The scale that shows all values that are known, at least `least` wide."""
    known = np.concatenate([np.ravel(v) for v in values])
    known = known[np.isfinite(known)]
    low, high = (float(known.min()), float(known.max())) if len(known) else (0.0, 0.0)
    widen = max(least - (high - low), 0.0) / 2
    low, high = low - widen, high + widen
    low, high = low - pad * (high - low), high + pad * (high - low)
    step = nice_step((high - low) / most_ticks)
    ticks = np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step
    return Scale(low, high, tuple(float(t) for t in ticks), step)


def nice_step(least: float) -> float:
    """The smallest 1, 2, 2.5 or 5 times a power of ten that is not below `least`."""
    power = 10.0 ** np.floor(np.log10(least))
    return float(next(s for s in STEPS if s * power >= least * (1 - 1e-9)) * power)


@dataclass(frozen=True)
class Chart:
    """A panel with its scales set; the plot is what lies within both scales."""

    panel: Panel
    across: Scale
    up: Scale

    def grid_across(self, text: Callable[[float], str]) -> None:
        """Upright lines at the ticks of the scale across, numbers below, of every second one if they would collide.

        A number that would leave the panel is left out.
        """
        panel, ticks, first, told = self.panel, self.across.ticks, len(self.panel.boxes), []
        for value in ticks:
            ends, at = [(value, self.up.low), (value, self.up.high)], (value, self.up.low - 4 * self.up_per_pt)
            layer = 0.6 if abs(value) < ZERO else 0.5
            told.append(self._tick(value, ends, at, text, layer=layer, ha="center", va="top"))
        numbers = list(zip(told, panel.boxes[first:], strict=True))
        zero = next((i for i, value in enumerate(ticks) if abs(value) < ZERO), 0)
        crowded = any(one[2] + panel.pt(APART) > two[0] for (_, one), (_, two) in pairwise(numbers))
        side = panel.ax.bbox
        for i, (artist, box) in enumerate(numbers):
            if (crowded and (i - zero) % 2) or box[0] < side.x0 or box[2] > side.x1:
                artist.remove()
                panel.artists.remove(artist)
                panel.boxes.remove(box)

    def grid_up(self, text: Callable[[float], str]) -> None:
        """Level lines at the ticks of the scale up, their numbers to the left."""
        for value in self.up.ticks:
            ends = [(self.across.low, value), (self.across.high, value)]
            at = (self.across.low - 5 * self.across_per_pt, value)
            self._tick(value, ends, at, text, layer=0.6, ha="right", va="center")

    def _tick(
        self, value: float, ends: Any, at: Any, text: Callable[[float], str], *, layer: float, **align: Any
    ) -> Text:
        """A line of the grid, that of zero stronger, and its number."""
        theme = self.panel.theme
        self.panel.line(ends, theme.quiet if abs(value) < ZERO else theme.faint, width=HAIR, layer=layer)
        return self.panel.text(at, text(value), color=theme.quiet, **align)

    @property
    def across_per_pt(self) -> float:
        """Units of the quantity across in a point of paper."""
        (low, high), width = self.panel.ax.get_xlim(), self.panel.size_pt()[0]
        return float(high - low) / width

    @property
    def up_per_pt(self) -> float:
        """Units of the quantity up in a point of paper."""
        (low, high), height = self.panel.ax.get_ylim(), self.panel.size_pt()[1]
        return float(high - low) / height

    def dots(self, points: Array, color: str, *, hollow: bool = False, size: float = 6.0, layer: float = 5.0) -> None:
        """Marks on a curve."""
        self.panel.marks(points, "o", size, color, face=self.panel.theme.panel if hollow else None, layer=layer,
                         ink=DOT_INK)  # fmt: skip


def new_chart(panel: Panel, across: Scale, up: Scale, margins: tuple[float, float, float, float]) -> Chart:
    """Set the panel's limits so that both scales fill it within margins (left, right, bottom, top) [pt]."""
    width, height = panel.size_pt()
    left, right, bottom, top = margins
    panel.ax.set_xlim(*_limits(across, width, left, right))
    panel.ax.set_ylim(*_limits(up, height, bottom, top))
    panel.dress()
    return Chart(panel, across, up)


def _limits(scale: Scale, size: float, before: float, after: float) -> tuple[float, float]:
    per_pt = (scale.high - scale.low) / (size - before - after)
    return scale.low - before * per_pt, scale.high + after * per_pt


def spread(levels: Sequence[float], gap: float, low: float, high: float) -> list[float]:
    """Places as near to rising levels as a gap between them allows, within low and high where they fit."""
    gap = min(gap, (high - low) / max(len(levels) - 1, 1))
    groups: list[tuple[float, int]] = []  # (place of the first, how many)
    for level in levels:
        groups.append((level, 1))
        while len(groups) > 1 and groups[-2][0] + groups[-2][1] * gap > groups[-1][0]:
            (a, n), (b, m) = groups[-2:]
            groups[-2:] = [((n * a + m * (b - n * gap)) / (n + m), n + m)]
    places = [start + i * gap for start, count in groups for i in range(count)]
    for i, place in enumerate(places):
        places[i] = max(place, low + i * gap)
    for i in range(len(places) - 1, -1, -1):
        places[i] = min(places[i], high - (len(places) - 1 - i) * gap)
    return places
