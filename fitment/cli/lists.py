"""The command on a list of candidates: screen."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from fitment.cli.common import (
    AXLE,
    BUILD,
    CLEARS,
    OUT,
    SOME_UNREADABLE,
    UNITS,
    check_suffix,
    chosen_axles,
    load,
    options,
    prepared_axle,
    write,
)


@click.command()
@click.argument("profile")
@click.argument("candidates", metavar="LIST.csv")
@options(AXLE, BUILD, OUT, UNITS)
@click.option(
    "--format", "form", type=click.Choice(["text", "csv", "json"]), help="Default: text at a terminal, else csv."
)
@click.pass_context
def screen(
    ctx: click.Context, profile: str, candidates: str, axle: str | None, build: str | None, out: str | None,
    units: str, form: str | None,
) -> None:  # fmt: skip
    """Check every row of a list (columns wheel and tire; spacer, ride and any others) and rank them.

    Exit code 3 when some rows could not be read; they come back with the reason.
    """
    from fitment import report
    from fitment import screen as screening

    check_suffix(out, (".csv", ".json"))
    read = load(profile)
    prepared = [
        prepared_axle(read, name, build) for name in chosen_axles(read, axle, build, {"wheel": "-", "tire": "-"})
    ]
    header, rows = screening.read_candidates(candidates)
    screener = screening.Screener(prepared)
    done = []
    watched = sys.stderr.isatty() and Path(candidates).is_file()  # a pipe cannot be counted beforehand
    with click.progressbar(
        length=_line_count(candidates) if watched else 0, label="screening", file=sys.stderr, hidden=not watched
    ) as bar:
        for row in rows:
            done.append(screener.check(row))
            bar.update(1)
    ranked = screening.ranked(done)
    if out:
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


def _line_count(path: str) -> int:
    """Lines of a file, for the progress bar."""
    with Path(path).open("rb") as stream:
        return max(sum(block.count(b"\n") for block in iter(lambda: stream.read(1 << 20), b"")) - 1, 1)
