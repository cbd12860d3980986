"""Pictures of the bundled vehicles: no label lies over another, leaves its panel or is too small to read.

Boxes are measured by matplotlib on what was drawn, frames of labels included. Which pictures of a build are drawn is
drawn by lot, the same ones each time; together they reach every view, layout, unit and theme.
"""

from __future__ import annotations

import random
from functools import lru_cache
from typing import Any

import pytest
from pictured import cut_off, overlapping, too_small

import fitment
from fitment.checks.case import Case
from fitment.draw.layouts import picture
from fitment.draw.movie import Movie
from fitment.draw.named_views import LAYOUTS

BUILDS = {
    "wagon": ("as_bought", "wanted", "chosen", "big_brake"),
    "pickup": ("factory", "swapped", "wide", "parts_bin"),
    "coupe": ("stock", "track_day", "fast_road", "stance"),
    "example": ("as_bought", "donor", "trimmed"),
}
ALL = [(vehicle, build) for vehicle, builds in BUILDS.items() for build in builds]
PICTURES = 9  # of an axle of a build
FRAMES = 3


@lru_cache(maxsize=4)
def cases(vehicle: str, build: str) -> tuple[Case, ...]:
    return tuple(fitment.check(vehicle, build=build).new)


def pairs(vehicle: str, build: str, lot: random.Random) -> list[tuple[Case, Case | None]]:
    """Each axle of a build, alone or beside the first one of the profile."""
    first = BUILDS[vehicle][0]
    old = {case.fit.axle.name: case for case in cases(vehicle, first)} if build != first else {}
    return [(case, lot.choice([None, old.get(case.fit.axle.name)])) for case in cases(vehicle, build)]


def faults(figure: Any) -> list[str]:
    return [*overlapping(figure), *(f"{text!r} is cut off" for text in cut_off(figure)),
            *(f"{text!r} is too small" for text in too_small(figure))]  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize(("vehicle", "build"), ALL)
def test_labels_of_a_bundled_vehicle_keep_clear_of_each_other(vehicle: str, build: str) -> None:
    lot = random.Random(f"{vehicle} {build}")
    kinds = [(layout, view) for layout, views in LAYOUTS.items() for view in views]
    for new, old in pairs(vehicle, build, lot):
        for layout, view in lot.sample(kinds, PICTURES):
            look = {"units": lot.choice(["mm", "in"]), "theme": lot.choice(["light", "dark"])}
            figure = picture(new, old, view=view, layout=layout, **look)
            assert faults(figure) == [], (new.fit.axle.name, old is not None, layout, view, look)


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize(("layout", "view"), [("single", "closest"), ("banner", None), ("tall", None)])
def test_labels_of_the_first_try_keep_clear_of_each_other(layout: str, view: str | None, units: str) -> None:
    new = cases("wagon", "wanted")[0]
    assert faults(picture(new, view=view, layout=layout, units=units)) == []


@pytest.mark.slow
@pytest.mark.parametrize(("vehicle", "build"), ALL)
def test_frames_of_a_bundled_vehicle_are_legible(vehicle: str, build: str) -> None:
    lot = random.Random(f"frames {vehicle} {build}")
    for new, old in pairs(vehicle, build, lot):
        shown = Movie(new, old, units=lot.choice(["mm", "in"]), theme=lot.choice(["light", "dark"]))
        for index in (0, *lot.sample(range(1, len(shown.shots)), FRAMES)):
            shown.show(index)
            assert faults(shown.figure) == [], (new.fit.axle.name, index, shown.shots[index].words)
