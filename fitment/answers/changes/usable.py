"""How usable a change is for whoever builds the vehicle, and in which order changes are told.

The limits are common practice with no published source: they order suggestions and say why, and judge no fit.
"""

from __future__ import annotations

from collections.abc import Mapping

from fitment.answers.changes.record import Change, Kind, Use

USABLE_BUMP = 40  # [mm] bump travel from rest below which a vehicle hits its stops all the time
ROLLED = 25.0  # [mm] further than an edge is rolled or a liner trimmed
LOWER = 5.0  # [%] of the overall diameter, beyond which gearing, speedometer and height change much
WIDER = 15.0  # [%] of the turning circle
CAMBER = 3.0  # [deg] either way, beyond which a tire wears on one edge

# what is done to a vehicle with least effort first
EFFORT: tuple[Kind, ...] = (
    "offset", "tire", "spacer", "camber", "ride", "part", "parts_together", "steering_stop", "bump_stop",
)  # fmt: skip
USES: tuple[Use, ...] = ("usable", "hard", "not_usable")


def usability(
    kind: Kind, by: float | None, effects: Mapping[str, float | str], failed: str, present: float | str = ""
) -> tuple[Use, str]:
    """How usable a change is, and why where it is not plainly so; lengths in mm.

    by : how far from what the build has [mm, or deg]; failed : bolt-on checks that then fail
    effects : what comes with it [unit of the name]
    present : what the build has [mm, or deg]
    Source: common practice, no published source.
    """

    def of(name: str) -> float:
        return float(effects.get(name, 0.0))

    left = of("bump_from_rest_mm")
    if kind == "bump_stop" and left < USABLE_BUMP:
        return "not_usable", f"leaves {left:g} mm of bump travel from rest"
    reasons = []
    if failed:
        reasons.append("does not bolt on without other parts")
    if kind.startswith("part") and by is not None and abs(by) > ROLLED:
        reasons.append(f"{abs(by):g} mm is further than an edge is rolled or trimmed")
    if of("overall_diameter_change_percent") < -LOWER:
        reasons.append(f"the tire is {-of('overall_diameter_change_percent'):.0f} % lower")
    if of("turning_circle_change_percent") > WIDER:
        reasons.append(f"the turning circle is {of('turning_circle_change_percent'):.0f} % wider")
    if kind == "camber" and by is not None and not isinstance(present, str) and abs(present + by) > CAMBER:
        reasons.append("so much camber wears one edge of the tire")
    return ("hard" if reasons else "usable"), ", ".join(reasons)


def least_usable(found: list[Change]) -> tuple[Use, str]:
    """Of changes that are made together, the use of the one that is the least usable."""
    worst = max(found, key=lambda each: USES.index(each.use))
    return worst.use, worst.use_why


def in_order(found: list[Change]) -> tuple[Change, ...]:
    """What keeps every clearance first, then what ends the contact, then what helps with a part; of each the usable
    before the hard, and the least effort first. What is not usable comes behind these, what does not help last."""

    def place(change: Change) -> tuple[int, int, int]:
        reached = {"clears": 0, "no_contact": 1, "this_part": 2, "nothing": 4}[change.achieves]
        if change.kind == "parts_together":
            reached = 2
        if change.use == "not_usable":
            reached = 3
        return reached, USES.index(change.use), EFFORT.index(change.kind)

    return tuple(sorted(found, key=place))
