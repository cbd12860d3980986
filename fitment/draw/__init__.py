"""Pictures: views drawn on an axes, sheets of several views, and how they become files.

The only package that imports matplotlib; only the page and the command line import it.
"""

from __future__ import annotations

from fitment.draw.axle import axle_section
from fitment.draw.closest import closest_view
from fitment.draw.contact import contact_sheet
from fitment.draw.layouts import LAYOUTS, VIEWS, chosen, picture
from fitment.draw.motion import motion_sheet
from fitment.draw.moviefile import movie_format, save_movie
from fitment.draw.reach import reach_sheet
from fitment.draw.room import room_view, window_sheet
from fitment.draw.save import picture_format, save
from fitment.draw.sheets import check_sheet, compare_sheet, profile_sheet
from fitment.draw.side import side_view
from fitment.draw.style import LIGHT, THEMES, Theme, theme_of
from fitment.draw.views import front_section, plan_view

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
