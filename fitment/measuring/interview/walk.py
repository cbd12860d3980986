"""One walk through the list of questions: what is asked next, and what an answer does."""

from __future__ import annotations

from collections.abc import Callable, Generator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from fitment.measuring.first_profile import problem
from fitment.measuring.interview.draft import SETUP, At, Draft
from fitment.measuring.questions import ALL
from fitment.measuring.questions.builds import OTHERS
from fitment.measuring.questions.first import FIRST, LOOK, NOW
from fitment.measuring.questions.forms import Group, Numbered, Question, flat, numbered
from fitment.measuring.questions.words import ANGLES, tolerance_text
from fitment.measuring.second_side import is_inner, lip_of
from fitment.profile.key_rules import carriers, part_problems, plausible
from fitment.profile.schema.suspension import RATES
from fitment.profile.yaml_core import path_text

SKIP = None  # the plain value of a question that was skipped
_NUMBERS = {id(entry.question): entry for top in (ALL, FIRST) for entry in numbered(top)}
GAUGE = 0.2  # [deg] what an angle gauge gives; common practice, no published source
_GEOMETRY = ("points", "rows", "at", "from", "to")  # of an obstacle


@dataclass(frozen=True)
class Asked:
    """A question as it stands now.

    at : key path that the answer goes to, empty where it only steers
    item : which of a list of answers, from 0; None for a single one
    axle, subject : front or rear, and the part or build it is about, for the reader; may be empty
    ident : tells this question from every other, also in the file that keeps answers
    default : what an empty answer means; a question without one is skipped by it if it may be
    words : kind of the suspension and shape of the obstacle, for the rules
    stays : what an empty answer leaves as it is, of a build; None where there is nothing
    """

    numbered: Numbered
    at: At
    ident: str
    item: int | None = None
    axle: str = ""
    subject: str = ""
    choices: tuple[str, ...] = ()
    default: str = ""
    words: Mapping[str, str] = field(default_factory=dict)
    stays: Any = None

    @property
    def question(self) -> Question:
        return self.numbered.question

    @property
    def labels(self) -> tuple[str, ...]:
        """The words that tell this question from others with its number."""
        item = "" if self.item is None else str(self.item + 1)
        return tuple(word for word in (self.axle, self.subject, item) if word)

    @property
    def may_skip(self) -> bool:
        """Whether an empty answer will do; in a list it ends the list."""
        if self.stays is not None:
            return True
        if self.item is None:
            return not self.question.need
        return self.item >= self.least and not (self.item == 0 and self.question.need)

    @property
    def least(self) -> int:
        """How many answers a list needs from here on; an optional one that was begun needs as many as it says."""
        many = self.question.many or 0
        return 0 if self.item == 0 and not self.question.need else many

    def plausible(self) -> tuple[float, float] | None:
        """Lowest and highest value that is taken [mm, deg or the fixed unit]."""
        if self.question.between is not None and self.question.form in ("length", "angle"):
            return self.question.between
        single = self.question.form in ("length", "angle", "number", "rim")
        return plausible(self.at, self.words) if self.at and single else None


@dataclass(frozen=True)
class Refused:
    """A part that is wrong as a whole: the path of what to answer again, and why."""

    at: At
    why: str


Walk = Generator[Asked | Refused, Any, None]


class Walker:
    """One walk through the questions; answers are sent in, the draft grows."""

    def __init__(self, kind: str, units: str = "mm", opened: Draft | None = None, *, look: bool = False) -> None:
        self.draft, self.kind = opened or Draft(units=units, look=look), kind
        if look:
            self.draft.facts |= {"now": NOW, "tolerances": "usual"}
        self.is_opened = opened is not None  # what is asked for may stand in the profile already
        self.adds_part = False  # one behind all others, whose number may be another when the answers are given again
        self.axle, self.build, self.part, self.n = "", "", "", 0
        self.others: dict[str, tuple[str, ...]] = {}  # what is different on an axle of the present build

    def group(self, group: Group) -> Generator[Asked | Refused, Any, bool]:
        """Ask a group, as often as what it is for asks for; False where it was skipped."""
        if not self.applies(group.when):
            return False
        if group.each == "axle":
            chosen = self.draft.facts.get("axles", "both")
            for self.axle in ("front", "rear") if chosen == "both" else (chosen,):
                self._enter()
                yield from self.once(group)
            self.axle = ""
            return True
        if group.each == "item":
            before, self.n = (self.n, self.build), 0
            while (yield from self.once(group)):
                self.n += 1
            self.n, self.build = before
            return True
        return (yield from self.once(group))

    def once(self, group: Group) -> Generator[Asked | Refused, Any, bool]:
        """Ask the group's questions one time; False where it was skipped."""
        if group.gate is not None and not (yield from self.ask(group.gate)):
            if group.part and group.gate.over:
                self._unknown(group.gate, self.path(group.part))
            elif group.part:
                self.draft.skipped.append(self.path(group.part))
            return False
        leads = group.lead or group.each == "item"
        for index, item in enumerate(group.items):
            given: Any = SKIP
            if isinstance(item, Group):
                given = (yield from self.group(item)) or SKIP
            elif self.applies(item.when):
                given = yield from self._question(item)
            if index == 0 and leads and given is SKIP and not (group.lead and self._may_stay(item)):
                self._leave(group)
                return False
        yield from self.check(group.part)
        return True

    def _may_stay(self, item: Question | Group) -> bool:
        """Whether a reading that is skipped stays as it was."""
        over = item.over if isinstance(item, Question) else ""
        return over == "axle" or (over == "part" and self.draft.facts.get("whole") == "changed")

    def _leave(self, group: Group) -> None:
        """Go past a group whose first question was skipped."""
        for question in flat(group):
            if group.lead and question.over:
                self._unknown(question, self.path(question.path))
        if group.lead and group.part and isinstance(group.items[0], Question):
            self._unknown(group.items[0], self.path(group.part))

    def _question(self, question: Question) -> Generator[Asked | Refused, Any, Any]:
        """Ask one question, or as often as its list goes on; the first answer."""
        if question.many is None:
            return (yield from self.ask(question))
        first = given = yield from self.ask(question, 0)
        count = 1
        while given is not SKIP:
            given = yield from self.ask(question, count)
            count += 1
        return first

    def ask(self, question: Question, item: int | None = None) -> Generator[Asked | Refused, Any, Any]:
        asked = self._asked(question, item)
        given = yield asked
        if question.sets:
            self._settle(question, given)
        if asked.at and given is not SKIP:
            self._put(asked, given)
        elif question.path.startswith("#") and given is not SKIP:
            self.draft.kept.setdefault(self.axle, []).append(f"{question.path[1:]}: {_shown(given)}")
        elif asked.at and not asked.item:
            at = asked.at if item is None else asked.at[:-1]
            self.draft.skipped.append(at)
            self._unknown(question, at)
        return given

    def _unknown(self, question: Question, at: At) -> None:
        """Of another part nothing is known that was not read: what the first one has does not stay."""
        if question.over != "part" or self.draft.facts.get("whole") != "another":
            return
        if at[-1] == "name":
            if at[-2] != 0:
                return  # the end of a list
            at = at[:-2]
        if self._stays(at) is None:
            return
        self.draft.drop(at)
        if self._stays(at) is not None:
            self.draft.put(at, None)

    def _stays(self, at: At) -> Any:
        """What stands at a path of the build, laid over what the vehicle has; None where there is nothing."""
        node: Any = self.draft.laid(self.build, self.axle)
        for step in at[3:]:
            try:
                node = node[step]
            except (KeyError, IndexError, TypeError):
                return None
        return node

    def _enter(self) -> None:
        """Settle the facts of an axle that the questions come to: within a build, those that are known already."""
        self._forget(("driven", "kind", "steers", "donors", "moved", "whole", *OTHERS))
        if not self.build:
            return
        self.note_axle(self.draft.laid(self.build, self.axle))
        others = self.others.get(self.axle, ())
        self.draft.facts |= {
            **({"donors": "yes"} if self.draft.donors(self.axle) else {}),
            **({"moved": "yes"} if {"arms", "parts"} & set(others) else {}),
            **dict.fromkeys(others, "yes"),
        }  # fmt: skip

    def note_axle(self, data: Mapping[str, Any]) -> None:
        """Settle the facts that the readings of an axle tell."""
        suspension = data.get("suspension") or {}
        self.draft.facts |= {
            "driven": "yes" if data.get("driven") else "no", "steers": "yes" if data.get("steering") else "no",
            **({"kind": suspension["kind"]} if "kind" in suspension else {}),
        }  # fmt: skip

    def _asked(self, question: Question, item: int | None) -> Asked:
        at = self.path(question.path)
        facts = self.draft.facts
        words = self._words()
        n = "new" if self.adds_part else str(self.n)
        place = path_text(at).replace(f"[{self.n}]", f"[{n}]", 1)
        place = place if at else " ".join(part for part in (self.axle, self.build, f"{n}:") if part)
        ident = f"{place} {'' if at else question.ask} {'' if item is None else item + 1}"
        stays = self._stays(at) if at and not item and self._may_stay(question) else None
        if self.is_opened and at and stays is None:
            stays = self.draft.get(at if item is None or question.form == "named" else (*at, item))
        default = question.default.format(now=facts.get("now", ""), gives=self._usual(question))
        if question.sets == "kind":
            default = facts["kind"] if question.over else self.kind or default
        return Asked(
            _NUMBERS[id(question)], at if item is None or question.form == "named" else (*at, item),
            " ".join(ident.split()), item, self.axle, self._subject(question),
            self._choices(question, words), default if stays is None else "", words, stays,
        )  # fmt: skip

    def _words(self) -> dict[str, str]:
        """Kind of the suspension and shape of the obstacle, as far as they are known."""
        return {key: word for key, word in self.draft.facts.items() if key in ("kind", "shape")}

    def _usual(self, question: Question) -> str:
        usual = self.draft.facts.get("tolerances") == "usual"
        return tolerance_text(question.gives, self.draft.units) if usual and question.gives else ""

    def _subject(self, question: Question) -> str:
        """The build or the part that a question is about."""
        part = _NUMBERS[id(question)].section.part
        name = self.part if "{part}" in part and question.sets != "part" else ""
        if "{n}" in part:
            name = self.draft.get((*self.path(part), "name")) or ""
        return ", ".join(text for text in (f"build {self.build}" if self.build else "", name) if text)

    def _choices(self, question: Question, words: Mapping[str, str]) -> tuple[str, ...]:
        own: dict[str, Callable[[], tuple[str, ...]]] = {
            "{carriers}": lambda: carriers(words["kind"]),
            "{points}": lambda: tuple(self.draft.laid(self.build, self.axle).get("suspension", {}).get("points") or ()),
            "{parts}": lambda: tuple(self.draft.laid(self.build, self.axle)["obstacles"]),
            "{inner}": self._inner,
            "{builds}": lambda: self.draft.donors(self.axle),
        }
        if len(question.choices) == 1 and question.choices[0] in own:
            return own[question.choices[0]]()
        if question.form == "ride":
            return tuple(self.draft.get(("axles", self.axle, "ride_heights")) or ())
        return question.choices

    def _inner(self) -> tuple[str, ...]:
        """Names of parts to which a gap of the right tire can be read."""
        axle = self.draft.get(("axles", self.axle)) or {}
        return tuple(part["name"] for part in axle.get("obstacles") or () if is_inner(part, axle))

    def path(self, path: str) -> At:
        if not path or path.startswith("#"):
            return ()
        names = {"axle": self.axle, "now": self.draft.facts.get("now", ""), "build": self.build, "part": self.part}
        steps: list[str | int] = []
        for step in path.split("/"):
            steps.append(self.n if step == "{n}" else step.format(**names))
        return tuple(steps)

    def _settle(self, question: Question, given: Any) -> None:
        """Note the fact that an answer settles."""
        if question.sets == "build":
            self.build, self.others = given or "", {}
        elif question.sets in ("part", "gone"):
            self._settle_part(question, given)
        elif question.sets == "second" and given:
            lip = lip_of(self.draft.get(("axles", self.axle)))
            self.draft.facts |= {"lip": "yes" if lip else "no", "inner": "yes" if self._inner() else "no"}
        elif question.sets == "other":
            self.others[self.axle] = tuple(given or ())
        elif question.sets == "like":
            if given is not SKIP:
                self.draft.take_over(given, self.build, self.axle)
        elif given is SKIP and question.over:
            pass  # what the vehicle has is noted already
        elif given is SKIP:
            self._forget((question.sets,))
        elif isinstance(given, bool):
            self.draft.facts[question.sets] = "yes" if given else "no"
        else:
            self.draft.facts[question.sets] = given if isinstance(given, str) and question.form != "length" else "given"

    def _settle_part(self, question: Question, given: Any) -> None:
        """Note which part of the vehicle a build changes, and whether it is gone."""
        if question.sets == "gone":
            if given:
                at = ("builds", self.build, self.axle, "obstacles", self.part)
                self.draft.drop(at)
                if self._stays(at) is not None:
                    self.draft.put(at, None)
                self._forget(("there",))
            return
        self.part = given or ""
        known = self.draft.laid(self.build, self.axle)["obstacles"].get(self.part)
        self._forget(("shape",))
        self.draft.facts |= {"known": "no" if known is None else "yes", "there": "yes"}
        if known is not None:
            self.draft.facts["shape"] = known["shape"]

    def _forget(self, facts: Sequence[str]) -> None:
        for fact in facts:
            self.draft.facts.pop(fact, None)

    def applies(self, when: Sequence[tuple[str, tuple[str, ...]]]) -> bool:
        return all(self.draft.facts.get(fact) in words for fact, words in when)

    def _put(self, asked: Asked, given: Any) -> None:
        question, at = asked.question, asked.at
        if self.is_opened:
            given = _with_its_tolerance(self.draft.get(at), given)
        usual = question.adds and self.draft.facts.get("tolerances") == "usual" and not _toleranced(given)
        usual = usual and (not self.is_opened or _is_assumed(self.draft.get(at)))
        if question.form == "named":
            ((name, given),) = given.items()
            at = (*at, name)
        if question.over:
            self._clear(asked, given)
        if question.form == "raised":
            for rate in RATES.values():  # readings take their place
                self.draft.drop((*at[:-2], rate))
                if self.build and self._stays((*at[:-2], rate)) is not None:
                    self.draft.put((*at[:-2], rate), None)
        self.draft.put(at, _with_tolerance(given, self._gives(question)) if usual else given)
        about = at if asked.item is None else asked.at if question.form == "named" else asked.at[:-1]
        self.draft.remarks.setdefault(about, _remark(question, usual=usual))

    def _gives(self, question: Question) -> float | str | None:
        """The usual tolerance as it stands in the profile: mm or degrees, or a text in inches."""
        if question.gives is None or question.form in ANGLES or self.draft.units == "mm":
            return question.gives
        return tolerance_text(question.gives, self.draft.units)

    def _clear(self, asked: Asked, given: Any) -> None:
        """Take out what an answer of a build makes void: an older list, another kind's points, a gap read elsewhere."""
        at = asked.at
        if asked.item == 0:
            self.draft.put(at[:-1], [])
        elif at[-2:] == (0, "name"):
            self.draft.put(at[:-2], [])
        elif asked.question.sets == "kind" and given != self._stays(at):
            self.draft.put(at[:-1], {})
        if at[3] == "obstacles" and at[5] in _GEOMETRY and self._stays((*at[:5], "measured_gap")) is not None:
            self.draft.put((*at[:5], "measured_gap"), None)

    def check(self, part: str) -> Walk:
        """Ask again for what makes a finished part wrong as a whole."""
        at = self.path(part)
        data = self.draft.get(at) if at else None
        if part.startswith(LOOK):
            wrong = problem(self.draft.data, self.axle, str(at[-1])) if data else None
            if wrong:
                yield Refused((*at, wrong[0]), wrong[1])
            return
        if data is not None and len(at) > 3 and at[0] == "builds" and at[3] not in SETUP:
            data = self._stays(at)
        if data is None:
            return
        problems = part_problems(at, data, self._words())
        if problems:
            yield Refused((*at, *problems[0][0]), problems[0][1])


def _toleranced(given: Any) -> bool:
    """Whether a value, or any of a point, was typed with a tolerance of its own."""
    inside = given.values() if isinstance(given, dict) else given if isinstance(given, list) else ()
    return (isinstance(given, dict) and "tolerance" in given) or any(_toleranced(value) for value in inside)


def _is_assumed(before: Any) -> bool:
    """Whether nobody has read a value: it is not in the profile, or a typical one stands for it."""
    return before in (None, "assumed") or (isinstance(before, dict) and bool(before.get("assumed")))


def _with_its_tolerance(before: Any, given: Any) -> Any:
    """A reading taken again: where it is typed without a tolerance, it has the one that it had before."""
    if isinstance(before, list) and isinstance(given, list) and len(before) == len(given):
        return [_with_its_tolerance(old, new) for old, new in zip(before, given, strict=True)]
    if isinstance(before, dict) and isinstance(given, dict):
        return {key: _with_its_tolerance(before.get(key), value) for key, value in given.items()}
    is_reading = isinstance(before, dict) and "tolerance" in before and not _is_assumed(before)
    return {**before, "value": given} if is_reading and not isinstance(given, dict | list) else given


def _with_tolerance(given: Any, tolerance: float | str | None) -> Any:
    """The value, or the lengths of a point or of a reading at a travel, each with this tolerance."""
    if isinstance(given, list):
        return [_with_tolerance(length, tolerance) for length in given]
    if isinstance(given, dict):
        own = given | {key: _with_tolerance(given[key], tolerance) for key in ("radius", "out") if key in given}
        return own | ({"camber": _with_tolerance(own["camber"], GAUGE)} if "camber" in own else {})
    return {"value": given, "tolerance": tolerance}


def _remark(question: Question, *, usual: bool) -> str:
    parts = [question.remark, question.tool if question.tool not in ("", "read it") else ""]
    parts += ["usual tolerance"] if usual else []
    return "; ".join(part for part in parts if part)


def _shown(value: Any) -> str:
    if isinstance(value, dict):
        return f"{_shown(value['value'])} +- {_shown(value['tolerance'])}"
    return value if isinstance(value, str) else f"{value} mm"
