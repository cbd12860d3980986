"""Wheels and tires as sellers spell them: each has the one reading worked by hand, or is refused with all of them.

A rim is width x diameter in inches (ISO 4000, ETRTO marks 8 1/2 J x 19 H2), an inch 25.4 mm exactly; backspacing to
offset is ET = BS - (rim width + 1 in) / 2 (geometry, flanges of 12.7 mm each, common practice).
"""

from __future__ import annotations

import re

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from fitment.errors import CodeError
from fitment.parts.hub import BoltCircle
from fitment.parts.tire_code import parse_tire
from fitment.parts.wheel import parse_wheel
from fitment.profile.values import BoltCircleRule, NumberRule, RefusedError

# (text, diameter, width [in], offset [mm], lugs and circle [mm], bore [mm])
SPELLINGS = [
    ("20x10 +25 5x120 72.6", 20, 10, 25, (5, 120), 72.6),
    ("20x10 +25 5x120 72.6 bore", 20, 10, 25, (5, 120), 72.6),
    ("20x10 +25 72.6mm bore 5x120", 20, 10, 25, (5, 120), 72.6),
    ("20x10 +25 5/120 72.6", 20, 10, 25, (5, 120), 72.6),
    ("20x10 +25 5-120 72.6 CB", 20, 10, 25, (5, 120), 72.6),
    ("20x10 ET25 LK5x120 ML72.6", 20, 10, 25, (5, 120), 72.6),
    ("20x10 ET25 LK 120/5 ML 72,6", 20, 10, 25, (5, 120), 72.6),
    ("20x10 ET25 PCD 5x120 DIA 72.6", 20, 10, 25, (5, 120), 72.6),
    ("20x10 | 5x120 PCD | +25mm | 72.6mm", 20, 10, 25, (5, 120), 72.6),
    ("20x10 / 5x120 / ET25 / CB72.6", 20, 10, 25, (5, 120), 72.6),
    ("20x9,5 ET25", 20, 9.5, 25, None, None),
    ("9,5x20 ET25", 20, 9.5, 25, None, None),
    ("9.5Jx20 ET25", 20, 9.5, 25, None, None),
    ("9.5x20ET25", 20, 9.5, 25, None, None),
    ("10x20 ET25", 20, 10, 25, None, None),  # no rim is 20 in wide
    ("20 x 9.5J offset +25", 20, 9.5, 25, None, None),
    ('20" x 9.5" 25mm offset', 20, 9.5, 25, None, None),
    ("20x9.5 + 25", 20, 9.5, 25, None, None),
    ("20x10 -12mm 6x139.7 CB 106.1", 20, 10, -12, (6, 139.7), 106.1),
    ("20x10 -12 6x5.5 hub bore 106.1", 20, 10, -12, (6, 139.7), 106.1),
    ("20x10 -12 6x139.7 106.1", 20, 10, -12, (6, 139.7), 106.1),
    ('15x8 ET0 5x4.5"', 15, 8, 0, (5, 114.3), None),
    ("15x8 ET0 5 on 4 3/4", 15, 8, 0, (5, 120.65), None),
    ("15x8 ET0 5/4.5", 15, 8, 0, (5, 114.3), None),
    ("8 1/2 J x 19 H2 ET35 5x112 66,6", 19, 8.5, 35, (5, 112), 66.6),
    ("19x8 1/2 ET35", 19, 8.5, 35, None, None),
    ('20x10 6 1/8" backspace', 20, 10, 6.125 * 25.4 - 5.5 * 25.4, None, None),  # 15.875
    ("20x10 6 1/8 backspacing", 20, 10, 15.875, None, None),  # an eighth is one of an inch
    ("17x8,ET35,5x114,3,CB67,1", 17, 8, 35, (5, 114.3), 67.1),
    ("20x10,5x120,ET25", 20, 10, 25, (5, 120), None),  # a width of 10.5 would leave "x120"
    ("20x10 5x120 ET25,72.6", 20, 10, 25, (5, 120), 72.6),
]


@pytest.mark.parametrize(("text", "diameter", "width", "offset", "circle", "bore"), SPELLINGS)
def test_the_one_reading(
    text: str, diameter: float, width: float, offset: float, circle: tuple[int, float] | None, bore: float | None
) -> None:
    wheel = parse_wheel(text)
    assert (wheel.rim_diameter, wheel.rim_width) == (diameter, width)
    assert wheel.offset == pytest.approx(offset, abs=1e-6)
    assert wheel.bolt_circle == (BoltCircle(*circle) if circle else None)
    assert wheel.centre_bore == bore
    assert parse_wheel(wheel.spec) == wheel


@pytest.mark.parametrize(
    ("text", "readings"),
    [
        ("20x10 5x120 72.6", ("ET72.6 for the offset", "CB72.6 for the bore")),
        ("20x10 ET25,72", ("20x10 ET25.72", "20x10 ET25 CB72")),
        ("20x10 ET25 5x120,72", ("5x120.72", "5x120 CB72")),
        ("20x10 ET25 6x139.7 114.3", ("CB114.3", "6x114.3")),
        ("20x10 ET25 100", ("CB100", "5x100")),
        ("20x10 ET25 6x200 164.7", ("CB164.7", "BS 164.7mm")),  # 5.5 in + 25 mm
        ("20x10 72.6 offset 60", ("OFFSET 72.6", "OFFSET 60")),
        ("20x10-12 5x120", ("minus", "hyphen")),
        ("20x10 BS 6.5 5x120", ("6.5in", "6.5mm")),
        ("20x10 ET25 6x11", ("6x11in", "6x11cm")),
    ],
)
def test_two_readings_are_refused_and_both_named(text: str, readings: tuple[str, str]) -> None:
    with pytest.raises(CodeError) as refusal:
        parse_wheel(text)
    for reading in readings:
        assert reading in str(refusal.value)


@pytest.mark.parametrize(
    "text",
    [
        "20x10 ET25 5x120/112",  # drilled twice
        "20x10 ET25 5x120 / 112",
        "20x10 ET25 5x114.3 110",  # no bore leaves so little to the circle
        "20x10 +25 5x120 CB72.6 71.6",
        "20x10 +25 5/8",  # a fraction
        "20x10 +25 35",
        "20x10 +25 5x120 72.6 70.1",
    ],
)
def test_what_no_reading_fits_is_refused(text: str) -> None:
    with pytest.raises(CodeError):
        parse_wheel(text)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("265/35/18", "265/35R18"),  # bias-ply is not made so low
        ("265/35/18 97Y XL", "265/35R18 97Y XL"),
        ("305/35ZR20", "305/35ZR20"),
        ("LT285/70R17", "LT285/70R17"),
        ("P235/75R15", "P235/75R15"),
        ("31x10.50R15LT", "31x10.50R15LT"),
        ("31X10,50 R15 LT 109Q", "31x10.50R15LT 109Q"),
        ("265/35R18,97Y", "265/35R18 97Y"),
    ],
)
def test_tires_as_sellers_write_them(text: str, code: str) -> None:
    assert parse_tire(text) == parse_tire(code)


@pytest.mark.parametrize(
    ("text", "readings"),
    [
        ("235/75/15", "235/75R15 for a radial, 235/75D15 for bias-ply"),
        ("31x10.50x15", "31x10.50R15 for a radial, 31x10.50-15 for bias-ply"),
    ],
)
def test_tires_with_two_readings_are_refused(text: str, readings: str) -> None:
    with pytest.raises(CodeError, match=re.escape(readings)):
        parse_tire(text)


def comma(text: str) -> str:
    return text.replace(".", ",")


SIZES = [
    lambda d, w: f"{d}x{w:g}", lambda d, w: f"{w:g}Jx{d}", lambda d, w: f"{d} x {w:g}J", lambda d, w: f"{w:g}x{d}",
    lambda d, w: f'{d}" x {w:g}"', lambda d, w: f"{w:g} J x {d} H2", lambda d, w: comma(f"{w:g}Jx{d}"),
]  # fmt: skip
OFFSETS = [
    lambda e: f"ET{e:g}", lambda e: f"{e:+g}", lambda e: f"offset {e:g}", lambda e: f"{e:+g}mm",
    lambda e: f"ET {e:g} mm",
    lambda e: f"{e:+g} offset", lambda e: comma(f"ET{e:g}"),
]  # fmt: skip
CIRCLES = [
    lambda n, c: f"{n}x{c:g}", lambda n, c: f"{n}/{c:g}", lambda n, c: f"{n}-{c:g}", lambda n, c: f"LK {n}x{c:g}",
    lambda n, c: f"{c:g}/{n}", lambda n, c: f"{n}x{c / 25.4:.4f}in", lambda n, c: f"{n} on {c:g}",
    lambda n, c: comma(f"PCD {n}x{c:g}"),
]  # fmt: skip
BORES = [
    lambda b: f"CB{b:g}", lambda b: f"{b:g} bore", lambda b: f"ML{b:g}", lambda b: f"hub bore {b:g}",
    lambda b: f"{b:g}",
    lambda b: comma(f"{b:g} CB"), lambda b: f"{b:g}mm",
]  # fmt: skip


@given(
    diameter=st.integers(15, 24),
    halves=st.integers(10, 28),
    offset=st.integers(-80, 150).map(lambda half: half / 2),
    circle=st.sampled_from([(4, 100), (5, 114.3), (5, 120), (6, 139.7), (8, 165.1), (5, 112)]),
    bore=st.sampled_from([54.1, 57.1, 66.6, 72.6, 73.1, 78.1]),
    styles=st.tuples(*(st.integers(0, 100) for _ in range(4))),
    order=st.permutations([0, 1, 2]),
    between=st.sampled_from([" ", ", ", "; ", " | ", " / "]),
)
def test_every_style_says_the_same_wheel(
    diameter: int, halves: int, offset: float, circle: tuple[int, float], bore: float, styles: tuple[int, ...],
    order: list[int], between: str,
) -> None:  # fmt: skip
    width = halves / 2
    writers = [SIZES[styles[0] % len(SIZES)], OFFSETS[styles[1] % len(OFFSETS)]]
    size, told = writers[0](diameter, width), writers[1](offset)  # type: ignore[call-arg]
    words = [told, CIRCLES[styles[2] % len(CIRCLES)](*circle), BORES[styles[3] % len(BORES)](bore)]
    if words[2][0].isdigit() and words[2].rstrip("m").replace(".", "").isdigit():  # the bore without a word
        assume(abs(bore - (width * 25.4 + 25.4) / 2 - offset) > 4)  # could be the backspacing
        assume(not (told.startswith("offset") and offset >= 40))  # could be the offset, and that the bore
    wheel = parse_wheel(between.join([size, *(words[i] for i in order)]))
    assert (wheel.rim_diameter, wheel.rim_width, wheel.offset, wheel.centre_bore) == (diameter, width, offset, bore)
    assert wheel.bolt_circle is not None
    assert wheel.bolt_circle.lugs == circle[0]
    assert wheel.bolt_circle.diameter == pytest.approx(circle[1], abs=2e-3)


# ---------------------------------------------------------------- in a profile


@pytest.mark.parametrize(
    ("text", "circle"),
    [
        ("5x114.3", (5, 114.3)),
        ("5/120", (5, 120)),
        ("5-120", (5, 120)),
        ("120/5", (5, 120)),
        ("5x114,3", (5, 114.3)),
        ("5 on 4 3/4", (5, 120.65)),
        ("6x5.5", (6, 139.7)),
    ],
)
def test_a_hub_reads_the_circles_that_a_wheel_does(text: str, circle: tuple[int, float]) -> None:
    assert BoltCircleRule().read(text) == circle
    assert parse_wheel(f"17x8 ET0 {text}").bolt_circle == BoltCircle(*circle)


LOADS, SPEEDS = NumberRule(50, 15000, "kg"), NumberRule(20, 500, "km/h")


@pytest.mark.parametrize(
    ("rule", "text", "value"),
    [
        (LOADS, "2400 lb", 2400 * 0.45359237),  # exact: international pound, 1959
        (LOADS, "2,400 lbs", 2400 * 0.45359237),  # 2.4 lb are no axle's load
        (LOADS, "980 kg", 980),
        (SPEEDS, "120 mph", 120 * 1.609344),
        (SPEEDS, "190 km/h", 190),
    ],
)
def test_pounds_and_miles_are_converted(rule: NumberRule, text: str, value: float) -> None:
    assert rule.read(text) == pytest.approx(value, abs=0.006)


@pytest.mark.parametrize(
    ("rule", "text", "said"),
    [
        (LOADS, "2400 mph", "kg or lb"),
        (LOADS, "2 400 lb", "kg or lb"),
        (LOADS, "60,500 lb", "not a plausible"),
        (LOADS, "", "kg or lb"),
        (NumberRule(2, 20000, "kg"), "12,500 lb", "12.5 or 12500"),
        (SPEEDS, "0 mph", "not a plausible"),
    ],
)
def test_other_units_and_implausible_figures_are_refused(rule: NumberRule, text: str, said: str) -> None:
    with pytest.raises(RefusedError, match=said):
        rule.read(text)
