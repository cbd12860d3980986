"""Tires: what a code says, and the size on a rim.

Inputs and results are in millimetres, rim codes and rim widths in inches, loads in kilograms, speeds in km/h.
The rules are those of UN R30 (passenger) and UN R54 (light truck, commercial, flotation). Their tables could not
be seen; constants marked "from memory" below are recalled.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any, Literal

from fitment import tables
from fitment.errors import CodeError, did_you_mean
from fitment.tables import nearest
from fitment.units import MM_PER_INCH

Family = Literal["metric", "P", "HL", "LT", "C", "flotation"]

LONGEST_TEXT = 100  # characters; a code is a line on a sidewall
SECTION_WIDTH_PER_RIM = 0.4  # K of UN R30 6.1.1: section width gained per width of rim, read in an amendment
ROLLING_FACTOR = 3.05  # rolling circumference / overall diameter of a radial; ETRTO design practice, from memory
ASPECT = (20, 95)  # [%]
WIDTH = (105, 455)  # [mm]
RIM_CODE = (10, 30)  # [in]
LOAD_INDEX = (50, 160)  # 190 kg to 4500 kg; the table starts at 0, tires of road vehicles do not


@dataclass(frozen=True)
class Tire:
    """A tire code as read, and what a maker's data sheet adds to it.

    code : normalised spelling of the code
    nominal_width : [mm]; of a flotation size its width x 25.4
    aspect_ratio : [%], None for flotation sizes
    rim_code : nominal rim diameter [in]
    radial : False for bias-ply (D, B or -)
    flotation_diameter : the code's own overall diameter [in], flotation sizes only
    load_index, load_index_dual, speed_symbol, load_version : None where the code does not tell
    section_width : measured by the maker [mm] on a rim `on_rim` wide [in]; beats the formula
    tread_width, overall_diameter : measured [mm]; beat the formula
    size_mark : Z, H, V or S written inside the size (ZR, HR, VR, SR)
    load_range, ply_rating : letter and number of the load range, light truck tires
    snow : marked for snow, which UN R30 allows 1 % more diameter
    special_use : professional off-road, which UN R30 and R54 allow a taller tread
    mass : [kg], None = not known
    approved_rims : narrowest and widest rim of the maker's data sheet [in]
    """

    code: str
    family: Family
    nominal_width: float
    rim_code: float
    aspect_ratio: float | None = None
    radial: bool = True
    flotation_diameter: float | None = None
    load_index: int | None = None
    load_index_dual: int | None = None
    speed_symbol: str | None = None
    load_version: str | None = None
    section_width: float | None = None
    on_rim: float | None = None
    tread_width: float | None = None
    overall_diameter: float | None = None
    size_mark: str = ""
    load_range: str | None = None
    ply_rating: int | None = None
    snow: bool = False
    special_use: bool = False
    mass: float | None = None
    approved_rims: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        _refuse_implausible(self)


@dataclass(frozen=True)
class TireSize:
    """A tire on a rim: mounted dimensions as new, inflated and unloaded.

    rim, measuring_rim, rim_min, rim_max : rim widths [in]; the range is common practice, not the maker's
    section_width, section_height, overall_diameter : [mm]
    section_width_max, overall_diameter_min, overall_diameter_max : limits for a new tire [mm], UN R30 or R54
    section_width_max_us : the looser US limit [mm], 49 CFR 571.139 S6.1.2, from memory
    load_kg, load_dual_kg : per tire, single and in twin fitting [kg]
    speed_kmh : [km/h]; `speed_at_least` when the tire is rated above that figure
    revs_per_km : turns in a kilometre; None for bias-ply, which the relation does not cover
    cautions : plain sentences
    """

    code: str
    family: Family
    nominal_width: float
    aspect_ratio: float | None
    rim_diameter: float
    radial: bool
    measuring_rim: float
    rim_min: float
    rim_max: float
    rim: float
    section_width: float
    section_height: float
    overall_diameter: float
    section_width_max: float
    section_width_max_us: float
    overall_diameter_min: float
    overall_diameter_max: float
    load_index: int | None
    load_index_dual: int | None
    load_kg: float | None
    load_dual_kg: float | None
    load_version: str | None
    load_range: str | None
    ply_rating: int | None
    speed_symbol: str | None
    speed_kmh: float | None
    speed_at_least: bool
    revs_per_km: float | None
    cautions: tuple[str, ...]


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
    """Lets a CodeError show the text as it was typed, not as it was read."""
    try:
        yield
    except CodeError as error:
        shown = " ".join(given.split())
        raise CodeError(str(error).replace(normal, shown, 1)) from None


_EXAMPLES = {
    "tire code": "write it as on the sidewall, such as 305/45R20 112W XL, LT305/55R20 121/118S or 33x12.50R20LT",
    "wheel spec": "write it as 20x10 ET25 6x139.7 CB78.1",
}


def parse_tire(code: str) -> Tire:
    """A tire code as written on the sidewall, or CodeError with the reason and what to try.

    Metric (305/45R20 112W XL), P, HL, LT, commercial (215/65R16C) and flotation (33x12.50R20LT) sizes; case and
    spacing do not matter. Nothing is guessed: a code that could be read in two ways is refused.
    >>> parse_tire("lt305/55 r20 121/118s").code
    'LT305/55R20 121/118S'
    """
    text = plain_text(code, "tire code")
    with as_given(code, text):
        return _parsed(text)


def _parsed(text: str) -> Tire:
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
    found: dict[str, tuple[str, ...]] = {"load range": (tire.load_range,)} if tire.load_range else {}
    while position < len(text):
        if text[position] in " ,;":
            position += 1
            continue
        name, groups, position = _token(tire, text, position)
        if name in found and found[name] != groups:
            raise CodeError(f"{text}: {_NAMES.get(name, name)} is given twice and not the same; keep one.")
        if name in found:
            raise CodeError(f"{text}: {_NAMES.get(name, name)} is given twice; keep one.")
        found[name] = groups
    return _complete(tire, text, found)


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


def _complete(tire: Tire, text: str, found: dict[str, tuple[str, ...]]) -> Tire:
    index, dual, symbol = found.get("service", ("", "", ""))
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
    if "construction" in found and (found["construction"][0] == "RADIAL") != tire.radial:
        word = found["construction"][0].lower()
        raise CodeError(f"{text}: {word} contradicts the size; a radial has R, bias-ply D or -.")
    if not symbol and tire.size_mark in ("H", "S"):
        symbol = tire.size_mark
    letter, plies = _load_range(text, found)
    return replace(
        tire,
        code=" ".join([tire.code, *_normal_service(index, dual, symbol), *_normal_markings(found, letter)]),
        load_index=int(index) if index else None,
        load_index_dual=int(dual) if dual else None,
        speed_symbol=symbol or None,
        load_version=found.get("load version", (None,))[0],
        load_range=letter,
        ply_rating=plies,
        snow=bool({"snow", "severe snow"} & found.keys()),
        special_use="special use" in found,
    )


def _load_range(text: str, found: dict[str, tuple[str, ...]]) -> tuple[str | None, int | None]:
    letter = found.get("load range", (None,))[0]
    plies = int(found["ply rating"][0]) if "ply rating" in found else None
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


def _normal_markings(found: dict[str, tuple[str, ...]], letter: str | None) -> list[str]:
    words = [f"LR{letter}"] if letter else []
    words += [f"{found['ply rating'][0]}PR"] if "ply rating" in found else []
    words += list(found.get("load version", ()))
    words += ["M+S"] if "snow" in found else []
    for name in ("severe snow", "special use", "run-flat", "tube", "lettering", "tread"):
        words += [word.replace(" ", "").replace("-", "") for word in found.get(name, ())]
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
    (r"\d{2}(?:\.\d+)? ?X ?\d+(?:\.\d+)? ?X", "write R before the rim diameter of a radial, such as 33x12.50R20LT."),
    (
        r"(?:P|HL|LT)? ?\d{2,4} ?/",
        "after the slash comes the aspect ratio, then R and the rim diameter, such as 305/45R20.",
    ),
)


# ---------------------------------------------------------------- dimensions


def _refuse_implausible(tire: Tire) -> None:
    """Measured figures that cannot belong to the tire, most often a wrong unit."""
    d = nominal_diameter(tire)
    limits = {
        "section_width": (0.7 * tire.nominal_width, 1.4 * tire.nominal_width, "mm"),
        "tread_width": (0.4 * tire.nominal_width, 1.2 * tire.nominal_width, "mm"),
        "overall_diameter": (d + 40, d + 800, "mm"),
        "on_rim": (3.0, 18.0, "in"),
    }
    for name, (low, high, unit) in limits.items():
        value = getattr(tire, name)
        if value is not None and not low <= value <= high:
            other = "inches" if unit == "mm" else "millimetres"
            raise CodeError(
                f"{tire.code}: {name} is {value:g}; plausible is {low:.4g} to {high:.4g} {unit}. "
                f"Was it given in {other}?"
            )


def nominal_diameter(tire: Tire) -> float:
    """d, the nominal rim diameter [mm]. Source: UN R30 and R54, from memory."""
    return tables.nominal_rim_diameter(tire.rim_code)


def aspect_ratio(tire: Tire) -> float:
    """Section height as a share of section width [%]; of a flotation size worked out from its own figures."""
    if tire.aspect_ratio is not None:
        return tire.aspect_ratio
    return 100.0 * section_height(tire) / tire.nominal_width


def measuring_rim(tire: Tire) -> float:
    """Width of the rim that the nominal dimensions refer to [in].

    S1 x k in inches, to the nearest half inch. k by aspect ratio: ISO 4000-1, from memory; below 25 the share of
    25 is kept, and flotation sizes take 0.8, which reproduces the measuring rims recalled from UN R54 Annex 5.
    >>> measuring_rim(parse_tire("275/40R20")), measuring_rim(parse_tire("33x12.50R20LT"))
    (9.5, 10.0)
    """
    bands = ((75, 0.70), (60, 0.75), (50, 0.80), (45, 0.85), (30, 0.90), (0, 0.92))
    # a flotation size falls into the band of 50, k = 0.80
    share = next(k for least, k in bands if (tire.aspect_ratio or 50) >= least)
    return nearest(share * tire.nominal_width / MM_PER_INCH, 0.5)


def rim_range(tire: Tire) -> tuple[float, float]:
    """Narrowest and widest rim [in]: the maker's own where it is given, else common practice.

    Measuring rim -1.0 to +1.0 in at aspect 50 and above and for flotation sizes, -0.5 to +1.5 in below.
    Source: common practice, from memory, no published source.
    """
    if tire.approved_rims is not None:
        return tire.approved_rims
    middle = measuring_rim(tire)
    low_profile = tire.aspect_ratio is not None and tire.aspect_ratio < 50
    return (middle - 0.5, middle + 1.5) if low_profile else (middle - 1.0, middle + 1.0)


def section_height(tire: Tire) -> float:
    """H [mm]: nominal width x aspect ratio to the nearest mm (an exact half upwards); follows a measured diameter.

    Source: UN R30 6.1.2, from memory.
    >>> section_height(parse_tire("305/45R20"))
    137.0
    """
    if tire.overall_diameter is not None:
        return (tire.overall_diameter - nominal_diameter(tire)) / 2
    if tire.flotation_diameter is not None:
        return (tire.flotation_diameter * MM_PER_INCH - nominal_diameter(tire)) / 2
    assert tire.aspect_ratio is not None
    return nearest(tire.nominal_width * tire.aspect_ratio / 100)


def overall_diameter(tire: Tire) -> float:
    """D = d + 2 H [mm], or the measured one; of a flotation size the code's diameter x 25.4.

    Source: UN R30 6.1.2, UN R54 6.1.2, from memory.
    >>> overall_diameter(parse_tire("305/45R20"))
    782.0
    """
    return nominal_diameter(tire) + 2 * section_height(tire)


def theoretical_rim_share(tire: Tire) -> float:
    """x in A1 = x S1: 0.70 at aspect 50 and above, 0.85 below.

    The regulation lets the maker state it; these are recalled trade values, and at 50 both are met.
    """
    return 0.70 if tire.aspect_ratio is not None and tire.aspect_ratio >= 50 else 0.85


def section_width(tire: Tire, rim: float | None = None) -> float:
    """S = S1 + K (A - A1) [mm] on a rim of this width [in]; default the measuring rim.

    A maker's measured width takes the place of S1 and A1: S = measured + K (rim - on_rim) (on_rim None: it was
    taken on the measuring rim). A flotation size has its nominal width on the measuring rim.
    Source: UN R30 and R54 6.1.1; formula and K read in an amendment, the share behind A1 from memory.
    >>> round(section_width(parse_tire("275/40R20"), 9.5), 2)
    278.02
    """
    rim = measuring_rim(tire) if rim is None else rim
    if tire.section_width is not None:
        anchor, at = tire.section_width, (measuring_rim(tire) if tire.on_rim is None else tire.on_rim) * MM_PER_INCH
    elif tire.aspect_ratio is None:
        anchor, at = tire.nominal_width, measuring_rim(tire) * MM_PER_INCH
    else:
        anchor, at = tire.nominal_width, theoretical_rim_share(tire) * tire.nominal_width
    return anchor + SECTION_WIDTH_PER_RIM * (rim * MM_PER_INCH - at)


def by_r54(tire: Tire) -> bool:
    """Whether UN R54 (light truck, commercial, flotation) and not UN R30 sets the limits."""
    return tire.family in ("LT", "C", "flotation")


def width_factor(tire: Tire) -> float:
    """Largest section width of a new tire over the nominal one: radial 1.04; bias 1.06 (R30), 1.08 (R54).

    Source: UN R30 6.1.4, UN R54 6.1.4, from memory.
    """
    if tire.radial:
        return 1.04
    return 1.08 if by_r54(tire) else 1.06


def height_factors(tire: Tire) -> tuple[float, float]:
    """Least and greatest section height of a new tire over the nominal one.

    0.97; radial 1.04 (special use 1.06); bias 1.08 (R30) or 1.07 (R54), special use 1.09.
    Source: UN R30 6.1.5, UN R54 6.1.5, from memory.
    """
    if tire.radial:
        return 0.97, 1.06 if tire.special_use else 1.04
    if tire.special_use:
        return 0.97, 1.09
    return 0.97, 1.07 if by_r54(tire) else 1.08


def largest_section_width(tire: Tire, rim: float | None = None) -> float:
    """Widest new tire permitted [mm] on a rim of this width [in]."""
    return section_width(tire, rim) * width_factor(tire)


def largest_section_width_us(tire: Tire, rim: float | None = None) -> float:
    """Widest new tire [mm] by the US rule: 7 % or 10 mm over, whichever is more.

    Source: 49 CFR 571.139 S6.1.2, from memory.
    """
    width = section_width(tire, rim)
    return max(1.07 * width, width + 10.0)


def largest_diameter(tire: Tire) -> float:
    """Tallest new tire permitted [mm]: d + 2 H b; one percent more for a snow tire.

    Source: UN R30 6.1.5, UN R54 6.1.5, from memory.
    >>> round(largest_diameter(parse_tire("305/45R20")), 2)
    792.96
    """
    tallest = nominal_diameter(tire) + 2 * section_height(tire) * height_factors(tire)[1]
    return tallest * 1.01 if tire.snow else tallest


def smallest_diameter(tire: Tire) -> float:
    """Smallest new tire permitted [mm]: d + 2 H x 0.97. Source: UN R30 6.1.5, UN R54 6.1.5, from memory."""
    return nominal_diameter(tire) + 2 * section_height(tire) * height_factors(tire)[0]


def revs_per_km(tire: Tire) -> float | None:
    """Turns in a kilometre from the rolling circumference 3.05 D of a radial; None for bias-ply.

    Source: ETRTO design practice, from memory.
    """
    return 1e6 / (ROLLING_FACTOR * overall_diameter(tire)) if tire.radial else None


def load_capacity(tire: Tire) -> float | None:
    """Load of one tire, single fitting [kg]; None where the code does not tell."""
    return None if tire.load_index is None else tables.load_capacities()[tire.load_index]


def speed_rating(tire: Tire) -> tuple[float | None, bool]:
    """Speed [km/h], and whether the tire is rated above that figure: (Y), or ZR without a symbol."""
    if tire.speed_symbol is not None:
        return tables.speed_limits()[tire.speed_symbol], tire.speed_symbol == "(Y)"
    return {"Z": (240.0, True), "V": (210.0, True)}.get(tire.size_mark, (None, False))


def size_on(tire: Tire, rim: float | None = None) -> TireSize:
    """The tire's dimensions, limits, load and speed on a rim of this width [in]; default the measuring rim.

    Raises CodeError for a width that is no rim width.
    """
    width = measuring_rim(tire) if rim is None else float(rim)
    if not 3.0 <= width <= 18.0:
        raise CodeError(f"{tire.code}: a rim width of {width:g} is outside 3 to 18 in. Was it given in millimetres?")
    low, high = rim_range(tire)
    speed, at_least = speed_rating(tire)
    dual = tire.load_index_dual
    return TireSize(
        code=tire.code,
        family=tire.family,
        nominal_width=tire.nominal_width,
        aspect_ratio=tire.aspect_ratio,
        rim_diameter=tire.rim_code,
        radial=tire.radial,
        measuring_rim=measuring_rim(tire),
        rim_min=low,
        rim_max=high,
        rim=width,
        section_width=section_width(tire, width),
        section_height=section_height(tire),
        overall_diameter=overall_diameter(tire),
        section_width_max=largest_section_width(tire, width),
        section_width_max_us=largest_section_width_us(tire, width),
        overall_diameter_min=smallest_diameter(tire),
        overall_diameter_max=largest_diameter(tire),
        load_index=tire.load_index,
        load_index_dual=dual,
        load_kg=load_capacity(tire),
        load_dual_kg=None if dual is None else tables.load_capacities()[dual],
        load_version=tire.load_version,
        load_range=tire.load_range,
        ply_rating=tire.ply_rating,
        speed_symbol=tire.speed_symbol,
        speed_kmh=speed,
        speed_at_least=at_least,
        revs_per_km=revs_per_km(tire),
        cautions=(*_size_cautions(tire, width), *_service_cautions(tire)),
    )


def _size_cautions(tire: Tire, rim: float) -> list[str]:
    low, high = rim_range(tire)
    notes = []
    if not low <= rim <= high:
        notes.append(
            f"A {rim:g} in rim is outside {low:g} to {high:g} in, "
            + ("the range its maker approves." if tire.approved_rims else "common practice for this size. Ask the "
               "tire's maker for the range it approves.")
        )  # fmt: skip
    if not tire.radial:
        notes.append("Read as bias-ply (D, B or - before the rim diameter); a radial has R there.")
    if tire.rim_code in tables.FIFTEEN_DEGREE_RIMS:
        notes.append(f"A {tire.rim_code:g} in rim has a 15 degree bead seat; no section can be drawn for it.")
    return [*notes, *_rule_cautions(tire), *_spelling_cautions(tire)]


def _rule_cautions(tire: Tire) -> list[str]:
    """Where a dimension rests on a rule, and where the rule is unsure."""
    notes = []
    given = {"Section width": tire.section_width, "Overall diameter": tire.overall_diameter}
    notes += [
        f"{name} comes from the size by a rule recalled from memory, not from a data sheet; the maker's own figure can "
        "differ by several millimetres."
        for name, value in given.items()
        if value is None
    ]
    if tire.section_width is None and tire.aspect_ratio == 50:
        less = SECTION_WIDTH_PER_RIM * (0.85 - 0.70) * tire.nominal_width
        notes.append(
            "At aspect 50 makers take a theoretical rim of 0.70 or of 0.85 of the width; 0.70 is taken here, the other "
            f"gives {less:.0f} mm less section width."
        )
    exact = tire.nominal_width * (tire.aspect_ratio or 0) / 100
    if tire.overall_diameter is None and abs(exact % 1 - 0.5) < 1e-6:
        notes.append(
            f"The section height, {exact:g} mm, is rounded up; a table that rounds down has 2 mm less overall diameter."
        )
    if tire.flotation_diameter is not None and tire.overall_diameter is None:
        notes.append(
            "The overall diameter is the code's own, as for deep-lug tread; the table recalled from UN R54 has about "
            "12 mm less for normal tread."
        )
    return notes


def _spelling_cautions(tire: Tire) -> list[str]:
    """Figures that no car tire has, most often a slip of the finger."""
    if tire.aspect_ratio is None:
        return []
    notes = []
    if tire.nominal_width % 10 != 5:
        notes.append(
            "Section widths of car tires end in 5; check the code against the sidewall (one ending in 0 is most often "
            "a motorcycle size)."
        )
    if tire.aspect_ratio % 5:
        notes.append("Aspect ratios step by 5; check the code against the sidewall.")
    return notes


def _service_cautions(tire: Tire) -> list[str]:
    notes = []
    if tire.load_index is None:
        notes.append("The code gives no load index; read it from the sidewall before judging the load.")
    if tire.speed_symbol is None and tire.size_mark in ("Z", "V"):
        least = 240 if tire.size_mark == "Z" else 210
        notes.append(
            f"{tire.size_mark}R without a speed symbol means above {least} km/h; the maker states the speed and the "
            "load at it."
        )
    if tire.speed_symbol == "(Y)":
        notes.append("(Y) means above 300 km/h; the maker states the speed and the load at it.")
    if tire.load_index == 135 or tire.load_index_dual == 135:
        notes.append("Load index 135: printed tables disagree (2180 or 2190 kg); the smaller is given.")
    if tire.load_range and tire.load_index is None:
        notes.append(
            f"Load range {tire.load_range} alone does not tell the load; the sidewall states it and its pressure."
        )
    return notes


def tire_json(size: TireSize) -> dict[str, Any]:
    """The stable machine-readable keys of a tire on a rim (mm, in, kg, km/h), null where the code does not tell."""
    return {
        "code": size.code,
        "nominal_width_mm": size.nominal_width,
        "aspect_ratio": size.aspect_ratio,
        "rim_diameter_in": size.rim_diameter,
        "measuring_rim_in": size.measuring_rim,
        "rim_min_in": size.rim_min,
        "rim_max_in": size.rim_max,
        "rim_in": size.rim,
        "section_width_mm": round(size.section_width, 3),
        "section_height_mm": round(size.section_height, 3),
        "overall_diameter_mm": round(size.overall_diameter, 3),
        "section_width_max_mm": round(size.section_width_max, 3),
        "overall_diameter_min_mm": round(size.overall_diameter_min, 3),
        "overall_diameter_max_mm": round(size.overall_diameter_max, 3),
        "load_index": size.load_index,
        "load_kg": size.load_kg,
        "speed_symbol": size.speed_symbol,
        "speed_kmh": size.speed_kmh,
        "revs_per_km": None if size.revs_per_km is None else round(size.revs_per_km, 2),
        "cautions": list(size.cautions),
        "family": size.family,
        "radial": size.radial,
        "load_index_dual": size.load_index_dual,
        "load_dual_kg": size.load_dual_kg,
        "load_version": size.load_version,
        "load_range": size.load_range,
        "ply_rating": size.ply_rating,
        "speed_at_least": size.speed_at_least,
        "section_width_max_us_mm": round(size.section_width_max_us, 3),
    }
