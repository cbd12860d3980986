"""The keep-out of one sweep: held against the solver, against a ten times denser sweep, and against `check`."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import shapely
import yaml
from hypothesis import given
from hypothesis import strategies as st

from fitment.checks.case import Ready, ready
from fitment.checks.fit import VERDICTS, clearance_verdicts, fit_setup
from fitment.clearance import motion_polynomials
from fitment.clearance.pose_grid import known_motion, sweep
from fitment.clearance.section_distance import clearances
from fitment.clearance.trace import hub_corners, trace_obstacle
from fitment.errors import CodeError
from fitment.motion.poses import Poses
from fitment.motion.suspension import between, families, travel_levels
from fitment.parts.axle import Axle, Setup
from fitment.parts.obstacles import Obstacle
from fitment.parts.sections import barrel_section, tire_section, wheel_section
from fitment.parts.tire_code import parse_tire
from fitment.parts.wheel import parse_wheel
from fitment.profile import load_profile, loads_profile
from fitment.screening.by_size import (
    OffsetSeries,
    _tires,
    all_free_spans,
    bare,
    common,
    free_spans,
    nearest_span,
    sizes_found,
)
from fitment.screening.candidates import Candidate
from fitment.screening.keep_out import KeepOut, keep_out_at
from fitment.screening.raster import spread
from fitment.screening.screen import ScreenedRow, screen_candidates
from fitment.workers import worker_pool

PROFILES = Path(__file__).resolve().parents[1] / "profiles"
VEHICLES = (
    ("wagon", "front", "chosen"),
    ("pickup", "front", "wide"),
    ("pickup", "rear", "wide"),
    ("coupe", "front", "track_day"),
    ("coupe", "rear", "track_day"),
)
SIZES = {"wagon": ("19x8.5", "235/40R19"), "pickup": ("20x10", "275/50R20"), "coupe": ("18x9", "245/40R18")}


@lru_cache(maxsize=8)
def prepared(name: str, axle: str, build: str) -> Ready:
    return ready(load_profile(name), axle, build)


@lru_cache(maxsize=8)
def swept_parts(name: str, axle: str, build: str) -> KeepOut:
    return keep_out_at(prepared(name, axle, build), 0.0)


# ---------------------------------------------------------------- the motion between solved poses


@pytest.mark.parametrize(("name", "axle", "build"), VEHICLES)
def test_smooth_motion_is_the_solvers(name: str, axle: str, build: str) -> None:
    """Corners of every obstacle in the hub frame at random places: within a thousandth of a millimetre."""
    own, draw = prepared(name, axle, build).axle, np.random.default_rng(1)
    for family in families(own):
        for piece in motion_polynomials.pieces(own, family, (own.droop, own.bump)):
            places = np.stack([draw.uniform(*span, 60) for span in piece.spans], -1)
            solved, factors = family.poses(*places.T), motion_polynomials.basis(piece, places)
            for obstacle in known_motion(own)[0]:
                weights, carried = motion_polynomials.coefficients(piece, obstacle)
                found = np.einsum("vj,qk,kjc->qvc", weights, factors, carried, optimize=True)
                assert np.abs(found - hub_corners(obstacle, solved)).max() < 1e-3, obstacle.name


# ---------------------------------------------------------------- ten times denser


@pytest.mark.slow
@pytest.mark.parametrize(("name", "axle", "build"), [VEHICLES[0], VEHICLES[2], VEHICLES[4]])
@pytest.mark.parametrize("offset", [25])
def test_keep_out_against_a_ten_times_denser_sweep(name: str, axle: str, build: str, offset: float) -> None:
    """Travel and steer ten times as fine as the grid of a check, every trace whole: 0.05 mm where it is free."""
    own = prepared(name, axle, build).axle
    size, code = SIZES[name]
    wheel, tire = parse_wheel(f"{size} ET{offset}"), parse_tire(code)
    at = ((-float(offset),), (-float(offset), -float(offset)))
    rim, around = bare(wheel), swept_parts(name, axle, build).around
    quick = {
        part: sizes_found(around, [OffsetSeries(tire if part == "tire" else None, rim, 0.0, *at)])[0][0]
        for part in ("tire", "wheel")
    }
    sections = {"tire": tire_section(tire, wheel), "wheel": barrel_section(wheel)}
    for part, section in sections.items():
        meeting = [o for o in known_motion(own)[0] if part in o.meets and o.shape != "ring"]
        near = least_over(own, section, meeting, 3)  # a third of a step moves no part by 60 mm
        least = min(
            least_over(own, section, [o for o in meeting if near[o.name] < min(near.values()) + 60], 10).values()
        )
        found = float(quick[part].clearance[0])
        if 0.0 <= least < 40.0:
            assert found == pytest.approx(least, abs=0.05), part
        elif least < 0.0:  # a depth tells about how deep: 0.5 mm
            assert found == pytest.approx(least, abs=0.5), part


def least_over(own: Axle, section: object, obstacles: list[Obstacle], times: int) -> dict[str, float]:
    """Least clearance of each obstacle, by name, over a grid so many times as fine as that of a check [mm]."""
    swept = [family.poses(*dense(own, family.levels[0], times).T) for family in families(own)]
    return {
        each.name: min(float(clearances(section, trace_obstacle(each, poses)).min()) for poses in swept)
        for each in obstacles
    }


def dense(own: Axle, shares: np.ndarray, times: int) -> np.ndarray:
    """Places (n, 2) of travel and share, so many to each step of a check's grid."""

    def finer(levels: np.ndarray) -> np.ndarray:
        return np.unique(np.concatenate([np.linspace(a, b, times + 1) for a, b in pairwise(levels)] or [levels]))

    travels = finer(travel_levels(own, 0.0))
    return np.stack([a.ravel() for a in np.meshgrid(travels, finer(between(shares)), indexing="ij")], -1)


# ---------------------------------------------------------------- pieces


@given(st.lists(st.floats(-140, 140), min_size=1, max_size=6, unique=True))
def test_free_spans_of_a_function_with_known_zeros(zeros: list[float]) -> None:
    """The distance to the nearest of some points, less 2: free beyond 2 of each."""
    points = np.array(zeros)
    spans = free_spans(lambda at: np.abs(at[:, None] - points).min(axis=1) - 2.0, (-150.0, 150.0))
    for at in np.linspace(-150, 150, 601):
        off = float(np.abs(points - at).min()) - 2.0
        inside = bool(((spans[:, 0] <= at) & (at <= spans[:, 1])).any())
        if abs(off) > 0.02:
            assert inside == (off > 0), at


@given(st.lists(st.lists(st.floats(-140, 140), min_size=1, max_size=4, unique=True), min_size=2, max_size=4))
def test_free_spans_of_several_at_once(zeros: list[list[float]]) -> None:
    """Those of each are found as if it were alone."""

    def margin(which: np.ndarray, at: np.ndarray) -> np.ndarray:
        return np.array([min(abs(a - z) for z in zeros[k]) - 2.0 for k, a in zip(which, at, strict=True)])

    found = all_free_spans(margin, [(-150.0, 150.0)] * len(zeros))
    for k, spans in enumerate(found):
        alone = free_spans(lambda at, k=k: margin(np.full(len(at), k), at), (-150.0, 150.0))  # type: ignore[misc]
        assert spans == pytest.approx(alone, abs=0.02)


def test_common_and_nearest_spans() -> None:
    both = common(np.array([[0.0, 10.0], [20.0, 30.0]]), np.array([[5.0, 25.0]]))
    assert both.tolist() == [[5.0, 10.0], [20.0, 25.0]]
    assert nearest_span(both, np.array([7.0, 16.0, 400.0]))[:2].tolist() == [[5.0, 10.0], [20.0, 25.0]]
    assert np.isnan(nearest_span(both, np.array([400.0]))).all()


def test_spread_stays_within_walls() -> None:
    free = np.ones((7, 7), dtype=bool)
    free[3, :] = False
    start = np.zeros_like(free)
    start[0, 0] = True
    assert spread(start, free)[:3].all()
    assert not spread(start, free)[3:].any()


def test_workers_answer_in_order() -> None:
    for processes in (1, 2):
        with worker_pool(10, processes) as run:
            assert run(_times, list(range(50)), "multiplying") == [10 * i for i in range(50)]


def _times(state: int, job: int) -> int:
    return state * job


# ---------------------------------------------------------------- screen says what check says

MIXED = {"wagon": ("5x114.3", "70.6"), "coupe": ("5x114.3", "73.1"), "pickup": ("6x139.7", "78.1")}


def candidates(name: str, count: int, seed: int) -> list[Candidate]:
    """Random wheels with tires about as wide, most of them near to fitting."""
    draw, found = np.random.default_rng(seed), []
    circle, bore = MIXED[name]
    for line in range(count):
        rim, width = draw.choice([17, 18, 19, 20]), draw.choice([7.5, 8, 8.5, 9, 9.5, 10, 11])
        tire = 10 * int(width * 2.54 * 1.02) + 5 + 10 * draw.integers(-1, 3)
        wheel = f"{rim}x{width:g} ET{draw.uniform(-30, 65):.1f} {circle} CB{bore}"
        found.append(Candidate(line + 2, ("wheel", "tire"), (wheel, f"{tire}/{draw.choice([30, 35, 40, 45])}R{rim}")))
    return found


CHUNKS = [
    ("wagon", "front", "chosen", 40, 0),
    ("wagon", "front", "chosen", 40, 3),
    ("coupe", "rear", "track_day", 120, 1),
]


@pytest.mark.slow
@pytest.mark.parametrize(("name", "axle", "build", "count", "seed"), CHUNKS)
def test_random_candidates_get_the_checks_answer(name: str, axle: str, build: str, count: int, seed: int) -> None:
    """80 on a wagon's steered axle and 120 on a coupe's five links: `check`'s verdict, 0.1 mm where free."""
    own = prepared(name, axle, build)
    rows = screen_candidates([own], candidates(name, count, seed))
    assert len(rows) == count
    swept = {}
    for row in rows:
        assert row.verdict != "unreadable", row.reason
        if row.clearance is None:
            continue
        setup = setup_of(own, row)
        at = swept.setdefault(setup.ride, sweep(own.axle, setup.ride))
        checked = fit_setup(setup, at, own.variants)
        least = min(each.clearance for each in checked.clearances)
        if row.verdict != "does_not_bolt_on":
            assert row.verdict == checked.verdict, row
        if least >= 0:
            assert row.clearance == pytest.approx(least, abs=0.1), row
            worst = min(each.worst_case for each in checked.clearances)
            if worst >= 0:  # farther away another point than the nearest may be left with less: on the safe side
                low = 0.1 if worst < 4.0 else 1.0  # seen: 0.11 at 4.3, a dense grid agreeing with the check
                assert worst - low < row.worst_case < worst + 0.1, row
            assert row.limited_by == checked.worst.obstacle or abs(row.margin - checked.worst.margin) < 0.1  # type: ignore[union-attr]
        else:
            assert row.clearance < 0.0


@pytest.mark.slow
@pytest.mark.parametrize(("name", "axle", "build"), [VEHICLES[0], VEHICLES[2], VEHICLES[4]])
def test_many_are_decided_as_each_alone(name: str, axle: str, build: str) -> None:
    """The verdict of the clearances of 12 setups side by side is that of a check of each."""
    own = prepared(name, axle, build)
    rows = [ScreenedRow(each, "") for each in candidates(name, 12, 77)]
    setups = [each for each in (setup_of(own, row) for row in rows) if fits_on(each)]
    swept = sweep(own.axle, setups[0].ride)
    found = [VERDICTS[verdict] for verdict in clearance_verdicts(swept, setups, own.variants)]
    assert found == [fit_setup(setup, swept, own.variants).clearance_verdict for setup in setups]


DEEP = {
    "a brake through the barrel into the tire's air": {
        "shape": "ring", "outline": [[-81.5, 211.8], [-25.5, 211.8], [-25.5, 232.4], [-81.5, 232.4]], "clock": [0, 60],
    },
    "a brake through the disc": {
        "shape": "ring", "outline": [[-43.9, 239.7], [31.6, 239.7], [31.6, 249.9], [-43.9, 249.9]], "clock": [0, 60],
        "meets": "wheel",
    },
    "a rod across the bead seat": {
        "shape": "rod", "radius": 5, "from": {"at": [-60, 850, 214]}, "to": {"at": [70, 700, 228]},
    },
    "a ball beside the well": {"shape": "ball", "radius": 13, "at": [0, 776, 222]},
    "a bar over the tread": {"shape": "edge", "points": [[-40, 640, 300], [20, 760, 312], [60, 900, 290]]},
}  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("name", DEEP)
def test_depths_in_a_long_list(name: str) -> None:
    """Within 0.5 mm down to 20 mm and a tenth beyond, of points laid densely in the part: no other is deeper.

    The depth of a point is its distance from the outline of tire or wheel, each in one piece. The parts are fixed to
    the knuckle, so their places need no motion.
    """
    data = yaml.safe_load((PROFILES / "wagon.yaml").read_text(encoding="utf-8"))
    front, part = data["axles"]["front"], {"name": "part", "fixed_to": "knuckle", **DEEP[name]}
    front["obstacles"] = [part]
    own = ready(loads_profile(yaml.safe_dump(data), "deep.yaml"), "front", "chosen")
    points, deep = laid_in(part, families(own.axle)[0].poses(np.zeros(1), np.zeros(1))), 0
    for row in screen_candidates([own], candidates("wagon", 24, 11)):
        if row.clearance is None:
            continue
        setup = setup_of(own, row)
        sections = {"tire": tire_section(setup.tire, setup.wheel), "wheel": wheel_section(setup.wheel)}
        depth = max(
            float((shapely.distance(each.exterior, points) * np.where(shapely.covers(each, points), 1, -1)).max())
            for which, each in sections.items()
            if part.get("meets", which) == which
        ) + float(part.get("radius", 0.0))  # type: ignore[arg-type]
        if depth > 0.5:
            assert -row.clearance == pytest.approx(depth, abs=0.5 if depth <= 20 else 0.1 * depth), row
            deep += 1
    assert deep >= 5


def laid_in(part: dict[str, object], pose: Poses) -> np.ndarray:
    """Points (q,) of shapely in (y', r), 0.3 mm apart or less, that fill a ring or lie on a line, seen from the hub."""
    if part["shape"] == "ring":
        outline = np.array(part["outline"])
        (y0, r0), (y1, r1) = outline.min(axis=0), outline.max(axis=0)
        grid = np.meshgrid(np.linspace(y0, y1, 260), np.linspace(r0, r1, 80))
        return np.asarray(shapely.points(*(each.ravel() for each in grid)))
    ends = [part[key] if key == "at" else part[key]["at"] for key in ("at", "from", "to") if key in part]  # type: ignore[index]
    corners = np.array(part.get("points", ends), dtype=float)
    share = np.linspace(0, 1, 900)[:, None]
    lines = [a + share * (b - a) for a, b in pairwise(corners)] or [corners]
    hub = (np.concatenate(lines) - pose.origin[0]) @ pose.rotation[0]
    return np.asarray(shapely.points(hub[:, 1], np.hypot(hub[:, 0], hub[:, 2])))


ODD = {
    "ride heights beyond the travel": {"ride_heights": {"jacked": -110, "slammed": 110}},
    "a large clearance required": {"obstacle": {"allowance": 90}},
    "a part that the tire alone is asked about": {
        "more": {"name": "nub", "fixed_to": "knuckle", "shape": "ball", "radius": 12, "meets": "tire",
                 "at": [0, 700, 211]},
    },
}  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("name", ODD)
def test_odd_vehicles(name: str) -> None:
    """A long list on vehicles that are rare, but taken: what `check` says of each row."""
    data = yaml.safe_load((PROFILES / "wagon.yaml").read_text(encoding="utf-8"))
    front, odd = data["axles"]["front"], ODD[name]
    front["ride_heights"] |= odd.get("ride_heights", {})
    front["obstacles"][0] |= odd.get("obstacle", {})
    front["obstacles"] += [odd["more"]] if "more" in odd else []
    own = ready(loads_profile(yaml.safe_dump(data), "odd.yaml"), "front", "chosen")
    rows = screen_candidates([own], candidates("wagon", 12, 5))
    swept = sweep(own.axle, setup_of(own, rows[0]).ride)
    told = 0
    for row in rows:
        if row.clearance is not None and row.verdict != "does_not_bolt_on":
            checked = fit_setup(setup_of(own, row), swept, own.variants)
            assert row.verdict == checked.verdict, row
            if row.clearance >= 0:
                assert row.margin == pytest.approx(checked.worst.margin, abs=0.1), row  # type: ignore[union-attr]
            told += 1
    assert told > 8


def fits_on(setup: Setup) -> bool:
    """Whether a tire can be drawn on its rim."""
    try:
        tire_section(setup.tire, setup.wheel, largest=True)
    except CodeError:
        return False
    return True


def setup_of(own: Ready, row: ScreenedRow) -> Setup:
    from fitment import profile as profiles

    base = profiles.setup(own.profile, own.axle.name, own.build)
    wheel, tire = parse_wheel(row.candidate.get("wheel")), parse_tire(row.candidate.get("tire"))
    return replace(base, wheel=wheel, tire=tire)


@pytest.mark.parametrize("whole", [True, False])
@pytest.mark.parametrize(("spec", "code"), SIZES.values())
def test_no_place_is_told_nearer_to_a_section_than_shapely_finds_it(spec: str, code: str, whole: bool) -> None:
    """What a place is off a tire at most, also where only what stands above the bead seats is laid on the raster."""
    tire, rim = parse_tire(code), bare(parse_wheel(f"{spec} ET0"))
    sections = _tires([(tire, rim)], 40.0, largest=not whole, whole=whole)
    outline = tire_section(tire, rim, largest=not whole).exterior
    (low, bottom, high, top), drawn = outline.bounds, np.random.default_rng(7)
    y, r = drawn.uniform(low - 30, high + 30, 20_000), drawn.uniform(bottom, top + 30, 20_000)
    found = sections.fields.at_most(np.zeros(len(y), dtype=np.intp), y, r)
    exact = shapely.distance(outline, shapely.points(y, r))
    assert np.all(found >= exact - 1e-9)
    assert np.mean(found <= exact + 1e-6) > (0.95 if whole else 0.7)
