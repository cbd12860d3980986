"""Small multiples: a section of one corner, small, with its numbers below; a film of it.

The film begins with the closest call, the whole wheel and enlarged, and goes on straight ahead from droop to bump.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes

from fitment.checks.case import Case
from fitment.checks.fit import Clearance
from fitment.draw import case_parts
from fitment.draw.figure_page import height_text
from fitment.draw.lettering import shrink_to
from fitment.draw.panel import Area, Panel
from fitment.draw.projection import FRONT, PLAN, View, posed_hub
from fitment.draw.scene import SAME, Shown, at_same_place, closest_moving, rides, shown, steady, tightest
from fitment.draw.style import BODY, LIGHT, SMALL, Theme, words
from fitment.draw.views.closest import closest_view, place_text, view_of
from fitment.units import clearance_text

MARGINS = (8.0, 8.0, 58.0, 31.0)  # [pt] left, right, bottom, top
LINE_BELOW = 15.0  # [pt]
FEWEST = 4  # pictures with room for the closest call in two of them
SEEN = {FRONT: "the closest call", PLAN: "closest, from above"}


@dataclass(frozen=True)
class Step:
    """One picture of a film: travel [mm] of the new case, what it is called; both cases there."""

    travel: float
    name: str
    both: Shown


def film_steps(new: Case, old: Case | None, count: int) -> list[Step]:
    """So many heights from droop to bump: both ends, the ride heights, and the widest steps between them halved."""
    axle = new.fit.axle
    named = {round(travel, 6): name for name, travel in rides(new)[: max(count - 2, 0)]}
    named = {axle.droop: "droop", axle.bump: "bump", **named}
    levels = sorted(named)
    if len(levels) == 1:  # a wheel that does not travel
        levels *= count
    while len(levels) < count:
        widest = int(np.argmax(np.diff(levels)))
        levels.insert(widest + 1, (levels[widest] + levels[widest + 1]) / 2)
    return [Step(z, named.get(z, ""), shown(new, old, travel=_height(z, new))) for z in levels]


def _height(travel: float, new: Case) -> float | str:
    """Each case goes to its own end of travel."""
    ends = {"droop": new.fit.axle.droop, "bump": new.fit.axle.bump}
    return next((name for name, end in ends.items() if abs(end - travel) < SAME), travel)


def frame_area(views: Sequence[Shown], view: View = FRONT) -> Area:
    """The area that the frames of all these need."""
    return case_parts.area_round(views, view)


def frame(
    ax: Axes,
    both: Shown,
    *,
    title: str,
    below: Sequence[str],
    filled: bool = False,
    area: Area | None = None,
    on_ground: bool = False,
    still: Collection[str] = (),
    view: View = FRONT,
    theme: Theme = LIGHT,
) -> list[Artist]:
    """The section small: heading in one line, the tightest gap of this view marked, lines of text below.

    filled : the first line below is the one that matters most; on_ground : the ground is drawn
    still : parts whose gap never changes, which are not marked
    """
    panel = Panel(ax, theme)
    panel.fit(area or frame_area([both], view), MARGINS, (view.across_flipped, view.up_flipped))
    panel.heading(title, "", "", size=BODY)
    panel.foot = MARGINS[2] - 4.0
    case_parts.surroundings(panel, both, view)
    case_parts.wheels(panel, both, view)
    case_parts.hub(panel, both, view)
    if on_ground:
        case_parts.ground(panel, both, named=False)
    case_parts.tightest_leaders(panel, both, view, still)
    _lines(panel, below, filled=filled)
    return panel.artists


def _lines(panel: Panel, below: Sequence[str], *, filled: bool) -> None:
    width, height = panel.size_pt()
    theme = panel.theme
    for i, line in enumerate(below):
        at = (8 / width, (MARGINS[2] - 16.0 - i * LINE_BELOW) / height)
        if i == 0 and filled:
            box = {"boxstyle": "round,pad=0.2", "linewidth": 0, "facecolor": theme.alarm}
            at = (12 / width, at[1])
            panel.text(at, line, color=theme.alarm_text, bold=True, bbox=box, transform=panel.ax.transAxes, va="center")
        else:
            color = theme.ink if i == 0 else theme.quiet
            shrink_to(panel.text(at, line, color=color, transform=panel.ax.transAxes, va="center"), panel.ax, SMALL)


def film_lines(both: Shown, still: Collection[str], units: str) -> tuple[str, ...]:
    """Below a picture of the film: the smallest clearance that changes, old to new, and to what; a smaller one
    that never does."""
    entry, fixed = tightest(both.new, both.new_at, still), tightest(both.new, both.new_at)
    if entry is None or fixed is None:
        return ("not checked",)
    told = case_parts.change_text(both, entry.obstacle, units), words(entry.obstacle, 22)
    if fixed.obstacle not in still:
        return told
    return *told, f"{clearance_text(fixed.clearance, units)} {words(fixed.obstacle, 22)}"


def film_title(step: Step, units: str) -> str:
    """Height and name."""
    return f"{height_text(step.travel, units)} {words(step.name, 10)}".rstrip()


def film_view(
    axes: Sequence[Axes], new: Case, old: Case | None = None, *, units: str = "mm", theme: Theme = LIGHT
) -> list[Artist]:
    """The closest call in the first two axes, then the front section straight ahead from droop to bump, one each."""
    artists, still, entry = [], steady(new), closest_moving(new)
    if entry is not None and len(axes) >= FEWEST:
        artists += _closest(axes[:2], new, old, entry, units, theme)
        axes = axes[2:]
    steps = film_steps(new, old, len(axes))
    area = frame_area([step.both for step in steps])
    for ax, step in zip(axes, steps, strict=True):
        below, title = film_lines(step.both, still, units), film_title(step, units)
        artists += frame(ax, step.both, title=title, below=below, area=area, still=still, theme=theme)
    return artists


def _closest(
    axes: Sequence[Axes], new: Case, old: Case | None, entry: Clearance, units: str, theme: Theme
) -> list[Artist]:  # fmt: skip
    """The whole wheel at its closest call, and that enlarged."""
    here = new, posed_hub(new.fit.poses, entry.pose)
    before = None if old is None else at_same_place(new, entry, old)
    both, view = Shown(*here) if before is None else Shown(*here, *before), view_of(new, entry)
    below = case_parts.change_text(both, entry.obstacle, units), words(entry.obstacle, 22), SEEN[view]
    title = place_text(entry, units, short=True)
    drawn = frame(axes[0], both, title=title, below=below, filled=True, still=steady(new), view=view, theme=theme)
    return drawn + closest_view(axes[1], new, old, entry=entry, title="Enlarged", units=units, theme=theme)
