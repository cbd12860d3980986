"""`new` on a profile that is there: parts, axles and builds are added, readings corrected, the rest stays as it is."""

from __future__ import annotations

import codecs
import difflib
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fitment.cli.common import echo
from fitment.cli.dialogue import (
    Elsewhere,
    LeftError,
    go_to,
    keep,
    pick,
    questions,
    refuse,
    say,
    sound,
    typed,
    was_interrupted,
)
from fitment.errors import FitmentError

if TYPE_CHECKING:
    from fitment.measuring.interview import Opened, Session, Task

HELP = (
    "part adds a part, build a build, axle the other axle. go to 2.7 asks the question with this number of the sheets "
    "again: it corrects that reading. undo takes the last change back, done ends. What you do not change stays as it "
    "is in the file, comments too."
)
AXLES = ("front", "rear")


@dataclass
class OpenFile:
    """A profile's file while it is worked on.

    raw : its bytes as they were last read or written; before : its bytes before each change, the last one last
    """

    path: Path
    raw: bytes = b""
    before: list[bytes] = field(default_factory=list)

    def read(self) -> Opened:
        """The profile as it is on the disk now. Raises FitmentError where it does not load."""
        from fitment.measuring.interview import Opened
        from fitment.profile import load_profile

        try:
            load_profile(self.path)
        except FitmentError as error:
            raise FitmentError(f"{error} Mend it in an editor first, or begin a new profile with --anew.") from None
        self.raw = self.path.read_bytes()
        return Opened(self.raw.decode("utf-8-sig"))

    def is_as_read(self) -> bool:
        """Whether nobody else has written it since."""
        return self.path.exists() and self.path.read_bytes() == self.raw

    def write(self, text: str) -> None:
        """Put a text in its place, whole or not at all. Raises FitmentError."""
        mark = codecs.BOM_UTF8 if self.raw.startswith(codecs.BOM_UTF8) else b""
        self._put(mark + text.encode())

    def undo(self) -> bool:
        """Put back what stood there before the last change; False where there was none. Raises FitmentError."""
        if not self.before:
            return False
        if not self.is_as_read():
            raise FitmentError(f"{self.path} was changed by something else since; nothing is taken back.")
        self._put(self.before[-1])
        del self.before[-2:]
        return True

    def _put(self, raw: bytes) -> None:
        from fitment.files import write_whole

        write_whole(self.path, raw)
        self.before.append(self.raw)
        self.raw = raw


def edit(target: Path, aside: Path, units: str | None) -> None:
    """Ask what to do until nothing more is wanted. Raises FitmentError, click.Abort where a form is left.

    units : of numbers typed without a unit, None: those of the profile
    """
    file = OpenFile(target)
    opened = file.read()
    _introduce(target, opened)
    if aside.exists():
        from fitment.measuring.interview import read_kept

        session = read_kept(aside, opened)
        echo(f"Going on with {len(session.answers)} answers kept in {aside}; back from the first one leaves them.")
        _do(file, aside, session)
    while (text := _wanted()) is not None:
        try:
            _follow(file, aside, text, units)
        except FitmentError as error:
            refuse(error)
    if file.before:
        echo(f"Look at it:   fitment show {target} --out {target.stem}.png")
        echo(f"Then check:   fitment check {target}")


def _introduce(target: Path, opened: Opened) -> None:
    builds = ", ".join(opened.data.get("builds") or ())
    say(f"{target} is opened: {opened.data.get('name', 'no name')}; {' and '.join(opened.axles)}; builds {builds}.")
    say(HELP)


def _wanted() -> str | None:
    """What is typed at the top; None at the end."""
    try:
        echo()
        clean = typed("What now? part, axle, build, go to NUMBER, undo, ?, or [done] >")
    except click.Abort as error:
        if was_interrupted(error):
            raise
        echo()
        return None
    return None if clean.lower() in ("", "done", "quit", "no more") else clean


def _follow(file: OpenFile, aside: Path, text: str, units: str | None) -> None:
    """One wish. Raises FitmentError with what to type instead."""
    word = text.lower().removeprefix("add ").removeprefix("a ").removeprefix("an ")
    if word in ("?", "help"):
        say(HELP)
        return
    if word == "undo":
        echo(f"{file.path} is as it was before the last change." if file.undo() else "There is no change to take back.")
        return
    opened = file.read()
    place = go_to(text if not text[0].isdigit() else f"go to {text}")
    task = _reading(opened, *place) if place is not None else _addition(opened, word)
    if task is not None:
        _do(file, aside, _session(opened, task, units))


def _session(opened: Opened, task: Task, units: str | None) -> Session:
    from fitment.measuring.interview import Session

    return Session(units or opened.data.get("units") or "mm", "tape", opened, task)


def _reading(opened: Opened, number: str, words: str) -> Task | None:
    tasks = opened.tasks(number)
    note = " The last one adds one." if tasks[0].item is not None else ""
    return pick([(task.labels, task) for task in tasks], words, note)


def _addition(opened: Opened, word: str) -> Task | None:
    from fitment.measuring.interview import Task

    kind, _, axle = word.partition(" ")
    if kind == "build":
        return Task("build")
    if kind == "axle":
        missing = [axle for axle in AXLES if axle not in opened.axles]
        if not missing:
            raise FitmentError("front and rear are both there; go to the number of a reading to correct it.")
        return Task("axle", missing[0])
    if kind == "part":
        chosen = pick([((each,), each) for each in opened.axles], axle)
        return Task("part", chosen) if chosen else None
    raise FitmentError(f'"{word}" is none of these; type part, axle, build, go to 2.7, undo or done.')


def _do(file: OpenFile, aside: Path, session: Session) -> None:
    """Ask the questions of a task, and write what it changes into the file."""

    def elsewhere(session: Session, number: str, words: str) -> Session:
        """Correct a reading of the profile while another task is not finished."""
        assert session.opened is not None
        task = _reading(session.opened, number, words)
        if task is not None:
            beside = aside.with_name(f"{aside.name}.reading")
            try:
                _ask(file, beside, _session(session.opened, task, session.units), None)
            finally:
                beside.unlink(missing_ok=True)
        return session.reopened(file.read())

    _ask(file, aside, session, elsewhere)


def _ask(file: OpenFile, aside: Path, session: Session, elsewhere: Elsewhere | None) -> None:
    try:
        while True:
            session = questions(session, aside, elsewhere)
            if not file.is_as_read():
                echo(f"{file.path} was changed by something else meanwhile; it is read again.")
                session = session.reopened(file.read())
            elif sound(session, file.path):
                break
            else:
                echo(f"   {file.path} is as it was.")
            keep(session, aside)
        _write(file, session)
    except LeftError:
        echo(f"   Left; {file.path} is as it was.")
    aside.unlink(missing_ok=True)


def _write(file: OpenFile, session: Session) -> None:
    from fitment.profile import load_profile

    assert session.opened is not None
    text, old = session.text(), session.opened.text
    if text == old:
        echo(f"Nothing changed in {file.path}.")
        return
    warnings = load_profile(file.path).warnings
    file.write(text)
    for line in difflib.unified_diff(old.splitlines(), text.splitlines(), n=0, lineterm=""):
        if line[:3] not in ("---", "+++") and line[:2] != "@@":
            echo(f"   {line[0]} {line[1:]}")
    echo(f"Wrote {file.path}; the rest of it is as it was.")
    for warning in load_profile(file.path).warnings:
        if warning not in warnings:
            say(f"- {warning}", "  ", session.units)
