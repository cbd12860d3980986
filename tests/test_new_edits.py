"""`fitment new` on a profile that is there: what is asked for changes, every other character of the file stays.

What a file should be afterwards is made from the file before by replacing or inserting text by hand.
"""

from __future__ import annotations

import os
import re
import sys
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any

import pytest
from answers import PICKUP, typed
from click.testing import CliRunner, Result
from conftest import PATIENCE
from hypothesis import given, settings
from hypothesis import strategies as st
from test_at_a_terminal import in_pty, shown, shown_at_ctrl_c

from fitment.cli import cli
from fitment.errors import FitmentError
from fitment.measuring.interview import Opened, Session, read_kept
from fitment.measuring.questions import ALL
from fitment.measuring.questions.forms import numbered
from fitment.measuring.yaml_edits import edited
from fitment.profile import load_profile
from fitment.profile.yaml_core import load_text

BUNDLED = Path(__file__).parent.parent / "profiles"
HAND = """\
# my truck, read in march
format: 1
name: Truck   # the blue one
axles:
   front:
      hub_face_width: {value: 1572,  tolerance: 2}   # twice
      hub_height:   322   # cold tires
      suspension: {kind: tape, camber: -0.5, toe_in: 0, camber_per_100mm: -2.4, track_per_100mm: 4}
      travel: {droop: -70, bump: 80}
      obstacles:
      -  {name: lip, shape: edge, tolerance: 3, points: [[-300, 800, 250], [0,800,400], [300, 800, 250]]}   # rolled
builds:
   now: {front: {wheel: &w "15x6 ET35 5x114.3", tire: 205/70R15}}
   too: {front: {wheel: *w, tire: 205/60R15}}
baseline: now   # end
"""
AXLE = [  # answers about a rear axle on coils, from whether it is driven to what can be set
    "no", "", "", "15x6 ET20 5x114.3", "205/70R15", "322", "", "", "", "tape", "-0.2", "0", "no", "no", "no", "no",
    "no", "1560", "", "", "", "", "", "", "no", "no", "no", "-80", "85",
    "80, -0.8, -0.7", "-80, 0.8, 0.3", "", "", "", "",
]  # fmt: skip


@pytest.fixture
def hand(tmp_path: Path) -> Path:
    path = tmp_path / "hand.yaml"
    path.write_bytes(HAND.encode())
    return path


def new(target: Path, *answers: str, options: tuple[str, ...] = ()) -> Result:
    """The command with these answers typed; the end of the list is the end of the input."""
    lines = "".join(f"{line}\n" for line in answers)
    result = CliRunner().invoke(cli, ["new", str(target), *options], input=lines)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def flat(result: Result) -> str:
    return " ".join(result.output.split())


# ---------------------------------------------------------------- the text


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("hub_height:   322   # cold", "hub_height:   330   # cold"),
        ("{value: 1572,  tolerance", "{value: 1570,  tolerance"),
        ("[0,800,400]", "[0,810,400]"),
        ("tire: 205/60R15", "tire: 215/60R15"),
        ("baseline: now   #", "baseline: too   #"),
        ("name: Truck   #", 'name: "Truck: two"   #'),
    ],
)
@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_one_value_changes_and_no_other_character(old: str, new: str, ending: str) -> None:
    text, wanted = (HAND.replace(old, each).replace("\n", ending) for each in (old, new))
    assert edited(text, load_text(wanted).data) == wanted


def test_what_an_alias_stands_for_is_written_out_where_it_changes() -> None:
    """Two builds share one wheel; of one of them the wheel gets another offset, the other one keeps its own."""
    data = load_text(HAND).data
    data["builds"]["too"]["front"]["wheel"] = "15x6 ET30 5x114.3"
    assert edited(HAND, data) == HAND.replace("*w", "15x6 ET30 5x114.3")
    data = load_text(HAND).data
    data["builds"]["now"]["front"]["wheel"] = "15x6 ET30 5x114.3"
    wanted = HAND.replace('&w "15x6 ET35 5x114.3"', "&w 15x6 ET30 5x114.3").replace("*w", "15x6 ET35 5x114.3")
    assert edited(HAND, data) == wanted


def test_an_alias_that_still_stands_for_the_right_value_stays() -> None:
    data = load_text(HAND).data
    for build in data["builds"].values():
        build["front"]["wheel"] = "15x6 ET30 5x114.3"
    assert edited(HAND, data) == HAND.replace('"15x6 ET35 5x114.3"', "15x6 ET30 5x114.3")


def test_a_file_without_a_last_line_end_keeps_its_last_line() -> None:
    assert edited("a: 1\nb: {c: 2} # end", {"a": 1, "b": {"c": 2}, "d": 3}) == "a: 1\nb: {c: 2} # end\nd: 3"
    assert edited("a:\nb: ~ # x", {"a": 5, "b": None}) == "a: 5\nb: ~ # x"
    assert edited("{}", {"a": [1]}) == "{a: [1]}"


def test_what_cannot_be_changed_alone_is_refused_with_its_line() -> None:
    """A key without a colon in brackets has no place for a value."""
    with pytest.raises(FitmentError, match=r"line 2, b\.c: as it is written there"):
        edited("a: 1\nb: {c, d: 2}\n", {"a": 1, "b": {"c": 5, "d": 2}})
    with pytest.raises(FitmentError, match="it cannot be changed without touching the rest"):
        edited("a: |\n  text", {"a": "text", "d": 3})  # another line below gives the text a line end


class Written:
    """A file of random maps and lists in random styles, every scalar another word, with comments everywhere."""

    def __init__(self, draw: Any) -> None:
        self.draw, self.count = draw, 0
        self.text = self.block(draw(st.integers(1, 3)), 0)

    def word(self, kind: str = "v") -> str:
        self.count += 1
        return f"{kind}{self.count}x"

    def flow(self, depth: int) -> str:
        kind = self.draw(st.sampled_from(["word", "map", "list"])) if depth else "word"
        gap = self.draw(st.sampled_from(["", " ", "  "]))
        if kind == "word":
            return self.draw(st.sampled_from(["{}", '"{}"', "'{}'"])).format(self.word())
        if kind == "list":
            return f"[{gap}" + f",{gap}".join(self.flow(depth - 1) for _ in range(self.draw(st.integers(0, 3)))) + "]"
        pairs = (f"{self.word('k')}: {self.flow(depth - 1)}" for _ in range(self.draw(st.integers(0, 3))))
        return "{" + gap + ", ".join(pairs) + gap + "}"

    def block(self, depth: int, indent: int) -> str:
        step, start = self.draw(st.integers(1, 4)), " " * indent
        is_list = indent and self.draw(st.booleans())
        lines = []
        for _ in range(self.draw(st.integers(1, 3))):
            lead = "-" if is_list else f"{self.word('k')}:"
            note = f"   # {self.word('c')}" if self.draw(st.booleans()) else ""
            if self.draw(st.booleans()):
                lines.append(f"{' ' * self.draw(st.integers(0, 9))}# {self.word('c')}\n")
            if depth and self.draw(st.booleans()):
                lines.append(f"{start}{lead}{note}\n{self.block(depth - 1, indent + step)}")
            else:
                lines.append(f"{start}{lead}  {self.flow(2)}{note}\n")
        return "".join(lines)


def inside(data: Any, at: tuple[Any, ...] = ()) -> list[tuple[tuple[Any, ...], Any]]:
    """Every value with its key path."""
    below = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    return [(at, data), *(entry for key, value in below for entry in inside(value, (*at, key)))]


@settings(max_examples=150, deadline=None)
@given(data=st.data())
def test_in_any_file_other_bytes_and_comments_stay(data: Any) -> None:
    """Each word stands once in the text, so what a file should be is a replacement, or the file without what is new."""
    text = Written(data.draw).text
    plain = load_text(text).data
    at, value = data.draw(st.sampled_from(inside(plain)))
    holder: Any = plain
    for step in at[:-1]:
        holder = holder[step]
    if isinstance(value, dict):
        value["new"] = {"one": 1}
    elif isinstance(value, list):
        value.append("new")
    else:
        holder[at[-1]] = "new"
    after = edited(text, plain)
    assert load_text(after).data == plain
    if isinstance(value, str):
        assert after == re.sub(rf"\"{value}\"|'{value}'|{value}", "new", text)
    else:
        new = r"new: \{one: 1\}" if isinstance(value, dict) else "new"
        assert re.sub(rf"(?m)^ *(?:- )?{new}\n", "", after) == text or re.sub(rf"(?:, )?{new}", "", after) == text


# ---------------------------------------------------------------- at the terminal


def test_a_reading_is_corrected_and_nothing_else(hand: Path) -> None:
    result = new(hand, "go to 2.7", "330", "done")
    assert result.exit_code == 0
    assert "[322 stays]" in result.output
    assert hand.read_text() == HAND.replace("  322  ", "  330  ")
    assert sorted(hand.parent.iterdir()) == [hand]


def test_a_reading_keeps_the_tolerance_that_it_had(hand: Path) -> None:
    """Typed without one; 1570 +- 1 is another tolerance, and a reading that had none gets none."""
    new(hand, "4.1", "1570")
    assert hand.read_text() == HAND.replace("1572", "1570")
    new(hand, "4.1", "1570 +- 1")
    assert hand.read_text() == HAND.replace("1572,  tolerance: 2", "1570,  tolerance: 1")
    new(hand, "2.12", "-1")
    assert "camber: -1, toe_in: 0," in hand.read_text()


def test_one_point_of_a_part_is_corrected_and_one_added(hand: Path) -> None:
    result = new(hand, "go to 7.5 lip 2", "0, 812, 400", "7.5", "4", "350, 790, 100")
    assert "Which one: 1, 2, 3, 4? The last one adds one." in result.output
    assert hand.read_text() == HAND.replace("[0,800,400]", "[0,812,400]").replace(
        "[300, 800, 250]]", "[300, 800, 250], [350, 790, 100]]"
    )


def test_a_build_is_added_below_the_others(hand: Path) -> None:
    result = new(hand, "build", "wide", "17x9 ET20 5x114.3 CB70.6", "245/45R17", "", "no", "no", "no", "", "")
    assert result.exit_code == 0, result.output
    after = hand.read_text()
    start = after.index("   wide:")
    assert after[:start] + after[after.index("baseline:") :] == HAND
    assert load_text(after[start : after.index("baseline:")]).data == {
        "wide": {"front": {"wheel": "17x9 ET20 5x114.3 CB70.6", "tire": "245/45R17"}}
    }
    assert load_profile(hand).build_names == ("now", "too", "wide")


def test_an_axle_is_added(hand: Path) -> None:
    result = new(hand, "axle", *AXLE, "axle", "done")
    assert result.exit_code == 0, result.output
    assert "front and rear are both there" in result.output
    profile = load_profile(hand)
    assert profile.axle_names == ("front", "rear")
    rear = profile.corners["now", "rear"].axle
    # typed without a tolerance, a reading of the new axle has what the tape gives: 2 mm, as on the sheet
    assert (rear.hub_face_width.value, rear.hub_face_width.tolerance) == (1560, 2)
    kept = [line for line in hand.read_text().splitlines() if line in HAND.splitlines()]
    changed = '   now: {front: {wheel: &w "15x6 ET35 5x114.3", tire: 205/70R15}'
    assert kept == [line for line in HAND.splitlines() if line != f"{changed}}}"]
    assert f"{changed}, rear: {{wheel: 15x6 ET20 5x114.3, tire: 205/70R15}}}}" in hand.read_text()


@pytest.mark.parametrize("name", ["wagon", "pickup", "coupe", "example"])
def test_a_part_is_added_to_any_bundled_file(name: str, tmp_path: Path) -> None:
    target = tmp_path / f"{name}.yaml"
    before = (BUNDLED / target.name).read_text()
    target.write_text(before)
    result = new(target, "part front", "sump", "ball", "body", "", "30, 120, 10", "25", "", "no")
    assert result.exit_code == 0, result.output
    after = target.read_text()
    start = after.index("      - name: sump")
    block = re.match(r"      - .*\n(?:        .*\n)*", after[start:])
    assert block is not None
    assert after[:start] + after[start + block.end() :] == before
    assert load_text(block[0]).data == [
        {"name": "sump", "shape": "ball", "fixed_to": "body", "at": [30, 120, 10], "radius": 25}
    ]


def test_a_byte_order_mark_line_ends_rights_and_a_link_stay(tmp_path: Path) -> None:
    real, link = tmp_path / "real.yaml", tmp_path / "link.yaml"
    real.write_bytes(b"\xef\xbb\xbf" + HAND.replace("\n", "\r\n").encode())
    real.chmod(0o640)
    link.symlink_to(real)
    assert new(link, "2.7", "330").exit_code == 0
    assert real.read_bytes() == b"\xef\xbb\xbf" + HAND.replace("  322  ", "  330  ").replace("\n", "\r\n").encode()
    assert link.is_symlink()
    assert real.stat().st_mode & 0o777 == 0o640


@pytest.mark.slow
def test_a_file_that_new_wrote_is_opened_like_any_other(tmp_path: Path) -> None:
    session = Session()
    for text in typed(PICKUP):
        session.give("" if text == "done" else text)
    target = tmp_path / "pickup.yaml"
    before = session.draft.text()
    target.write_text(before)
    result = new(target, "2.7 front", "355", "10.3 wide rear", "335/35R20 114Y XL")
    assert result.exit_code == 0, result.output
    assert target.read_text() == before.replace("hub_height: 352 ", "hub_height: 355 ", 1).replace(
        "335/35R20 110W XL", "335/35R20 114Y XL"
    )


@pytest.mark.slow
@pytest.mark.parametrize("name", ["wagon", "pickup", "coupe", "example"])
def test_enter_at_any_reading_of_any_bundled_file_changes_nothing(name: str) -> None:
    """Every question that can be gone to, at its last place: what is there is shown, and stays when it is left so."""
    text = (BUNDLED / f"{name}.yaml").read_text()
    opened, shown = Opened(text), 0
    for entry in numbered(ALL):
        try:
            task = opened.tasks(entry.number)[-1]
        except FitmentError:
            continue
        session = Session(opened=opened, task=task)
        assert session.current is not None
        shown += session.current.stays is not None
        if session.current.may_skip:
            session.give("")
            assert session.text() == text, task
    assert shown > 50


# ---------------------------------------------------------------- what is not right


@pytest.mark.parametrize(
    ("wish", "said"),
    [
        ("go to", "write go to and the number of a question, such as go to 2.7"),
        ("go to 8", "write go to and the number"),
        ("go to 99.9", "there is no question 99.9; fitment worksheet lists them"),
        ("2.14", "2.14 only decides what is asked next"),
        ("7.2", "7.2 decides what else is read"),
        ("2.8", "stands in the profile as a remark only"),
        ("6.43", "6.43 belongs to nothing in this profile"),
        ("go to 2.7 rear", '"rear" is none of these'),
        ("hub", '"hub" is none of these; type part, axle, build'),
        ("undo", "There is no change to take back"),
        ("part rear", '"rear" is none of these'),
    ],
)
def test_a_wish_that_cannot_be_is_answered_and_asked_again(wish: str, said: str, hand: Path) -> None:
    result = new(hand, wish, "quit")
    assert said in flat(result)
    assert hand.read_text() == HAND
    assert sorted(hand.parent.iterdir()) == [hand] or result.exit_code == 1


BAD = ("", "\x07", "999999", "nonsense", "1,5", "12 parsec", "{", "go to 77.7", "- x: [", "nan", "1e400", "*w", "# no")


@pytest.mark.parametrize("path", ["part", "build", "2.7", "7.5 lip 2", "10.2 too", "1.1"])
def test_bad_input_at_every_prompt_leaves_file_and_answers(path: str, hand: Path) -> None:
    """Whatever is typed: no traceback, the file loads, and what is not asked for is as it was."""
    good = {
        "part": ["damper", "ball", "body", "centre_plane", "0, 500, 300", "20", "", "no"],
        "build": ["wide", "17x9 ET20 5x114.3 CB70.6", "245/45R17", "", "no", "no", "no", "", ""],
    }.get(path, [])
    for count in range(len(good) + 1):
        result = new(hand, path, *good[:count], *BAD[1:] if count == 0 else BAD, "quit", "quit")
        assert "Traceback" not in result.output
        load_profile(hand)
        for line in HAND.splitlines():
            if "lip" not in line and "322" not in line and "name" not in line and "too" not in line:
                assert line in hand.read_text().splitlines()
        hand.write_text(HAND)
        for other in hand.parent.iterdir():
            if other != hand:
                other.unlink()


def test_what_would_not_load_is_not_written_and_the_answer_is_asked_again(hand: Path) -> None:
    """hypot(700, 300) = 762 mm from the axle; the tire ends at 381 / 2 + 144 = 334.5 mm: 100 mm is no gap to it."""
    result = new(hand, "2.7", "5", "330 mm")
    assert "not a plausible hub height" in flat(result)
    assert hand.read_text() == HAND.replace("  322  ", "  330  ")
    before = hand.read_bytes()
    result = new(
        hand, "7.1", "", "part", "lip", "post", "ball", "", "", "700, 500, 300", "5", "100", "", "no", "", "quit"
    )
    assert 'there is a part "lip" already' in flat(result)
    assert "no place along y gives the measured gap of 100 mm" in flat(result)
    assert hand.read_bytes() == before
    assert "is as it was." in result.output


def test_a_name_that_a_build_still_uses_is_not_taken_away(tmp_path: Path) -> None:
    """A build of the example changes the fender lip by its name; under another name it would find none."""
    target = tmp_path / "example.yaml"
    before = (BUNDLED / "example.yaml").read_text()
    target.write_text(before)
    result = new(target, "7.1 fender", "lip", "back", "done")
    assert "! builds.trimmed.front.obstacles" in flat(result)
    assert target.read_text() == before


def test_a_part_that_is_left_half_way_is_gone_on_with(hand: Path) -> None:
    answers = ["damper", "ball", "body", "", "0, 500, 300", "20", "", "no"]
    result = new(hand, "part", *answers[:3])
    assert result.exit_code == 1
    assert hand.read_text() == HAND
    assert "Run the same command to go on." in result.output
    result = new(hand, *answers[3:])
    assert result.exit_code == 0, result.output
    assert "Going on with 3 answers" in result.output
    assert [part.name for part in load_profile(hand).corners["now", "front"].axle.obstacles] == ["lip", "damper"]
    assert sorted(hand.parent.iterdir()) == [hand]


def test_back_from_the_first_question_leaves_the_task(hand: Path) -> None:
    result = new(hand, "part", "damper", "back", "back", "2.7", "back", "done")
    assert result.exit_code == 0
    assert result.output.count("is as it was.") == 2
    assert hand.read_text() == HAND
    assert sorted(hand.parent.iterdir()) == [hand]


def test_another_reading_is_corrected_while_a_part_is_typed(hand: Path) -> None:
    answers = ["damper", "ball", "go to 2.7", "330", "go to 7.1", "post", "", "", "0, 500, 300", "20", "", "no"]
    result = new(hand, "part", *answers)
    assert result.exit_code == 0, result.output
    profile = load_profile(hand)
    assert [part.name for part in profile.corners["now", "front"].axle.obstacles] == ["lip", "post"]
    assert "hub_height:   330   # cold tires" in hand.read_text()


def test_undo_takes_the_last_change_back(hand: Path) -> None:
    new(hand, "2.7", "330", "4.1", "1570", "undo")
    assert hand.read_text() == HAND.replace("  322  ", "  330  ")
    hand.write_text(HAND)
    new(hand, "2.7", "330", "4.1", "1570", "undo", "undo", "undo")
    assert hand.read_text() == HAND


def test_a_file_that_is_no_profile_is_not_touched(hand: Path) -> None:
    hand.write_text(HAND.replace("322", "3"))
    result = new(hand, "2.7", "322")
    assert result.exit_code == 2
    assert re.search(r"hand.yaml:7: axles.front.hub_height.*--anew", " ".join(result.stderr.split()))
    assert hand.read_text() == HAND.replace("322", "3")


def test_answers_for_a_file_that_is_gone_are_kept(hand: Path) -> None:
    new(hand, "part", "damper")
    hand.unlink()
    result = new(hand, "x")
    assert result.exit_code == 2
    assert "which is gone" in result.stderr
    assert [path.name for path in hand.parent.iterdir()] == ["hand.yaml.answers"]


@pytest.mark.slow
def test_ctrl_c_at_a_terminal_keeps_file_and_answers(hand: Path) -> None:
    """Driven through a terminal of its own; Ctrl-C is a byte typed there."""
    with _started(hand) as process:
        seen = _typed(process, ("What now?", "part\n"), ("Name of the part", "damper\n"), ("Shape", ""))
        seen += shown_at_ctrl_c(process)
        assert process.wait(PATIENCE) == 130  # 128 + the number of SIGINT
    assert "Run the same command" in seen
    assert "Traceback" not in seen
    assert hand.read_text() == HAND
    assert hand.with_name("hand.yaml.answers").exists()


@pytest.mark.slow
def test_what_an_editor_changes_meanwhile_stays(hand: Path) -> None:
    """While a part is being typed the file gets another part and another height; both are there afterwards."""
    meanwhile = HAND.replace("  322  ", "  330  ").replace(
        "builds:", "      -  {name: post, shape: ball, at: [90, 500, 300]}\nbuilds:"
    )
    with _started(hand) as process:
        _typed(process, ("What now?", "part\n"), ("Name of the part", "damper\n"), ("Shape", "ball\n"))
        _typed(process, ("moves with", "\n"), ("counted from", "\n"), ("Centre of the ball", "0, 500, 300\n"))
        _typed(process, ("thickness", "20\n"), ("Gap", "\n"), ("Change any", ""))
        hand.write_text(meanwhile)
        os.write(process.terminal, b"no\n")
        seen = _typed(process, ("What now?", "done\n"))
        assert process.wait(PATIENCE) == 0
    assert "was changed by something else meanwhile" in seen
    assert [part["name"] for part in load_text(hand.read_text()).data["axles"]["front"]["obstacles"]] == [
        "lip", "post", "damper",
    ]  # fmt: skip
    assert (
        "".join(line for line in hand.read_text().splitlines(True) if line in meanwhile.splitlines(True)) == meanwhile
    )


def test_kept_answers_about_what_is_gone_are_not_put_elsewhere(hand: Path) -> None:
    """Left with one of two locks typed; by then an editor has taken the whole axle out."""
    assert new(hand, "2.16", "35", "quit").exit_code == 1
    hand.write_text(HAND.replace("   front:", "   rear:").replace("{front:", "{rear:"))
    result = new(hand, "30")
    assert result.exit_code == 2
    assert "is not in the profile; delete it to go on without" in result.stderr


def _started(hand: Path) -> AbstractContextManager[Any]:
    """The command in a terminal of its own."""
    return in_pty([sys.executable, "-m", "fitment", "new", str(hand)])


def _typed(process: Any, *pairs: tuple[str, str]) -> str:
    """Type each answer when the words before it have come; what was printed."""
    seen = ""
    for waited, answer in pairs:
        said = shown(process, waited)
        assert waited in said
        os.write(process.terminal, answer.encode())
        seen += said
    return seen


# ---------------------------------------------------------------- in a new profile


def test_go_to_leads_back_to_an_answer_and_on_again(tmp_path: Path) -> None:
    target = tmp_path / "a.yaml"
    result = new(target, "Van", "", "2740", "go to 9.9", "go to 1.1", "Truck", "quit")
    assert "9.9 is not answered yet." in flat(result)
    session = read_kept(tmp_path / "a.yaml.answers")
    assert session.draft.data == {"name": "Truck", "wheelbase": 2740}
    assert session.current is not None
    assert session.current.numbered.number == "1.4"


def test_go_to_before_the_profile_is_written(tmp_path: Path) -> None:
    target = tmp_path / "a.yaml"
    vehicle = ["Van", "", "2740", "", "", "rear", "now", "usual", ""]
    result = new(target, *vehicle, *AXLE, "", "go to 5.5.5", "go to 1.1", "Truck", "go to 2.7", "330", "yes")
    assert result.exit_code == 0, result.output
    data = load_text(target.read_text()).data
    assert (data["name"], data["axles"]["rear"]["hub_height"]) == ("Truck", 330)


def test_inches_are_the_unit_of_a_correction_where_they_are_chosen(hand: Path) -> None:
    result = new(hand, "2.7", "12 5/8", "4.1", "", "7.5 lip 2", "", options=("--units", "in"))
    assert result.exit_code == 0
    for text in (
        "[322 mm stays]",
        "[1572 +- 2 mm stays]",
        "[0, 800, 400 mm stays]",
    ):  # a bare number of a file is in mm
        assert text in result.output
    assert hand.read_text() == HAND.replace("  322  ", "  12 5/8 in  ")
