"""Windows of offsets: worked by hand on the bench vehicle, and held against `check` at both ends and beyond them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from conftest import HUB_FACE, bench_setup, run, run_json, vehicle, window_of, write_profile

HALF_WHEEL = (8 + 1) * 25.4 / 2  # [mm] rim width + 2 x 12.7, halved
GROWN = 0.04 * 230 / 2  # [mm] half of what UN R30 permits a 230 mm wide radial more than its width (4 %)
TIRE = "225/45R17 94W XL"


def between_posts(folder: Path, outer: float, inner: float, **setup: Any) -> str:
    """The bench vehicle between two upright posts, `outer` outboard of the hub face and `inner` inboard of it."""
    posts = [
        {"name": name, "shape": "edge", "points": [[0, HUB_FACE + y, -450], [0, HUB_FACE + y, 450]]}
        for name, y in (("outer post", outer), ("inner post", -inner))
    ]
    data = vehicle(obstacles=posts)
    bench_setup(data).update(setup)
    return write_profile(folder, data)


# ---------------------------------------------------------------- by hand


def test_window_by_hand(tmp_path: Path) -> None:
    """A tire 230 wide asks for 5 on each side, and for room for a tire 4 % wider: 5 is more than 4.6."""
    found = run_json("window", between_posts(tmp_path, 140, 150), "--axle", "front")[0]
    assert found["offset_min_mm"] == pytest.approx(-(140 - 115 - 5), abs=0.15)
    assert found["offset_max_mm"] == pytest.approx(150 - 115 - 5, abs=0.15)
    low, high = found["ends"]
    assert (low["stopped_by"]["obstacle"], high["stopped_by"]["obstacle"]) == ("outer post", "inner post")
    # backspacing = overall width / 2 + ET; the track grows by twice what the offset falls
    assert low["backspacing_mm"] == pytest.approx(HALF_WHEEL + found["offset_min_mm"])
    assert low["backspacing_in"] == pytest.approx((HALF_WHEEL + found["offset_min_mm"]) / 25.4, abs=1e-4)  # 4 digits
    assert low["track_mm"] - high["track_mm"] == pytest.approx(2 * (found["offset_max_mm"] - found["offset_min_mm"]))


def test_the_worst_case_narrows_the_window(tmp_path: Path) -> None:
    """With a post read to 3 mm its worst case asks for 4.6 + 3 = 7.6, more than the allowance of 5."""
    data = json.loads(json.dumps(vehicle()))
    points = [[0, HUB_FACE + 140, z] for z in (-450, 450)]
    data["axles"]["front"]["obstacles"] = [{"name": "post", "shape": "edge", "tolerance": 3, "points": points}]
    found = run_json("window", write_profile(tmp_path, data), "--axle", "front")[0]
    assert found["offset_min_mm"] == pytest.approx(-(140 - 115 - GROWN - 3), abs=0.15)
    assert found["nominal_only"][0] == pytest.approx(-(140 - 115 - 5), abs=0.05)
    assert found["ends"][1]["stopped_by"] is None, "nothing stands inboard"


def test_a_spacer_moves_the_window(tmp_path: Path) -> None:
    profile = between_posts(tmp_path, 140, 150)
    plain, spaced = (run_json("window", profile, "--axle", "front", "--spacer", s)[0] for s in ("0", "12"))
    for key in ("offset_min_mm", "offset_max_mm"):
        assert spaced[key] == pytest.approx(plain[key] + 12, abs=0.15)


def test_no_offset_fits_and_the_nearest_is_told(tmp_path: Path) -> None:
    # 236 between the posts for a tire of 230 that asks for 5 on each side; midway 3 are left on each
    result = run("window", between_posts(tmp_path, 120, 116), "--axle", "front", "--format", "json")
    assert result.exit_code == 1
    found = json.loads(result.stdout)[0]
    assert found["offset_min_mm"] is None
    best = found["nearest_to_fitting"]
    assert best["offset_mm"] == pytest.approx(-2, abs=0.6)
    assert best["in_the_way"]["clearance_mm"] == pytest.approx(3, abs=0.6)
    assert "no offset clears" in run("window", between_posts(tmp_path, 120, 116), "--axle", "front").stdout


def test_a_thin_panel_cannot_be_passed(tmp_path: Path) -> None:
    """Beyond a sheet that stands outboard there is free space, but the wheel's disc would run through the sheet."""
    sheet = {"name": "sheet", "shape": "panel", "meets": "both",
             "rows": [[[x, HUB_FACE + 45, z] for z in (-500, 500)] for x in (-500, 500)]}  # fmt: skip
    result = run("window", write_profile(tmp_path, vehicle(obstacles=[sheet])), "--axle", "front", "--format", "json")
    found = json.loads(result.stdout)[0]
    # inboard of it: the tire's outer side 115 outboard of its middle, 5 required
    assert found["offset_min_mm"] == pytest.approx(115 + 5 - 45, abs=0.2)
    assert found["other_spans_mm"] == []
    assert run("check", write_profile(tmp_path, vehicle(obstacles=[sheet])), "--axle", "front", "--wheel",
               "17x8 ET-140 5x114.3 CB67.1", "--tire", TIRE, "--format", "json").exit_code == 1  # fmt: skip


# ---------------------------------------------------------------- tables, input


@pytest.mark.slow
def test_matrix_of_widths_and_tires(tmp_path: Path) -> None:
    """Each cell is the window of its own; the widest names a tire on a rim of its range."""
    profile = between_posts(tmp_path, 140, 150)
    sizes, tires = ("17x7.5", "17x8"), ("215/45R17", "225/45R17")
    options = [part for size in sizes for part in ("--size", size)] + [p for t in tires for p in ("--tire", t)]
    table = run_json("window", profile, "--axle", "front", *options)
    assert [(each["wheel"], each["tire"]) for each in table] == [(s, t) for s in sizes for t in tires]
    for each in table:
        alone = run_json("window", profile, "--axle", "front", "--size", each["wheel"], "--tire", each["tire"])[0]
        assert alone["offset_min_mm"] == each["offset_min_mm"]
    text = run("window", profile, "--axle", "front", *options).stdout
    assert "The widest that clears: 17x8 with 225/45R17." in text


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (["--size", "17"], "17x8|diameter x width"),
        (["--size", "18x8"], "18 in, the tires for 17 in rims"),
        (["--tire", "round"], "round"),
        (["--ride", "nowhere"], "nowhere"),
        (["--size", "17x8", "--out", "x.csv"], ".json"),
    ],
)
def test_bad_input(options: list[str], words: str, tmp_path: Path) -> None:
    result = run("window", between_posts(tmp_path, 140, 150), "--axle", "front", *options)
    assert result.exit_code == 2
    assert any(word in result.stderr for word in words.split("|")), result.stderr
    assert "Traceback" not in result.stderr


@pytest.mark.slow
def test_pictures(tmp_path: Path) -> None:
    profile = between_posts(tmp_path, 140, 150)
    for options in ([], ["--size", "17x7.5", "--size", "17x8"]):
        files = [tmp_path / f"{len(options)}-{i}.png" for i in (0, 1)]
        for file in files:
            assert run("window", profile, "--axle", "front", *options, "--out", str(file)).exit_code == 0
        assert files[0].read_bytes() == files[1].read_bytes(), "same input, same bytes"


# ---------------------------------------------------------------- against check, on the bundled vehicles


@pytest.mark.slow
@pytest.mark.parametrize(
    ("name", "axle", "build"),
    [("wagon", "front", "chosen"), ("pickup", "front", "wide"), ("pickup", "rear", "wide"),
     ("coupe", "front", "track_day"), ("coupe", "rear", "track_day")],
)  # fmt: skip
def test_ends_are_where_check_says(name: str, axle: str, build: str) -> None:
    """At both ends `check` clears; a tenth beyond, the next that is told, it does not, unless nothing stops it."""
    setup = run_json("check", name, "--axle", axle, "--build", build)["setup"]
    answer = json.loads(window_of(name, axle, build))[0]
    if answer["offset_min_mm"] is None:
        best = answer["nearest_to_fitting"]["offset_mm"]
        assert not clears(name, axle, build, setup, best)
        return
    for end, beyond in zip(answer["ends"], (-0.1, 0.1), strict=True):
        assert clears(name, axle, build, setup, end["offset_mm"]), end
        if end["stopped_by"] is not None:
            assert not clears(name, axle, build, setup, round(end["offset_mm"] + beyond, 1)), end


def clears(name: str, axle: str, build: str, setup: dict[str, Any], offset: float) -> bool:
    """Whether `check` finds every clearance kept with the build's own wheel at another offset."""
    spec = " ".join(f"ET{offset:g}" if word.startswith("ET") else word for word in setup["wheel"].split())
    found = json.loads(
        run("check", name, "--axle", axle, "--build", build, "--wheel", spec, "--tire", setup["tire"],
            "--spacer", str(setup["spacer_mm"]), "--ride", str(setup["ride_mm"]), "--format", "json").stdout
    )  # fmt: skip
    return all(e["margin_mm"] >= 0 and e["worst_case_mm"] >= 0 for e in found["clearances"])
