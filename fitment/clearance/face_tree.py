"""Many triangles in groups of groups, so that those near to a section are found without going through all of them.

A group lies in a box. No point of it is nearer to a section than the box's middle by more than half its diagonal; and
none is nearer to the section's hull than a plane that the hull lies behind. Both are looked up (`section_bounds`).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from fitment.clearance.section_bounds import places_by_section
from fitment.clearance.trace import CarriedCorners, Index, Mesh, Trace
from fitment.frames import Array, to_half_plane

BRANCH = 8  # groups in each larger one
LONG = 2.5  # times its width, from which a box is halved lengthwise before it is looked into
SAFE = 1e-6  # [mm] by which a bound may be off
SURE = 0.1  # [mm] by which bounds may lie apart where nothing is measured

Measure = Callable[[Index, Array], Array]
"""(pose (q,), places (y', r) (q, 2)) -> signed distance of each to the section of its pose (q,) [mm]"""
Enough = Callable[[Array], Array]
"""The least signed distance that is known of each pose (n,) [mm] -> that above which no other one counts (n,) [mm]"""


@dataclass(frozen=True, eq=False)
class FaceTree:
    """Groups of triangles, single ones among them.

    middle : of the box round each, where the carrier has it (m, 3) [mm]
    sides : unit vectors along it, the longest first (m, 3, 3) [-]; size : half its length along each (m, 3) [mm]
    corner : a corner in each group (m,), and a triangle that has it, face (m,)
    inner : the first group within each (m,), -1 for a triangle; count : how many
    top : groups that lie in no other
    """

    middle: Array
    sides: Array
    size: Array
    corner: Index
    face: Index
    inner: Index
    count: Index
    top: Index


@dataclass(frozen=True, eq=False)
class _Boxes:
    """Boxes of groups in poses, or parts of them: pose, group, start, end along the longest side, -1 to 1 (q,)."""

    pose: Index
    group: Index
    start: Array
    end: Array

    def at(self, chosen: NDArray[np.bool_]) -> _Boxes:
        return _Boxes(self.pose[chosen], self.group[chosen], self.start[chosen], self.end[chosen])

    @classmethod
    def whole(cls, pose: Index, group: Index) -> _Boxes:
        return cls(pose, group, np.full(len(pose), -1.0), np.ones(len(pose)))


@lru_cache(maxsize=16)
def _tree(mesh: Mesh, points: bytes) -> FaceTree:
    return _grouped(np.frombuffer(points).reshape(-1, 4)[:, :3], mesh.triangles)


def _grouped(points: Array, faces: Index) -> FaceTree:
    """Triangles (p, 3) on points (v, 3) in groups of neighbours along a curve that fills space, BRANCH at a time."""
    own = _along_curve(points[faces].mean(axis=1))
    corners = faces[own]
    levels = []
    while True:
        levels.append((*_boxes(points[corners]), corners[:, 0], own))
        if len(corners) <= 2 * BRANCH:
            break
        count = -(-len(corners) // BRANCH)
        filled = np.minimum(np.arange(count * BRANCH), len(corners) - 1)
        corners, own = corners[filled].reshape(count, -1), own[filled][::BRANCH]
    sizes = [len(level[-1]) for level in levels]
    starts = np.cumsum([0, *sizes])
    inner, counts = [np.full(sizes[0], -1)], [np.zeros(sizes[0], dtype=int)]
    for above, below, start in zip(sizes[1:], sizes, starts, strict=False):
        inner.append(start + BRANCH * np.arange(above))
        counts.append(np.minimum(BRANCH, below - BRANCH * np.arange(above)))
    middle, sides, size, corner, face = (np.concatenate(part) for part in zip(*levels, strict=True))
    top = np.arange(starts[-2], starts[-1])
    return FaceTree(middle, sides, size, corner, face, np.concatenate(inner), np.concatenate(counts), top)


def _along_curve(places: Array) -> Index:
    """Order in which places (p, 3) follow each other closely: by the bits of their coordinates, in turn."""
    cell = ((places - places.min(axis=0)) / max(float(np.ptp(places, axis=0).max()), 1e-9) * 1023).astype(np.int64)
    key = np.zeros(len(cell), dtype=np.int64)
    for bit in range(10):
        for way in range(3):
            key |= ((cell[:, way] >> bit) & 1) << (3 * bit + way)
    return np.argsort(key, kind="stable")


def _boxes(groups: Array) -> tuple[Array, Array, Array]:
    """Middle (m, 3), sides (m, 3, 3) and half lengths (m, 3) of boxes round groups of corners (m, c, 3)."""
    off = groups - groups.mean(axis=1, keepdims=True)
    sides = np.swapaxes(np.linalg.eigh(np.einsum("mci,mcj->mij", off, off))[1], 1, 2)[:, ::-1]
    along = np.einsum("mci,mki->mck", groups, sides)
    low, high = along.min(axis=1), along.max(axis=1)
    return np.einsum("mk,mki->mi", (low + high) / 2, sides), sides, (high - low) / 2 + SAFE


def nearest_faces(
    trace: Trace, section: Polygon | NDArray[np.object_], measure: Measure, enough: Enough
) -> tuple[Index, Index, Array]:
    """Triangles that could hold the point nearest to the section of their pose, or deepest in it.


    section : (y', r) [mm], or of every pose (n,)
    measure, enough : see there
    Returns : pose and number (q,) [-]; what the signed distance of all triangles is at least in each pose (n,) [mm]
    Source: derived here, branch and bound: a group is looked into, or its box halved, while it could hold a nearer
    point than one that is known.
    """
    assert isinstance(trace.hub, CarriedCorners)
    tree = _tree(trace.mesh, np.ascontiguousarray(trace.hub.points).tobytes())
    pose, group = (part.ravel() for part in np.indices((len(trace), len(tree.top))))
    boxes = _Boxes.whole(pose, tree.top[group])
    best, best_face = np.full(len(trace), np.inf), np.zeros(len(trace), dtype=np.intp)
    kept: list[_Boxes] = []
    least_of_kept: list[Array] = []
    while len(boxes.pose):
        half = (boxes.end - boxes.start) / 2 * tree.size[boxes.group, 0]
        least, most = _bounds(trace, tree, section, measure, boxes, half, enough(best)[boxes.pose])
        _tighten(trace, tree, measure, (boxes.pose, boxes.group, most), best, best_face)
        open_ = least <= enough(best)[boxes.pose]
        long = half > LONG * tree.size[boxes.group, 1]
        done = open_ & ~long & (tree.inner[boxes.group] < 0)
        kept.append(boxes.at(done))
        least_of_kept.append(least[done])
        boxes = _within(tree, boxes.at(open_ & long), boxes.at(open_ & ~long & ~done))
    pose, group = (np.concatenate([getattr(part, name) for part in kept]) for name in ("pose", "group"))
    least = np.concatenate(least_of_kept)
    lowest, left = best.copy(), least <= enough(best)[pose]
    np.minimum.at(lowest, pose, least)
    faces = np.concatenate([tree.face[group[left]], best_face])
    return np.concatenate([pose[left], np.arange(len(trace))]), faces, lowest


def _bounds(
    trace: Trace,
    tree: FaceTree,
    section: Polygon | NDArray[np.object_],
    measure: Measure,
    boxes: _Boxes,
    half: Array,
    limit: Array,
) -> tuple[Array, Array]:
    """What the signed distance is at least in boxes, and at most that of their nearest point (q,) [mm].

    half : half the length of each (q,) [mm]; limit : above which none counts (q,) [mm]
    A plane that the section's hull lies behind as a solid of revolution is turned to where the middle is round the
    axis: no point of the box is nearer to the section than the box's nearest corner to the plane, or deeper in it.
    """
    assert isinstance(trace.hub, CarriedCorners)
    group, frame = boxes.group, trace.hub.frame[boxes.pose]
    axes = tree.sides[group]
    along = (boxes.start + boxes.end) / 2 * tree.size[group, 0]
    middle = tree.middle[group] + along[:, None] * axes[:, 0]
    middle = (middle[:, None] @ frame[:, :3])[:, 0] + frame[:, 3]
    place = to_half_plane(middle)
    least, most, way, ahead = places_by_section(section, boxes.pose, place)
    round_ = way[:, 1] / np.maximum(place[:, 1], SAFE)
    normal = np.stack([middle[:, 0] * round_, way[:, 0], middle[:, 2] * round_], -1)
    reach = np.abs((axes @ (frame[:, :3] @ normal[..., None]))[..., 0])
    planes = np.sum(normal * middle, axis=1) - ahead - reach[:, 0] * half
    planes -= np.sum(reach[:, 1:] * tree.size[group, 1:], axis=1) + SAFE
    size = np.sqrt(half**2 + np.sum(tree.size[group, 1:] ** 2, axis=1))
    loose = np.flatnonzero((np.maximum(least - size, planes) <= limit) & (most - least > SURE))
    least[loose] = most[loose] = measure(boxes.pose[loose], place[loose])
    return np.maximum(least - size, planes), most + size


def _within(tree: FaceTree, long: _Boxes, wide: _Boxes) -> _Boxes:
    """Halves of boxes that are long, and what lies in groups that are not."""
    middle = (long.start + long.end) / 2
    pose, group = np.divmod(np.unique(wide.pose * len(tree.face) + wide.group), len(tree.face))
    count = tree.count[group]
    step = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    inner = _Boxes.whole(np.repeat(pose, count), np.repeat(tree.inner[group], count) + step)
    return _Boxes(
        np.concatenate([long.pose, long.pose, inner.pose]),
        np.concatenate([long.group, long.group, inner.group]),
        np.concatenate([long.start, middle, inner.start]),
        np.concatenate([middle, long.end, inner.end]),
    )


def _tighten(
    trace: Trace, tree: FaceTree, measure: Measure, found: tuple[Index, Index, Array], best: Array, best_face: Index
) -> None:
    """Measures in each pose a corner of the group that is nearest at most, and keeps it where it is the nearest yet."""
    pose, group, most = found
    order = np.lexsort((most, pose))
    chosen = order[np.unique(pose[order], return_index=True)[1]]
    own, group = pose[chosen], group[chosen]
    there = measure(own, to_half_plane(trace.hub[own, tree.corner[group]]))
    nearer = there < best[own]
    best[own[nearer]], best_face[own[nearer]] = there[nearer], tree.face[group[nearer]]
