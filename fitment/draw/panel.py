"""One panel of a sheet: scale, lines, dimension lines, and labels that keep clear of each other.

Everything drawn leaves its trail as ink, in pixels; a label goes to the cheapest free place near what it names.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from textwrap import wrap
from typing import Any

import numpy as np
import shapely
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.lines import Line2D
from matplotlib.patches import FancyArrowPatch, PathPatch
from matplotlib.path import Path
from matplotlib.text import Text
from matplotlib.transforms import Bbox
from shapely.geometry.base import BaseGeometry

from fitment.draw.projection import edges
from fitment.draw.style import (
    ARROW_HEAD,
    BOLD,
    DASHED,
    DOTTED,
    HAIR,
    HATCH_OLD,
    LETTER,
    LIGHT,
    LINE,
    OUTSIDE_ARROW,
    PANEL,
    PAST,
    SHORTEST_ARROW,
    SMALL,
    THIN,
    Theme,
    font,
)
from fitment.frames import Array

CELL = 4.0  # [px] of the raster that remembers where ink is
FAINT_INK = 0.2  # weight of hairlines against outlines
GAP = 3.0  # [pt] kept free round every label
HEADING, FOOTING = 50.0, 29.0  # [pt] strips that belong to a heading with one line below, and to directions and scale
CAPTION_LINE, ASCENT = 15.0, 0.78  # [pt], [of the size] from a line's top to its baseline
REACH = (9.0, 16.0, 26.0, 40.0, 58.0, 80.0, 110.0, 150.0)  # [pt] how far a label may stand from its anchor
MISLEADING = 45.0  # cost of a label that stands nearer to what another one names
OPTIONAL_COST = 75.0  # a label that is not needed is left out beyond this
CROSSING = 7.0  # cost of each outline that a leader crosses
LEADER_INK = 2.0  # weight of another label's leader
ROUNDS = 4  # how often labels choose
AREA_DOT = 2.6  # [pt] the mark at the end of a leader that points into an area
WAYS = 24  # directions tried
SAMPLES = 60  # points of a leader that are looked at


@dataclass
class Wish:
    """A label waiting for its place: text, anchor in page coordinates, how loud it is."""

    text: str
    anchor: tuple[float, float]
    color: str
    alarm: bool = False
    bold: bool = False
    optional: bool = False  # rather left out than set over lines
    prefer: tuple[float, float] | None = None  # direction on the page it would rather go
    area: BaseGeometry | None = None  # what it names: within it a label needs no leader
    within: bool = False  # only there


@dataclass
class _Placed:
    """A label on its way: its text, its anchor [px], its size, from its centre to the text's own place, its place."""

    wish: Wish
    artist: Text
    anchor: Array
    size: Array
    offset: Array
    area: BaseGeometry | None
    centre: Array | None = None

    def box(self) -> tuple[float, float, float, float]:
        """x0, y0, x1, y1 [px]."""
        assert self.centre is not None
        low, high = self.centre - self.size / 2, self.centre + self.size / 2
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])

    def leader(self) -> Array | None:
        """Both ends [px]; None for a label within what it names."""
        assert self.centre is not None
        if self.area is not None and self.area.contains(shapely.box(*self.box())):
            return None
        start, end = _leads(self.anchor, self.centre[None], self.size)
        return np.stack([start[0], end[0]])


@dataclass(frozen=True)
class Area:
    """What a panel is to show: corners low, high (2,) [mm], and room for text beside some places.

    reserve_left, reserve_right : (place across [mm], room between it and the panel's edge [pt])
    """

    low: Array
    high: Array
    reserve_left: tuple[tuple[float, float], ...] = ()
    reserve_right: tuple[tuple[float, float], ...] = ()


def area_of(points: Sequence[Array]) -> Area:
    """The smallest area with all these points (n, 2) in it."""
    whole = np.concatenate(points)
    return Area(whole.min(axis=0), whole.max(axis=0))


@dataclass
class Panel:
    """An axes with a scale, its ink and the boxes already taken.

    per_pt : millimetres per point
    head, foot : height of the strips that belong to the heading, and to directions and scale [pt]
    labelled : whether labels will look for a place; without them no ink is remembered
    artists : everything drawn here
    """

    ax: Axes
    theme: Theme = LIGHT
    per_pt: float = 1.0
    head: float = HEADING
    foot: float = FOOTING
    labelled: bool = True
    artists: list[Artist] = field(default_factory=list)
    ink: list[tuple[Array, float]] = field(default_factory=list)
    grounds: list[tuple[Array, float]] = field(default_factory=list)  # inside of areas that carry their own names
    boxes: list[tuple[float, float, float, float]] = field(default_factory=list)
    wishes: list[Wish] = field(default_factory=list)

    # ------------------------------------------------------------ scale

    def fit(
        self,
        area: Area,
        margins: tuple[float, float, float, float],
        flips: tuple[bool, bool],
        *,
        lean: float = 0.5,
    ) -> None:
        """Scale so that the area [mm] sits within margins (left, right, bottom, top) [pt], its reserves kept.

        lean : share of the room left over across that goes to the left
        """
        width, height = self.size_pt()
        left, right, bottom, top = margins
        low, high = area.low.copy(), area.high.copy()
        for _ in range(8):
            span = np.maximum(high - low, 1.0)
            self.per_pt = float(max(span[0] / (width - left - right), span[1] / (height - bottom - top)))
            for at, room in area.reserve_left:
                low[0] = min(low[0], at - (room - left) * self.per_pt)
            for at, room in area.reserve_right:
                high[0] = max(high[0], at + (room - right) * self.per_pt)
        out = np.array([width, height]) * self.per_pt / 2
        signs = np.where(flips, -1.0, 1.0)
        centre = (low + high) / 2 + np.array([right - left, top - bottom]) * self.per_pt / 2 * signs
        spare = (width - left - right) * self.per_pt - float(high[0] - low[0])
        centre[0] += (0.5 - lean) * spare * signs[0]
        ends = np.stack([centre - signs * out, centre + signs * out])
        self.ax.set_xlim(*ends[:, 0])
        self.ax.set_ylim(*ends[:, 1])
        self.ax.set_aspect("equal", adjustable="datalim", anchor="C")
        self.dress()

    def dress(self) -> None:
        """Ground and frame; no ticks of matplotlib's own."""
        self.ax.set_facecolor(self.theme.panel)
        self.ax.xaxis.set_visible(False)
        self.ax.yaxis.set_visible(False)
        for spine in self.ax.spines.values():
            spine.set(color=self.theme.faint, linewidth=HAIR)

    def size_pt(self) -> tuple[float, float]:
        """Width and height of the panel [pt]."""
        box, dpi = self.ax.bbox, self.ax.figure.dpi
        return float(box.width) * 72 / dpi, float(box.height) * 72 / dpi

    def px(self, points: Any) -> Array:
        """Page coordinates to pixels, (n, 2)."""
        return np.asarray(self.ax.transData.transform(np.atleast_2d(np.asarray(points, dtype=float))), dtype=float)

    def pt(self, n: float) -> float:
        """A distance on paper [pt] in pixels."""
        return n * float(self.ax.figure.dpi) / 72

    # ------------------------------------------------------------ lines

    def keep(self, artist: Artist) -> Artist:
        self.artists.append(artist)
        return artist

    def leave_ink(self, points: Any, weight: float = 1.0) -> None:
        """Remember a polyline (n, 2), page coordinates, as occupied."""
        if not self.labelled:
            return
        path = self.px(points)
        steps = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
        at = np.arange(0.0, min(float(steps[-1]), 20000.0) + CELL, CELL * 0.8)
        self.ink.append((np.stack([np.interp(at, steps, path[:, 0]), np.interp(at, steps, path[:, 1])], -1), weight))

    def line(
        self, points: Any, color: str, *, width: float = LINE, style: Any = "-", layer: float = 3, ink: bool = True
    ) -> Line2D:
        """A polyline (n, 2)."""
        path = np.asarray(points, dtype=float)
        line = Line2D(path[:, 0], path[:, 1], color=color, linewidth=width, linestyle=style, zorder=layer)
        line.set_solid_capstyle("butt")
        self.ax.add_artist(line)
        self.keep(line)
        if ink:
            self.leave_ink(path, FAINT_INK if width <= HAIR else 1.0)
        return line

    def area(
        self,
        shape: BaseGeometry | Array,
        *,
        edge: str = "none",
        fill: str = "none",
        hatch: str | None = None,
        hatch_color: str | None = None,
        width: float = LINE,
        style: Any = "-",
        layer: float = 2,
        ink: bool = True,
        weight: float = 1.0,
    ) -> PathPatch | None:
        """A filled outline; with a hatch, the hatch lies under the outline in its own colour."""
        path = path_of(shape)
        if path is None:
            return None
        if hatch:
            under = PathPatch(
                path, facecolor="none", edgecolor=hatch_color or edge, linewidth=0, hatch=hatch, zorder=layer
            )
            self.ax.add_artist(under)
            self.keep(under)
        patch = PathPatch(
            path,
            facecolor=fill,
            edgecolor=edge,
            linewidth=0 if edge == "none" else width,
            linestyle=style,
            zorder=layer,
            joinstyle="round",
        )
        self.ax.add_artist(patch)
        self.keep(patch)
        if ink:
            for ring in path.to_polygons(closed_only=False):
                self.leave_ink(ring, weight)
        return patch

    def fill_ink(self, shape: BaseGeometry, weight: float = 0.5, *, named: bool = False) -> None:
        """Remember the inside of a dark area as occupied; named : but for its own label and a filled one."""
        if not self.labelled or shape.is_empty:
            return
        x0, y0, x1, y1 = shape.bounds
        step = CELL * self.per_pt / self.pt(1)
        xs, ys = (np.arange(low, high, step) for low, high in ((x0, x1), (y0, y1)))
        grid = np.stack(np.meshgrid(xs, ys), -1).reshape(-1, 2)
        inside = grid[shapely.contains_xy(shape, grid[:, 0], grid[:, 1])]
        if len(inside):
            (self.grounds if named else self.ink).append((self.px(inside), weight))

    def dot_ink(self, points: Any, weight: float = 5.0) -> None:
        """Remember marks at points (n, 2), page coordinates, as occupied: a label would hide them."""
        angle = np.linspace(0, 2 * np.pi, 12, endpoint=False)
        ring = np.stack([np.cos(angle), np.sin(angle)], -1) * self.pt(4)
        at = self.px(points)
        self.ink.append(((at[np.isfinite(at).all(axis=1), None] + ring).reshape(-1, 2), weight))

    def new_outline(self, outline: Array, fill: str, *, layer: float = 2) -> None:
        """As everything new is drawn: solid and filled."""
        self.area(outline, edge=self.theme.new, fill=fill, width=LINE, layer=layer)

    def old_outline(self, outline: Array | BaseGeometry, *, layer: float = 2.6, width: float = THIN) -> None:
        """As everything old is drawn: dashed."""
        self.area(outline, edge=self.theme.old, width=width, style=DASHED, layer=layer)

    def old_section(self, tire: shapely.Polygon, wheel: shapely.Polygon, *, layer: float = 2.6) -> None:
        """An old tire, lightly hatched, and its wheel."""
        self.area(tire, hatch=HATCH_OLD, hatch_color=self.theme.old_hatch, layer=layer, ink=False)
        for edge, width in zip(edges(tire, wheel), (LINE, THIN), strict=True):
            self.old_outline(edge, layer=layer, width=width)

    def arrow(
        self, start: Any, end: Any, color: str, *, both: bool = False, width: float = THIN, layer: float = 6
    ) -> None:
        """A thin line with a filled head at its end, or at both."""
        arrow = FancyArrowPatch(
            tuple(start),
            tuple(end),
            arrowstyle=f"{'<|-|>' if both else '-|>'},{ARROW_HEAD}",
            color=color,
            linewidth=width,
            shrinkA=0,
            shrinkB=0,
            mutation_scale=1.0,
            zorder=layer,
        )
        self.ax.add_artist(arrow)
        self.keep(arrow)
        self.leave_ink([start, end])

    # ------------------------------------------------------------ text

    def text(
        self, at: Any, text: str, *, color: str | None = None, size: float = SMALL, bold: bool = False, **more: Any
    ) -> Text:
        """Text whose box is taken from then on."""
        more.setdefault("zorder", 8)
        artist = self.ax.text(
            float(at[0]),
            float(at[1]),
            text,
            color=color or self.theme.ink,
            fontproperties=font(size, bold=bold),
            linespacing=1.15,
            **more,
        )
        self.keep(artist)
        self.boxes.append(self.extent(artist))
        return artist

    def extent(self, artist: Text) -> tuple[float, float, float, float]:
        """x0, y0, x1, y1 of a text with its frame [px]."""
        renderer = renderer_of(self.ax)
        box = artist.get_window_extent(renderer)
        frame = artist.get_bbox_patch()
        if frame is not None:
            artist.update_bbox_position_size(renderer)
            box = Bbox.union([box, frame.get_window_extent(renderer)])
        return float(box.x0), float(box.y0), float(box.x1), float(box.y1)

    def drawing_area(self) -> shapely.Polygon:
        """The area of the panel between heading and footing [mm]."""
        (x0, x1), (y0, y1) = self.ax.get_xlim(), self.ax.get_ylim()
        per_pt = (y1 - y0) / self.size_pt()[1]
        return shapely.box(x0, y0 + per_pt * self.foot, x1, y1 - per_pt * self.head).normalize()

    def heading(self, title: str, caption: str, compass: str, *, size: float = PANEL, keep: float = 0.0) -> None:
        """Title and what lines there are below it at the top left, the directions at the bottom left.

        Longer lines are broken, `keep` [pt] at the right left free.
        """
        width, height = self.size_pt()
        quiet, here = self.theme.quiet, self.ax.transAxes
        if compass:
            self.text(
                (9 / width, 8 / height), compass, color=quiet, transform=here, va="bottom", ha="left", bbox=self.patch()
            )
        room = max(12, int((width - 18 - keep) / LETTER))
        if title:
            level = (9 + ASCENT * size) / height
            told = self.text(
                (9 / width, 1 - level), title, size=size, bold=True, transform=here, va="baseline", ha="left"
            )
            shrink_to(told, self.ax, SMALL)
            self.boxes[-1] = self.extent(told)
        down = 15.0 + size
        for line in (part for each in caption.split("\n") for part in wrap(each, room)):
            level = (down + ASCENT * SMALL) / height
            told = self.text((9 / width, 1 - level), line, color=quiet, transform=here, va="baseline", ha="left")
            shrink_to(told, self.ax, SMALL)
            down += CAPTION_LINE
        self.head = down + 6.0

    def scale_bar(self, length: float, text: str) -> None:
        """A bar of this length [mm] at the bottom right."""
        width, _ = self.size_pt()
        share = length / self.per_pt / width
        right, level = 1 - 10 / width, 9 / self.size_pt()[1]
        bar = Line2D(
            [right - share, right],
            [level, level],
            transform=self.ax.transAxes,
            color=self.theme.ink,
            linewidth=BOLD,
            zorder=8,
        )
        bar.set_solid_capstyle("butt")
        self.ax.add_artist(bar)
        self.keep(bar)
        (x0, y0), (x1, _) = self.ax.transAxes.transform([(right - share, level), (right, level)])
        self.boxes.append((float(x0), float(y0) - self.pt(2), float(x1), float(y0) + self.pt(2)))
        self.text(
            (right, level + 4 / self.size_pt()[1]),
            text,
            color=self.theme.quiet,
            transform=self.ax.transAxes,
            ha="right",
            va="bottom",
        )

    # ------------------------------------------------------------ dimension lines

    def dimension_across(
        self,
        a: float,
        b: float,
        level: float,
        text: str,
        color: str,
        *,
        from_levels: Sequence[float],
        arrow_at_end: bool = False,
        dotted: bool = False,
    ) -> None:
        """A level dimension line from a to b, its text in the middle, its extension lines from what it measures.

        from_levels : where the extension lines of a and of b start
        arrow_at_end : a move from a to b: one head; a plain bar when it is too short for one
        dotted : extension lines that run through the drawing
        """
        past = np.sign(level - from_levels[0])
        for x, start in zip((a, b), from_levels, strict=True):
            ends = [(x, start), (x, level + PAST * self.per_pt * past)]
            self.line(ends, color, width=HAIR, style=DOTTED if dotted else "-", layer=2.4)
        if abs(b - a) < SHORTEST_ARROW * self.per_pt:
            self.line([(a, level), (b, level)], color, width=LINE, layer=6)
        else:
            self.arrow((a, level), (b, level), color, both=not arrow_at_end)
        if text:
            self.text(((a + b) / 2, level), text, color=color, ha="center", va="center", bbox=self.patch())

    def dimension_up(self, a: float, b: float, at: float, text: str, color: str, *, from_across: float) -> None:
        """An upright dimension line from a to b at `at`, its extension lines from `from_across`."""
        past = np.sign(at - from_across)
        for z in (a, b):
            self.line([(from_across, z), (at + PAST * self.per_pt * past, z)], color, width=HAIR, layer=1.5)
        self.arrow((at, a), (at, b), color, both=True)
        self.text((at, (a + b) / 2), text, color=color, ha="center", va="center", rotation=90, bbox=self.patch())

    def dimension_gap(self, a: Array, b: Array, color: str, *, width: float = LINE) -> None:
        """A dimension line along a gap: arrows between its ends, or two from outside where it is too short for them."""
        step = np.asarray(b, dtype=float) - a
        length = float(np.hypot(*step))
        if length > 3 * SHORTEST_ARROW * self.per_pt:
            self.arrow(a, b, color, both=True, width=width)
            return
        way = step / length if length > 1e-9 else np.array([0.0, 1.0])
        for tip, out in ((a, -way), (b, way)):
            self.arrow(tip + out * OUTSIDE_ARROW * self.per_pt, tip, color, width=width)
        self.line([a, b], color, width=width, layer=6)

    def patch(self) -> dict[str, Any]:
        """Ground under a text, so that lines do not run through it."""
        return {"boxstyle": "square,pad=0.12", "facecolor": self.theme.panel, "edgecolor": "none"}

    # ------------------------------------------------------------ labels

    def wish(self, text: str, anchor: Any, color: str, **more: Any) -> None:
        """Ask for a label; `place_labels` finds where it goes."""
        self.wishes.append(Wish(text, (float(anchor[0]), float(anchor[1])), color, **more))

    def place_labels(self) -> None:
        """Give every wish its place, the first ones choosing first, then each again now that the others stand.

        A label without any free place is left out.
        """
        labels = [self._measured(wish) for wish in self.wishes]
        raster, ground, taken = self._raster(self.ink), self._raster(self.grounds), list(self.boxes)
        for _ in range(ROUNDS):
            before = [label.centre for label in labels]
            for label in labels:
                others = [other for other in labels if other is not label and other.centre is not None]
                self.boxes = [*taken, *(other.box() for other in others)]
                label.centre = self._best_place(label, self._with_leaders(raster, others), ground)
            if all(_same(one, label.centre) for one, label in zip(before, labels, strict=True)):
                break
        self.boxes = taken
        for label in labels:
            self._set(label)
        self.wishes.clear()

    def _measured(self, wish: Wish) -> _Placed:
        artist = self._label(wish)
        x0, y0, x1, y1 = self.extent(artist)
        size, offset = np.array([x1 - x0, y1 - y0]), np.array([(x0 + x1) / 2, (y0 + y1) / 2])
        area = None if wish.area is None else shapely.transform(wish.area, self.px)
        return _Placed(wish, artist, self.px([wish.anchor])[0], size, offset, area)

    def _with_leaders(self, raster: Array, labels: Sequence[_Placed]) -> Array:
        """The raster with the leaders of these labels on it."""
        drawn = raster.copy()
        for leader in (label.leader() for label in labels):
            if leader is not None:
                steps = np.linspace(0, 1, 2 + int(np.hypot(*(leader[1] - leader[0])) / CELL))[:, None]
                self._ink_on(drawn, leader[0] + steps * (leader[1] - leader[0]), LEADER_INK)
        return drawn

    def _set(self, label: _Placed) -> None:
        """The label at its place with its leader, or away with it."""
        artist, wish = label.artist, label.wish
        if label.centre is None:
            artist.remove()
            return
        back = self.ax.transData.inverted()
        artist.set_transform(self.ax.transData)
        artist.set_position(tuple(back.transform(label.centre - label.offset)))
        self.keep(artist)
        self.boxes.append(label.box())
        leader = label.leader()
        if leader is None or np.hypot(*(leader[1] - leader[0])) <= self.pt(4):
            return
        ends, color = back.transform(leader), self.theme.ink if wish.alarm else wish.color
        self.line(ends, color, width=HAIR, layer=7)
        if label.area is not None:
            self.artists += self.ax.plot(*ends[0], marker="o", markersize=AREA_DOT, color=color, zorder=7)

    def _label(self, wish: Wish) -> Text:
        frame = {"boxstyle": "round,pad=0.28,rounding_size=0.25", "linewidth": 0, "facecolor": self.theme.alarm}
        plain = {"boxstyle": "square,pad=0.05", "linewidth": 0, "facecolor": self.theme.panel, "alpha": 0.75}
        return self.ax.text(
            0,
            0,
            wish.text,
            fontproperties=font(SMALL, bold=wish.bold or wish.alarm),
            linespacing=1.15,
            ha="center",
            va="center",
            color=self.theme.alarm_text if wish.alarm else wish.color,
            zorder=9,
            transform=None,
            bbox=frame if wish.alarm else plain,
        )

    def _raster(self, ink: Sequence[tuple[Array, float]]) -> Array:
        """How much ink each cell of the panel holds, (columns, rows)."""
        box = self.ax.bbox
        raster = np.zeros((int(box.width / CELL) + 2, int(box.height / CELL) + 2))
        for points, weight in ink:
            self._ink_on(raster, points, weight)
        return raster

    def _ink_on(self, raster: Array, points: Array, weight: float) -> None:
        cell = ((points - [self.ax.bbox.x0, self.ax.bbox.y0]) / CELL).astype(int)
        i, j = cell[np.all((cell >= 0) & (cell < raster.shape), axis=1)].T
        raster[i, j] = np.maximum(raster[i, j], weight)

    def _best_place(self, label: _Placed, raster: Array, ground: Array) -> Array | None:
        wish, size = label.wish, label.size
        places = self._within(label)
        if not wish.within:
            centres, reach = self._candidates(label.anchor, size)
            places = [*places, (centres, reach, True)]
        found: list[tuple[float, Array]] = []
        for centres, reach, outside in places:
            usable = self._inside(centres, size) & self._free(centres, size)
            if np.any(usable):
                around = np.maximum(raster, ground) if outside and not wish.alarm else raster
                cost = self._cost(label, centres[usable], reach[usable], around, led=outside)
                found.append((float(cost.min()), centres[usable][int(np.argmin(cost))]))
        if not found:
            return None
        least, best = min(found, key=lambda each: each[0])
        return None if wish.optional and least > OPTIONAL_COST else best

    def _cost(self, label: _Placed, centres: Array, reach: Array, raster: Array, *, led: bool) -> Array:
        """What it costs to set the label at each centre; led : with a leader."""
        wish, size = label.wish, label.size
        cost = reach / self.pt(1) * 0.45 + self._ink_under(centres, size, raster) * 5.0
        if not led:
            return np.asarray(cost)
        start, end = _leads(label.anchor, centres, size)
        cost = cost + self._ink_along(start, end, raster) * CROSSING + 400.0 * self._through_boxes(start, end)
        misleading = MISLEADING * (0.3 if wish.optional else 1.0)
        cost = cost + misleading * self._nearer_to_others(centres, size, reach, wish)
        if wish.prefer is not None:
            step = centres - label.anchor
            cost = cost - 12.0 * (step @ np.array(wish.prefer)) / np.maximum(np.hypot(*step.T), 1.0)
        return np.asarray(cost)

    def _within(self, label: _Placed) -> list[tuple[Array, Array, bool]]:
        """Places of a label within what it names, with a fifth of their way from the anchor [px]."""
        if label.area is None or label.area.is_empty:
            return []
        pad = self.pt(GAP)
        half, step = label.size / 2 + pad, self.pt(6.0)
        x0, y0, x1, y1 = label.area.bounds
        across, up = (np.arange(low + h, high - h + 1e-6, step) for low, high, h in
                      ((x0, x1, half[0]), (y0, y1, half[1])))  # fmt: skip
        centres = np.stack(np.meshgrid(across, up), -1).reshape(-1, 2)
        if not len(centres):
            return []
        shapely.prepare(label.area)
        fits = shapely.contains(label.area, shapely.box(*(centres - half).T, *(centres + half).T))
        centres = centres[fits]
        return [(centres, np.hypot(*(centres - label.anchor).T) * 0.2, False)] if len(centres) else []

    def _nearer_to_others(self, centres: Array, size: Array, reach: Array, wish: Wish) -> Any:
        """Whether a label there stands nearer to what another label names than to its own place."""
        others = self.px([each.anchor for each in self.wishes if each.anchor != wish.anchor] or np.empty((0, 2)))
        if not len(others):
            return np.zeros(len(centres))
        beyond = np.maximum(np.abs(centres[:, None] - others) - size / 2, 0.0)
        return np.any(np.hypot(beyond[..., 0], beyond[..., 1]) < reach[:, None] - self.pt(4), axis=1)

    def _candidates(self, anchor: Array, size: Array) -> tuple[Array, Array]:
        """Centres of boxes round an anchor and their edges' distance [px]; a coarse grid as last resort."""
        angles = np.linspace(0, 2 * np.pi, WAYS, endpoint=False)
        ways = np.stack([np.cos(angles), np.sin(angles)], -1)
        with np.errstate(divide="ignore"):
            stretch = np.min(size / 2 / np.abs(ways), axis=1)
        near = [anchor + ways * (stretch + self.pt(r))[:, None] for r in REACH]
        reach = np.repeat([self.pt(r) for r in REACH], WAYS)
        box = self.ax.bbox
        grid = np.meshgrid(np.linspace(box.x0, box.x1, 16), np.linspace(box.y0, box.y1, 28), indexing="ij")
        far = np.stack(grid, -1).reshape(-1, 2)
        return np.concatenate([*near, far]), np.concatenate([reach, np.hypot(*(far - anchor).T) * 1.2])

    def _inside(self, centres: Array, size: Array) -> Any:
        box, pad = self.ax.bbox, self.pt(4)
        low = np.array([box.x0, box.y0]) + size / 2 + pad
        high = np.array([box.x1, box.y1 - self.pt(self.head - 6)]) - size / 2 - pad
        return np.all((centres >= low) & (centres <= high), axis=1)

    def _free(self, centres: Array, size: Array) -> Any:
        """Whether a label there keeps its distance from every other text."""
        boxes = np.array(self.boxes).reshape(-1, 4)
        low, high = (centres + way * (size / 2 + self.pt(GAP)) for way in (-1, 1))
        apart = (low[:, None] > boxes[None, :, 2:]) | (high[:, None] < boxes[None, :, :2])
        return np.all(np.any(apart, axis=2), axis=1)

    def _cells(self, points: Array, raster: Array) -> tuple[Any, Any]:
        cell = ((points - [self.ax.bbox.x0, self.ax.bbox.y0]) / CELL).astype(int)
        return np.clip(cell[..., 0], 0, raster.shape[0] - 1), np.clip(cell[..., 1], 0, raster.shape[1] - 1)

    def _ink_under(self, centres: Array, size: Array, raster: Array) -> Array:
        """Ink covered by a label at each centre, through a table of sums."""
        sums = np.pad(raster.cumsum(0).cumsum(1), ((1, 0), (1, 0)))
        i0, j0 = self._cells(centres - size / 2, raster)
        i1, j1 = (n + 1 for n in self._cells(centres + size / 2, raster))
        return np.asarray(sums[i1, j1] - sums[i0, j1] - sums[i1, j0] + sums[i0, j0])

    def _ink_along(self, start: Array, end: Array, raster: Array) -> Array:
        """Ink that each leader crosses, but for what lies at its anchor."""
        i, j = self._cells(_samples(start, end), raster)
        far = np.hypot(*(end - start).T)[:, None] * np.linspace(0, 1, SAMPLES) > self.pt(6)
        return np.asarray(np.sum(raster[i, j] * far, axis=1))

    def _through_boxes(self, start: Array, end: Array) -> Any:
        """Whether each leader runs through another text."""
        boxes = np.array(self.boxes).reshape(-1, 4)
        way = (end - start)[:, None]
        with np.errstate(
            divide="ignore", invalid="ignore"
        ):  # level and upright leaders: infinities sort themselves out
            one, other = (boxes[:, :2] - start[:, None]) / way, (boxes[:, 2:] - start[:, None]) / way
        enters, leaves = np.minimum(one, other).max(axis=-1), np.maximum(one, other).min(axis=-1)
        return np.any((enters < leaves) & (leaves > 0) & (enters < 1), axis=1)


def _same(one: Array | None, other: Array | None) -> bool:
    return one is other or (one is not None and other is not None and bool(np.array_equal(one, other)))


def _leads(anchor: Array, centres: Array, size: Array) -> tuple[Array, Array]:
    """Both ends of the leaders from an anchor to boxes round each centre, (n, 2) [px]."""
    end = np.clip(anchor, centres - size / 2 - 1, centres + size / 2 + 1)
    return np.broadcast_to(anchor, end.shape), end


def _samples(start: Array, end: Array) -> Array:
    share = np.linspace(0, 1, SAMPLES)[:, None]
    return np.asarray(start[:, None] + share * (end - start)[:, None])


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


def path_of(shape: BaseGeometry | Array) -> Path | None:
    """A shapely geometry or the points of one outline as a path; None when it is empty."""
    if isinstance(shape, np.ndarray):
        return Path(np.concatenate([shape, shape[:1]]), closed=True) if len(shape) > 1 else None
    if shape.is_empty:
        return None
    pieces = []
    for part in shapely.get_parts(shape):
        if part.geom_type == "Polygon":
            pieces += [Path(np.array(ring.coords), closed=True) for ring in (part.exterior, *part.interiors)]
        elif part.geom_type == "LineString":
            pieces.append(Path(np.array(part.coords)))
    return Path.make_compound_path(*pieces) if pieces else None
