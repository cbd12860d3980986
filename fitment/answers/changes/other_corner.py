"""What a change of one corner makes of the other one, where the sides of an axle differ."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fitment.answers.changes.in_service import told_in_service
from fitment.answers.changes.record import Change
from fitment.checks.case import Case, run
from fitment.parts.axle import Setup
from fitment.parts.tire_code import parse_tire


def with_other_corner(changes: Sequence[Change], mate: Case) -> tuple[Change, ...]:
    """The changes, those that are made on both sides alike with what a check finds of the other corner.

    Stops bind both sides and never let a wheel come farther; a part or camber is of its own side. Raises FitmentError.
    """
    return tuple(_checked(change, mate) for change in changes)


def _checked(change: Change, mate: Case) -> Change:
    setup = _changed(mate.fit.setup, change)
    if setup is None or change.achieves == "nothing":
        return change
    found = run(mate.ready, setup, other_axle=mate.other_setup)
    told = found if mate.fit.in_service is None else told_in_service(found)
    return replace(change, other_corner=mate.fit.axle.name, other_verdict=told.fit.verdict)


def _changed(setup: Setup, change: Change) -> Setup | None:
    """The setup with the change, None for one that is not of the setup."""
    value = change.value
    if change.kind == "tire" and isinstance(value, str):
        return replace(setup, tire=parse_tire(value))
    if not isinstance(value, float | int):
        return None
    if change.kind == "offset":
        return replace(setup, wheel=replace(setup.wheel, offset=float(value)))
    if change.kind == "spacer":
        return replace(setup, spacer=replace(setup.spacer, thickness=float(value)))
    return replace(setup, ride=float(value), ride_name=None) if change.kind == "ride" else None
