"""Both corners of an axle whose sides differ: what belongs to the two together, and what the difference means."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import numpy as np

from fitment.checks.full_case import FullCase
from fitment.checks.road_changes import Track
from fitment.corners import axle_of
from fitment.frames import Array
from fitment.parts.axle import Axle

TOLD = 0.5  # [mm] and a tenth of it in degrees: what a tape does not tell is not told here


def side_by_side(cases: Sequence[FullCase]) -> list[FullCase]:
    """Cases of one build, each with the other axle's; those of two corners of an axle each with the other one, and the
    track between them.

    Source: geometry: the track is both contacts' distance from the centre plane.
    """
    found = []
    for case in cases:
        mate = next((other for other in cases if _are_mates(case, other)), None)
        found.append(case if mate is None else _with_mate(case, mate))
    return [replace(case, beside=_beside(case, found)) for case in found]


def _beside(case: FullCase, cases: Sequence[FullCase]) -> FullCase | None:
    """The other axle, its corner on the same side where its sides differ."""
    others = [other for other in cases if axle_of(other.fit.axle.name) != axle_of(case.fit.axle.name)]
    same = (other for other in others if set(other.fit.axle.sides) & set(case.fit.axle.sides))
    return next(same, next(iter(others), None))


def _are_mates(case: FullCase, other: FullCase) -> bool:
    return case is not other and axle_of(case.fit.axle.name) == axle_of(other.fit.axle.name)


def _with_mate(case: FullCase, mate: FullCase) -> FullCase:
    """Each knows its half of the track twice, so that theirs is the mean."""

    def mean(one: float, other: float) -> float:
        return (one + other) / 2

    own, *others = case.road.tracks
    its = mate.road.tracks[0]
    track = Track(axle_of(own.axle), mean(own.old, its.old), mean(own.new, its.new))
    change: Mapping[str, float] = {**case.change, "track": mean(case.change["track"], mate.change["track"])}
    return replace(
        case,
        mate=mate,
        unlike=tuple(differences(*sorted((case.fit.axle, mate.fit.axle), key=lambda axle: axle.sides))),
        stance=replace(case.stance, track=mean(case.stance.track, mate.stance.track)),
        change=change,
        road=replace(case.road, tracks=(track, *others)),
    )


def differences(left: Axle, right: Axle) -> Iterator[str]:
    """What differs between the sides of an axle as measured, and what it means, a line each.

    Source: geometry: half the difference of both hub faces' distances from the centre plane is the axle's offset.
    """
    off = left.hub_face_at[1] - right.hub_face_at[1]
    if abs(off) >= TOLD:
        yield (
            f"the axle stands {abs(off) / 2:.1f} mm to the {'left' if off > 0 else 'right'}: hub face to centre line "
            f"{left.hub_face_at[1]:.1f} mm left, {right.hub_face_at[1]:.1f} mm right"
        )
    high = left.hub_height - right.hub_height
    if abs(high) >= TOLD:
        yield (
            f"the hub stands {abs(high):.1f} mm higher above the ground on the {'left' if high > 0 else 'right'}: "
            "tires, pressures or the ground differ there"
        )
    lean = left.suspension.camber - right.suspension.camber
    if abs(lean) >= TOLD / 10:
        sides = f"{left.suspension.camber:+.2f} deg left, {right.suspension.camber:+.2f} deg right"
        yield f"camber differs by {abs(lean):.2f} deg: {sides}"
    there = {part.name: part for part in right.obstacles}
    for part in left.obstacles:
        other = there.pop(part.name, None)
        if other is None:
            yield f"{part.name}: on the left only"
        elif other.mesh != part.mesh:
            yield f"{part.name}: another scan on the right"
        elif other.points != part.points and len(other.points) == len(part.points):
            words = _words(*_moved(left, right, np.array(part.points), np.array(other.points)))
            if words:
                on_body = set(part.fixed_to) == {"body"}
                why = "the body leans, or the panel differs" if on_body else "it is bent, or another part"
                yield f"{part.name}: on the right {words}; {why}"
    for name in there:
        yield f"{name}: on the right only"


def _moved(left: Axle, right: Axle, points: Array, others: Array) -> tuple[float, float]:
    """By how much a part stands farther out of the hub face and higher over the hub on the right, its mean [mm]."""
    from_left, from_right = points - np.array(left.hub_face_at), others - np.array(right.hub_face_at)
    _, out, up = (from_right - from_left).mean(axis=0).tolist()
    return out, up


def _words(out: float, up: float) -> str:
    words = []
    if abs(out) >= TOLD:
        words.append(f"{abs(out):.1f} mm farther {'out' if out > 0 else 'in'} against the hub face")
    if abs(up) >= TOLD:
        words.append(f"{abs(up):.1f} mm {'higher' if up > 0 else 'lower'} over the hub")
    return " and ".join(words)
