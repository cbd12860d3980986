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
    per, places = (25.4, digits + 1) if units == "in" else (1.0, digits)
    assert to_mm(text) == pytest.approx(mm, abs=0.5 * 10.0**-places * per + 1e-6)
    assert not re.match(r"-0(?:\.0+)? ", text), "no negative zero"
    assert (text[0] in "+-") or not sign


@pytest.mark.parametrize(
    ("sentence", "turned"),
    [
        ("bore 73.1 mm is 3.0 mm larger", f"bore {73.1 / 25.4:.2f} in is {3 / 25.4:.2f} in larger"),
        ("moved by +12.7 mm", "moved by +0.50 in"),
        ("-25.4 mm would be left", "-1.00 in would be left"),
        ("5x114.3 mm on the hub", "5x4.50 in on the hub"),
        ("ET45, 20x10, 98 kg and 240 km/h", "ET45, 20x10, 98 kg and 240 km/h"),
        ("camber_per_100mm is not given", "camber_per_100mm is not given"),
        # a range has one unit for both of its ends
        ("lies outside the travel (-50.8 to 76.2 mm)", "lies outside the travel (-2.00 to 3.00 in)"),
        ("it should be 0 to 254 mm", "it should be 0.00 to 10.00 in"),
    ],
)
def test_sentences_in_inches(sentence: str, turned: str) -> None:
    assert in_units(sentence, "in") == turned
    assert in_units(sentence, "mm") == sentence
