"""The room as polygons, worked by hand on the bench vehicle."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import shapely
from conftest import HUB_FACE, run, vehicle, write_profile

from fitment.checks.case import ready
from fitment.profile import load_profile
from fitment.screening.free_space import FreeSpace, space_round_hub
from fitment.screening.keep_out import keep_out_at


def room_of(folder: Path, *obstacles: dict[str, Any]) -> FreeSpace:
    prepared = ready(load_profile(write_profile(folder, vehicle(obstacles=list(obstacles)))), "front")
    return space_round_hub(keep_out_at(prepared, 0.0))


def test_an_upright_post_keeps_out_a_strip(tmp_path: Path) -> None:
    """A rod 10 thick, 140 outboard, from 450 below to 450 above: the wheel moves up and down past it by 50."""
    foot, top = ({"at": [0, HUB_FACE + 140, z]} for z in (-450, 450))
    found = room_of(tmp_path, {"name": "post", "shape": "rod", "radius": 10, "from": foot, "to": top})
    area = dict(found.kept_out)["post"]
    x0, _, x1, highest = area.bounds
    assert (x0, x1) == (pytest.approx(130, abs=2.5), pytest.approx(150, abs=2.5))
    assert highest == pytest.approx(450 + 50 + 10, abs=3)
    assert found.free.contains(shapely.Point(0, 300))
    assert not found.free.contains(shapely.Point(140, 300))


def test_a_beam_above_sweeps_its_travel(tmp_path: Path) -> None:
    """A rail along y, 420 above the hub: at full bump 370 from the axle, at full droop 470."""
    found = room_of(tmp_path, {"name": "rail", "shape": "edge", "points": [[0, 500, 420], [0, 1000, 420]]})
    area = dict(found.kept_out)["rail"]
    assert area.contains(shapely.Point(0, 400))
    assert not area.contains(shapely.Point(0, 366))
    assert not area.contains(shapely.Point(0, 474))


def test_what_lies_behind_a_sheet_is_free_but_no_room(tmp_path: Path) -> None:
    rows = [[[x, HUB_FACE + 200, z] for z in (-700, 700)] for x in (-700, 700)]
    found = room_of(tmp_path, {"name": "sheet", "shape": "panel", "rows": rows})
    assert found.free.contains(shapely.Point(100, 300))
    assert not found.free.contains(shapely.Point(300, 300))


@pytest.mark.slow
def test_the_picture_is_drawn_and_repeats(tmp_path: Path) -> None:
    files = [tmp_path / f"{i}.png" for i in (0, 1)]
    for file in files:
        assert run("check", "coupe", "--axle", "rear", "--view", "room", "--out", str(file)).exit_code in (0, 1)
    assert files[0].read_bytes() == files[1].read_bytes()
