"""A knuckle that is carried along and then turned about its steering axis, to a wanted steer and height.

Shared by suspensions whose carried motion is stated rather than solved: a tape-measured corner and the
end of a solid axle.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fitment.errors import MotionError
from fitment.frames import Array, rotation_about, unit

SETTLED = 1e-10  # [mm]
ROUNDS = 60
FALLS = (0.3, 3.0)  # [-] what the error may be taken to fall by for each millimetre of height

Carried = Callable[[Array], tuple[Array, Array]]
"""hub z (n,) -> (R (n, 3, 3), hub-face centre (n, 3)) of the knuckle straight ahead"""


def turned_to(
    carried: Carried, at: Array, spin_axis: Array, axis: tuple[Array, Array], travel: Array, steer: Array
) -> tuple[Array, Array, Array]:
    """A carried knuckle turned about its steering axis, so that steer and hub height are as asked.

    carried : the motion straight ahead, by its own height
    at : hub-face centre at the reference pose (3,) [mm]
    spin_axis : outboard unit vector there (3,) [-]
    axis : lower and upper point of the steering axis there, each (3,) [mm]
    travel : wanted z of the hub-face centre (n,) [mm]
    steer : wanted angle (n,) [deg], + to the left
    Returns : rotation since the reference pose (n, 3, 3) [-], hub-face centre (n, 3) [mm], height of the carried
        motion (n,) [mm]
    Raises MotionError where the two do not settle.
    Source: derived here: the height is corrected by what the turn about the axis adds until both hold, by secants.
    """
    lower, upper = axis
    height, before, moved = travel.copy(), np.zeros(len(travel)), np.zeros(len(travel))
    for _ in range(ROUNDS):
        turn, centre = carried(height)
        pivot = centre + turn @ (lower - at)
        about = unit(turn @ (upper - lower))
        spin = rotation_about(about, turn_to_steer(turn @ spin_axis, about, steer))
        origin = pivot + np.einsum("nij,nj->ni", spin, centre - pivot)
        error = travel - origin[:, 2]
        if np.max(np.abs(error), initial=0.0) < SETTLED:
            return spin @ turn, origin, height
        falls = np.where(moved == 0, 1.0, (before - error) / np.where(moved == 0, 1.0, moved))
        moved, before = error / np.clip(falls, *FALLS), error
        height = height + moved
    raise MotionError(
        "the wheel cannot be placed at this travel; check the suspension's figures and its steering axis."
    )


def turn_to_steer(axis: Array, about: Array, steer: Array) -> Array:
    """Angle (n,) [deg] by which spin axes, turned about other axes, reach steer angles.

    axis, about : unit vectors (n, 3) [-]
    steer : (n,) [deg], + to the left
    Raises MotionError where no turn does.
    Source: derived here: closed form of A cos + B sin + C = 0, the root nearer to zero.
    """
    d = np.radians(steer)
    across = np.stack([np.cos(d), np.sin(d), 0 * d], -1)  # level, square to the wanted heading
    c = np.sum(across * about, -1) * np.sum(about * axis, -1)
    a = np.sum(across * axis, -1) - c
    b = np.sum(across * np.cross(about, axis), -1)
    size = np.hypot(a, b)
    with np.errstate(invalid="ignore"):
        middle, half = np.arctan2(b, a), np.arccos(-c / size)
    roots = np.stack([middle + half, middle - half])
    roots = (roots + np.pi) % (2 * np.pi) - np.pi
    heading = np.stack([-np.sin(d), np.cos(d), 0 * d], -1)
    ahead = np.sum(heading * _turned(axis, about, roots), -1) > 0  # the other root heads the opposite way
    distance = np.where(ahead, np.abs(roots), np.inf)
    if not np.isfinite(distance.min(axis=0)).all():
        raise MotionError(
            "the wheel cannot reach this steer angle about its steering axis; check the angle and the axis."
        )
    return np.asarray(np.degrees(np.take_along_axis(roots, np.argmin(distance, 0)[None], 0)[0]))


def _turned(v: Array, about: Array, angle: Array) -> Array:
    """Vectors (n, 3) turned about unit axes (n, 3) by angles (m, n) [rad], (m, n, 3) (Rodrigues)."""
    along = np.sum(v * about, -1, keepdims=True) * about
    return along + np.cos(angle)[..., None] * (v - along) + np.sin(angle)[..., None] * np.cross(about, v)
