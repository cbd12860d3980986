"""Between the nodes of a sweep's grids: the poses in which something comes closest, or a worst case is worst."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from fitment.clearance.alike import in_turn
from fitment.clearance.motion_polynomials import corners_at, frames_at, stretched_travel, tracker
from fitment.clearance.pose_grid import Sweep
from fitment.clearance.pose_search import At, Clearance, Start, closest_places, descend, patch
from fitment.clearance.section_distance import Sections, clearances, of_rows
from fitment.clearance.trace import CarriedCorners, Trace, trace_of_corners
from fitment.clearance.worst_case import (
    PartMoved,
    SetupSections,
    assumes,
    bend_at,
    lock_shares,
    moves_alike,
    read_again,
    together,
    worst_clearance,
)
from fitment.frames import Array
from fitment.motion.poses import Poses, joined
from fitment.motion.suspension import between, corners_alike, families, lock_bends
from fitment.parts.axle import Axle
from fitment.parts.obstacles import Part, fixed_to_hub

PARTS: tuple[Part, ...] = ("tire", "wheel")
STARTS = 3  # poses from which a worst case is sought
COULD_DECIDE = 0.3  # [mm] of zero within which it is
COULD_DECIDE_WIDE = 30.0  # [mm] above zero within which it is where bands are assumed
LEFT_FOR_READINGS = 6.0  # [mm] of the largest tire, less that tolerance, that the other readings could take away
BESIDE_NODE = 0.6  # [steps] from a node within which every place is, and what the bend of the motion adds
ROUGHLY = 0.1  # times a depth that it may be off by
NEARBY, STEERED = 4.0, 300.0  # [mm] first steps of a search near a place, and the tread's motion in a full lock


@dataclass(frozen=True)
class NearPose:
    """A pose in which a part of a setup's wheel is near an obstacle.

    parts : of the setup; obstacle : its index among those checked
    family : index of the poses' family; at : travel [mm], lock fractions
    worst : whether the worst case counts, not the clearance
    """

    parts: SetupSections
    obstacle: int
    part: Part
    family: int
    at: At
    worst: bool


Near = frozenset[tuple[str, Part]]
"""Obstacles by name, and what of the wheel they are near to."""
OnGrid = Mapping[tuple[int, Part], tuple[Array, Array]]
"""Of obstacles, by their index among those checked, and parts of the wheel the clearance of the nominal and of the
largest part in the grid's nodes, one family after another (n,), (n,) [mm]."""


class FoundPlace(NamedTuple):
    """A place between the nodes of the grid, of a family by its index, in which an obstacle comes closest.

    obstacle : its index among those checked; at : travel [mm], lock fractions [-]
    clearance : there, of the nominal or the largest part [mm]
    """

    obstacle: int
    family: int
    at: At
    clearance: float


def find_closest(swept: Sweep, several: Sequence[SetupSections], known: Sequence[OnGrid]) -> list[list[FoundPlace]]:
    """Of every setup the closest places that lie between the nodes of its grid.

    known : of every setup what is sought, and its clearances on the grid that is reported (n,) [mm]
    Raises MotionError.
    Source: derived here, the search of `pose_search.closest_places`.
    """
    found: list[list[FoundPlace]] = [[] for _ in several]
    alike = corners_alike(swept.axle)
    for index in range(1 if alike else len(swept.families)):
        for setup, place in _closest_in(swept, index, several, known):
            found[setup].append(place)
    others = range(1, len(swept.families)) if alike else ()
    return [[*own, *(place._replace(family=index) for index in others for place in own)] for own in found]


def _closest_in(
    swept: Sweep, index: int, several: Sequence[SetupSections], known: Sequence[OnGrid]
) -> Iterator[tuple[int, FoundPlace]]:
    """Of setups the closest places of one family. Those of the largest tire are sought too where it could touch."""
    own, travels = swept.families[index], swept.travels
    family, levels = own.family, _search_levels(swept, index)
    reported = [np.isin(level, known) for level, known in zip(levels, (travels, *family.levels), strict=True)]
    kept = np.logical_and.reduce(np.meshgrid(*reported, indexing="ij"))
    pairs = [pair for k, parts in enumerate(several) for pair in _pairs(swept, index, k, parts, known[k], kept)]
    groups = [group for group, _ in own.together]
    of_group, owner = np.array([(pair.group, pair.owner) for pair in pairs], dtype=np.intp).reshape(-1, 2).T
    sections = np.array([pair.section for pair in pairs])
    motion = swept.motion(index)

    def clearance(pair: NDArray[np.intp], places: Array) -> Array:
        there, frames = np.empty(len(pair)), frames_at(motion, places)
        for number in np.unique(of_group[pair]).tolist():
            group, mine = groups[number], np.flatnonzero(of_group[pair] == number)
            hub = corners_at(motion, group, owner[pair[mine]], places, frames, mine)
            there[mine] = clearances(sections[pair[mine]], group.trace(owner[pair[mine]], hub))
        return there

    on_grid, reach = np.array([pair.on_grid for pair in pairs]), np.array([pair.reach for pair in pairs])
    bends = lock_bends(swept.axle)
    for number, at, value in closest_places(levels, kept, on_grid, reach, clearance, family.turns, bends):
        pair = pairs[number]
        yield pair.setup, FoundPlace(groups[pair.group].numbers[pair.owner], index, at, value)


def _search_levels(swept: Sweep, index: int) -> tuple[Array, ...]:
    """Levels of a family's search grid, of travel, then of each share."""
    return between(swept.travels), *swept.families[index].family.search_levels


class _Pair(NamedTuple):
    """A section of a setup and an obstacle: the group it is of, and its number there.

    on_grid : clearances on the search grid (nt, ns, ...), at least so much where they are far from the lowest [mm]
    reach : how much lower it can come beside a node [mm]
    """

    setup: int
    group: int
    owner: int
    section: Sections
    on_grid: Array
    reach: float


def _pairs(
    swept: Sweep, index: int, setup: int, parts: SetupSections, known: OnGrid, kept: NDArray[np.bool_]
) -> Iterator[_Pair]:
    """What of a setup is sought between the nodes, of parts that do not stand still in the hub's frame.

    kept : the nodes that are reported anyway (nt, ns, ...)
    """
    first = index * kept.sum()  # every family has as many
    nodes = slice(first, first + kept.sum())
    for number, (group, trace) in enumerate(swept.families[index].together):
        steps = _steps(trace, kept.shape)
        asked = [(k, part) for part in PARTS for k, one in enumerate(group.numbers) if (one, part) in known]
        for sections, which in ((parts.nominal, 0), (parts.biggest, 1)):
            own = [sections[part] for _, part in asked]
            there = [known[group.numbers[k], part][which][nodes] for k, part in asked]
            on_nodes = _on_nodes(own, trace, [k for k, _ in asked], there, steps, kept)
            left: list[tuple[int, Part]] = []
            for (k, part), section, free, reach in zip(asked, own, *on_nodes, strict=True):
                least, tolerance = float(free.min()), group.obstacles[k].tolerance
                if which == 0 or least < LEFT_FOR_READINGS + tolerance:
                    yield _Pair(setup, number, k, section, free, reach)
                if part == "tire" and 0 <= least < parts.grown + LEFT_FOR_READINGS + tolerance:
                    left.append((k, part))
            asked = left  # what the largest tire could touch


def _steps(trace: Trace, shape: tuple[int, ...]) -> list[Array]:
    """By how much at most each of a group moves against the hub from node to node, by each way [mm].

    shape : of the grid (nt, ns, ...), in whose nodes each is traced
    Returns : of every way (m, nt, ns, ...), one fewer in that way
    """
    hub = np.asarray(trace.hub.box if isinstance(trace.hub, CarriedCorners) else trace.hub)
    hub = hub.reshape(-1, *shape, *hub.shape[1:])
    moves = (np.diff(hub, axis=1 + way) for way in range(len(shape)))
    return [np.sqrt(np.sum(move**2, axis=-1).max(axis=-1, initial=0.0)) for move in moves]


def _on_nodes(
    sections: Sequence[Polygon], trace: Trace, asked: Sequence[int], known: Sequence[Array], steps: Sequence[Array],
    kept: NDArray[np.bool_],
) -> tuple[Array, list[float]]:  # fmt: skip
    """Clearances of some of a group, each to its section, on the search grid (q, nt, ns, ...), and how much lower each
    can come beside a node [mm].

    known : clearances of each in the nodes that are reported anyway (n,) [mm], which are those kept (nt, ns, ...)
    A clearance changes by no more than the obstacle moves. So from the nodes that are reported it is known what those
    between hold at least, and where that is far above the lowest they are not measured.
    """
    nodes, chosen = kept.size, np.array(asked, dtype=np.intp)
    steps, ways = [step[chosen] for step in steps], tuple(range(1, 1 + kept.ndim))
    reach = BESIDE_NODE * sum(step.max(axis=ways, initial=0.0) for step in steps)
    free = np.full((len(asked), nodes), -np.inf)
    free[:, kept.ravel()] = np.array(known).reshape(len(asked), kept.sum())
    lowest = np.where(kept.ravel(), free, np.inf).min(axis=1)
    least = free.reshape(len(asked), *kept.shape)
    for way, step in enumerate(steps, start=1):
        low, high = (np.take(least, np.arange(k, least.shape[way] - 1 + k), axis=way) for k in (0, 1))
        pad = [(0, 0)] * least.ndim
        before, after = list(pad), list(pad)
        before[way], after[way] = (1, 0), (0, 1)
        least = np.maximum(least, np.pad(low - step, before, constant_values=-np.inf))
        least = np.maximum(least, np.pad(high - step, after, constant_values=-np.inf))
    bound = least.reshape(len(asked), nodes)
    wanted = ~kept.ravel() & (bound <= (lowest + reach + ROUGHLY * np.maximum(-lowest, 0.0))[:, None])
    own, node = np.nonzero(wanted)
    some = trace.at(chosen[own] * nodes + node)
    measured = (clearances(of_rows(sections, own[rows]), some.at(rows)) for rows in in_turn(some))
    free[own, node] = np.concatenate([np.empty(0), *measured])
    return np.where(kept.ravel() | wanted, free, bound).reshape(len(asked), *kept.shape), reach.tolist()


def poses_at(axle: Axle, where: Sequence[Array], read: Axle | None = None) -> Poses:
    """The poses at places of every family of an axle, or at the same on one that was read otherwise.

    where : of every family (n, k) [mm, then -], a travel and its lock fractions
    read : the axle as it was read otherwise, whose ends of travel take the place of this one's
    Raises MotionError.
    Source: derived here: `Family.poses`, the travels stretched by `stretched_travel`.
    """
    if read is not None:
        where = [np.column_stack([stretched_travel(places[:, 0], axle, read), places[:, 1:]]) for places in where]
    own = zip(families(read or axle), (read or axle).sides, where, strict=False)
    known = [(family, side, places) for family, side, places in own if len(places)]
    if len(known) > 1 and corners_alike(axle) and all(np.array_equal(places, where[0]) for places in where):
        first = known[0][0].poses(*where[0].T)
        return joined([replace(first, corner=np.full(len(first), side)) for _, side, _ in known])
    return joined([family.poses(*places.T) for family, _, places in known])


def could_be_worse(
    swept: Sweep,
    obstacle: int,
    part: Part,
    parts: SetupSections,
    where: Sequence[Array],
    poses: NDArray[np.intp],
    clearance: Array,
    worst: Array,
) -> list[tuple[NearPose, float]]:
    """Places from which a worst case that could decide the verdict is sought, and what it is there [mm].

    where : of every family (n, k) [mm, then -], a travel and its lock fractions
    poses : the obstacle's among them, one family after another; clearance, worst : there (q,) [mm]
    The places so far are those where the nominal and the largest part are closest; what readings take from a
    clearance changes from pose to pose too.
    Source: derived here: the lowest STARTS, where a worst case is within COULD_DECIDE of zero; assumed bands are wide,
    so that one well above zero could come down to it.
    """
    low = np.argsort(worst, kind="stable")[:STARTS]
    wide = assumes(parts.variants)
    decided = worst[low[0]] <= -COULD_DECIDE or worst[low[0]] >= (COULD_DECIDE_WIDE if wide else COULD_DECIDE)
    if fixed_to_hub(swept.checked[obstacle]) or decided or clearance[low[0]] < 0:
        return []
    family = np.repeat(np.arange(len(where)), [len(places) for places in where])[poses]
    at = np.concatenate(where)[poses]
    return [
        (NearPose(parts, obstacle, part, int(family[k]), tuple(at[k].tolist()), True), float(worst[k]))
        for k in low.tolist()
    ]


def find_worse(swept: Sweep, starts: Sequence[tuple[NearPose, float]]) -> list[tuple[NearPose, At]]:
    """Of starts those with a lower worst case near, and where that is, travel [mm] and lock fractions.

    starts : each with the worst case that is known there [mm]
    Source: derived here, see `lowest_near`.
    """
    lowest = lowest_near(swept, [start for start, _ in starts])
    return [(start, at) for (start, known), (value, at) in zip(starts, lowest, strict=True) if value < known - 1e-3]


def lowest_near(swept: Sweep, places: Sequence[NearPose]) -> list[tuple[float, At]]:
    """Of every place the lowest value near it [mm] and where that is, travel [mm] and lock fractions.

    Raises MotionError.
    Source: derived here, the search of `pose_search.descend` from each.
    """
    lowest: list[tuple[float, At]] = [(0.0, ())] * len(places)
    for index in sorted({place.family for place in places}):
        mine = [k for k, place in enumerate(places) if place.family == index]
        own = [places[k] for k in mine]
        measure = _measure(swept, index, own)
        first = measure(np.arange(len(own)), np.array([place.at for place in own]))
        starts = [
            start_near(swept, k, place.family, place.at, value)
            for k, (place, value) in enumerate(zip(own, first.tolist(), strict=True))
        ]
        values, at = descend(starts, measure, swept.families[index].family.turns)
        for k, value, where in zip(mine, values.tolist(), at.tolist(), strict=True):
            lowest[k] = value, tuple(where)
    return lowest


def _measure(swept: Sweep, index: int, places: Sequence[NearPose]) -> Clearance:
    """What counts at each place, in any poses of a family. A part is traced once for all setups."""
    kinds = [(place.obstacle, place.part, place.worst) for place in places]
    measured = {kind: value_at(swept, index, places[kinds.index(kind)]) for kind in kinds}
    number = {kind: i for i, kind in enumerate(measured)}
    of_place = np.array([number[kind] for kind in kinds])

    def measure(pair: NDArray[np.intp], at: Array) -> Array:
        there = np.empty(len(pair))
        for kind, values in zip(number.values(), measured.values(), strict=True):
            mine = np.flatnonzero(of_place[pair] == kind)
            if len(mine):
                parts = together([places[k].parts for k in pair[mine].tolist()])
                there[mine] = values(parts, at[mine])
        return there

    return measure


def value_at(swept: Sweep, index: int, place: NearPose) -> Callable[[SetupSections, Array], Array]:
    """What counts at places of one kind, by the parts, and the travel and lock fractions (q, k) of each -> (q,) [mm].

    index : of the family of poses [-]
    Raises MotionError.
    """
    motion, obstacle, part = swept.motion(index), swept.checked[place.obstacle], place.part
    nominal = tracker(motion, obstacle)
    if not place.worst:
        return lambda parts, at: clearances(parts.nominal[part], trace_of_corners(obstacle, nominal(at)))
    variants, moved = place.parts.variants, []
    for k, other in read_again(obstacle, swept.axle, place.parts):
        again = motion if moves_alike(variants[k].axle, swept.axle) else swept.motion(index, variants[k].axle)
        moved.append((other, tracker(again, other), variants[k].assumed))

    def worst(parts: SetupSections, at: Array) -> Array:
        hub = [PartMoved(other.radius, corners(at), wide) for other, corners, wide in moved]
        bend = bend_at(obstacle, variants, lock_shares([swept.families[index].family], [at]))
        return worst_clearance(trace_of_corners(obstacle, nominal(at)), part, None, hub, parts, bend)

    return worst


def start_near(swept: Sweep, pair: int, index: int, at: At, value: float) -> Start:
    """The start of a search near a place, within the smooth patch that it lies in.

    pair : its number; index : of the family of poses; at : travel [mm], lock fractions; value : there [mm]
    Source: derived here, see `pose_search.descend`.
    """
    family = swept.families[index].family
    kinks = [lock_bends(swept.axle), *([0.0] for _ in family.kinds)]
    ends = [(float(levels[0]), float(levels[-1])) for levels in (swept.travels, *family.levels)]
    low, high = zip(*map(patch, at, ends, kinks), strict=True)
    first = (NEARBY, *(NEARBY / STEERED for _ in family.kinds))
    step = tuple(size if b > a else 0.0 for size, a, b in zip(first, low, high, strict=True))
    return Start(pair, at, step, value, low, high)
