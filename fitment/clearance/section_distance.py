"""Signed clearance of a section to an obstacle in every pose, with the nearest points.

A turning wheel is a solid of revolution, so this plane distance is the distance in space. Positive is
free; inside the section it is minus the depth of the deepest point of the obstacle's core.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from functools import lru_cache
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from fitment.clearance.face_tree import nearest_faces
from fitment.clearance.trace import Index, Trace, chords, circle_hits, circles_within_solid
from fitment.frames import Array, to_half_plane

Sections: TypeAlias = Polygon | NDArray[np.object_]
"""One section for all poses, or one for each (n,)."""
DEEP = 20.0  # [mm] of overlap to which a depth is right to half a millimetre; beyond, to a tenth
ROUGH = 1.1  # times a known depth beyond DEEP that another has to be to count
DEPTH_STEP = 0.3  # [mm] spacing of the points at which an overlap is probed
PEAK_GRID = 2.0  # [mm] first grid on which the deepest places of a section are sought
FEW = 2  # lines that are laid out at once: to find out which is near takes longer
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

    def at(self, chosen: Index) -> Gaps:
        """Some of the poses."""
        return Gaps(*(getattr(self, field.name)[chosen] for field in fields(self)))

    def joined(self, other: Gaps) -> Gaps:
        """These poses and others."""
        return Gaps(
            *(np.concatenate([getattr(self, field.name), getattr(other, field.name)]) for field in fields(self))
        )


@dataclass(frozen=True)
class _Near:
    """What of a trace can hold the point nearest to a section, and what was found there.

    pose, line : the traced lines kept (q,)
    plane, weights : their points (q, m, 2) and the weights of these on the lines' corners (q, m, 3)
    shapes : one geometry a pose (n,)
    distance, on_section, on_core : (n,), (n, 2), (n, 2)
    inside : the obstacle overlaps the section (n,)
    faces : of a panel of many triangles those that were kept of each pose, else None
    """

    pose: Index
    line: Index
    plane: Array
    weights: Array
    shapes: NDArray[np.object_]
    distance: Array
    on_section: Array
    on_core: Array
    inside: NDArray[np.bool_]
    faces: list[Index] | None

    def faces_of(self, pose: int) -> Index | None:
        """The triangles to look at in a pose; None for all."""
        return None if self.faces is None else self.faces[pose]


def gaps(section: Sections, trace: Trace) -> Gaps:
    """Clearance of a section to an obstacle in every pose of its trace, with the places where it is.

    section : hub frame, (y', r) [mm]
    Source: derived here: a solid of revolution is as far from a point as its section is from the point's (y', r).
    """
    near = _nearest(section, trace)
    distance, on_section, on_core, inside = near.distance, near.on_section, near.on_core, near.inside
    peaks: list[int] = []
    for own, deep in _by_section(section, np.flatnonzero(inside)):
        depth, on_core[deep], at_peak = _deepest(own, trace, near, deep)
        distance[deep] = -depth
        on_section[deep] = on_core[deep] - off_outline(own, on_core[deep])
        peaks += deep[at_peak].tolist()
    corners, weights = _material(trace, near, on_core)
    for pose in peaks if len(trace.mesh.triangles) else ():  # a filled ring has no triangles that cover a peak
        hit, c, w = circle_hits(trace, pose, on_core[pose][None], near.faces_of(pose))
        if hit[0]:
            corners[pose], weights[pose] = c[0], w[0]
    step = on_core - on_section
    length = np.linalg.norm(step, axis=1)
    away = step / np.where(length > TOUCH, length, 1.0)[:, None] * np.where(inside, -1.0, 1.0)[:, None]
    return Gaps(distance - trace.obstacle.radius, corners, weights, on_section, on_core, away)


def clearances(section: Sections, trace: Trace, *, on_lines: bool = False) -> Array:
    """Clearance alone (n,) [mm], negative = overlap: what `gaps` gives, without the places.

    section : hub frame, (y', r) [mm]
    on_lines : an overlap's depth is taken on the traced lines alone, quicker and never deeper than it is
    Source: derived here, see `gaps`.
    """
    near = _nearest(section, trace)
    for own, deep in _by_section(section, np.flatnonzero(near.inside)):
        near.distance[deep] = -_deepest(own, trace, near, deep, on_lines=on_lines)[0]
    return near.distance - trace.obstacle.radius


def outside(section: Sections, trace: Trace) -> Array:
    """Clearance (n,) [mm] where nothing overlaps; where it does, no deeper than the obstacle's radius.

    Whether there is contact costs much less than how deep it is.
    section : hub frame, (y', r) [mm]
    Source: derived here, see `gaps`.
    """
    near = _nearest(section, trace)
    return np.where(near.inside, min(-TOUCH, -trace.obstacle.radius), near.distance - trace.obstacle.radius)


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


def signed_distance(section: Sections, points: Array) -> Array:
    """Distance of points to the outline, or each to its own, (q,) [mm], negative inside.

    section : (y', r) [mm]
    points : (q, 2) [mm]
    Source: plane geometry, by shapely.
    """
    shapely.prepare(section)
    distance = shapely.distance(shapely.get_exterior_ring(section), shapely.points(points))
    return np.where(shapely.contains_xy(section, points[:, 0], points[:, 1]), -distance, distance)


def off_outline(section: Sections, points: Array) -> Array:
    """Vector (q, 2) [mm] from the nearest place of the outline, or of each one's own, to points.

    section : (y', r) [mm]
    points : (q, 2) [mm]
    Source: plane geometry, by shapely.
    """
    lines = shapely.shortest_line(shapely.get_exterior_ring(section), shapely.points(points))
    return points - shapely.get_coordinates(lines).reshape(-1, 2, 2)[:, 0]


def trace_shapes(trace: Trace) -> NDArray[np.object_]:
    """One shapely geometry a pose (n,): all of the trace."""
    pose, line = np.nonzero(_real(trace))
    return _shapes(trace, pose, chords(trace, pose, line)[0])


def _shapes(trace: Trace, pose: Index, plane: Array) -> NDArray[np.object_]:
    """One shapely geometry a pose (n,), of laid-out lines (q, m, 2) that belong to poses (q,)."""
    if trace.filled:
        return np.array([Polygon(trace.obstacle.outline)] * len(trace))
    if trace.point:
        return np.asarray(shapely.points(trace.every.low[:, 0]))
    return np.asarray(shapely.multilinestrings(shapely.linestrings(plane), indices=pose))


def _real(trace: Trace) -> NDArray[np.bool_]:
    """Lines (n, k) that are more than a point; a fold that misses its triangle is one."""
    return (trace.every.high - trace.every.low).max(axis=2) > TOUCH


def _nearest(section: Sections, trace: Trace) -> _Near:
    shapely.prepare(section)
    faces = _kept_faces(section, trace) if trace.many else None
    pose, line = _reachable_lines(section, trace) if faces is None else _lines_of(trace, faces)
    plane, weights = chords(trace, pose, line)
    shapes = _shapes(trace, pose, plane)
    joined = shapely.shortest_line(section, shapes)
    on_section, on_core = np.moveaxis(shapely.get_coordinates(joined).reshape(-1, 2, 2), 1, 0).copy()
    distance = np.linalg.norm(on_core - on_section, axis=1)
    near = _Near(pose, line, plane, weights, shapes, distance, on_section, on_core, distance < TOUCH, faces)
    if len(trace.mesh.triangles):
        _mark_covered(section, trace, near)
    return near


def _mark_covered(section: Sections, trace: Trace, near: _Near) -> None:
    """Where no line crosses the outline, a panel's trace, a region, may still hold all of the section."""
    at = np.broadcast_to(shapely.get_coordinates(shapely.point_on_surface(section)), (len(trace), 2))
    around = ~near.inside
    if near.faces is None:
        low, high = trace.every.low.min(axis=1), trace.every.high.max(axis=1)
        around &= np.all((low <= at) & (at <= high), axis=1)
    for k in np.flatnonzero(around).tolist():
        near.inside[k] = circle_hits(trace, k, at[k][None], near.faces_of(k))[0][0]
    left = np.flatnonzero(around & ~near.inside)
    if trace.obstacle.solid_behind and len(left):
        near.inside[left] = circles_within_solid(trace, left, at[left])


def _kept_faces(section: Sections, trace: Trace) -> list[Index]:
    """Of every pose the triangles that could hold the nearest point, or the deepest as far as anyone decides by it."""
    radius = trace.obstacle.radius

    def measure(pose: Index, places: Array) -> Array:
        return signed_distance(section if isinstance(section, Polygon) else section[pose], places)

    def enough(known: Array) -> Array:
        return np.where(radius - known > DEEP, ROUGH * known, known) + TOUCH

    own = np.full(len(trace), section) if isinstance(section, Polygon) else section
    pose, face = nearest_faces(trace, own, measure, enough)
    order = np.lexsort((face, pose))
    pose, face = pose[order], face[order]
    once = np.concatenate([[True], (np.diff(pose) > 0) | (np.diff(face) > 0)])
    return np.split(face[once], np.searchsorted(pose[once], np.arange(1, len(trace))))


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
    most = np.min(shapely.distance(section, shapely.points(ends)), axis=0)
    pose, line = np.nonzero(least <= most[:, None] + TOUCH)
    return pose, line


def _material(trace: Trace, near: _Near, points: Array) -> tuple[Index, Array]:
    """Corners and weights (n, 3) of the traced point nearest to (y', r) points (n, 2), one a pose."""
    if trace.point:
        return np.repeat(trace.mesh.lines[:1], len(trace), axis=0), trace.every.start[:, 0].copy()
    plane, weights = near.plane, near.weights
    a, v, p = plane[:, :-1], np.diff(plane, axis=1), points[near.pose, None]
    size = np.sum(v * v, -1)
    share = np.clip(np.sum((p - a) * v, -1) / np.where(size > 0, size, 1.0), 0.0, 1.0)
    off = np.sum((a + share[..., None] * v - p) ** 2, -1)
    chord = np.argmin(off, axis=1)
    q = np.arange(len(plane))
    order = np.lexsort((off[q, chord], near.pose))
    best = order[np.searchsorted(near.pose[order], np.arange(len(trace)))]
    f, chord = share[best, chord[best]][:, None], chord[best]
    return trace.mesh.lines[near.line[best]], (1 - f) * weights[best, chord] + f * weights[best, chord + 1]


def _deepest(
    section: Polygon, trace: Trace, near: _Near, poses: Index, *, on_lines: bool = False
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Depth [mm], place (y', r) and whether it is a peak of the section, of the deepest point in each pose.

    The depth is greatest either on the traced lines or at a peak of the section's own depth that the trace
    covers; the lines are probed every DEPTH_STEP.
    """
    probes, owner = _probes(section, near.shapes[poses])
    nothing: tuple[Array, Index] = (np.empty((0, 2)), np.empty(0, int))
    peaks, peak_owner = nothing if on_lines else _covered_peaks(section, trace, near, poses)
    points = np.concatenate([near.on_core[poses], probes, peaks])
    owner = np.concatenate([np.arange(len(poses)), owner, peak_owner])
    is_peak = np.arange(len(points)) >= len(points) - len(peaks)
    depth = np.maximum(-signed_distance(section, points), 0.0)
    order = np.lexsort((depth, owner))
    last = np.searchsorted(owner[order], np.arange(len(poses)), side="right") - 1
    chosen = order[last]
    return depth[chosen], points[chosen], is_peak[chosen]


def _probes(section: Polygon, shapes: NDArray[np.object_]) -> tuple[Array, Index]:
    """Points (q, 2) on the overlapping lines near their deepest places, and the pose each belongs to.

    Depth changes by no more than the way walked, so a stretch whose ends and length cannot beat the
    deepest end found so far is not probed finely.
    """
    cut = shapely.intersection(section, shapes)
    cut = np.where(shapely.get_dimensions(cut) == 2, shapely.boundary(cut), cut)
    parts, owner = shapely.get_parts(shapely.segmentize(cut, 16 * DEPTH_STEP), return_index=True)
    points, part = shapely.get_coordinates(parts, return_index=True)
    depth = np.maximum(-signed_distance(section, points), 0.0)
    best = np.zeros(len(shapes))
    np.maximum.at(best, owner[part], depth)
    joined = part[1:] == part[:-1]
    length = np.linalg.norm(np.diff(points, axis=0), axis=1)
    promising = joined & (depth[1:] + depth[:-1] + length > 2 * best[owner[part[1:]]])
    share = np.linspace(0.0, 1.0, 17)[:, None, None]
    a, b = points[:-1][promising], points[1:][promising]
    fine = (1 - share) * a + share * b
    top = depth >= best[owner[part]]
    return (
        np.concatenate([points[top], fine.reshape(-1, 2)]),
        np.concatenate([owner[part[top]], np.tile(owner[part[1:][promising]], len(share))]),
    )


def _covered_peaks(section: Polygon, trace: Trace, near: _Near, poses: Index) -> tuple[Array, Index]:
    covered, owner = [np.empty((0, 2))], [np.empty(0, int)]
    if len(trace.mesh.triangles):
        peaks = np.concatenate([section_peaks(section), np.array(section.representative_point().coords)])
        for i, pose in enumerate(poses):
            hit = circle_hits(trace, int(pose), peaks, near.faces_of(int(pose)))[0]
            if trace.obstacle.solid_behind:
                hit[~hit] = circles_within_solid(trace, np.full(int((~hit).sum()), pose), peaks[~hit])
            covered.append(peaks[hit])
            owner.append(np.full(int(hit.sum()), i))
    elif trace.filled:
        peaks = section_peaks(section)
        peaks = peaks[shapely.contains_xy(Polygon(trace.obstacle.outline), peaks)]
        covered.append(np.tile(peaks, (len(poses), 1)))
        owner.append(np.repeat(np.arange(len(poses)), len(peaks)))
    return np.concatenate(covered), np.concatenate(owner)


@lru_cache(maxsize=64)
def section_peaks(section: Polygon) -> Array:
    """Places (q, 2) [mm] where the depth inside the section has a local maximum, to about 0.02 mm.

    section : (y', r) [mm]
    Source: derived here: the highest nodes of a grid of PEAK_GRID, refined by halving.
    """
    x0, y0, x1, y1 = section.bounds
    ys, rs = np.arange(x0, x1 + PEAK_GRID, PEAK_GRID), np.arange(y0, y1 + PEAK_GRID, PEAK_GRID)
    grid = np.stack(np.meshgrid(ys, rs, indexing="ij"), -1)
    depth = -signed_distance(section, grid.reshape(-1, 2)).reshape(grid.shape[:2])
    wide = np.pad(depth, 1, constant_values=-np.inf)
    near = [wide[1 + i : len(wide) - 1 + i, 1 + j : wide.shape[1] - 1 + j] for i in (-1, 0, 1) for j in (-1, 0, 1)]
    peaks = grid[(depth > 0) & (depth >= np.max(near, axis=0))]
    around = np.array([(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1)], dtype=float)
    step = PEAK_GRID / 2
    while step > 0.02 and len(peaks):
        trial = peaks[:, None] + around * step
        best = np.argmin(signed_distance(section, trial.reshape(-1, 2)).reshape(-1, 9), axis=1)
        peaks = trial[np.arange(len(peaks)), best]
        step /= 2
    return peaks
