"""The offsets at which a wheel and tire keep every allowance, round the offset that was asked for.

With another offset the rim and the tire move along the spin axis while the disc stays at the hub face. A
traced point at distance r from the axis therefore blocks one interval of rim positions: those at which the
rim or tire, widened by the clearance asked for, covers it.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Polygon

from fitment.clearance import trace_shapes
from fitment.fit import Fit
from fitment.frames import Array
from fitment.sections import barrel_section
from fitment.trace import Trace, chords

FARTHEST = 80.0  # [mm] how far from the given offset a fitting one is sought
SLICE = 0.5  # [mm] spacing of the radii at which a section's width is taken
PARTS = 4  # into which each chord of a trace is cut


def offset_range(found: Fit) -> tuple[float, float] | None:
    """Smallest and largest offset [mm] with every clearance at or above its allowance, or None.

    The range is the one that holds the given offset, else the nearest one within FARTHEST. It is taken on the
    poses of this fit and in the nominal size. What the disc meets does not depend on the offset.
    """
    setup = found.setup
    barrel = barrel_section(setup.wheel, setup.spacer.thickness)
    blocked = [np.empty((0, 2))]
    for trace in found.traces:
        points = _points(trace)
        for part in trace.obstacle.meets:
            asked = trace.obstacle.radius + trace.obstacle.allowance_to(part)
            blocked.append(_blocked(found.tire if part == "tire" else barrel, points, asked))
    if _disc_is_met(found, barrel):
        return None
    free = _free_interval(np.concatenate(blocked))
    if free is None:
        return None
    offset = setup.wheel.offset
    return offset - free[1], offset - free[0]


def _points(trace: Trace) -> Array:
    """Points (q, 2) of the trace in all poses; a ring, fixed to the hub, is taken once."""
    poses = 1 if trace.obstacle.shape == "ring" else len(trace)
    if trace.point:
        return trace.low[:, 0]
    pose, line = (each.ravel() for each in np.indices((poses, trace.low.shape[1])))
    plane, _ = chords(trace, pose, line)
    share = np.linspace(0.0, 1.0, PARTS + 1)[:, None, None, None]
    return ((1 - share) * plane[:, :-1] + share * plane[:, 1:]).reshape(-1, 2)


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


def _free_interval(blocked: Array) -> tuple[float, float] | None:
    """The free interval of shifts that holds zero, or the nearest one; ends beyond FARTHEST are cut there."""
    edges = blocked[np.argsort(blocked[:, 0])]
    covered = np.maximum.accumulate(edges[:, 1]) if len(edges) else np.empty(0)
    starts = np.concatenate([[-FARTHEST], covered])
    ends = np.concatenate([edges[:, 0], [FARTHEST]])
    free = [(max(a, -FARTHEST), min(b, FARTHEST)) for a, b in zip(starts, ends, strict=True) if b > a]
    free = [(float(a), float(b)) for a, b in free if b > a]
    return min(free, key=lambda span: max(span[0], -span[1], 0.0), default=None)
