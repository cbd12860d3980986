"""The inner joint of an adapter, hub to adapter; the outer one, adapter to wheel, is checked as a wheel on a hub is."""

from __future__ import annotations

from collections.abc import Iterator

from fitment.checks.bolt_on.circle import same
from fitment.checks.bolt_on.result import CENTRED, BoltOn, Check, hundredths, numbers, over
from fitment.checks.bolt_on.studs import engagement, same_thread
from fitment.parts.axle import Axle, Setup
from fitment.parts.hub import Adapter, Hub

CIRCLE, STUDS = "adapter's circle on the hub", "hub studs in the adapter"
POCKETS = "hub studs behind the wheel"


def _inner_joint(axle: Axle, setup: Setup) -> Iterator[BoltOn]:
    adapter, hub = setup.spacer.adapter, axle.hub or Hub()
    if adapter is None:
        return
    if not adapter.has_studs:
        if adapter.register is not None or adapter.bore is not None:
            yield _register(adapter, hub, "spacer")
        return
    yield _circle(adapter, hub)
    yield _register(adapter, hub, "adapter")
    yield _studs(adapter, hub, setup.spacer.thickness)
    if hub.stud_length is not None:
        yield from _pockets(hub.stud_length, setup.spacer.thickness)


def _circle(adapter: Adapter, hub: Hub) -> BoltOn:
    if hub.bolt_circle is None:
        return BoltOn(CIRCLE, "not_checked", "the profile does not tell the hub's bolt circle; measure it")
    if adapter.hub_circle is None:
        words = f"ask the seller which circle the adapter is drilled with; the hub has {hub.bolt_circle}"
        return BoltOn(CIRCLE, "not_checked", words)
    return same(CIRCLE, adapter.hub_circle, hub.bolt_circle, ("adapter", "hub"))


def _register(adapter: Adapter, hub: Hub, name: str) -> BoltOn:
    item, step = f"{name}'s bore on the hub", hub.wheel_register
    if step is None:
        return BoltOn(item, "not_checked", "the hub's wheel register is not in the profile; measure its diameter")
    if adapter.bore is None:
        words = f"ask the seller for the {name}'s bore; the hub's register is {step.diameter:g} mm"
        return BoltOn(item, "not_checked", words, numbers(register_mm=step.diameter))
    gap = over(adapter.bore, step.diameter)
    figures = numbers(bore_mm=adapter.bore, register_mm=step.diameter, gap_mm=gap)
    words = f"bore {adapter.bore:g} mm"
    if gap < 0:
        return BoltOn(item, "fail", f"{words} is {-gap:.1f} mm too small for {step.diameter:g} mm", figures)
    if gap <= CENTRED:
        return BoltOn(item, "ok", f"{words} sits on the {step.diameter:g} mm register", figures)
    return BoltOn(
        item, "caution",
        f"{words} is {gap:.1f} mm larger than the {step.diameter:g} mm register: {name} and wheel can stand "
        f"{hundredths(gap / 2)} mm off centre", figures,
    )  # fmt: skip


def _studs(adapter: Adapter, hub: Hub, thickness: float) -> BoltOn:
    if hub.stud is None or hub.stud_length is None:
        words = "stud thread or length beyond the mounting face is not in the profile"
        return BoltOn(STUDS, "not_checked", words)
    if hub.nut is not None and same_thread(hub.stud, hub.nut) is False:
        words = f"{hub.nut} nuts on {hub.stud} studs: another thread; they jam or strip and must not be forced"
        return BoltOn(STUDS, "fail", words)
    if adapter.seat_thickness is None:
        words = "ask the seller how thick the adapter's metal is under the hub's nuts"
        return BoltOn(STUDS, "not_checked", f"{words} ({hub.stud_length:g} mm of {hub.stud} stand past the hub face)")
    if adapter.seat_thickness > thickness:
        words = (
            f"seat_thickness {adapter.seat_thickness:g} mm is more than the adapter's {thickness:g} mm; measure again"
        )
        return BoltOn(STUDS, "not_checked", words)
    return engagement(STUDS, hub.stud, over(hub.stud_length, adapter.seat_thickness), "adapter's nut seat")


def _pockets(length: float, thickness: float) -> Iterator[BoltOn]:
    out = over(length, thickness)
    if out > 0:
        yield BoltOn(
            POCKETS, "caution",
            f"the hub's studs stand {out:g} mm past the adapter's face: the wheel seats only if its back has pockets "
            "there at least that deep", numbers(past_face_mm=out),
        )  # fmt: skip


CHECKS = (Check("adapter", _inner_joint, lambda _axle, setup: setup.spacer),)
