"""What is printed at true size of a part that must be cut: each piece flat, its edge, its points, the line."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from fitment.answers.cut_lines import LIP_DEPTH, CutLines, FlatPoint, along_of
from fitment.clearance.sheet_levels import LevelLines, Shapes
from fitment.errors import FitmentError
from fitment.frames import Array
from fitment.parts.flat_sheet import STRETCH, laid_flat

BEYOND = 12.0  # [mm] of a lip's sheet that is printed beyond the cut
MOST_PIECES = 12  # in which a panel is printed


@dataclass(frozen=True)
class Pattern:
    """One piece at true size, seen from the wheel [mm].

    outline : its edge; goes : what must go
    cut : lines to cut along, each (n, 2) [mm]; nominal : the same as measured alone, each (n, 2) [mm]
    stretch : by how much lengths on it are off at most [-]
    folds : where it is folded on the vehicle, each (n, 2) [mm]
    """

    outline: BaseGeometry
    goes: BaseGeometry
    cut: tuple[Array, ...]
    nominal: tuple[Array, ...]
    points: tuple[FlatPoint, ...]
    stretch: float
    ways: tuple[str, str]
    folds: tuple[Array, ...] = ()


def patterns(found: CutLines) -> tuple[Pattern, ...]:
    """The pieces of which anything must go. Raises FitmentError where nothing must, or where it does not lie flat.

    Source: a lip's strip of upright sheet always lies flat, as a row of triangles does.
    """
    name = found.obstacle.name
    if found.is_structural:
        raise FitmentError(
            f"{name}: by its name it carries the vehicle, so no pattern is printed to cut it by; choose another wheel, "
            "tire or offset. Whether and how it may be changed is for a licensed practice."
        )
    if not found.is_short:
        raise FitmentError(f"{name}: nothing to cut, so there is no pattern; every required clearance is kept.")
    if not found.serves:
        raise FitmentError(
            f"{name}: cutting does not serve, since {100 * found.gone:.0f} % of it would have to go; move it, or "
            "choose another wheel, tire or steer stop."
        )
    if found.is_lip:
        return (_of_lip(found),)
    if found.sheet.flat.shape[1] > MOST_PIECES or found.stretch[0] > STRETCH:
        raise FitmentError(
            f"{name} bends both ways so much that it lies flat in no less than {found.sheet.flat.shape[1]} pieces, "
            f"stretched by {100 * found.stretch[0]:.1f} %; at most {MOST_PIECES} pieces and {100 * STRETCH:g} % are "
            "printed. Measure the place that must be cut as a panel of its own."
        )
    pieces = [_of_panel(found, k) for k in range(found.sheet.flat.shape[1])]
    return tuple(piece for piece in pieces if not piece.goes.is_empty)


def _of_panel(found: CutLines, piece: int) -> Pattern:
    def own(lines: LevelLines) -> tuple[Array, ...]:
        return tuple(line.flat for line in lines.lines if line.piece == piece)

    below = found.kept.line.below[found.kept.line.piece == piece]
    points = tuple(point for point in found.points if point.piece == piece)
    stretch = found.flat[piece].flat.stretch
    goes = _together(below)
    ways = _named_ways(found.ways(piece))
    cut, nominal = own(found.kept.line), own(found.nominal.line)
    return Pattern(found.outline(piece), goes, cut, nominal, points, stretch, ways, found.folds(piece))


def _named_ways(ways: Array) -> tuple[str, str]:
    """The body's way that is nearest to across the page, and to up it; ways : of ahead, out, up (3, 2) [-]."""
    named = []
    for way in ways.T:
        main = int(np.argmax(np.abs(way)))
        named.append((("ahead", "behind"), ("outboard", "inboard"), ("up", "down"))[main][int(way[main] < 0)])
    return named[0], named[1]


def _together(below: Shapes) -> BaseGeometry:
    return shapely.union_all(shapely.buffer(below, 0.01)) if len(below) else shapely.Polygon()


def _of_lip(found: CutLines) -> Pattern:
    """The strip of upright sheet over a lip, flat."""
    lip = found.lip
    count = len(lip)
    flat = laid_flat(np.stack([lip[:, 1], lip[:, 0]]))  # the top first, as a panel's rows go down
    top, base = flat.corners[:count], flat.corners[count:]
    along = along_of(lip[:, 0])
    ahead = lip[-1, 0, 0] > lip[0, 0, 0]
    side = -1.0 if ahead != (found.side == "right") else 1.0  # from outside, forward is to the left of the left side

    def at(plan: Array) -> Array:
        cell = np.clip(np.searchsorted(along, plan[:, 0], side="right") - 1, 0, count - 2)
        t = ((plan[:, 0] - along[cell]) / (along[cell + 1] - along[cell]))[:, None]
        v = plan[:, 1:] / LIP_DEPTH
        a, b, c, d = base[cell], base[cell + 1], top[cell], top[cell + 1]
        first, second = a + (t - v) * (b - a) + v * (d - a), a + t * (d - c) + v * (c - a)
        spots = np.where(t >= v, first, second)
        return np.asarray(spots * (side, 1.0))

    depth = min(LIP_DEPTH, max(piece.deep for piece in found.kept.pieces) + BEYOND)
    edge = np.concatenate([np.stack([along, np.zeros(count)], -1), np.stack([along, np.full(count, depth)], -1)[::-1]])
    below = shapely.transform(_together(found.kept.line.below), at)
    points = tuple(
        replace(p, at=(float(x), float(y)))
        for p, (x, y) in zip(found.points, at(np.array([p.at for p in found.points])), strict=True)
    )
    cut, nominal = (tuple(at(line.plan) for line in own.line.lines) for own in (found.kept, found.nominal))
    return Pattern(
        shapely.Polygon(at(edge)),
        below,
        cut,
        nominal,
        points,
        flat.stretch,
        ("ahead" if found.side == "right" else "behind", "up"),
    )
