"""Parts placed by a tape reading: the baseline reproduces it, and the body stays there whatever is bolted on.

On the bench vehicle (conftest.py) most places can be worked in the head: a wall or a post beside the tire stands
half a section width and the reading away from the wheel's centre plane.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import DIAMETER, HUB_FACE, WIDTH, bench_setup, least, run, run_json, steered, vehicle, write_profile
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from reference.points_solver import WISHBONES

from fitment.checks.case import ready
from fitment.checks.case import run as run_case
from fitment.errors import ProfileError
from fitment.motion.suspension import poses_at_lock_fraction
from fitment.parts.sections import tire_section, wheel_section
from fitment.profile import axle, load_profile, loads_profile, setup

Check = Callable[..., dict[str, Any]]
HALF = {"tire": WIDTH / 2, "wheel": (8 + 1) * 25.4 / 2}  # [mm] wheel: rim width + 2 x 12.7, halved
TAPE = 0.01  # [mm] how well a reading is reproduced


def post(y: float, to: str, gap: object, **more: Any) -> dict[str, Any]:
    points = [[0, y, -450], [0, y, 450]]
    return {"name": "post", "shape": "edge", "points": points, "measured_gap": {"to": to, "gap": gap}} | more


def wall(y: float, to: str, gap: object, **more: Any) -> dict[str, Any]:
    rows = [[[-400, y, -400], [400, y, -400]], [[-400, y, 400], [400, y, 400]]]
    return {"name": "wall", "shape": "panel", "rows": rows, "measured_gap": {"to": to, "gap": gap}} | more


def settled(folder: Path, data: dict[str, Any], build: str | None = None) -> list[float]:
    """y of the first point of every obstacle of the front axle, as placed for a build."""
    axle = ready(load_profile(write_profile(folder, data)), "front", build).axle
    return [obstacle.points[0][1] for obstacle in axle.obstacles]


def reading(answer: dict[str, Any], name: str, part: str, ride: float = 0.0) -> float:
    """Clearance at rest, straight ahead: what the tape was held against."""
    found = [
        entry["clearance_mm"]
        for entry in answer["clearances"]
        if (entry["obstacle"], entry["part"]) == (name, part)
        and abs(entry["travel_mm"] - ride) < 1e-6
        and abs(entry["steer_deg"]) < 1
    ]
    assert len(found) == 1
    return float(found[0])


@pytest.mark.parametrize("shape", [post, wall], ids=["edge", "panel"])
@pytest.mark.parametrize("to", ["tire", "wheel"])
@pytest.mark.parametrize("side", [1, -1], ids=["outboard", "inboard"])
@pytest.mark.parametrize("radius", [0, 6])
def test_place_by_hand(tmp_path: Path, shape: Callable[..., dict[str, Any]], to: str, side: int, radius: float) -> None:
    guess = HUB_FACE + side * 200
    data = vehicle(obstacles=[shape(guess, to, 31, radius=radius)])
    assert settled(tmp_path, data) == pytest.approx([HUB_FACE + side * (HALF[to] + 31 + radius)], abs=TAPE)


@pytest.mark.parametrize("guess", [760, 865, 890, 1400])
def test_the_guess_only_tells_the_side(tmp_path: Path, guess: float) -> None:
    data = vehicle(obstacles=[post(guess, "tire", 25)])
    assert settled(tmp_path, data) == pytest.approx([HUB_FACE + WIDTH / 2 + 25], abs=TAPE)


def test_a_reading_in_inches_and_of_nothing(tmp_path: Path) -> None:
    data = vehicle(obstacles=[post(900, "tire", "1 1/2 in"), wall(600, "tire", 0)])
    by_hand = [HUB_FACE + WIDTH / 2 + 38.1, HUB_FACE - WIDTH / 2]
    assert settled(tmp_path, data) == pytest.approx(by_hand, abs=TAPE)


PARTS: list[dict[str, Any]] = [
    {"name": "slanted edge", "shape": "edge", "radius": 4, "points": [[-200, 0, 60], [150, 25, 260], [300, -10, 90]]},
    {"name": "smooth edge", "shape": "edge", "smooth": True, "points": [[-200, 0, 60], [0, 12, 280], [200, 0, 60]]},
    {"name": "ball", "shape": "ball", "radius": 12, "at": [60, 0, 240]},
    {"name": "ball over the tread", "shape": "ball", "radius": 12, "at": [0, 0, 340]},
    {"name": "rod", "shape": "rod", "radius": 9, "from": [-100, 5, 100], "to": [100, -5, 270]},
    {"name": "warped panel", "shape": "panel", "rows": [[[-90, 0, 90], [90, 4, 90]], [[-90, 9, 300], [90, -6, 310]]]},
]


def shifted(part: dict[str, Any], dy: float) -> dict[str, Any]:
    """The part with every point moved along y."""

    def moved(value: Any) -> Any:
        if isinstance(value, list) and len(value) == 3 and not isinstance(value[0], list):
            return [value[0], value[1] + dy, value[2]]
        return [moved(each) for each in value] if isinstance(value, list) else value

    return {key: moved(value) for key, value in part.items()}


@pytest.mark.parametrize("camber", [0, -2.5])
@pytest.mark.parametrize("ride", ["level", "low"])
@pytest.mark.parametrize("side", [1, -1], ids=["outboard", "inboard"])
def test_baseline_reproduces_the_reading(check: Check, side: int, ride: str, camber: float) -> None:
    """Every shape, to tire and to wheel, on a cambered wheel, at the baseline's ride height."""
    parts = []
    for to in ("tire", "wheel"):
        for part in PARTS:
            if part["name"] == "ball over the tread" and to == "wheel":
                continue  # never as near as that to the wheel
            gap = {"measured_gap": {"to": to, "gap": 71}}
            parts.append(shifted(part, HUB_FACE + side * 200) | gap | {"name": f"{part['name']} {to}"})
    data = vehicle(obstacles=parts, suspension={"kind": "tape", "camber": camber, "camber_per_100mm": -3})
    bench_setup(data)["ride"] = ride
    answer = check(data)
    height = data["axles"]["front"]["ride_heights"][ride]
    for part in parts:
        to = part["measured_gap"]["to"]
        assert reading(answer, part["name"], to, height) == pytest.approx(71, abs=TAPE), part["name"]


def test_spacer_and_offset_of_the_baseline_count(tmp_path: Path) -> None:
    data = vehicle(obstacles=[post(900, "tire", 25)])
    bench_setup(data).update(wheel="17x8 ET30 5x114.3 CB67.1", spacer=12)
    assert settled(tmp_path, data) == pytest.approx([HUB_FACE + 12 - 30 + WIDTH / 2 + 25], abs=TAPE)


# ---------------------------------------------------------------- after the swap


def swapped() -> dict[str, Any]:
    """A build whose hub faces stand 60 mm further apart, so that each moves out by 30."""
    data = vehicle(
        obstacles=[
            post(900, "tire", 40),
            {"name": "lip", "shape": "edge", "measured_from": "hub_face", "points": [[0, 150, -450], [0, 150, 450]]},
            {"name": "stone", "shape": "ball", "at": {"clock": 90, "radius": 400, "out": 90}},
        ]
    )
    data["builds"]["swap"] = {"front": bench_setup(data) | {"hub_face_width": 2 * HUB_FACE + 60}}
    return data


def test_body_stays_where_it_was_measured(tmp_path: Path, check: Check) -> None:
    by_hand = [HUB_FACE + WIDTH / 2 + 40, HUB_FACE + 150, HUB_FACE + 90]
    for build in (None, "measured", "swap"):
        assert settled(tmp_path, swapped(), build) == pytest.approx(by_hand, abs=TAPE)
    assert least(check(swapped()), "post") == pytest.approx(40, abs=TAPE)
    after = check(swapped(), "--build", "swap")
    assert least(after, "post") == pytest.approx(40 - 30, abs=TAPE)
    assert least(after, "lip") == pytest.approx(150 - WIDTH / 2 - 30, abs=TAPE)


def test_reading_stays_true_when_another_wheel_is_tried(check: Check) -> None:
    answer = check(swapped(), "--wheel", "17x8 ET-10", "--spacer", "5")
    assert least(answer, "post") == pytest.approx(40 - 15, abs=TAPE)


def test_build_without_own_setup_is_placed_by_the_baseline(check: Check) -> None:
    data = swapped()
    data["builds"]["bare"] = {"front": {"hub_face_width": 2 * HUB_FACE + 20}}
    answer = check(data, "--build", "bare", "--wheel", "17x8 ET0", "--tire", "225/45R17")
    wheel = reading(answer, "post", "wheel")
    assert wheel == pytest.approx(WIDTH / 2 + 40 - 10 - HALF["wheel"], abs=TAPE)


# ---------------------------------------------------------------- no solution, several solutions


def test_no_solution_is_an_error_with_file_and_key(tmp_path: Path) -> None:
    # a rail 103 above the tread can be no nearer than that: 420 - 634 / 2
    rail = {"name": "rail", "shape": "edge", "points": [[0, 500, 420], [0, 1000, 420]]}
    data = vehicle(obstacles=[rail | {"measured_gap": {"to": "tire", "gap": 60}}])
    path = write_profile(tmp_path, data)
    for command in (["check", path], ["poses", path], ["show", path]):
        result = run(*command)
        assert result.exit_code == 2
        assert result.stderr.startswith(f"Error: {path}")
        assert ": axles.front.obstacles" in result.stderr
        assert "rail: no place along y gives the measured gap of 60 mm" in result.stderr
        assert "never below 103.0 mm" in result.stderr


def test_the_nearest_place_that_gives_the_reading_is_taken(tmp_path: Path) -> None:
    """A part above the tread meets the reading only further out, where the shoulder falls away."""
    ball = {"name": "ball", "shape": "ball", "at": [0, HUB_FACE + 5, 420]}
    data = vehicle(obstacles=[ball | {"measured_gap": {"to": "tire", "gap": 130}}])
    (y,) = settled(tmp_path, data)
    # no nearer than where the crown's own circle round it ends, no further than from the widest point
    assert HUB_FACE + (130**2 - 103**2) ** 0.5 <= y < HUB_FACE + WIDTH / 2 + 130
    data["axles"]["front"]["obstacles"][0] = ball | {"at": [0, y, 420]}
    answer = run_case(ready(load_profile(write_profile(tmp_path, data)), "front"), setup_of(tmp_path, data)).fit
    at_rest = [c.clearance for c in answer.clearances if c.part == "tire" and c.travel == 0]
    assert min(at_rest) == pytest.approx(130, abs=TAPE)


def setup_of(folder: Path, data: dict[str, Any]) -> Any:
    return setup(load_profile(write_profile(folder, data)), "front")


@pytest.mark.slow
@given(
    gap=st.floats(0, 300),
    side=st.sampled_from([1, -1]),
    camber=st.floats(-6, 6),
    radius=st.floats(250, 295),  # beside the sidewall; at other radii there may be no place that gives the reading
    clock=st.floats(0, 6.28),
)
@settings(max_examples=60)
def test_any_reading_beside_the_tire_is_reproduced(
    gap: float, side: int, camber: float, radius: float, clock: float
) -> None:
    at = [radius * math.cos(clock), HUB_FACE + side * 300, radius * math.sin(clock)]
    ball = {"name": "ball", "shape": "ball", "at": at}
    data = vehicle(
        obstacles=[ball | {"measured_gap": {"to": "tire", "gap": gap}}],
        suspension={"kind": "tape", "camber": camber},
        travel={"droop": -20, "bump": 20},
    )
    profile = loads_profile(json.dumps(data))
    found = run_case(ready(profile, "front"), setup(profile, "front")).fit
    at_rest = [c.clearance for c in found.clearances if c.part == "tire" and c.travel == 0]
    assert at_rest == [pytest.approx(gap, abs=TAPE)]


def test_a_part_on_an_arm_that_a_tape_does_not_describe_is_refused(tmp_path: Path) -> None:
    part = {"name": "bracket", "shape": "ball", "at": [0, 560, 0], "fixed_to": "lower_arm",
            "measured_gap": {"to": "tire", "gap": 30}}  # fmt: skip
    with pytest.raises(ProfileError, match=r"bracket: its measured gap cannot be settled.*lower_arm"):
        ready(load_profile(write_profile(tmp_path, vehicle(obstacles=[part]))), "front")


# ---------------------------------------------------------------- parts with two carriers, filled panels


@pytest.mark.slow
@pytest.mark.parametrize("ride", [0, 45, -50])
@pytest.mark.parametrize("ends", [("body", "lower_arm"), ("lower_arm", "body"), ("knuckle", "body"), ("body", "rack")])
def test_a_rod_between_two_carriers_reproduces_its_reading_at_any_ride(
    tmp_path: Path, ends: tuple[str, str], ride: float
) -> None:
    upper, lower = [-10, 560, 300], [20, 575, -110]
    rod = {
        "name": "damper", "shape": "rod", "radius": 24, "measured_gap": {"to": "tire", "gap": 22},
        "from": {"fixed_to": ends[0], "at": upper}, "to": {"fixed_to": ends[1], "at": lower},
    }  # fmt: skip
    data = WISHBONES.profile(obstacles=[rod])
    bench_setup(data)["ride"] = ride
    answer = run_json("check", write_profile(tmp_path, data), "--axle", "front")
    assert reading(answer, "damper", "tire", ride) == pytest.approx(22, abs=TAPE)


@pytest.mark.slow
@pytest.mark.parametrize("offset", [44, 0, -44, -150])
@pytest.mark.parametrize("side", [1, -1], ids=["outboard", "inboard"])
def test_a_filled_wall_is_placed_beside_any_offset(tmp_path: Path, check: Check, side: int, offset: float) -> None:
    """The wheel's centre stands ET inboard of the hub face: beside it, not beside the hub, is the wall's far side."""
    data = vehicle(obstacles=[wall(HUB_FACE - offset + side * 160, "tire", 22, solid="behind")])
    bench_setup(data)["wheel"] = f"17x8 ET{offset} 5x114.3 CB67.1"
    assert settled(tmp_path, data) == pytest.approx([HUB_FACE - offset + side * (WIDTH / 2 + 22)], abs=TAPE)
    assert reading(check(data), "wall", "tire") == pytest.approx(22, abs=TAPE)


# ---------------------------------------------------------------- other ways, locks, travels, straightedges

FACE = 50  # [mm] of conftest.steered: the steering axis stands so far inboard of the hub face
AROUND = {"camber": -1.5, "camber_per_100mm": -2}


def ball(where: list[float], to: str, gap: Any, **more: Any) -> dict[str, Any]:
    return {"name": "ball", "shape": "ball", "at": where, "measured_gap": {"to": to, "gap": gap} | more}


def one(data: dict[str, Any]) -> tuple[float, float, float]:
    profile = loads_profile(json.dumps(data))
    return ready(profile, "front").axle.obstacles[0].points[0]


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("guess", [350, 420, 600, 250])
def test_over_the_crown_by_hand(sign: int, guess: float) -> None:
    """In the wheel's centre plane the tire is a circle of 634 / 2; 250 lies inside the tire, the others beyond it."""
    far = DIAMETER / 2 + 44
    up = vehicle(obstacles=[ball([0, HUB_FACE, sign * guess], "tire", 44, along="up")])
    ahead = vehicle(obstacles=[ball([sign * guess, HUB_FACE, 0], "tire", 44, along="ahead")])
    assert one(up) == pytest.approx((0, HUB_FACE, sign * far), abs=TAPE)
    assert one(ahead) == pytest.approx((sign * far, HUB_FACE, 0), abs=TAPE)
    x, z = sign * 0.6 * guess, 0.8 * guess
    radial = vehicle(obstacles=[ball([x, HUB_FACE, z], "tire", 44, along="radial")])
    assert one(radial) == pytest.approx((sign * 0.6 * far, HUB_FACE, 0.8 * far), abs=TAPE)


def test_a_lip_above_the_tire_at_a_travel() -> None:
    """Read with the wheel 30 up in the body: the lip stands 30 higher than one read at rest."""
    low = vehicle(obstacles=[ball([0, HUB_FACE, 400], "tire", 44, along="up", at={"travel": 30})])
    assert one(low)[2] == pytest.approx(DIAMETER / 2 + 44 + 30, abs=TAPE)


@pytest.mark.parametrize("lock", ["left", "right"])
@pytest.mark.parametrize("side", [None, "right"])
def test_a_straightedge_on_the_rim_at_a_lock_by_hand(lock: str, side: str | None) -> None:
    """The axis stands upright 50 inboard of the hub face, the lock is 30 degrees, the rim's edge (8 + 1) x 25.4 / 2
    outboard of the hub face: along the spin axis (-sin, cos) from the steering axis at (0, 700) the straightedge
    stands 50 + 114.3 out.
    """
    steer = math.radians(30 if (lock == "left") == (side is None) else -30)
    x, reach = 120, FACE + HALF["wheel"] + 25
    y = HUB_FACE - FACE + (reach + x * math.sin(steer)) / math.cos(steer)
    part = ball([x, y + 40, 300], "rim_plane", 25, at={"lock": lock}) | ({"side": side} if side else {})
    assert one(steered(obstacles=[part])) == pytest.approx((x, y, 300), abs=1e-6)


@pytest.mark.parametrize("side", [1, -1], ids=["outboard", "inboard"])
@pytest.mark.parametrize(("to", "half"), [("rim_plane", HALF["wheel"]), ("tire_plane", HALF["tire"])])
@pytest.mark.parametrize("gap", [-14, 0, 32])
def test_straightedges_by_hand(side: int, to: str, half: float, gap: float) -> None:
    """Across rim or tire, on the side on which the part was given; past it the reading is negative."""
    part = ball([0, HUB_FACE + side * 150, 400], to, gap) | {"radius": 6}
    assert one(vehicle(obstacles=[part]))[1] == pytest.approx(HUB_FACE + side * (half + gap + 6), abs=1e-6)


def test_the_nearest_point_of_a_part_is_what_a_straightedge_reads() -> None:
    lip = {"name": "lip", "shape": "edge", "points": [[-300, 880, 200], [0, 900, 400], [300, 890, 200]],
           "measured_gap": {"to": "rim_plane", "gap": 12}}  # fmt: skip
    assert one(vehicle(obstacles=[lip]))[1] == pytest.approx(HUB_FACE + HALF["wheel"] + 12, abs=1e-6)


def test_tolerance_of_a_straightedge_reading_counts(check: Check) -> None:
    part = post(900, "rim_plane", {"value": 40, "tolerance": 3})
    answer = check(vehicle(obstacles=[part]))
    entry = next(e for e in answer["clearances"] if e["part"] == "wheel")
    worst = entry["clearance_mm"] - entry["worst_case_mm"]
    assert (entry["clearance_mm"], worst) == (pytest.approx(40, abs=TAPE), pytest.approx(3, abs=TAPE))


@given(
    along=st.sampled_from(["out", "ahead", "up", "radial"]),
    lock=st.sampled_from(["left", "straight", "right"]),
    travel=st.floats(-40, 40),
    clock=st.floats(0.5, 2.6),
    radius=st.floats(430, 520),  # beyond the tread at any lock and travel, so that every way leads past the tire
    y=st.floats(HUB_FACE - 100, HUB_FACE + 100),
    off=st.floats(-12, 12),
    to=st.sampled_from(["tire", "wheel"]),
)
@settings(max_examples=80)
def test_a_part_comes_back_to_where_its_gap_was_read(
    along: str, lock: str, travel: float, clock: float, radius: float, y: float, off: float, to: str
) -> None:
    """The gap of a known place is worked out by sampling the section densely with numpy, not by the engine."""
    place = np.array([radius * math.cos(clock), y, radius * math.sin(clock)])
    data = steered(obstacles=[])
    data["axles"]["front"]["suspension"] |= AROUND
    profile = loads_profile(json.dumps(data))
    base = axle(profile, "front")
    pose = poses_at_lock_fraction(base, travel, {"left": 1, "straight": 0, "right": -1}[lock])
    own = setup(profile, "front")
    section = tire_section(own.tire, own.wheel, 0) if to == "tire" else wheel_section(own.wheel, 0)
    gap, slope = sampled_gap(place, pose, section, along)
    assume(abs(slope) > 0.15)  # along a way that hardly changes the reading no tape tells the place
    way = {"out": (0, 1, 0), "ahead": (1, 0, 0), "up": (0, 0, 1), "radial": (math.cos(clock), 0, math.sin(clock))}
    guess = place + off * np.array(way[along])
    if along == "out":  # slid from the wheel's plane to the side that it has at rest: only where the gap rises that way
        beside, at_rest = (
            float(p.rotation[0, :, 1] @ (at - p.origin[0]))
            for p, at in ((pose, place), (poses_at_lock_fraction(base, 0, 0), guess))
        )
        assume(slope * beside > 0 and abs(beside) > 20 and beside * at_rest > 0)
    part = ball(guess.tolist(), to, gap, along=along, at={"travel": travel, "lock": lock})
    data["axles"]["front"]["obstacles"] = [part]
    assert one(data) == pytest.approx(tuple(place), abs=TAPE / abs(slope))


def sampled_gap(place: Any, pose: Any, section: Any, along: str) -> tuple[float, float]:
    """Gap [mm] to points laid every hundredth of a millimetre on the outline, and its change a mm along the way."""
    edge = section.exterior.segmentize(0.01)
    outline = np.array(edge.coords)

    def gap(at: Any) -> float:
        local = pose.rotation[0].T @ (at - pose.origin[0])
        return float(np.hypot(outline[:, 0] - local[1], outline[:, 1] - math.hypot(local[0], local[2])).min())

    side = np.array([place[0], 0, place[2]])
    way = {"out": (0, 1, 0), "ahead": (1, 0, 0), "up": (0, 0, 1), "radial": side / np.linalg.norm(side)}[along]
    return gap(place), (gap(place + np.array(way)) - gap(place - np.array(way))) / 2


def test_a_part_keeps_the_side_that_it_has_at_rest() -> None:
    """A wheel that turns does not pass through it: a post 250 behind the axle and 100 inboard of the wheel's plane lies
    outboard of that plane at left lock, and still the tire comes to it from outboard.

    Worked by hand as `test_a_straightedge_on_the_rim_at_a_lock_by_hand`: the straightedge across the inner sidewall.
    """
    steer, x = math.radians(30), -250
    reach = FACE - HALF["tire"] - 25
    y = HUB_FACE - FACE + (reach + x * math.sin(steer)) / math.cos(steer)
    guess, plane = HUB_FACE - 100, HUB_FACE - FACE + (FACE + x * math.sin(steer)) / math.cos(steer)
    assert guess > plane
    beside = ball([x, guess, 60], "tire_plane", 25, at={"lock": "left"})
    assert one(steered(obstacles=[beside]))[1] == pytest.approx(y)
    to_tire = one(steered(obstacles=[ball([x, guess, 60], "tire", 25, at={"lock": "left"})]))[1]
    assert y - TAPE < to_tire < plane  # the sidewall stands nowhere further inboard than the straightedge


def test_a_part_over_the_tread_is_placed_by_its_spoke(tmp_path: Path) -> None:
    """In the wheel's plane, 400 above the hub centre, nothing is nearer than 400 - 634 / 2; its spoke gives any gap."""
    over = ball([0, HUB_FACE - 1, 400], "tire", 44)
    answer = run("check", write_profile(tmp_path, vehicle(obstacles=[over])))
    assert "the gap is never below 83.0 mm" in answer.stderr
    assert "For a part over the tread say along: radial." in answer.stderr
    assert one(vehicle(obstacles=[ball([0, HUB_FACE - 1, 400], "tire", 44, along="radial")]))[2] == pytest.approx(
        DIAMETER / 2 + 44, abs=TAPE
    )


def test_a_part_is_not_slid_through_the_hub_centre(tmp_path: Path) -> None:
    """As far outboard as half the tire and 140: along its spoke no place is nearer than 140, on neither side of it."""
    far = ball([300, HUB_FACE + HALF["tire"] + 140, 20], "tire", 30, along="radial")
    answer = run("check", write_profile(tmp_path, vehicle(obstacles=[far])))
    assert answer.exit_code == 2
    assert "no place on the way from the hub centre gives the measured gap of 30 mm" in answer.stderr


@pytest.mark.parametrize("clock", [20, 160, 200])
def test_a_spoke_ends_at_the_hub_centre(clock: float) -> None:
    """Steered, one end of a spoke is nearer to the tire than the other; a part stays on the end where it was given."""
    a, placed = math.radians(clock), 0
    given = [400 * math.cos(a), HUB_FACE - 80, 400 * math.sin(a)]
    for lock in ("left", "right"):
        for gap in (20, 60):
            part = ball(given, "tire", gap, along="radial", at={"lock": lock})
            try:
                x, _, z = one(steered(obstacles=[part]))
            except ProfileError:
                continue
            assert x * given[0] + z * given[2] > 0
            placed += 1
    assert placed


def test_a_part_that_was_moved_far_is_cautioned(check: Check) -> None:
    """Given 600 above the hub centre, read 44 over the crown at 634 / 2: moved by 239."""
    far = check(vehicle(obstacles=[ball([0, HUB_FACE, 600], "tire", 44, along="up")]))
    assert any("ball: its measured gap puts it 239 mm from where it was given" in text for text in far["cautions"])
    near = check(vehicle(obstacles=[ball([0, HUB_FACE, 500], "tire", 44, along="up")]))
    assert not any("its measured gap puts it" in text for text in near["cautions"])


def assumed_lock(radius: float, gap: float) -> dict[str, Any]:
    """A ball behind the wheel, inboard, at a radius about the hub centre; axis and locks are assumed."""
    a = math.radians(200)
    at = [radius * math.cos(a), HUB_FACE - 110, radius * math.sin(a)]
    data = steered(obstacles=[ball(at, "tire", gap, at={"lock": "left"})])
    data["axles"]["front"]["suspension"] |= {"steering_axis": "assumed"}
    data["axles"]["front"]["steering"] = {"lock_left": "assumed", "lock_right": "assumed"}
    return data


def left_lock_gap(data: dict[str, Any]) -> tuple[float, Any]:
    """Gap at left lock of the ball as it was placed, sampled, and the ball itself."""
    profile = loads_profile(json.dumps(data))
    part, own = ready(profile, "front").axle.obstacles[0], setup(profile, "front")
    pose = poses_at_lock_fraction(axle(profile, "front"), 0, 1)
    section = tire_section(own.tire, own.wheel, 0)
    return sampled_gap(np.array(part.points[0]), pose, section, "out")[0] - part.radius, part


def test_a_gap_that_assumed_bands_cannot_all_give_is_still_answered(check: Check) -> None:
    """With the axis as it is assumed the reading has a place; with the axis elsewhere in its band it has none."""
    data = assumed_lock(330, 28)
    gap, part = left_lock_gap(data)
    assert (gap, part.grown) == (pytest.approx(28, abs=TAPE), 0)
    assert check(data)["verdict"] != "clears"


def test_a_gap_that_an_assumed_axis_does_not_give_counts_on_the_safe_side(check: Check) -> None:
    """The part is as much thicker as the tape says that it is nearer: the reading holds. Beyond that it is refused."""
    data = assumed_lock(330, 8)
    gap, part = left_lock_gap(data)
    assert gap == pytest.approx(8, abs=0.1)
    assert part.grown == part.radius > 1
    (said,) = [text for text in check(data)["cautions"] if text.startswith("ball: with the assumed values no place")]
    assert f"{part.grown:.1f} mm more are left" in said
    with pytest.raises(ProfileError, match="no place along y gives the measured gap of 8 mm"):
        left_lock_gap(assumed_lock(380, 8))
    data["axles"]["front"]["steering"] = {"lock_left": 37, "lock_right": 31}
    data["axles"]["front"]["suspension"]["steering_axis"] = {"kingpin_inclination": 11, "caster": 4.5, "offset": 95}
    with pytest.raises(ProfileError, match="no place along y gives the measured gap of 8 mm"):
        left_lock_gap(data)


REFUSED = [
    (vehicle, {"to": "tire", "gap": -3}, r"measured_gap.gap: ball: -3 mm is not a plausible gap"),
    (vehicle, {"to": "rim", "gap": 3}, r"measured_gap.to: ball: \"rim\" is not known here.* rim_plane, tire_plane"),
    (vehicle, {"to": "tire", "gap": 3, "along": "back"}, r"along: ball: \"back\" is not known here.* out, ahead, up"),
    (vehicle, {"to": "tire", "gap": 3, "at": {"lock": "hard left"}}, r"at.lock: ball: \"hard left\" is not known here"),
    (vehicle, {"to": "tire", "gap": 3, "at": {"lock": "left"}}, r"at.lock: ball: the gap was read at left lock, but"),
    (vehicle, {"to": "tire", "gap": 3, "at": {"travel": 90}}, r"at.travel: .*the wheel moves from -50 to 50 mm"),
    (vehicle, {"to": "tire", "gap": 3, "at": "left"}, r"measured_gap.at: ball: .*keys are travel, lock"),
    (vehicle, {"to": "rim_plane", "gap": 3, "along": "up"},
     r"\[0\].measured_gap: ball: slid along z it stays .* 35.7 mm there, not 3 mm. Say along: out"),
    # 150 outboard of the hub face and 115 of it tire: with that place in y no height is nearer than 35
    (vehicle, {"to": "tire", "gap": 20, "along": "up"},
     r"\[0\].measured_gap: ball: no place along z gives .*20 mm; with the x and y .* never below 35.0 mm"),
]  # fmt: skip


@pytest.mark.parametrize(("made", "gap", "words"), REFUSED)
def test_gaps_that_are_refused(tmp_path: Path, made: Callable[..., Any], gap: dict[str, Any], words: str) -> None:
    part = {"name": "ball", "shape": "ball", "at": [0, HUB_FACE + 150, 250], "measured_gap": gap}
    path = write_profile(tmp_path, made(obstacles=[part]))
    answer = run("check", path)
    assert answer.exit_code == 2
    assert re.search(words, answer.stderr), answer.stderr
    assert re.match(rf"Error: {re.escape(path)}:\d+: axles.front.obstacles", answer.stderr)


def test_show_tells_how_far_a_part_was_slid(tmp_path: Path) -> None:
    part = ball([0, HUB_FACE, 400], "tire", 44, along="up")
    text = run("show", write_profile(tmp_path, vehicle(obstacles=[part]))).stdout
    assert "ball: moved 39.0 mm down to match its measured gap" in text  # 400 - 634 / 2 - 44
    assert "points, their z from the gap measured to the baseline's tire: ball" in text
