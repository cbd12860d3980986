"""Commands on the motion of the wheel: poses, align."""

from __future__ import annotations

from typing import Any

import click

from fitment.cli.common import (
    AXLE,
    BUILD,
    FORMAT,
    LOADED,
    OUT,
    PICTURES,
    PROFILE,
    UNITS,
    check_suffix,
    options,
    tell_unit,
)
from fitment.cli.drawing import LOOKS, give, wanted
from fitment.errors import Argument, FitmentError


@click.command()
@PROFILE
@options(AXLE, BUILD, FORMAT, OUT, UNITS, LOOKS, LOADED)
@click.option("--travel", metavar="LIST", help="Travels in mm, such as -80,0,90; without it the pose grid.")
@click.option("--steer", metavar="LIST", help="Steer angles in degrees, such as -30,0,30.")
@click.option("--rack", metavar="LIST", help="Rack displacements in mm, instead of --steer.")
@click.option("--opposite", metavar="MM", type=float, help="Travel of a solid axle's opposite wheel.")
@click.pass_context
def poses(ctx: click.Context, /, out: str | None, form: str, **asked: Any) -> None:
    """The motion of the wheel as a table: camber, toe, steering geometry over travel and steer."""
    from fitment import api

    check_suffix(out, (*PICTURES, ".json", ".csv"))
    drawn = wanted(ctx, out)
    lists = {name: _numbers(name, asked[name]) for name in ("travel", "steer", "rack")}
    answer = api.poses(**asked | lists)
    tell_unit(answer.units, asked, "loaded_radius")
    tell_unit(answer.units, asked, "travel", "rack", only="This option takes no other unit")
    give(answer, drawn, out, form)


def _numbers(argument: str, text: str | None) -> list[float] | None:
    if text is None:
        return None
    try:
        return [float(part) for part in text.split(",")]
    except ValueError:
        hint = "give numbers separated by commas, such as -80,0,90."
        raise FitmentError(Argument(argument), f' "{text}": {hint}') from None


@click.command()
@PROFILE
@options(AXLE, BUILD, FORMAT, OUT, UNITS, LOOKS)
@click.option("--ride", metavar="NAME|MM", help="Ride height at which to set; without it the build's own.")
@click.option("--camber", metavar="DEG", type=float, help="Wanted camber.")
@click.option("--caster", metavar="DEG", type=float, help="Wanted caster, to the body.")
@click.pass_context
def align(ctx: click.Context, /, out: str | None, form: str, **asked: Any) -> None:
    """Camber, caster, toe at each ride height; what the adjusters reach; the settings for a target."""
    from fitment import api

    check_suffix(out, (*PICTURES, ".json"))
    drawn = wanted(ctx, out)
    answer = api.align(**asked)
    tell_unit(answer.units, asked, "ride")
    give(answer, drawn, out, form)
