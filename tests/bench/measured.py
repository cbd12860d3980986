"""Whole commands as processes of their own, measured: processor and wall time, memory, against another commit too."""

from __future__ import annotations

import contextlib
import os
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
LOOK_EVERY = 0.4  # [s] at memory and time
WAITING = 10  # times the limit of a busy machine's wall


@dataclass(frozen=True)
class Run:
    """One process with its children: exit code (None: stopped at the limit), wall and processor time [s], the
    peak of memory of all together [MB], the last line of standard error."""

    code: int | None
    wall: float
    processor: float
    memory: float
    said: str

    @property
    def ended(self) -> bool:
        return self.code in (0, 1, 3)


def group_now(group: int) -> tuple[float, float]:
    """Memory that the processes of a group hold now [MB], what they share counted once, and the processor time that
    they have taken [s], with children that have ended (Linux; else 0)."""
    total = taken = 0.0
    for entry in Path("/proc").glob("[0-9]*"):
        try:
            if os.getpgid(int(entry.name)) == group:
                text = (entry / "smaps_rollup").read_text()
                total += sum(int(line.split()[1]) for line in text.splitlines() if line.startswith("Pss:")) / 1024
                taken += sum(map(int, (entry / "stat").read_text().rpartition(")")[2].split()[11:15]))
        except (OSError, ValueError):
            continue
    return total, taken / os.sysconf("SC_CLK_TCK") if taken else 0.0


def run(command: list[str], root: Path, cache: Path, limit: float) -> Run:
    """A command of Python on the package in `root`, its cache in the folder `cache`.

    limit : [s] of the processor after which it is stopped
    """
    environment = {**os.environ, "PYTHONPATH": str(root), "XDG_CACHE_HOME": str(cache), "HOME": str(cache)}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)  # an installed package is compiled
    environment["MPLCONFIGDIR"] = str(Path(tempfile.gettempdir()) / "fitment-bench-fonts")  # found once, not each run
    with tempfile.TemporaryFile() as stderr:
        start = time.perf_counter()
        process = subprocess.Popen(
            [sys.executable, *command], cwd=root, env=environment, stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL, stderr=stderr, start_new_session=True,
        )  # fmt: skip
        peak, spent, stopped, done = [0.0], [0.0], [False], threading.Event()

        def watch() -> None:
            while not done.wait(LOOK_EVERY):
                memory, taken = group_now(process.pid)
                peak[0], spent[0] = max(peak[0], memory), max(spent[0], taken)
                if (taken > limit or time.perf_counter() - start > WAITING * limit) and not stopped[0]:
                    stopped[0] = True
                    os.killpg(process.pid, signal.SIGKILL)

        watching = threading.Thread(target=watch)
        watching.start()
        try:
            _, status, usage = os.wait4(process.pid, 0)  # with the children it has waited for
            wall = time.perf_counter() - start
        finally:
            done.set()
            watching.join()
            with contextlib.suppress(ProcessLookupError):  # nothing stays behind, however this ends
                os.killpg(process.pid, signal.SIGKILL)
        process.returncode = os.waitstatus_to_exitcode(status)
        stderr.seek(0)
        said = (stderr.read().decode(errors="replace").strip().splitlines() or [""])[-1]
    code = None if stopped[0] else process.returncode
    processor = max(usage.ru_utime + usage.ru_stime, spent[0])  # the former without children that were killed
    return Run(code, wall, processor, max(peak[0], usage.ru_maxrss / 1024), said)


def shapely_import(cache: Path, times: int = 7) -> tuple[float, float]:
    """What `python -c "import shapely"` takes: processor and wall [s], medians."""
    runs = [run(["-c", "import shapely"], ROOT, cache, 60.0) for _ in range(times)]
    return statistics.median(each.processor for each in runs), statistics.median(each.wall for each in runs)


def compiled(root: Path) -> None:
    """Compiles the package in `root` beforehand, as an installer does."""
    subprocess.run([sys.executable, "-m", "compileall", "-q", "fitment"], cwd=root, check=True)


@contextlib.contextmanager
def checked_out(commit: str | None) -> Iterator[Path | None]:
    """Another commit in a folder of its own, a git worktree that is removed again; None without one."""
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(143))  # so that it is removed then too
    compiled(ROOT)
    if commit is None:
        yield None
        return
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder) / "tree"
        subprocess.run(["git", "worktree", "add", "--detach", "--quiet", str(tree), commit], cwd=ROOT, check=True)
        try:
            compiled(tree)
            yield tree
        finally:
            subprocess.run(["git", "worktree", "remove", "--force", str(tree)], cwd=ROOT, check=False)
