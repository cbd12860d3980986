"""The space that tire and wheel sweep through all travel and steering, of some builds and ride heights together.

Travel, locks and `steer_limit` are those of a check. The wheel counts with its hollow as it is, its bore as filled.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon, box, union_all

from fitment import profile as profiles
from fitment.clearance.level_mesh import LevelMesh, cut_at, mesh_at, mirrored, places_on
from fitment.clearance.motion_polynomials import hub_motions
from fitment.clearance.pose_grid import grid
from fitment.clearance.swept_space import Raster, SpreadSpace, Sweeping, SweptSpace, raster_of
from fitment.clearance.worst_case import setup_sections
from fitment.corners import side_of
from fitment.errors import Argument, FitmentError
from fitment.motion.suspension import between, corners_alike, families, swept_travel, travel_levels
from fitment.parts.axle import Axle, Setup
from fitment.profile import Profile
from fitment.progress import steps
from fitment.units import typed_mm
from fitment.workers import worker_pool

CUBE = 12.0  # [mm] at a deviation of 0.5 mm; it grows with the root of the deviation
LOOKED_AT = 16_000  # places between the vertices that are measured for the report
MEASURED = 4_000  # vertices that are measured for it
MOST_EXTRA = 300.0  # [mm]
DEVIATIONS = (0.2, 5.0)  # [mm]
EVERY = 100.0  # [mm] from slice to slice where only a direction is named
MOST_SLICES = 40
WAYS = "xyz"
SLIT = 0.05  # [mm] a gap between tire and rim that counts as closed


@dataclass(frozen=True)
class SweptBuild:
    """One build at one height in what is swept.

    travel : lowest and highest [mm]; steer : furthest right and left of the vehicle [deg]
    """

    build: str
    setup: Setup
    travel: tuple[float, float]
    steer: tuple[float, float]


@dataclass(frozen=True)
class Slice:
    """What a plane cuts out of the envelope.

    way : x, y or z, which is the same all over it; at : that [mm]
    shape : in the two other ways in their order [mm]
    """

    way: str
    at: float
    shape: Polygon | MultiPolygon

    @property
    def name(self) -> str:
        """As it is asked for: x=120."""
        return f"{self.way}={self.at:g}"


@dataclass(frozen=True, eq=False)
class Envelope:
    """The space that one corner's wheels sweep, body frame [mm], with the required clearance round it.

    builds : what was swept; poses : cells in which the motion was searched
    extra : the clearance; deviation : by which vertices stand outside of it at most
    lowest, highest : how far vertices stand outside of it, measured at some
    faces : the same between vertices: the furthest inside and outside, and the share [-] that is inside
    looked_at : places at which that was measured
    floor : z of the floor, as the vehicle was measured; middle : y of the tire's middle, straight ahead at rest
    """

    vehicle: str
    axle: Axle
    builds: tuple[SweptBuild, ...]
    poses: int
    extra: float
    deviation: float
    worst: bool
    mesh: LevelMesh
    lowest: float
    highest: float
    faces: tuple[float, float, float]
    looked_at: int
    floor: float
    middle: float
    slices: tuple[Slice, ...]

    @property
    def low(self) -> tuple[float, float, float]:
        """Least x, y, z of its vertices [mm]."""
        return tuple(self.mesh.vertices.min(axis=0).tolist())

    @property
    def high(self) -> tuple[float, float, float]:
        """Greatest x, y, z of its vertices [mm]."""
        return tuple(self.mesh.vertices.max(axis=0).tolist())

    @property
    def right(self) -> bool:
        """Whether it lies on the right side of the vehicle."""
        return side_of(self.axle.name) == "right"


def envelope_of(
    read: Profile,
    axle_name: str,
    builds: Sequence[str | None],
    rides: Sequence[float | str],
    *,
    extra: float,
    deviation: float,
    worst: bool,
    cuts: Sequence[str],
    processes: int = 1,
) -> Envelope:
    """The envelope of one corner; without rides each build at its own height. Raises FitmentError.

    rides : names, or travels at rest [mm]
    extra : clearance round it [mm]; deviation : allowed of a vertex [mm]
    worst : with the largest tire that the market permits
    cuts : slices as they are typed, x=120, or z for one every EVERY; none are those through axle line, tire and hub
    processes : among which the search is spread
    Source: `SweptSpace`; its motion is that of a check.
    """
    wanted = read_cuts(cuts)
    rasters: dict[object, Raster] = {}
    sweepings, swept = [], []
    for build in steps("what is swept, build", builds):
        axle = replace(profiles.axle(read, axle_name, build), obstacles=())
        for ride in rides or (None,):
            setup = profiles.setup(read, axle_name, build, ride=ride)
            key = (setup.wheel, setup.tire, setup.spacer, worst)
            if key not in rasters:
                rasters[key] = raster_of(_solid(setup, largest=worst), extra)
            travel = swept_travel(axle, setup.ride)
            motions = hub_motions(axle, axle, travel)
            motions = motions[:1] if corners_alike(axle) else motions
            sweepings += [Sweeping(rasters[key], motion) for motion in motions]
            swept.append(SweptBuild(build or read.baseline, setup, travel, _steer(axle, setup.ride)))
    space = SweptSpace(tuple(dict.fromkeys(sweepings)))
    poses = space.poses  # laid out before other processes begin, which have it then
    with worker_pool(space, processes) as each:
        field = SpreadSpace(space, each)
        mesh = mesh_at(field, extra + deviation / 2, CUBE * (deviation / 0.5) ** 0.5, deviation / 4)
        off = field.nearest(places_on(mesh, LOOKED_AT))[0] - extra
        stand = field.nearest(mesh.vertices[:: max(len(mesh.vertices) // MEASURED, 1)])[0] - extra
    first = swept[0]
    placed = mirrored(mesh) if side_of(axle.name) == "right" else mesh
    found = Envelope(
        vehicle=read.name, axle=axle, builds=tuple(swept), poses=poses, extra=extra, deviation=deviation,
        worst=worst, mesh=placed, lowest=float(stand.min()), highest=float(stand.max()),
        faces=(max(-float(off.min()), 0.0), max(float(off.max()), 0.0), float(np.mean(off < 0))),
        looked_at=len(off),
        floor=-axle.hub_height, middle=_middle(axle, first.setup), slices=(),
    )  # fmt: skip
    return replace(found, slices=_sliced(found, wanted))


def _solid(setup: Setup, *, largest: bool) -> Polygon:
    """Tire and wheel as one section, the bore filled."""
    parts = setup_sections(setup, largest=largest)
    grown = [shapely.buffer(part, SLIT, join_style="mitre") for part in parts.values()]
    whole: Any = union_all(grown)
    solid = Polygon(whole.buffer(-SLIT, join_style="mitre").exterior)
    y0, low, y1, _ = solid.bounds
    bore = solid.intersection(box(y0, low, y1, low + 1.0)).bounds
    return union_all([solid, box(bore[0], 0.0, bore[2], low + 1.0)])


def _steer(axle: Axle, ride: float) -> tuple[float, float]:
    travels = travel_levels(axle, ride)
    turned = [
        family.poses(*grid(travels, *(between(levels) for levels in family.levels)).T).turned
        for family in families(axle)
    ]
    return min(float(one.min()) for one in turned), max(float(one.max()) for one in turned)


def _middle(axle: Axle, setup: Setup) -> float:
    """y of the tire's middle straight ahead at rest [mm], less than zero on the right."""
    pose = families(axle)[0].poses(*families(axle)[0].rest(setup.ride).T)
    centre = pose.origin[0] + pose.spin_axis[0] * (setup.spacer.thickness - setup.wheel.offset)
    return round(float(centre[1])) * (-1.0 if side_of(axle.name) == "right" else 1.0)


def limits_of(extra: float | str, deviation: float) -> tuple[float, float]:
    """The clearance and the deviation [mm], where both are possible. Raises FitmentError.

    extra : [mm], or a text; deviation : [mm]
    Source: none needed, they are read.
    """
    try:
        around = typed_mm(extra)
    except FitmentError as error:
        raise FitmentError(Argument("extra"), f": {error}") from None
    if not 0 <= around <= MOST_EXTRA:
        raise FitmentError(Argument("extra"), f" {around:g}: give a clearance of 0 to {MOST_EXTRA:g} mm.")
    low, high = DEVIATIONS
    if not low <= deviation <= high:
        raise FitmentError(Argument("deviation"), f" {deviation:g}: give {low:g} to {high:g} mm.")
    return around, deviation


# ---------------------------------------------------------------- slices


def read_cuts(cuts: Sequence[str]) -> tuple[tuple[str, float | None], ...]:
    """Ways and places [mm] of slices as they are typed; None = one every EVERY. Raises FitmentError.

    >>> read_cuts(["x=120", "z"])
    (('x', 120.0), ('z', None))

    Source: none needed, numbers are read.
    """
    found: list[tuple[str, float | None]] = []
    for text in cuts:
        match = re.fullmatch(r"\s*([xyz])\s*(?:=\s*(.+?)\s*)?", text)
        if match is None:
            raise FitmentError(
                Argument("slice_"), f' "{text[:40]}": write x=120, y=640 or z=0, or x alone for one every {EVERY:g} mm.'
            )
        try:
            found.append((match[1], None if match[2] is None else typed_mm(match[2])))
        except FitmentError as error:
            raise FitmentError(Argument("slice_"), f" {text[:40]}: {error}") from None
    return tuple(found)


def _sliced(found: Envelope, wanted: Sequence[tuple[str, float | None]]) -> tuple[Slice, ...]:
    """The slices that are wanted, else those through axle line, tire and hub centre. Raises FitmentError."""
    places: list[tuple[str, float]] = []
    for way, at in wanted or (("x", 0.0), ("y", found.middle), ("z", 0.0)):
        k = WAYS.index(way)
        low, high = found.low[k], found.high[k]
        if at is None:
            places += [(way, i * EVERY) for i in range(int(np.ceil(low / EVERY)), int(np.floor(high / EVERY)) + 1)]
        elif not low < at < high:
            raise _misses(way, at, low, high)
        else:
            places.append((way, at))
    places = list(dict.fromkeys(places))
    if len(places) > MOST_SLICES:
        raise FitmentError(Argument("slice_"), f": {len(places)} slices; at most {MOST_SLICES} are made at once.")
    slices = tuple(Slice(way, at, cut_at(found.mesh, WAYS.index(way), at)) for way, at in places)
    for each in slices:
        if each.shape.is_empty and (each.way, each.at) in (wanted or ()):
            k = WAYS.index(each.way)
            raise _misses(each.way, each.at, found.low[k], found.high[k])
    return tuple(each for each in slices if not each.shape.is_empty)


def _misses(way: str, at: float, low: float, high: float) -> FitmentError:
    said = f"the envelope goes from {way}={low:.0f} to {high:.0f} mm, and is thin at its ends."
    return FitmentError(Argument("slice_"), f" {way}={at:g} misses it: {said}")
