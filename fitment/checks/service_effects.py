"""What happens to a wheel and tire in service, as grown sections and as small pushes of the wheel.

An effect that is spread evenly or may stand anywhere round the tire is a section grown all round (growth, runout,
weights, chains, the bulge where parts are low); what leans or shifts the wheel is a push, in every combination that
goes together.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, fields, replace
from typing import NamedTuple

from shapely import Polygon

from fitment.clearance.pushed_wheel import Push
from fitment.parts import service as rules
from fitment.parts.axle import Axle, Setup, SolidAxle
from fitment.parts.obstacles import Part
from fitment.parts.sections import flange_top, spread, tire_section, tread_width, wheel_section
from fitment.parts.tables import service_figures
from fitment.parts.tire import overall_diameter, section_width

TOGETHER = ((1, 0, 0), (1, 0, 1), (1, 1, 1), (0, 1, 0), (0, 1, 1))
"""Which of the wheel's shift, its lean and the belt's shift count at once: at any height one of these moves the tire
most to either side, since all three come from one force, each between nothing and its full size."""
LEVELS = 5  # of deflection from rest to full bump; between two the larger counts


Pair = tuple[float, float]


class Bulging(NamedTuple):
    """How a sidewall bulges at LEVELS, from rest to full bump.

    deflection, side : how far the tire is pressed in, and a sidewall further out [mm]
    angle : half angle of the sector above the ground that counts [deg]
    """

    deflection: tuple[float, ...]
    side: tuple[float, ...]
    angle: tuple[float, ...]


@dataclass(frozen=True)
class Effects:
    """What counts in service, and how much; None = not computed.

    growth : to each side, and of the radius [mm]
    runout, weights, chains : [mm]
    lateral, lean : of the outer and the inner wheel in a corner, by how much the force pushes it [mm], leans it [deg]
    belt : of the outer and the inner wheel shift [mm] and tilt [deg] of the belt
    fore_aft : either way [mm]; toe : either way [deg]; rock : lean that play in bearings allows, either way [deg]
    bulge : over the contact patch
    """

    growth: tuple[float, float] | None = None
    runout: float | None = None
    weights: float | None = None
    chains: float | None = None
    lateral: tuple[float, float] | None = None
    lean: tuple[float, float] | None = None
    belt: tuple[tuple[float, float], tuple[float, float]] | None = None
    fore_aft: float | None = None
    toe: float | None = None
    rock: float | None = None
    bulge: Bulging | None = None

    @property
    def named(self) -> tuple[str, ...]:
        """Names of those that are computed."""
        return tuple(field.name for field in fields(self) if getattr(self, field.name) is not None)

    def alone(self, name: str) -> Effects:
        """One of them."""
        return replace(Effects(), **{name: getattr(self, name)})


def effects_on(axle: Axle, setup: Setup, deflection: float) -> tuple[Effects, tuple[str, ...]]:
    """What the profile asks to be counted on this wheel, and why something of it cannot be, a line each.

    deflection : how far the tire is pressed in at rest [mm]
    Source: the rules of `parts/service.py`, each with its own.
    """
    asked = axle.service
    open_: list[str] = []
    if asked is None:
        return Effects(), ()
    radius = overall_diameter(setup.tire) / 2
    play = asked.play or rules.Compliance()
    lateral, lean, belt = _cornering(asked, axle, radius, open_)
    return Effects(
        growth=_growth(asked, axle, setup, open_), runout=asked.runout, weights=asked.weights, chains=asked.chains,
        lateral=lateral, lean=lean, belt=belt, fore_aft=play.fore_aft, toe=play.toe,
        rock=None if play.rock is None else math.degrees(play.rock / 2 / radius),
        bulge=_bulge(asked, setup, deflection, open_),
    ), tuple(open_)  # fmt: skip


def _growth(asked: rules.Service, axle: Axle, setup: Setup, open_: list[str]) -> tuple[float, float] | None:
    if asked.growth is None or isinstance(asked.growth, float | int):
        return None if asked.growth is None else (asked.growth, asked.growth)
    side, up = rules.growth_in_use(setup.tire, setup.wheel.rim_width)
    speed = asked.speed or axle.top_speed
    if speed is None:
        open_.append("growth with speed: neither service has a speed nor the axle a top_speed")
    return side, up + (rules.growth_at_speed(speed) if speed else 0.0)


def _cornering(
    asked: rules.Service, axle: Axle, radius: float, open_: list[str]
) -> tuple[Pair | None, Pair | None, tuple[Pair, Pair] | None]:
    """How far the side force moves the wheel [mm], leans it [deg], and shifts the belt, of the outer and the inner."""
    play, stiffness = asked.play or rules.Compliance(), asked.sidewall_stiffness
    is_wanted = any(figure is not None for figure in (play.lateral, play.camber, stiffness))
    if not is_wanted and asked.corner_g is None:
        return None, None, None
    if not is_wanted or asked.corner_g is None or axle.axle_load is None:
        missing = "the axle has no axle_load" if axle.axle_load is None else "service has no corner_g"
        open_.append(f"cornering: {missing if is_wanted else 'service has neither play nor sidewall_stiffness'}")
        return None, None, None
    outer, inner = rules.side_forces(axle.axle_load, asked.corner_g)
    is_upright = isinstance(axle.suspension, SolidAxle) and "play.camber" in asked.usual
    lean = None if play.camber is None or is_upright else (play.camber * outer, play.camber * inner)
    if is_upright:
        open_.append(
            "lean in corners: the beam of a solid axle holds its wheels upright; give play a camber to count it"
        )
    lateral = None if play.lateral is None else (play.lateral * outer, play.lateral * inner)
    if stiffness is None:
        return lateral, lean, None
    return lateral, lean, (rules.belt_shift(outer, stiffness, radius), rules.belt_shift(inner, stiffness, radius))


def _bulge(asked: rules.Service, setup: Setup, deflection: float, open_: list[str]) -> Bulging | None:
    if asked.bulge is None:
        return None
    if deflection <= 0:
        open_.append("bulge over the contact patch: hub_height says that the tire is not pressed in")
        return None
    radius, width = overall_diameter(setup.tire) / 2, section_width(setup.tire, setup.wheel.rim_width)
    face, top = flange_top(setup.wheel)
    deepest = min(service_figures()["bulge_load"].value * deflection, 0.9 * (radius - top))
    deep = tuple(deflection + k / (LEVELS - 1) * max(deepest - deflection, 0.0) for k in range(LEVELS))
    sagitta = width / 2 - (face + min(tread_width(setup.tire), width) / 2) / 2
    # a bulge grows ever more slowly with the deflection, so that one read at rest is at bump at most in proportion
    own = None if isinstance(asked.bulge, str) else asked.bulge
    side = (rules.bulge(radius - top, sagitta, d) if own is None else own * d / deflection for d in deep)
    return Bulging(deep, tuple(side), tuple(rules.bulging_half_angle(radius, d) for d in deep))


# ---------------------------------------------------------------- pushes


class Move(NamedTuple):
    """What is measured: a push of wheel or tire, with chains on or without.

    name : how the vehicle goes then
    whole : against the body; own : against the knuckle, which feels play in the bearings and the belt's shift alone
    """

    name: str
    whole: Push = Push()
    own: Push = Push()
    chained: bool = False


def moves_of(effects: Effects, part: Part) -> tuple[Move, ...]:
    """Every push that is measured for a part of the wheel, none twice.

    Source: derived here, see TOGETHER; braking and cornering are not added.
    """
    moves = [Move("standing")]
    for name, way, k in (("cornering, outer wheel", -1, 0), ("cornering, inner wheel", 1, 1)):
        lateral, lean = (0.0 if each is None else each[k] for each in (effects.lateral, effects.lean))
        shift, tilt = (0.0, 0.0) if effects.belt is None or part != "tire" else effects.belt[k]
        rock = effects.rock or 0.0
        for moved, leant, dragged in TOGETHER:
            own = Push(out=way * shift * dragged, camber=-way * (rock * leant + tilt * dragged))
            whole = replace(own, out=own.out + way * lateral * moved, camber=own.camber - way * lean * leant)
            moves.append(Move(name, whole, own))
    fore_aft, toe = effects.fore_aft or 0.0, effects.toe or 0.0
    for name, way in (("braking", -1), ("braking in reverse, or driving", 1)):
        moves += [Move(name, Push(ahead=way * fore_aft, turn=turn)) for turn in (-toe, toe)]
    moves += [Move("with chains", chained=True)] if effects.chains and part == "tire" else []
    once: dict[tuple[Push, Push, bool], Move] = {}
    for move in moves:
        once.setdefault((move.whole, move.own, move.chained), move)
    return tuple(once.values())


# ---------------------------------------------------------------- sections


class Sections:
    """Tire and wheel of a setup as they are in service, made once each.

    centre : of the wheel, y' [mm]
    """

    def __init__(self, effects: Effects, setup: Setup) -> None:
        self._effects, self._spacer = effects, setup.spacer.thickness
        self.centre = self._spacer - setup.wheel.offset
        self._tire = tire_section(setup.tire, setup.wheel, self._spacer)
        self._metal = wheel_section(setup.wheel, self._spacer)
        self._known: dict[tuple[Part, float, bool], Polygon] = {}

    def of(self, part: Part, bulge: float = 0.0, *, chained: bool = False) -> Polygon:
        """One of them in the hub frame (y', r) [mm].

        bulge : of each sidewall [mm]; chained : with chains
        Source: `spread`.
        """
        key = part, bulge, chained
        if key not in self._known:
            self._known[key] = self._made(part, bulge, chained=chained)
        return self._known[key]

    def _made(self, part: Part, bulge: float, *, chained: bool) -> Polygon:
        runout = self._effects.runout or 0.0
        if part == "wheel":
            return spread(self._metal, runout, runout, runout + (self._effects.weights or 0.0))
        side, up = self._effects.growth or (0.0, 0.0)
        grown = spread(self._tire, side + runout + bulge, up + runout)
        if not chained:
            return grown
        return Polygon(grown.buffer(self._effects.chains or 0.0, quad_segs=16).exterior)

    @property
    def grown(self) -> float:
        """The most that any of them stands out of the ideal one [mm]."""
        effects, runout = self._effects, self._effects.runout or 0.0
        side, up = effects.growth or (0.0, 0.0)
        bulge = effects.bulge.side[-1] if effects.bulge else 0.0
        tire = math.hypot(side + runout + bulge, up + runout) + (effects.chains or 0.0)
        return max(tire, math.hypot(runout, runout + (effects.weights or 0.0)))

    @property
    def radius(self) -> float:
        """Of a circle about the wheel's centre that holds them, without what is grown [mm]."""
        _, _, _, top = self._tire.bounds
        return math.hypot(top, max(abs(y - self.centre) for y in (*self._tire.bounds[::2], *self._metal.bounds[::2])))
