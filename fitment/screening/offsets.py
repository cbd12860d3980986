"""The offsets at which a wheel and tire keep every allowance, round the offset that was asked for.

With another offset the rim and the tire move along the spin axis while the disc stays at the hub face. A
traced point at distance r from the axis therefore blocks one interval of rim positions: those at which the
rim or tire, widened by the clearance required, covers it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from shapely import Polygon

from fitment.checks.fit import Fit, fit_setup
from fitment.clearance.pose_grid import Sweep, sweep
from fitment.clearance.section_distance import trace_shapes
from fitment.clearance.trace import Trace, chords
from fitment.frames import Array
from fitment.parts.sections import barrel_section

WITHIN = 0.05  # [mm] how far inside a range its end is checked
ROUNDS = 4
FARTHEST = 80.0  # [mm] how far from the given offset a fitting one is sought
SLICE = 0.5  # [mm] spacing of the radii at which a section's width is taken
POINT_STEP = 4.0  # [mm] spacing of the points on a trace


def offset_range(found: Fit, swept: Sweep | None = None, known: Blocked | None = None) -> tuple[float, float] | None:
    """Smallest and largest offset [mm] with every clearance at or above its allowance, or None.

    The range is the one that holds the given offset, else the nearest one within FARTHEST; in the nominal size.
    Its ends are checked again with the poses that come closest there, until they hold.
    swept : of the fit's axle and ride height; known : what is blocked for wheels that differ in offset alone
    """
    swept = swept or sweep(found.axle, found.setup.ride)
    known = Blocked() if known is None else known
    if known.empty:
        known.add(found)
    offset = found.setup.wheel.offset
    for _ in range(ROUNDS):
        free = known.free(offset)
        if free is None:
            return None
        doubtful = [end for end in free if not known.holds(end, offset)]
        if not doubtful:
            return free
        for end in doubtful:
            inside = end + (WITHIN if end == free[0] else -WITHIN)
            there = fit_setup(replace(found.setup, wheel=replace(found.setup.wheel, offset=inside)), swept)
            known.add(there, end)
    return known.free(offset)


class Blocked:
    """Offsets at which something is too close, collected from the fits made so far."""

    def __init__(self) -> None:
        self._spans = np.empty((0, 2))
        self._checked: list[float] = []
        self._disc_is_met = False
        self.empty = True

    def add(self, found: Fit, checked_end: float | None = None) -> None:
        """Take in what a fit's poses block; `checked_end` is the end of a range it was made for."""
        setup, spans = found.setup, [self._spans]
        barrel = barrel_section(setup.wheel, setup.spacer.thickness)
        for trace in found.traces:
            points = _points(trace)
            for part in trace.obstacle.meets:
                asked = trace.obstacle.radius + trace.obstacle.allowance_to(part)
                shifts = _blocked(found.tire if part == "tire" else barrel, points, asked)
                spans.append(setup.wheel.offset - shifts[:, ::-1])
        self._spans = _merged(np.concatenate(spans))
        self._disc_is_met |= _disc_is_met(found, barrel)
        self.empty = False
        if checked_end is not None:
            self._checked.append(checked_end)

    def free(self, offset: float) -> tuple[float, float] | None:
        """The free range that holds the offset, or the nearest one; cut at FARTHEST."""
        if self._disc_is_met:
            return None
        return _free_interval(self._spans, offset)

    def holds(self, end: float, offset: float) -> bool:
        """Whether an end was checked, or is only where the search stopped."""
        return abs(abs(end - offset) - FARTHEST) < 1e-6 or any(abs(end - each) < WITHIN for each in self._checked)


def _points(trace: Trace) -> Array:
    """Points (q, 2) of the trace in all poses; a ring, fixed to the hub, is taken once."""
    poses = 1 if trace.obstacle.shape == "ring" else len(trace)
    if trace.point:
        return trace.low[:, 0]
    pose, line = (each.ravel() for each in np.indices((poses, trace.low.shape[1])))
    plane, _ = chords(trace, pose, line)
    a, b = plane[:, :-1].reshape(-1, 2), plane[:, 1:].reshape(-1, 2)
    parts = np.ceil(np.linalg.norm(b - a, axis=1) / POINT_STEP).astype(int)
    owner = np.repeat(np.arange(len(a)), parts + 1)
    share = (np.arange(len(owner)) - np.repeat(np.cumsum(parts + 1) - parts - 1, parts + 1)) / np.maximum(parts, 1)[
        owner
    ]
    return a[owner] + share[:, None] * (b - a)[owner]


def _disc_is_met(found: Fit, barrel: Polygon) -> bool:
    """Whether something comes too close to the part of the wheel that stays at the hub face."""
    disc = shapely.difference(found.wheel, shapely.buffer(barrel, 0.01))
    return any(
        float(shapely.distance(disc, trace_shapes(trace)).min())
        < trace.obstacle.radius + trace.obstacle.allowance_to("wheel")
        for trace in found.traces
        if "wheel" in trace.obstacle.meets
    )


def _blocked(section: Polygon, points: Array, asked: float) -> Array:
    """Intervals (q, 2) of shifts [mm] at which the section comes closer than asked to the points."""
    wide = shapely.buffer(section, asked, quad_segs=32)
    _, r0, _, r1 = wide.bounds
    radii = np.arange(r0, r1 + SLICE, SLICE)
    lines = shapely.linestrings(
        np.stack([np.full((len(radii), 2), (-2e3, 2e3)), np.repeat(radii, 2).reshape(-1, 2)], -1)
    )
    bounds = shapely.bounds(shapely.intersection(wide, lines))
    width = np.where(np.isnan(bounds[:, [0, 2]]), (1e9, -1e9), bounds[:, [0, 2]])
    known = width[:, 0] < width[:, 1]
    near = points[(points[:, 1] >= radii[known][0]) & (points[:, 1] <= radii[known][-1])]
    left, right = (np.interp(near[:, 1], radii[known], width[known, i]) for i in (0, 1))
    return np.stack([near[:, 0] - right, near[:, 0] - left], -1)


def _merged(spans: Array) -> Array:
    """Overlapping intervals (q, 2) joined, rising."""
    if not len(spans):
        return spans
    rising = spans[np.argsort(spans[:, 0])]
    reach = np.maximum.accumulate(rising[:, 1])
    first = np.concatenate([[True], rising[1:, 0] > reach[:-1]])
    return np.column_stack([rising[first, 0], np.maximum.reduceat(rising[:, 1], np.flatnonzero(first))])


def _free_interval(blocked: Array, offset: float) -> tuple[float, float] | None:
    """The free interval that holds the offset, or the nearest one; ends beyond FARTHEST are cut there."""
    low, high = offset - FARTHEST, offset + FARTHEST
    starts = np.concatenate([[low], blocked[:, 1]])
    ends = np.concatenate([blocked[:, 0], [high]])
    free = [(max(a, low), min(b, high)) for a, b in zip(starts, ends, strict=True)]
    free = [(float(a), float(b)) for a, b in free if b > a]
    return min(free, key=lambda span: max(span[0] - offset, offset - span[1], 0.0), default=None)
