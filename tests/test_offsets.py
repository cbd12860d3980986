"""The offsets that fit: worked by hand on the bench vehicle, and held against `check` at both of their ends."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import HUB_FACE, WIDTH, bench_setup, vehicle, write_profile

from fitment.checks.case import ready, run
from fitment.clearance.pose_grid import sweep
from fitment.parts.obstacles import ALLOWANCE
from fitment.profile import load_profile, setup
from fitment.screening.keep_out import keep_out_at, look_up

FARTHEST = 80.0  # [mm] how far from the given offset a fitting one is told
HALF_WHEEL = (8 + 1) * 25.4 / 2  # [mm] rim width + 2 x 12.7, halved
NEAR = 0.05  # [mm] the ends are found to 0.02 mm on outlines of chords


def offsets(profile: str, build: str | None = None, *, offset: float | None = None) -> tuple[float, float] | None:
    """The offsets that fit the build's front wheel, as if it had another offset if one is given."""
    read = load_profile(profile)
    own, prepared = setup(read, "front", build), ready(read, "front", build)
    if offset is not None:
        own = replace(own, wheel=replace(own.wheel, offset=offset))
    low, high = look_up(keep_out_at(prepared, own.ride), [own]).offsets[0].tolist()
    return None if np.isnan(low) else (low, high)


def posts(folder: Path, outer: float, inner: float, **setup_changes: Any) -> str:
    """The bench vehicle between two posts, `outer` outboard of the hub face and `inner` inboard of it."""
    parts = [
        {"name": name, "shape": "edge", "points": [[0, HUB_FACE + y, -450], [0, HUB_FACE + y, 450]]}
        for name, y in (("outer post", outer), ("inner post", -inner))
    ]
    data = vehicle(obstacles=parts)
    bench_setup(data).update(setup_changes)
    return write_profile(folder, data)


def test_range_by_hand(tmp_path: Path) -> None:
    # outwards the tire may go 140 - 115 - 5 = 20, the wheel 140 - 114.3 - 3 = 22.7; inwards the tire 150 - 115 - 5
    low, high = offsets(posts(tmp_path, 140, 150))
    assert low == pytest.approx(-20, abs=NEAR)
    assert high == pytest.approx(30, abs=NEAR)


def test_range_where_the_wheel_decides(tmp_path: Path) -> None:
    parts = [
        {"name": "post", "shape": "edge", "meets": "wheel", "radius": 2, "allowance": 7,
         "points": [[0, HUB_FACE + 140, -450], [0, HUB_FACE + 140, 450]]}
    ]  # fmt: skip
    low, high = offsets(write_profile(tmp_path, vehicle(obstacles=parts)))
    assert low == pytest.approx(-(140 - HALF_WHEEL - 2 - 7), abs=NEAR)
    assert high == pytest.approx(FARTHEST, abs=1e-9), "nothing stands inboard"


def test_range_does_not_depend_on_the_offset_it_starts_from(tmp_path: Path) -> None:
    profile = posts(tmp_path, 140, 150)
    for offset in (-19, 0, 15, 29):
        low, high = offsets(profile, offset=offset)
        assert (low, high) == (pytest.approx(-20, abs=NEAR), pytest.approx(30, abs=NEAR)), offset


@pytest.mark.parametrize("offset", [-40, 45])
def test_the_nearest_range_is_offered_where_the_given_offset_does_not_fit(tmp_path: Path, offset: float) -> None:
    low, high = offsets(posts(tmp_path, 140, 150), offset=offset)
    assert (low, high) == (pytest.approx(-20, abs=NEAR), pytest.approx(30, abs=NEAR))


def test_a_spacer_shifts_the_range(tmp_path: Path) -> None:
    low, high = offsets(posts(tmp_path, 140, 150, spacer=12))
    assert low == pytest.approx(-20 + 12, abs=NEAR)
    assert high == pytest.approx(30 + 12, abs=NEAR)


def test_no_offset_fits_between_posts_too_close(tmp_path: Path) -> None:
    # room of 235 for a tire of 230 that asks for 5 on each side
    assert offsets(posts(tmp_path, 120, 115)) is None
    low, high = offsets(posts(tmp_path, 121, 119.5))  # 240.5: half a millimetre to spare
    assert high - low == pytest.approx(0.5, abs=2 * NEAR)


def test_what_meets_the_disc_leaves_no_offset(tmp_path: Path) -> None:
    """The disc stays at the hub face: a part in its plane cannot be escaped by another offset."""
    post = {"name": "stud plate", "shape": "edge", "points": [[-60, HUB_FACE + 2, 40], [60, HUB_FACE + 2, 40]],
            "fixed_to": "knuckle", "meets": "wheel"}  # fmt: skip
    assert offsets(write_profile(tmp_path, vehicle(obstacles=[post]))) is None


def test_nothing_in_reach_is_cut_at_the_search_limit(tmp_path: Path) -> None:
    far = {"name": "far", "shape": "ball", "at": [0, 1500, 0]}
    for offset in (0, 10):
        found = offsets(write_profile(tmp_path, vehicle(obstacles=[far])), offset=offset)
        assert found == pytest.approx((offset - FARTHEST, offset + FARTHEST))


# ---------------------------------------------------------------- against check, on the bundled vehicles


def fits(found: Any) -> bool:
    """Every allowance kept."""
    return all(entry.margin >= 0 for entry in found.clearances)


@pytest.mark.slow
@pytest.mark.parametrize(
    ("vehicle_name", "build", "axle"),
    [("wagon", "chosen", "front"), ("wagon", "chosen", "rear"), ("pickup", "swapped", "rear")],
)
def test_ends_of_the_range_are_where_check_says(vehicle_name: str, build: str, axle: str) -> None:
    """0.2 mm inside every allowance is kept, 1 mm outside not, unless the search stopped there.

    0.2 mm: the range is that of all poses, `check` looks at the grid and the closest ones between its nodes.
    """
    read = load_profile(vehicle_name)
    prepared, own = ready(read, axle, build), setup(read, axle, build)
    swept = sweep(prepared.axle, own.ride)
    found = look_up(keep_out_at(prepared, own.ride), [own]).offsets[0].tolist()
    inside = 0
    for end, inward in zip(found, (1, -1), strict=True):
        at = {step: replace(own, wheel=replace(own.wheel, offset=end + step * inward)) for step in (0.2, -1.0)}
        assert fits(run(prepared, at[0.2], swept).fit), (end, inward)
        if abs(end - own.wheel.offset) < FARTHEST - 1e-6:
            inside += 1
            assert not fits(run(prepared, at[-1.0], swept).fit), (end, inward)
    assert inside, "at least one end is a real one"


def test_allowances_of_common_practice() -> None:
    """What the ranges by hand above stand on (design: 5 mm to the tire, 3 mm to the wheel)."""
    assert ALLOWANCE == {"tire": 5.0, "wheel": 3.0}
    assert WIDTH / 2 + 5 > HALF_WHEEL + 3, "on the bench vehicle the tire decides"
