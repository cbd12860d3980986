"""Parts whose place is known by a tape reading: slid along one way until the baseline reproduces it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from fitment.clearance.section_distance import clearances
from fitment.clearance.trace import place, to_hub, trace_of_corners
from fitment.errors import MotionError, PlacingError
from fitment.frames import Array, unit
from fitment.motion.poses import Poses
from fitment.motion.suspension import LOCK_FRACTION, poses_at_lock_fraction
from fitment.parts.axle import Axle, Setup
from fitment.parts.obstacles import MeasuredGap, Obstacle, Way, core, slid
from fitment.parts.sections import tire_section, wheel_section
from fitment.parts.solid_panel import filled
from fitment.parts.wheel import overall_width

FARTHEST = 1200.0  # [mm] that a part is slid
EXACT = 1e-6  # [mm] below which two readings are one
STEP = 10.0  # [mm] first search; then each step is cut in ten
AT_ONCE = 20  # places looked at together
ROUNDED = 9  # decimals of a mm below which two places are one
HALVINGS = 60  # of the way between two places, at most
HARDLY = 1.0  # [mm] of gap; along a tread it changes by less
SQUARE_ON = 0.1  # [-] of each mm slid a straightedge shows at least this much, else the way does not lead to it
UNKNOWN: dict[Way, tuple[str, str]] = {  # what the reading settles, and what must be known for it
    "out": ("along y", "x and z"),
    "ahead": ("along x", "y and z"),
    "up": ("along z", "x and y"),
    "radial": ("on the way from the hub centre", "angle and out"),
}


@dataclass(frozen=True)
class Slide:
    """How a part was slid to reproduce its reading.

    distance : [mm], positive outboard, forward, up or away from the hub centre
    short : by how much the gap there is still larger than the reading [mm]; the part was grown by it
    """

    part: str
    along: Way
    distance: float
    short: float = 0.0


def settle_gaps(axle: Axle, baseline: Axle, setup: Setup, missed: float = 0.0) -> Axle:
    """The axle with every open `measured_gap` settled against the baseline in the pose of the reading.

    missed : by how much a reading may be missed [mm], where the pose rests on values that nobody read. The part then
        stands where its gap is nearest to the reading, and grows by what is still too much.
    The space behind solid panels is then filled, on the side away from the baseline's wheel at rest.
    Raises PlacingError when no place on its way gives a reading, FitmentError for a solid panel seen edge-on.
    Source: derived here; a tape reads the shortest distance, which is what the engine measures.
    """
    if not any(o.measured_gap or o.solid_behind for o in axle.obstacles):
        return axle
    placed = [_slid(o, o.measured_gap, baseline, setup, missed) if o.measured_gap else o for o in axle.obstacles]
    if not any(o.solid_behind for o in placed):
        return replace(axle, obstacles=tuple(placed))
    pose = poses_at_lock_fraction(baseline, setup.ride, 0.0)
    return replace(axle, obstacles=tuple(_filled(o, pose, setup) if o.solid_behind else o for o in placed))


def slides(given: Axle, settled: Axle, baseline: Axle) -> tuple[Slide, ...]:
    """How far each part with a measured gap was slid, from the axle as given and as settled.

    Source: derived here, the step of a part's first point along its way.
    """
    now = {o.name: o for o in settled.obstacles}
    moved = []
    for part in given.obstacles:
        if part.measured_gap and part.name in now:
            step = np.subtract(now[part.name].points[0], part.points[0])
            along = part.measured_gap.along
            distance = float(step @ _way(part, along, baseline))
            moved.append(Slide(part.name, along, distance, now[part.name].grown))
    return tuple(moved)


def _filled(obstacle: Obstacle, pose: Poses, setup: Setup) -> Obstacle:
    """A solid panel filled away from the centre of the baseline's wheel, as its carrier takes it there."""
    carrier = obstacle.fixed_to[0]
    if carrier not in pose.motions:
        return obstacle  # it cannot be placed, and is not checked
    wheel = pose.origin[0] + (setup.spacer.thickness - setup.wheel.offset) * pose.spin_axis[0]
    rotation, shift = (motion[0] for motion in pose.motions[carrier])
    return filled(obstacle, rotation.T @ (wheel - shift))


# ---------------------------------------------------------------- pose and way of a reading


def _slid(obstacle: Obstacle, gap: MeasuredGap, baseline: Axle, setup: Setup, missed: float) -> Obstacle:
    """The part where the baseline reproduces the reading, or misses it by no more than is allowed."""
    if obstacle.mesh is not None:
        raise PlacingError(
            obstacle.name,
            f"{obstacle.name}: a measured gap does not place a scan, because the points that are seen in it do; take "
            "the gap out, and hold the clearance that `check` tells of the baseline against it.",
        )
    pose = _pose_of(obstacle, gap, baseline, setup)
    unknown = [carrier for carrier in obstacle.fixed_to if carrier not in pose.motions]
    if unknown:
        raise PlacingError(
            obstacle.name,
            f"{obstacle.name}: its measured gap cannot be settled, because the baseline's suspension does not describe "
            f"the motion of the {unknown[0]}; give the points themselves, or fix it to body or knuckle.",
        )
    way = _way(obstacle, gap.along, baseline)
    sheet = replace(obstacle, solid_behind=False)  # a tape ends at the sheet; which side is filled is not known yet
    here, there = (to_hub(place(part, pose), pose)[0] for part in (sheet, slid(sheet, way)))
    seen = Seen(here, there - here, _side(sheet, baseline, setup), -_from_hub(sheet, baseline), setup)
    if gap.to in ("rim_plane", "tire_plane"):
        return slid(obstacle, _to_plane(sheet, gap, seen) * way)
    distance, short = _to_part(sheet, gap, seen, missed)
    return replace(slid(obstacle, distance * way), radius=obstacle.radius + short, grown=short)


@dataclass(frozen=True)
class Seen:
    """A part as the baseline's hub saw it in the pose of its reading.

    here, step : its points in the hub frame, and how 1 mm on its way moves them (v, 3) [mm]
    side : 1 = outboard of the wheel at rest, -1 = inboard [-]
    to_centre : slide that takes it to the hub centre in the side view, on the way from there [mm]
    setup : of the baseline
    """

    here: Array
    step: Array
    side: float
    to_centre: float
    setup: Setup

    @property
    def centre(self) -> float:
        """The wheel's centre plane outboard of the hub face [mm]."""
        return _centre(self.setup)


def _centre(setup: Setup) -> float:
    """The wheel's centre plane outboard of the hub face [mm]."""
    return setup.spacer.thickness - setup.wheel.offset


def _side(obstacle: Obstacle, baseline: Axle, setup: Setup) -> float:
    """1 for a part outboard of the wheel at rest, -1 for one inboard; a wheel that turns does not pass through it."""
    pose = _stood(replace(baseline, obstacles=()), setup.ride, 0.0)
    return 1.0 if to_hub(place(obstacle, pose), pose)[0, :, 1].mean() >= _centre(setup) else -1.0


def _from_hub(obstacle: Obstacle, baseline: Axle) -> float:
    """Distance of the part's middle from the hub centre in the side view, as it was given [mm]."""
    x, _, z = core(obstacle).mean(axis=0) - np.array(baseline.hub_face_at)
    return float(np.hypot(x, z))


def _pose_of(obstacle: Obstacle, gap: MeasuredGap, baseline: Axle, setup: Setup) -> Poses:
    """The baseline as it stood for the reading; a part of the right side is given mirrored, and so is its lock."""
    lock = LOCK_FRACTION[gap.lock]
    travel = setup.ride if gap.travel is None else gap.travel
    try:
        mirrored = obstacle.side == "right" or baseline.sides == ("right",)
        return _stood(replace(baseline, obstacles=()), travel, -lock if mirrored else lock)
    except MotionError as error:
        raise PlacingError(obstacle.name, f"{obstacle.name}: its measured gap: {error}") from None


@lru_cache(maxsize=64)  # parts are read in few poses
def _stood(baseline: Axle, travel: float, lock_fraction: float) -> Poses:
    """The baseline's hub in one pose; its parts do not matter."""
    return poses_at_lock_fraction(baseline, travel, lock_fraction)


def _way(obstacle: Obstacle, along: Way, baseline: Axle) -> Array:
    """Unit vector (3,) of the way in which a part is slid, in the body as it was measured."""
    if along != "radial":
        return np.array({"ahead": (1.0, 0.0, 0.0), "out": (0.0, 1.0, 0.0), "up": (0.0, 0.0, 1.0)}[along])
    x, _, z = core(obstacle).mean(axis=0) - np.array(baseline.hub_face_at)
    if _from_hub(obstacle, baseline) < STEP:
        raise PlacingError(
            obstacle.name,
            f"{obstacle.name}: seen from the side its middle lies at the hub centre, so no way leads from there; say "
            "along: out, ahead or up.",
        )
    return unit(np.array([x, 0.0, z]))


# ---------------------------------------------------------------- to a straightedge


def _to_plane(obstacle: Obstacle, gap: MeasuredGap, seen: Seen) -> float:
    """How far a part is slid until its point nearest to the straightedge reads the gap [mm]; a closed form."""
    side, setup = seen.side, seen.setup
    if gap.to == "tire_plane":
        low, _, high, _ = tire_section(setup.tire, setup.wheel, setup.spacer.thickness).bounds
        plane = high if side > 0 else low
    else:
        plane = seen.centre + side * overall_width(setup.wheel) / 2
    now, gained = side * (seen.here[:, 1] - plane) - obstacle.radius, side * seen.step[:, 1]
    if np.abs(gained).min() < SQUARE_ON:
        raise PlacingError(
            obstacle.name,
            f"{obstacle.name}: slid {UNKNOWN[gap.along][0]} it stays as far from the straightedge; the reading is "
            f"{now.min():.1f} mm there, not {gap.gap:g} mm. Say along: out.",
        )
    slide = (gap.gap - now) / gained
    nearest = (now + slide[:, None] * gained).min(axis=1)
    fits = slide[np.abs(nearest - gap.gap) < 1e-9 * FARTHEST]
    return float(fits[np.abs(fits).argmin()])


# ---------------------------------------------------------------- to tire or wheel


def _to_part(obstacle: Obstacle, gap: MeasuredGap, seen: Seen, missed: float) -> tuple[float, float]:
    """How far a part is slid until its gap to tire or wheel is as read, and by how much it is still larger [mm].

    missed : by how much it may be [mm]
    """
    here, step = (tuple(map(tuple, places.round(ROUNDED).tolist())) for places in (seen.here, seen.step))
    alike = replace(obstacle, points=here, measured_gap=None)
    return _slide(alike, gap, step, seen.side, round(seen.to_centre, ROUNDED), seen.setup, missed)


@lru_cache(maxsize=4096)  # most readings that a worst case moves leave a part where it was when its gap was read
def _slide(
    obstacle: Obstacle, gap: MeasuredGap, steps: tuple[tuple[float, ...], ...], side: float, to_centre: float,
    setup: Setup, missed: float,
) -> tuple[float, float]:  # fmt: skip
    """The same of a part whose points are in the hub frame; steps : how 1 mm on its way moves them."""
    return _searched(obstacle, gap, Seen(np.array(obstacle.points), np.array(steps), side, to_centre, setup), missed)


def _searched(obstacle: Obstacle, gap: MeasuredGap, seen: Seen, missed: float) -> tuple[float, float]:
    reading = _reading_to(gap.to, obstacle, tuple(map(tuple, seen.step.tolist())), seen.setup)
    middle, step = seen.here.mean(axis=0) - np.array([0.0, seen.centre, 0.0]), seen.step.mean(axis=0)
    if gap.along == "out":
        walks = [_outward(reading, seen.side, middle[1] / step[1], gap.gap)]
    else:
        inmost = seen.to_centre if gap.along == "radial" else -FARTHEST
        walks = _both_ways(reading, 1.0 if middle @ step >= 0 else -1.0, inmost)
        if abs(walks[0][1][0] - gap.gap) < EXACT:
            return float(walks[0][0][0]), 0.0
    wanted, places = gap.gap, _places(reading, walks, gap.gap, rising=gap.along == "out")
    if not places:
        wanted = _possible(obstacle, gap, walks, missed)
        places = _places(reading, walks, wanted, rising=gap.along == "out")
    return min(places, key=abs), max(wanted - gap.gap, 0.0)


@lru_cache(maxsize=512)  # a gap read larger or smaller is looked for at the same places first
def _reading_to(
    to: str, obstacle: Obstacle, steps: tuple[tuple[float, ...], ...], setup: Setup
) -> Callable[[Array], Array]:
    """The gap to tire or wheel with the part slid so far, each of its points as its own carrier takes it there."""
    spacer, here, step = setup.spacer.thickness, np.array(obstacle.points), np.array(steps)
    section = tire_section(setup.tire, setup.wheel, spacer) if to == "tire" else wheel_section(setup.wheel, spacer)
    known: dict[bytes, Array] = {}

    def reading(slide: Array) -> Array:
        key = slide.tobytes()
        if key not in known:
            known[key] = clearances(section, trace_of_corners(obstacle, here + slide[:, None, None] * step))
        return known[key]

    return reading


Reading = Callable[[Array], Array]
Walk = tuple[Array, Array]  # slides, from where a part is looked for on, and its gaps there (q,) [mm]


def _outward(reading: Reading, side: float, beyond: float, wanted: float) -> Walk:
    """From the wheel's centre plane outward, or inward, until the gap has risen through the reading.

    beyond : how far outboard of it the part was given [mm]
    """
    slide = side * np.arange(0.0, FARTHEST + STEP, STEP) - beyond
    values = np.empty(0)
    while len(values) < len(slide) and not ((values[:-1] < wanted) & (values[1:] >= wanted)).any():
        values = np.append(values, reading(slide[len(values) :][:AT_ONCE]))  # mostly it lies near
    return _finer(reading, slide[: len(values)], values)


def _both_ways(reading: Reading, outward: float, inmost: float) -> list[Walk]:
    """From where a part was given both ways, up to tire or wheel; of one that overlaps from where it stays free.

    outward : the way past the wheel's centre, which a part that overlaps goes
    inmost : the least slide [mm]
    """
    walks = []
    for sign in (outward, -outward):
        slide = sign * np.arange(0.0, FARTHEST + STEP, STEP)
        slide = np.append(slide[slide > inmost], inmost) if sign < 0 else slide
        values = reading(slide)
        overlaps = np.flatnonzero(values < 0)
        if values[0] < 0:
            return [_finer(reading, slide[overlaps[-1] :], values[overlaps[-1] :])]
        end = overlaps[0] + 1 if len(overlaps) else len(values)
        walks.append(_finer(reading, slide[:end], values[:end]))
    return walks


def _finer(reading: Reading, slide: Array, values: Array) -> Walk:
    """A walk with steps of a tenth where its gap is least and largest, so that none is passed over there."""
    last = len(slide) - 1
    for at in sorted({int(values.argmin()), int(values.argmax())}, reverse=True):
        first, end = max(at - 1, 0), min(at + 1, last)
        between = np.linspace(slide[first], slide[end], 10 * (end - first) + 1)[1:-1]
        slide = np.concatenate([slide[: first + 1], between, slide[end:]])
        values = np.concatenate([values[: first + 1], reading(between), values[end:]])
    return slide, values


def _places(reading: Reading, walks: Sequence[Walk], wanted: float, *, rising: bool) -> list[float]:
    """Where on each walk the gap first passes through the reading; rising : only where it grows."""
    places = []
    for slide, values in walks:
        above = values >= wanted
        passes = np.flatnonzero(above[1:] & ~above[:-1] if rising else above[1:] != above[:-1])
        if len(passes):
            places.append(_crossing(reading, wanted, slide[passes[0]], slide[passes[0] + 1]))
    return places


def _crossing(reading: Reading, wanted: float, low: float, high: float) -> float:
    """Slide between two places at which the gap is as read, the one nearer to `low` where there are several."""
    slide = np.linspace(low, high, 11)
    beyond = reading(slide) - wanted
    first = int(np.flatnonzero((beyond[1:] >= 0) != (beyond[:-1] >= 0))[0])
    (low, high), (below, above) = slide[first : first + 2].tolist(), beyond[first : first + 2].tolist()
    middle = high
    for _ in range(HALVINGS):  # the secant, whose end that stays counts half (Illinois)
        middle = high - above * (high - low) / (above - below)
        value = float(reading(np.array([middle]))[0]) - wanted
        if abs(value) < EXACT / 10:
            break
        if (value >= 0) == (above >= 0):
            high, above, below = middle, value, below / 2
        else:
            low, below, high, above = high, above, middle, value
    return middle


def _possible(obstacle: Obstacle, gap: MeasuredGap, walks: Sequence[Walk], missed: float) -> float:
    """The reading next to one that no place gives [mm], HARDLY away from where it would have none.

    Along a tread the gap hardly changes, so the place of the least gap is no place to go by.
    Raises PlacingError where it misses by more than is allowed.
    """
    least, most = min(values.min() for _, values in walks), max(values.max() for _, values in walks)
    below = gap.gap <= least
    if abs((least if below else most) - gap.gap) <= missed:
        return float(least + HARDLY if below else most - HARDLY)
    way, known = UNKNOWN[gap.along]
    posed = gap.lock != "straight" or gap.travel is not None
    raise PlacingError(
        obstacle.name,
        f"{obstacle.name}: no place {way} gives the measured gap of {gap.gap:g} mm; with the {known} given "
        f"the gap is never {f'below {least:.1f}' if below else f'above {most:.1f}'} mm. Check {known}, "
        f"{'lock and travel, ' if posed else ''}and which part the tape went to."
        + (" For a part over the tread say along: radial." if gap.along == "out" else ""),
    )
