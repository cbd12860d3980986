"""The moving picture: a wheel at its closest call, then through its travel and its steering (or roll) and back to it.

The whole wheel, and beside it the gap that decides, enlarged; the other view instead where that gap is wide in most
frames. Old dashed and new solid in the same place of travel and steering. It begins at the closest call, so that a
still of it answers, and ends a step before, so that it loops.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from fitment.checks.case import Case
from fitment.checks.fit import Clearance
from fitment.checks.posed_case import place_of, posed
from fitment.draw import case_parts
from fitment.draw.figure_page import date_line, entitle, height_text, new_sheet, sample, unframed
from fitment.draw.headings import builds_line, chip
from fitment.draw.lettering import letter
from fitment.draw.panel import Area, Panel, area_of
from fitment.draw.projection import FRONT, PLAN, View, nearest_places, posed_hub, silhouette
from fitment.draw.scene import Shown, closest_moving, limits, steady, tightest
from fitment.draw.style import BODY, HAIR, LIGHT, PANEL, SMALL, THIN, Theme, look, theme_of, words
from fitment.draw.views.closest import view_of
from fitment.draw.zoom import Zoom, is_worth_enlarging, zoom_on, zoomed
from fitment.frames import Array
from fitment.motion.poses import Poses, joined
from fitment.motion.suspension import Family, Kind, families
from fitment.parts.axle import Axle
from fitment.report.common import SAID
from fitment.units import clearance_text

WIDTH, HEIGHT, DPI, EDGE = 7.0, 5.8, 100, 0.16  # [in], 700 pixels across
TITLE_ROW, SAMPLE_ROW, PANEL_ROW, STRIP_ROW, GAP = 0.58, 0.42, 3.44, 0.88, 0.07  # [in]
PIECE = 8  # frames from one standstill to the next
FRAME, HOLD, END, REST = 80, 2000, 400, 400  # [ms] a frame is shown; the closest call; other ends; rest
MARGINS = (10.0, 10.0, 22.0, 34.0)  # [pt] left, right, bottom, top
TITLES = {FRONT: ("Front", "", "outboard ▶"), PLAN: ("From above", "", "front ▼   outboard ▶")}
STRAIGHT = 0.5  # [deg]
LEVEL = 0.5  # [mm]
TURNS: dict[Kind, tuple[str, str]] = {
    "steer": ("left lock", "right lock"), "roll": ("the opposite wheel up", "the opposite wheel down"),
}  # fmt: skip
TIGHTEST = 240.0  # [pt] where the tightest gap of a frame stands in the strip
RING = 12.0  # [pt] radius of the mark at the place that is enlarged
NOTE = "From the measurements given. Test fit through full travel and lock before driving."


@dataclass(frozen=True)
class Leg:
    """A way from standstill to standstill in one family of poses.

    kinds : what the family's shares move; places : travel [mm] and lock fractions (n, k); end : where it ends
    """

    family: str
    kinds: tuple[Kind, ...]
    places: Array
    end: str

    def words(self, index: int) -> str:
        """Where the wheel is, on the way there as on the way back."""
        if index in (0, len(self.places) - 1):
            return self.end if index else "at rest"
        return f"between rest and {self.end}"


@dataclass(frozen=True)
class Shot:
    """A frame: both cases there, how long it is shown [ms], where that is."""

    both: Shown
    duration: int
    words: str


# ---------------------------------------------------------------- the way


def legs(case: Case) -> list[Leg]:
    """Bump and droop, both locks (or roll), the closest call; each begins and ends at rest, straight ahead."""
    axle, ride = case.fit.axle, case.fit.setup.ride
    known = {family.name: family for family in families(axle)}
    worst = closest_moving(case)
    last = None if worst is None else place_of(case, worst.pose)
    family = known[last[0]] if last is not None else next(iter(known.values()))
    ends: list[tuple[float, dict[Kind, float], str]] = [(axle.bump, {}, "full bump"), (axle.droop, {}, "full droop")]
    for kind in reversed(family.kinds):  # steering first
        if len(family.levels[family.kinds.index(kind)]) > 1:
            ends += [
                (ride, {kind: lock_fraction}, text)
                for lock_fraction, text in zip((1.0, -1.0), _turns(axle, kind), strict=True)
            ]
    to_ends = [
        _leg(family, ride, (travel, *(lock_fractions.get(kind, 0.0) for kind in family.kinds)), text)
        for travel, lock_fractions, text in ends
    ]
    return to_ends if last is None else [*to_ends, _leg(family, ride, last[1], "the closest call")]


def _turns(axle: Axle, kind: Kind) -> tuple[str, str]:
    """Both ends in words; a right corner is posed as in a mirror."""
    first, last = TURNS[kind]
    return (last, first) if kind == "steer" and axle.sides == ("right",) else (first, last)


def _leg(family: Family, ride: float, end: tuple[float, ...], text: str) -> Leg:
    """There, slowly at both ends; the way back is the same."""
    eased = (1 - np.cos(np.linspace(0, np.pi, PIECE + 1)))[:, None] / 2
    start = family.rest(ride)
    return Leg(family.name, family.kinds, start + (np.array([end]) - start) * eased, text)


def shots(new: Case, old: Case | None) -> list[Shot]:
    """Every frame, the closest call first, the last one before it again. Raises MotionError."""
    way = legs(new)
    moved = [(new, _poses(new, way))]
    if old is not None:
        moved.append((old, _poses(old, way)))
    cases = [(posed(case, poses), poses) for case, poses in moved]
    frames, first = [], 0
    for leg in way:
        count = len(leg.places)
        order = [*range(count), *range(count - 2, 0, -1)]  # there and back, the standstill at rest once
        stands = [[(case, posed_hub(poses, first + i)) for case, poses in cases] for i in range(count)]
        views = [Shown(*stand[0], *(stand[1] if old is not None else (None, None))) for stand in stands]
        longest = HOLD if leg is way[-1] and new.fit.worst is not None else END
        durations = [REST] + [FRAME] * (count - 2) + [longest]
        frames += [Shot(views[i], durations[i], leg.words(i)) for i in order]
        first += count
    held = next((i for i, shot in enumerate(frames) if shot.duration == HOLD), 0)
    return [*frames[held:], *frames[:held]]


def _poses(case: Case, way: Sequence[Leg]) -> Poses:
    """The way on a case's own axle, as far as that moves alike; its travel stops at its own droop and bump."""
    own = families(case.fit.axle)
    pieces = []
    for leg in way:
        family = next((family for family in own if family.name == leg.family), own[0])
        travel, lock_fractions = leg.places[:, 0], dict(zip(leg.kinds, leg.places[:, 1:].T, strict=True))
        still = np.zeros_like(travel)
        pieces.append(
            family.poses(np.clip(travel, *limits(case)), *(lock_fractions.get(kind, still) for kind in family.kinds))
        )
    return joined(pieces)


# ---------------------------------------------------------------- the picture


class Movie:
    """A figure that shows one frame after another."""

    def __init__(
        self,
        new: Case,
        old: Case | None = None,
        *,
        units: str = "mm",
        theme: Theme | str = LIGHT,
        date: str | None = None,
    ) -> None:
        self.theme = theme_of(theme) if isinstance(theme, str) else theme
        self.units = units
        self.still = steady(new)
        self.shots = shots(new, old)
        with look():
            sheet = new_sheet(HEIGHT, self.theme, width=WIDTH, dpi=DPI, edge=EDGE)
            _title(sheet.blank(TITLE_ROW, gap=0.0), self.theme, new, old, date)
            _samples(sheet.blank(SAMPLE_ROW, gap=GAP), self.theme, new, old)
            left, right = (sheet.at(box) for box in sheet.box(PANEL_ROW, gap=GAP).columns(1.0, 1.0, gap=GAP))
            views = [shot.both for shot in self.shots]
            decides = closest_moving(new)
            told = _always(new, self.still, decides, units)
            if decides is not None and not is_worth_enlarging(new, decides, views):
                decides = None
            shown = (FRONT, PLAN) if decides is None else (view_of(new, decides),)
            self.panels = [
                (view, _panel(ax, self.theme, view, _area(views, view), told))
                for view, ax in zip(shown, (left, right), strict=False)
            ]
            self.zoom: Zoom | None = None
            if decides is not None:
                self.zoom = zoom_on(right, new, decides, self.panels[0][1].per_pt, units, self.theme)
            self.strip = unframed(sheet.at(sheet.box(STRIP_ROW, gap=0.0)))
            self.figure: Figure = sheet.figure
        self._drawn: list[Artist] = []

    def show(self, index: int) -> None:
        """Draw one frame in place of the last one."""
        for artist in self._drawn:
            artist.remove()
        shot = self.shots[index]
        with look():
            here = tightest(shot.both.new, shot.both.new_at, self.still)
            leads = here.obstacle if here else ""
            named = leads if self.zoom is None else self.zoom.obstacle
            self._drawn = [artist for view, panel in self.panels for artist in _view(panel, view, shot.both, named)]
            if self.zoom is not None:
                self._drawn += zoomed(self.zoom, shot.both, self.units, leads)
            self._drawn += _strip(self.strip, self.theme, shot, self.shots, self.units)
            self._drawn += _readout(self.strip, self.theme, shot.both, self.still, self.units)

    def pixels(self, index: int) -> NDArray[np.uint8]:
        """One frame, (rows, columns, 3)."""
        self.show(index)
        canvas: Any = self.figure.canvas
        with look():
            canvas.draw()
        return np.array(canvas.buffer_rgba())[:, :, :3]


def _title(ax: Axes, theme: Theme, new: Case, old: Case | None, date: str | None) -> None:
    entitle(ax, new.ready.profile.name, builds_line(new, old))
    width, top = float(ax.get_xlim()[1]), float(ax.get_ylim()[1])
    name = words(new.ready.profile.name, 90)
    right = width - chip(ax, theme, new.fit.verdict, top - 13, right=width) - 8
    letter(ax, 0, top - 3, name, theme.ink, PANEL, bold=True, va="top", least=SMALL, right=right)
    date_line(ax, theme, builds_line(new, old), top - 27, SMALL, date)


def _samples(ax: Axes, theme: Theme, new: Case, old: Case | None) -> None:
    """What is bolted on, drawn as it is drawn below."""
    cases = [*([(old, True)] if old is not None else []), (new, False)]
    step = float(ax.get_xlim()[1]) / len(cases)
    for i, (case, is_old) in enumerate(cases):
        sample(ax, theme, is_old, 14.0, left=i * step)
        setup, wheel = case.fit.setup, case.fit.setup.wheel
        size = f"{wheel.rim_diameter:g}x{wheel.rim_width:g} ET{wheel.offset:g}"
        sizes = words(setup.tire.code, 26), f"{size}: {SAID[case.fit.verdict]}"
        for text, level in zip(sizes, (20.5, 6.5), strict=True):
            letter(ax, i * step + 52, level, text, theme.ink, least=SMALL, right=(i + 1) * step - 6)


def _area(views: Sequence[Shown], view: View) -> Area:
    """All places of all tires."""
    outlines = [silhouette(case.fit.tire, at, view) for both in views[::2] for case, at, _ in both.both()]
    whole = area_of(outlines)
    return Area(
        whole.low - np.array([case_parts.AROUND[0], 12.0]), whole.high + np.array([case_parts.AROUND[1] / 2, 30.0])
    )


def _always(case: Case, still: frozenset[str], decides: Clearance | None, units: str) -> str:
    """The gap to a part that keeps its place to the wheel, where it is tighter than the one that decides."""
    fixed = next((entry for entry in case.fit.worst_each if entry.obstacle in still), None)
    if fixed is None or decides is None or fixed.urgency > decides.urgency:
        return ""
    return f"{words(fixed.obstacle, 18)}: always {clearance_text(fixed.clearance, units)}"


def _panel(ax: Axes, theme: Theme, view: View, area: Area, told: str) -> Panel:
    """What stays from frame to frame; told : a line below its title."""
    panel = Panel(ax, theme, labelled=False)
    title, _, compass = TITLES[view]
    panel.heading(title, told, compass, size=BODY)
    panel.fit(area, (*MARGINS[:3], panel.head if told else MARGINS[3]), (view.across_flipped, view.up_flipped))
    return panel


def _view(panel: Panel, view: View, both: Shown, named: str) -> list[Artist]:
    """The whole wheel, and the place that is enlarged: the gap to the part `named`."""
    panel.artists = []
    case_parts.surroundings(panel, both, view)
    case_parts.arms(panel, both, view)
    case_parts.silhouettes(panel, both, view)
    case_parts.wheels(panel, both, view)
    for case, at, is_old in both.both():
        for near in (near for near in nearest_places(case, at, view) if near.entry.obstacle == named):
            case_parts.leader(panel, near, old=is_old)
            if not is_old:
                ring = shapely.Point((near.part + near.surface) / 2).buffer(RING * panel.per_pt)
                panel.area(ring, edge=panel.theme.ink, width=THIN, layer=6.6)
    return panel.artists


def _strip(ax: Axes, theme: Theme, shot: Shot, every: Sequence[Shot], units: str) -> list[Artist]:
    """Where in travel and steering."""
    top = float(ax.get_ylim()[1])
    at = shot.both.new_at
    second, values = _second(shot, every, units)
    travels = [frame.both.new_at.travel for frame in every]
    where = shot.words
    if at_opposite := _other_wheel(shot.both, units):
        where += f", {at_opposite}"
    return [
        letter(ax, 0, top - 8, where, theme.ink, least=SMALL),
        *_gauge(ax, theme, top - 25, height_text(at.travel, units), at.travel, travels),
        *_gauge(ax, theme, top - 41, second, *values),
        letter(ax, 0, 5, NOTE, theme.quiet),
    ]


def _readout(ax: Axes, theme: Theme, both: Shown, still: frozenset[str], units: str) -> list[Artist]:
    """The smallest clearance of a frame that changes, which may be to another part than the one enlarged."""
    entry, top = tightest(both.new, both.new_at, still), float(ax.get_ylim()[1])
    if entry is None:
        return []
    value = case_parts.change_text(both, entry.obstacle, units)
    return [
        letter(ax, TIGHTEST, top - 25, f"tightest here: {words(entry.obstacle, 22)}", theme.quiet, least=SMALL),
        letter(ax, TIGHTEST, top - 41, value, theme.ink, BODY, bold=True, least=SMALL),
    ]


def _second(shot: Shot, every: Sequence[Shot], units: str) -> tuple[str, tuple[float, list[float]]]:
    """Steering in words, in figures and of all frames; of an axle that does not steer, the opposite wheel's travel."""
    if shot.both.new.fit.axle.steering is None and shot.both.new.fit.poses.opposite is not None:
        other = [_opposite(frame.both) for frame in every]
        here = _opposite(shot.both)
        return f"opposite {height_text(here, units)}", (here, other)
    steer = shot.both.new_at.steer
    text = "straight" if abs(steer) < STRAIGHT else f"{abs(steer):.0f}° {'left' if steer > 0 else 'right'}"
    return text, (-steer, [-frame.both.new_at.steer for frame in every])


def _other_wheel(both: Shown, units: str) -> str:
    """Where the opposite wheel of a solid axle that steers stands, when the two are not level; else nothing."""
    if both.new.fit.axle.steering is None or both.new.fit.poses.opposite is None:
        return ""
    there = _opposite(both)
    return "" if abs(there - both.new_at.travel) < LEVEL else f"opposite wheel {height_text(there, units)}"


def _opposite(both: Shown) -> float:
    opposite = both.new.fit.poses.opposite
    return 0.0 if opposite is None else float(opposite[both.new_at.index])


def _gauge(ax: Axes, theme: Theme, level: float, text: str, value: float, ends: Sequence[float]) -> list[Artist]:
    """A track from end to end with a mark where it is, and the figure beside it."""
    low, high = min(ends), max(ends)
    left, right = 132.0, 218.0
    at = (left + right) / 2 if high - low < 1e-6 else left + (right - left) * (value - low) / (high - low)
    return [
        letter(ax, 0, level, text, theme.ink),
        *ax.plot([left, right], [level, level], color=theme.quiet, linewidth=HAIR),
        *ax.plot([at], [level], linestyle="none", marker="o", markersize=7, color=theme.new),
    ]
