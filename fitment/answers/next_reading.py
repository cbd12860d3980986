"""How likely a whole setup clears, and which reading to take next.

The chance is that of every required clearance being kept at every part that is checked, on a vehicle and a tire drawn
from the spreads of all readings together (`answers/drawn_margins.py`). Parts that nobody measured, the shape of wheel
and tire between what was measured, and the bolt-on checks are not in it.

The next reading is the one that leaves least doubt about the answer, on average over what it may turn out to be. Doubt
is chance times one less chance, the squared error to expect of a stated chance; a reading's share is the part of the
doubt that goes when it is taken. A reading that spreads a clearance widely but cannot change the answer has no share;
of two with shares, the larger changes the answer more often. To take one is to know it to half its tolerance, or one
that was assumed to what a tape or gauge usually reads. A part is placed by its gap to the baseline's tire or wheel at
rest, straight ahead or at a lock: that tells at once of everything that counts there, such as an assumed axis and lock.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from fitment.answers.drawn_margins import DRAWS, Margins, Spread, always_short, margins_of, places_of
from fitment.answers.uncertainty import USUAL_LENGTH, usual_tolerance
from fitment.checks.case import Case
from fitment.checks.fit import Clearance
from fitment.frames import Array
from fitment.motion.suspension import families
from fitment.profile import Reading

if TYPE_CHECKING:  # the questions are loaded where one is told
    from fitment.measuring.questions.forms import Numbered

LEAST = 0.001  # chance: less is not told, nor more than one less this, since the ends of a spread are not known
SAMPLES = ("a", "b")  # of vehicles
LOTS = 64  # of vehicles whose gaps read alike
LEAST_SHARE = 0.01  # of the doubt, to be listed
OPEN = (0.05, 0.95)  # chances between which an answer is told as open although nothing is assumed
TURNED = 0.5  # share of the lock from which a place is one at the lock

_PART = re.compile(r"obstacles\[(.*?)\]")
LOOKED_AT = ("tire.shoulder", "tire.rim_protector")  # what is seen without measuring the tire
_TOGETHER = ("suspension.steering_axis", "suspension.links")  # readings that are taken as one
_TAPED = re.compile(r"(baseline:)?suspension\.(readings|links|\w+_per_100mm|\w+_bend)")
_NOT_AT_REST = re.compile(rf"{_TAPED.pattern}|(baseline:)?(travel\.|(tire|wheel|spacer)\b)")


@dataclass(frozen=True)
class NextReading:
    """A reading to take, and how much of the doubt about the answer goes with it.

    name : key path within the axle or setup; of all readings of a part obstacles[its name], of a tire's sizes tire
    names : the key paths that are taken with it
    share : part of the doubt [-], 0 to 1
    question : the question of the measuring sheets that it answers, None where there is none
    obstacle : the part of the vehicle that it places, None for others; shape : of that part
    place : where that part decides; lock : the vehicle's there, left, right or straight
    assumed : nobody has read it yet
    """

    name: str
    names: tuple[str, ...]
    share: float
    question: Numbered | None
    obstacle: str | None
    shape: str | None
    place: Clearance | None
    lock: str
    assumed: bool


@dataclass(frozen=True)
class Sure:
    """How likely a whole setup clears.

    chance : that every required clearance is kept [-], from LEAST to 1 - LEAST
    decided_by : readings to take, the most useful first
    assumed : some reading is assumed; bolts_on : no bolt-on check fails
    """

    chance: float
    decided_by: tuple[NextReading, ...]
    assumed: bool
    bolts_on: bool

    @property
    def worth_saying(self) -> bool:
        """Whether it belongs beside the verdict: with assumed readings, or where readings leave the answer open."""
        return self.bolts_on and (self.assumed or OPEN[0] <= self.chance <= OPEN[1])


def sure_of(case: Case) -> Sure | None:
    """How likely a checked setup clears, and what to measure next; None where no part was checked.

    Raises MotionError.
    """
    fit = case.fit
    if not fit.clearances:
        return None
    assumed = any(variant.assumed for variant in case.ready.variants) or bool(case.ready.assumed)
    bolts_on = not any(check.status == "fail" for check in fit.bolt_on)
    if always_short(fit):
        return Sure(LEAST, (), assumed, bolts_on)
    margins = margins_of(case)
    if not margins.entries:
        return Sure(1 - LEAST, (), assumed, bolts_on)
    one, other = vehicles = [_vehicles(margins, sample) for sample in SAMPLES]
    chance = float(np.mean([own.clear for own in vehicles]))
    if not 0 < chance < 1:
        return Sure(min(max(chance, LEAST), 1 - LEAST), (), assumed, bolts_on)
    groups, rows = _groups(margins.spreads), _deciding_rows(margins, one)
    shares = {name: _share_of(margins, one, other, group) for name, group in groups.items()}
    for obstacle in fit.obstacles:
        name = f"obstacles[{obstacle.name}]"
        if name in rows and obstacle.shape != "ring":
            shares[name] = _share_of_gap(margins, vehicles, rows[name])
    order = sorted(shares, key=lambda name: (-round(shares[name], 3), name))
    readings = tuple(
        _reading(case, margins, name, groups.get(name, ()), shares[name], rows.get(name))
        for name in order
        if shares[name] >= LEAST_SHARE
    )
    return Sure(min(max(chance, LEAST), 1 - LEAST), readings, assumed, bolts_on)


# ---------------------------------------------------------------- chance and shares


@dataclass(frozen=True)
class _Vehicles:
    """Vehicles drawn from the spreads.

    told, rest : what better readings would tell of each figure, and what they leave open (f, n) [-]
    clear : 1 where every margin is kept, else 0 (n,)
    """

    told: Array
    rest: Array
    clear: Array

    @property
    def errors(self) -> Array:
        """By how much every figure is off (f, n) [-]."""
        return self.told + self.rest


def _vehicles(margins: Margins, sample: str) -> _Vehicles:
    pairs = [spread.drawn(sample, taken_again(spread)) for spread in margins.spreads]
    told, rest = (np.array([pair[k] for pair in pairs]).reshape(len(pairs), DRAWS) for k in range(2))
    return _Vehicles(told, rest, _clear(margins, told + rest))


def _clear(margins: Margins, errors: Array) -> Array:
    return np.all(margins.at(errors) >= 0, axis=0).astype(float)


def _share_of(margins: Margins, one: _Vehicles, other: _Vehicles, group: Sequence[int]) -> float:
    """The share of the doubt that figures end which are taken together [-].

    Source: I. M. Sobol's first-order index of the answer, by two samples that share what the group tells (A. Saltelli
    et al., Global Sensitivity Analysis, 2008, ch. 4; from memory).
    """
    mixed = other.errors
    mixed[list(group)] = one.told[list(group)] + other.rest[list(group)]
    both = _clear(margins, mixed)
    mean = (one.clear.mean() + both.mean()) / 2
    doubt = mean * (1 - mean)
    return max(float((one.clear * both).mean() - mean**2) / doubt, 0.0) if doubt else 0.0


def _share_of_gap(margins: Margins, vehicles: Sequence[_Vehicles], row: int) -> float:
    """The share of the doubt [-] that a gap ends which is read at rest, on the wheels that were measured.

    row : of the margins, where the gap is the least
    What a tire's size, the ends of travel and what changes with travel do there is not in the gap. Vehicles whose gaps
    read alike are put together, and the doubt of each lot is counted.
    """
    counted = np.array([not _NOT_AT_REST.match(spread.name) for spread in margins.spreads], dtype=float)[:, None]
    slip, alone = Spread(f"gap {row}", USUAL_LENGTH, "mm"), margins.rows([row])
    read = [
        alone.at(own.errors * counted)[0] + USUAL_LENGTH * sum(slip.drawn(sample, 0.5))
        for own, sample in zip(vehicles, SAMPLES, strict=True)
    ]
    kept = np.concatenate([own.clear for own in vehicles])
    lots = np.array_split(kept[np.argsort(np.concatenate(read), kind="stable")], LOTS)
    return max(float(1 - np.mean([lot.var(ddof=1) for lot in lots]) / kept.var()), 0.0)


def taken_again(spread: Spread) -> float:
    """Share of its tolerance that a figure has once it is taken [-]: a half, or of an assumed one the usual.

    Source: `uncertainty.usual_tolerance`, common practice; the half is an assumption.
    """
    if not spread.assumed:
        return 0.5
    return min(usual_tolerance(Reading(spread.name, spread.tolerance, spread.unit)) / spread.tolerance, 0.5)


# ---------------------------------------------------------------- what is taken together, and how


def _groups(spreads: Sequence[Spread]) -> dict[str, list[int]]:
    """Figures that are read in one go, by the name of that."""
    groups: dict[str, list[int]] = {}
    for i, spread in enumerate(spreads):
        groups.setdefault(_taken_with(spread.name), []).append(i)
    return groups


def _taken_with(path: str) -> str:
    """What is read together with a figure: a part's place, the steering axis, the point, the tire's sizes."""
    part = _PART.match(path.removeprefix("baseline:"))
    if part:
        return part[0]
    if path.startswith("tire.") and path not in LOOKED_AT:
        return "tire"
    whole = next((each for each in _TOGETHER if path.removeprefix("baseline:").startswith(each)), None)
    if whole is not None:
        return whole
    return re.sub(r"\[\d+\]$", "", path)


def _reading(
    case: Case, margins: Margins, name: str, group: Sequence[int], share: float, row: int | None
) -> NextReading:
    spreads = [margins.spreads[i] for i in group]
    place = None if row is None else margins.entries[row]
    obstacle = next((o for o in case.fit.obstacles if place and o.name == place.obstacle), None)
    return NextReading(
        name, tuple(spread.name for spread in spreads), share, _question(name, case),
        obstacle.name if obstacle else None, obstacle.shape if obstacle else None,
        place, _lock(case, place) if place else "straight", any(spread.assumed for spread in spreads),
    )  # fmt: skip


def _deciding_rows(margins: Margins, vehicles: _Vehicles) -> dict[str, int]:
    """Of each part that could decide the margin that is most often its least, by the part's name in brackets."""
    drawn, rows = margins.at(vehicles.errors), {}
    for obstacle in dict.fromkeys(entry.obstacle for entry in margins.entries):
        own = [k for k, entry in enumerate(margins.entries) if entry.obstacle == obstacle]
        rows[f"obstacles[{obstacle}]"] = own[int(np.argmax(np.bincount(np.argmin(drawn[own], axis=0))))]
    return rows


def _lock(case: Case, place: Clearance) -> str:
    """Where the vehicle is steered to in a pose: the left or right lock, else straight."""
    for family, own in zip(families(case.fit.axle), places_of(case.fit, np.array([place.pose])), strict=True):
        if len(own) and "steer" in family.kinds:
            way = -1.0 if case.fit.axle.sides == ("right",) else 1.0  # a right corner is posed as in a mirror
            share = way * float(own[0, 1 + family.kinds.index("steer")])
            return "straight" if abs(share) < TURNED else "left" if share > 0 else "right"
    return "straight"


def _question(name: str, case: Case) -> Numbered | None:
    """The question of the sheets whose answer holds a reading."""
    from fitment.measuring.questions import ALL
    from fitment.measuring.questions.forms import numbered

    bolted = "builds/{now}" if case.ready.build == case.ready.profile.baseline else "builds/{build}"
    if _PART.match(name):
        end = "obstacles/{n}/measured_gap/gap"
    elif _TAPED.match(name):
        end = "suspension/readings"
    elif name == "tire":
        end = f"{bolted}/{{axle}}/tire/section_width"
    elif name.startswith(("wheel.", "spacer")):
        end = f"{bolted}/{{axle}}/{name.replace('.', '/')}"
    else:
        end = "axles/{axle}/" + name.removeprefix("baseline:").replace(".", "/")
    asked = [entry for entry in numbered(ALL) if entry.question.path.startswith(("axles", bolted))]
    exact = next((entry for entry in asked if entry.question.path.endswith(end)), None)
    return exact or next((entry for entry in asked if name in _TOGETHER and end in entry.question.path), None)
