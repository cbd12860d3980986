"""The motion of a wheel as a table over a grid of travel and steer."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from fitment import profile as profiles
from fitment.checks.case import Ready, rake
from fitment.errors import Argument, FitmentError, MotionError
from fitment.frames import Array
from fitment.motion.poses import Poses
from fitment.motion.steering_geometry import steering_angles
from fitment.motion.suspension import (
    families,
    poses_at_lock_fraction,
    poses_at_rack,
    poses_at_steer,
    rack_at_lock_fraction,
    steer_at_lock_fraction,
    stop_words,
    travel_levels,
    usable_lock_fraction,
)
from fitment.parts.axle import Axle, LinkSuspension, SolidAxle
from fitment.parts.obstacles import Point
from fitment.parts.tire import overall_diameter

SLACK = 1e-6  # [mm, deg] how far beyond a limit a value still counts as on it
ROLL_STEER = 2.0  # [deg] toe that roll and camber may give a wheel that does not steer


@dataclass(frozen=True)
class PoseRow:
    """One pose; what cannot be had is None.

    travel, rack : [mm], + = wheel up into the body, rack to the left
    steer, toe_in, camber : [deg], + = to the left on either side, front inboard, top outboard
    caster, kingpin_inclination : [deg], + = top rearward, top inboard
    scrub_radius, mechanical_trail : [mm], + = contact outboard of the steering axis, behind it
    hub_face : centre of the hub face, body frame, of a right corner in a mirror [mm]
    spin_axis : outboard unit vector, in the same frame [-]
    """

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
    """Rows of one axle in the order travel x steer.

    rake : nose-down pitch of the body at rest in this build [deg], None without a wheelbase or the other axle's setup
    assumed : what nobody read on this axle, in words
    """

    axle: str
    rows: tuple[PoseRow, ...]
    rake: float | None = None
    assumed: str = ""


def tabulate_poses(
    ready: Ready,
    *,
    travels: Sequence[float] | None = None,
    steers: Sequence[float] | None = None,
    racks: Sequence[float] | None = None,
    opposite: float | None = None,
    loaded_radius: float | None = None,
) -> PoseTable:
    """The grid travel x steer (or rack); without lists, the pose grid of a check.

    travels, racks : [mm], + = wheel up into the body, rack to the left
    steers : [deg], + to the left
    opposite : travel of a solid axle's opposite wheel [mm]; None = level with this one
    loaded_radius : wheel centre to ground along the wheel plane [mm], None = the tire less its deflection
    Raises FitmentError for lists that the suspension has no meaning for.
    Source: `poses_at_steer`, `poses_at_rack`; ground offsets by `steering_angles`.
    """
    axle = ready.axle
    steer, rack = Argument("steer", to_give=True), Argument("rack", to_give=True)
    if steers is not None and racks is not None:
        raise FitmentError("give ", steer, " or ", rack, ", not both.")
    if racks is not None and not isinstance(axle.suspension, LinkSuspension):
        words = " needs a suspension with hardpoints and a rack; this one has none: give "
        raise FitmentError(Argument("rack"), words, steer, ".")
    if opposite is not None and not isinstance(axle.suspension, SolidAxle):
        raise FitmentError(Argument("opposite"), " is for a solid axle, where both wheels move together.")
    has_setup = profiles.has_setup(ready.profile, axle.name, ready.build)
    setup = profiles.setup(ready.profile, axle.name, ready.build if has_setup else None)
    if loaded_radius is None:
        loaded_radius = overall_diameter(setup.tire) / 2 - ready.deflection
    levels = [float(t) for t in (travel_levels(axle, setup.ride) if travels is None else travels)]
    centre = setup.spacer.thickness - setup.wheel.offset
    second, poses = _solver(axle, steers, racks, opposite)
    second = [_turned(axle, value) for value in second]  # a right corner is posed as in a mirror
    asked = GridAsked("steer" if steers is not None else "rack" if racks is not None else "", opposite)
    grid = np.array(list(product(levels, second))).reshape(-1, 2)
    pitch = rake(ready.profile, ready.build)
    try:
        solved: list[Poses | str] = [poses(grid[:, 0], grid[:, 1])]
    except MotionError:  # some pose of the grid; find out which
        solved = [_one(poses, place) for place in grid]
        rows = (
            _rows(axle, grid[i : i + 1], solution, asked, centre, loaded_radius) for i, solution in enumerate(solved)
        )
        return PoseTable(axle.name, tuple(row for of_place in rows for row in of_place), pitch, ready.assumed_words)
    whole = tuple(_rows(axle, grid, solved[0], asked, centre, loaded_radius))
    return PoseTable(axle.name, whole, pitch, ready.assumed_words)


@dataclass(frozen=True)
class GridAsked:
    """What a grid is over, beside travel.

    second : steer, rack, or '' for the steering positions of a check
    opposite : travel of the opposite wheel [mm], None = level with this one
    """

    second: str
    opposite: float | None


def _solver(
    axle: Axle, steers: Sequence[float] | None, racks: Sequence[float] | None, opposite: float | None
) -> tuple[Sequence[float], Callable[[Array, Array], Poses]]:
    """The second list of the grid, and what solves its poses."""
    if racks is not None:
        return racks, lambda t, v: poses_at_rack(axle, t, v)
    if steers is not None:
        return steers, lambda t, v: poses_at_steer(axle, t, v, opposite)
    if isinstance(axle.suspension, SolidAxle):
        lock_fractions = [0.0] if axle.steering is None else [-1.0, -0.5, 0.0, 0.5, 1.0]
        return lock_fractions, lambda t, v: poses_at_steer(axle, t, steer_at_lock_fraction(axle, t, v), opposite)
    return families(axle)[0].levels[0].tolist(), lambda t, v: poses_at_lock_fraction(axle, t, v)


def _turned(axle: Axle, value: float) -> float:
    """A steer or rack of the vehicle as the axle's corner has it, and back: of a right one the other way round."""
    return (-value if axle.sides == ("right",) else value) + 0.0


def _one(poses: Callable[[Array, Array], Poses], place: Array) -> Poses | str:
    """One pose of a grid, or why it cannot be had."""
    try:
        return poses(place[:1], place[1:])
    except MotionError as error:
        return str(error)


def _rows(
    axle: Axle, grid: Array, poses: Poses | str, asked: GridAsked, centre: float, radius: float
) -> Iterator[PoseRow]:
    if isinstance(poses, str):
        for travel, second in grid:
            yield _unreached(axle, float(travel), float(second), asked, poses)
        return
    ground = steering_angles(poses, centre_line=centre, loaded_radius=radius)

    def at(values: Array | None, k: int) -> float | None:
        return None if values is None else float(values[k])

    stops = None if poses.rack is None else rack_at_lock_fraction(axle, grid[:, :1], [-1.0, 0.0, 1.0])
    for k, (travel, second) in enumerate(grid):
        if not poses.reachable[k]:
            yield _unreached(axle, float(travel), float(second), asked, stop_words(axle, float(travel)))
            continue
        rack = None if poses.rack is None or stops is None else (float(poses.rack[k]), stops[k])
        within = _within_limits(axle, float(poses.travel[k]), float(poses.steer[k]), rack, asked.opposite)
        yield PoseRow(
            travel=float(poses.travel[k]),
            rack=None if poses.rack is None else _turned(axle, float(poses.rack[k])),
            steer=_turned(axle, float(poses.steer[k])),
            toe_in=-float(poses.steer[k]),
            camber=float(poses.camber[k]),
            caster=at(ground.caster, k),
            kingpin_inclination=at(ground.kingpin_inclination, k),
            scrub_radius=at(ground.scrub_radius, k),
            mechanical_trail=at(ground.mechanical_trail, k),
            hub_face=_point(poses.origin[k]),
            spin_axis=_point(poses.spin_axis[k]),
            within_limits=within,
            reason=None if within else "beyond the travel or steering limits of the profile",
        )


def _unreached(axle: Axle, travel: float, second: float, asked: GridAsked, reason: str) -> PoseRow:
    """A row for a pose that cannot be had: no numbers, and why not."""
    steer = second if asked.second == "steer" else None
    rack = (second, rack_at_lock_fraction(axle, travel, [-1.0, 0.0, 1.0])) if asked.second == "rack" else None
    within = _within_limits(axle, travel, steer, rack, asked.opposite)
    return PoseRow(travel, reachable=False, within_limits=within, reason=reason)


def _point(values: Array) -> Point:
    x, y, z = values.tolist()
    return x, y, z


def _within_limits(
    axle: Axle, travel: float, steer: float | None, rack: tuple[float, Array] | None, opposite: float | None
) -> bool:
    """Whether travels, rack and steer are within what the profile declares; what is None is not judged.

    rack : its displacement, and those at both locks and straight ahead at this travel [mm]
    """
    if not all(axle.droop - SLACK <= t <= axle.bump + SLACK for t in (travel, opposite) if t is not None):
        return False
    if rack is not None:
        return bool(rack[1].min() - SLACK <= rack[0] <= rack[1].max() + SLACK)
    if steer is None:
        return True
    if axle.steering is None:
        return abs(steer + axle.suspension.toe_in) <= ROLL_STEER
    lock_fraction = float(usable_lock_fraction(axle, travel))
    return -axle.steering.lock_right * lock_fraction - SLACK <= steer <= axle.steering.lock_left * lock_fraction + SLACK
