"""Several changes together: every set that is told holds when it is made, and each of its changes is needed."""

from __future__ import annotations

import copy
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

import fitment
from fitment.answers.changes.record import Sets
from fitment.answers.changes.sets import SetStep, _Search, easiest_sets, serving_alone
from fitment.answers.changes.usable import ROLLED
from fitment.profile import loads_profile
from fitment.profile.resolve import bundled_folder
from fitment.report.change_sets import sets_text

SETUP = {"--wheel": "wheel", "--tire": "tire", "--spacer": "spacer", "--ride": "ride"}
WANTED = ("wagon", "front", "wanted"), ("wagon", "rear", "wanted")
STANCE = ("coupe", "rear", "stance")


@cache
def _found(vehicle: str, axle: str, build: str) -> Any:
    return fitment.check(vehicle, axle, build, changes=True).data["change_sets"]


def _made(vehicle: str, axle: str, build: str, apply: dict[str, Any]) -> Any:
    """The bundled profile with a build that has the changes, written as a user would."""
    data = yaml.safe_load((Path(bundled_folder()) / f"{vehicle}.yaml").read_text())
    made = copy.deepcopy(data["builds"][build])
    for key, value in apply.items():
        head, _, rest = SETUP.get(key, key).partition(".")
        if key == "--settings":
            continue
        if rest:
            made[axle].setdefault(head, {})[rest] = value
        else:
            made[axle][head] = value
    data["builds"]["made"] = made
    return loads_profile(yaml.safe_dump(data, sort_keys=False), f"{vehicle}.yaml")


@pytest.mark.slow
@pytest.mark.parametrize("which", [*WANTED, STANCE])
def test_every_set_holds_when_it_is_made(which: tuple[str, str, str]) -> None:
    vehicle, axle, build = which
    sets = _found(*which)
    assert sets["found"]
    for each in sets["found"]:
        assert 2 <= len(each["changes"]) <= 3
        made = _made(vehicle, axle, build, yaml.safe_load(yaml.safe_dump(_plain(each["apply"]))))
        again = fitment.check(made, axle, "made", settings=each["apply"].get("--settings"))
        assert min(entry["margin_mm"] for entry in again.data["clearances"]) >= 0
        assert min(entry["worst_case_mm"] for entry in again.data["clearances"]) >= 0
        assert again.data["worst"]["margin_mm"] == pytest.approx(each["worst"]["margin_mm"], abs=0.01)


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(each) for key, each in value.items()}
    return [_plain(each) for each in value] if isinstance(value, list | tuple) else value


@pytest.mark.slow
@pytest.mark.parametrize("which", [*WANTED, STANCE])
def test_none_of_the_changes_can_be_left_out(which: tuple[str, str, str]) -> None:
    for each in _found(*which)["found"]:
        for change in each["changes"]:
            lacks = change["without_it"]
            assert lacks["worst"] is None or min(lacks["worst"]["margin_mm"], lacks["worst"]["worst_case_mm"]) < 0


@pytest.mark.slow
def test_smaller_sets_come_first_and_checks_are_few() -> None:
    for which in (*WANTED, STANCE):
        sets = _found(*which)
        sizes = [len(each["changes"]) for each in sets["found"]]
        assert sizes == sorted(sizes)
        assert sets["checked"] <= 40


@pytest.mark.slow
def test_a_change_that_is_told_to_lack_something_lacks_it() -> None:
    """Held against a check of a profile that has the others of the set alone."""
    first = _found("wagon", "rear", "wanted")["found"][0]
    kinds = [change["kind"] for change in first["changes"]]
    assert sorted(kinds) == ["offset", "tire"]
    for change in first["changes"]:
        others = {key: value for key, value in first["apply"].items() if key not in change["apply"]}
        again = fitment.check(_made("wagon", "rear", "wanted", others), "rear", "made").data["worst"]
        told = change["without_it"]["worst"]
        assert (again["obstacle"], again["part"]) == (told["obstacle"], told["part"])
        assert again["clearance_mm"] == pytest.approx(
            told["clearance_mm"], abs=0.5 if again["clearance_mm"] < 0 else 0.01
        )


def test_an_eccentric_is_turned_before_a_fender_is_cut() -> None:
    search = _Search(fitment.check("coupe", "rear", "stance").cases[0], None)
    camber = search._key((SetStep("camber", -2.5), SetStep("offset", 30.0)))
    cut = search._key((SetStep("part", 1.0, "quarter lip", "up"), SetStep("offset", 23.0)))
    three = search._key((SetStep("camber", -1.6), SetStep("offset", 23.0), SetStep("tire", "275/30R19")))
    assert camber < cut < three
    assert search._key((SetStep("camber", -3.2), SetStep("offset", 30.0))) > cut  # so much wears one edge: hard


@pytest.mark.slow
def test_what_blocks_is_named_where_no_set_serves() -> None:
    data = yaml.safe_load((Path(bundled_folder()) / "wagon.yaml").read_text())
    post = {"name": "post", "fixed_to": "knuckle", "shape": "ball", "radius": 10, "at": [0, 750, 320]}
    data["axles"]["rear"]["obstacles"].append(post)
    answer = fitment.check(
        loads_profile(yaml.safe_dump(data, sort_keys=False), "w.yaml"), "rear", "wanted", changes=True
    )
    sets = answer.data["change_sets"]
    assert sets["found"] == []
    assert "post" in sets["blocked"]
    assert "No set of up to three changes is enough. What stays too close: " in " ".join(answer.text.split())


def test_easy_changes_together_are_told_where_what_serves_alone_is_hard() -> None:
    """A lip cut by 30 mm serves alone; a wheel and a tire together are less trouble."""
    answer = fitment.check(*STANCE, changes=True)
    alone = [each for each in answer.data["changes"] if each["achieves"] == "clears"]
    assert alone
    assert all(each["use"] != "usable" for each in alone)
    sets = answer.data["change_sets"]
    assert [each["kind"] for each in sets["found"][0]["changes"]] == ["offset", "tire"]
    for each in sets["found"]:
        assert each["use"] == "usable"
        assert all(change["use"] == "usable" for change in each["changes"])
        assert all(change["kind"] != "part" or abs(change["by"]) <= ROLLED for change in each["changes"])
    text = " ".join(answer.text.split())
    assert (
        text.index("Hard to do: 30 mm") < text.index("Several easier changes together") < text.index("1. Two changes")
    )
    assert "2. Two changes" not in text
    assert f"{len(sets['found']) - 1} more: --full" in text
    assert "2. Two changes" in answer.full_text


@pytest.mark.slow
def test_no_hard_set_is_told_beside_a_hard_change() -> None:
    sets = _found("coupe", "front", "stance")
    assert sets["found"]
    assert {change["use"] for each in sets["found"] for change in each["changes"]} == {"usable"}


def test_where_no_easy_set_serves_beside_a_hard_change_that_is_said() -> None:
    text = sets_text(Sets((), ("post",), 14, easier=True))
    assert "No set of up to three easy changes is enough. What stays too close: post." in text
    assert serving_alone(()) == "not_usable"


@pytest.mark.slow
def test_no_set_is_looked_for_where_one_change_serves() -> None:
    assert fitment.check("pickup", "rear", "wide", changes=True).data["change_sets"] is None


@pytest.mark.slow
def test_a_set_for_an_axle_whose_sides_differ_holds_on_both() -> None:
    case = fitment.check("coupe", "front", "stance").cases[0]
    assert case.mate is not None
    first = easiest_sets(case, case.mate).found[0]
    assert (first.other_corner, first.other_verdict) == (case.mate.fit.axle.name, "clears")
    both = fitment.check(_made("coupe", "front", "stance", _plain(first.apply)), "front", "made").cases
    assert {corner.fit.axle.name for corner in both} == {"front left", "front right"}
    for corner in both:
        assert all(entry.margin >= 0 and entry.worst_case >= 0 for entry in corner.fit.clearances)
