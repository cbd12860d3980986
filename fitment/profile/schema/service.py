"""What a profile asks to be counted in service: a number sets a part, `usual` takes the starting figure."""

from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import Field

from fitment.errors import shown
from fitment.profile.schema.base import Before, Part
from fitment.profile.values import NumberRule, Rule, read_plain, refused

USUAL, NONE = "usual", "none"
Given = float | str | None
"""A number in its unit, `usual`, or `none`."""


@dataclass(frozen=True)
class OrUsual(Rule):
    """A number within a plausible range, `usual` for the starting figure where there is one, or `none`."""

    low: float
    high: float
    unit: str
    is_usual_known: bool = True

    @property
    def words(self) -> list[str]:
        """Words that stand for a number."""
        return [USUAL, NONE] if self.is_usual_known else [NONE]

    def read(self, given: Any) -> float | str:
        if given in self.words:
            return str(given)
        if self.unit != "mm":
            return NumberRule(self.low, self.high, self.unit).read(given)
        number = read_plain(given, "{key}", "mm")
        if not self.low <= number <= self.high:
            raise refused(
                f"{number:.10g} mm is not a plausible {{key}} ({self.low:g} to {self.high:g} mm); give a number, or "
                f"{' or '.join(f'`{word}`' for word in self.words)}."
            )
        return number

    def schema(self) -> dict[str, Any]:
        number = {"type": ["number", "string"], "minimum": self.low, "maximum": self.high}
        return {"anyOf": [{"enum": self.words}, number if self.unit == "mm" else number | {"type": "number"}]}


def _key(description: str) -> Any:
    return Field(None, description=description)


def _all_usual(keys: tuple[str, ...]) -> Before:
    """Lets one word stand for a whole map: `usual` in each of these keys, or in none."""

    def turn(given: Any) -> Any:
        if isinstance(given, str | bool) and given not in (USUAL, NONE):
            raise refused(f"{shown(given)} is neither {USUAL} nor {NONE} nor a map of {', '.join(keys)}.")
        return dict.fromkeys(keys, given) if given in (USUAL, NONE) else given

    return Before(turn, {"enum": [USUAL, NONE]})


class PlayPart(Part):
    camber: Annotated[Given, OrUsual(0, 2, "deg/kN")] = _key("camber by side force at the contact patch [deg/kN]")
    lateral: Annotated[Given, OrUsual(0, 5, "mm/kN")] = _key("wheel centre sideways by side force [mm/kN]")
    fore_aft: Annotated[Given, OrUsual(0, 40, "mm")] = _key("wheel centre rearward in hard braking [mm]")
    toe: Annotated[Given, OrUsual(0, 3, "deg")] = _key("toe in braking and cornering, either way [deg]")
    rock: Annotated[Given, OrUsual(0, 30, "mm", is_usual_known=False)] = _key(
        "how far the tire's top moves in and out altogether, rocked by a pry bar [mm]"
    )


class ServicePart(Part):
    speed: Annotated[float | None, NumberRule(20, 500, "km/h")] = _key(
        "at which the tire grows [km/h]; the axle's top_speed if not given"
    )
    growth: Annotated[Given, OrUsual(0, 40, "mm")] = _key("of the tire by use and speed, all round [mm]")
    corner_g: Annotated[Given, OrUsual(0, 2.5, "g")] = _key("sideways acceleration in corners [g]")
    sidewall_stiffness: Annotated[Given, OrUsual(30, 2000, "N/mm")] = _key(
        "side force at the contact patch over how far it moves against the rim [N/mm]"
    )
    bulge: Annotated[Given, OrUsual(0, 60, "mm")] = _key("of each sidewall over the contact patch at rest [mm]")
    play: Annotated[PlayPart | None, _all_usual(("camber", "lateral", "fore_aft", "toe"))] = _key(
        "how far the wheel gives way in bushings and bearings"
    )
    runout: Annotated[Given, OrUsual(0, 10, "mm")] = _key("of rim and tire, each way [mm]")
    weights: Annotated[Given, OrUsual(0, 20, "mm")] = _key("balance weights inside the barrel [mm]")
    chains: Annotated[Given, OrUsual(0, 60, "mm")] = _key("snow chains on the tire [mm]")


OR_USUAL = _all_usual(("growth", "corner_g", "sidewall_stiffness", "bulge", "play", "runout", "weights"))
