"""The answers for very many setups on one axle, each as `check` gives it.

They are looked up in the keep-out of one sweep (`catalogue`); a setup whose verdict hangs on a few hundredths of a
millimetre is checked as `check` does. A few setups are all checked so: that is quicker than the sweep.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from fitment.cases import Ready
from fitment.catalogue import Found, Surroundings, bare, look_up, near_limits, surroundings
from fitment.fit import VERDICTS, Fit, fit
from fitment.frames import Array
from fitment.keepout import Ask, KeepOut, KeptOut, kept_out, still
from fitment.lookup import Closest
from fitment.obstacles import Part
from fitment.offsets import offset_range
from fitment.places import Place, lowest_near
from fitment.smooth import motions
from fitment.suspension import families
from fitment.sweeps import Sweep, known_motion, sweep
from fitment.trace import Index
from fitment.vehicle import Axle, Setup
from fitment.workers import workers
from fitment.worst import Parts, parts_of

MORE, LESS = 0.012, 0.005  # [mm] by which a looked-up clearance may be too large, too small
WORSE, BETTER = 0.03, 0.04  # [mm] by which a looked-up worst case may be too large, too small
SETTLED = 0.005  # [mm] by which a place measured anew may be off
CLEARS, TIGHT, NOT_CHECKED, TOUCHES = (VERDICTS.index(v) for v in ("clears", "tight", "not_checked", "touches"))
NEAR = 0.1  # [mm] of a limit within which a part could decide a doubtful verdict
PARTS: tuple[Part, ...] = ("tire", "wheel")
KeptOuts = Callable[[], Sequence[KeptOut]]


@dataclass(frozen=True)
class Answers:
    """Of n setups on one axle. Lengths [mm] (n,), infinite where nothing is met.

    clearance, margin, worst_case : the smallest of each
    limit, against : index in `parts` of what has the smallest margin, the smallest worst case; -1 = nothing (n,)
    by_wheel, against_wheel : whether the wheel meets it, not the tire (n,)
    allowance, travel, steer : of the smallest margin [mm], [mm], [deg]
    offsets : that keep every allowance (n, 2) [mm], nan where none do
    verdict : index in VERDICTS, by the rules of `fit.Fit.verdict` without the bolt-on checks (n,)
    not_checked : parts whose motion is not known
    """

    clearance: Array
    margin: Array
    worst_case: Array
    limit: Index
    against: Index
    by_wheel: NDArray[np.bool_]
    against_wheel: NDArray[np.bool_]
    allowance: Array
    travel: Array
    steer: Array
    offsets: Array
    verdict: Index
    parts: tuple[str, ...]
    not_checked: tuple[str, ...]


def one_by_one(ready: Ready, setups: Sequence[Setup]) -> Answers:
    """Every setup checked as `check` does. Raises MotionError, CodeError."""
    names = tuple(each.name for each in ready.axle.obstacles)
    found = [fit(setup, _swept(ready.axle, setup.ride), ready.variants) for setup in setups]
    rows = [_of_fit(each, names) for each in found]
    free, margin, worst, limit, against, by_wheel, against_wheel, allowance, travel, steer, verdict = (
        np.array(column) for column in zip(*rows, strict=True)
    )
    offsets = [
        offset_range(each, _swept(ready.axle, setup.ride)) if each.clearances else None
        for each, setup in zip(found, setups, strict=True)
    ]
    return Answers(
        clearance=free, margin=margin, worst_case=worst, limit=limit, against=against, by_wheel=by_wheel,
        against_wheel=against_wheel, allowance=allowance, travel=travel, steer=steer,
        offsets=np.array([(np.nan, np.nan) if pair is None else pair for pair in offsets]), verdict=verdict,
        parts=names, not_checked=_not_checked(ready),
    )  # fmt: skip


def _of_fit(found: Fit, names: Sequence[str]) -> tuple[float | int | bool, ...]:
    """What a check found, in the order of the answers' columns, and the verdict of its clearances."""
    worst = found.worst
    if worst is None:
        free, nowhere = float("inf"), float("nan")
        return free, free, free, -1, -1, False, False, 0.0, nowhere, nowhere, NOT_CHECKED
    against = min(found.clearances, key=lambda c: c.worst_case)
    return (
        min(c.clearance for c in found.clearances), worst.margin, against.worst_case, names.index(worst.obstacle),
        names.index(against.obstacle), worst.part == "wheel", against.part == "wheel", worst.allowance, worst.travel,
        worst.steer, VERDICTS.index(replace(found, bolt_on=()).verdict),
    )  # fmt: skip


@lru_cache(maxsize=32)  # a list may name a height of its own in every row
def _swept(axle: Axle, ride: float) -> Sweep:
    return sweep(axle, ride)


def _not_checked(ready: Ready) -> tuple[str, ...]:
    return tuple(name for name, _ in known_motion(ready.axle)[1])


# ---------------------------------------------------------------- looked up


def span_of(axle: Axle, ride: float) -> tuple[float, float]:
    """The travel over which a setup at a ride height is swept [mm]."""
    return min(axle.droop, ride), max(axle.bump, ride)


def looked_up(
    ready: Ready, setups: Sequence[Setup], processes: int, known: tuple[tuple[float, float], KeptOuts] | None = None
) -> Answers:
    """Every setup looked up in the keep-out of its travel; one sweep serves all ride heights within the travel.

    known : a span of travel whose keep-out is being made, and what waits for its parts
    Raises MotionError, CodeError.
    """
    spans: dict[tuple[float, float], list[int]] = {}
    for i, setup in enumerate(setups):
        spans.setdefault(span_of(ready.axle, setup.ride), []).append(i)
    found, order = [], []
    for span, rows in spans.items():
        parts = known[1]() if known and known[0] == span else _kept_outs(ready, span, processes)
        kept = KeepOut(Ask(ready.axle, span, ready.variants), tuple(parts))
        found.append(_in_keep_out(ready, kept, [setups[i] for i in rows], processes))
        order += rows
    return _joined(found, np.argsort(order))


def _kept_outs(ready: Ready, span: tuple[float, float], processes: int) -> list[KeptOut]:
    obstacles = known_motion(ready.axle)[0]
    with workers(Ask(ready.axle, span, ready.variants), min(processes, len(obstacles))) as run:
        return run(kept_out, obstacles)


def _joined(found: Sequence[Answers], order: Index) -> Answers:
    """Answers of several spans in the order of the list; all are of one axle."""
    first = found[0]
    if len(found) == 1:
        return first
    columns: dict[str, Any] = {
        name: np.concatenate([getattr(each, name) for each in found])[order]
        for name, value in vars(first).items()
        if isinstance(value, np.ndarray)
    }
    return replace(first, **columns)


def _in_keep_out(ready: Ready, kept: KeepOut, setups: Sequence[Setup], processes: int) -> Answers:
    around = surroundings(kept)
    with workers((around,), processes) as run:
        found = look_up(0, around, setups, run)
    answers = _read_off(ready, kept, setups, found)
    doubtful = np.flatnonzero(_doubtful(kept, found))
    jobs: dict[tuple[object, ...], list[int]] = {}
    for i in doubtful.tolist():
        jobs.setdefault(_what_counts(setups[i]), []).append(i)
    rows = [same[0] for same in jobs.values()]
    for axle in (ready.axle, *(each.axle for each in ready.variants)):
        motions(axle, ready.axle, kept.ask.travel)  # known before there are more processes
    with workers((ready, around), processes if len(jobs) > 1 else 1) as run:
        checked = run(_verdict_checked, [(setups[i], _met(found.closest, i)) for i in rows])
    for same, verdict in zip(jobs.values(), checked, strict=True):
        answers.verdict[same] = verdict
    return answers


def _doubtful(kept: KeepOut, found: Found) -> NDArray[np.bool_]:
    """Whether a verdict could change by what the quick look-up may be off (n,).

    A part that stands still, and a place at an end of travel and of lock, are met exactly.
    """
    met = found.closest
    rests = np.array([still(each.obstacle) for each in kept.parts] + [True])
    low, high = kept.ask.travel
    corner = np.isin(met.travel, (low, high)) & np.isin(met.share, (-1.0, 1.0))
    more, less = (np.where(rests[met.obstacle] | corner, 1e-6, by) for by in (MORE, LESS))
    worse, better = (np.where(rests[met.against], 1e-6, by) for by in (WORSE, BETTER))
    met_at_all = np.isfinite(met.margin)
    touches, free = met.clearance < -less, met.clearance >= more
    short = free & ((met.margin < -less) | (met.worst_at_nearest < -better))
    wide = (met.margin >= more) & (met.worst_case >= worse)
    return np.asarray(met_at_all & ~touches & ~(short | (free & wide)))


def _what_counts(setup: Setup) -> tuple[object, ...]:
    """All of a setup on which its clearances depend."""
    wheel = setup.wheel
    return (
        bare(wheel), wheel.offset, wheel.offset_tolerance, wheel.bolt_circle, wheel.centre_bore, setup.tire,
        setup.spacer, setup.ride,
    )  # fmt: skip


class _At(NamedTuple):
    """Where something is looked up as closest: of which part and which of the wheel, in which pose, its value [mm]."""

    obstacle: int
    by_wheel: bool
    family: int
    travel: float
    share: float
    value: float


class _Met(NamedTuple):
    """Where one setup has its smallest margin, by clearance, and its smallest worst case; its smallest clearance."""

    limit: _At
    against: _At
    clearance: float


def _met(met: Closest, row: int) -> _Met:
    """One row of many."""
    limit = met.obstacle, met.wheel, met.family, met.travel, met.share, met.margin + met.allowance
    against = (
        met.against, met.against_wheel, met.against_family, met.against_travel, met.against_share, met.worst_case,
    )  # fmt: skip
    at = [_At(*(column[row].item() for column in columns)) for columns in (limit, against)]
    return _Met(at[0], at[1], float(met.clearance[row]))


def _verdict_checked(state: tuple[Ready, Surroundings], job: tuple[Setup, _Met]) -> int:
    """The verdict of `check` on a setup, of the parts alone that are near a limit: the others are clear.

    What limits it is measured anew at its closest places as a check does; what is then still within SETTLED of a
    limit, or has other parts near one, is checked in full.
    """
    (ready, around), (setup, met) = state, job
    names = [obstacle.name for obstacle in known_motion(ready.axle)[0]]
    limiting = frozenset((names[at.obstacle], PARTS[at.by_wheel]) for at in (met.limit, met.against))
    verdict = _measured_anew(*_narrowed(ready, setup, limiting), names, met)
    if verdict == TOUCHES or (verdict == TIGHT and met.clearance >= MORE):
        return verdict
    near = near_limits(around, setup, NEAR)
    if verdict is not None and near <= limiting:
        return verdict
    swept, parts = _narrowed(ready, setup, near)
    return int(_of_fit(fit(setup, swept, parts.variants), [o.name for o in swept.axle.obstacles])[-1])


def _narrowed(ready: Ready, setup: Setup, near: frozenset[tuple[str, Part]]) -> tuple[Sweep, Parts]:
    """The sweep and the sections of a setup on the axle with some of its parts."""
    variants = [replace(each, axle=_with_parts(each.axle, near)) for each in ready.variants]
    return _swept(_with_parts(ready.axle, near), setup.ride), parts_of(setup, variants)


def _measured_anew(swept: Sweep, parts: Parts, names: Sequence[str], met: _Met) -> int | None:
    """The verdict on what limits a setup, from the places where that was looked up; None within SETTLED of a limit.

    names : of all obstacles, by which those of the sweep are found
    """
    here = [obstacle.name for obstacle in swept.checked]
    wanted = [(met.limit, False), (met.against, True)]
    if met.limit[:2] == met.against[:2]:
        wanted.append((met.limit, True))  # the worst case may have two places
    places = [
        Place(here.index(names[at.obstacle]), PARTS[at.by_wheel], at.family, (at.travel, at.share), worst, at.value)
        for at, worst in wanted
    ]
    (free, _, _), *others = lowest_near(swept, parts, places)
    worst_case = min(value for value, _, _ in others)
    margin = free - swept.checked[places[0].obstacle].allowance_to(places[0].part)
    if min(abs(free), abs(margin), abs(worst_case)) < SETTLED:
        return None
    return TOUCHES if free < 0 else TIGHT if margin < 0 or worst_case < 0 else CLEARS


def _with_parts(axle: Axle, near: frozenset[tuple[str, Part]]) -> Axle:
    """The axle with the obstacles that are near, each met only by what is near it."""
    met = {each.name: tuple(part for part in each.meets if (each.name, part) in near) for each in axle.obstacles}
    return replace(
        axle, obstacles=tuple(replace(each, meets=met[each.name]) for each in axle.obstacles if met[each.name])
    )


def _read_off(ready: Ready, kept: KeepOut, setups: Sequence[Setup], found: Found) -> Answers:
    met = found.closest
    rests = np.array([still(each.obstacle) for each in kept.parts] + [True])[met.obstacle]
    travel = np.where(rests, [setup.ride for setup in setups], met.travel)
    steer = _steer(kept.ask.axle, met.family, travel, np.where(rests, 0.0, met.share))
    nothing = ~np.isfinite(met.margin)
    short = (met.margin < 0) | (met.worst_case < 0)
    verdict = np.select([nothing, met.clearance < 0, short], [NOT_CHECKED, TOUCHES, TIGHT], CLEARS)
    return Answers(
        clearance=met.clearance, margin=met.margin, worst_case=met.worst_case,
        limit=np.where(nothing, -1, met.obstacle), against=np.where(nothing, -1, met.against),
        by_wheel=met.wheel, against_wheel=met.against_wheel, allowance=met.allowance,
        travel=np.where(nothing, np.nan, travel), steer=np.where(nothing, np.nan, steer), offsets=found.offsets,
        verdict=verdict, parts=tuple(each.obstacle.name for each in kept.parts), not_checked=_not_checked(ready),
    )  # fmt: skip


def _steer(axle: Axle, family: Index, travel: Array, share: Array) -> Array:
    """Steer angle [deg] (n,) of places in travel and share."""
    places, back = np.unique(np.column_stack([family, travel, share]), axis=0, return_inverse=True)
    angle = np.zeros(len(places))
    for i, kind in enumerate(families(axle)):
        mine = places[:, 0] == i
        if mine.any():
            angle[mine] = kind.poses(places[mine, 1], places[mine, 2]).steer
    return angle[back.ravel()]
