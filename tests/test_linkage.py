"""The rigid-link solver keeps every length, through travel and rack, on every bundled linkage."""

from __future__ import annotations

import numpy as np
import pytest

from fitment import profile as profiles
from fitment.checks.case import ready
from fitment.errors import ProfileError
from fitment.motion.link_suspension import linkage_of, rack_stops, strut_length
from fitment.motion.rigid_links import solve
from fitment.motion.suspension import poses_at_lock_fraction
from fitment.parts.axle import LinkSuspension
from fitment.profile import loads_profile

LINKAGES = [("pickup", "front", "factory"), ("pickup", "front", "swapped"), ("coupe", "front", "stock"),
            ("coupe", "rear", "stock"), ("example", "front", "donor")]  # fmt: skip


@pytest.mark.parametrize(("vehicle", "axle_name", "build"), LINKAGES)
def test_lengths_hold_through_every_pose(vehicle: str, axle_name: str, build: str) -> None:
    axle = ready(profiles.load_profile(vehicle), axle_name, build).axle
    assert isinstance(axle.suspension, LinkSuspension)
    linkage = linkage_of(axle.suspension, axle.hub_face_at)
    left, right = rack_stops(axle)
    travel, rack = (a.ravel() for a in np.meshgrid(np.linspace(axle.droop, axle.bump, 9), np.linspace(right, left, 7)))
    placed = solve(linkage, travel - axle.hub_face_at[2], rack=rack)
    assert placed.solved.all()
    assert placed.centre[:, 2] == pytest.approx(travel, abs=1e-9)
    for k, length in enumerate(linkage.length):
        outer = placed.centre + placed.rotation @ (linkage.outer[k] - linkage.hub_face)
        moved = np.outer(rack if k == linkage.steered else 0 * rack, [0.0, 1.0, 0.0])
        assert np.linalg.norm(outer - linkage.inner[k] - moved, axis=1) == pytest.approx(length, abs=1e-9)
    assert np.abs(placed.rotation @ placed.rotation.swapaxes(1, 2) - np.eye(3)).max() < 1e-12
    if linkage.slider is not None:  # the top mount stays on the strut's axis
        foot = placed.centre + placed.rotation @ (linkage.slider.on_knuckle - linkage.hub_face)
        off = np.cross(linkage.slider.top - foot, placed.rotation @ linkage.slider.along)
        assert np.abs(off).max() < 1e-8  # a length times the sine, over half a metre


@pytest.mark.parametrize("travel", [-60.0, 0.0, 80.0])
def test_steer_asked_and_rack_found_are_one_pose(travel: float) -> None:
    axle = ready(profiles.load_profile("pickup"), "front", "swapped").axle
    assert isinstance(axle.suspension, LinkSuspension)
    linkage = linkage_of(axle.suspension, axle.hub_face_at)
    steer = np.linspace(-28.0, 30.0, 7)
    by_steer = solve(linkage, np.full(7, travel), steer=steer)
    by_rack = solve(linkage, np.full(7, travel), rack=by_steer.rack)
    assert by_rack.centre == pytest.approx(by_steer.centre, abs=1e-8)
    assert by_rack.rotation == pytest.approx(by_steer.rotation, abs=1e-10)


def test_a_travel_beyond_the_struts_stroke_is_refused_with_what_it_can_do() -> None:
    """In droop the strut of the coupe is longer than at rest; an extension of 40 mm stops it on the way."""
    text = (profiles.resolve.bundled_folder() / "coupe.yaml").read_text(encoding="utf-8")
    assert "stroke: {compression: 95, extension: 90}" in text
    short = loads_profile(text.replace("extension: 90", "extension: 40"))
    with pytest.raises(
        ProfileError, match=r"good for travel (-\d+) to \+85 mm only.*stroke is 95 mm and 40 mm"
    ) as caught:
        ready(short, "front")
    low = float(str(caught.value).split("good for travel ")[1].split(" ")[0])
    axle = ready(profiles.load_profile("coupe"), "front").axle
    assert isinstance(axle.suspension, LinkSuspension)
    longer = strut_length(axle.suspension, poses_at_lock_fraction(axle, np.array([low + 1, low - 2]), 0.0))
    assert longer[0] < 40 < longer[1]
