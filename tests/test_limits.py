"""Mistakes are refused at once, and what is too large is refused with its limit, before time or memory is spent.

That no time is spent is seen from what is not done: work that is not begun, words that are not looked for.
"""

from __future__ import annotations

import difflib
import os
import re
import resource
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pint
import pytest
from conftest import run, vehicle, write_profile
from test_bad_input import assert_refused

from fitment import units
from fitment.errors import FitmentError, ListError, UnitError, did_you_mean
from fitment.profile import load_profile
from fitment.screening import candidates
from fitment.screening.candidates import read_candidates
from fitment.units import to_mm

ROOT = Path(__file__).resolve().parents[1]
ROW = "17x8 ET0,225/45R17"


# ---------------------------------------------------------------- mistakes


def test_units_are_looked_up_in_one_registry(monkeypatch: pytest.MonkeyPatch) -> None:
    """A registry takes most of a second to make; a yard is 0.9144 m (the agreement of 1959)."""
    made, true = [], pint.UnitRegistry
    monkeypatch.setattr(pint, "UnitRegistry", lambda *words: made.append(words) or true(*words))  # type: ignore[func-returns-value]
    units._registry.cache_clear()
    units._rare.cache_clear()
    for i in range(60):
        with pytest.raises(UnitError, match="not a unit of length"):
            to_mm(f"5 {'klafter' + 'abcdefghij'[i % 10] * (i // 10 + 1)}")
    with pytest.raises(UnitError, match='"kg" is not a unit of length'):
        to_mm("5 kg")
    assert to_mm("1 yard") == 914.4
    assert len(made) == 1


def unreached(*_: object, **__: object) -> None:
    raise AssertionError("the work was begun")


@pytest.mark.parametrize(
    ("option", "words"),
    [
        ("--sort prise", "--sort prise: there is no such column with values"),
        ("--sort=-note", "--sort -note: there is no such column with values"),
        ("--group-by prise", "--group-by prise: the list has no such column; it has name, wheel, tire, note"),
        ("--limit many", "--limit many: give a whole number"),
        ("--only fits", "--only fits: there is no such verdict"),
        ("--column wheel=Rim", "Rim"),
        ("--out best.png --theme brown", "brown"),
    ],
)
def test_a_mistyped_option_is_refused_before_the_list(
    option: str, words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_profile(tmp_path, vehicle())
    (tmp_path / "list.csv").write_text(f"name,wheel,tire,note\nA,{ROW},\n")
    monkeypatch.setattr("fitment.screening.screen.screen_candidates", unreached)
    assert_refused(run("screen", "bench.yaml", "list.csv", *option.split(), cwd=tmp_path), words)


def test_of_many_wrong_keys_few_are_looked_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Five are told, so no more need a hint; the missing key that one of them meant is not told as missing."""
    compared, true = [], difflib.get_close_matches

    def counted(word: str, *more: Any, **how: Any) -> list[str]:
        compared.append(word)
        return true(word, *more, **how)

    monkeypatch.setattr(difflib, "get_close_matches", counted)
    data = vehicle()
    data["axles"]["front"] = {f"hub_heigth_{i}": i for i in range(1000)} | data["axles"]["front"]
    del data["axles"]["front"]["hub_height"]
    with pytest.raises(FitmentError) as refused:
        load_profile(write_profile(tmp_path, data))
    assert len(compared) <= 20
    assert str(refused.value).count('Did you mean "hub_height"?') == 5
    assert str(refused.value).endswith("and 995 more mistakes.")


def test_nothing_is_meant_by_a_very_long_word() -> None:
    assert did_you_mean("hub_heigth", ["hub_height"]) == ' Did you mean "hub_height"?'
    assert did_you_mean("hub_height" * 1000, ["hub_height" * 999]) == ""


# ---------------------------------------------------------------- limits of a profile

Change = Callable[[dict[str, Any]], object]


def part(data: dict[str, Any], **keys: Any) -> None:
    data["axles"]["front"]["obstacles"].append({"name": "large"} | keys)


def edge(count: int) -> Change:
    return lambda data: part(data, shape="edge", points=[[k / 10, 890, 300] for k in range(count)])


def panel(rows: int, columns: int) -> Change:
    grid = [[[10 * i, 900, 300 + 10 * j / 10] for j in range(columns)] for i in range(rows)]
    return lambda data: part(data, shape="panel", rows=grid)


def balls(count: int) -> Change:
    there = 2  # of the bench vehicle
    return lambda data: data["axles"]["front"]["obstacles"].extend(
        {"name": f"ball {k}", "shape": "ball", "at": [0, 890, 300]} for k in range(count - there)
    )


def builds(count: int) -> Change:
    return lambda data: data["builds"].update(
        {f"build {k}": data["builds"]["measured"] for k in range(count - len(data["builds"]))}
    )


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (edge(2001), r"large: 2001 in the list, at most 2000 are taken"),
        (panel(101, 100), r"large: 10100 points in the panel, at most 10000 are taken; leave out rows"),
        (balls(501), r"obstacles: at most 500 are taken here"),
        (builds(201), r"builds: at most 200 are taken here"),
    ],
    ids=["points of an edge", "points of a panel", "parts", "builds"],
)
def test_what_is_too_large_is_refused_with_its_limit(change: Change, words: str, tmp_path: Path) -> None:
    data = vehicle()
    change(data)
    write_profile(tmp_path, data)
    assert_refused(run("check", "bench.yaml", cwd=tmp_path), words)


@pytest.mark.parametrize("change", [edge(2000), balls(500)], ids=["points of an edge", "parts"])
def test_what_is_just_within_a_limit_is_read(change: Change, tmp_path: Path) -> None:
    data = vehicle()
    change(data)
    assert load_profile(write_profile(tmp_path, data)).axle_names == ("front",)


def test_the_schema_tells_the_limits() -> None:
    told = run("schema").stdout
    assert [word in told for word in ('"maxItems": 2000', '"maxItems": 500', '"maxProperties": 200')] == [True] * 3


# ---------------------------------------------------------------- limits of a list


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="needs /dev/zero")
def test_a_list_without_an_end_of_its_line_is_refused(tmp_path: Path) -> None:
    """With 2 GB of memory, where the whole would need all there is."""
    done = subprocess.run(
        [sys.executable, "-m", "fitment", "screen", "wagon", "/dev/zero"], capture_output=True, check=False,
        cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(ROOT)},
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (2**31, 2**31)),
    )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr == b"Error: /dev/zero:1: more than 1,000,000 characters in a line; is this a CSV table?\n"


def test_a_list_of_too_many_rows_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(candidates, "MOST_LINES", 11)
    path = tmp_path / "list.csv"
    path.write_text("wheel,tire\n" + f"{ROW}\n" * 10)
    assert len(list(read_candidates(path).rows)) == 10
    path.write_text("wheel,tire\n" + f"{ROW}\n" * 9 + "\n\n")
    with pytest.raises(ListError, match=r"list\.csv: more than 10 rows; screen it in parts"):
        list(read_candidates(path).rows)


def test_a_list_of_too_many_letters_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file by its size, before a line of it is read; a pipe when it is passed."""
    monkeypatch.setattr(candidates, "MOST_LETTERS", 100)
    path = tmp_path / "list.csv"
    path.write_text("wheel,tire\n" + f"{ROW}\n" * 10)
    with pytest.raises(ListError, match=r"list\.csv: more than 300 million characters"):
        list(read_candidates(path).rows)
    with path.open("w") as stream:
        stream.truncate(10**12)  # it takes no room
    with pytest.raises(ListError, match=r"list\.csv: more than 300 million characters"):
        read_candidates(path)


@pytest.mark.parametrize("words", ["wheel {}", "check {}", "check wagon --build {}", "screen wagon {}", "check --{}"])
def test_a_word_of_a_command_that_nobody_types_is_refused_and_not_told_in_full(words: str) -> None:
    done = run(*words.format("17x8\x1b" + "a" * 70_000).split())
    assert done.exit_code == 2
    assert re.search(r'has 700\d\d letters, at most 4096 are read; it begins "[^\x1b]{40,60}"', done.stderr)
    assert len(done.output) < 200
