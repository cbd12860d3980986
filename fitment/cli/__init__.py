"""The command line: read, call, print, exit code. Nothing heavy is imported before it is needed."""

from __future__ import annotations

from typing import Any

import click

from fitment.cli.builds import check, compare, show
from fitment.cli.codes import schema, tire, wheel
from fitment.cli.common import BAD_INPUT
from fitment.cli.lists import screen
from fitment.cli.measuring import new, worksheet
from fitment.cli.motion import align, poses
from fitment.cli.order import order, template
from fitment.cli.page import report
from fitment.cli.window import window
from fitment.errors import FitmentError


class _Group(click.Group):
    """Turns a user's mistake into one message and exit code 2, without a traceback."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except FitmentError as error:
            click.echo(f"Error: {error}", err=True)
            ctx.exit(BAD_INPUT)


@click.group(cls=_Group, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="fitment")
def cli() -> None:
    """Tells whether a wheel and tire bolt on and clear on a modified vehicle, and draws it.

    PROFILE is a file, or the bare name of a vehicle that comes with the program.
    """


for command in (
    check,
    compare,
    report,
    screen,
    window,
    show,
    tire,
    wheel,
    poses,
    align,
    schema,
    worksheet,
    new,
    order,
    template,
):
    cli.add_command(command)
