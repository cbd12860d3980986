"""The profile of a first look: its readings as parts, and what was not read as typical values with their bands.

A part that was seen at one place only becomes a flat of a stated size there. Bands without a published source are
common practice, and the remarks in the file say so.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from fitment import profile as profiles
from fitment.checks.fit import touching_at_rest
from fitment.clearance.measured_gap import settle_gaps
from fitment.errors import FitmentError, ProfileError
from fitment.measuring.yaml_writer import yaml_text
from fitment.parts.tables import typical_values
from fitment.parts.tire import overall_diameter, section_width
from fitment.parts.tire_code import parse_tire
from fitment.parts.wheel import parse_wheel
from fitment.profile.yaml_core import At
from fitment.units import split_quantity, to_mm

FLAT = 150.0  # [mm] side of the flat that a part seen at one place is taken for
FLAT_TOLERANCE = 5.0  # [mm] that a part may reach past its flat, beside what the tape gives
HUB_FACE_WIDTH = 1500  # [mm] of an axle nobody measured; no clearance depends on it
DEFLECTED, DEFLECTED_BAND = 1.5, 0.5  # travel of the wheel for a bump stop's gap, least 1, most 2
SQUASHED, SQUASHED_BAND = 20.0, 15.0  # [mm] of travel that the stop itself gives
LOCK_BAND = 2.0  # [deg] of an angle from two readings to a chalk line
GAP, LIP_UP, LIP_AROUND, LIP_OUT = 2.0, 3.0, 5.0, 3.0  # [mm] what the tape gives
LIP = "fender lip"
STATES = {"inboard": "straight", "left": "left", "right": "right"}
_FLAT_WORDS = (
    f"seen at one place: taken for a flat of {FLAT:g} x {FLAT:g} mm there, placed by its gap; what lies beside it is "
    "not checked"
)
HEAD = (
    "A first look at one axle, wheels on, as typed to `fitment new --first`. What was not read is `assumed`: typical,",
    "with a band that counts against you. Write a reading in its place when you have taken it. Lengths in mm unless a",
    "unit stands there, angles in degrees. The left side: x forward, y outboard, z up.",
)


@dataclass
class FirstProfile:
    """A profile as plain data, what is to be said of its values, and what nobody looked at."""

    data: dict[str, Any]
    remarks: dict[At, str] = field(default_factory=dict)
    not_checked: list[str] = field(default_factory=list)


def profile_of(data: Mapping[str, Any], axle: str, units: str = "mm") -> FirstProfile:
    """The profile that the answers of a first look come to. Raises FitmentError.

    data : answers as plain data: axles, builds, and under "first" what is no key of the profile
    units : that they were given in, mm or in
    """
    seen: Mapping[str, Any] = data.get("first") or {}
    given = (data.get("axles") or {}).get(axle) or {}
    builds = {build: dict(corners) for build, corners in (data.get("builds") or {}).items()}
    corner = builds["now"][axle]
    at: At = ("axles", axle)
    remarks: dict[At, str] = {
        (*at, "hub_face_width"): "typical, nobody measured it: every reading here counts from the hub face, so that "
        "no clearance depends on it (common practice, no published source)",
    }
    body: dict[str, Any] = {
        "hub_face_width": HUB_FACE_WIDTH,
        "hub_height": given.get("hub_height", _typical_height(corner)),
        "suspension": _suspension(given, axle),
        "travel": {"droop": "assumed", "bump": _bump(seen.get("stop"), remarks, at)},
    }
    if "hub_height" not in given:
        remarks[*at, "hub_height"] = "not read: the tire's radius less what a load presses it in (common practice)"
    if axle == "front":
        body["steering"] = _locks(seen.get("lock"), corner, remarks, at)
    parts, unseen = _parts(seen, corner, _angle(body.get("steering")), axle)
    body["obstacles"] = [part for part, _ in parts]
    for n, (_, remark) in enumerate(parts):
        remarks[*at, "obstacles", n, "name"] = remark
    right = _right_side(seen, corner)
    if right:
        body["right"] = {"obstacles": right}
    wanted = _wanted(builds.pop("wanted", {}).get(axle), seen.get("lower"), corner)
    if wanted:
        builds["wanted"] = {axle: wanted}
    note = "A first look. Not checked: " + "; ".join(unseen) + "."
    kept = {"units": units} if units != "mm" else {}
    whole = {
        "format": 1,
        **kept,
        "name": "first look",
        "note": note,
        "axles": {axle: body},
        "builds": builds,
        "baseline": "now",
    }
    return FirstProfile(whole, remarks, unseen)


def problem(data: Mapping[str, Any], axle: str, part: str) -> tuple[str, str] | None:
    """What is wrong with a part as typed: the key of its answer to give again, and why; None where nothing is.

    part : inboard, left, right, lip or other, which is the right side
    """
    key = "out" if part == "lip" else "gap"
    made = profile_of({**data, "first": _until(data.get("first") or {}, part)}, axle)
    try:
        profile = profiles.loads_profile(yaml_text(made.data), "profile")
        corner = profile.corners_of(axle)[-1]  # where the sides differ, the right one
        setup = profiles.setup(profile, corner)
        stood = profiles.axle(profile, corner)
        touching = touching_at_rest(settle_gaps(stood, stood, setup), setup)
        if touching and part == "other":
            return ("out" if LIP in touching else "gap"), _INSIDE[part]
        if touching:
            return ("out" if part == "lip" else "where"), _INSIDE[part]
    except ProfileError as error:
        return key, error.message
    except FitmentError as error:
        return key, str(error)
    return None


_INSIDE = {
    "other": "read so, the part stands inside the right tire that is on the vehicle now; read it again.",
    "lip": "read so, the lip stands inside the tire that is on the vehicle now; read 4 to 7 again.",
    "inboard": "read so, the part stands inside the tire that is on the vehicle now; read where it is and its gap "
    "again.",
    "left": "read so, the part stands inside the tire when the wheels are straight; read where it is and its gap "
    "again. At full left lock it is the rear half of the left tire that comes in.",
    "right": "read so, the part stands inside the tire when the wheels are straight; read where it is and its gap "
    "again. At full right lock it is the front half of the left tire that comes in.",
}


def _until(seen: Mapping[str, Any], part: str) -> dict[str, Any]:
    """The readings without the other parts, so that what cannot be placed is this one."""
    kept = (part, "lip", "inboard") if part == "other" else (part,)
    return {key: value for key, value in seen.items() if key in kept or key not in (*STATES, "lip", "other")}


def first_cause(error: ProfileError, data: Mapping[str, Any]) -> str:
    """Key path of the answer of a first look to give again for a profile that cannot be checked."""
    seen = data.get("first") or {}
    if LIP in error.message:
        return "first.lip.out"
    for key in STATES:
        if key in seen and str(seen[key]["what"]) in error.message:
            return f"first.{key}.gap"
    return error.key


# values --------------------------------------------------------------------------------------------------------


def mm_of(given: Any) -> float:
    """A typed length [mm], with or without its tolerance."""
    return to_mm(given["value"] if isinstance(given, Mapping) else given)


def _with(given: Any, tolerance: float) -> dict[str, Any]:
    """A typed length with its tolerance; where none was typed, with what the tape gives [mm]."""
    return dict(given) if isinstance(given, Mapping) else {"value": given, "tolerance": tolerance}


def _more(given: Any, tolerance: float, more: float) -> float:
    """Tolerance of a typed length and some more [mm]."""
    if not isinstance(given, Mapping):
        return tolerance + more
    bare, value = given["tolerance"], given["value"]
    unit = split_quantity(value)[1] if isinstance(value, str) else ""
    return round(to_mm(f"{bare} {unit}" if unit and not isinstance(bare, str) else bare) + more, 1)


def _angle(steering: Mapping[str, Any] | None) -> dict[str, float]:
    """Steer of the left wheel in each state [deg], left positive, for laying a flat where it was seen."""
    typical = typical_values()
    if steering is None:
        return dict.fromkeys(STATES, 0.0)
    left = steering["lock_left"]
    return {
        "inboard": 0.0,
        "left": left["value"] if isinstance(left, Mapping) else typical["steering.lock_left"].value,
        "right": -typical["steering.lock_right"].value,
    }


def _typical_height(corner: Mapping[str, Any]) -> dict[str, Any]:
    radius = overall_diameter(parse_tire(corner["tire"]["code"])) / 2
    return {"value": round(0.955 * radius), "tolerance": round(0.03 * radius), "assumed": True}


def _suspension(given: Mapping[str, Any], axle: str) -> dict[str, Any]:
    camber = (given.get("suspension") or {}).get("camber", "assumed")
    steers = {"steering_axis": "assumed"} if axle == "front" else {}
    return {
        "kind": "tape", "camber": camber, "toe_in": "assumed", "camber_per_100mm": "assumed",
        "track_per_100mm": "assumed", **steers,
    }  # fmt: skip


def _bump(stop: Any, remarks: dict[At, str], at: At) -> Any:
    """Travel up to the bump stop: the wheel moves 1 to 2 times as far as the stop's gap, and squashes the stop."""
    if stop is None:
        return "assumed"
    gap = mm_of(stop)
    remarks[*at, "travel"] = (
        f"bump: 1 to 2 times the bump stop's gap of {gap:.0f} mm, and 5 to 35 mm that the stop itself gives (common "
        "practice, no published source); jack the wheel up to its stop to measure it"
    )
    value, band = DEFLECTED * gap + SQUASHED, DEFLECTED_BAND * gap + SQUASHED_BAND
    return {"value": round(value), "tolerance": round(band), "assumed": True}


def lock_from(front: float, rear: float, across: float) -> float:
    """Angle of the wheel to a chalk line along the vehicle [deg].

    front, rear : from the line to the tread's edge [mm]; across : from the one reading to the other [mm]
    Raises FitmentError where the readings are farther apart than that.
    Source: geometry.
    >>> round(lock_from(200.0, 520.0, 640.0), 6)
    30.0
    """
    apart = abs(rear - front)
    if apart >= 0.97 * across:
        raise FitmentError(
            f"the readings differ by {apart:.0f} mm, and the tire is only {across:.0f} mm across; measure both at hub "
            "height, from one line."
        )
    return math.degrees(math.asin(apart / across))


def lock_of(given: Any, corner: Mapping[str, Any]) -> float:
    """The left lock that two readings tell [deg]. Raises FitmentError."""
    front, rear = (mm_of(length) for length in given)
    angle = lock_from(front, rear, overall_diameter(parse_tire(corner["tire"]["code"])))
    if not 10 <= angle <= 60:
        raise FitmentError(
            f"that is a lock of {angle:.0f} degrees; 10 to 60 are plausible. Measure both to one chalk line along the "
            "vehicle, at hub height."
        )
    return angle


def _locks(given: Any, corner: Mapping[str, Any], remarks: dict[At, str], at: At) -> dict[str, Any]:
    if given is None:
        return {"lock_left": "assumed", "lock_right": "assumed"}
    remarks[*at, "steering"] = "lock_left from two readings to a chalk line; lock_right was not read"
    angle = lock_of(given, corner)
    return {"lock_left": {"value": round(angle, 1), "tolerance": LOCK_BAND}, "lock_right": "assumed"}


def _wanted(corner: Mapping[str, Any] | None, lower: Any, now: Mapping[str, Any]) -> dict[str, Any]:
    """What is wanted; what was skipped is as it is now. Empty where nothing is wanted."""
    if not corner and lower is None:
        return {}
    ride = {} if lower is None else {"ride": lower["value"] if isinstance(lower, Mapping) else lower}
    return {"wheel": now["wheel"], "tire": now["tire"], **(corner or {}), **ride}


# parts ---------------------------------------------------------------------------------------------------------

Part = tuple[dict[str, Any], str]
"""A part, and what is to be said of it"""


def _parts(
    seen: Mapping[str, Any], corner: Mapping[str, Any], steer: Mapping[str, float], axle: str
) -> tuple[list[Part], list[str]]:
    """The parts that were seen, and what nobody looked at."""
    parts, unseen = [], []
    if "lip" in seen:
        parts.append(_lip(seen["lip"], corner))
        unseen.append("the lip below 10:30 and 1:30")
    else:
        unseen.append("the fender lip")
    for key, state in STATES.items():
        if key != "inboard" and axle == "rear":
            continue
        where = {"straight": "inboard of the tire", "left": "at full left lock", "right": "at full right lock"}[state]
        if key not in seen:
            unseen.append(f"what is nearest {where}")
            continue
        parts.append(_seen(key, seen[key], corner, steer[key], [part["name"] for part, _ in parts]))
    unseen.append("what was not the nearest part, the brake, the hub, the studs")
    other = seen.get("other") or {}
    looked = other.get("same") == "same" or len(other) > 1
    unseen.append("the right side but for lip and inner gap" if looked else "the right side")
    return parts, unseen


def _right_side(seen: Mapping[str, Any], corner: Mapping[str, Any]) -> dict[str, Any]:
    """What reads otherwise on the right, by part; what was not read there is as on the left.

    A lip that is higher over the wheel is not raised beside it, where nobody looked.
    """
    other, found = seen.get("other") or {}, dict[str, Any]()
    if "lip" in seen and ("up" in other or "out" in other):
        lip = dict(seen["lip"])
        lower = min(mm_of(other["up"]) - mm_of(lip["up"]), 0.0) if "up" in other else 0.0
        around = {
            key: {**_with(lip[key], LIP_AROUND), "value": round(mm_of(lip[key]) + lower, 1)}
            for key in ("before", "behind")
        }
        found[LIP] = _lip({**lip, **around, **other}, corner)[0]
    if "inboard" in seen and "gap" in other:
        part = _seen("inboard", {**seen["inboard"], "gap": other["gap"]}, corner, 0.0, [])[0]
        found[part["name"]] = part
    kept = ("points", "wall", "rows", "measured_gap", "tolerance")
    return {name: {key: part[key] for key in kept if key in part} for name, part in found.items()}


def _lip(given: Mapping[str, Any], corner: Mapping[str, Any]) -> Part:
    """The bodywork's edge, a smooth curve through its three readings."""
    readings = ((45, "before", LIP_AROUND), (90, "up", LIP_UP), (135, "behind", LIP_AROUND))
    wheel = parse_wheel(corner["wheel"]["spec"])
    out = round(wheel.rim_width / 2 - wheel.offset)
    points = [
        {"clock": clock, "radius": _with(given[key], tolerance), "out": out} for clock, key, tolerance in readings
    ]
    part = {
        "name": LIP, "shape": "edge", "smooth": True, "cover": True, "points": points,
        "measured_gap": {"to": "rim_plane", "gap": given["out"]["value"] if isinstance(given["out"], Mapping)
                         else given["out"]},
        "tolerance": _more(given["out"], LIP_OUT, 0.0),
    }  # fmt: skip
    return part, "a smooth edge through 10:30, 12:00 and 1:30, as far outboard as the straightedge read at 12:00"


def _seen(key: str, given: Mapping[str, Any], corner: Mapping[str, Any], steer: float, others: list[str]) -> Part:
    """A part that was seen at one place, as a flat there."""
    state = STATES[key]
    name = given["what"] if state == "straight" else f"{given['what']} at {state} lock"
    while name in others:
        name += " seen there"
    wheel, tire = parse_wheel(corner["wheel"]["spec"]), parse_tire(corner["tire"]["code"])
    radius, width = overall_diameter(tire) / 2, section_width(tire, wheel.rim_width)
    middle = (radius + wheel.rim_diameter / 2 * 25.4) / 2
    clock, gap = _degrees(given["where"]["clock"]), mm_of(given["gap"])
    surface = (
        _tread_flat(clock, radius + gap, width, wheel.offset, steer)
        if given["where"]["tread"]
        else _side_flat(clock, middle, -wheel.offset - width / 2 - gap, steer)
    )
    carrier = {"fixed_to": "knuckle"} if given.get("moves") else {}
    at = {} if state == "straight" else {"at": {"lock": state}}
    along = {"along": "radial"} if given["where"]["tread"] else {}
    bare = given["gap"]["value"] if isinstance(given["gap"], Mapping) else given["gap"]
    part = {
        "name": name, "shape": "panel", **carrier, **surface,
        "measured_gap": {"to": "tire", "gap": bare, **at, **along},
        "tolerance": _more(given["gap"], GAP, FLAT_TOLERANCE),
    }  # fmt: skip
    fixed = "" if carrier else "; taken as fixed to the body"
    return part, _FLAT_WORDS + fixed


def _degrees(clock: str) -> float:
    """Angle about the hub, 0 forward and 90 up [deg], of a time seen from outside the left side.

    Source: a clock's hour hand turns 30 deg an hour, and 9:00 is forward.
    """
    hours, minutes = clock.split(":")
    return (30.0 * (int(hours) + int(minutes) / 60) - 270.0) % 360.0


def _side_flat(clock: float, radius: float, out: float, steer: float) -> dict[str, Any]:
    """An upright flat beside the sidewall, parallel to the vehicle's side."""
    a = math.radians(clock)
    ahead, up = radius * math.cos(a) * math.cos(math.radians(steer)), radius * math.sin(a)
    ends = {key: [round(middle - FLAT / 2), round(middle + FLAT / 2)] for key, middle in (("up", up), ("ahead", ahead))}
    return {"wall": {"out": round(out + min(0.0, ahead * math.sin(math.radians(steer)))), **ends}}


def _tread_flat(clock: float, radius: float, width: float, offset: float, steer: float) -> dict[str, Any]:
    """A flat square to the way from the hub centre, as wide as the tire there [mm, deg]."""
    a, turn = math.radians(clock), math.radians(steer)
    shift = radius * math.cos(a) * math.sin(turn)
    away = (math.cos(a) * math.cos(turn), math.sin(a))

    def point(side: float, out: float) -> dict[str, Any]:
        ahead, up = radius * away[0] - side * away[1], radius * away[1] + side * away[0]
        return {"ahead": round(ahead), "up": round(up), "out": round(out)}

    outer = width / 2 - offset  # of the tire, straight ahead
    outs = [shift - offset - width / 2, shift - offset + width / 2]
    if shift > 0 and turn != 0:  # the hub swings away from it: where the tire now passes straight ahead it cannot be
        outs[0] = max(outs[0], outer)
    return {"rows": [[point(side, out) for out in outs] for side in (-FLAT / 2, FLAT / 2)]}
