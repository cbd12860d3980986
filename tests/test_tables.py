"""Load index, speed symbol, rim diameter and rim contour tables.

Expected values are retyped from the sources named beside them, or worked out from a formula that does not come
from the tables.
"""

from __future__ import annotations

import csv
from importlib import resources
from itertools import pairwise

import pytest

from fitment.errors import CodeError
from fitment.parts import tables


def rows(name: str) -> list[dict[str, str]]:
    return list(csv.DictReader((resources.files("fitment.parts") / "data" / name).read_text().splitlines()))


@pytest.mark.parametrize(
    "name", ["load_index.csv", "speed_symbol.csv", "rim_diameter.csv", "rim_contour.csv", "bolt_circles.csv"]
)
def test_every_row_carries_status_and_source(name: str) -> None:
    for row in rows(name):
        assert row["status"], row
        assert row["source"], row


def test_load_indices_are_complete_and_rise() -> None:
    capacities = tables.load_capacities()
    assert list(capacities) == list(range(161))
    assert all(low < high for low, high in pairwise(capacities.values()))


def test_load_index_follows_its_preferred_numbers() -> None:
    # kg = 45 x 10^(LI/80), computed check; the table's rounded preferred numbers differ by at most 1.94 %, at 37:
    # 128 kg (read) against 45 x 10^(37/80) = 130.53
    for index, kg in tables.load_capacities().items():
        assert kg == pytest.approx(45 * 10 ** (index / 80), rel=0.0195), index


@pytest.mark.parametrize(
    ("index", "kg"),
    [
        # read: two or three public load-index pages that agree
        (75, 387), (83, 487), (88, 560), (91, 615), (95, 690), (99, 775), (100, 800), (104, 900), (107, 975),
        (109, 1030), (110, 1060), (112, 1120), (116, 1250), (118, 1320), (121, 1450), (150, 3350),
        # from memory: UN R54 Annex 4 as recalled
        (156, 4000), (160, 4500),
    ],
)  # fmt: skip
def test_load_index(index: int, kg: float) -> None:
    assert tables.load_capacities()[index] == kg


@pytest.mark.parametrize(
    ("symbol", "kmh"),
    [
        # read: public tire guide page (secondary); W, Y and (Y): EPREL information sheets
        ("Q", 160), ("R", 170), ("S", 180), ("T", 190), ("U", 200), ("H", 210), ("V", 240), ("W", 270), ("Y", 300),
        ("(Y)", 300), ("B", 50), ("L", 120),
        # from memory
        ("A1", 5), ("A8", 40),
    ],
)  # fmt: skip
def test_speed_symbol(symbol: str, kmh: float) -> None:
    assert tables.speed_limits()[symbol] == kmh


def test_h_is_out_of_order() -> None:
    # the one symbol that does not follow the alphabet: H, 210, stands between U, 200, and V, 240 (read, as above)
    speeds = tables.speed_limits()
    assert speeds["U"] < speeds["H"] < speeds["V"]


@pytest.mark.parametrize("code", [12, 13, 14, 15, 16, 17, 18, 19, 20, 21, 22, 23, 24, 26, 28, 30])
def test_nominal_rim_diameter_is_the_code_to_the_nearest_mm(code: int) -> None:
    # UN R30, from memory: d = code x 25.4 to the nearest mm
    assert abs(tables.nominal_rim_diameter(code) - code * 25.4) <= 0.5
    assert tables.nominal_rim_diameter(code) == int(tables.nominal_rim_diameter(code))


@pytest.mark.parametrize(("code", "diameter"), [(15, 380.2), (16, 405.6), (17, 436.6), (20, 512.8), (22, 563.6)])
def test_specified_rim_diameter(code: int, diameter: float) -> None:
    assert tables.specified_rim_diameter(code) == diameter  # ISO 4000-2, from memory, +-0.4


@pytest.mark.parametrize(("code", "diameter"), [(10, 254.0 - 0.8), (25, 635.0 + 4.8), (27, 685.8 + 4.8)])
def test_specified_rim_diameter_outside_the_table(code: int, diameter: float) -> None:
    assert tables.specified_rim_diameter(code) == pytest.approx(diameter, abs=1e-9)  # the step of its neighbours


def test_fifteen_degree_rim_has_no_contour() -> None:
    assert tables.nominal_rim_diameter(22.5) == 572  # UN R54, from memory
    with pytest.raises(CodeError, match="no 5 degree bead seat"):
        tables.specified_rim_diameter(22.5)


@pytest.mark.parametrize(
    ("code", "width", "flange", "height", "seat", "depth", "radius"),
    [
        # read: JIS D 4218:2021 table 3
        (20, 10, "J", 17.5, 19.5, 17.3, 9.5),
        (15, 4.5, "J", 17.5, 19.5, 17.3, 9.5),
        (15, 4, "J", 17.5, 15.0, 17.3, 9.5),
        (15, 3, "J", 17.5, 13.0, 17.3, 9.5),
        (22, 10, "J", 17.5, 19.5, 22.0, 9.5),
        (13, 4.5, "B", 14.5, 19.5, 15.0, 7.5),
        (16, 6, "K", 20.0, 19.5, 17.3, 10.5),
        # read, secondary: an encyclopedia gives the JJ flange as 18 high, curl 9
        (20, 10, "JJ", 18.0, 19.5, 17.3, 9.0),
    ],
)
def test_rim_contour_row(
    code: float, width: float, flange: str, height: float, seat: float, depth: float, radius: float
) -> None:
    row = tables.rim_contour_row(code, width, flange)
    assert (row.flange_height, row.bead_seat, row.well_depth, row.flange_radius) == (height, seat, depth, radius)


def test_exact_halves_go_up() -> None:
    assert [tables.nearest_row(v) for v in (85.5, 86.5, 85.49)] == [86, 87, 85]
    assert tables.nearest_row(9.25, 0.5) == 9.5
