"""A scan laid into the body by places found both in it and by tape: least squares, and what is left over."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fitment.errors import ScanError
from fitment.frames import Array
from fitment.parts.obstacles import USUAL_TOLERANCE
from fitment.parts.obstacles import Point as BodyPoint
from fitment.scans.reading import UNITS
from fitment.scans.round_face import FacePlacing
from fitment.units import length_text

LEAST_POINTS = 3
NARROW = 20.0  # [mm] that points lie off one line, or off one plane, at least; common practice, no published source
MOST_OFF = 50.0  # [mm] that the points of a fit may be off in the mean; common practice, no published source
FAR_OFF = 3.0  # [-] times as far off as the others by their own: the point is named
LEAST_FAR = 8.0  # [mm] off the others, below which nobody is named; common practice, no published source
SCALE_OFF = 0.01  # [-] of a scan's scale, from which a caution tells it; common practice, no published source
NEAR_UNIT = 0.08  # [-] within which a scale is that of another unit
MIRRORED = 0.4  # [-] of the mean residual that is left when a scan is mirrored, below which it was mirrored


@dataclass(frozen=True)
class ReferencePoint:
    """A place that was found twice.

    name : what it is called
    scan : in the scan's own axes [mm]; at : by tape, body frame [mm]
    tolerance : of the tape's reading [mm]; None = the usual one
    """

    name: str
    scan: BodyPoint
    at: BodyPoint
    tolerance: float | None = None


@dataclass(frozen=True)
class Placement:
    """How a scan lies in the body: body = scale * rotation @ scan + shift.

    residuals : how far each point is off after the fit [mm]
    off : one point that the others, or the face, do not agree with, and how far it is off [mm]; None = none, or nobody
        can tell
    free_scale : the scale that fits best [-]
    free_rms : what is left in the mean with it [mm]
    is_flat : the points lie in a plane, so that nothing tells whether the scan is mirrored
    middle : place of the body about which it may be turned [mm]; spread : variances of a small shift, of a turn about
        it [mm, rad] and of the scale where that is free (6 or 7 rows); () = nothing but the scan's own axes places it
    face : what was found in the scan, where a face places it
    """

    rotation: tuple[tuple[float, ...], ...]
    scale: float
    shift: BodyPoint
    points: tuple[ReferencePoint, ...] = ()
    residuals: tuple[float, ...] = ()
    off: tuple[str, float] | None = None
    free_scale: float = 1.0
    free_rms: float = 0.0
    is_flat: bool = False
    middle: BodyPoint = (0.0, 0.0, 0.0)
    spread: tuple[tuple[float, ...], ...] = ()
    face: FacePlacing | None = None

    def body(self, places: Array) -> Array:
        """Places of the scan (n, 3) in the body frame [mm]."""
        return np.asarray(self.scale * places @ np.array(self.rotation).T + np.array(self.shift))

    def carried(self, places: Array, other: Placement) -> Array:
        """Places of the body (n, 3) [mm] where the same places of the scan lie by another placement [mm]."""
        scan = (places - np.array(self.shift)) @ np.array(self.rotation) / self.scale
        return other.body(scan)

    @property
    def rms(self) -> float:
        """What is left in the mean [mm]."""
        return float(np.sqrt(np.mean(np.square(self.residuals)))) if self.residuals else 0.0

    @property
    def worst(self) -> float:
        """The largest residual [mm]."""
        return max(self.residuals, default=0.0)

    def off_at(self, places: Array) -> float:
        """How far the scan may lie off at the farthest of these places [mm], two standard deviations.

        Source: propagation of errors through the linearised fit; two standard deviations as everywhere.
        """
        if not self.spread:
            return 0.0
        spread = np.array(self.spread)
        moves = [_moves(place - np.array(self.middle), len(spread) == 7) for place in places]
        return float(2 * np.sqrt(max(np.linalg.eigvalsh(move @ spread @ move.T)[-1] for move in moves)))


def _spread(points: Sequence[ReferencePoint], residuals: Array, *, free_scale: bool) -> Array:
    """Variances of shift, turn and free scale about the middle of the points.

    Each point is taken to be off by half its tolerance in each direction, or by what the residuals show where that is
    more. Source: propagation of errors through the linearised fit.
    """
    at = np.array([point.at for point in points])
    freedom = 3 * len(at) - 6 - free_scale
    shown = np.sqrt(np.sum(residuals**2) / max(freedom, 1))
    sigma = np.maximum([half_tolerance(point) for point in points], shown)
    weight = np.linalg.pinv(np.concatenate([_moves(arm, free_scale) for arm in at - at.mean(axis=0)]))
    return np.asarray((weight * np.repeat(sigma, 3) ** 2) @ weight.T)


def half_tolerance(point: ReferencePoint) -> float:
    """Standard deviation of a tape's reading in each direction [mm]."""
    return (USUAL_TOLERANCE if point.tolerance is None else point.tolerance) / 2


def _moves(arm: Array, has_free_scale: bool) -> Array:
    """What a small shift and turn do to a place (3, 6), and a small change of scale (3, 7)."""
    x, y, z = arm
    moves = np.hstack([np.eye(3), [[0, z, -y], [-z, 0, x], [y, -x, 0]]])
    return np.hstack([moves, arm[:, None]]) if has_free_scale else moves


AS_IT_LIES = Placement(((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), 1.0, (0.0, 0.0, 0.0))


def as_rows(matrix: Array) -> tuple[tuple[float, ...], ...]:
    """A matrix as a record holds it."""
    return tuple(map(tuple, matrix.tolist()))


def laid_over(scan: Array, body: Array, *, free_scale: bool = False) -> tuple[Array, float, Array]:
    """Rotation (3, 3), scale [-] and shift (3,) [mm] that lay points (n, 3) over others with the least squares.

    Source: Kabsch 1976, with Umeyama 1991's scale and sign: no mirror image.
    """
    a, b = scan - scan.mean(axis=0), body - body.mean(axis=0)
    u, stretch, v = np.linalg.svd(b.T @ a)
    sign = np.array([1.0, 1.0, np.sign(np.linalg.det(u) * np.linalg.det(v))])
    rotation = (u * sign) @ v
    scale = float((stretch * sign).sum() / (a * a).sum()) if free_scale else 1.0
    return rotation, scale, body.mean(axis=0) - scale * rotation @ scan.mean(axis=0)


def _rms(scan: Array, body: Array, *, free_scale: bool = False) -> float:
    rotation, scale, shift = laid_over(scan, body, free_scale=free_scale)
    return float(np.sqrt(np.mean(np.sum((scale * scan @ rotation.T + shift - body) ** 2, axis=1))))


def placed_by(points: Sequence[ReferencePoint], *, units: str, free_scale: bool, mirrored: bool) -> Placement:
    """The placement that the points give; units : of the file, for what is said.

    Raises ScanError where they give none: too few, on one line, another unit, a mirror image, or far off each other.
    """
    scan, body = (np.array([getattr(point, key) for point in points], dtype=float) for key in ("scan", "at"))
    _check_apart(body, "by tape")
    _check_scale(scan, body, units)
    _check_apart(scan, "in the scan")
    is_flat = len(points) == LEAST_POINTS or _widths(body)[2] < NARROW
    rotation, scale, shift = laid_over(scan, body, free_scale=free_scale)
    residuals = np.linalg.norm(scale * scan @ rotation.T + shift - body, axis=1)
    rms = float(np.sqrt(np.mean(residuals**2)))
    if not is_flat:
        _check_hand(scan, body, rms, free_scale=free_scale, mirrored=mirrored)
    free = laid_over(scan, body, free_scale=True)[1]
    found = Placement(
        as_rows(rotation), scale, tuple(shift.tolist()), tuple(points), tuple(residuals.tolist()),
        None, free, _rms(scan, body, free_scale=True), is_flat, tuple(body.mean(axis=0).tolist()),
        as_rows(_spread(points, residuals, free_scale=free_scale)),
    )  # fmt: skip
    found = replace(found, off=_off_the_others(points, scan, body, free_scale=free_scale))
    if rms > MOST_OFF:
        raise ScanError(
            f"the reference points do not fit: {listed_residuals(found)}. {_advice(found)}",
            ("placed_by",),
        )
    return found


def listed_residuals(found: Placement) -> str:
    """How far off each reference point is."""
    told = zip(found.points, found.residuals, strict=True)
    return ", ".join(f"{point.name} is {length_text(off, 'mm')} off" for point, off in told)


def _advice(found: Placement) -> str:
    if found.off is None:
        return "Measure them again, or look whether two are interchanged."
    return f"The others agree but for {found.off[0]}: measure it again, by tape and in the scan."


def _widths(places: Array) -> Array:
    """How wide places lie along their principal axes [mm], the widest first."""
    middle = places - places.mean(axis=0)
    return np.asarray(np.ptp(middle @ np.linalg.svd(middle, full_matrices=False)[2].T, axis=0))


def _check_apart(places: Array, where: str) -> None:
    if len(places) < LEAST_POINTS:
        raise ScanError(
            f"{len(places)} reference points do not tell how a scan lies; give {LEAST_POINTS} that lie on no one line, "
            "better five.",
            ("placed_by",),
        )
    if _widths(places)[1] < NARROW:
        raise ScanError(
            f"the reference points lie on one line {where}, within {NARROW:g} mm, so the scan could turn about it; "
            "take another point well off that line.",
            ("placed_by",),
        )


def _check_scale(scan: Array, body: Array, units: str) -> None:
    """Refuses points that are as far apart by tape as they would be in another unit."""
    apart = np.linalg.norm(body - body.mean(axis=0)) / max(float(np.linalg.norm(scan - scan.mean(axis=0))), 1e-9)
    for unit, factor in UNITS.items():
        if unit != units and abs(apart * UNITS[units] / factor - 1) < NEAR_UNIT:
            raise ScanError(
                f"by tape the reference points are {apart:.3g} times as far apart as in the scan, so the scan's unit "
                f"is not {units} but probably {unit}; write units: {unit}.",
                ("units",),
            )


def _check_hand(scan: Array, body: Array, rms: float, *, free_scale: bool, mirrored: bool) -> None:
    """Refuses a scan that fits much better in a mirror."""
    other = _rms(scan * (-1, 1, 1), body, free_scale=free_scale)
    if rms > LEAST_FAR and other < MIRRORED * rms:
        raise mirror_error(rms, other, mirrored=mirrored)


def mirror_error(rms: float, other: float, *, mirrored: bool) -> ScanError:
    """That a scan fits much better in a mirror; rms, other : left in the mean as it is, and in a mirror [mm]."""
    what = "is mirrored (left-handed axes)" if not mirrored else "is not mirrored"
    todo = "Write mirrored: true, or export it" if not mirrored else "Remove mirrored: true, or export it"
    return ScanError(
        f"the scan {what}: as it is the reference points are {rms:.0f} mm off in the mean, in a mirror "
        f"{other:.1f} mm. {todo} with right-handed axes. A scan of the right side is one of the left in a mirror.",
        ("placed_by",),
    )


def _off_the_others(
    points: Sequence[ReferencePoint], scan: Array, body: Array, *, free_scale: bool
) -> tuple[str, float] | None:
    """The point without which the rest agrees much better, and how far off these it is [mm]; of at least four."""
    if len(points) <= LEAST_POINTS:
        return None
    found = []
    for i in range(len(points)):
        rest = np.arange(len(points)) != i
        if _widths(body[rest])[1] < NARROW or _widths(scan[rest])[1] < NARROW:
            continue
        rotation, scale, shift = laid_over(scan[rest], body[rest], free_scale=free_scale)
        off = np.linalg.norm(scale * scan @ rotation.T + shift - body, axis=1)
        freedom = 3 * (len(points) - 1) - 6 - free_scale
        left = float(np.sqrt(np.sum(off[rest] ** 2) / max(freedom, 1)))
        found.append((left, float(off[i]), points[i].name))
    if not found:
        return None
    left, off_them, name = min(found)
    return (name, off_them) if off_them > max(LEAST_FAR, FAR_OFF * left) else None
