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
answer is above the true least by no more than the gap asked for, and holds inside the solid (depth) too.
"""

from __future__ import annotations

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


def mesh_distances(solid: fcl.BVHModel, poses: list[dict[str, Any]], cores: list[fcl.BVHModel]) -> np.ndarray:
    """Distance [mm] of a solid to a core in every pose; -1 or 0 where they meet."""
    still, found = fcl.Transform(), []
    for pose, core in zip(poses, cores, strict=True):
        there = fcl.Transform(np.array(pose["rotation"], dtype=float), np.array(pose["origin_mm"], dtype=float))
        pair = fcl.CollisionObject(solid, there), fcl.CollisionObject(core, still)
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
    """Segments or triangles (n, k, 3), hub frame, cut at the middle of the side of longest trace, (2 n, k, 3)."""
    corners = cells.shape[1]
    pairs = np.array([(0, 1)] if corners == 2 else [(0, 1), (1, 2), (2, 0)])
    radius = np.hypot(cells[..., 0], cells[..., 2])
    side = cells[:, pairs[:, 1]] - cells[:, pairs[:, 0]]
    straight = np.hypot(side[..., 1], radius[:, pairs[:, 1]] - radius[:, pairs[:, 0]])
    sag = np.sum(side**2, -1) / (8 * np.maximum(radius.mean(1), 1.0))[:, None]  # a chord dips towards the axis
    ends = pairs[np.argmax(straight + sag, -1)]
    every = np.arange(len(cells))
    middle = (cells[every, ends[:, 0]] + cells[every, ends[:, 1]]) / 2
    first, second = cells.copy(), cells.copy()
    first[every, ends[:, 0]] = middle
    second[every, ends[:, 1]] = middle
    return np.concatenate([first, second])


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


def least(section: Section, cells: np.ndarray, group: np.ndarray, gap: float) -> tuple[np.ndarray, np.ndarray]:
    """Least signed distance of each group of cells (n, k, 3), hub frame: value [mm] and the cell's number.

    Groups are numbered from 0. A value is above the true least by at most `gap`.
    """
    best = np.full(group.max() + 1, np.inf)
    which = np.zeros(len(best), dtype=int)
    number = np.arange(len(cells))
    while len(cells):
        assert len(cells) <= CELLS_AT_ONCE, "too many cells are left; is the part parallel to the surface?"
        middle = cells.mean(1)
        value = section.signed(middle)
        order = np.argsort(-value, kind="stable")
        low = np.full(len(best), np.inf)
        low[group[order]] = value[order]
        lowest = np.zeros(len(best), dtype=int)
        lowest[group[order]] = number[order]
        which = np.where(low < best, lowest, which)
        best = np.minimum(best, low)
        if cells.shape[1] == 1:
            break
        keep = value - reach_of(cells, middle) < best[group] - gap
        cells, group, number = halves(cells[keep]), np.tile(group[keep], 2), np.tile(number[keep], 2)
    return best, which


def to_hub(points: np.ndarray, rotation: np.ndarray, origin: np.ndarray) -> np.ndarray:
    """Points (n, k, 3), body frame, in the hub frames (n, 3, 3), (n, 3)."""
    return np.einsum("nji,nkj->nki", rotation, points - origin[:, None])


def least_by_pose(section: Section, obstacle: dict[str, Any], poses: list[dict[str, Any]], gap: float) -> np.ndarray:
    """Least signed distance [mm] of an obstacle's core in each of some poses, `placed` in the same order."""
    parts = [pieces(obstacle["shape"], placed) for placed in obstacle["placed"]]
    group = np.repeat(np.arange(len(parts)), [len(p) for p in parts])
    rotation, origin = (np.array([p[key] for p in poses], dtype=float) for key in ("rotation", "origin_mm"))
    return least(section, to_hub(np.concatenate(parts), rotation[group], origin[group]), group, gap)[0]
