"""What every report is made of: numbers, tables, paragraphs, and how a setup and a pose are said."""

from __future__ import annotations

import csv
import io
import json
import math
from collections.abc import Collection, Iterator, Sequence
from typing import TYPE_CHECKING, Any, Protocol

from fitment.corners import axle_of, side_of
from fitment.terminal import columns, escaped, filled, measure
from fitment.units import DEEP, deep_text, in_units, inches, length_text, read_text

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.checks.bolt_on import BoltOn
    from fitment.checks.case import Case
    from fitment.parts.axle import Setup

LEAST_WORDS = 24  # columns in which words at the end of a row still read well
VERDICT_WORDS = {
    "clears": "CLEARS",
    "tight": "TIGHT",
    "not_checked": "NOT CHECKED",
    "touches": "TOUCHES",
    "does_not_bolt_on": "DOES NOT BOLT ON",
    "unreadable": "UNREADABLE",
}
SAID = {verdict: word.lower() for verdict, word in VERDICT_WORDS.items()}  # in a picture and on a page


def dumps(data: Any) -> str:
    """JSON text, what would steer a terminal escaped; refuses numbers that are not finite."""
    return escaped(json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False))


def rounded(value: float | None, digits: int = 4) -> float | None:
    """A float for JSON: four digits are a tenth of a micrometre."""
    return None if value is None else round(float(value), digits) + 0.0


def setup_json(setup: Setup) -> dict[str, Any]:
    """What is bolted on and where it stands."""
    return {
        "wheel": setup.wheel.spec,
        "tire": setup.tire.code,
        "spacer_mm": rounded(setup.spacer.thickness),
        "ride_mm": rounded(setup.ride),
        "ride": setup.ride_name,
    }


def axle_json(name: str) -> dict[str, str]:
    """The axle, and the corner where its sides differ."""
    return {"axle": axle_of(name)} | ({"corner": side_of(name)} if side_of(name) else {})


def head_json(case: Case) -> dict[str, Any]:
    """Which axle and build an answer is about, and what is bolted on."""
    return {
        "profile": case.ready.profile.name,
        **axle_json(case.fit.axle.name),
        "build": case.ready.build,
        "setup": setup_json(case.fit.setup),
    }


def case_words(case: Case, units: str) -> str:
    """What is bolted on in a case, and what its build does to parts."""
    done = in_units(case.ready.reworked_words, units)
    return "; ".join(filter(None, (setup_words(case.fit.setup, units), done)))


def bolt_on_json(check: BoltOn) -> dict[str, Any]:
    """One check with its numbers by name."""
    return {"item": check.item, "status": check.status, "detail": check.detail, "numbers": dict(check.numbers)}


def angle_text(degrees: float, digits: int = 2) -> str:
    """A signed angle: '+0.05 deg', never '-0.00 deg'."""
    return f"{round(degrees, digits) + 0.0:+.{digits}f} deg"


def table(rows: Sequence[Sequence[str]], *, left: int = 1, indent: str = "  ", least: Collection[str] = ()) -> str:
    """Aligned columns: the first `left` flush left, the rest flush right; the first row is the heading.

    A last column without a heading holds remarks and is flush left. Where a terminal is too narrow, columns are left
    out, words in the last one go on below, or each row takes several lines, and it is said.
    least : headings of the columns that may be left out, the least needed first
    """
    there, every = columns(), range(len(rows[0]))
    if there is None or _wide(rows, every, indent) <= there:
        return "\n".join(indent + line for line in _aligned(rows, every, left))
    kept, out = list(every), []
    for heading in (name for name in least if name in rows[0]):
        kept.remove(rows[0].index(heading))
        out.append(heading)
        if _wide(rows, kept, indent) <= there:
            note = wrapped(f"Left out at {there} columns: {', '.join(out)}.", first=indent, rest=indent)
            return "\n".join([*(indent + line for line in _aligned(rows, kept, left)), note])
    hang = _wide(rows, every[:-1], indent) + 2
    if (left == len(every) or rows[0][-1] == "") and there - hang >= LEAST_WORDS:
        return "\n".join(_filled(indent + line, "", " " * hang, there) for line in _aligned(rows, every, left))
    return _in_lines(rows, left, indent, there)


def _wide(rows: Sequence[Sequence[str]], kept: Sequence[int], indent: str) -> int:
    return len(indent) + sum(_width(rows, i) for i in kept) + 2 * (len(kept) - 1)


def _width(rows: Sequence[Sequence[str]], column: int) -> int:
    return max(len(row[column]) for row in rows)


def _filled(line: str, first: str, rest: str, there: int) -> str:
    return filled(line, there, initial_indent=first, subsequent_indent=rest, break_long_words=False)


def _aligned(rows: Sequence[Sequence[str]], kept: Sequence[int], left: int) -> list[str]:
    """The columns that are kept, side by side."""
    remarks = len(rows[0]) - 1 if rows[0][-1] == "" else -1
    widths = {i: _width(rows, i) for i in kept}
    return [
        "  ".join(
            row[i].ljust(widths[i]) if i < left or i == remarks else row[i].rjust(widths[i]) for i in kept
        ).rstrip()
        for row in rows
    ]


def _in_lines(rows: Sequence[Sequence[str]], left: int, indent: str, there: int) -> str:
    """Each row in several lines: what it is about and the remark, below it the rest."""
    count, more = len(rows[0]), indent + " " * 4
    about, rest = list(range(left)), list(range(left, count))
    if rows[0][-1] == "" and _wide(rows, [*about, count - 1], indent) <= there:
        about.append(rest.pop())
    lines_of = [*_side_by_side(rows, about, more, there), *_side_by_side(rows, rest, more, there)]
    blocks = [_aligned(rows, kept, left if len(kept) > 1 else count) for kept in lines_of]
    lines = [
        _filled(line, more if n else indent, more, there)
        for row in zip(*blocks, strict=True)
        for n, line in enumerate(row)
        if line
    ]
    return "\n".join([*lines, f"{indent}({len(blocks)} lines a row at {there} columns)"])


def _side_by_side(rows: Sequence[Sequence[str]], kept: Sequence[int], indent: str, there: int) -> list[list[int]]:
    """The columns of each line, as many as fit beside each other."""
    lines_of: list[list[int]] = []
    for i in kept:
        if lines_of and _wide(rows, [*lines_of[-1], i], indent) <= there:
            lines_of[-1].append(i)
        else:
            lines_of.append([i])
    return lines_of


def wrapped(text: str, *, first: str = "  - ", rest: str = "    ") -> str:
    """A paragraph with a hanging indent, as wide as a sentence may be."""
    return filled(text, measure(), initial_indent=first, subsequent_indent=rest, break_long_words=False)


def setup_words(setup: Setup, units: str) -> str:
    """The setup in a line, as a person says it."""
    spacer = f", spacer {read_text(setup.spacer.thickness, units, tape=False)}" if setup.spacer.thickness else ""
    name = f"{setup.ride_name}, " if setup.ride_name else ""
    height = length_text(setup.ride, units, digits=0, sign=True)
    return f"{setup.wheel.spec} with {setup.tire.code}{spacer} ({name}travel {height} at rest)"


def overlap_text(clearance: float, units: str) -> str:
    """How deep an overlap is, by its clearance below zero [mm]; never nothing."""
    least = 0.1
    if clearance < -DEEP:
        return f"more than {deep_text(units)}"
    return f"less than {length_text(least, units)}" if -clearance < least / 2 else length_text(-clearance, units)


def offset_words(offset: float, digits: int = 1) -> str:
    """An offset [mm] as wheels are marked, without a plus sign."""
    return f"ET{round(offset, digits) + 0.0:.{digits}f}"


def offsets_text(low: float, high: float) -> str:
    """A range of offsets [mm], rounded inwards: what is printed fits."""
    digits = 0 if math.ceil(low) <= math.floor(high) else 2
    first, last = math.ceil(low * 10**digits) / 10**digits, math.floor(high * 10**digits) / 10**digits
    return f"{offset_words(first, digits)} to {offset_words(last, digits)}"


def first_sentence(words: str) -> str:
    """The first sentence of a reason, without what it says in brackets."""
    return "".join(_outside_brackets(words)).split(". ", maxsplit=1)[0].removesuffix(".")


def _outside_brackets(text: str) -> Iterator[str]:
    depth = 0
    for i, letter in enumerate(text):
        depth += letter == "("
        blank = letter == " " and text[i + 1 : i + 2] == "("
        if not depth and not blank:
            yield letter
        depth -= letter == ")"


class InPose(Protocol):
    """What stands in a pose: travel, opposite : [mm]; steer : [deg]."""

    @property
    def travel(self) -> float: ...

    @property
    def steer(self) -> float: ...

    @property
    def corner(self) -> str: ...

    @property
    def opposite(self) -> float | None: ...


def pose_words(entry: InPose, units: str) -> str:
    """Travel and steer of an entry; of an axle that is not symmetric also the corner and the opposite wheel."""
    words = f"travel {length_text(entry.travel, units, digits=0, sign=True)}, steer {angle_text(entry.steer, 1)}"
    return ", ".join(filter(None, (words, corner_words(entry, units))))


def corner_words(entry: InPose, units: str) -> str:
    if entry.opposite is None:
        return ""
    return f"{entry.corner} corner, opposite wheel {length_text(entry.opposite, units, digits=0, sign=True)}"


def measure_text(name: str, value: float, units: str, *, sign: bool = False) -> str:
    """How a wheel stands, by the name of the measure: the ride height was read, the others are computed."""
    return (read_text if name == "ride" else length_text)(value, units, sign=sign)


def both_units(name: str, value: float, units: str) -> tuple[str, ...]:
    """A change of a measure; in inch mode also as a tape tells it, where it tells anything."""
    text, by_tape = measure_text(name, value, units, sign=True), inches(value, sign=True)
    return (text,) if units == "mm" else (text, "" if by_tape in (text, "+0 in") else f"({by_tape})")


def free_name(name: str, taken: Any) -> str:
    """The name, with a suffix when the input has a column of that name."""
    return name if name not in taken else free_name(f"{name}_fitment", taken)


def records_csv(rows: Sequence[dict[str, Any]]) -> str:
    """Rows under one header, in the order of their keys; a key that a row does not have is left empty."""
    stream = io.StringIO()
    writer = csv.DictWriter(stream, list(dict.fromkeys(key for row in rows for key in row)), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return stream.getvalue()
