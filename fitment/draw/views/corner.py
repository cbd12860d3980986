"""Views of one corner: section from the front, plan from above.

Body frame, millimetres, equal scale both ways. Outboard is to the right in both; the plan is seen from above with
the front of the vehicle down the page, as an observer standing before the vehicle sees it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from matplotlib.artist import Artist
from matplotlib.axes import Axes

from fitment.checks.case import Case
from fitment.draw import case_parts
from fitment.draw.dimensions import DIMENSION_ROW, ONE_LINE, corner_dimensions
from fitment.draw.labels import place_labels
from fitment.draw.panel import Area, Panel
from fitment.draw.projection import FRONT, PLAN, View
from fitment.draw.scene import Height, Shown, shown
from fitment.draw.style import LIGHT, Theme

FRONT_MARGINS = (14.0, 58.0, 122.0, 86.0)  # [pt] left, right, bottom, top: room for dimension lines and the heading
TRAVEL_MARGINS = (24.0, 66.0, 34.0, 84.0)
SIDE_TEXT = 110.0  # [pt] room beside the tire for the words of a move
PLAN_MARGINS = (14.0, 14.0, 30.0, 66.0)


# ---------------------------------------------------------------- front section


def front_section(
    ax: Axes,
    new: Case,
    old: Case | None = None,
    *,
    travel: Height = None,
    title: str = "",
    caption: str = "",
    units: str = "mm",
    theme: Theme = LIGHT,
    area: Area | None = None,
) -> list[Artist]:
    """Section through the hub straight ahead, seen from the front, outboard to the right.

    travel : [mm], 'droop' or 'bump', or None for each case's own ride height; then the ground is drawn, and dimensions
    area : what to show; two panels with the same one have the same scale
    """
    both = shown(new, old, travel=travel)
    panel = Panel(ax, theme)
    rest = travel is None
    shown_area = area or (front_area([both]) if rest else case_parts.area_round([both], FRONT))
    panel.fit(shown_area, _front_margins(rest, old is not None), (False, False))
    panel.heading(
        title or ("At ride height" if rest else "At this travel"),
        caption or "section through the hub, seen from the front",
        "outboard ▶",
    )
    case_parts.scale(panel, units)
    case_parts.vehicle(panel, both, FRONT)
    if rest:
        case_parts.ground(panel, both)
        corner_dimensions(panel, both, units)
    return _labelled(panel, both, FRONT, units)


def _front_margins(sized: bool, compared: bool) -> tuple[float, float, float, float]:
    """Room for dimension lines, or for labels alone."""
    if not sized:
        return TRAVEL_MARGINS
    left, right, bottom, top = FRONT_MARGINS
    return left, right, bottom if compared else bottom - DIMENSION_ROW - ONE_LINE, top


def front_area(views: Sequence[Shown]) -> Area:
    """The area that the front sections of all these need, with room for the words beside the tire."""
    whole = case_parts.area_round(views, FRONT)
    stances = [case.stance for both in views for case, _, _ in both.both()]
    inner = min(min(stance.tire_inner, stance.inner_face) for stance in stances)
    outer = max(max(stance.tire_outer, stance.outer_face) for stance in stances)
    return replace(whole, reserve_left=((inner, SIDE_TEXT),), reserve_right=((outer, SIDE_TEXT),))


# ---------------------------------------------------------------- plan


def plan_view(
    ax: Axes,
    new: Case,
    old: Case | None = None,
    *,
    lock_fraction: float,
    title: str = "",
    caption: str = "",
    units: str = "mm",
    theme: Theme = LIGHT,
    area: Area | None = None,
) -> list[Artist]:
    """Seen from above at each case's ride height: outboard to the right, the front of the vehicle down the page.

    lock_fraction : steering position, -1 right lock .. +1 left lock
    """
    both = shown(new, old, travel=None, lock_fraction=lock_fraction)
    panel = Panel(ax, theme)
    panel.fit(area or plan_area([both]), PLAN_MARGINS, (False, True))
    panel.heading(
        title or f"Steered {both.new_at.steer:+.1f}°", caption or "from above, at ride height", "front ▼   outboard ▶"
    )
    case_parts.scale(panel, units)
    case_parts.silhouettes(panel, both, PLAN)
    case_parts.vehicle(panel, both, PLAN)
    return _labelled(panel, both, PLAN, units)


def plan_area(views: Sequence[Shown]) -> Area:
    """The area that the plans of all these need."""
    return case_parts.area_round(views, PLAN)


def _labelled(panel: Panel, both: Shown, view: View, units: str) -> list[Artist]:
    """Clearances, names and the brake, with all labels in their places."""
    named = case_parts.clearances(panel, both, view, units)
    case_parts.names(panel, both, view, named)
    case_parts.brake(panel, both.new.fit.axle.brake, both.new_at, view)
    place_labels(panel)
    return panel.artists
