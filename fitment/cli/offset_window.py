"""The command on a wheel size: which offsets clear, and what stops it on each side."""

from __future__ import annotations

from typing import Any

import click

from fitment.cli.common import (
    AXLE,
    BUILD,
    CLEARS,
    DOES_NOT,
    FORMAT,
    NO_CACHE,
    OUT,
    PICTURES,
    PROFILE,
    UNITS,
    check_suffix,
    options,
    tell_unit,
)
from fitment.cli.drawing import LOOKS, give, wanted


@click.command()
@PROFILE
@options(AXLE, BUILD, FORMAT, OUT, UNITS, NO_CACHE, LOOKS)
@click.option("--size", metavar="SIZE", multiple=True, help="Wheel size, such as 20x10; may be given more than once.")
@click.option("--tire", metavar="CODE", multiple=True, help="Tire, such as 305/45R20; may be given more than once.")
@click.option("--spacer", metavar="LENGTH", help="Spacer thickness, 0 for none.")
@click.option("--ride", metavar="NAME|MM", help="A ride height of the profile, or travel at rest.")
@click.option(
    "--with", "with_", metavar="TEXT", help='What you are ready to do, such as "inner fender 15 mm, stops 28 deg".'
)
@click.pass_context
def window(ctx: click.Context, /, out: str | None, form: str, **asked: Any) -> None:
    """The offsets at which a wheel size with a tire clears, and what stops it on each side.

    Without --size and --tire the build's own; several of each make a table of widths and tires. Both ends are checked
    as check does. --with tells the offsets with what you are ready to do beside those without it. Exit code 0 when some
    offset clears, 1 when none does, 2 for bad input.
    """
    from fitment import api

    check_suffix(out, (*PICTURES, ".json"))
    drawn = wanted(ctx, out)
    answer = api.window(**asked)
    tell_unit(answer.units, asked, "spacer", "ride")
    give(answer, drawn, out, form)
    fits = [any(window.ends is not None for window in axle.windows) for axle in answer.found]
    ctx.exit(CLEARS if all(fits) else DOES_NOT)
