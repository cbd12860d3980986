"""Signals that end the program: they wait while something is half done, and are heard once.

SIGTERM and SIGHUP are heard as Ctrl-C is, so that whatever tidies up after that does so after all of them.
"""

from __future__ import annotations

import _thread
import os
import signal
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from threading import main_thread
from types import CodeType, FrameType

ENDING = tuple(getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name))
ALL = (signal.SIGINT, *ENDING)
GRACE = 5.0  # [s] for tidying up after a signal that no person can send again
_heard: list[int] = []


def listen() -> None:
    """SIGTERM and SIGHUP raise KeyboardInterrupt from now on, unless whoever started this has them ignored."""
    for number in ENDING:
        if signal.getsignal(number) is signal.SIG_DFL:
            signal.signal(number, _hear)


def _hear(number: int, _frame: FrameType | None) -> None:
    ignore()
    if not _heard:
        _heard.append(number)
        _thread.start_new_thread(_insist, (128 + number,))
    raise KeyboardInterrupt


def _insist(code: int) -> None:
    """End where a library swallowed what was raised, or what is read or written has stalled."""
    time.sleep(GRACE)
    os._exit(code)


def ignore() -> None:
    """Whatever comes now has been heard already."""
    for number in ALL:
        signal.signal(number, signal.SIG_IGN)


def again(what: type[BaseException], hook: CodeType) -> bool:
    """Whether it was an interrupt that Python cannot raise where it came; then it is raised once more.

    hook : the code of what was called in place of raising it, in which it would be lost as well
    """
    if issubclass(what, KeyboardInterrupt):
        number = signal.Signals(_heard[0] if _heard else signal.SIGINT)
        if _heard:
            signal.signal(number, _hear)
        _thread.start_new_thread(_raise_after, (number, hook))
        return True
    return False


def _raise_after(number: signal.Signals, hook: CodeType) -> None:
    """As soon as the main thread has left the hook."""
    while _runs(hook):
        time.sleep(0.001)
    _thread.interrupt_main(number)


def _runs(code: CodeType) -> bool:
    """Whether the main thread is in it."""
    frame = sys._current_frames().get(main_thread().ident or 0)
    while frame is not None and frame.f_code is not code:
        frame = frame.f_back
    return frame is not None


def exit_code() -> int:
    """As a shell has it: 130 after Ctrl-C, 143 after SIGTERM, 129 after SIGHUP."""
    return 128 + (_heard[0] if _heard else signal.SIGINT)


def is_ending() -> bool:
    """Whether one of the signals came that ask for no answer."""
    return bool(_heard)


def became(error: BaseException) -> bool:
    """Whether Ctrl-C turned into this error on its way, as where it came between a lock and what the lock is for.

    Not once it has been heard (`ignore`): what fails after that, as while answers are kept, is a fault of its own.
    """
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        return False
    left, seen = [error], set()
    while left:
        each = left.pop()
        if isinstance(each, KeyboardInterrupt):
            return True
        seen.add(id(each))
        left += [e for e in (each.__cause__, each.__context__) if e is not None and id(e) not in seen]
    return False


def by_default() -> None:
    """In a process of its own, that its parent ends: as the system has it, and Ctrl-C is for the parent."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    for number in ENDING:
        signal.signal(number, signal.SIG_DFL)
    if hasattr(signal, "pthread_sigmask"):
        signal.pthread_sigmask(signal.SIG_UNBLOCK, ENDING)


@contextmanager
def kept_waiting() -> Iterator[None]:
    """While it lasts, a signal that would end this waits."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, ALL)
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def leave(code: int) -> None:
    """End at once, by no signal of our own, with all that was printed.

    By the usual way Python ends itself by the signal when that came while a text was being run as code, as dataclasses
    are made: it minds that as not caught, though it was.
    """
    for stream in (sys.stdout, sys.stderr):
        with suppress(OSError, ValueError, AttributeError):
            stream.flush()
    os._exit(code)
