"""Commands without a vehicle: what a code and a spec mean, the schema."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import click

from fitment.cli.common import FORMAT, UNITS, echo, options, tell
from fitment.errors import Argument, FitmentError, UnitError

CHORD_HELP = "In place of SPEC: the distance between two studs; gives the bolt circle."


@click.command()
@click.argument("codes", metavar="CODE...", nargs=-1, required=True)
@click.option("--rim", metavar="INCHES", type=float, help="Rim width the tire is mounted on.")
@options(FORMAT, UNITS)
def tire(codes: Sequence[str], rim: float | None, form: str, units: str | None) -> None:
    """What a tire code means: dimensions, load, speed, rim range. Quote a code that has spaces."""
    from fitment import report
    from fitment.parts.tire import size_on, tire_json
    from fitment.parts.tire_code import parse_tire

    sizes = [size_on(parse_tire(code), rim) for code in codes]
    if form == "json":
        echo(report.dumps([tire_json(size) for size in sizes]))
    else:
        tell(lambda: "\n\n".join(report.tire_text(size, units or "mm") for size in sizes))


@click.command()
@click.argument("specs", metavar="[SPEC...]", nargs=-1)
@click.option("--from-chord", "chord", metavar="LENGTH", help=CHORD_HELP)
@click.option("--lugs", metavar="N", type=int, help="How many studs there are, with --from-chord.")
@click.option("--to", type=click.Choice(["next", "second", "opposite"]), help="The stud it was measured to.")
@click.option("--tolerance", metavar="LENGTH", help="How far the tape may be off, with --from-chord; 1 mm.")
@options(FORMAT, UNITS)
def wheel(
    specs: Sequence[str], chord: str | None, lugs: int | None, to: str | None, tolerance: str | None,
    form: str, units: str | None,
) -> None:  # fmt: skip
    """What a wheel spec means, and where its rims stand against the hub face. Quote each spec.

    With --from-chord and --lugs: the bolt circle, from the distance between two studs (or two holes of a wheel).
    """
    from fitment import report
    from fitment.parts.wheel import parse_wheel, wheel_json

    if chord is not None:
        _from_chord(specs, chord, lugs, to, tolerance, form, units or "mm")
        return
    if lugs is not None or to is not None or tolerance is not None:
        raise FitmentError("--lugs, --to and --tolerance belong to --from-chord; give it, such as --from-chord 67.2.")
    if not specs:
        raise FitmentError(
            "Missing argument SPEC: give a wheel such as 20x10 ET25 6x139.7 CB78.1, or --from-chord LENGTH --lugs N."
        )
    wheels = [parse_wheel(spec) for spec in specs]
    if form == "json":
        echo(report.dumps([wheel_json(wheel) for wheel in wheels]))
    else:
        tell(lambda: "\n\n".join(report.wheel_text(wheel, units or "mm") for wheel in wheels))


def _from_chord(
    specs: Sequence[str], chord: str, lugs: int | None, to: Any, tolerance: str | None, form: str, units: str
) -> None:
    from fitment import report
    from fitment.parts import bolt_circle

    if specs:
        raise FitmentError(f"--from-chord takes no wheel spec; got {specs[0]}. Ask for them one after the other.")
    if lugs is None:
        raise FitmentError("--from-chord needs --lugs N, the number of studs.")
    mm = _length("chord", chord)
    off = bolt_circle.TAPE if tolerance is None else _length("tolerance", tolerance)
    readings = bolt_circle.readings(mm, lugs, to=to, tolerance=off)
    if form == "json":
        echo(report.dumps(bolt_circle.readings_json(readings, mm, off)))
    else:
        tell(lambda: report.chord_text(readings, mm, off, units))


def _length(argument: str, text: str) -> float:
    """Millimetres of a bare number, or of a text with its unit."""
    from fitment.units import typed_mm

    try:
        return typed_mm(text)
    except UnitError as error:
        raise FitmentError(Argument(argument), f": {error}") from None


@click.command()
def schema() -> None:
    """JSON Schema of the profile, for an editor."""
    from fitment import report
    from fitment.profile.json_schema import profile_json_schema

    echo(report.dumps(profile_json_schema()))
