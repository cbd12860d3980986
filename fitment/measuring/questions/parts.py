"""Questions about the parts that a wheel could meet, what hangs lowest, and what can be set."""

from __future__ import annotations

from fitment.measuring.questions.forms import Group, Question
from fitment.measuring.questions.on_wheels import AXLE, CHASED

PART = AXLE + "obstacles/{n}/"
ADJUSTER = AXLE + "adjusters/{n}/"
LOW = AXLE + "low_points/{n}/"
SHAPES = ("edge", "rod", "ball", "panel", "ring")
_SOLID = (("shape", ("edge", "rod", "ball", "panel")),)


def _shape(*shapes: str) -> tuple[tuple[str, tuple[str, ...]], ...]:
    return (("shape", shapes),)


def _point(path: str, ask: str, shape: str, *, many: int | None = None, form: str = "point", how: str = "") -> Question:
    return Question(
        PART + path, ask, "row" if form == "row" else "point", need=True, many=many, gives=3, when=_shape(shape),
        how=how, tool="straightedge on the hub face, tape, angle gauge",
        datum="hub centre and hub face, or axle line and centre plane",
        remark="x forward, y outboard, z up (or clock, radius, out)" if path in ("points", "rows") else "",
        example="-400, 84, 30" if form == "point" else "-420, 560, 60; -420, 640, 110",
    )  # fmt: skip


REST = Group(
    gate=Question(
        "", "Change any of this: tolerance {3 mm|0.12 in}; required {5 mm|0.20 in} to the tire, {3 mm|0.12 in} to the "
        "wheel; on both sides",
        "yes", default="no",
        how="no takes it as it stands, with an edge joined by straight lines, a thin panel, a ring all round. A "
        "flexible liner has a tolerance of 5 mm.",
    ),
    items=(
        Question(PART + "smooth", "Join the points by a smooth curve", "yes", when=_shape("edge")),
        Question(PART + "cover", "Is it the edge of the bodywork over the tread", "yes", when=_shape("edge"),
                 how="Skip: the program decides by its place."),
        Question(PART + "solid", "Which side of it is solid", "word", choices=("behind",), when=_shape("panel"),
                 how="behind: no part of wheel or tire may be beyond it. Skip: a thin panel."),
        Question(PART + "clock", "Where it begins and ends round the hub", "clock", when=_shape("ring"),
                 tool="angle gauge", datum="0 = forward, 90 = up", gives=5, example="200, 225",
                 how="Skip: all round."),
        Question(
            PART + "tolerance", "How far the part may be from where you read it", "length", tool="", gives=3,
            how="A tape and straightedge under a vehicle give 3 mm, a flexible liner 5 mm.", example="3",
            default="{gives}", remark="counted in the worst case",
        ),
        Question(
            PART + "allowance", "Clearance required to tire and wheel", "length", example="8",
            how="Skip: 5 mm to the tire, 3 mm to the wheel.", remark="clearance required",
        ),
        Question(PART + "meets", "Checked against", "word", choices=("tire", "wheel", "both"), how="Skip: both."),
        Question(PART + "side", "Found on one side only", "word", choices=("left", "right"), how="Skip: on both."),
    ),
)  # fmt: skip

OBSTACLES = Group(
    title="On stands, wheels off: parts that a wheel could meet",
    how="Fender lip, inner fender, frame, damper, spring, arms, ball joints, tie rod end, sway bar, hoses. One form "
    "for each part. Only what you measure is checked. Hub at the reference pose, wheels straight ahead. A point is "
    "x, y, z, or as the tape finds it: clock 90, radius 402 mm, out 30 mm (add hub if square to the hub face, not to "
    "the body). y and out count outboard; a part inboard of the hub face has a negative out.",
    drawings=("out", "clock", "edge", "rod", "panel", "gap"),
    each="item",
    part=AXLE + "obstacles/{n}",
    items=(
        Question(
            PART + "name", "Name of the part", "text", example="fender lip",
            how="A name of its own; it stands in every report.",
        ),
        Question(
            PART + "shape", "Shape", "word", need=True, choices=SHAPES, sets="shape",
            how="edge: a lip or a line of points. rod: straight and round. ball: a lump. panel: a surface, rows of "
            "points. ring: an outline round the hub, as a caliper.",
        ),
        Question(
            PART + "fixed_to", "What it moves with", "word", choices=("{carriers}",),
            how="body, knuckle (with the hub), an arm, the rack, a link, the axle. Skip: body.",
        ),
        Question(
            PART + "measured_from", "y is counted from", "word", choices=("centre_plane", "hub_face"), when=_SOLID,
            how="hub_face: the straightedge on the hub face. Skip: the vehicle's centre plane. A clock point "
            "always counts from the hub face.",
        ),
        _point("points", "Point", "edge", many=2,
               how="In order along the edge, 5 to 7 over a fender lip: two low in front, one at the top, two behind."),
        _point("from/at", "One end of the rod, on its axis", "rod"),
        Question(PART + "from/fixed_to", "What this end moves with", "word", choices=("{carriers}",),
                 when=_shape("rod"), how="Skip: as the part."),
        _point("to/at", "The other end of the rod", "rod"),
        Question(PART + "to/fixed_to", "What this end moves with", "word", choices=("{carriers}",),
                 when=_shape("rod"), how="Skip: as the part."),
        _point("at", "Centre of the ball", "ball"),
        _point("rows", "Row of points, separated by ;", "panel", many=2, form="row",
               how="From front to back, each row across the panel from inboard to outboard, equally many points in "
               "each."),
        Question(
            PART + "outline", "Corner of the outline (y', r)", "pair", many=2, need=True, gives=2, when=_shape("ring"),
            how="As the caliper: y' from the hub face, r from the hub centre.",
            tool="straightedge on the hub face, tape", datum="hub face, hub centre", example="-70, 150",
        ),
        Question(
            PART + "radius", "Half the part's thickness, round these points", "length", when=_SOLID,
            tool="vernier calipers", gives=1, how="Rod or lip: half its thickness. Ball: its radius. Skip: 0.",
            example="3", remark="half its thickness, round its points",
        ),
        Group(
            when=_SOLID,
            lead=True,
            items=(
                Question(
                    PART + "measured_gap/gap", "Gap between it and the tire or wheel that was on", "length",
                    when=_SOLID, tool="tape, feeler sticks", gives=2, example="22",
                    remark="gap read to the wheels that were on",
                    how="Only where its y is hard to reach. Read it before the wheel comes off: at the reference pose, "
                    "straight ahead, the shortest way. The program slides the part along y until the gap fits. Skip: "
                    "not read.",
                ),
                Question(PART + "measured_gap/to", "Gap to", "word", need=True, choices=("tire", "wheel"),
                         default="tire", when=_SOLID),
            ),
        ),
        REST,
    ),
)  # fmt: skip

LOWEST = Group(
    title="On stands, wheels off: what hangs lowest",
    how="For the ground: the lowest place of each part that hangs down, arms, sway bar, exhaust, sump. Read as in "
    "section 1. If you skip this, the program checks the joints and parts it knows against the ground.",
    each="item",
    part=AXLE + "low_points/{n}",
    items=(
        Question(LOW + "name", "Name of the part that hangs low", "text", example="exhaust"),
        Question(LOW + "fixed_to", "What it moves with", "word", choices=("{carriers}",), how="Skip: body."),
        Question(LOW + "at", "Its lowest place", "point", need=True, gives=3, adds=True, tool="plumb bob, tape",
                 datum="axle line, centre plane, hub centre", example="-250, 300, -150",
                 remark="x forward, y outboard, z up"),
    ),
)  # fmt: skip

ADJUSTERS = Group(
    title="On stands, wheels off: what can be set",
    continues=True,
    how="Only where an alignment can be set at a pivot of section 6: eccentric bolts, shims, slots, a ball joint in an "
    "oblong hole, or by the length of one of five links. Toe is always re-set: by the tie rod, or by the toe link's "
    "own adjuster where there is one.",
    drawings=("eccentric",),
    when=(("kind", CHASED),),
    each="item",
    part=AXLE + "adjusters/{n}",
    items=(
        Question(ADJUSTER + "name", "Name of the adjuster", "text", example="lower eccentric bushings"),
        Question(ADJUSTER + "moves", "Points that it moves", "names", need=True, choices=("{points}",),
                 how="Names of section 6, separated by commas.", example="lower_inner_front, lower_inner_rear"),
        Question("", "How it moves them", "word", need=True, choices=("eccentric", "settings", "length"), sets="mode",
                 how="eccentric: an off-centre bolt that turns. settings: fixed places, shims or a slot. length: one "
                 "of five links that is made longer or shorter; its point is the end on the knuckle."),
        Question(ADJUSTER + "eccentric", "Eccentric: radius of its circle", "length", need=True,
                 when=(("mode", ("eccentric",)),), tool="vernier calipers", gives=0.2, example="5",
                 how="Half of the bolt's throw from one side to the other.", remark="radius of its circle"),
        Question(ADJUSTER + "step", "Eccentric: smallest turn", "angle", when=(("mode", ("eccentric",)),),
                 how="Skip: any turn.", example="15", remark="smallest turn [deg]"),
        Question(ADJUSTER + "now", "Eccentric: how each is set now", "angles", when=(("mode", ("eccentric",)),),
                 how="0 = pivot outboard, 90 = pivot up; one angle for each point. Skip: not known.",
                 example="90, 90", remark="0 = outboard, 90 = up [deg]"),
        Question(ADJUSTER + "out", "Settings outward", "lengths", when=(("mode", ("settings",)),),
                 how="From where it was measured, outboard positive.", example="-6, 0, 6"),
        Question(ADJUSTER + "forward", "Settings forward", "lengths", when=(("mode", ("settings",)),),
                 how="Forward positive.", example="-6, 0, 6"),
        Question(ADJUSTER + "length", "Link: least and most it gets longer", "lengths", when=(("mode", ("length",)),),
                 how="From its length as measured; shorter is negative.", example="-6, 8"),
    ),
)  # fmt: skip
