"""Where a part falls short: regions that hold every pose in which it does, and are not needlessly large.

The parts are laid out in points by hand here, turned into the hub's frame, and measured against the section by shapely:
no trace, no polynomial and no search of the program is asked.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from conftest import HUB_FACE, vehicle, write_profile
from numpy.typing import NDArray

import fitment
from fitment.checks.full_case import FullCase
from fitment.checks.short_regions import Region, WhereShort
from fitment.clearance.region_limits import cells_of, extents, joined, places_in
from fitment.clearance.section_distance import clearances
from fitment.clearance.trace import trace_obstacle
from fitment.motion.poses import Poses
from fitment.motion.suspension import families
from fitment.parts.obstacles import Obstacle, core
from fitment.report.where_short import where_words

Array = NDArray[np.float64]
SPACING = 4.0  # [mm] of the points on a part
STEPS = {"travel_mm": 1.0, "steer_deg": 0.5, "opposite_mm": 1.0}  # to which limits are told
VEHICLES = [
    ("wagon", "front", "wanted", None),
    ("wagon", "front", "wanted", "20x10 ET50 5x114.3 CB70.6"),
    ("wagon", "rear", "wanted", None),
    ("pickup", "rear", "wide", None),
]


# ---------------------------------------------------------------- random poses, by hand


@cache
def checked(name: str, axle: str, build: str, wheel: str | None) -> Any:
    return fitment.check(name, axle, build, wheel=wheel)


def points_on(part: Obstacle) -> tuple[Array, list[str]]:
    """Points of the core about SPACING apart, at the reference pose, and the carrier of each."""
    corners = core(part)
    carriers = list(part.fixed_to) * (len(corners) if len(part.fixed_to) == 1 else 1)
    if part.shape == "panel":
        sheet = corners.reshape(-1, part.columns, 3)
        shares = np.linspace(0, 1, 9)
        laid = []
        for i in range(sheet.shape[0] - 1):
            for j in range(part.columns - 1):
                a, b, c, d = sheet[i, j], sheet[i, j + 1], sheet[i + 1, j], sheet[i + 1, j + 1]
                laid += [a + u * (b - a) + v * (c - a) for u in shares for v in shares if u + v <= 1]
                laid += [d + u * (c - d) + v * (b - d) for u in shares for v in shares if u + v <= 1]
        return np.array(laid), [carriers[0]] * len(laid)
    laid, names = [], []
    for k in range(len(corners) - 1):
        assert len(set(carriers)) == 1, "rods between two carriers are left to other tests"
        count = int(np.ceil(np.linalg.norm(corners[k + 1] - corners[k]) / SPACING)) + 1
        laid += list(np.linspace(corners[k], corners[k + 1], count))
        names += [carriers[0]] * count
    return np.array(laid or corners), names or carriers


def distance(section: shapely.Polygon, part: Obstacle, poses: Poses) -> Array:
    """From a section to a part's points in every pose (n,) [mm], below zero where one lies in it."""
    points, carriers = points_on(part)
    rotation, shift = poses.motions[carriers[0]]
    placed = np.einsum("nij,vj->nvi", rotation, points) + shift[:, None]
    hub = np.einsum("nji,nvj->nvi", poses.rotation, placed - poses.origin[:, None])
    plane = shapely.points(np.stack([hub[..., 1], np.hypot(hub[..., 0], hub[..., 2])], -1))
    shapely.prepare(section)
    inside = shapely.contains(section, plane)
    return np.where(inside, -1.0, shapely.distance(section, plane)).min(axis=1) - part.radius


def random_poses(case: FullCase, count: int, travel: tuple[float, float] | None = None) -> tuple[Poses, ...]:
    """Of every family; travel : within which."""
    draw = np.random.default_rng(14)
    low, high = travel or (float(case.fit.poses.travel.min()), float(case.fit.poses.travel.max()))
    drawn = []
    for family in families(case.fit.axle):
        shares = [draw.uniform(-1, 1, count) if len(at) > 1 else np.zeros(count) for at in family.levels]
        shares = [
            np.where(draw.uniform(size=count) < 0.3, np.sign(share), share) for share in shares
        ]  # often at a lock
        drawn.append(family.poses(draw.uniform(low, high, count), *shares))
    return tuple(drawn)


def within(regions: list[dict[str, list[float]]], poses: Poses) -> NDArray[np.bool_]:
    beside = {"steer_deg": poses.turned, "opposite_mm": poses.opposite, "travel_mm": poses.travel}
    held = np.zeros(len(poses), dtype=bool)
    for region in regions:
        inside = np.ones(len(poses), dtype=bool)
        for key, (low, high) in region.items():
            inside &= (beside[key] >= low - 1e-3) & (beside[key] <= high + 1e-3)
        held |= inside
    return held


def short_pairs(answer: Any) -> list[tuple[Obstacle, str, dict[str, Any]]]:
    """Parts that fall short as measured, with what the data say of where."""
    parts = {part.name: part for part in answer.cases[0].fit.obstacles}
    told = [entry for entry in answer.data["clearances"] if entry.get("where_short")]
    return [
        (parts[entry["obstacle"]], entry["part"], entry["where_short"])
        for entry in told
        if entry["where_short"]["short"] != "worst_case"
    ]


@pytest.mark.parametrize("vehicle", VEHICLES)
def test_no_pose_is_short_outside_the_region_that_is_told(vehicle: tuple[Any, ...]) -> None:
    answer = checked(*vehicle)
    case = answer.cases[0]
    pairs = short_pairs(answer)
    assert pairs
    for part, meets, where in pairs:
        section = case.fit.tire if meets == "tire" else case.fit.wheel
        short = 0
        for poses in random_poses(case, 400):
            touching = distance(section, part, poses) < where["mm"] - 1e-6
            short += int(touching.sum())
            assert not np.any(touching & ~within(where["regions"], poses)), (part.name, where["sentence"])
        assert short, part.name  # or the test would tell nothing


@pytest.mark.parametrize(
    ("vehicle", "which"),
    [(VEHICLES[0], "tire fender lip"), (("example", "front", "as_bought", None), "tire fender lip"),
     (("example", "front", "as_bought", None), "tire frame horn")],
)  # fmt: skip
def test_straight_ahead_nothing_is_short_outside_what_is_told_of_it(vehicle: tuple[Any, ...], which: str) -> None:
    answer = checked(*vehicle)
    case = answer.cases[0]
    part, meets, where = next(pair for pair in short_pairs(answer) if f"{pair[1]} {pair[0].name}" == which)
    (region,) = where["regions"]
    span = where["straight_ahead_travel_mm"]
    section = case.fit.tire if meets == "tire" else case.fit.wheel
    low, high = region["travel_mm"]
    gaps = []
    for family in families(case.fit.axle):
        travels = np.linspace(low, high, 400)
        poses = family.poses(travels, *(np.zeros(400) for _ in family.levels))
        gaps.append((travels, distance(section, part, poses)))
    travels, gap = (np.concatenate(column) for column in zip(*gaps, strict=True))
    short = travels[gap < where["mm"] - 1e-6]
    assert ("never straight ahead" in where["sentence"]) == (span == [])
    if not span:
        assert not short.size
        return
    assert span[0] - 1e-3 <= short.min()
    assert short.max() <= span[1] + 1e-3
    # two steps, and what a tape of points SPACING apart misses of the true gap
    assert short.min() - span[0] < 2 * STEPS["travel_mm"] + 1.0


@pytest.mark.parametrize("vehicle", VEHICLES)
def test_a_limit_of_travel_is_no_more_than_a_step_beyond_what_is_short(vehicle: tuple[Any, ...]) -> None:
    """Here the exact gaps of the engine in solved poses are asked: points on a sheet of metal lie too far apart."""
    answer = checked(*vehicle)
    case = answer.cases[0]
    ends = float(case.fit.poses.travel.min()), float(case.fit.poses.travel.max())
    for part, meets, where in short_pairs(answer):
        section = case.fit.tire if meets == "tire" else case.fit.wheel
        for region in where["regions"]:
            for limit, inward in zip(region["travel_mm"], (1, -1), strict=True):
                if min(abs(limit - end) for end in ends) < 1e-6:
                    continue
                # a step of rounding, and another for what the search leaves and the draw misses
                strip = sorted((limit, limit + inward * (STEPS["travel_mm"] + 1.0)))
                near = [
                    clearances(section, trace_obstacle(part, poses))[within([region], poses)].min(initial=np.inf)
                    for poses in random_poses(case, 400, (strip[0], strip[1]))
                ]
                assert min(near) < where["mm"], (part.name, where["sentence"])


# ---------------------------------------------------------------- limits of regions known in closed form


LEVELS = (np.linspace(-80.0, 80.0, 9), np.linspace(-1.0, 1.0, 5))


def limits(value: Callable[[Array], Array], known: list[tuple[float, float]] | None = None) -> list[list[float]]:
    """Least and most travel and share of where a value is below zero; known : places there, else the grid's nodes."""
    nodes = np.stack(np.meshgrid(*LEVELS, indexing="ij"), -1)
    at_nodes = value(nodes.reshape(-1, 2)).reshape(nodes.shape[:2])
    short = nodes[at_nodes < 0] if known is None else np.reshape(known, (-1, 2))
    step = np.array([0.5, 0.01])
    two = joined([places_in(0, 0, short), places_in(1, 0, short)])  # a second region that is the same, side by side
    cells = cells_of(0, LEVELS, np.array([at_nodes, at_nodes]))
    low, high = extents(2, cells, two, lambda _, __, at: value(at), lambda _, at: at, step)
    assert np.array_equal(low[0], low[1])
    assert np.array_equal(high[0], high[1])
    return [low[0].tolist(), high[0].tolist()]


def test_limits_of_an_ellipse_are_its_half_axes() -> None:
    found = limits(lambda at: np.hypot(at[:, 0] - 3.0, 40 * (at[:, 1] - 0.1)) - 31.0)
    exact = [[3.0 - 31.0, 0.1 - 31.0 / 40], [3.0 + 31.0, 0.1 + 31.0 / 40]]
    assert np.all(np.array(found[0]) <= exact[0])
    assert np.all(np.array(found[1]) >= exact[1])
    assert np.allclose(found, exact, atol=[0.7, 0.02])


def test_a_spot_between_the_nodes_that_the_search_met_is_held_whole() -> None:
    found = limits(lambda at: np.hypot(at[:, 0] - 11.0, 40 * (at[:, 1] - 0.3)) - 4.0, known=[(11.5, 0.31)])
    exact = [[7.0, 0.2], [15.0, 0.4]]
    assert np.all(np.array(found[0]) <= exact[0])
    assert np.all(np.array(found[1]) >= exact[1])
    assert np.allclose(found, exact, atol=[0.7, 0.02])


@pytest.mark.parametrize("sharp", [3.0, 5.0, 10.0])
@pytest.mark.parametrize("deep", [0.5, 1.0, 2.0])
def test_a_narrow_valley_between_the_nodes_that_no_search_met_is_held(sharp: float, deep: float) -> None:
    """Beside the region below travel -50: hypot(t - 30, R) < R + d, so to 30 + sqrt((R + d)^2 - R^2) by Pythagoras."""
    found = limits(lambda at: np.minimum(np.hypot(at[:, 0] - 30.0, sharp) - sharp - deep, at[:, 0] + 50.0))
    exact = 30.0 + np.sqrt((sharp + deep) ** 2 - sharp**2)
    assert exact <= found[1][0] <= exact + 0.7


def test_where_nothing_was_known_a_valley_between_the_nodes_is_found_and_none_where_there_is_none() -> None:
    """hypot(t - 33, R) < R + d within sqrt((R + d)^2 - R^2) of 33, by Pythagoras."""
    found = limits(lambda at: np.hypot(at[:, 0] - 33.0, 5.0) - 6.0, known=[])
    half = np.sqrt(6.0**2 - 5.0**2)
    assert 33.0 - half - 0.7 <= found[0][0] <= 33.0 - half
    assert 33.0 + half <= found[1][0] <= 33.0 + half + 0.7
    low, high = limits(lambda at: np.hypot(at[:, 0] - 33.0, 5.0) - 4.9, known=[])
    assert np.all(np.array(low) > high)


def test_a_curved_border_that_bulges_between_nodes_is_held() -> None:
    """Above a parabola with its lowest point at share 0.25, between the nodes 0 and 0.5: travel 50 there."""
    found = limits(lambda at: 50.0 + 60.0 * (at[:, 1] - 0.25) ** 2 - at[:, 0])
    assert found[0][0] <= 50.0
    assert found[0][0] == pytest.approx(50.0, abs=0.7)
    assert found[1][0] == pytest.approx(80.0)


def test_of_a_steered_beam_the_right_wheel_counts_with_the_steering_of_the_vehicle(tmp_path: Path) -> None:
    """A rail ahead of a wheel and inboard is met when it turns away from its own side, the left wheel to the right."""
    joints = {"lower_ball": [0, HUB_FACE - 60, -150], "upper_ball": [0, HUB_FACE - 60, 150]}
    rail = {"name": "rail", "shape": "rod", "radius": 8, "from": {"at": [270, 535, -40]}, "to": {"at": [270, 535, 40]}}
    data = vehicle(
        suspension={"kind": "solid_axle", "points": joints}, steering={"lock_left": 34, "lock_right": 28},
        obstacles=[rail],
    )  # fmt: skip
    answer = fitment.check(write_profile(tmp_path, data), "front", geometry=True)
    short = [e for e in answer.data["clearances"] if e["part"] == "tire" and e["clearance_mm"] < 0]
    for corner in ("left", "right"):
        away = 1 if corner == "left" else -1
        turned = [away * e["steer_deg"] for e in short if e["corner"] == corner]
        assert turned
        assert max(turned) < 0, corner
    (part, meets, where), case = next(p for p in short_pairs(answer) if p[1] == "tire"), answer.cases[0]
    for poses in random_poses(case, 400):
        touching = distance(case.fit.tire, part, poses) < -1e-6
        assert touching.any()
        assert not np.any(touching & ~within(where["regions"], poses)), (meets, where["sentence"])
    assert len(where["regions"]) == 2
    assert "left" in where["sentence"]
    assert "right" in where["sentence"]
    margins = json.loads(answer.json)["margin_map"]  # both wheels count at a steering position: it is its own mirror
    least = np.array(margins["margin_mm"], dtype=float)
    assert least == pytest.approx(least[:, ::-1], abs=1e-6)


# ---------------------------------------------------------------- words


BOTH_LOCKS = (
    "in the worst case rubs only below -40 mm of travel with more than 28 deg right, "
    "and above +50 mm of travel with more than 20 deg left"
)


def where(
    *regions: tuple[tuple[float, float], tuple[float, float] | None, tuple[bool, bool]],
    kind: Any = "rubs", part: Any = "tire", beside: Any = "steer", every: bool = False, **more: Any,
) -> WhereShort:  # fmt: skip
    whole = Region((-70.0, 120.0), None if beside is None else (-31.0, 36.0), (True, True), True)
    made = tuple(Region(*region, every_height=every) for region in regions)
    limit = 5.0 if kind == "too_close" else 0.0
    return WhereShort("lip", part, kind, limit, beside, made or (whole,), whole, more.pop("always", False), **more)


@pytest.mark.parametrize(
    ("place", "words"),
    [
        (where(((60.7, 120), (-31, 36), (True, True)), straight=()),
         "rubs only above +60 mm of travel, never straight ahead"),
        (where(((60.7, 120), (-31, 36), (True, True)), straight=(80.3, 120.0)),
         "rubs only above +60 mm of travel, straight ahead only above +80 mm"),
        (where(((60.7, 120), (-31, 36), (True, True)), straight=(60.9, 120.0)),
         "rubs only above +60 mm of travel, straight ahead too"),
        (where(((-70, 120), (-31, 36), (True, True)), every=True, straight=()),
         "rubs at every height, never straight ahead"),
        (where(((-70, 120), (-31, 36), (True, True)), straight=(60.9, 100.0)),
         "rubs in some poses, at any height, straight ahead only between +60 mm and +100 mm"),
        (where(((102.4, 120), (25.2, 36), (False, True))),
         "rubs only above +102 mm of travel with more than 25 deg left"),
        (where(((-70, 120), (35.1, 36), (False, True)), every=True),
         "rubs at every height, only at left lock (from 35 deg on)"),
        (where(((-20.0, 29.3), (-31, -20.3), (True, False)), part="wheel"),
         "touches only between -20 mm and +30 mm of travel with more than 20 deg right"),
        (where(((60.7, 120), (-31, 36), (True, True)), kind="too_close"),
         "too close (less than 5 mm) only above +60 mm of travel, at any steering angle"),
        (where(((-70, -40.6), (-31, -28), (True, False)), ((50.2, 120), (20.1, 36), (False, True)), kind="worst_case"),
         BOTH_LOCKS),
        (where(((-70, 120), (-31, -25), (True, False)), ((-70, 120), (20, 36), (False, True)), every=True),
         "rubs at every height, only with more than 25 deg right or with more than 20 deg left"),
        (where(((10.0, 20.0), (-4.2, 3.1), (False, False))),
         "rubs only between +10 mm and +20 mm of travel between 4.5 deg right and 3.5 deg left"),
        (where(((-70, 120), (-31, 36), (True, True))), "rubs in some poses, at any height and steering angle"),
        (where(always=True), "rubs anywhere"),
        (where(always=True, beside=None), "rubs at every height"),
        (where(always=True, still=True, part="wheel"), "touches in every pose"),
        (where(((39.7, 120), None, (True, True)), beside=None), "rubs only above +39 mm of travel"),
        (where(((100.9, 120), (-31, -5.5), (True, False)), beside="opposite"),
         "rubs only above +100 mm of travel with the opposite wheel drooping below -5 mm"),
    ],
)  # fmt: skip
def test_sentences(place: WhereShort, words: str) -> None:
    assert where_words(place) == words


def test_limits_in_inches_are_rounded_outward_to_sixteenths() -> None:
    """34.4 mm is 21.67 sixteenths and 52.3 mm 32.94: 21 and 33."""
    place = where(((34.4, 52.3), (-31, 36), (True, True)))
    assert where_words(place, "in") == "rubs only between +1 5/16 in and +2 1/16 in of travel, at any steering angle"


def test_an_end_of_travel_in_inches_is_the_end() -> None:
    """3 in is 76.2 mm, and 48 sixteenths are: which of both is a hair more is the computer's arithmetic alone."""
    for whole in ((-76.2, 76.2), (-76.2 - 1e-12, 76.2 + 1e-12), (-76.2 + 1e-12, 76.2 - 1e-12)):
        region = Region((9.0, whole[1]), (-31, 36), (True, True), every_height=False)
        place = WhereShort(
            "lip", "tire", "rubs", 0.0, "steer", (region,), Region(whole, (-31, 36), (True, True), True), False
        )
        assert where_words(place, "in") == "rubs only above +5/16 in of travel, at any steering angle"
        both = Region(whole, (17.0, 36.0), (False, True), every_height=True)
        place = WhereShort(
            "lip", "tire", "rubs", 0.0, "steer", (both,), Region(whole, (-31, 36), (True, True), True), False
        )
        assert where_words(place, "in") == "rubs at every height, only with more than 17 deg left"


# ---------------------------------------------------------------- data and texts


def test_every_obstacle_and_part_is_told_once_where_it_is_tightest() -> None:
    answer = checked(*VEHICLES[0])
    told = [entry for entry in answer.data["clearances"] if "where_short" in entry]
    pairs = [(entry["obstacle"], entry["part"]) for entry in told]
    assert sorted(pairs) == sorted({(e["obstacle"], e["part"]) for e in answer.data["clearances"]})
    for entry in told:
        every = [
            e for e in answer.data["clearances"] if (e["obstacle"], e["part"]) == (entry["obstacle"], entry["part"])
        ]
        short = min(e["margin_mm"] for e in every) < 0 or min(e["worst_case_mm"] for e in every) < 0
        assert (entry["where_short"] is not None) == short
    assert "margin_map" not in answer.data


def test_the_map_has_the_numbers_of_the_check_in_its_poses() -> None:
    data = json.loads(fitment.check("wagon", "front", "wanted", geometry=True).json)
    margins, seen = data["margin_map"], 0
    known: dict[tuple[float, float], list[dict[str, Any]]] = {}
    for entry in data["clearances"]:
        known.setdefault((round(entry["travel_mm"], 3), round(entry["steer_deg"], 3)), []).append(entry)
    for i, travel in enumerate(margins["travel_mm"]):
        for j, steer in enumerate(margins["steer_deg"][i]):
            here = known.get((round(travel, 3), round(steer, 3)))
            if here:
                least = min(here, key=lambda entry: entry["margin_mm"])
                assert margins["margin_mm"][i][j] == pytest.approx(least["margin_mm"], abs=1e-3)
                assert margins["between"][i][j] == f"{least['part']} - {least['obstacle']}"
                seen += 1
    assert seen >= 45  # nine heights, five steering positions


def test_the_map_of_a_solid_axle_is_over_the_opposite_wheel() -> None:
    margins = json.loads(fitment.check("pickup", "rear", "wide", geometry=True).json)["margin_map"]
    assert sorted(margins) == ["between", "margin_mm", "opposite_mm", "travel_mm"]
    # level, the opposite wheel stands where this one does
    middle = len(margins["opposite_mm"][0]) // 2
    assert [row[middle] for row in margins["opposite_mm"]] == pytest.approx(margins["travel_mm"])


def test_a_setup_that_clears_has_no_such_line() -> None:
    assert checked("wagon", "front", "as_bought", None).cases[0].where_short == ()


def test_the_full_text_tells_all_and_the_short_one_what_touches() -> None:
    answer = fitment.check("wagon", "front", "wanted", full=True)
    full = " ".join(answer.text.split())
    for entry in answer.data["clearances"]:
        if entry.get("where_short"):
            assert f"{entry['part']} - {entry['obstacle']}: {entry['where_short']['sentence']}" in full
    brief = " ".join(checked(*VEHICLES[0]).text.split())
    assert "tire - fender lip: rubs only above" in brief
    assert "tire - frame horn: too close" not in brief
