"""What is shown of any text: no control characters, and no letters that the terminal's code page does not have."""

from __future__ import annotations

import codecs
import csv
import json
import re
import textwrap
import unicodedata
from functools import lru_cache
from typing import Any

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


def filled(text: str, width: int, **how: Any) -> str:
    """A paragraph of at most `width` columns, laid out as by textwrap, no mixed number such as 1 3/8 parted."""
    whole = re.sub(r"(?<=\d) (?=\d+/\d)", "\0", text)
    return textwrap.fill(whole, width, **how).replace("\0", " ")


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
