"""The stack from the hub outward: imbalance, registers, threads, nuts, the inside of the wheel, load, adapters.

Numbers are worked by hand on the bench vehicle of conftest. Facts from outside stand beside the tests with their
source; what is common practice without a published source is held to what the program says.
"""

from __future__ import annotations

import csv
import math
import random
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from conftest import DIAMETER, bench_setup, bolt_on, run, run_json, vehicle, write_profile

from fitment import profile as profiles
from fitment.checks.bolt_on import CHECKS, BoltOn, Known, bolt_on_checks
from fitment.parts.axle import Setup, Spacer
from fitment.parts.hub import parse_thread
from fitment.parts.tire_code import parse_tire
from fitment.parts.wheel import parse_wheel

Check = Callable[..., dict[str, Any]]
THREADS = list(csv.DictReader((Path(__file__).parent / "reference" / "stud_threads.csv").read_text().splitlines()))
SEAT_RADIUS = 436.6 / 2  # [mm] 17 in: 17 x 25.4 + 4.8 across; ISO 4000-2, recalled
# rolling circumference 3.05 x overall diameter; ETRTO design practice, from memory
CIRCUMFERENCE = 3.05 * DIAMETER / 1000  # [m]


def numbers(answer: dict[str, Any], item: str) -> dict[str, float]:
    return next(dict(entry["numbers"]) for entry in answer["bolt_on"] if entry["item"] == item)


def items(answer: dict[str, Any]) -> dict[str, str]:
    return {entry["item"]: entry["status"] for entry in answer["bolt_on"]}


def with_wheel(data: dict[str, Any] | None = None, **wheel: Any) -> dict[str, Any]:
    """The bench vehicle with what is known of its wheel beside the spec."""
    data = data or vehicle()
    bench_setup(data)["wheel"] = {"spec": "17x8 ET0 5x114.3 CB67.1"} | wheel
    return data


# ---------------------------------------------------------------- a rotor on the wrong hub


def with_rotor(**rotor: Any) -> dict[str, Any]:
    """A hub with two steps, 67.1 for the wheel and behind it 72.0 for the rotor."""
    data = vehicle()
    data["axles"]["front"]["hub"]["rotor_register"] = {"diameter": 72.0, "length": 6}
    data["axles"]["front"]["brake"] = {"rotor": rotor}
    return data


def test_a_hanging_rotor_by_f_is_m_e_w_squared(check: Check) -> None:
    """Bore 74 on the 72 step: 2 mm of gap, so 1 mm off centre at most; 10 kg of rotor, 100 km/h."""
    answer = check(with_rotor(bore=74.0, mass=10.0))
    omega = 2 * math.pi * (100 / 3.6) / CIRCUMFERENCE  # [1/s]
    found = numbers(answer, "rotor register")
    assert found["eccentricity_mm"] == 1.0
    assert found["imbalance_g_mm"] == 10_000 * 1.0  # 10 000 g x 1 mm
    assert found["weight_g"] == pytest.approx(10_000 / SEAT_RADIUS, abs=1e-3)
    assert found["turns_per_s"] == pytest.approx(omega / (2 * math.pi), abs=1e-3)
    assert found["force_n"] == pytest.approx(10.0 * 0.001 * omega**2, rel=1e-4)  # m e w^2 in kg, m, 1/s
    assert found["speed_kmh"] == 100
    status, detail = bolt_on(answer, "rotor register")
    assert status == "caution"
    # 27.78 m/s over 1.9337 m is 14.4 turns a second, w = 90.26 1/s: 81.5 N; 10 000 / 218.3 = 45.8 g
    for words in (
        "up to 1.0 mm off centre",
        "10000 g mm",
        "shakes like 45.8 g of extra weight at the bead seat (218 mm",
        "At 100 km/h that pulls with 81.5 N, 14.4",
    ):
        assert words in detail


def test_the_force_goes_with_the_square_of_the_stated_top_speed(check: Check) -> None:
    data = with_rotor(bore=74.0, mass=10.0)
    slow = numbers(check(data), "rotor register")
    data["axles"]["front"]["top_speed"] = 200
    answer = check(data)
    fast = numbers(answer, "rotor register")
    assert fast["force_n"] == pytest.approx(4 * slow["force_n"], rel=1e-4)
    assert fast["turns_per_s"] == pytest.approx(2 * slow["turns_per_s"], rel=1e-4)
    assert "200 km/h (top speed)" in bolt_on(answer, "rotor register")[1]


def test_a_rotor_of_unknown_mass_is_told_per_kilogram(check: Check) -> None:
    answer = check(with_rotor(bore=73.0))
    assert numbers(answer, "rotor register")["imbalance_g_mm"] == 1000 * 0.5
    assert re.search("With each 1 kg of it that shakes like .*imbalance 500 g mm", bolt_on(answer, "rotor register")[1])


def test_no_force_without_a_rolling_circumference(check: Check) -> None:
    """The 3.05 is that of radials."""
    data = with_rotor(bore=74.0, mass=10.0)
    bench_setup(data)["tire"] = "225/45D17 94H"
    answer = check(data)
    assert "force is not computed" in bolt_on(answer, "rotor register")[1]
    assert "force_n" not in numbers(answer, "rotor register")


def test_a_wide_gap_is_told_by_the_millimetre_and_stud_holes_hold_it(check: Check) -> None:
    """Bore 86 on 72: 7 mm by the bore, but studs pass through the hat: a 13 mm hole on M12 lets it go 0.5 mm."""
    answer = check(with_rotor(bore=86.0, mass=10.0))
    found = numbers(answer, "rotor register")
    assert (found["eccentricity_mm"], found["counted_eccentricity_mm"], found["imbalance_g_mm"]) == (7.0, 1.0, 10_000)
    told = bolt_on(answer, "rotor register")[1]
    assert "the stud holes may allow less. With its 10 kg, each 1 mm off centre shakes like" in told
    answer = check(with_rotor(bore=86.0, mass=10.0, stud_hole=13))
    assert numbers(answer, "rotor register")["eccentricity_mm"] == 0.5
    assert "up to 0.5 mm off centre" in bolt_on(answer, "rotor register")[1]


@pytest.mark.parametrize(
    ("bore", "status"),
    [(72.0, "ok"), (72.3, "ok"), (72.4, "caution"), (71.9, "fail"), (67.1, "fail")],  # the wheel's own step is no help
)
def test_the_rotor_belongs_on_its_own_step(check: Check, bore: float, status: str) -> None:
    assert bolt_on(check(with_rotor(bore=bore)), "rotor register")[0] == status


@pytest.mark.parametrize(("hat", "status"), [(7, None), (6, None), (5.5, "fail")])
def test_a_step_longer_than_the_hat_carries_the_wheel(check: Check, hat: float, status: str | None) -> None:
    answer = check(with_rotor(bore=72.0, hat_thickness=hat))
    assert items(answer).get("rotor clamped") == status
    if status:
        assert "the register is 6 mm long, the rotor's hat 5.5 mm thick" in bolt_on(answer, "rotor clamped")[1]


# ---------------------------------------------------------------- the wheel's register


def test_a_wheel_without_its_ring(check: Check) -> None:
    """Bore 69.1 on 67.1: 1 mm off at most; 9 kg of wheel and 11 of tire are 20 000 g."""
    data = with_wheel(spec="17x8 ET0 5x114.3 CB69.1", mass=9)
    bench_setup(data)["tire"] = bench_setup(data)["tire"] | {"mass": 11}
    answer = check(data)
    found, omega = numbers(answer, "centre bore"), 2 * math.pi * (100 / 3.6) / CIRCUMFERENCE
    assert (found["ring_outer_mm"], found["ring_inner_mm"]) == (69.1, 67.1)
    assert found["imbalance_g_mm"] == pytest.approx(20_000 * 1.0)
    assert found["force_n"] == pytest.approx(20.0 * 0.001 * omega**2, rel=1e-4)
    assert "With 20 kg of wheel and tire that shakes like" in bolt_on(answer, "centre bore")[1]
    bench_setup(data)["tire"].pop("mass")
    assert "With each 1 kg of wheel and tire that shakes like" in bolt_on(check(data), "centre bore")[1]


def test_stud_holes_hold_a_wheel_before_its_bore_does(check: Check) -> None:
    """The 13 mm holes of M12 studs leave 0.5 mm to each side, the bore of 73.1 on 67.1 would leave 3."""
    answer = check(with_wheel(spec="17x8 ET0 5x114.3 CB73.1", stud_hole=13))
    assert numbers(answer, "centre bore")["eccentricity_mm"] == 0.5


@pytest.mark.parametrize(
    ("spacer", "bore", "status", "words"),
    [
        (3, 67.1, "ok", "sits on"),
        (3, 57.1, "fail", "10.0 mm too small"),
        (
            8,
            57.1,
            "caution",
            "the 67.1 mm register does not reach the wheel's 57.1",
        ),  # the spacer is as thick as the step is long
        (8, 67.1, "caution", "only the nuts centre"),
    ],
)
def test_a_bore_behind_a_spacer(check: Check, spacer: float, bore: float, status: str, words: str) -> None:
    data = with_wheel(spec=f"17x8 ET0 5x114.3 CB{bore}")
    bench_setup(data)["spacer"] = spacer
    found, detail = bolt_on(check(data), "centre bore")
    assert found == status
    assert words in detail


def test_a_bore_too_small_while_the_register_is_not_measured(check: Check) -> None:
    data = with_wheel(spec="17x8 ET0 5x114.3 CB57.1")
    data["axles"]["front"]["hub"]["wheel_register"] = {"diameter": 67.1}
    assert bolt_on(check(data), "centre bore")[0] == "fail"
    bench_setup(data)["spacer"] = 20
    found, detail = bolt_on(check(data), "centre bore")
    assert found == "caution"
    assert "measure its length" in detail


@pytest.mark.parametrize(
    ("spacer", "status", "left"),
    [(5, "ok", 3), (5.5, "caution", 2.5), (7.9, "caution", 0.1), (8, "caution", 0), (30, "caution", 0)],
)
def test_little_register_past_a_spacer(check: Check, spacer: float, status: str, left: float) -> None:
    """Chamfers take 3 mm (common practice, no published source); the register is 8 long."""
    data = vehicle()
    bench_setup(data)["spacer"] = spacer
    answer = check(data)
    assert bolt_on(answer, "register past spacer")[0] == status
    assert numbers(answer, "register past spacer")["left_mm"] == pytest.approx(left)


@pytest.mark.parametrize(
    ("length", "pad", "found"),
    [(8, 13, None), (8, 8, None), (15, 13, "stands 2 mm past the 13 mm pad"), (2, 13, "only 2 mm long")],
)
def test_register_against_the_pad(check: Check, length: float, pad: float, found: str | None) -> None:
    data = with_wheel(pad_thickness=pad)
    data["axles"]["front"]["hub"]["wheel_register"] = {"diameter": 67.1, "length": length}
    answer = check(data)
    assert ("register length" in items(answer)) is (found is not None)
    if found:
        assert bolt_on(answer, "register length")[0] == "caution"
        assert found in bolt_on(answer, "register length")[1]


# ---------------------------------------------------------------- studs and nuts


@pytest.mark.parametrize("row", THREADS, ids=[row["thread"] for row in THREADS])
def test_threads_of_the_reference(check: Check, row: dict[str, str]) -> None:
    """Engagement of one diameter: 1 x nominal diameter in hard metals, a workmanship specification, section 15.8.13."""
    thread = parse_thread(row["thread"])
    assert thread is not None
    assert thread.diameter == pytest.approx(float(row["major_diameter_mm"]))
    assert thread.pitch == pytest.approx(float(row["pitch_mm"]), abs=1e-4)
    data = with_wheel(pad_thickness=15)
    need = float(row["engagement_1D_mm"])
    for left, status in ((need + 0.01, "ok"), (need - 0.01, "caution")):
        data["axles"]["front"]["hub"].update(stud=row["thread"], stud_length=15 + left)
        answer = check(data)
        assert bolt_on(answer, "studs")[0] == status
    assert numbers(answer, "studs")["turns_for_one_diameter"] == pytest.approx(float(row["turns_for_1D"]), abs=0.051)


def test_aluminium_nuts_need_half_as_much_again(check: Check) -> None:
    """1.5 diameters in aluminium, the same section: 18 mm of M12."""
    for left, told in ((17.9, True), (18, False)):
        detail = bolt_on(check(with_wheel(pad_thickness=40 - left)), "studs")[1]
        assert ("aluminium nuts need 18 mm" in detail) is told


@pytest.mark.parametrize(("left", "status"), [(4.5, "caution"), (4.4, "fail"), (0.5, "fail"), (0, "fail")])
def test_at_least_three_threads_hold(check: Check, left: float, status: str) -> None:
    """The same section asks for at least 3 holding threads: 4.5 mm of M12x1.5."""
    data = with_wheel(pad_thickness=40 - left)
    answer = check(data)
    assert bolt_on(answer, "studs")[0] == status
    assert (answer["verdict"] == "does_not_bolt_on") is (status == "fail")


@pytest.mark.parametrize(
    ("hub", "wheel", "status", "words"),
    [
        ({}, {}, "not_checked", "ask the seller which seat the wheel has (cone, ball or flat)"),
        ({}, {}, "not_checked", "their thread must be M12x1.5"),
        ({"nut_seat": "cone"}, {}, "not_checked", "the nuts have a cone seat"),
        ({"nut": "M12x1.5"}, {"seat": "ball"}, "not_checked", "the nuts must have a ball seat"),
        ({"nut": "M12x1.5", "nut_seat": "cone"}, {"seat": "cone"}, "ok", "cones differ in angle"),
        ({"nut": "M12X1.50", "nut_seat": "flat"}, {"seat": "flat"}, "ok", "flat seat"),
        ({"nut": "M12x1.25", "nut_seat": "cone"}, {"seat": "cone"}, "fail", "the same diameter, another pitch"),
        ({"nut": "1/2-20"}, {}, "fail", "another thread; they jam or strip and must not be forced"),
        ({"nut": "M12x1.5", "nut_seat": "cone"}, {"seat": "ball"}, "fail", "cone-seat nuts in the wheel's ball seats"),
        ({"nut_seat": "ball"}, {"seat": "cone"}, "fail", "bear on an edge"),
        ({}, {"stud_hole": 12}, "fail", "12 mm stud holes do not pass M12x1.5 studs (12 mm)"),
        ({"stud": None, "nut": "M12x1.5"}, {}, "not_checked", "compare their thread, M12x1.5, with the studs"),
        ({"stud": None}, {}, "not_checked", "that of the studs, which is not in the profile"),
    ],
)
def test_nuts(check: Check, hub: dict[str, Any], wheel: dict[str, Any], status: str, words: str) -> None:
    data = with_wheel(**wheel)
    known = data["axles"]["front"]["hub"]
    known.update(hub)
    for key in [key for key, value in known.items() if value is None]:
        del known[key]
    answer = check(data)
    found, detail = bolt_on(answer, "nuts")
    assert found == status
    assert words in detail
    assert (answer["verdict"] == "does_not_bolt_on") is (status == "fail")


# ---------------------------------------------------------------- the inside of the wheel


def braked(outline: list[list[float]], **wheel: Any) -> dict[str, Any]:
    data = with_wheel(**wheel)
    data["axles"]["front"]["brake"] = {"caliper": {"outline": outline}}
    return data


BLOCK = [[-90, 100], [-90, 190], [-20, 190], [-20, 100]]  # a caliper up to radius 190, its face 20 inboard


def test_the_barrel_as_measured(check: Check) -> None:
    """The inside falls from r 195 at 20 mm behind the mounting face to 185 at 10 mm: a slope of 45 degrees.

    The block's corner (-20, 190) is 5 below the slope's upper end, so 5 / sqrt 2 = 3.54 mm from its line.
    """
    inside = [[-113, 195], [-20, 195], [-10, 185], [60, 185]]
    for offset in (0, 20, -15):  # counted from the mounting face, so the rim's offset changes nothing
        moved = [[-113 - offset, 195], *inside[1:]]
        answer = check(braked(BLOCK, spec=f"17x8 ET{offset} 5x114.3 CB67.1", barrel_inside=moved))
        assert numbers(answer, "caliper in the barrel")["gap_mm"] == pytest.approx(5 / math.sqrt(2), abs=2e-3), offset
        assert bolt_on(answer, "caliper in the barrel")[0] == "ok"
    answer = check(braked(BLOCK, barrel_inside=inside[::-1]))  # from outside in
    assert numbers(answer, "caliper in the barrel")["gap_mm"] == pytest.approx(5 / math.sqrt(2), abs=2e-3)


def test_the_drop_centre_alone_meets_the_caliper(check: Check) -> None:
    """Clear everywhere but where the well hangs down to r 185 over the block."""
    well = [[-101, 205], [-60, 205], [-55, 185], [-40, 185], [-35, 205], [80, 205]]
    found, detail = bolt_on(check(braked(BLOCK, barrel_inside=well)), "caliper in the barrel")
    assert found == "fail"
    assert "overlaps by about 5.0 mm" in detail, "the block stands 5 mm into the well's floor"
    assert bolt_on(check(braked(BLOCK, barrel_inside=[[-101, 205], [80, 205]])), "caliper in the barrel")[0] == "ok"


def test_a_barrel_measured_in_part(check: Check) -> None:
    found, detail = bolt_on(check(braked(BLOCK, barrel_inside=[[-60, 200], [0, 200]])), "caliper in the barrel")
    assert found == "not_checked"
    assert "but part of the barrel that slides over the caliper was not measured" in detail


def test_spokes_that_lean_back(check: Check) -> None:
    """The back runs from (-10, 80) to (-40, 200); distance of the block's corner (-50, 170) to that line by hand.

    Line through the two points: 120 (y + 10) + 30 (r - 80) = 0; at (-50, 170): 120 x -40 + 30 x 90 = -2100, over
    sqrt(120^2 + 30^2) = 123.693: 16.978 mm.
    """
    block = [[-90, 100], [-90, 170], [-50, 170], [-50, 100]]
    answer = check(braked(block, spoke_back=[[-10, 80], [-40, 200]], pad_diameter=140))
    assert numbers(answer, "caliper behind the spokes")["gap_mm"] == pytest.approx(2100 / math.hypot(120, 30), abs=2e-3)


def test_spokes_measured_too_short(check: Check) -> None:
    block = [[-90, 100], [-90, 190], [-30, 190], [-30, 100]]
    answer = check(braked(block, spoke_back=[[-10, 75], [-10, 160]], pad_diameter=140))
    found, detail = bolt_on(answer, "caliper behind the spokes")
    assert found == "not_checked"
    assert "measured only out to radius 160 mm, and the caliper reaches radius 190 mm" in detail


def test_what_to_ask_the_seller(check: Check) -> None:
    """The block reaches 190 up to 20 behind the hub face; 3 mm round it (common practice), the spacer adds 5."""
    data = braked([[-90, 100], [-90, 190], [-20, 190], [-12, 170], [-12, 100]])
    bench_setup(data)["spacer"] = 5
    answer = check(data)
    barrel, spokes = (numbers(answer, f"caliper {where}") for where in ("in the barrel", "behind the spokes"))
    assert (barrel["ask_clear_diameter_mm"], barrel["ask_depth_mm"]) == (2 * (190 + 3), 20 + 5)
    assert (spokes["ask_back_mm"], spokes["from_radius_mm"], spokes["to_radius_mm"]) == (-12 - 5 + 3, 100, 190)
    assert "at least 386 mm from the inner edge to 25 mm behind the mounting face" in bolt_on(
        answer, "caliper in the barrel"
    )[1]  # fmt: skip
    assert "must be no more than 14 mm behind the mounting face" in bolt_on(answer, "caliper behind the spokes")[1]


def test_a_caliper_that_stands_out_of_the_hub_face(check: Check) -> None:
    data = braked([[-90, 100], [-90, 170], [4, 170], [4, 100]])
    detail = bolt_on(check(data), "caliper behind the spokes")[1]
    assert "must be at least 7 mm in front of the mounting face" in detail
    assert "reaches 4 mm in front of the mounting face" in detail


def test_a_caliper_inboard_of_the_rim_is_no_failure(check: Check) -> None:
    """As high as the bead seat, but the rim is 228.6 wide over all: at ET-60 it begins 114.3 - 60 = 54.3 inboard."""
    tall = [[-120, 100], [-120, 225], [-70, 225], [-70, 100]]
    found, detail = bolt_on(check(braked(tall, spec="17x8 ET-60 5x114.3 CB67.1")), "caliper in the barrel")
    assert (found, detail) == ("ok", "15.7 mm left (inboard of the rim's inner edge)")
    assert bolt_on(check(braked(tall)), "caliper in the barrel")[0] == "fail"
    stepped = [*tall[:3], [-70, 180], [-20, 180], [-20, 100]]
    found, detail = bolt_on(check(braked(stepped, spec="17x8 ET-60 5x114.3 CB67.1")), "caliper in the barrel")
    assert found == "not_checked"
    assert "at least 366 mm" in detail  # 2 x (180 + 3)


def test_a_rotor_inside_the_calipers_outline_is_not_told_twice(check: Check) -> None:
    data = braked(BLOCK)
    data["axles"]["front"]["brake"]["rotor"] = {"outline": [[-60, 160], [-40, 160]]}
    answer = check(data)
    assert bolt_on(answer, "rotor in the wheel")[0] == "not_checked"
    assert "rotor in the barrel" not in items(answer)
    data["axles"]["front"]["brake"]["rotor"] = {"bore": 70}
    assert bolt_on(check(data), "rotor in the wheel") == ("not_checked", "the rotor's outline is not in the profile")


# ---------------------------------------------------------------- rim, load, speed


@pytest.mark.parametrize(("width", "status"), [(7.5, "ok"), (9, "ok"), (7, "fail"), (9.5, "fail")])
def test_the_makers_own_rim_range_decides(check: Check, width: float, status: str) -> None:
    data = with_wheel(spec=f"17x{width:g} ET0 5x114.3 CB67.1")
    bench_setup(data)["tire"] = {"code": "225/45R17 94W XL", "approved_rims": [7.5, 9]}
    answer = check(data)
    assert bolt_on(answer, "rim width")[0] == status
    assert "approves 7.5 to 9 in" in bolt_on(answer, "rim width")[1]
    assert not any("common practice for this size" in words for words in answer["cautions"])


TRUCK = "49 CFR 571.120 S5.1.2"  # divide by 1.10; as quoted in interpretation nht76-1.47 of 17 November 1976, read


@pytest.mark.parametrize(
    ("tire", "vehicle_class", "load", "status"),
    [
        # load index 94 is 670 kg (load index table, read in secondary pages): two carry 1340, / 1.10 = 1218.18
        ("225/45R17 94W XL", "light_truck", 1218, "ok"),
        ("225/45R17 94W XL", "light_truck", 1219, "fail"),
        ("225/45R17 94W XL", "passenger_car", 1340, "ok"),
        ("225/45R17 94W XL", None, 1218, "ok"),  # enough either way
        ("225/45R17 94W XL", None, 1219, "caution"),  # enough on a passenger car alone
        ("225/45R17 94W XL", None, 1341, "fail"),
        ("P225/45R17 94W", "light_truck", 1219, "fail"),
        # 121 is 1450 kg: a light truck tire counts in full
        ("LT285/70R17 121/118S", "light_truck", 2900, "ok"),
        ("LT285/70R17 121/118S", None, 2900, "ok"),
    ],
)
def test_a_passenger_tire_on_a_light_truck(
    check: Check, tire: str, vehicle_class: str | None, load: float, status: str
) -> None:
    data = vehicle(axle_load=load) | ({"vehicle_class": vehicle_class} if vehicle_class else {})
    bench_setup(data)["tire"] = tire
    found, detail = bolt_on(check(data), "load")
    assert found == status
    assert (TRUCK in detail) is (not tire.startswith("LT") and (vehicle_class == "light_truck" or status == "caution"))


@pytest.mark.parametrize(("symbol", "top", "status"), [("W", 240, "ok"), ("W", 241, "caution"), ("H", 200, "ok")])
def test_a_fast_tire_carries_less_at_speed(check: Check, symbol: str, top: float, status: str) -> None:
    """W carries its index up to 240 km/h. Source: UN R30, maximum load rating, from memory."""
    data = vehicle(top_speed=top)
    bench_setup(data)["tire"] = f"225/45R17 94{symbol}"
    assert bolt_on(check(data), "load")[0] == status


def test_less_air_is_not_computed_and_says_so(check: Check) -> None:
    assert any("with less air is not computed" in words for words in check(vehicle())["cautions"])


@pytest.mark.parametrize(("rating", "status"), [(None, "not_checked"), (450, "ok"), (449, "fail")])
def test_the_wheel_has_a_rating_too(check: Check, rating: float | None, status: str) -> None:
    answer = check(with_wheel(**({"load_rating": rating} if rating else {})))  # 900 kg on the axle: 450 a wheel
    assert bolt_on(answer, "wheel load")[0] == status


@pytest.mark.parametrize(
    ("tire", "top", "status"),
    [
        # (Y) exceeds 300 km/h (EPREL, read), ZR without a symbol 240 km/h (from memory): by how much the maker states
        ("225/45ZR17 (94Y)", 300, "ok"),
        ("225/45ZR17 (94Y)", 310, "not_checked"),
        ("225/45ZR17", 240, "ok"),
        ("225/45ZR17", 250, "not_checked"),
        ("225/45R17 94W", 280, "fail"),
    ],
)
def test_a_symbol_without_an_upper_end(check: Check, tire: str, top: float, status: str) -> None:
    data = vehicle(top_speed=top)
    bench_setup(data)["tire"] = tire
    assert bolt_on(check(data), "speed symbol")[0] == status


def test_both_rim_diameters() -> None:
    """`check` refuses the pair before; asked from Python the answer is a failed check."""
    axle = profiles.axle(profiles.load_profile("wagon"), "rear")
    setup = Setup(parse_wheel("18x8 ET40"), parse_tire("225/45R17"))
    found = {check.item: check for check in bolt_on_checks(axle, setup)}
    assert found["rim diameter"].status == "fail"
    assert found["rim diameter"].detail == "the tire is for a 17 in rim, the wheel is 18 in"


# ---------------------------------------------------------------- front and rear


def both(front: str, rear: str, *, driven: tuple[bool, bool], **more: Any) -> dict[str, Any]:
    data = vehicle(driven=driven[0]) | more
    data["axles"]["rear"] = vehicle(driven=driven[1])["axles"]["front"]
    for build in data["builds"].values():
        build["front"]["tire"] = front
        build["rear"] = build["front"] | {"tire": rear}
    return data


@pytest.mark.parametrize(
    ("rear", "driven", "tolerance", "status"),
    [
        # overall diameters: 432 + 2 x 101 = 634; 255/40: 432 + 2 x 102 = 636, 0.3 %; 235/45: 432 + 2 x 106 = 644, 1.6 %
        ("225/45R17", (True, True), None, "ok"),
        ("255/40R17", (True, True), None, "ok"),
        ("235/45R17", (True, True), None, "caution"),
        ("235/45R17", (True, True), 1.5, "fail"),
        ("235/45R17", (True, True), 2, "ok"),
        ("235/45R17", (False, True), None, "not_checked"),
        ("235/45R17", (False, False), None, "not_checked"),
        ("225/45D17", (True, True), None, "not_checked"),
    ],
)
def test_front_and_rear_diameter(
    check: Check, rear: str, driven: tuple[bool, bool], tolerance: float | None, status: str
) -> None:
    more = {} if tolerance is None else {"diameter_tolerance": tolerance}
    answer = check(both("225/45R17", rear, driven=driven, **more))
    assert bolt_on(answer, "front and rear diameter")[0] == status
    if rear == "235/45R17":
        found = numbers(answer, "front and rear diameter")
        assert (found["front_mm"], found["rear_mm"]) == (634, 644)
        assert found["apart_percent"] == pytest.approx(100 * (1 - 634 / 644), abs=1e-3)


def test_figures_of_one_side_have_names_without_a_space(tmp_path: Path) -> None:
    data = both("225/45R17", "235/45R17", driven=(True, True))
    data["axles"]["rear"]["right"] = {"suspension": {"camber": -1}}
    for answer in run_json("check", write_profile(tmp_path, data)):
        found = numbers(answer, "front and rear diameter")
        (rear,) = [key for key in found if re.fullmatch("rear_(left|right)_mm", key)]
        assert (found["front_mm"], found[rear]) == (634, 644)
        assert not [key for each in answer["bolt_on"] for key in each.get("numbers", {}) if " " in key]


def test_both_axles_say_the_same_and_the_command_line_fits_both(tmp_path: Path) -> None:
    path = write_profile(tmp_path, both("225/45R17", "235/45R17", driven=(True, True)))
    found = [bolt_on(answer, "front and rear diameter") for answer in run_json("check", path)]
    assert found[0] == found[1]
    wheel = ("--wheel", "17x8 ET0 5x114.3 CB67.1", "--tire", "225/45R17")
    for answer in run_json("check", path, *wheel):  # on both axles
        assert bolt_on(answer, "front and rear diameter")[0] == "ok"
    answer = run_json("check", path, "--axle", "front", *wheel)  # the rear keeps its 235/45
    assert bolt_on(answer, "front and rear diameter")[0] == "caution"


def test_another_final_drive_makes_up_for_another_diameter(check: Check) -> None:
    """634 / 3.545 = 178.8 and 644 / 3.60 = 178.9: 0.03 % apart."""
    data = both("225/45R17", "235/45R17", driven=(True, True))
    data["axles"]["front"]["final_drive"], data["axles"]["rear"]["final_drive"] = 3.545, 3.60
    assert bolt_on(check(data), "front and rear diameter")[0] == "ok"


def test_a_build_that_is_silent_about_the_other_axle(check: Check) -> None:
    data = both("225/45R17", "225/45R17", driven=(True, True))
    del data["builds"]["lowered"]["rear"]
    assert bolt_on(check(data, "--build", "lowered"), "front and rear diameter")[0] == "not_checked"
    data["axles"]["rear"]["driven"] = False
    assert "front and rear diameter" not in items(check(data, "--build", "lowered"))


# ---------------------------------------------------------------- adapters: two joints

ADAPTER = {
    "thickness": 25, "hub_circle": "5x114.3", "bore": 67.1, "seat_thickness": 12, "bolt_circle": "6x139.7",
    "stud": "M14x1.5", "stud_length": 40, "register": 78, "register_length": 6, "nut": "M14x1.5", "nut_seat": "cone",
}  # fmt: skip
JOINT = ("adapter's circle on the hub", "adapter's bore on the hub", "hub studs in the adapter")


def adapted(**changes: Any) -> dict[str, Any]:
    wheel = {"spec": "17x8 ET25 6x139.7 CB78.1", "pad_thickness": 13, "seat": "cone"}
    data = with_wheel(**wheel)
    data["axles"]["front"]["hub"]["stud_length"] = 25
    spacer = {key: value for key, value in (ADAPTER | changes).items() if value is not None}
    bench_setup(data)["spacer"] = spacer
    return data


def test_both_joints_of_an_adapter(check: Check) -> None:
    answer = check(adapted())
    found = items(answer)
    assert [found[item] for item in (*JOINT, "bolt circle", "centre bore", "studs", "nuts")] == ["ok"] * 7
    assert "hub studs behind the wheel" not in found, "25 mm of stud in 25 mm of adapter"
    # inner joint: 25 - 12 = 13 mm past the seat, one diameter is 12; outer joint: 40 - 13 = 27 past the pad
    assert numbers(answer, "hub studs in the adapter")["past_pad_mm"] == 13
    assert numbers(answer, "studs")["past_pad_mm"] == 27
    assert list(found)[:3] == list(JOINT), "from the hub outward"


@pytest.mark.parametrize(
    ("changes", "item", "status", "words"),
    [
        ({"hub_circle": "5x115"}, JOINT[0], "fail", "0.70 mm apart. Never force it on"),
        ({"hub_circle": None}, JOINT[0], "not_checked", "the hub has 5x114.3"),
        ({"bore": 66.5}, JOINT[1], "fail", "0.6 mm too small"),
        ({"bore": 70}, JOINT[1], "caution", "adapter and wheel can stand 1.45 mm off centre"),
        ({"bore": None}, JOINT[1], "not_checked", "the hub's register is 67.1 mm"),
        ({"seat_thickness": 14}, JOINT[2], "caution", "11 mm of M12x1.5 stand past the adapter's nut seat"),
        ({"seat_thickness": None}, JOINT[2], "not_checked", "under the hub's nuts"),
        ({"seat_thickness": 26}, JOINT[2], "not_checked", "measure again"),
        ({"thickness": 20}, "hub studs behind the wheel", "caution", "5 mm past the adapter's face"),
        ({"bolt_circle": "6x135"}, "bolt circle", "fail", "the adapter 6x135 mm: 4.70 mm apart"),
        (
            {"register": None},
            "centre bore",
            "not_checked",
            "which register the adapter has for the wheel's 78.1 mm bore",
        ),
        ({"register": 77.0}, "centre bore", "caution", "78.1 mm outside and 77 mm inside"),
        ({"stud": None, "stud_length": None}, "studs", "not_checked", "the adapter's stud thread or length"),
        ({"nut": "M14x2.0"}, "nuts", "fail", "M14x2.0 nuts on M14x1.5 studs"),
        ({"nut_seat": "ball"}, "nuts", "fail", "ball-seat nuts in the wheel's cone seats"),
    ],
)
def test_each_joint_can_go_wrong(check: Check, changes: dict[str, Any], item: str, status: str, words: str) -> None:
    found, detail = bolt_on(check(adapted(**changes)), item)
    assert found == status
    assert words in detail


def test_nuts_of_the_hub_hold_the_adapter(check: Check) -> None:
    data = adapted()
    data["axles"]["front"]["hub"]["nut"] = "M12x1.25"
    assert bolt_on(check(data), JOINT[2])[0] == "fail"


def test_a_spacer_with_a_step_is_no_adapter(check: Check) -> None:
    data = with_wheel(pad_thickness=13)
    bench_setup(data)["spacer"] = {"thickness": 10, "bore": 67.1, "register": 67.1, "register_length": 6}
    answer = check(data)
    assert items(answer)["spacer's bore on the hub"] == "ok"
    assert items(answer)["centre bore"] == "ok"
    assert "register past spacer" not in items(answer)
    assert numbers(answer, "studs")["past_pad_mm"] == 40 - 10 - 13, "the hub's studs pass through it"


def test_a_seller_who_drops_the_decimals(check: Check) -> None:
    found, detail = bolt_on(check(with_wheel(spec="17x8 ET0 5x114 CB67.1")), "bolt circle")
    assert found == "not_checked"
    assert "ask the seller whether 5x114.3 is meant" in detail


# ---------------------------------------------------------------- keys, reports, bundled profiles


@pytest.mark.parametrize(
    ("path", "value", "words"),
    [
        (("hub", "nut_seat"), "conical", "cone"),
        (("hub", "nut"), "M12", "is not a stud thread"),
        (("wheel", "seat"), "round", "cone, ball, flat"),
        (("wheel", "load_rating"), 0, "not a plausible"),
        (("wheel", "stud_hole"), 0.5, "inches"),
        (("wheel", "barrel_inside"), [[-90, 200], [0, 190], [-50, 195]], "in the order of their depth"),
        (("wheel", "barrel_inside"), [[-90, 400], [0, 390]], "Was the diameter given in place of r?"),
        (("tire", "approved_rims"), [9, 7], "the narrower rim comes first"),
        (("tire", "approved_rims"), [9], "2 are expected"),
        (("top", "vehicle_class"), "truck", "light_truck"),
        (("top", "diameter_tolerance"), -1, "not a plausible"),
    ],
)
def test_slips_in_the_new_keys(tmp_path: Path, path: tuple[str, str], value: Any, words: str) -> None:
    data = with_wheel()
    bench_setup(data)["tire"] = {"code": "225/45R17 94W XL"}
    where = {
        "hub": data["axles"]["front"]["hub"],
        "wheel": bench_setup(data)["wheel"],
        "tire": bench_setup(data)["tire"],
    }
    where.get(path[0], data)[path[1]] = value
    result = run("check", write_profile(tmp_path, data))
    assert result.exit_code == 2, result.stdout
    assert path[1] in result.stderr
    assert words in " ".join(result.stderr.split())


def test_inches_turn_every_length(tmp_path: Path) -> None:
    data = with_rotor(bore=74.0, mass=10.0, outline=[[-60, 160], [-40, 160]])
    text = run("check", write_profile(tmp_path, data), "--units", "in", "--full").stdout
    lines = " ".join(text[text.index("Bolt-on") : text.index("Cautions")].split())
    assert "bore 74 mm is 2.0 mm larger than the 72 mm register" in lines
    assert " mm" not in re.sub(r"bore [\d.]+ mm( is 2\.0 mm)?|[\d.]+ mm register", "", lines)
    # 10 kg 1 mm off: 10 000 g mm, and at the bead seat of 17 in, 436.6 mm across, 45.8 g; 1 oz = 28.35 g
    assert "With its 22 lb that shakes like 1.6 oz of extra weight" in lines
    assert "imbalance 14 oz in" in lines


BUNDLED = [(name, axle, build) for name in profiles.bundled_names() if name != "example"
           for profile in (profiles.load_profile(name),) for axle in profile.axle_names
           for build in profile.build_names]  # fmt: skip


def answers(name: str, axle: str, build: str) -> tuple[BoltOn, ...]:
    profile = profiles.load_profile(name)
    return bolt_on_checks(profiles.axle(profile, axle, build), profiles.setup(profile, axle, build))


def test_every_check_runs_on_the_bundled_profiles() -> None:
    found = {check.item for each in BUNDLED for check in answers(*each)}
    assert {
        *JOINT, "hub studs behind the wheel", "bolt circle", "centre bore", "rotor register", "studs", "nuts",
        "caliper in the barrel", "caliper behind the spokes", "rotor in the wheel", "rim diameter", "rim width", "load",
        "wheel load", "speed symbol",
    } <= found  # fmt: skip


def test_a_bundled_hub_of_two_steps_has_the_wrong_rotor() -> None:
    profile = profiles.load_profile("pickup")
    hub = profiles.axle(profile, "front", "parts_bin").hub
    assert hub is not None
    assert hub.rotor_register is not None
    assert hub.wheel_register is not None
    assert hub.rotor_register.diameter > hub.wheel_register.diameter
    found = {check.item: check for check in answers("pickup", "front", "parts_bin")}
    assert found["rotor register"].status == "caution"
    # bore 94 on 92, 13 kg: 1 mm off, 13 000 g mm; tire 508 + 2 x 124 = 756 across, 160 km/h
    omega = 2 * math.pi * (160 / 3.6) / (3.05 * 0.756)
    assert dict(found["rotor register"].numbers)["force_n"] == pytest.approx(13 * 0.001 * omega**2, rel=1e-4)


def test_a_bundled_caliper_meets_a_spoke() -> None:
    found = {check.item: check.status for check in answers("wagon", "front", "big_brake")}
    assert found["caliper in the barrel"] == "ok"
    assert found["caliper behind the spokes"] == "fail"


@pytest.mark.slow
@pytest.mark.parametrize(("name", "axle", "build"), BUNDLED)
def test_answers_kept_are_the_answers_asked(name: str, axle: str, build: str) -> None:
    """Setups that share a key share the answer, word for word: many setups on one axle, in any order."""
    profile = profiles.load_profile(name)
    resolved, own = profiles.axle(profile, axle, build), profiles.setup(profile, axle, build)
    chance, known = random.Random(7), Known()
    wheels = [
        own.wheel,
        replace(own.wheel, offset=own.wheel.offset - 40),
        replace(own.wheel, spoke_back=(), pad_thickness=18.0),
    ]
    wheels += [parse_wheel(f"{d}x{w} ET{e} {c} CB{b}") for d in (15, 18) for w in (7, 9.5) for e in (-60, 40)
               for c, b in (("5x114.3", 73.1), ("5x115", 70.6), ("6x139.7", 66.1))]  # fmt: skip
    tires = [own.tire, *map(parse_tire, ("225/45R18 91W", "275/40R18 99Y XL", "205/70D15 96H", "LT285/75R15 121/118S"))]
    spacers = [own.spacer, Spacer(), Spacer(5.0), Spacer(30.0)]
    pairs = [(wheel, tire) for wheel in wheels for tire in tires]
    for wheel, tire in chance.sample(pairs, k=len(pairs) // 6):
        for spacer in spacers:
            setup = Setup(wheel, tire, spacer)
            assert bolt_on_checks(resolved, setup, known) == bolt_on_checks(resolved, setup)
    assert len({check.name for check in CHECKS}) == len(CHECKS)
