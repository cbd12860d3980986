"""Questions about a wheel, its tire and a spacer: of the build that is on the vehicle, and of those that are wanted."""

from __future__ import annotations

from fitment.measuring.questions.forms import Group, Question
from fitment.parts.tire import SHOULDERS

SEATS = ("cone", "ball", "flat")
_SHEET = "by the maker's data sheet"


def bolted(build: str, *, need: bool) -> tuple[Question, ...]:
    """Wheel and tire of a build on one axle; `build` is {now} or {build}."""
    to = f"builds/{build}/{{axle}}/"
    return (
        Question(
            to + "wheel/spec", "Wheel: size, offset, bolt circle, bore", "wheel", need=need,
            how="Cast or stamped on the back of the wheel or behind its cap: 20x10 ET25 6x139.7 CB78.1, or "
            "20x10 BS 6.5in.", example="15x6 ET35 5x114.3 CB70.6",
        ),
        Question(
            to + "tire/code", "Tire: the code on its sidewall", "tire", need=need,
            how="With load index, speed symbol and XL or LT if they stand there.", example="205/70R15 96H",
        ),
    )  # fmt: skip


def extras(build: str) -> tuple[Question | Group, ...]:
    """What may be known beside: of the wheel, of the tire, and of a spacer."""
    to = f"builds/{build}/{{axle}}/"
    return (
        Group(
            gate=Question("", "Do you know more of this wheel than its size", "yes", default="no"),
            items=_wheel(to + "wheel/"),
            part=to + "wheel",
        ),
        Group(
            gate=Question(
                "",
                "Do you know more of this tire: its shoulder, a rib beside the rim, its data sheet",
                "yes",
                default="no",
            ),
            items=_tire(to + "tire/"),
            part=to + "tire",
        ),
        Group(
            gate=Question("", "Is there a spacer or an adapter between hub and wheel", "yes", default="no"),
            items=_spacer(to + "spacer/"),
            part=to + "spacer",
        ),
    )


def _length(path: str, ask: str, example: str, *, gives: float = 0.5, how: str = "", tool: str = "vernier calipers",
            why: str = "", need: bool = False, remark: str = "", raw: tuple[str, ...] = ()) -> Question:  # fmt: skip
    return Question(
        path, ask, "length", how=how, tool=tool, gives=gives if tool else None, example=example, why=why, need=need,
        remark=remark or ask[0].lower() + ask[1:], raw=raw,
    )  # fmt: skip


def _seat(path: str, ask: str) -> Question:
    return Question(path, ask, "word", choices=SEATS, how="Where the nut sits: a cone, a ball, or a flat face.")


def _mass(path: str, ask: str, example: str) -> Question:
    return Question(path, ask, "number", unit="kg", tool="scale", example=example, remark=f"{ask.lower()} [kg]")


def _wheel(to: str) -> tuple[Question, ...]:
    return (
        _length(
            to + "offset", "Offset as measured", "35 +- 1", gives=1, tool="straightedge, tape",
            how="Straightedge across the back: from it down to the mounting face is the backspacing. Offset = "
            "backspacing minus half of the overall width.", raw=("backspacing",),
            remark="measured offset; beats the spec's",
        ),
        _length(to + "overall_width", "Overall width, flange to flange", "178", gives=1, tool="straightedge, tape"),
        _length(
            to + "barrel_clear_diameter", "Clear diameter of the barrel", "340", gives=1, tool="tape",
            how="The largest round plate that passes into the wheel from the back.",
        ),
        _length(to + "barrel_thickness", "Thickness of the barrel's metal", "8"),
        Question(
            to + "barrel_inside", "Barrel, point of its inner surface (y', r)", "pair", many=2, gives=1,
            tool="straightedge, tape", datum="mounting face, wheel's centre",
            how="y' from the mounting face, inboard negative; from one end to the other, two points or more.",
            example="-100, 200", remark="[y', r]: from the mounting face (outboard positive), from the centre",
        ),
        Question(
            to + "spoke_back", "Spokes, point of their back (y', r)", "pair", many=2, gives=1,
            tool="straightedge on the pad, tape", datum="mounting face, wheel's centre",
            how="y' from the mounting face, outboard positive; two points or more.", example="20, 150",
            remark="[y', r]: from the mounting face (outboard positive), from the centre",
        ),
        _length(to + "pad_diameter", "Diameter of the hub pad", "150"),
        _length(to + "pad_thickness", "Thickness of the pad, mounting face to nut seat", "13",
                why="how far the nuts engage"),
        _length(to + "stud_hole", "Diameter of one stud hole", "15", gives=0.1),
        _seat(to + "seat", "Seat for the nuts"),
        Question(to + "load_rating", "What one wheel may carry", "number", unit="kg", example="690",
                 how="Cast or stamped on the wheel, or the maker's statement.", remark="as its maker states it [kg]"),
        _mass(to + "mass", "Mass of the bare wheel", "9.5"),
    )  # fmt: skip


def _tire(to: str) -> tuple[Question, ...]:
    return (
        Question(
            to + "shoulder", "Shoulder: where the tread goes over into the sidewall", "word", choices=SHOULDERS,
            how="round: no edge to feel. usual: as most road tires. square: a sharp edge, the tread as wide as the "
            "tire. lugged: blocks stand out past it. Not known: skip; then a square one counts in the worst case.",
            remark="round, usual, square or lugged",
        ),
        Question(
            to + "rim_protector", "Does a rib stand out of the sidewall beside the rim", "yes",
            how="A raised ring that guards the rim from a kerb. Not known: skip; then one counts in the worst case.",
            remark="a rib that guards the rim",
        ),
        _length(to + "section_width", "Section width", "279", tool="", remark=_SHEET),
        Question(to + "on_rim", "Rim width it was measured on, in inches", "rim", unit="in", example="9.5",
                 remark="rim width that it was measured on [in]"),
        _length(to + "tread_width", "Tread width", "245", tool="", remark=_SHEET),
        _length(to + "overall_diameter", "Overall diameter", "729", tool="", remark=_SHEET),
        Question(to + "approved_rims", "Narrowest and widest rim approved, in inches", "rims", unit="in",
                 example="9, 11", remark="narrowest and widest rim that its maker approves [in]"),
        _mass(to + "mass", "Mass of the tire", "12"),
    )  # fmt: skip


def _spacer(to: str) -> tuple[Question | Group, ...]:
    return (
        _length(to + "thickness", "Thickness of the spacer", "5", gives=0.1, need=True),
        _length(to + "bore", "Bore of the spacer, which sits on the hub's register", "70.6", gives=0.1),
        _length(to + "register", "Diameter of the spacer's register, for the wheel's bore", "78", gives=0.1),
        _length(to + "register_length", "Length of that register", "8"),
        _mass(to + "mass", "Mass of the spacer, with its studs", "1.4"),
        Group(
            gate=Question("", "Is it an adapter with studs of its own", "yes", default="no"),
            items=(
                Question(to + "bolt_circle", "Bolt circle it offers to the wheel", "circle", example="6x139.7",
                         remark="the circle it offers to the wheel"),
                Question(to + "hub_circle", "Bolt circle it is drilled with for the hub", "circle", example="5x114.3",
                         remark="the circle it is drilled with for the hub's studs"),
                Question(to + "stud", "Thread of its own studs", "thread", example="M14x1.5",
                         remark="thread of its own studs"),
                _length(to + "stud_length", "How far its studs stand out of its outer face", "40"),
                Question(to + "nut", "Thread of the nuts in hand for them", "thread", example="M14x1.5",
                         remark="thread of the nuts in hand for its studs"),
                _seat(to + "nut_seat", "Seat of these nuts"),
                _length(to + "seat_thickness", "Metal between the hub face and the seat of the hub's nuts", "10"),
            ),
        ),
    )  # fmt: skip
