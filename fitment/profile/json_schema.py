"""JSON Schema (2020-12) of the profile, so that an editor can check one while it is typed.

It says less than the program: names that must agree, and lengths given in other units, are checked on loading.
"""

from __future__ import annotations

import json
from typing import Any

from pydantic.json_schema import GenerateJsonSchema

from fitment.profile.schema.axle import OF_BOTH_SIDES, AxlePart
from fitment.profile.schema.builds import CornerPart
from fitment.profile.schema.whole import ProfileModel

_OVERRIDE = "Override"  # ends the names of parts as a build may state them: any key, null removes
_DROPPED = ("title", "default", "discriminator")
_REF = "#/$defs/"
_WORTH_A_NAME = 100  # characters
_KINDS = {
    "['number', 'string', 'object']": "length",
    "['number', 'object']": "angle",
    "['array', 'object']": "point",
    "array": "list",
}


class _Generator(GenerateJsonSchema):
    ignored_warning_kinds = {"skipped-choice", "non-serializable-default"}  # noqa: RUF012  # as the parent has it


def profile_json_schema() -> dict[str, Any]:
    """The schema as plain data; every key carries a description with its unit."""
    raw = ProfileModel.model_json_schema(by_alias=True, schema_generator=_Generator)
    schema: dict[str, Any] = _cleaned(raw)
    parts: dict[str, Any] = schema["$defs"]
    for name in _reached(parts, AxlePart.__name__):
        parts[name + _OVERRIDE] = _loosened(parts[name])
    axle, corner = parts[AxlePart.__name__ + _OVERRIDE], parts[CornerPart.__name__]
    axle["properties"]["obstacles"] = _obstacles(axle["properties"]["obstacles"])
    of_axle = {key: form for key, form in axle["properties"].items() if key != "right"}
    right = {key: form for key, form in of_axle.items() if key not in OF_BOTH_SIDES}
    said = parts[AxlePart.__name__]["properties"]["right"]["description"]
    on_build = dict(corner["properties"])
    corner["properties"] |= of_axle | {"right": _right(said, on_build | right)}
    corner["additionalProperties"] = False
    parts[AxlePart.__name__]["properties"]["right"] = _right(said, right)
    del parts[AxlePart.__name__ + _OVERRIDE]
    head = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Vehicle profile, format 1",
        "description": "Lengths in mm, or a text with a unit; angles in degrees; masses in kg.",
    }
    return head | _shared(schema)


def _right(said: str, properties: dict[str, Any]) -> dict[str, Any]:
    """What differs on the right."""
    return {"description": said, "type": "object", "properties": properties, "additionalProperties": False}


def _shared(made: dict[str, Any]) -> dict[str, Any]:
    """The same schema with every value form that stands more than once put under $defs."""
    counts: dict[str, int] = {}
    _count(made, counts)
    names: dict[str, str] = {}
    for text, count in counts.items():
        if count > 1 and len(text) > _WORTH_A_NAME:
            kind = _KINDS.get(str(json.loads(text).get("type")), "form")
            names[text] = f"{kind}_{sum(name.startswith(kind) for name in names.values()) + 1}"
    forms = {name: _named(json.loads(text), names, text) for text, name in names.items()}
    parts = {name: _named(part, names) for name, part in made.pop("$defs").items()}
    result: dict[str, Any] = _named(made, names)
    return result | {"$defs": forms | parts}


def _form(node: dict[str, Any]) -> str:
    """A form without its description, as a text that is the same for equal forms."""
    return json.dumps({key: value for key, value in node.items() if key != "description"}, sort_keys=True)


def _is_form(node: Any) -> bool:
    """Whether a node is a schema; a map of properties may hold a key `type` too, but no list or text under it."""
    return isinstance(node, dict) and any(isinstance(node.get(key), str | list) for key in ("type", "anyOf"))


def _count(node: Any, counts: dict[str, int]) -> None:
    if _is_form(node):
        text = _form(node)
        counts[text] = counts.get(text, 0) + 1
    for child in node.values() if isinstance(node, dict) else node if isinstance(node, list) else ():
        _count(child, counts)


def _named(node: Any, names: dict[str, str], itself: str = "") -> Any:
    if isinstance(node, list):
        return [_named(item, names) for item in node]
    if not isinstance(node, dict):
        return node
    text = _form(node) if _is_form(node) else ""
    if text in names and text != itself:
        said = {"description": node["description"]} if "description" in node else {}
        return said | {"$ref": _REF + names[text]}
    return {key: _named(value, names) for key, value in node.items()}


def _cleaned(node: Any, *, names: bool = False) -> Any:
    """Without what only the program needs; `names` tells that the keys are the user's, not the schema's."""
    if isinstance(node, list):
        return [_cleaned(item) for item in node]
    if not isinstance(node, dict):
        return node
    if names:
        return {key: _cleaned(value) for key, value in node.items()}
    schema = {
        key: _cleaned(value, names=key in {"properties", "$defs"}) for key, value in node.items() if key not in _DROPPED
    }
    choices = [choice for choice in schema.pop("anyOf", []) if choice != {"type": "null"}]
    if len(choices) == 1:
        return choices[0] | schema
    return schema | ({"anyOf": choices} if choices else {})


def _reached(parts: dict[str, Any], start: str) -> list[str]:
    """Names of every part under `start`, itself first."""
    names = [start]
    for name in names:
        names += [reference for reference in _references(parts[name]) if reference not in names]
    return list(dict.fromkeys(names))


def _references(node: Any) -> list[str]:
    if isinstance(node, list):
        return [name for item in node for name in _references(item)]
    if not isinstance(node, dict):
        return []
    own = [node["$ref"].removeprefix(_REF)] if isinstance(node.get("$ref"), str) else []
    return own + [name for value in node.values() for name in _references(value)]


def _loosened(node: Any) -> Any:
    """A part as an override: no key is needed, null removes any of them."""
    if isinstance(node, list):
        return [_loosened(item) for item in node]
    if not isinstance(node, dict):
        return node
    schema = {}
    for key, value in node.items():
        if key == "$ref":
            schema[key] = value + _OVERRIDE
        elif key == "properties":
            schema[key] = {name: _or_null(_loosened(form)) for name, form in value.items()}
        elif key == "oneOf":
            schema["anyOf"] = _loosened(value)
        elif key != "required":
            schema[key] = _loosened(value)
    return schema


def _or_null(node: dict[str, Any]) -> dict[str, Any]:
    description = {"description": node["description"]} if "description" in node else {}
    rest = {key: value for key, value in node.items() if key != "description"}
    return description | {"anyOf": [rest, {"type": "null"}]}


def _obstacles(node: dict[str, Any]) -> dict[str, Any]:
    """Obstacles of a build: a list of maps with names, or a map of names; null removes."""
    items = node["anyOf"][0]["items"]
    by_name = {"type": "object", "additionalProperties": {"anyOf": [items, {"type": "null"}]}}
    listed = {"type": "array", "items": items | {"required": ["name"]}}
    return {"description": node["description"], "anyOf": [listed, by_name, {"type": "null"}]}
