"""What stands in a profile for a value that nobody measured: `assumed`, the typical value with its band."""

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


LINKS = "suspension.links"
SPRINGS = " of leaf springs"  # in data/typical.csv, after the key of a band
LEADS = ("ahead_per_100mm", "ahead_bend")  # of a solid axle whose links nobody read


def _links(given: Any) -> Any:
    return {key: _typical(f"{LINKS}.{key}") for key in LEADS} if given == ASSUMED else given


OR_TYPICAL_LINKS = Before(_links, SCHEMA)


def lacks_links(axle: Any) -> bool:
    """Whether the plain data of an axle tell of a solid axle but not what leads it fore and aft."""
    suspension = axle.get("suspension") if isinstance(axle, dict) else None
    return isinstance(suspension, dict) and suspension.get("kind") == "solid_axle" and "links" not in suspension


def with_links(axle: Any) -> Any:
    """The plain data of an axle; of a solid one what its links leave open is there with its band.

    That is all where no links are known; how far a leaf spring is from the rod that stands for it; and of an axle that
    steers how it turns about itself where no upper links hold it.
    """
    if lacks_links(axle):
        axle = axle | {"suspension": axle["suspension"] | {"links": ASSUMED}}
    suspension = axle.get("suspension") if isinstance(axle, dict) else None
    if not isinstance(suspension, dict) or suspension.get("kind") != "solid_axle":
        return axle
    links = _links(suspension["links"])
    if not isinstance(links, dict) or not links:
        return axle
    springs = "spring_eye" in links
    added = {key: _typical(f"{LINKS}.{key}") for key in LEADS if not springs and "lower_body" not in links}
    if springs:  # near enough to count as any reading does
        added["ahead_per_100mm"] = _typical(f"{LINKS}.ahead_per_100mm{SPRINGS}") | {ASSUMED: False}
    if axle.get("steering") is not None and "upper_body" not in links:
        added["caster_per_100mm"] = _typical(f"{LINKS}.caster_per_100mm{SPRINGS if springs else ''}")
    return axle | {"suspension": suspension | {"links": added | links}}


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
