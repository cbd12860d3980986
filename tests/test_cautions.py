"""What to mind with a build: every line with the build that has its cause, and none without.

Limits are common practice, no published source; the numbers are worked on the bench vehicle, which neither cambers nor
steers unless a test says so: the load's lever about the hub face is spacer - ET.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from conftest import POST, bench_setup, run, steered, vehicle, write_profile

Check = Callable[..., dict[str, Any]]
SPEC = "17x8 ET{} 5x114.3 CB67.1"
ADAPTER = {"thickness": 25, "bolt_circle": "5x120", "stud": "M12x1.5", "stud_length": 40, "register": 67.1}
BRAKE = {"rotor": {"diameter": 300}}
POINTS = [[0, POST + 10, -450], [0, POST + 10, 450]]
STARTS = (
    "nuts:", "load:", "before ordering:", "spacer:", "adapter:", "closed nuts:", "other ", "lowered ", "raised ",
    "wheel load", "scrub radius", "wheel: its load rating", "post", "liner", "strap",
)  # fmt: skip


def told(answer: dict[str, Any]) -> list[str]:
    """The lines that this file is about."""
    return [words for words in answer["cautions"] if re.match("|".join(STARTS), words)]


def with_build(data: dict[str, Any], **build: Any) -> dict[str, Any]:
    """The vehicle with one build that has its baseline's wheel and tire at its height, and what is given."""
    data["builds"]["new"] = {"front": bench_setup(data) | build}
    return data


def driven(**front: Any) -> dict[str, Any]:
    return vehicle(driven=True, **front)


def on_wheel(offset: float, **more: Any) -> dict[str, Any]:
    return {"wheel": {"spec": SPEC.format(offset), "load_rating": 700} | more}


def hub(**changed: Any) -> dict[str, Any]:
    return {"hub": changed}


WITH = [  # (vehicle, its build, start of the line, what it must hold)
    (vehicle, {"spacer": 5}, "spacer:", "never stacked.*local law"),
    (vehicle, {"spacer": ADAPTER}, "adapter:", "never stacked.*local law"),
    (vehicle, {"spacer": ADAPTER}, "adapter: tighten its nuts on the hub", "again after 50 to 100 km"),
    (vehicle, {"spacer": 5}, "closed nuts:", "longer studs.*bottom"),
    (vehicle, hub(stud_length=40.1), "closed nuts:", "bottom before they clamp"),  # 40 were measured
    (vehicle, {"spacer": ADAPTER | {"stud_length": 41}}, "closed nuts:", "bottom"),
    (vehicle, {"brake": BRAKE}, "other brakes: balance", "front to rear, master cylinder and parking brake"),
    (vehicle, {"brake": BRAKE}, "other brakes: brake hose", "sensor wire.*full droop$"),
    (steered, {"brake": BRAKE}, "other brakes: brake hose", "sensor wire.*full droop and both locks"),
    (vehicle, hub(bolt_circle="5x120"), "other hub:", "hose and sensor wire"),
    (vehicle, {"suspension": {"kind": "solid_axle"}}, "other arms:", "hose and sensor wire"),
    (vehicle, {"ride": 10}, "lowered 10 mm:", "check hose slack, alignment, lamp aim, sensors, load-sensing valve"),
    (driven, {"ride": 10}, "lowered 10 mm:", "driveshaft and hose slack"),
    (vehicle, {"ride": -10}, "raised 10 mm:", "hose slack"),
    (vehicle, on_wheel(-20), "wheel load 20.0 mm further out", "bearing.*mentioned from 20 mm on: common practice"),
    (vehicle, {"spacer": 20}, "wheel load 20.0 mm further out", "bearing"),
    # the axis stands upright 50 inboard of the hub face: 50 before, 60 after
    (steered, on_wheel(-10), "scrub radius 60.0 mm, before 50.0 mm", "braking.*from 10 mm of change on: common pract"),
    (steered, on_wheel(10), "scrub radius 40.0 mm, before 50.0 mm", "pull under"),
    (vehicle, {"wheel": SPEC.format(5)}, "wheel: its load rating", "no wheel without a marked one"),
    (vehicle, {"obstacles": {"post": {"points": POINTS}}}, "post trimmed", "lines, wiring and seam welds.*keep the li"),
    (vehicle, {"obstacles": {"post": None, "rail": None}}, "post, rail trimmed", "carries load"),
    (vehicle, on_wheel(1), "nuts:", "clean, dry faces; tighten crosswise with a torque wrench.*again after 50 to"),
    (vehicle, {"brake": BRAKE}, "nuts:", "torque wrench"),  # the wheel comes off
    (vehicle, on_wheel(1), "load:", "no margin for cornering, braking or towing"),
    (vehicle, {"tire": "225/45R17 94W"}, "load:", "half the axle load at rest"),
    (vehicle, on_wheel(1), "before ordering:", "insurer and the inspection"),
    (vehicle, {"ride": 10}, "before ordering:", "insurer"),
]  # fmt: skip
WITHOUT = [  # (vehicle, its build, start of a line that must not be there)
    (vehicle, {"spacer": ADAPTER}, "spacer:"),
    (vehicle, {"spacer": ADAPTER}, "closed nuts:"),  # its studs are as long as the hub's
    (vehicle, {"spacer": 5}, "adapter:"),
    (vehicle, hub(stud_length=39), "closed nuts:"),
    (vehicle, hub(stud_length=50), "other "),  # longer studs are not another hub
    (vehicle, hub(bolt_circle="5x120"), "other hub, brakes|other brakes"),
    (vehicle, {"ride": 9.9}, "lowered "),
    (vehicle, {"ride": 10}, "lowered 10 mm:.*driveshaft"),
    (vehicle, {"ride": 10}, "nuts:"),
    (vehicle, {"ride": 10}, "load:"),
    (vehicle, on_wheel(-19.9), "wheel load"),
    (vehicle, on_wheel(20), "wheel load"),  # further in
    (steered, on_wheel(-9.9), "scrub radius"),
    (vehicle, on_wheel(-30), "scrub radius"),  # an axle that does not steer
    (vehicle, on_wheel(5), "wheel: its load rating"),
    (vehicle, {"obstacles": {"post": {"allowance": 9}}}, "post"),
    (vehicle, {"tire": "225/45R17 94W"}, "nuts:"),
    (lambda: vehicle(axle_load=None), on_wheel(1), "load:"),
]


@pytest.mark.parametrize(
    ("make", "build", "start", "words"), WITH, ids=[f"{i}-{each[2]}" for i, each in enumerate(WITH)]
)
def test_a_build_with_the_cause_has_the_line(
    check: Check, make: Callable[[], dict[str, Any]], build: dict[str, Any], start: str, words: str
) -> None:
    lines = [line for line in told(check(with_build(make(), **build), "--build", "new")) if line.startswith(start)]
    assert len(lines) >= 1, start
    assert re.search(words, lines[0]), lines[0]


@pytest.mark.parametrize(("make", "build", "start"), WITHOUT, ids=[f"{i}-{e[2]}" for i, e in enumerate(WITHOUT)])
def test_a_build_without_the_cause_has_not(
    check: Check, make: Callable[[], dict[str, Any]], build: dict[str, Any], start: str
) -> None:
    lines = told(check(with_build(make(), **build), "--build", "new"))
    assert not [line for line in lines if re.match(start, line)]


@pytest.mark.parametrize("make", [vehicle, steered, driven], ids=["plain", "steered", "driven"])
def test_the_vehicle_as_it_was_measured_causes_nothing(check: Check, make: Callable[[], dict[str, Any]]) -> None:
    assert told(check(make())) == []
    assert told(check(with_build(make()), "--build", "new")) == []


def test_a_part_slid_by_its_measured_gap_was_not_moved(check: Check) -> None:
    """The gap was 25 (conftest), read as 20: the post stands 5 further in, in every build; its rod is no bodywork."""
    rod = {"shape": "rod", "from": {"at": [0, 400, 0]}, "to": {"at": [0, 500, 0]}, "fixed_to": "body"}
    parts = [
        {"name": "post", "shape": "edge", "points": [[0, POST, -450], [0, POST, 450]],
         "measured_gap": {"to": "tire", "gap": 20}},
        {"name": "strap", **rod},
    ]  # fmt: skip
    data = with_build(vehicle(obstacles=parts), **on_wheel(1), obstacles={"strap": None})
    assert not [line for line in told(check(data, "--build", "new")) if "trimmed" in line]
    data["builds"]["new"]["front"]["obstacles"] = {"post": {"measured_gap": {"to": "tire", "gap": 30}}}
    assert [line for line in told(check(data, "--build", "new")) if line.startswith("post trimmed")]


def test_what_is_typed_on_the_command_line_counts(check: Check) -> None:
    assert [line for line in told(check(vehicle(), "--spacer", "5")) if line.startswith("spacer:")]


def every_cause() -> dict[str, Any]:
    """The vehicle with a build that has as many causes as one can."""
    return with_build(
        steered(driven=True), wheel=SPEC.format(-20), spacer=ADAPTER | {"stud_length": 50}, brake=BRAKE, ride=40,
        suspension={"camber": -1}, obstacles={"post": {"points": POINTS}},
        hub={"wheel_register": {"diameter": 70}},
    )  # fmt: skip


def test_a_line_each_and_no_wall_of_text(tmp_path: Path) -> None:
    """Every line fits on one or, where it tells its limit and the source, two lines of the terminal."""
    text = run("check", write_profile(tmp_path, every_cause()), "--build", "new", "--full").stdout
    block = text.split("\nWith this build\n")[1].split("\n\n")[0]
    entries = re.split(r"\n?  - ", block)[1:]
    assert len(entries) >= 9
    for entry in entries:
        assert len(entry.splitlines()) <= (2 if "common practice" in entry or "trimmed" in entry else 1), entry
    assert all(len(line) <= 100 for line in block.splitlines())


def test_the_standing_ones_are_told_once_for_the_vehicle(tmp_path: Path) -> None:
    data = vehicle()
    data["axles"]["rear"] = vehicle()["axles"]["front"]
    for build in data["builds"].values():
        build["rear"] = dict(build["front"])
    for axle in ("front", "rear"):
        data["builds"]["lowered"][axle]["wheel"] = SPEC.format(1)
    path = write_profile(tmp_path, data)
    for command in (["check", path, "--build", "lowered"], ["compare", path, "measured", "lowered"]):
        text = run(*command, "--full").stdout
        for start in ("nuts: clean", "load: the load", "before ordering: "):
            assert text.count(f"  - {start}") == 1, (command, start)
        assert text.count("  - lowered 30 mm") == 2, "what an axle causes is told with it"
    assert run("check", path, "--full").stdout.count("  - nuts: ") == 0


def test_units(tmp_path: Path) -> None:
    """20 mm are 0.79 in, 12.7 mm half an inch."""
    data = with_build(vehicle(), **on_wheel(-20), ride=12.7)
    text = " ".join(
        run("check", write_profile(tmp_path, data), "--build", "new", "--units", "in", "--full").stdout.split()
    )
    assert "lowered 0.50 in:" in text
    assert "wheel load 0.79 in further out" in text


def test_the_page_has_them_too(tmp_path: Path) -> None:
    data, out = with_build(vehicle(), **on_wheel(-20)), tmp_path / "page.html"
    run("report", write_profile(tmp_path, data), "measured", "new", "--out", str(out))
    text = out.read_text(encoding="utf-8")
    body = text[: text.index('id="numbers"')]
    assert body.count("<li>wheel load 20.0 mm further out") == 1
    assert body.index("With this build") < body.index("<li>wheel load 20.0 mm further out")
    assert body.count("<li>nuts: clean, dry faces") == 1
