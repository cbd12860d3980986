"""The hub's motion as polynomials through a few solved poses, good to a thousandth of a millimetre.

A sweep needs a part's place in tens of thousands of poses. Solving each is slow and not needed: within a
piece of travel and of the way to a lock the motion is smooth, and a Chebyshev polynomial of low degree in both
holds it. Pieces end where the motion has a kink: straight ahead, and where the locks bend (`lock_bends`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise, product

import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import NDArray

from fitment.frames import Array
from fitment.obstacles import Obstacle
from fitment.poses import Poses
from fitment.suspension import Family, families, lock_bends
from fitment.trace import hub_corners, to_hub
from fitment.vehicle import Axle

DEGREE = 9
OFF = 0.002  # [mm] by which the polynomials may be off before a piece is divided
HALVED = 3  # times at most
ARM = 300.0  # [mm] how far apart the points are at which that is seen
Span = tuple[float, float]


@dataclass(frozen=True, eq=False)
class Piece:
    """A rectangle of travel [mm] and share on which the motion is smooth, and the poses solved in it.

    poses : at the Chebyshev points, over travel, then share
    """

    travel: Span
    share: Span
    poses: Poses


@dataclass(frozen=True, eq=False)
class Motion:
    """A family of poses and its motion in pieces that cover a range of travel and all shares."""

    family: Family
    pieces: tuple[Piece, ...]


def motions(axle: Axle, measured: Axle, travel: Span) -> tuple[Motion, ...]:
    """Every family of an axle over the travel [mm] of the axle as measured, its own travel stretched to that.

    Raises MotionError.
    """
    moving, as_measured = (replace(each, obstacles=()) for each in (axle, measured))
    return _motions(moving, as_measured, travel)


@lru_cache(maxsize=64)
def _motions(axle: Axle, measured: Axle, travel: Span) -> tuple[Motion, ...]:
    stretch = None if axle == measured else lambda t: stretched_travel(t, measured, axle)
    return tuple(Motion(f, pieces(axle, f.poses, travel, f.shares, stretch)) for f in families(axle))


def stretched_travel(travel: Array, axle: Axle, other: Axle) -> Array:
    """Travels [mm] (n,) stretched so that droop and bump become the other axle's."""
    end, goal = np.where(travel < 0, axle.droop, axle.bump), np.where(travel < 0, other.droop, other.bump)
    return np.asarray(travel * np.where(end == 0, 1.0, goal / np.where(end == 0, 1.0, end)))


@lru_cache(maxsize=256)
def tracker(motion: Motion, obstacle: Obstacle) -> Callable[[Array, Array], Array]:
    """A function (travel (q,), share (q,)) -> the obstacle's corners in the hub frame (q, v, 3) [mm].

    Places beyond the pieces are taken at their ends.
    """
    factors = [coefficients(piece, obstacle) for piece in motion.pieces]
    ends = np.array([(*piece.travel, *piece.share) for piece in motion.pieces])
    low, high = ends[:, [0, 2]].min(axis=0), ends[:, [1, 3]].max(axis=0)

    def corners(travel: Array, share: Array) -> Array:
        travel, share = np.clip(travel, low[0], high[0]), np.clip(share, low[1], high[1])
        found = np.empty((len(travel), *factors[0].shape[1:]))
        for piece, own in zip(motion.pieces, factors, strict=True):
            mine = np.flatnonzero(inside(piece, travel, share))
            if not len(mine):
                continue
            at = basis(piece, travel[mine], share[mine]) @ own.reshape(len(own), -1)
            found[mine] = at.reshape(len(mine), *own.shape[1:])
        return found

    return corners


def pieces(
    axle: Axle,
    poses: Callable[[Array, Array], Poses],
    travel: Span,
    shares: Array,
    stretch: Callable[[Array], Array] | None = None,
) -> tuple[Piece, ...]:
    """The motion of one family of poses over a range of travel [mm] and its shares. Raises MotionError.

    stretch : travels at which to solve instead, as for an axle whose travel was read differently
    """
    bends = [t for t in lock_bends(axle) if travel[0] < t < travel[1]]
    ends = np.unique([float(shares.min()), *([0.0] if shares.min() < 0 < shares.max() else []), float(shares.max())])

    def solved(t: Array, s: Array) -> Poses:
        return poses(t if stretch is None else stretch(t), s)

    spans = product(_spans(np.unique([travel[0], *bends, travel[1]])), _spans(ends))
    return tuple(piece for span, share in spans for piece in _good(solved, span, share, HALVED))


def _good(solved: Callable[[Array, Array], Poses], travel: Span, share: Span, halved: int) -> Iterator[Piece]:
    """A rectangle as one piece where the polynomials hold the motion, else in quarters, at most so many times."""
    knots = [each.ravel() for each in np.meshgrid(_knots(travel), _knots(share), indexing="ij")]
    t, s = (each.ravel() for each in np.meshgrid(*(np.unique([*span, np.mean(span)]) for span in (travel, share))))
    both = solved(*np.hstack([knots, [t, s]]))  # at once, which is quicker
    count = np.arange(len(both))
    piece, there = Piece(travel, share, both.at(count[: -len(t)])), both.at(count[-len(t) :])
    fitted = np.einsum("qk,kvx->qvx", basis(piece, t, s), _fitted(piece, _probes(piece.poses)))
    if not halved or np.abs(fitted - _probes(there)).max() < OFF:
        yield piece
        return
    for half, side in product(_halves(travel), _halves(share)):
        yield from _good(solved, half, side, halved - 1)


def _halves(span: Span) -> list[Span]:
    low, high = span
    return [span] if low == high else [(low, (low + high) / 2), ((low + high) / 2, high)]


def _probes(poses: Poses) -> Array:
    """Points of every carrier far apart, in the hub frame of each pose (n, v, 3)."""
    arms = np.vstack([np.zeros(3), np.eye(3) * ARM])
    placed = [
        arms @ np.swapaxes(rotation, -1, -2) + np.reshape(shift, (-1, 1, 3))
        for rotation, shift in poses.motions.values()
    ]
    shape = (len(poses), len(arms), 3)
    return to_hub(np.concatenate([np.broadcast_to(each, shape) for each in placed], axis=1), poses)


def _spans(levels: Array) -> Iterator[Span]:
    values = levels.tolist()
    yield from pairwise(values) if len(values) > 1 else [(values[0], values[0])]


def _knots(span: Span) -> Array:
    """Chebyshev points of a span; one where it has no length."""
    low, high = span
    if low == high:
        return np.array([low])
    return (low + high) / 2 + (high - low) / 2 * chebyshev.chebpts1(DEGREE + 1)


def coefficients(piece: Piece, obstacle: Obstacle) -> Array:
    """Chebyshev coefficients (k, v, 3) of the obstacle's corners in the hub frame, over travel, then share."""
    return _fitted(piece, hub_corners(obstacle, piece.poses))


def _fitted(piece: Piece, values: Array) -> Array:
    """Coefficients (k, v, 3) of something known in the piece's poses (k, v, 3)."""
    n, m = len(_knots(piece.travel)), len(_knots(piece.share))
    found = np.einsum("ia,jb,abvc->ijvc", _fitting(n), _fitting(m), values.reshape(n, m, *values.shape[1:]))
    return found.reshape(n * m, *values.shape[1:])


@lru_cache(maxsize=4)
def _fitting(count: int) -> Array:
    """Matrix that turns values at the Chebyshev points into coefficients (count, count)."""
    return np.asarray(np.linalg.inv(chebyshev.chebvander(_unit_knots(count), count - 1)), dtype=np.float64)


def _unit_knots(count: int) -> Array:
    return chebyshev.chebpts1(count) if count > 1 else np.zeros(1)


def basis(piece: Piece, travel: Array, share: Array, derivative: tuple[int, int] = (0, 0)) -> Array:
    """Factors (q, k) of the coefficients at places (q,), or of a derivative by travel [1/mm] and by share."""
    return bases(piece, travel, share, (derivative,))[0]


def bases(piece: Piece, travel: Array, share: Array, derivatives: Sequence[tuple[int, int]]) -> list[Array]:
    """The same for several derivatives."""
    by_travel = _factors(piece.travel, travel, max(t for t, _ in derivatives))
    by_share = _factors(piece.share, share, max(s for _, s in derivatives))
    shape = len(travel), by_travel[0].shape[1] * by_share[0].shape[1]
    return [(by_travel[t][:, :, None] * by_share[s][:, None, :]).reshape(shape) for t, s in derivatives]


def _factors(span: Span, at: Array, order: int) -> list[Array]:
    """Factors (q, k) of the coefficients in one direction, and of its derivatives up to an order."""
    low, high = span
    if low == high:
        return [np.full((len(at), 1), 0.0 if i else 1.0) for i in range(order + 1)]
    half = (high - low) / 2
    found = [np.asarray(chebyshev.chebvander((at - (low + high) / 2) / half, DEGREE), dtype=np.float64)]
    for _ in range(order):
        found.append(np.asarray(found[-1] @ _derivative() / half, dtype=np.float64))
    return found


@lru_cache(maxsize=1)
def _derivative() -> Array:
    """Matrix (k, k) that turns values of Chebyshev polynomials into their derivatives' values."""
    columns = [np.pad(chebyshev.chebder(row), (0, 1)) for row in np.eye(DEGREE + 1)]
    return np.stack(columns, axis=1)


def inside(piece: Piece, travel: Array, share: Array) -> NDArray[np.bool_]:
    """Which places (q,) the piece holds."""
    slack = 1e-9
    return np.asarray(
        (travel >= piece.travel[0] - slack) & (travel <= piece.travel[1] + slack)
        & (share >= piece.share[0] - slack) & (share <= piece.share[1] + slack)
    )  # fmt: skip
