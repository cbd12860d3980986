"""Lines to cut along on a scan: the grid that stands for it, held against rays, formulas and dense poses.

Rays by Moeller and Trumbore's formula; poses by the solver and shapely (test_cut_lines).
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from conftest import run, run_json
from numpy.typing import NDArray
from test_cut_lines import least_distance

import fitment
from fitment.errors import FitmentError
from fitment.parts.obstacles import Obstacle
from fitment.parts.scan import ScanMesh
from fitment.parts.solid_panel import sheet_triangles
from fitment.scans.laid_grid import GridOver, grid_over

CENTRE, HEART = (0.0, 780.0, 0.0), (-30.0, 265.0)  # [mm] of the hub's face; the tire's middle from there
LINER = 500.0  # [mm] radius
Array = NDArray[np.float64]


def sheet(rows: int, columns: int, place: Any) -> ScanMesh:
    """A surface by a formula of two numbers from 0 to 1."""
    u, v = np.meshgrid(np.linspace(0, 1, rows), np.linspace(0, 1, columns), indexing="ij")
    return ScanMesh(place(u, v).reshape(-1, 3), sheet_triangles(rows, columns).astype(np.int32))


def liner(noise: float = 0.0, seed: int = 0, lift: float = 0.0) -> ScanMesh:
    """Half a drum about the hub's axis, 300 mm long."""
    rng = np.random.default_rng(seed)

    def place(u: Array, v: Array) -> Array:
        turn = np.pi * u
        radius = LINER + rng.uniform(-noise, noise, u.shape) - lift
        return np.stack([radius * np.cos(turn), 560 + 300 * v, radius * np.sin(turn)], -1)

    return sheet(110, 23, place)


def over(*meshes: ScanMesh) -> GridOver:
    return grid_over([Obstacle("well", "scan", mesh=mesh) for mesh in meshes], CENTRE, HEART)


def rows_of(panel: Obstacle) -> Array:
    return np.array(panel.points).reshape(-1, panel.columns, 3)


def before(mesh: ScanMesh, panel: Obstacle, count: int = 300) -> Array:
    """How far corners of a scan stand before a panel [mm], along rays from the tire's middle; nan for none."""
    rng = np.random.default_rng(1)
    own = mesh.vertices[rng.choice(len(mesh.vertices), count, replace=False)]
    rows = rows_of(panel)
    a, b, c = (rows.reshape(-1, 3)[sheet_triangles(*rows.shape[:2])[:, k]] for k in range(3))
    found = []
    for place in own:
        out = place - np.array(CENTRE)
        radius = np.hypot(out[0], out[2])
        eye = np.array(CENTRE) + np.array([HEART[1] * out[0] / radius, HEART[0], HEART[1] * out[2] / radius])
        way = (place - eye) / np.linalg.norm(place - eye)
        across = np.cross(way, c - a)
        size = np.sum((b - a) * across, axis=1)
        off = eye - a
        u = np.sum(off * across, axis=1) / size
        other = np.cross(off, b - a)
        v = np.sum(way * other, axis=1) / size
        along = np.sum((c - a) * other, axis=1) / size
        meets = (u > -1e-9) & (v > -1e-9) & (u + v < 1 + 1e-9) & (along > 0)
        found.append(along[meets].min() - np.linalg.norm(place - eye) if meets.any() else np.nan)
    return np.array(found)


def test_a_smooth_scan_and_its_grid_are_one() -> None:
    """A drum: nodes a chord's rise from it at most, by hand r (1 - cos(half a step)), and little stands before them."""
    found = over(liner())
    rows = rows_of(found.readings[0])
    step = np.pi / (len(rows) - 1)
    rise = LINER * (1 - np.cos(step / 2))
    radius = np.hypot(rows[..., 0], rows[..., 2])
    assert np.abs(radius - LINER)[1:-1, 1:-1].max() < rise
    assert np.abs(radius - LINER).max() < 1.5  # at the edges the mean is of one side, brought there along a slope
    assert found.off < 1.5
    assert found.bridged == 0
    assert rows[0, 0] == pytest.approx(rows[-1, 0] * [-1, 1, 1], abs=0.5)


@pytest.mark.parametrize("seed", range(4))
def test_no_place_of_a_rough_scan_stands_farther_before_its_grid_than_is_told(seed: int) -> None:
    mesh = liner(2.5, seed)
    found = over(mesh)
    stands = before(mesh, found.readings[0])
    assert np.isfinite(stands).sum() > 250
    assert 1.0 < np.nanmax(stands) <= found.off + 0.05
    assert found.off < 5.5
    assert found.readings[0].radius == pytest.approx(found.off)


def test_a_reading_that_moves_the_scan_moves_its_grid_alike() -> None:
    mesh = liner(1.5)
    moved = ScanMesh(mesh.vertices + np.array([2.0, -3.0, 0.5]), mesh.faces)
    found = over(mesh, moved)
    assert rows_of(found.readings[1]) - rows_of(found.readings[0]) == pytest.approx(
        np.broadcast_to([2.0, -3.0, 0.5], rows_of(found.readings[0]).shape)
    )


def test_a_hole_is_bridged_and_said() -> None:
    mesh = liner()
    middle = mesh.vertices[mesh.faces].mean(axis=1)
    hole = (np.abs(middle[:, 0]) < 110) & (np.abs(middle[:, 1] - 710) < 110) & (middle[:, 2] > 0)
    found = over(ScanMesh(mesh.vertices, mesh.faces[~hole]))
    assert 0.01 < found.bridged < 0.2
    radius = np.hypot(*rows_of(found.readings[0])[..., [0, 2]].T)
    assert radius.min() > LINER - 13  # a chord over the hole, by hand 110^2 / 2 / 500
    assert radius.max() < LINER + 1


def test_two_sheets_one_before_the_other_are_refused() -> None:
    one, two = liner(), liner(lift=60)
    both = ScanMesh(
        np.concatenate([one.vertices, two.vertices]), np.concatenate([one.faces, two.faces + len(one.vertices)])
    )
    with pytest.raises(FitmentError, match=r"no single sheet.*Part it"):
        over(both)


PART = ("profiles/scanned.yaml", "--axle", "front", "--build", "wide", "--part", "well: inner wall")


@pytest.mark.slow
def test_what_is_left_of_the_demo_scan_keeps_its_clearance_by_itself() -> None:
    """Corners of the scan beside the line, not of the grid, against dense poses of the solver."""
    found = fitment.check("scanned", "front", build="wide", part="well: inner wall")
    case, cut = found.cases[0], found.asides[0].cut
    assert cut is not None
    assert cut.over is not None
    scan = next(o for o in case.fit.axle.obstacles if o.name == "well: inner wall")
    assert scan.mesh is not None
    own = scan.mesh.vertices[np.unique(scan.mesh.faces)]
    faces = cut.sheet.faces
    middle, flat = cut.sheet.places[faces, 0].mean(axis=1), cut.sheet.flat[faces, cut.sheet.piece[:, None]].mean(axis=1)
    line = np.concatenate([each.places for each in cut.kept.line.lines])
    near = np.argsort([np.linalg.norm(line - place, axis=1).min() for place in own])[:600]
    left = []
    for place in own[near]:
        k = int(np.argmin(np.linalg.norm(middle - place, axis=1)))
        below = cut.kept.line.below[cut.kept.line.piece == cut.sheet.piece[k]]
        if not shapely.contains_xy(shapely.buffer(shapely.union_all(below), 8.0), *flat[k]):
            left.append(place)
    assert len(left) > 10
    for place in left[:12]:
        assert least_distance(case, place) >= scan.allowance_to("tire")


@pytest.mark.slow
def test_a_pattern_is_cut_from_the_demo_scan(tmp_path: Path) -> None:
    pdf = tmp_path / "pattern.pdf"
    assert run("template", *PART, "--out", str(pdf)).exit_code == 0
    assert pdf.read_bytes().startswith(b"%PDF")
    text = " ".join(run("check", *PART).stdout.split())
    assert "laid through the scan. The scan stands up to" in text
    assert "Marks, from the hub face's centre: A " in text
    cut = run_json("check", *PART)["cut"]
    assert 0 < cut["scan_before_sheet_mm"] < 15
    lip = run("check", *PART[:-1], "well: lip")
    assert lip.exit_code == 1  # tight, by the inner wall
    assert "along its folds. The scan lies up to" in " ".join(lip.stdout.split())
