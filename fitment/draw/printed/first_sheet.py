"""The page of a first look: cautions, one drawing that shows every reading, and a box for each.

Questions and numbers are those of `measuring/questions/first.py`, which `new --first` asks.
"""

from __future__ import annotations

from collections.abc import Sequence

from matplotlib.figure import Figure

from fitment.draw.printed.paper import paper_size
from fitment.draw.printed.sketch import BOLD, GREY, HAIR, PALE, THIN, Sketch, around, polar, turned
from fitment.draw.printed.worksheet import BOX, HOW, WIDTH, Book, text_width
from fitment.draw.style import look
from fitment.measuring.questions.first import FIRST_CAUTIONS, first_rows
from fitment.measuring.questions.forms import SheetRow
from fitment.units import MM_PER_INCH, in_units

UNITS_PER_INCH = 28.2  # of the drawing: letters and lines as in the drawings of the full sheets
DRAWN = 3.1  # [in] height of the drawing
SMALL = HOW - 0.4  # [pt]
TOGETHER = (("1",), ("2", "3", "4"), ("5", "6", "7", "8"), ("9",), ("10",), ("11", "12"), ("13",), ("14", "15", "16"))
SPACE, INSIDE = 0.14, 0.06  # [in] between boxes, and between the parts of one
DEEP = BOX - 0.03  # [in] height of a box here
LONG = 10.2  # [in] print on paper longer than letter
BELOW, CLOSER = 0.09, 0.04  # [in] below a box, on long paper and on letter
SHORT = {
    "what": "what is it",
    "where": "o'clock",
    "gap": "gap to the tire",
    "moves": "turns with it",
    "same": "same / differs",
    "up": "5, lip 12:00",
    "out": "8, lip outboard",
}
WIDTHS = {"what": 2.4, "where": 1.1, "gap": 1.7, "moves": 1.3, "same": 1.6, "up": 1.6, "out": 1.6}  # [in]


def first_page(axle: str, units: str = "mm", paper: str = "a4") -> Figure:
    """The page as a figure.

    axle : front or rear; units : mm or in; paper : a4 or letter
    """
    with look():
        width, height = (round(size / MM_PER_INCH, 3) for size in paper_size(paper))
        book = Book(units, (width, height), axle)
        rows = first_rows(axle)
        book.begin(f"First look: {axle} axle, on its wheels, nothing taken apart")
        _words(book)
        _drawing(book, {row.number.split(".")[0] for row in rows})
        for numbers in TOGETHER:
            _line(book, [_of(rows, number) for number in numbers if _of(rows, number)])
        book.number()
    return book.figures[0]


def _of(rows: Sequence[SheetRow], number: str) -> list[SheetRow]:
    """The questions of one box."""
    return [row for row in rows if row.number.split(".")[0] == number]


def _words(book: Book) -> None:
    book.level -= 0.04
    typed = "fitment new vehicle.yaml --first" + (" --units in" if book.units == "in" else "")
    for words in (_INTRODUCTION.format(typed=typed), *FIRST_CAUTIONS):
        book.level += book.paragraph(0, WIDTH, words, SMALL) + 0.015
    book.level += 0.05


_INTRODUCTION = (
    "Type it in with {typed}. It asks by these numbers and ends with an answer. LEFT side, wheels straight unless it "
    "says lock. Leave a box empty if you do not know: what is typical is taken, and counted against you."
)


# boxes ---------------------------------------------------------------------------------------------------------


def _line(book: Book, boxes: Sequence[list[SheetRow]]) -> None:
    """Boxes side by side: number and title, how it is read, where it is written."""
    if not boxes:
        return
    width = (WIDTH + SPACE) / len(boxes)
    deepest = max(_described(book, i * width, width - SPACE, rows) for i, rows in enumerate(boxes))
    for i, rows in enumerate(boxes):
        _written(book, i * width, width - SPACE, deepest, rows)
    book.level = deepest + DEEP + (BELOW if book.length > LONG else CLOSER)


def _described(book: Book, x: float, width: float, rows: Sequence[SheetRow]) -> float:
    """Number, title and words of a box; how far down they reach."""
    number = rows[0].number.split(".")[0]
    title = rows[0].section.title
    book.text(x, book.level + 0.06, number, HOW + 1, bold=True)
    start = text_width(number, HOW + 1, True) + 0.08
    book.text(x + start, book.level + 0.06, title, HOW, bold=True)
    start += text_width(title, HOW, True) + 0.1
    down = book.level + 0.14
    how = rows[0].section.how or rows[0].question.how
    if text_width(in_units(how, book.units, tape=True), SMALL) < width - start:
        book.text(x + start, book.level + 0.06, in_units(how, book.units, tape=True), SMALL)
        return down + 0.03
    return down + book.paragraph(x, width, how, SMALL - 0.2, level=down) + 0.03


def _written(book: Book, x: float, width: float, top: float, rows: Sequence[SheetRow]) -> None:
    """The box itself, or one for each question of it."""
    keys = [row.question.path.rpartition("/")[2] for row in rows]
    if rows[0].question.sets == "axles":
        for j, (row, name) in enumerate(zip(rows[1:], ("wheel", "tire"), strict=True)):
            _field(book, x + j * (width + INSIDE) / 2, top, (width - INSIDE) / 2, row, name)
        return
    if len(keys) > 2:
        full = sum(WIDTHS[key] for key in keys)
        for row, key in zip(rows, keys, strict=True):
            share = (width + INSIDE) * WIDTHS[key] / full
            _field(book, x, top, share - INSIDE, row, SHORT[key])
            x += share
        return
    if rows[0].question.form == "twice":
        for j, name in enumerate(("front", "rear")):
            _field(book, x + j * (width + INSIDE) / 2, top, (width - INSIDE) / 2, rows[0], name)
        return
    _field(book, x, top, width, rows[0], "")


def _field(book: Book, x: float, y: float, width: float, row: SheetRow, name: str) -> None:
    """A frame with what goes into it below right."""
    units = {"length": book.units, "twice": book.units, "angle": "deg", "yes": "yes / no"}
    label = ", ".join(words for words in (name, units.get(row.question.form, "")) if words)
    book.frame(x, y, width, DEEP, line=THIN)
    if label:
        book.text(x + width - 0.04, y + DEEP - 0.06, label, HOW - 1.6, color=GREY, ha="right")


# the drawing ---------------------------------------------------------------------------------------------------


def _drawing(book: Book, numbers: set[str]) -> None:
    ax = book.add_axes(0, book.level, WIDTH, DRAWN)
    ax.set_xlim(0, WIDTH * UNITS_PER_INCH)
    ax.set_ylim(0, DRAWN * UNITS_PER_INCH)
    sketch = Sketch(ax, book.units)
    _from_outside(sketch)
    _from_the_front(sketch)
    if "10" in numbers:
        _from_above(sketch)
    book.level += DRAWN + 0.12


def _from_outside(s: Sketch) -> None:
    """The wheel from the side: lip, hub height, clock, how far the body comes down."""
    x, y, tire, lip = 44.0, 37.0, 27.0, 41.0
    s.ring(x, y, tire, fill=PALE, width=BOLD)
    s.ring(x, y, tire * 0.62, fill="#ffffff")
    s.ground(y - tire * 0.96, 2, 92)
    for radius, width in ((lip, BOLD), (lip + 1.6, HAIR)):
        s.line(*around((x, y), radius, 22, 158), width=width)
    for degrees, number in ((90, "5"), (135, "6"), (45, "7")):
        end = polar((x, y), lip, degrees)
        s.reading((x, y), end, number, at=0.82)
        s.dot(*end, 0.9)
    s.reading((x, y), (x, y - tire * 0.96), "2", at=0.6)
    s.ring(x, y, 1.4, fill="#ffffff", width=THIN)
    for degrees, words in ((0, "3:00"), (180, "9:00"), (30, "2:00"), (150, "10:00"), (-30, "4:00"), (210, "8:00")):
        s.say(*polar((x, y), tire * 0.82, degrees), words)
    s.say(*polar((x, y), lip + 5, 138), "10:30", ha="right")
    s.say(*polar((x, y), lip + 5, 42), "1:30", ha="left")
    s.say(x + 3, y + lip + 5, "12:00", ha="left")
    s.arrow((16, 4), (4, 4), width=BOLD)
    s.say(18, 4, "front of the vehicle; seen from outside, left side", ha="left")
    s.arrow((92, 62), (92, 48), width=BOLD)
    s.mark(92, 66, "16")
    s.say(92, 44, "body down")


def _from_the_front(s: Sketch) -> None:
    """Camber, lip outboard, the part inboard, the bump stop."""
    s.turned_box((158, 60), 13, 37, 5, fill=PALE, width=BOLD)
    s.turned_box((166.4, 61.2), 1.8, 42, 5, fill="#000000", width=0)
    s.line((177, 86), (177, 79), (173, 78), width=BOLD)
    s.reading((165.8, 78), (173, 78))
    s.mark(184, 72, "8")
    s.line((182, 73), (170, 78), width=HAIR)
    s.say(190, 82, "lip", to=(177, 82))
    s.say(189, 61, "straightedge\non the rim", to=(167.5, 58))
    s.dashed((150, 44), (150, 82), width=THIN)
    s.mark(146, 46, "3")
    s.turned_box((128, 66), 6, 33, 4, width=THIN)
    s.say(113, 81, "nearest part", to=(127, 78))
    s.reading((131, 67), (149.8, 67), "9")
    s.line((104, 48), (152, 50), width=BOLD)
    s.shape((112, 64), (118, 64), (117, 57), (113, 57), fill=PALE)
    s.reading((115, 48.5), (115, 57))
    s.mark(109, 53, "4")
    s.say(108, 68, "bump stop", to=(114, 61))
    s.say(187, 49, "from the front;\noutboard is right")


def _from_above(s: Sketch) -> None:
    """Full left lock with the chalk line, and full right lock."""
    s.dashed((108, 1), (108, 37), width=BOLD)
    s.say(115, 18, "chalk\nline", to=(108, 14))
    for x, angle in ((138, 32), (179, -28)):
        s.turned_box((x, 20), 11, 32, angle, fill=PALE)
    front, rear = ((float(x) + 138, float(y) + 20) for x, y in turned([(-5.5, 16.0), (-5.5, -16.0)], 32))
    for end, name in ((front, "front"), (rear, "rear")):
        s.reading((108, end[1]), end, "10")
        s.say((108 + end[0]) / 2, end[1] + 4.6, name)
    inner = turned([(5.5, -16.0)], 32)[0] + (138.0, 20.0)
    s.box(159, 1, 2.6, 26, hatch="////", width=THIN)
    s.reading((float(inner[0]), float(inner[1])), (159, float(inner[1])), "11", shift=(0, 5))
    inner = turned([(5.5, 16.0)], -28)[0] + (179.0, 20.0)
    s.box(199, 14, 2.6, 24, hatch="////", width=THIN)
    s.reading((float(inner[0]), float(inner[1])), (199, float(inner[1])), "12", shift=(0, -5))
    s.say(122, 40, "full left lock", bold=True)
    s.say(183, 40.5, "full right lock", bold=True)
    s.say(190, 6, "from above,\nfront is up")
