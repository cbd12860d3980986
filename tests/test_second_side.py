"""A second reading of the right side: what is typed, the profile that is written, and both corners of its check.

Every place is worked out by hand: with the hub faces W apart and the right one R from the centre plane the axle
stands W / 2 - R to the left.
"""

from __future__ import annotations

import json
import math
import re
from pathlib import Path
from typing import Any

import pytest
import yaml
from answers import typed
from conftest import HUB_FACE, bench_setup, run_json, steered
from test_interview import answered

import fitment
from fitment.errors import FitmentError
from fitment.measuring.interview import Opened, Session
from fitment.measuring.second_side import lip_of, moved, over, with_right
from fitment.profile import Profile, axle, loads_profile

VEHICLE = "van | _ | _ | _ | _ | front | now | typed | _"
ON_WHEELS = "no | _ | _ | 15x6 ET35 5x114.3 CB70.6 | 205/70R15 96H | 322 | _ | done | _"
SUSPENSION = (
    "tape | -0.5 | 0 | yes | 36 | 31 | no | no | no | no | 1572 | _ | _ | _ | _ | _ | _ | no | no | no | -70 | 80 | _"
)
MOTION = "80, 3.2, -2.1 | -70, -2.8, 0.9 | done | 7, 682, -133 | -14, 622, 205"
LIP = "lip | edge | _ | hub_face | -190, 98, 378 | 0, 100, 428 | 190, 98, 378 | done | 3 | _ | no"
RAIL = "rail | edge | _ | _ | 100, 440, 70 | 400, 440, 70 | done | 6 | _ | no"
BALL = "ball joint | ball | knuckle | _ | -14, 622, 205 | 22 | _ | no"
LEFT = f"{VEHICLE}\n{ON_WHEELS}\n{SUSPENSION}\n{MOTION}\n{LIP}\n{RAIL}\n{BALL}\n_ | _"
NO_BUILDS = "done"


def session(right: str) -> Session:
    return answered(f"{LEFT}\n{right}\n{NO_BUILDS}")


def written(right: str) -> tuple[Profile, dict[str, Any], str]:
    """The profile that a session writes, its front axle as data, and its text."""
    text = session(right).text()
    return loads_profile(text), yaml.safe_load(text)["axles"]["front"], text


def points(profile: Profile, side: str, part: str) -> tuple[tuple[float, ...], ...]:
    """Points of a part from the centre of that side's hub face [mm]."""
    corner = axle(profile, f"front {side}")
    found = next(obstacle for obstacle in corner.obstacles if obstacle.name == part).points
    return tuple(tuple(a - b for a, b in zip(point, corner.hub_face_at, strict=True)) for point in found)


def test_no_second_reading_is_a_vehicle_alike_on_both_sides() -> None:
    for script in ("no", "_", "yes | _ | _ | _ | _ | _"):
        profile, data, _ = written(script)
        assert "right" not in data
        assert profile.corners_of("front") == ("front",)


def test_camber_of_the_right_wheel() -> None:
    profile, _, text = written("yes | -1.2 | _ | _ | _ | _")
    assert axle(profile, "front left").suspension.camber == -0.5
    assert axle(profile, "front right").suspension.camber == -1.2
    assert "read on the right, in a mirror: camber as read" in text


def test_an_axle_off_the_middle_takes_with_it_what_moves_with_the_wheel() -> None:
    """W = 1572, R = 780: the axle stands 6 to the left, the left hub face 792 from the centre plane."""
    profile, data, text = written("yes | _ | 780 | _ | _ | _")
    left, right = (axle(profile, f"front {side}") for side in ("left", "right"))
    assert (left.hub_face_at, right.hub_face_at) == ((0, 792, 0), (0, 780, 0))
    assert data["suspension"]["steering_axis"] == {"lower": [7, 688, -133], "upper": [-14, 628, 205]}
    assert data["right"]["suspension"]["steering_axis"] == {"lower": [7, 676, -133], "upper": [-14, 616, 205]}
    # the ball joint was read as half of the distance between both: 164 inboard of either hub face
    assert points(profile, "left", "ball joint") == points(profile, "right", "ball joint") == ((-14, 622 - 786, 205),)
    # the rail is the body's, 440 from the centre plane on either side
    assert points(profile, "left", "rail")[0] == (100, 440 - 792, 70)
    assert points(profile, "right", "rail")[0] == (100, 440 - 780, 70)
    # the lip was read 100 out of the left hub face, so 892 from the centre plane on either side
    assert points(profile, "left", "lip")[1] == (0, 100, 428)
    assert points(profile, "right", "lip")[1] == (0, 892 - 780, 428)
    assert "the axle stands 6.0 mm to the left" in text
    found = fitment.check(profile, "front").data
    assert "the axle stands 6.0 mm to the left: hub face to centre line 792.0 mm left, 780.0 mm right" in " ".join(
        found["sides_differ"]
    )


def test_a_solid_axle_off_the_middle_takes_its_links_its_bar_and_its_low_points_with_it() -> None:
    """6 mm to the left: ends on the axle 6 out on the left and 6 in on the right; the one bar is as the left has it."""
    links = {"lower_body": [500, 430, 0], "lower_axle": [0, 470, -50]}
    bar = {"panhard_body": [-160, 430, 60], "panhard_axle": [-150, -460, 20]}
    low = [{"name": "housing", "fixed_to": "axle", "at": [0, 0, -120]}, {"name": "tank", "at": [200, 100, -150]}]
    axle = {
        "hub_face_width": 1572, "suspension": {"kind": "solid_axle", "links": links, "points": bar}, "low_points": low,
    }  # fmt: skip
    left, _ = with_right(axle, {"hub_face": 780})
    right = left["right"]
    assert left["suspension"]["links"] == {"lower_body": [500, 430, 0], "lower_axle": [0, 476, -50]}
    assert right["suspension"] == {"links": {"lower_axle": [0, 464, -50]}}
    assert left["suspension"]["points"] == bar | {"panhard_axle": [-150, -454, 20]}
    assert [point["at"] for point in left["low_points"]] == [[0, 6, -120], [200, 100, -150]]
    assert [point["at"] for point in right["low_points"]] == [[0, -6, -120], [200, 100, -150]]


def test_tolerances_of_both_readings_stand_at_the_left_hub_face() -> None:
    """W +- 2 less R +- 1.5 is known to 3.5."""
    text = session("yes | _ | 780 +- 1.5 | _ | _ | _").text()
    data = yaml.safe_load(text)["axles"]["front"]
    assert data["hub_face_at"][1] == {"value": 792, "tolerance": 1.5}
    assert data["right"]["hub_face_at"][1] == {"value": 780, "tolerance": 1.5}
    made, _ = with_right(
        data | {"hub_face_width": {"value": 1572, "tolerance": 2}}, {"hub_face": data["right"]["hub_face_at"][1]}
    )
    assert made["hub_face_at"][1] == {"value": 792, "tolerance": 3.5}


def test_the_lip_is_moved_by_the_difference_over_the_wheel() -> None:
    """Left 428 up and 100 out; right 424 and 93: all of it 4 lower and 7 farther in."""
    profile, _, text = written("yes | _ | _ | 424 | 93 | _")
    assert points(profile, "left", "lip") == ((-190, 98, 378), (0, 100, 428), (190, 98, 378))
    assert points(profile, "right", "lip") == ((-190, 91, 374), (0, 93, 424), (190, 91, 374))
    assert "lip: all of it 4.0 mm lower and 7.0 mm farther in against the hub face" in " ".join(text.split()).replace(
        "# ", ""
    )


def test_a_lip_that_is_higher_is_not_raised() -> None:
    """A body that leans by 5 stands 5 higher over its stops there, so the wheel comes 5 farther up into it."""
    profile, _, text = written("yes | _ | _ | 433 | _ | _")
    assert points(profile, "right", "lip") == points(profile, "left", "lip")
    assert "not raised, though 5.0 mm higher" in text


def test_the_lip_out_is_as_read_with_the_axle_off_the_middle() -> None:
    profile, _, _ = written("yes | _ | 780 | _ | 93 | _")
    assert points(profile, "right", "lip")[1] == (0, 93, 428)
    plane = {"name": "lip", "shape": "edge", "points": [[-190, 884, 378], [0, 886, 428]]}  # 100 out of 786
    data = {"hub_face_width": 1572, "suspension": {}, "obstacles": [plane]}
    made, _ = with_right(data, {"hub_face": 780, "lip_out": 93})
    assert made["right"]["obstacles"]["lip"]["points"] == [[-190, 871, 378], [0, 873, 428]]  # 780 + 93
    made, _ = with_right(data, {"hub_face": 780, "lip_up": 420})
    assert made["right"]["obstacles"]["lip"]["points"] == [[-190, 884, 370], [0, 886, 420]]  # the body's


def test_the_gap_on_the_right_is_what_the_check_finds_at_rest() -> None:
    profile, data, _ = written("yes | _ | _ | _ | _ | rail | 41")
    assert data["right"]["obstacles"] == {"rail": {"measured_gap": {"to": "tire", "gap": 41}}}
    found = fitment.check(profile, "front").data
    right = found if found["corner"] == "right" else found["other_corner"]
    rest = [
        each["clearance_mm"]
        for each in right["clearances"]
        if (each["obstacle"], each["part"], each["travel_mm"]) == ("rail", "tire", 0) and abs(each["steer_deg"]) < 0.5
    ]
    assert rest == [pytest.approx(41, abs=1e-3)]


@pytest.mark.parametrize(("off", "gap"), [(6, 10), (-6, 22)])
def test_a_gap_read_on_the_left_is_made_smaller_on_the_right_and_never_larger(off: float, gap: float) -> None:
    """The rail inboard, axle 6 to the left: the right tire stands 12 nearer to it than the left one."""
    rail = {
        "name": "rail",
        "shape": "edge",
        "points": [[0, 440, 0], [10, 440, 0]],
        "measured_gap": {"to": "tire", "gap": 22},
    }
    made, _ = with_right({"hub_face_width": 1572, "suspension": {}, "obstacles": [rail]}, {"hub_face": 786 - off})
    right = made["right"].get("obstacles", {}).get("rail", rail)
    assert right["measured_gap"]["gap"] == gap


def test_a_gap_that_no_place_gives_leads_back_to_it() -> None:
    """A ball 700 over the hub is at least 300 from the tire, wherever it stands across."""
    shelf = "shelf | ball | _ | _ | 0, 440, 700 | 10 | _ | no"
    tried = answered(f"{LEFT.replace(BALL, shelf)}\nyes | _ | _ | _ | _ | shelf | 20\n{NO_BUILDS}")
    with pytest.raises(FitmentError) as told:
        tried.finished("van.yaml")
    assert tried.cause(told.value) == "second.front.gap"  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("answers", "said"),
    [
        ("yes | 80", "-15"),
        ("yes | _ | 7800", "1400"),
        ("yes | _ | _ | 42.4", "150"),
        ("yes | _ | _ | _ | _ | lip", "words"),
    ],
)
def test_what_cannot_be_is_refused_as_it_is_typed(answers: str, said: str) -> None:
    *before, last = typed(answers)
    tried = answered(LEFT)
    for text in before:
        tried.give(text)
    with pytest.raises(FitmentError, match=said):
        tried.give(last)


def test_a_profile_that_is_there_tells_where_the_right_side_is_changed() -> None:
    opened = Opened(session("yes | -1.2 | _ | _ | _ | _").text())
    with pytest.raises(FitmentError, match="change it under `right` of the axle in an editor"):
        opened.tasks("9.2")


@pytest.mark.parametrize(
    "point", [{"clock": 60, "radius": 400, "out": 30}, {"clock": "11:00", "radius": "400 mm", "out": 30}]
)
def test_a_clock_point_is_moved_along_the_body(point: dict[str, Any]) -> None:
    """At 60 degrees and 400 mm: 200 ahead and 346.41 up; 6 lower is 340.41 up."""
    lower = moved(point, -5, -6)
    angle = math.radians(lower["clock"] if isinstance(lower["clock"], int | float) else math.nan)
    assert lower["radius"] * math.cos(angle) == pytest.approx(400 * math.cos(math.radians(60)), abs=0.01)
    assert lower["radius"] * math.sin(angle) == pytest.approx(400 * math.sin(math.radians(60)) - 6, abs=0.01)
    assert lower["out"] == 25


def test_the_lip_is_the_lowest_edge_of_the_body_outboard_over_the_hub() -> None:
    def edge(name: str, out: float, up: float, **more: Any) -> dict[str, Any]:
        return {"name": name, "shape": "edge", "points": [[-100, 800 + out, up], [100, 800 + out, up + 20]], **more}

    parts = [
        edge("drip rail", 90, 900),
        edge("lip", 100, 420),
        edge("rail", -300, 60),
        edge("hose", 20, 80, fixed_to="axle"),
    ]
    data = {"hub_face_width": 1600, "obstacles": parts}
    assert lip_of(data) == "lip"
    assert over(parts[1], data) == (100, 430)
    assert lip_of({"hub_face_width": 1600, "obstacles": parts[2:]}) is None


def test_other_hub_faces_in_a_build_stand_as_far_off_the_middle() -> None:
    """Measured 6 to the left; a build 40 wider moves each hub face out by 20."""
    data = steered(hub_face_at=[0, HUB_FACE + 6, 0], right={"hub_face_at": [0, HUB_FACE - 6, 0]})
    width = 2 * HUB_FACE
    setup = bench_setup(data)
    data["builds"]["wide"] = {"front": setup | {"hub_face_width": width + 40}}
    data["builds"]["said"] = {"front": setup | {"hub_face_width": width + 40, "hub_face_at": [0, HUB_FACE + 21, 0]}}
    read = loads_profile(json.dumps(data))
    faces = {b: [axle(read, f"front {s}", b).hub_face_at[1] for s in ("left", "right")] for b in read.build_names}
    assert faces["measured"] == [HUB_FACE + 6, HUB_FACE - 6]
    assert faces["wide"] == [HUB_FACE + 26, HUB_FACE + 14]
    assert faces["said"] == [HUB_FACE + 21, HUB_FACE + 21]


def test_what_is_typed_is_checked_in_two_corners(tmp_path: Path) -> None:
    path = tmp_path / "van.yaml"
    path.write_text(session("yes | -1.2 | 780 | 424 | 93 | rail | 60").text(), encoding="utf-8")
    found = run_json("check", str(path), "--axle", "front")
    assert {found["corner"], found["other_corner"]["corner"]} == {"left", "right"}
    assert found["axle"] == "front"


def test_readings_in_inches_come_to_the_same() -> None:
    """W = 62 in and R = 30 3/4 in: the axle stands 1/4 in, 6.35 mm, to the left."""
    points = [["-8 in", "4 in", "15 in"], [0, "4 in", "17 in"]]
    lip = {"name": "lip", "shape": "edge", "measured_from": "hub_face", "points": points}
    axle_data = {"hub_face_width": "62 in", "suspension": {}, "obstacles": [lip]}
    made, remarks = with_right(axle_data, {"hub_face": "30 3/4 in", "lip_up": "16 3/4 in", "lip_out": "3 7/8 in"})
    assert made["hub_face_at"] == [0, pytest.approx(31.25 * 25.4), 0]
    assert made["right"]["hub_face_at"] == [0, "30 3/4 in", 0]
    top = made["right"]["obstacles"]["lip"]["points"][1]
    assert top == [0, pytest.approx(3.875 * 25.4, abs=1e-3), pytest.approx(16.75 * 25.4, abs=1e-3)]
    assert re.search(r"stands 6\.[34] mm to the left", remarks["right",])
