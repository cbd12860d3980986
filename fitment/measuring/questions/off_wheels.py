"""Questions about an axle on stands with its wheels off: hub, brake, motion, hardpoints."""

from __future__ import annotations

from fitment.measuring.questions.forms import Group, Question
from fitment.measuring.questions.on_wheels import AXLE

HUB, ROTOR, CALIPER = AXLE + "hub/", AXLE + "brake/rotor/", AXLE + "brake/caliper/"
SUSPENSION, POINTS = AXLE + "suspension/", AXLE + "suspension/points/"
STEERS = ("steers", ("yes",))


def _gauge(path: str, ask: str, how: str, example: str, *, gives: float = 0.1, remark: str = "") -> Question:
    return Question(
        path, ask, "length", how=how, tool="vernier calipers", gives=gives, example=example,
        remark=remark or ask.lower(),
    )  # fmt: skip


FACES = Group(
    title="On stands, wheels off: the hub",
    how="Rotors on and clamped flat with two nuts each, wheels straight ahead. Jack each hub until the tape from hub "
    "centre to fender lip reads as it did on the ground. The hub face is what the wheel's pad sits on: with a slip-on "
    "rotor, the outer face of its hat.",
    drawings=("hub_faces", "register", "studs"),
    items=(
        Question(
            AXLE + "hub_face_width", "Hub face to hub face", "length", need=True,
            how="A long straightedge flat on each hub face, lengthwise, at hub height. Measure between them as far in "
            "front of the hubs as behind; the mean of both.",
            tool="two straightedges, tape", datum="left face to right face", gives=2, adds=True, example="1572",
            raw=("front", "behind"),
            remark="hub face to hub face, both sides",
        ),
        Question(
            HUB + "bolt_circle", "Bolt circle: lugs x diameter, or lugs and the chord", "circle",
            how="Chord: between the centres of two studs next to each other; type it as 5 chord 67.2 mm.",
            tool="vernier calipers", gives=0.5, example="5x114.3", remark="lugs x diameter",
        ),
        Question(
            HUB + "stud", "Thread of the studs", "thread", how="M14x1.5 in mm, or 1/2-20 in inches and threads.",
            tool="thread gauge", example="M14x1.5", remark="thread of the studs",
        ),
        _gauge(HUB + "stud_length", "Studs: how far they stand out of the hub face", "From the hub face to the "
               "end of the thread.", "42", gives=0.5, remark="how far they stand out of the hub face"),
        Question(
            HUB + "nut", "Thread of the nuts in hand", "thread", tool="thread gauge", example="M14x1.5",
            remark="thread of the nuts in hand",
        ),
        Question(
            HUB + "nut_seat", "Seat of these nuts", "word", choices=("cone", "ball", "flat"),
            how="How the nut sits on the wheel: a cone, a ball, or a flat face with a washer.",
            remark="seat of the nuts in hand",
        ),
        Group(
            lead=True,
            part=HUB + "wheel_register",
            items=(
                _gauge(HUB + "wheel_register/diameter", "Wheel register: diameter", "The register is the step that the "
                       "wheel's bore sits on.", "70.5", remark="the step that centres the wheel"),
                _gauge(HUB + "wheel_register/length", "Wheel register: length", "How far it stands out of the hub "
                       "face, rotor on, chamfer not counted.", "8", gives=0.5,
                       remark="how far it stands out of the hub face"),
            ),
        ),
        Group(
            gate=Question("", "Is there a second, larger register behind it, for the rotor", "yes", default="no"),
            part=HUB + "rotor_register",
            items=(
                _gauge(HUB + "rotor_register/diameter", "Rotor register: diameter", "Rotor off.", "84.0",
                       remark="the step that centres the rotor"),
                _gauge(HUB + "rotor_register/length", "Rotor register: length", "Rotor off.", "6", gives=0.5,
                       remark="how far it stands out"),
            ),
        ),
    ),
)  # fmt: skip

BRAKE = Group(
    title="On stands, wheels off: the brake",
    how="A straightedge across the hub face is the datum: y' is counted from it, outboard positive, inboard negative; "
    "r from the centre of the hub. Brake dust harms the lungs: damp it, never blow it out.",
    drawings=("caliper", "clock"),
    items=(
        Group(
            gate=Question("", "Did you measure the rotor", "yes", default="no"),
            part=AXLE + "brake/rotor",
            items=(
                Question(ROTOR + "diameter", "Rotor: outer diameter", "length", tool="tape", gives=1, example="300",
                         how="Across the middle.", remark="outer diameter"),
                _gauge(ROTOR + "bore", "Rotor: bore", "The hole that sits on the register.", "84.2",
                       remark="centring hole"),
                _gauge(ROTOR + "hat_thickness", "Rotor: thickness of the hat", "Where it lies between hub and wheel.",
                       "7", remark="of the hat between hub and wheel"),
                _gauge(ROTOR + "stud_hole", "Rotor: diameter of one stud hole", "All of them count as this large.",
                       "15", remark="of one stud hole"),
                Question(ROTOR + "mass", "Rotor: mass", "number", unit="kg", tool="scale", example="9.5",
                         remark="[kg]"),
                Question(
                    ROTOR + "outline", "Rotor: point of its outer edge (y', r)", "pair", many=2, gives=1,
                    tool="straightedge on the hub face, tape", datum="hub face, hub centre",
                    how="At least two: its outer edge inboard, and outboard. For both, r is half the rotor's diameter.",
                    example="-62, 150", remark="[y', r]: from the hub face (outboard positive), from the spin axis",
                ),
            ),
        ),
        Group(
            gate=Question("", "Did you measure the caliper", "yes", default="no"),
            part=AXLE + "brake/caliper",
            items=(
                Question(
                    CALIPER + "outline", "Caliper: corner of its outline (y', r)", "pair", many=2, need=True, gives=2,
                    tool="straightedge on the hub face, tape", datum="hub face, hub centre",
                    how="Go round it, corner by corner, and take the farthest point of the whole caliper at each: its "
                    "inboard end, the top, the nose next to the spokes.",
                    example="-95, 105", remark="[y', r] round it: from the hub face (outboard positive), from the "
                    "spin axis",
                ),
                Question(CALIPER + "mass", "Caliper: mass with its pads", "number", unit="kg", tool="scale",
                         example="4.2", remark="with its pads [kg]"),
                Question(
                    CALIPER + "clock", "Caliper: where it begins and ends round the hub", "clock", gives=5,
                    tool="angle gauge", datum="0 = forward, 90 = up",
                    how="Seen from outside the left side: 0 forward, 90 up, 180 back, 270 down. From the lower to the "
                    "higher number. Skip: all round.",
                    example="140, 215", remark="[deg], 0 = forward, 90 = up",
                ),
            ),
        ),
    ),
)  # fmt: skip

MOTION = Group(
    title="On stands, wheels off: how far and how the wheel moves",
    how="Never under the vehicle while it moves. Take the spring out, or let the air off, by the maker's method: a "
    "loaded spring kills. Move the hub with the jack; every reading counts from the reference pose.",
    drawings=("travel", "track"),
    part=AXLE + "travel",
    items=(
        Question(
            AXLE + "travel/droop", "Travel down to full droop", "length", need=True, tool="tape", gives=3, adds=True,
            how="Lower the jack until the damper or a strap stops the hub. Read C, hub centre to fender lip. A is the "
            "same reading at the reference pose. Droop = A - C, zero or negative.", raw=("A", "C"),
            datum="reference pose", example="-70", remark="lowest travel of the wheel, 0 or negative",
        ),
        Question(
            AXLE + "travel/bump", "Travel up to the bump stop", "length", need=True, tool="tape", gives=3, adds=True,
            how="A jack under one corner lifts the body and does not press the bump stop. So take the spring out and "
            "the stop out; S is the stop's free height. Raise the hub until metal meets metal. "
            "Read B, hub centre to fender lip. A squeezed stop keeps about S / 3 (common practice, no published "
            "source): bump = A - B - S / 3. Stop left in: read B where it just touches; bump = A - B + 2 S / 3.",
            raw=("A", "B", "S"),
            datum="reference pose", example="80", remark="highest travel of the wheel, 0 or positive",
        ),
        Question(
            AXLE + "steer_limit", "Where full lock cannot be used: travel, share of the lock angle", "share", many=0,
            how="Full lock everywhere: skip it. Else begin with the highest travel at which the steering goes all the "
            "way, such as 60 mm, 1. Then each higher travel with its share: 80 mm, 0.6 = there the wheel turns 60 % of "
            "its lock angle. Above the last travel its share stays.",
            example="80, 0.6", when=(STEERS,), remark="[travel, share of the lock angle that is used there]",
        ),
        Group(
            when=(("kind", ("tape",)),),
            part=AXLE + "suspension",
            items=(
                Question(
                    SUSPENSION + "readings", "Wheel in bump, and in droop: travel, out, camber", "raised", many=0,
                    tool="plumb line, tape, angle gauge", gives=1, adds=True,
                    datum="reference pose, plumb line",
                    how="Spring out. At least one reading near full bump and one near full droop, as many between as "
                    "you like. Raise or lower the hub, wheels straight ahead. Travel: up positive. D: hub face's "
                    "centre to a plumb line hung outside it, at the reference pose; E: there. Out = D - E. Camber: as "
                    "the gauge shows it there, top leaning in is negative. Write - for what was not read.",
                    example="80, 3, -2.4", remark="travel, how far out the hub face is there, camber there",
                ),
            ),
        ),
        Group(
            when=(("kind", ("tape",)), STEERS),
            lead=True,
            part=SUSPENSION + "steering_axis",
            items=(
                Question(
                    SUSPENSION + "steering_axis/lower", "Steering axis: lower point", "point", gives=3, adds=True,
                    how="Centre of the lower ball joint. How a point is read: section 1.",
                    tool="plumb bob, tape", datum="axle line, centre plane, hub centre", example="7, 682, -133",
                    remark="[x, y, z]: forward of the axle line, out from the centre plane, above the hub centre",
                ),
                Question(
                    SUSPENSION + "steering_axis/upper", "Steering axis: upper point", "point", need=True, gives=3,
                    adds=True,
                    how="Centre of the upper ball joint; of a strut, the centre of its top mount.",
                    tool="plumb bob, tape", datum="axle line, centre plane, hub centre", example="-14, 622, 205",
                ),
            ),
        ),
    ),
)  # fmt: skip


def _points(kind: str, *named: tuple[str, str], need: bool = True, under: str = POINTS) -> tuple[Question, ...]:
    """Hardpoints of one kind: (name, where it is)."""
    return tuple(
        Question(
            under + name, where[0].upper() + where[1:], "point", need=need, gives=3, adds=True, tool="plumb bob, tape",
            how=f"Its name is {name}.",
            datum="axle line, centre plane, hub centre", when=(("kind", (kind,)),), remark=where, raw=("2 y", "P", "H"),
        )
        for name, where in named
    )  # fmt: skip


_LOWER = (
    ("lower_inner_front", "lower arm, front pivot on the body"),
    ("lower_inner_rear", "lower arm, rear pivot on the body"),
    ("lower_ball", "lower ball joint, centre"),
)
_TIE = (("tie_inner", "tie rod or toe link, inner joint"), ("tie_outer", "tie rod or toe link, outer joint"))
_RODS = tuple(
    (f"{rod}_{end}", f"{rod.replace('_', ' ')} link, joint at the {end}")
    for rod in ("upper_front", "upper_rear", "lower_front", "lower_rear", "toe")
    for end in ("body", "knuckle")
)

HARDPOINTS = Group(
    title="On stands, wheels off: hardpoints",
    continues=True,
    how="Only for a suspension that is not of kind tape; hub at the reference pose. A point is the centre of a joint "
    "or the middle of a bushing's bolt, read as in section 1: plumb bob and tape give 3 mm. Where a straightedge on "
    "the hub face is easier, give clock, radius and out.",
    drawings=("point", "double_wishbone", "strut", "five_link", "solid_axle"),
    when=(("kind", ("double_wishbone", "strut", "five_link", "solid_axle")),),
    part=AXLE + "suspension",
    items=(
        *_points(
            "double_wishbone", *_LOWER,
            ("upper_inner_front", "upper arm, front pivot on the body"),
            ("upper_inner_rear", "upper arm, rear pivot on the body"),
            ("upper_ball", "upper ball joint, centre"), *_TIE,
        ),
        *_points(
            "strut", *_LOWER, ("strut_top", "strut, centre of its top mount"),
            ("strut_axis_point", "strut, a second point on its axis, fixed to the knuckle"), *_TIE,
        ),
        Group(
            gate=Question("", "Did you measure how far the strut can move in and out", "yes", default="no"),
            when=(("kind", ("strut",)),),
            part=SUSPENSION + "stroke",
            items=(
                Question(SUSPENSION + "stroke/compression", "Strut: how much shorter it can get", "length", need=True,
                         how="Length of rod that shows at the reference pose, less what shows at the bump stop.",
                         tool="tape", gives=3, example="95", remark="from the reference pose"),
                Question(SUSPENSION + "stroke/extension", "Strut: how much longer it can get", "length", need=True,
                         how="Length of rod that shows hanging free, less what shows at the reference pose.",
                         tool="tape", gives=3, example="90", remark="from the reference pose"),
            ),
        ),
        *_points("five_link", *_RODS),
        Group(
            lead=True,
            when=(("kind", ("solid_axle",)),),
            items=_points(
                "solid_axle", ("panhard_body", "panhard bar, joint at the body"),
                ("panhard_axle", "panhard bar, joint at the axle; a point right of the centre plane has negative y"),
                need=False,
            ),
        ),
        Group(
            lead=True,
            when=(("kind", ("solid_axle",)), STEERS),
            items=_points(
                "solid_axle", ("lower_ball", "lower kingpin or ball joint"),
                ("upper_ball", "upper kingpin or ball joint"), need=False,
            ),
        ),
        Group(
            gate=Question("", "Is it on leaf springs, and did you measure them", "yes", default="no"),
            when=(("kind", ("solid_axle",)),),
            part=SUSPENSION + "links",
            items=_points(
                "solid_axle", ("spring_eye", "leaf spring, centre of its fixed eye on the body"),
                ("spring_axle", "leaf spring, its middle where it is clamped to the axle"), under=SUSPENSION + "links/",
            ),
        ),
        Group(
            gate=Question("", "Is it on links fore and aft, and did you measure them", "yes", default="no"),
            when=(("kind", ("solid_axle",)),),
            part=SUSPENSION + "links",
            items=(
                *_points(
                    "solid_axle", ("lower_body", "lower or only link, joint at the body"),
                    ("lower_axle", "lower or only link, joint at the axle"), under=SUSPENSION + "links/",
                ),
                Group(
                    lead=True,
                    items=_points(
                        "solid_axle", ("upper_body", "upper link, joint at the body"),
                        ("upper_axle", "upper link, joint at the axle"), under=SUSPENSION + "links/", need=False,
                    ),
                ),
            ),
        ),
    ),
)  # fmt: skip
