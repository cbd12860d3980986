"""Parts of space that a profile names: boxes about the hub face's centre, and what the clock passes over."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitment.frames import Array

Range = tuple[float, float]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class ScanRegion:
    """What lies within all of its ranges; one that is not given is no limit.

    ahead, out, up : from the hub face's centre along the body's axes [mm]
    clock : angle about the hub centre in the side view, 0 = forward, 90 = up [deg]; of at most 180
    """

    ahead: Range | None = None
    out: Range | None = None
    up: Range | None = None
    clock: Range | None = None

    def _beyond(self, places: Array) -> list[Array]:
        """How far places (..., 3), from the hub face's centre, lie beyond each plane that bounds it [mm]."""
        beyond = []
        for axis, limits in enumerate((self.ahead, self.out, self.up)):
            if limits is not None:
                beyond += [limits[0] - places[..., axis], places[..., axis] - limits[1]]
        if self.clock is not None:
            (c0, s0), (c1, s1) = ((np.cos(a), np.sin(a)) for a in np.radians(self.clock))
            x, z = places[..., 0], places[..., 2]
            beyond += [s0 * x - c0 * z, c1 * z - s1 * x]
        return beyond

    def holds(self, places: Array) -> Flags:
        """Whether each place (..., 3), from the hub face's centre [mm], lies in it."""
        return np.all([each <= 0 for each in self._beyond(places)], axis=0)

    def holds_whole(self, triangles: Array) -> Flags:
        """Whether each triangle (n, 3, 3) lies in it with all its corners; it is convex, so with all of itself."""
        return np.asarray(self.holds(triangles).all(axis=1))

    def is_clear_of(self, triangles: Array) -> Flags:
        """Whether each triangle (n, 3, 3) lies beyond one bound as a whole; some that do not may be clear too."""
        return np.any([(each > 0).all(axis=1) for each in self._beyond(triangles)], axis=0)
