"""How sure: sensitivities against computing again, chances against scipy, and cases worked by hand.

The tire's permitted sizes: UN R30 6.1.4 and 6.1.5 (from memory), a new radial tire may be 4 % wider, its section
height 3 % lower to 4 % higher. A rectangular spread of half width a has the standard deviation a / sqrt(3), and
variances of independent inputs add: JCGM 100:2008 4.3.7 and 5.1.2.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import scipy.integrate
import scipy.stats
import shapely
from conftest import DIAMETER, HUB_FACE, POST, SEAT, WIDTH, bench_setup, run, vehicle, write_profile

from fitment import profile
from fitment.answers.uncertainty import (
    Certainty,
    ClosestApproach,
    Doubt,
    chance_below,
    closest_approach,
    how_sure,
    normal_chance,
    spread_quantile,
    usual_tolerance,
)
from fitment.checks import case as cases
from fitment.checks.fit import Clearance
from fitment.clearance.measured_gap import settle_gaps
from fitment.clearance.section_distance import clearances
from fitment.clearance.trace import trace_obstacle
from fitment.motion.suspension import families
from fitment.parts.axle import Axle, Setup
from fitment.parts.sections import tire_section, tread_width, wheel_section
from fitment.parts.tire import Tire, largest_diameter, overall_diameter, section_width
from fitment.profile import Reading, yaml_core
from fitment.report.uncertainty import certainty_text, chance_text, path_words, reading_words

Check = Callable[..., dict[str, Any]]
ROUND = 2e-3  # [mm] chords of the outline and printed digits
FOUR = 4.0  # standard errors that a sampled figure may be off by: once in 16,000 seeds

# ---------------------------------------------------------------- chances


@pytest.mark.parametrize("x", [-6.0, -2.0, -0.3, 0.0, 0.7, 3.0])
def test_normal_chance_against_scipy(x: float) -> None:
    assert normal_chance(x) == pytest.approx(scipy.stats.norm.cdf(x), abs=1e-15)
    assert chance_below(1.7 * x, 1.7) == pytest.approx(scipy.stats.norm.cdf(x), abs=1e-15)


@pytest.mark.parametrize("x", [-5.0, -2.2, 0.0, 1.3, 4.0])
def test_a_normal_and_a_rectangle_against_integration(x: float) -> None:
    whole, _ = scipy.integrate.quad(lambda u: scipy.stats.norm.cdf((x - u) / 0.8) / 6, -3, 3, epsabs=1e-12)
    assert chance_below(x, 0.8, [3.0]) == pytest.approx(whole, abs=1e-10)


@pytest.mark.parametrize("x", [-5.0, -1.0, 0.4, 4.5])
def test_a_normal_and_two_rectangles_against_integration(x: float) -> None:
    whole, _ = scipy.integrate.dblquad(
        lambda u, v: scipy.stats.norm.cdf((x - u - v) / 1.1) / (4 * 3 * 2), -3, 3, -2, 2, epsabs=1e-10
    )
    assert chance_below(x, 1.1, [3.0, 2.0]) == pytest.approx(whole, abs=1e-8)


def test_rectangles_alone() -> None:
    assert chance_below(1.0, 0.0, [2.0]) == pytest.approx(3 / 4)
    assert chance_below(-2.1, 0.0, [2.0]) == 0.0
    for x in (-1.5, -0.2, 0.9):  # two equal ones make a triangle
        triangle = scipy.stats.triang.cdf(x, 0.5, loc=-2, scale=4)
        assert chance_below(x, 0.0, [1.0, 1.0]) == pytest.approx(triangle, abs=1e-12)


def test_a_very_narrow_rectangle_changes_nothing() -> None:
    """Where its two steps nearly coincide, their difference would drown in rounding."""
    for narrow in (0.0, 1e-12, 1e-6, 9e-4, 1.1e-3):
        assert chance_below(-1.0, 1.0, [narrow]) == pytest.approx(scipy.stats.norm.cdf(-1), abs=1e-6)
        assert chance_below(-1.0, 0.5, [narrow, 2.0]) == pytest.approx(chance_below(-1.0, 0.5, [2.0]), abs=1e-6)


def test_quantile_is_the_inverse() -> None:
    assert spread_quantile(0.975, 2.0) == pytest.approx(2 * scipy.stats.norm.ppf(0.975), abs=1e-9)
    assert spread_quantile(0.975, 0.0, [2.0]) == pytest.approx(0.95 * 2)
    x = spread_quantile(0.2, 0.7, [2.0, 1.0])
    assert chance_below(x, 0.7, [2.0, 1.0]) == pytest.approx(0.2, abs=1e-12)


def test_a_chance_is_never_told_as_zero_or_a_hundred() -> None:
    told = {
        0.0: "below 0.1 %",
        9e-4: "below 0.1 %",
        0.023: "2.3 %",
        0.4567: "46 %",
        0.993: "99.3 %",
        1.0: "above 99.9 %",
    }
    assert {chance: chance_text(chance) for chance in told} == told
    assert chance_text(None) == "-"


# ---------------------------------------------------------------- a ball over the crown, by hand

GAP = 3.0  # [mm] from the crown at full bump to the ball
Z = DIAMETER / 2 + 50 + GAP  # 370: the ball over the rim's centre line, which lies in the hub face (ET0)
LOW, HIGH = SEAT + 0.97 * (DIAMETER - SEAT), SEAT + 1.04 * (DIAMETER - SEAT)  # 627.94 and 642.08 across
HALF_BAND, SHIFT = (HIGH - LOW) / 4, (DIAMETER - (LOW + HIGH) / 2) / 2  # 3.535 and -0.505 in radius


def ball(z: Any, **more: Any) -> dict[str, Any]:
    return {"name": "ball", "shape": "ball", "at": [0, HUB_FACE, z], "meets": "tire"} | more


def by_hand(answer: dict[str, Any]) -> dict[str, Any]:
    return {each["reading"]: each for each in answer["how_sure"]["limiting"]["readings"]}


def test_a_ball_over_the_crown(check: Check) -> None:
    answer = check(vehicle(obstacles=[ball({"value": Z, "tolerance": 2})]), "--how-sure")
    found = answer["how_sure"]["limiting"]
    assert found["clearance_mm"] == pytest.approx(GAP, abs=ROUND)
    assert found["expected_mm"] == pytest.approx(GAP + SHIFT, abs=ROUND)
    assert found["standard_deviation_mm"] == pytest.approx(math.hypot(2 / 2, HALF_BAND / math.sqrt(3)), abs=ROUND)
    readings = by_hand(answer)
    assert readings["obstacles[ball].at[2]"]["mm_per_unit"] == pytest.approx(1, abs=1e-6), "higher is farther"
    assert readings["tire.overall_diameter"]["mm_per_unit"] == pytest.approx(-1 / 2, abs=1e-4)
    assert readings["tire.overall_diameter"]["band_mm"] == [pytest.approx(LOW), pytest.approx(HIGH)]
    assert readings["tire.section_width"]["mm_per_unit"] == pytest.approx(0, abs=1e-4), "the crown gets no higher"

    def chance(limit: float) -> float:
        inner = lambda u: scipy.stats.norm.cdf(limit - GAP - SHIFT - u) / (2 * HALF_BAND)  # noqa: E731
        return float(scipy.integrate.quad(inner, -HALF_BAND, HALF_BAND)[0])

    assert found["contact_percent"] == pytest.approx(100 * chance(0.0), abs=0.05)
    assert found["short_percent"] == pytest.approx(100 * chance(5.0), abs=0.05)


def test_a_tire_that_was_measured_has_its_own_tolerance(check: Check) -> None:
    """Then the range of new tires no longer counts: z 2 and diameter 3 are 1 and 0.75 of standard deviation, 1.25
    together; 3 mm are 2.4 of it, and a table of the normal distribution has 0.0082 below -2.40."""
    data = vehicle(obstacles=[ball({"value": Z, "tolerance": 2})])
    measured = {"value": DIAMETER, "tolerance": 3}
    bench_setup(data)["tire"] = bench_setup(data)["tire"] | {"overall_diameter": measured}
    answer = check(data, "--how-sure")
    found = answer["how_sure"]["limiting"]
    assert found["standard_deviation_mm"] == pytest.approx(1.25, abs=ROUND)
    assert found["expected_mm"] == pytest.approx(GAP, abs=ROUND)
    assert found["contact_percent"] == pytest.approx(0.820, abs=0.02)
    assert by_hand(answer)["tire.overall_diameter"]["band_mm"] is None
    assert by_hand(answer)["tire.section_width"]["band_mm"] is not None, "the width was not"
    typed = check(data, "--how-sure", "--tire", "225/45R17 94W XL")
    assert by_hand(typed)["tire.overall_diameter"]["band_mm"] is not None, "another tire was not measured"


def test_what_halving_gives(check: Check) -> None:
    """Shares go with the square: 1 and 0.75 make 64 and 36 %; half of the larger leaves hypot(0.5, 0.75)."""
    data = vehicle(obstacles=[ball({"value": Z, "tolerance": 2})])
    measured = {"value": DIAMETER, "tolerance": 3}
    bench_setup(data)["tire"] = bench_setup(data)["tire"] | {"overall_diameter": measured}
    first, second, *_ = check(data, "--how-sure")["how_sure"]["measure_again"]
    assert first["reading"] == "obstacles[ball].at[2]"
    assert first["words"] == "ball at, z"
    assert first["share_percent"] == pytest.approx(64, abs=0.2)
    assert second["share_percent"] == pytest.approx(36, abs=0.2)
    deviation = math.hypot(0.5, 0.75)
    assert first["halved"]["standard_deviation_mm"] == pytest.approx(deviation, abs=ROUND)
    assert first["halved"]["contact_percent"] == pytest.approx(100 * scipy.stats.norm.cdf(-GAP / deviation), abs=0.01)
    assert first["halved"]["range_95_mm"][0] == pytest.approx(GAP - 1.96 * deviation, abs=ROUND)


def test_signs_of_offset_and_hub_face(check: Check) -> None:
    """The post stands outboard: more offset draws the wheel away from it, a wider axle brings it nearer by half."""
    data = vehicle(
        hub_face_width={"value": 2 * HUB_FACE, "tolerance": 2},
        obstacles=[{"name": "post", "shape": "edge", "tolerance": 3, "points": [[0, POST, -450], [0, POST, 450]]}],
    )
    bench_setup(data)["wheel"] = {"spec": "17x8 ET0 5x114.3 CB67.1", "offset_tolerance": 1.5}
    answer = check(data, "--how-sure")
    for place in answer["how_sure"]["places"]:
        found = {each["reading"]: each for each in place["readings"]}
        assert found["wheel.offset"]["mm_per_unit"] == pytest.approx(1, abs=1e-6)
        assert found["hub_face_width"]["mm_per_unit"] == pytest.approx(-1 / 2, abs=1e-6)
        assert (found["post"]["mm_per_unit"], found["post"]["signed"]) == (1, False), "it may be off either way"
    tire = answer["how_sure"]["places"][0]
    assert tire["part"] == "tire"
    # 4 % of 230 either way on the width is 4.6 on each side
    squares = (3 / 2) ** 2 + (1.5 / 2) ** 2 + (1 / 2) ** 2 + (0.04 * WIDTH / 2) ** 2 / 3
    assert tire["standard_deviation_mm"] == pytest.approx(math.sqrt(squares), abs=ROUND)


SEAT_15 = 381.0  # [mm] nominal diameter of a 15 in rim


def largest_of(setup: Setup) -> Tire:
    own = replace(setup, tire=replace(setup.tire, shoulder=setup.tire.shoulder or "square"))
    return of_size(own, 1.04 * section_width(setup.tire, setup.wheel.rim_width), largest_diameter(setup.tire))


def test_signs_of_a_radius_and_a_measured_gap(check: Check) -> None:
    """A thicker part is nearer by as much; one that the tape found farther off is farther."""
    gap = {"to": "tire", "gap": {"value": 25, "tolerance": 2}}
    thick = {"name": "post", "shape": "edge", "meets": "tire", "radius": {"value": 6, "tolerance": 1}}
    answer = check(
        vehicle(obstacles=[thick | {"measured_gap": gap, "points": [[0, POST, -450], [0, POST, 450]]}]), "--how-sure"
    )
    found = by_hand(answer)
    assert found["obstacles[post].radius"]["mm_per_unit"] == pytest.approx(0, abs=1e-4), "the gap was to its face"
    assert found["obstacles[post].measured_gap.gap"]["mm_per_unit"] == pytest.approx(1, abs=1e-4)
    assert any("placed by a gap to the baseline's tire" in note for note in answer["how_sure"]["notes"])
    answer = check(vehicle(obstacles=[thick | {"points": [[0, POST, -450], [0, POST, 450]]}]), "--how-sure")
    assert by_hand(answer)["obstacles[post].radius"]["mm_per_unit"] == pytest.approx(-1, abs=1e-6)
    assert not any("placed by a gap" in note for note in answer["how_sure"]["notes"])


def test_half_of_a_band_stays_about_its_middle() -> None:
    half = Doubt("tire.section_width", "width", 9, "mm", -4.5, True, (216, 234), -0.1).halved()
    assert (half.band, half.tolerance, half.effect, half.shift) == ((220.5, 229.5), 4.5, -2.25, -0.1)


def test_the_largest_size_is_the_largest_tire_of_the_check() -> None:
    """Above the widest point; below it the largest is the hull of smaller ones too. Where the tire is wider than its
    rim, so that the nominal width does not bend the sidewall otherwise."""
    setup = checked("wagon", "front", "as_bought").fit.setup
    setup = replace(setup, tire=replace(setup.tire, shoulder="square", rim_protector=False))
    own, hull = tire_section(largest_of(setup), setup.wheel), tire_section(setup.tire, setup.wheel, largest=True)
    assert own.difference(hull.buffer(0.05)).is_empty
    middle = (SEAT_15 + largest_diameter(setup.tire)) / 4  # the widest point is below the middle of the sidewall
    upper = [each.intersection(shapely.box(-300, middle, 300, 500)) for each in (own, hull)]
    assert upper[0].hausdorff_distance(upper[1]) < 0.05


# ---------------------------------------------------------------- bundled profiles against computing again


def set_tolerance(node: Any, path: str, tolerance: float) -> None:
    """A tolerance put on a value of plain profile data; the path's last step is a key or an index."""
    steps = [int(step) if step.isdigit() else step for step in re.findall(r"[^.\[\]]+", path)]
    for step in steps[:-1]:
        node = next(each for each in node if each["name"] == step) if is_name(node, step) else node[step]
    given = node[steps[-1]]
    value = given["value"] if isinstance(given, dict) else given
    node[steps[-1]] = {"value": value, "tolerance": tolerance}


def is_name(node: Any, step: str | int) -> bool:
    return isinstance(node, list) and isinstance(step, str)


POINTS = (
    "lower_inner_front",
    "lower_inner_rear",
    "lower_ball",
    "strut_top",
    "strut_axis_point",
    "tie_inner",
    "tie_outer",
)
TAPE = {
    "hub_face_width": 2.0, "suspension.camber": 0.1, "suspension.toe_in": 0.1, "suspension.readings[0].camber": 0.2,
    "suspension.readings[1].out": 1.0, "steering.lock_left": 0.5, "steering.lock_right": 0.5, "travel.bump": 3.0,
    "suspension.steering_axis.lower[1]": 2.0, "suspension.steering_axis.upper[1]": 2.0,
    "obstacles[fender lip].points[4][1]": 2.0, "obstacles[fender lip].points[5][2]": 2.0,
    "obstacles[inner fender].rows[3][0][1]": 2.0, "obstacles[inner fender].rows[3][1][2]": 2.0,
}  # fmt: skip
LINKS = {
    "hub_face_width": 2.0, "suspension.camber": 0.1, "steering.lock_left": 0.5, "travel.bump": 3.0,
    "obstacles[fender lip].points[3][1]": 2.0,
    **{f"suspension.points.{name}[{i}]": 1.0 for name in POINTS for i in range(3)},
}  # fmt: skip
AXLE = {"hub_face_width": 2.0, "travel.bump": 3.0, "suspension.points.panhard_body[2]": 3.0} | {
    "suspension.points.panhard_axle[2]": 3.0, "obstacles[bed side lip].points[1][2]": 2.0
}  # fmt: skip
BUNDLED = {
    "wagon": ("front", "chosen", TAPE),
    "coupe": ("front", "stock", LINKS),
    "pickup": ("rear", "factory", AXLE),
}


@cache
def toleranced(name: str) -> profile.Profile:
    """A bundled profile with more tolerances than it comes with; its readings stay."""
    axle, _, tolerances = BUNDLED[name]
    path = Path(__file__).parent.parent / "profiles" / f"{name}.yaml"
    data = json.loads(json.dumps(yaml_core.load_file(path).data))
    for each, tolerance in tolerances.items():
        set_tolerance(data["axles"][axle], each, tolerance)
    # no rib, so that the largest tire is its limits alone; vehicles are drawn with a shoulder that is told
    bolted = data["builds"][BUNDLED[name][1]][axle]
    if isinstance(bolted["tire"], str):
        told = {} if name == "pickup" else {"shoulder": "usual"}
        bolted["tire"] = {"code": bolted["tire"], "rim_protector": False} | told
    return profile.loads_profile(json.dumps(data), name)


def checked(name: str, axle: str, build: str, own: profile.Profile | None = None) -> cases.Case:
    ready = cases.ready(own or profile.load_profile(name), axle, build)
    return cases.run(ready, profile.setup(ready.profile, axle, build), others=cases.setup_variants(ready))


@dataclass(frozen=True)
class Bundled:
    """A checked bundled profile, and its clearances computed again with whatever is moved."""

    case: cases.Case
    found: Certainty

    def again(self, entries: list[Clearance], moved: dict[str, float], setup: Setup) -> list[float]:
        """Clearance [mm] of each entry with readings moved and another setup, at the same travel or end, and share."""
        ready = self.case.ready
        own = profile.axle(ready.profile, ready.axle.name, ready.build, moved=moved)
        base = profile.baseline_axle(ready.profile, ready.axle.name, ready.build, moved=moved)
        axle = settle_gaps(own, base, profile.setup(ready.profile, ready.axle.name))
        return [self._one(entry, axle, setup) for entry in entries]

    def _one(self, entry: Clearance, axle: Axle, setup: Setup) -> float:
        number, place = self._place(entry.pose)
        travel, *shares = place
        old = self.case.fit.axle
        travel = {old.bump: axle.bump, old.droop: axle.droop}.get(travel, travel)
        poses = families(axle)[number].poses(*np.array([[travel, *shares]]).T)
        spacer = setup.spacer.thickness
        tire = entry.part == "tire"
        section = tire_section(setup.tire, setup.wheel, spacer) if tire else wheel_section(setup.wheel, spacer)
        obstacle = next(each for each in axle.obstacles if each.name == entry.obstacle)
        return float(clearances(section, trace_obstacle(obstacle, poses))[0])

    def _place(self, pose: int) -> tuple[int, tuple[float, ...]]:
        for number, places in enumerate(self.case.fit.places):
            if pose < len(places):
                return number, tuple(places[pose].tolist())
            pose -= len(places)
        raise AssertionError(pose)


@cache
def bundled(name: str) -> Bundled:
    axle, build, _ = BUNDLED[name]
    case = checked(name, axle, build, toleranced(name))
    found = how_sure(case)
    assert found is not None
    return Bundled(case, found)


@pytest.mark.slow
@pytest.mark.parametrize("name", BUNDLED)
def test_every_sensitivity_against_a_central_difference(name: str) -> None:
    """Each reading moved up and down by its tolerance, everything computed again, at every obstacle and part.

    A first-order effect and a central difference may differ by what the clearance bends within the tolerance, which
    the second difference tells, and by chords (0.03 mm on the section, 0.015 mm on a trace).
    """
    it = bundled(name)
    places = [place for place in it.found.places if place.direction_known]
    entries = [place.entry for place in places]
    setup = it.case.fit.setup
    middle = [entry.clearance for entry in entries]
    moved = 0
    for reading in (each.path for each in profile.readings(it.case.ready.profile, BUNDLED[name][0], BUNDLED[name][1])):
        doubts = [next((d for d in place.doubts if d.name == reading), None) for place in places]
        if doubts[0] is None:
            continue
        tolerance = doubts[0].tolerance
        up, down = (it.again(entries, {reading: sign * tolerance}, setup) for sign in (1, -1))
        for doubt, a, b, c in zip(doubts, down, middle, up, strict=True):
            assert doubt is not None
            bend = abs(a - 2 * b + c)
            assert doubt.effect == pytest.approx((c - a) / 2, abs=bend + 0.01), (reading, a - b, c - b)
            moved += abs(doubt.effect) > 0.05
    assert moved >= 8, "most of the readings that were given a tolerance matter somewhere"


def of_size(
    setup: Setup, width: float | None = None, diameter: float | None = None, shoulder: float | None = None
) -> Tire:
    """The setup's tire with another width or overall diameter [mm], all else alike; shoulder : an end of its band
    [mm], the usual one at zero, else the square one."""
    if shoulder is not None:
        return replace(setup.tire, shoulder="square" if shoulder else "usual")
    tire, rim = setup.tire, setup.wheel.rim_width
    nominal = section_width(tire, rim)
    wide = width or nominal
    return replace(
        tire, section_width=wide, on_rim=rim, tread_width=tread_width(tire) * wide / nominal,
        overall_diameter=diameter or overall_diameter(tire),
    )  # fmt: skip


@pytest.mark.slow
def test_sensitivities_are_those_of_the_closest_approach_over_all_poses() -> None:
    """The whole check run again with a reading moved, its search for the closest pose included.

    At the closest pose a clearance does not change with the pose to first order, unless that pose is an end.
    """
    it = bundled("wagon")
    axle, build, tolerances = BUNDLED["wagon"]
    for reading in ("hub_face_width", "suspension.readings[0].camber", "steering.lock_left", "travel.bump"):
        tolerance = tolerances[reading]
        up, down = (least_clearances(moved_profile(reading, sign * tolerance), axle, build) for sign in (1, -1))
        for place in it.found.places:
            if place.direction_known:
                key = (place.entry.obstacle, place.entry.part)
                effect = next(d.effect for d in place.doubts if d.name == reading)
                a, b, c = down[key], place.entry.clearance, up[key]
                assert effect == pytest.approx((c - a) / 2, abs=abs(a - 2 * b + c) + 0.01), (reading, key, a - b, c - b)


def moved_profile(reading: str, delta: float) -> profile.Profile:
    data = json.loads(json.dumps(toleranced("wagon").document.data))
    node = data["axles"]["front"]
    for step in re.findall(r"\w+", reading):
        node = node[int(step) if step.isdigit() else step]
    node["value"] += delta
    return profile.loads_profile(json.dumps(data), "wagon")


def least_clearances(moved: profile.Profile, axle: str, build: str) -> dict[tuple[str, str], float]:
    return {(e.obstacle, e.part): e.clearance for e in checked("wagon", axle, build, moved).fit.worst_each}


@pytest.mark.slow
@pytest.mark.parametrize("name", BUNDLED)
def test_offset_and_tire_sizes_against_computing_again(name: str) -> None:
    it = bundled(name)
    setup, wheel = it.case.fit.setup, it.case.fit.setup.wheel
    for place in it.found.places[:4]:
        entry = place.entry
        sizes = {d.kind: d for d in place.doubts if d.band is not None}
        told = {"shoulder"} if setup.tire.shape_told else set()
        assert set(sizes) == ({"width", "diameter", "shoulder"} - told if entry.part == "tire" else set())
        for kind, doubt in sizes.items():
            assert doubt.band is not None
            ends = (replace(setup, tire=of_size(setup, **{kind: size})) for size in doubt.band)
            low, high = (it.again([entry], {}, end)[0] for end in ends)
            assert doubt.effect == pytest.approx((high - low) / 2, abs=ROUND)
            assert doubt.shift == pytest.approx((high + low) / 2 - entry.clearance, abs=ROUND)
        # the bundled offsets state no tolerance; with one of 1 mm the effect is what moving the wheel by it gives
        up, down = (
            it.again([entry], {}, replace(setup, wheel=replace(wheel, offset=wheel.offset + step)))[0]
            for step in (1.0, -1.0)
        )
        case = replace(
            it.case, fit=replace(it.case.fit, setup=replace(setup, wheel=replace(wheel, offset_tolerance=1)))
        )
        again = how_sure(case)
        assert again is not None
        same = next(p for p in again.places if (p.entry.obstacle, p.entry.part) == (entry.obstacle, entry.part))
        offset = next(d for d in same.doubts if d.kind == "offset")
        assert offset.effect == pytest.approx((up - down) / 2, abs=abs(up + down - 2 * entry.clearance) + 0.01)


def sampled(it: Bundled, place: ClosestApproach, count: int, seed: int) -> tuple[list[float], list[float]]:
    """Clearance of one place in so many vehicles drawn as assumed: computed again, and to first order."""
    random = np.random.default_rng(seed)
    setup, entry = it.case.fit.setup, place.entry
    again, first_order = [], []
    for _ in range(count):
        moved, size, own, linear = {}, {}, 0.0, place.expected
        for doubt in place.doubts:
            if doubt.band is None:
                delta = doubt.tolerance / 2 * random.standard_normal()
                linear += doubt.sensitivity * delta
                if doubt.kind == "reading":
                    moved[doubt.name] = delta
                else:
                    assert doubt.kind == "place"
                    own += delta
            else:
                size[doubt.kind] = random.uniform(*doubt.band)
                linear += doubt.sensitivity * (size[doubt.kind] - sum(doubt.band) / 2)
        # an obstacle's own tolerance is by definition a shift towards the section
        again.append(it.again([entry], moved, replace(setup, tire=of_size(setup, **size)))[0] + own)
        first_order.append(linear)
    return again, first_order


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "obstacle", "count"),
    [("wagon", "fender lip", 300), ("wagon", "inner fender", 100), ("coupe", "fender lip", 300)],
)
def test_spread_and_chances_against_sampled_vehicles(name: str, obstacle: str, count: int) -> None:
    it = bundled(name)
    place = next(p for p in it.found.places if (p.entry.obstacle, p.entry.part) == (obstacle, "tire"))
    again, first_order = map(np.array, sampled(it, place, count, seed=20240229))
    # a tenth, added as squares, makes half a per cent of the deviation
    assert np.std(again - first_order) < 0.1 * place.deviation, "what first order leaves out is small"
    assert np.std(again) == pytest.approx(place.deviation, rel=FOUR / math.sqrt(2 * count))
    assert np.mean(again) == pytest.approx(place.expected, abs=FOUR * place.deviation / math.sqrt(count))
    for limit in place.expected + place.deviation * np.array([-1.5, -0.7, 0.5]):
        chance = closest_approach(replace(place.entry, allowance=float(limit)), place.doubts).chance_short
        assert chance is not None
        assert np.mean(again < limit) == pytest.approx(chance, abs=FOUR * math.sqrt(chance * (1 - chance) / count))
    assert place.range is not None
    inside = np.mean((again > place.range[0]) & (again < place.range[1]))
    assert inside == pytest.approx(0.95, abs=FOUR * math.sqrt(0.95 * 0.05 / count))


@pytest.mark.slow
@pytest.mark.parametrize("name", BUNDLED)
def test_worst_case_is_that_of_the_check_and_bounds_every_vehicle_within_the_tolerances(name: str) -> None:
    """Every reading at the end that its sign says is against us, on the largest tire, computed again."""
    it = bundled(name)
    setup = it.case.fit.setup
    tightest = [p for p in it.found.places if p.entry.part == "tire" and p.direction_known][:3]
    for place in tightest:
        against = {d.name: -math.copysign(d.tolerance, d.effect) for d in place.doubts if d.kind == "reading"}
        own = sum(d.tolerance for d in place.doubts if d.kind == "place")
        worst = it.again([place.entry], against, replace(setup, tire=largest_of(setup)))[0] - own
        loss = place.entry.clearance - worst
        assert worst > place.entry.worst_case - 0.05 * loss, "never worse than the check says"
        # between the ends of travel the check also counts how far a pose moves when it shifts with an end
        if place.entry.travel in (0.0, it.case.fit.axle.bump):
            assert worst == pytest.approx(place.entry.worst_case, abs=0.05 * loss)
        assert place.range is not None
        assert place.entry.worst_case < place.range[0] < place.expected < place.range[1]


# ---------------------------------------------------------------- what the answer holds


def test_the_json(check: Check) -> None:
    data = vehicle(hub_face_width={"value": 2 * HUB_FACE, "tolerance": 2})
    plain, answer = check(data), check(data, "--how-sure")
    found = answer.pop("how_sure")
    assert answer == plain, "nothing else changes"
    assert found["limiting"]["obstacle"] == plain["worst"]["obstacle"]
    for key in ("travel_mm", "steer_deg", "clearance_mm", "worst_case_mm", "allowance_mm"):
        assert found["limiting"][key] == plain["worst"][key]
    pairs = {(each["obstacle"], each["part"]) for each in found["places"]}
    assert pairs == {(each["obstacle"], each["part"]) for each in plain["clearances"]}
    for place in found["places"]:
        entries = [e for e in plain["clearances"] if (e["obstacle"], e["part"]) == (place["obstacle"], place["part"])]
        assert place["clearance_mm"] - place["allowance_mm"] == pytest.approx(min(e["margin_mm"] for e in entries))
        shares = [each["share_percent"] for each in place["readings"]]
        assert shares == sorted(shares, reverse=True)
        assert sum(shares) == pytest.approx(100, abs=1e-3) or place["contact_percent"] is None
    low, high = found["any_contact_percent"]
    chances = [place["contact_percent"] for place in found["places"] if place["contact_percent"] is not None]
    assert (low, high) == (pytest.approx(max(chances), abs=1e-3), pytest.approx(min(100, sum(chances)), abs=1e-3))
    assert found["places_without_a_chance"] == len(found["places"]) - len(chances)


def test_readings_without_a_tolerance_are_counted(check: Check) -> None:
    """Width, both ends of travel, five coordinates of the post, and the offset; not what stands at its default."""
    data = vehicle()
    points = [[0, POST, {"value": -450, "tolerance": 1}], [0, POST, 450]]  # places the post, so it has no usual one
    data["axles"]["front"]["obstacles"] = [{"name": "post", "shape": "edge", "points": points}]
    found = check(data, "--how-sure")["how_sure"]
    names = [each["reading"] for each in found["exact_readings"]]
    ends = [f"obstacles[post].points[{i}][{j}]" for i in (0, 1) for j in (0, 1, 2) if (i, j) != (0, 2)]
    assert sorted(names) == sorted(["hub_face_width", "travel.droop", "travel.bump", *ends, "wheel.offset"])
    # with what is usual: half of 2, the offset's 1, and the post's y, 3 at each end; where along it the tire is
    # nearest does not matter for the sum's bounds: between 3 / sqrt(2) (middle) and 3 (an end) of tolerance
    added = (
        found["with_usual_tolerances"]["standard_deviation_mm"] ** 2 - found["limiting"]["standard_deviation_mm"] ** 2
    )
    rest = added - (1 / 2) ** 2 - (1 / 2) ** 2
    assert (3 / 2) ** 2 / 2 - ROUND <= rest <= (3 / 2) ** 2 + ROUND


def test_an_obstacles_own_tolerance_covers_its_readings(check: Check) -> None:
    post = {"name": "post", "shape": "edge", "tolerance": 3, "points": [[0, POST, -450], [0, POST, 450]]}
    found = check(vehicle(obstacles=[post]), "--how-sure")["how_sure"]
    assert not [each for each in found["exact_readings"] if "post" in each["reading"]]


def test_usual_tolerances_by_kind_of_reading() -> None:
    usual = {
        "hub_face_width": ("mm", 2), "suspension.points.upper_ball[1]": ("mm", 3), "suspension.camber": ("deg", 0.2),
        "baseline:suspension.camber": ("deg", 0.2), "steering.lock_left": ("deg", 1), "steer_limit[0][0]": ("mm", 2),
        "obstacles[lip].at.out": ("mm", 3), "obstacles[lip].radius": ("mm", 2), "suspension.track_per_100mm": ("mm", 2),
    }  # fmt: skip
    assert {path: usual_tolerance(Reading(path, 0, unit)) for path, (unit, _) in usual.items()} == {
        path: value for path, (_, value) in usual.items()
    }


def test_a_part_through_the_middle_of_the_tire_tells_no_chance(check: Check, tmp_path: Path) -> None:
    """A post in the tire's own centre plane: out is as far inboard as outboard."""
    y = {"value": HUB_FACE, "tolerance": 2}
    data = vehicle(obstacles=[{"name": "post", "shape": "edge", "meets": "tire", "points": [[0, y, 250], [0, y, 450]]}])
    found = check(data, "--how-sure")["how_sure"]
    place = found["limiting"]
    assert place["clearance_mm"] < -20
    assert (place["direction_known"], place["contact_percent"], place["range_95_mm"]) == (False, None, None)
    moved = next(each for each in place["readings"] if each["reading"].endswith("[1]"))
    assert not moved["signed"]
    assert found["any_contact_percent"] is None
    text = run("check", write_profile(tmp_path, data), "--axle", "front", "--how-sure").output
    assert "how a reading changes the overlap is unknown" in " ".join(text.split())


def test_an_overlap_with_one_way_out(check: Check) -> None:
    """A post 3 mm inside the widest place of the sidewall: its y counts whole, and contact is nearly sure."""
    y = {"value": HUB_FACE + WIDTH / 2 - 3, "tolerance": 2}
    post = {"name": "post", "shape": "edge", "meets": "tire", "points": [[0, y, -450], [0, y, 450]]}
    place = check(vehicle(obstacles=[post]), "--how-sure")["how_sure"]["limiting"]
    assert place["clearance_mm"] == pytest.approx(-3, abs=0.03)
    assert place["direction_known"]
    both = [each["mm_per_unit"] for each in place["readings"] if each["reading"].endswith("[1]")]
    assert sum(both) == pytest.approx(1, abs=1e-3), "both ends outboard by one is the post outboard by one"
    assert 50 < place["contact_percent"] < 100


def test_nothing_has_a_tolerance(check: Check, tmp_path: Path) -> None:
    data = vehicle(obstacles=[{"name": "ball", "shape": "ball", "at": [0, POST, 0], "meets": "wheel"}])
    found = check(data, "--how-sure")["how_sure"]
    assert found["limiting"]["contact_percent"] is None
    text = run("check", write_profile(tmp_path, data), "--axle", "front", "--how-sure").output
    assert "no chance is given; state tolerances in the profile" in " ".join(text.split())


def test_no_obstacle(check: Check, tmp_path: Path) -> None:
    data = vehicle(obstacles=[])
    assert check(data, "--how-sure")["how_sure"] is None
    text = run("check", write_profile(tmp_path, data), "--axle", "front", "--how-sure").output
    assert "How sure: nothing to say, because no part near the wheel was checked." in text


@pytest.mark.parametrize("smooth", [True, False])
def test_a_reading_that_lays_a_curve_out_otherwise(check: Check, smooth: bool) -> None:
    """Moved by 2 mm, the far stretch of the curve is one step of 10 mm shorter; its near end stays where it was."""

    def lip(z: Any) -> dict[str, Any]:
        points = [[0, POST + 60, z], [0, POST + 40, 0], [0, POST - 20, 200]]
        return vehicle(
            obstacles=[{"name": "lip", "shape": "edge", "smooth": smooth, "meets": "tire", "points": points}]
        )

    plain, moved = check(lip(-401)), check(lip({"value": -401, "tolerance": 2}), "--how-sure")
    assert moved["worst"]["worst_case_mm"] == pytest.approx(plain["worst"]["worst_case_mm"], abs=0.01)
    assert by_hand(moved)["obstacles[lip].points[0][2]"]["mm_per_unit"] == pytest.approx(0, abs=0.005)


# ---------------------------------------------------------------- words


def test_readings_are_named_as_in_the_profile() -> None:
    words = {
        "hub_face_width": "front hub_face_width",
        "baseline:hub_face_width": "front hub_face_width of the baseline",
        "suspension.points.upper_ball[1]": "front points.upper_ball, y",
        "suspension.steering_axis.lower[2]": "front steering_axis.lower, z",
        "steer_limit[1][0]": "front steer_limit[1][0]",
        "obstacles[fender lip].points[2][0]": "fender lip points[2], x",
        "obstacles[frame horn].measured_gap.gap": "frame horn measured_gap.gap",
    }
    assert {path: path_words(path, "front") for path in words} == words
    assert reading_words(Doubt("fender lip", "place", 3, "mm", 3, False), "front") == "fender lip, where it is"
    assert reading_words(Doubt("tire.section_width", "width", 9, "mm", 3, True, (216, 234)), "front") == (
        "tire section_width (as permitted)"
    )


@pytest.mark.slow
@pytest.mark.parametrize(("name", "axle"), [("wagon", "front"), ("pickup", "rear"), ("coupe", "rear")])
@pytest.mark.parametrize("units", ["mm", "in"])
def test_the_text(name: str, axle: str, units: str) -> None:
    case = checked(name, axle, profile.load_profile(name).build_names[-1])
    text = certainty_text(how_sure(case), case.fit.setup, axle, units)
    worst = case.fit.worst
    assert worst is not None
    assert text.startswith(f"How sure, where it is tightest: {worst.part} to {worst.obstacle}")
    other = "in" if units == "mm" else "mm"
    assert not re.search(rf"\d {other}\b|/{other}\b", text)
    assert not re.search(r"(?<![\d.])(0|0\.0|100|100\.0) %(?! (lie|together))", text.split("Measure this again")[0])
    plain = " ".join(text.split())
    for said in (
        "two standard deviations",
        "independent",
        "UN R30",
        "counted as exact",
        "no published source",
        "Not counted",
    ):
        assert said in plain


def test_the_text_follows_the_check() -> None:
    plain, more = (run("check", "wagon", "--axle", "rear", "--full", *option) for option in ([], ["--how-sure"]))
    assert more.output.startswith(plain.output.rstrip("\n"))
    assert more.exit_code == plain.exit_code
    assert run("check", "wagon", "--axle", "rear", "--full", "--how-sure").output == more.output
