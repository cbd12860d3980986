"""Poses of linkages that can be worked by hand, and what the command promises about limits.

Every layout here is drawn so that its motion is one line of trigonometry: arms that make a parallelogram, links on one
common axis, a strut whose arm and tie rod are parallel. Axes and signs are those of ISO 8855: x forward, y left, z up.
Lengths in mm, angles in degrees; the contract is 1e-4 mm and 1e-5 degrees.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from conftest import run, run_json, write_profile
from reference.points_solver import FIVE_LINK, LAYOUTS, OFFSET, RADIUS, STRUT, WISHBONES, Layout, PointCloud
from scipy.interpolate import CubicSpline
from scipy.optimize import fsolve

from fitment.checks.case import ready
from fitment.motion.suspension import poses_at_steer
from fitment.profile import load_profile

LENGTH, ANGLE = 1e-4, 1e-5  # [mm], [deg] the contract
Row = dict[str, Any]


def listed(values: Any) -> str:
    return ",".join(repr(float(value)) for value in values)


def poses(folder: Path, profile: dict[str, Any], *options: str) -> list[Row]:
    path = write_profile(folder, profile)
    answer = run_json("poses", path, "--axle", "front", "--loaded-radius", str(RADIUS), *options)
    return answer["poses"]  # type: ignore[no-any-return]


def geometry(folder: Path, profile: dict[str, Any]) -> dict[str, Any]:
    return run_json("check", write_profile(folder, profile), "--axle", "front", "--geometry")  # type: ignore[no-any-return]


def length(value: float) -> Any:
    return pytest.approx(value, abs=LENGTH, rel=0)


def angle(value: float) -> Any:
    return pytest.approx(value, abs=ANGLE, rel=0)


def same_hub(row: Row, *hub: float) -> None:
    assert row["hub_face_mm"] == pytest.approx(hub, abs=LENGTH, rel=0)


# --- arms that make a parallelogram ---

ARM, LEVEL = 350.0, 0.0


def parallelogram(slope: float = LEVEL, camber: float = 0.0, toe_in: float = 0.0, kind: str = "wishbones") -> Layout:
    """Two arms and a tie rod of one length and one slope [deg]; the balls stand 350 outboard when level."""
    out, up = ARM * np.cos(np.radians(slope)), ARM * np.sin(np.radians(slope))
    inner = {"lower": (0.0, 350.0, -120.0), "upper": (0.0, 350.0, 150.0), "tie": (130.0, 350.0, -60.0)}
    points = {f"{which}_inner": at for which, at in inner.items()}
    ends = {which: (x, y + out, z + up) for which, (x, y, z) in inner.items()}
    arms = {
        f"{w}_inner_{e}": (sign * 160.0, *points[f"{w}_inner"][1:])
        for w in ("lower", "upper")
        for e, sign in (("front", 1), ("rear", -1))
    }
    return Layout(
        "double_wishbone",
        {
            **arms,
            "lower_ball": ends["lower"],
            "upper_ball": ends["upper"],
            "tie_inner": inner["tie"],
            "tie_outer": ends["tie"],
        },
        hub_y=760.0,
        camber=camber,
        toe_in=toe_in,
    )


@pytest.mark.parametrize("slope", [0.0, 7.0, -4.0])
def test_parallel_equal_arms_keep_camber_and_toe(tmp_path: Path, slope: float) -> None:
    layout = parallelogram(slope, camber=-0.8, toe_in=0.1)
    for row in poses(tmp_path, layout.profile(), "--travel=-75,-20,0,35,90", "--rack=0"):
        theta = np.arcsin(np.sin(np.radians(slope)) + row["travel_mm"] / ARM)
        same_hub(row, 0.0, layout.hub_y + ARM * (np.cos(theta) - np.cos(np.radians(slope))), row["travel_mm"])
        assert row["camber_deg"] == angle(-0.8)
        assert row["toe_in_deg"] == angle(0.1)
        assert row["caster_deg"] == angle(0.0)
        assert row["kingpin_inclination_deg"] == angle(0.0)


def test_a_level_parallelogram_moves_inboard_by_l_one_minus_cos(tmp_path: Path) -> None:
    theta = np.radians([-14.0, -5.0, 0.0, 5.0, 14.0])
    found = poses(tmp_path, parallelogram().profile(), f"--travel={listed(ARM * np.sin(theta))}", "--rack=0")
    for row, turn in zip(found, theta, strict=True):
        assert parallelogram().hub_y - row["hub_face_mm"][1] == length(ARM * (1 - np.cos(turn)))


# --- a swing axle: every inner point on one line along x ---

PIVOT_Y, PIVOT_Z = 40.0, -20.0


def swing_axle(camber: float = -0.6) -> Layout:
    pivots = {
        f"{which}_inner_{end}": (sign * base, PIVOT_Y, PIVOT_Z)
        for which, base in (("lower", 150.0), ("upper", 100.0))
        for end, sign in (("front", 1.0), ("rear", -1.0))
    }
    joints = {
        "lower_ball": (8.0, 690.0, -130.0),
        "upper_ball": (-14.0, 650.0, 170.0),
        "tie_inner": (120.0, PIVOT_Y, PIVOT_Z),
        "tie_outer": (140.0, 680.0, -70.0),
    }
    return Layout("double_wishbone", {**pivots, **joints}, hub_y=750.0, camber=camber)


def test_a_swing_axle_turns_about_its_pivot_line(tmp_path: Path) -> None:
    layout = swing_axle()
    arm, rise = layout.hub_y - PIVOT_Y, -PIVOT_Z
    theta = np.radians([-6.0, -2.5, 0.0, 3.0, 7.0])
    travel = arm * np.sin(theta) + rise * np.cos(theta) - rise
    found = poses(tmp_path, layout.profile(), f"--travel={listed(travel)}", "--rack=0")
    lower, upper = layout.at("lower_ball") - [0, PIVOT_Y, PIVOT_Z], layout.at("upper_ball") - [0, PIVOT_Y, PIVOT_Z]
    for row, turn, height in zip(found, theta, travel, strict=True):
        same_hub(row, 0.0, PIVOT_Y + arm * np.cos(turn) - rise * np.sin(turn), height)
        assert row["camber_deg"] == angle(layout.camber - np.degrees(turn))  # bump: the top leans in, degree by degree
        assert row["steer_deg"] == angle(0.0)
        axis = upper - lower
        y, z = axis[1] * np.cos(turn) - axis[2] * np.sin(turn), axis[1] * np.sin(turn) + axis[2] * np.cos(turn)
        assert row["kingpin_inclination_deg"] == angle(np.degrees(np.arctan2(-y, z)))
        assert row["caster_deg"] == angle(np.degrees(np.arctan2(-axis[0], z)))


# --- a strut in one plane ---


def flat_strut() -> Layout:
    """Arm and tie rod side by side, of one length and slope, so that the knuckle only turns about x."""
    ball, pivot = (700.0, -140.0), (350.0, -120.0)
    return Layout(
        "strut",
        {
            "lower_inner_front": (150.0, *pivot),
            "lower_inner_rear": (-150.0, *pivot),
            "lower_ball": (0.0, *ball),
            "strut_top": (0.0, 600.0, 500.0),
            "strut_axis_point": (0.0, 645.0, 150.0),
            "tie_inner": (130.0, *pivot),
            "tie_outer": (130.0, *ball),
        },
        hub_y=770.0,
        camber=-0.5,
    )


def test_a_strut_in_one_plane(tmp_path: Path) -> None:
    # In the plane (y, z): the arm turns by theta about its pivot; the strut's axis is a line on the knuckle, h away
    # from the ball joint, and goes on through the strut top, rho away: seen from the top the ball joint stands at
    # the angle asin(h / rho) from the line.
    layout = flat_strut()
    ball, pivot, top, mark = (
        layout.at(n)[1:] for n in ("lower_ball", "lower_inner_front", "strut_top", "strut_axis_point")
    )
    hub = layout.hub_face[1:]

    def slope(vector: np.ndarray) -> float:
        return float(np.arctan2(vector[1], vector[0]))

    down = (mark - top) / np.linalg.norm(mark - top)
    h = down[0] * (ball - top)[1] - down[1] * (ball - top)[0]
    turns, travels, hubs, balls = [], [], [], []
    for theta in np.radians([-13.0, -6.0, 0.0, 5.0, 14.0]):
        cos, sin = np.cos(theta), np.sin(theta)
        now = pivot + np.array([[cos, -sin], [sin, cos]]) @ (ball - pivot)
        line = slope(now - top) - np.arcsin(h / np.linalg.norm(now - top))
        turn = line - slope(down)
        cos, sin = np.cos(turn), np.sin(turn)
        at = now + np.array([[cos, -sin], [sin, cos]]) @ (hub - ball)
        turns.append(np.degrees(turn)), travels.append(at[1]), hubs.append(at), balls.append(now)
    assert travels[2] == pytest.approx(0, abs=1e-9)
    found = poses(tmp_path, layout.profile(), f"--travel={listed(travels)}", "--rack=0")
    for row, turn, at, now in zip(found, turns, hubs, balls, strict=True):
        same_hub(row, 0.0, *at)
        assert row["camber_deg"] == angle(layout.camber - turn)
        assert row["steer_deg"] == angle(0.0)
        assert row["caster_deg"] == angle(0.0)
        lean = np.degrees(np.arctan2(now[0] - top[0], top[1] - now[1]))
        assert row["kingpin_inclination_deg"] == angle(lean)


# --- signs, one worked case each ---

HUB_Y = 760.0


def upright(lower: tuple[float, float, float], upper: tuple[float, float, float], **angles: float) -> Layout:
    """Ball joints where they are wanted; the rest ordinary."""
    base = parallelogram()
    return Layout(base.kind, {**base.points, "lower_ball": lower, "upper_ball": upper}, hub_y=HUB_Y, **angles)


def reference_pose(folder: Path, layout: Layout, **front: Any) -> Row:
    (row,) = poses(folder, layout.profile(**front), "--travel=0", "--rack=0")
    return row


def test_negative_camber_leans_the_top_inboard(tmp_path: Path) -> None:
    # the spin axis then points outboard and up: s = (0, cos 1, sin 1)
    row = reference_pose(tmp_path, upright((0, 700, -150), (0, 700, 150), camber=-1.0))
    assert row["camber_deg"] == angle(-1.0)
    assert row["spin_axis"] == pytest.approx([0, np.cos(np.radians(1)), np.sin(np.radians(1))], abs=1e-9)


def test_toe_in_of_a_left_wheel_is_steer_to_the_right(tmp_path: Path) -> None:
    # its front edge turns to the centre plane, so its outboard spin axis points forward: s_x > 0
    row = reference_pose(tmp_path, upright((0, 700, -150), (0, 700, 150), toe_in=0.2))
    assert row["toe_in_deg"] == angle(0.2)
    assert row["steer_deg"] == angle(-0.2)
    assert row["spin_axis"][0] == pytest.approx(np.sin(np.radians(0.2)), abs=1e-9)


def test_steer_is_positive_to_the_left(tmp_path: Path) -> None:
    # seen from above a left turn is counterclockwise: the outboard spin axis swings rearward. The rack in front of the
    # axle pushes the tie rod's outer end outboard for it: to the left. The vertical axis stands 60 inboard of the hub.
    layout = upright((0, 700, -150), (0, 700, 150))
    (row,) = poses(tmp_path, layout.profile(), "--travel=0", "--steer=10")
    cos, sin = np.cos(np.radians(10)), np.sin(np.radians(10))
    assert row["spin_axis"] == pytest.approx([-sin, cos, 0], abs=1e-7)
    same_hub(row, -60 * sin, 700 + 60 * cos, 0)
    assert row["rack_mm"] > 0


def test_caster_and_inclination_are_positive_top_rearward_and_top_inboard(tmp_path: Path) -> None:
    row = reference_pose(tmp_path, upright((12, 705, -130), (-18, 660, 170)))
    assert row["caster_deg"] == angle(np.degrees(np.arctan(30 / 300)))
    assert row["kingpin_inclination_deg"] == angle(np.degrees(np.arctan(45 / 300)))


@pytest.mark.parametrize(("offset", "scrub"), [(35, 25), (60, 0), (75, -15)])
def test_scrub_radius_is_positive_with_the_contact_outboard(tmp_path: Path, offset: float, scrub: float) -> None:
    # a vertical axis 60 inboard of the hub face meets the ground there; the contact is at the offset inboard
    data = upright((0, 700, -150), (0, 700, 150)).profile()
    data["builds"]["measured"]["front"]["wheel"] = f"17x8 ET{offset} 5x114.3 CB67.1"
    (row,) = poses(tmp_path, data, "--travel=0", "--rack=0")
    assert row["scrub_radius_mm"] == length(scrub)
    assert row["mechanical_trail_mm"] == length(0)


def test_inclination_moves_the_axis_outboard_at_the_ground(tmp_path: Path) -> None:
    # 30 inboard over 300 of height; the ground is RADIUS below the hub, so RADIUS - 150 below the lower ball
    row = reference_pose(tmp_path, upright((0, 700, -150), (0, 670, 150)))
    assert row["scrub_radius_mm"] == length(HUB_Y - OFFSET - (700 + 0.1 * (RADIUS - 150)))


@pytest.mark.parametrize("caster", [30.0, -30.0])
def test_mechanical_trail_is_positive_with_the_axis_ahead_of_the_contact(tmp_path: Path, caster: float) -> None:
    row = reference_pose(tmp_path, upright((0, 700, -150), (-caster, 700, 150)))
    assert row["mechanical_trail_mm"] == length(caster / 300 * (RADIUS - 150))


def test_camber_moves_the_contact(tmp_path: Path) -> None:
    # the wheel's centre is the offset inboard along the spin axis, the contact RADIUS down in the wheel's plane
    row = reference_pose(tmp_path, upright((0, 700, -150), (0, 700, 150), camber=-2.0))
    cos, sin = np.cos(np.radians(2)), np.sin(np.radians(2))
    assert row["scrub_radius_mm"] == length(HUB_Y - OFFSET * cos + RADIUS * sin - 700)


# --- steering in one plane ---

KINGPIN = 700.0


def trapezoid(tie_inner: tuple[float, float], tie_outer: tuple[float, float]) -> Layout:
    """A vertical steering axis and a level tie rod: a plane linkage. The points are (x, y)."""
    layout = upright((0, KINGPIN, -150), (0, KINGPIN, 150))
    return layout.moved(tie_inner=(*tie_inner, -60.0), tie_outer=(*tie_outer, -60.0))


def turned_by_rack(tie_inner: tuple[float, float], tie_outer: tuple[float, float], rack: float) -> float:
    """Steer [deg] of a plane linkage: the law of cosines in the triangle kingpin, tie rod inner, tie rod outer."""
    arm = np.array([tie_outer[0], tie_outer[1] - KINGPIN])
    rod = np.hypot(tie_outer[0] - tie_inner[0], tie_outer[1] - tie_inner[1])

    def opening(moved: float) -> tuple[float, float]:
        far = np.array([tie_inner[0], tie_inner[1] + moved - KINGPIN])
        cosine = (arm @ arm + far @ far - rod**2) / (2 * np.linalg.norm(arm) * np.linalg.norm(far))
        return float(np.arctan2(far[1], far[0])), float(np.arccos(cosine))

    bearing, between = opening(rack)
    straight, between_straight = opening(0.0)
    side = np.sign(np.sin(np.arctan2(arm[1], arm[0]) - straight))
    return float(np.degrees((bearing - straight + np.pi) % (2 * np.pi) - np.pi + side * (between - between_straight)))


@pytest.mark.parametrize("tie", [((-150.0, 340.0), (-120.0, 672.0)), ((140.0, 350.0), (125.0, 716.0))])
def test_a_plane_steering_linkage(tmp_path: Path, tie: tuple[tuple[float, float], tuple[float, float]]) -> None:
    racks = [-40.0, -17.0, 0.0, 17.0, 40.0]
    found = poses(tmp_path, trapezoid(*tie).profile(), "--travel=0", f"--rack={listed(racks)}")
    for row, rack in zip(found, racks, strict=True):
        turn = turned_by_rack(*tie, rack)
        assert row["steer_deg"] == angle(turn)
        reach = HUB_Y - KINGPIN
        same_hub(row, -reach * np.sin(np.radians(turn)), KINGPIN + reach * np.cos(np.radians(turn)), 0.0)


def test_a_linkage_drawn_for_ackermann_has_no_deviation(tmp_path: Path) -> None:
    # Ackermann: both front wheels' axes meet on the rear axle's line: cot(outer) - cot(inner) = kingpins / wheelbase.
    # Drawn backwards: the arm's end at both angles of a left turn, then the tie rod whose length serves both at one
    # rack displacement to either side. The right wheel is the left one mirrored, at the opposite rack.
    wheelbase, inner = 2700.0, 30.0
    outer = np.degrees(np.arctan(1 / (1 / np.tan(np.radians(inner)) + 2 * KINGPIN / wheelbase)))
    arm = np.array([-125.0, -24.0])

    def end(turn: float) -> np.ndarray:
        cos, sin = np.cos(np.radians(turn)), np.sin(np.radians(turn))
        return np.array([0, KINGPIN]) + np.array([[cos, -sin], [sin, cos]]) @ arm

    def lengths_differ(unknown: np.ndarray) -> list[float]:
        y, rack = unknown
        rod = [np.hypot(*(end(turn) - [-160.0, y + sign * rack])) for turn, sign in ((0, 0), (inner, 1), (-outer, -1))]
        return [rod[1] - rod[0], rod[2] - rod[0]]

    solved, _, status, why = fsolve(lengths_differ, [330.0, 60.0], xtol=1e-13, full_output=True)
    assert status == 1 or np.abs(lengths_differ(solved)).max() < 1e-9, why
    y, rack = (float(v) for v in solved)
    layout = trapezoid((-160.0, y), (float(arm[0]), KINGPIN + float(arm[1])))
    left, right = poses(tmp_path, layout.profile(), "--travel=0", f"--rack={listed([rack, -rack])}")
    inner_wheel, outer_wheel = left["steer_deg"], -right["steer_deg"]
    assert inner_wheel == angle(inner)
    assert outer_wheel == angle(outer)
    cot = [1 / np.tan(np.radians(wheel)) for wheel in (outer_wheel, inner_wheel)]
    assert cot[0] - cot[1] == pytest.approx(2 * KINGPIN / wheelbase, abs=1e-6)


# --- solid axles ---

SIDE, BAR = 760.0, 640.0  # [mm] hub face from the centre plane, length of the panhard bar


def solid_axle(body: Any = None, axle: Any = None, **extra: Any) -> dict[str, Any]:
    suspension: dict[str, Any] = {"kind": "solid_axle", "camber": -0.3, "toe_in": 0.0}
    points = dict(extra)
    if body is not None:
        points |= {"panhard_body": body, "panhard_axle": axle}
    if points:
        suspension["points"] = points
    profile = WISHBONES.profile(suspension=suspension, steering=None)
    profile["axles"]["front"]["hub_face_width"] = 2 * SIDE
    return profile


def test_a_solid_axle_heaves_straight_without_a_panhard_bar(tmp_path: Path) -> None:
    for row in poses(tmp_path, solid_axle(), "--travel=-70,0,80"):
        same_hub(row, 0.0, SIDE, row["travel_mm"])
        assert (row["camber_deg"], row["toe_in_deg"]) == (angle(-0.3), angle(0.0))


@pytest.mark.parametrize("side", [1, -1])
def test_a_level_panhard_bar_swings_the_axle_towards_its_body_end(tmp_path: Path, side: int) -> None:
    # body end on the left (side 1): the bar turns about it and shortens sideways, so the axle comes to the left
    middle, half = 60.0, BAR / 2
    profile = solid_axle([-150, middle + side * half, 20], [-150, middle - side * half, 20])
    for row in poses(tmp_path, profile, "--travel=-75,-30,0,30,90"):
        theta = np.arcsin(row["travel_mm"] / BAR)
        same_hub(row, 0.0, SIDE + side * BAR * (1 - np.cos(theta)), row["travel_mm"])
        assert row["camber_deg"] == angle(-0.3)


def test_a_panhard_bar_may_cross_the_vehicle(tmp_path: Path) -> None:
    # the usual bar: from one frame rail to the far end of the axle
    profile = solid_axle([-150, 430, 20], [-150, -430, 20])
    (row,) = poses(tmp_path, profile, "--travel=60")
    same_hub(row, 0.0, SIDE + 860 - np.sqrt(860**2 - 60**2), 60.0)


def test_both_corners_of_a_panhard_axle_are_evaluated(tmp_path: Path) -> None:
    # what moves the left wheel outboard moves the right one inboard: at full bump of both wheels, both are checked
    profile = solid_axle([-150, 60 + BAR / 2, 20], [-150, 60 - BAR / 2, 20])
    shift = BAR - np.sqrt(BAR**2 - 95**2)
    level = geometry(tmp_path, profile)["poses"]
    sides = {round(pose["origin_mm"][1], 4) for pose in level if pose["travel_mm"] == 95}
    assert {round(SIDE + shift, 4), round(SIDE - shift, 4)} <= sides


def test_opposite_travel_rolls_a_solid_axle(tmp_path: Path) -> None:
    # hub faces 2 SIDE apart along the beam: sin(roll) = difference of heights / (2 SIDE); the middle stays in plane
    for left, right in ((60, -60), (-40, 40), (80, 20)):
        (row,) = poses(tmp_path, solid_axle(), f"--travel={left}", f"--opposite={right}")
        roll = np.arcsin((left - right) / (2 * SIDE))
        assert row["camber_deg"] == angle(-0.3 - np.degrees(roll))
        assert row["toe_in_deg"] == angle(0.0)
        same_hub(row, 0.0, SIDE * np.cos(roll), left)


def test_a_panhard_bar_leads_a_rolling_axle(tmp_path: Path) -> None:
    # the bar's axle end turns with the beam about x; its body end and its length give the beam's sideways place
    body, end = np.array([300.0, 70.0]), np.array([-270.0, 15.0])  # y, z
    profile = solid_axle([-140, *body], [-140, *end])
    rod = np.hypot(*(body - end))
    for left, right in ((60, -60), (-70, 30), (90, 40)):
        (row,) = poses(tmp_path, profile, f"--travel={left}", f"--opposite={right}")
        roll, heave = np.arcsin((left - right) / (2 * SIDE)), (left + right) / 2
        cos, sin = np.cos(roll), np.sin(roll)
        turned = np.array([end[0] * cos - end[1] * sin, end[0] * sin + end[1] * cos + heave])
        y = body[0] - np.sqrt(rod**2 - (body[1] - turned[1]) ** 2) - turned[0]
        same_hub(row, 0.0, y + SIDE * cos, left)
        assert row["camber_deg"] == angle(-0.3 - np.degrees(roll))


def test_a_steered_solid_axle_turns_its_wheels_about_the_ball_joints(tmp_path: Path) -> None:
    # a vertical axis: the hub goes round it in a level circle, the beam stays where it is
    reach, turn = 60.0, np.radians(20)
    joints = {"lower_ball": [0, SIDE - reach, -130], "upper_ball": [0, SIDE - reach, 130]}
    profile = solid_axle(**joints)
    profile["axles"]["front"] |= {"steering": {"lock_left": 30, "lock_right": 28}}
    (row,) = poses(tmp_path, profile, "--travel=40", "--steer=20")
    same_hub(row, -reach * np.sin(turn), SIDE - reach + reach * np.cos(turn), 40.0)
    assert (row["caster_deg"], row["kingpin_inclination_deg"]) == (angle(0), angle(0))
    assert row["scrub_radius_mm"] == pytest.approx(reach - OFFSET + RADIUS * np.sin(np.radians(0.3)), abs=0.02)


# --- a five-link that steers like a double wishbone ---


def test_links_that_point_at_two_joints_steer_about_them(tmp_path: Path) -> None:
    # Held at their inner ends, two links let the point where their lines meet stand still, to first order: it is a
    # ball joint that is not there. So the knuckle of a five-link whose links point in pairs at two such joints can turn
    # about the line through them. Steered by its toe link at constant travel it does so and nothing else if this turn
    # leaves the hub at its height: seen from above, the line has to pass through the hub (else the arms swing along).
    lower, upper = np.array([-4.0, 745.0, -128.0]), np.array([-19.0, 700.0, 168.0])
    hub = np.array([0.0, 757.0, 0.0])  # on the line from above: (-4, 745) and (-19, 700) are 1 : 4.75 away
    inner = {
        "upper_front": np.array([190.0, 421.0, 141.0]),
        "upper_rear": np.array([-204.0, 447.0, 129.0]),
        "lower_front": np.array([318.0, 402.0, -88.0]),
        "lower_rear": np.array([-187.0, 318.0, -97.0]),
    }
    points: dict[str, Any] = {"toe_body": (-221.0, 374.0, -21.0), "toe_knuckle": (-152.0, 669.0, -28.0)}
    for share, (rod, start) in zip((0.78, 0.84, 0.88, 0.81), inner.items(), strict=True):
        joint = upper if rod.startswith("upper") else lower
        points[f"{rod}_body"] = tuple(start.tolist())
        points[f"{rod}_knuckle"] = tuple((start + share * (joint - start)).tolist())
    row = reference_pose(tmp_path, Layout("five_link", points, hub_y=hub[1], camber=0.0))
    assert row["caster_deg"] == angle(np.degrees(np.arctan2(lower[0] - upper[0], upper[2] - lower[2])))
    lean = np.degrees(np.arctan2(lower[1] - upper[1], upper[2] - lower[2]))
    assert row["kingpin_inclination_deg"] == angle(lean)
    pierced = lower + (upper - lower) * (-RADIUS - lower[2]) / (upper[2] - lower[2])
    assert row["scrub_radius_mm"] == length(hub[1] - OFFSET - pierced[1])
    assert row["mechanical_trail_mm"] == length(pierced[0])


# --- limits ---

NUMBERS = (
    "steer_deg",
    "toe_in_deg",
    "camber_deg",
    "caster_deg",
    "kingpin_inclination_deg",
    "scrub_radius_mm",
    "mechanical_trail_mm",
    "hub_face_mm",
    "spin_axis",
)


def assert_unreachable(row: Row) -> None:
    assert row["reachable"] is False
    assert [row[key] for key in NUMBERS] == [None] * len(NUMBERS)
    assert row["reason"]


@pytest.mark.slow
@pytest.mark.parametrize("name", LAYOUTS)
def test_a_pose_out_of_reach_is_no_number(tmp_path: Path, name: str) -> None:
    found = poses(tmp_path, LAYOUTS[name].profile(), "--travel=-900,0,900", "--rack=0")
    assert_unreachable(found[0]), assert_unreachable(found[2])
    assert found[1]["reachable"] is True
    assert found[1]["reason"] is None
    assert not found[0]["within_limits"]
    assert not found[2]["within_limits"]


def test_a_parallelogram_stops_where_its_arms_stand_upright(tmp_path: Path) -> None:
    # arms of 350, level at the reference pose: +-350, and nothing beyond
    found = poses(tmp_path, parallelogram().profile(), "--travel=-351,-349,349,351", "--rack=0")
    assert [row["reachable"] for row in found] == [False, True, True, False]
    for row in found[1:3]:
        same_hub(row, 0.0, parallelogram().hub_y - ARM + np.sqrt(ARM**2 - 349**2), row["travel_mm"])
    for row, stop in ((found[0], -ARM), (found[3], ARM)):
        assert_unreachable(row)
        numbers = [float(n) for n in re.findall(r"[-+]?\d+(?:\.\d+)?", row["reason"])]
        assert any(abs(n - stop) < 0.5 for n in numbers), row["reason"]


@pytest.mark.slow
def test_beyond_a_dead_point_no_other_assembly_is_a_pose(tmp_path: Path) -> None:
    # Taken apart, a linkage could be put together again beyond its stop, the wheel thrown over; it cannot go there.
    # The reference walks the strut up in small steps and says how far it goes.
    cloud = PointCloud(STRUT)
    travels = (270.0, 276.0, 278.0, 290.0, 300.0)
    found = poses(tmp_path, STRUT.profile(), f"--travel={listed(travels)}", "--rack=0")
    for row, travel in zip(found, travels, strict=True):
        walked = cloud.pose(travel, rack=0.0, step=6.0).worst < 1e-9
        assert walked == (travel < 277)
        assert row["reachable"] is walked, f"travel {travel}: steer {row['steer_deg']}, camber {row['camber_deg']}"


def test_a_rack_out_of_reach_is_no_number_and_beyond_the_stops(tmp_path: Path) -> None:
    (row,) = poses(tmp_path, WISHBONES.profile(), "--travel=0", "--rack=700")
    assert_unreachable(row)
    assert row["within_limits"] is False, "a rack of 700 mm is beyond the stops of any lock"


def test_a_steer_angle_out_of_reach_is_no_number_and_beyond_the_lock(tmp_path: Path) -> None:
    # tie rod 158 long; at 100 degrees left the arm's end stands 187 behind the rack's line, whatever the rack does
    inner, outer = (150.0, 560.0), (125.0, 716.0)
    (row,) = poses(tmp_path, trapezoid(inner, outer).profile(), "--travel=0", "--steer=100")
    assert_unreachable(row)
    assert row["within_limits"] is False


def test_beyond_travel_or_lock_is_computed_and_marked(tmp_path: Path) -> None:
    profile = WISHBONES.profile()  # travel -80 to 95, locks 16 left and 14 right
    found = poses(tmp_path, profile, "--travel=-81,-80,0,95,96", "--rack=0")
    assert [row["within_limits"] for row in found] == [False, True, True, True, False]
    found = poses(tmp_path, profile, "--travel=0", "--steer=-14.1,-13.9,0,15.9,16.1")
    assert [row["within_limits"] for row in found] == [False, True, True, True, False]
    assert all(row["reachable"] and row["hub_face_mm"] for row in found)
    stop = found[-1]["rack_mm"]
    (row,) = poses(tmp_path, profile, "--travel=0", f"--rack={stop + 1}")
    assert (row["reachable"], row["within_limits"]) == (True, False)


def test_opposite_travel_beyond_the_limits_is_marked_too(tmp_path: Path) -> None:
    # the axle's travel is -80 to 95 for either wheel
    found = [poses(tmp_path, solid_axle(), "--travel=0", f"--opposite={o}")[0] for o in (-85, -80, 95, 100)]
    assert all(row["reachable"] for row in found)
    assert [row["within_limits"] for row in found] == [False, True, True, False]


def test_travel_beyond_the_geometry_is_refused_with_what_it_can_do(tmp_path: Path) -> None:
    path = write_profile(tmp_path, parallelogram().profile(travel={"droop": -100, "bump": 400}))
    refused = run("poses", path, "--axle", "front")
    assert refused.exit_code == 2
    assert refused.stdout == ""
    assert re.search(r"\b350\b|\b349\.\d|\b350\.0", refused.stderr), refused.stderr
    assert "travel" in refused.stderr
    assert path in refused.stderr


def test_a_lock_beyond_the_dead_point_is_refused(tmp_path: Path) -> None:
    # A rack can turn the wheel until steering arm and tie rod stand in line; further on it would have to come back.
    # Arm 113 long at 45 degrees outboard, rod 430: in line where the rack's end is their difference from the kingpin.
    inner, outer = (90.0, 350.0), (80.0, 780.0)
    arm, rod = np.hypot(80, 80), np.hypot(10, 430)
    drop = np.sqrt((rod - arm) ** 2 - 90**2)  # along y from the kingpin to the rack's end
    dead = float(np.degrees(np.arctan2(drop, -90)) - 45)
    assert dead == pytest.approx(61.5, abs=0.5)
    layout = trapezoid(inner, outer)
    short = layout.profile(steering={"lock_left": round(dead - 2, 3), "lock_right": 30})
    (row,) = poses(tmp_path, short, "--travel=0", f"--steer={dead - 2.5!r}")
    assert row["within_limits"] is True
    (row,) = poses(tmp_path, short, "--travel=0", f"--rack={float(KINGPIN - drop - inner[1] - 0.5)}")
    assert row["steer_deg"] == angle(turned_by_rack(inner, outer, row["rack_mm"]))
    beyond = layout.profile(steering={"lock_left": round(dead + 6, 3), "lock_right": 30})
    refused = run("poses", write_profile(tmp_path, beyond), "--axle", "front")
    assert refused.exit_code == 2, "the wheel is not at its lock when the rack is at the stop that this lock gives"
    assert "lock_left" in refused.stderr


# --- rack stops and what a limit leaves of the lock angle ---

STEERED = {"front": WISHBONES, "behind": LAYOUTS["wishbones, rack behind"], "strut": STRUT, "five links": FIVE_LINK}
LEFT, RIGHT = 15.5, 12.25  # [deg] locks
LOCKED = {"lock_left": LEFT, "lock_right": RIGHT}


def angles_at_stops(layout: Layout, travels: list[float]) -> dict[float, tuple[float, float]]:
    """Steer [deg] of the reference solver with the rack where it gives the locks at travel 0, by travel."""
    cloud = PointCloud(layout)
    stops = [cloud.pose(0, steer=steer).rack for steer in (LEFT, -RIGHT)]
    found = {travel: [cloud.pose(travel, rack=stop) for stop in stops] for travel in travels}
    assert max(corner.worst for each in found.values() for corner in each) < 1e-9
    return {travel: (a.angles()["steer_deg"], b.angles()["steer_deg"]) for travel, (a, b) in found.items()}


def locks_by_travel(rows: list[Row]) -> dict[float, tuple[float, float]]:
    """Left and right lock [deg] at every travel."""
    assert all(row["within_limits"] for row in rows)
    steers: dict[float, list[float]] = {}
    for row in rows:
        steers.setdefault(row["travel_mm"], []).append(row["steer_deg"])
    return {travel: (max(each), min(each)) for travel, each in steers.items()}


@pytest.mark.parametrize("layout", STEERED.values(), ids=STEERED)
def test_the_rack_stops_give_the_locks_at_the_reference_travel(tmp_path: Path, layout: Layout) -> None:
    found = poses(tmp_path, layout.profile(steering=LOCKED))
    locks = locks_by_travel(found)
    assert locks[0] == (angle(LEFT), angle(-RIGHT))
    straight = [row for row in found if row["travel_mm"] == 0 and row["rack_mm"] == pytest.approx(0, abs=1e-9)]
    assert len(straight) == 1
    assert straight[0]["toe_in_deg"] == angle(layout.toe_in)
    for travel, ends in angles_at_stops(layout, list(locks)).items():
        assert locks[travel] == tuple(map(angle, ends)), travel


@pytest.mark.slow
@pytest.mark.parametrize("layout", STEERED.values(), ids=STEERED)
def test_a_limit_is_a_share_of_the_lock_angle_and_ends_at_the_rack_stop(tmp_path: Path, layout: Layout) -> None:
    # The smaller of two angles: the share of the lock, and what the stop gives at that travel.
    limit = [[-80, 0.9], [0, 1.0], [60, 0.5], [95, 0.75]]
    profile = layout.profile(steering=LOCKED, steer_limit=limit, travel={"droop": -80, "bump": 110})
    locks = locks_by_travel(poses(tmp_path, profile))
    by_stop = 0
    for travel, (left, right) in angles_at_stops(layout, list(locks)).items():
        share = float(np.interp(travel, *np.array(limit).T))
        assert locks[travel] == (angle(min(share * LEFT, left)), angle(max(-share * RIGHT, right))), travel
        by_stop += left < share * LEFT - ANGLE or right > -share * RIGHT + ANGLE
    assert by_stop < len(locks) - 4
    for side in (LEFT, -RIGHT):
        rows = poses(tmp_path, profile, "--travel=95", f"--steer={listed([0.74 * side, 0.75 * side, 0.76 * side])}")
        assert [row["within_limits"] for row in rows] == [True, True, False]


@pytest.mark.slow
@pytest.mark.parametrize("layout", STEERED.values(), ids=STEERED)
def test_where_all_of_the_lock_is_usable_only_the_stop_ends_it(tmp_path: Path, layout: Layout) -> None:
    # Where the stop gives more than the lock angle, share 1 takes nothing away, and the way down starts from there.
    ends = {-80: angles_at_stops(layout, [-80])[-80], 80: angles_at_stops(layout, [80])[80]}
    full = max(ends, key=lambda travel: max(ends[travel][0] - LEFT, -ends[travel][1] - RIGHT))
    assert ends[full][0] > LEFT + 0.1 or -ends[full][1] > RIGHT + 0.1
    limit = sorted([[full, 1.0], [0, 0.8]])
    travel = {"droop": min(full, -1), "bump": max(full, 1)}
    locks = locks_by_travel(poses(tmp_path, layout.profile(steering=LOCKED, steer_limit=limit, travel=travel)))
    for z, (left, right) in angles_at_stops(layout, list(locks)).items():
        way = min(max(z / full, 0.0), 1.0)
        most = 0.8 * LEFT + way * (max(LEFT, ends[full][0]) - 0.8 * LEFT)
        least = 0.8 * RIGHT + way * (max(RIGHT, -ends[full][1]) - 0.8 * RIGHT)
        assert locks[z] == (angle(min(most, left)), angle(max(-least, right))), z
    free, ones = (
        poses(tmp_path, layout.profile(steering=LOCKED, ride_heights={"a": -40, "b": 20}, **limit))
        for limit in ({}, {"steer_limit": [[-40, 1], [20, 1]]})
    )
    assert ones == free


@pytest.mark.slow
def test_the_closest_place_where_limit_and_stop_meet_is_found(tmp_path: Path) -> None:
    # A ball beside the rear of the tire, at the lock where both meet: against a fine grid of travels and angles.
    layout, limit = WISHBONES, [[-80, 1.0], [20, 1.0], [95, 0.85]]
    asked = {"steering": {"lock_left": 30, "lock_right": 25}, "steer_limit": limit}
    cloud = PointCloud(layout)
    stop = cloud.pose(0, steer=30, step=5).rack
    travels, known = np.linspace(20, 95, 751), np.linspace(20, 95, 16)
    at_stop = [cloud.pose(z, rack=stop, step=10).angles()["steer_deg"] for z in known]
    by_stop, by_limit = CubicSpline(known, at_stop)(travels), 30 * np.interp(travels, *np.array(limit).T)
    bend = float(travels[np.argmax(by_limit < by_stop)])
    assert 22 < bend < 60, "the stop ends the lock first, farther up the limit"
    turned = cloud.pose(bend, steer=float(np.min([by_limit, by_stop], axis=0).max()), step=5)
    ahead = np.cross(turned.spin, [0, 0, 1]) * 290
    ball = (turned.hub - (OFFSET + 125) * turned.spin - ahead).tolist()
    part = {"name": "ball", "shape": "ball", "at": ball, "meets": "tire"}
    path = write_profile(tmp_path, layout.profile(**asked, obstacles=[part]))
    answer = run_json("check", path, "--axle", "front", "--geometry")
    ends = np.minimum(by_limit, by_stop)
    t, s = (each.ravel() for each in np.broadcast_arrays(travels[:, None], ends[:, None] - np.linspace(0, 6, 61)))
    hub = poses_at_steer(ready(load_profile(path), "front").axle, t, s)
    seen = np.einsum("ni,nij->nj", ball - hub.origin, hub.rotation)
    plane = shapely.points(seen[:, 1], np.hypot(seen[:, 0], seen[:, 2]))
    tire = shapely.Polygon(answer["sections"]["tire"])
    gaps = np.where(shapely.contains(tire, plane), -1.0, 1.0) * shapely.distance(tire.exterior, plane)
    assert abs(t[np.argmin(gaps)] - bend) < 2, "the ball is not where limit and stop meet"
    assert min(e["clearance_mm"] for e in answer["clearances"]) == pytest.approx(gaps.min(), abs=0.02)


# --- lengths and mirrors ---

JOINTS = {  # ball: the parts that hold it
    "double_wishbone": {
        "lower_ball": ["knuckle", "lower_arm"],
        "upper_ball": ["knuckle", "upper_arm"],
        "tie_outer": ["knuckle"],
        "tie_inner": ["rack"],
    },
    "strut": {
        "lower_ball": ["knuckle", "lower_arm"],
        "tie_outer": ["knuckle"],
        "tie_inner": ["rack"],
        "strut_axis_point": ["knuckle"],
        "strut_top": ["knuckle"],
    },
    "five_link": {
        f"{rod}_knuckle": ["knuckle", rod] for rod in ("upper_front", "upper_rear", "lower_front", "lower_rear", "toe")
    }
    | {"toe_body": ["rack"]},
}
ROUNDING = 2e-6  # [mm] of a length whose ends `--geometry` prints to 1e-6 mm; the links themselves promise 1e-9


@pytest.mark.parametrize("name", LAYOUTS)
def test_links_keep_their_lengths_and_joints_hold_together(tmp_path: Path, name: str) -> None:
    layout = LAYOUTS[name]
    balls = [
        {"name": f"{point} on {part}", "shape": "ball", "fixed_to": part, "at": list(layout.points[point])}
        for point, parts in JOINTS[layout.kind].items()
        for part in parts
    ]
    answer = geometry(tmp_path, layout.profile(obstacles=balls))
    placed = {entry["name"]: np.array(entry["placed"]) for entry in answer["obstacles"]}
    count = len(answer["poses"])
    assert count >= 15
    for point, parts in JOINTS[layout.kind].items():
        for part in parts[1:]:  # the same joint, carried by both of its parts
            apart = placed[f"{point} on {parts[0]}"] - placed[f"{point} on {part}"]
            assert np.abs(apart).max() < ROUNDING, (point, part)
    for inner, outer in layout.rods:
        start = placed[f"{inner} on rack"] if f"{inner} on rack" in placed else layout.at(inner)
        lengths = np.linalg.norm(placed[f"{outer} on knuckle"] - start, axis=1)
        assert lengths == pytest.approx(np.linalg.norm(layout.at(outer) - layout.at(inner)), abs=ROUNDING, rel=0)
    outers = [outer for _, outer in layout.rods]
    for k, one in enumerate(outers):
        for other in outers[:k]:
            lengths = np.linalg.norm(placed[f"{one} on knuckle"] - placed[f"{other} on knuckle"], axis=1)
            assert lengths == pytest.approx(np.linalg.norm(layout.at(one) - layout.at(other)), abs=ROUNDING, rel=0)
    if layout.kind == "strut":  # the axis, carried by the knuckle, goes on through the top, held by the body
        point, mark = placed["strut_axis_point on knuckle"], placed["strut_top on knuckle"]
        away = np.cross(mark - point, layout.at("strut_top") - point) / np.linalg.norm(mark - point, axis=1)[:, None]
        assert np.abs(away).max() < ROUNDING
    turns = np.array([pose["rotation"] for pose in answer["poses"]])
    assert turns @ np.swapaxes(turns, 1, 2) == pytest.approx(np.broadcast_to(np.eye(3), turns.shape), abs=1e-11)
    assert np.linalg.det(turns) == pytest.approx(1, abs=1e-11)


@pytest.mark.parametrize("name", LAYOUTS)
def test_a_corner_mirrored_front_to_back_mirrors(tmp_path: Path, name: str) -> None:
    # x -> -x: the rack still moves along y, everything that is measured along x changes its sign
    layout = LAYOUTS[name]
    points = {key: (-x, y, z) for key, (x, y, z) in layout.points.items()}
    mirror = Layout(layout.kind, points, layout.hub_y, layout.camber, -layout.toe_in)
    grid = ("--travel=-55,0,70", "--rack=-15,0,15")
    for one, other in zip(
        poses(tmp_path, layout.profile(), *grid), poses(tmp_path, mirror.profile(), *grid), strict=True
    ):
        x, y, z = one["hub_face_mm"]
        same_hub(other, -x, y, z)
        for key in ("steer_deg", "toe_in_deg", "caster_deg"):
            assert other[key] == angle(-one[key])
        for key in ("camber_deg", "kingpin_inclination_deg"):
            assert other[key] == angle(one[key])
        assert other["scrub_radius_mm"] == length(one["scrub_radius_mm"])
        assert other["mechanical_trail_mm"] == length(-one["mechanical_trail_mm"])


def test_where_the_hub_face_stands_moves_the_whole_corner(tmp_path: Path) -> None:
    # `hub_face_at`: the same linkage given from another origin; travel is the hub's height in the body then
    shift = (25.0, 18.0, -30.0)
    points = {key: tuple(np.add(at, shift).tolist()) for key, at in WISHBONES.points.items()}
    hub = np.add(WISHBONES.hub_face, shift).tolist()
    moved = Layout(WISHBONES.kind, points, WISHBONES.hub_y, WISHBONES.camber, WISHBONES.toe_in)
    here = poses(tmp_path, WISHBONES.profile(), "--travel=-50,0,70", "--rack=-20,0,20")
    there = poses(tmp_path, moved.profile(hub_face_at=hub), "--travel=-80,-30,40", "--rack=-20,0,20")
    for one, other in zip(here, there, strict=True):
        same_hub(other, *np.add(one["hub_face_mm"], shift))
        for key in ("steer_deg", "camber_deg", "caster_deg", "kingpin_inclination_deg"):
            assert other[key] == angle(one[key])


def test_the_grid_is_travel_by_rack_in_that_order(tmp_path: Path) -> None:
    found = poses(tmp_path, WISHBONES.profile(), "--travel=30,-20", "--rack=10,-5,0")
    assert [(row["travel_mm"], row["rack_mm"]) for row in found] == [
        (travel, rack) for travel in (30, -20) for rack in (10, -5, 0)
    ]
    assert json.dumps(found)  # finite numbers only: no NaN would survive a strict reader
