"""Panels of many points: what is looked for among their triangles is what going over all of the sheet finds.

The reference is the sheet sampled by its cells' own split (plane geometry, by shapely): no place of it is nearer than
the clearance, and the nearest sample is off by no more than the samples are apart.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from fitment.clearance.section_distance import DEEP, _tops, clearances, gaps
from fitment.clearance.trace import CarriedCorners, Trace, circles_within_solid, trace_of_corners
from fitment.frames import Array, rotation_about, to_half_plane
from fitment.parts.obstacles import Obstacle, core
from fitment.parts.sections import wheel_section
from fitment.parts.solid_panel import _buried, _depths, far_points, fill_of, filled, sheet_triangles
from fitment.parts.wheel import parse_wheel

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


def leaning(seed: int) -> Obstacle:
    """A wavy, twisted, bulging wall with points that are off by some millimetres, filled behind."""
    draw, at = np.random.default_rng(seed), np.linspace(-420, 420, SIDE)
    x, z = (part.ravel() for part in np.meshgrid(at + draw.uniform(-9, 9, SIDE), at, indexing="ij"))
    bend, bulge, twist, a, b = draw.uniform([0, -60, -60, 60, 60], [14, 60, 60, 160, 160])
    y = -200 + bend * np.sin(x / a) * np.cos(z / b) + bulge * (x**2 + z**2) / 420**2 + twist * x * z / 420**2
    points = np.stack([x, y + draw.uniform(-1, 1, len(x)), z], -1)
    rows = tuple((float(x), float(y), float(z)) for x, y, z in points)
    return filled(Obstacle("wall", "panel", rows, columns=SIDE, solid_behind=True), np.array([0.0, 300.0, 0.0]))


def in_pieces(solid: Obstacle, places: Array) -> Array:
    """Which places (q, 3) lie in a piece of what is filled, by the signs of volumes."""
    points = np.concatenate([core(solid), far_points(solid)])
    tetrahedra = points[fill_of(solid).pieces[:, [[0, 1, 2, 5], [0, 1, 4, 5], [0, 3, 4, 5]]].reshape(-1, 4)]
    inside = np.zeros(len(places), dtype=bool)
    for first, *others in tetrahedra:
        sides = np.array(others) - first
        if abs(np.linalg.det(sides)) > 1e-3:
            shares = (places - first) @ np.linalg.inv(sides)
            inside |= np.all(shares >= 0, axis=1) & (shares.sum(axis=1) <= 1)
    return inside


@pytest.mark.parametrize("seed", range(4))
def test_what_counts_as_buried_has_filled_space_on_all_sides(seed: int) -> None:
    """Of each point's ways back over the share that is told, and from the middle of a line over the lesser one; but for
    the narrow gaps behind corners of a saddle, which are no room for a wheel."""
    solid = leaning(seed)
    share = _buried(solid.points, SIDE, solid.behind)
    assert share is not None
    assert np.mean(share > 0.5) > 0.1  # it tells of many
    assert share.reshape(SIDE, SIDE)[[0, -1]].max() == 0  # the border is never inside
    triangles, draw = sheet_triangles(SIDE, SIDE), np.random.default_rng(seed)
    ways = np.array(solid.behind).reshape(-1, 3, 3)
    first = core(solid)[triangles]
    second, of_line = np.roll(first, -1, axis=1), np.minimum(share[triangles], np.roll(share[triangles], -1, axis=1))
    starts = np.concatenate([first, (first + second) / 2], axis=1)
    told = np.concatenate([share[triangles], of_line], axis=1)[..., None]
    back = starts + draw.uniform(0.02, 0.995, told.shape) * told * ways[:, [0]]
    picked = draw.permutation(np.flatnonzero(told.ravel() > 0.05))[:300]
    places = back.reshape(-1, 3)[picked]
    around = (places[:, None] + 0.2 * np.concatenate([np.eye(3), -np.eye(3)])).reshape(-1, 3)
    inside = in_pieces(solid, around).reshape(-1, 6).all(axis=1)
    assert np.mean(inside) > 0.8
    shares = np.array([(i, j, FINE - i - j) for i in range(FINE + 1) for j in range(FINE + 1 - i)]) / FINE
    on_sheet = np.einsum("sc,tci->tsi", shares, first).reshape(-1, 3)
    for place in places[~inside]:  # a gap starts at a corner round which the fills lean both ways
        nearest = [np.linalg.norm(those - place, axis=1).min() for those in (on_sheet, core(solid))]
        assert nearest[0] > nearest[1] - 0.3


@pytest.mark.parametrize("seed", range(6))
def test_the_way_back_ends_at_the_first_triangle_that_it_meets(seed: int) -> None:
    """By Moeller and Trumbore, each corner's way against each triangle."""
    draw, n = np.random.default_rng(seed), 9
    u, v = (part.ravel() for part in np.meshgrid(np.linspace(0, 1, n), np.linspace(0, 1, n), indexing="ij"))
    turn, radius = draw.uniform(4.0, 6.0) * (u - 0.5), draw.uniform(60, 250)
    points = np.stack([radius * np.cos(turn), 500 * v, radius * np.sin(turn)], -1) + draw.normal(0, 3, (n * n, 3))
    corners = points[sheet_triangles(n, n)]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    inward = bool(seed % 2)
    normals = across / np.linalg.norm(across, axis=1)[:, None]
    normals *= np.sign(np.sum(normals[0] * corners[0, 0] * [1, 0, 1])) * (-1 if inward else 1)
    depths = _depths(corners, normals)
    for own, (three, normal) in enumerate(zip(corners, normals, strict=True)):
        starts, ways = three + 1e-3 * (three.mean(axis=0) - three), np.full((3, len(corners)), np.inf)
        for k, (a, b, c) in enumerate(corners):
            if normals[k] @ normal < -1e-6:
                shares = np.linalg.solve(np.stack([normal, a - b, a - c], -1), (a - starts).T)
                hit = (shares[0] >= 0) & (shares[0] < 600) & np.all(shares[1:] >= 0, axis=0) & (shares[1:].sum(0) <= 1)
                ways[hit, k] = shares[0][hit]
        nearest = ways.min(axis=1)
        assert depths[own] == pytest.approx(nearest if np.isfinite(nearest).all() else 600.0, abs=1e-6)
    assert (depths.min() < 590) == inward


METAL = wheel_section(parse_wheel("17x8 ET35 5x114.3 CB70.6"))


@pytest.mark.parametrize("part", [METAL, SECTION], ids=["metal", "thick"])
def test_nothing_near_a_place_is_deeper_than_is_told(part: shapely.Polygon) -> None:
    draw, (low, high) = np.random.default_rng(5), np.array(part.bounds).reshape(2, 2)
    places = draw.uniform(low - 40, high + 40, (400, 2))
    reach = np.exp(draw.uniform(np.log(0.5), np.log(150), 400))
    angle, way = draw.uniform(0, 2 * np.pi, (2, 400, 300))
    near = places[:, None] + (reach[:, None] * np.sqrt(way / 7))[..., None] * np.stack(
        [np.cos(angle), np.sin(angle)], -1
    )
    points = shapely.points(near)
    depth = np.where(shapely.contains(part, points), shapely.distance(part.exterior, points), 0.0).max(axis=1)
    told = _tops(part).within(places, reach)
    assert np.all(told >= depth)
    wide = (depth > 0) & (reach > 60)
    assert np.median((told - depth)[wide]) < 6  # nor is it much more
