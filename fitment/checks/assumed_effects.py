"""What assumed values do to a checked setup: how much of the worst case each takes, and what does not hang on them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fitment.checks.fit import Clearance, Fit
from fitment.clearance.closest_poses import poses_at
from fitment.clearance.pose_grid import Variant
from fitment.clearance.trace import hub_corners
from fitment.clearance.worst_case import PartMoved, read_again, sections_of, worst_clearance
from fitment.frames import Array
from fitment.parts.axle import Setup
from fitment.profile import Assumed

STEERING_AXIS = "suspension.steering_axis"
STRAIGHT = 1e-6  # [deg] of the wheel's own toe within which it is straight ahead


@dataclass(frozen=True)
class AssumedEffect:
    """An assumed value.

    takes : by how much its band alone lowers the least worst case [mm]
    """

    value: Assumed
    takes: float


def effects_of(
    assumed: Sequence[Assumed], fit: Fit, variants: Sequence[Variant], others: Sequence[tuple[str, Setup]]
) -> tuple[AssumedEffect, ...]:
    """What each assumed value by itself takes from the least of all worst cases. Raises MotionError.

    variants, others : the axle and the setup with one reading moved by its tolerance, each by its key path
    """
    if not assumed or not fit.clearances:
        return tuple(AssumedEffect(value, 0.0) for value in assumed)
    untouched = _left_with(fit, (), (), 0.0)

    def takes(path: str) -> float:
        own = [variant for variant in variants if variant.reading == path]
        setups = [other for name, other in others if name == path]
        offset = fit.setup.wheel.offset_tolerance if path == "wheel.offset" else 0.0
        return untouched - _left_with(fit, own, setups, offset)

    return tuple(AssumedEffect(value, takes(value.path)) for value in assumed)


def taken_together(
    assumed: Sequence[Assumed], fit: Fit, variants: Sequence[Variant], others: Sequence[tuple[str, Setup]]
) -> float | None:
    """What all assumed values take together from the least of all worst cases [mm], None where there is none.

    variants, others : see `effects_of`
    Wide bands together take more than the sum of each. Raises MotionError.
    Source: derived here: the worst case of the readings alone that are not assumed, less the worst case.
    """
    if not assumed or not fit.clearances:
        return None
    paths = {value.path for value in assumed}
    offset = 0.0 if "wheel.offset" in paths else fit.setup.wheel.offset_tolerance
    own = [variant for variant in variants if variant.reading not in paths]
    setups = [other for name, other in others if name not in paths]
    return _left_with(fit, own, setups, offset) - least_worst_case(fit).worst_case


def _left_with(fit: Fit, variants: Sequence[Variant], others: Sequence[Setup], offset_tolerance: float) -> float:
    """The worst case at the place of the least one with some readings alone [mm]."""
    entry = least_worst_case(fit)
    whole = next(trace for trace in fit.traces if trace.obstacle.name == entry.obstacle)
    trace = whole.at(np.arange(len(whole)) == entry.pose)
    parts = replace(sections_of(fit.setup, variants, others), offset_tolerance=offset_tolerance)
    place = _place(fit, entry.pose)
    moved = [
        PartMoved(other.radius, hub_corners(other, poses_at(fit.axle, place, variants[k].axle)), variants[k].assumed)
        for k, other in read_again(trace.obstacle, fit.axle, parts)
    ]
    return float(worst_clearance(trace, entry.part, None, moved, parts)[0])


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
