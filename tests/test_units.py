"""Texts to millimetres and back. 25.4 mm to the inch is exact (international yard and pound agreement, 1959)."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitment.errors import UnitError
from fitment.units import MM_PER_INCH, in_units, inches, length_text, split_quantity, to_mm, to_plain

FINITE = st.floats(-5000, 5000)


@pytest.mark.parametrize(
    ("given_length", "mm"),
    [
        (62, 62.0),
        (-4.5, -4.5),
        ("62 mm", 62.0),
        ("11.4 cm", 114.0),
        ("1.588 m", 1588.0),
        ("4.5 in", 4.5 * 25.4),
        ("4 1/2 in", 4.5 * 25.4),
        ("4-1/2 in", 4.5 * 25.4),
        ("1/2in", 12.7),
        ('5.5"', 5.5 * 25.4),
        ("5.5''", 5.5 * 25.4),
        ("2 ft", 2 * 12 * 25.4),
        ("1 foot", 12 * 25.4),
        ("-3/8 in", -0.375 * 25.4),
        ("+7 inches", 7 * 25.4),
        ("1e2 mm", 100.0),
        (".5 in", 12.7),
        ("2 yard", 2 * 3 * 12 * 25.4),  # by the unit library
    ],
)
def test_lengths(given_length: object, mm: float) -> None:
    assert to_mm(given_length) == pytest.approx(mm, abs=1e-9)


def test_inches_come_out_even() -> None:
    assert to_mm("4.5 in") == 114.3
    assert to_mm("5.5 in") == 139.7


@pytest.mark.parametrize(
    "given_length",
    ["", "in", "4.5", "4,5 in", "1/0 in", "4 kg", "4 in in", "4 in + 1 mm", "inf mm", "nan", "1e400 mm", "1_000 mm",
     "__import__('os') mm", "4 " + "m" * 50, None, True, [4], {"value": 4}, float("nan"), float("inf")],
)  # fmt: skip
def test_what_is_no_length(given_length: object) -> None:
    with pytest.raises(UnitError, match=r"."):
        to_mm(given_length)


def test_a_text_without_a_unit_says_what_to_write() -> None:
    with pytest.raises(UnitError, match=r"4\.5 without quotes for mm"):
        to_mm("4.5")


@pytest.mark.parametrize("value", ["12", None, True, float("nan"), float("-inf"), [1]])
def test_what_is_no_plain_number(value: object) -> None:
    with pytest.raises(UnitError, match="degrees"):
        to_plain(value, "degrees")


def test_quantities() -> None:
    assert split_quantity("4 1/2 in") == (4.5, "in")
    assert split_quantity("-0.25") == (-0.25, "")


@pytest.mark.parametrize(
    ("mm", "text"),
    [
        (0, "0 in"), (114.3, "4 1/2 in"), (25.4, "1 in"), (12.7, "1/2 in"), (1.5875, "1/16 in"), (-3.175, "-1/8 in"),
        (0.3, "0 in"), (-0.3, "0 in"), (25.4 * 15.97, "16 in"), (-41.275, "-1 5/8 in"),
    ],
)  # fmt: skip
def test_inches_as_the_trade_writes_them(mm: float, text: str) -> None:
    assert inches(mm) == text


@given(mm=FINITE)
def test_sixteenths_are_never_off_by_more_than_half_of_one(mm: float) -> None:
    value, unit = split_quantity(inches(mm))
    assert unit == "in"
    assert abs(value - mm / MM_PER_INCH) <= 1 / 32 + 1e-9


@given(mm=FINITE, units=st.sampled_from(["mm", "in"]), digits=st.integers(0, 2), sign=st.booleans())
def test_printed_lengths_read_back(mm: float, units: str, digits: int, sign: bool) -> None:
    text = length_text(mm, units, digits=digits, sign=sign)
    step = 10.0**-digits if units == "mm" else 25.4 * (10.0 ** -(digits + 1) if digits else 1 / 16)
    assert to_mm(text) == pytest.approx(mm, abs=0.5 * step + 1e-6)
    assert not re.match(r"-0(?:\.0+)? ", text), "no negative zero"
    assert (text[0] in "+-") or not sign


@pytest.mark.parametrize(
    ("sentence", "turned"),
    [
        # bores and circles stay as the trade writes them
        ("bore 73.1 mm is 0.5 mm too small for 73.6 mm", "bore 73.1 mm is 0.5 mm too small for 73.6 mm"),
        ("bore 73.1 mm sits on the 73 mm register", "bore 73.1 mm sits on the 73 mm register"),
        ("the hub's register is 78 mm, 3.0 mm long", f"the hub's register is 78 mm, {3 / 25.4:.2f} in long"),
        ("moved by +12.7 mm", "moved by +0.50 in"),
        ("-25.4 mm would be left", "-1.00 in would be left"),
        ("5x114.3 mm on the hub", "5x114.3 on the hub"),
        ("ET45, 20x10, 98 kg and 240 km/h", f"ET45, 20x10, {98 / 0.45359237:.0f} lb and {240 / 1.609344:.0f} mph"),
        # load index 112 and symbols H, V, W, as published in lb and mph
        ("1120 kg; 210, 240 or 270 km/h", "2469 lb; 130, 149 or 168 mph"),
        (
            "two count 2120 kg / 1.10 = 1927 kg",
            f"two count {2120 / 0.45359237:.0f} lb / 1.10 = {1927 / 0.45359237:.0f} lb",
        ),
        # what a shop weighs out: 1 oz = 28.3495 g, 1 oz in = 720.08 g mm, 1 lbf = 4.44822 N
        (
            "each 1 kg shakes like 5.33 g (imbalance 1300 g mm) and pulls with 37.8 N",
            "each 2.2 lb shakes like 0.19 oz (imbalance 1.8 oz in) and pulls with 8.5 lbf",
        ),
        (
            "ring, 73.1 mm outside and 70.5 mm inside: the bore is 2.6 mm larger, 1.3 mm off",
            "ring, 73.1 mm outside and 70.5 mm inside: the bore is 2.6 mm larger, 0.05 in off",
        ),
        (
            "the wheel has 5x120 mm, the hub 5x114.3 mm: 5.70 mm apart",
            "the wheel has 5x120, the hub 5x114.3: 5.70 mm apart",
        ),
        (
            "67.2 mm between 5 studs is a bolt circle of 114.3 mm",
            "2.65 in between 5 studs is a bolt circle of 114.3 mm",
        ),
        # heights are set by tape: 35 = 1.378, 70 = 2.756, 80 = 3.150 in
        ("lowered 35 mm, travel -70 to +80 mm", "lowered 1 3/8 in, travel -2 3/4 to +3 1/8 in"),
        ("at least 490 kg", "at least 1081 lb"),  # 1080.27
        ("a pad no thicker than 28 mm", "a pad no thicker than 1.10 in"),  # 1.1024
        ("+50 N m", f"+{50 / (0.45359237 * 9.80665 * 0.3048):.0f} lb ft"),
        ("434 turns a km (-12), 2 % more per km", f"{434 * 1.609344:.0f} turns a mile (-19), 2 % more per mile"),
        ("again after 50 to 100 km", "again after 30 to 60 miles"),  # 31.1 and 62.1
        # what is asked for is rounded to its safe side: 15.7087, 5.7087 in
        ("at least 399 mm, at most 145 mm", "at least 15.71 in, at most 5.70 in"),
        ("0.3 mm are left", f"{0.3 / 25.4:.3f} in are left"),
        ("camber_per_100mm is not given", "camber_per_100mm is not given"),
        # a range has one unit for both of its ends
        ("lies outside the travel (-50.8 to 76.2 mm)", "lies outside the travel (-2.00 to 3.00 in)"),
        ("it should be 0 to 254 mm", "it should be 0.00 to 10.00 in"),
    ],
)
def test_sentences_in_inches(sentence: str, turned: str) -> None:
    assert in_units(sentence, "in") == turned
    assert in_units(sentence, "mm") == sentence


@pytest.mark.parametrize(
    ("sentence", "turned"),
    [
        ("with the tape 149 mm up, 11 mm out", "with the tape 5 7/8 in up, 7/16 in out"),  # 5.866, 0.433
        (
            "Raise the hub by {100 mm|4 in}: change for {100 mm|4 in} of bump",
            "Raise the hub by 4 in: change for 4 in of bump",
        ),
        ("100 mm above the ground", "3 15/16 in above the ground"),
        ("a body lowered by 60 mm stands at +60 mm", "a body lowered by 2 3/8 in stands at +2 3/8 in"),
        ("at least 402 mm, 0.5 mm of play", "at least 15 7/8 in, 0.02 in of play"),  # 15.8268: 15 13/16 is too little
    ],
)
def test_what_a_tape_reads_is_in_sixteenths(sentence: str, turned: str) -> None:
    assert in_units(sentence, "in", tape=True) == turned
    assert in_units(sentence, "mm", tape=True) == sentence.replace("{100 mm|4 in}", "100 mm")
