"""The order sheet as a PDF to print and tick: boxes, what is ordered, what to confirm, room for the seller's answer.

A drawing explains the words, by the letters of the rows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from matplotlib.patches import Rectangle

from fitment.answers.order_sheet import AxleOrder
from fitment.draw.lettering import column, letter
from fitment.draw.printed.paper import MARGIN, Page, fitted, new_page, paper_size, pdf, pitch, window, wrap
from fitment.draw.printed.sketch import HEIGHT, Sketch
from fitment.draw.printed.wheel_section import explain_wheel
from fitment.draw.style import HAIR, LIGHT, LINE, THIN, look, words
from fitment.report.order_sheet import NOT_CLEAR, TERMS, WORDS_TITLE, Block, OrderPage, OrderRow, order_page

TITLE, HEAD, BODY, SMALL = 16.0, 10.0, 8.5, 7.0  # [pt]
BOX, LETTER, ITEM, ORDER, ANSWER, GAP = 6.0, 5.0, 25.0, 33.0, 44.0, 3.0  # [mm] columns
LEAST_ROW = 8.0  # [mm] height of a row to write in
FOOT = 8.0  # [mm] kept free at the bottom for the page's number
INDENT = 4.0  # [mm] of a paragraph behind its dash
DRAWING = (86.0, 51.6)  # [mm] of the wheel's section
MOST_PAGES = 2  # of an axle
TIGHTER = (1.0, 0.94, 0.88, 0.82, 0.76)  # the type of an axle that has more to say is smaller


@dataclass
class _Flow:
    """Pages filled from the top; a new one is begun when something does not fit.

    scale : of the type; level : height of the next line on the last page [mm]
    """

    paper: str
    name: str
    scale: float = 1.0
    pages: list[Page] = field(default_factory=list)
    level: float = 0.0

    @property
    def page(self) -> Page:
        return self.pages[-1]

    @property
    def width(self) -> float:
        return self.page.width - 2 * MARGIN

    def turn(self) -> None:
        """A new page."""
        self.pages.append(new_page(self.paper))
        self.level = self.page.height - MARGIN

    def room(self, height: float) -> None:
        """A new page unless so much [mm] is left on this one."""
        if not self.pages or self.level - height < MARGIN + FOOT:
            self.turn()

    def pitch(self, size: float) -> float:
        """From one line of type to the next [mm]."""
        return pitch(size * self.scale)

    def wrap(self, text: str, width: float, size: float, *, bold: bool = False) -> list[str]:
        """The text in lines no wider than so much [mm]."""
        return wrap(text, width, size * self.scale, bold)

    def lines(self, lines: Sequence[str], left: float, size: float, color: str = LIGHT.ink, **more: Any) -> None:
        """Lines of type from the level down; the level stays."""
        size *= self.scale
        column(self.page.ax, MARGIN + left, self.level, lines, pitch(size), color, size, va="top", **more)

    def rule(self, width: float, color: str = LIGHT.ink) -> None:
        """A line across the page at the level; width [pt]."""
        self.page.ax.plot([MARGIN, self.page.width - MARGIN], [self.level] * 2, color=color, linewidth=width)


def order_pdf(orders: Sequence[AxleOrder], *, units: str = "mm", paper: str = "a4") -> bytes:
    """Every axle on pages of its own. Raises FitmentError for an unknown paper."""
    paper_size(paper)
    with look():
        flows = [_two_pages(order_page(order, units), paper) for order in orders]
        pages = [page for flow in flows for page in flow.pages]
        for flow in flows:
            for page in flow.pages:
                _number(page, flow.name, pages.index(page) + 1, len(pages))
        return pdf(
            [page.figure for page in pages], f"Order sheet: {orders[0].case.ready.profile.name}, {_about(orders)}"
        )


def _about(orders: Sequence[AxleOrder]) -> str:
    """Axles and builds, for the title."""
    return " and ".join(f"{order.case.fit.axle.title}, build {order.case.ready.build}" for order in orders)


def _two_pages(sheet: OrderPage, paper: str) -> _Flow:
    """An axle in the largest type that leaves it on two pages, else in the smallest."""
    for scale in TIGHTER:
        flow = _axle(sheet, paper, scale)
        if len(flow.pages) <= MOST_PAGES:
            break
    return flow


def _axle(sheet: OrderPage, paper: str, scale: float) -> _Flow:
    flow = _Flow(paper, words(sheet.head, 110), scale)
    flow.turn()
    flow.lines(["Order sheet"], 0.0, TITLE, bold=True)
    flow.level -= flow.pitch(TITLE) + 1
    for text, size in ((sheet.head, HEAD), (sheet.setup, BODY)):
        lines = flow.wrap(words(text, 200), flow.width, size)
        flow.lines(lines, 0.0, size)
        flow.level -= len(lines) * flow.pitch(size)
    flow.level -= 1
    verdict = sheet.verdict if sheet.clears else f"{sheet.verdict}. {NOT_CLEAR}"
    flow.lines([verdict], 0.0, HEAD, bold=True)
    flow.level -= flow.pitch(HEAD) + 0.5
    flow.rule(LINE)
    _words(flow)
    for block in sheet.blocks:
        _block(flow, block)
    _signature(flow)
    return flow


def _words(flow: _Flow) -> None:
    """A wheel cut through, with the letters of the rows, and beside it what the words mean."""
    flow.level -= 2.0
    width, height = DRAWING
    ax = window(flow.page, (MARGIN, flow.level - height), (0.0, 0.0, width, height))
    ax.set_xlim(0, 100)
    ax.set_ylim(0, HEIGHT)
    explain_wheel(Sketch(ax), {item: term.letter for item, term in TERMS.items()})
    top, left = flow.level, width + GAP
    flow.lines([WORDS_TITLE], left, HEAD, bold=True)
    flow.level -= flow.pitch(HEAD) + 0.5
    for term in TERMS.values():
        told = flow.wrap(f"{term.name}: {term.meaning}", flow.width - left - LETTER, SMALL)
        flow.lines([term.letter], left, SMALL, bold=True)
        flow.lines(told, left + LETTER, SMALL)
        flow.level -= len(told) * flow.pitch(SMALL) + 0.4
    flow.level = min(flow.level, top - height)


def _block(flow: _Flow, block: Block) -> None:
    flow.room(flow.pitch(HEAD) + 12)
    flow.level -= 2.5
    flow.lines([block.title], 0.0, HEAD, bold=True)
    if block.rows:
        flow.lines(["seller's answer"], flow.width - ANSWER, SMALL, LIGHT.quiet)
    flow.level -= flow.pitch(HEAD)
    if block.rows:
        flow.rule(THIN)
    for row in block.rows:
        _row(flow, row)
    for paragraph in block.paragraphs:
        _paragraph(flow, paragraph)


def _row(flow: _Flow, row: OrderRow) -> None:
    middle = BOX + LETTER + ITEM + GAP
    left = middle + ORDER + GAP
    asked = flow.wrap(row.ask, flow.width - ANSWER - GAP - left, BODY)
    ordered = flow.wrap(row.order, ORDER, BODY, bold=True)
    height = max(LEAST_ROW, max(len(asked), len(ordered)) * flow.pitch(BODY) + 2.0)
    flow.room(height)
    at = MARGIN + flow.width - ANSWER - GAP / 2
    flow.page.ax.plot([at, at], [flow.level, flow.level - height], color=LIGHT.faint, linewidth=HAIR)
    flow.level -= 1.0
    flow.page.ax.add_patch(
        Rectangle((MARGIN + 0.3, flow.level - 3.4), 3.2, 3.2, facecolor="none", edgecolor=LIGHT.ink, linewidth=THIN)
    )
    flow.lines([row.letter], BOX, BODY, bold=True)
    flow.lines([row.item], BOX + LETTER, BODY)
    flow.lines(ordered, middle, BODY, bold=True)
    flow.lines(asked, left, BODY, LIGHT.quiet)
    flow.level -= height - 1.0
    flow.rule(HAIR, LIGHT.faint)


def _paragraph(flow: _Flow, text: str) -> None:
    lines = flow.wrap(words(text, 2000), flow.width - INDENT, BODY)
    height = len(lines) * flow.pitch(BODY) + 0.8
    flow.room(height)
    flow.lines(["-"], 0.0, BODY)
    flow.lines(lines, INDENT, BODY)
    flow.level -= height


def _signature(flow: _Flow) -> None:
    flow.room(16)
    flow.level -= 11
    share = (flow.width - 2 * GAP) / 3
    for i, what in enumerate(("seller", "order number", "date")):
        left = MARGIN + i * (share + GAP)
        flow.page.ax.plot([left, left + share], [flow.level] * 2, color=LIGHT.ink, linewidth=THIN)
        letter(flow.page.ax, left, flow.level - 1, what, LIGHT.quiet, SMALL, va="top")
    flow.level -= 5


def _number(page: Page, name: str, number: int, count: int) -> None:
    name = fitted(name, page.width - 2 * MARGIN - 30, SMALL)
    looks: dict[str, Any] = {"color": LIGHT.quiet, "size": SMALL, "va": "bottom"}
    letter(page.ax, MARGIN, MARGIN, name, **looks)
    letter(page.ax, page.width - MARGIN, MARGIN, f"page {number} of {count}", ha="right", **looks)
