"""Commands on the builds of a profile: check, compare, show."""

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
    OUT,
    PICTURES,
    SETUP,
    UNITS,
    check_suffix,
    checked,
    chosen_axles,
    echo,
    load,
    options,
    pictures,
    tell_unit,
    write,
)
from fitment.cli.drawing import DRAWING, LOOKS, MOVIES, draw, wanted


@click.command()
@click.argument("profile")
@options(AXLE, BUILD, SETUP, LOADED, FORMAT, OUT, UNITS, DRAWING)
@click.option("--geometry", is_flag=True, help="JSON also carries poses, sections and placed obstacles.")
@click.option("--how-sure", is_flag=True, help="Chances under the stated tolerances, and what to measure again.")
@click.option("--changes", "with_changes", is_flag=True, help="Also what would make it clear, one change at a time.")
@click.option("--settings", metavar="TEXT|FILE", help="Adjusters: a JSON of align, or NAME = 90, 120; NAME = longer 2")
@click.pass_context
def check(
    ctx: click.Context, profile: str, axle: str | None, build: str | None, wheel: str | None, tire: str | None,
    spacer: str | None, ride: str | None, loaded_radius: str | None, form: str, out: str | None, units: str,
    geometry: bool, how_sure: bool, with_changes: bool, settings: str | None,
) -> None:  # fmt: skip
    """Check one setup: bolt-on checks, clearances at their worst pose, cautions.

    Exit code 0 when it clears, 1 when it does not, 2 for bad input.
    """
    from fitment import report
    from fitment.answers.asides import beside_check

    check_suffix(out, (*PICTURES, *MOVIES, ".json", ".csv"))
    asked = wanted(ctx, out)
    read = load(profile)
    given = {"wheel": wheel, "tire": tire, "spacer": spacer, "ride": ride}
    tell_unit(units, spacer=spacer, ride=ride, loaded_radius=loaded_radius)
    cases = checked(read, chosen_axles(read, axle, build, given), build, given, loaded_radius, settings)

    beside = [beside_check(case, certainty=how_sure, changes=with_changes) for case in cases]

    def data() -> str:
        found = [report.checked_json(case, more, geometry=geometry) for case, more in zip(cases, beside, strict=True)]
        return report.dumps(found[0] if axle else found)

    if asked.picture or asked.movie:
        draw(asked, [(case, None) for case in cases], units)
    if out and out.endswith(".csv"):
        write(out, report.clearances_csv(cases))
    elif out and out.endswith(".json"):
        write(out, data() + "\n")
    if form == "json":
        echo(data())
    else:
        told = zip(cases, beside, strict=True)
        echo("\n\n".join(report.checked_text(*each, units, last=each[0] is cases[-1]) for each in told))
    ctx.exit(CLEARS if all(case.fit.verdict == "clears" for case in cases) else DOES_NOT)


@click.command()
@click.argument("profile")
@click.argument("old")
@click.argument("new")
@options(AXLE, FORMAT, OUT, UNITS, DRAWING)
@click.pass_context
def compare(
    ctx: click.Context, profile: str, old: str, new: str, axle: str | None, form: str, out: str | None, units: str
) -> None:
    """Compare two builds of a profile: a table of differences and the overlay picture.

    Exit code as for check, for the NEW build.
    """
    from fitment import report
    from fitment.answers.builds import common_axles
    from fitment.answers.comparison import compared

    check_suffix(out, (*PICTURES, *MOVIES, ".json"))
    asked = wanted(ctx, out)
    read = load(profile)
    axles = common_axles(read, axle, old, new, profile)
    pairs = list(map(compared, checked(read, axles, old, {}), checked(read, axles, new, {})))

    def data() -> str:
        found = [report.compare_json(both) for both in pairs]
        return report.dumps(found[0] if axle else found)

    if asked.picture or asked.movie:
        draw(asked, [(both.new, both.old) for both in pairs], units)
    if out and out.endswith(".json"):
        write(out, data() + "\n")
    if form == "json":
        echo(data())
    else:
        echo("\n\n".join(report.compare_text(both, units, last=both is pairs[-1]) for both in pairs))
    ctx.exit(CLEARS if all(both.new.fit.verdict == "clears" for both in pairs) else DOES_NOT)


@click.command()
@click.argument("profile")
@options(AXLE, BUILD, FORMAT, OUT, UNITS, LOOKS)
@click.pass_context
def show(
    ctx: click.Context, profile: str, axle: str | None, build: str | None, form: str, out: str | None, units: str
) -> None:
    """Draw the profile itself, so that a mistyped point is seen (--out FILE), and list what it holds."""
    from fitment import report
    from fitment.answers.builds import fitted

    check_suffix(out, (*PICTURES, ".json"))
    asked = wanted(ctx, out)
    read = load(profile)
    cases = fitted(read, chosen_axles(read, axle, build, {}), build, {})
    data = [report.profile_json(case) for case in cases]
    if asked.picture:
        from fitment.draw import profile_sheet, theme_of

        look: dict[str, Any] = {"units": units, "theme": theme_of(asked.theme), "date": asked.date}
        sheets = [(case.fit.axle.name, profile_sheet(case.ready, case.fit.setup, **look)) for case in cases]
        pictures(asked.picture, sheets)
    elif out:
        write(out, report.dumps(data[0] if axle else data) + "\n")
    text = report.dumps(data[0] if axle else data) if form == "json" else report.profile_text(read, cases, units)
    echo(text)
