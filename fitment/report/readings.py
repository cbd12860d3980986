"""What a report says of the readings in the profile that it rests on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from fitment.report.common import wrapped

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.checks.case import Ready

NAMED = 6  # parts named in one go


def slip_words(ready: Ready) -> str:
    """That a reading must be wrong, the best sign of a typing slip; empty where there is none."""
    if not ready.baseline_touches:
        return ""
    names = _names(ready.baseline_touches)
    return f"Measure again: as measured, the baseline itself overlaps {names} at rest ({ready.axle.name} axle)."


def slip_lines(prepared: Sequence[Ready]) -> list[str]:
    """The same of every axle, a paragraph each, for the first lines of a text."""
    return [wrapped(words, first="  ", rest="    ") for words in map(slip_words, prepared) if words]


def exact_words(prepared: Sequence[Ready]) -> str:
    """Which parts count as exact; empty where all state a tolerance."""
    names = [
        name if len(prepared) == 1 else f"{ready.axle.name}: {name}" for ready in prepared for name in ready.exact_parts
    ]
    return f"no tolerance given, so read as exact: {_names(names)}" if names else ""


def _names(names: Sequence[str]) -> str:
    more = len(names) - NAMED
    return ", ".join(names) if more <= 1 else f"{', '.join(names[:NAMED])} and {more} more"


def source_lines(ready: Ready) -> list[str]:
    """From which reading each part came, parts of one kind together."""
    from fitment import profile as profiles

    known = profiles.sources(ready.profile, ready.axle.name, ready.build)
    names: dict[str, list[str]] = {}
    for obstacle in ready.axle.obstacles:
        names.setdefault(known[obstacle.name], []).append(obstacle.name)
    return [wrapped(f"{source}: {', '.join(own)}") for source, own in names.items()]
