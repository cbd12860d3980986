"""A wheel whose hardpoints nobody knows: camber and the hub face's place measured at some travels."""

from __future__ import annotations

import numpy as np

from fitment.errors import MotionError
from fitment.frames import Array, hub_rotation, rotation_about, spin_axis
from fitment.motion.poses import Poses, poses_with_body
from fitment.motion.steering_axis import turned_to
from fitment.parts.axle import Axle, TapeSuspension
from fitment.parts.travel_curve import curve_at

STRAIGHT = 1e-9  # [deg] how near to its own toe an axle without a steering axis must stay


def tape_poses(axle: Axle, tape: TapeSuspension, travel: Array, steer: Array) -> Poses:
    """Poses of a wheel whose motion was measured with a tape.

    travel : (n,) [mm], + up
    steer : (n,) [deg], + to the left
    Motion by the suspension's own height, then a turn about the carried steering axis. The change of camber is a
    turn about the wheel's level x axis, so that it leaves the steer angle alone.
    Raises MotionError where the axle has no steering axis and more than its own toe is asked.
    Source: derived here; between the readings the motion is that of `curve_at`, an assumption.
    """
    at = np.array(axle.hub_face_at)
    own = spin_axis(tape.camber, -tape.toe_in)
    toe = np.radians(-tape.toe_in)
    fore_aft = np.array([np.cos(toe), np.sin(toe), 0.0])

    def carried(height: Array) -> tuple[Array, Array]:
        up = height - at[2]
        camber = tape.camber_per_100mm * up / 100 + curve_at(tape.camber_curve, up)
        sideways = tape.track_per_100mm * up / 100 + curve_at(tape.out_curve, up)
        turn = rotation_about(np.broadcast_to(fore_aft, (len(height), 3)), -camber)
        return turn, np.stack([at[0] + curve_at(tape.ahead_curve, up), at[1] + sideways, height], -1)

    if tape.axis_lower is None or tape.axis_upper is None:
        if np.any(np.abs(steer + tape.toe_in) > STRAIGHT):
            raise MotionError(
                "this axle has no steering axis, so it stands at its own toe only; give steering_axis, or leave out "
                "the steer angle."
            )
        turn, origin = carried(travel)
        axis = None
    else:
        lower, upper = np.array(tape.axis_lower), np.array(tape.axis_upper)
        turn, origin, _ = turned_to(carried, at, own, (lower, upper), travel, steer)
        shift = origin - turn @ at
        axis = turn @ lower + shift, turn @ upper + shift
    motions = {"knuckle": (turn, origin - turn @ at)}
    return poses_with_body(origin, turn @ hub_rotation(own), motions, axis=axis, corner=axle.sides[0])
