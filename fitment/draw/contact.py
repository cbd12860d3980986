"""The contact sheet: the best candidates of a list side by side, all at one scale, with verdict and limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from textwrap import wrap

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fitment.cases import Case
from fitment.draw import parts
from fitment.draw.geometry import FRONT, nearest
from fitment.draw.heads import BRIEF, chip
from fitment.draw.page import EDGE, GAP, NOTE, Sheet, new_sheet, notes, title_block, unframed, wrapped
from fitment.draw.panel import Area, Panel, shrink_to
from fitment.draw.scene import shown, tightest
from fitment.draw.style import BODY, LETTER, LIGHT, SHEET_WIDTH, SMALL, Theme, font, look, words
from fitment.units import in_units

MOST = 12  # candidates on one sheet
COLUMNS = 4
HEAD, CELL = 1.0, 4.1  # [in] of the title block and of a candidate
LABEL_LINES, LIMIT_LINES = 3, 3  # of text above and below each picture
LINE = 14.0  # [pt]
ABOVE, BELOW = 30.0 + LABEL_LINES * LINE, 8.0 + LIMIT_LINES * LINE  # [pt] strips of text in a cell
MARGIN, OVER = 8.0, 60.0  # [pt]; [mm] shown above the tire
HOW = "Front section at ride height, all at one scale; the mark: the smallest clearance there."


@dataclass(frozen=True)
class Entry:
    """A candidate: what it is called, its verdict and what limits it in words (lengths in mm), and its case.

    Label and limit may have several lines.
    """

    label: str
    verdict: str
    limit: str
    case: Case


def contact_sheet(
    rows: Sequence[Entry | tuple[str, str, str, Case]],
    *,
    units: str = "mm",
    theme: Theme = LIGHT,
    total: int | None = None,
    date: str | None = None,
) -> Figure:
    """The front section of each candidate at its ride height, in the order given, the first MOST of them.

    rows : label, verdict, limit, case; total : how many candidates the list has
    Raises ValueError without any row.
    """
    entries = [row if isinstance(row, Entry) else Entry(*row) for row in rows][:MOST]
    if not entries:
        raise ValueError("a contact sheet needs at least one candidate")
    first = entries[0].case
    columns = min(COLUMNS, len(entries))
    deep = -(-len(entries) // columns)
    foot = wrapped(
        [f"Front section at ride height; the mark: the smallest clearance there. {BRIEF}"], SHEET_WIDTH - 2 * EDGE
    )
    with look():
        sheet = new_sheet(2 * EDGE + HEAD + deep * CELL + (deep + 1) * GAP + NOTE * len(foot), theme)
        axles = " and ".join(dict.fromkeys(entry.case.fit.axle.name for entry in entries))
        line = f"{axles} axle, {words(first.ready.build, 30)}: {_count(len(entries), total)}"
        title_block(sheet.blank(HEAD), theme, first.ready.profile.name, line, HEAD * 72, date=date)
        _cells(sheet, entries, columns, deep, units)
        notes(sheet.blank(NOTE * len(foot)), theme, foot)
        return sheet.figure


def _count(drawn: int, total: int | None) -> str:
    best = f"the best {drawn}" if drawn > 1 else "the best"
    return f"{best} of {total} candidates" if total is not None and total > drawn else f"{drawn} candidates"


def _cells(sheet: Sheet, entries: Sequence[Entry], columns: int, deep: int, units: str) -> None:
    boxes = sheet.box(deep * CELL + (deep - 1) * GAP).grid(columns, len(entries))
    tight = parts.area_round([shown(entry.case, None, travel=None) for entry in entries], FRONT)
    area = Area(tight.low, tight.high + np.array([0.0, OVER]))
    for rank, (entry, box) in enumerate(zip(entries, boxes, strict=True), 1):
        ax = sheet.at(box)
        _picture(ax, entry.case, area, sheet.theme)
        _text(unframed(sheet.at(box)), entry, rank, units, sheet.theme)


def _picture(ax: Axes, case: Case, area: Area, theme: Theme) -> None:
    both = shown(case, None, travel=None)
    panel = Panel(ax, theme, head=ABOVE, foot=BELOW)
    panel.fit(area, (MARGIN, MARGIN, BELOW + 4.0, ABOVE + 4.0), (False, False))
    parts.surroundings(panel, both, FRONT)
    parts.ground(panel, both, named=False)
    parts.wheels(panel, both, FRONT)
    parts.hub(panel, both, FRONT)
    worst = tightest(both.new, both.new_at)
    for near in nearest(both.new, both.new_at, FRONT):
        if worst is not None and near.entry.obstacle == worst.obstacle:
            parts.leader(panel, near, theme.new, old=False)


def _text(ax: Axes, entry: Entry, rank: int, units: str, theme: Theme) -> None:
    """Rank and verdict, the label, and below the picture what limits."""
    width, height = float(ax.get_xlim()[1]), float(ax.get_ylim()[1])
    letters = int((width - 2 * MARGIN) / LETTER)
    right = width - MARGIN + 2
    ax.text(MARGIN, height - 17, f"{rank}", fontproperties=font(BODY, bold=True), color=theme.ink, va="center")
    chip(ax, theme, entry.verdict, height - 17, right=width - 3, size=SMALL)
    limit = in_units(entry.limit, units)
    lines = [
        *(
            (line, theme.ink, height - 38 - i * LINE)
            for i, line in enumerate(_lines(entry.label, letters, LABEL_LINES))
        ),
        *((line, theme.quiet, BELOW - 8 - i * LINE) for i, line in enumerate(_lines(limit, letters, LIMIT_LINES))),
    ]
    for line, color, level in lines:
        told = ax.text(MARGIN, level, line, fontproperties=font(SMALL), color=color, va="center")
        shrink_to(told, ax, SMALL, right=right)


def _lines(text: str, letters: int, most: int) -> list[str]:
    """At most so many lines, broken where the text breaks and where it must; what is cut off ends in an ellipsis."""
    lines = [line for each in text.split("\n") for line in wrap(words(each, 400), letters)]
    if len(lines) <= most:
        return lines
    return [*lines[: most - 1], words(" ".join(lines[most - 1 :]), letters)]
