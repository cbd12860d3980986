"""What a setup does on the road: ground, flat-tire line, bodywork cover, rolling, gearing, moments, mass."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from fitment.report.common import bolt_on_json, rounded, wrapped
from fitment.units import in_units, length_text, mass_text

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.checks.full_case import FullCase
    from fitment.checks.ground_clearance import GroundClearance
    from fitment.checks.road_changes import Mass, RoadChanges
    from fitment.checks.tread_cover import TreadCover
    from fitment.checks.wheel_removal import Removal, Way

LEAST = 0.05  # of a change that is told, in its own unit
LABEL = 12  # columns
ASSUMED = (
    "Ground: at rest on a level road, tires pressed in by the load, joints counted at their centres. Flat tire: both "
    "tires of the axle flat, standing on the rim's edge; rubber under the rim is not counted. Bodywork cover: over the "
    "sector of a published wheel-guard rule (78/549/EEC)."
)


# ---------------------------------------------------------------- text


def road_lines(road: RoadChanges, units: str, old: str) -> list[str]:
    """What changes on the road against the build `old`, one paragraph each; what does not change is left out."""
    return [
        wrapped(words, first=f"  {label:<{LABEL}}", rest=" " * (LABEL + 2))
        for label, words in road_words(road, units, old)
    ]


def road_words(road: RoadChanges, units: str, old: str) -> Iterator[tuple[str, str]]:
    """(what, how it changes against the build `old`); what does not change is left out."""
    if road.circumference is None or road.revs_per_km is None:
        yield "rolling", "not computed, because the relation covers radial tires only"
    else:
        (was, now), (turned, turns) = road.circumference, road.revs_per_km
        yield (
            "rolling",
            f"{_changed(now, was, units, 0)} a turn, "
            + in_units(f"{turns:.0f} turns a km ({turns - turned:+.0f})", units),
        )
    if road.speedometer is not None and abs(road.speedometer) >= LEAST:
        yield "speedometer", _speedometer(road.speedometer, old)
    if road.gearing is not None and abs(road.gearing) >= LEAST:
        yield "gearing", in_units(_gearing(road), units)
    if abs(road.body) >= LEAST:
        yield "body", f"{length_text(road.body, units, sign=True)} over the ground at this axle"
    yield "track", ", ".join(f"{track.axle} {_changed(track.new, track.old, units, 1)}" for track in road.tracks)
    if abs(road.lever) >= LEAST:
        yield "bearing", _bearing(road, units)
    if any(mass.new is not None and mass.new != mass.old for mass in road.unsprung):
        yield "unsprung", _unsprung(road, units)


def _changed(now: float, was: float, units: str, digits: int) -> str:
    return f"{length_text(now, units, digits=digits)} ({length_text(now - was, units, digits=digits, sign=True)})"


def _speedometer(error: float, old: str) -> str:
    way = "more" if error > 0 else "less"
    return f"shows {abs(error):.1f} % {way} than the true speed, if it was right on {old} and counts this axle's turns"


def _gearing(road: RoadChanges) -> str:
    assert road.gearing is not None
    way = ("more", "shorter") if road.gearing > 0 else ("less", "taller")
    words = f"the drive shaft turns {abs(road.gearing):.1f} % {way[0]} per km, as with a {way[1]} final drive"
    if road.final_drive is not None:
        words += f" ({road.final_drive[0]:.2f} acts as {road.final_drive[1]:.2f})"
    return words


def _bearing(road: RoadChanges, units: str) -> str:
    way = "out" if road.lever > 0 else "in"
    words = f"the wheel's load acts {length_text(abs(road.lever), units)} further {way} from the hub face"
    if road.moment is None:
        words += "; its moment is not computed, because the axle load is not in the profile"
    else:
        more = "more" if road.moment > 0 else "less"
        moment = in_units(f"{abs(road.moment):.0f} N m", units)
        words += f". With half the axle load at rest that is {moment} {more} moment"
    hub = "another hub, its bearing may stand elsewhere" if road.another_hub else "where the bearing stands is unknown"
    return f"{words} ({hub})"


def _unsprung(road: RoadChanges, units: str) -> str:
    known = [mass for mass in road.unsprung if mass.new is not None]
    words = ", ".join(_mass(mass, units) for mass in known)
    if road.unsprung_change is not None:
        change = mass_text(round(road.unsprung_change, 1), units, sign=True)
        words += f"; together {change} a corner, counting parts with a known mass before and after"
    missing = [mass.part for mass in road.unsprung if mass.old is None or mass.new is None]
    return words + (f"; not counted: {', '.join(missing)}" if missing else "")


def _mass(each: Mass, units: str) -> str:
    assert each.new is not None
    change = f" ({mass_text(each.new - each.old, units, sign=True).split()[0]})" if each.old is not None else ""
    return f"{each.part} {mass_text(each.new, units)}{change}"


def ground_lines(case: FullCase, units: str, line: Any) -> list[str]:
    """The checks against the ground and of the cover, each written by `line`, and what they rest on."""
    return [*(line(check, units, tape=True) for check in case.on_ground), wrapped(in_units(ASSUMED, units))]


# ---------------------------------------------------------------- JSON


def ground_json(found: GroundClearance) -> dict[str, Any]:
    """Every part at every ride height; heights [mm], rake [deg] nose down."""
    return {
        "rake_deg": rounded(found.rake),
        "parallel_because": found.level_because or None,
        "checks": [bolt_on_json(check) for check in found.checks],
        "heights": [
            {
                "part": height.part,
                "kind": height.kind,
                "ride": height.ride,
                "travel_mm": rounded(height.travel),
                "above_ground_mm": rounded(height.above_ground),
                "above_flat_line_mm": rounded(height.above_flat_line),
                "tolerance_mm": rounded(height.tolerance),
            }
            for height in found.heights
        ],
    }


def cover_json(found: TreadCover) -> dict[str, Any]:
    """How far tread and tire stand out past the bodywork's edge [mm], negative = inside."""
    return {
        "check": bolt_on_json(found.check),
        "edges": list(found.edges),
        "heights": [
            {
                "ride": height.ride,
                "travel_mm": rounded(height.travel),
                "corner": height.corner,
                "tread_out_mm": rounded(height.tread),
                "tread_at_deg": rounded(height.tread_at),
                "whole_out_mm": rounded(height.whole),
                "whole_at_deg": rounded(height.whole_at),
                "described_deg": None if height.described is None else [rounded(x) for x in height.described],
                "gaps": height.gaps,
            }
            for height in found.heights
        ],
    }


def removal_json(found: Removal) -> dict[str, Any]:
    """How the wheel comes off: what is left on the way at full droop, and where it comes off with the least droop."""
    return {
        "check": bolt_on_json(found.check),
        "slide_mm": rounded(found.slide),
        "at_full_droop": [_way(way) for way in found.hanging],
        "least_droop": None if found.at is None else _way(found.at),
    }


def _way(each: Way) -> dict[str, Any]:
    return {
        "travel_mm": rounded(each.travel),
        "steer_deg": rounded(each.steer, 6),
        "left_mm": rounded(each.left) if each.past else None,
        "past": each.past or None,
    }


def road_json(found: RoadChanges) -> dict[str, Any]:
    """Changes from the old to the new setup; signs as in `fitment.checks.road_changes`."""
    return {
        "rolling_circumference_mm": _pair(found.circumference),
        "revs_per_km": _pair(found.revs_per_km),
        "speedometer_error_pct": rounded(found.speedometer),
        "gearing_change_pct": rounded(found.gearing),
        "final_drive_acts_as": None if found.final_drive is None else rounded(found.final_drive[1]),
        "body_change_mm": rounded(found.body),
        "track_mm": {track.axle: _pair((track.old, track.new)) for track in found.tracks},
        "bearing_lever_change_mm": rounded(found.lever),
        "bearing_moment_change_nm": rounded(found.moment),
        "another_hub": found.another_hub,
        "unsprung_kg": {mass.part: _pair((mass.old, mass.new)) for mass in found.unsprung},
        "unsprung_change_kg": rounded(found.unsprung_change),
    }


def _pair(values: Sequence[float | None] | None) -> dict[str, float | None] | None:
    return None if values is None else {"old": rounded(values[0]), "new": rounded(values[1])}
