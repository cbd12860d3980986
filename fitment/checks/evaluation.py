"""Setups evaluated side by side on one axle: the poses that count for each, and what every part has left in them.

A part is traced once for all setups, and every search takes its steps for all at once.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import NamedTuple

import numpy as np

from fitment.clearance.alike import AT_ONCE, Alike, alike_groups
from fitment.clearance.closest_poses import (
    PARTS,
    FoundPlace,
    Near,
    could_be_worse,
    find_closest,
    find_worse,
    poses_at,
)
from fitment.clearance.pose_grid import Sweep, grid
from fitment.clearance.section_distance import Gaps, gaps, of_rows
from fitment.clearance.trace import Index
from fitment.clearance.worst_case import (
    PartMoved,
    SetupSections,
    bend_at,
    lock_shares,
    moves_alike,
    read_again,
    together,
    worst_clearance,
)
from fitment.frames import Array
from fitment.motion.suspension import corners_alike
from fitment.parts.obstacles import Part, fixed_to_hub
from fitment.progress import doing

FEW_PARTS = 24  # obstacles up to which all are told in each other's closest poses
SHARED = 12  # of more, how many of the closest poses are looked at for all


class Left(NamedTuple):
    """What an obstacle leaves one part of the wheel in q poses; of one that is fixed to the hub, in one as in all.

    gaps : to the nominal part; largest : clearance of the largest part (q,) [mm]; worst_case : (q,) [mm]
    poses : which of the setup's they are, rising (q,); of one that is fixed to the hub those in which it is told
    """

    gaps: Gaps
    largest: Array
    worst_case: Array
    poses: Index


Found = dict[tuple[int, Part], Left]
"""What every obstacle, by its index among those checked, leaves tire and wheel."""


@dataclass(frozen=True)
class Evaluation:
    """One setup in all the poses that count for it.

    places : (n, k) of every family: travel [mm], then lock fractions [-]; risen, none twice
    """

    places: tuple[Array, ...]
    found: Found

    def least(self, swept: Sweep) -> tuple[float, float, float]:
        """Smallest clearance, margin and worst case [mm], infinite where nothing is met. Source: their definitions."""
        figures = [
            (
                left.gaps.clearance.min(),
                left.gaps.clearance.min() - swept.checked[i].required_to(part),
                left.worst_case.min(),
            )
            for (i, part), left in self.found.items()
        ]
        clearance, margin, worst_case = np.min(figures, axis=0, initial=np.inf).tolist() if figures else (np.inf,) * 3
        return clearance, margin, worst_case


def evaluate(swept: Sweep, several: Sequence[SetupSections], near: Sequence[Near] | None = None) -> list[Evaluation]:
    """Setups on the axle that was swept, in the poses of its grid, in those where something is closest between the
    nodes, and in those where a worst case that could decide the verdict is worst.

    several : the sections of each; near : of each the parts that alone are looked at; None for all
    Raises MotionError.
    """
    nodes = [grid(swept.travels, *own.family.levels) for own in swept.families]
    none = [own[:0] for own in nodes]
    on_grid = _poses_of(swept, nodes, ())
    first = _measured(swept, [on_grid] * len(several), several, near)
    known = [{key: (left.gaps.clearance, left.largest) for key, left in lefts.items()} for lefts in first]
    with doing("looking for what comes closest"):
        closest = [_poses_of(swept, none, places) for places in find_closest(swept, several, known)]
    second = _measured(swept, closest, several, near)
    found = [
        _with(swept, Evaluation(on_grid.places, lefts), beside.places, lefts_beside)
        for lefts, beside, lefts_beside in zip(first, closest, second, strict=True)
    ]
    starts = [
        start
        for parts, own in zip(several, found, strict=True)
        for (i, part), left in own.found.items()
        for start in could_be_worse(swept, i, part, parts, own.places, left.poses, left.gaps.clearance, left.worst_case)
    ]
    worse: list[list[FoundPlace]] = [[] for _ in several]
    setup_of = {id(parts): k for k, parts in enumerate(several)}
    for place, at in find_worse(swept, starts):
        worse[setup_of[id(place.parts)]].append(FoundPlace(place.obstacle, place.family, at, -np.inf))
    more = [_poses_of(swept, none, places) for places in worse]
    third = _measured(swept, more, several, near)
    return [_with(swept, own, beside.places, lefts) for own, beside, lefts in zip(found, more, third, strict=True)]


class _PosesTold(NamedTuple):
    """The poses of a setup.

    places : (n, k) of every family [mm, then -], rising, none twice
    told : of every obstacle the poses in which it is looked at, rising (q,)
    """

    places: tuple[Array, ...]
    told: list[Index]


def _poses_of(swept: Sweep, nodes: Sequence[Array], closest: Sequence[FoundPlace]) -> _PosesTold:
    """The grid's nodes (n, k) of every family and the closest places. Of more than FEW_PARTS obstacles each is looked
    at on the grid, where it is closest itself, and where the SHARED closest are.
    """
    few = len(swept.checked) <= FEW_PARTS
    shared = closest if few else sorted(closest, key=lambda place: place.clearance)[:SHARED]
    for_all = set(map(id, shared))
    where: list[Array] = []
    common: list[int] = []
    own: dict[int, list[int]] = {}
    for index, grid_nodes in enumerate(nodes):
        beside = [place for place in closest if place.family == index]
        at = np.array([place.at for place in beside]).reshape(-1, grid_nodes.shape[1])
        places, back = np.unique(np.round(np.concatenate([grid_nodes, at]), 6), axis=0, return_inverse=True)
        pose = (sum(map(len, where)) + back.ravel()).tolist()
        common += pose[: len(grid_nodes)]
        for place, number in zip(beside, pose[len(grid_nodes) :], strict=True):
            (common if id(place) in for_all else own.setdefault(place.obstacle, [])).append(number)
        where.append(places)
    of_all = np.unique(np.array(common, dtype=np.intp))
    return _PosesTold(
        tuple(where), [np.union1d(of_all, own[i]) if i in own else of_all for i in range(len(swept.checked))]
    )


def _with(swept: Sweep, known: Evaluation, more: Sequence[Array], found: Found) -> Evaluation:
    """What is known in some poses with what was found in more of them (n, k), of every family."""
    if not any(map(len, more)):
        return known
    places: list[Array] = []
    old_at: list[Index] = []
    new_at: list[Index] = []
    for old, new in zip(known.places, more, strict=True):
        both, back = np.unique(np.concatenate([old, new]), axis=0, return_inverse=True)
        back = sum(map(len, places)) + back.ravel()
        old_at.append(back[: len(old)])
        new_at.append(back[len(old) :])
        places.append(both)
    was, added = np.concatenate(old_at), np.concatenate(new_at)
    whole: Found = {}
    for key, left in known.found.items():
        also = found.get(key)
        lefts = [left] if also is None else [left, also]
        poses = np.concatenate([at[own.poses] for at, own in zip((was, added), lefts, strict=False)])
        once, order = np.unique(poses, return_index=True)
        if fixed_to_hub(swept.checked[key[0]]):
            whole[key] = left._replace(poses=once)
        else:
            free = left.gaps if also is None else left.gaps.joined(also.gaps)
            largest, worst = (
                np.concatenate(own) for own in zip(*((own.largest, own.worst_case) for own in lefts), strict=True)
            )
            whole[key] = Left(free.at(order), largest[order], worst[order], once)
    return Evaluation(tuple(places), whole)


def _measured(
    swept: Sweep, where: Sequence[_PosesTold], several: Sequence[SetupSections], near: Sequence[Near] | None
) -> list[Found]:
    """What is found of every setup in its poses."""
    lefts: list[Found] = [{} for _ in several]
    if not any(len(at) for own in where for at in own.places):
        return lefts
    places, own_poses = _once([own.places for own in where])
    looked = _AsRead(swept, several, places)
    for group in alike_groups(swept.checked, looked.there[-1]):
        by_readings: dict[object, list[int]] = {}
        for k, number in enumerate(group.numbers):
            by_readings.setdefault(looked.readings(number), []).append(k)
        for alike in by_readings.values():
            asked = [
                _AskedOf(setup, k, part)
                for part, setup, k in product(PARTS, range(len(several)), alike)
                if part in group.obstacles[k].meets
                and len(where[setup].told[group.numbers[k]])
                and (near is None or (group.obstacles[k].name, part) in near[setup])
            ]
            for some in _in_turn(asked, [len(where[setup].told[group.numbers[k]]) for setup, k, _ in asked], group):
                poses = [own_poses[setup][where[setup].told[group.numbers[k]]] for setup, k, _ in some]
                poses = [at[:1] for at in poses] if group.still else poses
                free, largest, worst = looked.measured(group, some, poses)
                end = 0
                for (setup, k, part), at in zip(some, poses, strict=True):
                    start, end = end, end + len(at)
                    told = where[setup].told[group.numbers[k]]
                    own = free.at(slice(start, end))
                    own = replace(own, corners=group.own_corners(k, own.corners))
                    lefts[setup][group.numbers[k], part] = Left(own, largest[start:end], worst[start:end], told)
    order = [(i, part) for i, obstacle in enumerate(swept.checked) for part in obstacle.meets]
    return [{key: found[key] for key in order if key in found} for found in lefts]


class _AskedOf(NamedTuple):
    """A setup, an obstacle by its number in its group, and a part of the wheel."""

    setup: int
    obstacle: int
    part: Part


def _in_turn(asked: Sequence[_AskedOf], counts: Sequence[int], group: Alike) -> Iterator[list[_AskedOf]]:
    """What is asked, each in so many poses, in pieces that are measured at once."""
    ends = np.cumsum(counts) // max(AT_ONCE // group.lines, 1)
    for piece in np.unique(ends).tolist():
        yield [asked[i] for i in np.flatnonzero(ends == piece).tolist()]


class _AsRead:
    """The poses that are looked at, and how the obstacles stand in them as read, and with each reading moved.

    there : as each of the variants was read, last as measured; those that do not move the axle share these
    """

    def __init__(self, swept: Sweep, several: Sequence[SetupSections], places: Sequence[Array]) -> None:
        self._several, self._swept, self._variants = several, swept, several[0].variants
        poses = poses_at(swept.axle, places)
        alone = [moves_alike(variant.axle, swept.axle) for variant in self._variants]
        self.there = [
            *(
                poses if same else poses_at(swept.axle, places, variant.axle)
                for variant, same in zip(self._variants, alone, strict=True)
            ),
            poses,
        ]
        self._stands = [len(alone) if same else k for k, same in enumerate([*alone, True])]
        self._share = lock_shares([own.family for own in swept.families], places)
        same = corners_alike(swept.axle) and all(np.array_equal(own, places[0]) for own in places)
        self._count = len(places[0]) if same else sum(map(len, places))  # of poses that are not the same
        self._again = [read_again(obstacle, swept.axle, several[0]) for obstacle in swept.checked]

    def readings(self, number: int) -> tuple[bool, ...]:
        """Of the readings that move an obstacle whether each is assumed."""
        return tuple(self._variants[k].assumed for k, _ in self._again[number])

    def measured(self, group: Alike, asked: Sequence[_AskedOf], poses: Sequence[Index]) -> tuple[Gaps, Array, Array]:
        """Gaps, clearances of the largest part and worst cases (q,) [mm] of what is asked of a group, each in its
        poses, one after another.
        """
        at, row = np.concatenate(poses), np.repeat(np.arange(len(asked)), list(map(len, poses)))
        once, back = np.unique(row * self._count + at % self._count, return_inverse=True)
        row, at = np.divmod(once, self._count)
        owner = np.array([own.obstacle for own in asked])[row]
        traced = group.trace(owner, group.corners_in(owner, self.there[-1], at))
        bends = {k: bend_at(group.obstacles[k], self._variants, self._share) for k in dict.fromkeys(owner.tolist())}
        bend = np.array([bends[k][pose] for k, pose in zip(owner.tolist(), at.tolist(), strict=True)])
        tolerance = np.array([obstacle.tolerance for obstacle in group.obstacles])[owner]
        is_tire = np.array([own.part == "tire" for own in asked])[row]
        grown = np.flatnonzero(is_tire)
        nominal, biggest = (
            [getattr(self._several[own.setup], kind)[own.part] for own in asked] for kind in ("nominal", "biggest")
        )
        sections = of_rows([*nominal, *biggest], np.concatenate([row, len(asked) + row[grown]]))
        both = gaps(sections, traced.at(np.concatenate([np.arange(len(row)), grown])))
        order = np.arange(len(row))
        free = both.at(order)
        order[grown] = len(row) + np.arange(len(grown))
        big, worst = both.at(order), np.empty(len(row))
        for part in dict.fromkeys(own.part for own in asked):
            mine = np.flatnonzero(is_tire == (part == "tire"))
            parts = together([self._several[asked[k].setup] for k in row[mine].tolist()])
            count = len(self._again[group.numbers[asked[0].obstacle]])
            moved = [self._moved(group, n, owner[mine], at[mine]) for n in range(count)]
            worst[mine] = worst_clearance(
                traced.at(mine), part, big.at(mine), moved, parts, bend[mine], tolerance[mine]
            )
        return free.at(back), big.clearance[back], worst[back]

    def _moved(self, group: Alike, n: int, owner: Index, at: Index) -> PartMoved:
        """The obstacles of rows as the n-th of the readings moves them that move each."""
        again = [self._again[number] for number in group.numbers]
        wanted = sorted(set(owner.tolist()))
        new = np.searchsorted(wanted, owner)
        read = [again[k][n] for k in wanted]
        others = Alike(tuple(range(len(read))), tuple(other for _, other in read), group.size)
        radius = np.array([other.radius for _, other in read])[new]
        stands = np.array([self._stands[k] for k, _ in read])[new]
        several = np.unique(stands).tolist()
        if len(several) == 1:
            corners = others.corners_in(new, self.there[several[0]], at)
        else:
            corners = np.empty((len(at), *others.shape))
            for k in several:
                mine = np.flatnonzero(stands == k)
                corners[mine] = others.corners_in(new[mine], self.there[k], at[mine])
        return PartMoved(radius, corners, self._variants[read[0][0]].assumed)


def _once(where: Sequence[Sequence[Array]]) -> tuple[list[Array], list[Index]]:
    """The places (n, k) of every family that some setup has, and which of them those of each setup are (q,)."""
    places: list[Array] = []
    back: list[list[Index]] = [[] for _ in where]
    for k in range(len(where[0])):
        first = sum(map(len, places))
        own, which = np.unique(np.concatenate([setup_places[k] for setup_places in where]), axis=0, return_inverse=True)
        places.append(own)
        for mine, part in zip(
            back, np.split(which.ravel(), np.cumsum([len(setup_places[k]) for setup_places in where])[:-1]), strict=True
        ):
            mine.append(first + part)
    return places, [np.concatenate(mine) for mine in back]
