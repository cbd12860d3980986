"""The command that writes the page to hand over: report."""

from __future__ import annotations

import re
import shlex
from functools import partial
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from click.core import ParameterSource

from fitment.cli.common import (
    AXLE,
    BUILD,
    CLEARS,
    DOES_NOT,
    NO_CACHE,
    PROFILE,
    UNITS,
    check_suffix,
    options,
    tell,
    tell_side,
    write,
)
from fitment.cli.completion import known_builds
from fitment.errors import FitmentError

if TYPE_CHECKING:
    from fitment.results import Checked, Compared

DEFAULT = "report.html"
MOST_ROWS = 300  # of a list, in one page


@click.command()
@PROFILE
@click.argument("old", required=False, shell_complete=known_builds)
@click.argument("new", required=False, shell_complete=known_builds)
@options(AXLE, BUILD, UNITS, NO_CACHE)
@click.option("--out", metavar="FILE.html", default=DEFAULT, show_default=True, help="The page to write.")
@click.option(
    "--list", "listed", metavar="FILE.csv", help="Sizes to try in the page: columns as of screen, wheel and tire."
)
@click.option("--date", metavar="TEXT", help="Date to print on the page; without this there is none.")
@click.option("--changes", is_flag=True, help="Try every change for what would make it fit; takes longer.")
@click.pass_context
def report(
    ctx: click.Context, profile: str, old: str | None, new: str | None, axle: str | None, build: str | None,
    units: str | None, out: str, listed: str | None, date: str | None, changes: bool,
) -> None:  # fmt: skip
    """Write a page to hand over: the answer first, then a moving drawing, tables, pictures, cautions, data.

    With OLD and NEW both builds are compared, else one build stands alone (--build, or the baseline). The page is one
    file that needs no network; without --out one that is there already stays. Exit code 0 when the build (NEW) clears,
    1 when it does not, 2 for bad input.
    """
    from importlib.metadata import version

    from fitment import api
    from fitment.answers.handover import best_changes, page_subject
    from fitment.answers.other_wheels import wheels_to_try
    from fitment.page import Answering, load_drawing, report_page
    from fitment.report import VERDICT_WORDS
    from fitment.screening.candidates import read_candidates
    from fitment.workers import cores, quick_cores, when_waiting

    if old is not None and new is None:
        raise FitmentError(f"got one build, {old}; give OLD and NEW to compare two, or --build {old} for it alone.")
    if old is not None and build is not None:
        raise FitmentError("give OLD and NEW, or --build, not both.")
    check_suffix(out, (".html",))
    if ctx.get_parameter_source("out") is ParameterSource.DEFAULT and Path(out).exists():
        raise FitmentError(f"{out} exists; give --out {out} to replace it, or another name.")
    rows = [] if listed is None else list(islice(read_candidates(listed).rows, MOST_ROWS + 1))
    if len(rows) > MOST_ROWS:
        raise FitmentError(
            f"--list {listed}: at most {MOST_ROWS} rows go into a page; screen the list and save its best rows."
        )
    answer: Checked | Compared
    with when_waiting(load_drawing):
        if old is None or new is None:
            answer = api.check(profile, axle, build, units=units, processes=quick_cores())
        else:
            answer = api.compare(profile, old, new, axle, units=units, processes=quick_cores())
    tell_side(axle, answer.axles)
    shown = Path(profile).name
    words = ["check", shown] if old is None or new is None else ["compare", shown, old, new]
    words += ["--build", build] if build is not None else []
    words += ["--axle", axle] if axle is not None else []
    file_name = _file_name([Path(profile).stem, old, answer.new[0].ready.build, axle])
    command = " ".join(shlex.quote(word) for word in words)
    check = shlex.join(["fitment", "check", shown, "--build", answer.new[0].ready.build])
    with wheels_to_try(answer.new, rows, cores()) as others:
        page = report_page(
            list(zip(answer.new, answer.old, strict=True)),
            Answering(partial(page_subject, known=_known(answer)), partial(best_changes, every_kind=changes)),
            command=command, check=check, file_name=file_name,
            units=answer.units, whole_vehicle=axle is None, date=" ".join((date or "").split()),
            version=version("fitment"), others=others, profile=shown, every_kind=changes, processes=quick_cores(),
        )  # fmt: skip
    write(out, page)
    heads = (
        f"{VERDICT_WORDS[case.fit.verdict]}  {case.fit.axle.name}, build {case.ready.build}" for case in answer.new
    )
    tell(lambda: "\n".join(heads))
    ctx.exit(CLEARS if answer.clears else DOES_NOT)


def _known(answer: Checked | Compared) -> dict[str, Any]:
    """How likely each axle clears, where the answer tells it already."""
    from fitment.results import Checked

    if not isinstance(answer, Checked):
        return {}
    return {name: beside.sure for name, beside in zip(answer.axles, answer.asides, strict=True)}


def _file_name(words: list[str | None]) -> str:
    """A name that every system takes: letters, digits and dashes."""
    plain = (re.sub(r"[^A-Za-z0-9]+", "-", word).strip("-") for word in words if word)
    return f"{'-'.join(filter(None, plain))[:80] or 'fitment'}.json"
