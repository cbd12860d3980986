"""An axle whose right side differs: both corners, each held against a vehicle that has its readings on both sides.

The reference is the program's own answer for a symmetric vehicle, which the other tests hold against a mesh library;
what is new here, which reading counts on which side, is checked by exchanging the sides.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import yaml
from conftest import HUB_FACE, bench_setup, run, run_json, steered, vehicle, write_profile

import fitment
from fitment.answers.handover import best_changes
from fitment.answers.pose_table import tabulate_poses
from fitment.checks.case import ready
from fitment.draw.layouts import picture
from fitment.draw.movie import legs
from fitment.errors import ProfileError
from fitment.page.first_screen import fit_words
from fitment.profile import axle, loads_profile

LIP = {"name": "lip", "shape": "edge", "radius": 2, "fixed_to": "body"}


def lip(out: float, up: float = 380.0) -> dict[str, Any]:
    return LIP | {"points": [[-200, HUB_FACE + out, up], [200, HUB_FACE + out, up]]}


def loaded(data: dict[str, Any]) -> Any:
    return loads_profile(json.dumps(data))


def two_sided(right: dict[str, Any], **front: Any) -> dict[str, Any]:
    data = steered(obstacles=[lip(60)], **front)
    data["axles"]["front"]["right"] = right
    return data


def of_corner(data: Any, corner: str) -> Any:
    return data if data["corner"] == corner else data["other_corner"]


def without_names(data: dict[str, Any]) -> list[tuple[Any, ...]]:
    return sorted(
        (c["obstacle"], c["part"], c["travel_mm"], c["clearance_mm"], c["worst_case_mm"]) for c in data["clearances"]
    )


@pytest.mark.parametrize(
    "right",
    [
        {"obstacles": {"lip": lip(52, 376)}},
        {"hub_face_at": [0, HUB_FACE - 12, 0]},
        {"suspension": {"camber": -1.5}},
        {"obstacles": [{"name": "hose", "shape": "ball", "radius": 10, "at": [0, HUB_FACE - 150, 330]}]},
        {"obstacles": {"lip": None}},
    ],
    ids=["lip", "hub face", "camber", "a part more", "a part less"],
)
def test_each_corner_is_that_of_a_vehicle_with_its_readings_on_both_sides(right: dict[str, Any]) -> None:
    data = two_sided(right)
    plain = steered(obstacles=[lip(60)])
    mirrored = steered(obstacles=[lip(60)])
    mirrored["builds"]["all"] = {"front": bench_setup(mirrored) | right}
    mirrored["baseline"] = "all"
    both = fitment.check(loaded(data), "front").data
    assert without_names(of_corner(both, "left")) == without_names(fitment.check(loaded(plain), "front").data)
    assert without_names(of_corner(both, "right")) == without_names(fitment.check(loaded(mirrored), "front").data)
    for side in ("left", "right"):
        assert {c["corner"] for c in of_corner(both, side)["clearances"]} <= {side}


def test_the_tighter_corner_comes_first_and_is_named(tmp_path: Path) -> None:
    profile = write_profile(tmp_path, two_sided({"obstacles": {"lip": lip(20, 345)}}))
    found = fitment.check(profile, "front")
    assert found.axles == ("front right", "front left")
    text = run("check", profile, "--axle", "front").output
    assert text.index("front right, build") < text.index("front left\n")
    assert "Verdict: front right" in text
    other = write_profile(tmp_path, two_sided({"obstacles": {"lip": lip(120, 420)}}), "other.yaml")
    assert fitment.check(other, "front").axles == ("front left", "front right")


def test_a_right_wheel_turns_to_the_side_that_a_person_sees() -> None:
    """A part ahead of the right wheel and outboard: in a mirror it is where a left wheel comes to at left lock."""
    ahead = {"name": "bumper", "shape": "ball", "radius": 5, "at": [270, HUB_FACE + 190, 0]}
    data = two_sided({"obstacles": [ahead]})
    plain = steered(obstacles=[lip(60), ahead])
    left = fitment.check(loaded(plain), "front").data
    right = of_corner(fitment.check(loaded(data), "front").data, "right")

    def closest(found: Any) -> Any:
        return min((c for c in found["clearances"] if c["obstacle"] == "bumper"), key=lambda c: c["clearance_mm"])

    assert closest(left)["steer_deg"] > 10  # the front of a left wheel comes out when it turns to the left
    assert closest(right)["steer_deg"] == pytest.approx(-closest(left)["steer_deg"])
    assert closest(right)["clearance_mm"] == pytest.approx(closest(left)["clearance_mm"])


def test_one_corner_is_asked_for_alone_and_answered_as_beside_the_other(tmp_path: Path) -> None:
    """Its answer is that of both less the other corner: the track is between both, what differs is told."""
    profile = write_profile(tmp_path, two_sided({"hub_face_at": [0, HUB_FACE - 12, 0]}))
    both = run_json("check", profile, "--axle", "front")
    for side in ("left", "right"):
        own = run_json("check", profile, "--axle", f"front-{side}")
        expected = {key: value for key, value in of_corner(both, side).items() if key != "other_corner"}
        assert own == expected
        assert run_json("check", profile, "--axle", f"front {side}") == own
        words = run("check", profile, "--axle", f"front-{side}").output
        assert "the axle stands 6.0 mm to the left" in words
        other = {"left": "right", "right": "left"}[side]
        assert not [line for line in words.splitlines() if line.startswith(("CLEARS", "TIGHT")) and other in line]
        (window,) = fitment.window(profile, f"front {side}").data
        assert window["corner"] == side
        rows = [{"wheel": "17x8 ET20 5x114.3 CB70.6", "tire": "225/45R17 94W XL"}]
        (row,) = fitment.screen(profile, rows, f"front {side}").data
        checked = fitment.check(profile, f"front {side}", wheel=rows[0]["wheel"], tire=rows[0]["tire"])
        assert row["verdict"] == checked.verdict


@pytest.mark.parametrize("command", ["check", "window", "next", "poses", "align", "show", "order"])
def test_a_side_of_an_axle_whose_sides_are_alike_is_that_axle(command: str, tmp_path: Path) -> None:
    profile = write_profile(tmp_path, steered(obstacles=[lip(60)]))
    plain, side = (run(command, profile, "--axle", axle) for axle in ("front", "front-right"))
    assert side.stdout == plain.stdout
    assert side.exit_code == plain.exit_code
    assert side.stderr == plain.stderr + (
        "note: left and right of the front axle are alike in this profile: this is for both.\n"
    )
    assert run(command, profile, "--axle", "front-middle").exit_code == 2


def test_the_track_is_between_both_contacts() -> None:
    """Geometry: with the right hub face 12 mm farther in, 12 mm less than that of a vehicle alike on both sides."""
    both = fitment.check(loaded(two_sided({"hub_face_at": [0, HUB_FACE - 12, 0]})), "front").data
    plain = fitment.check(loaded(steered(obstacles=[lip(60)])), "front").data
    assert both["stance"]["track"] == pytest.approx(plain["stance"]["track"] - 12)
    assert both["other_corner"]["stance"]["track"] == pytest.approx(plain["stance"]["track"] - 12)


def test_what_differs_is_told_as_what_it_means() -> None:
    both = fitment.check(
        loaded(two_sided({"hub_face_at": [0, HUB_FACE - 12, 0], "obstacles": {"lip": lip(60, 376)}})), "front"
    ).data
    words = " ".join(both["sides_differ"])
    assert f"the axle stands 6.0 mm to the left: hub face to centre line {HUB_FACE:.1f} mm left" in words
    assert "lip: on the right 12.0 mm farther out against the hub face and 4.0 mm lower over the hub" in words


def test_the_whole_text_says_too_how_the_sides_differ() -> None:
    text = " ".join(run("check", "coupe", "--build", "fast_road", "--axle", "front", "--full").stdout.split())
    assert "The sides differ camber differs by 0.30 deg: -0.60 deg left, -0.90 deg right" in text


def test_a_build_lays_its_own_right_over_that_of_the_axle() -> None:
    data = two_sided({"obstacles": {"lip": lip(52)}})
    data["builds"]["rolled"] = {"front": bench_setup(data) | {"right": {"obstacles": {"lip": lip(58)}, "spacer": 3}}}
    data["builds"]["wide"] = {"front": bench_setup(data) | {"obstacles": {"lip": lip(70)}}}
    read = loaded(data)

    def out(build: str, corner: str) -> float:
        return axle(read, corner, build).obstacles[0].points[0][1] - HUB_FACE

    assert [out("measured", side) for side in ("front left", "front right")] == [60, 52]
    assert [out("rolled", side) for side in ("front left", "front right")] == [60, 58]
    assert [out("wide", side) for side in ("front left", "front right")] == [70, 70]  # a build speaks of both sides
    spacers = [each["setup"]["spacer_mm"] for each in fitment.check(read, build="rolled").data]
    assert sorted(spacers) == [0, 3]


def test_a_list_and_a_window_hold_on_both_sides() -> None:
    data = two_sided({"obstacles": {"lip": lip(110, 325)}})
    data["axles"]["front"]["obstacles"][0] = lip(125, 325)
    data["axles"]["front"]["obstacles"].append(
        {"name": "strut", "shape": "rod", "radius": 20, "fixed_to": "body",
         "from": {"at": [0, HUB_FACE - 300, -200]}, "to": {"at": [0, HUB_FACE - 300, 300]}}
    )  # fmt: skip
    read = loaded(data)
    both, *own = fitment.window(read, "front").data
    assert both["corner"] == "both"
    assert [each["corner"] for each in own] == ["left", "right"]
    assert both["nominal_min_mm"] == max(each["nominal_min_mm"] for each in own)
    assert both["nominal_max_mm"] == min(each["nominal_max_mm"] for each in own)
    assert own[0]["nominal_min_mm"] != own[1]["nominal_min_mm"]
    rows = [{"wheel": f"17x8 ET{offset} 5x114.3 CB70.6", "tire": "225/45R17 94W XL"} for offset in range(20, 150, 15)]
    for row in fitment.screen(read, rows, "front").data:
        found = fitment.check(read, "front", wheel=row["wheel"], tire=row["tire"])
        if row["verdict"] in ("clears", "tight", "touches"):
            assert found.verdict == row["verdict"], row


@pytest.mark.parametrize(
    ("right", "said"),
    [
        ({"driven": True}, "driven is of the whole axle"),
        ({"lip": 3}, 'unknown key "lip"'),
        ({"obstacles": {"lop": None}}, 'no part "lop" to remove'),
        ({"obstacles": {"lop": {"radius": 5}}}, 'no part "lop" to change'),
        ({"camber": -1}, "write suspension: {camber: ...}"),
        ({"hub_face_at": [0, 5, 0]}, "hub_face_at"),
        (3, "stands where a map is expected"),
    ],
)
def test_mistakes_on_the_right_are_told_at_their_place(right: Any, said: str) -> None:
    with pytest.raises(ProfileError) as told:
        loaded(two_sided(right))
    assert said in str(told.value)
    assert "axles.front.right" in str(told.value)


def test_without_a_right_nothing_is_named() -> None:
    found = fitment.check(loaded(vehicle()), "front").data
    assert "corner" not in found
    assert "other_corner" not in found


def test_a_gap_read_on_the_right_is_at_the_lock_that_the_vehicle_has() -> None:
    """What a tape reads at the right wheel at right lock is in a mirror what it reads at a left wheel at left lock."""
    post = {"name": "post", "shape": "edge", "points": [[250, HUB_FACE - 250, 0], [250, HUB_FACE - 250, 60]]}

    def read_at(lock: str) -> dict[str, Any]:
        return post | {"measured_gap": {"to": "tire", "gap": 30, "at": {"lock": lock}}}

    right = fitment.check(loaded(two_sided({"obstacles": [read_at("right")]})), "front").data
    plain = fitment.check(loaded(steered(obstacles=[lip(60), read_at("left")])), "front").data
    other = fitment.check(loaded(steered(obstacles=[lip(60), read_at("right")])), "front").data

    def of(found: Any) -> list[float]:
        return sorted(c["clearance_mm"] for c in found["clearances"] if c["obstacle"] == "post")

    assert of(of_corner(right, "right")) == pytest.approx(of(plain))
    assert of(plain) != pytest.approx(of(other))


def test_a_part_labelled_for_one_side_counts_there_alone() -> None:
    data = two_sided({"obstacles": {"lip": lip(52)}})
    data["axles"]["front"]["obstacles"].append(
        {"name": "filler", "shape": "ball", "radius": 10, "side": "right", "at": [0, HUB_FACE - 150, 330]}
    )
    both = fitment.check(loaded(data), "front").data
    named = {side: {c["obstacle"] for c in of_corner(both, side)["clearances"]} for side in ("left", "right")}
    assert named == {"left": {"lip"}, "right": {"lip", "filler"}}


@pytest.mark.parametrize(
    "asked", [{"steers": [25.0, -12.0]}, {"racks": [30.0, -18.0]}, {}], ids=["steer", "rack", "grid"]
)
def test_a_table_of_poses_has_the_angles_of_the_vehicle_on_either_side(asked: dict[str, list[float]]) -> None:
    """In a mirror a wheel turned to the left is one turned to the right; readings are alike, so rows are too."""
    source = Path(__file__).parent.parent / "profiles" / "coupe.yaml"
    data = yaml.safe_load(source.read_text(encoding="utf-8"))
    data["axles"]["front"]["right"] = {"suspension": {"toe_in": 0.05}}  # as on the left
    read = loaded(data)
    mirrored = {key: [-value for value in values] for key, values in asked.items()}
    right = tabulate_poses(ready(read, "front right", "stock"), travels=[0.0, 40.0], **asked).rows
    left = tabulate_poses(ready(read, "front left", "stock"), travels=[0.0, 40.0], **mirrored).rows
    left = left if asked else (*reversed(left[: len(left) // 2]), *reversed(left[len(left) // 2 :]))
    assert len(right) == len(left) >= 4
    for one, other in zip(right, left, strict=True):
        assert (one.steer, one.rack) == pytest.approx((-other.steer, -other.rack))
        assert (one.toe_in, one.camber, one.caster) == pytest.approx((other.toe_in, other.camber, other.caster))
        assert one.toe_in == pytest.approx(one.steer)  # of a right wheel: turned to the left is front inboard
    if "steers" in asked:
        assert [row.steer for row in right] == pytest.approx([25, -12] * 2, abs=1e-6)


def test_a_change_that_helps_one_corner_says_what_it_does_to_the_other() -> None:
    """Strut close on the right, lip on the left: a change of both sides is held against a check made with it."""
    strut = {"name": "strut", "shape": "rod", "radius": 20, "from": {"at": [0, HUB_FACE - 150, -200]},
             "to": {"at": [0, HUB_FACE - 150, 300]}}  # fmt: skip
    data = two_sided({"obstacles": [lip(300, 500), strut]})
    data["axles"]["front"]["obstacles"] = [lip(60, 370)]
    read = loaded(data)
    found = fitment.check(read, "front", changes=True)
    said = set()
    for side, other in (("right", "left"), ("left", "right")):
        told = [change for change in of_corner(found.data, side)["changes"] if "other_corner" in change]
        said |= {(change["kind"], change["other_corner"]["verdict"]) for change in told}
        for change in told:
            options = {key.removeprefix("--"): value for key, value in change["apply"].items()}
            made = of_corner(fitment.check(read, "front", **options).data, other)
            assert change["other_corner"] == {"corner": other, "verdict": made["verdict"]}, change["what"]
    assert said >= {("offset", "tight"), ("offset", "touches"), ("spacer", "tight"), ("tire", "tight")}
    both = "It does not do for both sides: front left is TIGHT with it."
    assert both in " ".join(found.text.split())
    (page_case,) = (case for case in found.new if case.fit.axle.sides == ("right",))
    assert any(both in words for words in fit_words(page_case, best_changes(page_case, every_kind=False), "mm"))


def test_next_readings_of_a_right_corner_are_of_its_own_side() -> None:
    found = fitment.next_readings("coupe", "front", "fast_road").text
    right, left = found.split("What to measure next: front left")
    assert "the wheel's gap to the strut tube at left lock" in right  # in a mirror it is at right lock
    assert "the wheel's gap to the strut tube at right lock" in left
    assert "lock: left}" in right
    assert "it goes under `right`" in " ".join(right.split())
    assert "under `right`" not in left


def test_a_part_that_differs_on_the_right_does_not_lean_the_vehicle() -> None:
    """The rake at every named height is that of the vehicle without it: both corners of an axle go up and down."""

    def rakes(data: dict[str, Any]) -> list[float]:
        data["wheelbase"] = 2700
        data["axles"]["rear"] = steered(obstacles=[lip(60)])["axles"]["front"]
        data["builds"]["measured"]["rear"] = dict(data["builds"]["measured"]["front"])
        data["axles"]["front"]["ride_heights"] = {"level": 0, "low": 45}
        found = fitment.align(loaded(data), "front").data
        return [ride["caster_to_ground_deg"] for ride in found["rides"]]

    leaning = two_sided({"obstacles": {"lip": lip(52)}})
    on_the_rear = steered(obstacles=[lip(60)])
    plain = rakes(steered(obstacles=[lip(60)]))
    assert rakes(leaning) == pytest.approx(plain)
    assert len(set(plain)) > 1
    data = on_the_rear
    data["wheelbase"] = 2700
    data["axles"]["rear"] = two_sided({"obstacles": {"lip": lip(52)}})["axles"]["front"]
    data["builds"]["measured"]["rear"] = dict(data["builds"]["measured"]["front"])
    data["axles"]["front"]["ride_heights"] = {"level": 0, "low": 45}
    found = fitment.align(loaded(data), "front").data
    assert [ride["caster_to_ground_deg"] for ride in found["rides"]] == pytest.approx(plain)


def test_a_ride_height_that_is_wrong_on_the_right_alone_is_told_there() -> None:
    data = two_sided({"obstacles": {"lip": lip(52)}})
    bench_setup(data)["right"] = {"ride": "lowest"}
    with pytest.raises(ProfileError, match=r"builds\.measured\.front\.right\.ride"):
        loaded(data)


def test_another_setup_on_the_right_is_named(tmp_path: Path) -> None:
    data = two_sided({"obstacles": {"lip": lip(52)}})
    bench_setup(data)["right"] = {"spacer": 5}
    text = run("check", write_profile(tmp_path, data), "--axle", "front").output
    assert "spacer 5 mm" in text.partition("front left")[0]
    assert "front left: 17x8 ET0" in text


def test_where_it_rubs_is_told_by_the_lock_that_the_vehicle_has() -> None:
    """Alike on both sides but for a mass: what one corner tells of right lock the other one tells of left lock."""
    source = Path(__file__).parent.parent / "profiles" / "wagon.yaml"
    data = yaml.safe_load(source.read_text(encoding="utf-8"))
    data["axles"]["front"]["right"] = {"brake": {"rotor": {"mass": 9.0}}}
    found = fitment.check(loaded(data), "front", "wanted")
    told = {}
    for case in found.cases:
        told[case.fit.axle.sides[0]] = [
            (where.obstacle, where.part, [(region.travel, region.beside, region.ends) for region in where.regions])
            for where in case.where_short
        ]

    def as_in_a_mirror(rows: Any) -> Any:
        return [
            (name, part, [(travel, (-beside[1], -beside[0]), ends[::-1]) for travel, beside, ends in regions])
            for name, part, regions in rows
        ]

    def in_order(rows: Any) -> Any:
        return [(name, part, sorted(regions)) for name, part, regions in rows]

    assert in_order(told["right"]) == in_order(as_in_a_mirror(told["left"]))
    assert told["right"] != told["left"]


def test_locks_are_named_as_the_vehicle_has_them_in_pictures_and_film() -> None:
    data = two_sided({"obstacles": {"lip": lip(52)}})
    for case in fitment.check(loaded(data), "front").cases:
        titles = [title for title in texts(picture(case)) if "lock" in title and "," in title]
        assert [title.split(",")[0] for title in titles] == (
            ["Right lock", "Left lock"] if case.fit.axle.sides == ("right",) else ["Left lock", "Right lock"]
        )
        ends = {leg.end: leg.places[-1][1] for leg in legs(case) if "lock" in leg.end}
        outward = -1.0 if case.fit.axle.sides == ("right",) else 1.0
        assert ends == {"left lock": outward, "right lock": -outward}


def texts(figure: Any) -> list[str]:
    return [text.get_text() for ax in figure.axes for text in ax.texts]


def test_what_is_open_at_the_other_corner_alone_is_told_there(tmp_path: Path) -> None:
    """A part that overlaps the baseline itself at rest on the left alone; the right overlaps deeper and is first."""
    data = two_sided({"obstacles": {"lip": lip(20, 330)}})
    data["axles"]["front"]["obstacles"].append(
        {"name": "pipe", "shape": "ball", "radius": 5, "side": "left", "at": [0, HUB_FACE - 112, 230]}
    )
    text = run("check", write_profile(tmp_path, data), "--axle", "front").output
    first, second = text.split("\n\nTOUCHES  front left")
    assert "Measure again" in second
    assert "pipe" in second.partition("tire")[0]
    assert "pipe" not in first


def test_an_axle_whose_sides_differ_is_driven_as_one() -> None:
    """A driveline joins axles, not corners."""
    answer = run_json("check", "pickup", "--build", "swapped")[1]
    (told,) = [check["detail"] for check in answer["bolt_on"] if check["item"] == "front and rear diameter"]
    assert "Only the rear axle is driven" in told
