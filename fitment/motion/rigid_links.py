"""Rigid links: where the knuckle is when its rods keep their lengths.

One solver under every kind of independent suspension. The knuckle has six freedoms; five come from
rods (and, for a strut, from a point of the body that slides on a line of the knuckle), the sixth from
the travel of the hub-face centre. Steering is a displacement of the rack, or a wanted steer angle with
the steered rod set aside. All poses are solved side by side.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from fitment.frames import Array, rotation_about, steer_of

SCALE = 100.0  # [mm] weighs a turn of the knuckle against a shift of it
TOLERANCE = 1e-11  # [mm] residual at which a pose counts as solved
ROUNDS = 14
FARTHEST = 1.2  # [rad] turn of the knuckle beyond which a solution is on another branch
STEP_TURN = 0.15  # [rad] the same for one small step of a longer way
LONGEST_STEP = 150.0  # [mm, and rad x SCALE] a longer Newton step is not trusted
FIRST_STEP, LAST_STEP = 1 / 32, 1e-9  # shares of a way walked in one step, at first and when it is given up


@dataclass(frozen=True, eq=False)
class Slider:
    """A point of the body that slides on a line fixed to the knuckle.

    top : the point, body frame (3,) [mm]
    on_knuckle : a point of the line, at the reference pose (3,) [mm]
    along : unit vector of the line (3,) [-]
    """

    top: Array
    on_knuckle: Array
    along: Array

    @cached_property
    def square(self) -> Array:
        """Two unit vectors square to the line (2, 3) [-]. Source: geometry."""
        return np.linalg.svd(self.along[None])[2][1:]


@dataclass(frozen=True, eq=False)
class Linkage:
    """A knuckle on its rods, at the reference pose in the body frame [mm].

    hub_face : centre of the hub face (3,)
    spin_axis : outboard unit vector (3,) [-]
    names : of the rods (k,)
    inner, outer : ends of the rods on body and knuckle (k, 3)
    length : of the rods (k,)
    inner and length may carry a leading axis (n, ...): then every pose has a linkage of its own
    steered : number of the rod whose inner end the rack moves along y, or -1
    """

    hub_face: Array
    spin_axis: Array
    names: tuple[str, ...]
    inner: Array
    outer: Array
    length: Array
    steered: int = -1
    slider: Slider | None = None


@dataclass(frozen=True, eq=False)
class Placed:
    """The knuckle in n poses.

    rotation : of the knuckle since the reference pose (n, 3, 3) [-]
    centre : hub-face centre (n, 3) [mm]
    rack : displacement along y (n,) [mm], positive to the left
    solved : whether the linkage reaches the pose (n,)
    """

    rotation: Array
    centre: Array
    rack: Array
    solved: NDArray[np.bool_]


def solve(linkage: Linkage, travel: Array, *, rack: Array | None = None, steer: Array | None = None) -> Placed:
    """The knuckle at travels with rack displacements or steer angles.

    travel : of the hub-face centre from the reference pose (n,) [mm], + up
    rack : displacement along y (n,) [mm], + to the left; or
    steer : wanted angle (n,) [deg], + to the left
    Newton from the reference pose, and by small steps from there where that fails or is not tame: a linkage
    has other assemblies, which it cannot get to without being taken apart. A pose that cannot be reached comes
    back with `solved` False and no meaning in its numbers.
    Source: derived here: every rod keeps its length; Newton's method.
    """
    asked = np.asarray(rack if steer is None else steer, dtype=float)
    target = np.stack(np.broadcast_arrays(np.asarray(travel, dtype=float), asked), -1).reshape(-1, 2)
    by_steer = steer is not None
    start = np.array([0.0, float(steer_of(linkage.spin_axis)) if by_steer else 0.0])
    n = len(target)
    rotation, centre = np.tile(np.eye(3), (n, 1, 1)), np.tile(linkage.hub_face, (n, 1))
    rotation, centre, solved = _newton(linkage, target, by_steer, rotation, centre)
    rest = np.flatnonzero(~solved)
    if len(rest):
        rotation[rest], centre[rest], share = _walk(_some(linkage, rest), start, target[rest], by_steer)
        solved[rest] = share >= 1.0
    if by_steer and linkage.steered >= 0:
        moved, reached = _rack_of(linkage, rotation, centre)
        solved = solved & reached
    else:
        moved = np.zeros(n) if by_steer else target[:, 1]
    return Placed(rotation, centre, moved, solved)


def reach_towards(linkage: Linkage, start: Array, target: Array, *, by_steer: bool) -> tuple[Array, tuple[str, ...]]:
    """How far a linkage goes on the straight way to a target, and which rods stop it.

    start, target : (travel [mm], rack [mm] or steer [deg]), (2,)
    by_steer : the second is a steer angle
    Returns : the place (2,) [mm, mm or deg] where it stops, the target where it gets there; names of the rods in line
    Source: derived here: the walk of `solve`; the rods that carry the load where its derivatives are singular.
    """
    first_linkage = _some(linkage, np.array([0]))
    stations = np.arange(FIRST_STEP, 1 + FIRST_STEP / 2, FIRST_STEP)[:, None]
    place = start + stations * (target - start)
    still = np.tile(np.eye(3), (len(place), 1, 1)), np.tile(linkage.hub_face, (len(place), 1))
    if linkage.inner.ndim == 2 and _newton(linkage, place, by_steer, *still)[2].all():
        return target, ()  # no dead point between any two of them, as `solve` sees it
    rotation, centre, share = _walk(first_linkage, start, target[None], by_steer)
    if share[0] >= 1.0:
        return target, ()
    return start + share[0] * (target - start), _locked(linkage, rotation[0], centre[0], by_steer)


def _some(linkage: Linkage, poses: NDArray[np.intp]) -> Linkage:
    """The linkages of some poses."""
    if linkage.inner.ndim == 2:
        return linkage
    return replace(linkage, inner=linkage.inner[poses], length=linkage.length[poses])


def _walk(linkage: Linkage, start: Array, target: Array, by_steer: bool) -> tuple[Array, Array, Array]:
    """From the reference pose towards targets (n, 2) by small steps: the knuckle and the share of the way it got.

    A step that fails or turns too far is halved and tried again, so that a walk ends only at a dead point.
    """
    n = len(target)
    rotation, centre = np.tile(np.eye(3), (n, 1, 1)), np.tile(linkage.hub_face, (n, 1))
    share, step = np.zeros(n), np.full(n, FIRST_STEP)
    while len(going := np.flatnonzero((share < 1.0) & (step > LAST_STEP))):
        trial = np.minimum(share[going] + step[going], 1.0)
        place = start + trial[:, None] * (target[going] - start)
        r, c, solved = _newton(_some(linkage, going), place, by_steer, rotation[going], centre[going], most=STEP_TURN)
        done = going[solved]
        rotation[done], centre[done], share[done] = r[solved], c[solved], trial[solved]
        step[going] = np.where(solved, np.minimum(step[going] * 1.5, 2 * FIRST_STEP), step[going] / 2)
    return rotation, centre, share


def _newton(
    linkage: Linkage, target: Array, by_steer: bool, rotation: Array, centre: Array, most: float = FARTHEST
) -> tuple[Array, Array, NDArray[np.bool_]]:
    """Newton's method on all poses at once.

    Solved = converged (at once from afar only in tame steps), turned by no more than `most` [rad], and still in the
    assembly of the reference pose: no dead point lies between, neither of the linkage nor of the rack that steers it.
    """
    rotation, centre, first = rotation.copy(), centre.copy(), rotation
    jacobian = np.empty((len(target), 6, 6))
    residual = np.full((len(target), 6), np.inf)
    tame, before = np.ones(len(target), bool), np.full(len(target), np.inf)
    with np.errstate(all="ignore"):
        for _ in range(ROUNDS):
            residual, jacobian = _system(linkage, target, by_steer, rotation, centre)
            if not np.any(np.abs(residual) > TOLERANCE):
                break
            step, length = _solved_step(jacobian, residual)
            tame &= (length <= LONGEST_STEP) & ((length <= 0.7 * before) | (length < 1e-3))
            before = length
            centre = centre + step[:, :3]
            rotation = _turned(rotation, step[:, 3:] / SCALE)
        settled = np.max(np.abs(residual), axis=1) < 1e-8
        turn = np.arccos(np.clip((np.einsum("nij,nij->n", first, rotation) - 1) / 2, -1, 1))
        solved = (
            settled
            & (tame | (most < FARTHEST))
            & (turn < most)
            & _same_assembly(linkage, target, by_steer, jacobian, rotation, centre)
        )
    return rotation, centre, solved


def _same_assembly(
    linkage: Linkage, target: Array, by_steer: bool, jacobian: Array, rotation: Array, centre: Array
) -> NDArray[np.bool_]:
    """Whether the derivatives' determinants keep the sign they have at the reference pose (n,)."""
    same = np.sign(np.linalg.det(jacobian)) == _sign_at_reference(linkage, by_steer)
    if not by_steer:
        return same
    heading = np.radians(target[:, 1])
    s = rotation @ linkage.spin_axis
    same = same & (s[:, 1] * np.cos(heading) - s[:, 0] * np.sin(heading) > 0)
    if linkage.steered >= 0:
        rack, reached = _rack_of(linkage, rotation, centre)
        by_rack = _system(linkage, np.stack([target[:, 0], rack], -1), False, rotation, centre)[1]
        same = same & reached & (np.sign(np.linalg.det(by_rack)) == _sign_at_reference(linkage, False))
    return same


def _sign_at_reference(linkage: Linkage, by_steer: bool) -> float:
    if linkage.inner.ndim == 2:
        return _sign_of_one(linkage, by_steer)
    return _sign_of_one.__wrapped__(_some(linkage, np.array([0])), by_steer)  # many linkages are not kept


@lru_cache(maxsize=64)
def _sign_of_one(linkage: Linkage, by_steer: bool) -> float:
    jacobian = _system(linkage, np.zeros((1, 2)), by_steer, np.eye(3)[None], linkage.hub_face[None])[1]
    return float(np.sign(np.linalg.det(jacobian))[0])


def _solved_step(jacobian: Array, residual: Array) -> tuple[Array, Array]:
    """Newton step (n, 6), shortened to LONGEST_STEP, and its full length (n,); a singular pose gets none."""
    fine = np.isfinite(jacobian).all(axis=(1, 2)) & (np.abs(np.linalg.det(jacobian)) > 1e-14)
    safe = np.where(fine[:, None, None], jacobian, np.eye(6))
    step = np.linalg.solve(safe, -residual[..., None])[..., 0]
    length = np.linalg.norm(step, axis=1)
    short = step * np.minimum(1.0, LONGEST_STEP / np.maximum(length, 1e-30))[:, None]
    return np.where(fine[:, None], short, 0.0), np.where(fine, length, np.inf)


def _turned(rotation: Array, turn: Array) -> Array:
    angle = np.linalg.norm(turn, axis=1)
    axis = turn / np.where(angle > 0, angle, 1.0)[:, None]
    return rotation_about(axis, np.degrees(angle)) @ rotation


def _system(linkage: Linkage, target: Array, by_steer: bool, rotation: Array, centre: Array) -> tuple[Array, Array]:
    """Residuals (n, 6) [mm] and their derivatives (n, 6, 6) by shift [mm] and turn [rad x SCALE]."""
    n = len(rotation)
    moved = linkage.steered if not by_steer else -1  # the rod that the rack moves
    held = np.arange(len(linkage.names)) != (linkage.steered if by_steer and linkage.steered >= 0 else -1)
    arm = (linkage.outer[held] - linkage.hub_face) @ rotation.swapaxes(1, 2)
    span = centre[:, None] + arm - linkage.inner[..., held, :]
    if moved >= 0:
        span[:, moved, 1] -= target[:, 1]
    length = linkage.length[..., held]
    pull = span / length[..., None]
    residual, shift, turn = np.zeros((n, 6)), np.zeros((n, 6, 3)), np.zeros((n, 6, 3))
    rods = arm.shape[1]
    residual[:, :rods] = (np.sum(span * span, -1) - length**2) / (2 * length)
    shift[:, :rods], turn[:, :rods] = pull, _cross(arm, pull)
    if linkage.slider is not None:
        ends = slice(rods, rods + 2)
        residual[:, ends], shift[:, ends], turn[:, ends] = _slid(linkage.slider, linkage.hub_face, rotation, centre)
        rods += 2
    residual[:, rods], shift[:, rods, 2] = centre[:, 2] - target[:, 0] - linkage.hub_face[2], 1.0
    if by_steer and linkage.steered >= 0:
        heading = np.radians(target[:, 1])
        across = np.stack([np.cos(heading), np.sin(heading), 0 * heading], -1)
        s = rotation @ linkage.spin_axis
        residual[:, 5], turn[:, 5] = SCALE * np.sum(across * s, -1), SCALE * _cross(s, across)
    return residual, np.concatenate([shift, turn / SCALE], axis=2)


def _cross(a: Array, b: Array) -> Array:
    """Cross products (..., 3); numpy's own takes several times as long on few vectors."""
    (ax, ay, az), (bx, by, bz) = np.moveaxis(a, -1, 0), np.moveaxis(b, -1, 0)
    return np.stack([ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx], -1)


def _slid(slider: Slider, hub_face: Array, rotation: Array, centre: Array) -> tuple[Array, Array, Array]:
    """The body's point lies on the knuckle's line: no offset along two directions square to it.

    Returns residuals (n, 2) [mm] and their derivatives (n, 2, 3) by shift and by turn.
    """
    arm = (rotation @ (slider.on_knuckle - hub_face))[:, None]
    span = slider.top - centre[:, None] - arm
    direction = slider.square @ rotation.swapaxes(1, 2)
    turn = _cross(direction, span) - _cross(arm, direction)
    return np.sum(direction * span, -1), -direction, turn


def _rack_of(linkage: Linkage, rotation: Array, centre: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Rack displacement (n,) [mm] that gives the steered rod its length, the smaller one, and whether there is one."""
    k = linkage.steered
    inner = linkage.inner[..., k, :]
    span = centre + rotation @ (linkage.outer[k] - linkage.hub_face) - inner
    room = linkage.length[..., k] ** 2 - span[:, 0] ** 2 - span[:, 2] ** 2
    half = np.sqrt(np.maximum(room, 0.0)) * np.sign(linkage.outer[k, 1] - inner[..., 1])
    return span[:, 1] - half, room >= 0


def _locked(linkage: Linkage, rotation: Array, centre: Array, by_steer: bool) -> tuple[str, ...]:
    """Names of the rods that carry the load where the linkage can go no further."""
    _, jacobian = _system(linkage, np.zeros((1, 2)), by_steer, rotation[None], centre[None])
    force = np.abs(np.linalg.svd(jacobian[0].T)[2][-1])
    left_out = linkage.steered if by_steer else -1
    names = [name for k, name in enumerate(linkage.names) if k != left_out]
    loaded = force[: len(names)] / max(float(force.max()), 1e-30)
    return tuple(name for name, share in zip(names, loaded, strict=True) if share > 0.3)


def velocity_by_rack(linkage: Linkage, placed: Placed) -> tuple[Array, Array]:
    """How the knuckle moves with the rack at constant travel: shift (n, 3) [mm/mm] and turn (n, 3) [rad/mm].

    Source: derived here: the derivatives of the rods' lengths, solved for the motion of the steered one's inner end.
    """
    n = len(placed.rack)
    target = np.stack([placed.centre[:, 2] - linkage.hub_face[2], placed.rack], -1)
    _, jacobian = _system(linkage, target, False, placed.rotation, placed.centre)
    k = linkage.steered
    inner = linkage.inner[..., k, :] + np.outer(placed.rack, [0.0, 1.0, 0.0])
    span = placed.centre + placed.rotation @ (linkage.outer[k] - linkage.hub_face) - inner
    right = np.zeros((n, 6, 1))
    right[:, k, 0] = span[:, 1] / linkage.length[..., k]
    usable = np.abs(np.linalg.det(jacobian)) > 1e-14
    motion = np.asarray(np.linalg.solve(np.where(usable[:, None, None], jacobian, np.eye(6)), right)[..., 0], float)
    return motion[:, :3], motion[:, 3:] / SCALE
