"""Mutations: of a text, of a tree of data, of a table, of a script of answers. All chance comes from one generator."""

from __future__ import annotations

import copy
import csv
import io
import json
import math
from collections.abc import Callable, Iterator, Sequence
from random import Random
from typing import Any

NUMBERS = (
    0,
    -0.0,
    1,
    -1,
    2,
    0.5,
    2.5,
    25.4,
    90,
    180,
    360,
    -360,
    1e3,
    1588,
    1e6,
    1e9,
    1e-3,
    1e-9,
    1e-300,
    1e308,
    -1e308,
    2**31,
    2**63,
    10**400,
    math.inf,
    -math.inf,
    math.nan,
)
TEXTS = (
    "",
    " ",
    "assumed",
    "true",
    "yes",
    "no",
    "null",
    "~",
    "nan",
    ".inf",
    "1e3",
    "1e999",
    "0x10",
    "1_000",
    "12:00",
    "10:30",
    "25:99",
    "12 o'clock",
    "62 1/2 in",
    "1/0 in",
    "3' 4\"",
    "4,5",
    "1.234,5",
    "1,234.5",
    "-5 mm",
    "5 kg",
    "5 lb",
    "30 mph",
    "200 km/h",
    "90 deg",
    "\uff15 mm",
    "½ in",
    "\u20135",
    "1588 +- 2",
    "\u202eabc",
    "\x00",
    "\x1b[31m",
    "\r",
    "é" * 300,
    "a" * 70000,
    "[",
    "]",
    "{",
    "}",
    ":",
    "- ",
    "&a",
    "*a",
    "!!python/object:os.system x",
    "%",
    "{{7*7}}",
    "<b>",
    "=1+1",
    "@A1",
    "\ud800",
    "5x114.3",
    "5x4.5in",
    "0x0",
    "99x99999",
    "M14x1.5",
    "M0x0",
    "1/2-20",
    "305/45R20",
    "335/25R22 999Y XL",
    "33x12.50R20LT",
    "20x10 ET25 6x139.7 CB78.1",
    "30x3 ET-200 3x50 CB200",
    "20x10",
    "body",
    "knuckle",
    "rack",
    "axle",
    "upper_arm",
    "lower_arm",
    "hub_face",
    "centre_plane",
    "tire",
    "wheel",
    "both",
    "left",
    "right",
    "behind",
    "edge",
    "rod",
    "ball",
    "panel",
    "ring",
    "tape",
    "strut",
    "solid_axle",
    "double_wishbone",
    "five_link",
    "cone",
    "flat",
    "inf",
    "--",
    "-h",
)
VALUES: tuple[Any, ...] = (
    None,
    True,
    False,
    [],
    {},
    [[]],
    [None],
    [0, 0, 0],
    [[0, 0, 0], [0, 0, 0]],
    {"": None},
    {"value": 1},
    {"value": 34, "tolerance": 3, "assumed": True},
    {"value": 0, "tolerance": 1e9},
    {"clock": 90, "radius": 402, "out": 30},
    {"clock": "10:30", "radius": 0, "out": 0},
    {"ahead": -120, "up": 300, "out": 30},
    {"ahead": 0, "above_ground": 712, "out": 30, "square_to": "hub"},
    {"kingpin_inclination": 12, "caster": 4, "offset": 90},
    {"to": "tire", "gap": 22},
    {"to": "rim_plane", "gap": -10, "at": {"travel": 20, "lock": "left"}, "along": "radial"},
    {"travel": 20, "lock": "right"},
    {"out": -150, "up": [-100, 300]},
    {"droop": 0, "bump": 0},
)
LETTERS = "0123456789.,-+/ xXRrETPZLCB\"'()[]{}:;#&*!|>%@`~\\\t\n\r\x00\x1b½é\u2013\u2212\uff11\u200b\u202e\ufeff"
Path = tuple[Any, ...]


def mutated_text(rng: Random, text: str, others: Sequence[str]) -> str:
    """A few letters changed, a piece twice, gone or taken from another one."""
    for _ in range(rng.choice((1, 1, 1, 2, 3, 6))):
        at = rng.randint(0, len(text))
        end = min(len(text), at + rng.choice((1, 1, 2, 4, 9)))
        change = rng.randrange(7)
        if change == 0:
            text = text[:at] + text[end:]
        elif change == 1:
            text = text[:at] + rng.choice(LETTERS) + text[at:]
        elif change == 2:
            text = text[:at] + rng.choice(LETTERS) + text[end:]
        elif change == 3:
            text = text[:end] + text[at:end] * rng.choice((1, 1, 2, 50)) + text[end:]
        elif change == 4:
            other = rng.choice(others)
            start = rng.randint(0, len(other))
            text = text[:at] + other[start : start + rng.choice((1, 3, 8, 20))] + text[end:]
        elif change == 5:
            text = text[:at] + rng.choice(TEXTS) + text[at:]
        else:
            text = text[:at] + _other_number(rng) + text[end:]
    return text


def _other_number(rng: Random) -> str:
    number = rng.choice((rng.randint(0, 400), rng.randint(0, 9), round(rng.uniform(-50, 500), 1), rng.choice(NUMBERS)))
    return str(number)[:40]


# ---------------------------------------------------------------- data


def nodes(data: Any, path: Path = ()) -> Iterator[Path]:
    """The path of every node but the top."""
    inner = data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    for key, value in inner:
        yield (*path, key)
        yield from nodes(value, (*path, key))


def at(data: Any, path: Path) -> Any:
    """The node of a path."""
    for key in path:
        data = data[key]
    return data


class Samples:
    """Values that each key has somewhere in the profiles that were given: what a changed one may become."""

    def __init__(self, profiles: Sequence[Any]) -> None:
        self.of: dict[str, list[Any]] = {}
        for data in profiles:
            for path in nodes(data):
                if isinstance(path[-1], str):
                    self.of.setdefault(path[-1], []).append(at(data, path))
        self.keys = sorted(self.of)

    def value(self, rng: Random, key: str) -> Any:
        """Another value of the same key; its own list of those seen."""
        return copy.deepcopy(rng.choice(self.of.get(key) or VALUES))


def mutated_data(rng: Random, data: Any, samples: Samples, gentle: bool) -> Any:
    """Some nodes changed; gentle: numbers moved a little, values taken from the same key, much still loads."""
    data = copy.deepcopy(data)
    for _ in range(rng.choice((1, 1, 2, 3, 5))):
        paths = list(nodes(data))
        if not paths:
            break
        path = rng.choice(paths)
        parent, key = at(data, path[:-1]), path[-1]
        rng.choice(GENTLE if gentle or rng.random() < 0.4 else ROUGH)(rng, parent, key, samples)
    return data


def _moved(rng: Random, parent: Any, key: Any, samples: Samples) -> None:
    """A number elsewhere: near, mirrored, or nothing."""
    value = parent[key]
    if isinstance(value, bool) or not isinstance(value, int | float):
        _sampled(rng, parent, key, samples)
        return
    small = abs(value) if math.isfinite(float(min(abs(value), 1e300))) else 1.0
    parent[key] = rng.choice(
        (
            round(value + rng.gauss(0, 20), 2),
            round(value * rng.uniform(0.7, 1.3), 3),
            -value,
            0,
            value + rng.choice((1e-9, -1e-6, 1e-3)),
            round(small * rng.choice((0.1, 2)), 3),
        )
    )


def _sampled(rng: Random, parent: Any, key: Any, samples: Samples) -> None:
    if isinstance(key, str):
        parent[key] = samples.value(rng, key)
    elif isinstance(parent, list) and parent:
        parent[key] = copy.deepcopy(rng.choice(parent))


def _added(rng: Random, parent: Any, key: Any, samples: Samples) -> None:
    node = parent[key]
    if isinstance(node, dict):
        name = rng.choice(samples.keys)
        node[name] = samples.value(rng, name)
    elif isinstance(node, list) and node:
        node.insert(rng.randint(0, len(node)), copy.deepcopy(rng.choice(node)))
    else:
        _moved(rng, parent, key, samples)


def _gone(_rng: Random, parent: Any, key: Any, _samples: Samples) -> None:
    del parent[key]


def _with_tolerance(rng: Random, parent: Any, key: Any, _samples: Samples) -> None:
    parent[key] = {"value": parent[key], "tolerance": rng.choice((0, 1, 3, 30, *NUMBERS))}
    if rng.random() < 0.3:
        parent[key]["assumed"] = rng.choice((True, True, False, "yes"))


def _assumed(_rng: Random, parent: Any, key: Any, _samples: Samples) -> None:
    parent[key] = "assumed"


def _in_inches(rng: Random, parent: Any, key: Any, samples: Samples) -> None:
    value = parent[key]
    if isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e9:
        parent[key] = rng.choice(
            (f"{value / 25.4:.4f} in", f"{value} mm", f"{value / 10:.3f} cm", f"{value / 304.8:.3f} ft")
        )
    else:
        _sampled(rng, parent, key, samples)


def _absurd(rng: Random, parent: Any, key: Any, _samples: Samples) -> None:
    parent[key] = copy.deepcopy(rng.choice((rng.choice(NUMBERS), rng.choice(TEXTS), rng.choice(VALUES))))


def _foreign(rng: Random, parent: Any, key: Any, samples: Samples) -> None:
    parent[key] = samples.value(rng, rng.choice(samples.keys))


def _renamed(rng: Random, parent: Any, key: Any, samples: Samples) -> None:
    if isinstance(parent, dict):
        parent[rng.choice((rng.choice(samples.keys), rng.choice(TEXTS), str(key) + "s", str(key).upper()))] = (
            parent.pop(key)
        )


def _repeated(rng: Random, parent: Any, key: Any, _samples: Samples) -> None:
    if isinstance(parent, list):
        parent[key:key] = [copy.deepcopy(parent[key]) for _ in range(rng.choice((1, 2, 30)))]
    else:
        parent[key] = [parent[key]] * 2


def _deep(rng: Random, parent: Any, key: Any, _samples: Samples) -> None:
    for _ in range(rng.choice((1, 3, 60))):
        parent[key] = [parent[key]] if rng.random() < 0.7 else {"value": parent[key]}


Change = Callable[[Random, Any, Any, Samples], None]
GENTLE: tuple[Change, ...] = (
    _moved,
    _moved,
    _moved,
    _sampled,
    _sampled,
    _added,
    _gone,
    _with_tolerance,
    _assumed,
    _in_inches,
)
ROUGH: tuple[Change, ...] = (_absurd, _absurd, _absurd, _foreign, _renamed, _repeated, _deep)


def as_yaml(data: Any) -> str:
    """JSON, which is YAML but for numbers that are not finite and for halves of letters."""
    text = json.dumps(data, ensure_ascii=True, default=str)
    return text.replace("-Infinity", "-.inf").replace("Infinity", ".inf").replace("NaN", ".nan")


# ---------------------------------------------------------------- tables and scripts

HEADERS = (
    "wheel",
    "tire",
    "spacer",
    "ride",
    "name",
    "price",
    "Rim",
    "Wheel ",
    "TIRE",
    "verdict",
    "rank",
    "offset",
    "",
    "ET",
    "backspacing",
    "circle",
    "bore",
    "wheel",
    "clearance_mm",
)


def mutated_table(rng: Random, rows: Sequence[Sequence[str]], others: Sequence[str]) -> tuple[bytes, int | None]:
    """The bytes of a CSV file, and how many rows it has where only cells were changed."""
    table = [list(row) for row in rows]
    for _ in range(rng.choice((1, 1, 2, 4))):
        row = rng.randrange(1, len(table))
        column = rng.randrange(len(table[row]))
        table[row][column] = mutated_text(rng, table[row][column], others) if rng.random() < 0.8 else rng.choice(TEXTS)
    whole = all("".join(row).strip() for row in table) and rng.random() < 0.5
    if not whole:
        _disorder(rng, table)
    stream = io.StringIO()
    delimiter = rng.choice((",", ",", ",", ";", "\t"))
    csv.writer(stream, delimiter=delimiter, lineterminator=rng.choice(("\n", "\r\n"))).writerows(table)
    text = stream.getvalue()
    if not whole and rng.random() < 0.5:
        text = mutated_text(rng, text, [text])
    encoding = "utf-8" if whole else rng.choice(("utf-8", "utf-8", "utf-8-sig", "latin-1", "utf-16", "cp1252"))
    content = text.encode(encoding, "surrogatepass" if encoding.startswith("utf-8") else "replace")
    if not whole and rng.random() < 0.2:
        place = rng.randint(0, len(content))
        content = content[:place] + rng.randbytes(rng.choice((1, 3, 200))) + content[place:]
    plain = whole and not any(letter in text for letter in '\x00\r"\ud800') and delimiter == ","
    return content, len(table) - 1 if plain else None


def _disorder(rng: Random, table: list[list[str]]) -> None:
    change = rng.randrange(7)
    row = rng.randrange(len(table))
    if change == 0:
        table[0][rng.randrange(len(table[0]))] = rng.choice(HEADERS)
    elif change == 1:
        table[row].append(rng.choice(TEXTS))
    elif change == 2 and len(table[row]) > 1:
        table[row].pop()
    elif change == 3:
        table.insert(row, [])
    elif change == 4:
        for each in table:
            each.insert(0, rng.choice(HEADERS))
    elif change == 5:
        del table[0]
    else:
        table[:] = table[:1]


STEERING = (
    "back",
    "?",
    "help",
    "skip",
    "done",
    "no more",
    "quit",
    "yes",
    "no",
    "go to 2.7",
    "go to 1.1",
    "go to 6.1 front",
    "go to 99.9",
    "go",
    "go to",
    "y",
    '"back"',
    "",
    "",
    "0",
    "-1",
    "1e9",
    "front",
    "rear",
    "both",
    "other.yaml",
)


def mutated_script(rng: Random, script: Sequence[str], others: Sequence[str]) -> list[str]:
    """Lines changed, left out, said twice, or with a word between that steers the dialogue."""
    lines = list(script)
    for _ in range(rng.choice((1, 2, 4, 8))):
        place = rng.randint(0, max(0, len(lines) - 1))
        change = rng.randrange(6)
        if change == 0:
            lines.insert(place, rng.choice(STEERING))
        elif change == 1 and lines:
            lines[place] = mutated_text(rng, lines[place], others)
        elif change == 2 and lines:
            del lines[place]
        elif change == 3:
            lines[place:place] = lines[place : place + rng.choice((1, 3))]
        elif change == 4:
            lines.insert(place, rng.choice(TEXTS))
        else:
            lines[place : place + 1] = [rng.choice(others)]
    return lines
