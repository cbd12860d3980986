"""A round flat face in a scan, the hub's or the ring of a rim's edge: its plane and its circle, fitted robustly."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fitment.errors import ScanError
from fitment.frames import Array, unit
from fitment.parts.obstacles import Point as BodyPoint
from fitment.parts.scan import Faces
from fitment.scans.reading import UNITS
from fitment.scans.regions import Flags

SEEDS_APART = 0.7  # [-] of the radius that two of three places on an edge lie apart at least
BENT = 0.2  # [-] of the radius that one of them lies off the line through the others at least
BESIDE = 15.0  # [mm] from the scan that a picked place lies at most, or a sixth of the radius
RADIUS_OFF = (4.0, 0.02)  # [mm], and share of the radius, that an edge may differ from the one stated
GATE = 8.0  # [mm] off the plane through the picked places, and off their circle, within which a face is sought
OVER = 2.0  # [mm] beyond the circle through the picked places to which a face is sought
ROUGH = 3.0  # [mm] standard deviation of a face that still counts as flat
RAGGED = 4.0  # [mm] the same of an edge that still counts as round
LEAST_CORNERS = 30  # of triangles, and on the edge half of them
MOST_UNSEEN = 130.0  # [deg] of the edge that is not seen in one piece
ROUNDS = 3  # of plane and circle, the first about the places that were picked
DRAWS, DRAWN_FROM = 200, 800  # trials of a robust fit, and drawn places that they are held against
NEAREST, NEAREST_SHOWS = 0.4, 0.5244  # share of the places that a trial is judged by; their farthest, for sigma 1
CUT, CUT_SHOWS = 2.5, 0.9546  # standard deviations from which a place is left out; what of one the others then show
IN_PLANE = 2.5  # standard deviations within which a corner lies in the plane
EXACT = 0.1  # [mm] within which nothing is left out
SECTORS = 8  # of the circle, within which errors may go together: a phone's do over a few centimetres
STUDENT = 2.571 / 1.960  # Student's t of five degrees of freedom (SECTORS less three) over the normal's, 95 %; tables


@dataclass(frozen=True)
class RoundFace:
    """What is looked for in a scan.

    what : such as hub face; its key in a profile is the same with an underscore
    edge : three places on its outer edge, in the scan's own axes [mm]
    radius : of the edge as it is known [mm]
    ring : how wide the flat inside the edge is, of which the plane is taken [mm]
    """

    what: str
    edge: tuple[BodyPoint, BodyPoint, BodyPoint]
    radius: float
    ring: float

    @property
    def edge_words(self) -> str:
        """How its edge is called."""
        return self.what if self.what.endswith("edge") else f"{self.what}'s edge"

    def at(self, *steps: str | int) -> tuple[str | int, ...]:
        """Key path within the scan's part."""
        return (self.what.replace(" ", "_"), *steps)


@dataclass(frozen=True)
class FaceFit:
    """What was found, in the scan's own axes.

    centre : of the circle [mm]; axes : two unit vectors in the plane, and the one square to it, on either side
    radius : of the circle [mm]
    plane_rms, edge_rms : of the corners of triangles that count off the plane, of the edge off the circle [mm]
    corners, left_out : of triangles that count for the plane, and that were left out as no part of it
    plane : variances (3, 3) of a shift along the axis and of the slopes times the radius [mm2]
    circle : variances (2, 2) of the centre along the two axes in the plane [mm2]
    """

    what: str
    centre: BodyPoint
    axes: tuple[tuple[float, ...], ...]
    radius: float
    plane_rms: float
    edge_rms: float
    corners: int
    left_out: int
    plane: tuple[tuple[float, ...], ...]
    circle: tuple[tuple[float, ...], ...]

    @property
    def tilt(self) -> float:
        """How far its axis may be off [deg], two standard deviations."""
        return float(np.degrees(2 * np.sqrt(np.linalg.eigvalsh(np.array(self.plane)[1:, 1:])[-1]) / self.radius))

    def rim(self, count: int = 73) -> Array:
        """Places on the circle (count, 3) in the scan's axes [mm], the last one the first again."""
        angle = np.linspace(0.0, 2 * np.pi, count)[:, None]
        one, other = np.array(self.axes[0]), np.array(self.axes[1])
        return np.asarray(np.array(self.centre) + self.radius * (np.cos(angle) * one + np.sin(angle) * other))


@dataclass(frozen=True)
class FacePlacing:
    """What placed a scan by a face.

    floor : places of the floor in the scan's own axes [mm]; () where points told the turn
    height : of the hub's centre over that floor [mm]; None where none is given
    untold : what of the hub, when it was scanned, nothing in the scan tells
    """

    fit: FaceFit
    floor: tuple[BodyPoint, ...]
    height: float | None
    untold: tuple[str, ...]


def found_face(vertices: Array, faces: Faces, wanted: RoundFace, units: str) -> FaceFit:
    """The face that the picked places are on.

    vertices : (n, 3) of the scan, in its own axes [mm]; faces : (m, 3); units : of the file, for what is said
    Raises ScanError where there is none, or another one than is stated.
    Source: least quantile of squares (Rousseeuw and Leroy 1987) for what belongs to it, then least squares; the
    circle's by its distance, with radius free, so that an edge that is cut short evenly moves no centre. Variances:
    propagation of errors, the larger of independent ones and of ones that go together within SECTORS (White 1980,
    by groups).
    """
    centre, axes, radius = _through(wanted, units)
    _check_beside(vertices, wanted)
    vertices, faces = _near(vertices, faces, centre, 1.5 * radius + 4 * GATE)
    for _ in range(ROUNDS):
        plane = _plane((vertices - centre) @ axes.T, faces, wanted, radius)
        shift, *slopes = plane.found
        own = unit(axes[2] - (slopes[0] * axes[0] + slopes[1] * axes[1]) / radius)
        one = unit(axes[0] - (axes[0] @ own) * own)
        centre, axes = centre + shift * axes[2], np.stack([one, np.cross(own, one), own])
        local = (vertices - centre) @ axes.T
        flat = np.abs(local[:, 2]) <= max(IN_PLANE * plane.sigma, EXACT)
        circle = _circle(*_outer_border(local, faces, flat, radius), radius, wanted)
        scale, radius = np.diag([1.0, circle.radius / radius, circle.radius / radius]), circle.radius
        centre = centre + circle.middle @ axes[:2]
    _check_radius(radius, wanted)
    return FaceFit(
        wanted.what, _point(centre), _rows(axes), radius, plane.sigma, circle.sigma, plane.corners, plane.left_out,
        _rows(scale @ plane.spread @ scale), _rows(circle.spread),
    )  # fmt: skip


def _near(vertices: Array, faces: Faces, centre: Array, reach: float) -> tuple[Array, Faces]:
    """The triangles that lie whole within so much of a place, with their corners."""
    own = faces[(((vertices - centre) ** 2).sum(axis=1) <= reach**2)[faces].all(axis=1)]
    used, number = np.unique(own, return_inverse=True)
    return vertices[used], number.reshape(-1, 3).astype(np.int32)


def _point(place: Array) -> BodyPoint:
    x, y, z = place.tolist()
    return x, y, z


def _rows(matrix: Array) -> tuple[tuple[float, ...], ...]:
    return tuple(map(tuple, matrix.tolist()))


def _no_face(wanted: RoundFace, found: str) -> ScanError:
    return ScanError(
        f"there is no flat {wanted.what} at the three places: {found}. Pick three places on the edge of the flat "
        "again, a third of the way round from each other, or place the scan by reference points.",
        wanted.at("edge"),
    )


# ---------------------------------------------------------------- the picked places


def _axes_round(axis: Array) -> Array:
    """Two unit vectors square to an axis and each other, and the axis (3, 3)."""
    one = unit(np.cross(axis, np.eye(3)[int(np.argmin(np.abs(axis)))]))
    return np.stack([one, np.cross(axis, one), axis])


def _through(wanted: RoundFace, units: str) -> tuple[Array, Array, float]:
    """Centre (3,), axes (3, 3) and radius [mm] of the circle through the picked places."""
    a, b, c = np.array(wanted.edge)
    sides = np.linalg.norm([b - a, c - b, a - c], axis=1)
    normal = np.cross(b - a, c - a)
    area = float(np.linalg.norm(normal))
    radius = float(np.prod(sides) / (2 * area)) if area > 1e-9 * float(sides.max(initial=0.0)) ** 2 else np.inf
    for unit_name, factor in UNITS.items():
        if unit_name != units and abs(radius * factor / UNITS[units] / wanted.radius - 1) < 0.15:
            raise ScanError(
                f"the circle through the three places is {2 * radius:.0f} mm across, the {wanted.edge_words} is "
                f"{2 * wanted.radius:.0f} mm; the scan's unit is not {units} but probably {unit_name}; write units: "
                f"{unit_name}.",
                ("units",),
            )
    if sides.min() < SEEDS_APART * min(radius, wanted.radius) or area < BENT * wanted.radius * sides.max():
        raise ScanError(
            f"the three places on the {wanted.edge_words} lie too near to each other, or on one line; pick them a "
            "third of the way round from each other.",
            wanted.at("edge"),
        )
    _check_radius(radius, wanted, 2.0)
    square = unit(normal)
    # source: circumcentre of a triangle, in barycentric form
    weight = np.array([sides[1] ** 2, sides[2] ** 2, sides[0] ** 2])
    weight = weight * (weight.sum() - 2 * weight)
    return np.asarray(weight @ np.array(wanted.edge) / weight.sum()), _axes_round(square), radius


def _check_radius(radius: float, wanted: RoundFace, times: float = 1.0) -> None:
    """Refuses another circle; times : as far off as is allowed, of one that was only picked."""
    if abs(radius - wanted.radius) > times * (RADIUS_OFF[0] + RADIUS_OFF[1] * wanted.radius):
        seen = f"{2 * radius:.0f} mm" if radius < 1e5 else "very large"
        raise ScanError(
            f"the circle there is {seen} across, the {wanted.edge_words} is {2 * wanted.radius:.0f} mm; look whether "
            "the three places are on that edge, and at its diameter.",
            wanted.at("edge"),
        )


def _check_beside(vertices: Array, wanted: RoundFace) -> None:
    most = max(BESIDE, wanted.radius / 6)
    for number, place in enumerate(np.array(wanted.edge)):
        off = float(np.sqrt(((vertices - place) ** 2).sum(axis=1).min()))
        if off > most:
            raise ScanError(
                f"this place on the {wanted.edge_words} lies {off:.0f} mm from the scan; pick it on the scan, in the "
                "file's own axes and units.",
                wanted.at("edge", number),
            )


# ---------------------------------------------------------------- fits


def _seen_along(local: Array, faces: Faces) -> Array:
    """How much area (n,) each corner stands for as seen along the axis [mm2]: a third of each triangle round it.

    A wall along the axis is none, and places count alike however fine a scan is there.
    """
    a, b, c = (local[faces[:, i], :2] for i in range(3))
    one, other = b - a, c - a
    area = np.abs(one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]) / 6
    return np.bincount(faces.ravel(), np.repeat(area, 3), len(local)).astype(np.float64)


@dataclass(frozen=True)
class _Plane:
    """found : shift along the axis, slopes times the radius [mm]; spread : their variances; sigma : what is left."""

    found: Array
    spread: Array
    sigma: float
    corners: int
    left_out: int


def _plane(local: Array, faces: Faces, wanted: RoundFace, radius: float) -> _Plane:
    """The plane of what is flat inside the circle; local : corners (n, 3) about it, along its axes."""
    across = np.hypot(local[:, 0], local[:, 1])
    near = (np.abs(local[:, 2]) <= GATE) & (across >= radius - wanted.ring) & (across <= radius + OVER)
    weight = _seen_along(local, faces)
    near &= weight > 0
    if near.sum() < LEAST_CORNERS:
        raise _no_face(wanted, f"only {near.sum()} corners of triangles lie there; scan it closer")
    local, weight = local[near], weight[near]
    rows = np.column_stack([np.ones(len(local)), local[:, :2] / radius])
    found, belongs, sigma = _robust(rows, local[:, 2], weight)
    share = weight[belongs].sum() / weight.sum()
    if sigma > ROUGH or share < 0.5:
        raise _no_face(
            wanted,
            f"of the surface within {GATE:g} mm of these places' plane {100 * share:.0f} % lies near one plane, "
            f"{sigma:.1f} mm off in the mean",
        )
    left = local[belongs, 2] - rows[belongs] @ found
    angles = np.arctan2(local[belongs, 1], local[belongs, 0])
    spread = _variances(rows[belongs], left, weight[belongs], angles)
    spread[0, 0] += ((1 - share) * sigma) ** 2  # what is left out stands on one side, and pulls before it is left out
    return _Plane(found, spread, sigma, int(belongs.sum()), int((~belongs).sum()))


def _robust(rows: Array, values: Array, weight: Array) -> tuple[Array, Flags, float]:
    """What fits most of the values by weight: the solution (p,), which belong to it, and their standard deviation."""
    count, width = rows.shape
    far = np.cumsum(weight)
    few = np.searchsorted(far, (np.arange(DRAWN_FROM) + 0.5) / DRAWN_FROM * far[-1]).clip(0, count - 1)
    drawn = few[np.random.default_rng(0).integers(0, len(few), (DRAWS, width))]
    tried = rows[drawn]
    sound = np.abs(np.linalg.det(tried)) > 1e-3
    ways = np.linalg.solve(tried[sound], values[drawn[sound]][..., None])[..., 0]
    if not len(ways):
        return np.zeros(width), np.zeros(count, bool), np.inf
    off = np.abs(values[few, None] - rows[few] @ ways.T)
    nearest = np.partition(off, int(NEAREST * len(few)), axis=0)[int(NEAREST * len(few))]
    best = ways[int(np.argmin(nearest))]
    first = sigma = float(nearest.min()) / NEAREST_SHOWS
    belongs = np.zeros(count, bool)
    for _ in range(40):
        near = np.abs(values - rows @ best) <= max(CUT * sigma, EXACT)
        if near.sum() <= 2 * width or np.array_equal(near, belongs):
            break
        belongs, root = near, np.sqrt(weight[near])
        best = np.linalg.lstsq(rows[near] * root[:, None], values[near] * root, rcond=None)[0]
        left = values[near] - rows[near] @ best
        sigma = min(first, float(np.sqrt(weight[near] @ left**2 / weight[near].sum())) / CUT_SHOWS)
    return best, belongs, sigma


def _variances(rows: Array, left: Array, weight: Array, angles: Array) -> Array:
    """Of a solution (p, p): by what is left of each (n,), or by what is left together within a sector, if that is more.

    angles : at which each stands [rad]
    """
    count, width = rows.shape
    bread = np.linalg.inv((rows * weight[:, None]).T @ rows)
    pulls = rows * (weight * left)[:, None]
    alone = bread @ (pulls.T @ pulls) @ bread * count / (count - width)
    sector = np.floor((angles / (2 * np.pi) % 1.0) * SECTORS).astype(int) % SECTORS
    sums = np.stack([np.bincount(sector, column, SECTORS) for column in pulls.T], axis=1)
    together = bread @ (sums.T @ sums) @ bread * SECTORS / (SECTORS - width) * STUDENT**2
    return np.asarray(together if np.trace(together) > np.trace(alone) else alone)


def _outer_border(local: Array, faces: Faces, flat: Flags, seen: float) -> tuple[Array, float]:
    """Middles (n, 2) of the sides at which what is flat ends outward near the circle, and how long these are [mm]."""
    reach = max(GATE, 0.1 * seen)
    across = np.hypot(local[:, 0], local[:, 1])
    own = faces[(flat & (across <= seen + 2 * reach))[faces].all(axis=1)]
    sides = np.concatenate([own[:, [0, 1]], own[:, [1, 2]], own[:, [2, 0]]])
    third = np.concatenate([own[:, 2], own[:, 0], own[:, 1]])
    _, first, count = np.unique(np.sort(sides, axis=1), axis=0, return_index=True, return_counts=True)
    ends = first[count == 1]
    middle = local[sides[ends], :2].mean(axis=1)
    far = np.hypot(middle[:, 0], middle[:, 1])
    counts = (across[third[ends]] < far) & (np.abs(far - seen) <= reach)
    length = np.linalg.norm(local[sides[ends, 0]] - local[sides[ends, 1]], axis=1)[counts]
    return middle[counts], float(length.mean()) if len(length) else 0.0


@dataclass(frozen=True)
class _Circle:
    """middle (2,), radius [mm]; spread : variances of the middle (2, 2) [mm2]; sigma : what is left [mm]."""

    middle: Array
    radius: float
    spread: Array
    sigma: float


def _circle(edge: Array, length: float, seen: float, wanted: RoundFace) -> _Circle:
    """The circle of places on an edge (n, 2), which are sides of triangles so long [mm]."""
    if len(edge) < LEAST_CORNERS // 2:
        raise _no_face(wanted, f"what is flat ends at only {len(edge)} triangles near the edge; scan it closer")
    middle, radius, weight = np.zeros(2), seen, np.ones(len(edge))
    for _ in range(20):
        way = edge - middle
        far = np.linalg.norm(way, axis=1)
        rows = np.column_stack([way / far[:, None], weight])
        (x, y, radius), belongs, sigma = _robust(rows, far, weight)
        middle = middle + np.array([x, y])
        if np.hypot(x, y) < 1e-6 or not np.isfinite(sigma):
            break
    angles = np.arctan2(*(edge - middle)[belongs, ::-1].T)
    unseen = _largest_gap(angles)
    if sigma > RAGGED or belongs.mean() < 0.5 or unseen > MOST_UNSEEN:
        raise _no_face(
            wanted,
            f"it has no round edge: {belongs.sum()} of {len(edge)} places where it ends lie near one circle, "
            f"{sigma:.1f} mm off in the mean, and {360 - unseen:.0f} of 360 degrees of it are seen",
        )
    left = far[belongs] - rows[belongs] @ (x, y, radius)
    spread = _variances(rows[belongs], left, weight[belongs], angles)[:2, :2]
    uneven = np.eye(2) * (length / 8) ** 2  # an edge lies within one triangle, finer on one side than on the other
    return _Circle(middle, float(radius), spread + uneven, sigma)


def _largest_gap(angles: NDArray[np.float64]) -> float:
    """The widest part of the circle without any of these angles [deg]; 360 where there is none."""
    if not len(angles):
        return 360.0
    along = np.sort(angles)
    return float(np.degrees(np.diff(along, append=along[0] + 2 * np.pi).max()))
