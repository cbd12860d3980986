"""The margins that could decide a verdict, as all readings move them together, and many vehicles drawn from it.

A reading is one figure for the whole vehicle, so one draw of it moves every part, in every pose, at once. A tolerance
is two standard deviations of a normal spread; any size a new tire may have is equally likely, and so are any
shoulder from usual to square and any rim protector from none to the highest, as in `uncertainty.py`.
What a reading does is taken to first order, and of an assumed one, whose band is wide, to second order with every other
assumed one.
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import combinations
from statistics import NormalDist

import numpy as np

from fitment import profile as profiles
from fitment.answers.uncertainty import COVERAGE, SIZES, measured_sizes
from fitment.checks.case import Case, axle_with, setup_readings
from fitment.checks.fit import Clearance, Fit
from fitment.clearance.closest_poses import poses_at
from fitment.clearance.section_distance import Gaps, Sections, clearances, gaps
from fitment.clearance.trace import Corners, Index, Trace, hub_corners, in_poses, trace_of_corners
from fitment.clearance.worst_case import setup_sections
from fitment.errors import FitmentError
from fitment.frames import Array, to_half_plane
from fitment.motion.poses import Poses
from fitment.parts.axle import Axle, Setup
from fitment.parts.obstacles import Obstacle, Part, fixed_to_hub

DRAWS = 8192  # vehicles, twice
REACH = 1.5  # times what readings take in the worst case, beyond which nothing is looked for: 3 standard deviations
MOST_POSES = 12  # of one part, those that come nearest to deciding
MOST_BENT = 8  # assumed readings that are taken to second order with each other: those that do most
FELT = 1.0  # [mm] an assumed reading that moves no margin so far is taken to first order


@dataclass(frozen=True)
class Spread:
    """One figure that is not known exactly.

    name : key path within the axle or setup; of a part's own tolerance obstacles[its name]
    tolerance : half width of its band [mm, or deg]; unit : which of them
    equally_likely : any figure in the band, as of a tire's permitted size; else a normal spread
    assumed : nobody read it
    """

    name: str
    tolerance: float
    unit: str
    equally_likely: bool = False
    assumed: bool = False

    def drawn(self, sample: str, left: float) -> tuple[Array, Array]:
        """What a better reading would tell of the figure, and what it would leave open, of DRAWS vehicles.

        sample : names a set of draws
        left : share of the tolerance that the better reading has [-], 0 to 1; a half where any is equally likely
        Returns : (n,), (n,) whose sum is the figure's error, as a share of the tolerance [-]
        Source: derived here: variances add; the halves of a rectangle are rectangles.
        """
        first, second = (_shuffled(f"{self.name} {sample} {k}", self.equally_likely) for k in range(2))
        if self.equally_likely:
            return np.where(first < 0, -0.5, 0.5), second / 2
        return math.sqrt(1 - left**2) * first / COVERAGE, left * second / COVERAGE


@cache
def _levels(equally_likely: bool) -> Array:
    """The middles of DRAWS equal shares of a spread: from -1 to 1, or of a standard normal one."""
    share = (np.arange(DRAWS) + 0.5) / DRAWS
    if equally_likely:
        return 2 * share - 1
    return np.array([NormalDist().inv_cdf(x) for x in share.tolist()])


def _shuffled(name: str, equally_likely: bool) -> Array:
    """The levels in an order that hangs on the name alone, so that the same question has the same answer."""
    return np.random.default_rng(zlib.crc32(name.encode())).permutation(_levels(equally_likely))


@dataclass(frozen=True)
class Margins:
    """The margins that could decide a verdict: clearance less what is required, as the readings move them.

    spreads : the figures that are not known exactly (f,); entries : where each margin is (k,)
    as_read : with every figure in the middle of its band (k,) [mm]
    straight : gained when a figure is larger by its tolerance (k, f) [mm]
    pairs : figures that together do other than each alone (c, 2); bent : by how much (k, c) [mm]
    """

    spreads: tuple[Spread, ...]
    entries: tuple[Clearance, ...]
    as_read: Array
    straight: Array
    pairs: Index
    bent: Array

    def at(self, errors: Array) -> Array:
        """Margins (k, n) [mm] of vehicles whose figures are off by so much.

        errors : (f, n) [-], shares of the tolerances
        Source: derived here, the first and second order of a Taylor series.
        """
        one, other = self.pairs.T
        return np.asarray(self.as_read[:, None] + self.straight @ errors + self.bent @ (errors[one] * errors[other]))

    def rows(self, chosen: Sequence[int]) -> Margins:
        """Some of the margins, by their index."""
        at = list(chosen)
        entries = tuple(self.entries[k] for k in at)
        return replace(self, entries=entries, as_read=self.as_read[at], straight=self.straight[at], bent=self.bent[at])


def always_short(fit: Fit) -> bool:
    """Whether a required clearance is missed so far that no reading could be the reason."""
    return any(entry.clearance + _reach(entry) < entry.allowance for entry in fit.clearances)


def _reach(entry: Clearance) -> float:
    return REACH * (entry.clearance - entry.worst_case)


def margins_of(case: Case) -> Margins:
    """The margins of a checked setup that could decide, none where all are kept by far. Raises MotionError."""
    fit = case.fit
    places = _places(case)
    entries = tuple(entry for place in places for entry in place.entries)
    margin = np.array([entry.margin for entry in entries])
    if not places:
        return Margins((), (), margin, np.zeros((0, 0)), np.zeros((0, 2), np.intp), np.zeros((0, 0)))
    readings = {r.path: r for r in profiles.readings(case.ready.profile, fit.axle.name, case.ready.build)}
    spreads, columns = [], []
    for variant in case.ready.variants:
        reading = readings[variant.reading]
        spreads.append(Spread(reading.path, reading.tolerance, reading.unit, assumed=reading.assumed))
        effect = _measured if reading.assumed else _first_order
        columns.append(effect(fit, places, variant.axle))
    for spread, effects, shift in _of_wheel_and_parts(case, places):
        spreads.append(spread)
        columns.append(effects)
        margin = margin + shift
    straight = np.stack(columns, -1) if columns else np.zeros((len(margin), 0))
    straight, pairs, bent = _second_order(case, places, spreads, straight)
    return Margins(tuple(spreads), entries, margin, straight, pairs, bent)


# where it could be decided ------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Place:
    """A part of the vehicle against tire or wheel, in the poses that could decide.

    rows : of these poses among those chosen of all places (n,)
    """

    trace: Trace
    part: Part
    entries: tuple[Clearance, ...]
    rows: Index
    poses: Poses
    where: tuple[Array, ...]
    near: Gaps

    @property
    def obstacle(self) -> Obstacle:
        return self.trace.obstacle


def _places(case: Case) -> list[_Place]:
    fit = case.fit
    near: dict[tuple[str, Part], list[Clearance]] = {}
    for entry in fit.clearances:
        if entry.clearance - _reach(entry) < entry.allowance:
            near.setdefault((entry.obstacle, entry.part), []).append(entry)
    traces = {trace.obstacle.name: trace for trace in fit.traces}
    biggest = setup_sections(fit.setup, largest=True)
    kept = {
        (name, part): _nearest(could, fit)
        for (name, part), entries in near.items()
        if (could := _could_decide(entries, biggest[part], traces[name]))
    }
    chosen = np.unique([entry.pose for entries in kept.values() for entry in entries]).astype(np.intp)
    where, poses = places_of(fit, chosen), fit.poses.at(chosen)
    places = []
    for (name, part), entries in kept.items():
        at = np.array([entry.pose for entry in entries])
        trace = traces[name].at(at)
        own = gaps(fit.tire if part == "tire" else fit.wheel, trace)
        places.append(_Place(trace, part, entries, np.searchsorted(chosen, at), poses, where, own))
    return places


def _could_decide(entries: Sequence[Clearance], biggest: Sections, trace: Trace) -> list[Clearance]:
    """Those that readings could bring below what is required beyond what the largest tire takes, which is known."""
    left = clearances(biggest, trace.at(np.array([entry.pose for entry in entries])))
    readings = (left - [entry.worst_case for entry in entries]).tolist()
    return [
        entry
        for entry, taken in zip(entries, readings, strict=True)
        if entry.worst_case - (REACH - 1) * max(taken, 0.0) < entry.allowance
    ]


def _nearest(entries: Sequence[Clearance], fit: Fit) -> tuple[Clearance, ...]:
    """Of one part the entries that come nearest to deciding, by pose; one of a part that stands still to the hub."""
    obstacle = next(obstacle for obstacle in fit.obstacles if obstacle.name == entries[0].obstacle)
    most = 1 if fixed_to_hub(obstacle) else MOST_POSES
    ranked = sorted(entries, key=lambda entry: entry.margin / max(_reach(entry), 1e-6))[:most]
    return tuple(sorted(ranked, key=lambda entry: entry.pose))


def places_of(fit: Fit, chosen: Index) -> tuple[Array, ...]:
    """Travel [mm] and lock fractions [-] of some poses of a fit, of every family (n, k), in their order.

    chosen : indices of poses (n,), rising
    Source: derived here: poses of the families stand one after another.
    """
    ends = np.cumsum([0, *map(len, fit.places)])
    return tuple(
        own[chosen[(chosen >= first) & (chosen < last)] - first]
        for own, first, last in zip(fit.places, ends, ends[1:], strict=False)
    )


# what each figure does ----------------------------------------------------------------------------------------


def _hub_corners(place: _Place, axle: Axle, poses: Poses) -> tuple[Corners, float]:
    """The corners of a place's part on an axle that was read otherwise (n, v, 3), and by how much it is thicker."""
    other = next(obstacle for obstacle in axle.obstacles if obstacle.name == place.obstacle.name)
    return in_poses(hub_corners(other, poses), place.rows), other.radius - place.obstacle.radius


def _first_order(fit: Fit, places: Sequence[_Place], axle: Axle) -> Array:
    """Clearance gained at every place on an axle with a reading moved (k,): by the nearest point's way outward."""
    poses = poses_at(fit.axle, places[0].where, axle)
    gained = []
    for place in places:
        hub, thicker = _hub_corners(place, axle, poses)
        there, here = (_nearest_points(corners, place.near) for corners in (hub, place.trace.hub))
        gained.append(np.sum((there - here) * place.near.away, -1) - thicker)
    return np.concatenate(gained)


def _nearest_points(corners: Corners, near: Gaps) -> Array:
    """The material points next to the section (n, 2)."""
    own = corners[np.arange(len(corners))[:, None], near.corners]
    return to_half_plane(np.einsum("nc,nci->ni", near.weights, own))


def _measured(fit: Fit, places: Sequence[_Place], axle: Axle) -> Array:
    """The same, measured anew (k,)."""
    poses = poses_at(fit.axle, places[0].where, axle)
    gained = []
    for place in places:
        hub, thicker = _hub_corners(place, axle, poses)
        section = fit.tire if place.part == "tire" else fit.wheel
        moved = clearances(section, trace_of_corners(place.obstacle, hub))
        gained.append(moved - thicker - place.near.clearance)
    return np.concatenate(gained)


def _of_wheel_and_parts(case: Case, places: Sequence[_Place]) -> Iterator[tuple[Spread, Array, Array]]:
    """Wheel, tire, spacer and the parts' own tolerances: the figure, what it gains (k,), and what the middle does."""
    setup, size = case.fit.setup, sum(len(place.entries) for place in places)
    still = np.zeros(size)
    for name in dict.fromkeys(place.obstacle.name for place in places):
        own = [np.full(len(p.entries), p.obstacle.tolerance if p.obstacle.name == name else 0.0) for p in places]
        gained = np.concatenate(own)
        if gained.any():
            yield Spread(f"obstacles[{name}]", float(gained.max()), "mm"), gained, still
    if setup.wheel.offset_tolerance:
        away = np.concatenate([place.near.away[:, 0] for place in places])
        yield Spread("wheel.offset", setup.wheel.offset_tolerance, "mm"), setup.wheel.offset_tolerance * away, still
    as_given = _with_setup(setup, places)
    if case.others:
        for reading, other in zip(setup_readings(case.ready), case.others, strict=True):
            gained = _with_setup(other, places) - as_given
            yield Spread(reading.path, reading.tolerance, reading.unit, assumed=reading.assumed), gained, still
    known, metal = measured_sizes(case), setup_sections(setup)["wheel"]
    for name, sizes in SIZES.values():
        if name in known or not any(place.part == "tire" for place in places):
            continue
        low, high = sizes(setup)
        least, most = (_with_sections({"tire": tire, "wheel": metal}, places) for _, tire in (low, high))
        spread = Spread(name, (high[0] - low[0]) / 2, "mm", equally_likely=True)
        yield spread, (most - least) / 2, (most + least) / 2 - as_given


def _with_setup(setup: Setup, places: Sequence[_Place]) -> Array:
    """Clearance of a setup at every place (k,)."""
    return _with_sections(setup_sections(setup), places)


def _with_sections(sections: Mapping[Part, Sections], places: Sequence[_Place]) -> Array:
    """Clearance of a setup's sections at every place (k,)."""
    return np.concatenate([clearances(sections[place.part], place.trace) for place in places])


def _second_order(
    case: Case, places: Sequence[_Place], spreads: Sequence[Spread], straight: Array
) -> tuple[Array, Index, Array]:
    """What assumed readings do beyond the first order: `straight`, `pairs` and `bent` of Margins.

    straight : as found on one side of each reading (k, f); both sides are looked at here
    """
    axle_wide = [i for i, spread in enumerate(spreads) if spread.assumed and i < len(case.ready.variants)]
    felt = [i for i in axle_wide if np.abs(straight[:, i]).max() > FELT]
    felt = sorted(sorted(felt, key=lambda i: -float(np.abs(straight[:, i]).max()))[:MOST_BENT])
    straight, plus = straight.copy(), straight
    pairs: list[tuple[int, int]] = []
    bent: list[Array] = []

    def gained(*signs: tuple[int, float]) -> Array:
        moved = {spreads[i].name: sign * spreads[i].tolerance for i, sign in signs}
        return _measured(case.fit, places, axle_with(case.ready, moved))

    for i in felt:
        try:
            minus = gained((i, -1.0))
        except FitmentError:  # the axle does not reach so far: the way on the other side is all that is known
            continue
        straight[:, i] = (plus[:, i] - minus) / 2
        pairs.append((i, i))
        bent.append((plus[:, i] + minus) / 2)
    for i, j in combinations([i for i, _ in pairs], 2):
        try:
            both = gained((i, 1.0), (j, 1.0))
        except FitmentError:
            continue
        pairs.append((i, j))
        bent.append(both - plus[:, i] - plus[:, j])
    beyond = np.stack(bent, -1) if bent else np.zeros((len(straight), 0))
    return straight, np.array(pairs, np.intp).reshape(-1, 2), beyond
