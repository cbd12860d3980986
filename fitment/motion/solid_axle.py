"""A solid axle: heave and roll of one rigid beam, sideways as its panhard bar leads it.

Idealisation: the beam stays square to the vehicle, neither winds up nor moves fore and aft; the links
that hold it there are not modelled. (A rigid four-link with a panhard bar has one freedom only, so
roll needs give in its bushings.) Without a panhard bar the beam stays in the middle.
"""

from __future__ import annotations

import numpy as np

from fitment.errors import MotionError
from fitment.frames import Array, hub_rotation, rotation_about, spin_axis
from fitment.motion.poses import Poses, poses_with_body
from fitment.motion.steering_axis import turned_to
from fitment.parts.axle import Axle, SolidAxle

STRAIGHT = 1e-9  # [deg]


def solid_axle_poses(
    axle: Axle, solid: SolidAxle, travel: Array, steer: Array, opposite: Array, *, corner: str
) -> Poses:
    """Poses of one corner of a solid axle.

    travel, opposite : of this wheel and of the opposite one (n,) [mm], + up
    steer : (n,) [deg], + to the left
    corner : 'right' gives the right corner, mirrored, so that y is outboard there too
    Raises MotionError where the wheels stand too far apart in height or the panhard bar is too short.
    Source: derived here: heave and roll of one rigid beam, the bar of constant length; idealised as the module says.
    """
    at = np.array(axle.hub_face_at)
    own = spin_axis(solid.camber, -solid.toe_in)

    def carried(height: Array) -> tuple[Array, Array]:
        sine = (height - opposite) / (2 * at[1])
        if np.any(np.abs(sine) > 0.9):
            raise MotionError("the two wheels of the axle cannot stand so far apart in height.")
        turn = rotation_about(np.broadcast_to([1.0, 0.0, 0.0], (len(height), 3)), np.degrees(np.arcsin(sine)))
        middle = np.stack([0 * height, 0 * height, (height + opposite) / 2 - at[2]], -1)
        middle[:, 1] = _sideways(solid, turn, middle, at, mirrored=corner == "right")
        datum = np.array([at[0], 0.0, at[2]])
        return turn, datum + middle + turn @ (at - datum)

    if solid.axis_lower is None or solid.axis_upper is None:
        if np.any(np.abs(steer + solid.toe_in) > STRAIGHT):
            raise MotionError(
                "this axle has no steering axis, so it stands at its own toe only; leave out the steer angle."
            )
        turn, origin = carried(travel)
        beam, axis = (turn, origin), None
    else:
        lower, upper = np.array(solid.axis_lower), np.array(solid.axis_upper)
        turn, origin, height = turned_to(carried, at, own, (lower, upper), travel, steer)
        shift = origin - turn @ at
        axis = turn @ lower + shift, turn @ upper + shift
        beam = carried(height)
    motions = {"knuckle": (turn, origin - turn @ at), "axle": (beam[0], beam[1] - beam[0] @ at)}
    return poses_with_body(origin, turn @ hub_rotation(own), motions, axis=axis, opposite=opposite, corner=corner)


def _sideways(solid: SolidAxle, turn: Array, middle: Array, at: Array, *, mirrored: bool) -> Array:
    """Sideways motion (n,) [mm] of the beam that keeps the panhard bar's length."""
    if solid.panhard_body is None or solid.panhard_axle is None:
        return np.zeros(len(turn))
    mirror = np.array([1.0, -1.0 if mirrored else 1.0, 1.0])
    body, end = np.array(solid.panhard_body) * mirror, np.array(solid.panhard_axle) * mirror
    datum = np.array([at[0], 0.0, at[2]])
    moved = datum + middle + turn @ (end - datum)
    span = moved - body
    room = np.sum((end - body) ** 2) - span[:, 0] ** 2 - span[:, 2] ** 2
    if np.any(room < 0):
        raise MotionError("the panhard bar is too short for this travel.")
    return np.sign(end[1] - body[1]) * np.sqrt(room) - span[:, 1]
