"""Very many wheels and tires against one keep-out: each size of tire on each rim is looked up once for all offsets.

Rim and tire move with the offset, the disc stays at the hub face. So a wheel with its tire is three sections: the
tire and the barrel, each at y' = spacer - ET, and the disc at y' = spacer.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields, replace
from functools import cache, lru_cache
from itertools import groupby

import numpy as np
import shapely
from shapely import Polygon

from fitment.clearance.section_distance import section_peaks, signed_distance
from fitment.clearance.trace import Index
from fitment.frames import Array
from fitment.parts.axle import Setup, Spacer
from fitment.parts.obstacles import Part
from fitment.parts.sections import barrel_section, tire_section, uncut_disc, wheel_section
from fitment.parts.tables import specified_rim_diameter
from fitment.parts.tire import Tire
from fitment.parts.wheel import Wheel
from fitment.screening.distance_field import DistanceFields
from fitment.screening.distance_field import distance_fields as made_fields
from fitment.screening.nearest_points import (
    Boundary,
    Closest,
    Nearby,
    Outlines,
    boundary,
    closest_in_worst_case,
    closest_nominal,
    joined,
    largest_nearby,
    near_limits,
    nearby,
    nearer,
    nothing,
)
from fitment.screening.swept_obstacle import SweptObstacle
from fitment.units import DEEP
from fitment.workers import Map

BAND = 40.0  # [mm] round a section within which distances are looked up
WIDER = 2  # times as far is looked where nothing lies within a band
FARTHEST = 80.0  # [mm] how far from the given offset a fitting one is sought
COARSE = 32.0  # [mm] first spacing of the offsets at which a free span is sought
FINE = 0.02  # [mm] to which its ends are found
JOINT = 10.0  # [mm] by which an overlap may be deeper in barrel and disc together than in either
ROUND_JOINT = 1.5  # [mm] between places in a joint that are looked at first
AROUND = np.array([(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1)], dtype=float)
EVERYWHERE = 1200.0  # [mm] no point of a keep-out is farther from a wheel
BATCH, ROWS = 24, 1000  # sizes, and offsets of all of them, that are looked up side by side


@dataclass(frozen=True)
class Surroundings:
    """One axle's keep-out as tire and wheel meet it; None where a part meets nothing.

    band : [mm] round a section on which distances are looked up: BAND, a part's radius and what is required
    """

    tire: Boundary | None
    wheel: Boundary | None
    band: float


@dataclass(frozen=True)
class SizeAnswers:
    """Of n setups: what comes closest, and the offsets (n, 2) [mm] that keep every allowance, nan where none do."""

    closest: Closest
    offsets: Array


@dataclass(frozen=True)
class OffsetSeries:
    """Setups that differ in their offset alone: a tire on a bare rim, or without a tire the barrel.

    shifts : y' of the rim's centre line in each, rising [mm]; span : in which free offsets are sought
    """

    tire: Tire | None
    rim: Wheel
    offset_tolerance: float
    shifts: tuple[float, ...] = ()
    span: tuple[float, float] = (0.0, 0.0)


def surroundings(swept: Sequence[SweptObstacle]) -> Surroundings:
    """What a wheel with its tire meets on an axle."""
    obstacles = [sweep.obstacle for sweep in swept]
    most = max((o.radius + o.required_to(part) for o in obstacles for part in o.meets), default=0.0)
    return Surroundings(boundary(swept, "tire"), boundary(swept, "wheel"), BAND + most)


def look_up_setups(around: Surroundings, setups: Sequence[Setup], run: Map) -> SizeAnswers:
    """All setups (n,) of one axle. run : maps over jobs; its state is the surroundings. Raises CodeError."""
    spacers = np.array([setup.spacer.thickness for setup in setups])
    shifts = np.round(spacers - [setup.wheel.offset for setup in setups], 6)
    rims = _once([s.wheel for s in setups], bare)
    tires, barrels = _sized(setups, rims, shifts, tires=True), _sized(setups, rims, shifts, tires=False)
    batches = _batches([size for size, _ in (*barrels, *tires)])
    done = [answer for batch in run(sizes_found, batches, "looking up sizes") for answer in batch]
    disc = _discs(around, setups, rims)
    barrel = _scattered(barrels, done, shifts)
    tire, metal = _scattered(tires, done[len(barrels) :], shifts), nearer(barrel, disc)
    in_both = (metal.clearance < 0) & (barrel.clearance + disc.clearance < 0)
    told = tire.clearance < np.minimum(metal.clearance - JOINT, -DEEP)
    met = nearer(tire, _joints_measured(run, setups, metal, np.flatnonzero(in_both & ~told)))
    free = {(size.rim, size.offset_tolerance): spans for (size, _), (_, spans) in zip(barrels, done, strict=False)}
    offsets = np.full((len(setups), 2), np.nan)
    for (size, rows), (_, spans) in zip(tires, done[len(barrels) :], strict=True):
        mine = rows[disc.margin[rows] >= 0]
        shared = common(spans, free[size.rim, size.offset_tolerance])
        offsets[mine] = spacers[mine, None] - nearest_span(shared, shifts[mine])[:, ::-1]
    return SizeAnswers(_with_far(around, setups, rims, shifts, met, run), offsets)


def parts_near_limits(
    around: Surroundings, setups: Sequence[Setup], within: float
) -> list[frozenset[tuple[str, Part]]]:
    """Of every setup the parts, and what of the wheel they are near to.

    A clearance, a margin or a worst case may be less than `within` [mm] there. Raises CodeError.
    """
    near_parts: list[set[tuple[str, Part]]] = [set() for _ in setups]
    rims = _once([setup.wheel for setup in setups], bare)
    wheels = [setup.wheel for setup in setups]
    tolerances = np.array([wheel.offset_tolerance for wheel in wheels])
    spacers = np.array([setup.spacer.thickness for setup in setups])
    shifts = spacers - [wheel.offset for wheel in wheels]

    def look(part: Part, bound: Boundary, sections: tuple[Outlines, Outlines], which: Index, at: Array) -> None:
        for tolerance in np.unique(tolerances).tolist():
            mine = np.flatnonzero(tolerances == tolerance)
            for near in (nearby(bound, sections[0]), largest_nearby(bound, sections[1], tolerance)):
                for k, names in zip(mine.tolist(), near_limits(near, which[mine], at[mine], within), strict=True):
                    near_parts[k] |= {(name, part) for name in names}

    if around.tire is not None:
        alike = _alike(rims, [setup.tire for setup in setups])
        sizes = [(setups[same[0]].tire, rims[same[0]]) for same in alike]
        look("tire", around.tire, _outlines(around.tire, sizes, around.band), _which(alike, len(setups)), shifts)
    if around.wheel is not None:
        alike = _alike(rims)
        barrels = _barrels(tuple(rims[same[0]] for same in alike), around.band)
        look("wheel", around.wheel, (barrels, barrels), _which(alike, len(setups)), shifts)
        alike = _alike(wheels)
        discs = _metal([uncut_disc(wheels[same[0]]) for same in alike], around.band)
        look("wheel", around.wheel, (discs, discs), _which(alike, len(setups)), spacers)
    return [frozenset(own) for own in near_parts]


def _which(alike: Sequence[Index], count: int) -> Index:
    """Of every row (n,) the number of those it is alike."""
    number = np.empty(count, dtype=np.intp)
    for k, same in enumerate(alike):
        number[same] = k
    return number


def _batches(sizes: Sequence[OffsetSeries], most: int = BATCH) -> list[list[OffsetSeries]]:
    """Sizes of one part and tolerance together, so many at most, and with about ROWS shifts at most."""
    batches: list[list[OffsetSeries]] = []
    for _, same in groupby(sizes, lambda size: (size.tire is None, size.offset_tolerance)):
        mine = list(same)
        few = max(1, min(most, ROWS * len(mine) // sum(len(size.shifts) for size in mine)))
        batches += [mine[i : i + few] for i in range(0, len(mine), few)]
    return batches


def _outlines(bound: Boundary, sizes: Sequence[tuple[Tire | None, Wheel]], band: float) -> tuple[Outlines, Outlines]:
    """Nominal and largest tires on bare rims as they meet a boundary, or without tires the barrels twice."""
    if any(tire is None for tire, _ in sizes):
        return (_barrels(tuple(rim for _, rim in sizes), band),) * 2
    mounted = [(tire, rim) for tire, rim in sizes if tire is not None]
    whole = bound.alone
    return _tires(mounted, band, largest=False, whole=True), _tires(mounted, band, largest=True, whole=whole)


def sizes_found(around: Surroundings, sizes: Sequence[OffsetSeries]) -> list[tuple[Closest, Array]]:
    """Of sizes of one part and tolerance what each comes closest to at its shifts, and its free spans (k, 2).

    Within a free span every allowance is kept.
    """
    bound = _met_by(around, sizes)
    if bound is None:
        return [(nothing(len(size.shifts)), np.array([size.span])) for size in sizes]
    near, known, closest = _at_shifts(bound, sizes, around.band)
    spans = all_free_spans(
        lambda which, at: closest_nominal(near, which, at).margin, [size.span for size in sizes], known
    )
    rows = np.split(np.arange(len(known.at)), np.searchsorted(known.which, np.arange(1, len(sizes))))
    return [(closest.at(mine), free) for mine, free in zip(rows, spans, strict=True)]


def sizes_within(around: Surroundings, job: tuple[float, Sequence[OffsetSeries]]) -> Closest:
    """What sizes of one part and tolerance come closest to at their shifts, one after another, within a band [mm]."""
    band, sizes = job
    bound = _met_by(around, sizes)
    return nothing(sum(len(size.shifts) for size in sizes)) if bound is None else _at_shifts(bound, sizes, band)[2]


def _met_by(around: Surroundings, sizes: Sequence[OffsetSeries]) -> Boundary | None:
    return around.wheel if sizes[0].tire is None else around.tire


def _at_shifts(bound: Boundary, sizes: Sequence[OffsetSeries], band: float) -> tuple[Nearby, Known, Closest]:
    """What could come closest to sizes, their margins, and what does at their shifts."""
    nominal, largest = _outlines(bound, [(size.tire, size.rim) for size in sizes], band)
    near = nearby(bound, nominal)
    which = np.repeat(np.arange(len(sizes)), [len(size.shifts) for size in sizes])
    shifts = np.concatenate([size.shifts for size in sizes])
    closest = closest_in_worst_case(near, largest, which, shifts, sizes[0].offset_tolerance)
    return near, Known(which, shifts, closest.margin), closest


@lru_cache(maxsize=65536)
def bare(wheel: Wheel) -> Wheel:
    """The wheel as far as its rim goes: wheels of one rim differ in offset, circle, bore and name."""
    return replace(
        wheel, spec="", offset=0.0, offset_tolerance=0.0, bolt_circle=None, centre_bore=None, from_backspacing=False
    )


def _once(parts: Sequence[Wheel], work: Callable[[Wheel], Wheel]) -> list[Wheel]:
    """The work on every part; parts that are one object are worked on once, and equal results are one object."""
    done: dict[int, Wheel] = {}
    equal: dict[Wheel, Wheel] = {}
    for part in parts:
        if id(part) not in done:
            made = work(part)
            done[id(part)] = equal.setdefault(made, made)
    return [done[id(part)] for part in parts]


def _alike(*keys: Sequence[object]) -> list[Index]:
    """Rows (q,) whose keys are the same objects, in the order of their first."""
    number = np.zeros(len(keys[0]), dtype=np.intp)
    for key in keys:
        own = np.unique(np.fromiter(map(id, key), dtype=np.intp, count=len(key)), return_inverse=True)[1]
        number = np.unique(number * (int(own.max()) + 1) + own, return_inverse=True)[1]
    rows = np.argsort(number, kind="stable")
    return sorted(np.split(rows, np.flatnonzero(np.diff(number[rows])) + 1), key=lambda mine: int(mine[0]))


def _sized(
    setups: Sequence[Setup], rims: Sequence[Wheel], shifts: Array, *, tires: bool
) -> list[tuple[OffsetSeries, Index]]:
    """Every size of tire on a rim (or every rim alone) with its shifts, and its rows (q,) in the list."""
    span = (float(shifts.min()) - FARTHEST, float(shifts.max()) + FARTHEST)
    wheels = [setup.wheel for setup in setups]
    kinds = [[setup.tire for setup in setups]] if tires else []
    sizes = []
    for same in _alike(rims, *kinds):
        tolerance = np.array([wheels[i].offset_tolerance for i in same])
        for own in np.unique(tolerance).tolist():
            mine = same[tolerance == own]
            at, tire = tuple(np.unique(shifts[mine]).tolist()), setups[mine[0]].tire if tires else None
            sizes.append((OffsetSeries(tire, rims[mine[0]], own, at, span), mine))
    return sizes


def _scattered(
    sizes: Sequence[tuple[OffsetSeries, Index]], done: Sequence[tuple[Closest, Array]], shifts: Array
) -> Closest:
    """What was found for every size, in the order of the list's rows (n,)."""
    return joined([closest for closest, _ in done[: len(sizes)]]).at(_places(sizes, shifts))


def _places(sizes: Sequence[tuple[OffsetSeries, Index]], shifts: Array) -> Index:
    """Of the list's rows (n,) which of all sizes' shifts, one after another, is theirs."""
    at, start = np.empty(len(shifts), dtype=np.intp), 0
    for size, rows in sizes:
        at[rows] = start + np.searchsorted(size.shifts, shifts[rows])
        start += len(size.shifts)
    return at


def _discs(around: Surroundings, setups: Sequence[Setup], rims: Sequence[Wheel]) -> Closest:
    """What the disc of every setup comes closest to, (n,). rims : the bare wheel of each."""
    if around.wheel is None:
        return nothing(len(setups))
    narrow = _once(rims, lambda rim: replace(rim, rim_width=8.0))  # a disc is the same whatever the width
    known: dict[tuple[object, ...], int] = {}
    rows = np.empty(len(setups), dtype=np.intp)
    answers: list[Closest] = []
    for same in _alike([setup.wheel for setup in setups], [setup.spacer for setup in setups]):
        setup, rim = setups[same[0]], narrow[same[0]]
        wheel, spacer = setup.wheel, setup.spacer.thickness
        key = (id(rim), wheel.bolt_circle, wheel.centre_bore, wheel.offset_tolerance, spacer)
        if key not in known:
            known[key] = len(answers)
            disc = _metal([uncut_disc(wheel)], around.band)
            only, at = np.zeros(1, dtype=np.intp), np.array([spacer])
            answers.append(closest_in_worst_case(nearby(around.wheel, disc), disc, only, at, wheel.offset_tolerance))
        rows[same] = known[key]
    return joined(answers).at(rows)


def _joints_measured(run: Map, setups: Sequence[Setup], metal: Closest, deep: Index) -> Closest:
    """What the metal of every setup comes closest to, measured in one piece where a part is deep in its joint.

    There an overlap is deeper than in barrel or disc alone, or less deep where the rim cuts the disc off.
    metal : what barrel and disc come closest to; deep : where both are met, and what the tire meets is not deeper yet
    A part next to only one of them is no deeper in that one than it is far from the other.
    """
    wheels, spacers = [setups[i].wheel for i in deep.tolist()], [setups[i].spacer for i in deep.tolist()]
    alike = _alike(wheels, spacers) if len(deep) else []
    tolerance = np.array([wheels[same[0]].offset_tolerance for same in alike])
    batches: list[list[Index]] = []
    for own in np.unique(tolerance).tolist():
        mine = [alike[k] for k in np.flatnonzero(tolerance == own).tolist()]
        batches += [mine[i : i + BATCH] for i in range(0, len(mine), BATCH)]
    jobs = [[(wheels[same[0]], spacers[same[0]].thickness) for same in batch] for batch in batches]
    for batch, closest in zip(batches, run(whole_wheels, jobs, "looking up joints"), strict=True):
        rows = np.concatenate([deep[same] for same in batch])
        chosen = closest.at(np.repeat(np.arange(len(batch)), list(map(len, batch))))
        for field in fields(Closest):
            getattr(metal, field.name)[rows] = getattr(chosen, field.name)
    return metal


def whole_wheels(around: Surroundings, wheels: Sequence[tuple[Wheel, float]]) -> Closest:
    """What wheels of one tolerance, each behind a spacer [mm], come closest to in one piece."""
    if around.wheel is None:
        return nothing(len(wheels))
    sections = [wheel_section(wheel, spacer) for wheel, spacer in wheels]
    made = _metal(sections, around.band)
    whole = replace(made, peaks=cache(lambda which: _joint_peaks(sections[which], *wheels[which])))
    which = np.arange(len(wheels))
    tolerance = wheels[0][0].offset_tolerance
    return closest_in_worst_case(nearby(around.wheel, whole), whole, which, np.zeros(len(wheels)), tolerance)


def _joint_peaks(section: Polygon, wheel: Wheel, spacer: float) -> Array:
    """Places (q, 3) as `_peaks` has them, of a wheel: those of barrel and disc, and the deepest where both meet."""
    barrel, disc = barrel_section(bare(wheel)), uncut_disc(replace(bare(wheel), centre_bore=wheel.centre_bore))
    low, _, high, top = disc.bounds
    y, r = np.arange(low, high, ROUND_JOINT), np.arange(barrel.bounds[1] - 2 * JOINT, top + JOINT, ROUND_JOINT)
    near = np.stack(np.meshgrid(y + spacer, r, indexing="ij"), -1).reshape(-1, 2)
    best = near[np.argsort(signed_distance(section, near))[:8]]
    step = ROUND_JOINT / 2
    while step > 0.02:
        trial = (best[:, None] + AROUND * step).reshape(-1, 2)
        best = trial[np.argmin(signed_distance(section, trial).reshape(len(best), -1), axis=1) + 9 * np.arange(8)]
        step /= 2
    moved = spacer - wheel.offset, spacer
    own = [section_peaks(part) + np.array([by, 0.0]) for part, by in zip((barrel, disc), moved, strict=True)]
    places = np.concatenate([*own, best])
    return np.column_stack([places, -signed_distance(section, places)])


# ---------------------------------------------------------------- sections


def _tires(mounted: Sequence[tuple[Tire, Wheel]], band: float, *, largest: bool, whole: bool) -> Outlines:
    """Tires; of the largest what is above the bead seats, which is symmetric and found sooner.

    whole : down to the rim's contour. A part that comes from below is met by the metal first, and the worst case of
        one that overlaps already matters little; how deep it is in the nominal tire counts from the whole outline.
    """
    sections = [tire_section(tire, rim, largest=largest) for tire, rim in mounted]
    if whole:
        return _metal(sections, band)
    seats = np.array([specified_rim_diameter(rim.rim_diameter) / 2 for _, rim in mounted])
    half, top = shapely.bounds(sections)[:, 2:].T
    above = shapely.intersection(sections, shapely.box(-half - 1, seats, half + 1, top + 1))
    within = np.stack([np.zeros(len(seats)), (seats + top) / 2], -1)
    return _made(sections, within, made_fields(above, band, mirrored=True, cut=True))


@lru_cache(maxsize=8)
def _barrels(rims: tuple[Wheel, ...], band: float) -> Outlines:
    return _metal([barrel_section(rim) for rim in rims], band)


def _metal(sections: Sequence[Polygon], band: float) -> Outlines:
    within = shapely.get_coordinates(shapely.point_on_surface(sections))
    return _made(sections, within, made_fields(sections, band))


def _made(sections: Sequence[Polygon], within: Array, found: DistanceFields) -> Outlines:
    return Outlines(np.array(sections, dtype=object), found, within, cache(lambda which: _peaks(sections[which])))


def _peaks(section: Polygon) -> Array:
    places = section_peaks(section)
    return np.column_stack([places, -signed_distance(section, places)])


@dataclass(frozen=True)
class Outlook:
    """One size of wheel and tire at any shift y' = spacer - ET (n,) [mm] -> [mm] (n,).

    margin : the smallest margin; least : the same, or the smallest worst case where that is less
    most : the same with the worst case where the largest section is nearest, which a check's is not above
    """

    margin: Callable[[Array], Array]
    least: Callable[[Array], Array]
    most: Callable[[Array], Array]


def outlook_of(around: Surroundings, tire: Tire, wheel: Wheel, spacer: float) -> Outlook:
    """How a size stands at any offset. Raises CodeError."""
    rim = bare(wheel)
    sections: list[tuple[Nearby, Outlines]] = []
    for bound, size in ((around.tire, tire), (around.wheel, None)):
        if bound is not None:
            nominal, largest = _outlines(bound, [(size, rim)], around.band)
            sections.append((nearby(bound, nominal), largest))
    disc = _discs(around, [Setup(wheel, tire, Spacer(spacer))], [rim])

    def margin(shifts: Array) -> Array:
        only = np.zeros(len(shifts), dtype=np.intp)
        margins = [closest_nominal(near, only, shifts).margin for near, _ in sections]
        return np.minimum.reduce([np.full(len(shifts), float(disc.margin[0])), *margins])

    def left(shifts: Array, worst: Callable[[Closest], Array]) -> Array:
        only = np.zeros(len(shifts), dtype=np.intp)
        closest = [closest_in_worst_case(near, big, only, shifts, wheel.offset_tolerance) for near, big in sections]
        fixed = np.full(len(shifts), float(np.minimum(disc.margin, worst(disc))[0]))
        return np.minimum.reduce([fixed, *(np.minimum(f.margin, worst(f)) for f in closest)])

    return Outlook(
        margin,
        lambda shifts: left(shifts, lambda found: found.worst_case),
        lambda shifts: left(shifts, lambda found: found.worst_at_nearest),
    )


# ---------------------------------------------------------------- beyond the band


def _with_far(
    around: Surroundings, setups: Sequence[Setup], rims: Sequence[Wheel], shifts: Array, met: Closest, run: Map
) -> Closest:
    """The answer with those setups looked up in wider and wider bands that have nothing within the first one."""
    bounds = [bound for bound in (around.tire, around.wheel) if bound is not None]
    beside = max((float(bound.worst_off.max()) for bound in bounds), default=0.0)  # for a worst case
    beside += max((setup.wheel.offset_tolerance for setup in setups), default=0.0)
    reach = BAND
    while True:
        far = np.flatnonzero((met.clearance > reach) & np.isfinite(met.clearance))
        if not len(far) or reach > EVERYWHERE:
            return met
        reach *= WIDER
        band = reach + max(around.band - BAND, beside)
        own, own_rims = [setups[i] for i in far.tolist()], [rims[i] for i in far.tolist()]
        closest = _discs(replace(around, band=band), own, own_rims)
        for tires in (True, False):
            sizes = _sized(own, own_rims, shifts[far], tires=tires)
            batches = _batches([size for size, _ in sizes], max(1, round(BATCH * BAND / reach)))  # of wider rasters
            jobs = [(band, batch) for batch in batches]
            found = joined(run(sizes_within, jobs, "looking up sizes"))
            closest = nearer(closest, found.at(_places(sizes, shifts[far])))
        for field in fields(Closest):
            getattr(met, field.name)[far] = getattr(closest, field.name)


# ---------------------------------------------------------------- the offsets that fit


@dataclass(frozen=True)
class Known:
    """Margins that are known: of which size, at which shift, how much [mm] (n,); sizes rise, and shifts in each."""

    which: Index
    at: Array
    margin: Array


def free_spans(margin: Callable[[Array], Array], span: tuple[float, float]) -> Array:
    """Spans (k, 2) within a span on which a margin is not negative, found to FINE."""
    return all_free_spans(lambda _, at: margin(at), [span])[0]


def all_free_spans(
    margin: Callable[[Index, Array], Array], spans: Sequence[tuple[float, float]], known: Known | None = None
) -> list[Array]:
    """The same of several margins, told apart by their index (n,), each within a span of its own.

    A margin changes by no more than the offset does, so between two offsets it can only change sign when both
    are small enough; only there is it asked for again, where a straight line would cross zero.
    """
    none = Known(np.empty(0, dtype=np.intp), np.empty(0), np.empty(0))
    margins = _joined(known or none, *_coarse(spans, known or none), margin)
    while True:
        gap, size = np.diff(margins.at), np.abs(margins.margin)
        same = margins.which[1:] == margins.which[:-1]
        unsure = np.flatnonzero(same & (gap > FINE) & (size[1:] + size[:-1] <= gap + 1e-9))
        if not len(unsure):
            break
        guess = _crossing(margins, unsure)
        beside = np.stack([guess - FINE / 4, guess + FINE / 4])
        beside = np.clip(beside, margins.at[unsure] + 1e-4, margins.at[unsure + 1] - 1e-4)
        margins = _joined(margins, np.tile(margins.which[unsure], 2), beside.ravel(), margin)
    free, new = margins.margin >= 0, np.r_[True, margins.which[1:] != margins.which[:-1]]
    starts = np.flatnonzero(free & (new | ~np.r_[False, free[:-1]]))
    ends = np.flatnonzero(free & (np.r_[new[1:], True] | ~np.r_[free[1:], False]))
    pairs = np.column_stack([margins.at[starts], margins.at[ends]])
    return np.split(pairs, np.searchsorted(margins.which[starts], np.arange(1, len(spans))))


def _coarse(spans: Sequence[tuple[float, float]], known: Known) -> tuple[Index, Array]:
    """Of which margin, and where, one is asked for first: COARSE apart, beyond what is known."""
    which, at = [], []
    for k, span in enumerate(spans):
        mine = known.at[np.searchsorted(known.which, k) : np.searchsorted(known.which, k, side="right")]
        places = np.linspace(*span, int(np.ceil((span[1] - span[0]) / COARSE)) + 1)
        at.append(places[(places < mine[0] - 1.0) | (places > mine[-1] + 1.0)] if len(mine) else places)
        which.append(np.full(len(at[-1]), k))
    return np.concatenate(which), np.concatenate(at)


def _joined(known: Known, which: Index, at: Array, margin: Callable[[Index, Array], Array]) -> Known:
    """What is known, and the margins at more places."""
    if not len(at):
        return known
    value = np.r_[known.margin, margin(which, at)]
    which, at = np.r_[known.which, which], np.r_[known.at, at]
    order = np.lexsort((at, which))
    return Known(which[order], at[order], value[order])


def _crossing(found: Known, left: Index) -> Array:
    """Where a margin may cross zero between places of index `left` and the next ones (q,).

    Two places FINE apart tell the slope; from the end that is nearer to zero it leads closer than a line between both
    ends, which is taken where there is none.
    """
    at, value, right = found.at, found.margin, left + 1
    share = np.abs(value[left]) / np.maximum(np.abs(value[left]) + np.abs(value[right]), 1e-12)
    guess = at[left] + np.clip(share, 0.05, 0.95) * (at[right] - at[left])
    for end, beyond in ((left, left - 1), (right, right + 1)):
        there = np.clip(beyond, 0, len(at) - 1)
        way = at[end] - at[there]
        known = (beyond == there) & (found.which[there] == found.which[end]) & (value[left] * value[right] < 0)
        slope = (value[end] - value[there]) / np.where(way == 0, 1.0, way)
        led = at[end] - value[end] / np.where(slope == 0, 1.0, slope)
        near = known & (np.abs(way) <= FINE) & (np.abs(value[end]) <= np.abs(value[np.where(end == left, right, left)]))
        guess = np.where(near & (led > at[left]) & (led < at[right]), led, guess)
    return guess


def common(one: Array, other: Array) -> Array:
    """Spans (k, 2) that two lists of rising, separate spans share."""
    low = np.maximum(one[:, None, 0], other[None, :, 0]).ravel()
    high = np.minimum(one[:, None, 1], other[None, :, 1]).ravel()
    shared = np.column_stack([low, high])[low <= high]
    return shared[np.argsort(shared[:, 0])]


def nearest_span(spans: Array, at: Array) -> Array:
    """Of each place (n,) the span that holds it, or the nearest within FARTHEST, cut there; nan where none is."""
    nearest = np.full((len(at), 2), np.nan)
    if not len(spans):
        return nearest
    off = np.maximum(np.maximum(spans[:, 0] - at[:, None], at[:, None] - spans[:, 1]), 0.0)
    best = np.argmin(off, axis=1)
    near = off[np.arange(len(at)), best] <= FARTHEST
    nearest[near] = np.clip(spans[best[near]], at[near, None] - FARTHEST, at[near, None] + FARTHEST)
    return nearest
