"""An answer printed, written and drawn: view, layout, theme, date, the moving picture."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fitment.cli.common import PICTURES, check_suffix, echo, options, targets, tell, tell_side, write
from fitment.cli.completion import LAYOUTS, THEMES, VIEWS, one_of
from fitment.errors import FitmentError

if TYPE_CHECKING:
    from fitment.results import Checked, Compared

MOVIES = (".gif", ".mp4")
KEPT = "fitment.drawing"


def _keep(ctx: click.Context, parameter: click.Parameter, value: Any) -> None:
    ctx.meta.setdefault(KEPT, {})[parameter.name] = value


def _option(*names: str, **more: Any) -> Callable[[Any], Any]:
    """An option that goes into `wanted` instead of into the command's own parameters."""
    return click.option(*names, expose_value=False, callback=_keep, **more)


LOOKS = options(
    _option(
        "--theme", metavar="NAME", help="Colours of pictures: light (default) or dark.", shell_complete=one_of(THEMES)
    ),
    _option("--date", metavar="TEXT", help="Date to print in the title block; without this there is none."),
)
DRAWING = options(
    _option(
        "--view",
        metavar="NAME",
        help="What the picture shows: front, plan, side, closest, map, cut, room, film, motion, vehicle (both axles).",
        shell_complete=one_of(VIEWS),
    ),
    _option(
        "--layout",
        metavar="NAME",
        help="How views are arranged: single (one view), sheet (all), banner (wide), tall.",
        shell_complete=one_of(LAYOUTS),
    ),
    LOOKS,
    _option("--animate", metavar="FILE", help="Also the moving picture, .gif or .mp4; or give --out that ending."),
)


@dataclass(frozen=True)
class Wanted:
    """What is to be drawn, a still and a moving picture, and how: the options that were given, by name."""

    picture: str | None = None
    movie: str | None = None
    look: dict[str, str] = field(default_factory=dict)

    def style(self) -> dict[str, Any]:
        """Theme and date as a drawing takes them. Raises FitmentError for a theme that there is not."""
        from fitment.draw.style import theme_of

        return {"theme": theme_of(self.look.get("theme", "light")), "date": self.look.get("date")}


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
    drawn = Wanted(picture, movie, given)
    _refuse(drawn)
    return drawn


def _refuse(drawn: Wanted) -> None:
    """Names that there are not, and moving pictures that cannot be written. Raises FitmentError."""
    if drawn.picture is None and drawn.movie is None:
        return
    from fitment.draw.named_views import chosen

    drawn.style()
    chosen(drawn.look.get("view"), drawn.look.get("layout"))
    if drawn.movie is not None:
        from fitment.draw.movie_file import movie_format

        movie_format(drawn.movie)
        check_suffix(drawn.movie, MOVIES, "--animate")


def give(found: Any, drawn: Wanted, out: str | None, form: str, *, brief: bool = False) -> None:
    """Draw and write what is asked for, then print the answer. Raises FitmentError.

    found : an answer of `fitment.results`; brief : where a file was written, the verdict is enough to print
    """
    tell_side(click.get_current_context().params.get("axle"), found.axles)
    if drawn.picture is not None:
        _draw(found, drawn.picture, drawn.look)
    if drawn.movie is not None:
        _animate(found, drawn.movie, drawn.look)
    if out is not None and out.endswith(".json"):
        write(out, found.json + "\n")
    if out is not None and out.endswith(".csv"):
        write(out, found.csv)
    if form == "json":
        echo(found.json)
    else:
        tell(lambda: str(found.verdict_text if brief and out is not None else found.text))


@contextmanager
def loading(drawn: Wanted) -> Iterator[None]:
    """What draws a picture is loaded meanwhile, where others work for this process."""
    from fitment.workers import when_waiting

    with nullcontext() if drawn.picture is None else when_waiting(_load):
        yield


def _load() -> None:
    from fitment.draw.library import load_library

    load_library()
    from fitment.draw import files, layouts  # noqa: F401


def _draw(found: Any, out: str, look: dict[str, str]) -> None:
    """One picture an axle, side by side where there are several cores. Raises FitmentError."""
    from fitment.draw.named_views import CUT_VIEW, VEHICLE
    from fitment.workers import quick_cores, worker_pool

    axles = {VEHICLE: found.pictured[:1], CUT_VIEW: found.cut_axles}.get(look.get("view", ""), found.pictured)
    files = targets(out, axles)
    with worker_pool((found, look, files[0].suffix[1:]), min(quick_cores(), len(files))) as run:
        contents = run(_drawn, axles, "drawing")
    for path, content in zip(files, contents, strict=True):
        write(str(path), content)


def _drawn(asked: tuple[Any, dict[str, str], str], axle: str) -> bytes:
    """The bytes of the picture of one axle."""
    _load()
    from fitment.draw.files import render

    found, look, kind = asked
    return render(found.figure(axle, **look), kind)


def _animate(found: Checked | Compared, movie: str, look: dict[str, str]) -> None:
    """One moving picture an axle; it has no view and no layout."""
    from fitment.draw.movie_file import save_movie

    kept: dict[str, Any] = {name: look[name] for name in ("theme", "date") if name in look}
    for target, axle in zip(targets(movie, found.pictured), found.pictured, strict=True):
        save_movie(target, *found.pair(axle), units=found.units, **kept)
        echo(f"wrote {target}", err=True)
