"""The whole vehicle at a glance: both axles' wheels in their arches at ride height, side by side at one scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from matplotlib.figure import Figure

from fitment.checks.case import Case, rake
from fitment.checks.full_case import FullCase
from fitment.corners import axle_of
from fitment.draw.figure_page import EDGE, GAP, NOTE, ROW, height_text, new_sheet, notes, table, title_block, wrapped
from fitment.draw.headings import HEAD, SETUP_LINE, setup_line
from fitment.draw.panel import Area
from fitment.draw.scene import shown
from fitment.draw.style import LIGHT, Theme, look, words
from fitment.draw.views.side import Edge, edges_above, gap_above, side_area, side_view
from fitment.parts.axle import Axle
from fitment.units import length_text

PANELS = 4.7  # [in] high
UNKNOWN = "-"
HOW = (
    "Gap: straight up from the top of the tire to the lip. Lip: its underside over the wheel's centre, at ride height. "
    "Pokes, tucks: how far the tread's outer edge, or the widest of tire and wheel, stands outside or inside the lip, "
    "where it is worst from 30 deg ahead of straight up to 50 behind. Local rules decide what has to be covered."
)
Pair = tuple[FullCase, FullCase | None]


def vehicle_sheet(
    new: FullCase, old: FullCase | None = None, *, units: str = "mm", theme: Theme = LIGHT, date: str | None = None
) -> Figure:
    """One picture of a vehicle: the axle that is given, and the other one where it was checked too."""
    pairs = _front_first(new, old)
    rows = _rows(pairs, units)
    setups = [(case, is_old) for pair in pairs for case, is_old in _both(pair)]
    with look():
        sheet = new_sheet(1.0, theme)
        foot = wrapped([_told_apart(old) + HOW], sheet.inner)
        heights = [HEAD + SETUP_LINE * len(setups), PANELS, ROW * len(rows) + 0.1, 0.03 + NOTE * len(foot)]
        sheet = new_sheet(2 * EDGE + sum(heights) + 3 * GAP, theme)
        head = sheet.blank(heights[0])
        title_block(head, theme, new.ready.profile.name, _builds(new, old), heights[0] * 72, date=date)
        for i, (case, is_old) in enumerate(setups):
            level = heights[0] * 72 - 88 - i * SETUP_LINE * 72
            setup_line(head, theme, case, is_old, level, units, f"{axle_of(case.fit.axle.name)}: ")
        _arches(sheet.row(len(pairs), heights[1]), pairs, units, theme)
        starts = (0.0, *np.linspace(0.24, 1.0, len(rows[0]))[1:].tolist())
        heads = (theme.quiet, *(theme.old if name.startswith("old") else theme.new for name in rows[0][1:]))
        table(sheet.blank(heights[2]), theme, rows, starts, heads)
        notes(sheet.blank(heights[3]), theme, foot)
        return sheet.figure


def _front_first(new: FullCase, old: FullCase | None) -> list[Pair]:
    pairs: list[Pair] = [(new, old)]
    if new.beside is not None:
        pairs.append((new.beside, None if old is None else old.beside))
    return sorted(pairs, key=lambda pair: pair[0].fit.axle.name)


def _both(pair: Pair) -> list[tuple[FullCase, bool]]:
    new, old = pair
    return [*([(old, True)] if old is not None else []), (new, False)]


def _builds(new: FullCase, old: FullCase | None) -> str:
    axles = "whole vehicle" if new.beside is not None else new.fit.axle.title
    builds = words(new.ready.build, 30)
    return f"{axles}, {builds if old is None else f'{words(old.ready.build, 24)} → {builds}'}"


def _told_apart(old: Case | None) -> str:
    return "" if old is None else "Dashed: the old build. Filled: the new one. "


# ---------------------------------------------------------------- the arches


def _arches(axes: Sequence[object], pairs: Sequence[Pair], units: str, theme: Theme) -> None:
    """Each axle's wheel under its lip, the ground of all on one level, at one scale."""
    edges = [edges_above(new) for new, _ in pairs]
    areas = [_on_ground(pair, own) for pair, own in zip(pairs, edges, strict=True)]
    span = np.max([area.high - area.low for area in areas], axis=0)
    for ax, (new, old), own, area in zip(axes, pairs, edges, areas, strict=True):
        wide = (span[0] - (area.high - area.low)[0]) / 2
        low = area.low - [wide, 0.0]
        side_view(
            ax, new, old, travel=None, units=units, theme=theme,  # type: ignore[arg-type]
            title=f"{axle_of(new.fit.axle.name).capitalize()}, {height_text(new.fit.setup.ride, units)}",
            caption=_caption(new, old, own, units), area=replace(area, low=low, high=low + span),
        )  # fmt: skip


def _on_ground(pair: Pair, edges: Sequence[Edge]) -> Area:
    """The area of one axle, down to the lowest ground."""
    new, old = pair
    area = side_area([shown(new, old, travel=None)], edges)
    ground = min(case.fit.setup.ride - case.stance.hub_height for case, _ in _both(pair))
    return replace(area, low=np.array([area.low[0], min(area.low[1], ground)]))


def _caption(new: FullCase, old: FullCase | None, edges: Sequence[Edge], units: str) -> str:
    """The lip, and poke or tuck against it, old to new."""
    if not edges:
        return "no lip measured above it"
    pokes = [_poke(case, units) for case, _ in _both((new, old))]
    return f"{words(edges[0].name, 16)}: tread {' → '.join(dict.fromkeys(pokes))}"


# ---------------------------------------------------------------- the numbers


def _rows(pairs: Sequence[Pair], units: str) -> list[tuple[str, ...]]:
    """Header and rows: what, then old and new of each axle."""
    columns = [(case, is_old) for pair in pairs for case, is_old in _both(pair)]
    compared = pairs[0][1] is not None
    names = (
        f"{('old ' if is_old else 'new ') if compared else ''}{axle_of(case.fit.axle.name)}" for case, is_old in columns
    )
    cases = [case for case, _ in columns]
    return [
        ("at ride height", *names),
        ("tire to lip, straight up", *(_gap(case, units) for case in cases)),
        ("lip above ground", *(_lip(case, units) for case in cases)),
        ("hub above ground", *(length_text(case.stance.hub_height, units, digits=0) for case in cases)),
        ("tread against the lip", *(_poke(case, units) for case in cases)),
        ("widest of tire and wheel", *(_poke(case, units, "whole") for case in cases)),
        ("track", *(length_text(case.stance.track, units, digits=0) for case in cases)),
        ("the body's nose", *(_rake(case) for case in cases)),
    ]


def _gap(case: FullCase, units: str) -> str:
    edges, both = edges_above(case), shown(case, None, travel=None)
    gap = gap_above(both.new, both.new_at, edges[0]) if edges else None
    return UNKNOWN if gap is None else length_text(gap, units, digits=0)


def _lip(case: FullCase, units: str) -> str:
    edges = edges_above(case)
    top = edges[0].above(_centre(case.fit.axle)) if edges else None
    ground = case.fit.setup.ride - case.stance.hub_height
    return UNKNOWN if top is None else length_text(top - ground, units, digits=0)


def _centre(axle: Axle) -> float:
    return float(axle.hub_face_at[0])


def _poke(case: FullCase, units: str, name: str = "tread") -> str:
    """Poke or tuck at the ride height of what is named in `Covered`, at the corner that stands out most."""
    at = [each for each in case.cover.heights if abs(each.travel - case.fit.setup.ride) < 1e-6]
    known = [getattr(each, name) for each in at if getattr(each, name) is not None]
    return _word(max(known), units) if known else "not measured"


def _word(out: float, units: str) -> str:
    """Positive = stands out past the lip [mm]."""
    text = length_text(abs(out), units, digits=0)
    return f"{'pokes' if out > 0 else 'tucks'} {text}" if round(out) else "flush"


def _rake(case: FullCase) -> str:
    stands = {each.fit.axle.name: each.fit.setup.ride for each in (case, case.beside) if each is not None}
    found = rake(case.ready.profile, case.ready.build, stands)
    if found is None:
        return UNKNOWN
    size = round(abs(found), 2)
    return f"{'down' if found > 0 else 'up'} {size:.2f} deg" if size else "level"
