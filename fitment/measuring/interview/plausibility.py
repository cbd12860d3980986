"""What is said of an answer beside its form: what cannot be, and what is unlikely."""

from __future__ import annotations

from typing import Any

from fitment.errors import FitmentError
from fitment.measuring.first_profile import lock_of
from fitment.measuring.interview.draft import At, Draft
from fitment.measuring.interview.walk import SKIP, Asked
from fitment.parts.tire import overall_diameter
from fitment.parts.tire_code import parse_tire
from fitment.parts.wheel import parse_wheel
from fitment.units import length_text, to_mm


def needed(asked: Asked) -> str:
    """What to say of an answer that is missing."""
    if asked.item is not None and asked.item > 0:
        return f"at least {asked.least} are needed; this is number {asked.item + 1}."
    return "this one is needed. Type quit to stop here and go on later."


def check_name(asked: Asked, given: Any, draft: Draft) -> None:
    """Names tell things apart. Raises FitmentError."""
    question = asked.question
    if asked.stays is not None and given == asked.stays:
        return
    if question.sets == "build" and given in (draft.get(("builds",)) or {}):
        raise FitmentError(f'there is a build "{given}" already; give another name.')
    if asked.at and asked.at[-1] == "name" and len(asked.at) > 2:
        others = [] if question.over and asked.at[-2] == 0 else draft.get(asked.at[:-2]) or []
        if given in [other.get("name") for other in others]:
            raise FitmentError(f'there is a part "{given}" already; give another name.')
    if question.form == "named" and asked.stays is None:
        ((name, _),) = given.items()
        if name in (draft.get(asked.at) or {}):
            raise FitmentError(f'there is a ride height "{name}" already; give another name.')


def check_skipped(asked: Asked, draft: Draft) -> None:
    """A wanted wheel that the tire on the vehicle does not fit. Raises FitmentError."""
    if draft.look and asked.question.form == "tire":
        _check_rim(draft, asked.at[:-2], draft.get(("builds", draft.facts["now"], asked.at[2], "tire", "code")))


def _check_rim(draft: Draft, at: At, code: str) -> None:
    """A tire for another rim than the wheel's. Raises FitmentError."""
    spec = draft.get((*at, "wheel", "spec"))
    if draft.look:
        spec = spec or draft.get(("builds", draft.facts["now"], at[2], "wheel", "spec"))
    wheel, tire = parse_wheel(spec) if spec else None, parse_tire(code)
    if wheel and wheel.rim_diameter != tire.rim_code:
        raise FitmentError(
            f"the tire is for a {tire.rim_code:g} in rim, the wheel is {wheel.rim_diameter:g} in; read both again "
            "(back leads to the wheel)."
        )


def check_setup(asked: Asked, given: Any, draft: Draft) -> None:
    """A tire on a wheel of another diameter, and a baseline that stands not as measured. Raises FitmentError."""
    at = asked.at
    if asked.question.form == "tire":
        _check_rim(draft, at[:-2], given)
    if asked.question.form == "twice":
        lock_of(given, draft.get(("builds", draft.facts["now"], asked.axle)))
    if asked.question.form == "ride" and at[1] == draft.facts.get("now"):
        heights = draft.get(("axles", at[2], "ride_heights")) or {}
        travel = _plain_mm(heights.get(given, given) if isinstance(given, str) else given)
        if abs(travel) > 0.01:
            raise FitmentError(
                f"that is travel {travel:g} mm, and as measured is 0: every height counts from how it stands now. "
                "Name the one with 0, or skip; back leads to the heights."
            )


def _plain_mm(given: Any) -> float:
    return to_mm(given["value"] if isinstance(given, dict) else given)


def second_thoughts(asked: Asked, given: Any, draft: Draft, units: str) -> list[str]:
    """What is possible but unlikely."""
    thoughts = []
    if asked.at and asked.at[-1] == "hub_height" and given is not SKIP:
        code = draft.get(("builds", draft.facts["now"], asked.at[1], "tire", "code"))
        if code is None:
            return []
        across = draft.get(("builds", draft.facts["now"], asked.at[1], "tire", "overall_diameter"))
        free = (_plain_mm(across) if across is not None else overall_diameter(parse_tire(code))) / 2
        height = _plain_mm(given)
        if height > free:
            thoughts.append(
                f"that is more than the tire has from centre to tread ({length_text(free, units)}); under load it has "
                "less. Was it measured on the ground, with this tire? Type back to change it."
            )
        elif height < 0.85 * free:
            thoughts.append(
                f"that presses the tire in by {length_text(free - height, units)} (without load it has "
                f"{length_text(free, units)} from centre to tread). Was this tire on, and inflated? Type back to "
                "change it."
            )
    return thoughts
