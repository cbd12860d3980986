"""The command on a list of candidates: screen."""

from __future__ import annotations

import sys
from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import click

from fitment.cli.common import (
    AXLE,
    BUILD,
    CLEARS,
    NO_CACHE,
    OUT,
    PICTURES,
    PROFILE,
    SOME_UNREADABLE,
    UNITS,
    check_suffix,
    echo,
    echo_csv,
    options,
    pictures,
    tell,
    tell_side,
    write,
)
from fitment.cli.completion import files_of
from fitment.cli.drawing import LOOKS, Wanted, wanted
from fitment.errors import FitmentError

if TYPE_CHECKING:
    from fitment.results import Screened
    from fitment.screening.screen import ScreenedRow


@click.command()
@PROFILE
@click.argument("candidates", metavar="LIST.csv", shell_complete=files_of)
@options(AXLE, BUILD, OUT, UNITS, NO_CACHE, LOOKS)
@click.option(
    "--format", "form", type=click.Choice(["text", "csv", "json"]), help="Default: text at a terminal, else csv."
)
@click.option(
    "--sort",
    metavar="KEY",
    default="margin",
    help="Order within each verdict: margin (default), clearance, worst, offsets, or a column. -KEY reverses it.",
)
@click.option(
    "--only",
    metavar="VERDICT",
    multiple=True,
    help="Only rows of this verdict, such as clears; may be given more than once.",
)
@click.option(
    "--column",
    metavar="NAME=HEADER",
    multiple=True,
    help='Which column is which, such as wheel="Rim"; may be given more than once.',
)
@click.option("--group-by", "group", metavar="COLUMN", help="The best of each tire, or of another column.")
@click.option(
    "--limit",
    metavar="N|all",
    help="At most so many rows, of each group the best first. Default: 15 in a text, all as csv or json.",
)
@click.pass_context
def screen(
    ctx: click.Context,
    /,
    out: str | None,
    form: str | None,
    only: Sequence[str],
    group: str | None,
    limit: str | None,
    **asked: Any,
) -> None:
    """Check every row of a list (columns wheel and tire; spacer, ride and any others) and rank them.

    Ranked by verdict, then by the smallest margin or by --sort; --limit counts what --only and --group-by leave.
    --out FILE.png draws the best side by side. Exit code 3 when some rows could not be read; they come back with the
    reason.
    """
    from fitment import api, report
    from fitment.screening.candidates import header_of
    from fitment.screening.ranking import limit_of, limited
    from fitment.workers import cores

    check_suffix(out, (".csv", ".json", *PICTURES))
    drawn = wanted(ctx, out)
    _check_verdicts(only, report.VERDICT_WORDS)
    most = limit_of(limit)
    sort = asked["sort"]
    if group and (header := header_of(asked["candidates"])):  # of a pipe it is told after the work
        _check_column(group, header)
    every = api.screen(**asked, processes=cores())
    tell_side(asked["axle"], every.axles)
    _tell_no_number(every.rows, sort)
    if not every.rows:
        echo(f"note: {asked['candidates']} has a heading and no rows.", err=True)
    ranked = [row for row in every.rows if not only or row.verdict in only]
    if group:
        _check_column(group, every.header)
    shown = replace(every, rows=tuple(limited(ranked, most, group)), limit=most)
    if drawn.picture:
        _draw_best(shown, ranked, drawn, group)
    elif out:
        write(out, shown.csv if out.endswith(".csv") else shown.json + "\n", shown.delimiter)
    form = form or ("text" if out or sys.stdout.isatty() else "csv")
    if form != "text":
        for line in report.slip_lines(shown.prepared, shown.units):
            echo(f"note: {line.strip()}", err=True)
    if form == "json":
        echo(shown.json)
    elif form == "csv":
        echo_csv(shown.csv, shown.delimiter)
    else:
        tell(lambda: _text(shown, ranked, group) + (_left_out(every.rows, ranked, only) if only else ""))
    ctx.exit(SOME_UNREADABLE if any(row.verdict == "unreadable" for row in every.rows) else CLEARS)


def _text(shown: Screened, ranked: Sequence[ScreenedRow], group: str | None) -> str:
    """What is wrong with the profile, and the best rows, or the best of each group.

    ranked : the rows of the verdicts asked for, best first, before their number was limited
    """
    from fitment import report
    from fitment.screening.ranking import limited

    rows = limited(ranked, report.MOST if shown.limit is None else shown.limit, group)
    also = [name.removeprefix("-") for name in (shown.sort, group or "")]
    told: dict[str, Any] = {"every": shown.every, "sort": shown.sort, "also": also, "checked": shown.prepared}
    if group:
        words = report.groups_text(rows, group, shown.units, ranked=ranked, **told)
    else:
        words = report.screen_text(rows, shown.units, **told)
    rest = ["", "  --limit all shows every row."] if shown.limit is None and len(rows) < len(ranked) else []
    return "\n".join([*report.slip_lines(shown.prepared, shown.units), words, *rest])


def _draw_best(shown: Screened, ranked: Sequence[ScreenedRow], drawn: Wanted, group: str | None) -> None:
    """The contact sheet of the best rows, or of the best of each group. Raises FitmentError."""
    from fitment.answers.row_checks import best_rows
    from fitment.draw.answers import best_of
    from fitment.screening.ranking import grouped

    best, words, total = list(shown.rows), "", len(ranked)
    if group:
        groups = grouped(best, group).values()
        best, words, total = [rows[0] for rows in groups], f"the best of each {group.lower()}", len(groups)
    counts: dict[str, Any] = {"axles": len(shown.prepared), "total": total}
    figure = best_of(best_rows(shown.prepared, best), shown.units, said=words, **counts, **drawn.style())
    pictures(str(drawn.picture), [("", figure)])


def _left_out(every: Sequence[ScreenedRow], ranked: Sequence[ScreenedRow], only: Sequence[str]) -> str:
    """How many rows are of none of the verdicts that alone are shown."""
    broken = sum(row.verdict == "unreadable" for row in every) if "unreadable" not in only else 0
    return f"\n\n  {len(every) - len(ranked)} of {len(every)} rows are of another verdict and left out" + (
        f"; {broken} of them cannot be read." if broken else "."
    )


def _tell_no_number(rows: Sequence[ScreenedRow], sort: str) -> None:
    """Say which rows the order by a column of numbers cannot place, and of which column none is a number."""
    from fitment.screening.ranking import sorted_as_text, without_number

    text = sorted_as_text(rows, sort)
    if text:
        column = sort.removeprefix("-")
        echo(
            f'note: --sort {column}: the column was sorted as text; "{text}" looks like a number and cannot be read as '
            "one only. Write 1299.50 or 1299,50, without a unit.",
            err=True,
        )
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
