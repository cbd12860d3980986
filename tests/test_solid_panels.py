"""Panels with the space behind them filled: nothing of it stands in front of the sheet, all of it is behind.

A wheel that stays in front of a sheet has the same clearance to it whether the space behind is filled or not. What
stands wholly behind meets it. Both hold whatever the way back is, so both are asked of sheets that bend either way.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
from conftest import HUB_FACE, WIDTH, steered, vehicle, write_profile

from fitment.checks.case import ready
from fitment.clearance.section_distance import clearances
from fitment.clearance.trace import trace_obstacle
from fitment.errors import FitmentError
from fitment.motion.suspension import poses_at_lock_fraction
from fitment.parts.sections import tire_section
from fitment.profile import load_profile, setup

Check = Callable[..., dict[str, Any]]
RADIUS = 317.0  # [mm] of the bench tire


WIDE = (-190, -60, 60, 150)


def arch(*degrees: float, out: tuple[int, ...] = WIDE, dome: float = 0.0) -> list[list[list[float]]]:
    """A round arch over the tread, rows at angles (0 = up, positive = ahead) of points so far outboard of the hub face.

    dome : how much lower its inboard and outboard edges are than its middle, so that it bends both ways
    """
    rows = []
    for a in np.radians(degrees):
        radii = [RADIUS + 70 - dome * (y / 150) ** 2 for y in out]
        rows.append([[r * np.sin(a), HUB_FACE + y, r * np.cos(a)] for r, y in zip(radii, out, strict=True)])
    return rows


def bulge(radius: float = 60.0) -> list[list[list[float]]]:
    """A wall inboard of the tire with half a pipe standing out of it towards the wheel."""
    wall = HUB_FACE - WIDTH / 2 - 120
    turns = np.radians(np.linspace(-90, 90, 9))
    line = [(-250, wall), *((radius * np.sin(a), wall + radius * np.cos(a)) for a in turns), (250, wall)]
    return [[[x, y, z] for x, y in line] for z in (-150, 0, 150, 300)]


def corner() -> list[list[list[float]]]:
    """A wall inboard of the tire and a shelf above it."""
    inner, top = HUB_FACE - WIDTH / 2 - 60, RADIUS + 70
    line = [(inner, 0), (inner, 150), (inner, top), (inner + 120, top), (inner + 240, top)]
    return [[[x, y, z] for y, z in line] for x in (-220, 0, 220)]


SHEETS = {
    "arch": arch(*range(-90, 91, 15)),
    "arch low behind": arch(*range(-115, 56, 10)),
    "arch low all round": arch(*range(-110, 111, 11)),
    "arch with most points ahead": arch(-75, -50, -25, 0, 20, *range(35, 106, 5)),
    "narrow arch": arch(*range(-80, 81, 10), out=(-70, -20, 30, 80)),
    "dome": arch(*range(-100, 101, 10), dome=40),
    "bulge": bulge(),
    "wall and shelf": corner(),
    "a flat wall taken by hand": [
        [[x, HUB_FACE - 185 + off, z] for x, off in zip((-300, -90, 110, 310), offs, strict=True)]
        for z, offs in zip((-100, 90, 310), ((2, -4, 3, 0), (-3, 4, -2, 5), (0, -5, 4, -3)), strict=True)
    ],
}  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("name", SHEETS)
def test_filling_takes_no_room_in_front_of_the_sheet(name: str, check: Check) -> None:
    part, locks = {"name": "panel", "shape": "panel", "rows": SHEETS[name]}, {"lock_left": 9, "lock_right": 9}
    thin, solid = (check(steered(obstacles=[part | more], steering=locks)) for more in ({}, {"solid": "behind"}))
    found, free = (
        {(e["part"], e["travel_mm"], e["steer_deg"]): e["clearance_mm"] for e in answer["clearances"]}
        for answer in (solid, thin)
    )
    assert min(free.values()) > 1, "the wheel is to stay in front of the sheet"
    same = set(found) & set(free)
    assert len(same) >= 20
    for key in same:
        assert found[key] == pytest.approx(free[key], abs=0.002), key


@pytest.mark.parametrize("name", SHEETS)
def test_what_stands_behind_the_sheet_meets_it(name: str, tmp_path: Path) -> None:
    """Discs of 2 mm, taken round the spin axis: free of the sheet by what lies between, but within what is filled."""
    places = {
        "bulge": [(-WIDTH / 2 - 130, 200), (-WIDTH / 2 - 300, 60), (-WIDTH / 2 - 500, 140)],
        "wall and shelf": [(-WIDTH / 2 - 100, 300), (0, RADIUS + 160), (-WIDTH / 2 - 300, 100)],
        "a flat wall taken by hand": [(-230, 150), (-400, 60), (-700, 250)],
    }.get(name, [(0, 437), (-50, 467), (40, 687)])
    part = {"name": "panel", "shape": "panel", "rows": SHEETS[name]}
    for solid in (False, True):
        data = steered(obstacles=[part | ({"solid": "behind"} if solid else {})])
        axle = ready(load_profile(write_profile(tmp_path, data)), "front").axle
        seen = trace_obstacle(axle.obstacles[0], poses_at_lock_fraction(axle, 0.0, 0.0))
        gaps = [float(clearances(shapely.Point(place).buffer(2), seen)[0]) for place in places]
        assert all(gap < 0 for gap in gaps) if solid else all(gap > 5 for gap in gaps), (solid, gaps)


# ---------------------------------------------------------------- against what is filled, in points


FINE = 8.0  # [mm] spacing of the points in what is filled


def spread(rng: np.random.Generator, rows: list[list[list[float]]], off: float) -> list[list[list[float]]]:
    """The rows with every reading off by up to so much in y and z [mm]."""
    sheet = np.array(rows, dtype=float)
    sheet[..., 1:] += rng.uniform(-off, off, sheet[..., 1:].shape)
    return sheet.round(1).tolist()


def tub(line: list[tuple[float, float]], x: tuple[float, ...] = (-220, 0, 220)) -> list[list[list[float]]]:
    """A profile in (y, z) along x."""
    return [[[each, y, z] for y, z in line] for each in x]


def halves(rows: list[list[list[float]]]) -> list[np.ndarray]:
    """The cells' triangles, each cell split from its first corner to the opposite one, all turning alike."""
    p = np.array(rows, dtype=float)
    cells = [(i, j) for i in range(len(p) - 1) for j in range(len(p[0]) - 1)]
    return [
        p[np.array(own)[:, 0] + i, np.array(own)[:, 1] + j]
        for i, j in cells
        for own in ([(0, 0), (0, 1), (1, 1)], [(0, 0), (1, 1), (1, 0)])
    ]


def filled_points(rows: list[list[list[float]]], wheel: np.ndarray, deep: float = 64.0) -> np.ndarray:
    """Points within `deep` mm behind every triangle, square to it, and between the fills at every shared side."""
    triangles = halves(rows)
    ways = []
    for a, b, c in triangles:
        across = np.cross(b - a, c - a)
        ways.append(across / np.linalg.norm(across))
    seen = sum(w @ (t.mean(axis=0) - wheel) for w, t in zip(ways, triangles, strict=True))
    ways = [w * np.sign(seen) for w in ways]
    depths, found = np.arange(0.0, deep + 1, FINE), []
    for (a, b, c), way in zip(triangles, ways, strict=True):
        n = int(np.ceil(max(np.linalg.norm(b - a), np.linalg.norm(c - a), np.linalg.norm(c - b)) / FINE))
        i, j = (each.ravel() for each in np.mgrid[0 : n + 1, 0 : n + 1])
        i, j = i[i + j <= n, None] / n, j[i + j <= n, None] / n
        flat = a + i * (b - a) + j * (c - a)
        found.append((flat[:, None] + depths[:, None] * way).reshape(-1, 3))
    for k, one in enumerate(triangles):
        for m in range(k):
            both = [p for p in one if any(np.array_equal(p, q) for q in triangles[m])]
            if len(both) == 2:
                n = int(np.ceil(np.linalg.norm(both[1] - both[0]) / FINE))
                along = both[0] + np.linspace(0, 1, n + 1)[:, None] * (both[1] - both[0])
                turn = np.linspace(0, 1, 13)[:, None]
                fan = ways[k] * turn + ways[m] * (1 - turn)
                fan = (fan / np.linalg.norm(fan, axis=1)[:, None])[:, None] * depths[:, None]
                found.append((along[:, None] + fan.reshape(-1, 3)).reshape(-1, 3))
    return np.concatenate(found)


W = HUB_FACE - WIDTH / 2
BORDERS = {
    "L": tub([(W - 60, 150), (W - 60, 330), (W + 20, 330)]),
    "ledge": tub([(W - 30, -50), (W - 30, 300), (W - 12, 300)], (-200, 0, 200)),
    "wall and lip": tub(
        [(W - 40, -250), (W - 40, -100), (W - 40, 0), (W - 40, 100), (W - 40, 240), (W - 12, 290), (W, 296)],
        (-25, 0, 25),
    ),
    "arch": arch(*range(-60, 61, 15), out=(-190, -60, 20)),
    "step": tub([(W - 60, 100), (W - 60, 250), (W - 30, 290), (W - 20, 360)]),
    "bow": tub([(W - 20, -100), (W - 16, 0), (W - 18, 100), (W - 40, 200)], (-150, -60, 40, 130)),
    "narrow": tub([(W - 25, 100), (W - 18, 180), (W - 16, 240)], (-100, 0, 90)),
}


@pytest.mark.slow
@pytest.mark.parametrize("seed", [None, 1])
@pytest.mark.parametrize("name", BORDERS)
def test_what_is_filled_gives_no_room_away_and_takes_none(name: str, seed: int | None, tmp_path: Path) -> None:
    """Against points in what is filled: none comes closer, but for the chords' 0.015 mm, and some come as close."""
    rows = BORDERS[name] if seed is None else spread(np.random.default_rng(seed), BORDERS[name], 4)
    for k, given in enumerate((rows, rows[::-1])):
        data = steered(obstacles=[{"name": "panel", "shape": "panel", "rows": given, "solid": "behind"}])
        made = ready(load_profile(write_profile(tmp_path, data)), "front")
        fitted = setup(made.profile, "front", made.build)
        tire = tire_section(fitted.tire, fitted.wheel, fitted.spacer.thickness)
        points = filled_points(given, np.array([0.0, HUB_FACE, 0.0]))
        for share in (0.0, 0.25):
            poses = poses_at_lock_fraction(made.axle, 0.0, share)
            x, y, z = ((points - poses.origin[0]) @ poses.rotation[0]).T
            nearest = float(shapely.distance(tire, shapely.points(y, np.hypot(x, z))).min())
            found = float(clearances(tire, trace_obstacle(made.axle.obstacles[0], poses))[0])
            assert nearest > 0, (k, share)
            assert nearest - 0.1 < found < nearest + 0.016, (k, share)


@pytest.mark.slow
@pytest.mark.parametrize(("past", "lock"), [(-12, 4), (8, 0)], ids=["clear", "overlapping"])
def test_one_sheet_and_its_two_pieces_leave_the_same_room(past: float, lock: float, check: Check) -> None:
    """A plane ledge on a wall, as one panel and as two: each cell is filled square to itself in both.

    The ledge ends so far past the tire's inner side, which is what is left when nothing is steered.
    """
    line = [(W - 30, -50), (W - 30, 300), (W + past, 300)]
    whole = [{"name": "whole", "shape": "panel", "rows": tub(line), "solid": "behind"}]
    parts = [
        {"name": n, "shape": "panel", "rows": tub(own), "solid": "behind"}
        for n, own in (("wall", line[:2]), ("shelf", line[1:]))
    ]
    steering = {"steering": {"lock_left": lock, "lock_right": lock}}
    one, two = (
        min(
            e["clearance_mm"]
            for e in check(steered(obstacles=each, **steering) if lock else vehicle(obstacles=each))["clearances"]
        )
        for each in (whole, parts)
    )
    assert one == pytest.approx(two, abs=0.05)
    if not lock:
        assert one == pytest.approx(-past, abs=0.05)


def test_a_panel_seen_edge_on_has_no_far_side(tmp_path: Path) -> None:
    """A level plane through the wheel's middle: the order of its rows is not to choose the side."""
    rows = [[[360, 560, 0], [360, 860, 0]], [[480, 560, 0], [480, 860, 0]]]
    for given in (rows, rows[::-1]):
        data = steered(obstacles=[{"name": "panel", "shape": "panel", "rows": given, "solid": "behind"}])
        with pytest.raises(FitmentError, match="edge-on"):
            ready(load_profile(write_profile(tmp_path, data)), "front")


def test_a_cell_that_crosses_itself_is_refused(tmp_path: Path) -> None:
    rows = [[[-150, 560, 250], [150, 560, 330]], [[-150, 520, 330], [150, 590, 250]]]
    part = {"name": "panel", "shape": "panel", "rows": rows, "solid": "behind"}
    with pytest.raises(FitmentError, match="crosses itself"):
        load_profile(write_profile(tmp_path, steered(obstacles=[part])))
    rows[0][1], rows[1][1] = rows[1][1], rows[0][1]
    load_profile(write_profile(tmp_path, steered(obstacles=[part])))
