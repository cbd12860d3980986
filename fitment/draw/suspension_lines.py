"""Arms and rods of a suspension as lines through its hardpoints, in any pose."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fitment.frames import Array
from fitment.motion.link_suspension import RODS, carrier_of
from fitment.motion.poses import Poses
from fitment.motion.solid_axle import LINKS
from fitment.parts.axle import Axle, LinkSuspension, SolidAxle
from fitment.parts.obstacles import Point

LOWER_ARM = ("lower arm", ("lower_inner_front", "lower_ball", "lower_inner_rear"))
UPPER_ARM = ("upper arm", ("upper_inner_front", "upper_ball", "upper_inner_rear"))
TIE_ROD = ("tie rod", ("tie_inner", "tie_outer"))
CHAINS: dict[str, tuple[tuple[str, tuple[str, ...]], ...]] = {
    "double_wishbone": (LOWER_ARM, UPPER_ARM, TIE_ROD),
    "strut": (LOWER_ARM, ("strut", ("strut_top", "strut_axis_point")), TIE_ROD),
    "five_link": tuple((name, (body, knuckle)) for name, body, knuckle in RODS["five_link"]),
}


@dataclass(frozen=True)
class Member:
    """An arm or rod: its name, the names of its points (empty for one that is no hardpoint), their places (k, 3)."""

    name: str
    ends: tuple[str, ...]
    places: Array


@dataclass(frozen=True)
class _Pose:
    poses: Poses
    index: int

    def moved(self, carrier: str, place: Point) -> Array:
        turn, shift = self.poses.motions[carrier]
        return np.asarray(turn[self.index] @ np.array(place) + shift[self.index])


def members_of(axle: Axle, poses: Poses, index: int) -> tuple[Member, ...]:
    """Arms and rods in one pose, body frame [mm]; none where no hardpoint is known."""
    pose, suspension = _Pose(poses, index), axle.suspension
    if isinstance(suspension, LinkSuspension):
        places = {**dict(suspension.points), **dict(suspension.on_body)}
        return tuple(
            Member(name, ends, np.array([pose.moved(carrier_of(end), places[end]) for end in ends]))
            for name, ends in CHAINS[suspension.kind]
        )
    return _beam(axle, suspension, pose) if isinstance(suspension, SolidAxle) else ()


def _beam(axle: Axle, solid: SolidAxle, pose: _Pose) -> tuple[Member, ...]:
    """The beam from this hub face to the middle, its ball joints, and the panhard bar where there is one."""
    x, y, z = axle.hub_face_at
    members = [Member("axle", ("", ""), np.array([pose.moved("axle", (x, 0.0, z)), pose.moved("axle", (x, y, z))]))]
    mirror = -1.0 if pose.poses.corner[pose.index] == "right" else 1.0
    if solid.panhard_body is not None and solid.panhard_axle is not None:
        (bx, by, bz), (ax, ay, az) = solid.panhard_body, solid.panhard_axle
        ends = [pose.moved("body", (bx, mirror * by, bz)), pose.moved("axle", (ax, mirror * ay, az))]
        members.append(Member("panhard bar", ("panhard_body", "panhard_axle"), np.array(ends)))
    at = dict(solid.links)
    for name, (body, end) in LINKS.items():
        if body in at:
            places = [pose.moved("body", at[body]), pose.moved("axle", at[end])]
            members.append(Member(name, (body, end), np.array(places)))
    return tuple(members)


def hardpoints(axle: Axle) -> dict[str, Point]:
    """Every hardpoint of the profile by its name [mm]; empty where none is known."""
    suspension = axle.suspension
    if isinstance(suspension, LinkSuspension):
        return {name: place for _, ends in CHAINS[suspension.kind] for name, place in _some(suspension, ends)}
    if not isinstance(suspension, SolidAxle):
        return {}
    known = {
        "panhard_body": suspension.panhard_body,
        "panhard_axle": suspension.panhard_axle,
        "lower_ball": suspension.axis_lower,
        "upper_ball": suspension.axis_upper,
        **dict(suspension.links),
    }
    return {name: place for name, place in known.items() if place is not None}


def _some(suspension: LinkSuspension, names: tuple[str, ...]) -> list[tuple[str, Point]]:
    places = {**dict(suspension.points), **dict(suspension.on_body)}
    return [(name, places[name]) for name in names]


def rod_lengths(axle: Axle) -> tuple[tuple[str, float], ...]:
    """(name, length [mm]) of what a tape can measure from point to point."""
    points = hardpoints(axle)
    suspension = axle.suspension
    if isinstance(suspension, LinkSuspension):
        rods = RODS[suspension.kind]
    else:
        known = {"panhard bar": ("panhard_body", "panhard_axle"), **LINKS}
        rods = tuple((name, *ends) for name, ends in known.items() if ends[0] in points)
    return tuple(
        (name, float(np.linalg.norm(np.array(points[start]) - np.array(points[end])))) for name, start, end in rods
    )
