"""Commands for what is handed to a seller: the order sheet, and the brake template at true size."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fitment.cli.common import (
    AXLE,
    BUILD,
    CLEARS,
    DOES_NOT,
    FORMAT,
    SETUP,
    UNITS,
    check_suffix,
    checked,
    chosen_axles,
    echo,
    load,
    options,
    tell_unit,
    write,
)
from fitment.errors import FitmentError

if TYPE_CHECKING:
    from fitment.answers.order_sheet import AxleOrder

PAPER = click.option("--paper", type=click.Choice(["a4", "letter"]), default="a4", help="Of a PDF.")


@click.command()
@click.argument("profile")
@options(AXLE, BUILD, SETUP, FORMAT)
@click.option("--out", metavar="FILE", help="Its suffix says what: .pdf to print, .txt, .json.")
@options(UNITS, PAPER)
@click.pass_context
def order(
    ctx: click.Context, profile: str, axle: str | None, build: str | None, wheel: str | None, tire: str | None,
    spacer: str | None, ride: str | None, form: str, out: str | None, units: str, paper: str,
) -> None:  # fmt: skip
    """The sheet to order by: all that a seller must confirm, what was checked and what was not.

    Exit code as for check: 0 when the setup clears, 1 when it does not, 2 for bad input.
    """
    from fitment import report
    from fitment.answers.order_sheet import axle_order

    check_suffix(out, (".pdf", ".txt", ".json"))
    read = load(profile)
    given = {"wheel": wheel, "tire": tire, "spacer": spacer, "ride": ride}
    tell_unit(units, spacer=spacer, ride=ride)
    orders = [axle_order(case) for case in checked(read, chosen_axles(read, axle, build, given), build, given)]

    def text() -> str:
        return report.order_text(orders, units)

    def data() -> str:
        found = [report.order_json(each) for each in orders]
        return report.dumps(found[0] if axle else found)

    if out:
        _write(out, orders, (text, data), units, paper)
    echo(data() if form == "json" else text())
    ctx.exit(CLEARS if all(each.case.fit.verdict == "clears" for each in orders) else DOES_NOT)


def _write(
    out: str, orders: list[AxleOrder], words: tuple[Callable[[], str], Callable[[], str]], units: str, paper: str
) -> None:
    suffix, (text, data) = Path(out).suffix, words
    if suffix == ".pdf":
        from fitment.draw.printed.order_sheet import order_pdf

        write_bytes(out, order_pdf(orders, units=units, paper=paper))
    else:
        write(out, (data() if suffix == ".json" else text()) + "\n")


@click.command()
@click.argument("profile")
@options(AXLE, BUILD)
@click.option("--out", metavar="FILE", required=True, help="The PDF to print.")
@options(UNITS, PAPER)
def template(profile: str, axle: str | None, build: str | None, out: str, units: str, paper: str) -> None:
    """The caliper at true size to print and cut out, with what to ask the seller for. One sheet an axle, or more.

    Print at 100 % and measure the check bars: if they are off, the print is of no use.
    """
    from fitment import profile as profiles
    from fitment.draw.printed.brake_template import has_template, template_pages, template_pdf

    check_suffix(out, (".pdf",))
    read = load(profile)
    sheets: list[Any] = []
    for name in [axle] if axle else read.axle_names:
        found = profiles.axle(read, name, build)
        if not axle and not has_template(found):
            echo(f"{name}: no template, because its caliper's outline is not in the profile", err=True)
            continue
        setup = profiles.setup(read, name, build) if profiles.has_setup(read, name, build) else None
        sheets.append(template_pages(found, setup, read.name, build or read.baseline, paper=paper, units=units))
    if not sheets:
        raise FitmentError(
            f"{read.path}: no axle has a caliper outline; measure one and give it as brake.caliper.outline."
        )
    write_bytes(out, template_pdf(sheets))


def write_bytes(out: str, content: bytes) -> None:
    """A file that appears whole."""
    from fitment.files import write_whole

    write_whole(out, content)
    echo(f"wrote {out}", err=True)
