"""The picture of what is no checked build: reach of the adjusters, the best of a list."""

from __future__ import annotations

import math
from collections.abc import Sequence

from matplotlib.figure import Figure

from fitment import report
from fitment.answers.alignment import Alignment
from fitment.answers.row_checks import RowCase
from fitment.checks.case import Case
from fitment.checks.fit import Clearance
from fitment.draw.adjuster_reach import reach_sheet
from fitment.draw.best_of_list import Entry, contact_sheet
from fitment.draw.style import LIGHT, Theme
from fitment.errors import FitmentError
from fitment.motion.adjuster_reach import outlines
from fitment.screening.screen import ScreenedRow
from fitment.units import clearance_text, depth_words

__all__ = ["Figure", "best_of", "reach_of"]  # a picture's type, for those who do not draw


def reach_of(found: Alignment, units: str = "mm", *, theme: Theme = LIGHT, date: str | None = None) -> Figure:
    """What the adjusters reach. Raises FitmentError where there is nothing to draw."""
    if found.reach is None:
        raise FitmentError(f"nothing to draw: {found.why_not}.")
    whole, discrete = outlines(found.reach)
    present, choice, target = found.present, found.choice, found.target
    assert present.caster is not None  # what has adjusters has a steering axis
    return reach_sheet(
        hull=whole,
        present=(present.camber, present.caster),
        target=None if target is None else (target.camber, target.caster),
        best=None if choice is None else (choice.camber, choice.caster),
        discrete=[(report.ball_words(settings, units), hull) for settings, hull in discrete],
        title=found.ready.profile.name,
        subtitle=report.align_subtitle(found, units),
        words=() if choice is None else tuple(report.setting_words(found, s, units) for s in choice.settings),
        units=units,
        theme=theme,
        date=date,
    )


# ---------------------------------------------------------------- the best of a list


def best_of(
    rows: Sequence[RowCase],
    units: str = "mm",
    *,
    axles: int,
    total: int,
    theme: Theme = LIGHT,
    date: str | None = None,
    said: str = "",
) -> Figure:
    """The best rows of a list side by side; axles, total : of the list; said : what they are. Raises FitmentError."""
    if not rows:
        raise FitmentError("no row of the list can be drawn: none names a wheel and a tire that go on each other.")
    entries = [
        Entry(
            _label(row, case, axles),
            row.verdict,
            _limit(row, case.fit.worst),
            case,
            case.fit.worst,
            row.rank,
            _margins(row),
        )
        for row, case in ((checked.row, checked.case) for checked in rows)
    ]
    return contact_sheet(entries, units=units, theme=theme, date=date, total=total, said=said)


def _label(row: ScreenedRow, case: Case, axles: int) -> str:
    """The list's own name where it has one, and the axle where there are several; tire; wheel; bore and spacer."""
    setup, name = case.fit.setup, row.candidate.get("name")
    first = ", ".join(filter(None, (name, case.fit.axle.name if axles > 1 else "")))
    spacer = f"{setup.spacer.thickness:g} mm spacer" if setup.spacer.thickness else ""
    wheel, _, bore = setup.wheel.spec.partition(" CB")
    last = ", ".join(filter(None, (f"CB{bore}" if bore else "", spacer)))
    return "\n".join(filter(None, (first, setup.tire.code, wheel, last)))


def _margins(row: ScreenedRow) -> str:
    """What is left as measured and in the worst case, as the list tells it; nothing where it was not computed."""
    if row.worst_case is None or not math.isfinite(row.margin):
        return ""
    return f"margin {clearance_text(row.margin)}\nworst case {clearance_text(row.worst_case)}"


def _limit(row: ScreenedRow, at: Clearance | None) -> str:
    """What limits it, in words."""
    if row.verdict == "does_not_bolt_on" or at is None:
        return row.reason
    steer = "straight" if abs(at.steer) < 1 else f"{abs(at.steer):.0f}° {'left' if at.steer > 0 else 'right'}"
    travel = f"{at.travel:+.0f}".removeprefix("+" if round(at.travel) == 0 else "")
    gap = f"{at.clearance:.1f} mm from {at.part} to {at.obstacle}"
    if at.clearance < 0:
        gap = f"{at.part} overlaps {at.obstacle} by {depth_words(-at.clearance)}"
    return f"{gap}\ntravel {travel} mm, {steer}"
