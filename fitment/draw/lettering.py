"""Text on an axes: set in a size, measured, made to end where there is room."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.font_manager import get_font
from matplotlib.text import Text

from fitment.draw.style import SMALL, font

MEASURED = 100.0  # [pt] size in which text without an axes is measured


def letter(
    ax: Axes, x: float, y: float, text: str, color: str, size: float = SMALL, *, bold: bool = False,
    va: str = "center", least: float | None = None, right: float | None = None, **more: Any,
) -> Text:  # fmt: skip
    """A text at a place in the axes' data; size [pt].

    least : where given, it is made smaller down to this size [pt], then cut, to end within the axes, or before `right`
    """
    made = ax.text(x, y, text, fontproperties=font(size, bold=bold), color=color, va=va, **more)
    if least is not None:
        shrink_to(made, ax, least, right=right)
    return made


def column(
    ax: Axes, x: float, y: float, lines: Sequence[str], pitch: float, color: str, size: float = SMALL, **more: Any
) -> None:
    """Lines one below another, the first at y; pitch: from one to the next, in the axes' data."""
    for i, line in enumerate(lines):
        letter(ax, x, y - i * pitch, line, color, size, **more)


def renderer_of(ax: Axes) -> Any:
    """The figure's Agg renderer, for measuring text."""
    figure: Any = ax.figure
    canvas: Any = figure.canvas if isinstance(figure.canvas, FigureCanvasAgg) else FigureCanvasAgg(figure)
    return canvas.get_renderer()


def shrink_to(text: Text, ax: Axes, least: float, *, right: float | None = None) -> None:
    """Make a text smaller until it ends within its axes, or before `right` (in the axes' data).

    At the least size [pt] it is cut instead.
    """
    renderer = renderer_of(ax)
    end = float(ax.bbox.x1) if right is None else float(ax.transData.transform((right, 0.0))[0])
    while text.get_window_extent(renderer).x1 > end and len(text.get_text()) > 1:
        size = float(text.get_fontsize())
        if size - 1 >= least:
            text.set_fontsize(size - 1)
        else:
            text.set_text(text.get_text().rstrip("…")[:-1].rstrip() + "…")


def width_of(text: Text, ax: Axes) -> float:
    """Width of a text [pt]."""
    return float(text.get_window_extent(renderer_of(ax)).width) * 72 / float(ax.figure.dpi)


@lru_cache(maxsize=2048)
def per_point(text: str, *, bold: bool = False) -> float:
    """Width of a line of text per point of its size, in the font of the pictures, before it stands on any axes."""
    face = get_font(str(font(bold=bold).get_file()))
    face.set_size(MEASURED, 72)
    face.set_text(text, 0.0)
    return float(face.get_width_height()[0]) / 64 / MEASURED
