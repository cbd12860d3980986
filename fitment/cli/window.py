"""The command on a wheel size: which offsets clear, and what stops it on each side."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fitment.cli.common import (
    AXLE,
    BUILD,
    CLEARS,
    DOES_NOT,
    FORMAT,
    OUT,
    PICTURES,
    UNITS,
    check_suffix,
    chosen_axles,
    load,
    options,
    pictures,
    prepared_axle,
    write,
)
from fitment.cli.drawing import LOOKS, wanted
from fitment.errors import FitmentError

if TYPE_CHECKING:
    from fitment.cases import Ready
    from fitment.vehicle import Setup

MOST = 60  # sizes in one table


@click.command()
@click.argument("profile")
@options(AXLE, BUILD, FORMAT, OUT, UNITS, LOOKS)
@click.option("--size", "sizes", metavar="SIZE", multiple=True, help="Wheel size, such as 20x10; may be repeated.")
@click.option("--tire", "tires", metavar="CODE", multiple=True, help="Tire, such as 305/45R20; may be repeated.")
@click.option("--spacer", metavar="LENGTH", help="Spacer thickness, 0 for none.")
@click.option("--ride", metavar="NAME|MM", help="A ride height of the profile, or travel at rest.")
@click.pass_context
def window(
    ctx: click.Context, profile: str, axle: str | None, build: str | None, form: str, out: str | None, units: str,
    sizes: Sequence[str], tires: Sequence[str], spacer: str | None, ride: str | None,
) -> None:  # fmt: skip
    """The offsets at which a wheel size with a tire clears, and what stops it on each side.

    Without --size and --tire the build's own; several of each make a table of widths and tires. Both ends are checked
    as check does. Exit code 0 when some offset clears, 1 when none does, 2 for bad input.
    """
    from fitment import report
    from fitment.window import looked_up, windows

    check_suffix(out, (*PICTURES, ".json"))
    asked = wanted(ctx, out)
    read = load(profile)
    given = {"wheel": sizes[0] if sizes else None, "tire": tires[0] if tires else None}
    data, texts, sheets, fits = [], [], [], []
    for name in chosen_axles(read, axle, build, given):
        ready = prepared_axle(read, name, build)
        setups = _setups(ready, sizes, tires, spacer, ride)
        kept = looked_up(ready, setups[0].ride)
        found = windows(ready, setups, kept)
        fits.append(any(each.ends is not None for each in found))
        data.append([report.window_json(name, ready.build, each) for each in found])
        texts.append(report.window_text(name, ready.build, found, units))
        if asked.picture:
            from fitment.draw import theme_of, window_sheet

            title = (read.name, f"{name} axle, build {ready.build}")
            sheets.append((name, window_sheet(kept, found, title, units=units, theme=theme_of(asked.theme))))
    whole = report.dumps([each for part in data for each in part])
    if asked.picture:
        pictures(asked.picture, sheets)
    elif out:
        write(out, whole + "\n")
    click.echo(whole if form == "json" else "\n\n".join(texts))
    ctx.exit(CLEARS if all(fits) else DOES_NOT)


def _setups(
    ready: Ready, sizes: Sequence[str], tires: Sequence[str], spacer: str | None, ride: str | None
) -> list[Setup]:
    """Every size with every tire that goes on it. Raises FitmentError."""
    from fitment import profile as profiles

    hub = ready.axle.hub
    circle = f" {hub.bolt_circle}" if hub and hub.bolt_circle else ""
    bore = f" CB{hub.wheel_register.diameter:g}" if hub and hub.wheel_register else ""
    specs = [f"{Path(size).name} ET0{circle}{bore}" for size in sizes] or [""]
    own = [
        profiles.setup(
            ready.profile, ready.axle.name, ready.build, wheel=spec or None, tire=tire or None, spacer=spacer, ride=ride
        )
        for spec in specs
        for tire in tires or [""]
    ]
    found = [each for each in own if each.wheel.rim_diameter == each.tire.rim_code]
    if not found:
        wheels, codes = ({each.wheel.rim_diameter for each in own}, {each.tire.rim_code for each in own})
        have = " and ".join(f"{value:g}" for value in sorted(wheels))
        need = " and ".join(f"{value:g}" for value in sorted(codes))
        raise FitmentError(f"no tire is for a wheel: the wheels are {have} in, the tires for {need} in rims.")
    if len(found) > MOST:
        raise FitmentError(f"{len(found)} sizes of wheel and tire; at most {MOST} go into one table. Give fewer.")
    return found
