"""The room in which other wheels can be tried on an axle, and the rows of a list as they would stand there."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass

from fitment.checks.case import Case
from fitment.clearance.worst_case import assumes
from fitment.motion.suspension import swept_travel
from fitment.parts.axle import Setup
from fitment.parts.obstacles import Obstacle
from fitment.screening.candidates import Candidate
from fitment.screening.keep_out import Chain, chains, keep_outs_meanwhile
from fitment.screening.row_setups import Mounted, Reader


@dataclass(frozen=True)
class ListRow:
    """One row of a list.

    name : what it is called; setup : as it would stand, or None; reason : why not
    """

    name: str
    setup: Setup | None
    reason: str = ""


@dataclass(frozen=True)
class RoomToTry:
    """What can be tried on one axle.

    case : the build as it stands
    parts : each, the lines round what it sweeps without its radius, and what readings add to that [mm]
    assumed : whether values that nobody read place them
    rows : of a list
    """

    case: Case
    parts: tuple[tuple[Obstacle, tuple[Chain, ...], float], ...]
    assumed: bool
    rows: tuple[ListRow, ...] = ()


@contextmanager
def rooms_to_try(
    cases: Sequence[Case], candidates: Sequence[Candidate], processes: int
) -> Iterator[Callable[[], list[RoomToTry]]]:
    """The room of each axle, made in other processes meanwhile; what is given waits for it.

    candidates : rows of a list
    Raises MotionError.
    """
    axles = [case.ready for case in cases]
    rows = listed_rows(Reader(axles), candidates, len(axles))
    travels = [swept_travel(case.fit.axle, case.fit.setup.ride) for case in cases]
    with keep_outs_meanwhile(axles, travels, processes) as waiting:
        yield lambda: [
            RoomToTry(case, chains(kept()), assumes(case.ready.variants), own)
            for case, kept, own in zip(cases, waiting, rows, strict=True)
        ]


def listed_rows(reader: Reader, candidates: Sequence[Candidate], axles: int) -> list[tuple[ListRow, ...]]:
    """The rows of a list on every axle."""
    rows: list[list[ListRow]] = [[] for _ in range(axles)]
    for candidate in candidates:
        mounted = reader.read(candidate)
        words = (candidate.get("name"), candidate.get("wheel"), candidate.get("tire"))
        name = f"{candidate.place}: {' '.join(filter(None, words))}"
        for k, own in enumerate(rows):
            if isinstance(mounted, Mounted):
                own.append(ListRow(name, mounted.setups[k]))
            else:
                own.append(ListRow(name, None, mounted.reason))
    return [tuple(own) for own in rows]
