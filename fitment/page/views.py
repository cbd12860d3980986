"""The pictures of one axle as a page shows them: one view a figure, narrow enough to be read on a phone."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any

from fitment.checks.case import Case
from fitment.draw.figure_page import height_text, new_sheet
from fitment.draw.files import render
from fitment.draw.scene import rides
from fitment.draw.style import LIGHT, look
from fitment.draw.views.axle import axle_height, axle_section
from fitment.draw.views.closest import closest_view
from fitment.draw.views.corner import front_section, plan_view
from fitment.draw.views.side import side_view

NARROW, BROAD = 4.8, 9.4  # [in]
TALL, SQUARE = 6.4, 5.0  # [in]
END = "full bump"


@dataclass(frozen=True)
class Picture:
    """A drawn view.

    title : what it shows, in words; svg : the file's bytes
    broad : it needs the width of a sheet
    """

    title: str
    svg: bytes
    broad: bool = False


def axle_pictures(old: Case | None, new: Case, units: str) -> Iterator[Picture]:
    """The axle at rest, full bump, the closest call, the plan at the locks, the side at every ride height."""
    options: dict[str, Any] = {"units": units, "theme": LIGHT}
    axle = partial(axle_section, new=new, old=old, **options)
    yield _drawn("Section through both hubs at ride height", axle, BROAD, axle_height(new, old, BROAD))
    bump = partial(front_section, new=new, old=old, travel="bump", title=_ends("bump", old, new, units), **options)
    yield _drawn(f"Front section at {END}", bump, NARROW, TALL)
    yield _drawn("The closest call, enlarged", partial(closest_view, new=new, old=old, **options), NARROW, TALL)
    steers = new.fit.axle.steering is not None
    for words, lock_fraction in (("Left lock", 1.0), ("Right lock", -1.0)) if steers else (("Straight ahead", 0.0),):
        plan = partial(plan_view, new=new, old=old, lock_fraction=lock_fraction, title=words, **options)
        yield _drawn(f"Plan: {words.lower()}, at ride height", plan, NARROW, TALL)
    for name, travel in rides(new):
        title = f"{name}, {height_text(travel, units)}"
        side = partial(side_view, new=new, old=old, travel=travel, title=title, **options)
        yield _drawn(f"Side view at {title}", side, NARROW, SQUARE)


def _ends(end: str, old: Case | None, new: Case, units: str) -> str:
    travels = [height_text(getattr(case.fit.axle, end), units) for case in (old, new) if case is not None]
    return f"Full {end}, {' → '.join(dict.fromkeys(travels))}"


def _drawn(title: str, draw: Callable[..., Any], width: float, height: float) -> Picture:
    with look():
        sheet = new_sheet(height, LIGHT, width=width, edge=0.0)
        draw(sheet.at(sheet.box(height)))
        return Picture(title, render(sheet.figure, "svg"), broad=width > NARROW)
