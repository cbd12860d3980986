"""A profile as the text of a YAML file, with a remark beside each value."""

from __future__ import annotations

import json
import re
import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

from fitment.profile.yaml_core import At

WIDTH = 116  # characters of a line
_PLAIN = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9 ._/+-]*[A-Za-z0-9])?")
_NOT_TEXT = re.compile(
    r"[-+]?[0-9.][0-9_]*(?:\.[0-9_]*)?(?:[eE][-+]?[0-9]+)?|0[xo][0-9a-fA-F]+|true|false|null|yes|no|on|off|y|n",
    re.IGNORECASE,
)


def yaml_text(
    data: Mapping[str, Any],
    remarks: Mapping[At, str] | None = None,
    left_out: Mapping[At, Sequence[str]] | None = None,
    head: Sequence[str] = (),
) -> str:
    """The file: plain data in the order given, written so that reading it gives the same data.

    remarks : key path -> what the value is; left_out : key path of a map -> what was not given in it
    head : lines of comment at the top
    """
    writer = _Writer(dict(remarks or {}), {at: list(names) for at, names in (left_out or {}).items()})
    lines = [*(_comment(line) for line in head), *writer.map_lines(data, (), "")]
    return "\n".join(lines) + "\n"


def entry_lines(key: str, value: Any, at: At, indent: str, remarks: Mapping[At, str]) -> list[str]:
    """The lines of one key of a map that stands in by `indent`; remarks : key path -> what the value is."""
    return _Writer(dict(remarks), {}).entry(f"{indent}{scalar(key)}:", value, at, indent)


def item_lines(value: Any, at: At, indent: str, remarks: Mapping[At, str]) -> list[str]:
    """The lines of one item of a list whose dashes stand in by `indent`."""
    return _Writer(dict(remarks), {}).item(value, at, indent)


def _comment(text: str) -> str:
    clean = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return f"# {clean}" if clean else "#"


def _above(text: str, indent: str) -> list[str]:
    """A remark on lines of its own."""
    lines = textwrap.wrap(_comment(text)[2:], WIDTH - len(indent), break_long_words=False, break_on_hyphens=False)
    return [f"{indent}# {line}" for line in lines]


def scalar(value: Any) -> str:
    """A number, true or false, or a text in quotes where it needs them."""
    if isinstance(value, str) and _PLAIN.fullmatch(value) and not _NOT_TEXT.fullmatch(value):
        return value
    return json.dumps(value, ensure_ascii=False)


def flow_text(value: Any) -> str:
    """A value on one line, maps and lists in brackets."""
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{scalar(key)}: {flow_text(entry)}" for key, entry in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(flow_text(item) for item in value) + "]"
    return scalar(value)


class _Writer:
    def __init__(self, remarks: dict[At, str], left_out: dict[At, list[str]]) -> None:
        self.remarks, self.left_out = remarks, left_out

    def map_lines(self, data: Mapping[str, Any], at: At, indent: str) -> list[str]:
        lines: list[str] = []
        for key, value in data.items():
            lines += self.entry(f"{indent}{scalar(key)}:", value, (*at, key), indent)
        if at in self.left_out:
            lines += _above(f"not given: {', '.join(self.left_out[at])}", indent)
        return lines

    def entry(self, start: str, value: Any, at: At, indent: str) -> list[str]:
        remark = self.remarks.get(at, "")
        line = f"{start} {flow_text(value)}"
        if not isinstance(value, Mapping | list) or (len(line) <= WIDTH and not self._has_remarks(at)):
            if not remark:
                return [line]
            beside = f"{line}  {_comment(remark)}"
            return [beside] if len(beside) <= WIDTH else [*_above(remark, indent), line]
        block = self._block(value, at, indent + "  ")
        return [*(_above(remark, indent) if remark else ()), start, *block]

    def _has_remarks(self, at: At) -> bool:
        """Whether something inside is to be explained; a map or list without is written on one line."""
        inside = [*self.remarks, *self.left_out]
        return any(len(path) > len(at) and path[: len(at)] == at for path in inside) or at in self.left_out

    def _block(self, value: Any, at: At, indent: str) -> list[str]:
        if isinstance(value, Mapping):
            return self.map_lines(value, at, indent)
        return [line for index, item in enumerate(value) for line in self.item(item, (*at, index), indent)]

    def item(self, value: Any, at: At, indent: str) -> list[str]:
        if not isinstance(value, Mapping) or (
            len(indent) + len(flow_text(value)) < WIDTH and not self._has_remarks(at)
        ):
            return self._short_item(value, at, indent)
        first, *rest = self.map_lines(value, at, indent + "  ")
        above = []
        while first.lstrip().startswith("#"):  # a remark too long for its line goes before the item
            above.append(indent + first.lstrip())
            first, *rest = rest
        return [*above, f"{indent}- {first.lstrip()}", *rest]

    def _short_item(self, value: Any, at: At, indent: str) -> list[str]:
        line = f"{indent}- {flow_text(value)}"
        if isinstance(value, list) and len(line) > WIDTH:
            return [f"{indent}-", *self._block(value, at, indent + "  ")]
        return [line]
