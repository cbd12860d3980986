"""A part at true size to cut by: each flat piece over several sheets, joined at crosses of one name.

What must go is hatched, the heavy line is the one to cut along; measured points are numbered as in the profile.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import shapely
from matplotlib.axes import Axes
from matplotlib.patches import PathPatch

from fitment.answers.cut_lines import CutLines
from fitment.answers.cut_patterns import Pattern, patterns
from fitment.checks.case import Case
from fitment.draw.lettering import column, letter
from fitment.draw.panel import path_of
from fitment.draw.printed.paper import MARGIN, Page, fitted, new_page, paper_size, pdf, pitch, window, wrap
from fitment.draw.printed.true_size import (
    BLACK,
    BODY,
    FOOT,
    SMALL,
    TITLE,
    check_bars,
    crosses,
    printing_words,
    starts,
)  # fmt: skip
from fitment.draw.style import DASHED, DOTTED, HAIR, HATCH_OLD, LIGHT, THIN, look, words
from fitment.report.cut_lines import BEFORE, COUNTED, largest_words, mark_words

HEAD, SIDE = 56.0, 8.0  # [mm] for the title above, and for the upright bar at the right
NEAR = 15.0  # [mm] round what goes that is printed
MOST_LINES = 12  # of the heading
MARKS = 2  # measured points that are printed at least, by which a piece is laid
AROUND = 6.0  # [mm] drawn beyond a piece
STROKE = 1.8  # [pt] of the line to cut along, its middle on the line
CUT = LIGHT.new
POINT = 2.0  # [mm] half of a measured point's mark
ARROWS = {(0, "ahead"): "ahead ▶", (0, "behind"): "◀ ahead", (1, "ahead"): "▲ ahead", (1, "behind"): "▼ ahead"}
ARROW = 30.0  # [mm] for one of these
NOTED = 40.0  # [mm] width in which a note beside a point is kept


@dataclass(frozen=True)
class PatternTitle:
    """Words of the heading."""

    vehicle: str
    axle: str
    build: str
    paper: str
    units: str


Area = tuple[float, float, float, float]


def part_pages(case: Case, found: CutLines, *, paper: str = "a4", units: str = "mm") -> list[Page]:
    """The sheets of one part. Raises FitmentError where nothing of it must go, or where it does not lie flat."""
    title = PatternTitle(case.ready.profile.name, case.fit.axle.title, case.ready.build, paper, units)
    width, height = paper_size(paper)
    room = width - 2 * MARGIN - SIDE, height - 2 * MARGIN - HEAD - FOOT
    own = patterns(found)
    sheets = [(piece, area) for piece in own for area in areas_of(piece, *room)]
    with look():
        return [
            _page(found, own, piece, area, f", sheet {k} of {len(sheets)}", title)
            for k, (piece, area) in enumerate(sheets, 1)
        ]


def part_pdf(sheets: Sequence[Sequence[Page]], name: str, build: str, part: str) -> bytes:
    """The sheets of a part, of one axle or several, in one PDF."""
    return pdf([page.figure for pages in sheets for page in pages], f"Cut pattern, {part}: {name}, build {build}")


def areas_of(piece: Pattern, wide: float, tall: float) -> list[Area]:
    """(x0, y0, x1, y1) of every sheet on which something near the line lies, so that two neighbours overlap.

    wide, tall : room on a sheet [mm]
    Source: as for the brake template; sheets on which nothing must go, nor near it, are left out.
    """
    near = shapely.intersection(piece.outline, shapely.buffer(piece.goes, NEAR))
    marks = sorted((shapely.Point(point.at) for point in piece.points), key=near.distance)[:MARKS]
    near = shapely.union_all([near, *(mark.buffer(NEAR) for mark in marks)])
    x0, y0, x1, y1 = (v + d for v, d in zip(near.bounds, (-AROUND, -AROUND, AROUND, AROUND), strict=True))
    every = [
        (x, y, min(x + wide, x1), min(y + tall, y1))
        for y in reversed(starts(y0, y1, tall))
        for x in starts(x0, x1, wide)
    ]
    return [area for area in every if shapely.intersects(near, shapely.box(*area))]


def _page(
    found: CutLines, pieces: Sequence[Pattern], piece: Pattern, area: Area, number: str, title: PatternTitle
) -> Page:
    page = new_page(title.paper)
    corner = (MARGIN, MARGIN + FOOT)
    _head(page, found, pieces, piece, number, title)
    ax = window(page, corner, area)
    crosses(ax, area)
    _draw(ax, piece, area)
    marks = "Numbers: measured points" if found.over is None else "Letters: see the marks above"
    marks += "; equal ones on two pieces are one place" if found.has_joins and len(pieces) > 1 else ""
    told = f"{marks}. Crosses: places on this piece [mm]; sheets join at equal ones."
    letter(page.ax, corner[0], corner[1] - 1.5, told, BLACK, SMALL, va="top")
    check_bars(page)
    return page


def _head(
    page: Page, found: CutLines, pieces: Sequence[Pattern], piece: Pattern, number: str, title: PatternTitle
) -> None:
    top, room = page.height - MARGIN, page.width - 2 * MARGIN
    which = f", piece {pieces.index(piece) + 1} of {len(pieces)}" if len(pieces) > 1 else ""
    head = f"Cut pattern, {words(found.obstacle.name, 40)}{which}{number}"
    arrow = next((ARROWS[k, way] for k, way in enumerate(piece.ways) if (k, way) in ARROWS), "")
    end = page.width - MARGIN
    letter(page.ax, MARGIN, top, head, BLACK, TITLE, va="top", bold=True, least=BODY, right=end - ARROW * bool(arrow))
    letter(page.ax, end, top, arrow, BLACK, TITLE, va="top", ha="right", bold=True)
    lines = [fitted(f"{words(title.vehicle, 60)}, {title.axle}, build {words(title.build, 40)}.", room, BODY)]
    lines += wrap(_seen(found, piece), room, BODY)
    lines += wrap(printing_words(title.paper), room, BODY)
    stretched = " Dotted: folded there on the vehicle." if any(own.folds for own in pieces) else ""
    if piece.stretch > 1e-4:
        stretched += f" Laid flat, lengths are off by up to {100 * piece.stretch:.1f} %."
    served = "; what happens in service is not counted" if found.has_service else ""
    lines += wrap(
        f"Heavy line: cut here; hatched goes. Behind it {COUNTED}{served}. Thin dashed: as measured alone.{stretched} "
        "Cut short of the line, test fit, then cut to it.",
        room,
        BODY,
    )
    lines += wrap(f"{largest_words(found, title.units)} {BEFORE}", room, BODY)
    lines += wrap(mark_words(replace(found, points=piece.points), title.units), room, BODY)
    column(page.ax, MARGIN, top - 7, lines[:MOST_LINES], pitch(BODY), BLACK, BODY, va="top")


def _seen(found: CutLines, piece: Pattern) -> str:
    """From where it is seen, of which side it is, and where its ways lead."""
    seen = "Seen from outside, the sheet upright"
    if not found.is_lip:
        seen = "Seen from the wheel: the printed side faces it"
    side = f"the {found.side} side" if found.side else "the left side; turn it over for the right"
    return f"{seen}, {side}. To the right: {piece.ways[0]}; up the page: {piece.ways[1]}."


def _draw(ax: Axes, piece: Pattern, area: Area) -> None:
    """The piece, what goes, the lines and the measured points that lie on this sheet."""
    x0, y0, x1, y1 = area
    edge, path = path_of(piece.outline), path_of(piece.goes)
    assert edge is not None
    ax.add_patch(PathPatch(edge, facecolor="none", edgecolor=LIGHT.ink, linewidth=HAIR))
    if path is not None:
        ax.add_patch(PathPatch(path, facecolor="none", edgecolor=LIGHT.faint, hatch=HATCH_OLD, linewidth=0.0, zorder=1))
    for line in piece.nominal:
        ax.plot(*line.T, color=LIGHT.quiet, linewidth=HAIR, linestyle=DASHED, zorder=2)
    for fold in piece.folds:
        ax.plot(*fold.T, color=LIGHT.ink, linewidth=HAIR, linestyle=DOTTED, zorder=2)
    for line in piece.cut:
        ax.plot(*line.T, color=CUT, linewidth=STROKE, solid_capstyle="butt", zorder=3)
    for point in piece.points:
        x, y = point.at
        if not (x0 <= x <= x1 and y0 <= y <= y1):
            continue
        for dx, dy in ((POINT, 0.0), (0.0, POINT)):
            ax.plot([x - dx, x + dx], [y - dy, y + dy], color=BLACK, linewidth=THIN, zorder=4)
        ax.plot([x], [y], "o", markersize=6.0, markerfacecolor="none", markeredgecolor=BLACK, markeredgewidth=HAIR)
        right = x + NOTED / 4 < x1
        letter(
            ax, x + (2.5 if right else -2.5), y - 2.0, f"point {point.name}", BLACK, SMALL, va="top",
            ha="left" if right else "right", clip_on=True,
        )  # fmt: skip
