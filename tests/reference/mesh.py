"""References for clearances, built from the definitions alone: nothing here comes from the program.

Two of them, with different weaknesses:

*Mesh.* A section is revolved about the spin axis into triangles and its distance to an obstacle's
core, itself triangles (a line is one of no area), is left to a collision library in double precision.
Flat facets are the only error. The corners are moved out so that the facets lie half outside and half
inside the true surface: with n steps a facet of radius r then errs by at most r tan(pi / 2n)^2 either
way, and n is taken so that this is at most FACET at the largest radius. A distance outside errs by no
more than the surface does. Inside the solid a mesh tells nothing.

*Cells.* The signed distance to a solid of revolution is a plane distance and changes by at most 1 mm
per mm of that plane. So the least over a line or a triangle is found without a mesh: measure at the middle
of a cell, the rest of it is at most its reach lower, throw away what cannot be the least, halve what is left. The
answer is above the true least by no more than the gap required, and holds inside the solid (depth) too.
"""

from __future__ import annotations

import functools
import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import fcl
import numpy as np
import shapely
import yaml
from click.testing import CliRunner

FACET = 0.008  # [mm] largest distance of a facet from the true surface, either way
CELLS_AT_ONCE = 4_000_000


# ---------------------------------------------------------------- what is asked of the program

SETUPS = (  # wheel, tire, outer radius and half width of the tire [mm], about, to place parts by
    ("15x6 ET35 5x114.3 CB70.6", "205/70R15", 334, 105),
    ("20x10 ET30 5x114.3 CB70.6", "275/40R20", 364, 142),
    ("20x10 ET25 5x114.3 CB70.6", "245/40R20", 352, 130),  # narrow for its rim, flanges stand out
    ("18x9.5 ET-12 5x114.3 CB70.6", "255/45R18", 343, 132),
    ("17x7.5 ET45 5x114.3 CB70.6", "225/50R17", 328, 115),
    ("16x8 ET-20 5x114.3 CB70.6", "265/75R16", 402, 136),
    ("14x5.5 ET38 5x114.3 CB70.6", "175/65R14", 291, 90),
    ("18x8 ET50 5x114.3 CB70.6", "225/45R18", 330, 114),
    ("20x12 ET-44 5x114.3 CB70.6", "305/35R20", 361, 160),
    ("17x9 ET0 5x114.3 CB70.6", "215/45R17", 312, 112),  # narrow for its rim
)


@dataclass(frozen=True)
class Vehicle:
    """An invented vehicle on a tape-measured suspension; `profile` has no obstacles yet."""

    profile: dict[str, Any]
    hub_y: float  # of the hub face at the reference pose [mm]
    centre: float  # y of the tire's centre plane [mm]
    radius: float
    half: float  # half width of the tire [mm]
    rim: float  # half the rim's diameter [mm]

    @property
    def axle(self) -> dict[str, Any]:
        return self.profile["axles"]["front"]


def vehicle(rng: np.random.Generator, steered: bool = True) -> Vehicle:
    """One of SETUPS on a random suspension, all numbers in the range of road vehicles."""
    wheel, tire, radius, half = SETUPS[rng.integers(len(SETUPS))]
    offset = float(wheel.split("ET")[1].split()[0])
    spacer = float(rng.choice([0, 0, 5, 20, 32.5]))
    width = float(rng.uniform(1380, 1700))
    hub_y = width / 2

    def near(*at: float, by: float) -> list[float]:
        return [round(float(a + rng.uniform(-by, by)), 2) for a in at]

    tape: dict[str, Any] = {
        "kind": "tape",
        "camber": round(float(rng.uniform(-3, 1.5)), 2),
        "toe_in": round(float(rng.uniform(-0.6, 0.6)), 3),
        "camber_per_100mm": round(float(rng.uniform(-4, 1)), 2),
        "track_per_100mm": round(float(rng.uniform(-8, 8)), 2),
        "camber_bend": 0,
        "out_bend": 0,
    }
    bump, droop = round(float(rng.uniform(40, 90))), -round(float(rng.uniform(40, 90)))
    axle: dict[str, Any] = {
        "hub_face_width": round(width, 1),
        "hub_height": round(radius * 0.96, 1),
        "suspension": tape,
        "travel": {"droop": droop, "bump": bump},
        "ride_heights": {"rest": round(float(rng.uniform(-20, 30)), 1)},
        "hub": {"bolt_circle": "5x114.3", "stud": "M14x1.5", "stud_length": 42},
    }
    if steered:
        tape["steering_axis"] = {
            "lower": near(8, hub_y - 85, -130, by=20),
            "upper": near(-20, hub_y - 140, 220, by=30),
        }
        axle["steering"] = {
            "lock_left": round(float(rng.uniform(24, 38)), 1),
            "lock_right": round(float(rng.uniform(24, 38)), 1),
        }
        if rng.random() < 0.5:
            axle["steer_limit"] = [
                [droop, 1.0],
                [round(0.4 * bump), 1.0],
                [bump, round(float(rng.uniform(0.5, 0.9)), 2)],
            ]
    profile = {
        "format": 1,
        "name": "Invented vehicle",
        "axles": {"front": axle},
        "builds": {"own": {"front": {"wheel": wheel, "tire": tire, "spacer": spacer, "ride": "rest"}}},
        "baseline": "own",
    }
    rim = float(wheel.split("x")[0]) * 25.4 / 2
    return Vehicle(profile, hub_y, hub_y + spacer - offset, radius, half, rim)


def check(folder: Path, profile: dict[str, Any], axle: str = "front") -> dict[str, Any]:
    """The JSON of `check --geometry` on a profile's baseline, through the command line."""
    from fitment.cli import cli

    path = folder / "profile.yaml"
    path.write_text(yaml.safe_dump(profile, sort_keys=False), encoding="utf-8")
    done = CliRunner().invoke(cli, ["check", str(path), "--axle", axle, "--format", "json", "--geometry"])
    assert done.exit_code in (0, 1), done.output
    answer = json.loads(done.output)
    assert isinstance(answer, dict)
    return answer


@dataclass(frozen=True)
class Entries:
    """The entries of one obstacle and part, pose by pose in the order of `poses`."""

    obstacle: dict[str, Any]
    part: str
    clearance: np.ndarray

    @property
    def core(self) -> np.ndarray:
        """Clearance of the core, the obstacle's radius put back [mm]."""
        return self.clearance + self.obstacle["radius_mm"]


def entries(answer: dict[str, Any]) -> list[Entries]:
    """Every entry of `clearances`, matched with its pose by travel and steer."""
    poses = np.array([[p["travel_mm"], p["steer_deg"]] for p in answer["poses"]])
    found = []
    for obstacle in answer["obstacles"]:
        for part in answer["sections"]:
            rows = [c for c in answer["clearances"] if (c["obstacle"], c["part"]) == (obstacle["name"], part)]
            if not rows:
                continue
            at = np.array([[c["travel_mm"], c["steer_deg"]] for c in rows])
            order = [int(np.argmin(np.abs(at - pose).sum(1))) for pose in poses]
            assert len(rows) == len(poses) == len(set(order))
            assert np.abs(at[order] - poses).max() < 1e-3
            found.append(Entries(obstacle, part, np.array([rows[i]["clearance_mm"] for i in order])))
    assert sum(len(e.clearance) for e in found) == len(answer["clearances"])
    return found


# ---------------------------------------------------------------- an obstacle's core as pieces


def pieces(shape: str, placed: Any) -> np.ndarray:
    """Triangles (n, 3, 3), segments (n, 2, 3) or points (n, 1, 3) of an obstacle's `placed`, body frame."""
    at = np.asarray(placed, dtype=float)
    if shape == "ball":
        return at.reshape(1, 1, 3)
    if shape in ("edge", "rod"):
        return np.stack([at[:-1], at[1:]], 1)
    if shape == "panel":
        a, b, c, d = at[:-1, :-1], at[1:, :-1], at[1:, 1:], at[:-1, 1:]
        return np.concatenate([np.stack([a, b, c], 2).reshape(-1, 3, 3), np.stack([a, c, d], 2).reshape(-1, 3, 3)])
    raise ValueError(shape)


def border(obstacle: dict[str, Any], pose: int) -> np.ndarray:
    """Pieces of an obstacle in a pose; of a solid panel also far and side faces of the prism behind each triangle."""
    sheet = pieces(obstacle["shape"], obstacle["placed"][pose])
    if not obstacle.get("solid"):
        return sheet
    at = np.asarray(obstacle["placed"][pose], dtype=float)
    a, b, c, d = at[:-1, :-1], at[:-1, 1:], at[1:, :-1], at[1:, 1:]
    near = np.concatenate([np.stack([a, b, d], 2).reshape(-1, 3, 3), np.stack([a, d, c], 2).reshape(-1, 3, 3)])
    far = np.asarray(obstacle["filled_to"][pose], dtype=float)
    walls = [
        np.stack(corners, 1)
        for i, j in ((0, 1), (1, 2), (2, 0))
        for corners in ((near[:, i], near[:, j], far[:, j]), (near[:, i], far[:, j], far[:, i]))
    ]
    return np.concatenate([sheet, far, *walls])


# ---------------------------------------------------------------- mesh


def steps_for(radius: float, facet: float = FACET) -> int:
    """Angular steps that keep every facet within `facet` of the surface."""
    return int(np.ceil(np.pi / (2 * np.arctan(np.sqrt(facet / radius)))))


def outline_of(section: Any) -> np.ndarray:
    """Corners (n, 2) of a section, each once."""
    corners = np.asarray(section, dtype=float)
    if np.array_equal(corners[0], corners[-1]):
        corners = corners[:-1]
    assert shapely.Polygon(corners).is_valid
    assert corners[:, 1].min() > 0
    return corners


def revolve(section: Any, facet: float = FACET) -> tuple[np.ndarray, np.ndarray]:
    """Corners (n, 3) and triangles (m, 3) of a section turned about the spin axis, hub frame."""
    corners = outline_of(section)
    count, steps = len(corners), steps_for(corners[:, 1].max(), facet)
    angle = 2 * np.pi * np.arange(steps)[:, None] / steps
    radius = corners[:, 1] * 2 / (1 + np.cos(np.pi / steps))
    y = np.broadcast_to(corners[:, 0], (steps, count))
    points = np.stack([radius * np.cos(angle), y, radius * np.sin(angle)], -1).reshape(-1, 3)
    i, j = (a.ravel() for a in np.indices((steps, count)))
    i2, j2 = (i + 1) % steps, (j + 1) % count
    a, b, c, d = i * count + j, i * count + j2, i2 * count + j2, i2 * count + j
    return points, np.concatenate([np.stack([a, b, c], -1), np.stack([a, c, d], -1)])


def tree(points: np.ndarray, triangles: np.ndarray) -> fcl.BVHModel:
    """The library's own form of a mesh."""
    model = fcl.BVHModel()
    model.beginModel(len(points), len(triangles))
    model.addSubModel(np.ascontiguousarray(points, dtype=float), np.ascontiguousarray(triangles, dtype=np.int64))
    model.endModel()
    return model


def tree_of_pieces(parts: np.ndarray) -> fcl.BVHModel:
    """Pieces as triangles; a segment's and a point's last corner is given again."""
    count, corners = parts.shape[:2]
    index = corners * np.arange(count)[:, None] + np.minimum(np.arange(3), corners - 1)
    return tree(parts.reshape(-1, 3), index)


@dataclass(frozen=True)
class Solid:
    """A revolved section; the mesh stands `shift` [mm] along the spin axis from where it was made."""

    model: fcl.BVHModel
    shift: float

    @classmethod
    def of(cls, section: Any) -> Solid:
        """Meshes are kept: wheels that differ by offset or spacer alone share one (corners to 1e-5 mm)."""
        corners = outline_of(section)
        shift = float(corners[0, 0])
        return cls(_solid(tuple(map(tuple, np.round(corners - [shift, 0], 5).tolist()))), shift)


@functools.lru_cache(maxsize=24)
def _solid(corners: tuple[tuple[float, float], ...]) -> fcl.BVHModel:
    return tree(*revolve(corners))


def mesh_distances(solid: Solid, poses: list[dict[str, Any]], cores: list[fcl.BVHModel]) -> np.ndarray:
    """Distance [mm] of a solid to a core in every pose; -1 or 0 where they meet."""
    still, found = fcl.Transform(), []
    for pose, core in zip(poses, cores, strict=True):
        rotation, origin = np.array(pose["rotation"], dtype=float), np.array(pose["origin_mm"], dtype=float)
        there = fcl.Transform(rotation, origin + rotation[:, 1] * solid.shift)
        pair = fcl.CollisionObject(solid.model, there), fcl.CollisionObject(core, still)
        found.append(fcl.distance(*pair, fcl.DistanceRequest(), fcl.DistanceResult()))
    return np.array(found)


def trees_of(obstacle: dict[str, Any]) -> list[fcl.BVHModel]:
    """An obstacle's core in every pose; one and the same where it does not move."""
    made: dict[str, fcl.BVHModel] = {}
    for placed in obstacle["placed"]:
        key = json.dumps(placed)
        if key not in made:
            made[key] = tree_of_pieces(pieces(obstacle["shape"], placed))
    return [made[json.dumps(placed)] for placed in obstacle["placed"]]


# ---------------------------------------------------------------- cells


class Section:
    """Signed distance to a section: negative inside."""

    def __init__(self, section: Any) -> None:
        self.area = shapely.Polygon(outline_of(section))
        self.line = self.area.exterior
        shapely.prepare(self.area)
        shapely.prepare(self.line)

    def signed(self, points: np.ndarray) -> np.ndarray:
        """Signed distance [mm] of points (..., 3), hub frame."""
        y, r = points[..., 1], np.hypot(points[..., 0], points[..., 2])
        away = shapely.distance(self.line, shapely.points(y, r))
        return np.where(shapely.contains_xy(self.area, y, r), -away, away)


def halves(cells: np.ndarray) -> np.ndarray:
    """Segments or triangles (n, k, 3), hub frame, cut at the middle of the side of largest trace, (2 n, k, 3)."""
    pairs = np.array([(0, 1)] if cells.shape[1] == 2 else [(0, 1), (1, 2), (2, 0)])
    a, b = cells[:, pairs[:, 0]], cells[:, pairs[:, 1]]
    side = b - a
    plan = side[..., [0, 2]]
    foot = -np.sum(a[..., [0, 2]] * plan, -1) / np.maximum(np.sum(plan**2, -1), 1e-12)  # where it is next to the axis
    near = a + np.clip(foot, 0, 1)[..., None] * side
    low, first, second = (np.hypot(p[..., 0], p[..., 2]) for p in (near, a, b))
    trace = np.hypot(side[..., 1], np.maximum(first, second) - low)
    # the small share of length settles ties, or a sliver is cut for ever without its long side getting shorter
    ends = pairs[np.argmax(trace + 0.02 * np.linalg.norm(side, axis=-1), -1)]
    every = np.arange(len(cells))
    middle = (cells[every, ends[:, 0]] + cells[every, ends[:, 1]]) / 2
    one, other = cells.copy(), cells.copy()
    one[every, ends[:, 0]] = middle
    other[every, ends[:, 1]] = middle
    return np.concatenate([one, other])


def reach_of(cells: np.ndarray, middle: np.ndarray) -> np.ndarray:
    """How far [mm], at most, the trace of a cell (n, k, 3) gets from the trace of its middle (n, 3).

    The distance from the axis is convex: over a cell it is at most that of the farthest corner, and at least
    what its slope at the middle says.
    """
    away = cells - middle[:, None]
    at = np.hypot(middle[:, 0], middle[:, 2])
    slope = middle[:, [0, 2]] / np.maximum(at, 1e-9)[:, None]
    farther = np.hypot(cells[..., 0], cells[..., 2]) - at[:, None]
    nearer = -np.einsum("nki,ni->nk", away[..., [0, 2]], slope)
    return np.hypot(np.abs(away[..., 1]).max(1), np.maximum(farther.max(1), nearer.max(1)))


def least(
    section: Section,
    cells: np.ndarray,
    group: np.ndarray,
    gap: float,
    interest: float = np.inf,
    enough: float = -np.inf,
) -> np.ndarray:
    """Least signed distance [mm] of each group of cells (n, k, 3), hub frame; groups are numbered from 0.

    A value is above the true least by at most `gap`. A group whose least is more than `interest` above the
    least of all is given up as soon as that is known, so its value may be larger still. Below `enough` the least
    is not followed further.
    """
    best = np.full(group.max() + 1, np.inf)
    while len(cells):
        assert len(cells) <= CELLS_AT_ONCE, "too many cells are left; is the part parallel to the surface?"
        middle = cells.mean(1)
        value = section.signed(middle)
        np.minimum.at(best, group, value)
        if cells.shape[1] == 1 or best.min() < enough:
            break
        lower = value - reach_of(cells, middle)
        keep = (lower < best[group] - gap) & (lower < best.min() + interest)
        cells, group = halves(cells[keep]), np.tile(group[keep], 2)
    return best


def to_hub(points: np.ndarray, rotation: np.ndarray, origin: np.ndarray) -> np.ndarray:
    """Points (n, k, 3), body frame, in the hub frames (n, 3, 3), (n, 3)."""
    return np.einsum("nji,nkj->nki", rotation, points - origin[:, None])


def least_by_pose(
    section: Section, obstacle: dict[str, Any], poses: list[dict[str, Any]], chosen: np.ndarray, gap: float
) -> np.ndarray:
    """Least signed distance [mm] of an obstacle's core in some of the poses, by their numbers.

    What is deeper inside a solid panel than on the faces of its prisms, or in a wedge between these, is not looked at:
    there it is too large.
    """
    if not len(chosen):
        return np.empty(0)
    parts = [border(obstacle, k) for k in chosen]
    group = np.repeat(np.arange(len(parts)), [len(p) for p in parts])
    rotation, origin = (np.array([poses[k][key] for k in chosen], dtype=float) for key in ("rotation", "origin_mm"))
    return least(section, to_hub(np.concatenate(parts), rotation[group], origin[group]), group, gap)
