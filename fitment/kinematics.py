"""The motion of a wheel as a table over a grid of travel and steer."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from fitment import profile as profiles
from fitment.cases import Ready
from fitment.errors import FitmentError, MotionError
from fitment.frames import Array
from fitment.obstacles import Point
from fitment.poses import Poses
from fitment.steering_geometry import steering_geometry
from fitment.suspension import (
    families,
    limit_share,
    poses_at_rack,
    poses_at_share,
    poses_at_steer,
    rack_at_share,
    steer_at_share,
    stop_words,
    travel_levels,
)
from fitment.tire import overall_diameter
from fitment.vehicle import Axle, LinkSuspension, SolidAxle

SLACK = 1e-6  # [mm, deg] how far beyond a limit a value still counts as on it
ROLL_STEER = 2.0  # [deg] toe that roll and camber may give a wheel that does not steer


@dataclass(frozen=True)
class PoseRow:
    """One pose; lengths [mm], angles [deg]; what cannot be had is None."""

    travel: float
    rack: float | None = None
    steer: float | None = None
    toe_in: float | None = None
    camber: float | None = None
    caster: float | None = None
    kingpin_inclination: float | None = None
    scrub_radius: float | None = None
    mechanical_trail: float | None = None
    hub_face: Point | None = None
    spin_axis: Point | None = None
    reachable: bool = True
    within_limits: bool = True
    reason: str | None = None


@dataclass(frozen=True)
class PoseTable:
    """Rows of one axle in the order travel x steer."""

    axle: str
    rows: tuple[PoseRow, ...]


def pose_table(
    ready: Ready,
    *,
    travels: Sequence[float] | None = None,
    steers: Sequence[float] | None = None,
    racks: Sequence[float] | None = None,
    opposite: float | None = None,
    loaded_radius: float | None = None,
) -> PoseTable:
    """The grid travel x steer (or rack); without lists, the pose grid of a check. Raises FitmentError.

    opposite : travel of a solid axle's other wheel [mm]; None = level with this one
    """
    axle = ready.axle
    if steers is not None and racks is not None:
        raise FitmentError("give --steer or --rack, not both.")
    if racks is not None and not isinstance(axle.suspension, LinkSuspension):
        raise FitmentError("--rack needs a suspension with hardpoints and a rack; this one has none: give --steer.")
    if opposite is not None and not isinstance(axle.suspension, SolidAxle):
        raise FitmentError("--opposite is for a solid axle, where both wheels move together.")
    has_setup = profiles.has_setup(ready.profile, axle.name, ready.build)
    setup = profiles.setup(ready.profile, axle.name, ready.build if has_setup else None)
    if loaded_radius is None:
        loaded_radius = overall_diameter(setup.tire) / 2 - ready.deflection
    levels = [float(t) for t in (travel_levels(axle, setup.ride) if travels is None else travels)]
    second, poses = _solver(axle, steers, racks, opposite)
    centre = setup.spacer.thickness - setup.wheel.offset
    rows = (_row(axle, t, v, poses, centre, loaded_radius) for t, v in product(levels, second))
    return PoseTable(axle.name, tuple(rows))


def _solver(
    axle: Axle, steers: Sequence[float] | None, racks: Sequence[float] | None, opposite: float | None
) -> tuple[Sequence[float], Callable[[float, float], Poses]]:
    """The second list of the grid, and what solves one of its poses."""
    if racks is not None:
        return racks, lambda t, v: poses_at_rack(axle, t, v)
    if steers is not None:
        return steers, lambda t, v: poses_at_steer(axle, t, v, opposite)
    if isinstance(axle.suspension, SolidAxle):
        shares = [0.0] if axle.steering is None else [-1.0, -0.5, 0.0, 0.5, 1.0]
        return shares, lambda t, v: poses_at_steer(axle, t, steer_at_share(axle, t, v), opposite)
    return [float(s) for s in families(axle)[0].shares], lambda t, v: poses_at_share(axle, t, v)


def _row(
    axle: Axle, travel: float, second: float, poses: Callable[[float, float], Poses], centre: float, radius: float
) -> PoseRow:
    try:
        pose = poses(travel, second)
        reason = None if pose.reachable[0] else stop_words(axle, travel)
    except MotionError as error:
        pose, reason = None, str(error)
    if pose is None or reason is not None:
        within = axle.droop - SLACK <= travel <= axle.bump + SLACK
        return PoseRow(travel, reachable=False, within_limits=within, reason=reason)
    ground = steering_geometry(pose, centre_line=centre, loaded_radius=radius)
    within = _within_limits(axle, pose)

    def first(values: object) -> float | None:
        return None if values is None else float(values[0])  # type: ignore[index]

    return PoseRow(
        travel=float(pose.travel[0]),
        rack=first(pose.rack),
        steer=float(pose.steer[0]),
        toe_in=-float(pose.steer[0]),
        camber=float(pose.camber[0]),
        caster=first(ground.caster),
        kingpin_inclination=first(ground.kingpin_inclination),
        scrub_radius=first(ground.scrub_radius),
        mechanical_trail=first(ground.mechanical_trail),
        hub_face=_point(pose.origin[0]),
        spin_axis=_point(pose.spin_axis[0]),
        within_limits=within,
        reason=None if within else "beyond the travel or steering limits of the profile",
    )


def _point(values: Array) -> Point:
    x, y, z = values.tolist()
    return x, y, z


def _within_limits(axle: Axle, pose: Poses) -> bool:
    """Whether travel and steering are within what the profile declares."""
    travel, steer = float(pose.travel[0]), float(pose.steer[0])
    if not axle.droop - SLACK <= travel <= axle.bump + SLACK:
        return False
    if pose.rack is not None:
        ends = sorted(float(rack_at_share(axle, travel, s)) for s in (-1.0, 1.0))
        return ends[0] - SLACK <= float(pose.rack[0]) <= ends[1] + SLACK
    if axle.steering is None:
        return abs(steer + axle.suspension.toe_in) <= ROLL_STEER
    share = float(limit_share(axle, np.clip(travel, axle.droop, axle.bump)))
    return -axle.steering.lock_right * share - SLACK <= steer <= axle.steering.lock_left * share + SLACK
