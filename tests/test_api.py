"""The functions for Python: every answer is that of the command, shows itself in a notebook, and prints nothing."""

from __future__ import annotations

import csv
import decimal
import doctest
import gc
import html
import inspect
import json
import locale
import logging
import os
import pickle
import random
import re
import shlex
import signal
import subprocess
import sys
import warnings
from collections.abc import Callable, Iterator
from html.parser import HTMLParser
from importlib import import_module
from pathlib import Path
from pkgutil import walk_packages
from typing import Any

import matplotlib
import numpy as np
import pytest
from conftest import HUB_FACE, POST, WIDTH, bench_setup, least, run, steered, vehicle, write_profile
from matplotlib.figure import Figure

import fitment
from fitment import api, notebook, results
from fitment.cli import cli
from fitment.errors import Argument, CodeError, ListError, ProfileError
from fitment.files import write_whole
from fitment.screening import candidates
from fitment.workers import worker_pool

ROOT = Path(__file__).parent.parent
HOSTILE = '"><script>alert(1)</script>&amp;<img src=x onerror="a">'
HEAVY = "numpy matplotlib shapely pint pydantic yaml click"
LIST, STEER = "LIST", " and a rack; this one has none: give {steer=}."
WHEEL, CODE = "17x8 ET10 5x114.3 CB67.1", "225/45R17 94W XL"
FUNCTIONS = ("align", "check", "compare", "envelope", "next_readings", "order", "poses", "screen", "window")
COMMAND = {"next_readings": "next"}  # where a word of Python has the name


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The bench vehicle with a steering axis, as a file."""
    return write_profile(tmp_path_factory.mktemp("api"), steered())


@pytest.fixture(scope="module")
def hostile(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The bench vehicle with a hostile text wherever a profile takes one."""
    data = vehicle()
    data["name"] = data["note"] = HOSTILE
    data["builds"][HOSTILE] = data["builds"].pop("lowered")
    data["axles"]["front"]["obstacles"][0]["name"] = HOSTILE
    data["axles"]["front"]["ride_heights"] = {HOSTILE: 0, "low": 30}
    bench_setup(data)["ride"] = HOSTILE
    return write_profile(tmp_path_factory.mktemp("hostile"), data)


def python(code: str) -> str:
    """What a fresh interpreter prints."""
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stderr == ""
    return done.stdout.strip()


# ---------------------------------------------------------------- the front


@pytest.mark.parametrize("more", ["", "fitment.parse_tire('225/45R17'), fitment.parse_wheel('17x8 ET0'), dir(fitment)"])
def test_the_import_loads_nothing_heavy(more: str) -> None:
    loaded = f"print([name for name in {HEAVY.split()!r} if name in sys.modules])"
    assert python(f"import sys, fitment\n{more}\n{loaded}") == "[]"


def test_an_answer_draws_nothing_before_it_is_asked() -> None:
    code = "import sys, fitment; found = fitment.check('wagon', 'rear'); found.data, found.text, repr(found); "
    assert python(code + "print('matplotlib' in sys.modules)") == "False"


def test_the_names_are_those_listed_and_each_is_explained() -> None:
    functions = {
        name for name, each in vars(api).items() if inspect.isfunction(each) and each.__module__ == api.__name__
    }
    public = {name for name in functions if not name.startswith("_")}
    assert public == set(FUNCTIONS)
    assert set(fitment.__all__) == public | {"FitmentError", "load_profile", "parse_tire", "parse_wheel"}
    for name in fitment.__all__:
        assert name in dir(fitment)
        assert inspect.getdoc(getattr(fitment, name)), name
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = fitment.nothing
    assert (Path(fitment.__file__).parent / "py.typed").exists()


@pytest.mark.slow
@pytest.mark.parametrize("first", ["", "import fitment.cli", "fitment.screen; fitment.order", "import fitment.page"])
def test_a_module_of_the_same_name_hides_no_function(first: str) -> None:
    code = f"import fitment; {first}\nimport fitment.page, fitment.cli, fitment.screening.screen\n"
    code += f"print(all(getattr(fitment, name).__module__ == 'fitment.api' for name in {FUNCTIONS!r}))"
    assert python(code) == "True"


def test_no_name_of_a_package_hides_a_module() -> None:
    for each in walk_packages(fitment.__path__, "fitment."):
        module, (package, _, name) = import_module(each.name), each.name.rpartition(".")
        assert each.name == "fitment.__main__" or getattr(sys.modules[package], name) is module


def test_every_function_takes_a_file_a_name_and_a_loaded_profile(bench: str) -> None:
    loaded = fitment.load_profile(bench)
    texts = {fitment.check(each).json for each in (bench, Path(bench), loaded)}
    assert len(texts) == 1
    assert fitment.poses("wagon", "rear").text == fitment.poses(fitment.load_profile("wagon"), "rear").text
    assert repr(loaded) == ("<Profile 'Bench vehicle (invented)': front; builds measured, lowered; baseline measured>")


# ---------------------------------------------------------------- the same answer as the command

OWN = {"out", "form", "paper", "only", "group"}  # how a command writes, and what it shows of a list
OWN_HERE = {"processes"}  # the command takes all cores


@pytest.mark.parametrize("name", FUNCTIONS)
def test_every_option_of_a_command_is_an_argument_of_its_function(name: str) -> None:
    """With the same default, so that one comparison of what they answer is enough."""
    arguments = {
        each.name: "word" if each.default is inspect.Parameter.empty else each.default
        for each in inspect.signature(getattr(fitment, name)).parameters.values()
        if each.name not in OWN_HERE
    }
    words = ["word"] * list(arguments.values()).count("word")
    options = cli.commands[COMMAND.get(name, name)].make_context(name, words).params
    assert {option: value for option, value in options.items() if option not in OWN} == arguments


MORE = " --full --how-sure --geometry --units in --view closest --theme dark"
COMMANDS: tuple[tuple[str, Callable[[str], Any], dict[str, Any]], ...] = (
    (
        f"check --axle front --wheel '{WHEEL}' --tire '{CODE}' --spacer '1/4 in' --ride -10 --loaded-radius 305" + MORE,
        lambda p: fitment.check(
            p, "front", wheel=WHEEL, tire=CODE, spacer="1/4 in", ride=-10, loaded_radius=305,
            full=True, how_sure=True, geometry=True, units="in",
        ),
        {"view": "closest", "theme": "dark"},
    ),
    (
        "compare measured lowered --axle front --layout banner --date today",
        lambda p: fitment.compare(p, "measured", "lowered", "front"),
        {"layout": "banner", "date": "today"},
    ),
    (
        "window --axle front --size 17x8 --size 18x9 --tire 225/45R17 --tire 225/40R18 --ride low --spacer 5 --date x",
        lambda p: fitment.window(
            p, "front", size=["17x8", "18x9"], tire=("225/45R17", "225/40R18"), ride="low", spacer=5
        ),
        {"date": "x"},
    ),
    (
        "align --axle front --build swapped --ride lowered --camber -1.2 --caster 4.5 --theme dark",
        lambda _: fitment.align("pickup", "front", "swapped", ride="lowered", camber=-1.2, caster=4.5),
        {"theme": "dark"},
    ),
    (
        "poses --axle front --travel -20,0,20 --steer -10,30 --loaded-radius '12 in' --theme dark",
        lambda p: fitment.poses(p, "front", travel=[-20, 0, 20], steer=(-10, 30), loaded_radius="12 in"),
        {"theme": "dark"},
    ),
)  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize(("line", "call", "look"), COMMANDS, ids=[line.split()[0] for line, _, _ in COMMANDS])
def test_the_answer_is_that_of_the_command(
    line: str, call: Callable[[str], Any], look: dict[str, Any], bench: str, tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    found = call(bench)
    found.save(tmp_path / "mine.png", **look)
    name, *options = shlex.split(line)
    command = (name, "pickup" if name == "align" else bench, *options)
    drawn = run(*command, "--format", "json", "--out", str(tmp_path / "theirs.png"))
    assert drawn.stdout == found.json + "\n"
    assert (tmp_path / "mine.png").read_bytes() == (tmp_path / "theirs.png").read_bytes()
    without_look = [word for word in command if word not in {f"--{key}" for key in look} | set(look.values())]
    assert run(*without_look).stdout == found.text + "\n"
    assert json.loads(found.json) == json.loads(json.dumps(found.data))
    assert "\n" not in repr(found)
    assert len(repr(found)) < 200
    assert capsys.readouterr() == ("", "")


@pytest.mark.slow
def test_the_sheet_to_order_by_is_that_of_the_command(bench: str, tmp_path: Path) -> None:
    ordered = fitment.order(bench, "front", wheel=WHEEL)
    line = ("order", bench, "--axle", "front", "--wheel", WHEEL, "--out", str(tmp_path / "theirs.pdf"))
    assert run(*line, "--paper", "letter", "--format", "json").stdout == ordered.json + "\n"
    assert ordered.pdf("letter") == (tmp_path / "theirs.pdf").read_bytes()
    assert ordered.text.startswith("ORDER SHEET")
    assert isinstance(ordered.figure(), Figure)


def test_both_axles_stand_in_a_list() -> None:
    found = fitment.check("wagon", build="wanted")
    assert found.axles == ("front", "rear")
    assert [each["axle"] for each in found.data] == ["front", "rear"]
    verdicts = [each["verdict"] for each in found.data]
    assert found.verdict in verdicts
    assert found.clears == (verdicts == ["clears", "clears"])


@pytest.mark.slow
def test_settings_of_align_go_into_check_as_records_and_as_a_file(tmp_path: Path) -> None:
    aligned = fitment.align("pickup", "front", "swapped", ride="lowered", camber=-1.2, caster=4.5)
    choice = aligned.found[0].choice
    assert choice is not None
    file = tmp_path / "set.json"
    file.write_text(aligned.json)
    texts = {fitment.check("pickup", "front", "swapped", settings=each).json for each in (str(file), choice.settings)}
    assert len(texts) == 1


def test_what_is_worked_by_hand(tmp_path: Path) -> None:
    """Tire to post: 890 - 750 - 230 / 2 = 25 mm; a 5 mm spacer moves it 5 mm out, so 20 mm are left."""
    profile, left = write_profile(tmp_path, vehicle()), POST - HUB_FACE - WIDTH / 2
    assert least(fitment.check(profile, "front").data, "post") == pytest.approx(left, abs=0.002)
    assert least(fitment.check(profile, "front", spacer=5).data, "post") == pytest.approx(left - 5, abs=0.002)


@pytest.mark.slow
def test_a_number_is_in_mm_as_a_bare_text_is(bench: str) -> None:
    setups = [
        fitment.check(bench, "front", spacer=spacer, ride=ride, loaded_radius=radius).cases[0].fit.setup
        for spacer, ride, radius in ((6.35, -12.7, 305), ("6.35", "-12.7", "305"), ("1/4 in", "-0.5 in", "305 mm"))
    ]
    assert {(setup.spacer.thickness, setup.ride) for setup in setups} == {(25.4 / 4, -25.4 / 2)}


# ---------------------------------------------------------------- columns


def test_clearances_as_columns_are_those_worked_by_hand(tmp_path: Path) -> None:
    """Tire to post: 890 - 750 - 230 / 2 = 25 mm at least; nearest is the post's line, 890 from the centre plane."""
    found = fitment.check(write_profile(tmp_path, vehicle()))
    columns = found.to_columns()
    assert {len(column) for column in columns.values()} == {len(found.cases[0].fit.clearances)}
    post = (columns["obstacle"] == "post") & (columns["part"] == "tire")
    assert columns["clearance_mm"][post].min() == pytest.approx(POST - HUB_FACE - WIDTH / 2, abs=0.002)
    assert columns["y_mm"][post] == pytest.approx(POST, abs=0.01)
    assert columns["margin_mm"] == pytest.approx(columns["clearance_mm"] - columns["allowance_mm"])
    assert set(columns["axle"]) == {"front"}
    assert np.isnan(columns["opposite_mm"]).all()  # each wheel moves by itself
    assert {column.dtype.kind for column in columns.values()} == {"U", "f"}


@pytest.mark.slow
def test_columns_hold_what_the_data_hold() -> None:
    """A solid axle at the rear, none at the front: the opposite wheel's travel is told where it matters."""
    found = fitment.check("pickup", build="swapped")
    columns = found.to_columns()
    entries = [(each["axle"], entry) for each in found.data for entry in each["clearances"]]
    assert columns["axle"].tolist() == [axle for axle, _ in entries]
    for name in ("obstacle", "part"):
        assert columns[name].tolist() == [entry[name] for _, entry in entries]
    for name in ("travel_mm", "steer_deg", "clearance_mm", "worst_case_mm", "allowance_mm", "margin_mm"):
        assert columns[name] == pytest.approx([entry[name] for _, entry in entries], abs=1e-4)
    points = np.column_stack([columns[f"{axis}_mm"] for axis in "xyz"])
    assert points == pytest.approx(np.array([entry["point_mm"] for _, entry in entries]), abs=1e-4)
    told = [entry.get("opposite_mm", float("nan")) for _, entry in entries]
    assert columns["opposite_mm"] == pytest.approx(told, abs=1e-4, nan_ok=True)
    for axle, matters in (("front", False), ("rear", True)):
        assert np.isnan(columns["opposite_mm"][columns["axle"] == axle]).any() != matters


@pytest.mark.slow
def test_a_list_as_columns_says_what_is_missing(bench: str) -> None:
    """Numbers that are not known are nan, texts are empty; a column of the list keeps its name."""
    rows = [
        {"wheel": WHEEL, "tire": CODE, "rank": "mine"},
        {"wheel": "17x8", "tire": CODE},
        {"wheel": "17x8 ET-40 5x114.3 CB67.1", "tire": CODE},
    ]
    found = fitment.screen(bench, rows, "front")
    columns = found.to_columns()
    assert list(columns) == next(csv.reader([found.csv.splitlines()[0]]))
    assert columns["rank"].tolist().count("mine") == 1
    assert sorted(columns["rank_fitment"].tolist())[:2] == [1.0, 2.0]
    broken = columns["verdict"].tolist().index("unreadable")
    assert np.isnan(columns["rank_fitment"][broken])
    assert np.isnan(columns["clearance_mm"][broken])
    assert columns["limited_by"][broken] == ""
    assert "offset is missing" in columns["reason"][broken]
    for row, i in zip(found.data, range(3), strict=True):
        if row["clearance_mm"] is not None:
            assert columns["clearance_mm"][i] == pytest.approx(row["clearance_mm"], abs=0.001)


def test_an_empty_list_has_its_columns(bench: str, tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text("name,wheel,tire\n")
    columns = fitment.screen(bench, path, "front").to_columns()
    assert list(columns)[:4] == ["name", "wheel", "tire", "verdict"]
    assert {len(column) for column in columns.values()} == {0}


@pytest.mark.slow
def test_windows_as_columns(bench: str) -> None:
    """A tire 769 high, 50 mm up in bump, meets the rail at 420 with any offset: 769 / 2 + 50 > 420."""
    found = fitment.window(bench, "front", size="17x8", tire=["225/45R17", "225/75R17"])
    columns = found.to_columns()
    assert columns["wheel"].tolist() == [each["wheel"] for each in found.data]
    for end in ("offset_min_mm", "offset_max_mm", "nominal_min_mm", "nominal_max_mm"):
        assert columns[end] == pytest.approx([found.data[0][end], float("nan")], nan_ok=True)


@pytest.mark.slow
def test_data_are_made_once(bench: str) -> None:
    for found in (fitment.check(bench, "front"), fitment.window(bench, "front"), fitment.poses(bench, travel=0)):
        assert found.data is found.data
        assert json.loads(found.json) == found.data


# ---------------------------------------------------------------- lists


@pytest.fixture(scope="module")
def listed(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Offsets that clear, are tight and touch, and a row that cannot be read."""
    rows = [f"n{offset},17x8 ET{offset} 5x114.3 CB67.1,{CODE}" for offset in (-28, -22, 10)]
    path = tmp_path_factory.mktemp("list") / "list.csv"
    path.write_text("\n".join(["name,wheel,tire", *rows, f"x,17x8,{CODE}"]) + "\n")
    return str(path)


@pytest.mark.slow
def test_a_file_is_screened_as_the_command_does(bench: str, listed: str, tmp_path: Path) -> None:
    found = fitment.screen(bench, listed, "front", "lowered", sort="-name")
    options = ("screen", bench, listed, "--axle", "front", "--build", "lowered", "--sort", "-name")
    assert run(*options, "--format", "csv", "--out", str(tmp_path / "theirs.json")).stdout == found.csv
    assert (tmp_path / "theirs.json").read_text() == found.json + "\n"
    run(*options, "--out", str(tmp_path / "theirs.png"))
    found.save(tmp_path / "mine.png")
    assert (tmp_path / "mine.png").read_bytes() == (tmp_path / "theirs.png").read_bytes()


@pytest.mark.slow
def test_mappings_are_screened_as_a_file_with_the_same_rows(bench: str, tmp_path: Path) -> None:
    rows: list[dict[str, Any]] = [
        {"name": "a", "wheel": WHEEL, "tire": CODE, "spacer": 5, "price": 120.5},
        {"name": "b", "wheel": "17x8 ET40 5x114.3 CB67.1", "tire": CODE, "spacer": None},
        {"wheel": "18x8 ET40", "tire": CODE, "spacer": float("nan"), "link": "x"},
        {"name": "d", "wheel": "17x8 ET0 5x112", "tire": CODE},
    ]
    path = tmp_path / "list.csv"
    with path.open("w", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(["name", "wheel", "tire", "spacer", "price", "link"])
        writer.writerow(["a", WHEEL, CODE, "5", "120.5", ""])
        writer.writerow(["b", "17x8 ET40 5x114.3 CB67.1", CODE, "", "", ""])
        writer.writerow(["", "18x8 ET40", CODE, "", "", "x"])
        writer.writerow(["d", "17x8 ET0 5x112", CODE, "", "", ""])
    found = fitment.screen(bench, iter(rows), "front")
    of_file = fitment.screen(bench, path, "front")
    assert of_file.json == found.json
    assert of_file.csv == found.csv
    broken = fitment.screen(bench, [{"wheel": WHEEL, "tire": CODE}, {"wheel": "17x8", "tire": CODE}], "front").data[1]
    assert broken["reason"].startswith("candidate 2: 17x8: the offset is missing")


@pytest.mark.slow
def test_more_processes_give_the_same_answer(bench: str, listed: str) -> None:
    code = "import fitment\nif __name__ == '__main__':\n"
    code += f"    texts = {{fitment.screen({bench!r}, {listed!r}, processes=n).json for n in (1, 2)}}\n"
    assert python(code + "    print(len(texts))") == "1"


def test_columns_come_back_in_the_order_they_were_first_seen() -> None:
    header, rows, _ = candidates.from_records([{"tire": "x", "wheel": 1}, {"wheel": "y", "tire": "z", "more": True}])
    assert header == ["tire", "wheel", "more"]
    assert [each.cells for each in rows] == [("x", "1", ""), ("z", "y", "True")]


# ---------------------------------------------------------------- pictures


@pytest.mark.slow
def test_a_picture_is_of_the_axle_that_is_named(tmp_path: Path) -> None:
    found = fitment.check("wagon")
    for name, options in (("first", {}), ("front", {"axle": "front"}), ("rear", {"axle": "rear"})):
        found.save(tmp_path / f"{name}.png", layout="banner", **options)
    first, front, rear = ((tmp_path / f"{name}.png").read_bytes() for name in ("first", "front", "rear"))
    assert first == front != rear


# ---------------------------------------------------------------- a notebook


class Read(HTMLParser):
    """What a browser would make of the HTML: its elements, its text; refuses what does not nest."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.attributes: set[str] = set()
        self.images: list[dict[str, str | None]] = []
        self.cells: list[list[str]] = []
        self.words = ""
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert len({name for name, _ in attrs}) == len(attrs)
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}
        if tag == "img":
            self.images.append(dict(attrs))
        if tag == "tr":
            self.cells.append([])
        if tag in ("td", "th"):
            self.cells[-1].append("")
        if tag not in ("img", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open[-1:] == ["style"]:
            return
        self.words += data
        if self.open and self.open[-1] in ("td", "th"):
            self.cells[-1][-1] += data


TAGS = {
    "b",
    "br",
    "details",
    "div",
    "img",
    "p",
    "pre",
    "span",
    "style",
    "summary",
    "table",
    "tbody",
    "td",
    "th",
    "thead",
    "tr",
}
SHOWN: dict[str, Callable[[str], results.Result]] = {
    "check": lambda p: fitment.check(p, "front", how_sure=True, changes=True),
    "check, the other build": lambda p: fitment.check(p, "front", HOSTILE),
    "compare": lambda p: fitment.compare(p, "measured", HOSTILE, "front"),
    "screen": lambda p: fitment.screen(
        p, [{"name": HOSTILE, "wheel": WHEEL, "tire": CODE}, {"wheel": HOSTILE, "tire": CODE}], "front"
    ),
    "window": lambda p: fitment.window(p, "front"),
    "align": lambda p: fitment.align(p, "front"),
    "poses": lambda p: fitment.poses(p, "front", travel=[0, 500]),
    "order": lambda p: fitment.order(p, "front", HOSTILE),
}


@pytest.mark.parametrize("name", SHOWN)
def test_an_answer_shows_itself_and_hostile_names_stay_text(
    name: str, hostile: str, capsys: pytest.CaptureFixture[str]
) -> None:
    found = SHOWN[name](hostile)
    shown = Read(found._repr_html_())
    assert shown.tags <= TAGS
    assert shown.attributes <= {"class", "src", "alt", "open"}
    assert HOSTILE in shown.words
    for image in shown.images:
        assert str(image["src"]).startswith("data:image/png;base64,iVBORw0KGgo")
        assert image["alt"]
    assert len(shown.images) == (0 if name == "align" else 1)
    assert "\n" not in repr(found)
    assert capsys.readouterr() == ("", "")


def test_the_tables_hold_the_cells_of_the_text(bench: str) -> None:
    """Every clearance that the command prints, with its pose."""
    found = fitment.check(bench, "front")
    rows = [row for row in Read(found._repr_html_()).cells if row[0].startswith(("tire - ", "wheel - "))]
    lines = [line for line in found.full_text.splitlines() if line.startswith(("  tire - ", "  wheel - "))]
    assert len(rows) == len(lines) == 4
    for row, line in zip(rows, lines, strict=True):
        assert re.split(r"  +", line.strip()) == [cell for cell in row if cell]


@pytest.mark.slow
def test_several_axles_and_a_list_stand_in_a_table_with_verdict_and_limit(bench: str) -> None:
    shown = Read(fitment.check("wagon")._repr_html_())
    assert shown.cells[0] == ["axle", "build", "wheel and tire", "verdict", "limit"]
    assert [row[0] for row in shown.cells[1:3]] == ["front", "rear"]
    assert all(row[3] == "clears" and row[4].startswith("tightest: ") for row in shown.cells[1:3])
    rows = [{"wheel": WHEEL, "tire": CODE}, {"wheel": "17x8 ET10 5x112", "tire": CODE}, {"wheel": "?", "tire": CODE}]
    listed = Read(fitment.screen(bench, rows, "front")._repr_html_())
    assert listed.cells[0] == [
        "", "wheel", "tire", "verdict", "limited by", "margin", "worst case", "tightest", "nominal offsets"
    ]  # fmt: skip
    assert listed.cells[1][4] == "post, tire"
    assert listed.cells[2][3] == "does not bolt on"
    assert listed.cells[2][4].startswith("bolt circle: the wheel has 5x112 mm, the hub 5x114.3 mm")
    assert "candidate 3: " in listed.words


@pytest.mark.slow
def test_what_was_not_checked_and_the_test_fit_are_told_beside_a_verdict(bench: str) -> None:
    for found in (fitment.check(bench, "front"), fitment.compare(bench, "measured", "lowered")):
        words = Read(found._repr_html_()).words
        before_all = words.split("Everything, as the command prints it")[0]
        assert "not checked: " in before_all
        assert "test fit through full travel and lock" in words.rsplit("\n", 3)[-2]
    words = Read(fitment.screen(bench, [{"wheel": WHEEL, "tire": CODE}], "front")._repr_html_()).words
    assert "left open or not checked even in a row that clears" in words


def test_where_nothing_can_be_drawn_it_says_why(bench: str) -> None:
    shown = Read(fitment.screen(bench, [], "front")._repr_html_())
    assert shown.images == []
    assert "No picture: no row of the list can be drawn" in shown.words


def test_a_long_table_says_how_much_it_leaves_out(bench: str) -> None:
    found = fitment.poses(bench, "front", travel=range(-50, 50))
    shown = Read(found._repr_html_())
    poses = len(found.data["poses"])
    assert f"and {poses - notebook.MOST_ROWS} more, in the answer's data" in shown.words
    assert len(shown.cells) == notebook.MOST_ROWS + 1


@pytest.mark.parametrize("text", [HOSTILE, "a\x00b\x1b[31m", "a\u202eb", "\ufffe", "tab\there", "' \" ` = & < >"])
def test_an_escaped_text_stays_text(text: str) -> None:
    made = notebook.escaped(text)
    assert not set(made) & set("<>\"'\x00\x1b\u202e\ufffe\t")
    plain = html.unescape(made)
    assert len(plain) == len(text)
    assert all(a == b or not b.isprintable() for a, b in zip(plain, text, strict=True))


# ---------------------------------------------------------------- mistakes

MISTAKES: tuple[tuple[Callable[[str], Any], type[fitment.FitmentError], str], ...] = (
    (lambda _: fitment.check(3), fitment.FitmentError, "profile: got int; give a file"),  # type: ignore[arg-type]
    (lambda _: fitment.check("wagn"), ProfileError, 'Did you mean "wagon"'),
    (lambda p: fitment.check(p, "rear"), ProfileError, 'no axle "rear". The profile has: front'),
    (lambda p: fitment.check(p, ""), fitment.FitmentError, "axle '' is empty; give a text, or leave it out"),
    (lambda p: fitment.check(p, 1), fitment.FitmentError, "axle 1: give it as a text"),  # type: ignore[arg-type]
    (lambda p: fitment.check(p, "front", "low"), ProfileError, 'no build "low".'),
    (lambda p: fitment.check(p, "front", wheel=20), fitment.FitmentError, "wheel 20: give it as"),  # type: ignore[arg-type]
    (lambda p: fitment.check(p, "front", tire="1"), CodeError, "1: this is not a tire code"),
    (lambda p: fitment.check(p, "front", spacer=True), fitment.FitmentError, "spacer True: give a number"),
    (lambda p: fitment.check(p, "front", spacer=float("nan")), fitment.FitmentError, "spacer nan: give a finite"),
    (lambda p: fitment.check(p, "front", spacer=-3), ProfileError, "-3 mm is not a plausible spacer"),
    (lambda p: fitment.check(p, "front", ride="lwo"), ProfileError, 'Did you mean "low"'),
    (lambda p: fitment.check(p, loaded_radius=12), fitment.FitmentError, "loaded_radius 12: 12 mm is not plausible"),
    (lambda p: fitment.check(p, loaded_radius="x"), fitment.FitmentError, 'loaded_radius: "x" is not a quantity'),
    (lambda p: fitment.check(p, units="cm"), fitment.FitmentError, "units 'cm': give mm or in"),
    (lambda p: fitment.check(p).figure("rear"), fitment.FitmentError, "axle rear: the answer is about front"),
    (lambda p: fitment.check(p).figure(view="top"), fitment.FitmentError, "view top: there is none of that name"),
    (lambda p: fitment.check(p).save("x.txt"), fitment.FitmentError, "x.txt: a picture is written as .png"),
    (lambda p: fitment.compare(p, "measured", None), fitment.FitmentError, "new: name a build"),  # type: ignore[arg-type]
    (lambda p: fitment.screen(p, 3), ListError, "candidates: got int; give a CSV file"),  # type: ignore[arg-type]
    (lambda p: fitment.screen(p, ["wheel"]), ListError, "candidate 1: got str"),  # type: ignore[list-item]
    (lambda p: fitment.screen(p, [{"wheel": WHEEL}]), ListError, "no column tire; found: wheel"),
    (lambda p: fitment.screen(p, [], processes=0), fitment.FitmentError, "processes 0: give a whole number"),
    (lambda p: fitment.screen(p, []).figure(best=13), fitment.FitmentError, "best 13: a picture holds 1 to 12"),
    (lambda p: fitment.window(p, size=17), fitment.FitmentError, "size 17: give a text"),  # type: ignore[arg-type]
    (lambda p: fitment.window(p, size=[""]), fitment.FitmentError, "size '' is empty"),
    (lambda p: fitment.align(p, camber=-1), fitment.FitmentError, "no settings for a target"),
    (lambda p: fitment.align(p).figure(), fitment.FitmentError, "nothing to draw: the suspension is given without"),
    (lambda p: fitment.poses(p, travel="5"), fitment.FitmentError, "travel '5': give a number"),  # type: ignore[arg-type]
    (lambda p: fitment.poses(p, travel=[0] * 10_001), fitment.FitmentError, "travel: at most 10,000"),
    (lambda p: fitment.poses(p, steer=1, rack=1), fitment.FitmentError, "not both"),
)


@pytest.mark.parametrize(
    ("line", "call", "words"),
    [
        ("check --spacer=-3", lambda p: fitment.check(p, spacer=-3), "{spacer}: -3 mm is not a plausible spacer"),
        ("order --ride lwo", lambda p: fitment.order(p, ride="lwo"), '{ride}: "lwo" is not a ride height'),
        ("check --loaded-radius 12", lambda p: fitment.check(p, loaded_radius=12), "{loaded_radius} 12: 12 mm is not"),
        ("check --settings ' '", lambda p: fitment.check(p, settings=" "), "{settings} is empty; write NAME"),
        ("align --camber 40", lambda p: fitment.align(p, camber=40), "{camber} 40 deg: a target lies between -15"),
        ("poses --steer 1 --rack 1", lambda p: fitment.poses(p, steer=1, rack=1), "give {steer=} or {rack=}, not both"),
        ("poses --rack 1", lambda p: fitment.poses(p, rack=1), "{rack} needs a suspension with hardpoints" + STEER),
        ("poses --opposite 1", lambda p: fitment.poses(p, opposite=1), "{opposite} is for a solid axle"),
        ("poses --travel 1e9", lambda p: fitment.poses(p, travel=1e9), "{travel} 1e+09: give a finite number below"),
        ("window --size 20", lambda p: fitment.window(p, size="20"), "{size} 20: the rim size needs diameter x width"),
        (
            "window --size '20x10 ET25'",
            lambda p: fitment.window(p, size="20x10 ET25"),
            '{size} "20x10 ET25": give a size alone, such as 20x10',
        ),
        ("screen LIST --sort x", lambda p: fitment.screen(p, LIST, sort="x"), "{sort} x: there is no such column"),
        ("check --build bare", lambda p: fitment.check(p, build="bare"), "any axle; give {wheel=} and {tire=}."),
        (
            "check --axle front --build bare",
            lambda p: fitment.check(p, "front", "bare"),
            "names no wheel and no tire for the front axle; add it there, or give {wheel=} and {tire=}.",
        ),
    ],
)
def test_a_mistake_names_the_argument_here_and_the_option_there(
    line: str, call: Callable[[str], Any], words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In the words {ride} stands for an argument, {ride=} for one that is asked for."""
    data = vehicle()
    data["builds"]["bare"] = {"front": {"ride": "low"}}
    profile = write_profile(tmp_path, data)
    monkeypatch.chdir(tmp_path)
    Path(LIST).write_text(f"wheel,tire\n{WHEEL},{CODE}\n")
    with pytest.raises(fitment.FitmentError) as caught:
        call(profile)
    assert re.sub("[{}]", "", words) in str(caught.value)
    assert "--" not in str(caught.value)
    assert caught.value.arguments == tuple(re.findall(r"{(\w+)=?}", words))
    name, *options = shlex.split(line)
    typed = re.sub(r"{(\w+)=?}", lambda found: f"--{found[1]}".replace("_", "-"), words)
    assert typed in run(name, profile, *options).stderr


def test_a_mistake_in_a_word_without_an_option_names_the_word(bench: str) -> None:
    with pytest.raises(fitment.FitmentError, match="old '' is empty"):
        fitment.compare(bench, "", "measured")
    assert run("compare", bench, "", "measured").stderr.startswith("Error: OLD '' is empty")


def test_a_mistake_stays_what_it_is_between_processes() -> None:
    error = ProfileError(Argument("spacer"), ": too thick", file="x.yaml", line=3)
    again = pickle.loads(pickle.dumps(error))
    assert (str(again), again.arguments, again.line) == ("x.yaml:3: spacer: too thick", ("spacer",), 3)
    assert again.told(str.upper) == "x.yaml:3: SPACER: too thick"


@pytest.mark.parametrize(("call", "error", "words"), MISTAKES, ids=[words for _, _, words in MISTAKES])
def test_a_mistake_is_told(call: Callable[[str], Any], error: type[Exception], words: str, bench: str) -> None:
    with pytest.raises(error, match=re.escape(words)):
        call(bench)


# ---------------------------------------------------------------- nothing else is changed


def surroundings() -> dict[str, Any]:
    """What all of a program shares."""
    mask = os.umask(0)
    os.umask(mask)
    return {
        "mask of new files": mask,
        "longest field of a CSV": csv.field_size_limit(),
        "collector": (gc.isenabled(), gc.get_threshold(), gc.get_freeze_count() > 0, list(gc.callbacks)),
        "warnings": list(warnings.filters),
        "environment": dict(os.environ),
        "folder": Path.cwd(),
        "locale": locale.setlocale(locale.LC_ALL),
        "streams": (sys.stdin, sys.stdout, sys.stderr),
        "hooks": (sys.excepthook, sys.displayhook, sys.getrecursionlimit(), sys.getswitchinterval()),
        "signals": [signal.getsignal(each) for each in signal.valid_signals()],
        "log": (logging.root.level, list(logging.root.handlers), logging.root.manager.disable),
        "decimals": repr(decimal.getcontext()),
        "chance": (random.getstate(), repr(np.random.get_state())),
        "numpy": (np.geterr(), np.get_printoptions()),
        "pictures": (matplotlib.rcParams.copy(), "matplotlib.pyplot" in sys.modules),
    }


@pytest.fixture
def longest_field() -> Iterator[int]:
    """A limit that a program has set for its own tables [characters]."""
    before = csv.field_size_limit(123_456)
    yield 123_456
    csv.field_size_limit(before)


ANSWERS: dict[str, Callable[[str], results.Result]] = {
    "check": lambda p: fitment.check(p, "front", how_sure=True, changes=True),
    "compare": lambda p: fitment.compare(p, "measured", "lowered"),
    "screen": lambda p: fitment.screen(p, written_list(p), "front", processes=2),
    "window": lambda p: fitment.window(p, "front"),
    "align": lambda _: fitment.align("pickup", "front", "swapped", camber=-1),
    "poses": lambda p: fitment.poses(p, "front", travel=[0, 500]),
    "order": lambda p: fitment.order(p, "front"),
}


def written_list(profile: str) -> Path:
    """A list beside the profile."""
    path = Path(profile).with_suffix(".csv")
    path.write_text("wheel,tire\n" + f"{WHEEL},{CODE}\n" * 2)
    return path


@pytest.mark.slow
@pytest.mark.parametrize("name", ANSWERS)
@pytest.mark.usefixtures("longest_field")
def test_a_call_leaves_what_a_program_shares_as_it_was(name: str, bench: str, tmp_path: Path) -> None:
    before = surroundings()
    found = ANSWERS[name](bench)
    _ = found.text, found.json, found._repr_html_()
    found.save(tmp_path / "picture.png")
    if isinstance(found, results.Ordered):
        found.pdf()
    assert surroundings() == before


def test_a_list_is_read_under_any_limit_of_a_field(tmp_path: Path, longest_field: int) -> None:
    """The limit of the csv module is that of the whole program: it is neither set nor needed, also not for a moment."""
    path = tmp_path / "list.csv"
    path.write_text(f'wheel,tire,note\n{WHEEL},{CODE},{"9" * 10_001}\n{WHEEL},{CODE},x\n{WHEEL},{CODE},"open\n')
    _, rows, _ = candidates.read_candidates(path)
    problems = []
    for row in rows:
        assert csv.field_size_limit() == longest_field
        problems.append(row.problem or "")
    assert "a cell has more than 10,000 characters" in problems[0]
    assert problems[1] == ""
    assert "quotation mark" in problems[2]


@pytest.mark.parametrize("mask", [0o022, 0o077])
def test_a_file_gets_the_rights_of_any_new_file(mask: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a look at the mask, which can only be had by setting it: another thread's file would go without."""
    before = os.umask(mask)
    try:
        with monkeypatch.context() as patched:
            patched.delattr(os, "umask")
            write_whole(tmp_path / "a.txt", b"a")
    finally:
        os.umask(before)
    assert (tmp_path / "a.txt").stat().st_mode & 0o777 == 0o666 & ~mask
    assert [each.name for each in tmp_path.iterdir()] == ["a.txt"]


def test_what_a_program_has_frozen_stays_frozen() -> None:
    gc.freeze()
    try:
        frozen = gc.get_freeze_count()
        with worker_pool(10, 2) as spread:
            assert spread(add, [1, 2], "adding") == [11, 12]
        assert gc.get_freeze_count() > frozen / 2  # some of it may have been let go of meanwhile
    finally:
        gc.unfreeze()


def add(state: int, job: int) -> int:
    return state + job


# ---------------------------------------------------------------- what is written about it


@pytest.mark.slow
def test_the_examples_of_the_functions_run() -> None:
    found = doctest.testmod(api)
    assert found.failed == 0
    assert found.attempted >= 2 * len(FUNCTIONS)


@pytest.mark.slow
def test_the_examples_of_the_readme_run(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.chdir(tmp_path)
    blocks = re.findall(r"```pycon\n(.*?)```", (ROOT / "README.md").read_text(encoding="utf-8"), re.DOTALL)
    test = doctest.DocTestParser().get_doctest("\n".join(blocks), {}, "README.md", None, None)
    assert len(test.examples) >= 5
    told: list[str] = []
    result = doctest.DocTestRunner(verbose=False).run(test, out=told.append)
    assert result.failed == 0, "".join(told)
    assert [path.name for path in tmp_path.iterdir()] == ["wanted.png"]
