"""Parts whose place is known by a tape reading: slid along one way until the baseline reproduces it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from fitment.clearance.section_distance import clearances
from fitment.clearance.trace import place, to_hub, trace_of_corners
from fitment.errors import MotionError, PlacingError
from fitment.frames import Array, unit
from fitment.motion.poses import Poses
from fitment.motion.suspension import poses_at_lock_fraction
from fitment.parts.axle import Axle, Setup
from fitment.parts.obstacles import MeasuredGap, Obstacle, Way, core, slid
from fitment.parts.sections import tire_section, wheel_section
from fitment.parts.solid_panel import filled
from fitment.parts.wheel import overall_width

FARTHEST = 1200.0  # [mm] that a part is slid
ROUNDED = 9  # decimals of a mm below which two places are one
HALVINGS = 60  # of the way between two places, at most
EXACT = 1e-6  # [mm] below which two readings are one
STEP = 10.0  # [mm] first search; then each step is cut in ten
AT_ONCE = 15  # places looked at together
SQUARE_ON = 0.1  # [-] of each mm slid a straightedge shows at least this much, else the way does not lead to it
LOCK_FRACTION = {"left": 1.0, "straight": 0.0, "right": -1.0}
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
    """

    part: str
    along: Way
    distance: float


def settle_gaps(axle: Axle, baseline: Axle, setup: Setup) -> Axle:
    """The axle with every open `measured_gap` settled against the baseline in the pose of the reading.

    The space behind solid panels is then filled, on the side away from the baseline's wheel at rest.
    Raises PlacingError when no place on its way gives a reading, FitmentError for a solid panel seen edge-on.
    """
    if not any(o.measured_gap or o.solid_behind for o in axle.obstacles):
        return axle
    placed = [_slid(o, o.measured_gap, baseline, setup) if o.measured_gap else o for o in axle.obstacles]
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
            moved.append(Slide(part.name, along, float(step @ _way(part, along, baseline))))
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


def _slid(obstacle: Obstacle, gap: MeasuredGap, baseline: Axle, setup: Setup) -> Obstacle:
    """The part where the baseline reproduces the reading."""
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
    settle = _to_plane if gap.to in ("rim_plane", "tire_plane") else _to_part
    return slid(obstacle, settle(sheet, gap, here, there - here, setup) * way)


def _pose_of(obstacle: Obstacle, gap: MeasuredGap, baseline: Axle, setup: Setup) -> Poses:
    """The baseline as it stood for the reading; a part of the right side is given mirrored, and so is its lock."""
    lock = LOCK_FRACTION[gap.lock]
    travel = setup.ride if gap.travel is None else gap.travel
    try:
        return poses_at_lock_fraction(baseline, travel, -lock if obstacle.side == "right" else lock)
    except MotionError as error:
        raise PlacingError(obstacle.name, f"{obstacle.name}: its measured gap: {error}") from None


def _way(obstacle: Obstacle, along: Way, baseline: Axle) -> Array:
    """Unit vector (3,) of the way in which a part is slid, in the body as it was measured."""
    if along != "radial":
        return np.array({"ahead": (1.0, 0.0, 0.0), "out": (0.0, 1.0, 0.0), "up": (0.0, 0.0, 1.0)}[along])
    x, _, z = core(obstacle).mean(axis=0) - np.array(baseline.hub_face_at)
    if np.hypot(x, z) < STEP:
        raise PlacingError(
            obstacle.name,
            f"{obstacle.name}: seen from the side its middle lies at the hub centre, so no way leads from there; say "
            "along: out, ahead or up.",
        )
    return unit(np.array([x, 0.0, z]))


# ---------------------------------------------------------------- to a straightedge


def _to_plane(obstacle: Obstacle, gap: MeasuredGap, here: Array, step: Array, setup: Setup) -> float:
    """How far a part is slid until its point nearest to the straightedge reads the gap [mm]; a closed form.

    here, step : its points in the hub frame, and how 1 mm moves them (v, 3) [mm]
    """
    centre = setup.spacer.thickness - setup.wheel.offset
    side = 1.0 if here[:, 1].mean() >= centre else -1.0
    if gap.to == "tire_plane":
        low, _, high, _ = tire_section(setup.tire, setup.wheel, setup.spacer.thickness).bounds
        plane = high if side > 0 else low
    else:
        plane = centre + side * overall_width(setup.wheel) / 2
    now, gained = side * (here[:, 1] - plane) - obstacle.radius, side * step[:, 1]
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


def _to_part(obstacle: Obstacle, gap: MeasuredGap, here: Array, step: Array, setup: Setup) -> float:
    """How far a part is slid until its gap to tire or wheel is as read [mm]; arguments as of `_to_plane`."""
    in_hub, steps = (tuple(map(tuple, array.round(ROUNDED).tolist())) for array in (here, step))
    return _slide(replace(obstacle, points=in_hub, measured_gap=None), gap, steps, setup)


@lru_cache(maxsize=4096)  # most readings that a worst case moves leave the part where it was when its gap was read
def _slide(obstacle: Obstacle, gap: MeasuredGap, steps: tuple[tuple[float, ...], ...], setup: Setup) -> float:
    """The same of a part whose points are in the hub frame."""
    here, step = np.array(obstacle.points), np.array(steps)
    spacer = setup.spacer.thickness
    section = tire_section(setup.tire, setup.wheel, spacer) if gap.to == "tire" else wheel_section(setup.wheel, spacer)

    def reading(slide: Array) -> Array:
        """Gap with the part slid so far, each of its points as its own carrier takes it there."""
        return clearances(section, trace_of_corners(obstacle, here + slide[:, None, None] * step))

    middle = here.mean(axis=0) - np.array([0.0, spacer - setup.wheel.offset, 0.0])  # from the wheel's centre
    if gap.along == "out":
        return _first_rise(obstacle, gap, reading, middle[1] / step[:, 1].mean())
    return _nearest(obstacle, gap, reading, float(middle @ step.mean(axis=0)))


Reading = Callable[[Array], Array]


def _first_rise(obstacle: Obstacle, gap: MeasuredGap, reading: Reading, beyond: float) -> float:
    """Slide to the first place outward from the wheel's centre plane at which the gap rises through the reading.

    beyond : how far outboard of that plane the part was given; only its side counts
    """
    outward = 1.0 if beyond >= 0 else -1.0
    slide = outward * np.arange(0.0, FARTHEST + STEP, STEP) - beyond
    values = np.empty(0)
    while len(values) < len(slide):  # mostly it lies near, and each place costs
        values = np.append(values, reading(slide[len(values) :][:AT_ONCE]))
        rise = np.flatnonzero((values[:-1] < gap.gap) & (values[1:] >= gap.gap))
        if len(rise):
            return _crossing(reading, gap.gap, slide[rise[0]], slide[rise[0] + 1])
    raise _no_place(obstacle, gap, reading, (slide, values))


def _nearest(obstacle: Obstacle, gap: MeasuredGap, reading: Reading, beyond: float) -> float:
    """Slide to the nearest place that gives the reading, without passing through tire or wheel.

    beyond : how far past the wheel's centre the part was given; a part that overlaps is slid further that way
    """
    outward = 1.0 if beyond >= 0 else -1.0
    ways = []
    for sign in (outward, -outward):
        slide = sign * np.arange(0.0, FARTHEST + STEP, STEP)
        values = reading(slide)
        if abs(values[0] - gap.gap) < EXACT:
            return 0.0
        overlaps = np.flatnonzero(values < 0)
        if values[0] < 0:  # out to where it is free, and stays so
            ways = [(slide[overlaps[-1] :], values[overlaps[-1] :])]
            break
        end = overlaps[0] + 1 if len(overlaps) else len(values)
        ways.append((slide[:end], values[:end]))
    places = []
    for slide, values in ways:
        above = values >= gap.gap
        change = np.flatnonzero(above[1:] != above[:-1])
        if len(change):
            places.append(_crossing(reading, gap.gap, slide[change[0]], slide[change[0] + 1]))
    if not places:
        raise _no_place(obstacle, gap, reading, *ways)
    return min(places, key=abs)


def _crossing(reading: Reading, wanted: float, low: float, high: float) -> float:
    """Slide between two places at which the gap is as read, the one nearer to `low` where there are several."""
    slide = np.linspace(low, high, 11)
    beyond = reading(slide) - wanted
    first = int(np.flatnonzero((beyond[1:] >= 0) != (beyond[:-1] >= 0))[0])
    (low, high), (below, above) = slide[first : first + 2].tolist(), beyond[first : first + 2].tolist()
    for _ in range(HALVINGS):  # the secant, whose end that stays counts half (Illinois)
        middle = high - above * (high - low) / (above - below)
        value = float(reading(np.array([middle]))[0]) - wanted
        if abs(value) < EXACT / 10:
            return middle
        if (value >= 0) == (above >= 0):
            high, above, below = middle, value, below / 2
        else:
            low, below, high, above = high, above, middle, value
    return middle


def _no_place(obstacle: Obstacle, gap: MeasuredGap, reading: Reading, *ways: tuple[Array, Array]) -> PlacingError:
    """That no place gives a reading, and which reading would be the nearest; ways : slides, their gaps (q,) [mm]."""
    below = gap.gap < min(values.min() for _, values in ways)
    closer = []
    for slide, values in ways:
        at = int(values.argmin() if below else values.argmax())
        closer += reading(np.linspace(slide[max(at - 1, 0)], slide[min(at + 1, len(slide) - 1)], 101)).tolist()
    limit = f"below {min(closer):.1f}" if below else f"above {max(closer):.1f}"
    way, known = UNKNOWN[gap.along]
    posed = gap.lock != "straight" or gap.travel is not None
    return PlacingError(
        obstacle.name,
        f"{obstacle.name}: no place {way} gives the measured gap of {gap.gap:g} mm; with the {known} given "
        f"the gap is never {limit} mm. Check {known}, {'lock and travel, ' if posed else ''}and which part the tape "
        "went to.",
    )
