"""What was read at a few travels as a smooth curve over travel, and how far the true one may leave it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fitment.frames import Array
from fitment.parts.axle import TravelCurve

UNIT = 100.0  # [mm] the travel at which a bend is told


def curve_at(curve: TravelCurve, travel: Array) -> Array:
    """The curve's value at travels, (n,) [mm], or [deg].

    travel : from the reference pose (n,) [mm], bump positive
    Through one point and the reference pose a straight line; through two and it their parabola; through more the
    parabola of each three neighbours, blended from one to the next. Beyond the last point its parabola goes on. The
    slope is continuous, and a path that is a parabola comes out as it is: the sideways path of a wheel is nearly one,
    turns within its travel, and a curve that stays monotone between readings would flatten it there.
    A bend adds what such a curve cannot know: bend times the product of the travels from its points, each in 100 mm
    (the remainder of an interpolation). It changes sign from one point to the next, so that its slope is continuous.
    Without points it is bend times the square of the travel in 100 mm: of a slope over as much bump as droop.
    Source: Lagrange's formula and the remainder of polynomial interpolation, textbook; blended parabolas are Bessel's
    interpolation (name from memory).
    """
    travel = np.asarray(travel, dtype=float)
    if not curve.points:
        return np.asarray(curve.bend * (travel / UNIT) ** 2)
    points = sorted([(0.0, 0.0), *curve.points])
    size = min(3, len(points))
    local = np.stack(
        [_local(points[i : i + size], (-1) ** i * curve.bend, travel) for i in range(len(points) - size + 1)]
    )
    if len(local) == 1:
        return np.asarray(local[0])
    middles = [at for at, _ in points[1:-1]]
    place = np.interp(travel, middles, np.arange(len(middles)))
    first = np.minimum(place.astype(int), len(middles) - 2)
    own, following = (np.take_along_axis(local, i[None], axis=0)[0] for i in (first, first + 1))
    return np.asarray(own + (place - first) * (following - own))


def _local(points: Sequence[tuple[float, float]], bend: float, travel: Array) -> Array:
    """The polynomial through a few points, bent between them, at travels (n,)."""
    total = np.zeros_like(travel)
    for at, value in points:
        term = np.full_like(travel, value)
        for other, _ in points:
            term = term if other == at else term * (travel - other) / (at - other)
        total += term
    return np.asarray(total + bend * np.prod([(travel - at) / UNIT for at, _ in points], axis=0))


def off_parabola(points: Sequence[tuple[float, float]]) -> tuple[float, ...]:
    """How far each point lies off the parabola through the reference pose that comes nearest to all, by least squares.

    points : (travel [mm], value [mm], or [deg]) pairs; of one or two none lies off
    Returns : of each point, in its own unit [mm], or [deg]
    Source: textbook least squares.
    """
    at, value = (np.array(each) for each in zip(*points, strict=True))
    factors = np.stack([at / UNIT, (at / UNIT) ** 2], -1)
    off = value - factors @ np.linalg.lstsq(factors, value, rcond=None)[0]
    return tuple(off.tolist()) if len(points) > 2 else (0.0,) * len(points)
