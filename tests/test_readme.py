"""The README tells the truth: every output it shows is what the command prints, every file it names exists."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from fitment.cli import cli

ROOT = Path(__file__).parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
SHOWN = re.findall(r"```console\n\$ (fitment [^\n]*)\n(.*?)\n```", README, re.DOTALL)


def piped(rows: list[str], pipe: str) -> list[str]:
    """What `head -N` or `grep -A N TEXT` (TEXT on one line only) leave of the rows."""
    if not pipe:
        return rows
    words = shlex.split(pipe)
    if words[0] == "head":
        return rows[: int(words[1].removeprefix("-"))]
    assert words[:2] == ["grep", "-A"], pipe
    (found,) = (number for number, row in enumerate(rows) if words[3] in row)
    return rows[found : found + 1 + int(words[2])]


@pytest.mark.slow
@pytest.mark.parametrize(("command", "output"), SHOWN, ids=[command for command, _ in SHOWN])
def test_shown_output_is_real(command: str, output: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    line, _, pipe = command.partition(" | ")
    printed = CliRunner().invoke(cli, shlex.split(line)[1:]).stdout.rstrip().splitlines()
    assert piped([row.rstrip() for row in printed], pipe) == output.splitlines()


def test_every_command_is_in_the_tour() -> None:
    assert [name for name in cli.commands if not re.search(rf"`?fitment {name}\b", README)] == []


def test_two_commands_of_one_line_stand_first() -> None:
    blocks = re.findall(r"```(\w+)\n(.*?)```", README, re.DOTALL)
    assert [kind for kind, _ in blocks[:2]] == ["sh", "sh"]
    assert all(text.count("\n") == 1 for _, text in blocks[:2])


def test_files_it_names_exist() -> None:
    for name in re.findall(r"\]\(([^)#]+)\)", README):
        assert (ROOT / name).exists(), name
