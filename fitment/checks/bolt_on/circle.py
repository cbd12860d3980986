"""Bolt circle and lugs of the wheel against those of the hub or adapter."""

from __future__ import annotations

from collections.abc import Iterator

from fitment.checks.bolt_on.result import BoltOn, Check, numbers, offered_circle
from fitment.parts.axle import Axle, Setup
from fitment.parts.bolt_circle import NEAR, rounded_from, same_circle
from fitment.parts.hub import BoltCircle

ITEM = "bolt circle"
FORCED = "Never force it on: studs bend, the seats do not meet and the nuts work loose"


def _circle(axle: Axle, setup: Setup) -> Iterator[BoltOn]:
    offered, owner = offered_circle(axle, setup)
    wheel = setup.wheel.bolt_circle
    if wheel is None:
        yield BoltOn(ITEM, "not_checked", "the wheel's spec does not tell its bolt circle; ask the seller")
    elif offered is None:
        yield BoltOn(ITEM, "not_checked", f"the profile does not tell the {owner}'s bolt circle; measure it")
    else:
        yield same(ITEM, wheel, offered, ("wheel", owner))


def same(item: str, one: BoltCircle, other: BoltCircle, names: tuple[str, str]) -> BoltOn:
    """Whether a drilled part goes on studs.

    names : of the part with the holes, and of the one with the studs
    Source: `same_circle` for what is one circle; NEAR is common practice, no published source.
    """
    holed, studded = names
    apart = abs(one.diameter - other.diameter)
    figures = {f"{holed}_mm": one.diameter, f"{studded}_mm": other.diameter}
    if one.lugs != other.lugs:
        figures = {f"{holed}_lugs": one.lugs, f"{studded}_lugs": other.lugs} | figures
        words = f"the {holed} has {one.lugs} holes, the {studded} {other.lugs} studs"
        return BoltOn(item, "fail", words, numbers(**figures))
    compared = numbers(**figures, apart_mm=apart)
    words = f"{one} mm on the {studded}'s {other} mm"
    if same_circle(one, other):
        return BoltOn(item, "ok", words, compared)
    if rounded_from(one, other):
        ask = f"ask the seller whether {other} is meant, which the {studded} has: {one} is in use nowhere"
        return BoltOn(item, "not_checked", ask, compared)
    words = f"the {holed} has {one} mm, the {studded} {other} mm: {apart:.2f} mm apart"
    near = f". {FORCED}" if apart < NEAR else ""
    return BoltOn(item, "fail", words + near, compared)


CHECKS = (Check("circle", _circle, lambda _axle, setup: (setup.wheel.bolt_circle, setup.spacer.adapter)),)
