"""Lines to cut along, against hand formulas, dense poses measured by shapely, a second check, and the printed page."""

from __future__ import annotations

import html
import math
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pytest
import shapely
from conftest import DIAMETER, HUB_FACE, SEAT, run, run_json, vehicle, write_profile
from numpy.typing import NDArray
from scipy.optimize import minimize

import fitment
from fitment.answers.cut_lines import CutLines, CutPiece, is_structural, lines_to_cut
from fitment.answers.cut_patterns import patterns
from fitment.checks.full_case import FullCase
from fitment.clearance.point_clearance import AT_ONCE, SAFE, PointField
from fitment.clearance.pose_grid import sweep
from fitment.clearance.swept_space import AROUND
from fitment.clearance.worst_case import sections_of
from fitment.draw.printed.part_template import CUT, STROKE
from fitment.motion.suspension import families
from fitment.parts.flat_sheet import laid_flat, pieces_laid_flat
from fitment.parts.sections import tire_section
from fitment.report.cut_lines import heading_words, piece_words

RADIUS, BUMP, REQUIRED = DIAMETER / 2, 50.0, 5.0  # [mm] of the tire, of travel, and of clearance to the tire
LARGEST = SEAT / 2 + 1.04 * (DIAMETER - SEAT) / 2  # [mm] UN R30 6.1.4.3: the section height may be 4 % more
NEAR = 0.1  # [mm] to which a line has its clearance
DPI = 300
Array = NDArray[np.float64]


def wall(*, low: float = 220.0, high: float = 400.0, y: float = HUB_FACE, **more: Any) -> dict[str, Any]:
    """A plane panel square to y across the middle of the tire, of two rows, the upper first."""
    rows = [[[x, y, z] for x in (-300.0, 0.0, 300.0)] for z in (high, low)]
    return {"name": "wall", "shape": "panel", "rows": rows} | more


def checked(folder: Path, part: dict[str, Any], name: str = "tightest") -> tuple[FullCase, CutLines]:
    data = vehicle(obstacles=[part])
    found = fitment.check(write_profile(folder, data), "front", part=name)
    cut = found.asides[0].cut
    assert cut is not None
    return found.cases[0], cut


def radii(places: Array) -> Array:
    """From the wheel's centre at full bump, where that is below them, else at the same height."""
    centre = np.clip(places[:, 2], -BUMP, BUMP)
    return np.hypot(places[:, 0], places[:, 2] - centre)


# ---------------------------------------------------------------- by hand


def test_a_wall_beside_a_wheel_that_only_travels_is_cut_along_the_silhouette_it_sweeps(tmp_path: Path) -> None:
    """A circle moved by the travel: straight between full droop and full bump, round above."""
    _, cut = checked(tmp_path, wall())
    for line, more in ((cut.touching, 0.0), (cut.required, REQUIRED), (cut.more, REQUIRED + 5.0)):
        (places,) = (own.places for own in line.lines)
        off = radii(places) - (RADIUS + more)
        assert off.min() >= -1e-3, "never nearer than it says"
        assert off.max() <= NEAR
        middles = (places[1:] + places[:-1]) / 2
        assert np.abs(radii(middles) - (RADIUS + more)).max() <= 0.2, "straight between its points"


def test_the_picture_of_a_cut_says_that_service_is_not_counted_where_it_is_asked_for(tmp_path: Path) -> None:
    cut = checked(tmp_path, wall())[1]
    for is_served in (False, True):
        _, caption = heading_words(replace(cut, has_service=is_served), "mm")
        assert caption.endswith("Service is not counted.") == is_served


def test_what_a_wall_loses_is_told_by_depth_length_and_area(tmp_path: Path) -> None:
    _, cut = checked(tmp_path, wall())
    (piece,) = cut.kept.pieces
    radius, low = RADIUS + REQUIRED, 220.0
    half = math.sqrt(radius**2 - (low - BUMP) ** 2)
    segment = radius**2 * math.asin(half / radius) - half * (low - BUMP)
    assert (piece.kind, piece.deep, piece.long) == ("notch", *(pytest.approx(v, abs=0.3) for v in (
        BUMP + radius - low, 2 * half)))  # fmt: skip
    assert piece.area == pytest.approx(segment, rel=2e-3)
    assert piece.clock[2] == pytest.approx(12.0, abs=0.1)


@pytest.mark.parametrize(("high", "serves"), [(400.0, False), (440.0, True)])
def test_where_more_than_three_quarters_would_go_cutting_does_not_serve(
    high: float, serves: bool, tmp_path: Path
) -> None:
    """The area under a circle moved up by the bump travel, over a wall 600 mm wide from the hub's height up."""
    radius, x = RADIUS + REQUIRED, 300.0
    under = 2 * x * BUMP + x * math.sqrt(radius**2 - x**2) + radius**2 * math.asin(x / radius)
    part = wall(low=0.0, high=high)
    _, cut = checked(tmp_path, part)
    assert cut.gone == pytest.approx(under / (2 * x * high), rel=3e-3)
    assert cut.serves is serves
    path, out = write_profile(tmp_path, vehicle(obstacles=[part])), tmp_path / "cut.pdf"
    told = " ".join(run("check", path, "--part", "wall").stdout.split())
    assert ("Cutting does not serve" in told) is not serves
    printed = run("template", path, "--part", "wall", "--out", str(out))
    assert out.exists() is serves
    assert ("cutting does not serve" in printed.stderr) is not serves


def test_a_long_shallow_cut_is_called_a_strip_and_a_short_deep_one_a_notch() -> None:
    strip = CutPiece("notch", 12.0, 300.0, 2400.0, (10.0, 11.0, 10.5))
    where = "from 10:00 to 11:00: up to"
    assert piece_words(strip, "mm") == f"Cut a strip off its edge, {where} 12.0 mm wide, 300 mm long, 24 cm²."
    assert piece_words(replace(strip, deep=90.0), "mm").startswith(f"Cut a notch into its edge, {where} 90")


@pytest.mark.parametrize(("tolerance", "radius"), [(0.0, RADIUS + REQUIRED), (8.0, LARGEST + 8.0)])
def test_the_cut_line_keeps_what_is_required_and_touches_nothing_in_the_worst_case(
    tmp_path: Path, tolerance: float, radius: float
) -> None:
    _, cut = checked(tmp_path, wall(tolerance=tolerance))
    off = np.concatenate([radii(own.places) for own in cut.kept.line.lines]) - radius
    assert off.min() >= -1e-3
    assert off.max() <= NEAR
    nominal = np.concatenate([radii(own.places) for own in cut.nominal.line.lines])
    assert nominal == pytest.approx(RADIUS + REQUIRED, abs=NEAR)


def circle(radius: float) -> dict[str, Any]:
    """An edge round the hub centre over the middle of the tire."""
    angles = np.radians(np.arange(20.0, 161.0, 2.0))
    points = [[radius * math.cos(a), HUB_FACE, radius * math.sin(a)] for a in angles.tolist()]
    return {"name": "lip", "shape": "edge", "points": points}


def test_a_lip_round_the_hub_is_rolled_by_what_full_bump_takes(tmp_path: Path) -> None:
    """A place at angle a must go out to where its distance from the wheel's centre at full bump is enough."""
    own = RADIUS + BUMP - 2.0
    _, cut = checked(tmp_path, circle(own))
    (piece,) = cut.kept.pieces
    need = RADIUS + REQUIRED

    def depth(angle: float) -> float:
        return BUMP * math.sin(angle) + math.sqrt(need**2 - (BUMP * math.cos(angle)) ** 2) - own

    assert piece.deep == pytest.approx(7.0, abs=0.2)
    ends = [angle for angle in np.radians(np.arange(0.0, 90.0, 0.01)).tolist() if depth(angle) > 0]
    begins = 9 + math.degrees(min(ends)) / 30
    assert piece.clock == pytest.approx((begins, 24 - begins, 12.0), abs=0.05)
    for flat in (line.flat for line in cut.kept.line.lines):
        angles = math.radians(20) + flat[:, 0] / own
        off = flat[:, 1] - [depth(angle) for angle in angles.tolist()]
        assert np.abs(off).max() <= 0.25, "the edge is made of chords of 13 mm, which lie 0.06 mm inside"


def test_a_lip_is_told_by_the_clock(tmp_path: Path) -> None:
    path = write_profile(tmp_path, vehicle(obstacles=[circle(RADIUS + BUMP - 2.0)]))
    said = run("check", path, "--axle", "front", "--part", "lip").stdout
    assert "Roll or trim from 11:" in said
    assert "at 12:00" in said
    cut = run_json("check", path, "--axle", "front", "--part", "lip")["cut"]
    assert cut["pieces"][0]["clock"]["deepest"] == "12:00"
    assert cut["pieces"][0]["deep_mm"] == pytest.approx(7.0, abs=0.2)


def test_where_nothing_is_short_the_tightest_part_says_so(tmp_path: Path) -> None:
    path = write_profile(tmp_path, vehicle(obstacles=[wall(low=380.0)]))
    said = run("check", path, "--view", "cut", "--out", str(tmp_path / "cut.svg"))
    assert said.exit_code == 0, said.output
    assert "wall: so that" in said.stdout
    assert "Nothing to cut." in said.stdout
    assert "nothing to cut" in (tmp_path / "cut.svg").read_text()
    refused = run("template", path, "--part", "wall", "--out", str(tmp_path / "cut.pdf"))
    assert refused.exit_code == 2
    assert "nothing to cut" in refused.stderr


# ---------------------------------------------------------------- a second way


KEYS = {"cut line, worst case counted; hatched: must go", "no clearance, it touches", "5 mm more than required"}
KEYS |= {"clearance required, 5.0 mm (tire), 3.0 mm (wheel)"}
ALL = "hatched: must go, worst case counted"


@pytest.mark.parametrize(
    ("low", "high", "keys", "read"),
    [
        (380.0, 430.0, set(), ""),  # above a swept tire's top at RADIUS + BUMP, beyond 10 mm
        (374.0, 430.0, {"5 mm more than required"}, "The lines are as measured."),
        (220.0, 440.0, KEYS, "Behind the cut line every required clearance"),
        (230.0, 260.0, {ALL}, ""),
    ],
)
def test_the_cut_view_explains_the_lines_that_it_draws_and_no_others(
    tmp_path: Path, low: float, high: float, keys: set[str], read: str
) -> None:
    rows = [[[x, HUB_FACE, z] for x in (-100.0, 0.0, 100.0)] for z in (high, low)]
    path = write_profile(tmp_path, vehicle(obstacles=[{"name": "wall", "shape": "panel", "rows": rows}]))
    run("check", path, "--part", "wall", "--view", "cut", "--out", str(tmp_path / "cut.svg"))
    said = html.unescape((tmp_path / "cut.svg").read_text())
    assert {key for key in (*KEYS, ALL) if key in said} == keys
    for told in ("The lines are as measured.", "Behind the cut line every required clearance"):
        assert (told in said) == (told == read)
    assert "Laid flat; seen from the wheel" in said
    assert ("Never cut a frame" in said) == bool(keys & {*KEYS, ALL} - {"5 mm more than required"})


def test_what_is_left_behind_the_line_is_kept_when_it_is_checked_again(tmp_path: Path) -> None:
    _, cut = checked(tmp_path, wall(tolerance=8.0))
    (line,) = cut.kept.line.lines
    order = np.argsort(line.places[:, 0])
    x, z = line.places[order, 0], line.places[order, 2]
    spots = np.unique(np.concatenate([np.linspace(-300, 300, 121), x]))
    left = np.interp(spots, x, z, left=220.0, right=220.0)
    rows = [[[a, HUB_FACE, b] for a, b in zip(spots.tolist(), level, strict=True)] for level in (
        [400.0] * len(spots), left.tolist())]  # fmt: skip
    trimmed = {"name": "wall", "shape": "panel", "rows": rows, "tolerance": 8.0}
    again = fitment.check(write_profile(tmp_path, vehicle(obstacles=[trimmed]), "again.yaml"), "front")
    assert again.verdict == "clears"
    worst = again.cases[0].fit.worst
    assert worst is not None
    assert 0.0 <= min(entry.worst_case for entry in again.cases[0].fit.worst_each) <= 0.3


def test_a_lip_trimmed_by_its_depth_is_kept(tmp_path: Path) -> None:
    data = vehicle(obstacles=[circle(RADIUS + BUMP - 2.0)])
    for by, verdict in ((7.2, "clears"), (6.7, "tight")):
        data["builds"]["trimmed"] = {
            "front": data["builds"]["measured"]["front"] | {"obstacles": {"lip": {"trim": by}}}
        }
        assert fitment.check(write_profile(tmp_path, data), "front", "trimmed").verdict == verdict


@cache
def demo(part: str) -> tuple[FullCase, CutLines]:
    case = fitment.check("wagon", "front", "wanted").cases[0]
    return case, lines_to_cut(case, part)


def least_distance(case: FullCase, point: Array) -> float:
    """Of a place of the body from the tire, by dense poses of the solver, then Nelder and Mead's method from there."""
    (family,) = families(case.fit.axle)
    section = shapely.boundary(case.fit.tire)

    def distance(at: Array) -> Array:
        poses = family.poses(*at.T)
        hub = np.einsum("ni,nij->nj", point - poses.origin, poses.rotation)
        plane = shapely.points(np.stack([hub[:, 1], np.hypot(hub[:, 0], hub[:, 2])], -1))
        off = shapely.distance(section, plane)
        return np.asarray(np.where(shapely.contains(case.fit.tire, plane), -off, off))

    low, high = np.array([case.fit.axle.droop, -1.0]), np.array([case.fit.axle.bump, 1.0])
    grid = np.stack(np.meshgrid(*(np.linspace(a, b, n) for a, b, n in zip(low, high, (60, 81), strict=True))), -1)
    at = grid.reshape(-1, 2)
    found = distance(at)
    best = float(found.min())
    for start in at[np.argsort(found)[:3]]:
        refined = minimize(
            lambda where: float(distance(np.clip(where, low, high)[None])[0]), start, method="Nelder-Mead",
            options={"initial_simplex": start + np.array([[0, 0], [2, 0], [0, 0.02]]), "xatol": 1e-3, "fatol": 1e-4},
        )  # fmt: skip
        best = min(best, float(refined.fun))
    return best


@pytest.mark.slow
@pytest.mark.parametrize("part", ["fender lip", "inner fender"])
def test_every_place_on_a_line_has_the_clearance_that_it_says(part: str) -> None:
    """Of a wheel that steers and travels, against dense poses of the solver and shapely."""
    case, cut = demo(part)
    assert case.fit.tire.equals(tire_section(case.fit.setup.tire, case.fit.setup.wheel, 0.0))
    obstacle = cut.obstacle
    places = np.concatenate([line.places for line in cut.required.lines])
    chosen = places[np.random.default_rng(5).choice(len(places), 12, replace=False)]
    margins = [least_distance(case, point) - obstacle.radius - obstacle.allowance_to("tire") for point in chosen]
    assert min(margins) >= -0.02
    assert max(margins) <= NEAR


@pytest.mark.slow
def test_the_least_of_all_places_is_what_the_check_says() -> None:
    case, cut = demo("inner fender")
    told = next(entry for entry in case.fit.worst_each if entry.obstacle == "inner fender" and entry.part == "tire")
    deepest = min(least_distance(case, point) for point in _deepest(cut))
    assert deepest == pytest.approx(told.clearance, abs=0.3)


@pytest.mark.slow
def test_a_place_anywhere_near_or_in_the_tire_is_never_told_a_clearance_that_it_does_not_have() -> None:
    case, cut = demo("fender lip")
    fit, lip = case.fit, cut.obstacle
    required = lip.allowance_to("tire")
    field = PointField(sweep(fit.axle, fit.setup.ride), lip, sections_of(fit.setup, case.ready.variants, case.others))
    places = np.random.default_rng(7).uniform((-450, 500, -300), (450, 860, 560), (400, 3))
    told = field.clearance(places[:, None])["tire"]
    for low, high in ((-20, 0), (0, 30), (30, 55), (55, np.inf)):
        for k in np.flatnonzero((told >= low) & (told < high))[:5]:
            true = least_distance(case, places[k]) - lip.radius
            assert told[k] <= true + 0.01
            assert told[k] >= min(true, AROUND + required - SAFE) - NEAR


def test_two_processes_find_the_same_lines_to_the_bit(tmp_path: Path) -> None:
    path = write_profile(tmp_path, vehicle(obstacles=[wall(tolerance=8.0)]))
    one, two = (fitment.check(path, "front", part="wall", processes=n) for n in (1, 2))
    found, again = (answer.asides[0].cut for answer in (one, two))
    assert found is not None
    assert again is not None
    assert len(found.sheet.places) > 2 * AT_ONCE  # shares for both
    assert found.sheet.places.tobytes() == again.sheet.places.tobytes()
    assert one.json == two.json


def _deepest(cut: CutLines) -> Array:
    """Places of what touches, 15 mm apart."""
    inside = np.concatenate([shapely.get_coordinates(cut.touching.below), np.empty((0, 2))])
    assert len(inside)
    middles = np.array([line.places.mean(axis=0) for line in cut.touching.lines])
    near = cut.sheet.places[:, 0]
    return np.concatenate([near[np.argsort(np.linalg.norm(near - m, axis=1))[:12]] for m in middles])


# ---------------------------------------------------------------- laid flat


def grid(rows: int, columns: int, place: Any) -> Array:
    return np.array([[place(i, j) for j in range(columns)] for i in range(rows)], dtype=float)


def test_a_rolled_panel_lies_flat_with_every_length_kept() -> None:
    """A cylinder: its flat sheet is as long as the chords of its arc."""
    step = math.radians(10)
    rows = grid(8, 4, lambda i, j: (400 * math.cos(i * step), 100 * j, 400 * math.sin(i * step)))
    flat = laid_flat(rows)
    assert flat.stretch < 1e-7
    wide, tall = np.ptp(flat.corners, axis=0)
    assert (wide, tall) == (pytest.approx(300.0), pytest.approx(7 * 800 * math.sin(step / 2)))
    assert len(pieces_laid_flat(rows)) == 1


def test_a_panel_that_bends_both_ways_is_told_by_its_stretch_and_printed_in_pieces() -> None:
    """A sphere: by Gauss, no map of it keeps every length."""
    step = math.radians(6)

    def place(i: int, j: int) -> tuple[float, float, float]:
        up, round_ = (i - 3) * step, (j - 3) * step
        return 400 * math.cos(up) * math.sin(round_), 400 * math.cos(up) * math.cos(round_), 400 * math.sin(up)

    rows = grid(7, 7, place)
    assert laid_flat(rows).stretch > 0.01
    pieces = pieces_laid_flat(rows)
    assert len(pieces) > 1
    assert max(piece.flat.stretch for piece in pieces) <= 0.01


# ---------------------------------------------------------------- printed


def page_of(path: Path, number: int = 0) -> NDArray[np.int16]:
    book = pypdfium2.PdfDocument(path)
    found = np.asarray(book[number].render(scale=DPI / 72).to_pil().convert("RGB")).astype(np.int16)
    book.close()
    return found


@pytest.mark.slow
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_printed_line_lies_where_it_should(tmp_path: Path, paper: str) -> None:
    """A wall 120 mm wide on one sheet: from its lower edge up to the line, before and behind the wheel's centre."""
    rows = [[[x, HUB_FACE, z] for x in (-60.0, 0.0, 60.0)] for z in (400.0, 330.0)]
    part = {"name": "wall", "shape": "panel", "rows": rows}
    out = tmp_path / "cut.pdf"
    result = run(
        "template", write_profile(tmp_path, vehicle(obstacles=[part])), "--part", "wall", "--paper", paper,
        "--out", str(out),
    )  # fmt: skip
    assert result.exit_code == 0, result.output
    picture, mm = page_of(out), 25.4 / DPI
    wanted = [int(CUT[i : i + 2], 16) for i in (1, 3, 5)]
    line = np.abs(picture - wanted).max(axis=2) < 40
    dark = picture.max(axis=2) < 150
    columns = np.flatnonzero(line.any(axis=0))
    left, right = columns[0] * mm, (columns[-1] + 1) * mm
    assert right - left == pytest.approx(120.0, abs=0.2 + STROKE / 72 * 25.4)
    level = dark[:, columns[0] : columns[-1]].mean(axis=1) > 0.9
    edge = float(np.flatnonzero(level).mean()) * mm
    for off in (10.0, 30.0, -35.0):
        rows_of_line = np.flatnonzero(line[:, round(((left + right) / 2 + off) / mm)])
        rows_of_line = rows_of_line[rows_of_line * mm < edge - 5.0]  # the edge is nearly of its colour
        by_hand = BUMP + math.sqrt((RADIUS + REQUIRED) ** 2 - off**2) - 330.0
        assert edge - rows_of_line.mean() * mm == pytest.approx(by_hand, abs=0.2), off


def test_a_part_too_large_for_a_sheet_is_printed_on_several_with_crosses(tmp_path: Path) -> None:
    out = tmp_path / "cut.pdf"
    path = write_profile(tmp_path, vehicle(obstacles=[wall()]))
    assert run("template", path, "--part", "wall", "--out", str(out)).exit_code == 0
    book = pypdfium2.PdfDocument(out)
    texts = [" ".join(page.get_textpage().get_text_range().split()) for page in book]
    assert len(book) > 1
    assert f"sheet 1 of {len(book)}" in texts[0]
    assert all("100 %" in text and "cut here" in text for text in texts)
    assert any("point 2.2" in text for text in texts)


# ---------------------------------------------------------------- refused, and warned of


@pytest.mark.parametrize(
    ("part", "said"),
    [
        ("nose", "has none of that name. It has: wall, stay, joint, box."),
        ("stay", "a rod is not cut; move it"),
        ("joint", "it is fixed to the hub"),
        ("box", "the space behind it is filled"),
    ],
)
@pytest.mark.parametrize("command", ["check", "template"])
def test_what_is_not_cut_says_what_to_do_instead(tmp_path: Path, command: str, part: str, said: str) -> None:
    rod = {"name": "stay", "shape": "rod", "radius": 5, "from": [-300, 600, 100], "to": [-300, 600, 400]}
    ball = {"name": "joint", "shape": "ball", "radius": 10, "fixed_to": "knuckle", "at": [0, 600, 100]}
    solid = wall(y=1100.0) | {"name": "box", "solid": "behind"}
    for end in ("from", "to"):
        rod[end] = {"at": rod[end]}
    path = write_profile(tmp_path, vehicle(obstacles=[wall(), rod, ball, solid]))
    more = ["--out", str(tmp_path / "cut.pdf")] if command == "template" else []
    result = run(command, path, "--part", part, *more)
    assert result.exit_code == 2
    assert said in result.stderr
    assert not (tmp_path / "cut.pdf").exists()


def test_a_part_that_carries_the_vehicle_gets_its_caution_first(tmp_path: Path) -> None:
    path = write_profile(tmp_path, vehicle(obstacles=[wall() | {"name": "inner apron"}]))
    said = run("check", path, "--part", "inner apron").stdout.split("Where to cut")[1].splitlines()
    assert said[1].strip().startswith("CAUTION")
    data = run_json("check", path, "--axle", "front", "--part", "inner apron")["cut"]
    assert data["structural"]
    assert data["cautions"][0].startswith("CAUTION")


@pytest.mark.parametrize("tolerance", [0.0, 20.0, 40.0])
def test_what_is_far_from_the_largest_tire_counts_where_its_band_is_wide(tmp_path: Path, tolerance: float) -> None:
    """A roof over the tire: something of it must go where the check says that it is short, else nothing."""
    rows = [[[x, HUB_FACE + y, 410.0] for x in (-120.0, 0.0, 120.0)] for y in (-60.0, 60.0)]
    roof = {"name": "roof", "shape": "panel", "rows": rows, "tolerance": tolerance}
    case, cut = checked(tmp_path, roof)
    worst = min(entry.worst_case for entry in case.fit.clearances)
    short = worst < 0 or min(entry.margin for entry in case.fit.clearances) < 0
    assert cut.is_short == short
    assert short == (tolerance == 40.0)


@pytest.mark.parametrize(
    "name", ["frame: lower", "frame_rail", "(frame)", "sill/rocker", "Unibody rail, left", "strut towers"]
)
def test_what_carries_the_vehicle_is_known_by_any_word_of_its_name(name: str) -> None:
    assert is_structural(name)
    assert not is_structural("inner fender")


BOTH_SIDES = ("front left", "front right")


@pytest.mark.slow
@pytest.mark.parametrize("side", BOTH_SIDES)
def test_a_pattern_lies_as_the_part_is_seen_from_the_wheel_of_its_side(side: str) -> None:
    """Places of the right side are as in a mirror, and turned over here; a triangle that faces the wheel turns as
    its flat one does."""
    case = next(each for each in fitment.check("coupe", "front", "stance").cases if each.fit.axle.name == side)
    hand = np.array([1.0, -1.0 if side.endswith("right") else 1.0, 1.0])
    panel = lines_to_cut(case, "inner fender")
    corners = panel.sheet.places[panel.sheet.faces, 0] * hand
    wheel = np.array(panel.centre) * hand
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    faces_it = np.sum(normal * (wheel - corners.mean(axis=1)), axis=1) > 0
    flat = panel.sheet.flat[panel.sheet.faces, panel.sheet.piece[:, None]]
    one, two = flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]
    turns = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0] > 0
    assert np.array_equal(faces_it, turns)
    lip = lines_to_cut(case, "fender lip")
    if lip.is_short:
        (strip,) = patterns(lip)
        across, ahead = np.array([[point.at[0], point.place[0]] for point in strip.points]).T
        assert np.sign(np.corrcoef(across, ahead)[0, 1]) == (1.0 if side.endswith("right") else -1.0)


def test_no_pattern_is_printed_of_what_carries_the_vehicle(tmp_path: Path) -> None:
    path = write_profile(tmp_path, vehicle(obstacles=[wall() | {"name": "inner apron"}]))
    done = run("template", path, "--part", "inner apron", "--out", str(tmp_path / "a.pdf"))
    assert done.exit_code == 2
    assert "by its name it carries the vehicle" in done.stderr
