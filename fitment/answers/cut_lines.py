"""Where a panel or a lip must be cut so that every required clearance is kept, and by how much.

Each place of the part is held against tire and wheel by itself, through all poses: as measured with what is required,
in the worst case with nothing touching, which is the rule for the verdict. What lies below the line must go; what is
left beyond it is kept by itself, since each place of it was looked at.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from fitment.checks.case import Case
from fitment.clearance.point_clearance import PointField
from fitment.clearance.pose_grid import sweep
from fitment.clearance.sheet_levels import Level, LevelLines, TriangleSheet, Values, divided, level_lines
from fitment.clearance.worst_case import sections_of
from fitment.corners import side_of
from fitment.errors import FitmentError, did_you_mean, named_in_a_row
from fitment.frames import Array
from fitment.parts.flat_sheet import FlatPiece, pieces_laid_flat
from fitment.parts.obstacles import Obstacle, Part, Point, core, fixed_to_hub
from fitment.parts.reshaped import edge_outward
from fitment.parts.solid_panel import sheet_triangles
from fitment.progress import doing
from fitment.scans.laid_grid import GridOver, grid_over
from fitment.workers import Map, worker_pool

TIGHTEST = "tightest"  # asks for the part that is short by most
MORE = 5.0  # [mm] beyond what is required, of the third line
FINEST, FINE = 6.0, 12.0  # [mm] of a triangle's side where a line to cut along passes, and where another does
GONE = -2.0  # [mm] of margin below which it does not matter how short a place is
LIP_DEPTH = 60.0  # [mm] to which it is looked how much of a lip must go; common practice, no published source
FEW = 3  # flat pieces that are all shown
BESIDE = 40.0  # [mm] from what goes of a scan, where marks stand
LEAST_AREA = 1.0  # [mm^2] of a piece that is told
LEAST_EDGE, EDGE_STEP = 1.0, 2.0  # [mm] of the part's own edge that make a notch; between places looked at on it
TOGETHER = 1e-7  # share of the plan's width within which pieces are one
ALL = 0.999  # share of a part that is all of it
MOST_GONE = 0.75  # share of a part of which cutting more does not serve; a rule of our own, no published source
STRUCTURE = frozenset({
    "frame", "horn", "rail", "apron", "crossmember", "subframe", "pillar", "chassis", "tower", "sill", "rocker",
    "strut", "unibody", "longeron", "longitudinal",
})  # fmt: skip
Kind = Literal["edge", "notch", "hole", "all"]
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class CutPiece:
    """What must go in one piece.

    kind : along an edge that is rolled or trimmed; a notch from the panel's edge; a hole within it; all of the part
    deep, long : how far from the edge, and along it [mm]; of a hole its narrow and its long side
    area : [mm] squared
    clock : hours [-] where it begins, ends and is deepest, o'clock as seen from outside the left side
    more : a lip must go by more than was looked at
    """

    kind: Kind
    deep: float
    long: float
    area: float
    clock: tuple[float, float, float]
    more: bool = False


@dataclass(frozen=True)
class CutLine:
    """A line to cut along, by one reading of what is kept; pieces : what goes, the largest first."""

    line: LevelLines
    pieces: tuple[CutPiece, ...]


@dataclass(frozen=True)
class FlatPoint:
    """A measured point where it lies flat.

    name : its number, such as 2.3 for the third of the second row; of a scan a letter
    at : place in its piece [mm]; place : from the hub face's centre, ahead, out and up [mm]
    """

    name: str
    at: tuple[float, float]
    piece: int
    place: Point


@dataclass(frozen=True)
class CutLines:
    """The lines of one part.

    sheet : the part, divided where lines pass; points : the measured ones
    touching, required, more : lines of equal clearance as measured: none, what is required, MORE beyond that
    kept : the line to cut along, required clearances as measured and nothing touching in the worst case; nominal : the
        same as measured alone
    flat : how a panel was laid flat; empty for a lip, whose length runs along x and the depth of the cut along y
    centre : of the hub's face, body frame at the reference pose [mm]
    over : of a scan the grid that stands for it, and is the obstacle here
    side : left or right, empty where both are alike; of the right one places are as in a mirror, flat pieces are not
    has_service : what happens in service is looked at on this axle; it is not counted here
    """

    obstacle: Obstacle
    sheet: TriangleSheet
    points: tuple[FlatPoint, ...]
    touching: LevelLines
    required: LevelLines
    more: LevelLines
    kept: CutLine
    nominal: CutLine
    flat: tuple[FlatPiece, ...]
    centre: Point
    over: GridOver | None = None
    has_service: bool = False
    side: str = ""

    @property
    def is_lip(self) -> bool:
        """Whether it is an edge."""
        return not self.flat

    @property
    def lip(self) -> Array:
        """Of a lip the places along its edge, and those LIP_DEPTH above (n, 2, 3) [mm]."""
        assert self.is_lip
        base = core(self.obstacle)
        way = np.insert(edge_outward(self.obstacle.name, base, self.centre), 1, 0.0, axis=1)
        return np.stack([base, base + LIP_DEPTH * way], 1)

    @property
    def is_short(self) -> bool:
        """Whether anything must go."""
        return bool(self.kept.pieces)

    @property
    def has_joins(self) -> bool:
        """Whether a place is marked on two pieces, which join there."""
        return len({point.name for point in self.points}) < len(self.points) and self.over is not None

    @property
    def gone(self) -> float:
        """The share of a panel that must go [-]; of a lip none, since its sheet is only looked at to a depth."""
        whole = 0.0 if self.is_lip else float(shapely.area(shapely.polygons(_flat_faces(self.sheet))).sum())
        return sum(piece.area for piece in self.kept.pieces) / whole if whole else 0.0

    @property
    def serves(self) -> bool:
        """Whether enough of it is left that cutting serves."""
        return self.gone <= MOST_GONE

    @property
    def is_structural(self) -> bool:
        """Whether its name says that it carries the vehicle."""
        return is_structural(self.obstacle.name)

    @property
    def stretch(self) -> tuple[float, float]:
        """By how much lengths are off where it lies flat, at most: as a share [-], and of its longest line [mm]."""
        return max((own.flat.stretch for own in self.flat), default=0.0), max(
            (own.flat.off for own in self.flat), default=0.0
        )

    @property
    def shown(self) -> tuple[int, ...]:
        """The pieces that a picture shows: of many those of which something must go."""
        pieces = tuple(range(self.sheet.flat.shape[1]))
        cut = tuple(piece for piece in pieces if np.any(self.kept.line.piece == piece))
        return cut if cut and len(pieces) > FEW else pieces

    def folds(self, piece: int) -> tuple[Array, ...]:
        """Where a scan's sheet is folded within one piece, each (n, 2) [mm]. Source: its columns."""
        if self.over is None or not self.over.folds:
            return ()
        own = self.flat[piece]
        first, last = own.columns
        corners = own.flat.corners.reshape(-1, last - first, 2)
        return tuple(corners[:, fold - first] for fold in self.over.folds if first < fold < last - 1)

    def outline(self, piece: int) -> BaseGeometry:
        """One piece, flat [mm]. Source: its triangles together."""
        own = self.sheet.faces[self.sheet.piece == piece]
        return shapely.union_all(shapely.polygons(self.sheet.flat[own, piece]))

    def ways(self, piece: int) -> Array:
        """How body x, y, z grow across and up one flat piece, as a whole (3, 2) [-]. Source: least squares."""
        own = np.unique(self.sheet.faces[self.sheet.piece == piece])
        flat, solid = self.sheet.flat[own, piece], self.sheet.places[own, 0]
        return np.asarray(np.linalg.lstsq(flat - flat.mean(axis=0), solid - solid.mean(axis=0), rcond=None)[0].T)


def is_structural(name: str) -> bool:
    """Whether a part's name says that it carries the vehicle. Source: the words of STRUCTURE, the trade's."""
    return any({word, word.removesuffix("s")} & STRUCTURE for word in re.findall("[a-z]+", name.lower()))


def lines_to_cut(case: Case, part: str = TIGHTEST, *, processes: int = 1) -> CutLines:
    """The cut lines of the part that is named, or of the one that is short by most. Raises FitmentError.

    processes : among which its places are spread
    Source: `lines_of`.
    """
    if part == TIGHTEST:
        obstacle = _tightest(case)
    else:
        obstacle = _named(case, part)
        reason = not_cut(obstacle)
        if reason:
            raise FitmentError(f"part {part}: {reason}")
    with doing(f"where {obstacle.name} must be cut"):
        return lines_of(case, obstacle, processes=processes)


def has_part(case: Case, part: str) -> bool:
    """Whether an axle has a part of that name."""
    return any(obstacle.name == part for obstacle in case.fit.axle.obstacles)


def cannot_cut(case: Case) -> bool:
    """Whether an axle has no part that could be cut."""
    return not list(_could_be_cut(case))


def lines_of_same(case: Case, other: CutLines) -> CutLines | None:
    """The lines of the same part in another case; None where it is not there, or laid flat otherwise. As `lines_of`."""
    own = next((o for o in case.fit.obstacles if o.name == other.obstacle.name), None)
    alike = own is not None and (own.shape, own.points, own.columns) == (
        other.obstacle.shape, other.obstacle.points, other.obstacle.columns,
    )  # fmt: skip
    return lines_of(case, own) if own is not None and alike and not not_cut(own) else None


def _named(case: Case, part: str) -> Obstacle:
    names = {obstacle.name: obstacle for obstacle in case.fit.axle.obstacles}
    unknown = dict(case.fit.not_checked)
    if part in unknown:
        raise FitmentError(f"part {part}: it is not checked, because {unknown[part]}.")
    if part not in names:
        hint = did_you_mean(part, names)
        known = named_in_a_row(tuple(names)) or "none"
        raise FitmentError(f"part {part}: the {case.fit.axle.title} has none of that name.{hint} It has: {known}.")
    return names[part]


def not_cut(obstacle: Obstacle) -> str:
    """Why no line is drawn on a part, and what to do instead; empty where one is."""
    if fixed_to_hub(obstacle):
        return (
            "it is fixed to the hub and moves with the wheel, so it is not cut; choose another wheel, tire or spacer."
        )
    if obstacle.shape in ("rod", "ball"):
        return (
            f"a {obstacle.shape} is not cut; move it (move: in a build), or choose another wheel, tire or steer stop."
        )
    if obstacle.solid_behind:
        return (
            "the space behind it is filled, so it is no sheet that a line could be cut in; give it without "
            "`solid: behind` if it is one."
        )
    return ""


def _could_be_cut(case: Case) -> Iterator[Obstacle]:
    """The parts that could be cut, the one that is short by most first."""
    known = {obstacle.name: obstacle for obstacle in case.fit.obstacles}
    entries = sorted(case.fit.worst_each, key=lambda entry: min(entry.margin, entry.worst_case))
    for obstacle in (known[name] for name in dict.fromkeys(entry.obstacle for entry in entries)):
        if not not_cut(obstacle) and not _no_side(obstacle, case.fit.axle.hub_face_at):
            yield obstacle


def _tightest(case: Case) -> Obstacle:
    for obstacle in _could_be_cut(case):
        return obstacle
    raise FitmentError(
        f"the {case.fit.axle.title} has no panel and no edge that could be cut. Rods, balls and what is fixed to the "
        "hub are not cut: move them, or choose another wheel or tire (check --changes)."
    )


def _no_side(obstacle: Obstacle, centre: Point) -> bool:
    """Whether it is an edge of which it cannot be told on which side it is cut."""
    if obstacle.shape != "edge":
        return False
    try:
        edge_outward(obstacle.name, core(obstacle), centre)
    except FitmentError:
        return True
    return False


def lines_of(case: Case, obstacle: Obstacle, *, processes: int = 1) -> CutLines:
    """The cut lines of one part of a case. Raises FitmentError, MotionError.

    processes : among which its places are spread; the lines are the same
    Source: derived here, see `point_clearance` and `sheet_levels`.
    """
    fit = case.fit
    parts = sections_of(fit.setup, case.ready.variants, case.others)
    field = PointField(sweep(fit.axle, fit.setup.ride), obstacle, parts)
    centre = fit.axle.hub_face_at
    readings, over = field.readings, None
    if obstacle.mesh is not None:
        over = grid_over(readings, centre, _heart(fit.tire))
        readings, field = over.readings, replace(field, before=over.off)
    flat = () if obstacle.shape == "edge" else _seen_from_wheel(readings[0], centre, side_of(fit.axle.name))
    sheet, points = _panel(readings, flat, centre) if flat else _lip(readings, centre)
    levels = (
        Level(0, 0.0, FINE), Level(1, 0.0, FINEST), Level(1, MORE, FINE), Level(2, 0.0, FINEST),
    )  # fmt: skip
    with worker_pool(field.made_ready(), processes) as each:
        values = _values(field, each)
        sheet, known = divided(sheet, values, levels)
        touching, required, more, kept = (level_lines(sheet, known, values[level.value], level) for level in levels)
    cuts = [
        CutLine(line, _pieces(line, sheet, known[:, level.value] < level.at, centre))
        for line, level in ((kept, levels[3]), (required, levels[1]))
    ]
    if over is not None:
        points = _fold_marks(points, cuts[0].line) if over.is_folded and len(flat) > 1 else _marks(points, cuts[0].line)
    return CutLines(
        readings[0],
        sheet,
        points,
        touching,
        required,
        more,
        cuts[0],
        cuts[1],
        flat,
        centre,
        over,
        fit.axle.service is not None,
        side_of(fit.axle.name),
    )


def _heart(tire: shapely.Polygon) -> tuple[float, float]:
    """The middle of a tire's section, along the spin axis from the hub's face and from that axis [mm]."""
    low, near, high, far = tire.bounds
    return (low + high) / 2, (near + far) / 2


def _values(field: PointField, each: Map) -> Values:
    """Clearance and margin as measured, and what is kept: the least of margin and worst case (q,) [mm]."""
    last: list[tuple[Array, dict[Part, Array]]] = []

    def measured(places: Array) -> dict[Part, Array]:
        if not last or last[0][0] is not places:
            last[:] = [(places, field.clearance(places, each))]
        return last[0][1]

    def clearance(places: Array) -> Array:
        return np.asarray(np.min(list(measured(places).values()), axis=0))

    def margin(places: Array) -> Array:
        found = measured(places)
        return np.asarray(np.min([own - field.obstacle.allowance_to(part) for part, own in found.items()], axis=0))

    def kept(places: Array) -> Array:
        own = margin(places)
        near = np.flatnonzero(own > GONE)
        if len(near):
            own[near] = np.minimum(own[near], field.worst_case(places[near], each))
        return own

    return clearance, margin, kept


# ---------------------------------------------------------------- the part as a sheet


def _seen_from_wheel(obstacle: Obstacle, centre: Point, side: str) -> tuple[FlatPiece, ...]:
    """A panel laid flat, each piece as it is seen from the wheel; on the right side it stands as in a mirror."""
    rows = core(obstacle).reshape(-1, obstacle.columns, 3)
    return tuple(
        piece if _turns_away(rows[slice(*piece.rows), slice(*piece.columns)], centre) != (side == "right")
        else _mirrored(piece)
        for piece in pieces_laid_flat(rows)
    )  # fmt: skip


def _turns_away(rows: Array, centre: Point) -> bool:
    """Whether the triangles of rows (r, c, 3) turn clockwise as seen from the wheel."""
    a, b, c = (rows.reshape(-1, 3)[sheet_triangles(*rows.shape[:2])[:, k]] for k in range(3))
    return float(np.sum(np.cross(b - a, c - a) * (np.array(centre) - (a + b + c) / 3))) < 0


def _mirrored(piece: FlatPiece) -> FlatPiece:
    corners = piece.flat.corners
    turned = np.stack([corners[:, 0].max() - corners[:, 0], corners[:, 1]], -1)
    return replace(piece, flat=replace(piece.flat, corners=turned))


def _from(centre: Point, place: Array) -> Point:
    x, y, z = (place - np.array(centre)).tolist()
    return x, y, z


def _marks(points: Sequence[FlatPoint], kept: LevelLines) -> tuple[FlatPoint, ...]:
    """Of a scan's many points four beside what goes of each piece, lettered: a tape finds them by their places."""
    marks: list[FlatPoint] = []
    for piece in np.unique(kept.piece).tolist():
        own = [point for point in points if point.piece == piece]
        at = np.array([point.at for point in own])
        x0, y0, x1, y1 = shapely.total_bounds(kept.below[kept.piece == piece])
        corners = [(x, y) for x in (x0 - BESIDE, x1 + BESIDE) for y in (y0 - BESIDE, y1 + BESIDE)]
        near = dict.fromkeys(int(np.argmin(np.hypot(*(at - corner).T))) for corner in corners)
        marks += [replace(own[i], name=_letters(len(marks) + k)) for k, i in enumerate(near)]
    return tuple(marks)


def _fold_marks(points: Sequence[FlatPoint], kept: LevelLines) -> tuple[FlatPoint, ...]:
    """Of a scan that lies flat in pieces the marks at its folds beside what goes, a place of two pieces one letter."""
    places: dict[str, list[FlatPoint]] = {}
    for point in points:
        places.setdefault(point.name, []).append(point)
    folds: dict[tuple[int, ...], list[list[FlatPoint]]] = {}
    for own in places.values():
        if len(own) > 1:
            folds.setdefault(tuple(point.piece for point in own), []).append(own)
    marks: list[FlatPoint] = []
    for pieces, shared in folds.items():
        k = next((piece for piece in pieces if np.any(kept.piece == piece)), None)
        if k is None:
            continue
        at = np.array([next(point.at for point in own if point.piece == k) for own in shared])
        off = shapely.distance(shapely.points(at), shapely.union_all(kept.below[kept.piece == k]))
        near = np.flatnonzero(off <= max(float(off.min()), LEAST_EDGE))
        before, behind = (np.flatnonzero(off[side] >= BESIDE) for side in (slice(near[0]), slice(near[-1], None)))
        ends = before[-1] if len(before) else 0, near[-1] + behind[0] if len(behind) else len(at) - 1
        for i in dict.fromkeys(map(int, ends)):
            name = _letters(len({point.name for point in marks}))
            marks += [replace(point, name=name) for point in shared[i] if np.any(kept.piece == point.piece)]
    return tuple(marks)


def _letters(number: int) -> str:
    """A, B, ... Z, AA, AB, ..."""
    more, last = divmod(number, 26)
    return (_letters(more - 1) if more else "") + chr(ord("A") + last)


def _panel(
    readings: Sequence[Obstacle], pieces: Sequence[FlatPiece], centre: Point
) -> tuple[TriangleSheet, tuple[FlatPoint, ...]]:
    """The sheet of a panel, and its measured points."""
    places = np.stack([core(reading) for reading in readings], 1)
    columns = readings[0].columns
    count = len(places) // columns
    row, column = np.divmod(np.arange(len(places)), columns)
    flat = np.full((len(places), len(pieces), 2), np.nan)
    faces = sheet_triangles(count, columns)
    piece, points = np.zeros(len(faces), dtype=np.intp), []
    for k, own in enumerate(pieces):
        mine = (row >= own.rows[0]) & (row < own.rows[1]) & (column >= own.columns[0]) & (column < own.columns[1])
        flat[mine, k] = own.flat.corners
        piece[mine[faces].all(axis=1)] = k
        for i, (x, y) in zip(np.flatnonzero(mine).tolist(), own.flat.corners.tolist(), strict=True):
            points.append(FlatPoint(f"{row[i] + 1}.{column[i] + 1}", (x, y), k, _from(centre, places[i, 0])))
    plan = np.stack([column, -row], -1).astype(float)
    return TriangleSheet(places, plan, flat, faces, piece), tuple(points)


def _lip(readings: Sequence[Obstacle], centre: Point) -> tuple[TriangleSheet, tuple[FlatPoint, ...]]:
    """An edge and the sheet above it, taken to stand upright: along it across the page, the depth up it."""
    base = np.stack([core(reading) for reading in readings], 1)
    way = np.insert(edge_outward(readings[0].name, base[:, 0], centre), 1, 0.0, axis=1)[:, None]
    along = along_of(base[:, 0])
    places = np.concatenate([base, base + LIP_DEPTH * way])
    flat = np.concatenate([np.stack([along, np.full_like(along, depth)], -1) for depth in (0.0, LIP_DEPTH)])
    points = []
    for i, point in enumerate(readings[0].points):
        near = int(np.argmin(np.linalg.norm(base[:, 0] - point, axis=1)))
        points.append(FlatPoint(f"{i + 1}", (float(along[near]), 0.0), 0, _from(centre, base[near, 0])))
    faces = sheet_triangles(2, len(base))
    return TriangleSheet(places, flat, flat[:, None], faces, np.zeros(len(faces), dtype=np.intp)), tuple(points)


def along_of(line: Array) -> Array:
    """How far along a line each of its points is (n,) [mm].

    line : (n, 3) [mm]
    Source: the lengths of its stretches, added.
    """
    return np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])


# ---------------------------------------------------------------- what must go


def _pieces(line: LevelLines, sheet: TriangleSheet, low: Mask, centre: Point) -> tuple[CutPiece, ...]:
    """What lies below a line, in pieces that hang together in the plan."""
    is_lip = bool(sheet.plan[:, 1].max() > 0)
    areas = shapely.area(line.below)
    whole = float(shapely.area(shapely.polygons(_flat_faces(sheet))).sum())
    plan = np.concatenate([sheet.plan[low], *(own.plan for own in line.lines)])
    places = np.concatenate([sheet.places[low, 0], *(own.places for own in line.lines)])
    grown = shapely.buffer(line.plan, TOGETHER * float(np.ptp(sheet.plan[:, 0])))
    pieces = []
    for part in shapely.get_parts(shapely.union_all(grown)).tolist():
        shapely.prepare(part)
        area = float(areas[shapely.intersects(part, line.plan)].sum())
        if area < LEAST_AREA:
            continue
        own = shapely.intersects_xy(part, *plan.T)
        edge = line.ends[shapely.intersects(part, shapely.linestrings(line.ends_plan))] if len(line.ends) else line.ends
        at = places[own], plan[own]
        pieces.append(_lip_piece(area, *at, centre) if is_lip else _panel_piece(area, whole, at[0], edge, centre))
    return tuple(sorted(pieces, key=lambda piece: -piece.area))


def _flat_faces(sheet: TriangleSheet) -> Array:
    return np.asarray(sheet.flat[sheet.faces, sheet.piece[:, None]])


def _lip_piece(area: float, places: Array, plan: Array, centre: Point) -> CutPiece:
    clocks = _clocks(places, centre)
    deepest, deep = float(clocks[int(np.argmax(plan[:, 1]))]), float(plan[:, 1].max())
    clock = float(clocks.min()), float(clocks.max()), deepest
    return CutPiece("edge", deep, float(np.ptp(plan[:, 0])), area, clock, deep >= LIP_DEPTH - 1e-6)


def _panel_piece(area: float, whole: float, places: Array, edge: Array, centre: Point) -> CutPiece:
    """edge : both ends of what goes of the panel's own edge (e, 2, 3) [mm]"""
    clocks = _clocks(places, centre)
    lengths = np.linalg.norm(edge[:, 1] - edge[:, 0], axis=1)
    if area > ALL * whole or lengths.sum() > LEAST_EDGE:
        steps = np.ceil(lengths / EDGE_STEP).astype(int) + 1
        along = np.concatenate(
            [a + np.linspace(0, 1, n)[:, None] * (b - a) for (a, b), n in zip(edge, steps.tolist(), strict=True)]
        )
        off = np.array([np.linalg.norm(along - place, axis=1).min() for place in places])
        kind: Kind = "all" if area > ALL * whole else "notch"
        deep, long, deepest = float(off.max()), float(lengths.sum()), int(np.argmax(off))
    else:
        middle = places - places.mean(axis=0)
        across = middle @ np.linalg.svd(middle, full_matrices=False)[2][:2].T
        corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(shapely.multipoints(across)))
        sides = np.sort(np.linalg.norm(np.diff(corners[:3], axis=0), axis=1))
        kind, deep, long = "hole", float(sides[0]), float(sides[-1])
        deepest = int(np.argmin(np.linalg.norm(middle, axis=1)))
    clock = float(clocks.min()), float(clocks.max()), float(clocks[deepest])
    return CutPiece(kind, deep, long, area, clock)


def _clocks(places: Array, centre: Point) -> Array:
    """O'clock of places seen from outside the left side [h], in one range without a jump: 12 is up, 9 forward."""
    way = places - np.array(centre)
    mean = way[:, [0, 2]].mean(axis=0)
    about = np.arctan2(mean[1], mean[0])
    off = (np.arctan2(way[:, 2], way[:, 0]) - about + np.pi) % (2 * np.pi) - np.pi
    return np.asarray(9.0 + np.degrees(about + off) / 30.0)
