"""A second reading of the right side, laid into the profile: its `right`, and what follows from it on the left.

The sheets read y of a point as half of the distance between both sides. Of what moves with the axle that is the mean
of both: with the axle off the middle it stands that much farther out on one side and farther in on the other. What the
body carries stays where it is. What was read from the hub face is the left one's.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from copy import deepcopy
from itertools import pairwise
from typing import Any

from fitment.profile.values import oclock
from fitment.profile.yaml_core import At
from fitment.units import to_mm

DECIMALS = 3  # of a mm, and of a degree of a clock point that was moved
ENDS = ("from", "to")
Data = dict[str, Any]
Place = tuple[float, float, float]


def is_inner(part: Mapping[str, Any], axle: Mapping[str, Any]) -> bool:
    """Whether a gap to the tire can be read to a part inboard of the hub face."""
    places = [place(point, part, axle) for point in _points(part)]
    return bool(places) and min(y for _, y, _ in places) < 0


def lip_of(axle: Mapping[str, Any]) -> str | None:
    """Name of the lip over the wheel: of edges on the body that pass over the hub outboard of it, the lowest."""
    found = {
        part["name"]: over(part, axle)
        for part in axle.get("obstacles") or ()
        if part.get("shape") == "edge" and part.get("fixed_to", "body") == "body"
    }
    lips = {name: at for name, at in found.items() if at and at[0] > 0 and at[1] > 0}
    return min(lips, key=lambda name: lips[name][1]) if lips else None


def over(part: Mapping[str, Any], axle: Mapping[str, Any]) -> tuple[float, float] | None:
    """Where an edge passes over the hub's centre: distance out of the left hub face, height over its centre [mm].

    Straight between the two points beside it; the highest place where there are several. None where there is none.
    """
    places = [place(point, part, axle) for point in part.get("points") or ()]
    found = []
    for (x0, y0, z0), (x1, y1, z1) in pairwise(places):
        if min(x0, x1) <= 0 <= max(x0, x1) and x0 != x1:
            share = x0 / (x0 - x1)
            found.append((y0 + share * (y1 - y0), z0 + share * (z1 - z0)))
    return max(found, key=lambda at: at[1]) if found else None


def place(point: Any, part: Mapping[str, Any], axle: Mapping[str, Any]) -> Place:
    """A point from the centre of the left hub face, along the body's axes [mm]."""
    if isinstance(point, list):
        x, y, z = map(_mm, point)
        return x, y - (0.0 if _from_hub(part) else _half(axle)), z
    if "clock" in point:
        angle, radius = math.radians(_degrees(point["clock"])), _mm(point["radius"])
        return radius * math.cos(angle), _mm(point["out"]), radius * math.sin(angle)
    up = _mm(point["up"]) if "up" in point else _mm(point["above_ground"]) - _mm(axle["hub_height"])
    return _mm(point["ahead"]), _mm(point["out"]), up


def with_right(axle: Mapping[str, Any], read: Mapping[str, Any]) -> tuple[Data, dict[At, str]]:
    """The axle with its right side, and remarks by the path within it.

    read : camber, hub_face, lip_up, lip_out, part and gap, as far as they were read, plain values of the profile
    Source: geometry: with the hub faces W apart and the right one R from the centre plane the axle stands W / 2 - R to
    the left.
    """
    left, right, said = deepcopy(dict(axle)), Data(), []
    off = 0.0
    if "hub_face" in read:
        off = _half(axle) - _mm(read["hub_face"])
        said.append(_off_the_middle(left, right, axle, read["hub_face"], off))
    if "camber" in read:
        _into(right, ("suspension", "camber"), read["camber"])
        said.append("camber as read")
    parts: dict[str, Data] = {}
    lip = lip_of(axle)
    for part in axle.get("obstacles") or ():
        own: Data = {}
        if part["name"] == read.get("part"):
            own = {"measured_gap": {"to": "tire", "gap": read["gap"]}}
            said.append(f"{part['name']}: its gap to the tire as read")
        elif part["name"] == lip and not read.keys().isdisjoint(("lip_up", "lip_out")):
            own, words = _lip(part, axle, read, off)
            said.append(words)
        elif off:
            own = _seen_from_the_right(part, axle, off)
        if own:
            parts[part["name"]] = right.get("obstacles", {}).get(part["name"], {}) | own
    if parts or "obstacles" in right:
        right["obstacles"] = right.get("obstacles", {}) | parts
    left["right"] = right
    remarks: dict[At, str] = {("right",): "read on the right, in a mirror: " + "; ".join(said)}
    if off:
        remarks["hub_face_at",] = "the hub face width less the right one's distance from the centre line"
    return left, remarks


# hub faces -----------------------------------------------------------------------------------------------------


def _off_the_middle(left: Data, right: Data, axle: Mapping[str, Any], face: Any, off: float) -> str:
    """Both hub faces, and on each side what moves with the axle."""
    band = _band(face) + _band(axle["hub_face_width"])
    y = _rounded(_half(axle) + off)
    left["hub_face_at"] = [0, {"value": y, "tolerance": _rounded(band)} if band else y, 0]
    right["hub_face_at"] = [0, face, 0]
    for side, by in ((left, off), (right, -off)):
        for path, value in _carried(axle, by):
            _into(side, path, value)
    bar = (axle["suspension"].get("points") or {}).get("panhard_axle")
    if isinstance(bar, list):  # there is one, in the left side's place
        _into(left, ("suspension", "points", "panhard_axle"), moved(bar, off, 0))
    if not off:
        return "its hub face is as far out as the left one"
    way = "left" if off > 0 else "right"
    return (
        f"the axle stands {abs(off):.1f} mm to the {way}, so what moves with it and was read from the centre plane is "
        "moved by that on both sides"
    )


def _carried(axle: Mapping[str, Any], by: float) -> Iterator[tuple[At, Any]]:
    """Points from the centre plane that move with the axle, moved outboard, each with its path; parts by name."""
    yield from _carried_joints(axle["suspension"], by)
    low = axle.get("low_points") or ()
    if any(_moves(point) for point in low):
        yield (
            ("low_points",),
            [point | {"at": _each(point["at"], by, 0, taped=False)} if _moves(point) else point for point in low],
        )
    for part in axle.get("obstacles") or ():
        if _from_hub(part):
            continue
        for key in ("points", "rows", "corners", "at"):
            if key in part and _moves(part):
                yield ("obstacles", part["name"], key), _each(part[key], by, 0, taped=False)
        for key in ENDS:
            end = part.get(key)
            if end and end.get("fixed_to", part.get("fixed_to", "body")) != "body":
                yield ("obstacles", part["name"], key), end | {"at": _each(end["at"], by, 0, taped=False)}


def _carried_joints(suspension: Mapping[str, Any], by: float) -> Iterator[tuple[At, Any]]:
    for key in ("points", "steering_axis", "links"):
        named = suspension.get(key)
        for name, point in named.items() if isinstance(named, dict) else ():
            on_axle = not name.startswith("panhard") and (key != "links" or name.endswith("_axle"))
            if isinstance(point, list) and on_axle:
                yield ("suspension", key, name), moved(point, by, 0)


def _seen_from_the_right(part: Mapping[str, Any], axle: Mapping[str, Any], off: float) -> Data:
    """A part of the body that was read from the left hub face, as it stands to the right one.

    A gap that was read is made smaller by what the axle is off, never larger: across it may be less.
    """
    if part.get("fixed_to", "body") != "body":
        return {}
    moved_part: Data = {
        key: _each(part[key], 2 * off, 0, plain=_from_hub(part))
        for key in ("points", "rows", "corners", "at")
        if key in part
    }
    for key in ENDS:
        end = part.get(key)
        if end and end.get("fixed_to", "body") == "body":
            moved_part[key] = end | {"at": _each(end["at"], 2 * off, 0, plain=_from_hub(part))}
    changed = {key: value for key, value in moved_part.items() if value != part[key]}
    gap = part.get("measured_gap")
    if gap and is_inner(part, axle) == (off > 0):
        changed["measured_gap"] = gap | {"gap": max(_rounded(_mm(gap["gap"]) - 2 * abs(off)), 0)}
    return changed


# the lip -------------------------------------------------------------------------------------------------------


def _lip(part: Mapping[str, Any], axle: Mapping[str, Any], read: Mapping[str, Any], off: float) -> tuple[Data, str]:
    """The lip's points moved by what was read on the right, and what was done."""
    at = over(part, axle)
    assert at is not None  # else it is no lip
    out, up = at
    words = []
    lower = min(_mm(read["lip_up"]) - up, 0.0) if "lip_up" in read else 0.0
    if "lip_up" in read:
        higher = _mm(read["lip_up"]) - up
        words.append(f"{-lower:.1f} mm lower" if lower else f"not raised, though {higher:.1f} mm higher")
    by_face, by_plane = 2 * off, 0.0  # how far out its points move: those from the hub face, from the centre plane
    if "lip_out" in read:
        farther = _mm(read["lip_out"]) - out
        by_face, by_plane = farther, farther - off
        words.append(f"{abs(farther):.1f} mm farther {'out' if farther > 0 else 'in'} against the hub face")
    points = [
        moved(point, by_plane if isinstance(point, list) and not _from_hub(part) else by_face, lower)
        for point in part["points"]
    ]
    own: Data = {"points": points}
    if "measured_gap" in part:
        own["measured_gap"] = None
    return own, f"{part['name']}: all of it {' and '.join(words)}"


# values --------------------------------------------------------------------------------------------------------


def moved(point: Any, out: float, up: float) -> Any:
    """A point farther out and up [mm], in the form in which it is written, tolerances kept."""
    if isinstance(point, list):
        x, y, z = point
        return [x, _plus(y, out), _plus(z, up)]
    if "clock" not in point:
        height = "up" if "up" in point else "above_ground"
        return point | {"out": _plus(point["out"], out), height: _plus(point[height], up)}
    if not up:
        return point | {"out": _plus(point["out"], out)}
    angle, radius = math.radians(_degrees(point["clock"])), _mm(point["radius"])
    ahead, height_now = radius * math.cos(angle), radius * math.sin(angle) + up
    clock = math.degrees(math.atan2(height_now, ahead))
    return point | {
        "clock": _plus(point["clock"], clock - math.degrees(angle), degrees=True),
        "radius": _plus(point["radius"], math.hypot(ahead, height_now) - radius),
        "out": _plus(point["out"], out),
    }


def _each(points: Any, out: float, up: float, *, plain: bool = True, taped: bool = True) -> Any:
    """One point or lists of points moved; plain, taped : whether those as coordinates, as the tape finds them, are."""
    if isinstance(points, dict):
        return moved(points, out, up) if taped else points
    if isinstance(points, list) and points and isinstance(points[0], list | dict) and not _is_reading(points[0]):
        return [_each(point, out, up, plain=plain, taped=taped) for point in points]
    return moved(points, out, up) if plain else points


def _is_reading(value: Any) -> bool:
    return isinstance(value, dict) and "value" in value


def _moves(part: Mapping[str, Any]) -> bool:
    return bool(part.get("fixed_to", "body") != "body")


def _points(part: Mapping[str, Any]) -> Iterator[Any]:
    for key in ("points", "corners"):
        yield from part.get(key) or ()
    for row in part.get("rows") or ():
        yield from row
    if "at" in part:
        yield part["at"]
    yield from (part[key]["at"] for key in ENDS if key in part)


def _from_hub(part: Mapping[str, Any]) -> bool:
    return part.get("measured_from") == "hub_face"


def _half(axle: Mapping[str, Any]) -> float:
    return _mm(axle["hub_face_width"]) / 2


def _into(node: Any, path: At, value: Any) -> None:
    for step in path[:-1]:
        node = _named(node, step) if isinstance(node, list) else node.setdefault(step, {})
    node[path[-1]] = value


def _named(parts: list[Data], name: Any) -> Data:
    return next(part for part in parts if part["name"] == name)


def _plain(value: Any) -> Any:
    return value["value"] if _is_reading(value) else value


def _mm(value: Any) -> float:
    return to_mm(_plain(value))


def _degrees(value: Any) -> float:
    plain = _plain(value)
    return oclock(plain) if isinstance(plain, str) else float(plain)


def _band(value: Any) -> float:
    return to_mm(value["tolerance"]) if isinstance(value, dict) and "tolerance" in value else 0.0


def _plus(value: Any, by: float, *, degrees: bool = False) -> Any:
    """A reading changed by so much, its tolerance kept; as it was typed where nothing changes."""
    if not by:
        return value
    now = _rounded((_degrees(value) if degrees else _mm(value)) + by)
    return value | {"value": now} if _is_reading(value) else now


def _rounded(value: float) -> float | int:
    near = round(value, DECIMALS)
    return int(near) if near == int(near) else near
