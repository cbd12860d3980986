"""Wheel specs. Offsets and edges are worked by hand: overall width = rim width + 2 x 12.7 mm (common practice),
backspacing = overall width / 2 + ET (geometry)."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from fitment.errors import CodeError
from fitment.parts.hub import BoltCircle
from fitment.parts.wheel import (
    assumptions,
    backspacing,
    edges,
    offset_from_backspacing,
    overall_width,
    parse_wheel,
    wheel_json,
)


@pytest.mark.parametrize(
    ("spec", "width", "back"),
    [
        ("20x10 ET25", 10 * 25.4 + 25.4, (10 * 25.4 + 25.4) / 2 + 25),  # 279.4 and 164.7
        ("20x10 ET0", 279.4, 139.7),  # zero offset: the face stands midway
        ("17x8 ET-12", 228.6, 102.3),
        ("15x6 ET35", 177.8, 123.9),
        ("20x10.5 ET-44", 292.1, 102.05),
    ],
)
def test_offset_to_backspacing_by_hand(spec: str, width: float, back: float) -> None:
    wheel = parse_wheel(spec)
    assert overall_width(wheel) == pytest.approx(width, abs=1e-9)
    assert backspacing(wheel) == pytest.approx(back, abs=1e-9)


@pytest.mark.parametrize(
    ("spec", "offset"),
    [
        ("20x10 BS 6.5in", 6.5 * 25.4 - 279.4 / 2),  # 25.4
        ("20x10 BS165mm", 165 - 139.7),
        ("20x10 BS 5 1/2in", 0.0),  # 139.7 mm is half the overall width
        ('17x8 BS 4.5"', 4.5 * 25.4 - 228.6 / 2),  # 0.0
        ("20x10 backspacing 4in", 4 * 25.4 - 139.7),
    ],
)
def test_backspacing_to_offset_by_hand(spec: str, offset: float) -> None:
    wheel = parse_wheel(spec)
    assert wheel.offset == pytest.approx(offset, abs=1e-9)
    assert any("worked out from the backspacing" in text for text in assumptions(wheel))


def test_measured_overall_width_decides_what_a_backspacing_means() -> None:
    wheel = parse_wheel("20x10 BS165mm", overall_width=282.0)
    assert wheel.offset == pytest.approx(165 - 141, abs=1e-9)
    assert overall_width(wheel) == 282


def test_edges_from_the_hub_face() -> None:
    # half of 279.4 is 139.7: outboard edge 139.7 - 25, inboard edge -(139.7 + 25); a spacer moves both outboard
    assert edges(parse_wheel("20x10 ET25")) == pytest.approx((-164.7, 114.7), abs=1e-9)
    assert edges(parse_wheel("20x10 ET25"), 20.0) == pytest.approx((-144.7, 134.7), abs=1e-9)


@given(st.floats(-150, 150), st.floats(80, 450))
def test_backspacing_and_offset_are_inverse(offset: float, width: float) -> None:
    assert offset_from_backspacing(width / 2 + offset, width) == pytest.approx(offset, abs=1e-6)


@given(st.floats(-150, 150), st.integers(6, 32))
def test_mirrored_offset_mirrors_the_edges(offset: float, half_inches: int) -> None:
    wheel = replace(parse_wheel("20x10 ET0"), rim_width=half_inches / 2, offset=offset)
    inner, outer = edges(wheel)
    assert edges(replace(wheel, offset=-offset)) == pytest.approx((-outer, -inner), abs=1e-9)


@pytest.mark.parametrize(
    ("text", "spec"),
    [
        ("20x10 ET25 6x139.7 CB78.1", "20x10 ET25 6x139.7 CB78.1"),
        ("20x10J +25", "20x10 ET25"),
        ("20x10J+25", "20x10 ET25"),
        ("20x10 -12 6x5.5in", "20x10 ET-12 6x139.7"),
        ("10Jx20 ET25", "20x10 ET25"),
        ("10J x 20 ET25", "20x10 ET25"),
        ("20 x 10 et 25mm", "20x10 ET25"),
        ("20\u00d710 ET25", "20x10 ET25"),
        ("20x10.5 ET-44", "20x10.5 ET-44"),
        ("20x10 CB 78.1mm 6-139.7 ET25", "20x10 ET25 6x139.7 CB78.1"),
        ("20x10, ET25, 6x139.7", "20x10 ET25 6x139.7"),
        ("20x10 offset +12 bore 70.5", "20x10 ET12 CB70.5"),
        ("20x10 ET0 6x5 1/2in", "20x10 ET0 6x139.7"),
        ('20x10 ET0 8x6.5"', "20x10 ET0 8x165.1"),
        ("20x10 ET 1in", "20x10 ET25.4"),
        ("20x10 \u221212", "20x10 ET-12"),
        ("15x6K ET35", "15x6K ET35"),
        ("20x10 BS165mm", "20x10 BS 165mm"),
        ("20x10 ET25 BS 6.5in", "20x10 ET25"),  # 164.7 mm beside 165.1 mm: the same, rounded to a half inch
    ],
)
def test_normal_spelling(text: str, spec: str) -> None:
    wheel = parse_wheel(text)
    assert wheel.spec == spec
    assert parse_wheel(wheel.spec) == wheel


def test_fields_of_a_spec() -> None:
    wheel = parse_wheel("20x10 ET25 6x139.7 CB78.1")
    assert (wheel.rim_diameter, wheel.rim_width, wheel.offset) == (20, 10, 25)
    assert (wheel.bolt_circle, wheel.centre_bore) == (BoltCircle(6, 139.7), 78.1)
    bare = parse_wheel("20x10 ET25")
    assert bare.bolt_circle is bare.centre_bore is None


@pytest.mark.parametrize(
    ("inch", "mm"),
    # 25.4 mm exactly: international yard and pound agreement, 1959
    [
        ("6x5.5in", 139.7),
        ("5x4.5in", 114.3),
        ("5x4 3/4in", 120.65),
        ("5x5in", 127.0),
        ("8x6.5in", 165.1),
        ("6x13.97cm", 139.7),
        # without a unit: no circle is 4.5 mm, and none in use is 3.2 to 9 cm (98 to 210 mm are)
        ("5x4.5", 114.3),
        ("6x5.5", 139.7),
        ("5x4 3/4", 120.65),
        ("8x8.27", 210.058),
    ],
)
def test_inch_and_mm_circles_are_equal(inch: str, mm: float) -> None:
    assert parse_wheel(f"20x10 ET25 {inch}") == parse_wheel(f"20x10 ET25 {inch[0]}x{mm}")
    assert parse_wheel(f"20x10 ET25 {inch}").bolt_circle == BoltCircle(int(inch[0]), mm)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "empty"),
        ("20", "diameter x width"),
        ("20x10", "offset is missing"),
        ("20x10 6x139.7 CB78.1", "offset is missing"),
        ("20x10 ET25 6x11", "no unit.*write 6x11in or 6x11cm"),
        ("20x10 BS 6.5", "no unit; write BS 6.5in or BS 6.5mm"),
        ("20x10 25", "write ET25 for the offset, CB25 for the bore"),
        ("20x10-12", "could be a minus or a hyphen.*ET-12"),
        ("20x10 - 12", "could be a minus or a hyphen"),
        ("20x10 ET25 ET30", "offset stands twice"),
        ("20x10 ET25 +25", "offset stands twice"),
        ("20x10 ET25 BS 5in", "contradict each other.*ET-12.7"),
        ("20x10 ET25 5x114.3 5x100", "bolt circle stands twice"),
        ("20x10 ET25 5x114.3/120", "drilled twice"),
        ("20x10 ET25 CB78.1 CB106", "centre bore stands twice"),
        ("20x10 20x11 ET25", "second rim size"),
        ("6x139.7 20x10 ET25", "size comes first"),
        ("ET25 20x10", "starts with the rim size"),
        ("305/45R20", "tire code"),
        ("33x12.50R20LT", "tire code"),
        ("20x10 ET25 305/45R20", "belongs to a tire"),
        ("508x254 ET25", "in millimetres"),
        ("20x2 ET25", "width 3 to 16"),
        ("9x5 ET25", "diameter is 10 to 30"),
        ("22.5x9 ET0", "15 degree"),
        ("18.5x9 ET0", "no 18.5 in rim"),
        ("16x16 ET0", "diameter comes first"),
        ("20x10 ET250", "-150 to 150"),
        ("20x10 BS 14in", "-150 to 150"),
        ("20x10 ET25 6x13.97", "no unit.*write 6x13.97cm"),
        ("20x10 ET25 5x1143", "80 to 300"),
        ("20x10 ET25 6x55in", "80 to 300"),
        ("20x10 ET25 2x139.7", "3 to 10"),
        ("20x10 ET25 12x139.7", "3 to 10"),
        ("20x10 ET25 CB3", "40 to 200.*write 3in"),
        ("20x10 ET25 CB781", "40 to 200"),
        ("20x10 BS 1/0in", "divides by zero"),
        ("20x10 ET25 OFSET", r'"OFSET" at character 12 .*Did you mean "OFFSET"'),
        ("20x10 ET", r'"ET" at character 7 has no number behind it'),
        ("20x10 ET25 CB", r'"CB" at character 12 has no number behind it'),
        ("20x10 ET25 alloy", "ALLOY.*not read here"),
        ("2Ox10 ET25", "letter O.*20X10"),
        ("20x10 ET25 \u00d878", r"U\+00D8"),
        ("20x10 " * 30, "at most 100"),
    ],
)
def test_refusals_say_why(text: str, reason: str) -> None:
    with pytest.raises(CodeError, match=re.compile(reason, re.IGNORECASE)):
        parse_wheel(text)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("overall_width", 11.0),
        ("overall_width", 250.0),
        ("pad_diameter", 6.0),
        ("pad_thickness", 0.5),
        ("barrel_thickness", 0.2),
    ],
)
def test_measured_figure_in_the_wrong_unit(field: str, value: float) -> None:
    with pytest.raises(CodeError, match=rf"{field} is .* mm; it should be"):
        replace(parse_wheel("20x10 ET25"), **{field: value})  # type: ignore[arg-type]


PIECES = [
    "20x10", "20", "x", "10", "J", " ", "ET", "25", "-12", "+", "BS", "6.5",
    "in", "mm", '"', "6x", "139.7", "CB", "78.1", "1/2", "1/0", "-", "\u00d7", "/",
]  # fmt: skip


@given(
    st.one_of(
        st.text(max_size=120),
        st.lists(st.sampled_from(PIECES), max_size=14).map("".join),
        st.lists(st.sampled_from(PIECES), max_size=10).map(lambda words: "20x10 " + " ".join(words)),
    )
)
@example("20x10 ET25 " + "9" * 80)
@example("\x00")
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        wheel = parse_wheel(text)
    except CodeError as error:
        reason = str(error)
    else:
        reason = "read"
        assert parse_wheel(wheel.spec).offset == pytest.approx(wheel.offset, abs=1e-4)
        assert wheel_json(wheel)["rim_diameter_in"] == wheel.rim_diameter
    assert reason.isprintable()
    assert reason


@given(
    diameter=st.integers(13, 26),
    halves=st.integers(6, 26),
    offset=st.integers(-1500, 1500).map(lambda n: n / 10),
    lugs=st.integers(3, 10),
    circle=st.integers(800, 3000).map(lambda n: n / 10),
    bore=st.integers(400, 2000).map(lambda n: n / 10),
)
def test_round_trip(diameter: int, halves: int, offset: float, lugs: int, circle: float, bore: float) -> None:
    if halves / 2 >= diameter:
        return
    wheel = parse_wheel(f"{diameter}x{halves / 2:g} ET{offset} {lugs}x{circle} CB{bore}")
    assert (wheel.offset, wheel.bolt_circle, wheel.centre_bore) == (offset, BoltCircle(lugs, circle), bore)
    assert parse_wheel(wheel.spec) == wheel


def test_json_keeps_its_keys() -> None:
    out = wheel_json(parse_wheel("20x10 ET25 6x139.7 CB78.1"))
    assert list(out)[:9] == [
        "spec", "rim_diameter_in", "rim_width_in", "offset_mm", "backspacing_mm", "overall_width_mm", "lugs",
        "bolt_circle_mm", "centre_bore_mm",
    ]  # fmt: skip
    assert out["backspacing_mm"] == pytest.approx(164.7)
    assert out["bolt_circle_in"] == pytest.approx(5.5)
    assert (out["inner_edge_mm"], out["outer_edge_mm"]) == pytest.approx((-164.7, 114.7))
    bare = wheel_json(parse_wheel("20x10 ET25"))
    assert bare["lugs"] is bare["bolt_circle_mm"] is bare["centre_bore_mm"] is None
    assert len(bare["assumptions"]) == 3
