"""The room: the free space round the hub in its half plane, and what keeps a wheel out of the rest, as polygons.

For pictures: outlines come from a raster, good to about a millimetre. Clearances are not taken from them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from fitment.screening.keep_out import KeepOut
from fitment.screening.raster import CELL, FARTHEST, Mask, centre_of, shape

HUB = (0.0, 40.0)  # (y', r) of a place of the hub face, which every wheel covers
SMOOTH = 2.0 * CELL  # [mm]


@dataclass(frozen=True)
class FreeSpace:
    """Polygons (y', r) [mm], hub frame.

    kept_out : (part, what it sweeps in all poses, its radius put round it)
    free : what is left and hangs together with the hub; a section beyond a thin panel is not in it
    """

    kept_out: tuple[tuple[str, BaseGeometry], ...]
    free: BaseGeometry


def space_round_hub(kept: KeepOut) -> FreeSpace:
    """The room of an axle in all poses of its keep-out."""
    out = tuple((each.obstacle.name, _outline(each.swept).buffer(each.obstacle.radius)) for each in kept.parts)
    low, high, far = FARTHEST
    edge = 2 * CELL  # what is traced ends short of the raster's outermost cells
    taken = shapely.union_all([area for _, area in out])
    free = shapely.box(low + edge, 0.0, high - edge, far - edge).difference(taken)
    parts = shapely.get_parts(free)
    hub = shapely.Point(HUB)
    return FreeSpace(out, parts[int(np.argmin(shapely.distance(parts, hub)))] if len(parts) else free)


def _outline(raster: Mask) -> BaseGeometry:
    """Outline of marked cells, their steps rounded off."""
    step = np.diff(np.pad(raster, [(0, 0), (1, 1)]).astype(np.int8), axis=1)
    row, first = np.nonzero(step == 1)
    _, after = np.nonzero(step == -1)
    low, half = centre_of(row * shape()[1] + first), CELL / 2
    high = centre_of(row * shape()[1] + after - 1)
    boxes = shapely.box(low[:, 0] - half, low[:, 1] - half, high[:, 0] + half, high[:, 1] + half)
    return shapely.union_all(boxes).buffer(SMOOTH).buffer(-SMOOTH).simplify(0.6 * CELL)
