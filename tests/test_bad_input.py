"""Bad input at the command line: exit 2, one clear message on stderr, no traceback, nothing left behind.

Each case is one kind of slip a person makes. Beside the common promise every message must name what was wrong:
the words asked for here are those a reader needs (the value, the key, what is allowed), not the whole sentence.
"""

from __future__ import annotations

import errno
import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result
from conftest import TIRE, bench_setup, run, steered, vehicle, write_profile
from hypothesis import example, given, settings
from hypothesis import strategies as st

TABLE = "name,wheel,tire\nA,17x8 ET0,225/45R17\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with a sound profile and list, and two folders that bear the names of files."""
    write_profile(tmp_path, vehicle())
    write_profile(tmp_path, steered(), "steered.yaml")
    (tmp_path / "list.csv").write_text(TABLE)
    (tmp_path / "folder.png").mkdir()
    (tmp_path / "folder.json").mkdir()
    (tmp_path / "folder.csv").mkdir()
    return tmp_path


def listing(folder: Path) -> dict[str, bytes | None]:
    """Every file under a folder with its content, temporary and hidden ones too."""
    return {str(path.relative_to(folder)): None if path.is_dir() else path.read_bytes() for path in folder.rglob("*")}


def assert_refused(result: Result, words: str) -> None:
    """Exit 2 and one message that holds the words; nothing on stdout."""
    said = result.stderr
    assert result.exit_code == 2, result.output
    assert result.stdout == "", "a refusal goes to stderr only"
    assert said.startswith(("Error: ", "Usage: ")), said
    assert said.count("Error: ") == 1, said
    assert "Traceback" not in said
    assert not re.search(r"\bNone\b|<class|object at 0x|errors\.pydantic|ValueError", said), said
    assert re.search(words, said), f"{words!r} is not in: {said}"


def refused_in(folder: Path, words: str, *arguments: str) -> None:
    before = listing(folder)
    assert_refused(run(*arguments, cwd=folder), words)
    assert listing(folder) == before


# ---------------------------------------------------------------- command line

COMMAND_LINES: list[tuple[str, str]] = [
    # commands and arguments
    ("nonsense", "No such command 'nonsense'"),
    ("check", "Missing argument 'PROFILE'"),
    ("compare bench.yaml measured", "Missing argument 'NEW'"),
    ("screen bench.yaml", "Missing argument"),
    ("tire", "Missing argument"),
    ("wheel", "Missing argument"),
    ("check bench.yaml bench.yaml", "unexpected extra argument"),
    ("schema extra", "unexpected extra argument"),
    ("check bench.yaml --nonsense", "No such option"),
    ("check bench.yaml --wheel", "requires an argument"),
    # options with a fixed choice
    ("check bench.yaml --axle middle", "'middle' is not one of 'front', 'rear'"),
    ("check bench.yaml --format xml", "'xml' is not one of 'text', 'json'"),
    ("check bench.yaml --units cm", "'cm' is not one of 'mm', 'in'"),
    ("screen bench.yaml list.csv --format xml", "'xml' is not one of"),
    # the profile's name
    ("check nosuch.yaml", r"nosuch\.yaml: there is no such file"),
    ("check benhc.yaml", r'Did you mean "bench\.yaml"'),
    ("check wagonn", r'Did you mean "wagon"'),
    ("check folder.json", "folder"),
    # names in the profile
    ("check bench.yaml --axle rear", 'no axle "rear".*front'),
    ("check bench.yaml --build lowerd", 'no build "lowerd".*Did you mean "lowered"'),
    ("compare bench.yaml measured nobody", 'no build "nobody".*measured, lowered'),
    ("compare bench.yaml nobody measured", 'no build "nobody"'),
    ("screen bench.yaml list.csv --build nobody", 'no build "nobody"'),
    ("show bench.yaml --build nobody", 'no build "nobody"'),
    ("poses bench.yaml --build nobody", 'no build "nobody"'),
    # wheel and tire
    ("check bench.yaml --wheel 17x8", "17x8: the offset is missing"),
    ("check bench.yaml --wheel 18x8_ET0", "17 in rim.*18 in"),
    ("check bench.yaml --tire 225/45", "225/45"),
    ("check bench.yaml --tire 225/45R18", "18 in rim.*17 in"),
    ("tire 225/45R17 nonsense", "nonsense: this is not a tire code"),
    ("tire 22S/45R17", "22S/45R17"),
    ("tire 225/450R17", "aspect ratio"),
    ("tire 225/45R17_999W", "999"),
    ("tire 225/45R17 --rim wide", "'wide' is not a valid float"),
    ("tire 225/45R17 --rim 200", "3 to 18 in.*millimetres"),
    ("tire 225/45R17 --rim nan", "nan"),
    ("tire 225/45R17 --rim -8", "-8"),
    ("wheel 20x10", "offset is missing"),
    ("wheel 20x10_ET25_ET30", "offset stands twice"),
    ("wheel 20x10_ET25_6x11", "no unit.*6x11in or 6x11cm"),
    ("wheel 20x10_ET999", "999 mm.*it should be"),
    ("wheel 9x5_ET25", "the diameter is 10 to 30 in|diameter comes first"),
    ("wheel 20x10_ET25_BS_3in", "contradict"),
    ("wheel 225/45R17", "looks like a tire code"),
    # lengths and lists of numbers
    ("check bench.yaml --spacer thick", '--spacer: "thick"'),
    ("check bench.yaml --spacer -5", "--spacer: -5 mm.*0 to 150 mm"),
    ("check bench.yaml --spacer 5_kg", "--spacer.*kg.*unit of length"),
    ("check bench.yaml --spacer nan", "--spacer: nan"),
    ("check bench.yaml --spacer 1e9", "--spacer.*0 to 150 mm"),
    ("check bench.yaml --ride high", '--ride: "high" is not a ride height.*level, low'),
    ("check bench.yaml --ride 9999", "--ride: 9999 mm.*-500 to 500"),
    ("check bench.yaml --ride inf", "--ride.*inf"),
    ("check bench.yaml --loaded-radius 5", "--loaded-radius.*100 to 800 mm"),
    ("check bench.yaml --loaded-radius round", "--loaded-radius.*round"),
    ("poses steered.yaml --loaded-radius 5", "--loaded-radius.*100 to 800 mm"),
    ("poses steered.yaml --steer left", '--steer "left".*numbers'),
    ("poses steered.yaml --steer 1,,2", "--steer.*numbers"),
    ("poses steered.yaml --travel nan", "--travel.*finite"),
    ("poses steered.yaml --travel 1e300", "--travel"),
    ("poses steered.yaml --opposite nan", "--opposite.*finite"),
    ("poses steered.yaml --opposite 1e400", "--opposite.*finite"),
    ("poses steered.yaml --rack 5", "rack"),
    # where to write
    ("check bench.yaml --out x.txt", r"x\.txt.*\.png, \.svg, \.pdf, \.gif, \.mp4, \.json, \.csv"),
    ("check bench.yaml --out x", r"--out x: .*endings"),
    ("compare bench.yaml measured lowered --out x.csv", r"x\.csv.*\.png"),
    ("screen bench.yaml list.csv --out x.txt", r"x\.txt.*\.csv, \.json"),
    ("show bench.yaml --out x.csv", r"x\.csv.*\.png"),
    ("poses bench.yaml --out x.html", r"x\.html.*\.json, \.csv"),
    ("check bench.yaml --out nowhere/x.json", "there is no folder nowhere"),
    ("screen bench.yaml list.csv --out nowhere/x.csv", "there is no folder nowhere"),
    ("check bench.yaml --out folder.png", r"folder\.png is a folder"),
    ("check bench.yaml --out folder.json", r"folder\.json is a folder"),
    ("check bench.yaml --out folder.csv", r"folder\.csv is a folder"),
    ("compare bench.yaml measured lowered --out folder.png", r"folder\.png is a folder"),
    ("show bench.yaml --out folder.png", r"folder\.png is a folder"),
    ("poses bench.yaml --out folder.csv", r"folder\.csv is a folder"),
    ("screen bench.yaml list.csv --out folder.csv", r"folder\.csv is a folder"),
    # of what is given twice the last would count
    ("check bench.yaml --axle front --axle rear", "--axle is given more than once; give it once"),
    ("screen bench.yaml list.csv --axle front --axle rear", "--axle is given more than once"),
    ("check bench.yaml --tire 225/45R17 --wheel 17x8_ET0 --tire=235/45R17", "--tire is given more than once"),
    # the list
    ("screen bench.yaml nosuch.csv", r"nosuch\.csv"),
    ("screen bench.yaml folder.csv", r"folder\.csv"),
]


@pytest.mark.parametrize(("line", "words"), COMMAND_LINES, ids=[line for line, _ in COMMAND_LINES])
def test_command_line(folder: Path, line: str, words: str) -> None:
    # an underscore stands for a space within one argument
    refused_in(folder, words, *(word.replace("_", " ") for word in line.split()))


@pytest.mark.parametrize("empty", ["--wheel", "--tire", "--spacer", "--ride", "--loaded-radius", "--out", "--build"])
def test_empty_option(folder: Path, empty: str) -> None:
    """An empty text, such as an unset shell variable leaves, is never taken for 'not given'."""
    refused_in(folder, "empty|is not|no unit|no build|ending", "check", "bench.yaml", empty, "")


@pytest.mark.parametrize(("command", "words"), [("tire", "tire code is empty"), ("wheel", "wheel spec is empty")])
def test_empty_code(folder: Path, command: str, words: str) -> None:
    refused_in(folder, words, command, "")
    refused_in(folder, words, command, "   ")


def test_empty_profile_name_names_the_argument(folder: Path) -> None:
    refused_in(folder, "PROFILE|empty|no such file|folder", "check", "")


# ---------------------------------------------------------------- the profile

Change = Callable[[dict[str, Any]], object]


def front(data: dict[str, Any]) -> dict[str, Any]:
    return data["axles"]["front"]  # type: ignore[no-any-return]


PROFILES: list[tuple[str, Change, str]] = [
    ("inches as mm", lambda d: front(d).update(hub_face_width=62.2), r"hub_face_width.*62\.2 mm.*inches"),
    ("a radius for a width", lambda d: front(d).update(hub_face_width=750), "hub_face_width.*900 to 2600"),
    ("a mistyped key", lambda d: front(d).update(hub_heigth=310), 'unknown key "hub_heigth".*hub_height'),
    ("a missing key", lambda d: front(d).pop("travel"), "travel is missing"),
    ("a text for a number", lambda d: front(d).update(axle_load="heavy"), "axle_load.*heavy"),
    ("true for a number", lambda d: front(d).update(axle_load=True), "axle_load"),
    ("a null", lambda d: front(d).update(hub_height=None), "hub_height has no value"),
    ("a list for a map", lambda d: front(d).update(travel=[-50, 50]), r"travel.*map"),
    ("droop with the wrong sign", lambda d: front(d).update(travel={"droop": 50, "bump": 50}), "droop.*sign"),
    ("no suspension kind", lambda d: front(d).update(suspension={"camber": 0}), "kind is missing"),
    ("an unknown kind", lambda d: front(d).update(suspension={"kind": "tapes"}), r'"tapes".*tape'),
    ("an obstacle without a name", lambda d: front(d)["obstacles"][0].pop("name"), "name is missing"),
    ("two of one name", lambda d: front(d)["obstacles"][1].update(name="post"), '"post" is used twice'),
    ("an unknown shape", lambda d: front(d)["obstacles"][0].update(shape="cone"), '"cone".*edge'),
    ("a point of two numbers", lambda d: front(d)["obstacles"][0].update(points=[[0, 1], [0, 2]]), r"points\[0\]"),
    ("one point for an edge", lambda d: front(d)["obstacles"][0].update(points=[[0, 890, 0]]), "points"),
    ("an unknown carrier", lambda d: front(d)["obstacles"][0].update(fixed_to="trailing_arm"), '"trailing_arm"'),
    ("a panel that is a point", lambda d: front(d)["obstacles"].append(
        {"name": "flap", "shape": "panel", "rows": [[[0, 890, 9]] * 2] * 2}), "flap: .*no surface"),
    ("a panel that is a line", lambda d: front(d)["obstacles"].append({"name": "flap", "shape": "panel", "rows": [
        [[0, 890, 9], [0, 890, 19]], [[0, 890, 29], [0, 890, 39]]]}), "flap: .*no surface"),
    ("an edge once round the clock", lambda d: front(d)["obstacles"].append({"name": "lip", "shape": "edge", "points": [
        {"clock": 90, "radius": 400, "out": 10}, {"clock": 450, "radius": 400, "out": 10}]}), "clock"),
    ("an edge that is a point", lambda d: front(d)["obstacles"].append({"name": "lip", "shape": "edge", "points": [
        {"clock": 180, "radius": 400, "out": 10}, {"clock": -180, "radius": 400, "out": 10}]}), "lip: .*same place"),
    ("a rod that is a point", lambda d: front(d)["obstacles"].append({"name": "bar", "shape": "rod",
        "from": {"clock": 0, "radius": 400, "out": 10}, "to": [400, 760, 0]}), "bar: .*same place"),
    ("a negative radius", lambda d: front(d)["obstacles"][0].update(radius=-3), "radius.*sign"),
    ("a bolt circle in inches", lambda d: front(d)["hub"].update(bolt_circle="5x11.43"), "bolt_circle.*5x11.43cm"),
    ("a stud that is none", lambda d: front(d)["hub"].update(stud="12"), '"12" is not a stud thread'),
    ("an unknown baseline", lambda d: d.update(baseline="mesured"), 'baseline.*Did you mean "measured"'),
    ("no builds", lambda d: d.update(builds={}), "builds"),
    ("a build of no axle", lambda d: d["builds"]["measured"].update(rear={"ride": 0}), "no rear axle"),
    ("a ride of no name", lambda d: bench_setup(d).update(ride="flat"), r'ride.*"flat".*level, low'),
    ("a tire in the wheel", lambda d: bench_setup(d).update(wheel=TIRE["code"]), "tire code"),
    ("a setup on the axle", lambda d: front(d).update(wheel="17x8 ET0"), "belongs to a build"),
    ("another format", lambda d: d.update(format=2), "format 2 is not known"),
    ("a locked steering", lambda d: front(d).update(steer_limit=[[0, 1]]), "steer_limit without steering"),
    ("an axis upside down", lambda d: front(d).update(suspension={"kind": "tape", "steering_axis": {
        "lower": [0, 700, 150], "upper": [0, 700, -150]}}), "mixed up"),
    ("a gap no place gives", lambda d: front(d)["obstacles"][1].update(measured_gap={"to": "tire", "gap": 1}),
     r"bench\.yaml.*rail.*no place along y"),
]  # fmt: skip


@pytest.mark.parametrize(("change", "words"), [case[1:] for case in PROFILES], ids=[case[0] for case in PROFILES])
def test_profile(folder: Path, change: Change, words: str) -> None:
    data = vehicle()
    change(data)
    write_profile(folder, data)
    refused_in(folder, words, "check", "bench.yaml")


LINED = [case for case in PROFILES if case[0] not in ("a missing key", "no builds", "a gap no place gives")]


@pytest.mark.parametrize("change", [case[1] for case in LINED], ids=[case[0] for case in LINED])
def test_profile_message_names_file_line_and_key(folder: Path, change: Change) -> None:
    data = vehicle()
    change(data)
    write_profile(folder, data)
    said = run("check", "bench.yaml", cwd=folder).stderr
    found = re.match(r"Error: bench\.yaml:(\d+): ([a-z_]+(?:\.[\w ]+|\[\d+\])*): ", said)
    assert found, said
    # the line named is one on which the last word of the key path stands, or the first of what it holds
    line = (folder / "bench.yaml").read_text().splitlines()[int(found[1]) - 1]
    last = re.findall(r"[\w ]+", re.sub(r"\[\d+\]", "", found[2]))[-1]
    assert f'"{last}"' in line or found[2].endswith("]"), (line, said)


TEXTS: list[tuple[str, bytes, str]] = [
    ("empty", b"", "empty"),
    ("only a comment", b"# nothing\n", "empty"),
    ("a list", b"- 1\n- 2\n", "map is expected"),
    ("a picture", b"\x89PNG\r\n\x1a\n\x00\x00", "UTF-8|does not belong"),
    ("UTF-16", "format: 1\n".encode("utf-16"), "UTF-16"),
    ("a tab", b"format: 1\naxles:\n\tfront: {}\n", r":3: .*tab"),
    ("an open bracket", b"format: 1\nname: [a, b\nbaseline: x\n", "bracket|comma"),
    ("a key twice", b"format: 1\nname: a\nname: b\n", r':3: name: key "name" stands here and on line 2'),
    ("a tag", b"format: 1\nname: !!python/object/apply:os.system [true]\n", "tag .* is not read"),
    ("an infinite number", b"format: 1\nwheelbase: .inf\n", "not a finite number"),
    ("a number too large", b"format: 1\nwheelbase: 1e999\n", "too large"),
    ("an octal number", b"format: 0o1\n", "octal"),
    ("two documents", b"format: 1\n---\nformat: 1\n", "second document"),
    ("an alias bomb", b"a: &a [x, x, x, x, x, x, x, x, x, x]\n" + b"".join(
        b"%c: &%c [%s]\n" % (98 + i, 98 + i, b", ".join([b"*%c" % (97 + i)] * 10)) for i in range(9)),
     "alias"),
    ("an alias inside itself", b"a: &a [*a]\n", "inside its own anchor"),
    ("nested without end", b"[" * 5000, "nested deeper|nesting depth"),
    ("a merge key", b"format: 1\n<<: {name: x}\n", "<<"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "words"), [case[1:] for case in TEXTS], ids=[case[0] for case in TEXTS])
def test_profile_text(folder: Path, text: bytes, words: str) -> None:
    (folder / "bench.yaml").write_bytes(text)
    refused_in(folder, words, "check", "bench.yaml")


# ---------------------------------------------------------------- the list

LISTS: list[tuple[str, bytes, str]] = [
    ("empty", b"", "empty"),
    ("blank lines", b"\n\n", "empty"),
    ("no tire column", b"wheel,size\n", "no column tire.*wheel, size"),
    ("a mistyped column", b"wheeel,tire\n", 'no column wheel.*Did you mean "wheeel"'),
    ("no heading", b"17x8 ET0,225/45R17\n", "no column wheel.*first line"),
    ("a column twice", b"wheel,tire,tire\n", "column tire stands twice"),
    ("UTF-16 without its mark", "wheel,tire\n".encode("utf-16-le"), "no column wheel"),
    ("a picture", b"\x89PNG\r\n\x1a\n\x00\x00", "UTF-8"),
    ("a quote left open in the heading", b'wheel,"tire\n', "CSV"),
    ("an endless heading", b"wheel,tire," + b"x" * 20_000 + b"\n", "CSV"),
]


@pytest.mark.parametrize(("content", "words"), [case[1:] for case in LISTS], ids=[case[0] for case in LISTS])
def test_list(folder: Path, content: bytes, words: str) -> None:
    (folder / "list.csv").write_bytes(content)
    refused_in(folder, r"list\.csv.*" + f"(?:{words})", "screen", "bench.yaml", "list.csv", "--out", "ranked.csv")


# ---------------------------------------------------------------- what is read is never written over

READING = [
    ("check", "p.json"), ("compare", "p.json measured lowered"), ("show", "p.json"), ("poses", "p.json"),
    ("align", "p.json"), ("window", "p.json"), ("order", "p.json"), ("screen", "p.json list.csv"),
]  # fmt: skip


@pytest.mark.parametrize(("command", "arguments"), READING, ids=[command for command, _ in READING])
@pytest.mark.parametrize("out", ["p.json", "./p.json", "link.json"])
def test_a_profile_is_not_overwritten(folder: Path, command: str, arguments: str, out: str) -> None:
    """JSON is YAML, so a profile may end in .json; another name of the same file is the same file."""
    write_profile(folder, vehicle(), "p.json")
    (folder / "link.json").symlink_to(folder / "p.json")
    refused_in(folder, "is the profile itself", command, *arguments.split(), "--out", out)


@pytest.mark.parametrize("command", ["check"])
def test_settings_are_not_overwritten(folder: Path, command: str) -> None:
    (folder / "s.json").write_text('{"settings": [{"adjuster": "ball joint", "out_mm": 6}]}')
    refused_in(folder, "is the settings file itself", command, "bench.yaml", "--settings", "s.json", "--out", "s.json")


def test_a_page_is_not_overwritten_unless_it_is_named(folder: Path) -> None:
    (folder / "report.html").write_text("the page handed over last week")
    refused_in(folder, r"report\.html exists; give --out report\.html to replace it", "report", "bench.yaml")


# ---------------------------------------------------------------- whole or not at all


def test_two_pictures_are_both_written_or_none(folder: Path) -> None:
    """Two axles make two files; when the second cannot be written the first must not be left behind."""
    data = vehicle()
    data["axles"]["rear"] = data["axles"]["front"]
    for build in data["builds"].values():
        build["rear"] = build["front"]
    write_profile(folder, data)
    (folder / "sheet-rear.png").mkdir()
    refused_in(folder, r"sheet-rear\.png is a folder", "check", "bench.yaml", "--out", "sheet.png")


@pytest.mark.parametrize("out", ["x.json", "x.csv", "x.png"])
def test_write_protected_target_is_kept(folder: Path, out: str) -> None:
    """A file that its owner protected against writing is not replaced in silence."""
    (folder / out).write_text("keep me")
    (folder / out).chmod(0o444)
    refused_in(folder, f"{out}.*(?:written|protected)", "check", "bench.yaml", "--out", out)


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may write anywhere")
@pytest.mark.parametrize("out", ["closed/x.json", "closed/x.png"])
def test_folder_that_may_not_be_written(folder: Path, out: str) -> None:
    (folder / "closed").mkdir(mode=0o555)
    refused_in(folder, r"closed/x.*cannot be written", "check", "bench.yaml", "--out", out)


@pytest.mark.slow
@pytest.mark.parametrize("out", ["x.json", "x.csv", "x.png", "x.svg"])
def test_a_full_disk_leaves_nothing(folder: Path, monkeypatch: pytest.MonkeyPatch, out: str) -> None:
    def full(self: Path, target: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    refused_in(folder, f"{out} cannot be written: No space left", "check", "bench.yaml", "--out", out)


def test_an_old_file_survives_a_failed_run(folder: Path) -> None:
    (folder / "x.json").write_text("the last good answer")
    refused_in(folder, "offset is missing", "check", "bench.yaml", "--wheel", "17x8", "--out", "x.json")


# ---------------------------------------------------------------- as a process, and any text at all


@pytest.mark.parametrize(
    "arguments",
    [["check", "nosuch"], ["wheel", "\udcff\udcfe"], ["tire", "225/45R17\n", "\x00"[:0]], ["check", "a" * 5000]],
    ids=["no profile", "bytes that are no text", "a line break and an empty code", "a name too long for a file"],
)
def test_process_prints_one_message(tmp_path: Path, arguments: list[str]) -> None:
    """As a user runs it: what the interpreter itself might print would be seen here."""
    done = subprocess.run(
        [sys.executable, "-m", "fitment", *arguments], capture_output=True, cwd=tmp_path, check=False,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parent.parent)},
    )  # fmt: skip
    assert done.returncode == 2
    assert done.stdout == b""
    assert done.stderr.startswith(b"Error: ")
    assert b"Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []


CODES = st.one_of(
    st.text(max_size=40),
    st.text("0123456789/xXRrETJ+-. ()PLTCBSinm\"'", max_size=30),
    st.builds("{}/{}R{} {}{}".format, st.integers(0, 999), st.integers(0, 120), st.integers(0, 40),
              st.integers(0, 300), st.sampled_from("ABHVWYZ(Y)")),
    st.builds("{}x{} ET{} {}x{} CB{}".format, st.integers(0, 40), st.floats(0, 20), st.integers(-300, 300),
              st.integers(0, 12), st.floats(0, 400), st.floats(0, 300)),
)  # fmt: skip


@given(code=CODES, command=st.sampled_from(["tire", "wheel"]), form=st.sampled_from(["text", "json"]))
@settings(max_examples=400)
@example(code="-- ", command="tire", form="text")
@example(code="33x12.50R20LT", command="tire", form="json")
def test_any_text_is_read_or_refused(code: str, command: str, form: str) -> None:
    result = run(command, "--format", form, "--", code)
    if result.exit_code == 0:
        assert result.stderr == ""
        assert form == "text" or len(json.loads(result.stdout)) == 1
    else:
        assert_refused(result, ".")
