"""A profile built from answers: what is asked next, what an answer does, going back, going on later.

An interview is a walk through the list of questions. Its only state is the answers as they were typed: to go
back, or to go on another day, the walk starts again and the answers are given anew.
"""

from __future__ import annotations

import json
import re
from collections.abc import Generator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fitment import cases
from fitment import profile as profiles
from fitment.errors import FitmentError, ProfileError
from fitment.profile import Profile, loads_profile
from fitment.profile.answers import carriers, part_problems, plausible, read_answer
from fitment.profile.merge import merge
from fitment.profile.text import profile_text
from fitment.profile.yaml_core import path_text
from fitment.questions import ALL, OTHERS, Group, Numbered, Question, flat, numbered
from fitment.tire import overall_diameter, parse_tire
from fitment.units import length_text, to_mm
from fitment.wheel import parse_wheel

At = tuple[str | int, ...]
SKIP = None  # the plain value of a question that was skipped
FORMAT = 1  # of the file that keeps answers
_NUMBERS = {id(each.question): each for each in numbered(ALL)}
_BARE = {"wheel": "spec", "tire": "code", "spacer": "thickness"}  # maps that may be written as this value alone
_LAST = ("axles", "builds", "baseline")  # keys of the profile that stand behind the others
_SETUP = ("wheel", "tire", "spacer", "ride")  # what a build says of an axle that is not laid over it
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
    def may_skip(self) -> bool:
        """Whether an empty answer will do; in a list it ends the list."""
        if self.stays is not None and not self.item:
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
        single = self.question.form in ("length", "angle", "number", "rim")
        return plausible(self.at, self.words) if self.at and single else None


@dataclass(frozen=True)
class Refused:
    """A part that is wrong as a whole: the path of what to answer again, and why."""

    at: At
    why: str


Walk = Generator[Asked | Refused, Any, None]


@dataclass
class Draft:
    """What was answered so far.

    data : the profile as plain data; remarks : what each value is, see `profile_text`
    skipped : key paths of what was not given
    facts : what later questions depend on
    kept : readings that only stand in the file as a remark, by axle
    """

    data: dict[str, Any] = field(default_factory=dict)
    remarks: dict[At, str] = field(default_factory=dict)
    skipped: list[At] = field(default_factory=list)
    facts: dict[str, str] = field(default_factory=dict)
    kept: dict[str, list[str]] = field(default_factory=dict)

    def get(self, at: At) -> Any:
        """The value at a path, None where there is none."""
        node: Any = self.data
        for step in at:
            try:
                node = node[step]
            except (KeyError, IndexError, TypeError):
                return None
        return node

    def put(self, at: At, value: Any) -> None:
        """Set the value at a path; maps and lists on the way appear as they are needed."""
        node: Any = self.data
        for step, following in zip(at, (*at[1:], None), strict=True):
            if following is None:
                fresh: Any = value
            else:
                fresh = [] if isinstance(following, int) else {}
            if isinstance(step, int):
                if step == len(node):
                    node.append(fresh)
                elif following is None:
                    node[step] = value
            elif following is None or node.get(step) is None:
                node[step] = fresh
            node = node[step]

    def drop(self, at: At) -> None:
        """Take the value at a path out."""
        above = self.get(at[:-1])
        if isinstance(above, dict):
            above.pop(at[-1], None)

    def laid(self, build: str, axle: str) -> dict[str, Any]:
        """The axle with what the build lays over it, its obstacles by name."""
        given = self.get(("builds", build, axle)) or {}
        over = {key: value for key, value in given.items() if key not in _SETUP}
        data = merge(self.get(("axles", axle)) or {}, (), over, ()).data
        return data | {"obstacles": {each["name"]: each for each in data.get("obstacles", ())}}

    def donors(self, axle: str) -> tuple[str, ...]:
        """Builds that have other parts on the axle."""
        builds: dict[str, Any] = self.get(("builds",)) or {}
        return tuple(name for name, build in builds.items() if set(build.get(axle, ())) - set(_SETUP))

    def take_over(self, donor: str, build: str, axle: str) -> None:
        """Give a build the other parts that a build before it has on the axle."""
        start = ("builds", donor, axle)
        parts = {key: deepcopy(value) for key, value in self.get(start).items() if key not in _SETUP}
        for key, value in parts.items():
            self.put(("builds", build, axle, key), value)
        self.remarks |= {
            ("builds", build, *at[2:]): text for at, text in self.remarks.items() if at[:3] == start and at[3] in parts
        }

    def text(self) -> str:
        """The profile as a commented file."""
        data = self.profile()
        remarks = {self._shortened(at, data): text for at, text in self.remarks.items()}
        remarks["baseline",] = "the build that was on the vehicle when it was measured"
        remarks |= {("axles", axle): "; ".join(lines) for axle, lines in self.kept.items()}
        return profile_text(data, remarks, self._missing(data), HEAD)

    def profile(self) -> dict[str, Any]:
        """The profile as plain data, its keys in the order of the file."""
        data = {"format": 1, **_short(self.data), "baseline": self.facts["now"]}
        return {key: data[key] for key in sorted(data, key=lambda key: _LAST.index(key) + 1 if key in _LAST else 0)}

    @staticmethod
    def _shortened(at: At, data: Any) -> At:
        """The path of a value after a wheel that is only a spec was written as that spec."""
        is_bare = len(at) > 1 and _BARE.get(str(at[-2])) == at[-1]
        return at[:-1] if is_bare and not isinstance(_at(data, at[:-1]), dict) else at

    def _missing(self, data: Any) -> dict[At, list[str]]:
        """Names of what was skipped, at the map in which it would stand."""
        found: dict[At, list[str]] = {}
        for at in self.skipped:
            depth = next(i for i in range(len(at), -1, -1) if _has(data, at[:i]))
            if depth < len(at) and {"obstacles", "low_points", "adjusters", "builds"}.isdisjoint(map(str, at)):
                names = found.setdefault(at[:depth], [])
                names += [str(at[depth])] if str(at[depth]) not in names else []
        return found


HEAD = (
    "A vehicle as it was measured. Every value was typed as an answer to `fitment new`; beside it stands what it is",
    "and what the sheets read it with. Only a tolerance marked usual was filled in: what that tool gives (common",
    "practice, no published source). Lengths in mm unless a unit stands there, angles in degrees. The left side:",
    "x forward, y outboard, z up. Look at it: fitment show THIS_FILE --out points.png",
)


def _at(data: Any, at: At) -> Any:
    for step in at:
        data = data[step]
    return data


def _has(data: Any, at: At) -> bool:
    try:
        _at(data, at)
    except (KeyError, IndexError, TypeError):
        return False
    return True


def _short(node: Any, key: str | int = "") -> Any:
    """Plain data with a wheel that is only a spec as that spec, and so on."""
    if isinstance(node, list):
        return [_short(each) for each in node]
    if not isinstance(node, dict):
        return node
    bare = _BARE.get(str(key))
    if bare and list(node) == [bare]:
        return node[bare]
    return {name: _short(each, name) for name, each in node.items()}


# the walk ------------------------------------------------------------------------------------------------------


class _Walker:
    """One walk through the questions; answers are sent in, the draft grows."""

    def __init__(self, kind: str) -> None:
        self.draft, self.kind = Draft(), kind
        self.axle, self.build, self.part, self.n = "", "", "", 0
        self.others: dict[str, tuple[str, ...]] = {}  # what is other on an axle of the present build

    def group(self, group: Group) -> Generator[Asked | Refused, Any, bool]:
        """Ask a group, as often as what it is for asks for; False where it was skipped."""
        if not self._applies(group.when):
            return False
        if group.each == "axle":
            chosen = self.draft.facts.get("axles", "both")
            for self.axle in ("front", "rear") if chosen == "both" else (chosen,):
                self._enter()
                yield from self._once(group)
            self.axle = ""
            return True
        if group.each == "item":
            before, self.n = (self.n, self.build), 0
            while (yield from self._once(group)):
                self.n += 1
            self.n, self.build = before
            return True
        return (yield from self._once(group))

    def _once(self, group: Group) -> Generator[Asked | Refused, Any, bool]:
        """Ask the group's questions one time; False where it was skipped."""
        if group.gate is not None and not (yield from self._ask(group.gate)):
            if group.part and group.gate.over:
                self._unknown(group.gate, self._path(group.part))
            elif group.part:
                self.draft.skipped.append(self._path(group.part))
            return False
        leads = group.lead or group.each == "item"
        for index, item in enumerate(group.items):
            given: Any = SKIP
            if isinstance(item, Group):
                given = (yield from self.group(item)) or SKIP
            elif self._applies(item.when):
                given = yield from self._question(item)
            if index == 0 and leads and given is SKIP and not (group.lead and self._may_stay(item)):
                self._leave(group)
                return False
        yield from self._check(group.part)
        return True

    def _may_stay(self, item: Question | Group) -> bool:
        """Whether a reading that is skipped stays as it was."""
        over = item.over if isinstance(item, Question) else ""
        return over == "axle" or (over == "part" and self.draft.facts.get("whole") == "changed")

    def _leave(self, group: Group) -> None:
        """Go past a group whose first question was skipped."""
        for question in flat(group):
            if group.lead and question.over:
                self._unknown(question, self._path(question.path))
        if group.lead and group.part and isinstance(group.items[0], Question):
            self._unknown(group.items[0], self._path(group.part))

    def _question(self, question: Question) -> Generator[Asked | Refused, Any, Any]:
        """Ask one question, or as often as its list goes on; the first answer."""
        if question.many is None:
            return (yield from self._ask(question))
        first = given = yield from self._ask(question, 0)
        count = 1
        while given is not SKIP:
            given = yield from self._ask(question, count)
            count += 1
        return first

    def _ask(self, question: Question, item: int | None = None) -> Generator[Asked | Refused, Any, Any]:
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
        data = self.draft.laid(self.build, self.axle)
        suspension = data.get("suspension") or {}
        others = self.others.get(self.axle, ())
        self.draft.facts |= {
            "driven": "yes" if data.get("driven") else "no", "steers": "yes" if data.get("steering") else "no",
            **({"kind": suspension["kind"]} if "kind" in suspension else {}),
            **({"donors": "yes"} if self.draft.donors(self.axle) else {}),
            **({"moved": "yes"} if {"arms", "parts"} & set(others) else {}),
            **dict.fromkeys(others, "yes"),
        }  # fmt: skip

    def _asked(self, question: Question, item: int | None) -> Asked:
        at = self._path(question.path)
        facts = self.draft.facts
        words = self._words()
        place = path_text(at) if at else " ".join(part for part in (self.axle, self.build, f"{self.n}:") if part)
        ident = f"{place} {'' if at else question.ask} {'' if item is None else item + 1}"
        stays = self._stays(at) if at and self._may_stay(question) else None
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
        return f"{question.gives:g} mm" if usual and question.gives else ""

    def _subject(self, question: Question) -> str:
        """The build or the part that a question is about."""
        part = _NUMBERS[id(question)].section.part
        name = self.part if "{part}" in part and question.sets != "part" else ""
        if "{n}" in part:
            name = self.draft.get((*self._path(part), "name")) or ""
        return ", ".join(each for each in (f"build {self.build}" if self.build else "", name) if each)

    def _choices(self, question: Question, words: Mapping[str, str]) -> tuple[str, ...]:
        if question.choices == ("{carriers}",):
            return carriers(words["kind"])
        if question.choices == ("{points}",):
            return tuple(self.draft.laid(self.build, self.axle).get("suspension", {}).get("points") or ())
        if question.choices == ("{parts}",):
            return tuple(self.draft.laid(self.build, self.axle)["obstacles"])
        if question.choices == ("{builds}",):
            return self.draft.donors(self.axle)
        if question.form == "ride":
            return tuple(self.draft.get(("axles", self.axle, "ride_heights")) or ())
        return question.choices

    def _path(self, path: str) -> At:
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

    def _applies(self, when: Sequence[tuple[str, tuple[str, ...]]]) -> bool:
        return all(self.draft.facts.get(fact) in words for fact, words in when)

    def _put(self, asked: Asked, given: Any) -> None:
        question, at = asked.question, asked.at
        usual = question.adds and self.draft.facts.get("tolerances") == "usual" and not _toleranced(given)
        if question.form == "named":
            ((name, given),) = given.items()
            at = (*at, name)
        if question.over:
            self._clear(asked, given)
        self.draft.put(at, _with_tolerance(given, question.gives) if usual else given)
        about = at if asked.item is None else asked.at if question.form == "named" else asked.at[:-1]
        self.draft.remarks.setdefault(about, _remark(question, usual=usual))

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

    def _check(self, part: str) -> Walk:
        """Ask again for what makes a finished part wrong as a whole."""
        at = self._path(part)
        data = self.draft.get(at) if at else None
        if data is not None and len(at) > 3 and at[0] == "builds" and at[3] not in _SETUP:
            data = self._stays(at)
        if data is None:
            return
        problems = part_problems(at, data, self._words())
        if problems:
            yield Refused((*at, *problems[0][0]), problems[0][1])


def _toleranced(given: Any) -> bool:
    """Whether a value, or any of a point, was typed with a tolerance of its own."""
    inside = given.values() if isinstance(given, dict) else given if isinstance(given, list) else ()
    return (isinstance(given, dict) and "tolerance" in given) or any(_toleranced(each) for each in inside)


def _with_tolerance(given: Any, tolerance: float | None) -> Any:
    """The value, or the lengths of a point, each with this tolerance."""
    if isinstance(given, list):
        return [_with_tolerance(each, tolerance) for each in given]
    if isinstance(given, dict):
        return given | {key: _with_tolerance(given[key], tolerance) for key in ("radius", "out")}
    return {"value": given, "tolerance": tolerance}


def _remark(question: Question, *, usual: bool) -> str:
    parts = [question.remark, question.tool if question.tool not in ("", "read it") else ""]
    parts += ["usual tolerance"] if usual else []
    return "; ".join(part for part in parts if part)


def _shown(value: Any) -> str:
    if isinstance(value, dict):
        return f"{_shown(value['value'])} +- {_shown(value['tolerance'])}"
    return value if isinstance(value, str) else f"{value} mm"


# the session ---------------------------------------------------------------------------------------------------


class Session:
    """Questions and answers, as typed, of one profile.

    units : of numbers typed without a unit, mm or in
    kind : suspension offered as the default, empty for the list's own
    answers : (ident, text) so far; later : texts by ident that were taken back, offered again
    current : the question to be answered, None when all are
    """

    def __init__(self, units: str = "mm", kind: str = "") -> None:
        self.units, self.kind = units, kind
        self.later: dict[str, str] = {}
        self._repair = ""  # ident of a question whose answer is to be given again, the later ones being good
        self._restart()

    def _restart(self) -> None:
        self.answers: list[tuple[str, str]] = []
        self._places: list[At] = []
        self._walker = _Walker(self.kind)
        self._walk = self._walker.group(ALL)
        self.current: Asked | None = None
        self._advance(None)

    @property
    def draft(self) -> Draft:
        """What the answers come to so far."""
        return self._walker.draft

    def _advance(self, given: Any) -> Refused | None:
        try:
            found = self._walk.send(given)
        except StopIteration:
            self.current = None
            return None
        if isinstance(found, Refused):
            return found
        self.current = found
        return None

    def offered(self) -> str:
        """What an empty answer to the present question is taken for: a text taken back, or the default."""
        return "" if self.current is None else self.later.get(self.current.ident, self.current.default)

    def give(self, text: str) -> tuple[str, ...]:
        """Answer the present question; second thoughts about it, to be said.

        An empty text skips it. Raises FitmentError with what to type instead; a part that is wrong as a whole takes
        the answers back to the one to give again.
        """
        asked = self.current
        if asked is None:
            raise FitmentError("every question is answered.")
        thoughts = self._one(asked, text)
        if asked.ident == self._repair:
            self._repair = ""
            self._go_on()
        return thoughts

    def _one(self, asked: Asked, text: str) -> tuple[str, ...]:
        given = self._read(asked, text)
        self.answers.append((asked.ident, text))
        self._places.append(asked.at)
        self.later.pop(asked.ident, None)
        refused = self._advance(given)
        if refused is not None:
            self.back_to(path_text(refused.at))
            raise FitmentError(f"{refused.why} Answer this again:")
        return tuple(_second_thoughts(asked, given, self.draft, self.units))

    def _read(self, asked: Asked, text: str) -> Any:
        if not text:
            if not asked.may_skip:
                raise FitmentError(_needed(asked))
            return SKIP
        given = read_answer(asked.question, asked.at, text, units=self.units, words=asked.words, choices=asked.choices)
        _check_name(asked, given, self.draft)
        _check_setup(asked, given, self.draft)
        return given

    def _go_on(self) -> None:
        """Give the answers again that were taken back, as far as they still fit. Raises FitmentError."""
        while self.current is not None and self.current.ident in self.later:
            self._one(self.current, self.later[self.current.ident])

    def back(self, count: int = 1) -> bool:
        """Take back answers, which are offered again; False where there are none."""
        if not self.answers:
            return False
        kept, taken = self.answers[:-count], self.answers[-count:]
        self.later |= dict(taken)
        self._repair = ""
        self._replay(kept)
        return True

    def back_to(self, key: str) -> bool:
        """Take back the answers down to the one for a key path (or the first within it); False if there is none.

        Once it is answered anew, those after it are given again.
        """
        scores = [_nearness(path_text(place), key) for place in self._places]
        if not any(scores):
            return False
        self.back(len(scores) - scores.index(max(scores)))
        self._repair = self.current.ident if self.current else ""
        return True

    def _replay(self, answers: Sequence[tuple[str, str]]) -> None:
        """Walk again through answers given before; what no longer fits is kept to be offered."""
        self._restart()
        for position, (ident, text) in enumerate(answers):
            try:
                if self.current is None or self.current.ident != ident:
                    raise FitmentError("another question stands here.")
                self._one(self.current, text)
            except FitmentError:
                self.later |= dict(answers[position:])
                return

    def finished(self, file: str = "profile") -> Profile:
        """The profile, read back from its text and moved through its poses. Raises ProfileError."""
        profile = loads_profile(self.draft.text(), file)
        for axle in profile.axle_names:
            for build in profile.build_names:
                if profiles.has_setup(profile, axle, build) and profiles.has_setup(profile, axle):
                    cases.ready(profile, axle, build)
        return profile

    def cause(self, error: ProfileError) -> str:
        """Key path of the answer to give again for an error of `finished`."""
        for axle in ("front", "rear"):
            if error.key == f"axles.{axle}":  # a travel or a lock that the links cannot do
                found = re.search(r"\b(droop|bump)\b", error.message)
                return self._motion(axle, f"travel.{found[1]}" if found else "steering", error.message)
            for n, part in enumerate(self.draft.get(("axles", axle, "obstacles")) or ()):
                if error.key == f"axles.{axle}.obstacles" and part["name"] in error.message:
                    return f"axles.{axle}.obstacles[{n}].measured_gap.gap"
        return error.key

    def _motion(self, axle: str, key: str, message: str) -> str:
        """Key path of a travel or lock that cannot be done: where a build says it, or else its suspension."""
        for build, corners in (self.draft.get(("builds",)) or {}).items():
            over = corners.get(axle, {})
            if message.startswith(f"build {build}: ") and "suspension" in over:
                start = f"builds.{build}.{axle}"
                return f"{start}.{key}" if key.partition(".")[0] in over else f"{start}.suspension"
        return f"axles.{axle}.{key}"

    # keeping

    def kept(self) -> bytes:
        """The answers as a file."""
        data = {
            "answers of fitment new": FORMAT, "units": self.units, "kind": self.kind,
            "answers": self.answers, "taken back": self.later,
        }  # fmt: skip
        return (json.dumps(data, indent=1, ensure_ascii=True) + "\n").encode()


def read_kept(path: Path) -> Session:
    """The session of a file of answers. Raises FitmentError for a file that holds none."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        answers = [(str(ident), str(text)) for ident, text in data["answers"]]
        if data["answers of fitment new"] != FORMAT or data["units"] not in ("mm", "in"):
            raise ValueError("another format")
        session = Session(data["units"], str(data["kind"]))
        session.later = {str(ident): str(text) for ident, text in data["taken back"].items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise FitmentError(
            f"{path}: the kept answers cannot be read ({error}); repair it, or begin anew with --anew."
        ) from None
    session._replay(answers)
    return session


def _nearness(place: str, key: str) -> int:
    """How much of a key path an answer's own path shares; 0 where neither lies within the other."""
    short, long = sorted((place, key), key=len)
    return len(short) if short and re.match(rf"{re.escape(short)}(?=$|[.\[])", long) else 0


def _needed(asked: Asked) -> str:
    if asked.item is not None and asked.item > 0:
        return f"at least {asked.least} are needed; this is number {asked.item + 1}."
    return "this one is needed. Type quit to stop here and go on later."


def _check_name(asked: Asked, given: Any, draft: Draft) -> None:
    """Names tell things apart."""
    question = asked.question
    if question.sets == "build" and given in (draft.get(("builds",)) or {}):
        raise FitmentError(f'there is a build "{given}" already; give another name.')
    if asked.at and asked.at[-1] == "name" and len(asked.at) > 2:
        others = [] if question.over and asked.at[-2] == 0 else draft.get(asked.at[:-2]) or []
        if given in [other.get("name") for other in others]:
            raise FitmentError(f'there is a part "{given}" already; give another name.')
    if question.form == "named":
        ((name, _),) = given.items()
        if name in (draft.get(asked.at) or {}):
            raise FitmentError(f'there is a ride height "{name}" already; give another name.')


def _check_setup(asked: Asked, given: Any, draft: Draft) -> None:
    """A tire on a wheel of another diameter, and a baseline that does not stand as it was measured."""
    at = asked.at
    if asked.question.form == "tire":
        wheel, tire = parse_wheel(draft.get((*at[:-2], "wheel", "spec"))), parse_tire(given)
        if wheel.rim_diameter != tire.rim_code:
            raise FitmentError(
                f"the tire is for a {tire.rim_code:g} in rim, the wheel is {wheel.rim_diameter:g} in; read both again "
                "(back leads to the wheel)."
            )
    if asked.question.form == "ride" and at[1] == draft.facts.get("now"):
        heights = draft.get(("axles", at[2], "ride_heights")) or {}
        travel = _plain_mm(heights.get(given, given) if isinstance(given, str) else given)
        if abs(travel) > 0.01:
            raise FitmentError(
                f"that is travel {travel:g} mm, and as measured is 0: every height counts from how it stands now. "
                "Name the one with 0, or skip; back leads to the heights."
            )


def _plain_mm(given: Any) -> float:
    return to_mm(given["value"] if isinstance(given, dict) else given)


def _second_thoughts(asked: Asked, given: Any, draft: Draft, units: str) -> list[str]:
    """What is possible but unlikely."""
    found = []
    if asked.at and asked.at[-1] == "hub_height" and given is not SKIP:
        code = draft.get(("builds", draft.facts["now"], asked.at[1], "tire", "code"))
        across = draft.get(("builds", draft.facts["now"], asked.at[1], "tire", "overall_diameter"))
        free = (_plain_mm(across) if across is not None else overall_diameter(parse_tire(code))) / 2
        height = _plain_mm(given)
        if height > free:
            found.append(
                f"that is more than the tire's free radius ({length_text(free, units)}): a tire under load is pressed "
                "in. Was it measured on the ground, with this tire? Type back to change it."
            )
        elif height < 0.85 * free:
            found.append(
                f"that presses the tire in by {length_text(free - height, units)} of {length_text(free, units)}. Is it "
                "this tire, and inflated? Type back to change it."
            )
    return found
