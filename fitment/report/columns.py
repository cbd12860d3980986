"""Answers as columns: plain dicts of name -> array, all of one length, which any data-frame library takes.

Lengths in mm, angles in degrees, not rounded. A number that is not known is nan, so that its column is one of floats
throughout; a text that is not known is empty.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from fitment.corners import axle_of, side_of
from fitment.report.common import free_name
from fitment.report.offset_window import size_words

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.checks.case import Case, Ready
    from fitment.screening.offset_window import Window
    from fitment.screening.screen import ScreenedRow

Columns = dict[str, np.ndarray[Any, Any]]
WORDS = ("verdict", "limited_by", "reason", "part")  # columns of a screened list that hold texts


def clearance_columns(cases: Sequence[Case]) -> Columns:
    """Every obstacle and part in every pose.

    opposite_mm : travel of the opposite wheel, nan on an axle on which it does not matter
    x_mm, y_mm, z_mm : the place of the obstacle that is nearest, body frame
    """
    entries = [(case.fit.axle.name, entry) for case in cases for entry in case.fit.clearances]
    of = [entry for _, entry in entries]
    points = np.array([entry.point for entry in of], dtype=float).reshape(-1, 3)
    return {
        "axle": texts(axle_of(name) for name, _ in entries),
        "corner": texts(entry.corner for entry in of),
        "obstacle": texts(entry.obstacle for entry in of),
        "part": texts(entry.part for entry in of),
        "travel_mm": numbers(entry.travel for entry in of),
        "steer_deg": numbers(entry.steer for entry in of),
        "opposite_mm": numbers(entry.opposite for entry in of),
        "clearance_mm": numbers(entry.clearance for entry in of),
        "worst_case_mm": numbers(entry.worst_case for entry in of),
        "allowance_mm": numbers(entry.allowance for entry in of),
        "margin_mm": numbers(entry.margin for entry in of),
        **dict(zip(("x_mm", "y_mm", "z_mm"), points.T, strict=True)),
    }


def screen_columns(header: Sequence[str], rows: Sequence[ScreenedRow]) -> Columns:
    """The list's own columns as texts, then the answer's; a clash keeps the list's name.

    rank : nan for rows that could not be read; offsets : nan where none clears
    """
    from fitment.screening.screen import COLUMNS

    names = rows[0].candidate.header if rows else tuple(header)
    own = {name: texts(row.candidate.cells[i] for row in rows) for i, name in enumerate(names)}
    answers = [row.values() for row in rows]
    added = {
        free_name(name, names): (texts if name in WORDS else numbers)(values[i] for values in answers)
        for i, name in enumerate(COLUMNS)
    }
    return own | added


def window_columns(found: Iterable[tuple[Ready, Window]]) -> Columns:
    """A row for every size with every tire; offsets are nan where none clears.

    offset_min_mm, offset_max_mm : in the worst case too; nominal_min_mm, nominal_max_mm : as measured
    """
    rows = list(found)
    ends, nominal = (
        [(None, None) if pair is None else [end.offset for end in pair] for pair in pairs]
        for pairs in ([window.ends for _, window in rows], [window.nominal for _, window in rows])
    )
    return {
        "axle": texts(axle_of(ready.axle.name) for ready, _ in rows),
        "corner": texts(side_of(ready.axle.name) for ready, _ in rows),
        "wheel": texts(size_words(window) for _, window in rows),
        "tire": texts(window.setup.tire.code for _, window in rows),
        "spacer_mm": numbers(window.setup.spacer.thickness for _, window in rows),
        "ride_mm": numbers(window.setup.ride for _, window in rows),
        "offset_min_mm": numbers(low for low, _ in ends),
        "offset_max_mm": numbers(high for _, high in ends),
        "nominal_min_mm": numbers(low for low, _ in nominal),
        "nominal_max_mm": numbers(high for _, high in nominal),
    }


def texts(values: Iterable[Any]) -> np.ndarray[Any, Any]:
    """A column of texts, empty where there is none."""
    return np.array([value or "" for value in values], dtype=np.str_)


def numbers(values: Iterable[Any]) -> np.ndarray[Any, Any]:
    """A column of floats, nan where there is none."""
    return np.array([np.nan if value is None else value for value in values], dtype=float)
