"""What is left in service, and what each part of it takes: as a sentence, lines, a column and JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fitment.report.common import overlap_text, pose_words, rounded, table, wrapped
from fitment.units import clearance_text, in_units, length_text

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.checks.fit import Clearance, Fit
    from fitment.checks.service_effects import Effects
    from fitment.checks.service_gaps import InService, ServiceGap
    from fitment.parts.axle import Axle

NOT_CHECKED = "in service (tire growth, cornering, braking, runout): `service: usual` in the profile counts it"
LISTS = "lists and windows do not count it"
WORTH_TELLING = 0.5  # [mm] that an effect takes, from which the sentence names it
NAMED = 3  # effects in a sentence
CORNERING = ("lateral", "lean", "belt")
KEYS = {
    "growth": "growth", "runout": "runout", "weights": "weights", "chains": "chains", "bulge": "bulge",
    "lateral": "play.lateral", "lean": "play.camber", "fore_aft": "play.fore_aft", "toe": "play.toe",
    "rock": "play.rock", "belt": "sidewall_stiffness",
}  # fmt: skip
WHAT = {
    "growth": "growth", "runout": "runout", "weights": "balance weights", "chains": "snow chains",
    "bulge": "bulge over the ground", "lateral": "cornering", "lean": "cornering", "belt": "cornering",
    "fore_aft": "braking", "toe": "toe", "rock": "bearing play",
}  # fmt: skip
BASIS = (
    "The ideal solid, as measured, pushed and grown in every pose; sections are grown all round. The outer and the "
    "inner wheel of a corner, braking and driving are each looked at by themselves, at every height and lock. Not in "
    "it: the worst case, chances, clip-on weights, bolt-on checks (but for weights over the caliper); "
    f"{LISTS}. Starting figures are from memory."
)


def not_counted_json(axle: Axle) -> str | None:
    """What an answer beside the check leaves out, where the profile asks a check to look at it."""
    return None if axle.service is None else "what happens in service"


def open_in_service(fit: Fit) -> str:
    """What of all that happens in service was not looked at, and why; empty where all was. Lengths in mm."""
    found = fit.in_service
    if found is None:
        return NOT_CHECKED
    unasked = _unasked(fit)
    words = [f"{', '.join(unasked)} (`service` in the profile does not ask for it)"] if unasked else []
    return f"in service: {'; '.join([*words, *found.open])}" if words or found.open else ""


def _unasked(fit: Fit) -> list[str]:
    """What the profile's `service` leaves out, each once; 'part of cornering' where it has another part of it."""
    left_out = () if fit.axle.service is None else fit.axle.service.left_out
    names = [name for name, key in KEYS.items() if key in left_out]
    cornering = "cornering" if set(CORNERING) <= set(names) else "part of cornering"
    return list(dict.fromkeys(cornering if name in CORNERING else WHAT[name] for name in names))


def service_words(fit: Fit, units: str) -> str:
    """The least clearance in service and what takes most of it, in words; empty where it was not looked at."""
    found = fit.in_service
    if found is None or found.worst is None:
        return ""
    gap = found.worst
    lead = "tight in service" if fit.is_tight_in_service else "in service"
    words = f"{lead}: {_left(gap, units)} ({gap.how}) at {pose_words(gap, units)}"
    words += f"; {length_text(gap.allowance, units)} required"
    told = [(name, takes) for name, takes in found.takes[:NAMED] if takes >= WORTH_TELLING]
    reasons = ", ".join(f"{WHAT[name]} {length_text(takes, units)}" for name, takes in told)
    return f"{words}. What takes most there, each alone: {reasons}" if reasons else words


def _left(gap: ServiceGap, units: str) -> str:
    if gap.clearance < 0:
        return f"{gap.part} overlaps {gap.obstacle} by {overlap_text(gap.clearance, units)}"
    return f"{gap.part} to {gap.obstacle}, {clearance_text(gap.clearance, units)}"


def _size(effects: Effects, name: str, units: str) -> str:
    """How large an effect is, the outer wheel's in a corner."""
    figure: Any = getattr(effects, name)
    if name == "growth":
        words = f"{figure[0]:.1f} mm a side, {figure[1]:.1f} mm in radius"
    elif name == "lateral":
        words = f"pushes the wheel {figure[0]:.1f} mm"
    elif name == "lean":
        words = f"leans the wheel {figure[0]:.1f} deg"
    elif name == "belt":
        words = f"shifts the tire's top {figure[0][0]:.1f} mm, its foot {3 * figure[0][0]:.1f} mm the other way"
    elif name == "fore_aft":
        words = f"moves the wheel {figure:.1f} mm fore or aft"
    elif name in ("toe", "rock"):
        words = f"turns the wheel {figure:.2f} deg"
    elif name == "bulge":
        words = f"{figure.side[0]:.1f} to {figure.side[-1]:.1f} mm a side"
    else:
        words = f"{figure:.1f} mm"
    return in_units(words, units)


def service_limit(fit: Fit, units: str) -> str:
    """What is tight in service, in a few words."""
    gap = None if fit.in_service is None else fit.in_service.worst
    return "" if gap is None else f"in service {_left(gap, units)}; {length_text(gap.allowance, units)} required"


def service_cell(fit: Fit, entry: Clearance, units: str) -> str:
    """The least clearance in service of an obstacle and part, for a table."""
    gap = None if fit.in_service is None else fit.in_service.of(entry.obstacle, entry.part)
    return "-" if gap is None else clearance_text(gap.clearance, units)


def is_short_in_service(fit: Fit, entry: Clearance) -> bool:
    """Whether an obstacle and part have less in service than is required."""
    gap = None if fit.in_service is None else fit.in_service.of(entry.obstacle, entry.part)
    return gap is not None and gap.margin < 0


def service_lines(fit: Fit, units: str) -> list[str]:
    """What was counted in service, by which figure, and what each part takes; nothing where it was not looked at."""
    found = fit.in_service
    if found is None:
        return []
    takes = dict(found.takes)
    rows = [("counted", "how much", "from", "takes there")]
    for name in found.effects.named:
        taken = length_text(takes[name], units) if name in takes else "-"
        rows.append((WHAT[name], _size(found.effects, name, units), _from(fit, name), taken))
    lines = ["In service", *([table(rows, left=3)] if len(rows) > 1 else [])]
    if found.worst is not None:
        at = f"{found.worst.part} to {found.worst.obstacle}, {pose_words(found.worst, units)}"
        lines.append(wrapped(f"there: {at}; each part alone, so that they do not add up", first="  ", rest="  "))
    lines += [wrapped(in_units(f"not computed: {words}", units), first="  ", rest="    ") for words in found.open]
    return [*lines, wrapped(BASIS, first="  ", rest="  ")]


def is_usual(fit: Fit, name: str) -> bool:
    """Whether an effect rests on a starting figure."""
    asked = fit.axle.service
    needs = {KEYS[name], *(("corner_g",) if name in CORNERING else ())}
    return asked is not None and not needs.isdisjoint(asked.usual)


def _from(fit: Fit, name: str) -> str:
    return "starting figure" if is_usual(fit, name) else "the profile"


def service_json(fit: Fit) -> dict[str, Any] | None:
    """What was counted in service, what it takes, and the least of every obstacle and part; None = not looked at."""
    found: InService | None = fit.in_service
    if found is None:
        return None
    takes = dict(found.takes)
    return {
        "tight": fit.is_tight_in_service,
        "counted": [
            {"effect": name, "figures": _figures_json(found.effects, name), "usual": is_usual(fit, name),
             "takes_mm": rounded(takes.get(name))}
            for name in found.effects.named
        ],
        "not_asked": _unasked(fit),
        "not_computed": list(found.open),
        "gaps": [_gap_json(gap) for gap in found.gaps],
    }  # fmt: skip


def _figures_json(effects: Effects, name: str) -> dict[str, float | None]:
    figure: Any = getattr(effects, name)
    if name == "growth":
        return {"side_mm": rounded(figure[0]), "radius_mm": rounded(figure[1])}
    if name == "belt":
        (outer, tilt), (inner, other) = figure
        return {"outer_mm": rounded(outer), "outer_deg": rounded(tilt), "inner_mm": rounded(inner),
                "inner_deg": rounded(other)}  # fmt: skip
    if name == "bulge":
        return {"rest_mm": rounded(figure.side[0]), "bump_mm": rounded(figure.side[-1])}
    unit = "deg" if name in ("lean", "toe", "rock") else "mm"
    if isinstance(figure, tuple):
        return {f"outer_{unit}": rounded(figure[0]), f"inner_{unit}": rounded(figure[1])}
    return {unit: rounded(figure)}


def _gap_json(gap: ServiceGap) -> dict[str, Any]:
    more = {} if gap.opposite is None else {"corner": gap.corner, "opposite_mm": rounded(gap.opposite)}
    return more | {
        "obstacle": gap.obstacle, "part": gap.part, "in_service_mm": rounded(gap.clearance),
        "clearance_mm": rounded(gap.ideal), "allowance_mm": rounded(gap.allowance), "travel_mm": rounded(gap.travel),
        "steer_deg": rounded(gap.steer, 6), "how": gap.how,
    }  # fmt: skip
