"""Between the nodes of a sweep's grids: the poses in which something comes closest, or a worst case is worst."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitment.clearance import Sections, clearances
from fitment.closest import Clearance, Start, closest_places, descend, patch
from fitment.frames import Array
from fitment.obstacles import Part
from fitment.smooth import tracker
from fitment.suspension import between
from fitment.sweeps import Sweep, grid
from fitment.trace import trace_of_corners
from fitment.vehicle import Axle
from fitment.worst import Parts, read_again, together, worst_case

COULD_TOUCH = 15.0  # [mm] of the nominal tire, less a part's tolerance, within which the largest could touch
LEFT_FOR_READINGS = 6.0  # [mm] of the largest tire, less that tolerance, that the other readings could take away
NEARBY, STEERED = 4.0, 300.0  # [mm] first steps of a search near a place, and the tread's motion in a full lock


@dataclass(frozen=True)
class Place:
    """A pose in which a part of a setup's wheel is near an obstacle.

    parts : of the setup; obstacle : its index among those checked
    family : index of the poses' family; at : travel [mm], share
    worst : whether the worst case counts, not the clearance
    """

    parts: Parts
    obstacle: int
    part: Part
    family: int
    at: tuple[float, float]
    worst: bool


def closest(swept: Sweep, parts: Parts) -> list[Array]:
    """Of every family travels and shares (n, 2) of its grid and of the closest places between the nodes.

    Raises MotionError.
    """
    return [_closest_in(swept, index, parts) for index in range(len(swept.families))]


def _closest_in(swept: Sweep, index: int, parts: Parts) -> Array:
    """Travels and shares (n, 2) of the grid and of the closest places between its nodes.

    The closest places of the largest tire are sought too where it could touch.
    """
    nominal, largest = parts.nominal, parts.biggest["tire"]
    own, travels = swept.families[index], swept.travels
    family, search = own.family, between(travels)
    shape = (len(search), len(family.search_shares))
    pairs: list[tuple[int, Sections]] = []
    on_grid: list[Array] = []
    for i, each in enumerate(own.traces):
        if each.obstacle.shape == "ring" or set(each.obstacle.fixed_to) == {"knuckle"}:
            continue
        for part in each.obstacle.meets:
            pairs.append((i, nominal[part]))
            on_grid.append(clearances(nominal[part], each).reshape(shape))
            if part == "tire" and 0 <= on_grid[-1].min() < COULD_TOUCH + each.obstacle.tolerance:
                big = clearances(largest, each).reshape(shape)
                if big.min() < LEFT_FOR_READINGS + each.obstacle.tolerance:
                    pairs.append((i, largest))
                    on_grid.append(big)
    of_trace = np.array([i for i, _ in pairs], dtype=int)
    motion = swept.motion(index)
    corners = {i: tracker(motion, own.traces[i].obstacle) for i in np.unique(of_trace).tolist()}

    def clearance(pair: NDArray[np.intp], travel: Array, share: Array) -> Array:
        there = np.empty(len(pair))
        owner = of_trace[pair]
        for i in np.unique(owner):  # a part is traced once for all sections
            mine = np.flatnonzero(owner == i)
            traced = trace_of_corners(own.traces[i].obstacle, corners[i](travel[mine], share[mine]))
            for k in np.unique(pair[mine]):
                chosen = pair[mine] == k
                there[mine[chosen]] = clearances(pairs[k][1], traced.at(chosen))
        return there

    kept = np.isin(search, travels)[:, None] & np.isin(family.search_shares, family.shares)
    more = closest_places(search, family.search_shares, kept, on_grid, clearance, family.turn, _bends(swept.axle))
    extra = np.array([(t, s) for _, t, s in more]).reshape(-1, 2)
    return sorted_places(np.concatenate([grid(travels, family.shares), extra]))


def sorted_places(places: Array) -> Array:
    """Places (n, 2) in order, none twice."""
    return np.unique(np.round(places, 6), axis=0)


def lowest_near(swept: Sweep, places: Sequence[Place]) -> list[tuple[float, float, float]]:
    """Of every place the lowest value near it [mm] and where that is, travel [mm] and share. Raises MotionError."""
    found = [(0.0, 0.0, 0.0)] * len(places)
    for index in sorted({each.family for each in places}):
        mine = [k for k, each in enumerate(places) if each.family == index]
        own = [places[k] for k in mine]
        measure = _measure(swept, index, own)
        first = measure(np.arange(len(own)), *np.array([each.at for each in own]).T)
        starts = [_start(swept, k, each, value) for k, (each, value) in enumerate(zip(own, first.tolist(), strict=True))]
        values, at = descend(starts, measure, swept.families[index].family.turn)
        for k, value, where in zip(mine, values.tolist(), at.tolist(), strict=True):
            found[k] = (value, *where)
    return found


def _measure(swept: Sweep, index: int, places: Sequence[Place]) -> Clearance:
    """What counts at each place, in any poses of a family. A part is traced once for all setups."""
    kinds = [(each.obstacle, each.part, each.worst) for each in places]
    measured = {kind: _measured(swept, index, places[kinds.index(kind)]) for kind in kinds}
    number = {kind: i for i, kind in enumerate(measured)}
    of_place = np.array([number[kind] for kind in kinds])

    def measure(pair: NDArray[np.intp], travel: Array, share: Array) -> Array:
        there = np.empty(len(pair))
        for kind, values in zip(number.values(), measured.values(), strict=True):
            mine = np.flatnonzero(of_place[pair] == kind)
            if len(mine):
                parts = together([places[k].parts for k in pair[mine].tolist()])
                there[mine] = values(parts, travel[mine], share[mine])
        return there

    return measure


def _measured(swept: Sweep, index: int, place: Place) -> Callable[[Parts, Array, Array], Array]:
    """What counts at places of one kind, by the parts, the travel and the share (q,) of each -> (q,) [mm]."""
    motion, obstacle, part = swept.motion(index), swept.checked[place.obstacle], place.part
    nominal = tracker(motion, obstacle)
    if not place.worst:
        return lambda parts, *at: clearances(parts.nominal[part], trace_of_corners(obstacle, nominal(*at)))
    read = read_again(obstacle, place.parts)
    moved = [
        (other, tracker(swept.motion(index, variant.axle), other))
        for variant, other in zip(place.parts.variants, read, strict=True)
    ]

    def worst(parts: Parts, travel: Array, share: Array) -> Array:
        hub = [(other, corners(travel, share)) for other, corners in moved]
        return worst_case(trace_of_corners(obstacle, nominal(travel, share)), part, None, hub, parts)

    return worst


def _start(swept: Sweep, pair: int, place: Place, value: float) -> Start:
    (travel, share), travels = place.at, swept.travels
    shares = swept.families[place.family].family.search_shares
    t = patch(travel, (float(travels[0]), float(travels[-1])), _bends(swept.axle))
    s = patch(share, (float(shares[0]), float(shares[-1])), (0.0,))
    step = (NEARBY if t[1] > t[0] else 0.0, NEARBY / STEERED if s[1] > s[0] else 0.0)
    return Start(pair, place.at, step, value, (t[0], s[0]), (t[1], s[1]))


def _bends(axle: Axle) -> list[float]:
    """Travels at which the motion is not smooth [mm]."""
    return [travel for travel, _ in axle.steer_limit]
