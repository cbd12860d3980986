"""The invented scan that comes with the program: made again byte by byte, as near as the tape has it, drawn lightly."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest
from click.testing import CliRunner

from fitment import api
from fitment.cli import cli
from fitment.profile import axle, load_profile, scans

ROOT = Path(__file__).parent.parent
TOLERANCE = 4.0  # [mm] of the scan, and of the parts read by tape


def script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("scan_demo", ROOT / "gallery" / "scan_demo.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_script_writes_the_scan_that_is_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    made = script()
    monkeypatch.setattr(made, "TARGET", tmp_path / "well.ply")
    made.write()
    there = (ROOT / "profiles" / "scanned_well.ply").read_bytes()
    head = there.index(b"end_header")
    again = (tmp_path / "well.ply").read_bytes()
    assert again[:head] == there[:head]
    assert len(again) == len(there) < 400_000
    count = int(there.split(b"element vertex ")[1].split()[0])
    places = [np.frombuffer(raw, "<f4", 3 * count, head + len("end_header\n")) for raw in (again, there)]
    assert np.abs(places[0] - places[1]).max() < 1e-5  # [m] another library's sine may differ in its last digit
    told = capsys.readouterr().out
    assert "lip top" in told
    assert told.splitlines()[-1] in (ROOT / "profiles" / "scanned.yaml").read_text()


def test_the_scan_lies_where_the_formulas_have_the_well() -> None:
    made = script()
    angles = np.linspace(-8.0, 188.0, 800)
    lines = np.stack([made.section(angle) for angle in angles])
    fine = np.concatenate([lines[:, :-1] + share * np.diff(lines, axis=1) for share in np.linspace(0, 1, 8)], axis=1)
    y, r, turn = fine[..., 0], fine[..., 1], np.radians(angles)[:, None]
    surface = np.stack([r * np.cos(turn), y, r * np.sin(turn)], axis=-1).reshape(-1, 3)
    for part in axle(load_profile("scanned"), "front").obstacles:
        assert part.mesh is not None
        off = np.array([np.linalg.norm(surface - place, axis=1).min() for place in part.mesh.vertices[::150]])
        assert off.max() < TOLERANCE


def test_by_the_old_rims_edge_it_lies_as_by_six_points() -> None:
    """Within what both say, and where the formulas have the edge: 53.9 mm outboard of the hub, leaning with it."""
    made, read = script(), load_profile("scanned")
    ((_, by_points),), ((_, by_rim),) = (scans(read, "front", build) for build in ("stock", "by_rim"))
    assert by_rim.kept == by_points.kept
    well = made.phone(made.body()[0][: 128 * 40])
    lies = [scan.placement.body(scan.in_mm(well)) for scan in (by_points, by_rim)]
    assert np.linalg.norm(lies[0] - lies[1], axis=1).max() < by_points.off + by_rim.off < 15.0
    fit = by_rim.placement.face.fit  # type: ignore[union-attr]
    there = made.on_hub(np.array([[0.0, 53.9, 0.0]]))
    assert np.linalg.norm(by_rim.placement.body(np.array([fit.centre])) - there) < by_rim.off
    assert not [text for text in read.warnings if "by_rim" in text and "granted" in text]


@pytest.mark.slow
def test_the_tape_and_the_scan_agree_within_their_tolerances() -> None:
    least = {}
    for build in ("wide", "taped"):
        (case,) = api.check("scanned", "front", build).cases
        for entry in case.fit.clearances:
            key = entry.part, "lip" if "lip" in entry.obstacle else "liner"
            least[build, key] = min(entry.clearance, least.get((build, key), np.inf))
    pairs = [(least["wide", key], least["taped", key]) for build, key in least if build == "wide"]
    assert len(pairs) == 4
    for scanned, taped in pairs:
        assert abs(scanned - taped) < 2 * TOLERANCE


@pytest.mark.slow
def test_the_drawing_is_light_and_names_every_reference_point(tmp_path: Path) -> None:
    target = tmp_path / "show.svg"
    result = CliRunner().invoke(cli, ["show", "scanned", "--out", str(target)])
    assert result.exit_code == 0, result.output
    told = " ".join(result.output.split())
    assert "Placed by 6 points; off after the fit: hub centre" in told
    assert "It has 3 holes" in told
    assert target.stat().st_size < 1_000_000
