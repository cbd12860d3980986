"""Many triangles in groups of groups, so that those near to a section are found without going through all of them.

A group lies in a box. No point of it is nearer to a section than the box's middle by more than half its diagonal; and
none is nearer to the section's hull than a plane that the hull lies behind. Both are looked up (`section_bounds`).
Coordinates come first in these arrays, then boxes: x of all of them, then y, then z.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from fitment import cache
from fitment.clearance.section_bounds import SeveralBounds
from fitment.clearance.trace import CarriedCorners, Index, Mesh, Trace, circle_hits, circles_within_solid
from fitment.frames import Array, to_half_plane
from fitment.parts.scan import ScanMesh

TREES = 16  # that are kept
KIND, KEPT = "triangles in groups", 20_000  # what is kept between runs of a scan, from so many triangles on
ABREAST = 4  # groups of each size in which the nearest triangle is looked for first
AROUND = 8  # groups of each size in which it is looked whether they hold a section's deepest place
BRANCH = 8  # groups in each larger one
LONG = 2.5  # times its width, from which a box is halved lengthwise before it is looked into
SHORT = 2.0  # [mm] half a box's length that is never halved: a sliver would be for ever
SAFE = 1e-6  # [mm] by which a bound may be off
SPREAD = np.array([(i, j, 4 - i - j) for i in range(5) for j in range(5 - i)]) / 4  # places of a triangle, as weights
CLOSELY = (1.0, 0.3, 0.1)  # of a triangle, how large the patterns of places are in which its lowest is looked for
LOOSE = 0.1  # of half a box's diagonal, by which bounds at its middle may lie apart where nothing is measured

Measure = Callable[[Index, Array], Array]
"""(pose (q,), places (y', r) (q, 2)) -> signed distance of each to the section of its pose (q,) [mm]"""
Enough = Callable[[Array], Array]
"""The least signed distance that is known of each pose (n,) [mm] -> that above which no other one counts (n,) [mm]"""

Within = Callable[[Index, Array, Array], Array]
"""(pose (q,), places (y', r) (q, 2), reaches (q,) [mm]) -> how deep the section is at most within each (q,) [mm]"""
Deepest = Callable[[Index], tuple[Array, Array]]
"""pose (q,) -> the deepest place (y', r) of its section (q, 2) [mm], and how deep that is (q,) [mm]"""


class FaceTree:
    """Groups of triangles, single ones among them, the triangles first; BRANCH that lie close together at a time.

    middle : of the box round each, where the carrier has it (3, m) [mm]
    sides : unit vectors along it, the longest first (3, 3, m) [-]; size : half its length along each (3, m) [mm]
    off : of a triangle the corners of what counts of it from that middle, by corner, then coordinate (4, 3, p) [mm]
    face : a triangle in each group (m,)
    inner : the first group within each (m,), -1 for a triangle; count : how many
    top : groups that lie in no other
    Boxes are laid round groups when they are first asked for (`lay`): most groups of a large panel never are.
    """

    def __init__(self, corners: Array, known: Sequence[NDArray[Any]] | None = None) -> None:
        """corners : of what counts of each triangle (p, 4, 3) [mm]; known : what `told` gave of the same ones."""
        own = _parted(corners.mean(axis=1)) if known is None else known[0].astype(np.intp)
        self._corners = corners[own]
        sizes = _sizes(len(own))
        self._starts = np.cumsum([0, *sizes])
        m = int(self._starts[-1])
        self.middle, self.size, self.sides = np.empty((3, m)), np.empty((3, m)), np.empty((3, 3, m))
        self.off, self._laid = np.empty((4, 3, len(own))), np.zeros(m, dtype=bool)
        self.face = np.concatenate([own[:: BRANCH**level] for level in range(len(sizes))])
        inner, count = [np.full(sizes[0], -1)], [np.zeros(sizes[0], dtype=np.intp)]
        for above, below, start in zip(sizes[1:], sizes, self._starts.tolist(), strict=False):
            inner.append(start + BRANCH * np.arange(above))
            count.append(np.minimum(BRANCH, below - BRANCH * np.arange(above)))
        self.inner, self.count = np.concatenate(inner), np.concatenate(count)
        self.top = np.arange(self._starts[-2], m)
        if known is not None:
            self.middle[:, len(own) :], self.size[:, len(own) :], self.sides[..., len(own) :] = known[1:]
            self._laid[len(own) :] = True

    def told(self) -> list[NDArray[Any]]:
        """What takes long to find of very many triangles: their order, and the boxes round groups of them."""
        count = len(self._corners)
        self.lay(np.arange(count, len(self.face)))
        order = self.face[:count].astype(np.int32)
        return [order, self.middle[:, count:], self.size[:, count:], self.sides[..., count:]]

    def spread(self, most: int) -> Index:
        """Triangles all over, one of each of the smallest groups of which there are no more than `most` (q,)."""
        level = next(k for k, start in enumerate(self._starts[1:]) if start - self._starts[k] <= most)
        return self.face[self._starts[level] : self._starts[level + 1]]

    def within(self, group: Index) -> Index:
        """What lies in groups (q,) that are no triangles (k,)."""
        count = self.count[group]
        return np.repeat(self.inner[group] - np.cumsum(count) + count, count) + np.arange(count.sum())

    def lay(self, group: Index) -> None:
        """Lays boxes round groups (q,) that have none yet. Source: geometry, along the axes in which corners spread."""
        new = group[~self._laid[group]]
        if not len(new):
            return
        new = np.unique(new)
        self._laid[new] = True
        for level, part in enumerate(np.split(new, np.searchsorted(new, self._starts[1:-1]))):
            if len(part):
                first, step = (part - self._starts[level]) * BRANCH**level, np.arange(BRANCH**level)
                corners = self._corners[np.minimum(first[:, None] + step, len(self._corners) - 1)]
                middle, sides, size = _boxes(corners.reshape(len(part), -1, 3))
                self.middle[:, part], self.size[:, part] = middle.T, size.T
                self.sides[:, :, part] = np.moveaxis(sides, 0, -1)
                if level == 0:
                    self.off[:, :, part] = np.moveaxis(corners[:, 0] - middle[:, None], 0, -1)


def _sizes(count: int) -> list[int]:
    """How many groups of each size there are, of so many triangles."""
    sizes = [count]
    while sizes[-1] > 2 * BRANCH:
        sizes.append(-(-sizes[-1] // BRANCH))
    return sizes


@dataclass(frozen=True, eq=False)
class _Boxes:
    """Boxes of groups in poses, or parts of them: pose, group, start, end along the longest side, -1 to 1 (q,)."""

    pose: Index
    group: Index
    start: Array
    end: Array

    def at(self, chosen: NDArray[np.bool_]) -> _Boxes:
        return _Boxes(self.pose[chosen], self.group[chosen], self.start[chosen], self.end[chosen])

    def joined(self, other: _Boxes) -> _Boxes:
        return _Boxes(
            *(np.concatenate([getattr(self, name), getattr(other, name)]) for name in ("pose", "group", "start", "end"))
        )

    @classmethod
    def whole(cls, pose: Index, group: Index) -> _Boxes:
        return cls(pose, group, np.full(len(pose), -1.0), np.ones(len(pose)))


@dataclass(frozen=True, eq=False)
class _Sought:
    """A trace with its tree and what is known of the sections that the nearest triangles are sought to.

    frame : of the carrier in each pose, its axes, then its origin, by coordinate (12, n) [-, mm]
    """

    trace: Trace
    tree: FaceTree
    bounds: SeveralBounds
    measure: Measure
    within: Within
    frame: Array

    def carried(self, pose: Index, places: Array) -> Array:
        """Places of the carrier (3, q) in the hub frame of their poses (3, q) [mm]."""
        frame, (x, y, z) = self.frame.take(pose, axis=1), places
        return np.stack([x * frame[k] + y * frame[3 + k] + z * frame[6 + k] + frame[9 + k] for k in range(3)])

    def at_most(self, pose: Index, places: Array) -> Array:
        """What the signed distance of places (q, 2) to the section of their pose is at most (q,) [mm], looked up."""
        return self.bounds.places(pose, places)[1]


_trees: list[tuple[Mesh, Array, FaceTree]] = []  # the last ones, so that thousands of points are not compared


def _tree(mesh: Mesh, points: Array, sheet: int) -> FaceTree:
    for k, (own, at, tree) in enumerate(_trees):
        if own is mesh and at is points:
            _trees.append(_trees.pop(k))
            return tree
    _trees.append((mesh, points, FaceTree(_that_counts(points[:, :3], mesh, sheet))))
    del _trees[:-TREES]
    return _trees[-1][2]


@lru_cache(maxsize=4)
def scan_tree(scan: ScanMesh) -> FaceTree:
    """The tree of a scan; what takes long of a large one is kept between runs.

    Source: derived here, see `FaceTree`.
    """
    corners = scan.vertices[scan.faces[:, [0, 1, 2, 2]]]
    name = cache.name_of(KIND, scan) if len(corners) >= KEPT else None
    known = cache.kept(name, 4) if name else None
    if known is not None and _could_be(known, len(corners)):
        return FaceTree(corners, known)
    tree = FaceTree(corners)
    if name:
        cache.keep({name: tree.told()})
    return tree


def _could_be(known: Sequence[NDArray[Any]], count: int) -> bool:
    """Whether that is what could be told of so many triangles, whoever wrote it."""
    groups = sum(_sizes(count)[1:])
    expected = [((count,), np.int32), ((3, groups), float), ((3, groups), float), ((3, 3, groups), float)]
    return (
        [(array.shape, array.dtype) for array in known] == [(shape, np.dtype(kind)) for shape, kind in expected]
        and np.array_equal(np.sort(known[0]), np.arange(count))
        and all(np.isfinite(array).all() for array in known[1:])
    )


def _that_counts(points: Array, mesh: Mesh, sheet: int) -> Array:
    """Corners (p, 4, 3) [mm] of what of each triangle is not buried in a solid panel; a triangle has the last twice.

    sheet : how many of the points (v, 3) are its sheet's
    """
    corners = points[mesh.triangles[:, [0, 1, 2, 2]]]
    is_far = mesh.triangles >= sheet
    for count, face in ((1, np.flatnonzero(is_far.sum(axis=1) == 1)), (2, np.flatnonzero(is_far.sum(axis=1) == 2))):
        order = np.argsort(~is_far[face], axis=1, kind="stable")  # the far ones first
        own = np.take_along_axis(corners[face, :3], order[..., None], axis=1)
        pairs = [(0, 1), (0, 2), (0, 0)] if count == 1 else [(0, 2), (1, 2), (0, 0), (1, 1)]
        share = mesh.buried[face, None]
        cut = [own[:, near] + share * (own[:, far] - own[:, near]) for far, near in pairs]
        corners[face] = np.stack([*cut, cut[-1]][:4], axis=1)
    return corners


def _parted(places: Array) -> Index:
    """Order of places (p, 3) in which every BRANCH, every BRANCH of these, and so on lie close together.

    Halved again and again across the axis along which they spread most, between whole groups.
    """
    order, starts = np.arange(len(places)), np.zeros(1, dtype=np.intp)
    group = BRANCH
    while group * BRANCH < len(places):
        group *= BRANCH
    while group >= BRANCH:
        count = np.diff(starts, append=len(order))
        if not np.any(count > group):
            group //= BRANCH
            continue
        there = places[order]
        low, high = np.minimum.reduceat(there, starts), np.maximum.reduceat(there, starts)
        own, way = np.repeat(np.arange(len(starts)), count), np.argmax(high - low, axis=1)
        size = np.maximum((high - low).max(axis=1), SAFE) * 2
        key = own + (there[np.arange(len(order)), way[own]] - low[own, way[own]]) / size[own]
        order = order[np.argsort(key, kind="stable")]
        parted = count > group
        cuts = starts[parted] + np.maximum(count[parted] // group // 2, 1) * group
        starts = np.sort(np.concatenate([starts, cuts]))
    return order


def _boxes(groups: Array) -> tuple[Array, Array, Array]:
    """Middle (m, 3), sides (m, 3, 3) and half lengths (m, 3) of boxes round groups of corners (m, c, 3)."""
    off = groups - groups.mean(axis=1, keepdims=True)
    sides = np.swapaxes(np.linalg.eigh(np.swapaxes(off, 1, 2) @ off)[1], 1, 2)[:, ::-1]
    along = groups @ np.swapaxes(sides, 1, 2)
    low, high = along.min(axis=1), along.max(axis=1)
    return np.einsum("mk,mki->mi", (low + high) / 2, sides), sides, (high - low) / 2 + SAFE


def nearest_faces(
    trace: Trace,
    section: Polygon | NDArray[np.object_],
    measure: Measure,
    enough: Enough,
    deepest: Deepest,
    within: Within,
) -> tuple[Index, Index, Array]:
    """Triangles that could hold the point nearest to the section of their pose, or deepest in it.

    section : (y', r) [mm], or of every pose (n,)
    measure, enough, deepest, within : see there
    Returns : pose and number (q,) [-]; what the signed distance of all triangles is at least in each pose (n,) [mm]
    Source: derived here, branch and bound: a group is looked into, or its box halved, while it could hold a nearer
    point than one that is known.
    """
    assert isinstance(trace.hub, CarriedCorners)
    scan = trace.obstacle.mesh
    tree = scan_tree(scan) if scan else _tree(trace.mesh, trace.hub.points, len(trace.obstacle.points))
    frame = np.ascontiguousarray(trace.hub.frame.reshape(len(trace), 12).T)
    sought = _Sought(trace, tree, SeveralBounds(section), measure, within, frame)
    best, best_face = _dived(sought)
    if np.any(best < 0):
        _settle(sought, np.flatnonzero(best < 0), deepest, best, best_face)
    boxes = _topmost(sought)
    kept: list[_Boxes] = []
    least_of_kept: list[Array] = []
    while len(boxes.pose):
        half = (boxes.end - boxes.start) / 2 * tree.size[0].take(boxes.group)
        least, most = _bounds(sought, boxes, half, enough(best)[boxes.pose])
        _tighten(sought, boxes, least + most, best, best_face)
        open_ = least <= enough(best)[boxes.pose]
        boxes, half, least = boxes.at(open_), half[open_], least[open_]
        long = half > np.maximum(LONG * tree.size[1].take(boxes.group), SHORT)
        done = ~long & (tree.inner.take(boxes.group) < 0)
        kept.append(boxes.at(done))
        least_of_kept.append(least[done])
        boxes = _within(tree, boxes.at(long), boxes.at(~long & ~done))
    pose, group = (np.concatenate([getattr(part, name) for part in kept]) for name in ("pose", "group"))
    least = np.concatenate(least_of_kept)
    if trace.obstacle.solid_behind and np.any(best < 0):
        _filled(trace, np.flatnonzero(best < 0), deepest, best)  # more of them lie in the section now
    lowest, left = best.copy(), least <= enough(best)[pose]
    np.minimum.at(lowest, pose, least)
    faces = np.concatenate([tree.face[group[left]], best_face])
    return np.concatenate([pose[left], np.arange(len(trace))]), faces, lowest


def _topmost(sought: _Sought) -> _Boxes:
    """The groups that lie in no other, in every pose."""
    pose, group = (part.ravel() for part in np.indices((len(sought.trace), len(sought.tree.top))))
    sought.tree.lay(sought.tree.top)
    return _Boxes.whole(pose, sought.tree.top[group])


def _dived(sought: _Sought) -> tuple[Array, Index]:
    """Of each pose what the signed distance of a place near the section is at most [mm], and a triangle that has it
    (n,).

    From the groups that lie in no other to triangles, each time into the ABREAST groups whose middles are nearest: of
    many small and uneven triangles the one with the nearest place is seldom that with the nearest middle.
    """
    tree, boxes, every = sought.tree, _topmost(sought), np.arange(len(sought.trace))
    while True:
        x, y, z = sought.carried(boxes.pose, tree.middle.take(boxes.group, axis=1))
        least, most, *_ = sought.bounds.places(boxes.pose, np.stack([y, np.hypot(x, z)], -1))
        order = np.lexsort((least + most, boxes.pose))
        pose, group = boxes.pose[order], boxes.group[order]
        abreast = np.arange(len(pose)) - np.searchsorted(pose, pose) < ABREAST
        wide = _Boxes.whole(pose[abreast], group[abreast])
        if tree.inner[wide.group[0]] < 0:
            break
        boxes = _within(tree, wide.at(wide.pose < 0), wide)
    order = np.lexsort((_lowest_of(sought, wide, CLOSELY[:1], sought.at_most), wide.pose))
    nearest = _Boxes.whole(every, wide.group[order[np.searchsorted(wide.pose[order], every)]])
    best = _lowest_of(sought, nearest, CLOSELY, sought.at_most)
    best[best < 0] = _lowest_of(sought, nearest.at(best < 0), CLOSELY, sought.measure)
    return best, tree.face[nearest.group]


def _lowest_of(sought: _Sought, boxes: _Boxes, finer: Sequence[float], measure: Measure) -> Array:
    """The least signed distance of some places of a triangle of each box (q,) [mm], ever finer round the least.

    finer : size of each pattern of places as a share of what of the triangle lies in the box
    """
    tree, trace, group = sought.tree, sought.trace, boxes.group
    assert isinstance(trace.hub, CarriedCorners)
    numbers = trace.mesh.triangles[tree.face[group]]
    along = (boxes.start + boxes.end) / 2 * tree.size[0].take(group)
    middle = tree.middle.take(group, axis=1) + along * tree.sides[0].take(group, axis=1)
    weights = _weights_beside(trace.hub.points[numbers, :3], middle.T)[:, None]
    corners = trace.hub[boxes.pose[:, None], numbers]
    low = measure(boxes.pose, to_half_plane((weights @ corners)[:, 0]))
    for share in finer:
        size = share * (boxes.end - boxes.start) / 2
        weights = np.maximum(weights + size[:, None, None] * (SPREAD - 1 / 3), 0.0)
        weights /= weights.sum(axis=2, keepdims=True)
        places = to_half_plane(weights @ corners).reshape(-1, 2)
        there = measure(np.repeat(boxes.pose, len(SPREAD)), places).reshape(len(group), len(SPREAD))
        best = np.argmin(there, axis=1)
        weights, low = weights[np.arange(len(group)), best][:, None], np.minimum(low, there.min(axis=1))
    return low


def _weights_beside(corners: Array, places: Array) -> Array:
    """Weights (q, 3) [-] on the corners of triangles (q, 3, 3) of a place of each that is near to one given (q, 3)."""
    a, b, off = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0], places - corners[:, 0]
    aa, ab, bb, ao, bo = (np.sum(u * v, -1) for u, v in ((a, a), (a, b), (b, b), (a, off), (b, off)))
    area = np.maximum(aa * bb - ab * ab, SAFE)
    u, v = (bb * ao - ab * bo) / area, (aa * bo - ab * ao) / area
    weights = np.maximum(np.stack([1 - u - v, u, v], -1), 0.0)
    return np.asarray(weights / weights.sum(axis=1, keepdims=True))


def _filled(trace: Trace, poses: Index, deepest: Deepest, best: Array) -> NDArray[np.bool_]:
    """In which of some poses (q,) what a solid panel fills holds the deepest place of the section; it is put down."""
    place, depth = deepest(poses)
    held = circles_within_solid(trace, poses, place)
    best[poses[held]] = -depth[held]
    return held


def _settle(sought: _Sought, poses: Index, deepest: Deepest, best: Array, best_face: Index) -> None:
    """Puts down in which of some poses (q,) the panel holds the deepest place of the section: nothing lies deeper."""
    tree, trace = sought.tree, sought.trace
    if trace.obstacle.solid_behind:
        poses = poses[~_filled(trace, poses, deepest, best)]
    place, depth = deepest(poses)
    own, group = (part.ravel() for part in np.indices((len(poses), len(tree.top))))
    group = tree.top[group]
    while len(own):
        x, y, z = sought.carried(poses[own], tree.middle.take(group, axis=1))
        sizes, axis = tree.size.take(group, axis=1), sought.frame[1:10:3].take(poses[own], axis=1)
        thick = np.sum(np.abs(np.sum(tree.sides.take(group, axis=2) * axis, axis=1)) * sizes, axis=0)  # along the axis
        off = np.abs(y - place[own, 0]) - thick
        kept = np.flatnonzero(
            (off <= 0) & (np.abs(np.hypot(x, z) - place[own, 1]) <= np.sqrt(np.sum(sizes**2, axis=0)))
        )
        order = kept[np.lexsort((off[kept] / thick[kept], own[kept]))]
        own, group = own[order], group[order]
        if not len(own) or tree.inner[group[0]] < 0:
            break
        rank = np.arange(len(own)) - np.searchsorted(own, own)
        wide = _Boxes.whole(own, group).at(rank < AROUND)
        inside = _within(tree, wide.at(wide.pose < 0), wide)
        own, group = inside.pose, inside.group
    asked = np.unique(own)
    faces = [tree.face[group[own == k]] for k in asked.tolist()]
    hit, corners, _ = circle_hits(trace, poses[asked], place[asked], faces)
    for k, of_pose, met in zip(asked[hit].tolist(), np.flatnonzero(hit).tolist(), corners[hit], strict=True):
        best[poses[k]] = -depth[k]
        best_face[poses[k]] = faces[of_pose][np.argmax(np.all(trace.mesh.triangles[faces[of_pose]] == met, axis=1))]


def _bounds(sought: _Sought, boxes: _Boxes, half: Array, limit: Array) -> tuple[Array, Array]:
    """What the signed distance is at least in boxes, and at most that of their nearest point (q,) [mm].

    half : half the length of each (q,) [mm]; limit : above which none counts (q,) [mm]
    A plane that the section's hull lies behind as a solid of revolution is turned to where the middle is round the
    axis: no point of the box is nearer to the section than the box's nearest corner to the plane, or deeper in it.
    """
    tree, pose, group = sought.tree, boxes.pose, boxes.group
    frame, sides = sought.frame.take(pose, axis=1), tree.sides.take(group, axis=2)
    sizes = tree.size.take(group, axis=1)
    along = (boxes.start + boxes.end) / 2 * sizes[0]
    x, y, z = sought.carried(pose, tree.middle.take(group, axis=1) + along * sides[0])
    place = np.stack([y, np.hypot(x, z)], -1)
    least, most, way, ahead = sought.bounds.places(pose, place)
    round_ = way[:, 1] / np.maximum(place[:, 1], SAFE)
    normal = (x * round_, way[:, 0], z * round_)
    u, v, w = (frame[3 * k] * normal[0] + frame[3 * k + 1] * normal[1] + frame[3 * k + 2] * normal[2] for k in range(3))
    reach = sum(
        np.abs(side[0] * u + side[1] * v + side[2] * w) * size
        for side, size in zip(sides, (half, *sizes[1:]), strict=True)
    )
    single = np.flatnonzero((group < tree.off.shape[2]) & (boxes.end - boxes.start == 2))
    if len(single):
        reach[single] = -np.min(
            [
                own[0] * u[single] + own[1] * v[single] + own[2] * w[single]
                for own in tree.off.take(group[single], axis=2)
            ],
            axis=0,
        )
    planes = way[:, 0] * place[:, 0] + way[:, 1] * place[:, 1] - ahead - reach - SAFE
    size = np.sqrt(half**2 + sizes[1] ** 2 + sizes[2] ** 2)
    loose = np.flatnonzero((np.maximum(least - size, planes) <= limit) & (most - least > LOOSE * size))
    least[loose] = most[loose] = sought.measure(pose[loose], place[loose])
    least = np.maximum(least - size, planes)
    deep = np.flatnonzero((limit < 0) & (least <= limit))
    least[deep] = np.maximum(least[deep], -sought.within(pose[deep], place[deep], size[deep]))
    return least, most + size


def _within(tree: FaceTree, long: _Boxes, wide: _Boxes) -> _Boxes:
    """Halves of boxes that are long, and what lies in groups that are not."""
    middle = (long.start + long.end) / 2
    pose, group = wide.pose, wide.group
    if np.any(wide.end - wide.start < 2):  # parts of one group
        pose, group = np.divmod(np.unique(pose * len(tree.face) + group), len(tree.face))
    inner = _Boxes.whole(np.repeat(pose, tree.count[group]), tree.within(group))
    tree.lay(inner.group)
    return _Boxes(
        np.concatenate([long.pose, long.pose, inner.pose]),
        np.concatenate([long.group, long.group, inner.group]),
        np.concatenate([long.start, middle, inner.start]),
        np.concatenate([middle, long.end, inner.end]),
    )


def _tighten(sought: _Sought, boxes: _Boxes, about: Array, best: Array, best_face: Index) -> None:
    """Measures in each pose some places in the group that is about nearest, and keeps the nearest yet.

    about : twice the signed distance of each box's middle (q,) [mm], as far as it is known
    """
    low = np.full(len(best), np.inf)
    np.minimum.at(low, boxes.pose, about)
    tried = (about <= low[boxes.pose]) & (about < 2 * best[boxes.pose])
    apart, within = boxes.at(tried & (about >= 0)), boxes.at(tried & (about < 0))
    there = np.concatenate([
        _lowest_of(sought, apart, CLOSELY[:1], sought.at_most), _lowest_of(sought, within, CLOSELY, sought.measure)
    ])  # fmt: skip
    chosen = apart.joined(within)
    order = np.argsort(there, kind="stable")
    pose, at = np.unique(chosen.pose[order], return_index=True)
    nearest = order[at]
    nearer = there[nearest] < best[pose]
    pose, nearest = pose[nearer], nearest[nearer]
    best[pose], best_face[pose] = there[nearest], sought.tree.face[chosen.group[nearest]]
