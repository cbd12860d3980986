"""What nobody told of a tire, where that alone keeps a setup from clearing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from fitment.checks.case import Case
from fitment.checks.fit import CLEARS, Fit, clearance_verdicts, with_parts
from fitment.clearance.closest_poses import Near
from fitment.clearance.pose_grid import sweep
from fitment.parts.axle import Setup
from fitment.parts.tire import Tire

Told = tuple[str, ...]
LOOKED_AT: dict[str, Any] = {"rim_protector": False, "shoulder": "usual"}  # what ends the band


def hangs_on(case: Case) -> tuple[Told, ...]:
    """Keys of the tire that nobody told, told as LOOKED_AT, with which the setup clears: each by itself, else together.

    Empty where the setup does not hang on them, or is short in service anyway. Raises MotionError, CodeError.
    Source: the check of the tire so told, of the parts alone that its worst case overlaps: it is part of the largest
        tire, so whatever that keeps it keeps too.
    """
    fit, tire = case.fit, case.fit.setup.tire
    open_ = [key for key in LOOKED_AT if getattr(tire, key) is None and not tire.outline]
    short = {(entry.obstacle, entry.part) for entry in fit.clearances if entry.worst_case < 0}
    kept = all(entry.margin >= 0 for entry in fit.clearances)
    served = fit.in_service is not None and fit.in_service.is_tight
    if not open_ or not short or not kept or served or any(part == "wheel" for _, part in short):
        return ()
    together = _clear(case, fit, [tuple(open_)], frozenset(short))
    if not together or len(open_) == 1:  # no tire of these is smaller than that one
        return tuple(together)
    return tuple(_clear(case, fit, [(key,) for key in open_], frozenset(short)) or together)


def _clear(case: Case, fit: Fit, chosen: Sequence[Told], near: Near) -> list[Told]:
    """Those of these with which it clears."""
    variants = [replace(variant, axle=with_parts(variant.axle, near)) for variant in case.ready.variants]
    swept = sweep(with_parts(fit.axle, near), fit.setup.ride)
    setups = [_told(fit.setup, keys) for keys in chosen]
    others = [[_told(other, keys) for other in case.others] for keys in chosen]
    verdicts = clearance_verdicts(swept, setups, variants, None, others)
    return [told for told, verdict in zip(chosen, verdicts, strict=True) if verdict == CLEARS]


def _told(setup: Setup, keys: Told) -> Setup:
    return replace(setup, tire=told_tire(setup.tire, keys))


def told_tire(tire: Tire, keys: Told) -> Tire:
    """The tire with these keys told as LOOKED_AT."""
    return replace(tire, **{key: LOOKED_AT[key] for key in keys})
