"""Faults of the machine at every kind of output, each on a process of its own.

What a file may be afterwards: as it was, or whole (the bytes of a run without the fault). What a process may say: an
answer or one message, never a traceback. What may be left: nothing beside the file, and no process; after SIGKILL a
temporary file may stay, since nobody is left to remove it.
"""

from __future__ import annotations

import contextlib
import json
import os
import re
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

from conftest import vehicle

from tests.attack.runner import Counts
from tests.attack.trial import Fault

ROOT = Path(__file__).resolve().parents[2]
NOBODY = 65534
LONG = 900.0  # [s] of waiting for what takes a few, however busy the machine; what takes so long hangs
LINGERS = 60.0  # [s] that workers have to notice that their parent is gone
OLD = b"what was there before\n"
MARK = "FITMENT_ATTACKED"
CRASH = re.compile(r"Traceback|fault of fitment itself|Fatal Python error|Segmentation|Exception ignored|core dumped")
LIST = "".join(["wheel,tire,price\n", *(f"17x8 ET{k % 60} 5x114.3 CB67.1,225/45R17 94W XL,{k}\n" for k in range(24))])
OUTPUTS: dict[str, tuple[str, ...]] = {  # the words of a command; the file is put behind
    "text": ("check", "v.yaml"),
    "json": ("check", "v.yaml", "--format", "json"),
    "csv": ("screen", "v.yaml", "l.csv", "--format", "csv"),
    "sheet": ("worksheet",),
    "check.json": ("check", "v.yaml", "--geometry", "--out", "x.json"),
    "check.csv": ("check", "v.yaml", "--out", "x.csv"),
    "check.png": ("check", "v.yaml", "--out", "x.png"),
    "check.svg": ("check", "v.yaml", "--out", "x.svg"),
    "check.pdf": ("check", "v.yaml", "--out", "x.pdf"),
    "check.gif": ("check", "v.yaml", "--out", "x.gif"),
    "compare.png": ("compare", "v.yaml", "measured", "lowered", "--out", "x.png"),
    "screen.csv": ("screen", "v.yaml", "l.csv", "--out", "x.csv"),
    "screen.json": ("screen", "v.yaml", "l.csv", "--out", "x.json"),
    "screen.svg": ("screen", "v.yaml", "l.csv", "--out", "x.svg"),
    "window.svg": ("window", "v.yaml", "--out", "x.svg"),
    "window.json": ("window", "v.yaml", "--out", "x.json"),
    "show.svg": ("show", "v.yaml", "--out", "x.svg"),
    "poses.csv": ("poses", "v.yaml", "--out", "x.csv"),
    "order.pdf": ("order", "v.yaml", "--out", "x.pdf"),
    "order.txt": ("order", "v.yaml", "--out", "x.txt"),
    "template.pdf": ("template", "v.yaml", "--out", "x.pdf"),
    "worksheet.pdf": ("worksheet", "--first", "--out", "x.pdf"),
    "report.html": ("report", "v.yaml", "--out", "x.html"),
    "new.yaml": ("new", "x.yaml", "--anew"),
}
TYPED = "\n".join(["name"] + [""] * 5 + ["quit"]) + "\n"


def _vehicle() -> dict[str, Any]:
    data = vehicle()
    data["axles"]["front"]["brake"] = {
        "rotor": {"diameter": 300, "bore": 67.2, "hat_thickness": 7, "outline": [[-62, 150], [-32, 150]]},
        "caliper": {"outline": [[-95, 100], [-95, 160], [-22, 160], [-14, 150], [-14, 100]], "clock": [60, 130]},
    }
    return data


@dataclass
class Run:
    """One process with a fault; its folder is in place, `target` the file that it writes ("" for none).

    before : done in the child before the program begins; exits : codes that are fine beside 0, 1, 2, 3
    """

    kind: str
    output: str
    folder: Path
    env: dict[str, str]
    target: Path | None
    before: list[Callable[[], None]] = field(default_factory=list)
    stdout: Any = subprocess.PIPE
    python: tuple[str, ...] = (sys.executable,)
    exits: tuple[int, ...] = ()
    kill: tuple[int, float] | None = None
    tmp_may_stay: bool = False
    old: bytes | None = OLD
    wrap: tuple[str, ...] = ()
    beside: subprocess.Popen[bytes] | None = None

    @property
    def words(self) -> list[str]:
        return [*self.wrap, *self.python, "-m", "fitment", *OUTPUTS[self.output]]

    def begun(self, **streams: int) -> subprocess.Popen[bytes]:
        """The program with its fault; streams : other than pipes, and than what the fault asks for."""

        def begin() -> None:
            for each in self.before:
                each()

        return subprocess.Popen(
            self.words,
            cwd=self.folder,
            env=self.env,
            preexec_fn=begin,  # noqa: PLW1509 (one thread)
            start_new_session=True,
            **{"stdin": subprocess.PIPE, "stdout": self.stdout, "stderr": subprocess.PIPE, **streams},
        )

    def said(self, process: subprocess.Popen[bytes], typed: bytes | None = None) -> str:
        """What is printed until the end. Raises TimeoutExpired after LONG, when it is ended."""
        try:
            out, told = process.communicate(typed, timeout=LONG)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.communicate()
            raise
        return ((out or b"") + b"\n" + (told or b"")).decode("utf-8", "replace")


Injector = Callable[[Random, Run, ExitStack], None]


@contextmanager
def mounted(size: str, *more: str) -> Iterator[Path]:
    """A file system in memory of a size. Raises OSError where nobody may mount one."""
    place = Path(tempfile.mkdtemp(prefix="attackfs"))
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", ",".join((f"size={size},mode=777", *more)), "tmpfs", place],
        capture_output=True,
        check=False,
    )
    if done.returncode:
        place.rmdir()
        raise OSError("no mount")
    try:
        yield place
    finally:
        subprocess.run(["umount", "-l", place], capture_output=True, check=False)
        with contextlib.suppress(OSError):
            place.rmdir()


def _moved(run: Run, to: Path) -> None:
    """The output goes to another folder; what is read stays."""
    for name in ("v.yaml", "l.csv"):
        if (run.folder / name).exists():
            shutil.copy(run.folder / name, to)
    run.folder = to
    if run.target:
        run.target = to / run.target.name
        if run.old is not None:
            run.target.write_bytes(run.old)


def disk_full(rng: Random, run: Run, stack: ExitStack) -> None:
    place = stack.enter_context(mounted("64k"))
    _moved(run, place)
    filler = place / "filler"
    with contextlib.suppress(OSError), filler.open("wb") as stream:
        while True:
            stream.write(b"x" * 512)
            stream.flush()
    if rng.random() < 0.5 and run.target is None:
        run.stdout = _full(stack)


def _full(stack: ExitStack) -> int:
    stream = os.open("/dev/full", os.O_WRONLY)
    stack.callback(lambda: os.close(stream))
    return stream


def full_stdout(_rng: Random, run: Run, stack: ExitStack) -> None:
    run.stdout = _full(stack)


def small_files(rng: Random, run: Run, _stack: ExitStack) -> None:
    most = rng.choice((0, 1, 500, 5000))
    run.before.append(lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (most, most)))
    run.exits = (-signal.SIGXFSZ,)


def read_only(rng: Random, run: Run, stack: ExitStack) -> None:
    if rng.random() < 0.5:
        place = stack.enter_context(mounted("8m"))
        _moved(run, place)
        subprocess.run(["mount", "-o", "remount,ro", place], check=True)
    else:
        run.folder.chmod(0o555)
        _as_anybody(run)


def _as_anybody(run: Run) -> None:
    """Without the rights of root, in a Python that anybody may start. Raises OSError where there is none."""
    if os.getuid() != 0:
        return
    run.python = (_python_for_all(),)
    run.env["PYTHONPATH"] = os.pathsep.join([str(ROOT), *(path for path in sys.path if path.endswith("-packages"))])
    run.before += [lambda: os.setgid(NOBODY), lambda: os.setuid(NOBODY)]


@cache
def _python_for_all() -> str:
    for python in (sys.executable, f"/usr/bin/python{sys.version_info[0]}.{sys.version_info[1]}"):
        with contextlib.suppress(OSError):
            if not subprocess.run([python, "-c", ""], user=NOBODY, capture_output=True, check=False).returncode:
                return python
    raise OSError("no Python that anybody may start")


def closed_pipe(rng: Random, run: Run, stack: ExitStack) -> None:
    reader, writer = os.pipe()
    os.close(reader)
    run.stdout = writer
    stack.callback(lambda: os.close(writer))
    run.exits = (141, -signal.SIGPIPE)
    if rng.random() < 0.3:
        run.before.append(lambda: os.close(2))


def closed_streams(rng: Random, run: Run, _stack: ExitStack) -> None:
    which = rng.choice(((0,), (1,), (2,), (0, 1, 2)))
    run.before.append(lambda: [os.close(each) for each in which] and None)


def killed(rng: Random, run: Run, _stack: ExitStack) -> None:
    number = rng.choice((signal.SIGKILL, signal.SIGTERM, signal.SIGHUP, signal.SIGINT))
    usual = _seconds.get(run.output, 2.0)
    late = rng.random() < 0.5  # most is written at the end
    run.kill = (number, usual * (rng.uniform(0.85, 1.05) if late else rng.uniform(0.02, 1.0)))
    run.exits = (-number, 128 + number)
    run.tmp_may_stay = number == signal.SIGKILL


def no_home(rng: Random, run: Run, _stack: ExitStack) -> None:
    for name in ("HOME", "XDG_CACHE_HOME", "XDG_CONFIG_HOME", "USER", "LOGNAME", "MPLCONFIGDIR"):
        run.env.pop(name, None)
    change = rng.randrange(3)
    if change:
        run.env["HOME"] = ("/nonexistent", "/proc/1/nothing")[change - 1]
    if rng.random() < 0.5:
        _as_anybody(run)


def no_temporary(rng: Random, run: Run, _stack: ExitStack) -> None:
    run.env["TMPDIR"] = rng.choice(("/nonexistent", "/proc"))


def no_fonts(_rng: Random, run: Run, _stack: ExitStack) -> None:
    """Neither the system's nor those that come with matplotlib."""
    import matplotlib

    fonts = Path(matplotlib.get_data_path()) / "fonts"
    script = f'mount -t tmpfs tmpfs {fonts} && mount -t tmpfs tmpfs /usr/share/fonts 2>/dev/null; exec "$@"'
    run.wrap = ("unshare", "-m", "sh", "-c", script, "sh")


def no_cache(rng: Random, run: Run, stack: ExitStack) -> None:
    change = rng.randrange(3)
    if change == 0:
        place = stack.enter_context(mounted("4k"))
    elif change == 1:
        place = stack.enter_context(mounted("4k", "ro"))
    else:
        place = run.folder.parent / "cache-is-a-file"
        place.write_text("")
    run.env["XDG_CACHE_HOME"] = run.env["XDG_CONFIG_HOME"] = run.env["HOME"] = str(place)


def spoilt_cache(rng: Random, run: Run, _stack: ExitStack) -> None:
    """What an earlier run kept came to harm, or is of another program."""
    run.said(run.begun(), TYPED.encode())
    if run.target:
        run.target.unlink(missing_ok=True)
        if run.old is not None:
            run.target.write_bytes(run.old)
    for path in Path(run.env["XDG_CACHE_HOME"]).rglob("*"):
        if path.is_file():
            content = path.read_bytes()
            place = rng.randrange(len(content) or 1)
            path.write_bytes(
                rng.choice((b"", content[:place], content[:place] + b"\x00\xff" + content[place + 2 :], OLD * 50))
            )


def few_processes(rng: Random, run: Run, _stack: ExitStack) -> None:
    most = rng.choice((0, 1, 2))

    run.before.append(lambda: resource.setrlimit(resource.RLIMIT_NPROC, (most, most)))
    _as_anybody(run)  # root has no limit


def few_files(rng: Random, run: Run, _stack: ExitStack) -> None:
    most = rng.choice((5, 8, 12, 16, 24))
    run.before.append(lambda: resource.setrlimit(resource.RLIMIT_NOFILE, (most, most)))


def little_memory(rng: Random, run: Run, _stack: ExitStack) -> None:
    most = rng.choice((150, 200, 250, 300, 400, 600)) << 20
    run.before.append(lambda: resource.setrlimit(resource.RLIMIT_AS, (most, most)))
    run.exits = (-signal.SIGABRT, -signal.SIGSEGV)  # a library in C that has no more ends the process


def odd_locale(rng: Random, run: Run, _stack: ExitStack) -> None:
    for name in ("LC_ALL", "LANG", "LC_CTYPE", "PYTHONUTF8", "PYTHONIOENCODING"):
        run.env.pop(name, None)
    run.env["LC_ALL"] = rng.choice(("C", "POSIX", "tr_TR.UTF-8", "de_DE", "nonsense", "C.UTF-8"))
    run.env["PYTHONUTF8"] = "0"
    run.env["PYTHONCOERCECLOCALE"] = "0"
    run.env["PYTHONIOENCODING"] = rng.choice(("ascii", "latin-1", "cp1252", "cp437", "cp932", "utf-16", "utf-8"))
    run.env["TERM"] = rng.choice(("dumb", "xterm", "nonsense"))
    run.env["COLUMNS"] = rng.choice(("1", "0", "x", "-5", "100000"))
    run.env["TZ"] = "Nowhere/None"


def one_core(_rng: Random, run: Run, _stack: ExitStack) -> None:
    core = min(os.sched_getaffinity(0))
    run.before.append(lambda: os.sched_setaffinity(0, {core}))


def two_at_once(_rng: Random, run: Run, stack: ExitStack) -> None:
    other = run.begun(stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    stack.callback(other.wait)
    run.beside = other


INJECTORS: tuple[Injector, ...] = (
    disk_full,
    full_stdout,
    small_files,
    read_only,
    closed_pipe,
    closed_streams,
    killed,
    killed,
    killed,
    killed,
    no_home,
    no_temporary,
    no_fonts,
    no_cache,
    spoilt_cache,
    few_processes,
    few_files,
    little_memory,
    odd_locale,
    one_core,
    two_at_once,
)

_whole: dict[str, bytes] = {}  # what each output writes without a fault
_seconds: dict[str, float] = {}  # how long it takes


class Injection:
    """Each output without a fault once, then faults drawn for it; `skipped` : what this machine does not permit."""

    def __init__(self, seed: int, where: Path) -> None:
        self.rng, self.where, self._seed = Random(seed), where, 1_000_000 * seed
        self.skipped: set[str] = set()
        self._plan: list[tuple[str, Injector]] = []

    def inject_for(self, seconds: float) -> Counts:
        """Faults for so long; each has a seed of its own, to play it again."""
        counts, until = Counts(), time.monotonic() + seconds
        while time.monotonic() < until:
            if not self._plan:
                self._plan = [(output, each) for output in OUTPUTS for each in INJECTORS]
                self.rng.shuffle(self._plan)
            output, injector = self._plan.pop()
            self._seed += 1
            for fault in self.one(output, injector, self._seed, counts):
                counts.found(fault)
                self._keep(output, injector, self._seed, fault)
        return counts

    def one(self, output: str, injector: Injector, seed: int, counts: Counts) -> list[Fault]:
        """One fault at one output."""
        if output not in _whole and not self._reference(output):
            return [Fault("traceback", f"{output}: fails without any fault", "")]
        with ExitStack() as stack:
            run = self._prepared(output, injector.__name__, stack)
            try:
                injector(Random(seed), run, stack)
            except OSError as error:
                self.skipped.add(f"{injector.__name__} ({error})")
                return []
            counts.tried[f"fault {injector.__name__}"] += 1
            return _observed(run)

    def _prepared(self, output: str, kind: str, stack: ExitStack) -> Run:
        top = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="attack", ignore_cleanup_errors=True)))
        top.chmod(0o755)
        folder = top / "work"
        folder.mkdir()
        folder.chmod(0o777)
        (folder / "v.yaml").write_text(json.dumps(_vehicle()))
        (folder / "l.csv").write_text(LIST)
        words = OUTPUTS[output]
        name = next((word for word in words if word.startswith("x.")), "")
        target = folder / name if name else None
        old = None if kind == "" or output == "new.yaml" or self.rng.random() < 0.3 else OLD
        if target and old is not None:
            target.write_bytes(old)
            target.chmod(0o666)
        env = dict(os.environ) | {"PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1", MARK: uuid.uuid4().hex}
        env["XDG_CACHE_HOME"] = str(top / "cache")
        return Run(kind, output, folder, env, target, old=old)

    def _reference(self, output: str) -> bool:
        with ExitStack() as stack:
            run = self._prepared(output, "", stack)
            start = time.monotonic()
            process = run.begun()
            run.said(process, TYPED.encode())
            _seconds[output] = time.monotonic() - start
            _whole[output] = run.target.read_bytes() if run.target and run.target.exists() else b""
            return process.returncode in (0, 1)

    def _keep(self, output: str, injector: Injector, seed: int, fault: Fault) -> None:
        self.where.mkdir(parents=True, exist_ok=True)
        path = self.where / f"injected-{injector.__name__}-{output}-{fault.kind.replace(' ', '_')}.json"
        if not path.exists():
            data = {
                "injected": injector.__name__,
                "output": output,
                "seed": seed,
                "detail": fault.detail,
                "mark": fault.mark,
            }
            path.write_text(json.dumps(data, indent=1))


def replayed(path: Path) -> list[Fault]:
    """A kept one again."""
    data = json.loads(path.read_text())
    (injector,) = {each for each in INJECTORS if each.__name__ == data["injected"]}
    return Injection(0, path.parent).one(data["output"], injector, data["seed"], Counts())


def _observed(run: Run) -> list[Fault]:
    """Start it, do to it what is to be done, and look at what it leaves."""
    before = {path.name for path in run.folder.iterdir()}
    process = run.begun()
    found: list[Fault] = []
    label = f"{run.kind}, {run.output}"
    try:
        if run.kill:
            with contextlib.suppress(BrokenPipeError), contextlib.suppress(subprocess.TimeoutExpired):
                process.communicate(TYPED.encode(), timeout=run.kill[1])
            if process.returncode is None:
                process.send_signal(run.kill[0])
        text = run.said(process, None if run.kill else TYPED.encode())
        if run.beside:
            run.said(run.beside)
    except subprocess.TimeoutExpired as late:
        return [Fault("hang", label, str(late.stderr)[-500:])]
    if CRASH.search(text):
        found.append(Fault("traceback", f"{label}: {_last(text)}", text[-1500:]))
    elif process.returncode not in (0, 1, 2, 3, *run.exits):
        found.append(Fault("bad message", f"{label}: exit {process.returncode}", text[-800:]))
    return found + _left(run, label, before, process.returncode)


def _last(text: str) -> str:
    lines = [line for line in text.splitlines() if re.match(r"\w*(Error|Exception|Interrupt)\b", line)] or [
        line for line in text.splitlines() if CRASH.search(line)
    ]
    return re.sub(r"[0-9a-f]{6,}|/tmp/\S+", "...", lines[-1])[:110] if lines else ""


def _left(run: Run, label: str, before: set[str], code: int) -> list[Fault]:
    """Files and processes that are left."""
    found = []
    kill = f" {signal.Signals(run.kill[0]).name}" if run.kill else ""
    allowed = {run.target.name} if run.target else set()
    if run.output == "new.yaml":
        allowed |= {"x.yaml.answers"}
    new = {path.name for path in run.folder.iterdir()} - before - allowed
    if run.tmp_may_stay:
        new = {name for name in new if not name.endswith((".tmp", ".lock"))}
    if new:
        found.append(Fault("litter", f"{label}{kill}", ", ".join(sorted(new))))
    if run.target and run.output != "new.yaml":
        content = run.target.read_bytes() if run.target.exists() else None
        if content not in (run.old, _whole[run.output]) and not (
            content and code in (0, 1, 3) and run.kind in ("no_fonts", "odd_locale")
        ):
            found.append(
                Fault(
                    "files harmed",
                    f"{label}{kill}",
                    f"{None if content is None else len(content)} bytes, {len(_whole[run.output])} are whole",
                )
            )
    found += [Fault("workers left", f"{label}{kill}", command) for command in _living(run.env[MARK])]
    return found


def _living(mark: str) -> list[str]:
    """Processes of this run that are there for longer than they may; they are ended."""
    until = time.monotonic() + LINGERS
    while (found := _with(mark)) and time.monotonic() < until:
        time.sleep(0.1)
    for pid in found:
        with contextlib.suppress(OSError):
            os.kill(pid, signal.SIGKILL)
    return [f"process {pid}" for pid in found]


def _with(mark: str) -> list[int]:
    found = []
    for path in Path("/proc").glob("[0-9]*/environ"):
        with contextlib.suppress(OSError):
            if mark.encode() in path.read_bytes():
                state = (path.parent / "stat").read_text().rsplit(")", 1)[1].split()[0]
                if state != "Z":
                    found.append(int(path.parent.name))
    return found
