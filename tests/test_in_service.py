"""In service: each part held against a numerical model that shares none of its code, and limits worked by hand."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise, product
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import scipy.optimize
import shapely
from conftest import (
    DIAMETER,
    HUB_FACE,
    POST,
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
from hypothesis import given, settings
from hypothesis import strategies as st
from matplotlib.text import Text

import fitment
from fitment import profile as profiles
from fitment.checks.case import ready
from fitment.checks.case import run as run_case
from fitment.checks.full_case import in_full
from fitment.checks.in_service import _Measure
from fitment.checks.service_effects import Effects, moves_of
from fitment.clearance.pushed_wheel import Push, Pushes, pushed
from fitment.clearance.trace import trace_obstacle, trace_of_corners
from fitment.errors import ProfileError
from fitment.motion.suspension import families
from fitment.parts import service as rules
from fitment.parts.obstacles import Obstacle
from fitment.parts.sections import spread, tire_section
from fitment.parts.tables import service_figures
from fitment.parts.tire_code import parse_tire
from fitment.parts.wheel import parse_wheel

Check = Callable[..., dict[str, Any]]
G = 9.80665
BENCH_RADIUS = DIAMETER / 2


# ---------------------------------------------------------------- starting figures


def test_every_starting_figure_lies_in_its_band_and_says_where_it_is_from() -> None:
    for key, figure in service_figures().items():
        assert figure.low <= figure.value <= figure.high, key
        assert figure.source.startswith("from memory: "), key
    # the bands that the trade recalls: camber, lateral, fore-aft
    bands = {key: (figure.low, figure.high) for key, figure in service_figures().items()}
    assert bands["play.camber"] == (0.1, 0.3)
    assert bands["play.lateral"] == (0.3, 0.5)
    assert bands["play.fore_aft"] == (5, 10)


# ---------------------------------------------------------------- growth


def test_growth_with_speed_is_that_of_a_turning_ring_of_masses_and_springs() -> None:
    """N masses on a ring, springs between neighbours and to the hub: in equilibrium the growth goes with v^2."""
    n, radius, mass, hoop, foundation = 200, 0.32, 2.8, 2.5e6, 0.8e6  # m, kg/m, N, N/m2; sizes from memory

    def grown(speed: float) -> float:  # [mm]
        def force(u: float) -> float:  # on one mass, outward [N]
            at, side = radius + u, 2 * radius * math.sin(math.pi / n)
            stretched = 2 * at * math.sin(math.pi / n)
            tension = hoop * (stretched - side) / side
            outward = mass * side * (speed / 3.6) ** 2 / at
            return outward - 2 * tension * math.sin(math.pi / n) - foundation * side * u

        return 1000 * float(scipy.optimize.brentq(force, 0.0, 0.05, xtol=1e-12))

    at_100 = grown(100)
    assert 0.15 < at_100 < rules.growth_at_speed(100)  # the starting figure is on the safe side of it
    for speed in (50, 150, 200, 250):
        ratio = rules.growth_at_speed(speed) / rules.growth_at_speed(100)
        assert grown(speed) / at_100 == pytest.approx(ratio, rel=0.02)
    assert rules.growth_at_speed(0) == 0


def test_growth_in_use_by_hand() -> None:
    # 305/45R20: height 305 x 0.45 = 137 (rounded); 2 % of it, and 1 % of the width on each side
    tire = replace(parse_tire("305/45R20"), section_width=313.0, on_rim=11)
    assert rules.growth_in_use(tire, 11) == pytest.approx((3.13, 2.74))


# ---------------------------------------------------------------- the belt on its sidewalls


def ring_on_foundation(force: float, bending: float, twisting: float, *, n: int = 240) -> tuple[float, float]:
    """Sideways motion at the contact patch and at the top [mm] of a ring of finite stiffness on an even foundation.

    Finite differences: of each of n points its sideways motion v and its twist p; bending k = v'' / R^2 - p / R and
    twisting t = p' / R + v' / R^2 (a curved beam, textbook) cost energy, so does v on the foundation.
    """
    radius, foundation = 320.0, 0.3  # [mm], [N/mm2]
    step = 2 * math.pi / n
    eye = np.eye(n)
    first = (np.roll(eye, 1, axis=1) - eye) / step
    second = (np.roll(eye, 1, axis=1) - 2 * eye + np.roll(eye, -1, axis=1)) / step**2
    middle = (np.roll(eye, 1, axis=1) + eye) / 2
    bend = np.hstack([second / radius**2, -eye / radius])
    twist = np.hstack([first / radius**2, first / radius])
    assert middle.shape == (n, n)
    support = np.hstack([eye, 0 * eye])
    ds = radius * step
    stiffness = ds * (bending * bend.T @ bend + twisting * twist.T @ twist + foundation * support.T @ support)
    load = np.zeros(2 * n)
    load[0] = force  # [N] at the bottom
    motion = np.linalg.solve(stiffness, load)
    return float(motion[0]), float(motion[n // 2])


def test_the_belt_as_a_rigid_ring_is_a_stiff_ring_of_finite_differences() -> None:
    contact, top = ring_on_foundation(3000.0, 1e12, 1e12)
    shift, tilt = rules.belt_shift(3.0, 3000.0 / contact, 320.0)
    up = 2 * 320.0 / 2 * math.tan(math.radians(tilt))
    assert shift + up == pytest.approx(contact, rel=5e-3)
    assert shift - up == pytest.approx(top, rel=5e-3)
    assert top == pytest.approx(-contact / 3, rel=5e-3)  # a third as far, the other way
    # by hand: F / (k 2 pi R) moves the centre
    assert shift == pytest.approx(3000 / (0.3 * 2 * math.pi * 320), rel=5e-3)


@pytest.mark.parametrize("bending", [1e7, 1e8, 1e9, 1e10])
def test_a_belt_that_bends_moves_its_top_less_than_is_taken(bending: float) -> None:
    """What is told by the stiffness at the contact patch is on the safe side, whatever the belt's own stiffness."""
    contact, top = ring_on_foundation(3000.0, bending, bending)
    shift, _ = rules.belt_shift(3.0, 3000.0 / contact, 320.0)
    assert abs(top) <= shift * 1.005


def test_side_forces_by_hand() -> None:
    # 1000 kg at 0.5 g: 4.903 kN on the axle; the outer wheel carries 0.5 + 0.4 x 0.5 = 0.7 of it, the inner one half
    assert rules.side_forces(1000, 0.5) == pytest.approx((0.7 * 4.903325, 0.5 * 4.903325))
    assert rules.side_forces(1000, 2.0)[0] == pytest.approx(2 * G)  # no more than all of it
    assert rules.side_forces(1000, 0.0) == (0.0, 0.0)


# ---------------------------------------------------------------- bulge


def polyline_length(chord: float, sagitta: float) -> float:
    """Length of a circular arc by its points alone."""
    radius = (chord**2 / 4 + sagitta**2) / (2 * sagitta)
    half = math.atan2(chord / 2, radius - sagitta)
    t = np.linspace(-half, half, 20001)
    return float(np.hypot(np.diff(radius * np.sin(t)), np.diff(radius * np.cos(t))).sum())


@settings(max_examples=40)
@given(st.floats(40, 150), st.floats(0.02, 0.25), st.floats(0.02, 0.3))
def test_the_bulge_keeps_the_sidewalls_length(height: float, out: float, pressed: float) -> None:
    sagitta, chord = out * height, (1 - pressed) * height
    length = polyline_length(height, sagitta)
    if polyline_length(chord, chord / 2) < length:  # beyond a half circle
        return
    after = scipy.optimize.brentq(lambda s: polyline_length(chord, s) - length, 1e-6, chord / 2)
    assert rules.bulge(height, sagitta, pressed * height) == pytest.approx(after - sagitta, abs=1e-3)


def test_the_bulge_in_its_limits() -> None:
    assert rules.bulge(100, 12, 0) == pytest.approx(0, abs=1e-9)
    # a straight sidewall pressed in by a little: length - chord = 8 s^2 / (3 chord) (shallow arc, textbook)
    assert rules.bulge(100, 0, 0.1) == pytest.approx(math.sqrt(3 * 99.9 * 0.1 / 8), rel=2e-3)
    # a sidewall folded to a half circle of its own length stands out by its radius, and no further
    assert rules.bulge(100, 0, 99) == pytest.approx(100 / math.pi, rel=1e-9)


def test_how_far_round_it_bulges_by_hand() -> None:
    # 320 across the radius, pressed in 20: acos(300 / 320) = 20.36 degrees to each side touch, twice that counts
    assert rules.bulging_half_angle(320, 20) == pytest.approx(2 * 20.364, abs=1e-2)


# ---------------------------------------------------------------- sections


def test_a_section_grown_all_round_is_the_sum_with_a_box() -> None:
    """Area of a convex region's sum with a box: A + height x w + width x h + w h (textbook); and every corner of it."""
    convex = shapely.Polygon([(0, 0), (40, 10), (60, 50), (30, 80), (-10, 40)])
    grown = spread(convex, 3, 5, 2)
    low_y, low_r, high_y, high_r = convex.bounds
    expected = convex.area + (high_r - low_r) * 6 + (high_y - low_y) * 7 + 42
    assert grown.area == pytest.approx(expected, rel=1e-6)
    for dy, dr in product((-3, 0, 3), (-2, 0, 5)):
        assert grown.buffer(1e-6).contains(shapely.affinity.translate(convex, dy, dr))
    assert spread(convex, 0) == convex


# ---------------------------------------------------------------- pushes


FULL = Effects(lateral=(2.0, 1.2), lean=(1.1, 0.6), belt=((5.0, 1.8), (3.0, 1.1)), fore_aft=7.0, toe=0.4, rock=0.2)


@pytest.mark.parametrize("part", ["tire", "wheel"])
def test_no_share_of_the_effects_moves_the_wheel_further_to_a_side_than_the_pushes(part: Any) -> None:
    """Each between nothing and its full size, alone and together, at every height: a grid of all of them."""
    shares = np.linspace(0, 1, 5)
    for height in np.linspace(-330, 330, 45):
        out = [move.whole.out + height * math.radians(move.whole.camber) for move in moves_of(FULL, part)]
        for way, k in ((-1, 0), (1, 1)):
            belt = FULL.belt[k] if part == "tire" else (0.0, 0.0)  # type: ignore[index]
            for a, b, c in product(shares, shares, shares):
                shift = way * (a * FULL.lateral[k] + c * belt[0])  # type: ignore[index]
                lean = -way * (b * (FULL.lean[k] + FULL.rock) + c * belt[1])  # type: ignore[index,operator]
                moved = shift + height * math.radians(lean)
                assert min(out) - 1e-9 <= moved <= max(out) + 1e-9


def test_the_outer_wheel_leans_out_and_shifts_in() -> None:
    outer = next(
        move for move in moves_of(FULL, "wheel") if move.name == "cornering, outer wheel" and move.whole.camber
    )
    assert outer.whole.camber > 0  # the ground pushes the foot inboard
    together = [m.whole for m in moves_of(FULL, "wheel") if m.whole.out and m.whole.camber]
    assert {(push.out < 0, push.camber > 0) for push in together} == {(True, True), (False, False)}


def test_what_arms_carry_feels_half_and_what_the_knuckle_carries_nothing() -> None:
    corners = np.array([[[0.0, -60.0, 100.0], [0.0, -60.0, 200.0]]])
    push = Push(out=4.0, ahead=2.0)
    for carriers, shares in (
        (("body", "knuckle"), (1.0, 0.0)), (("lower_arm", "rack"), (0.5, 1.0)), (("upper_arm", "knuckle"), (0.5, 0.0)),
    ):  # fmt: skip
        rod = Obstacle("rod", "rod", ((0.0, -60.0, 100.0), (0.0, -60.0, 200.0)), fixed_to=carriers)
        up, pushes = np.array([[0.0, 0.0, 1.0]]), Pushes((push,), (Push(),))
        there = pushed(trace_of_corners(rod, corners), np.array([0]), up, pushes, 0.0)
        moved = np.asarray(there.hub)[0] - corners[0]
        assert moved == pytest.approx(np.array([[-2.0 * share, -4.0 * share, 0.0] for share in shares]), abs=1e-9)


def test_a_scan_of_many_points_is_pushed_as_a_few_corners_are(check: Check) -> None:
    """A flat wall beside the tire as four corners and as 900 points: the same surface, looked for in another way."""
    xs, zs = np.linspace(-400, 400, 30).tolist(), np.linspace(-300, 400, 30).tolist()
    few = {"name": "wall", "shape": "panel", "rows": [[[x, POST, z] for x in (xs[0], xs[-1])] for z in (zs[0], zs[-1])]}
    many = {"name": "wall", "shape": "panel", "rows": [[[x, POST, z] for x in xs] for z in zs]}
    asked = {"growth": 3, "corner_g": 0.7, "sidewall_stiffness": "usual", "play": "usual"}
    gaps = [left(check(vehicle(service=asked, obstacles=[part])), "wall") for part in (few, many)]
    assert gaps[0] == pytest.approx(gaps[1], abs=0.03)
    assert gaps[0] < 18


# ---------------------------------------------------------------- by brute force


def independent_gap(
    found: Any, name: str, part: str, pose: int, push: Any, own: Any, box: tuple[float, float]
) -> float:
    """The gap in a pose of the check with the wheel pushed, with numpy and shapely alone.

    The hub is moved in the body: about the wheel's centre, along the ground; the obstacle stays. Its points are laid
    out 0.25 mm apart; a section grown by a box is as near to a point as the section to any point of the box round it.
    """
    fit = found.fit
    obstacle = next(o for o in fit.obstacles if o.name == name)
    origin, rotation = fit.poses.origin[pose], fit.poses.rotation[pose]
    carried = list(obstacle.fixed_to)
    use = own if set(carried) == {"knuckle"} else push
    axis = rotation[:, 1]
    outward = np.array([axis[0], axis[1], 0.0]) / math.hypot(axis[0], axis[1])
    forward = np.cross(outward, [0.0, 0.0, 1.0])
    centre = origin + axis * (fit.setup.spacer.thickness - fit.setup.wheel.offset)

    def turn(about: Any, degrees: float) -> Any:
        x, y, z = about
        k = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
        a = math.radians(degrees)
        return np.eye(3) + math.sin(a) * k + (1 - math.cos(a)) * k @ k

    whole = turn(np.array([0.0, 0.0, 1.0]), use.turn) @ turn(forward, -use.camber)
    new_rotation = whole @ rotation
    new_origin = centre + whole @ (origin - centre) + outward * use.out + forward * use.ahead
    placed, shift = fit.poses.motions[carried[0]]
    corners = np.array(obstacle.points) @ placed[pose].T + shift[pose]
    dense = [
        a + (b - a) * np.linspace(0, 1, max(int(np.linalg.norm(b - a) / 0.25), 2))[:, None]
        for a, b in pairwise(corners)
    ]
    points = np.concatenate(dense) if dense else corners
    local = (points - new_origin) @ new_rotation
    y, r = local[:, 1], np.hypot(local[:, 0], local[:, 2])
    section = fit.tire if part == "tire" else fit.wheel
    boxes = shapely.box(y - box[0], r - box[1], y + box[0], r + box[2])
    return float(shapely.distance(boxes, section).min()) - obstacle.radius


def service_case(data: dict[str, Any], build: str = "measured") -> Any:
    read = profiles.loads_profile(json.dumps(data))
    prepared = ready(read, "front", build)
    return in_full(run_case(prepared, profiles.setup(read, "front", build)))


BRUTE = {
    "growth": 3.0, "corner_g": 0.7, "sidewall_stiffness": "usual", "runout": 1.0,
    "play": {"camber": "usual", "lateral": "usual", "fore_aft": 6, "toe": 0.3, "rock": 1.5},
}  # fmt: skip
AROUND = [
    {"name": "lip", "shape": "edge", "radius": 2, "points": [[-330, 860, 230], [0, 868, 385], [330, 862, 235]]},
    {"name": "inner", "shape": "edge", "points": [[-250, 560, 260], [100, 585, 330], [300, 570, 250]]},
    {"name": "low bar", "shape": "edge", "radius": 8, "points": [[-200, 560, -60], [250, 575, -40]]},
    {"name": "arm stub", "shape": "edge", "fixed_to": "knuckle", "points": [[-60, 590, 100], [40, 600, 150]]},
]


@pytest.mark.parametrize("suspension", ["steered", "straight"])
def test_every_gap_in_service_by_brute_force(suspension: str) -> None:
    """All pushes in the told pose and its neighbours, each found anew: the told one is the least of them."""
    make = steered if suspension == "steered" else vehicle
    found = service_case(make(obstacles=AROUND, service=BRUTE))
    served = found.fit.in_service
    assert served is not None
    numbers = {(entry.obstacle, entry.part): [] for entry in found.fit.clearances}  # type: ignore[var-annotated]
    for entry, left in zip(found.fit.clearances, served.entries, strict=True):
        if left is not None:
            numbers[entry.obstacle, entry.part].append((left, entry.pose))
    checked = 0
    for (name, part), told in numbers.items():
        box = (4.0, 4.0, 0.0) if part == "tire" else (1.0, 1.0, 1.0)  # a tire does not grow towards its axis
        for left, pose in sorted(told)[:3]:
            if left < 1:
                continue
            by_hand = [
                independent_gap(found, name, part, pose, move.whole, move.own, box)
                for move in moves_of(served.effects, part)
            ]
            assert left == pytest.approx(min(by_hand), abs=0.06), (name, part)
            checked += 1
        gap = served.of(name, part)
        assert gap is not None
        assert gap.clearance <= min(left for left, _ in told) + 1e-3
    assert checked >= 12


@pytest.mark.slow
def test_what_lies_between_the_poses_of_the_check_is_sought() -> None:
    """Held against a dense sweep: no pose in fine steps has less than the least that is told."""
    data = steered(obstacles=AROUND[:2], service=BRUTE)
    found = service_case(data)
    fit = found.fit
    measure = _Measure(fit.in_service.effects, fit.axle, fit.setup)
    travel, share = (each.ravel() for each in np.meshgrid(np.linspace(-50, 50, 41), np.linspace(-1, 1, 61)))
    poses = families(fit.axle)[0].poses(travel, share)
    for obstacle in fit.obstacles:
        trace = trace_obstacle(obstacle, poses)
        left, _ = measure(trace, "tire", np.arange(len(poses)), poses.rotation[:, 2, :], poses.travel)
        told = fit.in_service.of(obstacle.name, "tire")
        assert told.clearance <= left.min() + 0.02, obstacle.name


# ---------------------------------------------------------------- worked in the head on the bench vehicle


def left(answer: dict[str, Any], obstacle: str, part: str = "tire") -> float:
    found = [gap for gap in answer["in_service"]["gaps"] if (gap["obstacle"], gap["part"]) == (obstacle, part)]
    return float(found[0]["in_service_mm"])


def test_growth_and_runout_alone_by_hand(check: Check) -> None:
    """The tire stands 25 mm from the post, the wheel 25.7 mm; see conftest."""
    answer = check(vehicle(service={"growth": 4}))
    assert left(answer, "post") == pytest.approx(21.0, abs=0.01)
    assert left(answer, "post", "wheel") == pytest.approx(25.7, abs=0.01)
    answer = check(vehicle(service={"runout": 1.5}))
    assert left(answer, "post") == pytest.approx(23.5, abs=0.01)
    assert left(answer, "post", "wheel") == pytest.approx(24.2, abs=0.01)
    # by its rules: 1 % of 230 mm to the side, and nothing of the radius that speed adds
    answer = check(vehicle(service={"growth": "usual", "speed": 180}))
    assert left(answer, "post") == pytest.approx(25.0 - 2.3, abs=0.01)
    # up: 2 % of the height, (634 - 432) / 2 = 101 mm, and 0.6 x 1.8^2 by speed; the rail lies 53 mm above
    assert left(answer, "rail") == pytest.approx(53.0 - 2.02 - 0.6 * 1.8**2, abs=0.01)


def test_chains_by_hand(check: Check) -> None:
    answer = check(vehicle(service={"chains": 12}))
    assert left(answer, "post") == pytest.approx(13.0, abs=0.05)
    assert left(answer, "post", "wheel") == pytest.approx(25.7, abs=0.01)
    assert [gap["how"] for gap in answer["in_service"]["gaps"] if gap["part"] == "tire"] == ["with chains"] * 2


def test_sideways_give_by_hand(check: Check) -> None:
    """900 kg at 0.5 g: 4.413 kN; the inner wheel's half of it, 2.206 kN, pushes outboard, 0.4 mm for each kN."""
    answer = check(vehicle(service={"corner_g": 0.5, "play": {"lateral": 0.4}}))
    assert left(answer, "post") == pytest.approx(25.0 - 0.4 * 900 * G * 0.5 / 2000, abs=0.01)


WIDEST = 270.7  # [mm] radius of the widest place: the flange's top, 218.3 + 17.5, and 43 % of the 81.2 mm above it


def test_lean_by_hand(check: Check) -> None:
    """A knob beside the widest place above the hub: the outer wheel's top leans out by 0.2 deg for each kN."""
    part = {"name": "knob", "shape": "ball", "at": [0, POST, WIDEST]}
    answer = check(vehicle(service={"corner_g": 0.5, "play": {"camber": 0.2}}, obstacles=[part]))
    lean = 0.2 * 0.7 * 900 * G * 0.5 / 1000  # of 0.7 of the axle's 4.413 kN
    assert left(answer, "knob") == pytest.approx(25.0 - WIDEST * math.radians(lean), abs=0.1)


def test_the_belts_shift_by_hand(check: Check) -> None:
    """The belt's centre moves by a third of what the contact patch does; lower down more; the wheel does not move.

    The lowest of all heights is the ride height of 30 mm, where the knob stands 30 mm below the hub.
    """
    part = {"name": "knob", "shape": "ball", "at": [WIDEST, POST, 0]}
    still = {"droop": 0, "bump": 1}
    answer = check(vehicle(service={"corner_g": 0.5, "sidewall_stiffness": 200}, obstacles=[part], travel=still))
    centre = 900 * G * 0.5 / 2 / 200 / 3
    assert left(answer, "knob") == pytest.approx(25.0 - centre * (1 + 2 * 30 / BENCH_RADIUS), abs=0.05)
    assert left(answer, "knob", "wheel") == pytest.approx(least(answer, "knob", "wheel"), abs=1e-3)


def test_fore_and_aft_by_hand(check: Check) -> None:
    part = {"name": "bulkhead", "shape": "edge", "points": [[BENCH_RADIUS + 30, 740, 0], [BENCH_RADIUS + 30, 760, 0]]}
    data = vehicle(service={"play": {"fore_aft": 7}}, obstacles=[part], travel={"droop": -1, "bump": 1})
    assert left(check(data), "bulkhead") == pytest.approx(23.0, abs=0.02)


def test_what_goes_with_the_knuckle_feels_no_bushing(check: Check) -> None:
    part = {"name": "stub", "shape": "ball", "fixed_to": "knuckle", "at": [0, POST, WIDEST]}
    play = {"lateral": 0.4, "camber": 0.2, "fore_aft": 7, "toe": 0.3}
    answer = check(vehicle(service={"corner_g": 0.7, "play": play}, obstacles=[part]))
    assert left(answer, "stub") == pytest.approx(25.0, abs=1e-3)
    # play in the bearings it does feel: 4 mm altogether at the top, 2 mm either way, at this height 270.7 / 317 of it
    rocked = check(vehicle(service={"play": {"rock": 4}}, obstacles=[part]))
    assert left(rocked, "stub") == pytest.approx(25.0 - 2 * WIDEST / 317, abs=0.05)


def test_the_bulge_counts_beside_the_contact_patch_alone(check: Check) -> None:
    """Pressed in by 634 / 2 - 310 = 7 mm at rest, 14 mm at full bump."""
    low, high = ({"name": name, "shape": "ball", "at": [0, POST, z]} for name, z in (("low", -255), ("high", 265)))
    answer = check(vehicle(service={"bulge": "usual"}, obstacles=[low, high], travel={"droop": -20, "bump": 20}))
    assert left(answer, "high") == pytest.approx(least(answer, "high"), abs=1e-3)
    counted = answer["in_service"]["counted"][0]["figures"]
    assert 0 < counted["rest_mm"] < counted["bump_mm"] < 2 * counted["rest_mm"]
    taken = least(answer, "low") - left(answer, "low")
    assert counted["rest_mm"] * 0.5 < taken <= counted["bump_mm"] + 0.01


def test_weights_count_inside_the_barrel(check: Check) -> None:
    """A ring 20 mm below the barrel's measured inside loses 5 mm of it to weights stuck there."""
    ring = {
        "name": "can",
        "shape": "ring",
        "outline": [[-80, 190], [-80, 196], [-40, 196], [-40, 190]],
        "clock": [0, 90],
    }
    data = vehicle(service={"weights": 5}, obstacles=[ring])
    bench_setup(data)["wheel"] = {"spec": "17x8 ET0 5x114.3 CB67.1", "barrel_clear_diameter": 412}
    answer = check(data)
    assert least(answer, "can", "wheel") == pytest.approx(10.0, abs=0.05)
    assert left(answer, "can", "wheel") == pytest.approx(5.0, abs=0.05)


@pytest.mark.parametrize(("weights", "status"), [(4, "ok"), (8, "caution")])
def test_weights_over_the_caliper_by_hand(check: Check, weights: float, status: str) -> None:
    """A caliper of radius 200 in a clear diameter of 412: 6 mm, less the weights."""
    caliper = {"outline": [[-80, 150], [-80, 200], [-40, 200], [-40, 150]], "clock": [60, 120]}
    data = vehicle(service={"weights": weights}, brake={"caliper": caliper})
    bench_setup(data)["wheel"] = {"spec": "17x8 ET0 5x114.3 CB67.1", "barrel_clear_diameter": 412}
    answer = check(data)
    assert bolt_on(answer, "balance weights over the caliper")[0] == status
    left_mm = next(each for each in answer["bolt_on"] if each["item"].startswith("balance"))["numbers"]["left_mm"]
    assert left_mm == pytest.approx(6.0 - weights, abs=0.05)


# ---------------------------------------------------------------- what is asked for, and what is said


def test_without_service_nothing_is_counted_and_the_text_says_how(tmp_path: Path) -> None:
    path = write_profile(tmp_path, vehicle())
    answer = run_json("check", path, "--axle", "front")
    assert answer["in_service"] is None
    assert "in_service_mm" not in answer["clearances"][0]
    assert "`service: usual` in the profile counts it" in " ".join(run("check", path).stdout.split())


def test_what_overlaps_in_service_leads_before_what_is_short_by_more(tmp_path: Path) -> None:
    # 24 mm of growth: the post at 23 mm overlaps by 1 (2 short of 1 required), six at 32 mm keep 8 of 20 required
    def post(name: str, gap: float, asked: float) -> dict[str, Any]:
        out = HUB_FACE + WIDTH / 2 + gap
        return {"name": name, "shape": "edge", "points": [[0, out, -450], [0, out, 450]], "allowance": asked}

    far = [post(f"far {n}", 32, 20) for n in range(6)]
    path = write_profile(tmp_path, vehicle(service={"growth": 24}, obstacles=[post("near", 23, 1), *far]))
    gaps = run_json("check", path, "--axle", "front")["in_service"]["gaps"]
    assert [(gap["obstacle"], gap["in_service_mm"]) for gap in gaps[:2]] == [("near", -1.0), ("far 0", 8.0)]
    told = run("check", path).stdout
    assert "in service: tire overlaps near by 1.0 mm" in " ".join(told.split())
    assert sum(line.startswith("  tire - near ") for line in told.splitlines()) == 1  # one of the five rows


def test_what_clears_and_has_less_than_required_in_service_is_tight(tmp_path: Path) -> None:
    # 25 mm to the post, 5 required: 21 mm of growth leaves 4
    tight, clears = (write_profile(tmp_path, vehicle(service={"growth": mm}), f"{mm}.yaml") for mm in (21, 19))
    assert run_json("check", clears, "--axle", "front")["verdict"] == "clears"
    answer = run_json("check", tight, "--axle", "front")
    assert answer["verdict"] == "tight"
    assert answer["in_service"]["tight"]
    told = " ".join(run("check", tight).stdout.split())
    assert "tight in service: tire to post, 4.0 mm" in told
    assert "What takes most there, each alone: growth 21.0 mm" in told
    in_full = " ".join(run("check", tight, "--full").stdout.split())
    assert "growth 21.0 mm a side, 21.0 mm in radius the profile 21.0 mm" in in_full
    assert "Verdict" not in told or "in service" in told
    assert run("check", tight).exit_code == 1
    # lists say that they do not count it, by their docs, and keep their verdict
    rows = tmp_path / "rows.csv"
    rows.write_text("wheel,tire\n17x8 ET0 5x114.3 CB67.1,225/45R17 94W XL\n")
    assert (
        json.loads(run("screen", tight, str(rows), "--axle", "front", "--format", "json").stdout)[0]["verdict"]
        == "clears"
    )


def test_what_overlaps_in_service_is_told_before_what_is_only_short(tmp_path: Path) -> None:
    """25 mm to the post, 20 required, and 24 mm to another one inboard, 5 required: 24.5 mm of growth closes that."""
    data = vehicle(service={"growth": 24.5})
    parts = data["axles"]["front"]["obstacles"]
    parts[0]["allowance"] = 20
    inboard = HUB_FACE - WIDTH / 2 - 24
    parts.append(
        {"name": "inner post", "shape": "edge", "points": [[0, inboard, -450], [0, inboard, 450]], "tolerance": 0}
    )
    path = write_profile(tmp_path, data)
    answer = run_json("check", path, "--axle", "front")
    assert (left(answer, "post"), left(answer, "inner post")) == pytest.approx((0.5, -0.5), abs=0.01)
    assert [gap["obstacle"] for gap in answer["in_service"]["gaps"][:2]] == ["inner post", "post"]
    assert "tight in service: tire overlaps inner post by 0.5 mm" in " ".join(run("check", path).stdout.split())


def texts_of(figure: Any) -> str:
    return " ".join(" ".join(text.get_text() for text in figure.findobj(Text)).split())


@pytest.mark.parametrize("service", [{"growth": 21}, None], ids=["asked for", "not"])
def test_every_answer_that_does_not_count_it_says_so_where_the_profile_asks_for_it(
    tmp_path: Path, service: dict[str, Any] | None
) -> None:
    data, is_served = vehicle(service=service) if service else vehicle(), service is not None
    read = profiles.loads_profile(json.dumps(data))
    rows = [{"wheel": "17x8 ET0 5x114.3 CB67.1", "tire": "225/45R17 94W XL"}]
    window, listed = fitment.window(read, "front"), fitment.screen(read, rows, axle="front")
    checked, order = fitment.check(read, "front", how_sure=True), fitment.order(read, "front")
    found = window.data[0]
    page = tmp_path / "page.html"
    run("report", write_profile(tmp_path, data), "--out", str(page))
    told = {
        "window": "in service is not counted in lists" in window.text,
        "window, data": bool(found["not_counted"]),
        "window, picture": "What happens in service is not counted here" in texts_of(window.figure()),
        "several sizes, picture": "What happens in service is not counted here"
        in texts_of(fitment.window(read, "front", size=["17x7", "17x8"]).figure()),
        "list": "in service is not counted in lists" in listed.data[0]["reason"],
        "map, picture": "What happens in service is not counted here" in texts_of(checked.figure(view="map")),
        "list, picture": "What happens in service is not counted here" in texts_of(listed.figure()),
        "chances": "mistaken readings, what happens in service." in " ".join(checked.full_text.split()),
        "chances, data": any("what happens in service" in words for words in checked.data["how_sure"]["notes"]),
        "chance, data": checked.data["sure"].get("not_counted") == "what happens in service",
        "order, offsets": "not counted in this, nor what happens in service" in " ".join(order.text.split()),
        "order, what is left out": "runout, balance weights" in " ".join(order.text.split()),
        "order, data": order.data["in_service"] is not None,
        "page, try another": "Not looked at: what happens in service." in page.read_text(),
    }
    assert told == dict.fromkeys(told, is_served)
    # 21 mm of growth leave 4 of the 5 required: the seller's sheet says why it does not clear
    assert ("tight in service: tire to post" in " ".join(order.text.split())) == is_served


def test_in_service_is_never_more_than_the_ideal_and_never_in_the_clearance(check: Check) -> None:
    plain, served = check(vehicle()), check(vehicle(service="usual"))
    assert [e["clearance_mm"] for e in plain["clearances"]] == [e["clearance_mm"] for e in served["clearances"]]
    assert [e["worst_case_mm"] for e in plain["clearances"]] == [e["worst_case_mm"] for e in served["clearances"]]
    for entry in served["clearances"]:
        assert entry["in_service_mm"] is None or entry["in_service_mm"] <= entry["clearance_mm"] + 1e-6
    counted = {each["effect"]: each for each in served["in_service"]["counted"]}
    assert set(counted) == {"growth", "runout", "weights", "lateral", "lean", "belt", "fore_aft", "toe", "bulge"}
    assert all(each["usual"] for each in counted.values())


def test_each_part_is_a_switch_of_its_own(check: Check) -> None:
    asked = {"growth": 3, "runout": 1, "corner_g": 0.6, "play": {"camber": "usual", "lateral": "none"}, "bulge": "none"}
    counted = check(vehicle(service=asked))["in_service"]["counted"]
    assert {each["effect"]: each["usual"] for each in counted} == {"growth": False, "runout": False, "lean": True}


def test_play_that_was_rocked_counts_alone_and_the_text_says_what_is_left_out(tmp_path: Path) -> None:
    """Every key of `service` that a moving vehicle has and that the profile does not give is named."""
    path = write_profile(tmp_path, vehicle(service={"play": {"rock": 2}}))
    found = run_json("check", path, "--axle", "front")["in_service"]
    assert [each["effect"] for each in found["counted"]] == ["rock"]
    left_out = "growth, runout, balance weights, bulge over the ground, cornering, braking, toe"
    assert found["not_asked"] == left_out.split(", ")
    for more in ((), ("--full",)):
        text = " ".join(run("check", path, *more).stdout.split())
        assert f"in service: {left_out} (`service` in the profile does not ask for it)" in text
    page = tmp_path / "page.html"
    run("report", path, "--out", str(page))
    assert left_out in page.read_text()


@pytest.mark.parametrize(
    ("without", "words"),
    [
        ({"growth": "none"}, ["growth"]),
        ({"runout": "none"}, ["runout"]),
        ({"weights": "none"}, ["balance weights"]),
        ({"bulge": "none"}, ["bulge over the ground"]),
        ({"sidewall_stiffness": "none"}, ["part of cornering"]),
        ({"play": {"lateral": "none"}}, ["part of cornering"]),
        ({"play": "none"}, ["part of cornering", "braking", "toe"]),
        ({"play": {"camber": "none", "lateral": "none"}, "sidewall_stiffness": "none"}, ["cornering"]),
        ({}, []),
    ],
)
def test_each_part_that_service_leaves_out_is_named(check: Check, without: Any, words: list[str]) -> None:
    usual = ("growth", "corner_g", "sidewall_stiffness", "bulge", "runout", "weights")
    play = without.get("play", {})
    full_play = dict.fromkeys(("camber", "lateral", "fore_aft", "toe"), "usual")
    asked = dict.fromkeys(usual, "usual") | without | {"play": play if play == "none" else full_play | play}
    assert check(vehicle(service=asked))["in_service"]["not_asked"] == words


def test_what_cannot_be_computed_is_told_beside_the_verdict_too(tmp_path: Path) -> None:
    path = write_profile(tmp_path, vehicle(service="usual", axle_load=None, hub_height=320))
    text = " ".join(run("check", path).stdout.split())
    assert "cornering: the axle has no axle_load" in text
    assert "growth with speed: neither service has a speed" in text


def test_what_cannot_be_computed_says_why(check: Check) -> None:
    asked = check(vehicle(service="usual", axle_load=None, hub_height=320))["in_service"]["not_computed"]
    assert any(words.startswith("cornering: the axle has no axle_load") for words in asked)
    assert any(words.startswith("growth with speed") for words in asked)
    assert any(words.startswith("bulge") for words in asked)
    answer = check(vehicle(service="usual", suspension={"kind": "solid_axle"}))["in_service"]
    assert "lean" not in {each["effect"] for each in answer["counted"]}
    assert any("beam" in words for words in answer["not_computed"])


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"grwth": 4}, 'Did you mean "growth"'),
        ({"growth": 400}, "0 to 40 mm"),
        ({"play": {"rock": "usual"}}, "rock"),
        ({"corner_g": 9}, "0 to 2.5 g"),
        ("often", '"often" is neither usual nor none nor a map of'),
        (True, "true is neither usual nor none nor a map of"),
        ({"play": "yes"}, '"yes" is neither usual nor none nor a map of camber'),
    ],
)
def test_what_is_refused(given: Any, said: str) -> None:
    with pytest.raises(ProfileError, match=r"service") as error:
        profiles.loads_profile(json.dumps(vehicle(service=given)))
    assert said in str(error.value)


def test_a_build_lays_its_own_over_the_axles() -> None:
    data = vehicle(service={"growth": 3, "runout": 1})
    bench_setup(data, "lowered")["service"] = {"growth": 5}
    read = profiles.loads_profile(json.dumps(data))
    assert profiles.axle(read, "front").service == rules.Service(growth=3.0, runout=1.0)
    assert profiles.axle(read, "front", "lowered").service == rules.Service(growth=5.0, runout=1.0)


def test_full_text_and_csv_tell_each_part(tmp_path: Path) -> None:
    path = write_profile(tmp_path, vehicle(service="usual"))
    lines = run("check", path, "--full").stdout.splitlines()
    start = lines.index("In service")
    block = " ".join(" ".join(lines[start : start + 24]).split())
    for words in (
        "growth",
        "runout",
        "shifts the tire's top",
        "starting figure",
        "lists and windows do not count it",
    ):
        assert words in block
    assert "in service" in next(line for line in lines if line.startswith("  closest approach"))
    out = tmp_path / "gaps.csv"
    run("check", path, "--out", str(out))
    assert "in_service_mm" in out.read_text().splitlines()[0]


@pytest.mark.slow
def test_a_bundled_vehicle_clears_as_measured_and_is_tight_in_service() -> None:
    answer = run_json("check", "coupe", "--build", "track_day")
    assert [corner["in_service"]["gaps"][0]["in_service_mm"] < 0 for corner in answer[:2]] == [True, True]
    assert answer[0]["in_service"]["gaps"][0]["in_service_mm"] < answer[1]["in_service"]["gaps"][0]["in_service_mm"]
    for corner in answer[:2]:
        assert corner["axle"] == "front"
        assert corner["verdict"] == "tight"
        assert corner["in_service"]["tight"]
        assert min(e["clearance_mm"] - e["allowance_mm"] for e in corner["clearances"]) >= 0
        assert min(e["worst_case_mm"] for e in corner["clearances"]) >= 0


def test_tire_and_section_are_the_nominal_ones_here() -> None:
    """The bench wheel's half width, by hand, so that the sums above rest on it: 230 / 2."""
    tire = replace(parse_tire("225/45R17"), section_width=WIDTH, on_rim=8, overall_diameter=DIAMETER)
    _, _, outer, top = tire_section(tire, parse_wheel("17x8 ET0")).bounds
    assert (outer, top) == pytest.approx((115.0, 317.0), abs=1e-6)
    assert HUB_FACE + 115.0 + 25.0 == POST
