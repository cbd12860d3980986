"""Tires: what a code says, the size on a rim, and the section outline."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Family = Literal["metric", "P", "HL", "LT", "flotation"]


@dataclass(frozen=True)
class Tire:
    """A tire code as read, and what a maker's data sheet adds to it.

    code : normalised spelling of the code
    nominal_width : [mm]; of a flotation size its width x 25.4
    aspect_ratio : [%], None for flotation sizes
    rim_code : nominal rim diameter [in]
    radial : False for bias-ply (D, B or -)
    flotation_diameter : the code's own overall diameter [in], flotation sizes only
    load_index, load_index_dual, speed_symbol, load_version : None where the code does not tell
    section_width : measured by the maker [mm] on a rim `on_rim` wide [in]; beats the formula
    tread_width, overall_diameter : measured [mm]; beat the formula
    """

    code: str
    family: Family
    nominal_width: float
    rim_code: float
    aspect_ratio: float | None = None
    radial: bool = True
    flotation_diameter: float | None = None
    load_index: int | None = None
    load_index_dual: int | None = None
    speed_symbol: str | None = None
    load_version: str | None = None
    section_width: float | None = None
    on_rim: float | None = None
    tread_width: float | None = None
    overall_diameter: float | None = None
