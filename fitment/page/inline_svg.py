"""Pictures as part of a page: inline SVG without styles, scripts or links, coloured by the page's own style.

A page that forbids every request also forbids style attributes, so each becomes presentation attributes. Colours of
the pictures' theme become classes, so that the page can show them on dark. Text stays text, to be read aloud, searched
and copied; each line is told how wide it was when it was placed, so that no reader's font moves a label. Every id gets
the picture's prefix.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache
from xml.etree import ElementTree

from fitment.draw.lettering import per_point

SVG = "{http://www.w3.org/2000/svg}"
LINK = "{http://www.w3.org/1999/xlink}href"
DRAWN = {f"{SVG}{name}" for name in ("svg", "g", "defs", "path", "use", "clipPath", "pattern", "rect", "text")}
# what a drawn element may carry; the rest is dropped
KEPT = frozenset({
    "d", "x", "y", "width", "height", "viewBox", "transform", "clip-path", "clip-rule", "patternUnits", "opacity",
    "fill", "fill-rule", "fill-opacity", "stroke", "stroke-width", "stroke-linejoin", "stroke-linecap",
    "stroke-dasharray", "stroke-dashoffset", "stroke-opacity", "text-anchor", "font-size", "font-weight",
})  # fmt: skip
_NUMBER = re.compile(r"-?\d+\.\d{2,}")
_SHIFT = re.compile(r"(?:translate|rotate)\([^)]*\)")
_STEP = re.compile(r"([MLQCz])([^MLQCz]*)")
_ONLY_SHIFT = re.compile(r"translate\((-?[\d.]+)(?: (-?[\d.]+))?\)")
_NO_TURN = re.compile(r"rotate\(-?0 ")
_URL = re.compile(r"url\(#([^)]+)\)")


def svg_element(picture: bytes, prefix: str, colors: Mapping[str, str], label: str) -> str:
    """A drawn SVG file as an element of a page.

    prefix : of its ids, another for every picture; colors : '#rrggbb' -> name of a colour of the page
    label : what it shows, in a sentence that is read aloud
    """
    root = ElementTree.fromstring(picture)
    used = {name for element in root.iter() for value in element.attrib.values() for name in _named(value)}
    made = _element(root, prefix, colors, used)
    made.attrib = {
        "viewBox": root.get("viewBox", ""), "stroke-linejoin": "round", "stroke-linecap": "butt", "role": "img",
        "aria-label": label,
    }  # fmt: skip
    return ElementTree.tostring(made, encoding="unicode")


def _named(value: str) -> list[str]:
    return [value[1:]] if value.startswith("#") else _URL.findall(value)


def _element(
    given: ElementTree.Element, prefix: str, colors: Mapping[str, str], used: set[str]
) -> ElementTree.Element:  # fmt: skip
    made = ElementTree.Element(given.tag.removeprefix(SVG), _attributes(given, prefix, colors))
    name = given.get("id", "")
    if name in used:
        made.set("id", prefix + name)
    if made.tag == "text":
        made.text = " ".join((given.text or "").split())
        wide = per_point(made.text, bold="font-weight" in made.attrib) * float(made.get("font-size", 1))
        made.set("textLength", _short(wide))
        made.set("lengthAdjust", "spacingAndGlyphs")
    for child in given:
        if child.tag not in DRAWN:
            continue
        inner = _element(child, prefix, colors, used)
        if len(inner) == 1 and inner.tag == "g" and not inner.attrib:  # a group that groups nothing
            made.append(inner[0])
        elif len(inner) or inner.tag not in ("g", "defs"):
            made.append(inner)
    return made


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
    _shorten(given.tag, attributes)
    target = given.get(LINK) or given.get("href")
    if target is not None and target.startswith("#"):
        attributes["href"] = f"#{prefix}{target[1:]}"
    if classes:
        attributes["class"] = " ".join(classes)
    return attributes


def _shorten(tag: str, attributes: dict[str, str]) -> None:
    """The same place in fewer words."""
    if "font-size" in attributes:
        attributes["font-size"] = attributes["font-size"].removesuffix("px")
    if _NO_TURN.match(attributes.get("transform", "")):
        del attributes["transform"]
    shift = _ONLY_SHIFT.fullmatch(attributes.get("transform", ""))
    if tag in (f"{SVG}use", f"{SVG}text") and shift is not None:
        del attributes["transform"]
        attributes |= {key: value for key, value in (("x", shift[1]), ("y", shift[2])) if value not in (None, "0")}


def _value(key: str, value: str, prefix: str) -> str:
    """The value with fewer digits where a tenth of a point is enough, and ids of this picture."""
    if key == "d":
        return _relative(value)
    if key == "transform":  # a scale keeps its digits
        return _SHIFT.sub(lambda shift: _rounded(shift[0]), value)
    if key in ("x", "y"):
        return _rounded(value)
    return _URL.sub(lambda name: f"url(#{prefix}{name[1]})", value)


def _relative(path: str) -> str:
    """The path with every step from the point before, to a tenth of a point: a quarter of the bytes.

    A letter that is the same again is left out. Tenths are counted as whole numbers, so that nothing adds up on the
    way.
    """
    x, y, start, made, last = 0, 0, (0, 0), [], ""
    for command, numbers in _STEP.findall(path):
        if command == "z":
            made.append("z")
            (x, y), last = start, "z"
            continue
        places = [round(10 * float(number)) for number in numbers.split()]
        steps = []
        for i in range(0, len(places), 2):
            steps += [_tenths(places[i] - x), _tenths(places[i + 1] - y)]
        if command != "L" or steps != ["0", "0"]:  # a step within its tenth
            made.append(f"{' ' if command == last != 'M' else command.lower()}{' '.join(steps)}")
            last = command
        x, y = places[-2], places[-1]
        if command == "M":
            start = (x, y)
    return "".join(made).replace(" -", "-")


@lru_cache(maxsize=4096)  # steps are short: most have come before
def _tenths(count: int) -> str:
    """A number of tenths: 125 -> '12.5', 5 -> '.5'."""
    whole, rest = divmod(abs(count), 10)
    text = f"{whole or ''}.{rest}" if rest else f"{whole}"
    return f"-{text}" if count < 0 else text


def _short(number: float) -> str:
    return f"{number:.1f}".removesuffix(".0")


def _rounded(text: str) -> str:
    return _NUMBER.sub(lambda number: f"{float(number[0]):.1f}".replace("-0.0", "0").removesuffix(".0"), text)
