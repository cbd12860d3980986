"""The gallery: every picture named exists, every command shown runs and draws it."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from fitment.cli import cli

GALLERY = Path(__file__).parent.parent / "gallery"
TEXT = (GALLERY / "README.md").read_text(encoding="utf-8")
SHOWN = [" ".join(found.split()) for found in re.findall(r"`fitment ([^`]*)`", TEXT)]


def commands() -> tuple[str, ...]:
    spec = importlib.util.spec_from_file_location("redraw", GALLERY / "redraw.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return tuple(module.COMMANDS)


def test_pictures_shown_exist_and_are_all_there_is() -> None:
    named = set(re.findall(r"\]\((\w+\.png)\)", TEXT))
    assert named == {path.name for path in GALLERY.glob("*.png")}


def test_page_and_script_name_the_same_commands() -> None:
    assert sorted(SHOWN) == sorted(commands())


@pytest.mark.parametrize("line", SHOWN)
def test_every_command_runs(line: str, tmp_path: Path) -> None:
    words = line.split()
    picture = tmp_path / words[-1]
    result = CliRunner().invoke(cli, [*words[:-1], str(picture)])
    assert result.exit_code in (0, 1), result.output
    assert picture.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"
