"""Which view in which layout: a view alone, the sheet of all, a wide banner for a post, a tall picture for a phone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from matplotlib.artist import Artist
from matplotlib.figure import Figure

from fitment.checks.case import Case
from fitment.checks.full_case import FullCase
from fitment.draw.figure_page import EDGE, GAP, NOTE, ROW, Box, Sheet, new_sheet, notes, table, unframed, wrapped
from fitment.draw.headings import (
    BRIEF,
    CAUTION,
    CLEARANCE,
    COMPACT_HEAD,
    NOT_SERVED,
    STYLES,
    compact_head,
    head,
    head_height,
    tall_head,
    tall_head_height,
)
from fitment.draw.named_views import MAP_VIEW, MOTION, VEHICLE, chosen
from fitment.draw.sheets import (
    check_sheet,
    clearance_rows,
    compare_sheet,
    comparison_rows,
    plans,
    side_rows,
    side_views,
)
from fitment.draw.style import LIGHT, SHEET_WIDTH, Theme, look, theme_of, words
from fitment.draw.views.axle import Detail, axle_height, axle_section, axle_width
from fitment.draw.views.closest import closest_view
from fitment.draw.views.corner import front_section
from fitment.draw.views.film import FEWEST, film_view
from fitment.errors import FitmentError

if TYPE_CHECKING:
    from fitment.answers.cut_lines import CutLines
    from fitment.answers.margin_map import MarginMap
    from fitment.answers.motion_curves import Curves

BANNER, BANNER_DPI = (10.0, 5.0), 160  # [in] 1600 x 800 pixels
TALL, TALL_DPI = (6.0, 32 / 3), 180  # [in] 1080 x 1920 pixels
BANNER_EDGE, TALL_EDGE, CLOSE = 0.22, 0.24, 0.11  # [in] margins; space between panels there
TALL_ROWS = ("section width", "overall diameter", "track", "tightest clearance")
FULL_WIDTH, CORNER_HEIGHT = 8.0, 4.5  # [in] least for all dimensions on the axle, for a corner alone
SMALL = Detail(full=False, labels=2)
BARE = Detail(full=False, labels=0, track=False)  # larger so: the numbers stand in what is below
LEAST_NUMBERS = 3.0  # [in] of width for a table of numbers
MOST_CLEARANCES = 4  # rows of the table of a tall picture


@dataclass(frozen=True)
class Pair:
    """The case that is shown and what it is compared with; cut : the cut lines of a part, where they are known."""

    new: Case
    old: Case | None
    units: str
    cut: CutLines | None = None

    @cached_property
    def cuts(self) -> tuple[CutLines, CutLines | None]:
        """The cut lines of the part that was asked for, else of the one that is short by most, and the old build's."""
        from fitment.answers.cut_lines import lines_of_same, lines_to_cut

        new = self.cut or lines_to_cut(self.new)
        return new, None if self.old is None else lines_of_same(self.old, new)

    @cached_property
    def maps(self) -> tuple[tuple[Case, MarginMap | None], tuple[Case, MarginMap | None] | None]:
        """The map of margin of each, worked out once, and only for the view that draws it."""
        from fitment.answers.margin_map import least_margins

        return (self.new, least_margins(self.new)), None if self.old is None else (self.old, least_margins(self.old))


Fill = Callable[[Sheet, Box, Pair], object]
"""Draws a view into a box of a sheet"""


@dataclass(frozen=True)
class Kind:
    """A view.

    fill : draws it; height : what it needs on a sheet of its own [in]; notes : how it is read
    """

    fill: Fill
    height: Callable[[Pair], float]
    notes: str | Callable[[Pair], str] = ""


def one(draw: Callable[..., list[Artist]], **more: object) -> Fill:
    """A view that is one panel: draw(ax, new, old, units=, theme=)."""

    def fill(sheet: Sheet, box: Box, pair: Pair) -> list[Artist]:
        return draw(sheet.at(box), pair.new, pair.old, units=pair.units, theme=sheet.theme, **more)

    return fill


def _front(sheet: Sheet, box: Box, pair: Pair) -> object:
    """The axle with all dimensions where there is room for them, without in a low box; in a narrow one a corner."""
    if box.width < FULL_WIDTH and box.height > CORNER_HEIGHT:
        return one(front_section, title="Left wheel, at ride height")(sheet, box, pair)
    full = box.width >= FULL_WIDTH and box.height >= 0.9 * axle_height(pair.new, pair.old, box.width)
    return _axle(sheet, box, pair, Detail() if full else SMALL)


def _low_front(sheet: Sheet, box: Box, pair: Pair) -> None:
    """The axle as large as the height allows, and the numbers in the width left, if enough."""
    wide = axle_width(pair.new, pair.old, box.height, SMALL)
    if box.width - wide < LEAST_NUMBERS / 2:
        _front(sheet, box, pair)
        return
    wide = min(wide, box.width - LEAST_NUMBERS)
    left, right = box.columns(wide, box.width - wide - 2 * CLOSE, gap=2 * CLOSE)
    _axle(sheet, left, pair, SMALL)
    rows, _, heads = _few_rows(pair, sheet.theme, int(right.height / ROW) - 1)
    # in so little width the numbers alone, of one build those that decide
    own = slice(1, None) if pair.old is not None else slice(2, 3) if pair.new.fit.is_tight_in_service else slice(1, 2)
    rows = [(_short(row[0]), *(cell.split(" (")[0] for cell in row[own])) for row in rows]
    starts = (0.0, 0.68, 1.0) if len(rows[0]) > 2 else (0.0, 1.0)
    table(unframed(sheet.at(right)), sheet.theme, rows, starts, heads[: len(rows[0])])


def _short(name: str) -> str:
    """A row's name with its part cut short, not what meets it."""
    part, comma, meets = name.rpartition(", ")
    return f"{words(part, 18)}, {meets}" if comma else name.removesuffix(" clearance")


def _axle(sheet: Sheet, box: Box, pair: Pair, detail: Detail) -> list[Artist]:
    return axle_section(sheet.at(box), pair.new, pair.old, units=pair.units, theme=sheet.theme, detail=detail)


def _plan(sheet: Sheet, box: Box, pair: Pair) -> None:
    plans(sheet, box, pair.new, pair.old, pair.units)


def _side(sheet: Sheet, box: Box, pair: Pair) -> None:
    side_views(sheet, box, pair.new, pair.old, pair.units)


def _film(sheet: Sheet, box: Box, pair: Pair) -> list[Artist]:
    """As many pictures as have room, at least four."""
    columns = max(2, round(box.width / FRAME[0]))
    rows = max(-(-FEWEST // columns), round(box.height / FRAME[1]))
    axes = [sheet.at(cell) for cell in box.grid(columns, columns * rows, gap=CLOSE)]
    return film_view(axes, pair.new, pair.old, units=pair.units, theme=sheet.theme)


def _room(sheet: Sheet, box: Box, pair: Pair) -> object:
    from fitment.draw.views.free_space import room_view  # what every part sweeps: only for this view

    return one(room_view)(sheet, box, pair)


def _curves(pair: Pair) -> tuple[Curves, Curves | None]:
    from fitment.answers.motion_curves import curves  # poses over all travel and steering: only for this view

    old = None if pair.old is None else curves(pair.old.ready, pair.old.fit.setup)
    return curves(pair.new.ready, pair.new.fit.setup), old


def _motion(sheet: Sheet, box: Box, pair: Pair) -> None:
    """The curves over travel, and over steering below where there is room for them."""
    from fitment.draw.motion_curves import NARROW, STEER_ROW, TRAVEL_ROW, steer_row, travel_row

    new, old = _curves(pair)
    if new.steer is None or box.height < TRAVEL_ROW + STEER_ROW or box.width < NARROW:
        travel_row(sheet, box, new, old, pair.units)
        return
    upper, lower = box.rows(TRAVEL_ROW, STEER_ROW, gap=CLOSE)
    travel_row(sheet, upper, new, old, pair.units)
    steer_row(sheet, lower, new, old, pair.units)


def _motion_height(pair: Pair) -> float:
    from fitment.draw.motion_curves import STEER_ROW, TRAVEL_ROW

    return TRAVEL_ROW + (STEER_ROW + CLOSE if pair.new.ready.axle.steering else 0.0)


def _map(sheet: Sheet, box: Box, pair: Pair) -> None:
    from fitment.draw.views.margin_map import map_view  # poses over all travel and steering: only for this view

    map_view(sheet, box, *pair.maps, pair.units)


def _map_height(pair: Pair) -> float:
    from fitment.draw.views.margin_map import map_height

    return map_height(*pair.maps, SHEET_WIDTH - 2 * EDGE)


def _cut(sheet: Sheet, box: Box, pair: Pair) -> None:
    from fitment.draw.views.cut import cut_view  # every place of a part in all poses: only for this view

    cut_view(sheet, box, *pair.cuts, pair.units)


def _cut_height(pair: Pair) -> float:
    from fitment.draw.views.cut import cut_height

    return cut_height(*pair.cuts)


def _cut_notes(pair: Pair) -> str:
    from fitment.draw.views.cut import cut_notes

    return cut_notes(pair.cuts[0])


def _room_notes(_: Pair) -> str:
    from fitment.draw.views.free_space import EXPLAINED

    return EXPLAINED + " "


def _unserved(how: Callable[[Pair], str]) -> Callable[[Pair], str]:
    """The notes of a view that does not count service, which say so where the axle has it."""
    return lambda pair: how(pair) + (NOT_SERVED if pair.new.fit.axle.service is not None else "")


FRAME = (2.3, 3.7)  # [in] about what a picture of the film wants
FILM = (
    "First the closest call of all, whole and enlarged; then straight ahead, height by height. Below each height: the "
    "tightest gap that changes with travel (an overlap first, else the gap nearest to what is required). Last: a "
    "tighter gap to a part that moves with the wheel. "
)
MAP = (
    "Margin: the least over all parts of clearance less what is required, as measured; tolerances are not counted. "
    "Letters: which part decides there, dotted lines between them; a dot in the key: it decides in no "
    "place large enough for a letter. Outline: stops of travel and steering. Limits in the key are on the safe side; "
    "the map itself is drawn straight between the poses computed. "
)
VIEWS: dict[str, Kind] = {
    "front": Kind(_front, lambda pair: axle_height(pair.new, pair.old, SHEET_WIDTH - 2 * EDGE)),
    "plan": Kind(_plan, lambda _: 6.2, "Plan: from above at ride height, the front of the vehicle down the page. "),
    "side": Kind(_side, lambda pair: 4.6 * len(side_rows(pair.new)), "Gap: straight up from the top of the tire. "),
    "closest": Kind(
        one(closest_view), lambda _: 7.0, "The part is shown swung round the axle into the cut. Dotted: gap required. "
    ),
    "map": Kind(_map, _map_height, _unserved(lambda _: MAP)),
    "cut": Kind(_cut, _cut_height, _cut_notes),
    "room": Kind(_room, lambda _: 7.4, _unserved(_room_notes)),
    "film": Kind(_film, lambda _: 2 * FRAME[1] + CLOSE, _unserved(lambda _: FILM)),
    "motion": Kind(
        _motion, _motion_height, "Travel: the wheel's height in the body, up is bump. Bold: where the vehicle stands. "
    ),
}  # fmt: skip


def picture(
    new: Case,
    old: Case | None = None,
    *,
    view: str | None = None,
    layout: str | None = None,
    units: str = "mm",
    theme: Theme | str = LIGHT,
    date: str | None = None,
    cut: CutLines | None = None,
) -> Figure:
    """A picture of a case, or of two laid over each other. Raises FitmentError.

    view : one of VIEWS, None for all that the layout holds
    layout : one of LAYOUTS, None for the view's own
    theme : 'light', 'dark' or a Theme; date : text for the title block
    cut : the cut lines that the view cut draws; None for those of the part that is short by most
    """
    view, layout = chosen(view, layout)
    theme = theme_of(theme) if isinstance(theme, str) else theme
    pair = Pair(new, old, units, cut)
    if view == VEHICLE:
        from fitment.draw.whole_vehicle import vehicle_sheet

        if not isinstance(new, FullCase) or not isinstance(old, FullCase | None):
            raise FitmentError("view vehicle: it shows checked builds; ask check or compare for it.")
        return vehicle_sheet(new, old, units=units, theme=theme, date=date)
    if view == MOTION and layout == "sheet":
        from fitment.draw.motion_curves import motion_sheet

        return motion_sheet(*_curves(pair), units=units, theme=theme, date=date)
    if layout == "sheet":
        if old is None:
            return check_sheet(new, units=units, theme=theme, date=date)
        return compare_sheet(old, new, units=units, theme=theme, date=date)
    with look():
        return {"single": _single, "banner": _banner, "tall": _tall}[layout](pair, view, theme, date)


def _notes(pair: Pair, view: str | None) -> str:
    """How it is read and what it does not promise."""
    how = VIEWS[view].notes if view else ""
    laid_over = pair.old is not None and view != MAP_VIEW  # two maps stand side by side
    return (STYLES if laid_over else "") + (how if isinstance(how, str) else how(pair)) + CLEARANCE


def _single(pair: Pair, view: str | None, theme: Theme, date: str | None) -> Figure:
    assert view is not None
    kind = VIEWS[view]
    foot = wrapped([_notes(pair, view), CAUTION], SHEET_WIDTH - 2 * EDGE)
    heights = [head_height(pair.old), kind.height(pair), 0.03 + NOTE * len(foot)]
    sheet = new_sheet(2 * EDGE + sum(heights) + 2 * GAP, theme)
    head(sheet.blank(heights[0]), theme, pair.new, pair.old, pair.units, date=date)
    kind.fill(sheet, sheet.box(heights[1]), pair)
    notes(sheet.blank(heights[2]), theme, foot)
    return sheet.figure


def _banner(pair: Pair, view: str | None, theme: Theme, date: str | None) -> Figure:
    """Two lines of title, the panels, one line below: the axle and the closest call, or one view."""
    sheet = new_sheet(BANNER[1], theme, width=BANNER[0], dpi=BANNER_DPI, edge=BANNER_EDGE)
    compact_head(sheet.blank(COMPACT_HEAD, gap=CLOSE), theme, pair.new, pair.old, pair.units, date=date)
    box = sheet.box(BANNER[1] - sheet.level - BANNER_EDGE - NOTE, gap=0.05)
    if view is None:
        left, right = box.columns(1.9, 1.0, gap=CLOSE)
        _front(sheet, left, pair)
        one(closest_view)(sheet, right, pair)
    elif view == "front":
        _low_front(sheet, box, pair)
    else:
        VIEWS[view].fill(sheet, box, pair)
    notes(sheet.blank(NOTE), theme, [(STYLES if pair.old is not None else "") + BRIEF])
    return sheet.figure


def _tall(pair: Pair, view: str | None, theme: Theme, date: str | None) -> Figure:
    """Title, the axle, the closest call (or one view), the numbers."""
    sheet = new_sheet(TALL[1], theme, width=TALL[0], dpi=TALL_DPI, edge=TALL_EDGE)
    block = sheet.blank(tall_head_height(pair.old), gap=CLOSE)
    tall_head(block, theme, pair.new, pair.old, pair.units, date=date)
    rows, starts, heads = _few_rows(pair, theme, MOST_CLEARANCES)
    foot = wrapped([(STYLES if pair.old is not None else "") + CAUTION], sheet.inner)
    below = ROW * len(rows) + 0.1, 0.03 + NOTE * len(foot)
    box = sheet.box(TALL[1] - sheet.level - TALL_EDGE - sum(below) - 2 * CLOSE, gap=CLOSE)
    if view is None:
        upper, lower = box.rows(1.12, 1.0, gap=CLOSE)
        _axle(sheet, upper, pair, BARE)
        one(closest_view)(sheet, lower, pair)
    else:
        VIEWS[view].fill(sheet, box, pair)
    table(sheet.blank(below[0], gap=CLOSE), theme, rows, starts, heads)
    notes(sheet.blank(below[1]), theme, foot)
    return sheet.figure


def _few_rows(pair: Pair, theme: Theme, most: int) -> tuple[list[tuple[str, ...]], tuple[float, ...], tuple[str, ...]]:
    """Rows, where the columns stand, colours of the heading."""
    short: list[tuple[str, ...]]
    if pair.old is None:
        rows = clearance_rows(pair.new, pair.units)[: most + 1]
        if pair.new.fit.in_service is not None:
            return [(row[0], row[1], row[3], row[-1]) for row in rows], (0.0, 0.5, 0.68, 1.0), (theme.quiet,) * 4
        short = [(row[0], row[1], row[-1]) for row in rows]
        return short, (0.0, 0.65, 1.0), (theme.quiet,) * 3
    rows = comparison_rows(pair.old, pair.new, pair.units)
    short = [(row[0], words(row[1], 15), words(row[2], 15)) for row in rows if row[0] in ("", *TALL_ROWS)]
    return short, (0.0, 0.7, 1.0), (theme.quiet, theme.old, theme.new)
