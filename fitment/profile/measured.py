"""Measured values of a checked part: listing those with a tolerance, and moving one of them.

A key path names obstacles by their name: obstacles[fender lip].points[1][1].
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from types import NoneType
from typing import Any

from pydantic import BaseModel

from fitment.errors import ProfileError
from fitment.profile.schema.axle import AxlePart
from fitment.profile.schema.obstacles import ObstaclePart
from fitment.profile.schema.scans import ScanPart
from fitment.profile.values import ClockPoint, SquarePoint
from fitment.units import Measured

_LEAVES = (str, float, int, NoneType)
_NO_READINGS = (
    (ObstaclePart, "tolerance"),
    (ObstaclePart, "allowance"),
    (AxlePart, "adjusters"),
    *(
        (ScanPart, key) for key in ("placed_by", "at", "keep", "cut", "zones")
    ),  # its own tolerance covers what places it
)


def measured_values(node: Any, path: str) -> Iterator[tuple[str, Measured]]:
    """Every measured value that was given under a part, with its key path; a default is nobody's reading."""
    if isinstance(node, Measured):
        yield path, node
        return
    if (
        isinstance(node, tuple) and node and all(isinstance(value, Measured) for value in node)
    ):  # a point, of which many
        for index, value in enumerate(node):
            yield f"{path}[{index}]", value
        return
    for step, value in _children(node):
        here = path + (step if step.startswith("[") else f".{step}" if path else step)
        if isinstance(value, Measured):
            yield here, value
        elif not isinstance(value, _LEAVES):
            yield from measured_values(value, here)


def _children(node: Any) -> Iterator[tuple[str, Any]]:
    if isinstance(node, BaseModel):
        for name, info in type(node).model_fields.items():
            skipped = any(isinstance(node, kind) and name == field for kind, field in _NO_READINGS)
            if name in node.model_fields_set and not skipped:
                yield info.alias or name, getattr(node, name)
    elif isinstance(node, ClockPoint | SquarePoint):
        for key in node.keys:
            yield key, getattr(node, key)
    elif isinstance(node, dict):
        for key, value in node.items():
            yield (f"[{key}]" if "." in key else key), value
    elif isinstance(node, tuple):
        for index, value in enumerate(node):
            yield f"[{getattr(value, 'name', index)}]", value


def steps_of(path: str) -> list[str]:
    """Key path to steps; a name in brackets may hold dots."""
    steps, rest = [], path
    while rest:
        if rest.startswith("["):
            name, _, rest = rest[1:].partition("]")
        else:
            end = min((index for index in (rest.find("."), rest.find("[")) if index >= 0), default=len(rest))
            name, rest = rest[:end], rest[end:]
        steps.append(name)
        rest = rest.removeprefix(".")
    return steps


def no_reading(path: str) -> ProfileError:
    return ProfileError(f'"{path}" is not the key path of a measured value; `readings` lists those with a tolerance.')


def has_value(node: Any, steps: list[str]) -> bool:
    """Whether the steps lead to a measured value."""
    try:
        with_delta(node, steps, 0.0)
    except ProfileError:
        return False
    return True


def with_delta(node: Any, steps: list[str], delta: float) -> Any:
    """A part with delta added to the measured value that the steps lead to; a new part, the old one stays."""
    if not steps and isinstance(node, Measured):
        return replace(node, value=node.value + delta)
    step, rest = (steps[0], steps[1:]) if steps else ("", [])
    if isinstance(node, BaseModel):
        fields = {info.alias or name: name for name, info in type(node).model_fields.items()}
        if step in fields:
            return node.model_copy(update={fields[step]: with_delta(getattr(node, fields[step]), rest, delta)})
    elif isinstance(node, ClockPoint | SquarePoint) and step in node.keys:
        return replace(node, **{step: with_delta(getattr(node, step), rest, delta)})
    elif isinstance(node, dict) and step in node:
        return node | {step: with_delta(node[step], rest, delta)}
    elif isinstance(node, tuple):
        for index, value in enumerate(node):
            if step == str(getattr(value, "name", index)):
                return (*node[:index], with_delta(value, rest, delta), *node[index + 1 :])
    raise no_reading(".".join(steps))
