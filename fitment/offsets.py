"""The offsets at which a wheel and tire keep every allowance, round the offset that was asked for."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon, affinity

from fitment.fit import Fit

FARTHEST = 80.0  # [mm] how far from the given offset a fitting one is sought
CLOSE = 0.05  # [mm] how near to the allowance the ends are found
STRIDE = 2.0  # [mm] step through offsets that overlap; a narrower window between two parts can be missed


def offset_range(found: Fit) -> tuple[float, float] | None:
    """Smallest and largest offset [mm] with every clearance at or above its allowance, or None.

    The range is the one that holds the given offset, else the nearest one within FARTHEST. It is found on
    the poses of this fit, in the nominal size; rings, fixed to the hub, count like the rest.
    """
    keep_out = _KeepOut(found)
    here = keep_out.margin(0.0)
    shift = 0.0 if here >= 0 else keep_out.nearest_free(here)
    if shift is None:
        return None
    outward, inward = keep_out.end(shift, 1.0), keep_out.end(shift, -1.0)
    offset = found.setup.wheel.offset
    return offset - outward, offset - inward


class _KeepOut:
    """All traces of all poses, one prepared geometry for each obstacle and part."""

    def __init__(self, found: Fit) -> None:
        self._parts: list[tuple[Polygon, object, float]] = []
        for trace in found.traces:
            everything = shapely.union_all(trace.shapes[:1]) if trace.obstacle.shape == "ring" else _collect(trace.shapes)
            shapely.prepare(everything)
            for part in trace.obstacle.meets:
                section = found.tire if part == "tire" else found.wheel
                asked = trace.obstacle.radius + trace.obstacle.allowance_to(part)
                self._parts.append((section, everything, asked))

    def margin(self, shift: float) -> float:
        """Smallest distance less what is asked for, with the sections moved outboard by shift [mm]."""
        worst = np.inf
        for section, everything, asked in self._parts:
            moved = affinity.translate(section, shift)
            worst = min(worst, float(shapely.distance(everything, moved)) - asked)
        return worst

    def nearest_free(self, here: float) -> float | None:
        """The smallest shift either way at which nothing is too close."""
        out, into = self._free(here, 1.0), self._free(here, -1.0)
        both = [shift for shift in (out, into) if shift is not None]
        return min(both, key=abs) if both else None

    def _free(self, here: float, way: float) -> float | None:
        shift, margin = 0.0, here
        while abs(shift) <= FARTHEST:
            shift += way * max(STRIDE, -margin)
            margin = self.margin(shift)
            if margin >= 0:
                return shift
        return None

    def end(self, shift: float, way: float) -> float:
        """Walk on until the margin is used up: no step is longer than the margin, so none jumps a contact."""
        start, margin = shift, self.margin(shift)
        while margin > CLOSE and abs(shift - start) < 2 * FARTHEST:
            shift += way * (margin - CLOSE / 2)
            margin = self.margin(shift)
        return shift


def _collect(shapes: object) -> object:
    parts = shapely.get_parts(shapes)
    kind = shapely.multipoints if parts[0].geom_type == "Point" else shapely.multilinestrings
    return kind(parts)
