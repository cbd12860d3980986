"""How near what parts sweep comes to tires, against poses of the solver that are sought closer and closer."""

from __future__ import annotations

import json
from functools import lru_cache
from itertools import product

import numpy as np
import pytest
import shapely
from bench.drawn_vehicles import drawn
from conftest import steered
from shapely.affinity import translate

from fitment.checks.case import ready
from fitment.clearance.trace import trace_obstacle
from fitment.frames import Array
from fitment.motion.suspension import families, swept_travel
from fitment.parts.axle import Axle
from fitment.parts.obstacles import Obstacle
from fitment.parts.sections import tire_section
from fitment.parts.tire_code import parse_tire
from fitment.parts.wheel import parse_wheel
from fitment.profile import load_profile, loads_profile
from fitment.screening.keep_out import KeepOut, LinesRound, keep_out_at, lines_meanwhile

PARTS = [
    {"name": "edge", "shape": "edge", "points": [[-360, 990, 80], [0, 1010, 385], [360, 990, 80]]},
    {"name": "rod", "shape": "rod", "radius": 20, "from": [150, 560, 120], "to": [-40, 500, 300]},
    {"name": "ball", "shape": "ball", "radius": 5, "at": [60, 610, 330]},
    {"name": "panel", "shape": "panel", "rows": [[[x, 400 - z / 9, z] for x in (-300, 0, 300)] for z in (-100, 400)]},
]  # fmt: skip
FREE = 0.015  # [mm] more than the sweep may tell: its boundary is good to about a hundredth
LINE = 0.02  # [mm] the same of lines, whose corners are on it
HARDLY = 0.02  # [mm] less than it may tell: lines leave it by a hundredth, and so may the search here


@lru_cache
def swept(vehicle: str) -> tuple[Axle, KeepOut, list[LinesRound]]:
    if vehicle == "wagon":
        own = ready(load_profile(vehicle), "front")
    else:
        data = drawn("tape, steep limits", 8).profile if vehicle == "steep limits" else steered(obstacles=PARTS)
        own = ready(loads_profile(json.dumps(data)), "front")
    with lines_meanwhile([own], [swept_travel(own.axle, 0.0)]) as waiting:
        return own.axle, keep_out_at(own, 0.0), waiting[0]()


def nearest(axle: Axle, part: Obstacle, travel: tuple[float, float], section: shapely.Polygon, told: float) -> float:
    """Distance [mm] of a section from a part over all poses, by the solver alone.

    Every 6 mm of travel and 20th of the way to a lock; then round the places that are nearest there, closer and closer.
    """
    (family,) = families(axle)
    steps, low, high = np.array([6.0, 0.05, 0.05]), np.array([travel[0], -1.0, 0.0]), np.array([travel[1], 1.0, 1.0])
    grid = [np.arange(a, b + step / 2, step) for a, b, step in zip(low, high, steps, strict=True)]
    places = np.array(list(product(*grid[:2])))
    ends = trace_obstacle(part, family.poses(*np.clip(places, low[:2], high[:2]).T)).every
    away = distances(section, ends.first, ends.last, grid[2], told + 15.0)
    order = np.argsort(away, axis=None)[:400]
    pose, line, along = np.unravel_index(order[away.ravel()[order] < away.min() + 3.0], away.shape)
    at, least = np.column_stack([places[pose], grid[2][along]]), np.inf
    around = np.array(list(product((-1, 0, 1), repeat=2)))
    for _ in range(12):
        poses = np.clip(at[:, None, :2] + around * steps[:2], low[:2], high[:2])
        shares = np.clip(at[:, None, 2:] + np.linspace(-1, 1, 9) * steps[2], 0, 1)
        ends = trace_obstacle(part, family.poses(*poses.reshape(-1, 2).T)).every
        own = np.arange(len(line) * len(around)), np.repeat(line, len(around))
        first, last = (each[own].reshape(len(line), len(around), 3) for each in (ends.first, ends.last))
        away = distances(section, first, last, shares, np.inf)
        k, j = np.unravel_index(away.reshape(len(line), -1).argmin(axis=1), away.shape[1:])
        i = np.arange(len(line))
        at, least = np.column_stack([poses[i, k], shares[i, 0, j]]), min(least, float(away.min()))
        steps = steps * 0.6
        closest = np.argsort(away.reshape(len(line), -1).min(axis=1))[:60]
        at, line = at[closest], line[closest]
    return least


def distances(section: shapely.Polygon, first: Array, last: Array, shares: Array, within: float) -> Array:
    """Distances (..., m) of a section from points at shares (..., m) of the way between ends (..., 3) [mm]."""
    points = first[..., None, :] + shares[..., None] * (last - first)[..., None, :]
    y, r = points[..., 1], np.hypot(points[..., 0], points[..., 2])
    low_y, low_r, high_y, high_r = section.bounds
    near = (y > low_y - within) & (y < high_y + within) & (r > low_r - within) & (r < high_r + within)
    away = np.full(y.shape, np.inf)
    away[near] = shapely.distance(section, shapely.points(y[near], r[near]))
    return away


def sections() -> list[shapely.Polygon]:
    sizes = (("17x8 ET0", "225/45R17"), ("18x9 ET0", "255/40R18"), ("15x6 ET0", "205/70R15"))
    tires = [tire_section(parse_tire(code), parse_wheel(spec)) for spec, code in sizes]
    return [translate(tire, by) for tire in tires for by in (-60, -20, 20, 60)]


SLOW = [("bench", "panel"), ("wagon", "fender lip"), ("wagon", "frame horn"), ("wagon", "sway bar bend"),
        ("steep limits", "valance 3")]  # fmt: skip


@pytest.mark.parametrize(
    ("vehicle", "name"),
    [("bench", "edge"), ("bench", "rod"), ("bench", "ball"), *(pytest.param(*e, marks=pytest.mark.slow) for e in SLOW)],
)
def test_sweep_and_lines_tell_what_the_solver_does(vehicle: str, name: str) -> None:
    axle, kept, lines = swept(vehicle)
    sweep = next(each for each in kept.swept if each.obstacle.name == name)
    chains = next(own for part, own, _ in lines if part.name == name)
    steps = shapely.MultiLineString([
        line for chain in chains
        for line, notch in zip(np.stack([chain.plane, np.roll(chain.plane, -1, axis=0)], 1), chain.notch, strict=True)
        if not notch
    ])  # fmt: skip
    if not len(steps.geoms):
        steps = shapely.MultiPoint(chains[0].plane)
    clear = [each for each in sections() if each.distance(shapely.MultiPoint(sweep.plane)) > 0]
    assert clear
    for section in clear:
        told = section.distance(shapely.MultiPoint(sweep.plane))
        solved = nearest(axle, sweep.obstacle, kept.travel, section, told)
        assert solved - HARDLY <= told <= solved + FREE
        assert solved - HARDLY <= section.distance(steps) <= solved + LINE


def test_a_part_beyond_everything_sweeps_nothing() -> None:
    """More than 600 mm from the spin axis, with 50 mm of travel to all sides."""
    far = {"name": "far", "shape": "edge", "points": [[0, 700, 1000], [80, 700, 1000]]}
    own = ready(loads_profile(json.dumps(steered(obstacles=[far]))), "front")
    (sweep,) = keep_out_at(own, 0.0).swept
    assert len(sweep.plane) == 0
    assert not sweep.swept.any()
