"""Dimension lines of the sections: moves of the faces, section widths, diameters, the track and how it widens."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fitment.checks.posed_case import AnyCase
from fitment.draw.panel import Panel
from fitment.draw.projection import FRONT, PosedHub, View, meridian
from fitment.draw.scene import Shown
from fitment.frames import Array
from fitment.units import inches, length_text

DIMENSION_ROW, ONE_LINE = 29.0, 17.0  # [pt] rows of two-line and of one-line dimension text
BESIDE, DIAMETERS = 18.0, 21.0  # [pt] from the tire to the first diameter, and from one to the next
FIRST = 20.0  # [pt] from the ground to the first row
NOT_MOVED = 0.05  # [mm]
SIDES = {
    "inner_face": "inner face",
    "outer_face": "outer face",
    "tire_inner": "tire, inner side",
    "tire_outer": "tire, outer side",
}


def corner_dimensions(panel: Panel, both: Shown, units: str) -> None:
    """Below the tire: how far each side moves (or where it stands), section widths; beside it: diameters."""
    level = moves(panel, both, below(panel, both), units)
    widths(panel, both, level + 5 * panel.per_pt, units, FRONT)
    across = max(case.stance.tire_outer for case, _, _ in both.both()) + BESIDE * panel.per_pt
    diameters(panel, both, across, DIAMETERS * panel.per_pt, units, FRONT)


def below(panel: Panel, both: Shown) -> float:
    """Height of the first row of dimensions: below tires and ground [mm]."""
    cases = both.both()
    lowest = min(float(meridian(case.fit.tire, at, FRONT, -1)[:, 1].min()) for case, at, _ in cases)
    return min(lowest, *(ground_level(case, at) for case, at, _ in cases)) - FIRST * panel.per_pt


def ground_level(case: AnyCase, at: PosedHub) -> float:
    """z of the ground under a case [mm]."""
    return float(at.origin[2]) - case.stance.hub_height


def moves(panel: Panel, both: Shown, level: float, units: str) -> float:
    """How far the faces of rim and tire move, or where the rim's faces stand; returns the next level [mm]."""
    sides = sides_of(both, 5 * panel.per_pt)
    if both.old is None:
        _faces(panel, both, level, sides, units)
        return level - DIMENSION_ROW * panel.per_pt
    for row in (("inner_face", "outer_face"), ("tire_inner", "tire_outer")):
        _moves(panel, both, row, level, sides, units)
        level -= DIMENSION_ROW * panel.per_pt
    return level


def sides_of(both: Shown, beside: float) -> tuple[float, float]:
    """Places just inboard and just outboard of all that is drawn of the wheels [mm]."""
    stances = [case.stance for case, _, _ in both.both()]
    inner = min(min(stance.tire_inner, stance.inner_face) for stance in stances)
    outer = max(max(stance.tire_outer, stance.outer_face) for stance in stances)
    return inner - beside, outer + beside


def widths(panel: Panel, both: Shown, level: float, units: str, view: View) -> None:
    """The section width of each case, named on the inboard side."""
    inner, _ = sides_of(both, 5 * panel.per_pt)
    sign = -1.0 if view.mirror else 1.0
    for case, at, is_old in both.both():
        color = panel.theme.outline(is_old)
        ends = sign * case.stance.tire_inner, sign * case.stance.tire_outer
        text = length_text(case.stance.section_width, units)
        panel.dimension_across(*ends, level, text, color, from_levels=[_widest(case, at)] * 2)
        align = "left" if view.mirror else "right"
        panel.text((sign * inner, level), "section width", color=color, ha=align, va="center")
        level -= ONE_LINE * panel.per_pt


def diameters(panel: Panel, both: Shown, across: float, step: float, units: str, view: View) -> None:
    """Overall diameters as upright dimensions, the new one nearer to the tire; across, step : [mm] on the page."""
    sign = -1.0 if view.mirror else 1.0
    for case, at, is_old in reversed(both.both()):
        outlines = [meridian(case.fit.tire, at, view, side)[:, 0] * sign for side in (1, -1)]
        edge = max(float(outline.max()) for outline in outlines) - 20 * panel.per_pt
        middle, half = float(_centre(case, at)[2]), case.stance.overall_diameter / 2
        text = "diameter " + length_text(case.stance.overall_diameter, units)
        color = panel.theme.outline(is_old)
        panel.dimension_up(middle - half, middle + half, sign * across, text, color, from_across=sign * edge)
        across += step


def track(panel: Panel, both: Shown, right: Shown, level: float, units: str) -> None:
    """From contact point to contact point of both wheels, each case in its row; the new row says how much wider."""
    for (case, at, is_old), (_, right_at, _) in zip(both.both(), right.both(), strict=True):
        color = panel.theme.outline(is_old)
        ends = -contact(case, right_at), contact(case, at)
        text = f"track {length_text(case.stance.track, units)}"
        if both.old is not None and not is_old:
            text += f", {wider_text(case.stance.track - both.old.stance.track, units)}"
        panel.dimension_across(*ends, level, text, color, from_levels=[ground_level(case, at)] * 2)
        level -= ONE_LINE * panel.per_pt


def contact(case: AnyCase, at: PosedHub) -> float:
    """How far outboard the tire stands on the ground, straight ahead [mm]."""
    spin = at.rotation[:, 1]
    up = np.array([0.0, 0.0, 1.0]) - spin[2] * spin  # from the contact point to the wheel's centre, as it leans
    centre = _centre(case, at)
    return float(centre[1] - up[1] * (centre[2] - ground_level(case, at)) / up[2])


def wider_text(change: float, units: str) -> str:
    """A change of the track in words."""
    if abs(change) < NOT_MOVED:
        return "as wide as before"
    return f"{length_text(abs(change), units)} {'wider' if change > 0 else 'narrower'}"


def moved_text(move: float, units: str, *, trade: bool = False) -> str:
    """How far something moved along y [mm], in words; `trade`: inches as fractions."""
    text = inches(abs(move)) if trade and units == "in" else length_text(abs(move), units)
    if text.split()[0].strip("0.") == "":
        return "not moved"
    return f"{text} {'outboard' if move > 0 else 'inboard'}"


def _widest(case: AnyCase, at: PosedHub) -> float:
    """Height of the lower half's widest place [mm]."""
    y, r = np.array(case.fit.tire.exterior.coords).T
    return float(at.origin[2] - r[int(np.argmax(y + (r > r.mean()) * 1e-3))])


def _centre(case: AnyCase, at: PosedHub) -> Array:
    """Centre of the rim in the body frame."""
    setup = case.fit.setup
    return at.body(np.array([0.0, setup.spacer.thickness - setup.wheel.offset, 0.0]))


def _moves(
    panel: Panel, both: Shown, keys: Sequence[str], level: float, sides: tuple[float, float], units: str
) -> None:
    """Moves from old to new on both sides: an arrow between both places, its length in words beside it."""
    assert both.old is not None
    assert both.old_at is not None
    starts = [float(both.old_at.origin[2]), float(both.new_at.origin[2])]
    for key, side, way in zip(keys, sides, ("right", "left"), strict=True):
        a, b = float(getattr(both.old.stance, key)), float(getattr(both.new.stance, key))
        panel.dimension_across(a, b, level, "", panel.theme.ink, from_levels=starts, arrow_at_end=True, dotted=True)
        panel.text((side, level), f"{SIDES[key]}\n{moved_text(b - a, units)}", ha=way, va="center")


def _faces(panel: Panel, both: Shown, level: float, sides: tuple[float, float], units: str) -> None:
    """Of one case: from the hub face to both faces of the rim."""
    stance, starts = both.new.stance, [float(both.new_at.origin[2])] * 2
    for key, side, way in zip(("inner_face", "outer_face"), sides, ("right", "left"), strict=True):
        face = float(getattr(stance, key))
        panel.dimension_across(stance.hub_face, face, level, "", panel.theme.ink, from_levels=starts, dotted=True)
        text = f"hub to {SIDES[key]}\n{length_text(abs(face - stance.hub_face), units)}"
        panel.text((side, level), text, ha=way, va="center")
