"""How sure a checked setup is, as text and JSON."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from fitment.parts.tire import by_r54
from fitment.report.builds import approach_json
from fitment.report.common import corner_words, pose_words, rounded, table, wrapped
from fitment.units import MM_PER_INCH, clearance_text, in_units, length_text

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.answers.uncertainty import Certainty, ClosestApproach, Doubt, MeasuredAgain
    from fitment.parts.axle import Setup

LISTED = 8  # readings in the table
LEAST_SHARE = 0.01  # of the variance, to be listed
FELT = 0.005  # [mm] an effect below this is not told
LEAST_CHANCE = 0.001  # told as a number; below it as "below 0.1 %"
NO_OBSTACLE = "How sure: nothing to say, because no part near the wheel was checked."
_COORDINATE = re.compile(r"(.*(?:points|rows|at|from|to|steering_axis|hub_face_at).*)\[([012])\]$")


def chance_text(chance: float | None) -> str:
    """A chance in per cent, never 0 or 100: '2.3 %', 'below 0.1 %'; a dash where none can be given."""
    if chance is None:
        return "-"
    if chance < LEAST_CHANCE:
        return "below 0.1 %"
    if chance > 1 - LEAST_CHANCE:
        return "above 99.9 %"
    return f"{100 * chance:.1f} %" if chance < 0.0995 or chance > 0.9905 else f"{100 * chance:.0f} %"


def reading_words(doubt: Doubt, axle: str) -> str:
    """A reading by its name in the profile: 'front hub_face_width', 'fender lip points[1], y'."""
    if doubt.kind == "place":
        return f"{doubt.name}, where it is"
    if doubt.kind == "shoulder":
        return "tire shoulder (usual to square)"
    if doubt.kind == "rib":
        return "tire rim protector (none to the highest)"
    if doubt.band:
        return f"{doubt.name.replace('.', ' ')} (as permitted)"
    if doubt.kind not in ("reading", "place"):
        return doubt.name.replace(".", " ", 1)
    return path_words(doubt.name, axle)


def path_words(path: str, axle: str) -> str:
    """A key path within an axle, for a reader."""
    bare = path.removeprefix("baseline:")
    words = "" if bare == path else " of the baseline"
    match = _COORDINATE.fullmatch(bare)
    if match and not bare.startswith("steer_limit") and "outline" not in bare and "clock[" not in bare:
        bare, words = match[1], f", {'xyz'[int(match[2])]}{words}"
    part = re.fullmatch(r"obstacles\[(.*?)\]\.?(.*)", bare)
    bare = f"{part[1]} {part[2]}" if part else f"{axle} {bare.removeprefix('suspension.')}"
    return bare + words


# text ---------------------------------------------------------------------------------------------------------


def certainty_text(found: Certainty | None, setup: Setup, axle: str, units: str = "mm") -> str:
    """The limiting place, the chances at every place, the readings to take again, and what was assumed."""
    if found is None:
        return NO_OBSTACLE
    place = found.limiting
    entry = place.entry
    head = f"How sure, where it is tightest: {entry.part} to {entry.obstacle}, {pose_words(entry, units)}"
    parts = [wrapped(head, first="", rest="  "), _figures(place, units), ""]
    if len(found.places) > 1:
        parts += [_chances(found, units), ""]
    parts += [_measure_again(found, axle, units), ""]
    notes = [*_assumed(found, setup), *_not_in_it(found, axle)]
    return "\n".join([*parts, "What this rests on", *(wrapped(in_units(note, units)) for note in notes)])


def _figures(place: ClosestApproach, units: str) -> str:
    entry = place.entry
    rows = [("", ""), ("clearance as measured", clearance_text(entry.clearance, units))]
    if abs(place.expected - entry.clearance) >= 0.05:
        rows.append(("average over the tire's permitted sizes", length_text(place.expected, units)))
    if place.range:
        rows.append(("19 times of 20, between", _range_text(place.range, units)))
    rows.append(("worst case, all at once", clearance_text(entry.worst_case, units)))
    rows.append(("chance of contact", chance_text(place.chance_of_contact)))
    asked = length_text(entry.allowance, units)
    rows.append((f"chance of less than the {asked} required", chance_text(place.chance_short)))
    note = "" if place.told else _NO_TOLERANCE if place.direction_known else _NO_DIRECTION
    if place.told and entry.clearance < 0:
        note = _OVERLAP
    return table(rows[1:]) + ("\n" + wrapped(note, first="  ", rest="  ") if note else "")


_NO_DIRECTION = (
    "No chance is given here. The parts overlap as measured and no single direction leads out, so how a reading "
    "changes the overlap is unknown. Below, each reading counts with its full movement, whichever way it goes."
)
_OVERLAP = (
    "The parts overlap as measured. The chance of contact is at least the one shown. The depth of the overlap does not "
    "say how far a part has to move."
)
_NO_TOLERANCE = (
    "No figure that moves this place has a tolerance, so no chance is given; state tolerances in the profile."
)


def _range_text(ends: tuple[float, float], units: str) -> str:
    low, high = ends
    return f"{length_text(low, units).removesuffix(f' {units}')} and {length_text(high, units)}"


def _chances(found: Certainty, units: str) -> str:
    """Every place where something may go wrong; the others in a line or two."""
    rows = [("each at its closest", "clearance", "19 times of 20", "worst case", "contact", "below required", "")]
    safe, untold = 0, []
    for place in found.places:
        entry = place.entry
        words = f"{entry.part} - {entry.obstacle}"
        if place is not found.limiting and place.told and (place.chance_short or 0.0) < LEAST_CHANCE:
            safe += 1
        elif place is not found.limiting and not place.told and place.direction_known:
            untold.append(f"{words}, {clearance_text(entry.clearance, units)}")
        else:
            rows.append(
                (
                    words, clearance_text(entry.clearance, units),
                    _range_text(place.range, units) if place.range else "-",
                    clearance_text(entry.worst_case, units), chance_text(place.chance_of_contact),
                    chance_text(place.chance_short), corner_words(entry, units),
                )
            )  # fmt: skip
    lines = [table(rows)]
    if safe:
        lines.append(
            f"  {safe} more {'place' if safe == 1 else 'places'}: below 0.1 % for contact, and for below required"
        )
    if untold:
        lines.append(wrapped(f"no tolerance moves these, so no chance: {'; '.join(untold)}", first="  ", rest="  "))
    contact, short = found.any_contact, found.any_short
    if contact and short:
        words = f"at one or more of them: contact {_bounds_text(contact)}, below required {_bounds_text(short)}"
        lines.append(wrapped(words, first="  ", rest="  "))
    return "\n".join(lines)


def _bounds_text(bounds: tuple[float, float]) -> str:
    least, most = map(chance_text, bounds)
    if least == most:
        return least
    if bounds[1] > 1 - LEAST_CHANCE:
        return f"at least {least}"
    if bounds[0] < LEAST_CHANCE:
        return f"at most {most}"
    return f"{least.removesuffix(' %')} to {most}"


def _measure_again(found: Certainty, axle: str, units: str) -> str:
    place = found.limiting
    felt = [again for again in found.measure_again if place.share(again.doubt) >= LEAST_SHARE]
    if not felt:
        return "Measure this again: nothing that has a tolerance moves this place."
    contact, short = place.chance_of_contact, place.chance_short
    chances = any(chance and LEAST_CHANCE < chance < 1 - LEAST_CHANCE for chance in (contact, short))
    columns = 4 + place.told + 2 * chances
    rows = [("share", "reading", "tolerance", "gains", "halved: from", "contact", "below required")[:columns]]
    rows += [_again_row(place, again, axle, units)[:columns] for again in felt[:LISTED]]
    lines = ["Measure this again: what the spread at the tightest place comes from", table(rows, left=2)]
    rest = [doubt for doubt in place.doubts if abs(doubt.effect) > FELT][len(rows) - 1 :]
    if rest:
        lines.append(f"  {len(rest)} more: {100 * sum(map(place.share, rest)):.1f} % together")
    words = "share: of the spread. gains: how the clearance changes when the reading is 1 larger"
    if place.told:
        words += ". halved: where '19 times of 20' begins with half the tolerance, if the reading comes out the same"
    return "\n".join([*lines, wrapped(words, first="  ", rest="  ")])


def _again_row(place: ClosestApproach, again: MeasuredAgain, axle: str, units: str) -> tuple[str, ...]:
    doubt, better = again.doubt, again.halved
    share, name = f"{100 * place.share(doubt):.0f} %", reading_words(doubt, axle)
    low = length_text(better.range[0], units) if better.range else "-"
    chances = chance_text(better.chance_of_contact), chance_text(better.chance_short)
    return share, name, _amount(doubt, units), _gain(doubt, units), low, *chances


def _amount(doubt: Doubt, units: str) -> str:
    return f"{doubt.tolerance:g} deg" if doubt.unit == "deg" else length_text(doubt.tolerance, units)


def _gain(doubt: Doubt, units: str) -> str:
    """Clearance gained for one more of the reading."""
    value = doubt.sensitivity
    if doubt.unit == "deg" and units == "in":
        value /= MM_PER_INCH
    number = f"{round(value, 2) + 0.0:+.2f}" if doubt.signed else f"+-{abs(value):.2f}"
    return f"{number} {units}/{'deg' if doubt.unit == 'deg' else units}"


# what it rests on ---------------------------------------------------------------------------------------------


def _assumed(found: Certainty, setup: Setup) -> list[str]:
    basis = (
        "A tolerance is assumed to be two standard deviations of a normal spread: about 95 % of such readings lie "
        "within it. Readings are assumed independent, and each moves the clearance in proportion."
    )
    words = [basis]
    bands = {doubt.kind: doubt.band for place in found.places for doubt in place.doubts if doubt.band is not None}
    rule = "UN R54" if by_r54(setup.tire) else "UN R30"
    widest = "the US rule" if setup.tire.market == "us" else rule
    sizes = []
    if "width" in bands:
        low, high = bands["width"]
        sizes.append(
            f"section width {low:.1f} to {high:.1f} mm ({widest} limits it upwards only; as far below is assumed)"
        )
    if "diameter" in bands:
        low, high = bands["diameter"]
        sizes.append(f"overall diameter {low:.1f} to {high:.1f} mm ({rule})")
    if sizes:
        words.append(
            f"The tire may have any size that is permitted when new, each assumed equally likely: {', '.join(sizes)}. "
            "Measure the mounted tire and write section_width and overall_diameter, with a tolerance, in the profile. "
            "These then replace the range here, but not in the worst case."
        )
    if "shoulder" in bands:
        words.append(
            f"The tire's shoulder may be anything from the usual one to a square one, {bands['shoulder'][1]:.1f} mm "
            "further out at most, each assumed equally likely: give shoulder or outline in the profile to end that."
        )
    if "rib" in bands:
        words.append(
            f"A rib beside the rim may be of any height from none to the permitted, {bands['rib'][1]:.1f} mm out of "
            "the sidewall, each assumed equally likely: give rim_protector: false, or outline, in the profile to end "
            "that."
        )
    words.append(
        "The worst case is that of the check: the largest tire permitted, and every tolerance against us at once. "
        "For several places together two numbers are given: the largest single chance, and the sum of all. The true "
        "chance lies between, because the places depend on the same readings."
    )
    return words


def _not_in_it(found: Certainty, axle: str) -> list[str]:
    words = []
    if found.exact:
        words.append(_exact_words(found, axle))
    if found.by_gap:
        words.append(
            f"{found.limiting.entry.obstacle} was placed by a gap to the baseline's tire or wheel. For that the tire "
            "or wheel was assumed to have its nominal size. How far its true size differs is not counted."
        )
    if found.assumed:
        words.append(
            "Assumed bands are wide. The chances count each of them by itself, at the place that is closest with the "
            "typical values; with others another place may come closer. So take them as the best case: the worst case "
            "counts all bands together, in every pose."
        )
    words.append(
        "Not counted: what is assumed above (shape of tire and wheel), differences between left and right, play and "
        "give in joints, bushings and body, poses other than the closest, mistaken readings"
        f"{', what happens in service' if found.has_service else ''}."
    )
    return words


def _exact_words(found: Certainty, axle: str) -> str:
    from fitment.answers.uncertainty import USUAL_GAUGE, USUAL_LENGTH, USUAL_LOCK, USUAL_OFFSET, USUAL_POINT

    count, supposed = len(found.exact), found.supposed
    words = (
        f"Without a tolerance, so counted as exact: {count} {'reading' if count == 1 else 'readings'} that could "
        f"matter at the tightest place. Usual tolerances: a length by tape {USUAL_LENGTH:g} mm, each coordinate of a "
        f"point {USUAL_POINT:g} mm, camber and toe by gauge {USUAL_GAUGE:g} deg, "
        f"a lock {USUAL_LOCK:g} deg, a wheel's offset {USUAL_OFFSET:g} mm (common "
        "practice, no published source)."
    )
    if supposed is None:
        return f"{words} What these would do here was not worked out."
    felt = sorted((d for d in supposed.added if abs(d.effect) > FELT), key=lambda d: -abs(d.effect))
    if not felt:
        return f"{words} None of them changes that clearance by 0.01 mm or more."
    then = supposed.place
    if then.range:
        low, high = then.range
        words += (
            f" With these the clearance there would be {low:.1f} to {high:.1f} mm 19 times of 20; contact "
            f"{chance_text(then.chance_of_contact)}, below required {chance_text(then.chance_short)}."
        )
    most = ", ".join(f"{reading_words(d, axle)} ({abs(d.effect):.1f} mm)" for d in felt[:3] if abs(d.effect) >= 0.05)
    return (
        f"{words} {len(felt)} of them {'changes' if len(felt) == 1 else 'change'} that clearance, most of all {most}."
        if most
        else words
    )


# JSON ---------------------------------------------------------------------------------------------------------


def certainty_json(found: Certainty | None, setup: Setup, axle: str) -> dict[str, Any] | None:
    """The `how_sure` object of `check`; None when no obstacle was checked."""
    if found is None:
        return None
    supposed = found.supposed
    return {
        "limiting": place_json(found.limiting),
        "measure_again": [_again_json(found.limiting, again, axle) for again in found.measure_again],
        "places": [place_json(place) for place in found.places],
        "any_contact_percent": _percents(found.any_contact),
        "any_short_percent": _percents(found.any_short),
        "places_without_a_chance": sum(not place.told for place in found.places),
        "exact_readings": [
            {"reading": reading.path, "usual_tolerance": reading.tolerance, "unit": reading.unit}
            for reading in found.exact
        ],
        "with_usual_tolerances": None if supposed is None else place_json(supposed.place),
        "notes": [*_assumed(found, setup), *_not_in_it(found, axle)],
    }


def place_json(place: ClosestApproach) -> dict[str, Any]:
    """One obstacle and part at its closest, with everything that is uncertain there."""
    return approach_json(place.entry) | {
        "expected_mm": rounded(place.expected),
        "standard_deviation_mm": rounded(place.deviation),
        "range_95_mm": _ends(place.range),
        "contact_percent": _percent(place.chance_of_contact),
        "short_percent": _percent(place.chance_short),
        "direction_known": place.direction_known,
        "readings": [_doubt_json(place, doubt) for doubt in place.doubts],
    }


def _doubt_json(place: ClosestApproach, doubt: Doubt) -> dict[str, Any]:
    return {
        "reading": doubt.name,
        "kind": doubt.kind,
        "tolerance": rounded(doubt.tolerance),
        "unit": doubt.unit,
        "band_mm": _ends(doubt.band),
        "mm_per_unit": rounded(doubt.sensitivity, 6),
        "signed": doubt.signed,
        "share_percent": rounded(100 * place.share(doubt)),
    }


def _again_json(place: ClosestApproach, again: MeasuredAgain, axle: str) -> dict[str, Any]:
    doubt, better = again.doubt, again.halved
    halved = {
        "range_95_mm": _ends(better.range),
        "standard_deviation_mm": rounded(better.deviation),
        "contact_percent": _percent(better.chance_of_contact),
        "short_percent": _percent(better.chance_short),
    }
    return {"words": reading_words(doubt, axle)} | _doubt_json(place, doubt) | {"halved": halved}


def _ends(ends: tuple[float, float] | None) -> list[float | None] | None:
    return None if ends is None else [rounded(end) for end in ends]


def _percents(bounds: tuple[float, float] | None) -> list[float | None] | None:
    return None if bounds is None else [_percent(bound) for bound in bounds]


def _percent(chance: float | None) -> float | None:
    return None if chance is None else rounded(100 * chance)
