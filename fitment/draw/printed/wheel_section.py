"""The drawing of the order sheet: half a wheel cut through its axle, with the letters of the rows.

Inboard is to the left, as in the sketches that are seen from the front.
"""

from __future__ import annotations

from fitment.draw.printed.sketch import BOLD, HAIR, PALE, THIN, Sketch

AXIS, CENTRE, FACE, OUTER = 15.0, 46.0, 58.0, 66.0  # spin axis; rim's centre line, mounting face, outer side of the pad
BARREL = (
    (14, 53), (16, 53), (18, 48), (26, 48), (30, 43), (48, 43), (54, 48), (74, 48), (76, 53), (78, 53),
    (77.4, 50), (75.4, 45.6), (55, 45.6), (49, 40.6), (29, 40.6), (25, 45.6), (16.6, 45.6), (14.6, 50),
)  # fmt: skip
SPOKE = ((58, 27), (62, 33), (67, 39), (69, 46), (76, 46), (72, 36), (66, 27))
HOLES = (23.0, 7.0)  # middles of the stud holes


def explain_wheel(s: Sketch, letters: dict[str, str]) -> None:
    """Half a wheel with its readings; letters : of the rows of the sheet by their names."""
    _metal(s)
    s.chain((4, AXIS), (92, AXIS))
    s.chain((CENTRE, 4), (CENTRE, 55))
    s.line((FACE, 0.5), (FACE, 37), width=THIN)
    s.box(31, 24, 22, 13, width=THIN, style=(0, (4, 2)), fill="none")
    s.say(38, 27, "brake")
    s.say(9, 8, "inboard")
    s.say(90, 3, "outboard")
    s.say(36, 3, "mounting face", to=(FACE, 3))
    for x in (14, 78):
        s.line((x, 53), (x, 59), width=HAIR)
    s.reading((18, 50.4), (74, 50.4), letters["size"], at=0.3)
    s.reading((14, 57), (78, 57), letters["overall width"], at=0.7)
    s.reading((CENTRE, 10), (FACE, 10), letters["offset"])
    s.reading((27.5, AXIS), (27.5, 42), letters["barrel"], at=0.3)
    s.reading((FACE, 34.5), (63.2, 34.5))
    s.say(84, 38, "", to=(62, 34.5))
    s.mark(84, 38, letters["spokes"])
    s.reading((79, HOLES[1]), (79, HOLES[0]), letters["bolt circle"])
    for y in HOLES:
        s.line((56, y), (81, y), width=HAIR)
    s.reading((62, 11.4), (62, 18.6))
    s.say(71, 11, "", to=(62, 13.6))
    s.mark(71, 11, letters["centre bore"])
    s.reading((FACE, 19.9), (OUTER, 19.9))
    s.say(72, 18, "", to=(OUTER, 19.9))
    s.mark(72, 18, letters["pad"])
    s.say(52, 20, "", to=(59.4, 22.4))
    s.mark(51.5, 19.4, letters["stud holes"])
    s.say(91, 27, "", to=(65, 25))
    s.mark(91, 27, letters["nut seat"])


def _metal(s: Sketch) -> None:
    """Barrel, spoke and pad; the pad is cut on both sides of the axis, through bore and stud holes."""
    s.shape(*SPOKE, fill=PALE)
    s.shape(*BARREL, fill=PALE, width=BOLD)
    s.box(FACE, 3, OUTER - FACE, 24, fill=PALE)
    s.box(FACE, 11.4, OUTER - FACE, 7.2, width=THIN)
    for y in HOLES:
        s.shape((FACE, y - 1.2), (62.4, y - 1.2), (OUTER, y - 2.6), (OUTER, y + 2.6), (62.4, y + 1.2), (FACE, y + 1.2),
                width=THIN)  # fmt: skip
