"""The same work on many jobs, on several processor cores where that pays.

Each worker is a copy of this process at the far end of a pipe of its own. What no worker answers, because there is none
or it died, is worked out here: an answer never hangs on their number.
"""

from __future__ import annotations

import gc
import os
import sys
import warnings
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from threading import Condition, Lock, Thread
from typing import TYPE_CHECKING, Any, TypeVar

from fitment.interrupts import by_default, kept_waiting
from fitment.progress import steps, tell_nobody

if TYPE_CHECKING:  # for lists alone
    from multiprocessing.connection import Connection
    from multiprocessing.context import BaseContext
    from multiprocessing.process import BaseProcess

Job = TypeVar("Job")
Answer = TypeVar("Answer")

MOST = 200  # jobs taken side by side
NOT_HAD = (OSError, RuntimeError, ImportError, MemoryError, AssertionError)  # where no process or thread can be begun

_pipes: list[Connection] = []  # our ends of all that are open
_for_later: list[Callable[[], object]] = []  # what is done here while others work


class Map:
    """Runs a module-level function (state, job) on every job; answers come in the jobs' order."""

    def __init__(self, state: Any, workers: Sequence[_Worker] = ()) -> None:
        self._state, self._workers, self._hands = state, workers, max(1, len(workers))

    def __call__(self, work: Callable[[Any, Job], Answer], jobs: Sequence[Job], words: str) -> list[Answer]:
        """The answers; words : what is done, for who waits."""
        return self.start(work, jobs, words)()

    def start(self, work: Callable[[Any, Job], Answer], jobs: Sequence[Job], words: str) -> Callable[[], list[Answer]]:
        """The same in the background; what is returned waits for the answers. With one process they are made then."""
        if not self._workers:
            return lambda: [work(self._state, job) for job in steps(words, jobs)]
        shares = _Shares(self._state, work, jobs, max(1, min(8, len(jobs) // (16 * self._hands))))
        for worker in self._workers:
            shares.give_to(worker)
        while _for_later:
            _for_later.pop()()
        return lambda: list(steps(words, shares.answers(), len(jobs)))

    def dealt(
        self, work: Callable[[Any, Sequence[Job]], Sequence[Answer]], jobs: Sequence[Job], words: str
    ) -> list[Answer]:
        """The answers of a function (state, several jobs) that takes jobs side by side, at most MOST at once."""
        hands = max(self._hands, -(-len(jobs) // MOST))
        dealt = [jobs[hand::hands] for hand in range(hands)]
        answers: list[Any] = [None] * len(jobs)
        for hand, own in enumerate(self(work, [share for share in dealt if share], words)):
            answers[hand::hands] = own
        return answers


class _Shares:
    """Jobs in shares, which workers take one after another; a thread for each worker waits for what it answers."""

    def __init__(self, state: Any, work: Callable[[Any, Any], Any], jobs: Sequence[Any], size: int) -> None:
        self._state, self._work = state, work
        self._shares = [jobs[i : i + size] for i in range(0, len(jobs), size)]
        self._answers: list[list[Any] | None] = [None] * len(self._shares)
        self._left = deque(range(len(self._shares)))
        self._changed, self._busy = Condition(), 0

    def give_to(self, worker: _Worker) -> None:
        """One more worker, where a thread can be had for it."""
        with self._changed:
            self._busy += 1
        try:
            Thread(target=self._drive, args=(worker,), daemon=True).start()
        except NOT_HAD:
            self._end()

    def _drive(self, worker: _Worker) -> None:
        while (i := self._taken()) is not None:
            answers = worker.ask(self._work, self._shares[i])
            with self._changed:
                self._answers[i] = answers
                if answers is None and worker.is_dead:
                    self._left.appendleft(i)  # for another one
                    break
                if answers is None:  # it fails here as well, where that can be told
                    self._left.clear()
                self._changed.notify()
        self._end()

    def _taken(self) -> int | None:
        with self._changed:
            return self._left.popleft() if self._left else None

    def _end(self) -> None:
        with self._changed:
            self._busy -= 1
            self._changed.notify()

    def answers(self) -> Iterator[Any]:
        """In the jobs' order, as they come; what no worker has answered is worked out here."""
        for i, share in enumerate(self._shares):
            with self._changed:
                self._changed.wait_for(lambda i=i: self._answers[i] is not None or not self._busy)  # type: ignore[misc]
            answers = self._answers[i]
            yield from ([self._work(self._state, job) for job in share] if answers is None else answers)


class _Worker:
    """A process that answers one share at a time; is_dead : nothing comes from it any more."""

    def __init__(self, process: BaseProcess, pipe: Connection) -> None:
        self.process, self._pipe, self._free = process, pipe, Lock()
        self.is_dead = False

    def ask(self, work: Callable[[Any, Any], Any], jobs: Sequence[Any]) -> list[Any] | None:
        """The answers; None where it has failed at one, or is dead."""
        with self._free:
            try:
                self._pipe.send((work, jobs))
                answers: list[Any] | None = self._pipe.recv()
            except Exception:  # whatever half a message reads as
                self.is_dead = True
                return None
        return answers


def cores() -> int:
    """Processor cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def quick_cores() -> int:
    """The same where another process begins at once, as a copy of this one; else 1."""
    return cores() if sys.platform == "linux" else 1


@contextmanager
def when_waiting(work: Callable[[], object]) -> Iterator[None]:
    """Something that is needed later, as a library, is made ready while others work for this process, if any do."""
    _for_later.append(work)
    try:
        yield
    finally:
        if work in _for_later:
            _for_later.remove(work)


@contextmanager
def without_collecting() -> Iterator[None]:
    """Without the search for reference cycles, which would go through hundreds of thousands of rows again and again."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


@contextmanager
def _shared() -> Iterator[None]:
    """What is there already stays shared with new processes, which would copy what they sort through.

    What others have frozen stays so: it cannot be told from ours when it thaws.
    """
    if gc.get_freeze_count():
        yield
        return
    gc.freeze()
    try:
        yield
    finally:
        gc.unfreeze()


@contextmanager
def worker_pool(state: Any, processes: int) -> Iterator[Map]:
    """A map over jobs that all look at one state; with one process, or where no other can be had, all happens here."""
    if processes < 2:
        yield Map(state)
        return
    before = len(_pipes)
    workers: list[_Worker] = []
    try:
        with _shared():
            with kept_waiting():  # nothing is begun that is not ended
                _begin(state, processes, workers)
            yield Map(state, workers)
    finally:  # nobody waits for what is left to do, least of all after Ctrl-C
        for worker in workers:
            worker.process.kill()
        for worker in workers:
            worker.process.join()
        del _pipes[before:]


def _begin(state: Any, processes: int, workers: list[_Worker]) -> None:
    """So many processes, or as many as can be had."""
    try:
        from multiprocessing import get_context

        context: BaseContext = get_context("fork" if sys.platform == "linux" else None)
        for _ in range(processes):
            ours, theirs = context.Pipe()
            _pipes.append(ours)
            process = context.Process(target=_serve, args=(state, theirs), daemon=True)  # type: ignore[attr-defined]
            with theirs, warnings.catch_warnings():
                warnings.simplefilter("ignore", DeprecationWarning)  # of threads at a fork: they wait for workers
                process.start()
            workers.append(_Worker(process, ours))
    except NOT_HAD:
        return


def _serve(state: Any, pipe: Connection) -> None:
    """What a worker does: answer shares of jobs, for as long as its parent lives."""
    by_default()
    tell_nobody()
    for others in _pipes:  # else no worker sees that its parent has closed them
        others.close()
    null = os.open(os.devnull, os.O_RDWR)
    for number in range(3):  # whoever reads what the parent prints waits for nobody else
        os.dup2(null, number)
    with suppress(*NOT_HAD):
        Thread(target=_end_with_parent, daemon=True).start()
    with suppress(EOFError, OSError):
        while True:
            work, jobs = pipe.recv()
            try:
                answers = [work(state, job) for job in jobs]
            except Exception:  # it is tried again where it can be told
                answers = None
            pipe.send(answers)


def _end_with_parent() -> None:
    from multiprocessing import connection, parent_process

    parent = parent_process()
    if parent is not None:
        connection.wait([parent.sentinel])
        os._exit(1)
