"""From the hub's frame onto the page: cuts, silhouettes and nearest places of one case in one view.

A view looks along one axis of the body. What it cuts is the plane through the spin axis that faces the reader;
a nearest place that lies beside that plane is turned into it about the spin axis, which leaves its distance
to the section as it is: a gap on the page has its true size.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from fitment.checks.fit import Approach
from fitment.checks.posed_case import AnyCase
from fitment.clearance.trace import Trace
from fitment.frames import Array
from fitment.motion.poses import Poses
from fitment.parts.obstacles import Obstacle
from fitment.parts.scan import Faces
from fitment.parts.solid_panel import PIECE_EDGES, fill_of, sheet_triangles

NEAR = 150.0  # [mm] parts farther from the cut than this are left out; clearances larger than this are not drawn
JOINED = 0.01  # [mm] ends of lines no farther apart than this are one place
END_ON = 1e-6  # [mm] shorter on the page than this, an edge is seen end on
FEW_PIECES = 64  # pieces of a shape that are made thick together
TURN = 45.0  # [deg] places farther round the wheel than this belong to the other view


@dataclass(frozen=True)
class View:
    """across, up : body axes along the page (0 x, 1 y, 2 z); flipped ones grow left or down
    normal, half : hub axes square to the cut and along its half planes
    mirror : the other side of the vehicle: what is outboard lies to the left
    """

    across: int
    up: int
    normal: int
    half: int
    across_flipped: bool = False
    up_flipped: bool = False
    mirror: bool = False


FRONT = View(across=1, up=2, normal=0, half=2)  # from the front: outboard to the right
PLAN = View(across=1, up=0, normal=2, half=0, up_flipped=True)  # from above: outboard right, forward down
FRONT_RIGHT = replace(FRONT, mirror=True)  # the right corner beside the left one
SIDE = View(across=0, up=2, normal=1, half=2, across_flipped=True)  # from the left: forward to the left


@dataclass(frozen=True)
class PosedHub:
    """The hub in one pose of a case: its number there, origin (3,), rotation (3, 3)."""

    index: int
    origin: Array
    rotation: Array
    travel: float
    steer: float

    def body(self, hub: Array) -> Array:
        """Points (n, 3) from the hub's frame to the body's."""
        return hub @ self.rotation.T + self.origin

    def hub(self, body: Array) -> Array:
        """Points (n, 3) from the body's frame to the hub's."""
        return (body - self.origin) @ self.rotation


@dataclass(frozen=True)
class Near:
    """The nearest place of one obstacle, on the page of a view [mm].

    core, part : the obstacle's point and the place on tire or wheel, (2,); surface : where the obstacle begins
    """

    entry: Approach
    radius: float
    core: Array
    part: Array

    @property
    def surface(self) -> Array:
        return surface_of(self.core, self.part, self.entry.clearance, self.radius)


def surface_of(core: Array, part: Array, clearance: float, radius: float) -> Array:
    """The core point brought toward the place on the wheel by the obstacle's radius (2,) [mm]."""
    step = part - core
    length = float(np.linalg.norm(step))
    inside = clearance + radius < 0
    return core if length < 1e-6 else core + step / length * radius * (-1.0 if inside else 1.0)


def posed_hub(poses: Poses, index: int) -> PosedHub:
    """One of the poses."""
    return PosedHub(
        index, poses.origin[index], poses.rotation[index], float(poses.travel[index]), float(poses.turned[index])
    )


def on_page(body: Array, view: View) -> Array:
    """Body points (n, 3) as page coordinates (n, 2) [mm]; flipping is left to the axes."""
    page = np.asarray(body)[..., [view.across, view.up]]
    return page * np.array([-1.0, 1.0]) if view.mirror else page


def meridian(section: shapely.Polygon, at: PosedHub, view: View, side: int) -> Array:
    """Outline of a section on one side of the spin axis, page coordinates (n, 2)."""
    y, r = np.array(section.exterior.coords).T
    return on_page(at.body(_in_cut(y, side * r, view)), view)


def edges(tire: shapely.Polygon, wheel: shapely.Polygon) -> tuple[BaseGeometry, BaseGeometry]:
    """Outlines of tire and wheel, what both share in the wheel's only: dashes drawn twice look like a line."""
    alone = tire.boundary.difference(wheel.buffer(0.3))
    return shapely.line_merge(alone) if alone.geom_type == "MultiLineString" else alone, wheel.boundary


def _in_cut(y: Array, along: Array, view: View) -> Array:
    hub = np.zeros((len(y), 3))
    hub[:, 1], hub[:, view.half] = y, along
    return hub


def silhouette(section: shapely.Polygon, at: PosedHub, view: View) -> Array:
    """Outline of the whole solid of revolution as seen in a view, page coordinates (n, 2)."""
    return _silhouette(section, at.origin.tobytes(), at.rotation.tobytes(), view)


@lru_cache(maxsize=256)
def _silhouette(section: shapely.Polygon, origin: bytes, rotation: bytes, view: View) -> Array:
    at, turn = np.frombuffer(origin), np.frombuffer(rotation).reshape(3, 3)
    y, r = _hull(section)
    angle = np.linspace(0, 2 * np.pi, 96, endpoint=False)
    hub = np.stack(
        [np.outer(np.cos(angle), r), np.broadcast_to(y, (len(angle), len(y))), np.outer(np.sin(angle), r)], -1
    )
    hull = shapely.linestrings(on_page(hub.reshape(-1, 3) @ turn.T + at, view)).convex_hull
    outline = np.array(hull.exterior.coords)
    outline.flags.writeable = False  # it is kept for the next who asks
    return outline


@lru_cache(maxsize=64)
def _hull(section: shapely.Polygon) -> Array:
    """y' and r (2, n) of a section's convex hull, as finely as it is seen."""
    return np.array(section.convex_hull.simplify(0.2).exterior.coords).T


def circle(y: float, r: float, at: PosedHub, view: View) -> Array:
    """A circle about the spin axis, page coordinates (n, 2)."""
    angle = np.linspace(0, 2 * np.pi, 97)
    hub = np.stack([r * np.cos(angle), np.full_like(angle, y), r * np.sin(angle)], -1)
    return on_page(at.body(hub), view)


def nearest_places(case: AnyCase, at: PosedHub, view: View) -> list[Near]:
    """Obstacles whose nearest place in this pose lies in or beside the cut, overlaps first, then the tightest."""
    radius = {obstacle.name: obstacle.radius for obstacle in case.fit.obstacles}
    best: dict[str, Approach] = {}
    for entry in case.fit.clearances:
        if entry.pose == at.index and (entry.obstacle not in best or entry.urgency < best[entry.obstacle].urgency):
            best[entry.obstacle] = entry
    places = []
    for entry in sorted(best.values(), key=lambda each: each.urgency):
        point, part = at.hub(np.array([entry.point, entry.at_part]))
        along, beside = abs(point[view.half]), abs(point[view.normal])
        if entry.clearance > NEAR or beside > along * np.tan(np.radians(TURN)):
            continue
        side = 1.0 if point[view.half] >= 0 else -1.0
        y, r = np.array([point[1], part[1]]), np.hypot([point[0], part[0]], [point[2], part[2]])
        core, touch = on_page(at.body(_in_cut(y, side * r, view)), view)
        places.append(Near(entry, radius[entry.obstacle], core, touch))
    return places


def clearance_at(case: AnyCase, at: PosedHub, obstacle: str) -> Approach | None:
    """The obstacle's deepest overlap in this pose, else its smallest margin, over tire and wheel."""
    entries = [e for e in case.fit.clearances if e.pose == at.index and e.obstacle == obstacle]
    return min(entries, key=lambda e: e.urgency, default=None)


# ---------------------------------------------------------------- obstacles


def cut(trace: Trace, at: PosedHub, view: View) -> BaseGeometry:
    """What the cut goes through, page coordinates; empty when it misses the part."""
    obstacle = trace.obstacle
    if obstacle.shape == "ring":
        return _ring_cut(obstacle, at, view)
    hub = trace.hub[at.index]
    if obstacle.shape in ("panel", "scan"):
        return _sheet_cut(trace, hub, at, view)
    return thick(_slab(obstacle, hub, at, view, max(obstacle.radius, 1.0)), max(obstacle.radius, 1.5))


def beyond(trace: Trace, at: PosedHub, view: View, depth: float = NEAR) -> BaseGeometry:
    """The part of an obstacle within `depth` of the cut, as seen in the view; surfaces and rings are left out."""
    obstacle = trace.obstacle
    if obstacle.shape in ("ring", "panel", "scan"):
        return shapely.Point()
    return thick(_slab(obstacle, trace.hub[at.index], at, view, depth), max(obstacle.radius, 1.5))


def _slab(obstacle: Obstacle, hub: Array, at: PosedHub, view: View, depth: float) -> BaseGeometry:
    """Core points and lines within `depth` of the cut, page coordinates."""
    page = on_page(at.body(hub), view)
    off = hub[:, view.normal]
    if obstacle.shape == "ball":
        return shapely.Point(page[0]) if abs(off[0]) <= depth else shapely.Point()
    pieces = []
    for i in range(len(hub) - 1):
        span = _within(off[i], off[i + 1], depth)
        if span is not None:
            ends = [page[i] + (page[i + 1] - page[i]) * s for s in span]
            # an edge that runs straight at the reader is a point: a line without length would vanish in the union
            seen_end_on = float(np.hypot(*(ends[1] - ends[0]))) < END_ON
            pieces.append(shapely.Point(ends[0]) if seen_end_on else shapely.LineString(ends))
    return shapely.union_all(pieces) if pieces else shapely.Point()


def thick(core: BaseGeometry, radius: float) -> BaseGeometry:
    """All that lies within a radius [mm] of points, lines and areas.

    Of many each is made thick by itself: all at once takes some forty times as long, and is off by more.
    """
    pieces = shapely.get_parts(core)
    return core.buffer(radius) if len(pieces) <= FEW_PIECES else shapely.union_all(shapely.buffer(pieces, radius))


def _within(a: float, b: float, depth: float) -> tuple[float, float] | None:
    """Shares of the way from a to b at which the value is within +-depth."""
    if a == b:
        return (0.0, 1.0) if abs(a) <= depth else None
    low, high = sorted(((-depth - a) / (b - a), (depth - a) / (b - a)))
    low, high = max(low, 0.0), min(high, 1.0)
    return (low, high) if low < high else None


def _ring_cut(obstacle: Obstacle, at: PosedHub, view: View) -> BaseGeometry:
    sides = [side for side, clock in _clocks(view) if _covers(obstacle.clock, clock)]
    y, r = np.array(obstacle.outline).T
    shapes = [outline_shape(on_page(at.body(_in_cut(y, side * r, view)), view)) for side in sides]
    return shapely.union_all(shapes) if shapes else shapely.Point()


def _clocks(view: View) -> tuple[tuple[int, float], tuple[int, float]]:
    return ((1, 90.0), (-1, 270.0)) if view.half == 2 else ((1, 0.0), (-1, 180.0))


def _covers(clock: tuple[float, float], angle: float) -> bool:
    first, last = clock
    return last - first >= 360.0 or (angle - first) % 360.0 <= (last - first) % 360.0


def outline_shape(points: Array) -> BaseGeometry:
    """Two points are a line, more a filled outline."""
    return shapely.Polygon(points).buffer(0) if len(points) > 2 else shapely.LineString(points)


def _sheet_cut(trace: Trace, hub: Array, at: PosedHub, view: View) -> BaseGeometry:
    """Where the cut goes through the sheet; of a solid panel, the area behind it."""
    if trace.obstacle.solid_behind:
        areas = [_piece_cut(piece, at, view) for piece in hub[fill_of(trace.obstacle).pieces]]
        whole = shapely.union_all(areas, grid_size=JOINED)  # pieces meet but for rounding
        if whole.area > 0:
            return whole
    merged = lines_through(
        hub, triangles_of(trace.obstacle), view.normal, 0.0, lambda ends: on_page(at.body(ends), view)
    )
    return merged.buffer(trace.obstacle.radius) if trace.obstacle.radius > 0 else merged


def triangles_of(obstacle: Obstacle) -> Faces:
    """Numbers of the corners (m, 3) of a panel's or a scan's triangles."""
    if obstacle.mesh is not None:
        return obstacle.mesh.faces
    return np.asarray(sheet_triangles(len(obstacle.points) // obstacle.columns, obstacle.columns))


def lines_through(
    places: Array, triangles: Faces, axis: int, station: float, page: Callable[[Array], Array]
) -> BaseGeometry:
    """Where the plane at a station of an axis goes through triangles: lines, in page coordinates.

    places : (n, 3) [mm]; page : places (q, 3) to page coordinates (q, 2)
    """
    off = (places[:, axis] - station)[triangles]
    crossed = (off < 0).any(axis=1) & (off >= 0).any(axis=1)
    triangles, off = triangles[crossed], off[crossed]
    ends = np.full((len(off), 3, 3), np.nan)
    for edge, (i, j) in enumerate(((0, 1), (1, 2), (2, 0))):
        own = (off[:, i] < 0) != (off[:, j] < 0)
        a, b = places[triangles[own, i]], places[triangles[own, j]]
        ends[own, edge] = a + (b - a) * off[own, i, None] / (off[own, i] - off[own, j])[:, None]
    pairs = page(ends[~np.isnan(ends[..., 0])]).reshape(-1, 2, 2)
    pairs = pairs[np.linalg.norm(pairs[:, 0] - pairs[:, 1], axis=1) > 1e-6]
    if not len(pairs):
        return shapely.Point()
    return shapely.line_merge(shapely.union_all(shapely.linestrings(pairs)))


def _piece_cut(piece: Array, at: PosedHub, view: View) -> BaseGeometry:
    """The area that the cut leaves of a convex piece (6, 3): two triangles, joined corner by corner."""
    off = piece[:, view.normal]
    if (off < 0).all() or (off >= 0).all():
        return shapely.Polygon()
    i, j = PIECE_EDGES[(off[PIECE_EDGES] < 0).sum(axis=1) == 1].T
    ends = piece[i] + (piece[j] - piece[i]) * (off[i] / (off[i] - off[j]))[:, None]
    hull = shapely.convex_hull(shapely.multipoints(on_page(at.body(ends), view)))
    return hull if hull.geom_type == "Polygon" else shapely.Polygon()
