"""Meridian sections of wheel and tire: the outlines that everything else measures to.

Frame of every polygon: the hub frame, (y', r) [mm], y' along the spin axis, positive outboard, zero at the hub
face; r the distance from the axis. The wheel's mounting face stands at y' = spacer, the rim's centre line at
y' = spacer - ET. Inside this module y is counted from the rim's centre line.

What no code and no spec tells is filled in by the assumptions below; `assumptions` puts them in words.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from functools import lru_cache
from itertools import groupby, pairwise
from typing import Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon, box
from shapely.affinity import translate
from shapely.geometry import LineString
from shapely.ops import unary_union

from fitment.errors import CodeError
from fitment.parts import tire as tires
from fitment.parts import wheel as wheels
from fitment.parts.tables import (
    Flange,
    RimContour,
    ShoulderShape,
    rim_contour_row,
    shoulder_shapes,
    specified_rim_diameter,
    tread_shares,
)
from fitment.parts.tire import Tire
from fitment.parts.tire_outline import beyond_chord
from fitment.parts.wheel import Wheel
from fitment.units import MM_PER_INCH

Array = NDArray[np.float64]
Point = tuple[float, float]

CHORD_ERROR = 0.03  # [mm] greatest distance of the outline from the smooth curve
# Rim. Seat angle: ISO 4000-2, from memory. The rest: assumptions.
SEAT_TAPER = 5.0  # [deg]
HUMP_WIDTH = 8.0  # [mm]
WELL_SHARE = 0.2  # of the rim width is the bottom of the well, never less than the table's L
WELL_RAMP = 20.0  # [deg] rise of the well's inboard wall
# Metal of the wheel: assumptions.
BARREL_THICKNESS = 6.0  # [mm]
LEAST_METAL = 2.5  # [mm]
EDGE = 0.02  # [mm] thickness of an edge of the barrel whose two sides were measured at one depth
SLIVER = 0.02  # share of the metal that may be cut off by the rim's edge and dropped
DISC_THICKNESS = 25.0  # [mm]
PAD_THICKNESS = 30.0  # [mm]
PAD_OVER_CIRCLE = 35.0  # [mm] pad diameter over bolt circle
PAD_DIAMETER = 150.0  # [mm] without a bolt circle
BORE_DIAMETER = 70.0  # [mm] without a centre bore
# Tire. Common practice, no published source.
TREAD_DROP = 0.035  # fall of the tread arc at its edge / tread width
WIDEST_AT = 0.43  # widest point / free height of the sidewall above the flange
WIDEST_AT_STRETCHED = 0.10  # the same when the bead stands wider than the sidewall
FLANGE_WRAP = 60.0  # [deg] the sidewall follows the flange's curl this far before it leaves
LUGS_RISE = 0.5  # of the way from the widest point to the tread's edge, after which lugs stand out in full
RIB_HEIGHT = 12.0  # [mm] of a rim protector over the sidewall; common practice, from memory
RIB_CREST, RIB_FOOT = 20.0, 30.0  # [mm] above the flange its crest and its foot end; common practice, from memory
LEAST_SIDEWALL = 4.0  # [mm] above the flange
SLIDE = 400.0  # [mm] outboard of its seat a wheel is clear of its hub


# ---------------------------------------------------------------- curves


def _arc(centre: Point, radius: float, start: float, end: float) -> list[Point]:
    """Points of a circular arc between two angles [deg], both ends included, within CHORD_ERROR."""
    if radius <= 0:
        return [centre]
    step = 2 * math.degrees(math.acos(max(0.0, 1 - CHORD_ERROR / radius)))
    n = max(1, math.ceil(abs(end - start) / step))
    angles = [math.radians(start + (end - start) * i / n) for i in range(n + 1)]
    return [(centre[0] + radius * math.cos(a), centre[1] + radius * math.sin(a)) for a in angles]


def _bezier(p0: Point, p1: Point, p2: Point, p3: Point) -> list[Point]:
    """Points of a cubic Bezier curve, both ends exact, within CHORD_ERROR of it.

    A chord over a step h of the parameter is off by at most h^2 / 8 times the second derivative.
    """
    p = np.array([p0, p1, p2, p3])
    bend = 6 * float(np.linalg.norm(np.diff(p, n=2, axis=0), axis=1).max())
    n = max(2, math.ceil(math.sqrt(bend / (8 * CHORD_ERROR))))
    t = np.linspace(0.0, 1.0, n + 1)[:, None]
    s = 1 - t
    points = s**3 * p[0] + 3 * s * s * t * p[1] + 3 * s * t * t * p[2] + t**3 * p[3]
    points[0], points[-1] = p[0], p[3]
    return [(float(y), float(r)) for y, r in points]


def _distinct(points: list[Point], least: float = 1e-3) -> list[Point]:
    """The points without near-duplicates of their predecessors."""
    kept = points[:1]
    for point in points[1:]:
        if math.dist(point, kept[-1]) > least:
            kept.append(point)
    return kept


# ---------------------------------------------------------------- rim


class Rim(NamedTuple):
    """What the tire sees of a wheel: wheels that differ in offset or disc share their rim and its outlines.

    diameter, width : [in]
    overall_width : flange to flange [mm]
    flange : its letter
    """

    diameter: float
    width: float
    overall_width: float
    flange: Flange

    @property
    def half(self) -> float:
        """Centre line to flange face [mm]."""
        return self.width * MM_PER_INCH / 2

    @property
    def seat(self) -> float:
        """Radius of the bead seat at the flange face [mm]."""
        return specified_rim_diameter(self.diameter) / 2

    @property
    def row(self) -> RimContour:
        """Its row of the contour table."""
        return rim_contour_row(self.diameter, self.width, self.flange)


def _rim(wheel: Wheel) -> Rim:
    return Rim(wheel.rim_diameter, wheel.rim_width, wheels.overall_width(wheel), wheel.flange)


def _flange(row: RimContour, half: float, half_overall: float, seat: float) -> list[Point]:
    """Outboard flange from the bead heel up the face, round the curl and out to the tip."""
    thickness = half_overall - half
    top = seat + row.flange_height
    curl = min(row.flange_radius, thickness)
    points = [(half, seat), *_arc((half + curl, top - curl), curl, 180.0, 90.0)]
    lip = min(thickness - curl, 4.0)
    if lip > 0:
        points += _arc((half_overall - lip, top - lip), lip, 90.0, 0.0)
    return points


def _seat(row: RimContour, half: float, seat: float) -> list[Point]:
    """Outboard bead seat and hump, from the foot of the hump outwards to the heel."""
    toe = half - row.bead_seat
    toe_radius = seat - row.bead_seat * math.tan(math.radians(SEAT_TAPER))
    foot = toe - HUMP_WIDTH
    # the crest of the hump is taken as high as the specified diameter at the heel
    steps = np.linspace(0.0, 1.0, 11)
    rise = seat - toe_radius
    hump = [(foot + HUMP_WIDTH * s, toe_radius + rise * 0.5 * (1 - math.cos(2 * math.pi * s))) for s in steps]
    return [*hump, (half, seat)]


def _well(row: RimContour, half: float, seat: float) -> list[Point]:
    """Bottom and walls of the drop centre between the two hump feet, inboard to outboard; ends not included."""
    foot = half - row.bead_seat - HUMP_WIDTH
    foot_radius = seat - row.bead_seat * math.tan(math.radians(SEAT_TAPER))
    bottom_radius = seat - row.well_depth
    depth = foot_radius - bottom_radius
    room = 2 * foot
    bottom = min(max(row.well_width, WELL_SHARE * 2 * half), 0.6 * room)
    outer_wall = min(max(row.well_position - row.well_width / 2 - (half - foot), 0.35 * depth), 0.4 * (room - bottom))
    outer = foot - outer_wall
    inner = outer - bottom
    ramp = min(depth / math.tan(math.radians(WELL_RAMP)), inner + foot)
    return [(inner - ramp, foot_radius), (inner, bottom_radius), (outer, bottom_radius)]


@lru_cache(maxsize=512)
def _contour(rim: Rim) -> Array:
    row, half, seat = rim.row, rim.half, rim.seat
    side = [*_seat(row, half, seat), *_flange(row, half, rim.overall_width / 2, seat)[1:]]
    mirrored = [(-y, r) for y, r in reversed(side)]
    contour = np.array(_distinct([*mirrored, *_well(row, half, seat), *side]))
    contour.setflags(write=False)
    return contour


def rim_contour(wheel: Wheel) -> Array:
    """Tire side of the rim (n, 2): (y from the rim's centre line, r) [mm], inboard flange tip to outboard flange tip.

    Flange, 5 degree seat with the specified diameter at the heel, hump, drop centre nearer to the outboard side.
    Source: JIS D 4218:2021 table 3 for flange and well; where it gives limits, the limit (assumption).
    The array is shared and cannot be written to.
    """
    return _contour(_rim(wheel))


def flange_top(wheel: Wheel) -> tuple[float, float]:
    """Where a sidewall begins: the flange's face from the rim's centre line, and the radius of its top [mm].

    Source: as `rim_contour`.
    """
    rim = _rim(wheel)
    return rim.half, rim.seat + rim.row.flange_height


@lru_cache(maxsize=512)
def _below(rim: Rim) -> Any:
    """Everything between the rim contour and the axle's line."""
    contour = _contour(rim)
    return Polygon([(contour[0, 0], 0.0), *contour, (contour[-1, 0], 0.0)])


@lru_cache(maxsize=512)
def _barrel(rim: Rim, thickness: float, clear: float | None, inside: tuple[Point, ...] = ()) -> Any:
    """Metal of the barrel: the contour with its thickness, or down to the cylinder of radius `clear` inside it.

    inside : its inner surface where that was measured, y rising; it beats the other two there
    """
    line, below, far = LineString(_contour(rim)), _below(rim), 2 * rim.seat
    skin = line.buffer(LEAST_METAL, quad_segs=6).intersection(below)
    if clear is None:
        metal = line.buffer(thickness, quad_segs=6).intersection(below)
    else:
        half = rim.half + BARREL_THICKNESS
        metal = unary_union([skin, below.intersection(box(-half, clear, half, far))])
    if not inside:
        return metal
    start, end = inside[0][0], inside[-1][0]
    measured = Polygon([*inside, (end, far), (start, far)]).buffer(0)
    solid = unary_union([measured, *_measured_edges(inside, rim.overall_width / 2)]).intersection(below)
    return unary_union([metal.difference(box(start, 0.0, end, far)), skin, solid])


def _measured_edges(inside: tuple[Point, ...], half: float) -> Iterator[Any]:
    """Lips that hang down at one depth, first and last included: an area bounded by the points alone has none there."""
    steps = [list(group) for _, group in groupby(inside, key=lambda point: point[0])]
    for k, step in enumerate(steps):
        y, low = step[0][0], min(r for _, r in step)
        before = step[0][1] if k else math.inf
        after = step[-1][1] if k < len(steps) - 1 else math.inf
        if low < min(before, after):
            left = min(max(y, -half), half - EDGE) if k < len(steps) - 1 else min(y, half) - EDGE
            yield box(left, low, left + EDGE, max(r for _, r in step) + EDGE)


def _barrel_of(wheel: Wheel) -> Any:
    """Metal of a wheel's barrel, y from the rim's centre line. Raises CodeError."""
    rim, inside = _rim(wheel), wheel.barrel_inside
    if inside and (
        max(r for _, r in inside) > rim.seat
        or min(r for _, r in inside) < 0.5 * rim.seat
        or max(abs(y) for y, _ in inside) > rim.overall_width / 2 + 1
    ):
        raise CodeError(
            f"{wheel.spec}: barrel_inside lies outside the rim. r must be {0.5 * rim.seat:.0f} to {rim.seat:.0f} mm, "
            f"and y' {-wheel.offset - rim.overall_width / 2:.0f} to {rim.overall_width / 2 - wheel.offset:.0f} mm from "
            "the mounting face. Was the diameter given in place of r?"
        )
    return _barrel(rim, wheel.barrel_thickness or BARREL_THICKNESS, _clear_radius(wheel), inside)


def _clear_radius(wheel: Wheel) -> float | None:
    """Radius of the cylinder that passes into the barrel [mm], refused where no such rim can be."""
    if wheel.barrel_clear_diameter is None:
        return None
    clear, seat = wheel.barrel_clear_diameter / 2, _rim(wheel).seat
    if not 0.55 * seat <= clear <= seat - LEAST_METAL - 1.5:
        hint = " Was the radius given?" if 0.55 * seat <= 2 * clear <= seat else ""
        raise CodeError(
            f"{wheel.spec}: barrel_clear_diameter is {2 * clear:g} mm; in a {wheel.rim_diameter:g} in rim it must "
            f"be {1.1 * seat:.0f} to {2 * (seat - LEAST_METAL - 1.5):.0f} mm, to pass inside the bead seats.{hint}"
        )
    return clear


def _disc_back(wheel: Wheel, bore: float, reach: float) -> list[Point]:
    """Back of the disc from bore to barrel, y counted from the mounting face."""
    if not wheel.spoke_back:
        return [(0.0, bore), (0.0, reach)]
    back = [(float(y), float(r)) for y, r in wheel.spoke_back]
    if len(back) > 1 and back[0][1] > back[-1][1]:
        back.reverse()
    pad = _pad_diameter(wheel) / 2
    start = [(0.0, bore), (0.0, min(pad, back[0][1] - 1.0))] if back[0][1] > bore + 1.0 else []
    return _distinct([*start, *back, (back[-1][0], max(reach, back[-1][1] + 1.0))])


def _swept(line: list[Point], outboard: float, up: float = 0.0) -> Any:
    """The area a polyline passes over when it moves outboard and away from the axis by so much."""
    corners, way = np.array(line, dtype=float), np.array([outboard, up])
    start, end = corners[:-1], corners[1:]
    pieces = shapely.polygons(np.stack([start, end, end + way, start + way], axis=1))
    return unary_union(pieces[shapely.area(pieces) > 1e-9])


def passed_over(section: Any, by: float = SLIDE, up: float = 0.0) -> Polygon:
    """All that a section passes over when it is slid outboard, as a wheel is taken off and put on, (y', r) [mm].

    section : a polygon, or several, (y', r) [mm]
    by : how far [mm]; up : and how far away from the axis meanwhile [mm]
    What lies outboard of the section and stands still is met while the wheel is slid over it.
    Source: derived here: each side of the outline sweeps a parallelogram.
    """
    lines = [list(part.exterior.coords) for part in getattr(section, "geoms", [section])]
    passed = unary_union([section, translate(section, by, up), *(_swept(line, by, up) for line in lines)])
    return Polygon(max(getattr(passed, "geoms", [passed]), key=lambda part: part.area).exterior.simplify(1e-4))


def spread(section: Polygon, out: float, up: float = 0.0, down: float = 0.0) -> Polygon:
    """A section grown all round (y', r) [mm]: all that it covers when it is moved anywhere within a box.

    section : (y', r) [mm]
    out : to both sides [mm]; up, down : away from the axis and towards it [mm]
    Whatever moves each point by no more than that, evenly or not, stays within.
    Source: derived here: the sum of a region and a box is what it passes over along one side, then along the other.
    """
    wide = passed_over(translate(section, -out, 0.0), 2 * out) if out > 0 else section
    return passed_over(translate(wide, 0.0, -down), 0.0, up + down) if up + down > 0 else wide


def _disc(wheel: Wheel, rim: Rim) -> Any:
    """Hub pad and disc, y from the rim's centre line, cut where the rim's tire side begins."""
    seat, half, half_overall = rim.seat, rim.half, rim.overall_width / 2
    bore = (wheel.centre_bore or BORE_DIAMETER) / 2
    back = _disc_back(wheel, bore, seat + rim.row.flange_height)
    disc = translate(unary_union([_swept(back, DISC_THICKNESS), hub_pad(wheel)]), wheel.offset, 0.0)
    low, _, high, _ = disc.bounds
    tip = seat - BARREL_THICKNESS
    beside = [
        box(min(low, -half_overall) - 1, 0, -half_overall, tip),
        box(half_overall, 0, max(high, half_overall) + 1, tip),
    ]
    disc = disc.intersection(unary_union([_below(rim), *beside]))
    # a disc that stands beside the barrel is carried to its edge by a ring under the bead seat
    edge = next(y for y, r in reversed(back) if r <= max(tip, back[0][1])) + wheel.offset
    ring: list[Any] = []
    if edge + DISC_THICKNESS / 2 > half:
        ring = [box(half - 15.0, seat - 11.0, edge + DISC_THICKNESS, seat - 3.0)]
    elif edge + DISC_THICKNESS / 2 < -half:
        ring = [box(edge, seat - 11.0, -half + 15.0, seat - 3.0)]
    return unary_union([disc, *ring])


def hub_pad(wheel: Wheel, spacer_thickness: float = 0.0) -> Polygon:
    """The pad round the bore, as it stays at the hub face whatever the offset, hub frame (y', r) [mm].

    spacer_thickness : [mm]
    Source: the wheel's own figures; else the assumptions PAD_*, which `assumptions` tells.
    """
    bore = (wheel.centre_bore or BORE_DIAMETER) / 2
    thickness, radius = wheel.pad_thickness or PAD_THICKNESS, max(_pad_diameter(wheel) / 2, bore + 5.0)
    return box(spacer_thickness, bore, spacer_thickness + thickness, radius)


def uncut_disc(wheel: Wheel, spacer_thickness: float = 0.0) -> Polygon:
    """Disc and pad as they stay at the hub face whatever the offset, out to the bead seat, hub frame (y', r) [mm].

    spacer_thickness : [mm]
    Source: the measured back of the spokes; else a flat disc DISC_THICKNESS thick (assumption).
    """
    bore = (wheel.centre_bore or BORE_DIAMETER) / 2
    tip = _rim(wheel).seat - BARREL_THICKNESS
    disc = unary_union([_swept(_disc_back(wheel, bore, tip), DISC_THICKNESS), hub_pad(wheel)])
    return translate(disc, spacer_thickness, 0.0)


def _pad_diameter(wheel: Wheel) -> float:
    if wheel.pad_diameter is not None:
        return wheel.pad_diameter
    return wheel.bolt_circle.diameter + PAD_OVER_CIRCLE if wheel.bolt_circle else PAD_DIAMETER


def _one_piece(metal: Any, wheel: Wheel) -> Polygon:
    """The union as one simple polygon without holes."""
    metal = metal.buffer(0)
    if isinstance(metal, MultiPolygon):
        parts = sorted(metal.geoms, key=lambda part: part.area)
        if sum(part.area for part in parts[:-1]) > SLIVER * metal.area:
            raise CodeError(
                f"{wheel.spec}: disc and barrel do not meet; check spoke_back, offset and barrel_clear_diameter "
                "against each other."
            )
        metal = parts[-1]
    return Polygon(metal.exterior.simplify(1e-3))


@lru_cache(maxsize=512)
def _wheel_metal(wheel: Wheel) -> Polygon:
    rim = _rim(wheel)
    return _one_piece(unary_union([_barrel_of(wheel), _disc(wheel, rim)]), wheel)


@lru_cache(maxsize=2048)
def barrel_section(wheel: Wheel, spacer_thickness: float = 0.0) -> Polygon:
    """Section of the barrel alone, what moves with the offset, in the hub frame (y', r) [mm].

    spacer_thickness : [mm]
    Raises CodeError for a barrel_clear_diameter or barrel_inside that cannot belong to the rim.
    Source: what was measured of its inside; else JIS D 4218:2021 table 3 less BARREL_THICKNESS of metal (assumption).
    """
    return translate(_barrel_of(wheel), spacer_thickness - wheel.offset, 0.0)


@lru_cache(maxsize=512)
def barrel_passed_over(wheel: Wheel, spacer_thickness: float = 0.0) -> Polygon:
    """All that the barrel alone passes over while the wheel is slid on, in the hub frame (y', r) [mm].

    spacer_thickness : [mm]
    Source: derived here, `passed_over` of `barrel_section`.
    """
    return passed_over(barrel_section(wheel, spacer_thickness))


@lru_cache(maxsize=512)
def disc_section(wheel: Wheel, spacer_thickness: float = 0.0) -> Polygon:
    """Section of hub pad and spokes alone, out to the tire side of the rim, in the hub frame (y', r) [mm].

    spacer_thickness : [mm]
    Source: the measured back of the spokes; else a flat disc DISC_THICKNESS thick (assumption).
    """
    disc = translate(_disc(wheel, _rim(wheel)), spacer_thickness - wheel.offset, 0.0)
    return max(getattr(disc, "geoms", [disc]), key=lambda part: part.area)


def wheel_section(wheel: Wheel, spacer_thickness: float = 0.0) -> Polygon:
    """The wheel's metal in the hub frame (y', r) [mm]: one simple polygon without holes.

    spacer_thickness : [mm]
    Barrel, disc from the centre bore to the barrel, hub pad. Spokes are drawn as a full disc: a section of
    revolution has no gaps between them.
    Raises CodeError for a barrel_clear_diameter or spoke_back that cannot belong to the rim.
    Source: JIS D 4218:2021 table 3 for the rim; the rest as measured, else the assumptions that `assumptions` tells.
    """
    return translate(_wheel_metal(wheel), spacer_thickness - wheel.offset, 0.0)


# ---------------------------------------------------------------- tire


def tread_width(tire: Tire, shape: ShoulderShape | None = None) -> float:
    """Width of the tread [mm]: the maker's, else a share of the section width on the measuring rim.

    shape : of the shoulder, which may make it wider [-]; None = as told, else the usual one
    Passenger tires 0.90 at aspect 35 and below, 0.80 at 70 and above, linear between; LT and flotation sizes 0.90 at 45
    and 0.83 at 75. Of an outline that was read, the width where it is steeper than 45 degrees for the first time.
    Source: data/tread_share.csv and tire_shoulder.csv, common practice, no published source.
    """
    if tire.tread_width is not None:
        return tire.tread_width
    if tire.outline:
        return 2 * _tread_edge(tire.outline)
    aspects, shares = zip(
        *tread_shares("light_truck" if tire.family in ("LT", "flotation") else "passenger"), strict=True
    )
    share = float(np.interp(tires.aspect_ratio(tire), aspects, shares)) + (shape or _shoulder(tire)).wider
    return share * tires.section_width(tire)


def _tread_edge(outline: tuple[Point, ...]) -> float:
    """Of an outline from the sidewall, y of the first point from which it is flatter than 45 degrees [mm]."""
    sides = pairwise(outline)
    return next((y0 for (y0, r0), (y1, r1) in sides if abs(r1 - r0) < y0 - y1), outline[-1][0])


def _shoulder(tire: Tire, *, largest: bool = False) -> ShoulderShape:
    """The shoulder as told; one that nobody told is the usual one, of the largest tire the square one."""
    return shoulder_shapes()[tire.shoulder or ("square" if largest else "usual")]


def _sidewall(flange: tuple[float, float, float], half: float, widest: float) -> list[Point]:
    """Lower sidewall from the flange to the widest point, vertical there.

    flange : its face from the centre line, radius of its top, radius of its curl [mm]
    half : half section width; widest : its radius [mm]
    A sidewall wider than the bead follows the curl of the flange and leaves it along its tangent; one that is
    narrower leaves the flange face and leans in, so that the flange stands proud.
    """
    face, top, curl = flange
    out = half - face
    if out <= 0.05:
        start = (face, top - curl)
        reach = 0.45 * (widest - start[1])
        return _bezier(start, (face, start[1] + reach), (half, widest - reach), (half, widest))
    wrap = min(math.radians(FLANGE_WRAP), math.acos(max(-1.0, 1 - 0.5 * out / curl)))
    for _ in range(20):  # further round the flange until the tangent meets the widest width below the widest point
        start = (face + curl * (1 - math.cos(wrap)), top - curl + curl * math.sin(wrap))
        run = (half - start[0]) / math.sin(wrap)
        meet = start[1] + run * math.cos(wrap)
        if meet - start[1] <= 0.7 * (widest - start[1]):
            break
        wrap = (wrap + math.radians(90.0)) / 2
    share = 0.6
    lead = (start[0] + share * run * math.sin(wrap), start[1] + share * run * math.cos(wrap))
    return _bezier(start, lead, (half, widest - share * (widest - meet)), (half, widest))


def _crown(half: float, widest: float, crown: float, edge: float, shape: ShoulderShape, rise: float) -> list[Point]:
    """Upper sidewall, shoulder and tread arc from the widest point to the crown on the centre line.

    edge : half width of the tread's circular arc; the shoulder starts there in its tangent
    rise : share of the way from the widest point to that edge, on which lugs rise
    """
    half, edge = half + shape.lugs, edge + shape.lugs
    drop = min(TREAD_DROP * 2 * edge, 0.15 * (crown - widest))
    radius = (edge**2 + drop**2) / (2 * drop)
    slope = math.asin(min(1.0, edge / radius))
    corner = (edge, crown - drop)
    out, up = min(1.25 * shape.squareness, 0.95) * (half - edge), shape.squareness * (corner[1] - widest)
    side = _bezier(
        (half, widest),
        (half, widest + up),
        (edge + out * math.cos(slope), corner[1] - out * math.sin(slope)),
        corner,
    )
    tread = _arc((0.0, crown - radius), radius, 90.0 - math.degrees(slope), 90.0)
    tread[-1] = (0.0, crown)
    ramp = rise * (corner[1] - widest)
    if shape.lugs and ramp:
        side = [(y - shape.lugs * max(1 - (r - widest) / ramp, 0.0), r) for y, r in side]
    return [*side, *tread[1:]]


def _tire_half(tire: Tire, rim: Rim, largest: bool, shape: ShoulderShape, ribbed: bool) -> list[Point]:
    """Outboard half of the outline outside the rim, from the flange to the crown."""
    face, top = rim.half, rim.seat + rim.row.flange_height
    curl = min(rim.row.flange_radius, rim.overall_width / 2 - face)
    nominal = tires.section_width(tire, rim.width) / 2
    wider = tires.width_factor(tire, rim.width) if largest else 1.0
    half = nominal * wider
    crown = (tires.largest_diameter(tire) if largest else tires.overall_diameter(tire)) / 2
    free = crown - top
    if free < LEAST_SIDEWALL:
        raise CodeError(
            f"{tire.code} on a {rim.diameter:g}x{rim.width:g} rim: the tread stands {free:.1f} mm above the flange; no "
            "such tire can be drawn. Check size and rim."
        )
    if tire.outline:
        return _read_half(tire, (face, top, curl), half, largest)
    edge = shape.arc_share * min(tread_width(tire, shape) / 2 * wider, half)
    low = high = _widest(rim, half if largest else nominal, free)
    if largest and (
        half > face or shape.lugs
    ):  # the hull of the permitted: a smaller one, or a narrower, is widest lower down
        low = _widest(rim, nominal, max(tires.smallest_diameter(tire) / 2 - top, LEAST_SIDEWALL))
    lower = _sidewall((face, top, curl), half, low)
    rib = tires.widest_rib(tire, rim.width)
    if (largest or ribbed) and rib > half:
        lower = [lower[0], *_ribbed(lower, rib, top, all_over=tires.by_r54(tire))]
    if largest:
        out = max(lower[-1][0], half + shape.lugs)
        lower += [(out, low), (out, high)]
    return _distinct([*lower, *_crown(half, high, crown, edge, shape, 0.0 if largest else LUGS_RISE)])


def _read_half(tire: Tire, flange: tuple[float, float, float], half: float, largest: bool) -> list[Point]:
    """The same of an outline that was read, its points joined straight; half : half section width [mm].

    Of the largest tire it is wider by its share of the width, higher above the widest point, and stands out as far as
    a convex outline through the points could. A rim narrower than the one it was read on takes nothing from it.
    """
    read = tire.outline
    widen = max(half / max(y for y, _ in read), 1.0)
    widest = max(read)[1]
    if largest:
        apexes = (beyond_chord(read, k)[0] for k in range(len(read) - 1))
        between = [[apex] if apex else [] for apex in apexes]
        read = tuple(p for k, point in enumerate(read) for p in (point, *(between[k] if k < len(between) else ())))
    crown = tires.overall_diameter(tire) / 2
    grown = tires.largest_diameter(tire) / 2 - crown if largest else 0.0
    points = [(y * widen, r + grown * min(max((r - widest) / (crown - widest), 0.0), 1.0)) for y, r in read]
    points = [(y, r) for y, r in points if r > flange[1] + LEAST_SIDEWALL]
    last = points[-1]
    line = _distinct([*_sidewall(flange, *points[0]), *points[1:], *([(0.0, last[1])] if last[0] > 0 else [])])
    if not LineString(line).is_simple:
        raise CodeError(f"{tire.code}: outline: it crosses itself; list the points in order from sidewall to crown.")
    return line


def _ribbed(lower: list[Point], rib: float, flange: float, *, all_over: bool) -> list[Point]:
    """A lower sidewall with a rim protector: RIB_HEIGHT further out, but no further than the rib may.

    flange : radius of its top [mm]; all_over : up to the widest place, as ribs of vans stand that guard the sidewall.
        Else the crest is counted from the flange up and falls straight to its foot; where that is not below the widest
        place, on a low tire or one that leans in, it is counted up to there all the same
    Source: common practice, from memory; UN R30 and R54, as remembered, say how far a rib stands out and not where. A
        rib that guards the rim meets what the flange would meet, and so stands beside it.
    """
    widest, foot, crest = lower[-1][1], flange + RIB_FOOT, flange + RIB_CREST
    if all_over or widest <= foot:
        foot = crest = widest
    heights = sorted({r for _, r in lower} | {crest, foot})
    own = np.interp(heights, [r for _, r in lower], [y for y, _ in lower])
    out = own + (np.interp(heights, [crest, foot], [RIB_HEIGHT, 0.0]) if foot > crest else RIB_HEIGHT)
    at = [  # where the crest begins and ends
        (rib, r0 + (rib - y0) / (y1 - y0) * (r1 - r0))
        for (y0, r0), (y1, r1) in pairwise(zip(out.tolist(), heights, strict=True))
        if (y0 - rib) * (y1 - rib) < 0
    ]
    held = np.maximum(own, np.minimum(out, rib)).tolist()  # a sidewall that leans in may be further out than a rib
    return sorted([*zip(held, heights, strict=True), *at], key=lambda point: point[1])


def _widest(rim: Rim, half: float, free: float) -> float:
    """Radius of the widest point of a tire whose half width and height above the flange these are [mm]."""
    lean = min(max((half - rim.half) / (rim.overall_width / 2 - rim.half), 0.0), 1.0)
    share = WIDEST_AT_STRETCHED + (WIDEST_AT - WIDEST_AT_STRETCHED) * lean
    return rim.seat + rim.row.flange_height + free * share


@lru_cache(maxsize=2048)
def _tire_outline(tire: Tire, rim: Rim, largest: bool, shape: ShoulderShape, ribbed: bool) -> Polygon:
    half = _tire_half(tire, rim, largest, shape, ribbed)
    start = half[0]
    # of the rim contour, the part between the two places where the sidewalls leave it
    below = [(float(y), float(r)) for y, r in _contour(rim) if abs(y) < start[0] - 1e-6 or r < start[1] - 1e-6]
    inside = [(y, r) for y, r in below if abs(y) <= start[0] + 1e-6]
    mirrored = [(-y, r) for y, r in reversed(half[:-1])]
    return Polygon(_distinct([*inside, *half, *mirrored]))


@lru_cache(maxsize=4096)
def tire_section(
    tire: Tire,
    wheel: Wheel,
    spacer_thickness: float = 0.0,
    *,
    largest: bool = False,
    shape: ShoulderShape | None = None,
    ribbed: bool = False,
) -> Polygon:
    """The mounted tire in the hub frame (y', r) [mm], new, inflated, unloaded; it meets the rim without a void.

    spacer_thickness : [mm]
    largest : the hull of the new tires that its market permits, from the smallest diameter to the largest and up to
        the largest width, with a rim protector unless it has none; a shoulder that is not told is square. Else the
        nominal one, whose shoulder is the usual one where it is not told
    shape : of the shoulder, in place of what is told of it
    ribbed : the nominal one with as high a rim protector as is permitted, unless it has none
    Symmetric about the rim's centre line. The crown stands exactly at overall diameter / 2,
    the widest point of the sidewall exactly at half the section width; lugs may stand out further. On a rim whose beads
    stand wider than that, the sidewall leans in from the flange and only the bead, between the flanges, is wider. An
    outline that was read takes the place of all that.
    Raises CodeError for a tire and wheel of different rim diameter, or a tire lower than the flange.
    Source: width and diameter as in `parts/tire.py`; the shape between them is common practice, no published source.
    """
    if tire.rim_code != wheel.rim_diameter:
        raise CodeError(
            f"{tire.code} is for a {tire.rim_code:g} in rim; the wheel {wheel.spec} has {wheel.rim_diameter:g} in. "
            "It cannot be mounted."
        )
    own = shape or _shoulder(tire, largest=largest)
    outline = _tire_outline(tire, _rim(wheel), largest, own, ribbed and not largest)
    return translate(outline, spacer_thickness - wheel.offset, 0.0)


def stands_out(larger: Polygon, section: Polygon) -> float:
    """How far a larger section stands out of another one at most [mm].

    larger, section : (y', r) [mm]
    Source: geometry, the distance of the points of one from the other.
    """
    return float(shapely.distance(shapely.points(shapely.get_coordinates(larger.exterior)), section.exterior).max())


@lru_cache(maxsize=512)
def square_stands_out(tire: Tire, wheel: Wheel) -> float:
    """How far the square shoulder stands out of the usual one at most [mm].

    Source: `tire_section` of both.
    """
    square, usual = (tire_section(tire, wheel, shape=shoulder_shapes()[word]) for word in ("square", "usual"))
    return stands_out(square, usual)


# ---------------------------------------------------------------- words

STANDING = "The tire counts as new, inflated and without load: its flat and bulge on the ground are left out."


def assumptions(wheel: Wheel, tire: Tire | None = None) -> tuple[str, ...]:
    """Every default that the sections rest on, in plain words."""
    notes = list(wheels.assumptions(wheel))
    if wheel.barrel_clear_diameter is None and not wheel.barrel_inside:
        thickness = wheel.barrel_thickness or BARREL_THICKNESS
        source, depth = "given" if wheel.barrel_thickness else "assumed", _rim(wheel).row.well_depth
        notes.append(
            f"Inside of the barrel assumed: the standard rim contour less {thickness:g} mm of metal ({source}), its "
            f"well {depth:g} mm deep and nearer to the outboard side. Ask the seller for the largest cylinder that "
            "passes into the barrel."
        )
    if not wheel.spoke_back:
        notes.append(
            f"Back of the spokes: a flat disc in the mounting plane, {DISC_THICKNESS:g} mm thick (assumed); ask for "
            "the shape of the back before trusting the room round the caliper."
        )
    if wheel.pad_diameter is None:
        rule = f"bolt circle + {PAD_OVER_CIRCLE:g} mm" if wheel.bolt_circle else "no bolt circle given"
        notes.append(f"Hub pad {_pad_diameter(wheel):g} mm across (assumed: {rule}).")
    if wheel.pad_thickness is None:
        notes.append(f"Hub pad {PAD_THICKNESS:g} mm thick (assumed).")
    if wheel.centre_bore is None:
        notes.append(f"Centre bore drawn as {BORE_DIAMETER:g} mm (assumed).")
    return tuple(notes) if tire is None else (*notes, *_tire_assumptions(tire, wheel))


def _tire_assumptions(tire: Tire, wheel: Wheel) -> list[str]:
    notes = []
    if tire.section_width is None:
        notes.append(
            "Section width is calculated, not from a data sheet; the maker's figure beats it. (UN R30 formula; its "
            "theoretical rim is recalled from memory.)"
        )
    if tire.overall_diameter is None:
        notes.append("Overall diameter from the size, not from a data sheet.")
    width = tires.section_width(tire, wheel.rim_width)
    if tire.tread_width is None and not tire.outline:
        notes.append(f"Tread {tread_width(tire):.0f} mm wide (common practice, no published source).")
    elif tire.tread_width is not None and tire.tread_width > width:
        notes.append(f"Tread of {tire.tread_width:g} mm is drawn as {width:.0f} mm, the section width on this rim.")
    notes += _shape_words(tire, wheel)
    out = tires.widest_rib(tire, wheel.rim_width) - tires.largest_section_width(tire, wheel.rim_width) / 2
    if out > 0:
        where = f"up to {RIB_FOOT:.0f} mm above its flange, on a low tire up to the widest place"
        if tires.by_r54(tire):
            where = "up to the widest place"
        notes.append(
            f"A rim protector may stand up to {out:.0f} mm beyond the largest width, beside the rim, {where}; the "
            "worst case counts it on either side (UN R30 and R54, from memory), the chances any height up to what is "
            "permitted. A tire without one: say rim_protector: false."
        )
    if tire.market == "us":
        notes.append(
            "The largest tire is as wide as the US rule permits: 7 % or 10 mm over, whichever is more (49 CFR 571.139 "
            "S6.1.2, from memory); market: un takes the limit of UN R30 and R54."
        )
    if width < wheels.overall_width(wheel):
        notes.append(f"The rim flange stands {(wheels.overall_width(wheel) - width) / 2:.0f} mm proud of the sidewall.")
    return notes


def _shape_words(tire: Tire, wheel: Wheel) -> list[str]:
    """What the shape between widest place and crown rests on."""
    if tire.outline:
        words = (
            f"Outline of the tire as read at {len(tire.outline)} points, straight between them; the worst case counts "
            f"how far a convex one could stand out there. {STANDING}"
        )
        return [words]
    words = (
        f"Shape of shoulder, tread arc and sidewall assumed (widest point at {WIDEST_AT * 100:.0f} % of the sidewall "
        f"above the flange). {STANDING}"
    )
    if tire.shoulder is None:
        shoulder = (
            "Shoulder of the tire not told: the usual one is drawn; a square one, which stands out up to "
            f"{square_stands_out(tire, wheel):.0f} mm further, counts in the worst case and in the chances. To end "
            "that, give shoulder: round, usual, square or lugged (whose blocks stand out still further), or its "
            "outline (common practice, no published source)."
        )
    else:
        lugs = shoulder_shapes()[tire.shoulder].lugs
        beyond = f", its blocks {lugs:g} mm beyond the tread's edge" if lugs else ""
        shoulder = f"Shoulder as told: {tire.shoulder}{beyond} (common practice, no published source)."
    return [words, shoulder]
