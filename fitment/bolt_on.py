"""Whether the wheel bolts on: circle, bore, registers, studs, brake in the wheel, load, rim range.

Every check gives a status, numbers and a sentence of reason. What is not known is `not_checked` and
says what to measure or to ask the seller; nothing passes in silence.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

import shapely

from fitment.brake import Outline
from fitment.hub import BoltCircle, thread_diameter
from fitment.sections import BARREL_THICKNESS, wheel_section
from fitment.tables import rim_contour_row, specified_rim_diameter
from fitment.tire import rim_range, size_on
from fitment.vehicle import Axle, Setup

Status = Literal["ok", "caution", "fail", "not_checked"]
CENTRED = 0.3  # [mm] largest difference of diameters that still centres a part; common practice, no published source
BRAKE_GAP = 3.0  # [mm] asked for between brake and wheel; common practice, no published source
CIRCLE_EXACT = 0.02  # [mm] two statements of one circle, such as 5.5 in and 139.7 mm


@dataclass(frozen=True)
class BoltOn:
    """One check: what, how it came out, and why."""

    item: str
    status: Status
    detail: str


def bolt_on_checks(axle: Axle, setup: Setup) -> tuple[BoltOn, ...]:
    """Every bolt-on check of one setup on one axle."""
    checks = (_circle, _bore, _rotor_register, _studs, _brake, _rim_width, _load, _speed)
    return tuple(found for check in checks for found in check(axle, setup))


def _circle(axle: Axle, setup: Setup) -> Iterator[BoltOn]:
    hub, wheel, adapter = axle.hub, setup.wheel, setup.spacer.adapter
    offered = adapter.bolt_circle if adapter and adapter.bolt_circle else hub.bolt_circle if hub else None
    if wheel.bolt_circle is None:
        yield BoltOn("bolt circle", "not_checked", "the wheel's spec does not tell its bolt circle; ask the seller")
    elif offered is None:
        yield BoltOn("bolt circle", "not_checked", "the profile does not tell the hub's bolt circle; measure it")
    else:
        yield _same_circle(wheel.bolt_circle, offered, "adapter" if adapter and adapter.bolt_circle else "hub")


def _same_circle(wheel: BoltCircle, offered: BoltCircle, owner: str) -> BoltOn:
    if wheel.lugs != offered.lugs:
        return BoltOn("bolt circle", "fail", f"the wheel has {wheel.lugs} holes, the {owner} {offered.lugs} studs")
    off = abs(wheel.diameter - offered.diameter)
    if off <= CIRCLE_EXACT:
        return BoltOn("bolt circle", "ok", f"{wheel} mm on the {owner}'s {offered} mm")
    near = "; never draw it on by force: studs bend and nuts work loose" if off < 6 else ""
    return BoltOn("bolt circle", "fail", f"{wheel} mm on the {owner}'s {offered} mm: {off:.2f} mm apart{near}")


def _bore(axle: Axle, setup: Setup) -> Iterator[BoltOn]:
    adapter, bore = setup.spacer.adapter, setup.wheel.centre_bore
    register = axle.hub.wheel_register if axle.hub else None
    step = adapter.register if adapter and adapter.register else register.diameter if register else None
    if bore is None:
        yield BoltOn("centre bore", "not_checked", "the wheel's spec does not tell its bore; ask the seller")
    elif step is None:
        yield BoltOn("centre bore", "not_checked", "the profile does not tell the wheel register; measure the step")
    elif _over(bore, step) < 0:
        yield BoltOn("centre bore", "fail", f"bore {bore:g} mm is {step - bore:.1f} mm too small for {step:g} mm")
    elif _over(bore, step) <= CENTRED:
        yield BoltOn("centre bore", "ok", f"bore {bore:g} mm sits on the {step:g} mm register")
    else:
        yield BoltOn(
            "centre bore", "caution",
            f"bore {bore:g} mm is {bore - step:.1f} mm larger than the {step:g} mm register: "
            f"needs a centring ring {bore:g} mm outside and {step:g} mm inside, or the nuts alone must centre it",
        )  # fmt: skip
    spacer = setup.spacer.thickness
    if spacer and not (adapter and adapter.register) and register:
        yield _register_past_spacer(register.length, spacer)


def _register_past_spacer(length: float | None, spacer: float) -> BoltOn:
    if length is None:
        return BoltOn("register past spacer", "not_checked", "the register's length is not measured")
    if spacer >= length:
        return BoltOn(
            "register past spacer", "caution",
            f"the {spacer:g} mm spacer covers the {length:g} mm register: the wheel is not centred on the hub "
            "unless the spacer has a step of its own",
        )  # fmt: skip
    return BoltOn("register past spacer", "ok", f"{length - spacer:g} mm of the register stands past the spacer")


def _rotor_register(axle: Axle, _setup: Setup) -> Iterator[BoltOn]:
    bore = axle.brake.rotor.bore if axle.brake and axle.brake.rotor else None
    hub = axle.hub
    register = (hub.rotor_register or hub.wheel_register) if hub else None
    if bore is None or register is None:
        yield BoltOn("rotor register", "not_checked", "rotor bore or rotor register is not in the profile")
    elif _over(bore, register.diameter) < 0:
        short = register.diameter - bore
        yield BoltOn(
            "rotor register", "fail",
            f"rotor bore {bore:g} mm is {short:.1f} mm too small for the {register.diameter:g} mm register",
        )  # fmt: skip
    elif _over(bore, register.diameter) <= CENTRED:
        yield BoltOn("rotor register", "ok", f"bore {bore:g} mm sits on the {register.diameter:g} mm register")
    else:
        gap = bore - register.diameter
        yield BoltOn(
            "rotor register", "caution",
            f"rotor bore {bore:g} mm is {gap:.1f} mm larger than the {register.diameter:g} mm register: it can be "
            f"clamped up to {gap / 2:.1f} mm off centre and will shake at speed",
        )  # fmt: skip


def _studs(axle: Axle, setup: Setup) -> Iterator[BoltOn]:
    adapter, hub, pad = setup.spacer.adapter, axle.hub, setup.wheel.pad_thickness
    own = adapter is not None and adapter.stud is not None
    stud = adapter.stud if own and adapter else hub.stud if hub else None
    length = adapter.stud_length if own and adapter else hub.stud_length if hub else None
    if stud is None or length is None:
        yield BoltOn("studs", "not_checked", "stud thread or length beyond the mounting face is not in the profile")
        return
    need = thread_diameter(stud)
    past_spacer = length - (0.0 if own else setup.spacer.thickness)
    if pad is None:
        yield _studs_without_pad(stud, past_spacer, need)
        return
    left = _over(past_spacer, pad)
    words = f"{left:g} mm of {stud} stand past the pad"
    if need is None:
        yield BoltOn("studs", "not_checked", f"{words}; the thread is not one this program knows")
    elif left <= 0:
        yield BoltOn("studs", "fail", f"the stud ends {-left:g} mm inside the pad: no thread for the nut")
    elif left < need:
        yield BoltOn("studs", "caution", f"{words}, less than one thread diameter ({need:g} mm)")
    else:
        yield BoltOn("studs", "ok", f"{words}, one thread diameter is {need:g} mm; count the turns of the nut")


def _studs_without_pad(stud: str, past_spacer: float, need: float | None) -> BoltOn:
    """What can be said while the pad's thickness is unknown: no pad makes more of the stud."""
    if past_spacer <= 0:
        return BoltOn("studs", "fail", f"the spacer is {-past_spacer:g} mm thicker than the studs are long")
    ask = "pad thickness at the stud holes is unknown; ask the seller"
    if need is not None and past_spacer < need:
        words = f"at most {past_spacer:g} mm of {stud} are left before the pad, less than one thread diameter"
        return BoltOn("studs", "fail", f"{words} ({need:g} mm)")
    return BoltOn("studs", "not_checked", f"{ask} ({past_spacer:g} mm of {stud} stand past the mounting face)")


def _brake(axle: Axle, setup: Setup) -> Iterator[BoltOn]:
    brake = axle.brake
    parts = [("caliper", brake.caliper.outline if brake and brake.caliper else ())]
    if brake and brake.rotor and brake.rotor.outline:
        parts.append(("rotor", brake.rotor.outline))
    for name, outline in parts:
        if outline:
            yield _in_barrel(name, outline, setup)
            yield _behind_spokes(name, outline, setup)
        else:
            yield BoltOn(f"{name} in the wheel", "not_checked", f"the {name}'s outline is not in the profile")


def _in_barrel(name: str, outline: Outline, setup: Setup) -> BoltOn:
    item = f"{name} in the barrel"
    top = max(r for _, r in outline)
    clear = setup.wheel.barrel_clear_diameter
    seat = specified_rim_diameter(setup.wheel.rim_diameter) / 2
    if clear is not None:
        return _judged(item, clear / 2 - top, f"radius {top:g} mm in a clear diameter of {clear:g} mm")
    if top >= seat:
        return BoltOn(item, "fail", f"radius {top:g} mm reaches the bead seat's own radius, {seat:g} mm")
    well = rim_contour_row(setup.wheel.rim_diameter, setup.wheel.rim_width).well_depth
    assumed = seat - well - BARREL_THICKNESS - top
    return BoltOn(
        item, "not_checked",
        f"the barrel's clear diameter is unknown; ask the seller. Under an assumed J well {well:g} mm deep "
        f"and a barrel {BARREL_THICKNESS:g} mm thick {assumed:.0f} mm would be left",
    )  # fmt: skip


def _behind_spokes(name: str, outline: Outline, setup: Setup) -> BoltOn:
    item = f"{name} behind the spokes"
    if not setup.wheel.spoke_back:
        face, top = max(y for y, _ in outline), max(r for _, r in outline)
        return BoltOn(
            item, "not_checked",
            f"the back of the spokes is unknown; ask the seller for the room from the mounting face to the spokes "
            f"out to radius {top:g} mm (this {name} comes to {face - setup.spacer.thickness:+g} mm)",
        )  # fmt: skip
    shape = shapely.Polygon(outline) if len(outline) > 2 else shapely.LineString(outline)
    wheel = wheel_section(setup.wheel, setup.spacer.thickness)
    gap = float(shapely.distance(wheel, shape))
    return _judged(item, gap if gap > 0 else -1.0, "nearest metal of the stated wheel")


def _over(one: float, other: float) -> float:
    """By how much one length is larger [mm]; 67.4 is 0.3 over 67.1, not 0.30000000000001."""
    return round(one - other, 6)


def _judged(item: str, gap: float, words: str) -> BoltOn:
    gap = round(gap, 3)  # an outline is drawn to a micrometre
    if gap < 0:
        return BoltOn(item, "fail", f"they touch: {words}")
    if gap < BRAKE_GAP:
        return BoltOn(item, "caution", f"{gap:.1f} mm left, less than {BRAKE_GAP:g} mm: {words}")
    return BoltOn(item, "ok", f"{gap:.1f} mm left: {words}")


def _rim_width(_axle: Axle, setup: Setup) -> Iterator[BoltOn]:
    low, high = rim_range(setup.tire)
    width = setup.wheel.rim_width
    words = f"{width:g} in rim; common practice for {setup.tire.code} is {low:g} to {high:g} in (no published source)"
    ask = "ask the tire maker for the permitted range"
    outside = not low <= width <= high
    yield BoltOn("rim width", "caution" if outside else "ok", f"{words}; {ask}" if outside else words)


def _load(axle: Axle, setup: Setup) -> Iterator[BoltOn]:
    carried = size_on(setup.tire, setup.wheel.rim_width).load_kg
    if carried is None:
        yield BoltOn("load", "not_checked", "the tire's code does not tell its load index")
    elif axle.axle_load is None:
        yield BoltOn("load", "not_checked", f"two tires carry {2 * carried:g} kg; the axle load is not in the profile")
    else:
        words = f"two tires carry {2 * carried:g} kg, the axle load is {axle.axle_load:g} kg"
        yield BoltOn("load", "ok" if 2 * carried >= axle.axle_load else "fail", words)


def _speed(axle: Axle, setup: Setup) -> Iterator[BoltOn]:
    size = size_on(setup.tire, setup.wheel.rim_width)
    if size.speed_kmh is None:
        yield BoltOn("speed symbol", "not_checked", "the tire's code does not tell its speed symbol")
        return
    words = f"symbol {size.speed_symbol} is good for {size.speed_kmh:g} km/h"
    if axle.top_speed is None:
        yield BoltOn("speed symbol", "not_checked", f"{words}; the vehicle's top_speed is not in the profile")
        return
    enough = size.speed_kmh >= axle.top_speed
    yield BoltOn(
        "speed symbol", "ok" if enough else "fail", f"{words}, the vehicle's top speed is {axle.top_speed:g} km/h"
    )
