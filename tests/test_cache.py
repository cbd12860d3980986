"""What is kept between runs: the same answers with it and without, and nothing that lies there can do harm.

Where the folder is: the XDG base directory specification (a relative or empty XDG_CACHE_HOME does not count, then
$HOME/.cache), Apple's ~/Library/Caches, Windows' %LOCALAPPDATA%.
"""

from __future__ import annotations

import io
import os
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import run, steered, vehicle, write_profile
from hypothesis import given, settings
from hypothesis import strategies as st

from fitment import cache
from fitment.checks.case import Ready, ready
from fitment.parts.obstacles import Obstacle
from fitment.profile import load_profile
from fitment.screening import keep_out
from fitment.screening.keep_out import KeepOut, keep_out_at
from fitment.screening.kept_sweeps import known_sweeps
from fitment.screening.swept_obstacle import SweepRequest, SweptObstacle

ROOT = Path(__file__).parent.parent
FEW = [  # parts that are swept in no time
    {"name": "stone", "shape": "ball", "radius": 10, "at": [0, 890, 100], "tolerance": 2},
    {"name": "rod", "shape": "rod", "radius": 5, "from": {"at": [0, 890, -80]}, "to": {"at": [20, 880, -60]}},
]
VEHICLES = sorted(path.stem for path in (ROOT / "profiles").glob("*.yaml"))


@pytest.fixture
def kept_in(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of what is kept."""
    monkeypatch.setenv("FITMENT_CACHE", str(tmp_path / "caches"))
    return tmp_path / "caches" / "fitment"


@pytest.fixture
def bench(tmp_path: Path) -> Ready:
    """A vehicle whose hub steers and moves up and down past two parts, its track and one of them with a tolerance."""
    data = steered(hub_face_width={"value": 1500, "tolerance": 2}, obstacles=FEW)
    return ready(load_profile(write_profile(tmp_path, data)), "front")


def no_sweep(*_: object) -> SweptObstacle:
    raise AssertionError("swept again")


def told(kept: KeepOut) -> list[tuple[object, ...]]:
    """All of a keep-out to the last bit, and how it lies in memory."""
    return [
        tuple(
            (value.dtype.str, value.shape, value.tobytes(), value.flags.c_contiguous)
            if isinstance(value := getattr(sweep, field.name), np.ndarray)
            else value
            for field in fields(sweep)
        )
        for sweep in kept.swept
    ]


def read_again(axle: Ready, ride: float = 0.0) -> KeepOut:
    """The keep-out of an axle of which every part is kept."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(keep_out, "sweep_obstacle", no_sweep)
        return keep_out_at(axle, ride)


# ---------------------------------------------------------------- the same answer


def test_what_was_swept_is_read_again_to_the_last_bit(bench: Ready, kept_in: Path) -> None:
    with cache.unused():
        plain = told(keep_out_at(bench, 0.0))
    assert not kept_in.exists()
    assert told(keep_out_at(bench, 0.0)) == plain
    assert told(read_again(bench)) == plain
    assert plain[0][5][1][1] == len(bench.variants) > 0  # readings move it


def test_who_does_not_ask_for_readings_is_served_too(bench: Ready, kept_in: Path) -> None:
    alone = replace(bench, variants=())
    with cache.unused():
        plain = told(keep_out_at(alone, 0.0))
    keep_out_at(bench, 0.0)
    assert told(read_again(alone)) == plain


@pytest.mark.slow
@pytest.mark.parametrize("name", VEHICLES)
def test_every_vehicle_is_read_again_to_the_last_bit(name: str, kept_in: Path) -> None:
    profile = load_profile(ROOT / "profiles" / f"{name}.yaml")
    for axle in profile.axle_names:
        prepared = ready(profile, axle)
        assert told(keep_out_at(prepared, 0.0)) == told(read_again(prepared))


@pytest.mark.slow
def test_commands_say_the_same_with_it_and_without(kept_in: Path, tmp_path: Path) -> None:
    room, page = tmp_path / "room.svg", tmp_path / "page.html"
    commands = [
        ["screen", "wagon", str(ROOT / "profiles" / "wagon_wheels.csv"), "--axle", "front", "--format", "csv"],
        ["window", "wagon", "--axle", "front", "--format", "json"],
        ["check", "wagon", "--axle", "front", "--view", "room", "--out", str(room)],
        ["report", "wagon", "--axle", "front", "--out", str(page)],
    ]
    for command in commands:
        answers = []
        for more in (["--no-cache"], [], []):
            said = run(*command, *more)
            files = [path.read_bytes() for path in (room, page) if path.exists()]
            answers.append((said.exit_code, said.stdout, files))
        assert answers[0] == answers[1] == answers[2], command
    assert any(kept_in.iterdir())


LENGTHS = st.floats(-400, 400).map(lambda x: round(x, 1))
PARTS = st.one_of(
    st.fixed_dictionaries({
        "shape": st.just("edge"), "radius": st.integers(0, 20), "smooth": st.booleans(),
        "points": st.lists(st.tuples(LENGTHS, st.integers(500, 950), LENGTHS), min_size=3, max_size=3, unique=True),
    }),
    st.fixed_dictionaries({
        "shape": st.just("ball"), "radius": st.integers(1, 40), "fixed_to": st.sampled_from(["body", "knuckle"]),
        "at": st.tuples(LENGTHS, st.integers(500, 950), LENGTHS), "tolerance": st.integers(0, 5),
    }),
)  # fmt: skip
TURNS = st.fixed_dictionaries({"lock_left": st.integers(5, 35), "lock_right": st.integers(5, 35)})


@pytest.mark.slow
@settings(max_examples=25)
@given(parts=st.lists(PARTS, min_size=1, max_size=2), steering=TURNS, bump=st.integers(20, 90))
def test_any_vehicle_is_read_again_to_the_last_bit(
    parts: list[dict[str, Any]], steering: dict[str, int], bump: int, tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.mktemp("any")
    named = [{"name": f"part {i}", **part} for i, part in enumerate(parts)]
    data = steered(obstacles=named, steering=steering, travel={"droop": -40, "bump": bump})
    prepared = ready(load_profile(write_profile(folder, data)), "front")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FITMENT_CACHE", str(folder))
        assert told(keep_out_at(prepared, 0.0)) == told(read_again(prepared))


# ---------------------------------------------------------------- what decides


def names(axle: Ready, travel: tuple[float, float] = (-50.0, 50.0)) -> list[str | None]:
    """Under which names the parts of an axle would be kept."""
    asked: list[str | None] = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(cache, "kept", lambda name, _: asked.append(name))
        known_sweeps(SweepRequest(axle.axle, travel, axle.variants), axle.axle.obstacles)
    return asked


def moved(part: Obstacle) -> Obstacle:
    (x, y, z), *rest = part.points
    return replace(part, points=((x, float(np.nextafter(y, 0.0)), z), *rest))


@pytest.mark.usefixtures("kept_in")
def test_whatever_changes_the_sweep_has_a_name_of_its_own(bench: Ready) -> None:
    plain, axle = names(bench), bench.axle
    stone, rod = axle.obstacles
    assert plain == names(bench)
    assert len(set(plain)) == 2
    one = names(replace(bench, axle=replace(axle, obstacles=(moved(stone), rod))))
    assert (one[0] != plain[0], one[1] == plain[1]) == (True, True)  # by its last bit; the other part stays known
    whole = [
        names(bench, (-50.0, 51.0)),
        names(replace(bench, axle=replace(axle, steer_limit=((0.0, 0.5),)))),
        names(replace(bench, axle=replace(axle, suspension=replace(axle.suspension, camber=0.1)))),
        names(replace(bench, variants=bench.variants[1:])),
        names(replace(bench, variants=())),
        names(replace(bench, variants=(replace(bench.variants[0], axle=axle), *bench.variants[1:]))),
    ]
    for other in whole:
        assert not set(other) & set(plain)


def test_a_changed_program_has_names_of_its_own(tmp_path: Path) -> None:
    """A copy of it, in which one letter of a comment changes."""
    shutil.copytree(ROOT / "fitment", tmp_path / "fitment", ignore=shutil.ignore_patterns("__pycache__"))
    code = "import fitment; print('read', flush=True); input(); from fitment import cache; print(cache.name_of(1))"
    words = [sys.executable, "-c", code]
    environment = {**os.environ, "FITMENT_CACHE": str(tmp_path), "PYTHONPATH": str(tmp_path)}

    def name() -> str:
        time.sleep(0.1)  # files that changed just before the start count as changed after it
        done = subprocess.run(
            words, input="\n", capture_output=True, text=True, check=True, cwd=tmp_path, env=environment
        )
        return done.stdout.removeprefix("read\n")

    first = name()
    assert len(first.strip()) == 40
    assert name() == first
    source = tmp_path / "fitment" / "clearance" / "trace.py"
    source.write_text(source.read_text() + "# a\n")
    second = name()
    assert len(second.strip()) == 40
    assert second != first
    source.write_text(source.read_text().replace("# a\n", "# b\n"))
    assert len({first, second, name()}) == 3
    with subprocess.Popen(
        words, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=tmp_path, env=environment
    ) as running:
        assert running.stdout is not None
        assert running.stdout.readline() == "read\n"
        source.write_text(source.read_text() + "# c\n")
        assert running.communicate("\n")[0] == "None\n"  # what runs is not what lies there


# ---------------------------------------------------------------- what lies there


def entry(arrays: list[Any], name: str) -> bytes:
    """An entry as the program would write it, of any arrays."""
    return cache._file(name, arrays)


def pickled(name: str) -> bytes:
    """An entry, known to be whole, that holds what would run code."""
    stream = io.BytesIO()
    np.save(stream, np.array([Bomb()], dtype=object), allow_pickle=True)
    body = stream.getvalue()
    return cache._head(name, body) + body


class Bomb:
    """Ends the process when it is unpickled."""

    def __reduce__(self) -> tuple[Callable[[int], None], tuple[int]]:
        return os._exit, (99,)


def header(name: str, text: str) -> bytes:
    """An entry whose arrays say of themselves what is not so."""
    words = text.encode().ljust(117) + b"\n"
    body = b"\x93NUMPY\x01\x00" + len(words).to_bytes(2, "little") + words
    return cache._head(name, body) + body


def arrays_of(path: Path) -> list[Any]:
    arrays = cache.kept(path.stem, 6)
    assert arrays is not None
    return arrays


def changed(index: int, make: Callable[[Any], Any]) -> Callable[[Path], bytes]:
    """An entry, known to be whole, of which one array is another."""

    def other(path: Path) -> bytes:
        arrays = arrays_of(path)
        arrays[index] = make(arrays[index])
        return entry(arrays, path.stem)

    return other


def flipped(path: Path) -> bytes:
    raw = bytearray(path.read_bytes())
    raw[len(raw) // 2] ^= 1
    return bytes(raw)


HUGE = "{'descr': '<f8', 'fortran_order': False, 'shape': (%d, 2), }"
ODD: dict[str, Callable[[Path], bytes]] = {
    "empty": lambda _: b"",
    "cut short": lambda path: path.read_bytes()[:-1],
    "longer": lambda path: path.read_bytes() + b"\0",
    "one bit": flipped,
    "noise": lambda _: np.random.default_rng(1).bytes(100_000),
    "of another name": lambda path: entry(arrays_of(path), "0" * 40),
    "code": lambda path: pickled(path.stem),
    "a zip": lambda path: cache._head(path.stem, b"PK\x03\x04") + b"PK\x03\x04",
    "more than there is": lambda path: header(path.stem, HUGE % 10**6),
    "more than any memory": lambda path: header(path.stem, HUGE % 10**17),
    "no header": lambda path: header(path.stem, "{" * 100),
    "fewer arrays": lambda path: entry(arrays_of(path)[:3], path.stem),
    "more arrays": lambda path: entry([*arrays_of(path), np.zeros(1)], path.stem),
    "points far away": changed(0, lambda plane: plane + 1e6),
    "no numbers": changed(0, lambda plane: plane * np.nan),
    "negative radii": changed(0, lambda plane: -abs(plane)),
    "other kinds of number": changed(0, lambda plane: plane.astype(np.float32)),
    "one point less": changed(0, lambda plane: plane[1:]),
    "a number for a list": changed(0, lambda _: np.array(1.0)),
    "poses out of reach": changed(1, lambda at: at + 1000),
    "families that are not there": changed(2, lambda family: family + 7),
    "readings that are not there": changed(3, lambda moved: np.pad(moved, [(0, 0), (0, 1), (0, 0)])),
    "endless effects": changed(3, lambda moved: moved + np.inf),
    "thinner than nothing": changed(4, lambda thicker: thicker - 10),
    "few cells": changed(5, lambda swept: swept[:-1]),
}


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Ready, list[tuple[object, ...]], Path]]:
    """An axle with what it sweeps, and a folder in which that is kept."""
    folder = tmp_path_factory.mktemp("filled")
    data = vehicle(obstacles=FEW[:1])
    prepared = ready(load_profile(write_profile(folder, data)), "front")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("FITMENT_CACHE", str(folder))
        kept = told(keep_out_at(prepared, 0.0))
        yield prepared, kept, folder / "fitment"


@pytest.mark.parametrize("kind", ODD)
def test_an_odd_entry_counts_as_none_and_is_written_again(
    kind: str, filled: tuple[Ready, list[tuple[object, ...]], Path], capfd: pytest.CaptureFixture[str]
) -> None:
    prepared, plain, folder = filled
    entries = sorted(folder.iterdir())
    sound = [path.read_bytes() for path in entries]
    assert len(entries) >= 1
    for path in entries:
        path.write_bytes(ODD[kind](path))
    assert told(keep_out_at(prepared, 0.0)) == plain
    assert [path.read_bytes() for path in entries] == sound
    assert told(read_again(prepared)) == plain
    assert capfd.readouterr() == ("", "")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
@pytest.mark.parametrize("kind", ["pipe", "link", "endless", "folder", "sealed", "large"])
def test_what_is_no_file_is_not_read(
    kind: str, filled: tuple[Ready, list[tuple[object, ...]], Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    prepared, plain, there = filled
    folder = tmp_path / "fitment"
    shutil.copytree(there, folder)
    monkeypatch.setenv("FITMENT_CACHE", str(tmp_path))
    outside = tmp_path / "outside"
    outside.write_bytes(b"mine")
    for path in list(folder.iterdir()):
        path.unlink()
        if kind == "pipe":
            os.mkfifo(path)
        elif kind in ("link", "endless"):
            path.symlink_to(outside if kind == "link" else Path("/dev/zero"))
        elif kind == "folder":
            (path / "in it").mkdir(parents=True)
        elif kind == "sealed":
            path.touch(0o000)
        else:
            with path.open("wb") as stream:
                stream.truncate(10 * cache.LARGEST)
    assert told(keep_out_at(prepared, 0.0)) == plain
    assert outside.read_bytes() == b"mine"
    assert not list(folder.glob("*.tmp"))
    if kind != "folder":
        assert told(read_again(prepared)) == plain


# ---------------------------------------------------------------- where


@pytest.mark.parametrize(
    ("system", "told_here", "folder"),
    [
        ("linux", {"XDG_CACHE_HOME": "/x/y"}, "/x/y/fitment"),
        ("linux", {"XDG_CACHE_HOME": "x/y"}, "/home/me/.cache/fitment"),
        ("linux", {"XDG_CACHE_HOME": ""}, "/home/me/.cache/fitment"),
        ("linux", {}, "/home/me/.cache/fitment"),
        ("darwin", {"XDG_CACHE_HOME": "/x/y"}, "/home/me/Library/Caches/fitment"),
        ("win32", {"LOCALAPPDATA": "/x/y"}, "/x/y/fitment"),
        ("win32", {}, "/home/me/AppData/Local/fitment"),
        ("linux", {"FITMENT_CACHE": "/z"}, "/z/fitment"),
        ("linux", {"FITMENT_CACHE": "off"}, None),
        ("linux", {"FITMENT_CACHE": "OFF "}, None),
        ("linux", {"FITMENT_CACHE": "here"}, None),
        ("linux", {"HOME": "nowhere"}, None),
    ],
)
def test_the_folder_is_where_the_system_has_caches(
    system: str, told_here: dict[str, str], folder: str | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("FITMENT_CACHE", "XDG_CACHE_HOME", "LOCALAPPDATA"):
        monkeypatch.delenv(name, raising=False)
    for name, value in ({"HOME": "/home/me"} | told_here).items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(sys, "platform", system)
    found = cache._folder()
    assert found == (None if folder is None else Path(folder))


def test_without_a_home_nothing_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_home() -> Path:
        raise RuntimeError("Could not determine home directory.")

    for name in ("FITMENT_CACHE", "XDG_CACHE_HOME"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setattr(Path, "home", no_home)
    assert cache.name_of(1) is None
    cache.keep({"0" * 40: [np.zeros(1)]})
    assert cache.kept("0" * 40, 1) is None


def test_the_help_names_the_folder(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("FITMENT_CACHE", raising=False)
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    folder = str(cache._folder()).replace(str(Path.home()), "~")
    for command in ("check", "compare", "report", "screen", "window"):
        assert folder in "".join(run(command, "--help").stdout.split())


NAME = "ab" * 20


def test_a_folder_that_others_may_write_in_is_left_alone(kept_in: Path) -> None:
    cache.keep({NAME: [np.arange(3.0)]})
    assert cache.kept(NAME, 1) is not None
    assert kept_in.stat().st_mode & 0o777 == 0o700
    kept_in.chmod(0o777)
    assert cache.kept(NAME, 1) is None
    cache.keep({"cd" * 20: [np.arange(3.0)]})
    assert [path.name for path in kept_in.iterdir()] == [f"{NAME}.npy"]


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="no owners here")
def test_nothing_is_made_among_what_belongs_to_another(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As when sudo leaves HOME as it was."""
    own = os.geteuid()
    monkeypatch.delenv("FITMENT_CACHE", raising=False)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "caches"))
    monkeypatch.setattr(os, "geteuid", lambda: own + 1)
    cache.keep({NAME: [np.arange(3.0)]})
    assert not (tmp_path / "caches").exists()
    monkeypatch.setattr(os, "geteuid", lambda: own)
    cache.keep({NAME: [np.arange(3.0)]})
    monkeypatch.setattr(os, "geteuid", lambda: own + 1)
    assert cache.kept(NAME, 1) is None


def test_a_file_in_the_place_of_the_folder_is_left_alone(kept_in: Path) -> None:
    kept_in.parent.mkdir()
    kept_in.write_text("mine")
    cache.keep({NAME: [np.arange(3.0)]})
    assert cache.kept(NAME, 1) is None
    assert kept_in.read_text() == "mine"


@pytest.mark.parametrize("fault", ["full", "read-only", "deleted"])
def test_what_cannot_be_written_is_not_kept(fault: str, kept_in: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cache.keep({"cd" * 20: [np.arange(3.0)]})

    def refuse(self: Path, *_: object) -> None:
        if fault == "deleted":
            shutil.rmtree(kept_in, ignore_errors=True)
        raise OSError({"full": 28, "read-only": 30, "deleted": 2}[fault], "no")

    monkeypatch.setattr(Path, "replace", refuse)
    cache.keep({NAME: [np.arange(3.0)]})
    assert cache.kept(NAME, 1) is None
    assert not kept_in.exists() or [path.name for path in kept_in.iterdir()] == [f"{'cd' * 20}.npy"]


@pytest.mark.skipif(sys.platform == "win32", reason="no such limits there")
def test_a_command_on_a_full_disk_says_what_it_says_otherwise(tmp_path: Path) -> None:
    """No file may be longer than 200 bytes: writing is refused in the middle, as on a full disk."""
    profile = write_profile(tmp_path, vehicle(obstacles=FEW))
    limit = "import resource, signal; resource.setrlimit(resource.RLIMIT_FSIZE, (200, 200)); "
    code = "import sys; from fitment.__main__ import main; main()"
    said = []
    for folder, before in (("off", ""), (str(tmp_path / "caches"), limit)):
        done = subprocess.run(
            [sys.executable, "-c", before + code, "window", profile, "--axle", "front"],
            capture_output=True, text=True, check=False, env={**os.environ, "FITMENT_CACHE": folder},
            cwd=ROOT,
        )  # fmt: skip
        said.append((done.returncode, done.stdout, done.stderr))
    assert said[0] == said[1]
    assert said[0][0] == 0
    assert list((tmp_path / "caches" / "fitment").iterdir()) == []


# ---------------------------------------------------------------- how much, and when not


def test_what_was_used_longest_ago_goes_first(kept_in: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    hour = 3600
    for i in range(6):
        cache.keep({f"{i:040x}": [np.zeros(10_000, np.uint8)]})
        os.utime(kept_in / f"{i:040x}.npy", (hour * i, hour * i))
    for name in ("mine.npy", "notes.txt", f"{NAME}.{'0' * 16}.tmp"):
        (kept_in / name).write_bytes(bytes(50_000))
        os.utime(kept_in / name, (0, 0))
    (kept_in / f"{NAME}.{'1' * 16}.tmp").touch()  # written by another process just now
    assert cache.kept(f"{0:040x}", 1) is not None  # used again
    monkeypatch.setattr(cache, "MOST", 45_000)
    cache.keep({NAME: [np.zeros(10_000, np.uint8)]})
    left = {path.name for path in kept_in.iterdir()}
    own = {f"{name}.npy" for name in (f"{0:040x}", f"{4:040x}", f"{5:040x}", NAME)}
    assert left == own | {"mine.npy", "notes.txt", f"{NAME}.{'1' * 16}.tmp"}


def test_an_entry_that_is_too_large_is_not_kept(kept_in: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cache, "LARGEST", 1000)
    cache.keep({NAME: [np.zeros(1000)], "cd" * 20: [np.zeros(10)]})
    assert [path.name for path in kept_in.iterdir()] == [f"{'cd' * 20}.npy"]


@pytest.mark.usefixtures("kept_in")
def test_several_at_once_read_a_whole_entry_or_none() -> None:
    values = [np.full(50_000, float(i)) for i in range(4)]
    cache.keep({NAME: [values[0]]})
    stop, wrong = time.monotonic() + 1.0, []

    def write(array: Any) -> None:
        while time.monotonic() < stop:
            cache.keep({NAME: [array]})

    def read() -> None:
        while time.monotonic() < stop:
            arrays = cache.kept(NAME, 1)
            if arrays is None or len(set(arrays[0].tolist())) != 1 or len(arrays[0]) != 50_000:
                wrong.append(arrays)

    hands = [threading.Thread(target=write, args=(value,)) for value in values]
    hands += [threading.Thread(target=read) for _ in range(3)]
    for hand in hands:
        hand.start()
    for hand in hands:
        hand.join()
    assert wrong == []


def test_no_cache_neither_reads_nor_writes(kept_in: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    profile, listed = write_profile(tmp_path, vehicle(obstacles=FEW)), tmp_path / "list.csv"
    listed.write_text("wheel,tire\n17x8 ET0 5x114.3 CB67.1,225/45R17 94W XL\n")
    commands = [
        ["screen", profile, str(listed)],
        ["window", profile],
        ["check", profile, "--view", "room", "--out", str(tmp_path / "room.svg")],
        ["compare", profile, "measured", "lowered", "--view", "room", "--out", str(tmp_path / "rooms.svg")],
        ["report", profile, "--out", str(tmp_path / "page.html")],
    ]
    for command in commands:
        assert run(*command, "--no-cache").exit_code in (0, 1), command
        assert not kept_in.exists(), command
    for command in commands[:2]:
        assert run(*command).exit_code in (0, 1)
        assert any(kept_in.iterdir()), command
    monkeypatch.setattr(keep_out, "sweep_obstacle", no_sweep)
    assert run(*commands[1]).exit_code in (0, 1)
    with pytest.raises(AssertionError, match="swept again"):
        run(*commands[1], "--no-cache")


def test_values_without_a_name_are_not_kept(kept_in: Path) -> None:
    assert cache.name_of(1, "a", (2.0, None)) is not None
    assert cache.name_of(np.zeros(3)) is None
    assert cache.name_of(1) != cache.name_of(1.0) != cache.name_of("1.0")
    assert cache.name_of(("a", "b")) != cache.name_of("a", "b") != cache.name_of("ab")
    assert not kept_in.exists()
