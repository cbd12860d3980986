"""A solid axle: heave and roll of one rigid beam, led by its links or leaf springs and sideways by its panhard bar.

The heights of both wheels are given; fore and aft, sideways, and the turns about z and about the beam itself follow
from the lengths of the links. Where these are more than the beam has freedoms, as in roll four links are, their
bushings give: they are taken as equally stiff, so the sum of the squares of what the lengths are off by is least. The
beam turns about itself only where upper links are known, or as `caster_per_100mm` says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fitment.errors import MotionError
from fitment.frames import Array, hub_rotation, rotation_about, spin_axis, unit
from fitment.motion.poses import Poses, poses_with_body
from fitment.motion.steering_axis import turned_to
from fitment.parts.axle import Axle, SolidAxle
from fitment.parts.obstacles import Point

STRAIGHT = 1e-9  # [deg]
SCALE = 500.0  # [mm] weighs a turn of the beam against a shift of it
SETTLED, ROUNDS = 1e-9, 40  # [mm] of a step at which a beam on its links is placed, and after how many it is not
RIDGE = 1e-9  # [-] keeps a turn that links do not hold where it is
GIVES = 10.0  # [mm] by which bushings let a link be off its length at most; common practice, no published source
SPLAYED = 10.0  # [deg] of a link in plan view from which the links hold the beam sideways too; assumption
LINKS = {  # what a link is called, its end on the body, its end on the axle
    "lower link": ("lower_body", "lower_axle"),
    "upper link": ("upper_body", "upper_axle"),
    "leaf spring": ("spring_eye", "spring_axle"),
}
UP = np.array([0.0, 0.0, 1.0])
WEIGHTS = np.array([1.0, 1.0, SCALE, SCALE])


def solid_axle_poses(
    axle: Axle, solid: SolidAxle, travel: Array, steer: Array, opposite: Array, *, corner: str
) -> Poses:
    """Poses of one corner of a solid axle.

    travel, opposite : of this wheel and of the opposite one (n,) [mm], + up
    steer : (n,) [deg], + to the left
    corner : 'right' gives the right corner, mirrored, so that y is outboard there too
    Raises MotionError where the wheels stand too far apart in height, or a bar or link is too short.
    Source: derived here: heave and roll of one rigid beam, bar and links of constant length; idealised as the module
    says.
    """
    beam = _beam(axle, solid, mirrored=corner == "right")
    own = spin_axis(solid.camber, -solid.toe_in)

    def carried(height: Array) -> tuple[Array, Array]:
        return beam.placed(height, opposite)

    if solid.axis_lower is None or solid.axis_upper is None:
        if np.any(np.abs(steer + solid.toe_in) > STRAIGHT):
            raise MotionError(
                "this axle has no steering axis, so it stands at its own toe only; leave out the steer angle."
            )
        turn, origin = carried(travel)
        ends, axis = (turn, origin), None
    else:
        lower, upper = np.array(solid.axis_lower), np.array(solid.axis_upper)
        turn, origin, height = turned_to(carried, beam.end, own, (lower, upper), travel, steer)
        shift = origin - turn @ beam.end
        axis = turn @ lower + shift, turn @ upper + shift
        ends = carried(height)
    motions = {"knuckle": (turn, origin - turn @ beam.end), "axle": (ends[0], ends[1] - ends[0] @ beam.end)}
    return poses_with_body(origin, turn @ hub_rotation(own), motions, axis=axis, opposite=opposite, corner=corner)


def rod_of_leaf(eye: Array, seat: Array) -> Array:
    """The body's end (3,) [mm] of a rod that leads the axle as the front half of a leaf spring does.

    eye : centre of the spring's eye on the body (3,) [mm]
    seat : where it is clamped to the axle (3,) [mm]
    Source: derived here: a leaf of constant curvature and length L whose clamp stays level has its eye (2/3) z^2 / L
    nearer than when flat, z its rise. A rod of 3/4 L does the same, and stands as far behind the eye as L is longer.
    """
    level = np.array([1.0, 1.0, 0.0]) * (seat - eye)
    reach, rise = np.linalg.norm(level), seat[2] - eye[2]
    return np.asarray(eye + level / reach * (reach + 2 / 3 * rise**2 / reach) / 4)


def rods_of(links: Sequence[tuple[str, Point]]) -> list[tuple[Array, Array]]:
    """Ends of one side's rods on body and axle, each (3,) [mm].

    links : (name, place) as of `SolidAxle` [mm]
    Source: the profile's points; a leaf spring by `rod_of_leaf`.
    """
    at = {name: np.array(point) for name, point in links}
    rods = [(body, at[body], at[end]) for body, end in LINKS.values() if body in at]
    return [(rod_of_leaf(inner, outer) if name == "spring_eye" else inner, outer) for name, inner, outer in rods]


@dataclass(frozen=True, eq=False)
class _Beam:
    """A beam and what leads it, at the reference pose in the corner's own frame [mm].

    end, other : centres of the hub faces (3,)
    inner, outer : ends of the rods on body and beam (k, 3); lead : 0 for a rod of this side, 1 of the other (k,)
    bar : ends of the panhard bar on body and beam, or None
    splayed : the rods hold the beam sideways; turns : they tell how it turns about itself
    last : where a beam on its links stood when it was placed last, which is near to where it is asked for next
    """

    solid: SolidAxle
    end: Array
    other: Array
    inner: Array
    outer: Array
    lead: NDArray[np.intp]
    bar: tuple[Array, Array] | None
    splayed: bool
    turns: bool
    last: list[Array] = field(default_factory=list)

    @property
    def middle(self) -> Array:
        return np.asarray((self.end + self.other) / 2)

    def placed(self, height: Array, opposite: Array) -> tuple[Array, Array]:
        """Rotation since the reference pose (n, 3, 3), and the hub face's centre (n, 3) [mm].

        height, opposite : z of this end's hub face and of the other's (n,) [mm]
        """
        along = self.end - self.other
        across = float(np.hypot(along[1], along[2]))
        sine = (height - opposite) / across
        if np.any(np.abs(sine) > 0.9):
            raise MotionError("the two wheels of the axle cannot stand so far apart in height.")
        angle = np.degrees(np.arcsin(sine) - np.arctan2(along[2], along[1]))
        roll = rotation_about(np.broadcast_to([1.0, 0.0, 0.0], (len(height), 3)), angle)
        bump = np.stack([height - self.end[2], opposite - self.other[2]])
        ahead = self.solid.ahead_per_100mm * bump / 100 + self.solid.ahead_bend * (bump / 100) ** 2
        about = np.radians(-self.solid.caster_per_100mm * bump.mean(axis=0) / 100)
        place = np.zeros((len(height), 4))
        place[:, 3] = about
        if len(self.inner):
            place = self._on_links(roll, (height + opposite) / 2, ahead, place)
        else:
            place[:, 0] = ahead.mean(axis=0)
            place[:, 2] = np.arcsin(np.clip((ahead[1] - ahead[0]) / (across * np.sqrt(1 - sine**2)), -0.5, 0.5))
        turn, centre = self._standing(roll, (height + opposite) / 2, place)
        if not len(self.inner):
            centre[:, 1] += self._sideways(turn, centre)
        return turn, centre + turn @ (self.end - self.middle)

    def _standing(self, roll: Array, height: Array, place: Array) -> tuple[Array, Array]:
        """Rotation (n, 3, 3) and middle (n, 3) [mm] of the beam.

        place : ahead and sideways [mm], turns about z and about the beam itself [rad] (n, 4)
        """
        n = len(place)
        turn = roll
        if place[:, 2].any():
            turn = rotation_about(np.broadcast_to(UP, (n, 3)), np.degrees(place[:, 2])) @ turn
        if place[:, 3].any():
            itself = rotation_about(np.broadcast_to(unit(self.end - self.other), (n, 3)), np.degrees(place[:, 3]))
            turn = turn @ itself
        centre = np.stack([self.middle[0] + place[:, 0], self.middle[1] + place[:, 1], height], -1)
        return turn, centre

    def _sideways(self, turn: Array, centre: Array) -> Array:
        """Sideways motion (n,) [mm] of the beam that keeps the panhard bar's length; none without one."""
        if self.bar is None:
            return np.zeros(len(turn))
        body, end = self.bar
        span = centre + turn @ (end - self.middle) - body
        room = np.sum((end - body) ** 2) - span[:, 0] ** 2 - span[:, 2] ** 2
        if np.any(room < 0):
            raise MotionError("the panhard bar is too short for this travel.")
        return np.asarray(np.sign(end[1] - body[1]) * np.sqrt(room) - span[:, 1])

    def _on_links(self, roll: Array, height: Array, ahead: Array, place: Array) -> Array:
        """Where the beam stands on its links, see `_standing`; by least squares (Gauss and Newton).

        ahead : of this end and of the other, by which what leads it moves (2, n) [mm]
        """
        about = place[:, 3].copy()
        if self.last and len(self.last[0]) == len(place):
            place = self.last[0].copy()
        for _ in range(ROUNDS):
            off, slope = self._system(roll, height, ahead, place, about)
            normal = slope.swapaxes(1, 2) @ slope + RIDGE * np.eye(4)
            step = np.linalg.solve(normal, -(slope.swapaxes(1, 2) @ off[..., None]))[..., 0]
            place = place + step / WEIGHTS
            size = np.max(np.abs(step), initial=0.0)
            if not size < 1e4:
                break
            if size < SETTLED:
                most = float(np.max(np.abs(off), initial=0.0))
                if most > GIVES:
                    raise MotionError(
                        f"the axle's links and bars can follow this travel only if bushings give {most:.0f} mm; at "
                        f"most {GIVES:g} mm are taken (common practice). Check their points, or give a smaller travel."
                    )
                self.last[:] = [place]
                return place
        raise MotionError("the axle's links are too short for this travel; check their points.")

    def _system(self, roll: Array, height: Array, ahead: Array, place: Array, about: Array) -> tuple[Array, Array]:
        """What each link, the bar and what else holds the beam are off by (n, m) [mm], and the slopes (n, m, 4)."""
        turn, centre = self._standing(roll, height, place)
        inner, outer = self.inner, self.outer
        start = ahead[self.lead].T[..., None] * np.array([1.0, 0.0, 0.0])
        if self.bar is not None:
            inner, outer = np.vstack([inner, self.bar[0]]), np.vstack([outer, self.bar[1]])
            start = np.concatenate([start, np.zeros((len(place), 1, 3))], axis=1)
        arm = (outer - self.middle) @ turn.swapaxes(1, 2)
        span = centre[:, None] + arm - inner - start
        length = np.linalg.norm(outer - inner, axis=1)
        now = np.linalg.norm(span, axis=-1)
        pull, off = span / now[..., None], now - length
        itself = np.broadcast_to((turn @ unit(self.end - self.other))[:, None], arm.shape)
        slopes = [
            pull[..., 0], pull[..., 1], np.sum(pull * np.cross(UP, arm), -1) / SCALE,
            np.sum(pull * np.cross(itself, arm), -1) / SCALE,
        ]  # fmt: skip
        rows = [np.stack(slopes, -1)]
        if self.bar is None and not self.splayed:
            off = np.column_stack([off, place[:, 1]])
            rows.append(np.broadcast_to([0.0, 1.0, 0.0, 0.0], (len(place), 1, 4)))
        if not self.turns:
            off = np.column_stack([off, SCALE * (place[:, 3] - about)])
            rows.append(np.broadcast_to([0.0, 0.0, 0.0, 1.0], (len(place), 1, 4)))
        return off, np.concatenate(rows, axis=1)


def _beam(axle: Axle, solid: SolidAxle, *, mirrored: bool) -> _Beam:
    """mirrored : in the right corner's frame."""
    own = rods_of(solid.links)
    mirror = np.array([1.0, -1.0, 1.0])
    across = rods_of(solid.across.links if solid.across else solid.links)
    rods = [*own, *((inner * mirror, outer * mirror) for inner, outer in across)]
    inner, outer = (np.array([rod[k] for rod in rods]).reshape(-1, 3) for k in range(2))
    plan = np.abs(np.arctan2(*(inner - outer)[:, 1::-1].T))
    splay = np.degrees(np.minimum(plan, np.pi - plan))
    bar = None
    if solid.panhard_body is not None and solid.panhard_axle is not None:
        flip = mirror if mirrored else np.ones(3)
        bar = np.array(solid.panhard_body) * flip, np.array(solid.panhard_axle) * flip
    other = solid.across.hub_face_at if solid.across else axle.hub_face_at
    return _Beam(
        solid, np.array(axle.hub_face_at), np.array(other) * mirror, inner, outer,
        np.repeat([0, 1], [len(own), len(across)]), bar, bar is None and bool(np.any(splay > SPLAYED)),
        "upper_body" in dict(solid.links),
    )  # fmt: skip
