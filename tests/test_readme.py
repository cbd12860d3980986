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


@pytest.mark.parametrize(("command", "output"), SHOWN, ids=[command for command, _ in SHOWN])
def test_shown_output_is_real(command: str, output: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    line, _, cut = command.partition(" | head -")
    printed = CliRunner().invoke(cli, shlex.split(line)[1:]).stdout.rstrip().splitlines()
    assert [row.rstrip() for row in (printed[: int(cut)] if cut else printed)] == output.splitlines()


def test_two_commands_of_one_line_stand_first() -> None:
    blocks = re.findall(r"```(\w+)\n(.*?)```", README, re.DOTALL)
    assert [kind for kind, _ in blocks[:2]] == ["sh", "sh"]
    assert all(text.count("\n") == 1 for _, text in blocks[:2])


def test_files_it_names_exist() -> None:
    for name in re.findall(r"\]\(([^)#]+)\)", README):
        assert (ROOT / name).exists(), name
