"""How sure a clearance is: what each reading's tolerance does to it, and which reading to take again.

First order, one place at a time. A tolerance is taken as two standard deviations of a normal spread (about 95 %; a
coverage factor of 2, JCGM 100:2008 6.3.3); any size a new tire may have, any shoulder from usual to square, and any rim
protector from none to the highest permitted, is taken as equally likely (a rectangular spread, 4.3.7); readings are
taken as independent and their variances are added (5.1.2). The chances follow from these assumptions exactly: a normal
spread and up to four rectangular ones, folded together. A rib that a part feels only once it is high takes less than in
proportion, so that its effect is on the safe side.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Literal

import numpy as np
from shapely import Polygon

from fitment import profile as profiles
from fitment.checks.case import Case, moved_axle, placing_parts, setup_readings
from fitment.checks.fit import Clearance, moved_poses
from fitment.clearance.section_distance import Gaps, clearances, gaps, signed_distance
from fitment.clearance.trace import Index, Trace, hub_corners
from fitment.errors import CodeError, FitmentError
from fitment.frames import Array
from fitment.motion.poses import Poses
from fitment.parts.axle import Axle, Setup
from fitment.parts.obstacles import Part
from fitment.parts.sections import square_stands_out, stands_out, tire_section, tread_width, wheel_section
from fitment.parts.tire import Tire, largest_diameter, overall_diameter, section_width, smallest_diameter, width_factor
from fitment.profile import Reading

Kind = Literal["reading", "setup", "place", "offset", "width", "diameter", "shoulder", "rib"]
COVERAGE = 2.0  # standard deviations in a tolerance
WITHIN = 0.95  # share of the spread between `low` and `high`
DEEPER = 0.5  # [mm] a step into the section by which a depth must grow for its direction to be believed
FELT = 0.005  # [mm] an effect below this moves nothing
SMALL = 1e-3  # a rectangular spread narrower than this share of the whole counts as normal
# What a tape and an angle gauge usually read to: common practice, no published source.
USUAL_LENGTH, USUAL_POINT, USUAL_OFFSET = 2.0, 3.0, 1.0  # [mm]
USUAL_GAUGE, USUAL_LOCK = 0.2, 1.0  # [deg]


@dataclass(frozen=True)
class Doubt:
    """One figure that is not known exactly, and what it does to one clearance.

    kind : 'reading' and 'setup' have a key path as their name; 'place' is an obstacle's own tolerance, 'offset' the
        wheel's; 'width' and 'diameter' are the sizes a new tire may have, 'shoulder' what shape where nobody told,
        'rib' how high a rim protector
    tolerance : half width of its band [mm, or deg]; unit : which of them
    effect : clearance gained when the figure is larger by its tolerance [mm]; without a sign where `signed` is False
    band : smallest and largest size [mm] where any in between is equally likely, else None
    shift : clearance gained by the middle of that band against the nominal size [mm]
    """

    name: str
    kind: Kind
    tolerance: float
    unit: str
    effect: float
    signed: bool = True
    band: tuple[float, float] | None = None
    shift: float = 0.0

    @property
    def sensitivity(self) -> float:
        """Clearance gained for one mm, or one degree, more [mm]."""
        return self.effect / self.tolerance

    @property
    def deviation(self) -> float:
        """Standard deviation that it gives to the clearance [mm]."""
        return abs(self.effect) / (COVERAGE if self.band is None else math.sqrt(3.0))

    def halved(self) -> Doubt:
        """The same figure known twice as well; a band about its own middle."""
        band = self.band
        if band is not None:
            band = (0.75 * band[0] + 0.25 * band[1], 0.25 * band[0] + 0.75 * band[1])
        return replace(self, tolerance=self.tolerance / 2, effect=self.effect / 2, band=band)


@dataclass(frozen=True)
class ClosestApproach:
    """One obstacle and part in the pose of smallest margin, and all that is uncertain there.

    doubts : by their share of the spread, largest first
    direction_known : False where the parts touch or overlap so that no direction leads out; effects then count the
        whole motion, and no chance can be given
    expected : mean clearance [mm]: as measured, with the tire in the middle of its permitted sizes
    deviation : standard deviation of the clearance [mm]: root of the sum of squares
    range : clearances [mm] between which the true one lies with WITHIN; None where no chance is told
    chance_of_contact, chance_short : that the parts meet, that the allowance is not kept, contact included [-];
        None where no chance is told
    """

    entry: Clearance
    doubts: tuple[Doubt, ...]
    direction_known: bool
    expected: float
    deviation: float
    range: tuple[float, float] | None
    chance_of_contact: float | None
    chance_short: float | None

    def share(self, doubt: Doubt) -> float:
        """Part of the variance that comes from one of the doubts, 0 to 1 [-]. Source: variances add."""
        return doubt.deviation**2 / self.deviation**2 if self.deviation > 0 else 0.0

    @property
    def told(self) -> bool:
        """Whether a chance can be given: something has a tolerance, and its direction is known."""
        return self.range is not None


def closest_approach(entry: Clearance, doubts: Sequence[Doubt], direction_known: bool = True) -> ClosestApproach:
    """What the doubts together leave open about one clearance."""
    expected = entry.clearance + sum(doubt.shift for doubt in doubts)
    deviation = math.sqrt(sum(doubt.deviation**2 for doubt in doubts))
    ranked = tuple(sorted(doubts, key=lambda doubt: (-doubt.deviation, doubt.name)))
    if not direction_known or deviation <= FELT:
        return ClosestApproach(entry, ranked, direction_known, expected, deviation, None, None, None)
    normal = math.sqrt(sum(doubt.deviation**2 for doubt in doubts if doubt.band is None))
    spreads = normal, tuple(abs(doubt.effect) for doubt in doubts if doubt.band is not None)
    half = spread_quantile((1 + WITHIN) / 2, *spreads)
    contact, short = (chance_below(limit - expected, *spreads) for limit in (0.0, entry.allowance))
    return ClosestApproach(
        entry, ranked, direction_known, expected, deviation, (expected - half, expected + half), contact, short
    )


@dataclass(frozen=True)
class MeasuredAgain:
    """A doubt, and the place that it bears on if it were known twice as well."""

    doubt: Doubt
    halved: ClosestApproach


@dataclass(frozen=True)
class Supposed:
    """A place if every reading without a tolerance had its usual one; added : the doubts that are then new."""

    place: ClosestApproach
    added: tuple[Doubt, ...]


@dataclass(frozen=True)
class Certainty:
    """How sure a checked setup is.

    places : every obstacle and part at its smallest margin, tightest first; limiting : the tightest of all
    measure_again : each doubt of the limiting place, in its order
    any_contact : least and greatest chance [-] of contact at one or more of the places told; None without any
    any_short : the same for an allowance that is not kept [-]
    exact : readings that place the limiting part or the hub and state no tolerance, so that they were taken as
        exact; each with the tolerance that such a reading usually has
    supposed : the limiting place if each of those had its usual tolerance, with what that adds to its doubts; None
        where that was not worked out
    by_gap : the limiting part was placed by a gap to the baseline's tire or wheel, taken at its nominal size
    assumed : some reading is assumed, so that its band is wide
    has_service : what happens in service is looked at on this axle; it is not counted here
    """

    places: tuple[ClosestApproach, ...]
    limiting: ClosestApproach
    measure_again: tuple[MeasuredAgain, ...]
    any_contact: tuple[float, float] | None
    any_short: tuple[float, float] | None
    exact: tuple[Reading, ...]
    supposed: Supposed | None
    by_gap: bool
    assumed: bool
    has_service: bool = False


def _bounds(chances: Sequence[float | None]) -> tuple[float, float] | None:
    """Of the chance that one or more of several happens, however they hang together: the largest, and the sum."""
    told = [chance for chance in chances if chance is not None]
    return (max(told), min(1.0, sum(told))) if told else None


def how_sure(case: Case) -> Certainty | None:
    """What the stated tolerances leave open about a checked setup; None when no obstacle was checked."""
    fit = case.fit
    if fit.worst is None:
        return None
    entries = fit.worst_each
    chosen = np.unique([entry.pose for entry in entries])
    variants = _variants(case, chosen)
    others = tuple(zip(setup_readings(case.ready), case.others, strict=True)) if case.others else ()
    places = tuple(_place(case, entry, chosen, variants, others) for entry in entries)
    key = (fit.worst.obstacle, fit.worst.part)
    limiting = next(place for place in places if (place.entry.obstacle, place.entry.part) == key)
    exact = _exact(case, limiting)
    return Certainty(
        places,
        limiting,
        tuple(MeasuredAgain(doubt, _with_halved(limiting, doubt)) for doubt in limiting.doubts),
        _bounds([place.chance_of_contact for place in places]),
        _bounds([place.chance_short for place in places]),
        exact,
        _supposed(case, limiting, exact),
        any(limiting.entry.obstacle == slide.part for slide in case.ready.slid),
        any(variant.assumed for variant in case.ready.variants),
        fit.axle.service is not None,
    )


def _with_halved(place: ClosestApproach, doubt: Doubt) -> ClosestApproach:
    """The place with one of its doubts halved."""
    doubts = [each.halved() if each == doubt else each for each in place.doubts]
    return closest_approach(place.entry, doubts, place.direction_known)


# what moves a clearance ---------------------------------------------------------------------------------------

Moved = tuple[Reading, Axle, Poses]
"""A reading, the axle with it moved by its tolerance, and that axle's chosen poses"""


def _variants(case: Case, chosen: Index) -> list[Moved]:
    ready = case.ready
    readings = {r.path: r for r in profiles.readings(ready.profile, ready.axle.name, ready.build)}
    return [(readings[v.reading], v.axle, moved_poses(case.fit, v.axle, chosen)) for v in ready.variants]


def _place(
    case: Case, entry: Clearance, chosen: Index, variants: Sequence[Moved], others: Sequence[tuple[Reading, Setup]]
) -> ClosestApproach:
    trace, near, section = _at_entry(case, entry)
    known = _direction_known(section, near, float(near.clearance[0]) + trace.obstacle.radius)
    row = int(np.searchsorted(chosen, entry.pose))
    doubts = _of_readings(case, entry, variants, row, near, known)
    if trace.obstacle.tolerance > 0:
        doubts.append(Doubt(entry.obstacle, "place", trace.obstacle.tolerance, "mm", trace.obstacle.tolerance, False))
    doubts += _of_setup(case, others, entry.part, trace, float(near.clearance[0]))
    offset = case.fit.setup.wheel.offset_tolerance
    if offset > 0:
        effect = offset * float(near.away[0, 0]) if known else offset
        doubts.append(Doubt("wheel.offset", "offset", offset, "mm", effect, known))
    return closest_approach(entry, doubts, known)


def _at_entry(case: Case, entry: Clearance) -> tuple[Trace, Gaps, Polygon]:
    """The obstacle traced in the pose of an entry, its gap there, and the section it faces."""
    fit = case.fit
    whole = next(trace for trace in fit.traces if trace.obstacle.name == entry.obstacle)
    trace = whole.at(np.arange(len(whole)) == entry.pose)
    section = fit.tire if entry.part == "tire" else fit.wheel
    return trace, gaps(section, trace), section


def _direction_known(section: Polygon, near: Gaps, distance: float) -> bool:
    """Whether the clearance grows along `away`: not where the core lies on the outline, nor where a depth has two
    ways out, which a step deeper along one of them shows."""
    away = near.away[0]
    if not away.any():
        return False
    if distance >= 0:
        return True
    deeper = float(signed_distance(section, (near.on_core[0] - DEEPER * away)[None])[0])
    return deeper < distance - 0.8 * DEEPER


def _of_readings(
    case: Case, entry: Clearance, variants: Sequence[Moved], row: int, near: Gaps, known: bool
) -> list[Doubt]:
    nominal = case.fit.poses.at(np.array([entry.pose]))
    here, radius = _nearest_point(case.fit.axle, entry.obstacle, nominal, near)
    doubts = []
    for reading, axle, poses in variants:
        there, moved_radius = _nearest_point(axle, entry.obstacle, poses.at(np.array([row])), near)
        step, thicker = there - here, moved_radius - radius
        effect = float(step @ near.away[0]) - thicker if known else float(np.linalg.norm(step)) + abs(thicker)
        doubts.append(Doubt(reading.path, "reading", reading.tolerance, reading.unit, effect, known))
    return doubts


def _nearest_point(axle: Axle, name: str, pose: Poses, near: Gaps) -> tuple[Array, float]:
    """Where the material point next to the section stands in one pose (y', r) [mm], and the obstacle's radius."""
    obstacle = next(o for o in axle.obstacles if o.name == name)
    x, y, z = near.weights[0] @ hub_corners(obstacle, pose)[0][near.corners[0]]
    return np.array([y, math.hypot(x, z)]), obstacle.radius


def measured_sizes(case: Case) -> frozenset[str]:
    """Key paths of the tire's sizes that were measured, with a tolerance or as exact: no other size is possible. Of a
    tire whose outline was read all are, of one whose shoulder is told that, of one without a rim protector that."""
    tire = case.fit.setup.tire
    is_told = {"tire.shoulder": tire.shape_told, "tire.rim_protector": tire.rim_protector is False}
    told = {name for name, _ in SIZES.values() if tire.outline or is_told.get(name)}
    own = told | ({reading.path for reading in setup_readings(case.ready)} if case.others else set())
    ready = case.ready
    for path in profiles.exact_by_statement(ready.profile, ready.axle.name, ready.build):
        part, _, key = path.partition(".")
        if part == "tire" and getattr(case.fit.setup.tire, key, None) is not None:  # not another tire, typed
            own.add(path)
    return frozenset(own)


def _of_setup(
    case: Case, others: Sequence[tuple[Reading, Setup]], part: Part, trace: Trace, nominal: float
) -> list[Doubt]:
    """Toleranced readings of wheel, tire and spacer, and the sizes a new tire may have."""
    setup, measured, doubts = case.fit.setup, measured_sizes(case), []
    for reading, other in others:
        effect = _clearance_to(other, part, trace) - nominal
        doubts.append(Doubt(reading.path, "setup", reading.tolerance, reading.unit, effect))
    if part == "tire":
        for kind, (name, sizes) in SIZES.items():
            if name not in measured:
                doubts.append(_of_size(kind, name, *sizes(setup), trace, nominal))
    return doubts


def _of_size(kind: Kind, name: str, low: Size, high: Size, trace: Trace, nominal: float) -> Doubt:
    least, most = (float(clearances(section, trace)[0]) for _, section in (low, high))
    band = (low[0], high[0])
    shift = (least + most) / 2 - nominal
    return Doubt(name, kind, (band[1] - band[0]) / 2, "mm", (most - least) / 2, True, band, shift)


Size = tuple[float, Polygon]
"""A size that a tire may have [mm], and its section with it (y', r) [mm]."""


def _mounted(setup: Setup, tire: Tire, *, ribbed: bool = False) -> Polygon:
    return tire_section(tire, setup.wheel, setup.spacer.thickness, ribbed=ribbed)


def permitted_widths(setup: Setup) -> tuple[Size, Size]:
    """Least and greatest section width [mm] on this rim, and the sections of the tires that have it.

    UN R30 and R54 set no lower limit; as far below the nominal width as the limit is above it is assumed.
    Source: UN R30 and R54, from memory.
    """
    tire, rim = setup.tire, setup.wheel.rim_width
    width, more = section_width(tire, rim), width_factor(tire, rim) - 1.0

    def of(factor: float) -> Size:
        tread = factor * tread_width(tire)
        own = replace(tire, section_width=factor * width, on_rim=rim, tread_width=tread)
        return factor * width, _mounted(setup, own)

    return of(1.0 - more), of(1.0 + more)


def permitted_diameters(setup: Setup) -> tuple[Size, Size]:
    """Least and greatest overall diameter [mm] permitted, and the sections of the tires that have it; all else stays.

    A tire too low for its rim at the lower limit is taken at its nominal diameter there.
    Source: UN R30 and R54, from memory.
    """
    tire, rim = setup.tire, setup.wheel.rim_width
    fixed = replace(tire, section_width=section_width(tire, rim), on_rim=rim, tread_width=tread_width(tire))

    def of(diameter: float) -> Size:
        return diameter, _mounted(setup, replace(fixed, overall_diameter=diameter))

    try:
        low = of(smallest_diameter(tire))
    except CodeError:
        low = of(overall_diameter(tire))
    return low, of(largest_diameter(tire))


def possible_shoulders(setup: Setup) -> tuple[Size, Size]:
    """The usual shoulder and the square one: how far each stands out of the usual one [mm], and the sections with it.

    Source: `square_stands_out`, common practice, no published source.
    """
    usual, square = (_mounted(setup, replace(setup.tire, shoulder=word)) for word in ("usual", "square"))
    return (0.0, usual), (square_stands_out(setup.tire, setup.wheel), square)


def permitted_ribs(setup: Setup) -> tuple[Size, Size]:
    """No rim protector, and the highest: how far each stands out of the sidewall [mm], and the sections with it.

    On a tire of the nominal width a rib may be higher than on the widest; added to the spread of the width that is on
    the safe side.
    Source: `tire_section`, UN R30 and R54 and common practice, from memory.
    """
    without, highest = (_mounted(setup, setup.tire, ribbed=ribbed) for ribbed in (False, True))
    return (0.0, without), (stands_out(highest, without), highest)


Sizes = Callable[[Setup], tuple[Size, Size]]
SIZES: dict[Kind, tuple[str, Sizes]] = {
    "width": ("tire.section_width", permitted_widths),
    "diameter": ("tire.overall_diameter", permitted_diameters),
    "shoulder": ("tire.shoulder", possible_shoulders),
    "rib": ("tire.rim_protector", permitted_ribs),
}
"""What a tire may have that was not measured: kind -> key path, and its least and most with the sections."""


def _clearance_to(setup: Setup, part: Part, trace: Trace) -> float:
    spacer = setup.spacer.thickness
    if part == "tire":
        return float(clearances(tire_section(setup.tire, setup.wheel, spacer), trace)[0])
    return float(clearances(wheel_section(setup.wheel, spacer), trace)[0])


# readings without a tolerance ---------------------------------------------------------------------------------


def _exact(case: Case, place: ClosestApproach) -> tuple[Reading, ...]:
    """Readings without a tolerance that can move the place, each with what such a reading usually has."""
    ready, own = case.ready, f"obstacles[{place.entry.obstacle}]"
    readings, placing = [], placing_parts(ready.profile, ready.axle.name, ready.build)
    for reading in profiles.exact_readings(ready.profile, ready.axle.name, ready.build):
        path = reading.path.removeprefix("baseline:")
        if path.startswith(placing) and (not path.startswith("obstacles") or path.startswith(own)):
            readings.append(replace(reading, tolerance=usual_tolerance(reading)))
    if not case.fit.setup.wheel.offset_tolerance:
        readings.append(Reading("wheel.offset", USUAL_OFFSET, "mm"))
    return tuple(readings)


def usual_tolerance(reading: Reading) -> float:
    """What such a reading is usually good for [mm, or deg]. Source: common practice, no published source."""
    path = reading.path.removeprefix("baseline:")
    if reading.unit == "deg":
        return USUAL_GAUGE if path.startswith("suspension") else USUAL_LOCK
    coordinate = path.endswith(("]", ".at.radius", ".at.out", ".ahead", ".up", ".above_ground"))
    return USUAL_POINT if coordinate and not path.startswith("steer_limit") else USUAL_LENGTH


def _supposed(case: Case, place: ClosestApproach, exact: Sequence[Reading]) -> Supposed | None:
    """The place if every reading without a tolerance had its usual one; None where the axle was set anew."""
    ready = case.ready
    if profiles.axle(ready.profile, ready.axle.name, ready.build).suspension != ready.axle.suspension:
        return None
    near = _at_entry(case, place.entry)[1]
    chosen = np.array([place.entry.pose])
    variants = []
    for reading in exact:
        if not reading.path.startswith("wheel"):
            try:
                axle = moved_axle(ready, reading, place.entry.obstacle)
                variants.append((reading, axle, moved_poses(case.fit, axle, chosen)))
            except FitmentError:  # the linkage does not reach so far, or no such gap: nothing to suppose
                return None
    doubts = _of_readings(case, place.entry, variants, 0, near, place.direction_known)
    if any(reading.path == "wheel.offset" for reading in exact):
        effect = USUAL_OFFSET * (float(near.away[0, 0]) if place.direction_known else 1.0)
        doubts.append(Doubt("wheel.offset", "offset", USUAL_OFFSET, "mm", effect, place.direction_known))
    supposed = closest_approach(place.entry, (*place.doubts, *doubts), place.direction_known)
    return Supposed(supposed, tuple(doubts))


# chances ------------------------------------------------------------------------------------------------------


def normal_chance(x: float) -> float:
    """Chance that a standard normal variable is less than x [-].

    x : [-]
    Source: the normal distribution by its error function.
    """
    return 0.5 * (1.0 + math.erf(x / math.sqrt(2.0)))


def chance_below(x: float, deviation: float, halves: Sequence[float] = ()) -> float:
    """Chance that a sum of independent spreads about zero is less than x [-].

    x : [mm]
    deviation : of a normal spread [mm], >= 0
    halves : half widths [mm] of at most four rectangular ones; one above zero
    Source: derived here.
    The density of a rectangle is the difference of two steps, so each rectangle turns the chance into a difference
    of its integral, divided by the rectangle's width.
    """
    whole = math.sqrt(deviation**2 + sum(half**2 / 3 for half in halves))
    wide = [half / whole for half in halves if half > SMALL * whole]
    narrow = math.sqrt(deviation**2 + sum(half**2 / 3 for half in halves if half <= SMALL * whole)) / whole
    x = x / whole
    reach = 9.0 * narrow + sum(wide)
    if abs(x) >= reach:
        return 1.0 if x > 0 else 0.0
    total = 0.0
    for signs in product((1.0, -1.0), repeat=len(wide)):
        moved = x + sum(sign * half for sign, half in zip(signs, wide, strict=True))
        total += math.prod(signs) * _integral(moved, narrow, len(wide))
    return min(1.0, max(0.0, total / math.prod(2 * half for half in wide)))


def _integral(x: float, deviation: float, times: int) -> float:
    """The normal chance, integrated so many times from minus infinity to x: I_n = (x I_(n-1) + s^2 I_(n-2)) / n."""
    if deviation == 0.0:
        return max(x, 0.0) ** times / math.factorial(times) if times else float(x >= 0)
    before = math.exp(-0.5 * (x / deviation) ** 2) / (deviation * math.sqrt(2 * math.pi))
    found = normal_chance(x / deviation)
    for n in range(1, times + 1):
        before, found = found, (x * found + deviation * deviation * before) / n
    return found


def spread_quantile(chance: float, deviation: float, halves: Sequence[float] = ()) -> float:
    """The x [mm] for which `chance_below` is this chance, by halving.

    chance : [-]
    deviation, halves : as `chance_below` has them [mm]
    Source: derived here.
    """
    low, high = -9.0 * deviation - sum(halves), 9.0 * deviation + sum(halves)
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if chance_below(middle, deviation, halves) < chance else (low, middle)
    return (low + high) / 2
