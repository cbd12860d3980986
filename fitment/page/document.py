"""A page to hand over: one HTML file that asks the network for nothing and forbids it to ask.

The content-security policy allows the file's own style and script, each by its hash, and nothing else. Every text
goes through the template's escaping; the data go in as JSON in which no character can end the element that holds it.
"""

from __future__ import annotations

import base64
import gzip
import hashlib
import json
from collections.abc import Callable, Sequence
from functools import lru_cache, partial
from importlib.resources import files
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from fitment.answers.other_wheels import OtherWheels
from fitment.checks.case import SAFETY
from fitment.draw.style import DARK, LIGHT, Theme, color_names
from fitment.page import tables
from fitment.page.axles import Answering, Pair, axles_worked_out
from fitment.page.glossary import GLOSSARY
from fitment.page.moving_drawing import letters_of
from fitment.page.try_another import try_json
from fitment.report import ALIGN_CAUTION
from fitment.report.builds import WITH_THIS_BUILD

STYLES = ("mover.css", "try_another.css", "page.css")  # what page.css says of paper and phones comes last
SCRIPTS = ("page.js", "words.js", "space.js", "ink.js", "views.js", "pad.js", "mover.js", "try_another.js")
# in JSON within an element: what could end it or start a comment, and line ends that older scripts take for such
_ESCAPES = {ord(c): f"\\u{ord(c):04x}" for c in "<>&\u2028\u2029"}


def report_page(
    pairs: Sequence[Pair],
    asks: Answering,
    *,
    command: str,
    check: str,
    file_name: str,
    units: str = "mm",
    whole_vehicle: bool = True,
    date: str = "",
    version: str = "",
    others: Callable[[], Sequence[OtherWheels]] | None = None,
    profile: str = "",
    every_kind: bool = False,
    processes: int = 1,
) -> str:
    """The page of every axle as HTML. Raises FitmentError.

    command, file_name : what prints the same data, and what they are called when they are saved
    check : the command that checks the new build, without an axle
    date, version : as they are to be printed; without a date there is none
    others : waits for what can be tried on each axle; None for a page without; profile : as a command names it
    whole_vehicle : the data are a list of axles, as the commands give without --axle
    every_kind : of change for what would make it fit is asked for; processes : among which the work is spread
    """
    beside = partial(_trying, pairs, others, profile, units)
    worked_out, trying = axles_worked_out(pairs, asks, units, check, beside, every_kind=every_kind, processes=processes)
    axles, moving, data = ([getattr(axle, name) for axle in worked_out] for name in ("shown", "moving", "data"))
    style, script = (_unindented(text) for text in (_style(), "\n".join(map(_text, SCRIPTS))))
    new, old = pairs[0]
    _tell_what_is_tried(axles, trying)
    _tell_what_repeats(axles)
    template = _environment().get_template("page.html.jinja")
    return template.render(
        policy=_policy(style, script),
        style=Markup(style),  # our own file, not a word of the profile
        script=Markup(script),
        name=new.ready.profile.name,
        note=new.ready.profile.note,
        builds=[new.ready.build] if old is None else [old.ready.build, new.ready.build],
        compared=old is not None,
        baseline=new.ready.profile.baseline,
        is_baseline=old is None and new.ready.build == new.ready.profile.baseline,
        axles=axles,
        glossary=GLOSSARY,
        date=date,
        version=version,
        safety=SAFETY,
        standing=list(dict.fromkeys(words for new, _ in pairs for words in new.standing)),
        align_caution=ALIGN_CAUTION,
        with_this_build=WITH_THIS_BUILD,
        ground_words=tables.ground_words(units),
        alignment_head=tables.ALIGNMENT_HEAD,
        command=command,
        file_name=file_name,
        moving=Markup(embedded({"units": units, "axles": moving})),
        trying="" if trying is None else Markup(embedded(trying)),
        data=packed(data if whole_vehicle else data[0]),
        units=units,
    )


def _trying(
    pairs: Sequence[Pair], others: Callable[[], Sequence[OtherWheels]] | None, profile: str, units: str
) -> dict[str, Any] | None:
    """What the script needs to try other wheels, the parts with the letters of the moving drawing."""
    if others is None:
        return None
    trying = try_json(others(), profile, units)
    for (new, old), axle in zip(pairs, trying["axles"], strict=True):
        letters = letters_of(old, new)
        for part in axle["parts"]:
            part["letter"] = letters.get(part["name"], "")
    return trying


def _tell_what_is_tried(axles: Sequence[dict[str, Any]], trying: dict[str, Any] | None) -> None:
    """What the template asks of each axle about the wheels to try."""
    for i, axle in enumerate(axles):
        own = None if trying is None else trying["axles"][i]
        axle |= {"tries": own is not None, "listed": bool(own and own["rows"]), "not_tried": own["left"] if own else []}


def _tell_what_repeats(axles: Sequence[dict[str, Any]]) -> None:
    """What an axle before it tells in the same words already: paper leaves it out."""
    told: set[str] = set()
    for axle in axles:
        words = {_tried(axle["answer"]), *axle["unlike"], *axle["caused"], *axle["cautions"], *axle["granted"]}
        axle["again"] = told & words
        told |= words


def _tried(answer: dict[str, Any]) -> str:
    return f"{answer['tried']} {answer['try_all']}"


def embedded(data: Any) -> str:
    """JSON that stays text inside an HTML element; refuses numbers that are not finite."""
    text = json.dumps(_short(data), ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return text.translate(_ESCAPES)


def _short(data: Any) -> Any:
    """The same data, whole numbers without a point."""
    if isinstance(data, float):
        return int(data) if data.is_integer() else data
    if isinstance(data, dict):
        return {key: _short(value) for key, value in data.items()}
    return [_short(value) for value in data] if isinstance(data, list | tuple) else data


def packed(data: Any) -> str:
    """JSON as gzip in base64: a tenth of the bytes; the same data give the same text."""
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return base64.b64encode(gzip.compress(text.encode(), mtime=0)).decode()


# ---------------------------------------------------------------- the file


def _policy(style: str, script: str) -> str:
    """Nothing may be requested; only this style and this script may run."""
    return (
        f"default-src 'none'; style-src {_hash(style)}; script-src {_hash(script)}; base-uri 'none'; form-action 'none'"
    )


def _unindented(text: str) -> str:
    """Lines without their indents, which are a sixteenth of the script; no text in it goes over a line."""
    return "\n".join(line.lstrip() for line in text.splitlines())


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def _style() -> str:
    """The page's style with the palettes of the pictures in it."""
    dark = f"@media screen and (prefers-color-scheme: dark) {{\n:root {{ {_palette(DARK)} }}\n}}"
    classes = [
        f".f-{name} {{ fill: var(--{name}) }} .s-{name} {{ stroke: var(--{name}) }}" for name in color_names(LIGHT)
    ]
    return "\n".join([f":root {{ {_palette(LIGHT)} }}", dark, *classes, *map(_text, STYLES)])


def _palette(theme: Theme) -> str:
    return "; ".join(f"--{name}: {color}" for name, color in color_names(theme).items())


@lru_cache(maxsize=1)
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("fitment.page", "."),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


def _text(name: str) -> str:
    return files("fitment.page").joinpath(name).read_text(encoding="utf-8")
