"""A scan as obstacles need it: read, placed in the body, without the old wheel and the floor, parted into zones."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fitment.errors import ScanError
from fitment.frames import Array, to_half_plane
from fitment.parts.obstacles import Point as BodyPoint
from fitment.parts.scan import Faces, ScanMesh
from fitment.scans.best_fit import AS_IT_LIES, MOST_OFF, Placement, ReferencePoint, placed_by
from fitment.scans.borders import Borders, borders_of
from fitment.scans.face_placing import FaceOrder, laid_by_face
from fitment.scans.reading import UNITS, in_mm, read_scan
from fitment.scans.regions import Flags, ScanRegion
from fitment.scans.round_face import FaceFit, found_face

USUAL_SCAN_TOLERANCE = 5.0  # [mm] of a phone's scan at arm's length; common practice, no published source
LONG = 20.0  # [mm] an edge so short stays within what its ends stay within, but for 0.2 mm on a tire
MOST_PIECES = 40  # of an edge; a longer one is none of a wheel
FROM_WHEEL, FROM_CUT, FROM_FLOOR, FROM_KEEP = "the old wheel", "cut boxes", "the floor", "outside the keep boxes"


HubStand = tuple[BodyPoint, tuple[tuple[float, float, float], ...]]


@dataclass(frozen=True)
class OldWheel:
    """The wheel and tire that stood on the hub when it was scanned.

    outlines : of their sections in the hub frame (y', r) [mm]
    within : what lies so near to them is taken for them [mm]
    inside : what lies inside the barrel is taken for them too: brake, knuckle, arms
    """

    outlines: tuple[tuple[tuple[float, float], ...], ...]
    within: float
    inside: bool = False


@dataclass(frozen=True)
class ScanOrder:
    """All that decides what a scan comes to, beside the content of its file.

    path : of the file; units : of it, as of `reading.UNITS`
    points : by which it is placed, their scan side in the file's units
    face : by which it is placed, the points or the floor telling the turn; its places in the file's units, too
    scale_is_free, is_mirrored : see `best_fit.placed_by`; a mirrored one is turned over its x first
    centre : of the hub's face, body frame [mm]; rotation : hub to body
    keep : only what lies in one of them counts, all where there is none; cut : what lies in one does not
    floor : height in the body frame below which nothing counts [mm]
    zones : names and places; what lies in none has the scan's own name
    hub_height : of the hub face's centre above the ground [mm]
    stood : centre and rotation of the hub when it was scanned; None = as above
    """

    path: Path
    units: str
    points: tuple[ReferencePoint, ...]
    scale_is_free: bool
    is_mirrored: bool
    centre: BodyPoint
    rotation: tuple[tuple[float, float, float], ...]
    keep: tuple[ScanRegion, ...] = ()
    cut: tuple[ScanRegion, ...] = ()
    wheel: OldWheel | None = None
    floor: float | None = None
    zones: tuple[tuple[str, ScanRegion], ...] = ()
    face: FaceOrder | None = None
    hub_height: float = 0.0
    stood: HubStand | None = None

    @property
    def places(self) -> tuple[object, ...]:
        """What decides where it lies; with no points and no face its axes are the body's."""
        return self.points, self.face, self.hub_then if self.face else None

    @property
    def hub_then(self) -> HubStand:
        """Centre of the hub's face, body frame [mm], and rotation, hub to body, when it was scanned."""
        return self.stood or (self.centre, self.rotation)


@dataclass(frozen=True, eq=False)
class PlacedScan:
    """A scan in the body's frame.

    meshes : by zone, each with at least one triangle; the zone of what lies in none is empty
    triangles : that the file has; dropped : of these without area
    left_out : why triangles do not count, and how many, in the order in which they were left out
    off : how far it may lie off anywhere by what places it [mm]
    """

    order: ScanOrder
    meshes: tuple[tuple[str, ScanMesh], ...]
    placement: Placement
    triangles: int
    dropped: int
    left_out: tuple[tuple[str, int], ...]
    borders: Borders
    off: float

    def in_mm(self, picked: Array) -> Array:
        """Places (n, 3) in the file's own axes and units as the placement takes them [mm]."""
        return np.array([_moved(self.order, (x, y, z)) for x, y, z in picked.tolist()])

    @property
    def kept(self) -> int:
        """Triangles that count."""
        return sum(len(mesh.faces) for _, mesh in self.meshes)


def place_scan(order: ScanOrder) -> PlacedScan:
    """The scan as ordered. Raises ScanError for what is wrong with the file or with where it is laid."""
    there = order.path.stat()
    return _placed(order, there.st_size, there.st_mtime_ns)


def moved_meshes(scan: PlacedScan, order: ScanOrder) -> tuple[tuple[str, ScanMesh], ...]:
    """The same triangles by zone, as they lie when a reading of what places the scan is another one.

    What counts, and in which zone, is settled once, as read: else places would not correspond, and a worst case would
    count how far triangles lie apart. Raises ScanError.
    """
    if order.places == scan.order.places:
        return scan.meshes
    there = _placement(order, scan.placement.face.fit if scan.placement.face else None)
    return tuple((zone, ScanMesh(scan.placement.carried(m.vertices, there), m.faces)) for zone, m in scan.meshes)


@lru_cache(maxsize=16)
def _placed(order: ScanOrder, _size: int, _changed: int) -> PlacedScan:
    read = in_mm(read_scan(order.path), order.units, order.path.name)
    vertices = read.vertices * (-1, 1, 1) if order.is_mirrored else read.vertices
    fit = found_face(vertices, read.faces, _in_mm(order, order.face).face, order.units) if order.face else None
    placement = _placement(order, fit)
    places = placement.body(vertices)
    _check_near(order, places)
    counts, left_out = _that_count(order, places, read.faces)
    meshes = _parted(order, places, read.faces[counts])
    box = _box(np.concatenate([mesh.vertices for _, mesh in meshes]))
    whole = _mesh(places, read.faces[counts])
    off = placement.off_at(box)
    if fit and off > MOST_OFF:
        raise ScanError(
            f"laid by the {fit.what} alone the scan could be {off:.0f} mm off at its far end (its axis is known to "
            f"{fit.tilt:.1f} deg); scan that face closer, use the rim's edge, or place the scan by reference points.",
            ("placed_by",),
        )
    return PlacedScan(
        order, meshes, placement, len(read.faces) + read.dropped, read.dropped, left_out,
        borders_of(whole.vertices, whole.faces), off,
    )  # fmt: skip


def _placement(order: ScanOrder, fit: FaceFit | None) -> Placement:
    """How the scan lies; fit : of the face that was found in it."""
    points = tuple(
        ReferencePoint(point.name, _moved(order, point.scan), point.at, point.tolerance) for point in order.points
    )
    if order.face and fit:
        centre, rotation = order.hub_then
        face = _in_mm(order, order.face)
        return laid_by_face(fit, face, points, centre, np.array(rotation), mirrored=order.is_mirrored)
    if not points:
        return AS_IT_LIES
    return placed_by(points, units=order.units, free_scale=order.scale_is_free, mirrored=order.is_mirrored)


def _moved(order: ScanOrder, place: BodyPoint) -> BodyPoint:
    """A place of the file in millimetres, turned over where the scan is mirrored."""
    x, y, z = (UNITS[order.units] * each for each in place)
    return (-x if order.is_mirrored else x), y, z


def _in_mm(order: ScanOrder, face: FaceOrder) -> FaceOrder:
    a, b, c = (_moved(order, place) for place in face.face.edge)
    return replace(
        face,
        face=replace(face.face, edge=(a, b, c)),
        floor=None if face.floor is None else (_moved(order, face.floor[0]), _moved(order, face.floor[1])),
        inboard=None if face.inboard is None else _moved(order, face.inboard),
    )


FAR_AWAY = 1000.0  # [mm] from the hub that a scan's nearest point lies at most


def _check_near(order: ScanOrder, places: Array) -> None:
    off = np.linalg.norm(np.maximum(np.maximum(places.min(0) - order.centre, order.centre - places.max(0)), 0))
    if off > FAR_AWAY:
        raise ScanError(
            f"as placed, all of the scan lies {off:.0f} mm and more from the hub, where no wheel gets; check what "
            "places it, its units and its axes (x forward, y outboard, z up).",
            ("placed_by",),
        )


# ---------------------------------------------------------------- what counts


def _that_count(order: ScanOrder, places: Array, faces: Faces) -> tuple[Flags, tuple[tuple[str, int], ...]]:
    """Which triangles count, and how many do not for which reason. Raises ScanError where none does."""
    out = np.zeros(len(faces), bool)
    told: list[tuple[str, int]] = []

    def leave_out(why: str, also: Flags) -> None:
        nonlocal out
        told.append((why, int(np.sum(also & ~out))))
        out |= also

    around = places - np.array(order.centre)
    if order.keep:
        leave_out(FROM_KEEP, np.all([region.is_clear_of(around[faces]) for region in order.keep], axis=0))
    if order.cut:
        leave_out(FROM_CUT, np.any([region.holds_whole(around[faces]) for region in order.cut], axis=0))
    if order.wheel:
        leave_out(FROM_WHEEL, _of_wheel(order, order.wheel, places, faces))
    if order.floor is not None:
        leave_out(FROM_FLOOR, np.asarray((places[:, 2] <= order.floor)[faces].all(axis=1)))
    if out.all():
        reasons = ", ".join(f"{why} {many:,}" for why, many in told if many)
        raise ScanError(
            f"nothing is left of the scan's {len(faces):,} triangles ({reasons}); check the boxes and what places it.",
            ("cut",) if order.cut else ("keep",) if order.keep else ("file",),
        )
    return ~out, tuple(told)


def _of_wheel(order: ScanOrder, wheel: OldWheel, places: Array, faces: Faces) -> Flags:
    """Which triangles lie within so much of the old wheel and tire, or in them, as a whole, where these stood then.

    The solid is one of revolution, so a place is in it by its distance along the axis and from it alone. A triangle
    with a long edge could pass out of it between its corners, so places all over it are looked at.
    """
    import shapely

    shapes = [shapely.Polygon(outline) for outline in wheel.outlines]
    solid = shapely.union_all(shapes)
    if wheel.inside:
        y = solid.bounds[0::2]
        r = shapely.Polygon(wheel.outlines[-1]).bounds[3]
        solid = solid.union(shapely.box(y[0], 0.0, y[1], r))
    grown = solid.buffer(wheel.within)
    centre, turn = (np.array(each) for each in order.hub_then)
    around = places - centre
    plane = to_half_plane(around @ turn)
    shapely.prepare(grown)
    near = plane[:, 1] <= grown.bounds[3]
    within = np.zeros(len(plane), bool)
    within[near] = shapely.contains_xy(grown, *plane[near].T)
    inside: Flags = np.asarray(within[faces].all(axis=1))
    corners = around[faces[inside]]
    edge = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1, initial=0.0)
    pieces = np.ceil(edge / LONG).astype(int)
    whole = pieces <= 1
    for count in np.unique(pieces[(pieces > 1) & (pieces <= MOST_PIECES)]):
        own = pieces == count
        on_it = to_half_plane(_grid(int(count)) @ corners[own] @ turn)
        whole[own] = shapely.contains_xy(grown, on_it[..., 0], on_it[..., 1]).all(axis=1)
    inside[inside] = whole
    return inside


def _grid(pieces: int) -> Array:
    """Weights of a triangle's corners (n, 3) that give places on it, each edge divided into so many pieces."""
    i, j = np.meshgrid(np.arange(pieces + 1), np.arange(pieces + 1))
    i, j = i[i + j <= pieces], j[i + j <= pieces]
    return np.stack([i, j, pieces - i - j], axis=1) / pieces


# ---------------------------------------------------------------- zones


def _parted(order: ScanOrder, places: Array, faces: Faces) -> tuple[tuple[str, ScanMesh], ...]:
    """The triangles by the first zone in which their middle lies. Raises ScanError for a zone that has none."""
    middle = places[faces].mean(axis=1) - np.array(order.centre)
    free = np.ones(len(faces), bool)
    found = []
    for name, region in order.zones:
        own = free & region.holds(middle)
        if not own.any():
            raise ScanError(
                "no triangle of the scan lies in this zone, or all that do lie in one before it; check its ranges "
                "(from the hub face's centre, by tape, in mm).",
                ("zones", name),
            )
        found.append((name, _mesh(places, faces[own])))
        free &= ~own
    if free.any():
        found.append(("", _mesh(places, faces[free])))
    return tuple(found)


def _mesh(places: Array, faces: NDArray[np.int32]) -> ScanMesh:
    """Some of the triangles with the places that they use."""
    used, number = np.unique(faces, return_inverse=True)
    return ScanMesh(np.ascontiguousarray(places[used]), number.reshape(-1, 3).astype(np.int32))


def _box(places: Array) -> Array:
    """The corners of the box round places (8, 3)."""
    return np.array(list(product(*np.stack([places.min(axis=0), places.max(axis=0)], axis=1))))
