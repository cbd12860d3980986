"""Commands on the builds of a profile: check, next, compare, show."""

from __future__ import annotations

from typing import Any

import click

from fitment.cli.common import (
    AXLE,
    BUILD,
    CLEARS,
    DOES_NOT,
    FORMAT,
    LOADED,
    NO_CACHE,
    OUT,
    PICTURES,
    PROFILE,
    SETUP,
    UNITS,
    check_suffix,
    echo,
    options,
    pictures,
    tell,
    tell_side,
    tell_unit,
    write,
)
from fitment.cli.completion import known_builds
from fitment.cli.drawing import DRAWING, LOOKS, MOVIES, give, loading, wanted

SETTINGS = 'How the adjusters are set: a .json that align wrote, or "NAME = 90, 120; NAME = longer 2" (deg, mm).'


FULL = click.option("--full", is_flag=True, help="All that can be said; without it what decides.")


@click.command()
@PROFILE
@options(AXLE, BUILD, SETUP, LOADED, FULL, FORMAT, OUT, UNITS, NO_CACHE, DRAWING)
@click.option(
    "--geometry", is_flag=True, help="JSON also has the poses, the outlines of wheel and tire, and the parts in place."
)
@click.option(
    "--how-sure", is_flag=True, help="Also how likely it is to clear, by your tolerances, and what to measure again."
)
@click.option("--changes", is_flag=True, help="Also what would make it clear: one change, else several together.")
@click.option(
    "--part", metavar="NAME", help="Also where this panel or lip must be cut; 'tightest': the one short by most."
)
@click.option("--settings", metavar="TEXT|FILE", help=SETTINGS)
@click.pass_context
def check(ctx: click.Context, /, out: str | None, form: str, **asked: Any) -> None:
    """Check one setup: verdict, what limits it, the tightest clearances, what is not ok; --full tells all.

    Exit code 0 when it clears, 1 when it does not, 2 for bad input.
    """
    from fitment import api
    from fitment.workers import quick_cores

    check_suffix(out, (*PICTURES, *MOVIES, ".json", ".csv"))
    drawn = wanted(ctx, out)
    if asked["part"] is None and drawn.look.get("view") == "cut":
        asked["part"] = "tightest"
    with loading(drawn):
        answer = api.check(**asked, processes=quick_cores())
    tell_unit(answer.units, asked, "spacer", "ride", "loaded_radius")
    give(answer, drawn, out, form, brief=not (asked["full"] or asked["how_sure"] or asked["changes"] or asked["part"]))
    ctx.exit(CLEARS if answer.clears else DOES_NOT)


@click.command("next")
@PROFILE
@options(AXLE, BUILD, FORMAT, OUT, UNITS)
@click.pass_context
def next_readings(ctx: click.Context, /, out: str | None, form: str, **asked: Any) -> None:
    """What to measure next: how likely a build clears, and the readings that decide it, the most useful first.

    Each with how to take it and where it goes. Exit code 0, or 2 for bad input.
    """
    from fitment import api

    check_suffix(out, (".json",))
    give(api.next_readings(**asked), wanted(ctx, out), out, form)


@click.command()
@PROFILE
@click.argument("old", shell_complete=known_builds)
@click.argument("new", shell_complete=known_builds)
@options(AXLE, FULL, FORMAT, OUT, UNITS, NO_CACHE, DRAWING)
@click.pass_context
def compare(ctx: click.Context, /, out: str | None, form: str, **asked: Any) -> None:
    """Compare two builds of a profile: both verdicts, what moved most, what limits; and the overlay picture.

    Exit code as for check, for the NEW build.
    """
    from fitment import api
    from fitment.workers import quick_cores

    check_suffix(out, (*PICTURES, *MOVIES, ".json"))
    drawn = wanted(ctx, out)
    with loading(drawn):
        answer = api.compare(**asked, processes=quick_cores())
    give(answer, drawn, out, form, brief=not asked["full"])
    ctx.exit(CLEARS if answer.clears else DOES_NOT)


@click.command()
@PROFILE
@options(AXLE, BUILD, FORMAT, OUT, UNITS, LOOKS)
@click.pass_context
def show(
    ctx: click.Context, profile: str, axle: str | None, build: str | None, form: str, out: str | None, units: str | None
) -> None:
    """Draw the profile itself, so that a mistyped point is seen (--out FILE), and list what it holds."""
    from fitment import api, report

    check_suffix(out, (*PICTURES, ".json"))
    drawn = wanted(ctx, out)
    checked = api.check(profile, axle, build, units=units)
    tell_side(axle, checked.axles)
    cases, words = checked.cases, checked.units
    data = [report.profile_json(case) for case in cases]
    if drawn.picture:
        from fitment.draw.sheets import profile_sheet

        sheets = [profile_sheet(case.ready, case.fit.setup, units=words, **drawn.style()) for case in cases]
        pictures(drawn.picture, [(case.fit.axle.name, sheet) for case, sheet in zip(cases, sheets, strict=True)])
    elif out:
        write(out, report.dumps(data[0] if axle else data) + "\n")
    if form == "json":
        echo(report.dumps(data[0] if axle else data))
    else:
        tell(lambda: report.profile_text(cases[0].ready.profile, cases, words))
