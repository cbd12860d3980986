"""The verdict of a check on many setups side by side: the same places and the same numbers, of which the least is kept.

A part is traced once for all of them, and every search takes its steps for all at once.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fitment.checks.fit import VERDICTS
from fitment.clearance.closest_poses import Near, could_be_worse, find_closest, find_worse, poses_at
from fitment.clearance.pose_grid import Sweep, Variant
from fitment.clearance.section_distance import clearances
from fitment.clearance.trace import Index, hub_corners, trace_obstacle
from fitment.clearance.worst_case import SetupSections, read_again, sections_of, together, worst_clearance
from fitment.frames import Array
from fitment.parts.axle import Setup
from fitment.parts.obstacles import Part, fixed_to_hub

CLEARS, TIGHT, TOUCHES = (VERDICTS.index(verdict) for verdict in ("clears", "tight", "touches"))
Found = dict[tuple[int, Part], tuple[Array, Array]]
"""Of every obstacle, by its index, and part the clearances and worst cases [mm] in some poses."""


def verdicts_of(
    swept: Sweep, setups: Sequence[Setup], variants: Sequence[Variant], near: Sequence[Near] | None = None
) -> list[int]:
    """The verdict on the clearances of each setup, as `fit.fit_setup` gives it, as an index in VERDICTS.

    variants : the axle with one reading moved by its tolerance, each
    near : of every setup the parts that alone are looked at; None for all
    At least one obstacle is met. Raises MotionError, CodeError.
    """
    several = [sections_of(setup, variants) for setup in setups]
    where = find_closest(swept, several, near)
    first = _measured(swept, where, several, near)
    starts = [
        start
        for parts, at, found in zip(several, where, first, strict=True)
        for (i, part), own in found.items()
        for start in could_be_worse(swept, i, part, parts, at, *own)
    ]
    more = [[each[:0] for each in own] for own in where]
    setup_of = {id(parts): k for k, parts in enumerate(several)}
    for place, at in find_worse(swept, starts):
        mine = more[setup_of[id(place.parts)]]
        mine[place.family] = np.vstack([mine[place.family], at])
    return [_verdict(swept, both) for both in zip(first, _measured(swept, more, several, near), strict=True)]


def _verdict(swept: Sweep, found: Sequence[Found]) -> int:
    """By the rules of `fit.Fit.verdict`."""
    least = [
        (free.min(), free.min() - swept.checked[i].allowance_to(part), worst.min())
        for each in found
        for (i, part), (free, worst) in each.items()
        if len(free)
    ]
    clearance, margin, worst_case = np.min(least, axis=0)
    return TOUCHES if clearance < 0 else TIGHT if margin < 0 or worst_case < 0 else CLEARS


def _measured(
    swept: Sweep, where: Sequence[Sequence[Array]], several: Sequence[SetupSections], near: Sequence[Near] | None
) -> list[Found]:
    """What is found of every setup at its travels and lock fractions (n, k) of every family."""
    counts = [sum(map(len, own)) for own in where]
    if not any(counts):
        return [{} for _ in several]
    places, back = _once(where)
    poses = poses_at(swept.axle, places)
    there = [poses_at(swept.axle, places, variant.axle) for variant in several[0].variants]
    own_poses = np.split(back, np.cumsum(counts)[:-1])
    found: list[Found] = [{} for _ in several]
    for i, obstacle in enumerate(swept.checked):
        whole = trace_obstacle(obstacle, poses)
        read = read_again(obstacle, several[0])
        placed = [(other, hub_corners(other, each)) for other, each in zip(read, there, strict=True)]
        for part in obstacle.meets:
            mine = [k for k, n in enumerate(counts) if n and (near is None or (obstacle.name, part) in near[k])]
            if not mine:
                continue
            own = [own_poses[k][: 1 if fixed_to_hub(obstacle) else None] for k in mine]  # in one pose as in all
            at, parts = (
                np.concatenate(own),
                together([several[k] for k, each in zip(mine, own, strict=True) for _ in each]),
            )
            traced, moved = whole.at(at), [(other, hub[at]) for other, hub in placed]
            free, worst = clearances(parts.nominal[part], traced), worst_clearance(traced, part, None, moved, parts)
            ends = np.cumsum([len(each) for each in own])[:-1]
            for k, *values in zip(mine, np.split(free, ends), np.split(worst, ends), strict=True):
                found[k][i, part] = values[0], values[1]
    return found


def _once(where: Sequence[Sequence[Array]]) -> tuple[list[Array], Index]:
    """The places (n, k) of every family that some setup has, and which of them each place of each setup is (q,)."""
    families = range(len(where[0]))
    places = [np.unique(np.concatenate([own[k] for own in where]), axis=0) for k in families]
    first = np.cumsum([0, *map(len, places)])
    back = [
        first[k] + int(np.flatnonzero(np.all(places[k] == at, axis=1))[0])
        for own in where
        for k in families
        for at in own[k]
    ]
    return places, np.array(back, dtype=np.intp)
