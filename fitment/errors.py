"""What can go wrong, each with a message that says what to do next.

FitmentError(ValueError)
├── CodeError       a tire code or wheel spec that cannot be read as written
├── UnitError       a length, angle or mass that cannot be read
├── ProfileError    a profile, with its file, line and key path
├── ScanError       a scan, with its key path within its part
├── ListError       a candidate list that cannot be read at all
└── MotionError     a pose that the suspension cannot reach
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

NAMED = 6  # names in one go
LONGEST = 100  # [characters] of a word that another one may be meant by


@dataclass(frozen=True)
class Argument:
    """A function's argument as a message names it; a command names the option that it stands for.

    to_give : the message asks for it, so that Python reads `ride=`
    """

    name: str
    to_give: bool = False

    def __str__(self) -> str:
        return f"{self.name}=" if self.to_give else self.name


class FitmentError(ValueError):
    """A mistake in what was given; the text is written for the person who gave it.

    words : the message, in pieces where it names arguments
    """

    def __init__(self, *words: str | Argument) -> None:
        self.words = words
        super().__init__("".join(map(str, words)))

    @property
    def arguments(self) -> tuple[str, ...]:
        """Names of the arguments that it is about."""
        return tuple(word.name for word in self.words if isinstance(word, Argument))

    def told(self, option: Callable[[str], str]) -> str:
        """The message with each argument in the words of a command; option : of an argument's name."""
        return "".join(option(word.name) if isinstance(word, Argument) else word for word in self.words)


class CodeError(FitmentError):
    """A tire code or wheel spec that cannot be read as written."""


class UnitError(FitmentError):
    """A quantity that is not a number or carries the wrong unit."""


class ProfileError(FitmentError):
    """A profile that cannot be used.

    file : path as the user gave it
    line : 1-based, 0 when the mistake belongs to no one line
    key : dotted key path, empty when there is none
    """

    def __init__(self, *message: str | Argument, file: str = "", line: int = 0, key: str = "") -> None:
        self.file, self.line, self.key, self.message = file, line, key, "".join(map(str, message))
        where = f"{file}:{line}" if file and line else file
        super().__init__("".join(f"{part}: " for part in (where, key) if part), *message)


class PlacingError(FitmentError):
    """A reading that gives a part no place; part : its name."""

    def __init__(self, part: str, text: str) -> None:
        self.part = part
        super().__init__(text)


class ScanError(FitmentError):
    """A scan that cannot be used; at : key path within its part."""

    def __init__(self, text: str, at: tuple[str | int, ...] = ()) -> None:
        self.at = at
        super().__init__(text)


class ListError(FitmentError):
    """A candidate list without the columns it needs, or that is not a table."""


class MotionError(FitmentError):
    """A pose that the suspension cannot reach, or a motion that is not described."""


def shown(given: Any) -> str:
    """A given value as the user would write it, shortened."""
    import json

    try:
        text = json.dumps(given, ensure_ascii=False)
    except (TypeError, ValueError):
        text = repr(given)
    return text if len(text) <= 60 else text[:57] + "..."


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """' Did you mean "x"?' for the closest known word, or an empty text."""
    if len(word) > LONGEST:
        return ""
    close = difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)
    return f' Did you mean "{close[0]}"?' if close else ""


def named_in_a_row(names: Sequence[str]) -> str:
    """Names after each other, many of them cut short."""
    more = len(names) - NAMED
    return ", ".join(names) if more <= 1 else f"{', '.join(names[:NAMED])} and {more} more"
