"""A tire and its size on a rim: the rules of UN R30, R54 and ISO 4000-1, and what load and speed it carries."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

from fitment.errors import CodeError
from fitment.parts import tables
from fitment.parts.tables import nearest_row
from fitment.units import MM_PER_INCH

Family = Literal["metric", "P", "HL", "LT", "C", "flotation"]
Shoulder = Literal["round", "usual", "square", "lugged"]
SHOULDERS: tuple[Shoulder, ...] = ("round", "usual", "square", "lugged")
Market = Literal["un", "us"]
MARKETS: tuple[Market, ...] = ("un", "us")
SECTION_WIDTH_PER_RIM = 0.4  # K of UN R30 6.1.1: section width gained per width of rim, read in an amendment
ROLLING_FACTOR = 3.05  # rolling circumference / overall diameter of a radial; ETRTO design practice, from memory
RIM_PROTECTOR = 8.0  # [mm] permitted beyond the largest width; UN R30 6.1.4, R54, from memory. All of it on either side


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
    section_width : measured by the maker [mm]; beats the formula
    on_rim : width of the rim it was measured on [in], None = the measuring rim
    tread_width, overall_diameter : measured [mm]; beat the formula
    size_mark : Z, H, V or S written inside the size (ZR, HR, VR, SR)
    load_range, ply_rating : letter and number of the load range, light truck tires
    snow : marked for snow, which UN R30 allows 1 % more diameter
    special_use : professional off-road, which UN R30 and R54 allow a taller tread
    mass : [kg], None = not known
    approved_rims : narrowest and widest rim of the maker's data sheet [in]
    shoulder : how the tread goes over into the sidewall, None = not told
    outline : (y, r) [mm] from the sidewall to the crown of one side, read on the mounted tire: y from its middle plane,
        >= 0, r from the axis; see `tire_outline`. It beats the formula; empty = not read
    rim_protector : whether a rib stands out beyond the section width to guard the rim, None = not told
    market : whose limit of the largest width counts: that of UN R30 and R54, or the looser US one
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
    shoulder: Shoulder | None = None
    outline: tuple[tuple[float, float], ...] = ()
    rim_protector: bool | None = None
    market: Market = "un"

    @property
    def shape_told(self) -> bool:
        """Whether the shape of its shoulder is known: told, or read."""
        return self.shoulder is not None or bool(self.outline)

    def __post_init__(self) -> None:
        _refuse_implausible(self)


@dataclass(frozen=True)
class TireSize:
    """A tire on a rim: mounted dimensions as new, inflated and unloaded.

    nominal_width : [mm]; aspect_ratio : [%]; rim_diameter : [in], as in the code
    rim, measuring_rim, rim_min, rim_max : rim widths [in]; the range is common practice, not the maker's
    section_width, section_height, overall_diameter : [mm]
    section_width_max, overall_diameter_min, overall_diameter_max : limits for a new tire [mm], UN R30 or R54
    section_width_max_us : the looser US limit [mm], 49 CFR 571.139 S6.1.2, from memory
    load_kg, load_dual_kg : per tire, single and in twin fitting [kg]
    speed_kmh : [km/h]; `speed_at_least` when the tire is rated above that figure
    revs_per_km : turns in a kilometre [1/km]; None for bias-ply, which the relation does not cover
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
                f"{tire.code}: {name} is {value:g} {unit}; it should be {low:.4g} to {high:.4g} {unit}. "
                f"Was it given in {other}?"
            )


def nominal_diameter(tire: Tire) -> float:
    """d, the nominal rim diameter [mm]. Source: UN R30 and R54, from memory."""
    return tables.nominal_rim_diameter(tire.rim_code)


def aspect_ratio(tire: Tire) -> float:
    """Section height as a share of section width [%]; of a flotation size worked out from its own figures.

    Source: the code; of a flotation size derived here, 100 H over the nominal width.
    """
    if tire.aspect_ratio is not None:
        return tire.aspect_ratio
    return 100.0 * section_height(tire) / tire.nominal_width


def measuring_rim(tire: Tire) -> float:
    """Width of the rim that the nominal dimensions refer to [in].

    S1 x k in inches, to the nearest half inch.
    Source: k by aspect ratio from ISO 4000-1, from memory; below 25 the share of 25 is kept, and flotation sizes take
    0.8, which reproduces the measuring rims recalled from UN R54 Annex 5.
    >>> from fitment.parts.tire_code import parse_tire
    >>> measuring_rim(parse_tire("275/40R20")), measuring_rim(parse_tire("33x12.50R20LT"))
    (9.5, 10.0)
    """
    bands = ((75, 0.70), (60, 0.75), (50, 0.80), (45, 0.85), (30, 0.90), (0, 0.92))
    # a flotation size falls into the band of 50, k = 0.80
    share = next(k for least, k in bands if (tire.aspect_ratio or 50) >= least)
    return nearest_row(share * tire.nominal_width / MM_PER_INCH, 0.5)


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
    >>> from fitment.parts.tire_code import parse_tire
    >>> section_height(parse_tire("305/45R20"))
    137.0
    """
    if tire.overall_diameter is not None:
        return (tire.overall_diameter - nominal_diameter(tire)) / 2
    if tire.flotation_diameter is not None:
        return (tire.flotation_diameter * MM_PER_INCH - nominal_diameter(tire)) / 2
    assert tire.aspect_ratio is not None
    return nearest_row(tire.nominal_width * tire.aspect_ratio / 100)


def overall_diameter(tire: Tire) -> float:
    """D = d + 2 H [mm], or the measured one; of a flotation size the code's diameter x 25.4.

    Source: UN R30 6.1.2, UN R54 6.1.2, from memory.
    >>> from fitment.parts.tire_code import parse_tire
    >>> overall_diameter(parse_tire("305/45R20"))
    782.0
    """
    return nominal_diameter(tire) + 2 * section_height(tire)


def theoretical_rim_share(tire: Tire) -> float:
    """x in A1 = x S1 [-]: 0.70 at aspect 50 and above, 0.85 below.

    Source: UN R30 and R54 let the maker state it; these are trade values from memory, and at 50 both are met.
    """
    return 0.70 if tire.aspect_ratio is not None and tire.aspect_ratio >= 50 else 0.85


def section_width(tire: Tire, rim: float | None = None) -> float:
    """S = S1 + K (A - A1) [mm].

    rim : width of the rim it is on [in], None = the measuring rim
    A maker's measured width takes the place of S1 and A1: S = measured + K (rim - on_rim) (on_rim None: it was
    taken on the measuring rim). A flotation size has its nominal width on the measuring rim.
    Source: UN R30 and R54 6.1.1; formula and K read in an amendment, the share behind A1 from memory.
    >>> from fitment.parts.tire_code import parse_tire
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


def un_width_factor(tire: Tire) -> float:
    """Largest section width of a new tire over the nominal one [-]: radial 1.04; bias 1.06 (R30), 1.08 (R54).

    Source: UN R30 6.1.4, UN R54 6.1.4, from memory.
    """
    if tire.radial:
        return 1.04
    return 1.08 if by_r54(tire) else 1.06


def width_factor(tire: Tire, rim: float | None = None) -> float:
    """Largest section width of a new tire over the nominal one [-], by the limit of its market.

    rim : width of the rim it is on [in], None = the measuring rim
    Source: UN R30 6.1.4, UN R54 6.1.4, from memory; `largest_section_width_us`.
    """
    if tire.market == "un":
        return un_width_factor(tire)
    return max(un_width_factor(tire), largest_section_width_us(tire, rim) / section_width(tire, rim))


def widest_rib(tire: Tire, rim: float | None = None) -> float:
    """Middle plane to the outermost that a rim protector of the widest tire may reach on one side [mm].

    rim : width of the rim it is on [in], None = the measuring rim
    The 8 mm count on the whole width. A tire with one rib has all of them on one side, and may be mounted either way
    round. The US limit holds ribs already, and so counts only where it is wider. Without a protector, and where the
    outline was read, half the largest width.
    Source: UN R30 6.1.4, UN R54 6.1.4, 49 CFR 571.139 S6.1.2, from memory.
    """
    half = largest_section_width(tire, rim) / 2
    if tire.rim_protector is False or tire.outline:
        return half
    return max(half, section_width(tire, rim) * un_width_factor(tire) / 2 + RIM_PROTECTOR)


def height_factors(tire: Tire) -> tuple[float, float]:
    """Least and greatest section height of a new tire over the nominal one [-].

    0.97; radial 1.04 (special use 1.06); bias 1.08 (R30) or 1.07 (R54), special use 1.09.
    Source: UN R30 6.1.5, UN R54 6.1.5, from memory.
    """
    if tire.radial:
        return 0.97, 1.06 if tire.special_use else 1.04
    if tire.special_use:
        return 0.97, 1.09
    return 0.97, 1.07 if by_r54(tire) else 1.08


def largest_section_width(tire: Tire, rim: float | None = None) -> float:
    """Widest new tire permitted [mm], by the limit of its market.

    rim : width of the rim it is on [in], None = the measuring rim
    Source: UN R30 6.1.4, UN R54 6.1.4, from memory; of the US `largest_section_width_us`.
    """
    return section_width(tire, rim) * width_factor(tire, rim)


def largest_section_width_us(tire: Tire, rim: float | None = None) -> float:
    """Widest new tire [mm] by the US rule: 7 % or 10 mm over, whichever is more.

    rim : width of the rim it is on [in], None = the measuring rim
    Source: 49 CFR 571.139 S6.1.2, from memory.
    """
    width = section_width(tire, rim)
    return max(1.07 * width, width + 10.0)


def largest_diameter(tire: Tire) -> float:
    """Tallest new tire permitted [mm]: d + 2 H b; one percent more for a snow tire.

    Source: UN R30 6.1.5, UN R54 6.1.5, from memory.
    >>> from fitment.parts.tire_code import parse_tire
    >>> round(largest_diameter(parse_tire("305/45R20")), 2)
    792.96
    """
    tallest = nominal_diameter(tire) + 2 * section_height(tire) * height_factors(tire)[1]
    return tallest * 1.01 if tire.snow else tallest


def smallest_diameter(tire: Tire) -> float:
    """Smallest new tire permitted [mm]: d + 2 H x 0.97. Source: UN R30 6.1.5, UN R54 6.1.5, from memory."""
    return nominal_diameter(tire) + 2 * section_height(tire) * height_factors(tire)[0]


def revs_per_km(tire: Tire) -> float | None:
    """Turns in a kilometre [1/km] from the rolling circumference 3.05 D of a radial; None for bias-ply.

    Source: ETRTO design practice, from memory.
    """
    return 1e6 / (ROLLING_FACTOR * overall_diameter(tire)) if tire.radial else None


def load_capacity(tire: Tire) -> float | None:
    """Load of one tire, single fitting [kg]; None where the code does not tell.

    Source: data/load_index.csv, see `tables.load_capacities`.
    """
    return None if tire.load_index is None else tables.load_capacities()[tire.load_index]


def speed_rating(tire: Tire) -> tuple[float | None, bool]:
    """Speed [km/h], and whether the tire is rated above that figure: (Y), or ZR without a symbol.

    Source: data/speed_symbol.csv; ZR and VR without a symbol, above 240 and 210 km/h, from memory.
    """
    if tire.speed_symbol is not None:
        return tables.speed_limits()[tire.speed_symbol], tire.speed_symbol == "(Y)"
    return {"Z": (240.0, True), "V": (210.0, True)}.get(tire.size_mark, (None, False))


def size_on(tire: Tire, rim: float | None = None) -> TireSize:
    """The tire's dimensions, limits, load and speed on a rim.

    rim : its width [in], None = the measuring rim
    Raises CodeError for a width that is no rim width.
    Source: the functions above, each with its own.
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
            f"At aspect 50 the section width may be {less:.0f} mm less: makers take a theoretical rim of 0.70 or of "
            "0.85 of the width; 0.70 is assumed here."
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
