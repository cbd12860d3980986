"""The rows of a list as they would stand on the vehicle: setups and bolt-on checks, or why they need no geometry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal, NamedTuple

from fitment import profile as profiles
from fitment.checks.bolt_on import BoltOn, Known, bolt_on_checks
from fitment.checks.case import Ready, across_axles
from fitment.errors import CodeError, FitmentError
from fitment.parts.axle import Setup
from fitment.parts.sections import tire_section
from fitment.parts.tables import specified_rim_diameter
from fitment.parts.tire import SHOULDERS, Shoulder, Tire
from fitment.parts.wheel import Wheel, parse_wheel
from fitment.screening.candidates import REQUIRED, Candidate
from fitment.screening.keep_out import bare

ANY_WHEEL, ANY_TIRE = "17x8 ET0", "225/45R17"  # stand in for those of the row
YES_OR_NO = {"yes": True, "true": True, "no": False, "false": False}
FIRST = ("bolt circle", "centre bore")  # what settles a row without geometry, beside the rim diameter


class Mounted(NamedTuple):
    """A row on every axle: its setups and their bolt-on checks."""

    setups: tuple[Setup, ...]
    bolt_on: tuple[tuple[BoltOn, ...], ...]


class Settled(NamedTuple):
    """A row that needs no geometry, and why."""

    verdict: Literal["unreadable", "does_not_bolt_on"]
    reason: str


class Reader:
    """Reads candidates against the axles of a build; what many rows share is read once."""

    def __init__(self, axles: Sequence[Ready]) -> None:
        self._axles = axles
        self._wheels: dict[tuple[str, tuple[tuple[str, str], ...]], tuple[Wheel, int, int]] = {}
        self._tires: dict[tuple[str, str, str], Tire] = {}
        self._stands: dict[tuple[str, str], tuple[Setup, ...]] = {}
        self._rims: dict[Wheel, int] = {}
        self._bolts: dict[tuple[object, ...], int] = {}
        self._drawn: set[tuple[int, int]] = set()
        self._known: list[Known] = [{} for _ in axles]
        self._bolted: dict[tuple[int, int, int], tuple[tuple[tuple[BoltOn, ...], ...], bool]] = {}

    def read(self, candidate: Candidate) -> Mounted | Settled:
        """Setup and bolt-on checks on every axle, or what settles the row without geometry."""
        if candidate.problem:
            return Settled("unreadable", candidate.problem)
        try:
            (wheel, rim, bolts), tire = self._parts(candidate)
            if wheel.rim_diameter != tire.rim_code:
                words = f"the tire is for a {tire.rim_code:g} in rim, the wheel is {wheel.rim_diameter:g} in"
                return Settled("does_not_bolt_on", f"rim diameter: {words}")
            if (id(tire), rim) not in self._drawn:
                tire_section(tire, bare(wheel), largest=True)  # refuses what cannot be drawn
                self._drawn.add((id(tire), rim))
            stands = self.stand(candidate.get("spacer"), candidate.get("ride"))
            setups = tuple(Setup(wheel, tire, stand.spacer, stand.ride, stand.ride_name) for stand in stands)
            bolted, settled = self._bolt_on(setups, (bolts, id(tire), id(stands)))
        except FitmentError as error:
            return Settled("unreadable", f"{candidate.place}: {error}")
        if settled:
            return Settled("does_not_bolt_on", failures(bolted))
        return Mounted(setups, bolted)

    def _parts(self, candidate: Candidate) -> tuple[tuple[Wheel, int, int], Tire]:
        """The wheel with numbers of its rim and of what it bolts on with, and the tire."""
        texts = [candidate.get(name) for name in REQUIRED]
        for name, text in zip(REQUIRED, texts, strict=True):
            if not text:
                raise FitmentError(f"the {name} is missing")
        (spec, code), beside = texts, candidate.beside
        told = code, candidate.get("shoulder").lower(), candidate.get("rim_protector").lower()
        key = (spec, beside)
        if key not in self._wheels:
            wheel = parse_wheel(spec, beside=beside)
            rim = self._rims.setdefault(bare(wheel), len(self._rims))
            bolts = self._bolts.setdefault(self._bolted_by(wheel), len(self._bolts))
            self._wheels[key] = wheel, rim, bolts
        if told not in self._tires:
            self._tires[told] = _as_told(profiles.tire_as_sold(self._axles[0].profile, code), *told[1:])
        return self._wheels[key], self._tires[told]

    def _bolted_by(self, wheel: Wheel) -> tuple[object, ...]:
        """All of a wheel that a bolt-on check may look at: not its spec, and its offset only if a brake stands so high
        that the place of the rim decides."""
        seat = specified_rim_diameter(wheel.rim_diameter) / 2
        high = any(ready.axle.brake is not None and ready.axle.brake.reach >= seat for ready in self._axles)
        return tuple(value for name, value in vars(wheel).items() if name != "spec" and (high or name != "offset"))

    def stand(self, spacer: str = "", ride: str = "") -> tuple[Setup, ...]:
        """Each axle's spacer and ride height as a row gives them; wheel and tire are the row's own."""
        if (spacer, ride) not in self._stands:
            self._stands[spacer, ride] = tuple(
                profiles.setup(
                    ready.profile, ready.axle.name, ready.build,
                    wheel=ANY_WHEEL, tire=ANY_TIRE, spacer=spacer or None, ride=ride or None,
                )
                for ready in self._axles
            )  # fmt: skip
        return self._stands[spacer, ride]

    def _bolt_on(
        self, setups: Sequence[Setup], key: tuple[int, int, int]
    ) -> tuple[tuple[tuple[BoltOn, ...], ...], bool]:
        """The bolt-on checks of every axle, and whether they settle the row.

        key : wheel, tire and the rest
        """
        if key not in self._bolted:
            bolted = tuple(
                (*bolt_on_checks(ready.axle, setup, known), *across_axles(ready, setup, other))
                for ready, setup, other, known in zip(self._axles, setups, _others(setups), self._known, strict=True)
            )
            failed = any(check.status == "fail" and check.item in FIRST for checks in bolted for check in checks)
            self._bolted[key] = bolted, failed
        return self._bolted[key]


def _as_told(tire: Tire, shoulder: str, protector: str) -> Tire:
    """The tire with what columns of a list tell of its shape, empty where they do not. Raises CodeError."""
    if shoulder and shoulder not in SHOULDERS:
        raise CodeError(f"shoulder {shoulder} is not known; write {', '.join(SHOULDERS)}, or leave it empty.")
    if protector and protector not in YES_OR_NO:
        raise CodeError(f"rim_protector {protector} is not known; write yes or no, or leave it empty.")
    word: Shoulder | None = next((each for each in SHOULDERS if each == shoulder), None)
    return replace(tire, shoulder=word, rim_protector=YES_OR_NO.get(protector))


def _others(setups: Sequence[Setup]) -> tuple[Setup | None, ...]:
    """What stands on the other axle when a row goes on both."""
    return tuple(reversed(setups)) if len(setups) > 1 else (None,)


def failures(bolted: Sequence[Sequence[BoltOn]]) -> str:
    """What the first axle that fails says, or an empty text."""
    for checks in bolted:
        failed = [f"{check.item}: {check.detail}" for check in checks if check.status == "fail"]
        if failed:
            return "; ".join(failed)
    return ""
