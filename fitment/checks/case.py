"""A profile's build made ready and checked: gaps settled, readings varied, compared with the baseline."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

from fitment import profile as profiles
from fitment.checks.assumed_bends import bends_of
from fitment.checks.bolt_on import BoltOn, front_and_rear, front_and_rear_unknown
from fitment.checks.fit import Fit, fit_setup, touching_at_rest
from fitment.checks.tread_cover import edges_over_tread
from fitment.checks.unmeasured import unmeasured_sides
from fitment.clearance.measured_gap import Slide, settle_gaps, slides
from fitment.clearance.pose_grid import Sweep, Variant, sweep
from fitment.corners import axle_of
from fitment.errors import FitmentError, MotionError, PlacingError, ProfileError, named_in_a_row
from fitment.motion.suspension import check_reach
from fitment.motion.wheel_position import WheelPosition, position_at_rest, pressed_in
from fitment.parts.axle import Axle, Setup, SolidAxle, TapeSuspension
from fitment.parts.obstacles import USUAL_TOLERANCE, Obstacle, laid_like
from fitment.parts.reshaped import reworked
from fitment.parts.rework import Rework
from fitment.parts.sections import assumptions
from fitment.parts.tire import size_on
from fitment.profile import Assumed, Profile, Reading
from fitment.profile.schema.scans import ScanPart
from fitment.progress import steps

if TYPE_CHECKING:  # what a scan takes is loaded where there is one
    from fitment.scans.placed_scan import PlacedScan

PLACING_PARTS = (
    "hub_face",
    "suspension",
    "steering",
    "steer_limit",
    "travel",
    "obstacles",
)  # what places hub and obstacles
ASSUMED_MISS = (
    60.0  # [mm] of tire at a lock: what the bands of an assumed axis and lock make of it (parts/data/typical.csv)
)
FAR = 150.0  # [mm] from where a part was given that a reading seldom moves it; common practice, no published source
SETUP_PARTS = ("wheel.", "tire.", "spacer")
TEST_FIT = (
    "Before driving, test fit through full travel and lock on both sides. Local rules and a licensed mechanic decide."
)
LISTED = "in service is not counted in lists and windows; `fitment check` does"
SAFETY = (
    "Computed from the measurements given. A tire bulges where it stands on the ground; that is not counted. "
    f"{TEST_FIT}"
)


@dataclass(frozen=True)
class Ready:
    """One axle of one build, ready for any wheel.

    deflection : how far the baseline tire is pressed in at its hub height [mm]
    baseline : what the change is counted against
    baseline_touches : parts that overlap the baseline's own tire or wheel at rest, so that a reading must be wrong
    slid : how far parts were slid to reproduce their measured gaps
    """

    profile: Profile
    build: str
    axle: Axle
    variants: tuple[Variant, ...]
    deflection: float
    baseline: WheelPosition
    baseline_touches: tuple[str, ...] = ()
    slid: tuple[Slide, ...] = ()

    @cached_property
    def usual_parts(self) -> tuple[str, ...]:
        """Parts that state no tolerance, their own or of a reading that places them, so that they have the usual."""
        return profiles.usual_tolerances(self.profile, self.axle.name, self.build)

    @cached_property
    def doubts(self) -> tuple[str, ...]:
        """Readings that are likely a slip, or lacking, so that the answer may be about another vehicle; in words."""
        stood = profiles.setup(self.profile, self.axle.name)
        return (*profiles.doubts(self.profile, self.axle.name, self.build), *unmeasured_sides(self.axle, stood))

    @property
    def usual_words(self) -> str:
        """Which parts have the usual tolerance; empty where all state one."""
        names = self.usual_parts
        return f"no tolerance given: {USUAL_TOLERANCE:g} mm taken for {named_in_a_row(names)}" if names else ""

    @property
    def assumed_words(self) -> str:
        """What nobody read; empty where all was read."""
        names = tuple(dict.fromkeys(value.name for value in self.assumed))
        return f"assumed, not measured: {named_in_a_row(names)}" if names else ""

    @cached_property
    def scans(self) -> tuple[tuple[ScanPart, PlacedScan], ...]:
        """The parts that were scanned: what the profile says of each, and what it comes to."""
        if all(part.mesh is None for part in self.axle.obstacles):
            return ()
        return profiles.scans(self.profile, self.axle.name, self.build)

    @property
    def scan_words(self) -> str:
        """Which parts were scanned, and what that leaves open; empty where none was."""
        if not self.scans:
            return ""
        from fitment.profile.scan_parts import scan_brief

        return f"scanned: {'; '.join(scan_brief(part, scan) for part, scan in self.scans)}"

    @property
    def rests_on(self) -> tuple[str, ...]:
        """What is taken for granted of the readings, in words; lengths in mm."""
        return tuple(filter(None, (self.usual_words, self.scan_words, self.assumed_words)))

    @property
    def reworked(self) -> tuple[tuple[str, Rework], ...]:
        """Parts that the build moves or trims, by name."""
        return tuple((part.name, part.rework) for part in self.axle.obstacles if part.rework)

    @property
    def reworked_words(self) -> str:
        """What the build does to parts, lengths in mm; empty where nothing."""
        return "; ".join(f"{name} {rework.words}" for name, rework in self.reworked)

    @property
    def listed_on(self) -> tuple[str, ...]:
        """The same of a list or a window, which counts nothing of what happens in service."""
        return self.rests_on if self.axle.service is None else (*self.rests_on, LISTED)

    @cached_property
    def assumed(self) -> tuple[Assumed, ...]:
        """What nobody read on this vehicle and is taken as typical."""
        return profiles.assumed_values(self.profile, self.axle.name, self.build)

    @cached_property
    def edges_over_tread(self) -> tuple[Obstacle, ...]:
        """The edges of the bodywork that the tread is held against."""
        return edges_over_tread(self.axle, (self.baseline.outer_face + self.baseline.inner_face) / 2)

    @cached_property
    def other_axle(self) -> Axle | None:
        """The vehicle's other axle in this build, its gaps not settled; None when the profile has none."""
        name = self.profile.beside(self.axle.name)
        return profiles.axle(self.profile, name, self.build) if name else None

    @cached_property
    def other_setup(self) -> Setup | None:
        """What this build has on the other axle; None when it does not tell."""
        axle = self.other_axle
        known = axle is not None and profiles.has_setup(self.profile, axle.name, self.build)
        return profiles.setup(self.profile, axle.name, self.build) if axle and known else None


@dataclass(frozen=True)
class Case:
    """One checked setup of one axle, with what a report needs beside the fit.

    change : what moved against the baseline, name -> [mm]
    assumptions : what was taken for granted about wheel and tire
    others : the setup with each of its own readings moved by its tolerance, as `setup_readings` orders them
    loaded_radius : wheel centre to ground [mm], where it was given
    other_setup : what stands on the other axle, where it is not the build's own
    What it means for the vehicle is added by `full_case.in_full`, for those who report it.
    """

    ready: Ready
    fit: Fit
    stance: WheelPosition
    change: Mapping[str, float]
    cautions: tuple[str, ...]
    assumptions: tuple[str, ...]
    others: tuple[Setup, ...] = ()
    loaded_radius: float | None = None
    other_setup: Setup | None = None


def ready(profile: Profile, axle_name: str, build: str | None = None) -> Ready:
    """Resolve one axle of one build. Raises ProfileError, FitmentError."""
    name = build or profile.baseline
    base = profiles.axle(profile, axle_name)
    base_setup = profiles.setup(profile, axle_name)
    given = profiles.axle(profile, axle_name, name)
    placed = _settled(profile, given, base, base_setup, name)
    axle = _reshaped(profile, placed, name)
    placed_by = placing_parts(profile, axle_name, name)
    placing = [
        reading
        for reading in profiles.readings(profile, axle_name, name)
        if reading.path.removeprefix("baseline:").startswith(placed_by)
    ]

    def moved(by: Mapping[str, float]) -> Axle:
        part = _part_read(axle, by)
        if part is None:
            return _moved_axle(profile, axle, name, by, base_setup)
        (own,) = _moved_axle(profile, axle, name, by, base_setup, part).obstacles
        return replace(axle, obstacles=tuple(own if o.name == part else o for o in axle.obstacles))

    variants = tuple(
        Variant(reading.path, moved({reading.path: reading.tolerance}), reading.assumed)
        for reading in steps("moving by each tolerance, reading", placing)
    )
    _check_reach(profile, axle, name)
    assumed = next((i for i, reading in enumerate(placing) if reading.assumed), None)
    if assumed is not None:
        bent = replace(variants[assumed], bends=bends_of(axle, placing, moved))
        variants = (*variants[:assumed], bent, *variants[assumed + 1 :])
    deflection = pressed_in(base, base_setup)
    return Ready(
        profile, name, axle, variants, deflection, position_at_rest(base, base_setup, deflection),
        touching_at_rest(_settled(profile, base, base, base_setup), base_setup), slides(given, placed, base),
    )  # fmt: skip


def _check_reach(profile: Profile, axle: Axle, build: str) -> None:
    try:
        check_reach(axle)
    except MotionError as error:
        line = profile.document.line(("axles", axle_of(axle.name), "travel"))
        raise ProfileError(
            f"build {build}: {error}", file=str(profile.path), line=line, key=f"axles.{axle_of(axle.name)}"
        ) from None


def placing_parts(profile: Profile, axle_name: str, build: str | None = None) -> tuple[str, ...]:
    """Keys of an axle whose readings place hub and obstacles; its height does where points are read from the ground."""
    return (*PLACING_PARTS, "hub_height") if profiles.reads_from_ground(profile, axle_name, build) else PLACING_PARTS


def setup_variants(prepared: Ready) -> tuple[Setup, ...]:
    """The build's own setup with each toleranced reading of its wheel, tire or spacer moved by its tolerance."""
    profile, axle_name, build = prepared.profile, prepared.axle.name, prepared.build
    return tuple(
        profiles.setup(profile, axle_name, build, moved={reading.path: reading.tolerance})
        for reading in setup_readings(prepared)
    )


def setup_readings(prepared: Ready) -> tuple[Reading, ...]:
    """The toleranced readings of the build's own wheel, tire and spacer."""
    readings = profiles.readings(prepared.profile, prepared.axle.name, prepared.build)
    return tuple(reading for reading in readings if reading.path.startswith(SETUP_PARTS))


def axle_with(prepared: Ready, moved: Mapping[str, float]) -> Axle:
    """The axle with several readings moved at once.

    moved : key path -> by how much [mm, or deg]
    Raises FitmentError.
    Source: derived here, as each variant is made.
    """
    base_setup = profiles.setup(prepared.profile, prepared.axle.name)
    return _moved_axle(prepared.profile, prepared.axle, prepared.build, moved, base_setup)


def moved_axle(prepared: Ready, reading: Reading, obstacle: str) -> Axle:
    """The axle with a reading moved by its tolerance, and of its obstacles one only. Raises FitmentError."""
    profile, axle, base_setup = prepared.profile, prepared.axle, profiles.setup(prepared.profile, prepared.axle.name)
    by = {reading.path: reading.tolerance}
    return _moved_axle(profile, axle, prepared.build, by, base_setup, obstacle)


def _part_read(axle: Axle, paths: Iterable[str]) -> str | None:
    """The one obstacle that all these readings are of: they move nothing else. None where they could."""
    heads = {path.partition("]")[0] for path in paths}  # no name holds a square bracket
    return next((o.name for o in axle.obstacles if heads == {f"obstacles[{o.name}"}), None)


def _of_one(axle: Axle, obstacle: str) -> Axle:
    return replace(axle, obstacles=tuple(o for o in axle.obstacles if o.name == obstacle))


def _moved_axle(
    profile: Profile,
    like: Axle,
    build: str,
    moved: Mapping[str, float],
    base_setup: Setup,
    obstacle: str | None = None,
) -> Axle:
    """The axle with readings moved; what its parts are made of corresponds to `like`, the one as it was read."""
    like = like if obstacle is None else _of_one(like, obstacle)
    own = profiles.axle(profile, like.name, build, moved=moved, obstacle=obstacle)
    base = profiles.baseline_axle(profile, like.name, build, moved=moved, obstacle=obstacle)
    told = f" (with {named_in_a_row(tuple(moved))} moved by its tolerance)"
    placed = _settled(profile, own, base, base_setup, build, told)
    cuts = {other.name: other.rework for other in like.obstacles}
    cut_alike = tuple(replace(o, rework=cuts.get(o.name, o.rework)) for o in placed.obstacles)
    shaped = _reshaped(profile, replace(placed, obstacles=cut_alike), build, told)
    return replace(shaped, obstacles=tuple(map(laid_like, shaped.obstacles, like.obstacles)))


def _reshaped(profile: Profile, axle: Axle, build: str, moved: str = "") -> Axle:
    """With its parts moved and trimmed as the build says; moved : as for `_settled`."""
    if not any(obstacle.rework for obstacle in axle.obstacles):
        return axle
    try:
        return replace(axle, obstacles=tuple(reworked(o, axle.hub_face_at) for o in axle.obstacles))
    except FitmentError as error:
        raise ProfileError(
            f"build {build}: {error}{moved}", file=str(profile.path), key=f"axles.{axle_of(axle.name)}.obstacles"
        ) from None


def _settled(
    profile: Profile, axle: Axle, base: Axle, base_setup: Setup, build: str | None = None, moved: str = ""
) -> Axle:
    """With the measured gaps settled; moved : what was moved for it, for the message that there is no place."""
    try:
        return settle_gaps(axle, base, base_setup, _may_miss(profile, axle, build, nominal=not moved))
    except ProfileError:
        raise
    except FitmentError as error:
        line, key = 0, f"axles.{axle_of(axle.name)}.obstacles"
        if isinstance(error, PlacingError):
            line, key = profiles.part_at(profile, axle.name, build, error.part)
        raise ProfileError(f"{error}{moved}", file=str(profile.path), line=line, key=key) from None


def _may_miss(profile: Profile, axle: Axle, build: str | None, *, nominal: bool) -> float:
    """By how much a pose may miss a measured gap [mm], because the motion to it is assumed."""
    if not any(obstacle.measured_gap for obstacle in axle.obstacles):
        return 0.0
    values = (value.path.removeprefix("baseline:") for value in profiles.assumed_values(profile, axle.name, build))
    assumed = [path for path in values if path.startswith(("suspension", "steering")) and not path.endswith("_bend")]
    if nominal:  # links nobody read put the axle where it stood all the same
        assumed = [path for path in assumed if not path.startswith("suspension.links")]
    return 0.0 if not assumed else ASSUMED_MISS if nominal else math.inf


def rake(profile: Profile, build: str, ride: Mapping[str, float] | None = None) -> float | None:
    """Nose-down pitch of the body at rest against the state in which it was measured [deg].

    ride : axle -> travel at rest of both its sides [mm], where it is not the build's own
    None without a wheelbase or without a setup on both axles. Caster to the ground is caster less this.
    Source: derived here, the heights that the axles lost over the wheelbase, in the middle between unlike sides.
    """
    corners = [profile.corners_of(name) for name in ("front", "rear")]
    if profile.wheelbase is None or not all(
        own and all(profiles.has_setup(profile, name, build) for name in own) for own in corners
    ):
        return None
    heights = {axle_of(name): travel for name, travel in (ride or {}).items()}
    front, rear = (
        sum(_risen(profile, name, build, heights.get(axle_of(name))) for name in own) / len(own) for own in corners
    )
    return math.degrees(math.atan((rear - front) / profile.wheelbase))


def _risen(profile: Profile, axle_name: str, build: str, ride: float | None) -> float:
    """How much higher the body stands over a wheel at rest than when it was measured [mm]."""
    axle, setup = profiles.axle(profile, axle_name, build), profiles.setup(profile, axle_name, build)
    setup = setup if ride is None else replace(setup, ride=ride)
    deflection = pressed_in(profiles.axle(profile, axle_name), profiles.setup(profile, axle_name))
    return position_at_rest(axle, setup, deflection).hub_height - axle.hub_height - setup.ride


def run(
    prepared: Ready,
    setup: Setup,
    swept: Sweep | None = None,
    *,
    others: Sequence[Setup] = (),
    loaded_radius: float | None = None,
    other_axle: Setup | None = None,
) -> Case:
    """Check one setup.

    swept : may be shared between setups of one ride height
    others : the setup with one of its own readings moved by its tolerance, each
    loaded_radius : wheel centre to ground [mm], None = the tire less its deflection
    other_axle : what stands on the vehicle's other axle, where it is not the build's own
    Raises FitmentError.
    Source: `fit_setup`, `bolt_on` and `position_at_rest`, put together.
    """
    if setup.wheel.rim_diameter != setup.tire.rim_code:
        raise FitmentError(
            f"tire {setup.tire.code} is for a {setup.tire.rim_code:g} in rim, wheel {setup.wheel.spec} is "
            f"{setup.wheel.rim_diameter:g} in; choose a tire and a wheel of one rim diameter."
        )
    fit = fit_setup(setup, swept or sweep(prepared.axle, setup.ride), prepared.variants, others)
    fit = replace(fit, bolt_on=(*fit.bolt_on, *across_axles(prepared, setup, other_axle)))
    stands = position_at_rest(prepared.axle, setup, prepared.deflection, loaded_radius)
    return Case(
        prepared, fit, stands, moved(prepared.baseline, stands), _cautions(prepared, fit), _assumptions(setup),
        tuple(others), loaded_radius, other_axle,
    )  # fmt: skip


def across_axles(prepared: Ready, setup: Setup, other: Setup | None = None) -> tuple[BoltOn, ...]:
    """Bolt-on checks of a setup against what stands on the other axle: the build's own unless `other` is given."""
    axle, there = prepared.other_axle, other or prepared.other_setup
    if axle is None:
        return ()
    if there is None:
        return front_and_rear_unknown(prepared.axle, axle)
    return front_and_rear((prepared.axle, setup), (axle, there), prepared.profile.diameter_tolerance)


def moved(old: WheelPosition, new: WheelPosition) -> dict[str, float]:
    """By how much each length that both know is larger in the new one [mm]. Source: geometry, a difference."""
    before, after = old.lengths(), new.lengths()
    return {name: after[name] - before[name] for name in after if name in before}


def _touched_in_motion(prepared: Ready, found: Fit) -> tuple[str, ...]:
    """What the baseline overlaps in motion alone; none for another setup."""
    profile = prepared.profile
    if prepared.build != profile.baseline or found.setup != profiles.setup(profile, prepared.axle.name):
        return ()
    touched = (entry.obstacle for entry in found.worst_each if entry.clearance < 0)
    return tuple(name for name in dict.fromkeys(touched) if name not in prepared.baseline_touches)


def _cautions(prepared: Ready, found: Fit) -> tuple[str, ...]:
    words = [f"{name}: not checked, because {reason}" for name, reason in found.not_checked]
    words += profiles.cautions(prepared.profile, found.axle.name, prepared.build)
    axle, ride = found.axle, found.setup.ride
    solid = isinstance(axle.suspension, SolidAxle)
    if found.setup.ride_name is None and not axle.droop <= ride <= axle.bump:
        words.append(
            f"the ride height ({ride:+g} mm) lies outside the travel ({axle.droop:+g} to {axle.bump:+g} mm); what "
            "stops the axle there was not measured"
            + ("; beyond the travel the opposite wheel was looked at only at the named ride heights" if solid else "")
        )
    words += [
        f"{name}: the baseline itself overlaps it at rest, as measured; measure that part, the hub faces and the "
        "ride height again"
        for name in prepared.baseline_touches
    ]
    rubs = _touched_in_motion(prepared, found)
    if rubs:
        words.append(
            f"the baseline, which drives today, touches {named_in_a_row(rubs)} in motion, as measured: either a "
            "reading is wrong (that part, the travel or the locks), or it rubs there today and you know it"
        )
    words += [_slide_caution(slide) for slide in prepared.slid if _slide_caution(slide)]
    words += size_on(found.setup.tire, found.setup.wheel.rim_width).cautions
    if found.setup.tire.load_index is not None:
        words.append(
            "the load index holds at the tire's rated pressure. What the tire carries with less air is not computed, "
            "because the rules for it differ"
        )
    if isinstance(found.axle.suspension, TapeSuspension) and found.axle.steering:
        words.append("toe is assumed constant through travel: a tape-measured suspension does not tell its bump steer")
    if not found.clearances:
        words.append("no part near the wheel was checked, so nothing is known about clearances")
    return (*dict.fromkeys(words), SAFETY)


def _slide_caution(slide: Slide) -> str:
    """What a part's measured gap leaves in doubt; empty where nothing. Along y only its side was given."""
    if slide.short:
        return (
            f"{slide.part}: with the assumed values no place gives the gap that was read; {slide.short:.1f} mm more "
            "are left, so the part is taken as so much thicker. Check where it is, or measure what is assumed"
        )
    if slide.along != "out" and abs(slide.distance) > FAR:
        return (
            f"{slide.part}: its measured gap puts it {abs(slide.distance):.0f} mm from where it was given; check the "
            f"place, and which part the tape went to (told from {FAR:g} mm on)"
        )
    return ""


def _assumptions(setup: Setup) -> tuple[str, ...]:
    return tuple(dict.fromkeys(assumptions(setup.wheel, setup.tire)))
