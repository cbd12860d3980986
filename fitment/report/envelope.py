"""The space that tire and wheel sweep, as text, JSON and as a mesh in a file."""

from __future__ import annotations

import math
import struct
from typing import TYPE_CHECKING, Any

from fitment.report.common import axle_json, rounded, setup_json, setup_words, wrapped
from fitment.terminal import cell
from fitment.units import in_units, length_text

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.answers.envelope import Envelope, SweptBuild

NOT_COUNTED = (
    "Readings count as given, without their tolerances; what happens in service (growth, play, chains) and the tire's "
    "bulge on the ground are not in it. Allow for them in the clearance, and test fit through full travel and lock "
    "before driving."
)


def envelope_json(found: Envelope) -> dict[str, Any]:
    """What was swept, how far the space reaches and how exact its mesh is; lengths in mm, body frame.

    outside_mm : the least and the greatest by which a vertex stands outside of the swept space and its clearance
    faces_inside_mm, faces_outside_mm : the furthest between vertices, of places that were looked at
    faces_inside_share : of these places the share that lies inside
    """
    return {
        "profile": found.vehicle,
        **axle_json(found.axle.name),
        "builds": [_build_json(each) for each in found.builds],
        "largest_tire": found.worst,
        "poses": found.poses,
        "extra_mm": rounded(found.extra),
        "deviation_mm": rounded(found.deviation),
        "outside_mm": [rounded(found.lowest), rounded(found.highest)],
        "faces_inside_mm": rounded(found.faces[0]),
        "faces_outside_mm": rounded(found.faces[1]),
        "faces_inside_share": round(found.faces[2], 5),
        "extents_mm": {
            way: [rounded(low), rounded(high)] for way, low, high in zip("xyz", found.low, found.high, strict=True)
        },
        "floor_z_mm": rounded(found.floor),
        "volume_l": rounded(found.mesh.volume / 1e6),
        "vertices": len(found.mesh.vertices),
        "triangles": len(found.mesh.triangles),
        "slices": [
            {
                "way": each.way,
                "at_mm": rounded(each.at),
                "box_mm": [rounded(value) for value in each.shape.bounds],
                "area_mm2": rounded(each.shape.area),
            }
            for each in found.slices
        ],
        "not_counted": NOT_COUNTED,
    }


def _build_json(each: SweptBuild) -> dict[str, Any]:
    return {
        "build": each.build,
        "setup": setup_json(each.setup),
        "travel_mm": [rounded(value) for value in each.travel],
        "steer_deg": [rounded(value) for value in each.steer],
    }


def envelope_text(found: Envelope, units: str = "mm") -> str:
    """What was swept, how far it reaches, and how exact it is."""
    around = f", and {length_text(found.extra, units)} round it" if found.extra else ""
    lines = [f"{found.axle.title}: the space that tire and wheel sweep{around}"]
    for each in found.builds:
        low, high = (length_text(value, units, sign=True, digits=0) for value in each.travel)
        right, left = each.steer
        lines.append(
            wrapped(
                f"{each.build}: {setup_words(each.setup, units)}; travel {low} to {high}, steer {right:+.1f} to "
                f"{left:+.1f} deg",
                first="  ",
                rest="    ",
            )
        )
    lines += [f"  {line}" for line in reach_lines(found, units)]
    lines += [wrapped(in_units(line, units), first="  ", rest="    ") for line in exact_lines(found)]
    names = ", ".join(each.name if units == "mm" else f"{each.way}={_inches(each.at)}" for each in found.slices)
    return "\n".join([*lines, f"  Slices [{units}]: {names}", wrapped(NOT_COUNTED)])


def _inches(at: float) -> str:
    return length_text(at, "in").removesuffix(" in")


def reach_lines(found: Envelope, units: str) -> list[str]:
    """How far the space reaches, from what a tape finds."""
    (x0, y0, z0), (x1, y1, z1) = found.low, found.high
    told = [length_text(value, units, digits=0) for value in (x1, -x0, min(abs(y0), abs(y1)), max(abs(y0), abs(y1)))]
    up, down, floor = (length_text(value, units, digits=0) for value in (z1, -z0, -found.floor))
    size = length_text(found.mesh.volume / 1e6, "mm", digits=1).removesuffix(" mm")
    return [
        f"reaches {told[0]} ahead of the axle line, {told[1]} behind it",
        f"from {told[2]} to {told[3]} from the centre plane",
        f"{up} above the hub centre, {down} below it (floor {floor} below, as measured)",
        f"{size} litres",
    ]


def exact_lines(found: Envelope) -> list[str]:
    """How exact the mesh is, lengths in mm."""
    inside, outside, share = found.faces
    tire = "the largest tire that its market permits" if found.worst else "the tire as its code says"
    side = "" if " " in found.axle.name else " This is the left side; the right one is its mirror."
    swept = (
        f"With {tire}, searched through {found.poses} cells of travel and steering; between them the motion is "
        f"continuous.{side}"
    )
    between = (
        f"Between them up to {_up(inside)} mm inside, at {share * 100:.2f} % of {found.looked_at} fresh places looked "
        f"at: ask for {_up(inside)} mm more (--extra) where that counts. Up"
        if inside
        else f"Between them nothing lies inside at {found.looked_at} fresh places looked at; up"
    )
    exact = (
        f"Mesh of {len(found.mesh.vertices)} vertices, outside of what is swept by {found.lowest - 0.005:.2f} to "
        f"{found.highest + 0.005:.2f} mm, as measured at some ({found.deviation:g} mm was the aim). {between} to "
        f"{outside:.1f} mm outside, in creases and narrow gaps, which is the safe side."
    )
    return [swept, exact, "The bore of the wheel counts as filled, its hollow as open."]


def _up(value: float) -> str:
    """A length [mm] that is not less than it is."""
    return f"{math.ceil(value * 100 - 1e-9) / 100:.2f}"


def short_limits(found: Envelope) -> str:
    """What whoever cuts by a drawing must know, on the drawing."""
    short = f" Between vertices up to {_up(found.faces[0])} mm short." if found.faces[0] else ""
    return (
        "Not in it: tolerances of readings, service (growth, play, chains), the bulge on the ground."
        f"{short} Test fit before you cut to it."
    )


# ---------------------------------------------------------------- mesh files


def stl_bytes(found: Envelope) -> bytes:
    """The mesh as a binary STL, mm: 80 letters, the count, then of each triangle normal, three corners, two bytes."""
    import numpy as np  # a report of a size alone does without

    corners = found.mesh.vertices[found.mesh.triangles].astype("<f4")
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]).astype(float)
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-12)[:, None]
    record = np.zeros(len(corners), dtype=[("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("rest", "<u2")])
    record["normal"], record["corners"] = normal, corners
    head = f"swept space, mm, x forward y left z up: {_ascii(found)}"[:80].ljust(80)
    return head.encode("ascii") + struct.pack("<I", len(corners)) + record.tobytes()


def ply_bytes(found: Envelope) -> bytes:
    """The mesh as a binary PLY, mm, vertices in double precision."""
    import numpy as np

    mesh = found.mesh
    head = [
        "ply", "format binary_little_endian 1.0", f"comment swept space, mm, x forward y left z up: {_ascii(found)}",
        f"element vertex {len(mesh.vertices)}", *(f"property double {way}" for way in "xyz"),
        f"element face {len(mesh.triangles)}", "property list uchar int vertex_indices", "end_header",
    ]  # fmt: skip
    faces = np.zeros(len(mesh.triangles), dtype=[("count", "u1"), ("corners", "<i4", 3)])
    faces["count"], faces["corners"] = 3, mesh.triangles
    return "\n".join([*head, ""]).encode("ascii") + mesh.vertices.astype("<f8").tobytes() + faces.tobytes()


def _ascii(found: Envelope) -> str:
    return (
        cell(f"{found.axle.name}, {', '.join(each.build for each in found.builds)}").encode("ascii", "replace").decode()
    )
