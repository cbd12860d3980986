"""What hangs lowest: against the ground and the flat-tire line, worked by hand on the bench vehicle.

Its hub stands 310 above the ground; a 17 in rim has its bead seats at a radius of 436.6 / 2 (ISO 4000-2, from memory)
and a J flange 17.5 high (JIS D 4218:2021 table 3), so the edge of its rim stands 235.8 below the hub.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from conftest import bench_setup, run, run_json, vehicle, write_profile

Check = Callable[..., dict[str, Any]]
EDGE = 436.6 / 2 + 17.5
OVERALL = (8 + 1) * 25.4  # [mm] rim width + 2 x 12.7


def low(z: float | dict[str, float], x: float = 0.0, **more: Any) -> dict[str, Any]:
    return {"name": "skid", "at": [x, 300, z], **more}


def bare(**front: Any) -> dict[str, Any]:
    """The bench vehicle without its post and rail, which would stand in the ground."""
    return vehicle(**({"obstacles": []} | front))


def heights(answer: dict[str, Any], part: str = "skid") -> dict[str, tuple[float, float]]:
    """(above ground, above the flat-tire line) of a part by ride height."""
    return {
        each["ride"]: (each["above_ground_mm"], each["above_flat_line_mm"])
        for each in answer["ground"]["heights"]
        if each["part"] == part
    }


def judged(answer: dict[str, Any], item: str) -> tuple[str, str]:
    found = {each["item"]: (each["status"], each["detail"]) for each in answer["ground"]["checks"]}
    return found[item]


def two_axles(folder: Path, front: dict[str, Any], *, wheelbase: float | None = 2500) -> str:
    """A vehicle with two equal axles; in build `nosed` the rear stands at `low`, the front at `level`."""
    data = front
    data["axles"]["rear"] = bare()["axles"]["front"]
    for build in data["builds"].values():
        build["rear"] = dict(build["front"])
    data["builds"]["nosed"] = {
        "front": dict(bench_setup(data)),
        "rear": bench_setup(data) | {"ride": "low"},
    }
    if wheelbase is not None:
        data["wheelbase"] = wheelbase
    return write_profile(folder, data)


# ---------------------------------------------------------------- heights


def test_a_point_of_the_body_sinks_with_it(check: Check) -> None:
    found = heights(check(bare(low_points=[low(-200)])))
    for ride, travel in (("level", 0), ("low", 30), ("full bump", 50)):
        # the ground lies 310 below the hub, the hub stands `travel` up in the body
        assert found[ride] == pytest.approx((310 - travel - 200, EDGE - travel - 200))


def test_a_point_of_the_knuckle_stays_over_the_ground(check: Check) -> None:
    found = heights(check(bare(low_points=[low(-200, fixed_to="knuckle")])))
    assert len(found) == 3
    for each in found.values():
        assert each == pytest.approx((110, EDGE - 200))


def test_a_point_of_a_solid_axle_goes_with_it(check: Check) -> None:
    points = [{"name": "skid", "fixed_to": "axle", "at": [0, 0, -150]}]
    for each in heights(check(bare(suspension={"kind": "solid_axle"}, low_points=points))).values():
        assert each == pytest.approx((160, EDGE - 150))


def test_another_tire_and_another_wheel_move_ground_and_line(check: Check) -> None:
    data = bare(low_points=[low(-200)])
    tire = {"code": "225/40R18 92W XL", "section_width": 230, "on_rim": 8, "overall_diameter": 654}
    bench_setup(data, "lowered").update(wheel="18x8 ET0 5x114.3 CB67.1", tire=tire, ride="level")
    # 20 mm taller, pressed in by the 634 / 2 - 310 of the baseline's tire; seats of an 18 in rim: 462.0 (from memory)
    expected = (654 / 2 - 7 - 200, 462.0 / 2 + 17.5 - 200)
    assert heights(check(data, "--build", "lowered"))["level"] == pytest.approx(expected)
    assert heights(check(data, "--loaded-radius", "290"))["level"][0] == pytest.approx(90)


def test_camber_lowers_the_inner_edge_of_the_rim(check: Check) -> None:
    data = bare(suspension={"kind": "tape", "camber": -2.0}, low_points=[low(-200)])
    tilt = math.radians(2)  # top in: the inner edge goes down by half the overall width x sin
    line = EDGE * math.cos(tilt) + OVERALL / 2 * math.sin(tilt)
    assert heights(check(data))["level"][1] == pytest.approx(line - 200, abs=1e-3)


def test_obstacles_count_with_their_radius(check: Check) -> None:
    ends = {"from": {"at": [0, 400, -100]}, "to": {"at": [0, 600, -60]}}
    answer = check(bare(obstacles=[{"name": "bar", "shape": "rod", "radius": 20, **ends}]))
    assert heights(answer, "bar")["level"][0] == pytest.approx(310 - 100 - 20)
    status, words = judged(answer, "ground")
    assert status == "not_checked", "something may hang lower"
    assert words.startswith("bar is lowest, 190 mm above the ground at level")
    assert words.endswith("Only joints and parts in the profile were looked at: no low_points are given")


def test_hardpoints_count_by_their_centres() -> None:
    # pickup, factory: lower_ball at z = -150 in the reference pose, ride height 0, the hub at 352 as measured
    answer = run_json("check", "pickup", "--build", "factory", "--axle", "front")
    assert heights(answer, "lower ball")["factory"][0] == pytest.approx(352 - 150, abs=1e-3)


# ---------------------------------------------------------------- rake


def test_the_body_rakes_with_both_axles(tmp_path: Path) -> None:
    path = two_axles(tmp_path, bare(low_points=[low(-200, x=-500)]))
    answer = run_json("check", path, "--axle", "front", "--build", "nosed")
    # the rear has sunk by 30 in 2500: nose up; 500 behind the front axle the body has sunk by 6
    slope = 30 / 2500
    assert answer["ground"]["rake_deg"] == pytest.approx(-math.degrees(math.atan(slope)), abs=1e-4)
    assert heights(answer)["level"][0] == pytest.approx((310 - 200 - 6) / math.hypot(1, slope), abs=1e-3)
    # flat: the front stands on its rims, so the line runs from 235.8 below the front hub to 280 below the rear's place
    slope = (280 - EDGE) / 2500
    at = -EDGE - slope * 500
    assert heights(answer)["level"][1] == pytest.approx((-200 - at) / math.hypot(1, slope), abs=1e-3)


def test_rake_seen_from_the_rear_axle(tmp_path: Path) -> None:
    data = bare()
    path = two_axles(tmp_path, data)
    data["axles"]["rear"]["low_points"] = [low(-200, x=500)]
    path = write_profile(tmp_path, data)
    answer = run_json("check", path, "--axle", "rear", "--build", "nosed")
    # the rear hub stands 30 up in the body; 500 ahead of it the body has sunk by 6 less
    assert answer["ground"]["rake_deg"] == pytest.approx(-math.degrees(math.atan(30 / 2500)), abs=1e-4)
    assert heights(answer)["low"][0] == pytest.approx((310 - 30 - 200 + 6) / math.hypot(1, 30 / 2500), abs=1e-3)


def test_hub_heights_of_both_axles_are_their_own(tmp_path: Path) -> None:
    data = bare(low_points=[low(-200, x=-500)])
    two_axles(tmp_path, data)
    tall = {"code": "225/45R17 94W XL", "section_width": 230, "on_rim": 8, "overall_diameter": 674}
    for build in data["builds"].values():
        build["rear"]["tire"] = tall
    data["axles"]["rear"]["hub_height"] = 330
    answer = run_json("check", write_profile(tmp_path, data), "--axle", "front", "--build", "measured")
    assert answer["ground"]["rake_deg"] == pytest.approx(0), "as measured the body does not rake"
    assert heights(answer)["level"][0] == pytest.approx(110)


@pytest.mark.parametrize(
    ("change", "because"),
    [
        (lambda data: data["axles"].pop("rear") and [b.pop("rear") for b in data["builds"].values()], "no rear axle"),
        (lambda data: data.pop("wheelbase"), "no wheelbase"),
        (lambda data: data["builds"]["nosed"].pop("rear"), "build nosed names no wheel and tire for the rear axle"),
    ],
)
def test_without_both_axles_the_body_drops_parallel_and_it_is_said(
    tmp_path: Path, change: Callable[[dict[str, Any]], Any], because: str
) -> None:
    data = bare(low_points=[low(-200, x=-500)])
    two_axles(tmp_path, data)
    change(data)
    answer = run_json("check", write_profile(tmp_path, data), "--axle", "front", "--build", "nosed")
    assert answer["ground"]["rake_deg"] is None
    assert heights(answer)["level"][0] == pytest.approx(110)
    status, words = judged(answer, "ground")
    assert status == "ok"
    assert "the body is assumed to stand parallel to the ground, because " in words
    assert because in words


# ---------------------------------------------------------------- what is said


def test_words(check: Check) -> None:
    answer = check(bare(low_points=[low(-180)]))
    ground, flat = judged(answer, "ground"), judged(answer, "flat tire")
    assert ground[0] == flat[0] == "ok"
    assert ground[1].startswith("skid is lowest, 130 mm above the ground at level; low 100 mm")
    assert flat[1] == "skid stays 56 mm above the rim's edge at level; low 26 mm"


def test_less_than_the_common_height_is_a_caution_and_marked_as_common_practice(check: Check) -> None:
    status, words = judged(check(bare(low_points=[low(-215)])), "ground")
    assert status == "caution"
    assert "95 mm above the ground" in words
    assert "less than 100 mm (common practice, no published source; local rules decide)" in words


def test_hanging_below_the_rim_is_a_caution_in_the_first_lines(tmp_path: Path) -> None:
    path = write_profile(tmp_path, bare(low_points=[low(-240)]))
    result = run("check", path, "--full")
    head = " ".join(result.stdout.split("\n\n")[0].split())
    assert re.search("ground and bodywork, caution: .*flat tire", head)
    text = " ".join(result.stdout.split())
    # 240 - 235.8 at level; the body 30 lower at low
    assert (
        "flat tire: with a flat tire skid meets the ground before the rim does: it hangs 34 mm below the rim's" in text
    )
    assert "rim's edge at low; level 4 mm" in text
    assert "rubber under the rim is not counted" in text


def test_a_reading_nearer_to_the_line_than_its_tolerance_is_a_caution(check: Check) -> None:
    point = low({"value": -230, "tolerance": 8})
    data = bare(low_points=[point], ride_heights={"level": 0})
    data["builds"]["lowered"]["front"]["ride"] = 0
    status, words = judged(check(data), "flat tire")
    assert status == "caution"
    assert "6 mm above the rim's edge at level; at level that is less than the reading's own tolerance" in words


def test_full_bump_into_the_ground_is_a_caution(check: Check) -> None:
    # 50 of bump bring the ground to 260 below the place where the hub was
    status, words = judged(check(bare(low_points=[low(-265)])), "ground")
    assert status == "caution"
    assert "at full bump skid would hit the ground, 5 mm too low" in words


def test_a_part_whose_motion_is_not_known_is_not_checked_and_named(check: Check) -> None:
    answer = check(bare(low_points=[low(-180), {"name": "arm", "fixed_to": "lower_arm", "at": [0, 500, -250]}]))
    for item in ("ground", "flat tire"):
        status, words = judged(answer, item)
        assert status == "not_checked"
        assert words.endswith("; not checked: arm, because the motion of the lower_arm is not described")
    assert heights(answer, "arm") == {}


def test_nothing_known_is_not_checked(check: Check) -> None:
    answer = check(bare())
    for item in ("ground", "flat tire"):
        status, words = judged(answer, item)
        assert status == "not_checked"
        assert "low_points" in words


def test_inches(tmp_path: Path) -> None:
    text = " ".join(
        run("check", write_profile(tmp_path, bare(low_points=[low(-180)])), "--units", "in", "--full").stdout.split()
    )
    assert "skid is lowest, 5 1/8 in above the ground at level" in text  # 310 - 180 = 130 mm = 5.118 in


# ---------------------------------------------------------------- the profile


@pytest.mark.parametrize(
    ("points", "words"),
    [
        (
            [low(-200, fixed_to="axle")],
            r'low_points\[0\]\.fixed_to.*"axle" does not exist in a suspension of kind tape',
        ),
        ([low(-200), low(-150)], 'the name "skid" is used twice'),
        ([{"name": "skid"}], "at is missing"),
        ([low(-2000)], "z of a point"),
        ([low(-200, radius=3)], 'unknown key "radius"'),
    ],
)
def test_bad_low_points(tmp_path: Path, points: list[dict[str, Any]], words: str) -> None:
    result = run("check", write_profile(tmp_path, bare(low_points=points)))
    assert result.exit_code == 2
    assert re.search(words, result.stderr), result.stderr


def test_a_clock_point_is_placed_from_the_hub_face(check: Check) -> None:
    point = {"name": "skid", "at": {"clock": 270, "radius": 180, "out": -60}}
    assert heights(check(bare(low_points=[point])))["level"][0] == pytest.approx(130)
