"""Sheets: several views of one vehicle with a title block and the numbers that matter."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fitment.checks.case import Case, Ready
from fitment.draw.dimensions import moved_text
from fitment.draw.figure_page import (
    EDGE,
    GAP,
    NOTE,
    ROW,
    WIDTH,
    Box,
    Sheet,
    height_text,
    new_sheet,
    notes,
    table,
    title_block,
    unframed,
)
from fitment.draw.headings import foot_lines, head, head_height
from fitment.draw.scene import rides, shown
from fitment.draw.style import LIGHT, Theme, look, words
from fitment.draw.suspension_lines import hardpoints
from fitment.draw.views.axle import axle_height, axle_section
from fitment.draw.views.closest import closest_view, place_text
from fitment.draw.views.corner import front_section, plan_area, plan_view
from fitment.draw.views.profile import point_rows, points_table, points_view, profile_view, rod_rows
from fitment.draw.views.side import edges_above, side_area, side_view
from fitment.parts.axle import Setup
from fitment.report.in_service import is_short_in_service, service_cell
from fitment.units import clearance_text, inches, length_text

CLOSE_ROW, PLAN_ROW, POINTS_ROW = 5.6, 5.9, 5.2  # [in] heights
SIDE_ROWS = {1: 7.0, 2: 4.9, 3: 3.6}  # [in] by how many ride heights stand side by side
SIDE_WIDTH = 2.6  # [in] a side view has at least


# ---------------------------------------------------------------- sheets


def compare_sheet(old: Case, new: Case, *, units: str = "mm", theme: Theme = LIGHT, date: str | None = None) -> Figure:
    """Two setups of one axle laid over each other, with a table of what changes."""
    return _case_sheet(new, old, comparison_rows(old, new, units), units, theme, date)


def check_sheet(case: Case, *, units: str = "mm", theme: Theme = LIGHT, date: str | None = None) -> Figure:
    """One setup with every obstacle's smallest margin."""
    return _case_sheet(case, None, clearance_rows(case, units), units, theme, date)


def profile_sheet(
    ready: Ready, setup: Setup | None, *, units: str = "mm", theme: Theme = LIGHT, date: str | None = None
) -> Figure:
    """The profile itself at its reference pose: every point that was typed, every obstacle by its name."""
    with look():
        axle = ready.axle
        scans = [scan for _, scan in ready.scans]
        rows = len(point_rows(axle, units)) + len(rod_rows(axle, units)) + 1
        points = [POINTS_ROW, max(POINTS_ROW, 0.25 + ROW * rows)] if hardpoints(axle) else []
        heights = [6.8, 7.2, *points]
        head = 1.0
        sheet = new_sheet(2 * EDGE + head + sum(heights) + len(heights) * GAP, theme)
        title_block(sheet.blank(head), theme, ready.profile.name, _profile_line(ready), head * 72, date=date)
        axes = [*sheet.row(1, heights[0]), *sheet.row(2, heights[1])]
        for view, ax in zip(("side", "front", "plan"), axes, strict=True):
            profile_view(ax, axle, setup, view=view, units=units, theme=theme, scans=scans)
        if points:
            axes = [*sheet.row(2, points[0]), *sheet.row(2, points[1])]
            for view, ax in zip(("front", "plan", "side"), axes, strict=False):
                points_view(ax, axle, view=view, units=units, theme=theme)
            points_table(unframed(axes[-1]), axle, units=units, theme=theme)
        return sheet.figure


def _profile_line(ready: Ready) -> str:
    return f"{ready.axle.title}, {words(ready.build, 40)}, as measured at the reference pose"


def _case_sheet(
    new: Case, old: Case | None, rows: Sequence[Sequence[str]], units: str, theme: Theme, date: str | None
) -> Figure:
    sides = side_rows(new)
    foot = foot_lines(new, old)
    table_height = ROW * len(rows) + 0.1
    heights = [head_height(old), axle_height(new, old, WIDTH), CLOSE_ROW, PLAN_ROW]
    heights += [SIDE_ROWS[sides[0][0]]] * len(sides) + [table_height, 0.03 + NOTE * len(foot)]
    with look():
        sheet = new_sheet(2 * EDGE + sum(heights) + GAP * (len(heights) - 1), theme)
        head(sheet.blank(heights[0]), theme, new, old, units, date=date)
        axle_section(sheet.at(sheet.box(heights[1])), new, old, units=units, theme=theme)
        left, right = sheet.box(CLOSE_ROW).columns(1.0, 1.0)
        bump(sheet.at(left), new, old, units, theme)
        closest_view(sheet.at(right), new, old, units=units, theme=theme)
        plans(sheet, sheet.box(PLAN_ROW), new, old, units)
        side_views(sheet, sheet.box(sum(heights[4:-2]) + GAP * (len(sides) - 1)), new, old, units)
        _table(sheet, rows, table_height)
        notes(sheet.blank(heights[-1]), theme, foot)
        return sheet.figure


def bump(ax: Axes, new: Case, old: Case | None, units: str, theme: Theme, *, end: str = "bump") -> None:
    """The front section at an end of travel, each case at its own."""
    ends = [getattr(case.fit.axle, end) for case in (old, new) if case is not None]
    title = f"Full {end}, " + " → ".join(dict.fromkeys(height_text(travel, units) for travel in ends))
    front_section(ax, new, old, travel=end, title=title, units=units, theme=theme)


def plans(sheet: Sheet, box: Box, new: Case, old: Case | None, units: str) -> None:
    """Both locks; on an axle that does not steer, straight ahead and the front section at full droop."""
    lock_fractions = (1.0, -1.0) if new.fit.axle.steering is not None else (0.0,)
    views = [shown(new, old, travel=None, lock_fraction=lock_fraction) for lock_fraction in lock_fractions]
    area = plan_area(views)
    boxes = box.columns(1.0, 1.0)
    for cell, lock_fraction, both in zip(boxes, lock_fractions, views, strict=False):
        to_left = lock_fraction * (-1 if new.fit.axle.sides == ("right",) else 1)  # that is posed as in a mirror
        title = {1.0: "Left lock", -1.0: "Right lock", 0.0: "Straight ahead"}[to_left]
        if lock_fraction:
            steered = [f"{abs(at.steer):.0f}°" for _, at, _ in both.both()]
            title += ", " + " → ".join(dict.fromkeys(steered))
        plan_view(
            sheet.at(cell),
            new,
            old,
            lock_fraction=lock_fraction,
            title=title,
            units=units,
            theme=sheet.theme,
            area=area,
        )
    if len(lock_fractions) == 1:
        bump(sheet.at(boxes[1]), new, old, units, sheet.theme, end="droop")


def side_rows(case: Case, width: float = WIDTH) -> list[tuple[int, list[tuple[str, float]]]]:
    """Ride heights in rows across a width [in]: how many columns each row has, and what stands in it."""
    heights, most = rides(case), max(1, int(width / SIDE_WIDTH))
    return [(min(len(heights), most), heights[i : i + most]) for i in range(0, len(heights), most)]


def side_views(sheet: Sheet, box: Box, new: Case, old: Case | None, units: str) -> None:
    """The side view at every ride height, all at one scale."""
    rows = side_rows(new, box.width)
    area = side_area([shown(new, old, travel=travel) for _, group in rows for _, travel in group], edges_above(new))
    for (columns, group), line in zip(rows, box.rows(*[1.0] * len(rows)), strict=True):
        for cell, (name, travel) in zip(line.columns(*[1.0] * columns), group, strict=False):
            title = f"{words(name, 12)}, {height_text(travel, units)}"
            side_view(sheet.at(cell), new, old, travel=travel, title=title, units=units, theme=sheet.theme, area=area)


# ---------------------------------------------------------------- tables


def comparison_rows(old: Case, new: Case, units: str) -> list[tuple[str, ...]]:
    """Header and rows: what, old, new, how it moved."""
    rows: list[tuple[str, ...]] = [("", words(old.ready.build, 18), words(new.ready.build, 18), "change")]
    for key, name, along_y in (
        ("outer_face", "outer face of the rim from centre", True),
        ("inner_face", "inner face of the rim from centre", True),
        ("tire_outer", "outer side of the tire", True),
        ("tire_inner", "inner side of the tire", True),
        ("section_width", "section width", False),
        ("overall_diameter", "overall diameter", False),
        ("track", "track", False),
        ("scrub_radius", "scrub radius", False),
    ):
        a, b = getattr(old.stance, key), getattr(new.stance, key)
        if a is None or b is None:
            continue
        change = moved_text(b - a, units, trade=True) if along_y else _change_text(b - a, units)
        rows.append((name, length_text(a, units), length_text(b, units), change))
    ends = [case.fit.worst for case in (old, new)]
    told = ("not checked" if e is None else f"{_cell(e.clearance, units)} ({e.part})" for e in ends)
    rows.append(("tightest clearance", *told, ""))
    rows.append(("nearest part", *("" if e is None else words(e.obstacle, 20) for e in ends), ""))
    rows.append(("where it happens", *("" if e is None else place_text(e, units, short=True) for e in ends), ""))
    return rows


def _change_text(change: float, units: str) -> str:
    """A difference with its sign; in inches as the trade writes it."""
    if units != "in":
        return length_text(change, units, sign=True)
    text = inches(change)
    return text if text.startswith(("-", "0 ")) else f"+{text}"


def clearance_rows(case: Case, units: str) -> list[tuple[str, ...]]:
    """Header and rows: the tightest places, where they happen, what is left."""
    fit = case.fit
    counted = ("in service",) if fit.in_service else ()
    rows: list[tuple[str, ...]] = [("smallest clearance to", "clearance", "worst case", *counted, "required", "at")]
    # what is short in service is told even where others are closer as measured
    for entry in sorted(fit.worst_each, key=lambda entry: not is_short_in_service(fit, entry))[:9]:
        own = (_narrow(service_cell(fit, entry, units)),) if counted else ()
        rows.append(
            (
                f"{words(entry.obstacle, 22)}, {entry.part}",
                _cell(entry.clearance, units),
                _cell(entry.worst_case, units),
                *own,
                length_text(entry.allowance, units),
                place_text(entry, units, short=True),
            )
        )
    return rows


def _cell(clearance: float, units: str) -> str:
    return _narrow(clearance_text(clearance, units))


def _narrow(told: str) -> str:
    """Deep overlaps in fewer letters than a sentence has, as columns are narrow."""
    return told.replace("below ", "< ")


def _table(sheet: Sheet, rows: Sequence[Sequence[str]], height: float) -> None:
    theme = sheet.theme
    compared = len(rows[0]) == 4
    starts = {4: (0.0, 0.52, 0.755, 1.0), 5: (0.0, 0.475, 0.61, 0.745, 1.0), 6: (0.0, 0.41, 0.535, 0.66, 0.775, 1.0)}
    heads = (theme.quiet, theme.old, theme.new, theme.quiet) if compared else (theme.quiet,) * len(rows[0])
    table(sheet.blank(height), theme, rows, starts[len(rows[0])], heads)
