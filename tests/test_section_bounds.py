"""Bounds by which chords and boxes of triangles are left out, against distances by shapely: never on the wrong side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
import shapely
from shapely import Polygon

from fitment.clearance.section_bounds import COARSE, NODE, distance_bounds
from fitment.frames import Array
from fitment.parts.sections import tire_section, wheel_section
from fitment.parts.tire_code import parse_tire
from fitment.parts.wheel import parse_wheel

WHEEL, TIRE = parse_wheel("18x9.5 ET12 5x114.3 CB70.6"), parse_tire("255/45R18")
SECTIONS = {
    "tire": tire_section(TIRE, WHEEL, 0.0),
    "wheel": wheel_section(WHEEL, 0.0),
    "notched": Polygon([(-90, 150), (90, 150), (90, 330), (20, 330), (0, 200), (-20, 330), (-90, 330)]),
}


def signed(section: Polygon, points: Array) -> Array:
    """Signed distance of points (q, 2) by shapely: to the outline, negative inside."""
    distance = shapely.distance(section.exterior, shapely.points(points))
    return np.where(shapely.contains_xy(section, points), -distance, distance)


def places(section: Polygon, draw: np.random.Generator, count: int) -> Array:
    """Places about a section: some on and beside the outline, some inside, some beyond the raster, some at the axis."""
    low, high = np.array(section.bounds).reshape(2, 2)
    line = shapely.get_coordinates(section.exterior)
    beside = line[draw.integers(len(line), size=count)] + draw.normal(0, 4, (count, 2))
    wide = draw.uniform(low - 700, high + 700, (count, 2))
    near = draw.uniform(low - 60, high + 60, (count, 2))
    points = np.concatenate(
        [line, beside, wide, near, np.column_stack([draw.uniform(-300, 300, count), np.zeros(count)])]
    )
    return np.column_stack([points[:, 0], np.abs(points[:, 1])])


@pytest.mark.parametrize("name", SECTIONS)
def test_a_distance_lies_between_its_bounds(name: str) -> None:
    section = SECTIONS[name]
    points = places(section, np.random.default_rng(5), 4000)
    least, most, _, _ = distance_bounds(section).places(points)
    there = signed(section, points)
    assert np.all(least <= there)
    assert np.all(there <= most)
    near = np.abs(there) < 250
    assert np.max((most - least)[near]) < 2 * NODE / np.sqrt(2) + 1e-5  # a node is half a diagonal off at most


@pytest.mark.parametrize("name", SECTIONS)
def test_the_whole_section_turned_round_the_axis_lies_behind_each_plane(name: str) -> None:
    section, draw = SECTIONS[name], np.random.default_rng(6)
    points = places(section, draw, 300)
    _, _, normal, ahead = distance_bounds(section).places(points)
    y, r = shapely.get_coordinates(section.exterior).T
    for angle in np.linspace(0, np.pi, 7):  # the plane turned to where a point is, the section all the way round
        along = normal[:, :1] * y + normal[:, 1:] * (r * np.cos(angle))
        assert np.all(along.max(axis=1) <= ahead + 1e-6)


@dataclass(frozen=True)
class Drawn:
    """Lines in chords (q, m, 2) [mm], as those of a trace are given."""

    lines: np.ndarray

    @property
    def count(self) -> np.ndarray:
        return np.full(len(self.lines), self.lines.shape[1] - 1)

    def points(self, line: np.ndarray, number: np.ndarray) -> np.ndarray:
        return self.lines[line, number]

    def bows(self, steps: int) -> np.ndarray:
        """A way lies no farther off the line between its ends than half of its length."""
        return np.linalg.norm(np.diff(self.lines, axis=1), axis=2).max(axis=1) * steps / 2


@pytest.mark.parametrize("name", SECTIONS)
def test_the_chord_that_is_nearest_or_deepest_is_kept(name: str) -> None:
    section, draw = SECTIONS[name], np.random.default_rng(7)
    low, high = np.array(section.bounds).reshape(2, 2)
    count, points, owners = 300, 3 * COARSE + 3, 100
    steps = np.cumsum(draw.normal(0, 0.15, (count, points)), axis=1) + draw.uniform(0, 2 * np.pi, (count, 1))
    way = draw.uniform(1, 9, (count, 1, 1)) * np.stack([np.cos(steps), np.sin(steps)], -1)
    lines = np.cumsum(way, axis=1) + draw.uniform(low - 150, high + 50, (count, 2))[:, None]
    lines[::5, points // 2 :] = lines[::5, points // 2, None]  # shorter ones repeat their end
    owner, best = np.sort(draw.integers(owners, size=count)), np.full(owners, np.inf)
    bounds = distance_bounds(section)
    line, number, nearer, most, least = bounds.near_chords(Drawn(lines), np.arange(count), owner, best)
    share = np.linspace(0, 1, 13)[:, None]
    samples = lines[:, :-1, None] * (1 - share) + lines[:, 1:, None] * share
    there = signed(section, samples.reshape(-1, 2)).reshape(count, points - 1, 13)
    for own in np.unique(owner):
        mine = owner == own
        lowest = there[mine].min()
        kept = there[line[owner[line] == own], number[owner[line] == own]]
        assert kept.min() == pytest.approx(lowest, abs=1e-9)
        assert lowest <= best[own]
    ends = lines[line, number + nearer]
    assert np.all(signed(section, ends) <= most)
    assert np.all(least <= there[line, number].min(axis=1))
    assert len(line) < count * (points - 1) / 8  # and few others are
