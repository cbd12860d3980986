"""The answer: one kind of change on its own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from fitment.checks.fit import Clearance, Verdict

Kind = Literal[
    "offset", "spacer", "tire", "ride", "bump_stop", "steering_stop", "part", "parts_together", "camber"
]  # fmt: skip
Achieves = Literal["clears", "no_contact", "this_part", "nothing"]
Use = Literal["usable", "hard", "not_usable"]
Value = float | str | None


@dataclass(frozen=True)
class Change:
    """The least change of one kind that makes the build clear, or that none of this kind does.

    kind, part : what is changed; the name of the obstacle where one is moved or trimmed, else empty
    what : the change in words, or what was sought where there is none; lengths in mm
    achieves : 'clears': every required clearance is met, and in the worst case nothing touches; 'no_contact': nothing
        touches, but not that, and nothing of this kind does it; 'this_part': the part alone is clear of it, others are
        not; 'nothing': no value of this kind helps
    value, unit : what to set [mm, deg, or a code]; None where nothing helps
    by : how far that is from what the build has [mm, or deg], in the same unit; None for a code
    verdict, worst : of the whole build with this change, and the entry that limits it; where nothing helps, of
        the build as it is, and the nearest miss
    less : the value one step less [mm, or deg], or a code; less_worst : the entry that is then too close
    side_effects : name -> number or word [unit of the name]: _mm, _deg, _percent
    caution : what to mind
    use, use_why : how usable it is for a builder, by common practice, and why where it is not plainly so
    note : how far was searched, what else is to be known
    apply : what makes the change in a check of its own: options of the command, or keys of the axle in the profile
    other_corner, other_verdict : of an axle whose sides differ: the other corner, and its verdict with the change,
        where both sides get it
    checked : how many checks it took, through all poses or where the part comes closest
    """

    kind: Kind
    what: str
    achieves: Achieves
    verdict: Verdict
    worst: Clearance | None
    value: Value = None
    unit: str = ""
    by: float | None = None
    part: str = ""
    less: Value = None
    less_worst: Clearance | None = None
    side_effects: Mapping[str, float | str] = field(default_factory=dict)
    caution: str = ""
    use: Use = "usable"
    use_why: str = ""
    note: str = ""
    apply: Mapping[str, object] = field(default_factory=dict)
    other_corner: str = ""
    other_verdict: Verdict | None = None
    checked: int = 0


@dataclass(frozen=True)
class Together:
    """What a set lacks without one of its changes: the entry that is then too close, and in words, lengths in mm."""

    entry: Clearance | None
    words: str


@dataclass(frozen=True)
class ChangeSet:
    """Changes that together make the build clear, and none of them less.

    without : of each change what the others lack without it
    verdict, worst : of the whole build with all of them, and the entry that limits it
    use, use_why : of the one that is the least usable
    note : what becomes of the bolt-on checks
    apply : what makes all of them in a check: options, or keys of the axle in the build
    other_corner, other_verdict : of an axle whose sides differ, with the set on both sides
    """

    changes: tuple[Change, ...]
    without: tuple[Together, ...]
    verdict: Verdict
    worst: Clearance | None
    use: Use = "usable"
    use_why: str = ""
    note: str = ""
    apply: Mapping[str, object] = field(default_factory=dict)
    other_corner: str = ""
    other_verdict: Verdict | None = None


@dataclass(frozen=True)
class Sets:
    """What was found of several changes together, the easiest first.

    blocked : where nothing was found, the obstacles that stayed too close
    checked : how many checks it took; ran_out : whether they ran out before all was tried
    easier : whether a hard change serves alone, and sets without a hard one were looked for
    """

    found: tuple[ChangeSet, ...]
    blocked: tuple[str, ...] = ()
    checked: int = 0
    ran_out: bool = False
    easier: bool = False
