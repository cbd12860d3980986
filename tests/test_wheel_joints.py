"""How deep a place lies in a whole wheel, against its barrel and its disc alone: what a long list takes for granted."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import contains_xy

from fitment.clearance.section_distance import section_peaks, signed_distance
from fitment.parts.sections import barrel_section, uncut_disc, wheel_section
from fitment.parts.wheel import Wheel, parse_wheel
from fitment.screening.by_size import JOINT, _joint_peaks


def wheels(count: int) -> list[Wheel]:
    rng = np.random.default_rng(3)
    drawn = zip(rng.integers(14, 23, count), rng.integers(10, 25, count) / 2, rng.uniform(-40, 70, count), strict=True)
    return [parse_wheel(f"{inches}x{width:g} ET{offset:.1f} 5x114.3 CB70.6") for inches, width, offset in drawn]


@pytest.mark.parametrize("wheel", wheels(30), ids=lambda wheel: wheel.spec)
def test_joint_is_hardly_deeper_than_either(wheel: Wheel) -> None:
    """Of 2,000 places in the metal none is deeper by more than JOINT; the deepest of all is among those looked at."""
    whole = wheel_section(wheel)
    low, high = np.array(whole.bounds).reshape(2, 2)
    places = np.random.default_rng(5).uniform(low, high, (20_000, 2))
    places = places[contains_xy(whole, *places.T)][:2000]
    assert len(places) > 500
    depth, barrel, disc = (
        -signed_distance(section, places) for section in (whole, barrel_section(wheel), uncut_disc(wheel))
    )
    assert (depth - np.maximum(0.0, np.maximum(barrel, disc))).max() < JOINT
    deepest = max(float(depth.max()), float((-signed_distance(whole, section_peaks(whole))).max()))
    assert _joint_peaks(whole, wheel, 0.0)[:, 2].max() > deepest - 0.1
