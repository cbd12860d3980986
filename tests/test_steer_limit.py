"""A steer limit of many points stands in fewer, never below the given one and hardly above it."""

from __future__ import annotations

import numpy as np
import pytest

from fitment.parts.steer_limit import fewer_points

Points = tuple[tuple[float, float], ...]


def at(limit: Points, travel: np.ndarray) -> np.ndarray:
    """Linear between its points, ends held, as the profile says."""
    return np.interp(travel, *np.array(limit).T)


def rounded(count: int) -> Points:
    travel = np.linspace(-80, 90, count)
    share = 0.8 + 0.2 * np.cos(travel / 40)
    return tuple((round(float(t), 2), round(float(s), 3)) for t, s in zip(travel, share, strict=True))


def wandering(seed: int) -> Points:
    """Up to 80 points, steep or hardly bent, some of them at all of the lock."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(25, 80))
    travel = np.sort(rng.choice(np.arange(-100, 100, 0.5), count, replace=False))
    steps = rng.normal(0, rng.choice([0.0003, 0.001, 0.01]), count)
    share = np.clip(rng.choice([0.5, 0.995, 1.0]) + np.cumsum(steps), 0, 1)
    return tuple(zip(travel.tolist(), share.tolist(), strict=True))


@pytest.mark.parametrize("limit", [rounded(300), rounded(1000), *map(wandering, range(200))])
def test_fewer_points_hold_all_of_the_given_steering_and_at_most_two_thousandths_of_the_lock_more(
    limit: Points,
) -> None:
    fewer = fewer_points(limit)
    travel = np.union1d([t for t, _ in limit], [t for t, _ in fewer])
    more = at(fewer, travel) - at(limit, travel)  # between these both are straight
    assert more.min() > -1e-12
    assert more.max() < 0.002 + 1e-12
    assert fewer[0][0] == limit[0][0]
    assert fewer[-1][0] == limit[-1][0]
    held = at(limit, travel) < 1  # where the stop alone holds it and where it does not are told apart
    assert (at(fewer, travel)[held] < 1).all()
    assert (at(fewer, travel)[~held] == 1).all()


def test_a_smooth_limit_needs_few_points_however_many_are_given() -> None:
    """Lines within h of a curve of second derivative c are sqrt(8 h / c) long: 8 mm for half of what is allowed."""
    longest = np.sqrt(8 * 0.001 / (0.2 / 40**2))
    assert len(fewer_points(rounded(300))) < 3 * 170 / longest
    assert len(fewer_points(rounded(1000))) < 5 * 170 / longest  # rounded to thousandths, they are less smooth


def test_few_points_stand_as_given() -> None:
    assert fewer_points(rounded(24)) == rounded(24)
    assert fewer_points(((-80.0, 1.0), (60.0, 1.0), (90.0, 0.6))) == ((-80.0, 1.0), (60.0, 1.0), (90.0, 0.6))


def test_points_on_a_line_are_its_ends() -> None:
    assert fewer_points(tuple((float(t), 1.0) for t in range(100))) == ((0.0, 1.0), (99.0, 1.0))
    line = fewer_points(tuple((float(t), 0.5 + t / 256) for t in range(101)))
    assert np.allclose(line, [(0.0, 0.5), (100.0, 0.5 + 100 / 256)], atol=1e-12)
