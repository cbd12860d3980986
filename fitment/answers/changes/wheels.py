"""Offset and spacer: the wheel moved along its spin axis."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import replace

from fitment.answers.changes.ask import Ask
from fitment.answers.changes.looks import bounded, looked_up
from fitment.answers.changes.search import Lever
from fitment.answers.changes.trials import Bench, Trial
from fitment.answers.changes.words import Effects, moved
from fitment.checks.case import Case
from fitment.parts.axle import Setup
from fitment.parts.wheel import OFFSET, Wheel, backspacing, parse_wheel

FARTHEST = 60  # [mm] how far the wheel is moved; common practice, no published source
LEAST_ADAPTER = 15  # [mm] thinnest adapter that holds studs of its own; common practice, no published source
OFFSET_CAUTION = (
    "That is another wheel. Its spokes, barrel and pad are assumed to be like those of the present wheel. Ask the "
    "seller for the back of its spokes and its load rating. Local rules may limit the change of track."
)
SPACER_CAUTION = (
    "A spacer takes its thickness from the studs: count the turns of the nuts, and have longer studs, or an adapter "
    "with studs of its own, where they are too short. Use one with a register that centres hub and wheel. Take the "
    "next thickness that is made and check it. Spacers are not allowed everywhere: ask first."
)


def offset_asks(bench: Bench) -> list[Ask]:
    """A wheel of more offset, further in, and one of less, further out."""
    now = bench.base.setup.wheel.offset
    inward = [float(x) for x in range(math.floor(now) + 1, math.floor(now + FARTHEST) + 1) if x <= OFFSET[1]]
    outward = [float(x) for x in range(math.ceil(now) - 1, math.ceil(now - FARTHEST) - 1, -1) if x >= OFFSET[0]]
    return [_offset_ask(bench, inward, "more", "in"), _offset_ask(bench, outward, "less", "out")]


def _offset_ask(bench: Bench, values: Sequence[float], more: str, way: str) -> Ask:
    now = bench.base.setup.wheel.offset
    lever = _sideways(bench, values, now, _offset_by)

    def effects(_i: int, case: Case) -> Effects:
        return _effects(bench, case) | {"backspacing_mm": backspacing(case.fit.setup.wheel)}

    return Ask(
        "offset",
        lever,
        sought=f"{more} offset, the wheel further {way}",
        searched=f"{_et(values[0])} to {_et(values[-1])}" if values else "nothing is left",
        unit="mm",
        present=now,
        name=lambda i: _et(values[i]),
        what=lambda i: f"{_et(values[i])} instead of {_et(now)}: the wheel {abs(values[i] - now):g} mm further {way}",
        effects=effects,
        apply=lambda i: _wheel_option(lever.trial(i).setup.wheel),
        caution=OFFSET_CAUTION,
    )


def spacer_asks(bench: Bench) -> list[Ask]:
    """A spacer, or a thicker one; and a thinner one or none where there is one."""
    now = bench.base.setup.spacer.thickness
    thicker = [float(x) for x in range(math.floor(now) + 1, math.floor(now + FARTHEST) + 1)]
    least = 0 if bench.base.setup.spacer.adapter is None else LEAST_ADAPTER
    thinner = [float(x) for x in range(math.ceil(now) - 1, least - 1, -1)]
    asks = [_spacer_ask(bench, thicker, "a thicker spacer" if now else "a spacer", "out")]
    return [*asks, _spacer_ask(bench, thinner, "a thinner spacer or none", "in")] if thinner else asks


def _spacer_ask(bench: Bench, values: Sequence[float], sought: str, way: str) -> Ask:
    base, now = bench.base, bench.base.setup.spacer.thickness
    instead = f" instead of {now:g} mm" if now else ""

    return Ask(
        "spacer",
        _sideways(bench, values, now, _spacer_by),
        sought=f"{sought}, the wheel further {way}",
        searched=f"{values[0]:g} to {values[-1]:g} mm",
        unit="mm",
        present=now,
        name=lambda i: f"{values[i]:g} mm",
        what=lambda i: (
            f"a spacer of {values[i]:g} mm{instead}: the wheel {abs(values[i] - now):g} mm further {way}"
            if values[i]
            else f"no spacer{instead}: the wheel {now:g} mm further in"
        ),
        effects=lambda _i, case: _effects(bench, case),
        apply=lambda i: (
            {"--spacer": values[i]} if base.setup.spacer.adapter is None else {"spacer.thickness": values[i]}
        ),
        caution=SPACER_CAUTION if way == "out" else "",
    )


def _sideways(bench: Bench, values: Sequence[float], now: float, moved_by: Callable[[Setup, float], Setup]) -> Lever:
    """Offsets or spacers on this wheel and on the others that the axle has."""
    base = bench.base

    def trial(i: int) -> Trial:
        by = values[i] - now
        others = tuple(moved_by(other, by) for other in base.others)
        return replace(base, setup=moved_by(base.setup, by), others=others)

    def setup(i: int) -> Setup:
        return trial(i).setup

    look, bound = looked_up(bench, setup, len(values)), bounded(bench, setup)
    return Lever(values, trial, look, shift=lambda i: abs(values[i] - now), bound=bound)


def _effects(bench: Bench, case: Case) -> Effects:
    effects = moved(bench.stance, bench.stance_of(case), "track", "scrub_radius", "tire_outer")
    return effects if case.stance.scrub_radius is None else effects | {"scrub_radius_mm": case.stance.scrub_radius}


def _offset_by(setup: Setup, by: float) -> Setup:
    wheel = setup.wheel
    offset = round(wheel.offset + by, 6)
    changed = replace(wheel, offset=offset)
    spec = re.sub(r"\bET-?\d+(?:\.\d+)?", _et(offset), wheel.spec)
    spec = re.sub(r"\bBS -?\d+(?:\.\d+)?mm", f"BS {round(backspacing(changed), 4):g}mm", spec)
    return replace(setup, wheel=replace(changed, spec=spec))


def _spacer_by(setup: Setup, by: float) -> Setup:
    return replace(setup, spacer=replace(setup.spacer, thickness=round(setup.spacer.thickness + by, 6)))


def _et(offset: float) -> str:
    return f"ET{round(offset, 4):g}"


def _wheel_option(wheel: Wheel) -> dict[str, object]:
    """The option that gives the wheel; what its spec does not tell needs the profile."""
    if parse_wheel(wheel.spec) == wheel:
        return {"--wheel": wheel.spec}
    return {"wheel.offset": wheel.offset}
