"""Angles of the steering axis and where the wheel meets the ground (ISO 8855 signs of the design)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fitment.frames import UP, Array, unit
from fitment.motion.poses import Poses


@dataclass(frozen=True)
class SteeringGeometry:
    """In n poses. Entries that need a steering axis are None where there is none.

    contact : contact point P, body frame (n, 3) [mm]
    caster, kingpin_inclination : (n,) [deg], positive = top rearward, top inboard
    scrub_radius, mechanical_trail : (n,) [mm], positive = contact outboard of the axis, contact behind it
    """

    contact: Array
    caster: Array | None
    kingpin_inclination: Array | None
    scrub_radius: Array | None
    mechanical_trail: Array | None


def steering_angles(poses: Poses, *, centre_line: float, loaded_radius: float) -> SteeringGeometry:
    """Steering angles and ground offsets.

    centre_line : y' of the rim's centre line, spacer - ET [mm]
    loaded_radius : wheel centre to ground along the wheel plane [mm]
    Source: ISO 8855 for angles and their signs, SAE J670 for the scrub radius, from memory.
    """
    s = poses.spin_axis
    down = unit(UP - s[:, 2:] * s)
    contact = poses.origin + centre_line * s - loaded_radius * down
    lower, upper = poses.axis_lower, poses.axis_upper
    if lower is None or upper is None:
        return SteeringGeometry(contact, None, None, None, None)
    lean = upper - lower
    caster = np.degrees(np.arctan2(-lean[:, 0], lean[:, 2]))
    inclination = np.degrees(np.arctan2(-lean[:, 1], lean[:, 2]))
    on_ground = lower + lean * ((contact[:, 2] - lower[:, 2]) / lean[:, 2])[:, None]
    across = unit(np.stack([s[:, 0], s[:, 1], 0 * s[:, 0]], -1))
    ahead = np.cross(across, UP)
    offset = contact - on_ground
    return SteeringGeometry(contact, caster, inclination, np.sum(offset * across, -1), -np.sum(offset * ahead, -1))
