"""A solid axle that steers: roll and steering at once, held against poses worked out here from the definition alone.

The beam stays square to the vehicle: it heaves, and rolls about the fore-aft line through its middle, so that its ends
stand at the heights of both wheels straight ahead. The end's knuckle turns about the joints' line until the spin axis
heads as asked; the heights are of the hub-face centre. Two unknowns, beam end height and turn, are found by Newton's
method with a numerical Jacobian, and the least clearance on a dense grid of travel x opposite x steer.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest
import shapely
from conftest import run, run_json, vehicle, write_profile
from reference.tape_motion import turned

pytestmark = pytest.mark.slow
HALF, TRAVEL, LOCK = 750.0, 100.0, 32.0  # [mm], [mm], [deg]
GRID = (21, 17, 25)  # travel, opposite, steer
SEEDS = range(6)


@dataclass(frozen=True)
class Beam:
    """Lower and upper joint (2, 3), body frame [mm]; the hub face stands at (0, HALF, 0), square to the vehicle."""

    joints: np.ndarray

    def poses(self, places: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Hub-face centre and spin axis (n, 3) at travel, opposite [mm] and steer [deg] (n, 3)."""
        travel, opposite, steer = places.T
        unknown = np.stack([travel, np.radians(steer)], -1)

        def off(guess: np.ndarray) -> np.ndarray:
            origin, spin = self._turned(guess, opposite)
            return np.stack(
                [origin[:, 2] - travel, 100 * (np.arctan2(-spin[:, 0], spin[:, 1]) - np.radians(steer))], -1
            )

        for _ in range(12):
            here = off(unknown)
            step = np.array([1e-4, 1e-7])
            slopes = [(off(unknown + step * way) - here) / step[i] for i, way in enumerate(np.eye(2))]
            unknown = unknown - np.linalg.solve(np.stack(slopes, -1), here[..., None])[..., 0]
        assert np.abs(off(unknown)).max() < 1e-6
        return self._turned(unknown, opposite)

    def _turned(self, unknown: np.ndarray, opposite: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        end, turn = unknown.T
        roll = np.arcsin((end - opposite) / (2 * HALF))
        ahead = np.tile([1.0, 0.0, 0.0], (len(end), 1))
        middle = np.stack([0 * end, 0 * end, (end + opposite) / 2], -1)

        def rolled(vector: Any) -> np.ndarray:
            return turned(np.tile(np.asarray(vector, dtype=float), (len(end), 1)), ahead, roll)

        lower, upper = self.joints
        axis = rolled(upper - lower)
        axis = axis / np.linalg.norm(axis, axis=1)[:, None]
        pivot, face = middle + rolled(lower), middle + rolled([0, HALF, 0])
        return pivot + turned(face - pivot, axis, turn), turned(rolled([0, 1, 0]), axis, turn)


def gaps(points: np.ndarray, radius: float, section: Any, origin: np.ndarray, spin: np.ndarray) -> np.ndarray:
    """Clearance (n,) [mm] of one ball to a section in n poses; minus the depth inside."""
    way = points - origin
    along = np.sum(way * spin, -1)
    across = np.linalg.norm(way - along[:, None] * spin, axis=1)
    plane = shapely.points(along, across)
    inside = shapely.contains(section, plane)
    return np.where(inside, -1.0, 1.0) * shapely.distance(section.exterior, plane) - radius


def grid_of(*counts: int) -> np.ndarray:
    """Places (n, 3) over travel, opposite and steer, ends included."""
    levels = [np.linspace(-end, end, n) for end, n in zip((TRAVEL, TRAVEL, LOCK), counts, strict=True)]
    return np.stack([each.ravel() for each in np.meshgrid(*levels, indexing="ij")], -1)


def alone(places: np.ndarray) -> np.ndarray:
    """Which places (n,) roll or steer, but not both."""
    return np.isclose(places[:, 0], places[:, 1]) | np.isclose(places[:, 2], 0)


@cache
def bench_tire() -> Any:
    """The section of the bench's tire as the program tells it."""
    with TemporaryDirectory() as folder:
        answer = run_json("check", write_profile(Path(folder), vehicle()), "--axle", "front", "--geometry")
    return shapely.Polygon(answer["sections"]["tire"])


@cache
def scene(seed: int) -> tuple[dict[str, Any], Beam, np.ndarray, float]:
    """A vehicle with one ball that the tire comes near to only when the axle is rolled and steered at once [mm]."""
    rng = np.random.default_rng(seed)
    joints = np.array([[rng.uniform(-8, 8), HALF - 90, -110], [rng.uniform(-25, 0), HALF - 120, 120]])
    beam, radius = Beam(joints), 6.0
    coarse, fine = (grid_of(*counts) for counts in ((5, 5, 5), GRID))
    (origin, spin), there = beam.poses(coarse), beam.poses(fine)
    both = np.flatnonzero(~alone(coarse))
    while True:
        pose, clock = rng.choice(both), rng.uniform(0, 2 * np.pi)
        radial = np.array([np.cos(clock), 0.0, np.sin(clock)])
        radial = radial - (radial @ spin[pose]) * spin[pose]
        at = (rng.uniform(-110, 110), rng.uniform(280, 325))
        ball = np.round(origin[pose] + at[0] * spin[pose] + at[1] * radial / np.linalg.norm(radial), 2)
        near = gaps(ball, radius, bench_tire(), origin, spin)
        if -6 < near.min() < 6 and near[alone(coarse)].min() > near.min() + 8:
            near = gaps(ball, radius, bench_tire(), *there)
            if near[alone(fine)].min() > near.min() + 6:
                break
    data = vehicle(
        suspension={
            "kind": "solid_axle",
            "points": dict(zip(("lower_ball", "upper_ball"), joints.tolist(), strict=True)),
        },
        steering={"lock_left": LOCK, "lock_right": LOCK},
        travel={"droop": -TRAVEL, "bump": TRAVEL},
        obstacles=[{"name": "bracket", "shape": "ball", "radius": radius, "at": ball.tolist(), "tolerance": 0}],
    )
    return data, beam, ball, radius


@pytest.mark.parametrize("seed", SEEDS)
def test_roll_and_steering_are_swept_together(seed: int, tmp_path: Path) -> None:
    """No pose of the dense grid is closer than what is told, and what is told is true in the pose that is named."""
    data, beam, ball, radius = scene(seed)
    answer = run_json("check", write_profile(tmp_path, data), "--axle", "front", "--geometry")
    section = bench_tire()
    told = min(
        (entry for entry in answer["clearances"] if entry["part"] == "tire"), key=lambda entry: entry["clearance_mm"]
    )
    places = grid_of(*GRID)
    dense = gaps(ball, radius, section, *beam.poses(places))
    assert told["clearance_mm"] <= dense.min() + 0.02
    place = np.array([[told["travel_mm"], told["opposite_mm"], told["steer_deg"]]])
    there = gaps(ball, radius, section, *beam.poses(place))
    assert told["clearance_mm"] == pytest.approx(there.item(), abs=0.01)
    assert dense[alone(places)].min() > dense.min() + 3.0  # one at a time shows nothing of it


@pytest.mark.parametrize("seed", [0, 2, 3])
def test_a_list_gets_the_same_answer(seed: int, tmp_path: Path) -> None:
    """A list of many rows is looked up in one sweep; each row as the check has it, verdict and clearance."""
    data, *_ = scene(seed)
    path = write_profile(tmp_path, data)
    wheels = [f"17x8 ET{offset} 5x114.3 CB67.1" for offset in range(-12, 28, 2)]
    (tmp_path / "list.csv").write_text("wheel,tire\n" + "".join(f"{wheel},225/45R17\n" for wheel in wheels))
    listed = run("screen", path, str(tmp_path / "list.csv"), "--axle", "front", "--format", "csv")
    rows = {row["wheel"]: row for row in csv.DictReader(io.StringIO(listed.stdout))}
    assert len(rows) == len(wheels)
    for wheel in wheels[::5]:
        answer = run_json("check", path, "--axle", "front", "--wheel", wheel, "--tire", "225/45R17")
        assert rows[wheel]["verdict"] == answer["verdict"]
        least = min(entry["clearance_mm"] for entry in answer["clearances"])
        if least > 0:
            assert float(rows[wheel]["clearance_mm"]) == pytest.approx(least, abs=0.02)


def test_the_opposite_wheel_goes_to_a_ride_height_beyond_the_travel(tmp_path: Path) -> None:
    """This wheel at droop, the other at a height beyond bump: the mirror of a pose that is swept anyway."""
    far, radius, rng = 170.0, 6.0, np.random.default_rng(1)
    beam = Beam(np.array([[0.0, HALF - 90, -110], [-10.0, HALF - 120, 120]]))
    (origin,), (spin,) = beam.poses(np.array([[-TRAVEL, far, LOCK]]))
    usual = beam.poses(grid_of(5, 5, 9))  # the other wheel between droop and bump
    while True:
        clock = rng.uniform(0, 2 * np.pi)
        radial = np.array([np.cos(clock), 0.0, np.sin(clock)])
        radial = radial - (radial @ spin) * spin
        ball = np.round(origin + rng.uniform(-110, 110) * spin + 315.0 * radial / np.linalg.norm(radial), 2)
        there = gaps(ball, radius, bench_tire(), origin[None], spin[None]).item()
        if there < -1 and gaps(ball, radius, bench_tire(), *usual).min() > there + 4:
            break
    data, *_ = scene(0)
    axle = data["axles"]["front"] | {"ride_heights": {"level": 0, "low": 30, "slammed": far}}
    axle["suspension"] = {
        "kind": "solid_axle",
        "points": dict(zip(("lower_ball", "upper_ball"), beam.joints.tolist(), strict=True)),
    }
    axle["obstacles"] = [axle["obstacles"][0] | {"at": ball.tolist()}]
    answer = run_json("check", write_profile(tmp_path, data | {"axles": {"front": axle}}), "--axle", "front")
    told = min(entry["clearance_mm"] for entry in answer["clearances"] if entry["part"] == "tire")
    assert told <= there + 0.02
