"""YAML 1.2 core, read safely: plain data, and the line on which every value stands.

Only true and false are booleans, numbers are decimal, `on`, `12:30` and dates stay texts, `<<` is a key
like any other. Tags, several documents, repeated keys and anchors that contain themselves are refused.
"""

from __future__ import annotations

import itertools
import math
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from fitment.errors import ProfileError, did_you_mean

MAX_BYTES = 2_000_000
MAX_DEPTH = 40
MAX_NODES = 100_000  # after every alias is written out

Step = str | int
At = tuple[Step, ...]

_FORBIDDEN = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")  # YAML 1.2, 5.1
_MAX_DIGITS = 30
_PREFIX = "tag:yaml.org,2002:"

# tag, what it looks like, the characters it may begin with: YAML 1.2.2, 10.3.2, and the numbers it refuses
_CORE: list[tuple[str, str, list[str]]] = [
    ("null", r"~|null|Null|NULL|", ["~", "n", "N", ""]),
    ("bool", r"true|True|TRUE|false|False|FALSE", list("tTfF")),
    ("int", r"[-+]?[0-9]+", list("-+0123456789")),
    ("float", r"[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?", list("-+.0123456789")),
    ("not-decimal", r"0o[0-7]+|0x[0-9a-fA-F]+", ["0"]),
    ("not-finite", r"[-+]?\.(?:inf|Inf|INF)|\.(?:nan|NaN|NAN)", list("-+.")),
]


class _CoreLoader(getattr(yaml, "CSafeLoader", yaml.SafeLoader)):  # type: ignore[misc]
    """The safe loader with the scalars of YAML 1.2 core in place of those of YAML 1.1."""

    yaml_implicit_resolvers: dict[str, Any] = {}  # noqa: RUF012  # replaces the parent's table


for _tag, _looks, _first in _CORE:
    _CoreLoader.add_implicit_resolver(_PREFIX + _tag, re.compile(rf"(?:{_looks})\Z"), _first)


@dataclass(frozen=True)
class Document:
    """A file as plain data.

    file : path as the user gave it
    lines : 1-based line of the value at each key path
    folder : in which the files lie that it names; None = it came from a text
    """

    file: str
    data: Any
    lines: dict[At, int]
    folder: Path | None = None

    def line(self, at: At) -> int:
        """Line of the value at a key path, or of the nearest thing around it."""
        for length in range(len(at), -1, -1):
            if at[:length] in self.lines:
                return self.lines[at[:length]]
        return 1


def load_file(path: str | Path) -> Document:
    """Read a YAML file. Raises ProfileError with file and line for anything that is not plain YAML."""
    return load_text(_decode(_read(path), str(path)), str(path), Path(path).parent)


def load_text(text: str, file: str = "", folder: Path | None = None) -> Document:
    """Read YAML from a text; `file` is the name used in errors, `folder` where the files that it names lie."""
    odd = _FORBIDDEN.search(text)
    if odd:
        line = text.count("\n", 0, odd.start()) + 1
        what = f"character U+{ord(odd[0]):04X} does not belong in a text file"
        raise ProfileError(f"{what}; is this a YAML profile? Save it as plain UTF-8 text.", file=file, line=line)
    try:
        _check_events(text, file)
        node = yaml.compose(text, Loader=_CoreLoader)
    except yaml.YAMLError as error:
        raise _explained(error, text, file) from None
    if node is None:
        raise ProfileError("the file is empty; start it with `format: 1`.", file=file, line=1)
    reader = _Reader(file, node)
    data = reader.plain(node, ())
    reader.lines.setdefault((), 1)
    return Document(file, data, reader.lines, folder)


def _read(path: str | Path) -> bytes:
    file = str(path)
    try:
        with Path(path).open("rb") as stream:
            raw = stream.read(MAX_BYTES + 1)
    except FileNotFoundError:
        raise ProfileError(f"there is no such file.{_sibling(Path(path))} Check the path.", file=file) from None
    except IsADirectoryError:
        raise ProfileError("this is a folder; name the profile file in it.", file=file) from None
    except PermissionError:
        raise ProfileError("the file may not be read; check its permissions.", file=file) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ProfileError(
            f"the file cannot be read ({reason}); check the path.", file=file.replace("\0", "?")
        ) from None
    if len(raw) > MAX_BYTES:
        raise ProfileError(f"the file is larger than {MAX_BYTES // 1_000_000} MB; is this a profile?", file=file)
    return raw


def _sibling(path: Path) -> str:
    try:
        names = [entry.name for entry in path.parent.iterdir() if entry.suffix in {".yaml", ".yml"}]
    except OSError:
        return ""
    return did_you_mean(path.name, names)


def _decode(raw: bytes, file: str) -> str:
    if raw[:2] in {b"\xff\xfe", b"\xfe\xff"}:
        raise ProfileError("the file is UTF-16; save it as UTF-8.", file=file, line=1)
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        what = f"byte 0x{raw[error.start]:02x} is not UTF-8 text"
        raise ProfileError(f"{what}; is this a YAML profile? Save it as UTF-8.", file=file, line=line) from None


@dataclass
class _Sizes:
    """Nodes under every anchor, aliases written out, counted without recursion."""

    file: str
    counts: list[int] = field(default_factory=lambda: [0])
    anchors: list[str | None] = field(default_factory=list)
    known: dict[str, int] = field(default_factory=dict)

    def refuse(self, message: str, event: Any) -> ProfileError:
        return ProfileError(message, file=self.file, line=event.start_mark.line + 1)

    def add(self, nodes: int, event: Any) -> None:
        self.counts[-1] += nodes
        if sum(self.counts) > MAX_NODES:
            raise self.refuse(f"more than {MAX_NODES} values with every alias written out; use fewer aliases.", event)

    def open(self, event: Any) -> None:
        if len(self.anchors) >= MAX_DEPTH:
            raise self.refuse(f"nested deeper than {MAX_DEPTH} levels; is a bracket left open?", event)
        self.add(1, event)
        self.anchors.append(event.anchor)
        self.counts.append(0)

    def close(self) -> None:
        inside, anchor = self.counts.pop(), self.anchors.pop()
        self.counts[-1] += inside
        if anchor is not None:
            self.known[anchor] = inside + 1

    def alias(self, event: Any) -> None:
        if event.anchor in self.anchors:
            raise self.refuse(f"alias *{event.anchor} stands inside its own anchor; write the values out.", event)
        if event.anchor not in self.known:
            hint = did_you_mean(event.anchor, self.known)
            raise self.refuse(f"alias *{event.anchor} has no anchor &{event.anchor} before it.{hint}", event)
        self.add(self.known[event.anchor], event)


def _check_events(text: str, file: str) -> None:
    """Refuse what a profile has no use for, before anything is built from the file."""
    sizes = _Sizes(file)
    documents = 0
    for event in yaml.parse(text, Loader=_CoreLoader):
        if isinstance(event, yaml.DocumentStartEvent):
            documents += 1
            if documents > 1:
                raise sizes.refuse("a second document starts here (---); keep one profile in a file.", event)
        elif isinstance(event, yaml.CollectionEndEvent):
            sizes.close()
        elif isinstance(event, yaml.AliasEvent):
            sizes.alias(event)
        elif isinstance(event, yaml.NodeEvent):
            tag = getattr(event, "tag", None)
            if tag is not None:
                shown = str(tag).replace(_PREFIX, "!!")
                raise sizes.refuse(f"tag {shown} is not read; remove it, or put the text in quotes.", event)
            if isinstance(event, yaml.CollectionStartEvent):
                sizes.open(event)
            else:
                sizes.add(1, event)
                if event.anchor is not None:
                    sizes.known[event.anchor] = 1


class _Reader:
    """Nodes to plain data; the depth is known to be small, so recursion is safe."""

    def __init__(self, file: str, root: Any) -> None:
        self.file, self.root = file, root
        self.lines: dict[At, int] = {}

    def refuse(self, message: str, node: Any, at: At) -> ProfileError:
        text = told_whose(_outline(self.root), at, message)
        return ProfileError(text, file=self.file, line=node.start_mark.line + 1, key=path_text(at))

    def plain(self, node: Any, at: At) -> Any:
        self.lines.setdefault(at, node.start_mark.line + 1)
        if isinstance(node, yaml.MappingNode):
            return self._map(node, at)
        if isinstance(node, yaml.SequenceNode):
            return [self.plain(item, (*at, index)) for index, item in enumerate(node.value)]
        return self._scalar(node, at)

    def _map(self, node: Any, at: At) -> dict[str, Any]:
        result: dict[str, Any] = {}
        first: dict[str, int] = {}
        for key_node, value_node in node.value:
            key, line = self._key(key_node, at), key_node.start_mark.line + 1
            if key in result:
                text = f'key "{key}" stands here and on line {first[key]}; keep one of them.'
                raise self.refuse(text, key_node, (*at, key))
            first[key] = self.lines[(*at, key)] = line
            result[key] = self.plain(value_node, (*at, key))
        return result

    def _key(self, node: Any, at: At) -> str:
        if not isinstance(node, yaml.ScalarNode):
            raise self.refuse("a list or a map stands where a key is expected; write `key: value`.", node, at)
        if node.tag != _PREFIX + "str":
            shown = node.value or "an empty key"
            raise self.refuse(f"{shown} stands where a key is expected; keys are texts: put it in quotes.", node, at)
        return str(node.value)

    def _scalar(self, node: Any, at: At) -> Any:
        kind, text = node.tag.removeprefix(_PREFIX), str(node.value)
        if kind == "null":
            return None
        if kind == "bool":
            return text.lower() == "true"
        if kind == "int":
            if len(text) > _MAX_DIGITS:
                raise self.refuse(f"{text[:12]}... has {len(text)} digits; check the number.", node, at)
            return int(text)
        if kind == "float":
            value = float(text)
            if not math.isfinite(value):
                raise self.refuse(f"{text[:40]} is too large for a number; check it.", node, at)
            return value
        if kind == "not-decimal":
            raise self.refuse(f"{text} is octal or hexadecimal; write the number in decimal.", node, at)
        if kind == "not-finite":
            raise self.refuse(f"{text} is not a finite number; give the value, or remove the line.", node, at)
        return text


def path_text(at: At) -> str:
    """Key path as it is written in messages: axles.front.travel, points[1][2]."""
    text = ""
    for step in at:
        if isinstance(step, int):
            text += f"[{step}]"
        else:
            text += f".{step}" if text else step
    return text


def told_whose(data: Any, at: At, text: str) -> str:
    """A message about a part in a list, such as an obstacle, with its name before it unless the message has it.

    data : the whole file; a part is a map in a list, without a name its number is told
    """
    inside: Any = data
    for step, after in itertools.pairwise((*at, None)):
        try:
            inside = inside[step]
        except (KeyError, IndexError, TypeError):
            return text
        if isinstance(step, int) and isinstance(inside, dict):
            name = inside.get("name")
            if f'"{name}"' in text:
                return text
            return f"number {step + 1} of the list: {text}" if after == "name" or not name else f"{name}: {text}"
    return text


def _outline(node: Any) -> Any:
    """Maps, lists and scalar texts of a node as plain data, whatever is wrong in it; the first of equal keys counts."""
    if isinstance(node, yaml.MappingNode):
        pairs = [(key.value, _outline(value)) for key, value in node.value if isinstance(key, yaml.ScalarNode)]
        return dict(reversed(pairs))
    if isinstance(node, yaml.SequenceNode):
        return [_outline(item) for item in node.value]
    return node.value


_REASONS = [
    (r"'\\t'|\\t|tab character", "a tab stands here; indent with spaces."),
    (r"mapping values are not allowed",
     'a colon is not expected here; check the indentation, or put a text that contains ": " in quotes.'),
    (r"expected node content", "a value is missing here, or a comma is one too many."),
    (r"expected ',' or '[\]}]'", "a comma is missing, or a bracket is not closed."),
    (r"end of stream|unexpected end", "the file ends within a text in quotes; close the quote."),
    (r"expected ':'|expected alphabetic|while scanning a simple key",
     "a `key: value` is expected here; is the colon, or the space after it, missing?"),
    (r"expected <block end>|did not find expected key|expected '-'|block end|block sequence entries",
     "the indentation does not match the lines above; keys of one map start in one column."),
    (r"unknown escape|escape", "a backslash in double quotes; use single quotes."),
    (r"cannot start any token|found character", "this character cannot start a value; put the text in quotes."),
]  # fmt: skip


def _explained(error: yaml.YAMLError, text: str, file: str) -> ProfileError:
    mark = getattr(error, "problem_mark", None) or getattr(error, "context_mark", None)
    said = str(getattr(error, "problem", None) or "it is not YAML")
    line = mark.line + 1 if mark else 1
    all_lines = text.splitlines() or [""]
    line = min(line, len(all_lines))
    reason = next((words for looks, words in _REASONS if re.search(looks, said)), f"{said}; check the punctuation.")
    if re.match(r"[ ]*\t", all_lines[line - 1]):
        reason = "a tab stands here; indent with spaces."
    opened = getattr(error, "context_mark", None)
    since = f" (within what begins on line {opened.line + 1})" if opened and opened.line + 1 < line else ""
    return ProfileError(f"not readable as YAML: {reason}{since}", file=file, line=line)
