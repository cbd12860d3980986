"""Sheets to print and fill in at the vehicle: cautions, drawings of each reading, and boxes to write in.

The same questions, in the same order and under the same numbers, are asked at the terminal. One layout fits both A4
and letter paper.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache, partial

from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.textpath import TextToPath

from fitment.draw.lettering import letter
from fitment.draw.printed.paper import blank, broken, paper_size, pdf
from fitment.draw.printed.sketch import BLACK, BOLD, GREY, HAIR, HEIGHT, PALE, THIN, WHITE, Sketch
from fitment.draw.printed.sketches import SKETCHES
from fitment.draw.style import font, look
from fitment.measuring.questions import ALL, CAUTIONS, TOOLS
from fitment.measuring.questions.builds import BUILDS
from fitment.measuring.questions.forms import Group, Question, SheetRow, chapters, number_of
from fitment.measuring.questions.off_wheels import HARDPOINTS
from fitment.measuring.questions.on_wheels import KINDS
from fitment.measuring.questions.parts import LOWEST, OBSTACLES
from fitment.measuring.questions.words import is_for, rows_for, unit_text, with_text
from fitment.units import MM_PER_INCH, in_units

WIDTH = 7.2  # [in] of what is printed: leaves a margin on either paper
MARGIN = 0.45  # [in] above and below
HOW, ASK, HEAD, TITLE = 8.0, 9.4, 12.5, 19.0  # [pt]
LEADING = 1.28  # of the size of the letters, from line to line
NUMBER, GAP, BOX = 0.48, 0.1, 0.3  # [in] column of numbers, space between things, height of a box
PER_PAGE = 2  # parts that fit on a sheet
SETS = 2  # builds that fit on their sheet
PITCH = 0.155  # [in] between lines of text
SKETCH = (WIDTH - GAP) / 2 * HEIGHT / 100  # [in] height of a drawing
IN_A_BUILD = "In a build: "  # titles of sections that ask again


def worksheet_pdf(kinds: Sequence[str], units: str = "mm", paper: str = "a4", axle: str = "") -> bytes:
    """The sheets as a PDF: the same bytes for the same arguments."""
    return pdf(worksheet_pages(kinds, units, paper, axle), "Measuring sheets")


def worksheet_pages(kinds: Sequence[str], units: str = "mm", paper: str = "a4", axle: str = "") -> list[Figure]:
    """The sheets as figures, one a page.

    kinds : suspensions whose readings are wanted; axle : front or rear, the only one that is filled in, or empty
    """
    with look():
        width, height = (round(size / MM_PER_INCH, 3) for size in paper_size(paper))
        book = Book(units, (width, height), axle)
        chosen = [chapter for chapter in chapters(ALL) if is_for(chapter[2], kinds)]
        _cover(book, chosen)
        for number, _, section in chosen:
            if not _is_again(section):
                _section(book, f"{number}  {section.title}", section, kinds)
        _others(book, chosen, kinds)
        _forms(book, kinds)
        book.number()
    return book.figures


# paper ---------------------------------------------------------------------------------------------------------


class Book:
    """Pages that are filled from the top; places in inches from the upper left corner of what is printed."""

    def __init__(self, units: str, paper: tuple[float, float], axle: str = "") -> None:
        self.units, self.paper, self.axle = units, paper, axle
        self.figures: list[Figure] = []
        self.drawn: set[str] = set()  # names of the drawings on it
        self.title = ""
        self.level, self.length = 0.0, paper[1] - 2 * MARGIN

    @property
    def ax(self) -> Axes:
        return self.figures[-1].axes[0]

    @property
    def corner(self) -> tuple[float, float]:
        """Left and top of what is printed on the paper [in]."""
        return (self.paper[0] - WIDTH) / 2, MARGIN

    def page(self) -> None:
        """Begin a page."""
        figure = blank(*self.paper)
        self.figures.append(figure)
        left, top = self.corner
        ax = figure.add_axes(
            (left / self.paper[0], top / self.paper[1], WIDTH / self.paper[0], self.length / self.paper[1])
        )
        ax.set_axis_off()
        ax.set_xlim(0, WIDTH)
        ax.set_ylim(self.length, 0)
        self.level = 0.0
        self._label()

    def _label(self) -> None:
        """What a loose sheet belongs to."""
        self.text(0, 0.08, "Vehicle", HOW, color=GREY)
        self.rule(0.5, 0.14, 3.1)
        self.text(3.3, 0.08, "Axle", HOW, color=GREY)
        for x, word in ((3.65, "front"), (4.3, "rear")):
            self.tick(x, 0.08, word)
            if word == self.axle:
                self.text(x + 0.06, 0.08, "x", HOW + 2, bold=True, ha="center")
        self.text(5.1, 0.08, "Date", HOW, color=GREY)
        self.rule(5.45, 0.14, WIDTH)
        self.level = 0.36

    def begin(self, title: str) -> None:
        """Begin a page with a heading of its own; the pages after it carry the heading on."""
        self.title = title
        self.page()
        self.heading(title)

    def open(self, title: str, height: float) -> None:
        """Begin a section on this page where its heading and so much below it fit, else on the next."""
        if self.level + 0.58 + height > self.length - 0.2:
            self.begin(title)
            return
        self.level += 0.16
        self.title = title
        self.heading(title)

    def height_of(self, text: str, size: float, width: float = WIDTH, *, bold: bool = False) -> float:
        """What a paragraph takes [in]."""
        return len(wrap(in_units(text, self.units, tape=True), width, size, bold)) * size / 72 * LEADING

    def heading(self, title: str) -> None:
        """A heading in a black bar."""
        self.frame(0, self.level, WIDTH, 0.3, fill=BLACK)
        size = min(HEAD, HEAD * (WIDTH - 0.2) / text_width(title, HEAD, True))
        self.text(0.08, self.level + 0.15, title, size, bold=True, color=WHITE)
        self.level += 0.42

    def room(self, height: float) -> None:
        """Go on on a new page when so much does not fit on this one."""
        if self.level + height > self.length - 0.2:
            self.page()
            self.heading(f"{self.title} (continued)")

    def number(self) -> None:
        """Number the pages when all of them are there."""
        for i, figure in enumerate(self.figures, start=1):
            for x, ha, words in (
                (0, "left", "fitment worksheet; the numbers are those that fitment new asks by"),
                (WIDTH, "right", f"page {i} of {len(self.figures)}"),
            ):
                letter(figure.axes[0], x, self.length - 0.02, words, GREY, HOW - 0.5, va="bottom", ha=ha)

    # ------------------------------------------------------------ marks

    def text(
        self, x: float, y: float, text: str, size: float = HOW, *, bold: bool = False, color: str = BLACK,
        ha: str = "left",
    ) -> None:  # fmt: skip
        letter(self.ax, x, y, text, color, size, bold=bold, ha=ha)

    def paragraph(
        self, x: float, width: float, text: str, size: float = HOW, *, bold: bool = False, level: float | None = None
    ) -> float:  # fmt: skip
        """Words from the present level (or another) down; the height they take."""
        lines = wrap(in_units(text, self.units, tape=True), width, size, bold)
        pitch = size / 72 * LEADING
        top = self.level if level is None else level
        for i, line in enumerate(lines):
            self.text(x, top + (i + 0.5) * pitch, line, size, bold=bold)
        return pitch * len(lines)

    def frame(
        self, x: float, y: float, width: float, height: float, *, line: float = THIN, fill: str = "none"
    ) -> None:  # fmt: skip
        """A rectangle by its upper left corner."""
        self.ax.add_patch(
            Rectangle((x, y), width, height, facecolor=fill, edgecolor=BLACK, linewidth=line, clip_on=False)
        )

    def box(self, x: float, y: float, width: float, height: float = BOX, label: str = "") -> None:
        """A box to write in, its label in the lower right corner."""
        self.frame(x, y, width, height)
        if label:
            self.text(x + width - 0.04, y + height - 0.07, label, HOW - 1.2, color=GREY, ha="right")

    def tick(self, x: float, y: float, word: str) -> float:
        """A small square and its word; how far they reach."""
        self.frame(x, y - 0.06, 0.12, 0.12)
        self.text(x + 0.17, y, word)
        return x + 0.17 + text_width(word, HOW)

    def ticks(self, x: float, y: float, words: Sequence[str], right: float = WIDTH) -> float:
        """Squares with words, on as many lines as they need; the height they take."""
        at, top = x, y
        for word in words:
            if at > x and at + 0.17 + text_width(word, HOW) > right:
                at, y = x, y + 0.2
            at = self.tick(at, y + 0.1, word) + 0.14
        return y - top + 0.22

    def rule(self, x0: float, y: float, x1: float, width: float = HAIR, color: str = BLACK) -> None:
        self.ax.add_line(Line2D([x0, x1], [y, y], color=color, linewidth=width, clip_on=False))

    def sketches(self, names: Sequence[str]) -> None:
        """Drawings in two columns, each in a frame with its caption."""
        width, height = (WIDTH - GAP) / 2, SKETCH
        self.drawn |= set(names)
        for i in range(0, len(names), 2):
            self.room(height + 0.3)
            for j, name in enumerate(names[i : i + 2]):
                caption, draw = SKETCHES[name]
                x = j * (width + GAP)
                self.text(x + 0.02, self.level + 0.08, in_units(caption, self.units, tape=True), HOW + 0.4, bold=True)
                draw(Sketch(self._frame(x, self.level + 0.18, width, height), self.units), _number)
            self.level += height + 0.3

    def _frame(self, x: float, y: float, width: float, height: float) -> Axes:
        ax = self.add_axes(x, y, width, height)
        ax.set_xlim(0, 100)
        ax.set_ylim(0, HEIGHT)
        return ax

    def add_axes(self, x: float, y: float, width: float, height: float) -> Axes:
        """A framed axes to draw on, by its upper left corner."""
        left, top = self.corner
        ax = self.figures[-1].add_axes(
            (
                (left + x) / self.paper[0], 1 - (top + y + height) / self.paper[1],
                width / self.paper[0], height / self.paper[1],
            )
        )  # fmt: skip
        ax.tick_params(bottom=False, left=False, labelbottom=False, labelleft=False)
        for spine in ax.spines.values():
            spine.set(color=GREY, linewidth=HAIR)
        return ax


def _number(path: str) -> str:
    return number_of(ALL, path)


@lru_cache(maxsize=4096)
def _word_width(word: str, size: float, bold: bool) -> float:
    width, _, _ = TextToPath().get_text_width_height_descent(word, font(size, bold=bold), ismath=False)
    return float(width) / 72


def text_width(text: str, size: float, bold: bool = False) -> float:
    """Width of a text [in], word by word."""
    words = text.split(" ")
    return sum(_word_width(word, size, bold) for word in words) + (len(words) - 1) * SPACE[bold] * size / 72


SPACE = {False: 0.318, True: 0.348}  # of the size of the letters, the width of a space in DejaVu Sans


def wrap(text: str, width: float, size: float, bold: bool = False) -> list[str]:
    """Lines of at most this width [in]."""
    return broken(text, width, partial(text_width, size=size, bold=bold))


# content -------------------------------------------------------------------------------------------------------


def _cover(book: Book, chosen: Sequence[tuple[int, int, Group]]) -> None:
    book.title = "Measuring sheets"
    book.page()
    book.text(0, book.level + 0.16, "Measuring sheets", TITLE, bold=True)
    book.level += 0.5
    for words in _INTRODUCTION.split("\n"):
        book.level += book.paragraph(0, WIDTH, words, BODY) + 0.06
    unit = "in mm" if book.units == "mm" else "in inches; write the unit beside any other"
    book.level += book.paragraph(0, WIDTH, f"Lengths {unit}. Angles in degrees.", BODY) + 0.12
    _cautions(book)
    book.level += book.paragraph(0, WIDTH, "You need: " + "; ".join(TOOLS) + ".", BODY) + 0.12
    book.text(0, book.level + 0.1, "In this order", HEAD, bold=True)
    book.level += 0.26
    here = [f"{number}  {section.title}" for number, _, section in chosen if not _is_again(section)]
    half = (len(here) + 1) // 2
    for i, words in enumerate(here):
        book.tick(0.02 + (i // half) * WIDTH / 2, book.level + 0.1 + (i % half) * 0.2, words)
    book.level += half * 0.2 + 0.16


BODY = 8.6  # [pt]
_INTRODUCTION = """\
Fill these in at the vehicle, then type them in: fitment new vehicle.yaml asks the same questions under the same \
numbers, checks each answer as it comes, and writes the profile. You can stop there and go on later.
Measure the LEFT side; what section 9 does not read on the right is taken as its mirror image. A star marks what is \
needed. Leave out what you do not know: the program says what it could not check. It checks only what was measured. \
A set of sheets is for one axle: print it once more for the other.
A thick double arrow in a drawing is a reading; the number on it is its box. +- is what the tool gives under a vehicle \
(common practice, no published source); write another behind your reading where it was worse."""


def _cautions(book: Book) -> None:
    top = book.level
    book.level += 0.1
    book.text(0.12, book.level + 0.09, "Cautions first", HEAD, bold=True)
    book.level += 0.28
    for words in CAUTIONS:
        book.text(0.14, book.level + 0.075, "-", HOW, bold=True)
        book.level += book.paragraph(0.28, WIDTH - 0.42, words, HOW + 0.4) + 0.035
    book.level += 0.06
    book.frame(0, top, WIDTH, book.level - top, line=BOLD)
    book.level += 0.14


def _is_again(section: Group) -> bool:
    """Whether a section asks about a build what an earlier one asked about the vehicle."""
    return section.title.startswith(IN_A_BUILD)


def _section(book: Book, title: str, section: Group, kinds: Sequence[str]) -> None:
    rows = [row for row in rows_for(ALL, kinds) if row.section is section]
    names = [name for name in section.drawings if name not in KINDS]
    names += [name for name in section.drawings if name in kinds][:1]  # stands beside how a point is read
    names = [name for name in names if name not in book.drawn]
    how = book.height_of(section.how, HOW + 0.6) if section.how else 0.0
    book.open(title, how + (SKETCH + 0.3 if names else ROOM))
    if section.how:
        book.level += book.paragraph(0, WIDTH, section.how, HOW + 0.6) + 0.1
    book.sketches(names)
    special = ((OBSTACLES, _told), (HARDPOINTS, _point_rows), (LOWEST, _low_rows), (BUILDS, _build_sheet))
    next((draw for group, draw in special if group is section), _rows)(book, rows)


ROOM = 0.8  # [in] that a section without drawings asks for below its words to begin on a page


def _rows(book: Book, found: Sequence[SheetRow], *, named: bool = True) -> None:
    """Questions with their boxes; two of them side by side where that takes less room."""
    left = list(found)
    while left:
        pair = [_Entry(book, row, HALF, named=named) for row in left[:2]]
        wide = [_Entry(book, row, WIDTH, named=named) for row in left[:2]]
        is_pair = len(pair) == 2 and not any(entry.has_grid for entry in pair)
        tallest = max(entry.height for entry in pair)
        if is_pair and tallest < min(TALL, sum(entry.height for entry in wide)):
            chosen, left = pair, left[2:]
        else:
            chosen, left = wide[:1], left[1:]
        book.room(max(entry.height for entry in chosen))
        book.rule(0, book.level, WIDTH, HAIR, PALE)
        for i, entry in enumerate(chosen):
            entry.draw(i * (HALF + GAP))
        book.level += max(entry.height for entry in chosen)


HALF = (WIDTH - GAP) / 2


class _Entry:
    """A question in a column: number, words, and where the answer is written."""

    def __init__(self, book: Book, row: SheetRow, width: float, *, named: bool) -> None:
        self.book, self.row, self.width = book, row, width
        question = row.question
        self.has_grid = question.many is not None
        self.right = 0.0 if self.has_grid else self._box_width(question)
        self.left = NUMBER + 0.16 * min(row.depth, 1)
        self.words = width - self.left - self.right - (GAP if self.right else 0)
        star = "\u00a0*" if question.need else ""
        self.ask = question.ask + star + (f" ({row.kind})" if row.kind and named else "")
        self.how = _how(question, row, book.units)
        self.need = book.height_of(self.ask, ASK, self.words, bold=True) + RAW * bool(question.raw)
        self.need += book.height_of(self.how, HOW, self.words) if self.how else 0.0
        if self.right:
            self.need = max(self.need, self._ticks() if question.form in ("word", "yes") else BOX + 0.02)
        self.height = self.need + 0.1 + (_grid_height(question) if self.has_grid else 0)

    def _box_width(self, question: Question) -> float:
        full = _BOXES.get(question.form, (2.2, _one_box))[0]
        return full if self.width > HALF else min(full, NARROW)

    def _ticks(self) -> float:
        """Height that words to tick take [in]."""
        at, lines = 0.0, 1
        for word in _ticked(self.row.question):
            reach = 0.17 + text_width(word, HOW)
            if at > 0 and at + reach > self.right:
                at, lines = 0.0, lines + 1
            at += reach + 0.14
        return lines * 0.2 + 0.02

    def draw(self, x: float) -> None:
        """Draw it from the book's present level down."""
        book, question = self.book, self.row.question
        top = book.level + 0.05
        book.text(x, top + 0.09, self.row.number, ASK, bold=True)
        left, right = x + self.left, x + self.width - self.right
        down = book.paragraph(left, self.words, self.ask, ASK, bold=True, level=top)
        if self.how:
            down += book.paragraph(left, self.words, self.how, level=top + down)
        _raw(book, question, left, top + down)
        if self.has_grid:
            _grid(book, question, left, top + self.need + 0.05)
        elif self.right:
            _BOXES.get(question.form, (2.2, _one_box))[1](book, question, right, top, self.right)


TALL = 1.0  # [in] that a question beside another may be high: more lines of half the width read badly
NARROW = 1.15  # [in] box of a question that stands beside another


def _told(book: Book, found: Sequence[SheetRow]) -> None:
    for row in found:
        _explained(book, row)


RAW = 0.29  # [in] a line of small boxes


def _raw(book: Book, question: Question, x: float, y: float) -> None:
    """Small boxes for the readings that the answer is worked out from."""
    for name in question.raw:
        book.text(x, y + RAW / 2, f"{name} =", HOW)
        x += text_width(f"{name} =", HOW) + 0.05
        book.box(x, y + 0.04, 0.62, RAW - 0.06)
        x += 0.74


def _how(question: Question, row: SheetRow, units: str) -> str:
    tool = with_text(question, units) if row.section is not HARDPOINTS else ""
    parts = [question.how, f"With: {tool}." if tool else "", f"No: go on at {row.after}." if row.after else ""]
    return " ".join(part for part in parts if part)


# boxes ---------------------------------------------------------------------------------------------------------


def _unit(question: Question, units: str) -> str:
    units_of = {"length": units, "ride": f"name or {units}", "angle": "deg", "rim": "in", "rims": "in, in"}
    return units_of.get(question.form, unit_text(question, units))


def _one_box(book: Book, question: Question, x: float, y: float, width: float) -> None:
    book.box(x, y, width, label=_unit(question, book.units))


def _boxes(names: Sequence[str], unit: str) -> Draw:
    """Boxes side by side, each with its name; the unit is the sheet's where it is empty."""

    def draw(book: Book, _question: Question, x: float, y: float, width: float) -> None:
        each = width / len(names)
        for i, name in enumerate(names):
            book.box(x + i * each, y, each, label=f"{name}{unit or ' ' + book.units}")

    return draw


def _tick_boxes(book: Book, question: Question, x: float, y: float, width: float) -> None:
    if _ticked(question):
        book.ticks(x, y, _ticked(question), x + width)
    else:
        _one_box(book, question, x, y, width)


def _ticked(question: Question) -> tuple[str, ...]:
    """Words to choose from; none where they depend on the vehicle."""
    choices = ("yes", "no") if question.form == "yes" else question.choices
    return () if choices and choices[0].startswith("{") else choices


Draw = Callable[[Book, Question, float, float, float], None]
# form -> (width [in], function that draws it)
_BOXES: dict[str, tuple[float, Draw]] = {
    "text": (3.4, _one_box), "wheel": (3.4, _one_box), "tire": (3.4, _one_box), "length": (1.5, _one_box),
    "angle": (1.5, _one_box), "number": (1.5, _one_box), "rim": (1.5, _one_box), "rims": (1.5, _one_box),
    "point": (2.7, _boxes("xyz", "")), "clock": (1.8, _boxes(("from", "to"), ", deg")), "word": (2.4, _tick_boxes),
    "yes": (1.1, _tick_boxes), "names": (3.0, _one_box),
    "ride": (1.5, _one_box), "circle": (1.5, _one_box), "thread": (1.5, _one_box),
}  # fmt: skip
_GRIDS: dict[str, tuple[tuple[str, ...], int]] = {
    "pair": (("y'", "r"), 8), "share": (("travel", "share"), 6),
    "raised": (("travel", "out", "camber"), 6), "named": (("name", "travel"), 6),
}  # fmt: skip


def _grid_height(question: Question) -> float:
    return len(_GRIDS[question.form][0]) * BOX + 0.28


def _grid(book: Book, question: Question, left: float, level: float) -> None:
    """Columns of boxes for a list."""
    names, count = _GRIDS[question.form]
    x0 = left + 0.5
    width = (WIDTH - x0) / count
    for i in range(count):
        book.text(x0 + (i + 0.5) * width, level + 0.06, str(i + 1), HOW - 1, color=GREY, ha="center")
        for j, _ in enumerate(names):
            book.box(x0 + i * width, level + 0.13 + j * BOX, width)
    for j, name in enumerate(names):
        book.text(x0 - 0.06, level + 0.13 + (j + 0.5) * BOX, name, HOW, ha="right")


# sheets of their own -------------------------------------------------------------------------------------------


def _point_rows(book: Book, found: Sequence[SheetRow]) -> None:
    """Hardpoints, kind by kind, each below its drawing."""
    for i, kind in enumerate(dict.fromkeys(row.kind for row in found)):
        if i:
            book.sketches([kind])
        _rows(book, [row for row in found if row.kind == kind], named=False)


def _low_rows(book: Book, found: Sequence[SheetRow]) -> None:
    """What hangs lowest: a line for each part."""
    names = tuple(f"{row.number} {words}" for row, words in zip(found, ("name", "moves with", "x, y, z"), strict=True))
    book.room((LOW_PARTS + 1) * (BOX + 0.04))
    for x, name in zip((0.0, 3.0, 4.5), names, strict=True):
        book.text(x, book.level + 0.08, name, HOW, bold=True)
    book.level += 0.2
    for _ in range(LOW_PARTS):
        for x, width in ((0.0, 2.9), (3.0, 1.4), (4.5, 0.9), (5.4, 0.9), (6.3, 0.9)):
            book.box(x, book.level, width)
        book.level += BOX + 0.04


LOW_PARTS = 5


def _forms(book: Book, kinds: Sequence[str]) -> None:
    """Forms for parts: in what is left of the last page where that is much, two on a page to copy, and a panel's."""
    found = [row for row in rows_for(ALL, kinds) if row.section is OBSTACLES]
    numbers = {row.question.path.rpartition("{n}/")[2]: row.number for row in found if row.question.path}
    section = found[0].number.split(".")[0]
    while book.level + FORM + 0.6 < book.length - 0.2 and book.level < book.length * 0.6:
        book.open(f"{section}  A part", FORM)
        _part_form(book, numbers)
    book.begin(f"{section}  Parts: copy this page, two parts a sheet")
    for _ in range(PER_PAGE):
        _part_form(book, numbers)
    book.begin(f"{section}  A panel: copy this page, one panel a sheet")
    _panel_form(book, numbers)


FORM = 3.9  # [in] height of the form for a part


def _explained(book: Book, row: SheetRow) -> None:
    """A question that has its boxes on another sheet: its number and words only."""
    how = in_units(_how(row.question, row, book.units), book.units, tape=True)
    ask = in_units(row.question.ask, book.units, tape=True) + ("\u00a0*" if row.question.need else "")
    beside = text_width(ask, HOW, True) + 0.12
    start, drop = (0.0, 1) if beside > WIDTH / 2 and how else (beside, 0)
    lines = wrap(how, WIDTH - NUMBER - start, HOW)
    height = max(len(lines) + drop, 1) * PITCH + 0.07
    book.room(height)
    book.rule(0, book.level, WIDTH, HAIR, PALE)
    book.text(0, book.level + 0.11, row.number, HOW, bold=True)
    book.text(NUMBER, book.level + 0.11, ask, HOW, bold=True)
    for i, line in enumerate(lines):
        book.text(NUMBER + start, book.level + 0.11 + (i + drop) * PITCH, line, HOW)
    book.level += height


def _tag(book: Book, x: float, number: str, words: str) -> float:
    """A number and what it is for, before a box; where the box begins."""
    book.text(x, book.level + BOX / 2, number, HOW, bold=True)
    x += text_width(number, HOW, True) + 0.06
    book.text(x, book.level + BOX / 2, words, HOW)
    return x + text_width(words, HOW) + 0.08


def _chosen(book: Book, numbers: dict[str, str], *asked: tuple[float, str, str, tuple[str, ...]]) -> None:
    """Questions with ticks side by side: (x, key, words, choices)."""
    for x, key, words, choices in asked:
        book.ticks(_tag(book, x, numbers[key], words), book.level + 0.05, choices)
    book.level += 0.29


def _part_head(book: Book, numbers: dict[str, str], shapes: tuple[str, ...]) -> None:
    book.box(_tag(book, 0, numbers["name"], "name"), book.level, 4.2)
    book.level += BOX + 0.05
    _chosen(book, numbers, (0, "shape", "shape", shapes))
    _chosen(book, numbers, (0, "fixed_to", "moves with", ("body", "knuckle", "upper arm", "lower arm", "rack", "axle",
                                                         "link: ______")))  # fmt: skip
    _chosen(book, numbers, (0, "measured_from", "y counted from", ("centre plane", "hub face")))


def _part_foot(book: Book, numbers: dict[str, str]) -> None:
    lengths = (("radius", "half thickness"), ("tolerance", "may be off by"), ("allowance", "clearance required"))
    for i, (key, words) in enumerate(lengths):
        book.box(_tag(book, i * 2.38, numbers[key], words), book.level, 0.9, label=book.units)
    book.level += BOX + 0.05
    _chosen(book, numbers, (0, "meets", "checked against", ("tire", "wheel", "both")),
            (3.6, "side", "found only", ("left", "right")))  # fmt: skip
    x = _tag(book, 0, numbers["measured_gap/to"], "gap to what is on now: to the")
    book.ticks(x, book.level + 0.05, ("tire", "wheel"))
    book.box(_tag(book, 3.6, numbers["measured_gap/gap"], "gap"), book.level, 0.9, label=book.units)
    book.level += BOX + 0.1
    book.rule(0, book.level, WIDTH, BOLD)
    book.level += 0.16


def _part_form(book: Book, numbers: dict[str, str]) -> None:
    """One part: its name and choices, a table of points, and what follows."""
    _part_head(book, numbers, ("edge", "rod", "ball", "ring"))
    keys = (("points", "edge"), ("from/at", "rod, one end"), ("to/at", "other end"), ("at", "ball"),
            ("outline", "ring"), ("clock", "its clock in the last two"))  # fmt: skip
    book.text(0, book.level + 0.09, "points: " + ", ".join(f"{numbers[key]} {words}" for key, words in keys), HOW)
    book.level += 0.2
    _table(book, 9, ("x or clock", "y or out, y'", "z or radius, r"))
    _chosen(book, numbers, (0, "smooth", "edge: smooth curve", ("yes", "no")),
            (3.6, "cover", "edge of the bodywork over the tread", ("yes", "no")))  # fmt: skip
    _chosen(book, numbers, (0, "from/fixed_to", "rod: one end moves with ____________", ()),
            (3.6, "to/fixed_to", "rod: other end with ____________", ()))  # fmt: skip
    _part_foot(book, numbers)


def _panel_form(book: Book, numbers: dict[str, str]) -> None:
    """A panel: rows of three points."""
    _part_head(book, numbers, ("panel",))
    words = "rows from front to back, three points (or two) in each, from inboard to outboard"
    book.text(0, book.level + 0.09, f"{numbers['rows']} {words}", HOW)
    book.level += 0.2
    for row in range(1, PANEL_ROWS + 1):
        book.text(0, book.level + 0.5, f"row {row}", HOW, bold=True)
        _table(book, 3, ("x or clock", "y or out", "z or radius"))
    _chosen(book, numbers, (0, "solid", "solid side", ("behind", "none, a thin panel")))
    _part_foot(book, numbers)


PANEL_ROWS = 6


def _table(book: Book, columns: int, names: tuple[str, str, str]) -> None:
    """Points as columns of three boxes, for either way to write them."""
    x0 = 1.3
    width = (WIDTH - x0) / columns
    for i in range(columns):
        book.text(x0 + (i + 0.5) * width, book.level + 0.05, str(i + 1), HOW - 1, color=GREY, ha="center")
        for j in range(3):
            book.box(x0 + i * width, book.level + 0.12 + j * BOX, width)
    for j, name in enumerate(names):
        book.text(x0 - 0.05, book.level + 0.12 + (j + 0.5) * BOX, name, HOW - 0.4, ha="right")
    book.level += 3 * BOX + 0.17


def _build_sheet(book: Book, found: Sequence[SheetRow]) -> None:
    """A box for each build's name, and for each axle its wheel, tire, spacer and ride height."""
    numbers = {row.question.path.rpartition("{axle}/")[2]: row.number for row in found if row.question.path}
    book.level += book.paragraph(
        0, WIDTH, "What a seller states beside the size (offset as measured, clear diameter, pad, data sheet of the "
        f"tire) is written as in section 3; fitment new asks for it under {numbers['wheel/offset']} to "
        f"{numbers['spacer/seat_thickness']}.",
    ) + 0.12  # fmt: skip
    keys = (("wheel/spec", "wheel", ""), ("tire/code", "tire", ""), ("spacer/thickness", "spacer", book.units),
            ("ride", "ride height", f"name or {book.units}"))  # fmt: skip
    axles = (book.axle,) if book.axle else ("front", "rear")
    others = next(row for row in found if row.question.sets == "other")
    for _ in range(SETS):
        book.room(0.6 + len(axles) * 1.1)
        book.text(0, book.level + BOX / 2, f"{found[0].number}  name of the build", ASK, bold=True)
        book.box(2.0, book.level, 3.2)
        book.level += BOX + 0.1
        for axle in axles:
            book.text(0.2, book.level + BOX / 2, axle, ASK, bold=True)
            for i, (key, words, unit) in enumerate(keys):
                x, y = 0.75 + (i % 2) * 3.25, book.level + (i // 2) * (BOX + 0.06)
                book.text(x, y + BOX / 2, f"{numbers[key]} {words}", HOW)
                book.box(x + 1.1, y, 2.05, label=unit)
            book.level += 2 * (BOX + 0.06)
            _chosen(book, {"other": others.number}, (0.75, "other", "different", others.question.choices))
            book.level += 0.03
        book.rule(0, book.level, WIDTH, BOLD)
        book.level += 0.12


def _others(book: Book, chosen: Sequence[tuple[int, int, Group]], kinds: Sequence[str]) -> None:
    """Other parts of a build: which page to copy for it, and under which numbers its readings are typed."""
    every = rows_for(ALL, kinds)
    measured = {
        row.question.ask: row.number for row in every if not _is_again(row.section) and row.section is not BUILDS
    }
    book.open("In a build: another hub, brake, suspension, other parts", 1.2)
    book.level += book.paragraph(0, WIDTH, _COPIED, HOW + 0.6) + 0.1
    for number, _, section in chosen:
        if not _is_again(section):
            continue
        if not section.continues:
            words = section.title.removeprefix(IN_A_BUILD)
            title = f"{number}  {words[0].upper()}{words[1:]}"
        else:
            title = section.title.removeprefix(IN_A_BUILD)
            title = title[0].upper() + title[1:]
        rows = [row for row in every if row.section is section]
        same = [(row.number, measured[row.question.ask]) for row in rows if row.question.ask in measured]
        new = [row for row in rows if row.question.ask not in measured]
        told = "; ".join(f"{a} is {b}" for a, b in _runs(same))
        down = book.height_of(f"{section.how} {told}.", HOW) + 0.3
        book.room(down)
        book.rule(0, book.level, WIDTH, HAIR, PALE)
        book.text(0, book.level + 0.12, title, ASK, bold=True)
        book.level += 0.22
        book.level += book.paragraph(NUMBER, WIDTH - NUMBER, f"{section.how} {told}.") + 0.04
        _told(book, [row for row in new if row.question.sets == "whole"])
        _rows(book, [row for row in new if row.question.sets != "whole"])


_COPIED = (
    "Copy the pages of the sections named here, fill in what is different, and write the build's name at the top. "
    "fitment new asks for it in the same words under the numbers on the left."
)


def _runs(pairs: Sequence[tuple[str, str]]) -> list[tuple[str, str]]:
    """Pairs of numbers as ranges: where both go up by one, only the first and the last are named."""
    runs: list[list[tuple[str, str]]] = []
    for pair in pairs:
        if runs and all(_follows(a, b) for a, b in zip(runs[-1][-1], pair, strict=True)):
            runs[-1].append(pair)
        else:
            runs.append([pair])
    return [
        run[0] if len(run) == 1 else (f"{run[0][0]} to {run[-1][0]}", f"{run[0][1]} to {run[-1][1]}") for run in runs
    ]


def _follows(number: str, following: str) -> bool:
    (chapter, index), (other, later) = number.split("."), following.split(".")
    return chapter == other and int(later) == int(index) + 1
