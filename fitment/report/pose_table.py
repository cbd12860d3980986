"""The pose table as text, JSON and CSV."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from fitment.report.common import angle_text, axle_json, records_csv, rounded, table, wrapped
from fitment.units import in_units, length_text

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.answers.pose_table import PoseRow, PoseTable


LEAST = ("hub face y", "kingpin incl.", "trail", "scrub radius", "caster")  # what a narrow terminal can do without


def poses_json(poses: PoseTable) -> dict[str, Any]:
    """The contract's `poses` object."""
    return {
        **axle_json(poses.axle),
        "rake_deg": rounded(poses.rake, 6),
        "poses": [_pose_json(row, poses.rake) for row in poses.rows],
    }


def _pose_json(row: PoseRow, rake: float | None) -> dict[str, Any]:
    to_ground = None if rake is None or row.caster is None else row.caster - rake
    return {
        "travel_mm": rounded(row.travel, 7),
        "rack_mm": rounded(row.rack, 7),
        "steer_deg": rounded(row.steer, 8),
        "toe_in_deg": rounded(row.toe_in, 8),
        "camber_deg": rounded(row.camber, 8),
        "caster_deg": rounded(row.caster, 8),
        "caster_to_ground_deg": rounded(to_ground, 8),
        "kingpin_inclination_deg": rounded(row.kingpin_inclination, 8),
        "scrub_radius_mm": rounded(row.scrub_radius, 7),
        "mechanical_trail_mm": rounded(row.mechanical_trail, 7),
        "hub_face_mm": None if row.hub_face is None else [rounded(x, 7) for x in row.hub_face],
        "spin_axis": None if row.spin_axis is None else [rounded(x, 12) for x in row.spin_axis],
        "reachable": row.reachable,
        "within_limits": row.within_limits,
        "reason": row.reason,
    }


def poses_csv(tables: Sequence[PoseTable]) -> str:
    """Every pose as a row."""
    rows = []
    for poses in tables:
        for row in poses.rows:
            data = axle_json(poses.axle) | _pose_json(row, poses.rake)
            for name in ("hub_face_mm", "spin_axis"):
                data |= dict(zip([f"{name}_{axis}" for axis in "xyz"], data.pop(name) or [None] * 3, strict=True))
            rows.append(data)
    return records_csv(rows)


def poses_text(poses: PoseTable, units: str = "mm") -> str:
    """The motion as a table."""
    assumed = [wrapped(poses.assumed)] if poses.assumed else []
    return "\n".join([poses.axle, table(pose_rows(poses, units), left=0, least=LEAST), *rake_lines(poses), *assumed])


def pose_rows(poses: PoseTable, units: str = "mm") -> list[Sequence[str]]:
    """Heading and cells of every pose; remarks in the last column."""
    rows: list[Sequence[str]] = [
        ("travel", "steer", "toe-in", "camber", "caster", "kingpin incl.", "scrub radius", "trail", "hub face y", "")
    ]
    for row in poses.rows:
        angles = (row.steer, row.toe_in, row.camber, row.caster, row.kingpin_inclination)
        lengths = (row.scrub_radius, row.mechanical_trail, row.hub_face[1] if row.hub_face else None)
        rows.append(
            (
                length_text(row.travel, units, digits=0, sign=True),
                *("-" if a is None else angle_text(a) for a in angles),
                *("-" if x is None else length_text(x, units) for x in lengths),
                "" if row.within_limits and row.reachable else in_units(row.reason or "", units),
            )
        )
    return rows


def rake_lines(poses: PoseTable) -> list[str]:
    """What the pitch of the body does to caster, where it is known."""
    if poses.rake is None:
        return []
    size = f"{abs(poses.rake):.2f} deg"
    words = f"{size} nose down, so caster to the ground is {size} less"
    if poses.rake < 0:
        words = f"{size} nose up, so caster to the ground is {size} more"
    if abs(poses.rake) < 0.005:
        words = "level, so caster to the ground is the same"
    return [wrapped(f"caster is measured to the body. At rest this build stands {words}", first="  ", rest="  ")]
