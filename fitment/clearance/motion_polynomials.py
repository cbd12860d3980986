"""The hub's motion as polynomials through a few solved poses, good to a thousandth of a millimetre.

A sweep needs a part's place in tens of thousands of poses. Solving each is slow and not needed: within a
piece of travel and of the way to a lock the motion is smooth, and a Chebyshev polynomial of low degree in each
holds it. Pieces end where the motion has a kink: straight ahead, and where the locks bend (`lock_bends`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from itertools import pairwise, product

import numpy as np
from numpy.typing import NDArray

from fitment.clearance.alike import Alike
from fitment.clearance.trace import (
    CarriedCorners,
    Corners,
    Index,
    carried_points,
    carrier_frame,
    hub_corners,
    laid_out,
    to_hub,
)
from fitment.frames import Array
from fitment.motion.poses import Poses
from fitment.motion.suspension import Family, corners_alike, families, lock_bends
from fitment.parts.axle import Axle
from fitment.parts.obstacles import Obstacle

DEGREES = {1: 9, 2: 9, 3: 6}  # by how many ways a family of poses moves: a beam moves more plainly than links do
OFF = 0.002  # [mm] by which the polynomials may be off before a piece is divided
HALVED = 3  # times at most
ARM = 300.0  # [mm] how far apart the points are at which that is seen
Span = tuple[float, float]


@dataclass(frozen=True, eq=False)
class Piece:
    """A box of travel and lock fractions on which the motion is smooth, and the poses solved in it.

    spans : of travel [mm], then of each share [-]
    poses : at the Chebyshev points, over travel, then each share
    """

    spans: tuple[Span, ...]
    poses: Poses


@dataclass(frozen=True, eq=False)
class HubMotion:
    """A family of poses and its motion in pieces that cover a range of travel and all lock fractions."""

    family: Family
    pieces: tuple[Piece, ...]


def hub_motions(axle: Axle, measured: Axle, travel: Span) -> tuple[HubMotion, ...]:
    """Every family of an axle over a range of travel of the axle as measured, its own travel stretched to that.

    travel : lowest and highest [mm]
    Raises MotionError.
    """
    moving, as_measured = (replace(bare, obstacles=()) for bare in (axle, measured))
    return _motions(moving, as_measured, travel)


@lru_cache(maxsize=64)
def _motions(axle: Axle, measured: Axle, travel: Span) -> tuple[HubMotion, ...]:
    stretch = None if axle == measured else lambda t: stretched_travel(t, measured, axle)
    several = families(axle)
    own = [pieces(axle, family, travel, stretch) for family in several[: 1 if corners_alike(axle) else None]]
    return tuple(HubMotion(family, own[min(k, len(own) - 1)]) for k, family in enumerate(several))


def stretched_travel(travel: Array, axle: Axle, other: Axle) -> Array:
    """Travels (n,) [mm] stretched so that droop and bump become the other axle's.

    travel : (n,) [mm], + up
    Source: derived here: linear from 0 to each end.
    """
    end, goal = np.where(travel < 0, axle.droop, axle.bump), np.where(travel < 0, other.droop, other.bump)
    return np.asarray(travel * np.where(end == 0, 1.0, goal / np.where(end == 0, 1.0, end)))


@lru_cache(maxsize=32)
def tracker(motion: HubMotion, obstacle: Obstacle) -> Callable[[Array], Corners]:
    """A function (places (q, 1 + shares)) -> the obstacle's corners in the hub frame (q, v, 3) [mm].

    Places beyond the pieces are taken at their ends.
    """
    solved = [hub_corners(obstacle, piece.poses) for piece in motion.pieces]
    factors = [
        _fitted(piece, corners.frame if isinstance(corners, CarriedCorners) else corners)
        for piece, corners in zip(motion.pieces, solved, strict=True)
    ]
    points = solved[0].points if isinstance(solved[0], CarriedCorners) else None  # the rest is not kept

    def corners(places: Array) -> Corners:
        places, held = _held(motion, places)
        placed = np.empty((len(places), *factors[0].shape[1:]))
        for number, mine in held:
            own = factors[number]
            at = basis(motion.pieces[number], places[mine]) @ own.reshape(len(own), -1)
            placed[mine] = at.reshape(len(mine), *own.shape[1:])
        return placed if points is None else CarriedCorners(points, placed)

    return corners


def frames_at(motion: HubMotion, places: Array) -> Callable[[str], Array]:
    """The frame of a carrier (q, 4, 3) at places of a family, for many obstacles at once what `tracker` is for one.

    places : (q, k) [mm, then -], a travel and its shares; beyond the pieces they are taken at their ends
    Source: textbook Chebyshev interpolation, see `coefficients`.
    """
    places, held = _held(motion, places)
    known = [(motion.pieces[number], mine, basis(motion.pieces[number], places[mine])) for number, mine in held]

    @cache
    def frame(carrier: str) -> Array:
        placed = np.empty((len(places), 4, 3))
        for piece, mine, factors in known:
            placed[mine] = (factors @ _carried(piece, carrier).reshape(factors.shape[1], -1)).reshape(-1, 4, 3)
        return placed

    return frame


def _held(motion: HubMotion, places: Array) -> tuple[Array, list[tuple[int, Index]]]:
    """Places (q, k), those beyond the pieces at their ends, and which of them each piece holds that holds any."""
    low, high = np.moveaxis(np.array([piece.spans for piece in motion.pieces]), 2, 0)
    places = np.clip(places, low.min(axis=0), high.max(axis=0))
    held = _between(low[:, None], high[:, None], places)
    return places, [(number, np.flatnonzero(held[number])) for number in np.flatnonzero(held.any(axis=1)).tolist()]


def corners_at(
    motion: HubMotion, group: Alike, owner: Index, places: Array, frames: Callable[[str], Array], some: Index
) -> Corners:
    """Corners in the hub frame (q, v, 3) [mm] of obstacles that are alike, at some of the places of a family.

    owner : which of the obstacles it is in each of these (q,)
    places : (n, k) [mm, then -]; frames : those of carriers there, see `frames_at`; some : of the places (q,)
    Source: see `tracker`.
    """
    if group.alone:
        return tracker(motion, group.obstacles[0])(places[some])
    return group.corners_by(owner, lambda carrier: frames(carrier)[some])


def pieces(
    axle: Axle, family: Family, travel: Span, stretch: Callable[[Array], Array] | None = None
) -> tuple[Piece, ...]:
    """The motion of one family of poses over a range of travel and all its lock fractions.

    travel : lowest and highest [mm]
    stretch : travels at which to solve instead, as for an axle whose travel was read differently
    Raises MotionError.
    Source: derived here: Chebyshev interpolation, halved until probes between the nodes are within OFF.
    """
    bends = [t for t in lock_bends(axle) if travel[0] < t < travel[1]]

    def solved(places: Array) -> Poses:
        t, *lock_fractions = places.T
        return family.poses(t if stretch is None else stretch(t), *lock_fractions)

    spans = [_spans(np.unique([travel[0], *bends, travel[1]])), *(_spans(_kinks(levels)) for levels in family.levels)]
    return tuple(piece for box in product(*spans) for piece in _good(solved, box, HALVED))


def turning(piece: Piece) -> float:
    """How fast the hub turns along travel where it does so fastest [rad/mm], with the shares held.

    A lock that bends turns it far more than bump steer does.
    Source: textbook: two turns of an angle t apart differ by sqrt(8) sin(t / 2) in the Frobenius norm.
    """
    travel = _knots(piece.spans[0], len(piece.spans))
    turn = piece.poses.rotation.reshape(len(travel), -1, 9)
    apart = np.linalg.norm(np.diff(turn, axis=0), axis=2).max(axis=1)
    way = np.diff(travel)
    return float((2 * np.arcsin(np.minimum(apart / np.sqrt(8), 1.0))[way > 0] / way[way > 0]).max(initial=0.0))


def _kinks(lock_fractions: Array) -> Array:
    """Ends of a share, and 0 between them."""
    low, high = float(lock_fractions.min()), float(lock_fractions.max())
    return np.unique([low, *([0.0] if low < 0 < high else []), high])


def _good(solved: Callable[[Array], Poses], spans: tuple[Span, ...], halved: int) -> Iterator[Piece]:
    """A box as one piece where the polynomials hold the motion, else in halves each way, at most so many times."""
    knots = _nodes([_knots(span, len(spans)) for span in spans])
    probes = _nodes([np.unique([*span, np.mean(span)]) for span in spans])
    poses = solved(np.concatenate([knots, probes]))  # at once, which is quicker
    count = np.arange(len(poses))
    piece, there = Piece(spans, poses.at(count[: len(knots)])), poses.at(count[len(knots) :])
    fitted = np.einsum("qk,kvx->qvx", basis(piece, probes), _fitted(piece, _probes(piece.poses)))
    if not halved or np.abs(fitted - _probes(there)).max() < OFF:
        yield piece
        return
    for box in product(*map(_halves, spans)):
        yield from _good(solved, box, halved - 1)


def _nodes(levels: Sequence[Array]) -> Array:
    """Places (n, k) of a grid, over the first levels, then the next."""
    return np.stack([level.ravel() for level in np.meshgrid(*levels, indexing="ij")], -1)


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
    return to_hub(np.concatenate([np.broadcast_to(points, shape) for points in placed], axis=1), poses)


def _spans(levels: Array) -> list[Span]:
    values = levels.tolist()
    return list(pairwise(values)) if len(values) > 1 else [(values[0], values[0])]


def _knots(span: Span, ways: int) -> Array:
    """Chebyshev points of a span of a family that moves in so many ways; one where it has no length."""
    low, high = span
    if low == high:
        return np.array([low])
    return (low + high) / 2 + (high - low) / 2 * _unit_knots(DEGREES[ways] + 1)


def coefficients(piece: Piece, obstacle: Obstacle) -> tuple[Array, Array]:
    """How the obstacle's corners move in the hub frame.

    Returns : weights of each corner (v, j) on what carries it, the axes and the origin of one carrier [mm, 1] or the
        corners themselves [-]; the Chebyshev coefficients (k, j, 3) of these [-, mm], over travel, then each share
    Source: textbook Chebyshev interpolation at the nodes of the first kind; a rigid motion is affine.
    """
    if obstacle.shape == "ring" or len(set(obstacle.fixed_to)) > 1:
        corners = _fitted(piece, np.asarray(hub_corners(obstacle, piece.poses)))
        return np.eye(corners.shape[1]), corners
    return carried_points(laid_out(obstacle, piece.poses)), _carried(piece, obstacle.fixed_to[0])


@lru_cache(maxsize=256)
def _carried(piece: Piece, carrier: str) -> Array:
    """Coefficients (k, 4, 3) of a carrier's axes [-] and origin [mm] in the hub frame."""
    return _fitted(piece, carrier_frame(carrier, piece.poses))


def _fitted(piece: Piece, values: Array) -> Array:
    """Coefficients (k, v, 3) of something known in the piece's poses (k, v, 3)."""
    counts = [len(_knots(span, len(piece.spans))) for span in piece.spans]
    fitted = values.reshape(*counts, *values.shape[1:])
    for i, count in enumerate(counts):
        fitted = np.moveaxis(np.tensordot(_fitting(count), fitted, axes=(1, i)), 0, i)
    return fitted.reshape(values.shape)


@lru_cache(maxsize=4)
def _fitting(count: int) -> Array:
    """Matrix that turns values at the Chebyshev points into coefficients (count, count)."""
    return np.asarray(np.linalg.inv(_chebyshev(_unit_knots(count), count - 1)), dtype=np.float64)


def _unit_knots(count: int) -> Array:
    """Chebyshev points of the first kind, rising; one is in the middle."""
    return np.sin(np.pi / 2 / count * np.arange(1 - count, count + 1, 2)) if count > 1 else np.zeros(1)


def _chebyshev(at: Array, degree: int) -> Array:
    """Values (q, 1 + degree) of the Chebyshev polynomials at places (q,) from -1 to 1, each made of the two before."""
    values = np.ones((degree + 1, len(at)))
    if degree:
        values[1] = at
    twice = 2 * at
    for k in range(2, degree + 1):
        values[k] = values[k - 1] * twice - values[k - 2]
    return values.T


def basis(piece: Piece, places: Array) -> Array:
    """Factors (q, k) [-] of the coefficients at places.

    places : (q, 1 + shares), (q, k) [mm, then -]
    Source: Chebyshev polynomials, as `bases` without a derivative.
    """
    return bases(piece, places, ((0,) * len(piece.spans),))[0]


def bases(piece: Piece, places: Array, derivatives: Sequence[tuple[int, ...]]) -> list[Array]:
    """Factors (q, k) of the coefficients at places, for each of several derivatives [-, less 1/mm for each of travel].

    places : a travel and its lock fractions (q, k) [mm, then -]
    derivatives : orders of travel and of every share, of each
    Source: Chebyshev polynomials and their derivatives; the product of one in each way.
    """
    degree = DEGREES[len(piece.spans)]
    ways = [
        _factors(span, at, max(orders), degree)
        for span, at, orders in zip(piece.spans, places.T, zip(*derivatives, strict=True), strict=True)
    ]
    factors = []
    for derivative in derivatives:
        first, *others = (way[order] for way, order in zip(ways, derivative, strict=True))
        for other in others:
            shape = len(first), first.shape[1] * other.shape[1]
            first = (first[:, :, None] * other[:, None, :]).reshape(shape)
        factors.append(first)
    return factors


def _factors(span: Span, at: Array, order: int, degree: int) -> list[Array]:
    """Factors (q, k) of the coefficients in one direction, and of its derivatives up to an order."""
    low, high = span
    if low == high:
        return [np.full((len(at), 1), 0.0 if i else 1.0) for i in range(order + 1)]
    half = (high - low) / 2
    factors = [_chebyshev((at - (low + high) / 2) / half, degree)]
    for _ in range(order):
        factors.append(np.asarray(factors[-1] @ _derivative(degree) / half, dtype=np.float64))
    return factors


@lru_cache(maxsize=2)
def _derivative(degree: int) -> Array:
    """Matrix (k, k) that turns values of Chebyshev polynomials into their derivatives' values.

    Source: textbook: T'_k = 2 k (T_(k-1) + T_(k-3) + ...), the last one halved where it is T_0.
    """
    row, column = np.indices((degree + 1, degree + 1))
    twice = np.where((column > row) & ((column - row) % 2 == 1), 2.0 * column, 0.0)
    twice[0] /= 2
    return twice


def inside(piece: Piece, places: Array) -> NDArray[np.bool_]:
    """Which places the piece holds, (q,).

    places : a travel and its lock fractions (q, k) [mm, then -]
    """
    low, high = np.array(piece.spans).T
    return _between(low, high, places)


def _between(low: Array, high: Array, places: Array) -> NDArray[np.bool_]:
    """Which places (..., k) lie between low and high (..., k), but for rounding."""
    slack = 1e-9
    return np.asarray(np.all((places >= low - slack) & (places <= high + slack), axis=-1))
