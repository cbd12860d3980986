"""The answers for very many setups on one axle, each as `check` gives it.

They are looked up in the keep-out of one sweep; a setup whose verdict hangs on a few hundredths of a millimetre is
checked as `check` does. Of a short list every setup is, so that its numbers are those of the check.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, NamedTuple, TypeVar

import numpy as np
from numpy.typing import NDArray

from fitment.checks.case import Ready
from fitment.checks.fit import (
    CLEARS,
    NOT_CHECKED,
    TIGHT,
    VERDICTS,
    Fit,
    clearance_verdicts,
    fit_setups,
    verdicts_on,
    with_parts,
)
from fitment.clearance.closest_poses import NearPose, lowest_near
from fitment.clearance.motion_polynomials import hub_motions
from fitment.clearance.pose_grid import Sweep, known_motion, sweep
from fitment.clearance.trace import Index
from fitment.clearance.worst_case import assumes, sections_of
from fitment.frames import Array
from fitment.motion.suspension import families, swept_travel
from fitment.parts.axle import Axle, Setup
from fitment.parts.obstacles import Part, fixed_to_hub
from fitment.progress import doing
from fitment.screening.keep_out import Closest, KeepOut, SizeAnswers, bare, keep_outs_meanwhile, look_up, near_limits
from fitment.workers import worker_pool

MORE, LESS = 0.016, 0.016  # [mm] by which a looked-up clearance may be too large, too small; chords are off by 0.015
WORSE, BETTER = 0.04, 0.045  # [mm] by which a looked-up worst case may be too large, too small
SETTLED = 0.008  # [mm] by which a worst case measured anew may be off, the chords of a trace included
NEAR = 0.1  # [mm] of a limit within which a part could decide a doubtful verdict
PARTS: tuple[Part, ...] = ("tire", "wheel")
# columns of the answers that a check gives
OF_FIT = (
    "clearance", "margin", "worst_case", "limit", "against", "by_wheel", "against_wheel", "gap", "allowance", "travel",
    "steer", "verdict",
)  # fmt: skip
Key = TypeVar("Key", bound=Hashable)
Span = tuple[float, float]
Waiting = Callable[[], KeepOut]


@dataclass(frozen=True)
class Answers:
    """Of n setups on one axle. Lengths [mm] (n,), infinite where nothing is met.

    clearance, margin, worst_case : the smallest of each
    limit : index in `parts` of the deepest overlap, else of what has the smallest margin; -1 = nothing (n,)
    against : the same of the smallest worst case (n,)
    by_wheel, against_wheel : whether the wheel meets it, not the tire (n,)
    gap, allowance, travel, steer : of what limits [mm], [mm], [mm], [deg]
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
    gap: Array
    allowance: Array
    travel: Array
    steer: Array
    offsets: Array
    verdict: Index
    parts: tuple[str, ...]
    not_checked: tuple[str, ...]


def checked(ready: Ready, setups: Sequence[Setup], processes: int, known: Mapping[Span, Waiting]) -> Answers:
    """Every setup with the numbers of its own check, and its offsets looked up. Raises MotionError, CodeError.

    known : spans of travel whose keep-outs are being made
    """
    names = tuple(obstacle.name for obstacle in ready.axle.obstacles)
    with doing("checking candidates"):
        rows = _fitted((ready, names), setups)
    columns = {name: np.array(column) for name, column in zip(OF_FIT, zip(*rows, strict=True), strict=True)}
    offsets = np.full((len(setups), 2), np.nan)
    for kept, mine in _keep_outs(ready, setups, processes, known):
        offsets[mine] = look_up(kept, [setups[i] for i in mine], processes).offsets
    offsets[columns["verdict"] == NOT_CHECKED] = np.nan
    return Answers(**columns, offsets=offsets, parts=names, not_checked=_not_checked(ready))


def _of_fit(fit: Fit, names: Sequence[str]) -> tuple[float | int | bool, ...]:
    """What a check found, in the order of OF_FIT."""
    worst = fit.worst
    if worst is None:
        free, nowhere = float("inf"), float("nan")
        return free, free, free, -1, -1, False, False, free, 0.0, nowhere, nowhere, NOT_CHECKED
    against = min(fit.clearances, key=lambda c: c.worst_case)
    return (
        min(c.clearance for c in fit.clearances), min(c.margin for c in fit.clearances), against.worst_case,
        names.index(worst.obstacle), names.index(against.obstacle), worst.part == "wheel", against.part == "wheel",
        worst.clearance, worst.allowance, worst.travel, worst.steer, VERDICTS.index(fit.clearance_verdict),
    )  # fmt: skip


@lru_cache(maxsize=32)  # a list may name a height of its own in every row
def _swept(axle: Axle, ride: float) -> Sweep:
    return sweep(axle, ride)


def _not_checked(ready: Ready) -> tuple[str, ...]:
    return tuple(name for name, _ in known_motion(ready.axle)[1])


def _alike(keys: Iterable[Key]) -> dict[Key, list[int]]:
    """Of every key the indexes at which it stands."""
    rows: dict[Key, list[int]] = {}
    for i, key in enumerate(keys):
        rows.setdefault(key, []).append(i)
    return rows


def _keep_outs(
    ready: Ready, setups: Sequence[Setup], processes: int, known: Mapping[Span, Waiting]
) -> Iterator[tuple[KeepOut, list[int]]]:
    """The keep-outs of the setups' travels, and whose; one sweep serves all ride heights within its travel."""
    for span, mine in _alike(swept_travel(ready.axle, setup.ride) for setup in setups).items():
        if span in known:
            yield known[span](), mine
        else:
            with keep_outs_meanwhile([ready], [span], processes) as waiting:
                kept = waiting[0]()
            yield kept, mine


# ---------------------------------------------------------------- looked up


def looked_up(ready: Ready, setups: Sequence[Setup], processes: int, known: Mapping[Span, Waiting]) -> Answers:
    """Every setup looked up in the keep-out of its travel. Raises MotionError, CodeError.

    known : spans of travel whose keep-outs are being made
    """
    answers, order = [], []
    for kept, mine in _keep_outs(ready, setups, processes, known):
        answers.append(_in_keep_out(ready, kept, [setups[i] for i in mine], processes))
        order += mine
    return _joined(answers, np.argsort(order))


def _joined(found: Sequence[Answers], order: Index) -> Answers:
    """Answers of several spans in the order of the list; all are of one axle."""
    first = found[0]
    if len(found) == 1:
        return first
    columns: dict[str, Any] = {
        name: np.concatenate([getattr(answer, name) for answer in found])[order]
        for name, value in vars(first).items()
        if isinstance(value, np.ndarray)
    }
    return replace(first, **columns)


def _in_keep_out(ready: Ready, kept: KeepOut, setups: Sequence[Setup], processes: int) -> Answers:
    size_answers = look_up(kept, setups, processes)
    answers = _read_off(ready, kept, setups, size_answers)
    open_ = np.flatnonzero(_doubtful(size_answers)).tolist()
    jobs = [[open_[k] for k in same] for same in _alike(_what_counts(setups[i]) for i in open_).values()]
    for axle in (ready.axle, *(variant.axle for variant in ready.variants)) if jobs else ():
        hub_motions(axle, ready.axle, kept.travel)  # known before there are more processes
    doubtful = [(setups[same[0]], _met(size_answers.closest, same[0])) for same in jobs]
    for same, verdict in zip(jobs, _settled(ready, kept, doubtful, processes), strict=True):
        answers.verdict[same] = verdict
    return _with_wide_bands(ready, answers, setups, processes) if assumes(ready.variants) else answers


def _with_wide_bands(ready: Ready, answers: Answers, setups: Sequence[Setup], processes: int) -> Answers:
    """The answers with the numbers of the check for every setup that does not overlap as measured.

    A boundary that is swept as measured does not tell where wide bands put a part: what lies behind it there may be
    what is met.
    """
    open_ = np.flatnonzero(answers.clearance >= -LESS).tolist()
    jobs = [[open_[k] for k in same] for same in _alike(_what_counts(setups[i]) for i in open_).values()]
    with worker_pool((ready, answers.parts), min(processes, len(jobs))) as run:
        rows = run.dealt(_fitted, [setups[same[0]] for same in jobs], "checking candidates")
    for same, row in zip(jobs, rows, strict=True):
        for name, value in zip(OF_FIT, row, strict=True):
            getattr(answers, name)[same] = value
    return answers


def _fitted(state: tuple[Ready, tuple[str, ...]], setups: Sequence[Setup]) -> list[tuple[float | int | bool, ...]]:
    """What a check finds of each setup."""
    ready, names = state
    rows: list[tuple[float | int | bool, ...]] = [()] * len(setups)
    for ride, mine in _alike(setup.ride for setup in setups).items():
        fits = fit_setups([setups[i] for i in mine], _swept(ready.axle, ride), ready.variants)
        for i, fit in zip(mine, fits, strict=True):
            rows[i] = _of_fit(fit, names)
    return rows


def _settled(ready: Ready, kept: KeepOut, doubtful: Sequence[_Doubt], processes: int) -> list[int]:
    """The verdict of `check` on every doubtful setup.

    Where only the worst case is in doubt it is measured anew at its closest places, as a check does. What is then
    within SETTLED of zero, or has other parts near a limit, and the rest get the check's own verdict.
    """
    with worker_pool((ready, kept), min(processes, len(doubtful))) as run:
        verdicts = run.dealt(_measured_anew, doubtful, "measuring close calls")
        open_ = [k for k, verdict in enumerate(verdicts) if verdict != TIGHT]
        open_.sort(key=lambda k: verdicts[k] is not None)  # those are dear
        jobs = [(doubtful[k], verdicts[k]) for k in open_]
        for k, verdict in zip(open_, run.dealt(_checked, jobs, "checking close calls"), strict=True):
            verdicts[k] = verdict
    return [TIGHT if verdict is None else verdict for verdict in verdicts]


def _doubtful(found: SizeAnswers) -> NDArray[np.bool_]:
    """Whether a verdict could change by what the quick look-up may be off (n,)."""
    met = found.closest
    touches, free = met.clearance < -LESS, met.clearance >= MORE
    short = free & ((met.margin < -LESS) | (met.worst_at_nearest < -BETTER))
    wide = (met.margin >= MORE) & (met.worst_case >= WORSE)
    return np.asarray(np.isfinite(met.margin) & ~touches & ~(short | (free & wide)))


def _what_counts(setup: Setup) -> tuple[object, ...]:
    """All of a setup on which its clearances depend."""
    wheel = setup.wheel
    return (
        bare(wheel), wheel.offset, wheel.offset_tolerance, wheel.bolt_circle, wheel.centre_bore, setup.tire,
        setup.spacer, setup.ride,
    )  # fmt: skip


class _LookedUpAt(NamedTuple):
    """Where something is looked up as closest: which obstacle, by what of the wheel, in which pose."""

    obstacle: int
    by_wheel: bool
    family: int
    place: tuple[float, ...]


class _Met(NamedTuple):
    """Where one setup has its smallest margin and its smallest worst case; its smallest clearance and margin [mm]."""

    limit: _LookedUpAt
    against: _LookedUpAt
    clearance: float
    margin: float


def _met(met: Closest, row: int) -> _Met:
    """One row of many."""
    limit = met.obstacle, met.wheel, met.family, met.place
    against = met.against, met.against_wheel, met.against_family, met.against_place
    at = [
        _LookedUpAt(int(obstacle[row]), bool(wheel[row]), int(family[row]), tuple(place[row].tolist()))
        for obstacle, wheel, family, place in (limit, against)
    ]
    return _Met(at[0], at[1], float(met.clearance[row]), float(met.margin[row]))


_Doubt = tuple[Setup, _Met]


def _measured_anew(state: tuple[Ready, KeepOut], doubtful: Sequence[_Doubt]) -> list[int | None]:
    """Verdicts by the worst case near the places where it was looked up; None where that does not decide.

    It does not within SETTLED of zero, nor where a clearance or a margin is in doubt.
    """
    ready, _ = state
    heights: dict[float, list[int]] = {}
    for k, (setup, met) in enumerate(doubtful):
        if min(met.clearance, met.margin) >= MORE:
            heights.setdefault(setup.ride, []).append(k)
    verdicts: list[int | None] = [None] * len(doubtful)
    for ride, rows in heights.items():
        places = [_places(ready, *doubtful[k]) for k in rows]
        values = iter(lowest_near(_swept(ready.axle, ride), [place for own in places for place in own]))
        for k, own in zip(rows, places, strict=True):
            worst = min(next(values)[0] for _ in own)
            verdicts[k] = None if abs(worst) < SETTLED else TIGHT if worst < 0 else CLEARS
    return verdicts


def _places(ready: Ready, setup: Setup, met: _Met) -> list[NearPose]:
    """Where a setup may have its smallest worst case: that of what is left with least, and that of what limits it."""
    parts, ways = sections_of(setup, ready.variants), 1 + len(families(ready.axle)[0].kinds)
    return [
        NearPose(parts, at.obstacle, PARTS[at.by_wheel], at.family, at.place[:ways], True)
        for at in dict.fromkeys((met.against, met.limit))
    ]


def _checked(state: tuple[Ready, KeepOut], jobs: Sequence[tuple[_Doubt, int | None]]) -> list[int]:
    """The verdicts of `check` on setups, of the parts alone that are near a limit: the others are clear.

    jobs : the setup and where it is closest, and the verdict by its worst case, None where that does not decide
    Those with the same height are checked side by side.
    """
    ready, kept = state
    names = [obstacle.name for obstacle in known_motion(ready.axle)[0]]
    verdicts, heights = [CLEARS] * len(jobs), dict[float, list[int]]()
    every_near = near_limits(kept, [setup for (setup, _), _ in jobs], NEAR)
    for k, (((setup, met), verdict), near) in enumerate(zip(jobs, every_near, strict=True)):
        if verdict is None or not near <= {(names[at.obstacle], PARTS[at.by_wheel]) for at in (met.limit, met.against)}:
            heights.setdefault(setup.ride, []).append(k)
    for ride, rows in heights.items():
        near = frozenset[tuple[str, Part]]().union(*(every_near[k] for k in rows))
        variants = [replace(variant, axle=with_parts(variant.axle, near)) for variant in ready.variants]
        swept = _swept(with_parts(ready.axle, near), ride)
        setups = [jobs[k][0][0] for k in rows]
        for k, verdict in zip(
            rows, clearance_verdicts(swept, setups, variants, [every_near[k] for k in rows]), strict=True
        ):
            verdicts[k] = verdict
    return verdicts


def _read_off(ready: Ready, kept: KeepOut, setups: Sequence[Setup], found: SizeAnswers) -> Answers:
    met = found.closest
    rests = np.array([*map(fixed_to_hub, kept.obstacles), True])[met.obstacle]
    at_rest = np.zeros_like(met.place)
    at_rest[:, 0] = [setup.ride for setup in setups]
    place = np.where(rests[:, None], at_rest, met.place)
    travel, steer = place[:, 0], _steer(kept.axle, met.family, place)
    nothing = ~np.isfinite(met.margin)
    verdict = verdicts_on(met.clearance, met.margin, met.worst_case)
    verdict[nothing & bool(kept.obstacles)] = CLEARS  # all parts are beyond the reach of any wheel
    return Answers(
        clearance=met.clearance, margin=met.margin, worst_case=np.minimum(met.worst_case, met.clearance),
        limit=np.where(nothing, -1, met.obstacle), against=np.where(nothing, -1, met.against),
        by_wheel=met.wheel, against_wheel=met.against_wheel, allowance=met.allowance,
        gap=met.gap,
        travel=np.where(nothing, np.nan, travel), steer=np.where(nothing, np.nan, steer), offsets=found.offsets,
        verdict=verdict,
        parts=tuple(obstacle.name for obstacle in kept.obstacles), not_checked=_not_checked(ready),
    )  # fmt: skip


def _steer(axle: Axle, family: Index, places: Array) -> Array:
    """Steer angle [deg] (n,) of places in travel and lock fractions (n, WAYS)."""
    angle = np.zeros(len(places))
    for i, kind in enumerate(families(axle)):
        mine = np.flatnonzero(family == i)
        if len(mine):
            there, number = places[mine, : 1 + len(kind.kinds)], np.zeros(len(mine), dtype=np.intp)
            for column in there.T:  # quicker than rows held against rows
                values, which = np.unique(column, return_inverse=True)
                number = number * len(values) + which
            _, first, back = np.unique(number, return_index=True, return_inverse=True)
            angle[mine] = kind.poses(*there[first].T).turned[back]
    return angle
