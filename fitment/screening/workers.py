"""The same work on many jobs, on several processor cores where that pays."""

from __future__ import annotations

import gc
import os
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeVar

from fitment.progress import steps, tell_nobody

if TYPE_CHECKING:  # two dozen modules, for lists alone
    from concurrent.futures import ProcessPoolExecutor

Job = TypeVar("Job")
Answer = TypeVar("Answer")

MOST = 200  # jobs taken side by side

_state: list[Any] = []


class Map:
    """Runs a module-level function (state, job) on every job; answers come in the jobs' order."""

    def __init__(self, state: Any, pool: ProcessPoolExecutor | None = None, processes: int = 1) -> None:
        self._state, self._pool, self._processes = state, pool, processes

    def __call__(self, work: Callable[[Any, Job], Answer], jobs: Sequence[Job], words: str) -> list[Answer]:
        """The answers; words : what is done, for who waits."""
        return self.start(work, jobs, words)()

    def start(self, work: Callable[[Any, Job], Answer], jobs: Sequence[Job], words: str) -> Callable[[], list[Answer]]:
        """The same in the background; what is returned waits for the answers. With one process they are made then."""
        if self._pool is None:
            return lambda: [work(self._state, job) for job in steps(words, jobs)]
        size = max(1, min(8, len(jobs) // (16 * self._processes)))
        answers = self._pool.map(_call, [work] * len(jobs), jobs, chunksize=size)
        return lambda: list(steps(words, answers, len(jobs)))

    def dealt(
        self, work: Callable[[Any, Sequence[Job]], Sequence[Answer]], jobs: Sequence[Job], words: str
    ) -> list[Answer]:
        """The answers of a function (state, several jobs) that takes jobs side by side, at most MOST at once."""
        hands = max(self._processes, -(-len(jobs) // MOST))
        dealt = [jobs[hand::hands] for hand in range(hands)]
        answers: list[Any] = [None] * len(jobs)
        for hand, own in enumerate(self(work, [share for share in dealt if share], words)):
            answers[hand::hands] = own
        return answers


def cores() -> int:
    """Processor cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def quick_cores() -> int:
    """The same where another process begins at once, as a copy of this one; else 1."""
    return cores() if sys.platform == "linux" else 1


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
    """A map over jobs that all look at one state; with one process everything happens here."""
    if processes < 2:
        yield Map(state)
        return
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import active_children

    before = set(active_children())
    with _shared(), ProcessPoolExecutor(processes, initializer=_begin, initargs=(state,)) as pool:
        try:
            with _uninterrupted():
                pool.submit(cores)  # the processes begin
            yield Map(state, pool, processes)
        except BaseException:  # nobody waits for what is left to do, least of all after Ctrl-C
            pool.shutdown(wait=False, cancel_futures=True)
            for worker in set(active_children()) - before:
                worker.terminate()
            raise


@contextmanager
def _uninterrupted() -> Iterator[None]:
    """Without Ctrl-C, which waits; a process that begins meanwhile does not hear it, its parent ends it."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _begin(state: Any) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # where a process is not begun as a copy
    tell_nobody()
    _state[:] = [state]


def _call(work: Callable[[Any, Job], Answer], job: Job) -> Answer:
    return work(_state[0], job)
