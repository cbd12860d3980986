"""Questions about the right side: a quick second reading of the few that differ on a modified vehicle."""

from __future__ import annotations

from fitment.measuring.questions.forms import Group, Question

SECOND = "second/"  # where an answer's path begins that the right side of the profile is made of
_TO = SECOND + "{axle}/"
_LIP, _INNER = (("lip", ("yes",)),), (("inner", ("yes",)),)

RIGHT_SIDE = Group(
    title="The right side, read once more",
    how="Left and right of a modified vehicle often differ by a centimetre. Read on the right what is named here, as "
    "on the left: camber, lip height and gap before the wheels come off. What you skip is taken as on the left. The "
    "profile keeps it under `right`.",
    items=(
        Group(
            gate=Question("", "Did you measure the right side too", "yes", default="no", sets="second"),
            items=(
                Question(
                    _TO + "camber", "Camber of the right wheel", "angle", tool="angle gauge", gives=0.1, adds=True,
                    how="As on the left. Top leans in: negative.", datum="level ground", example="-0.8",
                    between=(-15, 15),
                ),
                Question(
                    _TO + "hub_face", "RIGHT hub face to the centre line", "length", tool="plumb bob, tape", gives=2,
                    adds=True, between=(300, 1400), example="780",
                    how="Centre line: a chalk line half way between a mark of the body on the left and the same one on "
                    "the right, in front and behind. The left hub face is what is left of the width.",
                    datum="centre plane", why="how far the axle stands off the middle",
                ),
                Question(
                    _TO + "lip_up", "RIGHT hub centre to fender lip, straight up", "length", tool="tape", gives=1,
                    when=_LIP, between=(150, 1000), example="424", datum="hub centre",
                    how="On the ground, wheels on. Lower than on the left: the whole lip is lowered. Higher: it stays, "
                    "since a body that leans does not lift its bump stops.",
                ),
                Question(
                    _TO + "lip_out", "RIGHT hub face to fender lip, outward, over the wheel", "length", when=_LIP,
                    tool="straightedge, tape", gives=3, between=(-300, 500), example="96", datum="hub face",
                    how="Straightedge upright on the hub face. A lip inboard of it: negative.",
                ),
                Group(
                    lead=True,
                    when=_INNER,
                    items=(
                        Question(_TO + "part", "Part nearest inboard of the RIGHT tire", "word", choices=("{inner}",),
                                 how="By its name in section 7."),
                        Question(_TO + "gap", "Its gap to the RIGHT tire", "length", need=True, tool="tape or feeler",
                                 gives=2, between=(0, 300), example="18",
                                 how="The shortest way, wheels on and straight ahead, at the reference pose."),
                    ),
                ),
            ),
        ),
    ),
)  # fmt: skip
