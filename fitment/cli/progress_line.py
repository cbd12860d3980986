"""The line on stderr that says what takes so long, at a terminal only; it is gone when something is printed."""

from __future__ import annotations

import os
import signal
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from time import monotonic
from types import FrameType
from typing import Any

from fitment.progress import Stage, told_to

SHOWN_AFTER, EVERY, SOON = 1.0, 0.25, 0.01  # [s]
SETTLED = 1.0  # [s] that a stage within another one lasts before it is worth saying
ERASED = "\r\x1b[2K"


class ProgressLine:
    """What is done just now, drawn again and again over itself."""

    def __init__(self, columns: int) -> None:
        self._columns, self._stages, self._began = columns, list[Stage](), monotonic()
        self._drawn = self._held = False

    def began(self, stage: Stage) -> None:
        """A stage begins; the timer runs only while there is one, since it would disturb Ctrl-C at a question."""
        self._stages.append(stage)
        if len(self._stages) == 1:
            signal.setitimer(signal.ITIMER_REAL, max(self._began + SHOWN_AFTER - monotonic(), SOON), EVERY)

    def ended(self, stage: Stage) -> None:
        """It is done, or left; after the last one nothing is drawn."""
        self._stages.remove(stage)
        if not self._stages:
            signal.setitimer(signal.ITIMER_REAL, 0)
            self.erase()

    def draw(self) -> None:
        """The line as it is now; nothing before it is worth saying."""
        now = monotonic()
        if self._stages and not self._held and now - self._began > SHOWN_AFTER:
            self._drawn = True
            _put(ERASED + line_of(self._stages, now)[: self._columns - 1])

    def erase(self) -> None:
        """The line is as if it had never been."""
        if self._drawn:
            self._drawn = False
            _put(ERASED)

    @contextmanager
    def aside(self) -> Iterator[None]:
        """While it lasts, others print."""
        self._held = True
        self.erase()
        try:
            yield
        finally:
            self._held = False


def line_of(stages: list[Stage], now: float) -> str:
    """What is done, the widest stage first: 'windows 3 of 12 (about 20 s left): moving the suspension'."""
    told = [stage for i, stage in enumerate(stages) if i == 0 or now - stage.began > SETTLED]
    return f"{': '.join(_words(stage, now) for stage in told)} ..."


def _words(stage: Stage, now: float) -> str:
    count = f" {min(stage.done + 1, stage.total)} of {stage.total}" if stage.total > 1 else ""
    left = stage.left(now)
    return f"{stage.words}{count}" + ("" if left is None else f" ({left_words(left)})")


def left_words(seconds: float) -> str:
    """A time that is left, no finer than it can be told."""
    if seconds < 10:
        return f"about {max(round(seconds), 1)} s left"
    return f"about {5 * round(seconds / 5)} s left" if seconds < 100 else f"about {round(seconds / 60)} min left"


def _put(text: str) -> None:
    """Past Python's own buffer, so that it may happen at any time."""
    with suppress(OSError, ValueError):  # nobody reads it any more
        os.write(sys.stderr.fileno(), text.encode("ascii", "replace"))


_shown: list[ProgressLine] = []


@contextmanager
def progress_shown(columns: int | None) -> Iterator[None]:
    """While it lasts, what takes more than a second is said on a terminal of so many columns; None: nowhere."""
    alarm = getattr(signal, "SIGALRM", None)
    if columns is None or alarm is None or threading.current_thread() is not threading.main_thread():
        yield
        return
    line = ProgressLine(columns)

    def tick(_number: int, _frame: FrameType | None) -> None:
        line.draw()

    before: Any = signal.signal(alarm, tick)
    _shown.append(line)
    try:
        with told_to(line):
            yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(alarm, before)
        _shown.remove(line)
        line.erase()


@contextmanager
def line_aside() -> Iterator[None]:
    """While it lasts something else is printed."""
    if not _shown:
        yield
        return
    with _shown[-1].aside():
        yield
