"""Parts whose place is known by a tape reading: slid along y until the baseline reproduces it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from shapely import Polygon

from fitment.clearance.section_distance import clearances
from fitment.clearance.trace import place, to_hub, trace_of_corners
from fitment.errors import FitmentError
from fitment.frames import Array
from fitment.motion.poses import Poses
from fitment.motion.suspension import poses_at_lock_fraction
from fitment.parts.axle import Axle, Setup
from fitment.parts.obstacles import Obstacle, core, slid
from fitment.parts.sections import tire_section, wheel_section
from fitment.parts.solid_panel import filled

FARTHEST = 600.0  # [mm] from the wheel's centre plane
STEP = 10.0  # [mm] first search; then each step is cut in fifty


def settle_gaps(axle: Axle, baseline: Axle, setup: Setup) -> Axle:
    """The axle with every open `measured_gap` settled against the baseline at rest, straight ahead.

    The space behind solid panels is then filled, on the side away from the baseline's wheel.
    Raises FitmentError when no place along y gives the reading, and for a solid panel seen edge-on.
    """
    if not any(o.measured_gap or o.solid_behind for o in axle.obstacles):
        return axle
    pose = poses_at_lock_fraction(baseline, setup.ride, 0.0)
    placed = (_slid(o, pose, setup) if o.measured_gap else o for o in axle.obstacles)
    return replace(axle, obstacles=tuple(_filled(o, pose, setup) if o.solid_behind else o for o in placed))


def _filled(obstacle: Obstacle, pose: Poses, setup: Setup) -> Obstacle:
    """A solid panel filled away from the centre of the baseline's wheel, as its carrier takes it there."""
    carrier = obstacle.fixed_to[0]
    if carrier not in pose.motions:
        return obstacle  # it cannot be placed, and is not checked
    wheel = pose.origin[0] + (setup.spacer.thickness - setup.wheel.offset) * pose.spin_axis[0]
    rotation, shift = (motion[0] for motion in pose.motions[carrier])
    return filled(obstacle, rotation.T @ (wheel - shift))


def _slid(obstacle: Obstacle, pose: Poses, setup: Setup) -> Obstacle:
    assert obstacle.measured_gap is not None
    unknown = [carrier for carrier in obstacle.fixed_to if carrier not in pose.motions]
    if unknown:
        raise FitmentError(
            f"{obstacle.name}: its measured gap cannot be settled, because the baseline's suspension does not describe "
            f"the motion of the {unknown[0]}; give the points themselves, or fix it to body or knuckle."
        )
    spacer = setup.spacer.thickness
    if obstacle.measured_gap.to == "tire":
        section = tire_section(setup.tire, setup.wheel, spacer)
    else:
        section = wheel_section(setup.wheel, spacer)
    centre = float(pose.origin[0, 1] + (spacer - setup.wheel.offset) * pose.spin_axis[0, 1])
    now = float(core(obstacle)[:, 1].mean())
    outward = 1.0 if now >= centre else -1.0
    wanted = obstacle.measured_gap.gap
    sheet = replace(obstacle, solid_behind=False)  # a tape ends at the sheet; which side is filled is not known yet

    def gap(distances: Array) -> Array:
        """Reading with the part so far from the wheel's centre plane."""
        return _gaps_when_moved(sheet, section, pose, centre + outward * distances - now)

    low, high = _first_rise(obstacle, gap, np.arange(0.0, FARTHEST + STEP, STEP), wanted)
    for _ in range(4):
        low, high = _first_rise(obstacle, gap, np.linspace(low, high, 51), wanted)
    return slid(obstacle, centre + outward * (low + high) / 2 - now)


def _first_rise(
    obstacle: Obstacle, gap: Callable[[Array], Array], distances: Array, wanted: float
) -> tuple[float, float]:
    """First pair of neighbouring distances between which the gap rises through the wanted one."""
    values = gap(distances)
    rise = np.flatnonzero((values[:-1] < wanted) & (values[1:] >= wanted))
    if not len(rise):
        raise FitmentError(
            f"{obstacle.name}: no place along y gives the measured gap of {wanted:g} mm; with the x and z given "
            f"the gap is never below {values.min():.1f} mm. Check x and z, and which part the tape went to."
        )
    return float(distances[rise[0]]), float(distances[rise[0] + 1])


def _gaps_when_moved(obstacle: Obstacle, section: Polygon, pose: Poses, dy: Array) -> Array:
    """Clearance (q,) with the part moved by dy (q,), each of its points as its own carrier takes it there."""
    here, there = (to_hub(place(part, pose), pose)[0] for part in (obstacle, slid(obstacle, 1.0)))
    return clearances(section, trace_of_corners(obstacle, here + dy[:, None, None] * (there - here)))
