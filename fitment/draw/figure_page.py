"""The page: a figure filled from the top, its title, samples of the line styles, tables and notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap
from typing import Any

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from fitment.draw.lettering import column, letter, width_of
from fitment.draw.style import (
    BODY,
    DASHED,
    DPI,
    HAIR,
    HATCH_OLD,
    LETTER,
    LINE,
    PANEL,
    SHEET_WIDTH,
    SMALL,
    THIN,
    TITLE,
    Theme,
    words,
)
from fitment.units import length_text

EDGE, GAP = 0.3, 0.16  # [in] margin of the sheet, space between panels
WIDTH = SHEET_WIDTH - 2 * EDGE  # [in] between the margins
ROW = 0.27  # [in] of a table


@dataclass(frozen=True)
class Box:
    """A rectangle on a sheet, from its upper left corner [in]."""

    left: float
    top: float
    width: float
    height: float

    def columns(self, *shares: float, gap: float = GAP) -> list[Box]:
        """Boxes side by side whose widths are as these shares."""
        room = self.width - gap * (len(shares) - 1)
        widths = [room * share / sum(shares) for share in shares]
        return [
            Box(self.left + sum(widths[:i]) + i * gap, self.top, width, self.height) for i, width in enumerate(widths)
        ]

    def rows(self, *shares: float, gap: float = GAP) -> list[Box]:
        """Boxes one below another whose heights are as these shares."""
        room = self.height - gap * (len(shares) - 1)
        heights = [room * share / sum(shares) for share in shares]
        return [
            Box(self.left, self.top + sum(heights[:i]) + i * gap, self.width, height)
            for i, height in enumerate(heights)
        ]

    def grid(self, columns: int, count: int, *, gap: float = GAP) -> list[Box]:
        """So many boxes of one size, row by row."""
        rows = self.rows(*[1.0] * -(-count // columns), gap=gap)
        return [box for row in rows for box in row.columns(*[1.0] * columns, gap=gap)][:count]


@dataclass
class Sheet:
    """A figure filled from the top; lengths in inches.

    width, height, edge : of the sheet and its margin; level : how far it is filled
    """

    figure: Figure
    width: float
    height: float
    theme: Theme
    edge: float
    level: float

    @property
    def inner(self) -> float:
        """Width between the margins."""
        return self.width - 2 * self.edge

    def axes(self, left: float, width: float, height: float) -> Axes:
        """An axes below what is already there; the level stays until `row` or `box` moves it."""
        return self.at(Box(left, self.level, width, height))

    def at(self, box: Box) -> Axes:
        """An axes in a box."""
        bottom = self.height - box.top - box.height
        return self.figure.add_axes(
            (box.left / self.width, bottom / self.height, box.width / self.width, box.height / self.height)
        )

    def box(self, height: float, *, gap: float = GAP) -> Box:
        """The next so many inches across the sheet."""
        made = Box(self.edge, self.level, self.inner, height)
        self.level += height + gap
        return made

    def row(self, columns: int, height: float, used: int | None = None) -> list[Axes]:
        """Axes of equal width side by side, in the first `used` of the columns."""
        return [self.at(box) for box in self.box(height).columns(*[1.0] * columns)[: used or columns]]

    def blank(self, height: float, *, gap: float = GAP) -> Axes:
        """A whole row without frame; data run in points from its lower left."""
        return unframed(self.at(self.box(height, gap=gap)))


def unframed(ax: Axes) -> Axes:
    """The axes without frame; data run in points from its lower left."""
    ax.set_axis_off()
    dpi = float(ax.figure.dpi)
    ax.set_xlim(0, float(ax.bbox.width) * 72 / dpi)
    ax.set_ylim(0, float(ax.bbox.height) * 72 / dpi)
    return ax


def new_sheet(
    height: float, theme: Theme, *, width: float = SHEET_WIDTH, dpi: float = DPI, edge: float = EDGE
) -> Sheet:
    """An empty sheet [in]."""
    figure = Figure(figsize=(width, height), dpi=dpi, facecolor=theme.paper)
    FigureCanvasAgg(figure)
    return Sheet(figure, width, height, theme, edge, edge)


def entitle(ax: Axes, *parts: str) -> None:
    """Call the whole figure so; a PDF of it carries the title."""
    figure: Any = ax.figure
    figure.set_label(", ".join(part for part in parts if part))


def title_block(ax: Axes, theme: Theme, name: str, line: str, top: float, *, date: str | None = None) -> None:
    """The name large, a line below it with the date at its end where one is given, and a rule; top [pt]."""
    entitle(ax, name, line)
    letter(ax, 0, top - 2, words(name, 90), theme.ink, TITLE, bold=True, va="top", least=SMALL + 3)
    date_line(ax, theme, line, top - 35, PANEL, date)
    ax.plot([0, ax.get_xlim()[1]], [top - 61] * 2, color=theme.ink, linewidth=LINE)


def date_line(ax: Axes, theme: Theme, line: str, level: float, size: float, date: str | None) -> None:
    """A quiet line, and the date at the right edge where one is given."""
    right = ax.get_xlim()[1]
    if date:
        told = letter(ax, right, level, words(date, 30), theme.quiet, size, va="top", ha="right")
        right -= width_of(told, ax) + 14
    letter(ax, 0, level, line, theme.quiet, size, va="top", least=SMALL, right=right)


def sample(ax: Axes, theme: Theme, is_old: bool, level: float, *, left: float = 0.0) -> None:
    """A small box drawn as the tire is."""
    looks: list[dict[str, Any]] = [{"facecolor": theme.new_tire, "edgecolor": theme.new, "linewidth": LINE}]
    if is_old:
        looks = [
            {"facecolor": "none", "edgecolor": theme.old_hatch, "linewidth": 0, "hatch": HATCH_OLD},
            {"facecolor": "none", "edgecolor": theme.old, "linewidth": LINE, "linestyle": DASHED},
        ]
    for properties in looks:
        ax.add_artist(Rectangle((left + 1, level - 12), 44, 24, **properties))


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
            color, size = (colors[j], SMALL) if head else (theme.ink, BODY)
            letter(ax, at * width, level, cell, color, size, bold=head, ha="left" if j == 0 else "right")
        ax.plot(
            [0, width], [level - 9.7] * 2, color=theme.ink if head else theme.faint, linewidth=THIN if head else HAIR
        )


NOTE = 0.23  # [in] of a line of notes


def wrapped(lines: Sequence[str], width: float) -> list[str]:
    """Notes broken into lines that fit a width [in]."""
    return [part for line in lines for part in wrap(line, max(20, int(width * 72 / LETTER)))]


def notes(ax: Axes, theme: Theme, lines: Sequence[str]) -> None:
    """Small lines from the top of a blank."""
    column(ax, 0, ax.get_ylim()[1] - 2, lines, 16, theme.quiet, va="top")


def height_text(travel: float, units: str) -> str:
    """A travel with its sign and unit; zero without a sign."""
    text = length_text(travel, units, digits=0, sign=True)
    return text.removeprefix("+") if text.startswith("+0 ") else text
