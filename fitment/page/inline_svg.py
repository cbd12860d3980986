"""Pictures as part of a page: inline SVG without styles, scripts or links, coloured by the page's own style.

A page that forbids every request also forbids style attributes, so each becomes presentation attributes. Colours of
the pictures' theme become classes, so that the page can show them on dark. Glyphs are kept once for the whole page,
every other id gets the picture's prefix.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from xml.etree import ElementTree

import numpy as np

SVG = "{http://www.w3.org/2000/svg}"
LINK = "{http://www.w3.org/1999/xlink}href"
DRAWN = {f"{SVG}{name}" for name in ("svg", "g", "defs", "path", "use", "clipPath", "pattern", "rect")}
# what a drawn element may carry; the rest is dropped
KEPT = frozenset({
    "d", "x", "y", "width", "height", "viewBox", "transform", "clip-path", "clip-rule", "patternUnits", "opacity",
    "fill", "fill-rule", "fill-opacity", "stroke", "stroke-width", "stroke-linejoin", "stroke-linecap",
    "stroke-dasharray", "stroke-dashoffset", "stroke-opacity",
})  # fmt: skip
_GLYPH = re.compile(r"DejaVuSans(-[A-Za-z]+)?-([0-9a-f]+)")
_NUMBER = re.compile(r"-?\d+\.\d{2,}")
_SHIFT = re.compile(r"translate\([^)]*\)")
_COMMAND = re.compile(r" ?([A-Za-z]) ?")
_STEP = re.compile(r"([MLQCz])([^MLQCz]*)")
_ONLY_SHIFT = re.compile(r"translate\((-?[\d.]+)(?: (-?[\d.]+))?\)")
_URL = re.compile(r"url\(#([^)]+)\)")


@dataclass
class Glyphs:
    """Letters of every picture of a page, by id; an outline is kept once."""

    outlines: dict[str, ElementTree.Element] = field(default_factory=dict)

    def svg(self) -> str:
        """An empty picture that holds them for the others to use."""
        root = ElementTree.Element("svg", {"class": "glyphs", "width": "0", "height": "0", "aria-hidden": "true"})
        defs = ElementTree.SubElement(root, "defs")
        defs.extend(outline for _, outline in sorted(self.outlines.items()))
        return ElementTree.tostring(root, encoding="unicode")


def svg_element(picture: bytes, prefix: str, colors: Mapping[str, str], glyphs: Glyphs) -> str:
    """A drawn SVG file as an element of a page.

    prefix : of its ids, another for every picture; colors : '#rrggbb' -> name of a colour of the page
    """
    root = ElementTree.fromstring(picture)
    used = {name for element in root.iter() for value in element.attrib.values() for name in _named(value)}
    made = _element(root, prefix, colors, glyphs, used)
    made.set("stroke-linejoin", "round")
    made.set("stroke-linecap", "butt")
    made.set("aria-hidden", "true")  # the caption says what it shows, the tables hold its numbers
    return ElementTree.tostring(made, encoding="unicode")


def _named(value: str) -> list[str]:
    return [value[1:]] if value.startswith("#") else _URL.findall(value)


def _element(
    given: ElementTree.Element, prefix: str, colors: Mapping[str, str], glyphs: Glyphs, used: set[str]
) -> ElementTree.Element:
    made = ElementTree.Element(given.tag.removeprefix(SVG), _attributes(given, prefix, colors))
    name = given.get("id", "")
    if name in used:
        made.set("id", prefix + name)
    for child in given:
        if child.tag not in DRAWN:
            continue
        letter = _letter(child.get("id", ""))
        if letter is not None:
            glyphs.outlines.setdefault(letter, _glyph(child, letter))
            continue
        inner = _element(child, prefix, colors, glyphs, used)
        if len(inner) or inner.tag not in ("g", "defs"):
            made.append(inner)
    if made.tag == "svg":
        made.attrib = {"viewBox": given.get("viewBox", "")}
    return made


def _letter(name: str) -> str | None:
    """The page's id of a glyph, None when the id is not that of one."""
    match = _GLYPH.fullmatch(name)
    return None if match is None else f"g{(match[1] or '').lower()}-{match[2]}"


def _glyph(given: ElementTree.Element, letter: str) -> ElementTree.Element:
    outline = _COMMAND.sub(r"\1", " ".join(given.get("d", "").split()))
    return ElementTree.Element("path", {"id": letter, "d": outline, "transform": given.get("transform", "")})


def _attributes(given: ElementTree.Element, prefix: str, colors: Mapping[str, str]) -> dict[str, str]:
    looks = dict(declaration.split(":", 1) for declaration in given.get("style", "").split(";") if ":" in declaration)
    values = dict(given.attrib) | {key.strip(): value.strip() for key, value in looks.items()}
    attributes, classes = {}, []
    for key, value in values.items():
        color = colors.get(value.lower()) if key in ("fill", "stroke") else None
        if color is not None:
            classes.append(f"{key[0]}-{color}")
        elif key in KEPT:
            attributes[key] = _value(key, value, prefix)
    shift = _ONLY_SHIFT.fullmatch(attributes.get("transform", ""))
    if given.tag == f"{SVG}use" and shift is not None:  # the same, shorter
        del attributes["transform"]
        attributes |= {key: value for key, value in (("x", shift[1]), ("y", shift[2])) if value not in (None, "0")}
    target = given.get(LINK) or given.get("href")
    if target is not None and target.startswith("#"):
        attributes["href"] = f"#{_letter(target[1:]) or prefix + target[1:]}"
    if classes:
        attributes["class"] = " ".join(classes)
    return attributes


def _value(key: str, value: str, prefix: str) -> str:
    """The value with fewer digits where a hundredth of a point is enough, and ids of this picture."""
    if key == "d":
        return _relative(value)
    if key == "transform":  # a scale keeps its digits
        return _SHIFT.sub(lambda shift: _rounded(shift[0]), value)
    return _URL.sub(lambda name: f"url(#{prefix}{name[1]})", value)


def _relative(path: str) -> str:
    """The path with every step from the point before, to a tenth of a point: a third of the bytes."""
    here, start, made = np.zeros(2), np.zeros(2), []
    for command, numbers in _STEP.findall(path):
        points = np.round(np.array(numbers.split(), dtype=float).reshape(-1, 2), 1)
        steps = " ".join(_short(step) for step in (points - here).ravel())
        made.append(f"{command.lower()}{steps}".replace(" -", "-"))
        if command == "z":
            here = start
        else:
            here = points[-1]
            start = here if command == "M" else start
    return "".join(made)


def _short(number: float) -> str:
    text = f"{number:.1f}".removesuffix(".0")
    return "0" if text == "-0" else text


def _rounded(text: str) -> str:
    return _NUMBER.sub(lambda number: f"{float(number[0]):.1f}".replace("-0.0", "0").removesuffix(".0"), text)
