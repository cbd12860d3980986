"""What a page shows of each axle, worked out side by side in several processes where there are some.

What would make a build fit, what its drawing moves through, and the pictures do not wait for one another.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from fitment.answers.handover import Subject
from fitment.checks.case import SAFETY
from fitment.checks.full_case import FullCase
from fitment.corners import axle_of
from fitment.page import tables
from fitment.page.first_screen import axle_answer, change_answer
from fitment.page.moving_drawing import moving_json
from fitment.report import case_json, compare_json
from fitment.report.next_reading import sure_json
from fitment.units import in_units
from fitment.workers import worker_pool

Beside = TypeVar("Beside")
Pair = tuple[FullCase, FullCase | None]
"""The build of a page on one axle, and the one that it is compared with"""


@dataclass(frozen=True)
class WorkedOut:
    """One axle of a page as plain data.

    shown : by the template; moving : what the script draws; data : what the command prints as JSON
    """

    shown: dict[str, Any]
    moving: dict[str, Any]
    data: dict[str, Any]


@dataclass(frozen=True)
class Answering:
    """What is asked for the page, in whichever process it is worked out.

    subject : all that is asked of the build and the one that it is compared with; changes : what would make it fit
    """

    subject: Callable[[FullCase, FullCase | None], Subject]
    changes: Callable[[FullCase], Any]


@dataclass(frozen=True)
class _Page:
    pairs: Sequence[Pair]
    units: str
    asks: Answering


def axles_worked_out(
    pairs: Sequence[Pair],
    asks: Answering,
    units: str,
    check: str,
    meanwhile: Callable[[], Beside],
    *,
    every_kind: bool = False,
    processes: int = 1,
) -> tuple[list[WorkedOut], Beside]:
    """Every axle of a page, and what this process works out meanwhile. Raises FitmentError.

    check : the command that checks the new build, without an axle
    every_kind : of change for what would make it fit was asked for, not the quick ones alone
    """
    kinds: tuple[Callable[[_Page, int], Any], ...] = (_changes, _pictures, _axle)  # what takes longest first
    jobs = [(kind, axle) for kind in kinds for axle in range(len(pairs))]
    with worker_pool(_Page(pairs, units, asks), min(processes, len(jobs))) as work:
        waiting = work.start(_done, jobs, "working out and drawing the page")
        beside = meanwhile()
        done = iter(waiting())
    changes, pictures, made = ([next(done) for _ in pairs] for _ in kinds)
    for (new, _), tried, (call, *more), axle in zip(pairs, changes, pictures, made, strict=True):
        axle.shown["answer"] |= change_answer(new, tried, units, check, every_kind=every_kind)
        axle.shown.update(call=call, pictures=more)
    return made, beside


def _done(asked: _Page, job: tuple[Callable[[_Page, int], Any], int]) -> Any:
    work, axle = job
    return work(asked, axle)


def _changes(asked: _Page, axle: int) -> Any:
    return asked.asks.changes(asked.pairs[axle][0])


def load_drawing() -> None:
    """What draws, once for all processes that begin later."""
    from fitment.draw.library import load_library

    load_library()
    from fitment.page import views  # noqa: F401


def _pictures(asked: _Page, axle: int) -> list[dict[str, Any]]:
    """The closest call and the other pictures."""
    load_drawing()
    from fitment.page.views import pictures_of

    new, old = asked.pairs[axle]
    return pictures_of(old, new, asked.units)


def _axle(asked: _Page, axle: int) -> WorkedOut:
    subject = asked.asks.subject(*asked.pairs[axle])
    moving = moving_json(subject)
    return WorkedOut(_shown(subject, asked.units, moving), moving, _data(subject))


def _data(subject: Subject) -> dict[str, Any]:
    """What the command prints as JSON."""
    if subject.comparison is not None:
        return compare_json(subject.comparison)
    return case_json(subject.new) | {"sure": sure_json(subject.sure[-1], subject.new.fit)}


def _shown(subject: Subject, units: str, moving: dict[str, Any]) -> dict[str, Any]:
    """What the template shows of one axle, but for its pictures."""
    old, new = subject.old, subject.new
    return {
        "name": new.fit.axle.name,
        "title": new.fit.axle.title,
        "id": new.fit.axle.name.replace(" ", "-"),
        "corner": f"{axle_of(new.fit.axle.name)} {new.fit.axle.sides[0]} corner",
        "unlike": [in_units(words, units) for words in new.unlike],
        "motions": [motion["name"] for motion in moving["motions"]],
        "moves": moving["motions"][0]["kinds"],
        "answer": axle_answer(subject, units),
        "fixed": moving["fixed"],
        "here": tables.here_rows(old, new, units),
        "closest": tables.closest_rows(old, new, units),
        "stance": tables.stance_rows(subject, units),
        "bolt_on": tables.bolt_on_rows(new, units),
        "ground": tables.ground_rows(new, units),
        "road": tables.road_rows(subject, units),
        "alignment": [tables.alignment_table(alignment, units) for alignment in subject.alignments],
        "reach": tables.reach_words(subject.alignments, units),
        "views": moving["views"],
        "caused": [in_units(words, units) for words in new.caused],
        "cautions": [words for words in tables.cautions(old, new, units) if words != SAFETY],
        "granted": tables.taken_for_granted(old, new, units),
    }
