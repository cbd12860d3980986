"""A wheel pushed a little out of where its hub stands: seen from the hub, the obstacle is pushed the other way."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from fitment.clearance.trace import CarriedCorners, Corners, Index, Trace, in_poses
from fitment.frames import Array, rotation_about

WITH_HUB, WITH_BODY = ("knuckle", "axle"), ("body", "rack")
ON_ARMS = 0.5  # of a push against the body, what a part on an arm feels of it; assumption


@dataclass(frozen=True)
class Push:
    """A small rigid displacement of a wheel, about its centre and level axes.

    out, ahead : [mm], outboard and forward along the ground
    camber : [deg], positive = top leans out; turn : [deg], positive to the left
    """

    out: float = 0.0
    ahead: float = 0.0
    camber: float = 0.0
    turn: float = 0.0

    def reach(self, radius: float) -> float:
        """The most that it moves any point within a radius of the wheel's centre [mm].

        radius : [mm]
        Source: geometry, a chord is no longer than its arc.
        """
        return math.hypot(self.out, self.ahead) + math.radians(abs(self.camber) + abs(self.turn)) * radius


@dataclass(frozen=True)
class Pushes:
    """Pushes of a wheel, one after another.

    whole : against the body; own : against the hub's knuckle, whose parts do not feel the rest
    """

    whole: tuple[Push, ...]
    own: tuple[Push, ...]


def pushed(trace: Trace, chosen: Index, up: Array, pushes: Pushes, centre: float) -> Trace:
    """The trace in some of its poses, of each with every push, the first push in all of them first.

    chosen : indices of the poses (q,) [-]; up : the body's upward direction in the hub frame of all poses (n, 3) [-]
    centre : of the wheel, y' [mm]
    A part on the knuckle, or a rod's end there, goes with the hub. What arms carry is taken to go half of the way: an
    arm's outer end goes with the hub, and a wheel only comes near its outer half (assumption).
    Source: geometry: the wheel moves x to c + R (x - c) + t, so the part moves by the inverse against it.
    """
    rows = np.tile(chosen, len(pushes.whole))
    hub, above = in_poses(trace.hub, rows), up[rows]
    shares = [_share(carrier) for carrier in trace.obstacle.fixed_to] if trace.obstacle.shape != "ring" else [0.0]
    moved = _against(hub, above, pushes.whole if max(shares) > 0 else pushes.own, centre)
    if max(shares) > 0 and min(shares) < 1:
        moved = _between(_against(hub, above, pushes.own, centre), moved, np.array(shares))
    return replace(trace, hub=moved, radii=None if trace.radii is None else trace.radii[rows])


def _share(carrier: str) -> float:
    """Of the wheel's push against the body, how much a part feels that this carries [-]."""
    return 0.0 if carrier in WITH_HUB else 1.0 if carrier in WITH_BODY else ON_ARMS


def _between(own: Corners, whole: Corners, share: Array) -> Corners:
    """Corners (n, v, 3) that feel a share of the push, one for all or of each (v,) [-]."""
    if isinstance(own, CarriedCorners) and isinstance(whole, CarriedCorners):
        return CarriedCorners(own.points, own.frame + share.max() * (whole.frame - own.frame))
    first, last = np.asarray(own), np.asarray(whole)
    return np.asarray(first + share[:, None] * (last - first))


def _against(hub: Corners, above: Array, pushes: tuple[Push, ...], centre: float) -> Corners:
    """Corners (n, v, 3) as a pushed wheel sees them, each push in as many poses."""
    each = np.array([[push.out, push.ahead, push.camber, push.turn] for push in pushes])
    out, ahead, camber, turn = np.repeat(each, len(above) // len(pushes), axis=0).T
    forward = np.cross([0.0, 1.0, 0.0], above)
    forward /= np.linalg.norm(forward, axis=-1, keepdims=True)
    outward = np.cross(above, forward)
    turned = rotation_about(above, turn) @ rotation_about(forward, -camber)
    c = np.array([0.0, centre, 0.0])
    return _inverse(hub, turned, c + outward * out[:, None] + forward * ahead[:, None], c)


def _inverse(hub: Corners, turned: Array, moved: Array, c: Array) -> Corners:
    """Corners p as R^T (p - moved) + c; of carried ones their frames, since that is affine."""
    if isinstance(hub, CarriedCorners):
        axes, origin = hub.frame[:, :3] @ turned, (hub.frame[:, 3:] - moved[:, None]) @ turned + c
        return CarriedCorners(hub.points, np.concatenate([axes, origin], axis=1))
    return np.asarray((hub - moved[:, None]) @ turned + c)
