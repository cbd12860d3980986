"""The polynomials through solved poses: their values and slopes are those that numpy's own Chebyshev module gives."""

from __future__ import annotations

from itertools import product
from typing import cast

import numpy as np
import pytest
from numpy.polynomial import chebyshev

from fitment.clearance.motion_polynomials import DEGREES, Piece, bases
from fitment.motion.poses import Poses


@pytest.mark.parametrize("ways", [1, 2, 3])
def test_factors_of_a_piece_and_their_derivatives_are_those_of_numpy(ways: int) -> None:
    spans, degree = ((-80.0, 35.0), (-1.0, 0.0), (0.0, 0.4))[:ways], DEGREES[ways]
    places = np.random.default_rng(ways).uniform(*np.array(spans).T, (50, ways))
    orders = [order for order in product(range(3), repeat=ways) if sum(order) <= 2]
    for order, found in zip(orders, bases(Piece(spans, cast(Poses, None)), places, orders), strict=True):
        wanted = np.ones((50, 1))
        for (low, high), at, own in zip(spans, places.T, order, strict=True):
            unit = (2 * at - low - high) / (high - low)
            one_way = [
                chebyshev.chebval(unit, chebyshev.chebder(row, own)) * (2 / (high - low)) ** own
                for row in np.eye(degree + 1)
            ]
            wanted = (wanted[:, :, None] * np.stack(one_way, -1)[:, None]).reshape(50, -1)
        np.testing.assert_allclose(found, wanted, rtol=1e-10, atol=1e-10 * np.abs(wanted).max())
