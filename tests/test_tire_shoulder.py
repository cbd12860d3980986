"""The tire's shoulder: told, read with a contour gauge, or a band from usual to square; its ribs, and its market."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import scipy.integrate
import scipy.interpolate
import shapely
from conftest import DIAMETER, HUB_FACE, POST, RAIL, SEAT, WIDTH, bench_setup, least, run, vehicle, write_profile
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import scale

from fitment import load_profile, screen
from fitment.answers.uncertainty import chance_below
from fitment.errors import CodeError, ProfileError
from fitment.page.try_another import Sizes
from fitment.parts.sections import assumptions, square_stands_out, tire_section, tread_width
from fitment.parts.tables import ShoulderShape, shoulder_shapes
from fitment.parts.tire import SHOULDERS, Shoulder, Tire, section_width
from fitment.parts.tire_code import parse_tire
from fitment.parts.tire_outline import beyond_chord, check_outline, with_outline
from fitment.parts.wheel import parse_wheel
from fitment.profile import loads_profile, setup

Check = Callable[..., dict[str, Any]]
ROUND = 2e-3  # [mm] chords of the outline and printed digits
WHEEL = parse_wheel("17x8 ET0 5x114.3 CB67.1")
CODES = ["225/45R17", "265/70R17", "LT265/70R17", "245/40R17"]
# data/tire_shoulder.csv, typed: squareness, share of the tread that is an arc, wider by this share of the width, lugs
SHAPES = {"round": (0.40, 0.90, -0.03, 0), "usual": (0.60, 0.93, 0, 0), "square": (0.85, 0.97, 0.05, 0)} | {
    "lugged": (0.85, 0.97, 0.05, 6)
}  # fmt: skip


def of(code: str, **told: Any) -> Tire:
    return replace(parse_tire(code), **told)


def reach_at(shape: shapely.Polygon, r: float) -> float:
    """How far out a section stands at a distance from the axis [mm]."""
    return float(shape.intersection(shapely.LineString([(0, r), (500, r)])).bounds[2])


# ---------------------------------------------------------------- shapes that are told


def test_every_shoulder_is_in_the_table_with_a_source() -> None:
    found = {word: (s.squareness, s.arc_share, s.wider, s.lugs) for word, s in shoulder_shapes().items()}
    assert found == SHAPES
    assert tuple(found) == SHOULDERS


@pytest.mark.parametrize("word", ["round", "usual", "square"])
@pytest.mark.parametrize("code", ["225/45R17", "265/70R17"])
def test_the_area_from_widest_place_to_crown_is_that_of_its_curves(code: str, word: Shoulder) -> None:
    """Half of it: a segment of a circle over the tread, and beside it a cubic curve from the widest place upright to
    the arc's end along its tangent, integrated by quadrature: area = integral of y dr."""
    tire = of(code, shoulder=word)
    squareness, arc, wider, _ = SHAPES[word]
    aspect = float(tire.aspect_ratio or 0)
    share = np.interp(aspect, [35, 70], [0.90, 0.80]) + wider  # passenger: common practice, no published source
    half = section_width(tire, 8) / 2
    edge = arc * share * section_width(tire) / 2
    top = 436.6 / 2 + 17.5  # [mm] specified diameter of a 17 in rim, ISO 4000-2; J flange, JIS D 4218:2021 table 3
    crown = (432 + 2 * round(tire.nominal_width * aspect / 100)) / 2
    low = top + 0.43 * (crown - top)
    drop = 0.07 * edge
    radius = (edge**2 + drop**2) / (2 * drop)
    slope = math.asin(edge / radius)
    out, up = min(1.25 * squareness, 0.95) * (half - edge), squareness * (crown - drop - low)
    y = np.array([half, half, edge + out * math.cos(slope), edge])
    r = np.array([low, low + up, crown - drop - out * math.sin(slope), crown - drop])

    def bernstein(p: np.ndarray, t: float) -> float:
        return float((1 - t) ** 3 * p[0] + 3 * (1 - t) ** 2 * t * p[1] + 3 * (1 - t) * t**2 * p[2] + t**3 * p[3])

    def rate(p: np.ndarray, t: float) -> float:
        d = 3 * np.diff(p)
        return float((1 - t) ** 2 * d[0] + 2 * (1 - t) * t * d[1] + t**2 * d[2])

    side = scipy.integrate.quad(lambda t: bernstein(y, t) * rate(r, t), 0, 1)[0]
    segment = radius**2 * (slope - math.sin(slope) * math.cos(slope)) / 2
    shape = tire_section(tire, WHEEL)
    found = shape.intersection(shapely.box(0, low, 500, 500)).area
    length = 2 * (half - edge + crown - low) + edge
    assert found == pytest.approx(side + segment, abs=0.03 * length), "within the chords, 0.03 mm"
    assert half == pytest.approx(shape.bounds[2], abs=1e-9)


@pytest.mark.parametrize("code", CODES)
def test_a_squarer_one_holds_the_rounder_one(code: str) -> None:
    shapes = [tire_section(of(code, shoulder=word), WHEEL) for word in ("round", "usual", "square", "lugged")]
    for inner, outer in pairwise(shapes):
        assert inner.difference(outer.buffer(0.03)).area < 1e-6  # [mm] chords
    crowns = {round(shape.bounds[3], 6) for shape in shapes}
    assert len(crowns) == 1, "no shoulder makes a tire taller"


@pytest.mark.parametrize("code", CODES)
def test_lugs_stand_out_by_their_figure(code: str) -> None:
    """From half way up on as a square tire of which sidewall and tread stand 6 mm further out on each side."""
    square, lugged = (tire_section(of(code, shoulder=word), WHEEL) for word in ("square", "lugged"))
    tire = of(code, shoulder="square")
    more = replace(
        tire,
        section_width=section_width(tire, 8) + 12,
        on_rim=8,
        tread_width=tread_width(tire) + 12 / SHAPES["square"][1],
    )
    wider, crown = tire_section(more, WHEEL), square.bounds[3]
    for share in (0.28, 0.2, 0.1, 0.05):
        at = crown - share * (crown - 235.8)  # 17 in, J: the flange's top stands at 235.8
        assert reach_at(lugged, at) == pytest.approx(reach_at(wider, at), abs=0.1), "chords, and how steep it is"
    assert square.bounds[2] < lugged.bounds[2] <= square.bounds[2] + 6.0


def test_the_band_is_what_square_and_lugged_tires_show() -> None:
    """5 to 8 mm at the shoulder on car and truck sizes: what the table says of a square one."""
    for code in CODES:
        own = square_stands_out(parse_tire(code), WHEEL)
        square, usual = (tire_section(of(code, shoulder=word), WHEEL) for word in ("square", "usual"))
        assert own == pytest.approx(
            max(usual.distance(shapely.Point(p)) for p in square.segmentize(0.5).exterior.coords), abs=0.05
        )
        assert 4.5 < own < 8.5


def test_light_truck_treads_have_their_own_rule() -> None:
    """0.90 of the width at aspect 45, 0.83 at 75, linear between: 0.90 - 0.07 x 25 / 30 at 70, where cars have 0.80."""
    truck, car = parse_tire("LT265/70R17"), parse_tire("265/70R17")
    assert tread_width(truck) == pytest.approx((0.90 - 0.07 * 25 / 30) * section_width(truck))
    assert tread_width(car) == pytest.approx(0.80 * section_width(car))
    assert tread_width(replace(truck, tread_width=221.0)) == 221.0


# ---------------------------------------------------------------- nobody told


@settings(max_examples=150)
@given(
    code=st.sampled_from([*CODES, "155/80R17", "315/70R17"]),
    shares=st.tuples(*[st.floats(0, 1)] * 3),
    tread=st.one_of(st.none(), st.floats(0.7, 0.95)),
    market=st.sampled_from(["un", "us"]),
)
def test_the_largest_holds_every_shoulder_from_usual_to_square(
    code: str, shares: tuple[float, ...], tread: float | None, market: str
) -> None:
    tire = of(code, market=market)
    if tread is not None:
        tire = replace(tire, tread_width=tread * tire.nominal_width)
    usual, square = SHAPES["usual"], SHAPES["square"]
    between = ShoulderShape(*(a + k * (b - a) for a, b, k in zip(usual, square, shares, strict=False)))
    largest = tire_section(tire, WHEEL, largest=True)
    for grown in (False, True):
        own = tire_section(replace(tire, rim_protector=False), WHEEL, shape=between, largest=grown)
        assert own.difference(largest.buffer(0.03)).area < 1e-6  # [mm] chords
    assert tire_section(tire, WHEEL) == tire_section(replace(tire, shoulder="usual"), WHEEL)


CORNER = {"name": "corner", "shape": "edge", "radius": 2, "tolerance": 0, "points": [[-20, 872, 322], [20, 872, 322]]}


def told(**tire: Any) -> dict[str, Any]:
    data = vehicle(obstacles=[CORNER], travel={"droop": -1, "bump": 1})
    own = {key: value for key, value in bench_setup(data)["tire"].items() if key != "shoulder"}
    bench_setup(data)["tire"] = own | tire
    return data


def test_the_worst_case_is_never_better_than_that_of_a_told_shoulder(check: Check) -> None:
    """At the corner of the tread: nominal as the usual one, worst case as the square one."""
    worst = {word: least(check(told(shoulder=word)), "corner", "tire", "worst_case_mm") for word in ("usual", "square")}
    clear = {word: least(check(told(shoulder=word)), "corner", "tire") for word in ("usual", "square")}
    open_ = check(told())
    assert least(open_, "corner", "tire") == pytest.approx(clear["usual"], abs=1e-6)
    assert least(open_, "corner", "tire", "worst_case_mm") == pytest.approx(worst["square"], abs=1e-6)
    assert worst["square"] < worst["usual"] - 1
    assert clear["square"] < clear["usual"] - 1
    lugged = check(told(shoulder="lugged"))
    assert least(lugged, "corner", "tire") < clear["square"] - 2


def test_one_line_says_it_and_how_to_end_it(check: Check) -> None:
    def lines(data: dict[str, Any]) -> list[str]:
        return [line for line in check(data)["cautions"] if "assumed: Shoulder" in line]

    (line,) = lines(told())
    assert "not told" in line
    assert "outline" in line
    (line,) = lines(told(shoulder="lugged"))
    assert "6 mm beyond" in line


def test_the_shoulder_is_drawn_between_usual_and_square(check: Check) -> None:
    found = check(told(), "--how-sure")["how_sure"]["limiting"]
    (doubt,) = [each for each in found["readings"] if each["reading"] == "tire.shoulder"]
    clear = {word: least(check(told(shoulder=word)), "corner", "tire") for word in ("usual", "square")}
    assert doubt["mm_per_unit"] * doubt["tolerance"] == pytest.approx((clear["square"] - clear["usual"]) / 2, abs=0.02)
    readings = check(told(shoulder="square"), "--how-sure")["how_sure"]["limiting"]["readings"]
    assert not [each for each in readings if each["reading"] == "tire.shoulder"]


def test_three_equally_likely_spreads_against_irwin_and_hall() -> None:
    """The sum of three of half width 1 is less than x with the chance that three of width 1 are less than (x + 3) / 2:
    sum over k of (-1)^k C(3, k) (z - k)^3 / 3!. And a normal one beside them, by quadrature."""

    def exact(x: float) -> float:
        z = (x + 3) / 2
        return sum((-1) ** k * math.comb(3, k) * max(z - k, 0.0) ** 3 / 6 for k in range(4))

    for x in (-2.9, -1.0, 0.0, 0.4, 2.5):
        assert chance_below(x, 0.0, (1.0, 1.0, 1.0)) == pytest.approx(exact(x), abs=1e-12)
        folded = scipy.integrate.quad(
            lambda e, x=x: math.exp(-e * e / 2) / math.sqrt(2 * math.pi) * exact(x - 0.7 * e), -8, 8, limit=200
        )
        assert chance_below(x, 0.7, (1.0, 1.0, 1.0)) == pytest.approx(folded[0], abs=1e-7)


# ---------------------------------------------------------------- ribs and markets


TO_POST = POST - HUB_FACE


@pytest.mark.parametrize(
    ("market", "tire", "reach"),
    [
        (None, {"rim_protector": False}, 1.04 * WIDTH / 2),  # UN R30 6.1.4, from memory
        (None, {}, 1.04 * WIDTH / 2 + 8),  # and 8 mm for ribs, all of them outside, from memory
        ("un", {"rim_protector": True}, 1.04 * WIDTH / 2 + 8),
        ("us", {"rim_protector": False}, 1.07 * WIDTH / 2),  # 49 CFR 571.139 S6.1.2, from memory: 16.1 of 230 > 10
        ("us", {}, 1.04 * WIDTH / 2 + 8),  # a tire that meets both rules; 8.05 is less than 4.6 + 8
    ],
)
def test_the_largest_by_market_and_rim_protector(
    check: Check, market: str | None, tire: dict[str, Any], reach: float
) -> None:
    data = vehicle() | ({"market": market} if market else {})
    own = {key: value for key, value in bench_setup(data)["tire"].items() if key != "rim_protector"}
    bench_setup(data)["tire"] = own | tire
    answer = check(data)
    assert least(answer, "post", "tire", "worst_case_mm") == pytest.approx(TO_POST - reach, abs=ROUND)
    assert least(answer, "post", "tire") == pytest.approx(TO_POST - WIDTH / 2, abs=ROUND), "the clearance stays"
    over = (SEAT + 1.04 * (DIAMETER - SEAT)) / 2
    assert least(answer, "rail", "tire", "worst_case_mm") == pytest.approx(RAIL - 50 - over, abs=ROUND)


def test_a_narrow_tire_may_be_10_mm_wider_in_the_us() -> None:
    """135 wide: 7 % are 9.5, so 10 count. On its measuring rim, 4 in, S = 135 + 0.4 (101.6 - 0.7 x 135)."""
    width = 135 + 0.4 * (4 * 25.4 - 0.7 * 135)
    tire = of("135/80R13", market="us", rim_protector=False)
    largest = tire_section(tire, parse_wheel("13x4 ET0"), largest=True)
    assert largest.bounds[2] == pytest.approx((width + 10) / 2, abs=1e-9)


@pytest.mark.parametrize(
    ("market", "tire", "reach"),
    [
        (None, {"rim_protector": False}, 1.04 * WIDTH / 2),
        (None, {}, 1.04 * WIDTH / 2 + 8),  # a tire with one rib may be mounted either way round
        ("us", {}, 1.04 * WIDTH / 2 + 8),  # as above: 8.05 is less than 4.6 + 8
    ],
)
def test_inside_a_rib_counts_as_outside(check: Check, market: str | None, tire: dict[str, Any], reach: float) -> None:
    """A post as far inboard of the rim's centre line, at the hub face, as the one outboard of it."""
    inboard = {"name": "strut", "shape": "edge", "points": [[0, 2 * HUB_FACE - POST, z] for z in (-450, 450)]}
    data = vehicle(obstacles=[inboard]) | ({"market": market} if market else {})
    own = {key: value for key, value in bench_setup(data)["tire"].items() if key != "rim_protector"}
    bench_setup(data)["tire"] = own | tire
    answer = check(data)
    assert least(answer, "strut", "tire", "worst_case_mm") == pytest.approx(TO_POST - reach, abs=ROUND)
    assert least(answer, "strut", "tire") == pytest.approx(TO_POST - WIDTH / 2, abs=ROUND)


RIB_TOP = 436.6 / 2 + 17.5 + 30  # [mm] specified diameter of a 17 in rim, flange of JIS D 4218:2021 table 3, foot


@pytest.mark.parametrize("side", [1, -1], ids=["outside", "inside"])
@pytest.mark.parametrize("market", ["un", "us"])
def test_a_rib_stands_beside_the_rim_alone(side: int, market: str) -> None:
    """Above its foot nothing changes, the widest place and the shoulder least; below it stands out of the sidewall by
    at most 12 mm, beyond the largest width by 8 mm, and at half that height by all of it."""
    tire = of("205/70R17", shoulder="usual", market=market)
    with_rib, without = (
        scale(tire_section(replace(tire, rim_protector=rib), WHEEL, largest=True), side, 1, origin=(0, 0))
        for rib in (None, False)
    )
    largest = section_width(tire, 8) * 1.04 / 2
    for r in np.linspace(RIB_TOP, without.bounds[3] - 5, 30):
        assert reach_at(with_rib, r) == pytest.approx(reach_at(without, r), abs=1e-9)
    for r in np.linspace(238, RIB_TOP, 20):
        assert -1e-9 <= reach_at(with_rib, r) - reach_at(without, r) <= 12 + 1e-9
        assert reach_at(with_rib, r) <= max(largest + 8, without.bounds[2]) + 1e-9
    assert reach_at(with_rib, RIB_TOP - 15) == pytest.approx(max(largest + 8, reach_at(without, RIB_TOP - 15)))


# a rib as tests have it: 12 mm over the sidewall up to 20 mm above the flange, nothing from 30 on, no further out than
# 1.04 x 230 / 2 + 8 (common practice and UN R30, from memory)
CREST, FOOT, LIMIT = RIB_TOP - 10, RIB_TOP, 1.04 * WIDTH / 2 + 8
HEIGHTS = np.linspace(RIB_TOP - 29, RIB_TOP + 8, 150)  # [mm] from the axis, of places on the sidewall
EXACT = {"shoulder": "usual", "overall_diameter": {"value": DIAMETER, "tolerance": 0}}


def sidewall(width: float) -> np.ndarray:
    """How far out the sidewall without a rib stands at HEIGHTS [mm]."""
    section = tire_section(of("225/45R17", section_width=width, on_rim=8, overall_diameter=DIAMETER), WHEEL)
    return np.array([reach_at(section, r) for r in HEIGHTS])


def nearest(width: float, share: float, place: tuple[float, float] | None) -> float:
    """From a place (out, r) to a tire with so much of the highest rib; without a place from the upright post [mm]."""
    own = sidewall(width)
    rise = 12 * np.clip((FOOT - HEIGHTS) / (FOOT - CREST), 0, 1)
    out = own + share * (np.maximum(own, np.minimum(own + rise, LIMIT)) - own)
    if place is None:
        return float(TO_POST - out.max())
    return float(shapely.Point(place).distance(shapely.LineString(np.column_stack([out, HEIGHTS]))))


BESIDE = (140.0, RIB_TOP - 18.0)  # (out, r) [mm] level with the crest
LEVEL = {
    "name": "post",
    "shape": "edge",
    "meets": "tire",
    "points": [[x, HUB_FACE + BESIDE[0], BESIDE[1]] for x in (-1, 1)],
}
UPRIGHT = {"name": "post", "shape": "edge", "points": [[0, POST, -450], [0, POST, 450]]}


@pytest.mark.parametrize(
    ("part", "place", "is_width_read", "within"),
    [
        (LEVEL, BESIDE, True, 0.025),  # a rib straight beside the part takes what it stands out
        (UPRIGHT, None, True, 0.045),  # it is felt only once it stands out of the widest place
        (UPRIGHT, None, False, 0.06),  # on the widest tire less of it is permitted
    ],
    ids=["level", "upright", "with the width"],
)
def test_chances_count_a_rib_of_any_height_and_never_less_than_drawn_tires(
    check: Check, part: dict[str, Any], place: tuple[float, float] | None, is_width_read: bool, within: float
) -> None:
    """Tires drawn with a rib of any height and a part that may be off, measured to a rib that is drawn here."""
    width = {"section_width": {"value": WIDTH, "tolerance": 0}} if is_width_read else {}
    random, count = np.random.default_rng(5), 200_000
    shares = random.uniform(0, 1, count)
    grid = np.linspace(0, 1, 21)
    off = random.normal(0, 1.0, count)  # a tolerance of 2 mm is two standard deviations
    if is_width_read:
        drawn = np.interp(shares, grid, [nearest(WIDTH, share, place) for share in grid])
    else:
        widths = np.linspace(0.96, 1.04, 9)
        table = [[nearest(WIDTH * factor, share, place) for share in grid] for factor in widths]
        at = np.column_stack([random.uniform(0.96, 1.04, count), shares])
        drawn = scipy.interpolate.RegularGridInterpolator((widths, grid), np.array(table))(at)
    for quantile in (0.1, 0.4):
        limit = float(np.round(np.quantile(drawn + off, quantile), 2))
        short = float(np.mean(drawn + off < limit))
        data = told(**EXACT | width)
        bench_setup(data)["tire"].pop("rim_protector", None)
        data["axles"]["front"]["obstacles"] = [part | {"tolerance": 2, "allowance": limit}]
        found = check(data, "--how-sure")
        (doubt,) = [each for each in found["how_sure"]["limiting"]["readings"] if each["kind"] == "rib"]
        ends = [nearest(WIDTH, share, place) for share in (0.0, 1.0)]
        assert 2 * doubt["mm_per_unit"] * doubt["tolerance"] == pytest.approx(ends[1] - ends[0], abs=0.05)
        chances = found["how_sure"]["limiting"]["short_percent"] / 100, 1 - found["sure"]["chance_clears"]
        for chance in chances:
            assert short - 4 * math.sqrt(short * (1 - short) / count) - 0.01 < chance < short + within


@pytest.mark.parametrize("told_of_it", [{"rim_protector": False}, {"outline": True}, {"rim_protector": True}])
def test_only_what_is_not_there_ends_the_spread_of_a_rib(check: Check, told_of_it: dict[str, Any]) -> None:
    """How high a rib is nobody tells, so one that is there may be of any height too."""
    data = vehicle()
    own = {key: value for key, value in bench_setup(data)["tire"].items() if key != "rim_protector"}
    bench_setup(data)["tire"] = READING if "outline" in told_of_it else own | told_of_it
    readings = check(data, "--how-sure")["how_sure"]["limiting"]["readings"]
    is_counted = any(each["reading"] == "tire.rim_protector" for each in readings)
    assert is_counted == bool(told_of_it.get("rim_protector"))


@pytest.mark.parametrize("code", ["225/25R17", "LT265/70R17", "195/45R17"])
def test_where_the_rib_may_be_at_the_widest_place_it_counts_there(code: str) -> None:
    """A low tire, one that leans in from its rim, and one of a van, whose ribs guard the sidewall."""
    tire = of(code, shoulder="usual")
    with_rib, without = (tire_section(replace(tire, rim_protector=rib), WHEEL, largest=True) for rib in (None, False))
    widest = max(r for y, r in without.exterior.coords if y > without.bounds[2] - 1e-6)
    assert reach_at(with_rib, widest - 0.01) == pytest.approx(without.bounds[2] + 8)
    assert -with_rib.bounds[0] == pytest.approx(without.bounds[2] + 8)
    assert reach_at(with_rib, widest + 0.3 * (without.bounds[3] - widest)) == pytest.approx(
        reach_at(without, widest + 0.3 * (without.bounds[3] - widest))
    )


def test_a_list_and_the_page_take_the_same_largest_tire(check: Check, tmp_path: Path) -> None:
    """A typed size, of which nobody told shoulder or rib, in a market of its own."""
    data = vehicle(obstacles=[CORNER, vehicle()["axles"]["front"]["obstacles"][0]]) | {"market": "us"}
    path = write_profile(tmp_path, data)
    rows = screen(path, [{"wheel": "17x8 ET0 5x114.3 CB67.1", "tire": "225/45R17"}], axle="front").data
    (row,) = rows
    answer = check(data, "--tire", "225/45R17", "--wheel", "17x8 ET0 5x114.3 CB67.1")
    assert float(row["worst_case_mm"]) == pytest.approx(
        min(each["worst_case_mm"] for each in answer["clearances"]), abs=0.02
    )
    own = setup(load_profile(path), "front", tire="225/45R17")
    sizes = Sizes()
    sizes.add(own.wheel, own.tire)
    ((_, _, nominal, largest),) = sizes.data()["pairs"]
    for steps, big, side in ((nominal, False, 1), (nominal, False, -1), (largest, True, 1), (largest, True, -1)):
        half = np.cumsum(np.array(steps).reshape(-1, 2), axis=0) / 100 * (side, 1)
        outline = tire_section(own.tire, own.wheel, largest=big).exterior
        assert max(outline.distance(shapely.Point(p)) for p in half) < 0.01
        assert half[-1] == pytest.approx([0, shapely.bounds(outline)[3]], abs=0.005), "it ends at the crown"


# ---------------------------------------------------------------- what the verdict hangs on


def lip_at(out: float, up: float) -> dict[str, Any]:
    """A lip that a tire 230 wide and 634 high, at the hub face, has beside it."""
    return {"name": "lip", "shape": "edge", "radius": 0, "tolerance": 0, "allowance": 0,
            "points": [[x, HUB_FACE + out, up] for x in (-20, 20)]}  # fmt: skip


@pytest.mark.parametrize(
    ("out", "up", "hangs", "word"),
    [
        (1.04 * WIDTH / 2 + 2, 240, [["rim_protector"]], "no rib beside the rim"),  # 2 mm off the largest width
        (112, 307, [["shoulder"]], "a usual shoulder"),  # off the tread's edge, where a square one stands out
        (1.04 * WIDTH / 2 + 9, 240, [], ""),  # it clears: 8 mm is all that a rib may stand out
        (1.04 * WIDTH / 2 - 1, 272, [], ""),  # tight by the width alone
    ],
)
def test_a_check_says_where_its_verdict_hangs_on_what_nobody_told(
    check: Check, out: float, up: float, hangs: list[list[str]], word: str, tmp_path: Path
) -> None:
    """Held against the check of the tire so told."""
    data = vehicle(obstacles=[lip_at(out, up)], travel={"droop": -1, "bump": 0}, ride_heights={"level": 0})
    data["builds"].pop("lowered")
    own = {key: value for key, value in bench_setup(data)["tire"].items() if key not in ("shoulder", "rim_protector")}
    bench_setup(data)["tire"] = own
    answer = check(data)
    assert answer["hangs_on"] == hangs
    if hangs:
        assert answer["verdict"] == "tight"
        text = " ".join(run("check", write_profile(tmp_path, data)).output.split())
        assert f"It clears if the tire has {word}" in text
    told = {"rim_protector": False, "shoulder": "usual"}
    for keys in (["rim_protector"], ["shoulder"]):
        bench_setup(data)["tire"] = own | {key: told[key] for key in keys}
        assert (answer["verdict"] == "tight" and check(data)["verdict"] == "clears") == (keys in hangs)


def test_a_verdict_does_not_hang_on_the_rib_where_it_is_short_in_service_anyway(check: Check) -> None:
    """Some 10 mm to the nominal tire, none required: 14 mm of growth takes more, rib or none."""
    lip = lip_at(1.04 * WIDTH / 2 + 2, 240)
    data = vehicle(obstacles=[lip], travel={"droop": -1, "bump": 0}, ride_heights={"level": 0})
    data["builds"].pop("lowered")
    del bench_setup(data)["tire"]["rim_protector"]
    assert check(data)["hangs_on"] == [["rim_protector"]]
    data["axles"]["front"]["service"] = {"growth": 14}
    assert check(data)["hangs_on"] == []
    bench_setup(data)["tire"]["rim_protector"] = False
    assert check(data)["verdict"] == "tight"


# ---------------------------------------------------------------- an outline that was read


def superellipse(angles: np.ndarray, half: float = 117.0, power: float = 3.0) -> np.ndarray:
    """A convex outline about (0, 262): half wide, 54 high to the crown at 316 [mm], sidewall first."""
    cosine, sine = np.cos(angles), np.sin(angles)
    return np.stack(
        [
            half * np.sign(cosine) * np.abs(cosine) ** (2 / power),
            262 + 54 * np.sign(sine) * np.abs(sine) ** (2 / power),
        ],
        -1,
    )


def gauge(count: int = 30) -> list[tuple[float, float]]:
    """Points of it, from below the widest place, as far apart along the outline."""
    fine = superellipse(np.linspace(-0.02, math.pi / 2, 4000))
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(fine, axis=0).T))])
    at = np.searchsorted(along, np.linspace(0, along[-1], count))
    return [(round(float(y), 1), round(float(r), 1)) for y, r in fine[np.minimum(at, len(fine) - 1)]]


READ = gauge()
READING = {"code": "225/45R17 94W XL", "outline": [list(point) for point in READ]}


def test_an_outline_gives_its_points_on_both_sides(check: Check) -> None:
    data = vehicle()
    bench_setup(data)["tire"] = READING
    answer = check(data, "--geometry")
    section = shapely.Polygon(answer["sections"]["tire"]).exterior
    for y, r in READ:
        for side in (1, -1):
            assert section.distance(shapely.Point(side * y, r)) < 1e-3, "three digits are printed"
    assert least(answer, "post", "tire") == pytest.approx(TO_POST - max(y for y, _ in READ), abs=ROUND)
    words = " ".join(answer["cautions"])
    assert f"read at {len(READ)} points" in words
    assert "not told" not in words


@pytest.mark.parametrize("order", ["from the crown", "the inboard side"])
def test_either_side_and_either_order(order: str) -> None:
    tire = parse_tire("225/45R17")
    points = READ[::-1] if order == "from the crown" else [(-y, r) for y, r in READ]
    assert with_outline(tire, points) == with_outline(tire, READ)
    check_outline(tire, points)


@pytest.mark.parametrize("count", [24, 40, 80])
def test_the_largest_holds_the_curve_that_was_read_at_points(count: int) -> None:
    """Unrounded points of a convex curve: the tire between them may stand outside the straight lines, never outside
    the largest, whatever else that allows for."""
    fine = superellipse(np.linspace(0.0, math.pi / 2, 4000))
    points = [tuple(point) for point in superellipse(np.linspace(0.0, math.pi / 2, count)).tolist()]
    tire = with_outline(parse_tire("225/45R17"), points)
    largest = tire_section(tire, WHEEL, largest=True)
    assert all(shapely.distance(shapely.points(fine), largest.buffer(1e-6)) == 0)
    grown = (fine * [1.04, 1.0]).tolist()
    assert all(shapely.distance(shapely.points(grown), largest.buffer(1e-6)) == 0), "and one 4 % wider"


@pytest.mark.parametrize("turn", [5.0, 15.0, 30.0])
def test_beyond_a_chord_of_a_circle(turn: float) -> None:
    """Chords of a circle of 40 mm that turn by an angle: the sides beside meet R (1 / cos - cos) of half of it, and
    twice that, outside: the apex of the triangle over the chord c has the height c / 2 tan(turn)."""
    angles = np.radians(20 + turn * np.arange(4))
    line = [(60 + 40 * math.cos(a), 250 + 40 * math.sin(a)) for a in angles]
    chord = 2 * 40 * math.sin(math.radians(turn) / 2)
    apex, out = beyond_chord(line, 1)
    assert out == pytest.approx(chord / 2 * math.tan(math.radians(turn)), rel=1e-9)
    assert apex is not None
    assert shapely.LineString(line[1:3]).distance(shapely.Point(apex)) == pytest.approx(out, rel=1e-9)


def test_a_sharp_edge_between_straight_sides_stands_out_no_further() -> None:
    line = [(110.0, 260.0), (110.0, 290.0), (110.0, 315.0), (80.0, 315.0), (0.0, 315.0)]
    assert [beyond_chord(line, k)[1] for k in range(4)] == [0, 0, 0, 0]


@pytest.mark.parametrize(
    ("points", "words"),
    [
        (READ[:3], "at least 4 points"),
        ([*READ, (-20.0, 314.0)], "one side of the middle plane"),
        ([(y, r - 60) for y, r in READ], "mm across"),
        ([(y / 1.3, r) for y, r in READ], "mm wide"),
        (READ[:-8], "read on to the crown"),
        (gauge(60)[14:], "begins too far up"),
        (READ[::4], "read a point between"),
        ([*READ[:20], (READ[19][0] + 5, READ[19][1] - 2), *READ[20:]], "turns back"),
    ],
)
def test_outlines_that_cannot_be(points: list[tuple[float, float]], words: str) -> None:
    with pytest.raises(CodeError, match=words):
        check_outline(parse_tire("225/45R17"), points)


def test_a_profile_refuses_an_outline_with_its_line() -> None:
    data = vehicle()
    bench_setup(data)["tire"] = READING | {"outline": [[y, r - 60] for y, r in READ]}
    with pytest.raises(ProfileError, match=r"outline: it is .* mm across") as error:
        loads_profile(json.dumps(data, indent=1), "bench")
    assert "outline" in str(error.value.key)
    bench_setup(data)["tire"] = READING | {"shoulder": "square"}
    with pytest.raises(ProfileError, match="the outline tells the shoulder"):
        loads_profile(json.dumps(data), "bench")


def test_an_outline_leaves_no_size_to_chance(check: Check) -> None:
    data = vehicle(obstacles=[CORNER])
    bench_setup(data)["tire"] = READING
    readings = check(data, "--how-sure")["how_sure"]["limiting"]["readings"]
    assert not [each["reading"] for each in readings if each["reading"].startswith("tire.")]


def test_on_a_wider_rim_an_outline_is_wider_and_on_a_narrower_one_as_read() -> None:
    tire = replace(with_outline(parse_tire("225/45R17"), READ), on_rim=8.0)
    own, wide, narrow = (tire_section(tire, parse_wheel(f"17x{rim} ET0")) for rim in ("8", "9", "7"))
    assert own.bounds[2] == pytest.approx(max(y for y, _ in READ), abs=1e-9)
    assert wide.bounds[2] - own.bounds[2] == pytest.approx(0.4 * 25.4 / 2, abs=1e-9), "K of UN R30 6.1.1"
    assert narrow.bounds[2] == own.bounds[2]


def test_told_words_reach_the_largest() -> None:
    tire = parse_tire("225/45R17")
    text = " ".join(assumptions(WHEEL, tire))
    assert "rim_protector: false" in text
    assert "rim_protector" not in " ".join(assumptions(WHEEL, replace(tire, rim_protector=False)))
    assert "US rule" in " ".join(assumptions(WHEEL, replace(tire, market="us")))


def test_a_list_tells_how_many_rows_more_clear_without_a_rib(tmp_path: Path) -> None:
    """Of one size at several offsets, beside a post: held against the same list whose rows tell that there is none."""
    path = write_profile(tmp_path, vehicle())
    offsets = [-24, -20, -16, -13, -12, -9, -6, 0]
    rows = [
        {
            "wheel": f"17x8 ET{offset} 5x114.3 CB67.1",
            "tire": "225/45R17 94W XL",
            "shoulder": "usual",
            "price": 50 + offset,
        }
        for offset in offsets
    ]
    found = screen(path, rows, axle="front")
    plain = screen(path, [row | {"rim_protector": "no"} for row in rows], axle="front")

    def clear(answer: Any) -> set[str]:
        return {row["wheel"] for row in answer.data if row["verdict"] == "clears"}

    more = clear(plain) - clear(found)
    assert 0 < len(more) < len(offsets) - len(clear(found))
    assert {row["wheel"] for row in found.data if "no rib" in row["reason"]} == more
    assert f"{len(more)} rows more clear if their tire has no rib beside the rim" in " ".join(found.text.split())
    assert "rows more clear" not in plain.text
    few = screen(path, [row for row in rows if row["wheel"] in more][:1], axle="front")
    assert "1 row more clears if its tire" in " ".join(few.text.split())
    for sort in ("margin", "price", "-price"):
        order = [row for row in screen(path, rows, axle="front", sort=sort).data if row["verdict"] == "tight"]
        assert {row["wheel"] for row in order[: len(more)]} == more


def test_columns_of_a_list_tell_shoulder_and_rim_protector(tmp_path: Path) -> None:
    """Of one size: told, its worst case is that of 4 % of the width alone, S = 225 + 0.4 (203.2 - 0.85 x 225)."""
    path = write_profile(tmp_path, vehicle())
    row = {"wheel": "17x8 ET0 5x114.3 CB67.1", "tire": "225/45R17"}
    told = [{}, {"shoulder": "usual", "rim_protector": "no"}, {"shoulder": "flat"}, {"rim_protector": "maybe"}]
    rows = screen(path, [row | {"shoulder": "", "rim_protector": ""} | each for each in told], axle="front").data
    half = (225 + 0.4 * (8 * 25.4 - 0.85 * 225)) / 2
    worst = {row["shoulder"]: row["worst_case_mm"] for row in rows if row["verdict"] != "unreadable"}
    assert float(worst[""]) == pytest.approx(TO_POST - 1.04 * half - 8, abs=0.02)
    assert float(worst["usual"]) == pytest.approx(TO_POST - 1.04 * half, abs=0.02)
    assert [row["verdict"] for row in rows].count("unreadable") == 2
