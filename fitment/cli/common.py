"""What the commands share: options, reading a profile, writing files whole."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fitment.errors import FitmentError, UnitError

if TYPE_CHECKING:
    from fitment.checks.case import Ready
    from fitment.checks.full_case import FullCase
    from fitment.motion.adjusters import Setting
    from fitment.profile import Profile

CLEARS, DOES_NOT, BAD_INPUT, SOME_UNREADABLE = 0, 1, 2, 3
INTERRUPTED, CUT_OFF = 130, 141  # as a shell has them for Ctrl-C and for a pipe that closed
INPUTS = {"profile": "profile", "candidates": "list", "settings": "settings file"}  # what commands read
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


def echo(text: str = "", *, err: bool = False, nl: bool = True) -> None:
    """Print a text: nothing in it steers the terminal, and its code page stops nothing."""
    from fitment.terminal import printable

    _put(printable(text), err=err, nl=nl)


def echo_csv(table: str) -> None:
    """Print a table: cells as they are into a file or pipe, harmless on a terminal; what is odd in them is said."""
    if sys.stdout.isatty():
        echo(table, nl=False)
    else:
        _put(table, nl=False)
    tell_cells(table)


def _put(text: str, *, err: bool = False, nl: bool = True) -> None:
    from fitment.terminal import within

    encoding = getattr(sys.stderr if err else sys.stdout, "encoding", None) or "utf-8"
    shown = within(text, encoding)
    click.echo(shown, err=err, nl=nl, color=True)  # cells keep what a terminal would take for colours
    if shown != text and not err:
        hint = " --out FILE writes UTF-8, PYTHONUTF8=1 prints it."
        click.echo(f"note: {encoding}, the code page here, lacks some letters; they stand as \\uXXXX.{hint}", err=True)


def tell_cells(table: str) -> None:
    """Say of a CSV text what a spreadsheet or a terminal would do with its cells, which are kept as they are."""
    from fitment.terminal import controls, formulas

    found = formulas(table)
    if found:
        cells = "1 cell begins" if found == 1 else f"{found} cells begin"
        click.echo(
            f"note: {cells} as a formula does (= + - @) and stand{'s' if found == 1 else ''} unchanged in the CSV; a "
            "spreadsheet would compute them. Import the columns as text if you do not trust the list.",
            err=True,
        )
    if controls(table):
        click.echo("note: the CSV keeps control characters that were in the input; do not show it raw.", err=True)


def load(profile: str) -> Profile:
    """The profile of a file, or a bundled one by its bare name. Raises ProfileError."""
    from fitment.profile import load_profile

    return load_profile(profile)


def prepared_axle(read: Profile, axle: str, build: str | None) -> Ready:
    """One axle of one build, ready for any wheel. Raises FitmentError."""
    from fitment.checks.case import ready

    return ready(read, axle, build)


def chosen_axles(read: Profile, axle: str | None, build: str | None, given: dict[str, str | None]) -> list[str]:
    """Axles to work on: the one asked for, else every axle whose build (or the command line) names a setup."""
    from fitment.answers import builds

    return builds.chosen_axles(read, axle, build, given)


def checked(
    read: Profile, axles: Sequence[str], build: str | None, given: dict[str, str | None], loaded: str | None = None,
    settings: str | None = None,
) -> list[FullCase]:  # fmt: skip
    """Each axle of a build checked. Raises FitmentError."""
    from fitment.answers import builds

    made: Sequence[Setting] = ()
    if settings is not None:
        from fitment.answers.alignment import read_settings

        made = read_settings(settings)
    return builds.checked(read, axles, build, given, loaded_radius=length(loaded), settings=made)


def option_length(option: str, text: str) -> float:
    """Millimetres of an option: a bare number, or a text with its unit."""
    from fitment.units import split_quantity, to_mm

    try:
        value, unit = split_quantity(text)
        return to_mm(text if unit else value)
    except UnitError as error:
        raise FitmentError(f"{option}: {error}") from None


def tell_unit(units: str, *, only: str = "", **given: str | None) -> None:
    """Say of bare lengths that they are millimetres on a command that is asked to speak inches.

    only : why no other unit will do, of options that are plain numbers
    """
    for name, text in given.items():
        if units == "in" and text and re.fullmatch(r"[-+\d.,]*[1-9][-+\d.,]*", text.strip()):
            hint = only or f'for inches write the unit, such as "{text} in"'
            echo(f"note: --{name.replace('_', '-')} {text} was read in mm, as bare numbers are; {hint}.", err=True)


def length(text: str | None) -> float | None:
    if text is None:
        return None
    from fitment.answers.builds import plausible_radius

    return plausible_radius("--loaded-radius", text, option_length("--loaded-radius", text))


def numbers(option: str, text: str | None) -> list[float] | None:
    if text is None:
        return None
    from fitment.answers.builds import plausible_numbers

    try:
        values = [float(part) for part in text.split(",")]
    except ValueError:
        raise FitmentError(f'{option} "{text}": give numbers separated by commas, such as -80,0,90.') from None
    return plausible_numbers(option, values)


def check_suffix(out: str | None, allowed: Sequence[str], option: str = "--out") -> None:
    """Refuse an output file before the work is done."""
    if out is None:
        return
    if Path(out).suffix not in allowed:
        raise FitmentError(f"{option} {out}: this command writes {', '.join(allowed)}; choose one of these suffixes.")
    if not Path(out).parent.is_dir():
        raise FitmentError(f"{option} {out}: there is no folder {Path(out).parent}; make it first.")
    if Path(out).is_dir():
        raise FitmentError(f"{option} {out} is a folder; name a file in it.")
    check_target(Path(out))


def check_target(path: Path) -> None:
    """Refuse to write over a file that is protected against writing, or that the command reads."""
    context = click.get_current_context(silent=True)
    for name, word in INPUTS.items():
        given = context.params.get(name) if context else None
        if given and _same(path, given):
            raise FitmentError(f"{path} is the {word} itself; name another file.")
    if path.is_file() and not path.stat().st_mode & 0o222:
        raise FitmentError(f"{path} is protected against writing; choose another name.")


def _same(path: Path, given: str) -> bool:
    """Whether both name one file that is there."""
    try:
        return path.samefile(given)
    except (OSError, ValueError):  # one is not there, or is no name of a file
        return False


def write(out: str, text: str) -> None:
    from fitment.files import write_whole

    write_whole(out, text.encode(errors="surrogateescape"))
    echo(f"wrote {out}", err=True)
    if out.endswith(".csv"):
        tell_cells(text)


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
        echo(f"wrote {target}", err=True)
