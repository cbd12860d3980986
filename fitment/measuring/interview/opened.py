"""A profile that is there, opened to add to it or to correct a reading: what is asked, and its text afterwards."""

from __future__ import annotations

from collections.abc import Iterator
from copy import deepcopy
from dataclasses import dataclass, field
from typing import Any, Literal

from fitment.errors import FitmentError
from fitment.measuring.interview.draft import BARE, Draft, short
from fitment.measuring.interview.walk import Walk, Walker
from fitment.measuring.questions import ALL
from fitment.measuring.questions.builds import OTHERS, WANTED
from fitment.measuring.questions.forms import Group, Question, numbered
from fitment.measuring.questions.parts import OBSTACLES
from fitment.measuring.questions.second_side import SECOND
from fitment.measuring.yaml_edits import edited, same
from fitment.profile.yaml_core import load_text

AXLE_QUESTIONS = next(item for item in ALL.items if isinstance(item, Group) and item.each == "axle")
WHOLE = ("kind", "shape")  # facts that decide what a part's other readings are
ENDS = ("from", "to")  # of a rod: a point may stand there alone


@dataclass(frozen=True)
class Task:
    """What is done to an opened profile.

    what : a part, an axle or a build is added, or the answer to the question `number` is given anew
    axle, build, part : which they are for; n : number of an item of a list of the profile, from 0
    item : which of a list of answers, from 0; None for a single one
    """

    what: Literal["part", "axle", "build", "reading"]
    axle: str = ""
    build: str = ""
    part: str = ""
    number: str = ""
    n: int = 0
    item: int | None = None

    @property
    def labels(self) -> tuple[str, ...]:
        """The words that tell where the answer belongs."""
        item = "" if self.item is None else str(self.item + 1)
        return tuple(word for word in (self.build, self.axle, self.part, item) if word)

    def walk(self, walker: Walker) -> Walk:
        """The questions of the task."""
        walker.axle, walker.build, walker.part, walker.n = self.axle, self.build, self.part, self.n
        if self.what == "axle":
            walker.draft.facts["axles"], walker.axle = self.axle, ""
            yield from walker.group(AXLE_QUESTIONS)
        elif self.what == "build":
            yield from walker.once(WANTED)
        else:
            if self.what == "part":
                walker.adds_part = True
                walker.n = len(walker.draft.get(("axles", self.axle, "obstacles")) or ())
            _stand(walker)
            yield from walker.once(OBSTACLES) if self.what == "part" else self._reading(walker)

    def _reading(self, walker: Walker) -> Walk:
        """The question itself, and what its part needs beside and does not have."""
        question, above = _question(self.number)
        group = above[-1]
        yield from walker.ask(question, self.item)
        for beside in group.items if group.gate or group.lead or group.part else ():
            if isinstance(beside, Question) and beside.need and beside is not question and walker.applies(beside.when):
                item = None if beside.many is None else 0
                if beside.path and walker.draft.get(walker.path(beside.path)) is None:
                    yield from walker.ask(beside, item)
        yield from walker.check(group.part)


@dataclass(frozen=True)
class Opened:
    """A profile as it stands in its file.

    text : the file's text; data : what it says
    """

    text: str
    data: dict[str, Any] = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "data", load_text(self.text).data)

    @property
    def axles(self) -> tuple[str, ...]:
        return tuple(axle for axle in ("front", "rear") if self.data["axles"].get(axle) is not None)

    def allows(self, task: Task) -> bool:
        """Whether the profile has what the task is about."""
        if task.what == "reading":
            try:
                return task in self.tasks(task.number)
            except FitmentError:
                return False
        return task.what == "build" or (task.axle in self.axles) is (task.what == "part")

    def draft(self, units: str = "mm") -> Draft:
        """What a walk through the questions begins with; units : of numbers typed without one."""
        axles = self.axles[0] if len(self.axles) == 1 else "both"
        data = {key: value for key, value in _long(self.data).items() if key not in ("format", "units", "baseline")}
        facts = {"axles": axles, "now": self.data.get("baseline", ""), "tolerances": "usual"}
        return Draft(data=data, facts=facts, units=units)

    def changed(self, draft: Draft) -> str:
        """The text with what was answered in it. Raises FitmentError where it cannot be put there."""
        before = self.draft().data
        now, _ = draft.with_second()
        news = {key: _carried(self.data.get(key), before.get(key), value, key) for key, value in now.items()}
        data = self.data | news
        return edited(self.text, data, {draft.shortened(at, data): text for at, text in draft.told().items()})

    def tasks(self, number: str) -> list[Task]:
        """Every place at which the answer with this number can be given anew. Raises FitmentError where there is none.

        Of a list, each answer and one more.
        """
        question, above = _question(number)
        if question.path.startswith("#"):
            raise FitmentError(f"{number} stands in the profile as a remark only; change it in an editor.")
        if question.path.startswith(SECOND):
            raise FitmentError(
                f"{number} is laid into the profile: change it under `right` of the axle in an editor. Any key of the "
                "axle may stand there, as seen in a mirror, such as suspension: {camber: -0.9}, hub_face_at: "
                "[0, 742, 0], or a part by its name."
            )
        if not question.path:
            raise FitmentError(f"{number} only decides what is asked next; go to a number after it.")
        if question.sets in WHOLE:
            raise FitmentError(
                f"{number} decides what else is read. Add it anew under another name, and take the old one out in an "
                "editor."
            )
        tasks = [task for task in self._tasks(number, question) if self._applies(task, question, above)]
        if not tasks:
            raise FitmentError(f"{number} belongs to nothing in this profile.")
        return tasks

    def _tasks(self, number: str, question: Question) -> Iterator[Task]:
        draft = self.draft()
        for axle in self.axles if "{axle}" in question.path else ("",):
            for build in (draft.data.get("builds") or {}) if "{build}" in question.path else ("",):
                if build and draft.get(("builds", build, axle)) is None:
                    continue
                for part, n in _parts(draft, question, axle, build):
                    task = Task("reading", axle, build, part, number, n)
                    yield from _items(draft, question, task)

    def _applies(self, task: Task, question: Question, above: tuple[Group, ...]) -> bool:
        walker = Walker("", opened=self.draft())
        walker.axle, walker.build, walker.part, walker.n = task.axle, task.build, task.part, task.n
        _stand(walker)
        return all(walker.applies(when) for when in (*(group.when for group in above), question.when))


def _question(number: str) -> tuple[Question, tuple[Group, ...]]:
    """A question by its number, with the groups that it lies in, from the outermost. Raises FitmentError."""
    for entry in numbered(ALL):
        if entry.number == number:
            return entry.question, _above(ALL, entry.question) or ()
    raise FitmentError(f"there is no question {number}; fitment worksheet lists them with their numbers.")


def _above(group: Group, question: Question) -> tuple[Group, ...] | None:
    if group.gate is question or any(item is question for item in group.items):
        return (group,)
    inside = (_above(item, question) for item in group.items if isinstance(item, Group))
    below = next((groups for groups in inside if groups), None)
    return (group, *below) if below else None


def _parts(draft: Draft, question: Question, axle: str, build: str) -> list[tuple[str, int]]:
    """Names and numbers of the parts that a question is asked of; one without a name where it is of none."""
    if "{part}" in question.path:
        if isinstance(draft.get(("builds", build, axle, "obstacles")), list):
            return []
        return [(name, 0) for name in draft.laid(build, axle)["obstacles"]]
    if "{n}" not in question.path:
        return [("", 0)]
    steps = question.path.split("/")
    at = tuple(step.format(axle=axle, build=build) for step in steps[: steps.index("{n}")])
    return [(str(item.get("name", n + 1)), n) for n, item in enumerate(draft.get(at) or ())]


def _items(draft: Draft, question: Question, task: Task) -> Iterator[Task]:
    if question.many is None or question.form == "named":
        yield task if question.form != "named" else Task(**(vars(task) | {"item": None}))
        return
    walker = Walker("", opened=draft)
    walker.axle, walker.build, walker.part, walker.n = task.axle, task.build, task.part, task.n
    there = draft.get(walker.path(question.path)) or []
    for item in range(len(there) + 1):
        yield Task(**(vars(task) | {"item": item}))


def _stand(walker: Walker) -> None:
    """Settle the facts at the place where the walker stands."""
    draft = walker.draft
    if not walker.axle:
        return
    data = draft.laid(walker.build, walker.axle)
    walker.note_axle(data)
    if walker.build:
        known = data["obstacles"].get(walker.part)
        draft.facts |= {"whole": "changed", "there": "yes", "known": "no" if known is None else "yes", "moved": "yes"}
        draft.facts |= dict.fromkeys(OTHERS, "yes")
    else:
        parts = draft.get(("axles", walker.axle, "obstacles")) or []
        known = parts[walker.n] if walker.n < len(parts) else None
        adjusters = draft.get(("axles", walker.axle, "adjusters")) or []
        if walker.n < len(adjusters):
            draft.facts["mode"] = next(
                (key for key in ("eccentric", "length") if key in adjusters[walker.n]), "settings"
            )
    if known is not None:
        draft.facts["shape"] = known["shape"]


def _long(node: Any, key: str | int = "") -> Any:
    """Plain data with a wheel that is only a spec as a map with this spec, and so on: as paths of questions have it."""
    if isinstance(node, dict):
        if key in ENDS and "out" in node and not node.keys().isdisjoint(("clock", "ahead")):
            return {"at": deepcopy(node)}
        return {name: _long(value, name) for name, value in node.items()}
    if isinstance(node, list):
        return {"at": deepcopy(node)} if key in ENDS else [_long(item) for item in node]
    return {BARE[str(key)]: node} if key in BARE and node is not None else node


def _carried(given: Any, before: Any, after: Any, key: str | int = "") -> Any:
    """What changed between two states in the long form, in the form in which the file has it."""
    if same(before, after):
        return given
    bare = "at" if key in ENDS else BARE.get(str(key), "")
    if isinstance(before, dict) and isinstance(after, dict):
        if isinstance(given, dict) and not (bare == "at" and "at" not in given):
            return {name: _carried(given.get(name), before.get(name), value, name) for name, value in after.items()}
        if after.keys() == {bare}:
            return _carried(given, before[bare], after[bare])
    if isinstance(given, list) and isinstance(before, list) and isinstance(after, list):
        old = [_carried(*values) for values in zip(given, before, after, strict=False)]
        return old + short(after[len(old) :])
    return short(after, key)
