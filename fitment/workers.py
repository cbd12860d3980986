"""The same work on many jobs, on several processor cores where that pays."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from typing import Any, Protocol, TypeVar

Job = TypeVar("Job")
Answer = TypeVar("Answer")

_state: list[Any] = []


class Map(Protocol):
    """Runs a module-level function (state, job) on every job; answers come in the jobs' order."""

    def __call__(self, work: Callable[[Any, Job], Answer], jobs: Sequence[Job]) -> list[Answer]: ...


def cores() -> int:
    """Processor cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@contextmanager
def workers(state: Any, processes: int) -> Iterator[Map]:
    """A map over jobs that all look at one state; with one process everything happens here."""
    if processes < 2:
        yield lambda work, jobs: [work(state, job) for job in jobs]
        return
    with ProcessPoolExecutor(processes, initializer=_begin, initargs=(state,)) as pool:

        def spread(work: Callable[[Any, Job], Answer], jobs: Sequence[Job]) -> list[Answer]:
            size = max(1, min(8, len(jobs) // (4 * processes)))
            return list(pool.map(_call, [work] * len(jobs), jobs, chunksize=size))

        yield spread


def _begin(state: Any) -> None:
    _state[:] = [state]


def _call(work: Callable[[Any, Job], Answer], job: Job) -> Answer:
    return work(_state[0], job)
