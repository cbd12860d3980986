"""A scan made in droop or steered, laid by hub or rim: where the hub stood by hand formulas, and what is said."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from scanned_hub import HUB, RIM, revolved, with_noise
from scipy.spatial.transform import Rotation
from test_scan_by_face import BASE, CENTRE, FACE, MARKS, arch, joined, listed, marks, off_by, picked, seen

from fitment.checks.case import ready, run
from fitment.errors import ProfileError
from fitment.profile import Profile, axle, load_profile, readings, scans, setup
from fitment.profile.scan_parts import scan_words
from fitment.report import slip_words

Array = np.ndarray
TAPE = "{kind: tape, camber: 0, toe_in: 0, camber_per_100mm: 0, track_per_100mm: 0}"
LEANS = "{kind: tape, camber: 0, toe_in: 0, camber_per_100mm: -2, track_per_100mm: 6}"
UPRIGHT_AXIS = f"{LEANS[:-1]}, steering_axis: {{lower: [0, 680, -100], upper: [0, 680, 200]}}}}"
BEAM = "{kind: solid_axle, camber: 0, toe_in: 0, links: {ahead_per_100mm: 0}}"
# parallel arms of one length, 300 mm, level at the reference pose, and a tie rod like them: the knuckle only shifts
PARALLEL = (
    "{kind: double_wishbone, camber: 0, toe_in: 0, points: {lower_inner_front: [120, 400, -100], "
    "lower_inner_rear: [-120, 400, -100], lower_ball: [0, 700, -100], upper_inner_front: [120, 400, 150], "
    "upper_inner_rear: [-120, 400, 150], upper_ball: [0, 700, 150], tie_inner: [-140, 400, 0], "
    "tie_outer: [-140, 700, 0]}}"
)


def about(axis: str, degrees: float) -> Array:
    return np.asarray(Rotation.from_euler(axis, degrees, degrees=True).as_matrix())


class Stood:
    """A hub that was moved as one: a turn about a place, then a shift."""

    def __init__(self, turn: Array | None = None, shift: Any = (0, 0, 0), pivot: Array = CENTRE) -> None:
        self.turn, self.shift, self.pivot = (np.eye(3) if turn is None else turn), np.array(shift, dtype=float), pivot

    def __call__(self, places: Array) -> Array:
        return (places - self.pivot) @ self.turn.T + self.pivot + self.shift


def slid(drop: float) -> Stood:
    return Stood(shift=(0, 0, -drop))


def swung(drop: float) -> Stood:
    """An arm of 300 mm that hangs lower by so much at its end."""
    return Stood(shift=(0, np.sqrt(300.0**2 - drop**2) - 300.0, -drop))


def leaned(drop: float) -> Stood:
    """2 deg more camber and 6 mm inboard for each 100 mm of droop: the top goes outboard."""
    return Stood(about("x", -2 * drop / 100), (0, -6 * drop / 100, -drop))


def tilted(drop: float) -> Stood:
    """One end of a beam lowered, the other at rest: turned by asin(d / track), its middle still in the centre plane."""
    turn = math.asin(drop / (2 * CENTRE[1]))
    return Stood(about("x", -math.degrees(turn)), (0, CENTRE[1] * (math.cos(turn) - 1), -drop))


def steered(degrees: float) -> Stood:
    """Turned about an upright axis 680 mm from the centre plane."""
    return Stood(about("z", degrees), pivot=np.array([0.0, 680.0, 0.0]))


def both(drop: float, degrees: float) -> Stood:
    """Leaned first; the axis leans and goes along, so that the turn is about where it is then."""
    own = drop
    for _ in range(
        20
    ):  # steered about an axis that leans, the hub rises: the travel that is asked for is what it has then
        found = _steered_at(own, degrees)
        own += drop + found.shift[2]
    return found


def _steered_at(drop: float, degrees: float) -> Stood:
    first = leaned(drop)
    axis = first.turn @ (0.0, 0.0, 1.0)
    at = first(np.array([[0.0, 680.0, 0.0]]))[0]

    def steer_of(angle: float) -> float:
        x, y, _ = Rotation.from_rotvec(angle * axis).as_matrix() @ first.turn @ (0.0, 1.0, 0.0)
        return float(np.degrees(np.arctan2(-x, y)))

    low, high = 0.0, np.radians(2 * degrees)
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if steer_of(middle) < degrees else (low, middle)
    turn = Rotation.from_rotvec(low * axis).as_matrix()
    found = Stood(turn @ first.turn)
    found.shift = turn @ (first(CENTRE[None])[0] - at) + at - CENTRE
    return found


def profile(
    folder: Path, stood: Stood, at: str, more: str, *, suspension: str = TAPE, rim: bool = False, steers: bool = False
) -> Profile:
    """A profile whose scan is an arch in the body, and a hub or a rim that was moved."""
    outline = [(y + 53.9 - 69, r + 204.6 - 211) for y, r in RIM] if rim else HUB
    placed = with_noise(revolved(outline, 5.0), 0.0, 0.0 if rim else 0.2, 1)
    body = joined(arch(), (stood(placed[0] + CENTRE), placed[1]))
    places = seen(body[0]) + np.random.default_rng(2).normal(0, 0.5, body[0].shape)
    (folder / "well.ply").write_bytes(trimesh.Trimesh(places, body[1], process=False).export(file_type="ply"))
    edge = picked(204.6 if rim else FACE, np.random.default_rng(4), 1.5) + CENTRE
    edge[:, 1] += 53.9 if rim else 0.0
    more = more.replace("EDGE", listed(seen(stood(edge)))) + (f"\nat: {at}" if at else "")
    base = BASE.replace(TAPE, suspension).replace("MORE", "\n".join(f"        {each}" for each in more.splitlines()))
    if steers:
        base = base.replace("    travel: {droop", "    steering: {lock_left: 30, lock_right: 28}\n    travel: {droop")
    (folder / "p.yaml").write_text(base)
    return load_profile(folder / "p.yaml")


# of one point in front neither height nor steer is told, two tell enough of the turn for any of them
ALONE = f"hub_face: {{edge: EDGE, diameter: 150}}\n{marks('lip front')}"
BY_HUB = f"hub_face: {{edge: EDGE, diameter: 150}}\n{marks('lip front', 'inner wall')}"
BY_RIM = BY_HUB.replace("hub_face", "rim_edge").replace(", diameter: 150", "")


# ---------------------------------------------------------------- where it lies


@pytest.mark.parametrize(
    ("stood", "at", "suspension"),
    [
        (slid(50), "{travel: droop}", TAPE),
        (slid(40), "{travel: -40}", TAPE),
        (slid(40), "{travel: -4 cm}", TAPE),
        (slid(40), "{hub_to_lip: [450, 490]}", TAPE),
        (swung(50), "{travel: droop}", PARALLEL),
        (leaned(50), "{travel: droop}", LEANS),
        (slid(50), "{travel: droop}", BEAM),
        (tilted(50), "{travel: droop, other: height}", BEAM),
        (tilted(50), "{hub_to_lip: [450, 500], other: 0}", BEAM),
        (slid(50), "{travel: droop, other: droop}", BEAM),
        (steered(12), "{steer: 12}", UPRIGHT_AXIS),
        (steered(30), "{lock: left}", UPRIGHT_AXIS),
        (steered(-28), "{travel: 0, lock: right}", UPRIGHT_AXIS),
        (both(50, 12), "{travel: droop, steer: 12}", UPRIGHT_AXIS),
    ],
)
def test_a_scan_made_elsewhere_is_laid_where_it_was(stood: Stood, at: str, suspension: str, tmp_path: Path) -> None:
    read = profile(tmp_path, stood, at, BY_HUB, suspension=suspension, steers=True)
    off, scan = off_by(read)
    assert off < 3.0
    assert off < scan.off < 14.0  # of which a degree of steer is 8 mm at 450 mm
    part = scans(read, "front")[0][0]
    assert "as stated" in scan_words(part, scan)
    centre, rotation = scan.order.hub_then
    assert centre == pytest.approx(stood(CENTRE[None])[0], abs=0.02)
    assert np.array(rotation)[:, 1] == pytest.approx(stood.turn @ (0.0, 1.0, 0.0), abs=1e-5)


@pytest.mark.parametrize(
    ("stood", "at", "least"),
    [
        (slid(50), "", 40),
        (slid(50), "{travel: 0}", 40),
        (slid(0), "{travel: droop}", 40),
        (slid(50), "{travel: 50}", 80),
    ],
)
def test_a_wrong_statement_lays_it_wrong_and_two_points_show_it(
    stood: Stood, at: str, least: float, tmp_path: Path
) -> None:
    off, _ = off_by(profile(tmp_path, stood, at, ALONE))
    assert off > least
    two = f"hub_face: {{edge: EDGE, diameter: 150}}\n{marks('lip top', 'lip front')}"
    if least > 50:
        with pytest.raises(ProfileError, match=r"do not fit.*scanned at travel \+50 mm, straight ahead, as at says"):
            profile(tmp_path, stood, at, two)
        with pytest.raises(ProfileError, match=r"do not fit.*if not, say how it stood \(at: "):
            profile(tmp_path, slid(90), "", two)
        return
    ((_, scan),) = scans(profile(tmp_path, stood, at, two), "front")
    assert scan.placement.off[0] == "lip top"


def test_a_corner_jacked_alone_is_neither_taken_for_level_nor_the_other_way(tmp_path: Path) -> None:
    """At 450 mm from the hub a turn of asin(50 / track) is 14 mm and more off."""
    for stood, at in ((tilted(50), "{travel: droop}"), (slid(50), "{travel: droop, other: height}")):
        off, _ = off_by(profile(tmp_path, stood, at, ALONE, suspension=BEAM))
        assert off > 12
    cautions = " ".join(profile(tmp_path, tilted(50), "{travel: droop}", BY_HUB, suspension=BEAM).warnings)
    assert "if the other one did not, say how it stood (other: height, in at)" in cautions
    stated = profile(tmp_path, tilted(50), "{travel: droop, other: height}", BY_HUB, suspension=BEAM)
    assert "both wheels of the axle" not in " ".join(stated.warnings)
    ((part, scan),) = scans(stated, "front")
    assert "at travel -50 mm, the other wheel at ride height, straight ahead, as stated" in scan_words(part, scan)


@pytest.mark.parametrize(
    ("other", "suspension", "said"),
    [
        ("height", TAPE, "other is for a solid axle"),
        ("bump", BEAM, "Allowed here: height, droop"),
        ("-300", BEAM, "the other wheel stood at travel -300 mm, the wheel moves from"),
        (".nan", BEAM, "nan"),
        ("[1, 2]", BEAM, "1, 2"),
    ],
)
def test_an_opposite_wheel_that_cannot_be_is_refused(other: str, suspension: str, said: str, tmp_path: Path) -> None:
    with pytest.raises(ProfileError, match=said) as caught:
        profile(tmp_path, slid(50), f"{{travel: droop, other: {other}}}", BY_HUB, suspension=suspension)
    assert "other" in str(caught.value)


def test_a_rim_in_droop_and_its_tire_are_cut_where_they_stood(tmp_path: Path) -> None:
    stood = both(50, 20)
    more = f"{BY_RIM}\ncut_wheel: 10"
    count = len(revolved([(y, r) for y, r in RIM], 5.0)[1])
    read = profile(tmp_path, stood, "{travel: droop, steer: 20}", more, suspension=UPRIGHT_AXIS, rim=True, steers=True)
    off, scan = off_by(read)
    assert off < 6.0
    assert dict(scan.left_out)["the old wheel"] > 0.5 * count
    with pytest.raises(ProfileError, match="do not fit"):
        profile(tmp_path, stood, "{travel: droop}", more, suspension=UPRIGHT_AXIS, rim=True, steers=True)


def test_a_point_of_the_knuckle_goes_where_the_hub_took_it(tmp_path: Path) -> None:
    """Three points, of which one is the hub's centre: it swung 50 mm down, and a little inboard."""
    stood = swung(50)
    hub = CENTRE + np.array([0, 12, 0])
    tape = marks("lip front", "inner wall").removesuffix("]")
    scan_side = listed(seen(stood(hub[None])))[1:-1]
    own = f"{tape}, {{name: hub, scan: {scan_side}, at: {{ahead: 0, up: 0, out: 12}}, fixed_to: knuckle}}]"
    off, scan = off_by(profile(tmp_path, stood, "{travel: droop}", own, suspension=PARALLEL))
    assert off < 1.0
    assert scan.placement.worst < 1.0
    read = profile(tmp_path, stood, "", own, suspension=PARALLEL)
    assert off_by(read)[0] > 8.0
    words = slip_words(ready(read, "front"))
    assert "is taken as scanned at ride height (travel 0), straight ahead, since a reference point on the hub" in words
    read = profile(tmp_path, stood, "{travel: droop}\ncut_wheel: 1", own.replace(", fixed_to: knuckle", ""),
                   suspension=PARALLEL)  # fmt: skip
    assert any("say fixed_to: knuckle" in text for text in read.warnings)


def test_on_the_right_the_steering_is_the_vehicles(tmp_path: Path) -> None:
    read = profile(tmp_path, steered(12), "{steer: -12}\nside: right", BY_HUB, suspension=UPRIGHT_AXIS, steers=True)
    assert off_by(read)[0] < 4.0  # a right corner is read in a mirror: to the right there is to the left here


# ---------------------------------------------------------------- how well it is known


@pytest.mark.parametrize(
    ("stood", "at"),
    [
        (slid(45), "{travel: {value: -40, tolerance: 5}}"),
        (slid(43), "{travel: -40}"),
        (slid(44), "{hub_to_lip: [450, 490]}"),
        (slid(46), "{hub_to_lip: [{value: 450, tolerance: 5}, {value: 490, tolerance: 5}]}"),
        (steered(13), "{steer: 12}"),
        (steered(14), "{steer: {value: 12, tolerance: 2}}"),
    ],
)
def test_a_statement_that_is_off_by_its_tolerance_is_counted(stood: Stood, at: str, tmp_path: Path) -> None:
    suspension = UPRIGHT_AXIS if "steer" in at else TAPE
    off, scan = off_by(profile(tmp_path, stood, at, BY_HUB, suspension=suspension, steers=True))
    assert 2.0 < off < scan.off


def test_a_rate_that_was_read_wrong_tilts_the_scan_with_the_hub(tmp_path: Path) -> None:
    """1 deg more for 100 mm is 0.5 deg at 50 mm of droop; the lip in front holds the turn about the spin axis."""
    suspension = LEANS.replace("camber_per_100mm: -2", "camber_per_100mm: {value: -2, tolerance: 1}")
    read = profile(tmp_path, leaned(50), "{travel: droop}", BY_HUB, suspension=suspension)
    assert "suspension.camber_per_100mm" in {each.path for each in readings(read, "front")}
    (still,), (tilted,) = (
        axle(read, "front", moved=moved).obstacles for moved in (None, {"suspension.camber_per_100mm": 1.0})
    )
    assert still.mesh is not None
    assert tilted.mesh is not None
    centre = leaned(50)(CENTRE[None])[0]
    for mesh, camber in ((still.mesh, 1.0), (tilted.mesh, 0.5)):  # at -50 mm: -50 / 100 x -2, and x -1
        spin = np.array([0.0, np.cos(np.radians(camber)), -np.sin(np.radians(camber))])
        along = (mesh.vertices - centre) @ spin
        if camber == 1.0:
            there = along
    assert along == pytest.approx(there, abs=1e-6)


def test_another_builds_arms_leave_the_scan_where_the_baselines_hub_stood(tmp_path: Path) -> None:
    suspension = LEANS.replace("camber_per_100mm: -2", "camber_per_100mm: {value: -2, tolerance: 1}")
    profile(tmp_path, leaned(50), "{travel: droop}", BY_HUB, suspension=suspension)
    text = (tmp_path / "p.yaml").read_text()
    other = "  arms: {front: {wheel: 15x6 ET35, tire: 205/70R15, suspension: {camber_per_100mm: 3}}}\nbaseline:"
    (tmp_path / "p.yaml").write_text(text.replace("baseline:", other))
    read = load_profile(tmp_path / "p.yaml")
    own, theirs = (axle(read, "front", build).obstacles[0].mesh for build in ("stock", "arms"))
    assert own is not None
    assert theirs is not None
    assert np.array_equal(own.vertices, theirs.vertices)
    path = "baseline:suspension.camber_per_100mm"
    assert path in {each.path for each in readings(read, "front", "arms")}
    moved = axle(read, "front", "arms", moved={path: 1.0}).obstacles[0].mesh
    assert moved is not None
    assert np.abs(moved.vertices - own.vertices).max() > 3.0


# ---------------------------------------------------------------- what is said


def test_a_hub_face_without_a_word_of_how_it_hung_is_told_beside_the_verdict(tmp_path: Path) -> None:
    read = profile(tmp_path, slid(0), "", ALONE)
    words = slip_words(ready(read, "front"))
    assert "Taken for granted: well is taken as scanned at ride height (travel 0). A hub face" in words
    assert "only with the wheel off" in words
    assert "hangs in droop" in words
    assert "granted" not in slip_words(ready(profile(tmp_path, slid(0), "{travel: 0}", ALONE), "front"))
    top = slip_words(
        ready(profile(tmp_path, slid(0), "", ALONE.replace(marks("lip front"), marks("lip top"))), "front")
    )
    assert "is taken as scanned straight ahead; if it stood otherwise, say how" in top
    rim = ALONE.replace("hub_face", "rim_edge").replace(", diameter: 150", "")
    rim = slip_words(ready(profile(tmp_path, slid(0), "", rim, rim=True), "front"))
    assert "is taken as scanned at ride height (travel 0)" in rim
    assert "wheel off" not in rim
    two = f"hub_face: {{edge: EDGE, diameter: 150}}\n{marks('lip top', 'lip front')}"
    assert slip_words(ready(profile(tmp_path, slid(0), "", two), "front")).count("granted") == 0  # the points tell it


def test_the_clearance_of_a_well_scanned_in_droop_is_that_of_the_well(tmp_path: Path) -> None:
    """The arch is 450 mm round the hub: 50 mm up into it, what is left is 450 - 50 less the tire's radius."""
    read = profile(tmp_path, slid(50), "{travel: droop}", f"{BY_HUB}\ncut: [{{up: [-300, 160], ahead: [-160, 160]}}]")
    found = run(ready(read, "front"), setup(read, "front")).fit
    least = min(each.clearance for each in found.clearances if each.part == "tire")
    assert least == pytest.approx(450.0 - 50.0 - (15 * 25.4 / 2 + 0.7 * 205), abs=4.0)


@pytest.mark.parametrize(
    ("at", "more", "suspension", "message", "key"),
    [
        ("{travel: -90}", BY_HUB, TAPE, "scanned at travel -90 mm, the wheel moves from -50 to 50", "at.travel"),
        ("{hub_to_lip: [450, 600]}", BY_HUB, TAPE, "-150 mm .the first reading less the second", "at.hub_to_lip"),
        ("{hub_to_lip: [450]}", BY_HUB, TAPE, "2 are expected", "at.hub_to_lip"),
        ("{travel: drop}", BY_HUB, TAPE, "did you mean droop|droop", "at.travel"),
        ("{travel: droop, hub_to_lip: [450, 500]}", BY_HUB, TAPE, "the travel is given twice", "at"),
        ("{lock: left, steer: 12}", BY_HUB, TAPE, "the steering is given twice", "at"),
        ("{lock: left}", BY_HUB, TAPE, "this axle has no steering", "at.lock"),
        ("{steer: 12}", BY_HUB, PARALLEL, "this axle has no steering", "at.steer"),
        ("{travel: droop}", BY_HUB, "{kind: tape, camber: 0}", "nothing says how its camber and out change", "at"),
        ("{travel: droop}", BY_HUB, "{kind: tape, camber_per_100mm: 0}", "its out changes through", "at"),
        ("{travel: droop}", marks(*MARKS), TAPE, "all that places the scan is fixed to the body", "at"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_at_its_key(
    at: str, more: str, suspension: str, message: str, key: str, tmp_path: Path
) -> None:
    with pytest.raises(ProfileError, match=message) as caught:
        profile(tmp_path, slid(0), at, more, suspension=suspension)
    assert str(caught.value.key).startswith(f"axles.front.obstacles[0].{key}")


def test_how_well_a_tape_read_motion_is_known_there_is_said(tmp_path: Path) -> None:
    """A line through one reading at 50 mm bends by the usual band times travel and way from it, each in 100 mm."""
    tape = "{kind: tape, readings: [{travel: 50, camber: -1, out: 3}]}"
    read = profile(tmp_path, slid(50), "{travel: droop}", BY_HUB, suspension=tape)
    (text,) = [text for text in read.warnings if "not read" in text]
    bend = read.corners["stock", "front"].axle.suspension.out_bend.tolerance  # type: ignore[union-attr]
    assert f"may bend by {bend * 0.5 * 1.0:.0f} mm" in text
    told = tape.replace("}]", "}, {travel: -50, camber: 1, out: -3}]")
    read = profile(tmp_path, slid(50), "{travel: droop}", BY_HUB, suspension=told)
    assert not [text for text in read.warnings if "not read" in text]
