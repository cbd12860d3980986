"""What `check` and `compare` print unless all is asked for, worked by hand on the bench vehicle (see conftest)."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from conftest import (
    DIAMETER,
    HUB_FACE,
    POST,
    RAIL,
    STRAIGHT,
    WIDTH,
    bench_setup,
    run,
    run_json,
    steered,
    vehicle,
    write_profile,
)

import fitment
from fitment.report.changes import best_changes_text
from fitment.terminal import laid_out

SIDE = HUB_FACE + WIDTH / 2  # [mm] y of the tire's outer side
DRIVE = "Before driving, test fit through full travel and lock on both sides. Local rules and a licensed mechanic"


def posts(**gaps: float) -> dict[str, Any]:
    """The bench vehicle with posts beside the tire alone, by their gaps to it [mm]."""
    return vehicle(obstacles=[post(name, gap) for name, gap in gaps.items()])


def post(name: str, gap: float, **more: Any) -> dict[str, Any]:
    y = SIDE + gap
    return {"name": name, "shape": "edge", "meets": "tire", "points": [[0, y, -450], [0, y, 450]]} | more


def told(tmp_path: Path, data: dict[str, Any], *options: str) -> list[str]:
    return run("check", write_profile(tmp_path, data), *options).stdout.splitlines()


def row(lines: list[str], name: str) -> list[str]:
    """The cells of a part's row, behind its name."""
    (line,) = (line for line in lines if line.startswith(f"  tire - {name} "))
    return line.removeprefix(f"  tire - {name}").split()


def rows(lines: list[str]) -> list[str]:
    """The parts of the table."""
    return re.findall(r"^  (?:tire|wheel) - (\w+)  ", "\n".join(lines), re.MULTILINE)


# ---------------------------------------------------------------- the table


def test_a_row_tells_the_gap_beside_that_at_rest_what_is_required_and_the_worst_case(tmp_path: Path) -> None:
    """Tire to rail, least at full bump: 420 - 317 - 50; at rest 50 more; worst with a tire 8.08 higher by UN R30:
    1.04 x 202 of section height on 432."""
    lines = told(tmp_path, vehicle())
    bump = RAIL - DIAMETER / 2 - 50
    worst = RAIL - (432 + 2 * 101 * 1.04) / 2 - 50
    numbers = [f"{bump:.1f}", f"{bump + 50:.1f}", "5.0", f"{worst:.1f}", "+50"]
    assert row(lines, "rail") == ["#######", *numbers]
    assert any("at rest: straight ahead, travel +0 mm" in line for line in lines)


@pytest.mark.parametrize(
    ("gap", "bar"),
    [(-3, "overlap"), (0.4, "#......"), (2, "##....."), (4.9, "######."), (5, "#######"), (40, "#######")],
)
def test_a_bar_is_filled_as_far_as_the_clearance_required_is_there(gap: float, bar: str, tmp_path: Path) -> None:
    """5 mm are required and a bar has seven cells: 2 of 5 fill two (14 / 5), 4.9 of 5 six; it is full where it is
    kept and nowhere else, and never empty where there is a gap."""
    cells = row(told(tmp_path, posts(post=gap)), "post")
    assert cells[0] == bar
    assert float(cells[1]) == pytest.approx(gap, abs=0.051)


@pytest.mark.slow
def test_what_is_too_close_is_never_left_out(tmp_path: Path) -> None:
    """Seven of eight are short: five are shown, the others named. An exact one that is kept gives way to one that is
    farther off, and overlaps in the worst case."""
    gaps = {f"p{i}": float(i) for i in range(1, 5)} | {"p5": 4.2, "p6": 4.4, "p7": 4.6, "far": 90}
    lines = told(tmp_path, posts(**gaps))
    assert rows(lines) == ["p1", "p2", "p3", "p4", "p5"]
    assert "3 more, of them too close: tire - p6, tire - p7" in " ".join(" ".join(lines).split())
    near = [post(f"p{i}", 10.0 + i) for i in range(6)]
    lines = told(tmp_path, vehicle(obstacles=[*near, post("loose", 20, tolerance=20)]))
    assert rows(lines) == ["p0", "p1", "p2", "p3", "loose"]
    assert lines[0].startswith("TIGHT")
    assert "2 more, all kept" in " ".join(" ".join(lines).split())


def test_the_numbers_are_in_the_unit_of_the_heading(tmp_path: Path) -> None:
    lines = told(tmp_path, vehicle(), "--units", "in")
    assert any(line.startswith("  closest approach, in ") for line in lines)
    gap = (RAIL - DIAMETER / 2 - 50) / 25.4
    assert row(lines, "rail")[1:4] == [f"{gap:.2f}", f"{gap + 50 / 25.4:.2f}", f"{5 / 25.4:.2f}"]
    assert row(lines, "rail")[-2:] == ["+1", "15/16"]  # 50 mm: 1.969 in


def test_a_solid_axle_tells_the_opposite_wheel_and_one_that_steers_the_angle(tmp_path: Path) -> None:
    heads = []
    for data in (vehicle(suspension={"kind": "solid_axle"}), steered()):
        (head,) = (line for line in told(tmp_path, data) if line.startswith("  closest approach, mm"))
        heads.append(head.split()[-1])
    assert heads == ["opposite", "steer"]


# ---------------------------------------------------------------- what is open


def test_every_check_is_counted_or_named(tmp_path: Path) -> None:
    profile = write_profile(tmp_path, vehicle())
    answer = run_json("check", profile, "--axle", "front")
    text = " ".join(run("check", profile).stdout.split())
    ground = [*answer["ground"]["checks"], answer["cover"]["check"], answer["removal"]["check"]]
    for name, checks in (("Bolt-on", answer["bolt_on"]), ("ground and bodywork", ground)):
        ok = [check["item"] for check in checks if check["status"] == "ok"]
        assert f"{name} {len(ok)} ok" in text
        assert all(check["item"] in text for check in checks if check["status"] != "ok")
    assert "studs, nuts, wheel load: ask the seller (`fitment order` has the questions)" in text


def test_what_fails_is_told_with_its_reason(tmp_path: Path) -> None:
    lines = told(tmp_path, vehicle(), "--wheel", "17x8 ET0 5x120 CB67.1")
    assert lines[0].startswith("DOES NOT BOLT ON")
    assert "  fail        bolt circle: the wheel has 5x120 mm, the hub 5x114.3 mm: 5.70 mm apart" in lines
    assert lines[-1] == "DOES NOT BOLT ON  front, build measured: bolt circle"


def test_a_part_that_was_not_checked_is_named(tmp_path: Path) -> None:
    data = vehicle()
    data["axles"]["front"]["obstacles"].append(
        {"name": "arm", "shape": "edge", "fixed_to": "upper_arm", "points": [[0, 700, 50], [0, 740, 60]]}
    )
    lines = told(tmp_path, data)
    assert any(line.startswith("  not checked ") and "arm" in line for line in lines)


def test_what_the_full_text_has_more_is_counted(tmp_path: Path) -> None:
    data = vehicle()
    del data["axles"]["front"]["obstacles"][0]["tolerance"]
    profile = write_profile(tmp_path, data)
    answer = run_json("check", profile, "--axle", "front")
    assumed = sum(words.startswith("assumed: ") for words in answer["cautions"])
    words = (
        f"{len(answer['cautions']) - assumed} cautions, {assumed} assumptions, 1 part with the usual tolerance: --full"
    )
    text = " ".join(run("check", profile).stdout.split())
    assert words in text
    full = run("check", profile, "--full").stdout
    assert full.split("\nAssumed (")[1].count("\n  - ") == assumed


# ---------------------------------------------------------------- the last lines


def two_axles(gap: float) -> dict[str, Any]:
    """A front that clears and a rear with a post at a gap from the tire [mm]."""
    data = vehicle()
    data["axles"]["rear"] = posts(strut=gap, frame=-350)["axles"]["front"]
    for build in data["builds"].values():
        build["rear"] = build["front"]
    return data


def test_the_verdict_stands_last_again(tmp_path: Path) -> None:
    lines = told(tmp_path, vehicle())
    assert lines[-1] == "CLEARS  front, build measured: tightest tire to post, 25.0 mm; 5.0 mm required"
    assert " ".join(" ".join(lines[-3:-1]).split()).startswith(DRIVE)
    lines = told(tmp_path, posts(strut=-3))
    assert lines[-1] == "TOUCHES  front, build measured: tire overlaps strut by 3.0 mm"


def test_of_two_axles_the_last_line_has_both_verdicts(tmp_path: Path) -> None:
    lines = told(tmp_path, two_axles(-3))
    assert lines[-1] == "Verdict: front CLEARS; rear TOUCHES (tire, strut)"
    assert "\n".join(lines).count("Before driving") == 1


def test_a_reading_that_is_likely_a_slip_stands_before_what_limits(tmp_path: Path) -> None:
    """A lip 100 mm outside the hub face whose `measured_from` was forgotten lies at the middle of the vehicle."""
    lip = {"name": "lip", "shape": "edge", "points": [[-300, 100, 300], [0, 100, 400], [300, 100, 300]]}
    data = steered(obstacles=[post("post", 40), lip, post("frame", -2 * WIDTH)])
    bench_setup(data)["tire"] = {"code": "225/45R17 94W XL", "shoulder": "usual", "rim_protector": False}
    path = write_profile(tmp_path, data)
    lines = run("check", path).stdout.splitlines()
    assert lines[0].startswith("CLEARS")
    start = next(i for i, line in enumerate(lines) if line.startswith("  Look at this first: "))
    assert start < next(i for i, line in enumerate(lines) if "tightest" in line)
    doubt = "lip: every point lies within 150 mm of the vehicle's centre plane"
    assert doubt in " ".join(" ".join(lines[start : start + 3]).split())
    rows_ = tmp_path / "list.csv"
    rows_.write_text("wheel,tire\n17x8 ET0 5x114.3 CB67.1,225/45R17 94W XL\n")
    for command in (("window",), ("order",), ("next",), ("screen", str(rows_), "--format", "text")):
        shown = run(command[0], path, *command[1:], "--axle", "front").stdout
        assert doubt in " ".join(shown.split()), command
    data["axles"]["front"]["obstacles"][1]["measured_from"] = "hub_face"
    assert "Look at this first" not in run("check", write_profile(tmp_path, data)).stdout


@pytest.mark.parametrize(("side", "gap"), [("outboard", 40.0), ("inboard", -2 * WIDTH)])
def test_a_side_of_the_wheel_where_nothing_was_measured_is_said_first(tmp_path: Path, side: str, gap: float) -> None:
    """One post on one side clears whatever stands on the other; a caliper, which turns with the hub, is on neither."""
    caliper = {"name": "caliper", "shape": "ring", "outline": [[-80, 100], [-80, 150], [-40, 150], [-40, 100]]}
    other = {"outboard": "inboard", "inboard": "outboard"}[side]
    answer = " ".join(told(tmp_path, steered(obstacles=[post("post", gap), caliper])))
    assert f"no part {other} of the tire was measured" in answer
    assert f"no part {side} of the tire was measured" not in answer
    for command in ("order", "window", "next"):
        shown = run(command, write_profile(tmp_path, steered(obstacles=[post("post", gap)])), "--axle", "front").stdout
        assert f"no part {other} of the tire was measured" in " ".join(shown.split()), command


def test_with_a_file_the_verdict_is_enough(tmp_path: Path) -> None:
    profile, out = write_profile(tmp_path, two_axles(2)), str(tmp_path / "answer.json")
    done = run("check", profile, "--out", out)
    front = f"CLEARS  front, build measured: tightest tire to post, 25.0 mm; 5.0 mm required\n  {STRAIGHT}"
    assert done.stdout == front + "TIGHT  rear, build measured: tightest tire to strut, 2.0 mm; 5.0 mm required\n"
    assert done.stderr == f"wrote {out}\n"
    compared = run("compare", profile, "measured", "lowered", "--out", out)
    assert [line.split(":")[0] for line in compared.stdout.splitlines() if not line.startswith(" ")] == [
        "CLEARS  front, build lowered",
        "TIGHT  rear, build lowered",
    ]
    assert run("check", profile, "--out", out, "--full").stdout == run("check", profile, "--full").stdout
    assert "What would make it clear" in run("check", profile, "--out", out, "--changes").stdout


def test_with_a_file_a_reading_that_must_be_wrong_is_said(tmp_path: Path) -> None:
    done = run("check", write_profile(tmp_path, posts(strut=-3)), "--out", str(tmp_path / "answer.json"))
    assert "Measure again: as measured, the baseline itself overlaps strut at rest (front axle)." in done.stdout


# ---------------------------------------------------------------- compare, changes, Python


def test_a_deep_overlap_before_is_told_no_finer_than_one_now(tmp_path: Path) -> None:
    """A post 60 mm inside the tire's outer side, and in the build named "lowered" the same; depths are rough there."""
    lines = run("compare", write_profile(tmp_path, posts(post=-60)), "measured", "lowered").stdout.splitlines()
    assert row(lines, "post")[:5] == ["below", "-20", "overlap", "below", "-20"]


def test_compare_tells_both_verdicts_what_moved_most_and_what_limits_the_new(tmp_path: Path) -> None:
    """Half an inch further out and 30 lower: the post's 25 become 12.3; track grows by an inch."""
    data = vehicle()
    bench_setup(data, "lowered")["wheel"] = "17x8 ET-12.7 5x114.3 CB67.1"
    lines = run("compare", write_profile(tmp_path, data), "measured", "lowered").stdout.splitlines()
    assert lines[0] == "CLEARS  front: measured -> lowered"
    assert any(line.startswith("  old  CLEARS  measured: ") for line in lines)
    assert any(line.startswith("  new  CLEARS  lowered: ") for line in lines)
    start = next(i for i, line in enumerate(lines) if line.startswith("  what moved most, at rest"))
    moved = lines[start + 1 : lines.index("", start)]
    assert moved[0].split()[-4:] == ["30", "mm", "+30", "mm"]
    assert [line.split("  ")[1] for line in moved][-2:] == ["track at the ground", "hub above ground"] or len(
        moved
    ) == 5
    gap = POST - HUB_FACE - WIDTH / 2
    assert row(lines, "post")[:3] == [f"{gap:.1f}", "#######", f"{gap - 12.7:.1f}"]
    assert lines[-1] == "CLEARS  front, build lowered: tightest tire to post, 12.3 mm; 5.0 mm required"


def test_the_best_changes_are_told_and_how_many_more(tmp_path: Path) -> None:
    profile = write_profile(tmp_path, posts(strut=-3, horn=-2))
    count = len(run_json("check", profile, "--axle", "front", "--changes")["changes"])
    text = run("check", profile, "--changes").stdout
    told = text.split("What would make it clear")[1]
    assert told.count("\n  * ") == 3 < count
    assert f"{count - 3} more, and what comes with each and what to mind: --full" in " ".join(told.split())
    assert text.splitlines()[-1].startswith("TOUCHES  front")


def test_where_no_change_helps_nothing_is_counted_on(tmp_path: Path) -> None:
    answer = fitment.check(write_profile(tmp_path, posts(strut=-3, horn=-2)), "front", changes=True)
    in_vain = [change for change in answer.asides[0].changes or () if change.achieves == "nothing"]
    assert in_vain
    told = best_changes_text(answer.cases[0], in_vain)
    assert "What was tried, and how far each misses: --full" in told
    assert "more, and" not in told


def test_python_has_both_texts(tmp_path: Path) -> None:
    profile = write_profile(tmp_path, vehicle())
    for ask in (
        lambda **how: fitment.check(profile, **how),
        lambda **how: fitment.compare(profile, "measured", "lowered", **how),
    ):
        short, full = ask(), ask(full=True)
        assert full.text == short.full_text == full.full_text
        assert len(short.text) < len(full.text) / 2
        assert short.json == full.json


@pytest.mark.parametrize("columns", [60, 80])
def test_a_narrow_terminal_folds_no_row(columns: int, tmp_path: Path) -> None:
    data = vehicle(suspension={"kind": "solid_axle"})
    data["axles"]["front"]["obstacles"][0]["name"] = "post beside the tire"
    found = fitment.check(write_profile(tmp_path, data))
    with laid_out(columns):
        lines = found.text.splitlines()
    assert max(map(len, lines)) <= columns
    start = next(i for i, line in enumerate(lines) if line.startswith("  closest approach, mm"))
    table = lines[start : start + 5]
    assert len({len(line) for line in table}) == 1
    assert {"clearance", "required", "worst"} < set(table[0].split())
    note = lines[start + 5].strip()
    assert ("opposite" in table[0]) != note.startswith(f"Left out at {columns} columns: opposite")


@pytest.mark.slow
@pytest.mark.parametrize("name", ["wagon", "pickup", "coupe", "example"])
def test_an_axle_takes_about_twenty_lines(name: str) -> None:
    """Every build of every vehicle; most of what is more are checks that are not ok, which are never left out."""
    for build in fitment.load_profile(name).build_names:
        found = fitment.check(name, build=build)
        lines = found.text.splitlines()
        assert len(lines) <= 31 * len(found.cases) + 4, (build, len(lines))
        assert len(found.full_text.splitlines()) > 2 * len(lines)
