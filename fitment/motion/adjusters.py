"""What can be set on a suspension, and the suspension as it stands once it is set.

A ball joint with several positions moves on its arm; an eccentric bushing moves an inner pivot in the
body while the arm keeps its length; a link of five can be made longer or shorter. Afterwards the tie rod is
re-set so that toe at rest is as given. Where a toe link has an adjuster of its own, toe is re-set with that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from fitment.errors import FitmentError, MotionError, did_you_mean
from fitment.frames import Array, unit
from fitment.motion.link_suspension import ARMS, LINKS, linkage_of
from fitment.motion.rigid_links import Linkage, solve
from fitment.parts.axle import Adjuster, Axle, LinkSuspension
from fitment.parts.obstacles import Point

ANY_TURN = 15.0  # [deg] spacing at which an eccentric without steps is first tried
LENGTHS = 7  # of a link that are first tried
TOE_BODY, TOE_KNUCKLE = LINKS["toe"]


@dataclass(frozen=True)
class Setting:
    """How one adjuster is set.

    out, forward : of a ball joint [mm]
    angles : clock angle of each bushing [deg], 0 = outboard, 90 = up
    length : by which a link is longer than measured [mm]
    bushings : which ones the angles were given for, in their order, where a file names them
    """

    adjuster: str
    out: float | None = None
    forward: float | None = None
    angles: tuple[float, ...] = ()
    length: float | None = None
    bushings: tuple[str, ...] = ()


def toe_adjuster(axle: Axle) -> Adjuster | None:
    """The adjuster with which the toe of five links is re-set, where there is one."""
    return next((adjuster for adjuster in axle.adjusters if adjuster.moves[0] in (TOE_BODY, TOE_KNUCKLE)), None)


def positions(adjuster: Adjuster, turn: float | None = None) -> list[Setting]:
    """Every setting of an adjuster.

    turn : step of an eccentric [deg]; None = its own, else ANY_TURN
    Source: the profile's positions; of a range LENGTHS of them, evenly spaced (assumption).
    """
    if adjuster.length:
        return [Setting(adjuster.name, length=float(more)) for more in np.linspace(*adjuster.length, LENGTHS)]
    if adjuster.eccentric is None:
        pairs = product(adjuster.out or (0.0,), adjuster.forward or (0.0,))
        return [Setting(adjuster.name, out=out, forward=forward) for out, forward in pairs]
    step = turn or adjuster.step or ANY_TURN
    angles = np.arange(0.0, 360.0 - 1e-9, step)
    return [
        Setting(adjuster.name, angles=tuple(map(float, pair))) for pair in product(angles, repeat=len(adjuster.moves))
    ]


def place_of(suspension: LinkSuspension, adjuster: Adjuster, setting: Setting) -> dict[str, Array]:
    """Where each point of an adjuster stands under a setting (3,) [mm]; ball joints on their arm as measured.

    Raises FitmentError for another number of angles than bushings, or a point that is not at the end of an arm.
    Source: derived here: a circle in the plane square to the arm's pivots, or a shift in the arm's plane.
    """
    points = {name: np.array(point) for name, point in suspension.points}
    if adjuster.eccentric is None:
        return {name: points[name] + _on_arm(points, name, setting) for name in adjuster.moves}
    if len(setting.angles) != len(adjuster.moves):
        raise FitmentError(f"{adjuster.name}: {len(adjuster.moves)} bushings need as many angles, one each.")
    places = {}
    for i, name in enumerate(adjuster.moves):
        centre, out, up = _circle(points, adjuster, i)
        places[name] = centre + adjuster.eccentric * _clock(out, up, setting.angles[i])
    return places


def adjusted(axle: Axle, settings: Sequence[Setting], *, travel: float) -> Axle:
    """The axle with its adjusters set and toe re-set to what the profile gives.

    travel : at which toe is re-set [mm]
    Raises FitmentError for an adjuster it does not have, MotionError when toe cannot be had there.
    Source: derived here: moved points in a linkage of the same rods, see the top of the module.
    """
    suspension = axle.suspension
    if not isinstance(suspension, LinkSuspension):
        raise FitmentError("adjusters need a suspension with hardpoints; this one has none that they could move.")
    by_toe = toe_adjuster(axle)
    if by_toe and all(setting.adjuster != by_toe.name for setting in settings):
        settings = [*settings, _toe_setting(axle, suspension, by_toe, settings, travel)]
    on_body, on_arm = dict(suspension.on_body), dict(suspension.on_arm)
    longer = dict(suspension.longer)
    names = [setting.adjuster for setting in settings]
    for setting in settings:
        if names.count(setting.adjuster) > 1:
            raise FitmentError(f"{setting.adjuster} is set twice; keep one of its settings.")
        adjuster = _named(axle, setting.adjuster)
        _check_setting(adjuster, setting)
        if adjuster.length:
            longer[adjuster.moves[0]] = setting.length or 0.0
            continue
        target = on_body if adjuster.eccentric is not None else on_arm
        for name, place in place_of(suspension, adjuster, setting).items():
            target[name] = _point(place)
    moved = replace(
        suspension, on_body=tuple(on_body.items()), on_arm=tuple(on_arm.items()), longer=tuple(longer.items())
    )
    if by_toe:
        linkage_of(moved, axle.hub_face_at)
        return replace(axle, suspension=moved)
    linkage = linkage_of(moved, axle.hub_face_at)
    tie_rod, solved = tie_rod_for_toe(linkage, travel - axle.hub_face_at[2], suspension.toe_in)
    if not solved[0]:
        raise MotionError(
            "with these settings the toe of the profile cannot be set at this ride height; give other settings."
        )
    return replace(axle, suspension=replace(moved, tie_rod=float(tie_rod[0])))


def tie_rod_for_toe(linkage: Linkage, height: float, toe_in: float) -> tuple[Array, NDArray[np.bool_]]:
    """Length (n,) [mm] of the steered rod that gives the toe, in n linkages, and whether it can (n,).

    height : travel above the reference pose [mm]
    toe_in : [deg], + = front of the wheel inboard
    Source: derived here: the distance of the rod's two ends once the knuckle is solved for that toe.
    """
    outer, solved = _toe_end(linkage, height, toe_in)
    # the solver told the rack that the old length needs; with the rack at rest the rod takes the new one
    return np.linalg.norm(outer - linkage.inner[..., linkage.steered, :], axis=-1), solved


def set_for_toe(
    suspension: LinkSuspension, adjuster: Adjuster, linkage: Linkage, height: float
) -> tuple[list[Setting], NDArray[np.bool_]]:
    """How the adjuster of a toe link is set for the toe given, in n linkages, and whether it can be (n,).

    height : travel above the reference pose [mm]
    Of two turns that do it the one is taken that moves the pivot less; one in steps comes as near as they allow.
    Source: derived here: the turn of the eccentric at which the link has its length, in closed form.
    """
    outer, solved = _toe_end(linkage, height, suspension.toe_in)
    points = {name: np.array(point) for name, point in suspension.points}
    length = np.linalg.norm(points[TOE_KNUCKLE] - points[TOE_BODY])
    if adjuster.length:
        more = np.linalg.norm(outer - points[TOE_BODY], axis=1) - length
        within = (more >= adjuster.length[0] - 1e-9) & (more <= adjuster.length[1] + 1e-9)
        return [Setting(adjuster.name, length=float(change)) for change in more], solved & within
    assert adjuster.eccentric is not None
    centre, out, up = _circle(points, adjuster, 0)
    # |outer - centre - e (cos a out + sin a up)| = length, for the angle a
    way, e = outer - centre, adjuster.eccentric
    across, along = way @ out, way @ up
    size = np.hypot(across, along)
    lock_fraction = (np.sum(way * way, axis=1) + e * e - length**2) / (2 * e * np.where(size > 0, size, 1.0))
    half = np.arccos(np.clip(lock_fraction, -1.0, 1.0))
    angles = np.degrees(np.arctan2(along, across) + np.array([[1.0], [-1.0]]) * half) % 360
    if adjuster.step:
        angles = np.round(angles / adjuster.step) * adjuster.step % 360
    here = centre + e * np.stack([_clock(out, up, angle) for angle in angles.T.ravel()])
    moved = np.linalg.norm(here - points[TOE_BODY], axis=1).reshape(-1, 2)
    chosen = angles[np.argmin(np.round(moved, 6), axis=1), np.arange(len(way))]
    settings = [Setting(adjuster.name, angles=(float(angle),)) for angle in chosen]
    return settings, solved & (np.abs(lock_fraction) <= 1.0)


def _toe_setting(
    axle: Axle, suspension: LinkSuspension, by_toe: Adjuster, settings: Sequence[Setting], travel: float
) -> Setting:
    """How the toe link's adjuster is set once the others are. Raises FitmentError, MotionError."""
    rest = replace(axle, adjusters=tuple(adjuster for adjuster in axle.adjusters if adjuster != by_toe))
    made = adjusted(rest, settings, travel=travel).suspension
    assert isinstance(made, LinkSuspension)
    height = travel - axle.hub_face_at[2]
    toe_settings, can = set_for_toe(suspension, by_toe, linkage_of(made, axle.hub_face_at), height)
    if not can[0]:
        raise MotionError(f"with these settings {by_toe.name} does not give the toe at this ride height.")
    return toe_settings[0]


def _toe_end(linkage: Linkage, height: float, toe_in: float) -> tuple[Array, NDArray[np.bool_]]:
    """Where the steered rod's end on the knuckle is with the toe given (n, 3), and whether that can be."""
    n = len(linkage.inner) if linkage.inner.ndim == 3 else 1
    placed = solve(linkage, np.full(n, height), steer=np.full(n, -toe_in))
    k = linkage.steered
    return placed.centre + placed.rotation @ (linkage.outer[k] - linkage.hub_face), placed.solved


def _named(axle: Axle, name: str) -> Adjuster:
    for adjuster in axle.adjusters:
        if adjuster.name == name:
            return adjuster
    names = [adjuster.name for adjuster in axle.adjusters]
    listed = ", ".join(names) or "none"
    raise FitmentError(f'the {axle.title} has no adjuster "{name}".{did_you_mean(name, names)} It has: {listed}.')


def _check_setting(adjuster: Adjuster, setting: Setting) -> None:
    """Refuse a position, an angle or a length that the adjuster does not have."""
    if adjuster.length or setting.length is not None:
        low, high = adjuster.length or (0.0, 0.0)
        if not adjuster.length or setting.length is None or not low - 1e-6 <= setting.length <= high + 1e-6:
            can = (
                f"sets a link {low:+g} to {high:+g} mm longer; write longer MM" if adjuster.length else "sets no length"
            )
            raise FitmentError(f"{adjuster.name} {can}.")
        return
    if adjuster.eccentric is None:
        if setting.angles:
            raise FitmentError(f"{adjuster.name}: it takes positions, such as out 6, forward -6, and no angles.")
        for name, value, allowed in (
            ("out", setting.out or 0.0, adjuster.out or (0.0,)),
            ("forward", setting.forward or 0.0, adjuster.forward or (0.0,)),
        ):
            if not any(abs(value - position) < 1e-6 for position in allowed):
                listed = ", ".join(f"{position:g}" for position in allowed)
                raise FitmentError(f"{adjuster.name}: {name} {value:g} mm is not one of its positions ({listed} mm).")
        return
    if setting.bushings and setting.bushings != adjuster.moves:
        given, own = ", ".join(setting.bushings), ", ".join(adjuster.moves)
        raise FitmentError(f"{adjuster.name}: angles were given for {given}; its bushings are {own}, in this order.")
    for angle in setting.angles:
        off = abs((angle / adjuster.step) - round(angle / adjuster.step)) if adjuster.step else 0.0
        if not -360 <= angle <= 360 or off > 1e-6:
            steps = f" in steps of {adjuster.step:g} deg" if adjuster.step else ""
            raise FitmentError(f"{adjuster.name}: {angle:g} deg cannot be set; give 0 to 360 deg{steps}.")


def _on_arm(points: dict[str, Array], ball: str, setting: Setting) -> Array:
    """Shift of a ball joint: out in the arm's plane square to its pivots, forward along them."""
    for front, rear, joint in ARMS.values():
        if joint == ball:
            along = unit(points[front] - points[rear])
            out = points[ball] - points[front]
            out = unit(out - (out @ along) * along)
            return (setting.out or 0.0) * out + (setting.forward or 0.0) * along
    raise FitmentError(f"{ball} is not a ball joint at the end of an arm; `out` and `forward` have no meaning there.")


def _circle(points: dict[str, Array], adjuster: Adjuster, i: int) -> tuple[Array, Array, Array]:
    """Centre (3,) of the circle on which an eccentric moves its i-th point, and outboard and up in its plane (3,)."""
    name, radius = adjuster.moves[i], adjuster.eccentric or 0.0
    out, up = _circle_plane(points, name)
    return points[name] - (radius * _clock(out, up, adjuster.now[i]) if adjuster.now else 0.0), out, up


def _circle_plane(points: dict[str, Array], pivot: str) -> tuple[Array, Array]:
    """Outboard and up (3,) in the plane square to the line of the pivot's arm (of x, for a single link)."""
    along = np.array([1.0, 0.0, 0.0])
    for front, rear, _ in ARMS.values():
        if pivot in (front, rear):
            along = unit(points[front] - points[rear])
    outboard = np.array([0.0, 1.0, 0.0])
    out = unit(outboard - (outboard @ along) * along)
    return out, np.cross(along, out)


def _clock(out: Array, up: Array, angle: float) -> Array:
    return np.cos(np.radians(angle)) * out + np.sin(np.radians(angle)) * up


def _point(values: Array) -> Point:
    x, y, z = values.tolist()
    return x, y, z
