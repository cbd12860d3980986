"""The whole vehicle in one picture: both axles, heights, how the tread stands against the lip, by hand arithmetic."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from conftest import DIAMETER, HUB_FACE, run, vehicle, write_profile

import fitment
from fitment.draw.whole_vehicle import vehicle_sheet
from fitment.errors import FitmentError
from fitment.profile import loads_profile

LIP = {"name": "lip", "shape": "edge", "radius": 2, "points": [[-300, HUB_FACE + 40, 390], [300, HUB_FACE + 40, 390]]}


def two_axles() -> dict[str, Any]:
    data = vehicle(obstacles=[LIP])
    data["wheelbase"] = 2700
    data["axles"]["rear"] = json.loads(json.dumps(data["axles"]["front"]))
    for build in data["builds"].values():
        build["rear"] = dict(build["front"])
    data["builds"]["down"] = {axle: {**data["builds"]["measured"][axle], "ride": "low"} for axle in ("front", "rear")}
    return data


def texts(figure: Any) -> list[str]:
    return [text.get_text() for ax in figure.axes for text in ax.texts]


def test_both_axles_and_their_heights_are_told() -> None:
    """Level: 390 - 2 to the lip's underside, less the tire's radius over the hub. Low: 30 mm less."""
    read = loads_profile(json.dumps(two_axles()))
    found = fitment.compare(read, "measured", "down")
    told = texts(found.figure(view="vehicle"))
    assert [each for each in told if each in ("old front", "new front", "old rear", "new rear")] == [
        "old front", "new front", "old rear", "new rear",
    ]  # fmt: skip
    for height in (388 - DIAMETER / 2, 358 - DIAMETER / 2):
        assert told.count(f"{height:.0f} mm") >= 2
    assert any(text.startswith("whole vehicle, measured → down") for text in told)


@pytest.mark.parametrize(("axles", "words"), [
    ("front", "down 0.64 deg"), ("rear", "up 0.64 deg"), ("front rear", "level"),
])  # fmt: skip
def test_how_the_body_leans_is_told_without_a_sign(axles: str, words: str) -> None:
    """30 mm lower over a wheelbase of 2700: atan(30 / 2700) = 0.64 deg."""
    data = two_axles()
    for axle in ("front", "rear"):
        data["builds"]["down"][axle] = data["builds"]["measured"][axle] | ({"ride": "low"} if axle in axles else {})
    told = texts(fitment.check(loads_profile(json.dumps(data)), build="down").figure(view="vehicle"))
    assert told.count(words) == 2
    assert not [text for text in told if "-0.64" in text]


def test_one_axle_alone_says_which() -> None:
    read = loads_profile(json.dumps(two_axles()))
    case = fitment.check(read, "rear").cases[0]
    told = texts(vehicle_sheet(case))
    assert any(text.startswith("rear axle, measured") for text in told)
    assert "front" not in told


def test_without_a_lip_nothing_is_made_up() -> None:
    read = loads_profile(json.dumps(vehicle(obstacles=[])))
    told = texts(fitment.check(read, "front").figure(view="vehicle"))
    assert "no lip measured above it" in told
    assert told.count("not measured") == 2


def test_it_is_one_file_for_all_axles(tmp_path: Path) -> None:
    profile = write_profile(tmp_path, two_axles())
    run("check", profile, "--view", "vehicle", "--out", str(tmp_path / "both.png"))
    assert sorted(path.name for path in tmp_path.glob("*.png")) == ["both.png"]
    with pytest.raises(FitmentError, match="layout banner"):
        fitment.check(profile).figure(view="vehicle", layout="banner")
