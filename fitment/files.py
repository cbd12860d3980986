"""Files appear whole or not at all; every file that the program writes comes from here."""

from __future__ import annotations

import errno
import os
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from fitment.errors import FitmentError
from fitment.interrupts import kept_waiting

MOST_LINKS = 40  # that lead from one to the next, as Linux has it
DEVICES = ("/dev", "/proc")
BUSY = -1  # no number of an open file
NO_DISK = (errno.EINVAL, errno.ENOTSUP)  # of fsync, where there is nothing to wait for


def write_whole(path: str | Path, content: bytes) -> None:
    """Put a file in its place at once, on the disk before this returns; a pipe or a device is written to.

    What is there keeps its rights, and a link to it stays one. Raises FitmentError when it cannot.
    """
    check_place(path)
    try:
        target = _led_to(Path(path))
        if _is_written_to(target):
            _pour(target, content)
        else:
            with kept_waiting():  # a signal leaves no temporary file
                _replace(target, content)
    except OSError as error:
        raise _cannot(path, error) from None


def check_place(path: str | Path) -> None:
    """Raises FitmentError for a place where no file can be written; asked before any work is done for it."""
    try:
        target = _led_to(Path(path))
        mode = _mode(target)
        folder = target.parent
        if mode is None and not folder.is_dir():
            raise FitmentError(f"{path}: there is no folder {folder}; make it first.")
    except OSError as error:
        raise _cannot(path, error) from None
    if mode is not None and stat.S_ISDIR(mode):
        raise FitmentError(f"{path} is a folder; name a file in it.")
    if mode is not None and not mode & 0o222:
        raise FitmentError(f"{path} is protected against writing; choose another name.")
    if _is_written_to(target):
        if not os.access(target, os.W_OK):
            raise FitmentError(f"{path} may not be written to; choose another name.")
    elif not os.access(folder, os.W_OK | os.X_OK):
        raise FitmentError(f"{path} cannot be written: the folder {folder} takes no file; choose another one.")


@contextmanager
def held(path: Path) -> Iterator[bool]:
    """While it lasts a file is worked on here alone; False where another process works on it, whatever it is called.

    A hidden file beside it says so, and is gone afterwards. Where the system has no locks, nothing is held.
    """
    target = _led_to(path)
    beside = lock_of(target)
    with kept_waiting():
        number = _locked(beside)
    if number is None or number == BUSY:
        yield number is None
        return
    try:
        yield True
    finally:
        with kept_waiting():
            beside.unlink(missing_ok=True)
            os.close(number)


def lock_of(target: Path) -> Path:
    """The file beside another one that says that it is worked on."""
    return target.with_name(f".{target.name}.lock")


def _locked(beside: Path) -> int | None:
    """An open file that is locked, BUSY where another process has it; None where the system has no locks."""
    try:
        import fcntl

        while True:
            number = os.open(beside, os.O_RDWR | os.O_CREAT, 0o666)
            try:
                fcntl.flock(number, fcntl.LOCK_EX | fcntl.LOCK_NB)
                if os.path.samestat(os.fstat(number), beside.lstat()):
                    return number
            except FileNotFoundError:
                pass
            except OSError:
                os.close(number)
                raise
            os.close(number)  # whoever had it took it away just now
    except BlockingIOError:
        return BUSY
    except (ImportError, OSError):
        return None


def _cannot(path: str | Path, error: OSError) -> FitmentError:
    if error.errno == errno.ENAMETOOLONG:
        name = Path(path).name
        return FitmentError(f"{name[:40]}...: the name is too long for a file ({len(name)} letters); shorten it.")
    return FitmentError(f"{path} cannot be written: {error.strerror}.")


def _led_to(path: Path) -> Path:
    """Where links lead to; the name of a device, whatever stands behind it. Raises OSError for links in a circle."""
    for _ in range(MOST_LINKS):
        if any(path.is_relative_to(place) for place in DEVICES) or not path.is_symlink():
            return path
        path = path.parent / path.readlink()
    raise OSError(errno.ELOOP, os.strerror(errno.ELOOP))


def _mode(path: Path) -> int | None:
    """What the system has of a file: its kind and rights; None where there is none. Raises OSError."""
    try:
        return path.stat().st_mode
    except (FileNotFoundError, NotADirectoryError):
        return None


def _is_written_to(target: Path) -> bool:
    """Whether it is no file that another could take the place of: a pipe, a device, what stdout goes to."""
    mode = _mode(target)
    return mode is not None and (not stat.S_ISREG(mode) or any(target.is_relative_to(place) for place in DEVICES))


def _pour(target: Path, content: bytes) -> None:
    with suppress(OSError, ValueError, AttributeError):
        sys.stdout.flush()  # what was printed before stands before it, where both are one
    there = target.stat()
    ours = [number for number in (1, 2) if os.path.samestat(there, os.fstat(number))]  # a file has its place there
    number = os.dup(ours[0]) if ours else os.open(target, os.O_WRONLY | os.O_APPEND)
    with os.fdopen(number, "wb") as stream:
        stream.write(content)


def _replace(target: Path, content: bytes) -> None:
    made = target.with_name(f".fitment-{os.urandom(6).hex()}.tmp")
    try:
        with made.open("xb") as stream:  # a new file, with the rights that the system gives one
            _as_there(stream.fileno(), target)
            stream.write(content)
            stream.flush()
            _on_disk(stream.fileno())
        made.replace(target)
    finally:
        made.unlink(missing_ok=True)
    with suppress(OSError):  # no system for which a folder is not a file
        folder = os.open(target.parent, os.O_RDONLY)
        try:
            _on_disk(folder)
        finally:
            os.close(folder)


def _as_there(made: int, target: Path) -> None:
    """The rights of the file that is there, and its owner as far as that may be given."""
    try:
        there = target.stat()
    except FileNotFoundError:
        return
    if hasattr(os, "fchown"):
        for owner in (there.st_uid, -1):
            with suppress(PermissionError):
                os.fchown(made, owner, there.st_gid)
                break
        os.fchmod(made, stat.S_IMODE(there.st_mode))


def _on_disk(number: int) -> None:
    try:
        os.fsync(number)
    except OSError as error:
        if error.errno not in NO_DISK:
            raise
