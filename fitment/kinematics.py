"""The motion of a wheel as a table over a grid of travel and steer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from fitment import profile as profiles
from fitment.cases import Ready
from fitment.errors import FitmentError, MotionError
from fitment.steering_geometry import steering_geometry
from fitment.suspension import limit_share, poses_at_steer, steer_angle, steer_shares, travel_levels
from fitment.tire import overall_diameter
from fitment.vehicle import Axle

SLACK = 1e-6  # [mm, deg] how far beyond a limit a value still counts as on it


@dataclass(frozen=True)
class PoseRow:
    """One pose; lengths [mm], angles [deg]; what cannot be had is None."""

    travel: float
    rack: float | None
    steer: float
    toe_in: float | None = None
    camber: float | None = None
    caster: float | None = None
    kingpin_inclination: float | None = None
    scrub_radius: float | None = None
    mechanical_trail: float | None = None
    hub_face: tuple[float, float, float] | None = None
    spin_axis: tuple[float, float, float] | None = None
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
    loaded_radius: float | None = None,
) -> PoseTable:
    """The grid travel x steer; without lists, the pose grid of a check. Raises FitmentError."""
    axle = ready.axle
    if racks is not None:
        raise FitmentError("--rack needs a suspension with a rack; a tape-measured one has none: give --steer.")
    has_setup = profiles.has_setup(ready.profile, axle.name, ready.build)
    setup = profiles.setup(ready.profile, axle.name, ready.build if has_setup else None)
    if loaded_radius is None:
        loaded_radius = overall_diameter(setup.tire) / 2 - ready.deflection
    levels = list(travel_levels(axle, setup.ride)) if travels is None else travels
    if steers is None:
        grid = [(t, float(steer_angle(axle, t, s))) for t, s in product(levels, steer_shares(axle))]
    else:
        grid = list(product(levels, steers))
    centre = setup.spacer.thickness - setup.wheel.offset
    return PoseTable(axle.name, tuple(_row(axle, t, s, centre, loaded_radius) for t, s in grid))


def _row(axle: Axle, travel: float, steer: float, centre_line: float, loaded_radius: float) -> PoseRow:
    within = _within_limits(axle, travel, steer)
    try:
        pose = poses_at_steer(axle, travel, steer)
    except MotionError as error:
        return PoseRow(travel, None, steer, reachable=False, within_limits=within, reason=str(error))
    ground = steering_geometry(pose, centre_line=centre_line, loaded_radius=loaded_radius)

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
        hub_face=tuple(map(float, pose.origin[0])),  # type: ignore[arg-type]  # three floats
        spin_axis=tuple(map(float, pose.spin_axis[0])),  # type: ignore[arg-type]
        within_limits=within,
        reason=None if within else "beyond the travel or steering limits of the profile",
    )


def _within_limits(axle: Axle, travel: float, steer: float) -> bool:
    if not axle.droop - SLACK <= travel <= axle.bump + SLACK:
        return False
    straight = float(steer_angle(axle, travel, 0.0))
    if axle.steering is None:
        return abs(steer - straight) <= SLACK
    share = float(limit_share(axle, np.clip(travel, axle.droop, axle.bump)))
    return -axle.steering.lock_right * share - SLACK <= steer <= axle.steering.lock_left * share + SLACK
