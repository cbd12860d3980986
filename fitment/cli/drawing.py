"""What check, compare, show and screen draw: view, layout, theme, date, the moving picture, the contact sheet."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fitment.cli.common import PICTURES, check_suffix, echo, options, pictures, targets
from fitment.errors import FitmentError

if TYPE_CHECKING:
    from fitment.checks.case import Case, Ready
    from fitment.screening.screen import ScreenedRow

MOVIES = (".gif", ".mp4")
KEPT = "fitment.drawing"


def _keep(ctx: click.Context, parameter: click.Parameter, value: Any) -> None:
    ctx.meta.setdefault(KEPT, {})[parameter.name] = value


def _option(*names: str, **more: Any) -> Callable[[Any], Any]:
    """An option that goes into `wanted` instead of into the command's own parameters."""
    return click.option(*names, expose_value=False, callback=_keep, **more)


LOOKS = options(
    _option("--theme", metavar="NAME", help="Of pictures: light (default) or dark."),
    _option("--date", metavar="TEXT", help="A date for the title block; none is written by itself."),
)
DRAWING = options(
    _option("--view", metavar="NAME", help="Of a picture: front, plan, side, closest, room, film or motion."),
    _option("--layout", metavar="NAME", help="Of a picture: single (one view), sheet (all), banner (wide), tall."),
    LOOKS,
    _option("--animate", metavar="FILE", help="Also the moving picture, .gif or .mp4; or give --out that ending."),
)


@dataclass(frozen=True)
class Wanted:
    """What is to be drawn: still picture, moving picture, how."""

    picture: str | None = None
    movie: str | None = None
    view: str | None = None
    layout: str | None = None
    theme: str = "light"
    date: str | None = None


def wanted(ctx: click.Context, out: str | None) -> Wanted:
    """The drawing options of a command, refused before any work is done. Raises FitmentError."""
    given = {name: value for name, value in ctx.meta.get(KEPT, {}).items() if value is not None}
    suffix = "" if out is None else Path(out).suffix
    picture = out if suffix in PICTURES else None
    movie = given.pop("animate", None)
    if suffix in MOVIES:
        if movie is not None:
            raise FitmentError(f"--out {out} and --animate {movie} are both moving pictures; give one of them.")
        movie = out
    for name in ("view", "layout"):
        if name in given and picture is None:
            raise FitmentError(f"--{name} is for a picture; give --out FILE with the ending {', '.join(PICTURES)}.")
    for name in ("theme", "date"):
        if name in given and picture is None and movie is None:
            raise FitmentError(f"--{name} is for a picture; give --out FILE with the ending {', '.join(PICTURES)}.")
    asked = Wanted(picture, movie, **given)
    _refuse(asked)
    return asked


def _refuse(asked: Wanted) -> None:
    """Names that there are not, and moving pictures that cannot be written. Raises FitmentError."""
    if asked.picture is None and asked.movie is None:
        return
    from fitment.draw import chosen, theme_of

    theme_of(asked.theme)
    chosen(asked.view, asked.layout)
    if asked.movie is not None:
        from fitment.draw import movie_format

        movie_format(asked.movie)
        check_suffix(asked.movie, MOVIES, "--animate")


def draw(asked: Wanted, pairs: Sequence[tuple[Case, Case | None]], units: str) -> None:
    """Write the pictures of (new, old) pairs, one file an axle. Raises FitmentError."""
    from fitment.draw import picture, save_movie

    names = [new.fit.axle.name for new, _ in pairs]
    if asked.picture is not None:
        look: dict[str, Any] = {"view": asked.view, "layout": asked.layout, "theme": asked.theme, "date": asked.date}
        drawn = [picture(new, old, units=units, **look) for new, old in pairs]
        pictures(asked.picture, list(zip(names, drawn, strict=True)))
    if asked.movie is not None:
        for target, (new, old) in zip(targets(asked.movie, names), pairs, strict=True):
            save_movie(target, new, old, units=units, theme=asked.theme, date=asked.date)
            echo(f"wrote {target}", err=True)


def contact(
    asked: Wanted, prepared: Sequence[Ready], ranked: Sequence[ScreenedRow], units: str, said: str = ""
) -> None:
    """Write the contact sheet of a list's best rows, each checked again; said : what they are. Raises FitmentError."""
    from fitment.answers.row_checks import best_rows
    from fitment.draw import theme_of
    from fitment.draw.answers import best_of

    assert asked.picture is not None
    look: dict[str, Any] = {"theme": theme_of(asked.theme), "date": asked.date, "said": said}
    look |= {"axles": len(prepared), "total": len(ranked)}
    pictures(asked.picture, [("", best_of(best_rows(prepared, ranked), units, **look))])
