"""The answer of `fitment align`: state at each ride height, what can be reached, the settings for a target."""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from fitment import profile as profiles
from fitment.adjusters import Setting, adjusted
from fitment.alignment import Choice, Reach, Target, nearest, reach
from fitment.cases import Ready, rake
from fitment.errors import FitmentError
from fitment.stance import Stance, stance
from fitment.vehicle import LinkSuspension, Setup

LARGEST = {"camber": 15.0, "caster": 30.0}  # [deg] beyond which a target is not plausible


@dataclass(frozen=True)
class RideState:
    """The wheel at rest at one height; caster_to_ground [deg] is None without the other axle and a wheelbase."""

    name: str | None
    stance: Stance
    caster_to_ground: float | None


@dataclass(frozen=True)
class Alignment:
    """One axle: its state by ride height; at `travel` [mm] what the adjusters reach and the choice for a target.

    reach, choice : None where there is nothing to adjust (then `why_not` says so) or no target was given
    """

    ready: Ready
    rides: tuple[RideState, ...]
    travel: float
    ride_name: str | None
    present: Stance
    reach: Reach | None
    why_not: str
    target: Target | None
    choice: Choice | None


def align(ready: Ready, ride: str | None, *, camber: float | None = None, caster: float | None = None) -> Alignment:
    """Everything about one axle's alignment. Raises FitmentError."""
    for name, value in (("camber", camber), ("caster", caster)):
        if value is not None and not -LARGEST[name] <= value <= LARGEST[name]:
            raise FitmentError(f"--{name} {value:g}: a target is within {LARGEST[name]:g} deg of zero.")
    setup = profiles.setup(ready.profile, ready.axle.name, ready.build, ride=ride)
    heights: list[tuple[str | None, float]] = [*ready.axle.ride_heights]
    if setup.ride not in [z for _, z in heights]:
        heights.append((setup.ride_name, setup.ride))
    target = Target(camber, caster) if camber is not None or caster is not None else None
    found, why_not = _reach(ready, setup)
    if target is not None and found is None:
        raise FitmentError(f"no settings for a target: {why_not}.")
    return Alignment(
        ready=ready,
        rides=tuple(_state(ready, replace(setup, ride=z), name) for name, z in heights),
        travel=setup.ride,
        ride_name=setup.ride_name,
        present=stance(ready.axle, setup, ready.deflection),
        reach=found,
        why_not=why_not,
        target=target,
        choice=None if target is None else nearest(ready.axle, setup.ride, target),
    )


def with_settings(ready: Ready, settings: Sequence[Setting], ride: float) -> Ready:
    """The axle, and each of its variants, with the settings made and toe re-set at a ride height [mm]."""
    variants = tuple(replace(variant, axle=adjusted(variant.axle, settings, travel=ride)) for variant in ready.variants)
    return replace(ready, axle=adjusted(ready.axle, settings, travel=ride), variants=variants)


def _reach(ready: Ready, setup: Setup) -> tuple[Reach | None, str]:
    if not isinstance(ready.axle.suspension, LinkSuspension):
        return None, "the suspension is given without hardpoints, so adjusters have nothing to move"
    if not ready.axle.adjusters:
        return None, "the profile names no adjusters on this axle"
    return reach(ready.axle, setup.ride), ""


def _state(ready: Ready, setup: Setup, name: str | None) -> RideState:
    stands = stance(ready.axle, setup, ready.deflection)
    pitch = rake(ready.profile, ready.build, _heights(ready, setup.ride, name))
    to_ground = None if pitch is None or stands.caster is None else stands.caster - pitch
    return RideState(name, stands, to_ground)


def _heights(ready: Ready, ride: float, name: str | None) -> dict[str, float]:
    """Travel at rest of both axles: the other one at its height of the same name, where it has one [mm]."""
    found = {ready.axle.name: ride}
    for other in ready.profile.axle_names:
        if other != ready.axle.name and name is not None:
            same = dict(profiles.axle(ready.profile, other, ready.build).ride_heights).get(name)
            if same is not None:
                found[other] = same
    return found


def read_settings(text: str) -> list[Setting]:
    """Settings from a file that `align` wrote as JSON, or from a text. Raises FitmentError.

    A text names each adjuster: "ball joint position = out 6, forward -6; lower eccentrics = 90, 120", or for a link
    "toe link = longer 2".
    """
    path = Path(text)
    if path.suffix == ".json":
        return _from_json(path)
    found = []
    for part in filter(None, (part.strip() for part in text.split(";"))):
        name, sign, values = part.partition("=")
        if not sign:
            raise FitmentError(f'--settings "{part}": write NAME = out 6, forward -6 or NAME = 90, 120 (degrees).')
        found.append(_setting(name.strip(), values))
    if not found:
        raise FitmentError("--settings is empty; write NAME = out 6, forward -6 or NAME = 90, 120 (degrees).")
    return found


def _setting(name: str, values: str) -> Setting:
    longer = re.fullmatch(r"\s*longer\s+([+-]?\d+(?:\.\d+)?)\s*", values)
    if longer:
        return Setting(name, length=float(longer[1]))
    words = re.findall(r"(out|forward)\s+([+-]?\d+(?:\.\d+)?)", values)
    if words:
        given = {key: float(value) for key, value in words}
        return Setting(name, out=given.get("out", 0.0), forward=given.get("forward", 0.0))
    try:
        return Setting(name, angles=tuple(float(value) for value in values.split(",")))
    except ValueError:
        raise FitmentError(
            f'--settings "{name} ={values}": give "out 6, forward -6" (mm) or an angle a bushing, "90, 120" (deg).'
        ) from None


def _from_json(path: Path) -> list[Setting]:
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise FitmentError(f"--settings {path}: cannot be read as JSON ({error}).") from None
    axles = data if isinstance(data, list) else [data]
    data = next((each["settings"] for each in axles if isinstance(each, dict) and each.get("settings")), None)
    if not isinstance(data, list) or not data:
        raise FitmentError(f"--settings {path}: no settings in it; write it with `fitment align ... --out FILE.json`.")
    try:
        return [
            Setting(
                str(each["adjuster"]),
                out=each.get("out_mm"),
                forward=each.get("forward_mm"),
                angles=tuple(map(float, (each.get("angles_deg") or {}).values())),
                length=None if each.get("length_mm") is None else float(each["length_mm"]),
            )
            for each in data
        ]
    except (KeyError, TypeError, AttributeError, ValueError):
        raise FitmentError(f"--settings {path}: its settings are not those of `fitment align`.") from None
