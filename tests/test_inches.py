"""Inches as a shop says them. 1 in = 25.4 mm, 1 lb = 0.45359237 kg (exact, 1959 agreement); a mile is 1609.344 m."""

from __future__ import annotations

from pathlib import Path

import pytest
from conftest import run, vehicle, write_profile

from fitment.errors import ProfileError
from fitment.profile import load_profile, loads_profile


@pytest.fixture
def inches(tmp_path: Path) -> str:
    return write_profile(tmp_path, {"units": "in"} | vehicle(), "inches.yaml")


# ---------------------------------------------------------------- chosen in the profile


@pytest.mark.parametrize(
    "command",
    ["check {}", "compare {} measured lowered", "show {}", "poses {}", "order {}", "window {}"],
)
def test_every_command_takes_the_units_of_the_profile(command: str, tmp_path: Path) -> None:
    data = vehicle()
    data["builds"]["lowered"] = {"front": data["builds"]["measured"]["front"] | {"ride": 20}}
    bare = write_profile(tmp_path, data, "vehicle.yaml")
    asked = run(*command.format(bare).split(), "--units", "in").stdout
    in_mm = run(*command.format(bare).split()).stdout
    own = write_profile(tmp_path, {"units": "in"} | data, "vehicle.yaml")
    assert run(*command.format(own).split()).stdout == asked != in_mm
    assert run(*command.format(own).split(), "--units", "mm").stdout == in_mm


def test_data_are_in_mm_and_bare_numbers_stay_mm(inches: str, tmp_path: Path) -> None:
    bare = write_profile(tmp_path, vehicle(), "inches.yaml")
    plain = run("check", bare, "--format", "json").stdout
    write_profile(tmp_path, {"units": "in"} | vehicle(), "inches.yaml")
    assert run("check", inches, "--format", "json").stdout == plain
    result = run("check", inches, "--spacer", "10")
    assert "--spacer 10 was read as 10 mm" in result.stderr


def test_other_units_are_refused(tmp_path: Path) -> None:
    path = write_profile(tmp_path, {"units": "inch"} | vehicle())
    with pytest.raises(ProfileError, match=r'units: "inch" is not a units.*(mm, in|in, mm)'):
        load_profile(path)
    assert load_profile(write_profile(tmp_path, vehicle())).units == "mm"
    assert loads_profile(Path(write_profile(tmp_path, {"units": "in"} | vehicle())).read_text()).units == "in"
