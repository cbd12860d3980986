"""What a page to hand over shows of one axle: a build, or two compared; alignment; the motion for the sliders."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fitment.answers.alignment import Alignment, align
from fitment.answers.changes import Change, helpful, least_changes, quick_changes
from fitment.answers.changes.other_corner import with_other_corner
from fitment.answers.comparison import Comparison, compared
from fitment.answers.next_reading import Sure, sure_of
from fitment.answers.slider_poses import Moved, SliderMotion, motions, moved
from fitment.checks.full_case import FullCase

BEST = 3  # changes that are told


@dataclass(frozen=True)
class Subject:
    """One axle of the page.

    comparison : of the new build with an old one, None where it stands alone
    sure : how likely each setup clears, of the old build where there is one, then of the new
    alignments : of the old build where there is one, then of the new
    motions : what the sliders move through; moved : in all of that, the old build where there is one, then the new
    """

    new: FullCase
    comparison: Comparison | None
    sure: tuple[Sure | None, ...]
    alignments: tuple[Alignment, ...]
    motions: tuple[SliderMotion, ...]
    moved: tuple[Moved, ...]

    @property
    def old(self) -> FullCase | None:
        """What the new build is compared with."""
        return None if self.comparison is None else self.comparison.old

    @property
    def cases(self) -> tuple[FullCase, ...]:
        """The old build where there is one, then the new."""
        return (self.new,) if self.old is None else (self.old, self.new)


def page_subject(
    new: FullCase, old: FullCase | None = None, *, known: Mapping[str, Sure | None] | None = None
) -> Subject:
    """One axle of a page, worked out. Raises FitmentError.

    known : of axles how likely the new build clears, where that was asked already
    """
    cases = (new,) if old is None else (old, new)
    ways = motions(cases)
    told, axle = known or {}, new.fit.axle.name
    return Subject(
        new,
        None if old is None else compared(old, new),
        tuple(told[axle] if case is new and axle in told else sure_of(case) for case in cases),
        tuple(align(case.ready, None) for case in cases),
        ways,
        tuple(moved(case, ways) for case in cases),
    )


def best_changes(case: FullCase, *, every_kind: bool) -> tuple[Change, ...]:
    """What would make a build fit, the best BEST. Raises FitmentError.

    every_kind : every kind of change is tried, not the quick ones alone
    """
    changes = helpful(least_changes(case)) if every_kind else quick_changes(case)
    best = changes[:BEST]
    return best if case.mate is None else with_other_corner(best, case.mate)
