"""What every drawing at true size has: bars to check the print by, and crosses that join sheets."""

from __future__ import annotations

import math

from matplotlib.axes import Axes

from fitment.draw.lettering import letter
from fitment.draw.printed.paper import MARGIN, Page
from fitment.draw.style import HAIR, LIGHT, THIN
from fitment.units import MM_PER_INCH

CROSS, OVERLAP = 50.0, 10.0  # [mm] spacing of the crosses; shared by two sheets that are joined
FOOT = 20.0  # [mm] for the bars
TINY, SMALL, BODY, TITLE = 5.5, 7.5, 8.5, 13.0  # [pt]
BLACK = "#000000"
BARS = (100.0, 4 * MM_PER_INCH)  # [mm]


def printing_words(paper: str) -> str:
    """How it is printed, and when the print is of no use."""
    name = paper.upper() if paper == "a4" else paper
    return (
        f"Print on {name} paper at 100 % (actual size, no scaling), then measure both bars below and the one at the "
        "right edge: if one is off by more than 0.5 mm, do not use it."
    )


def starts(low: float, high: float, room: float) -> list[float]:
    """Where each sheet begins, so that two neighbours share OVERLAP with a row of crosses in its middle."""
    starts = [low]
    while starts[-1] + room < high:
        shared = math.floor((starts[-1] + room - OVERLAP / 2) / CROSS) * CROSS
        starts.append(shared - OVERLAP / 2)
    return starts


def crosses(ax: Axes, area: tuple[float, float, float, float]) -> None:
    """Every CROSS mm, named by y' and r: they join sheets, and a ruler between two checks the print."""
    y0, r0, y1, r1 = area
    for y in range(math.ceil(y0 / CROSS), math.floor(y1 / CROSS) + 1):
        for r in range(math.ceil(r0 / CROSS), math.floor(r1 / CROSS) + 1):
            at = (y * CROSS, r * CROSS)
            for dy, dr in ((3.0, 0.0), (0.0, 3.0)):
                ax.plot([at[0] - dy, at[0] + dy], [at[1] - dr, at[1] + dr], color=LIGHT.quiet, linewidth=HAIR)
            name = f"{at[0]:g}, {at[1]:g}"
            letter(ax, at[0] + 1, at[1] + 0.8, name, LIGHT.quiet, TINY, va="baseline", clip_on=True)


def check_bars(page: Page) -> None:
    """Two bars across and one upright, with ticks of 10 mm and of 1 in."""
    x, level = MARGIN, MARGIN + 9
    for length, step, text in ((BARS[0], 10.0, "100 mm"), (BARS[1], MM_PER_INCH, "4 in")):
        bar(page.ax, (x, level), (1.0, 0.0), length, step)
        letter(page.ax, x + length + 2, level, text, BLACK, BODY, bold=True)
        level -= 6.5
    right = page.width - MARGIN + 1
    bar(page.ax, (right, MARGIN + FOOT + 10), (0.0, 1.0), BARS[0], 10.0)
    middle = MARGIN + FOOT + 10 + BARS[0] / 2
    letter(page.ax, right - 1.5, middle, "100 mm", BLACK, BODY, bold=True, ha="right", rotation=90)


def bar(ax: Axes, start: tuple[float, float], along: tuple[float, float], length: float, step: float) -> None:
    """A bar with ticks to be measured after printing; along : its direction; length, step [mm]."""
    (x, y), (a, b) = start, along
    ax.plot([x, x + a * length], [y, y + b * length], color=BLACK, linewidth=THIN, solid_capstyle="butt")
    for i in range(round(length / step) + 1):
        high = 2.5 if i in (0, round(length / step)) else 1.4
        at = (x + a * i * step, y + b * i * step)
        ax.plot([at[0] - b * high, at[0] + b * high], [at[1], at[1] + a * high], color=BLACK, linewidth=HAIR)
