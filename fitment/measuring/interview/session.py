"""A profile built from answers: what is asked next, going back, going on later.

An interview is a walk through the list of questions. Its only state is the answers as they were typed: to go
back, or to go on another day, the walk starts again and the answers are given anew.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from fitment import profile as profiles
from fitment.checks import case
from fitment.errors import FitmentError, ProfileError
from fitment.measuring.first_profile import first_cause
from fitment.measuring.interview.draft import SECOND, Draft
from fitment.measuring.interview.opened import Opened, Task
from fitment.measuring.interview.plausibility import check_name, check_setup, check_skipped, needed, second_thoughts
from fitment.measuring.interview.walk import SKIP, Asked, Refused, Walker
from fitment.measuring.questions import ALL
from fitment.measuring.questions.first import FIRST
from fitment.measuring.typed_answers import read_answer
from fitment.profile import Profile, loads_profile
from fitment.profile.yaml_core import path_text

FORMAT = 1  # of the file that keeps answers


class Session:
    """Questions and answers, as typed, of one profile: the whole of it, or a task on one that is there.

    opened, task : the profile that is there, and what is done to it; None for a new one
    units : of numbers typed without a unit, mm or in
    kind : suspension offered as the default, empty for the list's own
    look : a first look is asked for, not everything
    answers : (ident, text) so far; later : texts by ident that were taken back, offered again
    current : the question to be answered, None when all are
    """

    def __init__(
        self, units: str = "mm", kind: str = "", opened: Opened | None = None, task: Task | None = None, *,
        look: bool = False,
    ) -> None:  # fmt: skip
        self.look = look
        self.units, self.kind, self.opened, self.task = units, kind, opened, task
        self.later: dict[str, str] = {}
        self._repair = ""  # ident of a question whose answer is to be given again, the later ones being good
        self._restart()

    def _restart(self) -> None:
        self.answers: list[tuple[str, str]] = []
        self._asked: list[Asked] = []  # the question of each answer
        opened = self.opened.draft(self.units) if self.opened else None
        self._walker = Walker(self.kind, self.units, opened, look=self.look)
        whole = FIRST if self.look else ALL
        self._walk = self.task.walk(self._walker) if self.task else self._walker.group(whole)
        self.current: Asked | None = None
        self._advance(None)

    @property
    def draft(self) -> Draft:
        """What the answers come to so far."""
        return self._walker.draft

    def _advance(self, given: Any) -> Refused | None:
        try:
            reply = self._walk.send(given)
        except StopIteration:
            self.current = None
            return None
        if isinstance(reply, Refused):
            return reply
        self.current = reply
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
        self._asked.append(asked)
        self.later.pop(asked.ident, None)
        refused = self._advance(given)
        if refused is not None:
            self.back_to(path_text(refused.at))
            raise FitmentError(f"{refused.why} Answer this again:")
        return tuple(second_thoughts(asked, given, self.draft, self.units))

    def _read(self, asked: Asked, text: str) -> Any:
        if not text:
            if not asked.may_skip:
                raise FitmentError(needed(asked))
            check_skipped(asked, self.draft)
            return SKIP
        given = read_answer(asked.question, asked.at, text, units=self.units, words=asked.words, choices=asked.choices)
        check_name(asked, given, self.draft)
        check_setup(asked, given, self.draft)
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
        self.replay(kept)
        return True

    def back_to(self, key: str) -> bool:
        """Take back the answers down to the one for a key path (or the first within it); False if there is none.

        Once it is answered anew, those after it are given again.
        """
        scores = [_nearness(path_text(asked.at), key) for asked in self._asked]
        if not any(scores):
            return False
        self.go_to(scores.index(max(scores)))
        return True

    def go_to(self, index: int) -> None:
        """Ask the question of an answer again; once it is answered anew, those after it are given again."""
        self.back(len(self._asked) - index)
        self._repair = self.current.ident if self.current else ""

    def answered(self, number: str) -> list[tuple[tuple[str, ...], int]]:
        """The answers to the question with this number: the words that tell them apart, and the index of each."""
        return [(asked.labels, index) for index, asked in enumerate(self._asked) if asked.numbered.number == number]

    def reopened(self, opened: Opened) -> Session:
        """The same task on the profile as it is now; answers that no longer fit are offered again."""
        if self.task is not None and not opened.allows(self.task):
            raise FitmentError("what the answers are about is no longer in the profile.")
        session = Session(self.units, self.kind, opened, self.task)
        session.later = dict(self.later)
        session.replay(self.answers)
        return session

    def text(self) -> str:
        """The profile as the text of its file. Raises FitmentError where an answer cannot be put into the file."""
        return self.opened.changed(self.draft) if self.opened else self.draft.text()

    def replay(self, answers: Sequence[tuple[str, str]]) -> None:
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

    def finished(self, file: str = "profile", folder: Path | None = None) -> Profile:
        """The profile, read back from its text and moved through its poses. Raises FitmentError.

        folder : in which the scans lie that it names
        """
        profile = loads_profile(self.text(), file, folder)
        if self.look:  # one axle, and what is wanted on it comes last
            case.ready(profile, profile.axle_names[0], profile.build_names[-1])
            return profile
        stuck = list(_stuck(profile))
        if stuck and self.opened:  # what did not move before is not for these answers to mend
            before = [str(error) for error in _stuck(loads_profile(self.opened.text, file, folder))]
            stuck = [error for error in stuck if str(error) not in before]
        for error in stuck:
            raise error
        return profile

    def cause(self, error: ProfileError) -> str:
        """Key path of the answer to give again for an error of `finished`."""
        if self.look:
            return first_cause(error, self.draft.data)
        for axle in ("front", "rear"):
            if error.key == f"axles.{axle}":  # a travel or a lock that the links cannot do
                match = re.search(r"\b(droop|bump)\b", error.message)
                return self._motion(axle, f"travel.{match[1]}" if match else "steering", error.message)
            if error.key.startswith(f"axles.{axle}.right"):
                part = self.draft.get((SECOND, axle, "part"))
                return f"{SECOND}.{axle}.gap" if part and part in error.key + error.message else f"{SECOND}.{axle}"
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
            "answers of fitment new": FORMAT, "units": self.units, "kind": self.kind, "first": self.look,
            "answers": self.answers, "taken back": self.later, **({"task": asdict(self.task)} if self.task else {}),
        }  # fmt: skip
        return (json.dumps(data, indent=1, ensure_ascii=True) + "\n").encode()


def read_kept(path: Path, opened: Opened | None = None) -> Session:
    """The session of a file of answers. Raises FitmentError for a file that holds none.

    opened : the profile beside it, None where there is none
    """
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
        answers = [(str(ident), str(text)) for ident, text in data["answers"]]
        if data["answers of fitment new"] != FORMAT or data["units"] not in ("mm", "in"):
            raise ValueError("another format")
        task = Task(**data["task"]) if "task" in data else None
        if task is not None and (opened is None or not opened.allows(task)):
            raise FitmentError(f"{path}: what its answers are about is not in the profile; delete it to go on without.")
        look = data.get("first") is True
        session = Session(data["units"], str(data["kind"]), opened if task else None, task, look=look)
        session.later = {str(ident): str(text) for ident, text in data["taken back"].items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise FitmentError(
            f"{path}: the kept answers cannot be read ({error}); repair it, or begin anew with --anew."
        ) from None
    session.replay(answers)
    return session


def keeps_task(path: Path) -> bool:
    """Whether a file of answers belongs to a profile that was opened."""
    try:
        return "task" in json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, TypeError, RecursionError):
        return False


def _stuck(profile: Profile) -> Iterator[FitmentError]:
    """Why axles of builds cannot be moved through their poses."""
    for axle in profile.axle_names:
        for build in profile.build_names:
            if profiles.has_setup(profile, axle, build) and profiles.has_setup(profile, axle):
                try:
                    case.ready(profile, axle, build)
                except FitmentError as error:
                    yield error


def _nearness(place: str, key: str) -> int:
    """How much of a key path an answer's own path shares; 0 where neither lies within the other."""
    short, long = sorted((place, key), key=len)
    return len(short) if short and re.match(rf"{re.escape(short)}(?=$|[.\[])", long) else 0
