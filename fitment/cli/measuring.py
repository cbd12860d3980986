"""Commands for a vehicle that is still to be measured: worksheet, new."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fitment import interrupts
from fitment.cli.common import UNITS, check_suffix, check_target, echo, options, pictures, tell, write
from fitment.cli.dialogue import go_to, pick, questions, refuse, say, sound, typed, was_interrupted
from fitment.errors import FitmentError

if TYPE_CHECKING:
    from fitment.measuring.interview import Session

KINDS = ("tape", "double_wishbone", "strut", "five_link", "solid_axle")
DONE, LEFT = 0, 1
HELP = (
    "Enter takes what stands in [ ]. Type ? for where, with what and why; back for the question before; go to 2.7 for "
    "the one with this number again; skip to leave one out; done to end a list; quit to stop. quit keeps every answer: "
    "run the same command to go on. A length may have a unit and a tolerance: 62 1/2 in, or {1572 +- 2|61 7/8 +- 1/8}. "
    "Put a name that is one of these words in quotes."
)


SHOWN = 2  # pages of the sheets in a picture


@click.command()
@click.option(
    "--kind", "kinds", type=click.Choice(KINDS), multiple=True, help="Suspension; may be given more than once."
)
@click.option(
    "--paper", type=click.Choice(["a4", "letter"]), help="Paper size; without this a4, or letter with --units in."
)
@click.option("--out", metavar="FILE", help="A .pdf to print, or a .png of its first pages; else a list comes here.")
@click.option("--axle", type=click.Choice(["front", "rear"]), help="The only axle that these sheets are for.")
@click.option("--first", is_flag=True, help="One page for a first look: one axle, wheels on, nothing taken apart.")
@options(UNITS)
def worksheet(
    kinds: tuple[str, ...], paper: str | None, out: str | None, axle: str | None, first: bool, units: str | None
) -> None:
    """Sheets to print and fill in at the vehicle: what to measure, where, with what, in which order."""
    check_suffix(out, (".pdf", ".png"))
    chosen, words = kinds or KINDS, units or "mm"
    if first:
        if kinds:
            raise FitmentError("--kind is for the full sheets; a first look is the same for every suspension.")
        _first_sheet(paper or ("letter" if words == "in" else "a4"), out, axle or "front", words)
        return
    if out is None:
        from fitment.report.measuring import worksheet_text

        tell(lambda: worksheet_text(chosen, words))
        return
    from fitment.draw.printed.preview import pages_png
    from fitment.draw.printed.worksheet import worksheet_pages, worksheet_pdf

    size = paper or ("letter" if words == "in" else "a4")
    if out.endswith(".png"):
        write(out, pages_png(worksheet_pages(chosen, words, size, axle or "")[:SHOWN]))
    else:
        write(out, worksheet_pdf(chosen, words, size, axle or ""))


def _first_sheet(paper: str, out: str | None, axle: str, units: str) -> None:
    """The page of a first look, printed or listed."""
    if out is None:
        from fitment.report.measuring import first_sheet_text

        tell(lambda: first_sheet_text(axle, units))
        return
    from fitment.draw.printed.first_sheet import first_page
    from fitment.draw.printed.paper import pdf
    from fitment.draw.printed.preview import pages_png

    page = first_page(axle, units, paper)
    write(out, pages_png([page]) if out.endswith(".png") else pdf([page], "First look"))


@click.command()
@click.argument("file", metavar="[FILE.yaml]", default="vehicle.yaml")
@click.option("--kind", type=click.Choice(KINDS), default="tape", help="Suspension that Enter takes.")
@click.option("--anew", is_flag=True, help="Forget the answers kept from before.")
@click.option(
    "--units", type=click.Choice(["mm", "in"]), default="mm", help="Unit of numbers typed without one; kept in FILE."
)
@click.option("--first", is_flag=True, help="Ask only what the page of worksheet --first asks, and give the answer.")
@click.pass_context
def new(ctx: click.Context, file: str, kind: str, anew: bool, units: str, first: bool) -> None:
    """Ask the questions of the worksheet and write the profile to FILE.yaml (vehicle.yaml).

    With --first about twenty of them, with the wheels on; then the answer comes at once, and a picture beside FILE.
    A FILE that is a profile already, written here or by hand, is opened: a part, an axle or a build is added, or a
    reading corrected (go to 2.7), and the rest of the file stays as it is, comments too. Every answer is kept beside
    FILE, so that quit, Ctrl-C or a power cut loses nothing: run the same command to go on.
    Exit code 0 when the profile was written, 1 when questions are left, 2 for bad input, 130 for
    Ctrl-C. While one `new` works on FILE another one on it is refused.
    """
    from fitment.files import held
    from fitment.measuring.interview import Session

    target, aside = _targets(file)
    try:
        with held(target) as is_ours:
            if not is_ours:
                raise FitmentError(f"{target}: another fitment new is working on this file; end that one first.")
            if not first and not anew and _is_opened(target, aside):
                from fitment.cli.opened import edit

                edit(target, aside, units if _is_given(ctx, "units") else None)
                ctx.exit(DONE)
            session = _begun(ctx, target, aside, anew, Session(units, kind, look=first))
            say(HELP, units=session.units)
            questions(session, aside)
            _finish(session, target, aside)
    except (click.Abort, KeyboardInterrupt) as stopped:  # Ctrl-C, or the end of what is typed
        interrupts.ignore()  # the second time it has been heard already
        interrupted = was_interrupted(stopped)
        echo()
        if aside.exists():
            words = f"Stopped. Your answers are kept in {aside}. Run the same command to go on."
        else:
            words = "Stopped. No answer is left open."
        echo(words, err=interrupted)
        ctx.exit(interrupts.exit_code() if interrupted else LEFT)
    ctx.exit(DONE)


def _targets(file: str) -> tuple[Path, Path]:
    """The profile, and the file beside it that keeps answers. Raises FitmentError."""
    from fitment.files import lock_of

    target = Path(file)
    aside = target.with_name(f"{target.name}.answers")
    if target.suffix.lower() not in (".yaml", ".yml"):
        raise FitmentError(f"{file}: a profile is written as .yaml; give the file this ending.")
    for path in (target, aside, aside.with_name(f"{aside.name}.reading"), lock_of(target)):
        check_target(path)
        if path.exists() and not path.is_file():
            raise FitmentError(f"{path} is no file but a pipe or a device; choose another name for the profile.")
    return target, aside


def _is_opened(target: Path, aside: Path) -> bool:
    """Whether a profile is there to work on, and no other one is being asked for in its place."""
    from fitment.measuring.interview import keeps_task

    if aside.exists():
        if not target.exists() and keeps_task(aside):
            raise FitmentError(f"{aside} has answers for {target}, which is gone; put it back, or give --anew.")
        return keeps_task(aside)
    return target.exists()


def _is_given(ctx: click.Context, option: str) -> bool:
    from click.core import ParameterSource

    return ctx.get_parameter_source(option) is ParameterSource.COMMANDLINE


def _begun(ctx: click.Context, target: Path, aside: Path, anew: bool, fresh: Session) -> Session:
    """A new session, or the one that was left."""
    from fitment.measuring.interview import read_kept

    if target.exists():
        echo(f"{target} exists. It is not changed now; the last question asks before it is replaced.")
    if anew:
        aside.unlink(missing_ok=True)
    if not aside.exists():
        return fresh
    session = read_kept(aside)
    if session.look != fresh.look:
        kind = "a first look; give --first" if session.look else "the full sheets; leave out --first"
        raise FitmentError(f"the answers in {aside} are of {kind}, or begin anew with --anew.")
    if session.units != fresh.units and _is_given(ctx, "units"):
        raise FitmentError(f"the answers in {aside} are in {session.units}; give --units {session.units}, or --anew.")
    echo(f"Going on with {len(session.answers)} answers kept in {aside} (--anew forgets them).")
    return session


def _finish(session: Session, target: Path, aside: Path) -> None:
    """Check the whole, ask before it is written, write it and read it back."""
    from fitment.files import write_whole
    from fitment.profile import load_profile

    while True:
        while not sound(session, target):
            questions(session, aside)
        given = "yes" if session.look and not target.exists() else _last_word(target)
        if given == "back":
            session.back()
            questions(session, aside)
        elif given.startswith("go"):
            _go_back(session, given)
            questions(session, aside)
        elif given == "yes":
            break
        else:
            target, _ = _targets(given)
    check_target(target)
    write_whole(target, session.draft.text().encode())
    read = load_profile(target)
    aside.unlink(missing_ok=True)
    echo(f"Wrote {target}, and read it back.")
    for warning in read.warnings:
        say(f"- {warning}", "  ", session.units)
    if session.look:
        _answer(target, session.units)
        return
    echo(f"Look at it:   fitment show {target} --out {target.stem}.png")
    echo(f"Then check:   fitment check {target}")


def _answer(target: Path, units: str) -> None:
    """The answer of a first look, and its picture beside the profile."""
    from fitment import api
    from fitment.measuring.questions.first import NOW, WANTED
    from fitment.profile import load_profile
    from fitment.report.first_look import as_it_stands, first_answer

    echo("Working out the answer ...\n")
    profile = load_profile(target)
    (axle,) = profile.axle_names
    build = WANTED if WANTED in profile.build_names else NOW
    answer = api.check(profile, axle, build, units=units)
    tell(lambda: first_answer(answer.cases[0], answer.asides[0].sure, units))
    if answer.verdict == "touches":
        now = answer if build == NOW else api.check(profile, axle, NOW, units=units)
        tell(lambda: as_it_stands(now.cases[0], units))
    picture = target.with_suffix(".png")
    pictures(str(picture), [(axle, answer.figure(axle))])
    echo(f"Picture: {picture}")
    say(profile.note, "  ", units)
    echo(f"More to measure: fitment next {target} --build {build}")
    echo(f"All of it:       fitment check {target} --build {build}")


def _go_back(session: Session, text: str) -> None:
    """To the question that `go to` names, if it was answered."""
    try:
        place = go_to(text, look=session.look)
        answers = session.answered(place[0]) if place else []
        if not place or not answers:
            raise FitmentError(f"{text}: no question with this number was answered.")
        index = pick(answers, place[1])
        if index is not None:
            session.go_to(index)
    except FitmentError as error:
        refuse(error, session.units)


def _last_word(target: Path) -> str:
    """yes, back, or the name of another file. Raises click.Abort at quit."""
    ask = f"{target} exists. Replace it" if target.exists() else f"Write {target}"
    while True:
        given = typed(f"\n{ask}? yes, another FILE.yaml, back, or quit >")
        word = given.lower()
        if word == "quit":
            raise click.Abort
        if word in ("y", "yes", "back"):
            return "back" if word == "back" else "yes"
        if word.startswith("go"):
            return word
        if given.endswith((".yaml", ".yml")):
            return given
