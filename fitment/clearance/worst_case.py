"""The worst case: the largest permitted tire, and every reading moved against us by its tolerance."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from operator import attrgetter
from typing import NamedTuple

import numpy as np
import shapely

from fitment.clearance.pose_grid import Variant
from fitment.clearance.section_distance import Gaps, Sections, gaps
from fitment.clearance.trace import CarriedCorners, Corners, Trace, trace_of_corners
from fitment.frames import Array
from fitment.motion.suspension import Family
from fitment.parts.axle import Axle, Setup
from fitment.parts.obstacles import Obstacle, Part
from fitment.parts.sections import tire_section, wheel_section

SKEW = ((1, 1, 1), (1, 1, -1), (1, -1, 1), (-1, 1, 1))  # ways in which a scan's places are far apart, beside the axes
AGAINST_US = 2  # times at which it is found anew which way wide bands count against us


def lock_shares(swept: Sequence[Family], where: Sequence[Array]) -> Array:
    """How much of the way to a lock is steered at places of families, one after another (n,) [-], 0 to 1.

    where : of every family (n, k) [mm, then -], a travel and its shares
    Source: derived here, the size of the share that steers.
    """
    own = [
        np.abs(places[:, 1 + family.kinds.index("steer")]) if "steer" in family.kinds else np.zeros(len(places))
        for family, places in zip(swept, where, strict=True)
    ]
    return np.concatenate(own)


def assumes(variants: Sequence[Variant]) -> bool:
    """Whether any reading is assumed."""
    return any(variant.assumed for variant in variants)


def bend_at(obstacle: Obstacle, variants: Sequence[Variant], share: Array) -> Array:
    """What readings take together beyond the sum of what each takes (n,) [mm], where any of them is assumed.

    share : of the way to a lock (n,) [-]
    Source: derived here, see `Bend`.
    """
    own = [bend for variant in variants for bend in variant.bends if bend.obstacle == obstacle.name]
    return sum((bend.straight + bend.at_lock * share for bend in own), np.zeros(len(share)))


@dataclass(frozen=True)
class SetupSections:
    """The sections of a setup, and what its readings may be off by.

    nominal, biggest : tire and wheel (y', r) [mm], the tire as its code says and the largest permitted
    others : the biggest with one reading of the setup moved, each [mm]
    offset_tolerance : of the wheel [mm], or of each pose's (n,)
    variants : the axle with one reading moved, each
    """

    nominal: dict[Part, Sections]
    biggest: dict[Part, Sections]
    others: tuple[dict[Part, Sections], ...]
    offset_tolerance: float | Array
    variants: tuple[Variant, ...]

    @cached_property
    def grown(self) -> float:
        """How far the largest tire of one setup stands out of the nominal one at most [mm]."""
        corners = shapely.points(shapely.get_coordinates(self.biggest["tire"]))
        return float(shapely.distance(corners, self.nominal["tire"]).max())

    @cached_property
    def read(self) -> tuple[dict[str, Obstacle], ...]:
        """The obstacles of every variant by their names."""
        return tuple({obstacle.name: obstacle for obstacle in variant.axle.obstacles} for variant in self.variants)


def sections_of(setup: Setup, variants: Sequence[Variant] = (), others: Sequence[Setup] = ()) -> SetupSections:
    """The sections of a setup; variants, others : the axle and the setup with one reading moved, each."""
    return SetupSections(
        setup_sections(setup),
        setup_sections(setup, largest=True),
        tuple(setup_sections(other, largest=True) for other in others),
        setup.wheel.offset_tolerance,
        tuple(variants),
    )


def together(parts: Sequence[SetupSections]) -> SetupSections:
    """Those of several setups on one axle, one for each pose (n,)."""
    first = parts[0]
    if all(setup is first for setup in parts):
        return first

    def stacked(sections: Sequence[dict[Part, Sections]]) -> dict[Part, Sections]:
        return {part: np.array([own[part] for own in sections], dtype=object) for part in sections[0]}

    return SetupSections(
        stacked([setup.nominal for setup in parts]), stacked([setup.biggest for setup in parts]),
        tuple(stacked(moved) for moved in zip(*(setup.others for setup in parts), strict=True)),
        np.array([setup.offset_tolerance for setup in parts]), first.variants,
    )  # fmt: skip


def setup_sections(setup: Setup, *, largest: bool = False) -> dict[Part, Sections]:
    """Tire and wheel of a setup in the hub frame (y', r) [mm].

    largest : the largest tire that its market permits, not the nominal one
    Raises CodeError for a tire that the wheel does not take.
    Source: `parts/sections.py`.
    """
    spacer = setup.spacer.thickness
    return {
        "tire": tire_section(setup.tire, setup.wheel, spacer, largest=largest),
        "wheel": wheel_section(setup.wheel, spacer),
    }


def worst_clearance(
    trace: Trace,
    part: Part,
    big: Gaps | None,
    moved: Sequence[PartMoved],
    parts: SetupSections,
    bend: float | Array = 0.0,
    tolerance: Array | None = None,
) -> Array:
    """Clearance (n,) [mm] of the largest part with every reading against us.

    big : its gaps where they are known
    moved : the obstacle as each reading moves it, see `read_again`
    bend : what readings take together beyond the sum, see `bend_at` [mm], or of each pose (n,)
    tolerance : of the obstacle in each pose (n,) [mm], where several are told as one
    Source: derived here: what each reading takes to first order, all added; the largest tire that UN R30 or R54
    permits, from memory. Assumed bands are wide, so the part is also measured where they all put it against us.
    """
    big = gaps(parts.biggest[part], trace) if big is None else big
    wide, narrow = ([each for each in moved if each.wide == is_wide] for is_wide in (True, False))
    left = big.clearance - _loss(trace, big, moved, parts.offset_tolerance)
    if wide:
        hub = trace.hub
        steps = [_less(each.corners, hub, trace.obstacle) for each in wide]
        thicker = sum(abs(each.radius - trace.radius) for each in wide)
        near, here, every = big, trace, np.ones((1, len(trace)))
        for _ in range(AGAINST_US):
            signs = _against_us(here, near, steps)
            here = trace_of_corners(trace.obstacle, _plus(hub, signs, steps), trace.radii)
            near = gaps(parts.biggest[part], here)
            narrowed = [
                each._replace(corners=_plus(here.hub, every, [_less(each.corners, hub, trace.obstacle)]))
                for each in narrow
            ]
            left = np.minimum(left, near.clearance - thicker - _loss(here, near, narrowed, parts.offset_tolerance))
    for other in parts.others:
        left = left - np.abs(gaps(other[part], trace).clearance - big.clearance)
    return np.asarray(left - (trace.obstacle.tolerance if tolerance is None else tolerance) - bend)


def _less(corners: Corners, hub: Corners, obstacle: Obstacle) -> Corners:
    """By how much corners (n, v, 3) stand off others [mm]; of a scan, which moves as one, told by frames."""
    if obstacle.mesh is None:
        return np.asarray(np.asarray(corners) - np.asarray(hub))
    assert isinstance(corners, CarriedCorners)
    assert isinstance(hub, CarriedCorners)
    points, frame = hub.points, corners.frame
    if corners.points is not points:  # placed otherwise: what that does to a few places far apart, it does to all
        across = points[:, :3] @ np.array([*np.eye(3), *SKEW]).T
        far = np.concatenate([across.argmin(axis=0), across.argmax(axis=0)])
        frame = np.linalg.lstsq(points[far], corners.points[far], rcond=None)[0] @ frame
    return CarriedCorners(points, frame - hub.frame)


def _plus(hub: Corners, signs: Array, steps: Sequence[Corners]) -> Corners:
    """Corners (n, v, 3) moved by steps, each so many times in every pose (a, n)."""
    if isinstance(hub, CarriedCorners) and isinstance(steps[0], CarriedCorners):
        frames = np.stack([step.frame for step in steps if isinstance(step, CarriedCorners)])
        return CarriedCorners(hub.points, hub.frame + np.einsum("an,anij->nij", signs, frames))
    return np.asarray(np.asarray(hub) + np.einsum("an,anvi->nvi", signs, np.stack([np.asarray(s) for s in steps])))


def _against_us(trace: Trace, near: Gaps, steps: Sequence[Corners]) -> Array:
    """Which way each wide reading (a, n), 1 or -1, brings the nearest points nearer.

    steps : what each moves the corners by, (n, v, 3) each [mm]
    """
    pose = np.arange(len(near.clearance))[:, None]
    corners = trace.hub[pose, near.corners]
    here = _at(corners, near.weights)
    there = np.stack([_at(corners + step[pose, near.corners], near.weights) for step in steps])
    return np.where(np.sum((there - here) * near.away, -1) > 0, -1.0, 1.0)


class PartMoved(NamedTuple):
    """An obstacle with one reading moved.

    radius : its own, or in each pose (n,) [mm]
    corners : its corners in the hub frame then (n, v, 3) [mm]
    wide : nobody read it, so that the tolerance is a wide band
    """

    radius: float | Array
    corners: Corners
    wide: bool


def read_again(obstacle: Obstacle, axle: Axle, parts: SetupSections) -> list[tuple[int, Obstacle]]:
    """The obstacle with each reading moved that moves it against the hub, and which of the variants that is.

    axle : as measured
    A reading of another part takes nothing from this one, so a part costs its own readings, however many there are.
    Source: derived here; what neither the obstacle nor the axle's motion differs in gives the same corners.
    """
    again = []
    for i, (variant, read) in enumerate(zip(parts.variants, parts.read, strict=True)):
        own = read[obstacle.name]
        if (own is not obstacle and own != obstacle) or not moves_alike(variant.axle, axle):
            again.append((i, own))
    return again


def moves_alike(axle: Axle, other: Axle) -> bool:
    """Whether two axles differ in nothing but obstacles, so that their poses are the same.

    Source: none needed, they are compared.
    """
    return _moving(axle) == _moving(other)  # what is one object is not compared


_moving = attrgetter(*(field.name for field in fields(Axle) if field.name != "obstacles"))


def _loss(trace: Trace, near: Gaps, moved: Sequence[PartMoved], offset_tolerance: float | Array) -> Array:
    """Clearance lost (n,) [mm] when every toleranced reading goes against us, to first order.

    A reading moves the nearest material point in the half plane; what counts is its motion along the line
    from the section to the point. Where they touch that line is unknown and the whole motion counts.
    """
    loss = offset_tolerance * np.abs(near.away[:, 0])
    pose = np.arange(len(loss))[:, None]
    here = _at(trace.hub[pose, near.corners], near.weights)
    for radius, corners, _ in moved:
        there = _at(corners[pose, near.corners], near.weights)
        step = there - here
        along = np.abs(np.sum(step * near.away, -1))
        known = np.any(near.away != 0, axis=1)
        thicker = abs(radius - trace.radius)
        loss = loss + np.where(known, along, np.linalg.norm(step, axis=-1)) + thicker
    return loss


def _at(points: Array, weights: Array) -> Array:
    x, y, z = np.moveaxis(np.einsum("nc,nci->ni", weights, points), -1, 0)
    return np.stack([y, np.hypot(x, z)], -1)
