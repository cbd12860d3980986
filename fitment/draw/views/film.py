"""Small multiples: the front section of one corner, small, with its numbers below; a film of it through the travel."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes

from fitment.checks.case import Case
from fitment.draw import case_parts
from fitment.draw.figure_page import height_text
from fitment.draw.lettering import shrink_to
from fitment.draw.panel import Area, Panel
from fitment.draw.projection import FRONT
from fitment.draw.scene import SAME, Shown, rides, shown, steady, tightest
from fitment.draw.style import BODY, LIGHT, SMALL, Theme, words
from fitment.units import length_text

MARGINS = (8.0, 8.0, 58.0, 31.0)  # [pt] left, right, bottom, top
LINE_BELOW = 15.0  # [pt]


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


def frame_area(views: Sequence[Shown]) -> Area:
    """The area that the frames of all these need."""
    return case_parts.area_round(views, FRONT)


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
    theme: Theme = LIGHT,
) -> list[Artist]:
    """The front section small: heading in one line, the tightest gap of this view marked, lines of text below.

    filled : the first line below is the one that matters most; on_ground : the ground is drawn
    still : parts whose gap never changes, which are not marked
    """
    panel = Panel(ax, theme)
    panel.fit(area or frame_area([both]), MARGINS, (False, False))
    panel.heading(title, "", "", size=BODY)
    panel.foot = MARGINS[2] - 4.0
    case_parts.surroundings(panel, both, FRONT)
    case_parts.wheels(panel, both, FRONT)
    case_parts.hub(panel, both, FRONT)
    if on_ground:
        case_parts.ground(panel, both, named=False)
    case_parts.tightest_leaders(panel, both, FRONT, still)
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
    return *told, f"{length_text(fixed.clearance, units)} {words(fixed.obstacle, 22)}"


def film_title(step: Step, units: str) -> str:
    """Height and name."""
    return f"{height_text(step.travel, units)} {words(step.name, 10)}".rstrip()


def film_view(
    axes: Sequence[Axes], new: Case, old: Case | None = None, *, units: str = "mm", theme: Theme = LIGHT
) -> list[Artist]:
    """A film of the front section straight ahead from droop to bump, one picture for each axes."""
    steps, still = film_steps(new, old, len(axes)), steady(new)
    area = frame_area([step.both for step in steps])
    entries = [tightest(step.both.new, step.both.new_at, still) for step in steps]
    urgency = [(True, np.inf) if e is None else (e.urgency[0], round(e.urgency[1], 2)) for e in entries]
    artists = []
    for ax, step, here in zip(axes, steps, urgency, strict=True):
        below = film_lines(step.both, still, units)
        filled = here == min(urgency) and bool(np.isfinite(here[1]))
        title = film_title(step, units)
        artists += frame(ax, step.both, title=title, below=below, filled=filled, area=area, still=still, theme=theme)
    return artists
