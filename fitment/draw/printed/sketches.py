"""The drawings of the worksheet: each reading, where it is taken.

`SKETCHES` holds (caption, function) by name; a function draws on a sketch, `number` gives the number of the question
whose path ends so ("strut:points/lower_ball" for one kind's). Seen from the front, outboard is to the right; seen
from outside, forward is to the left; seen from above, the front is up, so the left side is to the left.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np

from fitment.draw.printed.sketch import BOLD, HAIR, PALE, THIN, Sketch, around, polar, turned

Number = Callable[[str], str]
Draw = Callable[[Sketch, Number], None]


def _wheel_on_ground(s: Sketch, x: float, floor: float, r: float) -> float:
    """A wheel from the side; the height of its centre."""
    y = floor + r * 0.95
    s.ring(x, y, r, fill=PALE, width=BOLD)
    s.ring(x, y, r * 0.62, fill="#ffffff")
    s.ring(x, y, 1.3, width=THIN)
    s.ground(floor)
    return y


def frame(s: Sketch, _number: Number) -> None:
    y = _wheel_on_ground(s, 24, 10, 15)
    s.line(*around((24, y), 19, 15, 165))
    s.arrow((24, y), (4, y), width=BOLD)
    s.arrow((24, y), (24, 52), width=BOLD)
    s.say(4, y + 4, "x forward", ha="left", bold=True)
    s.say(26, 51, "z up", ha="left", bold=True)
    s.say(24, 4, "from outside, left side")
    s.chain((92, 9), (92, 56))
    s.chain((52, 34), (98, 34))
    s.box(59, 22, 8, 24, fill=PALE)
    s.box(63, 32, 29, 4, width=THIN)
    s.arrow((92, 34), (52, 34), width=BOLD)
    s.arrow((92, 34), (92, 55), width=BOLD)
    s.dot(92, 34, 1.4)
    s.say(52, 52, "y outboard", ha="left", bold=True, to=(55, 34))
    s.say(90, 51, "x forward", ha="right", bold=True)
    s.say(81, 14, "centre plane", to=(92, 18))
    s.say(78, 24, "axle line", to=(82, 34))
    s.say(74, 4, "from above, front is up")


def hub_height(s: Sketch, number: Number) -> None:
    y = _wheel_on_ground(s, 50, 8, 18)
    for r, width in ((24, BOLD), (25.4, HAIR)):
        s.line(*around((50, y), r, 8, 172), width=width)
    s.reading((50, 8), (50, y), number("hub_height"))
    s.reading((50, y), (50, y + 24), number("#hub"), at=0.6)
    s.say(20, 52, "fender lip", to=(33, y + 17.3))
    s.say(86, 17, "hub centre", to=(51, y))
    s.say(86, 4, "level floor")


def camber(s: Sketch, number: Number) -> None:
    s.ground(6)
    s.turned_box((56, 27.5), 15, 41, 7, fill=PALE, width=BOLD)
    s.turned_box((56, 27.5), 17, 24, 7, width=THIN)
    s.turned_box((67.2, 28.6), 2.6, 28, 7, fill="#000000", width=0)
    s.turned_box((71.6, 30.2), 6, 8, 7)
    s.dashed((62, 6), (62, 54))
    s.arrow((57, 52.5), (62, 52.5))
    s.mark(51, 53, number("camber"))
    s.say(85, 46, "angle gauge,\nupright on\nthe rim", to=(74, 33))
    s.say(20, 46, "top leans in:\nnegative", bold=True)
    s.say(22, 30, "seen from the front;\noutboard is right")
    s.say(84, 14, "clear of the\ntire's bulge", to=(65, 16))


def toe(s: Sketch, number: Number) -> None:
    s.chain((50, 3), (50, 48))
    for side in (-1, 1):
        s.turned_box((50 + side * 24, 29), 9, 28, side * 4, fill=PALE)
        s.turned_box((50 + side * 29.6, 28.8), 1.8, 46, side * 4, fill="#000000", width=0)
    s.reading((21.2, 48), (78.8, 48), "F")
    s.reading((19, 9), (81, 9), "B")
    s.reading((91, 9), (91, 48), "L")
    s.line((81, 9), (93, 9), width=HAIR)
    s.line((79, 48), (93, 48), width=HAIR)
    s.say(50, 29, f"{number('toe_in')} = 28.6\nx (B - F) / L", bold=True)
    s.say(50, 55, "from above, front is up")
    s.say(9, 36, "straight-\nedge on\nthe tire", to=(18.6, 33))


def locks(s: Sketch, number: Number) -> None:
    for x, angle, label, words in ((27, 32, "lock_left", "full left"), (73, -28, "lock_right", "full right")):
        s.turned_box((x, 28), 11, 32, 0, width=THIN, style=(0, (4, 2)))
        s.turned_box((x, 28), 11, 32, angle, fill=PALE)
        s.dashed((x, 9), (x, 54))
        tip = turned([(0.0, 26.0)], angle)[0] + np.array([x, 28.0])
        s.line((x, 28), tuple(tip), width=BOLD)
        s.arc(x, 28, 23, 90 + min(angle, 0), 90 + max(angle, 0), width=BOLD)
        middle = turned([(0.0, 23.0)], angle / 2)[0] + np.array([x, 28.0])
        s.mark(float(middle[0]), float(middle[1]), number(label))
        s.say(x, 4, f"LEFT wheel, {words}", bold=True)
    s.say(50, 44, "front\nis up")
    s.arrow((50, 48.5), (50, 56))


def hub_faces(s: Sketch, number: Number) -> None:
    s.chain((50, 4), (50, 53))
    s.chain((6, 29), (94, 29))
    for side in (-1, 1):
        s.box(50 + side * 27, 23, side * 4, 12, fill=PALE)
        s.box(50 + side * 23, 14, side * 4, 30, width=THIN)
        s.box(50 + side * 31, 3, side * 1.8, 52, fill="#000000", width=0)
    s.reading((19, 48), (81, 48), "front")
    s.reading((19, 9), (81, 9), "behind")
    s.say(50, 20, f"{number('hub_face_width')} =\n(front + behind) / 2", bold=True)
    s.say(50, 38, "as far in front as\nbehind, at hub height")
    s.say(91, 42, "straight-\nedge", to=(82.4, 46))
    s.say(9, 39, "hub\nface", to=(19, 33))
    s.say(50, 56, "from above, front is up")


def register(s: Sketch, number: Number) -> None:
    s.chain((4, 26), (70, 26))
    s.box(22, 4, 12, 44, hatch="////")
    s.box(8, 16, 14, 20, hatch="////")
    for y in (4, 37):
        s.box(34, y, 4.5, 11, hatch="xxxx", width=THIN)
    s.box(34, 15, 4.5, 22)
    s.box(38.5, 18, 10, 16)
    s.box(38.5, 40, 26, 4)
    for x in np.arange(44, 64, 1.6):
        s.line((float(x), 40), (float(x) + 0.8, 44), width=HAIR)
    s.line((38.5, 2), (38.5, 53), width=BOLD)
    s.say(38.5, 56, "hub face", bold=True)
    s.reading((38.5, 50), (64.5, 50), number("hub/stud_length"))
    s.line((64.5, 44), (64.5, 52), width=HAIR)
    s.reading((53, 18), (53, 34), number("wheel_register/diameter"), shift=(8, 0))
    for y in (18, 34):
        s.line((48.5, y), (55, y), width=HAIR)
    s.reading((38.5, 11.5), (48.5, 11.5), number("wheel_register/length"), shift=(11, 0))
    s.line((48.5, 18), (48.5, 10), width=HAIR)
    s.reading((15, 15), (15, 37), number("rotor_register/diameter"))
    s.dashed((13, 37), (34, 37))
    s.dashed((13, 15), (34, 15))
    s.say(84, 47, "stud", to=(62, 42))
    s.say(83, 33, "wheel register:\nthe wheel's bore\nsits here", to=(48, 31))
    s.say(80, 9, f"rotor register,\n{number('rotor_register/length')} long: the\nrotor's bore sits here", to=(36.5, 16))
    s.say(13, 52, "rotor's hat", to=(36, 45))


def studs(s: Sketch, _number: Number) -> None:
    for x, lugs in ((25, 5), (75, 6)):
        centre = (x, 30.0)
        s.ring(*centre, 21, width=BOLD)
        s.ring(*centre, 14, width=HAIR, style=(0, (4, 2)))
        s.ring(*centre, 6, fill=PALE)
        places = [polar(centre, 14, 90 + i * 360 / lugs) for i in range(lugs)]
        for place in places:
            s.ring(*place, 2.4, fill="#ffffff")
        s.reading(places[0], places[-1], "chord", shift=(3, 5))
        s.say(x, 4, f"type: {lugs} chord ...", bold=True)
    s.say(50, 55, "from the middle of a stud to the middle of the next")


def caliper(s: Sketch, number: Number) -> None:
    s.chain((3, 7), (97, 7))
    s.say(12, 3.4, "spin axis")
    s.box(28, 7, 7, 34, fill=PALE, width=THIN)
    s.box(35, 7, 31, 15, fill=PALE, width=THIN)
    outline = [(14, 26), (14, 52), (56, 52), (60, 48), (60, 26)]
    s.line(*outline, width=BOLD)
    s.dashed(outline[-1], outline[0])
    for i, place in enumerate(outline, start=1):
        s.dot(*place, 1.1)
        s.say(place[0] + (-3.2 if i < 3 else 3.4), place[1] + (2 if i in (2, 3) else 0), str(i), bold=True)
    s.box(66, 3, 2.2, 54, fill="#000000", width=0)
    s.say(83, 53, "straightedge on\nthe hub face", to=(68.2, 48))
    s.reading((14, 34), (66, 34), "y'", at=0.35)
    s.say(83, 36, "inboard of the\nhub face: y'\nis negative")
    s.reading((20, 7), (20, 52), "r", at=0.4)
    s.say(44, 45, "caliper")
    s.say(48, 14, "rotor")
    s.say(83, 18, f"{number('caliper/outline')}: go round\nit, corner by\ncorner", bold=True)


def clock(s: Sketch, number: Number) -> None:
    centre = (52.0, 30.0)
    s.ring(*centre, 20, width=BOLD)
    s.ring(*centre, 5, fill=PALE)
    outer, inner = (around(centre, r, 180 - 140, 180 - 215) for r in (18.0, 11.0))
    s.shape(*outer, *inner[::-1], fill=PALE, hatch="////")
    for angle, words, place in (
        (0, "0 = forward", (16, 30)), (90, "90 = up", (52, 55)), (180, "180 = back", (86, 27)),
        (270, "270 = down", (52, 5)),
    ):  # fmt: skip
        s.line(centre, polar(centre, 22, 180.0 - angle), width=HAIR)
        s.say(*place, words, bold=True)
    for angle in (140, 215):
        s.line(centre, polar(centre, 24, 180.0 - angle), width=THIN)
        s.say(*polar(centre, 27.5, 180.0 - angle), str(angle))
    s.say(15, 52, "from outside,\nleft side")
    s.arrow((24, 42), (6, 42))
    s.say(15, 38, "front")
    s.say(87, 53, f"{number('caliper/clock')} here:\n140, 215", to=(66, 38))


def travel(s: Sketch, number: Number) -> None:
    for x, y, words in ((14, 24, "reference pose"), (46, 33, f"{number('travel/bump')} bump stop"),
                        (76, 17, f"{number('travel/droop')} full droop")):  # fmt: skip
        s.box(x - 8, 46, 14, 5, fill=PALE)
        s.line((x - 8, 46), (x + 6, 46), width=BOLD)
        s.box(x - 2.5, y - 8, 5, 16, fill=PALE)
        s.line((x + 2.5, y - 6), (x + 2.5, y + 6), width=BOLD)
        s.dot(x + 2.5, y, 1.0)
        s.line((x - 3, 4), (x - 3, y - 8), width=BOLD)
        s.shape((x - 8, 4), (x + 2, 4), (x - 3, 8), fill="#000000", width=0)
        s.say(x, 55, words, bold=True)
        s.reading((x + 2.5, y), (x + 2.5, 46), {14: "A", 46: "B", 76: "C"}[x])
    s.ground(4, 2, 84)
    s.say(31, 40, "fender\nlip", to=(20, 46.4))
    s.say(29, 21, "middle of\nhub face", to=(17, 24))
    s.say(57, 15, "bump = A - B\n- S / 3\n(positive)")
    s.say(90, 24, "droop\n= A - C\n(negative)")


def track(s: Sketch, number: Number) -> None:
    s.line((82, 56), (82, 8), width=THIN)
    s.shape((80.4, 8), (83.6, 8), (82, 3), fill="#000000", width=0)
    s.turned_box((40, 16), 5, 16, 0, fill=PALE)
    s.turned_box((43, 40), 5, 16, 5, width=THIN, style=(0, (4, 2)))
    s.line((6, 22), (37.5, 16), width=BOLD)
    s.dashed((6, 22), (40, 39))
    s.dot(6, 22)
    s.dot(42.5, 16, 0.9)
    s.dot(45.6, 40.2, 0.9)
    s.reading((42.5, 16), (82, 16), "D")
    s.reading((45.6, 40.2), (82, 40.2), "E")
    s.reading((28, 16), (28, 40), "travel")
    for x, y in ((37, 16), (40, 40)):
        s.line((27, y), (x, y), width=HAIR)
    s.say(63, 33.4, f"{number('readings')}: out = D - E", bold=True)
    s.say(63, 24.6, "once in bump,\nonce in droop", bold=True)
    s.say(91, 50, "plumb\nline", to=(82, 53))
    s.say(38, 55, "seen from the front; outboard is right")
    s.say(14, 10, "arm", to=(18, 20))


def point(s: Sketch, _number: Number) -> None:
    s.chain((30, 4), (30, 51))
    s.line((4, 25), (56, 25), width=THIN)
    s.say(30, 55, "from above, front is up")
    s.reading((10, 39), (50, 39), "2 y")
    s.reading((10, 25), (10, 39), "x")
    for x, words in ((10, "left mark"), (50, "right mark")):
        s.dot(x, 39, 1.3)
        s.say(x, 45, words)
    s.say(47, 19, "axle line", to=(46, 25))
    s.say(17, 8, "centre plane", to=(30, 12))
    s.ground(6, 62, 98)
    s.dot(70, 42, 1.3)
    s.say(70, 48, "joint")
    s.line((70, 42), (70, 11), width=THIN)
    s.shape((68.6, 11), (71.4, 11), (70, 6.6), fill="#000000", width=0)
    s.box(84, 20, 4, 16, fill=PALE)
    s.dot(88, 28)
    s.reading((77, 6), (77, 42), "P", at=0.4)
    s.line((70, 42), (79, 42), width=HAIR)
    s.reading((94, 6), (94, 28), "H", at=0.45)
    s.line((88, 28), (96, 28), width=HAIR)
    s.say(90, 42, "hub\ncentre", to=(88, 29))
    s.say(82, 55, "z = P - H", bold=True)


def _named(s: Sketch, number: Number, kind: str, places: dict[str, tuple[float, float, float, float]]) -> None:
    """Joints as dots, each with the number of its question beside it: x, y, and where the number stands."""
    for name, (x, y, dx, dy) in places.items():
        s.dot(x, y, 1.2)
        s.line((x, y), (x + dx, y + dy), width=HAIR)
        s.mark(x + dx, y + dy, number(f"{kind}:points/{name}"))


def _corner(s: Sketch, x: float) -> None:
    """Tire, hub and floor of a corner, seen from the front; x of the hub face."""
    s.ground(4, 2, 58)
    s.box(x - 3, 4.4, 13, 44, width=THIN, style=(0, (4, 2)))
    s.box(x - 5, 18, 5, 16, fill=PALE, width=THIN)
    s.line((x, 16), (x, 36), width=BOLD)


def double_wishbone(s: Sketch, number: Number) -> None:
    _corner(s, 42)
    s.line((8, 16), (36, 15), width=BOLD)
    s.line((13, 38), (34, 40), width=BOLD)
    s.line((36, 15), (34, 40), width=BOLD)
    _named(s, number, "double_wishbone", {"lower_ball": (36, 15, -2, -7), "upper_ball": (34, 40, -4, 8)})
    s.say(12, 9, "lower arm", to=(14, 16))
    s.say(13, 47, "upper arm", to=(19, 38.5))
    s.say(28, 55, "seen from the front")
    s.box(61, 13, 9, 32, width=THIN, style=(0, (4, 2)))
    s.line((94, 39), (70, 29), (94, 19), width=BOLD)
    s.line((88, 34), (72, 29), (88, 24), width=THIN)
    s.line((93, 49), (70, 45))
    _named(s, number, "double_wishbone", {
        "lower_inner_front": (94, 39, -8, 4), "lower_inner_rear": (94, 19, -8, -5),
        "upper_inner_front": (88, 34, -12, 4), "upper_inner_rear": (88, 24, -12, -4.4),
        "tie_inner": (93, 49, -8, 2), "tie_outer": (70, 45, -4, 6)})  # fmt: skip
    s.say(78, 6.4, "from above, front is up;\nthin: upper arm")


def strut(s: Sketch, number: Number) -> None:
    _corner(s, 42)
    s.line((8, 14), (36, 13), width=BOLD)
    s.line((36, 13), (32, 24), width=BOLD)
    s.line((32.5, 23), (26.6, 49), width=3)
    s.line((18, 50), (34, 50), width=BOLD)
    _named(s, number, "strut", {"lower_ball": (36, 13, -3, -5.4), "strut_top": (26.2, 50, -13, 2),
                                "strut_axis_point": (31, 30, -14, -2)})  # fmt: skip
    s.say(12, 20, "lower arm", to=(16, 14.2))
    s.say(44, 55, "seen from the front")
    s.box(61, 13, 9, 32, width=THIN, style=(0, (4, 2)))
    s.line((94, 38), (70, 28), (94, 18), width=BOLD)
    s.line((93, 49), (70, 45))
    _named(s, number, "strut", {"lower_inner_front": (94, 38, -9, 4), "lower_inner_rear": (94, 18, -9, -4),
                                "tie_inner": (93, 49, -8, 2), "tie_outer": (70, 45, -4, 5)})  # fmt: skip
    s.say(78, 6, "from above, front is up")


def five_link(s: Sketch, number: Number) -> None:
    s.box(4, 13, 10, 32, width=THIN, style=(0, (4, 2)))
    s.box(18, 20, 6, 19, fill=PALE, width=THIN)
    s.chain((2, 29), (88, 29))
    rods = {
        "lower_front": ((84, 49), (27, 40)), "upper_front": ((64, 40), (23, 34.5)), "upper_rear": ((64, 19), (23, 24)),
        "lower_rear": ((83, 15), (27, 17)), "toe": ((76, 7), (22, 11)),
    }  # fmt: skip
    for name, (body, knuckle) in rods.items():
        s.line(body, knuckle, width=THIN if name.startswith("upper") else BOLD)
        s.say(0.5 * (body[0] + knuckle[0]), 0.5 * (body[1] + knuckle[1]), name.replace("_", " "))
        _named(s, number, "five_link", {f"{name}_body": (*body, 9, 0)})
        _named(s, number, "five_link", {f"{name}_knuckle": (*knuckle, -11, 3 if knuckle[1] > 30 else -3)})
    s.say(40, 55, "from above, front is up; thin: upper links")


def solid_axle(s: Sketch, number: Number) -> None:
    s.ground(4)
    for x in (6, 82):
        s.box(x, 4.4, 12, 40, width=THIN, style=(0, (4, 2)))
    s.box(18, 22, 64, 4, fill=PALE)
    s.chain((50, 6), (50, 51))
    s.line((22, 33), (74, 40), width=BOLD)
    s.line((81, 16), (79, 33), width=THIN)
    _named(s, number, "solid_axle", {"panhard_axle": (22, 33, 2, 8), "panhard_body": (74, 40, -4, 8),
                                     "lower_ball": (81, 16, -9, -4), "upper_ball": (79, 33, -10, -2)})  # fmt: skip
    s.say(36, 12, "axle", to=(40, 22))
    s.say(50, 55, "seen from the front; the vehicle's left is right")
    s.say(44, 46, "panhard bar", to=(48, 36.5))


def out(s: Sketch, _number: Number) -> None:
    s.chain((4, 9), (96, 9))
    s.box(40, 9, 4, 17, fill=PALE)
    s.box(44, 3, 2.2, 51, fill="#000000", width=0)
    s.line((74, 50), (74, 42), (70, 42), width=BOLD)
    s.reading((46.2, 42), (74, 42), "out")
    s.reading((56, 9), (56, 42), "radius", at=0.55)
    s.say(88, 49, "fender lip", to=(75, 45))
    s.ring(18, 32, 4, fill=PALE)
    s.reading((18, 32), (44, 32), "out", at=0.55)
    s.say(18, 44, "a part inboard:\nout is negative", to=(18, 36))
    s.say(66, 4.4, "hub centre", to=(46, 9))
    s.say(68, 55, "straightedge on the hub face", to=(46, 51))
    s.say(82, 24, "radius: from the\nspin axis, square\nto it")


def edge(s: Sketch, _number: Number) -> None:
    centre = (50.0, 16.0)
    s.ring(*centre, 14, width=THIN, style=(0, (4, 2)))
    s.dot(*centre)
    s.line(*around(centre, 31, 2, 178), width=BOLD)
    for i, angle in enumerate((176, 148, 120, 90, 60, 32, 4), start=1):
        s.dot(*polar(centre, 31, float(angle)), 1.3)
        s.say(*polar(centre, 35 if i != 4 else 27, float(angle)), str(i), bold=True)
    s.reading(centre, polar(centre, 31, 120.0), "radius", at=0.62)
    s.arc(*centre, 10, 120, 180)
    s.line(centre, (36, 16), width=THIN)
    s.say(27, 8, "clock", to=(41, 20))
    s.say(50, 55, "a fender lip from outside, left side: 7 points")
    s.arrow((22, 4), (6, 4))
    s.say(30, 4, "front")


def rod(s: Sketch, _number: Number) -> None:
    s.turned_box((27, 29), 9, 44, -20, fill=PALE)
    s.line((19, 7), (35.4, 50), width=HAIR, style=(0, (4, 2)))
    for x, y, words, at in ((20, 9.6, "one end", (9, 15)), (34.2, 48.6, "the other end", (46, 55))):
        s.dot(x, y, 1.4)
        s.say(*at, words, to=(x, y))
    s.say(49, 24, "radius = half\nthe thickness", to=(30, 29.2))
    s.line((22.6, 30.6), (31.4, 27.4), width=THIN)
    s.say(8, 54, "rod", bold=True)
    s.ring(80, 31, 13, fill=PALE)
    s.dot(80, 31, 1.4)
    s.say(80, 11, "centre", to=(80, 31))
    s.reading((80, 31), (93, 31), "radius", shift=(0, 5))
    s.say(72, 54, "ball", bold=True)


def panel(s: Sketch, _number: Number) -> None:
    rows: list[list[tuple[float, float]]] = []
    for x, up in ((8, 14), (25, 27), (45, 32), (65, 27), (80, 14)):
        rows.append([(x, up), (x + 4, up + 7), (x + 9, up + 11)])
    for row, following in pairwise(rows):
        for a, b in zip(row, following, strict=True):
            s.line(a, b, width=THIN)
    for i, row in enumerate(rows, start=1):
        s.line(*row, width=BOLD)
        for place in row:
            s.dot(*place, 1.2)
        s.say(row[0][0] - 1, row[0][1] - 4.4, f"row {i}", bold=True)
    s.arrow((90, 32), (95, 39))
    s.say(90, 43, "outboard")
    s.arrow((18, 3.6), (4, 3.6))
    s.say(25, 3.6, "front")
    s.say(50, 53.6, "each row across the panel, inboard to outboard,\nequally many points; rows from front to back")


def gap(s: Sketch, number: Number) -> None:
    s.ground(4)
    s.box(66, 4.6, 20, 42, fill=PALE, width=BOLD)
    s.box(69, 12, 14, 26, width=THIN)
    s.say(76, 25, "tire on\nit now")
    s.box(10, 28, 18, 12, hatch="////")
    s.say(18, 47, "frame", to=(20, 40))
    s.reading((28, 34), (66, 34), number("measured_gap/gap"))
    s.say(34, 16, "the shortest way, wheels\nstraight ahead, reference pose,\nbefore the wheel comes off")
    s.say(50, 55, "seen from the front; outboard is right")


def eccentric(s: Sketch, number: Number) -> None:
    s.ring(28, 28, 19, width=BOLD)
    s.dot(28, 28, 1.0)
    place = polar((28.0, 28.0), 12.0, 50.0)
    s.ring(*place, 4, fill=PALE)
    s.chain((4, 28), (56, 28))
    s.chain((28, 5), (28, 51))
    s.reading((28, 28), place, number("/eccentric"), shift=(-9, 4))
    s.arc(28, 28, 9, 0, 50, width=BOLD)
    s.mark(42, 21, number("/now"))
    s.line((40, 24), (36.5, 31), width=HAIR)
    s.say(60, 33, "0 = outboard")
    s.say(28, 54, "90 = up")
    s.say(77, 14, "where the pivot stands in\nthe circle that the\nbolt turns it round")
    s.say(78, 50, "seen from the front;\noutboard is right")


def wheel(s: Sketch, number: Number) -> None:
    s.chain((3, 7), (97, 7))
    s.line((12, 51), (12, 46), (20, 46), (28, 41), (66, 41), (72, 46), (80, 46), (80, 51), width=BOLD)
    s.line((60, 41), (64, 28), (58, 20), (58, 9), width=BOLD)
    s.line((64, 41), (68, 28), (63, 20), (63, 9), width=THIN)
    s.line((58, 7), (58, 22), width=BOLD)
    for x, y in ((59.6, 40), (63, 28), (58.4, 20)):
        s.dot(x, y, 1.1)
    for x, y in ((16, 45), (26, 41), (44, 40)):
        s.ring(x, y, 1.1, fill="#ffffff")
    s.reading((12, 55), (80, 55), number("wheel/overall_width"))
    s.reading((12, 14), (58, 14), "backspacing", at=0.4)
    s.line((12, 46), (12, 12), width=HAIR)
    s.reading((36, 7), (36, 41))
    s.say(36, 30, f"half of {number('wheel/barrel_clear_diameter')}")
    s.say(84, 30, f"{number('wheel/spoke_back')} black:\nback of the\nspokes", to=(64, 28))
    s.say(18, 35, f"{number('wheel/barrel_inside')} white", to=(25.4, 40.4))
    s.say(84, 14, "mounting face,\ny' = 0", to=(58.4, 16))
    s.say(89, 52, "street\nside")
    s.say(25, 3.4, "wheel's axis")


def pad(s: Sketch, number: Number) -> None:
    s.chain((3, 30), (60, 30))
    for y in (8, 36):
        s.box(24, y, 12, 16, hatch="////")
    s.box(24, 13, 12, 6, fill="#ffffff", width=THIN)
    s.box(24, 41, 12, 6, fill="#ffffff", width=THIN)
    for y in (13, 41):
        s.shape((36, y - 2.6), (36, y + 8.6), (30, y + 6), (30, y), fill=PALE)
    s.line((24, 4), (24, 54), width=BOLD)
    s.say(24, 56.4, "mounting face", bold=True)
    s.reading((14, 8), (14, 52), number("wheel/pad_diameter"), at=0.65)
    for y in (8, 52):
        s.line((12, y), (24, y), width=HAIR)
    s.reading((24, 31), (30, 31))
    s.say(50, 33, f"{number('wheel/pad_thickness')}: to the\nnut's seat", to=(27, 31))
    s.reading((44, 41), (44, 47))
    for y in (41, 47):
        s.line((36, y), (46, y), width=HAIR)
    s.say(56, 46, f"{number('wheel/stud_hole')} hole", to=(45, 44))
    s.say(60, 14, f"{number('wheel/seat')} seat,\nhere a cone", to=(33, 16))
    for x, words in ((76, "cone"), (85, "ball"), (94, "flat")):
        s.say(x, 30, words)
    s.shape((73, 42), (79, 42), (77.4, 36), (74.6, 36), fill=PALE)
    s.shape((82, 42), (82.4, 38.6), (84, 36.6), (85, 36.2), (86, 36.6), (87.6, 38.6), (88, 42), fill=PALE)
    s.box(91, 36, 6, 6, fill=PALE)
    s.say(85, 47, "nuts", bold=True)


SKETCHES: dict[str, tuple[str, Draw]] = {
    "frame": ("Which way x, y and z go", frame),
    "hub_height": ("Heights, wheel on", hub_height),
    "camber": ("Camber", camber),
    "toe": ("Toe-in, from both wheels", toe),
    "locks": ("Lock angles", locks),
    "wheel": ("Wheel, cut through above its axis", wheel),
    "pad": ("Its pad, cut through", pad),
    "hub_faces": ("Hub face to hub face", hub_faces),
    "register": ("Hub, cut through", register),
    "studs": ("Bolt circle from a chord", studs),
    "caliper": ("Outline of the caliper", caliper),
    "clock": ("Clock angles", clock),
    "travel": ("Travel, with the jack", travel),
    "track": ("The wheel in bump, and in droop", track),
    "point": ("How a point is read", point),
    "double_wishbone": ("double_wishbone", double_wishbone),
    "strut": ("strut", strut),
    "five_link": ("five_link", five_link),
    "solid_axle": ("solid_axle", solid_axle),
    "out": ("A point by radius and out", out),
    "edge": ("edge: points in order", edge),
    "rod": ("rod and ball", rod),
    "panel": ("panel: rows of points", panel),
    "gap": ("Gap to the tire that is on", gap),
    "eccentric": ("Eccentric", eccentric),
}
