"""Published and recalled tables of the trade: load index, speed symbol, rim diameters, rim contour, tread shapes.

Every row of `fitment/parts/data/*.csv` carries its status (read, from memory, computed) and its source. A file is
read when it is first asked for, once.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Literal

from fitment.errors import CodeError
from fitment.units import MM_PER_INCH

DATA = Path(__file__).with_name("data")
Flange = Literal["J", "JJ", "K", "B"]
# Rims with a 15 degree bead seat; they take none of the 5 degree contours below.
FIFTEEN_DEGREE_RIMS = (16.5, 17.5, 19.5, 22.5, 24.5)


@dataclass(frozen=True)
class RimContour:
    """One row of the 5 degree drop-centre rim table [mm].

    flange_width : B, least; flange_height : G, from the specified diameter, +-1.0
    bead_seat : P, least, from the flange face
    well_depth : H, least, below the specified diameter
    well_width, well_position : L, least, and M, greatest; the excerpt of the table comes without its figure, so
        that L is the width of the well's bottom and M the place of its middle is our reading
    flange_radius : R2, least, of the flange's curl
    Source: JIS D 4218:2021 table 3 (modified adoption of ISO 4000-2:2013).
    """

    flange_width: float
    flange_height: float
    bead_seat: float
    well_depth: float
    well_width: float
    well_position: float
    flange_radius: float


@lru_cache(maxsize=8)
def _rows(name: str) -> tuple[dict[str, str], ...]:
    import csv

    text = (DATA / f"{name}.csv").read_text(encoding="utf-8")
    return tuple(csv.DictReader(text.splitlines()))


@dataclass(frozen=True)
class Typical:
    """What is usual on vehicles where one value was not measured.

    value : [mm] or [deg], as `unit` says; tolerance : half width of the band in which it usually lies [mm] or [deg]
    unit : mm or deg
    source : where the band comes from
    """

    value: float
    tolerance: float
    unit: str
    source: str


@lru_cache(maxsize=1)
def typical_values() -> dict[str, Typical]:
    """Key path within an axle to what is typical there. Source: data/typical.csv, of each row its own.

    >>> typical_values()["travel.bump"].tolerance
    30.0
    """
    return {
        row["key"]: Typical(float(row["value"]), float(row["tolerance"]), row["unit"], row["source"])
        for row in _rows("typical")
    }


@dataclass(frozen=True)
class ServiceFigure:
    """A starting figure of what a tire and wheel do in service.

    value : in its unit [-]; low, high : the band that it is usually in [-]
    unit : of all three
    source : where it comes from
    """

    value: float
    low: float
    high: float
    unit: str
    source: str


@lru_cache(maxsize=1)
def service_figures() -> dict[str, ServiceFigure]:
    """Starting figure by the key of `service`. Source: data/service.csv, of each row its own.

    >>> service_figures()["play.fore_aft"].value
    7.5
    """
    return {
        row["key"]: ServiceFigure(
            float(row["value"]), float(row["low"]), float(row["high"]), row["unit"], f"{row['status']}: {row['source']}"
        )
        for row in _rows("service")
    }


@dataclass(frozen=True)
class ShoulderShape:
    """How a tire goes over from tread to sidewall.

    squareness : share of the corner's legs that its tangents take [-], 0.2 (round) to 0.95 (square)
    arc_share : of the tread's width that is a circular arc, after which the corner begins [-], 0.8 to 1
    wider : of the tread, where its width is not told, as a share of the section width [-]
    lugs : how far blocks stand out beside the tread [mm]
    """

    squareness: float
    arc_share: float
    wider: float = 0.0
    lugs: float = 0.0

    def __post_init__(self) -> None:
        if not (0.2 <= self.squareness <= 0.95 and 0.8 <= self.arc_share < 1):
            raise CodeError(
                f"a shoulder of squareness {self.squareness:g} and arc share {self.arc_share:g}; give a squareness of "
                "0.2 (round) to 0.95 (square) and an arc share of 0.8 to 1."
            )


@lru_cache(maxsize=1)
def shoulder_shapes() -> dict[str, ShoulderShape]:
    """Shoulder by its word. Source: data/tire_shoulder.csv, common practice, no published source.

    >>> shoulder_shapes()["lugged"].lugs
    6.0
    """
    columns = ("squareness", "arc_share", "wider", "lugs_mm")
    return {row["shoulder"]: ShoulderShape(*(float(row[key]) for key in columns)) for row in _rows("tire_shoulder")}


@lru_cache(maxsize=2)
def tread_shares(kind: Literal["passenger", "light_truck"]) -> tuple[tuple[float, float], ...]:
    """(aspect ratio [%], tread width / section width [-]), rising, of one kind of tire.

    Source: data/tread_share.csv, common practice, no published source.
    >>> tread_shares("passenger")
    ((35.0, 0.9), (70.0, 0.8))
    """
    return tuple((float(r["aspect_ratio"]), float(r["share"])) for r in _rows("tread_share") if r["kind"] == kind)


@lru_cache(maxsize=1)
def load_capacities() -> dict[int, float]:
    """Load index to capacity [kg], 0 to 160.

    Source: data/load_index.csv; secondary pages, 135 and 151 to 160 from memory.

    >>> load_capacities()[112]
    1120.0
    """
    return {int(row["load_index"]): float(row["kg"]) for row in _rows("load_index")}


@lru_cache(maxsize=1)
def speed_limits() -> dict[str, float]:
    """Speed symbol to speed [km/h]; (Y) stands with the speed it exceeds. Source: data/speed_symbol.csv.

    >>> speed_limits()["W"], speed_limits()["(Y)"]
    (270.0, 300.0)
    """
    rows = (row for row in _rows("speed_symbol") if not row["symbol"].startswith("ZR"))
    return {row["symbol"]: float(row["km_h"].lstrip(">")) for row in rows}


@lru_cache(maxsize=16)
def bolt_circles(lugs: int) -> tuple[float, ...]:
    """Bolt circles in use with so many lugs [mm], rising; empty where none is known.

    Source: data/bolt_circles.csv; that they are in use is from memory.
    >>> bolt_circles(6)
    (114.3, 120.0, 127.0, 130.0, 132.0, 135.0, 139.7)
    """
    return tuple(sorted(float(row["bolt_circle_mm"]) for row in _rows("bolt_circles") if int(row["lugs"]) == lugs))


@lru_cache(maxsize=1)
def _rim_diameters() -> dict[float, tuple[float, float]]:
    rows = _rows("rim_diameter")
    return {
        float(r["rim_code"]): (float(r["nominal_d_UN_mm"]), float(r["specified_diameter_mm_tol_0.4"])) for r in rows
    }


def nominal_rim_diameter(rim_code: float) -> float:
    """d, the nominal rim diameter [mm] of a rim code: code x 25.4 to the nearest millimetre.

    rim_code : [in]
    Source: UN R30 and R54, from memory; a code outside the table is worked out by the same rule.
    >>> nominal_rim_diameter(20), nominal_rim_diameter(22.5)
    (508.0, 572.0)
    """
    row = _rim_diameters().get(float(rim_code))
    return row[0] if row else nearest_row(rim_code * MM_PER_INCH)


def specified_rim_diameter(rim_code: float) -> float:
    """Diameter of the bead seats [mm] where they meet the flange face, +-0.4.

    rim_code : [in]
    Raises CodeError for rims with a 15 degree seat.
    Source: ISO 4000-2, from memory; a code outside the table takes the step its neighbours have against code x 25.4
    (-0.8 up to 16, +4.8 from 17).
    >>> specified_rim_diameter(20), specified_rim_diameter(16)
    (512.8, 405.6)
    """
    row = _rim_diameters().get(float(rim_code))
    if row:
        return row[1]
    if rim_code != int(rim_code):
        raise CodeError(f"a {rim_code:g} in rim has no 5 degree bead seat; its contour is not covered.")
    return round(rim_code * MM_PER_INCH + (-0.8 if rim_code <= 16 else 4.8), 3)


@lru_cache(maxsize=64)
def rim_contour_row(rim_code: float, rim_width: float = 10.0, flange: str = "J") -> RimContour:
    """The row of the rim contour table for a rim code and width and a flange letter.

    rim_code, rim_width : [in]
    The narrow rows (3, 3.5, 4) have narrower seats and wells; from 22 up the well is deeper. A J, JJ or K rim
    of a code without a row of its own takes the nearest J row (10 to 13: the row of 14 to 21).
    Source: JIS D 4218:2021 table 3; each row of data/rim_contour.csv carries its own source and status.
    """
    flange_letter = "B" if flange == "B" else "J"
    rows = [row for row in _rows("rim_contour") if re.match(rf"[\d.]+{flange_letter}\b", row["width_and_flange"])]
    if flange_letter == "J":
        rows = [row for row in rows if (row["rim_code"] == "22 and up") == (rim_code >= 22)]
    fitting = [row for row in rows if _row_width(row) <= rim_width] or rows[:1]
    row = max(fitting, key=_row_width)
    height, radius, width = (float(row[key]) for key in _FLANGE_COLUMNS)
    if flange == "JJ":
        jj = next(row for row in _rows("rim_contour") if row["width_and_flange"] == "JJ")
        height, radius = float(jj[_FLANGE_COLUMNS[0]]), float(jj[_FLANGE_COLUMNS[1]])
        width = float(jj[_FLANGE_COLUMNS[2]].split()[0])
    elif flange == "K":
        k = next(row for row in _rows("rim_contour") if row["width_and_flange"].startswith("6K"))
        height, radius, width = (float(k[key]) for key in _FLANGE_COLUMNS)
    return RimContour(
        flange_width=width,
        flange_height=height,
        bead_seat=float(row["bead_seat_P_min_mm"]),
        well_depth=float(row["well_depth_H_min_mm"]),
        well_width=float(row["well_position_L_min_mm"]),
        well_position=float(row["well_position_M_max_mm"]),
        flange_radius=radius,
    )


_FLANGE_COLUMNS = ("flange_height_G_mm_tol_1.0", "flange_radius_R2_min_mm", "flange_width_B_min_mm")


def _row_width(row: dict[str, str]) -> float:
    return float(row["width_and_flange"].split()[0].rstrip("JKB"))


def nearest_row(value: float, step: float = 1.0) -> float:
    """To the nearest step, an exact half upwards (the larger, safer figure).

    value, step : both in one unit, whatever it is [-]
    Returns : the multiple of the step, in that unit [-]
    Source: UN R30 and R54 round to the nearest, from memory; half upwards is our choice.
    >>> nearest_row(85.5), nearest_row(9.74, 0.5)
    (86.0, 9.5)
    """
    return math.floor(value / step + 0.5 + 1e-9) * step
