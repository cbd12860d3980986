"""Commands without a vehicle: what a code and a spec mean, the schema."""

from __future__ import annotations

from collections.abc import Sequence

import click

from fitment.cli.common import FORMAT, UNITS, options


@click.command()
@click.argument("codes", metavar="CODE...", nargs=-1, required=True)
@click.option("--rim", metavar="INCHES", type=float, help="Rim width the tire is mounted on.")
@options(FORMAT, UNITS)
def tire(codes: Sequence[str], rim: float | None, form: str, units: str) -> None:
    """What a tire code means: dimensions, load, speed, rim range. Quote a code that has spaces."""
    from fitment import report
    from fitment.tire import parse_tire, size_on, tire_json

    sizes = [size_on(parse_tire(code), rim) for code in codes]
    if form == "json":
        click.echo(report.dumps([tire_json(size) for size in sizes]))
    else:
        click.echo("\n\n".join(report.tire_text(size, units) for size in sizes))


@click.command()
@click.argument("specs", metavar="SPEC...", nargs=-1, required=True)
@options(FORMAT, UNITS)
def wheel(specs: Sequence[str], form: str, units: str) -> None:
    """What a wheel spec means, and where its rims stand against the hub face. Quote each spec."""
    from fitment import report
    from fitment.wheel import parse_wheel, wheel_json

    wheels = [parse_wheel(spec) for spec in specs]
    if form == "json":
        click.echo(report.dumps([wheel_json(each) for each in wheels]))
    else:
        click.echo("\n\n".join(report.wheel_text(each, units) for each in wheels))


@click.command()
def schema() -> None:
    """JSON Schema of the profile, for an editor."""
    from fitment import report
    from fitment.profile.json_schema import json_schema

    click.echo(report.dumps(json_schema()))
