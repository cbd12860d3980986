"""The keep-out: where parts are, seen from the hub, in every pose of travel and steer, and how near wheels come to it.

The door of the list engine. One sweep of an axle answers for every wheel, tire, spacer and offset, at any ride height
within its travel. The modules behind it are imported by no one else: swept_obstacle, swept_scan, boundary_points,
boundary_chains, raster, kept_sweeps (what parts sweep), distance_field, nearest_points, by_size (how near sections
come).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property, partial
from typing import TypeVar

from shapely.geometry.base import BaseGeometry

from fitment.checks.case import Ready
from fitment.clearance.pose_grid import known_motion
from fitment.motion.suspension import swept_travel
from fitment.parts.axle import Axle, Setup
from fitment.parts.obstacles import Obstacle, Part
from fitment.parts.tire import Tire
from fitment.parts.wheel import Wheel
from fitment.screening.boundary_chains import Chain, chains_round
from fitment.screening.by_size import (
    Outlook,
    SizeAnswers,
    Surroundings,
    bare,
    free_spans,
    look_up_setups,
    outlook_of,
    parts_near_limits,
    surroundings,
)
from fitment.screening.kept_sweeps import keep_sweeps, known_sweeps
from fitment.screening.nearest_points import Closest
from fitment.screening.raster import frame, outline_of
from fitment.screening.swept_obstacle import SweepRequest, SweptObstacle, sweep_obstacle
from fitment.workers import worker_pool

__all__ = [
    "Chain", "Closest", "KeepOut", "Outlook", "SizeAnswers", "bare", "free_spans", "keep_out_at",
    "keep_outs_meanwhile", "lines_meanwhile", "look_up", "near_limits", "outlines", "outlook",
]  # fmt: skip
Span = tuple[float, float]
Answer = TypeVar("Answer")
# a part, the lines round what it sweeps without its radius, and what readings add to that [mm]
LinesRound = tuple[Obstacle, tuple[Chain, ...], float]


@dataclass(frozen=True)
class KeepOut:
    """All parts of an axle in all poses of a travel [mm]; serves every wheel at any ride height within it.

    swept : what each part sweeps whose motion is known
    """

    axle: Axle
    travel: Span
    swept: tuple[SweptObstacle, ...]

    @property
    def obstacles(self) -> tuple[Obstacle, ...]:
        """The parts."""
        return tuple(sweep.obstacle for sweep in self.swept)

    @cached_property
    def around(self) -> Surroundings:
        """The parts as tire and wheel meet them."""
        return surroundings(self.swept)


SWEEPING = "what the parts sweep"  # for who waits


def keep_out_at(ready: Ready, ride: float) -> KeepOut:
    """The keep-out of an axle for a ride height [mm]. Raises MotionError."""
    with keep_outs_meanwhile([ready], [swept_travel(ready.axle, ride)]) as waiting:
        return waiting[0]()


@contextmanager
def keep_outs_meanwhile(
    axles: Sequence[Ready], travels: Sequence[Span], processes: int = 1
) -> Iterator[list[Callable[[], KeepOut]]]:
    """The keep-out of each axle over its travel [mm], made in other processes meanwhile where there are several.

    What is given waits for one; with one process it is made then. What was kept by an earlier run is not swept again.
    Raises MotionError.
    """
    asks = [SweepRequest(ready.axle, travel, ready.variants) for ready, travel in zip(axles, travels, strict=True)]
    with _meanwhile(_swept, asks, processes) as (known, started):

        def waited(k: int) -> KeepOut:
            fresh = started[k]()
            keep_sweeps(asks[k], fresh)
            made = iter(fresh)
            return KeepOut(asks[k].axle, asks[k].travel, tuple(sweep or next(made) for sweep in known[k]))

        yield [partial(waited, k) for k in range(len(asks))]


@contextmanager
def lines_meanwhile(
    axles: Sequence[Ready], travels: Sequence[Span], processes: int = 1
) -> Iterator[list[Callable[[], list[LinesRound]]]]:
    """Of each axle the lines round what every part sweeps, made as `keep_outs_meanwhile` makes its own."""
    asks = [SweepRequest(ready.axle, travel, ready.variants) for ready, travel in zip(axles, travels, strict=True)]
    with _meanwhile(_lined, asks, processes) as (known, started):

        def waited(k: int) -> list[LinesRound]:
            fresh = started[k]()
            keep_sweeps(asks[k], [sweep for sweep, _ in fresh])
            made = iter(fresh)
            parts = [(sweep, chains_round(sweep)) if sweep else next(made) for sweep in known[k]]
            return [(sweep.obstacle, lines, sweep.thicker) for sweep, lines in parts]

        yield [partial(waited, k) for k in range(len(asks))]


@contextmanager
def _meanwhile(
    work: Callable[[Sequence[SweepRequest], tuple[int, int]], Answer], asks: Sequence[SweepRequest], processes: int
) -> Iterator[tuple[list[list[SweptObstacle | None]], list[Callable[[], list[Answer]]]]]:
    """What is known of the sweeps of every axle, and what waits for work on those that are not."""
    known = [known_sweeps(ask, known_motion(ask.axle)[0]) for ask in asks]
    jobs = [[(k, i) for i, sweep in enumerate(own) if sweep is None] for k, own in enumerate(known)]
    with worker_pool(asks, min(processes, sum(map(len, jobs)))) as run:
        yield known, [run.start(work, own, SWEEPING) for own in jobs]


def _swept(asks: Sequence[SweepRequest], job: tuple[int, int]) -> SweptObstacle:
    ask = asks[job[0]]
    return sweep_obstacle(ask, known_motion(ask.axle)[0][job[1]])


def _lined(asks: Sequence[SweepRequest], job: tuple[int, int]) -> tuple[SweptObstacle, tuple[Chain, ...]]:
    swept = _swept(asks, job)
    return swept, chains_round(swept)


# ---------------------------------------------------------------- questions


def look_up(kept: KeepOut, setups: Sequence[Setup], processes: int = 1) -> SizeAnswers:
    """Of every setup (n,) what comes closest, and the offsets that keep every allowance. Raises CodeError."""
    with worker_pool(kept.around, processes) as run:
        return look_up_setups(kept.around, setups, run)


def near_limits(kept: KeepOut, setups: Sequence[Setup], within: float) -> list[frozenset[tuple[str, Part]]]:
    """Of every setup the parts, and what of the wheel they are near to.

    A clearance, a margin or a worst case may be less than `within` [mm] there. Raises CodeError.
    """
    return parts_near_limits(kept.around, setups, within)


def outlook(kept: KeepOut, tire: Tire, wheel: Wheel, spacer: float) -> Outlook:
    """How a size stands at any offset; the wheel's own does not count. Raises CodeError."""
    return outlook_of(kept.around, tire, wheel, spacer)


def outlines(kept: KeepOut) -> tuple[tuple[tuple[str, BaseGeometry], ...], BaseGeometry]:
    """What each part sweeps, its radius put round it, and the rectangle looked at, (y', r) [mm], for pictures."""
    parts = tuple((sweep.obstacle.name, outline_of(sweep.swept).buffer(sweep.obstacle.radius)) for sweep in kept.swept)
    return parts, frame()
