"""Scans: clearances to their triangles against a mesh library on the same triangles, and against panels of them.

References: python-fcl's distance between the revolved section and the triangles; for depths `mesh.least`, which cuts
triangles until none can be deeper (plane geometry, by shapely).
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import fcl
import numpy as np
import pytest
import scanned
import shapely
import yaml
from reference import mesh

from fitment import cache, profile
from fitment.checks.case import Ready, ready, run, setup_variants
from fitment.checks.full_case import in_full
from fitment.clearance import face_tree
from fitment.clearance.section_distance import Gaps, clearances, gaps
from fitment.clearance.trace import CarriedCorners, Trace, trace_of_corners
from fitment.clearance.worst_case import _less, _plus, setup_sections
from fitment.draw.views.closest import turned_in
from fitment.errors import FitmentError
from fitment.frames import Array, rotation_about, to_half_plane
from fitment.parts.obstacles import MeasuredGap, Obstacle
from fitment.parts.reshaped import reworked
from fitment.parts.rework import Rework
from fitment.parts.scan import ScanMesh
from fitment.report.builds import case_json
from fitment.report.summary import headline, tightest_lines
from fitment.screening.keep_out import keep_out_at, look_up

PROFILES = Path(__file__).parents[1] / "profiles"
SECTION = shapely.Polygon([(-120, 200), (120, 200), (135, 260), (110, 340), (-110, 340), (-135, 260)])
POSES = 20
DECIDES = 20.0  # [mm] of depth, down to which it is held


def soup(seed: int, count: int = 300, near: float = 520.0) -> ScanMesh:
    """Triangles here and there, of any size and form, slivers among them."""
    draw = np.random.default_rng(seed)
    middle = draw.normal(size=(count, 1, 3))
    middle *= near * draw.uniform(0.9, 1.5, (count, 1, 1)) / np.linalg.norm(middle, axis=2, keepdims=True)
    size = np.exp(draw.uniform(np.log(1.0), np.log(120.0), (count, 1, 1))) * draw.uniform(0.02, 1.0, (count, 1, 3))
    corners = middle + size * draw.normal(size=(count, 3, 3)) / 2
    return ScanMesh(corners.reshape(-1, 3), np.arange(3 * count, dtype=np.int32).reshape(-1, 3))


def slivers(seed: int) -> ScanMesh:
    """Long thin triangles, each twice, the second the other way round, and some of no area."""
    draw = np.random.default_rng(seed)
    start = draw.uniform((-500, -950, -500), (500, 50, 500), (60, 3))
    far, thin = draw.normal(0, 200, (60, 3)), draw.normal(0, 0.01, (60, 3))
    vertices = np.concatenate([start, start + far, start + far / 2 + thin])
    k = np.arange(60)
    once = np.stack([k, k + 60, k + 120], -1)
    none = np.stack([k, k + 60, k], -1)[:10]
    return ScanMesh(vertices, np.concatenate([once, once[:, ::-1], none]).astype(np.int32))


def one(_: int) -> ScanMesh:
    """One triangle."""
    return ScanMesh(np.array([[-300.0, -300, 380], [300, 200, 400], [0, -100, 700]]), np.array([[0, 1, 2]], np.int32))


def fine_well(seed: int) -> ScanMesh:
    """A noisy well of some thousand triangles."""
    return scanned.well(6000, np.zeros(3), 400.0, 240.0, 1.5, seed)


SCANS = {"soup": soup, "slivers": slivers, "one": one, "well": fine_well}


def seen(scan: ScanMesh, seed: int, towards: float) -> Trace:
    """A scan as a hub sees it in some poses, turned a little and shifted."""
    draw = np.random.default_rng(seed)
    axes = np.stack([
        rotation_about(axis / np.linalg.norm(axis), angle)
        for axis, angle in zip(draw.normal(size=(POSES, 3)), draw.uniform(-0.3, 0.3, POSES), strict=True)
    ])  # fmt: skip
    shift = draw.uniform(-towards, towards, (POSES, 3))
    frame = np.concatenate([np.swapaxes(axes, 1, 2), shift[:, None]], axis=1)
    points = np.column_stack([scan.vertices, np.ones(len(scan.vertices))])
    return trace_of_corners(scanned.scan_part(scan), CarriedCorners(points, frame))


def by_library(section: shapely.Polygon, trace: Trace) -> Array:
    """Distance of the revolved section to the triangles in every pose [mm], not above 0 where they meet."""
    solid, scan = mesh.tree(*mesh.revolve(section.exterior.coords)), trace.obstacle.mesh
    assert scan is not None
    still, found = fcl.Transform(), []
    for hub in np.asarray(trace.hub):
        pair = fcl.CollisionObject(solid, still), fcl.CollisionObject(mesh.tree(hub, scan.faces), still)
        found.append(fcl.distance(*pair, fcl.DistanceRequest(), fcl.DistanceResult()))
    return np.array(found)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("kind", SCANS)
def test_clearances_to_the_triangles_agree_with_a_mesh_library(kind: str, seed: int) -> None:
    trace = seen(SCANS[kind](seed), seed, 40.0)
    assert trace.many
    theirs, ours = by_library(SECTION, trace), clearances(SECTION, trace)
    apart = theirs > 0
    assert np.abs(ours - theirs)[apart].max(initial=0.0) < 0.05
    assert np.all(ours[~apart] < 0.05)
    assert np.all(ours[theirs > 0.05] > 0)


@pytest.mark.parametrize("seed", range(2))
@pytest.mark.parametrize("kind", SCANS)
def test_depths_agree_with_cut_triangles(kind: str, seed: int) -> None:
    trace = seen(SCANS[kind](seed), 50 + seed, 90.0)
    scan, section = trace.obstacle.mesh, mesh.Section(SECTION.exterior.coords)
    assert scan is not None
    ours = clearances(SECTION, trace)
    held = np.flatnonzero((ours < 0) & (ours > -DECIDES))[:5]
    for pose in held.tolist():
        cells = np.asarray(trace.hub)[pose][scan.faces]
        deepest = mesh.least(section, cells, np.zeros(len(cells), dtype=int), 0.1)[0]
        assert deepest - 0.1 == pytest.approx(ours[pose], abs=0.5), pose


def place_told(trace: Trace, near: Gaps, pose: int) -> Array:
    """The nearest place by the corners and weights that are told, (y', r)."""
    hub = np.asarray(trace.hub)[pose][near.corners[pose]]
    return to_half_plane((near.weights[pose] @ hub)[None])[0]


def test_the_place_told_lies_on_the_scan_and_as_far_as_told() -> None:
    trace = seen(fine_well(4), 4, 30.0)
    near = gaps(SECTION, trace)
    for pose in np.flatnonzero(near.clearance > 0).tolist():
        place = place_told(trace, near, pose)
        assert SECTION.distance(shapely.Point(place)) == pytest.approx(near.clearance[pose], abs=0.05)


@pytest.mark.slow
def test_the_close_up_shows_every_place_of_a_scan_within_it_and_no_other() -> None:
    """Places all over the triangles, turned into the half plane by hand, near which the drawn shape lies, and back."""
    trace, draw = seen(fine_well(4), 4, 30.0), np.random.default_rng(3)
    scan, pose = trace.obstacle.mesh, 1
    assert scan is not None
    middle = gaps(SECTION, trace).on_core[pose]
    window = shapely.box(*(middle - 12), *(middle + 12))
    shape = turned_in(trace, pose, window)
    weights = draw.dirichlet((1, 1, 1), (len(scan.faces), 40))
    there = to_half_plane((weights @ np.asarray(trace.hub)[pose][scan.faces]).reshape(-1, 3))
    within = there[shapely.contains_xy(window, there[:, 0], there[:, 1])]
    assert len(within) > 30
    assert shapely.distance(shape, shapely.points(within)).max() < 0.2  # the grid on which lines are joined
    assert shapely.distance(shapely.multipoints(there), shapely.points(shapely.get_coordinates(shape))).max() < 12


def test_every_triangle_is_in_one_group_of_each_size() -> None:
    scan = fine_well(2)
    tree = face_tree.FaceTree(scan.vertices[scan.faces[:, [0, 1, 2, 2]]])
    below, level = tree.top, 0
    while tree.inner[below[0]] >= 0:
        below = np.concatenate([tree.inner[k] + np.arange(tree.count[k]) for k in below])
        level += 1
    assert level >= 3
    assert sorted(tree.face[below]) == list(range(len(scan.faces)))


# ---------------------------------------------------------------- a scan and a panel of the same triangles


def sheet(hub: Array, side: int = 24, fine: float = 0.0) -> tuple[Obstacle, Obstacle]:
    """A wavy roof over the tire, as a panel and as a scan of the same triangles, some 10 mm above it in full bump."""
    at = np.linspace(-330, 330, side)
    x, y = np.meshgrid(at, np.linspace(-230, 60, side), indexing="ij")
    z = 400 + 30 * np.cos(x / 200) + 6 * np.sin(y / 30) * np.cos(x / 40) + fine
    points = np.stack([x, y, z], -1).reshape(-1, 3) + hub
    rows = tuple((float(a), float(b), float(c)) for a, b, c in points)
    panel = Obstacle("roof", "panel", rows, columns=side, tolerance=2.0)
    scan = ScanMesh(points, scanned.sheet_faces(side, side))
    return panel, scanned.scan_part(scan, 2.0, "roof")


@pytest.fixture(scope="module", params=["wagon", "example"])
def axles(request: pytest.FixtureRequest) -> tuple[Ready, Ready]:
    """The front axle with a roof: as a panel, and as a scan."""
    own = ready(profile.load_profile(PROFILES / f"{request.param}.yaml"), "front")
    panel, scan = sheet(np.array(own.axle.hub_face_at))
    return scanned.with_parts(own, panel, alone=True), scanned.with_parts(own, scan, alone=True)


def test_a_check_says_the_same_of_a_scan_and_of_a_panel_of_its_triangles(axles: tuple[Ready, Ready]) -> None:
    checked = []
    for own in axles:
        setup = profile.setup(own.profile, own.axle.name)
        checked.append(in_full(run(own, setup, others=setup_variants(own))))
    panel, scan = (case.fit for case in checked)
    assert len(scan.clearances) > 40
    for one_, other in zip(panel.worst_each, scan.worst_each, strict=True):
        assert other.clearance == pytest.approx(one_.clearance, abs=0.05 if one_.clearance > 0 else 0.5)
        assert other.worst_case == pytest.approx(one_.worst_case, abs=0.1 if one_.worst_case > 0 else 0.5)
        assert np.linalg.norm(np.subtract(other.point, one_.point)) < 1.0
    assert panel.verdict == scan.verdict
    for one_, other in zip(checked[0].where_short, checked[1].where_short, strict=True):
        assert other.limit == pytest.approx(one_.limit, abs=0.5)
    assert (panel.in_service is None) == (scan.in_service is None)


def test_a_list_says_the_same_of_a_scan_and_of_a_panel_of_its_triangles(axles: tuple[Ready, Ready]) -> None:
    found = []
    for own in axles:
        setup = profile.setup(own.profile, own.axle.name)
        found.append(look_up(keep_out_at(own, setup.ride), [setup]).closest.clearance[0])
    assert found[1] == pytest.approx(found[0], abs=0.1 if found[0] > 0 else 0.5)


@pytest.mark.parametrize(
    ("ahead", "up", "words"),
    [(300.0, 330.0, "ahead of and above the hub"), (-450.0, 20.0, "behind the hub"), (0.0, 440.0, "above the hub")],
)
def test_a_scan_tells_where_on_it_something_is_close(ahead: float, up: float, words: str) -> None:
    own = ready(profile.load_profile(PROFILES / "wagon.yaml"), "front")
    hub = np.array(own.axle.hub_face_at)
    spot = np.array([[ahead, -20, up], [ahead + 9, -20, up], [ahead, -11, up + 9]]) + hub
    own = scanned.with_parts(own, scanned.scan_part(ScanMesh(spot, np.array([[0, 1, 2]], np.int32))), alone=True)
    case = in_full(run(own, profile.setup(own.profile, "front")))
    assert f"well, {words}" in " ".join(headline(case).split())
    lines = " ".join("\n".join(tightest_lines(case.fit, "mm")).split())
    assert f"tire - well: closest {words}: " in lines
    told = case_json(case)
    assert any(entry.get("place", "").startswith(words) for entry in told["clearances"])


def test_bands_that_nobody_read_count_for_a_scan_as_for_a_panel_of_its_triangles() -> None:
    data = yaml.safe_load((PROFILES / "wagon.yaml").read_text(encoding="utf-8"))
    data["axles"]["front"]["suspension"]["steering_axis"] = "assumed"
    own = ready(profile.loads_profile(yaml.safe_dump(data, sort_keys=False)), "front")
    assert any(variant.assumed for variant in own.variants)
    setup, told = profile.setup(own.profile, "front"), []
    for part in sheet(np.array(own.axle.hub_face_at), fine=25.0):
        fit = run(scanned.with_parts(own, part, alone=True), setup, others=setup_variants(own)).fit
        told.append([entry.worst_case for entry in fit.worst_each])
        assert all(entry.clearance - entry.worst_case > 4 for entry in fit.worst_each)  # bands count
    for panel, scan in zip(*told, strict=True):
        assert scan == pytest.approx(panel, abs=0.1 if panel > 0 else 0.5)


def test_a_scan_that_a_reading_turns_and_shifts_is_moved_as_one() -> None:
    trace = seen(fine_well(3), 3, 30.0)
    assert isinstance(trace.hub, CarriedCorners)
    placed = trace.hub.points.copy()
    placed[:, :3] = placed[:, :3] @ rotation_about(np.array([0.6, 0.0, 0.8]), 0.02).T * 1.003 + [3.0, -2.0, 1.0]
    other = CarriedCorners(placed, trace.hub.frame + 0.001)
    steps = _less(other, trace.hub, trace.obstacle)
    pose, corner = np.arange(POSES)[:, None], np.arange(0, len(placed), 97)
    expected = np.asarray(other)[pose, corner] - np.asarray(trace.hub)[pose, corner]
    assert np.allclose(steps[pose, corner], expected, atol=1e-6)
    half = _plus(trace.hub, np.full((2, POSES), 0.5), [steps, steps])
    assert np.allclose(half[pose, corner], np.asarray(other)[pose, corner], atol=1e-6)


# ---------------------------------------------------------------- what is kept, what is refused


def test_what_is_kept_of_a_scan_gives_the_same_answers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(cache.VARIABLE, str(tmp_path))
    monkeypatch.setattr(face_tree, "KEPT", 100)
    trace, answers = seen(fine_well(9), 9, 60.0), []
    for wanted in ("made", "kept", "spoiled"):
        face_tree.scan_tree.cache_clear()
        if wanted == "spoiled":
            (entry,) = tmp_path.rglob("*.npy")
            entry.write_bytes(entry.read_bytes()[:-9] + b"something")
        answers.append(clearances(SECTION, trace))
    assert np.array_equal(answers[0], answers[1])
    assert np.array_equal(answers[0], answers[2])


@pytest.mark.parametrize("number", [0, -1])
def test_an_order_that_is_none_is_not_believed(number: int) -> None:
    scan = fine_well(1)
    tree = face_tree.FaceTree(scan.vertices[scan.faces[:, [0, 1, 2, 2]]])
    told = tree.told()
    assert face_tree._could_be(told, len(scan.faces))
    told[0][number] = told[0][number - 1]
    assert not face_tree._could_be(told, len(scan.faces))


def test_what_is_not_done_to_a_scan_is_refused_in_words() -> None:
    part = scanned.scan_part(one(0))
    with pytest.raises(FitmentError, match="cannot be moved or trimmed, because it is a scan"):
        reworked(replace(part, rework=Rework(out=10.0)), (0.0, 0.0, 0.0))
    own = ready(profile.load_profile(PROFILES / "wagon.yaml"), "front")
    from fitment.clearance.measured_gap import settle_gaps

    setup = profile.setup(own.profile, "front")
    gap = replace(part, measured_gap=MeasuredGap("tire", 20.0))
    with pytest.raises(FitmentError, match="a measured gap does not place a scan"):
        settle_gaps(replace(own.axle, obstacles=(gap,)), own.axle, setup, 0.0)
    solid = replace(part, solid_behind=True)
    with pytest.raises(FitmentError, match="A scan is a sheet"):
        settle_gaps(replace(own.axle, obstacles=(solid,)), own.axle, setup, 0.0)
    assert setup_sections(setup)["tire"].area > 0
