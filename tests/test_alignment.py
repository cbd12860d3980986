"""Adjusters and what they reach: arm lengths, toe, hand-worked changes, settings for a target, the command."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
import yaml
from click.testing import CliRunner, Result

from fitment import profile as profiles
from fitment.checks.case import ready
from fitment.cli import cli
from fitment.errors import FitmentError
from fitment.motion.adjuster_reach import Target, nearest_settings, outlines, reachable_alignment
from fitment.motion.adjusters import Setting, adjusted, place_of, positions
from fitment.motion.link_suspension import link_poses
from fitment.motion.suspension import poses_at_lock_fraction
from fitment.parts.axle import Adjuster, Axle, LinkSuspension

BALL = "upper ball joint position"
ECCENTRIC = "lower eccentric bushings"
LOWERED = 75.0

# two level arms of equal length, parallel to x, ball joints one above the other: what a person can do in the head
LEVEL = LinkSuspension(
    "double_wishbone",
    camber=0.0,
    toe_in=0.0,
    points=(
        ("lower_inner_front", (150.0, 400.0, -100.0)),
        ("lower_inner_rear", (-150.0, 400.0, -100.0)),
        ("lower_ball", (0.0, 700.0, -100.0)),
        ("upper_inner_front", (150.0, 400.0, 100.0)),
        ("upper_inner_rear", (-150.0, 400.0, 100.0)),
        ("upper_ball", (0.0, 700.0, 100.0)),
        ("tie_inner", (120.0, 400.0, 0.0)),
        ("tie_outer", (120.0, 700.0, 0.0)),
    ),
)


def level_axle(*adjusters: Adjuster) -> Axle:
    return Axle("front", LEVEL, (0.0, 780.0, 0.0), 320.0, -60.0, 60.0, adjusters=adjusters)


@pytest.fixture(scope="module")
def pickup() -> Axle:
    return ready(profiles.load_profile("pickup"), "front", "swapped").axle


def camber_caster(axle: Axle, travel: float) -> tuple[float, float]:
    pose = poses_at_lock_fraction(axle, travel, 0.0)
    assert pose.axis_lower is not None
    assert pose.axis_upper is not None
    lean = (pose.axis_upper - pose.axis_lower)[0]
    return float(pose.camber[0]), math.degrees(math.atan2(-lean[0], lean[2]))


def test_a_ball_joint_moved_out_leans_the_wheel_out() -> None:
    """Top 4 mm out over 200 mm between the joints: camber + asin(4 / 200); the arms turn by less than 0.001 deg."""
    axle = level_axle(Adjuster("ball", ("upper_ball",), out=(0.0, 4.0), forward=(0.0,)))
    camber, caster = camber_caster(adjusted(axle, [Setting("ball", out=4.0, forward=0.0)], travel=0.0), 0.0)
    assert camber == pytest.approx(math.degrees(math.asin(4 / 200)), abs=2e-3)
    assert caster == pytest.approx(0.0, abs=1e-9)


def test_a_ball_joint_moved_back_gives_caster() -> None:
    """Top 5 mm back over 200 mm: caster atan(5 / 200) as the top of the axis is rearward."""
    axle = level_axle(Adjuster("ball", ("upper_ball",), out=(0.0,), forward=(-5.0, 0.0)))
    _, caster = camber_caster(adjusted(axle, [Setting("ball", out=0.0, forward=-5.0)], travel=0.0), 0.0)
    assert caster == pytest.approx(math.degrees(math.asin(5 / 200)), abs=5e-3)


def test_both_eccentrics_outboard_push_the_lower_joint_out() -> None:
    """Lower pivots 3 mm out, arm length kept: the bottom goes out 3 mm, camber - asin(3 / 200)."""
    axle = level_axle(Adjuster("cams", ("lower_inner_front", "lower_inner_rear"), eccentric=3.0))
    camber, _ = camber_caster(adjusted(axle, [Setting("cams", angles=(0.0, 0.0))], travel=0.0), 0.0)
    assert camber == pytest.approx(-math.degrees(math.asin(3 / 200)), abs=2e-3)


@pytest.mark.parametrize("angle", [0.0, 90.0, 200.0])
def test_clock_of_an_eccentric(angle: float) -> None:
    """0 is outboard, 90 is up, on a circle about the measured pivot, in the plane square to the pivot line (x here)."""
    adjuster = Adjuster("cams", ("lower_inner_front", "lower_inner_rear"), eccentric=3.0)
    place = place_of(LEVEL, adjuster, Setting("cams", angles=(angle, angle)))["lower_inner_front"]
    a = math.radians(angle)
    assert place == pytest.approx([150.0, 400.0 + 3 * math.cos(a), -100.0 + 3 * math.sin(a)])


def test_known_setting_puts_the_centre_where_it_is() -> None:
    """Measured while set at 90 (up): the same setting changes nothing, 270 moves the pivot down by the diameter."""
    adjuster = Adjuster("cams", ("lower_inner_front",), eccentric=3.0, now=(90.0,))
    same = place_of(LEVEL, adjuster, Setting("cams", angles=(90.0,)))["lower_inner_front"]
    down = place_of(LEVEL, adjuster, Setting("cams", angles=(270.0,)))["lower_inner_front"]
    assert same == pytest.approx([150.0, 400.0, -100.0])
    assert down == pytest.approx([150.0, 400.0, -106.0])


@pytest.mark.parametrize("angles", [(30.0, 30.0), (0.0, 180.0), (105.0, 255.0)])
def test_arm_lengths_stay_and_toe_is_as_given(pickup: Axle, angles: tuple[float, float]) -> None:
    made = adjusted(pickup, [Setting(ECCENTRIC, angles=angles)], travel=LOWERED)
    suspension = made.suspension
    assert isinstance(suspension, LinkSuspension)
    points, pivots = dict(suspension.points), dict(suspension.on_body)
    poses = link_poses(made, suspension, np.linspace(-60, 120, 7), rack=np.zeros(7))
    rotation, shift = poses.motions["knuckle"]
    ball = rotation @ np.array(points["lower_ball"]) + shift
    for name in ("lower_inner_front", "lower_inner_rear"):
        measured = math.dist(points[name], points["lower_ball"])
        assert np.linalg.norm(ball - pivots[name], axis=1) == pytest.approx(measured, abs=1e-9)
    assert -float(poses_at_lock_fraction(made, LOWERED, 0.0).steer[0]) == pytest.approx(suspension.toe_in, abs=1e-9)


def test_reach_is_what_each_setting_gives_on_its_own(pickup: Axle) -> None:
    """The batch agrees with the axle adjusted setting by setting."""
    known = reachable_alignment(pickup, LOWERED)
    for i in np.random.default_rng(5).choice(len(known.settings), 12, replace=False):
        made = adjusted(pickup, known.settings[i], travel=LOWERED)
        assert (known.camber[i], known.caster[i]) == pytest.approx(camber_caster(made, LOWERED), abs=1e-8)


def test_every_setting_lies_in_its_outline(pickup: Axle) -> None:
    from shapely import Polygon, points

    known = reachable_alignment(pickup, LOWERED)
    whole, parts = outlines(known)
    assert len(parts) == 9  # three positions out by three forward
    inside = Polygon(whole).buffer(1e-6).covers(points(known.camber, known.caster))
    assert inside.all()


def test_nearest_beats_every_other_setting(pickup: Axle) -> None:
    target = Target(camber=-1.2, caster=4.5)
    choice = nearest_settings(pickup, LOWERED, target)
    known = reachable_alignment(pickup, LOWERED)
    miss = np.hypot(known.camber - -1.2, known.caster - 4.5)
    assert math.hypot(*choice.left_over) <= miss.min() + 0.011  # as good as the best to a hundredth of a degree
    assert (choice.camber, choice.caster) == pytest.approx(camber_caster(choice.axle, LOWERED), abs=1e-8)
    assert choice.left_over == pytest.approx((-1.2 - choice.camber, 4.5 - choice.caster))


def test_out_of_reach_leaves_something_over(pickup: Axle) -> None:
    choice = nearest_settings(pickup, LOWERED, Target(camber=3.0, caster=None))
    assert choice.camber == pytest.approx(float(reachable_alignment(pickup, LOWERED).camber.max()), abs=0.011)
    assert choice.left_over[0] == pytest.approx(3.0 - choice.camber)
    assert choice.left_over[1] == 0.0


def test_an_eccentric_without_steps_is_turned_finely() -> None:
    axle = ready(profiles.load_profile("coupe"), "front", "track_day").axle
    coarse = reachable_alignment(axle, 30.0)
    middle = (float(coarse.camber.min()) + float(coarse.camber.max())) / 2
    choice = nearest_settings(axle, 30.0, Target(camber=middle, caster=None))
    assert abs(choice.left_over[0]) < 0.02


def test_steps_of_an_eccentric_are_kept() -> None:
    adjuster = Adjuster("cams", ("lower_inner_front",), eccentric=3.0, step=30.0)
    assert [each.angles for each in positions(adjuster)] == [(float(a),) for a in range(0, 360, 30)]


def test_adjusting_does_not_move_the_rack_stops(pickup: Axle) -> None:
    made = adjusted(pickup, [Setting(BALL, out=12.0, forward=0.0)], travel=LOWERED)
    before, after = (poses_at_lock_fraction(axle, 0.0, 1.0).rack for axle in (pickup, made))
    assert before is not None
    assert after is not None
    assert after[0] == pytest.approx(before[0], abs=1e-9)


def test_unknown_adjuster_is_named(pickup: Axle) -> None:
    with pytest.raises(FitmentError, match='no adjuster "upper ball joint"'):
        adjusted(pickup, [Setting("upper ball joint", out=1.0)], travel=0.0)
    with pytest.raises(FitmentError, match="as many angles"):
        adjusted(pickup, [Setting(ECCENTRIC, angles=(15.0,))], travel=0.0)
    with pytest.raises(FitmentError, match="10 deg cannot be set; give 0 to 360 deg in steps of 15 deg"):
        adjusted(pickup, [Setting(ECCENTRIC, angles=(10.0, 15.0))], travel=0.0)
    with pytest.raises(FitmentError, match="not one of its positions"):
        adjusted(pickup, [Setting(BALL, out=30.0)], travel=0.0)
    with pytest.raises(FitmentError, match="hardpoints"):
        adjusted(ready(profiles.load_profile("wagon"), "front").axle, [], travel=0.0)


# the command


def run(*words: str, command: str = "align") -> Result:
    return CliRunner().invoke(cli, [command, *words])


def test_json_holds_the_contract() -> None:
    result = run("pickup", "--axle", "front", "--build", "swapped", "--ride", "lowered", "--camber", "-1.2",
                 "--caster", "4.5", "--format", "json")  # fmt: skip
    data = json.loads(result.stdout)
    assert result.exit_code == 0
    assert {"axle", "rides", "reach", "target", "settings", "left_over"} <= set(data)
    assert set(data["reach"]) == {"travel_mm", "camber_deg", "caster_deg"}
    assert data["target"] == {"camber_deg": -1.2, "caster_deg": 4.5}
    assert [each["adjuster"] for each in data["settings"]] == [BALL, ECCENTRIC]
    ride = data["rides"][0]
    assert (ride["name"], ride["travel_mm"]) == ("lowered", 75.0)
    assert {"camber_deg", "caster_deg", "toe_in_deg", "kingpin_inclination_deg", "scrub_radius_mm"} <= set(ride)


def test_caster_to_ground_by_hand() -> None:
    """At `lowered` both ends of the pickup sink by 75 mm; the tires differ by what the build says."""
    profile = profiles.load_profile("pickup")
    result = run("pickup", "--axle", "front", "--build", "swapped", "--format", "json")
    ride = json.loads(result.stdout)["rides"][0]
    front, rear = (profiles.setup(profile, name, "swapped").tire for name in ("front", "rear"))
    # 275/45R20 stands (508 + 2 x 124) / 2 high, 275/40R20 (508 + 2 x 110) / 2; both pressed in alike
    assert (front.code[:9], rear.code[:9]) == ("275/45R20", "275/40R20")
    # the front wheel leans in: its centre, 30 mm inboard of the hub face (ET30), lies lower, and its radius is tilted
    lean = math.radians(-ride["camber_deg"])
    # 235/70R16 as measured: (406 + 2 x 165) / 2 = 368 free (H = 164.5, to the nearest mm), its hub at 352; in front its
    # top leaned out by 0.2 deg then, so that its centre, 6 inboard (ET6), stood lower than the hub by 6 sin 0.2 deg
    free, out = (406 + 2 * 165) / 2, math.radians(0.2)
    front_hub = ((508 + 248) / 2 - free + (352 + 6 * math.sin(out)) / math.cos(out)) * math.cos(lean)
    front_hub += 30 * math.sin(lean)
    rear_hub = (508 + 220) / 2 - free + 352
    nose_down = math.degrees(math.atan((rear_hub - front_hub) / 2990))
    assert ride["caster_to_ground_deg"] == pytest.approx(ride["caster_deg"] - nose_down, abs=1e-3)


@pytest.mark.slow
@pytest.mark.parametrize("own", [-20, "high"])
def test_caster_to_ground_takes_the_other_axle_as_the_build_has_it(tmp_path: Path, own: object) -> None:
    """The front is lowered by 75; the rear has a `lowered` too, but this build leaves it higher up."""
    data = yaml.safe_load(Path(profiles.load_profile("pickup").path).read_text())
    data["axles"]["rear"]["ride_heights"]["high"] = -20
    data["builds"]["swapped"]["rear"]["ride"] = own
    path = tmp_path / "raked.yaml"
    path.write_text(yaml.safe_dump(data, sort_keys=False))
    states = {
        name: {each["name"]: each for each in json.loads(run(*words, "--axle", "front", "--build", "swapped",
                                                             "--format", "json").stdout)["rides"]}
        for name, words in {"both": ["pickup"], "raked": [str(path)]}.items()
    }  # fmt: skip

    def nose_down(state: dict[str, float]) -> float:
        return math.tan(math.radians(state["caster_deg"] - state["caster_to_ground_deg"]))

    # the rear stands at -20 in place of 75, 95 mm higher over the same wheels: on 2990 mm of wheelbase, at every height
    lowered = states["both"]["lowered"], states["raked"]["lowered"]
    assert nose_down(lowered[1]) - nose_down(lowered[0]) == pytest.approx(95 / 2990, abs=1e-6)
    front = states["raked"]["lowered"]["travel_mm"] - states["raked"]["factory"]["travel_mm"]
    assert nose_down(states["raked"]["lowered"]) > nose_down(states["raked"]["factory"]) + 0.9 * front / 2990


@pytest.mark.slow
def test_settings_go_from_align_into_check(tmp_path: Path) -> None:
    target = tmp_path / "settings.json"
    words = ["pickup", "--axle", "front", "--build", "swapped"]
    run(*words, "--ride", "lowered", "--camber", "-1.2", "--caster", "4.5", "--out", str(target))
    made = CliRunner().invoke(cli, ["check", *words, "--settings", str(target), "--format", "json"])
    plain = CliRunner().invoke(cli, ["check", *words, "--format", "json"])
    assert json.loads(made.stdout)["stance"]["camber"] == pytest.approx(-1.2, abs=0.02)
    assert json.loads(plain.stdout)["stance"]["camber"] == pytest.approx(-3.08, abs=0.02)


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        (("wagon", "--camber", "-1"), "no settings for a target"),
        (("pickup", "--axle", "front", "--camber", "40"), "between -15 and +15 deg"),
        (("pickup", "--axle", "rear", "--build", "swapped", "--caster", "4"), "no settings for a target"),
        (("pickup", "--axle", "front", "--ride", "flying"), "flying"),
    ],
)
def test_bad_input(words: tuple[str, ...], reason: str) -> None:
    result = run(*words)
    assert result.exit_code == 2
    assert reason in result.stderr
    assert "Traceback" not in result.output


@pytest.mark.parametrize("text", ["nonsense", f"{BALL} = sideways", "missing.json", f"{ECCENTRIC} = 90"])
def test_bad_settings(text: str) -> None:
    result = CliRunner().invoke(cli, ["check", "pickup", "--axle", "front", "--build", "swapped", "--settings", text])
    assert result.exit_code == 2
    assert result.stderr.startswith("Error")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (f"{BALL} = out 6 in", "152.4 mm is not one of its positions"),  # 6 x 25.4
        (f"{BALL} = out 6e1", "60 mm is not one of its positions"),
        (f"{BALL} = froward 6", 'Did you mean "forward"'),
        (f"{BALL} = out 6, froward 6", 'Did you mean "forward"'),
        (f"{BALL} = out 6 forward 6", "forward"),
        (f"{BALL} = out 6, out -6", "out is given twice"),
        (f"{BALL} = out 6; {BALL} = out -6", f"{BALL} is set twice"),
        (f"{BALL} = out nan", "nan"),
        (f"{BALL} = 90", "no angles"),
        (f"{ECCENTRIC} = 90, nan", "nan"),
        (f"{ECCENTRIC} = 90, 1e400", "1e400"),
        (f"{ECCENTRIC} = 9_0, 90", "9_0"),
        (f"{ECCENTRIC} = 90 mm, 90", "not an angle"),
    ],
)
def test_settings_are_never_half_read(text: str, words: str) -> None:
    result = run("pickup", "--axle", "front", "--build", "swapped", "--settings", text, command="check")
    assert result.exit_code == 2, result.output
    assert words in result.stderr


@pytest.mark.slow
def test_a_length_of_a_setting_may_have_a_unit() -> None:
    """12 mm is 1.2 cm: the same joint, the same camber."""
    found = [
        run("pickup", "--axle", "front", "--build", "swapped", "--settings", f"{BALL} = {words}", command="check")
        for words in ("out 12", "out 12 mm", "out 1.2 cm, forward 0")
    ]
    assert found[0].exit_code in (0, 1)
    assert {each.stdout for each in found} == {found[0].stdout}


@pytest.mark.parametrize("value", ["NaN", "1e400", "-Infinity", '"6"', "true", "[6]", "{}", "1" + "0" * 400])
@pytest.mark.parametrize("key", ["out_mm", "forward_mm", "lower_inner_front"])
def test_settings_of_a_file_are_numbers(tmp_path: Path, key: str, value: str) -> None:
    given = {"out_mm": "6", "forward_mm": "0", "lower_inner_front": "90"} | {key: value}
    ball = f'"adjuster": "{BALL}", "out_mm": {given["out_mm"]}, "forward_mm": {given["forward_mm"]}'
    angles = f'"lower_inner_front": {given["lower_inner_front"]}, "lower_inner_rear": 90'
    text = f'{{"settings": [{{{ball}}}, {{"adjuster": "{ECCENTRIC}", "angles_deg": {{{angles}}}}}]}}'
    (tmp_path / "s.json").write_text(text)
    result = run("pickup", "--axle", "front", "--settings", str(tmp_path / "s.json"), command="check")
    assert result.exit_code == 2, result.output
    assert "s.json" in result.stderr
    assert key in result.stderr or "angles_deg" in result.stderr or "300 digits" in result.stderr


@pytest.mark.parametrize("text", ["[" * 100_000, '{"settings": [1]}', '{"settings": {"a": 1}}', "\x00", "[]"])
def test_a_file_without_settings(tmp_path: Path, text: str) -> None:
    (tmp_path / "s.json").write_text(text)
    result = run("pickup", "--axle", "front", "--settings", str(tmp_path / "s.json"), command="check")
    assert result.exit_code == 2, result.output
    assert "s.json" in result.stderr


def test_angles_of_a_file_belong_to_its_bushings(tmp_path: Path) -> None:
    """In another order they would be set on the wrong ends of the arm."""
    turned = {"adjuster": ECCENTRIC, "angles_deg": {"lower_inner_rear": 255, "lower_inner_front": 105}}
    (tmp_path / "s.json").write_text(json.dumps({"settings": [turned]}))
    result = run(
        "pickup", "--axle", "front", "--build", "swapped", "--settings", str(tmp_path / "s.json"), command="check"
    )
    assert result.exit_code == 2
    assert "its bushings are lower_inner_front, lower_inner_rear, in this order" in result.stderr
