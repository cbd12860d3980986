"""How the hub stood when a scan was made: its place then, by the baseline's own motion, and how well that is known."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from fitment.errors import MotionError, ScanError
from fitment.frames import Array
from fitment.motion.poses import Poses
from fitment.motion.suspension import (
    LOCK_FRACTION,
    poses_at_lock_fraction,
    poses_at_steer,
    steer_at_lock_fraction,
)
from fitment.parts.axle import Axle, SolidAxle, TravelCurve
from fitment.parts.obstacles import USUAL_TOLERANCE
from fitment.parts.obstacles import Point as BodyPoint
from fitment.parts.travel_curve import UNIT, curve_at
from fitment.profile.datum import Datum
from fitment.profile.schema.scans import DROOP, ScanPart, ScanPosePart
from fitment.profile.schema.suspension import RATES, SolidAxleSuspensionPart, SuspensionPart, TapeSuspensionPart
from fitment.profile.values import Length
from fitment.units import Measured

USUAL_STEER = 1.0  # [deg] of a steer angle that states no tolerance; common practice, no published source
NEAR = 10.0  # [mm] of travel within which a hub stands as at the reference pose


@dataclass(frozen=True)
class StoodHub:
    """The hub when a scan was made.

    centre : of its face, body frame [mm]; rotation : hub to body
    carried : how the knuckle had moved since the reference pose: rotation (3, 3) and shift (3,) [mm]
    travel_off : how far the travel may be off [mm]
    off : by what the hub may have stood off, each two standard deviations: shift of its face's centre and turn, body
        axes [mm, rad]
    """

    centre: BodyPoint
    rotation: tuple[tuple[float, float, float], ...]
    carried: tuple[Array, Array]
    travel_off: float
    off: tuple[tuple[float, ...], ...]


def stood_hub(part: ScanPart, datum: Datum) -> StoodHub | None:
    """The hub when a scan was made; None where the profile does not say how it stood.

    Raises ScanError where the baseline's suspension does not get there.
    Source: derived here, by `motion.suspension`, with what small changes of travel and steer do to it.
    """
    given, axle = part.at, datum.moving
    if given is None or axle is None:
        return None
    travel, travel_off = _travel(given, axle, datum)
    steer_off = 0.0 if given.steer is None else _tolerance(given.steer, USUAL_STEER)
    sign = -1.0 if part.side == "right" or axle.sides == ("right",) else 1.0  # a right corner is posed in a mirror
    other = _other_wheels(given, axle, datum)
    travels = np.array([travel, _inward(travel, travel_off), travel, *([travel] * (other is not None))])
    _check_steering(given, axle, sign, steer_off)
    try:
        if other is not None:
            lock_fraction = np.full(4, sign * LOCK_FRACTION[given.lock])
            steers = steer_at_lock_fraction(axle, travels, lock_fraction)
            if given.steer is not None:
                steers = np.full(4, sign * given.steer.value)
                steers[2] = _inward(steers[2], steer_off)
            poses = poses_at_steer(axle, travels, steers, other)
        elif given.steer is None:
            poses = poses_at_lock_fraction(axle, travels, sign * LOCK_FRACTION[given.lock])
        else:
            steer = sign * given.steer.value
            poses = poses_at_steer(axle, travels, [steer, steer, _inward(steer, steer_off)])
    except MotionError as error:
        raise ScanError(f"how the hub stood when it was scanned: {error}", ("at",)) from None
    if not poses.reachable.all():
        raise ScanError(
            f"how the hub stood when it was scanned: the suspension does not reach travel {travel:+g} mm at that "
            "steering position; check both.",
            ("at",),
        )
    return _of(poses, travel_off)


def _check_steering(given: ScanPosePart, axle: Axle, sign: float, steer_off: float) -> None:
    """Refuses a steering position that the axle has not. Raises ScanError."""
    if given.lock == "straight" and given.steer is None:
        return
    key = "lock" if given.steer is None else "steer"
    if axle.steering is None:
        raise ScanError("it was scanned steered, but this axle has no steering; give its locks.", ("at", key))
    left, right = axle.steering.lock_left + steer_off, axle.steering.lock_right + steer_off
    if given.steer is not None and not -right <= sign * given.steer.value <= left:
        raise ScanError(
            f"it was scanned steered {given.steer.value:+g} deg, beyond the locks ({axle.steering.lock_left:g} and "
            f"{axle.steering.lock_right:g} deg); + is to the left. Check the reading.",
            ("at", key),
        )


def _of(poses: Poses, travel_off: float) -> StoodHub:
    """The first pose, and how the others stand off it."""
    rotation, shift = (motion[0] for motion in poses.motions["knuckle"])
    x, y, z = poses.origin[0].tolist()
    off = [_step(poses, other) for other in range(1, len(poses))]
    return StoodHub(
        centre=(x, y, z),
        rotation=tuple((a, b, c) for a, b, c in poses.rotation[0].tolist()),
        carried=(rotation, shift),
        travel_off=travel_off,
        off=tuple(tuple(each.tolist()) for each in off if np.any(np.abs(each) > 1e-9)),
    )


def _step(poses: Poses, other: int) -> Array:
    """Shift of the hub face's centre, and small turn, from the first pose to another one, body axes [mm, rad]."""
    turn = poses.rotation[other] @ poses.rotation[0].T
    about = np.array([turn[2, 1] - turn[1, 2], turn[0, 2] - turn[2, 0], turn[1, 0] - turn[0, 1]]) / 2
    return np.concatenate([poses.origin[other] - poses.origin[0], about])


def _inward(value: float, by: float) -> float:
    """A value moved towards zero, where a suspension that reaches it goes too."""
    return value - by if value > 0 else value + by


def _tolerance(value: Measured, usual: float) -> float:
    return value.tolerance if value.stated else usual


def _travel(given: ScanPosePart, axle: Axle, datum: Datum) -> tuple[float, float]:
    """Travel when it was scanned, and how far it may be off [mm]. Raises ScanError for one that is out of reach."""
    if given.hub_to_lip is not None:
        before, then = given.hub_to_lip
        off = float(np.hypot(_tolerance(before, USUAL_TOLERANCE), _tolerance(then, USUAL_TOLERANCE)))
        return _within(datum.centre[2] + before.value - then.value, off, axle, "hub_to_lip"), off
    if given.travel == DROOP:
        return axle.droop, USUAL_TOLERANCE
    if isinstance(given.travel, Length):
        off = _tolerance(given.travel, USUAL_TOLERANCE)
        return _within(given.travel.value, off, axle, "travel"), off
    return datum.centre[2], 0.0


def _other_wheels(given: ScanPosePart, axle: Axle, datum: Datum) -> Array | None:
    """Travel of a solid axle's opposite wheel, as stated thrice and then off (4,) [mm]; None where level.

    Raises ScanError where it is out of reach, or where no beam joins the two.
    """
    if given.other is None:
        return None
    if not isinstance(axle.suspension, SolidAxle):
        raise ScanError(
            "other is for a solid axle, whose beam joins both wheels; on this axle the opposite wheel moves nothing "
            "here, leave it out.",
            ("at", "other"),
        )
    travel, off = datum.centre[2], USUAL_TOLERANCE
    if given.other == DROOP:
        travel = axle.droop
    elif isinstance(given.other, Length):
        off = _tolerance(given.other, USUAL_TOLERANCE)
        travel = _within(given.other.value, off, axle, "other")
    return np.array([travel, travel, travel, _inward(travel, off)])


def _within(travel: float, off: float, axle: Axle, key: str) -> float:
    heights = [height for _, height in axle.ride_heights]
    low, high = min(axle.droop, *heights, 0.0), max(axle.bump, *heights, 0.0)
    if low - off <= travel <= high + off:
        return travel
    by = " (the first reading less the second)" if key == "hub_to_lip" else ""
    stood = "the other wheel stood" if key == "other" else "it was scanned"
    raise ScanError(
        f"{stood} at travel {travel:+g} mm{by}, the wheel moves from {low:g} to {high:g} mm; up is positive. Check the "
        "reading, droop and bump.",
        ("at", key),
    )


# ---------------------------------------------------------------- what is known of the motion


def motion_problem(part: ScanPart, suspension: SuspensionPart) -> str:
    """Why the hub's place when it was scanned cannot be told by this suspension of the baseline, or an empty text."""
    given = part.at
    if given is None or (given.travel is None and given.hub_to_lip is None):
        return ""
    if not isinstance(suspension, TapeSuspensionPart):
        return ""
    told = suspension.model_fields_set
    unread = {key: rate for key, rate in RATES.items() if not suspension.read(key) and rate not in told}
    if not unread:
        return ""
    return (
        "where the hub stood when it was scanned cannot be told: nothing says how its "
        f"{' and '.join(unread)} change{'s' if len(unread) == 1 else ''} through travel. Read it in droop (readings), "
        f"or give {' and '.join(unread.values())}."
    )


def motion_cautions(part: ScanPart, suspension: SuspensionPart, travel: float) -> Iterator[str]:
    """How well the motion to where the hub stood is known; travel : there [mm]."""
    if part.at is None or abs(travel) < NEAR:
        return
    if isinstance(suspension, SolidAxleSuspensionPart) and part.at.other is None:
        yield (
            f"scanned at travel {travel:+.0f} mm: both wheels of the axle are taken to have stood so; if the other one "
            "did not, say how it stood (other: height, in at)"
        )
    if not isinstance(suspension, TapeSuspensionPart):
        return
    unread = [key for key in RATES if not any(at.value * travel > 0 for at, _ in suspension.read(key))]
    if not unread:
        return
    bends = {key: _bend(suspension, key, travel) for key in RATES}
    yield (
        f"scanned at travel {travel:+.0f} mm, where {' and '.join(unread)} "
        f"{'was' if len(unread) == 1 else 'were'} not read: the hub's path there may bend by {bends['out']:.0f} mm and "
        f"{bends['camber']:.1f} deg, which counts in the worst case; read it in {'droop' if travel < 0 else 'bump'} "
        "(readings)"
    )


def _bend(suspension: TapeSuspensionPart, key: str, travel: float) -> float:
    """How far the motion there may leave the curve through what was read [mm], or [deg]: its usual band."""
    rate = getattr(suspension, RATES[key])
    at = [read.value for read, _ in suspension.read(key)] or [UNIT] * (not rate.assumed)
    curve = TravelCurve(tuple((each, 0.0) for each in at), getattr(suspension, f"{key}_bend").tolerance)
    return abs(float(curve_at(curve, np.array([travel]))[0])) + rate.tolerance * abs(travel) / UNIT
