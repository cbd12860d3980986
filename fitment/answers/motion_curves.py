"""The motion of a wheel as curves: camber, toe and track over travel, both wheels' steer over the rack."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from fitment import profile as profiles
from fitment.checks.case import Ready
from fitment.frames import Array
from fitment.motion.poses import Poses
from fitment.motion.steering_geometry import SteeringGeometry, steering_angles
from fitment.motion.suspension import poses_at_lock_fraction, poses_at_rack, poses_at_steer, rack_at_lock_fraction
from fitment.parts.axle import Axle, LinkSuspension, Setup, SolidAxle
from fitment.parts.tire import overall_diameter

STEPS = 120  # intervals of a curve over travel
STEER_STEPS = 60  # and over the rack


@dataclass(frozen=True)
class SteerCurves:
    """Steer of both front wheels at one travel; every angle [deg], positive to the left.

    The right wheel is the mirror image of the left one at the opposite rack: right(q) = -left(-q). Without a
    rack the same holds for the share of the way to a lock, which is an assumption about the linkage.

    travel : [mm]
    rack : displacement to the left [mm] (n,), rising; None for a suspension without a rack
    left, right : (n,); nan where the linkage does not reach
    inner, outer : left and right wheel (m,) in a left turn, from straight ahead to the lock
    spacing : between both steering axes where they meet the ground, straight ahead [mm]
    ideal : what `outer` would be for true rolling about one centre (m,); None without a wheelbase
    """

    travel: float
    rack: Array | None
    left: Array
    right: Array
    inner: Array
    outer: Array
    spacing: float
    ideal: Array | None

    @property
    def deviation(self) -> Array | None:
        """Outer steer beyond the ideal (m,) [deg]: positive = nearer to parallel than the ideal."""
        return None if self.ideal is None else self.outer - self.ideal


@dataclass(frozen=True)
class OneWheel:
    """A solid axle's left wheel moved alone, the opposite one at its ride height; quantities as of Curves.

    camber, toe_in : (n,) [deg]
    hub_face, half_track : (n,) [mm]
    """

    camber: Array
    toe_in: Array
    hub_face: Array
    half_track: Array


@dataclass(frozen=True)
class Curves:
    """One axle of one build through its travel, straight ahead; a solid axle with both wheels level.

    name, axle, build, kind : of the profile, for titles; kind of suspension
    travel : from droop to bump [mm] (n,), rising
    camber, toe_in : [deg] (n,), negative camber = top leans inboard, toe_in of this wheel
    hub_face : distance of the hub face's centre from the centre plane [mm] (n,)
    half_track : distance of the contact point from the centre plane [mm] (n,)
    rides : (name, travel [mm]) pairs, rising; the setup's own ride height is always among them
    ride : travel at rest of the setup [mm]
    wheelbase : [mm], None when the profile has none
    steer : None for an axle that does not steer
    alone : of a solid axle: this wheel alone, so that the beam rolls
    """

    name: str
    axle: str
    build: str
    kind: str
    travel: Array
    camber: Array
    toe_in: Array
    hub_face: Array
    half_track: Array
    rides: tuple[tuple[str, float], ...]
    ride: float
    wheelbase: float | None
    steer: SteerCurves | None
    alone: OneWheel | None = None

    @property
    def hub_face_change(self) -> Array:
        """How far the hub face stands outboard of where it is at travel 0 [mm] (n,)."""
        return self.hub_face - np.interp(0.0, self.travel, self.hub_face)

    @property
    def half_track_change(self) -> Array:
        """How far the contact point stands outboard of where it is at travel 0 [mm] (n,)."""
        return self.half_track - np.interp(0.0, self.travel, self.half_track)

    def at(self, values: Array, travel: float) -> float:
        """A curve's value at one travel, in the curve's own unit [mm, or deg]; nan beyond droop and bump.

        values : of one of the curves (n,) [mm, or deg]
        travel : [mm]
        Source: derived here, linear between the points of the curve.
        """
        return float(np.interp(travel, self.travel, values, left=np.nan, right=np.nan))


def own_curves(ready: Ready) -> Curves:
    """Curves of one axle of one build with the setup that the build has. Raises MotionError, ProfileError."""
    return curves(ready, profiles.setup(ready.profile, ready.axle.name, ready.build))


def curves(ready: Ready, setup: Setup) -> Curves:
    """Curves of one axle of one build. Raises MotionError.

    setup : wheel and tire, for what happens at the ground, and the ride height at which both wheels steer
    """
    axle = ready.axle
    rides = _rides(axle, setup)
    grid = np.linspace(axle.droop, axle.bump, STEPS + 1)
    travel = np.unique(np.concatenate([grid, [0.0], [z for _, z in rides if axle.droop <= z <= axle.bump]]))
    poses = poses_at_lock_fraction(axle, travel, 0.0)
    ground = _ground(ready, setup, poses)
    return Curves(
        name=ready.profile.name,
        axle=axle.name,
        build=ready.build,
        kind=_kind(axle),
        travel=travel,
        camber=poses.camber,
        toe_in=-poses.steer,
        hub_face=poses.origin[:, 1],
        half_track=ground.contact[:, 1],
        rides=rides,
        ride=setup.ride,
        wheelbase=ready.profile.wheelbase,
        steer=_steer_curves(ready, setup) if axle.steering else None,
        alone=_one_wheel(ready, setup, travel),
    )


def ideal_outer(inner: ArrayLike, spacing: float, wheelbase: float) -> Array:
    """Outer steer (n,) [deg] at which both front wheels roll about one centre on the rear axle's line (Ackermann).

    cot(outer) - cot(inner) = spacing / wheelbase, which is tan(outer) = tan(inner) / (1 + spacing / wheelbase
    tan(inner)); that form holds through zero. Rear wheels straight, no slip.

    inner : steer of the wheel on the inside of the turn (n,) [deg], below 90
    spacing : between both steering axes at the ground [mm]
    wheelbase : [mm]
    Source: ISO 8855:2011 7.1.9 for what the ideal is; the formula from its geometry.
    """
    tangent = np.tan(np.radians(np.asarray(inner, dtype=float)))
    return np.degrees(np.arctan(tangent / (1.0 + spacing / wheelbase * tangent)))


def ackermann_share(inner: ArrayLike, outer: ArrayLike, spacing: float, wheelbase: float) -> Array:
    """(inner - outer) / (inner - ideal outer), (n,) [-]: 0 = parallel steering, 1 = the ideal; nan where that is 0 / 0.

    inner, outer : steer of the wheels on the inside and outside of the turn (n,) [deg]
    spacing : between both steering axes at the ground [mm]
    wheelbase : [mm]
    Source: derived here, against `ideal_outer`.
    """
    i, o = np.asarray(inner, dtype=float), np.asarray(outer, dtype=float)
    wanted = i - ideal_outer(i, spacing, wheelbase)
    known = np.abs(wanted) > 1e-9
    return np.where(known, (i - o) / np.where(known, wanted, 1.0), np.nan)


def _one_wheel(ready: Ready, setup: Setup, travel: Array) -> OneWheel | None:
    axle = ready.axle
    if not isinstance(axle.suspension, SolidAxle):
        return None
    poses = poses_at_steer(axle, travel, -axle.suspension.toe_in, setup.ride)
    contact = _ground(ready, setup, poses).contact
    return OneWheel(poses.camber, -poses.steer, poses.origin[:, 1], contact[:, 1])


def _kind(axle: Axle) -> str:
    if isinstance(axle.suspension, LinkSuspension):
        return axle.suspension.kind
    return "solid_axle" if isinstance(axle.suspension, SolidAxle) else "tape"


def _rides(axle: Axle, setup: Setup) -> tuple[tuple[str, float], ...]:
    named = list(axle.ride_heights)
    if all(abs(z - setup.ride) > 1e-9 for _, z in named):
        named.append((setup.ride_name or "at rest", setup.ride))
    return tuple(sorted(named, key=lambda ride: ride[1]))


def _ground(ready: Ready, setup: Setup, poses: Poses) -> SteeringGeometry:
    radius = overall_diameter(setup.tire) / 2 - ready.deflection
    return steering_angles(poses, centre_line=setup.spacer.thickness - setup.wheel.offset, loaded_radius=radius)


def _steer_curves(ready: Ready, setup: Setup) -> SteerCurves:
    """Both wheels at the setup's ride height."""
    axle, travel = ready.axle, setup.ride
    straight = poses_at_lock_fraction(axle, travel, 0.0)
    spacing = _spacing(straight, _ground(ready, setup, straight))
    to_left = np.linspace(0.0, 1.0, STEER_STEPS // 2 + 1)
    if isinstance(axle.suspension, LinkSuspension):
        ends = rack_at_lock_fraction(axle, travel, [-1.0, 1.0])
        rack = np.unique(np.concatenate([np.linspace(ends.min(), ends.max(), STEER_STEPS + 1), [0.0]]))
        left, right = _left(axle, travel, rack), -_left(axle, travel, -rack)
        turn = to_left * ends[1]
        inner, outer = _left(axle, travel, turn), -_left(axle, travel, -turn)
    else:
        rack, share = None, np.linspace(-1.0, 1.0, STEER_STEPS + 1)
        left = poses_at_lock_fraction(axle, travel, share).steer
        right = -left[::-1]
        inner, outer = (
            poses_at_lock_fraction(axle, travel, to_left).steer,
            -poses_at_lock_fraction(axle, travel, -to_left).steer,
        )
    ideal = None if ready.profile.wheelbase is None else ideal_outer(inner, spacing, ready.profile.wheelbase)
    return SteerCurves(travel, rack, left, right, inner, outer, spacing, ideal)


def _left(axle: Axle, travel: float, rack: Array) -> Array:
    """Steer of the left wheel at rack displacements; nan where the linkage does not reach."""
    poses = poses_at_rack(axle, travel, rack)
    return np.where(poses.reachable, poses.steer, np.nan)


def _spacing(straight: Poses, ground: SteeringGeometry) -> float:
    """Twice the distance from the centre plane at which the steering axis meets the ground [mm]."""
    lower, upper = straight.axis_lower, straight.axis_upper
    assert lower is not None  # a wheel that steers has an axis to steer about
    assert upper is not None
    share = (ground.contact[0, 2] - lower[0, 2]) / (upper[0, 2] - lower[0, 2])
    return 2.0 * float(lower[0, 1] + share * (upper[0, 1] - lower[0, 1]))
