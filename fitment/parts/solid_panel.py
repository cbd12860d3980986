"""The space behind a solid panel: every triangle of its sheet filled square to itself, and what lies between those.

Behind each triangle stands a prism, along the triangle's own normal. Behind each line that two triangles share stands
a wedge between their prisms, and behind a corner round which all of these spread, a cone between them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fitment.errors import FitmentError
from fitment.frames import Array, unit
from fitment.parts.obstacles import SOLID_DEPTH, Obstacle, core

Index = NDArray[np.intp]
Mask = NDArray[np.bool_]
EDGE_ON = 0.01  # mean cosine between a sheet's normals and the lines of sight, below which it has no far side
FLAT = 1e-6  # change of a unit normal below which two triangles are one plane
UPRIGHT = 0.708  # cosine, a little more than that of half a right angle
SURE = 0.99  # of what is worked out to lie inside, what is told
AT_ONCE = 128  # points that are held against the border at once
TOGETHER = 32  # triangles of which it is asked at once what the ways back from them could meet
INWARD = 1e-3  # share of the way to a triangle's middle at which the way back from its corners is looked at

PIECE_EDGES = np.array([(0, 1), (1, 2), (0, 2), (3, 4), (4, 5), (3, 5), (0, 3), (1, 4), (2, 5)])


@dataclass(frozen=True, eq=False)
class Fill:
    """What bounds and fills the space behind a sheet, by number of the sheet's points, then of the far ones.

    faces : (p, 3) and edges : (k, 2) beside the sheet's own; what only lies inside is mostly left out
    pieces : (m, 6) convex ones that make it up: two triangles, joined corner by corner
    buried : share of the way back to its far corners over which each face lies inside for certain (p,) [-]
    """

    faces: Index
    edges: Index
    pieces: Index
    buried: Array


def sheet_triangles(rows: int, columns: int) -> Index:
    """Corners (t, 3) of a sheet's triangles: each cell is two, split along (i, j)-(i+1, j+1), turning alike."""
    number = np.arange(rows * columns).reshape(rows, columns)
    a, b, c, d = (part.ravel() for part in (number[:-1, :-1], number[:-1, 1:], number[1:, :-1], number[1:, 1:]))
    return np.concatenate([np.stack([a, b, d], -1), np.stack([a, d, c], -1)])


def filled(obstacle: Obstacle, wheel: Array) -> Obstacle:
    """A solid panel with the space behind it laid out, on the side away from a wheel.

    wheel : its centre (3,), body frame at the reference pose [mm]
    It is SOLID_DEPTH deep, or as far as the sheet itself where the way back leads to its front again, as from the
    side of a bulge. Raises FitmentError for a panel seen edge-on from the wheel, which has no far side.
    Source: derived here: which way the sheet's mean normal points as seen from the wheel.
    """
    if obstacle.mesh is not None:
        raise FitmentError(f"{obstacle.name}: leave out solid: behind. A scan is a sheet, whose far side nobody saw.")
    return _filled(obstacle, tuple(wheel.tolist()))


@lru_cache(maxsize=64)
def _filled(obstacle: Obstacle, wheel: tuple[float, ...]) -> Obstacle:
    points, triangles = core(obstacle), _triangles_of(obstacle)
    normals, area = _normals(points[triangles])
    facing = np.sum(normals * unit(points[triangles].mean(axis=1) - np.array(wheel)), axis=-1) @ area / area.sum()
    if abs(facing) < EDGE_ON:
        raise FitmentError(
            f"{obstacle.name}: leave out solid: behind, or give the faces that the wheel looks at. From the middle of "
            "the baseline's wheel this panel is seen edge-on, so which side is filled cannot be told."
        )
    normals *= np.sign(facing)
    depth = _depths(points[triangles], normals)
    behind = (depth[..., None] * normals[:, None]).reshape(-1, 3)
    return replace(obstacle, behind=tuple((x, y, z) for x, y, z in behind.tolist()))


def far_points(obstacle: Obstacle) -> Array:
    """The far corners (3 t, 3) of a solid panel whose fill is laid out, three of each triangle, body frame [mm].

    Source: derived here: each triangle's corners moved back along its normal, see the top of the module.
    """
    return core(obstacle)[_triangles_of(obstacle).ravel()] + np.array(obstacle.behind)


def crossed_over(obstacle: Obstacle) -> bool:
    """Whether the points of some cell are in such an order that it crosses itself, whichever way it is split."""
    a, b, c, d = np.moveaxis(_cells_of(obstacle), 1, 0)
    halves = [np.cross(b - a, d - a), np.cross(d - a, c - a)], [np.cross(b - a, c - a), np.cross(d - b, c - b)]
    return bool(np.any(np.all([np.sum(first * second, axis=-1) < 0 for first, second in halves], axis=0)))


def _cells_of(obstacle: Obstacle) -> Array:
    sheet = core(obstacle).reshape(-1, obstacle.columns, 3)
    return np.stack([sheet[:-1, :-1], sheet[:-1, 1:], sheet[1:, :-1], sheet[1:, 1:]], 2).reshape(-1, 4, 3)


def _triangles_of(obstacle: Obstacle) -> Index:
    return sheet_triangles(len(obstacle.points) // obstacle.columns, obstacle.columns)


def _normals(corners: Array) -> tuple[Array, Array]:
    """Unit normals (t, 3) and areas (t,) of triangles (t, 3, 3), which are halves of cells.

    One without an area has its other half's normal, or the mean one.
    """
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(across, axis=-1, keepdims=True)
    longest = np.max(np.sum((corners - np.roll(corners, 1, axis=1)) ** 2, axis=-1), axis=1)[:, None]
    thin = size <= 1e-9 * np.maximum(longest, 1e-9)
    normals = across / np.where(thin, 1.0, size)
    normals = np.where(thin, np.roll(np.where(thin, 0.0, normals), len(normals) // 2, axis=0), normals)
    mean = across.sum(axis=0)
    missing = np.linalg.norm(normals, axis=-1, keepdims=True) < 0.5
    return np.where(missing, mean / max(float(np.linalg.norm(mean)), 1e-9), normals), size[:, 0] / 2


def _depths(corners: Array, normals: Array) -> Array:
    """How far back each corner (t, 3) of the triangles (t, 3, 3) is filled: to where the sheet is met from behind.

    A triangle ends early only where all its corners meet the sheet; else, as beside a narrow flange, room that is
    filled would be given away.
    """
    depth = np.full(corners.shape[:2], SOLID_DEPTH)
    starts = corners + INWARD * (corners.mean(axis=1, keepdims=True) - corners)
    turn = np.sign(np.sum(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]) * normals, axis=-1))
    middle = corners.mean(axis=1)
    round_ = np.linalg.norm(corners - middle[:, None], axis=-1).max(axis=1)
    mean = unit(normals.sum(axis=0)) if np.linalg.norm(normals.sum(axis=0)) > FLAT else normals[0]
    if np.min(normals @ mean) > UPRIGHT:
        return depth  # no two of the normals are a right angle apart
    for own, others in _could_meet(middle, round_, normals):
        against = normals[own] @ normals[others].T
        way_to = middle[others] - middle[own, None]
        along = np.einsum("iok,ik->io", way_to, normals[own])
        across = np.sum(way_to**2, axis=-1) - along**2
        one, other = np.nonzero((against < -FLAT) & (across <= (round_[own, None] + round_[others]) ** 2 + FLAT))
        if not len(one):
            continue
        against, i, other = against[one, other], own[one], others[other]
        first, start = corners[other], starts[i]
        way = np.sum((first[:, None, 0] - start) * normals[other][:, None], axis=-1) / against[:, None]
        at = start + way[..., None] * normals[i][:, None]
        hit = (way >= 0) & (way < SOLID_DEPTH)
        for k in range(3):
            side = np.cross(first[:, k - 2] - first[:, k], normals[other]) * turn[other, None]
            hit &= np.sum((at - first[:, None, k]) * side[:, None], axis=-1) <= 0
        nearest = np.full((len(own), 3), np.inf)
        np.minimum.at(nearest, one, np.where(hit, way, np.inf))
        ends = np.isfinite(nearest).all(axis=1)
        depth[own[ends]] = nearest[ends]
    return depth


def _could_meet(middle: Array, round_: Array, normals: Array) -> Iterator[tuple[Index, Index]]:
    """Triangles in groups of neighbours, each with those that the ways back from it could meet from behind.

    middle, round_ : of each triangle, and how far its corners lie from there (t, 3), (t,) [mm]
    Of two groups in balls and cones of normals it is asked once whether any could.
    """
    groups = [np.arange(len(middle))[k : k + TOGETHER] for k in range(0, len(middle), TOGETHER)]
    ball = np.array([middle[own].mean(axis=0) for own in groups])
    size = [float((np.linalg.norm(middle[g] - c, axis=1) + round_[g]).max()) for g, c in zip(groups, ball, strict=True)]
    cone = np.array([unit(normals[own].sum(axis=0) + FLAT * normals[own[0]]) for own in groups])
    least = [float((normals[own] @ axis).min()) for own, axis in zip(groups, cone, strict=True)]
    open_, wide = np.arccos(np.clip(least, -1.0, 1.0)), np.array(size)
    for k, own in enumerate(groups):
        apart = np.arccos(np.clip(cone @ cone[k], -1.0, 1.0)) + open_ + open_[k]
        along = np.clip((ball - ball[k]) @ cone[k], 0.0, SOLID_DEPTH)
        off = np.linalg.norm(ball - ball[k] - along[:, None] * cone[k], axis=1)
        spread = 2 * SOLID_DEPTH * np.sin(open_[k] / 2)
        near = np.flatnonzero((apart > np.pi / 2 - FLAT) & (off <= wide + wide[k] + spread + FLAT))
        if len(near):
            yield own, np.concatenate([groups[j] for j in near.tolist()])


# ---------------------------------------------------------------- how its points hang together


@lru_cache(maxsize=64)
def fill_of(obstacle: Obstacle) -> Fill:
    """What fills the space behind a solid panel."""
    return _fill(obstacle.points, obstacle.columns, obstacle.behind)


@dataclass(frozen=True)
class _Joints:
    """Sides of triangles that two of them share (m,), each with its near and far ends on both: p, q.

    flat : the two are one plane; spread : their fills lean apart, or are flat; cut : one ends early
    """

    p: Index
    q: Index
    first: Index
    second: Index
    flat: Mask
    spread: Mask
    cut: Mask


@lru_cache(maxsize=256)
def _fill(points: tuple[tuple[float, ...], ...], columns: int, behind: tuple[tuple[float, ...], ...]) -> Fill:
    count = len(points)
    triangles = sheet_triangles(count // columns, columns)
    t = len(triangles)
    far = count + np.arange(3 * t).reshape(t, 3)
    near_sides = np.concatenate([triangles[:, [k, k - 2]] for k in range(3)])
    far_sides = np.concatenate([far[:, [k, k - 2]] for k in range(3)])
    alone, joints = _joints(near_sides, far_sides, _known(points, behind), behind)
    closed = np.ones(count, dtype=bool)  # corners round which all fills lean apart
    for end in (joints.p, joints.q):
        np.logical_and.at(closed, end, joints.spread)
    cone_pieces, cone_faces, inner = _cones(count // columns, columns, closed, far, joints)
    shared = ~joints.flat & (joints.spread | ~joints.cut)
    wedge = np.stack(
        [joints.p, joints.first[:, 0], joints.second[:, 0], joints.q, joints.first[:, 1], joints.second[:, 1]], -1
    )[shared]
    p, p1, p2, q, q1, q2 = wedge.T
    bare = (joints.flat & joints.cut) | ~joints.spread
    walls = [np.stack([joints.p, joints.q, *sides.T], -1)[bare] for sides in (joints.first, joints.second)]
    walls.append(np.concatenate([near_sides, far_sides], axis=1)[alone])
    a, b, fa, fb = np.concatenate(walls).T
    ends = np.concatenate([np.stack([p, p1, p2], -1), np.stack([q, q1, q2], -1)])
    kept = ~(inner & closed)[ends[:, 0]]
    ends = ends[kept]
    seams = [sides[~joints.flat | joints.cut] for sides in (joints.first, joints.second)]
    faces = [far, *_two(a, b, fb, fa), *_two(p1, q1, q2, p2), ends, cone_faces]
    edges = [far_sides[alone], *seams, _pairs(a, fa), _pairs(b, fb), _pairs(p1, p2), _pairs(q1, q2)]
    edges += [ends[:, [0, 1]], ends[:, [0, 2]], *(cone_faces[:, [k, k - 2]] for k in range(3))]
    if joints.cut.any():
        edges.append(_pairs(p1, q2))  # such a wedge's far side may not be plane
    pieces = np.concatenate([np.concatenate([triangles, far], axis=1), wedge, cone_pieces])
    known = _buried(points, columns, behind)
    if known is None:
        return Fill(np.concatenate(faces), np.concatenate(edges), pieces, np.zeros(sum(map(len, faces))))
    wall = np.concatenate([np.tile(np.minimum(known[joints.p[bare]], known[joints.q[bare]]), 2), np.zeros(len(alone))])
    end = known[np.concatenate([p, q])[kept]]
    nothing = [np.zeros(len(each)) for each in faces]
    buried = np.concatenate([nothing[0], wall, wall, *nothing[3:5], end, *nothing[6:]])
    out = buried < 1
    return Fill(np.concatenate(faces)[out], np.concatenate(edges), pieces, buried[out])


def _buried(points: tuple[tuple[float, ...], ...], columns: int, behind: tuple[tuple[float, ...], ...]) -> Array | None:
    """Over which share of the way back from each point of a sheet what stands there lies inside what is filled for
    certain (v,), and from a line between two the lesser share of both; 1 = all. None where nothing is certain.

    Of a sheet that is a height over its plane (no normal leans by 45 degrees) all is filled that lies behind it, nearer
    than SOLID_DEPTH, and nearest to a place off its border. A place at a depth t on a way w (a unit vector) from x is
    no farther than t from the sheet, and farther than t from a place b of the border where t < |b - x|^2 / 2 w.(b - x).
    Along a line w.(b - x) changes evenly and |b - x|^2 sags by the square of half its length at most, so that the least
    of both ends, less that, holds between them: along the border, and from a point to the next. Behind a corner of a
    saddle a gap is left between pieces, too narrow for a wheel; it counts as filled here.
    """
    if not behind:
        return None
    import shapely  # needed only once something is measured

    at, ways = np.array(points, dtype=float), np.array(behind, dtype=float)
    depth = np.linalg.norm(ways, axis=1)
    triangles = sheet_triangles(len(at) // columns, columns)
    across = np.cross(at[triangles[:, 1]] - at[triangles[:, 0]], at[triangles[:, 2]] - at[triangles[:, 0]])
    mean = unit(ways.sum(axis=0)) if np.linalg.norm(ways.sum(axis=0)) > FLAT else ways[0] / SOLID_DEPTH
    size = across @ mean
    if depth.min() < SOLID_DEPTH - FLAT or (ways @ mean).min() <= UPRIGHT * SOLID_DEPTH:
        return None
    if np.any(size * np.sign(size.sum()) <= FLAT):
        return None
    first = unit(np.cross(mean, np.eye(3)[np.argmin(np.abs(mean))]))
    number = np.arange(len(at)).reshape(-1, columns)
    ring = np.concatenate([number[0, :-1], number[:-1, -1], number[-1, :0:-1], number[:0:-1, 0]])
    if not shapely.Polygon(at[ring] @ np.stack([first, np.cross(mean, first)], -1)).is_valid:
        return None
    corner, way = triangles.ravel(), np.repeat(ways[::3], 3, axis=0) / SOLID_DEPTH
    middle, apart, beside = np.zeros_like(at), np.zeros(len(at)), np.zeros(len(at))
    np.add.at(middle, corner, way)
    middle /= np.linalg.norm(middle, axis=1)[:, None]
    np.maximum.at(apart, corner, np.linalg.norm(way - middle[corner], axis=1))
    for k in range(3):
        half = np.linalg.norm(at[triangles[:, k]] - at[triangles[:, k - 2]], axis=1) / 2
        np.maximum.at(beside, triangles[:, k], half)
        np.maximum.at(beside, triangles[:, k - 2], half)
    border, off = at[ring], np.linalg.norm(at[ring] - at[np.roll(ring, -1)], axis=1) / 2
    off = np.maximum(off, np.roll(off, 1))
    share = np.empty(len(at))
    for some in (slice(k, k + AT_ONCE) for k in range(0, len(at), AT_ONCE)):
        own, axis = at[some], middle[some]
        far = np.maximum(np.sum(own**2, axis=1)[:, None] + np.sum(border**2, axis=1) - 2 * own @ border.T, 0.0)
        along = axis @ border.T - np.sum(axis * own, axis=1)[:, None] + apart[some, None] * np.sqrt(far)
        room = np.maximum(far - off**2 - beside[some, None] ** 2, 0.0)
        share[some] = np.min(room / np.maximum(2 * along, FLAT), axis=1)
    return np.asarray(np.clip(SURE * share / SOLID_DEPTH, 0.0, 1.0))


def _pairs(a: Index, b: Index) -> Index:
    return np.stack([a, b], -1)


def _two(a: Index, b: Index, c: Index, d: Index) -> tuple[Index, Index]:
    return np.stack([a, b, c], -1), np.stack([a, c, d], -1)


def _known(points: object, behind: object) -> tuple[Array, Array] | None:
    """The sheet's points and each triangle's unit way back, when its fill is laid out."""
    ways = np.array(behind, dtype=float).reshape(-1, 3, 3)
    if not len(ways):
        return None
    total = ways.sum(axis=1)
    length = np.linalg.norm(total, axis=-1, keepdims=True)
    return np.array(points, dtype=float), total / np.maximum(length, 1e-9)


def _joints(
    near: Index, far: Index, known: tuple[Array, Array] | None, behind: tuple[tuple[float, ...], ...]
) -> tuple[Index, _Joints]:
    """Sides (3 t, 2) that are the sheet's border, and those that are shared."""
    order = np.lexsort(np.sort(near, axis=1).T)
    same = np.all(np.sort(near[order[1:]], axis=1) == np.sort(near[order[:-1]], axis=1), axis=1)
    one, other = order[:-1][same], order[1:][same]
    alone = np.setdiff1d(np.arange(len(near)), np.concatenate([one, other]))
    p, q = near[one].T
    first, second = far[one], far[other][:, ::-1]  # triangles turn alike, so the other runs from q to p
    flat = spread = cut = np.zeros(len(one), dtype=bool)
    if known is not None:
        points, ways = known
        t = len(near) // 3
        lean = ways[one % t], ways[other % t]
        third = [near[(side // t + 1) % 3 * t + side % t, 1] for side in (one, other)]
        flat = np.linalg.norm(lean[0] - lean[1], axis=-1) < FLAT
        off = [np.sum((points[third[1 - k]] - points[p]) * lean[k], axis=-1) for k in (0, 1)]
        spread = flat | ((off[0] < 0) & (off[1] < 0))
        depth = np.linalg.norm(np.array(behind), axis=-1) < SOLID_DEPTH - FLAT
        cut = (depth[first - len(points)] | depth[second - len(points)]).any(axis=1)
    return alone, _Joints(p, q, first, second, flat, spread, cut)


def _cones(rows: int, columns: int, closed: Mask, far: Index, joints: _Joints) -> tuple[Index, Index, Mask]:
    """Pieces and faces of what lies behind corners only, and which corners (v,) lie within the sheet.

    Triangles round a corner, in turn: of the cells ahead in rows and columns, then beside and before it.
    """
    around = np.full((6, rows, columns), -1)
    low, high = far.reshape(2, rows - 1, columns - 1, 3)
    around[0, :-1, :-1], around[1, :-1, :-1] = low[..., 0], high[..., 0]
    around[2, :-1, 1:] = low[..., 1]
    around[3, 1:, 1:], around[4, 1:, 1:] = high[..., 1], low[..., 2]
    around[5, 1:, :-1] = high[..., 2]
    fans = around.reshape(6, -1).T
    inner: Mask = np.all(fans >= 0, axis=1)
    bent = np.zeros(len(fans), dtype=int)
    for end in (joints.p, joints.q):
        np.add.at(bent, end, ~joints.flat)
    pieces, faces = [np.empty((0, 6), dtype=int)], [np.empty((0, 3), dtype=int)]
    for v in np.flatnonzero(closed & (bent > 1)):
        fan = fans[v] if inner[v] else np.roll(fans[v], -_start(fans[v]))
        fan = fan[fan >= 0]
        caps = np.stack([np.full(len(fan) - 2, fan[0]), fan[1:-1], fan[2:]], -1)
        pieces.append(np.concatenate([caps, np.full_like(caps, v)], axis=1))
        faces += [caps] if inner[v] else [caps, np.array([[v, fan[0], fan[-1]]])]
    return np.concatenate(pieces), np.concatenate(faces), inner


def _start(fan: Index) -> int:
    """Where the triangles of a fan with a gap begin."""
    return next(k for k in range(len(fan)) if fan[k] >= 0 and fan[k - 1] < 0)
