"""Clearance of places of a part, each by itself, through all poses: the least signed distance from its (y', r).

Poses are looked for between the nodes of the search grid too: round each node a place moves by no more than `reach`, so
that what cannot hold the closest pose is left out, and the rest is halved until nothing moves by more than FINE.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from fitment.clearance.motion_polynomials import HubMotion, frames_at
from fitment.clearance.pose_grid import Sweep
from fitment.clearance.section_bounds import distance_bounds
from fitment.clearance.section_distance import signed_distance
from fitment.clearance.trace import trace_of_corners
from fitment.clearance.worst_case import (
    PartMoved,
    SetupSections,
    bend_at,
    lock_shares,
    moves_alike,
    read_again,
    worst_clearance,
)
from fitment.frames import Array, to_half_plane
from fitment.parts.obstacles import Obstacle, Part

FINE = 0.4  # [mm] half of what a place moves by from one pose looked at to the next
SAFE = 0.05  # [mm] taken off: what lies between those, where the outline is no sharper than a radius of FINE^2 / SAFE
BENT = 1.15  # times by which a place may move faster between two nodes than from one to the other
HALVINGS = 14  # of a step of the grid at most
FAR, DEEP = 25.0, -25.0  # [mm] over what is required, and below 0, beyond which a clearance is told roughly
EXACT = (-np.inf, np.inf)  # no distance is too deep or too far to be measured
AT_ONCE = 100_000  # places in poses
ROWS = 20_000  # of them that are carried at once
MOST = 1_500_000  # of them round the nodes that are halved, above which half of the places is looked at after the other
NEAR_ZERO = 5.0  # [mm] of zero within which a worst case is sought in other poses too
STEPS = (0.6, 0.3, 0.15, 0.06)  # [steps of the grid] of that search
Index = NDArray[np.intp]


@dataclass(frozen=True)
class Lowest:
    """The least distance of places over all poses, and where that is.

    distance : (q,) [mm]; family : of the poses (q,); at : travel and shares in it (q, k) [mm, -]
    """

    distance: Array
    family: Index
    at: Array


@dataclass(frozen=True)
class PointField:
    """The clearances of places of one part to a setup.

    Places are given as arrays (q, 1 + m, 3) [mm], where the carrier has them: as measured, and with each reading moved.
    before : how far the part may stand before the places that are given [mm]
    """

    swept: Sweep
    obstacle: Obstacle
    parts: SetupSections
    before: float = 0.0

    @cached_property
    def again(self) -> list[tuple[int, Obstacle]]:
        """The obstacle with each reading moved that moves it, and which of the variants that is."""
        return read_again(self.obstacle, self.swept.axle, self.parts)

    @property
    def readings(self) -> tuple[Obstacle, ...]:
        """The obstacle as measured and with each reading moved (1 + m)."""
        return (self.obstacle, *(other for _, other in self.again))

    def clearance(self, places: Array) -> dict[Part, Array]:
        """As measured, of every part that it meets (q,) [mm].

        places : (q, n, 3) [mm]
        Source: derived here, see the top of the module.
        """
        thick = self.obstacle.radius + self.before
        return {
            part: self._lowest(
                self.parts.nominal[part], places[:, 0], (DEEP, self.obstacle.allowance_to(part) + thick + FAR)
            ).distance
            - thick
            - SAFE
            for part in self.obstacle.meets
        }

    def worst_case(self, places: Array) -> Array:
        """The least of all parts in the worst case (q,) [mm].

        places : (q, n, 3) [mm]
        Source: `worst_case.worst_clearance` of a point, sought from the pose in which the largest part is closest.
        """
        return np.asarray(np.min([self._worst(part, places) for part in self.obstacle.meets], axis=0))

    def _lowest(self, section: object, points: Array, ends: tuple[float, float] = EXACT) -> Lowest:
        """ends : distances below and above which it is told roughly [mm]"""
        assert isinstance(section, Polygon)
        size = int(np.ceil(len(points) * max(len(f.at) for f in self.swept.families) / AT_ONCE)) or 1
        some = [self._lowest_of(section, chunk, ends) for chunk in np.array_split(points, size)]
        return Lowest(
            *(np.concatenate([getattr(each, name) for each in some]) for name in ("distance", "family", "at"))
        )

    def _lowest_of(self, section: Polygon, points: Array, ends: tuple[float, float]) -> Lowest:
        carried = np.column_stack([points, np.ones(len(points))])
        ways = max(own.at.shape[1] for own in self.swept.families)
        found = Lowest(
            np.full(len(points), np.inf), np.zeros(len(points), dtype=np.intp), np.zeros((len(points), ways))
        )
        for index, own in enumerate(self.swept.families):
            levels = [np.unique(column) for column in own.at.T]
            seen = _seen_from(self.swept.motion(index), self.obstacle.fixed_to[0])
            distance, at = _descend(section, carried, levels, seen, found.distance, ends)
            lower = distance < found.distance
            found.distance[lower], found.family[lower] = distance[lower], index
            found.at[lower, : at.shape[1]] = at[lower]
        return found

    def _worst(self, part: Part, places: Array) -> Array:
        lowest = self._lowest(self.parts.biggest[part], places[:, 0])
        worst = np.full(len(places), np.inf)
        for index, own in enumerate(self.swept.families):
            mine = np.flatnonzero(lowest.family == index)
            if not len(mine):
                continue
            value = self._worst_in(index, part)
            ways = own.at.shape[1]
            levels = [np.unique(column) for column in own.at.T]
            low, high = np.array([level[0] for level in levels]), np.array([level[-1] for level in levels])
            pitch = np.array([np.diff(level).max() if len(level) > 1 else 0.0 for level in levels])
            at = lowest.at[mine, :ways]
            best = value(places[mine], at)
            for step in STEPS:
                near = np.flatnonzero(np.abs(best) < NEAR_ZERO)
                moves = np.array(list(product(*[(-1.0, 0.0, 1.0) if p else (0.0,) for p in pitch]))) * pitch * step
                tried = np.clip(at[near, None] + moves, low, high)
                values = value(np.repeat(places[mine[near]], len(moves), axis=0), tried.reshape(-1, ways))
                values = values.reshape(len(near), len(moves))
                lowest_of = np.argmin(values, axis=1)
                least = values[np.arange(len(near)), lowest_of]
                better = least < best[near]
                best[near[better]], at[near[better]] = least[better], tried[np.arange(len(near)), lowest_of][better]
            worst[mine] = best
        return worst - self.before - SAFE

    def _worst_in(self, index: int, part: Part) -> Callable[[Array, Array], Array]:
        """The worst case (q,) [mm] of places (q, 1 + m, 3) at travels and shares of a family (q, k)."""
        variants, axle = self.parts.variants, self.swept.axle
        carrier = self.obstacle.fixed_to[0]
        here = _seen_from(self.swept.motion(index), carrier)
        ball = replace(
            self.obstacle, shape="ball", points=((0.0, 0.0, 0.0),), columns=0, smooth=False, steps=(),
            solid_behind=False, behind=(), mesh=None,
        )  # fmt: skip
        moved = []
        for k, other in self.again:
            alike = moves_alike(variants[k].axle, axle)
            seen = here if alike else _seen_from(self.swept.motion(index, variants[k].axle), carrier)
            moved.append((other.radius, seen, variants[k].assumed))

        def value(places: Array, at: Array) -> Array:
            carried = np.concatenate([places, np.ones((*places.shape[:2], 1))], axis=2)
            hub = here(carried[:, 0], *_each(at))[:, None]
            again = [
                PartMoved(radius, seen(carried[:, 1 + k], *_each(at))[:, None], wide)
                for k, (radius, seen, wide) in enumerate(moved)
            ]
            bend = bend_at(ball, variants, lock_shares([self.swept.families[index].family], [at]))
            return worst_clearance(trace_of_corners(ball, hub), part, None, again, self.parts, bend)

        return value


Seen = Callable[[Array, Array, Index | None], Array]


def _seen_from(motion: HubMotion, carrier: str) -> Seen:
    """A function -> places in the hub frame (q, 3) [mm]: carried (q, 4), at (n, k), which of these each is at (q,).

    Without the last every place in every pose (n, q, 3).
    """

    def seen(carried: Array, at: Array, which: Index | None) -> Array:
        frames = frames_at(motion, at)(carrier)
        if which is None:
            return np.asarray(carried @ frames)
        there = np.empty((len(which), 3))
        for k in range(0, len(which), ROWS):
            own, (x, y, z, _) = frames[which[k : k + ROWS]], carried[k : k + ROWS].T[..., None]
            there[k : k + ROWS] = x * own[:, 0] + y * own[:, 1] + z * own[:, 2] + own[:, 3]
        return there

    return seen


def _each(at: Array) -> tuple[Array, Index]:
    return at, np.arange(len(at))


def _descend(
    section: Polygon,
    carried: Array,
    levels: Sequence[Array],
    seen: Seen,
    known: Array,
    ends: tuple[float, float],
) -> tuple[Array, Array]:
    """Least distance of each place (q,) [mm] over one family, and where that is (q, k).

    known : what is known of each in other families (q,) [mm]; ends : below and above which it is told roughly [mm]
    """
    bounds, count = distance_bounds(section), len(carried)
    shape = tuple(map(len, levels))
    nodes = np.stack(np.meshgrid(*(np.arange(n, dtype=float) for n in shape), indexing="ij"), -1).reshape(
        -1, len(shape)
    )
    at = _places(levels, nodes)
    every = seen(carried, at, None)
    plane = to_half_plane(every).reshape(*shape, count, 2)
    reach = np.stack([_reach(plane, k) for k in range(len(shape))], -1).reshape(-1, len(shape))
    least, most = bounds.places(plane.reshape(-1, 2))[:2]
    best = np.minimum(most.reshape(-1, count).min(axis=0), known)
    node, place = np.divmod(np.arange(len(nodes) * count), count)
    half = np.full(len(shape), 0.5)
    index = nodes[node]
    for _ in range(HALVINGS):
        limit = np.where(best < ends[0], -np.inf, np.minimum(best, ends[1]))
        kept = least - reach @ half < limit[place]
        place, index, reach = place[kept], index[kept], reach[kept]
        split = (reach * half).max(axis=0, initial=0.0) > FINE
        if not len(place) or not split.any():
            break
        if count > 1 and len(place) * 3 ** int(split.sum()) > MOST:
            parts = (slice(0, count // 2), slice(count // 2, count))
            found = [_descend(section, carried[own], levels, seen, known[own], ends) for own in parts]
            return np.concatenate([each for each, _ in found]), np.concatenate([at for _, at in found])
        half = np.where(split, half / 2, half)
        place, index, reach = _halved(place, index, reach, half, split, shape)
        plane = to_half_plane(seen(carried[place], *_once(levels, index)))
        least, most = bounds.places(plane)[:2]
        np.minimum.at(best, place, most)
    return _exact(section, carried, levels, seen, (place, index), best)


def _exact(
    section: Polygon, carried: Array, levels: Sequence[Array], seen: Seen,
    left: tuple[Index, Array], best: Array,
) -> tuple[Array, Array]:  # fmt: skip
    """Of what is left the least, measured; of the rest what is known, which is beyond what is measured."""
    place, index = left
    at = _places(levels, index)
    plane = to_half_plane(seen(carried[place], *_once(levels, index)))
    low = distance_bounds(section).places(plane)[0] <= best[place] + 1e-9
    place, at, plane = place[low], at[low], plane[low]
    exact = signed_distance(section, plane)
    order = np.lexsort((exact, place))
    first = order[np.unique(place[order], return_index=True)[1]]
    distance, where = best.copy(), np.tile([level[len(level) // 2] for level in levels], (len(carried), 1))
    distance[place[first]], where[place[first]] = exact[first], at[first]
    return distance, where


def _halved(
    place: Index, index: Array, reach: Array, half: Array, split: NDArray[np.bool_], shape: tuple[int, ...]
) -> tuple[Index, Array, Array]:
    """The nodes round each node, half as far apart, each once for every place."""
    moves = np.array(list(product(*[(-1.0, 0.0, 1.0) if each else (0.0,) for each in split]))) * 2 * half
    ends = np.array(shape) - 1.0
    index = np.clip(index[:, None] + moves, 0.0, ends).reshape(-1, len(shape))
    place, reach = np.repeat(place, len(moves)), np.repeat(reach, len(moves), axis=0)
    key, scale = place.astype(np.int64), 2**HALVINGS
    for k, n in enumerate(shape):
        key = key * (n * scale + 1) + np.rint(index[:, k] * scale).astype(np.int64)
    once = np.unique(key, return_index=True)[1]
    return place[once], index[once], reach[once]


def _places(levels: Sequence[Array], index: Array) -> Array:
    """Travel and shares (q, k) at fractional numbers of the grid's levels (q, k)."""
    return np.stack([np.interp(index[:, k], np.arange(len(own)), own) for k, own in enumerate(levels)], -1)


def _once(levels: Sequence[Array], index: Array) -> tuple[Array, Index]:
    """The different poses (n, k) at fractional numbers of the levels (q, k), and which of them each is (q,)."""
    key, scale = np.zeros(len(index), dtype=np.int64), 2**HALVINGS
    for k, own in enumerate(levels):
        key = key * (len(own) * scale + 1) + np.rint(index[:, k] * scale).astype(np.int64)
    _, first, which = np.unique(key, return_index=True, return_inverse=True)
    return _places(levels, index[first]), which


def _reach(plane: Array, axis: int) -> Array:
    """How far each place moves at most from a node to the next along one way of the grid (..., q) [mm].

    At an end, where there is one step to go by, the next one counts too: a place may turn round within a step.
    """
    step = np.linalg.norm(np.diff(plane, axis=axis), axis=-1)
    pad = [(0, 0)] * step.ndim
    pad[axis] = (1, 1)
    both = np.pad(step, pad)
    low, high = (np.take(both, np.arange(both.shape[axis] - 1) + k, axis=axis) for k in (0, 1))
    reach = np.moveaxis(np.maximum(low, high), axis, 0)
    if len(reach) > 2:
        reach[0], reach[-1] = np.maximum(reach[0], reach[1]), np.maximum(reach[-1], reach[-2])
    return np.asarray(BENT * np.moveaxis(reach, 0, axis)) + (1e-3 if plane.shape[axis] > 1 else 0.0)
