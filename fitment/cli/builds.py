"""Commands on the builds of a profile: check, compare, show."""

from __future__ import annotations

from pathlib import Path

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
    load,
    options,
    pictures,
    write,
)
from fitment.errors import ProfileError


@click.command()
@click.argument("profile")
@options(AXLE, BUILD, SETUP, LOADED, FORMAT, OUT, UNITS)
@click.option("--geometry", is_flag=True, help="JSON also carries poses, sections and placed obstacles.")
@click.option("--settings", metavar="TEXT|FILE", help="Adjusters as set: a JSON of align, or NAME = 90, 120; ...")
@click.pass_context
def check(
    ctx: click.Context, profile: str, axle: str | None, build: str | None, wheel: str | None, tire: str | None,
    spacer: str | None, ride: str | None, loaded_radius: str | None, form: str, out: str | None, units: str,
    geometry: bool, settings: str | None,
) -> None:  # fmt: skip
    """Check one setup: bolt-on checks, clearances at their worst pose, cautions.

    Exit code 0 when it clears, 1 when it does not, 2 for bad input.
    """
    from fitment import report

    check_suffix(out, (*PICTURES, ".json", ".csv"))
    read = load(profile)
    given = {"wheel": wheel, "tire": tire, "spacer": spacer, "ride": ride}
    cases = checked(read, chosen_axles(read, axle, build, given), build, given, loaded_radius, settings)

    def data() -> str:
        found = [report.case_json(case, geometry=geometry) for case in cases]
        return report.dumps(found[0] if axle else found)

    if out and Path(out).suffix in PICTURES:
        from fitment.draw import check_sheet

        pictures(out, [(case.fit.axle.name, check_sheet(case, units=units)) for case in cases])
    elif out and out.endswith(".csv"):
        write(out, report.clearances_csv(cases))
    elif out:
        write(out, data() + "\n")
    if form == "json":
        click.echo(data())
    else:
        click.echo("\n\n".join(report.case_text(case, units) for case in cases))
    ctx.exit(CLEARS if all(case.fit.verdict == "clears" for case in cases) else DOES_NOT)


@click.command()
@click.argument("profile")
@click.argument("old")
@click.argument("new")
@options(AXLE, FORMAT, OUT, UNITS)
@click.pass_context
def compare(
    ctx: click.Context, profile: str, old: str, new: str, axle: str | None, form: str, out: str | None, units: str
) -> None:
    """Compare two builds of a profile: a table of differences and the overlay picture.

    Exit code as for check, for the NEW build.
    """
    from fitment import report

    check_suffix(out, (*PICTURES, ".json"))
    read = load(profile)
    axles = [name for name in chosen_axles(read, axle, new, {}) if name in chosen_axles(read, axle, old, {})]
    if not axles:
        raise ProfileError(
            f"builds {old} and {new} have no axle in common that names a wheel and a tire.", file=profile
        )
    pairs = list(zip(checked(read, axles, old, {}), checked(read, axles, new, {}), strict=True))

    def data() -> str:
        found = [report.compare_json(a, b) for a, b in pairs]
        return report.dumps(found[0] if axle else found)

    if out and Path(out).suffix in PICTURES:
        from fitment.draw import compare_sheet

        pictures(out, [(b.fit.axle.name, compare_sheet(a, b, units=units)) for a, b in pairs])
    elif out:
        write(out, data() + "\n")
    if form == "json":
        click.echo(data())
    else:
        click.echo("\n\n".join(report.compare_text(a, b, units) for a, b in pairs))
    ctx.exit(CLEARS if all(b.fit.verdict == "clears" for _, b in pairs) else DOES_NOT)


@click.command()
@click.argument("profile")
@options(AXLE, BUILD, FORMAT, OUT, UNITS)
def show(profile: str, axle: str | None, build: str | None, form: str, out: str | None, units: str) -> None:
    """Draw the profile itself, so that a mistyped point is seen (--out FILE), and list what it holds."""
    from fitment import report

    check_suffix(out, (*PICTURES, ".json"))
    read = load(profile)
    cases = checked(read, chosen_axles(read, axle, build, {}), build, {})
    data = [report.profile_json(case) for case in cases]
    if out and Path(out).suffix in PICTURES:
        from fitment.draw import profile_sheet

        sheets = [(case.fit.axle.name, profile_sheet(case.ready, case.fit.setup, units=units)) for case in cases]
        pictures(out, sheets)
    elif out:
        write(out, report.dumps(data[0] if axle else data) + "\n")
    text = report.dumps(data[0] if axle else data) if form == "json" else report.profile_text(read, cases, units)
    click.echo(text)
