"""A checked case with what its setup means for the vehicle: ground, bodywork, road, and what to mind.

For those who report it. Those who only ask whether it clears (a list, a window, a trial of a change) do without.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from fitment import profile as profiles
from fitment.checks.assumed_effects import AssumedEffect, effects_of, straight_ahead, taken_together
from fitment.checks.bolt_on import BoltOn
from fitment.checks.build_cautions import caused, standing
from fitment.checks.case import Case, setup_readings
from fitment.checks.fit import Clearance, Fit
from fitment.checks.ground_clearance import GroundClearance, OtherAxle, heights_above_ground, standing_axle
from fitment.checks.in_service import left_in_service
from fitment.checks.road_changes import CornerOnRoad, RoadChanges, Track, changes_on_road
from fitment.checks.short_regions import WhereShort, where_short
from fitment.checks.tread_cover import TreadCover, cover_of_tread
from fitment.checks.untold import hangs_on
from fitment.checks.wheel_removal import Removal, removal
from fitment.clearance.pose_grid import Variant
from fitment.errors import FitmentError
from fitment.motion.wheel_position import position_at_rest, pressed_in
from fitment.parts.axle import Setup
from fitment.parts.tables import specified_rim_diameter
from fitment.parts.tire import overall_diameter
from fitment.profile import Assumed, Profile

BARRELS_DIFFER = 25.0  # [mm] by which the insides of wheels of one size may differ; assumption


@dataclass(frozen=True, kw_only=True)
class FullCase(Case):
    """A case with all that a report says of it; its fit has what is left in service.

    ground : what hangs lowest against the ground and the flat-tire line
    cover : the tread against the bodywork's edge; removal : whether wheel and tire come off past the bodywork
    road : what changes on the road against the baseline
    caused : what to mind because of what this build changes, a line each
    standing : what holds for every build that changes something: to be said once for a vehicle
    near_barrel : parts that stand near to the inside of a barrel that nobody measured
    assumed : what nobody read on this vehicle, and what each takes by itself from the least worst case
    assumed_takes : what all of them together take from it [mm], None where there is none
    straight_ahead : the tightest place straight ahead, where a steering axis is assumed
    hangs_on : keys of the tire that nobody told and on which the verdict hangs, as `untold.hangs_on` has them
    where_short : of every obstacle and part that falls short, where it does
    mate : the other corner of an axle whose sides differ, where it was checked too
    unlike : what differs between them and what it means, a line each
    beside : the other axle of the vehicle on the same side, where it was checked too
    """

    ground: GroundClearance
    cover: TreadCover
    removal: Removal
    road: RoadChanges
    caused: tuple[str, ...]
    standing: tuple[str, ...]
    near_barrel: tuple[str, ...]
    assumed: tuple[AssumedEffect, ...]
    assumed_takes: float | None
    straight_ahead: Clearance | None
    where_short: tuple[WhereShort, ...]
    hangs_on: tuple[tuple[str, ...], ...] = ()
    mate: FullCase | None = None
    unlike: tuple[str, ...] = ()
    beside: FullCase | None = None

    def on(self, side: str) -> FullCase:
        """The case of a side of the vehicle; its own where the other one is alike or was not checked."""
        return self if self.mate is None or side in self.fit.axle.sides else self.mate

    @property
    def on_ground(self) -> tuple[BoltOn, ...]:
        """The checks against the ground, of the bodywork's cover and of the way off past it."""
        return (*self.ground.checks, self.cover.check, self.removal.check)


def in_full(case: Case) -> FullCase:
    """What the setup of a checked case means for the vehicle. Raises FitmentError."""
    profile, axle, setup = case.ready.profile, case.fit.axle, case.fit.setup
    other = _other_axle_stood(case)
    cover = cover_of_tread(axle, setup, case.ready.edges_over_tread)
    before = CornerOnRoad(profiles.axle(profile, axle.name), profiles.setup(profile, axle.name), case.ready.baseline)
    now = _corner(case)
    # parts as the profile gives them: one that is slid by its measured gap was not moved by the build
    as_given = replace(now, axle=profiles.axle(profile, axle.name, case.ready.build))
    served = replace(case.fit, in_service=left_in_service(case.fit, case.ready.deflection))
    return FullCase(
        **{**vars(case), "fit": served},
        ground=_ground(case, other),
        cover=cover,
        removal=removal(axle, setup, cover.edges),
        road=changes_on_road(before, now, _other_track(case, other)),
        caused=caused(before, as_given),
        standing=standing(before, as_given),
        near_barrel=_near_assumed_barrel(case.fit),
        assumed=effects_of(*_assumed_in(case)),
        assumed_takes=taken_together(*_assumed_in(case)),
        straight_ahead=straight_ahead(case.ready.assumed, case.fit),
        where_short=where_short(case.fit, case.ready.variants, case.others),
        hangs_on=hangs_on(replace(case, fit=served)),
    )


def _assumed_in(case: Case) -> tuple[Sequence[Assumed], Fit, Sequence[Variant], Sequence[tuple[str, Setup]]]:
    """What a case assumes, its fit, and what its readings are worth."""
    others = zip((reading.path for reading in setup_readings(case.ready)), case.others, strict=False)
    return case.ready.assumed, case.fit, case.ready.variants, tuple(others)


def road_between(old: FullCase, new: FullCase) -> RoadChanges:
    """What changes on the road from one checked build to another. Raises FitmentError."""
    known = zip(old.road.tracks[1:], new.road.tracks[1:], strict=False)  # each against the baseline
    other = next((Track(was.axle, was.new, now.new) for was, now in known), None)
    return changes_on_road(_corner(old), _corner(new), other)


def _corner(case: Case) -> CornerOnRoad:
    return CornerOnRoad(case.fit.axle, case.fit.setup, case.stance)


def _ground(case: Case, other: _Stood | str) -> GroundClearance:
    axle, setup = case.fit.axle, case.fit.setup
    free = overall_diameter(setup.tire) / 2 - case.ready.deflection
    here = standing_axle(axle, setup, free if case.loaded_radius is None else case.loaded_radius)
    wheelbase = case.ready.profile.wheelbase
    if isinstance(other, str) or wheelbase is None:
        return heights_above_ground(
            axle, here, None, other if isinstance(other, str) else "the profile has no wheelbase"
        )
    try:
        return heights_above_ground(axle, here, _other_on_ground(case, other, wheelbase))
    except FitmentError as error:
        return heights_above_ground(axle, here, None, str(error).rstrip("."))


def _near_assumed_barrel(fit: Fit) -> tuple[str, ...]:
    """What stands near to the inside of a barrel that nobody measured; wheels of one size differ there by so much."""
    wheel = fit.setup.wheel
    if wheel.barrel_clear_diameter is not None or wheel.barrel_inside:
        return ()
    seat = specified_rim_diameter(wheel.rim_diameter) / 2
    return tuple(
        entry.obstacle
        for entry in fit.worst_each
        if entry.part == "wheel" and entry.clearance < BARRELS_DIFFER and fit.across(entry) < seat
    )


# ---------------------------------------------------------------- the other axle


class _Stood(NamedTuple):
    """An axle of a build as it stands; loaded_radius : of its tires [mm]"""

    corner: CornerOnRoad
    loaded_radius: float


def _stood(profile: Profile, axle_name: str, build: str, bolted: Setup | None = None) -> _Stood:
    """One axle of one build; bolted : in place of the build's own setup. Raises FitmentError."""
    deflection = pressed_in(profiles.axle(profile, axle_name), profiles.setup(profile, axle_name))
    axle, setup = profiles.axle(profile, axle_name, build), bolted or profiles.setup(profile, axle_name, build)
    stance = position_at_rest(axle, setup, deflection)
    return _Stood(CornerOnRoad(axle, setup, stance), overall_diameter(setup.tire) / 2 - deflection)


def _other_axle_stood(case: Case) -> _Stood | str:
    """The vehicle's other axle as it stands in this build, or why that is not known."""
    profile, build = case.ready.profile, case.ready.build
    name = profile.beside(case.fit.axle.name)
    if name is None:
        missing = "rear" if case.fit.axle.name.startswith("front") else "front"
        return f"the profile has no {missing} axle"
    for needed in (*([] if case.other_setup else [build]), profile.baseline):
        if not profiles.has_setup(profile, name, needed):
            return f"build {needed} names no wheel and tire for the {name} axle"
    try:
        return _stood(profile, name, build, case.other_setup)
    except FitmentError as error:
        return str(error).rstrip(".")


def _other_on_ground(case: Case, other: _Stood, wheelbase: float) -> OtherAxle:
    """The other axle's wheels on the ground, in this axle's body frame. Raises FitmentError."""
    there = other.corner
    x = -wheelbase if there.axle.name.startswith("rear") else wheelbase
    raised = there.axle.hub_height - case.fit.axle.hub_height
    return OtherAxle(there.axle.name, standing_axle(there.axle, there.setup, other.loaded_radius), x, raised)


def _other_track(case: Case, other: _Stood | str) -> Track | None:
    """Track of the other axle in the baseline and in this build, None where it is not known."""
    if isinstance(other, str):
        return None
    profile, name = case.ready.profile, other.corner.axle.name
    same = case.ready.build == profile.baseline and case.other_setup is None
    try:
        was = other if same else _stood(profile, name, profile.baseline)
    except FitmentError:
        return None
    return Track(name, was.corner.stance.track, other.corner.stance.track)
