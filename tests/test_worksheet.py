"""The sheets to measure by: complete, in order, legible, printable, and the same every time."""

from __future__ import annotations

import itertools
import re
import struct
from collections.abc import Sequence
from functools import cache
from pathlib import Path

import pytest
from conftest import run
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle
from matplotlib.text import Text

from fitment.draw.printed.sketch import HEIGHT, Sketch
from fitment.draw.printed.sketches import SKETCHES
from fitment.draw.printed.worksheet import BOX, RAW, WIDTH, worksheet_pages, worksheet_pdf
from fitment.draw.style import look
from fitment.measuring.questions import ALL, CAUTIONS
from fitment.measuring.questions.builds import BUILDS
from fitment.measuring.questions.forms import chapters, number_of, numbered, rows, sections
from fitment.measuring.questions.on_wheels import KINDS
from fitment.measuring.questions.words import gives_text

NUMBER = re.compile(r"\d{1,2}\.\d{1,2}")


drawn = cache(worksheet_pages)


def pages(kinds: Sequence[str] = KINDS, units: str = "mm", paper: str = "a4") -> list[Figure]:
    """Drawn once for all that look at them."""
    return drawn(tuple(kinds), units, paper)


def texts(figure: Figure) -> list[Text]:
    return [text for ax in figure.axes for text in ax.texts]


def words(figures: Sequence[Figure]) -> str:
    return "\n".join(text.get_text() for figure in figures for text in texts(figure))


@pytest.fixture(scope="module")
def whole() -> list[Figure]:
    return pages()


# ---------------------------------------------------------------- the list


def test_numbers_run_in_order_and_tell_every_question_apart() -> None:
    found = [tuple(map(int, each.number.split("."))) for each in numbered(ALL)]
    assert found == sorted(set(found))
    assert [row.number for row in rows(ALL)] == [each.number for each in numbered(ALL)]


def test_sections_that_are_referred_to_are_the_ones_meant() -> None:
    """A text that says "section 7" means the section of that number: what it should be about is said here."""
    title: dict[str, str] = {}
    for number, _, section in chapters(ALL):
        title[str(number)] = f"{title.get(str(number), '')} {section.title}"
    about = {"1": "The vehicle", "2": "wheels on", "3": "came off", "4": "the hub", "5": "the brake", "6": "moves",
             "7": "could meet", "8": "lowest"}  # fmt: skip
    spoken = [each.question.how for each in numbered(ALL)] + [section.how for section in sections(ALL)]
    referred = {number for text in spoken for number in re.findall(r"section (\d+)", text)}
    assert referred <= set(about)
    for number, word in about.items():
        assert word in title[number]
    assert "hardpoints" in title["6"]
    assert "can be set" in title["6"]


def test_a_reading_says_with_what_it_is_taken_and_what_that_gives() -> None:
    for each in numbered(ALL):
        question = each.question
        if question.gives is not None:
            assert question.tool or question.path.endswith("/tolerance"), each.number
            assert re.fullmatch(r"\+-[0-9.]+ (mm|deg)", gives_text(question, "mm")), each.number


def test_a_tolerance_in_inches_is_one_of_a_tape_and_no_smaller() -> None:
    # 2 mm / 25.4 = 0.0787 in: more than 2/32 = 0.0625, less than 3/32 = 0.0938
    hub_height = next(each.question for each in numbered(ALL) if each.question.path.endswith("hub_height"))
    assert gives_text(hub_height, "mm") == "+-2 mm"
    assert gives_text(hub_height, "in") == "+-3/32 in"


# ---------------------------------------------------------------- text


def test_the_list_begins_with_the_cautions_and_holds_every_question_in_order() -> None:
    text = run("worksheet").stdout
    assert text.startswith("BEFORE YOU START\n  - Level, firm ground.")
    assert text.index("jack alone") < text.index("YOU NEED") < text.index("1 THE VEHICLE")
    assert re.findall(r"^  (\d+\.\d+) ", text, re.MULTILINE) == [each.number for each in numbered(ALL)]
    assert max(map(len, text.splitlines())) <= 100


def test_only_the_suspensions_asked_for_are_listed() -> None:
    tape = run("worksheet", "--kind", "tape").stdout
    strut = run("worksheet", "--kind", "strut").stdout
    assert "HARDPOINTS" not in tape
    assert "Wheel in bump, and in droop" in tape
    assert "Strut, centre of its top mount" in strut
    assert "Panhard" not in strut
    assert "Wheel in bump, and in droop" not in strut
    both = run("worksheet", "--kind", "strut", "--kind", "tape").stdout
    assert "Strut, centre of its top mount" in both
    assert "Wheel in bump, and in droop" in both


def test_the_box_for_rocked_play_says_what_the_reading_is_for() -> None:
    """Half of the whole travel each way, in a column of its own, as `play.rock` counts."""
    said = "It counts alone, in the column 'in service': half of it leans the wheel each way"
    for text in (run("worksheet", "--kind", "tape").stdout, words(pages())):
        assert said in " ".join(text.split())


def test_inches_throughout() -> None:
    text = run("worksheet", "--units", "in").stdout
    assert not re.search(r"\d mm\b", text)
    assert "such as 2 3/8 in, 1" in text


# ---------------------------------------------------------------- paper


@pytest.mark.slow
@pytest.mark.parametrize(("units", "paper"), [("mm", "a4"), ("in", "letter")])
def test_nothing_is_cut_off_and_no_words_lie_on_others(units: str, paper: str) -> None:
    with look():
        for number, figure in enumerate(pages(units=units, paper=paper), start=1):
            figure.set_dpi(400)  # letters as wide as in print, not fitted to a screen's pixels
            canvas = FigureCanvasAgg(figure)
            renderer = canvas.get_renderer()
            width, height = figure.get_size_inches()
            boxes = [(text, text.get_window_extent(renderer)) for text in texts(figure) if text.get_text()]
            for text, box in boxes:
                left, right = box.x0 / figure.dpi, box.x1 / figure.dpi
                assert left >= (width - WIDTH) / 2 - 0.02, (number, text.get_text())
                assert right <= (width + WIDTH) / 2 + 0.02, (number, text.get_text())
                assert box.y0 / figure.dpi > 0.3, (number, text.get_text())
                assert box.y1 / figure.dpi < height - 0.3, (number, text.get_text())
            for (one, a), (other, b) in itertools.combinations(boxes, 2):  # the box of a line is higher than its ink
                apart = a.x1 <= b.x0 + 4 or b.x1 <= a.x0 + 4 or a.y1 <= b.y0 + 10 or b.y1 <= a.y0 + 10
                assert apart, (number, one.get_text(), other.get_text())


@pytest.mark.slow
@pytest.mark.parametrize("name", SKETCHES)
def test_every_word_of_a_drawing_lies_within_its_frame(name: str) -> None:
    for units in ("mm", "in"):
        with look():
            figure = Figure(figsize=(3.55, 3.55 * HEIGHT / 100), dpi=200)
            canvas = FigureCanvasAgg(figure)
            ax = figure.add_axes((0, 0, 1, 1))
            ax.set_xlim(0, 100)
            ax.set_ylim(0, HEIGHT)
            SKETCHES[name][1](Sketch(ax, units), lambda path: number_of(ALL, path))
            canvas.draw()
            frame, renderer = ax.get_window_extent(), canvas.get_renderer()
            for text in ax.texts:
                patch = text.get_bbox_patch()
                assert patch is not None
                box = patch.get_window_extent(renderer)
                assert frame.x0 <= box.x0, text.get_text()
                assert box.x1 <= frame.x1, text.get_text()
                assert frame.y0 <= box.y0, text.get_text()
                assert box.y1 <= frame.y1, text.get_text()


def test_every_drawing_is_used_and_every_drawing_used_exists() -> None:
    used = {name for section in sections(ALL) for name in section.drawings}
    assert used == set(SKETCHES)


def test_the_sheets_hold_every_question(whole: list[Figure]) -> None:
    printed = set(NUMBER.findall(words(whole)))
    known = {each.number for each in numbered(ALL) if each.section is BUILDS}  # of a wheel: written as in section 3
    known |= {each.number for each in numbered(ALL) if int(each.number.split(".")[0]) > 10}  # on copies
    assert {each.number for each in numbered(ALL)} - known <= printed
    boxes = ("wheel/spec", "tire/code", "spacer/thickness", "/ride")
    asked = {each.number for each in numbered(ALL) if each.section is BUILDS and each.question.path.endswith(boxes)}
    assert len(asked) == 4
    assert asked | {each.number for each in numbered(ALL) if each.question.sets in ("build", "other")} <= printed


def test_what_is_asked_again_of_a_build_has_a_page_to_copy(whole: list[Figure]) -> None:
    """Every number of sections 11 to 16 is a row of its own or lies in a range that names where to write it."""
    text = " ".join(words(whole).split())
    there = set(NUMBER.findall(text))
    order = [each.number for each in numbered(ALL)]
    for first, last in re.findall(r"(1[1-6]\.\d+) to (1[1-6]\.\d+) is \d+\.\d+ to \d+\.\d+", text):
        there |= set(order[order.index(first) : order.index(last) + 1])
    assert {number for number in order if int(number.split(".")[0]) > 10} <= there


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_no_page_is_less_than_half_full(kind: str) -> None:
    for units, paper in (("mm", "a4"), ("in", "letter")):
        figures = worksheet_pages((kind,), units, paper, "front")
        for number, figure in enumerate(figures, start=1):
            ax = figure.axes[0]
            length = ax.get_ylim()[0]
            lowest = max(
                [text.get_position()[1] for text in ax.texts if text.get_position()[1] < length - 0.1]
                + [patch.get_y() + patch.get_height() for patch in ax.patches if isinstance(patch, Rectangle)]
            )
            assert lowest > length / 2, (kind, paper, number, len(figures))


def test_sections_of_a_kind_are_numbered_without_gaps() -> None:
    for kind in KINDS:
        numbers = [int(number) for number in re.findall(r"^(\d+) [A-Z]", run("worksheet", "--kind", kind).stdout, re.M)]
        assert sorted(set(numbers)) == list(range(1, 17)), kind


def test_cautions_come_before_anything_else(whole: list[Figure]) -> None:
    first = " ".join(words(whole[:1]).split())
    for caution in CAUTIONS:
        assert caution in first
    assert not re.search(r"\n1\.1\n", words(whole[:1]))


def test_the_numbers_in_a_drawing_are_those_of_questions(whole: list[Figure]) -> None:
    known = {each.number for each in numbered(ALL)}
    drawn = {
        number
        for figure in whole
        for ax in figure.axes[1:]
        for text in ax.texts
        for number in NUMBER.findall(text.get_text())
        if number != "28.6"  # degrees of half a radian, the factor of toe-in
    }
    assert drawn <= known
    assert len(drawn) > 50


def test_black_on_white_and_boxes_large_enough_for_a_pencil(whole: list[Figure]) -> None:
    for figure in whole:
        for text in texts(figure):
            red, green, blue = (to_hex(text.get_color())[i : i + 2] for i in (1, 3, 5))
            assert red == green == blue
        boxes = [patch for patch in figure.axes[0].patches if isinstance(patch, Rectangle)]
        assert {to_hex(patch.get_facecolor()) for patch in boxes} <= {"#000000", "#ffffff"}
    assert BOX * 25.4 >= 7
    assert (RAW - 0.06) * 25.4 >= 5


@pytest.mark.slow
def test_a_kind_of_its_own_has_only_its_own_points() -> None:
    text = words(pages(("strut",)))
    lines = text.split("\n")
    assert number_of(ALL, "strut:points/strut_top") in lines
    assert number_of(ALL, "five_link:points/toe_body") not in lines
    assert "five_link" in lines  # as a choice under the kind of suspension
    assert "Outward motion of the hub face" not in text


@pytest.mark.slow
def test_a_group_for_one_kind_is_on_no_other_kinds_sheet() -> None:
    stroke = "Did you measure how far the strut can move in and out"
    assert stroke in words(pages(("strut",)))
    assert stroke not in words(pages(("tape", "double_wishbone")))
    assert stroke not in run("worksheet", "--kind", "tape").stdout


def test_another_hub_brake_and_suspension_are_asked_for_as_the_first_ones_are() -> None:
    """Every reading of sections 4 to 7 stands again behind the builds, in the same order and the same words."""
    by_section = {i: [row for row in rows(ALL) if row.number.startswith(f"{i}.")] for i in range(1, 17)}
    for first, later in ((4, 11), (5, 12), (6, 13), (8, 14)):
        again = [row.question.ask for row in by_section[later]]
        asked = [row.question.ask for row in by_section[first]]
        start = again.index(asked[0])
        assert again[start : start + len(asked)] == asked


def test_a_gate_says_where_to_go_on() -> None:
    gates = [row for row in rows(ALL) if row.after]
    known = {row.number for row in rows(ALL)}
    assert gates
    for row in gates:
        assert row.question.form == "yes"
        assert row.after in known or int(row.after) == int(row.number.split(".")[0]) + 1


# ---------------------------------------------------------------- file


@pytest.mark.slow
def test_the_same_bytes_every_time_and_no_date(tmp_path: Path) -> None:
    target = tmp_path / "sheets.pdf"
    assert run("worksheet", "--kind", "tape", "--out", str(target)).exit_code == 0
    content = target.read_bytes()
    assert content == worksheet_pdf(("tape",))
    assert content.startswith(b"%PDF-")
    assert b"CreationDate" not in content
    assert b"Matplotlib" not in content


@pytest.mark.slow
def test_paper_follows_the_units_unless_it_is_named(tmp_path: Path) -> None:
    # A4 is 210 x 297 mm (ISO 216), letter 8.5 x 11 in (ANSI/ASME Y14.1); a point is 1/72 in
    target = tmp_path / "sheets.pdf"
    assert run("worksheet", "--kind", "tape", "--units", "in", "--out", str(target)).exit_code == 0
    found = re.search(rb"/MediaBox \[ ?0 0 ([0-9.]+) ([0-9.]+) ?\]", target.read_bytes())
    assert found is not None
    assert (float(found[1]), float(found[2])) == pytest.approx((8.5 * 72, 11 * 72), abs=0.1)
    for units, paper, size in (("mm", "a4", (210 / 25.4, 297 / 25.4)), ("in", "letter", (8.5, 11))):
        assert pages(KINDS, units, paper)[0].get_size_inches() == pytest.approx(size, abs=0.001)


@pytest.mark.parametrize("name", ["sheet.svg", "sheet.txt", "sheet"])
def test_it_is_a_pdf_a_picture_or_nothing(name: str, tmp_path: Path) -> None:
    result = run("worksheet", "--out", str(tmp_path / name))
    assert result.exit_code == 2
    assert ".pdf" in result.stderr
    assert not (tmp_path / name).exists()


@pytest.mark.slow
def test_its_first_pages_as_a_picture(tmp_path: Path) -> None:
    """Two pages of A4 side by side, the same bytes each time."""
    for name in ("one.png", "two.png"):
        assert run("worksheet", "--kind", "tape", "--out", str(tmp_path / name)).exit_code == 0
    assert (tmp_path / "one.png").read_bytes() == (tmp_path / "two.png").read_bytes()
    width, height = struct.unpack(">II", (tmp_path / "one.png").read_bytes()[16:24])
    assert width / height == pytest.approx(2 * 210 / 297, abs=0.03)


@pytest.mark.slow
def test_lengths_in_words_are_turned() -> None:
    assert "body lowered by 60 mm is +60 mm" in words(pages(KINDS, "mm", "letter"))
    text = words(pages(KINDS, "in", "letter"))
    assert "body lowered by 2 in is +2 in" in text
    assert not re.search(r"\d mm\b", text)
