"""One panel of a sheet: scale, lines, marks, texts and dimension lines.

Everything drawn leaves its trail as ink, in pixels, by which `labels.place_labels` finds free places for labels.
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
from matplotlib.lines import Line2D
from matplotlib.patches import FancyArrowPatch, PathPatch
from matplotlib.path import Path
from matplotlib.text import Text
from matplotlib.transforms import Bbox
from shapely.geometry.base import BaseGeometry

from fitment.draw.lettering import renderer_of, shrink_to
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
HEADING, FOOTING = 50.0, 29.0  # [pt] strips that belong to a heading with one line below, and to directions and scale
CAPTION_LINE, ASCENT = 15.0, 0.78  # [pt], [of the size] from a line's top to its baseline


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
        """A filled outline; a hatch lies on the fill and under the outline, in its own colour."""
        path = path_of(shape)
        if path is None:
            return None
        if hatch:
            under = PathPatch(
                path, facecolor=fill, edgecolor=hatch_color or edge, linewidth=0, hatch=hatch, zorder=layer
            )
            self.ax.add_artist(under)
            self.keep(under)
        patch = PathPatch(
            path,
            facecolor="none" if hatch else fill,
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

    def marks(
        self, points: Any, marker: str, size: float, edge: str, *, face: str | None = None, width: float = 1.0,
        layer: float = 5.0, ink: float = 0.0,
    ) -> None:  # fmt: skip
        """Marks at points (n, 2); size, width [pt]; face: of the colour of its edge when None."""
        at = np.reshape(np.asarray(points, dtype=float), (-1, 2))
        self.artists += self.ax.plot(
            *at.T, linestyle="none", marker=marker, markersize=size, markerfacecolor=face or edge,
            markeredgecolor=edge, markeredgewidth=width, zorder=layer,
        )  # fmt: skip
        if ink:
            self.dot_ink(at, ink)

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
        for line in (part for paragraph in caption.split("\n") for part in wrap(paragraph, room)):
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

    def dimension_gap(self, a: Array, b: Array, color: str, *, width: float = LINE) -> Array:
        """A dimension line along a gap: arrows between its ends, or two from outside where it is too short for them.

        Returns both ends of the whole line with its arrows (2, 2).
        """
        step = np.asarray(b, dtype=float) - a
        length = float(np.hypot(*step))
        if length > 3 * SHORTEST_ARROW * self.per_pt:
            self.arrow(a, b, color, both=True, width=width)
            return np.array([a, b])
        way = step / length if length > 1e-9 else np.array([0.0, 1.0])
        ends = np.array([a - way * OUTSIDE_ARROW * self.per_pt, b + way * OUTSIDE_ARROW * self.per_pt])
        for tip, end in ((a, ends[0]), (b, ends[1])):
            self.arrow(end, tip, color, width=width)
        self.line([a, b], color, width=width, layer=6)
        return ends

    def patch(self) -> dict[str, Any]:
        """Ground under a text, so that lines do not run through it."""
        return {"boxstyle": "square,pad=0.12", "facecolor": self.theme.panel, "edgecolor": "none"}

    # ------------------------------------------------------------ labels

    def wish(self, text: str, anchor: Any, color: str, **more: Any) -> None:
        """Ask for a label; `labels.place_labels` finds where it goes."""
        self.wishes.append(Wish(text, (float(anchor[0]), float(anchor[1])), color, **more))

    def wish_within(self, text: str, shape: BaseGeometry, color: str) -> None:
        """Ask for a label in the largest piece of an area, or beside it; left out where there is no room."""
        largest = max(shapely.get_parts(shape), key=lambda part: part.area)
        place = largest.representative_point()
        self.wish(text, (place.x, place.y), color, optional=True, area=largest)


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
