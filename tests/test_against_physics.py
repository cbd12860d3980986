"""Poses of real linkages against two independent references, to 1e-4 mm and 1e-5 degrees.

reference/physics.py builds the linkages as mechanisms in a general-purpose physics engine, reference/points_solver.py
as clouds of points with distances between them. Neither shares a formula with the program, nor with the other one:
hinges, quaternions and closing constraints there, coordinates and lengths here. The program is asked on its command
line only. The expected values are solved anew in every run; nothing is recorded.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import run_json, write_profile
from reference.physics import MM, Mechanism
from reference.points_solver import FIVE_LINK, LAYOUTS, OFFSET, RADIUS, Corner, Layout, PointCloud

LENGTH, ANGLE = 1e-4, 1e-5  # [mm], [deg] the contract
REST = 1e-8  # [m] what may be left of the engine's constraints
TRAVELS = (-80.0, -46.25, -10.0, 0.0, 23.7, 60.0, 95.0)
RACKS = (-48.0, -25.5, 0.0, 12.0, 48.0)
STEERS = (-25.0, -9.3, 0.0, 4.0, 25.0)
SMALL = 0.4  # five links: their toe link is short and steers much
LINKAGES = pytest.mark.parametrize("name", LAYOUTS)


def rows(folder: Path, layout: Layout, *options: str, **front: Any) -> list[dict[str, Any]]:
    """The rows of `poses` for this corner."""
    path = write_profile(folder, layout.profile(**front))
    answer = run_json("poses", path, "--axle", "front", "--loaded-radius", str(RADIUS), *options)
    return answer["poses"]  # type: ignore[no-any-return]


def listed(values: tuple[float, ...]) -> str:
    return ",".join(repr(value) for value in values)


def racks_of(layout: Layout) -> tuple[float, ...]:
    share = SMALL if layout.kind == "five_link" else 1.0
    return tuple(round(share * rack, 6) for rack in RACKS)


def jittered(layout: Layout, seed: int) -> Layout:
    """Every hardpoint moved by up to 20 mm along each axis."""
    rng = np.random.default_rng(seed)
    points = {k: tuple(np.round(np.array(p) + rng.uniform(-20, 20, 3), 2).tolist()) for k, p in layout.points.items()}
    return layout.moved(**points)  # type: ignore[arg-type]


def assert_same(row: dict[str, Any], want: Corner) -> None:
    """Hub, spin axis, every angle, and scrub radius and trail of one pose."""
    assert row["reachable"] is True, row
    at = (row["travel_mm"], row["rack_mm"])
    assert row["hub_face_mm"] == pytest.approx(want.hub, abs=LENGTH, rel=0), at
    assert row["rack_mm"] == pytest.approx(want.rack, abs=LENGTH, rel=0), at
    for key, value in want.angles().items():
        assert row[key] == pytest.approx(value, abs=ANGLE, rel=0), (key, at)
    assert row["spin_axis"] == pytest.approx(want.spin, abs=np.radians(ANGLE), rel=0), at
    for key, value in want.on_ground().items():
        assert row[key] == pytest.approx(value, abs=LENGTH, rel=0), (key, at)


@LINKAGES
def test_the_physics_engine_agrees_over_travel_and_rack(tmp_path: Path, name: str) -> None:
    layout, racks = LAYOUTS[name], racks_of(LAYOUTS[name])
    mechanism = Mechanism(layout)
    found = rows(tmp_path, layout, f"--travel={listed(TRAVELS)}", f"--rack={listed(racks)}")
    asked = [(travel, rack) for travel in TRAVELS for rack in racks]
    assert len(found) == len(asked)
    for row, (travel, rack) in zip(found, asked, strict=True):
        assert (row["travel_mm"], row["rack_mm"]) == pytest.approx((travel, rack))
        assert mechanism.drive(travel, rack) < REST
        assert_same(row, mechanism.corner())


@LINKAGES
def test_the_engine_comes_to_rest_where_the_program_says(tmp_path: Path, name: str) -> None:
    # no projection here: the mechanism is let go with its travel and rack held and swings until it stands still
    layout = LAYOUTS[name]
    travel, rack = 55.0, racks_of(layout)[3]
    mechanism = Mechanism(layout)
    mechanism.ask(travel, rack)
    assert mechanism.relax() < 1e-9, "still moving"
    assert mechanism.residual() < REST
    (row,) = rows(tmp_path, layout, f"--travel={travel}", f"--rack={rack}")
    assert_same(row, mechanism.corner())
    before = mechanism.site("hub").copy()
    mechanism.relax()
    assert mechanism.site("hub") == pytest.approx(before, abs=1e-6), "drifts at rest"


@LINKAGES
def test_point_distances_agree_over_travel_and_rack(tmp_path: Path, name: str) -> None:
    layout, racks = LAYOUTS[name], racks_of(LAYOUTS[name])[::2]
    cloud = PointCloud(layout)
    found = rows(tmp_path, layout, f"--travel={listed(TRAVELS)}", f"--rack={listed(racks)}")
    for row in found:
        want = cloud.pose(row["travel_mm"], rack=row["rack_mm"])
        assert want.worst < 1e-9
        assert_same(row, want)


@LINKAGES
def test_point_distances_agree_when_a_steer_angle_is_asked_for(tmp_path: Path, name: str) -> None:
    layout = LAYOUTS[name]
    share = SMALL if layout.kind == "five_link" else 1.0
    steers = tuple(round(share * steer, 6) for steer in STEERS[::2])
    cloud = PointCloud(layout)
    found = rows(tmp_path, layout, f"--travel={listed(TRAVELS[::2])}", f"--steer={listed(steers)}")
    asked = [(travel, steer) for travel in TRAVELS[::2] for steer in steers]
    assert len(found) == len(asked)
    for row, (travel, steer) in zip(found, asked, strict=True):
        assert row["steer_deg"] == pytest.approx(steer, abs=ANGLE)
        want = cloud.pose(travel, steer=steer)
        assert want.worst < 1e-9
        assert_same(row, want)


@pytest.mark.slow
@LINKAGES
@pytest.mark.parametrize("seed", range(6))
def test_any_hardpoints_will_do(tmp_path: Path, name: str, seed: int) -> None:
    # the invented corners again with every point somewhere else; both references at once, extreme poses
    layout = jittered(LAYOUTS[name], seed)
    cloud, mechanism = PointCloud(layout), Mechanism(layout)
    asked = [(travel, rack) for travel in (-70.0, 70.0) for rack in racks_of(layout)[:: len(RACKS) - 1]]
    racks = listed(tuple(dict.fromkeys(rack for _, rack in asked)))
    free = {"steering": {"lock_left": 8, "lock_right": 8}, "travel": {"droop": -60, "bump": 60}}
    found = rows(tmp_path, layout, "--travel=-70,70", f"--rack={racks}", **free)
    for row, (travel, rack) in zip(found, asked, strict=True):
        left, want = mechanism.drive(travel, rack), cloud.pose(travel, rack=rack)
        if not row["reachable"]:  # a short toe link runs out of length: so it must in the engine
            assert left > 1e-4, (travel, rack)
            assert want.worst > 0.1, (travel, rack)
            continue
        assert left < REST
        assert mechanism.corner().hub == pytest.approx(want.hub, abs=1e-7), "the references disagree"
        assert_same(row, want)


def test_an_unsteered_five_link_takes_a_rack_too(tmp_path: Path) -> None:
    # "On an unsteered five_link `--rack` moves toe_body"
    mechanism = Mechanism(FIVE_LINK)
    for row in rows(tmp_path, FIVE_LINK, "--travel=-40,40", "--rack=-8,8", steering=None):
        assert mechanism.drive(row["travel_mm"], row["rack_mm"]) < REST
        assert_same(row, mechanism.corner())


def test_a_pinned_pose_of_the_references() -> None:
    # the references themselves, where a head can follow: at the reference pose nothing has moved
    for layout in LAYOUTS.values():
        for corner in (PointCloud(layout).pose(0.0, rack=0.0), _at_rest(layout)):
            assert corner.hub == pytest.approx(layout.hub_face, abs=1e-9)
            assert corner.angles()["camber_deg"] == pytest.approx(layout.camber, abs=1e-9)
            assert corner.angles()["toe_in_deg"] == pytest.approx(layout.toe_in, abs=1e-9)
    assert OFFSET != 0, "the wheel's offset must take part"
    assert MM == 0.001


def _at_rest(layout: Layout) -> Corner:
    mechanism = Mechanism(layout)
    mechanism.relax(0.05)
    return mechanism.corner()
