"""The space that tire and wheel sweep: held against hand formulas, a dense sweep, and other readers of its files."""

from __future__ import annotations

import math
import re
import struct
import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pypdfium2
import pytest
import shapely
import trimesh
from conftest import run, steered, vehicle, write_profile
from numpy.typing import NDArray
from scipy import optimize
from shapely import Polygon
from test_steered_beam import scene

import fitment
from fitment import profile as profiles
from fitment.answers.envelope import Envelope, Slice, _solid, read_cuts
from fitment.clearance.level_mesh import LevelMesh, cut_at, mesh_at, places_on
from fitment.clearance.motion_polynomials import hub_motions
from fitment.clearance.swept_space import AROUND, Sweeping, SweptSpace, raster_of
from fitment.draw.printed.envelope_dxf import slices_dxf
from fitment.draw.printed.envelope_slices import slices_pdf, slices_svg
from fitment.errors import FitmentError
from fitment.motion.suspension import families, swept_travel
from fitment.parts.axle import Axle
from fitment.report.envelope import envelope_text, ply_bytes, stl_bytes

Array = NDArray[np.float64]
RADIUS, HALF = 120.0, 60.0  # [mm] of a plain roller
WITHIN = 0.1  # [mm] that the surface may lie off an edge
ROLLER = Polygon([(-HALF, 0.0), (HALF, 0.0), (HALF, RADIUS), (-HALF, RADIUS)])


def axle_of(data: dict[str, Any], folder: Path) -> Axle:
    return replace(profiles.axle(profiles.load_profile(write_profile(folder, data)), "front"), obstacles=())


def space_of(axle: Axle, section: Polygon, travel: tuple[float, float]) -> SweptSpace:
    raster = raster_of(section)
    return SweptSpace(tuple(Sweeping(raster, motion) for motion in hub_motions(axle, axle, travel)))


def closed(mesh: LevelMesh) -> bool:
    """Whether each edge is one of exactly two triangles, once each way."""
    ways = np.stack([mesh.triangles, np.roll(mesh.triangles, -1, axis=1)], -1).reshape(-1, 2)
    there, times = np.unique(ways, axis=0, return_counts=True)
    back = np.unique(ways[:, ::-1], axis=0)
    return bool(np.all(times == 1) and np.array_equal(there, back))


def dense(axle: Axle, section: Polygon, travels: Array, shares: Array, points: Array) -> Array:
    """Distance of points to the section in very many poses of the solver itself, one after another."""
    t, s = (a.ravel() for a in np.meshgrid(travels, shares, indexing="ij"))
    poses = families(axle)[0].poses(t, s)
    least = np.full(len(points), np.inf)
    ring = section.exterior
    for origin, rotation in zip(poses.origin, poses.rotation, strict=True):
        hub = (points - origin) @ rotation
        plane = np.stack([hub[:, 1], np.hypot(hub[:, 0], hub[:, 2])], -1)
        away = shapely.distance(ring, shapely.points(plane))
        least = np.minimum(least, np.where(shapely.contains_xy(section, *plane.T), -away, away))
    return least


@pytest.mark.slow
@pytest.mark.parametrize(("name", "axle_name", "build"), [("coupe", "front left", None), ("pickup", "rear left", None)])
def test_every_corner_of_the_outline_in_every_pose_lies_within_the_space(
    name: str, axle_name: str, build: str | None
) -> None:
    """Places on tire and wheel in poses of the solver itself, in the rim's hollow too, are at 0 or deeper."""
    read = profiles.load_profile(Path(__file__).parents[1] / "profiles" / f"{name}.yaml")
    axle, setup = replace(profiles.axle(read, axle_name, build), obstacles=()), profiles.setup(read, axle_name, build)
    travel, section = swept_travel(axle, setup.ride), _solid(setup, largest=False)
    space = space_of(axle, section, travel)
    rng = np.random.default_rng(0)
    ring = np.array(section.exterior.coords)
    for family in families(axle):
        at = rng.uniform(*travel, 400)
        at[:120] = rng.choice(travel, 120)
        shares = rng.uniform(-1, 1, (400, len(family.levels)))
        shares[60:160] = np.sign(shares[60:160])
        poses = family.poses(at, *shares.T)
        chosen, turn = ring[rng.integers(0, len(ring), (400, 6))], rng.uniform(0, 2 * np.pi, (400, 6))
        hub = np.stack([chosen[..., 1] * np.cos(turn), chosen[..., 0], chosen[..., 1] * np.sin(turn)], -1)
        places = np.einsum("nij,nkj->nki", poses.rotation, hub) + poses.origin[:, None]
        assert space.nearest(places.reshape(-1, 3))[0].max() < 0.1  # SLACK is how far a raster is off beside a corner


@pytest.mark.slow
def test_a_beam_that_travels_rolls_and_steers_is_no_farther_than_scipy_finds_it(tmp_path: Path) -> None:
    """The least over a dense sweep of the solver's own poses, each then made less by scipy, is what is found."""
    axle = axle_of(scene(3)[0], tmp_path)
    travel, family = swept_travel(axle, 0.0), families(axle)[0]
    points = np.random.default_rng(5).uniform(-260, 260, (40, 3)) + np.array(axle.hub_face_at)
    levels = np.linspace(*travel, 9), np.linspace(-1, 1, 9), np.linspace(-1, 1, 13)
    at = np.stack(np.meshgrid(*levels, indexing="ij"), -1).reshape(-1, 3)

    def off(point: Array, places: Array) -> Array:
        poses = family.poses(*places.T)
        hub = np.einsum("ni,nij->nj", point - poses.origin, poses.rotation)
        q = np.stack([np.abs(hub[:, 1]) - HALF, np.hypot(hub[:, 0], hub[:, 2]) - RADIUS])
        return np.where((q < 0).all(axis=0), q.max(axis=0), np.hypot(*np.maximum(q, 0.0)))

    found, ends = space_of(axle, ROLLER, travel).nearest(points)[0], [travel, (-1, 1), (-1, 1)]
    looked_at = 0
    for point, value in zip(points, found, strict=True):
        there = off(point, at)
        starts = at[np.argsort(there)[:4]]
        least = min(
            float(optimize.minimize(lambda x: off(point, x[None])[0], one, method="Powell", bounds=ends).fun)  # noqa: B023
            for one in starts
        )
        if 0 < least < AROUND - 4:  # inside, the axis is a side of this polygon; farther off none is asked for
            looked_at += 1
            assert value == pytest.approx(min(least, there.min()), abs=0.1)  # SLACK
    assert looked_at > 8


# ---------------------------------------------------------------- hand formulas


@pytest.mark.slow
def test_a_roller_that_only_travels_sweeps_its_volume_and_its_plan_times_the_way(tmp_path: Path) -> None:
    """A convex body moved straight by h: V + h times its area seen along the way, here 2 R by 2 half widths."""
    axle = axle_of(vehicle(), tmp_path)
    level = 3.0
    mesh = mesh_at(space_of(axle, ROLLER, (axle.droop, axle.bump)), level, 12.0, WITHIN)
    travel = axle.bump - axle.droop
    assert closed(mesh)
    # grown by the level: a round bar with rounded edges, Steiner's formula in the half plane (Pappus)
    volume = 2 * math.pi * RADIUS**2 * HALF
    surface = 2 * math.pi * RADIUS**2 + 2 * math.pi * RADIUS * 2 * HALF
    mean_width = math.pi * (2 * HALF + math.pi * RADIUS)  # integral of the mean curvature of a right cylinder
    grown = volume + surface * level + mean_width * level**2 + 4 / 3 * math.pi * level**3
    plan = 4 * RADIUS * HALF + level * (4 * RADIUS + 4 * HALF) + math.pi * level**2
    assert mesh.volume == pytest.approx(grown + travel * plan, rel=0.002)
    low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
    assert high - low == pytest.approx(
        [2 * (RADIUS + level), 2 * (HALF + level), 2 * (RADIUS + level) + travel], abs=2 * WITHIN
    )  # no vertex need stand at the very top
    assert np.abs(mesh.distance - level).max() < 0.05


def off_a_travelled_roller(points: Array, middle: Array, half: float, travel: tuple[float, float]) -> Array:
    """Distance to a roller moved straight up and down: a plate, its outline two half circles and straight between."""
    x, y, z = (points - middle).T
    q = np.stack([np.abs(y) - half, np.hypot(x, z - np.clip(z, *travel)) - RADIUS])
    return np.where((q < 0).all(axis=0), q.max(axis=0), np.hypot(*np.maximum(q, 0.0)))


@pytest.mark.slow
@pytest.mark.parametrize("half", [HALF, 2.5])  # the second is thinner than any cube of the mesh
def test_no_place_on_a_face_lies_inside_beside_sharp_edges_and_thin_walls(half: float, tmp_path: Path) -> None:
    axle = axle_of(vehicle(), tmp_path)
    roller = Polygon([(-half, 0.0), (half, 0.0), (half, RADIUS), (-half, RADIUS)])
    mesh = mesh_at(space_of(axle, roller, (axle.droop, axle.bump)), 0.25, 12.0, 0.125)
    assert closed(mesh)
    as_stl = trimesh.Trimesh(
        mesh.vertices.astype(np.float32)[mesh.triangles].reshape(-1, 3), np.arange(mesh.triangles.size).reshape(-1, 3)
    )
    assert as_stl.is_watertight  # that library joins corners of the same place

    def off(points: Array) -> Array:
        return off_a_travelled_roller(points, np.array(axle.hub_face_at), half, (axle.droop, axle.bump))

    assert off(mesh.vertices) == pytest.approx(0.25, abs=0.03)
    on_faces = off(places_on(mesh, 100_000))
    assert on_faces.min() > 0
    assert on_faces.max() < 0.5


@pytest.mark.slow
def test_every_vertex_lies_as_far_off_a_dense_sweep_as_it_says(tmp_path: Path) -> None:
    """Steered about a leaning axis and moved up and down, against the solver's own poses; volume against voxels."""
    axle = axle_of(steered(), tmp_path)
    level = 2.0
    mesh = mesh_at(space_of(axle, ROLLER, (axle.droop, axle.bump)), level, 12.0, WITHIN)
    assert closed(mesh)
    rng = np.random.default_rng(3)
    travels, shares = np.linspace(axle.droop, axle.bump, 41), np.linspace(-1, 1, 81)
    some = mesh.vertices[rng.choice(len(mesh.vertices), 400, replace=False)]
    off = dense(axle, ROLLER, travels, shares, some) - level
    assert off.min() > -0.05  # poses that are not in the dense sweep take at most a little more
    # a place between two poses of the dense sweep is off by half of both steps at most, across the way to the section
    reach = math.hypot(RADIUS + level, HALF + level) + 150.0  # from the steering axis, well over
    half = (travels[1] - travels[0]) / 2 + math.radians(families(axle)[0].turns[0]) * (
        shares[1] - shares[0]
    ) / 2 * reach
    assert off.max() < math.hypot(level, half) - level
    assert np.median(off) < 0.02
    assert (dense(axle, ROLLER, travels, shares, places_on(mesh, 400)) - level).min() > -2 * WITHIN - 0.05
    low, high = mesh.vertices.min(axis=0), mesh.vertices.max(axis=0)
    drawn = rng.uniform(low, high, (4000, 3))
    within = dense(axle, ROLLER, travels[::2], shares[::2], drawn) < level
    box = float(np.prod(high - low))
    share = within.mean()
    assert mesh.volume / box == pytest.approx(share, abs=3.5 * math.sqrt(share * (1 - share) / len(drawn)))


def test_distances_are_those_of_a_roller_that_stands_still(tmp_path: Path) -> None:
    """Over a single pose the distance is that of a right cylinder, in closed form."""
    axle = axle_of(vehicle(), tmp_path)
    space = space_of(axle, ROLLER, (0.0, 0.0))
    points = np.random.default_rng(1).uniform(-200, 200, (300, 3)) + np.array(axle.hub_face_at)
    value, away = space.nearest(points)
    x, y, z = (points - np.array(axle.hub_face_at)).T
    q = np.stack([np.abs(y) - HALF, np.hypot(x, z) - RADIUS])
    known = np.where((q < 0).all(axis=0), q.max(axis=0), np.hypot(*np.maximum(q, 0.0)))
    out = known > 0  # inside, the axis is a side of this polygon
    assert value[out] == pytest.approx(known[out], abs=1e-6)
    there, _ = space.nearest(points + 0.01 * away)
    assert (there - value)[out] == pytest.approx(0.01, abs=2e-4)


def test_the_space_of_two_heights_holds_that_of_each(tmp_path: Path) -> None:
    axle = axle_of(vehicle(), tmp_path)
    points = np.random.default_rng(2).uniform(-250, 250, (200, 3)) + np.array(axle.hub_face_at)
    both = space_of(axle, ROLLER, (-50.0, 50.0)).nearest(points)[0]
    parts = [space_of(axle, ROLLER, ends).nearest(points)[0] for ends in ((-50.0, 0.0), (0.0, 50.0))]
    assert both == pytest.approx(np.min(parts, axis=0), abs=0.01)


# ---------------------------------------------------------------- slices


def ball(radius: float) -> LevelMesh:
    """A ball as another library makes it, its middle at 10, 700, 20."""
    made = trimesh.creation.icosphere(subdivisions=5, radius=radius)
    middle = np.array([10.0, 700.0, 20.0])
    count = len(made.vertices)
    return LevelMesh(made.vertices + middle, np.asarray(made.faces), np.full(count, 0.3), np.zeros((count, 3)))


@dataclass(frozen=True)
class Made:
    """An envelope whose mesh is a ball, of which every figure is known."""

    radius: float = 130.0

    def envelope(self, cuts: Sequence[tuple[str, float]]) -> Envelope:
        mesh = ball(self.radius)
        axle: Any = SimpleNamespace(name="front", title="front axle", hub_height=100.0)
        builds: Any = (SimpleNamespace(build="made"),)
        return Envelope(
            vehicle="Ball (invented)", axle=axle, builds=builds, poses=1, extra=0.0, deviation=0.5, worst=False,
            mesh=mesh, lowest=0.2, highest=0.3, faces=(0.0, 0.3, 0.0), looked_at=10, floor=-100.0, middle=700.0,
            slices=tuple(Slice(way, at, cut_at(mesh, "xyz".index(way), at)) for way, at in cuts),
        )  # fmt: skip


@pytest.mark.parametrize(("way", "at", "off"), [(0, 10.0, 0.0), (0, 60.0, 50.0), (1, 650.0, 50.0), (2, 20.0, 0.0)])
def test_a_slice_of_a_ball_is_a_circle(way: int, at: float, off: float) -> None:
    cut = cut_at(ball(130.0), way, at)
    r = math.sqrt(130.0**2 - off**2)
    assert cut.area == pytest.approx(math.pi * r * r, rel=0.002)
    middle = np.delete([10.0, 700.0, 20.0], way)
    assert (cut.centroid.x, cut.centroid.y) == pytest.approx(middle, abs=0.1)


def test_a_slice_through_a_ring_has_its_hole() -> None:
    made = trimesh.creation.annulus(r_min=40, r_max=90, height=50)
    mesh = LevelMesh(np.asarray(made.vertices), np.asarray(made.faces), np.zeros(1), np.zeros((1, 3)))
    cut = cut_at(mesh, 2, 3.0)
    assert isinstance(cut, Polygon)
    assert len(cut.interiors) == 1
    assert cut.bounds == pytest.approx((-90, -90, 90, 90), abs=0.5)


def test_places_of_slices_are_told_in_the_units_asked_for() -> None:
    """120 mm are 4.72 in, 640.5 mm 25.22 in."""
    found = replace(Made().envelope([("x", 120.0), ("y", 640.5)]), builds=())
    assert "  Slices [mm]: x=120, y=640.5\n" in envelope_text(found)
    assert "  Slices [in]: x=4.72, y=25.22\n" in envelope_text(found, "in")


def test_slices_as_they_are_typed() -> None:
    assert read_cuts(["x=120", " y = 64 cm", "z=-1 in", "x"]) == (
        ("x", 120.0), ("y", 640.0), ("z", -25.4), ("x", None),
    )  # fmt: skip
    for wrong in ("", "w=3", "x=", "x=three", "120"):
        with pytest.raises(FitmentError, match=r"slice|x=120"):
            read_cuts([wrong])


# ---------------------------------------------------------------- files, read by others


def test_mesh_files_are_read_back_by_another_library(tmp_path: Path) -> None:
    found = Made().envelope([])
    for name, content in (("a.stl", stl_bytes(found)), ("a.ply", ply_bytes(found))):
        (tmp_path / name).write_bytes(content)
        read = trimesh.load_mesh(tmp_path / name)
        assert read.is_watertight
        assert read.is_winding_consistent
        assert read.volume == pytest.approx(found.mesh.volume, rel=1e-5)
        assert read.bounds == pytest.approx(
            np.stack([found.mesh.vertices.min(axis=0), found.mesh.vertices.max(axis=0)]), abs=1e-3
        )
    content = stl_bytes(found)
    (count,) = struct.unpack_from("<I", content, 80)
    assert count == len(found.mesh.triangles)
    assert len(content) == 84 + 50 * count
    assert not content.startswith(b"solid")  # or readers would take it for text


def groups(text: str) -> list[tuple[int, str]]:
    """A DXF as its pairs of a code and a value, which is all that the format is."""
    lines = text.splitlines()
    return [(int(code), value.strip()) for code, value in zip(lines[::2], lines[1::2], strict=True)]


def test_a_dxf_read_as_pairs_holds_circles_of_true_size_and_a_bar() -> None:
    pairs = groups(slices_dxf(Made().envelope([("x", 10.0), ("y", 650.0)])).decode())
    assert pairs[-1] == (0, "EOF")
    assert pairs[pairs.index((9, "$INSUNITS")) + 1] == (70, "4")  # millimetres
    starts = [i for i, (code, _) in enumerate(pairs) if code == 0]
    entities = [pairs[a:b] for a, b in zip(starts, [*starts[1:], len(pairs)], strict=True)]
    shapes = [e for e in entities if e[0] == (0, "LWPOLYLINE")]
    assert len(shapes) == 2
    for shape, radius in zip(shapes, (130.0, 120.0), strict=True):  # 130 and sqrt(130^2 - 50^2)
        x, y = (np.array([float(v) for code, v in shape if code == wanted]) for wanted in (10, 20))
        assert (70, "1") in shape  # closed
        assert (8, "OUTLINE") in shape
        assert np.ptp(x) == pytest.approx(2 * radius, abs=0.2)
        assert y.mean() == pytest.approx(20.0, abs=0.5)
    lines = [dict(e) for e in entities if e[0] == (0, "LINE")]
    lengths = [math.dist((float(e[10]), float(e[20])), (float(e[11]), float(e[21]))) for e in lines]
    assert sum(length == pytest.approx(100.0, abs=1e-6) for length in lengths) == 2


def test_an_svg_is_in_millimetres_and_holds_the_circle() -> None:
    text = slices_svg(Made().envelope([("x", 10.0)])).decode()
    width, height = (float(v) for v in re.findall(r'(?:width|height)="([\d.]+)mm"', text)[:2])
    assert f'viewBox="0 0 {width:.1f} {height:.1f}"' in text
    path = re.search(r'class="outline" d="M(.*?)Z"', text)
    assert path is not None
    at = np.array([list(map(float, pair.split())) for pair in path[1].split("L")])
    assert np.ptp(at, axis=0) == pytest.approx([260.0, 260.0], abs=0.3)
    assert at.min() > 0
    assert at[:, 0].max() < width
    assert at[:, 1].max() < height


def test_a_printed_slice_and_its_bar_measure_right() -> None:
    """On the rasterised page, to 0.2 mm: the bar of 100 mm, and a circle of 2 sqrt(130^2 - 110^2) = 138.6 mm."""
    book = pypdfium2.PdfDocument(slices_pdf(Made().envelope([("x", 120.0)])))
    assert len(book) == 1
    page = book[0]
    assert page.get_size() == pytest.approx((210 / 25.4 * 72, 297 / 25.4 * 72), abs=0.5)
    scale = 8.0
    grey = np.asarray(page.render(scale=scale).to_pil().convert("L"), dtype=float)
    mm = 25.4 / 72 / scale
    row = grey.shape[0] - round((10 + 5) / mm)  # the bar lies 5 mm above the margin
    dark = np.flatnonzero(grey[row - 2 : row + 3].min(axis=0) < 90)
    line = dark[dark * mm < 10 + 100 + 1.5]
    assert (line[-1] - line[0]) * mm == pytest.approx(100.0, abs=0.2)
    drawn = grey[round(45 / mm) : grey.shape[0] - round(26 / mm)]
    columns = np.flatnonzero((drawn < 60).sum(axis=0) > 1.5 / mm)  # an upright piece of the outline
    assert (columns[-1] - columns[0]) * mm == pytest.approx(2 * math.sqrt(130.0**2 - 110.0**2), abs=0.4)


# ---------------------------------------------------------------- the command


@pytest.mark.slow
def test_the_command_writes_a_closed_mesh_and_says_what_it_swept(tmp_path: Path) -> None:
    profile, out = write_profile(tmp_path, steered()), tmp_path / "space.stl"
    told = run("envelope", profile, "--extra", "10", "--deviation", "2", "--slice", "x=0", "--out", str(out)).stdout
    words = " ".join(told.split())
    assert "travel -50 mm to +50 mm" in words
    assert "10.0 mm round it" in words
    read = trimesh.load_mesh(out)
    assert read.is_watertight
    found = fitment.envelope(profile, "front", extra=10, deviation=2, slice_="x=0")
    assert read.volume == pytest.approx(found.data["volume_l"] * 1e6, rel=1e-4)
    assert told == found.text + "\n"
    low, high = found.data["extents_mm"]["z"]
    assert high == pytest.approx(634 / 2 + 50 + 10 + 1, abs=1.5)  # tire, travel, clearance, half of the deviation
    assert low == pytest.approx(-high, abs=1.5)
    assert found.data["outside_mm"][0] >= 0


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ("--out space.xyz", r"\.stl, \.ply"),
        ("--extra -1", "--extra -1: give a clearance of 0"),
        ("--extra wide", "--extra"),
        ("--deviation 0", "--deviation 0: give"),
        ("--slice q=1", "--slice"),
        ("--out /nowhere/space.stl", "folder"),
        ("--build none_such", "none_such"),
    ],
)
def test_bad_input_is_refused_at_once(options: str, told: str, tmp_path: Path) -> None:
    done = run("envelope", write_profile(tmp_path, vehicle()), *options.split())
    assert done.exit_code == 2
    assert re.search(told, done.stderr)
    assert done.stderr.count("\n") == 1


@pytest.mark.slow
def test_a_slice_that_misses_is_refused(tmp_path: Path) -> None:
    profile = write_profile(tmp_path, vehicle())
    done = run("envelope", profile, "--deviation", "5", "--slice", "x=2000")
    assert re.search(r"--slice x=2000 misses it: the envelope goes from x=-\d+ to \d+ mm", done.stderr)


def test_without_the_library_a_dxf_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setitem(sys.modules, "ezdxf", None)
    done = run("envelope", write_profile(tmp_path, vehicle()), "--out", str(tmp_path / "a.dxf"))
    assert "pip install ezdxf" in done.stderr
