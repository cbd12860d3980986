"""How likely a whole setup clears, and what to measure next: by hand, and against very many vehicles drawn plainly.

The plain vehicles move by `reference/tape_motion.py` and are measured against a polygon; none of the program's motion,
search or linear effects is in them. Clearances of the bench vehicle are worked in conftest.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from itertools import product
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import scipy.integrate
import scipy.stats
from conftest import DIAMETER, HUB_FACE, WIDTH, bench_setup, run, run_json, steered, vehicle, write_profile
from reference.assumed_bands import Part, gaps

import fitment
from fitment import profile as profiles
from fitment.answers.drawn_margins import margins_of
from fitment.answers.next_reading import Sure, sure_of, taken_again
from fitment.checks import case as cases
from fitment.clearance.worst_case import setup_sections
from fitment.measuring.questions import ALL
from fitment.measuring.questions.forms import numbered
from fitment.parts.tables import typical_values
from fitment.report.next_reading import how_words, reading_label, sure_words

Check = Callable[..., dict[str, Any]]
EXACT = 0.006  # of a chance worked by hand: a part of a hundredth, since vehicles are drawn
NEAR = 0.03  # of one from plain vehicles
LOW, HIGH = 432 + 0.97 * (DIAMETER - 432), 432 + 1.04 * (DIAMETER - 432)  # UN R30 6.1.5, from memory: across [mm]
NORMAL = scipy.stats.norm


def exact_tire(data: dict[str, Any]) -> dict[str, Any]:
    """The bench vehicle whose tire was measured and is exact."""
    sizes = {"section_width": {"value": WIDTH, "tolerance": 0}, "overall_diameter": {"value": DIAMETER, "tolerance": 0}}
    bench_setup(data)["tire"] = bench_setup(data)["tire"] | sizes
    return data


def post(name: str, out: float, **more: Any) -> dict[str, Any]:
    """A post that stands so far outboard of the tire; the wheel stands 0.7 further in (conftest)."""
    y = HUB_FACE + WIDTH / 2 + out
    return {"name": name, "shape": "edge", "meets": "tire", "points": [[0, y, -450], [0, y, 450]]} | more


def sure(check: Check, data: dict[str, Any], *options: str) -> dict[str, Any]:
    return dict(check(data, *options)["sure"])


# ---------------------------------------------------------------- chances by hand


def test_a_ball_over_the_crown_with_any_permitted_tire(check: Check) -> None:
    """8 mm at full bump, 5 required: a height that may be off by 2 (two deviations), a radius of LOW/2 to HIGH/2."""
    ball = {"name": "ball", "shape": "ball", "at": [0, HUB_FACE, {"value": DIAMETER / 2 + 50 + 8, "tolerance": 2}]}
    answer = check(vehicle(obstacles=[ball | {"meets": "tire", "tolerance": 0}]))
    kept = lambda d: NORMAL.cdf((8 - 5 - (d - DIAMETER) / 2) / 1)  # noqa: E731
    chance = scipy.integrate.quad(kept, LOW, HIGH)[0] / (HIGH - LOW)
    assert answer["sure"]["chance_clears"] == pytest.approx(chance, abs=EXACT)


def test_a_measured_tire_leaves_the_height_alone(check: Check) -> None:
    """Tolerance 0 is exact: 3 mm above what is required are 3 deviations of 1 mm, 1 of 3 mm."""
    for tolerance, deviations in ((2, 3), (6, 1), (12, 0.5)):
        height = {"value": DIAMETER / 2 + 50 + 8, "tolerance": tolerance}
        ball = {"name": "ball", "shape": "ball", "at": [0, HUB_FACE, height], "meets": "tire", "tolerance": 0}
        answer = sure(check, exact_tire(vehicle(obstacles=[ball])))
        assert answer["chance_clears"] == pytest.approx(min(NORMAL.cdf(deviations), 0.999), abs=EXACT)


def test_one_reading_that_moves_two_parts_counts_once_and_two_count_twice(check: Check) -> None:
    """Two posts with 1 deviation to spare: by one width of the axle the chance of one; by two tolerances its square."""
    posts = [post("one", 7), post("other", 7)]
    width = {"value": 2 * HUB_FACE, "tolerance": 8}  # 4 on each side, so 2 mm are a deviation
    together = sure(check, exact_tire(vehicle(obstacles=posts, hub_face_width=width)))
    assert together["chance_clears"] == pytest.approx(NORMAL.cdf(1), abs=EXACT)
    apart = sure(check, exact_tire(vehicle(obstacles=[part | {"tolerance": 4} for part in posts])))
    assert apart["chance_clears"] == pytest.approx(NORMAL.cdf(1) ** 2, abs=EXACT)


def test_opposite_ways_of_one_reading_are_not_both_lucky(check: Check) -> None:
    """A post outboard and one inboard, each a deviation from short: a wider axle helps one and harms the other."""
    inboard = [[0, HUB_FACE - WIDTH / 2 - 7, -450], [0, HUB_FACE - WIDTH / 2 - 7, 450]]
    width = {"value": 2 * HUB_FACE, "tolerance": 8}
    found = sure(
        check, exact_tire(vehicle(obstacles=[post("out", 7), post("in", 7, points=inboard)], hub_face_width=width))
    )
    assert found["chance_clears"] == pytest.approx(NORMAL.cdf(1) - NORMAL.cdf(-1), abs=EXACT)


# ---------------------------------------------------------------- the next reading by hand


def test_the_reading_that_decides_is_named_and_one_that_cannot_is_not(check: Check) -> None:
    """The far post has three times the tolerance, and 100 mm to spare: to measure it changes nothing."""
    found = sure(check, exact_tire(vehicle(obstacles=[post("near", 6, tolerance=4), post("far", 110, tolerance=12)])))
    (only,) = found["decided_by"]
    assert only["reading"] == "obstacles[near]"
    assert only["words"] == "the tire's gap to the near"
    assert "measured_gap: {to: tire, gap: ...}" in only["how_to_take_it"]
    gap = next(each for each in numbered(ALL) if each.question.path.endswith("obstacles/{n}/measured_gap/gap"))
    assert only["sheet"] == gap.number


def test_the_share_is_the_doubt_that_the_gap_ends(check: Check) -> None:
    """An even chance on a place that is off by x, of deviation 2; the gap reads x + e, e of deviation 1 (2 mm). So x
    is known to be 4/5 of the gap, with the variance 4/5 that is left."""
    found = sure(check, exact_tire(vehicle(obstacles=[post("near", 5, tolerance=4)])))
    assert found["chance_clears"] == pytest.approx(0.5, abs=EXACT)

    def left(x: float) -> float:
        p = NORMAL.cdf(x * math.sqrt(4 + 1) * 4 / 5 / math.sqrt(4 / 5))
        return float(p * (1 - p) * NORMAL.pdf(x))

    share = 1 - scipy.integrate.quad(left, -8, 8)[0] / 0.25
    assert found["decided_by"][0]["share"] == pytest.approx(share, abs=0.02)


def test_the_share_is_the_doubt_that_half_the_tolerance_ends(check: Check) -> None:
    """The same of the axle's width, 4 on each side: half the tolerance tells 3/4 of the variance and leaves 1/4."""
    width = {"value": 2 * HUB_FACE, "tolerance": 8}
    found = sure(check, exact_tire(vehicle(obstacles=[post("near", 5)], hub_face_width=width)))

    def left(x: float) -> float:
        p = NORMAL.cdf(x * math.sqrt(3 / 4) / math.sqrt(1 / 4))
        return float(p * (1 - p) * NORMAL.pdf(x))

    share = 1 - scipy.integrate.quad(left, -8, 8)[0] / 0.25
    told = {each["reading"]: each for each in found["decided_by"]}
    assert told["hub_face_width"]["share"] == pytest.approx(share, abs=0.02)
    assert told["hub_face_width"]["words"] == "hub face to hub face"
    assert told["obstacles[near]"]["share"] > share, "the gap tells of the width too, to 2 mm"


def test_an_assumed_reading_is_known_to_what_a_gauge_reads_once_it_is_taken() -> None:
    """A lock of 6 degrees to 1, a camber of 1 to 0.2, bump of 30 mm to 2; what was read to half of it."""
    from fitment.answers.drawn_margins import Spread

    told = [("steering.lock_left", 6.0, "deg", 1 / 6), ("suspension.camber", 1.0, "deg", 0.2)]
    told += [("travel.bump", 30.0, "mm", 2 / 30), ("hub_face_width", 3.0, "mm", 0.5)]
    for name, tolerance, unit, left in told:
        assert taken_again(Spread(name, tolerance, unit, assumed=True)) == pytest.approx(left), name
        assert taken_again(Spread(name, tolerance, unit)) == 0.5


# ---------------------------------------------------------------- against vehicles drawn plainly

TYPICAL = {key.rpartition(".")[2]: row for key, row in typical_values().items() if not re.search("_bend of|links", key)}
PATHS = {key.rpartition(".")[2]: key for key in typical_values() if "links" not in key}
BENDS = {"camber_per_100mm": "camber_bend", "track_per_100mm": "out_bend"}  # open, be the rate read or assumed
AXIS = ("kingpin_inclination", "caster", "offset", "ahead")
VEHICLES = 300
PLACES = np.array(list(product(np.linspace(-1, 1, 5), np.linspace(-1, 1, 9))))
SCENES: dict[str, tuple[list[str], list[Part]]] = {  # what is assumed, and where parts stand
    "a damper at the lock": (
        ["lock_right", "lock_left", "camber_per_100mm", "bump"],
        [
            Part(np.array([[250.0, 462, -150], [262, 462, 200]]), 10),
            Part(np.array([[-200, 700, 432.0], [200, 760, 432]]), 5),
        ],
    ),
    "a lip and a bar at bump": (
        ["bump", "track_per_100mm", "camber", "camber_per_100mm"],
        [
            Part(np.array([[-250.0, 790, 420], [250, 810, 420]]), 3),
            Part(np.array([[-150.0, 640, 405], [150, 640, 405]]), 8),
        ],
    ),
    "an axis that nobody read": (
        [*AXIS, "lock_right"],
        [
            Part(np.array([[392.0, 500, -60], [392, 900, 40]]), 10),
            Part(np.array([[-398.0, 500, 0], [-398, 900, 0]]), 10),
        ],
    ),
}


def drawn_plainly(assumed: list[str], known: dict[str, float], parts: list[Part]) -> tuple[Any, Any, np.ndarray]:
    """What a better reading would tell of each assumed one (n,), by how much it is off (n,), and whether every required
    5 mm is kept (n,). Of the first part also what the gap at rest at the right lock reads, to 2 mm."""
    data = steered()
    profile = profiles.loads_profile(json.dumps(data), "bench.yaml")
    outline = np.array(setup_sections(profiles.setup(profile, "front"))["tire"].exterior.coords)[:-1]  # type: ignore[union-attr]
    random = np.random.default_rng(7)
    levels = NORMAL.ppf((np.arange(VEHICLES) + 0.5) / VEHICLES)  # every reading spread evenly over its own chances
    loose = [*assumed, *BENDS.values()]
    unread = {bend for rate, bend in BENDS.items() if rate in assumed}
    known |= {bend.replace("bend", "read"): float(bend not in unread) for bend in BENDS.values()}
    told, errors = {}, {}
    for name in loose:
        band = (
            typical_values()[f"suspension.{name} of an assumed rate"] if name in unread else TYPICAL[name]
        ).tolerance
        deviation, usual = band / 2, min(usual_of(name), band / 2) / 2
        told[name] = math.sqrt(deviation**2 - usual**2) * random.permutation(levels)
        errors[name] = told[name] + usual * random.permutation(levels)
    kept, read = [], []
    for k in range(VEHICLES):
        own = {**known, **{name: known[name] + float(errors[name][k]) for name in loose}}
        kept.append(gaps(own, HUB_FACE, parts, outline, PLACES).min() >= 5)
        read.append(gaps(own, HUB_FACE, parts[:1], outline, np.array([[0.0, -1.0]]))[0, 0])
    told["gap"] = np.array(read) + random.permutation(levels)
    return told, errors, np.array(kept, dtype=float)


def usual_of(name: str) -> float:
    """What a gauge or a tape usually reads, two deviations (the interface's own table of usual tolerances)."""
    if TYPICAL[name].unit == "mm":
        return 2.0
    return 1.0 if "lock" in name else 0.2


def doubt_ended(told: np.ndarray, kept: np.ndarray) -> float:
    """Brute force: take the reading on every vehicle, put alike ones together, see what doubt is left in each lot."""
    lots = np.array_split(np.argsort(told), 10)
    left = sum(len(lot) * kept[lot].var(ddof=1) for lot in lots) / len(kept)
    return float(1 - left / (kept.mean() * (1 - kept.mean())))


@pytest.mark.slow
@pytest.mark.parametrize("scene", SCENES)
def test_chance_and_next_reading_against_vehicles_drawn_plainly(scene: str) -> None:
    assumed, parts = SCENES[scene]
    known = {name: row.value for name, row in TYPICAL.items()}
    case = checked(assumed, known, parts)
    answer, margins = sure_of(case), margins_of(case)
    assert answer is not None
    assert answer == sure_of(case), "the same input has the same answer"
    told, errors, kept = drawn_plainly(assumed, known, parts)
    here = np.stack([errors[spread.name.rpartition(".")[2]] / spread.tolerance for spread in margins.spreads])
    same = np.all(margins.at(here) >= 0, axis=0)  # the same vehicles, so that chance plays no part
    print(f"{scene}: told {answer.chance:.3f}; of {VEHICLES} vehicles {kept.mean():.3f}, of the same {same.mean():.3f}")
    assert 0.05 < kept.mean() < 0.95, "a scene that decides nothing tests nothing"
    assert same.mean() == pytest.approx(kept.mean(), abs=NEAR)
    assert answer.chance == pytest.approx(kept.mean(), abs=NEAR)
    plain = {name: doubt_ended(told[name], kept) for name in errors if name not in AXIS}
    mine = {reading.name: reading.share for reading in answer.decided_by}
    print({name: (round(share, 2), round(float(mine.get(PATHS[name], 0.0)), 2)) for name, share in plain.items()})
    for name, share in plain.items():
        assert mine.get(PATHS[name], 0.0) == pytest.approx(share, abs=0.15), name
    if scene == "a damper at the lock":  # the gap tells of the lock, and of all else that counts there
        gap = doubt_ended(told["gap"], kept)
        print(f"gap {gap:.2f}, {mine['obstacles[part 0]']:.2f}")
        assert mine["obstacles[part 0]"] == pytest.approx(gap, abs=0.15)
        assert answer.decided_by[0].name == "obstacles[part 0]"
        assert gap > max(plain.values())
        assert reading_label(answer.decided_by[0]) == "the tire's gap to the part 0 at right lock"
    if scene == "a lip and a bar at bump":
        assert answer.decided_by[0].name == PATHS[max(plain, key=plain.__getitem__)]


def checked(
    assumed: list[str], known: dict[str, float], parts: list[Part], taken: dict[str, Any] | None = None
) -> cases.Case:
    """The same vehicle as the program checks it, with a tire that is exact; taken : a gap to the first part."""
    told = {name: "assumed" if name in assumed else {"value": known[name], "tolerance": 0} for name in TYPICAL}
    rates = ("camber", "toe_in", "camber_per_100mm", "track_per_100mm")
    axis: Any = "assumed" if "offset" in assumed else {name: known[name] for name in AXIS}
    data = steered(
        suspension={"kind": "tape", "steering_axis": axis, **{name: told[name] for name in rates}},
        steering={name: told[name] for name in ("lock_left", "lock_right")},
        travel={name: told[name] for name in ("droop", "bump")},
        obstacles=[
            {"name": f"part {k}", "shape": "rod", "radius": part.radius, "meets": "tire",
             "from": part.ends[0].tolist(), "to": part.ends[1].tolist()} | (taken if taken and k == 0 else {})
            for k, part in enumerate(parts)
        ],
    )  # fmt: skip
    profile = profiles.loads_profile(json.dumps(exact_tire(data)), "bench.yaml")
    ready = cases.ready(profile, "front")
    return cases.run(ready, profiles.setup(profile, "front"), others=cases.setup_variants(ready))


@pytest.mark.slow
@pytest.mark.parametrize(("off", "clears"), [(-4.0, True), (4.0, False)])
def test_the_named_reading_decides_once_it_is_taken(off: float, clears: bool) -> None:
    """The vehicle's lock is 4 degrees off what is typical: its gap at that lock, read plainly and written down as the
    answer says, decides what stood at even."""
    assumed, parts = SCENES["a damper at the lock"]
    known = {name: row.value for name, row in TYPICAL.items()}
    first = sure_of(checked(assumed, known, parts))
    assert first is not None
    assert 0.3 < first.chance < 0.7
    assert "measured_gap: {to: tire, gap: ..., at: {lock: right}}" in how_words(first.decided_by[0])
    profile = profiles.loads_profile(json.dumps(steered()), "bench.yaml")
    outline = np.array(setup_sections(profiles.setup(profile, "front"))["tire"].exterior.coords)[:-1]  # type: ignore[union-attr]
    true = known | {"lock_right": known["lock_right"] + off}
    assert (gaps(true, HUB_FACE, parts, outline, PLACES).min() >= 5) == clears
    read = round(float(gaps(true, HUB_FACE, parts[:1], outline, np.array([[0.0, -1.0]]))[0, 0]))
    gap = {"to": "tire", "gap": {"value": read, "tolerance": 2}, "at": {"lock": "right"}}
    after = sure_of(checked(assumed, known, parts, {"measured_gap": gap}))
    assert after is not None
    print(f"gap {read}: {first.chance:.2f}, then {after.chance:.2f}")
    assert after.chance > 0.8 if clears else after.chance < 0.2


# ---------------------------------------------------------------- how it is said


def test_the_first_lines_say_it_where_values_are_assumed(tmp_path: Path) -> None:
    data = steered(steering={"lock_left": "assumed", "lock_right": "assumed"}, obstacles=[post("post", 25)])
    path = write_profile(tmp_path, data)
    first = run("check", path, "--axle", "front").stdout.split("\n\n")[0]
    assert "How sure: " in first
    answer = run_json("check", path, "--axle", "front")
    assert answer["sure"] == run_json("next", path, "--axle", "front")["sure"]


def test_it_is_not_said_where_nothing_is_open(check: Check, tmp_path: Path) -> None:
    """25 mm with tolerances of nothing: certain, as far as a chance is told."""
    assert "How sure" not in run("check", write_profile(tmp_path, vehicle())).stdout
    assert sure(check, vehicle()) == {"chance_clears": 0.999, "decided_by": []}


def test_an_open_answer_names_the_reading(tmp_path: Path) -> None:
    path = write_profile(tmp_path, exact_tire(vehicle(obstacles=[post("damper", 5.5, tolerance=4)])))
    text = " ".join(run("check", path).stdout.split())
    count = math.floor(100 * NORMAL.cdf(0.25))
    assert f"How sure: open, {count} in 100 that every required clearance is kept; decided by" in text
    assert "decided by the tire's gap to the damper: measure it next" in text


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.55, "open, 55 in 100 that every required clearance is kept"),
        (0.559, "open, 55 in 100 that every required clearance is kept"),
        (0.899, "open, 89 in 100 that every required clearance is kept"),
        (0.9, "clears, 9 in 10"),
        (0.949, "clears, 9 in 10"),
        (0.95, "clears, 19 in 20"),
        (0.999, "clears, 99 in 100"),
        (0.1, "does not clear, 9 in 10"),
        (0.001, "does not clear, 99 in 100"),
    ],
)
def test_no_more_is_said_than_was_computed(chance: float, words: str) -> None:
    assert sure_words(Sure(chance, (), assumed=True, bolts_on=True)) == f"How sure: {words}"


def test_what_does_not_bolt_on_has_no_chance_and_an_overlap_none_either(check: Check, tmp_path: Path) -> None:
    options = ("--wheel", "17x8 ET0 5x100 CB67.1", "--tire", "225/45R17 94W XL")
    assert sure(check, vehicle(), *options) == {"chance_clears": 0.0, "decided_by": []}
    deep = vehicle(obstacles=[post("post", -30)])
    assert sure(check, deep) == {"chance_clears": 0.001, "decided_by": []}
    # 30 mm inside the tire that it stands on: the reading is wrong, and comes first
    assert "Measure that first" in run("next", write_profile(tmp_path, deep)).stdout
    free = write_profile(tmp_path, vehicle(obstacles=[post("post", 200)]))
    assert "No reading decides" in run("next", free).stdout
    assert check(vehicle(obstacles=[]))["sure"] is None


def test_next_lists_the_readings_in_order_with_how_to_take_them(tmp_path: Path) -> None:
    parts = [post("near", 5.5, tolerance=4), post("lip", 7, tolerance=4)]
    path = write_profile(tmp_path, vehicle(obstacles=parts))
    data = run_json("next", path, "--axle", "front")
    shares = [each["share"] for each in data["sure"]["decided_by"]]
    assert shares == sorted(shares, reverse=True)
    assert sum(shares) <= 1
    assert {each["reading"] for each in data["sure"]["decided_by"]} == {"obstacles[near]", "obstacles[lip]", "tire"}
    text = run("next", path).stdout
    for each in data["sure"]["decided_by"]:
        assert each["words"] in text
        assert f"Sheet: {each['sheet']}." in text
    found = fitment.next_readings(path, "front")
    assert found.data == data
    assert found.text + "\n" == text


def test_a_motion_that_nobody_read_is_asked_for_in_bump_and_droop(tmp_path: Path) -> None:
    """The same question in either units; where it has words for each, the others are left out."""
    front = {"suspension": {"kind": "tape", "camber_per_100mm": {"value": -2, "tolerance": 1.5, "assumed": True}}}
    # 60 mm of bump lean the top in by 1.2 deg, a post at the top of the tire then stands some 6 mm further off or not
    data = exact_tire(vehicle(**front, travel={"droop": -60, "bump": 60}, obstacles=[
        post("post", 6.5) | {"points": [[-60, HUB_FACE + WIDTH / 2 + 6.5, 250], [60, HUB_FACE + WIDTH / 2 + 6.5, 250]]}
    ]))  # fmt: skip
    profile = write_profile(tmp_path, data)
    metric, inches = (run("next", profile, "--units", units).stdout for units in ("mm", "in"))
    assert "in bump, and in droop" in metric
    assert "in bump, and in droop" in inches
    assert "100 mm" not in metric
    told = run("next", profile, "--format", "json").stdout
    words = json.loads(told)[0]["sure"]["decided_by"]
    assert words
    assert not any(
        mark in text for text in (metric, inches, *(w["words"] + w["how_to_take_it"] for w in words)) for mark in "{|"
    )


def test_a_tire_that_is_not_on_yet_is_asked_for_with_its_build(tmp_path: Path) -> None:
    path = write_profile(tmp_path, vehicle(obstacles=[post("near", 5.5)]))
    paths = {each.number: each.question.path for each in numbered(ALL)}
    for build, head in (("measured", "builds/{now}"), ("lowered", "builds/{build}")):
        (first, *_) = run_json("next", path, "--axle", "front", "--build", build)["sure"]["decided_by"]
        assert (first["reading"], paths[first["sheet"]]) == ("tire", f"{head}/{{axle}}/tire/section_width")


def test_next_says_what_is_wrong_with_what_it_is_given(tmp_path: Path) -> None:
    path = write_profile(tmp_path, vehicle())
    for options, words in (
        (["--axle", "rear"], "rear"), (["--build", "none"], "none"), (["--out", "x.png"], "writes .json"),
        (["--units", "ft"], "'ft'"),
    ):  # fmt: skip
        failed = run("next", path, *options)
        assert failed.exit_code == 2
        assert words in failed.stderr


@pytest.mark.slow
def test_the_page_says_it_too(tmp_path: Path) -> None:
    path = write_profile(tmp_path, exact_tire(vehicle(obstacles=[post("damper", 5.5, tolerance=4)])))
    assert run("report", path, "--out", str(tmp_path / "page.html")).exit_code <= 1
    count = math.floor(100 * NORMAL.cdf(0.25))
    text = " ".join((tmp_path / "page.html").read_text().split())
    assert f"<p>How sure: open, {count} in 100 that every required clearance is kept.</p>" in text
