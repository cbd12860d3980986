"""Answers typed at a terminal, as plain data of the profile: refused here as the file would be, in the same words."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from fitment.errors import FitmentError, UnitError
from fitment.measuring.questions.first import LOOK
from fitment.measuring.questions.forms import Form, Question
from fitment.measuring.questions.second_side import SECOND
from fitment.measuring.questions.words import example_text, unit_text
from fitment.parts import bolt_circle
from fitment.parts.tire_code import parse_tire
from fitment.parts.wheel import parse_wheel
from fitment.profile.key_rules import part_problems, rule_at, with_key
from fitment.profile.schema.base import PLACE, Travel
from fitment.profile.values import (
    AngleRule,
    LengthRule,
    OutlineRule,
    RefusedError,
    TextRule,
    read_list,
    refused,
    unknown_word,
)
from fitment.profile.yaml_core import At
from fitment.units import CONVERTED, in_units, split_quantity, to_mm

_NUMBER = re.compile(r"[+-]?(?:\d{1,12}(?:\.\d{0,12})?|\.\d{1,12})")
_PLUS_MINUS = re.compile(r"\s*(?:\+\s*/?\s*-|\u00b1)\s*")
_SPOT = re.compile(
    r"(\d{1,2})(?:[:.h]([0-5]\d))?\s*(?:o.?clock)?[\s,]*(tread|round the tread|inboard|inside)?", re.IGNORECASE
)
_KEYS = ("clock", "radius", "out", "ahead", "up", "above_ground")  # of a point as the tape finds it
_KEYED = re.compile(
    r"\b(clock|radius|out|ahead|up|above[ _]ground)\b\s*[:=]?\s*(.*?)[\s,]*"
    r"(?=$|\b(?:clock|radius|out|ahead|up|above[ _]ground|square_to|hub)\b)",
    re.IGNORECASE,
)
_TIME = re.compile(r"\d{1,2}:\d{1,2}(\s*o'?\s?clock)?|\d{1,2}\s*o'?\s?clock", re.IGNORECASE)
_CHORD = re.compile(r"(\d{1,2})\s*(?:lugs?|studs?)?[\s,]*chord\s*(.+)", re.IGNORECASE)
_CLOCKED = "clock {90, radius 402, out 30|90, radius 15 7/8, out 1 1/8}"
_TIMED = "{10:30, 402, 30|10:30, 15 7/8, 1 1/8}"
_AHEAD = "ahead {0, up 402, out 30|0, up 15 7/8, out 1 1/8}"
_POINTS = f"{_CLOCKED} (and hub, if square to it), {_TIMED}, or {_AHEAD}"


# reading -------------------------------------------------------------------------------------------------------


def read_answer(
    question: Question, at: At, text: str, *, units: str = "mm", words: Mapping[str, str] | None = None,
    choices: Sequence[str] = (),
) -> Any:  # fmt: skip
    """The plain value of an answer, as it would stand in the profile. Raises FitmentError with what to type.

    at : key path that it is for, empty where it only steers the questions
    units : of numbers typed without one, mm or in
    words : kind and shape, where the path goes through a suspension or an obstacle
    choices : words allowed for `word` and `names`, names of ride heights for `ride`
    """
    clean = _unquoted(text.replace("\u2212", "-").strip())
    try:
        plain = _READ[question.form](clean, units, question, choices)
        if question.path.startswith((LOOK, SECOND)):
            _check_look(question, plain)
        else:
            _check(question.form, at, plain, words or {}, choices)
    except RefusedError as error:
        said = "; ".join(dict.fromkeys(with_key(problem.text, at) for problem in error.problems))
        raise FitmentError(_in_words(said, units)) from None
    except UnitError as error:
        raise FitmentError(_in_words(str(error), units)) from None
    return plain


def _in_words(said: str, units: str) -> str:
    """A refusal for the terminal: nothing needs quotes there, and in inches a bare number is no millimetre."""
    said = re.sub(r'write "([^"]*)"', r"write \1", said)
    said = re.sub(r'( in") \([-\d.]+ mm\)', r"\1", said) if units == "in" else said
    parts = _AS_TYPED.split(said)
    own = " mm" if units == "in" else ""
    return "".join(
        in_units(part, units) if index % 2 == 0 else part if part[0] == '"' else part + own
        for index, part in enumerate(parts)
    )


_AS_TYPED = re.compile(r'("[^"]*"|millimetres\? write -?\d+(?:\.\d+)?)')  # what was typed, or is to be, stays


def _unquoted(text: str) -> str:
    if len(text) > 1 and text[0] == text[-1] and text[0] in "\"'":
        return text[1:-1]
    return text


def _check_look(question: Question, plain: Any) -> None:
    """Refuse what an answer that is no key of the profile cannot mean."""
    if question.form == "text":
        TextRule(100, label=True).read(plain)
    if question.between is not None:
        rule = AngleRule(*question.between) if question.form == "angle" else LengthRule(*question.between, "reading")
        for length in plain if isinstance(plain, list) else [plain]:
            rule.read(length)


def _check(form: Form, at: At, plain: Any, words: Mapping[str, str], choices: Sequence[str]) -> None:
    """Refuse what the schema would refuse at this path."""
    if form == "wheel":
        parse_wheel(plain)
    elif form == "tire":
        parse_tire(plain)
    elif form in ("names", "word", "yes"):
        return  # chosen among `choices`
    if not at:
        loose = {"text": TextRule(100, label=True), "length": LengthRule(0, 3000, "reading")}.get(form)
        if loose is not None:
            loose.read(plain)
    elif form == "ride":
        if plain not in choices:
            Travel.read(plain)
    elif form == "raised":
        for wrong, said in part_problems(at, plain, words):
            raise refused(said, *wrong)
    else:
        _check_by(rule_at(at, words), form, plain)


def _check_by(rule: Any, form: Form, plain: Any) -> None:
    """Read by the rule of the whole value, or of one item where the rule is for a list."""
    if isinstance(rule, OutlineRule):
        read_list([plain], _pair_rule(rule), form="y', r")
    elif form == "share":
        rule.read([plain])
    elif form == "row":
        read_list(plain, PLACE.read, least=2, form="x, y, z; x, y, z")
    elif form == "point":
        getattr(rule, "item", rule).read(plain)
    else:
        rule.read(plain)


def _pair_rule(rule: OutlineRule) -> Callable[[Any], Any]:
    first, second = LengthRule(*rule.y, "y' of an outline"), LengthRule(*rule.r, "r of an outline")
    return lambda pair: (first.read(pair[0]), second.read(pair[1]))


def _amount(text: str, units: str) -> float | int | str:
    """A length as typed: a bare number is in `units`."""
    if _NUMBER.fullmatch(text):
        return f"{text} in" if units == "in" else _number(text)
    if re.fullmatch(r"[+-]?\d+,\d+", text):
        raise UnitError(f'"{text}": a decimal comma? write {text.replace(",", ".")}.')
    if not text:
        raise UnitError("a length is missing; give a number, or a number with its unit.")
    value, unit = split_quantity(text)
    if not unit:
        if units == "in":
            return f"{text} in"
        if "/" in text:
            raise UnitError(f'"{text}" is a fraction without a unit; write {text} in.')
        raise UnitError(f'"{text}" has no unit, and is not a plain number of millimetres; write it as {value:.10g}.')
    to_mm(text)  # refuses what is no unit of length
    return _number(f"{value:.12g}") if unit.lower() == "mm" else text


def _number(text: str) -> float | int:
    """A number as short as it can be written."""
    value = float(text)
    return int(value) if value.is_integer() and "e" not in text.lower() else value


def _angle(text: str, _units: str = "") -> float | int:
    bare = re.sub(r"\s*(?:deg|degrees?|\u00b0)$", "", text, flags=re.IGNORECASE)
    if re.fullmatch(r"[+-]?\d+,\d+", bare):
        raise UnitError(f'"{text}": a decimal comma? write {bare.replace(",", ".")}.')
    if not _NUMBER.fullmatch(bare):
        raise UnitError(f'"{text}" is not a number of degrees; write it as -0.5.')
    return _number(bare)


def _measured(text: str, read: Callable[[str, str], Any], units: str) -> Any:
    """A value, or a map with its tolerance where one was typed behind +-."""
    value, *rest = _PLUS_MINUS.split(text)
    if not rest:
        return read(value, units)
    if len(rest) > 1 or not rest[0]:
        raise UnitError(f'"{text}": write a value and one tolerance, such as {{1572 +- 2|61 7/8 +- 1/8}}.')
    plain = read(value, units)
    if read is _amount and isinstance(plain, str) and not split_quantity(rest[0])[1]:  # as the value's own unit
        return {"value": plain, "tolerance": f"{rest[0]} {split_quantity(plain)[1]}"}
    return {"value": plain, "tolerance": read(rest[0], units)}


def _fixed(text: str, units: str, question: Question, _choices: Sequence[str]) -> Any:
    """A number in kg or km/h, in lb or mph beside inches, or with its unit behind it."""
    match = re.fullmatch(r"([+-]?[0-9.,]+)\s*(\D*)", text)
    own = unit_text(question, units)
    unit = (match[2].strip().lower() if match else "") or own
    if match and unit in CONVERTED.get(question.unit, {}) and unit != question.unit:
        return f"{match[1]} {unit}"  # the profile keeps what was typed, and is read in the question's unit
    if match is None or not _NUMBER.fullmatch(match[1]):
        raise UnitError(f'"{text}" is not a number; write it in {own}, such as {example_text(question, units)}.')
    if unit != question.unit:
        raise UnitError(f'"{unit}" is not {own}; write the number in {own}.')
    return _number(match[1])


def _rim(text: str, _units: str, _question: Question, _choices: Sequence[str]) -> Any:
    if _NUMBER.fullmatch(text):
        return _number(text)
    return text.replace('"', " in") if split_quantity(text)[1] else f"{text} in"


def _rims(text: str, units: str, question: Question, choices: Sequence[str]) -> Any:
    return [_rim(part, units, question, choices) for part in _split(text, 2, "narrowest, widest")]


def _split(text: str, count: int | None, form: str) -> list[str]:
    """Values separated by commas, or by spaces where each is one word."""
    parts = [part.strip() for part in text.strip("[]() ").split(",")] if "," in text else text.strip("[]() ").split()
    if (count is not None and len(parts) != count) or not all(parts):
        given = len([part for part in parts if part])
        many = f"{given} value{'' if given == 1 else 's'}"
        raise UnitError(f'{many} in "{text[:60]}"; write {form}, separated by commas, a decimal with a point.')
    return parts


def _point(text: str, units: str, _question: Question | None = None, _choices: Sequence[str] = ()) -> Any:
    if time := _TIME.match(text):  # 10:30, 402, 30
        form = f"o'clock, radius, out, such as {_TIMED}"
        values = _split(text, 3, form) if "," in text else [time[0], *_split(text[time.end() :], 2, form)]
        reads = {"clock": _clock_angle, "radius": _amount, "out": _amount}
        return {key: _measured(value, reads[key], units) for key, value in zip(reads, values, strict=True)}
    if not re.search(r"clock|ahead|above", text, re.IGNORECASE):
        return _several(_amount, 3, f"x, y, z (or {_CLOCKED}, or {_AHEAD})")(text, units, None, ())
    shielded = re.sub(r"o'?\s?clock", "o'c", text, flags=re.IGNORECASE)  # of "clock 12 o'clock" one is the key
    texts = {key.lower().replace(" ", "_"): value.strip() for key, value in _KEYED.findall(shielded)}
    rest = re.sub(r"[\s,;:={}]", "", _KEYED.sub("", shielded)).lower()
    clocked = set(texts) == {"clock", "radius", "out"}
    square = set(texts) in ({"ahead", "up", "out"}, {"ahead", "above_ground", "out"})
    if not (clocked and rest in ("", "hub", "square_tohub")) and not (square and not rest):
        raise UnitError(f'"{text[:60]}" is not a point; write {_POINTS}.')
    keys = [key for key in (("ahead", "up", "above_ground", "out") if square else _KEYS) if key in texts]
    point = {key: _measured(texts[key], _clock_angle if key == "clock" else _amount, units) for key in keys}
    return point | ({"square_to": "hub"} if rest else {})


def _clock_angle(text: str, units: str) -> float | int | str:
    """Degrees, or a time as it was typed; the profile reads it."""
    given = re.sub(r"\s*o'c(?:lock)?$", " o'clock", text, flags=re.IGNORECASE)
    return given if _TIME.fullmatch(given) else _angle(text, units)


def _row(text: str, units: str, _question: Question, _choices: Sequence[str]) -> Any:
    return [_point(part, units) for part in text.split(";") if part.strip()]


def _share(text: str, units: str, _question: Question, _choices: Sequence[str]) -> Any:
    travel, share = _split(text, 2, "travel, share (60 % is 0.6)")
    if not _NUMBER.fullmatch(share):
        raise UnitError(f'"{share}" is not a share of the lock angle; write a number from 0 to 1, 60 % is 0.6.')
    return [_measured(travel, _amount, units), _number(share)]


def _raised(text: str, units: str, _question: Question, _choices: Sequence[str]) -> Any:
    """A reading at a travel; a dash stands for what was not read there."""
    values = _split(
        text, 3, "travel, out, camber, such as {80, 3, -2.4|3 1/8, 1/8, -2.4} (a dash for what was not read)"
    )
    reads: dict[str, Callable[[str, str], Any]] = {"travel": _amount, "out": _amount, "camber": _angle}
    return {
        key: _measured(value, reads[key], units)
        for key, value in zip(reads, values, strict=True)
        if value != "-" or key == "travel"
    }


def _named(text: str, units: str, _question: Question, _choices: Sequence[str]) -> Any:
    match = re.fullmatch(r"(.*?\S)\s*[=:]\s*(.+)", text) or re.fullmatch(r"([^\W\d]\S*)\s+(.+)", text)
    if match is None or not re.search(r"\d", match[2]):
        raise UnitError(f'"{text[:60]}" is not a name with a travel; write cruise = {{35|1 3/8}}.')
    return {_unquoted(match[1]): _measured(match[2], _amount, units)}


def _ride(text: str, units: str, _question: Question, choices: Sequence[str]) -> Any:
    if text in choices:
        return text
    if re.match(r"[+-]?\.?\d", text):
        return _measured(text, _amount, units)
    listed = unknown_word(text, tuple(choices)) if choices else " There is none with a name."
    raise UnitError(f'"{text[:60]}" is not a ride height.{listed} Or give a travel.')


def _word(text: str, _units: str, _question: Question, choices: Sequence[str]) -> Any:
    low = text.lower().replace(" ", "_")
    plain = {word.lower().replace(" ", "_"): word for word in choices}  # names of parts have spaces
    begun = [word for key, word in plain.items() if key.startswith(low)] if low else []
    if low in plain or len(begun) == 1:
        return plain.get(low) or begun[0]
    raise UnitError(f'"{text[:60]}" is not one of the words.{unknown_word(low, tuple(choices))}')


def _yes(text: str, _units: str, _question: Question, _choices: Sequence[str]) -> Any:
    if text.lower() in ("y", "yes", "true", "n", "no", "false"):
        return text.lower()[0] in "yt"
    raise UnitError(f'"{text[:60]}" is neither yes nor no.')


def _names(text: str, units: str, question: Question, choices: Sequence[str]) -> Any:
    return [_word(part, units, question, choices) for part in _split(text, None, "names")]


def _one(read: Callable[[str, str], Any]) -> Callable[..., Any]:
    return lambda text, units, _question, _choices: _measured(text, read, units)


def _several(read: Callable[[str, str], Any], count: int | None, form: str) -> Callable[..., Any]:
    """So many values (None: any number), each read alike; form: how they are written."""
    return lambda text, units, _question, _choices: [_measured(part, read, units) for part in _split(text, count, form)]


def _circle(text: str, units: str, _question: Question, _choices: Sequence[str]) -> Any:
    chord = _CHORD.fullmatch(text)
    if chord is None:
        return text
    lugs, between = int(chord[1]), to_mm(_amount(chord[2], units))
    try:
        (reading,) = bolt_circle.readings(between, lugs, to="next")
    except FitmentError:
        said = f"{lugs} studs with {between:g} mm from one to the next are no bolt circle of a wheel"
        raise UnitError(f"{said}; count and measure again, and write it as 5 chord 67.2 mm.") from None
    near = [bolt_circle.name(reading, diameter) for diameter in reading.standard]
    first = f"{lugs}x{(reading.standard or (round(reading.circle, 1),))[0]:g}"
    raise UnitError(
        f"that is {' or '.join(near) or 'no bolt circle in common use'}; the tape gives {reading.circle:.1f} mm, "
        f"somewhere from {reading.low:.1f} to {reading.high:.1f} mm. Type the one it is, such as {first}."
        + (" Two are near: measure again." if len(near) > 1 else "")
    )


def _spot(text: str, _units: str, _question: Question, _choices: Sequence[str]) -> Any:
    """O'clock as {clock, tread}."""
    match = _SPOT.fullmatch(text)
    if match is None or not 1 <= int(match[1]) <= 12:
        raise UnitError(
            f'"{text[:60]}" is not o\'clock; write where it is on a clock face seen from outside, such '
            "as 10:30, or 4:00 tread where the part lies round the tread."
        )
    return {"clock": f"{int(match[1])}:{match[2] or '00'}", "tread": "tread" in (match[3] or "").lower()}


def _text(text: str, _units: str, _question: Question, _choices: Sequence[str]) -> Any:
    return text


_READ: dict[Form, Callable[..., Any]] = {
    "text": _text, "wheel": _text, "tire": _text, "thread": _text, "circle": _circle,
    "word": _word, "yes": _yes, "names": _names,
    "length": _one(_amount), "angle": _one(_angle), "number": _fixed, "rim": _rim, "rims": _rims,
    "point": _point, "row": _row, "share": _share, "raised": _raised, "named": _named, "ride": _ride,
    "twice": _several(_amount, 2, "front, rear"), "spot": _spot,
    "pair": _several(_amount, 2, "y', r"), "clock": _several(_clock_angle, 2, "first, last"),
    "lengths": _several(_amount, None, "the values"), "angles": _several(_angle, None, "the values"),
}  # fmt: skip
