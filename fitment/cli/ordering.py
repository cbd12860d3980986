"""Commands for what is handed to a seller: the order sheet, and the brake template at true size."""

from __future__ import annotations

from typing import Any

import click

from fitment.cli.common import (
    AXLE,
    BUILD,
    CLEARS,
    DOES_NOT,
    FORMAT,
    PROFILE,
    SETUP,
    UNITS,
    check_suffix,
    echo,
    options,
    tell,
    tell_side,
    tell_unit,
    write,
)
from fitment.errors import FitmentError

PAPER = click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", help="Paper size of the PDF.")


@click.command()
@PROFILE
@options(AXLE, BUILD, SETUP, FORMAT)
@click.option("--out", metavar="FILE", help="File to write. Its ending decides: .pdf to print, .txt, .json.")
@options(UNITS, PAPER)
@click.pass_context
def order(ctx: click.Context, /, out: str | None, form: str, paper: str, **asked: Any) -> None:
    """The sheet to order by: all that a seller must confirm, what was checked and what was not.

    Exit code as for check: 0 when the setup clears, 1 when it does not, 2 for bad input.
    """
    from fitment import api

    check_suffix(out, (".pdf", ".txt", ".json"))
    answer = api.order(**asked)
    tell_side(asked["axle"], answer.axles)
    tell_unit(answer.units, asked, "spacer", "ride")
    if out is not None and out.endswith(".pdf"):
        write(out, answer.pdf(paper))
    elif out is not None:
        write(out, (answer.json if out.endswith(".json") else answer.text) + "\n")
    if form == "json":
        echo(answer.json)
    else:
        tell(lambda: answer.text)
    ctx.exit(CLEARS if answer.clears else DOES_NOT)


@click.command()
@PROFILE
@options(AXLE, BUILD, SETUP)
@click.option("--part", metavar="NAME", help="A panel or lip instead, with the line to cut along; or 'tightest'.")
@click.option("--out", metavar="FILE", required=True, help="The PDF to print.")
@options(UNITS, PAPER)
def template(profile: str, out: str, part: str | None, paper: str, units: str | None, **asked: Any) -> None:
    """The caliper at true size to print and cut out, with what to ask the seller for; or a part that must be cut.

    Print at 100 % and measure the check bars: if they are off, the print is of no use.
    """
    from fitment import api

    check_suffix(out, (".pdf",))
    if part is not None:
        answer = api.check(profile, part=part, units=units, **asked)
        tell_side(asked["axle"], answer.axles)
        write(out, answer.cut_pdf(paper))
        return
    given = next((name for name in ("wheel", "tire", "spacer", "ride") if asked[name] is not None), None)
    if given:
        raise FitmentError(f"--{given} is for --part NAME; the caliper's template takes the build's own.")
    _brake(profile, asked["axle"], asked["build"], out, units, paper)


def _brake(profile: str, axle: str | None, build: str | None, out: str, units: str | None, paper: str) -> None:
    """The caliper's template of every axle that has one."""
    from fitment import profile as profiles
    from fitment.draw.printed.brake_template import has_template, template_pages, template_pdf

    read = profiles.load_profile(profile)
    sheets: list[Any] = []
    shown = build or read.baseline
    names = read.axle_names if axle is None else read.corners_of(axle) or (axle,)
    tell_side(axle, names)
    for name in names:
        axle_record = profiles.axle(read, name, build)
        if not axle and not has_template(axle_record):
            echo(f"{name}: no template, because its caliper's outline is not in the profile", err=True)
            continue
        setup = profiles.setup(read, name, build) if profiles.has_setup(read, name, build) else None
        words = {"paper": paper, "units": units or read.units}
        sheets.append(template_pages(axle_record, setup, read.name, shown, **words))
    if not sheets:
        raise FitmentError(
            f"{read.path}: no axle has a caliper outline; measure one and give it as brake.caliper.outline."
        )
    write(out, template_pdf(sheets, read.name, shown))
