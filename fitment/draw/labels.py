"""Where the labels of a panel go: each to the cheapest free place near what it names.

Everything drawn on a panel has left its trail as ink; a raster of it tells what a label or its leader would cover.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from matplotlib.text import Text
from shapely.geometry.base import BaseGeometry

from fitment.draw.panel import CELL, Panel, Wish
from fitment.draw.style import HAIR, SMALL, font
from fitment.frames import Array

GAP = 3.0  # [pt] kept free round every label
REACH = (9.0, 16.0, 26.0, 40.0, 58.0, 80.0, 110.0, 150.0)  # [pt] how far a label may stand from its anchor
MISLEADING = 45.0  # cost of a label that stands nearer to what another one names
OPTIONAL_COST = 75.0  # a label that is not needed is left out beyond this
CROSSING = 7.0  # cost of each outline that a leader crosses
LEADER_INK = 2.0  # weight of another label's leader
ROUNDS = 4  # how often labels choose
AREA_DOT = 2.6  # [pt] the mark at the end of a leader that points into an area
WAYS = 24  # directions tried
SAMPLES = 60  # points of a leader that are looked at
LIKELY = 24  # places whose leaders are looked at first

Box = tuple[float, float, float, float]  # x0, y0, x1, y1 [px]


@dataclass
class _Label:
    """A label on its way: its text, its anchor [px], its size, from its centre to the text's own place, its place."""

    wish: Wish
    artist: Text
    anchor: Array
    size: Array
    offset: Array
    area: BaseGeometry | None
    centre: Array | None = None

    def box(self) -> Box:
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
class _Raster:
    """How much ink each cell of a panel holds, (columns, rows), the first one at `corner` [px]."""

    cells: Array
    corner: Array

    def add(self, points: Array, weight: float) -> None:
        """Ink at points (n, 2) [px]; the heavier one counts."""
        cell = ((points - self.corner) / CELL).astype(int)
        i, j = cell[np.all((cell >= 0) & (cell < self.cells.shape), axis=1)].T
        self.cells[i, j] = np.maximum(self.cells[i, j], weight)

    def over(self, ground: _Raster) -> _Raster:
        """Both together."""
        return _Raster(np.maximum(self.cells, ground.cells), self.corner)

    def with_leaders(self, labels: Sequence[_Label]) -> _Raster:
        """A copy with the leaders of these labels on it."""
        drawn = _Raster(self.cells.copy(), self.corner)
        for start, end in (leader for label in labels if (leader := label.leader()) is not None):
            steps = np.linspace(0, 1, 2 + int(np.hypot(*(end - start)) / CELL))[:, None]
            drawn.add(start + steps * (end - start), LEADER_INK)
        return drawn

    def at(self, points: Array) -> tuple[Any, Any]:
        """Column and row of the cells at points (..., 2), the nearest one for a point outside."""
        cell = ((points - self.corner) / CELL).astype(int)
        return tuple(np.clip(cell[..., k], 0, self.cells.shape[k] - 1) for k in (0, 1))

    def under(self, centres: Array, size: Array) -> Array:
        """Ink covered by a label at each centre, through a table of sums."""
        sums = np.pad(self.cells.cumsum(0).cumsum(1), ((1, 0), (1, 0)))
        i0, j0 = self.at(centres - size / 2)
        i1, j1 = (n + 1 for n in self.at(centres + size / 2))
        return np.asarray(sums[i1, j1] - sums[i0, j1] - sums[i1, j0] + sums[i0, j0])

    def along(self, start: Array, end: Array, near: float) -> Array:
        """Ink that each leader crosses, but for what lies nearer [px] to its anchor."""
        share = np.linspace(0, 1, SAMPLES)
        far = np.hypot(*(end - start).T)[:, None] * share > near
        return np.asarray(
            np.sum(self.cells[self.at(start[:, None] + share[:, None] * (end - start)[:, None])] * far, 1)
        )


def place_labels(panel: Panel) -> None:
    """Give every wish its place, the first ones choosing first, then each again now that the others stand.

    A label without any free place is left out.
    """
    labels = [_measured(panel, wish) for wish in panel.wishes]
    raster, ground, taken = _raster(panel, panel.ink), _raster(panel, panel.grounds), list(panel.boxes)
    stood: list[list[Box | None]] = [[] for _ in labels]  # of each label where the others were when it last chose
    for _ in range(ROUNDS):
        before = [label.centre for label in labels]
        for i, label in enumerate(labels):
            stand = [None if other is label or other.centre is None else other.box() for other in labels]
            if stand == stood[i]:
                continue
            others = [other for other, box in zip(labels, stand, strict=True) if box is not None]
            boxes = [*taken, *(box for box in stand if box is not None)]
            label.centre, stood[i] = _best_place(panel, label, boxes, raster.with_leaders(others), ground), stand
        if all(_same(centre, label.centre) for centre, label in zip(before, labels, strict=True)):
            break
    for label in labels:
        _set(panel, label)
    panel.wishes.clear()


def _raster(panel: Panel, ink: Sequence[tuple[Array, float]]) -> _Raster:
    box = panel.ax.bbox
    cells = np.zeros((int(box.width / CELL) + 2, int(box.height / CELL) + 2))
    made = _Raster(cells, np.array([box.x0, box.y0]))
    for points, weight in ink:
        made.add(points, weight)
    return made


def _measured(panel: Panel, wish: Wish) -> _Label:
    artist = _text(panel, wish)
    x0, y0, x1, y1 = panel.extent(artist)
    size, offset = np.array([x1 - x0, y1 - y0]), np.array([(x0 + x1) / 2, (y0 + y1) / 2])
    area = None if wish.area is None else shapely.transform(wish.area, panel.px)
    return _Label(wish, artist, panel.px([wish.anchor])[0], size, offset, area)


def _text(panel: Panel, wish: Wish) -> Text:
    frame = {"boxstyle": "round,pad=0.28,rounding_size=0.25", "linewidth": 0, "facecolor": panel.theme.alarm}
    plain = {"boxstyle": "square,pad=0.05", "linewidth": 0, "facecolor": panel.theme.panel, "alpha": 0.75}
    return panel.ax.text(
        0, 0, wish.text, fontproperties=font(SMALL, bold=wish.bold or wish.alarm), linespacing=1.15, ha="center",
        va="center", color=panel.theme.alarm_text if wish.alarm else wish.color, zorder=9, transform=None,
        bbox=frame if wish.alarm else plain,
    )  # fmt: skip


def _set(panel: Panel, label: _Label) -> None:
    """The label at its place with its leader, or away with it."""
    artist, wish = label.artist, label.wish
    if label.centre is None:
        artist.remove()
        return
    back = panel.ax.transData.inverted()
    artist.set_transform(panel.ax.transData)
    artist.set_position(tuple(back.transform(label.centre - label.offset)))
    panel.keep(artist)
    panel.boxes.append(label.box())
    leader = label.leader()
    if leader is None or np.hypot(*(leader[1] - leader[0])) <= panel.pt(4):
        return
    ends, color = back.transform(leader), panel.theme.ink if wish.alarm else wish.color
    panel.line(ends, color, width=HAIR, layer=7)
    if label.area is not None:
        panel.artists += panel.ax.plot(*ends[0], marker="o", markersize=AREA_DOT, color=color, zorder=7)


def _best_place(panel: Panel, label: _Label, boxes: Sequence[Box], raster: _Raster, ground: _Raster) -> Array | None:
    """The cheapest free centre [px]; None where there is none, or none worth it for a label that is not needed."""
    wish, size, taken = label.wish, label.size, np.array(boxes).reshape(-1, 4)
    places = _within(panel, label)
    if not wish.within:
        places.append((*_round_about(panel, label.anchor, size), True))
    best: list[tuple[float, Array]] = []
    for centres, reach, led in places:
        usable = _inside(panel, centres, size) & _free(panel, centres, size, taken)
        if np.any(usable):
            ink = raster.over(ground) if led and not wish.alarm else raster
            cost = _cost(panel, label, centres[usable], reach[usable], taken, ink, led=led)
            best.append((float(cost.min()), centres[usable][int(np.argmin(cost))]))
    if not best:
        return None
    least, centre = min(best, key=lambda each: each[0])
    return None if wish.optional and least > OPTIONAL_COST else centre


def _cost(
    panel: Panel, label: _Label, centres: Array, reach: Array, taken: Array, ink: _Raster, *, led: bool
) -> Array:  # fmt: skip
    """What it costs to set the label at each centre; led : with a leader, infinite where that cannot be the least."""
    wish, size = label.wish, label.size
    bare = reach / panel.pt(1) * 0.45 + ink.under(centres, size) * 5.0
    if not led:
        return np.asarray(bare)
    liked = np.zeros(len(centres))
    if wish.prefer is not None:
        step = centres - label.anchor
        liked = 12.0 * (step @ np.array(wish.prefer)) / np.maximum(np.hypot(*step.T), 1.0)
    misleading = MISLEADING * (0.3 if wish.optional else 1.0)

    def with_leader(at: Any) -> Array:
        start, end = _leads(label.anchor, centres[at], size)
        cost = bare[at] + ink.along(start, end, panel.pt(6)) * CROSSING + 400.0 * _through_boxes(start, end, taken)
        cost = cost + misleading * _nearer_to_others(panel, centres[at], size, reach[at], wish)
        return np.asarray(cost - liked[at])

    cost, at_least = np.full(len(centres), np.inf), bare - liked  # a leader only adds to it
    first = np.argsort(at_least)[:LIKELY]
    cost[first] = with_leader(first)
    rest = np.flatnonzero(np.isinf(cost) & (at_least <= cost.min() + 1e-6))
    cost[rest] = with_leader(rest)
    return cost


def _within(panel: Panel, label: _Label) -> list[tuple[Array, Array, bool]]:
    """Places of a label within what it names, with a fifth of their way from the anchor [px]."""
    if label.area is None or label.area.is_empty:
        return []
    half, step = label.size / 2 + panel.pt(GAP), panel.pt(6.0)
    x0, y0, x1, y1 = label.area.bounds
    across, up = (np.arange(low + h, high - h + 1e-6, step) for low, high, h in
                  ((x0, x1, half[0]), (y0, y1, half[1])))  # fmt: skip
    centres = np.stack(np.meshgrid(across, up), -1).reshape(-1, 2)
    shapely.prepare(label.area)
    centres = centres[shapely.contains(label.area, shapely.box(*(centres - half).T, *(centres + half).T))]
    return [(centres, np.hypot(*(centres - label.anchor).T) * 0.2, False)] if len(centres) else []


def _round_about(panel: Panel, anchor: Array, size: Array) -> tuple[Array, Array]:
    """Centres of boxes round an anchor and their edges' distance [px]; a coarse grid as last resort."""
    angles = np.linspace(0, 2 * np.pi, WAYS, endpoint=False)
    ways = np.stack([np.cos(angles), np.sin(angles)], -1)
    with np.errstate(divide="ignore"):
        stretch = np.min(size / 2 / np.abs(ways), axis=1)
    near = [anchor + ways * (stretch + panel.pt(r))[:, None] for r in REACH]
    reach = np.repeat([panel.pt(r) for r in REACH], WAYS)
    box = panel.ax.bbox
    grid = np.meshgrid(np.linspace(box.x0, box.x1, 16), np.linspace(box.y0, box.y1, 28), indexing="ij")
    far = np.stack(grid, -1).reshape(-1, 2)
    return np.concatenate([*near, far]), np.concatenate([reach, np.hypot(*(far - anchor).T) * 1.2])


def _inside(panel: Panel, centres: Array, size: Array) -> Any:
    """Whether a label there lies in the panel, below its heading."""
    box, pad = panel.ax.bbox, panel.pt(4)
    low = np.array([box.x0, box.y0]) + size / 2 + pad
    high = np.array([box.x1, box.y1 - panel.pt(panel.head - 6)]) - size / 2 - pad
    return np.all((centres >= low) & (centres <= high), axis=1)


def _free(panel: Panel, centres: Array, size: Array, taken: Array) -> Any:
    """Whether a label there keeps its distance from every other text."""
    low, high = (centres + way * (size / 2 + panel.pt(GAP)) for way in (-1, 1))
    apart = (low[:, None] > taken[None, :, 2:]) | (high[:, None] < taken[None, :, :2])
    return np.all(np.any(apart, axis=2), axis=1)


def _nearer_to_others(panel: Panel, centres: Array, size: Array, reach: Array, wish: Wish) -> Any:
    """Whether a label there stands nearer to what another label names than to its own place."""
    others = panel.px([other.anchor for other in panel.wishes if other.anchor != wish.anchor] or np.empty((0, 2)))
    beyond = np.maximum(np.abs(centres[:, None] - others) - size / 2, 0.0)
    return np.any(np.hypot(beyond[..., 0], beyond[..., 1]) < reach[:, None] - panel.pt(4), axis=1)


def _through_boxes(start: Array, end: Array, taken: Array) -> Any:
    """Whether each leader runs through another text."""
    way = (end - start)[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):  # level and upright leaders: infinities sort themselves out
        at_low, at_high = (taken[:, :2] - start[:, None]) / way, (taken[:, 2:] - start[:, None]) / way
    enters, leaves = np.minimum(at_low, at_high).max(axis=-1), np.maximum(at_low, at_high).min(axis=-1)
    return np.any((enters < leaves) & (leaves > 0) & (enters < 1), axis=1)


def _same(one: Array | None, other: Array | None) -> bool:
    return one is other or (one is not None and other is not None and bool(np.array_equal(one, other)))


def _leads(anchor: Array, centres: Array, size: Array) -> tuple[Array, Array]:
    """Both ends of the leaders from an anchor to boxes round each centre, (n, 2) [px]."""
    end = np.clip(anchor, centres - size / 2 - 1, centres + size / 2 + 1)
    return np.broadcast_to(anchor, end.shape), end
