"""A process that tries inputs one after the other, and the one that watches over it.

What hangs in a library, runs out of memory or dies takes only the worker with it: the input is kept, counted, and
another worker goes on.
"""

from __future__ import annotations

import json
import multiprocessing
import os
import resource
import signal
import time
from collections import Counter
from dataclasses import asdict, dataclass, field
from multiprocessing.connection import Connection
from pathlib import Path
from random import Random

from tests.attack.trial import Fault, HangError, Trial, judged, keep, run_trial

LIMIT = 150.0  # [s] processor time of one input; a vehicle with odd motion takes a dozen, on a busy machine 60
KILLED = 300.0  # [s] of one input, when the worker itself does not notice
MEMORY = 4 << 30  # [bytes] address space
SHARE = 0.4  # of the worker's time for odd geometry


@dataclass
class Counts:
    """What was tried and found; marks : how often each fault came up."""

    tried: Counter[str] = field(default_factory=Counter)
    answered: int = 0
    faults: Counter[str] = field(default_factory=Counter)
    marks: Counter[str] = field(default_factory=Counter)
    lines: int = 0

    def add(self, other: Counts) -> None:
        self.tried += other.tried
        self.answered += other.answered
        self.faults += other.faults
        self.marks += other.marks
        self.lines = max(self.lines, other.lines)

    def found(self, fault: Fault) -> None:
        self.faults[fault.kind] += 1
        self.marks[f"{fault.kind}: {fault.mark}"] += 1


class Worker:
    """Tries inputs for so many seconds whenever it is asked; `where` : folder of what is kept."""

    def __init__(self, seed: int, where: Path, scratch: Path) -> None:
        self.seed, self.where, self.scratch = seed, where, scratch
        self._begun = 0
        self._begin()

    def _begin(self) -> None:
        context = multiprocessing.get_context("fork")
        self._ours, theirs = context.Pipe()
        seed = self.seed + 1000 * self._begun
        self._begun += 1
        self._process = context.Process(target=_work, args=(theirs, seed, self.where, self.scratch / "now.json"))
        self._process.start()
        theirs.close()

    def tried_for(self, seconds: float) -> Counts:
        """The counts of so much time, more where an input takes longer."""
        self._ours.send(seconds)
        now = self.scratch / "now.json"
        total = Counts()
        last, since = "", time.monotonic()
        spent = _processor(self._process.pid)
        while not self._ours.poll(1.0):
            text = now.read_text() if now.exists() else ""
            if text != last:
                last, since, spent = text, time.monotonic(), _processor(self._process.pid)
            dead = not self._process.is_alive()
            over = _processor(self._process.pid) - spent > KILLED or time.monotonic() - since > 8 * KILLED
            if dead or over:
                return self._lost(last, "traceback" if dead else "hang")
        try:
            total.add(self._ours.recv())
        except EOFError:
            return self._lost(now.read_text() if now.exists() else "", "traceback")
        return total

    def _lost(self, text: str, kind: str) -> Counts:
        """The worker is gone, or is put an end to, with the input it was at."""
        counts = Counts()
        self._process.kill()
        self._process.join()
        word = "never came back" if kind == "hang" else f"the process died, {self._process.exitcode}"
        if text:
            data = json.loads(text)
            trial = Trial(**(data | {"argv": tuple(data["argv"])}))
            fault = Fault(kind, f"{trial.kind}: {word}", word)
            keep(trial, fault, self.where)
        else:
            fault = Fault(kind, word, word)
        counts.found(fault)
        self._begin()
        return counts

    def end(self) -> None:
        """No more is asked."""
        self._process.kill()
        self._process.join()


def _processor(pid: int | None) -> float:
    """Processor time of a process [s]."""
    try:
        fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    except OSError:
        return 0.0
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _work(pipe: Connection, seed: int, where: Path, now: Path) -> None:
    from fitment import workers
    from tests.attack.fuzz import Fuzz
    from tests.attack.lines import Lines

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    os.environ["XDG_CACHE_HOME"] = str(now.parent / "cache")
    workers.cores = lambda: 1  # a list is worked through in this process, where its lines are seen
    rng = Random(seed)  # not the other's: how they take turns hangs on the clock, what each draws does not
    fuzz, lines = Fuzz(Random(seed)), Lines()
    spent = {"geometry": 0.0, "fuzz": 0.0}
    while True:
        try:
            seconds = pipe.recv()
        except EOFError:
            return
        counts, until = Counts(), time.monotonic() + seconds
        while time.monotonic() < until:
            start = time.monotonic()
            kind = "geometry" if spent["geometry"] < SHARE * sum(spent.values()) else "fuzz"
            if kind == "geometry":
                _geometry(rng, counts, where, now)
            else:
                _mutant(fuzz, lines, counts, where, now)
            spent[kind] += time.monotonic() - start
        counts.lines = lines.reached
        pipe.send(counts)


def _mutant(fuzz: object, lines: object, counts: Counts, where: Path, now: Path) -> None:
    from tests.attack.fuzz import Fuzz
    from tests.attack.lines import Lines

    assert isinstance(fuzz, Fuzz)
    assert isinstance(lines, Lines)
    trial = fuzz.draw()
    now.write_text(json.dumps(asdict(trial)))
    before = lines.reached
    counts.tried[trial.kind] += 1
    try:
        with lines.traced():
            outcome = run_trial(trial, LIMIT)
    except HangError:
        _note(trial, [Fault("hang", f"{trial.argv[0]}: {trial.kind}", f"more than {LIMIT:g} s")], counts, where)
        return
    if lines.reached > before:
        fuzz.reached()
    _note(trial, judged(trial, outcome), counts, where)


def _geometry(rng: Random, counts: Counts, where: Path, now: Path) -> None:
    from tests.attack.odd_geometry import examine, odd_vehicle, trial_of

    data = odd_vehicle(rng)
    trial = trial_of(data)
    now.write_text(json.dumps(asdict(trial)))
    counts.tried["geometry"] += 1
    try:
        trial, faults, answered = examine(rng, data, LIMIT)
    except HangError:
        faults, answered = [Fault("hang", "geometry", f"more than {LIMIT:g} s")], False
    counts.answered += answered
    _note(trial, faults, counts, where)


def _note(trial: Trial, faults: list[Fault], counts: Counts, where: Path) -> None:
    for fault in faults:
        counts.found(fault)
        keep(trial, fault, where)
