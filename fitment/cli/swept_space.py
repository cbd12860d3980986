"""The command on the space that tire and wheel sweep: a mesh, slices to print or to cut by."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from fitment.cli.common import (
    AXLE,
    FORMAT,
    PROFILE,
    UNITS,
    check_suffix,
    echo,
    options,
    targets,
    tell,
    tell_side,
    write,
)
from fitment.cli.completion import known_builds
from fitment.cli.ordering import PAPER

ENDINGS = (".stl", ".ply", ".svg", ".pdf", ".dxf", ".json")


@click.command()
@PROFILE
@options(AXLE)
@click.option(
    "--build", metavar="NAME", multiple=True, shell_complete=known_builds,
    help="A build of the profile; may be given more than once. Without it the baseline.",
)  # fmt: skip
@click.option("--ride", metavar="NAME|MM", multiple=True, help="A ride height; may be given more than once.")
@click.option(
    "--extra",
    metavar="MM",
    default=0.0,
    type=click.UNPROCESSED,
    help="Clearance to add all round, in mm; or with a unit, 1/2in.",
)
@click.option("--deviation", metavar="MM", default=0.5, help="How far vertices may stand outside, 0.5 mm unless given.")
@click.option("--worst", is_flag=True, help="With the largest tire that its market permits.")
@click.option(
    "--slice", "slice_", metavar="WAY=MM", multiple=True,
    help="A slice: x=120, y=640, z=0, or x for one every 100 mm; may be given more than once.",
)  # fmt: skip
@options(FORMAT)
@click.option("--out", metavar="FILE", help="File to write: .stl .ply a mesh, .svg .pdf .dxf slices, .json data.")
@options(UNITS, PAPER)
def envelope(out: str | None, form: str, paper: str, **asked: Any) -> None:
    """The space that tire and wheel sweep through all travel and steering, with the clearance asked.

    A closed mesh in the body's frame, or slices at true size with marks that a tape finds. --extra adds clearance all
    round. Takes up to a minute, several for a solid axle that steers: a larger --deviation is quicker.
    """
    from fitment import api
    from fitment.workers import quick_cores

    check_suffix(out, ENDINGS)
    if out is not None and out.endswith(".dxf"):
        from fitment.draw.printed.envelope_dxf import check_library

        check_library()
    answer = api.envelope(**asked, processes=quick_cores())
    tell_side(asked["axle"], answer.axles)
    if out is not None and out.endswith(".json"):
        write(out, answer.json + "\n")
    elif out is not None:
        for axle, target in zip(answer.axles, targets(out, answer.axles), strict=True):
            write(str(target), answer.file(Path(out).suffix, axle, paper=paper))
    if form == "json":
        echo(answer.json)
    else:
        tell(lambda: answer.text)
