"""Curves over travel and steering against closed forms and hand calculation."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from fitment import profile as profiles
from fitment.answers.motion_curves import ackermann_share, curves, ideal_outer
from fitment.checks.case import Ready, ready
from fitment.motion.suspension import (
    corners_alike,
    families,
    poses_at_lock_fraction,
    poses_at_rack,
    rack_at_lock_fraction,
)
from fitment.parts.axle import Axle, LinkSuspension, Setup, SolidAxle, Steering, TapeSuspension
from fitment.parts.tire import overall_diameter
from fitment.parts.tire_code import parse_tire
from fitment.parts.wheel import parse_wheel

SETUP = Setup(parse_wheel("15x6 ET35"), parse_tire("205/70R15"), ride=30.0, ride_name="cruise")
ARM = 300.0  # [mm] length of both arms, level at travel 0
PARALLEL = LinkSuspension(
    "double_wishbone",
    camber=0.0,
    toe_in=0.0,
    points=(
        ("lower_inner_front", (200.0, 400.0, -100.0)),
        ("lower_inner_rear", (-200.0, 400.0, -100.0)),
        ("lower_ball", (0.0, 700.0, -100.0)),
        ("upper_inner_front", (150.0, 380.0, 150.0)),
        ("upper_inner_rear", (-150.0, 380.0, 150.0)),
        ("upper_ball", (0.0, 680.0, 150.0)),
        ("tie_inner", (120.0, 395.0, -20.0)),
        ("tie_outer", (120.0, 695.0, -20.0)),
    ),
)
AXLE = Axle(
    name="front",
    suspension=PARALLEL,
    hub_face_at=(0.0, 790.0, 0.0),
    hub_height=322.0,
    droop=-60.0,
    bump=80.0,
    ride_heights=(("parked", 60.0), ("cruise", 30.0), ("raised", 0.0)),
    steering=Steering(34.0, 30.0),
)


def prepared(axle: Axle = AXLE, wheelbase: float | None = 2800.0) -> Ready:
    profile = cast(Any, SimpleNamespace(name="Invented wagon", wheelbase=wheelbase))
    return Ready(profile, "new", axle, (), 12.0, cast(Any, None))


# ---------------------------------------------------------------- over travel


def test_parallel_equal_arms_keep_camber_and_toe() -> None:
    found = curves(prepared(), SETUP)
    assert found.camber == pytest.approx(0.0, abs=1e-9)
    assert found.toe_in == pytest.approx(0.0, abs=1e-9)


def test_a_parallelogram_moves_in_by_its_arm_times_one_less_the_cosine() -> None:
    found = curves(prepared(), SETUP)
    inward = ARM * (np.sqrt(1 - (found.travel / ARM) ** 2) - 1)
    assert found.hub_face_change == pytest.approx(inward, abs=1e-6)
    assert found.half_track_change == pytest.approx(inward, abs=1e-6)
    assert found.hub_face == pytest.approx(790.0 + inward, abs=1e-6)


def test_a_tape_measured_corner_is_linear() -> None:
    tape = TapeSuspension(camber=-0.5, toe_in=0.1, camber_per_100mm=-2.0, track_per_100mm=4.0)
    found = curves(prepared(replace(AXLE, suspension=tape, steering=None)), SETUP)
    assert found.camber == pytest.approx(-0.5 - 0.02 * found.travel, abs=1e-9)
    assert found.toe_in == pytest.approx(0.1, abs=1e-9)
    assert found.hub_face_change == pytest.approx(0.04 * found.travel, abs=1e-9)
    assert found.steer is None
    assert found.kind == "tape"


def test_the_ground_moves_with_camber() -> None:
    tape = TapeSuspension(camber_per_100mm=-2.0)
    found = curves(prepared(replace(AXLE, suspension=tape, steering=None)), SETUP)
    radius = overall_diameter(SETUP.tire) / 2 - 12.0
    lean = np.radians(-0.02 * found.travel)  # top inboard: the contact point swings outboard
    out = -SETUP.wheel.offset * (np.cos(lean) - 1) - radius * np.sin(lean)
    assert found.half_track_change == pytest.approx(out, abs=1e-9)


def test_a_solid_axle_keeps_camber_and_follows_its_panhard_bar() -> None:
    solid = SolidAxle(camber=0.2, panhard_body=(80.0, 480.0, 60.0), panhard_axle=(80.0, -290.0, 60.0))
    found = curves(prepared(replace(AXLE, suspension=solid, steering=None)), SETUP)
    length = 770.0
    assert found.camber == pytest.approx(0.2, abs=1e-9)
    sideways = length - np.sqrt(length**2 - found.travel**2)  # a level bar draws the beam toward its body end
    assert found.hub_face_change == pytest.approx(sideways, abs=1e-9)


def test_travel_runs_from_droop_to_bump_through_every_ride_height() -> None:
    found = curves(prepared(), replace(SETUP, ride=12.3, ride_name=None))
    assert found.travel[0] == AXLE.droop
    assert found.travel[-1] == AXLE.bump
    assert np.all(np.diff(found.travel) > 0)
    assert found.rides == (("raised", 0.0), ("at rest", 12.3), ("cruise", 30.0), ("parked", 60.0))
    assert {z for _, z in found.rides} <= set(found.travel)
    assert curves(prepared(), SETUP).rides == (("raised", 0.0), ("cruise", 30.0), ("parked", 60.0))
    assert math.isnan(found.at(found.camber, AXLE.bump + 1))


# ---------------------------------------------------------------- steering


def test_ideal_outer_by_hand() -> None:
    # spacing / wheelbase = 0.5, inner 35 deg: cot 35 = 1.428148, cot outer = 1.928148, outer = 27.41 deg
    assert ideal_outer(35.0, 1400.0, 2800.0) == pytest.approx(27.4127, abs=1e-4)
    inner = np.array([5.0, 20.0, 40.0])
    outer = np.radians(ideal_outer(inner, 1500.0, 2700.0))
    assert 1 / np.tan(outer) - 1 / np.tan(np.radians(inner)) == pytest.approx(1500 / 2700)
    assert ideal_outer(0.0, 1400.0, 2800.0) == 0.0


def test_the_share_is_none_for_parallel_and_whole_for_the_ideal() -> None:
    inner = np.array([10.0, 30.0])
    ideal = ideal_outer(inner, 1400.0, 2800.0)
    assert ackermann_share(inner, inner, 1400.0, 2800.0) == pytest.approx(0.0)
    assert ackermann_share(inner, ideal, 1400.0, 2800.0) == pytest.approx(1.0)
    assert ackermann_share(inner, (inner + ideal) / 2, 1400.0, 2800.0) == pytest.approx(0.5)
    assert np.isnan(ackermann_share(0.0, 0.0, 1400.0, 2800.0))


def test_both_wheels_are_each_others_mirror_images() -> None:
    steer = curves(prepared(), SETUP).steer
    assert steer is not None
    assert steer.rack is not None
    assert np.all(np.diff(steer.rack) > 0)
    left = poses_at_rack(AXLE, SETUP.ride, steer.rack).steer
    opposite = poses_at_rack(AXLE, SETUP.ride, -steer.rack).steer
    assert steer.left == pytest.approx(left)
    assert steer.right == pytest.approx(-opposite)


def test_a_left_turn_runs_from_straight_to_the_left_lock() -> None:
    found = curves(prepared(), replace(SETUP, ride=0.0, ride_name="raised"))
    steer = found.steer
    assert steer is not None
    assert steer.inner[0] == pytest.approx(0.0, abs=1e-9)
    assert steer.inner[-1] == pytest.approx(34.0, abs=1e-6)
    rack = float(rack_at_lock_fraction(AXLE, 0.0, 1.0))
    assert steer.outer[-1] == pytest.approx(-float(poses_at_rack(AXLE, 0.0, -rack).steer[0]))
    assert steer.ideal == pytest.approx(ideal_outer(steer.inner, steer.spacing, 2800.0))
    assert steer.deviation == pytest.approx(steer.outer - cast(Any, steer.ideal))


def test_steering_axes_are_apart_by_what_their_line_makes_at_the_ground() -> None:
    found = curves(prepared(), replace(SETUP, ride=0.0, ride_name="raised"))
    assert found.steer is not None
    radius = overall_diameter(SETUP.tire) / 2 - 12.0
    inner_pull = (700 - 680) / 250  # of the axis, per mm of height
    assert found.steer.spacing == pytest.approx(2 * (700 + (radius - 100) * inner_pull), abs=1e-9)


def test_without_a_wheelbase_there_is_no_ideal() -> None:
    steer = curves(prepared(wheelbase=None), SETUP).steer
    assert steer is not None
    assert steer.ideal is None
    assert steer.deviation is None


def test_without_a_rack_the_other_wheel_has_the_same_share_of_its_lock() -> None:
    tape = TapeSuspension(toe_in=0.1, axis_lower=(7.0, 700.0, -130.0), axis_upper=(-14.0, 640.0, 200.0))
    axle = replace(AXLE, suspension=tape)
    steer = curves(prepared(axle), SETUP).steer
    assert steer is not None
    assert steer.rack is None
    assert steer.left == pytest.approx(poses_at_lock_fraction(axle, 30.0, np.linspace(-1, 1, len(steer.left))).steer)
    assert steer.right == pytest.approx(-steer.left[::-1])
    assert (steer.left[0], steer.left[-1]) == pytest.approx((-30.0, 34.0))
    assert (steer.inner[-1], steer.outer[-1]) == pytest.approx((34.0, 30.0))
    assert steer.inner[0] - steer.outer[0] == pytest.approx(-0.2)  # both wheels toe in


@pytest.mark.slow
def test_a_rack_that_the_linkage_cannot_follow_is_left_out() -> None:
    points = {**dict(PARALLEL.points), "tie_inner": (120.0, 580.0, -20.0), "tie_outer": (120.0, 695.0, -20.0)}
    axle = replace(
        AXLE, suspension=replace(PARALLEL, points=tuple(points.items())), steering=Steering(62.0, 12.0), droop=-20.0,
        bump=20.0,
    )  # fmt: skip
    steer = curves(prepared(axle), replace(SETUP, ride=0.0, ride_name="raised")).steer
    assert steer is not None
    assert np.isfinite(steer.left).all()
    assert not np.isfinite(steer.right).all()


def test_a_bundled_profile_has_curves() -> None:
    loaded = profiles.load_profile("example")
    found = curves(ready(loaded, "front", "donor"), profiles.setup(loaded, "front", "donor"))
    assert found.name == loaded.name
    assert found.wheelbase == 2860.0
    assert found.at(found.camber, 0.0) == pytest.approx(-0.5)
    assert found.at(found.toe_in, 0.0) == pytest.approx(0.05)


@pytest.mark.parametrize("bar", [(None, None), ((80.0, 480.0, 60.0), (80.0, -290.0, 20.0))], ids=["free", "led"])
def test_both_corners_of_a_beam_move_alike_unless_a_bar_leads_it(bar: tuple[Any, Any]) -> None:
    beam = replace(AXLE, suspension=SolidAxle(0.2, 0.05, *bar, (4.0, 690.0, -120.0), (-8.0, 672.0, 110.0)))
    left, right = families(beam)
    places = np.random.default_rng(3).uniform([-60, -1, -1], [60, 1, 1], (40, 3))
    first, second = left.poses(*places.T), right.poses(*places.T)
    apart = np.abs(first.origin - second.origin).max() + np.abs(first.rotation - second.rotation).max()
    for name, (rotation, shift) in first.motions.items():
        apart += np.abs(rotation - second.motions[name][0]).max() + np.abs(shift - second.motions[name][1]).max()
    assert (apart == 0) == corners_alike(beam)
    assert (apart > 0.5) == (bar[0] is not None)
