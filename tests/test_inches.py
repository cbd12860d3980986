"""Inches as a shop says them. 1 in = 25.4 mm, 1 lb = 0.45359237 kg (exact, 1959 agreement); a mile is 1609.344 m."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from conftest import run, vehicle, write_profile

from fitment.errors import FitmentError, ProfileError
from fitment.measuring.interview import Session
from fitment.measuring.questions import ALL
from fitment.measuring.questions.forms import numbered
from fitment.measuring.questions.words import example_text, tolerance_text
from fitment.measuring.typed_answers import read_answer
from fitment.profile import load_profile, loads_profile
from fitment.units import to_mm


@pytest.fixture
def inches(tmp_path: Path) -> str:
    return write_profile(tmp_path, {"units": "in"} | vehicle(), "inches.yaml")


# ---------------------------------------------------------------- chosen in the profile


@pytest.mark.parametrize(
    "command",
    ["check {}", "compare {} measured lowered", "show {}", "poses {}", "order {}", "window {}"],
)
def test_every_command_takes_the_units_of_the_profile(command: str, tmp_path: Path) -> None:
    data = vehicle()
    data["builds"]["lowered"] = {"front": data["builds"]["measured"]["front"] | {"ride": 20}}
    bare = write_profile(tmp_path, data, "vehicle.yaml")
    asked = run(*command.format(bare).split(), "--units", "in").stdout
    in_mm = run(*command.format(bare).split()).stdout
    own = write_profile(tmp_path, {"units": "in"} | data, "vehicle.yaml")
    assert run(*command.format(own).split()).stdout == asked != in_mm
    assert run(*command.format(own).split(), "--units", "mm").stdout == in_mm


def test_data_are_in_mm_and_bare_numbers_stay_mm(inches: str, tmp_path: Path) -> None:
    bare = write_profile(tmp_path, vehicle(), "inches.yaml")
    plain = run("check", bare, "--format", "json").stdout
    write_profile(tmp_path, {"units": "in"} | vehicle(), "inches.yaml")
    assert run("check", inches, "--format", "json").stdout == plain
    result = run("check", inches, "--spacer", "10")
    assert "--spacer 10 was read as 10 mm" in result.stderr


def test_other_units_are_refused(tmp_path: Path) -> None:
    path = write_profile(tmp_path, {"units": "inch"} | vehicle())
    with pytest.raises(ProfileError, match=r'units: "inch" is not known here. .* Allowed here: mm, in'):
        load_profile(path)
    assert load_profile(write_profile(tmp_path, vehicle())).units == "mm"
    assert loads_profile(Path(write_profile(tmp_path, {"units": "in"} | vehicle())).read_text()).units == "in"


# ---------------------------------------------------------------- typed at the terminal in inches

QUESTIONS = {each.question.path: each.question for each in numbered(ALL)}


def typed(path: str, text: str, units: str = "in") -> Any:
    """The answer to the question with this key path on the front axle, as it stands in the profile."""
    at = tuple(path.format(axle="front").split("/"))
    return read_answer(QUESTIONS[path], at, text, units=units, words={"kind": "tape"})


@pytest.mark.parametrize(
    ("path", "text", "plain"),
    [
        # the angle among lengths stays one
        (
            "axles/{axle}/suspension/readings",
            "3 1/8, 3/16 +- 1/16, -2.4 +- 0.2",
            {
                "travel": "3 1/8 in",
                "out": {"value": "3/16 in", "tolerance": "1/16 in"},
                "camber": {"value": -2.4, "tolerance": 0.2},
            },
        ),
        ("axles/{axle}/hub_height", "12 11/16 +- 1/8", {"value": "12 11/16 in", "tolerance": "1/8 in"}),
        ("axles/{axle}/axle_load", "2200", "2200 lb"),
        ("axles/{axle}/axle_load", "1000 kg", 1000),
        ("axles/{axle}/top_speed", "120", "120 mph"),
        ("axles/{axle}/final_drive", "3.73", 3.73),
    ],
)
def test_a_bare_number_is_in_what_the_sheet_asks_for(path: str, text: str, plain: Any) -> None:
    assert typed(path, text) == plain


@pytest.mark.parametrize(
    ("path", "text", "said"),
    [
        (
            "axles/{axle}/hub_height",
            "322",
            r'"322 in" is not a plausible .* \(5.91 to 35.43 in\); millimetres\? write 322 mm',
        ),
        ("axles/{axle}/hub_height", "12 +- 1/8 +- 1", "such as 61 7/8 \\+- 1/8"),
        ("axles/{axle}/axle_load", "heavy", "write it in lb, such as 2200"),
        ("axles/{axle}/axle_load", "2200 stone", '"stone" is not lb'),
        ("axles/{axle}/travel/droop", "2 mm +- 1 mm +- 1 mm", r'"2 mm \+- 1 mm \+- 1 mm"'),  # stays as it was typed
    ],
)
def test_a_refusal_speaks_inches(path: str, text: str, said: str) -> None:
    with pytest.raises(FitmentError, match=said) as refusal:
        typed(path, text)
    assert "{" not in str(refusal.value)


def test_every_example_in_inches_is_that_in_mm_to_the_nearest_sixteenth() -> None:
    """A tape's example to half a sixteenth, 0.79 mm; a caliper's to half a thousandth, 0.013 mm."""
    for question in QUESTIONS.values():
        if question.form != "length" or not question.example:
            continue
        mm, inch = (example_text(question, units).split(" +- ")[0] for units in ("mm", "in"))
        off = abs(to_mm(f"{inch} in") - float(mm))
        assert off <= (0.013 if "caliper" in question.tool else 0.794), question.path


def test_usual_tolerances_are_written_in_inches_and_no_smaller() -> None:
    """A tape's: 2 mm = 2.52 32nds, 3 mm = 3.78; 5 mm = 3.15 sixteenths; a caliper's: 0.1 mm = 3.94 thousandths."""
    texts = {2: "3/32 in", 3: "1/8 in", 5: "1/4 in", 0.1: "0.004 in", 0.5: "0.02 in"}
    assert {mm: tolerance_text(mm, "in") for mm in texts} == texts
    assert all(to_mm(text) >= mm for mm, text in texts.items())


def test_new_keeps_inches_in_the_file() -> None:
    """The answers in the order of the sheet: name, note, wheelbase, class, difference, axles, the wheels now on it."""
    session = Session("in")
    for text in ("Wagon", "", "107 7/8", "", "", "front", "as_bought"):
        session.give(text)
    assert "units: in" in session.draft.text()
    assert "wheelbase: 107 7/8 in" in session.draft.text()


def test_a_height_beside_a_picture_is_a_fraction_with_its_sign() -> None:
    """22 mm = 0.866 in = 13.9 sixteenths; nothing has no sign."""
    from fitment.draw.figure_page import height_text

    assert [height_text(mm, "in") for mm in (-22.0, 0.0, 22.0)] == ["-7/8 in", "0 in", "+7/8 in"]
    assert [height_text(mm, "mm") for mm in (-22.0, 0.0, 22.0)] == ["-22 mm", "0 mm", "+22 mm"]
