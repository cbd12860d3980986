"""Signed clearance of a section to an obstacle in every pose, with the nearest points.

A turning wheel is a solid of revolution, so this plane distance is the distance in space. Positive is
free; inside the section it is minus the depth of the deepest point of the obstacle's core.

Nobody decides by how deep a deep overlap is. Down to DEEP a depth is right to half a millimetre; beyond, the deepest
place is found on a raster of the section, and the depth is within a tenth.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, fields
from functools import lru_cache
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LinearRing, Polygon

from fitment.clearance.face_tree import nearest_faces
from fitment.clearance.section_bounds import chord_ends, distance_bounds, numbered
from fitment.clearance.trace import Index, LaidOut, Trace, chords, circle_hits, circles_within_solid, place_within_solid
from fitment.frames import Array, to_half_plane
from fitment.units import DEEP

Sections: TypeAlias = Polygon | NDArray[np.object_]
Rings: TypeAlias = LinearRing | NDArray[np.object_]
"""One section for all poses, or one for each (n,)."""
CLOSELY = 0.2  # [mm] the same of a triangle among many
HARDLY = 0.075  # [mm] a place that may be deeper by so little is not looked for
CLOSE = 0.0005  # [mm] the same beside a place that is known
RASTER = (2.0, 6.0)  # [mm] finest and coarsest raster of the depths inside a section
ACROSS = 16  # steps of it across a section
ROUGH = 1.05  # times a known depth beyond DEEP that another has to be to count
SIMPLER = 0.05  # [steps] by which the outline is taken straighter for it
OFF = 0.76  # [steps] by which a depth between its nodes may be off: half a cell's diagonal, and that
BESIDE = 3  # deeper places to which a way from one is looked at
FEW_SEEN = 8  # places of such a way of which one is looked at first
THIN = 3.0  # [mm] of its raster, up to which a section is thin: most of it is as deep as its ridges are
RIDGE = 0.1  # [mm] to which they are found
HOLLOW = 0.2  # [mm] by which the way from one deep place to a deeper one may be less deep than the first
SEVERAL = 24  # triangles of a pose, from which it is worth to ask first whether they hold a section's deepest place
WORTH = 500  # chords against one section from which it is worth to look up which of them are near
FEW = 2  # lines that are laid out at once: to find out which is near takes longer
ALONG = 2  # halvings, from which stretches are held against the edge of the outline that is next to them
LEAST = 1e-4  # [mm] an overlap less deep than this may be told as none
EVENLY = 48  # places of an outline that tell roughly how far it is
TOUCH = 1e-9  # [mm]


@dataclass(frozen=True)
class Gaps:
    """One section against one obstacle in n poses.

    clearance : signed distance less the obstacle's radius (n,) [mm], negative = overlap
    corners : on which the nearest (or deepest) point of the core lies (n, 3)
    weights : of that point on those corners (n, 3) [-]
    on_section, on_core : that place on the section's outline and on the core, (y', r) [mm] (n, 2)
    away : unit vector in (y', r) along which the core point gains clearance fastest (n, 2) [-]
    """

    clearance: Array
    corners: Index
    weights: Array
    on_section: Array
    on_core: Array
    away: Array

    def at(self, chosen: Index | slice) -> Gaps:
        """Some of the poses."""
        return Gaps(*(getattr(self, field.name)[chosen] for field in fields(self)))

    def joined(self, other: Gaps) -> Gaps:
        """These poses and others."""
        return Gaps(
            *(np.concatenate([getattr(self, field.name), getattr(other, field.name)]) for field in fields(self))
        )


@dataclass(frozen=True)
class _Chords:
    """Chords of traced lines, in the order of their poses.

    pose, line : whose each is (q,)
    plane : their ends (q, 2, 2), (y', r) [mm]
    laid_out : the lines they are of; own, number : of each the line among these, and which of its chords (q,)
    """

    pose: Index
    line: Index
    plane: Array
    laid_out: LaidOut
    own: Index
    number: Index

    @classmethod
    def of(cls, pose: Index, line: Index, laid_out: LaidOut, chosen: tuple[Index, Index] | None = None) -> _Chords:
        """Those of lines (q,) that were laid out.

        chosen : line and number of each chord, in the order of the lines; None for all
        """
        q, k = numbered(laid_out.count) if chosen is None else chosen
        points, first = chord_ends(laid_out.points, q, k)
        plane = np.stack([points.take(first, axis=0), points.take(first + 1, axis=0)], 1)
        return cls(pose[q], line[q], plane, laid_out, q, k)

    def weights(self, chosen: Index) -> tuple[Array, Array]:
        """Of both ends of some chords (k,) on the corners of their lines, (k, 3) each [-]."""
        own, number = self.own[chosen], self.number[chosen]
        return self.laid_out.weights(own, number), self.laid_out.weights(own, number + 1)


@dataclass(frozen=True)
class _Near:
    """What of a trace can hold the point nearest to a section, and what was found there.

    chords : those that were kept
    distance, on_section, on_core : (n,), (n, 2), (n, 2)
    inside : the obstacle overlaps the section (n,)
    faces : of a panel of many triangles those that were kept of each pose, else None
    """

    chords: _Chords
    distance: Array
    on_section: Array
    on_core: Array
    inside: NDArray[np.bool_]
    faces: list[Index] | None

    def faces_of(self, poses: Index) -> list[Index] | None:
        """Of some poses (q,) the triangles that were kept; None for all."""
        return None if self.faces is None else [self.faces[pose] for pose in poses.tolist()]


def gaps(section: Sections, trace: Trace) -> Gaps:
    """Clearance of a section to an obstacle in every pose of its trace, with the places where it is.

    section : hub frame, (y', r) [mm]
    Source: derived here: a solid of revolution is as far from a point as its section is from the point's (y', r).
    """
    near = _nearest(section, trace)
    distance, on_section, on_core, inside = near.distance, near.on_section, near.on_core, near.inside
    peaks: list[int] = []
    for own, deep in _by_section(section, np.flatnonzero(inside)):
        depth, on_core[deep], is_peak = _deepest(own, trace, near, deep)
        distance[deep] = -depth
        on_section[deep] = on_core[deep] - off_outline(own, on_core[deep])
        peaks += deep[is_peak].tolist()
    corners, weights = _material(trace, near.chords, on_core)
    at_peak = np.array(peaks, dtype=np.intp)
    if peaks and trace.obstacle.solid_behind and not trace.many:  # any line may be next to what lies within the fill
        own = trace.at(at_peak)
        whole = _laid_out(section if isinstance(section, Polygon) else section[at_peak], own, None)
        corners[at_peak], weights[at_peak] = _material(own, whole, on_core[at_peak])
    if len(trace.mesh.triangles):  # a filled ring has none that cover a peak
        hit, c, w = circle_hits(trace, at_peak, on_core[at_peak], near.faces_of(at_peak))
        corners[at_peak[hit]], weights[at_peak[hit]] = c[hit], w[hit]
        for k in at_peak[~hit].tolist() if trace.obstacle.solid_behind and trace.many else ():
            within = place_within_solid(trace, k, on_core[k])
            corners[k], weights[k] = within or (corners[k], weights[k])
    step = on_core - on_section
    length = np.linalg.norm(step, axis=1)
    away = step / np.where(length > TOUCH, length, 1.0)[:, None] * np.where(inside, -1.0, 1.0)[:, None]
    return Gaps(distance - trace.radius, corners, weights, on_section, on_core, away)


def clearances(section: Sections, trace: Trace, *, on_lines: bool = False) -> Array:
    """Clearance alone (n,) [mm], negative = overlap: what `gaps` gives, without the places.

    section : hub frame, (y', r) [mm]
    on_lines : an overlap's depth is taken on the traced lines alone, quicker and never deeper than it is
    Source: derived here, see `gaps`.
    """
    near = _nearest(section, trace)
    for own, deep in _by_section(section, np.flatnonzero(near.inside)):
        near.distance[deep] = -_deepest(own, trace, near, deep, on_lines=on_lines)[0]
    return near.distance - trace.radius


def outside(section: Sections, trace: Trace) -> Array:
    """Clearance (n,) [mm] where nothing overlaps; where it does, no deeper than the obstacle's radius.

    Whether there is contact costs much less than how deep it is.
    section : hub frame, (y', r) [mm]
    Source: derived here, see `gaps`.
    """
    near = _nearest(section, trace)
    return np.where(near.inside, np.minimum(-TOUCH, -trace.radius), near.distance - trace.radius)


def of_rows(several: Sequence[Polygon], row: Index) -> Sections:
    """Sections of rows, (y', r) (q,) [mm]; one where all have the same.

    several : to choose from [mm]
    row : which of them each has (q,)
    Source: none needed, they are taken.
    """
    whose = np.unique(row).tolist()
    if whose and all(several[k] is several[whose[0]] for k in whose):
        return several[whose[0]]
    return np.array(several, dtype=object)[row]


def _by_section(section: Sections, poses: Index) -> Iterator[tuple[Polygon, Index]]:
    """Every section of some poses (q,) with those that have it."""
    if isinstance(section, Polygon):
        if len(poses):
            yield section, poses
        return
    own = np.array([id(polygon) for polygon in section[poses]])
    for identity in dict.fromkeys(own.tolist()):
        mine = poses[own == identity]
        yield section[mine[0]], mine


def signed_distance(section: Sections, points: Array, ring: Rings | None = None) -> Array:
    """Distance of points to the outline, or each to its own, (q,) [mm], negative inside.

    section : (y', r) [mm]
    ring : its outline, or theirs, where that is at hand [mm]
    points : (q, 2) [mm]
    Source: plane geometry, by shapely.
    """
    shapely.prepare(section)
    distance = shapely.distance(_outlines(section) if ring is None else ring, shapely.points(points))
    return np.where(shapely.contains_xy(section, points[:, 0], points[:, 1]), -distance, distance)


def off_outline(section: Sections, points: Array, ring: Rings | None = None) -> Array:
    """Vector (q, 2) [mm] from the nearest place of the outline, or of each one's own, to points.

    section : (y', r) [mm]
    ring : its outline, or theirs, where that is at hand [mm]
    points : (q, 2) [mm]
    Source: plane geometry, by shapely.
    """
    lines = shapely.shortest_line(_outlines(section) if ring is None else ring, shapely.points(points))
    return points - shapely.get_coordinates(lines).reshape(-1, 2, 2)[:, 0]


def _outlines(section: Sections) -> Rings:
    """The outline of a section, or of each one."""
    if isinstance(section, Polygon):
        return _outline(section)
    several = section.tolist()
    known = {identity: _outline(polygon) for identity, polygon in {id(own): own for own in several}.items()}
    return np.array([known[id(own)] for own in several], dtype=object)


@lru_cache(maxsize=64)
def _outline(section: Polygon) -> LinearRing:
    """A section's outline, made ready: what lies near it is found twice as quickly."""
    ring = shapely.get_exterior_ring(section)
    shapely.prepare(ring)
    return ring


@lru_cache(maxsize=64)
def _along_outline(section: Polygon) -> Array:
    """Places of a section's outline, EVENLY of them (q, 2) [mm]."""
    shares = np.arange(EVENLY) / EVENLY
    return np.asarray(
        shapely.get_coordinates(shapely.line_interpolate_point(_outline(section), shares, normalized=True))
    )


def trace_shapes(trace: Trace) -> NDArray[np.object_]:
    """One shapely geometry a pose (n,): all of the trace."""
    pose, line = np.nonzero(_real(trace))
    return _shapes(trace, _Chords.of(pose, line, chords(trace, pose, line)))


def _shapes(trace: Trace, laid_out: _Chords) -> NDArray[np.object_]:
    """One shapely geometry a pose (n,), of its chords."""
    if trace.filled:
        return np.array([Polygon(trace.obstacle.outline)] * len(trace))
    if trace.point:
        return np.asarray(shapely.points(trace.every.low[:, 0]))
    return np.asarray(shapely.multilinestrings(shapely.linestrings(laid_out.plane), indices=laid_out.pose))


def _real(trace: Trace) -> NDArray[np.bool_]:
    """Lines (n, k) that are more than a point; a fold that misses its triangle is one."""
    size = trace.every.high - trace.every.low
    return np.asarray((size[..., 0] > TOUCH) | (size[..., 1] > TOUCH))


def _nearest(section: Sections, trace: Trace) -> _Near:
    shapely.prepare(section)
    faces, reached = _kept_faces(section, trace) if trace.many else (None, np.ones(len(trace), dtype=bool))
    if trace.filled or trace.point:
        laid_out, on_core = _laid_out(section, trace, faces), np.empty((len(trace), 2))
        inside = apart = np.zeros(len(trace), dtype=bool)
    else:
        laid_out, on_core, inside, apart = _near_chords(section, trace, faces)
    on_section, distance = on_core.copy(), np.zeros(len(trace))
    shapes = _shapes(trace, laid_out)
    for some in map(np.flatnonzero, (apart, ~inside & ~apart)):
        if len(some):
            own = section if isinstance(section, Polygon) else section[some]
            if apart[some[0]]:  # its outline is found twice as quickly as what it is round
                own = _outlines(own)
            joined = shapely.shortest_line(own, shapes[some])
            on_section[some], on_core[some] = np.moveaxis(shapely.get_coordinates(joined).reshape(-1, 2, 2), 1, 0)
            distance[some] = np.linalg.norm(on_core[some] - on_section[some], axis=1)
    near = _Near(laid_out, distance, on_section, on_core, distance < TOUCH, faces)
    if len(trace.mesh.triangles):
        _mark_covered(section, trace, near, reached)
    return near


def _laid_out(section: Sections, trace: Trace, faces: list[Index] | None) -> _Chords:
    """The chords of every line that could be nearest to the section of its pose; of some triangles, if given."""
    pose, line = _reachable_lines(section, trace) if faces is None else _lines_of(trace, faces)
    return _Chords.of(pose, line, chords(trace, pose, line))


def _near_chords(
    section: Sections, trace: Trace, faces: list[Index] | None
) -> tuple[_Chords, Array, NDArray[np.bool_], NDArray[np.bool_]]:
    """Chords that could hold the place of least signed distance of a pose, a place near that (n, 2), and whether
    that lies in the section beyond doubt, or outside it (n,), (n,).
    """
    pose, line = _reachable_lines(section, trace) if faces is None else _lines_of(trace, faces)
    laid_out = chords(trace, pose, line)
    best = np.full(len(trace), np.inf)
    several: list[tuple[Index, Index, Index, Array, Array]] = []
    for own, poses in _by_section(section, np.arange(len(trace))):
        mine = np.arange(len(pose)) if len(poses) == len(trace) else np.flatnonzero(np.isin(pose, poses))
        if laid_out.count[mine].sum() < WORTH:
            own_line, number = numbered(laid_out.count[mine])
            none, unknown = np.zeros(len(number), dtype=np.intp), np.full(len(number), np.inf)
            several.append((mine[own_line], number, none, unknown, -unknown))
            continue
        several.append(distance_bounds(own).near_chords(laid_out, mine, pose[mine], best))
    q, number, nearer, most, least = (np.concatenate(parts) for parts in zip(*several, strict=True))
    lowest = np.full(len(trace), np.inf)
    np.minimum.at(lowest, pose[q], least)
    order = np.lexsort((most, pose[q]))
    first = order[np.searchsorted(pose[q][order], np.arange(len(trace)))]
    place = laid_out.points(q[first], number[first] + nearer[first])
    order = np.argsort(q, kind="stable")
    return _Chords.of(pose, line, laid_out, (q[order], number[order])), place, best < -TOUCH, lowest > 0


def _mark_covered(section: Sections, trace: Trace, near: _Near, reached: NDArray[np.bool_]) -> None:
    """Where no line crosses the outline, a panel's trace, a region, may still hold all of the section.

    reached : whether any triangle could reach into the section (n,)
    """
    at = np.broadcast_to(shapely.get_coordinates(shapely.point_on_surface(section)), (len(trace), 2))
    around = ~near.inside
    if near.faces is None:
        low, high = trace.every.low.min(axis=1), trace.every.high.max(axis=1)
        around &= np.all((low <= at) & (at <= high), axis=1)
    asked = np.flatnonzero(around & reached)
    near.inside[asked] = circle_hits(trace, asked, at[asked], near.faces_of(asked))[0]
    left = np.flatnonzero(around & ~near.inside)
    if trace.obstacle.solid_behind and len(left):
        near.inside[left] = circles_within_solid(trace, left, at[left])


def _kept_faces(section: Sections, trace: Trace) -> tuple[list[Index], NDArray[np.bool_]]:
    """Of every pose the triangles that could hold the nearest point, or the deepest as far as anyone decides by it, and
    whether any triangle could reach into the section (n,).
    """
    radius = trace.obstacle.radius

    def measure(pose: Index, places: Array) -> Array:
        return signed_distance(section if isinstance(section, Polygon) else section[pose], places)

    def enough(known: Array) -> Array:
        deeper = np.where(radius - known > DEEP, ROUGH * known, known - np.minimum(CLOSELY, -known / 2))
        limit = np.where(known < 0, deeper, known) + TOUCH
        if np.any(known < 0):
            limit[limit < -deepest(np.arange(len(trace)))[1]] = -np.inf  # nothing lies deeper
        return limit

    def deepest(pose: Index) -> tuple[Array, Array]:
        place, depth = np.empty((len(pose), 2)), np.empty(len(pose))
        for own, mine in _by_section(section if isinstance(section, Polygon) else section[pose], np.arange(len(pose))):
            place[mine], depth[mine] = _deepest_place(own)
        return place, depth

    def within(pose: Index, places: Array, reach: Array) -> Array:
        most = np.empty(len(pose))
        for own, mine in _by_section(section if isinstance(section, Polygon) else section[pose], np.arange(len(pose))):
            most[mine] = _tops(own).within(places[mine], reach[mine])
        return most

    pose, face, lowest = nearest_faces(trace, section, measure, enough, deepest, within)
    order = np.lexsort((face, pose))
    pose, face = pose[order], face[order]
    once = np.concatenate([[True], (np.diff(pose) > 0) | (np.diff(face) > 0)])
    faces = np.split(face[once], np.searchsorted(pose[once], np.arange(1, len(trace))))
    several = np.flatnonzero((lowest < 0) & np.array([len(own) > SEVERAL for own in faces]))
    hit, corners, _ = circle_hits(trace, several, deepest(several)[0], [faces[k] for k in several.tolist()])
    for k, own in zip(several[hit].tolist(), corners[hit], strict=True):  # nothing lies deeper
        faces[k] = faces[k][np.all(trace.mesh.triangles[faces[k]] == own, axis=1)]
    return faces, lowest <= 0


@lru_cache(maxsize=64)
def _deepest_place(section: Polygon) -> tuple[Array, float]:
    """Where a section is deepest (y', r) [mm], and how deep [mm]."""
    peaks = section_peaks(section)
    depth = -signed_distance(section, peaks)
    return peaks[np.argmax(depth)], float(depth.max())


def _lines_of(trace: Trace, faces: list[Index]) -> tuple[Index, Index]:
    """Pose and line (q,) of the sides and folds of triangles, in the order of the poses."""
    pose = np.repeat(np.arange(len(faces)), list(map(len, faces)))
    sides, count = trace.mesh.sides[np.concatenate(faces)], len(trace.mesh.lines)
    pose, line = np.divmod(np.unique(pose[:, None] * count + sides), count)
    return pose, line


def _reachable_lines(section: Sections, trace: Trace) -> tuple[Index, Index]:
    """Pose and line (q,) of every traced line whose box is no farther than one real point of its pose."""
    n = np.arange(len(trace))
    if trace.point:
        return n, np.zeros_like(n)
    real = _real(trace)
    if real.shape[1] <= FEW and real.any(axis=1).all():
        pose, line = np.nonzero(real)
        return pose, line
    box = shapely.bounds(section)[..., None, :]
    every = trace.every
    off = np.maximum(np.maximum(box[..., :2] - every.high, every.low - box[..., 2:]), 0.0)
    least = np.where(real, np.hypot(off[..., 0], off[..., 1]), np.inf)
    line = np.argmin(least, axis=1)
    ends = to_half_plane(np.stack([every.first[n, line], every.last[n, line]]))
    most = np.full(len(trace), np.inf)
    for own, poses in _by_section(section, n):
        several = np.moveaxis(ends[:, poses, None] - _along_outline(own), -1, 0)
        most[poses] = np.sqrt((several[0] ** 2 + several[1] ** 2).min(axis=(0, 2)))
    pose, line = np.nonzero(least <= most[:, None] + TOUCH)
    return pose, line


def _material(trace: Trace, laid_out: _Chords, points: Array) -> tuple[Index, Array]:
    """Corners and weights (n, 3) of the traced point nearest to (y', r) points (n, 2), one a pose."""
    if trace.point:
        return np.repeat(trace.mesh.lines[:1], len(trace), axis=0), trace.every.start[:, 0].copy()
    a, b = np.moveaxis(laid_out.plane, 1, 0)
    v, p = b - a, points[laid_out.pose]
    size = np.sum(v * v, -1)
    share = np.clip(np.sum((p - a) * v, -1) / np.where(size > 0, size, 1.0), 0.0, 1.0)
    off = np.sum((a + share[:, None] * v - p) ** 2, -1)
    order = np.lexsort((off, laid_out.pose))
    best = order[np.searchsorted(laid_out.pose[order], np.arange(len(trace)))]
    f, (first, second) = share[best][:, None], laid_out.weights(best)
    return trace.mesh.lines[laid_out.line[best]], (1 - f) * first + f * second


def _deepest(
    section: Polygon, trace: Trace, near: _Near, poses: Index, *, on_lines: bool = False
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Depth [mm], place (y', r) and whether it is a peak of the section, of the deepest point in each pose.

    The depth is greatest either on the traced lines or at a peak of the section's own depth that the trace
    covers.
    """
    if trace.point:
        place = near.on_core[poses]
        return np.maximum(-signed_distance(section, place), 0.0), place, np.zeros(len(poses), dtype=bool)
    depth, place = _deepest_on_lines(section, trace, near, poses)
    is_peak = np.zeros(len(poses), dtype=bool)
    if on_lines:
        return depth, place, is_peak
    peaks, owner = _covered_peaks(section, trace, near, poses, depth)
    deep = -signed_distance(section, peaks)
    for k in np.argsort(deep, kind="stable"):
        if deep[k] > depth[owner[k]]:
            depth[owner[k]], place[owner[k]], is_peak[owner[k]] = deep[k], peaks[k], True
    return depth, place, is_peak


def _deepest_on_lines(section: Polygon, trace: Trace, near: _Near, poses: Index) -> tuple[Array, Array]:
    """Depth [mm] (n,) and place (y', r) (n, 2) of the deepest point of the traced lines in some poses (n,), which rise.

    Depth changes by no more than the way walked, so a stretch whose ends and length cannot beat the deepest place
    found so far is left out. What is left is looked up on a raster in ever shorter stretches. Where the obstacle then
    is deeper than DEEP the deepest of these places is measured; elsewhere stretches are halved until none can hold a
    place that is deeper by more than HARDLY.
    """
    mine = np.flatnonzero(np.isin(near.chords.pose, poses))
    plane, stretch = near.chords.plane[mine], np.searchsorted(poses, near.chords.pose[mine])
    depths, bounds, tops = depth_raster(section), distance_bounds(section), _tops(section) if trace.many else None
    a, b = np.moveaxis(plane, 1, 0)
    at_a, at_b = np.moveaxis(depths.between(plane), 1, 0)
    rough, off = np.full(len(poses), -np.inf), OFF * depths.step
    np.maximum.at(rough, stretch, np.maximum(at_a, at_b))
    while True:
        length = np.linalg.norm(b - a, axis=1)
        kept = (at_a + at_b + length) / 2 + off > rough[stretch] - off
        a, b, at_a, at_b, stretch, length = (each[kept] for each in (a, b, at_a, at_b, stretch, length))
        long = length > depths.step
        if not long.any():
            break
        middle = (a + b) / 2
        at_middle = depths.between(middle)
        np.maximum.at(rough, stretch[long], at_middle[long])
        a, b = np.concatenate([a, middle[long]]), np.concatenate([np.where(long[:, None], middle, b), b[long]])
        at_a = np.concatenate([at_a, at_middle[long]])
        at_b = np.concatenate([np.where(long, at_middle, at_b), at_b[long]])
        stretch = np.concatenate([stretch, stretch[long]])
    is_top = np.maximum(at_a, at_b) >= rough[stretch]
    points = np.concatenate([near.on_core[poses], a[is_top], (a[is_top] + b[is_top]) / 2, b[is_top]])
    found = _Deepest(section, points, np.concatenate([np.arange(len(poses)), *[stretch[is_top]] * 3]), len(poses))
    is_deep = (rough - off + trace.radius[poses] > DEEP)[stretch]
    kept = ~is_deep & ((at_a + at_b + length) / 2 + off > found.enough[stretch])
    a, b, stretch = a[kept], b[kept], stretch[kept]
    halved = 0
    while len(a):
        kept = bounds.depth_at_most(a, b) > found.depth[stretch]
        if tops is not None:
            kept &= tops.within((a + b) / 2, np.linalg.norm(b - a, axis=1) / 2) > found.enough[stretch]
        a, b, stretch = a[kept], b[kept], stretch[kept]
        middle, half = (a + b) / 2, np.linalg.norm(b - a, axis=1) / 2
        depth, on_outline = found.measured(middle, stretch)
        enough, known = found.enough[stretch], (found.depth + np.clip(found.depth, LEAST, CLOSE))[stretch]
        first, second = (  # along a half no place is farther from one on the outline than one of its ends is
            (depth + half > enough) & (np.maximum(np.hypot(*(end - on_outline).T), -depth) > known) for end in (a, b)
        )
        if halved >= ALONG:  # few stretches are left by then, but of a line that lies along the outline
            edges = _edges_at(section, on_outline)
            for side, end in ((first, a), (second, b)):  # farther from its edge than its ends, or outside all along
                np.logical_and(side, np.maximum(_off_edges(edges, end), -depth) > known, out=side)
                outside = np.flatnonzero(side & (depth < 0))
                side[outside] = _comes_in(section, middle[outside], end[outside])
        a, b = np.concatenate([a[first], middle[second]]), np.concatenate([middle[first], b[second]])
        stretch = np.concatenate([stretch[first], stretch[second]])
        halved += 1
    return found.depth, found.place


class _Deepest:
    """The deepest place measured so far, of each of n poses: depth (n,), at least nothing, and place (n, 2) [mm]."""

    def __init__(self, section: Polygon, points: Array, owner: Index, count: int) -> None:
        self._section = section
        shapely.prepare(section)
        self.depth, self.place = np.full(count, -np.inf), np.empty((count, 2))
        self.measured(points, owner)
        self.depth = np.maximum(self.depth, 0.0)

    @property
    def enough(self) -> Array:
        """How deep a place may be (n,) [mm] for nobody to look there; what hardly overlaps is never told as none."""
        return np.asarray(self.depth + np.clip(self.depth, LEAST, HARDLY))

    def measured(self, points: Array, owner: Index) -> tuple[Array, Array]:
        """Depth (q,) [mm] of places (q, 2), each of its pose (q,), and the outline next to each (q, 2)."""
        way = off_outline(self._section, points)
        depth = np.hypot(way[:, 0], way[:, 1])
        depth[~shapely.contains_xy(self._section, points[:, 0], points[:, 1])] *= -1.0
        order = np.lexsort((depth, owner))
        last = order[np.flatnonzero(np.diff(owner[order], append=-1))]
        last = last[depth[last] > self.depth[owner[last]]]
        self.depth[owner[last]], self.place[owner[last]] = depth[last], points[last]
        return depth, points - way


def _comes_in(section: Polygon, a: Array, b: Array) -> NDArray[np.bool_]:
    """Whether lines from a to b (q, 2) [mm] meet the section."""
    return np.asarray(shapely.intersects(section, shapely.linestrings(np.stack([a, b], axis=1))))


def _edges_at(section: Polygon, places: Array) -> tuple[Array, Array]:
    """The edge of the outline on which each place lies: where it begins (q, 2), and the way along it (q, 2) [mm]."""
    ring = _outline(section)
    corners = shapely.get_coordinates(ring)
    way = np.diff(corners, axis=0)
    ends = np.cumsum(np.hypot(way[:, 0], way[:, 1]))
    along = shapely.line_locate_point(ring, shapely.points(places))
    edge = np.minimum(np.searchsorted(ends, along), len(way) - 1)
    return corners[edge], way[edge]


def _off_edges(edges: tuple[Array, Array], points: Array) -> Array:
    """Distance (q,) of points (q, 2) [mm] to an edge each."""
    start, way = edges
    off = points - start
    share = np.einsum("qi,qi->q", off, way) / np.maximum(np.einsum("qi,qi->q", way, way), 1e-12)
    off = off - np.clip(share, 0.0, 1.0)[:, None] * way
    return np.hypot(off[:, 0], off[:, 1])


def _covered_peaks(section: Polygon, trace: Trace, near: _Near, poses: Index, known: Array) -> tuple[Array, Index]:
    """Peaks (q, 2) of the section that the trace covers, and whose they are (q,), where they are deeper than is known.

    known : depth in each pose (n,) [mm]
    """
    if not len(trace.mesh.triangles) and not trace.filled:
        return np.empty((0, 2)), np.empty(0, dtype=np.intp)
    peaks = section_peaks(section)
    if len(trace.mesh.triangles):
        peaks = np.concatenate([peaks, np.array(section.representative_point().coords)])
    limit = np.where(known + trace.radius[poses] > DEEP, ROUGH, 1.0) * known
    deeper = -signed_distance(section, peaks) > limit[:, None]
    if not trace.many:  # a trace is a region within the boxes of its lines
        low, high = trace.every.low[poses].min(axis=1), trace.every.high[poses].max(axis=1)
        deeper &= np.all((low[:, None] <= peaks) & (peaks <= high[:, None]), axis=2)
    if trace.filled:
        deeper &= shapely.contains_xy(Polygon(trace.obstacle.outline), peaks)
        owner, peak = np.nonzero(deeper)
        return peaks[peak], owner
    hit = np.zeros_like(deeper)
    own, peak = np.nonzero(deeper)
    hit[own, peak] = circle_hits(trace, poses[own], peaks[peak], near.faces_of(poses[own]))[0]
    if trace.obstacle.solid_behind:
        own, peak = np.nonzero(deeper & ~hit)
        hit[own, peak] = circles_within_solid(trace, poses[own], peaks[peak])
    owner, peak = np.nonzero(hit)
    return peaks[peak], owner


@dataclass(frozen=True)
class DepthRaster:
    """The depth inside a section on a raster.

    low : (y', r) of its first node (2,) [mm]
    step : between nodes [mm]
    at : depth at the nodes (n, m) [mm]; outside less than nothing, though not how much
    """

    low: Array
    step: float
    at: Array

    @property
    def nodes(self) -> Array:
        """Their places (n, m, 2) [mm]."""
        return np.moveaxis(np.indices(self.at.shape), 0, -1) * self.step + self.low

    def between(self, points: Array) -> Array:
        """Depth (...) [mm] at places (..., 2) [mm], to OFF of a step; outside it may come out larger, not above that.

        points : (y', r) (..., 2) [mm]
        Source: derived here: linear in both directions between the nodes of a cell.
        """
        rows, columns = self.at.shape
        along = (points - self.low) / self.step
        cell = np.clip(along.astype(np.intp), 0, (rows - 2, columns - 2))
        y, r = np.moveaxis(np.clip(along - cell, 0.0, 1.0), -1, 0)
        node, at = cell[..., 0] * columns + cell[..., 1], self.at.ravel()
        first, second = (at[node + k] * (1 - r) + at[node + k + 1] * r for k in (0, columns))
        return np.asarray(first * (1 - y) + second * y)


@lru_cache(maxsize=64)
def depth_raster(section: Polygon) -> DepthRaster:
    """The depth inside a section, at nodes as far apart as the section is thick allows.

    section : (y', r) [mm]
    Source: plane geometry, by shapely; the thickness is that of a strip of the section's area and length.
    """
    step = float(np.clip(2 * section.area / section.length / ACROSS, *RASTER))
    low, high = np.array(section.bounds).reshape(2, 2)
    count = np.ceil((high - low) / step).astype(int) + 2
    empty = DepthRaster(low - step / 2, step, np.full(count, -step))
    nodes = empty.nodes
    asked = shapely.contains_xy(section, nodes[..., 0], nodes[..., 1])
    line = shapely.get_coordinates(shapely.segmentize(section.exterior, step / 4))
    row, column = ((line - empty.low) / step).astype(np.intp).T
    for i, j in ((0, 0), (0, 1), (1, 0), (1, 1)):
        asked[row + i, column + j] = True
    places, outline = nodes[asked], section.exterior.simplify(step * SIMPLER)
    distance = shapely.distance(outline, shapely.points(places))
    empty.at[asked] = np.where(shapely.contains_xy(section, places[:, 0], places[:, 1]), distance, -distance)
    return empty


class _Tops:
    """How deep a section is at most anywhere within a distance of a place."""

    def __init__(self, section: Polygon) -> None:
        depths = depth_raster(section)
        self._low, self._step = depths.low, depths.step
        wide = np.pad(depths.at, 1, constant_values=-np.inf)
        rows, columns = depths.at.shape
        around = {(i, j): wide[1 + i : 1 + i + rows, 1 + j : 1 + j + columns] for i in (-1, 0, 1) for j in (-1, 0, 1)}
        ways = ((0, 1), (1, 0), (1, 1), (1, -1))
        ridge = np.any([(depths.at >= around[i, j]) & (depths.at >= around[-i, -j]) for i, j in ways], axis=0)
        ridge &= (depths.at > -depths.step / 2) & (depths.step <= THIN)
        tops = np.where(ridge, -np.inf, np.maximum(depths.at, 0.0) + OFF * depths.step)
        if ridge.any():
            tops[ridge] = _climbed(section, depths.nodes[ridge], depths.step, RIDGE)[1] + RIDGE
        capped = np.pad(np.where(ridge, tops, -np.inf), 1, constant_values=-np.inf)
        beside = np.max([capped[1 + i : 1 + i + rows, 1 + j : 1 + j + columns] for i, j in around], axis=0)
        level = np.where(np.isfinite(beside), np.minimum(tops, beside), tops)
        self._levels = []
        while True:
            level = np.pad(level, 1, constant_values=-np.inf)
            wide = np.pad(level, 1, constant_values=-np.inf)
            n, m = level.shape
            self._levels.append(np.max([wide[1 + i : 1 + i + n, 1 + j : 1 + j + m] for i, j in around], axis=0))
            level = level[1:-1, 1:-1]
            if max(level.shape) == 1:
                break
            n, m = level.shape
            level = np.pad(level, ((0, n % 2), (0, m % 2)), constant_values=-np.inf)
            level = level.reshape((n + 1) // 2, 2, (m + 1) // 2, 2).max(axis=(1, 3))

    def within(self, places: Array, reach: Array) -> Array:
        """How deep the section is at most within `reach` (q,) of places (q, 2) (q,) [mm], at least nothing."""
        at = np.floor((places - self._low) / self._step + 0.5)
        number = np.ceil(np.log2(np.maximum(reach / self._step, 1.0))).astype(np.intp)
        number = np.minimum(number, len(self._levels) - 1)
        most = np.empty(len(places))
        for k in np.unique(number).tolist():
            mine, level = np.flatnonzero(number == k), self._levels[k]
            cell = np.clip(np.floor(at[mine] / 2**k).astype(np.intp) + 1, 0, np.array(level.shape) - 1)
            most[mine] = level[cell[:, 0], cell[:, 1]]
        return np.maximum(most, 0.0)


@lru_cache(maxsize=64)
def _tops(section: Polygon) -> _Tops:
    return _Tops(section)


def _climbed(section: Polygon, places: Array, step: float, least: float) -> tuple[Array, Array]:
    """The deepest places near places (q, 2) `step` apart, to about `least` [mm], and how deep they are (q,) [mm]."""
    around = np.array([(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1)], dtype=float)
    depth, step = np.full(len(places), -np.inf), step / 2
    while step > least:
        trial = places[:, None] + around * step
        there = -signed_distance(section, trial.reshape(-1, 2)).reshape(-1, 9)
        best, row = np.argmax(there, axis=1), np.arange(len(places))
        places, depth = trial[row, best], there[row, best]
        step /= 2
    return places, depth


@lru_cache(maxsize=64)
def section_peaks(section: Polygon) -> Array:
    """Places (q, 2) [mm] where the depth inside the section has a local maximum, to about 0.02 mm.

    section : (y', r) [mm]
    Source: derived here: the highest nodes of a raster, refined by halving. Of two between which it is nowhere less
    deep than at the first, that is left out: what covers it and not the other has its border between them.
    """
    depths = depth_raster(section)
    wide = np.pad(depths.at, 1, constant_values=-np.inf)
    near = [wide[1 + i : len(wide) - 1 + i, 1 + j : wide.shape[1] - 1 + j] for i in (-1, 0, 1) for j in (-1, 0, 1)]
    high = (depths.at > 0) & (depths.at >= np.max(near, axis=0))
    deep = depths.at[high]
    peaks = _summits(depths.nodes[high], deep, depths.between, np.where(deep > DEEP, (ROUGH - 1) * deep, -np.inf))
    if not len(peaks):  # a sliver between the nodes
        peaks = np.array(section.representative_point().coords)
    peaks, depth = _climbed(section, peaks, depths.step, 0.02)
    return _summits(peaks, depth, lambda places: -signed_distance(section, places), np.full(len(peaks), HOLLOW))


def _summits(peaks: Array, depth: Array, measure: Callable[[Array], Array], hollow: Array) -> Array:
    """The peaks (q, 2) from which no straight way leads to a deeper one without getting less deep.

    measure : depth (n,) [mm] at places (n, 2); hollow : by how much less deep each way may be (q,) [mm]
    """
    order = np.argsort(-depth, kind="stable")
    peaks, depth, hollow = peaks[order], depth[order], hollow[order]
    way = np.linalg.norm(peaks[:, None] - peaks, axis=2)
    way[np.triu_indices(len(peaks))] = np.inf  # those before a peak are as deep or deeper
    way[~np.isfinite(hollow)] = np.inf
    beside = np.argsort(way, axis=1)[:, :BESIDE]
    near = np.isfinite(np.take_along_axis(way, beside, axis=1))
    kept = np.ones(len(peaks), dtype=bool)
    for other, is_near in zip(beside.T, near.T, strict=True):  # the nearest first, which settles most
        flat = np.flatnonzero(kept & is_near)
        for every in (FEW_SEEN, 1):  # few places of a way often tell that it is hollow
            first, second = flat, other[flat]
            if len(first):
                whole = np.ceil(way[first, second] / hollow[first]).astype(int) + 1
                count = -(-whole // every)
                starts, pair = np.cumsum(count) - count, np.repeat(np.arange(len(first)), count)
                share = every * (np.arange(len(pair)) - starts[pair]) / whole[pair]
                a, b = peaks[first[pair]], peaks[second[pair]]
                least = np.minimum.reduceat(measure(a + share[:, None] * (b - a)), starts)
                flat = first[least >= depth[first] - hollow[first]]
        kept[flat] = False
    return peaks[kept]
