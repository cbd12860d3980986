"""What a terminal, a spreadsheet and a shell are given: no control characters, no lost names, no code read as another.

A terminal acts on ESC and the other control characters (ECMA-48), a spreadsheet on a cell that begins with = + - @, and
a script on the exit code: 1 means "does not clear", so nothing else may end with it.
"""

from __future__ import annotations

import csv
import io
import json
import os
import signal
import subprocess
import sys
import unicodedata
from pathlib import Path

import pytest
from conftest import run, vehicle, write_profile
from hypothesis import given
from hypothesis import strategies as st

from fitment.terminal import cell, escaped, formulas, printable, within

ROOT = Path(__file__).parent.parent
WHEEL, TIRE = "17x8 ET0 5x114.3 CB67.1", "225/45R17"
ESC, CSI, OVERRIDE = "\x1b", "\x9b", "\u202e"  # escape, its 8-bit form, and a mark that turns the reading direction


def process(
    *arguments: str, cwd: Path, typed: bytes | None = None, **environment: str
) -> subprocess.CompletedProcess[bytes]:
    known = {**os.environ, "PYTHONPATH": str(ROOT), **environment}
    return subprocess.run(
        [sys.executable, "-m", "fitment", *arguments],
        capture_output=True, cwd=cwd, check=False, env=known, input=typed,
    )  # fmt: skip


def steers(text: str) -> list[str]:
    """Characters that steer a terminal: Unicode's control and format characters but the line break."""
    return [letter for letter in text if letter != "\n" and unicodedata.category(letter) in ("Cc", "Cf", "Zl", "Zp")]


def listed(folder: Path, *rows: str, head: str = "name,wheel,tire") -> str:
    path = folder / "list.csv"
    path.write_text("\n".join([head, *rows]) + "\n", newline="")
    return str(path)


# ---------------------------------------------------------------- names from others


@given(st.text())
def test_any_text_is_made_harmless_and_told_apart(text: str) -> None:
    told = printable(text)
    assert [letter for letter in steers(told) if letter not in "\u200c\u200d"] == []
    assert told.count("\n") == text.count("\n")
    assert "\n" not in cell(text)
    if text.isprintable():
        assert told == text


@given(st.text())
def test_json_stays_the_same_data_in_any_code_page(text: str) -> None:
    written = escaped(json.dumps([text], ensure_ascii=False))
    for encoding in ("ascii", "cp437", "utf-8"):
        assert json.loads(within(written, encoding)) == [text]
        within(written, encoding).encode(encoding)


@pytest.mark.parametrize("form", ["text", "json"])
def test_a_list_does_not_steer_the_terminal(tmp_path: Path, form: str) -> None:
    path = listed(
        tmp_path, f"A{ESC}[31mred,{WHEEL},{TIRE}", f"B{CSI}2J,{WHEEL},225/45R{ESC}[2J17", f"C{OVERRIDE}x,{WHEEL},{TIRE}"
    )
    done = run("screen", write_profile(tmp_path, vehicle()), path, "--format", form, "--group-by", "name")
    assert done.exit_code == 3
    assert steers(done.stdout + done.stderr) == []
    assert r"A\x1b[31mred" in done.stdout or json.loads(done.stdout)[0]["name"] == f"A{ESC}[31mred"


def test_a_line_break_in_a_cell_does_not_break_the_table(tmp_path: Path) -> None:
    path = listed(tmp_path, f'"two\nlines",{WHEEL},{TIRE}')
    text = run("screen", write_profile(tmp_path, vehicle()), path, "--format", "text").stdout
    assert any("two lines" in line and WHEEL in line for line in text.splitlines())


@pytest.mark.parametrize("letter", [ESC, CSI, OVERRIDE], ids=["escape", "8-bit", "direction"])
@pytest.mark.parametrize("place", ["name", "build", "ride", "obstacle", "key", "value"])
def test_a_profile_does_not_steer_the_terminal(tmp_path: Path, place: str, letter: str) -> None:
    """Refused or written out: names of vehicle, build, ride height and part, and what a refusal repeats."""
    data, word = vehicle(), f"x{letter}[31my"
    front = data["axles"]["front"]
    if place == "name":
        data["name"] = word
    elif place == "build":
        data["builds"][word] = data["builds"].pop("lowered")
    elif place == "ride":
        front["ride_heights"][word] = 5
    elif place == "obstacle":
        front["obstacles"][0]["name"] = word
    elif place == "key":
        front[word] = 1
    else:
        front["hub_height"] = word
    path = write_profile(tmp_path, data)
    for command in (
        ["check", path],
        ["check", path, "--full"],
        ["show", path],
        ["check", path, "--build", word],
        ["check", path, "--ride", word],
    ):
        done = run(*command)
        assert steers(done.stdout + done.stderr) == [], command


# ---------------------------------------------------------------- spreadsheets


def test_formulas_are_kept_in_a_csv_and_said(tmp_path: Path) -> None:
    cells = ["=1+1", "@SUM(A1)", "+cmd|x", "-2+3", "-5", "+12.5 mm", "-1e-3", "plain", "a=b"]  # four would be computed
    path = listed(tmp_path, *(f"{each},{WHEEL},{TIRE}" for each in cells))
    profile, out = write_profile(tmp_path, vehicle()), tmp_path / "out.csv"
    printed = run("screen", profile, path, "--format", "csv")
    written = run("screen", profile, path, "--format", "text", "--out", str(out))
    for text, said in ((printed.stdout, printed.stderr), (out.read_text(), written.stderr)):
        assert {row["name"] for row in csv.DictReader(io.StringIO(text))} == set(cells)
        assert "4 cells begin as a formula does" in said
    assert formulas('a,"x,=1",-80.000\n') == 0


def test_control_characters_are_kept_in_a_csv_and_said(tmp_path: Path) -> None:
    path = listed(tmp_path, f"A{ESC}[31m,{WHEEL},{TIRE}")
    done = run("screen", write_profile(tmp_path, vehicle()), path, "--format", "csv")
    assert next(csv.DictReader(io.StringIO(done.stdout)))["name"] == f"A{ESC}[31m"
    assert "the CSV keeps control characters" in done.stderr
    assert steers(done.stderr) == []


# ---------------------------------------------------------------- code pages


@pytest.mark.slow
@pytest.mark.parametrize("command", ["check", "show", "poses", "order", "compare"])
def test_a_name_that_the_code_page_lacks(tmp_path: Path, command: str) -> None:
    data = vehicle()
    data["name"] = "Zoë Żuk 日本"
    data["axles"]["front"]["obstacles"][0]["name"] = "日本 post"
    write_profile(tmp_path, data)
    builds = ["measured", "lowered"] if command == "compare" else []
    done = process(command, "bench.yaml", *builds, cwd=tmp_path, PYTHONIOENCODING="cp437")
    assert done.returncode == 0, done.stderr
    done.stdout.decode("cp437")
    if command in ("show", "order"):
        assert "Zoë \\u017buk \\u65e5\\u672c".encode("cp437") in done.stdout
    if command != "poses":
        assert b"cp437, the code page here, lacks some letters" in done.stderr


def test_json_is_whole_in_a_narrow_code_page(tmp_path: Path) -> None:
    data = vehicle()
    data["axles"]["front"]["obstacles"][0]["name"] = "日本 post"
    write_profile(tmp_path, data)
    done = process("check", "bench.yaml", "--format", "json", cwd=tmp_path, PYTHONIOENCODING="ascii")
    assert "日本 post" in {entry["obstacle"] for entry in json.loads(done.stdout)[0]["clearances"]}


def test_lines_that_are_not_in_the_terminals_code_page_are_refused_one_by_one(tmp_path: Path) -> None:
    """UTF-16 without its mark is another error of Python's than a letter that cannot be read."""
    for page, line in (("utf-16", b"Zoe\n"), ("ascii", b"Zo\xc3\xab\n")):
        done = process("new", "v.yaml", cwd=tmp_path, typed=line, PYTHONIOENCODING=page)
        assert done.returncode == 1, done.stderr
        assert b"not text in the code page" in done.stdout.replace(b"\0", b"")


# ---------------------------------------------------------------- exit codes that mean something else

FAULT = """
import sys
import fitment.report
def fault(*_, **__):
    raise ValueError("first line\\nsecond \\x1b[31m line")
fitment.report.tire_text = fault
sys.argv = ["fitment", "tire", "225/45R17"]
from fitment.__main__ import main
main()
"""


@pytest.mark.parametrize("asked", ["", "0", "1"])
def test_a_fault_of_the_program_has_its_own_code_and_one_line(tmp_path: Path, asked: str) -> None:
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "FITMENT_TRACEBACK": asked}
    done = subprocess.run(
        [sys.executable, "-c", FAULT], capture_output=True, text=True, cwd=tmp_path, check=False, env=environment
    )
    assert done.returncode == 70  # EX_SOFTWARE of sysexits.h: an internal software error
    assert done.stdout == ""
    last = done.stderr.splitlines()[-1]
    for word in (
        "Error: ",
        "a fault of fitment itself",
        "ValueError: first line",
        "codes.py, line",
        "FITMENT_TRACEBACK",
    ):
        assert word in last
    assert steers(last) == []
    assert ("Traceback" in done.stderr) == (asked == "1")
    assert asked == "1" or done.stderr.count("\n") == 1


def test_help_tells_the_codes() -> None:
    said = " ".join(run("--help").stdout.split())
    for word in ("70: a fault of the program", "FITMENT_TRACEBACK=1", "130", "141"):
        assert word in said


@pytest.mark.skipif(os.name != "posix", reason="signals and pipes of a POSIX shell")
def test_a_reader_that_leaves_and_an_interrupt_are_no_verdict(tmp_path: Path) -> None:
    """As shells have it: 128 + the signal's number."""
    data = vehicle()
    data["axles"]["front"]["obstacles"] = [  # enough for more than a pipe holds
        {"name": f"ball {i}", "shape": "ball", "at": [0, 890, 400 + i / 10]} for i in range(40)
    ]
    write_profile(tmp_path, data)
    words = [sys.executable, "-m", "fitment", "check", "bench.yaml", "--format", "json", "--geometry"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    command = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=tmp_path, env=environment)
    assert command.stdout is not None
    assert command.stderr is not None
    command.stdout.close()
    said = command.stderr.read()
    command.stderr.close()
    assert (command.wait(), said) == (128 + signal.SIGPIPE, b"")


def test_an_interrupt_is_no_verdict(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("fitment.api.load_profile", interrupted)
    done = run("check", write_profile(tmp_path, vehicle()))
    assert done.exit_code == 128 + signal.SIGINT
