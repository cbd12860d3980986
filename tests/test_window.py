"""Windows of offsets: worked by hand on the bench vehicle, and held against `check` at both ends and beyond them."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from conftest import HUB_FACE, bench_setup, run, run_json, steered, vehicle, window_of, write_profile
from pictured import cut_off, overlapping

import fitment
from fitment.terminal import laid_out

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
    assert found["nominal_min_mm"] == pytest.approx(-(140 - 115 - 5), abs=0.1)
    low, high = found["nominal_ends"]
    assert (low["offset_mm"], low["stopped_by"]["obstacle"]) == (found["nominal_min_mm"], "post")
    assert high["stopped_by"] is None
    assert found["nominal_max_mm"] == found["offset_max_mm"], "nothing stands inboard"
    assert found["ends"][1]["stopped_by"] is None, "nothing stands inboard"


def read_posts(outer: float, inner: float, tolerance: float) -> dict[str, Any]:
    """The bench vehicle between two posts that were read to a tolerance."""
    places = (("outer post", outer), ("inner post", -inner))
    posts = [
        {"name": name, "shape": "edge", "tolerance": tolerance, "points": [[0, HUB_FACE + y, z] for z in (-450, 450)]}
        for name, y in places
    ]
    return vehicle(obstacles=posts)


def test_what_fits_only_as_measured_is_told(tmp_path: Path) -> None:
    """230 wide between posts 242 apart: 1 is left on each side as measured. The worst case asks for 4.6 + 3, not 5."""
    profile = write_profile(tmp_path, read_posts(121, 121, 3))
    result = run("window", profile, "--axle", "front", "--format", "json")
    assert result.exit_code == 1, "no offset clears"
    (found,) = json.loads(result.stdout)
    assert (found["offset_min_mm"], found["offset_max_mm"], found["ends"]) == (None, None, [])
    assert (found["nominal_min_mm"], found["nominal_max_mm"]) == pytest.approx((-1, 1), abs=0.1)
    assert [end["stopped_by"]["obstacle"] for end in found["nominal_ends"]] == ["outer post", "inner post"]
    nearest = found["nearest_to_fitting"]
    assert found["nominal_min_mm"] <= nearest["offset_mm"] <= found["nominal_max_mm"]
    # 121 - 115 - 4.6 - 3 = -1.6 midway; up to 0.5 beside it
    assert nearest["in_the_way"]["worst_case_mm"] == pytest.approx(-(GROWN + 3 - 6), abs=0.55)
    text = " ".join(run("window", profile, "--axle", "front").stdout.split())
    assert "no offset clears in the worst case; as measured ET-1.0 to ET1.0." in text
    assert "As measured: ET-1.0 (tire to outer post" in text
    assert "Nearest to clearing is ET" in text
    several = run("window", profile, "--axle", "front", "--size", "17x7.5", "--size", "17x8", "--tire", TIRE).stdout
    (row,) = [line.split() for line in several.splitlines() if line.startswith("  17x8  ")]
    assert row[-4:] == ["none", "ET-1", "to", "ET1"]


def test_bars_of_text_are_to_scale(tmp_path: Path) -> None:
    """As measured -20 to 30, in the worst case -17.4 to 27.4: each end is within a column of its place on the scale."""
    profile = write_profile(tmp_path, read_posts(140, 150, 3))
    lines = run("window", profile, "--axle", "front").stdout.splitlines()
    (bar,) = [line for line in lines if "#" in line and set(line) <= set(" .#")]
    (scale,) = [line for line in lines if line.strip().startswith("|ET")]
    ticks = [(float(tick[1]), tick.start()) for tick in re.finditer(r"\|ET([+-]\d+)", scale)]
    (first, at), (last, end) = ticks[0], ticks[-1]
    column = (last - first) / (end - at)

    def offset(place: int) -> float:
        return first + (place - at) * column

    drawn = [bar.index("."), bar.index("#"), bar.rindex("#") + 1, bar.rindex(".") + 1]
    assert [offset(place) for place in drawn] == pytest.approx([-20, -17.4, 27.4, 30], abs=1.5 * column)
    assert "# in the worst case too   . as measured" in "\n".join(lines)


@pytest.mark.parametrize("columns", [60, 80, 100, 120, 200])
def test_lines_are_no_longer_than_the_terminal(columns: int, tmp_path: Path) -> None:
    found = fitment.window(write_profile(tmp_path, read_posts(140, 150, 3)), "front", size=["17x7.5", "17x8"])
    with laid_out(columns):
        texts = [found.text, replace(found, found=(replace(found.found[0], windows=found.found[0].windows[:1]),)).text]
    for text in texts:
        assert max(map(len, text.splitlines())) <= columns
        assert " - " not in text.replace("\n  - ", ""), "no dash stands for an answer"


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


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_picture_tells_both_ranges_without_colour(theme: str, tmp_path: Path) -> None:
    """Bars as long as their ranges are to each other, hatched as measured; nothing lies over another or is cut off."""
    found = fitment.window(write_profile(tmp_path, read_posts(140, 150, 3)), "front", size=["17x7.5", "17x8"])
    one = replace(found, found=(replace(found.found[0], windows=found.found[0].windows[-1:]),), units="in")
    for answer in (found, one):
        figure = answer.figure(theme=theme)
        ax = next(ax for ax in figure.axes if any("worst case too" in text.get_text() for text in ax.texts))
        bars = [patch for patch in ax.patches if patch.get_height() > 20]
        looks = [bool(bar.get_hatch()) for bar in bars]
        assert looks == [True, False] * len(answer.found[0].windows)
        pale, full = bars[-2].get_width(), bars[-1].get_width()
        assert pale / full == pytest.approx(50 / 44.8, rel=0.01)  # 17x8: -20 to 30, and -17.4 to 27.4
        told = [text.get_text() for text in ax.texts]
        assert {"ET-20.0 outer post", "ET30.0 inner post"} <= set(told)
        assert [t for t in overlapping(figure) if "post" in t] == []
        assert cut_off(figure) == []
        # 9 pixels at 360 across, 10 inches wide
        large = [text for text in ax.texts if text.get_fontsize() * 360 / 720 < 8.4]
        assert large == []


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
        assert not kept(name, axle, build, setup, best)[1]
    for range_, ends in enumerate((answer["nominal_ends"], answer["ends"])):
        for end, beyond in zip(ends, (-0.1, 0.1), strict=False):
            assert kept(name, axle, build, setup, end["offset_mm"])[range_], end
            if end["stopped_by"] is not None:
                assert not kept(name, axle, build, setup, round(end["offset_mm"] + beyond, 1))[range_], end


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(6))
def test_ends_are_where_check_says_on_random_vehicles(seed: int, tmp_path: Path) -> None:
    """Balls and posts put round the wheel of the steered bench vehicle at random, each read to its own tolerance."""
    draw = np.random.default_rng([14, seed])
    parts: list[dict[str, Any]] = []
    for side, sign in (("outer", 1), ("inner", -1)):
        for k in range(2):
            place = [float(draw.uniform(-250, 250)), HUB_FACE + sign * float(draw.uniform(150, 210)),
                     float(draw.uniform(-200, 200))]  # fmt: skip
            parts.append({"name": f"{side} ball {k}", "shape": "ball", "at": place, "radius": 10,
                          "tolerance": round(float(draw.uniform(0, 4)), 1)})  # fmt: skip
    data = steered(obstacles=parts)
    bench_setup(data)["tire"] = TIRE  # no measured size, which `check --tire` would not know
    profile = write_profile(tmp_path, data)
    setup = run_json("check", profile, "--axle", "front")["setup"]
    answer = run_json("window", profile, "--axle", "front")[0]
    assert answer["nominal_ends"] or answer["nearest_to_fitting"]
    for range_, ends in enumerate((answer["nominal_ends"], answer["ends"])):
        for end, beyond in zip(ends, (-0.1, 0.1), strict=False):
            assert kept(profile, "front", "measured", setup, end["offset_mm"])[range_], end
            if end["stopped_by"] is not None:
                assert not kept(profile, "front", "measured", setup, round(end["offset_mm"] + beyond, 1))[range_], end


def kept(name: str, axle: str, build: str, setup: dict[str, Any], offset: float) -> tuple[bool, bool]:
    """Whether `check` finds every clearance kept with the build's own wheel at another offset: as measured, and in
    the worst case too."""
    spec = " ".join(f"ET{offset:g}" if word.startswith("ET") else word for word in setup["wheel"].split())
    both = [  # corners, which may differ
        json.loads(
            run("check", name, "--axle", f"{axle}-{side}", "--build", build, "--wheel", spec,  # on the build's own tire
                "--spacer", str(setup["spacer_mm"]), "--ride", str(setup["ride_mm"]), "--format", "json").stdout
        )
        for side in ("left", "right")
    ]  # fmt: skip
    entries = [entry for found in both for entry in found["clearances"]]
    as_measured = all(entry["margin_mm"] >= 0 for entry in entries)
    return as_measured, as_measured and all(entry["worst_case_mm"] >= 0 for entry in entries)


def test_the_nearest_offset_that_overlaps_deeply_is_told_by_no_more_than_is_known(tmp_path: Path) -> None:
    """230 mm of tire between posts 120 mm apart: 55 mm in on each side at best."""
    answer = fitment.window(between_posts(tmp_path, 60, 60), "front")
    told = [text.get_text() for ax in answer.figure().axes for text in ax.texts]
    (nearest,) = [text for text in told if text.startswith("nearest ET")]
    assert nearest.endswith("post overlaps by more than 20 mm")
