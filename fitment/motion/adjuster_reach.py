"""What alignment can reach: the state at each ride height, the region of camber and caster, the settings.

Every combination of settings is solved at the ride height with toe re-set. Toe costs no freedom: the
tie rod's length gives it, or on five links the adjuster of the toe link, as far as it goes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
import shapely

from fitment.errors import FitmentError
from fitment.frames import Array, camber_of
from fitment.motion.adjusters import (
    ANY_TURN,
    LENGTHS,
    Setting,
    adjusted,
    place_of,
    positions,
    set_for_toe,
    tie_rod_for_toe,
    toe_adjuster,
)
from fitment.motion.link_suspension import RODS, linkage_of, screw_axis
from fitment.motion.rigid_links import Linkage, Placed, solve
from fitment.motion.suspension import poses_at_lock_fraction, travel_levels
from fitment.parts.axle import Adjuster, Axle, LinkSuspension

MOST = 20_000  # combinations solved at once; eccentrics are first tried in larger steps until they fit
FINE_TURN = 1.0  # [deg] to which an eccentric without steps is refined for a target
AS_GOOD = 0.01  # [deg] a miss this much larger is no worse to a person with a gauge


@dataclass(frozen=True)
class Reach:
    """Every combination of settings that was solved, and what it gives.

    camber, caster : (n,) [deg], + = top outboard, top rearward
    moved : how far pivots moved in all (n,) [mm]
    """

    settings: tuple[tuple[Setting, ...], ...]
    camber: Array
    caster: Array
    moved: Array


@dataclass(frozen=True)
class Target:
    """Wanted alignment; None = as it comes.

    camber, caster : [deg]
    """

    camber: float | None
    caster: float | None


@dataclass(frozen=True)
class Choice:
    """The settings nearest to a target.

    camber, caster : what they give [deg]
    left_over : target less that, 0 where nothing was asked [deg]
    toe_before, toe_after : (travel [mm], toe-in [deg]) over travel, straight ahead
    axle : with the settings made and toe re-set
    """

    settings: tuple[Setting, ...]
    camber: float
    caster: float
    left_over: tuple[float, float]
    toe_before: tuple[tuple[float, float], ...]
    toe_after: tuple[tuple[float, float], ...]
    axle: Axle


def reachable_alignment(axle: Axle, travel: float, turn: float | None = None) -> Reach:
    """Camber and caster that the adjusters reach, toe re-set.

    travel : at which they are read [mm]
    turn : step of eccentrics [deg]; None = each its own
    Raises FitmentError for too many combinations, or none that reaches this travel.
    Source: derived here: every combination solved.
    """
    suspension = _links(axle)
    by_toe = toe_adjuster(axle)

    def tried(turn: float | None) -> list[list[Setting]]:
        return [[Setting(a.name)] if a == by_toe else positions(a, turn) for a in axle.adjusters]

    lists = tried(turn)
    while np.prod([float(len(settings)) for settings in lists]) > MOST:
        turn = 2 * (turn or min(((a.step or ANY_TURN) for a in axle.adjusters if a.eccentric), default=120.0))
        if turn > 120:
            raise FitmentError("these adjusters have too many combinations; give fewer positions.")
        lists = tried(turn)
    return _solved(axle, suspension, travel, list(product(*lists)))


def nearest_settings(axle: Axle, travel: float, target: Target) -> Choice:
    """The settings that come nearest to a target.

    travel : at which it is read [mm]
    Raises FitmentError as `reachable_alignment` does.
    Source: derived here: the least miss of camber and caster, then the least motion of the pivots.
    """
    known = reachable_alignment(axle, travel)
    best = _best(known, target)
    choice = known.settings[best]
    for turn in _finer_turns(axle):
        around = _around(axle, choice, turn)
        known = _solved(axle, _links(axle), travel, around)
        choice = known.settings[_best(known, target)]
    known = _solved(axle, _links(axle), travel, [choice])
    camber, caster = float(known.camber[0]), float(known.caster[0])
    made = adjusted(axle, choice, travel=travel)
    return Choice(
        settings=choice,
        camber=camber,
        caster=caster,
        left_over=(
            0.0 if target.camber is None else target.camber - camber,
            0.0 if target.caster is None else target.caster - caster,
        ),
        toe_before=_toe_over_travel(axle, travel),
        toe_after=_toe_over_travel(made, travel),
        axle=made,
    )


def _links(axle: Axle) -> LinkSuspension:
    if not isinstance(axle.suspension, LinkSuspension):
        raise FitmentError("a suspension without hardpoints has nothing that an adjuster could move; give its points.")
    if not axle.adjusters:
        raise FitmentError(f"the {axle.title} lists no adjusters; name them under `adjusters` in the profile.")
    return axle.suspension


def _solved(
    axle: Axle, suspension: LinkSuspension, travel: float, combinations: Sequence[tuple[Setting, ...]]
) -> Reach:
    """Camber and caster of many combinations at once; those that the linkage does not reach are left out."""
    rods = RODS[suspension.kind]
    as_measured = replace(suspension, on_body=(), on_arm=(), tie_rod=None, longer=())
    base = linkage_of(as_measured, axle.hub_face_at)
    points = {name: np.array(point) for name, point in suspension.points}
    inner = np.repeat(base.inner[None], len(combinations), axis=0)
    arm_end = np.repeat(base.outer[None], len(combinations), axis=0)
    longer = np.zeros(inner.shape[:2])
    measured = np.array([points[body] for _, body, _ in rods])
    height = travel - axle.hub_face_at[2]

    def put(a: int) -> None:
        """Put the points and lengths of one adjuster where every combination sets them."""
        adjuster = axle.adjusters[a]
        if adjuster.length:
            k = next(k for k, (_, _, knuckle) in enumerate(rods) if knuckle in adjuster.moves)
            longer[:, k] = [c[a].length or 0.0 for c in combinations]
            return
        places = {setting: place_of(suspension, adjuster, setting) for setting in {c[a] for c in combinations}}
        for k, (_, body, knuckle) in enumerate(rods):
            for name, ends in ((body, inner), (knuckle, arm_end)):
                if name in adjuster.moves:
                    ends[:, k] = [places[c[a]][name] for c in combinations]

    by_toe = toe_adjuster(axle)
    for a, adjuster in enumerate(axle.adjusters):
        if adjuster != by_toe:
            put(a)
    length = np.linalg.norm(arm_end - measured, axis=2) + longer
    linkage = replace(base, inner=inner, length=length)
    if by_toe is None:
        length[:, base.steered], has_toe = tie_rod_for_toe(linkage, height, suspension.toe_in)
    else:
        a = axle.adjusters.index(by_toe)
        toes, has_toe = set_for_toe(suspension, by_toe, linkage, height)
        combinations = [(*c[:a], toe, *c[a + 1 :]) for c, toe in zip(combinations, toes, strict=True)]
        put(a)
        length[:, base.steered] += longer[:, base.steered]
    placed = solve(linkage, np.full(len(inner), height), rack=np.zeros(len(inner)))
    good = placed.solved & has_toe
    if not good.any():
        raise FitmentError("no setting of the adjusters reaches this ride height.")
    axis = placed.rotation @ base.spin_axis
    caster = _caster(points, suspension.kind, linkage, placed)
    moved = np.linalg.norm(inner - base.inner, axis=2).sum(1) + np.linalg.norm(arm_end - base.outer, axis=2).sum(1)
    moved += np.abs(longer).sum(1)
    kept = tuple(c for c, ok in zip(combinations, good, strict=True) if ok)
    return Reach(kept, camber_of(axis)[good], caster[good], moved[good])


def _caster(points: dict[str, Array], kind: str, linkage: Linkage, placed: Placed) -> Array:
    """Caster [deg] to the body, (n,), from two points of the steering axis."""

    def moved(name: str) -> Array:
        return placed.centre + placed.rotation @ (points[name] - linkage.hub_face)

    if kind == "five_link":
        lower, upper = screw_axis(linkage, placed)
    else:
        lower = moved("lower_ball")
        upper = np.broadcast_to(points["strut_top"], lower.shape) if kind == "strut" else moved("upper_ball")
    return np.degrees(np.arctan2(lower[:, 0] - upper[:, 0], upper[:, 2] - lower[:, 2]))


def _best(known: Reach, target: Target) -> int:
    """Nearest combination; among those as good, the one that moves the pivots least."""
    miss = np.zeros(len(known.camber))
    if target.camber is not None:
        miss = np.hypot(miss, known.camber - target.camber)
    if target.caster is not None:
        miss = np.hypot(miss, known.caster - target.caster)
    good = np.flatnonzero(miss <= miss.min() + AS_GOOD)
    return int(good[np.argmin(known.moved[good])])


def _finer_turns(axle: Axle) -> list[float]:
    """Turns [deg] by which eccentrics without steps are refined around the best so far, and lengths in proportion."""
    by_toe = toe_adjuster(axle)
    free = [adjuster for adjuster in axle.adjusters if adjuster != by_toe and _free(adjuster)]
    turns, turn = [], ANY_TURN
    while free and turn > FINE_TURN:
        turn = max(turn / 3, FINE_TURN)
        turns.append(turn)
    return turns


def _around(axle: Axle, choice: tuple[Setting, ...], turn: float) -> list[tuple[Setting, ...]]:
    """The choice with every eccentric without steps turned, and every length changed, a little either way."""
    lists, by_toe = [], toe_adjuster(axle)
    for adjuster, setting in zip(axle.adjusters, choice, strict=True):
        if adjuster == by_toe or not _free(adjuster):
            lists.append([setting])
            continue
        if adjuster.length:
            low, high = adjuster.length
            lengths = (setting.length or 0.0) + (high - low) / (LENGTHS - 1) * turn / ANY_TURN * np.arange(-2.0, 3.0)
            lists.append([replace(setting, length=float(length)) for length in np.unique(np.clip(lengths, low, high))])
            continue
        offsets = product((-2 * turn, -turn, 0.0, turn, 2 * turn), repeat=len(setting.angles))
        lists.append(
            [
                replace(setting, angles=tuple((a + d) % 360 for a, d in zip(setting.angles, change, strict=True)))
                for change in offsets
            ]
        )
    return list(product(*lists))


def _free(adjuster: Adjuster) -> bool:
    """Whether an adjuster can be set anywhere in its range."""
    return bool(adjuster.length) or (adjuster.eccentric is not None and adjuster.step is None)


def _toe_over_travel(axle: Axle, ride: float) -> tuple[tuple[float, float], ...]:
    poses = poses_at_lock_fraction(axle, travel_levels(axle, ride), 0.0)
    return tuple((float(t), float(-d)) for t, d in zip(poses.travel, poses.steer, strict=True))


def outlines(known: Reach) -> tuple[Array, list[tuple[tuple[Setting, ...], Array]]]:
    """Outline (m, 2) [deg] of camber and caster reached, and one for each position of the ball joints.

    Source: derived here: each position's outline is the convex hull of what its eccentrics reach; the whole is their
    union's largest part.
    """
    points = np.column_stack([known.camber, known.caster])
    groups: dict[tuple[Setting, ...], list[int]] = {}
    for i, settings in enumerate(known.settings):
        groups.setdefault(tuple(s for s in settings if s.out is not None or s.forward is not None), []).append(i)
    hulls = [(key, shapely.convex_hull(shapely.multipoints(points[rows]))) for key, rows in groups.items()]
    union = shapely.union_all([shapely.buffer(hull, 1e-3) for _, hull in hulls])
    largest = max(shapely.get_parts(union), key=lambda part: part.area)
    return shapely.get_coordinates(largest.exterior), [(key, shapely.get_coordinates(hull)) for key, hull in hulls]
