"""A profile's build made ready and checked: gaps settled, readings varied, compared with the baseline."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from fitment import profile as profiles
from fitment.errors import FitmentError, MotionError, ProfileError
from fitment.fit import Fit, Sweep, Variant, fit, sweep, touching_at_rest
from fitment.measured_gap import settle_gaps
from fitment.profile import Profile
from fitment.sections import assumptions
from fitment.stance import Stance, stance
from fitment.suspension import check_reach
from fitment.tire import overall_diameter, size_on
from fitment.vehicle import Axle, Setup, TapeSuspension

PLACING_PARTS = (
    "hub_face",
    "suspension",
    "steering",
    "steer_limit",
    "travel",
    "obstacles",
)  # what places hub and obstacles
SETUP_PARTS = ("wheel.", "tire.", "spacer")
SAFETY = (
    "Computed from the measurements given; a tire on the ground bulges at its contact patch, and that is not in it. "
    "Before driving, test fit through full travel and lock on both sides. Local rules and a licensed mechanic decide."
)


@dataclass(frozen=True)
class Ready:
    """One axle of one build, ready for any wheel.

    deflection : how far the baseline tire is pressed in at its hub height [mm]
    baseline : what the change is counted against
    baseline_touches : parts that overlap the baseline's own tire or wheel at rest, so that a reading must be wrong
    slid : (part, how far outboard [mm]) it was slid to reproduce its measured gap
    """

    profile: Profile
    build: str
    axle: Axle
    variants: tuple[Variant, ...]
    deflection: float
    baseline: Stance
    baseline_touches: tuple[str, ...] = ()
    slid: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True)
class Case:
    """One checked setup of one axle, with what a report needs beside the fit.

    change : what moved against the baseline, name -> [mm]
    assumptions : what was taken for granted about wheel and tire
    """

    ready: Ready
    fit: Fit
    stance: Stance
    change: Mapping[str, float]
    cautions: tuple[str, ...]
    assumptions: tuple[str, ...]


def ready(profile: Profile, axle_name: str, build: str | None = None) -> Ready:
    """Resolve one axle of one build. Raises ProfileError, FitmentError."""
    name = build or profile.baseline
    base = profiles.axle(profile, axle_name)
    base_setup = profiles.setup(profile, axle_name)
    axle = _settled(profile, profiles.axle(profile, axle_name, name), base, base_setup)
    variants = tuple(
        Variant(reading.path, _moved_axle(profile, axle_name, name, {reading.path: reading.tolerance}, base_setup))
        for reading in profiles.readings(profile, axle_name, name)
        if reading.path.removeprefix("baseline:").startswith(PLACING_PARTS)
    )
    _check_reach(profile, axle, name)
    deflection = max(overall_diameter(base_setup.tire) / 2 - base.hub_height, 0.0)
    as_given = {o.name: o for o in profiles.axle(profile, axle_name, name).obstacles if o.measured_gap}
    slid = tuple((o.name, o.points[0][1] - as_given[o.name].points[0][1]) for o in axle.obstacles if o.name in as_given)
    return Ready(
        profile, name, axle, variants, deflection, stance(base, base_setup, deflection),
        touching_at_rest(_settled(profile, base, base, base_setup), base_setup), slid,
    )  # fmt: skip


def _check_reach(profile: Profile, axle: Axle, build: str) -> None:
    try:
        check_reach(axle)
    except MotionError as error:
        line = profile.document.line(("axles", axle.name, "travel"))
        raise ProfileError(
            f"build {build}: {error}", file=str(profile.path), line=line, key=f"axles.{axle.name}"
        ) from None


def setup_variants(prepared: Ready) -> tuple[Setup, ...]:
    """The build's own setup with each toleranced reading of its wheel, tire or spacer moved by its tolerance."""
    profile, axle_name, build = prepared.profile, prepared.axle.name, prepared.build
    return tuple(
        profiles.setup(profile, axle_name, build, moved={reading.path: reading.tolerance})
        for reading in profiles.readings(profile, axle_name, build)
        if reading.path.startswith(SETUP_PARTS)
    )


def _moved_axle(profile: Profile, axle_name: str, build: str, moved: Mapping[str, float], base_setup: Setup) -> Axle:
    own = profiles.axle(profile, axle_name, build, moved=moved)
    base = profiles.baseline_axle(profile, axle_name, build, moved=moved)
    return _settled(profile, own, base, base_setup)


def _settled(profile: Profile, axle: Axle, base: Axle, base_setup: Setup) -> Axle:
    try:
        return settle_gaps(axle, base, base_setup)
    except ProfileError:
        raise
    except FitmentError as error:
        raise ProfileError(str(error), file=str(profile.path), key=f"axles.{axle.name}.obstacles") from None


def rake(profile: Profile, build: str, ride: Mapping[str, float] | None = None) -> float | None:
    """Nose-down pitch of the body at rest against the state in which it was measured [deg].

    ride : axle -> travel at rest [mm], where it is not the build's own
    None without a wheelbase or without a setup on both axles. Caster to the ground is caster less this.
    """
    if profile.wheelbase is None or any(
        name not in profile.axle_names or not profiles.has_setup(profile, name, build) for name in ("front", "rear")
    ):
        return None
    rise = {}
    for name in ("front", "rear"):
        prepared = ready(profile, name, build)
        setup = profiles.setup(profile, name, build)
        setup = replace(setup, ride=(ride or {}).get(name, setup.ride))
        stands = stance(prepared.axle, setup, prepared.deflection)
        rise[name] = stands.hub_height - prepared.axle.hub_height - setup.ride
    return math.degrees(math.atan((rise["rear"] - rise["front"]) / profile.wheelbase))


def run(
    prepared: Ready,
    setup: Setup,
    swept: Sweep | None = None,
    *,
    others: Sequence[Setup] = (),
    loaded_radius: float | None = None,
) -> Case:
    """Check one setup. Raises FitmentError.

    swept : may be shared between setups of one ride height
    others : the setup with one of its own readings moved by its tolerance, each
    """
    if setup.wheel.rim_diameter != setup.tire.rim_code:
        raise FitmentError(
            f"tire {setup.tire.code} is for a {setup.tire.rim_code:g} in rim, wheel {setup.wheel.spec} is "
            f"{setup.wheel.rim_diameter:g} in; choose a tire and a wheel of one rim diameter."
        )
    found = fit(setup, swept or sweep(prepared.axle, setup.ride), prepared.variants, others)
    stands = stance(prepared.axle, setup, prepared.deflection, loaded_radius)
    return Case(
        prepared, found, stands, _change(prepared.baseline, stands), _cautions(prepared, found), _assumptions(setup)
    )


def _change(old: Stance, new: Stance) -> dict[str, float]:
    before, after = old.lengths(), new.lengths()
    return {name: after[name] - before[name] for name in after if name in before}


def _cautions(prepared: Ready, found: Fit) -> tuple[str, ...]:
    words = [f"{name}: not checked, because {reason}" for name, reason in found.not_checked]
    words += profiles.cautions(prepared.profile, found.axle.name, prepared.build)
    words += [
        f"{name}: the baseline itself overlaps it at rest, as measured; measure that part, the hub faces and the "
        "ride height again"
        for name in prepared.baseline_touches
    ]
    words += size_on(found.setup.tire, found.setup.wheel.rim_width).cautions
    if isinstance(found.axle.suspension, TapeSuspension) and found.axle.steering:
        words.append("toe is taken as constant through travel: a tape-measured suspension does not tell its bump steer")
    if not found.clearances:
        words.append("no obstacle could be checked, so clearances say nothing")
    return (*dict.fromkeys(words), SAFETY)


def _assumptions(setup: Setup) -> tuple[str, ...]:
    return tuple(dict.fromkeys(assumptions(setup.wheel, setup.tire)))
