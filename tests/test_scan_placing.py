"""A scan laid into the body: the best fit against scipy's, what its residuals show, and what of it counts."""

from __future__ import annotations

from dataclasses import replace
from itertools import product
from pathlib import Path
from typing import Any

import fcl
import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from reference import mesh as reference_mesh
from scanned import A_BOX
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from fitment.checks.case import ready, run
from fitment.clearance.worst_case import setup_sections
from fitment.errors import ProfileError, ScanError
from fitment.parts.obstacles import Obstacle
from fitment.profile import Profile, axle, load_profile, scans, setup
from fitment.scans.best_fit import ReferencePoint, laid_over, placed_by
from fitment.scans.placed_scan import FROM_CUT, FROM_FLOOR, FROM_KEEP, FROM_WHEEL
from fitment.scans.regions import ScanRegion

Array = np.ndarray
MARKS = np.array(
    [[0, 798, 0], [434, 884, 117], [0, 884, 427], [-435, 884, 117], [0, 604, 471], [221, 544, 130]], dtype=float
)
TURNS = st.tuples(*[st.floats(-180, 180)] * 3)


def turned(angles: tuple[float, float, float]) -> Array:
    return Rotation.from_euler("xyz", angles, degrees=True).as_matrix()


def points(scan: Array, body: Array, tolerance: float | None = None) -> tuple[ReferencePoint, ...]:
    pairs = zip(scan.tolist(), body.tolist(), strict=True)
    return tuple(ReferencePoint(f"p{i}", tuple(a), tuple(b), tolerance) for i, (a, b) in enumerate(pairs))


def fit(scan: Array, body: Array = MARKS, *, free: bool = False, mirrored: bool = False, units: str = "mm") -> Any:
    return placed_by(points(scan, body), units=units, free_scale=free, mirrored=mirrored)


# ---------------------------------------------------------------- the best fit


@settings(max_examples=60, deadline=None)
@given(angles=TURNS, seed=st.integers(0, 10**6), count=st.integers(3, 12), noise=st.floats(0, 20))
def test_the_turn_is_scipys(angles: tuple[float, float, float], seed: int, count: int, noise: float) -> None:
    draw = np.random.default_rng(seed)
    body = draw.normal(0, 300, (count, 3))
    scan = (body + draw.normal(0, noise, body.shape)) @ turned(angles) + draw.normal(0, 500, 3)
    rotation, scale, shift = laid_over(scan, body)
    theirs, _ = Rotation.align_vectors(body - body.mean(axis=0), scan - scan.mean(axis=0))
    left = np.linalg.norm(scale * scan @ rotation.T + shift - body)
    assert left <= np.linalg.norm(theirs.apply(scan - scan.mean(axis=0)) - (body - body.mean(axis=0))) + 1e-9
    assert np.linalg.det(rotation) == pytest.approx(1.0)
    apart = np.linalg.norm((rotation - theirs.as_matrix()) @ (scan - scan.mean(axis=0)).T)
    assert apart < 1e-4 * max(1.0, np.linalg.norm(body))


@pytest.mark.parametrize("seed", range(6))
def test_with_a_free_scale_no_other_one_is_better(seed: int) -> None:
    draw = np.random.default_rng(seed)
    scan = (MARKS + draw.normal(0, 3, MARKS.shape)) @ turned((20, -70, 130)) / 1.04 + (300, -20, 900)

    def off(values: Array) -> Array:
        rotation = Rotation.from_rotvec(values[:3]).as_matrix()
        return (values[3] * scan @ rotation.T + values[4:] - MARKS).ravel()

    rotation, scale, shift = laid_over(scan, MARKS, free_scale=True)
    begun = np.concatenate([Rotation.from_matrix(rotation).as_rotvec() + 0.05, [1.0], shift + 5])
    best = least_squares(off, begun, xtol=1e-14, ftol=1e-14)
    ours = scale * scan @ rotation.T + shift - MARKS
    assert np.sum(ours**2) == pytest.approx(2 * best.cost, rel=1e-6)
    assert scale == pytest.approx(best.x[3], abs=1e-6)


def test_exact_points_leave_nothing() -> None:
    found = fit((MARKS - 200) @ turned((10, 20, 30)))
    assert max(found.residuals) < 1e-9
    assert found.off is None
    assert not found.is_flat
    assert found.free_scale == pytest.approx(1.0)


# ---------------------------------------------------------------- what is wrong is named


@settings(max_examples=40, deadline=None)
@given(angles=TURNS, which=st.integers(0, 5), seed=st.integers(0, 10**6), by=st.floats(30, 75))
def test_one_bad_point_is_named(angles: tuple[float, float, float], which: int, seed: int, by: float) -> None:
    draw = np.random.default_rng(seed)
    body = MARKS + draw.uniform(-0.7, 0.7, MARKS.shape)
    way = draw.normal(size=3)
    body[which] += by * way / np.linalg.norm(way)
    found = fit(MARKS @ turned(angles), body)
    assert found.off is not None
    assert found.off[0] == f"p{which}"
    assert found.worst > 5


def test_with_three_points_nobody_can_tell_which_is_bad() -> None:
    body = MARKS[:3].copy()
    body[1] += (0, 0, 40)
    found = fit(MARKS[:3], body)
    assert found.off is None
    assert found.is_flat
    assert found.worst > 8


def test_points_that_agree_name_none() -> None:
    draw = np.random.default_rng(3)
    for _ in range(40):
        found = fit(MARKS, MARKS + draw.normal(0, 2, MARKS.shape))
        assert found.off is None or found.off[1] > 8


@settings(max_examples=25, deadline=None)
@given(angles=TURNS, seed=st.integers(0, 10**6))
def test_a_mirrored_scan_is_recognised(angles: tuple[float, float, float], seed: int) -> None:
    noise = np.random.default_rng(seed).normal(0, 1.5, MARKS.shape)
    scan = (MARKS + noise) * (-1, 1, 1) @ turned(angles)
    with pytest.raises(ScanError, match=r"is mirrored .* Write mirrored: true"):
        fit(scan)
    with pytest.raises(ScanError, match=r"is not mirrored"):  # told to be, and is none
        fit((MARKS + noise) @ turned(angles) * (-1, 1, 1), mirrored=True)
    assert fit(scan * (-1, 1, 1), mirrored=True).worst < 8


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (MARKS[:2], "2 reference points do not tell"),
        (np.array([[0, 700, 0], [100, 700, 100], [200, 705, 200]], dtype=float), "on one line by tape"),
        (np.array([[0, 700, 0]] * 4, dtype=float), "on one line by tape"),
    ],
)
def test_points_that_place_nothing_are_refused(given: Array, said: str) -> None:
    with pytest.raises(ScanError, match=said):
        fit(given, given)


def test_points_that_lie_on_one_line_in_the_scan_are_refused() -> None:
    with pytest.raises(ScanError, match="on one line in the scan"):
        fit(np.array([[0, 0, 0], [0, 0, 300], [0, 0, 500]], dtype=float), MARKS[:3])


@pytest.mark.parametrize(("units", "true"), [("mm", "m"), ("in", "mm"), ("cm", "in"), ("mm", "in"), ("m", "mm")])
def test_another_unit_is_named(units: str, true: str) -> None:
    size = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4}
    with pytest.raises(ScanError, match=f"not {units} but probably {true}; write units: {true}"):
        fit(MARKS / size[true] * size[units], units=units)


def test_points_far_off_each_other_are_refused_with_all_of_them() -> None:
    swapped = MARKS[[1, 0, 2, 4, 3, 5]]
    with pytest.raises(ScanError, match=r"do not fit: p0 is .* p5 is"):
        fit(swapped)


# ---------------------------------------------------------------- how far it may be off


def test_how_far_off_the_far_end_may_be_is_what_trials_show() -> None:
    """Two standard deviations of many fits with points that scatter by half a tolerance each way."""
    draw = np.random.default_rng(5)
    places = np.array([[900.0, 500.0, 700.0], [-900.0, 500.0, -300.0]])
    sigma = 1.5
    found = placed_by(points(MARKS, MARKS, 2 * sigma), units="mm", free_scale=False, mirrored=False)
    off = []
    for _ in range(4000):
        rotation, _, shift = laid_over(MARKS, MARKS + draw.normal(0, sigma, MARKS.shape))
        off.append(places @ rotation.T + shift - places)
    most = max(np.sqrt(np.linalg.eigvalsh(np.cov(np.array(off)[:, i].T))[-1]) for i in range(len(places)))
    assert found.off_at(places) == pytest.approx(2 * most, rel=0.04)


def test_points_close_together_tell_little_of_the_far_end() -> None:
    near = MARKS[0] + np.array([[0, 0, 0], [60, 0, 0], [0, 0, 60], [0, 50, 0]], dtype=float)
    place = np.array([[0.0, 884.0, 427.0]])
    wide, narrow = (placed_by(points(p, p), units="mm", free_scale=False, mirrored=False) for p in (MARKS, near))
    assert narrow.off_at(place) > 3 * wide.off_at(place)


# ---------------------------------------------------------------- in a profile

HUB = np.array([0.0, 780.0, 0.0])
BASE = A_BOX.replace("PARTS", "      - name: well\n        shape: scan\n        file: well.ply\n        units: m\nMORE")


def sheet(step: float = 10.0) -> Any:
    """An arch of 450 mm round the hub, 400 mm wide, of squares of about so many mm; body frame [mm]."""
    angle, y = np.meshgrid(np.arange(0, np.pi, step / 450), np.arange(500.0, 901.0, step), indexing="ij")
    n, m = angle.shape
    places = np.stack([450 * np.cos(angle), y, 450 * np.sin(angle)], axis=-1).reshape(-1, 3)
    first = (np.arange(n - 1)[:, None] * m + np.arange(m - 1)).ravel()
    cells = [np.stack([first, first + m, first + m + 1], 1), np.stack([first, first + m + 1, first + 1], 1)]
    return trimesh.Trimesh(places, np.concatenate(cells), process=False)


def wheel() -> Any:
    """The old tire and wheel as a closed drum: 205 wide, 668 high, its middle 35 mm inboard of the hub face."""
    drum = trimesh.creation.cylinder(334.0, 200.0, sections=120).subdivide()
    drum.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, (1, 0, 0)))
    return drum.apply_translation((0.0, 745.0, 0.0))


def profile(folder: Path, body: Any, more: str, turn: Array | None = None, base: str = BASE) -> Profile:
    """A profile whose scan holds this mesh of the body, in metres, in axes that are turned so."""
    turn = np.eye(3) if turn is None else turn
    seen = trimesh.Trimesh((body.vertices - HUB) @ turn / 1000, body.faces, process=False)
    (folder / "well.ply").write_bytes(seen.export(file_type="ply"))
    rows = "\n".join("        " + line for line in more.strip().splitlines())
    (folder / "p.yaml").write_text(base.replace("MORE", rows))
    return load_profile(folder / "p.yaml")


def placed(turn: Array | None = None, off: Array | None = None, tolerance: str = "") -> str:
    """`placed_by` of the six marks; off : how far each tape reading is off [mm]."""
    turn = np.eye(3) if turn is None else turn
    read = MARKS - HUB + (0 if off is None else off)
    rows = []
    for mark, (x, y, z) in zip(MARKS, read, strict=True):
        a, b, c = (mark - HUB) @ turn / 1000
        rows.append(f"- {{scan: [{a:.7f}, {b:.7f}, {c:.7f}], at: {{ahead: {x:.4f}, up: {z:.4f}, out: {y:.4f}}}}}")
    return "\n".join(["placed_by:", *rows])


def parts(read: Profile) -> dict[str, Obstacle]:
    return {part.name: part for part in axle(read, "front").obstacles}


@pytest.mark.parametrize("angles", [(0, 0, 0), (12, -80, 140), (90, 0, 37)])
def test_a_scan_in_its_own_axes_comes_to_lie_where_it_was(angles: tuple[float, float, float], tmp_path: Path) -> None:
    read = profile(tmp_path, sheet(), placed(turned(angles)), turned(angles))
    mesh = parts(read)["well"].mesh
    assert mesh is not None
    found = mesh.vertices[np.lexsort(mesh.vertices.round(2).T)]
    there = sheet().vertices
    there = there[np.lexsort(there.round(2).T)]
    nearest = np.array([np.linalg.norm(there - place, axis=1).min() for place in found[::97]])
    assert nearest.max() < 1e-3  # a file holds seven digits
    assert len(mesh.faces) == len(sheet().faces)


def test_the_tolerance_is_the_surfaces_and_how_the_scan_lies_on_top(tmp_path: Path) -> None:
    off = np.random.default_rng(2).normal(0, 4.5, MARKS.shape)
    for more, shift, least in (("tolerance: 4", None, 4.0), ("", None, 5.0), ("tolerance: 1", off, None)):
        read = profile(tmp_path, sheet(), f"{placed(off=shift)}\n{more}")
        ((_, scan),) = scans(read, "front")
        counted = parts(read)["well"].tolerance
        worst = scan.placement.worst
        if least is not None:
            assert scan.off == pytest.approx(scattered(3.0 / 2), rel=0.06)  # a tape's usual tolerance
            assert counted == pytest.approx(least + scan.off)
        else:
            assert worst > 4
            assert counted == pytest.approx(worst + scan.off)
            assert "what its reference points show" in load_words(read)


def scattered(sigma: float) -> float:
    """Two standard deviations of the farthest corner of the sheet's box in many fits with readings off by so much."""
    draw = np.random.default_rng(7)
    low, high = sheet().bounds
    places = np.array(list(product(*zip(low, high, strict=True))))
    fits = (laid_over(MARKS, MARKS + draw.normal(0, sigma, MARKS.shape)) for _ in range(3000))
    off = np.array([places @ rotation.T + shift - places for rotation, _, shift in fits])
    return 2 * max(np.sqrt(np.linalg.eigvalsh(np.cov(off[:, i].T))[-1]) for i in range(8))


def load_words(read: Profile) -> str:
    from fitment.profile.scan_parts import scan_words

    return " ".join(scan_words(part, scan) for part, scan in scans(read, "front"))


def test_a_bad_point_is_a_caution_with_its_name(tmp_path: Path) -> None:
    off = np.zeros(MARKS.shape)
    off[3] = (0, 0, 45)
    read = profile(tmp_path, sheet(), placed(off=off))
    assert any("reference point point 4 is" in text and "measure it again" in text for text in read.warnings)


def test_a_scan_of_the_right_side_is_taken_mirrored(tmp_path: Path) -> None:
    mirror = np.diag([1.0, -1.0, 1.0])
    with pytest.raises(ProfileError, match="is mirrored"):
        profile(tmp_path, sheet(), placed(mirror), mirror)
    read = profile(tmp_path, sheet(), f"{placed(mirror)}\nmirrored: true", mirror)
    mesh = parts(read)["well"].mesh
    assert mesh is not None
    assert np.abs(np.linalg.norm(mesh.vertices[:, [0, 2]], axis=1) - 450).max() < 0.01


def test_a_smaller_scan_is_told_and_a_free_scale_takes_it_up(tmp_path: Path) -> None:
    small = np.eye(3) * 0.98
    read = profile(tmp_path, sheet(), placed(small), small)
    assert any("the scan is 2.0 % smaller than the vehicle" in text for text in read.warnings)
    free = profile(tmp_path, sheet(), f"{placed(small)}\nscale: free", small)
    ((_, scan),) = scans(free, "front")
    assert scan.placement.scale == pytest.approx(1 / 0.98, rel=1e-6)
    assert scan.placement.worst < 1e-3


# ---------------------------------------------------------------- what counts


def test_the_old_wheel_and_the_floor_do_not_count(tmp_path: Path) -> None:
    floor = trimesh.creation.box((1200.0, 500.0, 2.0)).subdivide().subdivide().apply_translation((0, 780, -325))
    body = trimesh.util.concatenate([sheet(), wheel(), floor])
    read = profile(tmp_path, body, f"{placed()}\ncut_wheel: {{within: 15, inside: true}}\ncut_floor: 20")
    ((_, scan),) = scans(read, "front")
    assert dict(scan.left_out) == {FROM_WHEEL: len(wheel().faces), FROM_FLOOR: len(floor.faces)}
    assert scan.kept == len(sheet().faces)
    assert any("nearer than 15 mm to the wheel and tire that were on" in text for text in read.warnings)


def test_what_is_beside_the_old_wheel_stays(tmp_path: Path) -> None:
    """A strip of the liner 20 mm over the tread is no part of the wheel, one 8 mm over it is not told from it."""
    for gap, stays in ((20.0, True), (8.0, False)):
        near = sheet()
        r = np.linalg.norm(near.vertices[:, [0, 2]], axis=1)
        near.vertices[:, [0, 2]] *= ((334.0 + gap) / r)[:, None]
        tread = (np.abs(near.vertices[near.faces][:, :, 1] - 745) < 60).all(axis=1)
        body = trimesh.Trimesh(near.vertices, near.faces[tread], process=False)
        body = trimesh.util.concatenate([sheet(), body])
        ((_, scan),) = scans(profile(tmp_path, body, f"{placed()}\ncut_wheel: 15"), "front")
        assert (scan.kept == len(body.faces)) == stays


def test_a_long_triangle_across_the_old_wheel_stays_where_any_of_it_leaves_the_solid(tmp_path: Path) -> None:
    """Its corners lie in the tire, front, top and rear; its middle lies in the hub's hole, far from all of it."""
    corners = [(310.0, 745.0, 0.0), (-310.0, 745.0, 0.0), (0.0, 745.0, 310.0)]
    body = trimesh.util.concatenate([sheet(), trimesh.Trimesh(corners, [[0, 1, 2]], process=False)])
    ((_, scan),) = scans(profile(tmp_path, body, f"{placed()}\ncut_wheel: 15"), "front")
    assert scan.kept == len(body.faces)


def test_boxes_keep_and_cut_by_whole_triangles(tmp_path: Path) -> None:
    body = sheet()
    low = body.triangles - HUB
    rows = f"{placed()}\nkeep: [{{up: [200, 600]}}]\ncut: [{{ahead: [-50, 50], out: [-103, 63]}}]"
    ((_, scan),) = scans(profile(tmp_path, body, rows), "front")
    kept = (low[:, :, 2] >= 200).any(axis=1)
    cut = ((np.abs(low[:, :, 0]) <= 50) & (low[:, :, 1] >= -103) & (low[:, :, 1] <= 63)).all(axis=1) & kept
    assert dict(scan.left_out) == {FROM_KEEP: np.sum(~kept), FROM_CUT: np.sum(cut)}


def test_zones_are_parts_of_their_own_by_box_and_by_the_clock(tmp_path: Path) -> None:
    body = sheet()
    rows = f"{placed()}\nzones: {{lip: {{out: [80, 200]}}, crown: {{clock: [11:00, 1:00]}}}}"
    found = parts(profile(tmp_path, body, rows))
    assert list(found) == ["well: lip", "well: crown", "well"]
    middle = body.triangles_center - HUB
    lip = middle[:, 1] >= 80
    crown = ~lip & (np.abs(np.degrees(np.arctan2(middle[:, 0], middle[:, 2]))) <= 30)
    counts = {name: len(part.mesh.faces) for name, part in found.items() if part.mesh}
    assert counts == {
        "well: lip": np.sum(lip),
        "well: crown": np.sum(crown),
        "well": len(body.faces) - np.sum(lip | crown),
    }


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**6), first=st.floats(0, 360), wide=st.floats(1, 180))
def test_a_clock_range_holds_what_its_angles_hold(seed: int, first: float, wide: float) -> None:
    places = np.random.default_rng(seed).normal(0, 300, (40, 3))
    angle = np.degrees(np.arctan2(places[:, 2], places[:, 0]))
    inside = (angle - first) % 360 <= wide
    assert np.array_equal(ScanRegion(clock=(first, first + wide)).holds(places), inside)


@pytest.mark.parametrize(
    ("more", "said", "key"),
    [
        ("axes: body\nkeep: [{up: [2000, 3000]}]", "nothing is left of the scan's", "keep[0]"),
        ("axes: body\nzones: {lip: {up: [2000, 3000]}}", "no triangle of the scan lies in this zone", "zones.lip"),
        ("axes: body\ncut: [{}]", "an empty box", "cut[0]"),
        ("axes: body\ncut: [{up: [100, 0]}]", "must rise", "cut[0].up"),
        ("axes: body\nzones: {lip: {clock: [9:00, 8:00]}}", "at most half a turn", "zones.lip.clock"),
        ("axes: body\nscale: free", "a free scale needs reference points", "scale"),
        ("", "placed_by is missing", ""),
        ("axes: body\nradius: 3", "A scan has no radius", "radius"),
        ("axes: body\ntrim: 20", "no edge to trim", "trim"),
        ("placed_by: [{scan: [0, 0], at: [0, 700, 0]}]", "a place in the scan is expected", "placed_by[0].scan"),
        ("placed_by: [{scan: [0, 0, 1e99], at: [0, 700, 0]}]", "is no plain number", "placed_by[0].scan[2]"),
    ],
)
def test_what_cannot_be_is_refused_at_its_key(more: str, said: str, key: str, tmp_path: Path) -> None:
    with pytest.raises(ProfileError) as caught:
        profile(tmp_path, sheet(), more)
    assert said in caught.value.message
    at = f"axles.front.obstacles[0].{key}".rstrip(".")
    assert caught.value.key in (at, at.rpartition("[")[0])


def test_a_scan_far_from_the_hub_is_refused(tmp_path: Path) -> None:
    body = sheet()
    body.apply_translation((0.0, 0.0, 4000.0))
    with pytest.raises(ProfileError, match=r"lies .* mm and more from the hub"):
        profile(tmp_path, body, "axes: body")


# ---------------------------------------------------------------- with a reading moved


@pytest.mark.parametrize("by_tape", [False, True])
def test_a_worst_case_moves_the_triangles_that_count_and_takes_no_others(by_tape: bool, tmp_path: Path) -> None:
    """The hub face 4 mm further out or in: by a mesh library, the scan moved by hand. Zones part it beside that."""
    shift = 0.0 if by_tape else 4.0  # reference points count from the hub face and move with it
    body = sheet()
    if not by_tape:
        body.vertices += HUB  # which `profile` takes off
    more = (placed() if by_tape else "axes: body") + "\ntolerance: 3\n"
    zones = "zones: {near: {out: [-60, 0]}, top: {out: [0, 60]}}"
    base = BASE.replace("1560", "{value: 1560, tolerance: 8}")
    read = profile(tmp_path, body, more + zones, base=base)
    prepared = ready(read, "front")
    (variant,) = [each for each in prepared.variants if each.reading == "hub_face_width"]
    prepared = replace(prepared, variants=(variant,))
    checked = run(prepared, setup(read, "front")).fit
    sections = setup_sections(checked.setup, largest=True)
    ((_, scan),) = scans(read, "front")
    assert (scan.off > 2.0) == by_tape  # how it lies counts on top of its surface's 3 mm; by trials above
    for part in ("tire", "wheel"):
        solid = reference_mesh.tree(*reference_mesh.revolve(sections[part].exterior.coords))
        for obstacle, other in zip(checked.axle.obstacles, variant.axle.obstacles, strict=True):
            assert obstacle.mesh is not None
            assert other.mesh is not None
            assert np.array_equal(obstacle.mesh.faces, other.mesh.faces)
            entry = min(
                (each for each in checked.clearances if (each.obstacle, each.part) == (obstacle.name, part)),
                key=lambda each: each.worst_case,
            )
            found = []
            for move in (0.0, shift, -shift):
                there = obstacle.mesh.vertices - checked.poses.origin[entry.pose] - (0, move, 0)
                faces = reference_mesh.tree(there @ checked.poses.rotation[entry.pose], obstacle.mesh.faces)
                still = fcl.Transform()
                pair = fcl.CollisionObject(solid, still), fcl.CollisionObject(faces, still)
                found.append(fcl.distance(*pair, fcl.DistanceRequest(), fcl.DistanceResult()))
            assert entry.worst_case == pytest.approx(min(found) - 3.0 - scan.off, abs=0.2), (obstacle.name, part)
