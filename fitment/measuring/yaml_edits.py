"""A YAML file changed where its data changes, every other character left as it is."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

from fitment.errors import FitmentError, ProfileError
from fitment.measuring.yaml_writer import entry_lines, flow_text, item_lines
from fitment.profile.yaml_core import At, load_text, path_text
from fitment.profile.yaml_places import Place, places

NEW_LINE = ("\n", "\r", "")  # what may stand before the start of a line


class Edit(NamedTuple):
    """Characters from `start` to `end` give way to `text`."""

    start: int
    end: int
    text: str


def edited(text: str, data: Any, remarks: Mapping[At, str] | None = None) -> str:
    """The text with its data changed to `data`; what is new gets its remarks beside it, what stands there no other.

    An alias stays where it still stands for the right value, else it is written out. Raises FitmentError where the
    text, changed so, would read otherwise.
    """
    old = load_text(text).data
    if same(old, data):
        return text
    change = _Change(text, old, data, dict(remarks or {}))
    lines = "".join(change.apply())
    try:
        is_right = same(load_text(lines).data, data)
    except ProfileError:
        is_right = False
    if not is_right:
        where = next(iter(differences(old, data)), ())
        line = load_text(text).line(where)
        raise FitmentError(
            f"line {line}, {path_text(where)}: as it is written there, it cannot be changed without touching the rest; "
            "change it in an editor."
        )
    return lines


def same(one: Any, other: Any) -> bool:
    """Whether two plain values are written alike: 1, 1.0 and true are three."""
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(same(value, other[key]) for key, value in one.items())
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(same, one, other))
    return type(one) is type(other) and bool(one == other)


def differences(old: Any, new: Any, at: At = ()) -> Iterator[At]:
    """Key paths of what differs, as deep as both have the same keys or as many items."""
    if isinstance(old, Mapping) and isinstance(new, Mapping):
        for key in [*old, *(key for key in new if key not in old)]:
            if key not in old or key not in new:
                yield (*at, key)
            else:
                yield from differences(old[key], new[key], (*at, key))
    elif isinstance(old, list) and isinstance(new, list):
        for index in range(max(len(old), len(new))):
            if index >= len(old) or index >= len(new):
                yield (*at, index)
            else:
                yield from differences(old[index], new[index], (*at, index))
    elif not same(old, new):
        yield at


class _Change:
    """The edits from one state of the data to another."""

    def __init__(self, text: str, old: Any, new: Any, remarks: dict[At, str]) -> None:
        self.text, self.remarks = text, remarks
        self.line_end = "\r\n" if "\r\n" in text else "\n"
        self.edits: list[Edit] = []
        self.named: dict[str, Any] = {}  # anchor -> what it stands for after the change
        self._value(places(text), old, new, ())

    def apply(self) -> Iterator[str]:
        """The pieces of the changed text."""
        done = 0
        for edit in sorted(
            self.edits, key=lambda edit: edit.start
        ):  # stable: what is put in at one place stays in order
            yield self.text[done : edit.start]
            yield edit.text
            done = edit.end
        yield self.text[done:]

    def _value(self, place: Place, old: Any, new: Any, at: At) -> None:
        if place.kind == "alias":
            if place.anchor not in self.named or not same(self.named[place.anchor], new):
                self._replace(place, new)
            return
        if place.kind == "map" and isinstance(new, Mapping) and old.keys() <= new.keys():
            for inner in place.inside:
                self._value(inner, old[inner.key], new[inner.key], (*at, inner.key))
            self._more_keys(place, {key: value for key, value in new.items() if key not in old}, at)
        elif place.kind == "list" and isinstance(new, list) and len(old) <= len(new):
            for index, inner in enumerate(place.inside):
                self._value(inner, old[index], new[index], (*at, index))
            self._more_items(place, new[len(old) :], (*at, len(old)))
        elif not same(old, new):
            self._replace(place, new)
        if place.anchor:
            self.named[place.anchor] = new

    def _replace(self, place: Place, new: Any) -> None:
        before = self.text[place.start - 1 : place.start]
        space = "" if before in (" ", "\t", "[", "{", ",", *NEW_LINE) else " "
        ending = self.line_end if place.literal and self.text[place.end - 1] in NEW_LINE else ""
        self.edits.append(Edit(place.start, place.end, f"{space}{flow_text(new)}{ending}"))

    def _more_keys(self, place: Place, more: Mapping[str, Any], at: At) -> None:
        if not more:
            return
        if place.flow:
            self._in_brackets(place, flow_text(more)[1:-1])
            return
        indent = self._indent(place)
        lines = [
            line for key, value in more.items() for line in entry_lines(key, value, (*at, key), indent, self.remarks)
        ]
        self._below(place, lines)

    def _more_items(self, place: Place, more: list[Any], at: At) -> None:
        if not more:
            return
        if place.flow:
            self._in_brackets(place, flow_text(more)[1:-1])
            return
        first, indent = int(at[-1]), self._indent(place)
        numbered = enumerate(more, start=first)
        self._below(
            place, [line for n, item in numbered for line in item_lines(item, (*at[:-1], n), indent, self.remarks)]
        )

    def _in_brackets(self, place: Place, text: str) -> None:
        if place.inside:
            end = place.inside[-1].end
            self.edits.append(Edit(end, end, f", {text}"))
        else:
            self.edits.append(Edit(place.start + 1, place.start + 1, text))

    def _indent(self, place: Place) -> str:
        """As far as the keys of a map or the dashes of a list stand in."""
        lead = place.inside[0].lead
        return " " * (lead - 1 - max(self.text.rfind("\n", 0, lead), self.text.rfind("\r", 0, lead)))

    def _below(self, place: Place, lines: list[str]) -> None:
        """Put lines below a block, behind what else stands on its last line."""
        at = place.end
        if self.text[at - 1] not in NEW_LINE:  # else a text behind | or >, which ends where a line begins
            end = self.text.find("\n", at)
            at = end + 1 if end >= 0 else len(self.text)
        block = self.line_end.join(lines)
        is_last = self.text[at - 1] not in NEW_LINE
        self.edits.append(Edit(at, at, f"{self.line_end}{block}" if is_last else f"{block}{self.line_end}"))
