"""How far a long piece of work is, for whoever listens; where nobody does, nothing happens.

Work says what it does in coarse stages, never within a loop over numbers. The command line listens at a terminal.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sized
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from time import monotonic
from typing import Protocol, TypeVar

Item = TypeVar("Item")

LEAST_STEPS, LEAST_DONE = 4, 2  # of a stage, before what is left of it can be told from what is done


@dataclass(eq=False)  # two stages alike are two
class Stage:
    """A piece of work while it lasts.

    words : what is done; total : steps it has, 0 where they are not counted
    even : whether one takes about as long as another
    began, at : when it began, and when its last step was done [s]; done : steps behind it
    """

    words: str
    total: int
    even: bool
    began: float
    at: float = 0.0
    done: int = 0

    def step(self) -> None:
        """One more is done."""
        self.done, self.at = self.done + 1, monotonic()

    def left(self, now: float) -> float | None:
        """The time left of it [s], from the share that is done; None where that tells nothing."""
        if not self.even or self.total < LEAST_STEPS or self.done < LEAST_DONE:
            return None
        whole = (self.at - self.began) * self.total / self.done
        return max(self.began + whole - now, 0.0)


class Listener(Protocol):
    """Who is told of stages, each within those that began before it."""

    def began(self, stage: Stage) -> None:
        """A stage begins."""

    def ended(self, stage: Stage) -> None:
        """It is done, or left."""


_LISTENER: ContextVar[Listener | None] = ContextVar("listener", default=None)


@contextmanager
def told_to(listener: Listener | None) -> Iterator[None]:
    """While it lasts, that one is told of every stage."""
    before = _LISTENER.set(listener)
    try:
        yield
    finally:
        _LISTENER.reset(before)


def tell_nobody() -> None:
    """For good, as in a worker process."""
    _LISTENER.set(None)


@contextmanager
def doing(words: str) -> Iterator[None]:
    """A stage whose steps nobody counts."""
    listener = _LISTENER.get()
    if listener is None:
        yield
        return
    stage = Stage(words, 0, even=False, began=monotonic())
    listener.began(stage)
    try:
        yield
    finally:
        listener.ended(stage)


def steps(words: str, items: Iterable[Item], total: int | None = None, *, even: bool = True) -> Iterator[Item]:
    """The items, one a step of a stage; even : each takes about as long, so that the time left can be told."""
    listener = _LISTENER.get()
    if listener is None:
        yield from items
        return
    count = total if total is not None else len(items) if isinstance(items, Sized) else 0
    stage = Stage(words, count, even, monotonic())
    listener.began(stage)
    try:
        for item in items:
            yield item
            stage.step()
    finally:
        listener.ended(stage)
