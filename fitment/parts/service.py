"""A tire and wheel in service: what a builder asks to be counted beside the ideal solid, and the rules behind it.

The rules stand by themselves, so that each can be held against another way. Figures that nobody gave are starting
figures of `parts/data/service.csv`, each with its source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from fitment.parts.tables import service_figures
from fitment.parts.tire import Tire, section_height, section_width

Usual = Literal["usual"]
GRAVITY = 9.80665  # [m/s2] standard
MOST_BULGE = math.pi / 2  # half angle of a sidewall's arc beyond which it would fold over


@dataclass(frozen=True)
class Compliance:
    """How far a wheel gives way in its bushings and bearings; None = not computed.

    camber : by the side force at the contact patch [deg/kN]
    lateral : of the wheel centre by the same [mm/kN]
    fore_aft : of the wheel centre in hard braking, rearward, and as far forward [mm]
    toe : in braking and cornering, either way [deg]
    rock : how far the top of the tire moves in and out altogether when it is rocked by a pry bar [mm]
    """

    camber: float | None = None
    lateral: float | None = None
    fore_aft: float | None = None
    toe: float | None = None
    rock: float | None = None


@dataclass(frozen=True)
class Service:
    """What is counted in service; None = not computed.

    speed : of the vehicle [km/h], None = the axle's top speed
    growth : of the tire all round [mm], or by the usual rules
    corner_g : sideways acceleration [g]
    sidewall_stiffness : side force over how far the belt moves at the contact patch against the rim [N/mm]
    bulge : of the sidewall over the contact patch at rest, on each side [mm], or by its arc
    runout : of rim and tire, each way [mm]
    weights : balance weights inside the barrel [mm]
    chains : snow chains on the tire [mm]
    usual : keys that took the starting figure
    """

    speed: float | None = None
    growth: float | Usual | None = None
    corner_g: float | None = None
    sidewall_stiffness: float | None = None
    bulge: float | Usual | None = None
    play: Compliance | None = None
    runout: float | None = None
    weights: float | None = None
    chains: float | None = None
    usual: tuple[str, ...] = ()

    @property
    def left_out(self) -> tuple[str, ...]:
        """Keys of what every vehicle has in service and that is not computed: all but `play.rock` and `chains`."""
        play = self.play or Compliance()
        given = {key: getattr(self, key) for key in ("growth", "sidewall_stiffness", "bulge", "runout", "weights")}
        given |= {f"play.{key}": getattr(play, key) for key in ("camber", "lateral", "fore_aft", "toe")}
        return tuple(key for key, value in given.items() if value is None)


# ---------------------------------------------------------------- growth


def growth_in_use(tire: Tire, rim: float | None = None) -> tuple[float, float]:
    """How far a tire grows in use: each side outward, and its radius [mm].

    rim : width of the rim it is on [in], None = the measuring rim
    Source: a share of section width and height, from memory, see data/service.csv.
    """
    share = service_figures()["growth_in_use"].value
    return share * section_width(tire, rim) / 2, share * section_height(tire)


def growth_at_speed(speed: float) -> float:
    """How far a tire's radius grows by its own turning [mm].

    speed : [km/h]
    A belt of mass m a length, held by its own hoop and by the sidewalls with a stiffness c, is pressed outward by
    m v^2 / R and grows by m v^2 / (c R): with the square of speed.
    Source: derived here; the growth at 100 km/h from memory, see data/service.csv.
    """
    return service_figures()["growth_at_100"].value * (speed / 100) ** 2


# ---------------------------------------------------------------- sideways


def side_forces(axle_load: float, corner_g: float) -> tuple[float, float]:
    """Side force on the outer and on the inner wheel of an axle in a corner [kN].

    axle_load : on both wheels [kg]; corner_g : [g]
    The outer wheel carries half of the load and what the height of the body brings over to it, at most all of it, and
    its share of the side force. On the inner wheel half of it is taken, as where nothing is brought over.
    Source: equilibrium about the track's middle, textbook; the height from memory, see data/service.csv.
    """
    whole = axle_load * GRAVITY * corner_g / 1000
    outer = min(0.5 + service_figures()["load_shift"].value * corner_g, 1.0)
    return whole * outer, whole / 2


def belt_shift(force: float, stiffness: float, radius: float) -> tuple[float, float]:
    """How the belt stands against the rim under a side force at the contact patch: shift [mm] and tilt [deg].

    force : [kN]; stiffness : force over how far the belt moves there [N/mm]; radius : of the belt [mm]
    Returns : the shift of its centre along the force [mm], and the tilt that moves the contact patch on along the
        force and the top back [deg]
    The belt is a rigid ring on an even elastic foundation, k a length. Force F at the bottom shifts it by
    y0 = F / (2 pi R k); its moment F R meets the foundation's integral of k (R cos t)^2 R dt = pi R^3 k, so that the
    tilt is F / (pi R^2 k) and moves a point at height z by -2 y0 z / R. The contact patch moves by 3 y0, the top by
    -y0: a third as far, the other way. So the stiffness seen there is F / (3 y0). A belt that bends moves its top less,
    and a stiffness measured at the ground, which holds the bending of tread and belt, gives a larger shift: both are on
    the safe side.
    Source: derived here; `tests/test_in_service.py` holds it against a ring of many points.
    """
    shift = 1000 * force / stiffness / 3
    return shift, math.degrees(2 * shift / radius)


# ---------------------------------------------------------------- over the contact patch


def bulge(height: float, sagitta: float, deflection: float) -> float:
    """How much further a sidewall stands out where its tire is pressed in [mm].

    height : from the rim's flange to the tread's edge [mm]; sagitta : how far the sidewall stands out of the line
        between the two, 0 where it is stretched straight [mm]; deflection : [mm]
    The sidewall is an arc of constant length L between flange and tread: its half angle a has sin(a) / a = chord / L,
    and it stands out by chord / 2 tan(a / 2). At most a half circle, beyond which it would fold.
    Source: derived here, geometry of the arc; the tread is taken not to bend, which is the safe side.
    """
    before = _half_angle_by_sagitta(height, max(sagitta, 0.0))
    length = height if before == 0 else height * before / math.sin(before)
    chord = max(height - deflection, length * math.sin(MOST_BULGE) / MOST_BULGE)
    after = _half_angle(chord / length)
    return chord / 2 * math.tan(after / 2) - max(sagitta, 0.0)


def _half_angle_by_sagitta(chord: float, sagitta: float) -> float:
    """Half angle of an arc [rad]. Source: sagitta = chord / 2 tan(angle / 2)."""
    return 2 * math.atan(2 * sagitta / chord)


def _half_angle(share: float) -> float:
    """Half angle a of an arc [rad] whose chord is that share of its length, sin(a) / a = share, by halving."""
    low, high = 0.0, math.pi
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if math.sin(middle) > share * middle else (low, middle)
    return low


def bulging_half_angle(radius: float, deflection: float) -> float:
    """Half angle of the sector above the contact patch in which the sidewall counts as bulging [deg].

    radius : of the tire [mm]; deflection : [mm]
    Source: a circle cut by the ground at R - d touches it over acos(1 - d / R) to each side (geometry); twice that is
    taken, since the belt bends in before it touches (assumption).
    """
    return 2 * math.degrees(math.acos(max(1 - deflection / radius, -1.0)))
