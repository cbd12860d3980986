"""A terminal's manners, in real pseudoterminals: width, colour, progress, Ctrl-C.

What a pipe is given, which knows no width, is the reference for what a terminal of any width is: the same words in the
same number, but for columns of which it is said that they are left out. Colours are held against WCAG 2.2 (contrast
ratio, 1.4.3 and 1.4.11) with the cube of xterm's 256 colours (256colres.pl of its source: 0, 95, 135, 175, 215, 255).
"""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import shlex
import signal
import struct
import subprocess
import sys
import termios
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest
from conftest import PATIENCE, vehicle, write_profile
from hypothesis import given
from hypothesis import strategies as st

import fitment
from fitment import terminal
from fitment.cli.progress_line import left_words, line_of, progress_shown
from fitment.progress import Stage, doing, steps, told_to
from fitment.report.common import table

ROOT = Path(__file__).parent.parent
PROFILES = ROOT / "profiles"
DRIVER = Path(__file__).parent / "terminal_driver.py"
MARK = "=====8<====="
WIDTHS = (60, 80, 120, 200)
COLOUR = re.compile(r"\x1b\[[0-9;]*m")
PROGRESS = re.compile(r"\r\x1b\[2K(?:[^\r\n]*(?=\r(?!\n)))?")
LEFT_OUT = re.compile(r"^ +Left out at \d+ columns: ((?:.|\n {2,})*?)\.$", re.MULTILINE)
LINES_A_ROW = re.compile(r"^ +\(\d+ lines a row at \d+ columns\)$", re.MULTILINE)
# the terminal becomes the one that keys of the new session come from (ioctl_tty(2)), then the command takes over
TAKE_TERMINAL = (
    "import fcntl, os, sys, termios; fcntl.ioctl(0, termios.TIOCSCTTY, 0); os.execv(sys.argv[1], sys.argv[1:])"
)
STEER_KEY = "steer in deg;"  # below the table, as long as that column is in it
UNITS = r"(?:mm|cm²|sq in|cm|in|deg|kg|lb|km/h|mph|%|N m|lb ft|km)"


@contextmanager
def in_pty(words: list[str], width: int = 80, cwd: Path = ROOT, **environment: str) -> Iterator[Any]:
    """A process whose terminal is so wide; its other end is `.terminal`. Nothing is left of it afterwards."""
    there, here = pty.openpty()
    fcntl.ioctl(here, termios.TIOCSWINSZ, struct.pack("HHHH", 40, width, 0, 0))
    known = {key: value for key, value in os.environ.items() if key not in ("COLUMNS", "LINES", "NO_COLOR")}
    known |= {"TERM": "xterm-256color", "PYTHONPATH": str(ROOT), **environment}
    process: Any = subprocess.Popen(
        [sys.executable, "-c", TAKE_TERMINAL, *words],
        stdin=here,
        stdout=here,
        stderr=here,
        cwd=cwd,
        env=known,
        start_new_session=True,
    )
    os.close(here)
    process.terminal = there
    try:
        yield process
    finally:
        process.kill()
        process.wait()
        os.close(there)


def shown(process: Any, until: str = "", at_most: float | None = None) -> str:
    """What the terminal shows until a text or the end of the process, or for so many seconds."""
    raw, end = b"", time.monotonic() + (at_most or PATIENCE)
    while time.monotonic() < end:
        if select.select([process.terminal], [], [], 0.2)[0]:
            try:
                raw += os.read(process.terminal, 65536)
            except OSError:  # the other end is closed
                break
            if until and until in raw.decode(errors="replace"):
                break
    else:
        assert at_most, raw.decode(errors="replace")
    return raw.decode(errors="replace").replace("\r\n", "\n")


def shown_at_ctrl_c(process: Any) -> str:
    """What the terminal shows from Ctrl-C at a question on, to the end of the process.

    What is typed just before the line is read waits for the next key, so it is typed until the process has heard it.
    """
    text, end = "", time.monotonic() + PATIENCE
    while "Stopped" not in text and process.poll() is None:
        assert time.monotonic() < end, text
        os.write(process.terminal, b"\x03")
        text += shown(process, "Stopped", at_most=2.0)
    return text + shown(process)


# ---------------------------------------------------------------- every text, at every width

TEXTS = [
    "check {} --build {new}",
    "check {} --build {new} --full --how-sure",
    "check {} --build {new} --axle front --changes --units in",
    "compare {} {old} {new}",
    "compare {} {old} {new} --full",
    "next {} --build {new}",
    "show {} --build {new}",
    "poses {}",
    "align {} --build {new}",
    "order {} --build {new}",
    "screen {} {list} --format text",
    "screen {} {list} --format text --group-by tire",
    "window {} --build {fits} --axle front --size 18x8.5 --size 19x8.5 --tire 235/40R19 --tire 225/45R18",
    "tire 305/45R20 305/70R17LT --units in",
    "wheel '20x10 ET25 6x139.7 CB78.1'",
    "wheel --from-chord 67.2 --lugs 5",
    "worksheet",
    "worksheet --first",
]
VEHICLES = {
    "wagon": {"old": "as_bought", "new": "wanted", "fits": "chosen", "list": "profiles/wagon_wheels.csv"},
    "coupe": {"old": "stock", "new": "stance", "fits": "stock", "list": "profiles/coupe_wheels.csv"},
}
ASKED = [
    pytest.param(vehicle, words, id=f"{vehicle}: {words}")
    for vehicle in VEHICLES
    for words in TEXTS
    if ("{}" in words and "--changes" not in words) or vehicle == "wagon"  # changes take long
]


def words_of(text: str) -> list[str]:
    """The words, one parted at a hyphen at a line's end put together."""
    return re.sub(r"(?<=\w)-\n +(?=\w)", "-", text).split()


def cells_of(plain: str, names: list[str]) -> Counter[str]:
    """What stands in columns of a plain table, flush right under its headings, by their right edges."""
    words: Counter[str] = Counter()
    lines = plain.splitlines()
    heads = [i for i, line in enumerate(lines) if all(f"  {name}" in line for name in names)]
    assert heads, names
    for i in heads:
        rows = [lines[i]]
        rows += [line for line in _until_blank(lines[i + 1 :]) if not re.match(r"  (?:#|- |caster is|at rest:)", line)]
        ends = [0, *(match.end() for match in re.finditer(r"\S+(?: \S+)*", lines[i]))]
        for name in names:
            end = next(e for e in ends[1:] if lines[i][:e].endswith(f"  {name}"))
            start = ends[ends.index(end) - 1]
            words.update(word for row in rows for word in row[start:end].split())
    return words


def _until_blank(lines: list[str]) -> list[str]:
    end = next((i for i, line in enumerate(lines) if not line), len(lines))
    return lines[:end]


def unbarred(text: str) -> str:
    """Without what is drawn in letters: bars of offsets take all the width, those of gaps go where it is little."""
    text = re.sub(r"(?:(?<=  )|(?<=^ {6}))(?:overlap|[#.]{7})(?=  +(?:below )?-?[\d.]+)", "", text, flags=re.MULTILINE)
    text = re.sub(r"# of [^;]*;", "", text)
    return "\n".join(line for line in text.splitlines() if not re.search(r"[#.]{8}|R\d+ +[#.]+$|^ +\|ET", line))


def parted(text: str) -> list[str]:
    """Line ends at which a number stands without its unit, or a whole number without its fraction."""
    pairs = zip(text.splitlines(), text.splitlines()[1:], strict=False)
    return [
        f"{line} / {after}"
        for line, after in pairs
        if re.search(r"\d$", line) and re.match(rf" *(?:{UNITS}|\d+/\d+ in)(?:[\s,;:.)]|$)", after)
    ]


@pytest.mark.slow
@pytest.mark.parametrize(("name", "asked"), ASKED)
def test_every_text_fits_every_width_and_loses_nothing_unsaid(name: str, asked: str, tmp_path: Path) -> None:
    words = shlex.split(asked.format(name, **VEHICLES[name]))
    with in_pty(
        [sys.executable, str(DRIVER), str(tmp_path / "plain"), ",".join(map(str, WIDTHS)), *words], cwd=ROOT
    ) as process:
        *texts, rest = PROGRESS.sub("", shown(process)).split(f"{MARK}\n")
        assert process.wait(PATIENCE) == 0, rest
    plain = (tmp_path / "plain").read_text()
    assert "\x1b" not in plain
    coloured, colourless = texts[: len(WIDTHS)], texts[len(WIDTHS) :]
    for width, raw in zip(WIDTHS, coloured, strict=True):
        text = COLOUR.sub("", raw)
        assert "\x1b" not in text
        assert [line for line in text.splitlines() if len(line) > width] == [], width
        assert parted(text) == [], width
        told, known = (
            Counter(words_of(unbarred(each))) for each in (LINES_A_ROW.sub("", LEFT_OUT.sub("", text)), plain)
        )
        assert told - known == Counter(), width
        missing = known - told
        for match in LEFT_OUT.finditer(text):
            names = " ".join(match[1].split()).split(", ")
            missing -= cells_of(plain, names)
            if "steer" in names and STEER_KEY in plain:
                missing -= Counter(STEER_KEY.split())
        assert missing == Counter(), width
    at_80 = COLOUR.sub("", coloured[WIDTHS.index(80)])
    assert colourless == [at_80, at_80]
    if words[0] == "check":
        assert COLOUR.search(coloured[0])


def test_a_pipe_is_given_no_colour_no_progress_and_no_width(tmp_path: Path) -> None:
    """COLUMNS, which a shell may export, has no say there."""
    path = write_profile(tmp_path, vehicle())
    environment = {**os.environ, "COLUMNS": "60", "TERM": "xterm-256color", "PYTHONPATH": str(ROOT)}
    environment.pop("NO_COLOR", None)
    done = subprocess.run(
        [sys.executable, "-m", "fitment", "check", path, "--full"], capture_output=True, check=False, env=environment
    )
    assert (done.stderr, b"\x1b" in done.stdout, b"\r" in done.stdout) == (b"", False, False)
    assert max(map(len, done.stdout.decode().splitlines())) > 90


def test_a_terminal_may_say_its_width_by_columns(tmp_path: Path) -> None:
    with in_pty([sys.executable, "-m", "fitment", "tire", "305/45R20"], width=150, COLUMNS="70") as process:
        text = COLOUR.sub("", shown(process))
        assert process.wait(PATIENCE) == 0
    assert 60 < max(map(len, text.splitlines())) <= 70


class _Terminal:
    def __init__(self, name: int) -> None:
        self._name = name

    def isatty(self) -> bool:
        return True

    def fileno(self) -> int:
        return self._name


@pytest.mark.parametrize(("there", "taken"), [(20, 60), (60, 60), (133, 133), (200, 200), (500, 200), (0, 80)])
def test_a_width_is_kept_between_60_and_200(there: int, taken: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """A terminal that does not know is taken for 80, as terminals were."""
    monkeypatch.delenv("COLUMNS", raising=False)
    outer, inner = pty.openpty()
    try:
        fcntl.ioctl(inner, termios.TIOCSWINSZ, struct.pack("HHHH", 40, there, 0, 0))
        stream: Any = _Terminal(inner)
        assert terminal.columns_of(stream) == taken
    finally:
        os.close(outer)
        os.close(inner)


# ---------------------------------------------------------------- lines and tables


@given(
    st.lists(
        st.tuples(
            st.integers(-2000, 2000), st.sampled_from(["mm", "deg", "in", "lb ft", "N m", "%", "kg", "cm²", "sq in"])
        )
    ),
    st.integers(24, 60),
    st.integers(0, 20),
)
def test_no_number_parts_from_its_unit(numbers: list[tuple[int, str]], width: int, shift: int) -> None:
    text = "x" * shift + " " + " and ".join(f"about {n:+d} {unit}, or 1 3/8 in," for n, unit in numbers)
    filled = terminal.filled(text, width)
    assert filled.split() == text.split()
    assert all(len(line) <= width for line in filled.splitlines())
    assert not re.search(r"\d\n", filled)
    assert not re.search(r"(?:lb|N)\n", filled)


@given(
    st.lists(
        st.tuples(
            *[st.text("abc 12", min_size=1, max_size=n).map(lambda text: text.strip() or "-") for n in (30, 9, 9, 40)]
        ),
        min_size=1,
        max_size=4,
    ),
    st.integers(60, 120),
    st.integers(0, 4),
)
def test_a_table_keeps_its_cells_at_any_width(rows: list[tuple[str, ...]], width: int, left: int) -> None:
    heading = ("what it is about", "one", "other", "words")
    with terminal.laid_out(width):
        text = table([heading, *rows], left=left)
    assert all(len(line) <= width for line in text.splitlines())
    told = Counter(LINES_A_ROW.sub("", text).split())
    assert told == Counter(" ".join(cell for row in (heading, *rows) for cell in row).split())


def test_a_table_says_which_columns_it_leaves_out() -> None:
    rows = [("name", "first", "second", "third"), ("a" * 40, "1.00 mm", "2.00 mm", "3.00 mm")]
    with terminal.laid_out(60):
        text = table(rows, least=("second", "first"))
    assert text.splitlines() == [
        f"  {'name':<40}    first    third",
        f"  {'a' * 40}  1.00 mm  3.00 mm",
        "  Left out at 60 columns: second.",
    ]
    assert "second" in table(rows, least=("second", "first"))  # where no terminal has a say


# ---------------------------------------------------------------- colour


@given(st.text())
def test_colours_change_no_letter(text: str) -> None:
    plain = terminal.printable(text)
    assert COLOUR.sub("", terminal.painted(plain)) == plain


def test_what_is_coloured() -> None:
    rows = [
        ("tire - fender lip", "-6.3 mm", "overlap"), ("tire - frame", "0.3 mm", "below required"), ("rod", "9.0 mm", "")
    ]  # fmt: skip
    text = "\n".join(
        ["TOUCHES  front", table([("", "clearance", ""), *rows]), "  not checked nuts: ask", "  it clears"]
    )
    painted = re.findall(r"\x1b\[(?:1;)?38;5;(\d+)m(.*?)\x1b\[0m", terminal.painted(text))
    red, amber, grey = "160", "130", "243"
    assert painted == [
        (red, "TOUCHES"), (red, "-6.3 mm"), (red, "overlap"), (amber, "0.3 mm"), (amber, "below required"),
        (grey, "not checked"),
    ]  # fmt: skip


def test_colours_read_on_dark_and_on_light() -> None:
    """At least 3.0 to 1 on black and on white: what WCAG asks of large text and of marks."""
    levels = (0, 95, 135, 175, 215, 255)

    def luminance(number: int) -> float:
        if number >= 232:
            rgb = [8 + 10 * (number - 232)] * 3
        else:
            rgb = [levels[(number - 16) // step % 6] for step in (36, 6, 1)]
        red, green, blue = (
            c / 12.92 if (c := value / 255) <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for value in rgb
        )
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    used = set(re.findall(r"38;5;(\d+)m", terminal.painted("CLEARS TIGHT TOUCHES NOT CHECKED")))
    assert len(used) == 4
    for number in map(int, used):
        assert 1.05 / (luminance(number) + 0.05) >= 3.0
        assert (luminance(number) + 0.05) / 0.05 >= 3.0


# ---------------------------------------------------------------- progress


def test_nobody_is_told_where_nobody_listens() -> None:
    assert list(steps("work", [1, 2, 3])) == [1, 2, 3]
    with doing("work"):
        pass


def test_stages_come_and_go_with_their_counts() -> None:
    told: list[tuple[str, int, int]] = []

    class Ear:
        def began(self, stage: Stage) -> None:
            told.append((stage.words, stage.done, stage.total))

        def ended(self, stage: Stage) -> None:
            told.append((stage.words, stage.done, stage.total))

    with told_to(Ear()):
        for number in steps("outer", [1, 2]):
            if number == 1:
                with doing("inner"):
                    pass
        assert next(steps("left", iter("abc"), 3)) == "a"
    assert told == [
        ("outer", 0, 2), ("inner", 0, 0), ("inner", 0, 0), ("outer", 2, 2), ("left", 0, 3), ("left", 0, 3),
    ]  # fmt: skip


def test_time_left_is_told_from_what_is_done_and_else_not_at_all() -> None:
    """Three of twelve steps in 30 s: nine more of 10 s; 5 s into the fourth 85 s are left."""
    stage = Stage("windows", 12, even=True, began=100.0, at=130.0, done=3)
    assert stage.left(135.0) == pytest.approx(85.0)
    assert line_of([stage], 135.0) == "windows 4 of 12 (about 85 s left) ..."
    for untold in (
        Stage("windows", 12, even=False, began=100.0, at=130.0, done=3),
        Stage("windows", 3, even=True, began=100.0, at=130.0, done=2),
        Stage("windows", 12, even=True, began=100.0, at=130.0, done=1),
    ):
        assert untold.left(135.0) is None
    assert [left_words(seconds) for seconds in (0.0, 7.4, 33.0, 150.0)] == [
        "about 1 s left", "about 7 s left", "about 35 s left", "about 2 min left",
    ]  # fmt: skip


@pytest.mark.skipif(not hasattr(signal, "setitimer"), reason="no timers here")
def test_no_timer_runs_where_nothing_is_done() -> None:
    """At a question its handler would run within the Ctrl-C that readline has just heard: SystemError, exit code 70."""
    with progress_shown(80):
        assert signal.getitimer(signal.ITIMER_REAL) == (0.0, 0.0)
        with doing("outer"):
            with doing("inner"):
                assert signal.getitimer(signal.ITIMER_REAL)[1] > 0
            assert signal.getitimer(signal.ITIMER_REAL)[1] > 0
        assert signal.getitimer(signal.ITIMER_REAL) == (0.0, 0.0)


@pytest.mark.slow
def test_progress_is_shown_and_leaves_no_trace(tmp_path: Path) -> None:
    """The terminal's lines are made as ECMA-48 has them: CR to the first column, CSI 2 K empties the line."""
    picture = tmp_path / "film.gif"
    words = ["check", "wagon", "--build", "wanted", "--axle", "front", "--out", str(picture)]
    with in_pty([sys.executable, "-m", "fitment", *words]) as process:
        text = shown(process)
        assert process.wait(PATIENCE) == 1
    counts = [int(k) for k in re.findall(r"drawing frames (\d+) of \d+", text)]
    assert len(counts) > 3
    assert counts == sorted(counts)
    assert "s left)" in text
    for line in text.split("\n"):
        left = re.split(r"\r\x1b\[2K", line)[-1]
        assert not left.rstrip().endswith(" ..."), line
    assert f"wrote {picture}" in re.sub(r"\n +", " ", text).replace("- ", "-")  # a long path may be folded


@pytest.mark.parametrize(
    ("ask", "stages"),
    [
        (
            lambda folder: fitment.check(str(folder / "bench.yaml"), "front"),
            ["reading the profile", "checking axle", "looking for what comes closest"],
        ),
        (
            lambda folder: fitment.screen(str(folder / "bench.yaml"), folder / "list.csv"),
            ["reading the profile", "reading the list", "reading rows, row", "what the parts sweep"],
        ),
    ],
    ids=["check", "screen"],
)
def test_whatever_may_take_long_is_told(ask: Any, stages: list[str], tmp_path: Path) -> None:
    told: list[str] = []

    class Hearer:
        def began(self, stage: Stage) -> None:
            told.append(stage.words)

        def ended(self, stage: Stage) -> None:
            pass

    write_profile(tmp_path, vehicle())
    (tmp_path / "list.csv").write_text("wheel,tire\n" + "17x8 ET0,225/45R17\n" * 20)
    with told_to(Hearer()):
        ask(tmp_path)
    assert [stage for stage in dict.fromkeys(told) if stage in stages] == stages


# ---------------------------------------------------------------- Ctrl-C


def members(group: int) -> list[int]:
    """Processes of a group that run, as /proc has them (proc(5): state, then parent, then group)."""
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                state, _, its = (entry / "stat").read_text().rpartition(")")[2].split()[:3]
            except OSError:  # it has ended meanwhile
                continue
            if int(its) == group and state != "Z":
                found.append(int(entry.name))
    return found


def busy(number: int) -> float:
    """Processor time that a process and those of its group have had [s]."""
    ticks = 0
    for each in {number, *members(number)}:
        with suppress(OSError):  # it has ended meanwhile
            fields = Path(f"/proc/{each}/stat").read_text().rpartition(")")[2].split()
            ticks += int(fields[11]) + int(fields[12])
    return ticks / os.sysconf("SC_CLK_TCK")


def wait_for(condition: Any, process: Any = None) -> None:
    """Until a condition holds. A process that ends before fails with what it said; nothing is left of one too slow."""
    end = time.monotonic() + PATIENCE
    while not condition():
        if process is not None and (process.poll() is not None or time.monotonic() > end):
            process.kill()
            pytest.fail(f"no longer to be waited for: {process.communicate()}")
        assert time.monotonic() < end
        time.sleep(0.02)


def long_list(folder: Path) -> str:
    """The wagon's list sixty times, each time with other offsets."""
    head, *rows = (PROFILES / "wagon_wheels.csv").read_text().splitlines()
    more = [re.sub(r"ET(\d+)", lambda m, k=k: f"ET{int(m[1]) + k / 10:.1f}", row) for k in range(60) for row in rows]
    path = folder / "long.csv"
    path.write_text("\n".join([head, *more]) + "\n")
    return str(path)


LONG = {
    "check": "check wagon --build wanted --changes --out picture.png",
    "compare": "compare wagon as_bought wanted --animate film.gif",
    "report": "report wagon --build wanted --out page.html",
    "window": "window wagon --build wanted --size 20x9 --size 20x9.5 --size 20x10 --tire 275/40R20 --tire 285/35R20 "
    "--tire 245/45R20 --tire 285/40R20 --tire 275/45R20 --out bars.png",
    "screen": "screen wagon {list} --out best.png",
}


@pytest.mark.slow
@pytest.mark.parametrize("whole_group", [True, False], ids=["the group", "the parent"])
@pytest.mark.parametrize("moment", ["early", "late"])
@pytest.mark.parametrize("command", LONG)
def test_ctrl_c_ends_all_of_it_in_one_line(command: str, moment: str, whole_group: bool, tmp_path: Path) -> None:
    """A terminal sends SIGINT to its whole group, `kill` to one process. 130: 128 + the signal's number."""
    words = LONG[command].format(list=long_list(tmp_path)).split()
    before = sorted(path.name for path in tmp_path.iterdir())
    temporary = tmp_path / "temporary"
    temporary.mkdir()
    process = subprocess.Popen(
        [sys.executable, "-m", "fitment", *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=tmp_path,
        start_new_session=True,
        env={**os.environ, "PYTHONPATH": str(ROOT), "TMPDIR": str(temporary), "FITMENT_CACHE": "off"},
    )  # fmt: skip
    if command == "screen" and moment == "late" and len(os.sched_getaffinity(0)) > 1:
        wait_for(lambda: len(members(process.pid)) > 1, process)  # its workers are there
    else:
        wait_for(lambda: busy(process.pid) > {"early": 0.6, "late": 3.0}[moment], process)
    stop = os.killpg if whole_group else os.kill
    stop(process.pid, signal.SIGINT)
    if moment == "early":  # a library that is being loaded may swallow the first one: a person presses it again
        try:
            process.wait(2)
        except subprocess.TimeoutExpired:
            stop(process.pid, signal.SIGINT)
    out, told = process.communicate(timeout=PATIENCE)
    assert (process.returncode, out) == (128 + signal.SIGINT, b"")
    assert re.fullmatch(r"Stopped\.[^\n]*\n", told.decode()), told.decode()
    assert members(process.pid) == []
    assert [path.name for path in temporary.iterdir()] == []
    assert sorted(path.name for path in tmp_path.iterdir() if path != temporary) == before


@pytest.mark.slow
def test_ctrl_c_typed_at_a_terminal(tmp_path: Path) -> None:
    """Byte 3 (ETX) is what the key sends; the line discipline makes the signal of it."""
    with in_pty([sys.executable, "-m", "fitment", *LONG["report"].split()], cwd=tmp_path) as process:
        text = shown(process, until=" ...")
        os.write(process.terminal, b"\x03")
        text += shown(process)
        assert process.wait(PATIENCE) == 130
        assert members(process.pid) == []
    assert re.split(r"\r\x1b\[2K", text)[-1] == "Stopped. No file was left unfinished.\n"
    assert list(tmp_path.iterdir()) == []


def test_ctrl_c_at_a_question_keeps_the_answers(tmp_path: Path) -> None:
    with in_pty([sys.executable, "-m", "fitment", "new", "my.yaml", "--first"], cwd=tmp_path) as process:
        text = shown(process, until=">")
        os.write(process.terminal, b"front\n")
        text += shown(process, until=">")
        text += shown_at_ctrl_c(process)
        assert process.wait(PATIENCE) == 130
    assert "Traceback" not in text
    assert re.search(r"Stopped\. Your answers are kept in my\.yaml\.answers\.", text)
    assert [path.name for path in tmp_path.iterdir()] == ["my.yaml.answers"]


def test_ctrl_c_twice_at_a_question_tells_of_the_answers_too(tmp_path: Path) -> None:
    """The second one comes while the first is being answered."""
    program = """
import os, signal
from fitment import __main__
from fitment.cli import measuring
say = measuring.echo
def interrupted(*_):
    raise KeyboardInterrupt
def echo(*words, **more):
    os.kill(os.getpid(), signal.SIGINT)
    for _ in range(1000): pass
    say(*words, **more)
measuring.questions, measuring.echo = interrupted, echo
__main__.main()
"""
    done = subprocess.run(
        [sys.executable, "-c", program, "new", "my.yaml"], capture_output=True, check=False, cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (130, b"Stopped. No answer is left open.\n")


# ---------------------------------------------------------------- completion and summaries


def offered(*words: str) -> list[str]:
    """What click's own script for bash is given for the last of the words."""
    environment = {
        **os.environ, "PYTHONPATH": str(ROOT), "COMP_WORDS": " ".join(("fitment", *words)),
        "COMP_CWORD": str(len(words)), "_FITMENT_COMPLETE": "bash_complete",
    }  # fmt: skip
    done = subprocess.run(
        [sys.executable, "-m", "fitment"], capture_output=True, text=True, check=True, env=environment, cwd=ROOT
    )
    assert done.stderr == ""
    return done.stdout.split()


@pytest.mark.parametrize(
    ("words", "names"),
    [
        (("check", "wag"), ["plain,wagon"]),
        (("check", "profiles/w"), ["plain,profiles/wagon.yaml"]),
        (("check", "wagon", "--build", "w"), ["plain,wanted"]),
        (("compare", "wagon", "as_bought", "b"), ["plain,big_brake"]),
        (("check", "wagon", "--axle", "r"), ["plain,rear"]),
        (("check", "coupe", "--axle", "f"), ["plain,front", "plain,front-left", "plain,front-right"]),
        (("check", "wagon", "--view", "cl"), ["plain,closest"]),
        (("check", "nosuch", "--build", "w"), []),
        (("screen", "wagon", "li"), ["file,li"]),
    ],
)
def test_a_shell_is_offered_what_fits(words: tuple[str, ...], names: list[str]) -> None:
    assert offered(*words) == names


def test_what_is_offered_for_pictures_is_what_there_is() -> None:
    from fitment.cli import completion
    from fitment.draw import layouts, named_views

    assert (*layouts.VIEWS, named_views.VEHICLE) == named_views.VIEWS == completion.VIEWS
    assert tuple(named_views.LAYOUTS) == completion.LAYOUTS


def test_the_line_in_the_readme_sets_completion_up() -> None:
    """bash itself takes what the line gives it."""
    (line,) = re.findall(r"^    (eval .*bash_source fitment\)\")", (ROOT / "README.md").read_text(), re.MULTILINE)
    command = line.replace("fitment)", f"{sys.executable} -m fitment)")
    done = subprocess.run(
        ["bash", "-c", f"{command}; complete -p fitment"], capture_output=True, text=True, check=False, cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "_fitment_completion" in done.stdout


def test_no_summary_is_cut() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "fitment", "--help"], capture_output=True, text=True, check=True, cwd=ROOT
    )
    listed = done.stdout.partition("Commands:")[2]
    assert "..." not in listed
    assert len(re.findall(r"^  [a-z]+ ", listed, re.MULTILINE)) >= 16
