"""The title block: vehicle, builds, heights, verdicts, and a date only where one is given."""

from __future__ import annotations

from dataclasses import dataclass, replace
from textwrap import wrap

from matplotlib.axes import Axes

from fitment.checks.case import Case
from fitment.draw.figure_page import date_line, entitle, height_text, sample, title_block
from fitment.draw.lettering import column, letter, width_of
from fitment.draw.style import BODY, DASHED, LINE, SMALL, TITLE_SMALL, Theme, words
from fitment.draw.suspension_lines import hardpoints
from fitment.report.common import SAID
from fitment.units import clearance_text, read_text

SETUP_LINE = 0.56  # [in] of a setup in the title block
HEAD = 1.05  # [in] of name, line and rule above the setups
COMPACT_HEAD = 1.06  # [in] of the whole block where it is one line and the setups side by side
TALL_HEAD, TALL_SETUP = 1.0, 0.74  # [in] the same where the picture is narrow
INDENT = 56.0  # [pt] of a setup's text, after its sample


def head_height(old: Case | None) -> float:
    """Height of the title block [in]."""
    return HEAD + SETUP_LINE * (1 if old is None else 2)


def head(ax: Axes, theme: Theme, new: Case, old: Case | None, units: str, *, date: str | None = None) -> None:
    """Name, axle and builds, then a line for each setup, old first."""
    right, top = float(ax.get_xlim()[1]), float(ax.get_ylim()[1])
    title_block(ax, theme, new.ready.profile.name, builds_line(new, old), top, date=date)
    for i, (case, is_old) in enumerate(_cases(new, old)):
        _setup(ax, theme, case, is_old, (0.0, right, top - 88 - i * SETUP_LINE * 72), _wide_lines(case, units))


def setup_line(ax: Axes, theme: Theme, case: Case, is_old: bool, level: float, units: str, before: str) -> None:
    """The line of one setup [pt from the bottom], a word before it."""
    lines = _wide_lines(case, units)
    lines[0] = replace(lines[0], text=before + lines[0].text)
    _setup(ax, theme, case, is_old, (0.0, float(ax.get_xlim()[1]), level), lines)


def compact_head(ax: Axes, theme: Theme, new: Case, old: Case | None, units: str, *, date: str | None = None) -> None:
    """Name, axle and builds in two lines, both setups side by side below."""
    entitle(ax, new.ready.profile.name, builds_line(new, old))
    width, top = float(ax.get_xlim()[1]), float(ax.get_ylim()[1])
    name = words(new.ready.profile.name, 90)
    letter(ax, 0, top - 1, name, theme.ink, TITLE_SMALL, bold=True, va="top", least=SMALL + 2)
    date_line(ax, theme, builds_line(new, old), top - 24, BODY, date)
    cases = _cases(new, old)
    step = width / len(cases)
    for i, (case, is_old) in enumerate(cases):
        span = (i * step, (i + 1) * step - (12 if i + 1 < len(cases) else 0), 18.0)
        _setup(ax, theme, case, is_old, span, _column_lines(case, units))


def tall_head_height(old: Case | None) -> float:
    """Height of the narrow title block [in]."""
    return TALL_HEAD + TALL_SETUP * (1 if old is None else 2)


def tall_head(ax: Axes, theme: Theme, new: Case, old: Case | None, units: str, *, date: str | None = None) -> None:
    """The name in at most two lines, axle and builds, then three lines for each setup."""
    entitle(ax, new.ready.profile.name, builds_line(new, old))
    right, top = float(ax.get_xlim()[1]), float(ax.get_ylim()[1])
    name = wrap(words(new.ready.profile.name, 90), int(right / (0.68 * TITLE_SMALL)))
    lines = name if len(name) < 3 else [name[0], f"{name[1]}…"]
    column(ax, 0, top - 1, lines, 22, theme.ink, TITLE_SMALL, bold=True, va="top", least=SMALL + 2)
    date_line(ax, theme, builds_line(new, old), top - 47, BODY, date)
    ax.plot([0, right], [top - 66] * 2, color=theme.ink, linewidth=LINE)
    for i, (case, is_old) in enumerate(_cases(new, old)):
        _setup(ax, theme, case, is_old, (0.0, right, top - 96 - i * TALL_SETUP * 72), _tall_lines(case, units))


def _cases(new: Case, old: Case | None) -> list[tuple[Case, bool]]:
    return [*([(old, True)] if old is not None else []), (new, False)]


def builds_line(new: Case, old: Case | None) -> str:
    """Axle and builds."""
    builds = words(new.ready.build, 30)
    if old is not None:
        builds = f"{words(old.ready.build, 24)} → {words(new.ready.build, 24)}"
    return f"{new.fit.axle.title}, {builds}"


@dataclass(frozen=True)
class _Line:
    """A line of a setup: text, size [pt], whether it is quiet, height above the setup's middle [pt]."""

    text: str
    size: float
    quiet: bool
    step: float


def _setup(
    ax: Axes, theme: Theme, case: Case, is_old: bool, span: tuple[float, float, float], lines: list[_Line]
) -> None:
    """Sample of the line style, lines of text, and the verdict; span : left, right, level [pt]."""
    left, right, level = span
    sample(ax, theme, is_old, level, left=left)
    right -= chip(ax, theme, case.fit.verdict, level, right=right) + 10
    for line in lines:
        color = theme.quiet if line.quiet else theme.ink
        letter(ax, left + INDENT, level + line.step, line.text, color, line.size, least=SMALL, right=right)


def _wide_lines(case: Case, units: str) -> list[_Line]:
    return [
        _Line(f"{_tire(case)} on {_wheel(case, units)}", BODY, False, 8.0),
        _Line(f"{ride_text(case, units)}; {reason(case, units)}", SMALL, True, -9.0),
    ]


def _column_lines(case: Case, units: str) -> list[_Line]:
    return [
        _Line(f"{_tire(case)}, {ride_text(case, units)}", SMALL, False, 8.0),
        _Line(_wheel(case, units), SMALL, True, -8.0),
    ]


def _tall_lines(case: Case, units: str) -> list[_Line]:
    return [
        _Line(f"{_tire(case)}, {ride_text(case, units)}", SMALL, False, 15.0),
        _Line(_wheel(case, units), SMALL, False, 0.0),
        _Line(reason(case, units), SMALL, True, -15.0),
    ]


def _tire(case: Case) -> str:
    return words(case.fit.setup.tire.code, 26)


def _wheel(case: Case, units: str) -> str:
    setup = case.fit.setup
    spacer = f", {read_text(setup.spacer.thickness, units, tape=False)} spacer" if setup.spacer.thickness else ""
    return f"{words(setup.wheel.spec, 36)}{spacer}"


def ride_text(case: Case, units: str) -> str:
    """The ride height by its name and in figures."""
    setup = case.fit.setup
    return f"{words(setup.ride_name or 'ride', 14)} {height_text(setup.ride, units)}"


def reason(case: Case, units: str) -> str:
    """What decides the verdict."""
    failed = next((check for check in case.fit.bolt_on if check.status == "fail"), None)
    if failed is not None:
        return f"fails: {failed.item}"
    worst = case.fit.worst
    if worst is None:
        return "no part checked"
    served = case.fit.in_service.worst if case.fit.is_tight_in_service and case.fit.in_service else None
    if served is not None:
        return f"in service: {words(served.obstacle, 22)} to {served.part}, {clearance_text(served.clearance, units)}"
    return f"tightest: {words(worst.obstacle, 22)} to {worst.part}, {clearance_text(worst.clearance, units)}"


def chip(ax: Axes, theme: Theme, verdict: str, level: float, *, right: float, size: float = BODY) -> float:
    """The verdict, its right edge at `right`; returns its width [pt].

    Filled when it does not fit, outlined when it does, dashed when it is tight: readable without colour.
    """
    bad = verdict in ("touches", "does_not_bolt_on")
    frame = {
        "boxstyle": "round,pad=0.4",
        "facecolor": theme.alarm if bad else theme.panel,
        "edgecolor": theme.ink,
        "linewidth": LINE,
        "linestyle": DASHED if verdict in ("tight", "not_checked") else "-",
    }
    color = theme.alarm_text if bad else theme.ink
    text = letter(ax, right - 8, level, SAID[verdict], color, size, bold=True, ha="right", bbox=frame)
    return width_of(text, ax) + 16


# ---------------------------------------------------------------- notes

CAUTION = "Computed from the measurements given. Test fit through full travel and lock on both sides before driving."
NOT_SERVED = "What happens in service is not counted here. "
BRIEF = "From the measurements given. Test fit through full travel and lock on both sides before driving."
STYLES = "Dashed: before. Solid: after. "
CLEARANCE = "Clearance: shortest distance in space; negative: overlap. "


def foot_lines(new: Case, old: Case | None) -> list[str]:
    """How to read the sheet, and what it does not promise."""
    lines = [
        (STYLES if old is not None else "") + CLEARANCE + "Filled label: the smallest of a view.",
        "Ring: where a part comes nearest; it is shown swung round the axle into the view.",
        "Closest call: a cut through the axle's centre line and the nearest point; the part is shown swung into it.",
        "Dotted: gap required. Side view: the gap is measured straight up from the tire.",
        CAUTION,
    ]
    if hardpoints(new.fit.axle):
        lines.insert(2, "Thin lines with a dot at each end: arms and rods of the suspension.")
    return lines
