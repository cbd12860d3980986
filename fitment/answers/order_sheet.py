"""The sheet to order by: what a seller must confirm of wheels, tires and hardware, and what was and was not checked.

Every line says what is ordered, where that is known, and what to have confirmed or stated; lengths in mm. Nothing on it
is new: the figures come from the checked setup, its bolt-on checks and the offsets that keep every gap required.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import reduce
from typing import Literal

from fitment.checks.bolt_on import BoltOn
from fitment.checks.bolt_on.brake import BRAKE_GAP
from fitment.checks.bolt_on.load_speed_rim import ON_TRUCK, PASSENGER, TRUCK_RULE
from fitment.checks.bolt_on.result import CENTRED, adapter_of, offered_circle, over
from fitment.checks.full_case import FullCase
from fitment.parts.axle import Axle, Setup
from fitment.parts.bolt_circle import is_in_inches
from fitment.parts.brake import Outline
from fitment.parts.hub import SEATS, Hub, parse_thread
from fitment.parts.sections import tread_width
from fitment.parts.tables import load_capacities, speed_limits
from fitment.parts.tire import overall_diameter, section_width
from fitment.parts.wheel import Wheel, overall_width
from fitment.screening.offset_window import End, Window, of_both_sides, windows
from fitment.units import inches

Part = Literal["wheel", "tire", "hardware"]
PER_AXLE = 2
_TEST_FIT = (
    "A wheel that has carried a tire is seldom taken back. Before a tire is mounted, test fit every bare wheel: it "
    "seats flat on the hub by hand, turns freely over the brake, and stays clear at both locks."
)
_FORCE = "Never draw a wheel on by force, and do not file wheel, hub or caliper to make it fit."
_RESTS = (
    "The sheet rests on the measurements in the profile and on what the seller states. Have the seller's answers "
    "confirmed in writing. Local rules and a licensed mechanic decide."
)
SAFETY = (_TEST_FIT, _FORCE, _RESTS)


@dataclass(frozen=True)
class Line:
    """order : what is ordered, empty where the seller has to state it; ask : what to have confirmed, and why"""

    part: Part
    item: str
    order: str
    ask: str


@dataclass(frozen=True)
class AxleOrder:
    """One axle of the sheet.

    window : the offsets at which the size clears, as `fitment window` finds them; None when no part could be checked
    checks : every check of the setup: bolt-on, ground, cover, removal
    """

    case: FullCase
    window: Window | None
    lines: tuple[Line, ...]
    checks: tuple[BoltOn, ...]


def axle_order(case: FullCase) -> AxleOrder:
    """The sheet of one checked axle, its offsets those of both sides where they differ. Raises FitmentError."""
    axle, setup = case.fit.axle, case.fit.setup
    sides = [case] if case.mate is None or case.mate.fit.setup != setup else [case, case.mate]
    found = [windows(side.ready, [setup])[0] for side in sides if side.fit.clearances]
    window = reduce(of_both_sides, found) if found else None
    lines = (
        *_wheel(axle, setup, window),
        *_brake(axle, setup),
        *_tire(axle, setup),
        *_hardware(axle, setup),
    )
    return AxleOrder(case, window, lines, (*case.fit.bolt_on, *case.on_ground))


# ---------------------------------------------------------------- the wheel


def _wheel(axle: Axle, setup: Setup, window: Window | None) -> Iterator[Line]:
    wheel = setup.wheel
    size = f"{wheel.rim_diameter:g}x{wheel.rim_width:g}"
    ask = f"{PER_AXLE} wheels, {wheel.rim_diameter:g} in across and {wheel.rim_width:g} in wide between the bead seats"
    yield Line("wheel", "size", size, ask)
    yield Line("wheel", "offset", f"ET{wheel.offset:g}", _offset_words(axle, wheel, window))
    measured = wheel.overall_width is not None
    width = f"{overall_width(wheel):g} mm"
    ask = f"over both flanges; {width} was assumed (rim width + 25.4 mm, common practice)"
    yield Line("wheel", "overall width", width if measured else "", "as stated" if measured else ask)
    yield _circle(axle, setup)
    yield _bore(axle, setup)
    yield from _pad(axle, setup)
    yield Line("wheel", "load rating", _kg(wheel.load_rating), _rating(axle))


def _offset_words(axle: Axle, wheel: Wheel, window: Window | None) -> str:
    back = overall_width(wheel) / 2 + wheel.offset
    words = f"backspacing {back:.1f} mm ({inches(back)}); its tolerance"
    if window is None:
        return f"{words}. Offsets that fit: not computed, because no part near the wheel was checked"
    if window.ends is None:
        return (
            f"{words}. No offset meets every required clearance with nothing touching in the worst case"
            f"{_nominal(window)}"
        )
    low, high = window.ends
    span = f"{_end(low, 'or less')} to {_end(high, 'or more')}"
    if low.offset <= wheel.offset <= high.offset:
        words += f". From {span} every required clearance is met, and in the worst case nothing touches"
    else:
        words += ". At this offset a clearance is below required, or something touches in the worst case. The nearest "
        words += f"offsets without that: {span}"
    also = "" if axle.service is None else ", nor what happens in service"
    return f"{words}. The brake inside the wheel is not counted in this{also}"


def _end(end: End, more: str) -> str:
    return f"ET{end.offset:g} {more}" if is_open(end) else f"ET{end.offset:g}"


def is_open(end: End) -> bool:
    """Whether nothing that was measured stops the wheel at an end of the window."""
    return end.limit or end.stop is None


def _nominal(window: Window) -> str:
    """The offsets of the nominal size, for an order that has none in the worst case."""
    if window.allowed is None:
        return ""
    low, high = window.allowed
    return f". Without the worst case they are met from ET{low:.1f} to ET{high:.1f}; that is TIGHT at best, not CLEARS"


def _circle(axle: Axle, setup: Setup) -> Line:
    circle, owner = offered_circle(axle, setup)
    order = "" if setup.wheel.bolt_circle is None else str(setup.wheel.bolt_circle)
    if circle is None:
        return Line("wheel", "bolt circle", order, f"the {owner}'s own is not in the profile; measure it first")
    also = f" ({inches(circle.diameter)})" if is_in_inches(circle.diameter) else ""
    return Line("wheel", "bolt circle", order, f"the {owner} has {circle.lugs} studs on {circle.diameter:g} mm{also}")


def _bore(axle: Axle, setup: Setup) -> Line:
    bore, step = setup.wheel.centre_bore, _step(axle, setup)
    order = "" if bore is None else f"{bore:g} mm"
    if step is None:
        return Line("wheel", "centre bore", order, "the register's diameter is not in the profile; measure it first")
    ask = f"the register is {step:g} mm; a larger bore needs a centring ring, {step:g} mm inside, outside as the bore"
    return Line("wheel", "centre bore", order, ask)


def _step(axle: Axle, setup: Setup) -> float | None:
    """Diameter of the register that the wheel's bore meets [mm]: the spacer's own, else the hub's."""
    adapter, register = setup.spacer.adapter, axle.hub.wheel_register if axle.hub else None
    if adapter is not None and adapter.register is not None:
        return adapter.register
    return register.diameter if register else None


def _pad(axle: Axle, setup: Setup) -> Iterator[Line]:
    wheel, adapter, hub = setup.wheel, adapter_of(setup), axle.hub
    owner = adapter or hub
    stud, length = (owner.stud, owner.stud_length) if owner else (None, None)
    thread = parse_thread(stud) if stud else None
    ask = "thickness at the stud holes; studs and their length are not in the profile, measure them first"
    if stud and length is not None and thread:
        most = length - thread.diameter - (0.0 if adapter else setup.spacer.thickness)
        ask = f"thickness at the stud holes: at most {most:g} mm, or the nut gets less than one diameter of {stud}"
        if most <= 0:
            ask = f"fit longer studs first: with any pad the nut gets less than one diameter of {stud}"
    yield Line("wheel", "pad", _mm(wheel.pad_thickness), ask)
    through = f"wider than {thread.diameter:g} mm" if thread else "wider than the studs"
    yield Line("wheel", "stud holes", _mm(wheel.stud_hole), f"{through}; of one diameter, or stepped")
    kinds = f"{', '.join(SEATS[:-1])} or {SEATS[-1]}"
    yield Line("wheel", "nut seat", wheel.seat or "", f"{kinds}; with a cone's angle or a ball's radius")


def _rating(axle: Axle) -> str:
    if axle.axle_load is None:
        return "what one wheel may carry; the axle load is not in the profile, weigh it first"
    return f"what one wheel may carry: at least {axle.axle_load / PER_AXLE:g} kg, half the axle load"


def _mm(length: float | None) -> str:
    return "" if length is None else f"{length:g} mm"


def _kg(mass: float | None) -> str:
    return "" if mass is None else f"{mass:g} kg"


# ---------------------------------------------------------------- room for the brake


def _brake(axle: Axle, setup: Setup) -> Iterator[Line]:
    wheel, brake = setup.wheel, axle.brake
    outlines = [part.outline for part in (brake.caliper, brake.rotor) if part and part.outline] if brake else []
    caliper = brake.caliper.outline if brake and brake.caliper else ()
    clear = _mm(wheel.barrel_clear_diameter) or ("as in the profile" if wheel.barrel_inside else "")
    back = "as in the profile" if wheel.spoke_back else ""
    if not caliper:
        ask = "the caliper's outline is not in the profile, so what to ask for is not known; measure it first"
        yield Line("wheel", "barrel", clear, ask)
        yield Line("wheel", "spokes", back, ask)
        return
    yield Line("wheel", "barrel", clear, _barrel_words(outlines, setup.spacer.thickness))
    yield Line("wheel", "spokes", back, _spoke_words(outlines, setup.spacer.thickness))


def _barrel_words(outlines: Sequence[Outline], spacer: float) -> str:
    points = [point for outline in outlines for point in outline]
    top = max(r for _, r in points)
    depth = spacer - max(y for y, r in points if r > top - 0.5)
    return (
        f"clear diameter at least {2 * (top + BRAKE_GAP):g} mm from the inner edge to {_from_face(depth)}; "
        f"{BRAKE_GAP:g} mm are left round the brake"
    )


def _spoke_words(outlines: Sequence[Outline], spacer: float) -> str:
    points = [point for outline in outlines for point in outline]
    face = max(y for y, _ in points) - spacer + BRAKE_GAP
    low, top = min(r for _, r in points), max(r for _, r in points)
    where = f"at least {face:g} mm in front of" if face > 0 else f"no more than {abs(face):g} mm behind"
    return f"their back {where} the mounting face from radius {low:g} mm to {top:g} mm; send the template"


def _from_face(depth: float) -> str:
    return f"{abs(depth):g} mm {'behind' if depth >= 0 else 'in front of'} the mounting face"


# ---------------------------------------------------------------- tire, hardware


def _tire(axle: Axle, setup: Setup) -> Iterator[Line]:
    tire, rim = setup.tire, setup.wheel.rim_width
    yield Line("tire", "size", tire.code, f"{PER_AXLE} tires, every letter and figure as on the sidewall")
    index = "" if tire.load_index is None else f"{tire.load_index}"
    yield Line("tire", "load index", index, _index_words(axle, setup))
    yield Line("tire", "speed symbol", tire.speed_symbol or "", _speed_words(axle))
    width = section_width(tire, rim)
    stated = tire.section_width is not None and tire.overall_diameter is not None
    ask = (
        f"by the data sheet; assumed: section width {width:.0f} mm on a rim {rim:g} in wide, overall diameter "
        f"{overall_diameter(tire):.0f} mm, tread {tread_width(tire):.0f} mm"
    )
    yield Line("tire", "measures", "as in the profile" if stated else "", ask)
    approved = "" if tire.approved_rims is None else f"{tire.approved_rims[0]:g} to {tire.approved_rims[1]:g} in"
    yield Line("tire", "approved rims", approved, f"by the tire's maker, a rim {rim:g} in wide among them")


def _index_words(axle: Axle, setup: Setup) -> str:
    if axle.axle_load is None:
        return "the axle load is not in the profile, so the least index is not known; weigh it first"
    half = axle.axle_load / PER_AXLE
    counted = ""
    if axle.vehicle_class == "light_truck" and setup.tire.family in PASSENGER:
        half *= ON_TRUCK
        counted = f" x {ON_TRUCK:.2f} for a passenger tire on a light truck ({TRUCK_RULE})"
    fitting = [(index, kg) for index, kg in load_capacities().items() if kg >= half]
    if not fitting:
        return f"no index carries {half:.0f} kg, half the axle load{counted}"
    index, carries = min(fitting, key=lambda pair: pair[1])
    return f"at least {index} ({carries:g} kg): half the axle load of {axle.axle_load:g} kg{counted}"


def _speed_words(axle: Axle) -> str:
    if axle.top_speed is None:
        return "the vehicle's top speed is not in the profile, so the least symbol is not known"
    fitting = [(kmh, symbol) for symbol, kmh in speed_limits().items() if kmh >= axle.top_speed]
    if not fitting:
        return f"no symbol is good for {axle.top_speed:g} km/h; the maker states more"
    kmh, symbol = min(fitting)
    return f"at least {symbol} ({kmh:g} km/h): the top speed is {axle.top_speed:g} km/h"


def _hardware(axle: Axle, setup: Setup) -> Iterator[Line]:
    adapter, hub, spacer = adapter_of(setup), axle.hub, setup.spacer
    owner = adapter or hub
    stud, nut, seat = (owner.stud, owner.nut, owner.nut_seat) if owner else (None, None, None)
    count = f"{PER_AXLE * setup.wheel.bolt_circle.lugs} nuts, " if setup.wheel.bolt_circle else ""
    order = ", ".join(filter(None, (nut, f"{seat} seat" if seat else "")))
    ask = f"{count}{_thread(stud)}, the wheel's own seat{_closed(axle, setup)}"
    yield Line("hardware", "nuts", order, ask)
    if adapter:
        yield _hub_nuts(hub or Hub())
    yield from _ring(axle, setup)
    if spacer.thickness:
        what = "adapters" if adapter else "spacers"
        ask = f"{PER_AXLE} {what} {spacer.thickness:g} mm thick, flat on both sides"
        circle = f", {adapter.bolt_circle} for the wheel" if adapter and adapter.bolt_circle else ""
        inner = f", {hub.bolt_circle} for the hub" if hub and hub.bolt_circle else ""
        yield Line("hardware", what, f"{spacer.thickness:g} mm", f"{ask}{circle}{inner}; centred on the hub's register")


def _hub_nuts(hub: Hub) -> Line:
    """The nuts that hold an adapter, under the wheel."""
    count = f"{PER_AXLE * hub.bolt_circle.lugs} more nuts" if hub.bolt_circle else "more nuts"
    ask = f"{count} for the hub side of the adapters, {_thread(hub.stud)}, the adapter's own seat"
    order = ", ".join(filter(None, (hub.nut, f"{hub.nut_seat} seat" if hub.nut_seat else "")))
    return Line("hardware", "hub nuts", order, f"{ask}; they must not stand past its face")


def _closed(axle: Axle, setup: Setup) -> str:
    """How much of the stud a closed nut has to take in before it bottoms, where that is known."""
    adapter = adapter_of(setup)
    owner, pad = adapter or axle.hub, setup.wheel.pad_thickness
    if owner is None or owner.stud_length is None or pad is None:
        return "; closed ones must not bottom on the studs"
    left = over(owner.stud_length, pad + (0.0 if adapter else setup.spacer.thickness))
    return f"; closed ones take in more than {left:g} mm of stud" if left > 0 else ""


def _thread(stud: str | None) -> str:
    return f"thread {stud}" if stud else "thread as the studs, which is not in the profile"


def _ring(axle: Axle, setup: Setup) -> Iterator[Line]:
    """Centring rings, when the stated bore is larger than the register."""
    bore, step = setup.wheel.centre_bore, _step(axle, setup)
    if bore is not None and step is not None and bore - step > CENTRED:
        ask = f"{PER_AXLE} rings, {bore:g} mm outside and {step:g} mm inside, no longer than the register"
        yield Line("hardware", "centring rings", f"{bore:g} x {step:g}", ask)
