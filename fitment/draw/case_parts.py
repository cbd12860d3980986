"""What every view draws of a case: tire and wheel, hub, arms, brake, ground, the parts around, and its clearances."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import numpy as np
import shapely

from fitment.checks.posed_case import AnyCase
from fitment.clearance.trace import Trace
from fitment.draw.panel import FAINT_INK, Area, Panel, area_of
from fitment.draw.projection import (
    Near,
    PosedHub,
    View,
    beyond,
    clearance_at,
    cut,
    meridian,
    nearest_places,
    on_page,
    outline_shape,
    silhouette,
)
from fitment.draw.scene import Shown, tightest
from fitment.draw.style import BOLD, CHAIN, DASHED, DASHED_BOLD, HAIR, HATCH_PART, LINE, THIN, words
from fitment.draw.suspension_lines import members_of
from fitment.frames import Array
from fitment.parts.brake import Brake
from fitment.units import DEEP, MM_PER_INCH, clearance_text

MOST_LABELS = 4  # nearest places named in one view
ARMS, ARMS_INK = 0.55, 0.4  # how strong arms and rods are drawn, and how much a label avoids them
GAP_INK = 5.0  # a label must not hide the gap it speaks of
WORTH = 90.0  # [mm] larger clearances are not named
AROUND = (90.0, 60.0)  # [mm] inboard and below, outboard and above: how far beyond the tire a view goes for a part
SCALE_BARS = {
    "mm": ((100.0, "100 mm"), (50.0, "50 mm"), (20.0, "20 mm"), (10.0, "10 mm")),
    "in": ((4 * MM_PER_INCH, "4 in"), (2 * MM_PER_INCH, "2 in"), (MM_PER_INCH, "1 in"), (MM_PER_INCH / 2, "1/2 in")),
}
LONGEST_BAR = 80.0  # [pt]


def area_round(views: Sequence[Shown], view: View) -> Area:
    """The area that the tires of all these need, and the places worth naming near them."""
    points = []
    for both in views:
        for case, at, _ in both.both():
            outline = silhouette(case.fit.tire, at, view)
            points.append(outline)
            low, high = outline.min(axis=0) - AROUND[0], outline.max(axis=0) + AROUND[1]
            for near in worth_naming(case, at, view):
                points.append(np.clip(np.stack([near.core - near.radius, near.core + near.radius]), low, high))
    return area_of(points)


def scale(panel: Panel, units: str) -> None:
    """A bar of a round length at the bottom right."""
    bars = SCALE_BARS[units]
    panel.scale_bar(*next((bar for bar in bars if bar[0] <= LONGEST_BAR * panel.per_pt), bars[-1]))


def vehicle(
    panel: Panel, both: Shown, view: View, *, hidden: Sequence[str] = (), within: shapely.Polygon | None = None
) -> None:
    """Parts around, arms, tire and wheel, hub."""
    surroundings(panel, both, view, hidden=hidden, within=within)
    arms(panel, both, view)
    wheels(panel, both, view)
    hub(panel, both, view)


def silhouettes(panel: Panel, both: Shown, view: View) -> None:
    """Tires as a whole, behind their sections."""
    for case, at, is_old in both.both():
        outline = silhouette(case.fit.tire, at, view)
        if is_old:
            panel.old_outline(outline)
        else:
            panel.area(outline, edge=panel.theme.new, fill=panel.theme.new_pale, width=THIN, layer=1.8)


def wheels(panel: Panel, both: Shown, view: View) -> None:
    """Sections of tire and wheel on both sides of the spin axis."""
    for case, at, is_old in both.both():
        for side in (1, -1):
            tire, wheel = (meridian(section, at, view, side) for section in (case.fit.tire, case.fit.wheel))
            if is_old:
                panel.old_section(*(shapely.Polygon(outline) for outline in (tire, wheel)))
            else:
                panel.new_outline(tire, panel.theme.new_tire)
                panel.new_outline(wheel, panel.theme.new_wheel, layer=2.1)


def hub(panel: Panel, both: Shown, view: View) -> None:
    """Hub face, spin axis and, seen from the front, the steering axis of the new case."""
    case, at = both.new, both.new_at
    y = np.array(case.fit.wheel.exterior.coords)[:, 0]
    ends = np.array([[0.0, y.min() - 30, 0.0], [0.0, y.max() + 30, 0.0]])
    panel.line(on_page(at.body(ends), view), panel.theme.quiet, width=HAIR, style=CHAIN, layer=4)
    face = np.zeros((2, 3))
    face[:, view.half] = (-80.0, 80.0)
    panel.line(on_page(at.body(face), view), panel.theme.ink, width=BOLD, layer=4)
    lower, upper = case.fit.poses.axis_lower, case.fit.poses.axis_upper
    if view.half == 2 and lower is not None and upper is not None:
        a, b = lower[at.index], upper[at.index]
        ground = at.origin[2] - case.stance.hub_height
        foot = a + (b - a) * (ground - a[2]) / (b[2] - a[2])
        axis = shapely.LineString(on_page(np.array([foot, b]), view)).intersection(panel.drawing_area())
        panel.area(axis, edge=panel.theme.quiet, width=HAIR, style=CHAIN, layer=4, weight=FAINT_INK)


def arms(panel: Panel, both: Shown, view: View) -> None:
    """Arms and rods as faint lines that end in small marks, so that their lean is seen."""
    x0, y0, x1, y1 = panel.drawing_area().bounds
    for case, at, is_old in both.both():
        color = panel.theme.outline(is_old)
        for member in members_of(case.fit.axle, case.fit.poses, at.index):
            line = on_page(member.places, view)
            for piece in shapely.get_parts(shapely.clip_by_rect(shapely.LineString(line), x0, y0, x1, y1)):
                seen = shapely.get_coordinates(piece)
                drawn = panel.line(seen, color, width=THIN, style=DASHED if is_old else "-", layer=1.85, ink=False)
                drawn.set_alpha(ARMS)
                panel.leave_ink(seen, ARMS_INK)
            inside = line[np.all((line >= [x0, y0]) & (line <= [x1, y1]), axis=1)]
            panel.marks(inside, "o", 3.5, color, face=panel.theme.panel, width=HAIR, layer=1.9)


def brake(panel: Panel, parts: Brake | None, at: PosedHub, view: View, *, named: bool = True) -> None:
    """Rotor on both sides of the spin axis, the caliper on its own."""
    if parts is None:
        return
    rotor = parts.rotor.outline if parts.rotor else ()
    caliper = parts.caliper.outline if parts.caliper else ()
    middle = np.radians(sum(parts.caliper.clock) / 2) if parts.caliper else 0.0
    nearer = 1 if (np.sin(middle) if view.half == 2 else np.cos(middle)) >= 0 else -1
    for name, outline, sides in (("rotor", rotor, (nearer, -nearer)), ("caliper", caliper, (nearer,))):
        if len(outline) < 2:
            continue
        y, r = np.array(outline).T
        for side in sides:
            place = np.zeros((len(y), 3))
            place[:, 1], place[:, view.half] = y, side * r
            points = on_page(at.body(place), view)
            if len(outline) == 2:
                panel.line(points, panel.theme.quiet, width=BOLD, layer=2.3)
            else:
                shape = outline_shape(points)
                panel.area(shape, edge=panel.theme.quiet, fill=panel.theme.part_far, width=THIN, layer=2.3)
        if named and view.half == 2:
            panel.wish(name, points.mean(axis=0), panel.theme.quiet, optional=True)


def ground(panel: Panel, both: Shown, *, named: bool = True) -> None:
    """The ground under each case across the panel."""
    left, right = panel.ax.get_xlim()
    levels = []
    for case, at, is_old in both.both():
        level = float(at.origin[2]) - case.stance.hub_height
        color = panel.theme.outline(is_old)
        panel.line([(left, level), (right, level)], color, width=THIN, style=DASHED if is_old else "-", layer=1.2)
        levels.append(level)
    if named:
        at_left = (left + 6 * panel.per_pt, max(levels) + 2 * panel.per_pt)
        panel.text(at_left, "ground", color=panel.theme.quiet, ha="left", va="bottom")


# ---------------------------------------------------------------- parts around


def surroundings(
    panel: Panel, both: Shown, view: View, *, hidden: Sequence[str] = (), within: shapely.Polygon | None = None
) -> None:
    """Obstacles: cut ones dark, those beyond the cut pale. Those fixed to the wheel stand as in the new case."""
    drawn = within or panel.drawing_area()
    traces = [trace for trace in both.new.fit.traces if trace.obstacle.name not in hidden]
    for trace in traces:
        far = beyond(trace, both.new_at, view).intersection(drawn)
        panel.area(far, edge=panel.theme.faint, fill=panel.theme.part_far, width=HAIR, layer=1)
    for trace in traces:
        _draw_cut(panel, trace, both.new_at, view, drawn)
    _where_they_were(panel, both, view, [trace.obstacle.name for trace in traces if trace.obstacle.rework], drawn)


def _where_they_were(panel: Panel, both: Shown, view: View, names: Sequence[str], drawn: shapely.Polygon) -> None:
    """Parts that the new build moves or trims, dashed as the old one has them."""
    if both.old is None or both.old_at is None:
        return
    for trace in both.old.fit.traces:
        if trace.obstacle.name in names:
            shape = cut(trace, both.old_at, view)
            edge = shape if shape.area == 0 else shape.boundary
            panel.area(edge.intersection(drawn), edge=panel.theme.part, width=THIN, style=DASHED, layer=3.4, ink=False)


def _draw_cut(panel: Panel, trace: Trace, at: PosedHub, view: View, drawn: shapely.Polygon) -> None:
    """A part that is cut: filled, or hatched where the space behind a sheet counts as full; no edge along `drawn`."""
    theme, whole = panel.theme, cut(trace, at, view)
    shape = whole.intersection(drawn)
    if shape.is_empty:
        return
    if shape.area == 0:
        panel.area(shape, edge=theme.part, width=BOLD, layer=3.5)
        return
    solid = trace.obstacle.solid_behind
    panel.fill_ink(shape, 0.1 if solid else 0.5)
    fill, hatch = ("none", HATCH_PART) if solid else (theme.part_fill, None)
    panel.area(shape, fill=fill, hatch=hatch, hatch_color=theme.faint, layer=3.5, ink=False)
    panel.area(whole.boundary.intersection(drawn), edge=theme.part, width=LINE, layer=3.5)


def names(panel: Panel, both: Shown, view: View, named: set[str], *, hidden: Sequence[str] = ()) -> None:
    """Names of the other parts that are cut, where there is room."""
    drawn = panel.drawing_area()
    for trace in both.new.fit.traces:
        if trace.obstacle.name in named or trace.obstacle.name in hidden:
            continue
        shape = cut(trace, both.new_at, view).intersection(drawn)
        if not shape.is_empty:
            panel.wish_within(words(trace.obstacle.name, 20), shape, panel.theme.quiet)


# ---------------------------------------------------------------- clearances


def clearances(
    panel: Panel,
    both: Shown,
    view: View,
    units: str,
    *,
    most: int = MOST_LABELS,
    hidden: Sequence[str] = (),
    worst: bool = True,
    narrow: bool = False,
) -> set[str]:
    """Leaders where parts come nearest; the smallest clearance of the view in a filled box. Returns the names told.

    worst : whether the smallest clearance of the panel is among them; narrow : old and new below each other
    """
    mine = worth_naming(both.new, both.new_at, view, most=most, hidden=hidden)
    told = {near.entry.obstacle for near in mine}
    before = []
    if both.old is not None and both.old_at is not None:
        before = worth_naming(both.old, both.old_at, view, most=most, hidden=hidden)
        alone = [near for near in before if near.entry.obstacle not in told][: max(most - len(mine), 0)]
        before = [near for near in before if near.entry.obstacle in told] + alone
    for near in before:
        leader(panel, near, old=True)
    for near in mine:
        leader(panel, near, old=False)
    smallest = min((near.entry.clearance for near in mine), default=0.0)
    alone = [near for near in before if near.entry.obstacle not in told]
    for near, alarming in [*((near, worst) for near in mine), *((near, False) for near in alone)]:
        text = f"{words(near.entry.obstacle, 20)}\n{change_text(both, near.entry.obstacle, units, narrow=narrow)}"
        alarm = alarming and near.entry.clearance == smallest
        panel.wish(text, (near.surface + near.part) / 2, panel.theme.ink, alarm=alarm)
    return told | {near.entry.obstacle for near in before}


def change_text(both: Shown, obstacle: str, units: str, *, narrow: bool = False) -> str:
    """The clearance to one part in this view, old to new; of one alone where the other has no such part.

    narrow : in two lines
    """
    entries = [clearance_at(case, at, obstacle) for case, at, _ in both.both()]
    texts = [clearance_text(entry.clearance, units) for entry in entries if entry is not None]
    if narrow and len(texts) > 1:
        return f"was {texts[0]}\nnow {texts[1]}"
    if len(texts) > 1 and max(entry.clearance for entry in entries if entry is not None) < -DEEP:
        return f"both {texts[0]}"
    return " → ".join(texts)


def worth_naming(
    case: AnyCase, at: PosedHub, view: View, *, most: int = MOST_LABELS, hidden: Sequence[str] = ()
) -> list[Near]:
    """Nearest places of a view that are worth a label, tightest first."""
    places = [near for near in nearest_places(case, at, view) if near.entry.obstacle not in hidden]
    return [near for near in places if near.entry.clearance < WORTH][:most]


def tightest_leaders(panel: Panel, both: Shown, view: View, still: Collection[str]) -> None:
    """The tightest gap of each case, but for parts whose gap never changes (`still`), where it lies in this view."""
    for case, at, is_old in both.both():
        worst = tightest(case, at, still)
        for near in nearest_places(case, at, view):
            if worst is not None and near.entry.obstacle == worst.obstacle:
                leader(panel, near, old=is_old)


def leader(panel: Panel, near: Near, *, old: bool) -> None:
    """The gap between a part and the wheel, the part's own outline where it comes nearest; a cross on an overlap."""
    color = panel.theme.outline(old)
    ring = shapely.Point(near.core).buffer(max(near.radius, 1.5))
    panel.area(ring, edge=panel.theme.part, width=THIN, layer=3.6, style=":" if old else "-")
    ends = np.array([near.part, near.surface])
    panel.line(ends, color, width=BOLD, style=DASHED_BOLD if old else "-", layer=6, ink=False)
    panel.leave_ink(ends, GAP_INK)
    if near.entry.clearance < 0:
        cross(panel, ends.mean(axis=0), color)


def cross(panel: Panel, at: Array, color: str) -> None:
    """A mark where parts overlap."""
    mark = 4.5 * panel.per_pt
    for way in ((1, 1), (1, -1)):
        step = np.array(way) * mark
        panel.line([at - step, at + step], color, width=BOLD, layer=6.5)
