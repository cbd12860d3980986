"""A narrower or lower tire on the same wheel, by the steps in which sizes are made.

Section widths step by 10 mm and end in 5, aspect ratios step by 5; flotation sizes step by an inch in width and in
diameter. Common practice, from memory: whether a size is made, and for what load, no table here tells.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from fitment.answers.changes.ask import Ask, answered
from fitment.answers.changes.looks import bounded, looked_up
from fitment.answers.changes.record import Change
from fitment.answers.changes.search import Lever
from fitment.answers.changes.trials import Bench, Trial
from fitment.answers.changes.words import Effects, moved
from fitment.checks.bolt_on.load_speed_rim import ON_TRUCK, PASSENGER
from fitment.checks.case import Case
from fitment.errors import CodeError
from fitment.parts.axle import Axle, Setup
from fitment.parts.sections import tire_section
from fitment.parts.tables import load_capacities
from fitment.parts.tire import Tire, overall_diameter, rim_range
from fitment.parts.tire_code import parse_tire
from fitment.units import MM_PER_INCH

LEAST_WIDTH, LEAST_ASPECT, MOST_ASPECT = 145, 25, 85  # [mm], [%]
ALIKE = 0.03  # share by which a diameter may be smaller and still be called about the same
LOWEST = 0.10  # share of the diameter that a tire is lower at most
CAUTION = (
    "A size by the usual steps of width and aspect: ask whether it is made, and take load index, speed symbol and "
    "approved rim widths from its maker. The speedometer follows the diameter."
)


@dataclass(frozen=True)
class SmallerTire:
    """A tire that could be mounted instead.

    narrower, lower : by how much its width and its diameter are smaller [mm]
    """

    tire: Tire
    narrower: float
    lower: float


def tire_changes(bench: Bench) -> list[Change]:
    """A narrower tire of about the same diameter, a lower one of the same width; else one that is both."""
    first, last = tire_asks(bench)
    changes = [answered(bench, ask) for ask in first]
    if not any(change.achieves == "clears" for change in changes):
        changes.append(answered(bench, last))
    useful = [change for change in changes if change.achieves == "clears"]
    useful = useful or [change for change in changes if change.achieves != "nothing"][:1]
    return useful or [
        replace(changes[-1], what="a narrower or lower tire", checked=sum(change.checked for change in changes))
    ]


def tire_asks(bench: Bench) -> tuple[list[Ask], Ask]:
    """A narrower tire of about the same diameter, a lower one of the same width; and one that is both."""
    sizes = sizes_for(bench.base.setup)
    alike = ALIKE * overall_diameter(bench.base.setup.tire)
    narrower: dict[float, SmallerTire] = {}
    for size in sizes:  # of each width the diameter nearest to the present one
        if size.narrower > 0 and size.lower <= alike:
            narrower.setdefault(size.narrower, size)
    lower = [s for s in sizes if s.narrower == 0]
    both = sorted((s for s in sizes if s.narrower > 0 and s.lower > 0), key=lambda s: (s.narrower + s.lower, s.lower))
    first = [
        _ask(bench, list(narrower.values()), "a narrower tire of about the same diameter"),
        _ask(bench, lower, "a lower tire of the same width"),
    ]
    return first, _ask(bench, both, "a tire both narrower and lower")


@lru_cache(maxsize=32)
def sizes_for(setup: Setup) -> tuple[SmallerTire, ...]:
    """Sizes not wider nor taller that suit the wheel, nearest width first, then nearest diameter.

    Source: common practice, see the top of the module.
    """
    return tuple(_sizes(setup))


def _sizes(setup: Setup) -> Iterator[SmallerTire]:
    now, rim = setup.tire, setup.wheel.rim_width
    sizes = []
    for code in dict.fromkeys(_codes(now)):
        try:
            tire = replace(parse_tire(code), market=now.market)
            narrower, lower = now.nominal_width - tire.nominal_width, overall_diameter(now) - overall_diameter(tire)
            suits = rim_range(tire)[0] <= rim <= rim_range(tire)[1]
            if suits and narrower >= 0 and 0 <= lower <= LOWEST * overall_diameter(now) and narrower + lower > 0:
                tire_section(tire, setup.wheel)  # refuses what cannot be drawn
                sizes.append(SmallerTire(tire, round(narrower, 3), round(lower, 3)))
        except CodeError:
            continue
    yield from sorted(sizes, key=lambda s: (s.narrower, s.lower))


def _codes(tire: Tire) -> Iterator[str]:
    marks = f"{' M+S' if tire.snow else ''}{' POR' if tire.special_use else ''}"
    kind = "R" if tire.radial else "D"
    if tire.flotation_diameter is not None:
        tall, wide = tire.flotation_diameter, tire.nominal_width / MM_PER_INCH
        for less in range(4):
            for shorter in range(8):
                letters = "LT" if tire.code.split()[0].endswith("LT") else ""
                yield f"{tall - shorter:g}x{wide - less:.2f}{kind}{tire.rim_code:g}{letters}{marks}"
        return
    lead = {"P": "P", "LT": "LT"}.get(tire.family, "")  # of an HL size the plain one
    tail = "C" if tire.family == "C" else ""
    width = tire.nominal_width
    while width >= LEAST_WIDTH:
        aspects = range(LEAST_ASPECT, MOST_ASPECT + 1, 5)
        yield from (f"{lead}{width:g}/{aspect}{kind}{tire.rim_code:g}{tail}{marks}" for aspect in aspects)
        width -= 10


def _ask(bench: Bench, sizes: Sequence[SmallerTire], sought: str) -> Ask:
    base = bench.base
    codes = [size.tire.code for size in sizes]

    def trial(i: int) -> Trial:
        tire = sizes[i].tire
        others = tuple(replace(other, tire=tire) for other in base.others)
        return replace(base, setup=replace(base.setup, tire=tire), others=others)

    def setup(i: int) -> Setup:
        return trial(i).setup

    return Ask(
        "tire",
        Lever(codes, trial, looked_up(bench, setup, len(codes)), bound=bounded(bench, setup)),
        sought=sought,
        searched=_searched(codes, base.setup),
        unit="",
        present=base.setup.tire.code,
        name=lambda i: codes[i],
        what=lambda i: f"{codes[i]} instead of {base.setup.tire.code}: {sought}",
        effects=lambda _i, case: _effects(bench, case),
        apply=lambda i: {"--tire": codes[i]},
        caution=CAUTION,
    )


def _searched(codes: Sequence[str], setup: Setup) -> str:
    if not codes:
        return f"no usual size of this kind suits a {setup.wheel.rim_width:g} in rim"
    listed = ", ".join(codes) if len(codes) <= 6 else f"{len(codes)} usual sizes from {codes[0]} to {codes[-1]}"
    return f"{listed} (those that suit a {setup.wheel.rim_width:g} in rim and are at most {LOWEST:.0%} lower)"


def _effects(bench: Bench, case: Case) -> Effects:
    before, after = bench.stance, bench.stance_of(case)
    effects = moved(before, after, "overall_diameter", "section_width", "hub_height", "scrub_radius")
    effects["overall_diameter_change_percent"] = 100 * (after.overall_diameter / before.overall_diameter - 1)
    needed = load_index_needed(case.fit.axle, case.fit.setup.tire)
    if needed is not None:
        effects["load_index_needed"] = needed
    now = bench.base.setup.tire.load_index
    if now is not None:
        effects["load_index_now"] = now
    return effects


def load_index_needed(axle: Axle, tire: Tire) -> int | None:
    """Least load index with which two tires carry the axle load; None where it is not known or no index does."""
    if axle.axle_load is None:
        return None
    counts = ON_TRUCK if tire.family in PASSENGER and axle.vehicle_class == "light_truck" else 1.0
    fitting = [(kg, index) for index, kg in load_capacities().items() if 2 * kg / counts >= axle.axle_load]
    return min(fitting)[1] if fitting else None
