"""Axes, signs and rotations (ISO 8855): x forward, y left (outboard), z up, millimetres, degrees.

Arrays carry the pose index first: (n, 3) for vectors, (n, 3, 3) for rotations.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
UP: Array = np.array([0.0, 0.0, 1.0])


def unit(v: Array) -> Array:
    """Vectors of length one along the last axis."""
    return np.asarray(v / np.linalg.norm(v, axis=-1, keepdims=True))


def spin_axis(camber: ArrayLike, steer: ArrayLike) -> Array:
    """Outboard spin axis of a left wheel, (..., 3), body frame.

    camber : [deg], negative = top leans inboard, so the outboard axis points up
    steer : [deg], positive to the left; toe-in of a left wheel is -steer
    Inverse of `camber_of` and `steer_of`. Source: ISO 8855 axes, signs of the design.
    """
    c, d = np.radians(camber), np.radians(steer)
    return np.stack(np.broadcast_arrays(-np.sin(d) * np.cos(c), np.cos(d) * np.cos(c), -np.sin(c)), axis=-1)


def camber_of(axis: Array) -> Array:
    """Camber [deg] of outboard spin axes (..., 3); negative = top leans inboard."""
    return np.degrees(-np.arcsin(np.clip(axis[..., 2], -1.0, 1.0)))


def steer_of(axis: Array) -> Array:
    """Steer [deg] of outboard spin axes (..., 3); positive to the left."""
    return np.degrees(np.arctan2(-axis[..., 0], axis[..., 1]))


def hub_rotation(axis: Array) -> Array:
    """Rotation (..., 3, 3), hub to body, of a hub whose z' is as near to up as its spin axis allows.

    axis : outboard spin axes (..., 3)
    Columns are x' (forward), y' (spin axis, outboard) and z' (up).
    """
    forward = unit(np.cross(axis, UP))
    return np.stack([forward, axis, np.cross(forward, axis)], axis=-1)


def rotation_about(axis: Array, angle: ArrayLike) -> Array:
    """Right-handed rotation (..., 3, 3) by angle [deg] about unit axes (..., 3) (Rodrigues)."""
    a = np.radians(np.asarray(angle, dtype=float))[..., None, None]
    k = skew(axis)
    return np.asarray(np.eye(3) + np.sin(a) * k + (1.0 - np.cos(a)) * (k @ k))


def skew(v: Array) -> Array:
    """Matrices (..., 3, 3) with skew(v) @ w = v x w."""
    x, y, z = np.moveaxis(np.asarray(v, dtype=float), -1, 0)
    o = np.zeros_like(x)
    return np.stack([np.stack([o, -z, y], -1), np.stack([z, o, -x], -1), np.stack([-y, x, o], -1)], -2)


def to_half_plane(points: Array) -> Array:
    """(y', r) of points in the hub frame: distance along the spin axis, distance from it. (..., 3) -> (..., 2)"""
    return np.stack([points[..., 1], np.hypot(points[..., 0], points[..., 2])], axis=-1)
