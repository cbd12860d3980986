"""What a profile's points count from: the baseline's hub face."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from fitment.frames import hub_rotation, spin_axis
from fitment.parts.axle import Axle
from fitment.parts.obstacles import Point as BodyPoint
from fitment.profile.schema.axle import AxlePart
from fitment.profile.schema.builds import CornerPart
from fitment.profile.values import Point, SquarePoint


@dataclass(frozen=True)
class Datum:
    """The baseline's hub face, from which the body was measured.

    centre : body frame [mm]
    rotation : hub to body, at the baseline's reference camber and toe
    height : of the centre above the ground [mm]
    setup : what the baseline has bolted on; folder : in which scans lie, None = the profile was read from a text
    moving : the baseline's axle without its parts, by which its hub moves; None where nothing asks for it
    """

    centre: BodyPoint
    rotation: Any
    height: float
    setup: CornerPart | None = None
    folder: Path | None = None
    moving: Axle | None = None

    def place(self, point: Point, *, from_hub_face: bool = False) -> BodyPoint:
        """A measured point in the body frame [mm]."""
        x0, y0, z0 = self.centre
        if isinstance(point, tuple):
            x, y, z = (coordinate.value for coordinate in point)
            return x, y + (y0 if from_hub_face else 0.0), z
        if isinstance(point, SquarePoint):
            up = point.height.value - (0.0 if point.up else self.height)
            return tuple(round(v, 9) for v in (x0 + point.ahead.value, y0 + point.out.value, z0 + up))  # type: ignore[return-value]
        angle = np.radians(point.clock.value)
        offset = np.array([point.radius.value * np.cos(angle), point.out.value, point.radius.value * np.sin(angle)])
        dx, dy, dz = self.rotation @ offset if point.to_hub else offset
        return tuple(round(float(value), 9) for value in (x0 + dx, y0 + dy, z0 + dz))  # type: ignore[return-value]


def hub_face_at(part: AxlePart, datum: Datum | None = None) -> BodyPoint:
    """Centre of the hub face in the body frame [mm]; datum : the baseline's, from which another may be counted."""
    if isinstance(part.hub_face_at, SquarePoint) and datum is not None:
        return datum.place(part.hub_face_at)
    if isinstance(part.hub_face_at, tuple):
        x, y, z = (coordinate.value for coordinate in part.hub_face_at)
        return x, y, z
    return 0.0, part.hub_face_width.value / 2, 0.0


def datum_of(baseline: AxlePart, setup: CornerPart | None = None, folder: Path | None = None) -> Datum:
    suspension = baseline.suspension
    axis = spin_axis(suspension.camber.value, -suspension.toe_in.value)
    return Datum(hub_face_at(baseline), hub_rotation(axis), baseline.hub_height.value, setup, folder)
