"""The gallery: every file named exists, every command shown runs and leaves it, and what is shown is what comes out."""

from __future__ import annotations

import importlib.util
import re
import shlex
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from conftest import changes_of
from PIL import Image

GALLERY = Path(__file__).parent.parent / "gallery"
TEXT = (GALLERY / "README.md").read_text(encoding="utf-8")
STARTS = {".png": b"\x89PNG\r\n\x1a\n", ".gif": b"GIF89a", ".pdf": b"%PDF-", ".html": b"<!doctype html>"}
LARGEST = 4_000_000
"""Of all files together, in bytes: the gallery is part of every checkout."""


def script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("redraw", GALLERY / "redraw.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


REDRAW = script()
DRAWING = REDRAW.drawing(TEXT)
IN_README = REDRAW.CONSOLE.findall(REDRAW.README.read_text(encoding="utf-8"))
"""What the README shows word for word as well: `test_readme` runs it."""


def target(line: str) -> str:
    return shlex.split(line)[-1]


def test_every_file_is_shown_and_drawn_by_one_command() -> None:
    kept = sorted(path.name for path in GALLERY.iterdir() if path.suffix in STARTS)
    assert sorted(set(re.findall(r"\]\(([^)]+)\)", TEXT))) == kept
    assert sorted(map(target, DRAWING)) == kept


def test_every_command_of_the_page_is_run_here() -> None:
    """No command stands in the text in a way that neither the script nor these tests find."""
    known = {*DRAWING, *REDRAW.mentioned(TEXT), *(found[0] for found in REDRAW.CONSOLE.findall(TEXT)), "fitment new"}
    assert set(re.findall(r"(?:(?<=^)|(?<=^\$ )|(?<=`))fitment [^`\n]+", TEXT, re.MULTILINE)) == known


def test_it_is_small() -> None:
    assert sum(path.stat().st_size for path in GALLERY.iterdir() if path.is_file()) < LARGEST


@pytest.mark.slow
@pytest.mark.parametrize("line", [*DRAWING, *REDRAW.mentioned(TEXT)])
def test_command_runs_and_leaves_its_file(line: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    REDRAW.run(line)
    made = tmp_path / target(line)
    assert made.read_bytes().lower().startswith(STARTS[made.suffix].lower())
    if made.suffix == ".png" and line in DRAWING:
        same_picture(made, GALLERY / made.name)


def same_picture(made: Path, kept: Path) -> None:
    """Equal in size, and no more than a thousandth of the pixels another colour: other versions of the font renderer
    shade the edges of letters a little differently, and bytes are the same only with one version."""
    with Image.open(made) as one, Image.open(kept) as two:
        assert one.size == two.size
        apart = np.abs(np.asarray(one.convert("L"), dtype=int) - np.asarray(two.convert("L"), dtype=int)) > 64
    assert apart.mean() < 0.001


@pytest.mark.slow
@pytest.mark.parametrize(("line", "text"), [each for each in REDRAW.CONSOLE.findall(TEXT) if each not in IN_README])
def test_shown_output_is_real(line: str, text: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    if "--changes" in line:  # the slowest; that the command prints what the function answers is held elsewhere
        monkeypatch.setattr(REDRAW, "run", answered)
    assert REDRAW.shown(line) == text


def answered(command: str) -> str:
    """What `fitment check NAME --build BUILD --axle AXLE --changes --full` prints."""
    _, _, name, *options = shlex.split(command)
    assert (options[0], options[2], options[4:]) == ("--build", "--axle", ["--changes", "--full"])
    return changes_of(name, options[3], options[1]).full_text
