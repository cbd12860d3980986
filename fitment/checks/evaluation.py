"""Setups evaluated side by side on one axle: the poses that count for each, and what every part has left in them.

A part is traced once for all setups, and every search takes its steps for all at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from fitment.clearance.closest_poses import Near, could_be_worse, find_closest, find_worse, poses_at
from fitment.clearance.pose_grid import Sweep
from fitment.clearance.section_distance import Gaps, gaps
from fitment.clearance.trace import Index, hub_corners, in_poses, trace_obstacle
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
from fitment.parts.obstacles import Part, fixed_to_hub
from fitment.progress import doing


class Left(NamedTuple):
    """What an obstacle leaves one part of the wheel in n poses; of one that is fixed to the hub, in one as in all.

    gaps : to the nominal part; worst_case : (n,) [mm]
    """

    gaps: Gaps
    worst_case: Array

    def at(self, chosen: Index) -> Left:
        """Some of the poses, or one of them several times."""
        return Left(self.gaps.at(chosen), self.worst_case[chosen])

    def joined(self, other: Left) -> Left:
        """These poses and others."""
        return Left(self.gaps.joined(other.gaps), np.concatenate([self.worst_case, other.worst_case]))


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
                left.gaps.clearance.min() - swept.checked[i].allowance_to(part),
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
    with doing("looking for what comes closest"):
        where = find_closest(swept, several, near)
    first = _measured(swept, where, several, near)
    starts = [
        start
        for parts, at, lefts in zip(several, where, first, strict=True)
        for (i, part), left in lefts.items()
        for start in could_be_worse(swept, i, part, parts, at, left.gaps.clearance, left.worst_case)
    ]
    more = [[places[:0] for places in own] for own in where]
    setup_of = {id(parts): k for k, parts in enumerate(several)}
    for place, at in find_worse(swept, starts):
        mine = more[setup_of[id(place.parts)]]
        mine[place.family] = np.vstack([mine[place.family], np.round(at, 6)])
    second = _measured(swept, more, several, near)
    return [
        _with(swept, Evaluation(tuple(at), lefts), beside, lefts_beside)
        for at, lefts, beside, lefts_beside in zip(where, first, more, second, strict=True)
    ]


def _with(swept: Sweep, known: Evaluation, more: Sequence[Array], found: Found) -> Evaluation:
    """What is known in some poses with what was found in more of them (n, k), of every family."""
    if not any(map(len, more)):
        return known
    places, order = [], []
    first, added = 0, sum(map(len, known.places))
    for old, new in zip(known.places, more, strict=True):
        both, chosen = np.unique(np.concatenate([old, new]), axis=0, return_index=True)
        places.append(both)
        order.append(np.where(chosen < len(old), first + chosen, added - len(old) + chosen))
        first, added = first + len(old), added + len(new)
    every = np.concatenate(order)
    whole = {
        key: left if fixed_to_hub(swept.checked[key[0]]) else left.joined(found[key]).at(every)
        for key, left in known.found.items()
    }
    return Evaluation(tuple(places), whole)


def _measured(
    swept: Sweep, where: Sequence[Sequence[Array]], several: Sequence[SetupSections], near: Sequence[Near] | None
) -> list[Found]:
    """What is found of every setup at its travels and lock fractions (n, k) of every family."""
    counts = [sum(map(len, own)) for own in where]
    lefts: list[Found] = [{} for _ in several]
    if not any(counts):
        return lefts
    places, own_poses = _once(where)
    poses = poses_at(swept.axle, places)
    there = [
        poses if moves_alike(variant.axle, swept.axle) else poses_at(swept.axle, places, variant.axle)
        for variant in several[0].variants
    ]
    share = lock_shares([own.family for own in swept.families], places)
    for i, obstacle in enumerate(swept.checked):
        whole, bend = trace_obstacle(obstacle, poses), bend_at(obstacle, several[0].variants, share)
        placed = [
            PartMoved(other, hub_corners(other, there[k]), several[0].variants[k].assumed)
            for k, other in read_again(obstacle, swept.axle, several[0])
        ]
        for part in obstacle.meets:
            mine = [k for k, n in enumerate(counts) if n and (near is None or (obstacle.name, part) in near[k])]
            if not mine:
                continue
            own = [own_poses[k][: 1 if fixed_to_hub(obstacle) else None] for k in mine]
            at = np.concatenate(own)
            parts = together([several[k] for k, indices in zip(mine, own, strict=True) for _ in indices])
            traced, moved = whole.at(at), [each._replace(corners=in_poses(each.corners, at)) for each in placed]
            free = gaps(parts.nominal[part], traced)
            known = free if part == "wheel" else None
            left = Left(free, worst_clearance(traced, part, known, moved, parts, bend[at]))
            ends = np.cumsum([0, *map(len, own)])
            for k, start, end in zip(mine, ends, ends[1:], strict=False):
                lefts[k][i, part] = left.at(np.arange(start, end))
    return lefts


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
