"""Panels of many points: what is looked for among their triangles is what going over all of the sheet finds.

The reference is the sheet sampled by its cells' own split (plane geometry, by shapely): no place of it is nearer than
the clearance, and the nearest sample is off by no more than the samples are apart.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from fitment.clearance.section_distance import DEEP, clearances, gaps
from fitment.clearance.trace import CarriedCorners, Trace, circles_within_solid, trace_of_corners
from fitment.frames import Array, rotation_about, to_half_plane
from fitment.parts.obstacles import Obstacle, core
from fitment.parts.solid_panel import far_points, filled

SECTION = shapely.Polygon([(-120, 200), (120, 200), (135, 260), (110, 340), (-110, 340), (-135, 260)])
SIDE = 14  # points each way
FINE = 6  # samples along each side of a triangle
POSES = 24


def sheet(bend: float) -> Obstacle:
    """A wavy wall of SIDE x SIDE points beside the section, inboard of it."""
    at = np.linspace(-420, 420, SIDE)
    rows = [(x, -200 + bend * np.sin(x / 90) * np.cos(z / 70), z) for x in at for z in at]
    return Obstacle("wall", "panel", tuple((float(x), float(y), float(z)) for x, y, z in rows), columns=SIDE)


def turned(obstacle: Obstacle, seed: int) -> Trace:
    """The wall turned a little and moved towards the section and through it, as a hub sees it."""
    draw = np.random.default_rng(seed)
    axes = np.stack([rotation_about(axis / np.linalg.norm(axis), angle) for axis, angle in zip(
        draw.normal(size=(POSES, 3)), draw.uniform(-0.5, 0.5, POSES), strict=True)])  # fmt: skip
    shift = np.stack([draw.uniform(-60, 60, POSES), draw.uniform(-60, 160, POSES), draw.uniform(-60, 60, POSES)], -1)
    points = np.concatenate([core(obstacle), far_points(obstacle)]) if obstacle.behind else core(obstacle)
    frame = np.concatenate([np.swapaxes(axes, 1, 2), shift[:, None]], axis=1)
    return trace_of_corners(obstacle, CarriedCorners(np.column_stack([points, np.ones(len(points))]), frame))


def samples(trace: Trace, pose: int) -> tuple[Array, float]:
    """Places on the sheet's triangles, (y', r), and how far any place of it is from one at most [mm]."""
    shares = np.array([(i, j, FINE - i - j) for i in range(FINE + 1) for j in range(FINE + 1 - i)]) / FINE
    cells = np.arange(SIDE * SIDE).reshape(SIDE, SIDE)
    a, b, c, d = (part.ravel() for part in (cells[:-1, :-1], cells[:-1, 1:], cells[1:, :-1], cells[1:, 1:]))
    corners = np.asarray(trace.hub)[pose][np.concatenate([np.stack([a, b, d], -1), np.stack([a, d, c], -1)])]
    longest = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max()
    return to_half_plane(np.einsum("sc,tci->tsi", shares, corners).reshape(-1, 3)), float(longest) / FINE


def signed(places: Array) -> Array:
    """Distance of places to the section's outline [mm], negative inside."""
    points = shapely.points(places)
    return np.where(shapely.contains(SECTION, points), -1.0, 1.0) * shapely.distance(SECTION.exterior, points)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("bend", [0.0, 12.0])
def test_many_triangles_are_searched_as_if_all_were_gone_through(seed: int, bend: float) -> None:
    trace = turned(sheet(bend), seed)
    assert trace.many
    for pose, clearance in enumerate(clearances(SECTION, trace).tolist()):
        places, apart = samples(trace, pose)
        nearest = float(signed(places).min())
        slack = 0.5 if clearance > -DEEP else 0.1 * -nearest + 0.5
        assert clearance - slack <= nearest <= clearance + apart + slack, (pose, clearance, nearest)


def test_the_place_told_is_on_the_sheet_and_as_far_as_told() -> None:
    trace = turned(sheet(12.0), 7)
    near = gaps(SECTION, trace)
    for pose in np.flatnonzero(near.clearance > 0).tolist():
        hub = np.asarray(trace.hub)[pose][near.corners[pose]]
        place = to_half_plane((near.weights[pose] @ hub)[None])
        assert abs(signed(place)[0] - near.clearance[pose]) < 0.05


def test_corners_asked_for_one_by_one_are_those_of_all() -> None:
    trace = turned(sheet(5.0), 1)
    pose, corner = np.array([[0], [3]]), np.array([[0, 5, 77], [9, 9, 195]])
    assert np.allclose(trace.hub[pose, corner], np.asarray(trace.hub)[pose, corner], atol=1e-12)
    assert np.allclose(np.asarray(trace.at(np.array([3])).hub)[0], np.asarray(trace.hub)[3], atol=1e-12)


def test_what_is_filled_behind_a_flat_sheet_is_all_within_its_depth() -> None:
    """By hand: behind a flat wall at y = -200, as wide as it, from there to 600 mm farther."""
    solid = filled(replace(sheet(0.0), solid_behind=True), np.zeros(3))
    frame = np.concatenate([np.eye(3), np.zeros((1, 3))])[None]
    points = np.concatenate([core(solid), far_points(solid)])
    trace = trace_of_corners(solid, CarriedCorners(np.column_stack([points, np.ones(len(points))]), frame))
    circles = np.array([[-201.0, 300.0], [-199.0, 300.0], [-799.0, 100.0], [-801.0, 100.0], [-400.0, 700.0]])
    inside = circles_within_solid(trace, np.zeros(len(circles), dtype=np.intp), circles)
    assert inside.tolist() == [True, False, True, False, False]


@pytest.mark.parametrize("seed", range(3))
def test_a_solid_sheet_is_searched_as_if_all_that_bounds_it_were_gone_through(seed: int) -> None:
    """What lies buried in it is left out of the search alone: the same corners as an array are all gone through."""
    solid = filled(replace(sheet(12.0), solid_behind=True), np.array([0.0, 300.0, 0.0]))
    trace = turned(solid, seed)
    every = trace_of_corners(solid, np.asarray(trace.hub))
    assert trace.many
    assert not every.many
    assert np.any(trace.mesh.buried > 0.1)
    for pose, (found, known) in enumerate(zip(clearances(SECTION, trace), clearances(SECTION, every), strict=True)):
        slack = 0.02 if known > 0 else 0.5 if known > -DEEP else -0.1 * known
        assert found == pytest.approx(known, abs=slack), pose
    near = gaps(SECTION, trace)
    for pose in range(POSES):  # what is told of a place is so of a point of the panel
        hub = np.asarray(trace.hub)[pose][near.corners[pose]]
        assert to_half_plane((near.weights[pose] @ hub)[None])[0] == pytest.approx(near.on_core[pose], abs=0.05), pose
