"""A first look: the one page, its questions through a pseudo-terminal, and the profile that they come to.

Expected values: geometry worked by hand beside each test, and the readings themselves, which the profile must give
back.
"""

from __future__ import annotations

import json
import os
import pty
import re
import select
import sys
import time
from pathlib import Path
from typing import Any

import pytest
from conftest import run, run_json
from matplotlib.figure import Figure
from matplotlib.text import Text

import fitment
from fitment import profile as profiles
from fitment.draw.printed.first_sheet import first_page
from fitment.errors import FitmentError
from fitment.measuring.first_profile import lock_from
from fitment.measuring.interview import Session
from fitment.measuring.questions.first import FIRST, FIRST_CAUTIONS, first_rows
from fitment.measuring.questions.forms import number_of, numbered

READ = {  # an invented hatchback
    "1.1": "front", "1.2": "15x7 ET35 5x114.3", "1.3": "195/65R15 91H", "2": "302", "3": "0", "4": "45", "5": "390",
    "6": "398", "7": "396", "8": "12", "9.1": "strut tube", "9.2": "12:00", "9.3": "22", "9.4": "yes", "10": "150, 470",
    "11.1": "frame rail", "11.2": "3:00", "11.3": "18", "12.1": "floor seam", "12.2": "3:30 tread", "12.3": "25",
    "13.1": "", "14": "17x8 ET35 5x114.3", "15": "215/45R17 91W", "16": "30",
}  # fmt: skip


def answered(**other: str) -> Session:
    """Every question answered, as above but for those by number with an underscore, _9_3; empty skips."""
    given = READ | {key[1:].replace("_", "."): text for key, text in other.items()}
    session = Session(look=True)
    while session.current is not None:
        session.give(given[session.current.numbered.number])
    return session


def data_of(session: Session) -> dict[str, Any]:
    return json.loads(json.dumps(profiles.loads_profile(session.draft.text(), "first.yaml").document.data))


# the page -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("axle", ["front", "rear"])
@pytest.mark.parametrize(("units", "paper"), [("mm", "a4"), ("mm", "letter"), ("in", "a4"), ("in", "letter")])
def test_the_page_holds_every_reading_and_nothing_is_cut_off(axle: str, units: str, paper: str) -> None:
    page = first_page(axle, units, paper)
    boxes = {row.number.split(".")[0] for row in first_rows(axle)}
    assert len(boxes) <= 16
    shown = [text.get_text() for ax in page.axes for text in ax.texts]
    assert boxes <= set(shown)
    assert all(" ".join(caution.split()) in " ".join(" ".join(shown).split()) for caution in FIRST_CAUTIONS)
    marks = {text.get_text().split()[0] for text in page.axes[1].texts}
    in_drawing = boxes - {"1", "13", "14", "15"}  # what is read off a sidewall, wanted, or on the right is not drawn
    assert in_drawing <= marks
    width, height = page.get_size_inches() * page.dpi
    cut = [text for text, at in _placed(page) if not (0 < at.x0 < at.x1 < width and 0 < at.y0 < at.y1 < height)]
    assert cut == []
    (foot,) = (at.y1 for text, at in _placed(page) if text.startswith("page 1 of"))
    assert min(box.get_window_extent().y0 for box in page.axes[0].patches) > foot, "no box lies on the page's number"


def _placed(page: Figure) -> list[tuple[str, Any]]:
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    from fitment.draw.style import look

    with look():
        canvas: Any = FigureCanvasAgg(page)
        canvas.draw()
        return [
            (text.get_text(), text.get_window_extent(canvas.get_renderer()))
            for ax in page.axes for text in ax.texts if isinstance(text, Text) and text.get_text()
        ]  # fmt: skip


@pytest.mark.parametrize("axle", ["front", "rear"])
def test_boxes_stand_on_the_page_in_the_order_of_their_numbers(axle: str) -> None:
    """Read line by line, as they are asked; and what the right side repeats is named by its number."""
    page = first_page(axle)
    boxes = dict.fromkeys(row.number.split(".")[0] for row in first_rows(axle))
    placed = {text.get_text(): text.get_position() for text in page.axes[0].texts if text.get_text() in boxes}
    read = sorted(placed, key=lambda number: (round(placed[number][1], 2), placed[number][0]))  # y goes down the page
    assert read == list(boxes) == sorted(boxes, key=int)
    up, out, gap = (number_of(FIRST, f"first/{end}") for end in ("lip/up", "lip/out", "inboard/gap"))
    again = next(row for row in first_rows(axle) if row.question.path == "first/other/same")
    for words in (again.section.how, again.question.how):
        assert f"{up}, {out} and {gap.split('.')[0]} " in words
    shown = [text.get_text() for text in page.axes[0].texts]
    assert {f"{up}, lip 12:00", f"{out}, lip outboard"} <= {words.split(", mm")[0] for words in shown}


def test_words_on_the_page_do_not_lie_on_each_other() -> None:
    for axle in ("front", "rear"):
        placed = _placed(first_page(axle, "in", "letter"))
        for i, (one, a) in enumerate(placed):
            for other, b in placed[i + 1 :]:
                wide = min(a.x1, b.x1) - max(a.x0, b.x0)
                high = min(a.y1, b.y1) - max(a.y0, b.y0)
                assert wide < 1.0 or high < 0.3 * min(a.height, b.height), (one, other)


def test_the_page_is_one_page_and_a_list(tmp_path: Path) -> None:
    import pypdfium2

    for paper in ("a4", "letter"):
        run("worksheet", "--first", "--paper", paper, "--out", str(tmp_path / "page.pdf"))
        assert len(pypdfium2.PdfDocument(tmp_path / "page.pdf")) == 1
    text = run("worksheet", "--first", "--axle", "rear").stdout
    assert "Hub height" in text or "Ground to the middle of the hub" in text
    assert "full left lock" not in text
    refused = run("worksheet", "--first", "--kind", "strut")
    assert refused.exit_code == 2
    assert "--kind is for the full sheets" in refused.stderr


def test_paper_and_terminal_have_the_same_numbers() -> None:
    assert [row.number for row in first_rows("front")] == [each.number for each in numbered(FIRST)]
    assert len(numbered(FIRST)) <= 28


# the profile ----------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_what_differs_on_the_right_is_read_there_too() -> None:
    """The lip 4 mm lower over the hub and 3 mm farther in, the strut 6 mm nearer to the tire."""
    told = {"_13_1": "differs", "_13_2": "386", "_13_3": "9", "_13_4": "16"}
    data = data_of(answered(**told))
    front = data["axles"]["front"]
    right = front["right"]["obstacles"]
    left = {part["name"]: part for part in front["obstacles"]}
    assert set(right) == {"fender lip", "strut tube"}
    assert [point["radius"]["value"] for point in right["fender lip"]["points"]] == [394, 386, 392]
    assert [left["fender lip"]["measured_gap"]["gap"], right["fender lip"]["measured_gap"]["gap"]] == [12, 9]
    assert [left["strut tube"]["measured_gap"]["gap"], right["strut tube"]["measured_gap"]["gap"]] == [22, 16]
    assert "the right side but for lip and inner gap" in data["note"]
    profile = profiles.loads_profile(answered(**told).draft.text())
    for side, gap in (("left", 22), ("right", 16)):
        found = fitment.check(profile, f"front {side}").data
        (strut,) = [each for each in found["at_rest"] if each["obstacle"] == "strut tube" and each["part"] == "tire"]
        assert strut["clearance_mm"] == pytest.approx(gap, abs=0.05)
    higher = data_of(answered(_13_1="differs", _13_2="396", _13_3="", _13_4=""))["axles"]["front"]["right"]["obstacles"]
    assert [point["radius"]["value"] for point in higher["fender lip"]["points"]] == [398, 396, 396]


def test_the_same_on_the_right_or_not_looked_at() -> None:
    for text, words in (("same", "the right side but for lip and inner gap."), ("", "the right side.")):
        data = data_of(answered(_13_1=text))
        assert "right" not in data["axles"]["front"]
        assert data["note"].endswith(words)


def test_a_right_side_that_cannot_be_is_asked_again() -> None:
    session = Session(look=True)
    given = READ | {"13.1": "differs", "13.2": "320", "13.3": "-60", "13.4": ""}
    refused = []
    while session.current is not None and len(refused) < 1:
        try:
            session.give(given[session.current.numbered.number])
        except FitmentError as error:
            refused.append(str(error))
    assert "inside the right tire" in refused[0]


def test_the_lip_stands_where_tape_and_straightedge_put_it() -> None:
    """15x7 ET35: rim 7 in and two flanges of 12.7 mm, so its outer edge is 203.2 / 2 - 35 = 66.6 mm outboard of the
    hub face. No camber, and toe of 0.1 deg on 390 mm moves less than 1 mm."""
    profile = profiles.loads_profile(answered().draft.text(), "first.yaml")
    from fitment.checks.case import _settled

    axle, setup = profiles.axle(profile, "front"), profiles.setup(profile, "front")
    (lip,) = [part for part in _settled(profile, axle, axle, setup).obstacles if part.name == "fender lip"]
    (x, y, z) = lip.points[len(lip.points) // 2]
    assert (x, z) == pytest.approx((0, 390), abs=0.01)
    assert y - axle.hub_face_at[1] == pytest.approx(66.6 + 12, abs=0.8)
    half = 398 * 2**-0.5  # 10:30 is 45 degrees forward of straight up
    assert (lip.points[0][0], lip.points[0][2]) == pytest.approx((half, half), abs=0.01)


def test_gaps_come_back_as_they_were_read(tmp_path: Path) -> None:
    path = tmp_path / "first.yaml"
    path.write_text(answered(_4="", _14="", _15="", _16="").draft.text())
    answer = run_json("check", str(path), "--axle", "front")
    rest = {(each["obstacle"], each["part"]): each["clearance_mm"] for each in answer["at_rest"]}
    assert rest["strut tube", "tire"] == pytest.approx(22, abs=0.05)
    for name, lock, gap in (("frame rail at left lock", 30.0, 18), ("floor seam at right lock", -31.0, 25)):
        there = [
            each["clearance_mm"]
            for each in answer["clearances"]
            if each["obstacle"] == name and each["part"] == "tire" and each["travel_mm"] == 0
            and abs(each["steer_deg"] - lock) < 0.6
        ]  # fmt: skip
        assert there == [pytest.approx(gap, abs=0.05)]


def test_two_readings_to_a_chalk_line_tell_the_lock() -> None:
    """sin 30 = 1/2: on a tire 640 mm across the readings differ by 320 mm."""
    assert lock_from(200, 520, 640) == pytest.approx(30)
    assert lock_from(520, 200, 640) == pytest.approx(30)
    # 195/65R15: 15 x 25.4 + 2 x 0.65 x 195 = 634.5 mm; 320 / 634.5 = sin 30.29
    data = data_of(answered())
    assert data["axles"]["front"]["steering"] == {"lock_left": {"value": 30.3, "tolerance": 2.0},
                                                  "lock_right": "assumed"}  # fmt: skip
    with pytest.raises(FitmentError, match="only 640 mm across"):
        lock_from(0, 700, 640)


def test_what_was_not_read_is_assumed_and_said() -> None:
    """A bump stop's gap of 40 mm: 1 to 2 times 40 and 5 to 35 mm more is 45 to 115, so 80 +- 35."""
    session = answered(_3="", _10="", _4="40")
    data = data_of(session)
    front = data["axles"]["front"]
    assert front["travel"] == {"droop": "assumed", "bump": {"value": 80, "tolerance": 35, "assumed": True}}
    assert front["steering"] == {"lock_left": "assumed", "lock_right": "assumed"}
    assert set(front["suspension"].values()) == {"tape", "assumed"}
    assert front["hub_face_width"] == 1500
    text = session.draft.text()
    assert "every reading here counts from the hub face" in text
    assert "taken for a flat of 150 x 150 mm there" in text
    for words in ("the brake", "the right side", "the lip below 10:30 and 1:30"):
        assert words in data["note"]
    without = data_of(answered(_5="", _9_1="", _11_1="", _12_1=""))
    for words in ("the fender lip", "inboard of the tire", "at full left lock", "at full right lock"):
        assert words in without["note"]
    assert without["axles"]["front"]["obstacles"] == []


def test_a_front_axle_of_two_answers_has_an_answer(tmp_path: Path) -> None:
    skipped = {f"_{number.replace('.', '_')}": "" for number in READ if number not in ("1.1", "1.2", "1.3")}
    path = tmp_path / "first.yaml"
    path.write_text(answered(**skipped).draft.text())
    out = run("check", str(path)).stdout
    assert "no part near the wheel was checked" in out


def test_a_part_that_stands_inside_the_tire_is_said_when_it_is_typed() -> None:
    """A lip 300 mm from the hub and 40 mm inside the rim's edge lies in a tire of 317 mm radius."""
    session = Session(look=True)
    given = READ | {"5": "300", "6": "300", "7": "300", "8": "-40"}
    while session.current is not None and session.current.numbered.number != "8":
        session.give(given[session.current.numbered.number])
    with pytest.raises(FitmentError, match=r"stands inside the tire .* Answer this again"):
        session.give(given["8"])
    assert session.current is not None
    assert session.current.numbered.number == "8"
    session.give("12")
    assert session.current.numbered.number == "9.1"


def test_a_part_at_a_lock_that_would_stand_in_the_tire_is_asked_for_its_place_again() -> None:
    """At full left lock the front half of the left tire goes out by 250 sin(30 deg) = 125 mm: 18 mm inboard of it is
    107 mm outboard of where the tire's inner side stands straight ahead.
    """
    session = Session(look=True)
    while session.current is not None and session.current.numbered.number != "11.2":
        session.give(READ[session.current.numbered.number])
    session.give("9:00")
    with pytest.raises(FitmentError, match=r"when the wheels are straight.* the rear half of the left tire"):
        session.give("18")
    assert session.current is not None
    assert session.current.numbered.number == "11.2"
    session.give("3:00")  # the gap that was typed is taken again
    assert session.current.numbered.number == "12.1"


def test_a_part_that_the_readings_put_in_the_way_as_it_stands_is_said(tmp_path: Path) -> None:
    """A flat at 10:00 and the middle of the sidewall, 250 mm from the hub, stands 142 to 292 mm ahead.

    Turned by the typical right lock of 31 deg the tire there comes in by 142 sin(31 deg) = 73 mm or more; 35 are free.
    """
    from fitment import api
    from fitment.report.first_look import as_it_stands

    def said(**other: str) -> str:
        path = tmp_path / "look.yaml"
        path.write_text(answered(**other).draft.text())
        return " ".join(as_it_stands(api.check(path, "front", "now").cases[0]).split())

    words = said(_9_1="damper", _9_2="10:00", _9_3="35", _9_4="no", _12_1="", _11_1="", _6="420", _5="420", _7="420")
    assert "the same readings already say: tire overlaps damper by" in words
    assert "a reading or an assumed value is off, or the part is smaller than the flat" in words


# the dialogue ---------------------------------------------------------------------------------------------------

BAD = {
    "1.1": ("both", "is not one of the words"), "1.2": ("big one", "wheel"), "1.3": ("round", "tire"),
    "2": ("3", "not a plausible"), "3": ("steep", "not a number of degrees"), "5": ("39", "not a plausible"),
    "6": ("x", "unit"), "7": ("-396", "not a plausible"), "8": ("900", "not a plausible"),
    "9.2": ("13:00", "not o'clock"), "9.3": ("-22", "not a plausible"), "9.4": ("perhaps", "neither yes nor no"),
    "10": ("150", "2 values|1 value"), "11.2": ("90 deg", "not o'clock"), "11.3": ("one", "unit"),
    "12.2": ("", "needed"), "12.3": ("1000", "not a plausible"), "4": ("600", "not a plausible"),
    "14": ("17 by 8", "diameter x width"), "15": ("215/45R18", "18 in rim"), "16": ("500", "not a plausible"),
}  # fmt: skip


def dialogue(folder: Path, *arguments: str, lines: list[str]) -> tuple[str, int, int]:
    """What is shown on a terminal, how often it prompted, and the exit code; each line answers one prompt."""
    pid, terminal = pty.fork()
    if pid == 0:
        os.chdir(folder)
        os.execv(sys.executable, [sys.executable, "-m", "fitment", *arguments])
    shown, prompts, left, seen = b"", 0, list(lines), 0
    end = time.monotonic() + 300
    while time.monotonic() < end:
        if select.select([terminal], [], [], 0.2)[0]:
            try:
                shown += os.read(terminal, 65536)
            except OSError:
                break
        if re.search(rb"> $", shown[seen:]):
            seen, prompts = len(shown), prompts + 1
            os.write(terminal, f"{left.pop(0) if left else 'quit'}\n".encode())
    os.close(terminal)
    code = os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
    plain = re.sub(r"\x1b\[[0-9;]*[mK]", "", shown.decode())  # without colour, and what is drawn over itself
    return " ".join(plain.split()), prompts, code


def test_every_reading_of_a_front_axle_is_refused_where_it_cannot_be() -> None:
    session = Session(look=True)
    while session.current is not None:
        number = session.current.numbered.number
        if number in BAD:
            with pytest.raises(FitmentError, match=BAD[number][1]):
                session.give(BAD[number][0])
            assert session.current.numbered.number == number
        session.give(READ[number])
    assert [text for _, text in session.answers] == list(READ.values())


REAR = {number: text for number, text in READ.items() if not number.startswith(("10", "11", "12"))} | {"1.1": "rear"}


def test_bad_input_at_every_prompt_costs_one_message_and_nothing_else(tmp_path: Path) -> None:
    lines = []
    for number, text in REAR.items():
        lines += [BAD[number][0]] if number in BAD else []
        lines.append(text)
    shown, _, code = dialogue(tmp_path, "new", "first.yaml", "--first", lines=lines)
    assert code == 0
    messages = re.findall(r"! (.*?)(?=\[|>)", shown)
    asked = [BAD[number][1] for number in REAR if number in BAD]
    assert len(messages) == len(asked), messages
    for message, words in zip(messages, asked, strict=True):
        assert re.search(words, message), (message, words)
    given = json.loads(json.dumps(profiles.load_profile(tmp_path / "first.yaml").document.data))
    assert given == data_of(answered(_1_1="rear"))


def test_stopping_keeps_every_answer_and_knows_that_it_was_a_first_look(tmp_path: Path) -> None:
    shown, _, code = dialogue(tmp_path, "new", "first.yaml", "--first", lines=["rear", "15x7 ET35", "quit"])
    assert code == 1
    assert "Your answers are kept" in shown
    other = run("new", str(tmp_path / "first.yaml"))
    assert other.exit_code == 2
    assert "are of a first look; give --first" in other.stderr
    shown, _, _ = dialogue(tmp_path, "new", "first.yaml", "--first", lines=["quit"])
    assert "Going on with 2 answers" in shown
    assert "1.3 Tire" in shown


@pytest.mark.slow
def test_a_dozen_readings_in_inches_give_verdict_picture_and_next_reading(tmp_path: Path) -> None:
    inches = {"2": "11 7/8", "3": "-0.5", "5": "15 3/8", "6": "15 5/8", "7": "15 5/8", "8": "1/2", "9.3": "7/8",
              "10": "6, 20 1/2", "11.3": "3/4", "12.3": "1", "4": "1 3/4", "16": "1 1/4"}  # fmt: skip
    lines = list((READ | inches).values())
    shown, prompts, code = dialogue(tmp_path, "new", "first.yaml", "--first", "--units", "in", lines=lines)
    assert (code, prompts) == (0, len(lines))
    assert prompts <= 25
    said = shown[shown.index("Working out the answer") :]
    assert re.search(r"(CLEARS|TIGHT|TOUCHES) front, build wanted", said)
    for words in (
        "Closest call:",
        "How sure: ",
        "Measure next: ",
        "Picture: first.png",
    ):
        assert words in said
    assert (tmp_path / "first.png").stat().st_size > 20_000
    assert not (tmp_path / "first.yaml.answers").exists()
