"""Commands on the motion of the wheel: poses, align."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

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
    length,
    load,
    numbers,
    options,
    pictures,
    prepared_axle,
    write,
)
from fitment.errors import FitmentError

if TYPE_CHECKING:
    from fitment.align import Alignment
    from fitment.profile import Profile


@click.command()
@click.argument("profile")
@options(AXLE, BUILD, FORMAT, OUT, UNITS, LOADED)
@click.option("--travel", metavar="LIST", help="Travels in mm, such as -80,0,90; without it the pose grid.")
@click.option("--steer", metavar="LIST", help="Steer angles in degrees, such as -30,0,30.")
@click.option("--rack", metavar="LIST", help="Rack displacements in mm, instead of --steer.")
@click.option("--opposite", metavar="MM", type=float, help="Travel of a solid axle's other wheel.")
def poses(
    profile: str, axle: str | None, build: str | None, form: str, out: str | None, units: str,
    loaded_radius: str | None, travel: str | None, steer: str | None, rack: str | None,
    opposite: float | None,
) -> None:  # fmt: skip
    """The motion of the wheel as a table: camber, toe, steering geometry over travel and steer."""
    from fitment import report
    from fitment.kinematics import pose_table

    check_suffix(out, (*PICTURES, ".json", ".csv"))
    read = load(profile)
    radius = length(loaded_radius)
    tables = [
        pose_table(
            prepared_axle(read, name, build), travels=numbers("--travel", travel), steers=numbers("--steer", steer),
            racks=numbers("--rack", rack), opposite=opposite, loaded_radius=radius,
        )
        for name in chosen_axles(read, axle, build, {})
    ]  # fmt: skip
    data = [report.poses_json(each) for each in tables]
    if out and Path(out).suffix in PICTURES:
        pictures(out, [_motion_sheet(read, name, build, units) for name in chosen_axles(read, axle, build, {})])
    elif out:
        one = report.poses_csv(tables) if out.endswith(".csv") else report.dumps(data[0] if axle else data) + "\n"
        write(out, one)
    if form == "json":
        click.echo(report.dumps(data[0] if axle else data))
    else:
        click.echo("\n\n".join(report.poses_text(each, units) for each in tables))


@click.command()
@click.argument("profile")
@options(AXLE, BUILD, FORMAT, OUT, UNITS)
@click.option("--ride", metavar="NAME|MM", help="Ride height at which to set; without it the build's own.")
@click.option("--camber", metavar="DEG", type=float, help="Wanted camber.")
@click.option("--caster", metavar="DEG", type=float, help="Wanted caster, to the body.")
def align(
    profile: str, axle: str | None, build: str | None, form: str, out: str | None, units: str, ride: str | None,
    camber: float | None, caster: float | None,
) -> None:  # fmt: skip
    """Camber, caster, toe at each ride height; what the adjusters reach; the settings for a target."""
    from fitment import align as aligning
    from fitment import report

    check_suffix(out, (*PICTURES, ".json"))
    read = load(profile)
    names = chosen_axles(read, axle, build, {})
    if camber is not None or caster is not None:
        names = names if axle else [name for name in names if prepared_axle(read, name, build).axle.adjusters] or names
    found = [aligning.align(prepared_axle(read, name, build), ride, camber=camber, caster=caster) for name in names]
    data = [report.align_json(each) for each in found]
    if out and Path(out).suffix in PICTURES:
        pictures(out, [(each.ready.axle.name, _reach_sheet(each, units)) for each in found])
    elif out:
        write(out, report.dumps(data[0] if axle else data) + "\n")
    if form == "json":
        click.echo(report.dumps(data[0] if axle else data))
    else:
        click.echo("\n\n".join(report.align_text(each, units) for each in found))


def _motion_sheet(read: Profile, axle: str, build: str | None, units: str) -> tuple[str, Any]:
    """The axle's name and the picture of its motion."""
    from fitment import profile as profiles
    from fitment.curves import curves
    from fitment.draw import motion_sheet

    return axle, motion_sheet(curves(prepared_axle(read, axle, build), profiles.setup(read, axle, build)), units=units)


def _reach_sheet(found: Alignment, units: str) -> Any:
    """The picture of what the adjusters reach. Raises FitmentError where there is nothing to draw."""
    from fitment import report
    from fitment.alignment import outlines
    from fitment.draw import reach_sheet

    if found.reach is None:
        raise FitmentError(f"nothing to draw: {found.why_not}.")
    whole, discrete = outlines(found.reach)
    present, choice, target = found.present, found.choice, found.target
    assert present.caster is not None  # what has adjusters has a steering axis
    return reach_sheet(
        hull=whole,
        present=(present.camber, present.caster),
        target=None if target is None else (target.camber, target.caster),
        best=None if choice is None else (choice.camber, choice.caster),
        discrete=[(report.ball_words(settings, units), hull) for settings, hull in discrete],
        title=found.ready.profile.name,
        subtitle=report.align_subtitle(found, units),
        words=() if choice is None else tuple(report.setting_words(found, s, units) for s in choice.settings),
        units=units,
    )
