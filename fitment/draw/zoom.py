"""The gap to one part enlarged, frame after frame of a moving picture, at one scale and in one window.

The page is the hub's half plane, in which tire and wheel stand still and the part comes and goes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from matplotlib.artist import Artist
from matplotlib.axes import Axes

from fitment.checks.case import Case
from fitment.checks.fit import Approach
from fitment.draw import case_parts
from fitment.draw.lettering import letter
from fitment.draw.panel import Area, Panel
from fitment.draw.projection import clearance_at
from fitment.draw.scene import Shown
from fitment.draw.style import BODY, LINE, PANEL, SMALL, Theme, words
from fitment.draw.views.closest import LOCATOR, asked, call_of, earlier, gap, locator, part, sections
from fitment.units import length_text

MARGINS = (14.0, 14.0, 34.0)  # [pt] left, right, below
HALF = 44.0  # [mm] least half of the window, across and up
ROOM = 30.0  # [mm] shown beyond both ends of a wide gap
TOWARDS = 0.3  # share of the window's half by which it is moved towards the part, which comes from there
PILL = 45.0  # [pt] middle of the gap's value above the panel's lower edge
DIGIT = 0.66  # [of the size] width of a bold letter, a little more than the average


@dataclass(frozen=True)
class Zoom:
    """A panel with all that stays from frame to frame.

    decides : the closest call; left : whether the value stands at the left, which is over the tire
    """

    panel: Panel
    decides: Approach
    left: bool

    @property
    def obstacle(self) -> str:
        return self.decides.obstacle


def zoom_on(ax: Axes, case: Case, decides: Approach, times: float, units: str, theme: Theme) -> Zoom:
    """The window round a closest call; times : [mm] per point of the picture beside it, to say how much larger."""
    call = call_of(case, decides)
    panel = Panel(ax, theme, labelled=False)
    step = call.surface - call.part
    length = float(np.hypot(*step))
    way = np.sign(decides.clearance) * step / length if length > 1e-6 else np.array([0.0, 1.0])
    half = max(HALF, length / 2 + ROOM)
    middle = (call.part + call.surface) / 2 + TOWARDS * half * way
    head = _heading(panel, decides, 1.0, units)
    panel.fit(Area(middle - half, middle + half), (*MARGINS, head), (False, False))
    for artist in list(panel.artists):
        artist.remove()
    _heading(panel, decides, times / panel.per_pt, units)
    panel.artists, panel.boxes = [], []
    case_parts.scale(panel, units)
    drawn = panel.drawing_area()
    sections(panel, case, drawn)
    asked(panel, case, call, drawn)
    return Zoom(panel, decides, bool(way[0] > -0.2))


def _heading(panel: Panel, decides: Approach, times: float, units: str) -> float:
    """Title and what is enlarged; the height they take [pt]."""
    caption = f"gap to {words(decides.obstacle, 20)}"
    if decides.allowance > 0:
        caption += f"\ndotted: {length_text(decides.allowance, units)} required"
    panel.heading(f"Enlarged {times:.0f} times", caption, "outboard ▶", size=BODY, keep=2 * LOCATOR + 14)
    return panel.head


def zoomed(zoom: Zoom, both: Shown, units: str) -> list[Artist]:
    """What a frame adds: the part, the earlier wheel, the gap where it is in the window, and its value."""
    panel = zoom.panel
    panel.artists = []
    entry = clearance_at(both.new, both.new_at, zoom.obstacle)
    if entry is None:
        return []
    call, drawn = call_of(both.new, entry), panel.drawing_area()
    shape = part(panel, both.new, call, drawn)
    if both.old is not None and both.old_at is not None:
        earlier(panel, both.old, both.old_at, call, shape, drawn)
    if drawn.contains(shapely.MultiPoint(np.stack([call.part, call.surface]))):
        gap(panel, call)
    locator(panel, call)
    panel.keep(_value(zoom, both, entry, units))
    return panel.artists


def _value(zoom: Zoom, both: Shown, entry: Approach, units: str) -> Artist:
    """The gap in a frame, filled and named where it is none, in the lower corner over the tire."""
    panel, theme, bad = zoom.panel, zoom.panel.theme, entry.clearance < 0
    width, height = panel.size_pt()
    text = case_parts.change_text(both, zoom.obstacle, units)
    text = f"{text}: overlap" if bad else text
    size = min(PANEL, max(SMALL, (width - 40) / (DIGIT * len(text))))
    box = {"boxstyle": "round,pad=0.3", "linewidth": LINE, "edgecolor": theme.ink}
    box["facecolor"] = theme.alarm if bad else theme.panel
    at, side = (16 / width, "left") if zoom.left else (1 - 16 / width, "right")
    return letter(
        panel.ax, at, PILL / height, text, theme.alarm_text if bad else theme.ink, size, bold=True, ha=side, bbox=box,
        transform=panel.ax.transAxes, zorder=9,
    )  # fmt: skip
