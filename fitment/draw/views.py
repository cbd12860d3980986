"""Views: what a wheel and its surroundings look like in one pose, drawn on an axes.

Body frame, millimetres, equal scale both ways. Outboard is to the right in the front section and in the plan;
the plan is seen from above with the front of the vehicle down the page, as an observer standing before the
vehicle sees it. The side view is seen from the vehicle's left, forward to the left.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from matplotlib.artist import Artist
from matplotlib.axes import Axes

from fitment.cases import Case
from fitment.draw.geometry import (
    FRONT,
    PLAN,
    SIDE,
    Near,
    Stand,
    View,
    beyond,
    circle,
    clearance_at,
    cut,
    meridian,
    nearest,
    on_page,
    outline_shape,
    silhouette,
    stand_at,
)
from fitment.draw.members import members
from fitment.draw.panel import Area, Panel, area_of
from fitment.draw.style import BOLD, CHAIN, DASHED, HAIR, HATCH_PART, LIGHT, LINE, THIN, Theme, words
from fitment.frames import Array
from fitment.trace import Trace
from fitment.units import MM_PER_INCH, inches, length_text

MOST_LABELS = 4  # nearest places named in one view
ARMS, ARMS_INK = 0.55, 0.4  # how strong arms and rods are drawn, and how much a label avoids them
GAP_INK = 5.0  # a label must not hide the gap it speaks of
WORTH = 90.0  # [mm] larger clearances are not named
DIMENSION_ROW = 29.0  # [pt] a row of two-line dimension text
FRONT_MARGINS = (14.0, 58.0, 122.0, 86.0)  # [pt] left, right, bottom, top: room for dimension lines and the heading
SIDE_TEXT = 110.0  # [pt] room beside the tire for the words of a move
PLAN_MARGINS = (14.0, 14.0, 30.0, 66.0)
SIDE_MARGINS = (8.0, 8.0, 24.0, 54.0)


SIDES = {
    "inner_face": "inner face",
    "outer_face": "outer face",
    "tire_inner": "tire, inner side",
    "tire_outer": "tire, outer side",
}


@dataclass(frozen=True)
class Shown:
    """The new case and what it is compared with, each in its own pose of one view."""

    new: Case
    new_at: Stand
    old: Case | None = None
    old_at: Stand | None = None

    def both(self) -> list[tuple[Case, Stand, bool]]:
        """(case, stand, is it the old one), old first."""
        first = [(self.old, self.old_at, True)] if self.old is not None and self.old_at is not None else []
        return [*first, (self.new, self.new_at, False)]


def shown(new: Case, old: Case | None, *, travel: float | None, share: float = 0.0) -> Shown:
    """Both cases at a travel [mm], or each at its own ride height (None), at one steering position."""

    def there(case: Case) -> Stand:
        return stand_at(case, case.fit.setup.ride if travel is None else travel, share)

    return Shown(new, there(new), old, None if old is None else there(old))


# ---------------------------------------------------------------- front section


def front_section(
    ax: Axes,
    new: Case,
    old: Case | None = None,
    *,
    travel: float | None = None,
    title: str = "",
    caption: str = "",
    units: str = "mm",
    theme: Theme = LIGHT,
    area: Area | None = None,
) -> list[Artist]:
    """Section through the hub straight ahead, seen from the front, outboard to the right.

    travel : [mm], or None for each case's own ride height; then ground and dimensions are drawn
    area : what to show; two panels with the same one have the same scale
    """
    both = shown(new, old, travel=travel)
    panel = Panel(ax, theme)

    rest = travel is None
    panel.fit(area or front_area([both]), _front_margins(rest, old is not None), (False, False))
    panel.heading(
        title or ("At ride height" if rest else "At this travel"),
        caption or "section through the hub, seen from the front",
        "outboard ▶",
    )
    _scale(panel, units)
    _surroundings(panel, both, FRONT)
    _arms(panel, both, FRONT)
    _wheels(panel, both, FRONT)
    _hub(panel, both, FRONT)
    if rest:
        _ground(panel, both)
        _front_dimensions(panel, both, units)
    named = _nearest(panel, both, FRONT, units)
    _names(panel, both, FRONT, named)
    _brake(panel, new, both.new_at, FRONT)
    panel.place_labels()
    return panel.artists


def _front_margins(rest: bool, compared: bool) -> tuple[float, float, float, float]:
    """The same sum whether at rest or not, so that both panels have one scale."""
    left, right, bottom, top = FRONT_MARGINS
    bottom = bottom if compared else bottom - DIMENSION_ROW - 17
    lower = 0.0 if rest else (bottom + top) / 2 - top
    return left, right, bottom - lower, top + lower


def front_area(views: Sequence[Shown]) -> Area:
    """The area that the front sections of all these need, with room for the words beside the tire."""
    whole = _area(views, FRONT)
    stances = [case.stance for each in views for case, _, _ in each.both()]
    inner = min(min(stance.tire_inner, stance.inner_face) for stance in stances)
    outer = max(max(stance.tire_outer, stance.outer_face) for stance in stances)
    return replace(whole, reserve_left=((inner, SIDE_TEXT),), reserve_right=((outer, SIDE_TEXT),))


def _front_dimensions(panel: Panel, both: Shown, units: str) -> None:
    """Below the tire: how far each side moves (or where it stands), section widths; beside it: diameters."""
    cases = both.both()
    lowest = min(meridian(case.fit.tire, at, FRONT, -1)[:, 1].min() for case, at, _ in cases)
    ground = min(at.origin[2] - case.stance.hub_height for case, at, _ in cases)
    level = min(lowest, ground) - 20 * panel.per_pt
    sides = (
        min(min(case.stance.tire_inner, case.stance.inner_face) for case, _, _ in cases) - 5 * panel.per_pt,
        max(max(case.stance.tire_outer, case.stance.outer_face) for case, _, _ in cases) + 5 * panel.per_pt,
    )
    if both.old is None:
        _faces(panel, both, level, sides, units)
        level -= DIMENSION_ROW * panel.per_pt
    else:
        for row in (("inner_face", "outer_face"), ("tire_inner", "tire_outer")):
            _moves(panel, both, row, level, sides, units)
            level -= DIMENSION_ROW * panel.per_pt
    level += 5 * panel.per_pt
    for case, at, is_old in cases:
        color = panel.theme.old if is_old else panel.theme.new
        ends = case.stance.tire_inner, case.stance.tire_outer
        text = length_text(case.stance.section_width, units)
        panel.dimension_across(*ends, level, text, color, from_levels=[_widest(case, at)] * 2)
        panel.text((sides[0], level), "section width", color=color, ha="right", va="center")
        level -= 17 * panel.per_pt
    _diameters(panel, both, units)


def _diameters(panel: Panel, both: Shown, units: str) -> None:
    across = max(case.stance.tire_outer for case, _, _ in both.both()) + 18 * panel.per_pt
    for case, at, is_old in reversed(both.both()):
        edge = max(float(meridian(case.fit.tire, at, FRONT, side)[:, 0].max()) for side in (1, -1)) - 20 * panel.per_pt
        middle, half = float(_centre(case, at)[2]), case.stance.overall_diameter / 2
        text = "diameter " + length_text(case.stance.overall_diameter, units)
        color = panel.theme.old if is_old else panel.theme.new
        panel.dimension_up(middle - half, middle + half, across, text, color, from_across=edge)
        across += 21 * panel.per_pt


def _widest(case: Case, at: Stand) -> float:
    """Height of the lower half's widest place [mm]."""
    y, r = np.array(case.fit.tire.exterior.coords).T
    return float(at.origin[2] - r[int(np.argmax(y + (r > r.mean()) * 1e-3))])


def _centre(case: Case, at: Stand) -> Array:
    """Centre of the rim in the body frame."""
    setup = case.fit.setup
    return at.body(np.array([0.0, setup.spacer.thickness - setup.wheel.offset, 0.0]))


def _moves(
    panel: Panel, both: Shown, keys: tuple[str, str], level: float, sides: tuple[float, float], units: str
) -> None:
    """Moves from old to new on both sides: an arrow between both places, its length in words beside it."""
    assert both.old is not None
    assert both.old_at is not None
    starts = [float(both.old_at.origin[2]), float(both.new_at.origin[2])]
    for key, side, way in zip(keys, sides, ("right", "left"), strict=True):
        a, b = float(getattr(both.old.stance, key)), float(getattr(both.new.stance, key))
        panel.dimension_across(a, b, level, "", panel.theme.ink, from_levels=starts, arrow_at_end=True, dotted=True)
        panel.text((side, level), f"{SIDES[key]}\n{moved_text(b - a, units)}", ha=way, va="center")


def moved_text(move: float, units: str, *, trade: bool = False) -> str:
    """How far something moved along y [mm], in words; `trade`: inches as fractions."""
    text = inches(abs(move)) if trade and units == "in" else length_text(abs(move), units)
    if text.split()[0].strip("0.") == "":
        return "not moved"
    return f"{text} {'outboard' if move > 0 else 'inboard'}"


def _faces(panel: Panel, both: Shown, level: float, sides: tuple[float, float], units: str) -> None:
    """Of one case: from the hub face to both faces of the rim."""
    stance, starts = both.new.stance, [float(both.new_at.origin[2])] * 2
    for key, side, way in zip(("inner_face", "outer_face"), sides, ("right", "left"), strict=True):
        face = float(getattr(stance, key))
        panel.dimension_across(stance.hub_face, face, level, "", panel.theme.ink, from_levels=starts, dotted=True)
        text = f"hub to {SIDES[key]}\n{length_text(abs(face - stance.hub_face), units)}"
        panel.text((side, level), text, ha=way, va="center")


def _ground(panel: Panel, both: Shown) -> None:
    left, right = panel.ax.get_xlim()
    levels = []
    for case, at, old in both.both():
        level = float(at.origin[2]) - case.stance.hub_height
        color = panel.theme.old if old else panel.theme.new
        panel.line([(left, level), (right, level)], color, width=THIN, style=DASHED if old else "-", layer=1.2)
        levels.append(level)
    panel.text(
        (left + 6 * panel.per_pt, max(levels) + 2 * panel.per_pt),
        "ground",
        color=panel.theme.quiet,
        ha="left",
        va="bottom",
    )


# ---------------------------------------------------------------- plan


def plan_view(
    ax: Axes,
    new: Case,
    old: Case | None = None,
    *,
    share: float,
    title: str = "",
    caption: str = "",
    units: str = "mm",
    theme: Theme = LIGHT,
    area: Area | None = None,
) -> list[Artist]:
    """Seen from above at each case's ride height: outboard to the right, the front of the vehicle down the page.

    share : steering position, -1 right lock .. +1 left lock
    """
    both = shown(new, old, travel=None, share=share)
    panel = Panel(ax, theme)
    panel.fit(area or plan_area([both]), PLAN_MARGINS, (False, True))
    panel.heading(
        title or f"Steered {both.new_at.steer:+.1f}°", caption or "from above, at ride height", "front ▼   outboard ▶"
    )
    _scale(panel, units)
    _surroundings(panel, both, PLAN)
    _arms(panel, both, PLAN)
    for case, at, is_old in both.both():
        outline = silhouette(case.fit.tire, at, PLAN)
        if is_old:
            panel.old_outline(outline, hatch=False)
        else:
            panel.area(outline, edge=theme.new, fill=theme.new_pale, width=THIN, layer=1.8)
    _wheels(panel, both, PLAN)
    _hub(panel, both, PLAN)
    named = _nearest(panel, both, PLAN, units)
    _names(panel, both, PLAN, named)
    _brake(panel, new, both.new_at, PLAN)
    panel.place_labels()
    return panel.artists


def plan_area(views: Sequence[Shown]) -> Area:
    """The area that the plans of all these need."""
    return _area(views, PLAN)


# ---------------------------------------------------------------- side


@dataclass(frozen=True)
class Arch:
    """The edge above the wheel: its name, its line in the side view (n, 2) and its radius [mm]."""

    name: str
    line: Array
    radius: float

    def above(self, x: float) -> float | None:
        """Underside of the edge above a place x [mm], None where it does not reach."""
        order = np.argsort(self.line[:, 0])
        xs, zs = self.line[order].T
        return float(np.interp(x, xs, zs)) - self.radius if xs[0] <= x <= xs[-1] else None


def arch(case: Case) -> Arch | None:
    """The outermost edge fixed to the body that passes above the hub; None when none was measured."""
    best: tuple[float, Arch] | None = None
    for trace in case.fit.traces:
        obstacle = trace.obstacle
        if obstacle.shape != "edge" or set(obstacle.fixed_to) != {"body"}:
            continue
        body = stand_at(case, 0.0, 0.0).body(trace.hub[stand_at(case, 0.0, 0.0).index])
        here = Arch(obstacle.name, on_page(body, SIDE), obstacle.radius)
        height = here.above(float(case.fit.axle.hub_face_at[0]))
        if height is not None and height > case.fit.axle.hub_face_at[2] + 100:
            outboard = float(body[:, 1].max())
            if best is None or outboard > best[0]:
                best = (outboard, here)
    return best[1] if best else None


def side_view(
    ax: Axes,
    new: Case,
    old: Case | None = None,
    *,
    travel: float | None,
    title: str = "",
    caption: str = "",
    units: str = "mm",
    theme: Theme = LIGHT,
    area: Area | None = None,
) -> list[Artist]:
    """Against the arch, straight ahead, seen from the vehicle's left: forward is left.

    travel : [mm], or None for each case's own ride height
    """
    both = shown(new, old, travel=travel)
    panel = Panel(ax, theme)
    edge = arch(new)
    panel.fit(area or side_area([both], edge), SIDE_MARGINS, (True, False))
    panel.heading(title or "At rest", caption or _arch_words(both, edge, units), "◀ front")
    if edge is not None:
        panel.line(edge.line, theme.part, width=BOLD, layer=4)
    for case, at, is_old in both.both():
        outer = silhouette(case.fit.tire, at, SIDE)
        disc = circle(*_rim(case), at, SIDE)
        if is_old:
            panel.old_outline(outer, hatch=False)
            panel.line(disc, theme.old, width=THIN, style=DASHED, layer=3)
        else:
            panel.area(outer, edge=theme.new, fill=theme.new_tire, layer=2)
            panel.area(disc, edge=theme.new, fill=theme.new_wheel, width=THIN, layer=2.1)
            _bolt_holes(panel, case, at)
        color = theme.old if is_old else theme.new
        level = float(at.origin[2]) - case.stance.hub_height
        panel.line(
            [(ax.get_xlim()[0], level), (ax.get_xlim()[1], level)],
            color,
            width=THIN,
            style=DASHED if is_old else "-",
            layer=1.2,
        )
    if edge is not None:
        _arch_gap(panel, both, edge)
    panel.place_labels()
    return panel.artists


def side_area(views: Sequence[Shown], edge: Arch | None) -> Area:
    """The area that the side views of all these need."""
    points = [silhouette(case.fit.tire, at, SIDE) for each in views for case, at, _ in each.both()]
    tires = np.concatenate(points)
    if edge is not None:
        wide = 0.15 * np.ptp(tires[:, 0])
        inside = (edge.line[:, 0] > tires[:, 0].min() - wide) & (edge.line[:, 0] < tires[:, 0].max() + wide)
        points.append(edge.line[inside])
    return area_of(points)


def arch_gap(case: Case, at: Stand, edge: Arch) -> float | None:
    """Upright distance from the top of the tire to the arch above it [mm]; negative = the tire stands higher."""
    height = edge.above(float(at.origin[0]))
    return None if height is None else height - float(silhouette(case.fit.tire, at, SIDE)[:, 1].max())


def _arch_words(both: Shown, edge: Arch | None, units: str) -> str:
    """The arch's name and the gap to it, old to new."""
    gaps = [arch_gap(case, at, edge) for case, at, _ in both.both()] if edge is not None else []
    texts = [length_text(gap, units, digits=0) for gap in gaps if gap is not None]
    if edge is None or not texts:
        return "no edge measured above it"
    return f"to {words(edge.name, 14)} {' → '.join(texts)}"


def _arch_gap(panel: Panel, both: Shown, edge: Arch) -> None:
    """An upright bar from the top of each tire to the arch above it."""
    beside = 0.0 if both.old is None else 5.0 * panel.per_pt
    for case, at, is_old in both.both():
        gap, top = arch_gap(case, at, edge), edge.above(float(at.origin[0]))
        if gap is None or top is None:
            continue
        x = float(at.origin[0]) + (beside if is_old else -beside)
        color = panel.theme.old if is_old else panel.theme.new
        panel.line([(x, top), (x, top - gap)], color, width=2 * BOLD, style=(0, (0.9, 0.4)) if is_old else "-", layer=6)


def _bolt_holes(panel: Panel, case: Case, at: Stand) -> None:
    """Centre bore and bolt holes, so that the wheel reads as a wheel."""
    wheel = case.fit.setup.wheel
    face = case.fit.setup.spacer.thickness
    bore = circle(face, (wheel.centre_bore or 70.0) / 2, at, SIDE)
    panel.area(bore, edge=panel.theme.new, fill=panel.theme.panel, width=HAIR, layer=2.2)
    if wheel.bolt_circle is None:
        return
    angle = np.pi / 2 + np.arange(wheel.bolt_circle.lugs) * 2 * np.pi / wheel.bolt_circle.lugs
    r = wheel.bolt_circle.diameter / 2
    hub = np.stack([r * np.cos(angle), np.full_like(angle, face), r * np.sin(angle)], -1)
    for centre in on_page(at.body(hub), SIDE):
        panel.area(
            shapely.Point(centre).buffer(8.0), edge=panel.theme.new, fill=panel.theme.panel, width=HAIR, layer=2.2
        )


def _rim(case: Case) -> tuple[float, float]:
    """(y', r) of the rim's outboard edge."""
    y, r = np.array(case.fit.wheel.exterior.coords).T
    top = int(np.argmax(y + 1e-3 * r + (r > 0.9 * r.max()) * 1e4))
    return float(y[top]), float(r.max())


# ---------------------------------------------------------------- shared


def _area(views: Sequence[Shown], view: View) -> Area:
    points = []
    for each in views:
        for case, at, _ in each.both():
            outline = silhouette(case.fit.tire, at, view)
            points.append(outline)
            low, high = outline.min(axis=0) - 90, outline.max(axis=0) + 60
            for near in _worth_naming(case, at, view):
                points.append(np.clip(np.stack([near.core - near.radius, near.core + near.radius]), low, high))
    return area_of(points)


def _scale(panel: Panel, units: str) -> None:
    if units == "in":
        panel.scale_bar(4 * MM_PER_INCH, "4 in")
    else:
        panel.scale_bar(100.0, "100 mm")


def _wheels(panel: Panel, both: Shown, view: View) -> None:
    """Sections of tire and wheel on both sides of the spin axis."""
    for case, at, is_old in both.both():
        for side in (1, -1):
            tire, wheel = (meridian(section, at, view, side) for section in (case.fit.tire, case.fit.wheel))
            if is_old:
                panel.old_outline(tire)
                panel.old_outline(wheel, hatch=False)
            else:
                panel.new_outline(tire, panel.theme.new_tire)
                panel.new_outline(wheel, panel.theme.new_wheel, layer=2.1)


def _hub(panel: Panel, both: Shown, view: View) -> None:
    """Hub face, spin axis and, in the front section, the steering axis of the new case."""
    case, at = both.new, both.new_at
    y = np.array(case.fit.wheel.exterior.coords)[:, 0]
    ends = np.array([[0.0, y.min() - 30, 0.0], [0.0, y.max() + 30, 0.0]])
    panel.line(on_page(at.body(ends), view), panel.theme.quiet, width=HAIR, style=CHAIN, layer=4)
    face = np.zeros((2, 3))
    face[:, view.half] = (-80.0, 80.0)
    panel.line(on_page(at.body(face), view), panel.theme.ink, width=BOLD, layer=4)
    lower, upper = case.fit.poses.axis_lower, case.fit.poses.axis_upper
    if view is FRONT and lower is not None and upper is not None:
        a, b = lower[at.index], upper[at.index]
        ground = at.origin[2] - case.stance.hub_height
        foot = a + (b - a) * (ground - a[2]) / (b[2] - a[2])
        panel.line(on_page(np.array([foot, b]), view), panel.theme.quiet, width=HAIR, style=CHAIN, layer=4)


def _arms(panel: Panel, both: Shown, view: View) -> None:
    """Arms and rods as faint lines that end in small marks, so that their lean is seen."""
    for case, at, is_old in both.both():
        color = panel.theme.old if is_old else panel.theme.new
        for member in members(case.fit.axle, case.fit.poses, at.index):
            line = on_page(member.places, view)
            panel.line(line, color, width=THIN, style=DASHED if is_old else "-", layer=1.85, ink=False).set_alpha(ARMS)
            panel.leave_ink(line, ARMS_INK)
            panel.artists += panel.ax.plot(
                *line.T,
                linestyle="none",
                marker="o",
                markersize=3.5,
                markerfacecolor=panel.theme.panel,
                markeredgecolor=color,
                markeredgewidth=HAIR,
                zorder=1.9,
            )


def _brake(panel: Panel, case: Case, at: Stand, view: View) -> None:
    brake = case.fit.axle.brake
    if brake is None:
        return
    rotor = brake.rotor.outline if brake.rotor else ()
    caliper = brake.caliper.outline if brake.caliper else ()
    middle = np.radians(sum(brake.caliper.clock) / 2) if brake.caliper else 0.0
    nearer = 1 if (np.sin(middle) if view is FRONT else np.cos(middle)) >= 0 else -1
    for name, outline, sides in (("rotor", rotor, (1, -1)), ("caliper", caliper, (nearer,))):
        if len(outline) < 2:
            continue
        y, r = np.array(outline).T
        for side in sides:
            hub = np.zeros((len(y), 3))
            hub[:, 1], hub[:, view.half] = y, side * r
            points = on_page(at.body(hub), view)
            if len(outline) == 2:
                panel.line(points, panel.theme.quiet, width=BOLD, layer=2.3)
            else:
                panel.area(
                    outline_shape(points), edge=panel.theme.quiet, fill=panel.theme.part_far, width=THIN, layer=2.3
                )
        if view is FRONT:
            panel.wish(name, points.mean(axis=0), panel.theme.quiet, optional=True)


def _surroundings(panel: Panel, both: Shown, view: View) -> None:
    """Obstacles: cut ones dark, those beyond the cut pale. Those fixed to the wheel stand as in the new case."""
    drawn = panel.drawing_area()
    for trace in both.new.fit.traces:
        far = beyond(trace, both.new_at, view).intersection(drawn)
        panel.area(far, edge=panel.theme.faint, fill=panel.theme.part_far, width=HAIR, layer=1)
    for trace in both.new.fit.traces:
        _draw_cut(panel, trace, both.new_at, view, drawn)


def _draw_cut(panel: Panel, trace: Trace, at: Stand, view: View, drawn: shapely.Polygon) -> None:
    shape = cut(trace, at, view).intersection(drawn)
    if shape.is_empty:
        return
    if shape.area > 0:
        panel.fill_ink(shape, 0.1 if trace.obstacle.solid_behind else 0.5)
        panel.area(
            shape,
            edge=panel.theme.part,
            fill="none" if trace.obstacle.solid_behind else panel.theme.part_fill,
            width=LINE,
            layer=3.5,
            hatch=HATCH_PART if trace.obstacle.solid_behind else None,
            hatch_color=panel.theme.faint,
        )
    else:
        panel.area(shape, edge=panel.theme.part, width=BOLD, layer=3.5)


def _nearest(panel: Panel, both: Shown, view: View, units: str) -> set[str]:
    """Leaders where parts come nearest; the smallest clearance of the view in a filled box."""
    mine = _worth_naming(both.new, both.new_at, view)
    before = _worth_naming(both.old, both.old_at, view) if both.old is not None and both.old_at is not None else []
    for near in before:
        _leader(panel, near, panel.theme.old, old=True)
    for near in mine:
        _leader(panel, near, panel.theme.new, old=False)
    smallest = min((near.entry.clearance for near in mine), default=0.0)
    for near in mine:
        value = length_text(near.entry.clearance, units)
        if both.old is not None and both.old_at is not None:
            earlier = clearance_at(both.old, both.old_at, near.entry.obstacle)
            if earlier is not None:
                value = f"{length_text(earlier.clearance, units)} → {value}"
        text = f"{words(near.entry.obstacle, 20)}\n{value}"
        panel.wish(text, (near.surface + near.part) / 2, panel.theme.ink, alarm=near.entry.clearance == smallest)
    named = {near.entry.obstacle for near in mine}
    for near in before:
        if near.entry.obstacle not in named and both.new_at is not None:
            later = clearance_at(both.new, both.new_at, near.entry.obstacle)
            value = length_text(near.entry.clearance, units) + (
                f" → {length_text(later.clearance, units)}" if later else ""
            )
            panel.wish(f"{words(near.entry.obstacle, 20)}\n{value}", (near.surface + near.part) / 2, panel.theme.ink)
    return named | {near.entry.obstacle for near in before}


def _names(panel: Panel, both: Shown, view: View, named: set[str]) -> None:
    """Names of the other parts that are cut, where there is room."""
    drawn = panel.drawing_area()
    for trace in both.new.fit.traces:
        shape = cut(trace, both.new_at, view).intersection(drawn)
        if trace.obstacle.name in named or shape.is_empty:
            continue
        place = shape.representative_point()
        panel.wish(words(trace.obstacle.name, 20), (place.x, place.y), panel.theme.quiet, optional=True)


def _worth_naming(case: Case, at: Stand, view: View) -> list[Near]:
    return [near for near in nearest(case, at, view) if near.entry.clearance < WORTH][:MOST_LABELS]


def _leader(panel: Panel, near: Near, color: str, *, old: bool) -> None:
    theme = panel.theme
    ring = shapely.Point(near.core).buffer(max(near.radius, 1.5))
    panel.area(ring, edge=theme.part, width=THIN, layer=3.6, style=":" if old else "-")
    ends = np.array([near.part, near.surface])
    panel.line(ends, color, width=BOLD, style=(0, (2, 1)) if old else "-", layer=6, ink=False)
    panel.leave_ink(ends, GAP_INK)
    if near.entry.clearance < 0:
        mark = 4.5 * panel.per_pt
        middle = ends.mean(axis=0)
        for way in ((1, 1), (1, -1)):
            step = np.array(way) * mark
            panel.line([middle - step, middle + step], color, width=BOLD, layer=6.5)
