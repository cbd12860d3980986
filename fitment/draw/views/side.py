"""The side view: tire and wheel under the edges of the body that pass above them, and the upright gap to each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from matplotlib.artist import Artist
from matplotlib.axes import Axes

from fitment.checks.case import Case
from fitment.checks.posed_case import AnyCase
from fitment.clearance.trace import Corners
from fitment.draw import case_parts
from fitment.draw.labels import place_labels
from fitment.draw.panel import Area, Panel, area_of
from fitment.draw.projection import SIDE, PosedHub, circle, on_page, silhouette
from fitment.draw.scene import Height, Shown, shown
from fitment.draw.style import BOLD, DASHED, DASHED_BAR, HAIR, LIGHT, THIN, Theme, words
from fitment.frames import Array
from fitment.units import length_text

SIDE_MARGINS = (8.0, 8.0, 24.0, 54.0)  # [pt] left, right, bottom, top
ABOVE = 100.0  # [mm] over the hub's centre: what passes lower is no edge above the wheel
UNKNOWN_BORE = 70.0  # [mm] drawn where the wheel's spec does not tell its centre bore
BOLT_HOLE = 16.0  # [mm] drawn diameter


@dataclass(frozen=True)
class Edge:
    """An edge above the wheel: its name, its line in the side view (n, 2) and its radius [mm].

    before : where it was in the old case, if the new one moves or trims it
    """

    name: str
    line: Array
    radius: float
    before: Edge | None = None

    def above(self, x: float) -> float | None:
        """Underside of the edge above a place x [mm], None where it does not reach."""
        order = np.argsort(self.line[:, 0])
        xs, zs = self.line[order].T
        return float(np.interp(x, xs, zs)) - self.radius if xs[0] <= x <= xs[-1] else None


def edges_above(case: Case, old: Case | None = None) -> list[Edge]:
    """The bodywork's edges that pass above the hub, the lowest first; which edges those are the cover check tells."""
    before = {} if old is None else {edge.name: edge for edge in edges_above(old)}
    covering = [edge.name for edge in case.ready.edges_over_tread]
    x, least = float(case.fit.axle.hub_face_at[0]), float(case.fit.axle.hub_face_at[2]) + ABOVE
    above: list[tuple[float, Edge]] = []
    for trace in case.fit.traces:
        if trace.obstacle.name not in covering:
            continue
        name, line = trace.obstacle.name, on_page(_body_line(case, trace.hub), SIDE)
        here = Edge(name, line, trace.obstacle.radius, before.get(name) if trace.obstacle.rework else None)
        height = here.above(x)
        if height is not None and height > least:
            above.append((height, here))
    return [edge for _, edge in sorted(above, key=lambda each: each[0])]


def _body_line(case: Case, hub: Corners) -> Array:
    """An edge of the body in the body frame, from how the hub sees it in the first pose."""
    poses = case.fit.poses
    return np.asarray(hub[0] @ poses.rotation[0].T + poses.origin[0])


def side_view(
    ax: Axes,
    new: Case,
    old: Case | None = None,
    *,
    travel: Height,
    title: str = "",
    caption: str = "",
    units: str = "mm",
    theme: Theme = LIGHT,
    area: Area | None = None,
) -> list[Artist]:
    """Under the edges above the wheel, straight ahead, seen from the vehicle's left: forward is left.

    travel : [mm], 'droop' or 'bump', or None for each case's own ride height
    """
    both = shown(new, old, travel=travel)
    panel = Panel(ax, theme)
    edges = edges_above(new, old)
    panel.fit(area or side_area([both], edges), SIDE_MARGINS, (SIDE.across_flipped, SIDE.up_flipped))
    panel.heading(title or "At rest", caption or _gap_words(both, edges, units), "◀ front")
    drawn = panel.drawing_area()
    for edge in edges:
        panel.area(shapely.LineString(edge.line).intersection(drawn), edge=theme.part, width=BOLD, layer=4)
        if edge.before:
            was = shapely.LineString(edge.before.line).intersection(drawn)
            panel.area(was, edge=theme.part, width=THIN, style=DASHED, layer=3.9)
        middle = edge.line[int(np.argmin(np.abs(edge.line[:, 0] - 0.55 * edge.line[:, 0].max())))]
        panel.wish(words(edge.name, 20), middle, theme.ink, optional=True, prefer=(-0.6, 0.8))
    for case, at, is_old in both.both():
        _wheel(panel, case, at, is_old)
    case_parts.ground(panel, both, named=False)
    if edges:
        _gap_bars(panel, both, edges[0])
    place_labels(panel)
    return panel.artists


def side_area(views: Sequence[Shown], edges: Sequence[Edge]) -> Area:
    """The area that the side views of all these need."""
    points = [silhouette(case.fit.tire, at, SIDE) for both in views for case, at, _ in both.both()]
    tires = np.concatenate(points)
    wide = 0.15 * np.ptp(tires[:, 0])
    for edge in edges:
        inside = (edge.line[:, 0] > tires[:, 0].min() - wide) & (edge.line[:, 0] < tires[:, 0].max() + wide)
        points.append(edge.line[inside])
    return area_of(points)


def gap_above(case: AnyCase, at: PosedHub, edge: Edge) -> float | None:
    """Upright distance from the top of the tire to the edge above it [mm]; negative = the tire stands higher."""
    height = edge.above(float(at.origin[0]))
    return None if height is None else height - float(silhouette(case.fit.tire, at, SIDE)[:, 1].max())


def _edge_of(edge: Edge, is_old: bool) -> Edge:
    return edge.before or edge if is_old else edge


def _gap_words(both: Shown, edges: Sequence[Edge], units: str) -> str:
    """The lowest edge's name and the gap to it, old to new."""
    gaps = [gap_above(case, at, _edge_of(edges[0], is_old)) for case, at, is_old in both.both()] if edges else []
    texts = [length_text(gap, units, digits=0) for gap in gaps if gap is not None]
    if not texts:
        return "no edge measured above it"
    return f"to {words(edges[0].name, 14)} {' → '.join(texts)}"


def _gap_bars(panel: Panel, both: Shown, edge: Edge) -> None:
    """An upright bar from the top of each tire to the edge above it."""
    beside = 0.0 if both.old is None else 5.0 * panel.per_pt
    for case, at, is_old in both.both():
        own = _edge_of(edge, is_old)
        gap, top = gap_above(case, at, own), own.above(float(at.origin[0]))
        if gap is None or top is None:
            continue
        x = float(at.origin[0]) + (beside if is_old else -beside)
        color = panel.theme.outline(is_old)
        panel.line([(x, top), (x, top - gap)], color, width=2 * BOLD, style=DASHED_BAR if is_old else "-", layer=6)


def _wheel(panel: Panel, case: AnyCase, at: PosedHub, is_old: bool) -> None:
    theme = panel.theme
    outer, disc = silhouette(case.fit.tire, at, SIDE), circle(*_rim(case), at, SIDE)
    if is_old:
        panel.old_outline(outer)
        panel.line(disc, theme.old, width=THIN, style=DASHED, layer=3)
        return
    panel.area(outer, edge=theme.new, fill=theme.new_tire, layer=2)
    panel.area(disc, edge=theme.new, fill=theme.new_wheel, width=THIN, layer=2.1)
    _bolt_holes(panel, case, at)


def _bolt_holes(panel: Panel, case: AnyCase, at: PosedHub) -> None:
    """Centre bore and bolt holes, so that the wheel reads as a wheel."""
    wheel, theme = case.fit.setup.wheel, panel.theme
    face = case.fit.setup.spacer.thickness
    bore = circle(face, (wheel.centre_bore or UNKNOWN_BORE) / 2, at, SIDE)
    panel.area(bore, edge=theme.new, fill=theme.panel, width=HAIR, layer=2.2)
    if wheel.bolt_circle is None:
        return
    angle = np.pi / 2 + np.arange(wheel.bolt_circle.lugs) * 2 * np.pi / wheel.bolt_circle.lugs
    r = wheel.bolt_circle.diameter / 2
    hub = np.stack([r * np.cos(angle), np.full_like(angle, face), r * np.sin(angle)], -1)
    for centre in on_page(at.body(hub), SIDE):
        hole = shapely.Point(centre).buffer(BOLT_HOLE / 2)
        panel.area(hole, edge=theme.new, fill=theme.panel, width=HAIR, layer=2.2)


def _rim(case: AnyCase) -> tuple[float, float]:
    """(y', r) of the rim's outboard edge."""
    y, r = np.array(case.fit.wheel.exterior.coords).T
    top = int(np.argmax(y + 1e-3 * r + (r > 0.9 * r.max()) * 1e4))
    return float(y[top]), float(r.max())
