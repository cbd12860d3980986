"""What a builder is ready to do: how it is read, what it makes of the offsets, and what is refused."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml

import fitment
from fitment.answers.given_way import willing
from fitment.errors import FitmentError
from fitment.profile import loads_profile
from fitment.profile.resolve import bundled_folder

SIZE = {"size": "20x8.5", "tire": "245/35R20"}
WITH = "inner fender 15 mm, stops 28 deg"


@cache
def _with(text: str | None) -> Any:
    return fitment.window("wagon", "front", "wanted", with_=text, **SIZE)


def _read(text: str) -> list[tuple[Any, ...]]:
    return [(item.what, item.part, round(item.value, 3), item.way) for item in willing(text)]


def test_it_is_read_as_it_is_said() -> None:
    assert _read("Inner_Fender 15 mm, stops 28 deg") == [("part", "inner fender", 15, ""), ("stops", "", 28, "")]
    assert _read("move the fender lip by 1/2 in up; lock 30\N{DEGREE SIGN}") == [
        ("part", "fender lip", 12.7, "up"),
        ("stops", "", 30, ""),
    ]
    assert _read("fender lip 1.5 cm outward and bump stop at 60 mm") == [
        ("part", "fender lip", 15, "out"),
        ("bump", "", 60, ""),
    ]
    assert _read("trim fender lip 20") == _read("fender lip trim 20 mm") == [("part", "fender lip", 20, "trim")]
    assert _read("frame horn 12,5 mm in") == [("part", "frame horn", 12.5, "in")]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("inner fender", "has no number"),
        ("fender lip 15 in", "may be inches or inward"),
        ("stops 20 mm", "stops are given in degrees"),
        ("fender lip 20 deg", "only stops are given in degrees"),
        (",", "nothing is said"),
    ],
)
def test_what_cannot_be_read_is_refused(text: str, words: str) -> None:
    with pytest.raises(FitmentError, match=words):
        willing(text)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("fender lp 15", 'Did you mean "fender lip"'),
        ("door 15", "The parts here: fender lip, inner fender"),
        ("stops 50 deg", "the larger lock is 36 deg"),
        ("bump 10 mm", "between +35 and +80 mm"),
        ("damper trim 5 mm", "damper cannot be trimmed: a rod has no edge"),
        ("fender lip -5", "give more than 0"),
    ],
)
def test_what_cannot_be_had_is_refused(text: str, words: str) -> None:
    with pytest.raises(FitmentError) as caught:
        _with(text)
    assert words in str(caught.value)
    assert str(caught.value).startswith("with_: ")


@pytest.mark.slow
def test_offsets_are_those_of_a_build_that_has_all_of_it() -> None:
    data = yaml.safe_load((Path(bundled_folder()) / "wagon.yaml").read_text())
    # the other lock in the same share, as a rack's stops: 31 x 28 / 36 = 24.1; the limit's angle at full bump stays
    data["builds"]["wanted"]["front"] |= {
        "obstacles": {"inner fender": {"move": {"away": 15}}},
        "steering": {"lock_left": 28, "lock_right": 24.1},
        "steer_limit": [[-70, 1.0], [50, 1.0], [50 + 30 * (1 - 7 / 9) / 0.4, 1.0], [80, 0.6 * 31 / 24.1]],
    }
    made = fitment.window(loads_profile(yaml.safe_dump(data, sort_keys=False), "w.yaml"), "front", "wanted", **SIZE)
    ranges = ("offset_min_mm", "offset_max_mm", "nominal_min_mm", "nominal_max_mm")
    for key in ranges:
        assert _with(WITH).data[0][key] == pytest.approx(made.data[0][key], abs=0.15)


def test_the_range_without_it_stands_beside() -> None:
    told, alone = _with(WITH).data[0], _with(None).data[0]
    assert told["without"] == {key: alone[key] for key in told["without"]}
    assert "without" not in alone
    assert told["with"] == [
        "inner fender moved 15 mm away from the wheel's centre as seen from the side",
        "steering stops at 28 deg left, 24.1 deg right",
    ]
    assert told["nominal_max_mm"] > alone["nominal_max_mm"]
    words = " ".join(_with(WITH).text.split())
    assert "With inner fender moved 15 mm away" in words
    assert "Without that: no offset clears in the worst case; as measured ET11.0 to ET44.7." in words
