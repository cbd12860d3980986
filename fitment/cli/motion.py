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
    UNITS,
    check_suffix,
    chosen_axles,
    echo,
    length,
    load,
    numbers,
    options,
    pictures,
    prepared_axle,
    tell_unit,
    write,
)
from fitment.cli.drawing import LOOKS, Wanted, wanted


@click.command()
@click.argument("profile")
@options(AXLE, BUILD, FORMAT, OUT, UNITS, LOOKS, LOADED)
@click.option("--travel", metavar="LIST", help="Travels in mm, such as -80,0,90; without it the pose grid.")
@click.option("--steer", metavar="LIST", help="Steer angles in degrees, such as -30,0,30.")
@click.option("--rack", metavar="LIST", help="Rack displacements in mm, instead of --steer.")
@click.option("--opposite", metavar="MM", type=float, help="Travel of a solid axle's opposite wheel.")
@click.pass_context
def poses(
    ctx: click.Context, profile: str, axle: str | None, build: str | None, form: str, out: str | None, units: str,
    loaded_radius: str | None, travel: str | None, steer: str | None, rack: str | None,
    opposite: float | None,
) -> None:  # fmt: skip
    """The motion of the wheel as a table: camber, toe, steering geometry over travel and steer."""
    from fitment import report
    from fitment.answers.builds import plausible_numbers
    from fitment.answers.pose_table import tabulate_poses

    check_suffix(out, (*PICTURES, ".json", ".csv"))
    asked = wanted(ctx, out)
    read = load(profile)
    radius = length(loaded_radius)
    if opposite is not None:
        plausible_numbers("--opposite", [opposite])
    tell_unit(units, loaded_radius=loaded_radius)
    tell_unit(units, travel=travel, rack=rack, only="this option takes no other unit")
    tables = [
        tabulate_poses(
            prepared_axle(read, name, build), travels=numbers("--travel", travel), steers=numbers("--steer", steer),
            racks=numbers("--rack", rack), opposite=opposite, loaded_radius=radius,
        )
        for name in chosen_axles(read, axle, build, {})
    ]  # fmt: skip
    data = [report.poses_json(each) for each in tables]
    if asked.picture:
        from fitment.answers.motion_curves import own_curves
        from fitment.draw.motion_curves import motion_sheet

        names = chosen_axles(read, axle, build, {})
        moving = [(name, own_curves(prepared_axle(read, name, build))) for name in names]
        look = _look(asked)
        pictures(asked.picture, [(name, motion_sheet(each, units=units, **look)) for name, each in moving])
    elif out:
        one = report.poses_csv(tables) if out.endswith(".csv") else report.dumps(data[0] if axle else data) + "\n"
        write(out, one)
    if form == "json":
        echo(report.dumps(data[0] if axle else data))
    else:
        echo("\n\n".join(report.poses_text(each, units) for each in tables))


def _look(asked: Wanted) -> dict[str, Any]:
    """Theme and date of a picture. Raises FitmentError for a theme that there is not."""
    from fitment.draw import theme_of

    return {"theme": theme_of(asked.theme), "date": asked.date}


@click.command()
@click.argument("profile")
@options(AXLE, BUILD, FORMAT, OUT, UNITS, LOOKS)
@click.option("--ride", metavar="NAME|MM", help="Ride height at which to set; without it the build's own.")
@click.option("--camber", metavar="DEG", type=float, help="Wanted camber.")
@click.option("--caster", metavar="DEG", type=float, help="Wanted caster, to the body.")
@click.pass_context
def align(
    ctx: click.Context, profile: str, axle: str | None, build: str | None, form: str, out: str | None, units: str,
    ride: str | None, camber: float | None, caster: float | None,
) -> None:  # fmt: skip
    """Camber, caster, toe at each ride height; what the adjusters reach; the settings for a target."""
    from fitment import report
    from fitment.answers.alignment import align as answer
    from fitment.answers.builds import adjustable

    check_suffix(out, (*PICTURES, ".json"))
    asked = wanted(ctx, out)
    read = load(profile)
    tell_unit(units, ride=ride)
    prepared = adjustable(read, axle, build, target=camber is not None or caster is not None)
    found = [answer(each, ride, camber=camber, caster=caster) for each in prepared]
    data = [report.align_json(each) for each in found]
    if asked.picture:
        from fitment.draw.answers import reach_of

        pictures(asked.picture, [(each.ready.axle.name, reach_of(each, units, **_look(asked))) for each in found])
    elif out:
        write(out, report.dumps(data[0] if axle else data) + "\n")
    if form == "json":
        echo(report.dumps(data[0] if axle else data))
    else:
        echo("\n\n".join(report.align_text(each, units) for each in found))
