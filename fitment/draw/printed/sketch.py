"""Line drawings for paper: black on white, a thick double arrow is a reading.

A sketch is 100 units wide and 60 high; places and lengths are in these units, text is in points.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Arc, Circle, FancyArrowPatch, Polygon
from numpy.typing import NDArray

from fitment.draw.style import CHAIN, DASHED, font
from fitment.units import in_units

BLACK, GREY, PALE, WHITE = "#000000", "#6e6e6e", "#dcdcdc", "#ffffff"
HAIR, THIN, LINE, BOLD = 0.5, 0.8, 1.2, 1.8  # [pt]
TEXT, MARK = 7.6, 8.4  # [pt]
HEIGHT = 60.0
Place = tuple[float, float]


@dataclass
class Sketch:
    """An axes that a drawing is made on, 100 wide and `HEIGHT` high; units: of the lengths in its words, mm or in."""

    ax: Axes
    units: str = "mm"

    # ------------------------------------------------------------ lines

    def line(self, *places: Place, width: float = LINE, style: Any = "-", color: str = BLACK) -> None:
        """A polyline."""
        x, y = np.array(places, dtype=float).T
        self.ax.add_artist(Line2D(x, y, color=color, linewidth=width, linestyle=style, solid_capstyle="round"))

    def chain(self, *places: Place) -> None:
        """A centre line."""
        self.line(*places, width=HAIR, style=CHAIN)

    def dashed(self, *places: Place, width: float = THIN) -> None:
        """What is not there now, or what is behind."""
        self.line(*places, width=width, style=DASHED)

    def shape(self, *places: Place, fill: str = WHITE, hatch: str = "", width: float = LINE, style: Any = "-") -> None:
        """A closed outline."""
        patch = Polygon(places, closed=True, facecolor=fill, edgecolor=BLACK, linewidth=width, linestyle=style)
        if hatch:
            patch.set_hatch(hatch)
        patch.set_joinstyle("round")
        self.ax.add_artist(patch)

    def box(self, x: float, y: float, w: float, h: float, **looks: Any) -> None:
        """A rectangle by its lower left corner."""
        self.shape((x, y), (x + w, y), (x + w, y + h), (x, y + h), **looks)

    def turned_box(self, centre: Place, w: float, h: float, angle: float, **looks: Any) -> None:
        """A rectangle about its centre, turned counter-clockwise [deg]."""
        corners = np.array([[-w, -h], [w, -h], [w, h], [-w, h]]) / 2
        self.shape(*((float(x), float(y)) for x, y in turned(corners, angle) + np.array(centre)), **looks)

    def ring(self, x: float, y: float, r: float, *, fill: str = "none", width: float = LINE, style: Any = "-") -> None:
        """A circle."""
        self.ax.add_artist(Circle((x, y), r, facecolor=fill, edgecolor=BLACK, linewidth=width, linestyle=style))

    def arc(self, x: float, y: float, r: float, start: float, end: float, width: float = THIN) -> None:
        """A part of a circle, counter-clockwise from `start` to `end` [deg]."""
        self.ax.add_artist(Arc((x, y), 2 * r, 2 * r, theta1=start, theta2=end, edgecolor=BLACK, linewidth=width))

    def dot(self, x: float, y: float, r: float = 1.0) -> None:
        """A joint or a point that is measured."""
        self.ring(x, y, r, fill=BLACK, width=0)

    def ground(self, y: float, left: float = 2, right: float = 98) -> None:
        """The level floor."""
        self.line((left, y), (right, y), width=BOLD)
        for x in np.arange(left, right - 1, 3.0):
            self.line((float(x) + 1.6, y), (float(x), y - 1.8), width=HAIR)

    # ------------------------------------------------------------ readings and words

    def arrow(self, start: Place, end: Place, *, both: bool = False, width: float = THIN) -> None:
        """A line with a head at its end, or at both."""
        head = "head_length=4.2,head_width=1.7"
        self.ax.add_artist(
            FancyArrowPatch(
                start, end, arrowstyle=f"{'<|-|>' if both else '-|>'},{head}", color=BLACK, linewidth=width,
                shrinkA=0, shrinkB=0, mutation_scale=1.0, zorder=4,
            )
        )  # fmt: skip

    def reading(self, start: Place, end: Place, label: str = "", *, at: float = 0.5, shift: Place = (0, 0)) -> None:
        """Where the tape goes, with the number of the question on it if there is room."""
        self.arrow(start, end, both=True, width=BOLD)
        if label:
            x, y = (np.array(start) * (1 - at) + np.array(end) * at + np.array(shift)).tolist()
            self.mark(x, y, label)

    def mark(self, x: float, y: float, label: str) -> None:
        """A number in a frame: the question that this is the answer to."""
        self.ax.text(
            x, y, in_units(label, self.units, tape=True), ha="center", va="center",
            fontproperties=font(MARK, bold=True), color=BLACK, zorder=6,
            bbox={"boxstyle": "round,pad=0.18", "facecolor": WHITE, "edgecolor": BLACK, "linewidth": THIN},
        )  # fmt: skip

    def say(
        self, x: float, y: float, text: str, *, ha: str = "center", va: str = "center", bold: bool = False,
        to: Place | None = None,
    ) -> None:  # fmt: skip
        """Words, with a thin line to what they name."""
        if to is not None:
            self.line((x, y), to, width=HAIR)
        self.ax.text(
            x, y, in_units(text, self.units, tape=True), ha=ha, va=va,
            fontproperties=font(TEXT, bold=bold), color=BLACK, linespacing=1.1, zorder=5,
            bbox={"boxstyle": "square,pad=0.1", "facecolor": WHITE, "edgecolor": "none"},
        )  # fmt: skip


def turned(places: Any, angle: float) -> NDArray[np.float64]:
    """Places (n, 2) turned counter-clockwise about the origin [deg]."""
    a = np.radians(angle)
    rotation = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    return np.asarray(places, dtype=float) @ rotation.T


def polar(centre: Place, radius: float, degrees: float) -> Place:
    """A place on a circle, counter-clockwise from the right."""
    a = np.radians(degrees)
    return float(centre[0] + radius * np.cos(a)), float(centre[1] + radius * np.sin(a))


def around(centre: Place, radius: float, start: float, end: float, count: int = 60) -> list[Place]:
    """Places along an arc from `start` to `end` [deg]."""
    return [polar(centre, radius, float(angle)) for angle in np.linspace(start, end, count)]
