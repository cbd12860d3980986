"""The rule of every key of a profile, by its path: what it takes, what is plausible, what is wrong with a part."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, get_args, get_origin

from pydantic import ValidationError

from fitment.profile.schema.axle import AxlePart
from fitment.profile.schema.base import Part, problems_of
from fitment.profile.schema.builds import CornerPart
from fitment.profile.schema.obstacles import CARRIERS
from fitment.profile.schema.whole import ProfileModel
from fitment.profile.values import Rule
from fitment.profile.yaml_core import At

# rules ---------------------------------------------------------------------------------------------------------


def _inside(hint: Any) -> tuple[list[type[Part]], list[Rule]]:
    """Parts and rules named anywhere in a type hint."""
    if isinstance(hint, Rule):
        return [], [hint]
    if isinstance(hint, type) and issubclass(hint, Part):
        return [hint], []
    parts: list[type[Part]] = []
    rules: list[Rule] = []
    for argument in (*get_args(hint), *getattr(hint, "__metadata__", ())):
        more_parts, more_rules = _inside(argument)
        parts += [part for part in more_parts if part not in parts]
        rules += [rule for rule in more_rules if rule not in rules]
    return parts, rules


def _chosen(parts: Sequence[type[Part]], words: Mapping[str, str]) -> type[Part]:
    """The part that the words (kind, shape) choose, among several."""
    for part in parts:
        for key in ("kind", "shape"):
            field = part.model_fields.get(key)
            if len(parts) > 1 and field is not None and words.get(key) in get_args(field.annotation):
                return part
    return parts[0]


def _walk(at: At, words: Mapping[str, str]) -> tuple[type[Part], list[Rule]]:
    """The part that the last step leads to or into, and the rules of that key."""
    part: type[Part] = ProfileModel
    rules: list[Rule] = []
    steps = iter(at)
    is_over = False  # in what a build lays over its axle, where obstacles go by name
    for step in steps:
        if isinstance(step, int):
            continue
        if part is CornerPart and step not in part.keys():  # noqa: SIM118 (a method, not a mapping's)
            part, is_over = AxlePart, True
        field = part.model_fields[part.keys()[step]]
        parts, rules = _inside(field.annotation)
        rules = [rule for rule in field.metadata if isinstance(rule, Rule)] + rules
        if parts and (get_origin(field.annotation) is dict or (is_over and step == "obstacles")):
            next(steps, None)  # the user's own name
        if parts:
            part = _chosen(parts, words)
    return part, rules


def rule_at(at: At, words: Mapping[str, str]) -> Rule | None:
    """The rule of the value at a key path; words: kind of the suspension, shape of the obstacle."""
    _, rules = _walk(at, words)
    return rules[0] if rules else None


def plausible(at: At, words: Mapping[str, str]) -> tuple[float, float] | None:
    """Lowest and highest value [mm, deg or the fixed unit] that the profile takes at a key path."""
    rule = rule_at(at, words)
    low, high = getattr(rule, "low", None), getattr(rule, "high", None)
    return (low, high) if isinstance(low, int | float) and isinstance(high, int | float) else None


def part_problems(at: At, data: Any, words: Mapping[str, str]) -> list[tuple[At, str]]:
    """What is wrong with a part as a whole: key paths within it, and what to say."""
    part, _ = _walk(at, words)
    try:
        part.model_validate(data)
    except ValidationError as error:
        return [(problem.at, with_key(problem.text, (*at, *problem.at))) for problem in problems_of(error, data)]
    return []


def carriers(kind: str) -> tuple[str, ...]:
    """What an obstacle can move with on a suspension of this kind."""
    return CARRIERS[kind]


def with_key(text: str, at: At) -> str:
    words = [step for step in at if isinstance(step, str)]
    return text.replace("{key}", words[-1].replace("_", " ") if words else "value")
