"""Slices of the space that tire and wheel sweep as DXF, millimetres, side by side. The only user of ezdxf."""

from __future__ import annotations

import io
from typing import Any

from fitment.answers.envelope import Envelope, Slice
from fitment.draw.printed.envelope_slices import BAR, area_of, crosses, references, rings, size_words, title_of
from fitment.errors import FitmentError
from fitment.report.envelope import short_limits

APART = 200.0  # [mm] between slices
LAYERS = {"OUTLINE": 7, "HOLLOW": 8, "MARKS": 5, "TEXT": 3}  # colours by their numbers


def check_library() -> None:
    """Raises FitmentError where ezdxf is not there."""
    try:
        import ezdxf  # noqa: F401
    except ImportError:
        raise FitmentError(
            "a .dxf is written with ezdxf, which is not installed: pip install ezdxf. Or write .svg."
        ) from None


def slices_dxf(found: Envelope) -> bytes:
    """The slices as closed polylines, with lines and crosses that a tape finds, each at its true size. Raises
    FitmentError without ezdxf.
    """
    check_library()
    from ezdxf import filemanagement, units

    document = filemanagement.new("R2010", units=units.MM)
    for name, colour in LAYERS.items():
        document.layers.add(name, color=colour)
    space, x = document.modelspace(), 0.0
    for each in found.slices:
        u0, _, u1, _ = area_of(each)
        _add(space, found, each, x - u0)
        x += max(u1 - u0, BAR) + APART
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def _add(space: Any, found: Envelope, each: Slice, shift: float) -> None:
    """One slice, moved along by so much: u = 0 lies at x = shift, v = 0 at y = 0."""
    u0, v0, u1, v1 = area_of(each)

    def line(a: tuple[float, float], b: tuple[float, float], layer: str = "MARKS") -> None:
        space.add_line((a[0] + shift, a[1]), (b[0] + shift, b[1]), dxfattribs={"layer": layer})

    def text(said: str, u: float, v: float, height: float) -> None:
        space.add_text(said, height=height, dxfattribs={"layer": "TEXT"}).set_placement((u + shift, v))

    for ring, hollow in rings(each):
        points = [(u + shift, v) for u, v in ring[:-1]]
        space.add_lwpolyline(points, close=True, dxfattribs={"layer": "HOLLOW" if hollow else "OUTLINE"})
    text(title_of(each), u0, v1 + 14, 8)
    text(size_words(each), u0, v1 + 4, 4)
    text(short_limits(found), u0, v0 - 22, 3)
    for u, v in crosses((u0, v0, u1, v1)):
        line((u - 3, v), (u + 3, v))
        line((u, v - 3), (u, v + 3))
        text(f"{u:g}, {v:g}", u + 1, v + 1, 2)
    for ref in references(found, each):
        line(*(((ref.at, v0), (ref.at, v1)) if ref.upright else ((u0, ref.at), (u1, ref.at))))
        text(ref.name, *((ref.at + 1, v0 + 1) if ref.upright else (u0 + 1, ref.at - 4)), 3)
    line((u0, v0 - 8), (u0 + BAR, v0 - 8))
    text("100 mm", u0, v0 - 14, 4)
