"""Questions about the builds that are wanted: their wheels and tires, and other hubs, brakes and arms.

What is asked about another hub, brake or suspension is what was asked about the one that was measured; the answers
go into the build and are laid over it.
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Literal

from fitment.measuring.questions.forms import Group, Question, When
from fitment.measuring.questions.off_wheels import BRAKE, FACES, HARDPOINTS, MOTION
from fitment.measuring.questions.on_wheels import AXLE, ON_WHEELS
from fitment.measuring.questions.parts import ADJUSTERS, LOWEST, OBSTACLES, PART, REST
from fitment.measuring.questions.setups import bolted, extras

IN_BUILD = "builds/{build}/{axle}/"
OTHERS = ("hub", "brake", "arms", "parts", "drive")  # what can differ from the vehicle that was measured
OVER = IN_BUILD + "obstacles/{part}/"

BUILDS = Group(
    title="Builds that you want to try: wheels, tires, other parts",
    how="A build is what you want to put on, under a name of yours. Enter its wheels and tires here. If hub, brake or "
    "suspension are different too, say so here: a section further on asks for each. On paper, write the build's name "
    "at the top of those sheets.",
    lead=True,
    items=(
        Question("", "Name of a build", "text", sets="build", example="wanted"),
        Group(
            each="axle",
            lead=True,
            items=(
                *bolted("{build}", need=False),
                Question(IN_BUILD + "ride", "Ride height with it", "ride",
                         how="A name from section 2, or a travel. Skip: as measured (0).", example="cruise"),
                *extras("{build}"),
                Question("", "Other parts as in an earlier build", "word", choices=("{builds}",), sets="like",
                         when=(("donors", ("yes",)),),
                         how="Its hub, brake, arms and parts are taken over; what is still different is asked next. "
                         "Skip: the vehicle as measured."),
                Question("", "What else is different on this axle", "names", choices=OTHERS, sets="other",
                         how="Separated by commas. hub: hub or spindle, or hub faces elsewhere. brake: rotor, caliper. "
                         "arms: arms, links, struts, the whole suspension. parts: what a wheel could meet, moved, gone "
                         "or new. drive: driven or not, its load. Skip: nothing.", example="hub, brake, arms"),
            ),
        ),
    ),
)  # fmt: skip


def _over(question: Question, over: Literal["part", "axle"], *, when: When = ()) -> Question:
    """The question of a build: its answer is laid over what was measured, and what a skip means is said elsewhere."""
    path = question.path.replace(PART, OVER).replace(AXLE, IN_BUILD)
    how = re.sub(r"\s*Skip: [^.]*\.", "", question.how).strip()
    return replace(question, path=path, how=how, over=over, when=(*question.when, *when))


def _again(group: Group, over: Literal["part", "axle"] = "part") -> Group:
    """The same group of a build, without a heading of its own; a part may be other where its first reading is not."""
    return replace(
        group, title="", how="", drawings=(), part=group.part.replace(AXLE, IN_BUILD),
        gate=_over(group.gate, over) if group.gate is not None else None,
        items=tuple(_again(item, over) if isinstance(item, Group) else _over(item, over) for item in group.items),
    )  # fmt: skip


def _whole(what: str) -> Question:
    return Question(
        "", f"Is it another {what}, or the measured one with something changed", "word", need=True, sets="whole",
        choices=("another", "changed"), default="another",
        how="another: what you skip counts as not known. changed: what you skip stays as measured.",
    )  # fmt: skip


def _if(*others: str) -> When:
    return tuple((other, ("yes",)) for other in others)


_STANDS = (
    "On stands as in section {n}. Jack the hub until hub centre to fender lip reads the same as in section 2: every "
    "height counts from there."
)

ANOTHER_HUB = Group(
    title="In a build: another hub",
    how=_STANDS.format(n=4),
    when=_if("hub"),
    part=IN_BUILD + "hub",
    items=(_whole("hub"), *_again(FACES).items),
)

ANOTHER_BRAKE = Group(
    title="In a build: another brake",
    how="As in section 5, counted from the hub face of this build.",
    when=_if("brake"),
    items=(_whole("brake"), *_again(BRAKE).items),
)

_SUSPENSION = tuple(
    _over(item, "part")
    for item in ON_WHEELS.items
    if isinstance(item, Question) and item.path.startswith(AXLE + "suspension/")
)
_LOCKS = next(item for item in ON_WHEELS.items if isinstance(item, Group) and item.part == AXLE + "steering")

OTHER_ARMS = Group(
    title="In a build: other arms, another suspension",
    how=_STANDS.format(n="6") + " Camber and toe-in are those at that pose.",
    when=_if("arms"),
    part=IN_BUILD + "suspension",
    items=(
        _whole("suspension"),
        *_SUSPENSION,
        Question(
            IN_BUILD + "hub_face_at", "Centre of the hub face at the pose of these readings", "point", over="part",
            gives=3, adds=True, tool="plumb bob, tape", datum="axle line, centre plane, hub centre",
            how="Skip: on the axle line, at hub height, half of the hub face width from the centre plane.",
            example="0, 861, 0", remark="[x, y, z] of the hub face's centre at the pose of these readings",
        ),
        replace(
            _again(_LOCKS), part="", when=_if("steers"),
            gate=Question("", "Are its steering locks different", "yes", default="no"),
        ),
        _again(MOTION),
        _again(HARDPOINTS),
    ),
)  # fmt: skip

OTHER_ADJUSTERS = replace(
    _again(ADJUSTERS),
    title="In a build: what can be set on other arms",
    continues=True,
    how="As in section 6. What is listed here replaces that list.",
    when=(*_if("arms"), *ADJUSTERS.when),
)

OTHER_LOWEST = replace(
    _again(LOWEST, "axle"),
    title="In a build: what hangs lowest with other arms",
    how="What is listed here replaces the list of section 8: name the parts of the body again. Skip: that list stays.",
    when=_if("arms"),
)


def _of_a_part(question: Question) -> Question:
    """A reading of a part in a build: its points count from the body, since the hub face is another one."""
    over = _over(question, "axle", when=_if("there"))
    if question.form not in ("point", "row"):
        return over
    return replace(over, tool="plumb bob, tape", datum="axle line, centre plane, hub centre")


_OF_A_PART = tuple(
    _of_a_part(item)
    for item in OBSTACLES.items
    if isinstance(item, Question) and not item.path.endswith(("{n}/name", "/shape"))
)
_SHAPE = next(item for item in OBSTACLES.items if isinstance(item, Question) and item.path.endswith("/shape"))

_REST_OF_A_PART = Group(
    gate=Question("", "Is anything else of it different: tolerance, clearance required, sides", "yes", default="no"),
    when=_if("there"),
    items=tuple(_of_a_part(item) for item in REST.items if isinstance(item, Question)),
)

OTHER_PARTS = Group(
    title="In a build: parts moved, gone or new",
    how="On the forms of section 7, with the name of the build. Skip what stays as it was. Read again every part "
    "that moves with a changed knuckle or arm: ball joints, tie rod end, damper. Give points as x, y, z. Clock points, "
    "and y from the hub face, would count from the hub face of section 4, not from this build's.",
    when=_if("moved"),
    each="item",
    part=OVER[:-1],
    items=(
        Question("", "Name of a part that is moved, gone or new", "text", choices=("{parts}",), sets="part",
                 example="upper ball joint"),
        Question("", "Is it gone", "yes", default="no", sets="gone", when=_if("known")),
        _over(_SHAPE, "axle", when=(("known", ("no",)),)),
        *_OF_A_PART,
        _REST_OF_A_PART,
    ),
)  # fmt: skip

OTHER_DRIVE = Group(
    title="In a build: drive and load",
    how="Skip what stays as it was.",
    when=_if("drive"),
    items=tuple(
        _over(item, "axle")
        for item in ON_WHEELS.items
        if isinstance(item, Question) and item.path.endswith(("/driven", "/final_drive", "/axle_load", "/top_speed"))
    ),
)

WANTED = Group(
    each="item",
    items=(
        BUILDS,
        Group(
            each="axle",
            items=(
                ANOTHER_HUB, ANOTHER_BRAKE, OTHER_ARMS, OTHER_ADJUSTERS, OTHER_LOWEST, OTHER_PARTS, OTHER_DRIVE,
            ),
        ),
    ),
)  # fmt: skip
