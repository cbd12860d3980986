"""By how much assumed bands move parts more than the sum of what each reading moves alone.

A worst case adds what every reading takes to first order. An assumed band is wide: a lock that may be 6 degrees more
turns the wheel about an axis that may be 60 mm elsewhere. What readings do together beyond that sum is worked out here
once for an axle, for every part, and taken off the worst case.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from itertools import combinations, product

import numpy as np

from fitment.clearance.closest_poses import poses_at
from fitment.clearance.pose_grid import Bend, grid, known_motion
from fitment.clearance.trace import hub_corners, laid_out, trace_of_corners
from fitment.clearance.worst_case import lock_shares
from fitment.frames import Array, to_half_plane
from fitment.motion.suspension import families, swept_travel
from fitment.parts.axle import Axle
from fitment.parts.obstacles import Obstacle, fixed_to_hub
from fitment.profile import Reading

ZONE = ((-400.0, 400.0), (150.0, 520.0))  # [mm] y' and r of points that a wheel and tire can come near; assumption
MOST = 7  # assumed readings of which every combination of ends is gone through
ON_LINE = 4  # points looked at on each line of a part

Moved = Callable[[Mapping[str, float]], Axle]
"""The axle with readings, by their key paths, moved by so much."""


def bends_of(axle: Axle, readings: Sequence[Reading], moved: Moved) -> tuple[Bend, ...]:
    """Of every part that moves against the hub how far the readings together move it beyond their sum.

    Raises MotionError.
    Source: derived here: second differences over the whole bands, of each assumed reading and of each two, in the
    combination of ends that takes a point farthest; those with readings that are not assumed are added.
    """
    parts = [obstacle for obstacle in known_motion(axle)[0] if not fixed_to_hub(obstacle)]
    low, high = swept_travel(axle, axle.hub_face_at[2])
    where = [grid(np.unique([low, 0.0, high]), *family.levels) for family in families(axle)]
    placed: dict[frozenset[tuple[str, float]], list[Array]] = {}

    def at(*signs: tuple[Reading, float]) -> list[Array]:
        """Where points of each part are, (n, p, 2)."""
        moves = {reading.path: sign * reading.tolerance for reading, sign in signs}
        key = frozenset(moves.items())
        if key not in placed:
            placed[key] = _placed(axle, moved(moves) if moves else axle, where, parts)
        return placed[key]

    plain = at()
    assumed = [reading for reading in readings if reading.assumed]
    curved = [_second(at((one, 1)), plain, plain, at((one, -1))) for one in assumed]
    twisted = [
        _second(at((one, 1), (other, 1)), at((one, 1)), at((other, 1)), plain)
        for one, other in combinations(assumed, 2)
    ]
    beyond = [
        _largest([own[k] for own in curved], [own[k] for own in twisted], points) for k, points in enumerate(plain)
    ]
    for one, other in product(assumed, [reading for reading in readings if not reading.assumed]):
        beside = _second(at((one, 1), (other, 1)), at((one, 1)), at((other, 1)), plain)
        beyond = [total + np.linalg.norm(own, axis=-1) for total, own in zip(beyond, beside, strict=True)]
    share = lock_shares(families(axle), where)
    return tuple(_bend(o.name, total, points, share) for o, total, points in zip(parts, beyond, plain, strict=True))


def _second(both: list[Array], one: list[Array], other: list[Array], plain: list[Array]) -> list[Array]:
    """How far two moves together take the points of each part beyond the sum of both, (n, p, 2)."""
    return [a - b - c + d for a, b, c, d in zip(both, one, other, plain, strict=True)]


def _largest(curved: Sequence[Array], twisted: Sequence[Array], points: Array) -> Array:
    """How far the points of a part (n, p, 2) are moved beyond the sum at most, whichever way each band counts (n, p).

    curved, twisted : of each reading alone, and of each two, (n, p, 2)
    The sum takes a reading to move a point one way as far as the other, which is off by its curve there. Every
    combination of ends is gone through of the MOST readings that do most; of the others the sizes are added.
    """
    count = len(curved)
    ways = np.stack([*curved, *twisted])
    sizes = np.hypot(ways[..., 0], ways[..., 1])
    pairs = [*((i, i) for i in range(count)), *combinations(range(count), 2)]
    does = [sum(sizes[k].max(initial=0.0) for k, pair in enumerate(pairs) if i in pair) for i in range(count)]
    chosen = sorted(sorted(range(count), key=lambda i: -does[i])[:MOST])
    gone_through = np.array([set(pair) <= set(chosen) for pair in pairs])
    most = np.zeros(points.shape[:2])
    for ends in product((1.0, -1.0), repeat=len(chosen)):
        sign = dict(zip(chosen, ends, strict=True))
        factors = [(1 - sign[i]) / 2 if i == j else sign[i] * sign[j] for i, j in pairs if i in sign and j in sign]
        moved = np.einsum("k,knpx->npx", factors, ways[gone_through])
        most = np.maximum(most, np.hypot(moved[..., 0], moved[..., 1]))
    return np.asarray(most + sizes[~gone_through].sum(axis=0))


def _placed(axle: Axle, read: Axle, where: Sequence[Array], parts: Sequence[Obstacle]) -> list[Array]:
    """Points of each part in the hub's half plane at places of every family, on the axle as it was read (n, p, 2)."""
    poses = poses_at(axle, where, read)
    obstacles = {obstacle.name: obstacle for obstacle in read.obstacles}
    placed = []
    for part in parts:
        obstacle = laid_out(obstacles[part.name], poses)
        corners = hub_corners(obstacle, poses)
        if part.mesh is not None:
            placed.append(to_half_plane(corners[np.arange(len(corners))[:, None], part.mesh.spread]))
            continue
        trace = trace_of_corners(obstacle, corners)
        plain, lines = ~trace.mesh.folds, trace.every
        on_lines = [
            lines.first[:, plain] + along * (lines.last - lines.first)[:, plain]
            for along in np.linspace(0.0, 1.0, ON_LINE + 1)
        ]
        placed.append(to_half_plane(np.concatenate(on_lines, axis=1)))
    return placed


def _bend(name: str, beyond: Array, points: Array, share: Array) -> Bend:
    """The bend of one part: straight ahead, and what comes to it by the way to a lock."""
    (left, right), (inner, outer) = ZONE
    y, r = np.moveaxis(points, -1, 0)
    near = (y > left) & (y < right) & (r > inner) & (r < outer)
    most = np.where(near, beyond, 0.0).max(axis=1) if near.any() else beyond.max(axis=1)
    straight = float(most[share == 0].max(initial=0.0))
    steered = share > 0
    more = (most[steered] - straight) / share[steered]
    return Bend(name, straight, float(more.max(initial=0.0)))
