"""The whole profile."""

from typing import Annotated, Self

from pydantic import (
    Field,
    model_validator,
)

from fitment.parts.axle import VEHICLE_CLASSES
from fitment.parts.tire import MARKETS
from fitment.profile.schema.axle import AxlePart
from fitment.profile.schema.base import Name, Part, optional
from fitment.profile.schema.builds import BuildPart
from fitment.profile.values import (
    FormatRule,
    Length,
    LengthRule,
    NumberRule,
    Problem,
    RefusedError,
    TextRule,
    WordRule,
    refused,
    unknown_word,
)
from fitment.units import UNITS

MOST_BUILDS = 200


class AxlesPart(Part):
    front: AxlePart | None = optional("the front axle")
    rear: AxlePart | None = optional("the rear axle")

    @model_validator(mode="after")
    def _some(self) -> Self:
        if self.front is None and self.rear is None:
            raise refused("no axle; give front, rear or both.")
        return self


class ProfileModel(Part):
    format: Annotated[int, FormatRule()] = Field(description="number of the profile format: 1")
    name: Name = Field(description="what the vehicle is called")
    note: Annotated[str, TextRule(20_000, lines=True)] = Field("", description="free text")
    units: Annotated[str | None, WordRule(UNITS)] = optional("mm or in: of text, pictures and questions by default")
    wheelbase: Annotated[Length | None, LengthRule(1000, 9000)] = optional("axle to axle [mm]")
    vehicle_class: Annotated[str | None, WordRule(VEHICLE_CLASSES)] = optional(
        "passenger_car or light_truck; decides what a passenger tire may carry"
    )
    market: Annotated[str | None, WordRule(MARKETS)] = optional(
        "un or us: whose limit of the largest section width counts, un if not given; the US one is looser"
    )
    diameter_tolerance: Annotated[float | None, NumberRule(0, 20, "%")] = optional(
        "what the vehicle's maker permits between front and rear overall diameter [%]"
    )
    axles: AxlesPart = Field(description="the axles, measured with the baseline build on the vehicle")
    builds: dict[Name, BuildPart] = Field(max_length=MOST_BUILDS, description="named states of the vehicle")
    baseline: Name = Field(description="the build that was on the vehicle when it was measured")

    @model_validator(mode="after")
    def _sound(self) -> Self:
        problems = []
        if not self.builds:
            problems.append(Problem(("builds",), "no build; give at least the one that was measured."))
        elif self.baseline not in self.builds:
            text = f'"{self.baseline}" is not a build.{unknown_word(self.baseline, tuple(self.builds))}'
            problems.append(Problem(("baseline",), text))
        for name, build in self.builds.items():
            problems += [
                Problem(("builds", name, axle), f"the profile has no {axle} axle; describe it under axles.")
                for axle in ("front", "rear")
                if getattr(build, axle) is not None and getattr(self.axles, axle) is None
            ]
        if problems:
            raise RefusedError(*problems)
        return self
