"""Slices of the space that tire and wheel sweep, at true size: on several sheets of paper to be joined, or as SVG.

Crosses are named by their distances from what a tape finds: axle line, centre plane, hub centre. A check bar of
100 mm is measured after printing.
"""

from __future__ import annotations

import html
import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import shapely
from matplotlib.axes import Axes

from fitment.answers.envelope import Envelope, Slice
from fitment.draw.lettering import column, letter
from fitment.draw.printed.paper import (
    MARGIN,
    Page,
    fitted,
    new_page,
    paper_size,
    pdf,
    pitch,
    window,
    wrap,
)
from fitment.draw.printed.true_size import CROSS, bar, starts
from fitment.draw.style import CHAIN, DASHED, HAIR, LIGHT, THIN, look, words
from fitment.report.envelope import short_limits
from fitment.units import length_text

AROUND = 8.0  # [mm] drawn beyond the outline
HEAD, FOOT = 40.0, 14.0  # [mm] title above, bar below
KEY = 24.0  # [mm] of the small picture that tells which sheet this is
TINY, SMALL, BODY, TITLE = 5.5, 7.5, 8.5, 12.0  # [pt]
OUTLINE = 0.8  # [pt], its middle on the outline
BLACK = "#000000"
BAR = 100.0  # [mm]
SEEN = {
    "x": "seen from ahead: the vehicle's left is to the right",
    "y": "seen from the vehicle's right: forward is to the right",
    "z": "seen from above: forward is to the right",
}
PLANES = {"x": "across the vehicle", "y": "lengthwise", "z": "level"}
AHEAD, LEFT, UP = "from the axle line, + ahead", "from the centre plane, + left", "from the hub centre, + up"
CROSSES = {"x": (LEFT, UP), "y": (AHEAD, UP), "z": (AHEAD, LEFT)}
Area = tuple[float, float, float, float]


@dataclass(frozen=True)
class Reference:
    """A line that a tape finds; upright : across the drawing at u = at [mm], else along it at v = at."""

    upright: bool
    at: float
    name: str


def title_of(each: Slice) -> str:
    """What a slice is called on paper."""
    return f"Slice {each.name} mm, {PLANES[each.way]}"


def area_of(each: Slice) -> Area:
    """What is drawn of a slice (u0, v0, u1, v1) [mm]."""
    u0, v0, u1, v1 = each.shape.bounds
    return u0 - AROUND, v0 - AROUND, u1 + AROUND, v1 + AROUND


def references(found: Envelope, each: Slice) -> tuple[Reference, ...]:
    """The lines that a tape finds which run through what is drawn."""
    axle, centre = Reference(True, 0.0, "axle line"), "centre plane"
    level = (Reference(False, 0.0, "hub centre, as measured"), Reference(False, found.floor, "floor, as measured"))
    every = {
        "x": (Reference(True, 0.0, centre), *level),
        "y": (axle, *level),
        "z": (axle, Reference(False, 0.0, centre)),
    }[each.way]
    u0, v0, u1, v1 = area_of(each)
    return tuple(line for line in every if (u0 < line.at < u1 if line.upright else v0 < line.at < v1))


def crosses(area: Area) -> Iterator[tuple[float, float]]:
    """Places every CROSS mm in an area [mm]."""
    u0, v0, u1, v1 = area
    for u in range(math.ceil(u0 / CROSS), math.floor(u1 / CROSS) + 1):
        for v in range(math.ceil(v0 / CROSS), math.floor(v1 / CROSS) + 1):
            yield u * CROSS, v * CROSS


def rings(each: Slice) -> Iterator[tuple[list[tuple[float, float]], bool]]:
    """The outlines of a slice (u, v) [mm], and whether it is that of a hollow."""
    for part in getattr(each.shape, "geoms", [each.shape]):
        yield list(part.exterior.coords), False
        for hole in part.interiors:
            yield list(hole.coords), True


def size_words(each: Slice) -> str:
    """How far a slice reaches both ways, from what a tape finds [mm]."""
    u0, v0, u1, v1 = each.shape.bounds
    across, up = (way for way in "xyz" if way != each.way)
    return f"{across} {u0:.1f} to {u1:.1f}, {up} {v0:.1f} to {v1:.1f} mm"


# ---------------------------------------------------------------- paper


def slices_pdf(found: Envelope, *, paper: str = "a4") -> bytes:
    """The slices at true size on sheets of paper to be joined."""
    pages = slice_pages(found, paper=paper)
    return pdf([page.figure for page in pages], f"Swept space: {found.vehicle}, {found.axle.title}")


def slice_pages(found: Envelope, *, paper: str = "a4") -> list[Page]:
    """Every sheet of every slice; those on which no outline would lie are left out."""
    with look():
        return [page for each in found.slices for page in _pages(found, each, paper)]


def _pages(found: Envelope, each: Slice, paper: str) -> Iterator[Page]:
    width, height = paper_size(paper)
    u0, v0, u1, v1 = area_of(each)
    wide, tall = width - 2 * MARGIN, height - 2 * MARGIN - HEAD - FOOT
    tiles = [
        (u, v, min(u + wide, u1), min(v + tall, v1))
        for v in reversed(starts(v0, v1, tall))
        for u in starts(u0, u1, wide)
    ]
    tiles = [tile for tile in tiles if each.shape.boundary.intersects(shapely.box(*tile))]
    for k, tile in enumerate(tiles):
        page = new_page(paper)
        _head(page, found, each, f", sheet {k + 1} of {len(tiles)}" if len(tiles) > 1 else "")
        _key(page, each, tiles, k)
        ax = window(page, (MARGIN, MARGIN + FOOT), tile)
        _crosses(ax, tile)
        _references(ax, found, each, tile)
        for ring, hollow in rings(each):
            ax.plot(*zip(*ring, strict=True), color=BLACK, linewidth=OUTLINE, linestyle=DASHED if hollow else "-")
        ax.set_xlim(tile[0], tile[2])
        ax.set_ylim(tile[1], tile[3])
        bar(page.ax, (MARGIN, MARGIN + 5), (1.0, 0.0), BAR, 10.0)
        letter(page.ax, MARGIN + BAR + 2, MARGIN + 5, "100 mm", BLACK, BODY, bold=True)
        across, up = CROSSES[each.way]
        told = f"Crosses [mm]: {across}; {up}."
        letter(page.ax, MARGIN, MARGIN - 1.5, told, BLACK, SMALL, va="bottom")
        yield page


def _head(page: Page, found: Envelope, each: Slice, number: str) -> None:
    top, room = page.height - MARGIN, page.width - 2 * MARGIN - KEY - 4
    letter(page.ax, MARGIN, top, f"{title_of(each)}{number}", BLACK, TITLE, va="top", bold=True)
    builds = ", ".join(dict.fromkeys(one.build for one in found.builds))
    around = f" and {length_text(found.extra)} round it" if found.extra else ""
    lines = [
        fitted(f"{words(found.vehicle, 60)}, {found.axle.title}, {words(builds, 50)}", room, BODY),
        *wrap(f"The space that tire and wheel sweep{around}; {SEEN[each.way]}. {size_words(each)}.", room, BODY),
        *wrap(
            "Print at 100 %, measure the bar below: off by more than 0.5 mm, do not use it. Join sheets at crosses of "
            "one name. Dashed: the hollow of the wheel.",
            room,
            BODY,
        ),
        *wrap(short_limits(found), room, BODY),
    ]
    column(page.ax, MARGIN, top - 6.5, lines, pitch(BODY), BLACK, BODY, va="top")


def _key(page: Page, each: Slice, tiles: list[Area], here: int) -> None:
    """Where this sheet lies among all of them."""
    u0, v0, u1, v1 = area_of(each)
    scale = min(KEY / (u1 - u0), (HEAD - 4) / (v1 - v0))
    left, bottom = page.width - MARGIN - (u1 - u0) * scale, page.height - MARGIN - (v1 - v0) * scale

    def drawn(ring: list[tuple[float, float]], **look: Any) -> None:
        at = [(left + (u - u0) * scale, bottom + (v - v0) * scale) for u, v in ring]
        page.ax.plot(*zip(*at, strict=True), **look)

    for ring, hollow in rings(each):
        if not hollow:
            drawn(ring, color=LIGHT.quiet, linewidth=HAIR)
    a, b, c, d = tiles[here]
    drawn([(a, b), (c, b), (c, d), (a, d), (a, b)], color=BLACK, linewidth=THIN)


def _crosses(ax: Axes, tile: Area) -> None:
    for u, v in crosses(tile):
        for du, dv in ((3.0, 0.0), (0.0, 3.0)):
            ax.plot([u - du, u + du], [v - dv, v + dv], color=LIGHT.quiet, linewidth=HAIR)
        letter(ax, u + 1, v + 0.8, f"{u:g}, {v:g}", LIGHT.quiet, TINY, va="baseline", clip_on=True)


def _references(ax: Axes, found: Envelope, each: Slice, tile: Area) -> None:
    u0, v0, u1, v1 = tile
    for line in references(found, each):
        if line.upright and u0 < line.at < u1:
            ax.plot([line.at] * 2, [v0, v1], color=LIGHT.ink, linewidth=THIN, linestyle=CHAIN)
            letter(ax, line.at - 0.8, v0 + 12, line.name, LIGHT.ink, SMALL, va="bottom", ha="right", rotation=90)
        elif not line.upright and v0 < line.at < v1:
            ax.plot([u0, u1], [line.at] * 2, color=LIGHT.ink, linewidth=THIN, linestyle=CHAIN)
            letter(ax, u0 + 12, line.at - 0.8, line.name, LIGHT.ink, SMALL, va="top")


# ---------------------------------------------------------------- SVG


def slices_svg(found: Envelope) -> bytes:
    """The slices side by side at true size, a group each; millimetres."""
    x, tallest, groups = 0.0, 0.0, list[str]()
    for each in found.slices:
        u0, v0, u1, v1 = area_of(each)
        groups += _group(found, each, x)
        x, tallest = x + max(u1 - u0, 2 * BAR) + CROSS, max(tallest, v1 - v0 + 2 * AROUND + 14)
    size = f'width="{x:.1f}mm" height="{tallest:.1f}mm" viewBox="0 0 {x:.1f} {tallest:.1f}"'
    head = f'<svg xmlns="http://www.w3.org/2000/svg" {size} font-family="sans-serif" font-size="4">'
    name = html.escape(f"Swept space: {words(found.vehicle, 60)}, {found.axle.title}")
    return "\n".join(
        ['<?xml version="1.0" encoding="UTF-8"?>', head, f"<title>{name}</title>", *groups, "</svg>", ""]
    ).encode()


def _group(found: Envelope, each: Slice, x: float) -> Iterator[str]:
    """One slice; its upper left corner at x, 0."""
    u0, v0, u1, v1 = area_of(each)

    def at(u: float, v: float) -> str:
        return f"{x + u - u0:.3f} {v1 - v + 14:.3f}"

    def line(a: tuple[float, float], b: tuple[float, float], width: float, more: str = "") -> str:
        return f'<path d="M{at(*a)}L{at(*b)}" stroke="#555" stroke-width="{width}" fill="none"{more}/>'

    def text(u: float, v: float, said: str, size: float) -> str:
        left, top = at(u, v).split()
        return f'<text x="{left}" y="{top}" font-size="{size}">{html.escape(said)}</text>'

    yield f'<g id="slice-{each.name.replace("=", "-")}">'
    yield text(u0, v1 + 8, title_of(each), 5)
    yield text(u0, v0 - 4, short_limits(found), 3)
    yield text(u0, v1 + 2, f"{SEEN[each.way]}; {size_words(each)}", 3)
    for ring, hollow in rings(each):
        dashes = ' stroke-dasharray="3 2"' if hollow else ""
        path = "M" + "L".join(at(u, v) for u, v in ring[:-1]) + "Z"
        kind = "hollow" if hollow else "outline"
        yield f'<path class="{kind}" d="{path}" fill="none" stroke="#000" stroke-width="0.3"{dashes}/>'
    for u, v in crosses((u0, v0, u1, v1)):
        yield line((u - 3, v), (u + 3, v), 0.1) + line((u, v - 3), (u, v + 3), 0.1)
        yield text(u + 1, v + 0.8, f"{u:g}, {v:g}", 2)
    for ref in references(found, each):
        ends = ((ref.at, v0), (ref.at, v1)) if ref.upright else ((u0, ref.at), (u1, ref.at))
        yield line(*ends, 0.2, ' stroke-dasharray="8 2 2 2"')
        yield text(*((ref.at + 1, v0 + 1) if ref.upright else (u0 + 1, ref.at - 4)), ref.name, 3)
    yield line((u0, v0 - 2), (u0 + BAR, v0 - 2), 0.2, ' class="bar"') + text(u0, v0 - 7, "100 mm", 4)
    yield "</g>"
