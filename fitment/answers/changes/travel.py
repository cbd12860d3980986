"""Ride height, bump stop and steering stop: poses taken away."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from fitment.answers.changes.ask import Ask
from fitment.answers.changes.looks import left_over
from fitment.answers.changes.search import Lever
from fitment.answers.changes.trials import Bench, Trial, with_axle
from fitment.answers.changes.usable import USABLE_BUMP
from fitment.answers.changes.words import Effects, moved
from fitment.checks.case import Case
from fitment.errors import FitmentError
from fitment.motion.link_suspension import rack_stops
from fitment.motion.suspension import swept_travel
from fitment.parts.axle import Axle, LinkSuspension, Steering

HIGHEST = 100  # [mm] by which the body is raised at most
Limit = tuple[tuple[float, float], ...]  # as `Axle.steer_limit`
LEAST_LOCK = 0.5  # share of the locks below which a vehicle is not asked to be steered
LOCK_STEP = 0.5  # [deg]
RIDE_CAUTION = (
    "Ride height changes camber, toe and brake-hose slack: have it aligned and looked over at the new height."
)
BUMP_CAUTION = (
    "The suspension meets its stop sooner and harder. Use a progressive stop of the right length, never a hard block. "
    "With a load in the vehicle still less of this travel is left."
)
LOCK_CAUTION = (
    "A wider turning circle. Set both stops alike, left and right, by a licensed mechanic: a stop that bends or slips "
    "lets the tire touch in a turn. Local rules may forbid changes to the steering."
)


def ride_asks(bench: Bench) -> list[Ask]:
    """The body raised at rest. Poses from droop to bump are checked at any height, so it seldom helps."""
    base, axle = bench.base, bench.base.ready.axle
    now = base.setup.ride
    lowest = max(math.ceil(now - HIGHEST), math.ceil(axle.droop))
    values = [float(x) for x in range(math.ceil(now) - 1, lowest - 1, -1)]
    if not values:
        return []

    def trial(i: int) -> Trial:
        others = tuple(replace(other, ride=values[i], ride_name=None) for other in base.others)
        return replace(base, setup=replace(base.setup, ride=values[i], ride_name=None), others=others)

    def effects(_i: int, case: Case) -> Effects:
        stance_changes = moved(bench.stance, bench.stance_of(case), "track")
        return stance_changes | {"body_height_change_mm": now - case.stance.ride, "camber_deg": case.stance.camber}

    return [
        Ask(
            "ride",
            Lever(
                values, trial, left_over(bench, lambda i, e: e.travel <= swept_travel(axle, values[i])[1]), steady=True
            ),
            sought="more ride height",
            searched=f"travel at rest {values[0]:+g} to {values[-1]:+g} mm",
            unit="mm",
            present=now,
            name=lambda i: f"travel at rest {values[i]:+g} mm",
            what=lambda i: (
                f"the body {now - values[i]:g} mm higher: travel at rest {values[i]:+g} mm instead of {now:+g} mm"
            ),
            effects=effects,
            apply=lambda i: {"--ride": values[i]},
            caution=RIDE_CAUTION,
            note=(
                "Raising the body adds no room at full bump unless the bump stops move too; full bump only comes more "
                f"rarely. All travel from {axle.droop:+g} to {axle.bump:+g} mm is checked, whatever the height at rest."
            ),
        )
    ]


def bump_asks(bench: Bench) -> list[Ask]:
    """The largest bump travel that clears, not below the ride height."""
    base, axle = bench.base, bench.base.ready.axle
    ride = base.setup.ride
    values = [float(x) for x in range(math.ceil(axle.bump) - 1, math.ceil(max(ride, 0.0)) - 1, -1)]
    if not values:
        return []

    def effects(i: int, _case: Case) -> Effects:
        lost = [f"{name} ({z:+g} mm)" for name, z in axle.ride_heights if z > values[i]]
        bump_travel: Effects = {"travel_lost_mm": axle.bump - values[i], "bump_from_rest_mm": values[i] - ride}
        return bump_travel | ({"ride_heights_lost": ", ".join(lost)} if lost else {})

    return [
        Ask(
            "bump_stop",
            Lever(
                values,
                lambda i: at_bump(base, values[i]),
                left_over(bench, lambda i, e: e.travel <= values[i]),
                steady=True,
            ),
            sought="a bump stop that ends the travel sooner",
            searched=f"bump {values[0]:+g} mm down to {values[-1]:+g} mm",
            unit="mm",
            present=axle.bump,
            name=lambda i: f"bump {values[i]:+g} mm",
            what=lambda i: f"a bump stop that ends travel at {values[i]:+g} mm instead of {axle.bump:+g} mm",
            effects=effects,
            apply=lambda i: {"travel.bump": values[i]},
            caution=BUMP_CAUTION,
            remark=lambda i: _left_words(values[i] - ride, axle.bump - values[i]),
        )
    ]


def _left_words(left: float, lost: float) -> str:
    """What would give back the bump travel from rest where little is left."""
    if left >= USABLE_BUMP:
        return ""
    return f"With the body {lost:g} mm higher as well the bump travel from rest stays as it is now."


def at_bump(trial: Trial, bump: float) -> Trial:
    """The trial with its bump stop there; bump : [mm]. Source: none needed, it is set; variants move alike."""
    axle = trial.ready.axle
    variants = [_with_bump(v.axle, bump + v.axle.bump - axle.bump) for v in trial.ready.variants]
    return with_axle(trial, _with_bump(axle, bump), variants)


def at_lock(trial: Trial, lock: float) -> Trial:
    """The trial with steering stops at which its larger lock is so much, the other in the same share.

    lock : [deg]
    Raises FitmentError on an axle that does not steer.
    Source: derived here, see `_scaled`.
    """
    now = trial.ready.axle.steering
    if now is None:
        raise FitmentError(f"the {trial.ready.axle.title} does not steer, so it has no steering stops.")
    wanted = _scaled(now, lock / max(now.lock_left, now.lock_right))
    variants = [_with_locks(v.axle, now, wanted) for v in trial.ready.variants]
    return with_axle(trial, _with_locks(trial.ready.axle, now, wanted), variants)


def _with_bump(axle: Axle, bump: float) -> Axle:
    """The axle with its bump stop there; ride heights beyond it are no longer to be had."""
    return replace(axle, bump=bump, ride_heights=tuple((n, z) for n, z in axle.ride_heights if z <= bump))


def lock_asks(bench: Bench) -> list[Ask]:
    """The largest share of both locks that clears, in steps of the larger one."""
    axle = bench.base.ready.axle
    if axle.steering is None:
        return []
    now = axle.steering
    inner = max(now.lock_left, now.lock_right)
    count = int((inner - LEAST_LOCK * inner) / LOCK_STEP + 1e-9) + 1
    first = math.ceil(inner / LOCK_STEP - 1e-9) - 1
    values = [LOCK_STEP * (first - k) for k in range(count) if LOCK_STEP * (first - k) >= LEAST_LOCK * inner]
    return [_lock_ask(bench, now, values)] if values else []


def _lock_ask(bench: Bench, now: Steering, values: Sequence[float]) -> Ask:
    base, axle = bench.base, bench.base.ready.axle
    inner = max(now.lock_left, now.lock_right)
    locks = [_scaled(now, value / inner) for value in values]

    def said(lock: Steering) -> str:
        return f"{lock.lock_left:g} deg left, {lock.lock_right:g} deg right"

    return Ask(
        "steering_stop",
        Lever(
            values,
            lambda i: at_lock(base, values[i]),
            left_over(bench, lambda i, e: abs(e.steer) <= min(locks[i].lock_left, locks[i].lock_right)),
            steady=True,
        ),
        sought="steering stops that end the locks sooner",
        searched=f"locks from {said(locks[0])} to {said(locks[-1])}" if locks else "",
        unit="deg",
        present=inner,
        name=lambda i: said(locks[i]),
        what=lambda i: (
            f"steering stops at {said(locks[i])} (left wheel; the right one mirrored) instead of {said(now)}"
        ),
        effects=lambda i, _case: _lock_effects(bench, now, locks[i]),
        apply=lambda i: {
            "steering.lock_left": locks[i].lock_left,
            "steering.lock_right": locks[i].lock_right,
            **({"steer_limit": _same_angles(axle.steer_limit, now, locks[i])} if axle.steer_limit else {}),
        },
        caution=LOCK_CAUTION,
    )


def turning_circle(steering: Steering, lock: float) -> float:
    """By how much the turning circle grows with another larger lock [%]; lock : [deg]. Source: `_lock_effects`."""
    larger = max(steering.lock_left, steering.lock_right)
    before, after = (math.sin(math.radians(min(s.lock_left, s.lock_right)))
                     for s in (steering, _scaled(steering, lock / larger)))  # fmt: skip
    return 100 * (before / after - 1)


def _scaled(steering: Steering, lock_fraction: float) -> Steering:
    """Both locks at a share, the one that does not set the step rounded down to 0.1 deg."""

    def part(lock: float) -> float:
        return math.floor(lock * lock_fraction * 10 + 1e-6) / 10

    return Steering(part(steering.lock_left), part(steering.lock_right))


def _with_locks(axle: Axle, now: Steering, wanted: Steering) -> Axle:
    if axle.steering is None:
        return axle
    left = wanted.lock_left + axle.steering.lock_left - now.lock_left
    right = wanted.lock_right + axle.steering.lock_right - now.lock_right
    return replace(axle, steering=Steering(left, right), steer_limit=_same_angles(axle.steer_limit, now, wanted))


def _same_angles(limit: Limit, now: Steering, wanted: Steering) -> Limit:
    """Shares of the wanted locks that leave the angles which a limit leaves of the present ones, 1 at most."""
    larger = max(now.lock_left / wanted.lock_left, now.lock_right / wanted.lock_right)
    points = [(travel, lock_fraction * larger) for travel, lock_fraction in limit]
    full = [  # where the way from one point to the next goes through 1
        (t + (1 - a) / (b - a) * (u - t), 1.0) for (t, a), (u, b) in pairwise(points) if (a - 1) * (b - 1) < 0
    ]
    return tuple(sorted((travel, min(lock_fraction, 1.0)) for travel, lock_fraction in (*points, *full)))


def _lock_effects(bench: Bench, now: Steering, lock: Steering) -> Effects:
    """Lock lost, the turning circle, and how much less the rack moves where there is one.

    The turning circle is that of the outer wheel rolling without slip about a point in line with the other axle:
    2 x wheelbase / sin(its lock). Source: geometry.
    """
    effects: Effects = {"lock_left_lost_deg": now.lock_left - lock.lock_left}
    effects["lock_right_lost_deg"] = now.lock_right - lock.lock_right
    before, after = (math.sin(math.radians(min(s.lock_left, s.lock_right))) for s in (now, lock))
    effects["turning_circle_change_percent"] = 100 * (before / after - 1)
    wheelbase = bench.case.ready.profile.wheelbase
    if wheelbase is not None:
        effects["turning_circle_mm"] = 2 * wheelbase / after
    axle = bench.base.ready.axle
    if isinstance(axle.suspension, LinkSuspension):
        stops = zip(rack_stops(axle), rack_stops(_with_locks(axle, now, lock)), strict=True)
        effects["rack_travel_lost_mm"] = max(abs(a) - abs(b) for a, b in stops)
    return effects
