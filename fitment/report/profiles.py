"""A profile as it was read, as text and JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from fitment.report.common import head_json, setup_words, table, wrapped
from fitment.report.readings import assumed_json, slip_lines, source_lines, usual_json
from fitment.units import in_units, length_text, read_text

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.checks.case import Case
    from fitment.parts.obstacles import Obstacle
    from fitment.profile import Profile


def profile_json(case: Case) -> dict[str, Any]:
    """One axle of a profile as it was understood: every obstacle in body coordinates."""
    axle = case.ready.axle
    return {
        **head_json(case),
        "hub_face_mm": list(axle.hub_face_at),
        "travel_mm": [axle.droop, axle.bump],
        "ride_heights_mm": dict(axle.ride_heights),
        "usual_tolerance": usual_json(case.ready),
        "assumed": assumed_json(case.ready),
        "baseline_overlaps": list(case.ready.baseline_touches),
        "obstacles": [
            {
                "name": o.name, "shape": o.shape, "fixed_to": list(dict.fromkeys(o.fixed_to)),
                "radius_mm": o.radius, "tolerance_mm": o.tolerance, "points_mm": [list(p) for p in o.points],
                "outline_mm": [list(p) for p in o.outline],
                **({"triangles": len(o.mesh.faces)} if o.mesh else {}),
            }
            for o in axle.obstacles
        ],
        **({"scans": told} if (told := [json for json, _ in _scans(case)]) else {}),
        "low_points": [
            {"name": low.name, "fixed_to": low.fixed_to, "at_mm": list(low.at)} for low in axle.low_points
        ],
    }  # fmt: skip


def _scans(case: Case) -> list[tuple[dict[str, Any], str]]:
    """Each scan as data and in words, lengths in mm."""
    from fitment.profile.scan_parts import scan_json, scan_words

    return [(scan_json(*scan), scan_words(*scan)) for scan in case.ready.scans]


SLID = {
    "out": ("outboard", "inboard"),
    "ahead": ("forward", "rearward"),
    "up": ("up", "down"),
    "radial": ("away from the hub centre", "toward the hub centre"),
}


def profile_text(profile: Profile, cases: Sequence[Case], units: str = "mm") -> str:
    """What the profile holds, so that a mistyped point is seen."""
    parts = [profile.name, *([wrapped(profile.note, first="  ", rest="  ")] if profile.note else [])]
    parts += [f"builds: {', '.join(profile.build_names)} (baseline: {profile.baseline})"]
    parts += slip_lines([case.ready for case in cases], units)
    for case in cases:
        axle = case.ready.axle
        heights = ", ".join(f"{name} {length_text(z, units, digits=0, sign=True)}" for name, z in axle.ride_heights)
        droop, bump = (length_text(z, units, digits=0, sign=True) for z in (axle.droop, axle.bump))
        parts += [
            "",
            f"{axle.name}, build {case.ready.build}: {setup_words(case.fit.setup, units)}",
            f"  hub face {read_text(axle.hub_face_at[1], units)} from the centre plane",
            f"  hub centre {read_text(axle.hub_height, units)} above ground as measured",
            f"  travel {droop} to {bump}; ride heights: {heights or 'none named'}",
        ]
        rows = [("obstacle", "shape", "fixed to", "x", "y", "z (body frame, lowest to highest)")]
        for o in axle.obstacles:
            rows.append((o.name, o.shape, " / ".join(dict.fromkeys(o.fixed_to)), *_spans(o, units)))
        for low in axle.low_points:
            x, y, z = (length_text(v, units, digits=0) for v in low.at)
            rows.append((low.name, "low point", low.fixed_to, x, y, z))
        parts += [table(rows, left=3)]
        parts += [
            f"  {slide.part}: moved {length_text(abs(slide.distance), units)} "
            f"{SLID[slide.along][slide.distance < 0]} to match its measured gap"
            for slide in case.ready.slid
        ]
        parts += [wrapped(in_units(words, units)) for _, words in _scans(case)]
        parts += [*source_lines(case.ready), *(wrapped(in_units(words, units)) for words in case.ready.rests_on)]
    parts += ["", *(wrapped(in_units(words, units)) for words in profile.warnings)]
    return "\n".join(parts).rstrip()


def _spans(obstacle: Obstacle, units: str) -> tuple[str, str, str]:
    if obstacle.shape == "ring":
        return ("hub", "hub", "hub")
    places = obstacle.points if obstacle.mesh is None else obstacle.mesh.vertices.tolist()
    ends = [(min(values), max(values)) for values in zip(*places, strict=True)]
    x, y, z = (" to ".join(dict.fromkeys(length_text(v, units, digits=0) for v in pair)) for pair in ends)
    return x, y, z
