"""What one value of a profile may be: lengths, angles, points, outlines, names and codes.

A rule reads a plain value or refuses it with a reason, and knows its own JSON Schema. `{key}` in a refusal
stands for the key under which the value was found.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from typing import Any

from pydantic_core import core_schema

from fitment.errors import UnitError, did_you_mean, shown
from fitment.parts.hub import CIRCLE_WAYS, bare_words, in_bare_inches
from fitment.profile.yaml_core import At
from fitment.units import CONVERTED, MM_PER_INCH, Measured, converted, split_quantity, to_mm, to_plain


@dataclass(frozen=True)
class Problem:
    """One mistake: the key path it stands at, and what to say about it."""

    at: At
    text: str


class RefusedError(ValueError):
    """Values that a profile cannot hold; travels through pydantic with its key paths."""

    def __init__(self, *problems: Problem) -> None:
        self.problems = problems
        super().__init__("; ".join(problem.text for problem in problems))


def refused(text: str, *at: str | int) -> RefusedError:
    """A refusal of a single value, `at` counted from where the rule stands."""
    return RefusedError(Problem(at, text))


@dataclass(frozen=True)
class Length(Measured):
    """A length with its tolerance [mm]."""


@dataclass(frozen=True)
class Angle(Measured):
    """An angle with its tolerance [deg]."""


@dataclass(frozen=True)
class ClockPoint:
    """A point as the tape finds it, seen from outside.

    clock : angle about the hub centre, 0 = forward, 90 = up
    radius : distance from the hub centre; out : outboard of the hub face
    to_hub : the hub face was the datum (square_to: hub), not the body's axes
    as_time : the angle was written as o'clock, so that no bare number stood there
    """

    clock: Angle
    radius: Length
    out: Length
    to_hub: bool = False
    as_time: bool = field(default=False, compare=False)

    @property
    def keys(self) -> tuple[str, ...]:
        """Keys of its readings."""
        return ("clock", "radius", "out")


@dataclass(frozen=True)
class SquarePoint:
    """A point counted from the hub face's centre along the body's axes; of up and above_ground one is given.

    above_ground : height above the ground as the vehicle stood when hub_height was read
    """

    ahead: Length
    out: Length
    up: Length | None = None
    above_ground: Length | None = None

    @property
    def keys(self) -> tuple[str, ...]:
        """Keys of its readings."""
        return ("ahead", "above_ground" if self.up is None else "up", "out")

    @property
    def height(self) -> Length:
        """Its height, above the hub centre or above the ground."""
        return self.up or self.above_ground or Length(0.0)


Coordinates = tuple[Length, Length, Length]
TapePoint = ClockPoint | SquarePoint
Point = Coordinates | TapePoint
MOST_ITEMS = 2_000  # of a list, such as the points of an edge
POINT_FORM = "[x, y, z], or {clock: 90, radius: 402, out: 30}, or {ahead: 0, up: 402, out: 30}"
Outline = tuple[tuple[Length, Length], ...]


def unknown_word(word: str, known: list[str] | tuple[str, ...]) -> str:
    """Hint and list of what is allowed, for a word that is not."""
    return f"{did_you_mean(word, known)} Allowed here: {', '.join(known)}."


@dataclass(frozen=True)
class Rule:
    """Base of the rules: plugs `read` and `schema` into pydantic."""

    def read(self, given: Any) -> Any:
        raise NotImplementedError

    def schema(self) -> dict[str, Any]:
        raise NotImplementedError

    def __get_pydantic_core_schema__(self, _source: Any, _handler: Any) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(self.read)

    def __get_pydantic_json_schema__(self, _schema: Any, _handler: Any) -> dict[str, Any]:
        return self.schema()


# numbers -------------------------------------------------------------------------------------------------------

ASSUMED = "assumed"  # in place of a value: take the typical one; in a map: nobody read it here
_FORM = "{value: ..., tolerance: ..., assumed: true}"
_LENGTH_TEXT = r"^\s*[+-]?\s*[0-9.][^a-zA-Z\"']*[a-zA-Z\"'][a-zA-Z\"' ]*$"


_UNIT = re.compile(r"[^\W\d_]{0,20}|\"|''")  # a word: what else a unit library would compute is not asked for


def _with_tolerance(given: Any, read: Any, limit: float, unit: str) -> tuple[float, float, bool, bool]:
    """Value, tolerance, whether one is stated, and whether it is assumed: of a plain value or a map of these keys."""
    if given == ASSUMED:
        raise refused(f"{{key}} has no typical value, so it cannot be `{ASSUMED}`; measure it, or write {_FORM}.")
    if not isinstance(given, dict):
        return read(given), 0.0, False, False
    known = ("value", "tolerance", ASSUMED)
    for key in given:
        if key not in known:
            raise refused(f'unknown key "{key}".{unknown_word(key, known)}', key)
    if given.get("value") is None:
        raise refused("{key} has no value; write {value: ..., tolerance: ...}.")
    try:
        value = read(given["value"])
    except RefusedError as error:
        raise RefusedError(*(Problem(("value", *problem.at), problem.text) for problem in error.problems)) from None
    tolerance = given.get("tolerance", 0)
    number = read_plain(tolerance, "tolerance", unit)
    if not 0 <= number <= limit:
        raise refused(
            f"a tolerance of {shown(tolerance)} is not plausible (0 to {limit:g} {unit}); it says how far the reading "
            "may be off either way, and is never negative.",
            "tolerance",
        )
    assumed = ASSUMED in given and _is_true(given[ASSUMED])
    if assumed and number == 0:
        raise refused(f"an assumed value needs a band that it lies in; write {_FORM}.")
    return value, number, "tolerance" in given, assumed


def _is_true(given: Any) -> bool:
    try:
        return YesRule().read(given)
    except RefusedError as error:
        raise refused(error.problems[0].text, ASSUMED) from None


def read_plain(given: Any, key: str, unit: str) -> float:
    """Millimetres of a length, or a plain number for another unit; refused at `key`."""
    try:
        if unit == "mm" and isinstance(given, str) and not _UNIT.fullmatch(split_quantity(given)[1]):
            raise UnitError(f"{shown(given)} does not end in a unit of length; use mm, cm, m, in or ft.")
        return to_mm(given) if unit == "mm" else to_plain(given, key)
    except UnitError as error:
        raise refused(str(error), *([key] if key != "{key}" else [])) from None


@dataclass(frozen=True)
class LengthRule(Rule):
    """A length within a plausible range [mm], with or without a tolerance.

    what : how to call it where the key alone does not tell
    """

    low: float
    high: float
    what: str = "{key}"

    def read(self, given: Any) -> Length:
        if given is None:
            raise refused(f"{self.what} has no value; give millimetres, or a text with a unit.")
        return Length(*_with_tolerance(given, self.number, 100.0, "mm"))

    def number(self, given: Any) -> float:
        """Millimetres of a plain value, refused outside the range with the suspicion said."""
        mm = read_plain(given, "{key}", "mm")
        if self.low <= mm <= self.high:
            return mm
        size = f"{mm:.10g} mm" if not isinstance(given, str) else f'"{given}" ({mm:.6g} mm)'
        allowed = f"({self.low:g} to {self.high:g} mm)"
        raise refused(f"{size} is not a plausible {self.what} {allowed}; {self._suspicion(given, mm)}")

    def _suspicion(self, given: Any, mm: float) -> str:
        def fits(value: float) -> bool:
            return self.low <= value <= self.high

        if isinstance(given, str):
            bare = split_quantity(given)[0]
            if fits(bare):
                return f"millimetres? write {bare:.10g}."
        else:
            for unit, factor in (("in", MM_PER_INCH), ("cm", 10.0), ("m", 1000.0)):
                if fits(mm * factor):
                    name = {"in": "inches", "cm": "centimetres", "m": "metres"}[unit]
                    return f'{name}? write "{mm:.10g} {unit}".'
        if fits(-mm):
            return f"is the sign right? {-mm:.10g} mm would be accepted."
        return "check the reading and its unit."

    def schema(self) -> dict[str, Any]:
        return _measured_schema(["number", "string"], self.low, self.high, 100, pattern=_LENGTH_TEXT)


@dataclass(frozen=True)
class PlainLengthRule(LengthRule):
    """A length that nobody measured, such as one that is asked for [mm]: it has no tolerance."""

    def read(self, given: Any) -> Any:
        if isinstance(given, dict):
            raise refused("{key} has no tolerance; write a plain number. The part's own tolerance counts.")
        return self.number(given)

    def schema(self) -> dict[str, Any]:
        return {"type": ["number", "string"], "minimum": self.low, "maximum": self.high, "pattern": _LENGTH_TEXT}


def _measured_schema(kinds: list[str], low: float, high: float, most: float, **more: Any) -> dict[str, Any]:
    """Of a value of these kinds, or a map of it with a tolerance of at most so much."""
    kind = {"type": kinds if len(kinds) > 1 else kinds[0]}
    return {
        "type": [*kinds, "object"],
        "minimum": low,
        "maximum": high,
        **more,
        "properties": {
            "value": kind | {"minimum": low, "maximum": high},
            "tolerance": kind | {"minimum": 0, "maximum": most},
            ASSUMED: {"description": "true: nobody read it on this vehicle", "type": "boolean"},
        },
        "required": ["value"],
        "additionalProperties": False,
    }


@dataclass(frozen=True)
class AngleRule(Rule):
    """An angle within a plausible range [deg], with or without a tolerance."""

    low: float
    high: float
    what: str = "{key}"

    def read(self, given: Any) -> Angle:
        return Angle(*_with_tolerance(given, self.number, 20.0, "deg"))

    def number(self, given: Any) -> float:
        degrees = read_plain(given, "{key}", "deg")
        if self.low <= degrees <= self.high:
            return degrees
        hint = "is the sign right?" if self.low <= -degrees <= self.high else "check the reading."
        raise refused(
            f"{degrees:.10g} degrees is not a plausible {self.what} ({self.low:g} to {self.high:g} degrees); {hint}"
        )

    def schema(self) -> dict[str, Any]:
        return _measured_schema(["number"], self.low, self.high, 20)


_TIME = re.compile(r"(\d{1,2})(?::(\d{1,2}))?\s*(o'?\s?clock)?", re.IGNORECASE)


@dataclass(frozen=True)
class ClockRule(AngleRule):
    """An angle about the hub seen from outside: degrees, or a time such as 10:30 as on a clock face."""

    def number(self, given: Any) -> float:
        return oclock(given) if isinstance(given, str) else super().number(given)

    def schema(self) -> dict[str, Any]:
        time = "^[0-9]{1,2}(:[0-9]{2})?( ?[oO]'? ?[cC][lL][oO][cC][kK])?$"
        return _measured_schema(["number", "string"], self.low, self.high, 20, pattern=time)


def oclock(text: str) -> float:
    """Degrees of a time on a clock face seen from outside the left side: 9:00 = 0 = forward, 12:00 = 90 = up.

    Refuses what is no time of such a face.
    """
    match = _TIME.fullmatch(text.strip())
    if match is None or not (match[2] or match[3]):
        hint = f"{text.strip()} without quotes is degrees, {text.strip()}:00 o'clock" if match else "or degrees"
        raise refused(f"{shown(text)} is not an angle; write 10:30 or 12 o'clock ({hint}; 0 = forward, 90 = up).")
    hours, minutes = int(match[1]), int(match[2] or 0)
    if not 1 <= hours <= 12 or not (minutes < 60 and len(match[2] or "00") == 2):
        raise refused(f"{shown(text)} is not on a clock face (1:00 to 12:59); write 10:30 or 12 o'clock.")
    return ((hours - 9) * 30 + minutes / 2) % 360


def _is_time(given: Any) -> bool:
    return isinstance(given["value"] if isinstance(given, dict) and "value" in given else given, str)


@dataclass(frozen=True)
class NumberRule(Rule):
    """A plain number in a fixed unit within a plausible range; kg and km/h also as a text in lb and mph."""

    low: float
    high: float
    unit: str

    def read(self, given: Any) -> float:
        try:
            given = converted(given, self.unit, (self.low, self.high))
        except UnitError as error:
            raise refused(str(error)) from None
        number = read_plain(given, "{key}", self.unit)
        if self.low <= number <= self.high:
            return number
        allowed = f"({self.low:g} to {self.high:g} {self.unit})"
        raise refused(f"{number:.10g} {self.unit} is not a plausible {{key}} {allowed}; check the number and its unit.")

    def schema(self) -> dict[str, Any]:
        if self.unit not in CONVERTED:
            return {"type": "number", "minimum": self.low, "maximum": self.high}
        return {"type": ["number", "string"], "minimum": self.low, "maximum": self.high, "pattern": r"^\s*[0-9.].*$"}


@dataclass(frozen=True)
class RimInchRule(Rule):
    """A rim width: a number in inches, as the trade counts it, or a text with a unit."""

    low: float
    high: float

    def read(self, given: Any) -> float:
        number = (
            read_plain(given, "{key}", "in") if not isinstance(given, str) else read_plain(given, "{key}", "mm") / 25.4
        )
        if self.low <= number <= self.high:
            return round(number, 9)
        hint = f'millimetres? write "{number:.10g} mm".' if self.low <= number / 25.4 <= self.high else "check it."
        raise refused(f"{number:.6g} in is not a plausible {{key}} ({self.low:g} to {self.high:g} in); {hint}")

    def schema(self) -> dict[str, Any]:
        return {"type": ["number", "string"], "minimum": self.low, "maximum": self.high, "pattern": _LENGTH_TEXT}


# texts ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class TextRule(Rule):
    """A text a person reads; `lines` allows line breaks, `code` asks for plain ASCII, `label` forbids [ and ]."""

    longest: int = 200
    lines: bool = False
    code: bool = False
    label: bool = False

    def read(self, given: Any) -> str:
        if not isinstance(given, str):
            raise refused(f"{shown(given)} is not a text; put it in quotes.")
        if not given.strip():
            raise refused("{key} is an empty text; write something, or remove the line.")
        if len(given) > self.longest:
            raise refused(f"{len(given)} characters are too long for {{key}}; at most {self.longest}.")
        if self.label and ("[" in given or "]" in given):
            raise refused(f"write round brackets in {shown(given)}: the program keeps square ones for itself.")
        self._check_letters(given)
        return given

    def _check_letters(self, given: str) -> None:
        for letter in given:
            if not letter.isprintable() and not (self.lines and letter in "\n\t"):
                raise refused(f"control character U+{ord(letter):04X} in {shown(given)}; remove it.")
            if self.code and not letter.isascii():
                hint = " write the letter x." if letter == "\u00d7" else " type it again in plain letters."
                raise refused(f"{shown(given)} holds {letter} (U+{ord(letter):04X}); codes are plain ASCII:{hint}")

    def schema(self) -> dict[str, Any]:
        return {"type": "string", "minLength": 1, "maxLength": self.longest}


@dataclass(frozen=True)
class BoltCircleRule(Rule):
    """lugs x diameter, such as 5x114.3 or 5x4.5in; read as (lugs, diameter [mm])."""

    def read(self, given: Any) -> tuple[int, float]:
        text = TextRule(code=True).read(given)
        match = re.fullmatch(r"\s*(?P<lugs>\d{1,2})\s*[xX]\s*(?P<size>\S.*?)\s*", text)
        plain_words = re.sub(r"(?<=\d),(?=\d)", ".", " ".join(text.upper().split()))
        for way in CIRCLE_WAYS:
            match = match or re.fullmatch(way, plain_words)
        if match is None:
            raise refused(f'"{text}" is not a bolt circle; write lugs x diameter, such as 5x114.3 or 5x4.5in.')
        lugs, size = int(match["lugs"]), re.sub(r"(?<=\d),(?=\d)", ".", match["size"])
        if re.fullmatch(r"(\d{1,2}[ -])?\d{1,2}/\d{1,2}", size):
            size += " in"  # a fraction is one of an inch
        plain = re.fullmatch(r"\d{1,4}(\.\d{0,6})?", size) is not None
        inches = plain and in_bare_inches(float(size))
        diameter = read_plain(f"{size} in" if inches else float(size) if plain else size, "{key}", "mm")
        if not 3 <= lugs <= 12:
            raise refused(f'{lugs} lugs in "{text}" are not plausible (3 to 12); write lugs x diameter.')
        if not 80 <= diameter <= 350:
            hint = bare_words(lugs, size, float(size)) if plain and diameter < 80 else "check it."
            raise refused(f'{diameter:.6g} mm in "{text}" is not a plausible bolt circle (80 to 350 mm); {hint}')
        return lugs, diameter

    def schema(self) -> dict[str, Any]:
        return {"type": "string", "pattern": r"^\s*[0-9]+([.,][0-9]+)?\s*([xX/-]|[oO][nN])\s*\S.*$"}


@dataclass(frozen=True)
class StudRule(Rule):
    """A thread: metric M14x1.5, or inch 1/2-20."""

    def read(self, given: Any) -> str:
        text = TextRule(code=True).read(given)
        metric = re.fullmatch(r"\s*M(\d{1,2}(?:\.\d)?)\s*[xX]\s*(\d(?:\.\d{1,2})?)\s*", text)
        inch = re.fullmatch(r"\s*(\d{1,2})/(\d{1,2})\s*-\s*(\d{1,2})(?:\s*UN[FC])?\s*", text)
        if metric and 8 <= float(metric[1]) <= 30 and 0.5 <= float(metric[2]) <= 3.5:
            return text.strip()
        if inch and int(inch[2]) and 0.3 <= int(inch[1]) / int(inch[2]) <= 1.2 and 10 <= int(inch[3]) <= 32:
            return text.strip()
        raise refused(
            f'"{text}" is not a stud thread; write M14x1.5 (diameter x pitch in mm) or 1/2-20 (inch-threads).'
        )

    def schema(self) -> dict[str, Any]:
        return {"type": "string", "pattern": r"^\s*(M[0-9]|[0-9]+/[0-9]+)"}


@dataclass(frozen=True)
class WordRule(Rule):
    """One of a few words."""

    words: tuple[str, ...]

    def read(self, given: Any) -> str:
        if isinstance(given, str) and given in self.words:
            return given
        raise refused(f"{shown(given)} is not known here.{unknown_word(str(given), self.words)}")

    def schema(self) -> dict[str, Any]:
        return {"enum": list(self.words)}


@dataclass(frozen=True)
class YesRule(Rule):
    """true or false."""

    def read(self, given: Any) -> bool:
        if isinstance(given, bool):
            return given
        raise refused(f"{shown(given)} is neither true nor false; write one of these two words, without quotes.")

    def schema(self) -> dict[str, Any]:
        return {"type": "boolean"}


@dataclass(frozen=True)
class FormatRule(Rule):
    """The number of the profile format."""

    def read(self, given: Any) -> int:
        if given == 1 and type(given) is int:
            return 1
        raise refused(f"format {shown(given)} is not known; this program reads `format: 1`.")

    def schema(self) -> dict[str, Any]:
        return {"const": 1}


# lists ---------------------------------------------------------------------------------------------------------


def read_list(given: Any, item: Any, *, least: int = 0, size: int | None = None, form: str) -> tuple[Any, ...]:
    """Every item of a list read by `item`, all refusals together; `form` tells how the list is written."""
    if not isinstance(given, list):
        raise refused(f"{shown(given)} stands where a list is expected; write {form}.")
    if size is not None and len(given) != size:
        raise refused(f"{len(given)} values in {shown(given)}, {size} are expected; write {form}.")
    if len(given) > MOST_ITEMS:
        raise refused(f"{len(given)} in the list, at most {MOST_ITEMS} are taken; leave out points between others.")
    if len(given) < least:
        raise refused(f"{len(given)} in the list, at least {least} are expected; write {form}.")
    return tuple(read_each((index, item, value) for index, value in enumerate(given)))


def read_each(values: Iterable[tuple[str | int, Callable[[Any], Any], Any]]) -> list[Any]:
    """Values (step, how it is read, as given), all refusals together, each at its step."""
    result, problems = [], []
    for step, read, given in values:
        try:
            result.append(read(given))
        except RefusedError as error:
            problems += [Problem((step, *problem.at), problem.text) for problem in error.problems]
    if problems:
        raise RefusedError(*problems)
    return result


@dataclass(frozen=True)
class ListRule(Rule):
    """A list of values of one kind."""

    item: Rule
    form: str
    least: int = 1
    size: int | None = None

    def read(self, given: Any) -> tuple[Any, ...]:
        return read_list(given, self.item.read, least=self.least, size=self.size, form=self.form)

    def schema(self) -> dict[str, Any]:
        schema = {"type": "array", "items": self.item.schema(), "minItems": self.size or self.least}
        return schema | {"maxItems": self.size or MOST_ITEMS}


@dataclass(frozen=True)
class PointRule(Rule):
    """A point: [x, y, z] in the body frame, or as the tape finds it: {clock, radius, out} or {ahead, up, out}."""

    x: tuple[float, float] = (-1500, 1500)
    y: tuple[float, float] = (-1200, 1600)
    z: tuple[float, float] = (-900, 1500)

    def read(self, given: Any) -> Point:
        if isinstance(given, dict):
            return self._taped(given)
        if not isinstance(given, list) or len(given) != 3:
            many = f"{len(given)} values" if isinstance(given, list) else shown(given)
            raise refused(f"{many} where a point is expected; write {POINT_FORM}.")
        rules = (LengthRule(*limits, f"{name} of a point") for name, limits in zip("xyz", self._limits(), strict=True))
        x, y, z = read_each((index, rule.read, given[index]) for index, rule in enumerate(rules))
        return x, y, z

    def _limits(self) -> tuple[tuple[float, float], ...]:
        return self.x, self.y, self.z

    def _forms(self) -> tuple[dict[str, Rule], dict[str, Rule]]:
        """Rules of the keys: of a point by clock and radius, of one along the body's axes."""
        out = LengthRule(-1200, 700)
        by_clock: dict[str, Rule] = {"clock": ClockRule(-360, 360), "radius": LengthRule(30, 1500), "out": out}
        square: dict[str, Rule] = {"ahead": LengthRule(*self.x), "up": LengthRule(*self.z), "out": out}
        return by_clock | {"square_to": WordRule(("body", "hub"))}, square | {"above_ground": LengthRule(0, 2400)}

    def _taped(self, given: dict[str, Any]) -> TapePoint:
        by_clock, square = self._forms()
        rules = square if {"ahead", "up", "above_ground"} & given.keys() else by_clock
        values, problems = {}, []
        for key, value in given.items():
            if key not in rules:
                word = f"does not go with {', '.join(k for k in given if k in rules and k != 'out')}"
                known = key in (by_clock | square)
                said = (
                    word if known else f'unknown key "{key}" of a point.{unknown_word(key, tuple(by_clock | square))}'
                )
                problems.append(Problem((key,), f"{key} {word}; write {POINT_FORM}." if known else said))
                continue
            try:
                values[key] = rules[key].read(value)
            except RefusedError as error:
                problems += [
                    Problem((key, *problem.at), problem.text.replace("{key}", key)) for problem in error.problems
                ]
        if not problems:
            problems = _incomplete(given, ("ahead", "out") if rules is square else ("clock", "radius", "out"))
        if problems:
            raise RefusedError(*problems)
        if rules is square:
            return SquarePoint(values["ahead"], values["out"], values.get("up"), values.get("above_ground"))
        to_hub = values.get("square_to") == "hub"
        return ClockPoint(values["clock"], values["radius"], values["out"], to_hub, _is_time(given["clock"]))

    def schema(self) -> dict[str, Any]:
        coordinates = [LengthRule(*limits).schema() for limits in self._limits()]
        by_clock, square = self._forms()
        said = {
            "clock": "[deg], 0 = forward, 90 = up; or o'clock seen from outside, such as 10:30",
            "radius": "from the hub centre [mm]",
            "out": "outboard of the baseline's hub face [mm]",
            "square_to": "datum of the reading",
            "ahead": "of the hub face's centre [mm]",
            "up": "above the hub face's centre [mm]",
            "above_ground": "height above the ground [mm], in place of up",
        }
        rules = by_clock | square
        required = [["clock", "radius", "out"], ["ahead", "up", "out"], ["ahead", "above_ground", "out"]]
        return {
            "type": ["array", "object"],
            "prefixItems": coordinates,
            "minItems": 3,
            "maxItems": 3,
            "properties": {key: {"description": said[key], **rules[key].schema()} for key in said},
            "oneOf": [
                {"type": "array"},
                *(
                    {"type": "object", "required": keys, "propertyNames": {"enum": [*keys, *also]}}
                    for keys, also in zip(required, (["square_to"], [], []), strict=True)
                ),
            ],
            "additionalProperties": False,
        }


def _incomplete(given: dict[str, Any], needed: tuple[str, ...]) -> list[Problem]:
    """What a point as the tape finds it lacks, or has twice."""
    missing = [key for key in needed if key not in given]
    if needed[0] == "ahead":
        heights = [key for key in ("up", "above_ground") if key in given]
        if len(heights) == 2:
            return [Problem(("above_ground",), "the height is given twice, as up and above_ground; keep one.")]
        missing += [] if heights else ["up (or above_ground)"]
    return [Problem((), f"a point without {' and '.join(missing)}; write {POINT_FORM}.")] if missing else []


@dataclass(frozen=True)
class OutlineRule(Rule):
    """[[y', r], ...] in the hub frame: two points are a line, more enclose an area unless `open` says otherwise."""

    y: tuple[float, float] = (-400, 250)
    r: tuple[float, float] = (0, 500)
    open: bool = False

    def read(self, given: Any) -> Outline:
        points = read_list(given, self._pair, least=2, form="[[y', r], [y', r], ...]")
        values = [(a.value, b.value) for a, b in points]
        if len(points) > 3 and not self.open and _near(values[0], values[-1]):
            points, values = points[:-1], values[:-1]  # closed by repeating the first point
        for index in range(1, len(values)):
            if _near(values[index - 1], values[index]):
                raise refused("the point repeats the one before it; remove one of them.", index)
        if len(values) > 2 and not self.open:
            self._check_area(values)
        return points

    def _pair(self, given: Any) -> tuple[Length, Length]:
        if not isinstance(given, list) or len(given) != 2:
            raise refused(f"{shown(given)} where a point of an outline is expected; write [y', r].")
        y = LengthRule(*self.y, "y' of an outline").read(given[0])
        return y, LengthRule(*self.r, "r of an outline").read(given[1])

    @staticmethod
    def _check_area(values: list[tuple[float, float]]) -> None:
        if len(values) > 500:
            raise refused(f"{len(values)} points in an outline; 500 are enough.")
        import shapely  # only where there is an outline

        crossing = _crossing(values)
        if crossing:
            first, second = crossing
            raise refused(
                f"the outline crosses itself: its side from point {first} meets its side from point {second} "
                "(counted from 0); list the points in order round the part."
            )
        if shapely.Polygon(values).area < 0.01:
            raise refused("the outline encloses no area; give the two ends of a line, or the corners of the part.")

    def schema(self) -> dict[str, Any]:
        pair = {
            "type": "array",
            "prefixItems": [LengthRule(*self.y).schema(), LengthRule(*self.r).schema()],
            "minItems": 2,
            "maxItems": 2,
        }
        return {"type": "array", "items": pair, "minItems": 2}


def _near(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return all(abs(p - q) < 0.01 for p, q in zip(a, b, strict=True))


def same_point(a: Point, b: Point) -> bool:
    """Whether two points are given in the same form and nearly in the same place."""
    if not isinstance(a, tuple) or not isinstance(b, tuple):
        return a == b
    return _near(tuple(coordinate.value for coordinate in a), tuple(coordinate.value for coordinate in b))


def _crossing(values: list[tuple[float, float]]) -> tuple[int, int] | None:
    """The first two sides of a closed outline that meet without being neighbours."""
    import shapely

    sides = shapely.linestrings(list(zip(values, [*values[1:], values[0]], strict=True)))
    meeting = shapely.STRtree(sides).query(sides, predicate="intersects").T.tolist()
    return min(((i, j) for i, j in meeting if 2 <= j - i < len(sides) - 1), default=None)
