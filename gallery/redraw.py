"""Draw every picture of the gallery again: python gallery/redraw.py

The commands stand in the page itself: those in `sh` blocks leave a file beside it, those in `console` blocks are shown
with what they print, here and in the README. The tests of both run them all.
"""

from __future__ import annotations

import contextlib
import re
import shlex
import sys
from pathlib import Path

from click.testing import CliRunner

from fitment.cli import cli

HERE = Path(__file__).parent
PAGE, README = HERE / "README.md", HERE.parent / "README.md"
CONSOLE = re.compile(r"```console\n\$ (fitment [^\n]*)\n(.*?)\n```", re.DOTALL)


def drawing(page: str) -> list[str]:
    """The commands whose files are part of the gallery."""
    blocks = re.findall(r"```sh\n(.*?)```", page, re.DOTALL)
    return [line for block in blocks for line in block.splitlines()]


def mentioned(page: str) -> list[str]:
    """The commands in the text, whose files are not kept."""
    return re.findall(r"`(fitment [^`\n]* --out [^`\n]*)`", page)


def run(line: str) -> str:
    """What a command prints, run where its files are to be; raises SystemExit when it is refused."""
    words = [str(HERE.parent / word) if word.startswith("profiles/") else word for word in shlex.split(line)[1:]]
    result = CliRunner().invoke(cli, words)
    if result.exit_code not in (0, 1):  # 1: the setup does not clear, which is what some commands show
        raise SystemExit(f"{line}\n{result.output}")
    return result.stdout


def shown(line: str) -> str:
    """What a line of a console block shows: a command, or one with `| head -N` or `| grep -A N TEXT` (found once)."""
    command, _, pipe = line.partition(" | ")
    rows = [row.rstrip() for row in run(command).rstrip().splitlines()]
    words = shlex.split(pipe)
    if words[:1] == ["head"]:
        rows = rows[: int(words[1].removeprefix("-"))]
    elif words:
        (found,) = (number for number, row in enumerate(rows) if words[3] in row)
        rows = rows[found : found + 1 + int(words[2])]
    return "\n".join(rows)


def redraw() -> None:
    """Write every file of the gallery, and what the console blocks of its page and of the README show."""
    with contextlib.chdir(HERE):
        for line in drawing(PAGE.read_text(encoding="utf-8")):
            run(line)
            sys.stdout.write(f"{line}\n")
    for page in (PAGE, README):
        with contextlib.chdir(page.parent):
            text = CONSOLE.sub(_block, page.read_text(encoding="utf-8"))
        page.write_text(text, encoding="utf-8")


def _block(found: re.Match[str]) -> str:
    return f"```console\n$ {found[1]}\n{shown(found[1])}\n```"


if __name__ == "__main__":
    redraw()
