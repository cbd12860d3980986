"""Where a part must be cut: a panel laid flat as it is seen from the wheel, a lip along its arc by o'clock.

The heavy line is the one to cut along, what must go is hatched; the others are of equal clearance as measured.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle
from shapely.geometry.base import BaseGeometry

from fitment.draw.chart import Scale, new_chart
from fitment.draw.figure_page import Box, Sheet, unframed
from fitment.draw.labels import place_labels
from fitment.draw.lettering import letter
from fitment.draw.panel import Area, Panel
from fitment.draw.style import BOLD, CHAIN, DASHED, DOTTED, HAIR, HATCH_OLD, LIGHT, LINE, SMALL, THIN, Theme, words
from fitment.frames import Array
from fitment.report.cut_lines import clock_text, depth_text, heading_words, required_words
from fitment.units import MM_PER_INCH, length_text

if TYPE_CHECKING:
    from fitment.answers.cut_lines import CutLines
    from fitment.clearance.sheet_levels import LevelLines

PANEL_HEIGHT, LIP_HEIGHT = 6.6, 4.2  # [in] of the view on a sheet of its own
KEY_ROW, SAMPLE, KEY_GAP = 0.24, 34.0, 8.0  # [in] of the key; [pt] of a line's sample, and to its words
APART = (54.0, 42.0)  # [pt] between pieces beside, and below one another
AROUND = 44.0  # [pt] round the drawing for numbers
TALLEST_LIP = 12.0  # [mm] of depth shown at least
CLOCK_TICK = 0.5  # [h]
NARROW = 7.0  # [in] of a box below which the key has one column
AHEAD, UP, OUT = "ahead", "up", "outboard"
BELOW_LIP, ABOVE_LIP = 62.0, 20.0  # [pt] for o'clock below the chart, and above it
LIP_ROOM = BELOW_LIP + ABOVE_LIP
LIP_STEPS, LEAST_PITCH = (2.0, 5.0, 10.0, 20.0, 50.0, 100.0), 15.0  # [mm] between depths, [pt] between their figures
MIXED = "Ahead is left on one section and right on another, since up is at the top: go by the arrows"
LEANS = 0.5  # [-] from which a direction of the body is told beside a flat piece


@dataclass(frozen=True)
class PageLaid:
    """How flat places of a piece are laid on the page: turned, then moved (2,) [mm]."""

    turn: Array
    move: Array

    def at(self, flat: Array) -> Array:
        """Places (n, 2) on the page [mm]."""
        return np.asarray(flat @ self.turn.T + self.move)

    def shape(self, flat: BaseGeometry) -> BaseGeometry:
        """A shape on the page."""
        return shapely.transform(flat, self.at)


def cut_height(found: CutLines, old: CutLines | None) -> float:
    """What the view needs on a sheet of its own [in]."""
    return (LIP_HEIGHT if found.is_lip else PANEL_HEIGHT) + (KEY_ROW * 3 if _key_rows(found, old, LIGHT, "mm") else 0)


def cut_notes(found: CutLines) -> str:
    """How the view is read: of the cut line, the other lines, numbers and letters what there is of them."""
    told = []
    if _drawn(found.kept.line, found):
        told.append(
            "Behind the cut line every required clearance is kept as measured, and nothing touches in the worst case; "
            "the other lines are as measured."
        )
    elif any(_drawn(lines, found) for lines, *_ in _styles(found, LIGHT)):
        told.append("The lines are as measured.")
    if found.over is not None:
        told += ["Letters: places of a scan, told in text and pattern."] if found.points else []
    else:
        told.append("Numbers: measured points" + (", row and place in it." if not found.is_lip else "."))
    return " ".join([*told, *(["Never cut a frame or a structural part by this."] if found.is_short else []), ""])


def cut_view(sheet: Sheet, box: Box, found: CutLines, old: CutLines | None, units: str) -> None:
    """The part with its lines and a key below; of an old case the line to cut along, dashed."""
    rows = _key_rows(found, old, sheet.theme, units)
    below = KEY_ROW * (3 if box.width > NARROW else 5) if rows else 0.0
    upper = Box(box.left, box.top, box.width, box.height - below)
    panel = Panel(sheet.at(upper), sheet.theme)
    (_lip if found.is_lip else _panel)(panel, found, old, units)
    place_labels(panel)
    if rows:
        _key(unframed(sheet.at(Box(box.left, box.top + upper.height, box.width, below))), sheet.theme, rows)


# ---------------------------------------------------------------- a panel


def _panel(panel: Panel, found: CutLines, old: CutLines | None, units: str) -> None:
    theme = panel.theme
    count, shown = found.sheet.flat.shape[1], found.shown
    title, caption = heading_words(found, units)
    seen = "Laid flat" if count == 1 else f"Laid flat in {count} sections"
    seen += f", {len(shown)} shown, of which something must go" if len(shown) < count else ""
    seen += f"; seen from the wheel, so the side that is drawn faces it; {found.side or 'left'} side"
    seen += "; folded where it is thin dashed" if any(found.folds(k) for k in shown) else ""
    seen += "; equal letters are one place, on the fold between two" if found.has_joins else ""
    if found.over is not None:
        seen += f"; {depth_text(found.over.off, units)} taken off everywhere for the scan's roughness"
    panel.heading(words(title, 60), f"{caption}\n{seen}", "")
    width, height = panel.size_pt()
    laid = laid_out(found, (width - 2 * AROUND, height - panel.head - 2 * AROUND))
    if len({bool(way[0] > 0) for way in _aheads(found, laid) if abs(way[0]) > LEANS}) > 1:
        panel.text(
            (9 / width, 8 / height), MIXED, color=theme.quiet, transform=panel.ax.transAxes, va="bottom", ha="left",
            bbox=panel.patch(),
        )  # fmt: skip
    shapes = [laid[k].shape(found.outline(k)) for k in shown]
    low, high = np.array(shapely.total_bounds(np.array(shapes))).reshape(2, 2)
    panel.fit(Area(low, high), (AROUND, AROUND, AROUND, panel.head + AROUND / 2), (False, False))
    for k, shape in zip(shown, shapes, strict=True):
        panel.area(shape, edge=theme.part, fill=theme.part_far, width=LINE, layer=1.0)
        for fold in found.folds(k):
            panel.line(laid[k].at(fold), theme.part, width=HAIR, style=DASHED, layer=2.0)
        _directions(panel, found, k, laid[k], shape, units)
    _lines(panel, found, old, lambda flat, k: laid[k].at(flat))
    for point in found.points:
        at = laid[point.piece].at(np.array([point.at]))[0]
        panel.marks([at], "o", 4.0, theme.ink, layer=6.0, ink=3.0)
        panel.wish(point.name, at, theme.ink)
    bar = 100.0 if units == "mm" else 4 * MM_PER_INCH
    panel.scale_bar(bar, length_text(bar, units, digits=0))


def laid_out(found: CutLines, room: tuple[float, float]) -> dict[int, PageLaid]:
    """The pieces that are shown, beside or below one another, turned or not, so that they are largest on the page.

    room : its width and height [pt]
    Source: the four ways are tried.
    """
    outlines = [found.outline(k) for k in found.shown]
    best: tuple[float, dict[int, PageLaid]] = (0.0, {})
    for turned in (False, True):
        turns = _turns(found, outlines, turned=turned)
        own = [shapely.transform(*pair) for pair in zip(outlines, map(_turning, turns), strict=True)]
        bounds = np.array([each.bounds for each in own])
        sizes = bounds[:, 2:] - bounds[:, :2]
        for way in (0, 1):
            order = range(len(own)) if way == 0 else range(len(own))[::-1]
            most = [float(sizes[:, k].sum() if k == way else sizes[:, k].max()) for k in (0, 1)]
            free = [side - APART[k] * (len(own) - 1) * (k == way) for k, side in enumerate(room)]
            per_pt = max(length / max(side, 1.0) for length, side in zip(most, free, strict=True))
            gap = APART[way] * per_pt
            starts, at = np.zeros((len(own), 2)), 0.0
            for k in order:
                starts[k, way] = at
                at += sizes[k, way] + gap
            if 1 / per_pt > best[0]:
                laid = [PageLaid(*each) for each in zip(turns, starts - bounds[:, :2], strict=True)]
                best = 1 / per_pt, dict(zip(found.shown, laid, strict=True))
    return best[1]


def _turning(turn: Array) -> Callable[[Array], Array]:
    return lambda at: at @ turn.T


def _turns(found: CutLines, outlines: Sequence[BaseGeometry], *, turned: bool) -> list[Array]:
    """The turn of each piece that is shown, never a mirror: up to the top where that is up the page, of the others
    ahead to the side to which most of those have it (where there are none to the left, of the right side to the right),
    or to the top."""
    turn = np.array([[0.0, 1.0], [-1.0, 0.0]]) if turned else np.eye(2)
    ways = [found.ways(k) @ turn.T for k in found.shown]
    votes = [
        own.area * np.sign(up[1] * ahead[0])
        for own, (ahead, _, up) in zip(outlines, ways, strict=True)
        if abs(up[1]) > LEANS and abs(ahead[0]) > LEANS
    ]
    to_right = sum(votes) > 0 if votes else found.side == "right"
    return [-turn if _is_upside_down(ahead, up, to_right=to_right) else turn for ahead, _, up in ways]


def _is_upside_down(ahead: Array, up: Array, *, to_right: bool) -> bool:
    """Whether a piece is to be turned by half, by how the body's ways lie on the page (2,) [-]."""
    if abs(up[1]) > LEANS:
        return bool(up[1] < 0)
    if abs(ahead[0]) > LEANS:
        return bool((ahead[0] > 0) != to_right)
    return bool(ahead[1] < 0 if abs(ahead[1]) > LEANS else up[1] < 0)


def _aheads(found: CutLines, laid: dict[int, PageLaid]) -> list[Array]:
    """Which way is ahead on the page, of each piece (2,) [-]."""
    return [found.ways(k)[0] @ laid[k].turn.T for k in laid]


def _directions(panel: Panel, found: CutLines, piece: int, laid: PageLaid, shape: BaseGeometry, units: str) -> None:
    """Which way is ahead, up or outboard, beside the sides of a piece, and below it its size."""
    x0, y0, x1, y1 = shape.bounds
    ways = found.ways(piece) @ laid.turn.T
    step = 5 * panel.per_pt
    sides = (
        (0, 1, (x1 + step, (y0 + y1) / 2), {"ha": "left", "va": "center", "rotation": 90}),
        (0, -1, (x0 - step, (y0 + y1) / 2), {"ha": "right", "va": "center", "rotation": 90}),
        (1, 1, ((x0 + x1) / 2, y1 + step), {"ha": "center", "va": "bottom"}),
        (1, -1, ((x0 + x1) / 2, y0 - step), {"ha": "center", "va": "top"}),
    )
    names = ((AHEAD, "behind"), (OUT, "inboard"), (UP, "below"))
    for axis, sign, at, more in sides:
        leans = ways[:, axis] * sign
        main = int(np.argmax(np.abs(leans)))
        told = [names[main][0 if leans[main] > 0 else 1]] if abs(leans[main]) > LEANS else []
        if told == [AHEAD]:  # of what is read upwards an arrow up points to the left
            told = [f"{AHEAD} {'▼' if (axis == 0) == (sign > 0) else '▲'}"]
        if (axis, sign) == (1, -1):
            told.append(" x ".join(length_text(size, units, digits=0) for size in (x1 - x0, y1 - y0)))
        if told:
            panel.text(at, "; ".join(told), color=panel.theme.quiet, **more)


# ---------------------------------------------------------------- a lip


def _lip(panel: Panel, found: CutLines, old: CutLines | None, units: str) -> None:
    """Depth to roll or trim up the page, o'clock across."""
    theme, centre = panel.theme, np.array(found.centre)
    title, caption = heading_words(found, units)
    panel.heading(words(title, 60), caption, "◀ ahead   behind ▶   by o'clock, seen from outside the left side")
    base = found.sheet.flat[:, 0, 1] == 0
    order = np.argsort(found.sheet.flat[base, 0, 0])
    along = found.sheet.flat[base, 0, 0][order]
    way = (found.sheet.places[base, 0] - centre)[order]
    hours = 9 + np.degrees(np.unwrap(np.arctan2(way[:, 2], way[:, 0]))) / 30

    def at(flat: Array, _: int = 0) -> Array:
        return np.stack([np.interp(flat[:, 0], along, hours), flat[:, 1]], -1)

    top = _lip_top(found)
    low, high = float(hours.min()), float(hours.max())
    ticks = np.arange(np.ceil(low / CLOCK_TICK), np.floor(high / CLOCK_TICK) + 1) * CLOCK_TICK
    room = panel.size_pt()[1] - LIP_ROOM - panel.head
    step = next(each for each in LIP_STEPS if top / each * LEAST_PITCH < max(room, LEAST_PITCH))
    up = Scale(0.0, top, tuple(np.arange(0.0, top + 1e-9, step).tolist()), step)
    on = new_chart(
        panel, Scale(low, high, tuple(ticks.tolist()), CLOCK_TICK), up, (64.0, 22.0, BELOW_LIP, panel.head + ABOVE_LIP)
    )
    on.grid_up(lambda value: length_text(value, units, digits=0 if units == "mm" else 2))
    on.grid_across(clock_text)
    panel.line([(low, 0.0), (high, 0.0)], theme.part, width=BOLD, layer=4.0)
    _lines(panel, found, old, at)
    for point in found.points:
        mark = at(np.array([point.at]))[0]
        panel.marks([mark], "o", 5.0, theme.ink, layer=6.0, ink=3.0)
        panel.wish(point.name, mark, theme.ink)
    for piece in found.kept.pieces[:1]:
        if not piece.more:
            panel.wish(depth_text(piece.deep, units), (piece.clock[2], piece.deep), theme.ink, bold=True)


def _lip_top(found: CutLines) -> float:
    """The depth that is shown [mm]."""
    deepest = max((piece.deep for cut in (found.kept, found.nominal) for piece in cut.pieces), default=0.0)
    return max(TALLEST_LIP, min(1.25 * deepest + 4, float(found.sheet.flat[..., 1].max())))


# ---------------------------------------------------------------- lines and key


def _lines(panel: Panel, found: CutLines, old: CutLines | None, at: Callable[[Array, int], Array]) -> None:
    """What must go hatched, and every line."""
    theme = panel.theme
    for k in range(found.sheet.flat.shape[1]):
        own = found.kept.line.below[found.kept.line.piece == k]
        if len(own):
            region = shapely.union_all(shapely.buffer(own, 0.01))
            shape = shapely.transform(region, lambda flat, k=k: at(flat, k))
            panel.area(shape, fill=theme.new_pale, layer=1.5, ink=False)
            panel.area(shape, hatch=HATCH_OLD, hatch_color=theme.new_wheel, layer=1.6, ink=False)
    for lines, style, width, color in _styles(found, theme):
        for line in lines.lines:
            if line.piece in found.shown:
                panel.line(at(line.flat, line.piece), color, width=width, style=style, layer=3.0)
    for line in old.kept.line.lines if old is not None else ():
        if line.piece in found.shown:
            panel.line(at(line.flat, line.piece), theme.old, width=LINE, style=DASHED, layer=3.6)
    for line in found.kept.line.lines:
        panel.line(at(line.flat, line.piece), theme.new, width=BOLD, layer=4.0)


def _styles(found: CutLines, theme: Theme) -> list[tuple[LevelLines, object, float, str]]:
    return [
        (found.touching, DOTTED, LINE, theme.ink),
        (found.required, "-", THIN, theme.quiet),
        (found.more, CHAIN, THIN, theme.quiet),
    ]


def _drawn(lines: LevelLines, found: CutLines) -> bool:
    """Whether the picture has any of these lines."""
    top = _lip_top(found) if found.is_lip else np.inf
    return any(line.piece in found.shown and float(line.flat[:, 1].min()) < top for line in lines.lines)


Key = tuple[object, float, str, str]
"""Style, width [pt] and colour of a line, and what it is; of what is hatched the style is HATCH_OLD."""


def _key_rows(found: CutLines, old: CutLines | None, theme: Theme, units: str) -> list[Key]:
    """What is drawn of lines and hatching, and what each is."""
    required = required_words(found, units)
    more = length_text(5.0, units, digits=0 if units == "mm" else 1)
    touching, at_required, beyond = ((width, color) for _, _, width, color in _styles(found, theme))
    hatched: Key = (HATCH_OLD, BOLD, theme.new_wheel, "hatched: must go, worst case counted")
    rows: list[tuple[LevelLines | None, Key]] = [
        (found.kept.line, ("-", BOLD, theme.new, "cut line, worst case counted; hatched: must go")),
        (found.required, ("-", *at_required, f"clearance required, {required}")),
        (found.touching, (DOTTED, *touching, "no clearance, it touches")),
        (found.more, (CHAIN, *beyond, f"{more} more than required")),
        (None if old is None else old.kept.line, (DASHED, LINE, theme.old, "cut line of the old build")),
    ]
    told = [key for lines, key in rows if lines is not None and _drawn(lines, found)]
    return [hatched, *told] if found.is_short and not _drawn(found.kept.line, found) else told


def _key(ax: Axes, theme: Theme, rows: Sequence[Key]) -> None:
    """Samples of the lines with what each is."""
    top, wide = float(ax.get_ylim()[1]), float(ax.get_xlim()[1])
    columns = 2 if wide > NARROW * 72 else 1
    for i, (style, width, color, text) in enumerate(rows):
        x, level = 8 + (i % columns) * wide / columns, top - (i // columns + 0.7) * KEY_ROW * 72
        if style == HATCH_OLD:
            box = Rectangle((x, level - 5), SAMPLE, 10, facecolor=theme.new_pale, edgecolor=color, hatch=HATCH_OLD)
            ax.add_patch(box)
        else:
            ax.plot([x, x + SAMPLE], [level, level], color=color, linewidth=width, linestyle=style)
        letter(ax, x + SAMPLE + KEY_GAP, level, text, theme.ink, SMALL, least=8.0, right=x + wide / columns - 8)
