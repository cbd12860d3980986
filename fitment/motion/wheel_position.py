"""Where a wheel stands in the body at rest, straight ahead: the numbers a builder compares."""

from __future__ import annotations

import math
from dataclasses import dataclass

from fitment.motion.steering_geometry import steering_angles
from fitment.motion.suspension import poses_at_lock_fraction, poses_level
from fitment.parts.axle import Axle, Setup
from fitment.parts.tire import overall_diameter, section_width
from fitment.parts.wheel import backspacing, overall_width


@dataclass(frozen=True)
class WheelPosition:
    """At the setup's ride height, straight ahead; y counts outward from the vehicle's centre plane [mm].

    ride : travel at rest, + = wheel up into the body
    hub_face, outer_face, inner_face : y of the hub face and of the rim's flange edges, at hub height
    tire_outer, tire_inner : y of the widest of the tire
    track : between both wheels' contact points
    overall_diameter, section_width, backspacing : of what is bolted on
    hub_height : of the hub-face centre above the ground
    scrub_radius, mechanical_trail : None without a steering axis; positive = contact outboard, behind
    camber, toe_in, caster, kingpin_inclination : [deg], + = top outboard, front inboard, top rearward, top inboard
    """

    ride: float
    hub_face: float
    outer_face: float
    inner_face: float
    tire_outer: float
    tire_inner: float
    track: float
    overall_diameter: float
    section_width: float
    backspacing: float
    hub_height: float
    scrub_radius: float | None
    mechanical_trail: float | None
    camber: float
    toe_in: float
    caster: float | None
    kingpin_inclination: float | None

    def lengths(self) -> dict[str, float]:
        """Every length by name [mm]; those that are not known are left out.

        Source: derived here, the fields that are no angles.
        """
        angles = ("camber", "toe_in", "caster", "kingpin_inclination")
        return {name: value for name, value in vars(self).items() if name not in angles and value is not None}


def pressed_in(axle: Axle, setup: Setup) -> float:
    """How far the baseline's tire was pressed in when it was measured [mm], none where its hub stood too high.

    Source: derived here: the hub face's centre stood at `hub_height` at the reference pose. With camber the wheel's
    centre, spacer - ET out along the spin axis s, stands higher than that by (spacer - ET) s_z, and its loaded
    radius is tilted by the camber.
    """
    up = float(poses_at_lock_fraction(axle, 0.0, 0.0).spin_axis[0, 2])
    centre = setup.spacer.thickness - setup.wheel.offset
    radius = (axle.hub_height + centre * up) / math.sqrt(1 - up * up)
    return max(overall_diameter(setup.tire) / 2 - radius, 0.0)


def position_at_rest(axle: Axle, setup: Setup, deflection: float, loaded_radius: float | None = None) -> WheelPosition:
    """Where a setup's wheel stands at rest. Of an axle's one side, the track is twice its half.

    deflection : how far the tire is pressed in under load [mm]
    loaded_radius : wheel centre to ground along the wheel plane [mm]; overrides the deflection
    Source: geometry in the pose at rest; angles as in `steering_angles`.
    """
    corners = poses_level(axle, setup.ride, 0.0)
    pose = next(iter(corners.values()))
    diameter = overall_diameter(setup.tire)
    centre = setup.spacer.thickness - setup.wheel.offset
    radius = diameter / 2 - deflection if loaded_radius is None else loaded_radius
    # a panhard bar moves both corners the same way
    ground, *right = (steering_angles(p, centre_line=centre, loaded_radius=radius) for p in corners.values())
    other = right[0] if right else ground
    hub, out = float(pose.origin[0, 1]), float(pose.spin_axis[0, 1])
    rim, tire = overall_width(setup.wheel) / 2, section_width(setup.tire, setup.wheel.rim_width) / 2

    def first(values: object) -> float | None:
        return None if values is None else float(values[0])  # type: ignore[index]

    return WheelPosition(
        ride=setup.ride,
        hub_face=hub,
        outer_face=hub + out * (centre + rim),
        inner_face=hub + out * (centre - rim),
        tire_outer=hub + out * (centre + tire),
        tire_inner=hub + out * (centre - tire),
        track=float(ground.contact[0, 1] + other.contact[0, 1]),
        overall_diameter=diameter,
        section_width=2 * tire,
        backspacing=backspacing(setup.wheel),
        hub_height=float(pose.origin[0, 2] - ground.contact[0, 2]),
        scrub_radius=first(ground.scrub_radius),
        mechanical_trail=first(ground.mechanical_trail),
        camber=float(pose.camber[0]),
        toe_in=-float(pose.steer[0]),
        caster=first(ground.caster),
        kingpin_inclination=first(ground.kingpin_inclination),
    )
