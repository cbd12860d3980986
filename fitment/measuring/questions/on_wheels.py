"""Questions about the whole vehicle, and about an axle while it stands on its wheels."""

from __future__ import annotations

from fitment.measuring.questions.forms import Group, Question
from fitment.measuring.questions.setups import bolted
from fitment.parts.tire import MARKETS

KINDS = ("tape", "double_wishbone", "strut", "five_link", "solid_axle")
CHASED = ("double_wishbone", "strut", "five_link")  # kinds whose points an adjuster can move
AXLE = "axles/{axle}/"

VEHICLE = Group(
    title="The vehicle",
    how="Keep the same wheels and tires on for every reading, at working pressure, the vehicle loaded as it is driven. "
    "How it stands now is called the reference pose: every height counts from it. At that pose a point is read in one "
    "of two ways. First way, x, y, z: hang a plumb bob from the point and mark the level floor. x: forward from the "
    "axle line (a chalk line through the marks below both hub centres) to the mark. y: half of 2 y, the distance "
    "between the left and the right mark. z = P - H, up positive: height P of the point less height H of the hub "
    "centre, both from the floor. Second way, clock, radius, out: from the hub centre and a straightedge on the hub "
    "face.",
    drawings=("frame", "point", "clock", "out"),
    items=(
        Question("name", "Name of the vehicle", "text", need=True, example="Long-roof wagon", remark="as you named it"),
        Question(
            "note", "Anything to remember", "text", how="Who measured, when, what was odd.", remark="your own words"
        ),
        Question(
            "wheelbase", "Wheelbase", "length",
            how="On the floor, left side: from the mark below the front hub centre to the mark below the rear hub "
            "centre.",
            tool="plumb bob, tape", datum="hub centre to hub centre", gives=5,
            why="rake of the body, so caster to the ground", example="2740", remark="axle to axle",
        ),
        Question(
            "vehicle_class", "Class of the vehicle", "word", choices=("passenger_car", "light_truck"),
            how="What a passenger tire may carry on it depends on this.", remark="decides what a passenger tire may "
            "carry",
        ),
        Question(
            "diameter_tolerance", "How much front and rear tires may differ in overall diameter", "number", unit="%",
            example="2", how="As the vehicle's maker states it. Matters where both axles are driven.",
            remark="permitted by the vehicle's maker [%]",
        ),
        Question(
            "", "Which axles did you measure", "word", need=True, choices=("front", "rear", "both"), default="both",
            sets="axles",
        ),
        Question(
            "", "Name of the wheels now on it", "text", need=True, default="as_measured",
            sets="now", example="as_bought",
            why="every reading between tire and body refers to them",
        ),
        Question(
            "", "Tolerances", "word", need=True, choices=("usual", "typed"), default="usual", sets="tolerances",
            why="the worst case counts every tolerance against you",
            how="usual: where you type no tolerance, the one printed beside the tool counts (common practice, no "
            "published source). typed: only tolerances that you type count, such as {1572 mm +-3 mm|61 7/8 +-1/8 in}.",
        ),
        Question(
            "market", "Whose limit holds for the width of its tires", "word", choices=MARKETS,
            how="un: UN R30 and R54. us: the US rule, which permits a wider tire. Not known: skip; un counts.",
            remark="whose limit holds for the largest tire",
        ),
    ),
)  # fmt: skip


ON_WHEELS = Group(
    title="On level ground, wheels on",
    how="Parking brake on, wheels straight ahead, wheels that stay down chocked. Roll the vehicle half a turn "
    "back and forth first, so that the suspension settles. Left side.",
    drawings=("hub_height", "camber", "toe", "locks"),
    items=(
        Question(AXLE + "driven", "Is this axle driven", "yes", need=True, sets="driven"),
        Question(
            AXLE + "final_drive", "Final drive ratio", "number", unit="turns", example="3.73",
            how="Turns of the drive shaft for one of the wheel. Skip: not known.", when=(("driven", ("yes",)),),
            remark="turns of the drive shaft for one of the wheel",
        ),
        Question(
            AXLE + "axle_load", "Load on the whole axle, as driven, full", "number", unit="kg",
            how="By a weighbridge, or the permitted axle load on the vehicle's plate.", example="980",
            why="whether the tires may carry it", remark="load on the whole axle [kg]",
        ),
        Question(
            AXLE + "top_speed", "Top speed", "number", unit="km/h", example="190",
            why="whether the tire's speed symbol is enough", remark="top speed [km/h]",
        ),
        *bolted("{now}", need=True),
        Question(
            AXLE + "hub_height", "Hub height: ground to hub centre", "length", need=True, tool="tape", gives=2,
            how="Straight up from the ground to the middle of the hub cap.", datum="ground", example="322",
            why="how far the tire is pressed in", remark="hub centre above ground, wheels on",
        ),
        Question(
            "#hub centre to fender lip, straight up, at the reference pose",
            "Hub centre to fender lip, straight up", "length", tool="tape", gives=1, datum="hub centre",
            how="Later, on stands, jack the hub until the tape reads the same: that brings it back to the reference "
            "pose.", example="428", why="kept in the profile as a remark; sets the hub when the wheel is off",
        ),
        Question(
            AXLE + "ride_heights", "A ride height of the body: name = travel", "named", many=0, tool="tape", gives=3,
            how="As it stands now is 0; body lowered by {60 mm is +60 mm|2 in is +2 in}, raised is negative. To "
            "measure it: hub centre to fender lip now, minus hub centre to fender lip at that height.",
            datum="reference pose", example="cruise = 35",
            remark="travel of the wheel at rest, up into the body = positive",
        ),
        Question(
            "builds/{now}/{axle}/ride", "Which of these is how it stands now", "ride", tool="",
            how="A name from above; skip it if none. It must be the one with travel 0.", example="raised",
        ),
        Question(
            AXLE + "suspension/kind", "Kind of suspension", "word", need=True, choices=KINDS, default="tape",
            sets="kind",
            how="tape: you measure how camber and track change (section 6), no pivots needed. The others: you measure "
            "their pivots and ball joints (section 6).", remark="tape = measured motion, no hardpoints",
        ),
        Question(
            AXLE + "suspension/camber", "Camber of the left wheel", "angle", tool="angle gauge", gives=0.1, adds=True,
            how="Gauge upright against the rim, clear of the tire's bulge; once more with the wheel turned half round, "
            "take the mean. Top leans in: negative.", datum="level ground", example="-0.5",
            remark="negative = top leans inboard",
        ),
        Question(
            AXLE + "suspension/toe_in", "Toe-in of the left wheel", "angle", tool="two straightedges, tape", gives=0.1,
            adds=True,
            how="A straightedge across each tire. Measure between the two in front of the tires (F) and behind them "
            "(B); L is the distance from the one place to the other. Toe-in of one wheel = 28.6 x (B - F) / L degrees, "
            "with F, B and L in one unit. Front closer: positive.", datum="the other wheel", example="0.05",
            raw=("F", "B", "L"),
            remark="each wheel, positive = front inboard",
        ),
        Group(
            gate=Question("", "Does this axle steer", "yes", need=True, sets="steers"),
            part=AXLE + "steering",
            items=(
                Question(
                    AXLE + "steering/lock_left", "LEFT wheel at full lock to the left", "angle", need=True,
                    tool="angle gauge on a board, or chalk and tape", gives=1, adds=True, example="36",
                    how="Wheel on a greased plate. Chalk a line on the floor along a straightedge held to the wheel, "
                    "straight ahead and at the lock; the angle between them, as a positive number.",
                    datum="straight ahead", remark="angle of the LEFT wheel at the left lock",
                ),
                Question(
                    AXLE + "steering/lock_right", "LEFT wheel at full lock to the right", "angle", need=True,
                    tool="angle gauge on a board, or chalk and tape", gives=1, adds=True, example="31",
                    how="The same to the other side, again the left wheel, again positive.", datum="straight ahead",
                    remark="angle of the LEFT wheel at the right lock",
                ),
            ),
        ),
        Group(
            gate=Question("", "Did you measure play with a pry bar", "yes", default="no", sets="play"),
            items=(
                Question(
                    AXLE + "service/play/rock", "Play: top of the tire, in to out", "length", need=True,
                    tool="pry bar, dial gauge", datum="its innermost place", example="3",
                    how="Other wheels chocked, a stand under the body, wheel just off the ground. Gauge on a floor "
                    "stand, at the rim's top edge. Pry in, then out: the whole travel, times tire radius / rim radius. "
                    "It counts alone, in the column 'in service': half of it leans the wheel each way; no growth, "
                    "cornering or braking is added.",
                    why="how far the wheel leans in its bearings in service",
                    remark="top of the tire, in to out, rocked by a pry bar",
                ),
            ),
        ),
    ),
)  # fmt: skip
