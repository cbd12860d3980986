"""What a build does to a part: how far it is moved, and what is taken off it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from fitment.errors import named_in_a_row

AWAY = "away from the wheel's centre as seen from the side"
WAYS: dict[str, tuple[str, str]] = {  # key -> the words of a positive and of a negative way
    "out": ("out", "in"),
    "ahead": ("forward", "back"),
    "up": ("up", "down"),
    "away": (AWAY, "towards the wheel's centre as seen from the side"),
}
End = Literal["first", "last"]


@dataclass(frozen=True)
class Cut:
    """What is taken off one end of a panel, along its columns.

    end : of its rows; by : [mm]; stretch : between which rows it ends, counted from that end; None = not settled yet
    """

    end: End | None
    by: float
    stretch: int | None = None


@dataclass(frozen=True)
class Rework:
    """What a build does to a part.

    out, ahead, up : how far it is moved, body axes [mm]
    away : how far each of its points is moved from the wheel's centre in the side view [mm]
    cuts : what is taken off, of an edge one whose end does not matter
    """

    out: float = 0.0
    ahead: float = 0.0
    up: float = 0.0
    away: float = 0.0
    cuts: tuple[Cut, ...] = ()

    @property
    def words(self) -> str:
        """What is done in a few words, lengths in mm: moved 10 mm out and 5 mm up, trimmed 20 mm."""
        ways = [
            f"{abs(by):g} mm {more if by > 0 else less}"
            for key, (more, less) in WAYS.items()
            if (by := getattr(self, key))
        ]
        ends = {"first": " at its first row", "last": " at its last row", None: ""}
        cuts = [f"trimmed {cut.by:g} mm{ends[cut.end]}" for cut in self.cuts if cut.by]
        return named_in_a_row([*([f"moved {named_in_a_row(ways)}"] if ways else []), *cuts])
