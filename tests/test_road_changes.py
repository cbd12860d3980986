"""What changes on the road, worked by hand on the bench vehicle: tire 634 across, hub face 750, axle load 900 kg.

Rolling circumference of a radial: 3.05 x overall diameter, ETRTO design practice (from memory). Standard acceleration
9.80665 m/s2: 3rd General Conference on Weights and Measures, 1901.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from conftest import DIAMETER, HUB_FACE, TIRE, bench_setup, run, run_json, vehicle, write_profile

Check = Callable[..., dict[str, Any]]
TALL = TIRE | {"overall_diameter": 654}


def changed(setup: dict[str, Any] | None = None, over: dict[str, Any] | None = None, **front: Any) -> dict[str, Any]:
    """The bench vehicle with a build `new`: the measured setup and what is given in its place."""
    data = vehicle(**front)
    data["builds"]["new"] = {"front": bench_setup(data) | (setup or {}) | (over or {})}
    return data


def road(check: Check, data: dict[str, Any]) -> dict[str, Any]:
    return check(data, "--build", "new")["road"]  # type: ignore[no-any-return]


def lines(tmp_path: Path, data: dict[str, Any], *options: str) -> str:
    text = run("check", write_profile(tmp_path, data), "--build", "new", *options, "--full").stdout
    return " ".join(text.split("\nOn the road\n")[1].split("\n\n")[0].split())


# ---------------------------------------------------------------- rolling, speedometer, gearing


def test_rolling(check: Check) -> None:
    found = road(check, changed({"tire": TALL}))
    assert found["rolling_circumference_mm"] == pytest.approx({"old": 3.05 * DIAMETER, "new": 3.05 * 654})
    assert found["revs_per_km"] == pytest.approx({"old": 1e6 / (3.05 * DIAMETER), "new": 1e6 / (3.05 * 654)}, abs=1e-3)


@pytest.mark.parametrize("diameter", [654, 614])
def test_speedometer(check: Check, tmp_path: Path, diameter: float) -> None:
    """At a true 100 km/h a wheel turns so often as to be shown, on the old tire's circumference, as 100 x old / new."""
    data = changed({"tire": TIRE | {"overall_diameter": diameter}})
    shown = 100 * DIAMETER / diameter
    assert road(check, data)["speedometer_error_pct"] == pytest.approx(shown - 100, abs=1e-3)
    way = "more" if shown > 100 else "less"
    assert f"shows {abs(shown - 100):.1f} % {way} than the true speed" in lines(tmp_path, data)


def test_gearing_of_a_driven_axle_only(check: Check) -> None:
    assert road(check, changed({"tire": TALL}))["gearing_change_pct"] is None
    found = road(check, changed({"tire": TALL}, driven=True))
    assert found["gearing_change_pct"] == pytest.approx(100 * (DIAMETER / 654 - 1), abs=1e-3)
    assert found["final_drive_acts_as"] is None


def test_final_drive(check: Check, tmp_path: Path) -> None:
    """The drive shaft turns final drive x turns of the wheel: 3.73 under the taller tire acts as 3.73 x 634 / 654."""
    data = changed({"tire": TALL}, driven=True, final_drive=3.73)
    assert road(check, data)["final_drive_acts_as"] == pytest.approx(3.73 * DIAMETER / 654, abs=1e-3)
    assert "turns 3.1 % less per km, as with a taller final drive (3.73 acts as 3.62)" in lines(tmp_path, data)
    geared = road(check, changed({"tire": TALL}, {"final_drive": 4.10}, driven=True, final_drive=3.73))
    assert geared["gearing_change_pct"] == pytest.approx(100 * (4.10 / 3.73 * DIAMETER / 654 - 1), abs=1e-3)
    assert geared["speedometer_error_pct"] == pytest.approx(100 * (DIAMETER / 654 - 1), abs=1e-3), "of the tire alone"


def test_bias_ply_is_not_computed(check: Check, tmp_path: Path) -> None:
    data = changed({"tire": {"code": "225/45D17", "overall_diameter": 650}}, driven=True)
    found = road(check, data)
    for key in ("rolling_circumference_mm", "revs_per_km", "speedometer_error_pct", "gearing_change_pct"):
        assert found[key] is None
    assert "rolling not computed, because the relation covers radial tires only" in lines(tmp_path, data)


# ---------------------------------------------------------------- heights, track, bearing


def test_body_over_the_ground(check: Check) -> None:
    # the taller tire lifts the hub by 10, the wheel stands 30 further up in the body
    assert road(check, changed({"tire": TALL, "ride": "low"}))["body_change_mm"] == pytest.approx(10 - 30)


@pytest.mark.parametrize(("offset", "spacer"), [(-10, 0), (15, 0), (0, 12), (10, 25)])
def test_moment_of_the_wheels_load(check: Check, offset: float, spacer: float) -> None:
    found = road(check, changed({"wheel": f"17x8 ET{offset} 5x114.3 CB67.1", "spacer": spacer}))
    lever = spacer - offset
    assert found["bearing_lever_change_mm"] == pytest.approx(lever)
    assert found["bearing_moment_change_nm"] == pytest.approx(900 / 2 * 9.80665 * lever / 1000, abs=1e-3)
    assert found["another_hub"] is False


def test_camber_carries_the_contact_out(check: Check) -> None:
    # 2 deg: the contact, 310 down the wheel, stands 310 x sin further out
    over = {"suspension": {"kind": "tape", "camber": -2.0}}
    found = road(check, changed(None, over))
    assert found["bearing_lever_change_mm"] == pytest.approx(310 * math.sin(math.radians(2)), abs=1e-3)


def test_bearing_words(tmp_path: Path) -> None:
    far = {"wheel": "17x8 ET-10 5x114.3 CB67.1"}
    words = lines(tmp_path, changed(far))
    assert "the wheel's load acts 10.0 mm further out from the hub face. With half the axle load at rest" in words
    assert "that is 44 N m more moment" in words
    assert "(where the bearing stands is unknown)" in words
    assert "another hub, its bearing may stand elsewhere" in lines(tmp_path, changed(far, {"hub": {"stud_length": 50}}))
    light = changed(far, axle_load=None)
    assert "its moment is not computed, because the axle load is not in the profile" in lines(tmp_path, light)
    assert "0.39 in further out" in lines(tmp_path, changed(far), "--units", "in")


def test_track_at_both_axles(tmp_path: Path) -> None:
    data = changed({"wheel": "17x8 ET-10 5x114.3 CB67.1"})
    data["axles"]["rear"] = data["axles"]["front"]
    data["builds"]["measured"]["rear"] = bench_setup(data)
    data["builds"]["new"]["rear"] = bench_setup(data) | {"spacer": 5}
    found = run_json("check", write_profile(tmp_path, data), "--axle", "front", "--build", "new")["road"]["track_mm"]
    assert found == {
        "front": pytest.approx({"old": 2 * HUB_FACE, "new": 2 * HUB_FACE + 20}),
        "rear": pytest.approx({"old": 2 * HUB_FACE, "new": 2 * HUB_FACE + 10}),
    }


def test_track_of_an_axle_that_is_not_described_is_left_out(check: Check) -> None:
    assert list(road(check, changed())["track_mm"]) == ["front"]


def test_against_the_old_build_in_compare(tmp_path: Path) -> None:
    data = changed({"tire": TALL, "wheel": "17x8 ET-10 5x114.3 CB67.1"})
    data["builds"]["wide"] = {"front": bench_setup(data) | {"wheel": "17x8 ET-25 5x114.3 CB67.1"}}
    path = write_profile(tmp_path, data)
    found = run_json("compare", path, "new", "wide", "--axle", "front")["road"]
    assert found["bearing_lever_change_mm"] == pytest.approx(15)
    assert found["speedometer_error_pct"] == pytest.approx(100 * (654 / DIAMETER - 1), abs=1e-3)
    text = " ".join(run("compare", path, "new", "wide", "--full").stdout.split())
    assert "if it was right on new and counts this axle's turns" in text


# ---------------------------------------------------------------- mass

WHEEL = "17x8 ET0 5x114.3 CB67.1"


def test_unsprung_mass_of_what_is_given(check: Check, tmp_path: Path) -> None:
    data = changed(
        {"wheel": {"spec": WHEEL, "mass": 9.5}, "tire": TIRE | {"mass": 11}, "spacer": {"thickness": 5, "mass": 0.4}},
        {"brake": {"rotor": {"mass": 9}}},
        brake={"rotor": {"mass": 7}, "caliper": {"outline": [[-80, 100], [-80, 150], [-20, 150]], "mass": 4}},
    )
    bench_setup(data)["wheel"] = {"spec": WHEEL, "mass": 12}
    bench_setup(data)["tire"] = TIRE | {"mass": 10}
    found = road(check, data)
    assert found["unsprung_kg"] == {
        "wheel": {"old": 12, "new": 9.5}, "tire": {"old": 10, "new": 11}, "spacer": {"old": 0, "new": 0.4},
        "rotor": {"old": 7, "new": 9}, "caliper": {"old": 4, "new": 4},
    }  # fmt: skip
    assert found["unsprung_change_kg"] == pytest.approx(-2.5 + 1 + 0.4 + 2)
    assert "wheel 9.5 kg (-2.5), tire 11 kg (+1.0)" in lines(tmp_path, data)


def test_a_mass_of_one_side_only_is_not_counted(check: Check, tmp_path: Path) -> None:
    data = changed({"wheel": {"spec": WHEEL, "mass": 9.5}})
    found = road(check, data)
    assert found["unsprung_kg"]["wheel"] == {"old": None, "new": 9.5}
    assert found["unsprung_change_kg"] is None
    assert "unsprung wheel 9.5 kg; not counted: wheel, tire" in lines(tmp_path, data)


def test_no_mass_no_words(tmp_path: Path) -> None:
    assert "unsprung" not in lines(tmp_path, changed())


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [("wheel", {"spec": WHEEL, "mass": 900}, "900 kg is not a plausible mass"), ("tire", TIRE | {"mass": "x"}, "mass")],
)
def test_bad_masses(tmp_path: Path, key: str, value: Any, words: str) -> None:
    result = run("check", write_profile(tmp_path, changed({key: value})))
    assert result.exit_code == 2
    assert words in result.stderr


@pytest.mark.parametrize("ratio", [0.5, 20, "3.73:1"])
def test_bad_final_drive(tmp_path: Path, ratio: Any) -> None:
    result = run("check", write_profile(tmp_path, changed(final_drive=ratio)))
    assert result.exit_code == 2
    assert "final_drive" in result.stderr
