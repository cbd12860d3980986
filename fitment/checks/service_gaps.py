"""What a setup has left in service, as a check tells it."""

from __future__ import annotations

from dataclasses import dataclass

from fitment.checks.service_effects import Effects
from fitment.checks.told_first import urgency
from fitment.parts.obstacles import Part


@dataclass(frozen=True)
class ServiceGap:
    """The least clearance of one obstacle and part in service.

    clearance, allowance : [mm]; ideal : the clearance of the ideal solid in that pose [mm]
    travel : [mm]; steer : [deg]; opposite : travel of the opposite wheel where it matters [mm]
    how : how the vehicle goes then
    """

    obstacle: str
    part: Part
    clearance: float
    allowance: float
    ideal: float
    travel: float
    steer: float
    corner: str
    opposite: float | None
    how: str

    @property
    def margin(self) -> float:
        """Clearance less the allowance [mm]."""
        return self.clearance - self.allowance

    @property
    def urgency(self) -> tuple[bool, float]:
        """Least comes first [-, mm], as of an `Approach`."""
        return urgency(self.clearance, self.margin)


@dataclass(frozen=True)
class InService:
    """What a setup has left in service.

    effects : what was counted; open : what could not be, a line each
    gaps : of every obstacle and part the least, overlaps first, then the smallest margin
    takes : (effect, by how much it alone narrows the first of them there [mm]), the largest first
    entries : of each clearance of the fit the same in that pose [mm], None where it cannot be the least of its part
    """

    effects: Effects
    open: tuple[str, ...]
    gaps: tuple[ServiceGap, ...]
    takes: tuple[tuple[str, float], ...]
    entries: tuple[float | None, ...]

    @property
    def worst(self) -> ServiceGap | None:
        """The deepest overlap, else the smallest margin; None where no part was checked."""
        return self.gaps[0] if self.gaps else None

    @property
    def is_tight(self) -> bool:
        """Whether a clearance in service is less than what is required."""
        return any(gap.margin < 0 for gap in self.gaps)

    def of(self, obstacle: str, part: Part) -> ServiceGap | None:
        """The least of an obstacle and part."""
        return next((gap for gap in self.gaps if (gap.obstacle, gap.part) == (obstacle, part)), None)
