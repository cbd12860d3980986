"""From a profile to an axle and a setup: every key, the merge of builds, points, tolerances, the JSON Schema."""

from __future__ import annotations

import copy
import math
import re
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from scipy.optimize import brentq

from fitment import frames
from fitment import profile as profiles
from fitment.errors import ProfileError
from fitment.parts.axle import Axle, LinkSuspension, Spacer, Steering, TapeSuspension
from fitment.parts.hub import Adapter, BoltCircle, Hub, Register
from fitment.parts.obstacles import MeasuredGap, Obstacle
from fitment.profile import Profile, Reading, load_profile, loads_profile
from fitment.profile.json_schema import profile_json_schema
from fitment.profile.yaml_core import load_file, load_text

EXAMPLE = Path(__file__).parent.parent / "profiles" / "example.yaml"

# hub face to hub face 1600, so the baseline's hub face is at y = 800
BASE = """\
format: 1
name: Invented
axles:
  front:
    hub_face_width: {value: 1600, tolerance: 2}
    hub_height: 300
    suspension:
      {kind: tape, camber: -2, toe_in: 0, camber_per_100mm: -2.4, track_per_100mm: 4, camber_bend: 0, out_bend: 0,
       ahead_bend: 0}
    travel: {droop: -80, bump: 90}
    ride_heights: {low: 40, 1.5 up: -38}
    obstacles:
      - {name: lip, shape: edge, measured_from: hub_face,
         points: [[-330, 22, 250], [0, {value: 30, tolerance: 4}, 400]]}
      - {name: rod, shape: rod, radius: 20, fixed_to: knuckle,
         from: [0, 500, 100], to: {fixed_to: body, at: [0, 520, 400]}}
builds:
  stock: {front: {wheel: 15x6 ET35, tire: 205/70R15, ride: low}}
  wide: {front: {wheel: 20x10 ET30, tire: 275/40R20, hub_face_width: 1700}}
  bare: {}
baseline: stock
"""


def changed(*pairs: tuple[str, str]) -> Profile:
    text = BASE
    for old, new in pairs:
        assert old in text, old
        text = text.replace(old, new, 1)
    return loads_profile(text)


def obstacle(profile: Profile, extra: str, build: str | None = None) -> Obstacle:
    """The obstacle that is written into the profile as one more line."""
    more = BASE.replace("builds:\n", f"      - {extra}\nbuilds:\n", 1)
    return profiles.axle(loads_profile(more), "front", build).obstacles[-1]


def point(extra: str, *, camber: float = -2, toe_in: float = 0, build: str | None = None) -> tuple[float, float, float]:
    """The place of a single measured point, hub face at y = 800."""
    text = BASE.replace("camber: -2, toe_in: 0", f"camber: {camber}, toe_in: {toe_in}")
    text = text.replace("builds:\n", f"      - {{name: p, shape: ball, at: {extra}}}\nbuilds:\n", 1)
    return profiles.axle(loads_profile(text), "front", build).obstacles[-1].points[0]


# the example of the format's description ------------------------------------------------------------------------


def test_the_example_of_the_format() -> None:
    profile = profiles.load_profile("example")
    assert profile.build_names == ("as_bought", "donor", "trimmed")
    assert (profile.baseline, profile.axle_names, profile.wheelbase) == ("as_bought", ("front", "rear"), 2860.0)
    assert "example" in profiles.bundled_names()
    front = profiles.axle(profile, "front").suspension
    assert isinstance(front, LinkSuspension)
    assert dict(front.points)["lower_ball"] == (7.0, 700.0, -133.0)
    rear = profiles.axle(profile, "rear")
    assert rear.hub_face_at == (0.0, 62.5 * 25.4 / 2, 0.0)
    assert rear.hub == Hub(BoltCircle(5, 114.3), "1/2-20", 38.1, Register(70.5, 9.0))
    assert rear.driven
    assert rear.axle_load == 1040.0


def test_the_examples_setups() -> None:
    profile = profiles.load_profile(EXAMPLE)
    donor = profiles.setup(profile, "rear", "donor")
    assert (donor.wheel.offset, donor.wheel.offset_tolerance, donor.wheel.barrel_clear_diameter) == (30.0, 1.0, 462.0)
    assert donor.wheel.spoke_back == ((-40.0, 90.0), (-20.0, 150.0), (-25.0, 215.0))
    assert (donor.tire.section_width, donor.tire.on_rim, donor.tire.tread_width) == (279.0, 9.5, 245.0)
    assert (donor.spacer, donor.ride, donor.ride_name) == (Spacer(5.0), 35.0, "cruise")
    trimmed = profiles.setup(profile, "rear", "trimmed")
    assert trimmed.spacer == Spacer(
        25.0,
        Adapter(
            BoltCircle(6, 139.7), "M14x1.5", 40.0, 78.0, register_length=6.0, nut="M14x1.5", nut_seat="cone",
            hub_circle=BoltCircle(5, 114.3), bore=70.6, seat_thickness=12.0,
        ),
        1.9,
    )  # fmt: skip
    assert (profiles.setup(profile, "front", "trimmed").ride, trimmed.ride) == (20.0, 70.0)


FIVE_LINK = (
    "upper_front_body upper_front_knuckle upper_rear_body upper_rear_knuckle lower_front_body "
    "lower_front_knuckle lower_rear_body lower_rear_knuckle toe_body toe_knuckle"
)


@pytest.mark.parametrize(
    ("kind", "names"),
    [
        ("strut", "lower_inner_front lower_inner_rear lower_ball strut_top strut_axis_point tie_inner tie_outer"),
        ("five_link", FIVE_LINK),
        ("solid_axle", "panhard_body panhard_axle"),
        ("solid_axle", ""),
    ],
)  # fmt: skip
def test_every_kind_of_suspension_is_read(kind: str, names: str) -> None:
    points = ", ".join(f"{name}: [{i}, {400 + 10 * i}, {-100 + 40 * i}]" for i, name in enumerate(names.split()))
    text = f"{{kind: {kind}, points: {{{points}}}}}" if points else f"{{kind: {kind}}}"
    old = (
        "{kind: tape, camber: -2, toe_in: 0, camber_per_100mm: -2.4, track_per_100mm: 4, camber_bend: 0, out_bend: 0,\n"
        "       ahead_bend: 0}"
    )
    profile = changed((old, text), ("fixed_to: knuckle", "fixed_to: body"))
    suspension = profile.model.axles.front.suspension  # type: ignore[union-attr]
    assert suspension.kind == kind
    assert suspension.point_names() == tuple(names.split())
    if points:
        first = names.split(maxsplit=1)[0]
        with pytest.raises(ProfileError, match=f'Did you mean "{first}"'):
            changed((old, text.replace(first, first + "s", 1)), ("fixed_to: knuckle", "fixed_to: body"))


# an axle --------------------------------------------------------------------------------------------------------


def test_an_axle_of_kind_tape() -> None:
    text = """\
format: 1
name: Invented
axles:
  rear:
    driven: true
    axle_load: 980
    top_speed: 180
    hub_face_width: 160 cm
    hub_height: 12 in
    hub_face_at: [5, 799, -2]
    suspension:
      {kind: tape, camber: -0.5, toe_in: 0.05, camber_per_100mm: -2.4, track_per_100mm: 4,
       steering_axis: {lower: [7, 700, -133], upper: {clock: 90, radius: 215, out: -150}}}
    steering: {lock_left: 36, lock_right: 31}
    travel: {droop: -80, bump: 3.5 in}
    ride_heights: {parked: 70, raised: 0}
    steer_limit: [[-80, 1.0], [90, 0.6]]
    brake: {rotor: {diameter: 14 in}, caliper: {outline: [[-95, 120], [-20, 196]], clock: [60, 130]}}
builds:
  stock: {rear: {wheel: 15x6 ET35, tire: 205/70R15}}
baseline: stock
"""
    axle = profiles.axle(loads_profile(text), "rear")
    assert axle == Axle(
        name="rear",
        # hub face at (5, 799, -2); straight up 215 from the hub centre, 150 inboard of the hub face
        suspension=TapeSuspension(-0.5, 0.05, -2.4, 4.0, (7.0, 700.0, -133.0), (5.0, 799.0 - 150.0, -2.0 + 215.0)),
        hub_face_at=(5.0, 799.0, -2.0),
        hub_height=304.8,  # 12 in
        droop=-80.0,
        bump=88.9,  # 3.5 in
        ride_heights=(("parked", 70.0), ("raised", 0.0)),
        steering=Steering(36.0, 31.0),
        steer_limit=((-80.0, 1.0), (90.0, 0.6)),
        driven=True,
        axle_load=980.0,
        top_speed=180.0,
        brake=axle.brake,
    )
    assert axle.brake is not None
    assert axle.brake.rotor is not None
    assert axle.brake.rotor.diameter == 355.6  # 14 in
    assert axle.brake.caliper is not None
    assert axle.brake.caliper.outline == ((-95.0, 120.0), (-20.0, 196.0))
    assert axle.brake.caliper.clock == (60.0, 130.0)


def test_every_shape() -> None:
    profile = loads_profile(BASE)
    ring = obstacle(
        profile, "{name: r, shape: ring, outline: [[-70, 150], [-60, 160]], clock: [10, 350], tolerance: 0}"
    )
    assert ring == Obstacle(
        "r", "ring", fixed_to=("knuckle",), outline=((-70.0, 150.0), (-60.0, 160.0)), clock=(10.0, 350.0)
    )
    panel = obstacle(
        profile,
        "{name: p, shape: panel, solid: behind, side: right, meets: wheel, allowance: 8, tolerance: 3, radius: 1, "
        "rows: [[[-1, 500, 200], [2, 500, 201], [4, 500, 202]], [[-1, 500, 300], [2, 500, 301], [4, 500, 302]]]}",
    )
    assert panel == Obstacle(
        "p",
        "panel",
        points=((-1, 500, 200), (2, 500, 201), (4, 500, 202), (-1, 500, 300), (2, 500, 301), (4, 500, 302)),
        columns=3,
        radius=1.0,
        allowance=8.0,
        tolerance=3.0,
        meets=("wheel",),
        side="right",
        solid_behind=True,
    )
    edge = obstacle(
        profile,
        "{name: e, shape: edge, smooth: true, fixed_to: knuckle, points: [[0, 1, 200], [0, 200, 300]], "
        "measured_gap: {to: wheel, gap: 22 mm}}",
    )
    assert (edge.smooth, edge.fixed_to, edge.measured_gap) == (True, ("knuckle",), MeasuredGap("wheel", 22.0))


def test_a_rods_own_carrier_is_the_default_of_its_ends() -> None:
    rod = profiles.axle(loads_profile(BASE), "front").obstacles[1]
    assert rod.fixed_to == ("knuckle", "body")
    assert rod.points == ((0.0, 500.0, 100.0), (0.0, 520.0, 400.0))


# points ---------------------------------------------------------------------------------------------------------


def test_y_from_the_hub_face_is_counted_from_the_baselines() -> None:
    profile = loads_profile(BASE)
    for build in ("stock", "wide"):
        assert profiles.axle(profile, "front", build).obstacles[0].points == ((-330, 822, 250), (0, 830, 400))
    assert profiles.axle(profile, "front", "wide").hub_face_at == (0.0, 850.0, 0.0)


@pytest.mark.parametrize(
    ("clock", "direction"),
    [(0, (1, 0)), (90, (0, 1)), (180, (-1, 0)), (270, (0, -1)), (-90, (0, -1)), (30, (math.sqrt(3) / 2, 0.5))],
)
def test_clock_points_in_body_axes(clock: float, direction: tuple[float, float]) -> None:
    expected = (400 * direction[0], 800 + 30, 400 * direction[1])
    for build in ("stock", "wide"):
        found = point(f"{{clock: {clock}, radius: 400, out: 30}}", build=build)
        assert found == pytest.approx(expected, abs=1e-6)


def test_clock_points_square_to_a_cambered_hub() -> None:
    # camber -2: the top leans inboard, so the outboard normal points up by 2 degrees and the hub's up inboard
    s, c = math.sin(math.radians(2)), math.cos(math.radians(2))
    top = point("{clock: 90, radius: 400, out: 30, square_to: hub}")
    assert top == pytest.approx((0.0, 800 + 30 * c - 400 * s, 30 * s + 400 * c), abs=1e-6)
    front = point("{clock: 0, radius: 400, out: 30, square_to: hub}")
    assert front == pytest.approx((400.0, 800 + 30 * c, 30 * s), abs=1e-6)


def test_clock_points_square_to_a_toed_in_hub() -> None:
    s, c = math.sin(math.radians(1)), math.cos(math.radians(1))
    front = point("{clock: 0, radius: 400, out: 0, square_to: hub}", camber=0, toe_in=1)
    assert front == pytest.approx((400 * c, 800 - 400 * s, 0.0), abs=1e-6)  # the front of the hub leans inboard
    outward = point("{clock: 0, radius: 400, out: 100, square_to: hub}", camber=0, toe_in=1)
    assert outward == pytest.approx((400 * c + 100 * s, 800 - 400 * s + 100 * c, 0.0), abs=1e-6)


def test_square_to_the_hub_is_the_hub_frame_of_the_baseline() -> None:
    axis = frames.spin_axis(-2.0, -0.5)
    local = frames.hub_rotation(axis).T @ (
        [
            a - b
            for a, b in zip(
                point("{clock: 50, radius: 300, out: -40, square_to: hub}", toe_in=0.5), (0, 800, 0), strict=True
            )
        ]
    )
    angle = math.radians(50)
    assert tuple(local) == pytest.approx((300 * math.cos(angle), -40, 300 * math.sin(angle)), abs=1e-6)


# builds ---------------------------------------------------------------------------------------------------------


def test_maps_merge_deeply_and_null_removes() -> None:
    hub = "hub_height: 300\n    hub: {bolt_circle: 5x114.3, stud: M14x1.5, wheel_register: {diameter: 70, length: 8}}"
    over = "hub_face_width: 1700, hub: {stud: null, wheel_register: {length: 5}}, obstacles: null"
    profile = changed(("hub_height: 300", hub), ("hub_face_width: 1700", over))
    assert profiles.axle(profile, "front").hub == Hub(BoltCircle(5, 114.3), "M14x1.5", None, Register(70.0, 8.0))
    wide = profiles.axle(profile, "front", "wide")
    assert wide.hub == Hub(BoltCircle(5, 114.3), None, None, Register(70.0, 5.0))
    assert wide.obstacles == ()


@pytest.mark.parametrize(
    "change",
    [
        "obstacles: {lip: {radius: 7}, rod: null, new: {shape: ball, at: [0, 500, 300]}}",
        "obstacles: [{name: lip, radius: 7}, {name: new, shape: ball, at: [0, 500, 300]}]",
    ],
)
def test_obstacles_merge_by_name(change: str) -> None:
    profile = changed(("hub_face_width: 1700", change))
    found = {each.name: each for each in profiles.axle(profile, "front", "wide").obstacles}
    assert list(found) == (["lip", "new"] if "null" in change else ["lip", "rod", "new"])
    assert found["lip"].radius == 7.0
    assert found["lip"].points == profiles.axle(profile, "front").obstacles[0].points
    assert found["new"].points == ((0.0, 500.0, 300.0),)


def test_another_kind_replaces_a_suspension_whole() -> None:
    profile = changed(
        ("hub_face_width: 1700", "suspension: {kind: solid_axle}, obstacles: {rod: {shape: ball, at: [0, 500, 300]}}")
    )
    assert profile.corners["wide", "front"].axle.suspension.kind == "solid_axle"
    assert profile.corners["wide", "front"].axle.obstacles[1].shape == "ball"


def test_null_removes_a_key_deep_in_a_merge_but_is_refused_elsewhere() -> None:
    with pytest.raises(ProfileError, match="hub_height has no value"):
        changed(("hub_height: 300", "hub_height:"))


def test_texts_of_the_command_line_come_first() -> None:
    profile = loads_profile(BASE)
    found = profiles.setup(profile, "front", wheel="18x8 ET40", tire="225/40R18", spacer="3/4 in", ride="1.5 up")
    assert (found.wheel.spec, found.tire.code) == ("18x8 ET40", "225/40R18")
    assert found.spacer == Spacer(19.05)
    assert (found.ride, found.ride_name) == (-38.0, "1.5 up")
    assert profiles.setup(profile, "front", spacer="20", ride="-12.5").spacer == Spacer(20.0)
    assert profiles.setup(profile, "front", ride="-12.5").ride == -12.5
    assert profiles.setup(profile, "front", ride="1 in").ride == 25.4
    assert profiles.setup(profile, "front").ride_name == "low"
    assert profiles.setup(profile, "front", "wide").ride == 0.0
    with pytest.raises(ProfileError, match=r'profile:20: builds\.bare.*: build "bare" names no wheel and no tire'):
        profiles.setup(profile, "front", "bare")
    assert [profiles.has_setup(profile, "front", name) for name in profile.build_names] == [True, True, False]


def test_a_measured_offset_beats_the_spec_and_says_so() -> None:
    profile = changed(("wheel: 15x6 ET35", "wheel: {spec: 15x6 ET35, offset: 32, offset_tolerance: 1.5}"))
    wheel = profiles.setup(profile, "front").wheel
    assert (wheel.offset, wheel.offset_tolerance) == (32.0, 1.5)
    assert any("offset 32 mm is used, the spec says 35 mm" in text for text in profile.warnings)


# tolerances -----------------------------------------------------------------------------------------------------

LIP = "obstacles[lip].points[1][1]"
SPACER = "spacer: {value: 5, tolerance: 0.2}"


def test_readings() -> None:
    profile = loads_profile(BASE)
    assert profiles.readings(profile, "front") == (Reading("hub_face_width", 2.0, "mm"), Reading(LIP, 4.0, "mm"))
    # in the other build the width is another reading, but the body was measured from the baseline's hub face
    assert profiles.readings(profile, "front", "wide") == (
        Reading(LIP, 4.0, "mm"),
        Reading("baseline:hub_face_width", 2.0, "mm"),
    )


def test_every_kind_of_reading_can_be_moved() -> None:
    profile = changed(
        ("camber: -2", "camber: {value: -2, tolerance: 0.1}"),
        ("low: 40", "low.er: {value: 40, tolerance: 1}"),
        ("ride: low", "ride: low.er"),
        ("from: [0, 500, 100]", "from: {clock: {value: 10, tolerance: 1}, radius: {value: 90, tolerance: 2}, out: 5}"),
        ("radius: 20", "radius: {value: 20, tolerance: 0.5}, tolerance: 3"),
        ("wheel: 15x6 ET35", SPACER + ", wheel: {spec: 15x6 ET35, offset: 35, offset_tolerance: 1}"),
    )  # fmt: skip
    found = {reading.path: reading.unit for reading in profiles.readings(profile, "front")}
    assert found == {
        "hub_face_width": "mm",
        "suspension.camber": "deg",
        "ride_heights[low.er]": "mm",
        LIP: "mm",
        "obstacles[rod].radius": "mm",
        "obstacles[rod].from.at.clock": "deg",
        "obstacles[rod].from.at.radius": "mm",
        "spacer.thickness": "mm",
    }
    plain = profiles.axle(profile, "front")
    for path in found:
        same = profiles.axle(profile, "front", moved={path: 0.5}) == plain
        assert same == path.startswith("spacer"), path
    assert profiles.setup(profile, "front", moved={"spacer.thickness": 0.2}).spacer == Spacer(5.2)
    assert profiles.setup(profile, "front", moved={"ride_heights[low.er]": 1.0}).ride == 41.0
    assert profiles.setup(profile, "front").wheel.offset_tolerance == 1.0


def test_moving_a_reading() -> None:
    profile = loads_profile(BASE)
    moved = profiles.axle(profile, "front", moved={"hub_face_width": 2.0, LIP: -3.0})
    # half the width on each side: 801; the lip is counted from there
    assert moved.hub_face_at == (0.0, 801.0, 0.0)
    assert moved.obstacles[0].points == ((-330.0, 823.0, 250.0), (0.0, 801.0 + 30 - 3, 400.0))
    assert profiles.axle(profile, "front").hub_face_at == (0.0, 800.0, 0.0)


def test_moving_a_reading_of_the_baseline_alone_and_of_the_build_alone() -> None:
    profile = loads_profile(BASE)
    body = profiles.axle(profile, "front", "wide", {"baseline:hub_face_width": 2.0})
    assert (body.hub_face_at[1], body.obstacles[0].points[0][1]) == (850.0, 801.0 + 22)
    wheel = profiles.axle(profile, "front", "wide", {"hub_face_width": 2.0})
    assert (wheel.hub_face_at[1], wheel.obstacles[0].points[0][1]) == (851.0, 800.0 + 22)
    base = profiles.baseline_axle(profile, "front", "wide", {"hub_face_width": 2.0})
    assert base.hub_face_at[1] == 800.0
    base = profiles.baseline_axle(profile, "front", "wide", {"baseline:hub_face_width": 2.0})
    assert base.hub_face_at[1] == 801.0


def test_a_reading_shared_by_build_and_baseline_moves_both() -> None:
    profile = changed(("camber: -2", "camber: {value: -2, tolerance: 0.1}"))
    base = profiles.baseline_axle(profile, "front", "wide", {"suspension.camber": 0.1})
    assert base.suspension.camber == pytest.approx(-1.9)


def test_a_reading_that_only_another_build_has_moves_nothing() -> None:
    new = "obstacles: {new: {shape: ball, at: [0, 500, 300], radius: {value: 9, tolerance: 1}}}"
    profile = changed(("hub_face_width: 1700", new))
    (reading,) = [each for each in profiles.readings(profile, "front", "wide") if "new" in each.path]
    assert profiles.axle(profile, "front", "wide", {reading.path: 1.0}).obstacles[2].radius == 10.0
    assert profiles.axle(profile, "front", moved={reading.path: 1.0}) == profiles.axle(profile, "front")


# cautions -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        # 205/70R15: section height 205 x 0.70 = 143.5, rounded to 144; radius (15 x 25.4 + 2 x 144) / 2 = 334.5 mm.
        # At 2 deg of camber the tire's middle, ET 35 inside the hub face, is 35 sin 2 = 1.2 mm lower than the hub face,
        # and its radius stands aslant: (336 - 1.2) / cos 2 = 335.0 is above 334.5; (274.5 - 1.2) / cos 2 = 273.4 is
        # 61 below
        ("hub_height: 300", "hub_height: 336", r"front axle: hub_height 336 mm is too high .* 334\.5 mm from centre"),
        ("hub_height: 300", "hub_height: 274.5", r"hub_height 274\.5 mm the baseline's tire is pressed in by 61 mm"),
        ("droop: -80, bump: 90", "droop: -3, bump: 3.5", r"travel of 6\.5 mm in all is very short; inches"),
        ("low: 40", "low: 140", r"ride height low \(140 mm\) lies outside the travel \(-80 to 90 mm\)"),
        (", camber_per_100mm: -2.4", "", r"camber_per_100mm is not given.* assumes that camber stays the same"),
        ("measured_from: hub_face,", "", r"lip: every point lies within 150 mm of the vehicle's centre plane"),
        ("[[-330, 22, 250], ", "[[-13, 1, 10], [0, 1, 16]]}\n      - {name: b, shape: edge, points: [[0, 800, 99], ",
         r"lip: no coordinate is larger than 60 mm; inches"),
        # 205/70R15: 334.5 mm to the tread; a lip 400 mm over the hub read as 300 more, from the ground: 365.5 above it
        ("[[-330, 22, 250], [0, {value: 30, tolerance: 4}, 400]]", "[[-330, 22, 550], [0, 30, 700]]",
         r"lip: it stands 366 mm above the baseline's tire; if z was counted from the ground"),
        ("hub_height: 300", "hub_height: 300\n    hub_face_at: [0, 790, 0]", r"hub_face_at has y = 790 mm, .* 800 mm"),
        ("tire: 275/40R20", "tire: 275/40R19", r"build wide: tire 275/40R19 is for a 19 in rim"),
        ("travel: {", "steering: {lock_left: 30, lock_right: 30}\n    travel: {", r"steering_axis: not given, so a"),
        ("travel: {", "adjusters: [{name: a, moves: b, out: [0]}]\n    travel: {", r"adjusters are not used"),
    ],
)  # fmt: skip
def test_cautions(old: str, new: str, words: str) -> None:
    (straight,) = loads_profile(BASE).warnings
    assert straight.startswith("front axle: no steering is given, so the wheel was looked at straight ahead only")
    warnings = changed((old, new)).warnings
    assert any(re.search(words, text) for text in warnings), warnings


def read_at(*readings: str, camber: str = "-0.5") -> tuple[str, ...]:
    """What is told of the front axle with this camber and these readings of a tape."""
    told = f"camber: {camber}, readings: [{', '.join('{' + each + '}' for each in readings)}]"
    usual = "camber: -2, toe_in: 0, camber_per_100mm: -2.4, track_per_100mm: 4"
    return profiles.doubts(changed((usual, told)), "front")


def strut_camber(rise: float, travel: float) -> float:
    """Change of camber [deg] of a strut in the plane across the vehicle, by its closed geometry.

    rise : [deg] by which its arm rises outboard. The arm is 350 mm long, the top mount 600 mm over the ball, and the
    strut leans in by 13 deg.
    """
    inner = -350 * np.array([np.cos(np.radians(rise)), np.sin(np.radians(rise))])
    top, hub = np.array([-600 * np.tan(np.radians(13)), 600]), np.array([60, 100])  # from the ball at rest

    def stands(angle: float) -> tuple[float, float]:
        ball = inner + 350 * np.array([np.cos(angle), np.sin(angle)])
        turn = np.arctan2(*(top - ball)) - np.arctan2(*top)
        return ball[1] + hub[1] * np.cos(turn) - hub[0] * np.sin(turn) - 100, np.degrees(turn)

    at = brentq(lambda angle: stands(angle)[0] - travel, np.radians(rise - 30), np.radians(rise + 25))
    return stands(at)[1]


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        # 2.42 + 0.5 = 2.92 in 80 mm is 3.65 in 100; from droop to bump only 2.42 - 1.18 = 1.24 in 150
        (("travel: 80, camber: 2.42", "travel: -70, camber: 1.18"), r"grows by 2\.9 deg between 0 and 80 mm of travel"),
        # 1.18 + 2.42 = 3.6 in 150 mm is 2.4 in 100
        (
            ("travel: -80, camber: -2.42", "travel: 70, camber: 1.18"),
            r"by 3\.6 deg between -80 and 70 mm of travel, so",
        ),
        (("travel: -80, camber: -1.8", "travel: 70, camber: 0.8"), r"sign of camber swapped, or of travel\?.* no publ"),
    ],
)
def test_camber_that_grows_in_bump_is_asked_about(readings: tuple[str, ...], words: str) -> None:
    assert [text for text in read_at(*readings) if re.search(words, text)]
    swapped = [re.sub(r"camber: (-?)", lambda sign: "camber: " + ("" if sign[1] else "-"), each) for each in readings]
    assert not [text for text in read_at(*swapped, camber="0.5") if "camber grows" in text]


def test_camber_of_a_strut_whose_arm_rises_far_is_no_doubt() -> None:
    """Lowered so far that the arm rises by 20 deg, it leans out in bump; a vehicle hardly stands lower."""
    far = [f"travel: {travel}, camber: {-0.5 + strut_camber(20, travel):.2f}" for travel in (-80, 50)]
    assert strut_camber(20, 50) > 1
    assert not [text for text in read_at(*far) if "camber grows" in text]
    near = ("travel: 15, camber: 0.2", "travel: -15, camber: -0.5")  # what a gauge is off by
    assert not [text for text in read_at(*near) if "camber grows" in text]


def test_camber_that_leans_out_far_is_asked_about() -> None:
    words = "camber +5 deg: the top leans out; was the sign swapped? Top in is negative (told from +3 deg on: common"
    assert [text for text in read_at("travel: 80, camber: 3", camber="5") if text.startswith(words)]
    for camber in ("3", "-5", "-12"):
        assert not [text for text in read_at("travel: 80, camber: -3", camber=camber) if "leans out;" in text]


@pytest.mark.parametrize(
    ("points", "asked"),
    [
        ("[[84, -400, 30], [98, -190, 378], [100, 0, 428], [98, 190, 378]]", True),
        ("[[-400, 84, 30], [-190, 98, 378], [0, 100, 428], [190, 98, 378]]", False),  # as it is
        ("[[84, -400, 30], [98, -190, 378], [100, 0, 428], [98, 100, 378]]", False),  # a seam over the tire
        ("[[384, -400, 30], [398, -190, 378], [400, 0, 428], [398, 190, 378]]", False),  # a bumper's end, ahead of it
    ],
)
def test_a_lip_that_runs_across_the_wheel_is_asked_about(points: str, asked: bool) -> None:
    profile = changed(("[[-330, 22, 250], [0, {value: 30, tolerance: 4}, 400]]", points))
    words = "lip: it runs from 400 mm inboard of the hub face to 190 mm outboard of it, across the wheel; were x and y"
    assert bool([text for text in profiles.doubts(profile, "front") if text.startswith(words)]) is asked


def test_no_bundled_vehicle_has_swapped_signs() -> None:
    for name in profiles.bundled_names():
        vehicle = load_profile(name)
        for build in vehicle.build_names:
            told = [text for axle in vehicle.axle_names for text in profiles.doubts(vehicle, axle, build)]
            assert not [text for text in told if "swapped" in text], (name, build)


def test_steering_is_asked_for_where_an_axle_steers() -> None:
    """A front axle does; a rear one where its steering axis is given."""
    steering = "steering: {lock_left: 30, lock_right: assumed}"
    told = changed(("hub_height: 300", f"hub_height: 300\n    {steering}")).warnings
    assert not any("no steering is given" in text for text in told)
    assert loads_profile(BASE.replace("front:", "rear:")).warnings == ()
    axis = "steering_axis: {lower: [0, 700, -100], upper: [0, 650, 200]}"
    rear = BASE.replace("front:", "rear:").replace("camber: -2,", f"camber: -2, {axis},")
    assert any(text.startswith("rear axle: no steering is given") for text in loads_profile(rear).warnings)


# JSON Schema ----------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def validator() -> Any:
    schema = profile_json_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    return jsonschema.Draft202012Validator(schema)


@pytest.fixture(scope="module")
def example() -> Any:
    return load_file(EXAMPLE).data


def test_the_example_is_valid_under_the_schema(validator: Any, example: Any) -> None:
    assert [error.message for error in validator.iter_errors(example)] == []
    assert [error.message for error in validator.iter_errors(load_text(BASE).data)] == []


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("basline",), "as_bought"),
        (("format",), 2),
        (("axles", "front", "hub_heigth"), 322),
        (("axles", "front", "hub_height"), True),
        (("axles", "front", "hub_face_width"), 62.2),
        (("axles", "front", "hub_face_width"), "62.2"),
        (("axles", "front", "hub_face_width"), {"value": 1588, "tol": 2}),
        (("axles", "front", "hub_face_width"), {"tolerance": 2}),
        (("axles", "front", "travel"), {"droop": -80}),
        (("axles", "front", "suspension", "points", "upper_bal"), [1, 2, 3]),
        (("axles", "front", "suspension", "kind"), "wishbone"),
        (("axles", "front", "obstacles", 0, "radus"), 3),
        (("axles", "front", "obstacles", 0, "points"), [[0, 30]]),
        (("axles", "front", "obstacles", 2, "at"), {"clock": 90, "radius": 402}),
        (("axles", "front", "obstacles", 2, "at"), {"clock": 90, "radius": 402, "out": 3, "square": "hub"}),
        (("axles", "front", "note"), None),
        (("builds", "donor", "fron"), {}),
        (("builds", "donor", "front", "whel"), "20x10 ET30"),
        (("builds", "donor", "front", "hub"), {"stud_lenght": 40}),
        (("builds", "donor", "rear", "wheel", "spoke"), 3),
    ],
)
def test_mistakes_are_invalid_under_the_schema(validator: Any, example: Any, path: Any, value: Any) -> None:
    data = copy.deepcopy(example)
    node = data
    for step in path[:-1]:
        node = node[step]
    node[path[-1]] = value
    assert not validator.is_valid(data)


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("axles", "front", "hub_face_width"), "62 1/2 in"),
        (("axles", "front", "hub_face_width"), {"value": "1588 mm", "tolerance": "1/8 in"}),
        (("axles", "front", "obstacles", 2, "at"), {"clock": 90, "radius": "15 in", "out": 3, "square_to": "hub"}),
        (("axles", "front", "obstacles", 0, "points"), [["1 in", 22, {"value": 250, "tolerance": 2}], [0, 30, 400]]),
        (("builds", "donor", "front", "hub"), {"stud": None, "stud_length": 50}),
        (("builds", "donor", "front", "hub"), None),
        (("builds", "donor", "front", "obstacles"), {"damper": None, "fender lip": {"radius": 2}}),
        (("builds", "donor", "front", "obstacles"), [{"name": "fender lip", "radius": 2}]),
        (("builds", "donor", "front", "suspension"), {"camber": -1.5}),
    ],
)
def test_other_ways_to_write_are_valid_under_the_schema(validator: Any, example: Any, path: Any, value: Any) -> None:
    data = copy.deepcopy(example)
    node = data
    for step in path[:-1]:
        node = node[step]
    node[path[-1]] = value
    assert [error.message for error in validator.iter_errors(data)] == []


def test_every_key_of_the_schema_is_described() -> None:
    def undescribed(node: Any, path: str) -> list[str]:
        if isinstance(node, list):
            return [each for index, item in enumerate(node) for each in undescribed(item, f"{path}/{index}")]
        if not isinstance(node, dict):
            return []
        found = []
        for name, each in (node.get("properties") or {}).items():
            if isinstance(each, dict) and "description" not in each and name not in {"value", "tolerance"}:
                found.append(f"{path}/{name}")
        return found + [each for key, value in node.items() for each in undescribed(value, f"{path}/{key}")]

    assert undescribed(profile_json_schema(), "") == []


def test_exported_names_exist() -> None:
    assert all(hasattr(profiles, name) for name in profiles.__all__)
