"""The margin over travel and steering: the least over all parts of clearance less what is required, and where it is.

In the poses that the sliders of a page stop at, so that a picture, the data and a page say the same.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fitment.answers.slider_poses import SliderMotion, motions, moved
from fitment.checks.case import Case
from fitment.checks.short_regions import Beside
from fitment.frames import Array
from fitment.parts.obstacles import fixed_to_hub


@dataclass(frozen=True)
class MarginMap:
    """The margin of every obstacle and part over travel and what moves beside it.

    travel : (n,) [mm], rising
    beside_kind : what moves beside it, None where nothing does
    beside : (n, m) steer [deg], positive to the left, or the opposite wheel's travel [mm]; steer in one column where
        nothing moves
    pairs : (obstacle, part) each; still : which of them stand still to the hub (p,)
    clearance, required : (p, n, m) [mm], nan in a pose that is not reached, and (p,) [mm]
    """

    travel: Array
    beside_kind: Beside | None
    beside: Array
    pairs: tuple[tuple[str, str], ...]
    still: NDArray[np.bool_]
    clearance: Array
    required: Array

    @cached_property
    def margins(self) -> Array:
        """Clearance less what is required (p, n, m) [mm]."""
        return np.asarray(self.clearance - self.required[:, None, None])

    @property
    def margin(self) -> Array:
        """The least of all parts (n, m) [mm]; nan in a pose that is not reached."""
        return np.asarray(self.margins.min(axis=0))

    @property
    def between(self) -> NDArray[np.intp]:
        """Which pair has it (n, m), -1 in a pose that is not reached."""
        known = np.isfinite(self.margin)
        return np.where(known, np.argmin(np.where(np.isnan(self.margins), np.inf, self.margins), axis=0), -1)


def least_margins(case: Case) -> MarginMap | None:
    """The map of a checked case, None where no part was checked. Raises MotionError.

    Both corners of a solid axle count, and where it steers every height of the opposite wheel.
    Source: derived here, the least of what the engine gives in each pose.
    """
    if not case.fit.clearances:
        return None
    ways = motions((case,))
    there = moved(case, ways)
    fit = there.case.fit
    pairs = tuple((o.name, part) for o in fit.obstacles for part in o.meets)
    still = np.array([fixed_to_hub(o) for o in fit.obstacles for _ in o.meets])
    known = {(entry.obstacle, entry.part, entry.pose): entry for entry in fit.clearances}
    free = np.array([[known[*pair, k].clearance for k in range(len(fit.poses))] for pair in pairs])
    required = np.array([known[*pair, 0].allowance for pair in pairs])
    kind = _kind(ways)
    grids = [_on_grid(motion, at, free) for motion, at in zip(ways, there.at, strict=True)]
    if kind == "steer":  # a right corner beside the left one is posed as in a mirror
        grids[1:] = [each[..., ::-1] for each in grids[1:]]
    clearance = np.fmin.reduce(grids)
    steer, opposite = fit.poses.turned, fit.poses.opposite
    values = opposite if kind == "opposite" and opposite is not None else steer
    beside = _on_grid(ways[0], there.at[0], values[None])[0]
    if "roll" in ways[0].kinds and kind == "steer":  # over all heights of the opposite wheel
        clearance, beside = np.fmin.reduce(clearance, axis=2), beside[:, beside.shape[1] // 2]
    return MarginMap(ways[0].levels[0], kind, beside, pairs, still, clearance, required)


def _kind(ways: Sequence[SliderMotion]) -> Beside | None:
    kinds = ways[0].kinds
    return None if not kinds else "steer" if "steer" in kinds else "opposite"


def _on_grid(motion: SliderMotion, at: NDArray[np.intp], values: Array) -> Array:
    """Values of poses (p, k) on the grid of a motion (p, n, m, ...), nan where it has no pose."""
    stops = at[: motion.stops]
    shape = [len(levels) for levels in motion.levels]
    there = np.where(stops >= 0, values[:, stops], np.nan)
    return np.asarray(there.reshape(len(values), *(shape if len(shape) > 1 else (*shape, 1))))
