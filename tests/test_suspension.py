"""A tape-measured corner: poses a person can do in the head, then what must hold in every pose.

The corner: hub face 750 from the centre plane, camber and outward motion linear in travel, an upright steering axis
50 inboard of the hub face unless a test gives another. Linkages with hardpoints have tests of their own.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations
from typing import Any

import numpy as np
import pytest
from conftest import HUB_FACE, run_json, steered, write_profile
from hypothesis import given
from hypothesis import strategies as st

from fitment.errors import MotionError
from fitment.frames import Array
from fitment.motion.poses import Poses
from fitment.motion.steering_geometry import steering_angles
from fitment.motion.suspension import poses_at_lock_fraction, poses_at_steer, travel_levels, usable_lock_fraction
from fitment.parts.axle import Axle, Steering, TapeSuspension

UPRIGHT = {"axis_lower": (0.0, 700.0, -150.0), "axis_upper": (0.0, 700.0, 150.0)}


def axle(**tape: Any) -> Axle:
    return Axle(
        name="front",
        suspension=TapeSuspension(**(UPRIGHT | tape)),
        hub_face_at=(0.0, HUB_FACE, 0.0),
        hub_height=310.0,
        droop=-80.0,
        bump=90.0,
        ride_heights=(("low", 35.0),),
        steering=Steering(lock_left=36.0, lock_right=31.0),
    )


def without_axis(**tape: Any) -> Axle:
    return replace(axle(axis_lower=None, axis_upper=None, **tape), steering=None)


def pose(corner: Axle, travel: float = 0.0, steer: float = 0.0) -> Poses:
    return poses_at_steer(corner, travel, steer)


# ---------------------------------------------------------------- in the head


def test_reference_pose() -> None:
    at = pose(axle())
    assert at.origin[0] == pytest.approx([0, HUB_FACE, 0])
    assert at.rotation[0] == pytest.approx(np.eye(3))
    assert (at.camber[0], at.steer[0]) == pytest.approx((0, 0))


def test_pure_travel() -> None:
    at = pose(axle(), 60)
    assert at.origin[0] == pytest.approx([0, HUB_FACE, 60])
    assert at.rotation[0] == pytest.approx(np.eye(3))


def test_lateral_and_camber_rates() -> None:
    corner = axle(camber=-0.5, camber_per_100mm=-2.4, track_per_100mm=4.0)
    for travel in (-80, 0, 50, 90):
        at = pose(corner, travel)
        assert at.origin[0] == pytest.approx([0, HUB_FACE + 4 * travel / 100, travel], abs=1e-6)
        assert at.camber[0] == pytest.approx(-0.5 - 2.4 * travel / 100, abs=1e-9)
        assert at.steer[0] == pytest.approx(0, abs=1e-9)


def test_rates_without_a_steering_axis() -> None:
    at = pose(without_axis(camber=-0.2, camber_per_100mm=-0.6, track_per_100mm=-1.0), 50)
    assert at.origin[0] == pytest.approx([0, HUB_FACE - 0.5, 50])
    assert at.camber[0] == pytest.approx(-0.2 - 0.3)


@pytest.mark.parametrize(("steer", "x", "y"), [(90, -50, 700), (-90, 50, 700), (30, -25, 700 + 25 * math.sqrt(3))])
def test_about_an_upright_axis_the_hub_face_runs_on_a_circle(steer: float, x: float, y: float) -> None:
    at = pose(axle(), 20, steer)
    assert at.origin[0] == pytest.approx([x, y, 20], abs=1e-9)
    assert at.camber[0] == pytest.approx(0, abs=1e-9)


def test_about_an_upright_axis_camber_stays_with_the_wheel() -> None:
    # the tilt of the wheel is turned along, so its camber stays what it is
    at = pose(axle(camber=-3.0), 0, 25)
    assert at.camber[0] == pytest.approx(-3)
    assert at.steer[0] == pytest.approx(25)


def test_caster_gives_the_outer_wheel_negative_camber() -> None:
    """A steering axis that leans back by c: steered to the right by a quarter turn a left wheel leans in by c.

    Steered right it is the outer wheel; its spin axis, first along y, ends square to the axis in the x-z plane.
    """
    c = math.radians(8)
    corner = axle(axis_lower=(150 * math.tan(c), 700.0, -150.0), axis_upper=(-150 * math.tan(c), 700.0, 150.0))
    assert pose(corner, 0, -89.9999).camber[0] == pytest.approx(-8, abs=1e-3)
    assert pose(corner, 0, 89.9999).camber[0] == pytest.approx(8, abs=1e-3)


def test_toe_in() -> None:
    at = poses_at_lock_fraction(axle(toe_in=0.5), 0.0, 0.0)
    assert at.steer[0] == pytest.approx(-0.5), "toe-in of a left wheel = -steer"


# ---------------------------------------------------------------- steering geometry


def ground(corner: Axle, at: Poses, *, centre_line: float = 0.0, radius: float = 300.0) -> dict[str, float | Array]:
    found = steering_angles(at, centre_line=centre_line, loaded_radius=radius)
    assert found.caster is not None
    assert found.kingpin_inclination is not None
    assert found.scrub_radius is not None
    assert found.mechanical_trail is not None
    return {
        "contact": found.contact[0], "caster": found.caster[0], "inclination": found.kingpin_inclination[0],
        "scrub": found.scrub_radius[0], "trail": found.mechanical_trail[0],
    }  # fmt: skip


def test_contact_point_below_an_upright_wheel() -> None:
    found = ground(axle(), pose(axle(), 40), centre_line=-25)  # ET25
    assert found["contact"] == pytest.approx([0, HUB_FACE - 25, 40 - 300])


def test_contact_point_of_a_cambered_wheel() -> None:
    # top in by 30 deg: spin axis (0, cos, sin), down along the wheel (0, sin, -cos); C = hub face + 20 s
    corner = axle(camber=-30.0)
    sine, cosine = 0.5, math.sqrt(3) / 2
    found = ground(corner, pose(corner), centre_line=20)
    assert found["contact"] == pytest.approx([0, HUB_FACE + 20 * cosine + 300 * sine, 20 * sine - 300 * cosine])


def test_scrub_radius_is_positive_with_the_contact_outboard_of_the_axis() -> None:
    assert ground(axle(), pose(axle()))["scrub"] == pytest.approx(50)
    assert ground(axle(), pose(axle()), centre_line=-70)["scrub"] == pytest.approx(-20)
    assert ground(axle(), pose(axle()))["trail"] == pytest.approx(0)


def test_kingpin_inclination_is_positive_with_the_top_inboard() -> None:
    # leans in by 1 in 10: on the ground, 300 below the hub and 150 below its lower point, it stands 15 further out
    corner = axle(axis_lower=(0.0, 700.0, -150.0), axis_upper=(0.0, 670.0, 150.0))
    found = ground(corner, pose(corner))
    assert found["inclination"] == pytest.approx(math.degrees(math.atan(0.1)))
    assert found["scrub"] == pytest.approx(HUB_FACE - (700 + 15))
    assert found["caster"] == pytest.approx(0)


def test_caster_is_positive_with_the_top_rearward_and_gives_trail() -> None:
    # leans back by 1 in 10: on the ground it stands 15 + 10 ahead of the hub, so the contact trails by that
    corner = axle(axis_lower=(10.0, 700.0, -150.0), axis_upper=(-20.0, 700.0, 150.0))
    found = ground(corner, pose(corner))
    assert found["caster"] == pytest.approx(math.degrees(math.atan(0.1)))
    assert found["trail"] == pytest.approx(10 + 15)
    assert found["scrub"] == pytest.approx(50)


@given(steer=st.floats(-60, 60), travel=st.floats(-80, 90))
def test_scrub_and_trail_about_an_upright_axis_turn_with_the_wheel(steer: float, travel: float) -> None:
    corner = axle()
    found = ground(corner, pose(corner, travel, steer), centre_line=-10)
    assert found["scrub"] == pytest.approx(40)
    assert found["trail"] == pytest.approx(0, abs=1e-9)


def test_without_a_steering_axis_there_is_no_scrub_radius() -> None:
    found = steering_angles(pose(without_axis()), centre_line=0, loaded_radius=300)
    assert found.scrub_radius is found.mechanical_trail is found.caster is found.kingpin_inclination is None
    assert found.contact[0] == pytest.approx([0, HUB_FACE, -300])


# ---------------------------------------------------------------- any pose

TAPES = st.fixed_dictionaries(
    {
        "camber": st.floats(-5, 5),
        "toe_in": st.floats(-1, 1),
        "camber_per_100mm": st.floats(-6, 3),
        "track_per_100mm": st.floats(-15, 15),
        "axis_lower": st.tuples(st.floats(-20, 40), st.floats(640, 740), st.floats(-190, -80)),
        "axis_upper": st.tuples(st.floats(-60, 20), st.floats(560, 720), st.floats(120, 260)),
    }
)


@given(tape=TAPES, travel=st.floats(-80, 90), steer=st.floats(-45, 45))
def test_hub_height_and_steer_are_as_asked(tape: dict[str, Any], travel: float, steer: float) -> None:
    at = pose(axle(**tape), travel, steer)
    assert at.travel[0] == pytest.approx(travel, abs=1e-9)
    assert at.steer[0] == pytest.approx(steer, abs=1e-9)


@given(tape=TAPES, travel=st.floats(-80, 90))
def test_straight_ahead_camber_is_as_measured(tape: dict[str, Any], travel: float) -> None:
    """At its own toe the wheel is not turned: camber and lateral place follow the tape's straight lines."""
    at = pose(axle(**tape), travel, -tape["toe_in"])
    assert at.camber[0] == pytest.approx(tape["camber"] + tape["camber_per_100mm"] * travel / 100, abs=1e-9)
    assert at.origin[0] == pytest.approx([0, HUB_FACE + tape["track_per_100mm"] * travel / 100, travel], abs=1e-8)


@given(tape=TAPES, travel=st.floats(-80, 90), steer=st.floats(-45, 45))
def test_the_knuckle_moves_as_one_rigid_body(tape: dict[str, Any], travel: float, steer: float) -> None:
    """Distances between points of the knuckle stay: hub face, both ends of the steering axis, a tie rod end."""
    corner = axle(**tape)
    at = pose(corner, travel, steer)
    turn, shift = (part[0] for part in at.motions["knuckle"])
    points = np.array([[0, HUB_FACE, 0], tape["axis_lower"], tape["axis_upper"], [132, 668, -84], [0, 900, 300]])
    there = points @ turn.T + shift
    assert there[0] == pytest.approx(at.origin[0], abs=1e-8)
    assert at.axis_lower is not None
    assert at.axis_upper is not None
    assert there[1] == pytest.approx(at.axis_lower[0], abs=1e-8), "the steering axis is carried along"
    assert there[2] == pytest.approx(at.axis_upper[0], abs=1e-8)
    for i, j in combinations(range(len(points)), 2):
        assert math.dist(there[i], there[j]) == pytest.approx(math.dist(points[i], points[j]), abs=1e-8)
    assert at.rotation[0].T @ at.rotation[0] == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(at.rotation[0]) == pytest.approx(1)


@given(tape=TAPES, travel=st.floats(-60, 60), steer=st.floats(-45, 45))
def test_steering_turns_the_knuckle_about_its_axis(tape: dict[str, Any], travel: float, steer: float) -> None:
    """From straight to steered the turn has the direction of the steering axis, which it leaves where it is."""
    corner = axle(**(tape | {"camber_per_100mm": 0.0, "track_per_100mm": 0.0}))
    straight, turned = pose(corner, travel, -tape["toe_in"]), pose(corner, travel, steer)
    between = turned.rotation[0] @ straight.rotation[0].T
    assert turned.axis_lower is not None
    assert turned.axis_upper is not None
    lean = turned.axis_upper[0] - turned.axis_lower[0]
    assert between @ lean == pytest.approx(lean, abs=1e-6)


def test_a_steer_beyond_a_quarter_turn_is_as_asked_or_out_of_reach() -> None:
    """A wheel turned by 95 degrees is never told to stand at -85."""
    for steer in (95.0, 120.0, -100.0):
        try:
            at = pose(axle(axis_upper=(-20.0, 640.0, 150.0)), 0, steer)
        except MotionError:
            continue
        assert at.steer[0] == pytest.approx(steer)


# ---------------------------------------------------------------- locks, half locks, limits


def test_locks_half_locks_and_straight() -> None:
    corner = axle()
    for share, steer in ((1, 36), (0.5, 18), (0, 0), (-0.5, -15.5), (-1, -31)):
        assert poses_at_lock_fraction(corner, 0.0, float(share)).steer[0] == pytest.approx(steer, abs=1e-9)


def test_steer_limit_is_a_share_of_the_lock_linear_between_and_held_at_its_ends() -> None:
    corner = replace(axle(), steer_limit=((-40.0, 1.0), (60.0, 0.8), (80.0, 0.5)))
    for travel, share in ((-80, 1), (-40, 1), (10, 0.9), (60, 0.8), (70, 0.65), (80, 0.5), (90, 0.5)):
        assert usable_lock_fraction(corner, travel) == pytest.approx(share)
        assert poses_at_lock_fraction(corner, float(travel), 1.0).steer[0] == pytest.approx(36 * share)
        assert poses_at_lock_fraction(corner, float(travel), -1.0).steer[0] == pytest.approx(-31 * share)


def test_pose_grid_holds_droop_bump_and_every_ride_height() -> None:
    levels = travel_levels(axle(), ride=12.0)
    assert {-80, 12, 35, 90} <= set(levels)
    assert levels[0] == -80
    assert levels[-1] == 90
    assert np.all(np.diff(levels) > 0)
    assert np.max(np.diff(levels)) <= 20 + 1e-9


def test_an_axle_without_a_steering_axis_keeps_its_toe() -> None:
    corner = without_axis(toe_in=0.3)
    assert poses_at_lock_fraction(corner, 50.0, 0.0).steer[0] == pytest.approx(-0.3)
    with pytest.raises(MotionError, match="steering axis"):
        pose(corner, 0, 10)


def test_poses_command_says_what_the_poses_are(tmp_path: Any) -> None:
    """The same numbers through the command: an upright axis, a half turn of ten inches of everything but the units."""
    path = write_profile(tmp_path, steered())
    found = run_json("poses", path, "--axle", "front", "--travel=-20,0", "--steer=0,30")["poses"]
    assert [pose["hub_face_mm"] for pose in found] == [
        pytest.approx([x, y, z], abs=1e-6) for z in (-20, 0) for x, y in ((0, 750), (-25, 700 + 25 * math.sqrt(3)))
    ]
    assert [pose["scrub_radius_mm"] for pose in found] == [pytest.approx(50)] * 4
    assert found[1]["toe_in_deg"] == -30
    assert found[1]["spin_axis"] == pytest.approx([-0.5, math.sqrt(3) / 2, 0])
