"""`fitment new`: typed from the printed sheet, a vehicle is the one it copies; nonsense is asked again, nothing lost.

What is typed stands in answers.py, written by hand from the bundled profiles.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator, Sequence
from itertools import pairwise, product
from pathlib import Path
from typing import Any

import pytest
from answers import COUPE, COUPE_FRONT, COUPE_REAR, COUPE_RIGHT, COUPE_VEHICLE, PICKUP, PICKUP_VEHICLE, WAGON, typed
from click.testing import CliRunner, Result
from conftest import run, run_json
from hypothesis import given, settings
from hypothesis import strategies as st

from fitment.cli import cli
from fitment.errors import FitmentError, ProfileError
from fitment.measuring.interview import Session, read_kept
from fitment.measuring.questions import ALL
from fitment.measuring.questions.forms import Question, numbered, rows
from fitment.measuring.questions.on_wheels import KINDS
from fitment.measuring.questions.parts import SHAPES
from fitment.measuring.questions.second_side import SECOND
from fitment.measuring.typed_answers import read_answer
from fitment.measuring.yaml_writer import yaml_text
from fitment.parts.axle import VEHICLE_CLASSES
from fitment.parts.hub import SEATS
from fitment.profile import bundled_names, load_profile, loads_profile, setup
from fitment.profile.key_rules import _inside, _walk, plausible
from fitment.profile.schema.base import Part
from fitment.profile.schema.obstacles import CARRIERS, BallPart, EdgePart, PanelPart, RingPart, RodPart
from fitment.profile.schema.scans import (
    HubFacePart,
    OldWheelPart,
    ReferencePart,
    RegionPart,
    RimEdgePart,
    ScanPart,
    ScanPosePart,
)
from fitment.profile.schema.whole import ProfileModel
from fitment.profile.yaml_core import load_file, load_text

BUNDLED = Path(__file__).parent.parent / "profiles"


def new(target: Path, answers: Sequence[str], *options: str) -> Result:
    """The command with these answers typed; the end of the list is the end of the input."""
    result = CliRunner().invoke(cli, ["new", str(target), *options], input="".join(f"{line}\n" for line in answers))
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def answered(script: str, upto: int | None = None) -> Session:
    """A session with the answers of a script given."""
    session = Session()
    for text in typed(script)[:upto]:
        session.give("" if text == "done" else text)
    return session


def at(script: str, path: str) -> Session:
    """A session that stands at the first question whose key path ends so."""
    session = Session()
    for text in typed(script):
        if session.current is not None and session.current.question.path.endswith(path):
            return session
        session.give("" if text == "done" else text)
    raise AssertionError(f"no question ends with {path}")


def refusals(output: str) -> list[str]:
    return [line.strip() for line in output.splitlines() if line.strip().startswith("!")]


# ---------------------------------------------------------------- what it is for


@pytest.fixture(scope="module")
def copies(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The bundled vehicles typed from scratch."""
    folder = tmp_path_factory.mktemp("copies")
    for name, script in (("wagon", WAGON), ("coupe", COUPE), ("pickup", PICKUP)):
        result = new(folder / f"{name}.yaml", [*typed(script), "yes"])
        assert result.exit_code == 0, result.output
        assert refusals(result.output) == []
        assert [path.name for path in folder.iterdir() if path.name.startswith(name)] == [f"{name}.yaml"]
    return {path.stem: path for path in folder.iterdir()}


@pytest.mark.slow
@pytest.mark.parametrize(
    ("vehicle", "build"),
    [
        ("wagon", "as_bought"), ("wagon", "wanted"), ("wagon", "chosen"), ("wagon", "big_brake"),
        ("coupe", "stock"), ("coupe", "track_day"), ("coupe", "stance"), ("pickup", "factory"),
        ("pickup", "swapped"), ("pickup", "wide"), ("pickup", "parts_bin"),
    ],
)  # fmt: skip
def test_a_typed_vehicle_has_the_verdict_and_every_number_of_the_one_it_copies(
    copies: dict[str, Path], vehicle: str, build: str, tmp_path: Path
) -> None:
    """What counts in service is not asked for: the vehicle that was copied does not tell it here."""
    text = re.sub(r"\n *service: \w+(?=\n)", "", (BUNDLED / f"{vehicle}.yaml").read_text())
    assert "service:" not in text
    copied = tmp_path / f"{vehicle}.yaml"
    copied.write_text(text)
    ours = run_json("check", str(copies[vehicle]), "--build", build)
    theirs = run_json("check", str(copied), "--build", build)
    assert {answer["axle"] for answer in theirs} == {"front", "rear"}
    for one, other in zip(ours, theirs, strict=True):
        assert one["verdict"] == other["verdict"]
        assert len(one["clearances"]) > 50
        assert one == other


def test_shoulder_rib_and_market_are_written_as_typed_and_left_out_where_skipped() -> None:
    told = COUPE.replace("stock | typed | un", "stock | typed | us").replace(
        "lowered | no | yes | usual | no |", "lowered | no | yes | lugged | yes |", 1
    )
    profile = loads_profile(answered(told).text())
    tires = [setup(profile, axle, build).tire for axle, build in (("rear", "stock"), ("front left", "track_day"))]
    assert [(tire.shoulder, tire.rim_protector, tire.market) for tire in tires] == [
        (None, None, "us"), ("lugged", True, "us")
    ]  # fmt: skip
    assert "shoulder: lugged" in answered(told).text()
    with pytest.raises(FitmentError, match="round, usual, square, lugged"):
        answered(told.replace("yes | lugged", "yes | knobbly"))
    assert "market:" not in answered(COUPE.replace("stock | typed | un", "stock | typed | _")).text()


@pytest.mark.slow
def test_all_kinds_of_suspension_were_typed(copies: dict[str, Path]) -> None:
    kinds = set()
    for path in copies.values():
        axles = load_profile(path).model.axles
        kinds |= {axles.front.suspension.kind, axles.rear.suspension.kind}  # type: ignore[union-attr]
    assert kinds == set(KINDS)


@pytest.mark.slow
@pytest.mark.parametrize("vehicle", ["wagon", "coupe", "pickup"])
def test_show_draws_what_was_typed(copies: dict[str, Path], vehicle: str, tmp_path: Path) -> None:
    result = run("show", str(copies[vehicle]), "--out", str(tmp_path / "points.svg"))
    assert result.exit_code == 0
    assert "fender lip" in result.stdout
    corners = (name for axle in ("front", "rear") for name in load_profile(copies[vehicle]).corners_of(axle))
    for axle in corners:
        assert (tmp_path / f"points-{axle.replace(' ', '-')}.svg").read_text().startswith("<?xml")


def test_every_value_carries_a_remark_of_what_it_is_and_how_it_is_read(copies: dict[str, Path]) -> None:
    text = copies["wagon"].read_text()
    assert 'name: "Long-roof wagon, lowered on donor arms (invented)"  # as you named it' in text
    assert "hub_height: 322  # hub centre above ground, wheels on; tape" in text
    assert "camber: {value: -0.5, tolerance: 0.1}  # negative = top leans inboard; angle gauge" in text
    assert "bore: 84.2  # centring hole; vernier calipers" in text
    assert "hub centre to fender lip, straight up, at the reference pose: 428 mm" in text
    assert max(map(len, text.splitlines())) <= 120


def test_what_was_skipped_is_said_where_it_would_stand() -> None:
    text = answered(WAGON).draft.text()
    rear = text.split("\n  rear:")[1].split("\nbuilds:")[0]
    assert re.search(r"^    # not given: .*\bsteering\b.*\bbrake\b", rear, re.MULTILINE)
    assert "      # not given: nut, nut_seat" in rear


# ---------------------------------------------------------------- the same order as the sheet


@pytest.mark.parametrize("script", [WAGON, COUPE, PICKUP], ids=["wagon", "coupe", "pickup"])
def test_questions_come_in_the_order_of_the_sheet(script: str) -> None:
    """Numbers rise, but where a list goes on or the next axle, part or build begins."""
    session, seen = Session(), []
    for text in typed(script):
        assert session.current is not None
        section, number = map(int, session.current.numbered.number.split("."))
        seen.append((section, number, session.current.axle, session.current.subject))
        session.give("" if text == "done" else text)
    assert session.current is None
    for before, after in pairwise(seen):
        same = before[2:] == after[2:] or (before[3] == "" and after[0] == before[0] and before[1] == 1)
        assert after[:2] >= before[:2] or not same, (before, after)


def test_the_kind_on_the_command_line_is_what_enter_takes(tmp_path: Path) -> None:
    script = typed(COUPE)
    result = new(tmp_path / "a.yaml", [*script[: script.index("strut")], "", "back", "quit"], "--kind", "strut")
    assert result.output.count("[strut] >") == 2
    assert at(COUPE, "suspension/kind").offered() == "tape"


# ---------------------------------------------------------------- one answer

TAPE, STRUT = {"kind": "tape"}, {"kind": "strut"}
WIDTH = ("axles", "front", "hub_face_width")
DROOP = ("axles", "front", "travel", "droop")
CIRCLE = ("axles", "front", "hub", "bolt_circle")
BALL = ("axles", "front", "suspension", "points", "lower_ball")
CAMBER = ("axles", "front", "suspension", "camber")
READINGS = ("axles", "front", "suspension", "readings", 0)
LOAD = ("axles", "front", "axle_load")


def read(form: Any, path: tuple[str | int, ...], text: str, units: str = "mm", **more: Any) -> Any:
    unit = {"number": "kg", "rim": "in"}.get(form, "")
    return read_answer(Question("x", "x", form, unit=unit, example="980"), path, text, units=units, **more)


@pytest.mark.parametrize(
    ("form", "path", "text", "units", "plain"),
    [
        ("length", WIDTH, "1588", "mm", 1588),
        ("length", WIDTH, " 62 1/2 in ", "mm", "62 1/2 in"),
        ("length", WIDTH, '62.5"', "mm", '62.5"'),
        ("length", WIDTH, "1588 +- 2", "mm", {"value": 1588, "tolerance": 2}),
        ("length", WIDTH, "1588 \u00b1 2", "mm", {"value": 1588, "tolerance": 2}),
        ("length", WIDTH, "1588+/-1/16 in", "mm", {"value": 1588, "tolerance": "1/16 in"}),
        ("length", WIDTH, "62 1/2 in +- 1/16", "mm", {"value": "62 1/2 in", "tolerance": "1/16 in"}),
        ("length", WIDTH, "62.5", "in", "62.5 in"),
        ("length", WIDTH, "62 1/2", "in", "62 1/2 in"),
        ("length", WIDTH, "1588 mm", "in", 1588),
        ("length", DROOP, "\u221270", "mm", -70),
        ("angle", CAMBER, "-0.5", "mm", -0.5),
        ("angle", CAMBER, "-0.5\u00b0 +- 0.1 deg", "mm", {"value": -0.5, "tolerance": 0.1}),
        ("point", BALL, "7, 682, -133", "mm", [7, 682, -133]),
        ("point", BALL, "7 682 -133", "mm", [7, 682, -133]),
        ("point", BALL, "1/4 in, 26 7/8 in, -5 1/4 in", "mm", ["1/4 in", "26 7/8 in", "-5 1/4 in"]),
        ("point", BALL, "7, 682 +- 1, -133", "mm", [7, {"value": 682, "tolerance": 1}, -133]),
        ("point", BALL, "clock 270, radius 133, out -90", "mm", {"clock": 270, "radius": 133, "out": -90}),
        ("point", BALL, "out=-90 radius: 133 clock 270 hub", "mm",
         {"clock": 270, "radius": 133, "out": -90, "square_to": "hub"}),
        ("circle", CIRCLE, "5x4.5in", "mm", "5x4.5in"),
        ("circle", CIRCLE, "5x4.5", "mm", "5x4.5"),
        ("number", LOAD, "980 kg", "mm", 980),
        ("yes", (), "Y", "mm", True),
        ("clock", ("axles", "front", "brake", "caliper", "clock"), "140, 215", "mm", [140, 215]),
        ("share", ("axles", "front", "steer_limit"), "80, 0.6", "mm", [80, 0.6]),
        ("raised", READINGS, "80, 3 +- 1, -2.4", "mm",
         {"travel": 80, "out": {"value": 3, "tolerance": 1}, "camber": -2.4}),
        ("raised", READINGS, "-3 in, -, 0.5 deg", "mm", {"travel": "-3 in", "camber": 0.5}),
        ("named", ("axles", "front", "ride_heights"), "low and slow = 1 1/2 in", "mm", {"low and slow": "1 1/2 in"}),
    ],
)  # fmt: skip
def test_an_answer_as_it_stands_in_the_profile(form: Any, path: Any, text: str, units: str, plain: Any) -> None:
    assert read(form, path, text, units, words=TAPE if form == "raised" else STRUT) == plain


@pytest.mark.parametrize(
    ("form", "path", "text", "units", "said"),
    [
        ("length", WIDTH, "62.2", "mm", r"not a plausible hub face width \(900 to 2600 mm\); inches\? write 62.2 in"),
        ("length", WIDTH, "1588", "in", r"millimetres\? write 1588 mm"),
        ("length", WIDTH, "158.8", "mm", "centimetres"),
        ("length", WIDTH, "62 1/2", "mm", "fraction without a unit; write 62 1/2 in"),
        ("length", WIDTH, "1588,5", "mm", r"decimal comma\? write 1588.5"),
        ("length", WIDTH, "1e3", "mm", "write it as 1000"),
        ("length", WIDTH, "about 1588", "mm", "not a quantity"),
        ("length", WIDTH, "5 parsec", "mm", "not a plausible"),
        ("length", WIDTH, "1588 +- ", "mm", "one tolerance"),
        ("length", WIDTH, "1588 +- -2", "mm", "never negative"),
        ("length", WIDTH, "1588 +- 900", "mm", "not plausible"),
        ("length", WIDTH, "nan", "mm", "not a quantity"),
        ("length", DROOP, "70", "mm", r"is the sign right\? -70 mm would be accepted"),
        ("length", DROOP, "2.5", "in", r"is the sign right\? -2.50 in would be accepted"),
        ("angle", CAMBER, "16", "mm", r"16 degrees is not a plausible camber \(-15 to 15 degrees\)"),
        ("angle", CAMBER, "half", "mm", "not a number of degrees"),
        ("point", BALL, "0.3, 27, -5", "mm", r"inches\? write 27 in"),
        ("point", BALL, "7, 682", "mm", "2 values"),
        ("point", BALL, "7,5, 682, -133", "mm", "4 values"),
        ("point", BALL, "clock 270, radius 133", "mm", "write clock 90, radius 402, out 30"),
        ("circle", CIRCLE, "5x11.43", "mm", r"write 5x11.43in or 5x11.43cm.*80 and more as mm"),
        ("circle", CIRCLE, "5\u00d7114.3", "mm", "write the letter x"),
        ("number", LOAD, "2160 stone", "mm", "not kg"),
        ("number", LOAD, "heavy", "mm", "not a number"),
        ("wheel", (), "20 inches", "mm", "rim size"),
        ("tire", (), "33x12.50", "mm", "flotation size without its rim"),
        ("yes", (), "maybe", "mm", "neither yes nor no"),
        ("text", ("name",), "a\x07b", "mm", "control character"),
        ("share", ("axles", "front", "steer_limit"), "80, 60 %", "mm", "60 % is 0.6"),
        ("raised", READINGS, "80, 3", "mm", "2 values"),
        ("raised", READINGS, "80, -, -", "mm", "give what was read at this travel"),
        ("raised", READINGS, "80, 300, -2", "mm", "not a plausible out"),
    ],
)  # fmt: skip
def test_what_is_refused_says_what_to_type(form: Any, path: Any, text: str, units: str, said: str) -> None:
    with pytest.raises(FitmentError, match=said):
        read(form, path, text, units, words=TAPE if form == "raised" else STRUT)


def test_a_chord_is_turned_into_circles_and_left_to_the_person() -> None:
    """Of five studs on 114.3 mm two neighbours are 114.3 sin 36 deg = 67.18 mm apart; 115 mm is too near to tell."""
    chord = 114.3 * math.sin(math.pi / 5)
    with pytest.raises(FitmentError, match=r"5x114.3 \(4.5 in\) or 5x115; .* 114.3 mm.*measure again"):
        read("circle", CIRCLE, f"5 chord {chord:.2f}")
    with pytest.raises(FitmentError, match=r"6x139.7"):
        read("circle", CIRCLE, "6 chord 2.75 in")  # 139.7 mm = 5.5 in, and of six the chord is the radius
    with pytest.raises(FitmentError, match="no bolt circle of a wheel"):
        read("circle", CIRCLE, "5 chord 3")


@settings(max_examples=300)
@given(
    form=st.sampled_from(
        ["length", "angle", "point", "row", "pair", "clock", "share", "raised", "named", "ride", "circle", "thread",
         "wheel", "tire", "number", "rim", "yes", "word", "names", "lengths", "angles", "text"]
    ),
    text=st.one_of(st.text(max_size=40), st.from_regex(r"[-+0-9./,;=x\"' a-z]{0,25}", fullmatch=True)),
    units=st.sampled_from(["mm", "in"]),
)  # fmt: skip
def test_any_text_is_read_or_refused_in_words(form: Any, text: str, units: str) -> None:
    paths: dict[str, tuple[str | int, ...]] = {
        "length": WIDTH, "angle": CAMBER, "point": BALL, "circle": CIRCLE, "number": LOAD,
        "row": ("axles", "front", "obstacles", 0, "rows"), "pair": ("axles", "front", "brake", "caliper", "outline"),
        "clock": ("axles", "front", "brake", "caliper", "clock"), "share": ("axles", "front", "steer_limit"),
        "named": ("axles", "front", "ride_heights"), "thread": ("axles", "front", "hub", "stud"), "text": ("name",),
        "raised": READINGS,
        "rim": ("builds", "a", "front", "tire", "on_rim"), "lengths": ("axles", "front", "adjusters", 0, "out"),
        "angles": ("axles", "front", "adjusters", 0, "now"),
    }  # fmt: skip
    words = {"kind": "strut", "shape": "panel"}
    try:
        plain = read(form, paths.get(form, ()), text, units, words=words, choices=("level", "low"))
    except FitmentError:
        plain = "refused"
    else:
        assert load_text(yaml_text({"key": plain})).data == {"key": plain}


# ---------------------------------------------------------------- parts as a whole


def test_a_part_that_is_wrong_as_a_whole_is_asked_again_where_it_is_wrong(tmp_path: Path) -> None:
    """The upper point of the steering axis below the lower one: only this point is asked for again."""
    script = typed(WAGON)
    place = script.index("-14, 622, 205")
    wrong = [*script[:place], "-14, 622, -205", "-14, 622, 205", *script[place + 1 :], "yes"]
    result = new(tmp_path / "axis.yaml", wrong)
    assert result.exit_code == 0
    assert refusals(result.output) == [
        "! upper is not above lower (z is up); are the two mixed up? Answer this again:",
    ]
    assert (tmp_path / "axis.yaml").read_text() == answered(WAGON).draft.text()


@pytest.mark.slow
def test_what_only_the_whole_shows_is_asked_again_and_the_rest_kept(tmp_path: Path) -> None:
    """A strut's arm cannot lift the wheel by 400 mm: after all answers only the bump travel is asked for again."""
    script = typed(COUPE)
    place = script.index("85")
    result = new(tmp_path / "bump.yaml", [*script[:place], "400", *script[place + 1 :], "85", "yes"])
    assert result.exit_code == 0, result.output
    assert "travel bump +400 mm is more than the linkage can do" in " ".join(result.output.split())
    assert (tmp_path / "bump.yaml").read_text() == answered(COUPE).draft.text()


@pytest.mark.slow
def test_a_gap_that_no_place_gives_is_asked_again(tmp_path: Path) -> None:
    """hypot(700, 300) = 762 mm from the axle, wherever it is along y; the tire ends at 334.5 mm: 58 mm is no gap."""
    script = WAGON.replace("-300, 520, 90 | 300, 520, 90", "700, 520, 300 | 900, 520, 300").replace("58 mm", "450 mm")
    lines = typed(script)
    place = lines.index("450 mm")
    result = new(tmp_path / "gap.yaml", [*lines[:place], "58 mm", *lines[place + 1 :], "450 mm", "yes"])
    assert result.exit_code == 0, result.output
    assert "no place along y gives the measured gap of 58 mm" in " ".join(result.output.split())
    assert (tmp_path / "gap.yaml").read_text() == answered(script).draft.text()


@pytest.mark.parametrize(
    ("path", "answer", "said"),
    [
        ("{now}/{axle}/ride", "cruise", "as measured is 0"),
        ("{now}/{axle}/ride", "cruze", 'Did you mean "cruise"'),
        ("wheel/spec", "205/70R15", "tire code"),
        ("tire/code", "205/70R16", "16 in rim, the wheel is 15 in"),
        ("ride_heights", "35", "not a name with a travel"),
        ("suspension/kind", "wishbones", "not one of the words"),
        ("obstacles/{n}/fixed_to", "upper_link", "not one of the words"),
    ],
)
def test_answers_that_contradict_earlier_ones(path: str, answer: str, said: str) -> None:
    session = at(WAGON, path)
    before = list(session.answers)
    with pytest.raises(FitmentError, match=said):
        session.give(answer)
    assert session.answers == before


def test_names_tell_parts_builds_and_heights_apart() -> None:
    session = answered(WAGON, typed(WAGON).index("inner fender"))
    with pytest.raises(FitmentError, match='a part "fender lip" already'):
        session.give("fender lip")
    session = answered(WAGON, typed(WAGON).index("wanted"))
    with pytest.raises(FitmentError, match='a build "as_bought" already'):
        session.give("as_bought")
    session = answered(WAGON, typed(WAGON).index("cruise = 35"))
    with pytest.raises(FitmentError, match='a ride height "parked" already'):
        session.give("parked = 10")


def test_a_hub_higher_than_its_tire_is_questioned_not_refused() -> None:
    # 205/70R15: 381 mm + 2 x 144 mm (205 x 0.70 rounded), UN R30 6.1.2.1: a free radius of 334.5 mm
    assert "more than the tire has from centre to tread (334.5 mm)" in at(WAGON, "hub_height").give("340")[0]
    assert "presses the tire in by 54.5 mm (without load it has 334.5 mm" in at(WAGON, "hub_height").give("280")[0]
    assert at(WAGON, "hub_height").give("322") == ()


# ---------------------------------------------------------------- builds with other parts

SWAP = "a | 20x9 ET30 5x127 CB78.1 | 235/70R20 106H | _ | no | no | no"  # a build of the pickup, its front wheels


def swapped(others: str, answers: str, vehicle: str = PICKUP_VEHICLE) -> Session:
    """A vehicle with one build, on whose front axle something is different."""
    return answered(f"{vehicle}{SWAP} | {others} | _\n{answers}\ndone")


def front_of(session: Session, build: str = "a") -> Any:
    corner = session.finished().corners[build, "front"]
    return corner.axle


def test_of_another_hub_nothing_stays_that_was_not_read() -> None:
    """Studs 38 mm long were measured; of another hub with nothing typed but its width and circle no length is known."""
    session = swapped("hub", "another | 1700 | 6x139.7 | _ | _ | _ | _ | _ | _ | no")
    hub = front_of(session).hub
    assert (hub.bolt_circle[0], hub.stud, hub.stud_length, hub.wheel_register) == (6, None, None, None)
    over = session.draft.profile()["builds"]["a"]["front"]["hub"]
    assert over == {"bolt_circle": "6x139.7", "stud": None, "stud_length": None, "wheel_register": None}
    assert "stud_length: null" in session.draft.text()


def test_of_the_hub_that_was_measured_what_is_skipped_stays() -> None:
    session = swapped("hub", "changed | _ | _ | _ | 50 | _ | _ | _ | _ | no")
    hub = front_of(session).hub
    assert (hub.bolt_circle[0], hub.stud, hub.stud_length.value) == (5, "1/2-20", 50)
    assert session.draft.profile()["builds"]["a"]["front"]["hub"] == {"stud_length": 50}


def test_another_hub_needs_the_readings_that_the_first_one_needed() -> None:
    """Enter does for the hub that was measured; of another one the width has to be read."""
    for whole, may in (("another", False), ("changed", True)):
        session = answered(f"{PICKUP_VEHICLE}{SWAP} | hub | _ | {whole}")
        assert session.current is not None
        assert session.current.question.path.endswith("hub_face_width")
        assert session.current.may_skip is may
        assert (session.current.stays is not None) is may
    with pytest.raises(FitmentError, match=r"inches\? write 67.7 in"):
        session.give("67.7")


@pytest.mark.slow
def test_another_brake_that_was_not_measured_is_not_the_old_one() -> None:
    session = swapped("brake", "another | no | yes | -90, 110 | -90, 190 | -20, 190 | done | _ | _")
    brake = front_of(session).brake
    assert brake.rotor is None
    assert [(y.value, r.value) for y, r in brake.caliper.outline] == [(-90, 110), (-90, 190), (-20, 190)]
    assert [each.value for each in brake.caliper.clock] == [0, 360]  # where it sits is not known: all round
    answer = check_front(session)
    rotor = [each for each in answer["bolt_on"] if "rotor" in each["item"]]
    assert rotor
    assert {each["status"] for each in rotor} == {"not_checked"}


def check_front(session: Session) -> Any:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        target = Path(folder) / "a.yaml"
        target.write_text(session.draft.text())
        return run_json("check", str(target), "--build", "a", "--axle", "front")


def test_arms_of_another_kind_take_the_place_of_the_first() -> None:
    """From hardpoints to a solid axle on a panhard bar: no point of the old arms stays, and nothing moves with them."""
    beam = "another | solid_axle | -1 | 0.1 | _ | no | -70 | 90 | done | -180, 430, 40 | -180, -470, 5"
    beam += " | 4, 715, -150 | -22, 655, 190 | no | yes | 620, 430, 10 | 0, 470, -60 | _"
    session = answered(f"{PICKUP_VEHICLE}{SWAP} | arms | _\n{beam}\ndone | done | done")
    assert session.draft.profile()["builds"]["a"]["front"]["suspension"] == {
        "kind": "solid_axle", "camber": -1, "toe_in": 0.1,
        "points": {"panhard_body": [-180, 430, 40], "panhard_axle": [-180, -470, 5],
                   "lower_ball": [4, 715, -150], "upper_ball": [-22, 655, 190]},
        "links": {"lower_body": [620, 430, 10], "lower_axle": [0, 470, -60]},
    }  # fmt: skip
    with pytest.raises(ProfileError, match='"lower_arm" does not exist in a suspension of kind solid_axle'):
        session.finished()
    moved = answered(f"{PICKUP_VEHICLE}{SWAP} | arms | _\n{beam}\ndone | coil and damper | yes | done | done")
    front = front_of(moved)
    assert front.suspension.kind == "solid_axle"
    assert "coil and damper" not in [each.name for each in front.obstacles]
    assert (front.travel.droop.value, front.travel.bump.value) == (-70, 90)


def test_what_was_set_on_the_first_arms_is_not_known_of_others() -> None:
    coupe = COUPE_VEHICLE + COUPE_FRONT.replace(COUPE_RIGHT, "no") + COUPE_REAR
    arms = """another | strut | -1 | 0.1 | _ | no | -75 | 85 | done | 180, 355, -105 | -160, 350, -112 | 8, 690, -118
    -28, 520, 545 | -8, 548, 150 | -115, 318, -60 | -122, 664, -66 | no | done | done | done"""
    session = answered(f"{coupe}{SWAP.replace('70R20', '40R20')} | arms | _\n{arms}\ndone")
    front = front_of(session)
    assert front.adjusters == ()
    assert front.suspension.stroke is None
    assert [each.name for each in front.low_points] == ["crossmember", "lower arm"]


def test_parts_of_a_build_are_moved_gone_or_new() -> None:
    parts = """frame rail | no | _ | _ | -430, 410, 60 | 430, 410, 60 | done | _ | no
    damper top | ball | body | _ | 0, 470, 400 | 30 | yes | 3 | _ | _ | _
    tie rod end | yes | done"""
    front = front_of(swapped("parts", parts))
    by_name = {each.name: each for each in front.obstacles}
    assert "tie rod end" not in by_name
    assert [each.value for each in by_name["damper top"].at] == [0, 470, 400]
    rail = by_name["frame rail"]
    assert [[each.value for each in point] for point in rail.points] == [[-430, 410, 60], [430, 410, 60]]
    assert (rail.radius.value, rail.tolerance.value) == (10, 3)  # as it was measured
    assert rail.measured_gap is None  # the gap was read where it was before
    assert {"fender lip", "inner fender", "upper ball joint", "coil and damper"} <= set(by_name)


def test_parts_taken_over_from_an_earlier_build_are_its_own() -> None:
    """The second build takes over the first one's hub and changes its studs; the first keeps its own."""
    hub = "another | 1700 | 6x139.7 | M14x1.5 | 45 | _ | _ | 78 | 9 | no"
    second = SWAP.replace("a | ", "b | ", 1) + " | a | hub | _\nchanged | _ | _ | _ | 60 | _ | _ | _ | _ | no\ndone"
    session = answered(f"{PICKUP_VEHICLE}{SWAP} | hub | _\n{hub}\n{second}")
    assert front_of(session, "a").hub.stud_length.value == 45
    taken = front_of(session, "b")
    assert (taken.hub_face_width.value, taken.hub.bolt_circle[0], taken.hub.stud_length.value) == (1700, 6, 60)
    assert session.draft.text().count("stud_length: 45  # how far they stand out of the hub face") == 1


@pytest.mark.slow
def test_an_answer_of_a_build_that_is_wrong_as_a_whole_is_asked_again(tmp_path: Path) -> None:
    """An upper ball joint below the lower one, and a travel that the donor arms cannot do."""
    script = typed(PICKUP)
    place, last = script.index("-24, 692, 215"), script.index("-150, 738, -86")  # of the suspension's points
    wrong = [*script[:place], "-24, 692, -215", *script[place + 1 : last + 1], "-24, 692, 215", *script[last + 1 :]]
    result = new(tmp_path / "ball.yaml", [*wrong, "yes"])
    assert result.exit_code == 0, result.output
    assert refusals(result.output) == [
        "! upper_ball is not above lower_ball (z is up); are the two mixed up? Answer this again:",
    ]
    place = script.index("120", place - 15)
    result = new(tmp_path / "bump.yaml", [*script[:place], "450", *script[place + 1 :], "120", "yes"])
    assert result.exit_code == 0, result.output
    assert "travel bump +450 mm is more than the linkage can do" in " ".join(result.output.split())
    assert (tmp_path / "bump.yaml").read_text() == answered(PICKUP).draft.text()
    assert (tmp_path / "ball.yaml").read_text() == answered(PICKUP).draft.text()


def test_what_is_other_is_one_of_the_words() -> None:
    session = answered(f"{PICKUP_VEHICLE}{SWAP}")
    with pytest.raises(FitmentError, match=r'"brakes" is not one of the words\. Did you mean "brake"'):
        session.give("hub, brakes")


# ---------------------------------------------------------------- tolerances


def test_usual_tolerances_are_what_the_tool_gives_and_say_so() -> None:
    """Typed ones stay; every other reading that places the wheel gets the one printed beside it on the sheet."""
    session = answered(COUPE.replace("typed", "usual"))
    front = session.draft.profile()["axles"]["front"]
    by_path = {each.question.path: each.question for each in numbered(ALL)}
    assert front["hub_face_width"] == {"value": 1496, "tolerance": 2}
    assert front["suspension"]["camber"] == {"value": -0.6, "tolerance": 0.1}
    gives = by_path["axles/{axle}/suspension/toe_in"].gives
    assert front["suspension"]["toe_in"] == {"value": 0.05, "tolerance": gives}
    assert front["travel"]["bump"] == {"value": 85, "tolerance": by_path["axles/{axle}/travel/bump"].gives}
    ball = front["suspension"]["points"]["lower_ball"]
    assert ball == [{"value": each, "tolerance": 3} for each in (8, 690, -118)]
    assert front["hub_height"] == 303  # places nothing
    text = session.draft.text()
    assert "two straightedges, tape; usual tolerance" in text
    assert load_text(text).data == session.draft.profile()


@pytest.mark.slow
def test_usual_tolerances_widen_the_worst_case_and_nothing_else(copies: dict[str, Path], tmp_path: Path) -> None:
    usual = tmp_path / "usual.yaml"
    assert new(usual, [*typed(COUPE.replace("typed", "usual")), "yes"]).exit_code == 0
    plain, wide = (
        {(e["obstacle"], e["part"], e["travel_mm"], e["steer_deg"]): e for e in answer["clearances"]}
        for answer in (
            run_json("check", str(path), "--axle", "front", "--build", "stance") for path in (copies["coupe"], usual)
        )
    )
    assert plain.keys() == wide.keys()
    for key, entry in plain.items():
        assert wide[key]["clearance_mm"] == entry["clearance_mm"]
        assert wide[key]["worst_case_mm"] <= entry["worst_case_mm"] + 1e-6
    assert any(wide[key]["worst_case_mm"] < entry["worst_case_mm"] - 1 for key, entry in plain.items())


def test_a_parts_own_tolerance_is_offered_with_usual_tolerances_only() -> None:
    usual, plain = (at(script, "obstacles/{n}/tolerance") for script in (WAGON.replace("typed", "usual"), WAGON))
    assert (usual.offered(), plain.offered()) == ("3 mm", "")


# ---------------------------------------------------------------- leaving, going on, going back


@pytest.mark.slow
def test_the_input_may_end_anywhere_and_the_same_command_goes_on(tmp_path: Path) -> None:
    script, whole = typed(WAGON), answered(WAGON).draft.text()
    target = tmp_path / "wagon.yaml"
    places = [0, 1, 7, 40, 90, 160, 250, len(script)]
    for start, end in pairwise(places):
        result = new(target, script[start:end])
        assert result.exit_code == 1, result.output
        assert not target.exists()
        assert "Your answers are kept in" in result.output
        assert (start == 0) is ("Going on with" not in result.output)
    result = new(target, ["yes"])
    assert result.exit_code == 0, result.output
    assert target.read_text() == whole
    assert list(tmp_path.iterdir()) == [target]


def test_quit_keeps_the_answers_and_writes_no_profile(tmp_path: Path) -> None:
    target = tmp_path / "a.yaml"
    result = new(target, ["Wagon", "QUIT", "never read"])
    assert result.exit_code == 1
    assert not target.exists()
    assert read_kept(tmp_path / "a.yaml.answers").draft.data == {"name": "Wagon"}


def test_nothing_is_left_behind_before_the_first_answer(tmp_path: Path) -> None:
    assert new(tmp_path / "a.yaml", []).exit_code == 1
    assert list(tmp_path.iterdir()) == []


def test_back_asks_the_question_before_and_offers_what_was_answered(tmp_path: Path) -> None:
    target = tmp_path / "a.yaml"
    new(target, ["Wagn", "note", "back", "back", "Wagon", "", "quit"])
    assert read_kept(target.with_name("a.yaml.answers")).draft.data == {"name": "Wagon", "note": "note"}
    new(target, ["back", "back", "back", "back", "quit"])
    session = read_kept(target.with_name("a.yaml.answers"))
    assert (session.answers, session.offered()) == ([], "Wagon")


@pytest.mark.slow
def test_back_from_every_question_and_on_again_changes_nothing() -> None:
    session, whole = Session(), answered(PICKUP).draft.text()
    for count, text in enumerate(typed(PICKUP), start=1):
        session.give("" if text == "done" else text)
        if count % 3 == 0:
            after = session.current
            assert session.back(2)
            assert len(session.answers) == count - 2
            session.give(session.offered())
            session.give(session.offered())
            assert session.current == after
    assert session.draft.text() == whole
    assert session.back(len(session.answers))
    assert not session.back()
    for _ in typed(PICKUP):
        session.give(session.offered())
    assert session.draft.text() == whole


def test_another_answer_to_a_question_that_others_hang_on() -> None:
    """From tape to strut: the points are asked for; what stands before stays, what no longer fits is not kept."""
    session = answered(WAGON, typed(WAGON).index("fender lip"))
    while session.current is None or not session.current.question.path.endswith("suspension/kind"):
        session.back()
    session.give("strut")
    while session.current is not None and not session.current.question.path.endswith("lower_inner_front"):
        session.give(session.offered())
    assert "readings" not in json.dumps(session.draft.data)
    assert session.draft.data["axles"]["front"]["hub_height"] == 322


def test_a_question_mark_tells_where_with_what_and_why(tmp_path: Path) -> None:
    script = typed(WAGON)
    result = new(tmp_path / "a.yaml", [*script[: script.index("322")], "?", "quit"])
    for line in (
        "Straight up from the ground to the middle of the hub cap.", "With: tape", "Counted from: ground",
        "How exact that is: +-2 mm (common practice)", "Plausible: 150 to 900 mm",
        "What for: how far the tire is pressed in", "This one cannot be skipped.",
    ):  # fmt: skip
        assert line in result.output


def test_words_that_steer_can_be_names_in_quotes(tmp_path: Path) -> None:
    new(tmp_path / "a.yaml", ['"back"', "quit"])
    assert read_kept(tmp_path / "a.yaml.answers").draft.data == {"name": "back"}


@pytest.mark.parametrize(
    "content",
    [b"", b"{}", b"[1, 2]", b"\xff\xfe", b'{"answers": 3}', b"[" * 100_000,
     b'{"answers of fitment new": 9, "units": "mm", "kind": "", "answers": [], "taken back": {}}'],
    ids=["empty", "no keys", "a list", "not text", "no list", "nested", "another format"],
)  # fmt: skip
def test_kept_answers_that_cannot_be_read_are_not_thrown_away(content: bytes, tmp_path: Path) -> None:
    aside = tmp_path / "a.yaml.answers"
    aside.write_bytes(content)
    result = new(tmp_path / "a.yaml", ["Wagon"])
    assert result.exit_code == 2
    assert "--anew" in result.stderr
    assert aside.read_bytes() == content
    assert new(tmp_path / "a.yaml", ["Wagon", "quit"], "--anew").exit_code == 1
    assert read_kept(aside).draft.data == {"name": "Wagon"}


def test_kept_answers_are_read_in_the_units_they_were_typed_in(tmp_path: Path) -> None:
    target = tmp_path / "a.yaml"
    new(target, ["Wagon", "", "107 7/8", "quit"], "--units", "in")
    result = new(target, ["quit"], "--units", "mm")
    assert result.exit_code == 2
    assert "--units in" in result.stderr
    assert new(target, ["quit"]).exit_code == 1
    assert read_kept(tmp_path / "a.yaml.answers").draft.data["wheelbase"] == "107 7/8 in"


# ---------------------------------------------------------------- the file


@pytest.mark.slow
def test_a_file_that_is_there_is_not_replaced_without_asking(tmp_path: Path) -> None:
    target, script = tmp_path / "a.yaml", typed(PICKUP)
    target.write_text("mine\n")
    result = new(target, [*script, "no", "", "quit"], "--anew")
    assert result.exit_code == 1
    assert "exists. It is not changed now; the last question asks" in " ".join(result.output.split())
    assert result.output.count("exists. Replace it?") == 3
    assert target.read_text() == "mine\n"
    other = tmp_path / "b.yaml"
    assert new(target, [str(other), "yes"]).exit_code == 0
    assert target.read_text() == "mine\n"
    assert load_profile(other).name.startswith("Short-bed pickup")
    assert new(target, [*script, "yes"], "--anew").exit_code == 0
    assert target.read_text() == other.read_text()


@pytest.mark.parametrize(
    ("name", "said"), [("a.txt", "written as .yaml"), ("nowhere/a.yaml", "no folder"), ("folder.yaml", "is a folder")]
)
def test_a_target_that_will_not_do_is_refused_before_the_first_question(name: str, said: str, tmp_path: Path) -> None:
    (tmp_path / "folder.yaml").mkdir()
    result = new(tmp_path / name, ["Wagon"])
    assert result.exit_code == 2
    assert said in result.stderr
    assert "Name of the vehicle" not in result.output


HOSTILE = ['": {', "# no", "- x", "true", "1e5", "0x1F", "null", "~", "a: b", "{x}", "&a", "*a", "!!x", "'", "é \u4e2d",
           "12:30", "%s {0}", "yes", "back", "@", "`", "a, b", "|", ">", "1_000", ".5", "=", "a # b"]  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("names", list(zip(HOSTILE[::2], HOSTILE[1::2], strict=True)))
def test_names_stay_the_names_that_were_typed(names: tuple[str, str]) -> None:
    """One of the vehicle and another of a part; all go through one writer."""
    name, part = names
    script = [f'"{part}"' if text == "fender lip" else text for text in typed(PICKUP)]
    script[0] = f'"{name}"'
    session = Session()
    for text in script:
        session.give("" if text == "done" else text)
    profile = session.finished()
    assert profile.name == name
    assert profile.model.axles.front.obstacles[0].name == part  # type: ignore[union-attr]


LETTERS = st.characters(exclude_categories=["Cc", "Cs", "Cn", "Zl", "Zp"], exclude_characters="\ufeff")
plain_values: st.SearchStrategy[Any] = st.recursive(
    st.one_of(
        st.integers(-10_000, 10_000), st.booleans(), st.floats(-1e6, 1e6, allow_nan=False).map(lambda x: round(x, 6)),
        st.text(LETTERS, max_size=12),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4), st.dictionaries(st.text("abc_ :#-", min_size=1, max_size=6), inner, max_size=4)
    ),
    max_leaves=20,
)  # fmt: skip


@given(data=st.dictionaries(st.sampled_from(["name", "a b", "axles", "points"]), plain_values, min_size=1))
def test_any_data_is_read_back_as_it_was_written(data: dict[str, Any]) -> None:
    remarks = {(key,): "what it is; with what # it was read" for key in data}
    assert load_text(yaml_text(data, remarks, {(): ["width"]}, ["a heading"])).data == data


def test_a_remark_cannot_break_out_of_its_line() -> None:
    text = yaml_text({"a": 1}, {("a",): "one\nb: 2\r\u2028c: 3"}, {}, ["x\ny: 1"])
    assert load_text(text).data == {"a": 1}


LENGTHS = ("length", "lengths", "point", "row", "pair", "share", "named")


@pytest.mark.slow
def test_the_same_vehicle_typed_with_units_on_every_length(copies: dict[str, Path], tmp_path: Path) -> None:
    """At a terminal in inches each length of the pickup is typed in mm; those in inches stay: 352 mm is 13.858 in."""
    session = Session("in")
    for text in typed(PICKUP):
        assert session.current is not None
        question = session.current.question
        plain = "" if text == "done" else text
        if question.path.endswith("hub_height"):
            plain = "13.8582677165"  # 352 / 25.4
        elif question.form in LENGTHS and not re.search(r"mm|in$", plain):
            plain = _with_units(plain, question.form)
        elif question.unit in ("kg", "km/h") and plain:
            plain = f"{plain} {question.unit}"
        session.give(plain)
    target = tmp_path / "in.yaml"
    target.write_text(session.draft.text())
    assert "hub_height: 13.8582677165 in" in target.read_text()
    ours, theirs = (run_json("check", str(each), "--build", "factory") for each in (target, copies["pickup"]))
    for one, other in zip(ours, theirs, strict=True):
        assert one["clearances"] == other["clearances"]
        assert one["verdict"] == other["verdict"]


def _with_units(text: str, form: str) -> str:
    """Millimetres written behind every length of an answer."""
    if form == "share":
        return re.sub(r"^(-?\d+)", r"\1 mm", text)
    if form == "named":
        return text + " mm" if text else text
    kept = re.sub(r"(clock) (\d+)", r"\1 \2deg", text)
    return re.sub(r"(?<![\w.])(-?\d+(?:\.\d+)?)(?![\w.])", r"\1 mm", kept).replace("deg", "")


# ---------------------------------------------------------------- complete

SCAN_PARTS: tuple[type[Part], ...] = (
    ScanPart,
    ReferencePart,
    RegionPart,
    OldWheelPart,
    HubFacePart,
    RimEdgePart,
    ScanPosePart,
)
SCANNED = [f"{part.__name__}.{key}" for part in SCAN_PARTS for key in tuple(part.keys())]
# keys that are not asked for, and why
NOT_ASKED = {
    "ProfileModel.format", "ProfileModel.units", "ProfileModel.baseline",  # written without asking
    "AxlePart.hub_face_at",  # of the vehicle as measured it is where the width has it; a build is asked for it
    "TirePart.outline",  # of a contour gauge: stated in the file
    "WheelPart.offset_tolerance",  # typed behind the offset
    # two points are asked for; by angles, or `assumed`, an axis is stated in the file
    "SteeringAxis.kingpin_inclination", "SteeringAxis.caster", "SteeringAxis.offset", "SteeringAxis.ahead",
    "SolidAxleSuspensionPart.steering_axis",
    # readings at a travel are typed in one answer; what is kept beside them is stated in the file
    "TravelReadingPart.travel", "TravelReadingPart.camber", "TravelReadingPart.out", "TravelReadingPart.ahead",
    "TapeSuspensionPart.camber_per_100mm", "TapeSuspensionPart.track_per_100mm",
    "TapeSuspensionPart.camber_bend", "TapeSuspensionPart.out_bend", "TapeSuspensionPart.ahead_bend",
    # links are asked for by their points; how an axle was seen to move in their place is stated in the file
    "AxleLinksPart.ahead_per_100mm", "AxleLinksPart.ahead_bend", "AxleLinksPart.caster_per_100mm",
    # what a build moves or trims is stated in the file
    *(f"{shape}Part.{key}" for shape in ("Edge", "Rod", "Ball", "Panel", "Ring") for key in ("move", "trim")),
    *(f"MovePart.{key}" for key in ("out", "ahead", "up", "away")),
    *(f"TrimPart.{key}" for key in ("by", "first_row", "last_row")),
    # a pry bar tells how far the wheel rocks; what takes a known force, a speed or a choice is stated in the file
    *(f"PlayPart.{key}" for key in ("camber", "lateral", "fore_aft", "toe")),
    *(f"ServicePart.{key}" for key in ("speed", "growth", "corner_g", "sidewall_stiffness", "bulge", "runout")),
    "ServicePart.weights", "ServicePart.chains",
    # a gap is asked for at rest, straight out; a flat panel by its rows: the other ways are stated in the file
    "GapPart.at", "GapPart.along", "GapPosePart.travel", "GapPosePart.lock",
    *SCANNED,  # a scan and what places it is stated in the file
    "PanelPart.corners", "PanelPart.wall", "WallPart.out", "WallPart.up", "WallPart.ahead", "WallPart.above_ground",
}  # fmt: skip


def all_keys(model: type[Part], seen: set[type[Part]]) -> Iterator[str]:
    """Model and key of everything that a profile may hold."""
    if model not in seen:
        seen.add(model)
        for key, name in model.keys().items():
            yield f"{model.__name__}.{key}"
            for each in _inside(model.model_fields[name].annotation)[0]:
                yield from all_keys(each, seen)


def asked_keys() -> Iterator[str]:
    """The same of every step of every question's path, in every kind and shape that it is asked for."""
    for each in rows(ALL):
        if each.question.path.startswith(SECOND):
            yield "AxlePart.right"  # made of these readings
            continue
        when = dict((*each.section.when, *each.question.when))
        kinds = (each.kind,) if each.kind else when.get("kind", KINDS)
        for kind, shape in product(kinds, when.get("shape", SHAPES)):
            at = tuple(0 if step == "{n}" else step for step in each.question.path.split("/"))
            at = tuple(
                step.format(axle="front", now="a", build="b", part="c") if isinstance(step, str) else step
                for step in at
            )
            for i, step in enumerate(at):
                part = _walk(at[:i], {"kind": kind, "shape": shape})[0]
                yield f"{part.__name__}.{step}"


def test_every_key_of_the_profile_is_asked_for_or_said_not_to_be() -> None:
    missing = set(all_keys(ProfileModel, set())) - set(asked_keys())
    rear = {"AxlesPart.rear", "BuildPart.rear"}  # asked as the front is
    assert missing == NOT_ASKED | rear


def test_a_plausible_range_is_the_one_that_the_profile_has() -> None:
    assert plausible(WIDTH, {}) == (900, 2600)
    assert plausible(CAMBER, TAPE) == (-15, 15)
    assert plausible(("builds", "front", "front", "spacer", "register"), {}) == (30, 300)


def test_words_to_choose_from_are_those_that_the_profile_takes() -> None:
    asked = {each.question.path.rpartition("/")[2]: each.question.choices for each in numbered(ALL)}
    assert set(asked["kind"]) == set(CARRIERS)
    assert asked["seat"] == asked["nut_seat"] == SEATS
    assert set(asked["vehicle_class"]) == set(VEHICLE_CLASSES)
    shapes = {
        EdgePart: "edge",
        RodPart: "rod",
        BallPart: "ball",
        PanelPart: "panel",
        RingPart: "ring",
    }
    assert set(SHAPES) == set(shapes.values())


def test_the_bundled_vehicles_that_are_copied_are_bundled() -> None:
    assert {"wagon", "coupe", "pickup"} <= set(bundled_names())
    for name in ("wagon", "coupe", "pickup"):
        assert load_file(BUNDLED / f"{name}.yaml").data["format"] == 1


def test_an_unfinished_profile_is_refused_as_any_other() -> None:
    session = answered(WAGON)
    session.draft.data["axles"]["front"]["hub_height"] = 1
    with pytest.raises(ProfileError, match="hub_height"):
        session.finished()


def test_the_command_line_offers_the_kinds_that_there_are() -> None:
    from fitment.cli.measuring import KINDS as OFFERED

    assert OFFERED == KINDS
