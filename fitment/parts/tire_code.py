"""What the code on a sidewall says, read as written or refused with the reason."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from itertools import product
from typing import TypeVar

from fitment.errors import CodeError, did_you_mean
from fitment.parts import tables
from fitment.parts.tire import Family, Tire
from fitment.units import MM_PER_INCH

R = TypeVar("R")
LONGEST_TEXT = 100  # characters; a code is a line on a sidewall
ASPECT = (20, 95)  # [%]
WIDTH = (105, 455)  # [mm]
RIM_CODE = (10, 30)  # [in]
LOAD_INDEX = (50, 160)  # 190 kg to 4500 kg; the table starts at 0, tires of road vehicles do not


# ---------------------------------------------------------------- reading a code

# multiplication sign, double prime and closing quote, minus, the spaces that text programs put in
_LOOKALIKES = str.maketrans("\u00d7\u2033\u201d\u2212\u00a0\u2009\u202f\t", 'x""-    ')
_SIZE_METRIC = re.compile(
    r"(?P<prefix>P|HL|LT)? ?(?P<width>\d{1,4}(?:\.\d+)?) ?/ ?(?P<aspect>\d*\.?\d+)"
    r" ?(?P<mark>[ZHVS]? ?RF?|D|B|-) ?(?P<rim>\d{1,3}(?:\.\d+)?)(?:(?P<suffix> ?LT|C)(?![A-Z0-9]))?(?![0-9.])"
)
_SIZE_FLOTATION = re.compile(
    r"(?P<prefix>LT)? ?(?P<tall>\d{2}(?:\.\d+)?) ?X ?(?P<width>\d{1,4}(?:\.\d+)?)"
    r" ?(?P<mark>Z?R|D|B|-) ?(?P<rim>\d{1,3}(?:\.\d+)?)(?: ?(?P<suffix>LT)(?![A-Z0-9]))?(?![0-9.])"
)
# 265/35/18 can only be a radial: bias-ply tires are not made so low. Source: common practice, from memory.
_SLASHED = re.compile(r"^((?:P|HL)? ?\d{3} ?/ ?(?:[23]\d|4[05])) ?/ ?(\d{2})(?![\d.])")
_SYMBOL = r"A[1-8]|[B-HJ-NP-WY]"
_END = r"(?![A-Z0-9]| ?[+&]| ?/ ?[ST])"  # the M of M+S and the H of H/T are no speed symbols
_TOKENS: tuple[tuple[str, re.Pattern[str]], ...] = tuple(
    (name, re.compile(pattern))
    for name, pattern in (
        ("ply rating", rf"(\d{{1,2}}) ?-? ?(?:PR|PLY(?:[ -]RAT(?:ING|ED))?){_END}"),
        ("service", rf"(\d{{2,3}}) ?/ ?(\d{{2,3}}) ?({_SYMBOL}){_END}"),
        ("above 300", r"\( ?(\d{2,3}) ?Y ?\)"),
        ("above 300", r"(\d{2,3}|) ?\( ?Y ?\)"),
        ("service", rf"(\d{{2,3}})()({_SYMBOL}){_END}"),
        ("spaced service", rf"(\d{{2,3}}) ({_SYMBOL}){_END}"),
        ("load index", r"(\d{2,3})(?![A-Z0-9/.])"),
        ("load range", rf"(?:/ ?|LOAD RANGE |LR ?)([B-HJ-N]){_END}"),
        ("load version", rf"(XL|EXTRA LOAD|RF|REINF(?:ORCED)?|SL|STANDARD LOAD|LL|LIGHT LOAD){_END}"),
        ("snow", rf"(M ?[+&/] ?S){_END}"),
        ("severe snow", rf"(3PMSF){_END}"),
        ("special use", rf"(POR|MPT){_END}"),
        ("run-flat", rf"(RFT|RUN[ -]?FLAT){_END}"),
        ("tube", rf"(TL|TUBELESS|TT|TUBE TYPE){_END}"),
        ("lettering", rf"(OWL|RWL|RBL|BSW|WSW){_END}"),
        ("tread", rf"([AHMR]/T){_END}"),
        ("construction", rf"(RADIAL|BIAS){_END}"),
        ("letter", rf"([A-Z]){_END}"),
    )
)
_WORDS = ("XL", "RF", "SL", "LL", "EXTRA LOAD", "REINFORCED", "LRE", "PLY", "M+S", "3PMSF", "TUBELESS", "RADIAL", "POR")
_PLIES = {"B": 4, "C": 6, "D": 8, "E": 10, "F": 12, "G": 14, "H": 16, "J": 18, "L": 20, "M": 22, "N": 24}
# ply rating of each load range: common practice of the trade, from memory
_NAMES = {"service": "load index and speed symbol", "snow": "the snow marking"}
_LOAD_VERSIONS = {"EXTRA LOAD": "XL", "REINF": "RF", "REINFORCED": "RF", "STANDARD LOAD": "SL", "LIGHT LOAD": "LL"}


def plain_text(text: str, what: str) -> str:
    """The text in plain ASCII, capitals, single spaces; signs that only look different are put right.

    Raises CodeError for anything but text, an empty or very long one, and other characters.
    """
    if not isinstance(text, str):
        raise CodeError(f"a {what} is a text; got {type(text).__name__}.")
    if len(text) > LONGEST_TEXT:
        raise CodeError(
            f"this {what} has {len(text)} characters, at most {LONGEST_TEXT} are read; give one {what} only."
        )
    text = text.translate(_LOOKALIKES)
    for position, character in enumerate(text, 1):
        if not " " <= character <= "~":
            raise CodeError(
                f"{text!a}: character {position} is U+{ord(character):04X}; a {what} is written in plain letters, "
                "digits and signs. Type it again as it stands on the part."
            )
    text = " ".join(text.upper().split())
    if not text:
        raise CodeError(f"the {what} is empty; {_EXAMPLES[what]}.")
    return text


@contextmanager
def as_given(given: str, normal: str) -> Iterator[None]:
    """Lets a CodeError that is raised inside show the text as it was typed (`given`), not as it was read (`normal`)."""
    try:
        yield
    except CodeError as error:
        shown = " ".join(given.split())
        raise CodeError(str(error).replace(normal, shown, 1)) from None


_COMMA = re.compile(r"(?<=\d),(?=\d)")
_MOST_COMMAS = 6


def only_reading(text: str, read: Callable[[str], R], spelled: Callable[[R], str]) -> R:
    """What a text says whose commas between digits may be decimal commas or stand between two entries.

    read : of a text with points for the decimal commas; spelled : of what was read, for messages
    Raises CodeError where two readings are possible, both named, or none.
    """
    commas = [match.start() for match in _COMMA.finditer(text)]
    if not commas:
        return read(text)
    if len(commas) > _MOST_COMMAS:
        raise CodeError(f"{text}: too many commas between digits; write decimals with a point.")
    readings: dict[str, R] = {}
    reasons: list[CodeError] = []
    for signs in product(".;", repeat=len(commas)):
        letters = list(text)
        for place, sign in zip(commas, signs, strict=True):
            letters[place] = sign
        try:
            reading = read("".join(letters))
        except CodeError as error:
            reasons.append(CodeError(str(error).replace("".join(letters), text, 1)))
        else:
            readings.setdefault(spelled(reading), reading)
    if len(readings) > 1:
        first, second = list(readings)[:2]
        raise CodeError(f"{text}: the comma could make it {first} or {second}; write decimals with a point.")
    if not readings:
        raise CodeError(str(reasons[0]))
    return next(iter(readings.values()))


_EXAMPLES = {
    "tire code": "write it as on the sidewall, such as 305/45R20 112W XL, LT305/55R20 121/118S or 33x12.50R20LT",
    "wheel spec": "write it as 20x10 ET25 6x139.7 CB78.1",
}


def parse_tire(code: str) -> Tire:
    """A tire code as written on the sidewall, or CodeError with the reason and what to try.

    Metric (305/45R20 112W XL), P, HL, LT, commercial (215/65R16C) and flotation (33x12.50R20LT) sizes; case and
    spacing do not matter, decimals may have a comma. Nothing is guessed: a code that could be read in two ways is
    refused, both named.
    >>> parse_tire("lt305/55 r20 121/118s").code
    'LT305/55R20 121/118S'
    """
    text = plain_text(code, "tire code")
    with as_given(code, text):
        return only_reading(text, _parsed, lambda tire: tire.code)


def _parsed(text: str) -> Tire:
    text = _SLASHED.sub(r"\1R\2", text)
    _refuse_letter_o(text)
    for pattern, read in ((_SIZE_METRIC, _read_metric), (_SIZE_FLOTATION, _read_flotation)):
        match = pattern.match(text)
        if match:
            tire = read(text, match)
            return _with_service(tire, text, match.end())
    raise CodeError(f"{text}: {_why_not(text)}")


def _refuse_letter_o(text: str) -> None:
    zeros = re.sub(r"(?<=[\d/])O(?![A-Z])|(?<![A-Z])O(?=\d)", "0", text)
    if zeros != text and (_SIZE_METRIC.match(zeros) or _SIZE_FLOTATION.match(zeros)):
        raise CodeError(f"{text}: there is a letter O where a digit belongs. Did you mean {zeros}?")


def _number(text: str, part: str, low: float, high: float, code: str, hint: Callable[[float], str]) -> float:
    value = float(text)
    if not low <= value <= high:
        raise CodeError(f"{code}: {part} is {text}; allowed is {low:g} to {high:g}.{hint(value)}")
    return value


def _rim_code(text: str, code: str) -> float:
    def hint(value: float) -> str:
        inch = value / MM_PER_INCH
        return f" {value:g} mm is {inch:.1f} in; metric rims are not covered." if value > 300 else " Give it in inches."

    rim = _number(text, "the rim diameter", *RIM_CODE, code, hint)
    if rim != int(rim) and rim not in tables.FIFTEEN_DEGREE_RIMS:
        raise CodeError(f"{code}: there is no {text} in rim; whole inches are, and 16.5, 17.5, 19.5, 22.5, 24.5.")
    return rim


def _aspect_hint(value: float) -> str:
    if 0.2 <= value <= 0.95:
        return f" It is a percentage: did you mean {value * 100:g}?"
    return " It is the section height as a percentage of the section width; read it again from the sidewall."


def _width_hint(value: float) -> str:
    if 4 <= value <= 18:
        return f" Is {value:g} in inches? That is {value * MM_PER_INCH:.0f} mm; write the millimetres on the sidewall."
    return " It is in millimetres; read it again from the sidewall."


def _read_metric(text: str, match: re.Match[str]) -> Tire:
    part = match.groupdict()
    width = _number(part["width"], "the section width", *WIDTH, text, _width_hint)
    aspect = _number(part["aspect"], "the aspect ratio", *ASPECT, text, _aspect_hint)
    if width != int(width) or aspect != int(aspect):
        raise CodeError(f"{text}: section width and aspect ratio are whole numbers, such as 305/45R20.")
    rim = _rim_code(part["rim"], text)
    mark = part["mark"].replace(" ", "")
    prefix, suffix = part["prefix"] or "", (part["suffix"] or "").strip()
    if prefix and suffix and (prefix, suffix) not in (("LT", "LT"), ("LT", "C")):
        raise CodeError(f"{text}: {prefix} and {suffix} do not belong together; write one of them.")
    load_range = None
    if (prefix, suffix) == ("LT", "C"):  # LT285/70R17C: the letter of the load range
        load_range, suffix = "C", ""
    families: dict[str, Family] = {"P": "P", "HL": "HL", "LT": "LT", "C": "C"}
    family = families.get(prefix or suffix, "metric")
    lead = "LT" if family == "LT" else prefix
    return Tire(
        code=f"{lead}{width:g}/{aspect:g}{mark}{rim:g}{'C' if family == 'C' else ''}",
        family=family,
        nominal_width=width,
        aspect_ratio=aspect,
        rim_code=rim,
        radial="R" in mark,
        size_mark=mark[0] if mark[0] in "ZHVS" else "",
        load_range=load_range,
    )


def _read_flotation(text: str, match: re.Match[str]) -> Tire:
    part = match.groupdict()

    def width_hint(value: float) -> str:
        if 500 <= value <= 2000:
            return f" Did you mean {value / 100:.2f}?"
        return " A flotation size gives it in inches, such as 33x12.50R20LT."

    def tall_hint(_: float) -> str:
        return " A flotation size starts with the overall diameter in inches, such as 33x12.50R20LT."

    tall = _number(part["tall"], "the overall diameter", 20, 54, text, tall_hint)
    width = _number(part["width"], "the section width", 5, 20, text, width_hint)
    rim = _rim_code(part["rim"], text)
    if tall < rim + 4:
        raise CodeError(f"{text}: a {tall:g} in tire leaves no sidewall on a {rim:g} in rim; read both again.")
    lettered = bool(part["prefix"] or part["suffix"])
    return Tire(
        code=f"{tall:g}x{width:.2f}{part['mark']}{rim:g}{'LT' if lettered else ''}",
        family="flotation",
        nominal_width=round(width * MM_PER_INCH, 6),
        rim_code=rim,
        radial="R" in part["mark"],
        flotation_diameter=tall,
        size_mark="Z" if "Z" in part["mark"] else "",
    )


def _with_service(tire: Tire, text: str, position: int) -> Tire:
    """The size with everything that follows it: load index, speed, load version, markings."""
    markings: dict[str, tuple[str, ...]] = {"load range": (tire.load_range,)} if tire.load_range else {}
    while position < len(text):
        if text[position] in " ,;":
            position += 1
            continue
        name, groups, position = _token(tire, text, position)
        if name in markings and markings[name] != groups:
            raise CodeError(f"{text}: {_NAMES.get(name, name)} is given twice and not the same; keep one.")
        if name in markings:
            raise CodeError(f"{text}: {_NAMES.get(name, name)} is given twice; keep one.")
        markings[name] = groups
    return _complete(tire, text, markings)


def _token(tire: Tire, text: str, position: int) -> tuple[str, tuple[str, ...], int]:
    for name, pattern in _TOKENS:
        match = pattern.match(text, position)
        if match:
            kind, groups = _settle(tire, text, name, tuple(group or "" for group in match.groups()))
            return kind, groups, match.end()
    word = text[position:].partition(" ")[0]
    hint = did_you_mean(word, _WORDS)
    if re.match(r"ET|[+-]\d|\d+X", word):
        hint = " That belongs to the wheel; give the tire code alone."
    raise CodeError(
        f'{text}: "{word}" at character {position + 1} is not a marking that is read here.{hint} '
        "After the size come load index and speed symbol (112W), load version (XL) or load range (LRE)."
    )


def _settle(tire: Tire, text: str, name: str, groups: tuple[str, ...]) -> tuple[str, tuple[str, ...]]:
    """Decide the tokens that depend on the kind of tire, refusing what could be read in two ways."""
    truck = tire.family in ("LT", "flotation")
    if name == "spaced service":
        index, letter = groups
        if truck and letter in "BCDEF":
            raise CodeError(
                f"{text}: {letter} could be a speed symbol or a load range; write {index}{letter} or {index} "
                f"LR{letter}."
            )
        return "service", (index, "", letter)
    if name == "above 300":
        return "service", (groups[0], "", "(Y)")
    if name == "letter":
        if truck and groups[0] in "BCDEF":
            return "load range", groups
        raise CodeError(
            f'{text}: the letter "{groups[0]}" stands alone; a speed symbol is written with its load index (112W), '
            "a load range as LRE."
        )
    if name == "load index":
        return "service", (groups[0], "", "")
    if name == "load version":
        return name, (_LOAD_VERSIONS.get(groups[0], groups[0]),)
    return name, groups


def _complete(tire: Tire, text: str, markings: dict[str, tuple[str, ...]]) -> Tire:
    index, dual, symbol = markings.get("service", ("", "", ""))
    for number in (index, dual):
        if number and not LOAD_INDEX[0] <= int(number) <= LOAD_INDEX[1]:
            raise CodeError(
                f"{text}: {number} would be the load index, which is {LOAD_INDEX[0]} to {LOAD_INDEX[1]} for such "
                "tires; leave other figures, such as the rim width, out of the code."
            )
    if dual and int(dual) > int(index):
        raise CodeError(f"{text}: load index {index}/{dual}: the second, for twin fitting, is never the higher one.")
    if tire.size_mark in ("H", "S") and symbol and symbol != tire.size_mark:
        raise CodeError(f"{text}: {tire.size_mark}R in the size contradicts the speed symbol {symbol}.")
    if "construction" in markings and (markings["construction"][0] == "RADIAL") != tire.radial:
        word = markings["construction"][0].lower()
        raise CodeError(f"{text}: {word} contradicts the size; a radial has R, bias-ply D or -.")
    if not symbol and tire.size_mark in ("H", "S"):
        symbol = tire.size_mark
    letter, plies = _load_range(text, markings)
    return replace(
        tire,
        code=" ".join([tire.code, *_normal_service(index, dual, symbol), *_normal_markings(markings, letter)]),
        load_index=int(index) if index else None,
        load_index_dual=int(dual) if dual else None,
        speed_symbol=symbol or None,
        load_version=markings.get("load version", (None,))[0],
        load_range=letter,
        ply_rating=plies,
        snow=bool({"snow", "severe snow"} & markings.keys()),
        special_use="special use" in markings,
    )


def _load_range(text: str, markings: dict[str, tuple[str, ...]]) -> tuple[str | None, int | None]:
    letter = markings.get("load range", (None,))[0]
    plies = int(markings["ply rating"][0]) if "ply rating" in markings else None
    if plies is not None and plies not in _PLIES.values():
        raise CodeError(
            f"{text}: {plies} is no ply rating; they are even, {min(_PLIES.values())} to {max(_PLIES.values())}."
        )
    if letter and plies and _PLIES[letter] != plies:
        raise CodeError(
            f"{text}: load range {letter} is {_PLIES[letter]} ply, not {plies}; keep the one on the sidewall."
        )
    return letter, plies if plies else _PLIES.get(letter or "")


def _normal_service(index: str, dual: str, symbol: str) -> list[str]:
    if symbol == "(Y)":
        return [f"({index}Y)"]
    if not index:
        return []  # HR and SR in the size speak for themselves
    return [f"{index}{'/' + dual if dual else ''}{symbol}"]


def _normal_markings(markings: dict[str, tuple[str, ...]], letter: str | None) -> list[str]:
    words = [f"LR{letter}"] if letter else []
    words += [f"{markings['ply rating'][0]}PR"] if "ply rating" in markings else []
    words += list(markings.get("load version", ()))
    words += ["M+S"] if "snow" in markings else []
    for name in ("severe snow", "special use", "run-flat", "tube", "lettering", "tread"):
        words += [word.replace(" ", "").replace("-", "") for word in markings.get(name, ())]
    return words


def _why_not(text: str) -> str:
    """What is wrong with a text in which no tire size was found."""
    for pattern, reason in _REASONS:
        match = re.match(pattern, text)
        if match:
            part = [group or "" for group in match.groups()]
            return reason.format(*part)
    return f"this is not a tire code that is read here; {_EXAMPLES['tire code']}."


_REASONS = (
    (r"(?:ST|T) ?\d{2,3} ?/", "ST marks trailer tires and T temporary spares; neither is covered. Give the road tire."),
    (
        r"((?:P|HL|LT)? ?\d{3}) ?[-/ ] ?(\d{2}) ?[-/ ] ?(\d{2})(?![\d.])",
        "the letter of the construction is missing; write {0}/{1}R{2} for a radial, {0}/{1}D{2} for bias-ply.",
    ),
    (
        r"((?:P|HL|LT)? ?\d{3}) ?[- ]? ?(\d{2}) ?(Z?R) ?(\d{2})(?![\d.])",
        "the slash between width and aspect ratio is missing; did you mean {0}/{1}{2}{3}?",
    ),
    (
        r"(?:P|HL|LT)? ?\d{2,4} ?/ ?\d*\.?\d+ ?(?:Z?R?F?|D|B|-)?$",
        "the rim diameter is missing; write it after R, such as R20.",
    ),
    (r"(?:P|HL|LT)? ?\d{3} ?Z?R ?\d{2}", "the aspect ratio is missing; write it after the width, such as 305/45R20."),
    (
        r"\d{1,2}\.\d{1,2} ?(?:R|-|X)",
        "sizes with a width in inches alone are not covered; give a metric or flotation size.",
    ),
    (
        r"\d{1,2}(?:\.\d+)? ?\"? ?(?:JJ?|K|B)? ?X ?\d{1,2}(?:\.\d+)? ?\"? ?(?:JJ?|K|B)?(?: |$|[+-])",
        "this looks like a wheel spec, or a flotation size without its rim; write 305/45R20 or 33x12.50R20LT.",
    ),
    (
        r"(\d{2}(?:\.\d+)?) ?[X-] ?(\d+(?:\.\d+)?) ?[X/] ?(\d{2})(?![\d.])",
        "the mark before the rim diameter is missing; write {0}x{1}R{2} for a radial, {0}x{1}-{2} for bias-ply.",
    ),
    (
        r"(?:P|HL|LT)? ?\d{2,4} ?/",
        "after the slash comes the aspect ratio, then R and the rim diameter, such as 305/45R20.",
    ),
)
