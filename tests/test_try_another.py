"""Try another: the numbers of the page's script, in a real headless browser, against those of a check.

What is compared comes from other code: `check` traces parts pose by pose and measures to shapely polygons; the page
measures lines round what they sweep to outlines that it puts together itself.
"""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import run, steered, write_profile, written_page
from page_browser import Browser, MissingError, Page, find_browser
from shapely import Polygon

from fitment import profile as profiles
from fitment.checks.case import ready
from fitment.checks.fit import Fit, fit_setups
from fitment.clearance.pose_grid import sweep
from fitment.page.try_another import Sizes
from fitment.parts.sections import rim_contour, tire_section
from fitment.parts.tire_code import parse_tire
from fitment.parts.wheel import parse_wheel
from fitment.profile import load_profile

AGREE = 0.05  # [mm] of clearance and worst case
PROBED = 0.3  # [mm] spacing of a check's probes of an overlap, by which it may miss the deepest place
BENT = {"wagon": 1.2}  # [mm] that a tape suspension may bend at a tire's top: 0.6 mm, and 0.06 deg 500 mm from the hub
DEEP = -20.0  # [mm] below which no overlap is told
WHOLE = (-2.0, 10.0)  # [mm] beyond which a worst case is told in whole mm
VEHICLES = {
    "wagon": ("--build", "chosen", "--list", "profiles/wagon_wheels.csv"),
    "coupe": ("--build", "track_day", "--list", "profiles/coupe_wheels.csv"),
    "pickup": ("--build", "swapped",),
}  # fmt: skip
ROOT = Path(__file__).parents[1]
SPACERS = (0, 0, 0, 3, 5, 10, 25)


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    try:
        path = find_browser()
    except MissingError as error:
        pytest.skip(str(error))
    made = Browser(path, tmp_path_factory.mktemp("browser"))
    yield made
    made.close()


def from_root(arguments: tuple[str, ...]) -> list[str]:
    return [str(ROOT / word) if word.endswith(".csv") else word for word in arguments]


def trying(page: Page) -> Any:
    return page.run("JSON.parse(document.getElementById('trying').textContent)")


def tried(page: Page, axle: int, setting: tuple[int, int, float, float]) -> Any:
    return page.run(f"document.querySelectorAll('.try-another')[{axle}].tryOut({', '.join(map(str, setting))})")


def options_of(command: str) -> dict[str, str]:
    """The options of a printed command."""
    words = shlex.split(command)
    assert words[:2] == ["fitment", "check"]
    return {name.removeprefix("--"): value for name, value in zip(words[3::2], words[4::2], strict=True)}


def random_settings(data: Any, count: int, seed: int) -> list[tuple[int, tuple[int, int, float, float]]]:
    rng, made = np.random.default_rng(seed), []
    for _ in range(count):
        axle = int(rng.integers(len(data["axles"])))
        own = data["axles"][axle]
        pair = own["pairs"][int(rng.integers(len(own["pairs"])))]
        offset = own["own"]["offset"] + int(rng.integers(-35, 36))
        if own["own"]["metal"] is not None and pair[0] == own["own"]["pair"][0]:
            offset = own["own"]["offset"]  # a measured wheel has its own
        made.append((axle, (*pair, offset, SPACERS[int(rng.integers(len(SPACERS)))])))
    return sorted(made)


def checks_of(name: str, commands: list[dict[str, str]]) -> list[Fit]:
    """The check of each command, those of an axle side by side as a list does it."""
    read, fits = load_profile(name), []
    for (axle, build), same in groupby(commands, lambda each: (each["axle"], each["build"])):
        prepared = ready(read, axle, build)
        setups = [
            profiles.setup(read, axle, build, wheel=c.get("wheel"), tire=c.get("tire"), spacer=c["spacer"])
            for c in same
        ]
        swept = sweep(prepared.axle, setups[0].ride)
        for i in range(0, len(setups), 10):
            fits += fit_setups(setups[i : i + 10], swept, prepared.variants)
    return fits


def least(fit: Fit) -> dict[tuple[str, str], tuple[float, float, float]]:
    """Smallest clearance and worst case of every part, and what is required."""
    found: dict[tuple[str, str], tuple[float, float, float]] = {}
    for entry in fit.clearances:
        key = entry.obstacle, entry.part
        clearance, worst, _ = found.get(key, (np.inf, np.inf, 0.0))
        found[key] = min(clearance, entry.clearance), min(worst, entry.worst_case), entry.allowance
    return found


def rough(worst: float) -> float:
    """By how much a worst case that is far from zero may differ [mm]: both seek theirs near zero, where it decides.

    Farther below each has its deepest of the poses that it has for the nominal tire: within a tenth.
    """
    return max(0.5, -worst / 10)


def within(more: float, worst: float, slack: float) -> bool:
    """Whether a worst case is told by so much more [mm] as it may; slack : by which it may be less, the safe side."""
    most = AGREE if WHOLE[0] <= worst <= WHOLE[1] else rough(worst)
    return -most - slack <= more <= most


def agrees(answer: Any, fit: Fit, slack: float = 0.0) -> list[str]:
    """Where the page and a check differ."""
    numbers, wrong = least(fit), []
    assert {(row["obstacle"], row["part"]) for row in answer["rows"]} == set(numbers)
    for row in answer["rows"]:
        clearance, worst, _ = numbers[row["obstacle"], row["part"]]
        told = f"{row['part']} to {row['obstacle']} of {answer['command']}"
        if clearance < DEEP:
            wrong += [] if row["clearance"] < DEEP + AGREE else [f"{told}: {row['clearance']} not {clearance}"]
        elif not -(PROBED if clearance < 0 else AGREE) <= row["clearance"] - clearance <= AGREE:
            wrong.append(f"{told}: {row['clearance']:.3f}, check {clearance:.3f}")
        elif clearance >= 0 and not within(row["worst"] - worst, worst, slack):
            wrong.append(f"{told}: worst {row['worst']:.3f}, check {worst:.3f}")
    limits = [v for c, w, a in numbers.values() for v in (c, c - a, w)]
    if min(map(abs, limits)) > AGREE + slack and answer["verdict"] != fit.clearance_verdict:
        wrong.append(f"{answer['command']}: {answer['verdict']}, check {fit.clearance_verdict}")
    return wrong


@pytest.mark.slow
@pytest.mark.parametrize("name", VEHICLES)
def test_a_hundred_random_settings_agree_with_check(name: str, tmp_path: Path, browser: Browser) -> None:
    page = browser.open(written_page(tmp_path, name, *from_root(VEHICLES[name])).as_uri())
    data = trying(page)
    settings = random_settings(data, 100, seed=14)
    answers = [tried(page, axle, setting) for axle, setting in settings]
    corners = [{"axle": data["axles"][axle]["name"]} for axle, _ in settings]  # which a command does not tell
    commands = [options_of(answer["command"]) for answer in answers]
    fits = checks_of(name, [told | corner for told, corner in zip(commands, corners, strict=True)])
    slack = BENT.get(name, 0.0)
    wrong = [words for answer, fit in zip(answers, fits, strict=True) for words in agrees(answer, fit, slack)]
    verdicts = {answer["verdict"] for answer in answers}
    page.close()
    assert wrong == []
    assert len(verdicts) > 1


# ---------------------------------------------------------------- a small vehicle, quickly


@pytest.fixture(scope="module")
def bench_page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("bench")
    (folder / "sizes.csv").write_text(
        "name,wheel,tire,spacer\nA,17x8 ET20 5x114.3 CB67.1,245/45R17,5\nB,18x8 ET20 5x114.3 CB67.1,245/45R17,\n"
    )
    return written_page(
        folder, write_profile(folder, steered()), "--axle", "front", "--list", str(folder / "sizes.csv")
    )


def in_page(page: Page, script: str) -> Any:
    return page.run(f"(() => {{ const root = document.querySelector('.try-another'); {script} }})()")


def test_some_settings_of_the_bench_agree_with_check(bench_page: Path, browser: Browser) -> None:
    page = browser.open(bench_page.as_uri())
    settings = random_settings(trying(page), 6, seed=3)
    answers = [tried(page, axle, setting) for axle, setting in settings]
    page.close()
    fits = checks_of(str(bench_page.parent / "bench.yaml"), [options_of(answer["command"]) for answer in answers])
    assert [words for answer, fit in zip(answers, fits, strict=True) for words in agrees(answer, fit)] == []


def test_a_row_of_the_list_sets_everything_and_a_bad_one_says_why(bench_page: Path, browser: Browser) -> None:
    page = browser.open(bench_page.as_uri())
    in_page(page, "root.scrollIntoView(); const list = root.querySelector('.list'); list.value = '0';"
            "list.dispatchEvent(new Event('change'));")  # fmt: skip
    page.wait("document.querySelector('.try-another').dataset.bar === 'done'")
    order, command = in_page(page, "return ['order', 'command'].map((n) => root.querySelector(`.${n}-line`).value);")
    options = in_page(
        page, "return [...root.querySelectorAll('.list option')].map((o) => [o.textContent, o.disabled]);"
    )
    page.close()
    assert order == "17x8 ET20 5x114.3 CB67.1 with 245/45R17, spacer 5 mm"
    assert options_of(command)["wheel"] == "17x8 ET20 5x114.3 CB67.1"
    assert options_of(command)["spacer"] == "5"
    assert [disabled for _, disabled in options] == [False, False, True]
    assert "the tire is for a 17 in rim" in options[2][0]


def test_the_offset_is_stepped_by_the_keyboard(bench_page: Path, browser: Browser) -> None:
    page = browser.open(bench_page.as_uri(), width=360, height=740)
    in_page(page, "root.scrollIntoView(); root.querySelector('.offset').focus();")
    page.wait("document.querySelector('.try-another .order-line').value !== ''")
    before = float(in_page(page, "return root.querySelector('.offset').value;"))
    page.key("ArrowUp")
    order = in_page(page, "return root.querySelector('.order-line').value;")
    sideways = page.run("document.documentElement.scrollWidth - innerWidth")
    page.close()
    assert f" ET{before + 1:g} " in order
    assert sideways == 0


def test_what_is_not_looked_at_is_said_beside_the_verdict(bench_page: Path) -> None:
    text = bench_page.read_text()
    assert "Clearance only:" in text
    assert "Bolt-on, ground and cover are not looked at here: run the command below." in text


def test_the_shipped_halves_make_the_outline_of_the_tire_again() -> None:
    """By shapely: the area by which the outline put together here differs is what hundredths of a millimetre leave."""
    for spec, code in (("20x10 ET0", "275/40R20"), ("15x6 ET0", "205/70R15"), ("20x10 ET0", "245/35R20")):
        wheel, tire = parse_wheel(spec), parse_tire(code)
        sizes = Sizes()
        sizes.add(wheel, tire)
        _, _, nominal, _ = sizes.data()["pairs"][0]
        half = np.cumsum(np.reshape(nominal, (-1, 2)), axis=0) / 100
        (y0, r0), contour = half[0], rim_contour(wheel)
        inside = [p for p in contour if abs(p[0]) < y0 - 1e-6 or (p[1] < r0 - 1e-6 and abs(p[0]) <= y0 + 1e-6)]
        made = Polygon([*inside, *half, *(half[:-1] * (-1, 1))[::-1]])
        assert made.symmetric_difference(tire_section(tire, wheel)).area < 0.01 * made.length


@pytest.mark.parametrize("text", ["wheel\n20x10 ET25\n", ""])
def test_a_list_that_cannot_be_read_is_one_message(text: str, tmp_path: Path) -> None:
    (tmp_path / "bad.csv").write_text(text)
    result = run("report", "wagon", "--list", str(tmp_path / "bad.csv"), "--out", str(tmp_path / "page.html"))
    assert result.exit_code == 2
    assert "bad.csv" in result.output
    assert not (tmp_path / "page.html").exists()


def test_a_list_that_is_too_long_is_refused(tmp_path: Path) -> None:
    (tmp_path / "long.csv").write_text("wheel,tire\n" + "20x10 ET25,275/40R20\n" * 301)
    result = run("report", "wagon", "--list", str(tmp_path / "long.csv"), "--out", str(tmp_path / "page.html"))
    assert result.exit_code == 2
    assert "at most 300 rows go into a page" in result.output
