"""The closest call: the half plane through the nearest point, to scale and enlarged, wherever in travel and steer.

The page is the hub's half plane: outboard to the right, away from the axle up. The part is drawn as the turning wheel
meets it, turned about the axle into this plane, so the gap on the page is the gap in space.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
import shapely
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fitment.checks.case import Case
from fitment.checks.fit import Approach, Clearance
from fitment.checks.posed_case import AnyCase
from fitment.clearance.section_distance import trace_shapes
from fitment.clearance.trace import Trace, circle_hits, circles_within_solid
from fitment.draw import case_parts
from fitment.draw.figure_page import height_text
from fitment.draw.labels import place_labels
from fitment.draw.panel import Area, Panel
from fitment.draw.projection import FRONT, PLAN, PosedHub, View, edges, posed_hub, surface_of, thick
from fitment.draw.scene import Shown, at_same_place
from fitment.draw.style import BOLD, DASHED, DOTTED, HAIR, HATCH_OLD, HATCH_PART, LIGHT, LINE, THIN, Theme, words
from fitment.frames import Array, to_half_plane
from fitment.units import clearance_text, length_text

SIDE, FOOT = 16.0, 34.0  # [pt] margins left and right, below
SMALL_PANEL, NARROW_PANEL, WIDE_PANEL = 260.0, 200.0, 340.0  # [pt] lower or narrower ones say less; wide ones in a line
LEAST_HALF, LEAST_HALF_SMALL = 66.0, 48.0  # [mm] of the window round the gap, across and up; in a small panel
ROOM = 34.0  # [mm] shown beyond both ends of a wide gap
LOCATOR = 15.0  # [pt] radius of the small wheel that shows where round it the place is
MOVED = 1.0  # [mm] a part that stands nearer to where it was is drawn once
NAME_AWAY = 30.0  # [mm] from the gap: the line of what is required is named beyond
TICK = 9.0  # [pt] half length of the extension lines at both ends of a gap
GRID = 0.1  # [mm] on which the lines of a trace are joined to be drawn
CELLS = 500  # in which a scan is drawn across a picture: half a dot of it each
SCAN_AT_ONCE = 20_000  # triangles of a scan
PATTERN = 6  # places along each side of a small triangle that are marked, less one
PLACES = np.array([(i, j, PATTERN - i - j) for i in range(PATTERN + 1) for j in range(PATTERN + 1 - i)]) / PATTERN
QUARTERS = np.array([[[2, 0, 0], [1, 1, 0], [1, 0, 1]], [[1, 1, 0], [0, 2, 0], [0, 1, 1]],
                     [[1, 0, 1], [0, 1, 1], [0, 0, 2]], [[0, 1, 1], [1, 0, 1], [1, 1, 0]]]) / 2  # fmt: skip
SECTORS = ("front", "front of the top", "top", "rear of the top", "rear", "rear of the bottom", "bottom",
           "front of the bottom")  # fmt: skip


@dataclass(frozen=True)
class Call:
    """The closest call of a case.

    entry : which part, obstacle and pose; at : the hub there; trace : the obstacle
    part, core : the place on tire or wheel and the nearest point of the obstacle's core, (y', r) [mm]
    clock : where round the wheel, in the hub frame [deg], 0 = forward, 90 = up
    """

    entry: Approach
    at: PosedHub
    trace: Trace
    part: Array
    core: Array
    clock: float

    @property
    def surface(self) -> Array:
        """Where the obstacle begins."""
        return surface_of(self.core, self.part, self.entry.clearance, self.trace.obstacle.radius)


def closest_call(case: Case, entry: Clearance | None = None) -> Call | None:
    """Where the check found the entry that decides, or another of its entries; None when nothing was checked."""
    entry = entry or case.fit.decides
    return None if entry is None else call_of(case, entry)


def call_of(case: AnyCase, entry: Approach) -> Call:
    """One of a case's entries, in the pose it was found in."""
    at = posed_hub(case.fit.poses, entry.pose)
    trace = next(trace for trace in case.fit.traces if trace.obstacle.name == entry.obstacle)
    core, part = at.hub(np.array([entry.point, entry.at_part]))
    clock = float(np.degrees(np.arctan2(core[2], core[0])) % 360.0)
    return Call(entry, at, trace, to_half_plane(part), to_half_plane(core), clock)


def view_of(case: AnyCase, entry: Approach) -> View:
    """The view of the whole wheel that shows the place of an entry: from the front, or from above."""
    clock = np.radians(call_of(case, entry).clock)
    return FRONT if abs(np.sin(clock)) >= abs(np.cos(clock)) else PLAN


def closest_view(
    ax: Axes,
    new: Case,
    old: Case | None = None,
    *,
    entry: Clearance | None = None,
    title: str = "",
    units: str = "mm",
    theme: Theme = LIGHT,
) -> list[Artist]:
    """The closest call of the new case, or another of its entries; the old one in the same travel and steering."""
    panel, call = Panel(ax, theme), closest_call(new, entry)
    if call is None:
        return _nothing(panel, title)
    before = None if old is None else at_same_place(new, call.entry, old)
    brief = panel.size_pt()[1] < SMALL_PANEL or panel.size_pt()[0] < NARROW_PANEL
    compass = "outboard ▶" if brief else "outboard ▶   away from the axle ▲"
    told = caption(call, units, brief=brief, served="" if entry else served(new, units))
    if brief and panel.size_pt()[0] > WIDE_PANEL:
        told = told.replace("\n", ", ")
    panel.heading(title or "Closest call", told, compass, keep=2 * LOCATOR + 14)
    panel.fit(_window(call, LEAST_HALF_SMALL if brief else LEAST_HALF), (SIDE, SIDE, FOOT, panel.head), (False, False))
    case_parts.scale(panel, units)
    locator(panel, call)
    drawn = panel.drawing_area()
    sections(panel, new, drawn)
    free = asked(panel, new, call, drawn)
    if call.entry.allowance > 0 and free is not None:
        panel.wish(f"{length_text(call.entry.allowance, units)} required", free, theme.ink, optional=True)
    shape = part(panel, new, call, drawn)
    if before is not None:
        earlier(panel, *before, call, shape, drawn)
    gap(panel, call)
    was = None if before is None else Shown(new, call.at, *before)
    value = clearance_text(call.entry.clearance, units)
    if was is not None:
        value = case_parts.change_text(was, call.entry.obstacle, units, narrow=brief)
    told = value if brief else f"{words(call.entry.obstacle, 20)}\n{value}"  # the caption above names it
    panel.wish(told, (call.part + call.surface) / 2, theme.ink, alarm=True)
    _names(panel, new, drawn)
    place_labels(panel)
    return panel.artists


def served(case: Case, units: str) -> str:
    """What a case has least in service, beside a gap that is drawn as measured; empty where that does not decide."""
    found = case.fit.in_service
    if found is None or found.worst is None or not case.fit.is_tight_in_service:
        return ""
    left = clearance_text(found.worst.clearance, units).replace(" ", "\u00a0")  # a line may end anywhere else
    return f"in service {left}"


def caption(call: Call, units: str, *, brief: bool = False, served: str = "") -> str:
    """What comes near what and where round it, in which pose, and what was asked for; served : what is left then."""
    entry = call.entry
    if brief:
        lines = [f"{words(entry.obstacle, 20)} to {entry.part}", f"travel {place_text(entry, units, short=True)}"]
        return "\n".join([*lines, served] if served else lines)
    where = SECTORS[int((call.clock + 22.5) // 45.0) % 8]
    first = f"{words(entry.obstacle, 20)} to {entry.part}, at the {where}"
    second = f"travel {place_text(entry, units)}"
    third = f"required {length_text(entry.allowance, units)}"
    if served:
        second, third = f"{second}, as measured", f"{served}; {third}"
    elif isinstance(entry, Clearance):
        third += f", worst case {clearance_text(entry.worst_case, units)}"
    return "\n".join((first, second, third))


def place_text(entry: Approach, units: str, *, short: bool = False) -> str:
    """Travel and steer of an entry in words; of an axle that is not symmetric also corner and opposite wheel."""
    steer = f"{abs(entry.steer):.0f}° {'left' if entry.steer > 0 else 'right'}" if abs(entry.steer) >= 1 else "straight"
    text = f"{height_text(entry.travel, units)}, {steer}"
    if entry.opposite is None or short:
        return text
    return f"{text}, {entry.corner} corner, opposite wheel {height_text(entry.opposite, units)}"


def _nothing(panel: Panel, title: str) -> list[Artist]:
    panel.dress()
    panel.heading(title or "Closest call", "no part checked", "")
    return panel.artists


def _window(call: Call, least: float) -> Area:
    """A square round the gap."""
    middle = (call.part + call.surface) / 2
    half = max(least, float(np.linalg.norm(call.part - call.surface)) / 2 + ROOM)
    return Area(middle - half, middle + half)


# ---------------------------------------------------------------- what is drawn


def turned_in(trace: Trace, index: int, window: shapely.Polygon) -> BaseGeometry:
    """The obstacle in the half plane (y', r) of one pose, within a window; its radius round its core."""
    radius = trace.obstacle.radius
    wide = window.buffer(radius + 1.0)
    if trace.obstacle.mesh is not None:
        return _scan_in(trace, index, wide.bounds).buffer(radius)
    lines = trace_shapes(trace.at(np.arange(len(trace)) == index))[0].intersection(wide)
    if not len(trace.mesh.triangles):
        return thick(lines, radius) if radius > 0 else lines
    # a fold ends on the curve of an edge, beside its chords: on a grid they meet
    joined = shapely.union_all([lines, wide.exterior], grid_size=GRID)
    faces = shapely.get_parts(shapely.polygonize([joined]))
    inside = [face for face in faces if _meets(trace, index, face.representative_point())]
    shape = shapely.union_all([*inside, lines])
    return thick(shape, radius) if radius > 0 else shape


def _scan_in(trace: Trace, index: int, bounds: tuple[float, float, float, float]) -> BaseGeometry:
    """A scan in one pose within bounds of the half plane, to be drawn: in cells of which CELLS make up its width.

    Its triangles are very many, so places on them are marked instead of joining what each traces. Those that lie
    beyond are left out, large ones are quartered.
    Source: geometry: none of a triangle is farther from its middle than its corners, in space and in the half plane.
    """
    assert trace.obstacle.mesh is not None
    low, high = np.array(bounds[:2]), np.array(bounds[2:])
    cell = float((high - low).max()) / CELLS
    marked = np.zeros(np.ceil((high - low) / cell).astype(int), dtype=bool)
    scan, corners = trace.obstacle.mesh, trace.hub[index]
    faces = scan.faces
    left = [corners[faces[k : k + SCAN_AT_ONCE]] for k in range(0, len(faces), SCAN_AT_ONCE)]
    while left:
        some = left.pop()
        middle = some.mean(axis=1)
        at, reach = to_half_plane(middle), np.linalg.norm(some - middle[:, None], axis=2).max(axis=1)
        near = np.linalg.norm(at - np.clip(at, low, high), axis=1) <= reach
        some, small = some[near], reach[near] <= PATTERN * cell / 3
        places = np.floor((to_half_plane(PLACES @ some[small]).reshape(-1, 2) - low) / cell).astype(np.intp)
        y, r = places[np.all((places >= 0) & (places < marked.shape), axis=1)].T
        marked[y, r] = True
        if not small.all():
            parts = (QUARTERS @ some[~small, None]).reshape(-1, 3, 3)
            left += [parts[k : k + SCAN_AT_ONCE] for k in range(0, len(parts), SCAN_AT_ONCE)]
    return _outline_of(marked, low, cell)


def _outline_of(marked: NDArray[np.bool_], low: Array, cell: float) -> BaseGeometry:
    """The outline of marked cells, the first of which begins at `low`, their steps rounded off."""
    step = np.diff(np.pad(marked, [(0, 0), (1, 1)]).astype(np.int8), axis=1)
    (row, first), (_, after) = np.nonzero(step == 1), np.nonzero(step == -1)
    y, r, end = low[0] + row * cell, low[1] + first * cell, low[1] + after * cell
    boxes = shapely.union_all(shapely.box(y, r, y + cell, end))
    return boxes.buffer(cell).buffer(-cell).simplify(0.6 * cell)


def _edges(shape: BaseGeometry, drawn: shapely.Polygon) -> BaseGeometry:
    """Outlines of areas, and lines, within the window."""
    pieces = [part.boundary if part.area > 0 else part for part in shapely.get_parts(shape)]
    return shapely.union_all(pieces).intersection(drawn) if pieces else shapely.Point()


def _meets(trace: Trace, index: int, at: shapely.Point) -> bool:
    """Whether the circle through a place of the half plane meets a panel, or what is filled behind it."""
    pose, circle = np.array([index]), np.array([[at.x, at.y]])
    if circle_hits(trace, pose, circle)[0][0]:
        return True
    return trace.obstacle.solid_behind and bool(circles_within_solid(trace, pose, circle)[0])


def sections(panel: Panel, case: AnyCase, drawn: shapely.Polygon) -> None:
    """Tire and wheel in the half plane."""
    theme = panel.theme
    for section, fill, layer in ((case.fit.tire, theme.new_tire, 2.0), (case.fit.wheel, theme.new_wheel, 2.1)):
        panel.area(section.intersection(drawn), fill=fill, layer=layer, ink=False)
        panel.area(section.boundary.intersection(drawn), edge=theme.new, layer=3.7)


def asked(panel: Panel, case: AnyCase, call: Call, drawn: shapely.Polygon) -> Array | None:
    """The line that the part should stay out of; a place on it away from the gap, None where it has none."""
    theme = panel.theme
    section = case.fit.tire if call.entry.part == "tire" else case.fit.wheel
    line = section.buffer(call.entry.allowance).exterior.intersection(drawn)
    panel.area(line, edge=theme.ink, width=THIN, style=DOTTED, layer=4)
    free = shapely.get_coordinates(line.difference(shapely.Point(call.part).buffer(NAME_AWAY)))
    return np.asarray(free[int(np.argmin(np.hypot(*(free - call.part).T)))]) if len(free) else None


def part(panel: Panel, case: AnyCase, call: Call, drawn: shapely.Polygon) -> BaseGeometry:
    """The part, as it is drawn; where it overlaps what it should clear, hatched over it."""
    theme, section = panel.theme, case.fit.tire if call.entry.part == "tire" else case.fit.wheel
    shape = turned_in(call.trace, call.at.index, drawn)
    inside = shape.intersection(drawn)
    if inside.area > 0:
        panel.fill_ink(inside, 0.3)
        panel.area(inside, fill=theme.part_fill, layer=1.8, ink=False)
        overlap = inside.intersection(section)
        if overlap.area > 0:
            panel.area(overlap, fill=theme.part_far, layer=2.4, ink=False)
            panel.area(overlap, hatch=HATCH_PART, hatch_color=theme.part, layer=2.5, ink=False)  # over the fill
        panel.area(_edges(shape, drawn), edge=theme.part, width=LINE, layer=3.5)
    elif not inside.is_empty:
        panel.area(inside, edge=theme.part, width=BOLD, layer=3.5)
    return shape


def earlier(panel: Panel, case: AnyCase, at: PosedHub, call: Call, now: BaseGeometry, drawn: shapely.Polygon) -> None:
    """The old sections where they stand in the body, and the part where it was to them if that is elsewhere.

    now : the part where it is, as `part` drew it
    """
    theme = panel.theme
    there = partial(_seen, at=at, call=call)
    tire, wheel = (shapely.transform(section, there) for section in (case.fit.tire, case.fit.wheel))
    for edge in edges(tire, wheel):
        panel.area(edge.intersection(drawn), edge=theme.old, style=DASHED, layer=3.6)
    inside = tire.intersection(drawn)
    if not inside.is_empty:
        panel.area(inside, hatch=HATCH_OLD, hatch_color=theme.old_hatch, layer=2.6, ink=False)
    trace = next((trace for trace in case.fit.traces if trace.obstacle.name == call.entry.obstacle), None)
    if trace is None:
        return
    was = shapely.transform(turned_in(trace, at.index, drawn.buffer(2 * LEAST_HALF)), there)
    if _edges(was, drawn).hausdorff_distance(_edges(now, drawn)) > MOVED:
        panel.area(_edges(was, drawn), edge=theme.old, width=THIN, style=DASHED, layer=3.4)


def _seen(plane: Array, at: PosedHub, call: Call) -> Array:
    """Places (y', r) of a hub that stands at `at`, turned to the closest call, in that half plane (n, 2)."""
    clock = np.radians(call.clock)
    out = call.at.rotation @ np.array([np.cos(clock), 0.0, np.sin(clock)])
    spin, own = call.at.rotation[:, 1], at.rotation[:, 1]
    own_out = out - (out @ own) * own
    own_out = own_out / np.linalg.norm(own_out)
    y, r = plane.T
    body = at.origin + np.outer(y, own) + np.outer(r, own_out) - call.at.origin
    return np.stack([body @ spin, body @ out], -1)


def gap(panel: Panel, call: Call) -> None:
    """The gap as a dimension, with a short line across each end."""
    a, b = call.part, call.surface
    step = b - a
    length = float(np.hypot(*step))
    way = step / length if length > 1e-6 else np.array([0.0, 1.0])
    across = np.array([-way[1], way[0]]) * TICK * panel.per_pt
    color = panel.theme.ink
    for end in (a, b):
        panel.line([end - across, end + across], color, width=THIN, layer=5.8)
    panel.leave_ink(panel.dimension_gap(a, b, color), case_parts.GAP_INK)


def _names(panel: Panel, case: Case, drawn: shapely.Polygon) -> None:
    for name, section in (("wheel", case.fit.wheel), ("tire", case.fit.tire.difference(case.fit.wheel))):
        seen = section.intersection(drawn)
        if seen.area > (24.0 * panel.per_pt) ** 2:
            panel.wish_within(name, seen, panel.theme.new)


def locator(panel: Panel, call: Call) -> None:
    """A small wheel seen from outside, with a mark where round it the place is."""
    width, height = panel.size_pt()
    theme, here = panel.theme, panel.ax.transAxes
    centre = np.array([width - 12 - LOCATOR, height - 11 - LOCATOR])
    clock = np.radians(call.clock)
    forward = -1.0 if call.entry.corner == "left" else 1.0
    way = np.array([forward * np.cos(clock), np.sin(clock)])
    scale = np.array([width, height])
    back = panel.ax.transData.inverted()

    def data(points: Array) -> Array:
        return np.asarray(back.transform(here.transform(points / scale)))

    angle = np.linspace(0, 2 * np.pi, 49)
    ring = np.stack([np.cos(angle), np.sin(angle)], -1)
    panel.area(data(centre + LOCATOR * ring), edge=theme.quiet, fill=theme.new_tire, width=THIN, layer=8, ink=False)
    panel.area(data(centre + 0.55 * LOCATOR * ring), edge=theme.quiet, fill=theme.panel, width=HAIR, layer=8, ink=False)
    panel.area(data(centre + way * LOCATOR + 3.4 * ring), edge=theme.ink, fill=theme.ink, layer=8.2, ink=False)
    text = "◀ front" if forward < 0 else "front ▶"
    beside = (width - 22 - 2 * LOCATOR, height - 20)
    if width < NARROW_PANEL:  # below it, since the title needs the room
        beside = width - 9, height - 23 - 2 * LOCATOR
    panel.text((beside[0] / width, beside[1] / height), text, color=theme.quiet, transform=here, ha="right",
               va="baseline")  # fmt: skip
