"""What must hold for any vehicle: no place in the world, unit or order of writing changes a clearance.

Each property is tried on vehicles that hypothesis draws: cambered, steered, with every shape of obstacle.
"""

from __future__ import annotations

import copy
import json
from typing import Any

import pytest
from conftest import HUB_FACE, bench_setup, steered
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from fitment import report
from fitment.checks.case import ready, run
from fitment.checks.full_case import in_full
from fitment.profile import loads_profile, setup
from fitment.units import DEEP

pytestmark = pytest.mark.slow
# few, because each example sweeps two vehicles; not shrunk, because that would take minutes
FEW = settings(max_examples=4, phases=[Phase.explicit, Phase.reuse, Phase.generate])
SAME = 2e-3  # [mm] the search between grid poses stops at 0.04 mm of motion; printed to 0.0001 mm
Data = dict[str, Any]


def answer(data: Data) -> Data:
    profile = loads_profile(json.dumps(data))
    return report.case_json(in_full(run(ready(profile, "front"), setup(profile, "front"))))


def lowest(found: Data) -> dict[tuple[str, str], float]:
    """Smallest clearance of every obstacle and part."""
    best: dict[tuple[str, str], float] = {}
    for entry in found["clearances"]:
        key = entry["obstacle"], entry["part"]
        best[key] = min(best.get(key, 1e9), entry["clearance_mm"])
    return best


def on_grid(found: Data) -> dict[tuple[Any, ...], float]:
    """Clearance of every obstacle, part and pose of the grid: the poses that do not depend on the obstacles."""
    steers = (-24.0, -12.0, 0.0, 12.0, 24.0)
    return {
        (e["obstacle"], e["part"], e["travel_mm"], e["steer_deg"]): e["clearance_mm"]
        for e in found["clearances"]
        if e["travel_mm"] in (-20, 0, 20) and round(e["steer_deg"], 6) + 0.0 in steers
    }


def number(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high).map(lambda value: round(value, 2))


@st.composite
def corners(draw: st.DrawFn) -> Data:
    """A steered corner with one obstacle of each shape somewhere round the wheel."""

    def place(y: float, x: float = 0) -> list[float]:
        return [x + draw(number(-110, 110)), y + draw(number(-40, 40)), draw(number(-250, 400))]

    outer, inner = HUB_FACE + draw(number(90, 250)), HUB_FACE - draw(number(150, 350))
    rows = [[[x, inner + draw(number(-30, 30)), z] for x in (-300, 0, 300)] for z in (-100, 150, 400)]
    parts = [
        {"name": "edge", "shape": "edge", "points": [[-360, outer, 80], [0, outer + 5, 380], [360, outer, 80]]},
        {"name": "curve", "shape": "edge", "smooth": True, "points": [place(outer, x) for x in (-240, 0, 240)]},
        {
            "name": "rod",
            "shape": "rod",
            "radius": draw(number(1, 40)),
            "from": place(inner, 150),
            "to": place(inner - 90),
        },
        {"name": "ball", "shape": "ball", "radius": draw(number(0, 30)), "at": place(inner), "fixed_to": "knuckle"},
        {"name": "panel", "shape": "panel", "rows": rows},
    ]
    data = steered(
        obstacles=parts,
        steering={"lock_left": 24, "lock_right": 24},
        travel={"droop": -20, "bump": 20},
        ride_heights={"level": 0},
    )
    del data["builds"]["lowered"]
    data["axles"]["front"]["suspension"] |= {
        "camber": draw(number(-4, 4)),
        "camber_per_100mm": draw(number(-4, 2)),
        "track_per_100mm": draw(number(-8, 8)),
        "camber_bend": 0,
        "out_bend": 0,
    }
    return data


def shifted(data: Data, dy: float) -> Data:
    """Vehicle and wheels moved along y together: every point, the steering axis and the hub face."""
    moved = copy.deepcopy(data)
    front = moved["axles"]["front"]

    def at(point: list[float]) -> list[float]:
        return [point[0], point[1] + dy, point[2]]

    front["hub_face_width"] += 2 * dy
    axis = front["suspension"]["steering_axis"]
    axis["lower"], axis["upper"] = at(axis["lower"]), at(axis["upper"])
    for part in front["obstacles"]:
        for key in ("points", "rows", "at", "from", "to"):
            if key in part:
                value = part[key]
                nested = value if isinstance(value[0], list) else [value]
                deep = [[at(p) for p in row] if isinstance(row[0], list) else at(row) for row in nested]
                part[key] = deep if isinstance(value[0], list) else deep[0]
    return moved


@given(data=corners(), dy=number(-150, 150))
@FEW
def test_shifting_vehicle_and_wheel_together_changes_nothing(data: Data, dy: float) -> None:
    before, after = answer(data), answer(shifted(data, dy))
    assert len(on_grid(before)) == 3 * 5 * 5 * 2
    assert on_grid(after) == pytest.approx(on_grid(before), abs=SAME)
    assert after["worst"]["margin_mm"] == pytest.approx(before["worst"]["margin_mm"], abs=SAME)


def in_inches(value: Any, key: str = "") -> Any:
    """Every length of a profile written as a text in inches; angles, shares, texts and masses as they are."""
    plain = ("camber", "camber_per_100mm", "camber_bend", "toe_in", "lock_left", "lock_right", "on_rim", "axle_load",
             "format")  # fmt: skip
    if isinstance(value, dict):
        return {name: in_inches(each, name) for name, each in value.items()}
    if isinstance(value, list):
        return [in_inches(each, key) for each in value]
    if isinstance(value, bool | str) or key in plain:
        return value
    return f"{value / 25.4:.12f} in"


@given(data=corners())
@FEW
def test_inches_and_millimetres_give_the_same_json(data: Data) -> None:
    mm, inch = answer(data), answer(in_inches(data))
    assert in_inches(data)["axles"]["front"]["hub_height"].endswith(" in")
    assert lowest(inch) == pytest.approx(lowest(mm), abs=SAME)
    assert on_grid(inch) == pytest.approx(on_grid(mm), abs=2e-4)
    for key in ("verdict", "setup", "bolt_on", "build", "axle", "profile"):
        assert inch[key] == mm[key], key
    assert inch["stance"] == pytest.approx(mm["stance"], abs=2e-4)


@given(data=corners(), more=number(0.1, 25))
@FEW
def test_a_larger_radius_costs_exactly_that(data: Data, more: float) -> None:
    thick = copy.deepcopy(data)
    for part in thick["axles"]["front"]["obstacles"]:
        part["radius"] = part.get("radius", 0) + more
    before, after = on_grid(answer(data)), on_grid(answer(thick))
    expected = {key: value - more for key, value in before.items()}
    assert {key: after[key] for key in expected if expected[key] > -DEEP} == pytest.approx(
        {key: value for key, value in expected.items() if value > -DEEP}, abs=2e-4
    )
    assert after == pytest.approx(expected, rel=0.1, abs=2e-4)  # deeper: contract, section 6


@given(data=corners(), first=number(0, 60), away=number(0, 120))
@FEW
def test_moving_away_never_costs_clearance(data: Data, first: float, away: float) -> None:
    """A part that lies wholly beside an upright wheel, 116 and more outboard of its centre, goes further out."""
    suspension = data["axles"]["front"]["suspension"]
    suspension["camber"] = suspension["camber_per_100mm"] = suspension["track_per_100mm"] = 0
    (edge,) = [part for part in data["axles"]["front"]["obstacles"] if part["name"] == "edge"]
    data["axles"]["front"]["obstacles"] = [edge]
    found = []
    for y in (HUB_FACE + 116 + first, HUB_FACE + 116 + first + away):
        edge["points"] = [[-360, y, 80], [0, y + 5, 280], [360, y, 80]]
        found.append({key: value for key, value in on_grid(answer(data)).items() if key[3] == 0})
    near, far = found
    assert near.keys() == far.keys()
    assert len(near) == 2 * 3
    for key, value in near.items():
        assert far[key] >= value - SAME, key
        assert far[key] <= value + away + SAME, "and never gains more than it was moved by"


@given(data=corners(), shape=st.sampled_from(["edge", "curve", "rod", "panel"]))
@FEW
def test_the_order_of_writing_does_not_matter(data: Data, shape: str) -> None:
    """An edge from its other end, a panel's rows from the last, a rod's ends exchanged: the same clearance."""
    other = copy.deepcopy(data)
    part = next(each for each in other["axles"]["front"]["obstacles"] if each["name"] == shape)
    if shape == "rod":
        part["from"], part["to"] = part["to"], part["from"]
    elif shape == "panel":
        # rows and the points of each: the cells keep their diagonals (i,j)-(i+1,j+1), so the surface is the same
        part["rows"] = [row[::-1] for row in part["rows"][::-1]]
    else:
        part["points"] = part["points"][::-1]
    before, after = on_grid(answer(data)), on_grid(answer(other))
    # where parts overlap the depth is probed every 0.3 mm from one end, and tells about how deep
    clear = {key: value for key, value in before.items() if value >= -bench_radius(data, key[0])}
    assert {key: after[key] for key in clear} == pytest.approx(clear, abs=SAME)
    assert after == pytest.approx(before, abs=0.05)


def bench_radius(data: Data, name: str) -> float:
    """Radius put round a part's core."""
    part = next(each for each in data["axles"]["front"]["obstacles"] if each["name"] == name)
    return float(part.get("radius", 0))


@given(data=corners(), shape=st.integers(0, 4), order=st.permutations(range(5)))
@FEW
def test_other_obstacles_and_their_order_do_not_matter(data: Data, shape: int, order: list[int]) -> None:
    alone, mixed = copy.deepcopy(data), copy.deepcopy(data)
    parts = data["axles"]["front"]["obstacles"]
    alone["axles"]["front"]["obstacles"] = [parts[shape]]
    mixed["axles"]["front"]["obstacles"] = [parts[i] for i in order]
    name = parts[shape]["name"]
    first = {key: value for key, value in on_grid(answer(alone)).items() if key[0] == name}
    second = {key: value for key, value in on_grid(answer(mixed)).items() if key[0] == name}
    assert second == pytest.approx(first, abs=2e-4)


@given(data=corners(), spacer=number(0, 40))
@FEW
def test_a_spacer_is_a_smaller_offset(data: Data, spacer: float) -> None:
    """Rim and tire stand at spacer - ET: a tire meets the same with ET0 and a spacer as with that much less offset."""
    for part in data["axles"]["front"]["obstacles"]:
        part["meets"] = "tire"
    with_spacer, with_offset = copy.deepcopy(data), copy.deepcopy(data)
    bench_setup(with_spacer)["spacer"] = spacer
    bench_setup(with_offset)["wheel"] = {"spec": "17x8 ET0 5x114.3 CB67.1", "offset": -spacer}
    one, other = on_grid(answer(with_spacer)), on_grid(answer(with_offset))
    assert one == pytest.approx(other, abs=2e-4)
