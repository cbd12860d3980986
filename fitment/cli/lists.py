"""The command on a list of candidates: screen."""

from __future__ import annotations

import sys
from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING

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
    echo,
    echo_csv,
    load,
    options,
    prepared_axle,
    write,
)
from fitment.cli.drawing import LOOKS, contact, wanted
from fitment.errors import FitmentError

if TYPE_CHECKING:
    from fitment.screening.screen import ScreenedRow


@click.command()
@click.argument("profile")
@click.argument("candidates", metavar="LIST.csv")
@options(AXLE, BUILD, OUT, UNITS, LOOKS)
@click.option(
    "--format", "form", type=click.Choice(["text", "csv", "json"]), help="Default: text at a terminal, else csv."
)
@click.option(
    "--sort",
    metavar="KEY",
    default="margin",
    help="Among rows of one verdict: margin (default), clearance, worst, offsets, or a column; -KEY turns it round.",
)
@click.option("--only", metavar="VERDICT", multiple=True, help="Only rows of this verdict, such as clears; repeatable.")
@click.option("--group-by", "group", metavar="COLUMN", help="The best of each tire, or of another column.")
@click.pass_context
def screen(
    ctx: click.Context, profile: str, candidates: str, axle: str | None, build: str | None, out: str | None,
    units: str, form: str | None, sort: str, only: Sequence[str], group: str | None,
) -> None:  # fmt: skip
    """Check every row of a list (columns wheel and tire; spacer, ride and any others) and rank them.

    Ranked by verdict, then by the smallest margin or by --sort. --out FILE.png draws the best side by side. Exit
    code 3 when some rows could not be read; they come back with the reason.
    """
    from fitment import report
    from fitment.screening.candidates import read_candidates
    from fitment.screening.ranking import grouped
    from fitment.screening.ranking import ranked as in_order
    from fitment.screening.screen import screen_candidates as screen_rows
    from fitment.screening.workers import cores, without_collecting

    check_suffix(out, (".csv", ".json", *PICTURES))
    asked = wanted(ctx, out)
    _check_verdicts(only, report.VERDICT_WORDS)
    read = load(profile)
    names = chosen_axles(read, axle, build, {"wheel": "-", "tire": "-"})
    prepared = [prepared_axle(read, name, build) for name in names]
    header, rows = read_candidates(candidates)
    with without_collecting():
        every = in_order(screen_rows(prepared, rows, processes=cores()), sort)
    _tell_no_number(every, sort)
    if not every:
        echo(f"note: {candidates} has a heading and no rows.", err=True)
    ranked = [row for row in every if not only or row.verdict in only]
    if group:
        _check_column(group, header)
        ranked = [row for members in grouped(ranked, group).values() for row in members]
    if asked.picture:
        best = [members[0] for members in grouped(ranked, group).values()] if group else ranked
        contact(asked, prepared, best, units, f"the best of each {group.lower()}" if group else "")
    elif out:
        text = report.screen_csv(header, ranked) if out.endswith(".csv") else report.dumps(report.screen_json(ranked))
        write(out, text if text.endswith("\n") else text + "\n")
    form = form or ("text" if out or sys.stdout.isatty() else "csv")
    slips = report.slip_lines(prepared)
    if form != "text":
        for line in slips:
            echo(f"note: {line.strip()}", err=True)
    if form == "json":
        echo(report.dumps(report.screen_json(ranked)))
    elif form == "csv":
        echo_csv(report.screen_csv(header, ranked))
    else:
        also = [name.removeprefix("-") for name in (sort, group or "")]
        words = (
            report.groups_text(ranked, group, units, also=also)
            if group
            else report.screen_text(ranked, units, also=also)
        )
        echo("\n".join([*slips, words + (_left_out(every, ranked, only) if only else "")]))
    ctx.exit(SOME_UNREADABLE if any(row.verdict == "unreadable" for row in every) else CLEARS)


def _left_out(every: Sequence[ScreenedRow], ranked: Sequence[ScreenedRow], only: Sequence[str]) -> str:
    """How many rows are of none of the verdicts that alone are shown."""
    broken = sum(row.verdict == "unreadable" for row in every) if "unreadable" not in only else 0
    return f"\n\n  {len(every) - len(ranked)} of {len(every)} rows are of another verdict and left out" + (
        f"; {broken} of them cannot be read." if broken else "."
    )


def _tell_no_number(rows: Sequence[ScreenedRow], sort: str) -> None:
    """Say which rows the order by a column of numbers cannot place."""
    from fitment.screening.ranking import without_number

    odd = without_number(rows, sort)
    if odd:
        first, more = odd[0].candidate, f" and {len(odd) - 1} more" if len(odd) > 1 else ""
        column = sort.removeprefix("-")
        echo(
            f'note: --sort {column}: no number in {first.place} ("{first.get(column.lower())}"){more}; such rows come '
            "behind the others of their verdict.",
            err=True,
        )


def _check_verdicts(only: Sequence[str], known: Collection[str]) -> None:
    for verdict in only:
        if verdict not in known:
            raise FitmentError(f"--only {verdict}: there is no such verdict; use {', '.join(known)}.")


def _check_column(group: str, header: Sequence[str]) -> None:
    if group.lower() not in [name.lower() for name in header]:
        raise FitmentError(f"--group-by {group}: the list has no such column; it has {', '.join(header)}.")
