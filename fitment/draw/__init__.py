"""Pictures: views drawn on an axes, sheets of several views, and how they become files.

The only package that imports matplotlib; nothing but the command line imports it.
"""

from __future__ import annotations

from fitment.draw.motion import motion_sheet
from fitment.draw.reach import reach_sheet
from fitment.draw.save import picture_format, save
from fitment.draw.sheets import check_sheet, compare_sheet, profile_sheet
from fitment.draw.style import LIGHT, Theme
from fitment.draw.views import front_section, plan_view, side_view

__all__ = [
    "LIGHT",
    "Theme",
    "check_sheet",
    "compare_sheet",
    "front_section",
    "motion_sheet",
    "picture_format",
    "plan_view",
    "profile_sheet",
    "reach_sheet",
    "save",
    "side_view",
]
