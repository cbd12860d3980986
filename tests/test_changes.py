"""What would make it fit: worked by hand on the bench vehicle, and applied to the bundled ones by another way.

Every change that is proposed for a bundled vehicle is made a second time, by the command line's own options or in a
copy of the profile, and `check` has to agree; one step less must not do.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import HUB_FACE, TIRE, bench_setup, changes_of, run, run_json, steered, vehicle, write_profile

from fitment import profile as profiles
from fitment.answers.changes import Change, answered, least_changes
from fitment.answers.changes.camber import camber_asks
from fitment.answers.changes.in_service import SPARE
from fitment.answers.changes.tires import load_index_needed
from fitment.answers.changes.trials import Bench
from fitment.answers.changes.usable import usability
from fitment.answers.changes.wheels import offset_asks
from fitment.checks.case import Case, ready, setup_variants
from fitment.checks.case import run as checked
from fitment.parts.tire_code import parse_tire
from fitment.profile import load_profile
from fitment.profile.yaml_core import load_file
from fitment.report import changes_json, changes_text
from fitment.units import split_quantity

HALF, LARGEST = 115.0, 115.0 * 1.04  # [mm] half the tire's width, and of the widest that UN R30 permits
RADIUS = 317.0  # [mm] of the bench vehicle's tire
TO_TIRE, TO_WHEEL = 5.0, 3.0  # [mm] clearance required when the profile says nothing; common practice


def post(y: float, name: str = "post", **keys: Any) -> dict[str, Any]:
    """A post that stands straight up beside the hub, y outboard of the hub face."""
    return {"name": name, "shape": "edge", "points": [[0, HUB_FACE + y, -450], [0, HUB_FACE + y, 450]]} | keys


def rail(z: float, **keys: Any) -> dict[str, Any]:
    """A rail along y above the hub."""
    return {"name": "rail", "shape": "edge", "points": [[0, 500, z], [0, 1000, z]]} | keys


def case_of(profile: str, axle: str = "front", build: str | None = None, **options: str) -> Case:
    read = load_profile(profile)
    prepared = ready(read, axle, build)
    others = () if options else setup_variants(prepared)
    return checked(prepared, profiles.setup(read, axle, build, **options), others=others)


@pytest.fixture
def sought(tmp_path: Path) -> Callable[[dict[str, Any]], tuple[Case, tuple[Change, ...]]]:
    """sought(data) -> the checked bench vehicle and what would make it fit."""

    def found(data: dict[str, Any], **options: str) -> tuple[Case, tuple[Change, ...]]:
        case = case_of(write_profile(tmp_path, data), **options)
        return case, least_changes(case)

    return found


def one(found: tuple[Change, ...], kind: str, *, achieves: str | None = None) -> Change:
    """The only change of a kind (that achieves something)."""
    chosen = [c for c in found if c.kind == kind and achieves in (None, c.achieves)]
    assert len(chosen) == 1, [(c.kind, c.achieves, c.what) for c in found]
    return chosen[0]


# worked by hand -----------------------------------------------------------------------------------------------


def test_offset_by_hand(sought: Any) -> None:
    """A post 110 outboard of the hub face: the tire's side stands at 115 - ET, so the gap is ET - 5.

    Asked for are 5 to the tire, so the offset must grow by 5 - (-5) = 10. The wheel asks for ET >= 114.3 + 3 - 110,
    the widest tire for ET >= 119.6 - 110: both less.
    """
    case, found = sought(vehicle(obstacles=[post(110)]))
    assert case.fit.verdict == "touches"
    change = one(found, "offset", achieves="clears")
    assert (change.value, change.by, change.less, change.unit) == (10.0, 10.0, 9.0, "mm")
    assert change.verdict == "clears"
    assert change.less_worst is not None
    assert change.less_worst.margin == pytest.approx(-1.0, abs=0.02)
    assert change.apply == {"--wheel": "17x8 ET10 5x114.3 CB67.1"}
    # the wheel goes 10 further in on both sides
    assert change.side_effects["track_change_mm"] == pytest.approx(-20.0, abs=1e-6)
    assert change.side_effects["tire_outer_change_mm"] == pytest.approx(-10.0, abs=1e-6)
    # backspacing: half the overall width (8 + 1) x 25.4 / 2 = 114.3, plus ET
    assert change.side_effects["backspacing_mm"] == pytest.approx(124.3)
    assert [c.achieves for c in found if c.kind == "offset"].count("nothing") == 1, "outwards there is none"


def test_offset_where_the_worst_case_decides(sought: Any) -> None:
    # the post may stand 8 nearer than measured: 110 - 8 - (119.6 - ET) >= 0 asks for ET 17.6, so 18
    _, found = sought(vehicle(obstacles=[post(110, tolerance=8)]))
    change = one(found, "offset", achieves="clears")
    assert (change.value, change.less) == (18.0, 17.0)
    assert change.less_worst is not None
    assert change.less_worst.worst_case == pytest.approx(110 - 8 - LARGEST + 17, abs=0.02)


@pytest.mark.slow
def test_offset_between_two_posts_that_leave_no_room(sought: Any) -> None:
    # 110 outboard and 113 inboard: 223 for a tire of 230
    _, found = sought(vehicle(obstacles=[post(110, "outer"), post(-113, "inner")]))
    assert {c.achieves for c in found if c.kind == "offset"} == {"nothing"}
    # each alone has to go 5 - (110 - 115) = 10 outboard and 5 - (113 - 115) = 7 inboard
    parts = {c.part: c for c in found if c.kind == "part"}
    assert {name: (c.value, c.apply["direction"], c.achieves) for name, c in parts.items()} == {
        "outer": (10.0, "outboard", "this_part"),
        "inner": (7.0, "inboard", "this_part"),
    }
    assert all(c.verdict == "touches" for c in parts.values())
    assert one(found, "parts_together").achieves == "clears"


@pytest.mark.slow
def test_least_that_ends_the_contact_where_nothing_clears(sought: Any) -> None:
    """Posts 110.4 outboard and 123 inboard leave 233.4 for a tire of 230 that asks for 240.

    The gaps are ET - 4.6 and 8 - ET: from ET 4.6 to ET 8 neither touches; the first whole one is 5.
    """
    _, found = sought(vehicle(obstacles=[post(110.4, "outer"), post(-123, "inner")]))
    change = one(found, "offset", achieves="no_contact")
    assert (change.value, change.less) == (5.0, 4.0)
    assert change.verdict == "tight"
    assert "Best: ET6, but there tire" in change.note, "the gaps are 1.4 and 2 there, of 5 required"


def test_spacer_by_hand(sought: Any) -> None:
    """A post 112 inboard: 112 - 115 + t >= 5 asks for a spacer of 8.

    The step of the hub is 8 long, so the spacer covers it; 40 of stud less 8 of spacer stay.
    """
    _, found = sought(vehicle(obstacles=[post(-112)]))
    change = one(found, "spacer")
    assert (change.value, change.less, change.by) == (8.0, 7.0, 8.0)
    assert change.side_effects["track_change_mm"] == pytest.approx(16.0, abs=1e-6)
    assert "studs" in change.caution
    assert "register past spacer" in change.note
    assert change.apply == {"--spacer": 8.0}


@pytest.mark.slow
def test_a_spacer_thicker_than_the_studs_says_so(sought: Any) -> None:
    # 40 of stud; 112 - 115 - 40 + t >= 5 asks for 48, on which no nut finds a thread
    data = vehicle(obstacles=[post(-112)])
    bench_setup(data)["wheel"] = "17x8 ET40 5x114.3 CB67.1"
    _, found = sought(data)
    change = one(found, "spacer")
    assert change.value == 48.0
    assert change.verdict == "does_not_bolt_on"
    assert "does not bolt on: studs" in change.note


@pytest.mark.slow
def test_a_thinner_spacer(sought: Any) -> None:
    # 126 - 115 - t >= 5 asks for t <= 6, where 12 stand now
    data = vehicle(obstacles=[post(126)])
    bench_setup(data)["spacer"] = 12
    _, found = sought(data)
    change = one(found, "spacer", achieves="clears")
    assert (change.value, change.by, change.less) == (6.0, -6.0, 7.0)


def test_scrub_radius_follows_the_wheel(sought: Any) -> None:
    # the steering axis stands upright 50 inboard of the hub face: scrub radius 50 - ET on a wheel without camber
    axis = {"lower": [0, HUB_FACE - 50, -150], "upper": [0, HUB_FACE - 50, 150]}
    suspension = {"kind": "tape", "steering_axis": axis}
    _, found = sought(vehicle(obstacles=[post(110, meets="tire")], suspension=suspension))
    change = one(found, "offset", achieves="clears")
    assert change.value == 10.0
    assert change.side_effects["scrub_radius_change_mm"] == pytest.approx(-10.0, abs=1e-6)
    assert change.side_effects["scrub_radius_mm"] == pytest.approx(40.0, abs=1e-6)


def test_bump_stop_by_hand(sought: Any) -> None:
    """A rail 360 above: 360 - 317 - bump >= 5 allows a bump of 38, where 50 are there."""
    _, found = sought(vehicle(obstacles=[rail(360)]))
    change = one(found, "bump_stop")
    assert (change.achieves, change.value, change.less, change.by) == ("clears", 38.0, 39.0, -12.0)
    assert change.side_effects["travel_lost_mm"] == 12.0
    assert change.side_effects["bump_from_rest_mm"] == 38.0
    assert (change.use, change.use_why) == ("not_usable", "leaves 38 mm of bump travel from rest")
    assert "With the body 12 mm higher as well" in change.note
    # and the rail has to go up by 5 - (360 - 317 - 50) = 12
    part = one(found, "part")
    assert (part.value, part.apply["direction"], part.achieves) == (12.0, "up", "clears")
    # a higher body alone changes nothing, as full bump stays
    ride = one(found, "ride")
    assert ride.achieves == "nothing"
    assert "from -50 to +50 mm is checked" in ride.note


@pytest.mark.slow
def test_a_stop_that_leaves_little_travel_is_told_last_and_why(sought: Any, tmp_path: Path) -> None:
    """The same rail: 38 of bump are left, and a vehicle wants 40. Rail 363: 363 - 317 - 5 = 41 are left, usable."""
    _, found = sought(vehicle(obstacles=[rail(360)]))
    helping = [change for change in found if change.achieves != "nothing"]
    assert helping[-1].kind == "bump_stop"
    assert [change.achieves for change in found[len(helping) :]] == ["nothing"] * (len(found) - len(helping))
    text = run("check", write_profile(tmp_path, vehicle(obstacles=[rail(360)])), "--changes", "--full").stdout
    assert text.index("12 mm up") < text.index("Tried, but not usable") < text.index("ends travel at +38 mm")
    assert "Not usable: leaves 38 mm of bump travel from rest." in text
    stop = one(sought(vehicle(obstacles=[rail(363)]))[1], "bump_stop")
    assert (stop.value, stop.use, stop.use_why) == (41.0, "usable", "")


def test_where_only_what_is_not_usable_clears_no_change_is_promised(sought: Any, tmp_path: Path) -> None:
    """A rail that cannot be moved, nearer than any tire can be low: only the stop clears it, with 13 mm left."""
    fixed = rail(335) | {"shape": "rod"}
    fixed["from"], fixed["to"] = ({"at": fixed["points"][i]} for i in (0, -1))
    del fixed["points"]
    profile = write_profile(tmp_path, vehicle(obstacles=[fixed]))
    text = run("check", profile, "--changes", "--full").stdout
    assert "No single usable change tried here is enough: a clearance stays below required" in text
    assert "With each of these alone" not in text
    assert "Not usable: leaves 13 mm of bump travel from rest." in text


@pytest.mark.parametrize(
    ("kind", "by", "effects", "failed", "use"),
    [
        ("bump_stop", -40.0, {"bump_from_rest_mm": 39.0}, "", "not_usable"),
        ("bump_stop", -40.0, {"bump_from_rest_mm": 40.0}, "", "usable"),
        ("part", 25.0, {}, "", "usable"),
        ("part", 26.0, {}, "", "hard"),
        ("tire", None, {"overall_diameter_change_percent": -4.9}, "", "usable"),
        ("tire", None, {"overall_diameter_change_percent": -5.1}, "", "hard"),
        ("steering_stop", -8.0, {"turning_circle_change_percent": 28.0}, "", "hard"),
        ("spacer", 20.0, {}, "studs: too short", "hard"),
        ("camber", -2.0, {}, "", "hard"),  # from -1.5 to -3.5
        ("camber", -1.0, {}, "", "usable"),
    ],
)
def test_how_usable_a_change_is(kind: Any, by: float | None, effects: Any, failed: str, use: str) -> None:
    found, why = usability(kind, by, effects, failed, -1.5)
    assert found == use
    assert (why == "") is (use == "usable")


@pytest.mark.slow
def test_the_usable_come_before_the_hard_and_the_least_effort_first(tmp_path: Path) -> None:
    """The pickup's wide build: another wheel, another tire, a part trimmed by 14 mm, then stops far from the lock.

    The tire's shape is told: with a square shoulder the lip falls short too, and what helps with the fender alone
    would not do.
    """
    data = json.loads(json.dumps(load_file(PROFILES / "pickup.yaml").data))
    setup = data["builds"]["wide"]["front"]
    setup["tire"] = {"code": setup["tire"], "shoulder": "usual", "rim_protector": False}
    found = least_changes(case_of(write_profile(tmp_path, data), build="wide"))
    helping = [(change.kind, change.use) for change in found if change.achieves == "clears"]
    assert helping == [("offset", "usable"), ("tire", "usable"), ("part", "usable"), ("steering_stop", "hard")]


def test_a_bump_stop_below_a_named_ride_height_says_so(sought: Any) -> None:
    # 335 - 317 - bump >= 5 allows 13, and 'low' is at 30
    _, found = sought(vehicle(obstacles=[rail(335)]))
    change = one(found, "bump_stop")
    assert change.value == 13.0
    assert change.side_effects["ride_heights_lost"] == "low (+30 mm)"


def test_no_bump_stop_below_the_ride_height(sought: Any) -> None:
    # at rest, 30 up, the tire is already nearer than 5 to a rail at 350.4: 350.4 - 317 - 30 = 3.4
    data = vehicle(obstacles=[rail(350.4)], ride_heights={"level": 0})
    del data["builds"]["lowered"]
    bench_setup(data)["ride"] = 30
    _, found = sought(data)
    change = one(found, "bump_stop")
    assert change.achieves == "no_contact", "at +30 it does not touch, and lower the stop cannot go"
    # nothing touches up to 317 + bump = 350.4
    assert (change.value, change.less) == (33.0, 34.0)
    assert "Tried: bump +49 mm down to +30 mm" in change.note


def test_ride_height_by_hand(sought: Any) -> None:
    """A vehicle that stands below its bump stop, 60 up with the stop at 20: 360 - 317 - ride >= 5 allows 38."""
    data = vehicle(obstacles=[rail(360)], travel={"droop": -50, "bump": 20}, ride_heights={"level": 0})
    del data["builds"]["lowered"]
    bench_setup(data)["ride"] = 60
    _, found = sought(data)
    change = one(found, "ride")
    assert (change.achieves, change.value, change.less, change.by) == ("clears", 38.0, 39.0, -22.0)
    assert change.side_effects["body_height_change_mm"] == pytest.approx(22.0)
    assert change.apply == {"--ride": 38.0}


@pytest.mark.slow
def test_steering_stop_by_hand(sought: Any) -> None:
    """A post 200 ahead and 140 inboard of the steering axis, which stands 50 inboard of the hub face.

    Turned right by d it stands at y' = 200 sin d - 140 cos d - 50. It must keep 115 + 5 from the rim's centre line, so
    200 sin d - 140 cos d <= -70, or sin(d - 35.0) <= -70 / 244.1: d <= 18.3 deg. In steps of 0.5: 18.0.
    """
    size, ahead = math.hypot(200, 140), math.degrees(math.atan2(140, 200))
    most = ahead + math.degrees(math.asin(-70 / size))
    assert most == pytest.approx(18.33, abs=0.01)
    pole = {"name": "pole", "shape": "edge", "points": [[200, HUB_FACE - 190, -450], [200, HUB_FACE - 190, 450]]}
    case, found = sought(steered(obstacles=[pole]))
    assert case.fit.verdict == "touches"
    change = one(found, "steering_stop")
    assert (change.achieves, change.value, change.less, change.by) == ("clears", 18.0, 18.5, -12.0)
    assert change.apply == {"steering.lock_left": 18.0, "steering.lock_right": 18.0}
    assert change.side_effects["lock_left_lost_deg"] == 12.0
    # turning circle in the ratio sin 30 : sin 18; without a wheelbase there is no figure for it
    wider = 100 * (math.sin(math.radians(30)) / math.sin(math.radians(18)) - 1)
    assert change.side_effects["turning_circle_change_percent"] == pytest.approx(wider)
    assert "turning_circle_mm" not in change.side_effects


@pytest.mark.slow
def test_turning_circle_with_a_wheelbase(sought: Any) -> None:
    # the outer wheel at its lock of 18 deg rolls about a point 2700 / sin 18 away
    pole = {"name": "pole", "shape": "edge", "points": [[200, HUB_FACE - 190, -450], [200, HUB_FACE - 190, 450]]}
    data = steered(obstacles=[pole]) | {"wheelbase": 2700}
    change = one(sought(data)[1], "steering_stop")
    assert change.side_effects["turning_circle_mm"] == pytest.approx(2 * 2700 / math.sin(math.radians(18)))


@pytest.mark.slow
def test_unequal_locks_keep_their_ratio(sought: Any) -> None:
    # locks 36 and 24: with 27 to the left, three quarters, 18 are left to the right
    pole = {"name": "pole", "shape": "edge", "points": [[200, HUB_FACE - 190, -450], [200, HUB_FACE - 190, 450]]}
    data = steered(obstacles=[pole], steering={"lock_left": 36, "lock_right": 24})
    change = one(sought(data)[1], "steering_stop")
    # 27.5 to the left are 18.33 to the right, set as 18.3; 28.0 would be 18.6, and 18.33 is the most
    assert (change.value, change.less) == (27.5, 28.0)
    assert change.apply == {"steering.lock_left": 27.5, "steering.lock_right": 18.3}


@pytest.mark.slow
def test_a_steering_stop_leaves_the_angles_that_a_limit_leaves(sought: Any) -> None:
    """Locks of 30, 0.8 of them at full bump: 24 deg can be had there now, and with stops that end sooner still.

    A pole that only the raised wheel meets stops the search at some lock v. Of v, 24 deg are the share 24 / v, and
    all of it where v is less.
    """
    pole = {"name": "pole", "shape": "edge", "points": [[200, HUB_FACE - 176, 256], [200, HUB_FACE - 176, 450]]}
    limit = [[0, 1.0], [50, 0.8]]
    case, found = sought(steered(obstacles=[pole], steer_limit=limit))
    assert case.fit.verdict != "clears"
    change = one(found, "steering_stop")
    assert 15 < change.value < 24
    assert change.apply["steer_limit"] == ((0.0, 1.0), (50.0, 1.0))
    applied = {"lock_left": change.value, "lock_right": change.value}
    again, _ = sought(steered(obstacles=[pole], steering=applied, steer_limit=[[0, 1.0], [50, 1.0]]))
    assert again.fit.verdict == "clears"
    assert max(e.steer for e in again.fit.clearances if e.travel == 50) == pytest.approx(change.value)


def test_narrower_tire_by_hand(sought: Any) -> None:
    """A post 125 outboard; S = S1 + 0.4 (203.2 - 0.85 S1) on the 8 in rim (UN R30 6.1.1, below aspect 50).

    225: 229.8, half 114.9; its widest is 114.9 x 1.04 + 8 = 127.5 (a rim protector, UN R30 6.1.4, from memory). 215:
    223.2, half 111.6; its widest is 111.6 x 1.04 + 8 = 124.1. The wheel asks for 114.3 + 3 = 117.3. Overall diameter
    432 + 2 x 97 = 626, where 432 + 2 x 101 = 634 are now.
    Two of load index 80 carry 900 kg (load index table, 450 kg).
    """
    data = vehicle(obstacles=[post(125)])
    bench_setup(data)["tire"] = "225/45R17 94W XL"
    _, found = sought(data)
    change = one(found, "tire")
    assert (change.value, change.achieves, change.less) == ("215/45R17", "clears", "225/45R17 94W XL")
    assert change.side_effects["overall_diameter_change_mm"] == pytest.approx(-8.0)
    assert change.side_effects["overall_diameter_change_percent"] == pytest.approx(-100 * 8 / 634)
    width = 0.4 * (203.2 - 0.85 * 215) + 215 - (0.4 * (203.2 - 0.85 * 225) + 225)
    assert change.side_effects["section_width_change_mm"] == pytest.approx(width)
    assert change.side_effects["hub_height_change_mm"] == pytest.approx(-4.0)
    assert (change.side_effects["load_index_needed"], change.side_effects["load_index_now"]) == (80, 94)
    assert change.apply == {"--tire": "215/45R17"}


def test_lower_tire_by_hand(sought: Any) -> None:
    """A rail 370 above, 50 of bump: 225/45R17 (radius 317) leaves 3, 225/40R17 (432 / 2 + 90 = 306) leaves 14.

    The narrower 215/45R17 (313) leaves 7; its tallest, 216 + 1.04 x 97 = 316.9, 3.1: it clears as well.
    """
    data = vehicle(obstacles=[rail(370)])
    bench_setup(data)["tire"] = "225/45R17 94W XL"
    case, found = sought(data)
    assert case.fit.verdict == "tight"
    tires = {c.value: c for c in found if c.kind == "tire"}
    assert set(tires) == {"225/40R17", "215/45R17"}
    assert tires["225/40R17"].side_effects["overall_diameter_change_mm"] == pytest.approx(-22.0)


def test_parts_that_are_no_part_of_the_body(sought: Any) -> None:
    """Balls of radius 20, 119.5 inboard, where the tire is widest; the one on the body is passed at some travel."""
    joint = {"name": "joint", "shape": "ball", "radius": 20, "fixed_to": "knuckle", "at": [0, HUB_FACE - 119.5, 271]}
    bottle = {"name": "bottle", "shape": "ball", "radius": 20, "at": [0, HUB_FACE - 119.5, -271]}
    _, found = sought(vehicle(obstacles=[joint, bottle]))
    parts = {c.part: c for c in found if c.kind == "part"}
    assert {c.achieves for c in parts.values()} == {"nothing"}
    assert "belongs to the knuckle" in parts["joint"].note
    assert "no edge or panel" in parts["bottle"].note
    # with a spacer the tire clears both: 119.5 - 20 - 115 + t >= 5 asks for 20.5
    change = one(found, "spacer")
    assert (change.value, change.less) == (21.0, 20.0)
    assert not [c for c in found if c.kind == "parts_together"]


def test_nothing_is_needed(sought: Any, tmp_path: Path) -> None:
    case, found = sought(vehicle())
    assert case.fit.verdict == "clears"
    assert found == ()
    assert "the clearances need no change" in changes_text(case, found)
    blind, none = sought(vehicle(obstacles=[]))
    assert none == ()
    assert "nothing to try" in changes_text(blind, none)


def test_a_build_that_does_not_bolt_on(sought: Any) -> None:
    data = vehicle(obstacles=[post(110)])
    bench_setup(data)["wheel"] = "17x8 ET0 5x120 CB72.6"
    case, found = sought(data)
    assert case.fit.verdict == "does_not_bolt_on"
    change = one(found, "offset", achieves="clears")
    assert (change.value, change.verdict) == (10.0, "does_not_bolt_on")
    assert "does not bolt on, and nothing here helps with that" in " ".join(changes_text(case, found).split())


@pytest.mark.slow
def test_toleranced_readings_move_with_the_change(sought: Any) -> None:
    """A tire measured 230 +- 4 wide: its widest is (230 + 4) / 2 x 1.04 = 121.68, the post at 110: ET 11.68, so 12."""
    data = vehicle(obstacles=[post(110)])
    bench_setup(data)["tire"] = TIRE | {"section_width": {"value": 230, "tolerance": 4}}
    change = one(sought(data)[1], "offset", achieves="clears")
    assert (change.value, change.less) == (12.0, 11.0)


@pytest.mark.slow
def test_a_wheel_given_by_its_backspacing(sought: Any) -> None:
    # BS 114.3 mm is ET0; ten more offset is 124.3 mm of backspacing
    data = vehicle(obstacles=[post(110)])
    bench_setup(data)["wheel"] = "17x8 BS 114.3mm 5x114.3 CB67.1"
    change = one(sought(data)[1], "offset", achieves="clears")
    assert change.apply == {"--wheel": "17x8 BS 124.3mm 5x114.3 CB67.1"}


@pytest.mark.parametrize(
    ("load", "code", "car", "index"),
    [
        (900.0, "225/45R17", "passenger_car", 80),  # 2 x 450 kg
        (901.0, "225/45R17", "passenger_car", 81),  # 2 x 462 kg
        (900.0, "225/45R17", "light_truck", 84),  # 900 x 1.10 / 2 = 495 kg, 84 carries 500 (49 CFR 571.120 S5.1.2)
        (900.0, "LT235/85R16", "light_truck", 80),  # the rule is about passenger tires
        (None, "225/45R17", None, None),
    ],
)
def test_load_index_that_is_needed(tmp_path: Path, load: float | None, code: str, car: Any, index: int | None) -> None:
    axle = ready(load_profile(write_profile(tmp_path, vehicle())), "front").axle
    assert load_index_needed(replace(axle, axle_load=load, vehicle_class=car), parse_tire(code)) == index


# the bundled vehicles ------------------------------------------------------------------------------------------

CASES = [
    ("wagon", "wanted", "rear", None),
    ("wagon", "chosen", "front", "19x8.5 ET58 5x114.3 CB73.1"),
    ("pickup", "wide", "front", None),
    ("coupe", "stance", "rear", None),
    ("coupe", "track_day", "front", "18x8.5 ET62 5x114.3 CB68.4"),
    ("coupe", "track_day", "front", None),
]
PROFILES = Path(__file__).parent.parent / "profiles"


def same_angles(limit: list[list[float]], share: float) -> list[list[float]]:
    """A limit in steps of 1 mm that leaves locks at a share of their angle what it left of all of it."""
    travel, of_lock = np.array(limit, dtype=float).T
    at = np.unique([*np.arange(travel[0], travel[-1]), *travel])
    return [[float(t), min(float(np.interp(t, travel, of_lock)) / share, 1.0)] for t in at]


class Again:
    """A bundled vehicle on which a change is made by the options of `check`, or in a copy of its profile."""

    def __init__(self, folder: Path, profile: str, build: str, corner: str, wheel: str | None) -> None:
        self.folder, self.profile, self.build, self.axle = folder, profile, build, corner.partition("-")[0]
        self.options = ["--build", build, "--axle", corner, *(["--wheel", wheel] if wheel else [])]

    def check(self, change: Change, value: Any) -> dict[str, Any]:
        data = json.loads(json.dumps(load_file(PROFILES / f"{self.profile}.yaml").data))
        part, options = data["axles"][self.axle], list(self.options)
        if change.kind == "offset":
            options += ["--wheel", str(change.apply["--wheel"]).replace(f"ET{change.value:g}", f"ET{value:g}")]
        elif change.kind in ("spacer", "ride", "tire"):
            options += [f"--{change.kind}", str(value)]
        elif change.kind == "bump_stop":
            part["travel"]["bump"] = value
            part["ride_heights"] = {name: z for name, z in part["ride_heights"].items() if z <= value}
        elif change.kind == "steering_stop":
            share = value / max(part["steering"].values())
            part["steering"] = {
                name: math.floor(lock * share * 10 + 1e-6) / 10 for name, lock in part["steering"].items()
            }
            part["steer_limit"] = same_angles(part["steer_limit"], share)
        elif change.kind == "part":
            self.move(data, change, value)
        return self.run(data, options)

    def together(self, change: Change) -> dict[str, Any]:
        data = json.loads(json.dumps(load_file(PROFILES / f"{self.profile}.yaml").data))
        for step in change.apply["obstacles"]:  # type: ignore[attr-defined]
            self.move(data, replace(change, apply=step), step["by_mm"])
        return self.run(data, list(self.options))

    def move(self, data: dict[str, Any], change: Change, by: float) -> None:
        name = str(change.apply["obstacle"])
        obstacle = next(o for o in data["axles"][self.axle]["obstacles"] if o["name"] == name)
        before = self.stands(data, name) if "measured_gap" in obstacle else 0.0

        def moved(point: Any) -> Any:
            if isinstance(point, dict):  # read about the hub: an angle, 0 ahead and 90 up, a radius, and how far out
                angle = math.radians(point["clock"])
                x, y, z = moved([point["radius"] * math.cos(angle), point["out"], point["radius"] * math.sin(angle)])
                return {"clock": math.degrees(math.atan2(z, x)), "radius": math.hypot(x, z), "out": y}
            x, y, z = point
            far = math.hypot(x, z)
            steps = {"outboard": (0, 1, 0), "inboard": (0, -1, 0), "up": (0, 0, 1)}
            dx, dy, dz = steps.get(str(change.apply["direction"]), (x / far, 0, z / far))
            return [x + by * dx, y + by * dy, z + by * dz]

        on_the_right = data["axles"][self.axle].get("right", {}).get("obstacles", {}).get(name, {})
        for read in (obstacle, on_the_right):
            if "rows" in read:
                read["rows"] = [[moved(point) for point in row] for row in read["rows"]]
            elif "points" in read:
                read["points"] = [moved(point) for point in read["points"]]
        if "measured_gap" in obstacle:  # the program slides it to its gap, so the gap has to grow
            aside = {"outboard": by, "inboard": -by}.get(str(change.apply["direction"]), 0.0)
            self.read_gap(data, obstacle, before + aside)

    def stands(self, data: dict[str, Any], name: str) -> float:
        """y at which a part stands once its measured gap is settled [mm]."""
        path = write_profile(self.folder, data, "settled.yaml")
        axle = ready(load_profile(path), self.axle, self.build).axle
        return next(o for o in axle.obstacles if o.name == name).points[0][1]

    def read_gap(self, data: dict[str, Any], obstacle: dict[str, Any], y: float) -> None:
        """The gap that a tape would read with the part at y [mm], found by trying."""
        gap = obstacle["measured_gap"]
        value, unit = split_quantity(str(gap["gap"]))
        gap["gap"] = value * (25.4 if unit == "in" else 1.0)
        for _ in range(20):
            off = self.stands(data, obstacle["name"]) - y
            if abs(off) < 1e-4:
                return
            gap["gap"] += off  # an inboard part: a larger gap is a smaller y
        raise AssertionError("no gap found")

    def run(self, data: dict[str, Any], options: list[str]) -> dict[str, Any]:
        path = write_profile(self.folder, data, "again.yaml")
        kept = [o for i, o in enumerate(options) if not (o == "--wheel" and "--wheel" in options[i + 1 :])]
        if options.count("--wheel") > 1:  # the change's own wheel takes the place of the one asked for
            first = options.index("--wheel")
            kept = options[:first] + options[first + 2 :]
        answer = run_json("check", path, *kept)
        assert isinstance(answer, dict)
        return answer


def short(answer: dict[str, Any], change: Change) -> float:
    """By how much the goal of a change is kept [mm], over all poses."""
    served = answer["in_service"]["gaps"] if answer["in_service"] else []
    entries, served = (
        [e for e in every if change.achieves != "this_part" or e["obstacle"] == change.part]
        for every in (answer["clearances"], served)
    )
    if change.achieves == "no_contact":
        return min(float(e["clearance_mm"]) for e in entries)
    in_service = min((float(e["in_service_mm"]) - float(e["allowance_mm"]) for e in served), default=math.inf)
    return min(in_service, *(min(float(e["margin_mm"]), float(e["worst_case_mm"])) for e in entries))


def known(profile: str, build: str, axle: str, wheel: str | None) -> tuple[Case, tuple[Change, ...]]:
    """A bundled vehicle's build and what would make it fit."""
    answer = changes_of(profile, axle, build, wheel)
    changes = answer.asides[0].changes
    assert changes is not None
    return answer.cases[0], changes


# in service ---------------------------------------------------------------------------------------------------


@pytest.fixture
def in_service(tmp_path: Path) -> Callable[[dict[str, Any], float], tuple[dict[str, Any], dict[str, Any]]]:
    """in_service(data, growth) -> the bench vehicle's check and, by kind, what helps it."""

    def found(data: dict[str, Any], growth: float) -> tuple[dict[str, Any], dict[str, Any]]:
        data["axles"]["front"]["service"] = {"growth": growth}
        answer = run_json("check", write_profile(tmp_path, data), "--axle", "front", "--changes")
        changes = [each for each in answer["changes"] if each["achieves"] != "nothing"]
        return answer, {f"{each['kind']} {each['part'] or ''}".strip(): each for each in changes}

    return found


@pytest.mark.slow
@pytest.mark.parametrize(("growth", "further_in"), [(21.5, 2), (24.6, 5)])
def test_what_is_tight_in_service_is_mended_in_it(in_service: Any, growth: float, further_in: int) -> None:
    """The post stands 25 mm off and asks for 5: of 25 + d - growth at least 5 must be left, d in whole mm."""
    assert 25 + further_in - growth >= 5 > 25 + further_in - 1 - growth
    answer, helps = in_service(vehicle(), growth)
    assert answer["verdict"] == "tight"
    assert answer["in_service"]["tight"]
    assert helps["offset"]["value"] == further_in
    assert helps["part post"]["value"] == further_in
    assert {helps[kind]["achieves"] for kind in ("offset", "part post")} == {"clears"}
    for offset, verdict in ((further_in, "clears"), (further_in - 1, "tight")):
        data = vehicle(service={"growth": growth})
        bench_setup(data)["wheel"] = f"17x8 ET{offset} 5x114.3 CB67.1"
        assert in_service(data, growth)[0]["verdict"] == verdict


@pytest.mark.slow
def test_a_part_that_is_clear_in_service_leaves_the_others_short_in_it(in_service: Any, tmp_path: Path) -> None:
    """Post and rail both short in service alone: each moved helps with itself, and the text names the other."""
    data = vehicle(obstacles=[post(140), rail(RADIUS + 50 + 25)])
    answer, helps = in_service(data, 21.5)
    assert answer["verdict"] == "tight"
    assert all(each["margin_mm"] >= 0 and each["worst_case_mm"] >= 0 for each in answer["clearances"])
    assert (helps["part post"]["achieves"], helps["part rail"]["achieves"]) == ("this_part", "this_part")
    assert helps["parts_together"]["achieves"] == "clears"
    told = " ".join(run("check", write_profile(tmp_path, data), "--changes").stdout.split())
    assert "Still too close: rail." in told
    assert "In service counts too: what it takes is added to what is required" in told
    assert "no change is sought" not in told


@pytest.mark.slow
@pytest.mark.parametrize("chosen", CASES, ids=lambda c: "-".join(c[:3]))
def test_every_proposed_change_holds_when_it_is_made(tmp_path: Path, chosen: Any) -> None:
    profile, build, _, wheel = chosen
    case, found = known(*chosen)
    assert case.fit.verdict in ("touches", "tight")
    again = Again(tmp_path, profile, build, case.fit.axle.name.replace(" ", "-"), wheel)
    helping = [c for c in found if c.achieves != "nothing"]
    # of several that are alike but for the part, each made in one way, the first
    useful = {(c.kind, c.achieves, c.apply.get("direction"), (c.by or 0) > 0): c for c in reversed(helping)}.values()
    assert useful, "there is something that helps on each of these"
    for change in useful:
        if change.kind == "parts_together":
            assert again.together(change)["verdict"] == "clears"
            continue
        made = again.check(change, change.value)
        assert short(made, change) >= -1e-6, change.what
        if change.achieves == "clears":
            assert made["verdict"] == change.verdict, change.what
        spared = SPARE if made["in_service"] else 0.0
        assert short(again.check(change, change.less), change) < spared, f"{change.what}: {change.less} would do"


@pytest.mark.slow
def test_camber_from_the_adjusters_holds_when_it_is_set() -> None:
    """A pickup whose tire meets its inner fender by a hair in the worst case: a quarter of a degree is enough.

    What is found the other way, through other settings, has to hold as well.
    """
    wheel = "20x10 ET69 6x139.7 CB78.1"  # ET70 would clear
    case = case_of("pickup", "front", "wide", wheel=wheel)
    bench = Bench(case)
    found = [answered(bench, ask) for ask in camber_asks(bench)]
    clearing = [change for change in found if change.achieves == "clears"]
    assert 0 < min(abs(change.by or 0.0) for change in clearing) <= 0.5
    options = ["check", "pickup", "--axle", "front", "--build", "wide", "--wheel", wheel]
    for change in clearing:
        made = run_json(*options, "--settings", str(change.apply["--settings"]))
        assert made["verdict"] == "clears"
        assert made["stance"]["camber"] == pytest.approx(change.value, abs=0.006)
        assert "toe" in change.caution
    assert run_json(*options)["verdict"] == "tight"


@pytest.mark.slow
def test_what_does_not_help_is_said_with_how_far_was_searched() -> None:
    """The coupe's wheel meets its strut, which turns and travels with it: no stop, no trimming helps."""
    case, changed = known("coupe", "track_day", "front", "18x8.5 ET62 5x114.3 CB68.4")
    found = {c.kind: c for c in changed if c.achieves == "nothing"}
    assert {"ride", "bump_stop", "steering_stop", "part", "tire"} <= set(found)
    assert "35.5 deg left" in found["steering_stop"].note
    assert "18 deg left" in found["steering_stop"].note
    assert "bump +84 mm down to +30 mm" in found["bump_stop"].note
    assert "strut tube" in found["bump_stop"].note
    as_measured = replace(case, fit=replace(case.fit, in_service=None))
    assert Bench(as_measured).offenders("clears") == ("strut tube",)
    assert set(Bench(case).offenders("clears")) > {"strut tube"}  # in service others are too close as well


@pytest.mark.slow
def test_the_nearest_miss_is_told_with_what_it_was_chosen_by(sought: Any) -> None:
    """Posts 120 and 116 from the hub face: midway, at ET-2, 3 mm are left on each side of 5.

    The largest tire overlaps, the more as each post may stand 3 nearer.
    """
    _, found = sought(vehicle(obstacles=[post(120, "outer post", tolerance=3), post(-116, "inner post", tolerance=3)]))
    note = next(c.note for c in found if c.kind == "offset" and c.what.startswith("less offset"))
    told = "ET-2, but there tire and {} post are 3.0 mm apart, 5.0 mm required; in the worst case they overlap by "
    told += f"{LARGEST + 3 - 118:.1f} mm; also too close: {{}} post."
    assert note.endswith((told.format("inner", "outer"), told.format("outer", "inner")))


@pytest.mark.slow
def test_what_overlaps_is_told_before_what_is_short(sought: Any) -> None:
    """The post lacks 15 of 40 mm, the rail is hit 4 deep at full bump; no ride height changes either."""
    _, found = sought(vehicle(obstacles=[post(140, allowance=40), rail(RADIUS + 50 - 4)]))
    ride = one(found, "ride")
    assert "but there tire and rail overlap by 4.0 mm; also too close: post." in ride.note
    assert ride.worst is not None
    assert ride.worst.obstacle == "rail"


@pytest.mark.slow
def test_a_nearest_miss_is_told_as_check_finds_it() -> None:
    """The best tire of those tried on the coupe: the note, the change and a check of its own say one number."""
    _, found = known("coupe", "stance", "rear", None)
    tire = one(found, "tire")
    made = run_json("check", "coupe", "--axle", "rear", "--build", "stance", "--tire", str(tire.value))["worst"]
    assert tire.worst is not None
    assert tire.worst.clearance == pytest.approx(made["clearance_mm"], abs=1e-3)
    best = tire.note.split("Best: ")[1]
    assert f"{tire.value}, but there tire and {made['obstacle']} are {made['clearance_mm']:.1f} mm apart" in best


@pytest.mark.slow
def test_no_offset_beside_a_nearest_miss_misses_by_less() -> None:
    """What the sweep promises is a bound, and its order is not the order of checks: ET49 is promised more than ET48."""
    bench = Bench(case_of("coupe", "front", "stance"))
    missed = next(change for change in map(partial(answered, bench), offset_asks(bench)) if change.kind == "offset")
    told = re.search(r"Best: ET(\d+)", missed.note)
    assert told

    def short_of(offset: int) -> float:
        wheel = f"19x9.5 ET{offset} 5x114.3 CB73.1"
        worst = case_of("coupe", "front", "stance", wheel=wheel).fit.clearances
        return min(min(e.margin, e.worst_case) for e in worst)

    misses = {offset: short_of(offset) for offset in range(int(told[1]) - 2, int(told[1]) + 3)}
    assert max(misses, key=lambda offset: misses[offset]) == int(told[1])


# the command ---------------------------------------------------------------------------------------------------


def test_the_command_prints_what_would_make_it_fit(tmp_path: Path) -> None:
    profile = write_profile(tmp_path, vehicle(obstacles=[post(110)]))
    result = run("check", profile, "--changes", "--full")
    assert result.exit_code == 1
    assert "What would make it clear" in result.stdout
    assert "ET10 instead of ET0: the wheel 10 mm further in" in result.stdout
    assert "ET9 is not enough: tire and post are 4.0 mm apart, 5.0 mm required." in result.stdout
    assert "What would" not in run("check", profile).stdout
    inches = run("check", profile, "--changes", "--units", "in", "--full").stdout
    assert "ET10 instead of ET0: the wheel 0.39 in further in" in inches
    assert " mm" not in inches.split("What would make it clear")[1]


def test_json_of_the_changes(tmp_path: Path) -> None:
    profile = write_profile(tmp_path, vehicle(obstacles=[post(110)]))
    answer = run_json("check", profile, "--axle", "front", "--changes")
    assert {c["kind"] for c in answer["changes"]} == {"offset", "spacer", "tire", "ride", "bump_stop", "part"}
    offset = next(c for c in answer["changes"] if c["kind"] == "offset" and c["achieves"] == "clears")
    assert offset["value"] == 10.0
    assert offset["one_step_less"]["value"] == 9.0
    assert offset["one_step_less"]["worst"]["margin_mm"] == pytest.approx(-1.0, abs=0.02)
    assert offset["worst"]["obstacle"] == "post"
    assert set(offset) == {
        "kind", "part", "what", "achieves", "value", "unit", "by", "verdict", "worst", "one_step_less", "side_effects",
        "caution", "use", "use_why", "note", "apply", "checked",
    }  # fmt: skip
    assert "changes" not in run_json("check", profile, "--axle", "front")
    assert run_json("check", write_profile(tmp_path, vehicle()), "--axle", "front", "--changes")["changes"] == []


@pytest.mark.slow
def test_the_same_input_gives_the_same_changes(tmp_path: Path) -> None:
    case = case_of(write_profile(tmp_path, vehicle(obstacles=[post(112), rail(365)])))
    assert changes_json(least_changes(case)) == changes_json(least_changes(case))
