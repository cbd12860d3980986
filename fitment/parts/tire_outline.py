"""The outline of a tire as a contour gauge reads it: what can belong to it, and how far it could stand out between."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise

from fitment.errors import CodeError
from fitment.parts.tire import Tire, nominal_diameter, overall_diameter, section_width

Point = tuple[float, float]

# An outline read with a contour gauge: what is refused as a slip. Assumptions of this program.
TO_CROWN = 0.1  # of the nominal width, within which of the middle plane it has to end
TO_SIDEWALL = 0.6  # of the section height, below which it has to begin
OFF_WIDTH, OFF_DIAMETER = 0.12, 0.05  # shares by which it may differ from the size
BEYOND_CHORD = 3.0  # [mm] that a convex outline through the points could stand beyond the line from one to the next


def with_outline(tire: Tire, points: Sequence[Point]) -> Tire:
    """The tire with an outline read with a contour gauge, which also tells its width and diameter.

    tire : as its code and data sheet have it
    points : (y, r) [mm] in the order of the outline, all on one side: y from the middle plane, r from the axis
    Source: derived here.
    """
    line = _from_sidewall(points)
    width, diameter = 2 * max(y for y, _ in line), 2 * max(r for _, r in line)
    return replace(tire, outline=line, section_width=width, overall_diameter=diameter)


def check_outline(tire: Tire, points: Sequence[Point]) -> None:
    """Raises CodeError for an outline that cannot belong to a tire, or whose points are too far apart.

    tire : as its code and data sheet have it
    points : (y, r) [mm], see `with_outline`
    Source: what is plausible are assumptions of this program.
    """
    for problem in _problems(tire, points, _from_sidewall(points)):
        raise CodeError(f"{tire.code}: outline: {problem}")


def _from_sidewall(points: Sequence[Point]) -> tuple[Point, ...]:
    line = tuple((abs(y), r) for y, r in points)
    return line[::-1] if line[0][0] < line[-1][0] else line


def _problems(tire: Tire, points: Sequence[Point], line: Sequence[Point]) -> Iterator[str]:
    """What is wrong with an outline; line : from the sidewall to the crown."""
    width, diameter = 2 * max(y for y, _ in line), 2 * max(r for _, r in line)
    stated, across, d = section_width(tire, tire.on_rim), overall_diameter(tire), nominal_diameter(tire)
    if len(line) < 4:
        yield "at least 4 points are needed from the sidewall to the crown."
    if min(y for y, _ in points) < 0 < max(y for y, _ in points):
        yield "give one side of the middle plane; it is mirrored to the other."
    if abs(diameter - across) > OFF_DIAMETER * across:
        yield (
            f"it is {diameter:.0f} mm across, the tire about {across:.0f} mm. r counts from the axis: half the "
            "diameter, less what the gauge reads."
        )
    if abs(width - stated) > OFF_WIDTH * stated:
        yield f"it is {width:.0f} mm wide, the tire about {stated:.0f} mm. y counts from the tire's middle plane."
    if line[-1][0] > TO_CROWN * tire.nominal_width:
        yield f"it ends {line[-1][0]:.0f} mm from the middle plane; read on to the crown."
    if line[0][1] > d / 2 + TO_SIDEWALL * (diameter - d) / 2:
        yield "it begins too far up; begin at the widest place of the sidewall, or below."
    if any(y1 > y0 and r1 < r0 for (y0, r0), (y1, r1) in pairwise(line)):
        yield "it turns back; list the points in the order of the outline, from the sidewall to the crown."
    gap, k = max((beyond_chord(line, k)[1], k) for k in range(len(line) - 1))
    if gap > BEYOND_CHORD:
        (y0, r0), (y1, r1) = line[k], line[k + 1]
        yield (
            f"between [{y0:g}, {r0:g}] and [{y1:g}, {r1:g}] the tire could stand {gap:.1f} mm outside the straight "
            "line; read a point between them."
        )


def beyond_chord(line: Sequence[Point], k: int) -> tuple[Point | None, float]:
    """Where a convex outline through points could stand furthest out of the line from one to the next.

    line : (y, r) [mm] from the sidewall to the crown; k : the point before the line
    Returns : that place (y, r), None where it is the line itself; and how far it is from the line [mm]
    The sides before and after go on straight at most; below the first point a sidewall is at most upright, and the
    other half mirrors the crown.
    Source: derived here: a convex curve stays on one side of each chord's line outside the chord.
    """
    (y0, r0), (y1, r1) = line[k], line[k + 1]
    chord = (y1 - y0, r1 - r0)
    after = line[k + 2] if k + 2 < len(line) else (-y1, r1) if y1 > 0 else (-y0, r0)
    back = (y1 - after[0], r1 - after[1])
    turn = -_cross(chord, back)
    size, next_size = math.hypot(*chord), math.hypot(*back)
    if k:
        on = (y0 - line[k - 1][0], r0 - line[k - 1][1])
    elif y1 <= y0:
        on = (0.0, 1.0)
    else:  # below the widest place: as if it bent there as it does at the next point
        sine = min(max(turn / (size * next_size), 0.0), 1.0)
        cosine = math.sqrt(1 - sine * sine)
        on = (chord[0] * cosine + chord[1] * sine, chord[1] * cosine - chord[0] * sine)
    if _cross(on, chord) < 1e-9 or turn < 1e-9:
        return None, 0.0
    cross = _cross(on, back)
    if cross >= 0:  # the sides before and after do not meet
        return None, size
    share = _cross(chord, back) / cross
    apex = (y0 + share * on[0], r0 + share * on[1])
    return apex, share * _cross(on, chord) / size


def _cross(one: Point, other: Point) -> float:
    return one[0] * other[1] - one[1] * other[0]
