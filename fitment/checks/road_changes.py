"""What another setup changes on the road, against the one the vehicle had: rolling, gearing, heights, moments, mass.

Signs. Speedometer: (indicated - true) / true, on the new tire, if the speedometer was right on the old one; positive =
it shows more than the true speed. Gearing: change of the drive shaft's turns for one kilometre; positive = the engine
turns more, as with a shorter final drive. Lever: of the wheel's load about the hub face, positive = further outboard.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from fitment.motion.wheel_position import WheelPosition
from fitment.parts.axle import Axle, Setup
from fitment.parts.tire import ROLLING_FACTOR, Tire, overall_diameter

GRAVITY = 9.80665  # [m/s2] standard acceleration: 3rd General Conference on Weights and Measures, 1901


@dataclass(frozen=True)
class CornerOnRoad:
    """One axle with what is bolted to it, and how it stands."""

    axle: Axle
    setup: Setup
    stance: WheelPosition


@dataclass(frozen=True)
class Mass:
    """One unsprung part of one corner. Parts that are absent have mass 0.

    old, new : [kg], None = not known
    """

    part: str
    old: float | None
    new: float | None


@dataclass(frozen=True)
class Track:
    """Track at the ground of one axle.

    old, new : between both wheels' contact points [mm]
    """

    axle: str
    old: float
    new: float


@dataclass(frozen=True)
class RoadChanges:
    """From the old to the new corner.

    circumference : rolling, (old, new) [mm]; None where a tire is no radial
    revs_per_km : turns in a kilometre, (old, new) [1/km]; None as above
    speedometer : error on the new tire [%], see the module's text; None where the circumference is not known
    gearing : change of the drive shaft's turns per km [%], on a driven axle
    final_drive : fitted, and the one that would feel the same on the old tire [-], where it is known
    body : change of the body's height over the ground at this axle [mm], positive = higher
    tracks : of this axle, and of the other where it is known
    lever : change of the lever of the wheel's load about the hub face [mm], positive = further outboard
    moment : the same x the load [N m], of half the axle load at rest, None without an axle load. The bearing's centre
        is not known: only the change is
    another_hub : the hubs differ, so the bearings may stand elsewhere
    unsprung : parts of a corner
    unsprung_change : of those known in both [kg], None when there is none
    """

    circumference: tuple[float, float] | None
    revs_per_km: tuple[float, float] | None
    speedometer: float | None
    gearing: float | None
    final_drive: tuple[float, float] | None
    body: float
    tracks: tuple[Track, ...]
    lever: float
    moment: float | None
    another_hub: bool
    unsprung: tuple[Mass, ...]
    unsprung_change: float | None


def changes_on_road(old: CornerOnRoad, new: CornerOnRoad, other: Track | None = None) -> RoadChanges:
    """What changes on the road from one corner to another of the same axle.

    other : track of the other axle
    Source: rolling circumference by ETRTO design practice, from memory; standard acceleration by the 3rd General
        Conference on Weights and Measures, 1901; the rest derived here, signs as at the top of the module.
    """
    rolling = _both(rolling_circumference(old.setup.tire), rolling_circumference(new.setup.tire))
    ratio = None if rolling is None else rolling[0] / rolling[1]
    drives = _both(old.axle.final_drive, new.axle.final_drive)
    geared = 1.0 if drives is None else drives[1] / drives[0]
    lever = _lever(new.stance) - _lever(old.stance)
    load = new.axle.axle_load
    masses = tuple(_masses(old, new))
    known = [mass.new - mass.old for mass in masses if mass.old is not None and mass.new is not None]
    mine = Track(new.axle.name, old.stance.track, new.stance.track)
    fitted = new.axle.final_drive
    return RoadChanges(
        circumference=rolling,
        revs_per_km=None if rolling is None else (1e6 / rolling[0], 1e6 / rolling[1]),
        speedometer=None if ratio is None else 100 * (ratio - 1),
        gearing=100 * (ratio * geared - 1) if ratio is not None and new.axle.driven else None,
        final_drive=(fitted, fitted * ratio) if ratio is not None and fitted is not None else None,
        body=_body(new.stance) - _body(old.stance),
        tracks=(mine,) if other is None else (mine, other),
        lever=lever,
        moment=None if load is None else load / 2 * GRAVITY * lever / 1000,
        another_hub=new.axle.hub != old.axle.hub,
        unsprung=masses,
        unsprung_change=sum(known) if known else None,
    )


def rolling_circumference(tire: Tire) -> float | None:
    """Way of one turn [mm], 3.05 x overall diameter of a radial; None for bias-ply.

    Source: ETRTO design practice, from memory.
    """
    return ROLLING_FACTOR * overall_diameter(tire) if tire.radial else None


def _both(old: float | None, new: float | None) -> tuple[float, float] | None:
    return None if old is None or new is None else (old, new)


def _lever(stance: WheelPosition) -> float:
    """Contact point outboard of the hub face [mm]."""
    return stance.track / 2 - stance.hub_face


def _body(stance: WheelPosition) -> float:
    """Height of the body over the ground at the axle, up to a constant [mm]."""
    return stance.hub_height - stance.ride


def _masses(old: CornerOnRoad, new: CornerOnRoad) -> Iterator[Mass]:
    yield Mass("wheel", old.setup.wheel.mass, new.setup.wheel.mass)
    yield Mass("tire", old.setup.tire.mass, new.setup.tire.mass)
    spacers = [0.0 if not corner.setup.spacer.thickness else corner.setup.spacer.mass for corner in (old, new)]
    if spacers != [0.0, 0.0]:
        yield Mass("spacer", *spacers)
    brakes = [corner.axle.brake for corner in (old, new)]
    rotors = [brake.rotor.mass if brake and brake.rotor else None for brake in brakes]
    calipers = [brake.caliper.mass if brake and brake.caliper else None for brake in brakes]
    if brakes[0] != brakes[1] or rotors[1] is not None:
        yield Mass("rotor", *rotors)
    if brakes[0] != brakes[1] or calipers[1] is not None:
        yield Mass("caliper", *calipers)
