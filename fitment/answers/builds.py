"""The builds of a profile as a question names them: which axles it is about, each made ready and checked.

Axles are those of one profile; what a question puts in the place of a build's own comes as `Given`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from fitment import profile as profiles
from fitment.checks.case import Ready, ready, run, setup_variants
from fitment.checks.fit import VERDICTS
from fitment.checks.full_case import FullCase, in_full
from fitment.checks.sides import side_by_side
from fitment.corners import axle_of
from fitment.errors import Argument, CodeError, FitmentError, ProfileError, named_in_a_row
from fitment.parts.axle import Setup
from fitment.parts.wheel import parse_wheel
from fitment.profile import Profile
from fitment.workers import worker_pool

if TYPE_CHECKING:  # adjusters are loaded where some are set
    from fitment.motion.adjusters import Setting

MOST_SIZES = 60  # in one table


@dataclass(frozen=True)
class Given:
    """What takes the place of the build's own, None where nothing does.

    wheel, tire : spec and code
    spacer : [mm]; ride : travel at rest [mm]; either also as a text, with a unit or a height's name
    """

    wheel: str | None = None
    tire: str | None = None
    spacer: float | str | None = None
    ride: float | str | None = None


NOTHING = Given()


def chosen_axles(read: Profile, axle: str | None, build: str | None, given: Given = NOTHING) -> list[str]:
    """Axles to work on: the one asked for, else every axle whose build (or `given`) names wheel and tire.

    Raises ProfileError where there is none.
    """
    if axle:
        return [*read.corners_of(axle)] or [axle]
    named = given.wheel and given.tire
    axles = [name for name in read.axle_names if named or profiles.has_setup(read, name, build)]
    if not axles:
        raise ProfileError(
            f"build {build or read.baseline} names no wheel and tire for any axle; give ",
            Argument("wheel", to_give=True), " and ", Argument("tire", to_give=True), ".",
            file=str(read.path),
        )  # fmt: skip
    return axles


def common_axles(read: Profile, axle: str | None, *builds: str | None) -> list[str]:
    """Axles that all of these builds have, None for the baseline, in the order of the last. Raises ProfileError."""
    *others, last = (chosen_axles(read, axle, build) for build in builds)
    axles = [name for name in last if all(name in other for other in others)]
    if not axles:
        names = named_in_a_row([build or read.baseline for build in builds])
        text = f"builds {names} have no axle in common that names a wheel and a tire."
        raise ProfileError(text, file=str(read.path))
    return axles


def adjustable(read: Profile, axle: str | None, build: str | None, *, target: bool) -> list[Ready]:
    """Axles whose alignment is asked for: with a target those that have adjusters, if any has. Raises FitmentError."""
    prepared = [ready(read, name, build) for name in chosen_axles(read, axle, build)]
    with_adjusters = [one for one in prepared if one.axle.adjusters]
    return with_adjusters or prepared if target and not axle else prepared


@dataclass(frozen=True)
class _Asked:
    """What is checked: builds of a profile on these axles."""

    read: Profile
    axles: Sequence[str]
    given: Given
    loaded_radius: float | None
    settings: Sequence[Setting]


def checked(
    read: Profile,
    axles: Sequence[str],
    *builds: str | None,
    given: Given = NOTHING,
    loaded_radius: float | None = None,
    settings: Sequence[Setting] = (),
    processes: int = 1,
) -> list[list[FullCase]]:
    """Of each build every axle checked, with the others as they then stand, and what that means for the vehicle.

    loaded_radius : wheel centre to ground [mm], None = the tire less its deflection
    settings : of the adjusters; processes : among which the axles and builds are spread
    Of an axle whose sides differ the tighter corner of the last build comes first; where one is asked for alone, it
    still knows the other: the track is between both. Raises FitmentError.
    Source: `checks.case.run` and `checks.full_case.in_full`.
    """
    asked, axles = axles, [*axles, *(mate for name in axles if (mate := read.across(name)) and mate not in axles)]
    jobs = [(build, name) for build in builds for name in axles]
    with worker_pool(_Asked(read, axles, given, loaded_radius, settings), min(processes, len(jobs))) as work:
        cases = work(_checked, jobs, "checking axle")
    of_builds = [side_by_side(cases[i : i + len(axles)]) for i in range(0, len(jobs), len(axles))]
    order = sorted(range(len(asked)), key=lambda i: _tighter_first(asked, of_builds[-1][i]))
    return [[own[i] for i in order] for own in of_builds]


def _tighter_first(axles: Sequence[str], case: FullCase) -> tuple[int, int, tuple[bool, float]]:
    """The axles in their order, and of one the corner first that a person should hear of first."""
    bare = list(map(axle_of, axles))
    worst = case.fit.in_service.worst if case.fit.is_tight_in_service and case.fit.in_service else case.fit.worst
    urgency = (True, math.inf) if worst is None else worst.urgency
    return bare.index(axle_of(case.fit.axle.name)), -VERDICTS.index(case.fit.verdict), urgency


def _checked(asked: _Asked, job: tuple[str | None, str]) -> FullCase:
    """One axle of one build."""
    build, name = job

    def bolted(axle: str) -> Setup:
        return profiles.setup(asked.read, axle, build, **vars(asked.given))

    prepared, setup = ready(asked.read, name, build), bolted(name)
    if asked.settings:
        from fitment.answers.alignment import with_settings

        prepared = with_settings(prepared, asked.settings, setup.ride)
    own = asked.given.wheel is None and asked.given.tire is None and asked.given.spacer is None
    others = setup_variants(prepared) if own else ()
    beside = asked.read.beside(name)
    there = bolted(beside) if beside is not None and beside in asked.axles else None
    return in_full(run(prepared, setup, others=others, loaded_radius=asked.loaded_radius, other_axle=there))


def is_ordered_with_its_mate(case: FullCase, cases: Sequence[FullCase]) -> bool:
    """Whether a corner has what the other one, which comes first, has: one sheet is for both."""
    mate, names = case.mate, [each.fit.axle.name for each in cases]
    if mate is None or mate.fit.setup != case.fit.setup:
        return False
    return names.index(mate.fit.axle.name) < names.index(case.fit.axle.name)


def of_sizes(prepared: Ready, sizes: Sequence[str], tires: Sequence[str], given: Given) -> list[Setup]:
    """Every wheel size with every tire that goes on it, at ET0; without any the build's own. Raises FitmentError.

    given : of which spacer and ride count
    """
    hub = prepared.axle.hub
    circle = f" {hub.bolt_circle}" if hub and hub.bolt_circle else ""
    bore = f" CB{hub.wheel_register.diameter:g}" if hub and hub.wheel_register else ""
    specs: list[str | None] = [f"{_size(size)} ET0{circle}{bore}" for size in sizes]
    codes: list[str | None] = [*tires]
    setups = [
        profiles.setup(
            prepared.profile, prepared.axle.name, prepared.build, **vars(replace(given, wheel=spec, tire=code))
        )
        for spec in specs or [None]
        for code in codes or [None]
    ]
    matching = [setup for setup in setups if setup.wheel.rim_diameter == setup.tire.rim_code]
    if not matching:
        have = " and ".join(f"{value:g}" for value in sorted({setup.wheel.rim_diameter for setup in setups}))
        need = " and ".join(f"{value:g}" for value in sorted({setup.tire.rim_code for setup in setups}))
        raise FitmentError(f"no tire is for a wheel: the wheels are {have} in, the tires for {need} in rims.")
    for given_as, left in (
        ("size", set(map(_size_of, setups)) - set(map(_size_of, matching))),
        ("tire", {setup.tire.code for setup in setups} - {setup.tire.code for setup in matching}),
    ):
        if left:
            other = "tire is for its rim" if given_as == "size" else "wheel is for it"
            raise FitmentError(Argument(given_as), f" {min(left)}: no {other}; give one that is, or leave this out.")
    if len(matching) > MOST_SIZES:
        raise FitmentError(
            f"{len(matching)} sizes of wheel and tire; at most {MOST_SIZES} go into one table. Give fewer."
        )
    return matching


def _size_of(setup: Setup) -> str:
    return f"{setup.wheel.rim_diameter:g}x{setup.wheel.rim_width:g}"


def _size(given: str) -> str:
    """A wheel size such as 20x10. Raises FitmentError in the words of what was given."""
    name = given.strip()
    if not name or len(name.split()) > 1:
        hint = "give a size alone, such as 20x10; its offset is what is sought."
        raise CodeError(Argument("size"), f' "{given[:60]}": {hint}')
    try:
        parse_wheel(f"{name} ET0")
    except CodeError as error:
        said = str(error).removeprefix(f"{name} ET0: ").replace(f"{name} ET0", name)
        raise CodeError(Argument("size"), f" {name[:60]}: {said}") from None
    return name
