"""The page: a figure filled from the top, its title, samples of the line styles, tables and notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from fitment.draw.panel import shrink_to
from fitment.draw.style import (
    BODY,
    DASHED,
    DPI,
    HAIR,
    HATCH_OLD,
    LINE,
    PANEL,
    SHEET_WIDTH,
    SMALL,
    THIN,
    TITLE,
    Theme,
    font,
    words,
)
from fitment.units import length_text

EDGE, GAP = 0.3, 0.16  # [in] margin of the sheet, space between panels
WIDTH = SHEET_WIDTH - 2 * EDGE  # [in] between the margins
ROW = 0.27  # [in] of a table


@dataclass
class Sheet:
    """A figure filled from the top; lengths in inches."""

    figure: Figure
    height: float
    theme: Theme
    level: float

    def axes(self, left: float, width: float, height: float) -> Axes:
        """An axes below what is already there; the level stays until `down`."""
        bottom = self.height - self.level - height
        return self.figure.add_axes(
            (left / SHEET_WIDTH, bottom / self.height, width / SHEET_WIDTH, height / self.height)
        )

    def row(self, columns: int, height: float, used: int | None = None) -> list[Axes]:
        """Axes of equal width side by side, in the first `used` of the columns."""
        width = (WIDTH - (columns - 1) * GAP) / columns
        made = [self.axes(EDGE + i * (width + GAP), width, height) for i in range(used or columns)]
        self.level += height + GAP
        return made

    def blank(self, height: float) -> Axes:
        """A whole row without frame; data run in points from its lower left."""
        ax = unframed(self.axes(EDGE, WIDTH, height))
        self.level += height + GAP
        return ax


def unframed(ax: Axes) -> Axes:
    """The axes without frame; data run in points from its lower left."""
    ax.set_axis_off()
    ax.set_xlim(0, float(ax.bbox.width) * 72 / DPI)
    ax.set_ylim(0, float(ax.bbox.height) * 72 / DPI)
    return ax


def new_sheet(height: float, theme: Theme) -> Sheet:
    """An empty sheet of this height [in]."""
    figure = Figure(figsize=(SHEET_WIDTH, height), dpi=DPI, facecolor=theme.paper)
    FigureCanvasAgg(figure)
    return Sheet(figure, height, theme, EDGE)


def title_block(ax: Axes, theme: Theme, name: str, line: str, top: float) -> None:
    """The name large, a line below it, and a rule; top [pt]."""
    title = ax.text(0, top - 2, words(name, 90), fontproperties=font(TITLE, bold=True), color=theme.ink, va="top")
    shrink_to(title, ax, SMALL + 3)
    ax.text(0, top - 35, line, fontproperties=font(PANEL), color=theme.quiet, va="top")
    ax.plot([0, ax.get_xlim()[1]], [top - 61] * 2, color=theme.ink, linewidth=LINE)


def sample(ax: Axes, theme: Theme, is_old: bool, level: float) -> None:
    """A small box drawn as the tire is."""
    looks: list[dict[str, Any]] = [{"facecolor": theme.new_tire, "edgecolor": theme.new, "linewidth": LINE}]
    if is_old:
        looks = [
            {"facecolor": "none", "edgecolor": theme.old_hatch, "linewidth": 0, "hatch": HATCH_OLD},
            {"facecolor": "none", "edgecolor": theme.old, "linewidth": LINE, "linestyle": DASHED},
        ]
    for each in looks:
        ax.add_artist(Rectangle((1, level - 12), 44, 24, **each))


def table(
    ax: Axes,
    theme: Theme,
    rows: Sequence[Sequence[str]],
    starts: Sequence[float],
    colors: Sequence[str],
    *,
    headers: Sequence[int] = (0,),
) -> None:
    """Rows from the top of a blank; the first column to the left, the others to the right. An empty row is a gap.

    starts : share of the width at which each column begins (the first) or ends; colors : of a header's cells
    headers : numbers of the rows that are headers
    """
    width, top = ax.get_xlim()[1], ax.get_ylim()[1]
    for i, row in enumerate(rows):
        if not any(row):
            continue
        head = i in headers
        level = top - 12 - i * ROW * 72
        for j, (at, cell) in enumerate(zip(starts, row, strict=True)):
            ax.text(
                at * width,
                level,
                cell,
                fontproperties=font(SMALL if head else BODY, bold=head),
                va="center",
                color=colors[j] if head else theme.ink,
                ha="left" if j == 0 else "right",
            )
        ax.plot(
            [0, width], [level - 9.7] * 2, color=theme.ink if head else theme.faint, linewidth=THIN if head else HAIR
        )


def notes(ax: Axes, theme: Theme, lines: Sequence[str]) -> None:
    """Small lines from the top of a blank."""
    for i, line in enumerate(lines):
        ax.text(0, ax.get_ylim()[1] - 2 - 16 * i, line, fontproperties=font(SMALL), color=theme.quiet, va="top")


def height_text(travel: float, units: str) -> str:
    """A travel with its sign and unit; zero without a sign."""
    text = length_text(travel, units, digits=0, sign=True)
    return text.removeprefix("+") if float(text.split()[0]) == 0 else text
