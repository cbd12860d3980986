"""Where a wheel stands at rest, and what a change of setup moves: worked by hand on the bench vehicle."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
from conftest import DIAMETER, HUB_FACE, WIDTH, bench_setup, steered, vehicle

Check = Callable[..., dict[str, Any]]
OVERALL = (8 + 1) * 25.4  # [mm] rim width + 2 x 12.7


def test_baseline(check: Check) -> None:
    found = check(vehicle())["stance"]
    by_hand = {
        "ride": 0, "hub_face": HUB_FACE, "outer_face": HUB_FACE + OVERALL / 2, "inner_face": HUB_FACE - OVERALL / 2,
        "tire_outer": HUB_FACE + WIDTH / 2, "tire_inner": HUB_FACE - WIDTH / 2, "track": 2 * HUB_FACE,
        "overall_diameter": DIAMETER, "section_width": WIDTH, "backspacing": OVERALL / 2, "hub_height": 310,
        "camber": 0, "toe_in": 0, "scrub_radius": None, "mechanical_trail": None, "caster": None,
        "kingpin_inclination": None,
    }  # fmt: skip
    assert found == {key: value if value is None else pytest.approx(value) for key, value in by_hand.items()}


@pytest.mark.parametrize("offset", [-25, 0, 38])
@pytest.mark.parametrize("spacer", [0, 15])
def test_offset_and_spacer_move_the_wheel_whole(check: Check, offset: float, spacer: float) -> None:
    data = vehicle()
    bench_setup(data).update(wheel=f"17x8 ET{offset} 5x114.3 CB67.1", spacer=spacer)
    found = check(data)["stance"]
    out = spacer - offset
    for key, at_zero in (("outer_face", OVERALL / 2), ("tire_outer", WIDTH / 2), ("tire_inner", -WIDTH / 2)):
        assert found[key] == pytest.approx(HUB_FACE + at_zero + out)
    assert found["track"] == pytest.approx(2 * (HUB_FACE + out))
    assert found["backspacing"] == pytest.approx(OVERALL / 2 + offset), "the wheel's own, whatever the spacer"


def test_loaded_radius_is_the_free_one_less_the_baselines_deflection(check: Check) -> None:
    # the baseline's tire is 634 / 2 free and stands 310 high: pressed in by 7, as any other tire is
    data = vehicle()
    tire = {"code": "225/45R17 94W XL", "section_width": WIDTH, "on_rim": 8, "overall_diameter": 654}
    data["builds"]["tall"] = {"front": bench_setup(data) | {"tire": tire}}
    assert check(data, "--build", "tall")["stance"]["hub_height"] == pytest.approx(654 / 2 - 7)
    assert check(data, "--build", "tall")["change"]["hub_height"] == pytest.approx(10)
    assert check(data, "--loaded-radius", "300")["stance"]["hub_height"] == pytest.approx(300)


def test_a_hub_above_its_tires_free_radius_is_a_caution_and_no_deflection(check: Check) -> None:
    answer = check(vehicle(hub_height=330))
    assert answer["stance"]["hub_height"] == pytest.approx(DIAMETER / 2)
    assert any("330" in words and "from centre to tread" in words for words in answer["cautions"])


def test_a_high_hub_is_judged_with_its_camber(check: Check) -> None:
    # top in by 6 deg, wheel 44 out: the radius is (314 + 44 sin 6) / cos 6 = 320.4, more than the 317 of the tire;
    # with the wheel 44 in it is 311.1; the hub alone, 314, would say nothing
    data = vehicle(hub_height=314, suspension={"kind": "tape", "camber": -6.0})
    for offset, high in ((-44, True), (44, False)):
        bench_setup(data)["wheel"] = f"17x8 ET{offset} 5x114.3 CB67.1"
        assert any("too high for the baseline's tire" in words for words in check(data)["cautions"]) == high


def test_camber_moves_the_contact_out(check: Check) -> None:
    # top in by 2 deg: the contact is straight below the hub by 310 as measured, and out by 310 tan
    found = check(vehicle(suspension={"kind": "tape", "camber": -2.0}))["stance"]
    tilt = math.radians(2)
    assert found["track"] == pytest.approx(2 * (HUB_FACE + 310 * math.tan(tilt)))
    assert found["hub_height"] == pytest.approx(310)
    assert found["outer_face"] == pytest.approx(HUB_FACE + OVERALL / 2 * math.cos(tilt))
    assert found["camber"] == pytest.approx(-2)


@pytest.mark.parametrize("spacer", [0, 20])
@pytest.mark.parametrize("offset", [38, 0, -44])
@pytest.mark.parametrize("camber", [-6.0, -0.5, 3.0])
def test_the_hub_stands_as_high_as_it_was_measured(check: Check, camber: float, offset: float, spacer: float) -> None:
    """Whatever its camber; and on another wheel as the tire, pressed in as much, carries it.

    The wheel's centre stands c = spacer - ET out along an axis that with its top t inboard points up by t, so it stands
    c sin t higher than the hub, and R cos t above the ground: 300 = R cos t - c sin t.
    """
    data = vehicle(suspension={"kind": "tape", "camber": camber}, hub_height=300)
    bench_setup(data).update(wheel=f"17x8 ET{offset} 5x114.3 CB67.1", spacer=spacer)
    tall = {"code": "225/45R17 94W XL", "section_width": WIDTH, "on_rim": 8, "overall_diameter": 640}
    data["builds"]["other"] = {"front": {"wheel": "17x8 ET20 5x114.3 CB67.1", "tire": tall, "ride": "level"}}
    assert check(data)["stance"]["hub_height"] == pytest.approx(300)
    tilt, out = math.radians(-camber), spacer - offset
    found = check(data, "--build", "other")["stance"]
    other = (300 + out * math.sin(tilt)) / math.cos(tilt) + (640 - DIAMETER) / 2
    assert found["hub_height"] == pytest.approx(other * math.cos(tilt) + 20 * math.sin(tilt))


def test_ride_height_takes_its_camber_and_track(check: Check) -> None:
    rates = {"kind": "tape", "camber": -1.0, "camber_per_100mm": -2.0, "track_per_100mm": 5.0}
    found = check(vehicle(suspension=rates), "--build", "lowered")["stance"]
    assert found["ride"] == 30
    assert found["camber"] == pytest.approx(-1.6)
    assert found["hub_face"] == pytest.approx(HUB_FACE + 1.5)


def test_steering_geometry_at_rest(check: Check) -> None:
    # the axis leans in by 1 in 10 and back by 1 in 20, through (10, 700) at 150 below the hub, 310 above ground:
    # on the ground it stands 16 further out and 8 further forward
    axis = {"lower": [10, 700, -150], "upper": [-5, 670, 150]}
    data = steered(suspension={"kind": "tape", "steering_axis": axis})
    bench_setup(data)["wheel"] = "17x8 ET20 5x114.3 CB67.1"
    found = check(data)["stance"]
    assert found["kingpin_inclination"] == pytest.approx(math.degrees(math.atan(0.1)), abs=1e-4)
    assert found["caster"] == pytest.approx(math.degrees(math.atan(0.05)), abs=1e-4)
    assert found["scrub_radius"] == pytest.approx(HUB_FACE - 20 - (700 + 16), abs=1e-4)
    assert found["mechanical_trail"] == pytest.approx(10 + 8, abs=1e-4)


def test_change_is_against_the_baseline(check: Check) -> None:
    data = steered()
    bench_setup(data, "lowered").update(wheel="17x8 ET-10 5x114.3 CB67.1", spacer=3)
    change = check(data, "--build", "lowered")["change"]
    assert change["ride"] == 30
    assert change["outer_face"] == change["inner_face"] == change["tire_outer"] == pytest.approx(13)
    assert change["track"] == pytest.approx(26)
    assert change["scrub_radius"] == pytest.approx(13)
    assert change["hub_face"] == change["overall_diameter"] == change["section_width"] == 0
    assert "camber" not in change, "lengths only"


def test_track_of_a_solid_axle_counts_both_corners(check: Check) -> None:
    """A level panhard bar 800 long swings up by 40: its end and both wheels move sideways by 800 - sqrt(800^2 - 40^2).

    One goes out by what the other comes in, so the track stays twice the hub face (camber 0, offset 0).
    """
    points = {"panhard_body": [0, 400, 0], "panhard_axle": [0, -400, 0]}
    data = vehicle(suspension={"kind": "solid_axle", "camber": 0, "toe_in": 0, "points": points})
    data["axles"]["front"]["ride_heights"] = {"level": 0, "low": 40}
    stance = check(data, "--build", "lowered")["stance"]
    assert abs(stance["hub_face"] - HUB_FACE) == pytest.approx(800 - math.sqrt(800**2 - 40**2), abs=1e-3)
    assert stance["track"] == pytest.approx(2 * HUB_FACE)
