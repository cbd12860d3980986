"""A wheel is slid on and off along the hub's axis: what it passes over on the way, worked by hand and by small steps.

The bench wheel is 17x8 ET0: overall width 228.6, so the rim runs from 114.3 inboard of the hub face to 114.3 outboard,
between flange faces at 101.6. Its bead seat is 436.6 across (ISO 4000-2, from memory). A barrel whose inside is given
below radius 198 lies under any standard well of that rim (218.3 - 17.3 of well, JIS D 4218:2021 table 3, read, less
2.5 of metal), so what was given decides.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from conftest import DIAMETER, HUB_FACE, SEAT, bench_setup, bolt_on, run_json, steered, vehicle, write_profile
from shapely.affinity import translate

from fitment import profile as profiles
from fitment.parts.sections import tire_section, wheel_section

Check = Callable[..., dict[str, Any]]
INNER = -114.3  # [mm]
LOW = [[-90, 100], [-90, 150], [-20, 150], [-20, 100]]  # a caliper that nothing comes near to


def braked(outline: Sequence[Sequence[float]], *obstacles: dict[str, Any], **wheel: Any) -> dict[str, Any]:
    data = vehicle()
    front = data["axles"]["front"]
    front["brake"] = {"caliper": {"outline": [list(point) for point in outline]}}
    front["obstacles"] += list(obstacles)
    bench_setup(data)["wheel"] = {"spec": "17x8 ET0 5x114.3 CB67.1"} | wheel
    return data


def figures(answer: dict[str, Any], item: str) -> dict[str, float]:
    (found,) = (entry["numbers"] for entry in answer["bolt_on"] if entry["item"] == item)
    return found  # type: ignore[no-any-return]


# ---------------------------------------------------------------- caliper and rotor


def well(depth: float, start: float = -80, end: float = -60) -> list[list[float]]:
    """A barrel of radius 197 with a drop centre of another radius between two depths."""
    return [[-103, 197], [start - 5, 197], [start, depth], [end, depth], [end + 5, 197], [80, 197]]


def test_a_drop_centre_inboard_of_the_caliper_does_not_pass_over_it(check: Check) -> None:
    """Seated the caliper (r 190, from 45 inboard) is 7 below the barrel, and the well of r 180 lies inboard of it."""
    block = [[-45, 100], [-45, 190], [-20, 190], [-20, 100]]
    answer = check(braked(block, barrel_inside=well(180)))
    found, detail = bolt_on(answer, "caliper in the barrel")
    assert found == "fail"
    assert answer["verdict"] == "does_not_bolt_on"
    assert figures(answer, "caliper in the barrel")["gap_mm"] == pytest.approx(197 - 190, abs=2e-3)
    assert figures(answer, "caliper in the barrel")["sliding_gap_mm"] == pytest.approx(180 - 190, abs=2e-3)
    assert figures(answer, "caliper in the barrel")["metal_depth_mm"] == pytest.approx(80, abs=0.1)
    assert "the caliper is 10.0 mm in its way" in detail
    assert "radius 180.0 mm, 80 mm behind the mounting face" in detail


@pytest.mark.parametrize(("radius", "status"), [(193.5, "ok"), (192.9, "caution"), (190.1, "caution"), (189.9, "fail")])
def test_what_the_drop_centre_leaves_on_the_way(check: Check, radius: float, status: str) -> None:
    block = [[-45, 100], [-45, 190], [-20, 190], [-20, 100]]
    answer = check(braked(block, barrel_inside=well(radius)))
    assert bolt_on(answer, "caliper in the barrel")[0] == status
    assert figures(answer, "caliper in the barrel")["sliding_gap_mm"] == pytest.approx(radius - 190, abs=2e-3)


def test_a_drop_centre_outboard_of_the_caliper_is_never_passed(check: Check) -> None:
    """The same well, and the caliper inboard of it: 80 - 5 from the face, its end at -90, the barrel 7 above it."""
    block = [[-100, 100], [-100, 190], [-95, 190], [-95, 100]]
    answer = check(braked(block, barrel_inside=well(180)))
    assert bolt_on(answer, "caliper in the barrel")[0] == "ok"
    assert figures(answer, "caliper in the barrel")["sliding_gap_mm"] == pytest.approx(7, abs=2e-3)


def test_the_rotor_is_passed_over_too(check: Check) -> None:
    data = braked(LOW, barrel_inside=well(180))
    data["axles"]["front"]["brake"]["rotor"] = {"outline": [[-50, 184], [-30, 184]]}
    answer = check(data)
    assert bolt_on(answer, "rotor in the barrel")[0] == "fail"
    assert figures(answer, "rotor in the barrel")["sliding_gap_mm"] == pytest.approx(180 - 184, abs=2e-3)


@pytest.mark.parametrize(("top", "status"), [(184, "fail"), (170, "ok")])
def test_a_rotor_inside_a_caliper_that_is_not_passed_is_asked_by_itself(check: Check, top: float, status: str) -> None:
    """A well of 180 passes neither a caliper of 190 nor a rotor of 184; one of 170 it passes with 10 left."""
    data = braked([[-45, 100], [-45, 190], [-20, 190], [-20, 100]], barrel_inside=well(180))
    data["axles"]["front"]["brake"]["rotor"] = {"outline": [[-40, top], [-30, top]]}
    answer = check(data)
    assert bolt_on(answer, "caliper in the barrel")[0] == "fail"
    assert bolt_on(answer, "rotor in the barrel")[0] == status
    assert figures(answer, "rotor in the barrel")["sliding_gap_mm"] == pytest.approx(180 - top, abs=2e-3)


def test_a_barrel_measured_only_over_the_caliper_is_open(check: Check) -> None:
    """What is inboard of the caliper passes over it, so 8 mm left at its own depths say too little."""
    block = [[-45, 100], [-45, 190], [-20, 190], [-20, 100]]
    found, detail = bolt_on(check(braked(block, barrel_inside=[[-50, 198], [0, 198]])), "caliper in the barrel")
    assert found == "not_checked"
    assert "Measure the barrel from the inner edge to 20 mm behind the mounting face" in detail
    whole = braked(block, barrel_inside=[[-101, 198], [0, 198]])  # the flange's face is at 101.6
    assert bolt_on(check(whole), "caliper in the barrel")[0] == "ok"


def stepped(metal: shapely.Geometry, part: shapely.Geometry, step: float = 0.25) -> float:
    """The least distance while the metal is moved from far outboard to its seat by small steps, 0 = they meet."""
    moved = [translate(metal, shift, 0.0) for shift in np.arange(0.0, 330.0, step)]
    return float(np.min(shapely.distance(np.array(moved, dtype=object), part)))


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(12))
def test_any_barrel_over_any_caliper_by_small_steps(check: Check, seed: int) -> None:
    """Random insides and outlines; the metal is moved on by quarter millimetres, which may miss 0.125 mm of a gap."""
    chance = random.Random(seed)
    depths = sorted(chance.uniform(-95, 70) for _ in range(6))
    inside = [[-103.0, 197.0], *([y, chance.uniform(172, 197)] for y in depths), [80.0, 197.0]]
    y0, y1 = sorted(chance.uniform(-100, 10) for _ in range(2))
    tops = [[y0, chance.uniform(160, 182)], [(y0 + y1) / 2, chance.uniform(165, 188)], [y1, chance.uniform(160, 182)]]
    block = [[y0, 100], *tops, [y1, 100]]
    answer = check(braked(block, barrel_inside=inside))
    metal = shapely.Polygon([*inside, (80, 198), (-103, 198)])
    part = shapely.Polygon(block)
    numbers = figures(answer, "caliper in the barrel")
    seated, way = float(shapely.distance(metal, part)), stepped(metal, part)
    status = bolt_on(answer, "caliper in the barrel")[0]
    if way == 0:
        assert status == "fail"
        assert min(numbers["gap_mm"], numbers["sliding_gap_mm"]) <= 0
    else:
        assert status != "fail"
        assert numbers["gap_mm"] == pytest.approx(seated, abs=2e-3)
        assert way - 0.126 <= numbers["sliding_gap_mm"] <= way + 2e-3


# ---------------------------------------------------------------- parts fixed to the knuckle


def test_a_ball_joint_behind_the_drop_centre(check: Check) -> None:
    """A ball of radius 10 at r 175, 20 inboard: 185 does not pass a well of 180; seated 197 - 185 = 12 are left."""
    ball = {"name": "tie rod ball", "shape": "ball", "fixed_to": "knuckle", "radius": 10, "at": [0, HUB_FACE - 20, 175]}
    answer = check(braked(LOW, ball, barrel_inside=well(180)))
    found, detail = bolt_on(answer, "sliding the wheel on")
    assert found == "fail"
    assert figures(answer, "sliding the wheel on")["sliding_gap_mm"] == pytest.approx(-5, abs=2e-3)
    assert figures(answer, "sliding the wheel on")["gap_mm"] == pytest.approx(12, abs=2e-3)
    assert "tie rod ball" in detail
    assert answer["verdict"] == "does_not_bolt_on"
    assert bolt_on(check(braked(LOW, ball, barrel_inside=well(193))), "sliding the wheel on")[0] == "ok"
    assert bolt_on(check(braked(LOW, ball, barrel_inside=well(187))), "sliding the wheel on")[0] == "caution"


def test_a_part_that_cannot_be_passed_comes_before_one_with_too_little_left(check: Check) -> None:
    """A well of 180 passes a ball up to 179 with 1 mm, 8 asked for; it does not pass one up to 181 that asks for 3."""
    near, far = (
        {"name": name, "shape": "ball", "fixed_to": "knuckle", "radius": 10, "at": at, "allowance": allowance}
        for name, at, allowance in (
            ("near", [0, HUB_FACE - 20, 169], 8),
            ("far", [171, HUB_FACE - 20, 0], 3),
        )
    )
    answer = check(braked(LOW, near, far, barrel_inside=well(180)))
    assert bolt_on(answer, "sliding the wheel on")[0] == "fail"
    assert figures(answer, "sliding the wheel on")["sliding_gap_mm"] == pytest.approx(-1, abs=2e-3)
    assert answer["verdict"] == "does_not_bolt_on"


def test_a_tolerance_counts_for_each_part_on_the_way(check: Check) -> None:
    """5 mm left where 3 are asked is enough; 6 mm left of a part read to 8 mm is not, though it asks for no more."""
    exact, rough = (
        {"name": name, "shape": "ball", "fixed_to": "knuckle", "radius": 10, "at": at, "tolerance": tolerance}
        for name, at, tolerance in (
            ("exact", [0, HUB_FACE - 20, 165], 0),
            ("rough", [164, HUB_FACE - 20, 0], 8),
        )
    )
    answer = check(braked(LOW, exact, rough, barrel_inside=well(180)))
    assert bolt_on(answer, "sliding the wheel on")[0] == "caution"
    assert figures(answer, "sliding the wheel on")["sliding_gap_mm"] == pytest.approx(6, abs=2e-3)


def test_what_overlaps_at_the_seat_is_a_clearance(check: Check) -> None:
    """Told once, as every overlap is: it touches, which is another answer than a wheel that cannot be slid on."""
    ball = {"name": "ball", "shape": "ball", "fixed_to": "knuckle", "radius": 10, "at": [0, HUB_FACE - 20, 190]}
    answer = check(braked(LOW, ball, barrel_inside=well(197)))
    assert answer["verdict"] == "touches"
    assert all(entry["item"] != "sliding the wheel on" for entry in answer["bolt_on"])


def test_a_knuckle_part_under_a_barrel_measured_in_part(check: Check) -> None:
    ball = {"name": "ball", "shape": "ball", "fixed_to": "knuckle", "radius": 10, "at": [0, HUB_FACE - 40, 150]}
    for inside, status in (([[-60, 190], [0, 190]], "not_checked"), ([[-101, 190], [0, 190]], "ok")):
        assert bolt_on(check(braked(LOW, ball, barrel_inside=inside)), "sliding the wheel on")[0] == status


def test_a_part_of_the_body_in_the_barrel_is_not_fixed_to_the_hub(check: Check) -> None:
    ball = {"name": "stop", "shape": "ball", "radius": 10, "at": [0, HUB_FACE - 40, 120]}
    assert all(entry["item"] != "sliding the wheel on" for entry in check(braked(LOW, ball))["bolt_on"])


@pytest.mark.parametrize(("bore", "status"), [(67.1, "fail"), (80, "caution"), (90, None)])
def test_a_hub_nose_wider_outboard_than_the_bore(check: Check, bore: float, status: str | None) -> None:
    """A locking hub: r 30 through the 30 mm pad, r 38 outboard of it. The bore of 67.1 leaves 3.55 seated and
    33.55 - 38 = -4.45 on the way; 80 leaves 2; 90 leaves 7, and the bore promises nothing about the barrel."""
    cap = {
        "name": "locking hub", "shape": "ring", "fixed_to": "knuckle",
        "outline": [[0, 0], [0, 30], [40, 30], [40, 38], [60, 38], [60, 0]],
    }  # fmt: skip
    answer = check(braked(LOW, cap, spec=f"17x8 ET0 5x114.3 CB{bore}"))
    found = [entry for entry in answer["bolt_on"] if entry["item"] == "sliding the wheel on"]
    assert [entry["status"] for entry in found] == ([] if status is None else [status])
    if found:
        assert found[0]["numbers"]["sliding_gap_mm"] == pytest.approx(bore / 2 - 38, abs=2e-3)


@pytest.mark.parametrize(("thickness", "bore", "status"), [(20, 60, "fail"), (25, 60, None), (20, 71, None)])
def test_the_hubs_register_through_an_adapter(check: Check, thickness: float, bore: float, status: str | None) -> None:
    """The hub's register of 70 is 22 long: past a 20 mm adapter it stands out 2, and a 60 mm bore does not pass it."""
    data = braked(LOW, spec=f"17x8 ET0 5x114.3 CB{bore}")
    data["axles"]["front"]["hub"]["wheel_register"] = {"diameter": 70, "length": 22}
    bench_setup(data)["spacer"] = {
        "thickness": thickness, "bolt_circle": "5x114.3", "stud": "M12x1.5", "bore": 70, "register": 60,
    }  # fmt: skip
    found = [entry for entry in check(data)["bolt_on"] if entry["item"] == "hub register in the wheel"]
    assert [entry["status"] for entry in found] == ([] if status is None else [status])


def test_a_list_does_not_pass_one_offsets_answer_to_another(tmp_path: Path) -> None:
    """A caliper as high as the bead seat: at ET-60 the rim begins at 54.3 inboard and stays clear of it, at ET0 not."""
    data = braked([[-120, 100], [-120, 225], [-70, 225], [-70, 100]])
    profile = write_profile(tmp_path, data)
    rows = [f"17x8 ET{offset} 5x114.3 CB67.1,225/45R17 94W" for offset in (-60, 0, -60)]
    (tmp_path / "list.csv").write_text("\n".join(["wheel,tire", *rows]))
    answer = run_json("screen", profile, str(tmp_path / "list.csv"), "--axle", "front")
    verdicts = {row["wheel"].split()[1]: row["verdict"] for row in answer}
    assert verdicts["ET0"] == "does_not_bolt_on"
    assert verdicts["ET-60"] != "does_not_bolt_on"


# ---------------------------------------------------------------- off past the lip

LARGEST = SEAT / 2 + (DIAMETER - SEAT) / 2 * 1.04  # UN R30 6.1.5, from memory
LIP = HUB_FACE + 140  # outboard of the tire's side at 115


def arched(height: float, **front: Any) -> dict[str, Any]:
    lip = {"name": "lip", "shape": "edge", "points": [[-330, LIP, height], [330, LIP, height]]}
    data = vehicle(obstacles=[lip], **front)
    data["builds"].pop("lowered")
    return data


@pytest.mark.parametrize("height", [400, 300, 273, 269, 240])
def test_under_a_level_lip_at_full_droop(check: Check, height: float) -> None:
    """At -50 the crown of the largest tire stands at -50 + 321.04; straight along y it goes under the lip or not.

    The nearest point is straight above the hub, since the lip is level there: the crown against its height.
    """
    answer = check(arched(height))["removal"]
    expected = height + 50 - LARGEST
    assert answer["at_full_droop"][0]["left_mm"] == pytest.approx(expected, abs=0.05)
    assert (answer["check"]["status"], answer["at_full_droop"][0]["past"]) == (
        "ok" if expected > 0 else "caution", "lip",
    )  # fmt: skip


def test_the_least_droop_it_needs(check: Check) -> None:
    """A lip at 300 needs the crown, 321.04 above the hub, at 300 or lower: travel -21.04, tried in steps of 5 mm."""
    answer = check(arched(300, travel={"droop": -50, "bump": 50}))["removal"]
    assert answer["check"]["status"] == "ok"
    assert -LARGEST + 300 - 5 <= answer["least_droop"]["travel_mm"] <= -LARGEST + 300
    assert f"at {answer['least_droop']['travel_mm']:+.0f} mm of travel or lower" in answer["check"]["detail"]


def test_how_much_lower_it_would_have_to_hang(check: Check) -> None:
    """Lip at 240, full droop -50: 321.04 - 290 = 31.04 are missing, told in steps of 5."""
    answer = check(arched(240))["removal"]
    assert answer["check"]["status"] == "caution"
    assert answer["least_droop"] is None
    assert "would have to hang about 35 mm lower" in answer["check"]["detail"]
    assert answer["check"]["numbers"]["lower_mm"] == 35
    assert "Not looked at: tilting" in answer["check"]["detail"]


def test_the_lips_tolerance_counts_against_it(check: Check) -> None:
    data = arched(272.5)  # 1.46 mm over the crown at full droop
    assert check(data)["removal"]["check"]["status"] == "ok"
    data["axles"]["front"]["obstacles"][0]["tolerance"] = 3
    answer = check(data)["removal"]
    assert answer["check"]["status"] == "caution"
    assert answer["at_full_droop"][0]["left_mm"] == pytest.approx(272.5 + 50 - LARGEST - 3, abs=0.05)


def test_how_far_it_is_slid(check: Check) -> None:
    """The rim's inner edge, 114.3 inboard, goes past studs of 40: 154.3. A wall beyond the tire's way is no hindrance:
    the tire's side, at 115 x 1.04 = 119.6, comes to 273.9."""
    for at, meets in ((270, True), (280, False)):
        data = arched(500)
        wall = {"name": "wall", "shape": "edge", "points": [[0, HUB_FACE + at, -300], [0, HUB_FACE + at, 300]]}
        data["axles"]["front"]["obstacles"].append(wall)
        answer = check(data)["removal"]
        assert answer["slide_mm"] == pytest.approx(40 - INNER, abs=1e-3)
        assert answer["check"]["status"] == ("caution" if meets else "ok")
        assert (answer["at_full_droop"][0]["past"], answer["at_full_droop"][0]["left_mm"] < 0) == ("wall", meets)
    del data["axles"]["front"]["hub"]["stud_length"]
    assert "studs of 60 mm assumed" in check(data)["removal"]["check"]["detail"]


def test_without_a_lip_it_is_not_checked(check: Check) -> None:
    data = vehicle(obstacles=[{"name": "rail", "shape": "edge", "points": [[0, 300, 420], [0, 500, 420]]}])
    found = check(data)["removal"]["check"]
    assert found["status"] == "not_checked"
    assert "the lip was not looked at" in found["detail"]


def test_a_part_inboard_of_the_tire_does_not_hold_it(check: Check) -> None:
    """Into the sidewall by a few millimetres from inboard: an overlap at the seat, but the way leads away from it."""
    data = arched(500)
    ball = {"name": "stop", "shape": "ball", "radius": 20, "at": [0, HUB_FACE - 130, 260]}
    data["axles"]["front"]["obstacles"].append(ball)
    answer = check(data)
    assert answer["verdict"] == "touches"
    assert answer["removal"]["check"]["status"] == "ok"


def test_an_edge_deep_in_the_tread_holds_it(check: Check) -> None:
    """Its depth is that to the crown, seated and on the way alike, and it goes on overlapping."""
    lip = {"name": "lip", "shape": "edge", "points": [[-10, HUB_FACE, 310], [10, HUB_FACE, 310]], "cover": True}
    answer = check(vehicle(obstacles=[lip], travel={"droop": 0, "bump": 10}, ride_heights={"level": 0, "low": 5}))
    assert answer["verdict"] == "touches"
    assert answer["removal"]["check"]["status"] == "caution"


def hub_points(points: np.ndarray[Any, Any], travel: float, steer: float) -> np.ndarray[Any, Any]:
    """(y', r) of points in the body, the hub steered about the vertical line 50 inboard of the hub face."""
    angle = math.radians(steer)
    axis, hub = np.array([math.sin(-angle), math.cos(angle), 0.0]), np.array([0.0, HUB_FACE - 50, travel])
    hub = hub + 50 * axis
    along = (points - hub) @ axis
    return np.stack([along, np.linalg.norm(points - hub - along[:, None] * axis, axis=1)], -1)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(4))
def test_any_lip_at_any_steer_by_small_steps(tmp_path: Path, check: Check, seed: int) -> None:
    """Random lips; points on them, every 1.5 mm, against the largest tire on its wheel, moved on by half millimetres.

    A step may miss 0.25 mm of a gap, points 0.75 mm apart on the lip no more than 0.75^2 / (2 x 170) = 0.002.
    """
    chance = random.Random(seed)
    ends = [[x, HUB_FACE + chance.uniform(135, 190), chance.uniform(170, 330)] for x in (-300, 0, 300)]
    data = steered(obstacles=[{"name": "lip", "shape": "edge", "points": ends}])
    data["builds"].pop("lowered")
    setup = profiles.setup(profiles.load_profile(write_profile(tmp_path, data)), "front", "measured")
    whole = shapely.union(tire_section(setup.tire, setup.wheel, largest=True), wheel_section(setup.wheel))
    points = np.concatenate([np.linspace(a, b, 400) for a, b in pairwise(ends)])
    answer = check(data)["removal"]
    assert len(answer["at_full_droop"]) == 5
    for way in answer["at_full_droop"]:
        plane = hub_points(points, way["travel_mm"], way["steer_deg"])
        shifts = np.append(np.arange(0.0, answer["slide_mm"], 0.5), answer["slide_mm"])
        moved = plane[None] - np.stack([shifts, 0 * shifts], -1)[:, None]
        far = shapely.distance(whole, shapely.points(moved))
        seated, least = float(far[0].min()), float(far.min())
        if least == 0:
            assert way["left_mm"] < 0
        elif least < seated - 0.4:
            assert least - 0.26 <= way["left_mm"] <= least + 0.02
        elif least > seated - 0.04:
            assert way["left_mm"] is None or way["left_mm"] > least - 0.26


# ---------------------------------------------------------------- ends of what was measured, and the tire


@pytest.mark.parametrize("turned", [False, True])
def test_a_lip_measured_at_one_depth_passes_over_the_caliper(check: Check, turned: bool) -> None:
    """The first two points stand at one depth: the lip hangs to r 172 and the caliper's top is at 190."""
    inside = [[-100, 172], [-100, 206], [-10, 206]]
    block = [[-85, 120], [-85, 190], [-20, 190], [-20, 120]]
    answer = check(braked(block, barrel_inside=inside[::-1] if turned else inside))
    assert bolt_on(answer, "caliper in the barrel")[0] == "fail"
    assert figures(answer, "caliper in the barrel")["sliding_gap_mm"] == pytest.approx(172 - 190, abs=2e-3)


def test_a_lip_at_the_last_depth_is_metal_too(check: Check) -> None:
    """Its last two points stand at -10: the lip hangs to r 172 beside the caliper, whose end is at -20: 10 are left."""
    block = [[-85, 120], [-85, 190], [-20, 190], [-20, 120]]
    inside = [[-102, 206], [-10, 206], [-10, 172]]
    found = figures(check(braked(block, barrel_inside=inside)), "caliper in the barrel")
    assert found["gap_mm"] == pytest.approx(-10 + 20, abs=0.03)


def test_a_caliper_in_the_tire_fails(check: Check) -> None:
    """Inboard of the rim (-114.3) and of its flange, from 10 inboard of the tire's side into it: side at 115."""
    inboard = [[-150, 120], [-150, 265], [-114.5, 265], [-114.5, 120]]
    answer = check(braked(inboard))
    assert bolt_on(answer, "caliper to the tire")[0] == "fail"
    assert answer["verdict"] == "does_not_bolt_on"
    far = [[-150, 120], [-150, 265], [-125, 265], [-125, 120]]  # 125 - 115 = 10 from the widest point of 115
    found = figures(check(braked(far)), "caliper to the tire")
    assert found["gap_mm"] >= 10 - 2e-3
    near = [[-150, 120], [-150, 265], [-117, 265], [-117, 120]]  # the largest is 115 x 1.04 = 119.6 wide there
    answer = check(braked(near))
    assert bolt_on(answer, "caliper to the tire")[0] == "caution"
    assert figures(answer, "caliper to the tire")["largest_gap_mm"] < 0


@pytest.mark.parametrize(("first", "status"), [(150, "not_checked"), (75, "ok")])
def test_spokes_measured_from_outside_of_the_calipers_inner_part(check: Check, first: float, status: str) -> None:
    """The pad ends at (114.3 + 35) / 2 = 74.65; between it and the first point nothing is known."""
    block = [[-60, 90], [-60, 180], [-14, 180], [-14, 90]]
    answer = check(braked(block, spoke_back=[[-5, first], [-5, 201]]))
    assert bolt_on(answer, "caliper behind the spokes")[0] == status


def test_a_knuckle_part_under_an_assumed_barrel_is_not_checked(check: Check) -> None:
    ball = {"name": "ball", "shape": "ball", "fixed_to": "knuckle", "radius": 10, "at": [0, HUB_FACE - 40, 150]}
    found, detail = bolt_on(check(braked(LOW, ball)), "sliding the wheel on")
    assert (found, "ball" in detail) == ("not_checked", True)


def test_a_list_does_not_pass_one_tires_answer_to_another(tmp_path: Path) -> None:
    """A caliper up to r 265, 128 inboard: a 255 is 264.9 / 2 = 132.5 to a side; the widest
    205 is 1.04 x 228.9 / 2 = 119.0, and 127.0 with a rim protector (8 mm on one side; UN R30 6.1.4, from memory)."""
    profile = write_profile(tmp_path, braked([[-150, 120], [-150, 265], [-128, 265], [-128, 120]]))
    codes = ("205/60R17 93W", "255/60R17 106W", "205/60R17 93W")
    (tmp_path / "list.csv").write_text("\n".join(["wheel,tire", *(f"17x8 ET0 5x114.3 CB67.1,{c}" for c in codes)]))
    answer = run_json("screen", profile, str(tmp_path / "list.csv"), "--axle", "front")
    fails = {row["tire"][:3]: "caliper to the tire" in row["reason"] for row in answer}
    assert fails == {"205": False, "255": True}
