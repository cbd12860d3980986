"""Pictures: views drawn on an axes, sheets of several views, and how they become files.

The only package that imports matplotlib; only the page and the command line import it. A name is loaded with its module
when it is first asked for, so that a picture costs no more than what it shows.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from fitment.draw.save import picture_format, save  # at once: the module of that name would hide the function

if TYPE_CHECKING:
    from fitment.draw.axle import axle_section
    from fitment.draw.closest import closest_view
    from fitment.draw.contact import contact_sheet
    from fitment.draw.layouts import LAYOUTS, VIEWS, chosen, picture
    from fitment.draw.motion import motion_sheet
    from fitment.draw.moviefile import movie_format, save_movie
    from fitment.draw.reach import reach_sheet
    from fitment.draw.room import room_view, window_sheet
    from fitment.draw.sheets import check_sheet, compare_sheet, profile_sheet
    from fitment.draw.side import side_view
    from fitment.draw.style import LIGHT, THEMES, Theme, theme_of
    from fitment.draw.views import front_section, plan_view

HOMES = {
    "LAYOUTS": "layouts",
    "LIGHT": "style",
    "THEMES": "style",
    "VIEWS": "layouts",
    "Theme": "style",
    "axle_section": "axle",
    "check_sheet": "sheets",
    "chosen": "layouts",
    "closest_view": "closest",
    "compare_sheet": "sheets",
    "contact_sheet": "contact",
    "front_section": "views",
    "motion_sheet": "motion",
    "movie_format": "moviefile",
    "picture": "layouts",
    "plan_view": "views",
    "profile_sheet": "sheets",
    "reach_sheet": "reach",
    "room_view": "room",
    "save_movie": "moviefile",
    "side_view": "side",
    "theme_of": "style",
    "window_sheet": "room",
}

__all__ = [
    "LAYOUTS",
    "LIGHT",
    "THEMES",
    "VIEWS",
    "Theme",
    "axle_section",
    "check_sheet",
    "chosen",
    "closest_view",
    "compare_sheet",
    "contact_sheet",
    "front_section",
    "motion_sheet",
    "movie_format",
    "picture",
    "picture_format",
    "plan_view",
    "profile_sheet",
    "reach_sheet",
    "room_view",
    "save",
    "save_movie",
    "side_view",
    "theme_of",
    "window_sheet",
]


def __getattr__(name: str) -> Any:
    if name not in HOMES:
        raise AttributeError(f"module {__name__} has no attribute {name}")
    return getattr(import_module(f"{__name__}.{HOMES[name]}"), name)
