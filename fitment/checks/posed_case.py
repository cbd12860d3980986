"""A checked case in other poses than those of its check: for pictures, and for what is moved by hand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from fitment.checks.case import Case, Ready
from fitment.checks.fit import Approach
from fitment.clearance.section_distance import gaps
from fitment.clearance.trace import Trace, trace_obstacle
from fitment.motion.poses import Poses
from fitment.motion.suspension import families
from fitment.motion.wheel_position import WheelPosition
from fitment.parts.axle import Axle, Setup
from fitment.parts.obstacles import Obstacle, Part


@dataclass(frozen=True)
class PosedFit:
    """A setup in poses, and how near it comes there; without worst cases it has no verdict.

    tire, wheel : sections in the hub's half plane (y', r) [mm]
    """

    axle: Axle
    setup: Setup
    poses: Poses
    obstacles: tuple[Obstacle, ...]
    traces: tuple[Trace, ...]
    tire: Polygon
    wheel: Polygon
    clearances: tuple[Approach, ...]


@dataclass(frozen=True)
class PosedCase:
    """A checked case in other poses than those of its check."""

    ready: Ready
    fit: PosedFit
    stance: WheelPosition


AnyCase = Case | PosedCase
"""A case in the poses of its check or in others"""


def posed(case: AnyCase, poses: Poses) -> PosedCase:
    """The case in other poses, with its clearances there."""
    traces = tuple(trace_obstacle(obstacle, poses) for obstacle in case.fit.obstacles)
    entries = [
        entry for trace in traces for part in trace.obstacle.meets for entry in _entries(case, trace, part, poses)
    ]
    fit = case.fit
    there = PosedFit(fit.axle, fit.setup, poses, fit.obstacles, traces, fit.tire, fit.wheel, tuple(entries))
    return PosedCase(case.ready, there, case.stance)


def _entries(case: AnyCase, each: Trace, part: Part, poses: Poses) -> list[Approach]:
    gap = gaps(case.fit.tire if part == "tire" else case.fit.wheel, each)
    hub = np.einsum("nc,nci->ni", gap.weights, each.hub[np.arange(len(poses))[:, None], gap.corners])
    across = np.maximum(np.hypot(hub[:, 0], hub[:, 2]), 1e-9)
    turned = gap.on_section[:, 1] / across  # the place on the section, turned to where the part is
    near = np.stack([hub[:, 0] * turned, gap.on_section[:, 0], hub[:, 2] * turned], -1)
    places = (np.einsum("nij,nj->ni", poses.rotation, p) + poses.origin for p in (hub, near))
    point, at_part = (map(tuple, values.tolist()) for values in places)
    opposite = [None] * len(poses) if poses.opposite is None else poses.opposite.tolist()
    known = (values.tolist() for values in (poses.travel, poses.turned, gap.clearance, poses.corner))
    name, allowance = each.obstacle.name, each.obstacle.allowance_to(part)
    return [
        Approach(
            obstacle=name, part=part, pose=k, travel=travel, steer=steer, clearance=clearance, allowance=allowance,
            point=own, at_part=beside, corner=corner, opposite=other,
        )
        for k, (travel, steer, clearance, corner, own, beside, other) in enumerate(
            zip(*known, point, at_part, opposite, strict=True)
        )
    ]  # fmt: skip


def place_of(case: Case, index: int) -> tuple[str, tuple[float, ...]]:
    """The family of a pose of the check, its travel [mm] and its lock fractions [-] (see `families`).

    Raises IndexError for a pose that the check does not have.
    Source: none needed, a place is looked up.
    """
    for family, where in zip(families(case.fit.axle), case.fit.places, strict=True):
        if index < len(where):
            return family.name, tuple(where[index].tolist())
        index -= len(where)
    raise IndexError(index)
