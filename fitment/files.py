"""Files appear whole or not at all."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

from fitment.errors import FitmentError


def write_whole(path: str | Path, content: bytes, *, as_before: bool = False) -> None:
    """Write beside the target under a temporary name, then rename. Raises FitmentError when it cannot.

    as_before : the file that is there keeps its rights, and a link to it stays one
    """
    target = Path(path).resolve() if as_before else Path(path)
    if target.is_dir():
        raise FitmentError(f"{target} is a folder; name a file in it.")
    if not target.parent.is_dir():
        raise FitmentError(f"{target}: there is no folder {target.parent}; make it first.")
    made = target.with_name(f".{target.name}.{os.urandom(4).hex()}.tmp")
    try:
        with made.open("xb") as stream:  # a new file, with the rights that the system gives one
            stream.write(content)
        if as_before:
            shutil.copymode(target, made)
        made.replace(target)
    except OSError as error:
        raise FitmentError(f"{target} cannot be written: {error.strerror}.") from None
    finally:
        made.unlink(missing_ok=True)  # whatever stopped it, Ctrl-C too
