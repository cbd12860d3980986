"""Every file comes whole or not at all, where the name leads, with the rights that were there.

What is expected is what POSIX says of rename, fsync, links, pipes and rights (stat, chmod), and what the system tells
of a file afterwards; none of it is taken from the program.
"""

from __future__ import annotations

import json
import os
import signal
import stat
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from conftest import run

from fitment.errors import FitmentError
from fitment.files import check_place, held, write_whole

ROOT = Path(__file__).resolve().parents[1]
ENV = {**os.environ, "PYTHONPATH": str(ROOT)}


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def fitment(*words: str, shell: str = "", cwd: Path) -> subprocess.CompletedProcess[bytes]:
    """The command in a process of its own; shell : redirections behind it."""
    line = " ".join([sys.executable, "-m", "fitment", *words, shell])
    return subprocess.run(["bash", "-c", line], capture_output=True, check=False, cwd=cwd, env=ENV)


# ---------------------------------------------------------------- in place of what is there


def test_a_link_is_followed_and_stays_one(tmp_path: Path) -> None:
    (tmp_path / "real.json").write_text("old")
    (tmp_path / "near.json").symlink_to("real.json")
    (tmp_path / "far.json").symlink_to(tmp_path / "near.json")
    write_whole(tmp_path / "far.json", b"new")
    assert (tmp_path / "far.json").is_symlink()
    assert (tmp_path / "near.json").is_symlink()
    assert (tmp_path / "real.json").read_bytes() == b"new"
    assert names(tmp_path) == ["far.json", "near.json", "real.json"]


def test_a_link_to_nothing_makes_what_it_leads_to(tmp_path: Path) -> None:
    (tmp_path / "link.json").symlink_to("real.json")
    write_whole(tmp_path / "link.json", b"new")
    assert (tmp_path / "real.json").read_bytes() == b"new"
    assert (tmp_path / "link.json").is_symlink()


def test_links_in_a_circle_are_refused(tmp_path: Path) -> None:
    (tmp_path / "a.json").symlink_to("b.json")
    (tmp_path / "b.json").symlink_to("a.json")
    with pytest.raises(FitmentError, match=r"a\.json cannot be written: .*links"):
        write_whole(tmp_path / "a.json", b"new")


@pytest.mark.parametrize("rights", [0o600, 0o640, 0o664])
def test_what_is_there_keeps_its_rights(rights: int, tmp_path: Path) -> None:
    place = tmp_path / "x.json"
    place.write_text("old")
    place.chmod(rights)
    write_whole(place, b"new")
    assert stat.S_IMODE(place.stat().st_mode) == rights
    assert place.read_bytes() == b"new"


@pytest.mark.skipif(os.geteuid() != 0, reason="only the superuser gives files away")
def test_what_is_there_keeps_its_owner(tmp_path: Path) -> None:
    place = tmp_path / "x.json"
    place.write_text("old")
    os.chown(place, 12345, 23456)
    write_whole(place, b"new")
    assert (place.stat().st_uid, place.stat().st_gid) == (12345, 23456)


def test_a_pipe_is_written_to(tmp_path: Path) -> None:
    pipe = tmp_path / "x.csv"
    os.mkfifo(pipe)
    read: list[bytes] = []
    reader = threading.Thread(target=lambda: read.append(pipe.read_bytes()))
    reader.start()
    write_whole(pipe, b"rows\n")
    reader.join(30)
    assert read == [b"rows\n"]
    assert stat.S_ISFIFO(pipe.stat().st_mode)
    assert names(tmp_path) == ["x.csv"]


@pytest.mark.parametrize("shell", ["| cat", "> said; cat said", ">> said; cat said"])
def test_where_stdout_goes_is_written_to(shell: str, tmp_path: Path) -> None:
    """A name that leads to /dev/stdout: the JSON first, then the text that is printed after it."""
    (tmp_path / "x.json").symlink_to("/dev/stdout")
    done = fitment("show", "wagon", "--axle", "front", "--out", "x.json", shell=shell, cwd=tmp_path)
    data, end = json.JSONDecoder().raw_decode(done.stdout.decode())
    assert data["axle"] == "front"
    assert "front" in done.stdout.decode()[end:]
    assert (tmp_path / "x.json").is_symlink()


# ---------------------------------------------------------------- whole, and on the disk


def test_it_is_on_the_disk_before_it_is_in_its_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A power cut then loses nothing: the content is flushed, then the name is given, then the folder is flushed."""
    done: list[str] = []
    sync, rename = os.fsync, Path.replace

    def synced(number: int) -> None:
        done.append("folder" if stat.S_ISDIR(os.fstat(number).st_mode) else f"{os.fstat(number).st_size} bytes")
        sync(number)

    def renamed(self: Path, target: Path) -> Path:
        done.append("name")
        return rename(self, target)

    monkeypatch.setattr(os, "fsync", synced)
    monkeypatch.setattr(Path, "replace", renamed)
    write_whole(tmp_path / "my.yaml.answers", b"answers")
    assert done == ["7 bytes", "name", "folder"]


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
@pytest.mark.parametrize("moment", ["fsync", "replace"])
def test_a_signal_while_a_file_is_written_leaves_no_litter(moment: str, number: int, tmp_path: Path) -> None:
    """It comes after the bytes and before the name, or right behind the name; 128 + number tells of it."""
    program = f"""
import os, signal, sys
from pathlib import Path
from fitment import __main__, cli, files
true = {{"fsync": os.fsync, "replace": Path.replace}}["{moment}"]
def during(*words):
    os.kill(os.getpid(), {int(number)})
    for _ in range(1000): pass
    return true(*words)
setattr({{"fsync": os, "replace": Path}}["{moment}"], "{moment}", during)
sys.argv = ["fitment", "worksheet", "--first", "--out", "x.pdf"]
__main__.main()
"""
    (tmp_path / "x.pdf").write_bytes(b"old")
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, check=False, cwd=tmp_path, env=ENV)
    assert done.returncode == 128 + number, done.stderr
    assert done.stderr == b"Stopped. No file was left unfinished.\n"
    assert names(tmp_path) == ["x.pdf"]
    assert (tmp_path / "x.pdf").read_bytes() == b"old" or (tmp_path / "x.pdf").read_bytes().startswith(b"%PDF")


# ---------------------------------------------------------------- refused before the work


@pytest.mark.parametrize(
    "words",
    [
        "check wagon --out {}.json",
        "check wagon --out {}.png",
        "check wagon --animate {}.gif",
        "screen wagon list.csv --out {}.csv",
        "report wagon --out {}.html",
        "window wagon --out {}.png",
        "order wagon --out {}.pdf",
        "poses wagon --out {}.csv",
        "worksheet --out {}.pdf",
        "new {}.yaml",
    ],
)
def test_a_long_name_is_refused_before_the_work(words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """255 bytes are the limit of the usual file systems (NAME_MAX)."""
    monkeypatch.setattr("fitment.api._read", lambda _: pytest.fail("the work was begun"))
    monkeypatch.chdir(tmp_path)
    refused = run(*words.format("x" * 300).split())
    assert refused.exit_code == 2
    assert "too long" in refused.stderr
    assert names(tmp_path) == []


def test_the_longest_name_is_taken(tmp_path: Path) -> None:
    longest = os.pathconf(tmp_path, "PC_NAME_MAX")
    write_whole(tmp_path / ("x" * longest), b"new")
    assert [len(name) for name in names(tmp_path)] == [longest]


def test_a_name_that_an_axle_makes_too_long_is_refused_before_the_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two axles make x-front.png and x-rear.png of x.png."""
    monkeypatch.setattr("fitment.api._read", lambda _: pytest.fail("the work was begun"))
    monkeypatch.chdir(tmp_path)
    refused = run("check", "wagon", "--out", "x" * (os.pathconf(tmp_path, "PC_NAME_MAX") - 4) + ".png")
    assert refused.exit_code == 2
    assert "too long" in refused.stderr


def test_a_folder_that_takes_nothing_is_refused_before_the_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As access(2) answers on a read-only disk, where the superuser is refused too."""
    monkeypatch.setattr(os, "access", lambda *_: False)
    with pytest.raises(FitmentError, match=r"x\.json cannot be written"):
        check_place(tmp_path / "x.json")


# ---------------------------------------------------------------- what is printed


FULL = pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")


@FULL
@pytest.mark.parametrize("words", ["tire 305/45R20", "schema", "--help", "check --help", "--version"])
def test_a_full_disk_behind_stdout_is_one_line(words: str, tmp_path: Path) -> None:
    done = fitment(*words.split(), shell="> /dev/full", cwd=tmp_path)
    assert done.returncode == 2
    assert done.stderr.startswith(b"Error: ")
    assert b"No space left" in done.stderr
    assert done.stderr.count(b"\n") == 1


@FULL
@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_a_full_disk_behind_stderr_changes_no_exit_code(
    unbuffered: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Python's own buffers may hold what was not taken until it ends, and end it with 120."""
    monkeypatch.setenv("PYTHONUNBUFFERED", unbuffered)
    assert fitment("tire", "3", shell="2> /dev/full", cwd=tmp_path).returncode == 2


@pytest.mark.parametrize("closed", [">&-", "2>&-", "<&-", "<&- >&- 2>&-"])
def test_streams_that_are_closed_do_no_harm(closed: str, tmp_path: Path) -> None:
    """Else the file that is opened next is what everything is printed into."""
    done = fitment("tire", "305/45R20", shell=closed, cwd=tmp_path)
    assert done.returncode == 0
    assert done.stderr == b""
    assert (done.stdout == b"") == (">&-" in closed.replace("2>&-", ""))
    done = fitment("worksheet", "--first", "--out", "x.pdf", shell=closed, cwd=tmp_path)
    content = (tmp_path / "x.pdf").read_bytes()
    assert done.returncode == 0
    assert content.startswith(b"%PDF")
    assert content.rstrip().endswith(b"%%EOF")


# ---------------------------------------------------------------- new


@pytest.mark.parametrize("closed", ["<&-", "0> nowhere", "< /dev/null"])
def test_new_without_anything_to_read_stops(closed: str, tmp_path: Path) -> None:
    done = fitment("new", "my.yaml", shell=closed, cwd=tmp_path)
    assert done.returncode == 1
    assert b"Traceback" not in done.stderr
    assert b"fault of fitment" not in done.stderr
    assert done.stdout.endswith(b"Stopped. No answer is left open.\n")
    assert set(names(tmp_path)) <= {"nowhere"}


def test_of_two_new_on_one_file_the_second_is_refused(tmp_path: Path) -> None:
    """Whatever each calls it."""
    (tmp_path / "link.yaml").symlink_to("my.yaml")
    first = subprocess.Popen(
        [sys.executable, "-m", "fitment", "new", "my.yaml"], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        cwd=tmp_path, env=ENV, text=True,
    )  # fmt: skip
    assert first.stdin is not None
    assert first.stdout is not None
    while "1.1 Name" not in first.stdout.readline():
        pass
    for name in ("my.yaml", "link.yaml"):
        second = run("new", name, cwd=tmp_path)
        assert second.exit_code == 2
        assert second.stderr == f"Error: {name}: another fitment new is working on this file; end that one first.\n"
    first.communicate("The mule\n")
    assert first.returncode == 1
    assert names(tmp_path) == ["link.yaml", "my.yaml.answers"]
    kept = json.loads((tmp_path / "my.yaml.answers").read_text())
    assert [text for _, text in kept["answers"]] == ["The mule"]


def test_a_file_that_is_let_go_can_be_had_again(tmp_path: Path) -> None:
    for _ in range(2):
        with held(tmp_path / "my.yaml") as ours:
            assert ours
            with held(tmp_path / "my.yaml") as too:
                assert not too
    (tmp_path / ".my.yaml.lock").touch()  # of a process that was killed
    with held(tmp_path / "my.yaml") as ours:
        assert ours
    assert names(tmp_path) == []


def test_new_on_a_pipe_is_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "my.yaml")
    refused = run("new", "my.yaml", cwd=tmp_path)
    assert refused.exit_code == 2
    assert "no file" in refused.stderr
