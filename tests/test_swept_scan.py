"""What a scan sweeps, held against all of its lines, and against the mesh library in poses of the solver.

References: the sweep of every line that nothing is left out of (as a panel's go); python-fcl's distance between the
revolved tire and the triangles, in poses that are sought closer and closer round the nearest.
"""

from __future__ import annotations

from itertools import product

import fcl
import numpy as np
import pytest
import scanned
import shapely
from reference import mesh
from scipy.spatial import cKDTree
from shapely.affinity import translate
from test_scan_clearance import fine_well, slivers, soup

from fitment import profile
from fitment.checks.case import Ready, ready, run, setup_variants
from fitment.clearance.worst_case import setup_sections
from fitment.frames import Array
from fitment.motion.suspension import families, swept_travel
from fitment.parts.scan import ScanMesh
from fitment.screening import swept_obstacle, swept_scan
from fitment.screening.boundary_points import DISC
from fitment.screening.keep_out import keep_out_at, look_up
from fitment.screening.raster import CELL, FARTHEST
from fitment.screening.swept_obstacle import SweepRequest, SweptObstacle, sweep_obstacle

TOLD = 0.05  # [mm] between the mesh library and a sweep
NEAR = 0.02  # [mm] to which the boundary is told
STRIP = 0.5  # [mm] nearer: each place has all its lines looked at, of the others strips keep the outermost point alone


def with_scan(made: ScanMesh) -> Ready:
    """A front axle that meets a scan round its hub, and nothing else."""
    own = ready(profile.load_profile("wagon"), "front")
    there = ScanMesh(made.vertices + np.add(own.axle.hub_face_at, (0.0, 0.0, 20.0)), made.faces)
    return scanned.with_parts(own, scanned.scan_part(there, 3.0), alone=True)


def a_well() -> ScanMesh:
    """About 3,000 triangles of a noisy well that a tire of the axle clears."""
    return scanned.well(3000, np.zeros(3), 500.0, 340.0, 1.0)


def swept(own: Ready) -> SweptObstacle:
    return sweep_obstacle(SweepRequest(own.axle, swept_travel(own.axle, 0.0)), own.axle.obstacles[0])


@pytest.mark.slow  # more soup would close the room all round, and that is told as covered
@pytest.mark.parametrize(
    "made", [a_well(), fine_well(5), soup(6, 80), slivers(7)], ids=["well", "fine", "soup", "slivers"]
)
def test_a_scan_sweeps_what_all_of_its_lines_do(made: ScanMesh, monkeypatch: pytest.MonkeyPatch) -> None:
    own = with_scan(made)
    ours = swept(own)
    raster = swept_obstacle.shape()

    def plain(obstacle, solved):  # type: ignore[no-untyped-def]
        marked = swept_obstacle._Marked(np.zeros(raster, dtype=bool), np.ones(raster, dtype=bool))
        first = [
            points
            for i, motion in enumerate(solved)
            for piece in motion.pieces
            for points in swept_obstacle._first(obstacle, i, motion.family, piece, marked)
        ]
        points = swept_obstacle.joined(first)
        chosen = swept_obstacle.outer_points(points.plane, *swept_scan.FIRST)
        return points.some(chosen), swept_obstacle._region(obstacle, marked.cells)

    with monkeypatch.context() as all_lines:
        all_lines.setattr(swept_obstacle, "_first_of_scan", plain)
        all_lines.setattr(
            swept_obstacle._PassedBoxes, "leave", lambda own, some, _: np.ones((len(own.beyond), len(some)), dtype=bool)
        )
        whole = swept(own)
    places = np.random.default_rng(1).uniform([FARTHEST[0] + 20, 40], [FARTHEST[1] - 20, FARTHEST[2] - 20], (8000, 2))
    at = ((places - (FARTHEST[0], 0.0)) / CELL).astype(int)
    free = places[~whole.swept[tuple(at.T)] & ~ours.swept[tuple(at.T)]]
    assert len(free) > 300
    one, other = (cKDTree(each.plane).query(free)[0] for each in (ours, whole))
    room = other > 2 * DISC  # enough for the disc that finds the boundary
    assert np.count_nonzero(room) > 300
    assert np.quantile(np.abs(one - other)[room], 0.9) < NEAR
    assert (one - other)[room].max() < TOLD  # never farther than all lines tell
    assert (one - other)[room].min() > -STRIP
    assert np.mean(whole.swept != ours.swept) < 1e-3


def least_by_library(own: Ready, section: shapely.Polygon) -> float:
    """The least distance [mm] of the revolved section to the scan over all poses, by python-fcl."""
    (family,) = families(own.axle)
    low, high = swept_travel(own.axle, 0.0)
    step, ends = np.array([8.0, 0.08]), np.array([[low, -1.0], [high, 1.0]])
    scan = own.axle.obstacles[0].mesh
    assert scan is not None
    solid, tree = mesh.tree(*mesh.revolve(section.exterior.coords)), mesh.tree(scan.vertices, scan.faces)

    def distances(places: Array) -> Array:
        poses, found = family.poses(*places.T), []
        for turn, shift in zip(poses.rotation, poses.origin, strict=True):
            pair = fcl.CollisionObject(solid, fcl.Transform(turn, shift)), fcl.CollisionObject(tree, fcl.Transform())
            found.append(fcl.distance(*pair, fcl.DistanceRequest(), fcl.DistanceResult()))
        return np.array(found)

    places = np.array(
        list(product(*(np.linspace(a, b, int((b - a) / s) + 2) for a, b, s in zip(*ends, step, strict=True))))
    )
    away = distances(places)
    for _ in range(8):
        step = step / 2
        near = places[np.argsort(away)[:4]]
        around = np.array(list(product((-1, 0, 1), repeat=2))) * step
        places = np.unique(np.clip((near[:, None] + around).reshape(-1, 2), *ends), axis=0)
        away = distances(places)
    return float(away.min())


@pytest.mark.slow
@pytest.mark.parametrize("out", [0.0, 40.0])
def test_a_scan_sweeps_up_to_where_the_mesh_library_meets_it(out: float) -> None:
    own = with_scan(a_well())
    tire = translate(setup_sections(profile.setup(own.profile, "front"))["tire"], out)
    (sweep,) = keep_out_at(own, 0.0).swept
    told = tire.distance(shapely.MultiPoint(sweep.plane))
    assert told > 1
    assert told == pytest.approx(least_by_library(own, tire), abs=TOLD)


def test_a_list_and_a_check_say_the_same_of_a_scan() -> None:
    own = with_scan(a_well())
    setup = profile.setup(own.profile, "front")
    fit = run(own, setup, others=setup_variants(own)).fit
    least = min(entry.clearance for entry in fit.clearances)
    assert least > 0
    found = look_up(keep_out_at(own, setup.ride), [setup])
    assert found.closest.clearance[0] == pytest.approx(least, abs=NEAR)


def test_places_all_over_a_scan_leave_no_hole() -> None:
    """Any place on it has one within half a spacing along a side, or within a small triangle's radius."""
    made, draw = soup(8), np.random.default_rng(4)
    sheet = swept_obstacle.mesh_of(scanned.scan_part(made), 0)
    places = swept_scan.scan_places(sheet, made.vertices)
    at = np.einsum("qc,qcx->qx", places.weights, made.vertices[places.corners])
    face = np.repeat(np.arange(len(made.faces)), 40)
    weights = draw.dirichlet((1, 1, 1), len(face))
    asked = np.einsum("qc,qcx->qx", weights, made.vertices[made.faces[face]])
    assert cKDTree(at).query(asked)[0].max() < swept_scan.ACROSS / np.sqrt(3) + 1e-6
    side = np.einsum("qc,qcx->qx", np.pad(weights[:, :2] / weights[:, :2].sum(1, keepdims=True), [(0, 0), (0, 1)]),
                     made.vertices[made.faces[face]])  # fmt: skip
    assert cKDTree(at).query(side)[0].max() <= swept_scan.SPACING / 2 + 1e-6
