"""Run inside a pty: one command at several widths and settings of the environment, its answer worked out once.

`python terminal_driver.py PLAIN WIDTHS WORDS...` prints each text between marks on the terminal, and writes what a pipe
would be given to the file PLAIN.
"""

from __future__ import annotations

import contextlib
import fcntl
import functools
import io
import os
import struct
import sys
import termios
from pathlib import Path

MARK = "=====8<====="
ASKED = ("check", "compare", "next_readings", "screen", "window", "poses", "align", "order")


def main(plain: str, widths: str, *words: str) -> None:
    """Every width, then 80 columns with NO_COLOR and with TERM=dumb, then the pipe."""
    from fitment import api
    from fitment.cli import cli

    os.environ.pop("NO_COLOR", None)
    os.environ.pop("COLUMNS", None)
    for name in ASKED:
        setattr(api, name, functools.cache(getattr(api, name)))

    def said() -> None:
        with contextlib.suppress(SystemExit):
            cli(list(words), prog_name="fitment")

    settings: list[tuple[int, dict[str, str]]] = [(int(width), {}) for width in widths.split(",")]
    settings += [(80, {"NO_COLOR": "1"}), (80, {"TERM": "dumb"})]
    for width, environment in settings:
        fcntl.ioctl(1, termios.TIOCSWINSZ, struct.pack("HHHH", 40, width, 0, 0))
        os.environ["TERM"] = "xterm-256color"
        os.environ.update(environment)
        said()
        sys.stdout.write(f"{MARK}\n")
        sys.stdout.flush()
        os.environ.pop("NO_COLOR", None)
    stream = io.StringIO()
    with contextlib.redirect_stdout(stream):
        said()
    Path(plain).write_text(stream.getvalue())


if __name__ == "__main__":
    main(*sys.argv[1:])
