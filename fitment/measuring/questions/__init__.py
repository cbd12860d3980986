"""What is measured on a vehicle: the one list of questions, in the order in which a person with a tape asks them.

The printed sheet and the terminal both go through `ALL`. Tolerances are what the tool gives under a vehicle: common
practice, no published source.
"""

from __future__ import annotations

from fitment.measuring.questions.builds import WANTED
from fitment.measuring.questions.forms import Group
from fitment.measuring.questions.off_wheels import BRAKE, FACES, HARDPOINTS, MOTION
from fitment.measuring.questions.on_wheels import ON_WHEELS, VEHICLE
from fitment.measuring.questions.parts import ADJUSTERS, LOWEST, OBSTACLES
from fitment.measuring.questions.second_side import RIGHT_SIDE
from fitment.measuring.questions.setups import extras

CAME_OFF = Group(
    title="The wheel that came off, its tire, a spacer",
    how="All of it is optional: measure what you can, on the wheel lying face down on the floor. Without it the "
    "program says what it could not check.",
    drawings=("wheel", "pad"),
    items=extras("{now}"),
)

ALL = Group(
    items=(
        VEHICLE,
        Group(
            each="axle",
            items=(
                ON_WHEELS, CAME_OFF, FACES, BRAKE, MOTION, HARDPOINTS, ADJUSTERS, OBSTACLES, LOWEST, RIGHT_SIDE,
            ),
        ),
        WANTED,
    )
)  # fmt: skip

CAUTIONS = (
    "Level, firm ground. Parking brake on, in gear or park. Chock the wheels that stay down, front and back of each.",
    "A jack lifts, a stand holds. Never reach or lie under a vehicle on a jack alone, not for one reading.",
    "Stands go under points that the vehicle's maker names; push at the body before you go under.",
    "Wheels off: lay them flat under the sills, as a last stop.",
    "A spring under load kills. Springs come out by the maker's method, with the right compressor.",
    "Air springs are let off first. A hanging damper or brake hose carries no arm and no caliper.",
    "While the hub is jacked through its travel nobody is under the vehicle, and no finger between arm and frame.",
    "Brake dust harms the lungs: damp it, never blow it out. Hot rotors burn; let them cool. Protect your eyes.",
    "Bolts that were undone are tightened as the vehicle's maker says; where in doubt, ask a licensed mechanic.",
)

TOOLS = (
    "tape, {5 m|16 ft}, and a short rule",
    "two straightedges, as long as the tire is high",
    "angle gauge, 0.1 degree",
    "vernier calipers and thread gauge",
    "plumb bob, string, chalk",
    "chocks, jack, four stands, eye protection, a lamp",
)
