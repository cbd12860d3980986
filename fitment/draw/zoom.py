"""The gap to one part enlarged, frame after frame of a moving picture, at one scale and in one window.

The page is the hub's half plane, in which tire and wheel stand still and the part comes and goes.
"""

from __future__ import annotations

from collections.abc import Sequence
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
from fitment.draw.views.closest import LOCATOR, Call, asked, call_of, earlier, gap, locator, part, sections
from fitment.frames import Array
from fitment.units import length_text

MARGINS = (14.0, 14.0, 34.0)  # [pt] left, right, below
HALF = 44.0  # [mm] least half of the window, across and up
SEEN = 0.5  # share of the frames in whose window a gap that stays wide enough must be to be enlarged
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


def is_worth_enlarging(case: Case, decides: Approach, frames: Sequence[Shown]) -> bool:
    """Whether a closest call is short, or in its window in most frames; of any other the panel would stand empty."""
    middle, half, _ = _window(call_of(case, decides), decides)
    entries = [(both.new, clearance_at(both.new, both.new_at, decides.obstacle)) for both in frames]
    calls = [call_of(there, entry) for there, entry in entries if entry is not None]
    ends = np.array([[call.part, call.surface] for call in calls])
    inside = np.abs(ends - middle).max(axis=(1, 2), initial=0.0) <= half
    return decides.margin < 0 or bool(inside.mean() >= SEEN)


def _window(call: Call, decides: Approach) -> tuple[Array, float, Array]:
    """Middle and half width of the window, and the way from the part to the wheel, (y', r) of the hub [mm, mm, -]."""
    step = call.surface - call.part
    length = float(np.hypot(*step))
    way = np.sign(decides.clearance) * step / length if length > 1e-6 else np.array([0.0, 1.0])
    half = max(HALF, length / 2 + ROOM)
    return (call.part + call.surface) / 2 + TOWARDS * half * way, half, way


def zoom_on(ax: Axes, case: Case, decides: Approach, times: float, units: str, theme: Theme) -> Zoom:
    """The window round a closest call; times : [mm] per point of the picture beside it, to say how much larger."""
    call = call_of(case, decides)
    panel = Panel(ax, theme, labelled=False)
    middle, half, way = _window(call, decides)
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


def zoomed(zoom: Zoom, both: Shown, units: str, leads: str = "") -> list[Artist]:
    """What a frame adds: the part, the earlier wheel, the gap where it is in the window, and its value.

    leads : the part that is told below the picture
    """
    panel = zoom.panel
    panel.artists = []
    entry = clearance_at(both.new, both.new_at, zoom.obstacle)
    if entry is None:
        return []
    call, drawn = call_of(both.new, entry), panel.drawing_area()
    shape = part(panel, both.new, call, drawn)
    if both.old is not None and both.old_at is not None:
        earlier(panel, both.old, both.old_at, call, shape, drawn)
    locator(panel, call)
    if not drawn.contains(shapely.MultiPoint(np.stack([call.part, call.surface]))):
        if entry.clearance >= 0:  # its figure would stand beside nothing
            panel.keep(_beyond(panel, zoom.obstacle))
            return panel.artists
    else:
        gap(panel, call)
    panel.keep(_value(zoom, both, entry, units, leads=leads))
    return panel.artists


def _beyond(panel: Panel, obstacle: str) -> Artist:
    """That the part is farther away than the window shows."""
    text = f"{words(obstacle, 20)}: farther away"
    return letter(
        panel.ax, 0.5, 0.55, text, panel.theme.quiet, ha="center", least=SMALL, transform=panel.ax.transAxes, zorder=9
    )


def _value(zoom: Zoom, both: Shown, entry: Approach, units: str, *, leads: str) -> Artist:
    """The gap in a frame, filled and named where it is none, in the lower corner over the tire.

    leads : the part that is tightest in the frame and told below the picture; another one is named here
    """
    panel, theme, bad = zoom.panel, zoom.panel.theme, entry.clearance < 0
    width, height = panel.size_pt()
    text = case_parts.change_text(both, zoom.obstacle, units)
    text = f"{text}: overlap" if bad else text
    if leads not in ("", zoom.obstacle):
        text = f"{words(zoom.obstacle, 16)}: {text}"
    size = min(PANEL, max(SMALL, (width - 40) / (DIGIT * len(text))))
    box = {"boxstyle": "round,pad=0.3", "linewidth": LINE, "edgecolor": theme.ink}
    box["facecolor"] = theme.alarm if bad else theme.panel
    at, side = (16 / width, "left") if zoom.left else (1 - 16 / width, "right")
    return letter(
        panel.ax, at, PILL / height, text, theme.alarm_text if bad else theme.ink, size, bold=True, ha=side, bbox=box,
        transform=panel.ax.transAxes, zorder=9,
    )  # fmt: skip
