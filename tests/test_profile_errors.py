"""What a profile refuses: file, line and key path, what was given, what is allowed, what to try."""

from __future__ import annotations

import contextlib
import re
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fitment.errors import ProfileError
from fitment.profile import axle, has_setup, load_profile, loads_profile, setup

GOOD = """\
format: 1
name: Invented tape wagon
note: nothing of this exists
wheelbase: 2700
axles:
  front:
    driven: false
    axle_load: 980
    hub_face_width: 1588
    hub_height: 322
    suspension:
      kind: tape
      camber: -0.5
      toe_in: 0.05
      readings:
        [{travel: 90, camber: -2.66, out: 4, ahead: 2}, {travel: -80, camber: 1.42, out: -3}]
      steering_axis: {lower: [7, 700, -133], upper: [-14, 640, 215]}
    steering: {lock_left: 36, lock_right: 31}
    travel: {droop: -80, bump: 90}
    ride_heights: {parked: 70, cruise: 35, raised: 0}
    steer_limit: [[-80, 1.0], [60, 1.0], [90, 0.6]]
    hub:
      bolt_circle: 5x114.3
      stud: M14x1.5
      stud_length: 42
      wheel_register: {diameter: 70.5, length: 8}
    brake:
      rotor: {diameter: 355, bore: 84.2, mass: 11.5, outline: [[-62, 177.5], [-34, 177.5]]}
      caliper:
        outline: [[-95, 120], [-95, 196], [-22, 196], [-14, 186], [-14, 120]]
        clock: [60, 130]
    obstacles:
      - name: fender lip
        shape: edge
        measured_from: hub_face
        points: [[-330, 22, 250], [0, 30, 400], [330, 22, 250]]
      - {name: liner, shape: panel, rows: [[[-300, 520, 200], [300, 520, 200]], [[-300, 540, 400], [300, 540, 400]]]}
      - {name: damper, shape: rod, radius: 42, from: {at: [-10, 520, 420]}, to: {fixed_to: knuckle, at: [0, 600, -110]}}
      - {name: joint, shape: ball, fixed_to: knuckle, radius: 24, at: {clock: 90, radius: 215, out: -150}}
      - {name: dust shield, shape: ring, outline: [[-70, 150], [-60, 160]], clock: [10, 350]}
builds:
  stock:
    front: {wheel: 15x6 ET35 5x114.3 CB70.6, tire: 205/70R15, ride: raised}
  wide:
    front:
      wheel: {spec: 20x10 ET30 5x114.3 CB70.6, offset: {value: 30, tolerance: 1}}
      tire: {code: 275/40R20, section_width: 279, on_rim: 9.5}
      spacer: 5
      ride: cruise
      hub: {stud_length: 50}
baseline: stock
"""

# (what stands in the good profile, what is put in its place, line of the problem, words of the message)
BAD = [
    ("format: 1", "format: 2", 1, r"format: format 2 is not known.*format: 1"),
    ("format: 1", "format: true", 1, r"format true is not known"),
    ("format: 1\n", "", 1, r"format is missing"),
    ("name: Invented", "nam: Invented", 2, r'unknown key "nam"\. Did you mean "name"\?'),
    ("name: Invented tape wagon", "name: 205", 2, r"name: 205 is not a text; put it in quotes"),
    ("name: Invented tape wagon", "name: ", 2, r"name has no value; give one, or remove the line"),
    ("name: Invented tape wagon", 'name: "a\\x07b"', 2, r"control character U\+0007"),
    ("wheelbase: 2700", "wheelbase: 106", 4, r'106 mm is not a plausible wheelbase.*inches\? write "106 in"'),
    ("driven: false", "driven: yes", 7, r'"yes" is neither true nor false'),
    ("axle_load: 980", "axle_load: 980 stone", 8, r"axle_load.*980 stone.*not in kg or lb"),
    ("axle_load: 980", "axle_load: 9.8", 8, r"9\.8 kg is not a plausible axle_load \(50 to 15000 kg\)"),
    ("width: 1588", "width: 62.2", 9,
     r'hub_face_width: 62\.2 mm is not a plausible hub_face_width \(900 to 2600 mm\); inches\? write "62\.2 in"'),
    ("width: 1588", "width: 158.8", 9, r'centimetres\? write "158\.8 cm"'),
    ("width: 1588", "width: 1.588", 9, r'metres\? write "1\.588 m"'),
    ("width: 1588", "width: 1588 in", 9, r'"1588 in" .*millimetres\? write 1588'),
    ("width: 1588", "width: 62.2 kg", 9, r'"kg" is not a unit of length; use mm, cm, m, in or ft'),
    ("width: 1588", 'width: "1588"', 9, r'"1588" has no unit'),
    ("width: 1588", "width: wide", 9, r'"wide" is not a quantity'),
    ("width: 1588", "width: {value: 1588, tolerence: 2}", 9, r'unknown key "tolerence"\. Did you mean "tolerance"'),
    ("width: 1588", "width: {tolerance: 2}", 9, r"hub_face_width has no value; write \{value"),
    ("width: 1588", "width: {value: 1588, tolerance: -2}", 9, r"a tolerance of -2 is not plausible.*never negative"),
    ("width: 1588", "width: [1588]", 9, r"\[1588\] is not a length"),
    ("width: 1588", "width: true", 9, r"true is not a length"),
    ("    hub_height: 322\n", "", 6, r"axles\.front: hub_height is missing: hub centre above ground .*\[mm\]"),
    ("hub_height: 322", "hub_heigth: 322", 10, r'unknown key "hub_heigth"\. Did you mean "hub_height"'),
    ("hub_height: 322", "hub_height: 12.7", 10, r'inches\? write "12\.7 in"'),
    ("kind: tape", "kind: tapee", 11, r'"tapee" is not a known kind\. Did you mean "tape"\? Allowed here: double_wish'),
    ("      kind: tape\n", "", 11, r"axles\.front\.suspension: kind is missing"),
    ("kind: tape", "kind: strut", 11, r"points is missing: hardpoints"),
    ("camber: -0.5", "camber: -50", 13, r"-50 degrees is not a plausible camber \(-15 to 15 degrees\)"),
    ("camber: -0.5", "camber: half", 13, r'"half" is not a number; write camber as a plain number'),
    ("camber: -0.5", "camber: [null]", 13, r"\[null\] is not a number; write camber as a plain number"),
    ("readings:", "reading:", 15, r'Did you mean "readings"'),
    ("lower: [7, 700, -133]", "lower: [7, 700]", 17, r"2 values where a point is expected; write \[x, y, z\], or"),
    ("lower: [7, 700, -133]", "lower: {clock: 90}", 17, r"a point without radius and out"),
    ("lower: [7, 700, -133]", "lower: {clock: 90, radius: 15, out: 3}", 17, r'15 mm is not a plausible radius.*inches'),
    ("lower: [7, 700, -133]", "lower: [7, -700, -133]", 17,
     r"y of a point.*is the sign right\? 700 mm would be accepted"),
    ("lower: [7, 700, -133]", "lower: [7, 700, 433]", 17, r"upper is not above lower"),
    ("lock_right: 31", "lock_right: -31", 18, r"-31 degrees is not a plausible lock_right.*sign"),
    (", lock_right: 31", "", 18, r"axles\.front\.steering: lock_right is missing"),
    ("droop: -80", "droop: 80", 19, r"80 mm is not a plausible droop .*sign right\? -80 mm would be accepted"),
    ("{droop: -80, bump: 90}", "{droop: 0, bump: 0}", 19, r"droop and bump are both 0"),
    ("{droop: -80, bump: 90}", "-80", 19, r"-80 stands where a map is expected; its keys are droop, bump"),
    ("parked: 70", "parked: [70]", 20, r"axles\.front\.ride_heights\.parked: \[70\] is not a length"),
    ("[60, 1.0], [90, 0.6]", "[60, 1.0], [50, 0.6]", 21, r"the travels of steer_limit must rise"),
    ("[90, 0.6]", "[90, 60]", 21, r"60 is not a share of the lock angle \(0 to 1\)"),
    ("5x114.3\n", "5x11.43\n", 23, r'11\.43 mm in "5x11\.43".*write 5x11\.43in or 5x11\.43cm'),
    ("bolt_circle: 5x114.3", "bolt_circle: 114.3", 23, r"114\.3 is not a text"),
    ("bolt_circle: 5x114.3", "bolt_circle: 5\u00d7114.3", 23, r"codes are plain ASCII: write the letter x"),
    ("stud: M14x1.5", "stud: M14", 24, r'"M14" is not a stud thread; write M14x1\.5'),
    ("stud_length: 42", "studlength: 42", 25, r'Did you mean "stud_length"'),
    ("mass: 11.5", "mass: 1150", 28, r"1150 kg is not a plausible mass"),
    ("[[-62, 177.5], [-34, 177.5]]", "[[-62, 177.5]]", 28, r"1 in the list, at least 2 are expected"),
    ("[-22, 196], [-14, 186], [-14, 120]", "[-14, 120], [-14, 186], [-22, 196]", 30, r"the outline crosses itself"),
    ("[-14, 186], [-14, 120]]", "[-14, 186], [-14, 186]]", 30, r"repeats the one before it"),
    ("clock: [60, 130]", "clock: [130, 60]", 31, r"larger than the first, by at most 360 degrees.*\[130, 420\]"),
    ("shape: edge", "shape: egde", 33, r'"egde" is not a known shape\. Did you mean "edge"'),
    ("        shape: edge\n", "", 33, r"obstacles\[0\]: fender lip: shape is missing"),
    ("measured_from: hub_face", "measured_from: hub", 35, r'"hub" is not known here\..*Allowed here: centre'),
    ("[-330, 22, 250]", "[-330, 722, 250]", 36, r"y of 722 mm is not plausible .*remove measured_from: hub_face"),
    ("[0, 30, 400]", "[0, 30, .nan]", 36, r"\.nan is not a finite number"),
    ("[0, 30, 400]", "[-330, 22, 250]", 36, r"repeats the one before it"),
    ("[0, 30, 400]", "null", 36, r"null where a point is expected"),
    ("name: liner", "name: fender lip", 37, r'obstacles\[1\]\.name: the name "fender lip" is used twice'),
    ("[[-300, 540, 400], [300, 540, 400]]", "[[-300, 540, 400]]", 37, r"at least 2 are expected"),
    ("[300, 540, 400]]", "[300, 540, 400], [0, 5, 6]]", 37, r"3 points in this row, 2 in the first"),
    ("fixed_to: knuckle, at", "fixed_to: lower_am, at", 38, r'Did you mean "lower_arm"\?'),
    ("fixed_to: knuckle, at", "fixed_to: axle, at", 38, r'"axle" does not exist in a suspension of kind tape'),
    ("from: {at: [-10, 520, 420]}", "from: 7", 38, r"7 stands where a map is expected; its keys are fixed_to, at"),
    ("radius: 42, from", "radius: 42, frm", 38, r'unknown key "frm"\. Did you mean "from"'),
    ("clock: 90, radius: 215", "clok: 90, radius: 215", 39, r'unknown key "clok" of a point\. Did you mean "clock"'),
    ("shape: ring,", "shape: ring, radius: 3,", 40, r'unknown key "radius"\. A ring has no radius'),
    ("shape: ring,", "shape: ring, fixed_to: body,", 40, r"moves with the knuckle"),
    ("15x6 ET35", "15x6", 43, r"builds\.stock\.front\.wheel: .*offset is missing"),
    ("205/70R15", "205/70R15O", 43, r"builds\.stock\.front\.tire: "),
    ("ride: raised", "ride: rased", 43, r'"rased" is not a ride height\. Did you mean "raised"\? The axle has: parked'),
    ("  stock:\n    front", "  stock:\n    fron", 43, r'unknown key "fron"\. Did you mean "front"'),
    ("20x10 ET30", "20x10 EX30", 46, r"builds\.wide\.front\.wheel\.spec: "),
    ("275/40R20", "27/40R20", 47, r"builds\.wide\.front\.tire\.code: "),
    (", section_width: 279", "", 47, r"on_rim says which rim section_width was measured on"),
    ("on_rim: 9.5", "on_rim: 241", 47, r'241 in is not a plausible on_rim .*millimetres\? write "241 mm"'),
    ("spacer: 5", "spacer: -5", 48, r"-5 mm is not a plausible spacer \(0 to 150 mm\)"),
    ("ride: cruise", "rid: cruise", 49, r'unknown key "rid"\. Did you mean "ride"'),
    ("stud_length: 50}", "stud_lenght: 50}", 50, r'wide\.front\.hub\.stud_lenght: .*Did you mean "stud_length"'),
    ("stud_length: 50}", "stud_length: 1.5}", 50, r'builds\.wide\.front\.hub\.stud_length: .*inches\? write "1\.5 in"'),
    ("hub: {stud_length: 50}", "obstacles: {dampr: null}", 50, r'no part "dampr" to remove\. Did you mean "damper"'),
    ("hub: {stud_length: 50}", "obstacles: {dampr: {radius: 5}}", 50,
     r'wide\.front\.obstacles\.dampr: there is no part "dampr" to change\. Did you mean "damper".* give its shape'),
    ("hub: {stud_length: 50}", "camber: -1", 50, r'"camber" belongs to suspension; write susp.*: \{camber: \.\.\.\}'),
    ("hub: {stud_length: 50}", "right: {lock_left: 30}", 50, r'write steering: \{lock_left: \.\.\.\}'),
    ("    driven: false", "    camber: -1", 7, r'axles\.front\.camber: unknown key "camber"\. "camber" belongs to'),
    ("hub: {stud_length: 50}", "obstacles: [{radius: 3}]", 50, r"an obstacle without a name"),
    ("hub: {stud_length: 50}", "obstacles: {damper: {radius: 999}}", 50,
     r"builds\.wide\.front\.obstacles\.damper\.radius: 999 mm is not a plausible radius"),
    ("hub: {stud_length: 50}", "hub: {stud_lenght: null}", 50, r"hub\.stud_lenght: there is no stud_lenght to remove"),
    ("hub: {stud_length: 50}", "adjusters: [{name: null}]", 50, r"name has no value"),
    ("hub: {stud_length: 50}", "travel: null", 45, r"travel is missing"),
    ("hub: {stud_length: 50}", "suspension: {kind: strut}", 50, r"points is missing"),
    ("hub: {stud_length: 50}", "wheelbase: 2700", 50, r'unknown key "wheelbase"'),
    ("baseline: stock", "baseline: stok", 51, r'"stok" is not a build\. Did you mean "stock"\? Allowed here: stock'),
    ("baseline: stock\n", "", 1, r"baseline is missing"),
    ("    driven: false", "    <<: {driven: false}", 7, r'unknown key "<<"\. It merges nothing in YAML 1\.2'),
]  # fmt: skip


def _changed(old: str, new: str) -> str:
    assert old in GOOD, old
    return GOOD.replace(old, new, 1)


def test_the_good_one_is_good() -> None:
    assert loads_profile(GOOD).warnings == ()


@pytest.mark.parametrize(("old", "new", "line", "words"), BAD, ids=[f"{row[2]}-{row[1][:40]}" for row in BAD])
def test_bad_input(old: str, new: str, line: int, words: str) -> None:
    with pytest.raises(ProfileError) as caught:
        loads_profile(_changed(old, new), "car.yaml")
    message = str(caught.value)
    assert caught.value.line == line, message
    assert re.search(words, message), message
    assert message.startswith(f"car.yaml:{line}: ")
    for leak in ("pydantic", "Part", "Input should", "Value error", "validation error", "{key}", "union_", "tag:yaml"):
        assert leak not in message


# (what stands in the good profile, what is put in its place, what the message calls the part)
PARTS = [
    ("radius: 24", "radius: -24", "joint"),
    ("[0, 30, 400]", "[0, 30]", "fender lip"),  # deep inside it
    ("shape: edge\n", "shape: edge\n        shape: edge\n", "fender lip"),  # found before the values are read
    ("{name: liner, ", "{", "number 2 of the list"),  # it has no name
    ("name: liner", "name: ''", "number 2 of the list"),
    ("hub: {stud_length: 50}", "obstacles: [{name: damper, radius: 999}]", "damper"),
    ("hub: {stud_length: 50}", "low_points: [{name: arm, at: [0, 0]}]", "arm"),
    ("hub: {stud_length: 50}", "adjusters: [{name: cam, moves: upper_ball, step: x}]", "cam"),
    ("hub: {stud_length: 50}", "obstacles: [{name: strap, shape: edge, points: [[0, 500, 1]]}]", "strap"),
]


@pytest.mark.parametrize(("old", "new", "part"), PARTS, ids=[row[1][:30] for row in PARTS])
def test_a_message_about_a_part_names_it(old: str, new: str, part: str) -> None:
    """`obstacles[1]` alone sends the reader counting, and from 0."""
    with pytest.raises(ProfileError) as caught:
        loads_profile(_changed(old, new), "car.yaml")
    for line in str(caught.value).splitlines():
        assert re.match(rf"car\.yaml:\d+: \S+: {part}: ", line), line


def test_there_are_enough_of_them() -> None:
    assert len(BAD) >= 40


def test_five_problems_in_one_message_in_the_order_of_the_file() -> None:
    text = GOOD
    for old, new in (
        ("driven: false", "driven: 1"),
        ("hub_height: 322", "hub_height: 1"),
        ("camber: -0.5", "camber: 99"),
        ("lock_left: 36", "lock_left: 99"),
        ("stud_length: 42", "stud_length: 1"),
        ("radius: 24", "radius: -24"),
        ("spacer: 5", "spacer: 999"),
    ):
        assert old in text
        text = text.replace(old, new, 1)
    with pytest.raises(ProfileError) as caught:
        loads_profile(text, "car.yaml")
    lines = str(caught.value).splitlines()
    assert [re.match(r"car\.yaml:(\d+): ", line)[1] for line in lines[:5]] == ["7", "10", "13", "18", "25"]  # type: ignore[index]
    assert lines[5:] == ["and 2 more mistakes."]


def test_one_mistake_is_told_once_however_many_builds_share_it() -> None:
    with pytest.raises(ProfileError) as caught:
        loads_profile(_changed("radius: 42", "radius: 420"))
    assert len(str(caught.value).splitlines()) == 1


def test_a_gap_needs_something_on_the_baseline() -> None:
    text = _changed("shape: edge\n", "shape: edge\n        measured_gap: {to: tire, gap: 22}\n")
    loads_profile(text)
    text = text.replace("{wheel: 15x6 ET35 5x114.3 CB70.6, tire: 205/70R15, ride: raised}", "{ride: raised}")
    with pytest.raises(
        ProfileError, match=r'measured_gap: fender lip: the gap is to the tire of the base.*"stock" names no'
    ):
        loads_profile(text)


def test_an_axle_that_only_a_build_knows() -> None:
    text = _changed("  wide:\n", "  wide:\n    rear: {wheel: 20x10 ET30, tire: 275/40R20}\n")
    with pytest.raises(ProfileError, match=r"builds\.wide\.rear: the profile has no rear axle"):
        loads_profile(text)


def test_unknown_axle_and_build() -> None:
    profile = loads_profile(GOOD)
    with pytest.raises(ProfileError, match=r'no axle "fron"\. Did you mean "front"\? The profile has: front'):
        axle(profile, "fron")
    with pytest.raises(ProfileError, match=r'no build "wid"\. Did you mean "wide"\? The profile has: stock, wide'):
        axle(profile, "front", "wid")


def test_a_build_without_a_tire() -> None:
    profile = loads_profile(_changed("      tire: {code: 275/40R20, section_width: 279, on_rim: 9.5}\n", ""))
    assert has_setup(profile, "front")
    assert not has_setup(profile, "front", "wide")
    with pytest.raises(ProfileError, match=r'build "wide" names no tire for the front axle.*give tire='):
        setup(profile, "front", "wide")
    assert setup(profile, "front", "wide", tire="275/40R20").tire.code == "275/40R20"


@pytest.mark.parametrize(
    ("option", "text", "words"),
    [
        (
            "ride",
            "parkd",
            r'"parkd" is not a ride height\. Did you mean "parked"\? The axle has: parked, cruise, raised',
        ),
        ("ride", "9999", r"9999 mm is not a plausible travel"),
        ("ride", "3 kg", r'"kg" is not a unit of length.*parked, cruise, raised'),
        ("ride", "nan", r"not a ride height"),
        ("spacer", "-3", r"-3 mm is not a plausible spacer"),
        ("spacer", "thick", r'"thick" is not a quantity'),
        ("spacer", "inf", r"not a finite length"),
        ("spacer", "", r"not a quantity"),
    ],
)
def test_bad_command_line_texts(option: str, text: str, words: str) -> None:
    with pytest.raises(ProfileError, match=words):
        setup(loads_profile(GOOD), "front", **{option: text})  # type: ignore[arg-type]


def test_moving_what_is_not_there() -> None:
    with pytest.raises(ProfileError, match="not the key path of a measured value"):
        axle(loads_profile(GOOD), "front", moved={"hub_face_widht": 1.0})


def test_files_that_are_none(tmp_path: Path) -> None:
    (tmp_path / "car.yaml").write_text(GOOD)
    with pytest.raises(ProfileError, match=r'no such file.*Did you mean "car\.yaml"'):
        load_profile(tmp_path / "cart.yaml")
    with pytest.raises(ProfileError, match="this is a folder"):
        load_profile(str(tmp_path) + "/")
    with pytest.raises(ProfileError, match=r'no such file, and no vehicle of this name.*Did you mean "example"'):
        load_profile("exampel")
    for odd in ("", "a\0b", "x" * 5000, "x" * 5000 + ".yaml"):
        with pytest.raises(ProfileError):
            load_profile(odd)


@settings(max_examples=250, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_a_damaged_profile_is_a_profile_error_or_nothing(data: st.DataObject) -> None:
    text = GOOD
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(text)))
        end = min(len(text), start + data.draw(st.integers(0, 12)))
        piece = st.sampled_from(
            ["", "null", "[]", "{}", "-1", "1e99", "true", ": ", "\n", "  ", "- ", "[", "}", '"', "&a ", "*a",
             "!x ", "\t", "\u00e9", "9" * 25, "front", "name: x", "{clock: 1}", "[1, 2, 3]", "value", "kind: strut",
             "x" * 300],
        )  # fmt: skip
        text = text[:start] + data.draw(piece | st.text(max_size=3)) + text[end:]
    _load_and_use(text)


TOKENS = re.findall(r"[\w./-]+", GOOD)


@settings(max_examples=250, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.integers(0, len(TOKENS) - 1), st.sampled_from([*TOKENS, "null", "[]", "{}", "{a: 1}", "[[1]]", "0", "''"]))
def test_one_word_for_another_is_a_profile_error_or_nothing(which: int, word: str) -> None:
    found = list(re.finditer(r"[\w./-]+", GOOD))[which]
    _load_and_use(GOOD[: found.start()] + word + GOOD[found.end() :])


def _load_and_use(text: str) -> None:
    with contextlib.suppress(ProfileError):
        profile = loads_profile(text)
        for name in profile.axle_names:
            for build in profile.build_names:
                axle(profile, name, build)
                if has_setup(profile, name, build):
                    setup(profile, name, build)
