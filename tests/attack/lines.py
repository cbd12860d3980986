"""Which lines of the program were ever run: an input that reaches a new one is worth mutating further.

Python's own trace function, kept cheap: a function all of whose lines were seen is traced no more. A library that
does the same in C would be one more dependency for what is forty lines here.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

import fitment

_ROOT = str(Path(fitment.__file__).parent)
_NONE: set[int] = set()


class Lines:
    """reached : how many lines so far."""

    def __init__(self) -> None:
        self.reached = 0
        self._left: dict[int, set[int]] = {}  # by the code's id
        self._codes: list[CodeType] = []  # kept, so that no id is given twice

    @contextmanager
    def traced(self) -> Iterator[None]:
        """Lines run inside are counted."""
        before = sys.gettrace()
        sys.settrace(self._called)
        try:
            yield
        finally:
            sys.settrace(before)

    def _called(self, frame: FrameType, _event: str, _arg: Any) -> Any:
        left = self._left.get(id(frame.f_code))
        if left is None:
            left = self._first(frame.f_code)
        return self._line if left else None

    def _first(self, code: CodeType) -> set[int]:
        left = _NONE
        if code.co_filename.startswith(_ROOT):
            left = {line for _, _, line in code.co_lines() if line}
        self._codes.append(code)
        self._left[id(code)] = left
        return left

    def _line(self, frame: FrameType, event: str, _arg: Any) -> Any:
        left = self._left[id(frame.f_code)]
        if event == "line" and frame.f_lineno in left:
            left.discard(frame.f_lineno)
            self.reached += 1
        return self._line if left else None
