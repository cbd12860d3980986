"""The list engine against the definitions: exact distances to the same swept points, with a plain tree of them."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from reference.keep_out_distances import left
from test_properties import FEW, Data, corners, number
from test_screening import PROFILES, candidates, fits_on, prepared, setup_of

from fitment.checks.case import Ready, ready
from fitment.clearance.worst_case import setup_sections
from fitment.parts.axle import Setup
from fitment.parts.tire_code import parse_tire
from fitment.parts.wheel import parse_wheel
from fitment.profile import loads_profile, setup
from fitment.screening.by_size import BAND
from fitment.screening.keep_out import keep_out_at, look_up
from fitment.screening.screen import ScreenedRow

pytestmark = pytest.mark.slow

SAME = 1e-9  # [mm]


def hold_to_the_definitions(own: Ready, setups: list[Setup]) -> None:
    """Clearance and margin everywhere, but that a part which covers a section's middle is deeper than its points.

    The worst case where nothing overlaps. Of a tire that is met from below only what stands above its bead seats
    counts, since the metal is met first.
    """
    kept = keep_out_at(own, setups[0].ride)
    met = look_up(kept, setups).closest
    for k, each in enumerate(setups):
        sections = setup_sections(each), setup_sections(each, largest=True)
        clearance, margin, worst = left(kept.swept, *sections, each.wheel.offset_tolerance)
        if clearance >= 0:
            assert met.clearance[k] == pytest.approx(clearance, abs=SAME)
            assert met.margin[k] == pytest.approx(margin, abs=SAME)
            assert met.worst_case[k] == pytest.approx(worst, abs=SAME)
        else:
            assert met.clearance[k] <= clearance + SAME
            assert met.margin[k] <= margin + SAME


@pytest.mark.parametrize(
    ("name", "axle", "build"),
    [("wagon", "front", "chosen"), ("pickup", "front", "wide"), ("coupe", "rear", "track_day")],
)
def test_bundled_vehicles(name: str, axle: str, build: str) -> None:
    own = prepared(name, axle, build)
    setups = [setup_of(own, ScreenedRow(each, "")) for each in candidates(name, 16, 3)]
    hold_to_the_definitions(own, [each for each in setups if fits_on(each)])


def test_parts_far_from_any_wheel() -> None:
    """Beyond what is looked up first, and two, four and eight times as far; the place of one is off by up to 100 mm."""
    data = yaml.safe_load((PROFILES / "wagon.yaml").read_text(encoding="utf-8"))
    ball = {"shape": "ball", "fixed_to": "body", "radius": 5, "tolerance": 4, "meets": "both"}
    for y, z, tolerance in ((480, 200, 4), (400, 0, 4), (300, 330, 4), (400, 150, 100)):
        part = {**ball, "name": "ball", "at": [0, y, z], "tolerance": tolerance}
        data["axles"]["front"]["obstacles"] = [part, {**part, "name": "its twin", "at": [60, y - 10, z], "radius": 12}]
        own = ready(loads_profile(json.dumps(data)), "front")
        base, setups = setup(own.profile, "front"), []
        for size, code in (("17x8", "225/45R17"), ("15x6", "195/65R15"), ("20x10", "275/40R20")):
            bolted = replace(parse_wheel(f"{size} ET{30 + z / 100:g}"), offset_tolerance=2.0)
            setups.append(replace(base, wheel=bolted, tire=parse_tire(code)))
        hold_to_the_definitions(own, setups)
        clearances = look_up(keep_out_at(own, base.ride), setups).closest.clearance
        assert (clearances > BAND).all()


@given(data=corners(), tolerances=st.lists(number(0, 4), min_size=4, max_size=4), offset=number(-25, 45))
@FEW
def test_random_vehicles(data: Data, tolerances: list[float], offset: float) -> None:
    """Every shape of part, readings with tolerances, wheels and tires of a few sizes round a drawn offset."""
    front, (width, camber, part, wheel) = data["axles"]["front"], tolerances
    front["hub_face_width"] = {"value": front["hub_face_width"], "tolerance": width}
    front["suspension"]["camber"] = {"value": front["suspension"]["camber"], "tolerance": camber / 10}
    for each in front["obstacles"]:
        each["tolerance"] = part
    own = ready(loads_profile(json.dumps(data)), "front")
    base, setups = setup(own.profile, "front"), []
    for size, code in (("17x8", "225/45R17"), ("17x7", "205/50R17"), ("18x9", "255/40R18"), ("16x6.5", "205/60R16")):
        for step in (-8.0, 0.0, 17.5):
            bolted = replace(parse_wheel(f"{size} ET{offset + step:g}"), offset_tolerance=wheel / 4)
            setups.append(replace(base, wheel=bolted, tire=parse_tire(code)))
    hold_to_the_definitions(own, setups)
