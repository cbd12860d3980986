"""What centres wheel and rotor: bores on registers, rings, and how far off a part without one can be clamped."""

from __future__ import annotations

from collections.abc import Hashable, Iterator

from fitment.checks.bolt_on.result import CENTRED, BoltOn, Check, adapter_of, hundredths, numbers, over
from fitment.checks.bolt_on.runout import play, shake, shake_numbers, shake_words
from fitment.parts.axle import Axle, Setup
from fitment.parts.brake import Rotor
from fitment.parts.hub import Register

BORE, NOSE = "centre bore", "hub register in the wheel"
LEAST_LENGTH = 3.0  # [mm] of a step that still centres: chamfers take as much; common practice, no published source


# ---------------------------------------------------------------- the wheel


def _wheel_step(axle: Axle, setup: Setup) -> Register | None:
    """The step that the wheel's bore meets: the spacer's own, else the hub's, with the length left of it."""
    adapter = setup.spacer.adapter
    if adapter is not None and (adapter.register is not None or adapter.has_studs):
        return None if adapter.register is None else Register(adapter.register, adapter.register_length)
    register = axle.hub.wheel_register if axle.hub else None
    if register is None or register.length is None:
        return register
    return Register(register.diameter, over(register.length, setup.spacer.thickness))


def _bore(axle: Axle, setup: Setup) -> Iterator[BoltOn]:
    bore, step = setup.wheel.centre_bore, _wheel_step(axle, setup)
    if bore is None:
        yield BoltOn(BORE, "not_checked", "the wheel's spec does not tell its bore; ask the seller")
    elif step is None and adapter_of(setup):
        words = f"ask the seller which register the adapter has for the wheel's {bore:g} mm bore"
        yield BoltOn(BORE, "not_checked", words, numbers(bore_mm=bore))
    elif step is None:
        yield BoltOn(BORE, "not_checked", "the hub's wheel register is not in the profile; measure its diameter")
    else:
        yield _bore_on(axle, setup, bore, step)
    yield from _nose(axle, setup)
    yield from _register_left(axle, setup)


def _nose(axle: Axle, setup: Setup) -> Iterator[BoltOn]:
    """The hub's own register where it stands out of a spacer or adapter that has another step: the bore passes it."""
    register, bore, spacer = axle.hub.wheel_register if axle.hub else None, setup.wheel.centre_bore, setup.spacer
    adapter = spacer.adapter
    if register is None or bore is None or bore >= register.diameter:
        return
    if adapter is None or (adapter.register is None and not adapter.has_studs):
        return  # the bore meets the register itself
    if register.length is None:
        words = (
            f"measure how far the {register.diameter:g} mm register stands past the hub face: if it comes through the "
            f"spacer, the wheel's {bore:g} mm bore does not go over it"
        )
        yield BoltOn(NOSE, "not_checked", words)
    elif register.length > spacer.thickness:
        out = over(register.length, spacer.thickness)
        yield BoltOn(
            NOSE, "fail",
            f"the hub's {register.diameter:g} mm register stands {out:g} mm past the spacer's face, and the wheel's "
            f"{bore:g} mm bore does not pass over it",
            numbers(bore_mm=bore, register_mm=register.diameter, past_face_mm=out),
        )  # fmt: skip


def _bore_on(axle: Axle, setup: Setup, bore: float, step: Register) -> BoltOn:
    gap, spacer = over(bore, step.diameter), setup.spacer.thickness
    figures = numbers(bore_mm=bore, register_mm=step.diameter, gap_mm=gap)
    if step.length is not None and step.length <= 0:
        words = (
            f"only the nuts centre the wheel: the {step.diameter:g} mm register does not reach the wheel's {bore:g} mm "
            "bore"
        )
        return BoltOn(BORE, "caution", words, figures)
    if gap < 0:
        words = f"bore {bore:g} mm is {-gap:.1f} mm too small for {step.diameter:g} mm"
        if spacer and step.length is None:
            return BoltOn(
                BORE, "caution", f"{words}, unless the spacer covers the register: measure its length", figures
            )
        return BoltOn(BORE, "fail", words, figures)
    if gap <= CENTRED:
        return BoltOn(BORE, "ok", f"bore {bore:g} mm sits on the {step.diameter:g} mm register", figures)
    return _loose(axle, setup, bore, step.diameter)


def _loose(axle: Axle, setup: Setup, bore: float, step: float) -> BoltOn:
    """A wheel that its register does not centre."""
    gap, wheel = over(bore, step), setup.wheel
    owner = adapter_of(setup) or axle.hub
    off = play(gap, wheel.stud_hole, owner.stud if owner else None)
    known = wheel.mass is not None and setup.tire.mass is not None
    mass = (wheel.mass or 0.0) + (setup.tire.mass or 0.0) if known else 1.0
    shaken = shake(axle, setup, mass, off.counted)
    whose = f"{mass:g} kg of wheel and tire" if known else "each 1 kg of wheel and tire"
    return BoltOn(
        BORE, "caution",
        f"needs a centring ring, {bore:g} mm outside and {step:g} mm inside: the bore is {gap:.1f} mm larger than the "
        f"register. Without the ring only the nuts centre the wheel, at worst {hundredths(off.largest)} mm off centre. "
        f"{shake_words(off, whose, shaken)}",
        (*numbers(bore_mm=bore, register_mm=step, gap_mm=gap, ring_outer_mm=bore, ring_inner_mm=step),
         *shake_numbers(off, mass, shaken)),
    )  # fmt: skip


def _register_left(axle: Axle, setup: Setup) -> Iterator[BoltOn]:
    """Whether a step of some length is left to centre the wheel on, and does not stand out of its pad."""
    adapter, spacer = setup.spacer.adapter, setup.spacer.thickness
    own_step = adapter is not None and adapter.register is not None
    step = _wheel_step(axle, setup)
    if spacer and not own_step and step is not None:
        yield _past_spacer(axle, step, spacer)
    elif step is not None and step.length is not None and 0 < step.length < LEAST_LENGTH:
        words = (
            f"the register is only {step.length:g} mm long; the chamfers on register and bore may leave nothing of it"
        )
        yield BoltOn("register length", "caution", words, numbers(length_mm=step.length))
    pad = setup.wheel.pad_thickness
    if pad is not None and step is not None and step.length is not None and step.length > pad:
        words = f"the register stands {over(step.length, pad):g} mm past the {pad:g} mm pad"
        ask = "look whether the centre cap leaves room"
        yield BoltOn("register length", "caution", f"{words}: {ask}", numbers(length_mm=step.length, pad_mm=pad))


def _past_spacer(axle: Axle, step: Register, spacer: float) -> BoltOn:
    item = "register past spacer"
    if step.length is None:
        return BoltOn(item, "not_checked", "the register's length is not measured")
    whole = axle.hub.wheel_register.length if axle.hub and axle.hub.wheel_register else None
    figures = numbers(spacer_mm=spacer, register_length_mm=whole, left_mm=max(step.length, 0.0))
    if step.length <= 0:
        return BoltOn(
            item, "caution",
            f"the spacer, {spacer:g} mm thick, covers the register, {whole:g} mm long: the wheel is not centred on the "
            "hub unless the spacer has a register of its own", figures,
        )  # fmt: skip
    words = f"{over(step.length, 0):g} mm of the register stands past the spacer"
    if step.length < LEAST_LENGTH:
        return BoltOn(
            item, "caution", f"only {words}; the chamfers on register and bore may leave nothing of it", figures
        )
    return BoltOn(item, "ok", words, figures)


def _bore_key(_axle: Axle, setup: Setup) -> Hashable:
    wheel = setup.wheel
    return (
        wheel.centre_bore, wheel.pad_thickness, wheel.stud_hole, wheel.mass, wheel.rim_diameter, setup.tire,
        setup.spacer,
    )  # fmt: skip


# ---------------------------------------------------------------- the rotor


def _rotor(axle: Axle, setup: Setup) -> Iterator[BoltOn]:
    item = "rotor register"
    rotor = axle.brake.rotor if axle.brake else None
    register = (axle.hub.rotor_register or axle.hub.wheel_register) if axle.hub else None
    if rotor is None or rotor.bore is None or register is None:
        yield BoltOn(item, "not_checked", "rotor bore or rotor register is not in the profile")
        return
    gap = over(rotor.bore, register.diameter)
    figures = numbers(bore_mm=rotor.bore, register_mm=register.diameter, gap_mm=gap)
    if gap < 0:
        words = f"rotor bore {rotor.bore:g} mm is {-gap:.1f} mm too small for the {register.diameter:g} mm register"
        yield BoltOn(item, "fail", words, figures)
    elif gap <= CENTRED:
        yield BoltOn(item, "ok", f"bore {rotor.bore:g} mm sits on the {register.diameter:g} mm register", figures)
    else:
        yield _hanging(axle, setup, rotor, rotor.bore, register.diameter)
    yield from _step_through_hat(axle, setup)


def _hanging(axle: Axle, setup: Setup, rotor: Rotor, bore: float, step: float) -> BoltOn:
    """A rotor that its step does not centre: clamped by the wheel wherever it happens to lie."""
    gap, mass = over(bore, step), rotor.mass or 1.0
    off = play(gap, rotor.stud_hole, axle.hub.stud if axle.hub else None)
    shaken = shake(axle, setup, mass, off.counted)
    whose = f"its {mass:g} kg" if rotor.mass else "each 1 kg of it"
    return BoltOn(
        "rotor register", "caution",
        f"rotor bore {bore:g} mm is {gap:.1f} mm larger than the {step:g} mm register: it can be clamped up to "
        f"{hundredths(off.largest)} mm off centre and will shake at speed. {shake_words(off, whose, shaken)}",
        (*numbers(bore_mm=bore, register_mm=step, gap_mm=gap), *shake_numbers(off, mass, shaken)),
    )  # fmt: skip


def _step_through_hat(axle: Axle, setup: Setup) -> Iterator[BoltOn]:
    """A rotor step longer than the hat is thick carries the wheel, or the spacer, in place of the rotor."""
    step = axle.hub.rotor_register if axle.hub else None
    hat = axle.brake.rotor.hat_thickness if axle.brake and axle.brake.rotor else None
    spacer = setup.spacer
    bore = setup.wheel.centre_bore if not spacer.thickness else spacer.adapter.bore if spacer.adapter else None
    what = "spacer" if spacer.thickness else "wheel"
    if step is None or step.length is None or hat is None or bore is None or bore >= step.diameter:
        return
    if step.length > hat:
        yield BoltOn(
            "rotor clamped", "fail",
            f"the {what} would seat on the hub's rotor register and leave the rotor loose: the register is "
            f"{step.length:g} mm long, the rotor's hat {hat:g} mm thick",
            numbers(step_length_mm=step.length, hat_mm=hat),
        )  # fmt: skip


def _rotor_key(_axle: Axle, setup: Setup) -> Hashable:
    return setup.wheel.centre_bore, setup.wheel.rim_diameter, setup.tire, setup.spacer


CHECKS = (Check("wheel register", _bore, _bore_key), Check("rotor register", _rotor, _rotor_key))
