"""The brake at true size to print, cut out and offer to a wheel: the half plane (y', r) of the hub, 1:1.

y' runs to the right, outboard; r upwards, away from the wheel's axis. A check bar of 100 mm and one of 4 in are
measured after printing. What does not fit one sheet is laid over several, to be joined at crosses of the same name.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import shapely
from matplotlib.axes import Axes
from matplotlib.patches import Polygon

from fitment.draw.lettering import column, letter
from fitment.draw.printed.paper import (
    CROSS,
    MARGIN,
    Page,
    bar,
    fitted,
    new_page,
    paper_size,
    pdf,
    pitch,
    starts,
    window,
    wrap,
)
from fitment.draw.style import CHAIN, DASHED, DOTTED, HAIR, LIGHT, THIN, look, words
from fitment.errors import FitmentError
from fitment.parts.axle import Axle, Setup
from fitment.parts.brake import Outline
from fitment.parts.tables import specified_rim_diameter
from fitment.units import MM_PER_INCH, inches, length_text

GAP = 3.0  # [mm] kept round the brake; common practice, no published source
AROUND = 5.0  # [mm] drawn beyond the parts
CARRIER = 30.0  # [mm] least width of the piece that lies on the pad
PAD = 60.0  # [mm] radius to which the piece to cut out lies against the wheel's pad
HEAD, FOOT, LABELS = 26.0, 20.0, 52.0  # [mm] title above, bars below, words to the right
TINY, SMALL, BODY, TITLE = 5.5, 7.5, 8.5, 13.0  # [pt]
CALIPER, CALIPER_FILL, ROTOR = LIGHT.new, LIGHT.new_pale, LIGHT.old
STROKE = 0.9  # [pt] of the caliper's outline, its middle on the outline
BLACK = "#000000"
BARS = (100.0, 4 * MM_PER_INCH)  # [mm]


@dataclass(frozen=True)
class RadiusLabel:
    """A radius to be told beside the drawing [mm]."""

    r: float
    text: str


@dataclass(frozen=True)
class BrakeOutlines:
    """What is drawn: outlines (y', r), the wheel's mounting face at y' = `face` [mm], and the rim's seat, if known.

    clear : radius that the barrel must leave free; outboard : y' of the outermost place of the caliper [mm]
    """

    caliper: Outline
    rotor: Outline
    face: float
    seat: float | None
    register: tuple[float, float] | None

    @property
    def clear(self) -> float:
        return max(r for _, r in (*self.caliper, *self.rotor)) + GAP

    @property
    def outboard(self) -> float:
        return max(y for y, _ in self.caliper)

    @property
    def left(self) -> float:
        """y' of the inboard side of the piece that is cut out [mm]."""
        return min(min(y for y, _ in self.caliper) - GAP, self.face - CARRIER)

    def piece(self) -> shapely.Polygon:
        """What is cut out: the caliper with its gap, carried by a piece that lies on the wheel's pad."""
        shape = shapely.Polygon(self.caliper) if len(self.caliper) > 2 else shapely.LineString(self.caliper)
        around = shapely.buffer(shape, GAP, quad_segs=16)
        left, lowest = self.left, min(r for _, r in self.caliper)
        foot = max(y for y, r in self.caliper if r < lowest + 1.0)
        edge = min(foot, self.face)  # no wider than the caliper is there
        carrier = [shapely.box(left, 0.0, edge, lowest), shapely.box(left, 0.0, self.face, min(PAD, lowest))]
        arm = _inboard_of(around, left) if foot > self.face else []
        return shapely.union_all([around, *carrier, *arm])


def _inboard_of(shape: shapely.Polygon, left: float) -> list[shapely.Polygon]:
    """All between a shape and y' = left: a wheel that was slid over the shape has no metal there."""
    sides = pairwise(shape.exterior.coords)
    return [shapely.Polygon([a, b, (left, b[1]), (left, a[1])]) for a, b in sides if abs(a[1] - b[1]) > 1e-9]


def has_template(axle: Axle) -> bool:
    """Whether the caliper's outline is known."""
    return bool(axle.brake and axle.brake.caliper and axle.brake.caliper.outline)


def template_pages(
    axle: Axle, setup: Setup | None, name: str, build: str, *, paper: str = "a4", units: str = "mm"
) -> list[Page]:
    """The sheets of one axle. Raises FitmentError without a caliper outline.

    setup : tells spacer and rim, where the build names them
    """
    if not has_template(axle):
        raise FitmentError(
            f"the {axle.title} has no caliper outline, so there is no template; measure it and give it as "
            f"axles.{axle.name.split()[0]}.brake.caliper.outline."
        )
    brake = _brake(axle, setup)
    title = Title(axle.title, name, build, setup.wheel.spec if setup else "", paper)
    areas = _areas(brake, *paper_size(paper))
    several = f", sheet {{}} of {len(areas)}: join at crosses of one name" if len(areas) > 1 else ""
    with look():
        return [_page(brake, area, several.format(k), title, units) for k, area in enumerate(areas, 1)]


def template_pdf(sheets: Sequence[Sequence[Page]], name: str, build: str) -> bytes:
    """The sheets of every axle of a vehicle's build in one PDF."""
    return pdf([page.figure for pages in sheets for page in pages], f"Brake template: {name}, build {build}")


def _brake(axle: Axle, setup: Setup | None) -> BrakeOutlines:
    assert axle.brake is not None
    assert axle.brake.caliper is not None
    rotor, register = axle.brake.rotor, axle.hub.wheel_register if axle.hub else None
    return BrakeOutlines(
        caliper=axle.brake.caliper.outline,
        rotor=rotor.outline if rotor else (),
        face=setup.spacer.thickness if setup else 0.0,
        seat=specified_rim_diameter(setup.wheel.rim_diameter) / 2 if setup else None,
        register=(register.diameter / 2, register.length or 0.0) if register else None,
    )


# ---------------------------------------------------------------- what goes on which sheet


def _areas(brake: BrakeOutlines, width: float, height: float) -> list[tuple[float, float, float, float]]:
    """(y0, r0, y1, r1) of every sheet: one with the bead seat, one without it, or several."""
    ys = [y for y, _ in (*brake.caliper, *brake.rotor)]
    y0, y1 = min(*ys, 0.0, brake.left + GAP) - GAP - AROUND, max(*ys, brake.face, 0.0) + 3 * AROUND
    wide, tall = width - 2 * MARGIN - LABELS, height - 2 * MARGIN - HEAD - FOOT
    tops = [brake.clear + AROUND] if brake.seat is None else [brake.seat + AROUND, brake.clear + AROUND]
    for top in tops:
        if y1 - y0 <= wide and top + AROUND <= tall:
            return [(y0, -AROUND, y1, top)]
    columns, rows = starts(y0, y1, wide), starts(-AROUND, tops[-1], tall)
    return [(y, r, min(y + wide, y1), min(r + tall, tops[-1])) for r in reversed(rows) for y in columns]


# ---------------------------------------------------------------- drawing


@dataclass(frozen=True)
class Title:
    """Words of the heading."""

    axle: str
    vehicle: str
    build: str
    wheel: str
    paper: str


def _page(brake: BrakeOutlines, area: tuple[float, float, float, float], number: str, title: Title, units: str) -> Page:
    page = new_page(title.paper)
    corner = (MARGIN, MARGIN + FOOT)
    _head(page, brake, title, number, units)
    ax = window(page, corner, area)
    _crosses(ax, area)
    _lines(ax, brake, area)
    _parts(ax, brake)
    _labels(page, brake, area, corner, units)
    _bars(page)
    return page


def _head(page: Page, brake: BrakeOutlines, title: Title, number: str, units: str) -> None:
    top, room = page.height - MARGIN, page.width - 2 * MARGIN
    letter(page.ax, MARGIN, top, f"Brake template, {title.axle}{number}", BLACK, TITLE, va="top", bold=True)
    rim = f" For {words(title.wheel, 60)}." if title.wheel else ""
    spacer = f" With the spacer of {length_text(brake.face, units)}." if brake.face else ""
    paper = title.paper.upper() if title.paper == "a4" else title.paper
    printing = (
        f"Print on {paper} paper at 100 % (actual size, no scaling), then measure both bars below and the one at the "
        "right edge: if one is off by more than 0.5 mm, do not use it."
    )
    using = (
        f"Cut along the dashed line, which leaves {length_text(GAP, units)} round the caliper. Lay the edge of the "
        "mounting face on the wheel's pad, the axis in the middle of its bore, and turn it once round: nothing may "
        "touch."
    )
    lines = [
        fitted(f"{words(title.vehicle, 70)}, build {words(title.build, 40)}.{rim}{spacer}", room, BODY),
        *wrap(printing, room, BODY),
        *wrap(using, room, BODY),
    ]
    column(page.ax, MARGIN, top - 7, lines, pitch(BODY), BLACK, BODY, va="top")


def _crosses(ax: Axes, area: tuple[float, float, float, float]) -> None:
    """Every CROSS mm, named by y' and r: they join sheets, and a ruler between two checks the print."""
    y0, r0, y1, r1 = area
    for y in range(math.ceil(y0 / CROSS), math.floor(y1 / CROSS) + 1):
        for r in range(math.ceil(r0 / CROSS), math.floor(r1 / CROSS) + 1):
            at = (y * CROSS, r * CROSS)
            for dy, dr in ((3.0, 0.0), (0.0, 3.0)):
                ax.plot([at[0] - dy, at[0] + dy], [at[1] - dr, at[1] + dr], color=LIGHT.quiet, linewidth=HAIR)
            name = f"{at[0]:g}, {at[1]:g}"
            letter(ax, at[0] + 1, at[1] + 0.8, name, LIGHT.quiet, TINY, va="baseline", clip_on=True)


def _lines(ax: Axes, brake: BrakeOutlines, area: tuple[float, float, float, float]) -> None:
    y0, r0, y1, r1 = area
    ax.plot([0, 0], [max(r0, -AROUND), r1], color=LIGHT.ink, linewidth=THIN)
    if brake.face:
        ax.plot([brake.face] * 2, [max(r0, -AROUND), r1], color=LIGHT.ink, linewidth=THIN, linestyle=DASHED)
    ax.plot([y0, y1], [0, 0], color=LIGHT.ink, linewidth=THIN, linestyle=CHAIN)
    ax.plot([y0, y1], [brake.clear] * 2, color=LIGHT.quiet, linewidth=THIN, linestyle=DOTTED)
    if brake.seat is not None:
        ax.plot([y0, y1], [brake.seat] * 2, color=LIGHT.quiet, linewidth=THIN, linestyle=CHAIN)
    if brake.register is not None:
        r, length = brake.register
        ax.plot([0, max(length, 3.0), max(length, 3.0)], [r, r, max(r0, 0)], color=LIGHT.quiet, linewidth=THIN)


def _parts(ax: Axes, brake: BrakeOutlines) -> None:
    ax.plot(*zip(*brake.piece().exterior.coords, strict=True), color=LIGHT.ink, linewidth=THIN, linestyle=DASHED)
    if len(brake.caliper) > 2:
        ax.add_patch(
            Polygon(
                brake.caliper, closed=True, facecolor=CALIPER_FILL, edgecolor=CALIPER, linewidth=STROKE,
                joinstyle="miter",
            )
        )  # fmt: skip
    else:
        ax.plot(*zip(*brake.caliper, strict=True), color=CALIPER, linewidth=STROKE, solid_capstyle="butt")
    if len(brake.rotor) > 2:
        ax.add_patch(Polygon(brake.rotor, closed=True, facecolor="none", edgecolor=ROTOR, linewidth=STROKE))
    elif brake.rotor:
        ax.plot(*zip(*brake.rotor, strict=True), color=ROTOR, linewidth=2 * STROKE, solid_capstyle="butt")


def _labels(
    page: Page, brake: BrakeOutlines, area: tuple[float, float, float, float], corner: tuple[float, float], units: str
) -> None:
    """Words at the right of the drawing, each at its radius or as near as the others let it."""
    y0, r0, y1, r1 = area
    left = corner[0] + y1 - y0 + 4
    room = page.width - MARGIN - left - 6
    told = sorted((label for label in _levels(brake, units) if label.r >= r0), key=lambda each: each.r, reverse=True)
    free = corner[1] + r1 - r0
    for label in told if not r1 < brake.clear else ():
        lines = wrap(label.text, room, SMALL)
        at = corner[1] + label.r - r0
        top = min(at + pitch(SMALL) / 2, free)
        if label.r <= r1:
            page.ax.plot([left - 4, left - 1], [at, top - pitch(SMALL) / 2], color=LIGHT.quiet, linewidth=HAIR)
        column(page.ax, left, top, lines, pitch(SMALL), LIGHT.ink, SMALL, va="top")
        free = top - len(lines) * pitch(SMALL) - 1.2
    _face_words(page, brake, area, corner, units)


def _levels(brake: BrakeOutlines, units: str) -> list[RadiusLabel]:
    top = max(r for _, r in brake.caliper)
    levels = [
        RadiusLabel(
            brake.clear,
            f"Least clear radius of the barrel {_both(brake.clear, units)}: a clear diameter of "
            f"{_both(2 * brake.clear, units)}, with {length_text(GAP, units)} round the brake. Ask the seller.",
        ),
        RadiusLabel(top, f"Caliper, radius {_both(top, units)}"),
        RadiusLabel(0.0, "Axis of the wheel"),
    ]
    if brake.rotor:
        edge = max(r for _, r in brake.rotor)
        levels.append(RadiusLabel(edge, f"Rotor, radius {_both(edge, units)}"))
    if brake.seat is not None:
        levels.append(RadiusLabel(brake.seat, f"Bead seat of this rim, radius {_both(brake.seat, units)}"))
    if brake.register is not None:
        levels.append(RadiusLabel(brake.register[0], f"Wheel register, diameter {_both(2 * brake.register[0], units)}"))
    return levels


def _both(mm: float, units: str) -> str:
    return f"{length_text(mm, units)} ({inches(mm)})" if units == "in" else length_text(mm, units)


def _face_words(
    page: Page, brake: BrakeOutlines, area: tuple[float, float, float, float], corner: tuple[float, float], units: str
) -> None:
    """The lines of the mounting face named along themselves, and the directions."""
    y0, r0, y1, _ = area
    x = corner[0] - y0
    what = "Hub face" if brake.face else "Hub face (mounting face)"
    named = [(0.0, what)] + ([(brake.face, "Wheel's mounting face")] if brake.face else [])
    for y, text in named if r0 < PAD else ():
        if not y0 <= y <= y1:
            continue
        letter(page.ax, x + y + 0.8, corner[1] + 54.0 - r0, text, LIGHT.ink, SMALL, va="bottom", rotation=90)
    behind = brake.face - brake.outboard
    side = "behind" if behind >= 0 else "in front of"
    told = (
        f"inboard ←  → outboard.  Caliper's outboard side {_both(abs(behind), units)} {side} the mounting face.  "
        "Crosses: distance from the hub face, radius [mm]."
    )
    letter(page.ax, corner[0], corner[1] - 1.5, told, BLACK, SMALL, va="top")


def _bars(page: Page) -> None:
    """Two bars across and one upright, with ticks of 10 mm and of 1 in."""
    x, level = MARGIN, MARGIN + 9
    for length, step, text in ((BARS[0], 10.0, "100 mm"), (BARS[1], MM_PER_INCH, "4 in")):
        bar(page.ax, (x, level), (1.0, 0.0), length, step)
        letter(page.ax, x + length + 2, level, text, BLACK, BODY, bold=True)
        level -= 6.5
    right = page.width - MARGIN + 1
    bar(page.ax, (right, MARGIN + FOOT + 10), (0.0, 1.0), BARS[0], 10.0)
    middle = MARGIN + FOOT + 10 + BARS[0] / 2
    letter(page.ax, right - 1.5, middle, "100 mm", BLACK, BODY, bold=True, ha="right", rotation=90)
