"""The command line: read, call, print, exit code. Nothing heavy is imported before it is needed.

An option or word of a command that asks a function of `fitment.api` has the name of its argument, and goes there as it
was typed (`**asked`).
"""

from __future__ import annotations

import errno
import sys
from contextlib import suppress
from typing import Any

import click
from click.exceptions import Exit

from fitment import interrupts
from fitment.cli.builds import check, compare, next_readings, show
from fitment.cli.codes import schema, tire, wheel
from fitment.cli.common import BAD_INPUT, CUT_OFF, drop_output, echo, unprinted
from fitment.cli.lists import screen
from fitment.cli.measuring import new, worksheet
from fitment.cli.motion import align, poses
from fitment.cli.offset_window import window
from fitment.cli.ordering import order, template
from fitment.cli.page import report
from fitment.cli.progress_line import ERASED, progress_shown
from fitment.cli.swept_space import envelope
from fitment.errors import FitmentError

UNCUT = 1000  # letters of a summary
LONGEST_WORD = 4096  # letters typed as one word; no path is longer on Linux
UNPRINTED = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO)  # of a disk that has no room
STOPPED = "Stopped. No file was left unfinished."


class _Group(click.Group):
    """Turns a user's mistake into one message and exit code 2, without a traceback."""

    def format_commands(self, _ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Every command with its summary, none of it cut."""
        rows = [(name, command.get_short_help_str(limit=UNCUT)) for name, command in sorted(self.commands.items())]
        with formatter.section("Commands"):
            formatter.write_dl(rows)

    def make_context(
        self, info_name: str | None, args: list[str], parent: click.Context | None = None, **more: Any
    ) -> click.Context:
        for word in args:
            if len(word) > LONGEST_WORD:
                told = f"a word of this command has {len(word)} letters, at most {LONGEST_WORD} are read; it begins"
                echo(f'Error: {told} "{word[:40]}".', err=True)
                raise Exit(BAD_INPUT)
        try:
            return super().make_context(info_name, args, parent, **more)
        except KeyboardInterrupt:
            _tell_stopped()
            raise Exit(interrupts.exit_code()) from None
        except OSError as error:
            raise Exit(_unprinted(error)) from None

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        name, command, rest = super().resolve_command(ctx, args)
        if command is not None:
            _refuse_doubles(ctx, command, rest)
        return name, command, rest

    def invoke(self, ctx: click.Context) -> Any:
        try:
            with progress_shown(_progress_columns()):
                return super().invoke(ctx)
        except FitmentError as error:
            asked = self.commands.get(ctx.invoked_subcommand or "", self)
            echo(f"Error: {error.told(lambda argument: _typed_as(asked, argument))}", err=True)
            ctx.exit(BAD_INPUT)
        except KeyboardInterrupt:
            _tell_stopped()
            ctx.exit(interrupts.exit_code())
        except OSError as error:
            ctx.exit(_unprinted(error))


def _refuse_doubles(ctx: click.Context, command: click.Command, args: list[str]) -> None:
    """Of an option that takes one value two are not given: the last would count, and nobody be told. FitmentError."""
    with suppress(click.UsageError):  # the command itself says what else is wrong
        *_, given = command.make_parser(click.Context(command, ctx)).parse_args([*args])
        for option in given:
            if isinstance(option, click.Option) and not (option.multiple or option.is_flag) and given.count(option) > 1:
                raise FitmentError(f"{option.opts[0]} is given more than once; give it once.")


def _unprinted(error: OSError) -> int:
    """What to exit with where stdout takes no more; of any other fault the error goes on."""
    if isinstance(error, BrokenPipeError):  # whoever read the output has left, as `head` does
        drop_output()
        return CUT_OFF
    if error.errno not in UNPRINTED:
        raise error
    drop_output()
    echo(f"Error: {unprinted(error)}", err=True)
    return BAD_INPUT


def _progress_columns() -> int | None:
    """How wide a line may be that is drawn again and again; None where it would stay."""
    from fitment.terminal import columns_of, is_plain

    return None if is_plain() else columns_of(sys.stderr)


def _tell_stopped() -> None:
    """What is said after Ctrl-C, and nothing after it."""
    from fitment.terminal import is_plain

    interrupts.ignore()  # the second time it has been heard already
    with suppress(OSError):  # the terminal may be gone
        if sys.stderr.isatty() and not is_plain():
            sys.stderr.write(ERASED)  # the terminal has put ^C there
    echo(STOPPED, err=True)


def _typed_as(command: click.Command, argument: str) -> str:
    """What a person types for a function's argument: an option, or a word such as PROFILE."""
    for parameter in command.params:
        if parameter.name == argument:
            return parameter.opts[0] if isinstance(parameter, click.Option) else parameter.human_readable_name
    return argument


@click.group(cls=_Group, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="fitment")
def cli() -> None:
    """Tells whether a wheel and tire bolt on and clear on a modified vehicle, and draws it.

    PROFILE is a file, or the bare name of a vehicle that comes with the program.

    Exit code 0: done (it clears). 1: it does not clear. 2: bad input. 3: some rows could not be read. 70: a fault of
    the program; FITMENT_TRACEBACK=1 before the command shows where. 130: interrupted, 143 by SIGTERM, 129 by SIGHUP.
    141: the program that read the output stopped.
    """


for command in (
    check,
    next_readings,
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
    envelope,
):
    cli.add_command(command)
