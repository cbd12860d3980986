"""The page's first screen: its sentence, figures and pictures, what it says would help, its words, and its print.

Expected figures come from `check --format json`, which has tests of its own, or from hand-worked bench vehicles
(conftest.py); changes from the README's listing of `check --changes`, which `test_readme.py` holds.
"""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pytest
from conftest import bench_setup, changes_of, run, run_json, steered, vehicle, write_profile, written_page
from page_browser import Page

from fitment.answers.builds import checked
from fitment.answers.changes import quick_changes
from fitment.answers.changes.trials import Bench, short
from fitment.answers.changes.wheels import offset_asks
from fitment.draw.sheets import clearance_rows
from fitment.page.first_screen import figures, sentence
from fitment.page.glossary import GLOSSARY
from fitment.page.views import closest_picture
from fitment.profile import load_profile
from fitment.units import clearance_text, length_text

pytestmark = pytest.mark.slow
NO_TERMS = {"between", "what", "where", "show", "always"}  # words of everyday that head a column


@pytest.fixture(scope="session")
def wagon_page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Both axles of a bundled vehicle; both touch."""
    return written_page(tmp_path_factory.mktemp("wagon"), "wagon", "--build", "wanted", "--date", "29 November 2026")


@pytest.fixture(scope="session")
def wagon_answer() -> Any:
    return run_json("check", "wagon", "--build", "wanted")


class Read(HTMLParser):
    """Texts of some elements: thead th, dt, and what stands where by class."""

    def __init__(self, path: Path) -> None:
        super().__init__()
        self.open: list[tuple[str, str]] = []
        self.texts: dict[str, list[str]] = {}
        self.feed(path.read_text())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag in ("th", "dt", "p", "h3", "text", "summary", "strong", "span"):
            named = dict(attrs)
            self.open.append((tag, named.get("class") or named.get("scope") or ""))
            self.texts.setdefault(" ".join(self.open[-1]).strip(), []).append("")

    def handle_endtag(self, tag: str) -> None:
        if self.open and self.open[-1][0] == tag:
            self.open.pop()

    def handle_data(self, data: str) -> None:
        if self.open:
            self.texts[" ".join(self.open[-1]).strip()][-1] += data


# ---------------------------------------------------------------- the sentence


def test_the_first_screen_says_what_hits_what_and_where(wagon_page: Path, wagon_answer: Any) -> None:
    told = Read(wagon_page).texts["p sentence"]
    assert len(told) == len(wagon_answer) == 2
    for words, answer in zip(told, wagon_answer, strict=True):
        worst = answer["worst"]
        assert worst["clearance_mm"] < 0
        assert words.startswith(f"Touches: the {worst['part']} hits the {worst['obstacle']} ")
        assert f"{worst['travel_mm']:+.0f} mm of travel" in words
        assert ("turned left" in words) == (worst["steer_deg"] > 1)
        figures = re.findall(r"<dt>(.*?)</dt><dd>(.*?)</dd>", wagon_page.read_text())
        overlap = -worst["clearance_mm"]
        assert ("overlap", length_text(overlap) if overlap <= 20 else "more than 20 mm") in figures
        assert ("worst case", clearance_text(worst["worst_case_mm"])) in figures


def bench_sentence(folder: Path, **front: Any) -> str:
    return sentence(checked(load_profile(write_profile(folder, vehicle(**front))), ["front"], None)[0][0], "mm")


def post(y: float, **more: Any) -> dict[str, Any]:
    """An upright edge outboard of the bench tire, whose outer side stands at y = 865 (conftest.py)."""
    return {"name": "post", "shape": "edge", "points": [[0, y, -450], [0, y, 450]], "tolerance": 0, **more}


def test_each_verdict_has_a_sentence_of_its_own(tmp_path: Path) -> None:
    """Gaps of 25, 2 and -5 mm by hand; 5 mm is required of a tire."""
    assert bench_sentence(tmp_path, obstacles=[post(890)]).startswith("Clears: the tightest place has 25.0 mm left")
    tight = bench_sentence(tmp_path, obstacles=[post(867)])
    assert tight.startswith("Tight: only 2.0 mm between the tire and the post")
    assert tight.endswith("; 5.0 mm required.")
    assert bench_sentence(tmp_path, obstacles=[post(860)]).startswith("Touches: the tire hits the post")
    assert bench_sentence(tmp_path, obstacles=[]).startswith("Not checked: no part near the wheel")
    against = bench_sentence(tmp_path, obstacles=[post(871, tolerance=20)])
    assert against.startswith("Tight: the tire clears the post as measured, but in the worst case they touch")


def test_figures_of_another_part_than_the_sentence_is_about_name_it(tmp_path: Path) -> None:
    """The bar over the tread has least left as measured; the post, read to 20 mm, touches in the worst case."""
    low = {"name": "bar", "shape": "edge", "points": [[0, 700, 376], [0, 800, 376]], "tolerance": 0}
    said = {}
    for name, parts in {"one": [post(871, tolerance=20)], "two": [post(890, tolerance=40), low]}.items():
        profile = load_profile(write_profile(tmp_path, vehicle(obstacles=parts)))
        case = checked(profile, ["front"], None)[0][0]
        said[name] = sentence(case, "mm"), dict(figures(case, "mm")).get("closest call")
    assert said["one"][1] is None
    assert "the tire clears the post as measured" in said["two"][0]
    assert said["two"][1] == "tire to bar"


def test_what_is_tight_in_service_only_is_what_figures_and_pictures_show(tmp_path: Path) -> None:
    """By hand: the post leaves 8 mm, the bar behind 10; braking takes 7 of the bar's and none of the post's.

    The bar lies level with the axle, 10 mm behind the tire's radius of 317 mm.
    """
    bar = {"name": "bar", "shape": "edge", "points": [[-327, 700, 0], [-327, 800, 0]], "tolerance": 0}
    still = {"droop": -1, "bump": 1}
    asked = {"play": {"fore_aft": 7}}
    said = {}
    for name, service in {"driven": asked, "measured": None}.items():
        data = vehicle(obstacles=[post(873), bar], travel=still, **({"service": service} if service else {}))
        case = checked(load_profile(write_profile(tmp_path, data)), ["front"], None)[0][0]
        picture = closest_picture(None, case, "mm")
        said[name] = (
            case.fit.verdict,
            sentence(case, "mm"),
            dict(figures(case, "mm")),
            picture,
            clearance_rows(case, "mm"),
        )
    verdict, told, shown, picture, rows = said["driven"]
    assert verdict == "tight"
    assert "when driven the tire and the bar are 3.0 mm apart" in told
    assert "closest call" not in shown
    assert (shown["as measured"], shown["in service"]) == ("10.0 mm", "3.0 mm")
    assert "10.0 mm between tire and bar" in picture.spoken
    assert ", as measured; in service 3.0 mm; 5.0 mm required." in picture.spoken.replace("\u00a0", " ")
    assert b"in service 3.0" in picture.svg
    assert rows[0][3] == "in service"
    assert (rows[1][0], rows[1][1], rows[1][3]) == ("bar, tire", "10.0 mm", "3.0 mm")  # short, so it leads
    verdict, told, shown, picture, rows = said["measured"]
    assert verdict == "clears"
    assert shown["clearance"] == "8.0 mm"
    assert "8.0 mm between tire and post" in picture.spoken
    assert "in service" not in rows[0]


def test_a_wheel_that_does_not_bolt_on_says_so_first(tmp_path: Path) -> None:
    data = steered()
    bench_setup(data)["wheel"] = "17x8 ET40 5x112 CB67.1"
    case = checked(load_profile(write_profile(tmp_path, data)), ["front"], None)[0][0]
    assert sentence(case, "mm").startswith("Does not bolt on: bolt circle, ")


def test_a_part_fixed_to_the_knuckle_is_as_near_in_every_position(tmp_path: Path) -> None:
    assert "in every position of the wheel" in bench_sentence(tmp_path, obstacles=[post(600, fixed_to="knuckle")])


def test_date_and_version_stand_on_the_page_and_no_date_without_one(tmp_path: Path, wagon_page: Path) -> None:
    version = run("--version").output.split()[-1]
    assert wagon_page.read_text().count("29 November 2026") == 2
    assert wagon_page.read_text().count(f"fitment {version}") == 2
    page = written_page(tmp_path, write_profile(tmp_path, vehicle()), "--date", "<b>\n1 May").read_text()
    assert "&lt;b&gt; 1 May" in page
    assert 'class="date"' not in written_page(tmp_path, write_profile(tmp_path, vehicle())).read_text()


# ---------------------------------------------------------------- words


def test_every_term_of_the_page_is_in_its_glossary(wagon_page: Path) -> None:
    """Heads of columns, names of rows, figures and checks, verdicts."""
    known = {term.lower() for term, _ in GLOSSARY}
    texts = Read(wagon_page).texts
    terms = [*texts["th col"], *texts["dt"], *texts["strong verdict touches"]]
    rows = re.findall(r'<table class="compact">(.*?)</table>', wagon_page.read_text(), re.DOTALL)
    terms += [name for row in rows for name in re.findall(r'<th scope="row">(.*?)</th>', row)]
    left = set()
    for term in terms:
        plain = (
            re.sub(r" \(.*\)|, (outward|each wheel)$| at the ground$", "", term.replace("&#39;", "'")).strip().lower()
        )
        if plain and plain not in NO_TERMS | {"wanted"} and not plain.startswith("against ") and plain not in known:
            left.add(plain)
    assert left == set()
    assert list(GLOSSARY) == sorted(GLOSSARY)


# ---------------------------------------------------------------- what would make it fit


def test_quick_changes_are_those_of_the_full_search() -> None:
    """The README lists of this axle: 30 mm of the lip clears, ET37 ends the contact, ET36 does not.

    The tire tells no shape, so a square shoulder and a rim protector count in the worst case.
    """
    found = {c.kind: c for c in quick_changes(checked(load_profile("coupe"), ["rear"], "stance")[0][0])}
    assert (found["part"].value, found["part"].achieves) == (30, "clears")
    assert (found["offset"].value, found["offset"].less, found["offset"].achieves) == (37, 36, "no_contact")
    full = changes_of("coupe", "rear", "stance").asides[0].changes
    assert full is not None
    helping = {c.kind: c for c in full if c.achieves != "nothing"}
    for kind, change in found.items():
        told = helping[kind]
        assert (change.value, change.less, change.achieves) == (told.value, told.less, told.achieves), kind


def test_a_bound_is_no_less_than_what_a_check_finds() -> None:
    bench = Bench(checked(load_profile("coupe"), ["rear"], "stance")[0][0])
    lever = offset_asks(bench)[0].lever
    names = frozenset(bench.offenders("clears"))
    assert lever.bound is not None
    for i in (0, 9, 14, 30):
        entries = bench.against(lever.trial(i), names)
        for goal in ("clears", "no_contact"):
            assert lever.bound(i, goal, names) >= min(short(entry, goal) for entry in entries) - 1e-6


# ---------------------------------------------------------------- pictures


def test_each_picture_is_spoken_as_one_sentence_with_its_figure(wagon_page: Path, wagon_answer: Any) -> None:
    labels = re.findall(r'<svg viewBox="[^"]*"[^>]* role="img" aria-label="([^"]*)">', wagon_page.read_text())
    assert len(labels) == 6
    for label in labels:
        assert label.endswith(".")
        assert re.search(r"\d mm", label)
    for label, answer in zip(labels[:2], wagon_answer, strict=True):
        overlap = -answer["worst"]["clearance_mm"]
        assert (length_text(overlap) if overlap <= 20 else "more than 20 mm") in label


def test_text_in_a_picture_is_text_and_stays_where_it_was_placed(wagon_page: Path, opened: Any) -> None:
    assert "inner fender to tire, at the rear of the top" in Read(wagon_page).texts["text f-quiet"]
    page: Page = opened(wagon_page)
    page.run("document.querySelectorAll('details').forEach((fold) => { fold.open = true; })")
    off = page.run(
        "[...document.querySelectorAll('.picture text')].filter((t) => { const b = t.getBBox(); const v = "
        "t.ownerSVGElement.viewBox.baseVal; return b.x < -1 || b.x + b.width > v.width + 1 || Math.abs("
        "t.getComputedTextLength() - Number(t.getAttribute('textLength'))) > 0.5; }).map((t) => t.textContent)"
    )
    assert off == []


def test_a_picture_is_enlarged_by_click_and_by_key_and_escape_closes_it(wagon_page: Path, opened: Any) -> None:
    page: Page = opened(wagon_page)
    is_open, width = "document.getElementById('large').open", "document.querySelector('{} svg').clientWidth"
    small = page.run(width.format(".answer .picture"))
    page.click(".answer .picture svg")
    assert page.run(is_open)
    assert page.run(width.format("#large")) > 1.3 * small
    page.key("Escape")
    page.wait(f"!{is_open}")
    page.run("document.querySelector('.answer .enlarge').focus()")
    page.key("Enter")
    page.wait(f"{is_open} && document.querySelector('#large svg') !== null")
    fits = page.run(width.format("#large"))
    page.click("#large .larger")
    assert page.run(width.format("#large")) > 1.3 * fits
    assert page.run("document.querySelector('#large .larger').getAttribute('aria-pressed')") == "true"
    page.key("Escape")
    page.wait(f"!{is_open}")
    assert page.run("document.activeElement.className").startswith("enlarge")


@pytest.mark.parametrize("width", [360, 700, 1280])
def test_a_number_stays_with_its_unit_and_an_option_is_whole(wagon_page: Path, opened: Any, width: int) -> None:
    """By the lines that the browser lays out; a command keeps its plain spaces, so that it can be copied."""
    page: Page = opened(wagon_page, width=width)
    parted = page.run(r"""(() => {
      const walk = document.createTreeWalker(document.querySelector('main'), NodeFilter.SHOW_TEXT);
      const found = [];
      while (walk.nextNode()) {
        const {currentNode: text} = walk;
        if (text.parentElement.closest('svg, code')) continue;
        for (const match of text.data.matchAll(/\d[\s\u00a0](?:mm|deg|kg)\b/g)) {
          const range = document.createRange();
          range.setStart(text, match.index);
          range.setEnd(text, match.index + match[0].length);
          const tops = new Set([...range.getClientRects()].map((box) => Math.round(box.top)));
          if (tops.size > 1) found.push(match.input);
        }
      }
      return found;
    })()""")
    assert parted == []
    lines = page.run(
        "[...document.querySelectorAll('.answer code')].map((e) => [e.textContent, "
        "[...e.children].map((w) => w.getBoundingClientRect().height / w.getClientRects().length)])"
    )
    assert len(lines) == 2
    for command, heights in lines:
        assert re.fullmatch(r"fitment check wagon --build wanted --axle (front|rear) --changes", command)
        assert max(heights) < 1.5 * min(heights)  # none has two lines


def test_no_figure_stands_alone_on_a_line(tmp_path: Path, opened: Any) -> None:
    """Seven figures at 700 px: with service one more than the line has room for."""
    path = written_page(tmp_path, "coupe", "--build", "track_day", "--axle", "front-left")
    tops = opened(path, width=700).run(
        "[...document.querySelectorAll('.figures > div')].map((e) => Math.round(e.getBoundingClientRect().top))"
    )
    assert len(tops) == 7
    assert all(tops.count(top) > 1 for top in tops)


# ---------------------------------------------------------------- folded, printed


def test_what_does_not_answer_is_folded_and_a_link_opens_it(wagon_page: Path, opened: Any) -> None:
    page: Page = opened(wagon_page)
    open_ones = page.run(
        "[...document.querySelectorAll('section.axle > details[open] > summary')].map((e) => e.textContent)"
    )
    assert set(open_ones) == {"Every gap, tightest first"}
    page.click(".answer a[href='#front-bolt-on']")
    page.wait("document.getElementById('front-bolt-on').closest('details').open")


PRINTED = {  # a page's arguments, and the corners or axles that answer on it
    "one build": (("wagon", "--build", "wanted"), ("Front axle touches", "Rear axle touches")),
    "two builds": (("wagon", "as_bought", "wanted"), ("Front axle touches", "Rear axle touches")),
    "three corners": (
        ("coupe", "stock", "track_day"),
        ("Front left corner tight", "Front right corner tight", "Rear axle clears"),
    ),
}


@pytest.fixture(params=PRINTED, scope="module")
def printed(request: Any, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, tuple[str, ...]]:
    """A page and what has to answer on its first sheet."""
    arguments, answers = PRINTED[request.param]
    return written_page(tmp_path_factory.mktemp("printed"), *arguments), answers


def test_paper_has_every_answer_on_page_one_and_all_on_eight(
    printed: tuple[Path, tuple[str, ...]], opened: Any, tmp_path: Path
) -> None:
    """What an axle tells in the same words as one before it is told once; nothing else is left out."""
    path, answers = printed
    page: Page = opened(path)
    page.pdf(tmp_path / "page.pdf")
    document = pypdfium2.PdfDocument(tmp_path / "page.pdf")
    assert len(document) <= 8
    texts = [" ".join(sheet.get_textpage().get_text_bounded().split()) for sheet in document]
    for words in (*answers, "Before you rely on it"):
        assert words in texts[0]
    assert not re.search("(axle|corner): more", texts[0])
    for i, text in enumerate(texts):  # no heading stands alone at a sheet's foot
        assert not re.search(r"(axle|corner): more( Through[a-z ]+)?$", text), i
    assert np.all(
        [any(words in text for text in texts) for words in ("toe-in, each wheel", "scrub radius", "bolt circle")]
    )
    assert any("The wheel's edge towards the vehicle" in text for text in texts)  # folded on the screen
    # a long text may go over columns or sheets, so either half of it counts
    whole = re.sub(r"\s|\ufffe|\u00ad", "", "".join(texts))
    listed = set(page.run("[...document.querySelectorAll('main li, main dd, .sentence')].map((e) => e.textContent)"))
    for said in (re.sub(r"\s", "", each) for each in listed):
        half = len(said) // 2
        assert said in whole or (half > 30 and (said[:half] in whole or said[half:] in whole)), said
