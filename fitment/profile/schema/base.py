"""What every part of a profile shares: its refusals in words, and the values that several parts use."""

from collections.abc import Iterable
from typing import Annotated, Any, ClassVar, Self

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    ModelWrapValidatorHandler,
    ValidationError,
    model_validator,
)
from pydantic_core import core_schema

from fitment.errors import did_you_mean, shown
from fitment.profile.values import (
    LengthRule,
    PointRule,
    Problem,
    RefusedError,
    TextRule,
    refused,
    unknown_word,
)
from fitment.profile.yaml_core import At

HINTED = 5  # wrong keys of a part, of which it is said what may have been meant: as many as are told of a file
# plausible ranges [mm]: assumptions of this program, wide enough for any road vehicle
Name = Annotated[str, TextRule(100)]
Label = Annotated[str, TextRule(100, label=True)]
Code = Annotated[str, TextRule(150)]
Radius = LengthRule(0, 300)
Travel = LengthRule(-500, 500, "travel")
INNER = PointRule((-1500, 1500), (-300, 1400), (-800, 1200))  # a point of the suspension in the body
OUTER = PointRule((-600, 600), (100, 1400), (-700, 900))  # a point of the suspension at the wheel
ACROSS = PointRule((-1500, 1500), (-1400, 1400), (-800, 1200))  # an end of a bar that crosses the vehicle
PLACE = PointRule()  # a point of an obstacle
HUB_FACE_AT = PointRule((-500, 500), (300, 1400), (-500, 500))


def optional(description: str) -> Any:
    """A key that may be left out."""
    return Field(None, description=description)


_NO_MERGE = " It merges nothing in YAML 1.2; a build states only what differs, or use an alias for a whole value."


class Part(BaseModel):
    """Base of every map of a profile: reads it whole and lists every problem in it."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)
    hints: ClassVar[dict[str, str]] = {}  # for keys that are often written in the wrong place

    @classmethod
    def keys(cls) -> dict[str, str]:
        """Key as written -> name of the field."""
        return {field.alias or name: name for name, field in cls.model_fields.items()}

    @classmethod
    def extra_keys(cls) -> tuple[str, ...]:
        """Keys that are kept as they are, to be read later."""
        return ()

    @model_validator(mode="wrap")
    @classmethod
    def _read(cls, data: Any, handler: ModelWrapValidatorHandler[Self]) -> Self:
        if not isinstance(data, dict):
            raise refused(f"{shown(data)} stands where a map is expected; its keys are {', '.join(cls.keys())}.")
        problems, wrong = cls._wrong_keys(data)
        problems += cls._missing_keys(data, wrong)
        kept = {key: value for key, value in data.items() if key not in wrong}
        try:
            part = handler(kept)
        except ValidationError as error:
            problems += problems_of(error, kept)
        except RefusedError as error:
            problems += error.problems
        if problems:
            raise RefusedError(*problems)
        return part

    @classmethod
    def _wrong_keys(cls, data: dict[str, Any]) -> tuple[list[Problem], dict[str, None]]:
        problems: list[Problem] = []
        allowed = (*cls.keys(), *cls.extra_keys())
        for key, value in data.items():
            if key not in allowed:
                hint = {"<<": _NO_MERGE, **cls.hints}.get(key) or (
                    unknown_word(key, allowed) if len(problems) < HINTED else ""
                )
                problems.append(Problem((key,), f'unknown key "{key}".{hint}'))
            elif value is None and key not in cls.extra_keys():
                problems.append(Problem((key,), f"{key} has no value; give one, or remove the line."))
        return problems, {str(problem.at[0]): None for problem in problems}

    @classmethod
    def _missing_keys(cls, data: dict[str, Any], wrong: dict[str, None]) -> list[Problem]:
        """Required keys that are not there, but for those that a mistyped key was meant to be."""
        keys = cls.keys()
        hints = "".join(did_you_mean(word, keys) for word in list(wrong)[:HINTED])
        return [
            Problem((), f"{key} is missing: {cls.model_fields[name].description}.")
            for key, name in keys.items()
            if cls.model_fields[name].is_required() and key not in data and f'"{key}"' not in hints
        ]


def problems_of(error: ValidationError, data: Any) -> list[Problem]:
    """pydantic's errors as ours: key paths as they stand in the file, our own words."""
    problems: list[Problem] = []
    for detail in error.errors(include_url=False, include_input=False):
        at = _path(detail["loc"], data)
        cause = detail.get("ctx", {}).get("error")
        if isinstance(cause, RefusedError):
            problems += [Problem(at + problem.at, problem.text) for problem in cause.problems]
        elif isinstance(cause, ValueError):
            problems.append(Problem(at, str(cause)))
        elif detail["type"] != "missing":  # told by Part, with what is missing
            problems.append(Problem(at, _plain_words(detail["type"], detail.get("ctx", {}), _value(data, at))))
    return problems


def _path(loc: Iterable[str | int], data: Any) -> At:
    """A key path without the tags that pydantic puts in for the kind or shape that it chose."""
    at: list[str | int] = []
    node = data
    for step in loc:
        if isinstance(node, dict) and step not in node and step in (node.get("kind"), node.get("shape")):
            continue
        if step == "[key]":
            continue
        at.append(step)
        node = _value(node, (step,))
    return tuple(at)


def _value(data: Any, at: Iterable[str | int]) -> Any:
    for step in at:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError):
            return None
    return data


def _plain_words(kind: str, context: dict[str, Any], given: Any) -> str:
    if kind == "union_tag_not_found":
        key = str(context.get("discriminator", "kind")).strip("'")
        return f"{key} is missing; give it first: the other keys depend on it."
    if kind == "union_tag_invalid":
        key, words = str(context["discriminator"]).strip("'"), context["expected_tags"].replace("'", "").split(", ")
        return f"{shown(context['tag'])} is not a known {key}.{unknown_word(str(context['tag']), words)}"
    if kind == "too_long":
        return f"at most {context['max_length']} are taken here; leave out what no wheel reaches."
    if kind in {"tuple_type", "list_type"}:
        return f"{shown(given)} stands where a list is expected; begin each item with a dash, or write [..., ...]."
    if kind in {"dict_type", "model_type", "model_attributes_type"}:
        return f"{shown(given)} stands where a map is expected; write `key: value` lines, or {{key: value}}."
    return f"{shown(given)} is not understood here; see profiles/README.md for this key."


class Before:
    """Another way to write a value, turned into its full form before the model reads it."""

    def __init__(self, turn: Any, schema: dict[str, Any]) -> None:
        self.turn, self.schema = turn, schema

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> core_schema.CoreSchema:
        return core_schema.no_info_before_validator_function(self.turn, handler(source))

    def __get_pydantic_json_schema__(self, schema: Any, handler: GetJsonSchemaHandler) -> dict[str, Any]:
        return {"anyOf": [self.schema, handler(schema)]}
