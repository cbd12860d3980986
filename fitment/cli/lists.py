"""The command on a list of candidates: screen."""

from __future__ import annotations

import sys

import click

from fitment.cli.common import (
    AXLE,
    BUILD,
    CLEARS,
    OUT,
    PICTURES,
    SOME_UNREADABLE,
    UNITS,
    check_suffix,
    chosen_axles,
    load,
    options,
    prepared_axle,
    write,
)
from fitment.cli.drawing import LOOKS, contact, wanted


@click.command()
@click.argument("profile")
@click.argument("candidates", metavar="LIST.csv")
@options(AXLE, BUILD, OUT, UNITS, LOOKS)
@click.option(
    "--format", "form", type=click.Choice(["text", "csv", "json"]), help="Default: text at a terminal, else csv."
)
@click.pass_context
def screen(
    ctx: click.Context, profile: str, candidates: str, axle: str | None, build: str | None, out: str | None,
    units: str, form: str | None,
) -> None:  # fmt: skip
    """Check every row of a list (columns wheel and tire; spacer, ride and any others) and rank them.

    --out FILE.png draws the best side by side. Exit code 3 when some rows could not be read; they come back with
    the reason.
    """
    from fitment import report
    from fitment.candidates import read_candidates
    from fitment.screen import ranked as in_order
    from fitment.screen import screen as screen_rows
    from fitment.workers import cores

    check_suffix(out, (".csv", ".json", *PICTURES))
    asked = wanted(ctx, out)
    read = load(profile)
    names = chosen_axles(read, axle, build, {"wheel": "-", "tire": "-"})
    prepared = [prepared_axle(read, name, build) for name in names]
    header, rows = read_candidates(candidates)
    ranked = in_order(screen_rows(prepared, rows, processes=cores()))
    if asked.picture:
        contact(asked, prepared, ranked, units)
    elif out:
        text = report.screen_csv(header, ranked) if out.endswith(".csv") else report.dumps(report.screen_json(ranked))
        write(out, text if text.endswith("\n") else text + "\n")
    form = form or ("text" if out or sys.stdout.isatty() else "csv")
    if form == "json":
        click.echo(report.dumps(report.screen_json(ranked)))
    else:
        click.echo(
            report.screen_csv(header, ranked) if form == "csv" else report.screen_text(ranked, units), nl=form == "text"
        )
    ctx.exit(SOME_UNREADABLE if any(row.verdict == "unreadable" for row in ranked) else CLEARS)
