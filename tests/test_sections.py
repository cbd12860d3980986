"""Outlines of wheel and tire: exact where the codes are exact, sound over everything a builder could type."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely import Point, Polygon, affinity
from shapely.ops import unary_union

from fitment.errors import CodeError
from fitment.parts import sections
from fitment.parts.sections import assumptions, rim_contour, tire_section, tread_width, wheel_section
from fitment.parts.tables import ShoulderShape
from fitment.parts.tire import (
    Shoulder,
    Tire,
    largest_diameter,
    largest_section_width,
    overall_diameter,
    section_height,
    section_width,
)
from fitment.parts.tire_code import parse_tire
from fitment.parts.wheel import Wheel, overall_width, parse_wheel

WHEEL = parse_wheel("20x10 ET25 6x139.7 CB78.1")
TIRE = parse_tire("305/45R20")
PAIRS = [
    ("305/45R20", "20x10 ET25 6x139.7 CB78.1"),
    ("275/40R20", "20x10 ET30 5x114.3 CB70.6"),
    ("205/70R15", "15x6 ET35 5x114.3 CB70.6"),
    ("205/45R17", "17x10 ET20"),  # stretched
    ("335/25R20", "20x12 ET40"),
    ("33x12.50R20LT", "20x9 ET0"),
    ("285/45R22", "22x10 ET10"),
    ("155/80R13", "13x4.5B ET20"),
]


def pair(tire: str, wheel: str) -> tuple[Tire, Wheel]:
    return parse_tire(tire), parse_wheel(wheel)


def sound(shape: Polygon) -> bool:
    return shape.geom_type == "Polygon" and shape.is_valid and not shape.interiors and not shape.is_empty


# ---------------------------------------------------------------- rim


def test_rim_contour_against_the_table() -> None:
    contour = rim_contour(WHEEL)
    # read: JIS D 4218:2021 table 3, J: flange 17.5 high, well at least 17.3 deep; specified diameter 512.8, from memory
    assert contour[:, 1].max() == pytest.approx(512.8 / 2 + 17.5, abs=1e-9)
    assert contour[:, 1].min() == pytest.approx(512.8 / 2 - 17.3, abs=1e-9)
    # flange face at half the rim width, edge at half the overall width: 254 / 2 and 279.4 / 2
    heel = contour[np.isclose(contour[:, 1], 256.4) & np.isclose(contour[:, 0], 127.0)]
    assert len(heel) == 1
    assert contour[:, 0].max() == pytest.approx(139.7, abs=1e-9)
    # bead seat at least 19.5 wide, falling 5 degrees towards the centre (ISO 4000-2, from memory)
    toe = contour[np.isclose(contour[:, 0], 127.0 - 19.5)]
    assert toe[0, 1] == pytest.approx(256.4 - 19.5 * math.tan(math.radians(5)), abs=1e-9)


def test_well_is_deeper_from_22_up() -> None:
    contour = rim_contour(parse_wheel("22x10 ET25"))
    # read: JIS D 4218:2021 table 3, 22 and up: 22.0 deep; specified diameter 563.6, from memory
    assert contour[:, 1].min() == pytest.approx(563.6 / 2 - 22.0, abs=1e-9)


def test_well_lies_nearer_to_the_outboard_side() -> None:
    contour = rim_contour(WHEEL)
    bottom = contour[contour[:, 1] < contour[:, 1].min() + 1e-6]
    assert bottom[:, 0].mean() > 0
    assert np.ptp(bottom[:, 0]) >= 22.0  # L, least


def test_rim_contour_runs_outboard_and_is_shared() -> None:
    for _, spec in PAIRS:
        contour = rim_contour(parse_wheel(spec))
        assert (np.diff(contour[:, 0]) >= -1e-9).all()
    with pytest.raises(ValueError, match="read-only"):
        contour[0, 0] = 0.0


def test_measured_overall_width_moves_the_flange_edge() -> None:
    wheel = replace(WHEEL, overall_width=285.0)
    assert rim_contour(wheel)[:, 0].max() == pytest.approx(142.5, abs=1e-9)


# ---------------------------------------------------------------- wheel


@pytest.mark.parametrize("spacer", [0.0, 20.0])
def test_wheel_stands_where_offset_and_spacer_put_it(spacer: float) -> None:
    # centre line at y' = spacer - ET; edges 139.7 mm to each side
    low, inner, high, _ = wheel_section(WHEEL, spacer).bounds
    assert (low, high) == pytest.approx((spacer - 25 - 139.7, spacer - 25 + 139.7), abs=1e-6)
    assert inner == pytest.approx(78.1 / 2, abs=1e-6)


def test_back_of_the_disc_lies_in_the_mounting_plane() -> None:
    shape = wheel_section(WHEEL, 20.0)
    assert shape.contains(Point(20.5, 150.0))
    assert not shape.intersects(Point(19.5, 150.0))


def test_spoke_back_shapes_the_disc() -> None:
    wheel = replace(WHEEL, spoke_back=((-5.0, 90.0), (20.0, 130.0), (35.0, 200.0)))
    shape = wheel_section(wheel)
    for y, r in ((-5.0, 90.0), (7.5, 110.0), (20.0, 130.0), (27.5, 165.0), (35.0, 200.0), (35.0, 230.0)):
        assert shape.distance(Point(y + 0.1, r)) == 0, (y, r)
        assert not shape.intersects(Point(y - 0.5, r)), (y, r)


def test_order_of_spoke_back_does_not_matter() -> None:
    points = ((-5.0, 90.0), (20.0, 130.0), (35.0, 200.0))
    one, other = (wheel_section(replace(WHEEL, spoke_back=p)) for p in (points, points[::-1]))
    assert one.symmetric_difference(other).area < 1e-6


def test_barrel_clear_diameter_is_the_inside() -> None:
    shape = wheel_section(replace(WHEEL, barrel_clear_diameter=462.0))
    assert not shape.intersects(Point(-100.0, 230.9))
    assert shape.intersects(Point(-100.0, 231.1))


def test_barrel_keeps_its_least_metal() -> None:
    # a clear diameter wider than the assumed well: the well keeps 2.5 mm of metal
    shape = wheel_section(replace(WHEEL, barrel_clear_diameter=480.0))
    assert shape.intersects(Point(-25 + 70, 512.8 / 2 - 17.3 - 2.4))
    assert sound(shape)


@pytest.mark.parametrize("clear", [18.2, 231.0, 260.0, 509.0, 600.0])
def test_impossible_clear_diameter(clear: float) -> None:
    with pytest.raises(CodeError, match="barrel_clear_diameter is"):
        wheel_section(replace(WHEEL, barrel_clear_diameter=clear))


def test_radius_for_diameter_is_suspected() -> None:
    with pytest.raises(CodeError, match="Was the radius given"):
        wheel_section(replace(WHEEL, barrel_clear_diameter=231.0))


BACKS = ((), ((-5.0, 90.0), (20.0, 130.0), (35.0, 170.0)), ((5.0, 80.0), (-25.0, 120.0), (-30.0, 150.0)))


@settings(max_examples=150, deadline=None)
@given(
    diameter=st.integers(13, 26),
    width=st.integers(8, 28).map(lambda n: n / 2),
    offset=st.floats(-150, 150),
    clear=st.one_of(st.none(), st.floats(0.6, 0.985)),
    back=st.sampled_from(BACKS),
    bore=st.one_of(st.none(), st.floats(50, 130)),
    extra=st.one_of(st.none(), st.floats(8, 60)),
)
def test_wheel_is_one_sound_polygon(
    diameter: int,
    width: float,
    offset: float,
    clear: float | None,
    back: tuple[tuple[float, float], ...],
    bore: float | None,
    extra: float | None,
) -> None:
    assume(width < diameter)
    seat = 25.4 * diameter / 2
    wheel = Wheel(
        spec="any",
        rim_diameter=diameter,
        rim_width=width,
        offset=offset,
        centre_bore=bore,
        overall_width=None if extra is None else width * 25.4 + extra,
        barrel_clear_diameter=None if clear is None else 2 * clear * (seat - 4.5),
        spoke_back=back,
    )
    shape = wheel_section(wheel)
    assert sound(shape)
    low, inner, high, _ = shape.bounds
    half = overall_width(wheel) / 2
    assert low <= -offset - half + 1e-6
    assert high >= -offset + half - 1e-6
    assert inner == pytest.approx((bore or sections.BORE_DIAMETER) / 2, abs=1e-6)


# ---------------------------------------------------------------- tire


@pytest.mark.parametrize(("code", "spec"), PAIRS)
@pytest.mark.parametrize("largest", [False, True])
def test_crown_and_widest_point_are_exact(code: str, spec: str, largest: bool) -> None:
    tire, wheel = pair(code, spec)
    shape = tire_section(replace(tire, rim_protector=False), wheel, 5.0, largest=largest)
    centre = 5.0 - wheel.offset
    crown = (largest_diameter if largest else overall_diameter)(tire) / 2
    half = (largest_section_width if largest else section_width)(tire, wheel.rim_width) / 2
    points = np.array(shape.exterior.coords)
    assert points[:, 1].max() == crown
    assert points[points[:, 1].argmax(), 0] == pytest.approx(centre, abs=1e-9)
    flange = rim_contour(wheel)[:, 1].max()
    outside = points[
        points[:, 1] > flange + 0.1 * (crown - flange) - 1e-9
    ]  # above where a stretched sidewall is widest
    assert outside[:, 0].max() - centre == pytest.approx(half, abs=1e-9)
    assert outside[:, 0].min() - centre == pytest.approx(-half, abs=1e-9)


@pytest.mark.parametrize(("code", "spec"), PAIRS)
def test_outline_is_symmetric_outside_the_rim(code: str, spec: str) -> None:
    tire, wheel = pair(code, spec)
    shape = tire_section(tire, wheel, wheel.offset)  # centre line at y' = 0
    above = shape.intersection(Polygon([(-300, 0), (300, 0), (300, 900), (-300, 900)]))
    mirrored = affinity.scale(above, -1, 1, origin=(0, 0))
    well = rim_contour(wheel)[:, 1].max() - 10
    cut = Polygon([(-300, well), (300, well), (300, 900), (-300, 900)])
    assert above.intersection(cut).symmetric_difference(mirrored.intersection(cut)).area < 1e-6


@pytest.mark.parametrize(("code", "spec"), PAIRS)
def test_no_void_between_tire_and_rim(code: str, spec: str) -> None:
    tire, wheel = pair(code, spec)
    shape, metal = tire_section(tire, wheel), wheel_section(wheel)
    assert shape.intersection(metal).area < 0.05
    assert not [ring for ring in unary_union([shape.buffer(0.01), metal]).interiors if Polygon(ring).area > 0.01]
    assert np.ptp(shape.boundary.intersection(metal.buffer(0.01)).bounds[::2]) > wheel.rim_width * 25.4 - 1


@pytest.mark.parametrize(("code", "spec"), PAIRS)
@pytest.mark.parametrize("largest", [False, True])
def test_outline_lies_within_the_chord_error(
    code: str, spec: str, largest: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    tire, wheel = pair(code, spec)
    coarse = tire_section(tire, wheel, largest=largest)
    assert 100 <= len(coarse.exterior.coords) <= 210
    monkeypatch.setattr(sections, "CHORD_ERROR", 1e-4)
    for cached in (sections._tire_outline, sections._contour):
        cached.cache_clear()
    sections.tire_section.cache_clear()
    fine = tire_section(tire, wheel, largest=largest)
    for cached in (sections._tire_outline, sections._contour):
        cached.cache_clear()
    sections.tire_section.cache_clear()
    assert len(fine.exterior.coords) > 3 * len(coarse.exterior.coords)
    assert max(coarse.exterior.distance(Point(p)) for p in fine.exterior.coords) <= 0.05


def test_stretched_tire_leaves_the_flange_proud() -> None:
    tire, wheel = pair("205/45R17", "17x10 ET20")
    shape, metal = tire_section(tire, wheel), wheel_section(wheel)
    assert section_width(tire, 10) < overall_width(wheel)
    assert shape.bounds[2] < metal.bounds[2] - 10
    assert any("proud" in text for text in assumptions(wheel, tire))
    # it leans in: the sidewall just above the flange stands wider than at the shoulder
    points = np.array(shape.exterior.coords)
    assert np.ptp(points[points[:, 1] > 300][:, 0]) < np.ptp(points[points[:, 1] > 240][:, 0])


def test_wide_tire_covers_the_flange() -> None:
    tire, wheel = pair("33x12.50R20LT", "20x9 ET0")
    assert tire_section(tire, wheel).bounds[2] > wheel_section(wheel).bounds[2]


def test_tread_width() -> None:
    # common practice, no published source: 0.90 of the section width at aspect 35 and below, 0.80 at 70 and above
    low, mid, high = (parse_tire(code) for code in ("335/25R20", "275/45R20", "265/70R17"))
    assert tread_width(low) == pytest.approx(0.90 * section_width(low))
    assert tread_width(mid) == pytest.approx((0.90 - 0.10 * 10 / 35) * section_width(mid))
    assert tread_width(high) == pytest.approx(0.80 * section_width(high))
    assert tread_width(replace(TIRE, tread_width=290.0)) == 290


def test_wider_tread_and_squarer_shoulder_hold_more() -> None:
    narrow, wide = (tire_section(replace(TIRE, tread_width=w), WHEEL) for w in (230.0, 285.0))
    assert wide.buffer(1e-6).covers(narrow)
    round_, square = (tire_section(TIRE, WHEEL, shape=ShoulderShape(s, 0.93)) for s in (0.4, 0.75))
    assert square.buffer(1e-6).covers(round_)


def test_offset_and_spacer_only_move_the_tire() -> None:
    at_zero = tire_section(TIRE, replace(WHEEL, offset=0.0))
    assert affinity.translate(at_zero, -25.0).symmetric_difference(tire_section(TIRE, WHEEL)).area < 1e-6
    assert affinity.translate(at_zero, -5.0).symmetric_difference(tire_section(TIRE, WHEEL, 20.0)).area < 1e-6


def test_sections_are_shared_for_equal_parts() -> None:
    assert tire_section(TIRE, WHEEL) is tire_section(parse_tire("305/45R20"), parse_wheel("20x10 ET25 6x139.7 CB78.1"))


def test_tire_of_another_rim_diameter() -> None:
    with pytest.raises(CodeError, match=r"19 in rim; the wheel .* has 20 in"):
        tire_section(parse_tire("305/45R19"), WHEEL)


def test_tire_lower_than_the_flange() -> None:
    with pytest.raises(CodeError, match="above the flange"):
        tire_section(parse_tire("105/20R20"), parse_wheel("20x5 ET0"))


@pytest.mark.parametrize("shoulder", [-1.0, 0.0, 1.0, float("nan")])
def test_shoulder_outside_its_range(shoulder: float) -> None:
    with pytest.raises(CodeError, match="shoulder"):
        ShoulderShape(shoulder, 0.93)


@settings(max_examples=300, deadline=None)
@given(
    width=st.integers(12, 39).map(lambda n: 10 * n + 5),
    aspect=st.integers(4, 17).map(lambda n: 5 * n),
    diameter=st.integers(13, 26),
    rim=st.integers(6, 32).map(lambda n: n / 2),
    shape=st.builds(ShoulderShape, st.floats(0.2, 0.95), st.floats(0.8, 0.99), st.floats(-0.05, 0.1), st.floats(0, 10)),
    tread=st.one_of(st.none(), st.floats(0.6, 1.1)),
    extra=st.one_of(st.none(), st.floats(8, 60)),
)
def test_tire_is_one_sound_polygon(
    width: int,
    aspect: int,
    diameter: int,
    rim: float,
    shape: ShoulderShape,
    tread: float | None,
    extra: float | None,
) -> None:
    tire = parse_tire(f"{width}/{aspect}R{diameter}")
    if tread is not None:
        tire = replace(tire, tread_width=tread * width)
    wheel = Wheel("any", diameter, rim, 20.0, overall_width=None if extra is None else rim * 25.4 + extra)
    own = tire_section(tire, wheel, shape=shape)
    largest = tire_section(tire, wheel, shape=shape, largest=True)
    assert sound(own)
    assert sound(largest)
    assert own.bounds[3] == overall_diameter(tire) / 2
    assert own.difference(largest.buffer(0.01)).area < 1e-6  # the largest holds the nominal one
    assert own.intersection(wheel_section(wheel)).area < 0.1


@pytest.mark.parametrize(
    ("code", "spec"),
    [*[each for each in PAIRS if "x12.50" not in each[0]], ("285/75R16", "16x8 ET0"), ("225/45R17", "17x9 ET0"),
     ("185/60D14", "14x8 ET0")],
)  # fmt: skip
@pytest.mark.parametrize("shoulder", ["usual", "square", "lugged"])
def test_no_permitted_tire_stands_out_of_the_largest(code: str, spec: str, shoulder: Shoulder) -> None:
    """Each size with a width and a diameter of its own within the limits, as its data sheet would state them.

    Up to 4 % wider (bias 6 %), section height x 0.97 to 1.04 (bias 1.08): UN R30 6.1.4 and 6.1.5, from memory. A
    flotation size is left out: how wide its tread is follows from its diameter, so another diameter is another shape.
    """
    tire, wheel = pair(code, spec)
    if shoulder == "lugged" and section_width(tire, wheel.rim_width) < wheel.rim_width * 25.4:
        pytest.skip("no lugged tire is stretched over a rim")
    tire = replace(tire, shoulder=shoulder, rim_protector=False)
    largest = tire_section(replace(tire, shoulder="lugged" if shoulder == "lugged" else None), wheel, largest=True)
    wider, taller = (1.04, 1.04) if tire.radial else (1.06, 1.08)
    seat = overall_diameter(tire) - 2 * section_height(tire)
    for width in np.linspace(0.97, wider, 4) * section_width(tire, wheel.rim_width):
        for height in np.linspace(0.97, taller, 8) * section_height(tire):
            own = replace(
                tire, section_width=width, on_rim=wheel.rim_width, overall_diameter=seat + 2 * height,
                tread_width=tread_width(tire) * width / section_width(tire, wheel.rim_width),
            )  # fmt: skip
            out = tire_section(own, wheel).difference(largest.buffer(0.03))  # [mm] the chords of the outlines
            assert out.area < 1e-9, f"{width:.1f} wide, {seat + 2 * height:.1f} across: {out.bounds}"


# ---------------------------------------------------------------- words


def test_assumptions_name_every_default() -> None:
    text = " ".join(assumptions(parse_wheel("20x10 ET25"), TIRE))
    for word in (
        "6 mm of metal",
        "25 mm thick",
        "150 mm across",
        "70 mm",
        "2 x 12.7",
        "Tread 2",
        "recalled",
        "without load",
    ):
        assert word in text, word


def test_nothing_is_assumed_that_was_measured() -> None:
    wheel = replace(
        WHEEL,
        overall_width=280.0,
        barrel_clear_diameter=462.0,
        spoke_back=((5.0, 90.0), (20.0, 200.0)),
        pad_diameter=160.0,
        pad_thickness=12.0,
    )
    assert assumptions(wheel) == ()
