"""The free space round the hub in its half plane, and what keeps a wheel out of the rest, as polygons.

For pictures: outlines come from a raster, good to about a millimetre. Clearances are not taken from them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from fitment.screening.keep_out import KeepOut, outlines

HUB = (0.0, 40.0)  # (y', r) of a place of the hub face, which every wheel covers


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
    kept_out, frame = outlines(kept)
    free = frame.difference(shapely.union_all([area for _, area in kept_out]))
    parts = shapely.get_parts(free)
    hub = shapely.Point(HUB)
    return FreeSpace(kept_out, parts[int(np.argmin(shapely.distance(parts, hub)))] if len(parts) else free)
