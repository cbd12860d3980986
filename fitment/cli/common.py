"""What the commands share: options, reading a profile, writing files whole."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fitment.errors import FitmentError, ProfileError, UnitError

if TYPE_CHECKING:
    from fitment.cases import Case, Ready
    from fitment.profile import Profile
    from fitment.vehicle import Setup

CLEARS, DOES_NOT, BAD_INPUT, SOME_UNREADABLE = 0, 1, 2, 3
PICTURES = (".png", ".svg", ".pdf")
AXLES = click.Choice(["front", "rear"])


def options(*options: Callable[[Any], Any]) -> Callable[[Any], Any]:
    """Several click options as one decorator."""

    def decorate(function: Any) -> Any:
        for option in reversed(options):
            function = option(function)
        return function

    return decorate


AXLE = click.option("--axle", type=AXLES, help="One axle only; without it every axle of the profile.")
BUILD = click.option("--build", metavar="NAME", help="A build of the profile; without it the baseline.")
UNITS = click.option("--units", type=click.Choice(["mm", "in"]), default="mm", help="Of text and pictures.")
FORMAT = click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", help="JSON is in mm.")
OUT = click.option("--out", metavar="FILE", help="Its suffix says what: .png .svg .pdf a picture, .json .csv data.")
LOADED = click.option("--loaded-radius", metavar="MM", help="Wheel centre to ground, for scrub radius and trail.")
SETUP = options(
    click.option("--wheel", metavar="SPEC", help='Another wheel, such as "20x10 ET25 6x139.7 CB78.1".'),
    click.option("--tire", metavar="CODE", help="Another tire, such as 305/45R20."),
    click.option("--spacer", metavar="LENGTH", help="Spacer thickness, 0 for none."),
    click.option("--ride", metavar="NAME|MM", help="A ride height of the profile, or travel at rest."),
)


def load(profile: str) -> Profile:
    """The profile of a file, or a bundled one by its bare name. Raises ProfileError."""
    from fitment.profile import load_profile

    return load_profile(profile)


def prepared_axle(read: Profile, axle: str, build: str | None) -> Ready:
    """One axle of one build, ready for any wheel. Raises FitmentError."""
    from fitment.cases import ready

    return ready(read, axle, build)


def chosen_axles(read: Profile, axle: str | None, build: str | None, given: dict[str, str | None]) -> list[str]:
    """Axles to work on: the one asked for, else every axle whose build (or the command line) names a setup."""
    from fitment import profile as profiles

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


def checked(
    read: Profile, axles: Sequence[str], build: str | None, given: dict[str, str | None], loaded: str | None = None,
    settings: str | None = None,
) -> list[Case]:  # fmt: skip
    from fitment import profile as profiles
    from fitment.cases import ready, run, setup_variants

    def bolted(name: str) -> Setup:
        return profiles.setup(
            read, name, build,
            wheel=given.get("wheel"), tire=given.get("tire"), spacer=given.get("spacer"), ride=given.get("ride"),
        )  # fmt: skip

    cases = []
    for name in axles:
        prepared, setup = ready(read, name, build), bolted(name)
        others_here = [other for other in axles if other != name]
        if settings is not None:
            from fitment import align

            prepared = align.with_settings(prepared, align.read_settings(settings), setup.ride)
        others = () if given.get("wheel") or given.get("tire") or given.get("spacer") else setup_variants(prepared)
        there = bolted(others_here[0]) if others_here else None
        cases.append(run(prepared, setup, others=others, loaded_radius=length(loaded), other_axle=there))
    return cases


def option_length(option: str, text: str) -> float:
    """Millimetres of an option: a bare number, or a text with its unit."""
    from fitment.units import split_quantity, to_mm

    try:
        value, unit = split_quantity(text)
        return to_mm(text if unit else value)
    except UnitError as error:
        raise FitmentError(f"{option}: {error}") from None


def length(text: str | None) -> float | None:
    if text is None:
        return None
    from fitment.units import split_quantity, to_mm

    try:
        value, unit = split_quantity(text)
        length = to_mm(text if unit else value)
    except UnitError as error:
        raise FitmentError(f"--loaded-radius: {error}") from None
    if not 100 <= length <= 800:
        raise FitmentError(f"--loaded-radius {text}: {length:g} mm is not plausible (100 to 800 mm).")
    return length


def numbers(option: str, text: str | None) -> list[float] | None:
    if text is None:
        return None
    import math

    try:
        values = [float(part) for part in text.split(",")]
    except ValueError:
        raise FitmentError(f'{option} "{text}": give numbers separated by commas, such as -80,0,90.') from None
    if len(values) > 10_000 or not all(math.isfinite(value) and abs(value) < 1e4 for value in values):
        raise FitmentError(f"{option}: at most 10,000 finite numbers below 10,000 each.")
    return values


def check_suffix(out: str | None, allowed: Sequence[str], option: str = "--out") -> None:
    """Refuse an output file before the work is done."""
    if out is None:
        return
    if Path(out).suffix not in allowed:
        raise FitmentError(f"{option} {out}: this command writes {', '.join(allowed)}; choose one of these suffixes.")
    if not Path(out).parent.is_dir():
        raise FitmentError(f"{option} {out}: there is no folder {Path(out).parent}; make it first.")
    check_target(Path(out))


def check_target(path: Path) -> None:
    """Refuse to write over a file that is protected against writing."""
    if path.is_file() and not path.stat().st_mode & 0o222:
        raise FitmentError(f"{path} is protected against writing; choose another name.")


def write(out: str, text: str) -> None:
    from fitment.write import write_whole

    write_whole(out, text.encode())
    click.echo(f"wrote {out}", err=True)


def targets(out: str, axles: Sequence[str]) -> list[Path]:
    """One file an axle, each checked before the first is written: all of them or none. Raises FitmentError."""
    path = Path(out)
    found = [path if len(axles) == 1 else path.with_name(f"{path.stem}-{axle}{path.suffix}") for axle in axles]
    for target in found:
        check_target(target)
        if target.is_dir():
            raise FitmentError(f"{target} is a folder; name a file in it.")
    return found


def pictures(out: str, sheets: Sequence[tuple[str, Any]]) -> None:
    """One file an axle; with several, the axle's name goes before the suffix."""
    from fitment.draw import save

    for (_, figure), target in zip(sheets, targets(out, [axle for axle, _ in sheets]), strict=True):
        save(figure, target)
        click.echo(f"wrote {target}", err=True)
