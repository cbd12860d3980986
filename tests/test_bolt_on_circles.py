"""The chord between two studs to a bolt circle, by trigonometry; which circles are one and which are only near.

`reference/bolt_circles.csv` holds circles with their chords (arithmetic: 25.4 mm per inch, a regular polygon); it and
the closed forms of the sines below were made without this program.
"""

from __future__ import annotations

import csv
import json
import math
from pathlib import Path

import pytest
from conftest import run, run_json

from fitment.errors import FitmentError
from fitment.parts.bolt_circle import factor, readings, rounded_from, same_circle, steps
from fitment.parts.hub import BoltCircle

REFERENCE = list(csv.DictReader((Path(__file__).parent / "reference" / "bolt_circles.csv").read_text().splitlines()))
HALF_DIGIT = 0.0006  # [mm] chords are printed to a micrometre


@pytest.mark.parametrize(
    ("lugs", "step", "sine"),
    [
        # sines of regular polygons in closed form
        (4, 1, math.sqrt(2) / 2),  # 45 degrees
        (4, 2, 1.0),
        (5, 1, math.sqrt(10 - 2 * math.sqrt(5)) / 4),  # 36 degrees
        (5, 2, math.sqrt(10 + 2 * math.sqrt(5)) / 4),  # 72 degrees
        (6, 1, 1 / 2),  # 30 degrees
        (6, 2, math.sqrt(3) / 2),  # 60 degrees
        (6, 3, 1.0),
        (8, 1, math.sqrt(2 - math.sqrt(2)) / 2),  # 22.5 degrees
        (8, 4, 1.0),
    ],
)
def test_factor_is_one_over_the_sine(lugs: int, step: int, sine: float) -> None:
    assert factor(lugs, step) == pytest.approx(1 / sine, rel=1e-12)


@pytest.mark.parametrize("row", REFERENCE, ids=[f"{row['lugs']}x{row['bolt_circle_mm']}" for row in REFERENCE])
def test_every_chord_of_the_reference_gives_its_circle(row: dict[str, str]) -> None:
    lugs, circle = int(row["lugs"]), float(row["bolt_circle_mm"])
    columns = {"next": "adjacent_hole_chord_mm", "second": "skip_one_chord_mm", "opposite": "opposite_hole_distance_mm"}
    for to, column in columns.items():
        if not row[column] or (to == "second" and lugs == 4):
            continue
        found = readings(float(row[column]), lugs, to=to, tolerance=0.01)[0]  # type: ignore[arg-type]
        assert found.circle == pytest.approx(circle, abs=HALF_DIGIT * found.factor)
        assert circle in found.standard, "the program knows the circle"


@pytest.mark.parametrize(
    ("chord", "tolerance", "alike"),
    [
        # by hand, to the next of five studs x 1.70130: 67.2 -> 114.33, +-1 mm of tape is +-1.70 of circle
        (67.2, 1.0, (114.3, 115.0)),
        # +-0.3 mm is +-0.51: 113.82 to 114.84 leaves out 115
        (67.2, 0.3, (114.3,)),
        # 70.7 -> 120.28, +-1.70: 118.58 to 121.98
        (70.7, 1.0, (120.0, 120.65)),
        # +-0.1 mm is +-0.17: 120.11 to 120.45, between the two
        (70.7, 0.1, ()),
        # 65.0 -> 110.58, +-3 mm is +-5.10: 105.48 to 115.69
        (65.0, 3.0, (108.0, 110.0, 112.0, 114.3, 115.0)),
    ],
)
def test_what_a_tape_cannot_tell_apart(chord: float, tolerance: float, alike: tuple[float, ...]) -> None:
    assert readings(chord, 5, to="next", tolerance=tolerance)[0].standard == alike


def test_the_second_next_of_five_studs_tells_more() -> None:
    """The circle is the chord x 1.05146 and not x 1.70130, so a millimetre of tape is 1.05 mm of circle."""
    found = {each.to: each for each in readings(108.7, 5, tolerance=0.5)}
    assert set(found) == {"next", "second"}, "without --to both formulas are told"
    assert found["second"].circle == pytest.approx(108.7 * 1.05146, abs=1e-3)
    assert found["second"].high - found["second"].low == pytest.approx(2 * 0.5 * 1.05146, abs=1e-4)
    assert found["second"].standard == (114.3,)
    assert found["next"].circle == pytest.approx(108.7 * 1.70130, abs=1e-3)
    assert found["next"].standard == ()


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ((5, 114.3), (5, 4.5 * 25.4), True),
        ((6, 139.7), (6, 5.5 * 25.4), True),
        ((5, 120.65), (5, 4.75 * 25.4), True),
        ((5, 120.7), (5, 4.75 * 25.4), True),  # written to a tenth
        ((5, 114.3), (5, 115), False),
        ((5, 120), (5, 120.65), False),
        ((5, 114.3), (6, 114.3), False),
        ((5, 110), (5, 112), False),
    ],
)
def test_equal_only_where_they_are(one: tuple[int, float], other: tuple[int, float], same: bool) -> None:
    assert same_circle(BoltCircle(*one), BoltCircle(*other)) is same


def test_no_two_circles_in_use_are_taken_for_one() -> None:
    circles = [BoltCircle(int(row["lugs"]), float(row["bolt_circle_mm"])) for row in REFERENCE]
    assert [(a, b) for a in circles for b in circles if a != b and (same_circle(a, b) or rounded_from(a, b))] == []


# ---------------------------------------------------------------- the command


def test_text_for_four_five_and_six_studs() -> None:
    lines = run("wheel", "--from-chord", "67.2", "--lugs", "5").stdout.splitlines()
    assert lines[0] == "67.2 mm between two of 5 studs, the tape off by at most 1.0 mm"
    # 66.2 and 68.2 x 1.70130 = 112.63 and 116.03; x 1.05146 = 70.66, below any wheel's circle
    assert lines[2:4] == [
        "  the next stud            114.3 mm  112.6 mm to 116.0 mm: 5x114.3 (4.5 in) or 5x115, the tape cannot tell",
        "  the second-next stud      70.7 mm  no wheel has that",
    ]
    text = " ".join(run("wheel", "--from-chord", "67.2", "--lugs", "5").stdout.split())
    assert "The chord to the second-next stud is longer and tells circles apart better" in text
    assert "must not be forced on: studs bend, seats do not meet, nuts work loose" in text
    # a regular hexagon's side is its radius: 2.75 in x 2 = 5.5 in = 139.7 mm
    text = run("wheel", "--from-chord", "2 3/4 in", "--lugs", "6", "--units", "in").stdout
    assert "of the circles in use only 6x139.7 (5.5 in)" in text
    # a square's side x the square root of 2: 80.82 -> 114.30
    assert "4x114.3" in run("wheel", "--from-chord", "80.82", "--lugs", "4", "--tolerance", "0.2").stdout


def test_json() -> None:
    found = run_json("wheel", "--from-chord", "67.2", "--lugs", "5", "--tolerance", "1 mm", "--to", "next")
    reading = found["readings"][0]
    assert (found["lugs"], found["chord_mm"], found["tolerance_mm"], reading["to"]) == (5, 67.2, 1.0, "next")
    assert reading["bolt_circle_mm"] == pytest.approx(67.2 / math.sin(math.radians(36)), abs=1e-3)
    assert reading["bolt_circle_min_mm"] == pytest.approx(66.2 / math.sin(math.radians(36)), abs=1e-3)
    assert [each["bolt_circle"] for each in reading["standard"]] == ["5x114.3", "5x115"]
    assert [each["bolt_circle_in"] for each in reading["standard"]] == [4.5, round(115 / 25.4, 4)]
    assert len(found["readings"]) == 1
    assert json.dumps(found)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ("--from-chord 67.2", "needs --lugs"),
        ("--lugs 5", "belong to --from-chord"),
        ("--tolerance 1 17x8_ET0", "belong to --from-chord"),
        ("", "Missing argument SPEC: give a wheel"),
        ("17x8_ET0 --from-chord 67.2 --lugs 5", "takes no wheel spec; got 17x8"),
        ("--from-chord long --lugs 5", '--from-chord: "long" is not a quantity'),
        ("--from-chord 67.2 --lugs 5 --tolerance x", '--tolerance: "x" is not a quantity'),
        ("--from-chord 67.2 --lugs 5 --tolerance -1", "it should be 0 to 10 mm"),
        ("--from-chord 67.2 --lugs 2", "--lugs 2: it should be 3 to 10"),
        ("--from-chord 2.65 --lugs 5", 'Was it in inches? Write "2.65 in"'),
        ("--from-chord -67 --lugs 5", "it should be 80 to 300 mm"),
        ("--from-chord 0 --lugs 6", "it should be 80 to 300 mm"),
        ("--from-chord 67.2 --lugs 5 --to opposite", "none stands opposite another"),
        ("--from-chord 80 --lugs 4 --to second", "measure to the next one"),
        ("--from-chord 80 --lugs 4 --to third", "'third' is not one of"),
    ],
)
def test_bad_input(arguments: str, words: str) -> None:
    result = run("wheel", *(word.replace("_", " ") for word in arguments.split()))
    assert result.exit_code == 2
    assert result.stdout == ""
    assert words in " ".join(result.stderr.split())


def test_steps() -> None:
    assert [steps(n, "opposite") for n in (4, 6, 8)] == [2, 3, 4]
    with pytest.raises(FitmentError, match="of 7 studs none stands opposite"):
        steps(7, "opposite")
