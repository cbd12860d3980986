"""Lines to cut along on a scan with folds: its sections, planes cut by a sphere, a lip with its flange, the page."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
import trimesh
from conftest import HUB_FACE, run, vehicle, write_profile
from numpy.typing import NDArray
from test_cut_lines import BUMP, DPI, RADIUS, REQUIRED, page_of
from test_cut_scans import CENTRE, over, rows_of, sheet

import fitment
from fitment.answers.cut_lines import CutLines
from fitment.answers.cut_patterns import patterns
from fitment.clearance.sheet_levels import Level, TriangleSheet, divided, level_lines
from fitment.draw.printed.part_template import CUT
from fitment.draw.views.cut import laid_out
from fitment.errors import FitmentError
from fitment.parts.flat_sheet import pieces_laid_flat
from fitment.parts.scan import ScanMesh
from fitment.parts.sections import tire_section
from fitment.parts.solid_panel import sheet_triangles
from fitment.report.cut_lines import cut_text
from fitment.scans.folded_section import section_curve

Array = NDArray[np.float64]
EDGE, WIDE = 340.0, 70.0  # [mm] height of the fold, and how far a plane reaches from it


def two_planes(angle: float, x: tuple[float, float] = (-90.0, 90.0), noise: float = 0.0) -> ScanMesh:
    """A wall square to y up to the fold, then a plane that leads outboard and up by so many degrees."""
    rng, up = np.random.default_rng(3), math.radians(angle)

    def place(u: Array, v: Array) -> Array:
        s = (2 * v - 1) * WIDE
        y, z = HUB_FACE + np.maximum(s, 0) * math.cos(up), EDGE + np.minimum(s, 0) + np.maximum(s, 0) * math.sin(up)
        return np.stack([x[0] + u * (x[1] - x[0]), y, z], -1) + rng.normal(0, noise, (*u.shape, 3))

    return sheet(60, 41, place)


def laid_by_hand(places: Array, angle: float) -> Array:
    """Two planes rolled out about their fold (n, 2): along it, and from it [mm]."""
    up = math.radians(angle)
    beyond = (places[:, 1] - HUB_FACE) * math.cos(up) + (places[:, 2] - EDGE) * math.sin(up)
    on_wall = EDGE - places[:, 2] > beyond
    return np.stack([places[:, 0], np.where(on_wall, places[:, 2] - EDGE, beyond)], -1)


def apart(places: Array) -> Array:
    return np.asarray(np.linalg.norm(places[:, None] - places[None], axis=2))


# ---------------------------------------------------------------- a section


@pytest.mark.parametrize("turn", [40.0, 90.0, 120.0])
def test_a_section_is_followed_round_its_fold(turn: float) -> None:
    """Two straight arms of 60 and 40 mm; at 120 degrees the second leads back over the first."""
    rng, way = np.random.default_rng(2), math.radians(180 - turn)
    arms = [
        np.linspace(60, 0, 200)[:, None] * (1, 0),
        np.linspace(0, 40, 140)[:, None] * (math.cos(way), math.sin(way)),
    ]
    places = np.concatenate(arms) + rng.normal(0, 0.4, (340, 2))
    line = section_curve(places[rng.permutation(340)])
    assert line is not None
    ends = line if np.linalg.norm(line[0] - (60, 0)) < 30 else line[::-1]
    assert ends[[0, -1]] == pytest.approx(np.array([[60, 0], arms[1][-1]]), abs=2.5)
    assert np.linalg.norm(np.diff(line, axis=0), axis=1).sum() == pytest.approx(100, abs=6)


def test_two_lines_apart_are_no_section() -> None:
    one = np.linspace(0, 100, 300)[:, None] * (1, 0)
    assert section_curve(np.concatenate([one, one + np.array([0.0, 45.0])])) is None
    assert section_curve(np.zeros((0, 2))) is None


# ---------------------------------------------------------------- two planes and a sphere


@pytest.mark.parametrize("angle", [0.0, 30.0, 45.0])
def test_a_sphere_cuts_arcs_of_circles_that_meet_at_the_fold(angle: float) -> None:
    """On each plane a circle about the foot of the centre, radius sqrt(R^2 - h^2); laid flat, every length is kept."""
    found = over(two_planes(angle))
    assert found.is_folded
    assert found.off < 1.0
    rows = rows_of(found.readings[0])
    (piece,) = pieces_laid_flat(rows)
    assert piece.flat.stretch < 1e-3
    row, column = np.divmod(np.arange(rows.shape[0] * rows.shape[1]), rows.shape[1])
    plan = np.stack([column, -row], -1).astype(float)
    faces = sheet_triangles(*rows.shape[:2])
    whole = TriangleSheet(
        rows.reshape(-1, 1, 3), plan, piece.flat.corners[:, None], faces, np.zeros(len(faces), dtype=np.intp)
    )
    middle, radius = np.array([-20.0, HUB_FACE - 25.0, EDGE - 40.0]), 70.0
    level = Level(0, 0.0, 6.0)
    values = [lambda places: np.linalg.norm(places[:, 0] - middle, axis=1) - radius]
    fine, known = divided(whole, values, [level])
    lines = level_lines(fine, known, values[0], level).lines
    assert len(lines) == 1  # it goes over the fold in one
    places, flat = lines[0].places, lines[0].flat
    assert apart(flat) == pytest.approx(apart(laid_by_hand(places, angle)), abs=0.3 + found.off)  # over the fold
    on_wall = places[:, 2] < EDGE - 2
    assert on_wall.any()
    assert (~on_wall).any()
    assert fitted_radius(flat[on_wall]) == pytest.approx(math.sqrt(radius**2 - 25.0**2), abs=0.3)
    up = math.radians(angle)
    high = 40.0 * math.cos(up) - 25.0 * math.sin(up)  # from the centre to the other plane
    beyond = places[:, 1] > HUB_FACE + 1
    assert fitted_radius(flat[beyond]) == pytest.approx(math.sqrt(radius**2 - high**2), abs=0.3)


def fitted_radius(at: Array) -> float:
    """Of the circle through places (n, 2), by least squares."""
    x, y, c = np.linalg.lstsq(np.column_stack([2 * at, np.ones(len(at))]), np.sum(at**2, axis=1), rcond=None)[0]
    return math.sqrt(c + x**2 + y**2)


def test_what_is_rough_is_told_and_nothing_lies_farther_off() -> None:
    mesh = two_planes(0.0, noise=1.0)
    found = over(mesh)
    assert found.is_folded
    by_hand = np.minimum(np.abs(mesh.vertices[:, 1] - HUB_FACE), np.abs(mesh.vertices[:, 2] - EDGE))
    assert 2.0 < found.off < 6.0
    assert found.off > np.percentile(by_hand, 99)
    assert found.readings[0].radius == pytest.approx(found.off)


# ---------------------------------------------------------------- a lip with its flange


def lip(noise: float = 0.4, inner: float = 425.0, out: float = CENTRE[1] + 98.0) -> ScanMesh:
    """A ring square to y, 45 mm wide, round the hub, and a flange 20 mm wide inboard from its inner edge."""
    rng = np.random.default_rng(5)

    def place(u: Array, v: Array) -> Array:
        s, turn = v * 65.0, math.pi * (0.05 + 0.9 * u)
        r = np.maximum(inner, inner - 20.0 + s)
        y = out - np.maximum(20.0 - s, 0.0)
        return np.stack([r * np.cos(turn), y, r * np.sin(turn)], -1) + rng.normal(0, noise, (*u.shape, 3))

    return sheet(300, 27, place)


def test_a_lip_and_its_flange_are_two_pieces_that_share_the_fold() -> None:
    """A flat ring and a drum: each lies flat by itself, both together do not, since the fold is curved."""
    found = over(lip())
    assert found.is_folded
    rows = rows_of(found.readings[0])
    pieces = pieces_laid_flat(rows)
    assert len(pieces) == 2
    assert max(piece.flat.stretch for piece in pieces) < 0.01
    one, two = pieces
    assert one.columns[1] - 1 == two.columns[0]
    fold = rows[:, two.columns[0]] - CENTRE
    assert np.hypot(fold[:, 0], fold[:, 2]) == pytest.approx(np.full(len(fold), 425.0), abs=1.0)
    assert fold[:, 1] == pytest.approx(np.full(len(fold), 98.0), abs=1.0)
    along = np.linalg.norm(np.diff(rows[:, two.columns[0]], axis=0), axis=1).sum()
    for piece, column in ((one, -1), (two, 0)):
        flat = piece.flat.corners.reshape(len(rows), -1, 2)[:, column]
        assert np.linalg.norm(np.diff(flat, axis=0), axis=1).sum() == pytest.approx(along, rel=1e-3)


def test_what_has_no_section_is_still_refused() -> None:
    """A drum inside a drum: neither seen from the tire nor slice by slice one sheet."""
    one = lip(0.0)
    other = ScanMesh(one.vertices * (1.15, 1.0, 1.15), one.faces)
    both = ScanMesh(
        np.concatenate([one.vertices, other.vertices]), np.concatenate([one.faces, other.faces + len(one.vertices)])
    )
    with pytest.raises(FitmentError, match=r"no single sheet.*Part it"):
        over(both)


# ---------------------------------------------------------------- a wheel that only travels


def checked(folder: Path, mesh: ScanMesh) -> tuple[Path, CutLines]:
    (folder / "well.ply").write_bytes(trimesh.Trimesh(mesh.vertices, mesh.faces, process=False).export(file_type="ply"))
    part = {"name": "well", "shape": "scan", "file": "well.ply", "axes": "body", "tolerance": 0, "meets": "tire"}
    path = write_profile(folder, vehicle(obstacles=[part]))
    cut = fitment.check(path, "front", part="well").asides[0].cut
    assert cut is not None
    return path, cut


def clear(places: Array, tire: Any) -> Array:
    """From the tire at full bump, or as high as the place (n,) [mm]; outside it, since it only travels."""
    x, y, z = places.T
    r = np.hypot(x, z - np.clip(z, -BUMP, BUMP))
    return np.asarray(shapely.distance(tire, shapely.points(np.stack([y - HUB_FACE, r], -1))))


def tire_of(path: Path) -> Any:
    fit = fitment.check(path, "front").cases[0].fit
    return tire_section(fit.setup.tire, fit.setup.wheel, 0.0)


def test_the_line_keeps_what_is_required_on_both_sides_of_the_fold(tmp_path: Path) -> None:
    path, cut = checked(tmp_path, two_planes(45.0, (70.0, 210.0)))
    tire = tire_of(path)
    assert cut.over is not None
    assert cut.over.is_folded
    places = np.concatenate([line.places for line in cut.kept.line.lines])
    off = clear(places, tire) - REQUIRED - cut.over.off
    assert off.min() > -0.02
    assert off.max() < 0.15
    assert (places[:, 2] < EDGE - 5).any()
    assert (places[:, 2] > EDGE + 5).any()
    wall = places[places[:, 2] < EDGE - 2]
    assert np.hypot(wall[:, 0], wall[:, 2] - BUMP) == pytest.approx(
        np.full(len(wall), RADIUS + REQUIRED + cut.over.off), abs=0.15
    )
    assert "along its folds. The scan lies up to" in " ".join(cut_text(cut).split())
    (pattern,) = patterns(cut)
    assert not pattern.goes.is_empty


def test_on_a_lip_the_marks_of_two_pieces_are_one_place(tmp_path: Path) -> None:
    _, cut = checked(tmp_path, lip(inner=362.0, out=HUB_FACE + 40.0))
    assert cut.kept.pieces
    shared: dict[str, set[int]] = {}
    for point in cut.points:
        shared.setdefault(point.name, set()).add(point.piece)
        assert len({other.place for other in cut.points if other.name == point.name}) == 1
    assert any(len(pieces) == 2 for pieces in shared.values())
    assert "One letter on two sections is one place" in " ".join(cut_text(cut).split())


def test_no_place_of_a_rough_lip_that_is_too_near_is_left(tmp_path: Path) -> None:
    """Corners of the scan, not of its sheet: those nearer to the tire than required lie in what goes."""
    mesh = lip(0.7, inner=362.0, out=HUB_FACE + 40.0)
    path, cut = checked(tmp_path, mesh)
    near = mesh.vertices[clear(mesh.vertices, tire_of(path)) < REQUIRED]
    faces = cut.sheet.faces
    middle = cut.sheet.places[faces, 0].mean(axis=1)
    flat = cut.sheet.flat[faces, cut.sheet.piece[:, None]].mean(axis=1)
    pieces = set(cut.sheet.piece.tolist())
    goes = {k: shapely.union_all(cut.kept.line.below[cut.kept.line.piece == k]) for k in pieces}

    def lies_in(place: Array, grown: float) -> bool:
        k = int(np.argmin(np.linalg.norm(middle - place, axis=1)))
        return bool(shapely.contains_xy(shapely.buffer(goes[int(cut.sheet.piece[k])], grown), *flat[k]))

    assert len(near) > 200
    assert all(lies_in(place, 4.0) for place in near[:: len(near) // 150])
    assert cut.over is not None
    far = mesh.vertices[clear(mesh.vertices, tire_of(path)) > REQUIRED + 2 * cut.over.off + 6.0]
    assert len(far) > 200
    assert not any(lies_in(place, -4.0) for place in far[:: len(far) // 150])


@pytest.mark.slow
def test_the_printed_line_lies_where_it_should_on_both_sides_of_the_fold(tmp_path: Path) -> None:
    """From the wall's lower edge to the line, along the wall and round the fold, at four places ahead."""
    angle, x = 45.0, (70.0, 210.0)
    path, cut = checked(tmp_path, two_planes(angle, x))
    assert cut.over is not None
    out = tmp_path / "cut.pdf"
    result = run("template", str(path), "--part", "well", "--out", str(out))
    assert result.exit_code == 0, result.output
    tire, needed, up = tire_of(path), REQUIRED + cut.over.off, math.radians(angle)

    def by_hand(ahead: float) -> float:
        """How far from the lower edge the first place is that is clear."""
        s = np.arange(-WIDE, WIDE, 0.02)
        y, z = HUB_FACE + np.maximum(s, 0) * math.cos(up), EDGE + np.minimum(s, 0) + np.maximum(s, 0) * math.sin(up)
        far = clear(np.stack([np.full_like(s, ahead), y, z], -1), tire) >= needed
        return float(s[int(np.argmax(far))] + WIDE)

    picture, mm = page_of(out), 25.4 / DPI
    wanted = [int(CUT[i : i + 2], 16) for i in (1, 3, 5)]
    line = np.abs(picture - wanted).max(axis=2) < 40
    dark = picture.max(axis=2) < 160
    rows = np.flatnonzero(line.any(axis=1))
    left = float(np.flatnonzero(dark[rows[0] : rows[-1]].mean(axis=0) > 0.9)[:3].mean()) * mm
    beside = dark[rows[0] - 40 : rows[-1] + 40, round((left + 112) / mm) : round((left + 122) / mm)].mean(axis=1) > 0.9
    edges = (np.flatnonzero(beside) + rows[0] - 40) * mm
    assert edges[-1] - edges[0] == pytest.approx(x[1] - x[0], abs=0.3)
    for ahead in (85.0, 110.0, 165.0, 195.0):
        columns = np.flatnonzero(line[round((edges[0] + x[1] - ahead) / mm)]) * mm
        columns = columns[columns > left + 5.0]  # the edge is nearly of its colour
        assert columns.mean() - left == pytest.approx(by_hand(ahead), abs=0.25), ahead


# ---------------------------------------------------------------- which way a section lies


def channel() -> dict[str, Any]:
    """Flat ring, drum, narrower flat ring round the hub, the last outboard of its face: seen from the other side."""
    turns = np.linspace(0.15, 0.85, 9) * math.pi
    ends = ((330.0, 600.0), (400.0, 600.0), (400.0, 860.0), (350.0, 860.0))
    rows = [[[r * math.cos(t), y, r * math.sin(t)] for r, y in ends] for t in turns.tolist()]
    return {"name": "channel", "shape": "panel", "rows": rows}


def on_page(page: Array, body: Array) -> Array:
    """How something of the body grows across and up the page (2,)."""
    return np.asarray(np.linalg.lstsq(page - page.mean(axis=0), body - body.mean(), rcond=None)[0])


@pytest.mark.parametrize(
    ("part", "room", "leads"),
    [
        ("lip", (500.0, 400.0), [(0, 1), (0, 1)]),  # the flange is turned as the ring that stands upright
        ("channel", (500.0, 600.0), [(0, -1), (0, -1), (0, 1)]),  # the drum as the larger ring
        ("channel", (600.0, 330.0), [(1, 1), (1, 1), (1, 1)]),  # side by side
    ],
)
def test_sections_are_laid_with_ahead_on_one_side_and_up_at_the_top_and_never_in_a_mirror(
    tmp_path: Path, part: str, room: tuple[float, float], leads: list[tuple[int, int]]
) -> None:
    """A triangle turns on the page as it does seen from the wheel: the sign of its area, the side of its normal."""
    path = checked(tmp_path, lip(inner=362.0, out=HUB_FACE + 40.0))[0] if part == "lip" else None
    path = path or write_profile(tmp_path, vehicle(obstacles=[channel()]))
    found = fitment.check(path, "front", part="well" if part == "lip" else part)
    cut = found.asides[0].cut
    assert cut is not None
    sheet, told = cut.sheet, []
    for k, laid in laid_out(cut, room).items():
        faces = sheet.faces[sheet.piece == k]
        page, solid = laid.at(sheet.flat[:, k])[faces], sheet.places[faces, 0]
        normal = np.cross(solid[:, 1] - solid[:, 0], solid[:, 2] - solid[:, 0])
        to_wheel = np.sum(normal * (np.array(cut.centre) - solid.mean(axis=1)), axis=1)
        assert np.array_equal(np.linalg.det(page[:, 1:] - page[:, :1]) > 0, to_wheel > 0)
        ahead, _, up = (on_page(page.reshape(-1, 2), solid[..., n].ravel()) for n in range(3))
        axis = int(np.argmax(np.abs(ahead)))
        told.append((axis, int(np.sign(ahead[axis]))))
        assert abs(up[1]) < 0.5 or up[1] > 0
    assert told == leads
    drawn = tmp_path / "cut.svg"
    look = ("--view", "cut", "--layout", "single" if part == "lip" else "banner")
    run("check", path, "--axle", "front", "--part", cut.obstacle.name, *look, "--out", str(drawn))
    svg = drawn.read_text()
    assert "side that is drawn faces it" in " ".join(svg.split())
    assert svg.count("<!-- ahead ▼ -->") + svg.count("<!-- ahead ▲ -->") == len(cut.shown)
    assert ("go by the arrows" in svg) == (part == "channel")  # in so low a picture the rings stand upright
