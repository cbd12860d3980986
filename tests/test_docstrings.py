"""A docstring tells what the signature cannot: units, shapes, errors, and where a rule comes from.

Held for the rooms below, for every public function, method and dataclass:

- a number (float or array of floats) has an entry `name : ... [unit]`, a field of a dataclass too, unless the
  sentence at the top gives one unit for all;
- an array has its shape, such as (n, 3);
- a function that gives numbers says their unit, in its first sentence or at `Returns :`, and where they come from:
  `Source:` and a document, "common practice", "from memory" or "derived here";
- an error that is raised in the body stands in the docstring.
"""

from __future__ import annotations

import ast
import builtins
import collections.abc
import dataclasses
import doctest
import importlib
import inspect
import pkgutil
import re
import textwrap
import types
import typing
from collections import ChainMap
from collections.abc import Callable, Iterable, Iterator
from functools import cached_property
from itertools import zip_longest
from typing import Any

import numpy as np
import pytest
from numpy.typing import ArrayLike, NDArray
from shapely.geometry.base import BaseGeometry

ROOMS = ("parts", "motion", "clearance", "checks", "answers")
UNITS = {"-", "mm", "in", "deg", "rad", "kg", "g", "%", "N", "km/h", "1/km", "1/s", "mm/mm", "rad/mm", "g mm", "N m"}
UNITS |= {"kN", "deg/kN", "mm/kN", "N/mm"}
NAMED = "unit of the name"  # of a figure whose name ends in it, such as gap_mm

BRACKET = re.compile(r"\[([^\]\n]*)\]")
SIZE = r"(?:\.\.\.|\d+|(?:\d+ )?[a-z](?: [+-] \d+)?)"
SHAPE = re.compile(rf"\({SIZE}(?:,|(?:, {SIZE})+)\)")
ENTRY = re.compile(r"(?:^ *|; )((?:\w+, )*\w+) : ", re.MULTILINE)
SOURCE = re.compile(r"\bSource: \S|derived here", re.IGNORECASE)


class Anything(dict[str, Any]):
    """Names of a module; one that it does not have at run time stands for any type."""

    def __missing__(self, name: str) -> Any:
        if name in vars(builtins):
            raise KeyError(name)
        return getattr(collections.abc, name, Any)


def modules(rooms: Iterable[str]) -> Iterator[types.ModuleType]:
    for room in rooms:
        package = importlib.import_module(f"fitment.{room}")
        for module in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
            yield importlib.import_module(module.name)


def members(owner: Any, module: str) -> Iterator[tuple[str, Any]]:
    """Public functions and classes that a module, or a class of it, defines."""
    for name, member in vars(owner).items():
        bare = plain(member)
        own = (inspect.isfunction(bare) and bare.__name__ == name) or inspect.isclass(bare)
        if own and not name.startswith("_") and bare.__module__ == module:
            yield name, bare


def plain(member: Any) -> Any:
    """The function under a property, a cache or a class method."""
    if isinstance(member, property):
        member = member.fget
    if isinstance(member, cached_property):
        member = member.func
    return inspect.unwrap(getattr(member, "__func__", member))


def is_number(hint: Any) -> bool:
    """Whether a type holds floats: float, an array of floats, a plane shape; tuples, lists, dictionaries of them."""
    shape = inspect.isclass(hint) and issubclass(hint, BaseGeometry)
    return hint is float or shape or is_array(hint) or any(is_number(part) for part in inner_types(hint))


def gives_numbers(hint: Any) -> bool:
    """Whether an answer is numbers, or a record that holds some."""
    if is_record(hint):
        return any(is_number(kept) for kept in hints_of(hint).values())
    return is_number(hint) or any(gives_numbers(part) for part in inner_types(hint))


def is_record(hint: Any) -> bool:
    """Whether a type is a dataclass or a named tuple."""
    return inspect.isclass(hint) and (dataclasses.is_dataclass(hint) or hasattr(hint, "_fields"))


def hints_of(owner: Any) -> dict[str, Any]:
    """Types by name, those included that are imported for the type checker only."""
    homes = [inspect.getmodule(base) for base in (owner.__mro__ if inspect.isclass(owner) else (owner,))]
    names = ChainMap(*(vars(home) for home in homes if home is not None and home is not builtins))
    return typing.get_type_hints(owner, localns=Anything(names))


def is_array(hint: Any) -> bool:
    if hint is ArrayLike:
        return True
    if typing.get_origin(hint) is np.ndarray:
        return "float" in str(hint)
    return any(is_array(part) for part in inner_types(hint))


def inner_types(hint: Any) -> tuple[Any, ...]:
    if typing.get_origin(hint) in (Callable, typing.Literal, np.ndarray):
        return ()
    return typing.get_args(hint)


def entries(text: str) -> dict[str, str]:
    """Name of a parameter or field to what its entry says, up to the next entry or an empty line."""
    told: dict[str, str] = {}
    matches = list(ENTRY.finditer(text))
    for match, after in zip_longest(matches, matches[1:]):
        said = text[match.end() : after.start() if after else None].partition("\n\n")[0]
        for name in match[1].split(", "):
            told[name] = said
    return told


def has_unit(text: str) -> bool:
    return any(re.split("[,;]", unit)[0].strip() in {*UNITS, NAMED} for unit in BRACKET.findall(text))


def summary(text: str) -> str:
    return ENTRY.split(text)[0].partition("\n\n")[0]


def short_of_entries(numbers: dict[str, Any], text: str, one_unit_for_all: bool = False) -> Iterator[str]:
    told = entries(text)
    for name, hint in numbers.items():
        said = told.get(name, "")
        if not said:
            yield f"{name} has no entry"
        elif not has_unit(said) and not one_unit_for_all:
            yield f"{name} has no unit"
        if said and is_array(hint) and not SHAPE.search(said):
            yield f"{name} has no shape"


def short_of_function(function: Any, reads_out: bool = False) -> Iterator[str]:
    """What the docstring of a function lacks; a property needs no source, it reads its record out."""
    text = inspect.getdoc(function) or ""
    if not text:
        yield "no docstring"
    hints = hints_of(function)
    given = hints.pop("return", None)
    numbers = {name: hint for name, hint in hints.items() if is_number(hint)}
    yield from short_of_entries(numbers, text)
    if is_number(given):
        answer = entries(text).get("Returns", "") or summary(text)
        if not has_unit(answer):
            yield "the return has no unit"
        if is_array(given) and not SHAPE.search(answer):
            yield "the return has no shape"
    if not reads_out and (is_number(given) or (numbers and gives_numbers(given))) and not SOURCE.search(text):
        yield "no source"
    yield from (f"{error} is raised and not told" for error in raised(function) if error not in text)


def raised(function: Any) -> set[str]:
    tree = ast.parse(textwrap.dedent(inspect.getsource(function)))
    calls = [node.exc for node in ast.walk(tree) if isinstance(node, ast.Raise) and node.exc]
    return {ast.unparse(call.func if isinstance(call, ast.Call) else call) for call in calls}


def short_of_class(record: type) -> Iterator[str]:
    """What the docstring of a dataclass or a named tuple lacks; without one Python writes Name(...) there."""
    text = inspect.getdoc(record) or ""
    if not text or text.startswith(f"{record.__name__}("):
        yield "no docstring"
    own = {name for name in record.__annotations__ if name[0] != "_"}  # what it inherits is told there
    numbers = {name: hint for name, hint in hints_of(record).items() if name in own and is_number(hint)}
    yield from short_of_entries(numbers, text, one_unit_for_all=has_unit(summary(text)))


def shortfalls(module: types.ModuleType) -> Iterator[str]:
    for name, member in members(module, module.__name__):
        if inspect.isfunction(member):
            yield from (f"{name}: {what}" for what in short_of_function(member))
            continue
        if is_record(member):
            yield from (f"{name}: {what}" for what in short_of_class(member))
        for method, function in members(member, module.__name__):
            reads_out = isinstance(vars(member)[method], property | cached_property)
            yield from (f"{name}.{method}: {what}" for what in short_of_function(function, reads_out))


@pytest.mark.parametrize("room", ROOMS)
def test_docstrings_tell_units_shapes_errors_and_sources(room: str) -> None:
    short = [f"{module.__name__}.{what}" for module in modules([room]) for what in shortfalls(module)]
    assert not short, "\n".join(short)


@pytest.mark.parametrize("room", ROOMS)
def test_examples_in_docstrings_are_true(room: str) -> None:
    for module in modules([room]):
        assert doctest.testmod(module).failed == 0, module.__name__


def test_a_new_function_without_its_units_or_source_is_seen() -> None:
    """What the rules above find in a function that tells nothing, and in one that tells all."""
    assert list(short_of_function(_untold)) == [
        "offset has no entry",
        "places has no entry",
        "the return has no unit",
        "no source",
        "ValueError is raised and not told",
    ]
    assert list(short_of_function(_told)) == []
    assert list(short_of_class(_Untold)) == ["width has no unit", "at has no entry"]
    assert list(short_of_class(_Told)) == []


def _untold(offset: float, places: NDArray[np.float64]) -> float:
    """The sum."""
    if not len(places):
        raise ValueError("no places")
    return offset + float(places.sum())


def _told(offset: float, places: NDArray[np.float64]) -> float:
    """The sum [mm].

    offset : [mm], positive outboard
    places : (n,) [mm]
    Raises ValueError where there is none.
    Source: derived here, all added.
    """
    if not len(places):
        raise ValueError("no places")
    return offset + float(places.sum())


@dataclasses.dataclass(frozen=True)
class _Untold:
    """A plate.

    width : of it
    """

    width: float
    at: tuple[float, float]


@dataclasses.dataclass(frozen=True)
class _Told:
    """A plate [mm].

    width : of it; at : its place
    """

    width: float
    at: tuple[float, float]
