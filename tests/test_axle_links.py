"""A solid axle on its links: against a solver of its own (scipy), closed forms, and leaf springs drawn as arcs.

The other solver knows no order of turns: its beam has a rotation vector and a place, six unknowns, and what holds it
are residuals: both heights, every length, and where no upper links hold it that the beam's fore-aft line stays level.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import HUB_FACE, least, run, run_json, vehicle, write_profile
from scipy.integrate import quad
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

import fitment
from fitment import profile as profiles
from fitment.errors import ProfileError
from fitment.motion.solid_axle import solid_axle_poses
from fitment.motion.suspension import poses_at_steer
from fitment.parts.axle import SolidAxle
from fitment.parts.tables import typical_values

Place = list[float]
MIRROR = np.array([1.0, -1.0, 1.0])
LENGTH, ANGLE = 1e-4, 1e-5  # [mm], [deg] the contract
LOWER = {"lower_body": [512, 430, 18], "lower_axle": [-6, 505, -55]}
UPPER = {"upper_body": [430, 420, 120], "upper_axle": [-20, 400, 150]}
SPLAYED = {"upper_body": [400, 480, 150], "upper_axle": [10, 120, 165]}  # hold it sideways too
LEAF = {"spring_eye": [600, 545, -25], "spring_axle": [5, 545, -60]}
PANHARD = {"panhard_body": [-160, 430, 60], "panhard_axle": [-150, -460, 20]}
HEIGHTS = [(0, 0), (80, 80), (-90, -90), (85, -75), (-60, 95), (40, 10)]
EXACT = {"ahead_per_100mm": 0, "ahead_bend": 0}


def solid(links: Any = None, points: Any = None, **front: Any) -> dict[str, Any]:
    suspension: dict[str, Any] = {"kind": "solid_axle"}
    suspension |= {"links": links} if links is not None else {}
    suspension |= {"points": points} if points else {}
    front = {"suspension": suspension, "travel": {"droop": -100, "bump": 100}} | front
    return vehicle(**front)


def loaded(data: dict[str, Any]) -> profiles.Profile:
    return profiles.loads_profile(json.dumps(data), "bench.yaml")


def placed(data: dict[str, Any], left: float, right: float, corner: str = "front") -> tuple[np.ndarray, np.ndarray]:
    """Where the left hub face, or that of a corner, is, and the beam's rotation, as the program has it."""
    axle = profiles.axle(loaded(data), corner)
    poses = poses_at_steer(axle, [left], [-axle.suspension.toe_in], [right])
    return poses.origin[0], poses.motions["axle"][0][0]


def by_scipy(
    left: float, right: float, rods: list[tuple[Place, Place]], *, holds_turn: bool, sideways: bool,
    ends: tuple[Place, Place] = ([0, HUB_FACE, 0], [0, -HUB_FACE, 0]),
) -> tuple[np.ndarray, np.ndarray]:  # fmt: skip
    """The left hub face's centre, and the beam's rotation, that come nearest to every length.

    rods : (on the body, on the axle) of both sides; sideways : they hold it, else its middle does not move sideways
    """
    face, other = (np.array(end, dtype=float) for end in ends)
    middle = (face + other) / 2
    pairs = [(np.array(body, float), np.array(end, float)) for body, end in rods]
    stiff = 1e4  # what is given against what gives

    def off(q: np.ndarray) -> np.ndarray:
        turn, centre = Rotation.from_rotvec(q[:3] / 400).as_matrix(), middle + q[3:]

        def at(point: np.ndarray) -> np.ndarray:
            return np.asarray(centre + turn @ (point - middle))

        found = [stiff * (at(face)[2] - left), stiff * (at(other)[2] - right)]
        found += [np.linalg.norm(at(end) - body) - np.linalg.norm(end - body) for body, end in pairs]
        if not holds_turn:
            found.append(stiff * turn[2, 0])
        if not sideways:
            found.append(centre[1] - middle[1])
        return np.array(found)

    q = least_squares(off, np.zeros(6), xtol=1e-15, ftol=1e-15, gtol=1e-15, max_nfev=4000).x
    turn = Rotation.from_rotvec(q[:3] / 400).as_matrix()
    return middle + q[3:] + turn @ (face - middle), turn


def both_sides(links: dict[str, Place]) -> list[tuple[Place, Place]]:
    rods = [(links["lower_body"], links["lower_axle"])]
    rods += [(links["upper_body"], links["upper_axle"])] if "upper_body" in links else []
    return [*rods, *((list(MIRROR * body), list(MIRROR * end)) for body, end in rods)]


def angle_between(one: np.ndarray, other: np.ndarray) -> float:
    return float(np.degrees(Rotation.from_matrix(one.T @ other).magnitude()))


# motion ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("heights", HEIGHTS)
@pytest.mark.parametrize(
    ("links", "points"),
    [(LOWER, None), (LOWER, PANHARD), (LOWER | SPLAYED, None), (LOWER | UPPER, PANHARD), (LOWER | UPPER, None)],
    ids=["one link a side", "and a panhard bar", "splayed upper links", "four links and a bar", "four links"],
)
def test_a_beam_stands_where_another_solver_puts_it(
    links: dict[str, Place], points: dict[str, Place] | None, heights: tuple[float, float]
) -> None:
    rods = both_sides(links) + ([(points["panhard_body"], points["panhard_axle"])] if points else [])
    known = "upper_body" in links
    face, turn = by_scipy(
        *heights, rods, holds_turn=known, sideways=bool(points) or links.get("upper_axle", [0, 400])[1] < 300
    )
    hub, rotation = placed(solid(links, points), *heights)
    assert hub == pytest.approx(face, abs=LENGTH)
    assert angle_between(rotation, turn) < ANGLE


def test_a_level_link_leads_the_axle_ahead_by_t_squared_over_two_lengths() -> None:
    """10 mm for 100 mm on a 500 mm arm: exactly L - sqrt(L^2 - t^2)."""
    links = {"lower_body": [500, 450, 0], "lower_axle": [0, 450, 0]}
    for travel in (-100.0, 60.0, 100.0):
        hub, turn = placed(solid(links), travel, travel)
        ahead = 500 - np.sqrt(500**2 - travel**2)
        assert hub == pytest.approx([ahead, HUB_FACE, travel], abs=LENGTH)
        assert ahead == pytest.approx(travel**2 / 1000, rel=0.02)
        assert turn == pytest.approx(np.eye(3), abs=1e-9)


def test_level_links_do_not_steer_a_rolling_axle_and_links_off_level_do() -> None:
    """Rolled by as much up as down, level links shorten alike; off level by e each end goes e u ahead: 2 e u / 2 y."""
    level = {"lower_body": [500, 450, 0], "lower_axle": [0, 450, 0]}
    _, turn = placed(solid(level), 80, -80)
    assert turn[0, 1] == pytest.approx(0.0, abs=1e-9)
    rising = {"lower_body": [500, 450, 40], "lower_axle": [0, 450, 0]}  # higher at the body: bump takes the axle back
    hub, turn = placed(solid(rising), 80, -80)
    at_link = 80 * 450 / HUB_FACE
    assert np.degrees(np.arcsin(-turn[0, 1])) == pytest.approx(np.degrees(at_link * 40 / 500 / 450), rel=0.02)
    assert hub[0] < 0 < placed(solid(rising), -80, 80)[0][0]


def test_both_corners_of_an_axle_on_links_are_one_beam() -> None:
    """The right corner, posed in a mirror, has the same beam as the left one."""
    axle = profiles.axle(loaded(solid(LOWER | UPPER, PANHARD)), "front")
    assert isinstance(axle.suspension, SolidAxle)
    up, down, none = np.array([70.0]), np.array([-50.0]), np.zeros(1)
    left = solid_axle_poses(axle, axle.suspension, up, none, down, corner="left").motions["axle"]
    right = solid_axle_poses(axle, axle.suspension, down, none, up, corner="right").motions["axle"]
    flip = np.diag(MIRROR)
    assert flip @ right[0][0] @ flip == pytest.approx(left[0][0], abs=1e-9)
    assert flip @ right[1][0] == pytest.approx(left[1][0], abs=1e-6)


def test_arms_that_no_length_follows_are_refused_where_travel_stands(tmp_path: Path) -> None:
    bound = {"lower_body": [150, 450, 0], "lower_axle": [0, 450, 0]}
    refused = run("check", write_profile(tmp_path, solid(bound, travel={"droop": -160, "bump": 100})))
    assert refused.exit_code == 2
    assert "bench.json" in refused.stderr or "bench.yaml" in refused.stderr
    assert "links" in refused.stderr


# leaf springs ---------------------------------------------------------------------------------------------------


def arc(length: float, rise: float) -> float:
    """How far a clamp stands behind the eye of a leaf that is an arc of this length, level at the clamp."""
    low, high = 1e-9, 2.0
    for _ in range(80):
        angle = (low + high) / 2
        low, high = (angle, high) if length * (1 - np.cos(angle)) / angle < abs(rise) else (low, angle)
    return float(length * np.sin(angle) / angle)


def test_a_leaf_spring_leads_as_an_arc_of_constant_length() -> None:
    eye, seat = LEAF["spring_eye"], LEAF["spring_axle"]
    reach, rise = eye[0] - seat[0], seat[2] - eye[2]
    length = next(n for n in np.arange(reach, reach + 20, 0.001) if arc(n, rise) >= reach)
    for travel in (-90.0, -40.0, 50.0, 90.0):
        hub, _ = placed(solid(LEAF), travel, travel)
        assert hub[0] == pytest.approx(reach - arc(length, rise + travel), abs=0.25)


def test_the_band_of_a_leaf_spring_holds_another_leaf_and_an_eye_off_its_leaf() -> None:
    """What the rod does not know: an eye whose centre stands 16 mm off the end of a leaf of 600 mm, and its shape.

    A beam clamped at one end shortens by half the integral of its slope squared: 2/3 of z^2 / L with constant
    curvature, 0.6 of one section with a load at its end (quadrature).
    """
    length, eye, travel = 600.0, 16.0, 100.0

    def behind(height: float) -> float:
        """From clamp to the eye's centre, which stands off the leaf's end along its normal there."""
        low, high = -0.8, 0.8
        for _ in range(80):
            bent = (low + high) / 2 or 1e-12
            up = length * (1 - np.cos(bent)) / bent + eye * np.cos(bent)
            low, high = (bent, high) if up < height else (low, bent)
        return float(length * np.sin(bent) / bent - eye * np.sin(bent))

    constant = quad(lambda x: (2 * x) ** 2 / 2, 0, 1)[0]
    end_loaded = quad(lambda x: (3 * x - 1.5 * x**2) ** 2 / 2, 0, 1)[0]
    assert constant == pytest.approx(2 / 3)
    shape = (constant - end_loaded) * travel**2 / length
    aside = abs(behind(travel) - behind(-travel)) / 2  # the rod's pivot is level with the eye: it does alike both ways
    band = typical_values()["suspension.links.ahead_per_100mm of leaf springs"].tolerance
    assert aside == pytest.approx(2 / 3 * eye / length * travel, rel=0.05)  # as if the pivot stood half as far off
    assert 0.8 * band <= aside + shape <= band


def test_a_leaf_spring_has_its_band_as_a_reading_that_is_not_assumed() -> None:
    profile = loaded(solid(LEAF))
    found = {reading.path: reading for reading in profiles.readings(profile, "front")}
    assert found["suspension.links.ahead_per_100mm"].tolerance == 3
    assert profiles.assumed_values(profile, "front") == ()
    assert "suspension.links.ahead_per_100mm" not in {
        reading.path for reading in profiles.readings(loaded(solid(LEAF | {"ahead_per_100mm": 0})), "front")
    }


# nobody read them -----------------------------------------------------------------------------------------------


def front_ball(**front: Any) -> dict[str, Any]:
    """A ball straight ahead of the hub's way, so that its gap is what the axle moves ahead by."""
    ball = {"name": "stop", "shape": "ball", "radius": 5, "at": [420, HUB_FACE - 20, 100]}
    return solid(obstacles=[ball], **front)


def test_links_that_nobody_read_take_their_band_from_the_worst_case(tmp_path: Path) -> None:
    exact = run_json("check", write_profile(tmp_path, front_ball(links=EXACT)), "--axle", "front")
    answer = run_json("check", write_profile(tmp_path, front_ball()), "--axle", "front")
    assert {each["reading"]: each["tolerance"] for each in answer["assumed"]} == {
        "suspension.links.ahead_per_100mm": 9, "suspension.links.ahead_bend": 12,
    }  # fmt: skip
    assert least(answer, "stop") == pytest.approx(least(exact, "stop"))
    # at bump of both wheels the tire stands level with the ball, and both bands take it ahead: 9 and 12 mm
    taken = least(exact, "stop", key="worst_case_mm") - least(answer, "stop", key="worst_case_mm")
    assert taken == pytest.approx(21.0, abs=0.3)
    assert exact["assumed"] == []
    assert any("links: not given" in caution and "spring_eye" in caution for caution in answer["cautions"])
    assert not any("links: not given" in caution for caution in exact["cautions"])


def test_an_axle_that_steers_may_turn_about_itself_too() -> None:
    joints = {"lower_ball": [0, 690, -130], "upper_ball": [0, 690, 130]}
    steers = {"steering": {"lock_left": 30, "lock_right": 28}}

    def assumed(links: Any = None) -> dict[str, float]:
        return {
            each.path.rpartition(".")[2]: each.tolerance
            for each in profiles.assumed_values(loaded(solid(links, joints, **steers)), "front")
        }

    assert assumed() == {"ahead_per_100mm": 9, "ahead_bend": 12, "caster_per_100mm": 6}
    assert assumed(LOWER) == {"caster_per_100mm": 6}
    assert assumed(LEAF) == {"caster_per_100mm": 2}
    assert assumed(LOWER | UPPER) == {}
    data = solid(EXACT | {"caster_per_100mm": 5}, joints, **steers)
    axle = profiles.axle(loaded(data), "front")
    poses = poses_at_steer(axle, [80.0], [0.0], [80.0])
    assert poses.axis_upper is not None
    assert poses.axis_lower is not None
    lean = poses.axis_lower[0] - poses.axis_upper[0]
    assert np.degrees(np.arctan2(lean[0], -lean[2])) == pytest.approx(
        4.0, abs=1e-6
    )  # ISO 8855: top rearward is positive


@pytest.mark.parametrize(
    ("links", "said"),
    [
        ({}, "links is empty"),
        ({"lower_body": [500, 450, 0]}, "lower_body and lower_axle belong together"),
        (UPPER, "upper links need the lower ones"),
        (LOWER | LEAF, "a leaf spring leads the axle by itself"),
        ({"lower_body": [60, 450, 0], "lower_axle": [0, 450, 0]}, "at least 100 mm"),
        (LOWER | {"upper_body": [430, 420, 0], "upper_axle": [-20, 400, -40]}, "are the two mixed up"),
        ("guess", "a map is expected"),
    ],
)
def test_links_that_cannot_be_are_refused_at_their_key(links: Any, said: str) -> None:
    with pytest.raises(ProfileError) as caught:
        loaded(solid(links))
    line = next(text for text in str(caught.value).splitlines() if said in text)
    assert "axles.front.suspension.links" in line


# sides that differ ----------------------------------------------------------------------------------------------


def test_an_axle_off_the_middle_rolls_about_its_own_middle() -> None:
    """6 mm to the left: the beam's middle, half way between the hub faces, stays where it is and turns."""
    off = 6.0
    data = solid(EXACT, hub_face_at=[0, HUB_FACE + off, 0])
    data["axles"]["front"]["right"] = {"hub_face_at": [0, HUB_FACE - off, 0]}
    for left, right in ((100.0, -100.0), (-40.0, 90.0)):
        roll = np.arcsin((left - right) / (2 * HUB_FACE))
        hub, _ = placed(data, left, right, "front left")
        assert hub == pytest.approx([0, off + HUB_FACE * np.cos(roll), left], abs=LENGTH)
        hub, _ = placed(data, right, left, "front right")
        assert hub == pytest.approx([0, -off + HUB_FACE * np.cos(roll), right], abs=LENGTH)


def test_one_panhard_bar_and_each_side_its_own_links_lead_an_axle_whose_sides_differ() -> None:
    right_links = {"lower_body": [505, 426, 30], "lower_axle": [-6, 497, -57]}
    bar = {"panhard_body": [-160, 430, 60], "panhard_axle": {"ahead": -150, "up": 20, "out": -440 - HUB_FACE - 4}}
    data = solid(LOWER, bar, hub_face_at=[0, HUB_FACE + 4, 0])
    data["axles"]["front"]["right"] = {"hub_face_at": [0, HUB_FACE - 4, 0], "suspension": {"links": right_links}}
    rods = [
        (LOWER["lower_body"], LOWER["lower_axle"]),
        (list(MIRROR * right_links["lower_body"]), list(MIRROR * right_links["lower_axle"])),
        (PANHARD["panhard_body"], [-150, -440, 20]),
    ]
    ends = [0, HUB_FACE + 4, 0], [0, -HUB_FACE + 4, 0]
    for left, right in ((70.0, -60.0), (-20.0, 80.0)):
        face, turn = by_scipy(left, right, rods, holds_turn=False, sideways=True, ends=ends)
        hub, rotation = placed(data, left, right, "front left")
        assert hub == pytest.approx(face, abs=LENGTH)
        hub, mirrored = placed(data, right, left, "front right")
        other = face + turn @ (np.array(ends[1]) - np.array(ends[0]))
        assert MIRROR * hub == pytest.approx(other, abs=LENGTH)
        assert angle_between(np.diag(MIRROR) @ mirrored @ np.diag(MIRROR), rotation) < ANGLE


def test_a_reading_of_both_sides_moves_both_ends_of_the_beam() -> None:
    data = solid(EXACT, hub_face_width={"value": 2 * HUB_FACE, "tolerance": 4})
    data["axles"]["front"]["right"] = {"suspension": {"camber": -1.0}}
    profile = loaded(data)
    axle = profiles.axle(profile, "front left", moved={"hub_face_width": 4})
    assert isinstance(axle.suspension, SolidAxle)
    assert axle.suspension.across is not None
    assert axle.hub_face_at[1] == axle.suspension.across.hub_face_at[1] == HUB_FACE + 2
    assert fitment.check(profile, "front").cases
