"""A part that a build shifts or shortens: moved in the body, cut along its edge, cut from the end of a panel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fitment.errors import FitmentError
from fitment.frames import Array
from fitment.parts.obstacles import Obstacle, Point, smooth_curve
from fitment.parts.rework import Cut, End, Rework

AS_NEAR = 10.0  # [mm] between the ends of a panel below which neither is the nearer one
EDGE_ON = 0.3  # [-] mean cosine between an edge's normal and the way from the wheel's centre; less has no outer side
TURN = 0.3  # [-] 1 + cosine of the sharpest corner that is cut in parallel
FINE = 32  # steps of a smooth stretch from which its direction at a point is taken


def reworked(obstacle: Obstacle, centre: Point) -> Obstacle:
    """The part as its `rework` leaves it, first cut and then moved; the rework stays on it, with its cuts settled.

    centre : the hub face's centre, body frame [mm]
    An edge is cut in parallel as seen from the side, on the side of it that faces the wheel's centre, its sheet taken
    to stand upright. A panel loses what lies within `by` of its end, along each of its columns. Of an end that is not
    told the nearer one is taken.
    Raises FitmentError for a part that cannot be trimmed, and where more is cut than there is.
    Source: geometry; an edge's parallel has its corners where the parallels of its stretches meet.
    """
    rework = obstacle.rework
    if rework is None:
        return obstacle
    if obstacle.mesh is not None:
        raise FitmentError(
            f"{obstacle.name} cannot be moved or trimmed, because it is a scan, which knows no parts and no edges; "
            "leave what goes out of the scan, or give the part that moves by tape."
        )
    cut = obstacle
    if any(each.by for each in rework.cuts):
        _check_trimmed(obstacle)
        cut = _cut_edge(obstacle, centre) if obstacle.shape == "edge" else _cut_panel(obstacle, centre)
    return shifted_part(cut, replace(rework, cuts=()), centre)


def shifted_part(obstacle: Obstacle, way: Rework, centre: Point) -> Obstacle:
    """The part moved as told.

    centre : the hub face's centre, body frame [mm]; way : its cuts do not count
    Source: geometry: the step added to every point; `away` is along the line from the centre in the side view.
    """
    points = np.array(obstacle.points, dtype=float).reshape(-1, 3)
    along = (points - centre) * (1.0, 0.0, 1.0)
    along /= np.maximum(np.linalg.norm(along, axis=1, keepdims=True), 1e-9)
    return _with_points(obstacle, points + (way.ahead, way.out, way.up) + way.away * along)


def _with_points(obstacle: Obstacle, points: Array) -> Obstacle:
    return replace(obstacle, points=tuple((x, y, z) for x, y, z in points.reshape(-1, 3).tolist()))


def _check_trimmed(obstacle: Obstacle) -> None:
    """Refuses what has no edge to be cut."""
    if obstacle.shape not in ("edge", "panel"):
        why = f"a {obstacle.shape} has no edge to take it off; move it, or give it anew as it is then"
    elif set(obstacle.fixed_to) != {"body"}:
        carrier = next(each for each in obstacle.fixed_to if each != "body").replace("_", " ")
        why = f"it is fixed to the {carrier}, and only parts of the body are trimmed; move it, or give it anew"
    elif obstacle.shape == "edge" and obstacle.rework and any(each.end for each in obstacle.rework.cuts):
        why = "an edge has no rows; write trim: 20"
    elif obstacle.solid_behind:
        why = (
            "the space behind it is filled, and how deep the cut goes is not told; move it, or give its rows as they "
            "are then"
        )
    else:
        return
    raise FitmentError(f"{obstacle.name} cannot be trimmed: {why}.")


# ---------------------------------------------------------------- an edge


def _cut_edge(obstacle: Obstacle, centre: Point) -> Obstacle:
    by = sum(each.by for each in obstacle.rework.cuts) if obstacle.rework else 0.0
    points = np.array(obstacle.points, dtype=float)
    outward = edge_outward(obstacle.name, points, centre, smooth=obstacle.smooth and len(points) > 2)
    moved = points[:, [0, 2]] + by * outward
    if np.any(np.sum(np.diff(moved, axis=0) * np.diff(points[:, [0, 2]], axis=0), axis=1) <= 0):
        raise FitmentError(
            f"{obstacle.name} cannot be trimmed by {by:g} mm: somewhere it bends so tightly that nothing is left of "
            "that bend. Trim less, or give its points as they are then."
        )
    points[:, [0, 2]] = moved
    return _with_points(obstacle, points)


def edge_outward(name: str, points: Array, centre: Point, *, smooth: bool = False) -> Array:
    """The way from each point of an edge to that of its parallel 1 mm farther from the wheel, (x, z) (n, 2) [-].

    points : (n, 3) [mm]; centre : the hub face's centre, body frame [mm]; smooth : a smooth curve runs through them
    Raises FitmentError where the side view does not tell which side of it is cut.
    Source: geometry, see `reworked`.
    """
    side = (points - centre)[:, [0, 2]]
    chord = np.diff(side, axis=0)
    length = np.linalg.norm(chord, axis=1)
    if length.min() < 1e-6:
        raise FitmentError(
            f"{name} cannot be trimmed: seen from the side, points of it lie behind one another, so there is "
            "no line to cut along; move it, or give its points as they are then."
        )
    ways = _ways_at(points, chord / length[:, None], smooth=smooth)
    normals = np.stack([-ways[..., 1], ways[..., 0]], axis=-1)
    middle = side[:-1] + chord / 2
    outward = middle / np.maximum(np.linalg.norm(middle, axis=1, keepdims=True), 1e-9)
    across = np.stack([-chord[:, 1], chord[:, 0]], axis=-1)
    facing = float(np.sum(across * outward)) / float(length.sum())
    if abs(facing) < EDGE_ON:
        raise FitmentError(
            f"{name} cannot be trimmed: seen from the side it runs towards the wheel's centre, so which side "
            "of it is cut cannot be told; move it, or give its points as they are then."
        )
    return np.asarray(np.sign(facing) * normals)


def _ways_at(points: Array, chords: Array, *, smooth: bool) -> Array:
    """Direction of an edge at each point in the side view (n, 2), as long as its parallel's corner lies further off."""
    if smooth:
        fine = smooth_curve(points, (FINE,) * (len(points) - 1))[:, [0, 2]]
        at = np.arange(len(points)) * FINE
        last = len(fine) - 1
        ways = fine[np.minimum(at + 1, last)] - fine[np.maximum(at - 1, 0)]
        return np.asarray(ways / np.linalg.norm(ways, axis=1, keepdims=True))
    before, after = np.vstack([chords[:1], chords]), np.vstack([chords, chords[-1:]])
    turned = 1 + np.sum(before * after, axis=1)
    if turned.min() < TURN:
        raise FitmentError(
            "an edge that turns back on itself cannot be trimmed; move it, or give its points as they are then."
        )
    return np.asarray((before + after) / turned[:, None])


# ---------------------------------------------------------------- a panel


def _cut_panel(obstacle: Obstacle, centre: Point) -> Obstacle:
    assert obstacle.rework is not None
    rows, settled = _rows(obstacle), []
    for cut in obstacle.rework.cuts:
        end = cut.end or _nearer_end(obstacle, centre)
        far = _far(rows if end == "first" else rows[::-1])
        _check_left(obstacle.name, far, sum(each.by for each in obstacle.rework.cuts))
        stretch = _stretch(obstacle.name, far, cut.by) if cut.stretch is None else cut.stretch
        settled.append(Cut(end, cut.by, stretch))
    left = _left(rows, settled)
    shaped = replace(_with_points(obstacle, left), columns=left.shape[1])
    return replace(shaped, rework=replace(obstacle.rework, cuts=tuple(settled)))


def _far(rows: Array) -> Array:
    """How far down its column each point lies (r, c) [mm]."""
    return np.vstack([np.zeros(rows.shape[1]), np.cumsum(np.linalg.norm(np.diff(rows, axis=0), axis=2), axis=0)])


def _check_left(name: str, far: Array, by: float) -> None:
    shortest = float(far[-1].min())
    if by >= shortest:
        raise FitmentError(
            f"{name}: {by:g} mm is more than there is to trim; along it, it measures {shortest:.0f} mm. Trim less, or "
            "remove the part (null)."
        )


def _rows(obstacle: Obstacle) -> Array:
    return np.array(obstacle.points, dtype=float).reshape(-1, obstacle.columns, 3)


def _nearer_end(obstacle: Obstacle, centre: Point) -> End:
    """The end of a panel whose row comes nearer to the wheel's centre."""
    first, last = (_distance(row, np.array(centre)) for row in _rows(obstacle)[[0, -1]])
    if abs(first - last) < AS_NEAR:
        raise FitmentError(
            f"{obstacle.name}: its first and its last row are about as near to the wheel ({first:.0f} and {last:.0f} "
            "mm from its centre), so which is trimmed cannot be told; write trim: {first_row: 20}, or "
            "last_row, or both."
        )
    return "first" if first < last else "last"


def _distance(row: Array, centre: Array) -> float:
    """How near a row's line comes to a point [mm]."""
    start, way = row[:-1], np.diff(row, axis=0)
    share = np.clip(np.sum((centre - start) * way, axis=1) / np.maximum(np.sum(way * way, axis=1), 1e-12), 0, 1)
    return float(np.linalg.norm(start + share[:, None] * way - centre, axis=1).min())


def _stretch(name: str, far: Array, by: float) -> int:
    for i in range(len(far) - 1):
        if np.all(far[i] <= by) and np.all(far[i + 1] >= by):
            return i
    row = int(np.flatnonzero((far < by).any(axis=1))[-1])
    raise FitmentError(
        f"{name}: {by:g} mm reaches past its row {row + 1} in one column and not in another; trim at most "
        f"{far[row].min():.0f} mm, or give its rows as they are then."
    )


def _left(rows: Array, cuts: Sequence[Cut]) -> Array:
    """The rows of what is left of a sheet; cuts : their ends and stretches settled.

    Between two columns a cut also crosses the split of the cell into triangles. That place is a column of its own,
    which runs on in its right neighbour below the cut, or in its left one above it, so that no triangle leaves the
    sheet.
    """
    by = {cut.end: cut for cut in cuts}
    top, bottom = by.get("first"), by.get("last")
    above, below = 0, len(rows) - 2
    if top:
        above = top.stretch or 0
        down = _share(_far(rows), above, top.by)
    if bottom:
        flipped = bottom.stretch or 0
        below = len(rows) - 2 - flipped
        up = 1 - _share(_far(rows[::-1]), flipped, bottom.by)
    if top and bottom and above == below:
        return np.stack([_crossed(rows[above], rows[above + 1], share) for share in (down, up)])
    if bottom:
        kept = [_woven(row, row[:-1]) for row in rows[: below + 1]]
        rows = np.stack([*kept, _crossed(rows[below], rows[below + 1], up)])
    if top:
        down = _woven(down, down[:-1]) if bottom else down
        rows = np.stack(
            [_crossed(rows[above], rows[above + 1], down), *(_woven(row, row[1:]) for row in rows[above + 1 :])]
        )
    return rows


def _share(far: Array, stretch: int, by: float) -> Array:
    """How far through a stretch a cut crosses each column (c,) [-]."""
    return np.asarray((by - far[stretch]) / np.maximum(far[stretch + 1] - far[stretch], 1e-9))


def _crossed(above: Array, below: Array, share: Array) -> Array:
    """Where a cut crosses the columns between two rows, and the splits of the cells between these (2 c - 1, 3)."""
    at = above + share[:, None] * (below - above)
    split = share[:-1] / np.maximum(1 - share[1:] + share[:-1], 1e-12)
    return _woven(at, above[:-1] + split[:, None] * (below[1:] - above[:-1]))


def _woven(own: Array, between: Array) -> Array:
    result = np.empty((2 * len(own) - 1, *own.shape[1:]))
    result[::2], result[1::2] = own, between
    return result
