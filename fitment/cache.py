"""What is dear to work out, kept in files between runs: in the user's cache folder, safe to delete at any time.

An entry's name is a hash of all that decides what it holds: the values it was made of, and the program's own source and
libraries, so that a changed program never reads what another one wrote. Nothing here changes an answer or fails a
command: what cannot be read, or is odd, counts as not there, and what cannot be written is not kept.
"""

from __future__ import annotations

import os
import platform
import re
import stat
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import fields, is_dataclass
from functools import lru_cache
from hashlib import blake2b
from io import BytesIO
from pathlib import Path
from time import time
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fitment import LOADED

VARIABLE = "FITMENT_CACHE"  # a folder in which to keep things, or OFF
OFF = "off"
MOST = 256 << 20  # [bytes] of all entries; the one used longest ago goes first
LARGEST = 64 << 20  # [bytes] of one
LEAST = 4096  # [bytes] that a file takes on a disk
STALE = 3600.0  # [s] after which a file that is being written belongs to nobody any more
JUST_NOW = 0.05  # [s] to which a system tells when a file changed
OPEN = os.O_RDONLY | sum(getattr(os, name, 0) for name in ("O_NOFOLLOW", "O_NONBLOCK", "O_CLOEXEC", "O_BINARY"))
ENTRY = re.compile(r"[0-9a-f]{40}\.npy")
UNFINISHED = re.compile(r"[0-9a-f]{40}\.[0-9a-f]{16}\.tmp")

_unused: list[bool] = []  # not empty while nothing is to be read or kept


@contextmanager
def unused() -> Iterator[None]:
    """Nothing is read or kept while it lasts."""
    _unused.append(True)
    try:
        yield
    finally:
        _unused.pop()


def name_of(*values: object) -> str | None:
    """The name of what is made of these values: records, tuples, texts, numbers. None where nothing is kept."""
    if _unused or _folder() is None:
        return None
    program = _program()
    try:
        return None if program is None else _hash(program, values).hex()
    except TypeError:  # a value of another kind
        return None


def kept(name: str, count: int) -> list[NDArray[Any]] | None:
    """The arrays kept under a name; None where there are none, or not so many. Their values are not checked."""
    folder = _folder()
    if folder is None or not _is_ours(folder):
        return None
    path = folder / f"{name}.npy"
    try:
        raw = _read(path)
        if raw is None:
            return None
        stream = BytesIO(raw)
        stream.seek(len(_head(name, b"")))
        if _head(name, raw[stream.tell() :]) != raw[: stream.tell()]:
            return None
        arrays = [np.lib.format.read_array(stream, allow_pickle=False) for _ in range(count)]
    except Exception:  # whatever somebody has put there
        return None
    with suppress(OSError):
        os.utime(path)  # it was of use just now
    return arrays if stream.tell() == len(raw) else None


def keep(entries: Mapping[str, Sequence[NDArray[Any]]]) -> None:
    """Keep arrays under their names, as far as that is possible, and throw out what is too much then."""
    folder = _folder()
    if not entries or folder is None:
        return
    with suppress(OSError, MemoryError):
        _make(folder)
        if not _is_ours(folder):
            return
        for name, arrays in entries.items():
            _write(folder, name, _file(name, arrays))
        _prune(folder)


# ---------------------------------------------------------------- where


def _folder() -> Path | None:
    """Where entries are; None where nothing is kept. It need not be there."""
    told = os.environ.get(VARIABLE, "").strip()
    if told.lower() == OFF:
        return None
    base = Path(told) if told else _users_caches()
    return base / "fitment" if base is not None and base.is_absolute() else None


def _users_caches() -> Path | None:
    """Where this system has the user's caches; None where the user has no home."""
    name = {"win32": "LOCALAPPDATA", "darwin": ""}.get(sys.platform, "XDG_CACHE_HOME")
    told = Path(os.environ.get(name, "") if name else "")
    if told.is_absolute():
        return told
    inside = {"win32": ("AppData", "Local"), "darwin": ("Library", "Caches")}.get(sys.platform, (".cache",))
    try:
        return Path.home().joinpath(*inside)
    except RuntimeError:
        return None


def _make(folder: Path) -> None:
    """The folder, unless it would come to lie among what belongs to somebody else, as with sudo. Raises OSError."""
    if not folder.exists():
        there = next(place for place in folder.parents if place.exists())
        if os.environ.get(VARIABLE) or not hasattr(os, "geteuid") or there.stat().st_uid == os.geteuid():
            folder.mkdir(0o700, parents=True, exist_ok=True)


def _is_ours(folder: Path) -> bool:
    """Whether the folder is there and nobody else may write in it: what lies there is believed."""
    try:
        there = folder.lstat()
    except OSError:
        return False
    if not hasattr(os, "geteuid"):
        return stat.S_ISDIR(there.st_mode)
    return stat.S_ISDIR(there.st_mode) and there.st_uid == os.geteuid() and not there.st_mode & 0o022


# ---------------------------------------------------------------- names


def _hash(*values: object) -> bytes:
    return blake2b(repr(_plain(values)).encode(errors="surrogateescape"), digest_size=20).digest()


def _plain(value: object) -> object:
    """A value as tuples of texts and numbers, each of which `repr` tells to the last bit."""
    if value is None or isinstance(value, bool | int | float | str | bytes):
        return value
    if isinstance(value, tuple):
        return tuple(map(_plain, value))
    if isinstance(digest := getattr(value, "digest", None), str):  # of more numbers than anyone spells out
        return type(value).__qualname__, digest
    if is_dataclass(value):
        return type(value).__qualname__, *(_plain(getattr(value, field.name)) for field in fields(value))
    raise TypeError(f"{type(value).__name__} has no name")


@lru_cache(maxsize=1)
def _program() -> bytes | None:
    """A hash of this program and what it computes with; None where its source is not known, or is no longer this."""
    import shapely

    root = Path(__file__).parent
    told = [sys.version, platform.machine(), np.__version__, shapely.__version__, shapely.geos_version_string]
    whole = blake2b("\n".join(told).encode(), digest_size=20)
    try:
        for path in sorted(path for path in root.rglob("*") if path.suffix not in ("", ".pyc")):
            changed = path.stat()
            if max(changed.st_ctime, changed.st_mtime) > LOADED - JUST_NOW:
                return None  # what runs may be what was there before
            whole.update(_hash(str(path.relative_to(root)), path.read_bytes()))
    except OSError:
        return None
    return whole.digest() if Path(__file__).suffix == ".py" and Path(__file__).is_file() else None


# ---------------------------------------------------------------- files


def _file(name: str, arrays: Sequence[NDArray[Any]]) -> bytes:
    body = b"".join(map(_saved, arrays))
    return _head(name, body) + body


def _head(name: str, body: bytes) -> bytes:
    """What an entry begins with, by which it is known to be whole and to be the one of that name."""
    return _saved(np.frombuffer(blake2b(name.encode() + body).digest(), np.uint8))


def _saved(array: NDArray[Any]) -> bytes:
    stream = BytesIO()
    np.lib.format.write_array(stream, array, allow_pickle=False)
    return stream.getvalue()


def _read(path: Path) -> bytes | None:
    """A file's content; None where it is no plain file or too large. Raises OSError."""
    number = os.open(path, OPEN)
    with os.fdopen(number, "rb") as stream:
        there = os.fstat(number)
        return stream.read() if stat.S_ISREG(there.st_mode) and there.st_size <= LARGEST else None


def _write(folder: Path, name: str, content: bytes) -> None:
    """A file that appears whole; not waited for until it is on the disk. Raises OSError."""
    if len(content) > LARGEST:
        return
    made = folder / f"{name}.{os.urandom(8).hex()}.tmp"
    try:
        with made.open("xb") as stream:
            stream.write(content)
        made.replace(folder / f"{name}.npy")
    finally:
        with suppress(OSError):
            made.unlink(missing_ok=True)


def _prune(folder: Path) -> None:
    """Throw out what was used longest ago until the rest is not too much. Raises OSError."""
    files = []
    with os.scandir(folder) as entries:
        for entry in entries:
            with suppress(OSError):  # another process may throw out the same
                there = entry.stat(follow_symlinks=False)
                if ENTRY.fullmatch(entry.name):
                    files.append((there.st_mtime, max(there.st_size, LEAST), entry.path))
                elif UNFINISHED.fullmatch(entry.name) and there.st_mtime < time() - STALE:
                    Path(entry.path).unlink()
    total = sum(size for _, size, _ in files)
    for _, size, path in sorted(files):
        if total <= MOST:
            return
        with suppress(OSError):
            Path(path).unlink()
        total -= size
