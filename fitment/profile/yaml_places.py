"""Where every value of a YAML file stands in its text, so that one can be changed and the rest left as it is."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import yaml


@dataclass
class Place:
    """A value in the text.

    kind : map, list, scalar, or alias: a name that stands for a value written elsewhere
    start, end : its first character and the one after its last, an anchor not counted; a block ends with its last value
    key : its key in a map; lead : where that key stands, or the dash before an item of a block
    flow : written in brackets; literal : a text behind | or >, whose end is the start of a line
    anchor : the name before it, of an alias the name that it stands for
    inside : values of a map or a list, in order
    """

    kind: Literal["map", "list", "scalar", "alias"]
    start: int
    end: int
    key: str = ""
    lead: int = -1
    flow: bool = False
    literal: bool = False
    anchor: str = ""
    inside: list[Place] = field(default_factory=list)


def places(text: str) -> Place:
    """The places of a text that `yaml_core.load_text` reads."""
    # the plain loader: it counts characters as Python does
    tokens: Iterator[Any] = yaml.scan(text, Loader=yaml.SafeLoader)
    dashes = [token.start_mark.index for token in tokens if isinstance(token, yaml.BlockEntryToken)]
    events: Iterator[Any] = yaml.parse(text, Loader=yaml.SafeLoader)
    for event in events:
        if isinstance(event, yaml.NodeEvent):
            return _place(text, dashes, events, event)
    raise ValueError("nothing stands in the text")


def _place(text: str, dashes: Sequence[int], events: Iterator[Any], event: Any) -> Place:
    start, end, anchor = event.start_mark.index, event.end_mark.index, event.anchor or ""
    if isinstance(event, yaml.AliasEvent):
        return Place("alias", start, end, anchor=anchor)
    if anchor:
        start = _after_anchor(text, start, anchor)
    if isinstance(event, yaml.ScalarEvent):
        return Place("scalar", start, max(start, end), literal=event.style in ("|", ">"), anchor=anchor)
    is_map = isinstance(event, yaml.MappingStartEvent)
    place = Place("map" if is_map else "list", start, end, flow=bool(event.flow_style), anchor=anchor)
    for inner in events:
        lead, end = inner.start_mark.index, inner.end_mark.index
        if isinstance(inner, yaml.CollectionEndEvent):
            place.end = end if place.flow else place.inside[-1].end
            break
        if is_map:
            value = _place(text, dashes, events, next(events))
            value.key, value.lead = inner.value, lead
        else:
            value = _place(text, dashes, events, inner)
            value.lead = -1 if place.flow else dashes[bisect_left(dashes, lead) - 1]
        place.inside.append(value)
    return place


def _after_anchor(text: str, start: int, anchor: str) -> int:
    """Where the value begins that stands behind an anchor on its line; without one there, right behind the anchor."""
    end = start + 1 + len(anchor)
    behind = end
    while behind < len(text) and text[behind] in " \t":
        behind += 1
    return behind if behind < len(text) and text[behind] not in "\r\n#" else end
