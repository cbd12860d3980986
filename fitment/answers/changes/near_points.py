"""Points of the parts around a wheel, in the poses of checks: what a build with something changed keeps at most.

A point of a part stands at least as far off as the part does, so what these say of a setup is never less than a check
finds. It is quick, since no part is traced. Every check that is made adds the places that came nearest in it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import Polygon

from fitment.answers.changes.obstacles import moved_point
from fitment.checks.fit import Fit
from fitment.clearance.section_distance import signed_distance
from fitment.clearance.trace import Index, place
from fitment.frames import Array, to_half_plane
from fitment.parts.obstacles import Obstacle
from fitment.parts.solid_panel import sheet_triangles

SPACED = 25.0  # [mm] between points laid on the lines of a part
NEAR = 40.0  # [mm] from the section within which such points are kept
MANY = 200  # corners of a part from which no points are laid on it
PARTS = ("tire", "wheel")
Moves = Sequence[tuple[str, str, float]]
"""Of parts that were moved: name, direction and how far [mm]."""


@dataclass(frozen=True)
class NearPoints:
    """Points of obstacles in poses of the hub, each held against one part.

    name : (k,) of the obstacle, a number; part : (k,) 0 = tire, 1 = wheel
    body : (k, 3) where the obstacle was measured [mm]
    hub : (k, 3) origin of the pose [mm]; turn : (k, 3, 3) its rotation [-]
    travel : (k,) of the pose, of both wheels the larger [mm]; steer : (k,) [deg]
    radius : (k,) of the obstacle [mm]; allowance : (k,) [mm]
    loss : (k,) what readings take in the worst case [mm]
    """

    name: Index
    part: Index
    body: Array
    hub: Array
    turn: Array
    travel: Array
    steer: Array
    radius: Array
    allowance: Array
    loss: Array

    def at(self, chosen: Index) -> NearPoints:
        """Some of them."""
        return NearPoints(*(getattr(self, key)[chosen] for key in self.__dataclass_fields__))

    def joined(self, other: NearPoints) -> NearPoints:
        """These, then the others."""
        return NearPoints(
            *(np.concatenate([getattr(self, key), getattr(other, key)]) for key in self.__dataclass_fields__)
        )

    def places(self, body: Array | None = None, shift: float = 0.0) -> Array:
        """(y', r) of each point (k, 2) [mm].

        body : where the parts have them then, body frame (k, 3) [mm]; shift : of the wheel inward [mm]
        Source: geometry, see `to_half_plane`.
        """
        there = self.body if body is None else body
        return to_half_plane(np.einsum("ki,kij->kj", there - self.hub, self.turn)) + np.array([shift, 0.0])

    def rooms(self, sections: tuple[Polygon, Polygon, Polygon], places: Array) -> Array:
        """By how much each point keeps what is required (k,) [mm].

        sections : tire, the largest tire, wheel (y', r) [mm]; places : (k, 2) [mm]
        Source: derived here, margin or worst case, whichever is less.
        """
        nominal, largest = np.empty(len(places)), np.empty(len(places))
        for part in (0, 1):
            own = self.part == part
            if own.any():
                nominal[own] = signed_distance(sections[0 if part == 0 else 2], places[own])
                largest[own] = signed_distance(sections[1], places[own]) if part == 0 else nominal[own]
        return np.minimum(nominal - self.allowance, largest - self.loss) - self.radius


def nearest_points(
    fit: Fit, names: Sequence[str], sections: tuple[Polygon, Polygon, Polygon], moves: Moves
) -> NearPoints:
    """Where a check found the parts nearest, in every pose of it.

    sections : of its setup, as for `NearPoints.rooms` [mm]
    moves : of the parts that stood elsewhere then: name, direction and how far [mm]
    Source: derived here. What readings take is what the worst case takes beyond the largest tire.
    """
    radius = {o.name: o.radius for o in fit.obstacles}
    entries = [e for e in fit.clearances if e.obstacle in names and e.obstacle in radius]
    pose = np.array([e.pose for e in entries], dtype=int)
    body = np.array([e.point for e in entries], dtype=float).reshape(-1, 3)
    own = np.array([names.index(e.obstacle) for e in entries], dtype=int)
    for name, way, by in moves:
        chosen = own == names.index(name)
        body[chosen] = moved_point(body[chosen], fit.axle.hub_face_at, way, -by)
    radii = np.array([radius[e.obstacle] for e in entries])
    taken = np.array([e.clearance - e.worst_case for e in entries])
    points = NearPoints(
        own,
        np.array([PARTS.index(e.part) for e in entries], dtype=int),
        body,
        fit.poses.origin[pose],
        fit.poses.rotation[pose],
        np.array([max(e.travel, e.travel if e.opposite is None else e.opposite) for e in entries]),
        np.array([e.steer for e in entries]),
        radii,
        np.array([e.allowance for e in entries]),
        np.zeros(len(entries)),
    )
    stood = np.array([e.point for e in entries], dtype=float).reshape(-1, 3)
    places = points.places(stood)
    tire = points.part == 0
    grown = np.zeros(len(entries))
    if tire.any():
        grown[tire] = signed_distance(sections[0], places[tire]) - signed_distance(sections[1], places[tire])
    loss = np.maximum(taken - grown, 0.0)
    return NearPoints(*(loss if key == "loss" else getattr(points, key) for key in points.__dataclass_fields__))


def laid_points(
    fit: Fit, names: Sequence[str], known: NearPoints, sections: tuple[Polygon, Polygon, Polygon]
) -> NearPoints:
    """Points along the lines of the parts that lie near the section or within it, in every pose of a check.

    known : what the check found nearest, whose losses are taken
    sections : as for `NearPoints.rooms` [mm]
    Source: derived here.
    """
    found = [known.at(np.array([], dtype=int))]
    for trace in fit.traces:
        obstacle = trace.obstacle
        if obstacle.shape not in ("edge", "rod", "panel") or trace.hub.shape[1] > MANY or obstacle.solid_behind:
            continue
        weights = _laid(obstacle, place(obstacle, fit.poses.at(np.array([0])))[0])
        body = np.einsum("qv,nvi->nqi", weights, place(obstacle, fit.poses))
        count, many = body.shape[:2]
        pose = np.repeat(np.arange(count), many)
        for part in obstacle.meets:
            mine = (known.name == names.index(obstacle.name)) & (known.part == PARTS.index(part))
            if not mine.any():
                continue
            size = count * many
            flat = NearPoints(
                np.full(size, names.index(obstacle.name)), np.full(size, PARTS.index(part)), body.reshape(-1, 3),
                fit.poses.origin[pose], fit.poses.rotation[pose], fit.poses.travel[pose], fit.poses.turned[pose],
                np.full(size, obstacle.radius), np.full(size, known.allowance[mine][0]),
                np.full(size, float(np.median(known.loss[mine]))),
            )  # fmt: skip
            places = flat.places()
            low_y, low_r, high_y, high_r = sections[0 if part == "tire" else 2].bounds
            box = (places[:, 0] > low_y - NEAR) & (places[:, 0] < high_y + NEAR) & (places[:, 1] < high_r + NEAR)
            found.append(flat.at(np.flatnonzero(box & (places[:, 1] > low_r - NEAR))))
    joined = found[0]
    for each in found[1:]:
        joined = joined.joined(each)
    return joined


def _laid(obstacle: Obstacle, points: Array) -> Array:
    """Weights (q, v) of points about SPACED along the lines of a part, on its own points."""
    if obstacle.shape == "panel":
        corners = sheet_triangles(len(points) // obstacle.columns, obstacle.columns)
        lines = np.unique(
            np.sort(np.concatenate([corners[:, [0, 1]], corners[:, [1, 2]], corners[:, [0, 2]]]), 1), axis=0
        )
    else:
        lines = np.stack([np.arange(len(points) - 1), np.arange(1, len(points))], 1)
    rows = []
    for a, b in lines.tolist():
        steps = max(1, int(np.linalg.norm(points[b] - points[a]) / SPACED))
        share = (np.arange(steps) + 0.5) / steps
        weight = np.zeros((steps, len(points)))
        weight[:, a], weight[:, b] = 1 - share, share
        rows.append(weight)
    return np.concatenate(rows)
