"""Tire on the rim, load on the tire and the wheel, speed, and front against rear diameter."""

from __future__ import annotations

from collections.abc import Hashable, Iterator

from fitment.checks.bolt_on.result import BoltOn, Check, numbers
from fitment.corners import axle_of
from fitment.parts.axle import Axle, Setup
from fitment.parts.tire import Tire, load_capacity, overall_diameter, rim_range, speed_rating

# Passenger tires on anything but a passenger car: load rating divided by this before it is held against the axle.
# Source: 49 CFR 571.120 S5.1.2 as quoted in US safety agency interpretation nht76-1.47 of 17 November 1976, read.
ON_TRUCK = 1.10
TRUCK_RULE = "49 CFR 571.120 S5.1.2"
PASSENGER = ("metric", "P", "HL")  # families of tire that the rule is about
# Above these speeds [km/h] a tire carries less than its index says. Source: UN R30, maximum load rating, from memory.
FULL_LOAD_TO = {"V": 210.0, "W": 240.0, "Y": 270.0, "(Y)": 270.0}
FRONT_AND_REAR = "front and rear diameter"
BETWEEN_DRIVEN = 1.0  # [%] overall diameters of two driven axles may differ; common practice, no published source


# ---------------------------------------------------------------- rim


def _rim(_axle: Axle, setup: Setup) -> Iterator[BoltOn]:
    tire, wheel = setup.tire, setup.wheel
    figures = numbers(tire_in=tire.rim_code, wheel_in=wheel.rim_diameter)
    if tire.rim_code == wheel.rim_diameter:
        yield BoltOn("rim diameter", "ok", f"tire and wheel are both {tire.rim_code:g} in", figures)
    else:
        words = f"the tire is for a {tire.rim_code:g} in rim, the wheel is {wheel.rim_diameter:g} in"
        yield BoltOn("rim diameter", "fail", words, figures)
    yield _rim_width(tire, wheel.rim_width)


def _rim_width(tire: Tire, width: float) -> BoltOn:
    low, high = rim_range(tire)
    figures = numbers(rim_in=width, least_in=low, most_in=high)
    outside = not low <= width <= high
    if tire.approved_rims is not None:
        words = f"{width:g} in rim; the maker of {tire.code} approves {low:g} to {high:g} in"
        return BoltOn("rim width", "fail" if outside else "ok", words, figures)
    words = f"{width:g} in rim; common practice for {tire.code} is {low:g} to {high:g} in (no published source)"
    ask = "; ask the tire maker for the permitted range" if outside else ""
    return BoltOn("rim width", "caution" if outside else "ok", words + ask, figures)


# ---------------------------------------------------------------- load


def _load(axle: Axle, setup: Setup) -> Iterator[BoltOn]:
    carried, load = load_capacity(setup.tire), axle.axle_load
    if carried is None:
        yield BoltOn("load", "not_checked", "the tire's code does not tell its load index")
    elif load is None:
        words = f"two tires carry {2 * carried:g} kg; the axle load is not in the profile"
        yield BoltOn("load", "not_checked", words, numbers(two_tires_kg=2 * carried))
    else:
        yield _carried(axle, setup.tire, 2 * carried, load)
    yield _wheel_load(setup.wheel.load_rating, load)


def _carried(axle: Axle, tire: Tire, two: float, load: float) -> BoltOn:
    passenger = tire.family in PASSENGER
    on_truck = passenger and axle.vehicle_class == "light_truck"
    counts = two / ON_TRUCK if on_truck else two
    figures = numbers(two_tires_kg=two, counted_kg=counts, axle_load_kg=load)
    words = f"two tires carry {two:g} kg, the axle load is {load:g} kg"
    if on_truck:
        words = (
            f"two passenger tires on a light truck count {two:g} kg / {ON_TRUCK:.2f} = {counts:.0f} kg ({TRUCK_RULE}), "
            f"the axle load is {load:g} kg"
        )
    if counts < load:
        return BoltOn("load", "fail", words, figures)
    if passenger and axle.vehicle_class is None and two / ON_TRUCK < load:
        ask = f"; if this is a light truck, passenger tires count only {two / ON_TRUCK:.0f} kg on it ({TRUCK_RULE})"
        return BoltOn("load", "caution", words + ask, figures)
    full = FULL_LOAD_TO.get(tire.speed_symbol or "")
    if full is not None and axle.top_speed is not None and axle.top_speed > full:
        less = f"; above {full:g} km/h they carry less (UN R30, from memory), how much is not computed: ask the maker"
        return BoltOn("load", "caution", words + less, figures)
    return BoltOn("load", "ok", words, figures)


def _wheel_load(rating: float | None, load: float | None) -> BoltOn:
    item = "wheel load"
    if load is None:
        half = "" if rating is None else f"the wheel may carry {rating:g} kg; "
        return BoltOn(item, "not_checked", f"{half}the axle load is not in the profile")
    figures = numbers(rating_kg=rating, half_axle_load_kg=load / 2)
    if rating is None:
        words = f"ask the seller what the wheel may carry: half the axle load is {load / 2:g} kg"
        return BoltOn(item, "not_checked", words, figures)
    words = f"the wheel may carry {rating:g} kg, half the axle load is {load / 2:g} kg"
    return BoltOn(item, "ok" if rating >= load / 2 else "fail", words, figures)


# ---------------------------------------------------------------- speed


def _speed(axle: Axle, setup: Setup) -> Iterator[BoltOn]:
    item, tire = "speed symbol", setup.tire
    speed, above = speed_rating(tire)
    if speed is None:
        yield BoltOn(item, "not_checked", "the tire's code does not tell its speed symbol")
        return
    figures = numbers(tire_kmh=speed, top_speed_kmh=axle.top_speed)
    symbol = f"symbol {tire.speed_symbol}" if tire.speed_symbol else f"{tire.size_mark}R in the size"
    words = f"{symbol} is good for {'more than ' if above else ''}{speed:g} km/h"
    if axle.top_speed is None:
        yield BoltOn(item, "not_checked", f"{words}; the vehicle's top_speed is not in the profile", figures)
        return
    words = f"{words}, the vehicle's top speed is {axle.top_speed:g} km/h"
    if speed >= axle.top_speed:
        yield BoltOn(item, "ok", words, figures)
    elif above:
        yield BoltOn(item, "not_checked", f"{words}; how far above, the maker states: ask", figures)
    else:
        yield BoltOn(item, "fail", words, figures)


# ---------------------------------------------------------------- front and rear


def front_and_rear(
    one: tuple[Axle, Setup], other: tuple[Axle, Setup], tolerance: float | None = None
) -> tuple[BoltOn, ...]:
    """Whether the overall diameters of two axles go together: two driven axles turn as one.

    tolerance : what the vehicle's maker permits between them [%]; None = BETWEEN_DRIVEN
    With a final drive given for both, what counts is the diameter over it.
    Source: 1 % is common practice, no published source; the maker's own limit where it is given.
    """
    item = FRONT_AND_REAR
    (axle, setup), (axle2, setup2) = sorted((one, other), key=lambda pair: pair[0].name)
    if setup.tire.radial != setup2.tire.radial:
        words = "a radial and a bias-ply tire roll differently on the same diameter"
        return (BoltOn(item, "not_checked", words),)
    size, size2 = overall_diameter(setup.tire), overall_diameter(setup2.tire)
    ratio, ratio2 = (axle.final_drive, axle2.final_drive) if axle.final_drive and axle2.final_drive else (1.0, 1.0)
    apart = 100 * abs(size / ratio / (size2 / ratio2) - 1)
    allowed = BETWEEN_DRIVEN if tolerance is None else tolerance
    sized = {f"{at.name.replace(' ', '_')}_mm": each for at, each in ((axle, size), (axle2, size2))}
    figures = numbers(**sized, apart_percent=apart, allowed_percent=allowed)
    sizes = f"{axle.name} {size:g} mm, {axle2.name} {size2:g} mm"
    differ = (
        f"{apart:.1f} % apart" + (" through their final drives" if ratio != ratio2 else "") if apart else "the same"
    )
    words = f"{sizes}, {differ}"
    source = "common practice, no published source" if tolerance is None else "the maker's limit"
    if round(apart, 6) <= allowed:
        return (BoltOn(item, "ok", words, figures),)
    if axle.driven and axle2.driven:
        words = (
            f"the driveline binds: both axles are driven and the tires' diameters are {differ}, {allowed:g} % is the "
            f"most ({source}); {sizes}"
        )
        return (BoltOn(item, "caution" if tolerance is None else "fail", words, figures),)
    return (BoltOn(item, "not_checked", f"{words}. {_not_joined(axle, axle2)}", figures),)


def front_and_rear_unknown(one: Axle, other: Axle) -> tuple[BoltOn, ...]:
    """The same while the build names no tire for the other axle: open only where a driveline joins them."""
    if not (one.driven and other.driven):
        return ()
    words = f"both axles are driven, but the build names no tire for the {other.name}"
    return (BoltOn(FRONT_AND_REAR, "not_checked", words),)


def _not_joined(one: Axle, other: Axle) -> str:
    driven = [axle_of(axle.name) for axle in (one, other) if axle.driven]
    who = "The profile names no driven axle"
    if driven:
        who = f"Only the {driven[0]} axle is driven, so no driveline joins the two axles"
    return f"{who}. What the wheel-speed sensors accept is not in the profile"


def _load_key(_axle: Axle, setup: Setup) -> Hashable:
    tire = setup.tire
    return tire.load_index, tire.family, tire.speed_symbol, setup.wheel.load_rating


def _rim_key(_axle: Axle, setup: Setup) -> Hashable:
    return setup.tire, setup.wheel.rim_diameter, setup.wheel.rim_width


def _speed_key(_axle: Axle, setup: Setup) -> Hashable:
    return setup.tire.speed_symbol, setup.tire.size_mark


CHECKS = (Check("rim", _rim, _rim_key), Check("load", _load, _load_key), Check("speed", _speed, _speed_key))
