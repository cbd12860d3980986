"""The sheet to order by, as blocks that text and PDF are made of, as text and as JSON."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from fitment.corners import axle_of, side_of
from fitment.report.builds import WITH_THIS_BUILD, cautions_json, clearance_words, verdict_words
from fitment.report.common import VERDICT_WORDS, bolt_on_json, head_json, setup_words, wrapped
from fitment.report.in_service import open_in_service, service_json, service_words
from fitment.report.readings import slip_words
from fitment.units import MM_PER_INCH, in_units

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.answers.order_sheet import AxleOrder, Line
    from fitment.checks.bolt_on import BoltOn
    from fitment.checks.full_case import FullCase

HEADINGS = {"wheel": "Wheels", "tire": "Tires", "hardware": "Hardware"}
NOT_CLEAR = "Do not order as it stands: the setup does not clear."
WORDS_TITLE = "What the words mean"
GENERAL = (
    "the bulge of a standing tire, parts that were not measured, the wheel's real inner shape and its finish, balance "
    "weights and valves, what a hot brake or a worn bushing takes"
)


@dataclass(frozen=True)
class Term:
    """A word of the sheet: its letter in the drawing, as the sheet says it, what it means."""

    letter: str
    name: str
    meaning: str


TERMS: dict[str, Term] = {
    "size": Term("A", "size", "inches across x inches wide; the width is between the bead seats, where the tire sits"),
    "offset": Term(
        "B", "offset", "from the rim's centre line to the mounting face; ET30 lies 30 mm outboard, ET-30 inboard"
    ),
    "overall width": Term("C", "overall width", "over both flanges, the outer edges of the rim"),
    "bolt circle": Term("D", "bolt circle", "number of stud holes x diameter of the circle through their middles"),
    "centre bore": Term("E", "centre bore", "the hole in the middle; it sits on the hub's ring, the register"),
    "pad": Term("F", "pad", "the wheel's thickness where it is bolted on, from mounting face to nut seat"),
    "stud holes": Term("G", "stud holes", "diameter of the holes that the studs go through"),
    "nut seat": Term("H", "nut seat", "the face that a nut presses on, and its shape: cone, ball or flat"),
    "barrel": Term("J", "barrel", "the round inside of the rim, over the brake; its clear diameter (half is drawn)"),
    "spokes": Term("K", "spoke back", "the side of the spokes towards the brake; its place from the mounting face"),
}
"""By a line's item"""


@dataclass(frozen=True)
class OrderRow:
    """A line to tick: what, what is ordered, what to have confirmed; letter : in the drawing, where it has one."""

    item: str
    order: str
    ask: str
    letter: str = ""


@dataclass(frozen=True)
class Block:
    """A part of the sheet: rows to tick, or paragraphs."""

    title: str
    rows: tuple[OrderRow, ...] = ()
    paragraphs: tuple[str, ...] = ()


@dataclass(frozen=True)
class OrderPage:
    """One axle of the sheet in words.

    head : vehicle, axle and build; verdict : its word; setup : what it is about
    """

    head: str
    verdict: str
    clears: bool
    setup: str
    blocks: tuple[Block, ...]


def order_page(order: AxleOrder, units: str = "mm") -> OrderPage:
    """One axle in words, lengths in the units asked for."""
    case, verdict = order.case, order.case.fit.verdict
    head = f"{case.ready.profile.name}, {_for_which(case)}, build {case.ready.build}"
    return OrderPage(
        head, VERDICT_WORDS[verdict], verdict == "clears", setup_words(case.fit.setup, units), _blocks(order, units)
    )


def _blocks(order: AxleOrder, units: str) -> tuple[Block, ...]:
    from fitment.answers.order_sheet import SAFETY

    first = Block("To settle first", paragraphs=tuple(_settle(order, units)))
    rows = [
        Block(title, tuple(_row(line, units) for line in order.lines if line.part == part))
        for part, title in HEADINGS.items()
    ]
    text = [
        Block("Checked", paragraphs=tuple(in_units(words, units) for words in _checked(order, units))),
        Block("Not checked", paragraphs=tuple(_not_checked(order, units))),
        Block(WITH_THIS_BUILD, paragraphs=tuple(in_units(words, units) for words in order.case.caused)),
        Block("Safety", paragraphs=tuple(in_units(words, units) for words in (*order.case.standing, *SAFETY))),
    ]
    return tuple(block for block in (first, *rows, *text) if block.rows or block.paragraphs)


def _row(line: Line, units: str) -> OrderRow:
    term = TERMS.get(line.item) if line.part == "wheel" else None
    item, letter = (line.item, "") if term is None else (term.name, term.letter)
    return OrderRow(item, _both(line.order, units), _both(line.ask, units), letter)


def _both(text: str, units: str) -> str:
    """In inches every length in both units: what is ordered is made and sold by the millimetre everywhere."""
    if units != "in":
        return text
    pieces = _LENGTH.split(text)  # words, length, words, length, ...
    return "".join(_beside(piece) if index % 2 else in_units(piece, units) for index, piece in enumerate(pieces))


_LENGTH = re.compile(
    r"((?:at least |at most |no more than )?(?<!studs on )(?<![\d.])\d+(?:\.\d+)? mm\b(?: \([^()]* in\))?)"
)
_BY_CALIPER = 150.0  # what calipers in a shop reach [mm]; what is larger is read by tape


def _beside(text: str) -> str:
    """A length with its inches behind it: thousandths where calipers reach, else hundredths, on its safe side."""
    if text.endswith(")"):
        return text
    mm = float(text.split()[-2])
    inch = f"{mm / MM_PER_INCH:.3f} in" if mm < _BY_CALIPER else re.sub(r"^\D*", "", in_units(text, "in"))
    return f"{text} ({inch})"


def _settle(order: AxleOrder, units: str) -> Iterator[str]:
    """What keeps the setup from clearing, and every caution."""
    fit, slip = order.case.fit, slip_words(order.case.ready)
    if slip:
        yield in_units(slip, units)
    if any(min(entry.clearance, entry.margin, entry.worst_case) < 0 for entry in fit.clearances):
        yield clearance_words(order.case, units)
    if fit.is_tight_in_service:
        yield service_words(fit, units)
    for check in order.checks:
        if check.status in ("fail", "caution"):
            yield _said(check, order, units)


def _said(check: BoltOn, order: AxleOrder, units: str) -> str:
    """A check in its words; what stands at rest on the ground was read by tape."""
    return in_units(f"{check.item}: {check.detail}", units, tape=check in order.case.on_ground)


def _checked(order: AxleOrder, units: str) -> Iterator[str]:
    fit = order.case.fit
    if fit.clearances:
        names = dict.fromkeys(entry.obstacle for entry in fit.clearances)
        axle = fit.axle
        lock = " and from lock to lock" if axle.steering else ""
        yield f"tire and wheel against {', '.join(names)}, travel {axle.droop:+g} to {axle.bump:+g} mm{lock}"
        if fit.verdict == "clears":
            yield verdict_words(order.case, units)
    passed = [check.item for check in order.checks if check.status == "ok"]
    if passed:
        yield f"found in order: {', '.join(passed)}"


def _not_checked(order: AxleOrder, units: str) -> Iterator[str]:
    fit = order.case.fit
    for name, reason in fit.not_checked:
        yield in_units(f"{name}, because {reason}", units)
    for words in order.case.ready.rests_on:
        yield in_units(words, units)
    if not fit.clearances:
        yield "clearances, because no part near the wheel was checked"
    asked = [check.item for check in order.checks if check.asks_seller]
    if asked:
        yield f"open until the seller answers the lines above: {', '.join(asked)}"
    for check in order.checks:
        if check.status == "not_checked" and not check.asks_seller:
            yield _said(check, order, units)
    if left := open_in_service(fit):
        yield in_units(left, units)
    yield GENERAL


# ---------------------------------------------------------------- text


def order_text(orders: Sequence[AxleOrder], units: str = "mm") -> str:
    """Every axle, one after another; [ ] is ticked when the seller has confirmed the line."""
    return "\n\n".join("\n".join(_page_lines(order_page(order, units))) for order in orders)


def _for_which(case: FullCase) -> str:
    """The axle; where its sides differ and have one setup, the side with the least room is told."""
    axle, side = axle_of(case.fit.axle.name), side_of(case.fit.axle.name)
    if case.mate is None or case.mate.fit.setup != case.fit.setup:
        return f"{case.fit.axle.title}"
    return f"{axle} axle, both sides (the {side} one has the least room)"


def _page_lines(page: OrderPage) -> Iterator[str]:
    yield wrapped(f"ORDER SHEET  {page.head}", first="", rest="  ")
    yield wrapped(f"{page.verdict}  {page.setup}", first="", rest="  ")
    if not page.clears:
        yield NOT_CLEAR
    for block in page.blocks:
        yield f"\n{block.title}"
        for row in block.rows:
            order = f"{row.order}  " if row.order else "________  "
            yield wrapped(f"{order}{row.ask}", first=f"  [ ] {row.item:<16}", rest=" " * 22)
        for paragraph in block.paragraphs:
            yield wrapped(paragraph)
    yield f"\n{WORDS_TITLE}"
    for term in TERMS.values():
        yield wrapped(term.meaning, first=f"  - {term.name:<16}", rest=" " * 20)


# ---------------------------------------------------------------- JSON


def _window_json(order: AxleOrder) -> dict[str, Any] | None:
    """The window as `fitment window` tells it, null where there is none."""
    from fitment.answers.order_sheet import is_open

    if order.window is None or order.window.ends is None:
        return None
    low, high = order.window.ends
    return {
        "offset_min_mm": low.offset,
        "offset_max_mm": high.offset,
        "holds_the_order": low.offset <= order.case.fit.setup.wheel.offset <= high.offset,
        "min_is_end_of_search": is_open(low),
        "max_is_end_of_search": is_open(high),
    }


def order_json(order: AxleOrder) -> dict[str, Any]:
    """One axle of the sheet; lengths in mm."""
    from fitment.answers.order_sheet import SAFETY

    case = order.case
    return {
        **head_json(case),
        "verdict": case.fit.verdict,
        "window": _window_json(order),
        "confirm": [vars(line) for line in order.lines],
        "checks": [bolt_on_json(check) for check in order.checks],
        "not_checked": [{"obstacle": name, "reason": reason} for name, reason in case.fit.not_checked]
        + [{"obstacle": None, "reason": GENERAL}],
        "in_service": service_json(case.fit),
        "cautions": cautions_json(case),
        "safety": list(SAFETY),
    }
