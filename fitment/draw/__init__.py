"""Pictures: views drawn on an axes, sheets of several views, and how they become files.

The only package that imports matplotlib; only the page and the command line import it. A name is loaded with its module
when it is first asked for, so that a picture costs no more than what it shows.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from fitment.draw.files import picture_format, save

if TYPE_CHECKING:
    from fitment.draw.adjuster_reach import reach_sheet
    from fitment.draw.best_of_list import contact_sheet
    from fitment.draw.layouts import LAYOUTS, VIEWS, chosen, picture
    from fitment.draw.motion_curves import motion_sheet
    from fitment.draw.movie_file import movie_format, save_movie
    from fitment.draw.sheets import check_sheet, compare_sheet, profile_sheet
    from fitment.draw.style import LIGHT, THEMES, Theme, theme_of
    from fitment.draw.views.axle import axle_section
    from fitment.draw.views.closest import closest_view
    from fitment.draw.views.corner import front_section, plan_view
    from fitment.draw.views.free_space import room_view, window_sheet
    from fitment.draw.views.side import side_view

HOMES = {
    "LAYOUTS": "layouts",
    "LIGHT": "style",
    "THEMES": "style",
    "VIEWS": "layouts",
    "Theme": "style",
    "axle_section": "views.axle",
    "check_sheet": "sheets",
    "chosen": "layouts",
    "closest_view": "views.closest",
    "compare_sheet": "sheets",
    "contact_sheet": "best_of_list",
    "front_section": "views.corner",
    "motion_sheet": "motion_curves",
    "movie_format": "movie_file",
    "picture": "layouts",
    "plan_view": "views.corner",
    "profile_sheet": "sheets",
    "reach_sheet": "adjuster_reach",
    "room_view": "views.free_space",
    "save_movie": "movie_file",
    "side_view": "views.side",
    "theme_of": "style",
    "window_sheet": "views.free_space",
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
