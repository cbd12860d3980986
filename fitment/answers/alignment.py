"""The answer of `fitment align`: state at each ride height, what can be reached, the settings for a target."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from fitment import profile as profiles
from fitment.checks.case import Ready, rake
from fitment.errors import Argument, FitmentError, UnitError, did_you_mean
from fitment.motion.adjuster_reach import Choice, Reach, Target, nearest_settings, reachable_alignment
from fitment.motion.adjusters import Setting, adjusted
from fitment.motion.wheel_position import WheelPosition, position_at_rest
from fitment.parts.axle import LinkSuspension, Setup
from fitment.units import split_quantity, to_mm, to_plain

MOVES = ("out", "forward", "longer")  # of a ball joint on its arm; of a link
SETTINGS = Argument("settings")
LARGEST = {"camber": 15.0, "caster": 30.0}  # [deg] beyond which a target is not plausible


@dataclass(frozen=True)
class RideState:
    """The wheel at rest at one height.

    caster_to_ground : [deg], + = top rearward; None without the other axle and a wheelbase
    """

    name: str | None
    stance: WheelPosition
    caster_to_ground: float | None


@dataclass(frozen=True)
class Alignment:
    """One axle: its state by ride height; at one of them what the adjusters reach and the choice for a target.

    travel : of that ride height [mm], + = wheel up into the body
    reach, choice : None where there is nothing to adjust (then `why_not` says so) or no target was given
    """

    ready: Ready
    rides: tuple[RideState, ...]
    travel: float
    ride_name: str | None
    present: WheelPosition
    reach: Reach | None
    why_not: str
    target: Target | None
    choice: Choice | None


def align(
    ready: Ready, ride: float | str | None, *, camber: float | None = None, caster: float | None = None
) -> Alignment:
    """Everything about one axle's alignment.

    ride : name of a ride height or a travel at rest [mm], None = the build's own
    camber, caster : wanted [deg], None = as it comes
    Raises FitmentError for a target that is not plausible or that nothing can be set for.
    Source: `position_at_rest` and `nearest_settings`; the plausible range, LARGEST, is our assumption.
    """
    for name, value in (("camber", camber), ("caster", caster)):
        if value is not None and not -LARGEST[name] <= value <= LARGEST[name]:
            limits = f"{-LARGEST[name]:g} and +{LARGEST[name]:g} deg"
            raise FitmentError(Argument(name), f" {value:g} deg: a target lies between {limits}.")
    setup = profiles.setup(ready.profile, ready.axle.name, ready.build, ride=ride)
    heights: list[tuple[str | None, float]] = [*ready.axle.ride_heights]
    if setup.ride not in [z for _, z in heights]:
        heights.append((setup.ride_name, setup.ride))
    target = Target(camber, caster) if camber is not None or caster is not None else None
    reach, why_not = _reach(ready, setup)
    if target is not None and reach is None:
        raise FitmentError(f"no settings for a target: {why_not}.")
    return Alignment(
        ready=ready,
        rides=tuple(_state(ready, replace(setup, ride=z), name) for name, z in heights),
        travel=setup.ride,
        ride_name=setup.ride_name,
        present=position_at_rest(ready.axle, setup, ready.deflection),
        reach=reach,
        why_not=why_not,
        target=target,
        choice=None if target is None else nearest_settings(ready.axle, setup.ride, target),
    )


def with_settings(ready: Ready, settings: Sequence[Setting], ride: float) -> Ready:
    """The axle, and each of its variants, with the settings made and toe re-set.

    ride : travel at which toe is re-set [mm]
    Raises FitmentError, MotionError.
    Source: `adjusted`.
    """
    variants = tuple(replace(variant, axle=adjusted(variant.axle, settings, travel=ride)) for variant in ready.variants)
    return replace(ready, axle=adjusted(ready.axle, settings, travel=ride), variants=variants)


def _reach(ready: Ready, setup: Setup) -> tuple[Reach | None, str]:
    if not isinstance(ready.axle.suspension, LinkSuspension):
        return None, "the suspension is given without hardpoints, so adjusters have nothing to move"
    if not ready.axle.adjusters:
        return None, "the profile names no adjusters on this axle"
    return reachable_alignment(ready.axle, setup.ride), ""


def _state(ready: Ready, setup: Setup, name: str | None) -> RideState:
    stands = position_at_rest(ready.axle, setup, ready.deflection)
    if stands.caster is None:
        return RideState(name, stands, None)
    pitch = rake(ready.profile, ready.build, _heights(ready, setup.ride, name))
    return RideState(name, stands, None if pitch is None else stands.caster - pitch)


def _heights(ready: Ready, ride: float, name: str | None) -> dict[str, float]:
    """Travel at rest of this axle and, where it is not the build's own, of the other one [mm].

    The other axle stands as the build says. Only where the build gives both the height of one name do they go up and
    down together, so that at another name the other axle has its height of that name.
    """
    heights, other, there = {ready.axle.name: ride}, ready.other_axle, ready.other_setup
    if other is None or there is None or name is None or there.ride_name is None:
        return heights
    own = profiles.setup(ready.profile, ready.axle.name, ready.build)
    if own.ride_name == there.ride_name and name in (named := dict(other.ride_heights)):
        heights[other.name] = named[name]
    return heights


def read_settings(text: str) -> list[Setting]:
    """Settings from a file that `align` wrote as JSON, or from a text. Raises FitmentError.

    A text names each adjuster: "ball joint position = out 6, forward -6; lower eccentrics = 90, 120", or for a link
    "toe link = longer 2".
    """
    path = Path(text)
    if path.suffix == ".json":
        return _from_json(path)
    settings = []
    for part in filter(None, (part.strip() for part in text.split(";"))):
        name, sign, values = part.partition("=")
        if not sign:
            raise FitmentError(SETTINGS, f' "{part}": write NAME = out 6, forward -6 or NAME = 90, 120 (degrees).')
        settings.append(_setting(name.strip(), values))
    if not settings:
        raise FitmentError(SETTINGS, " is empty; write NAME = out 6, forward -6 or NAME = 90, 120 (degrees).")
    return settings


def _setting(name: str, values: str) -> Setting:
    terms = [term.strip() for term in values.split(",")]
    words = [re.fullmatch(r"(\w*[^\W\d]\w*)\s+(.+)", term) for term in terms]
    try:
        if any(words):
            moves = _moves(terms, words)
            if "longer" in moves:
                return Setting(name, length=moves["longer"])
            return Setting(name, out=moves.get("out", 0.0), forward=moves.get("forward", 0.0))
        return Setting(name, angles=tuple(_angle(term) for term in terms))
    except UnitError as error:
        raise FitmentError(
            SETTINGS,
            f' "{name} ={values}": {error} Give "out 6, forward -6" (mm) or an angle a bushing, "90, 120".',
        ) from None


def _moves(terms: Sequence[str], words: Sequence[re.Match[str] | None]) -> dict[str, float]:
    """Millimetres out and forward, or by which a link is longer."""
    moves: dict[str, float] = {}
    for term, match in zip(terms, words, strict=True):
        if match is None or match[1] not in MOVES:
            hint = did_you_mean(match[1], MOVES) if match else ""
            raise UnitError(f'"{term}" is neither out, forward nor longer with a length.{hint}')
        if match[1] in moves:
            raise UnitError(f"{match[1]} is given twice.")
        value, unit = split_quantity(match[2])
        moves[match[1]] = to_mm(match[2] if unit else value)
    if "longer" in moves and len(moves) > 1:
        raise UnitError("a link's length goes with neither out nor forward.")
    return moves


def _angle(term: str) -> float:
    value, unit = split_quantity(term)
    if unit not in ("", "deg"):
        raise UnitError(f'"{term}" is not an angle in degrees.')
    return value


def _from_json(path: Path) -> list[Setting]:
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError) as error:
        raise FitmentError(SETTINGS, f" {path}: cannot be read as JSON ({error}).") from None
    axles = data if isinstance(data, list) else [data]
    data = next((axle["settings"] for axle in axles if isinstance(axle, dict) and axle.get("settings")), None)
    if not isinstance(data, list) or not data:
        raise FitmentError(SETTINGS, f" {path}: no settings in it; write it with `fitment align ... --out FILE.json`.")
    try:
        return [_setting_of(setting) for setting in data]
    except UnitError as error:
        raise FitmentError(SETTINGS, f" {path}: {error}") from None
    except (KeyError, TypeError, AttributeError):
        raise FitmentError(SETTINGS, f" {path}: its settings are not those of `fitment align`.") from None


def _setting_of(given: dict[str, Any]) -> Setting:
    """One setting of a file. Raises UnitError, KeyError, TypeError, AttributeError for what is none."""
    angles = given.get("angles_deg") or {}
    return Setting(
        str(given["adjuster"]),
        out=_number(given.get("out_mm"), "out_mm"),
        forward=_number(given.get("forward_mm"), "forward_mm"),
        angles=tuple(to_plain(angle, "angles_deg") for angle in angles.values()),
        bushings=tuple(angles),
        length=_number(given.get("length_mm"), "length_mm"),
    )


def _number(given: object, what: str) -> float | None:
    return None if given is None else to_plain(given, what)
