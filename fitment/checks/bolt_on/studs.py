"""Studs and nuts: thread left past the pad, threads that belong together, and the seat of the nuts.

Engagement: at least one diameter in hard metals, 1.5 in aluminium and other soft ones, and at least three threads.
Source: a workmanship specification for equipment, section 15.8.13, whose title was not shown; a general machine rule,
not a law for wheel studs.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator

from fitment.checks.bolt_on.result import BoltOn, Check, adapter_of, numbers, over
from fitment.parts.axle import Axle, Setup
from fitment.parts.hub import SEATS, Thread, parse_thread

LEAST_THREADS = 3  # below that no thread holds; source above
IN_ALUMINIUM = 1.5  # diameters of engagement in aluminium and other soft metals; source above


def _studs(axle: Axle, setup: Setup) -> Iterator[BoltOn]:
    adapter, hub = adapter_of(setup), axle.hub
    stud = adapter.stud if adapter else hub.stud if hub else None
    length = adapter.stud_length if adapter else hub.stud_length if hub else None
    if stud is None or length is None:
        whose = "the adapter's " if adapter else ""
        face = "outer face" if adapter else "mounting face"
        words = f"{whose}stud thread or length beyond the {face} is not in the profile"
        yield BoltOn("studs", "not_checked", words)
        return
    free = over(length, 0.0 if adapter else setup.spacer.thickness)
    pad = setup.wheel.pad_thickness
    if pad is None:
        face = "adapter's face" if adapter else "spacer" if setup.spacer.thickness else "mounting face"
        yield _without_pad(stud, free, face)
    else:
        yield engagement("studs", stud, over(free, pad), "pad")


def engagement(item: str, stud: str, left: float, past: str) -> BoltOn:
    """Whether enough thread stands past the part that the nut presses on.

    stud : thread as written
    left : length of thread past it [mm], zero or less = none
    past : that part, in words
    Source: one diameter, and three threads at least, by a workmanship specification for equipment, section 15.8.13; a
        general machine rule, see the top of the module.
    """
    thread, words = parse_thread(stud), f"{left:g} mm of {stud} stand past the {past}"
    if left <= 0:
        words = f"the stud ends {abs(left):g} mm inside the {past}: no thread for the nut"
        return BoltOn(item, "fail", words, numbers(past_pad_mm=left))
    if thread is None:
        return BoltOn(item, "not_checked", f"{words}; the thread is not one this program knows")
    need, figures = thread.diameter, _thread_numbers(left, thread)
    if thread.pitch is not None and left < LEAST_THREADS * thread.pitch:
        words = f"{words}: fewer than {LEAST_THREADS} threads hold nothing; one diameter is {need:g} mm"
        return BoltOn(item, "fail", words, figures)
    if left < need:
        least = f"less than one thread diameter ({need:g} mm), the least by a general machine rule"
        return BoltOn(item, "caution", f"{words}, {least}", figures)
    turns = f"count {need / thread.pitch:.1f} turns of the nut" if thread.pitch else "count the turns of the nut"
    soft = f"; aluminium nuts need {IN_ALUMINIUM * need:g} mm" if left < IN_ALUMINIUM * need else ""
    return BoltOn(item, "ok", f"{words}, one thread diameter is {need:g} mm; {turns}{soft}", figures)


def _thread_numbers(left: float, thread: Thread) -> tuple[tuple[str, float], ...]:
    turns = None if thread.pitch is None else thread.diameter / thread.pitch
    return numbers(past_pad_mm=left, diameter_mm=thread.diameter, turns_for_one_diameter=turns)


def _without_pad(stud: str, free: float, face: str) -> BoltOn:
    """What can be said while the pad's thickness is unknown: no pad makes more of the stud."""
    thread, figures = parse_thread(stud), numbers(past_face_mm=free)
    if free <= 0:
        return BoltOn("studs", "fail", f"the spacer is {abs(free):g} mm thicker than the studs are long", figures)
    if thread is not None and free < thread.diameter:
        words = (
            f"the nut gets at most {free:g} mm of {stud}, less than one thread diameter ({thread.diameter:g} mm), and "
            "the pad still takes from that"
        )
        return BoltOn("studs", "fail", words, figures)
    most = f"; a pad no thicker than {over(free, thread.diameter):g} mm leaves the nut one diameter" if thread else ""
    ask = "pad thickness at the stud holes is unknown; ask the seller"
    return BoltOn("studs", "not_checked", f"{ask} ({free:g} mm of {stud} stand past the {face}{most})", figures)


# ---------------------------------------------------------------- nuts


def _nuts(axle: Axle, setup: Setup) -> Iterator[BoltOn]:
    adapter, hub, wheel = adapter_of(setup), axle.hub, setup.wheel
    owner = adapter or hub
    stud, nut, nut_seat = (owner.stud, owner.nut, owner.nut_seat) if owner else (None, None, None)
    wrong = [*_wrong_thread(stud, nut), *_wrong_seat(nut_seat, wheel.seat), *_wrong_hole(stud, wheel.stud_hole)]
    if wrong:
        yield BoltOn("nuts", "fail", "; ".join(wrong), numbers(stud_hole_mm=wheel.stud_hole))
        return
    open_words = _open(stud, nut, nut_seat, wheel.seat)
    if open_words:
        yield BoltOn("nuts", "not_checked", open_words)
    else:
        angle = {"cone": "; cones differ in angle, compare it", "ball": "; balls differ in radius, compare it"}
        words = f"{nut} with a {nut_seat} seat, as studs and wheel have{angle.get(str(nut_seat), '')}"
        yield BoltOn("nuts", "ok", words, numbers(stud_hole_mm=wheel.stud_hole))


def _open(stud: str | None, nut: str | None, nut_seat: str | None, seat: str | None) -> str:
    """What is still to be settled, or an empty text."""
    kinds = f"{', '.join(SEATS[:-1])} or {SEATS[-1]}"
    words = [] if seat else [f"ask the seller which seat the wheel has ({kinds})"]
    if nut_seat is None:
        words.append(f"the nuts must have {'the same' if seat is None else f'a {seat} seat'}")
    elif seat is None:
        words.append(f"the nuts have a {nut_seat} seat")
    if nut is None:
        words.append(f"their thread must be {stud or 'that of the studs, which is not in the profile'}")
    elif stud is None:
        words.append(f"compare their thread, {nut}, with the studs")
    return "; ".join(words)


def same_thread(one: str, other: str) -> bool | None:
    """Whether two designations are one thread; None where one leaves out its pitch or is not known.

    >>> same_thread("M14x1.5", "m14X1.50"), same_thread("1/2-20", "M12x1.25"), same_thread("M12x1.5", "M12x1.25")
    (True, False, False)
    """
    a, b = parse_thread(one), parse_thread(other)
    if a is None or b is None or (a.diameter == b.diameter and None in (a.pitch, b.pitch)):
        return None
    return a == b


def _wrong_thread(stud: str | None, nut: str | None) -> Iterator[str]:
    if stud is None or nut is None or same_thread(stud, nut) is not False:
        return
    a, b = parse_thread(stud), parse_thread(nut)
    near = "the same diameter, another pitch" if a and b and a.diameter == b.diameter else "another thread"
    yield f"{nut} nuts on {stud} studs: {near}; they jam or strip and must not be forced"


def _wrong_seat(nut_seat: str | None, seat: str | None) -> Iterator[str]:
    if seat is not None and nut_seat is not None and seat != nut_seat:
        yield f"{nut_seat}-seat nuts in the wheel's {seat} seats: they bear on an edge and work loose"


def _wrong_hole(stud: str | None, hole: float | None) -> Iterator[str]:
    thread = parse_thread(stud) if stud else None
    if hole is not None and thread is not None and hole <= thread.diameter:
        yield f"the wheel's {hole:g} mm stud holes do not pass {stud} studs ({thread.diameter:g} mm)"


def _studs_key(_axle: Axle, setup: Setup) -> Hashable:
    return setup.wheel.pad_thickness, setup.spacer


def _nuts_key(_axle: Axle, setup: Setup) -> Hashable:
    return setup.wheel.seat, setup.wheel.stud_hole, setup.spacer.adapter


CHECKS = (Check("studs", _studs, _studs_key), Check("nuts", _nuts, _nuts_key))
