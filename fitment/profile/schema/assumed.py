"""What stands in a profile for a value that nobody measured: `assumed`, the typical value with its band."""

from __future__ import annotations

from typing import Any

from fitment.parts.tables import typical_values
from fitment.profile.schema.base import Before
from fitment.profile.values import ASSUMED

SCHEMA = {"const": ASSUMED}
AXIS = "suspension.steering_axis"
AXIS_KEYS = ("kingpin_inclination", "caster", "offset", "ahead")


def _typical(key: str) -> dict[str, Any]:
    """The typical value at a key path within an axle, as a profile may write it."""
    row = typical_values()[key]
    return {"value": row.value, "tolerance": row.tolerance, ASSUMED: True}


def or_typical(key: str) -> Before:
    """Lets `assumed` stand for the typical value at a key path within an axle."""
    return Before(lambda given: _typical(key) if given == ASSUMED else given, SCHEMA)


def _axis(given: Any) -> Any:
    return {key: _typical(f"{AXIS}.{key}") for key in AXIS_KEYS} if given == ASSUMED else given


OR_TYPICAL_AXIS = Before(_axis, SCHEMA)


def lacks_axis(axle: Any) -> bool:
    """Whether the plain data of an axle tell of steering but not what the wheel steers about."""
    suspension = axle.get("suspension") if isinstance(axle, dict) else None
    if not isinstance(suspension, dict) or axle.get("steering") is None or "steering_axis" in suspension:
        return False
    points = suspension.get("points")
    balls = isinstance(points, dict) and ("lower_ball" in points or "upper_ball" in points)
    return suspension.get("kind") in ("tape", "solid_axle") and not balls


def with_axis(axle: Any) -> Any:
    """The plain data of an axle, its steering axis assumed where it lacks one."""
    return axle | {"suspension": axle["suspension"] | {"steering_axis": ASSUMED}} if lacks_axis(axle) else axle
