"""The contact sheet: the best candidates of a list side by side, all at one scale, with verdict and limit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fitment.checks.case import Case
from fitment.checks.fit import Clearance
from fitment.draw.figure_page import EDGE, GAP, NOTE, Sheet, new_sheet, notes, title_block, unframed, wrapped
from fitment.draw.headings import BRIEF, NOT_SERVED, chip
from fitment.draw.lettering import column, letter
from fitment.draw.panel import Area, Panel
from fitment.draw.printed.paper import MM_PER_POINT, fitted, wrap
from fitment.draw.style import BODY, BOLD, CHAIN, HAIR, LIGHT, SHEET_WIDTH, SMALL, Theme, look, words
from fitment.draw.views.closest import Call, closest_call, gap, part, sections
from fitment.units import in_units

MOST = 12  # candidates on one sheet
COLUMNS = 4
HEAD, CELL = 1.0, 4.7  # [in] of the title block and of a candidate
LABEL_LINES, MARGIN_LINES, LIMIT_LINES = 4, 2, 3  # of text above and below each picture
LINE = 14.0  # [pt]
ABOVE, BELOW = 35.0 + LABEL_LINES * LINE, 8.0 + (MARGIN_LINES + LIMIT_LINES) * LINE  # [pt] strips of text in a cell
MARGIN, ROUND = 8.0, 30.0  # [pt]; [mm] shown round tire and wheel
HUB = 80.0  # [mm] the hub face is drawn so far from the axle
HOW = (
    "Each picture: a cut from the axle (bottom) outward, outboard to the right, at the travel and steering of the gap "
    "named below it. All have one scale. The part is shown swung round the axle into the cut; arrows mark the gap. "
    "Margin: the clearance less what is required, as measured, where least is left. Worst case: the smallest clearance "
    "with the largest tire and every reading off by its tolerance. "
)


@dataclass(frozen=True)
class Entry:
    """A candidate: what it is called, its verdict and what limits it in words (lengths in mm), and its case.

    Label and limit may have several lines. at : the clearance that is drawn, None for the one that limits
    rank : in the list, None for the place on the sheet
    margins : what is left of what is required, as measured, and in the worst case, in words; none without
    """

    label: str
    verdict: str
    limit: str
    case: Case
    at: Clearance | None = None
    rank: int | None = None
    margins: str = ""


def contact_sheet(
    rows: Sequence[Entry | tuple[str, str, str, Case]],
    *,
    units: str = "mm",
    theme: Theme = LIGHT,
    total: int | None = None,
    date: str | None = None,
    said: str = "",
) -> Figure:
    """The closest call of each candidate, in the order given, the first MOST of them.

    rows : label, verdict, limit, case; total : how many candidates the list has; said : what they are instead
    Raises ValueError without any row.
    """
    entries = [row if isinstance(row, Entry) else Entry(*row) for row in rows][:MOST]
    if not entries:
        raise ValueError("a contact sheet needs at least one candidate")
    first = entries[0].case
    columns = min(COLUMNS, len(entries))
    deep = -(-len(entries) // columns)
    is_served = any(entry.case.fit.axle.service is not None for entry in entries)
    foot = wrapped([HOW + (NOT_SERVED if is_served else "") + BRIEF], SHEET_WIDTH - 2 * EDGE)
    with look():
        sheet = new_sheet(2 * EDGE + HEAD + deep * CELL + (deep + 1) * GAP + NOTE * len(foot), theme)
        axles = " and ".join(dict.fromkeys(entry.case.fit.axle.name for entry in entries))
        line = f"{axles} axle, {words(first.ready.build, 30)}: {said or _count(len(entries), total)}"
        title_block(sheet.blank(HEAD), theme, first.ready.profile.name, line, HEAD * 72, date=date)
        _cells(sheet, entries, columns, deep, units)
        notes(sheet.blank(NOTE * len(foot)), theme, foot)
        return sheet.figure


def _count(drawn: int, total: int | None) -> str:
    best = f"the best {drawn}" if drawn > 1 else "the best"
    return f"{best} of {total} candidates" if total is not None and total > drawn else f"{drawn} candidates"


def _cells(sheet: Sheet, entries: Sequence[Entry], columns: int, deep: int, units: str) -> None:
    boxes = sheet.box(deep * CELL + (deep - 1) * GAP).grid(columns, len(entries))
    calls = [closest_call(entry.case, entry.at) if _looked_at(entry) else None for entry in entries]
    area = _area(entries, calls)
    for place, (entry, call, box) in enumerate(zip(entries, calls, boxes, strict=True), 1):
        ax = sheet.at(box)
        _picture(ax, entry.case, call, area, sheet.theme)
        _text(unframed(sheet.at(box)), entry, entry.rank or place, units, sheet.theme)


def _looked_at(entry: Entry) -> bool:
    """Whether its clearances were asked for: those of a wheel that does not bolt on seldom are."""
    return entry.verdict != "does_not_bolt_on" or bool(entry.margins)


def _area(entries: Sequence[Entry], calls: Sequence[Call | None]) -> Area:
    """From the axle to a little beyond every tire, in the half plane (y', r)."""
    bounds = np.array([section.bounds for e in entries for section in (e.case.fit.tire, e.case.fit.wheel)])
    low, high = bounds[:, :2].min(axis=0) - ROUND, bounds[:, 2:].max(axis=0) + ROUND
    beside = [call.surface[0] for call in calls if call is not None]
    return Area(np.array([min([low[0], *(y - ROUND for y in beside if y > low[0] - ROUND)]), 0.0]),
                np.array([max([high[0], *(y + ROUND for y in beside if y < high[0] + ROUND)]), high[1]]))  # fmt: skip


def _picture(ax: Axes, case: Case, call: Call | None, area: Area, theme: Theme) -> None:
    panel = Panel(ax, theme, head=ABOVE, foot=BELOW, labelled=False)
    panel.fit(area, (MARGIN, MARGIN, BELOW + 2.0, ABOVE + 2.0), (False, False))
    (left, right), drawn = panel.ax.get_xlim(), panel.drawing_area()
    panel.line([(left, 0.0), (right, 0.0)], theme.quiet, width=HAIR, style=CHAIN, layer=4)
    sections(panel, case, drawn)
    panel.line([(0.0, 0.0), (0.0, HUB)], theme.ink, width=BOLD, layer=4)
    if call is not None:
        part(panel, case, call, drawn)
        gap(panel, call)


def _text(ax: Axes, entry: Entry, rank: int, units: str, theme: Theme) -> None:
    """Rank and verdict, the label, and below the picture what limits."""
    width, height = float(ax.get_xlim()[1]), float(ax.get_ylim()[1])
    right = width - MARGIN + 2
    letter(ax, MARGIN, height - 17, f"{rank}", theme.ink, BODY, bold=True)
    chip(ax, theme, entry.verdict, height - 17, right=width - 3, size=SMALL)
    below = BELOW - 8 - (MARGIN_LINES * LINE if entry.margins else 0)
    for text, most, color, level in (
        (entry.label, LABEL_LINES, theme.ink, height - 38),
        (in_units(entry.margins, units), MARGIN_LINES, theme.ink, BELOW - 8),
        (in_units(entry.limit, units), LIMIT_LINES, theme.quiet, below),
    ):
        column(ax, MARGIN, level, _lines(text, right - MARGIN, most), LINE, color, least=SMALL, right=right)


def _lines(text: str, width: float, most: int) -> list[str]:
    """At most so many lines no wider than `width` [pt]; what is cut off ends in an ellipsis."""
    room = width * MM_PER_POINT
    lines = [line for paragraph in text.split("\n") for line in wrap(words(paragraph, 400), room, SMALL)]
    return lines if len(lines) <= most else [*lines[: most - 1], fitted(" ".join(lines[most - 1 :]), room, SMALL)]
