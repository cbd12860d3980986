"""What a part of very many triangles sweeps is found some lines at a time; held against all of them at once."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial import cKDTree

from fitment.checks.case import ready
from fitment.motion.suspension import swept_travel
from fitment.profile import loads_profile
from fitment.screening import swept_obstacle
from fitment.screening.raster import CELL, FARTHEST
from fitment.screening.swept_obstacle import SweepRequest, SweptObstacle, sweep_obstacle

sys.path.insert(0, str(Path(__file__).parent / "bench"))

from drawn_vehicles import fine_panel
from reference import mesh

NEAR = 0.02  # [mm] to which the boundary is told


def swept(solid: bool) -> SweptObstacle:
    rng = np.random.default_rng([7, solid])
    car = mesh.vehicle(rng, steered=True)
    car.axle["obstacles"] = [fine_panel(rng, car, 4 if solid else 11, solid=solid, out=90)]
    data = {"format": 1, "name": "invented", "axles": {"front": car.axle}, "baseline": "own",
            "builds": {"own": {"front": car.profile["builds"]["own"]["front"]}}}  # fmt: skip
    own = ready(loads_profile(json.dumps(data)), "front")
    return sweep_obstacle(SweepRequest(own.axle, swept_travel(own.axle, 0.0)), own.axle.obstacles[0])


@pytest.mark.slow
@pytest.mark.parametrize("solid", [False, True])
def test_some_lines_at_a_time_are_all_lines(solid: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    """From places in the room and in the middle of the wheel the nearest boundary is equally far."""
    monkeypatch.setattr(swept_obstacle, "LINES", 30_000)
    monkeypatch.setattr(swept_obstacle, "PLACES", 60_000)
    pieces = swept(solid)
    with monkeypatch.context() as plain:
        plain.setattr(swept_obstacle, "LINES", 10**12)
        plain.setattr(swept_obstacle, "PLACES", 10**12)
        plain.setattr(
            swept_obstacle._PassedBoxes, "leave", lambda own, some, _: np.ones((len(own.beyond), len(some)), dtype=bool)
        )
        whole = swept(solid)
    rng = np.random.default_rng(1)
    places = rng.uniform([FARTHEST[0] + 20, 20], [FARTHEST[1] - 20, FARTHEST[2] - 20], (4000, 2))
    at = ((places - (FARTHEST[0], 0.0)) / CELL).astype(int)
    free = places[~whole.swept[tuple(at.T)] & ~pieces.swept[tuple(at.T)]]
    assert len(free) > 300
    one, other = (cKDTree(each.plane).query(free)[0] for each in (pieces, whole))
    # strips of the boundary keep their outermost point, so beside it another one may be nearest
    assert np.abs(one - other).max() < 0.26
    assert np.quantile(np.abs(one - other), 0.9) < NEAR
    assert np.mean(whole.swept != pieces.swept) < 1e-3
