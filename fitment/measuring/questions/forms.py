"""What a question is made of, and how questions stand together.

One list of questions serves the printed sheet and the terminal: a tree of groups in the order in which a person
with a tape works. A path names where an answer goes in the profile, its steps separated by "/": {axle}, {build},
{now} and {n} stand for the axle, the build, the build that is on the vehicle, and the number of an item of a list.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

Form = Literal[
    "text",  # words
    "word",  # one of `choices`
    "yes",  # yes or no
    "length",
    "angle",
    "number",  # in a fixed unit, see `unit`
    "rim",  # a rim width in inches
    "rims",  # narrowest, widest
    "circle",  # 5x114.3, or a chord between studs
    "thread",  # M14x1.5
    "wheel",  # a spec
    "tire",  # a code
    "point",  # x, y, z or clock, radius, out
    "row",  # points, separated by semicolons
    "pair",  # y', r of an outline
    "clock",  # first and last angle
    "share",  # a travel and a share of the lock
    "raised",  # a travel, how far out the hub face is there, camber there
    "named",  # a name and a travel
    "ride",  # a name of a ride height, or a travel
    "names",  # points of the suspension
    "lengths",
    "angles",
    "twice",  # two lengths
    "spot",  # o'clock, and whether round the tread
]
When = tuple[tuple[str, tuple[str, ...]], ...]


@dataclass(frozen=True)
class Question:
    """One reading or choice.

    path : where it goes in the profile; empty when it only steers what is asked next; "#..." keeps it as a remark
    ask : what is asked, in a few words; remark : what to write beside the value in the profile
    how : where to put the tape; tool, datum : with what, counted from where
    gives : what the tool gives, half width of the band [mm, or deg for an angle]; common practice, no published source
    adds : with usual tolerances, a reading typed without one gets `gives`
    why : what it is needed for
    need : it cannot be skipped
    many : so many answers in a list at least, or none where it is not needed; None for a single answer
    sets : name of the fact that the answer settles, for `when` of later questions
    when : ((fact, (words, ...)), ...): asked only if each fact is one of its words
    between : lowest and highest length [mm] or angle [deg] of an answer that is no key of the profile
    raw : readings that the answer is worked out from; they have boxes on the sheet
    over : the answer goes into a build and is laid over what the vehicle has; skipped, what the vehicle has stays
        ("axle"), unless it is about a part that is another one ("part"): then it is not known
    """

    path: str
    ask: str
    form: Form
    how: str = ""
    tool: str = ""
    datum: str = ""
    gives: float | None = None
    adds: bool = False
    why: str = ""
    need: bool = False
    many: int | None = None
    choices: tuple[str, ...] = ()
    default: str = ""
    example: str = ""
    unit: str = ""
    sets: str = ""
    when: When = ()
    remark: str = ""
    between: tuple[float, float] | None = None
    raw: tuple[str, ...] = ()
    over: Literal["", "part", "axle"] = ""


@dataclass(frozen=True)
class Group:
    """Questions that belong together.

    title : heading on the sheet; a titled group is a section with a number of its own
    continues : its questions go on under the number of the section before: not every suspension has it
    how : what holds for all of its questions; drawings : names of the sketches beside them
    gate : a yes or no question before the rest, which is skipped at no
    lead : the rest is skipped when its first question is
    each : "axle", or "item" for a list that ends when the first question (or group) is skipped
    part : path of the part of the profile that is checked whole when the group ends
    """

    items: tuple[Question | Group, ...]
    title: str = ""
    how: str = ""
    drawings: tuple[str, ...] = ()
    gate: Question | None = None
    lead: bool = False
    each: Literal["", "axle", "item"] = ""
    part: str = ""
    when: When = ()
    continues: bool = False


@dataclass(frozen=True)
class Numbered:
    """A question with its number on the sheet and at the terminal, such as 3.2; 3 where it is alone in its section."""

    number: str
    question: Question
    section: Group


@dataclass(frozen=True)
class SheetRow:
    """A question as it stands on a sheet.

    depth : how many optional groups it lies in; kind : the only suspension it is for, empty for all
    after : number to go on at when a gate is answered no, empty for other questions
    """

    number: str
    question: Question
    section: Group
    depth: int = 0
    kind: str = ""
    after: str = ""


def rows(top: Group) -> tuple[SheetRow, ...]:
    """Every question of the sheets in order."""
    sheet: list[SheetRow] = []
    for chapter, first, section in chapters(top):
        placed = list(_placed(section, 0, ()))
        numbers = _numbers(chapter, first, len(placed))
        for (question, depth, kinds, size), number, index in zip(placed, numbers, range(len(placed)), strict=True):
            after = numbers[index + size] if size and index + size < len(placed) else ""
            if size and not after:
                after = f"{chapter + 1}"
            sheet.append(SheetRow(number, question, section, depth, kinds[0] if len(kinds) == 1 else "", after))
    return tuple(sheet)


def _placed(group: Group, depth: int, kinds: tuple[str, ...]) -> Iterator[tuple[Question, int, tuple[str, ...], int]]:
    """Each question with its depth, its kinds, and for a gate how many questions its group has."""
    kinds = dict(group.when).get("kind", kinds)
    if group.gate is not None:
        yield group.gate, depth, kinds, len(tuple(flat(group)))
        depth += 1
    for item in group.items:
        if isinstance(item, Question):
            yield item, depth, dict(item.when).get("kind", kinds), 0
        else:
            yield from _placed(item, depth, kinds)


def sections(top: Group) -> Iterator[Group]:
    """Every titled group in order."""
    if top.title:
        yield top
        return
    for item in top.items:
        if isinstance(item, Group):
            yield from sections(item)


def chapters(top: Group) -> Iterator[tuple[int, int, Group]]:
    """Each section with its number, and with the number that its first question has within it."""
    number, first = 0, 1
    for section in sections(top):
        if not section.continues:
            number, first = number + 1, 1
        yield number, first, section
        first += len(tuple(flat(section)))


def flat(group: Group) -> Iterator[Question]:
    """Every question of a group in order, gates included."""
    if group.gate is not None:
        yield group.gate
    for item in group.items:
        if isinstance(item, Question):
            yield item
        else:
            yield from flat(item)


def numbered(top: Group) -> tuple[Numbered, ...]:
    """Every question with its number."""
    return tuple(
        Numbered(number, question, section)
        for chapter, first, section in chapters(top)
        for number, question in zip(_numbers(chapter, first, len(tuple(flat(section)))), flat(section), strict=True)
    )


def _numbers(chapter: int, first: int, count: int) -> list[str]:
    """Numbers of a section's questions; one that is alone has its section's."""
    if count == first == 1:
        return [f"{chapter}"]
    return [f"{chapter}.{j}" for j in range(first, first + count)]


def number_of(top: Group, path: str) -> str:
    """Number of the first question whose path ends so; "strut:points/tie_inner" asks for one kind's.

    Raises LookupError where there is none.
    """
    kind, _, end = path.rpartition(":")
    for entry in numbered(top):
        kinds = dict(entry.question.when).get("kind", ())
        is_it = entry.question.path.startswith(end) if end.startswith("#") else entry.question.path.endswith(end)
        if is_it and (not kind or kind in kinds):
            return entry.number
    raise LookupError(f"no question has a path that ends with {path}")
