"""A scan laid by a round face in it: plane and circle against scipy's and closed forms, and what is refused."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from scanned import A_BOX
from scanned_hub import HUB, RIM, revolved, with_noise
from scipy.optimize import least_squares
from scipy.spatial.transform import Rotation

from fitment.errors import ProfileError, ScanError
from fitment.frames import hub_rotation, spin_axis
from fitment.profile import Profile, axle, load_profile, scans
from fitment.profile.scan_parts import counted_tolerance, scan_words
from fitment.scans.round_face import FaceFit, RoundFace, found_face

Array = np.ndarray
TURN = Rotation.from_euler("xyz", (20, -70, 130), degrees=True).as_matrix()
SHIFT = np.array([300.0, -200.0, 900.0])
FACE, STEP = 75.0, 4.0  # [mm] radius of the hub's face, and sides of the triangles


def picked(radius: float, draw: Any, off: float = 2.0) -> Array:
    """Three places on a circle about y', each picked about so many mm off."""
    angle = np.array([0.3, 2.4, 4.5]) + draw.normal(0, 0.15, 3)
    return np.stack([radius * np.cos(angle), 0 * angle, radius * np.sin(angle)], -1) + draw.normal(0, off, (3, 3))


def as_three(places: Array) -> Any:
    return tuple(tuple(place) for place in places.tolist())


def moved(places: Array) -> Array:
    return places @ TURN.T + SHIFT


def found(mesh: tuple[Array, Array], seed: int, radius: float = FACE, ring: float = 30.0) -> FaceFit:
    draw = np.random.default_rng(seed + 1000)
    wanted = RoundFace("hub face", as_three(moved(picked(radius, draw))), radius, ring)
    return found_face(moved(mesh[0]), mesh[1], wanted, "mm")


def faults(fit: FaceFit) -> tuple[float, float, float]:
    """How far the axis is off [deg], the plane at the centre, and the centre in it [mm]."""
    axis = np.array(fit.axes[2]) @ TURN
    x, y, z = (np.array(fit.centre) - SHIFT) @ TURN
    return float(np.degrees(np.arcsin(np.hypot(axis[0], axis[2])))), abs(y), float(np.hypot(x, z))


def said(fit: FaceFit) -> tuple[float, float, float]:
    """What the fit says of these, two standard deviations."""
    return fit.tilt, 2 * fit.plane[0][0] ** 0.5, float(2 * np.sqrt(np.linalg.eigvalsh(np.array(fit.circle))[-1]))


# ---------------------------------------------------------------- plane and circle


@pytest.mark.parametrize("clutter", [0.2, 0.3])
@pytest.mark.parametrize("noise", [0.4, 1.2])
def test_plane_and_circle_are_scipys_of_what_is_no_clutter(noise: float, clutter: float) -> None:
    """scipy is given the corners that lie on the face by the closed form, and no others; ours has to tell them."""
    clean = revolved(HUB, STEP)
    mesh = with_noise(clean, noise, clutter, 5)
    r = np.hypot(*clean[0][:, [0, 2]].T)
    flat, rim = (np.isclose(clean[0][:, 1], 0) & on for on in ((r > 45.0) & (r < 75.5), np.isclose(r, FACE)))
    places, edge = (moved(mesh[0][: len(clean[0])][own]) for own in (flat, rim))

    def off_plane(values: Array) -> Array:
        normal = values[:3] / np.linalg.norm(values[:3])
        return (places - SHIFT) @ normal - values[3]

    plane = least_squares(off_plane, [*TURN[:, 1], 0.0], xtol=1e-12).x
    fit = found(mesh, 5)
    axis = np.array(fit.axes[2])
    normal = plane[:3] / np.linalg.norm(plane[:3])
    assert np.degrees(np.arcsin(np.linalg.norm(np.cross(axis, normal)))) < fit.tilt
    assert abs((np.array(fit.centre) - SHIFT) @ normal - plane[3]) < 0.5 * noise

    flat_edge = (edge - np.array(fit.centre)) @ np.array(fit.axes[:2]).T
    circle = least_squares(lambda v: np.hypot(*(flat_edge - v[:2]).T) - v[2], [0.0, 0.0, FACE], xtol=1e-12).x
    assert np.hypot(*circle[:2]) < said(fit)[2]
    assert abs(fit.radius - circle[2]) < STEP / 2


@pytest.mark.parametrize(("noise", "clutter"), [(0.5, 0.0), (0.5, 0.3), (1.2, 0.2)])
def test_a_known_motion_is_found_again_within_what_the_fit_says(noise: float, clutter: float) -> None:
    """Two standard deviations of two coordinates hold 86 of 100 (Rayleigh); twice as many hold 999."""
    clean = revolved(HUB, STEP)
    fits = [found(with_noise(clean, noise, clutter, seed), seed) for seed in range(16)]
    off, told = np.array([faults(fit) for fit in fits]), np.array([said(fit) for fit in fits])
    assert (off <= told).mean() > 0.75
    assert (off <= 2 * told).mean() > 0.95
    assert told[:, 0].max() < 0.6
    assert np.abs([fit.radius - FACE for fit in fits]).max() < 1.5


def test_errors_that_go_together_count() -> None:
    """A phone's error is smooth: here of waves some 60 mm long, 0.7 mm high, which many corners share."""
    clean = revolved(HUB, STEP)
    off, told = [], []
    for seed in range(16):
        draw = np.random.default_rng(seed)
        wave, phase = draw.normal(0, 2 * np.pi / 60 / np.sqrt(2), (40, 2)), draw.uniform(0, 2 * np.pi, 40)
        lift = 0.7 * np.sqrt(2 / 40) * np.cos(clean[0][:, [0, 2]] @ wave.T + phase).sum(axis=1)
        fit = found((clean[0] + lift[:, None] * (0, 1, 0), clean[1]), seed)
        off.append(faults(fit)[0])
        told.append(fit.tilt)
    assert np.mean(np.array(off) <= told) > 0.75
    assert np.median(off) > 0.1  # what independent corners would hold to 0.03


def test_the_ring_of_a_rims_edge_is_told_from_its_tire() -> None:
    clean = revolved([(y - 69, r) for y, r in RIM], STEP)
    for seed in range(6):
        fit = found(with_noise(clean, 0.5, 0.25, seed, 211.0), seed, 211.0, 8.0)
        tilt, lift, aside = faults(fit)
        assert tilt < 2 * fit.tilt < 0.2
        assert lift < 1.0
        assert aside < said(fit)[2]
        assert abs(fit.radius - 211.0) < 4.0


def test_a_smaller_face_tells_its_axis_less() -> None:
    small = [(y, r * 0.6) for y, r in HUB]
    tilts = [
        found(with_noise(revolved(line, STEP), 0.8, 0.1, 3), 3, r, 0.4 * r).tilt
        for line, r in ((HUB, 75.0), (small, 45.0))
    ]
    assert tilts[1] > 1.4 * tilts[0]


def wanted_of(places: Array, radius: float = FACE) -> RoundFace:
    return RoundFace("hub face", as_three(places), radius, 0.4 * radius)


ON_EDGE = picked(FACE, np.random.default_rng(0), 0.0)


@pytest.mark.parametrize(
    ("places", "radius", "message"),
    [
        (ON_EDGE + np.array([0, 60, 0]), FACE, r"lies 60 mm from the scan"),
        (ON_EDGE[[0, 0, 1]], FACE, r"too near to each other, or on one line"),
        (np.array([[-75.0, 0, 0], [0, 0, 0], [75, 0, 0]]), FACE, r"too near to each other, or on one line"),
        (ON_EDGE, 100.0, r"is 150 mm across, the hub face's edge is 200 mm"),
        (ON_EDGE, 7.5, r"not mm but probably cm|150 mm across"),
    ],
)
def test_a_wrong_place_is_refused_with_what_was_found(places: Array, radius: float, message: str) -> None:
    with pytest.raises(ScanError, match=message) as caught:
        found_face(*revolved(HUB, STEP), wanted_of(places, radius), "mm")
    assert caught.value.at[0] in ("hub_face", "units")


def test_a_ball_is_no_flat_face_and_a_square_has_no_round_edge() -> None:
    bend = np.radians(np.linspace(0, 60, 20))
    ball = [(90 * np.cos(a) - 90 * np.cos(np.pi / 3), max(90 * np.sin(a), 1.0)) for a in bend]
    with pytest.raises(ScanError, match="there is no flat hub face"):
        found_face(*revolved(ball, STEP), wanted_of(ON_EDGE * 77.9 / 75, 77.9), "mm")
    ends = np.array([[52.0, 0, 52], [-52, 0, 52], [-52, 0, -52], [52, 0, -52]])  # one side: two would be two planes
    square = trimesh.Trimesh(ends, [[0, 1, 2], [0, 2, 3]]).subdivide_to_size(4.0)
    corners = ends[:3]
    with pytest.raises(ScanError, match=r"no round edge|circle there is|ends at only"):
        found_face(square.vertices, square.faces, wanted_of(corners, 73.5), "mm")


def test_another_unit_is_named() -> None:
    places, faces = revolved(HUB, STEP)
    with pytest.raises(ScanError, match="not mm but probably cm; write units: cm"):
        found_face(places / 10, faces, wanted_of(ON_EDGE / 10), "mm")


# ---------------------------------------------------------------- in a profile

CENTRE = np.array([0.0, 780.0, 0.0])
BASE = A_BOX.replace(
    "PARTS", "      - name: well\n        shape: scan\n        file: well.ply\n        tolerance: 2\nMORE"
)
MARKS = {"lip top": (0.0, 877.0, 450.0), "lip front": (435.0, 877.0, 116.0), "inner wall": (-220.0, 520.0, 390.0)}


def arch() -> tuple[Array, Array]:
    """An arch of 450 mm about the hub, 400 mm wide; body frame [mm]."""
    from scanned import sheet_faces

    angle, y = np.meshgrid(np.linspace(0, np.pi, 70), np.linspace(500, 900, 21), indexing="ij")
    return np.stack([450 * np.cos(angle), y, 450 * np.sin(angle)], -1).reshape(-1, 3), sheet_faces(70, 21)


def joined(*meshes: tuple[Array, Array]) -> tuple[Array, Array]:
    starts = np.cumsum([0, *(len(places) for places, _ in meshes[:-1])])
    faces = [faces + start for (_, faces), start in zip(meshes, starts, strict=True)]
    return np.concatenate([places for places, _ in meshes]), np.concatenate(faces)


HAND = np.diag([-1.0, 1.0, 1.0])


def seen(places: Array, hand: Array | None = None) -> Array:
    """Places of the body as they lie in the file [mm]."""
    lies = (np.asarray(places) - CENTRE) @ TURN.T + SHIFT
    return lies if hand is None else lies @ hand


def listed(places: Array) -> str:
    return "[" + ", ".join("[" + ", ".join(f"{v:.4f}" for v in place) + "]" for place in np.atleast_2d(places)) + "]"


def marks(*names: str, hand: Array | None = None, off: Array | None = None) -> str:
    rows = []
    for name in names:
        x, y, z = np.array(MARKS[name]) - CENTRE + (0 if off is None else off)
        at = listed(seen(np.array(MARKS[name]), hand))[1:-1]
        rows.append(f"{{name: {name}, scan: {at}, at: {{ahead: {x:.3f}, up: {z:.3f}, out: {y:.3f}}}}}")
    return f"placed_by: [{', '.join(rows)}]"


def profile(
    folder: Path, more: str, *, hub: Array | None = None, noise: float = 0.5, hand: Array | None = None,
    base: str = BASE, rim: bool = False, steer: float = 0.0, drop: float = 0.0,
) -> Profile:  # fmt: skip
    """A profile whose scan is an arch with a hub, or a rim, in it.

    hub : rotation of the hub to the body; steer [deg], drop [mm] : by which it stood wrong when it was scanned
    """
    turn = np.eye(3) if hub is None else hub
    turn = Rotation.from_euler("z", steer, degrees=True).as_matrix() @ turn
    round_one = revolved([(y + 53.9 - 69, r + 204.6 - 211) for y, r in RIM] if rim else HUB, 5.0)
    placed = with_noise(round_one, 0.0, 0.2 if not rim else 0.0, 1)
    body = joined(arch(), (placed[0] @ turn.T + CENTRE - (0, 0, drop), placed[1]))
    places = seen(body[0], hand) + np.random.default_rng(2).normal(0, noise, body[0].shape)
    (folder / "well.ply").write_bytes(trimesh.Trimesh(places, body[1], process=False).export(file_type="ply"))
    rows = "\n".join("        " + line for line in more.strip().splitlines())
    (folder / "p.yaml").write_text(base.replace("MORE", rows))
    return load_profile(folder / "p.yaml")


def on_edge(radius: float = FACE, y: float = 0.0, hub: Array | None = None, hand: Array | None = None) -> str:
    places = picked(radius, np.random.default_rng(4), 1.5) + np.array([0, y, 0])
    return listed(seen(places @ (np.eye(3) if hub is None else hub).T + CENTRE, hand))


def by_hub(hand: Array | None = None, hub: Array | None = None) -> str:
    return f"hub_face: {{edge: {on_edge(hub=hub, hand=hand)}, diameter: 150}}"


FLOOR = np.array([[-560.0, 950.0, -320.0], [540.0, 905.0, -320.0]])  # not along the vehicle, but level


def by_rim(hand: Array | None = None, floor: Array = FLOOR, inboard: Any = (20.0, 510.0, 300.0)) -> str:
    edge = on_edge(204.6, 53.9, hand=hand)
    told = f"floor: {listed(seen(floor, hand))}, inboard: {listed(seen(np.array(inboard), hand))[1:-1]}"
    return f"rim_edge: {{edge: {edge}, {told}}}"


def off_by(read: Profile) -> tuple[float, Any]:
    """How far the arch lies off where it was, at most [mm], and the scan."""
    ((_, scan),) = scans(read, "front")
    there = scan.placement.body(scan.in_mm(seen(arch()[0], HAND if scan.order.is_mirrored else None)))
    return float(np.linalg.norm(there - arch()[0], axis=1).max()), scan


def test_a_scan_laid_by_the_hub_lies_where_it_was(tmp_path: Path) -> None:
    read = profile(tmp_path, f"{by_hub()}\n{marks('lip top', 'lip front')}")
    off, scan = off_by(read)
    assert off < scan.off < 6.0
    part = scans(read, "front")[0][0]
    assert counted_tolerance(part, scan) == pytest.approx(2.0 + scan.off)  # its points are off by less than 2 mm
    assert scan.placement.worst < 2.0
    words = scan_words(part, scan)
    assert "Placed by its hub face" in words
    assert "150 mm by what is stated" in words
    assert "left out" in words
    assert not [text for text in read.warnings if "granted" in text or "mirror" in text]


def test_camber_and_toe_of_the_profile_are_the_hubs(tmp_path: Path) -> None:
    hub = hub_rotation(spin_axis(-2.0, -0.5))
    base = BASE.replace("camber: 0, toe_in: 0,", "camber: -2, toe_in: 0.5,")
    off, scan = off_by(profile(tmp_path, f"{by_hub(hub=hub)}\n{marks('lip top', 'lip front')}", hub=hub, base=base))
    assert off < scan.off < 6.0


def test_a_scan_laid_by_the_rim_and_the_floor_lies_where_it_was(tmp_path: Path) -> None:
    """15x6 ET35: its outboard edge stands (6 x 25.4 + 25.4) / 2 - 35 = 53.9 mm outboard of the hub's face."""
    read = profile(tmp_path, by_rim(), rim=True)
    off, scan = off_by(read)
    assert off < scan.off < 10.0
    assert scan.placement.face.height == pytest.approx(320.0, abs=2.0)
    assert any("is taken for granted" in text for text in read.warnings)


def test_one_point_lays_it_and_what_it_does_not_tell_is_said(tmp_path: Path) -> None:
    read = profile(tmp_path, f"{by_hub()}\n{marks('lip top')}")
    off, scan = off_by(read)
    assert off < scan.off
    assert any("straight ahead is taken for granted" in text for text in read.warnings)
    assert any("mirror image cannot be told" in text for text in read.warnings)


@pytest.mark.parametrize(("steer", "drop"), [(4.0, 0.0), (0.0, 25.0)])
def test_a_hub_that_stood_wrong_is_told_and_counts(steer: float, drop: float, tmp_path: Path) -> None:
    """Over the wheel and ahead of it: steered by 4 degrees the lip in front is 30 mm off, lowered by 25 the top."""
    hub = Rotation.from_euler("z", steer, degrees=True).as_matrix()
    edge = picked(FACE, np.random.default_rng(4), 1.0) @ hub.T + CENTRE - (0, 0, drop)
    more = f"hub_face: {{edge: {listed(seen(edge))}, diameter: 150}}\n{marks('lip top', 'lip front')}"
    read = profile(tmp_path, more, steer=steer, drop=drop)
    off, scan = off_by(read)
    assert off > 20
    assert scan.placement.worst > 15
    assert counted_tolerance(scans(read, "front")[0][0], scan) > 0.75 * off
    assert scan.placement.off[0] == ("lip front" if steer else "lip top")
    assert any("straight ahead and at its reference height" in text for text in read.warnings)


def test_what_is_said_at_the_far_end_is_what_trials_show(tmp_path: Path) -> None:
    """Tape 1.5 mm each way, the scan's clicks 1 mm: the same hub with other noise, picked and read anew."""
    from fitment.scans.best_fit import ReferencePoint
    from fitment.scans.face_placing import laid_by_face

    read = profile(tmp_path, f"{by_hub()}\n{marks('lip top', 'lip front')}")
    ((_, scan),) = scans(read, "front")
    order = scan.order
    assert order.face is not None
    clean, far = revolved(HUB, 5.0), np.array([[-450.0, 500.0, 0.0], [450.0, 900.0, 0.0]])
    lies = []
    for seed in range(24):
        draw = np.random.default_rng(seed)
        mesh = with_noise(clean, 1.0, 0.2, seed)
        fit = found(mesh, seed)
        at = [np.array(MARKS[name]) for name in ("lip top", "lip front")]
        taped = [
            ReferencePoint("p", tuple(seen(place) + draw.normal(0, 1.0, 3)), tuple(place + draw.normal(0, 1.5, 3)))
            for place in at
        ]
        placed = laid_by_face(fit, order.face, taped, tuple(CENTRE), np.eye(3), mirrored=False)
        lies.append((placed.body(seen(far)) - far, placed.off_at(far)))
    off = np.array([np.linalg.norm(each, axis=1) for each, _ in lies])
    told = np.array([each for _, each in lies])
    assert (off.max(axis=1) <= told).mean() > 0.8  # three coordinates at two places, two standard deviations
    assert np.sqrt((off**2).mean()) > told.mean() / 5


def test_with_the_hubs_camber_read_wrong_the_scan_is_tilted_with_it(tmp_path: Path) -> None:
    """The face is the hub's, so each place keeps how far along its axis and from it it is; the points hold the turn."""
    base = BASE.replace("camber: 0, toe_in: 0,", "camber: {value: 0, tolerance: 0.5}, toe_in: 0,")
    read = profile(tmp_path, f"{by_hub()}\n{marks('lip top', 'lip front')}", base=base)
    (still,), (tilted,) = (
        axle(read, "front", moved=moved_by).obstacles for moved_by in (None, {"suspension.camber": 0.5})
    )
    assert still.mesh is not None
    assert tilted.mesh is not None
    assert np.linalg.norm(tilted.mesh.vertices - still.mesh.vertices, axis=1).max() > 3
    spin = np.array([0.0, np.cos(np.radians(0.5)), -np.sin(np.radians(0.5))])
    before, after = still.mesh.vertices - CENTRE, tilted.mesh.vertices - CENTRE
    assert after @ spin == pytest.approx(before[:, 1], abs=1e-6)
    assert np.linalg.norm(after, axis=1) == pytest.approx(np.linalg.norm(before, axis=1), abs=1e-6)


# ---------------------------------------------------------------- mirrors


def test_a_mirrored_scan_is_told_by_two_points_or_the_floor(tmp_path: Path) -> None:
    two = marks("lip top", "lip front", hand=HAND)
    with pytest.raises(ProfileError, match="is mirrored"):
        profile(tmp_path, f"{by_hub(HAND)}\n{two}", hand=HAND)
    off, scan = off_by(profile(tmp_path, f"{by_hub(HAND)}\n{two}\nmirrored: true", hand=HAND))
    assert off < scan.off
    with pytest.raises(ProfileError, match="is not mirrored"):
        profile(tmp_path, f"{by_hub()}\n{marks('lip top', 'lip front')}\nmirrored: true")
    with pytest.raises(ProfileError, match=r"the floor is over the hub.*mirror"):
        profile(tmp_path, by_rim(HAND), rim=True, hand=HAND)
    off, scan = off_by(profile(tmp_path, f"{by_rim(HAND)}\nmirrored: true", rim=True, hand=HAND))
    assert off < scan.off


def test_one_point_does_not_settle_a_mirror_so_mirrored_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ProfileError, match="do not tell whether the scan is a mirror image") as caught:
        profile(tmp_path, f"{by_hub(HAND)}\n{marks('lip top', hand=HAND)}\nmirrored: true", hand=HAND)
    assert caught.value.key == "axles.front.obstacles[0].mirrored"


# ---------------------------------------------------------------- what is refused

EDGE = on_edge()
NEAR_AXIS = "placed_by: [{scan: " + listed(seen(np.array([0, 820.0, 30])))[1:-1] + ", at: {ahead: 0, up: 30, out: 40}}]"
IN_PLANE = "placed_by: [{scan: " + listed(seen(np.array([0, 780.0, 450])))[1:-1] + ", at: {ahead: 0, up: 450, out: 0}}]"


@pytest.mark.parametrize(
    ("more", "message", "key"),
    [
        (f"hub_face: {{edge: {EDGE}, diameter: 150}}", "which way is up is missing", "hub_face"),
        (f"hub_face: {{edge: {EDGE}, diameter: 0}}", "not a plausible diameter", "hub_face.diameter"),
        (f"hub_face: {{edge: {EDGE}}}", "diameter is missing", "hub_face"),
        ("hub_face: {edge: [[0, 0, 0], [1, 1, 1]], diameter: 150}", "2 values", "hub_face.edge"),
        ("hub_face: {edge: [[0, 0, .nan], [1, 1, 1], [2, 2, 2]], diameter: 150}", "nan", "hub_face.edge"),
        (f"{by_hub()}\n{marks('lip top')}\naxes: body", "placed twice", ""),
        (f"{by_hub()}\nrim_edge: {{edge: {EDGE}}}\n{marks('lip top')}", "placed twice", ""),
        (f"{by_hub()}\n{marks('lip top')}\nscale: free", "a free scale needs reference points alone", "scale"),
        (f"rim_edge: {{edge: {EDGE}, floor: [[0, 0, 0], [1, 0, 0]]}}", "inboard is missing", "rim_edge"),
        (f"rim_edge: {{edge: {EDGE}, inboard: [0, 0, 0]}}", "inboard goes with floor", "rim_edge.inboard"),
        (f"{by_rim()}\n{marks('lip top')}", "given twice; keep placed_by or floor", "rim_edge"),
        (f"{by_hub()}\n{NEAR_AXIS}", "mm from the spin axis, too near", "placed_by"),
        (f"{by_hub()}\n{IN_PLANE}", "nothing tells which side of the hub face is outboard", "placed_by"),
        (f"{by_hub()}\n{marks('lip top', off=np.array([0, 0, 90.0]))}", "do not fit: lip top is 90", "placed_by"),
        (f"{by_hub().replace('150', '200')}\n{marks('lip top')}", "148 mm across, the hub face's", "hub_face.edge"),
        (by_rim(), "the circle|too near|no flat rim edge|lies .* from the scan", "rim_edge.edge"),
    ],
)  # fmt: skip
def test_what_places_nothing_is_refused_at_its_key(more: str, message: str, key: str, tmp_path: Path) -> None:
    with pytest.raises(ProfileError, match=message) as caught:
        profile(tmp_path, more)
    at = f"axles.front.obstacles[0].{key}".rstrip(".")
    assert str(caught.value.key).startswith(at)


@pytest.mark.parametrize(
    ("floor", "inboard", "message", "key"),
    [
        (FLOOR[::-1], (20.0, 510.0, 300.0), "the floor is over the hub", "floor"),
        (FLOOR * (0.1, 1, 1), (20.0, 510.0, 300.0), "too near to tell what is level", "floor"),
        (FLOOR, (20.0, 830.0, 300.0), "does not tell which side is inboard", "inboard"),
    ],
)
def test_a_floor_that_tells_nothing_is_refused(
    floor: Array, inboard: Any, message: str, key: str, tmp_path: Path
) -> None:
    with pytest.raises(ProfileError, match=message) as caught:
        profile(tmp_path, by_rim(floor=floor, inboard=inboard), rim=True)
    assert str(caught.value.key).startswith(f"axles.front.obstacles[0].rim_edge.{key}")


# ---------------------------------------------------------------- the demo's well


def test_the_demos_well_lies_the_same_by_its_hub_and_by_points(tmp_path: Path) -> None:
    root = Path(__file__).parent.parent
    spec = importlib.util.spec_from_file_location("scan_demo", root / "gallery" / "scan_demo.py")
    assert spec is not None
    assert spec.loader is not None
    demo = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(demo)
    angles = np.linspace(-8.0, 188.0, 128)
    well, cells, _ = demo.swept(np.stack([demo.section(angle) for angle in angles]), angles)
    hub = hub_rotation(spin_axis(-0.5, -0.05))
    places, faces = revolved(HUB, STEP)
    body = joined((well, cells), (places @ hub.T + demo.HUB, faces))
    noisy = demo.phone(body[0] + np.random.default_rng(3).normal(0, demo.NOISE, body[0].shape))
    (tmp_path / "scanned_well.ply").write_bytes(demo.ply(noisy, body[1]))
    text = (root / "profiles" / "scanned.yaml").read_text().replace("cut_wheel: {within: 15, inside: true}", "")
    text = text[: text.index("  by_rim:")] + text[text.index("  taped:") :]  # placed by a rim that this scan has not
    lines = text.splitlines()
    mark = [next(line for line in lines if f"'{name}'" in line) for name in ("lip top", "lip front")]
    start, end = (next(i for i, line in enumerate(lines) if key in line) for key in ("placed_by:", "cut_floor"))
    edge = listed(demo.phone(picked(FACE, np.random.default_rng(8), 1.0) @ hub.T + demo.HUB))
    own = ["        at: {travel: 0}", f"        hub_face: {{edge: {edge}, diameter: 150}}", lines[start], *mark]
    (tmp_path / "face.yaml").write_text("\n".join([*lines[:start], *own, *lines[end:]]))
    (tmp_path / "points.yaml").write_text(text)
    (part, by_face), (_, by_points) = (
        scans(load_profile(tmp_path / f"{name}.yaml"), "front", "wide")[0] for name in ("face", "points")
    )
    there = [scan.placement.body(scan.in_mm(noisy[::50])) for scan in (by_face, by_points)]
    assert np.linalg.norm(there[0] - there[1], axis=1).max() < by_face.off + by_points.off
    assert by_face.off < 8.0
    assert counted_tolerance(part, by_face) < 12.0
