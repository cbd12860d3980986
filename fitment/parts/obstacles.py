"""Parts of the vehicle that a wheel could meet: frozen data and the points of their core."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

import numpy as np

from fitment.frames import Array
from fitment.parts.rework import Rework
from fitment.parts.scan import ScanMesh

Point = tuple[float, float, float]
Shape = Literal["edge", "rod", "ball", "panel", "ring", "scan"]
Part = Literal["tire", "wheel"]
GapTo = Literal["tire", "wheel", "rim_plane", "tire_plane"]
Way = Literal["out", "ahead", "up", "radial"]
ALLOWANCE: dict[str, float] = {"tire": 5.0, "wheel": 3.0}  # [mm] common practice, no published source
USUAL_TOLERANCE = 3.0  # [mm] of a part placed by tape and straightedge; common practice, no published source
SOLID_DEPTH = 600.0  # [mm] how far a solid panel is filled behind its sheet
SMOOTH_STEP = 10.0  # [mm] spacing of the points laid on a smooth curve


@dataclass(frozen=True)
class MeasuredGap:
    """What a tape read between the baseline and the part.

    to : its tire or wheel, or a straightedge across the rim's edge (rim_plane) or the tire's sidewall (tire_plane)
    gap : [mm], negative where the part reaches past a straightedge
    travel : of the reading [mm]; None = at rest
    lock : of the vehicle's steering
    along : the way in which the part is slid until the baseline reproduces the reading, body axes; radial = in the
        side view away from the hub centre
    """

    to: GapTo
    gap: float
    travel: float | None = None
    lock: Literal["left", "right", "straight"] = "straight"
    along: Way = "out"


@dataclass(frozen=True)
class Obstacle:
    """A part that a wheel could meet. Its core is a point, a line or a surface; `radius` is put around it.

    points : body frame at the reference pose [mm]; edge: the polyline, rod: two ends, ball: one,
        panel: the rows one after another, ring: empty
    columns : points in each row of a panel, else 0
    fixed_to : carrier of each point (rod ends may differ), or one carrier for all
    radius : [mm] round the core
    allowance : clearance required [mm]; None = common practice, 5 to the tire and 3 to the wheel
    tolerance : how far the measured part may be from where it was measured [mm]
    meets : the parts it is checked against
    side : label of a part found on one side only
    smooth : an edge is a smooth curve through its points
    steps : into how many steps each stretch of a smooth curve is laid; empty = about one every SMOOTH_STEP
    solid_behind : the space on the far side of a panel is filled
    behind : of a solid panel, the way from each corner of each triangle of its sheet to the far side of what is filled
        [mm]; empty = not settled yet
    outline : of a ring, (y', r) in the hub frame [mm]; two points are a line, more a filled polygon
    clock : range of a ring [deg], 0 = forward, 90 = up
    cover : whether an edge is the bodywork's edge over the tread; None = by its place
    measured_gap : the part is still to be slid until the baseline reproduces this reading
    grown : of the radius, how much was put on because no place gives that reading [mm]
    rework : what the build does to the part; done where its place is settled
    mesh : of a scan, its triangles; `points` is empty then, and `fixed_to` one carrier
    taken : what happens in service takes from tire and wheel, where it counts as required as well [mm]
    """

    name: str
    shape: Shape
    points: tuple[Point, ...] = ()
    columns: int = 0
    fixed_to: tuple[str, ...] = ("body",)
    radius: float = 0.0
    allowance: float | None = None
    tolerance: float = 0.0
    meets: tuple[Part, ...] = ("tire", "wheel")
    side: str | None = None
    smooth: bool = False
    steps: tuple[int, ...] = ()
    solid_behind: bool = False
    behind: tuple[Point, ...] = ()
    outline: tuple[tuple[float, float], ...] = ()
    clock: tuple[float, float] = (0.0, 360.0)
    cover: bool | None = None
    measured_gap: MeasuredGap | None = None
    grown: float = 0.0
    rework: Rework | None = None
    mesh: ScanMesh | None = None
    taken: tuple[float, float] = (0.0, 0.0)

    def __hash__(self) -> int:
        """Of thousands of points it is worked out once; the same in every process."""
        return self._hash

    @cached_property
    def _hash(self) -> int:
        return hash((self.points, self.columns, self.radius, self.behind, self.outline, self.mesh))

    def allowance_to(self, part: str) -> float:
        """Clearance required to this part [mm].

        Source: the profile; else common practice, no published source (ALLOWANCE).
        """
        return ALLOWANCE[part] if self.allowance is None else self.allowance

    def required_to(self, part: str) -> float:
        """The same and what happens in service takes, where that counts as well [mm].

        Source: `allowance_to`, and `taken`.
        """
        return self.allowance_to(part) + self.taken[part != "tire"]


def core(obstacle: Obstacle) -> Array:
    """Points of the core (n, 3) in the body frame at the reference pose [mm]; a smooth edge is laid out finely.

    Source: the readings; between those of a smooth edge `smooth_curve`.
    """
    if obstacle.mesh is not None:
        return obstacle.mesh.vertices
    points = np.array(obstacle.points, dtype=float).reshape(-1, 3)
    if obstacle.smooth and obstacle.shape == "edge" and len(points) > 2:
        return smooth_curve(points, obstacle.steps)
    return points


def laid_like(obstacle: Obstacle, other: Obstacle) -> Obstacle:
    """The obstacle with as many points on each stretch of a smooth curve as the other, so that they correspond.

    It has grown where the other has: a reading that only this one cannot give tells nothing about its size.
    """
    grown = obstacle.grown if obstacle.grown and other.grown else other.grown
    if grown != obstacle.grown:
        obstacle = replace(obstacle, radius=obstacle.radius - obstacle.grown + grown, grown=grown)
    if not obstacle.smooth:
        return obstacle
    return replace(obstacle, steps=other.steps or _steps(np.array(other.points, dtype=float)))


def _steps(points: Array) -> tuple[int, ...]:
    chord = np.linalg.norm(np.diff(points, axis=0), axis=1)
    return tuple(max(1, int(np.ceil(h / SMOOTH_STEP))) for h in chord)


def smooth_curve(points: Array, steps: tuple[int, ...] = ()) -> Array:
    """Natural cubic spline through points, over their chord length.

    points : (n, 3) [mm]
    steps : into how many each of the n - 1 stretches is divided; empty = about every SMOOTH_STEP mm
    Returns : (m, 3) [mm], the given points among them
    Source: textbook definition: second derivatives from the tridiagonal system, zero at both ends.
    """
    chord = np.linalg.norm(np.diff(points, axis=0), axis=1)
    steps = steps or _steps(points)
    n = len(points)
    # second derivatives M of the natural spline: the usual tridiagonal system, here dense because n is small
    system, right = np.eye(n), np.zeros((n, 3))
    for i in range(1, n - 1):
        system[i, i - 1 : i + 2] = chord[i - 1], 2 * (chord[i - 1] + chord[i]), chord[i]
        right[i] = 6 * ((points[i + 1] - points[i]) / chord[i] - (points[i] - points[i - 1]) / chord[i - 1])
    second = np.linalg.solve(system, right)
    pieces = [points[:1]]
    for i, h in enumerate(chord):
        s = np.linspace(0.0, 1.0, steps[i] + 1)[1:, None]
        bend = ((1 - s) ** 3 - (1 - s)) * second[i] + (s**3 - s) * second[i + 1]
        pieces.append((1 - s) * points[i] + s * points[i + 1] + h * h / 6 * bend)
    return np.concatenate(pieces)


def slid(obstacle: Obstacle, step: Array) -> Obstacle:
    """The obstacle moved in the body, with its measured gap settled.

    step : (3,) [mm]
    Source: derived here, the step added to every point.
    """
    dx, dy, dz = step.tolist()
    points = tuple((x + dx, y + dy, z + dz) for x, y, z in obstacle.points)
    return replace(obstacle, points=points, measured_gap=None)


def fixed_to_hub(obstacle: Obstacle) -> bool:
    """Whether the obstacle stands still in the hub's frame."""
    return obstacle.shape == "ring" or set(obstacle.fixed_to) == {"knuckle"}
