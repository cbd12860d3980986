"""Pages to print: true size in millimetres, text that is wrapped by its real width, several pages in one PDF."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from io import BytesIO
from typing import Any

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.font_manager import get_font

from fitment.draw.files import titled
from fitment.draw.style import HAIR, THIN, font, look
from fitment.errors import FitmentError, did_you_mean
from fitment.units import MM_PER_INCH

PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}  # [mm] ISO 216; ANSI/ASME Y14.1 size A, 8.5 x 11 in
MARGIN = 10.0  # [mm] that printers leave white, with room to spare
MM_PER_POINT = MM_PER_INCH / 72
CROSS, OVERLAP = 50.0, 10.0  # [mm] spacing of crosses; shared by two sheets that are joined
LEADING = 1.32  # line pitch over the size of the type


@dataclass(frozen=True)
class Page:
    """One sheet of paper; data of `ax` run in mm from its lower left corner."""

    figure: Figure
    ax: Axes
    width: float
    height: float


def paper_size(paper: str) -> tuple[float, float]:
    """Width and height of the sheet, upright [mm]. Raises FitmentError for an unknown name."""
    if paper not in PAPERS:
        known = ", ".join(PAPERS)
        raise FitmentError(f"paper {paper} is not known.{did_you_mean(paper, PAPERS)} Choose one of {known}.")
    return PAPERS[paper]


def blank(width: float, height: float) -> Figure:
    """An empty sheet [in]."""
    figure = Figure(figsize=(width, height), dpi=100, facecolor="white")
    FigureCanvasAgg(figure)
    return figure


def new_page(paper: str) -> Page:
    """An empty sheet, upright."""
    width, height = paper_size(paper)
    figure = blank(width / MM_PER_INCH, height / MM_PER_INCH)
    ax = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    ax.set_axis_off()
    ax.set_xlim(0, width)
    ax.set_ylim(0, height)
    return Page(figure, ax, width, height)


def window(page: Page, corner: tuple[float, float], area: tuple[float, float, float, float]) -> Axes:
    """An axes at true size: what lies in `area` (x0, y0, x1, y1) [mm], its lower left at `corner` of the page [mm]."""
    x0, y0, x1, y1 = area
    left, bottom = corner
    ax = page.figure.add_axes(
        (left / page.width, bottom / page.height, (x1 - x0) / page.width, (y1 - y0) / page.height)
    )
    ax.set_axis_off()
    ax.set_xlim(x0, x1)
    ax.set_ylim(y0, y1)
    return ax


def pdf(pages: Sequence[Figure], title: str) -> bytes:
    """The pages as one PDF with a title; the same pages give the same bytes."""
    stream = BytesIO()
    with look(), PdfPages(stream, metadata=titled(title)) as book:
        for page in pages:
            page.savefig(book, format="pdf", facecolor="white")
    return stream.getvalue()


@lru_cache(maxsize=8192)
def text_width(text: str, size: float, bold: bool = False) -> float:
    """Width [mm] of a line of type of this size [pt]."""
    face: Any = get_font(str(font(size, bold=bold).get_file()))
    face.set_size(size, 72)
    face.set_text(text, 0.0)
    return float(face.get_width_height()[0]) / 64 * MM_PER_POINT


def wrap(text: str, width: float, size: float, bold: bool = False) -> list[str]:
    """The text in lines no wider than `width` [mm]; a word that is wider is parted where it must be."""
    return broken(text, width, partial(text_width, size=size, bold=bold)) or [""]


def broken(text: str, width: float, measure: Callable[[str], float]) -> list[str]:
    """The words of a text in lines no wider than `width`, as `measure` tells it; a wider word is parted."""
    lines: list[str] = []
    for word in (
        part
        for run in re.findall(r"(?:[^ \t\n]*\d )?\d+/\d[^ \t\n]*|[^ \t\n]+", text)
        for part in _parted(run, width, measure)
    ):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and measure(longer) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _parted(word: str, width: float, measure: Callable[[str], float]) -> list[str]:
    if measure(word) <= width:
        return [word]
    parts = [""]
    for letter in word:
        if parts[-1] and measure(parts[-1] + letter) > width:
            parts.append("")
        parts[-1] += letter
    return parts


def fitted(text: str, width: float, size: float) -> str:
    """The text on one line no wider than `width` [mm], cut off with an ellipsis where it must be."""
    if text_width(text, size) <= width:
        return text
    while text and text_width(text + "\u2026", size) > width:
        text = text[:-1]
    return text.rstrip() + "\u2026"


def pitch(size: float) -> float:
    """From one line of type to the next [mm]."""
    return size * LEADING * MM_PER_POINT


def starts(low: float, high: float, room: float) -> list[float]:
    """Where each sheet begins, so that two neighbours share OVERLAP with a row of crosses in its middle."""
    starts = [low]
    while starts[-1] + room < high:
        shared = math.floor((starts[-1] + room - OVERLAP / 2) / CROSS) * CROSS
        starts.append(shared - OVERLAP / 2)
    return starts


def bar(ax: Axes, start: tuple[float, float], along: tuple[float, float], length: float, step: float) -> None:
    """A bar with ticks to be measured after printing; along : its direction; length, step [mm]."""
    (x, y), (a, b) = start, along
    ax.plot([x, x + a * length], [y, y + b * length], color="#000000", linewidth=THIN, solid_capstyle="butt")
    for i in range(round(length / step) + 1):
        high = 2.5 if i in (0, round(length / step)) else 1.4
        at = (x + a * i * step, y + b * i * step)
        ax.plot([at[0] - b * high, at[0] + b * high], [at[1], at[1] + a * high], color="#000000", linewidth=HAIR)
