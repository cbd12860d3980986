"""What differs on the right and a build's overrides laid over an axle, remembering where every value stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from fitment.errors import did_you_mean
from fitment.profile.yaml_core import At

_REWORKED = {"name", "move", "trim"}  # of these a part cannot be made
_CHOOSERS = ("kind", "shape")  # another kind of thing replaces the old one whole
_BELOW = "(below)"  # begins the key path of what stands in the layer below
Layer = tuple[dict[str, Any], At]
"""Overrides, and their key path in the file"""


@dataclass
class Merged:
    """Plain data of an axle, and the key path in the file of whatever was laid in.

    origins : key path within the axle -> key path in the file; a path without one has its parent's
    problems : (key path in the file, text) of overrides that cannot be laid in
    """

    data: dict[str, Any] = field(default_factory=dict)
    origins: dict[At, At] = field(default_factory=dict)
    problems: list[tuple[At, str]] = field(default_factory=list)

    def origin(self, at: At) -> At:
        """Key path in the file of a key path within the axle."""
        for length in range(len(at), -1, -1):
            if at[:length] in self.origins:
                return self.origins[at[:length]] + at[length:]
        return at


def merge_layers(base: dict[str, Any], base_at: At, layers: Sequence[Layer]) -> Merged:
    """The axle `base` with layers laid in, the last one on top: maps deeply, obstacles by name, null removes."""
    below = Merged(base, {(): base_at})
    for layer in layers:
        merged = Merged(problems=below.problems)
        merged.origins[()] = (_BELOW,)
        merged.data = _maps(merged, (), (below.data, (_BELOW,)), layer)
        merged.origins = {
            at: below.origin(place[1:]) if place[:1] == (_BELOW,) else place for at, place in merged.origins.items()
        }
        below = merged
    return below


def _maps(merged: Merged, here: At, base: tuple[dict[str, Any], At], over: tuple[dict[str, Any], At]) -> dict[str, Any]:
    below, below_at = base
    above, above_at = over
    result = {}
    for key in [*below, *(key for key in above if key not in below)]:
        at = (*here, key)
        if key not in above:
            merged.origins[at] = (*below_at, key)
            result[key] = below[key]
        elif above[key] is None:
            if here and key not in below:
                merged.problems.append(((*above_at, key), f"there is no {key} to remove; check the key."))
        elif here == () and key == "obstacles":
            result[key] = _obstacles(merged, at, (below.get(key, []), (*below_at, key)), (above[key], (*above_at, key)))
        else:
            result[key] = _laid(merged, at, (below.get(key), (*below_at, key)), (above[key], (*above_at, key)))
    return result


def _laid(merged: Merged, here: At, base: tuple[Any, At], over: tuple[Any, At]) -> Any:
    below, above = base[0], over[0]
    merged.origins[here] = over[1]
    if isinstance(below, dict) and isinstance(above, dict) and not _another(below, above):
        if "value" in above:  # a reading, which ends that the one below was assumed
            base = {key: value for key, value in below.items() if key != "assumed"}, base[1]
        return _maps(merged, here, base, over)
    return above


def _another(below: dict[str, Any], above: dict[str, Any]) -> bool:
    return any(key in below and key in above and below[key] != above[key] for key in _CHOOSERS)


def _obstacles(merged: Merged, here: At, base: tuple[Any, At], over: tuple[Any, At]) -> list[Any]:
    """Obstacles by name: the build gives a list of maps with names, or a map name -> map or null."""
    below, below_at = base
    changes = _changes(merged, over)
    result: list[Any] = []
    for index, obstacle in enumerate(below):
        name, at = obstacle.get("name"), (*here, len(result))
        if name not in changes:
            merged.origins[at] = (*below_at, index)
            result.append(obstacle)
            continue
        change, change_at = changes.pop(name)
        if change is not None:
            laid = _laid(merged, at, (obstacle, (*below_at, index)), (change, change_at))
            result.append({"name": name, **laid})
    for name, (change, change_at) in changes.items():
        if change is None or "shape" not in change:
            merged.problems.append((change_at, _no_such_part(name, change, [part.get("name") for part in below])))
            continue
        merged.origins[(*here, len(result))] = change_at
        result.append({"name": name, **change})
    return result


def _no_such_part(name: str, change: dict[str, Any] | None, known: list[Any]) -> str:
    """What to say of a change to a part that is not there, and that makes none: a part begins with its shape."""
    names = [each for each in known if isinstance(each, str)]
    new = ""
    if change is None:
        wanted = "remove"
    elif change and set(change) <= _REWORKED:
        wanted = "move or trim"
    else:
        wanted, new = "change", " To add a part of this name, give its shape first."
    hint = did_you_mean(name, names)
    return f'there is no part "{name}" to {wanted}.{hint} The axle has: {", ".join(names) or "none"}.{new}'


def _changes(merged: Merged, over: tuple[Any, At]) -> dict[str, tuple[dict[str, Any] | None, At]]:
    above, at = over
    changes: dict[str, tuple[dict[str, Any] | None, At]] = {}
    if isinstance(above, dict):
        for name, change in above.items():
            if change is None or isinstance(change, dict):
                changes[name] = change, (*at, name)
            else:
                merged.problems.append(((*at, name), "give the obstacle's keys as a map, or null to remove it."))
        return changes
    if not isinstance(above, list):
        merged.problems.append((at, "give a list of obstacles with names, or a map of names; null removes one."))
        return changes
    for index, change in enumerate(above):
        name = change.get("name") if isinstance(change, dict) else None
        if not isinstance(name, str):
            merged.problems.append(((*at, index), "an obstacle without a name; give name: the one to change or add."))
        elif name in changes:
            merged.problems.append(((*at, index, "name"), f'the name "{name}" is used twice; change one.'))
        else:
            changes[name] = change, (*at, index)
    return changes
