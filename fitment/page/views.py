"""The pictures of one axle as a page shows them: one view a figure, narrow enough to be read on a phone."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from io import BytesIO
from typing import Any

from markupsafe import Markup

from fitment.checks.case import Case
from fitment.draw.figure_page import height_text, new_sheet
from fitment.draw.files import SILENT
from fitment.draw.style import LIGHT, color_names, look
from fitment.draw.views.axle import axle_height, axle_section
from fitment.draw.views.closest import closest_view, place_text, served
from fitment.draw.views.side import side_view
from fitment.page.inline_svg import svg_element
from fitment.report.common import overlap_text
from fitment.units import clearance_text, length_text

NARROW, BROAD = 4.8, 9.4  # [in]
CALL, SQUARE = 5.4, 5.0  # [in]


@dataclass(frozen=True)
class Picture:
    """A drawn view.

    title : what it shows, in words; spoken : the same in one sentence with its figure
    svg : the file's bytes; broad : it needs the width of a sheet
    """

    title: str
    spoken: str
    svg: bytes
    broad: bool = False


def pictures_of(old: Case | None, new: Case, units: str) -> list[dict[str, Any]]:
    """The pictures of one axle as the template shows them, the closest call first."""
    axle = new.fit.axle.name.replace(" ", "-")
    prefixes = [f"{axle}-call-", *(f"{axle}-{i}-" for i in range(2))]
    pictures = [closest_picture(old, new, units), *axle_pictures(old, new, units)]
    return [_shown(picture, prefix) for picture, prefix in zip(pictures, prefixes, strict=True)]


def _shown(picture: Picture, prefix: str) -> dict[str, Any]:
    """A picture for the template; prefix : of its ids."""
    names = {color: name for name, color in reversed(color_names(LIGHT).items())}  # the first of each colour
    svg = svg_element(picture.svg, prefix, names, picture.spoken)
    return {"title": picture.title, "broad": picture.broad, "svg": Markup(svg)}


def closest_picture(old: Case | None, new: Case, units: str) -> Picture:
    """The closest call, enlarged."""
    view = partial(closest_view, new=new, old=old, units=units, theme=LIGHT)
    return _drawn("The closest call, enlarged", _call_spoken(new, units), view, NARROW, CALL)


def _call_spoken(case: Case, units: str) -> str:
    entry = case.fit.decides
    if entry is None:
        return "No closest call is drawn, because no part near the wheel was checked."
    if entry.clearance < 0:
        gap = f"{entry.part} overlaps {entry.obstacle} by {overlap_text(entry.clearance, units)}"
    else:
        gap = f"{clearance_text(entry.clearance, units)} between {entry.part} and {entry.obstacle}"
    asked = length_text(entry.allowance, units)
    left = served(case, units)
    measured = f"{gap} at travel {place_text(entry, units)}"
    told = "; ".join([f"{measured}, as measured", left, asked] if left else [measured, asked])
    return f"The closest call in section, to scale: {told} required."


def axle_pictures(old: Case | None, new: Case, units: str) -> Iterator[Picture]:
    """The axle at rest, and the side at the ride height; every other pose is the moving drawing's."""
    options: dict[str, Any] = {"new": new, "old": old, "units": units, "theme": LIGHT}
    track = length_text(new.stance.track, units)
    before = "" if old is None else f", {length_text(old.stance.track, units)} before"
    title = "Section through both hubs at ride height"
    spoken = f"{title}, from the front: the track is {track}{before}."
    yield _drawn(title, spoken, partial(axle_section, **options), BROAD, axle_height(new, old, BROAD))
    setup = new.fit.setup
    name = f"{setup.ride_name}, " if setup.ride_name else ""
    at = f"{name}{height_text(setup.ride, units)}"
    spoken = f"Side view at {at}: the hub stands {length_text(new.stance.hub_height, units)} above the ground."
    yield _drawn(
        f"Side view at {at}", spoken, partial(side_view, travel=setup.ride, title=at, **options), NARROW, SQUARE
    )


def _drawn(title: str, spoken: str, draw: Callable[..., Any], width: float, height: float) -> Picture:
    with look(text=True):
        sheet = new_sheet(height, LIGHT, width=width, edge=0.0)
        draw(sheet.at(sheet.box(height)))
        stream = BytesIO()
        sheet.figure.savefig(stream, format="svg", metadata=SILENT["svg"], facecolor=sheet.figure.get_facecolor())
    return Picture(title, spoken, stream.getvalue(), broad=width > NARROW)
