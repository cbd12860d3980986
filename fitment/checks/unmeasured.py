"""Sides of the wheel on which nobody measured a part, so that no verdict knows of them."""

from __future__ import annotations

from fitment.parts.axle import Axle, Setup
from fitment.parts.obstacles import core

SIDES = (("outboard", "fender lip, edge of the arch", 1), ("inboard", "strut, frame, inner fender", -1))


def unmeasured_sides(axle: Axle, setup: Setup) -> tuple[str, ...]:
    """On which side of the tire no part was measured, and what usually is there, in words.

    What turns with the hub (a caliper) is on neither side. Empty where no part was measured at all: then nothing is
    checked, which the verdict says.
    """
    others = [core(obstacle)[:, 1] for obstacle in axle.obstacles if obstacle.shape != "ring"]
    middle = axle.hub_face_at[1] + setup.spacer.thickness - setup.wheel.offset
    return tuple(
        f"no part {side} of the tire was measured ({usual}), so that side is not checked: measure what is there"
        for side, usual, sign in SIDES
        if others and not any((sign * (y - middle) > 0).any() for y in others)
    )
