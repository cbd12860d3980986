"""What is the same for every wheel on an axle: the grids of poses, and the obstacles traced in them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fitment.clearance.alike import Alike, alike_groups
from fitment.clearance.motion_polynomials import HubMotion, hub_motions
from fitment.clearance.trace import Trace, trace_obstacle
from fitment.frames import Array
from fitment.motion.suspension import Family, between, families, poses_at_lock_fraction, travel_levels
from fitment.parts.axle import Axle
from fitment.parts.obstacles import Obstacle


@dataclass(frozen=True)
class Bend:
    """How far readings, some of them assumed, move an obstacle beyond the sum of what each moves it [mm].

    straight : straight ahead; at_lock : what comes to it at a lock, and by its share before
    """

    obstacle: str
    straight: float
    at_lock: float


@dataclass(frozen=True)
class Variant:
    """The same axle with one reading moved by its tolerance.

    assumed : nobody read it, so that the tolerance is a wide band
    bends : what it does with the other readings beyond the sum, where it is assumed
    """

    reading: str
    axle: Axle
    assumed: bool = False
    bends: tuple[Bend, ...] = ()


@dataclass(frozen=True)
class SweptFamily:
    """One family of poses on its search grid, with every obstacle traced when that is first asked for.

    at : the grid's nodes (n, k) [mm, then -], a travel and its lock fractions, over travel, then each share
    """

    family: Family
    at: Array
    obstacles: tuple[Obstacle, ...]

    @cached_property
    def traces(self) -> tuple[Trace, ...]:
        """Every obstacle in the poses of the grid. Raises MotionError."""
        poses = self.family.poses(*self.at.T)
        return tuple(trace_obstacle(obstacle, poses) for obstacle in self.obstacles)

    @cached_property
    def together(self) -> tuple[tuple[Alike, Trace], ...]:
        """The obstacles that move against the hub, those that are alike as one, and their trace.

        Each is told in all poses of the grid, one after another. Raises MotionError.
        """
        poses = self.family.poses(*self.at.T)
        return tuple((own, own.trace_in(poses)) for own in alike_groups(self.obstacles, poses) if not own.still)

    @property
    def travel(self) -> Array:
        """Of the grid's nodes (n,) [mm]."""
        return self.at[:, 0]


@dataclass(frozen=True)
class Sweep:
    """What is the same for every wheel on an axle: the grids of poses and the obstacles traced in them.

    travels : of the poses that are always reported (n,) [mm]
    checked, not_checked : obstacles with a known motion, and (name, reason) of the rest
    """

    axle: Axle
    travels: Array
    checked: tuple[Obstacle, ...]
    not_checked: tuple[tuple[str, str], ...]
    families: tuple[SweptFamily, ...]

    def motion(self, index: int, axle: Axle | None = None) -> HubMotion:
        """The motion of one family over these travels, or that of the axle with a reading moved. Raises MotionError."""
        span = float(self.travels[0]), float(self.travels[-1])
        return hub_motions(axle or self.axle, self.axle, span)[index]


def sweep(axle: Axle, ride: float) -> Sweep:
    """The grids of poses of an axle in which its obstacles are traced.

    ride : travel at rest of the setup [mm]
    Source: derived here: `travel_levels` and the levels of each family, and the middle between each two.
    """
    travels = travel_levels(axle, ride)
    search = between(travels)
    checked, left_out = known_motion(axle)
    swept = [SweptFamily(family, grid(search, *family.search_levels), checked) for family in families(axle)]
    return Sweep(axle, travels, checked, left_out, tuple(swept))


def known_motion(axle: Axle) -> tuple[tuple[Obstacle, ...], tuple[tuple[str, str], ...]]:
    """Obstacles whose motion the suspension describes, and (name, reason) of the rest."""
    carriers = poses_at_lock_fraction(axle, 0.0, 0.0).motions
    checked, left_out = [], []
    for obstacle in axle.obstacles:
        unknown = [c for c in obstacle.fixed_to if obstacle.shape != "ring" and c not in carriers]
        if unknown:
            left_out.append((obstacle.name, f"the motion of the {unknown[0]} is not described by this suspension"))
        else:
            checked.append(obstacle)
    return tuple(checked), tuple(left_out)


def grid(*levels: Array) -> Array:
    """Nodes (n, k) [mm, then -] of k lists of levels, over the first, then the next.

    levels : of travel (n,) [mm], of each share (m,) [-]
    Source: derived here, every combination.
    """
    return np.stack([a.ravel() for a in np.meshgrid(*levels, indexing="ij")], -1)
