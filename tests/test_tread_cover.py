"""Bodywork over the tread: the sector of the published wheel-guard rule, worked by hand on the bench vehicle.

The sector, 30 degrees ahead of the wheel's centre to 50 behind it, wheels straight ahead, and the guard at least as
wide as the tire's section: Council Directive 78/549/EEC Annex I; the Australian Design Rule for passenger cars, wheel
guards, clauses 15.1.2.1.1 to 15.1.2.1.3.1, as quoted in public (read in part). The bench tire is 230 wide and has a
tread of 200, its centre line in the hub face 750 from the centre plane: the tread ends at 850, the tire at 865.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import HUB_FACE, TIRE, bench_setup, run, run_json, vehicle, write_profile

Check = Callable[..., dict[str, Any]]
AHEAD, BEHIND = 30, 50  # [deg]
TREAD, TIRE_SIDE = HUB_FACE + 100, HUB_FACE + 115


def lip(
    y: float | Callable[[float], float] = 860, clocks: Sequence[float] = range(20, 171, 2), **more: Any
) -> dict[str, Any]:
    """An edge 400 from the hub's centre; y may depend on the clock (0 = forward, 90 = up)."""
    points = [
        [400 * math.cos(math.radians(c)), y(c) if callable(y) else y, 400 * math.sin(math.radians(c))] for c in clocks
    ]
    return {"name": "lip", "shape": "edge", "points": points} | more


def wheels(*obstacles: dict[str, Any], **front: Any) -> dict[str, Any]:
    data = vehicle(obstacles=list(obstacles), ride_heights={"level": 0}, **front)
    data["builds"].pop("lowered")
    bench_setup(data)["tire"] = TIRE | {"tread_width": 200}
    return data


def covered(check: Check, data: dict[str, Any], *options: str) -> dict[str, Any]:
    (found,) = check(data, *options)["cover"]["heights"]
    return found  # type: ignore[no-any-return]


def verdict(check: Check, data: dict[str, Any]) -> tuple[str, str]:
    found = check(data)["cover"]["check"]
    return found["status"], found["detail"]


# ---------------------------------------------------------------- how far it stands out


@pytest.mark.parametrize("offset", [-20, 0, 12])
@pytest.mark.parametrize("radius", [0, 4])
def test_tread_and_tire_against_the_edge(check: Check, offset: float, radius: float) -> None:
    data = wheels(lip(860, radius=radius))
    bench_setup(data)["wheel"] = f"17x8 ET{offset} 5x114.3 CB67.1"
    found = covered(check, data)
    assert found["tread_out_mm"] == pytest.approx(TREAD - offset - 860 - radius, abs=0.01)
    assert found["whole_out_mm"] == pytest.approx(TIRE_SIDE - offset - 860 - radius, abs=0.01)
    assert found["described_deg"] == [AHEAD, -BEHIND]


@pytest.mark.parametrize(("clock", "counts"), [(56, False), (62, True), (90, True), (138, True), (144, False)])
def test_only_the_sector_counts(check: Check, clock: int, counts: bool) -> None:
    """A notch in the lip, 2 degrees to each side: 34 ahead and 54 behind lie outside, 28 ahead and 48 behind inside."""
    found = covered(check, wheels(lip(lambda c: 835 if c == clock else 860)))
    assert found["tread_out_mm"] == pytest.approx(TREAD - (835 if counts else 860), abs=0.01)
    if counts:
        assert found["tread_at_deg"] == 90 - clock


def test_the_sector_goes_with_the_wheels_centre(check: Check) -> None:
    """Wheel 50 higher in the body: seen from there a notch at 60 deg on the lip stands lower, outside the sector."""
    data = wheels(lip(lambda c: 835 if c == 60 else 860))
    data["axles"]["front"]["ride_heights"] = {"level": 0, "low": 50}
    found = {each["ride"]: each for each in check(data)["cover"]["heights"]}
    assert found["level"]["tread_out_mm"] == pytest.approx(15, abs=0.01)
    far_side = math.radians(62)
    assert math.degrees(math.atan2(400 * math.sin(far_side) - 50, 400 * math.cos(far_side))) < 60
    assert found["low"]["tread_out_mm"] == pytest.approx(-10, abs=0.01)


def test_between_two_points_the_edge_is_straight(check: Check) -> None:
    """Two points, y falling from 860 at the front to 820 at the rear: the tread stands out most 50 deg behind."""
    edge = {"name": "lip", "shape": "edge", "points": [[400, 860, 100], [-600, 820, 300]]}
    found = covered(check, wheels(edge))
    # the ray (-sin 50, cos 50) meets x = 400 - 1000 t, z = 100 + 200 t where x cos 50 + z sin 50 = 0; y = 860 - 40 t
    sine, cosine = math.sin(math.radians(50)), math.cos(math.radians(50))
    t = (400 * cosine + 100 * sine) / (1000 * cosine - 200 * sine)
    assert 0 < t < 1
    assert found["tread_out_mm"] == pytest.approx(TREAD - (860 - 40 * t), abs=0.01)


def test_camber_leans_the_tread_in_where_it_is_high(tmp_path: Path) -> None:
    data = wheels(lip(), suspension={"kind": "tape", "camber": -2.0})
    answer = run_json("check", write_profile(tmp_path, data), "--axle", "front", "--geometry")
    outline = np.array(answer["sections"]["tire"])
    upper = outline[(outline[:, 0] > 0) & (outline[:, 1] > 280)]
    upper = upper[np.argsort(upper[:, 0])]
    r = float(np.interp(100, upper[:, 0], upper[:, 1]))  # of the tread's edge, on the outline that was computed with
    tilt = math.radians(2)
    (found,) = answer["cover"]["heights"]
    lowest = math.sin(math.radians(90 + BEHIND))  # of the sector: there the tread stands out most
    assert found["tread_at_deg"] == -BEHIND
    out = HUB_FACE + 100 * math.cos(tilt) - r * lowest * math.sin(tilt) - 860
    assert found["tread_out_mm"] == pytest.approx(out, abs=0.1)


def test_both_corners_of_a_solid_axle(check: Check) -> None:
    """A panhard bar, level at the reference pose and 800 long: 50 higher it draws the axle to its body end's side."""
    points = {"panhard_body": [0, 400, 0], "panhard_axle": [0, -400, 0]}
    data = wheels(lip(), suspension={"kind": "solid_axle", "points": points})
    data["axles"]["front"]["ride_heights"] = {"level": 0, "low": 50}
    found = {(e["ride"], e["corner"]): e["tread_out_mm"] for e in check(data)["cover"]["heights"]}
    moved = 800 - math.sqrt(800**2 - 50**2)
    assert found["level", "left"] == found["level", "right"] == pytest.approx(TREAD - 860, abs=0.01)
    assert found["low", "left"] == pytest.approx(TREAD - 860 + moved, abs=0.01)
    assert found["low", "right"] == pytest.approx(TREAD - 860 - moved, abs=0.01)


# ---------------------------------------------------------------- which edge


def test_the_outermost_edge_counts(check: Check) -> None:
    answer = check(wheels(lip(), lip(875, name="flare")))["cover"]
    assert answer["edges"] == ["lip", "flare"]
    assert answer["heights"][0]["tread_out_mm"] == pytest.approx(TREAD - 875, abs=0.01)


@pytest.mark.parametrize(
    ("obstacle", "taken"),
    [
        (lip(600), False),  # inboard of the wheel: a frame rail, not a fender
        (lip(600, cover=True), True),
        (lip(860, cover=False), False),
        (lip(860, fixed_to="knuckle"), False),
        ({"name": "lip", "shape": "rod", "from": {"at": [300, 860, 300]}, "to": {"at": [-300, 860, 300]}}, False),
    ],
)
def test_what_is_taken_as_the_bodyworks_edge(check: Check, obstacle: dict[str, Any], taken: bool) -> None:
    assert check(wheels(obstacle))["cover"]["edges"] == (["lip"] if taken else [])


@pytest.mark.parametrize("obstacles", [[], [lip(600)], [lip(860, clocks=range(150, 171, 2))]])
def test_without_an_edge_in_the_sector_it_is_not_checked(check: Check, obstacles: list[dict[str, Any]]) -> None:
    status, words = verdict(check, wheels(*obstacles))
    assert status == "not_checked"
    assert "30 degrees ahead of the wheel's centre to 50 behind" in words


def test_part_of_the_sector(check: Check) -> None:
    status, words = verdict(check, wheels(lip(880, clocks=range(70, 171, 2))))
    assert status == "not_checked"
    assert "at level the tread stands 30 mm inside lip" in words
    assert "measured only from 20 deg ahead to 50 deg behind at level; the rest was not checked" in words


def test_a_gap_between_two_edges(check: Check) -> None:
    parts = [lip(880, clocks=range(20, 91, 2)), lip(880, clocks=range(100, 171, 2), name="door")]
    status, words = verdict(check, wheels(*parts))
    assert status == "not_checked"
    assert "from 30 deg ahead to 50 deg behind with gaps at level" in words


# ---------------------------------------------------------------- what is said


@pytest.mark.parametrize(
    ("y", "tolerance", "status", "said"),
    [
        (870, 3, "ok", "at level the tread stands 20 mm inside lip"),
        (
            867,
            3,
            "caution",
            "tire and wheel 2 mm inside. The outermost place is inside by less than the edge's tolerance of 3 mm",
        ),
        (
            855,
            0,
            "caution",
            "5 mm inside lip (furthest out 50 deg behind the wheel's centre), tire and wheel 10 mm outside",
        ),
        (840, 0, "caution", "at level the tread stands 10 mm outside lip"),
    ],
)
def test_status(check: Check, y: float, tolerance: float, status: str, said: str) -> None:
    # an edge without a lowest place: the worst direction is the first or the last looked in
    found, words = verdict(check, wheels(lip(lambda c: y - (0.2 if c >= 140 else 0), tolerance=tolerance)))
    assert found == status
    assert said in words
    assert "local rules decide" in words


def test_it_stands_in_the_first_lines_and_in_inches(tmp_path: Path) -> None:
    data = wheels(lip(840))
    text = run("check", write_profile(tmp_path, data), "--units", "in", "--full").stdout
    assert "ground and bodywork, caution: bodywork cover" in " ".join(text.split("\n\n")[0].split())
    assert "at level the tread stands 3/8 in outside lip" in " ".join(text.split())


def test_cover_must_be_yes_or_no(tmp_path: Path) -> None:
    result = run("check", write_profile(tmp_path, json.loads(json.dumps(wheels(lip(cover="maybe"))))))
    assert result.exit_code == 2
    assert "neither true nor false" in result.stderr
