"""`python -m fitment` and the `fitment` command."""

from __future__ import annotations

import errno
import gc
import os
import sys
import traceback
from contextlib import suppress
from pathlib import Path
from typing import Any

from fitment import interrupts

SELDOM = (10_000, 20, 20)  # the search for reference cycles; at Python's own pace it is a tenth of a check
CRASHED = 70  # a fault of the program; 1 would be read as "does not clear"
NO_ROOM = 2  # as for a disk that is full
FEW_FILES = "Error: too few files may be open at once here (ulimit -n). Permit more, or close other programs.\n"
LITTLE_MEMORY = "Error: there is too little memory here. Close other programs, or ask for less at once.\n"


def main() -> None:
    """Run the command line. A fault of the program itself is one line and an exit code of its own."""
    # long lists go to several processes with small matrices each, where threads of the matrix library only wait
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # nothing that happens to be installed beside has a say in how a profile is read, nor is it looked for each time
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "1")
    gc.set_threshold(*SELDOM)
    try:
        _with_streams()
        interrupts.listen()
        sys.unraisablehook = _unraisable
        from fitment.cli import cli

        cli(prog_name="fitment")
    except KeyboardInterrupt:  # before the command line itself minds it
        _stopped()
    except SystemExit as end:
        if end.code == interrupts.exit_code():
            interrupts.leave(end.code)
        raise
    except Exception as error:  # whatever it is, it must not pass for an answer
        if interrupts.is_ending() or interrupts.became(error):  # a library took the signal for a fault of its own
            _stopped()
        if _lacks_memory(error):
            sys.stderr.write(LITTLE_MEMORY)
            sys.exit(NO_ROOM)
        if isinstance(error, OSError) and error.errno in (errno.EMFILE, errno.ENFILE):
            sys.stderr.write(FEW_FILES)
            sys.exit(NO_ROOM)
        if os.environ.get("FITMENT_TRACEBACK", "0") not in ("", "0"):
            traceback.print_exc()
        sys.stderr.write(_told(error) + "\n")
        sys.exit(CRASHED)
    finally:
        interrupts.ignore()  # all is done
        gc.freeze()  # the system takes all memory back at once, quicker than Python looks through it
        _let_go_of_messages()


def _with_streams() -> None:
    """Where whoever started this closed stdin, stdout or stderr, it is the null device: else the next file is it."""
    for number, name in enumerate(("stdin", "stdout", "stderr")):
        if getattr(sys, name) is None:
            null = os.open(os.devnull, os.O_RDWR)
            if null != number:
                os.dup2(null, number)
            setattr(sys, name, os.fdopen(number, "w" if number else "r", closefd=False))


def _let_go_of_messages() -> None:
    """What stderr does not take, as on a full disk, is lost; else Python tries again at its end, and exits with 120."""
    try:
        sys.stderr.flush()
    except (OSError, ValueError, AttributeError):
        with suppress(OSError, ValueError, AttributeError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stderr.fileno())


def _stopped() -> None:
    interrupts.ignore()
    with suppress(OSError):  # the terminal may be gone
        sys.stderr.write("Stopped.\n")
    interrupts.leave(interrupts.exit_code())


def _unraisable(what: Any) -> None:
    """Ctrl-C where Python cannot raise it, as while it tidies up, is asked again instead of being told and lost."""
    if not interrupts.again(what.exc_type, _unraisable.__code__):
        sys.__unraisablehook__(what)


def _lacks_memory(error: Exception) -> bool:
    """Whether it is memory that lacks, for data or for a library that is to be loaded.

    Library code that cannot have memory may fail without saying why, of which Python makes a SystemError.
    """
    words = ("Cannot allocate memory", "failed to map segment", "error return without exception set")
    return isinstance(error, MemoryError) or (
        isinstance(error, ImportError | OSError | SystemError) and any(each in str(error) for each in words)
    )


def _told(error: Exception) -> str:
    """One line: what failed, and where to look."""
    from fitment.terminal import cell

    frames = traceback.extract_tb(error.__traceback__)
    own = [frame for frame in frames if Path(__file__).parent in Path(frame.filename).parents] or frames
    where = f"{Path(own[-1].filename).name}, line {own[-1].lineno}" if own else "an unknown place"
    what = cell(f"{type(error).__name__}: {error}")[:200]
    return (
        f"Error: a fault of fitment itself, not an answer: {what} ({where}). With FITMENT_TRACEBACK=1 in the "
        "environment the command shows the whole way there."
    )


if __name__ == "__main__":
    main()
