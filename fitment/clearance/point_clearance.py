"""Clearance of places of a part, each by itself, through all poses: the least signed distance from its (y', r).

The pose in which a place is closest is looked for in all that the section sweeps, see `swept_space`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

import numpy as np
from shapely import Polygon

from fitment.clearance.motion_polynomials import HubMotion, frames_at
from fitment.clearance.pose_grid import Sweep
from fitment.clearance.swept_space import AROUND, Sweeping, SweptSpace, raster_of
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
from fitment.frames import Array
from fitment.parts.obstacles import Obstacle, Part
from fitment.workers import Map

SAFE = 0.05  # [mm] taken off: by which the pose that is found may be off the closest one, and what is told with it
AT_ONCE = 500  # places that one process measures
NEAR_ZERO = 5.0  # [mm] of zero within which a worst case is sought in other poses too
STEPS = (0.6, 0.3, 0.15, 0.06)  # [steps of the grid] of that search


@dataclass(frozen=True, eq=False)
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

    @cached_property
    def _thick(self) -> float:
        return self.obstacle.radius + self.before

    @cached_property
    def _far(self) -> float:
        """To which distances are told [mm]."""
        return AROUND + self._thick + max(map(self.obstacle.allowance_to, self.obstacle.meets))

    @cached_property
    def spaces(self) -> dict[tuple[Part, bool], SweptSpace]:
        """What each part sweeps, seen from what carries the obstacle: as it is, and the largest (False, True).

        Source: see `swept_space`.
        """
        motions = [self.swept.motion(index) for index in range(len(self.swept.families))]
        spaces = {}
        for part in self.obstacle.meets:
            for largest, sections in ((False, self.parts.nominal), (True, self.parts.biggest)):
                section = sections[part]
                assert isinstance(section, Polygon)
                raster = raster_of(section, self._far - AROUND)
                sweepings = (Sweeping(raster, motion, self.obstacle.fixed_to[0]) for motion in motions)
                spaces[part, largest] = SweptSpace(tuple(sweepings))
        return spaces

    def made_ready(self) -> PointField:
        """This field with its cells of poses laid out, before other processes begin, which have them then."""
        for space in self.spaces.values():
            _ = space.poses
        return self

    def clearance(self, places: Array, each: Map | None = None) -> dict[Part, Array]:
        """As measured, of every part that it meets (q,) [mm]; of what is far off no more than AROUND beyond required.

        places : (q, n, 3) [mm]; each : a map over this field, of one process if not given
        Source: derived here, see the top of the module.
        """
        found = self._in_shares(PointField._clearance, places, each)
        return dict(zip(self.obstacle.meets, found, strict=True))

    def worst_case(self, places: Array, each: Map | None = None) -> Array:
        """The least of all parts in the worst case (q,) [mm].

        places : (q, n, 3) [mm]; each : a map over this field, of one process if not given
        Source: `worst_case.worst_clearance` of a point, sought from the pose in which the largest part is closest.
        """
        return self._in_shares(PointField._worst_case, places, each)

    def _in_shares(self, work: Callable[[PointField, Array], Array], places: Array, each: Map | None) -> Array:
        """What is told of places, share by share, which are the same whoever takes them."""
        shares = [places[first : first + AT_ONCE] for first in range(0, len(places), AT_ONCE)] or [places]
        return np.concatenate((each or Map(self))(work, shares, "places measured"), axis=-1)

    def _clearance(self, places: Array) -> Array:
        """(parts, q) [mm]"""
        nearest = [self.spaces[part, False].closest(places[:, 0]).distance for part in self.obstacle.meets]
        return np.minimum(nearest, self._far) - self._thick - SAFE

    def _worst_case(self, places: Array) -> Array:
        return np.asarray(np.min([self._worst(part, places) for part in self.obstacle.meets], axis=0))

    def _worst(self, part: Part, places: Array) -> Array:
        lowest = self.spaces[part, True].closest(places[:, 0])
        worst = np.full(len(places), np.inf)
        for index, own in enumerate(self.swept.families):
            mine = np.flatnonzero(lowest.sweeping == index)
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
        far = lowest.distance > self._far  # the pose may be another one then, but nothing makes up for so much
        return np.where(far, np.minimum(worst, AROUND / 2), worst) - self.before - SAFE

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
            hub = here(carried[:, 0], at)[:, None]
            again = [
                PartMoved(radius, seen(carried[:, 1 + k], at)[:, None], wide)
                for k, (radius, seen, wide) in enumerate(moved)
            ]
            bend = bend_at(ball, variants, lock_shares([self.swept.families[index].family], [at]))
            return worst_clearance(trace_of_corners(ball, hub), part, None, again, self.parts, bend)

        return value


Seen = Callable[[Array, Array], Array]


def _seen_from(motion: HubMotion, carrier: str) -> Seen:
    """A function -> places in the hub frame (q, 3) [mm]: carried (q, 4), each at its own travel and shares (q, k)."""

    def seen(carried: Array, at: Array) -> Array:
        return np.einsum("qi,qij->qj", carried, frames_at(motion, at)(carrier))

    return seen
