"""Whether the wheel bolts on: circle, bore, registers, studs, nuts, brake in the wheel,
sliding it on, rim, load, speed, adapters.

Every check gives a status, its numbers and a sentence of reason. What is not known is `not_checked` and says what to
measure or to ask the seller; nothing passes in silence. A cited rule or a stated limit that is not met fails; a rule
of common practice is a caution.
"""

from __future__ import annotations

from collections.abc import Hashable

from fitment.checks.bolt_on import adapters, brake, circle, load_speed_rim, registers, slide, studs
from fitment.checks.bolt_on.load_speed_rim import front_and_rear, front_and_rear_unknown
from fitment.checks.bolt_on.result import BoltOn, Check, Status
from fitment.parts.axle import Axle, Setup

CHECKS: tuple[Check, ...] = (
    *adapters.CHECKS,
    *circle.CHECKS,
    *registers.CHECKS,
    *studs.CHECKS,
    *brake.CHECKS,
    *slide.CHECKS,
    *load_speed_rim.CHECKS,
)
Known = dict[tuple[str, Hashable], tuple[BoltOn, ...]]


def bolt_on_checks(axle: Axle, setup: Setup, known: Known | None = None) -> tuple[BoltOn, ...]:
    """Every bolt-on check of one setup on one axle, from the hub outward.

    known : answers kept from other setups on this very axle, filled here; the answers are the same with and without
    """
    answers: list[BoltOn] = []
    for check in CHECKS:
        if known is None:
            answers += check.find(axle, setup)
            continue
        key = (check.name, check.key(axle, setup))
        answer = known.get(key)
        if answer is None:
            answer = known[key] = tuple(check.find(axle, setup))
        answers += answer
    return tuple(answers)


__all__ = [
    "CHECKS",
    "BoltOn",
    "Check",
    "Known",
    "Status",
    "bolt_on_checks",
    "front_and_rear",
    "front_and_rear_unknown",
]
