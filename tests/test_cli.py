"""The commands as a person and as a program see them: whole lines of text, the JSON of the contract, exit codes.

Numbers on the bench vehicle are worked in conftest.py; what else is expected is written as a formula.
"""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
import shapely
from conftest import (
    DIAMETER,
    HUB_FACE,
    POST,
    RAIL,
    SEAT,
    TIRE,
    WIDTH,
    bench_setup,
    bolt_on,
    least,
    run,
    run_json,
    steered,
    vehicle,
    write_profile,
)

from fitment.profile.yaml_core import load_file

BUNDLED = Path(__file__).parent.parent / "profiles"


@pytest.fixture
def bench(tmp_path: Path) -> str:
    return write_profile(tmp_path, vehicle())


@pytest.fixture
def two_axles(tmp_path: Path) -> str:
    data = vehicle()
    data["axles"]["rear"] = data["axles"]["front"]
    for build in data["builds"].values():
        build["rear"] = build["front"]
    return write_profile(tmp_path, data, "two.yaml")


def touching() -> dict[str, Any]:
    """The bench vehicle with the post 10 mm inside the tire's side."""
    y = HUB_FACE + WIDTH / 2 - 10
    post = {"name": "post", "shape": "edge", "points": [[0, y, -450], [0, y, 450]], "meets": "tire"}
    return vehicle(obstacles=[post])


# ---------------------------------------------------------------- text


def test_check_text_line_by_line(bench: str) -> None:
    lines = run("check", bench, "--full").stdout.splitlines()
    # by hand: 25, 25.7 and 53 mm, see conftest; with the largest tire 1.04 x 230 wide and 432 + 2 x 101 x 1.04
    # across: 140 - 119.6 = 20.4 and 420 - 321.04 - 50 = 48.96; J flange 17.5 mm (JIS D 4218:2021 table 3, read)
    # on a seat of 436.6 mm (ISO 4000-2, recalled): 420 - 50 - 235.8 = 134.2; at rest, 50 lower, 103.0 and 184.2
    # the post reaches 450 below the hub, which stands 310 above the ground
    # the post stands 140 out, all along the way off: straight in front of the wheel
    assert lines[:18] == [
        "CLEARS  front, build measured: 17x8 ET0 5x114.3 CB67.1 with 225/45R17 94W XL (level, travel +0 mm at",
        "  rest)",
        "  Look at this first: no steering is given, so the wheel was looked at straight ahead only; give",
        "    lock_left and lock_right under steering, as read or assumed (front axle).",
        "  tightest: tire to post, 25.0 mm at travel +0 mm, steer +0.0 deg; 5.0 mm required",
        "  bolt-on, not checked: rotor register, studs, nuts, caliper in the wheel, wheel load, speed symbol;",
        "  ground and bodywork, caution: ground, flat tire, taking the wheel off; ground and bodywork, not",
        "  checked: bodywork cover; not checked: in service (tire growth, cornering, braking, runout):",
        "  `service: usual` in the profile counts it",
        "",
        "  closest approach  clearance   at rest  required  worst case  travel     steer",
        "  tire - post         25.0 mm   25.0 mm    5.0 mm     20.4 mm   +0 mm  +0.0 deg",
        "  wheel - post        25.7 mm   25.7 mm    3.0 mm     25.7 mm   +0 mm  +0.0 deg",
        "  tire - rail         53.0 mm  103.0 mm    5.0 mm     49.0 mm  +50 mm  +0.0 deg",
        "  wheel - rail       134.2 mm  184.2 mm    3.0 mm    134.2 mm  +50 mm  +0.0 deg",
        "  at rest: straight ahead at travel +0 mm, where a tape can check it",
        "",
        "Where the parts come from",
    ]
    for line in (
        "Bolt-on",
        "  ok          bolt circle: 5x114.3 mm on the hub's 5x114.3 mm",
        "  ok          centre bore: bore 67.1 mm sits on the 67.1 mm register",
        "  ok          load: two tires carry 1340 kg, the axle load is 900 kg",  # load index 94: 670 kg each
        "Cautions",
    ):
        assert line in lines
    assert lines.index("Bolt-on") < lines.index("Cautions")


def test_check_says_what_it_did_not_look_at_and_asks_for_a_test_fit(bench: str) -> None:
    text = " ".join(run("check", bench, "--full").stdout.split())
    for words in (
        "not checked studs: pad thickness at the stud holes is unknown; ask the seller",
        "A tire bulges where it stands on the ground; that is not counted.",
        "Before driving, test fit through full travel and lock on both sides",
        "Local rules and a licensed mechanic decide",
    ):
        assert words in text


def test_touching_text(tmp_path: Path) -> None:
    result = run("check", write_profile(tmp_path, touching()), "--full")
    assert result.exit_code == 1
    lines = result.stdout.splitlines()
    assert lines[0].startswith("TOUCHES  front, build measured: ")
    # as deep at every travel, so that any of them may be named
    words = r"  tire overlaps post by 10\.0 mm at travel [+-]\d+ mm, steer \+0\.0 deg; 5\.0 mm required"
    told = [line for line in lines if re.fullmatch(words, line)]
    row = r"tire - post -10\.0 mm -10\.0 mm 5\.0 mm -14\.6 mm [+-]\d+ mm \+0\.0 deg overlap"
    assert len(told + [line for line in lines if re.fullmatch(row, " ".join(line.split()))]) == 2
    assert lines.index(told[0]) < lines.index("")


def test_compare_text_line_by_line(tmp_path: Path) -> None:
    data = vehicle()
    bench_setup(data, "lowered")["wheel"] = "17x8 ET-12.7 5x114.3 CB67.1"  # half an inch further out
    lines = run("compare", write_profile(tmp_path, data), "measured", "lowered", "--full").stdout.splitlines()
    assert lines[0] == "CLEARS  front: measured -> lowered"
    table = [re.split(r"\s{2,}", line.strip()) for line in lines]
    overall = 8 * 25.4 + 2 * 12.7
    for row in (
        ["at rest, straight ahead", "measured", "lowered", "change"],
        ["ride height (travel at rest)", "0 mm", "30 mm", "+30 mm"],
        ["outer wheel face, outward", f"{HUB_FACE + overall / 2:.1f} mm", f"{HUB_FACE + overall / 2 + 12.7:.1f} mm",
         "+12.7 mm"],
        ["tire's inner side, outward", "635.0 mm", "647.7 mm", "+12.7 mm"],
        ["track at the ground", "1500.0 mm", "1525.4 mm", "+25.4 mm"],
        ["backspacing", f"{overall / 2:.1f} mm", f"{overall / 2 - 12.7:.1f} mm", "-12.7 mm"],
        ["camber", "+0.00 deg", "+0.00 deg", "+0.00 deg"],
        ["tire - post", "25.0 mm", "12.3 mm", "5.0 mm", "travel +30 mm, steer +0.0 deg"],
    ):  # fmt: skip
        assert row in table


def test_no_output_shows_a_negative_zero(tmp_path: Path) -> None:
    path = write_profile(tmp_path, steered())
    compared = ["compare", path, "measured", "lowered"]
    full = [["check", path, "--full"], [*compared, "--full"]]
    for command in (["check", path], compared, *full, ["poses", path], ["show", path]):
        assert not re.search(r" -0(\.0+)?(\s|$)", run(*command).stdout), command


def test_poses_text(tmp_path: Path) -> None:
    path = write_profile(tmp_path, steered())
    lines = run("poses", path, "--travel", "0", "--steer=-90,0").stdout.splitlines()
    # an upright steering axis 50 inboard of the hub face: a quarter turn right brings the hub face to y = 700
    assert lines[0] == "front"
    cells = [re.split(r"\s{2,}", line.strip()) for line in lines[1:]]
    heading = ["travel", "steer", "toe-in", "camber", "caster", "kingpin incl."]
    heading += ["scrub radius", "trail", "hub face y"]
    assert cells[0] == heading
    assert cells[1][-2:] == ["700.0 mm", "beyond the travel or steering limits of the profile"]
    assert cells[2] == ["+0 mm", *["+0.00 deg"] * 5, "50.0 mm", "0.0 mm", "750.0 mm"]


def test_tire_text() -> None:
    lines = run("tire", "305/45R20 112W XL").stdout.splitlines()
    assert lines[0] == "305/45R20 112W XL"
    cells = dict(re.split(r"\s{2,}", line.strip(), maxsplit=1) for line in lines[1:13])
    # UN R30 6.1.2 (from memory): H = 305 x 0.45 = 137.25 -> 137, D = 508 + 2 x 137
    assert cells["section height"] == "137 mm"
    assert cells["overall diameter"] == "782 mm"
    # UN R30 6.1.5 (from memory): 508 + 2 x 137 x 0.97 = 773.78 and 508 + 2 x 137 x 1.04 = 792.96
    assert cells["smallest, largest"] == "774 mm to 793 mm"
    assert cells["load"] == "index 112: 1120 kg a tire"  # load index table, read in secondary pages
    assert cells["speed"] == "W: 270 km/h"


def test_wheel_text() -> None:
    lines = run("wheel", "20x10 ET25 6x5.5in CB78.1").stdout.splitlines()
    assert lines[0] == "20x10 ET25 6x139.7 CB78.1"
    cells = dict(re.split(r"\s{2,}", line.strip(), maxsplit=1) for line in lines[1:9])
    overall = 10 * 25.4 + 2 * 12.7
    assert cells["overall width"] == f"{overall:.1f} mm"
    assert cells["backspacing"].startswith(f"{overall / 2 + 25:.1f} mm")
    assert cells["outer rim edge"].startswith(f"{overall / 2 - 25:.1f} mm outboard of the hub face")
    assert cells["inner rim edge"].startswith(f"{overall / 2 + 25:.1f} mm inboard of the hub face")
    assert cells["bolt circle"] == f"6 on {5.5 * 25.4:.1f} mm"


def test_show_lists_every_obstacle_where_it_was_understood(bench: str) -> None:
    lines = run("show", bench).stdout.splitlines()
    assert lines[0] == "Bench vehicle (invented)"
    assert "builds: measured, lowered (baseline: measured)" in lines
    rows = [re.split(r"\s{2,}", line.strip()) for line in lines]
    assert ["post", "edge", "body", "0 mm", f"{POST:.0f} mm", "-450 mm to 450 mm"] in rows
    assert ["rail", "edge", "body", "0 mm", "500 mm to 1000 mm", f"{RAIL:.0f} mm"] in rows


# ---------------------------------------------------------------- inches


def everything_in_inches(tmp_path: Path) -> list[list[str]]:
    """Commands whose text holds every kind of sentence: failed checks, cautions, overlaps, limits, refusals."""
    data = steered(ride_heights={"level": 0, "low": 30, "slammed": 90})
    front = data["axles"]["front"]
    front["brake"] = {"rotor": {"bore": 68}, "caliper": {"outline": [[-90, 100], [-90, 170], [-20, 170], [-20, 100]]}}
    front["hub"]["rotor_register"] = {"diameter": 67.1}
    bench_setup(data, "lowered").update(wheel={"spec": "17x8 ET-30 5x114.3 CB72.6", "pad_thickness": 12}, spacer=10)
    data["builds"]["wrong"] = {"front": bench_setup(data) | {"wheel": "17x8 ET0 5x120 CB60"}}
    path = write_profile(tmp_path, data, "inches.yaml")
    (tmp_path / "list.csv").write_text(
        "wheel,tire,spacer,ride\n17x8 ET0,225/45R17,,\n17x8 ET0,225/45R17,900,\n17x8 ET0,225/45R17,,9999\n"
    )
    return [
        ["check", path],
        ["check", path, "--full"],
        ["check", path, "--build", "lowered", "--full"],
        ["check", path, "--build", "wrong", "--full"],
        ["check", path, "--ride", "slammed", "--full"],
        ["compare", path, "measured", "lowered"],
        ["compare", path, "measured", "lowered", "--full"],
        ["show", path],
        ["poses", path, "--travel=-50,0,999"],
        ["screen", path, str(tmp_path / "list.csv"), "--format", "text"],
        ["tire", "305/45R20 112W XL", "33x12.50R20LT"],
        ["wheel", "20x10 ET25 6x139.7 CB78.1", "20x10 BS 6.5in"],
        ["check", "wagon", "--axle", "front", "--full"],
        ["show", "pickup"],
    ]


@pytest.mark.slow
def test_inches_leave_no_bare_millimetres(tmp_path: Path) -> None:
    """`--units in`: no number with mm but offsets and bores, which the trade writes in mm everywhere."""
    for command in everything_in_inches(tmp_path):
        in_mm, in_inch = (" ".join(run(*command, "--units", units).stdout.split()) for units in ("mm", "in"))
        assert " mm" in in_mm
        # as the trade writes them: offsets and backspacing, bores and registers, and what circles differ by
        left = re.sub(r"ET-?\d+(\.\d+)? mm|BS \d+(\.\d+)?mm|register is [\d.]+ mm|\d on [\d.]+ mm", "", in_inch)
        left = re.sub(r"bore [\d.]+ mm( is [\d.]+ mm)?|[\d.]+ mm (register|bore|inside|outside)", "", left)
        left = re.sub(r"too small for( the)? [\d.]+ mm|the bore is [\d.]+ mm|5x114.3: [\d.]+ mm apart", "", left)
        bare = re.findall(r"(?<![\w.])[+-]?\d[\d.]* ?mm\b", left)
        assert not bare, command
        # a range such as -50 to 50 mm has both of its ends turned
        for first, last in re.findall(r"([+-]?\d+(?:\.\d+)?) to ([+-]?\d+(?:\.\d+)?) mm\b", in_mm):
            assert not re.search(rf"(?<![\d.]){re.escape(first)} to {re.escape(last)} ", left), (command, first, last)


def test_inches_are_the_same_lengths(bench: str) -> None:
    lines = run("check", bench, "--units", "in", "--full").stdout.splitlines()
    cells = [re.split(r"\s{2,}", line.strip()) for line in lines]
    row = next(row for row in cells if row[0] == "tire - post")
    assert row[1:5] == [f"{length / 25.4:.2f} in" for length in (25, 25, 5, 140 - 115 * 1.04)]


def test_json_is_in_mm_whatever_the_units(bench: str) -> None:
    mm, inch = (run("check", bench, "--format", "json", "--units", units).stdout for units in ("mm", "in"))
    assert mm == inch


# ---------------------------------------------------------------- JSON


def assert_keys(found: dict[str, Any], keys: str) -> None:
    missing = set(keys.split()) - set(found)
    assert not missing


CHECK = "profile axle build setup verdict worst clearances bolt_on change cautions"
CLEARANCE = "obstacle part travel_mm steer_deg clearance_mm worst_case_mm allowance_mm margin_mm point_mm"


def test_check_json(bench: str) -> None:
    found = run_json("check", bench, "--axle", "front")
    assert_keys(found, CHECK)
    assert found["axle"] == "front"
    assert found["build"] == "measured"
    assert found["profile"] == "Bench vehicle (invented)"
    assert_keys(found["setup"], "wheel tire spacer_mm ride_mm")
    assert found["setup"]["spacer_mm"] == 0
    assert found["verdict"] == "clears"
    for entry in (found["worst"], *found["clearances"]):
        assert_keys(entry, CLEARANCE)
        assert entry["part"] in ("tire", "wheel")
        assert len(entry["point_mm"]) == 3
        assert entry["margin_mm"] == pytest.approx(entry["clearance_mm"] - entry["allowance_mm"], abs=2e-4)
    assert found["worst"] in found["clearances"]
    assert found["worst"]["margin_mm"] == min(entry["margin_mm"] for entry in found["clearances"])
    assert least(found, "post") == pytest.approx(POST - HUB_FACE - WIDTH / 2, abs=1e-3)
    assert found["worst"]["point_mm"][:2] == [0, POST]
    poses = {(entry["travel_mm"], entry["steer_deg"]) for entry in found["clearances"]}
    assert len(found["clearances"]) == 2 * 2 * len(poses), "every obstacle x part x pose"
    assert {-50, 0, 30, 50} <= {travel for travel, _ in poses}, "droop, every ride height and bump"
    for entry in found["bolt_on"]:
        assert set(entry) == {"item", "status", "detail", "numbers"}
        assert entry["status"] in ("ok", "caution", "fail", "not_checked")
    assert set(found["change"].values()) == {0}, "the baseline against itself"
    assert all(isinstance(words, str) for words in found["cautions"])


def test_check_without_axle_is_a_list(bench: str, two_axles: str) -> None:
    assert [entry["axle"] for entry in run_json("check", bench)] == ["front"]
    both = run_json("check", two_axles)
    assert [entry["axle"] for entry in both] == ["front", "rear"]
    assert both[0]["clearances"] == both[1]["clearances"]


def test_change_is_counted_against_the_baseline(bench: str) -> None:
    change = run_json("check", bench, "--axle", "front", "--wheel", "17x8 ET-12.7", "--spacer", "5")["change"]
    assert change["outer_face"] == pytest.approx(12.7 + 5)
    assert change["track"] == pytest.approx(2 * (12.7 + 5))
    assert change["backspacing"] == pytest.approx(-12.7)
    assert change["hub_face"] == 0


def test_geometry(tmp_path: Path) -> None:
    data = vehicle()
    data["axles"]["front"]["obstacles"] += [
        {"name": "stone", "shape": "ball", "radius": 7, "at": [100, 900, 100]},
        {"name": "lug", "shape": "ball", "radius": 7, "at": [0, 600, 0], "fixed_to": "knuckle"},
        {"name": "wall", "shape": "panel", "rows": [[[-9, 950, 0], [9, 950, 0]], [[-9, 950, 9], [9, 950, 9]]]},
        {"name": "shield", "shape": "ring", "outline": [[-70, 150], [-60, 160]], "clock": [10, 350]},
        {"name": "bar", "shape": "rod", "radius": 5, "from": [-50, 500, 0], "to": [50, 500, 0]},
    ]
    path = write_profile(tmp_path, data)
    found = run_json("check", path, "--axle", "front", "--geometry")
    assert "poses" not in run_json("check", path, "--axle", "front")
    assert_keys(found, f"{CHECK} poses sections obstacles")
    poses = found["poses"]
    for pose in poses:
        assert_keys(pose, "travel_mm steer_deg origin_mm rotation")
        # pure travel: the hub face is at its reference place, moved up, and does not turn
        assert pose["origin_mm"] == pytest.approx([0, HUB_FACE, pose["travel_mm"]], abs=1e-4)
        assert [len(row) for row in pose["rotation"]] == [3, 3, 3]
        assert np.array(pose["rotation"]) == pytest.approx(np.eye(3), abs=1e-12)
    tire = found["sections"]["tire"]
    assert tire[0] == tire[-1], "closed"
    assert max(y for y, _ in tire) == pytest.approx(WIDTH / 2)
    assert min(y for y, _ in tire) == pytest.approx(-WIDTH / 2)
    assert max(r for _, r in tire) == pytest.approx(DIAMETER / 2)
    assert max(y for y, _ in found["sections"]["wheel"]) == pytest.approx((8 + 1) * 25.4 / 2)
    placed = {obstacle["name"]: obstacle for obstacle in found["obstacles"]}
    assert {name: obstacle["shape"] for name, obstacle in placed.items()} == {
        "post": "edge", "rail": "edge", "stone": "ball", "lug": "ball", "wall": "panel", "shield": "ring", "bar": "rod"
    }  # fmt: skip
    assert placed["stone"]["radius_mm"] == 7
    assert all(len(placed[name]["placed"]) == len(poses) for name in placed if name != "shield")
    assert placed["post"]["placed"][0] == [[0, POST, -450], [0, POST, 450]]
    assert placed["stone"]["placed"] == [[100, 900, 100]] * len(poses)
    carried = [[0, 600, pose["travel_mm"]] for pose in poses]
    assert np.array(placed["lug"]["placed"]) == pytest.approx(np.array(carried), abs=1e-4), "carried by the knuckle"
    assert placed["wall"]["placed"][0] == [[[-9, 950, 0], [9, 950, 0]], [[-9, 950, 9], [9, 950, 9]]]


def test_smooth_edge_is_placed_as_the_curve(tmp_path: Path) -> None:
    points = [[-300, 900, 300], [0, 900, 420], [300, 900, 300]]
    data = vehicle(obstacles=[{"name": "lip", "shape": "edge", "smooth": True, "points": points}])
    found = run_json("check", write_profile(tmp_path, data), "--axle", "front", "--geometry")
    line = found["obstacles"][0]["placed"][0]
    assert len(line) > 20
    assert all(point in line for point in points)
    # the natural spline through three points of equal spacing: half way along a piece it stands above the chord
    # by 3/32 of the second difference, here of (300 - 2 x 420 + 300)
    x, _, z = np.array(line).T
    assert np.interp(-150, x, z) == pytest.approx(360 + 3 / 32 * 240, abs=0.03)  # 10 mm chords on this curve


def test_compare_json(tmp_path: Path) -> None:
    data = vehicle()
    bench_setup(data, "lowered")["wheel"] = "17x8 ET-12.7 5x114.3 CB67.1"
    found = run_json("compare", write_profile(tmp_path, data), "measured", "lowered", "--axle", "front")
    assert_keys(found, "profile axle verdict old new differences")
    for build in ("old", "new"):
        assert_keys(found[build], CHECK)
    assert found["old"]["build"] == "measured"
    assert found["new"]["build"] == "lowered"
    assert found["differences"]["outer_face"] == pytest.approx(12.7)
    assert found["differences"]["ride"] == 30


POSE = (
    "travel_mm rack_mm steer_deg toe_in_deg camber_deg caster_deg kingpin_inclination_deg scrub_radius_mm "
    "mechanical_trail_mm hub_face_mm spin_axis reachable within_limits reason"
)


def test_poses_json(tmp_path: Path) -> None:
    path = write_profile(tmp_path, steered())
    found = run_json("poses", path, "--axle", "front", "--travel=-50,0,60", "--steer=-30,0,31")
    assert set(found) >= {"axle", "poses"}
    order = [(pose["travel_mm"], pose["steer_deg"]) for pose in found["poses"]]
    assert order == [(t, s) for t in (-50, 0, 60) for s in (-30, 0, 31)], "the grid travel x steer, in that order"
    for pose in found["poses"]:
        assert_keys(pose, POSE)
        assert pose["reachable"] is True
        assert pose["within_limits"] is (pose["travel_mm"] <= 50 and pose["steer_deg"] <= 30)
        assert (pose["reason"] is None) is pose["within_limits"]
        assert pose["rack_mm"] is None, "a tape-measured suspension describes no rack"
        assert len(pose["hub_face_mm"]) == len(pose["spin_axis"]) == 3


def test_scrub_radius_is_taken_for_the_build_or_a_loaded_radius(tmp_path: Path) -> None:
    # a steering axis that leans in by 100 over 300: at the ground, loaded radius R below the hub, it stands
    # (R - 150) / 3 further out than its lower point at y = 700, whatever the travel
    data = steered()
    data["axles"]["front"]["suspension"]["steering_axis"] = {"lower": [0, 700, -150], "upper": [0, 600, 150]}
    path = write_profile(tmp_path, data)
    for options, radius in (([], 310), (["--loaded-radius", "300"], 300), (["--loaded-radius", "12in"], 12 * 25.4)):
        pose = run_json("poses", path, "--axle", "front", "--travel", "0", "--steer", "0", *options)["poses"][0]
        assert pose["scrub_radius_mm"] == pytest.approx(HUB_FACE - (700 + (radius - 150) / 3), abs=1e-6)


TIRE_KEYS = (
    "code nominal_width_mm aspect_ratio rim_diameter_in measuring_rim_in rim_min_in rim_max_in rim_in "
    "section_width_mm section_height_mm overall_diameter_mm section_width_max_mm overall_diameter_min_mm "
    "overall_diameter_max_mm load_index load_kg speed_symbol speed_kmh revs_per_km cautions"
)
WHEEL_KEYS = (
    "spec rim_diameter_in rim_width_in offset_mm backspacing_mm overall_width_mm lugs bolt_circle_mm centre_bore_mm"
)


def test_tire_json() -> None:
    found = run_json("tire", "305/45R20 112W XL", "33x12.50R20LT", "--rim", "10")
    assert [entry["code"] for entry in found] == ["305/45R20 112W XL", "33x12.50R20LT"]
    for entry in found:
        assert_keys(entry, TIRE_KEYS)
        assert entry["rim_in"] == 10
    assert found[0]["load_kg"] == 1120
    assert found[1]["aspect_ratio"] is None
    assert found[1]["load_index"] is None
    assert found[1]["speed_kmh"] is None


def test_wheel_json() -> None:
    found = run_json("wheel", "20x10 ET25", "20x10 BS 6.5in 6x5.5in CB78.1")
    for entry in found:
        assert_keys(entry, WHEEL_KEYS)
    assert found[0]["lugs"] is found[0]["bolt_circle_mm"] is found[0]["centre_bore_mm"] is None
    assert found[1]["offset_mm"] == pytest.approx(6.5 * 25.4 - (10 + 1) * 25.4 / 2)
    assert found[1]["bolt_circle_mm"] == pytest.approx(5.5 * 25.4)


ANSWER = [
    "verdict", "rank", "clearance_mm", "worst_case_mm", "limited_by", "travel_mm", "steer_deg",
    "offset_min_mm", "offset_max_mm", "reason", "margin_mm", "part", "gap_mm",
]  # fmt: skip


def test_screen_json_and_csv(bench: str, tmp_path: Path) -> None:
    rows = tmp_path / "list.csv"
    rows.write_text("shop,wheel,tire\nA,17x8 ET0 5x114.3 CB67.1,225/45R17 94W\n")
    found = run_json("screen", bench, str(rows))
    assert [list(row) for row in found] == [["shop", "wheel", "tire", *ANSWER]]
    table = list(csv.reader(run("screen", bench, str(rows), "--format", "csv").stdout.splitlines()))
    assert table[0] == ["shop", "wheel", "tire", *ANSWER]
    assert table[1][:5] == ["A", "17x8 ET0 5x114.3 CB67.1", "225/45R17 94W", "clears", "1"]
    assert found[0]["clearance_mm"] == float(table[1][5])


def test_show_json(bench: str) -> None:
    found = run_json("show", bench, "--axle", "front")
    assert found["hub_face_mm"] == [0, HUB_FACE, 0]
    assert found["obstacles"][0]["points_mm"] == [[0, POST, -450], [0, POST, 450]]


# ---------------------------------------------------------------- exit codes, axles, builds


def test_exit_codes(bench: str, two_axles: str, tmp_path: Path) -> None:
    assert run("check", bench).exit_code == 0
    assert run("check", write_profile(tmp_path, touching(), "touching.yaml")).exit_code == 1
    assert run("check", bench, "--wheel", "17x8 ET0 5x115 CB67.1").exit_code == 1, "does not bolt on"
    assert run("check", bench, "--wheel", "17x8 ET-22 5x114.3 CB67.1").exit_code == 1, "3 mm where 5 are required"
    assert run("compare", bench, "measured", "lowered").exit_code == 0
    assert run("check", two_axles).exit_code == 0
    for fine in (["show", bench], ["poses", bench], ["schema"], ["tire", "225/45R17"], ["wheel", "17x8 ET0"]):
        assert run(*fine).exit_code == 0
    for word in ("--help", "-h", "--version"):
        assert run(word).exit_code == 0


def test_compare_exit_code_is_the_new_builds(tmp_path: Path) -> None:
    data = vehicle()
    bench_setup(data, "lowered")["wheel"] = "17x8 ET-40 5x114.3 CB67.1"
    path = write_profile(tmp_path, data)
    assert run("compare", path, "measured", "lowered").exit_code == 1
    assert run("compare", path, "lowered", "measured").exit_code == 0


def test_one_axle_that_does_not_clear_decides_the_exit_code(two_axles: str) -> None:
    data = json.loads(Path(two_axles).read_text())
    data["builds"]["measured"]["rear"]["wheel"] = "17x8 ET-40 5x114.3 CB67.1"
    Path(two_axles).write_text(json.dumps(data))
    assert run("check", two_axles).exit_code == 1
    assert run("check", two_axles, "--axle", "front").exit_code == 0
    assert run("check", two_axles, "--axle", "rear").exit_code == 1


def test_build_and_options_choose_the_setup(bench: str) -> None:
    named = run_json("check", bench, "--axle", "front", "--build", "lowered")
    assert named["setup"] | {"ride_mm": 0} == run_json("check", bench, "--axle", "front")["setup"] | {
        "ride": "low",
        "ride_mm": 0,
    }
    assert named["setup"]["ride_mm"] == 30
    own = run_json("check", bench, "--axle", "front", "--tire", "225/45R17", "--ride", "1 in", "--spacer", "1/2 in")
    assert own["setup"] == {
        "wheel": "17x8 ET0 5x114.3 CB67.1", "tire": "225/45R17", "spacer_mm": 12.7, "ride_mm": 25.4, "ride": None
    }  # fmt: skip


def test_an_axle_without_a_setup_is_passed_over(two_axles: str) -> None:
    data = json.loads(Path(two_axles).read_text())
    del data["builds"]["lowered"]["rear"]
    Path(two_axles).write_text(json.dumps(data))
    assert [entry["axle"] for entry in run_json("check", two_axles, "--build", "lowered")] == ["front"]
    assert run("check", two_axles, "--build", "lowered", "--axle", "rear").exit_code == 2


# ---------------------------------------------------------------- files


@pytest.mark.slow
@pytest.mark.parametrize(
    ("command", "suffixes"),
    [
        ("check {}", "png svg pdf json csv"),
        ("compare {} measured lowered", "png svg pdf json"),
        ("show {}", "png svg pdf json"),
        ("poses {}", "png svg pdf json csv"),
    ],
)
def test_out_writes_what_its_suffix_says(bench: str, tmp_path: Path, command: str, suffixes: str) -> None:
    starts = {"png": b"\x89PNG\r\n\x1a\n", "svg": b"<?xml", "pdf": b"%PDF-"}
    for suffix in suffixes.split():
        target = tmp_path / "made" / f"answer.{suffix}"
        target.parent.mkdir(exist_ok=True)
        result = run(*command.format(bench).split(), "--axle", "front", "--out", str(target))
        assert result.exit_code == 0, result.output
        assert result.stderr == f"wrote {target}\n"
        assert result.stdout, "the text is printed too"
        content = target.read_bytes()
        if suffix == "json":
            json.loads(content)
        elif suffix == "csv":
            rows = list(csv.reader(content.decode().splitlines()))
            assert len(rows) > 2
            assert {len(row) for row in rows} == {len(rows[0])}
        else:
            assert content.startswith(starts[suffix])
    assert {path.suffix for path in (tmp_path / "made").iterdir()} == {f".{s}" for s in suffixes.split()}


def test_out_json_is_what_format_json_prints(bench: str, tmp_path: Path) -> None:
    for command in (["check", bench], ["compare", bench, "measured", "lowered"], ["poses", bench], ["show", bench]):
        for axle in ([], ["--axle", "front"]):
            target = tmp_path / "answer.json"
            printed = run(*command, *axle, "--format", "json").stdout
            run(*command, *axle, "--out", str(target))
            assert json.loads(target.read_text()) == json.loads(printed), command


def test_a_picture_of_each_axle(two_axles: str, tmp_path: Path) -> None:
    result = run("check", two_axles, "--out", str(tmp_path / "sheet.svg"))
    assert result.stderr.splitlines() == [f"wrote {tmp_path / f'sheet-{axle}.svg'}" for axle in ("front", "rear")]
    assert not (tmp_path / "sheet.svg").exists()


def test_an_old_file_is_replaced(bench: str, tmp_path: Path) -> None:
    target = tmp_path / "answer.json"
    target.write_text("old")
    target.chmod(0o640)
    assert run("check", bench, "--out", str(target)).exit_code == 0
    assert target.read_text().startswith("[")


# ---------------------------------------------------------------- schema, help


def test_schema_is_sound_and_accepts_the_bundled_profiles() -> None:
    schema = json.loads(run("schema").stdout)
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    for path in sorted(BUNDLED.glob("*.yaml")):
        assert [error.message for error in validator.iter_errors(load_file(path).data)] == [], path.name
    for data in (vehicle(), steered()):
        assert list(validator.iter_errors(data)) == []
    wrong = vehicle()
    wrong["axles"]["front"]["hub_heigth"] = 310
    assert list(validator.iter_errors(wrong))
    assert list(validator.iter_errors(vehicle(hub_face_width=62.2)))


def test_every_command_has_help() -> None:
    listed = run("--help").stdout
    for command in ("check", "compare", "screen", "poses", "show", "tire", "wheel", "schema"):
        assert re.search(rf"^  {command}\b", listed, re.MULTILINE), command
        text = run(command, "--help").stdout
        assert text.startswith(f"Usage: fitment {command}")
        for option in re.findall(r"^  (?:-\w, )?(--[\w-]+)", text, re.MULTILINE):
            # in its own row: the text above the list may name an option too
            line = re.search(rf"^  (?:-\w, )?{option}\b.*(?:\n {{10,}}.*)*", text, re.MULTILINE)
            assert line
            assert len(line[0].split()) > 2, f"{command} {option} says nothing"


def test_check_reads_the_load_of_a_light_truck_tire(tmp_path: Path) -> None:
    """A tire code with its spaces goes through the command line as one argument."""
    data = vehicle(axle_load=3000)
    bench_setup(data)["tire"] = TIRE["code"]
    answer = run_json("check", write_profile(tmp_path, data), "--axle", "front")
    # load index 94 is 670 kg (load index table, read in secondary pages): two carry 1340
    assert bolt_on(answer, "load") == ("fail", "two tires carry 1340 kg, the axle load is 3000 kg")
    assert answer["verdict"] == "does_not_bolt_on"
    assert answer["worst"] is not None, "the clearances are told all the same"


def test_seat_of_the_bench_tire() -> None:
    """conftest's section height follows from the nominal diameter of a 17 in rim."""
    found = run_json("tire", TIRE["code"])[0]
    assert found["overall_diameter_mm"] - 2 * found["section_height_mm"] == SEAT


@pytest.mark.slow
def test_a_typed_height_beyond_the_travel_is_a_caution() -> None:
    done = run_json("check", "wagon", "--axle", "front", "--build", "chosen", "--ride", "200")
    assert any("+200 mm) lies outside the travel (-70 to +80 mm)" in each for each in done["cautions"])


def test_a_failed_bolt_on_check_hides_no_overlap() -> None:
    """The larger caliper meets the spokes, and the measured barrel the upper ball joint."""
    words = " ".join(run("check", "wagon", "--axle", "front", "--build", "big_brake", "--full").stdout.split())
    head = words.partition("closest approach")[0]
    assert "caliper behind the spokes" in head
    assert "wheel overlaps upper ball joint" in head


def test_what_rests_on_an_assumed_barrel_stands_beside_the_verdict() -> None:
    words = {
        build: " ".join(run("check", "wagon", "--axle", "front", "--build", build, "--full").stdout.split())
        for build in ("chosen", "big_brake")  # only the second has a measured barrel
    }
    told = "assumed, not measured: the inside of the barrel, next to upper ball joint"
    assert told in words["chosen"]
    assert "assumed, not measured" not in words["big_brake"]


def test_a_bare_number_is_said_to_be_millimetres() -> None:
    more = ("check", "wagon", "--axle", "front", "--build", "chosen", "--units", "in", "--spacer")
    assert "--spacer 5 was read as 5 mm. For inches write" in run(*more, "5").output
    assert "was read as" not in run(*more, "1/4 in").output


# ---------------------------------------------------------------- a part deep inside the wheel


RING = {"name": "drum", "shape": "ring", "outline": [[-300, 0], [-300, 400], [240, 400], [240, 0]]}  # all of it


def test_a_ring_that_swallows_the_wheel(tmp_path: Path) -> None:
    """The deepest place is the middle of the largest circle in the section, its radius the depth.

    Contract: to 0.5 mm, deeper than 20 mm to a tenth.
    """
    data = vehicle()
    data["axles"]["front"]["obstacles"].append(RING)
    answer = run_json("check", write_profile(tmp_path, data), "--axle", "front", "--geometry")
    for part in ("tire", "wheel"):
        circle = shapely.maximum_inscribed_circle(shapely.Polygon(answer["sections"][part]), tolerance=0.01)
        near = 0.5 if circle.length <= 20 else circle.length / 10
        assert -least(answer, "drum", part) == pytest.approx(circle.length, abs=near)
    assert answer["verdict"] == "touches"


@pytest.mark.parametrize("count", [1, 12], ids=["row by row", "looked up"])
def test_a_ring_that_overlaps_takes_no_row_with_it(tmp_path: Path, count: int) -> None:
    """Drum brakes of r 200 in a 13 in and in a 17 in wheel: the first is 165 mm in its seats, the other 218 mm."""
    data = vehicle()
    outline = [[-120, 150], [-120, 200], [-60, 200], [-60, 150]]
    data["axles"]["front"]["obstacles"].append({"name": "drum", "shape": "ring", "outline": outline})
    rows = [f"{d}x6 ET0 5x114.3 CB67.1,{tire}R{d}" for d, tire in ((13, "205/70"), (17, "205/40"))] * count
    (tmp_path / "list.csv").write_text("\n".join(["wheel,tire", *rows]))
    found = json.loads(
        run("screen", write_profile(tmp_path, data), str(tmp_path / "list.csv"), "--format", "json").stdout
    )
    assert [row["verdict"] for row in found] == ["clears"] * count + ["touches"] * count
    assert {row["limited_by"] for row in found[count:]} == {"drum"}


@pytest.mark.parametrize("code", ["195/75R16C", "195/75R16C 107/105R"])
def test_a_commercial_tire_is_told(code: str) -> None:
    """UN R54: C after the size is light commercial; 107 is 975 kg, 105 is 925 kg (load index table, from memory)."""
    result = run("tire", code)
    assert result.exit_code == 0
    assert "light commercial, radial" in result.stdout
    assert ("975 kg a tire" in result.stdout) == (code != "195/75R16C")
