"""Other wheels for an axle, to be tried by hand: the room that its parts leave, and sizes to try in it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace

import numpy as np

from fitment.checks.case import Case
from fitment.checks.fit import moved_poses
from fitment.clearance.worst_case import assumes
from fitment.errors import CodeError
from fitment.frames import Array
from fitment.motion.poses import Poses
from fitment.motion.suspension import swept_travel
from fitment.parts import tire as tires
from fitment.parts.axle import Setup
from fitment.parts.obstacles import Obstacle, fixed_to_hub
from fitment.parts.scan import APART, ScanMesh
from fitment.parts.tire import Market, Tire
from fitment.parts.tire_code import parse_tire
from fitment.parts.wheel import RIM_WIDTH, Wheel, parse_wheel
from fitment.screening.candidates import Candidate
from fitment.screening.keep_out import Chain, LinesRound, lines_meanwhile
from fitment.screening.row_setups import Mounted, Reader

WIDTHS = {0: (-1.0, -0.5, 0.0, 0.5, 1.0), -1: (-1.0, 0.0, 1.0), 1: (-1.0, 0.0, 1.0)}  # [in] by steps of diameter [in]
TIRES = {0: (-20, -10, 0, 10, 20), -1: (-10, 0, 10), 1: (-10, 0, 10)}  # [mm] of section width, likewise
ASPECTS = range(25, 90, 5)  # [%]
BEND = "_bend"  # ends the readings of how a tape suspension's path bends
REACH = 850.0  # [mm] from the hub beyond which no wheel comes
TALLER = 0.03  # of the diameter by which an offered tire may differ


@dataclass(frozen=True)
class OtherWheels:
    """What can be tried on one axle.

    case : the build as it stands; parts : each obstacle, the lines round all that it sweeps, and what its radius may be
    off by on either side [mm]
    beside : the build's own size and those beside it; rows : of a list, as they would stand here
    assumed : whether the build rests on values nobody measured
    """

    case: Case
    parts: tuple[LinesRound, ...]
    beside: tuple[tuple[Wheel, Tire], ...]
    rows: tuple[Row, ...]
    assumed: bool


@dataclass(frozen=True)
class Row:
    """One row of a list: how it is called, its setup, or why it cannot be tried."""

    name: str
    setup: Setup | None
    reason: str = ""


@contextmanager
def wheels_to_try(
    cases: Sequence[Case], candidates: Sequence[Candidate], processes: int
) -> Iterator[Callable[[], list[OtherWheels]]]:
    """What can be tried on each axle, made in other processes meanwhile; what is given waits for it.

    candidates : rows of a list. Raises MotionError.
    """
    axles = [case.ready for case in cases]
    rows = _listed_rows(Reader(axles), candidates, len(axles))
    travels = [swept_travel(case.fit.axle, case.fit.setup.ride) for case in cases]
    with lines_meanwhile(axles, travels, processes) as waiting:
        yield lambda: [_of(case, lines(), own) for case, lines, own in zip(cases, waiting, rows, strict=True)]


def _of(case: Case, lines: Sequence[LinesRound], rows: tuple[Row, ...]) -> OtherWheels:
    parts, neighbours = tuple(_with_bends(case, lines)), tuple(_neighbours(case.fit.setup))
    return OtherWheels(case, parts, neighbours, rows, assumes(case.ready.variants))


def _with_bends(case: Case, lines: Sequence[LinesRound]) -> Iterator[LinesRound]:
    """The lines, and what the bend of a tape suspension between its readings takes from a part at the most.

    It is nothing at rest and most between the readings, so that the place that is nearest as measured may know little
    of it where a part is about as near all through travel. So no place tells it: the part is taken as so much thicker.
    """
    fit, every = case.fit, np.arange(len(case.fit.poses))
    bends = [i for i, variant in enumerate(case.ready.variants) if variant.reading.endswith(BEND)]
    there = [(axle, moved_poses(fit, axle, every)) for axle in (case.ready.variants[i].axle for i in bends)]
    for obstacle, chains, thicker in lines:
        if not bends or fixed_to_hub(obstacle) or not (obstacle.points or obstacle.mesh):
            yield obstacle, chains, thicker
            continue
        here = _in_hub(fit.poses, obstacle)
        more = 0.0
        for axle, poses in there:
            read = next(each for each in axle.obstacles if each.name == obstacle.name)
            more += _farthest(_in_hub(poses, read), here, obstacle.mesh)
        yield obstacle, tuple(_still(chain, bends) for chain in chains), thicker + more


def _farthest(there: Array, here: Array, scan: ScanMesh | None) -> float:
    """How far a part of the body is moved at most [mm], from where its points (n, k, 3) are here to there.

    Of a scan only what comes within REACH of the hub in any pose counts; between the points that are looked at a
    rigid motion differs by no more than its axes do over the way to the next one.
    """
    steps = there - here
    if scan is None:
        return float(np.linalg.norm(steps, axis=-1).max())
    near = (np.linalg.norm(here, axis=-1) < REACH).any(axis=0)
    if not near.any():
        return 0.0
    ways = scan.vertices[scan.spread] - scan.vertices[scan.spread].mean(axis=0)
    turns = np.linalg.lstsq(ways, np.moveaxis(steps, 1, 0).reshape(len(ways), -1), rcond=None)[0].reshape(3, -1, 3)
    turned = float(np.linalg.norm(turns, axis=(0, 2)).max())
    return float(np.linalg.norm(steps[:, near], axis=-1).max()) + turned * APART * np.sqrt(3)


def _in_hub(poses: Poses, obstacle: Obstacle) -> Array:
    """Points of a part of the body in the hub frame (n, k, 3) [mm]; of a scan some that are spread over it."""
    points = obstacle.mesh.vertices[obstacle.mesh.spread] if obstacle.mesh else np.array(obstacle.points)
    return np.asarray((points[None] - poses.origin[:, None]) @ poses.rotation)


def _still(chain: Chain, readings: Sequence[int]) -> Chain:
    """A line of which some readings move nothing."""
    moved = chain.moved.copy()
    moved[:, readings] = 0.0
    return replace(chain, moved=moved)


def _listed_rows(reader: Reader, candidates: Sequence[Candidate], axles: int) -> list[tuple[Row, ...]]:
    """The rows of a list on every axle."""
    rows: list[list[Row]] = [[] for _ in range(axles)]
    for candidate in candidates:
        mounted = reader.read(candidate)
        words = " ".join(filter(None, (candidate.get("wheel"), candidate.get("tire"))))
        name = f"{candidate.place}: {candidate.get('name')} {words}".replace(":  ", ": ")
        for k, own in enumerate(rows):
            if isinstance(mounted, Mounted):
                own.append(Row(name, mounted.setups[k]))
            else:
                own.append(Row(name, None, mounted.reason))
    return [tuple(own) for own in rows]


def _neighbours(setup: Setup) -> Iterator[tuple[Wheel, Tire]]:
    """The build's own size and those beside it in width, diameter and tire, as far as they can be drawn."""
    own = setup.wheel
    for step, widths in WIDTHS.items():
        diameter = own.rim_diameter + step
        sizes = [_rim(diameter, own.rim_width + more) for more in widths]
        codes = [_tire(code, setup.tire.market) for code in dict.fromkeys(_codes(setup.tire, step))]
        for rim in filter(None, sizes):
            for tire in filter(None, codes):
                low, high = tires.rim_range(tire)
                if low - 0.5 <= rim.rim_width <= high + 0.5:
                    yield rim, tire


def _rim(diameter: float, width: float) -> Wheel | None:
    try:
        return parse_wheel(f"{diameter:g}x{width:g} ET0") if RIM_WIDTH[0] <= width <= RIM_WIDTH[1] else None
    except CodeError:
        return None


def _tire(code: str, market: Market) -> Tire | None:
    try:
        return replace(parse_tire(code), market=market)
    except CodeError:
        return None


def _codes(tire: Tire, step: float) -> Iterator[str]:
    """Sizes of about the same diameter on a rim a step [in] larger, and one above and below on the same rim."""
    if tire.aspect_ratio is None:
        return
    tall, letters = tires.overall_diameter(tire), "LT" if tire.code.split()[0].startswith("LT") else ""
    kind, marks = "R" if tire.radial else "D", f"{' M+S' if tire.snow else ''}{' POR' if tire.special_use else ''}"
    rim = tire.rim_code + step
    for more in TIRES[int(step)]:
        width = tire.nominal_width + more
        seat = rim * 25.4
        by_nearness = sorted(ASPECTS, key=lambda aspect: abs(seat + 2 * width * aspect / 100 - tall))
        for aspect in by_nearness[: 2 if more == 0 else 1]:
            if abs(seat + 2 * width * aspect / 100 - tall) <= 2 * TALLER * tall:
                yield f"{letters}{width:g}/{aspect:g}{kind}{rim:g}{marks}"
