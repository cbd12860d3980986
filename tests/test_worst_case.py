"""The worst case: the largest tire permitted, and every measured value moved against us by its tolerance.

On the bench vehicle (conftest.py) each loss is worked by hand. Where a reading turns the wheel, the program takes the
loss to first order; there the same vehicle is computed again with the reading moved, and the bound is derived below.
"""

from __future__ import annotations

import copy
import math
from collections.abc import Callable
from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from conftest import DIAMETER, HUB_FACE, POST, RAIL, SEAT, WIDTH, bench_setup, least, steered, vehicle, write_profile

from fitment.checks import case
from fitment.clearance.trace import hub_corners, trace_obstacle
from fitment.clearance.worst_case import PartMoved, read_again, sections_of, worst_clearance
from fitment.motion.suspension import poses_at_lock_fraction
from fitment.profile import load_profile, readings, setup

Check = Callable[..., dict[str, Any]]
ROUND = 2e-3  # [mm] chords of the outline and printed digits
# UN R30 6.1.4 and 6.1.5 (from memory): a new radial tire may be 4 % wider and its section 4 % higher
LARGEST_HALF = 1.04 * WIDTH / 2
LARGEST_RADIUS = (SEAT + 1.04 * (DIAMETER - SEAT)) / 2
TO_POST = POST - HUB_FACE - LARGEST_HALF  # 20.4
TO_RAIL = RAIL - 50 - LARGEST_RADIUS  # 48.96
WHEEL_TO_POST = POST - HUB_FACE - (8 + 1) * 25.4 / 2  # 25.7


def worst(answer: dict[str, Any], obstacle: str = "post", part: str = "tire") -> float:
    return least(answer, obstacle, part, "worst_case_mm")


def about(value: float) -> Any:
    return pytest.approx(value, abs=ROUND)


def post(**more: Any) -> dict[str, Any]:
    return {"name": "post", "shape": "edge", "points": [[0, POST, -450], [0, POST, 450]]} | more


def test_largest_tire(check: Check) -> None:
    answer = check(vehicle())
    assert worst(answer) == about(TO_POST)
    assert worst(answer, "rail") == about(TO_RAIL)
    assert worst(answer, "post", "wheel") == about(WHEEL_TO_POST), "a wheel does not grow"
    for entry in answer["clearances"]:
        assert entry["worst_case_mm"] <= entry["clearance_mm"] + ROUND


def test_tolerance_of_an_obstacle(check: Check) -> None:
    answer = check(vehicle(obstacles=[post(tolerance=3)]))
    assert worst(answer) == about(TO_POST - 3)
    assert worst(answer, part="wheel") == about(WHEEL_TO_POST - 3)
    assert least(answer, "post") == about(POST - HUB_FACE - WIDTH / 2), "the clearance itself is as measured"


def test_a_reading_of_one_part_takes_nothing_from_another(check: Check) -> None:
    read = {"points": [[0, {"value": POST, "tolerance": 2}, -450], [0, {"value": POST, "tolerance": 2}, 450]]}
    answer = check(vehicle(obstacles=[post(), post(name="post 2") | read, post(name="other", tolerance=1)]))
    assert worst(answer) == about(TO_POST)
    assert worst(answer, "other") == about(TO_POST - 1)
    assert worst(answer, "post 2") == about(TO_POST - 2), "each end takes half in the middle"


def test_readings_that_cannot_move_a_part_are_left_out_against_taking_all(tmp_path: Path) -> None:
    """The plain way: every reading's axle settled anew, and every part measured on all of them."""
    gap = {"to": "tire", "gap": {"value": 60, "tolerance": 2}}
    parts = [
        {"name": "near", "shape": "ball", "radius": 5, "at": [100, 480, 200], "measured_gap": gap},
        {"name": "far", "shape": "ball", "radius": {"value": 5, "tolerance": 1}, "at": [-150, 470, 150]},
        post(tolerance=1),
    ]
    width = {"value": 2 * HUB_FACE, "tolerance": 2}
    ready = case.ready(load_profile(write_profile(tmp_path, vehicle(obstacles=parts, hub_face_width=width))), "front")
    by = {r.path: r.tolerance for r in readings(ready.profile, "front")}
    plain = [replace(v, axle=case.axle_with(ready, {v.reading: by[v.reading]})) for v in ready.variants]
    assert [v.axle for v in plain] == [v.axle for v in ready.variants]
    assert len(plain) == 3
    poses = poses_at_lock_fraction(ready.axle, 0.0, 0.0)
    sections = sections_of(setup(ready.profile, "front"), ready.variants)
    counted = {}
    for part in ready.axle.obstacles:
        of_all, own = [], read_again(part, ready.axle, sections)
        for variant in plain:
            other = next(o for o in variant.axle.obstacles if o.name == part.name)
            corners = hub_corners(other, poses_at_lock_fraction(variant.axle, 0.0, 0.0))
            of_all.append(PartMoved(other.radius, corners, False))
        trace, counted[part.name] = trace_obstacle(part, poses), len(own)
        few = [of_all[k] for k, _ in own]
        left = [worst_clearance(trace, "tire", None, moved, sections)[0] for moved in (of_all, few)]
        assert left[0] == pytest.approx(left[1], abs=1e-12)
    assert counted == {"near": 2, "far": 2, "post": 1}, "hub_face_width moves the hub against all of them"


def test_hub_face_width_moves_each_side_by_half(check: Check) -> None:
    answer = check(vehicle(hub_face_width={"value": 2 * HUB_FACE, "tolerance": 2}))
    assert worst(answer) == about(TO_POST - 1)
    assert worst(answer, part="wheel") == about(WHEEL_TO_POST - 1)
    assert worst(answer, "rail") == about(TO_RAIL), "a rail along y is as far, whichever way the hub stands"


@pytest.mark.parametrize(
    "part",
    [
        {"measured_from": "hub_face", "points": [[0, 140, -450], [0, 140, 450]]},
        {"points": [{"clock": 270, "radius": 450, "out": 140}, {"clock": 90, "radius": 450, "out": 140}]},
        {"measured_gap": {"to": "tire", "gap": 25}},
    ],
    ids=["from the hub face", "clock and out", "measured gap"],
)
def test_a_part_measured_from_the_hub_face_moves_with_it(check: Check, part: dict[str, Any]) -> None:
    """The tape was held between wheel and part: where the hub face stands in the body does not matter."""
    data = vehicle(hub_face_width={"value": 2 * HUB_FACE, "tolerance": 2}, obstacles=[post(**part)])
    assert worst(check(data)) == about(TO_POST)


def test_hub_face_width_after_a_swap(check: Check) -> None:
    """Both widths were read: the new one places the hub, the old one the part that was measured from it."""
    data = vehicle(
        hub_face_width={"value": 2 * HUB_FACE, "tolerance": 2},
        obstacles=[post(), post(measured_from="hub_face", points=[[0, 140, -450], [0, 140, 450]], name="lip")],
    )
    width = {"value": 2 * HUB_FACE + 20, "tolerance": 3}
    data["builds"]["swap"] = {"front": bench_setup(data) | {"hub_face_width": width}}
    answer = check(data, "--build", "swap")
    assert worst(answer) == about(TO_POST - 10 - 3 / 2)
    assert worst(answer, "lip") == about(TO_POST - 10 - 3 / 2 - 2 / 2)


def test_tolerance_of_a_measured_gap(check: Check) -> None:
    gap = {"to": "tire", "gap": {"value": 25, "tolerance": 2}}
    assert worst(check(vehicle(obstacles=[post(measured_gap=gap)]))) == about(TO_POST - 2)


@pytest.mark.parametrize("wheel", [{"offset": {"value": 0, "tolerance": 1.5}}, {"offset_tolerance": 1.5}])
def test_offset_tolerance(check: Check, wheel: dict[str, Any]) -> None:
    data = vehicle()
    bench_setup(data)["wheel"] = {"spec": "17x8 ET0 5x114.3 CB67.1"} | wheel
    answer = check(data)
    assert worst(answer) == about(TO_POST - 1.5)
    assert worst(answer, part="wheel") == about(WHEEL_TO_POST - 1.5)
    assert worst(answer, "rail") == about(TO_RAIL), "over the crown an offset moves nothing nearer"


def test_coordinates_with_tolerances(check: Check) -> None:
    y = {"value": POST, "tolerance": 2}
    answer = check(vehicle(obstacles=[post(points=[[0, y, -450], [0, y, 450]])]))
    assert worst(answer) == about(TO_POST - 2), "both ends moved in by 2 is the whole post moved in by 2"
    answer = check(vehicle(obstacles=[{"name": "ball", "shape": "ball", "at": [0, y, 270]}]))
    nominal = check(vehicle(obstacles=[{"name": "ball", "shape": "ball", "at": [0, POST, 270]}]))
    assert worst(answer, "ball") <= worst(nominal, "ball") - 1.8, "nearly all of it where the sidewall faces it"


def test_radius_with_a_tolerance(check: Check) -> None:
    radius = {"value": 6, "tolerance": 1}
    answer = check(vehicle(obstacles=[post(radius=radius)]))
    assert least(answer, "post") == about(POST - HUB_FACE - WIDTH / 2 - 6)
    assert worst(answer) == about(TO_POST - 7)


def test_ring_with_a_tolerance(check: Check) -> None:
    y = {"value": 130, "tolerance": 1.5}
    answer = check(vehicle(obstacles=[{"name": "ring", "shape": "ring", "outline": [[y, 200], [y, 330]]}]))
    assert least(answer, "ring") == about(130 - WIDTH / 2)
    assert worst(answer, "ring") == about(130 - LARGEST_HALF - 1.5)


def test_measured_figures_of_tire_wheel_and_spacer(check: Check) -> None:
    data = vehicle()
    bench_setup(data)["tire"] = bench_setup(data)["tire"] | {"section_width": {"value": WIDTH, "tolerance": 4}}
    assert worst(check(data)) == about(POST - HUB_FACE - 1.04 * (WIDTH + 4) / 2)
    data = vehicle()
    bench_setup(data)["tire"] = bench_setup(data)["tire"] | {"overall_diameter": {"value": DIAMETER, "tolerance": 3}}
    assert worst(check(data), "rail") == about(RAIL - 50 - (SEAT + 1.04 * (DIAMETER + 3 - SEAT)) / 2)
    data = vehicle()
    bench_setup(data)["spacer"] = {"value": 5, "tolerance": 0.5}
    assert worst(check(data)) == about(TO_POST - 5 - 0.5)
    data = vehicle()
    overall = {"value": 228.6, "tolerance": 2}
    bench_setup(data)["wheel"] = {"spec": "17x8 ET0 5x114.3 CB67.1", "overall_width": overall}
    assert worst(check(data), part="wheel") == about(WHEEL_TO_POST - 2 / 2)


def test_rates_of_a_tape_suspension(check: Check) -> None:
    """An outward motion of 4 +- 1 for 100 of bump: half of both at full bump."""
    rate = {"value": 4, "tolerance": 1}
    straight = {"kind": "tape", "track_per_100mm": rate, "out_bend": 0}
    answer = check(vehicle(suspension=straight, obstacles=[post()]))
    assert worst(answer) == about(TO_POST - 2 - 0.5)
    at_rest = [e["worst_case_mm"] for e in answer["clearances"] if e["travel_mm"] == 0 and e["part"] == "tire"]
    assert at_rest == [about(TO_POST)], "at the reference travel a rate does nothing"


def test_ends_of_travel_with_a_tolerance(check: Check) -> None:
    """Bump read as 50 +- 4: the wheel may come up 54, and the rail above it is that much nearer."""
    answer = check(vehicle(travel={"droop": -50, "bump": {"value": 50, "tolerance": 4}}))
    assert worst(answer, "rail") == about(TO_RAIL - 4)


def test_losses_are_summed_against_us(check: Check) -> None:
    y = {"value": POST, "tolerance": 2}
    data = vehicle(
        hub_face_width={"value": 2 * HUB_FACE, "tolerance": 2},
        obstacles=[post(points=[[0, y, -450], [0, y, 450]], tolerance=3)],
    )
    bench_setup(data)["wheel"] = {"spec": "17x8 ET0 5x114.3 CB67.1", "offset_tolerance": 1.5}
    answer = check(data)
    assert worst(answer) == about(TO_POST - 1 - 2 - 3 - 1.5)
    assert worst(answer, part="wheel") == about(WHEEL_TO_POST - 1 - 2 - 3 - 1.5)


def test_a_setup_typed_at_the_command_line_has_no_tolerance_of_its_own(check: Check) -> None:
    data = vehicle(obstacles=[post(tolerance=3)])
    bench_setup(data)["wheel"] = {"spec": "17x8 ET0 5x114.3 CB67.1", "offset_tolerance": 1.5}
    assert worst(check(data, "--wheel", "17x8 ET0"), part="wheel") == about(WHEEL_TO_POST - 3)


def test_a_worst_case_below_zero_is_tight(check: Check) -> None:
    answer = check(vehicle(obstacles=[post(tolerance=21)]))
    assert answer["worst"]["margin_mm"] == about(POST - HUB_FACE - WIDTH / 2 - 5)
    assert worst(answer) == about(TO_POST - 21)
    assert answer["verdict"] == "tight"
    assert check(vehicle(obstacles=[post(tolerance=20)]))["verdict"] == "clears"


# ---------------------------------------------------------------- first order against computing it again


def second_order(motion: float, radius: float) -> float:
    """What a first-order loss may be off by [mm].

    A point that moves by `motion` beside an outline of radius of curvature `radius` is off its tangent's distance by
    motion^2 / (2 radius); the nearest place on the part changes as well, which at most doubles it.
    """
    return motion**2 / radius


@pytest.mark.parametrize("tolerance", [0.1, 0.5])
def test_camber_tolerance(check: Check, tolerance: float) -> None:
    """Half a degree brings the sidewall at the top nearer to the post by some 270 sin(0.5 deg)."""
    nominal = {"kind": "tape", "camber": -1.0}
    toleranced = {"kind": "tape", "camber": {"value": -1.0, "tolerance": tolerance}}
    found = worst(check(vehicle(suspension=toleranced, obstacles=[post()])))
    again = [
        worst(check(vehicle(suspension=nominal | {"camber": -1.0 + sign * tolerance}, obstacles=[post()])))
        for sign in (1, -1)
    ]
    # the point of the post moves by up to (height above the hub) x angle; the sidewall bends with 40 mm and more
    motion = DIAMETER / 2 * math.radians(tolerance)
    assert found == pytest.approx(min(again), abs=second_order(motion, 40) + ROUND)
    assert worst(check(vehicle(suspension=nominal, obstacles=[post()]))) - found > 0.5 * motion


READINGS: dict[str, tuple[Callable[[dict[str, Any]], dict[str, Any]], str, float, float]] = {
    # reading: (where it stands, its key, value, tolerance)
    "camber": (lambda axle: axle["suspension"], "camber", -1.2, 0.2),
    "camber rate": (lambda axle: axle["suspension"], "camber_per_100mm", -2.0, 0.3),
    "track rate": (lambda axle: axle["suspension"], "track_per_100mm", 5.0, 1.0),
    "hub face width": (lambda axle: axle, "hub_face_width", 1500.0, 2.0),
}


def moved(signs: dict[str, float] | None) -> dict[str, Any]:
    """A steered, cambered corner under an arch; readings with their tolerances, or moved by signs of them."""
    arch = [
        [-300, POST - 15, 210],
        [-160, POST - 8, 350],
        [0, POST - 5, 398],
        [160, POST - 8, 350],
        [300, POST - 15, 210],
    ]
    data = steered(
        obstacles=[
            {"name": "arch", "shape": "edge", "smooth": True, "radius": 3, "meets": "tire", "points": arch},
            {
                "name": "rod",
                "shape": "rod",
                "radius": 10,
                "meets": "tire",
                "from": [240, 400, 40],
                "to": [240, 505, 60],
            },
        ],
        steering={"lock_left": 20, "lock_right": 20},
    )
    axle = data["axles"]["front"]
    axle["suspension"] |= {"camber_bend": 0, "out_bend": 0}
    for name, (where, key, value, tolerance) in READINGS.items():
        moved_to = {"value": value, "tolerance": tolerance} if signs is None else value + signs[name] * tolerance
        where(axle)[key] = copy.deepcopy(moved_to)
    return data


@pytest.mark.slow
def test_all_readings_at_once_against_computing_every_corner_of_their_box(check: Check) -> None:
    """The sum of first-order losses is the least of all sixteen vehicles with each reading at one end of its band."""
    found = check(moved(None))
    corners = [
        check(moved(dict(zip(READINGS, signs, strict=True)))) for signs in product((1, -1), repeat=len(READINGS))
    ]
    for name in ("arch", "rod"):
        again = min(worst(each, name) for each in corners)
        nominal = worst(check(moved(dict.fromkeys(READINGS, 0))), name)
        # motion of a point at the tread, all readings together: 2/2, 50/100 x 1 and 321 x (0.2 + 0.15) deg
        motion = 1.0 + 0.5 + LARGEST_RADIUS * math.radians(0.2 + 0.5 * 0.3)
        assert worst(found, name) == pytest.approx(again, abs=second_order(motion, 25)), (
            name
        )  # the shoulder bends with 25
        assert nominal - worst(found, name) > second_order(motion, 25), "the tolerances matter here"
