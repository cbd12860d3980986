"""What happens in service, where a build asks for it: required as well while a change is sought, then checked in it.

What it takes from a part where the build as it is has least left is added to what is required of that part. A change
that keeps so much is checked in service again, since other wheels and poses lose more or less.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from fitment.checks.case import Case
from fitment.checks.fit import Clearance, Fit
from fitment.checks.in_service import by_urgency, left_in_service
from fitment.checks.service_gaps import InService
from fitment.parts.axle import Axle
from fitment.parts.obstacles import Obstacle, Part

SPARE = 0.3  # [mm] beyond what service takes now, so that most changes that keep it do in service too


def required_as_well(case: Case) -> Case:
    """The case with what happens in service required as well; without a look at service the case as it is.

    Its own answer in service is left out, since a trial has none before `told_in_service`.
    """
    found = case.fit.in_service
    if found is None:
        return case
    ready = case.ready
    variants = tuple(replace(variant, axle=_asking(variant.axle, found)) for variant in ready.variants)
    axle = _asking(case.fit.axle, found)
    entries = _requiring(case.fit.clearances, {own.name: own.required_to for own in axle.obstacles})
    fit = replace(case.fit, axle=axle, clearances=entries, in_service=None)
    return replace(case, ready=replace(ready, axle=_asking(ready.axle, found), variants=variants), fit=fit)


def told_in_service(case: Case) -> Case:
    """A trial as it is told: what is required is the part's own again, and what is left in service stands beside it.

    Raises MotionError.
    """
    fit = _own_required(case.fit)
    return replace(case, fit=replace(fit, in_service=left_in_service(fit, case.ready.deflection)))


def told_with_parts(case: Case, found: InService, moved: Mapping[str, Fit]) -> Case:
    """The same where parts of the body were moved, each checked by itself: the others keep what they had in service.

    found : what the build as it is has left; moved : of each part by its name the check of it alone, where it is now
    Raises MotionError.
    """
    gaps = [gap for gap in found.gaps if gap.obstacle not in moved]
    for fit in moved.values():
        alone = left_in_service(_own_required(fit), case.ready.deflection)
        gaps += alone.gaps if alone else ()
    left = replace(found, gaps=by_urgency(gaps), takes=(), entries=())
    return replace(case, fit=replace(_own_required(case.fit), in_service=left))


def _own_required(fit: Fit) -> Fit:
    own = {obstacle.name: obstacle.allowance_to for obstacle in fit.axle.obstacles}
    return replace(fit, clearances=_requiring(fit.clearances, own))


def serves(told: Case, part: str | None = None) -> bool:
    """Whether a trial that was told keeps in service what is required, of one part or of all."""
    found = told.fit.in_service
    return found is None or all(gap.margin >= 0 for gap in found.gaps if part in (None, gap.obstacle))


def _asking(axle: Axle, found: InService) -> Axle:
    """The axle whose parts ask for what service takes from them, too."""

    def taken(obstacle: Obstacle, part: Part) -> float:
        gap = found.of(obstacle.name, part)
        return 0.0 if gap is None else max(gap.ideal - gap.clearance, 0.0) + SPARE

    asking = (replace(own, taken=(taken(own, "tire"), taken(own, "wheel"))) for own in axle.obstacles)
    return replace(axle, obstacles=tuple(asking))


def _requiring(entries: Sequence[Clearance], required: Mapping[str, Callable[[str], float]]) -> tuple[Clearance, ...]:
    return tuple(replace(entry, allowance=required[entry.obstacle](entry.part)) for entry in entries)
