"""A scan laid into the body by a round face found in it: the hub's, or the edge of the rim that stood on the hub.

A plane and a circle leave a turn about the spin axis open. Reference points tell it, or the floor beside the wheel.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fitment.errors import ScanError
from fitment.frames import Array, skew
from fitment.parts.obstacles import Point as BodyPoint
from fitment.scans.best_fit import (
    LEAST_FAR,
    MIRRORED,
    MOST_OFF,
    Placement,
    ReferencePoint,
    as_rows,
    half_tolerance,
    listed_residuals,
    mirror_error,
)
from fitment.scans.round_face import FaceFit, FacePlacing, RoundFace

LEAST_LEVER = 150.0  # [mm] from the spin axis that reference points tell a turn, in the mean; common practice
LEAST_FLOOR = 300.0  # [mm] along the vehicle that two places on the floor lie apart; common practice
BESIDE_PLANE = 30.0  # [mm] from the face's plane that `inboard` lies; common practice
TELLS = 0.4  # [-] of a fault that must be left over in the points' residuals for them to tell it
STEER_ARM = 400.0  # [mm] from the hub at which a steered wheel is looked at
AHEAD, HEIGHT = "straight ahead", "at its reference height"
UNTOLD: tuple[str, ...] = (HEIGHT, AHEAD)


@dataclass(frozen=True)
class FaceOrder:
    """A face in the scan, and where it stands on the hub.

    face : in the scan's own axes [mm]
    out : of its plane from the hub's face, along the spin axis [mm]; out_off : how far that may be off [mm]
    wobble : how far its plane and its circle may run out by themselves [mm]
    surface : tolerance of the scan's surface [mm]
    floor : a place of the floor behind the wheel and one ahead of it, inboard : any place well inboard, in the scan's
        own axes [mm]; None = reference points tell the turn
    hub_off : by what the hub may have stood off where it is taken to have stood, each two standard deviations: shift of
        its face's centre, and turn, body axes [mm, rad]
    stated : in words how the profile says that the hub stood; empty where it does not
    """

    face: RoundFace
    out: float
    out_off: float
    wobble: float
    surface: float
    floor: tuple[BodyPoint, BodyPoint] | None = None
    inboard: BodyPoint | None = None
    hub_off: tuple[tuple[float, ...], ...] = ()
    stated: str = ""

    @property
    def doubt(self) -> str:
        """What to look at where points do not fit: the pose that is stated, or whether one is to be stated."""
        if self.stated:
            return f"whether it was scanned {self.stated}, as at says"
        return (
            "whether the hub was straight ahead and at its reference height when it was scanned: if not, say how it "
            "stood (at: {travel: droop}, or a travel, lock or steer)"
        )


def laid_by_face(
    fit: FaceFit, order: FaceOrder, points: Sequence[ReferencePoint], centre: BodyPoint, rotation: Array, *,
    mirrored: bool,
) -> Placement:  # fmt: skip
    """The placement that puts the face where it stands on the hub.

    points : tell the turn about the spin axis where no floor does, their scan side [mm]
    centre : of the hub's face when it was scanned, body frame [mm]; rotation : hub to body
    Raises ScanError where the turn is not told, the scan is a mirror image, or the points lie far off.
    """
    stands = np.array(centre) + order.out * rotation[:, 1]
    height, untold, is_flat = None, UNTOLD, False
    residuals: Array = np.zeros(0)
    if order.floor:
        turn = _by_floor(fit, order, rotation)
    else:
        turns = _turns(fit, points, stands, rotation)
        seen, read = _about_hub(points, fit, turns.best, stands, rotation)
        turn = _by_points(fit, turns, float(np.sqrt(np.mean(read[:, 0] ** 2 + read[:, 2] ** 2))), mirrored)
        residuals = np.linalg.norm(seen - read, axis=1)
        untold, is_flat = _untold(read), turns.is_flat
    whole = rotation @ turn
    shift = stands - whole @ np.array(fit.centre)
    if order.floor:
        height = float(centre[2] - np.mean((np.array(order.floor) @ whole.T + shift)[:, 2]))
    found = Placement(
        as_rows(whole), 1.0, _place(shift), tuple(points), tuple(residuals.tolist()), None, 1.0, 0.0, is_flat,
        _place(stands), as_rows(_spread(fit, order, points, turn, stands, rotation)),
        FacePlacing(fit, order.floor or (), height, untold),
    )  # fmt: skip
    if found.rms > MOST_OFF:
        raise ScanError(
            f"laid by the {fit.what}, the reference points do not fit: {listed_residuals(found)}. Measure them again, "
            f"and look {order.doubt}.",
            ("placed_by",),
        )
    return replace(found, off=_off_the_face(found))


def _off_the_face(found: Placement) -> tuple[str, float] | None:
    """The reference point farthest from where the face puts it, and how far [mm]; None where that is no slip."""
    if not found.points or found.worst <= LEAST_FAR:
        return None
    point = found.points[int(np.argmax(found.residuals))]
    return (point.name, found.worst) if found.worst > 2 * found.off_at(np.array([point.at])) else None


def _place(at: Array) -> BodyPoint:
    x, y, z = at.tolist()
    return x, y, z


# ---------------------------------------------------------------- the turn about the spin axis


def _onto_axis(fit: FaceFit, side: float) -> Array:
    """A rotation (3, 3) that takes the scan's axes so that the face's axis, on this side, is y'."""
    one, axis = np.array(fit.axes[0]), side * np.array(fit.axes[2])
    return np.stack([one, axis, np.cross(one, axis)])


def _about_spin(angle: float) -> Array:
    c, s = np.cos(angle), np.sin(angle)
    return np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])


def _best_turn(seen: Array, read: Array) -> tuple[Array, float]:
    """Rotation about y' that lays places (n, 3) nearest to others, and what is left in the mean [mm]."""
    (x, z), (px, pz) = seen[:, [0, 2]].T, read[:, [0, 2]].T
    turn = _about_spin(np.arctan2(np.sum(z * px - x * pz), np.sum(x * px + z * pz)))
    return turn, float(np.sqrt(np.mean(np.sum((seen @ turn.T - read) ** 2, axis=1))))


def _about_hub(
    points: Sequence[ReferencePoint], fit: FaceFit, turn: Array, stands: Array, rotation: Array
) -> tuple[Array, Array]:
    """Reference points (n, 3) from the face's middle in the hub's axes, as scanned and turned, and by tape [mm]."""
    scan, at = (np.array([getattr(point, key) for point in points], dtype=float) for key in ("scan", "at"))
    return (scan - np.array(fit.centre)) @ turn.T, (at - stands) @ rotation


@dataclass(frozen=True)
class _Turns:
    """What each way of laying the face leaves of the points [mm]: as the scan is, on either side, and in a mirror.

    best : rotation (3, 3) from the scan's axes to the hub's of the better side
    """

    best: Array
    left: float
    other_side: float
    mirrored: float

    @property
    def is_flat(self) -> bool:
        """The points fit a mirror image nearly as well."""
        return self.mirrored < max(LEAST_FAR, 3 * self.left)


def _turns(fit: FaceFit, points: Sequence[ReferencePoint], stands: Array, rotation: Array) -> _Turns:
    ways, left, mirrored = [], [], []
    for side in (1.0, -1.0):
        base = _onto_axis(fit, side)
        seen, read = _about_hub(points, fit, base, stands, rotation)
        turn, rms = _best_turn(seen, read)
        ways.append(turn @ base)
        left.append(rms)
        mirrored.append(_best_turn(seen * (-1, 1, 1), read)[1])
    best = int(np.argmin(left))
    return _Turns(ways[best], left[best], left[1 - best], min(mirrored))


def _by_points(fit: FaceFit, turns: _Turns, lever: float, mirrored: bool) -> Array:
    """Rotation (3, 3) from the scan's axes to the hub's; lever : of the points about the spin axis [mm]."""
    if lever < LEAST_LEVER:
        raise ScanError(
            f"the reference points lie {lever:.0f} mm from the spin axis, too near to tell how the scan is turned "
            f"about it; take one {LEAST_LEVER:g} mm away or more, such as the lip over the wheel.",
            ("placed_by",),
        )
    if turns.left > LEAST_FAR and turns.mirrored < MIRRORED * turns.left:
        raise mirror_error(turns.left, turns.mirrored, mirrored=mirrored)
    if turns.other_side < LEAST_FAR + 2 * turns.left and turns.left < MOST_OFF:
        raise ScanError(
            f"nothing tells which side of the {fit.what} is outboard: the reference points lie too near to its plane; "
            "take one well inboard or outboard of it.",
            ("placed_by",),
        )
    if mirrored and turns.is_flat:
        raise ScanError(
            "these reference points do not tell whether the scan is a mirror image, so it is not turned over unseen; "
            "give a second one, on another side of the wheel.",
            ("mirrored",),
        )
    return turns.best


def _by_floor(fit: FaceFit, order: FaceOrder, rotation: Array) -> Array:
    """Rotation (3, 3) from the scan's axes to the hub's, in which the line along the floor is level and leads ahead."""
    assert order.floor is not None
    assert order.inboard is not None
    behind, ahead = np.array(order.floor)
    inward = float((np.array(order.inboard) - np.array(fit.centre)) @ np.array(fit.axes[2]))
    if abs(inward) < BESIDE_PLANE:
        raise ScanError(
            f"this place lies {abs(inward):.0f} mm from the plane of the {fit.what}, so it does not tell which side is "
            f"inboard; pick one {BESIDE_PLANE:g} mm inboard or more, such as on the inner wall.",
            order.face.at("inboard"),
        )
    base = _onto_axis(fit, -float(np.sign(inward)))
    x, y, z = base @ (ahead - behind)
    along = float(np.hypot(x, z))
    if along < max(LEAST_FLOOR, abs(y)):
        raise ScanError(
            f"the two places on the floor lie {along:.0f} mm apart along the vehicle, too near to tell what is level; "
            f"pick one behind the wheel and one ahead of it, {LEAST_FLOOR:g} mm apart or more.",
            order.face.at("floor"),
        )
    # level: up @ turned(x, y, z) = 0, for up = the body's z in the hub's axes
    u, v, w = rotation[2]
    cosine, sine = u * x + w * z, u * z - w * x
    middle = np.arctan2(sine, cosine)
    aside = np.arccos(np.clip(-v * y / np.hypot(cosine, sine), -1.0, 1.0))
    found = [_about_spin(middle + way * aside) @ base for way in (1.0, -1.0)]
    turn = max(found, key=lambda each: float(rotation[0] @ each @ (ahead - behind)))
    low = float(rotation[2] @ turn @ (np.mean(order.floor, axis=0) - np.array(fit.centre)))
    if low > 0:
        raise ScanError(
            "as these places lie, the floor is over the hub: either the two on the floor are interchanged (the first "
            "is behind the wheel, the second ahead of it), or the scan is a mirror image, such as one of the right "
            "side: then write mirrored: true, and where that stands already, remove it.",
            order.face.at("floor"),
        )
    return turn


def _untold(read: Array) -> tuple[str, ...]:
    """What of the hub, when it was scanned, these points (n, 3) in the hub's axes do not tell: a turn takes it up."""
    x, y, z = read.T
    spin = np.stack([z, 0 * z, -x], axis=1).ravel()
    told = []
    for name, fault in (
        (HEIGHT, np.stack([0 * x, 0 * x, 0 * x + 1.0], axis=1)),
        (AHEAD, np.stack([-y, x, 0 * x], axis=1) / STEER_ARM),
    ):
        left = fault.ravel() - spin * (fault.ravel() @ spin) / (spin @ spin)
        if np.sqrt(left @ left / len(read)) < TELLS:
            told.append(name)
    return tuple(told)


# ---------------------------------------------------------------- how far it may be off


def _spread(
    fit: FaceFit, order: FaceOrder, points: Sequence[ReferencePoint], turn: Array, stands: Array, rotation: Array
) -> Array:
    """Variances (6, 6) of a small shift, and of a turn about the middle of the face, body axes [mm, rad].

    Source: propagation of errors. The plane's fit tells shift along and tilt of the spin axis, the circle's the shift
    in the plane; what tells the turn about the axis is off by its own errors and by what these do to it.
    """
    one, other, axis = np.array(fit.axes) @ turn.T  # in the hub's axes; the third is y', or its opposite
    radius = fit.radius
    count = len(order.hub_off)
    known = np.eye(5 + count) / 4
    known[:3, :3] = np.array(fit.plane) + np.diag([order.out_off / 2, order.wobble / 2, order.wobble / 2]) ** 2
    known[3:5, 3:5] = np.array(fit.circle) + np.eye(2) * (order.wobble / 2) ** 2
    # of shift and turn, by shift along the axis, two slopes, shift in the plane, and what the hub stood off
    moves = np.zeros((6, 5 + count))
    moves[1, 0] = axis[1]
    for column, way in ((1, one), (2, other)):
        slope = way * axis[1] / radius
        moves[3:, column] = -slope[2], 0.0, slope[0]
    moves[:3, 3], moves[:3, 4] = one, other
    for column, off in enumerate(order.hub_off, start=5):
        shift, about = np.array(off[:3]) @ rotation, np.array(off[3:]) @ rotation
        moves[:, column] = *(shift + np.cross(about, (0.0, order.out, 0.0))), *about
    if order.floor:
        line = turn @ (np.array(order.floor[1]) - np.array(order.floor[0]))
        up = rotation[2]
        by_turn = -up @ skew(line)
        row = np.concatenate([np.zeros(3), by_turn]) / by_turn[1]
        own = 2 * (order.surface / 2 / by_turn[1]) ** 2
    else:
        _, read = _about_hub(points, fit, turn, stands, rotation)
        spin = np.stack([read[:, 2], 0 * read[:, 0], -read[:, 0]], axis=1)
        lever = np.sum(spin**2, axis=1)
        row = np.concatenate([spin.sum(axis=0), np.sum(np.cross(read, spin), axis=0)]) / lever.sum()
        sigma = np.array([half_tolerance(point) ** 2 + (order.surface / 2) ** 2 for point in points])
        own = float(lever @ sigma) / lever.sum() ** 2
    moves[4] = -row @ moves
    spread = moves @ known @ moves.T
    spread[4, 4] += own
    whole = np.kron(np.eye(2), rotation)
    return np.asarray(whole @ spread @ whole.T)
