"""What would make a build fit: of each kind the least single change that clears, checked again at every value.

Never an overlap depth added up: a depth tells that there is contact, not how far to move a part. Values are stepped as
a person sets them (1 mm, 0.5 degrees of lock, the sizes in which tires are made). The value given was checked through
all poses as `check` does it, and so was the one a step smaller, which does not do.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from fitment.answers.changes.ask import Ask, answered, kept
from fitment.answers.changes.camber import camber_asks
from fitment.answers.changes.obstacles import part_changes
from fitment.answers.changes.record import Achieves, Change, Kind, Use, Value
from fitment.answers.changes.tires import tire_asks, tire_changes
from fitment.answers.changes.travel import bump_asks, lock_asks, ride_asks
from fitment.answers.changes.trials import Bench
from fitment.answers.changes.usable import in_order
from fitment.answers.changes.wheels import offset_asks, spacer_asks
from fitment.checks.case import Case
from fitment.progress import steps

__all__ = ["Achieves", "Change", "Kind", "Use", "Value", "helpful", "kept", "least_changes", "quick_changes"]


def least_changes(case: Case) -> tuple[Change, ...]:
    """The least change of each kind that makes a checked build clear, each on its own, the most usable first.

    Raises FitmentError.
    Empty where every required clearance is met, in service too where that counts, and nothing touches in the worst
    case, or where no part could be checked.
    None of them makes a build bolt on.
    """
    if not case.fit.clearances or kept(case):
        return ()
    bench = Bench(case)
    kinds: tuple[Callable[[Bench], Sequence[Ask | Change]], ...] = (
        offset_asks, spacer_asks, tire_changes, ride_asks, bump_asks, lock_asks, part_changes, camber_asks,
    )  # fmt: skip
    tried = [
        answered(bench, ask) if isinstance(ask, Ask) else ask
        for kind in steps("trying changes, kind", kinds, even=False)
        for ask in kind(bench)
    ]
    return in_order(tried)


def quick_changes(case: Case) -> tuple[Change, ...]:
    """Of the same changes those that are had quickly and that help, the most usable first.

    Offset, spacer, a narrower or a lower tire, ride height, and every part that is too close. Each was checked as those
    of `least_changes` are; one step less was looked at, and checked where it seemed to do. A kind that is missing was
    not tried, or did not do.
    Raises FitmentError.
    """
    if not case.fit.clearances or kept(case):
        return ()
    bench = Bench(case)
    asks = [*offset_asks(bench), *spacer_asks(bench), *tire_asks(bench)[0], *ride_asks(bench)]
    changes = [answered(bench, _unswept(ask), misses=False) for ask in asks]
    changes += part_changes(bench, misses=False)
    return helpful(in_order(changes))


def helpful(changes: Sequence[Change]) -> tuple[Change, ...]:
    """Of some changes those that help and that a builder can use."""
    return tuple(change for change in changes if change.achieves != "nothing" and change.use != "not_usable")


def _unswept(ask: Ask) -> Ask:
    """An ask whose values are looked at by their bound alone: no part is swept, more checks may be made."""
    bound = ask.lever.bound
    return ask if bound is None else replace(ask, lever=replace(ask.lever, look=bound, bound=None))
