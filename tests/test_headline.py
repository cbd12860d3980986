"""What an answer says first, worked by hand on the bench vehicle (see conftest)."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path
from typing import Any

import pytest
from conftest import DIAMETER, HUB_FACE, POST, WIDTH, bench_setup, run, run_json, vehicle, write_profile

import fitment

# The post is 25 from the tire and 40 are asked for: 15 short. The rail is hit at full bump, and 5 are asked for: 9
# short. What overlaps limits the fit, though more is missing at the post.
GAP = POST - HUB_FACE - WIDTH / 2
OVERLAP = 4.0
RAIL = DIAMETER / 2 + 50 - OVERLAP


def hit(**more: Any) -> dict[str, Any]:
    """The bench vehicle with a post that is short of a lot and a rail that the tire hits in full bump."""
    return vehicle(
        obstacles=[
            {"name": "post", "shape": "edge", "points": [[0, POST, -450], [0, POST, 450]], "allowance": 40},
            {"name": "rail", "shape": "edge", "points": [[0, 500, RAIL], [0, 1000, RAIL]]},
        ],
        **more,
    )


def test_a_part_that_overlaps_comes_before_one_that_is_short(tmp_path: Path) -> None:
    profile = write_profile(tmp_path, hit())
    lines = run("check", profile, "--axle", "front").stdout.splitlines()
    assert lines[0].startswith("TOUCHES")
    head = lines[: lines.index("")]
    assert "  tire overlaps rail by 4.0 mm at travel +50 mm, steer +0.0 deg; 5.0 mm" in "\n".join(head)
    table = [line.split("  ")[1] for line in lines if re.match("  (tire|wheel) - [a-z]+  ", line)]
    assert table == ["tire - rail", "tire - post", "wheel - post", "wheel - rail"]  # -4; 25 and 25.7 of 40; far
    answer = run_json("check", profile, "--axle", "front")
    worst = answer["worst"]
    assert (worst["obstacle"], worst["clearance_mm"]) == ("rail", pytest.approx(-OVERLAP, abs=0.01))
    assert min(e["margin_mm"] for e in answer["clearances"]) == pytest.approx(GAP - 40)


def test_the_deepest_of_several_overlaps_comes_first(tmp_path: Path) -> None:
    data = hit()
    post = data["axles"]["front"]["obstacles"][0]
    post["points"] = [[0, HUB_FACE + WIDTH / 2 - 3, -450], [0, HUB_FACE + WIDTH / 2 - 3, 450]]  # 3 deep, 43 short
    worst = run_json("check", write_profile(tmp_path, data), "--axle", "front")["worst"]
    assert (worst["obstacle"], worst["clearance_mm"]) == ("rail", pytest.approx(-OVERLAP, abs=0.01))


def test_every_command_names_the_part_that_overlaps(tmp_path: Path) -> None:
    profile = write_profile(tmp_path, hit())
    told = "tire overlaps rail by 4.0 mm"
    assert told in run("compare", profile, "measured", "lowered", "--axle", "front").stdout.split("at rest")[1]
    order = run("order", profile, "--axle", "front").stdout
    assert f"- {told}" in order
    assert "tightest: tire to post" not in order
    window = run_json("window", profile, "--axle", "front")[0]
    assert window["nearest_to_fitting"]["in_the_way"]["obstacle"] == "rail"
    assert "tire to rail, an overlap of" in run("window", profile, "--axle", "front").stdout.replace("\n    ", " ")
    found = fitment.check(profile, "front")
    assert found.data["worst"]["obstacle"] == "rail"
    assert told in found._repr_html_()


@pytest.mark.slow
@pytest.mark.parametrize("rows", [1, 9])  # a short list is checked row by row, a long one looked up
def test_a_screened_row_is_limited_by_what_overlaps(rows: int, tmp_path: Path) -> None:
    profile, listed = write_profile(tmp_path, hit()), tmp_path / "list.csv"
    lines = ["wheel,tire", *["17x8 ET0 5x114.3 CB67.1,225/45R17 94W XL"] * rows]
    listed.write_text("\n".join(lines) + "\n")
    # of the list's tire, by UN R30: 17 in rim 432, and a section of 0.45 x 225 high to the nearest mm
    depth = (432 + 2 * 101) / 2 + 50 - RAIL
    text = run("screen", profile, str(listed), "--axle", "front", "--format", "csv").stdout
    for row in csv.DictReader(io.StringIO(text)):
        assert (row["verdict"], row["limited_by"]) == ("touches", "rail")
        assert float(row["clearance_mm"]) == pytest.approx(-depth, abs=0.02)
        assert float(row["travel_mm"]) == pytest.approx(50, abs=0.1)
        assert row["reason"] == f"tire overlaps rail by {depth:.1f} mm"
    text = run("screen", profile, str(listed), "--axle", "front", "--format", "text").stdout
    row = next(line for line in text.splitlines() if "  touches  " in line)
    assert row.split("  touches  ")[1].split("  ")[0].strip() == "rail, tire"
    assert f" -{depth:.1f} mm " in row


def test_the_axle_that_touches_decides_a_row(tmp_path: Path) -> None:
    """The front is 60 short of what is asked for, the rear hits: the rear decides."""
    data = hit()
    data["axles"]["rear"] = vehicle()["axles"]["front"]
    data["axles"]["rear"]["obstacles"] = hit()["axles"]["front"]["obstacles"][1:]
    data["axles"]["front"]["obstacles"][1:] = []
    data["axles"]["front"]["obstacles"][0]["allowance"] = 85
    for build in data["builds"].values():
        build["rear"] = build["front"]
    listed = tmp_path / "list.csv"
    for rows in (1, 9):
        listed.write_text("wheel,tire\n" + "17x8 ET0 5x114.3 CB67.1,225/45R17 94W XL\n" * rows)
        for row in fitment.screen(write_profile(tmp_path, data), str(listed)).data:
            assert (row["verdict"], row["limited_by"]) == ("touches", "rear: rail")
            assert row["reason"] == "tire overlaps rail by 4.0 mm"


def test_pictures_and_page_show_the_part_that_overlaps(tmp_path: Path) -> None:
    from fitment.draw.headings import reason
    from fitment.draw.scene import closest_moving, placed, tightest
    from fitment.draw.views.closest import closest_call
    from fitment.page.moving_drawing import row_pairs

    case = fitment.check(write_profile(tmp_path, hit()), "front").new[0]
    call = closest_call(case)
    assert call is not None
    assert call.entry.obstacle == "rail"
    moving = closest_moving(case)
    assert moving is not None
    assert moving.obstacle == "rail"
    assert reason(case, "mm") == "tightest: rail to tire, -4.0 mm"
    assert row_pairs(None, case)[0] == ("rail", "tire")
    there, at = placed(case, "bump")
    entry = tightest(there, at)
    assert entry is not None
    assert entry.obstacle == "rail"
    page = tmp_path / "page.html"
    run("report", str(tmp_path / "bench.yaml"), "--out", str(page))
    answer = page.read_text().split('<p class="setup">')[0]
    assert "the tire hits the rail" in answer
    assert "4.0 mm" in answer


def test_nothing_that_overlaps_is_told_as_the_closest(tmp_path: Path) -> None:
    """Without the rail the post is told, which is short and does not overlap."""
    data = hit()
    del data["axles"]["front"]["obstacles"][1]
    bench_setup(data)["ride"] = "level"
    text = run("check", write_profile(tmp_path, data), "--axle", "front").stdout
    assert text.startswith("TIGHT")
    assert f"  tightest: tire to post, {GAP:.1f} mm at" in text


# ---------------------------------------------------------------- readings


def slipped() -> dict[str, Any]:
    """The bench vehicle with the post typed as 790 for 890: 75 mm within the tire that stood beside it."""
    data = vehicle()
    data["axles"]["front"]["obstacles"][0]["points"] = [[0, POST - 100, -450], [0, POST - 100, 450]]
    return data


@pytest.mark.parametrize(("build", "told"), [("measured", True), ("lowered", False)])
def test_a_baseline_that_touches_in_motion_alone_is_told_with_both_reasons(
    build: str, told: bool, tmp_path: Path
) -> None:
    """A shelf 30 mm above the tire, whose bump travel is 50 mm; of another build it is no reading's fault."""
    data = vehicle()
    shelf = {"name": "shelf", "shape": "edge", "points": [[-50, HUB_FACE, 347], [50, HUB_FACE, 347]]}
    data["axles"]["front"]["obstacles"] = [shelf]
    assert data["axles"]["front"]["travel"]["bump"] == 50
    said = " ".join(run("check", write_profile(tmp_path, data), "--build", build, "--full").stdout.split())
    assert ("the baseline, which drives today, touches shelf in motion" in said) is told
    assert "Measure again" not in said


SLIP = "Measure again: as measured, the baseline itself overlaps post at rest (front axle)."


@pytest.mark.slow
def test_a_slip_is_told_in_the_first_lines_of_every_command(tmp_path: Path) -> None:
    profile, listed, page = write_profile(tmp_path, slipped()), tmp_path / "list.csv", tmp_path / "page.html"
    listed.write_text("wheel,tire\n17x8 ET0 5x114.3 CB67.1,225/45R17 94W XL\n")
    for words in (
        ("check", profile),
        ("compare", profile, "measured", "lowered"),
        ("screen", profile, str(listed), "--format", "text"),
        ("window", profile),
        ("order", profile),
        ("show", profile),
    ):
        first = run(*words, "--axle", "front").stdout.splitlines()[:6]
        assert any(SLIP in line for line in first), (words, first)
    assert SLIP in run("screen", profile, str(listed), "--format", "csv").stderr
    assert SLIP not in run("screen", profile, str(listed), "--format", "csv").stdout
    assert run_json("show", profile, "--axle", "front")["baseline_overlaps"] == ["post"]
    assert run_json("window", profile, "--axle", "front")[0]["baseline_overlaps"] == ["post"]
    run("report", profile, "--out", str(page))
    assert SLIP in page.read_text().split('class="told"')[1].split('class="setup"')[0]
    assert SLIP in fitment.screen(profile, str(listed)).text
    assert SLIP not in run("check", write_profile(tmp_path, vehicle())).stdout


def test_a_part_without_a_tolerance_is_told_beside_the_verdict(tmp_path: Path) -> None:
    data = vehicle()
    post, rail = data["axles"]["front"]["obstacles"]
    del post["tolerance"], rail["tolerance"]
    for tolerance, told in ((None, "post, rail"), (0, "rail")):  # 0 says that it is exact
        if tolerance is not None:
            post["tolerance"] = tolerance
        profile, words = write_profile(tmp_path, data), f"no tolerance given: 3 mm taken for {told}"
        head = " ".join(run("check", profile, "--full").stdout.split("\n\n")[0].split())
        assert f"{words}; bolt-on" in head
        assert words in run("compare", profile, "measured", "lowered", "--full").stdout.split("at rest, straight")[0]
        assert words in run("window", profile).stdout.split("\n\n")[0]
        assert words in " ".join(run("order", profile).stdout.split("Not checked")[1].split())
        assert words in run("show", profile).stdout
        names = [each["obstacle"] for each in run_json("check", profile, "--axle", "front")["usual_tolerance"]]
        assert names == told.split(", ")
        row = fitment.screen(profile, [{"wheel": "17x8 ET0 5x114.3 CB67.1", "tire": "225/45R17 94W XL"}]).data[0]
        assert (row["verdict"], words in row["reason"]) == ("clears", True)
    rail["points"][0][2] = rail["points"][1][2] = {"value": 420, "tolerance": 2}  # its height was read to 2 mm
    assert "no tolerance given" not in run("check", write_profile(tmp_path, data), "--full").stdout
    post["radius"] = {"value": 3, "tolerance": 1}  # how thick it is says not where it is
    del post["tolerance"]
    assert "3 mm taken for post;" in run("check", write_profile(tmp_path, data), "--full").stdout


def test_gaps_at_rest_stand_beside_the_tightest(tmp_path: Path) -> None:
    """At the low height, 30 up, the rail is 420 - 317 - 30 from the tire; at full bump, 50 up, 20 less."""
    profile = write_profile(tmp_path, vehicle())
    text = run("check", profile, "--build", "lowered", "--full").stdout
    row = next(line for line in text.splitlines() if line.startswith("  tire - rail"))
    assert row.split()[3:7] == [f"{420 - DIAMETER / 2 - 50:.1f}", "mm", f"{420 - DIAMETER / 2 - 30:.1f}", "mm"]
    assert "at rest: straight ahead at travel +30 mm" in text
    entries = run_json("check", profile, "--build", "lowered", "--axle", "front")["at_rest"]
    gaps = {(e["obstacle"], e["part"]): e["clearance_mm"] for e in entries}
    assert len(gaps) == len(entries) == 4
    assert gaps["rail", "tire"] == pytest.approx(420 - DIAMETER / 2 - 30, abs=1e-3)
    assert gaps["post", "tire"] == pytest.approx(GAP, abs=1e-3)
    assert {(e["travel_mm"], e["steer_deg"]) for e in entries} == {(30, 0)}


def test_gaps_at_rest_of_a_wheel_that_steers_are_those_straight_ahead(tmp_path: Path) -> None:
    """Toe-in of half a degree is straight ahead, neither lock nor steer 0."""
    axis = {"lower": [0, HUB_FACE - 50, -150], "upper": [0, HUB_FACE - 50, 150]}
    data = vehicle(
        suspension={"kind": "tape", "toe_in": 0.5, "steering_axis": axis},
        steering={"lock_left": 30, "lock_right": 30},
    )
    entries = run_json("check", write_profile(tmp_path, data), "--axle", "front")["at_rest"]
    assert {(e["travel_mm"], e["steer_deg"]) for e in entries} == {(0, -0.5)}


def test_gaps_at_rest_of_a_solid_axle_are_those_of_both_corners_level(tmp_path: Path) -> None:
    data = vehicle(suspension={"kind": "solid_axle"})
    entries = run_json("check", write_profile(tmp_path, data), "--axle", "front")["at_rest"]
    assert len(entries) == 2 * 4
    assert {e["corner"] for e in entries} == {"left", "right"}
    assert {(e["travel_mm"], e["opposite_mm"]) for e in entries} == {(0, 0)}


def test_text_tells_from_which_reading_each_part_came(tmp_path: Path) -> None:
    data = vehicle()
    data["axles"]["front"]["obstacles"] += [
        {"name": "lip", "shape": "edge", "measured_from": "hub_face", "points": [[-90, 140, 380], [90, 140, 380]]},
        {"name": "stone", "shape": "ball", "at": {"clock": 90, "radius": 400, "out": 130}},
        {"name": "horn", "shape": "edge", "points": [[-90, 470, 250], [90, 470, 250]],
         "measured_gap": {"to": "tire", "gap": 22}},
        {"name": "caliper", "shape": "ring", "outline": [[-60, 120], [-60, 150]], "clock": [60, 130]},
    ]  # fmt: skip
    profile = write_profile(tmp_path, data)
    for command in (("check", "--full"), ("show",)):
        text = run(*command, profile).stdout
        for line in (
            "  - points, y from the centre plane: post, rail",
            "  - points, y from the hub face: lip",
            "  - points by clock and radius about the hub centre, outboard of the hub face: stone",
            "  - points, their y from the gap measured to the baseline's tire: horn",
            "  - an outline in the hub's own frame: caliper",
        ):
            assert line in text.splitlines(), text
