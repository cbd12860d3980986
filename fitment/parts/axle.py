"""One axle of one build, resolved: everything in body coordinates, nothing left to look up.

Frozen records only. A changed part is a new part (`dataclasses.replace`).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from fitment.corners import side_of
from fitment.parts.brake import Brake
from fitment.parts.hub import Adapter, Hub
from fitment.parts.obstacles import Obstacle, Point
from fitment.parts.service import Service
from fitment.parts.tire import Tire
from fitment.parts.wheel import Wheel

VehicleClass = Literal["passenger_car", "light_truck"]
VEHICLE_CLASSES: tuple[VehicleClass, ...] = ("passenger_car", "light_truck")


@dataclass(frozen=True)
class Spacer:
    """What stands between the hub face and the wheel.

    thickness : [mm], 0 = none
    adapter : its own circle and studs, when it changes them
    mass : [kg], None = not known
    """

    thickness: float = 0.0
    adapter: Adapter | None = None
    mass: float | None = None


@dataclass(frozen=True)
class Setup:
    """What is bolted on, and the height it stands at.

    ride : travel at rest [mm], positive = wheel up into the body
    ride_name : the profile's name for it, or None for a plain number
    """

    wheel: Wheel
    tire: Tire
    spacer: Spacer = Spacer()
    ride: float = 0.0
    ride_name: str | None = None


@dataclass(frozen=True)
class Steering:
    """Steer angle of the left wheel at each lock and the reference travel.

    lock_left, lock_right : [deg], both positive
    """

    lock_left: float
    lock_right: float


@dataclass(frozen=True)
class TravelCurve:
    """A smooth curve over travel that is 0 at the reference pose, as `parts.travel_curve.curve_at` draws it.

    points : (travel from the reference pose [mm], value read there [mm], or [deg]) pairs; empty = 0, but for the bend
    bend : how much the curve bends beyond what the points tell [mm], or [deg], at 100 mm of travel
    """

    points: tuple[tuple[float, float], ...] = ()
    bend: float = 0.0


@dataclass(frozen=True)
class TapeSuspension:
    """Motion of a wheel whose hardpoints nobody knows: a straight line over travel, and what is read beside it.

    camber : at travel 0 [deg]
    toe_in : each wheel [deg]
    camber_per_100mm : change of camber for 100 mm of bump [deg]
    track_per_100mm : outward motion of this hub face for 100 mm of bump [mm]
    axis_lower, axis_upper : two points of the steering axis, body frame at travel 0 [mm], or None
    camber_curve [deg], out_curve, ahead_curve [mm] : added to that line; a move of the hub face's centre
    """

    camber: float = 0.0
    toe_in: float = 0.0
    camber_per_100mm: float = 0.0
    track_per_100mm: float = 0.0
    axis_lower: Point | None = None
    axis_upper: Point | None = None
    camber_curve: TravelCurve = TravelCurve()
    out_curve: TravelCurve = TravelCurve()
    ahead_curve: TravelCurve = TravelCurve()


@dataclass(frozen=True)
class LinkSuspension:
    """A suspension of rigid links.

    kind : double_wishbone, strut or five_link
    camber, toe_in : at its reference pose [deg]
    points : (name, place) of the hardpoints, body frame at its reference pose [mm]
    on_body : (name, place) of inner pivots that an adjuster has moved in the body [mm]
    on_arm : (name, place) of ball joints that an adjuster has moved on their arm, arm as measured [mm]
    tie_rod : length of the tie rod or toe link when it was re-set [mm], else as measured
    longer : (end on the knuckle, by how much) of links whose length an adjuster has changed [mm]
    stroke : how much shorter and longer than at the reference pose a strut can get [mm], if measured
    """

    kind: str
    camber: float
    toe_in: float
    points: tuple[tuple[str, Point], ...]
    on_body: tuple[tuple[str, Point], ...] = ()
    on_arm: tuple[tuple[str, Point], ...] = ()
    tie_rod: float | None = None
    longer: tuple[tuple[str, float], ...] = ()
    stroke: tuple[float, float] | None = None


@dataclass(frozen=True)
class AxleEnd:
    """The other end of a solid axle whose sides differ, as in a mirror: y outboard there too.

    hub_face_at : centre of its hub face at its reference pose [mm]
    links : (name, place) as of `SolidAxle` [mm]
    """

    hub_face_at: Point
    links: tuple[tuple[str, Point], ...] = ()


@dataclass(frozen=True)
class SolidAxle:
    """A rigid beam from wheel to wheel; points in the body frame at its reference pose [mm], or None.

    camber, toe_in : each wheel [deg]
    panhard_body, panhard_axle : ends of the bar that holds it sideways
    axis_lower, axis_upper : of the steering axis
    links : (name, place) of the ends of this side's links, or of its leaf spring [mm]; empty = none is known
    ahead_per_100mm : motion ahead of an end of the beam for 100 mm of its bump, beside that of the links [mm]
    ahead_bend : the same, growing with the square of the travel: what it is at 100 mm [mm]
    caster_per_100mm : how far the beam turns about itself for 100 mm of its middle's bump, where no upper links hold
        it: change of caster [deg]
    across : the other end, None = as this one in a mirror
    """

    camber: float = 0.0
    toe_in: float = 0.0
    panhard_body: Point | None = None
    panhard_axle: Point | None = None
    axis_lower: Point | None = None
    axis_upper: Point | None = None
    links: tuple[tuple[str, Point], ...] = ()
    ahead_per_100mm: float = 0.0
    ahead_bend: float = 0.0
    caster_per_100mm: float = 0.0
    across: AxleEnd | None = None


Suspension = TapeSuspension | LinkSuspension | SolidAxle


@dataclass(frozen=True)
class Adjuster:
    """Something that can be set on a suspension.

    moves : names of the points it moves; of a link whose length is set, its end on the knuckle
    out, forward : settings of a ball joint with several positions [mm]; out in the arm's plane, square to its
        pivots, forward along them
    eccentric : radius of an eccentric bushing's circle [mm]; each point is turned on its own
    step : smallest turn [deg], None = any; now : how each is set [deg], 0 = outboard, 90 = up, if known
    length : least and most by which a link can be made longer than measured [mm], any between
    """

    name: str
    moves: tuple[str, ...]
    out: tuple[float, ...] = ()
    forward: tuple[float, ...] = ()
    eccentric: float | None = None
    step: float | None = None
    now: tuple[float, ...] = ()
    length: tuple[float, float] | None = None


@dataclass(frozen=True)
class LowPoint:
    """The lowest place of a part, held against the ground.

    fixed_to : what carries it; at : body frame at the reference pose [mm]; tolerance : of its height [mm]
    """

    name: str
    fixed_to: str
    at: Point
    tolerance: float = 0.0


@dataclass(frozen=True)
class Axle:
    """One corner (the left one, or the right one in a mirror) of one axle of one build.

    name : front or rear; where the two sides differ with its side, "front right"
    hub_face_at : centre of the hub face at the reference pose, body frame [mm]
    hub_height : hub centre above ground at the baseline's reference pose [mm]
    droop, bump : ends of travel [mm], droop <= 0 <= bump
    ride_heights : (name, travel [mm]) pairs as the profile orders them
    steer_limit : (travel [mm], share of the lock angle) pairs, rising travel; empty = to the stop everywhere
    axle_load : on both wheels [kg]
    top_speed : of the vehicle [km/h]
    vehicle_class : of the vehicle, which decides what a passenger tire may carry; None = not told
    final_drive : turns of the drive shaft for one of the wheel [-], None = not known
    obstacles : in body coordinates at the reference pose; a `measured_gap` may still be open
    service : what is counted in service beside the ideal solid, None = nothing
    """

    name: str
    suspension: Suspension
    hub_face_at: Point
    hub_height: float
    droop: float
    bump: float
    ride_heights: tuple[tuple[str, float], ...] = ()
    steering: Steering | None = None
    steer_limit: tuple[tuple[float, float], ...] = ()
    driven: bool = False
    axle_load: float | None = None
    hub: Hub | None = None
    brake: Brake | None = None
    obstacles: tuple[Obstacle, ...] = ()
    top_speed: float | None = None
    adjusters: tuple[Adjuster, ...] = ()
    vehicle_class: VehicleClass | None = None
    final_drive: float | None = None
    low_points: tuple[LowPoint, ...] = ()
    service: Service | None = None

    @property
    def title(self) -> str:
        """What it is called in a sentence: front axle, front left corner."""
        return f"{self.name} {'corner' if len(self.sides) == 1 else 'axle'}"

    @property
    def sides(self) -> tuple[str, ...]:
        """The sides of the vehicle that it stands for: left and right where they are alike."""
        own = side_of(self.name)
        return (own,) if own else ("left", "right")
