"""Obstacles in the hub's half plane: every point P of a part lands at (y', r), whatever wheel is fitted.

A straight line traces a hyperbola, laid out here in chords that stay within CHORD of it. A triangle's
trace is bounded by the traces of its edges and of its *fold*: the segment in which the plane through
the spin axis, square to the triangle, cuts it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from fitment.clearance.filled_space import FilledSpace, filled_by, space_of
from fitment.frames import Array, to_half_plane
from fitment.motion.poses import Poses
from fitment.parts.obstacles import Obstacle, core
from fitment.parts.scan import ScanMesh
from fitment.parts.solid_panel import Fill, far_points, fill_of, filled, sheet_triangles

CHORD = 0.015  # [mm] largest distance of a trace from its chords
BY_THE_AXIS = 0.01  # [mm], more than the 0.001 mm of `_line_in_axis_terms`
AT_ONCE = 20_000  # triangles that circles are held against at once
MANY = 200  # triangles from which those of a panel are looked for, not gone through one by one
OUTSIDES = [[0, 1, 2], [0, 1, 3], [0, 2, 3], [1, 2, 3]]  # of a tetrahedron, by its corners
Index = NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Mesh:
    """How the points of a core hang together.

    lines : (k, 3) corners of the triangle each traced line runs on; an edge of it for plain lines
    start, end : weights of a line's two ends on those corners (k, 3) [-]; unused rows for folds
    folds : True where the line is the fold of its triangle, found anew in every pose, (k,)
    triangles : (p, 3) corners of a panel's triangles; (0, 3) for other shapes
    sides : (p, 4) the lines of each triangle, its sides and its fold, where there are MANY; else (0, 4)
    buried : of them the share of the way back from a solid panel's sheet over which each lies within what is filled
        (p,) [-]; else (0,)
    """

    lines: Index
    start: Array
    end: Array
    folds: NDArray[np.bool_]
    triangles: Index
    sides: Index
    buried: Array


@dataclass(frozen=True, eq=False)
class CarriedCorners:
    """Many corners that move as one, in the hub frame of n poses; each is worked out when it is asked for.

    points : where their carrier has them, and 1 (v, 4) [mm, -]
    frame : the carrier's axes and its origin, hub frame (n, 4, 3) [-, mm]
    Asked for by pose and corner, or as an array, it is one of all corners (n, v, 3) [mm].
    """

    points: Array
    frame: Array

    @property
    def shape(self) -> tuple[int, int, int]:
        """(n, v, 3)."""
        return len(self.frame), len(self.points), 3

    def __len__(self) -> int:
        return len(self.frame)

    def __array__(self, dtype: object = None, copy: object = None) -> Array:
        return np.asarray(self.points @ self.frame)

    def __getitem__(self, key: object) -> Array:
        """Corners by pose and number (..., 3) [mm], or all of one pose (v, 3) [mm]."""
        pose, corner = key if isinstance(key, tuple) else (key, slice(None))
        if isinstance(corner, slice):
            return np.asarray(self.points[corner] @ self.frame[pose])
        return np.asarray((self.points[corner][..., None, :] @ self.frame[pose])[..., 0, :])

    @property
    def box(self) -> Array:
        """The corners of a box round all of them (n, 8, 3) [mm]: none moves more than one of these does."""
        low, high = self.points[:, :3].min(axis=0), self.points[:, :3].max(axis=0)
        ends = np.array([[*np.where(which, high, low), 1.0] for which in np.ndindex(2, 2, 2)])
        return np.asarray(ends @ self.frame)

    def at(self, chosen: NDArray[np.bool_] | Index | slice) -> CarriedCorners:
        """In some of the poses."""
        return CarriedCorners(self.points, self.frame[chosen])


Corners = Array | CarriedCorners
"""Corners in the hub frame of n poses (n, v, 3) [mm]."""


def in_poses(corners: Corners, chosen: NDArray[np.bool_] | Index | slice) -> Corners:
    """Corners in some of their poses (q, v, 3) [mm].

    corners : (n, v, 3) [mm]
    chosen : (q,)
    Source: none needed, they are taken.
    """
    return corners.at(chosen) if isinstance(corners, CarriedCorners) else corners[chosen]


@dataclass(frozen=True)
class Lines:
    """The traced lines of an obstacle in n poses.

    start, end : weights of both ends of every traced line on the three corners of its triangle (n, k, 3) [-]
    first, last : those ends, hub frame (n, k, 3) [mm]
    low, high : corners of the box round every traced line, (y', r) (n, k, 2) [mm]
    """

    start: Array
    end: Array
    first: Array
    last: Array
    low: Array
    high: Array


@dataclass(frozen=True)
class LaidOut:
    """Traced lines in chords, whose ends are worked out when they are asked for.

    count : chords of each line (q,)
    start, end : weights of the lines' ends on their corners (q, 3) [-]
    terms : of each line (q, 11): u at its start and how much that grows [-], its foot's distance from the axis, how far
        the start is from there and its length, seen along the axis; its start and the way to its end, hub frame [mm]
    """

    count: Index
    start: Array
    end: Array
    terms: Array

    def _shares(self, line: Index, number: Index) -> tuple[Array, Array]:
        """How far along its line each end is (k,) [-], and the terms of that line (11, k)."""
        terms = self.terms.take(line, axis=0).T
        u0, grows, d, s0, length = terms[:5]
        steps = np.minimum(number / self.count[line], 1.0)
        share = grows * steps
        share += u0
        np.sinh(share, out=share)
        share *= d
        share -= s0
        share /= np.maximum(length, 1e-12)
        np.clip(share, 0.0, 1.0, out=share)
        return np.where((length <= 1e-9) | (steps == 0.0) | (steps == 1.0), steps, share), terms

    def points(self, line: Index, number: Index) -> Array:
        """Some ends of chords (k, 2), (y', r) [mm].

        line, number : of each the line and which of its ends (k,)
        Source: see `chords`.
        """
        share, terms = self._shares(line, number)
        points = np.empty((len(share), 2))
        x, points[:, 0], z = (a + share * v for a, v in zip(terms[5:8], terms[8:], strict=True))
        np.hypot(x, z, out=points[:, 1])
        return points

    def bows(self, steps: int) -> Array:
        """How far so many chords of each line lie off the line between their ends at most (q,) [mm].

        Source: with s = d sinh u, r = d cosh u that is d (cosh(du / 2) - 1), largest beside the foot; and a line that
        meets the axis is laid out as if it passed by.
        """
        _, grows, d, *_ = self.terms.T
        return np.asarray(d * (np.cosh(grows * np.minimum(steps / self.count, 1.0) / 2) - 1) + BY_THE_AXIS)

    def weights(self, line: Index, number: Index) -> Array:
        """Of some ends of chords (k, 3) [-] on their line's corners.

        line, number : of each the line and which of its ends (k,)
        Source: geometry: along a straight line they change evenly from one end to the other.
        """
        start = self.start[line]
        return start + self._shares(line, number)[0][:, None] * (self.end[line] - start)


@dataclass(frozen=True)
class Trace:
    """One obstacle in n poses, seen from the hub; or several that are alike, each in poses of its own.

    obstacle : of several the first, whose shape all have
    hub : corners in the hub frame (n, v, 3) [mm]; those of a solid panel's far side come last, three for each triangle
    radii : of several the radius in each pose (n,) [mm]
    """

    obstacle: Obstacle
    mesh: Mesh
    hub: Corners
    radii: Array | None = None

    def __len__(self) -> int:
        return len(self.hub)

    def at(self, chosen: NDArray[np.bool_] | Index | slice) -> Trace:
        """The trace in some of its poses."""
        radii = None if self.radii is None else self.radii[chosen]
        some = replace(self, hub=in_poses(self.hub, chosen), radii=radii)
        if "every" in self.__dict__:
            some.__dict__["every"] = Lines(*(getattr(self.every, field.name)[chosen] for field in fields(Lines)))
        return some

    @cached_property
    def every(self) -> Lines:
        """All traced lines in all poses."""
        hub = np.asarray(self.hub)
        start, end = _line_ends(self.mesh, hub)
        corners_of_lines = hub[:, self.mesh.lines]
        first, last = corners_of_lines[:, :, 0].copy(), corners_of_lines[:, :, 1].copy()
        folds = np.flatnonzero(self.mesh.folds)
        for ends, weights in ((first, start), (last, end)):
            ends[:, folds] = np.einsum("nkc,nkci->nki", weights[:, folds], corners_of_lines[:, folds])
        ends = to_half_plane(np.stack([first, last]))
        low, high = ends.min(axis=0), ends.max(axis=0)
        length, s0, d = _line_in_axis_terms(first, last)
        low[..., 1] = np.where((s0 < 0) & (s0 + length > 0), np.minimum(d, low[..., 1]), low[..., 1])
        return Lines(start, end, first, last, low, high)

    @cached_property
    def space(self) -> FilledSpace:
        """What is filled behind a solid panel, where its carrier has it."""
        return filled_by(self.obstacle)

    @property
    def radius(self) -> Array:
        """In each pose (n,) [mm]."""
        return np.full(len(self), self.obstacle.radius) if self.radii is None else self.radii

    @property
    def many(self) -> bool:
        """Whether it has so many triangles that those near to something are looked for."""
        return len(self.mesh.sides) > 0 and isinstance(self.hub, CarriedCorners)

    @property
    def filled(self) -> bool:
        """Whether it is a ring whose outline is filled."""
        return self.obstacle.shape == "ring" and len(self.obstacle.outline) > 2

    @property
    def point(self) -> bool:
        """Whether it is a single point."""
        return self.obstacle.shape == "ball"


def place(obstacle: Obstacle, poses: Poses) -> Array:
    """Core points in the body frame in every pose, (n, v, 3) [mm]. Raises KeyError for an unknown carrier.

    Source: geometry: each point moves with its carrier.
    """
    points = core(obstacle)
    carriers = obstacle.fixed_to
    if len(set(carriers)) == 1:
        rotation, shift = poses.motions[carriers[0]]
        return points @ np.swapaxes(rotation, 1, 2) + shift[:, None, :]
    placed = np.empty((len(poses), len(points), 3))
    for i, carrier in enumerate(carriers):
        rotation, shift = poses.motions[carrier]
        placed[:, i] = rotation @ points[i] + shift
    return placed


def to_hub(points: Array, poses: Poses) -> Array:
    """Body-frame points in the hub frame of each pose, (n, v, 3) [mm].

    points : (n, v, 3) [mm]
    Source: geometry: less the hub's origin, turned back by its rotation.
    """
    return (points - poses.origin[:, None, :]) @ poses.rotation


def corners(obstacle: Obstacle, poses: Poses) -> Array:
    """Every corner the trace hangs on, body frame (n, v, 3) [mm]: the core, and the far side of a solid panel.

    Source: geometry, see `place` and `solid_panel.far_points`.
    """
    if not obstacle.solid_behind:
        return place(obstacle, poses)
    known = laid_out(obstacle, poses)
    far = ((x, y, z) for x, y, z in far_points(known).tolist())
    return place(replace(known, points=(*known.points, *far)), poses)


def laid_out(obstacle: Obstacle, poses: Poses) -> Obstacle:
    """The obstacle with the space behind it laid out, if it is solid: away from the hub where nobody did before."""
    return filled(obstacle, poses.origin[0]) if obstacle.solid_behind and not obstacle.behind else obstacle


def has_many(obstacle: Obstacle) -> bool:
    """Whether an obstacle is a sheet of so many triangles that they are looked for; a scan is, however few it has.

    Source: none needed, they are counted.
    """
    return obstacle.mesh is not None or (obstacle.shape == "panel" and 2 * len(obstacle.points) > MANY)


def carried_points(known: Obstacle) -> Array:
    """Every corner the trace hangs on as its carrier holds it: (x, y, z) at the reference pose [mm] and 1 (v, 4).

    known : laid out
    Source: none needed, they are put together.
    """
    return _scan_points(known.mesh) if known.mesh else _carried_points(known)


@lru_cache(maxsize=16)
def _scan_points(scan: ScanMesh) -> Array:
    return np.column_stack([scan.vertices, np.ones(len(scan.vertices))])


@lru_cache(maxsize=32)
def _carried_points(known: Obstacle) -> Array:
    points = np.concatenate([core(known), far_points(known)]) if known.solid_behind else core(known)
    return np.column_stack([points, np.ones(len(points))])


def carrier_frame(carrier: str, poses: Poses) -> Array:
    """Directions of a carrier's axes [-] and the place of its origin [mm] in the hub frame of each pose (n, 4, 3).

    Source: geometry: `carried_points` times this are the corners in the hub frame, as a rigid motion is affine.
    """
    rotation, shift = poses.motions[carrier]
    axes = np.swapaxes(rotation, 1, 2) @ poses.rotation
    origin = (shift - poses.origin)[:, None, :] @ poses.rotation
    return np.concatenate([axes, origin], axis=1)


def hub_corners(obstacle: Obstacle, poses: Poses) -> Corners:
    """Every corner the trace hangs on, hub frame (n, v, 3) [mm]; a ring's in the middle of its clock range.

    Source: geometry, see `to_hub`; a ring stands still in the hub frame.
    """
    if obstacle.solid_behind or has_many(obstacle):
        known = laid_out(obstacle, poses)
        return CarriedCorners(carried_points(known), carrier_frame(known.fixed_to[0], poses))
    if obstacle.shape != "ring":
        return to_hub(place(obstacle, poses), poses)
    middle = np.radians(sum(obstacle.clock) / 2)
    y, r = np.array(obstacle.outline).T
    still = np.stack([r * np.cos(middle), y, r * np.sin(middle)], -1)
    return np.broadcast_to(still, (len(poses), *still.shape))


def trace_obstacle(obstacle: Obstacle, poses: Poses) -> Trace:
    """The obstacle in the half plane of every pose. Rings stand still in the hub frame.

    Only the ends and the box of every line are found here; `chords` lays out those that matter.
    """
    known = laid_out(obstacle, poses)
    return trace_of_corners(known, hub_corners(known, poses))


def trace_of_corners(obstacle: Obstacle, hub: Corners, radii: Array | None = None) -> Trace:
    """The trace of an obstacle whose corners in the hub frame are known.

    hub : (n, v, 3) [mm]
    radii : where several are told as one, of each pose (n,) [mm]
    Source: derived here, see the top of the module.
    """
    trace = Trace(obstacle, mesh_of(obstacle, hub.shape[1]), hub, radii)
    if not trace.many:
        trace.every  # noqa: B018  known before some of the poses are taken
    return trace


def _ends_of(trace: Trace, pose: Index, line: Index) -> tuple[Array, Array, Array, Array]:
    """Weights of the ends of some lines (q, 3) [-], and the ends (q, 3) [mm]."""
    if not trace.many:
        every, row = trace.every, pose * len(trace.mesh.lines) + line
        start, end, first, last = (
            whole.reshape(-1, 3).take(row, axis=0) for whole in (every.start, every.end, every.first, every.last)
        )
        return start, end, first, last
    corners_of_lines = trace.hub[pose[:, None], trace.mesh.lines[line]]
    start, end, folds = trace.mesh.start[line], trace.mesh.end[line], trace.mesh.folds[line]
    start[folds], end[folds] = (weights[0] for weights in fold(corners_of_lines[folds][None]))
    first, last = (np.einsum("qc,qci->qi", weights, corners_of_lines) for weights in (start, end))
    return start, end, first, last


def chords(trace: Trace, pose: Index, line: Index) -> LaidOut:
    """Some traced lines, laid out in chords.

    pose, line : which lines (q,)
    Source: derived here. Along a straight line r = sqrt(d^2 + s^2). With s = d sinh u the sagitta of a chord of
    width du is at most d du^2 / 8, so equal steps in u keep every chord within CHORD with the fewest points.
    """
    start, end, a, b = _ends_of(trace, pose, line)
    length, s0, d = _line_in_axis_terms(a, b)
    u0, u1 = np.arcsinh(s0 / d), np.arcsinh((s0 + length) / d)
    count = np.ceil((u1 - u0) / np.minimum(0.5, np.sqrt(8 * CHORD / d)))
    terms = np.column_stack([u0, u1 - u0, d, s0, length, a, b - a])
    return LaidOut(np.maximum(count, 1.0).astype(np.intp), start, end, terms)


def _line_in_axis_terms(a: Array, b: Array) -> tuple[Array, Array, Array]:
    """Length seen along the spin axis, place s0 of a from the line's foot, and the foot's distance d, (...)."""
    a, along = a[..., [0, 2]], (b - a)[..., [0, 2]]
    length = np.linalg.norm(along, axis=-1)
    s0 = np.sum(a * along, -1) / np.maximum(length, 1e-12)
    return length, s0, np.sqrt(np.maximum(np.sum(a * a, -1) - s0**2, 1e-6))


def mesh_of(obstacle: Obstacle, count: int) -> Mesh:
    """The lines and triangles of an obstacle of so many corners [-]."""
    if obstacle.mesh is not None:
        return _scan_mesh(obstacle.mesh)
    if obstacle.shape == "ring" and count > 2:
        return _closed_mesh(count)
    if obstacle.shape != "panel":
        return _line_mesh(count)
    sheet = len(obstacle.points)
    return _panel_mesh(
        sheet // obstacle.columns, obstacle.columns, fill_of(obstacle) if obstacle.solid_behind else None
    )


@lru_cache(maxsize=256)
def _line_mesh(count: int) -> Mesh:
    i = np.arange(max(count - 1, 1))
    return _mesh(np.stack([i, np.minimum(i + 1, count - 1)], -1), np.empty((0, 3), int))


@lru_cache(maxsize=256)
def _closed_mesh(count: int) -> Mesh:
    i = np.arange(count)
    return _mesh(np.stack([i, (i + 1) % count], -1), np.empty((0, 3), int))


@lru_cache(maxsize=256)
def _panel_mesh(rows: int, columns: int, fill: Fill | None) -> Mesh:
    """A sheet's triangles, and what bounds the space that is filled behind them."""
    faces = sheet_triangles(rows, columns)
    sides = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    buried = np.zeros(len(faces))
    if fill is not None:
        faces, sides = np.concatenate([faces, fill.faces]), np.concatenate([sides, fill.edges])
        buried = np.concatenate([buried, fill.buried])
    if 2 * rows * columns > MANY:
        return _mesh_of_many(faces, buried)
    return _mesh(np.unique(np.sort(sides, axis=1), axis=0), faces)


@lru_cache(maxsize=8)
def _scan_mesh(scan: ScanMesh) -> Mesh:
    return _mesh_of_many(scan.faces.astype(np.intp), np.zeros(len(scan.faces)))


def _mesh_of_many(faces: Index, buried: Array) -> Mesh:
    """Triangles that are looked for by themselves, each with all its sides."""
    ends = np.sort(faces[:, [[0, 1], [1, 2], [2, 0]]], axis=2).reshape(-1, 2)
    once, own = np.unique(ends[:, 0] * (faces.max() + 1) + ends[:, 1], return_inverse=True)
    edges = np.stack(np.divmod(once, faces.max() + 1), -1)
    folds = len(edges) + np.arange(len(faces))
    return _mesh(edges, faces, np.column_stack([own.reshape(-1, 3), folds]), buried)


_NO_SIDES: Index = np.empty((0, 4), dtype=np.intp)
_NONE_BURIED: Array = np.empty(0)


def _mesh(edges: Index, triangles: Index, sides: Index = _NO_SIDES, buried: Array = _NONE_BURIED) -> Mesh:
    lines = np.concatenate([edges[:, [0, 1, 1]], triangles])
    start, end = (np.broadcast_to(np.eye(3)[corner], (len(lines), 3)) for corner in (0, 1))
    return Mesh(lines, start, end, np.arange(len(lines)) >= len(edges), triangles, sides, buried)


def _line_ends(mesh: Mesh, hub: Array) -> tuple[Array, Array]:
    """Weights (n, k, 3) of both ends of every line; a fold that misses its triangle shrinks to a corner."""
    n = len(hub)
    start = np.broadcast_to(mesh.start, (n, *mesh.start.shape)).copy()
    end = np.broadcast_to(mesh.end, (n, *mesh.end.shape)).copy()
    if mesh.folds.any():
        start[:, mesh.folds], end[:, mesh.folds] = fold(hub[:, mesh.lines[mesh.folds]])
    return start, end


def fold(triangles: Array) -> tuple[Array, Array]:
    """Weights (n, t, 3) [-] of the two ends of the fold of each triangle on its corners.

    triangles : three corners each, hub frame (n, t, 3, 3) [mm]
    Source: derived here. The plane through the spin axis, square to the triangle, is where (normal x y') . P = 0. A
    triangle square to the axis has no such plane; if the axis pierces it, its fold runs from there to a corner.
    """
    a, b, c = np.moveaxis(triangles, 2, 0)
    normal = np.cross(b - a, c - a)
    side = np.einsum("ntci,nti->ntc", triangles, np.cross(normal, [0.0, 1.0, 0.0]))
    start = np.broadcast_to(np.array([1.0, 0.0, 0.0]), side.shape).copy()
    end = start.copy()
    crossings = np.zeros(side.shape[:2], dtype=int)
    for i, j in ((0, 1), (1, 2), (2, 0)):
        cut = (side[..., i] < 0) != (side[..., j] < 0)
        step = side[..., i] - side[..., j]
        share = np.where(cut, side[..., i] / np.where(step == 0, 1.0, step), 0.0)
        weights = np.zeros_like(start)
        weights[..., i], weights[..., j] = 1 - share, share
        start = np.where((cut & (crossings == 0))[..., None], weights, start)
        end = np.where((cut & (crossings == 1))[..., None], weights, end)
        crossings += cut
    end = np.where((crossings == 2)[..., None], end, start)
    flat = np.linalg.norm(normal[..., [0, 2]], axis=-1) < 1e-9 * np.linalg.norm(normal, axis=-1)
    return np.where(flat[..., None], _pierced(triangles), start), end


def _pierced(triangles: Array) -> Array:
    """Weights (n, t, 3) of the point where the spin axis pierces each triangle, or of its first corner."""
    a, b, c = np.moveaxis(triangles[..., [0, 2]], 2, 0)
    parts = np.stack([_cross2(b, c), _cross2(c, a), _cross2(a, b)], -1)
    total = parts.sum(-1, keepdims=True)
    weights = parts / np.where(total == 0, 1.0, total)
    inside = np.all(weights >= 0, -1, keepdims=True) & (total != 0)
    return np.where(inside, weights, [1.0, 0.0, 0.0])


def _cross2(a: Array, b: Array) -> Array:
    return a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]


def circle_hits(
    trace: Trace, pose: Index, circles: Array, faces: Sequence[Index] | None = None
) -> tuple[NDArray[np.bool_], Index, Array]:
    """Where circles about the spin axis meet a panel's triangles, each in its own pose.

    pose : of each circle (q,)
    circles : (y', r) (q, 2) [mm]
    faces : numbers of the triangles that are looked at, of each circle, None for all
    Returns : whether each meets any (q,), the corners of one it meets (q, 3), the weights of the point (q, 3) [-]
    Source: derived here: the plane at y' cuts a triangle in a line; on it, the points at distance r from the axis.
    """
    every = np.arange(len(trace.mesh.triangles))
    return _hits(trace, pose, circles, trace.mesh.triangles, [every] * len(pose) if faces is None else faces)


def _hits(
    trace: Trace, pose: Index, circles: Array, triangles: Index, faces: Sequence[Index]
) -> tuple[NDArray[np.bool_], Index, Array]:
    """Of triangles by their corners (t, 3) what `circle_hits` tells."""
    found = np.zeros(len(circles), dtype=bool)
    corners, weights = np.zeros((len(circles), 3), dtype=np.intp), np.zeros((len(circles), 3))
    counts = np.array([len(own) for own in faces], dtype=np.intp)
    turn = np.cumsum(counts) // AT_ONCE
    for some in (np.flatnonzero(turn == number) for number in np.unique(turn)):
        k = np.repeat(some, counts[some])
        t = np.concatenate([faces[i] for i in some.tolist()])
        tri = trace.hub[pose[k, None], triangles[t]]
        below = tri[..., 1] < circles[k, None, 0]
        cut = below.any(axis=1) & ~below.all(axis=1)
        k, t, tri = k[cut], t[cut], tri[cut]
        first, second = _cut_at(tri[..., 1], below[cut], circles[k, 0])
        a, b = (np.einsum("qc,qci->qi", w, tri)[:, [0, 2]] for w in (first, second))
        share, real = _reach(a, b - a, circles[k, 1])
        met, one = np.unique(k[real], return_index=True)
        one = np.flatnonzero(real)[one]
        found[met], corners[met], at = True, triangles[t[one]], share[one, None]
        weights[met] = first[one] * (1 - at) + second[one] * at
    return found, corners, weights


def _cut_at(corners: Array, below: NDArray[np.bool_], y: Array) -> tuple[Array, Array]:
    """Weights (q, 3) [-] on the corners of triangles of both ends of the lines in which planes at y' cut them.

    corners : their y' (q, 3) [mm]; below : which of them lie below the plane (q, 3), one or two
    y : of the planes (q,) [mm]
    """
    alone = np.where((below.sum(axis=1) == 1)[:, None], below, ~below).argmax(axis=1)
    row = np.arange(len(y))
    ends = np.zeros((2, len(y), 3))
    for end, step in zip(ends, (1, 2), strict=True):
        other = (alone + step) % 3
        share = (y - corners[row, alone]) / (corners[row, other] - corners[row, alone])
        end[row, alone], end[row, other] = 1 - share, share
    return ends[0], ends[1]


def _reach(a: Array, v: Array, r: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Share in [0, 1] along a + share v, (..., 2), at distance r from the origin, and whether there is one."""
    vv, av, c = np.sum(v * v, -1), np.sum(a * v, -1), np.sum(a * a, -1) - r * r
    root = np.sqrt(np.maximum(av * av - vv * c, 0.0))
    safe = np.where(vv == 0, 1.0, vv)
    low, high = (-av - root) / safe, (-av + root) / safe
    share = np.where((low >= 0) & (low <= 1), low, high)
    return share, (av * av >= vv * c) & (vv > 0) & (share >= 0) & (share <= 1)


def circles_within_solid(trace: Trace, poses: Index, circles: Array) -> NDArray[np.bool_]:
    """Whether circles about the spin axis (q,), which meet no face of a solid panel, lie inside it.

    poses : of each circle (q,)
    circles : (y', r), hub frame (q, 2) [mm]
    Source: derived here: points of the circle in the pieces that make up the fill.
    """
    around, hub = _around(circles), trace.hub
    if isinstance(hub, CarriedCorners):  # where the fill was laid out, whatever the pose
        there = _laid_back(hub.frame[poses], around).reshape(-1, 3)
        return np.asarray(trace.space.holds(there).reshape(around.shape[:2]).any(axis=1))
    pieces = fill_of(trace.obstacle).pieces
    inside = [space_of(hub[pose], pieces).holds(there).any() for pose, there in zip(poses, around, strict=True)]
    return np.array(inside, dtype=bool)


def place_within_solid(trace: Trace, pose: int, circle: Array) -> tuple[Index, Array] | None:
    """A place of a circle about the spin axis that lies in a solid panel of many triangles.

    circle : (y', r), hub frame (2,) [mm]
    Returns : its corners (3,) and weights (3,) [-]; None where there is none
    Source: derived here: where the circle leaves a tetrahedron that holds a point of it.
    """
    assert isinstance(trace.hub, CarriedCorners)
    there = _laid_back(trace.hub.frame[[pose]], _around(circle[None]))[0]
    tetrahedra = trace.space.corners[trace.space.around(there)[1]]
    outsides = tetrahedra[:, OUTSIDES].reshape(-1, 3)
    hit, corners, weights = _hits(trace, np.array([pose]), circle[None], outsides, [np.arange(len(outsides))])
    return (corners[0], weights[0]) if len(tetrahedra) and hit[0] else None


def _around(circles: Array) -> Array:
    """Points of circles about the spin axis (q, 8, 3); one alone could lie just on a seam."""
    angle = np.linspace(0, 2 * np.pi, 8, endpoint=False)
    y, r = circles[:, :1], circles[:, 1:]
    return np.stack([r * np.cos(angle), np.broadcast_to(y, (len(y), len(angle))), r * np.sin(angle)], -1)


def _laid_back(frame: Array, places: Array) -> Array:
    """Places in the hub frame (q, k, 3) where the carrier of each pose (q, 4, 3) has them [mm]."""
    return np.asarray((places - frame[:, 3:]) @ np.linalg.inv(frame[:, :3]))
