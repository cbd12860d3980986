"""Questions and answers at the terminal, as `new` has them."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

import click

from fitment.cli.common import echo
from fitment.errors import FitmentError, ProfileError

if TYPE_CHECKING:
    from fitment.measuring.interview import Asked, Session

_GO_TO = re.compile(r"go\s*to\b\s*(\S*)\s*(.*)", re.IGNORECASE)
_NUMBER, _FIRST = re.compile(r"\d+\.\d+"), re.compile(r"\d+(?:\.\d+)?")  # of the sheets, of a first look
Elsewhere = Callable[["Session", str, str], "Session"]  # what `go to` does where it leads out of the session
Goal = TypeVar("Goal")


class LeftError(Exception):
    """`back` from the first question of a task on a profile: nothing is done."""


def was_interrupted(error: BaseException) -> bool:
    """Whether it was Ctrl-C, and not the end of what is typed or `quit`; click raises one error for both."""
    return isinstance(error, KeyboardInterrupt) or isinstance(error.__context__, KeyboardInterrupt)


def typed(prompt: str) -> str:
    """What is typed behind a prompt, without spaces round it. Raises click.Abort at its end, and at Ctrl-C."""
    while True:
        try:
            return str(click.prompt(prompt, prompt_suffix=" ", default="", show_default=False)).strip()
        except UnicodeError:  # of UTF-16 without its mark, no UnicodeDecodeError
            refuse("this is not text in the code page of the terminal; type it again.")
        except OSError as error:
            echo(f"note: nothing can be read from standard input: {error.strerror or error}.", err=True)
            raise click.Abort from None


def say(text: str, rest: str = "", units: str = "mm", first: str = "") -> None:
    """Print wrapped lines; in inches where these are chosen."""
    from fitment.terminal import columns_of, filled, laid_out, measure
    from fitment.units import in_units

    with laid_out(columns_of(sys.stdout)):
        for line in in_units(text, units, tape=True).split("\n"):
            echo(filled(line, measure(), initial_indent=first, subsequent_indent=rest, break_on_hyphens=False))


def refuse(error: FitmentError | str, units: str = "mm") -> None:
    """Say what was wrong with what was typed."""
    text = f"{error.key}: {error.message}" if isinstance(error, ProfileError) and error.key else str(error)
    say(f"! {text}", "     ", units, first="   ")


def keep(session: Session, aside: Path) -> None:
    """Write the answers so far beside the profile; no file where there is none."""
    from fitment.files import write_whole

    if session.answers or session.later:
        write_whole(aside, session.kept())
    else:
        aside.unlink(missing_ok=True)


def go_to(text: str, *, look: bool = False) -> tuple[str, str] | None:
    """Number and other words of `go to 2.7 front`; None where something else was typed. Raises FitmentError."""
    match = _GO_TO.fullmatch(text)
    if match is None:
        return None
    if not (_FIRST if look else _NUMBER).fullmatch(match[1]):
        raise FitmentError("write go to and the number of a question, such as go to 2.7.")
    return match[1], match[2]


def pick(goals: Sequence[tuple[tuple[str, ...], Goal]], words: str, note: str = "") -> Goal | None:
    """The one of several places that the words tell, asked for until one is left; None at `back`.

    goals : the words that tell each from the others, and what it is; note : what to say beside the choices
    Raises click.Abort at `quit`.
    """
    left, given = list(goals), words
    while True:
        fit = _fitting(left, given)
        if not fit:
            refuse(f'"{given}" is none of these.')
        left = fit or left
        if len(left) == 1:
            return left[0][1]
        place = next(
            i for i, column in enumerate(zip(*(labels for labels, _ in left), strict=False)) if len(set(column)) > 1
        )
        choices = list(dict.fromkeys(labels[place] for labels, _ in left))
        say(f"Which one: {', '.join(choices)}?{note}", "   ", first="   ")
        given = typed("   >")
        if given.lower() == "quit":
            raise click.Abort
        if given.lower() == "back":
            return None


def _fitting(goals: Sequence[tuple[tuple[str, ...], Goal]], text: str) -> list[tuple[tuple[str, ...], Goal]]:
    """Those that have the text as one of their labels; else those whose labels hold each of its words."""
    low = text.lower().strip()
    exact = [goal for goal in goals if low in (label.lower() for label in goal[0])]
    words = set(low.replace(",", " ").split())
    return exact or [goal for goal in goals if words <= set(" ".join(goal[0]).lower().replace(",", " ").split())]


def questions(session: Session, aside: Path, elsewhere: Elsewhere | None = None) -> Session:
    """Ask until every question is answered; the session, which `elsewhere` may have made anew.

    Raises click.Abort when it is left, LeftError at `back` from the first question of a task.
    """
    told: set[str] = set()  # what was explained already
    heading = ""
    while session.current is not None:
        asked = session.current
        section = asked.numbered.section
        title = f"{asked.numbered.number.split('.')[0]} {section.title}" + (f": {asked.axle}" if asked.axle else "")
        if title != heading and "." in asked.numbered.number:  # else the question says it all
            heading = title
            echo(f"\n== {title} ==")
            if section.title not in told and not _is_correction(session):
                say(section.how, "", session.units)
        _put_question(asked, session.units, is_new=asked.numbered.number not in told)
        told |= {section.title, asked.numbered.number}
        session = _take(session, aside, elsewhere)
    return session


def _is_correction(session: Session) -> bool:
    return session.task is not None and session.task.what == "reading"


def _put_question(asked: Asked, units: str, *, is_new: bool) -> None:
    from fitment.report.measuring import question_text

    count = f" {asked.item + 1}" if asked.item is not None else ""
    head = f"{asked.numbered.number} {asked.subject + ': ' if asked.subject else ''}{asked.question.ask}{count}"
    echo()
    say(head + question_text(asked, units), "   ", units)
    if is_new and asked.question.how:
        say(asked.question.how, "   ", units, first="   ")


def _take(session: Session, aside: Path, elsewhere: Elsewhere | None) -> Session:
    """One answer to the present question, or one of the words that steer."""
    asked = session.current
    assert asked is not None
    offered = session.offered()
    shown = f"[{offered or _enter(asked, session.units)}] " if offered or asked.may_skip else ""
    text = typed(f"   {shown}>")
    word = text.lower()
    if word == "quit":
        raise click.Abort
    if word in ("?", "help"):
        _explain(asked, session.units)
        return session
    try:
        if word == "back":
            _back(session)
        elif (place := go_to(text, look=session.look)) is not None:
            session = _go(session, *place, elsewhere)
        else:
            _answer(session, text, word, offered)
    except FitmentError as error:
        refuse(error, session.units)
    keep(session, aside)
    return session


def _answer(session: Session, text: str, word: str, offered: str) -> None:
    asked = session.current
    assert asked is not None
    from fitment.measuring.questions.first import UNKNOWN

    if word in ("skip", "done", "no more") or (session.look and word in UNKNOWN):
        session.later.pop(asked.ident, None)
        text = ""
    for thought in session.give(text or ("" if word else offered)):
        say(f"Sure? {thought}", "   ", first="   ")


def _back(session: Session) -> None:
    if not session.back():
        if session.task is not None:
            raise LeftError
        echo("   this is the first question.")


def _go(session: Session, number: str, words: str, elsewhere: Elsewhere | None) -> Session:
    """To an answer of this session, given anew; those after it are given again by themselves."""
    answers = session.answered(number)
    if answers:
        index = pick(answers, words)
        if index is not None:
            session.go_to(index)
        return session
    if elsewhere is None:
        raise FitmentError(f"{number} is not answered yet.")
    return elsewhere(session, number, words)


def _enter(asked: Asked, units: str) -> str:
    """What an empty answer does."""
    if asked.stays is not None:
        from fitment.report.measuring import stays_text

        return f"{stays_text(asked, units)} stays"
    if asked.item is not None:
        return "done"
    section = asked.numbered.section
    is_list = section.each == "item" or asked.question.sets == "build"
    return "no more" if is_list and asked.question is section.items[0] else "skip"


def _explain(asked: Asked, units: str) -> None:
    from fitment.report.measuring import question_help

    for line in question_help(asked, units):
        say(line, "     ", units, first="   ")


def sound(session: Session, target: Path) -> bool:
    """Whether the whole is a profile that can be checked; where not, the answers go back to the cause."""
    echo("\nChecking all answers, the suspension moved through its travel and steering ...")
    try:
        session.finished(str(target), target.parent)
    except ProfileError as error:
        refuse(error, session.units)
        session.back_to(session.cause(error)) or session.back()
    except FitmentError as error:
        refuse(error, session.units)
        session.back()
    else:
        return True
    return False
