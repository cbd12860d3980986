"""What the commands share: options, notes, writing files whole."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

import click

from fitment.cli.completion import corners_to_name, files_of, known_builds, vehicles
from fitment.cli.progress_line import line_aside
from fitment.errors import FitmentError

CLEARS, DOES_NOT, BAD_INPUT, SOME_UNREADABLE = 0, 1, 2, 3
CUT_OFF = 141  # as a shell has it for a pipe that closed
INPUTS = {"profile": "profile", "candidates": "list", "settings": "settings file"}  # what commands read
PICTURES = (".png", ".svg", ".pdf")
AXLES = ("front", "rear")


def options(*options: Callable[[Any], Any]) -> Callable[[Any], Any]:
    """Several click options as one decorator."""

    def decorate(function: Any) -> Any:
        for option in reversed(options):
            function = option(function)
        return function

    return decorate


class _Corner(click.Choice[str]):
    """An axle, or one side of it, whose name may have a hyphen for its space."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        return super().convert(" ".join(str(value).replace("-", " ").split()), param, ctx)


PROFILE = click.argument("profile", shell_complete=vehicles)
AXLE = click.option(
    "--axle",
    metavar="AXLE",
    type=_Corner([*AXLES, *(f"{axle} {side}" for axle in AXLES for side in ("left", "right"))]),
    help="One axle only, front or rear, or one side of it: front-left, rear-right. Without it every axle.",
    shell_complete=corners_to_name,
)
BUILD = click.option(
    "--build", metavar="NAME", help="A build of the profile; without it the baseline.", shell_complete=known_builds
)
UNITS = click.option(
    "--units",
    type=click.Choice(["mm", "in"]),
    help="Lengths in text and pictures; else as the profile says, or mm.",
)
FORMAT = click.option(
    "--format", "form", type=click.Choice(["text", "json"]), default="text",
    help="Text to read, or JSON for a program (always mm).",
)  # fmt: skip
OUT = click.option(
    "--out",
    metavar="FILE",
    help="File to write. Its ending decides: .png .svg .pdf a picture, .json .csv data.",
    shell_complete=files_of,
)
CACHE = {"win32": r"%LOCALAPPDATA%\fitment", "darwin": "~/Library/Caches/fitment"}.get(sys.platform, "~/.cache/fitment")


def _no_cache(ctx: click.Context, _parameter: click.Parameter, value: bool) -> None:
    if value:
        from fitment.cache import unused

        ctx.with_resource(unused())


NO_CACHE = click.option(
    "--no-cache", is_flag=True, expose_value=False, callback=_no_cache,
    help=f"Work out anew what the parts sweep, and keep nothing; else it is kept in {CACHE}.",
)  # fmt: skip
LOADED = click.option("--loaded-radius", metavar="MM", help="Wheel centre to ground, for scrub radius and trail.")
SETUP = options(
    click.option("--wheel", metavar="SPEC", help='Another wheel, such as "20x10 ET25 6x139.7 CB78.1".'),
    click.option("--tire", metavar="CODE", help="Another tire, such as 305/45R20."),
    click.option("--spacer", metavar="LENGTH", help="Spacer thickness, 0 for none."),
    click.option("--ride", metavar="NAME|MM", help="A ride height of the profile, or travel at rest."),
)


def tell(make: Callable[[], str]) -> None:
    """Print the text that `make` lays out, as wide as the terminal is and in its colours; without one as in a file."""
    from fitment.terminal import columns_of, fitted, laid_out, painted, printable, takes_colour

    there = columns_of(sys.stdout)
    with laid_out(there):
        text = fitted(printable(make()), there)
    _put(painted(text) if takes_colour(sys.stdout) else text)


def echo(text: str = "", *, err: bool = False, nl: bool = True) -> None:
    """Print a text as it is, a note (`err`) as wide as the terminal; nothing in it steers the terminal."""
    from fitment.terminal import columns_of, fitted, printable

    shown = printable(text)
    _put(fitted(shown, columns_of(sys.stderr)) if err else shown, err=err, nl=nl)


def echo_csv(table: str, delimiter: str = ",") -> None:
    """Print a table: cells as they are into a file or pipe, harmless on a terminal; what is odd in them is said."""
    if sys.stdout.isatty():
        echo(table, nl=False)
    else:
        _put(table, nl=False)
    tell_cells(table, delimiter)


def _put(text: str, *, err: bool = False, nl: bool = True) -> None:
    from fitment.terminal import within

    encoding = getattr(sys.stderr if err else sys.stdout, "encoding", None) or "utf-8"
    shown = within(text, encoding)
    try:
        with line_aside():
            click.echo(shown, err=err, nl=nl, color=True)  # cells keep what a terminal would take for colours
    except OSError as error:
        if err:  # a note that nobody can be told
            return
        drop_output()
        if isinstance(error, BrokenPipeError):  # whoever read it has left
            raise
        raise FitmentError(unprinted(error)) from None
    if shown != text and not err:
        hint = " --out FILE writes UTF-8, PYTHONUTF8=1 prints it."
        echo(f"note: {encoding}, the code page here, lacks some letters; they stand as \\uXXXX.{hint}", err=True)


def drop_output() -> None:
    """What is left to print goes nowhere."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def unprinted(error: OSError) -> str:
    """That the place where stdout goes, such as a full disk, does not take it."""
    return f"the answer could not be printed whole: {error.strerror}."


def tell_cells(table: str, delimiter: str = ",") -> None:
    """Say of a CSV text what a spreadsheet or a terminal would do with its cells, which are kept as they are."""
    from fitment.terminal import controls, formulas

    count = formulas(table, delimiter)
    if count:
        cells = "1 cell begins" if count == 1 else f"{count} cells begin"
        echo(
            f"note: {cells} as a formula does (= + - @) and stand{'s' if count == 1 else ''} unchanged in the CSV; a "
            "spreadsheet would compute them. Import the columns as text if you do not trust the list.",
            err=True,
        )
    if controls(table):
        echo("note: the CSV keeps control characters that were in the input; do not show it raw.", err=True)


def tell_side(axle: str | None, answered: Sequence[str]) -> None:
    """Say of one side that was asked for that it is as the other."""
    from fitment.corners import axle_of, side_of

    if axle is not None and side_of(axle) and axle not in answered:
        echo(f"note: left and right of the {axle_of(axle)} axle are alike in this profile: this is for both.", err=True)


def tell_unit(units: str, asked: Mapping[str, str | None], *names: str, only: str = "") -> None:
    """Say of bare lengths that they are millimetres on a command that is asked to speak inches.

    only : why no other unit will do, of options that are plain numbers
    """
    for name in names:
        text = asked[name]
        if units == "in" and text and re.fullmatch(r"[-+\d.,]*[1-9][-+\d.,]*", text.strip()):
            hint = only or f'For inches write "{text} in"'
            echo(f"note: --{name.replace('_', '-')} {text} was read as {text} mm. {hint}.", err=True)


def check_suffix(out: str | None, allowed: Sequence[str], option: str = "--out") -> None:
    """Refuse an output file before the work is done."""
    if out is None:
        return
    if Path(out).suffix not in allowed:
        raise FitmentError(f"{option} {out}: this command writes {', '.join(allowed)}; choose one of these endings.")
    longer = [] if out.endswith((".json", ".csv", ".html")) else [_of_axle(Path(out), axle) for axle in AXLES]
    for path in (Path(out), *(path for path in longer if not os.path.lexists(path))):
        try:
            check_target(path)
        except FitmentError as error:
            raise FitmentError(f"{option} {error}") from None


def check_target(path: Path) -> None:
    """Refuse to write where no file can be written, or over one that the command reads."""
    from fitment.files import check_place

    context = click.get_current_context(silent=True)
    for name, word in INPUTS.items():
        given = context.params.get(name) if context else None
        if given and _same(path, given):
            raise FitmentError(f"{path} is the {word} itself; name another file.")
    check_place(path)


def _same(path: Path, given: str) -> bool:
    """Whether both name one file that is there."""
    try:
        return path.samefile(given)
    except (OSError, ValueError):  # one is not there, or is no name of a file
        return False


def write(out: str, content: str | bytes, delimiter: str = ",") -> None:
    """A file that appears whole; of a table it is said what is odd in it."""
    from fitment.files import write_whole

    write_whole(out, content if isinstance(content, bytes) else content.encode(errors="surrogateescape"))
    echo(f"wrote {out}", err=True)
    if out.endswith(".csv") and isinstance(content, str):
        tell_cells(content, delimiter)


def targets(out: str, axles: Sequence[str]) -> list[Path]:
    """One file an axle, each checked before the first is written: all of them or none. Raises FitmentError."""
    path = Path(out)
    paths = [path if len(axles) == 1 else _of_axle(path, axle) for axle in axles]
    for target in paths:
        check_target(target)
    return paths


def _of_axle(path: Path, axle: str) -> Path:
    return path.with_name(f"{path.stem}-{axle.replace(' ', '-')}{path.suffix}")


def pictures(out: str, sheets: Sequence[tuple[str, Any]]) -> None:
    """One file an axle; with several, the axle's name goes before the suffix."""
    from fitment.draw.library import load_library

    load_library()
    from fitment.draw.files import save

    for (_, figure), target in zip(sheets, targets(out, [axle for axle, _ in sheets]), strict=True):
        save(figure, target)
        echo(f"wrote {target}", err=True)
