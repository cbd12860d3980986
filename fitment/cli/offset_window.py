"""The command on a wheel size: which offsets clear, and what stops it on each side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

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
    echo,
    load,
    options,
    pictures,
    prepared_axle,
    write,
)
from fitment.cli.drawing import LOOKS, wanted


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
    from fitment.answers.builds import of_sizes
    from fitment.screening.keep_out import keep_out_at
    from fitment.screening.offset_window import windows

    check_suffix(out, (*PICTURES, ".json"))
    asked = wanted(ctx, out)
    read = load(profile)
    given = {"wheel": sizes[0] if sizes else None, "tire": tires[0] if tires else None}
    data, texts, sheets, fits = [], [], [], []
    for name in chosen_axles(read, axle, build, given):
        ready = prepared_axle(read, name, build)
        setups = of_sizes(ready, sizes, tires, spacer, ride)
        kept = keep_out_at(ready, setups[0].ride)
        found = windows(ready, setups, kept)
        fits.append(any(each.ends is not None for each in found))
        data.append([report.window_json(ready, each) for each in found])
        texts.append(report.window_text(ready, found, units))
        if asked.picture:
            from fitment.draw import theme_of, window_sheet

            title = (read.name, f"{name} axle, build {ready.build}")
            look: dict[str, Any] = {"units": units, "theme": theme_of(asked.theme), "date": asked.date}
            sheets.append((name, window_sheet(kept, found, title, **look)))
    whole = report.dumps([each for part in data for each in part])
    if asked.picture:
        pictures(asked.picture, sheets)
    elif out:
        write(out, whole + "\n")
    echo(whole if form == "json" else "\n\n".join(texts))
    ctx.exit(CLEARS if all(fits) else DOES_NOT)
