"""Numbers in the cells of a list's column, as spreadsheets write them: decimal commas, thousands, currency signs."""

from __future__ import annotations

import re
from collections.abc import Sequence

_CURRENCY = r"(?:[$\u20ac\u00a3\u00a5]|USD|EUR|GBP|CAD|AUD|CHF|JPY|SEK|NOK|DKK|PLN|CZK|NZD|ZAR)?"
_AROUND = re.compile(rf"\s*{_CURRENCY}\s*(?P<number>[+-]?[\d.,'\u00a0 ]*\d)\s*{_CURRENCY}\s*", re.IGNORECASE)
_POINT = re.compile(r"[+-]?(?:\d+|\d{1,3}(?:[,' \u00a0]\d{3})+)?(?:\.\d+)?")
_COMMA = re.compile(r"[+-]?(?:\d+|\d{1,3}(?:[.' \u00a0]\d{3})+)?(?:,\d+)?")
_LOOKS = re.compile(r"\W*\d[\d.,' ]*\W*[^\W\d]{0,4}\W*")


def numbers(texts: Sequence[str]) -> list[float | None]:
    """The number of each cell, None where it is none; one way of writing decimals is taken for all of a column.

    A column whose every number could be written in either way, 1,299 and 2,499, has none with a comma.
    >>> numbers(["1.299,50 \u20ac", "89,90", ""]), numbers(["$1,299.00", "$89"]), numbers(["1,299"])
    ([1299.5, 89.9, None], [1299.0, 89.0], [None])
    """
    plain = [_plain(text) for text in texts]
    if not any("," in text for text in plain if text):
        point = True
    else:
        points = {text for text in plain if text and _POINT.fullmatch(text)}
        commas = {text for text in plain if text and _COMMA.fullmatch(text)}
        if points == commas:
            return [None if text is None or "," in text else _value(text, point=True) for text in plain]
        point = len(points) > len(commas) or (len(points) == len(commas) and any("." in t for t in points))
    return [None if text is None else _value(text, point=point) for text in plain]


def _plain(text: str) -> str | None:
    """A cell without its currency; None where it is no number. What Python reads as a number stays as it is."""
    try:
        float(text)
    except ValueError:
        match = _AROUND.fullmatch(text)
        return match["number"].strip() if match else None
    return text.strip()


def _value(text: str, *, point: bool) -> float | None:
    if not (_POINT if point else _COMMA).fullmatch(text):
        if "," in text or not point:
            return None
        try:
            return float(text)  # 1e3, nan
        except ValueError:
            return None
    digits = re.sub(r"[,'\s]" if point else r"[.'\s]", "", text)
    return float(digits if point else digits.replace(",", "."))


def looks_like_numbers(texts: Sequence[str]) -> str | None:
    """A cell of a column that a person would take for numbers and that has none; None where it is not so."""
    told = [text for text in texts if text]
    if not told or any(number is not None for number in numbers(texts)):
        return None
    return told[0] if all(_LOOKS.fullmatch(text) for text in told) else None
