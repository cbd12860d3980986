"""What can go wrong, each with a message that says what to do next.

FitmentError(ValueError)
├── CodeError       a tire code or wheel spec that cannot be read as written
├── UnitError       a length, angle or mass that cannot be read
├── ProfileError    a profile, with its file, line and key path
├── ListError       a candidate list that cannot be read at all
└── MotionError     a pose that the suspension cannot reach
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable


class FitmentError(ValueError):
    """A mistake in what was given; the text is written for the person who gave it."""


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

    def __init__(self, message: str, *, file: str = "", line: int = 0, key: str = "") -> None:
        self.file, self.line, self.key, self.message = file, line, key, message
        where = f"{file}:{line}" if file and line else file
        super().__init__(": ".join(part for part in (where, key, message) if part))


class ListError(FitmentError):
    """A candidate list without the columns it needs, or that is not a table."""


class MotionError(FitmentError):
    """A pose that the suspension cannot reach, or a motion that is not described."""


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """' Did you mean "x"?' for the closest known word, or an empty text."""
    close = difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)
    return f' Did you mean "{close[0]}"?' if close else ""
