"""What a builder is ready to do, read as it is said ("inner fender 15 mm, stops 28 deg") and done to an axle."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fitment.answers.changes.travel import at_bump, at_lock
from fitment.answers.changes.trials import Trial, with_axle
from fitment.checks.case import Ready
from fitment.errors import Argument, FitmentError, UnitError, did_you_mean, shown
from fitment.parts.axle import Axle, Setup
from fitment.parts.obstacles import Obstacle, core, laid_like
from fitment.parts.reshaped import reworked
from fitment.parts.rework import Cut, Rework
from fitment.parts.tire import overall_diameter
from fitment.units import to_mm

MOST = 300.0  # [mm] that a part is moved or trimmed
OVER = (
    0.8  # of the tire's radius: a part whose nearest place is that far from the hub in the side view lies over the tire
)
WAYS = {
    "out": ("out", "outward", "outwards", "outboard", "rolled", "roll", "pulled"),
    "in": ("in", "inward", "inwards", "inboard"),
    "up": ("up", "upward", "upwards", "higher"),
    "down": ("down", "downward", "downwards", "lower"),
    "ahead": ("ahead", "forward", "forwards"),
    "back": ("back", "backward", "backwards", "rearward"),
    "away": ("away", "opened"),
    "trim": ("trim", "trimmed", "cut", "off"),
}
STOPS = ("stops", "stop", "steering stops", "steering stop", "lock", "locks", "steering")
BUMPS = ("bump", "bump stop", "bump stops", "full bump")
FILLERS = ("move", "moved", "moves", "by", "to", "at", "the", "of")
_ITEM = re.compile(r"(?P<before>.*?)(?P<number>[-+]?\s*\d+(?:[.,]\d+)?(?:\s+\d+/\d+|/\d+)?)\s*(?P<after>.*)", re.DOTALL)
_DEGREES = ("deg", "degree", "degrees", "\N{DEGREE SIGN}")
_LENGTHS = ("mm", "cm", "m", "in", "inch", "inches", '"', "ft")


@dataclass(frozen=True)
class Willing:
    """One thing that a builder is ready to do.

    said : as it was typed; part : the name as typed, of a part that gives way; what : "stops", "bump" or "part"
    value : [mm, or deg]; way : of WAYS, empty where none was said
    """

    said: str
    what: str
    value: float
    part: str = ""
    way: str = ""


def willing(text: str) -> tuple[Willing, ...]:
    """What a text says that a builder is ready to do. Raises FitmentError listing what can be said."""
    items = [item.strip() for item in re.split(r"[,;](?!\d)|\band\b|\n", text)]
    found = tuple(_read(item) for item in items if item)
    if not found:
        raise FitmentError(Argument("with_"), f": nothing is said. {_can_be_said(())}")
    return found


def _read(item: str) -> Willing:
    match = _ITEM.fullmatch(item)
    if match is None:
        raise FitmentError(Argument("with_"), f": {shown(item)} has no number. {_can_be_said(())}")
    words = [word for word in re.split(r"[\s_]+", match["after"].casefold().strip(" .")) if word]
    degrees = bool(words) and words[0] in _DEGREES
    unit = words.pop(0) if words and (degrees or words[0] in _LENGTHS) else ""
    if len(words) == 0 and unit == "in" and match["number"].strip().isdigit() and int(match["number"]) > 12:
        raise FitmentError(
            Argument("with_"), f': in {shown(item)}, "in" may be inches or inward; write "mm in" or "inches".'
        )
    name = [word for word in re.split(r"[\s_:=]+", match["before"].casefold().strip()) if word]
    words = [word for word in (*name, *words) if word not in FILLERS]
    number = match["number"].replace(",", ".").replace(" ", "") if "/" not in match["number"] else match["number"]
    what = " ".join(words)
    if what in STOPS or (degrees and not what):
        if unit and not degrees:
            raise FitmentError(Argument("with_"), f": {shown(item)}: stops are given in degrees, such as stops 28 deg.")
        return Willing(item, "stops", float(number))
    if degrees:
        raise FitmentError(Argument("with_"), f": {shown(item)}: only stops are given in degrees. {_can_be_said(())}")
    try:
        value = to_mm(f"{number} {unit}" if unit else float(number))
    except (UnitError, ValueError):
        raise FitmentError(Argument("with_"), f": {shown(item)}: {shown(number)} is not a length.") from None
    if what in BUMPS:
        return Willing(item, "bump", value)
    way = next((key for key, known in WAYS.items() if words and words[-1] in known), "")
    way = way or next((key for key, known in WAYS.items() if words and words[0] in known), "")
    rest = [word for word in words if not way or word not in WAYS[way]]
    return Willing(item, "part", value, " ".join(rest), way)


def _can_be_said(names: Sequence[str]) -> str:
    parts = f" The parts here: {', '.join(names)}." if names else ""
    return (
        "Say how far a part gives way (fender lip 15 mm, with out, in, up, down, ahead, back or away behind it), what "
        "is trimmed off it (fender lip trim 20 mm), where the steering stops (stops 28 deg) or the bump stop ends the "
        f"travel (bump 60 mm); several with commas.{parts}"
    )


def giving_way(ready: Ready, setup: Setup, items: Sequence[Willing]) -> tuple[Ready, tuple[str, ...]]:
    """An axle with what a builder is ready to do of it, and that in words, lengths in mm.

    setup : what is bolted on, which tells whether a part lies over the tire or beside it
    What is of another axle is passed over. Raises FitmentError for what cannot be had.
    """
    trial, told = Trial(ready, setup), []
    for item in items:
        if item.what == "stops":
            if trial.ready.axle.steering is None:
                continue
            trial = at_lock(trial, _within_lock(trial.ready.axle, item))
            now = trial.ready.axle.steering
            assert now is not None
            told.append(f"steering stops at {now.lock_left:g} deg left, {now.lock_right:g} deg right")
        elif item.what == "bump":
            trial = at_bump(trial, _within_bump(trial, item))
            told.append(f"a bump stop that ends travel at {item.value:+g} mm")
        else:
            part = _part(trial.ready.axle, item)
            if part is None:
                continue
            rework = _rework(part, item, trial)
            try:
                trial = _with_rework(trial, part.name, rework)
            except FitmentError as error:
                raise FitmentError(Argument("with_"), f": {shown(item.said)}: {error}") from None
            told.append(f"{part.name} {rework.words}")
    return trial.ready, tuple(told)


def check_known(axles: Sequence[Axle], items: Sequence[Willing]) -> None:
    """Refuses what is of none of the axles. Raises FitmentError listing what can be said."""
    names = list(dict.fromkeys(o.name for axle in axles for o in axle.obstacles))
    for item in items:
        if item.what == "part" and not any(_part(axle, item) for axle in axles):
            hint = did_you_mean(item.part, names)
            raise FitmentError(
                Argument("with_"),
                f": {shown(item.said)}: there is no part {shown(item.part)} here.{hint} {_can_be_said(names)}",
            )
        if item.what == "stops" and not any(axle.steering for axle in axles):
            raise FitmentError(Argument("with_"), f": {shown(item.said)}: no axle here steers. {_can_be_said(names)}")


def _plain(name: str) -> str:
    return re.sub(r"[\s_\-]+", " ", name.casefold()).strip()


def _part(axle: Axle, item: Willing) -> Obstacle | None:
    """The part that is meant: by its name, or by the beginning of one that no other has."""
    wanted = _plain(item.part)
    exact = [part for part in axle.obstacles if _plain(part.name) == wanted]
    begins = [part for part in axle.obstacles if wanted and _plain(part.name).startswith(wanted)]
    found = exact or begins
    return found[0] if len(found) == 1 else None


def _within_lock(axle: Axle, item: Willing) -> float:
    assert axle.steering is not None
    larger = max(axle.steering.lock_left, axle.steering.lock_right)
    if not 1 <= item.value <= larger:
        raise FitmentError(
            Argument("with_"),
            f": {shown(item.said)}: the larger lock is {larger:g} deg; stops make it less, down to 1.",
        )
    return item.value


def _within_bump(trial: Trial, item: Willing) -> float:
    axle, least = trial.ready.axle, max(trial.setup.ride, 0.0)
    if not least <= item.value <= axle.bump:
        raise FitmentError(
            Argument("with_"),
            f": {shown(item.said)}: the wheel comes up to {axle.bump:+g} mm and stands at {trial.setup.ride:+g} mm; a "
            f"bump stop ends the travel between {least:+g} and {axle.bump:+g} mm.",
        )
    return item.value


def _rework(part: Obstacle, item: Willing, trial: Trial) -> Rework:
    if part.shape == "ring":
        raise FitmentError(
            Argument("with_"), f": {shown(item.said)}: {part.name} is drawn in the hub frame; give its outline anew."
        )
    if not 0 < item.value <= MOST:
        raise FitmentError(
            Argument("with_"), f": {shown(item.said)}: give more than 0 and at most {MOST:g} mm, and the way in words."
        )
    by, way = item.value, item.way or _usual_way(part, trial)
    if way == "trim":
        return Rework(cuts=(Cut(None, by),))
    ways = {
        "out": Rework(out=by), "in": Rework(out=-by), "up": Rework(up=by), "down": Rework(up=-by),
        "ahead": Rework(ahead=by), "back": Rework(ahead=-by), "away": Rework(away=by),
    }  # fmt: skip
    return ways[way]


def _usual_way(part: Obstacle, trial: Trial) -> str:
    """The way in which a part gives way where none is said: opened over the tire, outboard or inboard beside it."""
    points = core(part) - np.array(trial.ready.axle.hub_face_at)
    if np.hypot(points[:, 0], points[:, 2]).min() >= OVER * overall_diameter(trial.setup.tire) / 2:
        return "away"
    return "out" if points[:, 1].mean() > trial.setup.spacer.thickness - trial.setup.wheel.offset else "in"


def _with_rework(trial: Trial, name: str, rework: Rework) -> Trial:
    """With a part moved or trimmed, in every variant of the axle alike; what the build did to it stays told."""

    def shaped(axle: Axle, how: Rework) -> tuple[Axle, Rework]:
        part = next(each for each in axle.obstacles if each.name == name)
        new = reworked(replace(part, rework=how), axle.hub_face_at)
        told = replace(new, rework=part.rework)
        parts = tuple(told if each is part else each for each in axle.obstacles)
        return replace(axle, obstacles=parts), new.rework or how

    axle, settled = shaped(trial.ready.axle, rework)
    variants = [shaped(variant.axle, settled)[0] for variant in trial.ready.variants]
    alike = [replace(v, obstacles=tuple(map(laid_like, v.obstacles, axle.obstacles))) for v in variants]
    return with_axle(trial, axle, alike)
