"""Obstacles that are alike, traced as one: what is numpy's is done once for all of them, not once for each."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from fitment.clearance.trace import (
    Corners,
    Index,
    Trace,
    has_many,
    hub_corners,
    in_poses,
    laid_out,
    mesh_of,
    trace_of_corners,
)
from fitment.frames import Array
from fitment.motion.poses import Poses
from fitment.parts.obstacles import Obstacle, core, fixed_to_hub

WORTH = 40  # lines without a size that may be added to measure two groups at once
AT_ONCE = 20_000  # traced lines that are measured at once; many more only take memory


@dataclass(frozen=True, eq=False)
class Alike:
    """Obstacles of one shape, all or none still to the hub.

    One is by itself where it is a ring, solid, or has many triangles. What has fewer rows or columns of corners than
    others has its last ones as often as it takes: lines and triangles without a size, which nothing comes near to.

    numbers : of the obstacles among those that were asked about
    size : rows and columns of corners that each is told by; a line is one column
    """

    numbers: tuple[int, ...]
    obstacles: tuple[Obstacle, ...]
    size: tuple[int, int]

    @property
    def alone(self) -> bool:
        """Whether it is one that is like no other."""
        return _alone(self.obstacles[0])

    @property
    def lines(self) -> int:
        """How many lines the trace of each has; of one that is alone it does not matter."""
        return 1 if self.alone else len(mesh_of(self._first, self._points.shape[1]).lines)

    @property
    def shape(self) -> tuple[int, int]:
        """Of the corners of each (v, 3)."""
        return self._points.shape[1], 3

    @property
    def still(self) -> bool:
        """Whether they stand still in the hub's frame."""
        return fixed_to_hub(self.obstacles[0])

    @cached_property
    def _own_corners(self) -> Index:
        """Which of its own corners stands for each (m, v)."""
        row, column = np.divmod(np.arange(self.size[0] * self.size[1]), self.size[1])
        own = [_size(obstacle) for obstacle in self.obstacles]
        return np.array([np.minimum(row, n - 1) * m + np.minimum(column, m - 1) for n, m in own])

    @cached_property
    def _points(self) -> Array:
        if self.alone:
            return core(self.obstacles[0])[None]
        return np.array([core(own)[chosen] for own, chosen in zip(self.obstacles, self._own_corners, strict=True)])

    @cached_property
    def _first(self) -> Obstacle:
        """The first of them, of as many rows and columns as all are told by."""
        first = self.obstacles[0]
        if self.alone or first.shape != "panel" or _size(first) == self.size:
            return first
        return replace(first, points=tuple(map(tuple, self._points[0].tolist())), columns=self.size[1])

    def own_corners(self, k: int, corners: Index) -> Index:
        """Corners (q, 3) of the k-th as it is given. Source: none needed, they are looked up."""
        return corners if self.alone else np.asarray(self._own_corners[k][corners])

    @cached_property
    def _carriers(self) -> tuple[list[str], Index]:
        """Names of the carriers, and which of them each corner (m, v) has."""
        names = list(dict.fromkeys(carrier for obstacle in self.obstacles for carrier in obstacle.fixed_to))
        own = [[names.index(carrier) for carrier in obstacle.fixed_to] for obstacle in self.obstacles]
        return names, np.array(
            [
                np.broadcast_to(n, len(chosen)) if len(n) == 1 else np.array(n)[chosen]
                for n, chosen in zip(own, self._own_corners, strict=True)
            ]
        )

    def corners_by(self, owner: Index, frames: Callable[[str], Array]) -> Array:
        """Corners in the hub frame (n, v, 3) [mm].

        owner : which of the obstacles it is in each pose (n,)
        frames : of a carrier its frame in each pose (n, 4, 3), see `carrier_frame`
        Source: geometry, see `carrier_frame`.
        """
        ones = np.ones((len(owner), self._points.shape[1], 1))
        points = np.concatenate([self._points[owner], ones], axis=2)
        return self._carried(points, owner, lambda name, pose, own: own @ frames(name)[pose])

    def corners_in(self, owner: Index, poses: Poses, at: Index) -> Corners:
        """Corners in the hub frame (q, v, 3) [mm], in some poses.

        owner : which of the obstacles it is, and at : in which pose (q,)
        Source: geometry, see `hub_corners`.
        """
        if self.alone:
            return in_poses(hub_corners(self.obstacles[0], poses), at)

        def placed(name: str, pose: Index, points: Array) -> Array:
            rotation, shift = (part[at[pose]] for part in poses.motions[name])
            return points @ np.swapaxes(rotation, 1, 2) + shift[:, None]

        body = self._carried(self._points[owner], owner, placed)
        return np.asarray((body - poses.origin[at][:, None]) @ poses.rotation[at])

    def _carried(self, points: Array, owner: Index, carry: Callable[[str, Index, Array], Array]) -> Array:
        """Points (n, v, 3 or 4), each where its carrier brings it (n, v, 3) [mm].

        carry : (a carrier, poses (q,), points (q, k, 3 or 4)) -> (q, k, 3) [mm]
        """
        names, number = self._carriers
        if len(names) == 1:
            return carry(names[0], np.arange(len(owner)), points)
        there, own = np.empty((*points.shape[:2], 3)), number[owner]
        for k, name in enumerate(names):
            pose, corner = np.nonzero(own == k)
            there[pose, corner] = carry(name, pose, points[pose, corner][:, None])[:, 0]
        return there

    def trace(self, owner: Index, hub: Corners) -> Trace:
        """Their trace.

        owner : which of the obstacles it is in each pose (n,)
        hub : its corners there (n, v, 3) [mm]
        Source: derived here, see `trace`.
        """
        radii = None if self.alone else np.array([obstacle.radius for obstacle in self.obstacles])[owner]
        return trace_of_corners(self._first, hub, radii)

    def trace_in(self, poses: Poses) -> Trace:
        """Each of them in all poses, one after another."""
        owner, at = np.divmod(np.arange(len(self.obstacles) * len(poses)), len(poses))
        return self.trace(owner, self.corners_in(owner, poses, at))


def alike_groups(obstacles: Sequence[Obstacle], poses: Poses) -> tuple[Alike, ...]:
    """Obstacles in groups of those that are alike, the space behind solid ones laid out."""
    kinds: dict[object, list[int]] = {}
    for number, obstacle in enumerate(obstacles):
        kind = "edge" if obstacle.shape == "rod" else obstacle.shape, fixed_to_hub(obstacle)
        kinds.setdefault(number if _alone(obstacle) else kind, []).append(number)
    return tuple(
        Alike(tuple(own), tuple(laid_out(obstacles[i], poses) for i in own), size)
        for numbers in kinds.values()
        for size, own in _of_like_size(obstacles, numbers)
    )


def _of_like_size(obstacles: Sequence[Obstacle], numbers: Sequence[int]) -> Iterable[tuple[tuple[int, int], list[int]]]:
    """Obstacles of one kind in groups whose rows and columns of corners are so alike that it pays to add to them."""
    groups: dict[tuple[int, int], list[int]] = {}
    for number in numbers:
        groups.setdefault(_size(obstacles[number]), []).append(number)
    merged: list[tuple[tuple[int, int], list[int]]] = []
    for size, own in groups.items():
        for k, (other, beside) in enumerate(merged):
            both = max(size[0], other[0]), max(size[1], other[1])
            added = len(own) * (_lines(both) - _lines(size)) + len(beside) * (_lines(both) - _lines(other))
            if added <= WORTH:
                merged[k] = both, sorted([*beside, *own])
                break
        else:
            merged.append((size, own))
    return merged


def _lines(size: tuple[int, int]) -> int:
    """How many lines a trace of so many rows and columns of corners has: sides, diagonals, two folds a square."""
    n, m = size
    return n * (m - 1) + m * (n - 1) + 3 * (n - 1) * (m - 1)


def _size(obstacle: Obstacle) -> tuple[int, int]:
    """Rows and columns of an obstacle's corners."""
    columns = max(obstacle.columns, 1)
    return len(core(obstacle)) // columns, columns


def _alone(obstacle: Obstacle) -> bool:
    return obstacle.shape == "ring" or obstacle.solid_behind or has_many(obstacle)


def in_turn(trace: Trace) -> Iterator[slice]:
    """The poses of a trace in pieces that are measured at once."""
    step = max(len(trace) if trace.many else AT_ONCE // len(trace.mesh.lines), 1)
    yield from (slice(first, first + step) for first in range(0, len(trace), step))
