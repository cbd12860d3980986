"""Values that nobody measured: typical, with a band that counts in the worst case; and parts without a tolerance.

Bands against the published hardpoint sets in tests/reference; clearances of the bench vehicle by hand (conftest).
"""

from __future__ import annotations

import itertools
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import HUB_FACE, POST, WIDTH, least, run, run_json, steered, vehicle, write_profile
from reference.assumed_bands import Part, smallest
from test_hardpoint_sets import DERIVED, SETS, poses

from fitment import profile as profiles
from fitment.checks import case as cases
from fitment.clearance.section_distance import clearances
from fitment.clearance.trace import trace_obstacle
from fitment.clearance.worst_case import setup_sections
from fitment.errors import ProfileError
from fitment.measuring.questions.forms import numbered
from fitment.measuring.questions.parts import OBSTACLES
from fitment.motion.suspension import poses_at_lock_fraction
from fitment.parts.obstacles import USUAL_TOLERANCE
from fitment.parts.tables import typical_values

Check = Callable[..., dict[str, Any]]
AXIS, LINKS = "suspension.steering_axis", "suspension.links"
RATE = re.compile(r"suspension\.\w+_per_100mm")
RATES = ("camber", "toe_in", "camber_per_100mm", "track_per_100mm")
NO_AXIS = {"suspension": {"kind": "tape"}}


def loaded(data: dict[str, Any]) -> profiles.Profile:
    return profiles.loads_profile(json.dumps(data, indent=1), "bench.yaml")


# the table ------------------------------------------------------------------------------------------------------


def of_the_sets(folder: Path) -> dict[str, list[float]]:
    """What the table's rows say of each published set: its steering axis as published, its rates over +-50 mm."""
    found: dict[str, list[float]] = {key: [] for key in typical_values() if AXIS in key or RATE.fullmatch(key)}
    for name, layout in SETS.items():
        row, low = DERIVED[name], layout.at("lower_ball")
        lean = layout.at("strut_top" if layout.kind == "strut" else "upper_ball") - low
        droop, _, bump = poses(folder, layout, "--travel=-50,0,50", "--rack=0")
        found[f"{AXIS}.kingpin_inclination"].append(float(row["kingpin_inclination_deg"]))
        found[f"{AXIS}.caster"].append(float(row["caster_deg"]))
        found[f"{AXIS}.offset"].append(float(row["kingpin_lateral_offset_at_wheel_center_mm"]))
        found[f"{AXIS}.ahead"].append(float(low[0] - lean[0] * low[2] / lean[2]))
        found["suspension.camber_per_100mm"].append(bump["camber_deg"] - droop["camber_deg"])
        found["suspension.track_per_100mm"].append(bump["hub_face_mm"][1] - droop["hub_face_mm"][1])
    return found


def test_bands_hold_as_many_published_sets_as_the_table_says(tmp_path: Path) -> None:
    for key, values in of_the_sets(tmp_path).items():
        row = typical_values()[key]
        inside = sum(abs(value - row.value) <= row.tolerance for value in values)
        told = ", ".join(f"{value:.1f}" for value in sorted(values))
        print(f"{key}: {row.value:g} +- {row.tolerance:g} {row.unit} holds {inside} of {len(values)} sets: {told}")
        assert f"holds {inside} of {len(values)} published hardpoint sets" in row.source
        assert inside >= 4


def test_every_row_says_where_its_band_comes_from() -> None:
    for key, row in typical_values().items():
        assert "published hardpoint sets" in row.source or "no published source" in row.source, key
        assert row.tolerance > 0


# in place of a value --------------------------------------------------------------------------------------------


def test_assumed_takes_the_place_of_a_value_and_is_a_reading_with_its_band() -> None:
    data = steered(
        suspension={"kind": "tape", "camber": "assumed", "toe_in": "assumed", "camber_per_100mm": "assumed",
                    "track_per_100mm": "assumed", "steering_axis": "assumed"},
        steering={"lock_left": "assumed", "lock_right": "assumed"},
        travel={"droop": "assumed", "bump": "assumed"},
    )  # fmt: skip
    profile = loaded(data)
    found = {each.path: each for each in profiles.assumed_values(profile, "front")}
    assert {path: (each.value, each.tolerance, each.unit, each.source) for path, each in found.items()} == {
        key: (row.value, row.tolerance, row.unit, row.source)
        for key, row in typical_values().items()
        if "_bend" not in key and "links" not in key  # of a path that was read, of a solid axle
    } | {
        f"suspension.{key}_bend": (row.value, row.tolerance, row.unit, row.source)
        for key in ("camber", "out")
        for row in [typical_values()[f"suspension.{key}_bend of an assumed rate"]]
    }
    assert {each.path for each in profiles.readings(profile, "front") if each.assumed} == set(found)
    axle = profiles.axle(profile, "front")
    assert (axle.droop, axle.bump, axle.suspension.camber) == (-80, 80, -0.5)


def test_any_value_may_be_assumed_with_a_band_of_its_own(check: Check) -> None:
    data = vehicle(hub_face_width={"value": 1500, "tolerance": 8, "assumed": True})
    answer = check(data)
    (only,) = answer["assumed"]
    assert (only["reading"], only["value"], only["tolerance"]) == ("hub_face_width", 1500, 8)
    assert only["source"] == "as the profile says"
    # the post is read from the centre plane: half of 8 mm, and the least worst case is the tire's to it
    assert only["worst_case_effect_mm"] == pytest.approx(4.0, abs=0.01)
    plain = check(vehicle())
    assert least(plain, "post", key="worst_case_mm") - least(answer, "post", key="worst_case_mm") == pytest.approx(4.0)
    assert plain["assumed"] == []


def test_a_build_that_measures_ends_what_was_assumed() -> None:
    data = steered(steering={"lock_left": {"value": 36, "tolerance": 4, "assumed": True}, "lock_right": "assumed"})
    data["builds"]["lowered"]["front"]["steering"] = {"lock_left": {"value": 33, "tolerance": 1}, "lock_right": 30}
    profile = loaded(data)
    assert [each.path for each in profiles.assumed_values(profile, "front")] == [
        "steering.lock_left", "steering.lock_right",
    ]  # fmt: skip
    assert profiles.assumed_values(profile, "front", "lowered") == ()


@pytest.mark.parametrize(
    ("front", "key", "words"),
    [
        ({"hub_height": "assumed"}, "hub_height", "hub_height has no typical value"),
        ({"hub_height": {"value": 310, "assumed": True}}, "hub_height", "needs a band"),
        ({"hub_height": {"value": 310, "tolerance": 5, "assumed": 1}}, "hub_height.assumed", "neither true nor false"),
        ({"suspension": {"kind": "tape", "steering_axis": "guess"}}, "suspension.steering_axis", "a map is expected"),
        ({"suspension": {"kind": "tape", "steering_axis": {"caster": 4, "offset": 90}}}, "suspension.steering_axis",
         "kingpin_inclination is missing"),
        ({"suspension": {"kind": "tape", "steering_axis": {"caster": 4, "lower": [0, 700, -150]}}},
         "suspension.steering_axis", "by points and by angles"),
        ({"suspension": {"kind": "tape", "steering_axis": {}}}, "suspension.steering_axis", "or `assumed`"),
        ({"suspension": {"kind": "solid_axle", "steering_axis": "assumed",
                         "points": {"lower_ball": [0, 700, -150], "upper_ball": [0, 690, 150]}}},
         "suspension.steering_axis", "tell the axis already"),
        ({"suspension": {"kind": "double_wishbone", "steering_axis": "assumed"}}, "suspension.steering_axis",
         "The points tell it: from lower_ball to upper_ball"),
        ({"suspension": {"kind": "strut", "camber_per_100mm": "assumed"}}, "suspension.camber_per_100mm",
         "The points tell how camber and track change"),
    ],
)  # fmt: skip
def test_what_cannot_be_assumed_is_refused_at_its_key(front: dict[str, Any], key: str, words: str) -> None:
    with pytest.raises(ProfileError) as caught:
        loaded(vehicle(**front))
    line = next(text for text in str(caught.value).splitlines() if words in text)
    assert line.startswith("bench.yaml:")
    assert f"axles.front.{key}: " in line


def test_the_editors_schema_takes_assumed() -> None:
    import jsonschema

    schema = json.loads(run("schema").stdout)
    data = steered(steering={"lock_left": "assumed", "lock_right": {"value": 30, "tolerance": 2, "assumed": True}})
    data["axles"]["front"]["suspension"]["steering_axis"] = "assumed"
    data["axles"]["front"]["travel"] = {"droop": "assumed", "bump": 50}
    jsonschema.validate(data, schema)
    data["axles"]["front"]["travel"]["bump"] = "guessed"
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(data, schema)


# the steering axis ----------------------------------------------------------------------------------------------


def test_an_axis_by_its_angles_is_the_line_they_describe(tmp_path: Path) -> None:
    """tan of the angles is how far the top of 300 mm leans; at the hub's height the face is `offset` outboard."""
    axis = {"kingpin_inclination": 12, "caster": 5, "offset": 90, "ahead": -7}
    data = steered(suspension={"kind": "tape", "steering_axis": axis})
    suspension = profiles.axle(loaded(data), "front").suspension
    lower, upper = np.array(suspension.axis_lower), np.array(suspension.axis_upper)  # type: ignore[union-attr]
    assert (lower + upper) / 2 == pytest.approx([-7, HUB_FACE - 90, 0])
    lean = np.tan(np.radians([5, 12])) * 300
    assert lower - upper == pytest.approx([lean[0], lean[1], -300])
    row = run_json("poses", write_profile(tmp_path, data), "--axle", "front", "--travel=0", "--steer=0")["poses"][0]
    assert (row["caster_deg"], row["kingpin_inclination_deg"]) == pytest.approx((5, 12))


def test_an_axle_without_a_steering_axis_is_checked_and_the_key_is_named(check: Check, tmp_path: Path) -> None:
    data = steered(**NO_AXIS)
    answer = check(data)
    assert {each["reading"].rpartition(".")[0] for each in answer["assumed"]} == {AXIS}
    assert {entry["steer_deg"] for entry in answer["clearances"]} >= {-30.0, 0.0, 30.0}
    # straight ahead the axis does not matter: the gap to the post as worked in the head, and nothing but the tire's
    # permitted width (half of 4 %, UN R30) in its worst case
    ahead = answer["straight_ahead"]
    assert (ahead["obstacle"], ahead["steer_deg"]) == ("post", 0)
    assert ahead["clearance_mm"] == pytest.approx(POST - HUB_FACE - WIDTH / 2, abs=0.01)
    assert ahead["worst_case_mm"] == pytest.approx(POST - HUB_FACE - WIDTH / 2 * 1.04, abs=0.01)
    path = write_profile(tmp_path, data)
    line = next(i for i, text in enumerate(Path(path).read_text().splitlines(), 1) if '"suspension"' in text)
    text = " ".join(run("check", path, "--full").stdout.split())
    assert f"bench.yaml:{line}: axles.front.suspension.steering_axis: not given, so a typical one is taken" in text
    assert "assumed as typical: steering axis (kingpin inclination 11 +- 5 deg, caster 4.5 +- 5 deg" in text
    assert "straight ahead, whatever the axis: tire to post, 25.0 mm" in text
    said = check(steered(suspension={"kind": "tape", "steering_axis": "assumed"}))
    assert [each["clearance_mm"] for each in said["clearances"]] == [e["clearance_mm"] for e in answer["clearances"]]
    assert not [words for words in said["cautions"] if "steering_axis: not given" in words]


def test_tables_that_show_its_angles_say_so(tmp_path: Path) -> None:
    path = write_profile(tmp_path, steered(**NO_AXIS))
    for command in ("poses", "align", "show", "window"):
        assert "assumed, not measured: steering axis" in run(command, path, "--axle", "front").stdout, command


def test_a_steered_beam_without_ball_joints_is_checked_too(check: Check) -> None:
    answer = check(steered(suspension={"kind": "solid_axle"}))
    assert {each["reading"].rpartition(".")[0] for each in answer["assumed"]} == {AXIS, LINKS}


def test_its_band_covers_every_axis_in_it_at_full_lock() -> None:
    """Brute force: the gap at every corner of the four bands, both locks, against what the check takes off."""
    parts = [
        {"name": "ahead", "shape": "rod", "radius": 20, "from": [420, 500, 0], "to": [420, 900, 0]},
        {"name": "behind", "shape": "rod", "radius": 20, "from": [-430, 400, 50], "to": [-430, 900, 50]},
        {"name": "inboard", "shape": "edge", "points": [[200, 480, -200], [200, 480, 200]]},
    ]
    profile = loaded(
        steered(**NO_AXIS, obstacles=parts, travel={"droop": -1, "bump": 0}, ride_heights={"level": 0, "low": -1})
    )
    ready, setup = cases.ready(profile, "front"), profiles.setup(profile, "front")
    fit = cases.run(ready, setup).fit
    sections = setup_sections(setup, largest=True)
    bands = profiles.assumed_values(profile, "front")
    for part in parts:
        for lock in (-1.0, 1.0):
            steer = 30 * lock
            entry = min(
                (e for e in fit.clearances if (e.obstacle, e.part, e.travel) == (part["name"], "tire", 0)),
                key=lambda e: abs(e.steer - steer),
            )
            gaps = []
            for signs in itertools.product((-1, 1), repeat=len(bands)):
                moved = {band.path: sign * band.tolerance for band, sign in zip(bands, signs, strict=True)}
                axle = profiles.axle(profile, "front", moved=moved)
                pose = poses_at_lock_fraction(axle, 0.0, lock)
                obstacle = next(o for o in axle.obstacles if o.name == part["name"])
                gaps.append(float(clearances(sections["tire"], trace_obstacle(obstacle, pose))[0]))
            print(part["name"], lock, f"told {entry.worst_case:.1f}, least of all corners {min(gaps):.1f} mm")
            assert entry.worst_case <= min(gaps) + 0.1


def test_a_list_says_what_a_row_that_clears_was_assumed(tmp_path: Path) -> None:
    data = vehicle(hub_face_width={"value": 1500, "tolerance": 2, "assumed": True})
    listed = tmp_path / "list.csv"
    listed.write_text("wheel,tire\n17x8 ET0 5x114.3 CB67.1,225/45R17 94W XL\n")
    (row,) = run_json("screen", write_profile(tmp_path, data), str(listed), "--axle", "front")
    assert (row["verdict"], "assumed, not measured: hub face width" in row["reason"]) == ("clears", True)


def all_assumed(**front: Any) -> dict[str, Any]:
    """The bench vehicle on which nothing of how the wheel moves was read."""
    return steered(
        suspension=dict.fromkeys((*RATES, "steering_axis"), "assumed") | {"kind": "tape"},
        steering={"lock_left": "assumed", "lock_right": "assumed"},
        travel={"droop": "assumed", "bump": "assumed"},
        **front,
    )


FAR_POST = {"name": "post", "shape": "edge", "points": [[470, 600, 0], [470, 900, 0]], "tolerance": 0}
CODES = [f"17x8 ET{offset} 5x114.3 CB67.1" for offset in range(-20, 30, 7)]


# the worst case against a trial of very many vehicles ------------------------------------------------------------

TYPICAL = {key.rpartition(".")[2]: row for key, row in typical_values().items() if not re.search("_bend|links", key)}
TOGETHER = ("kingpin_inclination", "caster", "offset", "ahead")  # assumed as one: the steering axis
OPEN = [name for name in TYPICAL if name not in TOGETHER]
BENDS = {"camber_bend": "camber_per_100mm", "out_bend": "track_per_100mm"}


def band_of_bend(name: str, assumed: list[str]) -> float:
    """How far a path may bend, whose rate was read at 100 mm or is assumed."""
    end = " of an assumed rate" if BENDS[name] in assumed else ""
    return typical_values()[f"suspension.{name}{end}"].tolerance


def invented_vehicle(random: np.random.Generator) -> tuple[dict[str, Any], dict[str, float], list[str], list[Part]]:
    """A profile, its readings, the names of those that are assumed, and its parts."""
    assumed = [name for name in OPEN if random.random() < 0.6] + ([*TOGETHER] if random.random() < 0.7 else [])
    assumed = assumed or ["camber"]
    known = {
        name: row.value if name in assumed else round(row.value + 0.5 * row.tolerance * random.uniform(-1, 1), 2)
        for name, row in TYPICAL.items()
    }
    told = {name: "assumed" if name in assumed else known[name] for name in TYPICAL}
    out, side = random.uniform(60, 160, 6), random.uniform(-80, 80, 6)
    places = [  # a lip above, bars ahead and behind, and three parts inboard
        ([-300, 780 + side[0] / 4, 277 + out[0]], [300, 780 + side[1] / 4, 317 + out[0]]),
        ([377 + out[1], 480, side[2]], [377 + out[1], 880, side[3]]),
        ([-377 - out[2], 430, side[4]], [-397 - out[2], 880, side[5]]),
        ([170 + side[0], 575 - out[3], -150], [170 + side[1], 575 - out[3], 200]),
        ([-10, 620 - out[4], 400], [0, 635 - out[4], -90]),
        ([-190 + side[2], 580 - out[5], -100], [-210 + side[3], 560 - out[5], 150]),
    ]
    parts = [Part(np.round(np.array(ends, dtype=float), 2), 10.0) for ends in places]
    axis = "assumed" if "offset" in assumed else {name: known[name] for name in TOGETHER}
    data = steered(
        suspension={"kind": "tape", "steering_axis": axis, **{name: told[name] for name in RATES}},
        steering={name: told[name] for name in ("lock_left", "lock_right")},
        travel={name: told[name] for name in ("droop", "bump")},
        ride_heights={"level": 0, "low": 10},
        obstacles=[
            {"name": f"part {k}", "shape": "rod", "radius": part.radius, "tolerance": 0,
             "from": part.ends[0].tolist(), "to": part.ends[1].tolist()}
            for k, part in enumerate(parts)
        ],
    )  # fmt: skip
    return data, known, assumed, parts


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(20))
def test_no_vehicle_within_the_bands_has_less_than_the_worst_case(seed: int) -> None:
    random = np.random.default_rng(seed)
    data, known, assumed, parts = invented_vehicle(random)
    profile = loaded(data)
    ready, setup = cases.ready(profile, "front"), profiles.setup(profile, "front")
    entries = cases.run(ready, setup).fit.clearances
    outline = np.array(setup_sections(setup, largest=True)["tire"].exterior.coords)[:-1]  # type: ignore[union-attr]
    bands = {name: TYPICAL[name].tolerance for name in assumed} | {name: band_of_bend(name, assumed) for name in BENDS}
    known |= dict.fromkeys(BENDS, 0.0)
    known |= {name.replace("bend", "read"): float(rate not in assumed) for name, rate in BENDS.items()}
    for k, least_gap in enumerate(smallest(known, bands, HUB_FACE, parts, outline, random)):
        told = min(e.worst_case for e in entries if (e.obstacle, e.part) == (f"part {k}", "tire"))
        print(f"part {k}: told {told:.1f}, least of all vehicles {least_gap:.1f} mm; safe by {least_gap - told:.1f}")
        assert told <= least_gap + 0.1


def test_a_long_list_gives_the_numbers_of_the_check(tmp_path: Path) -> None:
    """A keep-out swept as measured does not tell where a band puts a part, so each row that is free is checked."""
    data = all_assumed(obstacles=[FAR_POST])
    listed = tmp_path / "list.csv"
    listed.write_text("wheel,tire\n" + "".join(f"{code},225/45R17 94W XL\n" for code in CODES))
    path = write_profile(tmp_path, data)
    rows = {row["wheel"]: row for row in run_json("screen", path, str(listed), "--axle", "front")}
    assert len(rows) == len(CODES) > 6
    for code in CODES[::4]:
        answer = run_json("check", path, "--axle", "front", "--wheel", code, "--tire", "225/45R17 94W XL")
        worst = min(entry["worst_case_mm"] for entry in answer["clearances"])
        assert rows[code]["worst_case_mm"] == pytest.approx(worst, abs=0.06), code
        assert rows[code]["verdict"] == answer["verdict"], code


def test_both_ends_of_a_window_clear_in_the_worst_case(tmp_path: Path) -> None:
    parts = [FAR_POST | {"points": [[520, 600, 0], [520, 900, 0]]},
             {"name": "wall", "shape": "edge", "points": [[0, 530, 200], [60, 530, 200]], "tolerance": 0}]  # fmt: skip
    data = all_assumed(obstacles=parts)
    del data["axles"]["front"]["steering"], data["axles"]["front"]["suspension"]["steering_axis"]
    path = write_profile(tmp_path, data)
    found = run_json("window", path, "--axle", "front")
    found = found[0] if isinstance(found, list) else found
    low, high = found["offset_min_mm"], found["offset_max_mm"]
    assert low < high
    for offset in (low, (low + high) / 2, high):
        spec = f"17x8 ET{offset:.1f} 5x114.3 CB67.1"
        answer = run_json("check", path, "--axle", "front", "--wheel", spec)
        assert min(entry["worst_case_mm"] for entry in answer["clearances"]) >= 0, offset
    spec = f"17x8 ET{high + 0.2:.1f} 5x114.3 CB67.1"
    answer = run_json("check", path, "--axle", "front", "--wheel", spec)
    assert min(min(e["worst_case_mm"], e["margin_mm"]) for e in answer["clearances"]) < 0


@pytest.mark.slow
def test_offsets_that_are_not_checked_are_told_right(tmp_path: Path) -> None:
    """All offsets 2 mm apart against those that a search skips; a bar over the tread parts what clears in two."""
    from fitment.checks.fit import CLEARS, clearance_verdicts
    from fitment.clearance.pose_grid import sweep
    from fitment.screening.offset_window import _checked_spans, _with_offset

    bar = {"name": "bar", "shape": "edge", "points": [[-60, 750, 340], [60, 750, 340]], "tolerance": 0, "meets": "tire"}
    walls = [bar | {"name": f"wall {y}", "points": [[0, y, 200], [60, y, 200]]} for y in (360, 1140)]
    data = all_assumed(obstacles=[bar, *walls])
    del data["axles"]["front"]["steering"], data["axles"]["front"]["suspension"]["steering_axis"]
    path = write_profile(tmp_path, data)
    ready = cases.ready(profiles.load_profile(path), "front")
    setup = profiles.setup(ready.profile, "front")
    swept = sweep(ready.axle, setup.ride)
    offsets = np.arange(-260.0, 261.0, 2.0)
    spans = _checked_spans(swept, ready, setup, np.array([[offsets[0], offsets[-1]]]))
    told = [bool(np.any((spans[:, 0] <= offset) & (offset <= spans[:, 1]))) for offset in offsets]
    setups = [_with_offset(setup, float(offset)) for offset in offsets]
    clear = [verdict == CLEARS for verdict in clearance_verdicts(swept, setups, ready.variants)]
    assert 5 < sum(clear) < len(clear) - 5
    assert told == clear


# parts without a tolerance --------------------------------------------------------------------------------------


def without_tolerances(data: dict[str, Any]) -> dict[str, Any]:
    for part in data["axles"]["front"]["obstacles"]:
        del part["tolerance"]
    return data


def test_a_part_without_a_tolerance_has_the_usual_one_and_zero_is_exact(check: Check, tmp_path: Path) -> None:
    exact, usual = check(vehicle()), check(without_tolerances(vehicle()))
    for part in ("post", "rail"):
        worst = [least(answer, part, key="worst_case_mm") for answer in (exact, usual)]
        assert worst[0] - worst[1] == pytest.approx(USUAL_TOLERANCE), part
    assert exact["usual_tolerance"] == []
    assert usual["usual_tolerance"] == [
        {"obstacle": name, "tolerance_mm": USUAL_TOLERANCE} for name in ("post", "rail")
    ]
    profile = write_profile(tmp_path, without_tolerances(vehicle()))
    assert "no tolerance given: 3 mm taken for post, rail" in run("check", profile, "--full").stdout
    assert "no tolerance given: 0.12 in taken for post, rail" in run("check", profile, "--units", "in", "--full").stdout
    assert "no tolerance given" not in run("check", write_profile(tmp_path, vehicle()), "--full").stdout


def test_it_is_the_tolerance_that_the_sheets_offer() -> None:
    (question,) = [each.question for each in numbered(OBSTACLES) if each.question.path.endswith("/tolerance")]
    assert question.gives == USUAL_TOLERANCE


def test_a_reading_of_zero_tolerance_is_not_told_as_one_without(check: Check) -> None:
    def exact_ones(width: Any) -> list[str]:
        answer = check(vehicle(hub_face_width=width), "--how-sure")
        return [each["reading"] for each in answer["how_sure"]["exact_readings"]]

    assert "hub_face_width" in exact_ones(1500)
    assert "hub_face_width" not in exact_ones({"value": 1500, "tolerance": 0})
