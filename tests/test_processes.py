"""Long work in several processes: it comes to an answer whatever becomes of them, and leaves none behind.

Expected: the answers of one process; of signals what POSIX and the shells have, 128 and the number.
"""

from __future__ import annotations

import multiprocessing
import os
import re
import resource
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from conftest import PATIENCE
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from test_at_a_terminal import long_list, members, wait_for

from fitment import workers
from fitment.cli import drawing
from fitment.draw.files import render
from fitment.errors import CodeError, PlacingError
from fitment.workers import worker_pool

ROOT = Path(__file__).resolve().parents[1]
JOBS, STATE = list(range(50)), {"factor": 3, "parent": os.getpid()}
TRIPLED = [3 * job for job in JOBS]
LINUX = pytest.mark.skipif(sys.platform != "linux", reason="looks into /proc")


def of(program: str) -> subprocess.CompletedProcess[bytes]:
    """A program of Python, run to its end by itself."""
    return subprocess.run(
        [sys.executable, "-c", program], capture_output=True, check=False, timeout=PATIENCE,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip


def tripled(state: dict[str, int], job: int) -> int:
    return state["factor"] * job


def tripled_or_killed(state: dict[str, int], job: int) -> int:
    """As a system does that has no memory left: to every process that is not the first one."""
    if job == 7 and os.getpid() != state["parent"]:
        os.kill(os.getpid(), signal.SIGKILL)
    return tripled(state, job)


def starved(state: dict[str, int], job: int) -> int:
    if os.getpid() != state["parent"]:
        raise MemoryError
    return tripled(state, job)


def refused(state: dict[str, int], job: int) -> int:
    if job > 30:
        raise CodeError(f"job {job}")
    return job


def misplaced(state: dict[str, int], job: int) -> int:
    raise PlacingError("rail", "no place")  # which does not survive the way through a pipe


@pytest.fixture(autouse=True)
def none_left() -> Iterator[None]:
    yield
    assert multiprocessing.active_children() == []
    assert workers._pipes == []


def state() -> dict[str, int]:
    return STATE | {"parent": os.getpid()}


@pytest.mark.parametrize("had", [0, 1])
@pytest.mark.parametrize("error", [BlockingIOError, OSError, RuntimeError, ImportError, MemoryError])
def test_processes_that_cannot_be_had_are_done_without(
    had: int, error: type[Exception], monkeypatch: pytest.MonkeyPatch
) -> None:
    """None can be begun, or only the first: no fork, no memory, no semaphores."""
    begin, begun = multiprocessing.process.BaseProcess.start, []

    def start(self: Any) -> None:
        if len(begun) == had:
            raise error
        begun.append(self)
        begin(self)

    monkeypatch.setattr(multiprocessing.process.BaseProcess, "start", start)
    with worker_pool(state(), 3) as run:
        assert run(tripled, JOBS, "tripling") == TRIPLED
    assert len(begun) == had


def test_few_file_handles_are_enough() -> None:
    """As `ulimit -n` sets them."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    there = len(list(Path("/dev/fd").iterdir())) if Path("/dev/fd").exists() else 20
    try:
        for more in range(8):
            resource.setrlimit(resource.RLIMIT_NOFILE, (there + more, hard))
            with worker_pool(state(), 2) as run:
                assert run(tripled, JOBS, "tripling") == TRIPLED
    finally:
        resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


@pytest.mark.parametrize("had", [0, 1])
def test_threads_that_cannot_be_had_are_done_without(had: int, monkeypatch: pytest.MonkeyPatch) -> None:
    begin, begun = threading.Thread.start, []

    def start(self: threading.Thread) -> None:
        if len(begun) == had:
            raise RuntimeError("can't start new thread")
        begun.append(self)
        begin(self)

    monkeypatch.setattr(threading.Thread, "start", start)
    with worker_pool(state(), 2) as run:
        assert run(tripled, JOBS, "tripling") == TRIPLED


@pytest.mark.parametrize("work", [tripled_or_killed, starved])
def test_what_a_worker_fails_at_is_worked_out_here(work: Any) -> None:
    with worker_pool(state(), 2) as run:
        assert run(work, JOBS, "tripling") == TRIPLED
        assert run(tripled, JOBS, "tripling") == TRIPLED, "also what comes after"


@pytest.mark.parametrize(("processes", "ready"), [(2, ["library"]), (1, [])])
def test_what_is_for_later_is_made_ready_once_while_others_work(processes: int, ready: list[str]) -> None:
    """With nobody to wait for nothing is: it would only come before what was asked."""
    made: list[str] = []
    with workers.when_waiting(lambda: made.append("library")), worker_pool(state(), processes) as run:
        for _ in range(2):
            assert run(tripled, JOBS, "work") == TRIPLED
        assert made == ready
    assert workers._for_later == []


class _Drawn:
    """An answer about two axles, each with a picture that only it has."""

    axles = pictured = cut_axles = ("front", "rear")

    def figure(self, axle: str, **_: str) -> Figure:
        figure = Figure((1.0, 1.0), dpi=50)
        figure.add_artist(Line2D((0.0, 1.0), (0.1, 0.9) if axle == "front" else (0.9, 0.1)))
        return figure


@pytest.mark.parametrize("processes", [1, 2])
def test_pictures_of_axles_are_the_same_from_every_process(
    processes: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(workers, "quick_cores", lambda: processes)
    drawing._draw(_Drawn(), str(tmp_path / "p.png"), {})
    for axle in _Drawn.axles:
        expected = render(_Drawn().figure(axle), "png")
        assert (tmp_path / f"p-{axle}.png").read_bytes() == expected
    assert len({path.read_bytes() for path in tmp_path.iterdir()}) == 2


def test_two_pieces_of_work_at_once_come_each_in_its_order() -> None:
    with worker_pool(state(), 2) as run:
        first, second = (run.start(tripled, JOBS, "tripling") for _ in range(2))
        with worker_pool(state(), 2) as within:
            assert within(tripled, JOBS, "tripling") == TRIPLED
        assert second() == TRIPLED
        assert first() == TRIPLED


@pytest.mark.parametrize("processes", [1, 2])
def test_a_mistake_is_told_as_by_one_process(processes: int) -> None:
    with pytest.raises(CodeError, match="job 31"), worker_pool(state(), processes) as run:
        run(refused, JOBS, "refusing")
    with pytest.raises(PlacingError, match="no place"), worker_pool(state(), processes) as run:
        run(misplaced, JOBS, "misplacing")


# ---------------------------------------------------------------- as a whole


def screening(folder: Path) -> subprocess.Popen[bytes]:
    """A list that takes long, in a group of its own."""
    words = ["screen", "wagon", long_list(folder), "--out", "x.csv"]
    return subprocess.Popen(
        [sys.executable, "-m", "fitment", *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, cwd=folder,
        start_new_session=True, env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip


@LINUX
@pytest.mark.skipif(len(os.sched_getaffinity(0)) < 2, reason="one core has no workers")
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_a_signal_ends_all_of_it_in_one_line(number: int, tmp_path: Path) -> None:
    """What `kill` and a closed terminal send, to the parent alone."""
    process = screening(tmp_path)
    wait_for(lambda: len(members(process.pid)) > 2, process)
    os.kill(process.pid, number)
    out, told = process.communicate(timeout=PATIENCE)
    assert (process.returncode, out) == (128 + number, b"")
    assert re.fullmatch(rb"Stopped\.[^\n]*\n", told), told
    assert members(process.pid) == []
    assert sorted(path.name for path in tmp_path.iterdir()) == ["long.csv"]


@LINUX
@pytest.mark.skipif(len(os.sched_getaffinity(0)) < 2, reason="one core has no workers")
def test_nothing_is_left_of_one_that_was_killed(tmp_path: Path) -> None:
    """Its workers end by themselves, and hold no pipe open meanwhile."""
    process = screening(tmp_path)
    wait_for(lambda: len(members(process.pid)) > 2, process)
    process.kill()
    assert process.communicate(timeout=PATIENCE) == (b"", b"")
    wait_for(lambda: members(process.pid) == [])
    assert sorted(path.name for path in tmp_path.iterdir()) == ["long.csv"]


@LINUX
@pytest.mark.skipif(len(os.sched_getaffinity(0)) < 2, reason="one core has no workers")
def test_a_list_whose_workers_were_killed_is_answered(tmp_path: Path) -> None:
    process = screening(tmp_path)
    wait_for(lambda: len(members(process.pid)) > 2, process)
    for worker in set(members(process.pid)) - {process.pid}:
        os.kill(worker, signal.SIGKILL)
    process.communicate(timeout=PATIENCE)
    assert process.returncode == 0
    rows = (tmp_path / "x.csv").read_text().splitlines()
    assert len(rows) == len((tmp_path / "long.csv").read_text().splitlines())


def test_what_tests_in_the_background_start_hears_ctrl_c_all_the_same() -> None:
    """A shell without job control has what it puts there ignore SIGINT (POSIX, 2.11), and exec hands that on."""
    asked = "import signal; print(signal.getsignal(signal.SIGINT) is signal.default_int_handler)"
    program = f"import conftest, subprocess, sys; subprocess.run([sys.executable, '-c', '{asked}'])"
    for start, heard in ((asked, b"False"), (program, b"True")):
        done = subprocess.run(
            ["bash", "-c", f'{sys.executable} -c "{start}" & wait $!'], capture_output=True, check=False,
            cwd=Path(__file__).parent,
        )  # fmt: skip
        assert done.stdout.strip() == heard, done.stderr


def test_a_signal_that_is_ignored_stays_so() -> None:
    """As nohup has it."""
    program = f"import os; from fitment import interrupts; interrupts.listen(); os.kill(os.getpid(), {signal.SIGHUP:d})"
    done = subprocess.run(
        ["bash", "-c", f"trap '' HUP; exec {sys.executable} -c '{program}; print(1)'"], capture_output=True,
        check=False, env={**os.environ, "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    assert (done.returncode, done.stdout, done.stderr) == (0, b"1\n", b"")


@pytest.mark.parametrize(
    "swallowing",
    [
        "    try: kill()\n    except BaseException: pass\n    threading.Event().wait()",
        "    class Odd:\n        def __del__(self): kill()\n    Odd()\n    threading.Event().wait()",
    ],
    ids=["caught by a library", "where Python cannot raise it"],
)
def test_a_signal_that_is_swallowed_ends_it_all_the_same(swallowing: str) -> None:
    program = f"""
import os, signal, sys, threading
from fitment import __main__, cli, interrupts
interrupts.GRACE = 0.2
def kill():
    os.kill(os.getpid(), signal.SIGTERM)
    for _ in range(1000): pass
def swallow(**_):
{swallowing}
cli.cli = swallow
__main__.main()
"""
    done = of(program)
    assert done.returncode == 128 + signal.SIGTERM, done.stderr


@pytest.mark.parametrize(
    ("work", "code"),
    [
        ("    with lock:\n        lock.release()\n        kill()", 130),  # cannot release un-acquired lock
        ("    try: kill()\n    except BaseException as it: raise SystemError('error return') from it", 130),
        ("    try: kill()\n    except BaseException: raise ImportError('failed to import') from None", 130),
        ("    try: kill()\n    except KeyboardInterrupt:\n        interrupts.ignore()\n        1 / 0", 70),
        ("    try: kill()\n    except KeyboardInterrupt: pass\n    1 / 0", 70),
    ],
    ids=["a lock", "its cause", "its context", "heard before", "over before"],
)
def test_ctrl_c_that_became_another_error_is_no_fault_of_the_program(work: str, code: int) -> None:
    """128 + the signal's number; 70 where something else fails after it was heard."""
    program = f"""
import os, signal, threading
from fitment import __main__, cli, interrupts
lock = threading.Condition()
def kill():
    os.kill(os.getpid(), signal.SIGINT)
    for _ in range(1000): pass
def work(**_):
{work}
cli.cli = work
__main__.main()
"""
    done = of(program)
    assert done.returncode == code, done.stderr
    assert done.stderr.startswith(b"Stopped." if code == 130 else b"Error: a fault of fitment itself")


def test_ctrl_c_where_python_cannot_raise_it_is_heard_the_first_time() -> None:
    program = """
import os, signal, threading
from fitment import __main__, cli
class Odd:
    def __del__(self):
        os.kill(os.getpid(), signal.SIGINT)
        for _ in range(1000): pass
def work(**_):
    Odd()
    threading.Event().wait(20)
    print("not heard")
cli.cli = work
__main__.main()
"""
    done = of(program)
    assert (done.returncode, done.stdout, done.stderr) == (128 + signal.SIGINT, b"", b"Stopped.\n")
