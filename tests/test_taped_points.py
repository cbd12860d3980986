"""Points as the tape finds them: o'clock, along the axes from the hub face, height from the ground. Placed by hand."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest
from conftest import HUB_FACE, bench_setup, vehicle, write_profile

from fitment.checks.case import ready
from fitment.errors import ProfileError
from fitment.measuring.questions.forms import Question
from fitment.measuring.typed_answers import read_answer
from fitment.profile import Profile, axle, load_profile, loads_profile, readings

HUB_HEIGHT = 310  # [mm] of the bench vehicle


def profile(at: Any, **front: Any) -> Profile:
    ball = {"name": "stone", "shape": "ball", "at": at}
    return loads_profile(json.dumps(vehicle(obstacles=[ball], **front)))


def placed(at: Any, **front: Any) -> tuple[float, float, float]:
    return axle(profile(at, **front), "front").obstacles[0].points[0]


@pytest.mark.parametrize(
    ("time", "degrees"),
    [  # seen from outside the left side the vehicle looks to the left: 9 is ahead, each hour is 30 degrees clockwise
        ("9:00", 0), ("10:30", 45), ("12:00", 90), ("12 o'clock", 90), ("1 o'clock", 120), ("3:00", 180),
        ("6:00", 270), ("8:59", 359.5), ("12 oclock", 90), ("10:30 o'clock", 45),
    ],
)  # fmt: skip
def test_a_time_on_the_clock_face(time: str, degrees: float) -> None:
    ahead, up = 402 * math.cos(math.radians(degrees)), 402 * math.sin(math.radians(degrees))
    assert placed({"clock": time, "radius": 402, "out": 30}) == pytest.approx((ahead, HUB_FACE + 30, up), abs=1e-6)


def test_a_time_needs_no_quotes_and_may_have_a_tolerance() -> None:
    text = json.dumps(vehicle(obstacles=[{"name": "stone", "shape": "ball", "at": "HERE"}]))
    bare = loads_profile(text.replace('"HERE"', "{clock: 10:30, radius: 402, out: 30}"))
    assert axle(bare, "front").obstacles[0].points[0] == placed({"clock": 45, "radius": 402, "out": 30})
    wide = profile({"clock": {"value": "12:00", "tolerance": 4}, "radius": 402, "out": 30})
    assert [(r.path, r.tolerance, r.unit) for r in readings(wide, "front")] == [
        ("obstacles[stone].at.clock", 4.0, "deg")
    ]


def test_along_the_axes_from_the_hub_face() -> None:
    assert placed({"ahead": -120, "up": 300, "out": -40}) == (-120, HUB_FACE - 40, 300)
    there = {"hub_face_at": [12, 748, 5]}
    assert placed({"ahead": -120, "up": 300, "out": -40}, **there) == (-108, 708, 305)


def test_height_above_ground(tmp_path: Path) -> None:
    assert placed({"ahead": 0, "above_ground": 712, "out": 30}) == (0, HUB_FACE + 30, 712 - HUB_HEIGHT)
    data = vehicle(
        hub_height={"value": 310, "tolerance": 4},
        obstacles=[{"name": "stone", "shape": "ball", "at": {"ahead": 0, "above_ground": 712, "out": 30}}],
    )
    variants = ready(load_profile(write_profile(tmp_path, data)), "front").variants
    assert [v.reading for v in variants] == ["hub_height"]  # a hub that stands higher leaves the lip nearer to it
    assert variants[0].axle.obstacles[0].points[0][2] == pytest.approx(712 - 314)


def test_it_stays_where_the_baseline_was_measured() -> None:
    data = vehicle(obstacles=[{"name": "stone", "shape": "ball", "at": {"ahead": 0, "above_ground": 712, "out": 30}}])
    data["builds"]["swap"] = {"front": bench_setup(data) | {"hub_face_width": 2 * HUB_FACE + 60, "hub_height": 290}}
    where = axle(loads_profile(json.dumps(data)), "front", "swap").obstacles[0].points[0]
    assert where == (0, HUB_FACE + 30, 712 - HUB_HEIGHT)


def test_joints_low_points_rod_ends_and_the_hub_face_of_a_build() -> None:
    square = {"ahead": 5, "up": -120, "out": -50}
    rod = {"name": "arm", "shape": "rod", "from": square, "to": {"fixed_to": "knuckle", "at": square | {"up": 0}}}
    axis = {"lower": square, "upper": square | {"up": 150}}
    data = vehicle(
        suspension={"kind": "tape", "steering_axis": axis}, obstacles=[rod], low_points=[{"name": "sump", "at": square}]
    )
    data["builds"]["swap"] = {"front": bench_setup(data) | {"hub_face_at": {"ahead": 10, "up": 0, "out": 20}}}
    car = loads_profile(json.dumps(data))
    own, swap = axle(car, "front"), axle(car, "front", "swap")
    by_hand = (5, HUB_FACE - 50, -120)
    assert own.obstacles[0].points[0] == own.low_points[0].at == own.suspension.axis_lower == by_hand
    assert swap.hub_face_at == (10, HUB_FACE + 20, 0)


@pytest.mark.parametrize(
    ("at", "words"),
    [
        ({"clock": "13:30", "radius": 402, "out": 30}, r"at.clock: stone: \"13:30\" is not on a clock face"),
        ({"clock": "10:7", "radius": 402, "out": 30}, r"at.clock: stone: \"10:7\" is not on a clock face"),
        ({"clock": "10", "radius": 402, "out": 30}, r"at.clock: .*10 without quotes is degrees, 10:00 o'clock"),
        ({"ahead": 0, "out": 30}, r"at: stone: a point without up \(or above_ground\)"),
        ({"ahead": 0, "up": 1, "above_ground": 700, "out": 30}, r"at.above_ground: .*given twice"),
        ({"ahead": 0, "up": 1, "radius": 402, "out": 3}, r"at.radius: .*radius does not go with ahead, up"),
        ({"ahead": 0, "above_ground": 9000, "out": 30}, r"at.above_ground: .*not a plausible above_ground"),
        ({"ahead": 0, "up": 1, "oot": 30}, r"at.oot: .*unknown key \"oot\" of a point. Did you mean \"out\""),
    ],
)
def test_mistakes(at: dict[str, Any], words: str) -> None:
    with pytest.raises(ProfileError, match=words) as caught:
        profile(at)
    assert str(caught.value).count("\n") == 0


def test_the_baselines_hub_face_cannot_count_from_itself() -> None:
    with pytest.raises(ProfileError, match="hub_face_at: the baseline's own hub face is what ahead, up and out count"):
        profile([0, 900, 0], hub_face_at={"ahead": 0, "up": 0, "out": 1})


def test_a_clock_range_in_time_runs_clockwise() -> None:
    ring = {"name": "caliper", "shape": "ring", "outline": [[-70, 120], [-30, 120]]}
    for clock, degrees in ((["10:30", "1:00"], (45, 120)), (["2:00", "10:00"], (150, 390)), ([60, "1:00"], (60, 120))):
        data = vehicle(obstacles=[ring | {"clock": clock}])
        assert axle(loads_profile(json.dumps(data)), "front").obstacles[0].clock == degrees


@pytest.mark.parametrize(
    ("typed", "plain"),
    [
        ("10:30, 402, 30", {"clock": "10:30", "radius": 402, "out": 30}),
        ("10:30 402 30", {"clock": "10:30", "radius": 402, "out": 30}),
        ("12 o'clock, 402 +- 3, 30", {"clock": "12 o'clock", "radius": {"value": 402, "tolerance": 3}, "out": 30}),
        ("clock 12 o'clock, radius 402, out 30 hub",
         {"clock": "12 o'clock", "radius": 402, "out": 30, "square_to": "hub"}),
        ("ahead 0, up 402, out -30", {"ahead": 0, "up": 402, "out": -30}),
        ("ahead 0, above ground 712, out 30", {"ahead": 0, "above_ground": 712, "out": 30}),
    ],
)  # fmt: skip
def test_typed(typed: str, plain: Any) -> None:
    at = ("axles", "front", "obstacles", 0, "at")
    question = Question("axles/front/obstacles/{n}/at", "Centre", "point")
    assert read_answer(question, at, typed, words={"shape": "ball"}) == plain


# ---------------------------------------------------------------- flat walls


def wall(**given: Any) -> Any:
    data = vehicle(obstacles=[{"name": "wall", "shape": "panel", **given}])
    return axle(loads_profile(json.dumps(data)), "front").obstacles[0]


def test_a_wall_by_height_and_distance() -> None:
    low = [(x, HUB_FACE - 150, -100) for x in (-350, 350)]
    high = [(x, HUB_FACE - 150, 300) for x in (-350, 350)]
    assert wall(wall={"out": -150, "up": [-100, 300], "ahead": [-350, 350]}).points == (*low, *high)
    ground = {"out": -150, "above_ground": [HUB_HEIGHT - 100, HUB_HEIGHT + 300], "ahead": [-350, 350]}
    assert wall(wall=ground).points == (*low, *high)
    across = wall(wall={"out": -150, "up": [-100, 300]})
    assert (min(p[0] for p in across.points), max(p[0] for p in across.points), across.columns) == (-600, 600, 2)


def test_a_wall_by_three_corners() -> None:
    """The fourth corner stands opposite the middle one: a + c - b."""
    flat = wall(corners=[[-300, 640, 100], [-300, 620, 400], {"ahead": 200, "up": 420, "out": -120}])
    assert flat.points == ((-300, 640, 100), (-300, 620, 400), (200, 650, 120), (200, 630, 420))
    assert flat.columns == 2


def test_one_reading_moves_all_of_a_wall(tmp_path: Path) -> None:
    given = {"out": {"value": -150, "tolerance": 4}, "up": [-100, 300]}
    data = vehicle(obstacles=[{"name": "wall", "shape": "panel", "wall": given}])
    variants = ready(load_profile(write_profile(tmp_path, data)), "front").variants
    assert [v.reading for v in variants] == ["obstacles[wall].wall.out"]
    assert {p[1] for p in variants[0].axle.obstacles[0].points} == {HUB_FACE - 146}


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({}, r"obstacles\[0\]: wall: rows is missing.*or give corners or wall"),
        ({"wall": {"out": -150}}, r"wall: the wall's height is missing; give up or above_ground"),
        ({"wall": {"out": -150, "up": [300, -100]}}, r"wall.up: .*must rise; write \[-100, 300\]"),
        ({"wall": {"out": -150, "up": [0, 9], "above_ground": [1, 2]}}, r"height is twice, as up and above_ground"),
        ({"wall": {"up": [0, 9]}}, r"\.wall: wall: out is missing"),
        ({"corners": [[0, 700, 400], [100, 700, 400]]}, r"corners: wall: 2 values .*3 are expected"),
        ({"corners": [[0, 700, 400], [100, 700, 400], [200, 700, 400]]}, r"corners: wall: .*on one line"),
        ({"corners": [[0, 700, 400], [9, 700, 400], [9, 700, 4]], "wall": {"out": 0, "up": [0, 9]}},
         r"\.wall: wall: a panel is given by rows, corners or wall; keep one of corners and wall"),
    ],
)  # fmt: skip
def test_mistakes_of_a_wall(given: dict[str, Any], words: str) -> None:
    with pytest.raises(ProfileError, match=words) as caught:
        wall(**given)
    assert str(caught.value).count("\n") == 0


# ---------------------------------------------------------------- cautions


def warned(points: list[Any]) -> list[str]:
    lip = {"name": "lip", "shape": "edge", "points": points}
    car = loads_profile(json.dumps(vehicle(obstacles=[lip])))
    return [text for text in car.warnings if "lip:" in text]


def lip(*clocks: Any, radius: float = 400) -> list[Any]:
    return [{"clock": clock, "radius": radius, "out": 150} for clock in clocks]


@pytest.mark.parametrize("clocks", [(9, 10.5, 12), (10, "12:00", "2:00"), (11, 12, 1)])
def test_a_bare_number_that_may_be_oclock(clocks: tuple[Any, ...]) -> None:
    (text,) = warned(lip(*clocks))
    assert f"clock {clocks[0]:g} is taken as {clocks[0]:g} degrees" in text


@pytest.mark.parametrize("clocks", [(10, 50, 90), (0, 12, 24), ("9:00", "12:00", "3:00"), (10.3, 20), (350, 0, 30)])
def test_numbers_that_are_degrees(clocks: tuple[Any, ...]) -> None:
    assert warned(lip(*clocks)) == []


def test_bare_numbers_of_rings_calipers_low_points_and_joints() -> None:
    outline, point = [[-70, 120], [-30, 120]], {"clock": 5, "radius": 140, "out": -60}
    axis = {"lower": {"clock": 6, "radius": 150, "out": -50}, "upper": {"clock": 12, "radius": 150, "out": -60}}

    def said(**front: Any) -> list[str]:
        return [text for text in loads_profile(json.dumps(vehicle(**front))).warnings if "read as o'clock" in text]

    ring = {"name": "shield", "shape": "ring", "outline": outline}
    assert "shield: clock 10 is taken as 10 degrees" in said(obstacles=[ring | {"clock": [10, 12]}])[0]
    assert "caliper: clock 2 is taken" in said(brake={"caliper": {"outline": outline, "clock": [2, 4.5]}})[0]
    assert "sump: clock 5 is taken" in said(low_points=[{"name": "sump", "at": point}])[0]
    assert "suspension: clock 6 is taken" in said(suspension={"kind": "tape", "steering_axis": axis})[0]
    degrees = axis | {"lower": {"clock": 270, "radius": 150, "out": -50}}
    assert not said(suspension={"kind": "tape", "steering_axis": degrees}, obstacles=[ring | {"clock": [10, 60]}])
    assert not said(obstacles=[ring | {"clock": ["10:00", "12:00"]}, ring | {"name": "whole"}])


def test_angles_that_go_back_and_forth() -> None:
    (text,) = warned(lip(20, 90, 60, 130))
    assert "its angles go back and forth at points[1]" in text
    assert warned(lip(130, 90, 60, 20)) == []


@pytest.mark.parametrize("form", ["clock", "xyz", "square", "ground"])
@pytest.mark.parametrize("which", [0, 2, 4])
def test_a_point_far_off_the_curve(form: str, which: int) -> None:
    """Six points on a circle of 400; one of them misread by 100 mm (a tape's next hundred)."""
    points: list[Any] = []
    for i, clock in enumerate((20, 50, 80, 110, 140, 170)):
        radius = 400 + (100 if i == which else 0)
        x, z = radius * math.cos(math.radians(clock)), radius * math.sin(math.radians(clock))
        points.append(
            {
                "clock": {"clock": clock, "radius": radius, "out": 150},
                "xyz": [x, 900, z],
                "square": {"ahead": x, "up": z, "out": 150},
                "ground": {"ahead": x, "above_ground": z + HUB_HEIGHT, "out": 150},
            }[form]
        )
    (text,) = warned(points)
    assert f"points[{which}] lies 100 mm off the curve of the others in its radius" in text


def test_a_lip_that_is_none_of_a_circle_is_left_alone() -> None:
    """A squarish arch: flat top at 390, sides at 380, its corners stand 545 from the hub centre; in and out by 8."""
    arch = [[380, 905, -50], [380, 899, 200], [380, 897, 390], [0, 905, 390], [-380, 897, 390], [-380, 900, 200],
            [-380, 904, -50]]  # fmt: skip
    assert warned(arch) == []


def test_no_bundled_profile_is_cautioned() -> None:
    from fitment.profile import bundled_names

    said = [text for name in bundled_names() for text in load_profile(name).warnings]
    assert not [text for text in said if "curve of the others" in text or "back and forth" in text or "o'clock" in text]


# ---------------------------------------------------------------- schema for an editor


@pytest.mark.parametrize(
    ("spoiled", "sound"),
    [
        ({"at": {"ahead": 0, "out": 30}}, False),
        ({"at": {"clock": "10:30", "radius": 402, "out": 30, "ahead": 3}}, False),
        ({"measured_gap": {"to": "tire", "gap": 20, "along": "back"}}, False),
        ({"measured_gap": {"to": "tire", "gap": 20, "at": {"lock": "hard"}}}, False),
        ({"measured_gap": {"to": "rim_plane", "gap": -20, "at": {"lock": "left", "travel": 30}, "along": "out"}}, True),
        ({"at": {"clock": "12 o'clock", "radius": "16 in", "out": 30}}, True),
        ({"at": {"ahead": 0, "above_ground": 712, "out": 30}}, True),
    ],
)
def test_the_schema_takes_what_the_program_takes(spoiled: dict[str, Any], sound: bool) -> None:
    import jsonschema
    from conftest import run

    schema = json.loads(run("schema").stdout)
    wall = {"name": "wall", "shape": "panel", "wall": {"out": -150, "above_ground": [200, 600]}}
    flat = {"name": "flat", "shape": "panel", "corners": [[0, 700, 400], {"clock": "9:00", "radius": 400, "out": 0},
                                                          {"ahead": 9, "up": 4, "out": 0}]}  # fmt: skip
    ball = {"name": "stone", "shape": "ball", "at": {"ahead": 0, "up": 400, "out": 30}} | spoiled
    assert jsonschema.Draft202012Validator(schema).is_valid(vehicle(obstacles=[wall, flat, ball])) is sound
