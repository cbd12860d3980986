"""What assumed values do to a checked setup: how much of the worst case each takes, and what does not hang on them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fitment.checks.fit import Clearance, Fit
from fitment.clearance.closest_poses import poses_at
from fitment.clearance.pose_grid import Variant
from fitment.clearance.section_distance import gaps
from fitment.clearance.trace import hub_corners
from fitment.clearance.worst_case import read_again, sections_of, worst_clearance
from fitment.frames import Array
from fitment.parts.axle import Setup
from fitment.profile import Assumed

STEERING_AXIS = "suspension.steering_axis"
STRAIGHT = 1e-6  # [deg] of the wheel's own toe within which it is straight ahead


@dataclass(frozen=True)
class AssumedEffect:
    """An assumed value, and by how much its band lowers the least worst case [mm]."""

    value: Assumed
    takes: float


def effects_of(
    assumed: Sequence[Assumed], fit: Fit, variants: Sequence[Variant], others: Sequence[tuple[str, Setup]]
) -> tuple[AssumedEffect, ...]:
    """What each assumed value takes from the least of all worst cases. Raises MotionError.

    variants, others : the axle and the setup with one reading moved by its tolerance, each by its key path
    """
    if not assumed or not fit.clearances:
        return tuple(AssumedEffect(value, 0.0) for value in assumed)
    entry = least_worst_case(fit)
    whole = next(each for each in fit.traces if each.obstacle.name == entry.obstacle)
    trace = whole.at(np.arange(len(whole)) == entry.pose)
    parts = replace(sections_of(fit.setup), offset_tolerance=0.0)
    big = gaps(parts.biggest[entry.part], trace)
    untouched = float(worst_clearance(trace, entry.part, big, (), parts)[0])
    readings, setups = {each.reading: each for each in variants}, dict(others)

    def takes(path: str) -> float:
        own, moved = parts, []
        if path == "wheel.offset":
            own = replace(parts, offset_tolerance=fit.setup.wheel.offset_tolerance)
        elif path in setups:
            own = replace(parts, others=sections_of(fit.setup, (), (setups[path],)).others)
        elif path in readings:
            variant = readings[path]
            (other,) = read_again(trace.obstacle, replace(parts, variants=(variant,)))
            moved = [(other, hub_corners(other, poses_at(fit.axle, _place(fit, entry.pose), variant.axle)))]
        return untouched - float(worst_clearance(trace, entry.part, big, moved, own)[0])

    return tuple(AssumedEffect(value, takes(value.path)) for value in assumed)


def least_worst_case(fit: Fit) -> Clearance:
    """The entry whose worst case is least."""
    return min(fit.clearances, key=lambda entry: entry.worst_case)


def _place(fit: Fit, pose: int) -> list[Array]:
    """Travel and lock fractions (1, k) of one pose in its family, none in the others."""
    ends = np.cumsum([len(each) for each in fit.places])
    first = ends - [len(each) for each in fit.places]
    return [
        each[max(pose - start, 0) : pose - start + 1 if pose >= start else 0]
        for each, start in zip(fit.places, first.tolist(), strict=True)
    ]


def straight_ahead(assumed: Sequence[Assumed], fit: Fit) -> Clearance | None:
    """The tightest entry straight ahead, where an assumed steering axis does not count; None if none is assumed."""
    if not any(value.path.startswith(STEERING_AXIS) for value in assumed):
        return None
    own = -fit.axle.suspension.toe_in
    entries = [entry for entry in fit.clearances if abs(entry.steer - own) < STRAIGHT]
    return min(entries, key=lambda entry: entry.urgency, default=None)
