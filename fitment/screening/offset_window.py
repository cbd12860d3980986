"""The offsets at which a wheel size with a tire clears, what stops it on each side, and the widest that fits.

The ends are looked up in the keep-out of one sweep, then checked as `check` does and drawn in until that clears.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np

from fitment.checks.case import Case, Ready, run
from fitment.checks.fit import CLEARS, Clearance, clearance_verdicts
from fitment.clearance.pose_grid import sweep
from fitment.clearance.worst_case import assumes
from fitment.errors import FitmentError
from fitment.frames import Array
from fitment.parts.axle import Setup
from fitment.parts.tire import rim_range
from fitment.parts.wheel import OFFSET
from fitment.progress import steps
from fitment.screening.keep_out import KeepOut, Outlook, free_spans, keep_out_at, outlook

STEP = 0.1  # [mm] to which an end is given
LOOKED_UP = 0.05  # [mm] by which `Outlook.most` may be too small
DRAWN_IN = 30  # steps by which an end is drawn in at most
APART = 2.0  # [mm] of offsets that are checked where bands are assumed
GRID = 4.0  # [mm] of the offsets among which the best is sought where none fits


@dataclass(frozen=True)
class End:
    """One end of a window, as checked there.

    offset : [mm]; case : the check at this offset; stop : the closest call there; limit : nothing measured stops it
    """

    offset: float
    case: Case
    stop: Clearance | None
    limit: bool = False


@dataclass(frozen=True)
class Window:
    """The offsets of one wheel size with one tire.

    ends : smallest and largest offset at which `check` finds every required clearance met and nothing touching in
        the worst case, or None where there is none
    allowed : the offsets that keep every allowance in the nominal size, looked up [mm], or None
    best : where nothing clears, the check at the offset that comes nearest to it
    others : further spans (low, high) that clear [mm], apart from this one
    """

    setup: Setup
    ends: tuple[End, End] | None
    allowed: tuple[float, float] | None
    best: Case | None
    others: tuple[tuple[float, float], ...] = ()


def windows(ready: Ready, setups: Sequence[Setup], kept: KeepOut | None = None) -> list[Window]:
    """The window of every setup, whose own offset only says which span is meant. Raises FitmentError.

    kept : the keep-out, if it is known already; all setups stand at one ride height
    """
    if not setups:
        return []
    kept = kept or keep_out_at(ready, setups[0].ride)
    return [_window(ready, setup, kept) for setup in steps("wheel and tire", setups)]


def _window(ready: Ready, setup: Setup, kept: KeepOut) -> Window:
    if setup.wheel.rim_diameter != setup.tire.rim_code:
        raise FitmentError(
            f"tire {setup.tire.code} is for a {setup.tire.rim_code:g} in rim, the wheel is {setup.wheel.rim_diameter:g}"
            " in; choose a tire and a wheel of one rim diameter."
        )
    look = outlook(kept, setup.tire, setup.wheel, setup.spacer.thickness)
    spacer, span = setup.spacer.thickness, (setup.spacer.thickness - OFFSET[1], setup.spacer.thickness - OFFSET[0])
    clearing = spacer - free_spans(look.least, span)[::-1, ::-1]
    keeps = spacer - free_spans(look.margin, span)[::-1, ::-1]
    allowed = _meant(keeps, setup.wheel.offset)
    if assumes(ready.variants):  # the keep-out as measured does not tell the worst case of wide bands
        clearing = _checked_spans(ready, setup, keeps)
    for low, high in sorted(clearing.tolist(), key=lambda each: _away(each, setup.wheel.offset)):
        ends = _ends(ready, setup, look, low, high)
        if ends is not None:
            rest = tuple((a, b) for a, b in clearing.tolist() if a != low)
            return Window(setup, ends, allowed, None, rest)
    best = _best(ready, setup, look, span)
    offset = best.fit.setup.wheel.offset
    ends = _ends(ready, setup, look, offset, offset) if best.fit.kept else None
    return Window(setup, ends, allowed, best if ends is None else None)


def _checked_spans(ready: Ready, setup: Setup, keeps: Array) -> Array:
    """Of spans of offsets (n, 2) [mm] that keep every allowance those (m, 2) at which `check` clears, in whole steps.

    Checked APART of each other, their ends halved in until they are a step apart.
    """
    swept, known = sweep(ready.axle, setup.ride), dict[float, bool]()

    def clears(offsets: Sequence[float]) -> None:
        new = [offset for offset in dict.fromkeys(offsets) if offset not in known]
        setups = [_with_offset(setup, offset) for offset in new]
        for offset, verdict in zip(new, clearance_verdicts(swept, setups, ready.variants), strict=True):
            known[offset] = verdict == CLEARS

    spans = []
    for low, high in keeps.tolist():
        first, last = np.ceil(low / STEP - 1e-6) * STEP, np.floor(high / STEP + 1e-6) * STEP
        if last < first:
            continue
        offsets = np.round(np.unique(np.append(np.arange(first, last, APART), last)), 1).tolist()
        clears(offsets)
        for clear, run_of in groupby(offsets, known.__getitem__):
            own = list(run_of)
            if clear:
                spans.append([_edge(own[0], offsets, -1, known, clears), _edge(own[-1], offsets, 1, known, clears)])
    return np.array(spans).reshape(-1, 2)


def _edge(
    inner: float, offsets: Sequence[float], way: int, known: dict[float, bool], clears: Callable[[list[float]], None]
) -> float:
    """The last step from an offset that clears towards the next of the offsets, which does not."""
    index = offsets.index(inner) + way
    if not 0 <= index < len(offsets):
        return inner
    outer = offsets[index]
    while abs(outer - inner) > 1.5 * STEP:
        middle = round((inner + outer) / 2, 1)
        clears([middle])
        inner, outer = (middle, outer) if known[middle] else (inner, middle)
    return inner


def _away(span: Sequence[float], offset: float) -> tuple[float, float]:
    """Spans that hold the offset first, then the nearest; of equals the longest."""
    return max(span[0] - offset, offset - span[1], 0.0), span[0] - span[1]


def _meant(spans: Array, offset: float) -> tuple[float, float] | None:
    low_high = min(spans.tolist(), key=lambda each: _away(each, offset), default=None)
    return None if low_high is None else (low_high[0], low_high[1])


def _ends(ready: Ready, setup: Setup, look: Outlook, low: float, high: float) -> tuple[End, End] | None:
    """Both ends as `check` finds them, or None when it finds that none of the span clears.

    What is looked up is too dark rather than too bright, so an end is moved outwards as long as `check` clears there.
    """
    first, last = np.ceil(low / STEP - 1e-6), np.floor(high / STEP + 1e-6)
    ends = []
    for start, inward, limit in ((first, 1, OFFSET[0]), (last, -1, OFFSET[1])):
        for step in range(DRAWN_IN):
            tenth = start + inward * step
            if not first <= tenth <= last:
                return None
            case = at_offset(ready, setup, round(float(tenth) * STEP, 1))
            if case.fit.kept:
                tenth, case = _moved_out(ready, setup, look, tenth, -inward if step == 0 else 0, case)
                ends.append(
                    End(round(float(tenth) * STEP, 1), case, stop(case), bool(abs(tenth * STEP - limit) < STEP))
                )
                break
        else:
            return None
    return ends[0], ends[1]


def _moved_out(
    ready: Ready, setup: Setup, look: Outlook, tenth: float, way: int, case: Case
) -> tuple[float, Case]:  # fmt: skip
    """The last of the tenths one way, and its check, at which `check` clears; way : -1 or 1, 0 to stay."""
    for _ in range(DRAWN_IN if way else 0):
        offset = round(float(tenth + way) * STEP, 1)
        if not OFFSET[0] <= offset <= OFFSET[1]:
            break
        if look.most(np.array([setup.spacer.thickness - offset]))[0] < -LOOKED_UP:
            break
        further = at_offset(ready, setup, offset)
        if not further.fit.kept:
            break
        tenth, case = tenth + way, further
    return tenth, case


def at_offset(ready: Ready, setup: Setup, offset: float) -> Case:
    """The check of the same size at another offset. Raises FitmentError."""
    return run(ready, _with_offset(setup, offset))


def _with_offset(setup: Setup, offset: float) -> Setup:
    words = setup.wheel.spec.split()
    spec = " ".join(f"ET{offset:g}" if word.startswith(("ET", "BS")) else word for word in words)
    return replace(setup, wheel=replace(setup.wheel, spec=spec, offset=offset))


def stop(case: Case) -> Clearance | None:
    """What would be met first: what overlaps, else the entry with the least left of what is required, or of its
    worst case."""
    return min(
        case.fit.clearances,
        key=lambda each: each.urgency if each.clearance < 0 else (True, min(each.margin, each.worst_case)),
        default=None,
    )


def _best(ready: Ready, setup: Setup, look: Outlook, span: tuple[float, float]) -> Case:
    """The check at the offset that comes nearest to clearing."""
    shifts = np.arange(span[0], span[1] + GRID, GRID)
    fine = shifts[int(np.argmax(look.least(shifts)))] + np.arange(-GRID, GRID + 0.5, 0.5)
    shift = float(fine[int(np.argmax(look.least(fine)))])
    return at_offset(ready, setup, round(setup.spacer.thickness - shift, 1))


def on_its_rim(found: Window) -> bool:
    """Whether the rim's width is within the tire's range."""
    low, high = rim_range(found.setup.tire)
    return low <= found.setup.wheel.rim_width <= high


def widest(found: Sequence[Window]) -> Window | None:
    """The one with the widest tire that clears on a rim of its range, of equals on the widest rim, or None."""
    fitting = [window for window in found if window.ends is not None and on_its_rim(window)]
    return max(fitting, key=lambda each: (each.setup.tire.nominal_width, each.setup.wheel.rim_width), default=None)
