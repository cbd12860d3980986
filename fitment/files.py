"""Files appear whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from fitment.errors import FitmentError


def write_whole(path: str | Path, content: bytes) -> None:
    """Write beside the target under a temporary name, then rename. Raises FitmentError when it cannot."""
    target = Path(path)
    if target.is_dir():
        raise FitmentError(f"{target} is a folder; name a file in it.")
    if not target.parent.is_dir():
        raise FitmentError(f"{target}: there is no folder {target.parent}; make it first.")
    try:
        handle, name = tempfile.mkstemp(prefix=f".{target.name}.", suffix=".tmp", dir=target.parent)
    except OSError as error:
        raise FitmentError(f"{target} cannot be written: {error.strerror}.") from None
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
        Path(name).chmod(0o666 & ~_umask())
        Path(name).replace(target)
    except OSError as error:
        Path(name).unlink(missing_ok=True)
        raise FitmentError(f"{target} cannot be written: {error.strerror}.") from None


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
