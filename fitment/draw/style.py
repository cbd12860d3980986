"""One visual language for every picture: sizes, fonts, palettes, lines, hatches, dimension lines.

Old is a dashed outline with a light hatch, new a solid outline with a fill, so both are told apart without
colour; the two colours also differ in lightness (old warm and nearer to the ground, new cool and nearer to the ink).
Sizes are points on a sheet 10 inches wide: at 700 pixels across, the smallest text is 10 pixels high.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, fields
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fitment.errors import FitmentError

if TYPE_CHECKING:  # who asks for colours alone does without
    from matplotlib.font_manager import FontProperties

SHEET_WIDTH = 10.0  # [in]
DPI = 160  # a sheet is 1600 pixels wide

# text [pt]
SMALL, BODY, PANEL, TITLE_SMALL, TITLE = 10.5, 12.0, 14.0, 18.0, 23.0
LETTER = 5.9  # [pt] of a letter of SMALL text, on average and a little more
# lines [pt]
HAIR, THIN, LINE, BOLD = 0.6, 0.9, 1.5, 2.4
DASHED = (0, (5.0, 2.6))
DOTTED = (0, (1.0, 2.0))
CHAIN = (0, (9.0, 2.5, 1.5, 2.5))
DASHED_BOLD = (0, (2.0, 1.0))  # of thick short lines: an old gap
DASHED_BAR = (0, (0.9, 0.4))  # of bars
HATCH_OLD, HATCH_PART = "///", "xxxx"
# dimension lines: filled heads, extension lines that run a little past, text on the line
ARROW_HEAD = "head_length=5,head_width=1.9"  # [pt]
SHORTEST_ARROW = 8.0  # [pt] a shorter move is a plain bar
PAST = 3.0  # [pt] an extension line runs past its dimension line
OUTSIDE_ARROW = 16.0  # [pt] length of the two arrows that point at a gap too short for arrows between


@dataclass(frozen=True)
class Theme:
    """Colours of one look.

    name : as on the command line
    paper, panel, ink, quiet, faint : grounds, text, secondary text, construction lines
    old, new : outlines; old_hatch : hatch lines
    new_tire, new_wheel, new_pale : fills of sections, and of what is seen beyond them
    part, part_fill, part_far : obstacles that are cut, and those beyond the cut
    alarm, alarm_text : the smallest clearance in a view
    """

    name: str
    paper: str
    panel: str
    ink: str
    quiet: str
    faint: str
    old: str
    old_hatch: str
    new: str
    new_tire: str
    new_wheel: str
    new_pale: str
    part: str
    part_fill: str
    part_far: str
    alarm: str
    alarm_text: str

    def outline(self, is_old: bool) -> str:
        """Colour of what is old, or new."""
        return self.old if is_old else self.new


LIGHT = Theme(
    name="light",
    paper="#f4f1ea",
    panel="#ffffff",
    ink="#1d2430",
    quiet="#5a6270",
    faint="#b9bec6",
    old="#ae5208",
    old_hatch="#efbf8a",
    new="#0a3866",
    new_tire="#cfe0f1",
    new_wheel="#7fa6cd",
    new_pale="#eef4fa",
    part="#23272e",
    part_fill="#8b9099",
    part_far="#d9dce1",
    alarm="#1d2430",
    alarm_text="#ffffff",
)
DARK = Theme(
    name="dark",
    paper="#10141a",
    panel="#1a2029",
    ink="#f0f3f7",
    quiet="#a9b2be",
    faint="#4b5563",
    old="#dc8428",
    old_hatch="#7a4a17",
    new="#b2d9ff",
    new_tire="#274665",
    new_wheel="#3d6c9a",
    new_pale="#1f2d3d",
    part="#e3e7ec",
    part_fill="#76808d",
    part_far="#39424f",
    alarm="#f0f3f7",
    alarm_text="#10141a",
)
THEMES = {theme.name: theme for theme in (LIGHT, DARK)}


def theme_of(name: str) -> Theme:
    """A theme by its name. Raises FitmentError."""
    if name not in THEMES:
        raise FitmentError(f"theme {name}: there is none of that name; use {' or '.join(THEMES)}.")
    return THEMES[name]


def color_names(theme: Theme) -> dict[str, str]:
    """Of every colour its name and itself, 'new-tire' -> '#rrggbb'."""
    return {f.name.replace("_", "-"): getattr(theme, f.name) for f in fields(theme) if f.name != "name"}


@contextmanager
def look(*, text: bool = False) -> Iterator[None]:
    """Matplotlib's own defaults with ours over them, whatever the reader's configuration says.

    text : text in an SVG stays text; else it is drawn as outlines, the same wherever it is opened
    """
    import matplotlib

    settings: dict[Any, Any] = {k: v for k, v in matplotlib.rcParamsDefault.items() if not k.startswith("backend")}
    settings |= {
        "hatch.linewidth": HAIR,
        "svg.hashsalt": "fitment",
        "svg.fonttype": "none" if text else "path",
        "pdf.fonttype": 42,
        "path.simplify": True,
        "axes.unicode_minus": False,
        "text.parse_math": False,
    }
    with matplotlib.rc_context(settings):
        yield


@lru_cache(maxsize=32)
def font(size: float = SMALL, *, bold: bool = False) -> FontProperties:
    """DejaVu Sans as it is shipped with matplotlib, not whatever the system has."""
    from matplotlib.font_manager import FontProperties

    return FontProperties(fname=_font_file(bold), size=size, weight="bold" if bold else "normal")


def _font_file(bold: bool) -> str:
    """Raises FitmentError where it is gone."""
    import matplotlib

    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    file = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / name
    if not file.is_file():
        raise FitmentError(
            f"{file} is gone, and no picture can be drawn without its letters; install matplotlib again."
        )
    return str(file)


@lru_cache(maxsize=1)
def _drawable() -> frozenset[int]:
    from matplotlib.font_manager import get_font

    return frozenset(get_font(_font_file(False)).get_charmap()) & frozenset(get_font(_font_file(True)).get_charmap())


def words(text: str, most: int = 60) -> str:
    """A name fit for a picture: one line, no longer than `most` characters, only characters the font has."""
    known = _drawable()
    clean = " ".join("".join(c if ord(c) in known else "?" for c in text.replace("\t", " ").replace("\n", " ")).split())
    return clean if len(clean) <= most else clean[: most - 1].rstrip() + "…"
