"""Alignment as text and JSON."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from fitment.report.common import angle_text, axle_json, rounded, table, wrapped
from fitment.units import in_units, length_text

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.answers.alignment import Alignment, RideState
    from fitment.motion.adjuster_reach import Choice, Target
    from fitment.motion.adjusters import Setting

ALIGN_CAUTION = (
    "Angles come from the points given: a reading 2 mm off moves camber by some tenths of a degree. Set and measure on "
    "an alignment rack; a licensed mechanic decides."
)

LEAST = ("caster to ground", "kingpin incl.", "scrub radius")  # what a narrow terminal can do without


def align_json(found: Alignment) -> dict[str, Any]:
    """The contract's `align` object."""
    data: dict[str, Any] = {
        **axle_json(found.ready.axle.name),
        "build": found.ready.build,
        "rides": [_ride_json(state) for state in found.rides],
        "reach": None,
        "target": None,
        "settings": None,
        "left_over": None,
    }
    if found.reach is not None:
        data["reach"] = {
            "travel_mm": rounded(found.travel),
            "camber_deg": [rounded(x, 6) for x in (found.reach.camber.min(), found.reach.camber.max())],
            "caster_deg": [rounded(x, 6) for x in (found.reach.caster.min(), found.reach.caster.max())],
        }
    else:
        data["not_reached_because"] = found.why_not
    if found.target is not None and found.choice is not None:
        choice = found.choice
        data["target"] = {"camber_deg": found.target.camber, "caster_deg": found.target.caster}
        data["settings"] = [_setting_json(found, setting) for setting in choice.settings]
        data["given"] = {"camber_deg": rounded(choice.camber, 6), "caster_deg": rounded(choice.caster, 6)}
        left = dict(zip(("camber_deg", "caster_deg"), (rounded(x, 6) for x in choice.left_over), strict=True))
        data["left_over"] = left
        data["toe_change"] = [
            {"travel_mm": rounded(t), "before_deg": rounded(a, 6), "after_deg": rounded(b, 6)}
            for (t, a), (_, b) in zip(choice.toe_before, choice.toe_after, strict=True)
        ]
    return data


def _ride_json(state: RideState) -> dict[str, Any]:
    s = state.stance
    return {
        "name": state.name,
        "travel_mm": rounded(s.ride),
        "camber_deg": rounded(s.camber, 6),
        "caster_deg": rounded(s.caster, 6),
        "caster_to_ground_deg": rounded(state.caster_to_ground, 6),
        "toe_in_deg": rounded(s.toe_in, 6),
        "kingpin_inclination_deg": rounded(s.kingpin_inclination, 6),
        "scrub_radius_mm": rounded(s.scrub_radius),
    }


def _setting_json(found: Alignment, setting: Setting) -> dict[str, Any]:
    if setting.angles:
        moves = next(a.moves for a in found.ready.axle.adjusters if a.name == setting.adjuster)
        return {"adjuster": setting.adjuster, "angles_deg": dict(zip(moves, setting.angles, strict=True))}
    if setting.length is not None:
        return {"adjuster": setting.adjuster, "length_mm": rounded(setting.length)}
    return {"adjuster": setting.adjuster, "out_mm": setting.out, "forward_mm": setting.forward}


def setting_words(found: Alignment, setting: Setting, units: str) -> str:
    """A setting as a person makes it."""
    if setting.length is not None:
        how = "longer" if setting.length > 0 else "shorter"
        return f"{setting.adjuster}: {length_text(abs(setting.length), units)} {how} than measured"
    if not setting.angles:
        parts = ((setting.out, "out", "in"), (setting.forward, "forward", "back"))
        words = [
            f"{length_text(abs(value), units)} {plus if value > 0 else minus}" for value, plus, minus in parts if value
        ]
        return f"{setting.adjuster}: {', '.join(words) or 'middle position'}"
    moves = next(a.moves for a in found.ready.axle.adjusters if a.name == setting.adjuster)
    places = (f"{name.replace('_', ' ')} {angle:.0f} deg" for name, angle in zip(moves, setting.angles, strict=True))
    return f"{setting.adjuster}: {', '.join(places)} (0 = outboard, 90 = up)"


def align_text(found: Alignment, units: str = "mm") -> str:
    """The state, what can be reached, and the settings for a target."""
    head = f"{found.ready.axle.name}, build {found.ready.build}"
    return "\n".join([head, table(ride_rows(found, units), least=LEAST), "", *align_lines(found, units)])


def align_lines(found: Alignment, units: str = "mm") -> list[str]:
    """What can be reached, and the settings for a target."""
    assumed = found.ready.assumed_words
    parts: list[str] = [wrapped(assumed, first="", rest="  ")] if assumed else []
    name = f"{found.ride_name}, " if found.ride_name else ""
    at = f"{name}travel {length_text(found.travel, units, digits=0, sign=True)}"
    if found.reach is None:
        parts.append(wrapped(f"What can be reached: not computed, because {found.why_not}.", first="", rest="  "))
    else:
        low, high = found.reach.camber.min(), found.reach.camber.max()
        back, front = found.reach.caster.min(), found.reach.caster.max()
        parts += [
            f"The adjusters reach at {at}, toe re-set:",
            f"  camber {low:+.2f} to {high:+.2f} deg, caster {back:+.2f} to {front:+.2f} deg",
            "  (not every camber with every caster)",
        ]
    if found.target is not None and found.choice is not None:
        parts += ["", *_choice_lines(found, found.target, found.choice, units)]
    return [*parts, "", wrapped(in_units(ALIGN_CAUTION, units, tape=True), first="", rest="")]


def ride_rows(found: Alignment, units: str) -> list[Sequence[str]]:
    """Heading and cells: the wheel at rest at every ride height."""
    rows: list[Sequence[str]] = [
        ("ride height", "travel", "camber", "caster", "caster to ground", "toe-in", "kingpin incl.", "scrub radius")
    ]
    for state in found.rides:
        s = state.stance
        angles = (s.camber, s.caster, state.caster_to_ground, s.toe_in, s.kingpin_inclination)
        rows.append(
            (
                state.name or "given",
                length_text(s.ride, units, digits=0, sign=True),
                *("-" if a is None else angle_text(a) for a in angles),
                "-" if s.scrub_radius is None else length_text(s.scrub_radius, units),
            )
        )
    return rows


def _choice_lines(found: Alignment, target: Target, choice: Choice, units: str) -> list[str]:
    asked = [
        f"{name} {value:+.2f} deg"
        for name, value in (("camber", target.camber), ("caster", target.caster))
        if value is not None
    ]
    lines = [f"For {' and '.join(asked)}, set"]
    lines += [wrapped(setting_words(found, setting, units)) for setting in choice.settings]
    lines.append(f"which gives camber {choice.camber:+.2f} deg and caster {choice.caster:+.2f} deg;")
    left = [
        f"{name} {value:+.2f} deg"
        for name, value, wanted in (
            ("camber", choice.left_over[0], target.camber),
            ("caster", choice.left_over[1], target.caster),
        )
        if wanted is not None and abs(value) >= 0.05
    ]
    lines.append(f"still missing to the target: {', '.join(left)}." if left else "the target is met to 0.05 deg.")
    toe = next(value for travel, value in choice.toe_after if abs(travel - found.travel) < 1e-6)
    if abs(toe - (wanted := found.ready.axle.suspension.toe_in)) >= 0.005:
        lines.append(f"Toe-in becomes {toe:+.2f} deg, not {wanted:+.2f} deg: the toe link's adjuster has steps.")
    before, after = (max(t for _, t in toe) - min(t for _, t in toe) for toe in (choice.toe_before, choice.toe_after))
    lines.append(f"Toe changes by {after:.2f} deg over the whole travel (as it is now: {before:.2f} deg).")
    return lines


def align_subtitle(found: Alignment, units: str) -> str:
    """Axle, build and height of an alignment, in a line."""
    name = f"{found.ride_name}, " if found.ride_name else ""
    height = length_text(found.travel, units, digits=0, sign=True)
    return f"{found.ready.axle.title}, {found.ready.build}, {name}travel {height}, toe re-set"


def ball_words(settings: Sequence[Setting], units: str) -> str:
    """Positions of the ball joints among settings, short: '6.0 mm out, 6.0 mm forward'."""
    words = []
    for setting in settings:
        for value, plus, minus in ((setting.out, "out", "in"), (setting.forward, "forward", "back")):
            if value:
                words.append(f"{length_text(abs(value), units)} {plus if value > 0 else minus}")
    return ", ".join(words) or "middle"
