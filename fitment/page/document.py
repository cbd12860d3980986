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
from dataclasses import fields
from functools import lru_cache
from importlib.resources import files
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from fitment.answers.handover import Subject
from fitment.answers.other_wheels import OtherWheels
from fitment.checks.case import SAFETY, Case
from fitment.draw.style import DARK, LIGHT, Theme
from fitment.page import tables
from fitment.page.first_screen import axle_answer
from fitment.page.glossary import GLOSSARY
from fitment.page.inline_svg import svg_element
from fitment.page.moving_drawing import letters_of, moving_json
from fitment.page.try_another import try_json
from fitment.page.views import Picture, axle_pictures, closest_picture
from fitment.report import ALIGN_CAUTION, case_json, compare_json
from fitment.report.builds import WITH_THIS_BUILD
from fitment.report.next_reading import sure_json
from fitment.units import in_units

STYLES = ("mover.css", "try_another.css", "page.css")  # what page.css says of paper and phones comes last
SCRIPTS = ("page.js", "words.js", "space.js", "ink.js", "views.js", "pad.js", "mover.js", "try_another.js")
# in JSON within an element: what could end it or start a comment, and line ends that older scripts take for such
_ESCAPES = {ord(c): f"\\u{ord(c):04x}" for c in "<>&\u2028\u2029"}


def report_page(
    subjects: Sequence[Subject],
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
) -> str:
    """The page as HTML. Raises FitmentError.

    command, file_name : what prints the same data, and what they are called when they are saved
    check : the command that checks the new build, without an axle
    date, version : as they are to be printed; without a date there is none
    others : waits for what can be tried on each axle; None for a page without; profile : as a command names it
    whole_vehicle : the data are a list of axles, as the commands give without --axle
    """
    style, script = _style(), "\n".join(map(_text, SCRIPTS))
    moving = [moving_json(subject) for subject in subjects]
    axles = [_axle(subject, units, moves, check) for subject, moves in zip(subjects, moving, strict=True)]
    new, old = subjects[0].new, subjects[0].old
    data = [_data(subject) for subject in subjects]
    trying = None if others is None else _trying(subjects, others(), profile, units)
    for i, axle in enumerate(axles):
        own = None if trying is None else trying["axles"][i]
        axle |= {"tries": own is not None, "listed": bool(own and own["rows"]), "not_tried": own["left"] if own else []}
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
        standing=list(dict.fromkeys(words for subject in subjects for words in subject.new.standing)),
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


def _trying(subjects: Sequence[Subject], others: Sequence[OtherWheels], profile: str, units: str) -> dict[str, Any]:
    """What the script needs to try other wheels, the parts with the letters of the moving drawing."""
    trying = try_json(others, profile, units)
    for subject, axle in zip(subjects, trying["axles"], strict=True):
        letters = letters_of(subject.old, subject.new)
        for part in axle["parts"]:
            part["letter"] = letters.get(part["name"], "")
    return trying


def _data(subject: Subject) -> dict[str, Any]:
    """What the command prints as JSON."""
    if subject.comparison is not None:
        return compare_json(subject.comparison)
    return case_json(subject.new) | {"sure": sure_json(subject.sure[-1], subject.new.fit.axle.name)}


def embedded(data: Any) -> str:
    """JSON that stays text inside an HTML element; refuses numbers that are not finite."""
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return text.translate(_ESCAPES)


def packed(data: Any) -> str:
    """JSON as gzip in base64: a tenth of the bytes; the same data give the same text."""
    text = json.dumps(data, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return base64.b64encode(gzip.compress(text.encode(), mtime=0)).decode()


def _axle(subject: Subject, units: str, moving: dict[str, Any], check: str) -> dict[str, Any]:
    """What the template shows of one axle."""
    old, new = subject.old, subject.new
    return {
        "name": new.fit.axle.name,
        "motions": [motion["name"] for motion in moving["motions"]],
        "moves": moving["motions"][0]["kinds"],
        "answer": axle_answer(subject, units, check),
        "call": _shown(closest_picture(old, new, units), f"{new.fit.axle.name}-call-"),
        "fixed": moving["fixed"],
        "here": tables.here_rows(old, new, units),
        "closest": tables.closest_rows(old, new, units),
        "stance": tables.stance_rows(subject, units),
        "bolt_on": tables.bolt_on_rows(new, units),
        "ground": tables.ground_rows(new, units),
        "road": tables.road_rows(subject, units),
        "alignment": [tables.alignment_table(alignment, units) for alignment in subject.alignments],
        "reach": tables.reach_words(subject.alignments, units),
        "views": moving["views"],
        "pictures": _pictures(old, new, units),
        "caused": [in_units(words, units) for words in new.caused],
        "cautions": [words for words in tables.cautions(old, new, units) if words != SAFETY],
        "granted": tables.taken_for_granted(old, new, units),
    }


def _pictures(old: Case | None, new: Case, units: str) -> list[dict[str, Any]]:
    axle = new.fit.axle.name
    return [_shown(picture, f"{axle}-{i}-") for i, picture in enumerate(axle_pictures(old, new, units))]


def _shown(picture: Picture, prefix: str) -> dict[str, Any]:
    """A picture for the template; prefix : of its ids."""
    svg = svg_element(picture.svg, prefix, _color_names(), picture.spoken)
    return {"title": picture.title, "broad": picture.broad, "svg": Markup(svg)}


# ---------------------------------------------------------------- the file


def _policy(style: str, script: str) -> str:
    """Nothing may be requested; only this style and this script may run."""
    return (
        f"default-src 'none'; style-src {_hash(style)}; script-src {_hash(script)}; base-uri 'none'; form-action 'none'"
    )


def _hash(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


def _style() -> str:
    """The page's style with the palettes of the pictures in it."""
    dark = f"@media screen and (prefers-color-scheme: dark) {{\n:root {{ {_palette(DARK)} }}\n}}"
    classes = [f".f-{name} {{ fill: var(--{name}) }} .s-{name} {{ stroke: var(--{name}) }}" for name in _colors(LIGHT)]
    return "\n".join([f":root {{ {_palette(LIGHT)} }}", dark, *classes, *map(_text, STYLES)])


def _palette(theme: Theme) -> str:
    return "; ".join(f"--{name}: {color}" for name, color in _colors(theme).items())


def _colors(theme: Theme) -> dict[str, str]:
    """'new-tire' -> '#rrggbb'"""
    return {f.name.replace("_", "-"): getattr(theme, f.name) for f in fields(theme) if f.name != "name"}


def _color_names() -> dict[str, str]:
    """'#rrggbb' of the light palette -> its first name."""
    return {color: name for name, color in reversed(_colors(LIGHT).items())}


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
