"""The builds of a profile as a question names them: which axles it is about, each made ready and checked.

The command line and the functions for Python ask here, so that both get the same answers.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

from fitment import profile as profiles
from fitment.checks.case import Case, Ready, ready, run, setup_variants
from fitment.checks.full_case import FullCase, in_full
from fitment.errors import CodeError, FitmentError, ProfileError
from fitment.parts.axle import Setup
from fitment.parts.wheel import parse_wheel
from fitment.profile import Profile

if TYPE_CHECKING:  # adjusters are loaded where some are set
    from fitment.motion.adjusters import Setting

LOADED_RADIUS = (100.0, 800.0)  # [mm]
MOST_SIZES = 60  # in one table
MOST_NUMBERS, LARGEST_NUMBER = 10_000, 1e4  # in a list of travels or angles

Given = Mapping[str, str | None]
"""What takes the place of the build's own: wheel, tire, spacer, ride, as texts; a spacer or ride in bare mm"""


def chosen_axles(read: Profile, axle: str | None, build: str | None, given: Given) -> list[str]:
    """Axles to work on: the one asked for, else every axle whose build (or `given`) names a setup.

    Raises ProfileError where there is none.
    """
    if axle:
        return [axle]
    named = given.get("wheel") and given.get("tire")
    found = [name for name in read.axle_names if named or profiles.has_setup(read, name, build)]
    if not found:
        raise ProfileError(
            f"build {build or read.baseline} names no wheel and tire for any axle; give --wheel and --tire.",
            file=str(read.path),
        )
    return found


def common_axles(read: Profile, axle: str | None, old: str, new: str, file: str) -> list[str]:
    """Axles on which two builds can be compared. Raises ProfileError."""
    axles = [name for name in chosen_axles(read, axle, new, {}) if name in chosen_axles(read, axle, old, {})]
    if not axles:
        raise ProfileError(f"builds {old} and {new} have no axle in common that names a wheel and a tire.", file=file)
    return axles


def adjustable(read: Profile, axle: str | None, build: str | None, *, target: bool) -> list[Ready]:
    """Axles whose alignment is asked for: with a target those that have adjusters, if any has. Raises FitmentError."""
    found = [ready(read, name, build) for name in chosen_axles(read, axle, build, {})]
    with_adjusters = [each for each in found if each.axle.adjusters]
    return with_adjusters or found if target and not axle else found


def checked(
    read: Profile,
    axles: Sequence[str],
    build: str | None,
    given: Given,
    *,
    loaded_radius: float | None = None,
    settings: Sequence[Setting] = (),
) -> list[FullCase]:
    """As `fitted`, each with what it means for the vehicle. Raises FitmentError."""
    return [in_full(case) for case in fitted(read, axles, build, given, loaded_radius, settings)]


def fitted(
    read: Profile,
    axles: Sequence[str],
    build: str | None,
    given: Given,
    loaded_radius: float | None = None,
    settings: Sequence[Setting] = (),
) -> list[Case]:
    """Each axle of a build checked, with the others as they then stand. Raises FitmentError.

    loaded_radius : wheel centre to ground [mm]; settings : of the adjusters
    """

    def bolted(name: str) -> Setup:
        return profiles.setup(
            read, name, build,
            wheel=given.get("wheel"), tire=given.get("tire"), spacer=given.get("spacer"), ride=given.get("ride"),
        )  # fmt: skip

    cases = []
    for name in axles:
        prepared, setup = ready(read, name, build), bolted(name)
        others_here = [other for other in axles if other != name]
        if settings:
            from fitment.answers.alignment import with_settings

            prepared = with_settings(prepared, settings, setup.ride)
        others = () if given.get("wheel") or given.get("tire") or given.get("spacer") else setup_variants(prepared)
        there = bolted(others_here[0]) if others_here else None
        cases.append(run(prepared, setup, others=others, loaded_radius=loaded_radius, other_axle=there))
    return cases


def of_sizes(
    prepared: Ready, sizes: Sequence[str], tires: Sequence[str], spacer: str | None, ride: str | None
) -> list[Setup]:
    """Every wheel size with every tire that goes on it, at ET0; without any the build's own. Raises FitmentError."""
    hub = prepared.axle.hub
    circle = f" {hub.bolt_circle}" if hub and hub.bolt_circle else ""
    bore = f" CB{hub.wheel_register.diameter:g}" if hub and hub.wheel_register else ""
    specs = [f"{_size(size)} ET0{circle}{bore}" for size in sizes] or [""]
    own = [
        profiles.setup(
            prepared.profile, prepared.axle.name, prepared.build,
            wheel=spec or None, tire=tire or None, spacer=spacer, ride=ride,
        )
        for spec in specs
        for tire in tires or [""]
    ]  # fmt: skip
    found = [each for each in own if each.wheel.rim_diameter == each.tire.rim_code]
    if not found:
        wheels, codes = ({each.wheel.rim_diameter for each in own}, {each.tire.rim_code for each in own})
        have = " and ".join(f"{value:g}" for value in sorted(wheels))
        need = " and ".join(f"{value:g}" for value in sorted(codes))
        raise FitmentError(f"no tire is for a wheel: the wheels are {have} in, the tires for {need} in rims.")
    if len(found) > MOST_SIZES:
        raise FitmentError(f"{len(found)} sizes of wheel and tire; at most {MOST_SIZES} go into one table. Give fewer.")
    return found


def _size(given: str) -> str:
    """A wheel size such as 20x10. Raises FitmentError in the words of what was given."""
    name = given.strip()
    if not name or len(name.split()) > 1:
        raise CodeError(f'--size "{given[:60]}": give a size alone, such as 20x10; its offset is what is sought.')
    try:
        parse_wheel(f"{name} ET0")
    except CodeError as error:
        said = str(error).removeprefix(f"{name} ET0: ").replace(f"{name} ET0", name)
        raise CodeError(f"--size {name[:60]}: {said}") from None
    return name


def plausible_radius(name: str, given: object, mm: float) -> float:
    """A loaded radius [mm] that a tire can have; name, given : for the message. Raises FitmentError."""
    low, high = LOADED_RADIUS
    if not low <= mm <= high:
        raise FitmentError(f"{name} {given}: {mm:g} mm is not plausible ({low:g} to {high:g} mm).")
    return mm


def plausible_numbers(name: str, values: Iterable[float]) -> list[float]:
    """A list of travels or angles; name : for the message. Raises FitmentError."""
    found = list(values)
    if len(found) > MOST_NUMBERS:
        raise FitmentError(f"{name}: at most {MOST_NUMBERS:,} numbers are taken; {len(found):,} were given.")
    wrong = [value for value in found if not abs(value) < LARGEST_NUMBER]  # nor is one that is not finite
    if wrong:
        raise FitmentError(f"{name}: {wrong[0]:g} is not taken; give finite numbers below {LARGEST_NUMBER:,.0f}.")
    return found
