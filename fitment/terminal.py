"""What is shown of any text: no control characters, no letters that the code page lacks; a terminal's width and colour.

A text is laid out for `columns()`, which only the command line sets, and only while it makes a text to print. Files,
pipes and Python have the text that no terminal has a say in.
"""

from __future__ import annotations

import codecs
import csv
import json
import os
import re
import shutil
import textwrap
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import lru_cache
from typing import Any, TextIO

MEASURE = 100  # columns of a sentence where no terminal has a say
_NARROWEST, _WIDEST, _LONGEST_LINE = 60, 200, 120  # columns: of a terminal, least and most, and of a sentence on it
_COLUMNS: ContextVar[int | None] = ContextVar("columns", default=None)
ESCAPED = "fitment.escaped"  # how what cannot be encoded is told
_PLAIN = re.compile(r"[\n\x20-\x7e]*")
_HARMLESS = "\u200c\u200d"  # join letters and emoji
_STEERS = ("Cc", "Cf", "Cs", "Zl", "Zp")  # Unicode's general categories: control, format, surrogate, separators
# what a spreadsheet would compute; a signed number with or without a unit is none
_FORMULA = re.compile(r"""[=@\t\r]|[+-](?!\d[\d.,]*(?:[eE][+-]?\d+)?\s*[a-zA-Z"'%]*$)""")


def printable(text: str) -> str:
    r"""The text with what would steer a terminal written out, line breaks kept.

    >>> print(printable("a\x1b[2Jb"))
    a\x1b[2Jb
    """
    return text if _PLAIN.fullmatch(text) else "".join(map(_shown, text))


def escaped(text: str) -> str:
    """A JSON text with the same characters as JSON escapes them."""
    if _PLAIN.fullmatch(text):
        return text
    return "".join(each if _shown(each) == each else json.dumps(each)[1:-1] for each in text)


# what stays on the line of the number before it: the rest of a mixed number, a band, a unit
_UNITS = (
    r"mm|cm²|cm|sq in|km/h|km|mph|in|ft|deg|%|kg|kN|kPa|lb ft|lb|oz|psi|g|N m|Nm|N|W|m|s|min|h|MB|kB|px|o'clock|times"
)
_WITH_NUMBER = re.compile(rf"(?<=\d) (?=\d+/\d|\+-|(?:{_UNITS})(?!\w))|(?<=\+-) (?=\d)")
_IN_UNIT = re.compile(r"(?<=\d)[ \0](lb ft|N m|sq in)(?!\w)")


def filled(text: str, width: int, **how: Any) -> str:
    r"""A paragraph of at most `width` columns, laid out as by textwrap; no number parts from its unit, nor 1 from 3/8.

    >>> print(filled("a gap of 1 3/8 in here", 14))
    a gap of
    1 3/8 in here
    """
    whole = _WITH_NUMBER.sub("\0", text)
    whole = _IN_UNIT.sub(lambda unit: f"\0{unit[1].replace(' ', chr(0))}", whole)
    return textwrap.fill(whole, width, **how).replace("\0", " ")


# ---------------------------------------------------------------- width


def columns_of(stream: TextIO) -> int | None:
    """How many columns the terminal behind a stream has, 60 to 200 (COLUMNS is obeyed); None where there is none."""
    if not stream.isatty():
        return None
    try:
        there = int(os.environ.get("COLUMNS", "0")) or os.get_terminal_size(stream.fileno()).columns
    except (OSError, ValueError):
        there = 0
    return min(max(there or shutil.get_terminal_size().columns, _NARROWEST), _WIDEST)


@contextmanager
def laid_out(columns: int | None) -> Iterator[None]:
    """While it lasts, texts are laid out for that many columns; None: as for a file."""
    before = _COLUMNS.set(columns)
    try:
        yield
    finally:
        _COLUMNS.reset(before)


def columns() -> int | None:
    """The columns that a table may take; None where nothing limits it, as in a file."""
    return _COLUMNS.get()


def measure() -> int:
    """The columns that a sentence takes: all of a terminal, as long as the eye finds its way back."""
    there = columns()
    return MEASURE if there is None else min(there, _LONGEST_LINE)


def fitted(text: str, columns: int | None) -> str:
    """The text with each line that is longer than the columns laid out anew, the rest of it indented."""
    if columns is None:
        return text
    return "\n".join(line if len(line) <= columns else _folded(line, columns) for line in text.split("\n"))


def _folded(line: str, columns: int) -> str:
    indent = line[: len(line) - len(line.lstrip())]
    return filled(line, columns, subsequent_indent=f"{indent}  ", break_long_words=False, break_on_hyphens=False)


# ---------------------------------------------------------------- colour

# of the xterm's 256: as far from black as from white, so that they read on both (contrast at least 3.9 to 1)
_GREEN, _AMBER, _RED, _GREY = 28, 130, 160, 243
_PAINTS = {
    _GREEN: ("CLEARS", "clears", "ok"),
    _AMBER: ("TIGHT", "tight", "caution", "below required", "worst case"),
    _RED: ("TOUCHES", "touches", "DOES NOT BOLT ON", "does not bolt on", "fail", "overlap"),
    _GREY: ("NOT CHECKED", "not checked", "UNREADABLE", "unreadable"),
}
_PAINT_OF = {word: paint for paint, words in _PAINTS.items() for word in words}
_VERDICTS = "CLEARS|TIGHT|TOUCHES|DOES NOT BOLT ON|NOT CHECKED|UNREADABLE"
_WORDS = re.compile(
    rf"\b(?:{_VERDICTS})\b"  # in capitals wherever it stands
    r"|^  (?:(?:ok|caution|fail)(?=  )|not checked(?= ))"  # the status of a check, in its column
    rf"|(?<=  )(?:{_VERDICTS.lower()}|overlap)(?=  |$)",  # in a table's cell
    re.MULTILINE,
)
_BAR = re.compile(r"(?<=  )(overlap|[#.]{7})(  +(?:below )?-?\d[\d. /]*?)(?=  |$)", re.MULTILINE)  # and its clearance
_MARK = re.compile(r"^ +\S.*?  (overlap|below required|worst case)(?:, .*)?$")  # what a row of clearances ends in
_GAP = re.compile(r"(?<=  )(?:below )?-?\d\S*(?: \d+/\d+)? (?:mm|in)\b")


def takes_colour(stream: TextIO) -> bool:
    """Whether a stream shows colours: a terminal that can, unless NO_COLOR is set."""
    return stream.isatty() and not is_plain() and not os.environ.get("NO_COLOR")


def is_plain() -> bool:
    """Whether the terminal can only print, line after line."""
    return os.environ.get("TERM", "") in ("", "dumb")


def painted(text: str) -> str:
    """The text with verdicts, statuses and short margins in colour; it is the same text without."""
    lines = text.split("\n")
    for i, line in enumerate(lines):
        mark = _MARK.match(line)
        if mark:
            _paint_row(lines, i, mark)
    text = "\n".join(lines)
    text = _BAR.sub(lambda bar: f"{_in_colour(bar[1], _told_by(bar[1]))}{_in_colour(bar[2], _told_by(bar[1]))}", text)
    return _WORDS.sub(lambda word: _in_colour(word[0], word[0].lstrip()), text)


def _told_by(bar: str) -> str:
    """The word that a bar stands for."""
    return bar if bar == "overlap" else "below required" if "." in bar else "ok"


def _paint_row(lines: list[str], i: int, mark: re.Match[str]) -> None:
    """The mark of a row and its clearance, the first length of the row or of the line below it."""
    row, (start, end) = lines[i], mark.span(1)
    lines[i] = row[:start] + _in_colour(row[start:end], mark[1]) + row[end:]
    of = next((k for k in (i, i + 1) if k < len(lines) and _GAP.search(lines[k])), None)
    if of is not None:
        lines[of] = _GAP.sub(lambda gap: _in_colour(gap[0], mark[1]), lines[of], count=1)


def _in_colour(text: str, word: str) -> str:
    """The text, spaces before it apart, in the colour of a word; a verdict in bold too."""
    bare = text.lstrip()
    return f"{text[: -len(bare)]}\x1b[{'1;' * word.isupper()}38;5;{_PAINT_OF[word]}m{bare}\x1b[0m"


def cell(text: str) -> str:
    """The text on one line, for a table."""
    return printable(re.sub(r"[\r\n]+", " ", text))


@lru_cache(maxsize=4096)
def _shown(letter: str) -> str:
    if letter == "\t":
        return " "
    if letter in _HARMLESS or letter == "\n" or unicodedata.category(letter) not in _STEERS:
        return letter
    return letter.encode("unicode_escape", "surrogatepass").decode()


def within(text: str, encoding: str) -> str:
    r"""The text with letters that an encoding does not have written out as JSON does, so that JSON stays whole.

    >>> print(within("Zo\xeb", "ascii"))
    Zo\u00eb
    """
    try:
        return text.encode(encoding, ESCAPED).decode(encoding)
    except LookupError:  # an encoding that Python does not know
        return text


def _escaped(error: UnicodeError) -> tuple[str, int]:
    assert isinstance(error, UnicodeEncodeError)
    return json.dumps(error.object[error.start : error.end])[1:-1], error.end


codecs.register_error(ESCAPED, _escaped)


def formulas(table: str, delimiter: str = ",") -> int:
    """How many cells of a CSV text a spreadsheet would take for a formula."""
    rows = csv.reader(table.splitlines(keepends=True), delimiter=delimiter)
    return sum(bool(_FORMULA.match(cell)) for row in rows for cell in row)


def controls(table: str) -> bool:
    """Whether a CSV text holds characters that steer a terminal."""
    return printable(table) != table.replace("\t", " ")
