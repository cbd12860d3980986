"""The offsets at which a wheel size with a tire clears, what stops it on each side, and the widest that fits.

The ends are looked up in the keep-out of one sweep, then checked as `check` does and drawn in until that clears.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import groupby, pairwise
from operator import attrgetter

import numpy as np

from fitment.checks.case import Case, Ready, run
from fitment.checks.fit import Clearance, is_short_there, least_of
from fitment.clearance.pose_grid import Sweep, sweep
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
SLOPE = 2.0  # what is left may change by so much a millimetre of offset: the gap by 1, its tolerances by the rest
GRID = 4.0  # [mm] of the offsets among which the best is sought where none fits


@dataclass(frozen=True)
class End:
    """One end of a range of offsets, as checked there.

    offset : [mm]; case : the check at this offset; stop : the closest call there; limit : nothing measured stops it
    """

    offset: float
    case: Case
    stop: Clearance | None
    limit: bool = False


Ends = tuple[End, End]
Spans = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Window:
    """The offsets of one wheel size with one tire.

    ends : smallest and largest offset at which `check` finds every required clearance met and nothing touching in
        the worst case, or None where there is none
    nominal : the same as measured, with the nominal tire; it holds `ends`
    allowed : the offsets that keep every allowance in the nominal size, looked up [mm], or None
    best : where nothing clears, the check at the offset that comes nearest to it
    others, nominal_others : further spans (low, high) of both kinds [mm], apart from these, looked up
    """

    setup: Setup
    ends: Ends | None
    nominal: Ends | None
    allowed: tuple[float, float] | None
    best: Case | None
    others: Spans = ()
    nominal_others: Spans = ()


def of_both_sides(one: Window, other: Window) -> Window:
    """The offsets at which a size clears on both sides of an axle; of spans apart from these nothing is said.

    Source: derived here: what both ranges have in common, each end with the case that sets it.
    """

    at = attrgetter("offset")

    def common(a: Ends | None, b: Ends | None) -> Ends | None:
        if a is None or b is None:
            return None
        low, high = max((a[0], b[0]), key=at), min((a[1], b[1]), key=at)
        return (low, high) if low.offset <= high.offset else None

    ends, nominal = common(one.ends, other.ends), common(one.nominal, other.nominal)
    best = one.best or other.best if nominal is None else None
    allowed = None
    if one.allowed and other.allowed:
        low, high = max(one.allowed[0], other.allowed[0]), min(one.allowed[1], other.allowed[1])
        allowed = (low, high) if low <= high else None
    return Window(one.setup, ends, nominal, allowed, best)


class _Size:
    """A wheel size with a tire on one axle, checked at any offset, once at each."""

    def __init__(self, ready: Ready, setup: Setup, swept: Sweep) -> None:
        self._ready, self._setup, self._swept = ready, setup, swept
        self._cases: dict[float, Case] = {}

    def at(self, offset: float) -> Case:
        """The check at another offset [mm]. Raises FitmentError."""
        if offset not in self._cases:
            self._cases[offset] = run(self._ready, _with_offset(self._setup, offset), self._swept)
        return self._cases[offset]

    def cannot(self, offset: float, rule: _Rule, beside: Case) -> bool:
        """Whether what stops a check beside another offset [mm] shows already that this one does not fit."""
        entry = rule.stop(beside)
        if offset in self._cases or entry is None:
            return False
        worst = rule.worst and entry.worst_case < entry.margin
        setup = _with_offset(self._setup, offset)
        return is_short_there(setup, self._swept, self._ready.variants, beside.fit, entry, worst=worst)


@dataclass(frozen=True)
class _Rule:
    """What is asked of the offsets of a range.

    fits : whether a check meets it; stop : what is met first there; worst : whether the worst case counts
    most : of shifts y' = spacer - ET (n,) what is left of it [mm], which a check's is not above
    """

    fits: Callable[[Case], bool]
    stop: Callable[[Case], Clearance | None]
    worst: bool
    most: Callable[[Array], Array]


def windows(ready: Ready, setups: Sequence[Setup], kept: KeepOut | None = None) -> list[Window]:
    """The window of every setup, whose own offset only says which span is meant. Raises FitmentError.

    kept : the keep-out, if it is known already; all setups stand at one ride height
    """
    if not setups:
        return []
    kept, swept = kept or keep_out_at(ready, setups[0].ride), sweep(ready.axle, setups[0].ride)
    return [_window(ready, setup, kept, swept) for setup in steps("wheel and tire", setups)]


def _window(ready: Ready, setup: Setup, kept: KeepOut, swept: Sweep) -> Window:
    if setup.wheel.rim_diameter != setup.tire.rim_code:
        raise FitmentError(
            f"tire {setup.tire.code} is for a {setup.tire.rim_code:g} in rim, the wheel is {setup.wheel.rim_diameter:g}"
            " in; choose a tire and a wheel of one rim diameter."
        )
    look = outlook(kept, setup.tire, setup.wheel, setup.spacer.thickness)
    spacer, span = setup.spacer.thickness, (setup.spacer.thickness - OFFSET[1], setup.spacer.thickness - OFFSET[0])
    clearing = spacer - free_spans(look.least, span)[::-1, ::-1]
    keeps = spacer - free_spans(look.margin, span)[::-1, ::-1]
    if assumes(ready.variants):  # the keep-out as measured does not tell the worst case of wide bands
        clearing = _checked_spans(swept, ready, setup, keeps)
    size = _Size(ready, setup, swept)
    both = _Rule(lambda case: case.fit.kept, stop, worst=True, most=look.most)
    as_measured = _Rule(_met, _tightest, worst=False, most=look.margin)
    ends, others = _meant_ends(size, both, clearing, setup)
    best = None
    if ends is None:
        best = size.at(_nearest(setup, look, span))
        ends = _at_one(size, both, best)
    nominal, nominal_others = _around(size, as_measured, keeps, setup, ends)
    if nominal is None and best is not None:
        nominal = _at_one(size, as_measured, best)
    if nominal is not None and best is not None:  # what fits as measured is nearer than what does not
        best = size.at(min(max(best.fit.setup.wheel.offset, nominal[0].offset), nominal[1].offset))
    allowed = _allowed(keeps, setup.wheel.offset if nominal is None else nominal[0].offset)
    return Window(setup, ends, nominal, allowed, best if ends is None else None, others, nominal_others)


def _meant_ends(size: _Size, rule: _Rule, spans: Array, setup: Setup) -> tuple[Ends | None, Spans]:
    """The ends of the span that is meant, the first that a check confirms, and the other spans."""
    for low, high in sorted(spans.tolist(), key=lambda each: _away(each, setup.wheel.offset)):
        ends = _ends(size, rule, low, high, setup.spacer.thickness)
        if ends is not None:
            return ends, tuple((a, b) for a, b in spans.tolist() if a != low)
    return None, ()


def _around(size: _Size, rule: _Rule, spans: Array, setup: Setup, inner: Ends | None) -> tuple[Ends | None, Spans]:
    """The ends of the span that holds a narrower range, or is meant where there is none; and the other spans."""
    if inner is None:
        return _meant_ends(size, rule, spans, setup)
    low, high = inner[0].offset, inner[1].offset
    overlaps = (spans[:, 0] <= high + STEP) & (spans[:, 1] >= low - STEP)
    own = spans[overlaps]
    low, high = float(min([low, *own[:, 0]])), float(max([high, *own[:, 1]]))
    ends = _ends(size, rule, low, high, setup.spacer.thickness)
    return ends, tuple((a, b) for a, b in spans[~overlaps].tolist())


def _at_one(size: _Size, rule: _Rule, case: Case) -> Ends | None:
    """A range round one offset that was checked, or None where that does not fit."""
    setup = case.fit.setup
    return (
        _ends(size, rule, setup.wheel.offset, setup.wheel.offset, setup.spacer.thickness) if rule.fits(case) else None
    )


def _met(case: Case) -> bool:
    """Whether every required clearance is met as measured, and there is one."""
    return case.fit.clearance_verdict != "not_checked" and all(entry.margin >= 0 for entry in case.fit.clearances)


def _tightest(case: Case) -> Clearance | None:
    return case.fit.worst


def _checked_spans(swept: Sweep, ready: Ready, setup: Setup, keeps: Array) -> Array:
    """Of spans of offsets (n, 2) [mm] that keep every allowance those (m, 2) at which `check` clears, in whole steps.

    Checked APART of each other, or farther where more is left or lacking than can change between; their ends are
    halved in until they are a step apart.
    """
    known = dict[float, float]()  # what is left, below zero where it does not clear

    def look(offsets: Sequence[float]) -> None:
        new = [offset for offset in dict.fromkeys(offsets) if offset not in known]
        setups = [_with_offset(setup, offset) for offset in new]
        for offset, (_, *left) in zip(new, least_of(swept, setups, ready.variants), strict=True):
            known[offset] = min(left) if np.isfinite(min(left)) else -np.inf

    spans = []
    for low, high in keeps.tolist():
        first, last = np.ceil(low / STEP - 1e-6) * STEP, np.floor(high / STEP + 1e-6) * STEP
        if last < first:
            continue
        offsets: list[float] = []
        between = np.unique(np.round([first, last], 1)).tolist()
        while between:
            look(between)
            offsets = sorted({*offsets, *between})
            between = [round((a + b) / 2, 1) for a, b in pairwise(offsets) if _unsure(a, b, known)]
        for clear, run_of in groupby(offsets, lambda offset: known[offset] >= 0):
            own = list(run_of)
            if clear:
                spans.append([_edge(own[0], offsets, -1, known, look), _edge(own[-1], offsets, 1, known, look)])
    return np.array(spans).reshape(-1, 2)


def _unsure(low: float, high: float, left: dict[float, float]) -> bool:
    """Whether between two offsets it may change, once or twice, whether `check` clears."""
    alike = (left[low] >= 0) == (left[high] >= 0)
    return high - low > APART and not (alike and abs(left[low] + left[high]) > SLOPE * (high - low))


def _edge(
    inner: float, offsets: Sequence[float], way: int, known: dict[float, float], look: Callable[[list[float]], None]
) -> float:
    """The last step from an offset that clears towards the next of the offsets, which does not."""
    index = offsets.index(inner) + way
    if not 0 <= index < len(offsets):
        return inner
    outer = offsets[index]
    while abs(outer - inner) > 1.5 * STEP:
        middle = round((inner + outer) / 2, 1)
        look([middle])
        inner, outer = (middle, outer) if known[middle] >= 0 else (inner, middle)
    return inner


def _away(span: Sequence[float], offset: float) -> tuple[float, float]:
    """Spans that hold the offset first, then the nearest; of equals the longest."""
    return max(span[0] - offset, offset - span[1], 0.0), span[0] - span[1]


def _allowed(spans: Array, offset: float) -> tuple[float, float] | None:
    low_high = min(spans.tolist(), key=lambda each: _away(each, offset), default=None)
    return None if low_high is None else (low_high[0], low_high[1])


def _ends(size: _Size, rule: _Rule, low: float, high: float, spacer: float) -> Ends | None:
    """Both ends as `check` finds them, or None when it finds that none of the span fits.

    What is looked up is too dark rather than too bright, so an end is moved outwards as long as a check fits there.
    """
    first, last = np.ceil(low / STEP - 1e-6), np.floor(high / STEP + 1e-6)
    ends = []
    for start, inward, limit in ((first, 1, OFFSET[0]), (last, -1, OFFSET[1])):
        for step in range(DRAWN_IN):
            tenth = start + inward * step
            if not first <= tenth <= last:
                return None
            if rule.fits(size.at(_offset(tenth))):
                offset = _offset(_moved_out(size, rule, tenth, -inward if step == 0 else 0, spacer))
                case = size.at(offset)
                ends.append(End(offset, case, rule.stop(case), bool(abs(offset - limit) < STEP)))
                break
        else:
            return None
    return ends[0], ends[1]


def _offset(tenth: float) -> float:
    return round(float(tenth) * STEP, 1)


def _moved_out(size: _Size, rule: _Rule, tenth: float, way: int, spacer: float) -> float:
    """The last of the tenths one way at which a check fits; way : -1 or 1, 0 to stay."""
    for _ in range(DRAWN_IN if way else 0):
        offset = _offset(tenth + way)
        if not OFFSET[0] <= offset <= OFFSET[1]:
            break
        if rule.most(np.array([spacer - offset]))[0] < -LOOKED_UP:
            break
        if size.cannot(offset, rule, size.at(_offset(tenth))) or not rule.fits(size.at(offset)):
            break
        tenth += way
    return tenth


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


def _nearest(setup: Setup, look: Outlook, span: tuple[float, float]) -> float:
    """The offset that comes nearest to clearing [mm]."""
    shifts = np.arange(span[0], span[1] + GRID, GRID)
    fine = shifts[int(np.argmax(look.least(shifts)))] + np.arange(-GRID, GRID + 0.5, 0.5)
    shift = float(fine[int(np.argmax(look.least(fine)))])
    return round(setup.spacer.thickness - shift, 1)


def on_its_rim(found: Window) -> bool:
    """Whether the rim's width is within the tire's range."""
    low, high = rim_range(found.setup.tire)
    return low <= found.setup.wheel.rim_width <= high


def widest(found: Sequence[Window], *, as_measured: bool = False) -> Window | None:
    """The one with the widest tire that clears on a rim of its range, of equals on the widest rim, or None."""
    fitting = [window for window in found if (window.nominal if as_measured else window.ends) and on_its_rim(window)]
    return max(fitting, key=lambda each: (each.setup.tire.nominal_width, each.setup.wheel.rim_width), default=None)
