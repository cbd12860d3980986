"""A profile's scans: from their keys to what they come to, as obstacles and in words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np

from fitment.errors import CodeError, ScanError
from fitment.frames import camber_of
from fitment.parts.obstacles import USUAL_TOLERANCE, Obstacle
from fitment.parts.tables import rim_contour_row, specified_rim_diameter
from fitment.parts.wheel import edges
from fitment.profile.datum import Datum
from fitment.profile.scan_pose import NEAR, StoodHub, motion_cautions, stood_hub
from fitment.profile.schema.scans import (
    AT_HEIGHT,
    DROOP,
    HubFacePart,
    OldWheelPart,
    ReferencePart,
    RegionPart,
    ScanPart,
    ScanPosePart,
)
from fitment.profile.schema.suspension import SuspensionPart
from fitment.profile.values import ClockPoint, Length, Point, SquarePoint
from fitment.scans.best_fit import LEAST_POINTS, SCALE_OFF, ReferencePoint
from fitment.scans.face_placing import AHEAD, HEIGHT, UNTOLD, FaceOrder
from fitment.scans.placed_scan import (
    FROM_WHEEL,
    USUAL_SCAN_TOLERANCE,
    OldWheel,
    PlacedScan,
    ScanOrder,
    moved_meshes,
    place_scan,
)
from fitment.scans.reading import file_beside
from fitment.scans.regions import ScanRegion
from fitment.scans.round_face import FacePlacing, RoundFace

OTHER = {AT_HEIGHT: " at ride height", DROOP: " in full droop"}  # how an opposite wheel stood
FLOOR_OFF = 15.0  # [mm] that a hub's height over the floor may be off in a scan; common practice, no published source
BY_HUB = 150.0  # [mm] from the hub face's centre that a reference point is taken for one of hub or knuckle; the same
LARGE_HOLE = 30.0  # [mm] from which a hole is worth a caution; common practice, no published source


def scan_of(part: ScanPart, datum: Datum) -> PlacedScan:
    """The scan that a part names, in the body's frame. Raises ScanError."""
    return place_scan(_order_of(part, datum))


def _order_of(part: ScanPart, datum: Datum) -> ScanOrder:
    then = stood_hub(part, datum)
    points = tuple(_reference(each, number, datum, then) for number, each in enumerate(part.placed_by, start=1))
    return ScanOrder(
        path=file_beside(datum.folder, part.file),
        units=part.units,
        points=points,
        scale_is_free=part.scale == "free",
        is_mirrored=part.mirrored,
        centre=datum.centre,
        hub_height=datum.height,
        rotation=tuple(map(tuple, np.asarray(datum.rotation).tolist())),
        keep=tuple(_region(each, datum) for each in part.keep),
        cut=tuple(_region(each, datum) for each in part.cut),
        wheel=_old_wheel(part.cut_wheel, datum) if part.cut_wheel else None,
        floor=None if part.cut_floor is None else datum.centre[2] - datum.height + part.cut_floor,
        zones=tuple((name, _region(each, datum)) for name, each in part.zones.items()),
        face=_face(part, datum, then),
        stood=(then.centre, then.rotation) if then else None,
    )


def _reference(point: ReferencePart, number: int, datum: Datum, then: StoodHub | None) -> ReferencePoint:
    """A point as the tape found it; one of the knuckle where the hub had taken it when it was scanned."""
    name, at, tolerance = point.name or f"point {number}", datum.place(point.at), _tolerance(point.at)
    if then is None or point.fixed_to == "body":
        return ReferencePoint(name, point.scan, at, tolerance)
    rotation, shift = then.carried
    x, y, z = (rotation @ at + shift).tolist()
    own = USUAL_TOLERANCE if tolerance is None else tolerance
    return ReferencePoint(name, point.scan, (x, y, z), float(np.hypot(own, then.travel_off)))


HUB_FACE, RIM_EDGE = "hub face", "rim edge"
HUB_RING = 0.4  # [-] of a hub face's radius that is flat inside its edge; nearer to the centre it may be stepped
RIM_RING = 8.0  # [mm] of a rim's edge that is flat, of a flange 12.7 mm thick; common practice, no published source
EDGE_ROUND = 3.0  # [mm] by which the flat of a rim's edge ends short of its tip; common practice, no published source
# How far, beside what its spec tells, a rim's edge may lie off along the axis, where its overall width is read, and
# where it is 12.7 mm a flange; and how far it may run out [mm]. Common practice, no published source.
EDGE_OFF, EDGE_OFF_UNREAD, RUN_OUT = 2.5, 4.0, 1.0


def _face(part: ScanPart, datum: Datum, then: StoodHub | None) -> FaceOrder | None:
    """The face that places a scan, and where it stands on the baseline's hub."""
    given = part.face
    if given is None:
        return None
    surface, hub_off = stated_tolerance(part), then.off if then else ()
    stated = _stated(part.at, then.centre[2]) if part.at and then else ""
    if isinstance(given, HubFacePart):
        face = RoundFace(HUB_FACE, given.edge, given.diameter / 2, HUB_RING * given.diameter / 2)
        return FaceOrder(face, 0.0, 0.0, 0.0, surface, given.floor, given.inboard, hub_off, stated)
    setup, unnamed = datum.setup, "where the edge of its rim stands is not known; name it in its build."
    if setup is None or setup.wheel is None:
        raise ScanError(f"the baseline names no wheel for this axle, so {unnamed}", ("rim_edge",))
    try:
        wheel = setup.wheel.record()
        tip = specified_rim_diameter(wheel.rim_diameter) / 2
    except CodeError as error:
        raise ScanError(str(error), ("rim_edge",)) from None
    tip += rim_contour_row(wheel.rim_diameter, wheel.rim_width, wheel.flange).flange_height
    spacer = setup.spacer.thickness if setup.spacer else Length(0.0)
    off = EDGE_OFF_UNREAD if wheel.overall_width is None else EDGE_OFF
    return FaceOrder(
        RoundFace(RIM_EDGE, given.edge, tip - EDGE_ROUND, RIM_RING), edges(wheel, spacer.value)[1],
        off + wheel.offset_tolerance + spacer.tolerance, RUN_OUT, surface, given.floor, given.inboard, hub_off,
        stated,
    )  # fmt: skip


def _region(part: RegionPart, datum: Datum) -> ScanRegion:
    up = part.up
    if part.above_ground is not None:
        low, high = part.above_ground
        up = (low - datum.height, high - datum.height)
    clock = None if part.clock is None else (part.clock[0].value, part.clock[1].value)
    return ScanRegion(part.ahead, part.out, up, clock)


def _tolerance(point: Point) -> float | None:
    """How far a place by tape may be off in the direction in which it may most [mm]; None where it does not tell."""
    most = 0.0
    readings: tuple[Length, ...]
    if isinstance(point, ClockPoint):
        readings, most = (point.radius, point.out), point.radius.value * float(np.radians(point.clock.tolerance))
    else:
        readings = (point.ahead, point.height, point.out) if isinstance(point, SquarePoint) else point
    stated = [reading.tolerance for reading in readings if reading.stated]
    return max([*stated, most]) if stated or most else None


def _old_wheel(part: OldWheelPart, datum: Datum) -> OldWheel:
    from fitment.parts.sections import tire_section, wheel_section

    given = datum.setup
    if given is None or given.wheel is None or given.tire is None:
        raise ScanError(
            "the baseline names no wheel and tire for this axle, so what is theirs in the scan is not known; name them "
            "in its build, or cut them off with a box.",
            ("cut_wheel",),
        )
    spacer = 0.0 if given.spacer is None else given.spacer.thickness.value
    try:
        wheel = given.wheel.record()
        sections = (tire_section(given.tire.record(), wheel, spacer), wheel_section(wheel, spacer))
    except CodeError as error:
        raise ScanError(str(error), ("cut_wheel",)) from None
    outlines = tuple(tuple(map(tuple, section.exterior.coords)) for section in sections)
    return OldWheel(outlines, part.within, part.inside)


def obstacles_of(
    part: ScanPart, common: Obstacle, datum: Datum, as_read: tuple[ScanPart, Datum]
) -> tuple[Obstacle, ...]:
    """The obstacles of a scan, one for each zone.

    common : what they share, their tolerance as the profile has it
    as_read : part and datum with no reading moved, which settle what counts, in which zone, and how far it may be off
    """
    scan = scan_of(*as_read)
    tolerance = counted_tolerance(as_read[0], scan)
    return tuple(
        replace(common, name=f"{part.name}: {zone}" if zone else part.name, mesh=mesh, tolerance=tolerance)
        for zone, mesh in moved_meshes(scan, _order_of(part, datum))
    )


def stated_tolerance(part: ScanPart) -> float:
    """As the profile has it, else the usual one of a phone's scan [mm]."""
    return USUAL_SCAN_TOLERANCE if part.tolerance is None else part.tolerance.value


def counted_tolerance(part: ScanPart, scan: PlacedScan) -> float:
    """How far the scan may be off [mm]: its surface, as stated or as a point shows, and how it lies, on top."""
    return max(stated_tolerance(part), scan.placement.worst) + scan.off


# ---------------------------------------------------------------- in words


def scan_words(part: ScanPart, scan: PlacedScan) -> str:
    """What is known of a scan, lengths in mm."""
    left = "".join(f", {many:,} left out ({why})" for why, many in scan.left_out if many)
    dropped = f", {scan.dropped:,} without area" if scan.dropped else ""
    return (
        f"{part.name}: scan {part.file}, {scan.triangles:,} triangles{dropped}{left}; {scan.kept:,} count. "
        f"{_placing_words(part, scan)} {_tolerance_words(part, scan)} {_border_words(scan)}"
    )


def _placing_words(part: ScanPart, scan: PlacedScan) -> str:
    found = scan.placement
    if not found.points and not found.face:
        return "Its axes are taken for the body's."
    off = ", ".join(f"{p.name} {r:.1f} mm" for p, r in zip(found.points, found.residuals, strict=True))
    scale = f", scale {found.scale:.4f}" if scan.order.scale_is_free else ""
    turned = ", mirrored" if scan.order.is_mirrored else ""
    if found.face:
        return (
            f"{_face_words(scan, found.face)}{turned}{f'; off there: {off}' if off else ''}.{_stood_words(part, scan)}"
        )
    return f"Placed by {len(found.points)} points{scale}{turned}; off after the fit: {off}.{_stood_words(part, scan)}"


def _stood_words(part: ScanPart, scan: PlacedScan) -> str:
    """How the hub stood when it was scanned, as the profile states it; empty where it does not."""
    if part.at is None:
        return ""
    camber = float(camber_of(np.array(scan.order.hub_then[1])[:, 1]))
    return f" Scanned {pose_words(part, scan)}, as stated; the hub's camber is {camber:+.1f} deg there."


def pose_words(part: ScanPart, scan: PlacedScan) -> str:
    """How the hub stood when it was scanned."""
    given = part.at
    if given is None:
        return "at ride height (travel 0), straight ahead"
    return _stated(given, scan.order.hub_then[0][2])


def _stated(given: ScanPosePart, travel: float) -> str:
    steer = "straight ahead" if given.lock == "straight" else f"at {given.lock} lock"
    if given.steer is not None:
        steer = f"steered {given.steer.value:+g} deg"
    other = OTHER.get(str(given.other), "")
    if isinstance(given.other, Length):
        other = f" at travel {given.other.value:+g} mm"
    return f"at travel {travel:+.0f} mm, {f'the other wheel{other}, ' if other else ''}{steer}"


def _face_words(scan: PlacedScan, face: FacePlacing) -> str:
    fit, order = face.fit, scan.order.face
    assert order is not None
    turn = f"turned by {len(scan.order.points)} reference points" if scan.order.points else "turned by the floor"
    if len(scan.order.points) == 1:
        turn = "turned by 1 reference point"
    return (
        f"Placed by its {fit.what}: {fit.corners:,} corners of triangles {fit.plane_rms:.1f} mm off its plane in the "
        f"mean, {fit.left_out:,} left out; its edge {2 * fit.radius:.0f} mm across, {2 * order.face.radius:.0f} mm by "
        f"{'its size' if fit.what == RIM_EDGE else 'what is stated'}, {fit.edge_rms:.1f} mm off round; its axis within "
        f"{fit.tilt:.2f} deg; {turn}"
    )


def _tolerance_words(part: ScanPart, scan: PlacedScan) -> str:
    stated, shown = stated_tolerance(part), scan.placement.worst
    source = "as stated" if part.tolerance is not None else "usual for a phone"
    own = f"{stated:g} mm of its surface, {source}"
    if shown > stated:
        own = f"{shown:.1f} mm of its surface, what its reference points show ({source}: {stated:g} mm)"
    if not scan.off:
        return f"Tolerance counted: {own}."
    return (
        f"Tolerance counted: {counted_tolerance(part, scan):.1f} mm: {own}, and {scan.off:.1f} mm, by which it may lie "
        "off at its far end."
    )


def _border_words(scan: PlacedScan) -> str:
    ends = scan.borders
    if not ends.outer:
        return "It is closed."
    if not ends.holes:
        return "It has no holes; nothing is known beyond its outer edge."
    holes = "1 hole" if ends.holes == 1 else f"{ends.holes} holes, the largest"
    return f"It has {holes} {ends.widest:.0f} mm wide, {place_words(scan, ends.at)}; nothing is known behind a hole."


def place_words(scan: PlacedScan, at: tuple[float, float, float]) -> str:
    """Where a place lies, from the hub face's centre."""
    ahead, out, up = (at[i] - scan.order.centre[i] for i in range(3))
    return (
        f"{abs(ahead):.0f} mm {'ahead of' if ahead >= 0 else 'behind'}, {abs(up):.0f} mm "
        f"{'above' if up >= 0 else 'below'} and {abs(out):.0f} mm {'outboard' if out >= 0 else 'inboard'} of the "
        "hub face"
    )


def scan_brief(part: ScanPart, scan: PlacedScan) -> str:
    """The same in a few words, for an answer that rests on it."""
    holes = scan.borders.holes
    unknown = f", nothing is known behind its {'hole' if holes == 1 else f'{holes} holes'}" if holes else ""
    return f"{part.name} ({scan.kept:,} triangles, tolerance {round(counted_tolerance(part, scan), 1):g} mm{unknown})"


def scan_json(part: ScanPart, scan: PlacedScan) -> dict[str, Any]:
    """A scan as data, lengths in mm."""
    found, ends = scan.placement, scan.borders
    return {
        "name": part.name, "file": part.file, "triangles": scan.triangles, "without_area": scan.dropped,
        "left_out": dict(scan.left_out), "counted": scan.kept,
        "zones": {name: len(mesh.faces) for name, mesh in scan.meshes},
        "placed_by": [
            {"name": point.name, "at_mm": list(point.at), "off_mm": round(off, 2)}
            for point, off in zip(found.points, found.residuals, strict=True)
        ],
        "scale": round(found.scale, 6),
        "best_scale": round(found.free_scale, 6) if found.points and not found.face else None,
        "scanned_at": _stood_json(part, scan),
        "named_off": found.off[0] if found.off else None, "face": _face_json(scan),
        "tolerance_mm": round(counted_tolerance(part, scan), 2), "stated_tolerance_mm": stated_tolerance(part),
        "holes": ends.holes, "largest_hole_mm": round(ends.widest, 1),
    }  # fmt: skip


def _stood_json(part: ScanPart, scan: PlacedScan) -> dict[str, Any]:
    """How the hub stood when it was scanned, and whether the profile says so."""
    (_, _, travel), rotation = scan.order.hub_then
    axis = np.array(rotation)[:, 1]
    return {
        "stated": part.at is not None, "how": pose_words(part, scan), "travel_mm": round(travel, 1),
        "camber_deg": round(float(camber_of(axis)), 2),
    }  # fmt: skip


def _face_json(scan: PlacedScan) -> dict[str, Any] | None:
    """The face that places a scan as data, lengths in mm; None where none does."""
    face, order = scan.placement.face, scan.order.face
    if face is None or order is None:
        return None
    fit = face.fit
    return {
        "what": fit.what, "diameter_mm": round(2 * fit.radius, 1),
        "expected_diameter_mm": round(2 * order.face.radius, 1),
        "corners": fit.corners, "left_out": fit.left_out, "plane_rms_mm": round(fit.plane_rms, 2),
        "edge_rms_mm": round(fit.edge_rms, 2), "axis_within_deg": round(fit.tilt, 3),
        "hub_above_floor_mm": None if face.height is None else round(face.height, 1), "not_told": list(face.untold),
    }  # fmt: skip


def _face_cautions(part: ScanPart, scan: PlacedScan, face: FacePlacing) -> Iterator[str]:
    """What to look at where a face places a scan."""
    found, what, order = scan.placement, face.fit.what, scan.order.face
    assert order is not None
    if found.worst > stated_tolerance(part):
        yield (
            f"laid by its {what}, a reference point is {found.worst:.0f} mm off; measure it again, and look "
            + order.doubt
        )
    if face.untold:
        todo, level = "take reference points over the wheel and ahead of or behind it", ""
        if face.height is not None:
            todo = "hold what a tape reads from the hub to the lip against the drawing (show)"
            level = ", the body level to that floor as measured,"
        how, say = " and ".join(face.untold), ", or say how it stood (at: {travel: droop})"
        if part.at is not None:
            how, say = f"{pose_words(part, scan)},", ""
        yield (
            f"laid by its {what}, it lies as the hub stood when it was scanned; that the hub was {how}{level} is taken "
            f"for granted: {todo}{say}"
        )
    stands = scan.order.hub_height
    if face.height is not None and what == RIM_EDGE and abs(face.height - stands) > FLOOR_OFF:
        yield (
            f"in the scan the hub is {face.height:.0f} mm above the floor, hub_height says {stands:.0f} mm; look "
            "whether the wheel stood on that floor, level, with its usual pressure"
        )
    if found.is_flat:
        yield (
            f"by its {what} and these reference points, whether the scan is a mirror image cannot be told; take one "
            "more, on another side of the wheel, and compare the drawing (show) with the vehicle"
        )
    if scan.off > 2 * stated_tolerance(part):
        yield (
            f"by its {what}, its far end may be {scan.off:.0f} mm off; scan that face closer, or take reference points "
            "round the whole well"
        )


def not_said(part: ScanPart, scan: PlacedScan) -> str:
    """What is taken where nothing says how the hub stood, on which the place of the scan hangs; or an empty text."""
    face = scan.placement.face
    untold = face.untold if face else UNTOLD if _hangs_on_hub(part, scan) else ()
    if part.at is not None or not untold:
        return ""
    told = {HEIGHT: "at ride height (travel 0)", AHEAD: "straight ahead"}
    taken = f"{part.name} is taken as scanned {', '.join(told[each] for each in untold)}"
    if face and face.fit.what == HUB_FACE and HEIGHT in untold:
        return (
            f"{taken}. A hub face shows only with the wheel off, and then the suspension hangs in droop unless it was "
            "held up: say how it stood (at: {travel: droop})."
        )
    by = "" if face else ", since a reference point on the hub places it"
    return f"{taken}{by}; if it stood otherwise, say how (at: {{travel: droop}}, with lock or steer)."


def _hangs_on_hub(part: ScanPart, scan: PlacedScan) -> bool:
    """Whether fewer points than place a scan are fixed to the body: one by the hub then moves it unseen."""
    of_hub = [
        own.fixed_to == "knuckle" or _by_hub(scan, point)
        for point, own in zip(scan.order.points, part.placed_by, strict=True)
    ]
    return any(of_hub) and of_hub.count(False) < LEAST_POINTS


def _by_hub(scan: PlacedScan, point: ReferencePoint) -> bool:
    return float(np.linalg.norm(np.subtract(point.at, scan.order.centre))) < BY_HUB


def _point_cautions(part: ScanPart, scan: PlacedScan) -> Iterator[str]:
    """What to look at where reference points place a scan."""
    found = scan.placement
    if words := not_said(part, scan):
        yield words.removeprefix(f"{part.name} is ").removesuffix(".")
    if part.at and abs(scan.order.hub_then[0][2] - scan.order.centre[2]) >= NEAR:
        for point, own in zip(scan.order.points, part.placed_by, strict=True):
            if own.fixed_to == "body" and _by_hub(scan, point):
                yield (
                    f"reference point {point.name} lies by the hub, which stood elsewhere when it was scanned, and is "
                    "taken as fixed to the body; if it moves with the hub, say fixed_to: knuckle"
                )
    if found.off:
        yield (
            f"reference point {found.off[0]} is {found.off[1]:.0f} mm off what the others say; measure it "
            "again, by tape and in the scan"
        )
    elif found.worst > stated_tolerance(part):
        yield (
            f"the reference points are up to {found.worst:.0f} mm off after the fit, and which of them is "
            "wrong cannot be told; measure them again, or add points"
        )
    if found.points and not scan.order.scale_is_free and abs(found.free_scale - 1) > SCALE_OFF:
        larger = "smaller" if found.free_scale > 1 else "larger"
        yield (
            f"by its reference points the scan is {100 * abs(1 - 1 / found.free_scale):.1f} % {larger} than "
            f"the vehicle; with scale: free they would be {found.free_rms:.1f} mm off in the mean, "
            f"not {found.rms:.1f} mm"
        )
    if found.is_flat:
        yield (
            "its reference points lie in one plane, so whether the scan is a mirror image cannot be told; "
            "take one more well off that plane, and compare the drawing (show) with the vehicle"
        )
    if scan.off > 2 * stated_tolerance(part) and not found.off:
        yield (
            f"as its reference points lie, its far end may be {scan.off:.0f} mm off; take them further apart, "
            "round the whole well"
        )


def scan_cautions(part: ScanPart, scan: PlacedScan, suspension: SuspensionPart) -> Iterator[str]:
    """What a builder should look at before relying on a scan, lengths in mm; suspension : of the baseline."""
    face, name = scan.placement.face, part.name
    of_placing = _face_cautions(part, scan, face) if face else _point_cautions(part, scan)
    yield from (f"{name}: {text}" for text in of_placing)
    yield from (f"{name}: {text}" for text in motion_cautions(part, suspension, scan.order.hub_then[0][2]))
    if scan.borders.widest > LARGE_HOLE:
        yield (
            f"{name}: the scan has a hole {scan.borders.widest:.0f} mm wide, {place_words(scan, scan.borders.at)}; "
            "nothing is known behind it: scan there again, or measure what is there"
        )
    if dict(scan.left_out).get(FROM_WHEEL):
        assert part.cut_wheel is not None
        yield (
            f"{name}: what is nearer than {part.cut_wheel.within:g} mm to the wheel and tire that were on cannot be "
            "told from them in the scan, and does not count; look there by hand"
        )
