"""Sheets: several views of one vehicle with a title block and the numbers that matter."""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.axes import Axes
from matplotlib.figure import Figure

from fitment.cases import Case, Ready
from fitment.draw.geometry import stand_at
from fitment.draw.members import hardpoints
from fitment.draw.page import EDGE, GAP, ROW, Sheet, height_text, new_sheet, notes, sample, table, title_block, unframed
from fitment.draw.profile_views import point_rows, points_table, points_view, profile_view, rod_rows
from fitment.draw.style import (
    BODY,
    DASHED,
    LIGHT,
    LINE,
    SMALL,
    Theme,
    font,
    look,
    words,
)
from fitment.draw.views import (
    arch,
    front_area,
    front_section,
    moved_text,
    plan_area,
    plan_view,
    shown,
    side_area,
    side_view,
)
from fitment.fit import Clearance
from fitment.units import inches, length_text
from fitment.vehicle import Setup

FRONT_ROW, PLAN_ROW, POINTS_ROW, SETUP_LINE = 7.2, 6.2, 5.2, 0.56  # [in] heights
PER_ROW = 3  # ride heights side by side
VERDICT_WORDS = {
    "clears": "clears",
    "tight": "tight",
    "not_checked": "not checked",
    "touches": "touches",
    "does_not_bolt_on": "does not bolt on",
}


# ---------------------------------------------------------------- sheets


def compare_sheet(old: Case, new: Case, *, units: str = "mm", theme: Theme = LIGHT) -> Figure:
    """Two setups of one axle laid over each other, with a table of what changes."""
    rows = comparison_rows(old, new, units)
    with look():
        return _case_sheet(new, old, rows, units, theme)


def check_sheet(case: Case, *, units: str = "mm", theme: Theme = LIGHT) -> Figure:
    """One setup with every obstacle's smallest margin."""
    with look():
        return _case_sheet(case, None, clearance_rows(case, units), units, theme)


def profile_sheet(ready: Ready, setup: Setup | None, *, units: str = "mm", theme: Theme = LIGHT) -> Figure:
    """The profile itself at its reference pose: every point that was typed, every obstacle by its name."""
    with look():
        axle = ready.axle
        rows = len(point_rows(axle, units)) + len(rod_rows(axle, units)) + 1
        points = [POINTS_ROW, max(POINTS_ROW, 0.25 + ROW * rows)] if hardpoints(axle) else []
        heights = [6.8, 7.2, *points]
        head = 1.0
        sheet = new_sheet(2 * EDGE + head + sum(heights) + len(heights) * GAP, theme)
        title_block(sheet.blank(head), theme, ready.profile.name, _profile_line(ready), head * 72)
        axes = [*sheet.row(1, heights[0]), *sheet.row(2, heights[1])]
        for view, ax in zip(("side", "front", "plan"), axes, strict=True):
            profile_view(ax, axle, setup, view=view, units=units, theme=theme)
        if points:
            axes = [*sheet.row(2, points[0]), *sheet.row(2, points[1])]
            for view, ax in zip(("front", "plan", "side"), axes, strict=False):
                points_view(ax, axle, view=view, units=units, theme=theme)
            points_table(unframed(axes[-1]), axle, units=units, theme=theme)
        return sheet.figure


def _profile_line(ready: Ready) -> str:
    return f"{ready.axle.name} axle, {words(ready.build, 40)}, as measured at the reference pose"


def _case_sheet(new: Case, old: Case | None, rows: Sequence[Sequence[str]], units: str, theme: Theme) -> Figure:
    rides = _rides(new)
    side_rows = [rides[i : i + PER_ROW] for i in range(0, len(rides), PER_ROW)]
    columns = len(side_rows[0])
    side_height = {1: 7.0, 2: 4.9, 3: 3.6}[columns]
    head = 1.05 + SETUP_LINE * (1 if old is None else 2)
    table_height = ROW * len(rows) + 0.1
    foot = foot_lines(new, old)
    heights = [head, FRONT_ROW, PLAN_ROW, *[side_height] * len(side_rows), table_height, 0.03 + 0.23 * len(foot)]
    sheet = new_sheet(2 * EDGE + sum(heights) + GAP * (len(heights) - 1), theme)
    _head(sheet, new, old, units, head)
    _fronts(sheet, new, old, units)
    _plans(sheet, new, old, units)
    area = side_area([shown(new, old, travel=travel) for _, travel in rides], arch(new))
    for group in side_rows:
        for ax, (name, travel) in zip(sheet.row(columns, side_height, len(group)), group, strict=True):
            title = f"{words(name, 12)}, {height_text(travel, units)}"
            side_view(ax, new, old, travel=travel, title=title, units=units, theme=theme, area=area)
    _table(sheet, rows, table_height)
    notes(sheet.blank(heights[-1]), theme, foot)
    return sheet.figure


def _fronts(sheet: Sheet, new: Case, old: Case | None, units: str) -> None:
    bump = new.fit.axle.bump
    area = front_area([shown(new, old, travel=None), shown(new, old, travel=bump)])
    left, right = sheet.row(2, FRONT_ROW)
    tracks = [length_text(case.stance.track, units) for case in (old, new) if case is not None]
    front_section(
        left,
        new,
        old,
        title="At ride height",
        caption="track " + " → ".join(tracks),
        units=units,
        theme=sheet.theme,
        area=area,
    )
    title = f"Full bump, {height_text(bump, units)}"
    front_section(right, new, old, travel=bump, title=title, units=units, theme=sheet.theme, area=area)


def _plans(sheet: Sheet, new: Case, old: Case | None, units: str) -> None:
    """Both locks; on an axle that does not steer, straight ahead and the front section at full droop."""
    shares = (1.0, -1.0) if new.fit.axle.steering is not None else (0.0,)
    views = [shown(new, old, travel=None, share=share) for share in shares]
    area = plan_area(views)
    axes = sheet.row(2, PLAN_ROW)
    for ax, share in zip(axes, shares, strict=False):
        title = {1.0: "Left lock", -1.0: "Right lock", 0.0: "Straight ahead"}[share]
        if share:
            steers_to = [
                f"{abs(stand_at(case, case.fit.setup.ride, share).steer):.0f}°"
                for case in (old, new)
                if case is not None
            ]
            title += ", " + " → ".join(dict.fromkeys(steers_to))
        plan_view(ax, new, old, share=share, title=title, units=units, theme=sheet.theme, area=area)
    if len(shares) == 1:
        _droop(axes[1], new, old, units, sheet.theme)


def _droop(ax: Axes, new: Case, old: Case | None, units: str, theme: Theme) -> None:
    droop = new.fit.axle.droop
    front_section(
        ax, new, old, travel=droop, title=f"Full droop, {height_text(droop, units)}", units=units, theme=theme
    )


def _rides(case: Case) -> list[tuple[str, float]]:
    named = sorted(case.fit.axle.ride_heights, key=lambda each: each[1])
    return named or [(case.fit.setup.ride_name or "at rest", case.fit.setup.ride)]


# ---------------------------------------------------------------- title block


def _head(sheet: Sheet, new: Case, old: Case | None, units: str, height: float) -> None:
    ax = sheet.blank(height)
    top = height * 72
    builds = (
        words(new.ready.build, 30) if old is None else f"{words(old.ready.build, 24)} → {words(new.ready.build, 24)}"
    )
    title_block(ax, sheet.theme, new.ready.profile.name, f"{new.fit.axle.name} axle, {builds}", top)
    level = top - 88
    for case, is_old in (*([(old, True)] if old else []), (new, False)):
        _setup_line(ax, sheet.theme, case, is_old, level, units)
        level -= SETUP_LINE * 72


def _setup_line(ax: Axes, theme: Theme, case: Case, is_old: bool, level: float, units: str) -> None:
    """Sample of the line style, what is bolted on and what decides, and the verdict."""
    setup = case.fit.setup
    sample(ax, theme, is_old, level)
    spacer = f", {length_text(setup.spacer.thickness, units, digits=0)} spacer" if setup.spacer.thickness else ""
    ride = f"{words(setup.ride_name or 'ride', 14)} {height_text(setup.ride, units)}"
    text = words(f"{words(setup.tire.code, 26)} on {words(setup.wheel.spec, 36)}{spacer}", 68)
    ax.text(56, level + 8, text, fontproperties=font(BODY), color=theme.ink, va="center")
    ax.text(
        56,
        level - 9,
        words(f"{ride}; {_reason(case, units)}", 84),
        fontproperties=font(SMALL),
        color=theme.quiet,
        va="center",
    )
    _chip(ax, theme, case.fit.verdict, level)


def _reason(case: Case, units: str) -> str:
    """What decides the verdict."""
    failed = next((check for check in case.fit.bolt_on if check.status == "fail"), None)
    if failed is not None:
        return f"fails: {failed.item}"
    worst = case.fit.worst
    if worst is None:
        return "no obstacle checked"
    return f"tightest: {words(worst.obstacle, 22)} to {worst.part}, {length_text(worst.clearance, units)}"


def _chip(ax: Axes, theme: Theme, verdict: str, level: float) -> None:
    """The verdict at the right edge: filled when it does not fit, outlined when it does, dashed when it is tight."""
    bad = verdict in ("touches", "does_not_bolt_on")
    ax.text(
        ax.get_xlim()[1] - 8,
        level,
        VERDICT_WORDS[verdict],
        fontproperties=font(BODY, bold=True),
        ha="right",
        va="center",
        color=theme.alarm_text if bad else theme.ink,
        bbox={
            "boxstyle": "round,pad=0.4",
            "facecolor": theme.alarm if bad else theme.panel,
            "edgecolor": theme.ink,
            "linewidth": LINE,
            "linestyle": DASHED if verdict in ("tight", "not_checked") else "-",
        },
    )


def foot_lines(new: Case, old: Case | None) -> list[str]:
    """How to read the picture, and what it does not promise."""
    lines = [
        ("Dashed: before. Solid: after. " if old is not None else "")
        + "Clearance: shortest distance in space; negative: overlap. Dark label: the smallest of a view.",
        "A ring: where a part comes nearest, turned about the axle into the view. Side: straight up from the tire.",
        "Computed from the measurements given. Test fit through full travel and lock on both sides before driving.",
    ]
    if hardpoints(new.fit.axle):
        lines.insert(2, "Thin lines with a dot at each end: arms and rods of the suspension.")
    return lines


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
    told = ("not checked" if e is None else f"{length_text(e.clearance, units)} ({e.part})" for e in ends)
    rows.append(("tightest clearance", *told, ""))
    rows.append(("nearest part", *("" if e is None else words(e.obstacle, 20) for e in ends), ""))
    rows.append(("where it happens", *("" if e is None else _place(e, units) for e in ends), ""))
    return rows


def _change_text(change: float, units: str) -> str:
    """A difference with its sign; in inches as the trade writes it."""
    if units != "in":
        return length_text(change, units, sign=True)
    text = inches(change)
    return text if text.startswith(("-", "0 ")) else f"+{text}"


def clearance_rows(case: Case, units: str) -> list[tuple[str, ...]]:
    """Header and rows: the tightest places, where they happen, what is left."""
    rows: list[tuple[str, ...]] = [("smallest clearance to", "clearance", "worst case", "asked for", "at")]
    for entry in case.fit.worst_each[:9]:
        rows.append(
            (
                f"{words(entry.obstacle, 22)}, {entry.part}",
                length_text(entry.clearance, units),
                length_text(entry.worst_case, units),
                length_text(entry.allowance, units),
                _place(entry, units),
            )
        )
    return rows


def _place(entry: Clearance, units: str) -> str:
    steer = "straight" if abs(entry.steer) < 1 else f"{abs(entry.steer):.0f}° {'left' if entry.steer > 0 else 'right'}"
    return f"{height_text(entry.travel, units)}, {steer}"


def _table(sheet: Sheet, rows: Sequence[Sequence[str]], height: float) -> None:
    theme = sheet.theme
    compared = len(rows[0]) == 4
    starts = (0.0, 0.52, 0.755, 1.0) if compared else (0.0, 0.475, 0.61, 0.745, 1.0)
    heads = (theme.quiet, theme.old, theme.new, theme.quiet) if compared else (theme.quiet,) * 5
    table(sheet.blank(height), theme, rows, starts, heads)
