"""Suspensions made of rigid links: double wishbone, strut, five links.

Names of the points are those of the profile. An arm is two rods that meet at its ball joint.
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np

from fitment.errors import MotionError
from fitment.frames import Array, hub_rotation, rotation_about, spin_axis, unit
from fitment.motion.poses import Motion, Poses, poses_with_body
from fitment.motion.rigid_links import Linkage, Placed, Slider, reach_towards, solve, velocity_by_rack
from fitment.parts.axle import Axle, LinkSuspension
from fitment.parts.obstacles import Point

# name of the rod, its end on the body, its end on the knuckle; the steered one comes last
RODS: dict[str, tuple[tuple[str, str, str], ...]] = {
    "double_wishbone": (
        ("lower arm front", "lower_inner_front", "lower_ball"),
        ("lower arm rear", "lower_inner_rear", "lower_ball"),
        ("upper arm front", "upper_inner_front", "upper_ball"),
        ("upper arm rear", "upper_inner_rear", "upper_ball"),
        ("tie rod", "tie_inner", "tie_outer"),
    ),
    "strut": (
        ("lower arm front", "lower_inner_front", "lower_ball"),
        ("lower arm rear", "lower_inner_rear", "lower_ball"),
        ("tie rod", "tie_inner", "tie_outer"),
    ),
    "five_link": (
        ("upper front link", "upper_front_body", "upper_front_knuckle"),
        ("upper rear link", "upper_rear_body", "upper_rear_knuckle"),
        ("lower front link", "lower_front_body", "lower_front_knuckle"),
        ("lower rear link", "lower_rear_body", "lower_rear_knuckle"),
        ("toe link", "toe_body", "toe_knuckle"),
    ),
}
ARMS = {
    "upper_arm": ("upper_inner_front", "upper_inner_rear", "upper_ball"),
    "lower_arm": ("lower_inner_front", "lower_inner_rear", "lower_ball"),
}
LINKS = {
    "upper_front": ("upper_front_body", "upper_front_knuckle"),
    "upper_rear": ("upper_rear_body", "upper_rear_knuckle"),
    "lower_front": ("lower_front_body", "lower_front_knuckle"),
    "lower_rear": ("lower_rear_body", "lower_rear_knuckle"),
    "toe": ("toe_body", "toe_knuckle"),
}
ON_RACK = ("tie_inner", "toe_body")
ON_BODY = ("lower_inner_front", "lower_inner_rear", "upper_inner_front", "upper_inner_rear", "strut_top")
HALF_AXIS = 150.0  # [mm] from the middle of a found steering axis to each of its two points


def carrier_of(point: str) -> str:
    """What a hardpoint is fixed to."""
    if point in ON_RACK:
        return "rack"
    return "body" if point in ON_BODY or point.endswith("_body") else "knuckle"


@lru_cache(maxsize=256)
def linkage_of(suspension: LinkSuspension, hub_face_at: Point) -> Linkage:
    """The linkage of a suspension at its reference pose.

    hub_face_at : centre of the hub face there, body frame [mm]
    Raises MotionError for points that cannot move.
    Source: the profile's points; lengths as the distances between them, and as adjusted.
    """
    points = {name: np.array(point) for name, point in suspension.points}
    on_body, on_arm = dict(suspension.on_body), dict(suspension.on_arm)
    rods = RODS[suspension.kind]
    arm_ends = np.array([on_arm.get(knuckle, points[knuckle]) for _, _, knuckle in rods])
    length = np.linalg.norm(arm_ends - np.array([points[body] for _, body, _ in rods]), axis=1)
    if suspension.tie_rod is not None:
        length[-1] = suspension.tie_rod
    longer = dict(suspension.longer)
    length += [longer.get(knuckle, 0.0) for _, _, knuckle in rods]
    slider = None
    if suspension.kind == "strut":
        along = points["strut_top"] - points["strut_axis_point"]
        slider = Slider(points["strut_top"], points["strut_axis_point"], unit(along))
    linkage = Linkage(
        hub_face=np.array(hub_face_at),
        spin_axis=spin_axis(suspension.camber, -suspension.toe_in),
        names=tuple(name for name, _, _ in rods),
        inner=np.array([on_body.get(body, points[body]) for _, body, _ in rods], dtype=float),
        outer=np.array([points[knuckle] for _, _, knuckle in rods]),
        length=length,
        steered=len(rods) - 1,
        slider=slider,
    )
    if not solve(linkage, linkage.hub_face[2:], rack=np.zeros(1)).solved[0]:
        raise MotionError(
            "with these hardpoints the wheel cannot move, or nothing holds it. Draw them with fitment show and look "
            "for a wrong point."
        )
    return linkage


@lru_cache(maxsize=256)
def rack_stops(axle: Axle) -> tuple[float, float]:
    """Rack displacements [mm] that give the left and the right lock at the reference travel; (0, 0) unsteered.

    Raises MotionError when the linkage does not reach a lock.
    Source: derived here: the linkage as measured, solved for the lock angles; adjusting does not move the stops.
    """
    if axle.steering is None:
        return 0.0, 0.0
    assert isinstance(axle.suspension, LinkSuspension)
    as_measured = replace(
        axle.suspension, on_body=(), on_arm=(), tie_rod=None, longer=()
    )  # adjusting does not move the stops
    linkage = linkage_of(as_measured, axle.hub_face_at)
    z = axle.hub_face_at[2]
    locks = np.array([axle.steering.lock_left, -axle.steering.lock_right])
    placed = solve(linkage, np.full(2, z), steer=locks)
    for name, lock, solved in zip(("left", "right"), locks, placed.solved, strict=True):
        if not solved:
            start = np.array([z, -axle.suspension.toe_in])
            end, rods = reach_towards(linkage, start, np.array([z, lock]), by_steer=True)
            raise MotionError(
                f"lock_{name}: the profile gives {lock:+g} deg, but the rack steers the wheel only to {end[1]:+.1f} "
                f"deg; there the steering goes over centre{f' ({_and(rods)} in line)' if rods else ''}."
            )
    return float(placed.rack[0]), float(placed.rack[1])


def link_poses(
    axle: Axle, suspension: LinkSuspension, travel: Array, *, rack: Array | None = None, steer: Array | None = None
) -> Poses:
    """Poses at travels with rack displacements or steer angles.

    travel : (n,) [mm], + up
    rack : (n,) [mm], + to the left; or
    steer : (n,) [deg], + to the left
    Poses out of reach are marked in `Poses.reachable`. Raises MotionError for points that cannot move.
    Source: derived here: `rigid_links.solve`; arms and links follow their ends.
    """
    linkage = linkage_of(suspension, axle.hub_face_at)
    placed = solve(linkage, travel - linkage.hub_face[2], rack=rack, steer=steer)
    knuckle = (placed.rotation, placed.centre - placed.rotation @ linkage.hub_face)
    points = {name: np.array(point) for name, point in suspension.points}
    arms = _arm_motions(suspension, points, knuckle, placed)
    motions = {"knuckle": knuckle, "rack": _rack_motion(placed), **arms}
    return poses_with_body(
        placed.centre,
        placed.rotation @ hub_rotation(linkage.spin_axis),
        motions,
        axis=_steering_axis(suspension.kind, points, knuckle, linkage, placed),
        rack=placed.rack,
        corner=axle.sides[0],
        reachable=placed.solved,
    )


def stop_of(axle: Axle, suspension: LinkSuspension, travel: float) -> tuple[float, tuple[str, ...]]:
    """Travel [mm] at which the linkage stops on the way to a travel straight ahead, and the rods that stop it.

    travel : [mm], + up
    Source: derived here: `rigid_links.reach_towards`.
    """
    linkage = linkage_of(suspension, axle.hub_face_at)
    z = linkage.hub_face[2]
    end, rods = reach_towards(linkage, np.zeros(2), np.array([travel - z, 0.0]), by_steer=False)
    return float(end[0] + z), rods


def strut_length(suspension: LinkSuspension, poses: Poses) -> Array:
    """How much longer a strut is than at the reference pose (n,) [mm], from its top to its point on the knuckle.

    Source: geometry, the distance between the two.
    """
    points = {name: np.array(point) for name, point in suspension.points}
    rotation, shift = poses.motions["knuckle"]
    lower = rotation @ points["strut_axis_point"] + shift
    before = np.linalg.norm(points["strut_top"] - points["strut_axis_point"])
    return np.linalg.norm(points["strut_top"] - lower, axis=1) - before


def _rack_motion(placed: Placed) -> Motion:
    n = len(placed.rack)
    return np.broadcast_to(np.eye(3), (n, 3, 3)), np.outer(placed.rack, [0.0, 1.0, 0.0])


def _arm_motions(
    suspension: LinkSuspension, points: dict[str, Array], knuckle: Motion, placed: Placed
) -> dict[str, Motion]:
    """Arms follow their pivots and ball joint; single links take the least turn that follows their outer end."""
    on_body, on_arm = dict(suspension.on_body), dict(suspension.on_arm)

    def moved(name: str) -> Array:
        return knuckle[0] @ points[name] + knuckle[1]

    motions = {}
    if suspension.kind == "five_link":
        for name, (body, outer) in LINKS.items():
            inner = np.array(on_body.get(body, points[body]))
            inner = inner + np.outer(placed.rack if name == "toe" else 0 * placed.rack, [0.0, 1.0, 0.0])
            turn = _least_turn(unit(points[outer] - points[body]), unit(moved(outer) - inner))
            motions[name] = (turn, inner - np.einsum("nij,j->ni", turn, points[body]))
        return motions
    for name, (front, rear, ball) in ARMS.items():
        if ball in points:
            before = np.array([points[front], points[rear], on_arm.get(ball, points[ball])], dtype=float)
            pivots = np.array([on_body.get(front, points[front]), on_body.get(rear, points[rear])], dtype=float)
            joint = moved(ball)
            after = np.concatenate([np.broadcast_to(pivots, (len(joint), 2, 3)), joint[:, None]], axis=1)
            turn = _triad(after) @ _triad(before[None]).swapaxes(1, 2)
            motions[name] = (turn, after[:, 0] - turn @ before[0])
    return motions


def _triad(corners: Array) -> Array:
    """Orthonormal frames (n, 3, 3) on triangles (n, 3, 3): along the first two corners, and towards the third."""
    along = unit(corners[:, 0] - corners[:, 1])
    out = corners[:, 2] - corners[:, 0]
    out = unit(out - np.sum(out * along, -1, keepdims=True) * along)
    return np.stack([along, out, np.cross(along, out)], axis=-1)


def _least_turn(before: Array, after: Array) -> Array:
    """Smallest turn (n, 3, 3) that takes one direction (3,) to others (n, 3)."""
    across = np.cross(before, after)
    sine = np.linalg.norm(across, axis=1)
    axis = np.where(sine[:, None] > 1e-15, across / np.where(sine > 1e-15, sine, 1.0)[:, None], [1.0, 0.0, 0.0])
    return rotation_about(axis, np.degrees(np.arctan2(sine, after @ before)))


def _steering_axis(
    kind: str, points: dict[str, Array], knuckle: Motion, linkage: Linkage, placed: Placed
) -> tuple[Array, Array]:
    """Two points (n, 3) of the steering axis: ball joints, ball joint and strut top, or the screw axis found."""
    if kind != "five_link":
        lower = knuckle[0] @ points["lower_ball"] + knuckle[1]
        if kind == "strut":
            return lower, np.broadcast_to(points["strut_top"], lower.shape)
        return lower, knuckle[0] @ points["upper_ball"] + knuckle[1]
    return screw_axis(linkage, placed)


def screw_axis(linkage: Linkage, placed: Placed) -> tuple[Array, Array]:
    """Two points (n, 3) [mm], the lower first, of the axis that the knuckle turns about when only the rack moves.

    Source: derived here: the axis of a rigid motion with turn w and shift v passes w x v / |w|^2 from its origin.
    """
    shift, turn = velocity_by_rack(linkage, placed)
    size = np.linalg.norm(turn, axis=1, keepdims=True)
    size = np.where(size > 1e-15, size, 1.0)
    along = turn / size * np.where(turn[:, 2:] < 0, -1.0, 1.0)
    middle = placed.centre + np.cross(turn, shift) / size**2
    return middle - HALF_AXIS * along, middle + HALF_AXIS * along


def _and(words: tuple[str, ...]) -> str:
    return " and ".join(words)
