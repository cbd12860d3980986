"""What parts sweep, kept between runs: the same part on the same suspension is not swept again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fitment import cache
from fitment.motion.suspension import families
from fitment.parts.obstacles import Obstacle
from fitment.screening.raster import cell_of, shape, within
from fitment.screening.swept_obstacle import SweepRequest, SweptObstacle

KIND = "swept obstacle"
COUNT = 6  # arrays of a sweep
SLACK = 1e-6  # [mm], [-] by which a pose may lie beyond the ends


def known_sweeps(ask: SweepRequest, obstacles: Sequence[Obstacle]) -> list[SweptObstacle | None]:
    """What each part is known to sweep; None where that is not known, or what is kept cannot be that."""
    arrays = [cache.kept(name, COUNT) if name else None for name in _names_of(ask, obstacles)]
    return [
        _sweep_of(each, ask, obstacle) if each is not None else None
        for each, obstacle in zip(arrays, obstacles, strict=True)
    ]


def keep_sweeps(ask: SweepRequest, sweeps: Sequence[SweptObstacle]) -> None:
    """Keep what parts were found to sweep; also without what readings do to it, for who does not ask that."""
    bare = [replace(sweep, moved=sweep.moved[:, :0], thicker=0.0) for sweep in sweeps]
    asks = [(ask, sweeps), (replace(ask, variants=()), bare)] if ask.variants else [(ask, sweeps)]
    cache.keep({
        name: _arrays(sweep)
        for own, each in asks
        for name, sweep in zip(_names_of(own, [sweep.obstacle for sweep in each]), each, strict=True)
        if name is not None
    })  # fmt: skip


def _names_of(ask: SweepRequest, obstacles: Sequence[Obstacle]) -> list[str | None]:
    """Under which name the sweep of each part is kept; None where nothing is."""
    bare = cache.name_of(replace(ask.axle, obstacles=()), ask.travel)
    moved = [cache.name_of(replace(variant.axle, obstacles=())) for variant in ask.variants]
    read = [{obstacle.name: obstacle for obstacle in variant.axle.obstacles} for variant in ask.variants]
    return [
        cache.name_of(KIND, bare, tuple(moved), obstacle, tuple(parts[obstacle.name] for parts in read))
        for obstacle in obstacles
    ]


def _arrays(sweep: SweptObstacle) -> list[NDArray[Any]]:
    swept = np.packbits(sweep.swept)
    return [sweep.plane, sweep.at, sweep.family, sweep.moved, np.array(sweep.thicker), swept]


def _sweep_of(arrays: Sequence[NDArray[Any]], ask: SweepRequest, obstacle: Obstacle) -> SweptObstacle | None:
    """The sweep that arrays tell; None where they cannot be one, whoever wrote them."""
    plane, at, family, moved, thicker, swept = arrays
    ways, count, cells = families(ask.axle), plane.shape[:1], int(np.prod(shape()))
    shares = len(ways[0].levels)
    expected: list[tuple[tuple[int, ...], type]] = [
        ((*count, 2), float), ((*count, 1 + shares), float), (count, int), ((*count, len(ask.variants), 2), float),
        ((), float), ((-(-cells // 8),), np.uint8),
    ]  # fmt: skip
    if [(array.shape, array.dtype) for array in arrays] != [(of, np.dtype(kind)) for of, kind in expected]:
        return None
    low, high = (np.array([end, *[share] * shares]) for end, share in zip(ask.travel, (-1.0, 1.0), strict=True))
    sound = (
        within(plane).all() and (plane[:, 1] >= 0).all() and np.isfinite(moved).all() and 0 <= thicker < np.inf
        and ((family >= 0) & (family < len(ways))).all() and ((at >= low - SLACK) & (at <= high + SLACK)).all()
    )  # fmt: skip
    marked = np.unpackbits(swept, count=cells).astype(bool).reshape(shape())
    return SweptObstacle(obstacle, plane, at, family, cell_of(plane), moved, float(thicker), marked) if sound else None
