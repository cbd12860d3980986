"""Where a part falls short, in a sentence for builders and as JSON; limits are rounded so that a region only grows."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from fitment.report.common import rounded, wrapped
from fitment.units import MM_PER_INCH, length_text, read_text

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.answers.margin_map import MarginMap
    from fitment.checks.fit import Clearance
    from fitment.checks.full_case import FullCase
    from fitment.checks.short_regions import Region, Span, WhereShort

WHERE = "Where it falls short"
TRAVEL_STEP, STEER_STEP = 1.0, 0.5  # [mm], [deg] to which limits are told
EVERY_HEIGHT = "at every height"
AT_LOCK = 1.0  # [deg] before a lock that still count as at the lock


def where_of(case: FullCase, entry: Clearance) -> WhereShort | None:
    """Where the obstacle and part of an entry fall short; None where they do not."""
    return next((w for w in case.where_short if (w.obstacle, w.part) == (entry.obstacle, entry.part)), None)


def where_json(where: WhereShort | None) -> dict[str, Any] | None:
    """The sentence, the clearance that is not kept there, and the regions; None where nothing falls short."""
    if where is None:
        return None
    regions = []
    for region in where.regions:
        data = {"travel_mm": [rounded(end) for end in _outward(region.travel, where.whole.travel, TRAVEL_STEP)]}
        if region.beside is not None and where.whole.beside is not None:
            key, step = ("steer_deg", STEER_STEP) if where.beside == "steer" else ("opposite_mm", TRAVEL_STEP)
            data[key] = [rounded(end) for end in _outward(region.beside, where.whole.beside, step)]
        regions.append(data)
    words = {"sentence": where_words(where, "mm"), "short": where.kind, "mm": rounded(where.limit)}
    if where.straight is None:
        return words | {"regions": regions}
    straight = _outward(where.straight, where.whole.travel, TRAVEL_STEP) if where.straight else ()
    return words | {"regions": regions, "straight_ahead_travel_mm": [rounded(end) for end in straight]}


def map_json(margins: MarginMap) -> dict[str, Any]:
    """The least margin in every pose of the map and which part has it; null in a pose that is not reached."""
    key = "opposite_mm" if margins.beside_kind == "opposite" else "steer_deg"
    names = [f"{part} - {obstacle}" for obstacle, part in margins.pairs]
    return {
        "travel_mm": [rounded(travel) for travel in margins.travel],
        key: [[_known(value) for value in row] for row in margins.beside],
        "margin_mm": [[_known(value) for value in row] for row in margins.margin],
        "between": [[names[i] if i >= 0 else None for i in row] for row in margins.between],
    }


def _known(value: float) -> float | None:
    return None if math.isnan(value) else rounded(value)


def where_lines(case: FullCase, units: str) -> list[str]:
    """A line for every obstacle and part that falls short."""
    if not case.where_short:
        return []
    lines = [wrapped(f"{w.part} - {w.obstacle}: {where_words(w, units)}") for w in case.where_short]
    return [WHERE, *lines, _steps_words(units)]


def where_touching(case: FullCase, units: str) -> dict[tuple[str, str], str]:
    """Of every obstacle and part that touch, where they do."""
    return {(w.obstacle, w.part): where_words(w, units) for w in case.where_short if w.kind == "rubs"}


def _steps_words(units: str) -> str:
    step = "1/16 in" if units == "in" else f"{TRAVEL_STEP:g} mm"
    words = (
        f"as measured, unless it says worst case; every pose in which it does lies within these limits, told to {step} "
        f"and {STEER_STEP:g} deg"
    )
    return wrapped(words, first="  ", rest="  ")


def where_words(where: WhereShort, units: str = "mm") -> str:
    """Where it falls short, in one sentence without its subject."""
    told = _shortfall_words(where, units)
    if where.still:
        return f"{told} in every pose"
    if where.always:
        return f"{told} {EVERY_HEIGHT}" if where.beside is None else f"{told} anywhere"
    places = [(_travel_words(region, where, units), _beside_words(region, where, units)) for region in where.regions]
    if len(places) == 1 and not any(places[0]):
        straight = _straight_words(where, units)
        return f"{told} in some poses, at any height{f', {straight}' if straight else f' and {_any_words(where)}'}"
    if len(places) == 2 and places[0][0] == places[1][0] and all(beside for _, beside in places):
        travel, (first, second) = places[0][0] or "at any height", (beside for _, beside in places)
        return f"{told} {_only(f'{travel} {first} or {second}')}"
    straight = _straight_words(where, units)
    if len(places) == 1 and straight:
        return f"{told} {_only(f'{places[0][0]}, {straight}')}"
    return f"{told} {_only(', and '.join(_place_words(*place, where) for place in places))}"


def _only(places: str) -> str:
    """Only there; what is so at every height is limited by the rest alone."""
    if not places.startswith(EVERY_HEIGHT):
        return f"only {places}"
    rest = places.removeprefix(EVERY_HEIGHT)
    return places if rest.startswith(",") else f"{EVERY_HEIGHT}, only{rest}"


def _shortfall_words(where: WhereShort, units: str) -> str:
    if where.kind == "too_close":
        return f"too close (less than {read_text(where.limit, units, tape=False)})"
    touches = "rubs" if where.part == "tire" else "touches"
    return touches if where.kind == "rubs" else f"in the worst case {touches}"


def _any_words(where: WhereShort) -> str:
    return "steering angle" if where.beside == "steer" else "height of the opposite wheel"


def _place_words(travel: str, beside: str, where: WhereShort) -> str:
    """One region; what is not limited is said too, so that nobody has to wonder."""
    if where.beside is None:
        return travel
    if not beside:
        return f"{travel}, at any {_any_words(where)}"
    return f"{travel or 'at any height'} {beside}"


def _straight_words(where: WhereShort, units: str) -> str:
    """Where it does straight ahead; empty where that is not told."""
    if where.straight is None:
        return ""
    if not where.straight:
        return "never straight ahead"
    travel, whole = (_span_words(span, where, units) for span in (where.straight, where.regions[0].travel))
    return "straight ahead too" if travel == whole else f"straight ahead only {travel}"


def _travel_words(region: Region, where: WhereShort, units: str) -> str:
    """Empty where it is not limited."""
    words = _span_words(region.travel, where, units)
    return f"{words} of travel" if words else EVERY_HEIGHT if region.every_height else ""


def _span_words(span: Span, where: WhereShort, units: str) -> str:
    """Travel between two ends; empty where it is not limited."""
    whole = where.whole.travel
    low, high = _outward(span, whole, _step(units))
    first, last = (length_text(end, units, digits=0, sign=True) for end in (low, high))
    from_low, to_high = low <= whole[0], high >= whole[1]
    if from_low and to_high:
        return ""
    if first == last:
        return f"at {first}"
    if to_high:
        return f"above {first}"
    return f"below {last}" if from_low else f"between {first} and {last}"


def _beside_words(region: Region, where: WhereShort, units: str) -> str:
    """Empty where it is not limited."""
    whole = where.whole.beside
    if region.beside is None or whole is None:
        return ""
    if where.beside == "steer":
        low, high = _outward(region.beside, whole, STEER_STEP)
        return _steer_words(low, high, (region.ends[0] or low <= whole[0], region.ends[1] or high >= whole[1]))
    low, high = _outward(region.beside, whole, _step(units))
    first, last = (length_text(end, units, digits=0, sign=True) for end in (low, high))
    if low <= whole[0] and high >= whole[1]:
        return ""
    if high >= whole[1]:
        return f"with the opposite wheel above {first}"
    if low <= whole[0]:
        return f"with the opposite wheel drooping below {last}"
    return f"with the opposite wheel between {first} and {last}"


def _steer_words(low: float, high: float, locks: tuple[bool, bool]) -> str:
    """Steering between two angles [deg]; locks : whether it goes to the right and to the left lock."""
    right, left = locks
    if right and left:
        return ""
    if low < 0 < high and not right and not left:
        return f"between {-low:g} deg right and {high:g} deg left"
    if right or (high <= 0 and not left):
        return _one_side(-high, -low, "right", "left", lock=right)
    return _one_side(low, high, "left", "right", lock=left)


def _one_side(near: float, far: float, side: str, other: str, *, lock: bool) -> str:
    """Angles to one side [deg]; near : below 0 it begins on the other side; lock : it goes to the lock."""
    if not lock:
        return f"between {near:g} and {far:g} deg {side}"
    if near < 0:
        return f"from {-near:g} deg {other} to {side} lock"
    if far - near <= AT_LOCK + STEER_STEP:
        return f"at {side} lock (from {near:g} deg on)"
    return f"with more than {near:g} deg {side}" if near else f"steered {side}"


def _step(units: str) -> float:
    return MM_PER_INCH / 16 if units == "in" else TRAVEL_STEP


def _outward(span: Span, whole: Span, step: float) -> Span:
    """Both ends moved outward to a step, but not beyond what was looked at; a sixteenth that is its end is its end."""
    low, high = math.floor(span[0] / step + 1e-6) * step, math.ceil(span[1] / step - 1e-6) * step
    return whole[0] if low < whole[0] + 1e-6 else low, whole[1] if high > whole[1] - 1e-6 else high
