"""The moving drawing's pad, magnifier, hatches and tabs, driven in a real headless browser.

Expected clearances and poses come from `check --format json`; distances on the drawing are measured with shapely on
what the script drew, and compared with the clearances of that answer.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from conftest import run_json, vehicle, write_profile, written_page
from page_browser import Page

pytestmark = pytest.mark.slow
SAID = "document.querySelector('.said b').textContent.replaceAll('\\u00a0', ' ')"
SPOKEN = "document.querySelector('.pad').getAttribute('aria-valuetext')"


@pytest.fixture(scope="session")
def wagon_page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A steered front axle that touches."""
    return written_page(tmp_path_factory.mktemp("wagon"), "wagon", "--build", "wanted", "--axle", "front")


@pytest.fixture(scope="session")
def wagon_answer() -> Any:
    return run_json("check", "wagon", "--build", "wanted", "--axle", "front")


@pytest.fixture
def page(wagon_page: Path, opened: Any) -> Page:
    found = opened(wagon_page)
    assert isinstance(found, Page)
    return found


def moving(path: Path) -> Any:
    """The data of the first axle's moving drawing."""
    text = re.search(r'<script type="application/json" id="moving">(.*?)</script>', path.read_text(), re.DOTALL)
    assert text
    return json.loads(text[1])["axles"][0]


def least_by_row(answer: Any) -> dict[str, list[float]]:
    """Least and largest clearance [mm] of every row of a check."""
    rows: dict[str, list[float]] = {}
    for each in answer["clearances"]:
        rows.setdefault(f"{each['part']} to {each['obstacle']}", []).append(each["clearance_mm"])
    return {name: [min(gaps), max(gaps)] for name, gaps in rows.items()}


def pad_box(page: Page) -> list[float]:
    """Left, top, width and height of the map on the screen [px]."""
    box = page.run(
        "(() => {const e = document.querySelector('.pad'); e.scrollIntoView({block: 'center', behavior: 'instant'});"
        " const r = document.querySelector('.map > .rim').getBoundingClientRect();"
        " return [r.left, r.top, r.width, r.height]; })()"
    )
    return [float(value) for value in box]


def go(page: Page, *stops: int) -> None:
    """Set the sliders behind the fold."""
    page.run(
        f"[...document.querySelectorAll('.slider input')].forEach((e, i) => {{e.value = {list(stops)}[i];"
        " e.dispatchEvent(new Event('input', {bubbles: true})); })"
    )


# ---------------------------------------------------------------- what is shown first


def test_it_opens_where_the_check_is_tightest(page: Page, wagon_answer: Any) -> None:
    deepest = min(wagon_answer["clearances"], key=lambda each: each["clearance_mm"])
    assert deepest["clearance_mm"] < 0
    words = f"{deepest['part']} overlaps {deepest['obstacle']} by {-deepest['clearance_mm']:.1f} mm"
    assert page.run(SAID) == words
    steer = f"{abs(deepest['steer_deg']):.1f} deg {'left' if deepest['steer_deg'] > 0 else 'right'}"
    spoken = page.run(SPOKEN)
    assert spoken.startswith(f"travel {deepest['travel_mm']:+.0f} mm")
    assert steer in spoken
    assert spoken.endswith(words)


def test_sentence_label_and_first_row_are_of_one_part(page: Page, wagon_page: Path) -> None:
    """In any pose: one dark label in the two views, and the same in the magnifier."""
    data = moving(wagon_page)
    travels, steers = data["motions"][0]["levels"]
    rng = np.random.default_rng(5)
    for i, j in zip(rng.integers(len(travels), size=25), rng.integers(len(steers), size=25), strict=True):
        go(page, int(i), int(j))
        said, tag, name, labels, lens = page.run(
            f"(() => {{const row = document.querySelector('.changing tbody tr'); const words = (s) => "
            f"[...document.querySelectorAll(s)].map((e) => e.textContent); return [{SAID}, row.querySelector('.tag')"
            ".textContent, row.querySelector('.name').textContent, words('.panel .tightest text'), "
            "words('.lens .tightest text')]; })()"
        )
        part, obstacle = name.split(" to ", 1)
        assert said.startswith((f"{part} to {obstacle} ", f"{part} overlaps {obstacle} by "))
        (label,) = labels
        assert lens == [label]
        assert label.split()[0] == tag
        assert label.split()[1].lstrip("-") in said


def test_what_goes_with_the_hub_is_told_once_and_hides_nothing(page: Page, wagon_answer: Any) -> None:
    still = {name: low for name, (low, high) in least_by_row(wagon_answer).items() if low == high}
    rows = page.run(
        "[...document.querySelectorAll('.fixed tbody tr')].map((e) => [e.querySelector('.name').textContent, "
        "Number(e.querySelector('data').value)])"
    )
    assert dict(rows) == still
    assert len(rows) == 4  # tire and wheel, to ball joint and tie rod end
    changing = page.run("[...document.querySelectorAll('.changing .name')].map((e) => e.textContent)")
    assert set(changing) == set(least_by_row(wagon_answer)) - set(still)


def test_a_part_on_the_hub_that_touches_is_not_hidden(tmp_path: Path, opened: Any) -> None:
    """A ball of 12 mm whose middle lies 3 mm inboard of the tire's side overlaps it by 9 mm in every pose.

    The tire is 230 wide about the hub face (conftest.py), so its side stands 115 inboard, at its middle height:
    half-way between the seat at 216 and the tread at 317.
    """
    data = vehicle()
    ball = {"name": "joint", "shape": "ball", "at": [0, 632, 265], "radius": 12, "fixed_to": "knuckle"}
    data["axles"]["front"]["obstacles"].append(ball)
    page = opened(written_page(tmp_path, write_profile(tmp_path, data)))
    said = page.run(SAID)
    deep = re.fullmatch(r"tire overlaps joint by ([\d.]+) mm", said)
    assert deep
    assert float(deep[1]) == pytest.approx(9.0, abs=1.5)  # the side is drawn round, and rises to its full width
    assert page.run("document.querySelector('.changing .name').textContent") == "tire to joint"


# ---------------------------------------------------------------- the drawing of the hit


def lens_shapes(page: Page) -> tuple[shapely.Geometry, shapely.Geometry, float]:
    """Tire's section and the part swung into it, as drawn in the magnifier [mm], and the length of the gap line."""
    tire, areas, lines, gap = page.run(
        "(() => {const d = (s) => [...document.querySelectorAll('.lens ' + s)].map((e) => [e.getAttribute('d'), "
        "Number(e.getAttribute('stroke-width'))]); return [d('.new.tire'), d('.traced.area'), d('.traced.line'), "
        "d('.gap')]; })()"
    )

    def pieces(d: str) -> list[np.ndarray]:
        each = (re.findall(r"(-?[\d.]+) (-?[\d.]+)", piece) for piece in d.split("M")[1:])
        return [np.array(piece, dtype=float) for piece in each]

    part = [shapely.LineString(p).buffer(width / 2) for d, width in lines for p in pieces(d)]
    part += [shapely.Polygon(p).buffer(width / 2) for d, width in areas for p in pieces(d) if len(p) > 2]
    (line,) = pieces(gap[0][0])
    return shapely.Polygon(pieces(tire[0][0])[0]), shapely.union_all(part), float(np.hypot(*(line[1] - line[0])))


def test_the_magnifier_shows_the_gap_at_its_true_size(page: Page, wagon_page: Path) -> None:
    """From the section to the part as drawn, and along the line between its bars: the clearance of the check."""
    data = moving(wagon_page)
    travels, steers = data["motions"][0]["levels"]
    seen = 0
    for i, j in ((0, 8), (len(travels) // 2, 8), (3, 16), (len(travels) - 1, 8), (12, 4), (len(travels) - 1, 0)):
        go(page, i, j)
        if not page.run("document.querySelector('.changing .name').textContent").startswith("tire"):
            continue
        gap = float(page.run("document.querySelector('.changing tbody data').value"))
        tire, part, line = lens_shapes(page)
        assert line == pytest.approx(abs(gap), abs=0.3)
        if gap > 0:
            assert shapely.distance(tire, part) == pytest.approx(gap, abs=0.4)
        else:  # the deepest point of what overlaps
            inside = shapely.get_coordinates(shapely.segmentize(tire.intersection(part), 0.5))
            depths = shapely.distance(shapely.points(inside), tire.exterior)
            assert depths.max() == pytest.approx(-gap, abs=0.4)
        seen += 1
    assert len(steers) == 17
    assert seen > 3


def test_the_magnifier_enlarges_eight_times(page: Page) -> None:
    scale = "((s) => {const e = document.querySelector(s); const m = e.getScreenCTM(); return Math.hypot(m.a, m.b); })"
    assert page.run(f"{scale}('svg.lens') / {scale}('svg.plan')") == pytest.approx(8, rel=0.02)
    assert "8 times as large" in page.run("document.querySelector('.lens-words').textContent")


def test_what_overlaps_is_hatched_where_it_lies_in_the_section(page: Page, wagon_page: Path) -> None:
    """Hatched in a view exactly in the poses that overlap, within the section, with slanted lines of a pattern."""
    travels, steers = moving(wagon_page)["motions"][0]["levels"]
    hatched = "document.querySelectorAll('.panel .hit .swung').length"
    deep = []
    for i in (0, len(travels) // 2, len(travels) - 2, len(travels) - 1):
        for j in (0, len(steers) // 2, len(steers) - 1):
            go(page, i, j)
            gaps = page.run("[...document.querySelectorAll('.is data')].map((e) => Number(e.value))")
            assert (page.run(hatched) > 0) == (min(gaps) < 0)
            deep.append(min(gaps) < 0)
    assert {True, False} == set(deep)
    page.click("[data-go=tightest]")
    paint = page.run("document.querySelector('.panel .hit .swung').getAttribute('stroke')")
    pattern = re.fullmatch(r"url\(#(.*)\)", paint)
    assert pattern
    assert page.run(f"document.getElementById('{pattern[1]}').getAttribute('patternTransform')") == "rotate(45)"
    clip = page.run("document.querySelector('.panel .hit:has(.swung)').getAttribute('clip-path')")
    assert page.run(f"document.getElementById('{clip[5:-1]}').querySelectorAll('path').length") == 2  # tire and wheel


# ---------------------------------------------------------------- the map


def test_the_map_has_each_computed_pose_in_its_band(page: Page, wagon_page: Path) -> None:
    """As many cells of a kind as the numbers give by the rule: overlap, below required, 0 to 5, 10, 20 mm over."""
    data = moving(wagon_page)
    case, asked, motion = data["cases"][-1], data["asked"], data["motions"][0]
    cells = len(motion["levels"][0]) * len(motion["levels"][1])
    wanted: dict[str, int] = {}
    for k in case["at"][0][:cells]:
        here = {r: sum(case["gaps"][r][: k + 1]) / 1e4 for r in range(len(asked)) if r not in data["fixed"]}
        rows = [(gap, gap - asked[r]) for r, gap in here.items()]
        margin = min(margin for _, margin in rows)
        names = ["short", "near", "some", "much", "free"]
        band = "hit" if min(rows)[0] < 0 else names[int(np.searchsorted([0, 5, 10, 20], margin, side="right"))]
        wanted[band] = wanted.get(band, 0) + 1
    drawn = page.run(
        "[...document.querySelectorAll('.map .band')].map((e) => [e.classList[1], e.getAttribute('d').split('M')"
        ".length - 1])"
    )
    assert dict(drawn) == wanted
    assert {"hit", "short"} < set(wanted)
    for kind in ("hit", "short"):  # told without colour
        assert page.run(f"document.querySelector('.map .{kind}').getAttribute('fill')").startswith("url(#")
    legend = page.run("[...document.querySelectorAll('.legend li')].map((e) => e.textContent)")
    assert legend[:2] == ["overlap", "below required"]
    names = page.run("[...document.querySelectorAll('.map .name')].map((e) => e.textContent)")
    assert {"parked", "cruise", "raised", "left lock", "straight", "right lock"} <= set(names)


def test_the_pad_is_dragged_with_the_mouse(page: Page, wagon_page: Path) -> None:
    data = moving(wagon_page)
    low, high = (f"travel {data['motions'][0]['levels'][0][end]:+.0f} mm" for end in (0, -1))
    left, top, width, height = pad_box(page)
    page.mouse("Pressed", left + width - 2, top + height - 2)
    assert page.run(SPOKEN).startswith(low)
    assert "right (lock)" in page.run(SPOKEN)
    page.mouse("Moved", left + 2, top + 2)
    assert page.run(SPOKEN).startswith(high)
    assert "left (lock)" in page.run(SPOKEN)
    page.mouse("Moved", left - 60, top + height + 80)  # beyond its edge it stays at its end
    assert page.run(SPOKEN).startswith(low)
    page.mouse("Released", left - 60, top + height + 80)
    there = page.run(SPOKEN)
    page.mouse("Moved", left + width / 2, top + height / 2)
    assert page.run(SPOKEN) == there
    page.mouse("Pressed", left + width / 2, top + height - 2)
    page.mouse("Released", left + width / 2, top + height - 2)
    assert "straight ahead" in page.run(SPOKEN)
    asked = [each["request"]["url"] for each in page.happened("Network.requestWillBeSent")]
    assert asked == [wagon_page.as_uri()]


def test_the_pad_is_dragged_with_a_finger_and_the_page_stays(wagon_page: Path, opened: Any) -> None:
    page = opened(wagon_page, width=360, height=740)
    page.call("Emulation.setTouchEmulationEnabled", enabled=True)
    left, top, width, height = pad_box(page)
    before = page.run("scrollY")
    page.touch("Start", left + 4, top + 4)
    assert "left (lock)" in page.run(SPOKEN)
    for step in range(1, 6):
        page.touch("Move", left + width - 4, top + 4 + step * (height - 8) / 5)
    page.touch("End")
    assert "right (lock)" in page.run(SPOKEN)
    assert page.run(SPOKEN).startswith(f"travel {moving(wagon_page)['motions'][0]['levels'][0][0]:+.0f} mm")
    assert page.run("scrollY") == before


def test_the_pad_is_walked_with_the_keys(page: Page, wagon_page: Path) -> None:
    data = moving(wagon_page)
    travels, steers = data["motions"][0]["levels"]
    seen = []
    while "pad" not in seen:
        page.key("Tab")
        seen.append(page.run("document.activeElement.className"))
        assert len(seen) < 40, seen
    assert page.run("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    assert page.run("document.activeElement.getAttribute('role')") == "slider"
    page.key("PageDown")
    page.key("Home")
    sliders = "[...document.querySelectorAll('.slider input')].map((e) => Number(e.value))"
    assert page.run(sliders) == [0, len(steers) - 1]  # full droop, left lock
    page.key("ArrowUp")
    page.key("ArrowRight")
    assert page.run(sliders) == [1, len(steers) - 2]
    assert page.run(SPOKEN).startswith(f"travel {travels[1]:+.0f} mm")
    page.key("ArrowLeft")
    page.key("ArrowLeft")  # there is no more
    page.key("ArrowDown")
    assert page.run(sliders) == [0, len(steers) - 1]
    page.key("PageUp")
    page.key("End")
    assert page.run(sliders) == [len(travels) - 1, 0]
    assert page.run("document.activeElement.getAttribute('aria-valuenow')") == f"{travels[-1]:.0f}"


def test_the_sliders_stay_behind_a_fold_and_by_the_keys(page: Page) -> None:
    assert page.run("document.querySelector('.travel').checkVisibility()") is False
    page.click(".fold summary")
    assert page.run("document.querySelector('.travel').checkVisibility()") is True
    page.run("document.querySelector('.travel').focus()")
    before = page.run("document.querySelector('svg.front .new.tire').getAttribute('d')")
    stop = int(page.run("document.activeElement.value"))
    page.key("ArrowLeft")
    assert int(page.run("document.activeElement.value")) == stop - 1
    assert page.run("document.querySelector('svg.front .new.tire').getAttribute('d')") != before
    page.key("Tab")
    page.key("End")
    assert page.run("document.activeElement.getAttribute('aria-valuetext')").startswith("left lock, +")
    page.key("Tab")
    assert page.run("document.activeElement.textContent") == "Full droop"
    page.key("Enter")
    assert page.run(SPOKEN).startswith("travel -70 mm")
    unnamed = "[...document.querySelectorAll('input, select')].filter((e) => !e.labels[0].textContent.trim()).length"
    assert page.run(unnamed) == 0


def test_without_steering_there_is_a_strip(tmp_path: Path, opened: Any) -> None:
    """The bench wheel moves up and down by 50 and is 53 mm from the rail at full bump (conftest.py)."""
    page = opened(written_page(tmp_path, write_profile(tmp_path, vehicle())))
    assert page.run("document.querySelector('.pad').classList.contains('strip')") is True
    page.run("document.querySelector('.pad').focus()")
    page.key("Home")
    assert page.run(SPOKEN).startswith("travel -50 mm")
    page.key("ArrowUp")
    one = page.run(SPOKEN)
    page.key("ArrowDown")
    page.key("ArrowRight")
    assert page.run(SPOKEN) == one
    page.key("End")
    assert page.run(SPOKEN).startswith("travel +50 mm")
    left, top, _, height = pad_box(page)
    page.mouse("Pressed", left + 1, top + height / 2)
    page.mouse("Released", left + 1, top + height / 2)
    assert page.run(SPOKEN).startswith("travel -50 mm")


# ---------------------------------------------------------------- on a phone, on paper


def test_on_a_phone_the_panels_are_tabs(wagon_page: Path, opened: Any) -> None:
    page = opened(wagon_page, width=360, height=740)
    shown = "[...document.querySelectorAll('.panel')].map((e) => e.checkVisibility())"
    assert page.run(shown) == [False, True, False]  # the plan, in which the hit is seen
    page.run("document.querySelector('[role=tab][aria-selected=true]').focus()")
    for key, at in (("ArrowRight", 2), ("ArrowRight", 0), ("ArrowLeft", 2), ("Home", 0), ("End", 2)):
        page.key(key)
        assert page.run(shown) == [at == i for i in range(3)]
        selected, stops, panel = page.run(
            "(() => {const t = [...document.querySelectorAll('[role=tab]')].slice(0, 3); return [t.map((e) => "
            "e.getAttribute('aria-selected')), t.map((e) => e.tabIndex), document.getElementById(document.activeElement"
            ".getAttribute('aria-controls')).getAttribute('role')]; })()"
        )
        assert selected == [str(at == i).lower() for i in range(3)]
        assert stops == [0 if at == i else -1 for i in range(3)]
        assert panel == "tabpanel"
    page.click("[role=tab]")
    width = page.run("document.querySelector('svg.front').clientWidth")
    assert width > 0.85 * 360
    wide = opened(wagon_page, width=1280)
    assert wide.run(shown) == [True, True, True]
    assert wide.run("document.querySelectorAll('[role=tabpanel]').length") == 0


@pytest.mark.parametrize("panel", ["front", "plan", "numbers"])
def test_on_a_phone_sentence_and_pad_stay_in_view(wagon_page: Path, opened: Any, panel: str) -> None:
    page = opened(wagon_page, width=360, height=740)
    page.click(f"[id$=tab-{panel}]")
    page.run(f"document.querySelector('[id$=panel-{panel}]').scrollIntoView({{block: 'end', behavior: 'instant'}})")
    for what in (".said", ".pad"):
        top, bottom = page.run(
            f"(({{top, bottom}}) => [top, bottom])(document.querySelector('{what}').getBoundingClientRect())"
        )
        assert 0 <= top < bottom <= 740
    seen = page.run(
        f"document.querySelector('[id$=panel-{panel}]').getBoundingClientRect().bottom - "
        "document.querySelector('.console').getBoundingClientRect().bottom"
    )
    assert seen > 370  # half of the screen is the drawing's


def test_paper_shows_the_tightest_pose_and_no_controls(page: Page) -> None:
    tightest = page.run(SPOKEN)
    go(page, 0, 0)
    assert page.run(SPOKEN) != tightest
    page.call("Emulation.setEmulatedMedia", media="print")
    page.wait(f"{SPOKEN} === {json.dumps(tightest)}")
    for hidden in (".mover button", ".mover input", ".mover summary", ".tabs"):
        assert page.run(f"[...document.querySelectorAll('{hidden}')].filter((e) => e.checkVisibility()).length") == 0
    for there in (".said", ".lens", "svg.front", "svg.plan", "table.closest"):  # which tells every gap, once
        assert page.run(f"document.querySelector('{there}').checkVisibility()") is True
    page.call("Emulation.setEmulatedMedia", media="screen")
    page.wait(f"{SPOKEN} !== {json.dumps(tightest)}")
