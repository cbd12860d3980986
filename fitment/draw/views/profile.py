"""The profile as it was typed: hub, brake, steering axis, every obstacle and low point, at the reference pose."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
import shapely
from matplotlib.artist import Artist
from matplotlib.axes import Axes

from fitment.draw import case_parts
from fitment.draw.figure_page import table
from fitment.draw.labels import place_labels
from fitment.draw.panel import Area, Panel, area_of
from fitment.draw.projection import (
    FRONT,
    PLAN,
    SIDE,
    PosedHub,
    View,
    circle,
    lines_through,
    meridian,
    on_page,
    posed_hub,
    silhouette,
)
from fitment.draw.style import BOLD, CHAIN, HAIR, LIGHT, LINE, THIN, Theme, words
from fitment.draw.suspension_lines import hardpoints, members_of, rod_lengths
from fitment.frames import Array
from fitment.motion.suspension import poses_at_lock_fraction
from fitment.parts.axle import Axle, Setup
from fitment.parts.obstacles import Obstacle, core
from fitment.parts.scan import ScanMesh
from fitment.parts.sections import tire_section, wheel_section
from fitment.units import MM_PER_INCH, length_text

if TYPE_CHECKING:  # who draws no scan does not load what places one
    from fitment.scans.placed_scan import PlacedScan

# view, title, caption, directions, name of the axis across and up
VIEWS: dict[str, tuple[View, str, str, str]] = {
    "front": (FRONT, "From the front", "y across, z up", "outboard ▶"),
    "plan": (PLAN, "From above", "y across, x down the page", "front ▼   outboard ▶"),
    "side": (SIDE, "From the left", "x to the left, z up", "◀ front"),
}
POINTS_MARGINS = (64.0, 20.0, 48.0, 62.0)  # [pt] left, right, bottom, top
GRID = {"mm": 200.0, "in": 10 * MM_PER_INCH}  # [mm] between the lines of the coordinate grid
MOST_GRID, LEAST_GRID = 12, 4  # lines along the longer side; a stray point far away widens the grid
NUMBER = 50.0  # [pt] that a coordinate takes across
ONE_LINE = 12  # letters of a hardpoint's name on one line
POINT_INK = 5.0  # how much labels avoid a hardpoint
STATIONS = (10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0, 2000.0)  # [mm] between the lines that show a scan
MOST_STATIONS = 12
SIMPLER, SHORTEST = 1.0, 30.0  # [mm] that a line of a scan may be off, and that it has at least
READ_INK = 3.0  # how much labels avoid a reference point
NEAR_SIDE = 600.0  # [mm] inboard of the hub face: what reaches farther does not widen the views with obstacles


@dataclass(frozen=True)
class Drawn:
    """One obstacle on the page: its lines (each (n, 2)), its typed points (n, 2)."""

    obstacle: Obstacle
    lines: tuple[Array, ...]
    points: Array


def reference(axle: Axle) -> tuple[PosedHub, Any]:
    """The hub as measured, and its poses record."""
    poses = poses_at_lock_fraction(axle, axle.hub_face_at[2], 0.0)
    return posed_hub(poses, 0), poses


def drawn(obstacle: Obstacle, at: PosedHub, view: View) -> Drawn:
    """The obstacle's lines as seen in the view."""
    if obstacle.shape == "ring":
        low, high = obstacle.clock
        y, r = np.array(obstacle.outline).T
        angle = np.radians(np.linspace(low, high, 25))
        arcs = [
            np.stack([ri * np.cos(angle), np.full_like(angle, yi), ri * np.sin(angle)], -1)
            for yi, ri in zip(y, r, strict=True)
        ]
        ends = [np.stack([r * np.cos(a), y, r * np.sin(a)], -1) for a in (angle[0], angle[-1])]
        lines = tuple(on_page(at.body(line), view) for line in (*arcs, *ends))
        return Drawn(obstacle, lines, np.concatenate(lines)[:1])
    if obstacle.mesh is not None:
        through = _stations(obstacle.mesh, view)
        every = np.concatenate(through)
        return Drawn(obstacle, through, every[[int(np.argmax(np.linalg.norm(every - every.mean(axis=0), axis=1)))]])
    typed = on_page(np.array(obstacle.points, dtype=float).reshape(-1, 3), view)
    if obstacle.shape == "panel":
        grid = typed.reshape(-1, obstacle.columns, 2)
        return Drawn(obstacle, (*grid, *np.swapaxes(grid, 0, 1)), typed)
    return Drawn(obstacle, (on_page(core(obstacle), view),), typed)


@lru_cache(maxsize=64)
def _stations(mesh: ScanMesh, view: View) -> tuple[Array, ...]:
    """A scan as the lines in which planes square to the view go through it; page coordinates."""
    axis = ({0, 1, 2} - {view.across, view.up}).pop()
    low, high = (float(f(mesh.vertices[:, axis])) for f in (np.min, np.max))
    step = next(step for step in STATIONS if high - low <= MOST_STATIONS * step)
    found = [np.array([on_page(mesh.vertices, view).mean(axis=0)])]
    for k in range(int(np.floor(low / step)), int(np.ceil(high / step))):
        lines = lines_through(mesh.vertices, mesh.faces, axis, (k + 0.5) * step, lambda ends: on_page(ends, view))
        light = shapely.get_parts(shapely.simplify(lines, SIMPLER))
        found += [shapely.get_coordinates(line) for line in light if line.length > SHORTEST]
    return tuple(found)


def profile_area(axle: Axle, setup: Setup | None, view: str) -> Area:
    """The area that holds everything in the profile."""
    spec = VIEWS[view][0]
    at, poses = reference(axle)
    points = [on_page(at.origin[None], spec) - 60, on_page(at.origin[None], spec) + 60]
    for member in members_of(axle, poses, 0):
        points.append(on_page(member.places[np.abs(member.places[:, 1] - at.origin[1]) < NEAR_SIDE], spec))
    for obstacle in axle.obstacles:
        picture = drawn(obstacle, at, spec)
        points += [line + step for line in picture.lines for step in (-obstacle.radius, obstacle.radius)]
    low = np.array([low_point.at for low_point in axle.low_points]).reshape(-1, 3)
    points.append(on_page(low[np.abs(low[:, 1] - at.origin[1]) < NEAR_SIDE], spec))
    if setup is not None:
        points.append(silhouette(tire_section(setup.tire, setup.wheel, setup.spacer.thickness), at, spec))
    return area_of(points)


def profile_view(
    ax: Axes,
    axle: Axle,
    setup: Setup | None,
    *,
    view: str,
    units: str = "mm",
    theme: Theme = LIGHT,
    area: Area | None = None,
    scans: Sequence[PlacedScan] = (),
) -> list[Artist]:
    """One view of the profile: 'front', 'plan' or 'side'; scans : whose reference points are drawn."""
    spec, title, caption, compass = VIEWS[view]
    panel = Panel(ax, theme)
    panel.fit(area or profile_area(axle, setup, view), (64, 24, 48, 58), (spec.across_flipped, spec.up_flipped))
    panel.heading(title, caption, compass)
    _grid(panel, units)
    at, poses = reference(axle)
    _wheel(panel, setup, at, spec)
    _axes_of_hub(panel, axle, at, poses, spec, units)
    plot = _plot(panel)
    for member in members_of(axle, poses, 0):
        seen = shapely.LineString(on_page(member.places, spec)).intersection(plot)
        panel.area(seen, edge=theme.new, width=THIN, layer=2.9)
    for obstacle in axle.obstacles:
        _part(panel, drawn(obstacle, at, spec))
    for scan in scans:
        _reference_points(panel, scan, spec, units)
    _brake(panel, axle, at, spec)
    _low_points(panel, axle, spec, plot, units)
    place_labels(panel)
    return panel.artists


# ---------------------------------------------------------------- hardpoints


def points_view(
    ax: Axes, axle: Axle, *, view: str, units: str = "mm", theme: Theme = LIGHT, area: Area | None = None
) -> list[Artist]:
    """Arms and rods alone with every hardpoint by its name: 'front', 'plan' or 'side'."""
    spec, title, caption, compass = VIEWS[view]
    at, poses = reference(axle)
    panel = Panel(ax, theme)
    panel.fit(area or points_area(axle, view), POINTS_MARGINS, (spec.across_flipped, spec.up_flipped))
    panel.heading(f"Hardpoints {title[0].lower()}{title[1:]}", caption, compass)
    _grid(panel, units)
    _axes_of_hub(panel, axle, at, poses, spec, units, near=True)
    for member in members_of(axle, poses, 0):
        panel.line(on_page(member.places, spec), theme.part, width=BOLD, layer=3.2)
    points = {name: on_page(np.array(place), spec) for name, place in hardpoints(axle).items()}
    for name, point in points.items():
        fixed = name.endswith(("_inner", "_body", "_top")) or "_inner_" in name
        face = theme.panel if fixed else theme.part
        panel.marks(point, "s" if fixed else "o", 6.5, theme.part, face=face, width=LINE, ink=POINT_INK)
    middle = np.mean(list(points.values()), axis=0)
    for name, point in points.items():
        away = (panel.px([point]) - panel.px([middle]))[0]
        away = away / max(float(np.hypot(*away)), 1.0)
        panel.wish(_in_two(name.replace("_", " ")), point, theme.ink, prefer=(float(away[0]), float(away[1])))
    place_labels(panel)
    return panel.artists


def _in_two(name: str) -> str:
    """A long name in two lines: short lines find a place where points stand close together."""
    first, _, last = name.rpartition(" ")
    return f"{first}\n{last}" if len(name) > ONE_LINE else name


def points_area(axle: Axle, view: str) -> Area:
    """The area that holds every hardpoint, the hub face and the steering axis."""
    spec = VIEWS[view][0]
    at, poses = reference(axle)
    points = [on_page(np.array(place)[None], spec) for place in hardpoints(axle).values()]
    points += [on_page(member.places, spec) for member in members_of(axle, poses, 0)]
    points += [on_page(at.body(np.array([[0.0, -40.0, -90.0], [0.0, 40.0, 90.0]])), spec)]
    points += [on_page(end[:1], spec) for end in (poses.axis_lower, poses.axis_upper) if end is not None]
    whole = area_of(points)
    pad = 0.06 * float(np.max(whole.high - whole.low))
    return Area(whole.low - pad, whole.high + pad)


def points_table(ax: Axes, axle: Axle, *, units: str = "mm", theme: Theme = LIGHT) -> None:
    """Every hardpoint's place, and what a tape reads from point to point, from the top of a blank."""
    rows, rods = point_rows(axle, units), rod_rows(axle, units)
    blank = [("",) * 4] if rods else []
    heads = (theme.quiet,) * 4
    table(ax, theme, [*rows, *blank, *rods], (0.0, 0.62, 0.81, 1.0), heads, headers=(0, len(rows) + 1))


def point_rows(axle: Axle, units: str) -> list[tuple[str, ...]]:
    """Header and rows: point, x, y, z."""
    rows: list[tuple[str, ...]] = [("hardpoint", f"x, {units}", f"y, {units}", f"z, {units}")]
    for name, place in hardpoints(axle).items():
        rows.append((name.replace("_", " "), *(length_text(value, units).split()[0] for value in place)))
    return rows


def rod_rows(axle: Axle, units: str) -> list[tuple[str, ...]]:
    """Header and rows: what can be measured from point to point, its length."""
    lengths = rod_lengths(axle)
    head: list[tuple[str, ...]] = [("point to point, by tape", "", "", f"length, {units}")] if lengths else []
    return head + [(name, "", "", length_text(length, units).split()[0]) for name, length in lengths]


def _plot(panel: Panel) -> shapely.Polygon:
    """The part of the panel that has a grid [mm]."""
    (left, right), (bottom, top) = panel.ax.get_xlim(), panel.ax.get_ylim()
    x = left + np.sign(right - left) * 56 * panel.per_pt
    y = bottom + np.sign(top - bottom) * 40 * panel.per_pt
    return shapely.box(min(x, right), min(y, top), max(x, right), max(y, top)).intersection(panel.drawing_area())


def _grid(panel: Panel, units: str) -> None:
    """Coordinates of the body frame as pale lines with their values at the left and the bottom."""
    area = panel.drawing_area().bounds
    step = GRID[units]
    while max(area[2] - area[0], area[3] - area[1]) / step > MOST_GRID or step < NUMBER * panel.per_pt:
        step *= 2
    while max(area[2] - area[0], area[3] - area[1]) / step < LEAST_GRID and step / 2 > NUMBER * panel.per_pt:
        step /= 2
    (left, right), (bottom, top) = panel.ax.get_xlim(), panel.ax.get_ylim()
    high = area[3] if top > bottom else area[1]
    edge_x = left + np.sign(right - left) * 56 * panel.per_pt
    edge_y = bottom + np.sign(top - bottom) * 40 * panel.per_pt
    for k in range(int(np.ceil(area[0] / step)), int(np.floor(area[2] / step)) + 1):
        x = k * step
        if abs(x - left) > 60 * panel.per_pt and abs(x - right) > 22 * panel.per_pt:
            panel.line([(x, edge_y), (x, high)], panel.theme.faint, width=HAIR, layer=0.5)
            panel.text((x, edge_y), _round_text(x, units), color=panel.theme.quiet, ha="center", va="top")
    for k in range(int(np.ceil(area[1] / step)), int(np.floor(area[3] / step)) + 1):
        z = k * step
        if abs(z - bottom) > 52 * panel.per_pt:
            panel.line([(edge_x, z), (right, z)], panel.theme.faint, width=HAIR, layer=0.5)
            panel.text(
                (edge_x - np.sign(right - left) * 3 * panel.per_pt, z),
                _round_text(z, units),
                color=panel.theme.quiet,
                ha="right",
                va="center",
            )


def _round_text(mm: float, units: str) -> str:
    return f"{round(mm / MM_PER_INCH, 2) + 0.0:g} in" if units == "in" else f"{round(mm, 1) + 0.0:g} mm"


def _part(panel: Panel, each: Drawn) -> None:
    theme, obstacle = panel.theme, each.obstacle
    if obstacle.shape == "ball":
        panel.area(
            shapely.Point(each.points[0]).buffer(max(obstacle.radius, 2.0)),
            edge=theme.part,
            fill=theme.part_fill,
            width=THIN,
            layer=3.4,
        )
    elif obstacle.radius > 0 and obstacle.shape in ("edge", "rod"):
        panel.area(
            shapely.LineString(each.lines[0]).buffer(obstacle.radius),
            edge=theme.part,
            fill=theme.part_far,
            width=THIN,
            layer=3,
        )
    thin = obstacle.shape in ("panel", "ring", "scan")
    for line in each.lines:
        if len(line) > 1:
            panel.line(line, theme.quiet if thin else theme.part, width=HAIR if thin else LINE, layer=3.2)
    if obstacle.shape not in ("ring", "scan"):
        panel.marks(each.points, "o", 4, theme.part, layer=4, ink=1.0)
    anchor = each.points[int(np.argmax(np.linalg.norm(each.points - each.points.mean(axis=0), axis=1)))]
    panel.wish(words(obstacle.name, 28) + (f" ({obstacle.side} only)" if obstacle.side else ""), anchor, theme.ink)


def _reference_points(panel: Panel, scan: PlacedScan, view: View, units: str) -> None:
    """Where the tape found the points that place a scan, and how far the scan is off there."""
    theme, found = panel.theme, scan.placement
    for point, off in zip(found.points, found.residuals, strict=True):
        by_tape = on_page(np.array(point.at), view)
        in_scan = on_page(found.body(np.array([point.scan]))[0], view)
        is_off = found.off is not None and found.off[0] == point.name
        color = theme.alarm_text if is_off else theme.part
        panel.line([by_tape, in_scan], color, width=BOLD, layer=4.5)
        panel.marks(by_tape, "o", 5, color, face=theme.panel, ink=READ_INK)
        panel.marks(in_scan, "x", 4, color, layer=5.2)
        panel.wish(f"{words(point.name, 22)}: {length_text(off, units, digits=1)} off", by_tape, color)
    if found.face:
        _face(panel, scan, view, units)


def _face(panel: Panel, scan: PlacedScan, view: View, units: str) -> None:
    """The circle that places a scan, the places that were picked on it, and the floor's."""
    theme, found, order = panel.theme, scan.placement, scan.order.face
    assert found.face is not None
    assert order is not None
    fit = found.face.fit
    ring = on_page(found.body(fit.rim()), view)
    panel.line(ring, theme.part, width=LINE, layer=4.5)
    floor = () if view is PLAN or order.floor is None else order.floor  # from above it lies far ahead and behind
    picked = np.array([*order.face.edge, *floor], dtype=float)
    for place in on_page(found.body(scan.in_mm(picked)), view):
        panel.marks(place, "x", 4, theme.part, layer=5.2)
    then = " when scanned" if scan.order.stood else ""
    across = length_text(2 * fit.radius, units, digits=0)
    told = f"{fit.what}{then}: {across} across,\naxis within {fit.tilt:.2f} deg"
    panel.wish(told, ring[int(np.argmin(ring[:, 1]))], theme.part)


def _brake(panel: Panel, axle: Axle, at: PosedHub, view: View) -> None:
    """Rotor and caliper: cut through the hub, or from the side where they stand about it."""
    if view is not SIDE:
        case_parts.brake(panel, axle.brake, at, view)
        return
    rotor, caliper = (axle.brake.rotor, axle.brake.caliper) if axle.brake else (None, None)
    radius = max((r for _, r in rotor.outline), default=0.0) if rotor else 0.0
    radius = radius or (rotor.diameter or 0.0) / 2 if rotor else 0.0
    if radius:
        edge = circle(0.0, radius, at, view)
        panel.area(edge, edge=panel.theme.quiet, fill="none", width=THIN, layer=2.3)
        panel.wish("rotor", edge[int(np.argmin(edge[:, 0]))], panel.theme.quiet)
    if caliper and len(caliper.outline) > 1:
        ring = drawn(Obstacle("caliper", "ring", outline=caliper.outline, clock=caliper.clock), at, view)
        for line in ring.lines:
            panel.line(line, panel.theme.quiet, width=HAIR, layer=3.2)
        panel.wish("caliper", np.concatenate(ring.lines).mean(axis=0), panel.theme.quiet)


def _low_points(panel: Panel, axle: Axle, view: View, plot: shapely.Polygon, units: str) -> None:
    """What hangs lowest; what lies far inboard stands at the edge with its y."""
    across = plot.bounds[0::2]
    for low in axle.low_points:
        place = on_page(np.array(low.at), view)
        beyond = not across[0] <= place[0] <= across[1]
        place = np.array([np.clip(place[0], *across), place[1]])
        told = f", y = {length_text(low.at[1], units, digits=0)}" if beyond else ""
        panel.marks(place, "<" if beyond else "v", 7, panel.theme.part, ink=POINT_INK)
        inward = (float(np.sign(np.mean(across) - place[0])), 0.0)
        panel.wish(words(low.name, 28) + told, place, panel.theme.ink, prefer=inward if beyond else None)


def _wheel(panel: Panel, setup: Setup | None, at: PosedHub, view: View) -> None:
    if setup is None:
        return
    theme = panel.theme
    tire = tire_section(setup.tire, setup.wheel, setup.spacer.thickness)
    wheel = wheel_section(setup.wheel, setup.spacer.thickness)
    if view is SIDE:
        panel.area(silhouette(tire, at, view), edge=theme.new, fill=theme.new_tire, layer=1.5)
        y, r = np.array(wheel.exterior.coords).T
        panel.area(circle(float(y.max()), float(r.max()), at, view), edge=theme.new, fill="none", width=THIN, layer=1.6)
        return
    for side in (1, -1):
        panel.area(meridian(tire, at, view, side), edge=theme.new, fill=theme.new_tire, layer=1.5)
        panel.area(meridian(wheel, at, view, side), edge=theme.new, fill=theme.new_wheel, layer=1.6)


def _axes_of_hub(
    panel: Panel, axle: Axle, at: PosedHub, poses: Any, view: View, units: str, *, near: bool = False
) -> None:
    """Spin axis, hub face, steering axis and ground; near: without the ground and how far out the hub face is."""
    theme = panel.theme
    reach = 40.0 if near else 160.0
    ends = at.body(np.array([[0.0, -reach, 0.0], [0.0, reach, 0.0]]))
    panel.line(on_page(ends, view), theme.quiet, width=HAIR, style=CHAIN, layer=4)
    hub = on_page(at.origin, view)
    half = np.zeros((2, 3))
    half[:, 0 if view is PLAN else 2] = (-80.0, 80.0)
    if view is not SIDE:
        panel.line(on_page(at.body(half), view), theme.ink, width=BOLD, layer=4)
    if view is SIDE:
        mark = 9 * panel.per_pt
        for step in np.array([[mark, 0.0], [0.0, mark]]):
            panel.line([hub - step, hub + step], theme.ink, width=LINE, layer=6)
    told = "" if near else "\n" + length_text(axle.hub_face_at[1], units) + " from centre"
    panel.wish("hub face" + told, hub, theme.ink, bold=True)
    if poses.axis_lower is not None and poses.axis_upper is not None:
        axis = on_page(np.array([poses.axis_lower[0], poses.axis_upper[0]]), view)
        panel.line(axis, theme.new, width=LINE, style=CHAIN, layer=4)
        panel.marks(axis, "D", 5, theme.new)
        panel.wish("steering axis", axis.mean(axis=0), theme.new)
    level = at.origin[2] - axle.hub_height
    if view is not PLAN and not near:
        panel.line(
            [(panel.ax.get_xlim()[0], level), (panel.ax.get_xlim()[1], level)], theme.quiet, width=THIN, layer=1.2
        )
