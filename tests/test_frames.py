"""ISO 8855 axes and the signs of the design, one worked case for each.

x forward, y left, z up. A left wheel's spin axis points outboard, which is +y when nothing is tilted.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitment.frames import camber_of, hub_rotation, rotation_about, skew, spin_axis, steer_of, to_half_plane, unit

ANGLES = st.floats(-60, 60)


def test_untilted_wheel_spins_about_y() -> None:
    assert spin_axis(0, 0) == pytest.approx(np.array([0, 1, 0]))
    assert hub_rotation(spin_axis(0, 0)) == pytest.approx(np.eye(3))


def test_camber_is_negative_when_the_top_leans_inboard() -> None:
    # the top leans in, so the outboard spin axis points up: s_z > 0 and camber = -asin(s_z)
    axis = np.array([0, math.cos(math.radians(10)), math.sin(math.radians(10))])
    assert camber_of(axis) == pytest.approx(-10)
    assert spin_axis(-10, 0) == pytest.approx(axis)
    top = hub_rotation(spin_axis(-10, 0)) @ np.array([0, 0, 300])  # the highest point of the tread
    assert top[1] == pytest.approx(-300 * math.sin(math.radians(10))), "inboard"


def test_steer_is_positive_to_the_left() -> None:
    # to the left the wheel's forward direction turns to +y and its spin axis to -x: steer = atan2(-s_x, s_y)
    assert spin_axis(0, 90) == pytest.approx(np.array([-1, 0, 0]), abs=1e-12)
    assert steer_of(np.array([-1.0, 1.0, 0.0])) == pytest.approx(45)
    forward = hub_rotation(spin_axis(0, 30)) @ np.array([1, 0, 0])
    assert forward == pytest.approx(np.array([math.cos(math.radians(30)), math.sin(math.radians(30)), 0]))


def test_toe_in_of_a_left_wheel_turns_it_to_the_right() -> None:
    # toe-in: the front of the wheel points to the vehicle's centre plane, for a left wheel to -y
    forward = hub_rotation(spin_axis(0, -1.0)) @ np.array([1, 0, 0])
    assert forward[1] < 0
    assert -steer_of(spin_axis(0, -1.0)) == pytest.approx(1.0)


def test_a_quarter_turn_follows_the_right_hand() -> None:
    z = np.array([0.0, 0.0, 1.0])
    assert rotation_about(z, 90) @ np.array([1, 0, 0]) == pytest.approx(np.array([0, 1, 0]))
    x = np.array([1.0, 0.0, 0.0])
    assert rotation_about(x, 90) @ np.array([0, 1, 0]) == pytest.approx(z)


def test_half_plane_is_distance_along_and_from_the_spin_axis() -> None:
    assert to_half_plane(np.array([3.0, -7.0, 4.0])) == pytest.approx(np.array([-7, 5]))


@given(camber=ANGLES, steer=st.floats(-179, 179))
def test_angles_and_spin_axis_are_inverses(camber: float, steer: float) -> None:
    axis = spin_axis(camber, steer)
    assert np.linalg.norm(axis) == pytest.approx(1)
    assert camber_of(axis) == pytest.approx(camber, abs=1e-9)
    assert steer_of(axis) == pytest.approx(steer, abs=1e-9)


@given(camber=ANGLES, steer=st.floats(-179, 179))
def test_a_hub_frame_is_right_handed_with_a_level_x(camber: float, steer: float) -> None:
    rotation = hub_rotation(spin_axis(camber, steer))
    assert rotation.T @ rotation == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(rotation) == pytest.approx(1)
    assert rotation[:, 1] == pytest.approx(spin_axis(camber, steer))
    assert rotation[2, 0] == pytest.approx(0, abs=1e-12), "x' stays level"
    assert rotation[2, 2] > 0, "z' stays up"


@given(axis=st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: math.hypot(*v) > 0.1), angle=st.floats(-360, 360))
def test_a_rotation_keeps_its_axis_and_every_length(axis: tuple[float, float, float], angle: float) -> None:
    about = unit(np.array(axis))
    turn = rotation_about(about, angle)
    assert turn @ about == pytest.approx(about, abs=1e-12)
    assert turn.T @ turn == pytest.approx(np.eye(3), abs=1e-12)
    assert turn @ rotation_about(about, -angle) == pytest.approx(np.eye(3), abs=1e-12)
    # Rodrigues: the trace of a turn by an angle is 1 + 2 cos
    assert np.trace(turn) == pytest.approx(1 + 2 * math.cos(math.radians(angle)), abs=1e-12)


def test_skew_is_the_cross_product() -> None:
    v, w = np.array([1.0, 2.0, 3.0]), np.array([-4.0, 5.0, 6.0])
    # (2 x 6 - 3 x 5, 3 x -4 - 1 x 6, 1 x 5 - 2 x -4)
    assert skew(v) @ w == pytest.approx(np.array([-3, -18, 13]))
