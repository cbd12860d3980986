"""Many parts at once are told as each is by itself; of more than FEW_PARTS some rows are left out, none that counts."""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import vehicle, write_profile

import fitment
from fitment.checks.evaluation import FEW_PARTS
from fitment.clearance.alike import alike_groups
from fitment.clearance.pose_search import BELIEVED, TRIED, _lowest
from fitment.clearance.section_distance import gaps
from fitment.clearance.trace import circle_hits, hub_corners, trace_obstacle
from fitment.motion.suspension import poses_at_lock_fraction
from fitment.parts.obstacles import Obstacle
from fitment.parts.sections import tire_section, wheel_section
from fitment.parts.tire_code import parse_tire
from fitment.parts.wheel import parse_wheel

Part = dict[str, Any]


def parts_of(count: int) -> list[Part]:
    """Balls, edges of two and of three points, and panels, round the tire."""
    rng, made = np.random.default_rng(5), []
    for k in range(count):
        angle, y = rng.uniform(0, np.pi), float(rng.uniform(520, 820))
        at = np.array([rng.uniform(330, 420) * np.cos(angle), y, rng.uniform(330, 420) * np.sin(angle)])
        near = [np.round(at + step, 1).tolist() for step in rng.uniform(-40, 40, (4, 3))]
        made.append(
            [
                {"shape": "ball", "radius": 5, "at": near[0]},
                {"shape": "edge", "radius": 2, "points": near[:2]},
                {"shape": "edge", "points": near[:3]},
                {"shape": "panel", "rows": [near[:2], near[2:]]},
            ][k % 4]
            | {"name": f"part {k}", "fixed_to": "body", "tolerance": k % 3}
        )
    return made


def checked(folder: Path, parts: list[Part]) -> dict[str, Any]:
    folder.mkdir()
    steering = {"lock_left": 34, "lock_right": 30}
    path = write_profile(folder, vehicle(obstacles=parts, steering=steering, travel={"droop": -60, "bump": 60}))
    data: dict[str, Any] = fitment.check(path, "front").data
    return data


def least(answer: dict[str, Any]) -> dict[tuple[str, str], tuple[float, float, float]]:
    """Of every part and tire or wheel the least clearance, where that is, to the hundredth."""
    best: dict[tuple[str, str], tuple[float, float, float]] = {}
    for entry in answer["clearances"]:
        key, place = (entry["obstacle"], entry["part"]), (entry["travel_mm"], entry["steer_deg"])
        if key not in best or entry["clearance_mm"] < best[key][0]:
            best[key] = (entry["clearance_mm"], *place)
    return best


def test_of_many_parts_each_is_as_close_as_when_it_is_checked_by_itself(tmp_path: Path) -> None:
    parts = parts_of(FEW_PARTS + 8)
    together = checked(tmp_path / "all", parts)
    found = least(together)
    for part in parts[::5]:
        alone = least(checked(tmp_path / part["name"], [part]))
        for key, own in alone.items():
            assert found[key] == pytest.approx(own, abs=0.002), key


def test_rows_are_left_out_of_more_than_a_few_parts_only_and_none_of_the_grid(tmp_path: Path) -> None:
    counts = {}
    for count in (FEW_PARTS, FEW_PARTS + 16):
        answer = checked(tmp_path / str(count), parts_of(count))
        rows: dict[tuple[str, str], set[tuple[float, float]]] = {}
        for entry in answer["clearances"]:
            rows.setdefault((entry["obstacle"], entry["part"]), set()).add((entry["travel_mm"], entry["steer_deg"]))
        poses = set.union(*rows.values())
        every = set.intersection(*rows.values())
        counts[count] = len(poses - every)
        straight = {place for place in poses if place[0] in (-60.0, 0.0, 60.0) and abs(place[1]) < 1e-9}
        assert len(straight) == 3
        assert straight <= every
    assert counts[FEW_PARTS] == 0, "each is told in every pose"
    assert counts[FEW_PARTS + 16] > 0


def test_corners_of_parts_that_are_alike_are_those_of_each(tmp_path: Path) -> None:
    from fitment.profile import axle, load_profile

    made = parts_of(12)
    for k, part in enumerate(made[:3]):
        made.append({"name": f"rod {k}", "shape": "rod", "radius": 9, "from": {"fixed_to": "body", "at": [k, 500, 300]},
                     "to": {"fixed_to": ("knuckle", "body")[k % 2], "at": part.get("at", [0, 600, 100])}})  # fmt: skip
    front = axle(load_profile(write_profile(tmp_path, vehicle(obstacles=made))), "front")
    poses = poses_at_lock_fraction(front, np.array([-40.0, 0.0, 30.0]), 0.0)
    groups = alike_groups(front.obstacles, poses)
    assert sorted(itertools.chain.from_iterable(group.numbers for group in groups)) == list(range(len(made)))
    assert len(groups) < len(made)
    for group in groups:
        whole = group.trace_in(poses)
        for k, number in enumerate(group.numbers):
            mine = whole.at(np.arange(k * len(poses), (k + 1) * len(poses)))
            one: Obstacle = front.obstacles[number]
            own = group.own_corners(k, np.arange(mine.hub.shape[1]))
            assert np.allclose(np.asarray(mine.hub), np.asarray(hub_corners(one, poses))[:, own], atol=1e-9)
            assert set(own.tolist()) == set(range(hub_corners(one, poses).shape[1])), "none is left out"
            assert np.all(mine.radius == one.radius)


def test_parts_filled_up_with_corners_are_as_far_as_each_by_itself(tmp_path: Path) -> None:
    rng = np.random.default_rng(12)
    poses = poses_at_lock_fraction(_axle(tmp_path), np.array([-40.0, 0.0, 30.0]), 0.5)
    obstacles = []
    for rows, columns in ((2, 2), (3, 2), (2, 3), (2, 2)):
        x, z = np.meshgrid(np.linspace(-250, 250, rows), np.linspace(-100, 420, columns), indexing="ij")
        for out in (-240.0, -130.0, -60.0):
            at = np.stack([x, np.full_like(x, 700.0 + out), z], -1) + rng.normal(0, 15, (rows, columns, 3))
            points = tuple(map(tuple, at.reshape(-1, 3).tolist()))
            obstacles.append(Obstacle(f"sheet {len(obstacles)}", "panel", points, columns=columns, radius=out / -40))
    for count in (2, 3, 5, 4):
        at = rng.uniform((-300, 400, -200), (300, 700, 300), (count, 3))
        obstacles.append(Obstacle(f"edge {count}", "edge", tuple(map(tuple, at.tolist())), radius=count))
    groups = alike_groups(obstacles, poses)
    assert len(groups) < 7, "of seven sizes some are told as one"
    for section in (tire_section(parse_tire("245/45R17"), parse_wheel("17x8 ET40 5x114.3 CB70.6")),
                    wheel_section(parse_wheel("17x8 ET40 5x114.3 CB70.6"))):  # fmt: skip
        seen = set()
        for group in groups:
            both = gaps(section, group.trace_in(poses))
            for k, number in enumerate(group.numbers):
                mine, one = both.at(slice(3 * k, 3 * k + 3)), trace_obstacle(obstacles[number], poses)
                alone = gaps(section, one)
                assert np.allclose(mine.clearance, alone.clearance, atol=1e-6)
                place = np.einsum(
                    "nc,nci->ni", mine.weights, one.hub[np.arange(3)[:, None], group.own_corners(k, mine.corners)]
                )
                at = np.stack([place[:, 1], np.hypot(place[:, 0], place[:, 2])], -1)
                assert np.allclose(at, mine.on_core, atol=0.02), "the corners are those of the part as it is given"
                seen |= {bool(overlaps) for overlaps in (alone.clearance < 0).tolist()}
        assert seen == {True, False}


def test_circles_meet_a_panel_where_densely_laid_points_of_it_lie(tmp_path: Path) -> None:
    rng = np.random.default_rng(8)
    panel = Obstacle("sheet", "panel", tuple(map(tuple, rng.uniform(-200, 200, (6, 3)).tolist())), columns=3)
    poses = poses_at_lock_fraction(_axle(tmp_path), np.array([0.0]), 0.0)
    trace = trace_obstacle(panel, poses)
    hub, triangles = np.asarray(trace.hub)[0], trace.mesh.triangles
    weights = rng.dirichlet([1, 1, 1], 400)
    inside = (weights @ hub[triangles]).reshape(-1, 3)
    circles = np.stack([inside[:, 1], np.hypot(inside[:, 0], inside[:, 2])], -1)
    hit, corners, share = circle_hits(trace, np.zeros(len(circles), dtype=np.intp), circles)
    assert hit.all(), "the circle through a point of the panel meets it"
    met = np.einsum("qc,qci->qi", share, hub[corners])
    assert np.allclose(np.stack([met[:, 1], np.hypot(met[:, 0], met[:, 2])], -1), circles, atol=1e-6)
    beyond = circles + np.array([0.0, 2000.0])
    assert not circle_hits(trace, np.zeros(len(circles), dtype=np.intp), beyond)[0].any()


def _axle(folder: Path) -> Any:
    from fitment.profile import axle, load_profile

    return axle(load_profile(write_profile(folder, vehicle())), "front")


def test_the_lowest_place_of_a_quadratic_is_that_of_all_places_tried() -> None:
    """By numpy's own polynomials at every place of the grid."""
    rng = np.random.default_rng(3)
    factors = rng.normal(size=(20, 6))
    low, high = -rng.uniform(0, 4, (20, 2)), rng.uniform(0, 4, (20, 2))
    place, value = _lowest(factors, low, high)
    side = np.linspace(-BELIEVED, BELIEVED, TRIED[2])
    for row in range(20):
        c, (f0, fx, fy, fxx, fyy, fxy) = np.zeros((3, 3)), factors[row]
        c[0, 0], c[1, 0], c[0, 1], c[2, 0], c[0, 2], c[1, 1] = f0, fx, fy, fxx, fyy, fxy
        x, y = np.meshgrid(*(np.clip(side, low[row, i], high[row, i]) for i in range(2)))
        assert value[row] == pytest.approx(np.polynomial.polynomial.polyval2d(x, y, c).min())
        assert np.polynomial.polynomial.polyval2d(*place[row], c) == pytest.approx(value[row])
