"""What a bolt-on check answers with, and what all of them share."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from dataclasses import dataclass
from typing import Literal

from fitment.parts.axle import Axle, Setup
from fitment.parts.hub import Adapter, BoltCircle

ASK_SELLER = "ask the seller"  # in the words of a check which the seller's answer settles
Status = Literal["ok", "caution", "fail", "not_checked"]
CENTRED = 0.3  # [mm] largest difference of diameters that still centres a part; common practice, no published source
Numbers = tuple[tuple[str, float], ...]


@dataclass(frozen=True)
class BoltOn:
    """One check: what, how it came out, and why.

    numbers : (name with its unit, value) of what was compared [unit of the name]
    """

    item: str
    status: Status
    detail: str
    numbers: Numbers = ()

    @property
    def asks_seller(self) -> bool:
        """Whether it is open until whoever sells the wheel has answered."""
        return self.status == "not_checked" and ASK_SELLER in self.detail


@dataclass(frozen=True)
class Check:
    """One group of checks.

    find : its answers for a setup on an axle
    key : all that they depend on beside the axle, so that setups of one key share them
    """

    name: str
    find: Callable[[Axle, Setup], Iterable[BoltOn]]
    key: Callable[[Axle, Setup], Hashable]


def numbers(**values: float | None) -> Numbers:
    """Names and values, those that are not known left out, to a tenth of a micrometre [unit of the name].

    values : by a name that ends in its unit [unit of the name]
    Source: derived here, rounded.
    """
    return tuple((name, round(float(value), 4) + 0.0) for name, value in values.items() if value is not None)


def over(one: float, other: float) -> float:
    """By how much one length is larger than another [mm]; 67.4 is 0.3 over 67.1, not 0.30000000000001.

    one, other : [mm]
    Source: derived here, their difference.
    """
    return round(one - other, 6)


def rounded(value: float) -> str:
    """Three digits, never as a power of ten.

    value : in any unit [-]
    >>> rounded(14300.4), rounded(0.0512), rounded(189.6)
    ('14300', '0.0512', '190')
    """
    shown = float(f"{value:.3g}")
    return f"{shown:.0f}" if abs(shown) >= 100 else f"{shown:g}"


def hundredths(value: float) -> str:
    """A length to a hundredth, with one digit at least.

    value : [mm]
    >>> hundredths(1.05), hundredths(1.0), hundredths(13.7)
    ('1.05', '1.0', '13.7')
    """
    text = f"{value:.2f}"
    return text.removesuffix("0")


def adapter_of(setup: Setup) -> Adapter | None:
    """The adapter, when the wheel bolts to one; None for a plain spacer or none."""
    adapter = setup.spacer.adapter
    return adapter if adapter is not None and adapter.has_studs else None


def offered_circle(axle: Axle, setup: Setup) -> tuple[BoltCircle | None, str]:
    """The circle that the wheel goes on, and whose it is."""
    adapter = adapter_of(setup)
    if adapter is not None:
        return adapter.bolt_circle, "adapter"
    return (axle.hub.bolt_circle if axle.hub else None), "hub"
