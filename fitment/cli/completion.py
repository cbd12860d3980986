"""What a shell offers for the word that is being typed: vehicles, builds, files. Where it cannot help it is silent."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import click
from click.shell_completion import CompletionItem

from fitment.errors import FitmentError

THEMES = ("light", "dark")
LAYOUTS = ("single", "sheet", "banner", "tall")
VIEWS = ("front", "plan", "side", "closest", "map", "cut", "room", "film", "motion", "vehicle")


def vehicles(_ctx: click.Context, _parameter: click.Parameter, typed: str) -> list[CompletionItem]:
    """The bundled vehicles and the profiles in the folder; else any file."""
    from fitment.profile import bundled_names

    folder = typed[: typed.rfind("/") + 1]
    try:
        names = sorted(path.name for path in Path(folder).iterdir() if path.suffix.lower() in (".yaml", ".yml"))
    except (OSError, ValueError):
        names = []
    return _of([*bundled_names(), *(folder + name for name in names)], typed) or files_of(_ctx, _parameter, typed)


def known_builds(ctx: click.Context, _parameter: click.Parameter, typed: str) -> list[CompletionItem]:
    """The builds of the profile that is named already."""
    from fitment.profile import load_profile

    named = _profile_named(ctx)
    try:
        return [] if named is None else _of(load_profile(named).build_names, typed)
    except FitmentError:
        return []


def corners_to_name(ctx: click.Context, _parameter: click.Parameter, typed: str) -> list[CompletionItem]:
    """The axles of the profile that is named already, and the corners of those whose sides differ."""
    from fitment.corners import axle_of
    from fitment.profile import load_profile

    named = _profile_named(ctx)
    try:
        names = () if named is None else load_profile(named).axle_names
    except FitmentError:
        names = ()
    axles = dict.fromkeys([*map(axle_of, names), *names] if names else ("front", "rear"))
    return _of([name.replace(" ", "-") for name in axles], typed)


def files_of(_ctx: click.Context, _parameter: click.Parameter, typed: str) -> list[CompletionItem]:
    """Files, as the shell itself finds them."""
    return [CompletionItem(typed, type="file")]


def one_of(names: tuple[str, ...]) -> Callable[..., list[CompletionItem]]:
    """Names that are always the same."""
    return lambda _ctx, _parameter, typed: _of(names, typed)


def _profile_named(ctx: click.Context) -> str | None:
    return ctx.params.get("profile") or next(iter(ctx.args), None)  # not read yet where an option lacks its value


def _of(names: Sequence[str], typed: str) -> list[CompletionItem]:
    """Those that begin as typed; a shell would part a name at its spaces."""
    return [CompletionItem(name) for name in names if name.startswith(typed) and " " not in name]
