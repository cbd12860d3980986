"""The functions for Python: every answer is that of the command, shows itself in a notebook, and prints nothing."""

from __future__ import annotations

import csv
import doctest
import html
import inspect
import json
import re
import shlex
import subprocess
import sys
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from pkgutil import iter_modules
from typing import Any

import pytest
from click.testing import Result
from conftest import HUB_FACE, POST, WIDTH, bench_setup, least, run, steered, vehicle, write_profile
from matplotlib.figure import Figure

import fitment
from fitment import api, notebook, results
from fitment.errors import CodeError, ListError, ProfileError
from fitment.screening import candidates

ROOT = Path(__file__).parent.parent
HOSTILE = '"><script>alert(1)</script>&amp;<img src=x onerror="a">'
HEAVY = "numpy matplotlib shapely pint pydantic yaml click"
WHEEL, CODE = "17x8 ET10 5x114.3 CB67.1", "225/45R17 94W XL"
FUNCTIONS = ("align", "check", "compare", "order", "poses", "screen", "window")


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


@pytest.mark.parametrize("first", ["", "import fitment.cli", "fitment.screen; fitment.order", "import fitment.page"])
def test_a_module_of_the_same_name_hides_no_function(first: str) -> None:
    assert not {each.name for each in iter_modules(fitment.__path__)} & set(FUNCTIONS)
    code = f"import fitment; {first}\nimport fitment.page, fitment.cli, fitment.screening.screen\n"
    code += f"print(all(getattr(fitment, name).__module__ == 'fitment.api' for name in {FUNCTIONS!r}))"
    assert python(code) == "True"


def test_every_function_takes_a_file_a_name_and_a_loaded_profile(bench: str) -> None:
    loaded = fitment.load_profile(bench)
    texts = {fitment.check(each).json for each in (bench, Path(bench), loaded)}
    assert len(texts) == 1
    assert fitment.poses("wagon", "rear").text == fitment.poses(fitment.load_profile("wagon"), "rear").text
    assert repr(loaded) == ("<Profile 'Bench vehicle (invented)': front; builds measured, lowered; baseline measured>")


# ---------------------------------------------------------------- the same answer as the command

Call = tuple[str, Callable[[str], Any]]
CALLS: tuple[Call, ...] = (
    ("check --axle front", lambda p: fitment.check(p, "front")),
    ("check", fitment.check),
    ("check --axle front --build lowered --units in", lambda p: fitment.check(p, "front", "lowered", units="in")),
    (
        f"check --axle front --wheel '{WHEEL}' --tire '{CODE}' --spacer 5 --ride -10",
        lambda p: fitment.check(p, "front", wheel=WHEEL, tire=CODE, spacer=5, ride=-10),
    ),
    (
        "check --axle front --ride low --spacer '1/4 in' --loaded-radius 305 --geometry",
        lambda p: fitment.check(p, "front", ride="low", spacer="1/4 in", loaded_radius=305, geometry=True),
    ),
    (
        "check --axle front --tire 285/40R17 --how-sure --changes",
        lambda p: fitment.check(p, "front", tire="285/40R17", how_sure=True, changes=True),
    ),
    ("compare measured lowered --axle front", lambda p: fitment.compare(p, "measured", "lowered", "front")),
    ("compare measured lowered", lambda p: fitment.compare(p, "measured", "lowered")),
    ("window --axle front", lambda p: fitment.window(p, "front")),
    (
        "window --size 17x8 --size 18x9 --tire 225/45R17 --tire 225/40R18 --ride low",
        lambda p: fitment.window(p, size=["17x8", "18x9"], tire=("225/45R17", "225/40R18"), ride="low"),
    ),
    ("window --size 17x8 --spacer 5", lambda p: fitment.window(p, size="17x8", spacer=5)),
    ("align --axle front --ride 12.5 --units in", lambda p: fitment.align(p, "front", ride=12.5, units="in")),
    ("align", fitment.align),
    (
        "poses --axle front --travel -20,0,20 --steer -10,30 --loaded-radius '12 in'",
        lambda p: fitment.poses(p, "front", travel=[-20, 0, 20], steer=(-10, 30), loaded_radius="12 in"),
    ),
    ("poses --travel 10", lambda p: fitment.poses(p, travel=10)),
    ("order --axle front", lambda p: fitment.order(p, "front")),
    (f"order --wheel '{WHEEL}' --units in", lambda p: fitment.order(p, wheel=WHEEL, units="in")),
)


def command(line: str, profile: str, *more: str) -> Result:
    """The command with the profile behind its name."""
    name, *options = shlex.split(line)
    return run(name, profile, *options, *more)


@pytest.mark.slow
@pytest.mark.parametrize(("line", "call"), CALLS, ids=[line for line, _ in CALLS])
def test_the_answer_is_that_of_the_command(
    line: str, call: Callable[[str], Any], bench: str, capsys: pytest.CaptureFixture[str]
) -> None:
    found = call(bench)
    assert command(line, bench, "--format", "json").stdout == found.json + "\n"
    assert command(line, bench).stdout == found.text + "\n"
    assert json.loads(found.json) == json.loads(json.dumps(found.data))
    assert "\n" not in repr(found)
    assert len(repr(found)) < 200
    assert capsys.readouterr() == ("", "")


def test_both_axles_stand_in_a_list() -> None:
    found = fitment.check("wagon", build="wanted")
    assert found.axles == ("front", "rear")
    assert [each["axle"] for each in found.data] == ["front", "rear"]
    verdicts = [each["verdict"] for each in found.data]
    assert found.verdict in verdicts
    assert found.clears == (verdicts == ["clears", "clears"])
    assert run("check", "wagon", "--build", "wanted", "--format", "json").stdout == found.json + "\n"


@pytest.mark.slow
def test_settings_of_align_go_into_check_as_the_command_takes_them(tmp_path: Path) -> None:
    asked = {"ride": "lowered", "camber": -1.2, "caster": 4.5}
    aligned = fitment.align("pickup", "front", "swapped", **asked)  # type: ignore[arg-type]
    choice = aligned.found[0].choice
    assert choice is not None
    file = tmp_path / "set.json"
    options = ("pickup", "--axle", "front", "--build", "swapped")
    run("align", *options, "--ride", "lowered", "--camber", "-1.2", "--caster", "4.5", "--out", str(file))
    assert file.read_text() == aligned.json + "\n"
    printed = run("check", *options, "--settings", str(file), "--format", "json").stdout
    assert fitment.check("pickup", "front", "swapped", settings=str(file)).json + "\n" == printed
    assert fitment.check("pickup", "front", "swapped", settings=choice.settings).json + "\n" == printed


def test_what_is_worked_by_hand(tmp_path: Path) -> None:
    """Tire to post: 890 - 750 - 230 / 2 = 25 mm; a 5 mm spacer moves it 5 mm out, so 20 mm are left."""
    profile, left = write_profile(tmp_path, vehicle()), POST - HUB_FACE - WIDTH / 2
    assert least(fitment.check(profile, "front").data, "post") == pytest.approx(left, abs=0.002)
    assert least(fitment.check(profile, "front", spacer=5).data, "post") == pytest.approx(left - 5, abs=0.002)


# ---------------------------------------------------------------- lists


@pytest.fixture(scope="module")
def listed(tmp_path_factory: pytest.TempPathFactory) -> str:
    """More rows than are checked one by one."""
    rows = [f"n{offset},17x8 ET{offset} 5x114.3 CB67.1,{CODE}" for offset in range(-20, 40, 6)]
    path = tmp_path_factory.mktemp("list") / "list.csv"
    path.write_text("\n".join(["name,wheel,tire", *rows, f"x,17x8,{CODE}"]) + "\n")
    return str(path)


@pytest.mark.slow
def test_a_file_is_screened_as_the_command_does(bench: str, listed: str, tmp_path: Path) -> None:
    found = fitment.screen(bench, listed, "front", "lowered")
    options, file = ("screen", bench, listed, "--axle", "front", "--build", "lowered"), tmp_path / "found.json"
    assert run(*options, "--format", "csv", "--out", str(file)).stdout == found.csv
    assert file.read_text() == found.json + "\n"
    assert run(*options, "--format", "text").stdout == found.text + "\n"


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
    assert run("screen", bench, str(path), "--axle", "front", "--format", "json").stdout == found.json + "\n"
    assert run("screen", bench, str(path), "--axle", "front", "--format", "csv").stdout == found.csv
    broken = fitment.screen(bench, [{"wheel": WHEEL, "tire": CODE}, {"wheel": "17x8", "tire": CODE}], "front").data[1]
    assert broken["reason"].startswith("candidate 2: 17x8: the offset is missing")


@pytest.mark.slow
def test_more_processes_give_the_same_answer(bench: str, listed: str) -> None:
    code = "import fitment\nif __name__ == '__main__':\n"
    code += f"    texts = {{fitment.screen({bench!r}, {listed!r}, processes=n).json for n in (1, 2)}}\n"
    assert python(code + "    print(len(texts))") == "1"


def test_columns_come_back_in_the_order_they_were_first_seen() -> None:
    header, rows = candidates.from_records([{"tire": "x", "wheel": 1}, {"wheel": "y", "tire": "z", "more": True}])
    assert header == ["tire", "wheel", "more"]
    assert [each.cells for each in rows] == [("x", "1", ""), ("z", "y", "True")]


# ---------------------------------------------------------------- pictures

PICTURES: tuple[tuple[str, Callable[[str], Any], dict[str, Any]], ...] = (
    ("check --axle front", lambda p: fitment.check(p, "front"), {}),
    (
        "check --axle front --units in --view closest --theme dark",
        lambda p: fitment.check(p, "front", units="in"),
        {"view": "closest", "theme": "dark"},
    ),
    (
        "compare measured lowered --axle front --layout banner --date today",
        lambda p: fitment.compare(p, "measured", "lowered", "front"),
        {"layout": "banner", "date": "today"},
    ),
    ("window --axle front --theme dark", lambda p: fitment.window(p, "front"), {"theme": "dark"}),
    ("window --axle front --date today", lambda p: fitment.window(p, "front"), {"date": "today"}),
    ("poses --axle front", lambda p: fitment.poses(p, "front"), {}),
    (
        "poses --axle front --theme dark --date today",
        lambda p: fitment.poses(p, "front"),
        {"theme": "dark", "date": "today"},
    ),
    (
        "align --axle front --build swapped --theme dark --date today",
        lambda _: fitment.align("pickup", "front", "swapped"),
        {"theme": "dark", "date": "today"},
    ),
    (
        "align --axle front --build swapped --camber -1",
        lambda _: fitment.align("pickup", "front", "swapped", camber=-1),
        {},
    ),
)


@pytest.mark.slow
@pytest.mark.parametrize(("line", "call", "look"), PICTURES, ids=[line for line, _, _ in PICTURES])
def test_the_picture_is_that_of_the_command(
    line: str, call: Callable[[str], Any], look: dict[str, Any], bench: str, tmp_path: Path
) -> None:
    found = call(bench)
    assert isinstance(found.figure(**look), Figure)
    found.save(tmp_path / "mine.png", **look)
    profile = "pickup" if line.startswith("align") else bench
    result = command(line, profile, "--out", str(tmp_path / "theirs.png"))
    assert result.exit_code in (0, 1), result.output
    assert (tmp_path / "mine.png").read_bytes() == (tmp_path / "theirs.png").read_bytes()


@pytest.mark.slow
def test_the_best_of_a_list_and_the_sheet_are_those_of_the_commands(bench: str, tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text(f"name,wheel,tire\na,{WHEEL},{CODE}\nb,17x8 ET40 5x114.3 CB67.1,{CODE}\n")
    fitment.screen(bench, path, "front").save(tmp_path / "mine.png")
    run("screen", bench, str(path), "--axle", "front", "--out", str(tmp_path / "theirs.png"))
    assert (tmp_path / "mine.png").read_bytes() == (tmp_path / "theirs.png").read_bytes()
    run("order", bench, "--axle", "front", "--out", str(tmp_path / "theirs.pdf"), "--paper", "letter")
    ordered = fitment.order(bench, "front")
    assert ordered.pdf("letter") == (tmp_path / "theirs.pdf").read_bytes()
    assert isinstance(ordered.figure(), Figure)


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
    lines = [line for line in found.text.splitlines() if line.startswith(("  tire - ", "  wheel - "))]
    assert len(rows) == len(lines) == 4
    for row, line in zip(rows, lines, strict=True):
        assert re.split(r"  +", line.strip()) == [cell for cell in row if cell]


def test_several_axles_and_a_list_stand_in_a_table_with_verdict_and_limit(bench: str) -> None:
    shown = Read(fitment.check("wagon")._repr_html_())
    assert shown.cells[0] == ["axle", "build", "wheel and tire", "verdict", "limit"]
    assert [row[0] for row in shown.cells[1:3]] == ["front", "rear"]
    assert all(row[3] == "clears" and row[4].startswith("closest: ") for row in shown.cells[1:3])
    rows = [{"wheel": WHEEL, "tire": CODE}, {"wheel": "17x8 ET10 5x112", "tire": CODE}, {"wheel": "?", "tire": CODE}]
    listed = Read(fitment.screen(bench, rows, "front")._repr_html_())
    assert listed.cells[0] == ["", "wheel", "tire", "verdict", "tightest", "limited by", "nominal offsets"]
    assert listed.cells[1][5] == "post, tire"
    assert listed.cells[2][3] == "does not bolt on"
    assert listed.cells[2][5].startswith("bolt circle: 5x112 mm on the hub's 5x114.3 mm")
    assert "candidate 3: " in listed.words


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
    (lambda p: fitment.check(p, ""), fitment.FitmentError, "axle '': give it as a text, or leave it out"),
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
    (lambda p: fitment.window(p, size=[""]), fitment.FitmentError, "size '': give it as a text"),
    (lambda p: fitment.align(p, camber=-1), fitment.FitmentError, "no settings for a target"),
    (lambda p: fitment.align(p).figure(), fitment.FitmentError, "nothing to draw: the suspension is given without"),
    (lambda p: fitment.poses(p, travel="5"), fitment.FitmentError, "travel '5': give a number"),  # type: ignore[arg-type]
    (lambda p: fitment.poses(p, travel=[0] * 10_001), fitment.FitmentError, "travel: at most 10,000"),
    (lambda p: fitment.poses(p, steer=1, rack=1), fitment.FitmentError, "not both"),
)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda p: fitment.check(p, spacer=-3), "spacer: -3 mm is not a plausible spacer"),
        (lambda p: fitment.order(p, ride="lwo"), 'ride: "lwo" is not a ride height'),
        (lambda p: fitment.check(p, settings=" "), "settings is empty; write NAME"),
        (lambda _: fitment.align("pickup", "front", "swapped", camber=40), "camber 40: a target is within 15 deg"),
        (lambda p: fitment.poses(p, steer=1, rack=1), "give steer= or rack=, not both."),
        (lambda p: fitment.poses(p, opposite=1), "opposite is for a solid axle"),
        (lambda p: fitment.window(p, size="20"), "size 20: the rim size needs diameter x width, such as 20x10"),
        (lambda p: fitment.window(p, size="20x10 ET25"), 'size "20x10 ET25": give a size alone, such as 20x10'),
        (lambda p: fitment.window(p, size="../20x10"), "size ../20x10: a wheel spec starts with the rim size"),
        (lambda _: fitment.check("example", "front", "wheelless"), 'no build "wheelless"'),
    ],
)
def test_a_mistake_names_the_argument_and_no_option(call: Callable[[str], Any], words: str, bench: str) -> None:
    with pytest.raises(fitment.FitmentError) as caught:
        call(bench)
    assert words in str(caught.value)
    assert "--" not in str(caught.value)
    assert "--" not in getattr(caught.value, "key", "")


def test_a_build_without_a_wheel_asks_for_the_arguments(tmp_path: Path) -> None:
    data = vehicle()
    data["builds"]["bare"] = {"front": {"ride": "low"}}
    profile = write_profile(tmp_path, data)
    with pytest.raises(ProfileError, match="give wheel= and tire=") as caught:
        fitment.check(profile, "front", "bare")
    assert caught.value.key == "builds.bare.front"
    assert "give --wheel and --tire" in run("check", profile, "--axle", "front", "--build", "bare").stderr


@pytest.mark.parametrize(("call", "error", "words"), MISTAKES, ids=[words for _, _, words in MISTAKES])
def test_a_mistake_is_told(call: Callable[[str], Any], error: type[Exception], words: str, bench: str) -> None:
    with pytest.raises(error, match=re.escape(words)):
        call(bench)


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
