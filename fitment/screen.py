"""A list of candidates, each checked as `check` would, ranked; every row comes back.

What needs no geometry is settled first: rim diameter, bolt circle, bore. The rest is looked up in the keep-out of
one sweep (`catalogue`); a row whose verdict hangs on a few hundredths of a millimetre is checked as `check` does.
A short list is checked row by row: that is quicker than the sweep.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from fitment import profile as profiles
from fitment.bolt_on import BoltOn, Known, bolt_on_checks
from fitment.candidates import REQUIRED, Candidate
from fitment.cases import Ready, across_axles
from fitment.catalogue import Found, Surroundings, bare, look_up, met_at, surroundings
from fitment.errors import FitmentError
from fitment.fit import VERDICTS, Fit, Sweep, Verdict, fit, known_motion, sweep
from fitment.frames import Array
from fitment.keepout import Ask, KeepOut, kept_out, still
from fitment.offsets import offset_range
from fitment.sections import tire_section
from fitment.suspension import families
from fitment.tire import Tire, parse_tire
from fitment.trace import Index
from fitment.vehicle import Axle, Setup
from fitment.wheel import Wheel, parse_wheel
from fitment.workers import workers

COLUMNS = (
    "verdict", "rank", "clearance_mm", "worst_case_mm", "limited_by", "travel_mm", "steer_deg",
    "offset_min_mm", "offset_max_mm", "reason",
)  # fmt: skip
ANY_WHEEL, ANY_TIRE = "17x8 ET0", "225/45R17"  # stand in for those of the row
MORE, LESS = 0.06, 0.01  # [mm] by which a looked-up value may be too large, too small
FEW = 6  # rows of one axle that are checked one by one
FIRST = ("bolt circle", "centre bore")  # what settles a row without geometry, beside the rim diameter


@dataclass(frozen=True)
class Row:
    """A candidate with its answer. Lengths [mm], None where nothing was computed.

    verdict : one of check's, or 'unreadable'
    rank : 1 = best; None for unreadable rows
    """

    candidate: Candidate
    verdict: str
    rank: int | None = None
    clearance: float | None = None
    worst_case: float | None = None
    limited_by: str | None = None
    travel: float | None = None
    steer: float | None = None
    offset_min: float | None = None
    offset_max: float | None = None
    reason: str = ""
    margin: float = field(default=-math.inf, compare=False)

    def answer(self) -> dict[str, object]:
        """The columns this program adds, by name."""
        values = (
            self.verdict, self.rank, self.clearance, self.worst_case, self.limited_by, self.travel, self.steer,
            self.offset_min, self.offset_max, self.reason,
        )  # fmt: skip
        return dict(zip(COLUMNS, values, strict=True))


@dataclass(frozen=True)
class _Answer:
    """One setup on one axle. Lengths [mm], infinite where nothing is met."""

    bolt_on: tuple[BoltOn, ...] = ()
    not_checked: tuple[str, ...] = ()
    clearance: float = math.inf
    margin: float = math.inf
    worst_case: float = math.inf
    worst_at_nearest: float = math.inf
    limited_by: str | None = None
    part: str = ""
    allowance: float = 0.0
    against: str = ""
    travel: float | None = None
    steer: float | None = None
    offsets: tuple[float, float] | None = None
    checked: Verdict | None = None

    @property
    def verdict(self) -> Verdict:
        """By the rules of `fit.Fit.verdict`; `checked` is what `check` itself says of the clearances."""
        if any(check.status == "fail" for check in self.bolt_on):
            return "does_not_bolt_on"
        if self.checked is not None:
            return self.checked
        if self.limited_by is None:
            return "not_checked"
        if self.clearance < 0:
            return "touches"
        return "tight" if self.margin < 0 or self.worst_case < 0 else "clears"


def screen(axles: Sequence[Ready], candidates: Iterable[Candidate], processes: int = 1) -> list[Row]:
    """Every candidate's answer, in the list's order; a row that cannot be read says why and where.

    processes : among which the work on a long list is spread
    """
    rows: list[Row | None] = []
    open_rows: list[tuple[int, tuple[Setup, ...], tuple[tuple[BoltOn, ...], ...]]] = []
    listed: list[Candidate] = []
    reader = _Reader(axles)
    for candidate in candidates:
        listed.append(candidate)
        read = reader.read(candidate)
        if isinstance(read, Row):
            rows.append(read)
            continue
        rows.append(None)
        open_rows.append((len(rows) - 1, *read))
    if open_rows:
        answers = [
            _axle_answers(ready, [s[i] for _, s, _ in open_rows], [b[i] for _, _, b in open_rows], processes)
            for i, ready in enumerate(axles)
        ]
        for (at, _, _), each in zip(open_rows, zip(*answers, strict=True), strict=True):
            rows[at] = _row(listed[at], [each.axle.name for each in axles], each)
    return [row for row in rows if row is not None]


class _Reader:
    """Reads candidates against the axles of a build; what many rows share is read once."""

    def __init__(self, axles: Sequence[Ready]) -> None:
        self._axles = axles
        self._wheels: dict[str, tuple[Wheel, int, int]] = {}
        self._tires: dict[str, Tire] = {}
        self._stands: dict[tuple[str, str], tuple[Setup, ...]] = {}
        self._rims: dict[Wheel, int] = {}
        self._bolts: dict[Wheel, int] = {}
        self._drawn: set[tuple[int, int]] = set()
        self._known: list[Known] = [{} for _ in axles]
        self._bolted: dict[tuple[int, int, int], tuple[tuple[BoltOn, ...], ...]] = {}

    def read(self, candidate: Candidate) -> Row | tuple[tuple[Setup, ...], tuple[tuple[BoltOn, ...], ...]]:
        """Setup and bolt-on checks on every axle, or the row's answer where that settles it."""
        if candidate.problem:
            return Row(candidate, "unreadable", reason=candidate.problem)
        try:
            (wheel, rim, bolts), tire = self._parts(candidate)
            if wheel.rim_diameter != tire.rim_code:
                words = f"the tire is for a {tire.rim_code:g} in rim, the wheel is {wheel.rim_diameter:g} in"
                return Row(candidate, "does_not_bolt_on", reason=f"rim diameter: {words}")
            if (id(tire), rim) not in self._drawn:
                tire_section(tire, bare(wheel), largest=True)  # refuses what cannot be drawn
                self._drawn.add((id(tire), rim))
            stands = self._stand(candidate.get("spacer"), candidate.get("ride"))
            setups = tuple(Setup(wheel, tire, each.spacer, each.ride, each.ride_name) for each in stands)
            bolted = self._bolt_on(setups, (bolts, id(tire), id(stands)))
        except FitmentError as error:
            return Row(candidate, "unreadable", reason=f"{candidate.place}: {error}")
        if any(check.status == "fail" and check.item in FIRST for checks in bolted for check in checks):
            return Row(candidate, "does_not_bolt_on", reason=_failures(bolted))
        return setups, bolted

    def _parts(self, candidate: Candidate) -> tuple[tuple[Wheel, int, int], Tire]:
        """The wheel with numbers of its rim and of what it bolts on with, and the tire."""
        texts = [candidate.get(name) for name in REQUIRED]
        for name, text in zip(REQUIRED, texts, strict=True):
            if not text:
                raise FitmentError(f"the {name} is missing")
        spec, code = texts
        if spec not in self._wheels:
            wheel = parse_wheel(spec)
            rim = self._rims.setdefault(bare(wheel), len(self._rims))
            bolts = self._bolts.setdefault(replace(wheel, spec="", offset=0.0), len(self._bolts))
            self._wheels[spec] = wheel, rim, bolts
        if code not in self._tires:
            self._tires[code] = parse_tire(code)
        return self._wheels[spec], self._tires[code]

    def _stand(self, spacer: str, ride: str) -> tuple[Setup, ...]:
        """Each axle's spacer and ride height as a row gives them; wheel and tire are the row's own."""
        if (spacer, ride) not in self._stands:
            self._stands[spacer, ride] = tuple(
                profiles.setup(
                    each.profile, each.axle.name, each.build,
                    wheel=ANY_WHEEL, tire=ANY_TIRE, spacer=spacer or None, ride=ride or None,
                )
                for each in self._axles
            )  # fmt: skip
        return self._stands[spacer, ride]

    def _bolt_on(self, setups: Sequence[Setup], key: tuple[int, int, int]) -> tuple[tuple[BoltOn, ...], ...]:
        """The bolt-on checks of every axle, which look at no offset; key : wheel, tire and the rest."""
        if key not in self._bolted:
            self._bolted[key] = tuple(
                (*bolt_on_checks(each.axle, setup, known), *across_axles(each, setup, other))
                for each, setup, other, known in zip(self._axles, setups, _others(setups), self._known, strict=True)
            )
        return self._bolted[key]


def _others(setups: Sequence[Setup]) -> tuple[Setup | None, ...]:
    """What stands on the other axle when a row goes on both."""
    return tuple(reversed(setups)) if len(setups) > 1 else (None,)


def _failures(bolted: Sequence[Sequence[BoltOn]]) -> str:
    """What the first axle that fails says, or an empty text."""
    for checks in bolted:
        failed = [f"{check.item}: {check.detail}" for check in checks if check.status == "fail"]
        if failed:
            return "; ".join(failed)
    return ""


# ---------------------------------------------------------------- one axle


def _axle_answers(
    ready: Ready, setups: Sequence[Setup], bolted: Sequence[tuple[BoltOn, ...]], processes: int
) -> list[_Answer]:
    """The answer of every setup on one axle."""
    _, left_out = known_motion(ready.axle)
    open_ = tuple(name for name, _ in left_out)
    few = len(setups) <= FEW
    quick = [_checked(ready, each) for each in setups] if few else _quick(ready, setups, processes)
    return [replace(each, bolt_on=b, not_checked=open_) for each, b in zip(quick, bolted, strict=True)]


def _doubtful(answer: _Answer) -> bool:
    """Whether the verdict could change by what the quick look-up may be off."""
    if answer.limited_by is None or answer.clearance < -LESS:
        return False
    if answer.clearance < MORE:
        return True
    if answer.margin < -LESS or answer.worst_at_nearest < -LESS:
        return False
    return answer.margin < MORE or answer.worst_case < MORE


def _verdict_checked(state: tuple[Ready, Mapping[str, Surroundings]], setup: Setup) -> Verdict:
    """The verdict of `check` on a setup, of the parts alone that are near a limit: the others are clear."""
    ready, apart = state
    names = _near_zero(apart, setup)
    axle = _with_parts(ready.axle, names)
    variants = [replace(each, axle=_with_parts(each.axle, names)) for each in ready.variants]
    return _of_fit(fit(setup, _swept(axle, setup.ride), variants)).verdict


def _with_parts(axle: Axle, names: tuple[str, ...]) -> Axle:
    return replace(axle, obstacles=tuple(each for each in axle.obstacles if each.name in names))


def _checked(ready: Ready, setup: Setup) -> _Answer:
    found = fit(setup, _swept(ready.axle, setup.ride), ready.variants)
    offsets = offset_range(found, _swept(ready.axle, setup.ride)) if found.clearances else None
    return replace(_of_fit(found), offsets=offsets)


@lru_cache(maxsize=32)  # a list may name a height of its own in every row
def _swept(axle: Axle, ride: float) -> Sweep:
    return sweep(axle, ride)


def _of_fit(found: Fit) -> _Answer:
    worst = found.worst
    if worst is None:
        return _Answer()
    against = min(found.clearances, key=lambda c: c.worst_case)
    return _Answer(
        clearance=min(c.clearance for c in found.clearances), margin=worst.margin, worst_case=against.worst_case,
        limited_by=worst.obstacle, part=worst.part, allowance=worst.allowance,
        against=f"{against.part} to {against.obstacle}", travel=worst.travel, steer=worst.steer,
    )  # fmt: skip


def _quick(ready: Ready, setups: Sequence[Setup], processes: int) -> list[_Answer]:
    """Every setup looked up in the keep-out of its travel; one sweep serves all ride heights within the travel."""
    axle = ready.axle
    spans: dict[tuple[float, float], list[int]] = {}
    for i, setup in enumerate(setups):
        spans.setdefault((min(axle.droop, setup.ride), max(axle.bump, setup.ride)), []).append(i)
    answers: list[_Answer] = [_Answer()] * len(setups)
    for span, rows in spans.items():
        mine = [setups[i] for i in rows]
        obstacles = known_motion(axle)[0]
        ask = Ask(axle, span, ready.variants)
        with workers(ask, min(processes, len(obstacles))) as run:
            kept = KeepOut(ask, tuple(run(kept_out, obstacles)))
        around = surroundings(kept)
        with workers((around,), processes) as run:
            found = look_up(0, around, mine, run)
        for i, answer in zip(rows, _read_off(kept, mine, found), strict=True):
            answers[i] = answer
        doubtful = [i for i in rows if _doubtful(answers[i])]
        apart = {each.obstacle.name: surroundings(KeepOut(ask, (each,))) for each in kept.parts} if doubtful else {}
        with workers((ready, apart), processes if len(doubtful) > 1 else 1) as run:
            for i, verdict in zip(doubtful, run(_verdict_checked, [setups[i] for i in doubtful]), strict=True):
                answers[i] = replace(answers[i], checked=verdict)
    return answers


def _near_zero(apart: Mapping[str, Surroundings], setup: Setup) -> tuple[str, ...]:
    """Names of the parts on which a doubtful verdict can hang."""
    names = []
    for name, around in apart.items():
        met = met_at(around, setup)
        values = (met.clearance[0], met.margin[0], met.worst_case[0], met.worst_at_nearest[0])
        if any(-2 * MORE < value < 2 * MORE for value in values) or met.worst_case[0] < 0 <= met.worst_at_nearest[0]:
            names.append(name)
    return tuple(names)


def _read_off(kept: KeepOut, setups: Sequence[Setup], found: Found) -> list[_Answer]:
    met, names = found.closest, [each.obstacle.name for each in kept.parts]
    rests = np.array([still(each.obstacle) for each in kept.parts] + [True])[met.obstacle]
    travel = np.where(rests, [setup.ride for setup in setups], met.travel)
    share = np.where(rests, 0.0, met.share)
    steer = _steer(kept.ask.axle, met.family, travel, share)
    nothing = ~np.isfinite(met.margin)
    part = ("tire", "wheel")
    return [
        _Answer()
        if nothing[i]
        else _Answer(
            clearance=float(met.clearance[i]), margin=float(met.margin[i]), worst_case=float(met.worst_case[i]),
            worst_at_nearest=float(met.worst_at_nearest[i]),
            limited_by=names[met.obstacle[i]], part=part[int(met.wheel[i])], allowance=float(met.allowance[i]),
            against=f"{part[int(met.against_wheel[i])]} to {names[met.against[i]]}",
            travel=float(travel[i]), steer=float(steer[i]),
            offsets=None if np.isnan(found.offsets[i, 0]) else (float(found.offsets[i, 0]), float(found.offsets[i, 1])),
        )
        for i in range(len(setups))
    ]  # fmt: skip


def _steer(axle: Axle, family: Index, travel: Array, share: Array) -> Array:
    """Steer angle [deg] (n,) of places in travel and share."""
    places, back = np.unique(np.column_stack([family, travel, share]), axis=0, return_inverse=True)
    angle = np.zeros(len(places))
    for i, kind in enumerate(families(axle)):
        mine = places[:, 0] == i
        if mine.any():
            angle[mine] = kind.poses(places[mine, 1], places[mine, 2]).steer
    return angle[back.ravel()]


# ---------------------------------------------------------------- rows


def _row(candidate: Candidate, names: Sequence[str], answers: Sequence[_Answer]) -> Row:
    tightest = min(range(len(answers)), key=lambda i: answers[i].margin)
    answer = answers[tightest]
    limit = answer.limited_by
    low, high = _common([each.offsets for each in answers])

    def known(value: float) -> float | None:
        return value if math.isfinite(value) else None

    return Row(
        candidate,
        max((each.verdict for each in answers), key=VERDICTS.index),
        clearance=known(min(each.clearance for each in answers)),
        worst_case=known(min(each.worst_case for each in answers)),
        limited_by=limit if limit is None or len(answers) == 1 else f"{names[tightest]}: {limit}",
        travel=answer.travel,
        steer=answer.steer,
        offset_min=low,
        offset_max=high,
        reason=_reason(answers, answer),
        margin=answer.margin,
    )


def _common(ranges: Sequence[tuple[float, float] | None]) -> tuple[float | None, float | None]:
    """What every axle allows; (None, None) when there is nothing."""
    known = [r for r in ranges if r is not None]
    if len(known) < len(ranges) or not known:
        return None, None
    low, high = max(r[0] for r in known), min(r[1] for r in known)
    return (low, high) if low <= high else (None, None)


def _reason(answers: Sequence[_Answer], tightest: _Answer) -> str:
    failed = _failures([each.bolt_on for each in answers])
    if failed:
        return failed
    if tightest.limited_by is None:
        return "no obstacle to check against"
    free = tightest.margin + tightest.allowance
    if free < 0:
        return f"{tightest.part} overlaps {tightest.limited_by} by {-free:.1f} mm"
    if tightest.margin < 0:
        return f"{free:.1f} mm from {tightest.part} to {tightest.limited_by}, {tightest.allowance:g} mm asked for"
    if tightest.worst_case < 0:
        return f"worst case {tightest.worst_case:.1f} mm from {tightest.against}"
    return _open(answers)


def _open(answers: Sequence[_Answer]) -> str:
    """What a row that clears leaves open."""
    words = [f"not checked: {name}" for each in answers for name in each.not_checked]
    for status, what in (("caution", "caution"), ("not_checked", "not checked")):
        items = [check.item for each in answers for check in each.bolt_on if check.status == status]
        if items:
            words.append(f"{what}: {', '.join(dict.fromkeys(items))}")
    return "; ".join(words)


SORTS = ("margin", "clearance", "worst", "offsets")


def ranked(rows: Sequence[Row], sort: str = "margin") -> list[Row]:
    """Best first: by verdict, then as `sort` says; unreadable rows last, in the list's order. Raises FitmentError.

    sort : one of SORTS, largest first, or a column of the list, smallest first; a minus before it turns it round.
        Rows that tell no value come behind those that do.
    """
    name, turned = sort.removeprefix("-"), sort.startswith("-")
    readable = [row for row in rows if row.verdict != "unreadable"]
    if name not in SORTS and readable and not any(row.candidate.get(name.lower()) for row in readable):
        raise FitmentError(f"--sort {sort}: there is no such column with values; use {', '.join(SORTS)} or a column.")
    order = sorted(readable, key=lambda row: (VERDICTS.index(row.verdict), *_place(row, name, turned)))
    broken = [row for row in rows if row.verdict == "unreadable"]
    return [*(replace(row, rank=i) for i, row in enumerate(order, 1)), *broken]


def _place(row: Row, name: str, turned: bool) -> tuple[bool, float, str]:
    """Where a row stands among those of its verdict: whether it tells nothing, a number, a text."""
    if name in SORTS:
        span = None
        if row.offset_min is not None and row.offset_max is not None:
            span = row.offset_max - row.offset_min
        own = {"margin": row.margin, "clearance": row.clearance, "worst": row.worst_case, "offsets": span}[name]
        return own is None, (own or 0.0) * (1.0 if turned else -1.0), ""
    text = row.candidate.get(name.lower())
    try:
        return not text, float(text) * (-1.0 if turned else 1.0), ""
    except ValueError:
        letters = "".join(chr(0x10FFFF - ord(letter)) for letter in text) if turned else text
        return not text, math.inf, letters


def grouped(rows: Sequence[Row], column: str) -> dict[str, list[Row]]:
    """Rows that could be read by a column's text, the group of the best row first."""
    groups: dict[str, list[Row]] = {}
    for row in rows:
        if row.verdict != "unreadable":
            groups.setdefault(row.candidate.get(column.lower()), []).append(row)
    return groups
