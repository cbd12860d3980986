"""One input tried in this process, and what an answer to it may look like.

A trial is a command line with the files it reads and the lines typed at it; as JSON it is the small file from which a
failing one is played again. The judge knows nothing of what the answer should be, only what every answer owes:
a documented exit code, a clean message, numbers that are finite, files that are whole.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import signal
import tempfile
import time
import traceback
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

from click.testing import CliRunner

EXITS = {
    "screen": (0, 2, 3),
    "new": (0, 1, 2),
    "check": (0, 1, 2),
    "compare": (0, 1, 2),
    "window": (0, 1, 2),
    "align": (0, 1, 2),
    "order": (0, 1, 2),
    "report": (0, 1, 2),
}
MACHINE_WORDS = re.compile(
    r"Traceback|<class |object at 0x|errors\.pydantic|ValueError|TypeError|\bNone\b|numpy|\bdtype"
)
NOT_FINITE = re.compile(r"(?<![\w.])[-+]?(?:nan|inf)(?![\w])", re.IGNORECASE)
CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f\x80-\x9f\u202a-\u202e\u2066-\u2069]")
LONGEST = 6000  # letters of one message


class HangError(BaseException):
    """The time of a trial is over; no handler of the program may take it for its own."""


@dataclass(frozen=True)
class Trial:
    """kind : what is mutated; files : name to content, bytes written as latin-1; rows : that a list's answer must have;
    rule : of odd geometry, what it was held against
    """

    kind: str
    argv: tuple[str, ...]
    files: dict[str, str] = field(default_factory=dict)
    typed: str | None = None
    rows: int | None = None
    rule: str = ""

    @property
    def given(self) -> str:
        """All that was given, as one text."""
        return "\n".join([*self.argv, *self.files.values(), self.typed or ""])

    @property
    def as_read(self) -> str:
        """The same in plain letters only, as a list in UTF-16 is read."""
        return re.sub(r"[^\n\t -~]", "", self.given)


@dataclass(frozen=True)
class Outcome:
    """exit : None where an exception came out; error : its traceback; new : files that are there afterwards."""

    exit: int | None
    stdout: str
    stderr: str
    error: str
    seconds: float
    new: dict[str, bytes]
    warned: tuple[str, ...] = ()


@dataclass(frozen=True)
class Fault:
    """kind : the line of the count it belongs to; mark : the same for the same fault; detail : to read."""

    kind: str
    mark: str
    detail: str


@contextmanager
def time_limit(seconds: float) -> Iterator[None]:
    """HangError after so much processor time; 0 for none."""

    def over(*_: object) -> None:
        raise HangError

    before = signal.signal(signal.SIGPROF, over)
    signal.setitimer(signal.ITIMER_PROF, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def run_trial(trial: Trial, limit: float) -> Outcome:
    """The command in this process, in a folder of its own. Raises HangError after `limit` processor seconds."""
    from fitment.cli import cli

    here = Path.cwd()
    with tempfile.TemporaryDirectory(prefix="attack") as name, warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        folder = Path(name)
        for file, content in trial.files.items():
            (folder / file).write_bytes(content.encode("latin-1"))
        os.chdir(folder)
        start = time.process_time()
        try:
            with time_limit(limit):
                result = CliRunner().invoke(cli, list(trial.argv), input=trial.typed, prog_name="fitment")
        finally:
            os.chdir(here)
        error = result.exception
        text = "" if error is None or isinstance(error, SystemExit) else "".join(traceback.format_exception(error))
        new = {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}
        return Outcome(
            exit=None if text else result.exit_code,
            stdout=result.stdout_bytes.decode("utf-8", "replace"),
            stderr=result.stderr_bytes.decode("utf-8", "replace"),
            error=text,
            seconds=time.process_time() - start,
            new=new,
            warned=tuple(
                f"{w.category.__name__}: {w.message} ({Path(w.filename).name}:{w.lineno})"
                for w in caught
                if issubclass(w.category, RuntimeWarning | UserWarning)
            ),
        )


def judged(trial: Trial, outcome: Outcome) -> list[Fault]:
    """What is wrong with an answer."""
    if outcome.error:
        return [Fault("traceback", place_of(outcome.error), outcome.error)]
    command = trial.argv[0] if trial.argv else ""
    allowed = EXITS.get(command, (0, 2))
    found: list[Fault] = []

    def wrong(kind: str, mark: str, detail: str) -> None:
        found.append(Fault(kind, f"{command}: {mark}", detail))

    if outcome.exit not in allowed:
        wrong("bad message", f"exit code {outcome.exit}", outcome.stderr[-500:] + outcome.stdout[-300:])
    for warning in outcome.warned:
        wrong("bad message", f"warning {warning.split('(')[-1]}", warning)
    if outcome.exit == 2:
        found += _refusal(trial, outcome, command)
    else:
        found += _answer(trial, outcome, command)
    found += _files(trial, outcome, command)
    return found


def place_of(error: str) -> str:
    """The innermost line of the program in a traceback, and the exception's name: the same for the same fault."""
    own = re.findall(r'File "[^"]*/fitment/([^"]+)", line (\d+), in (\w+)', error)
    name = error.strip().splitlines()[-1].split(":")[0]
    return f"{name} in {own[-1][0]}, {own[-1][2]}" if own else f"{name} outside"


def _refusal(trial: Trial, outcome: Outcome, command: str) -> list[Fault]:
    said = outcome.stderr
    found = []
    # whatever steers a dialogue may have been said before
    lines = [line for line in said.splitlines() if line.startswith(("Error: ", "Usage: "))]
    if not lines:
        found.append(Fault("bad message", f"{command}: exit 2 without a message", said[-500:]))
    if outcome.stdout and command != "new":
        found.append(Fault("bad message", f"{command}: a refusal and an answer", outcome.stdout[-300:]))
    word = MACHINE_WORDS.search(said)
    if word and word[0] not in trial.as_read:
        found.append(Fault("bad message", f"{command}: machine's word {word[0]}", said[-800:]))
    if len(said) > LONGEST:
        found.append(Fault("bad message", f"{command}: a message of {len(said)} letters", said[:800]))
    if CONTROL.search(said):
        found.append(Fault("bad message", f"{command}: control characters in a message", repr(said[-500:])))
    made = set(outcome.new) - set(trial.files)
    if made and command != "new":
        found.append(Fault("files harmed", f"{command}: a refusal that wrote", ", ".join(made)))
    return found


def _answer(trial: Trial, outcome: Outcome, command: str) -> list[Fault]:
    found = []
    text = outcome.stdout
    if "--format" in trial.argv[:-1] and trial.argv[trial.argv.index("--format") + 1] == "json":
        try:
            data = strict_json(text)
        except ValueError as error:
            return [Fault("wrong answer", f"{command}: JSON, {str(error)[:40]}", text[:300])]
        if trial.rows is not None and len(data) != trial.rows:
            found.append(Fault("wrong answer", f"{command}: rows lost", f"{trial.rows} given, {len(data)} came back"))
    else:
        word = NOT_FINITE.search(text + outcome.stderr)
        if word and not NOT_FINITE.search(trial.as_read):
            found.append(Fault("wrong answer", f"{command}: {word[0]} in the text", _around(text, word.start())))
        if CONTROL.search(_unechoed(text, trial)) and command != "screen":  # a list's cells stay as they are
            found.append(Fault("bad message", f"{command}: control characters in a text", repr(text[-300:])))
    if MACHINE_WORDS.search(text) and not MACHINE_WORDS.search(trial.as_read) and command != "schema":
        word = MACHINE_WORDS.search(text)
        assert word
        found.append(Fault("bad message", f"{command}: machine's word {word[0]}", _around(text, word.start())))
    return found


def _unechoed(text: str, trial: Trial) -> str:
    """Without what is typed, which click's runner shows behind the prompt as a terminal would."""
    for line in set((trial.typed or "").split("\n")):
        text = text.replace(f"> {line.rstrip(chr(13))}\n", ">\n")
    return text


def _files(trial: Trial, outcome: Outcome, command: str) -> list[Fault]:
    """Files that were there are as before, unless written to on purpose; new ones are whole."""
    found = []
    out = {trial.argv[i + 1] for i, word in enumerate(trial.argv[:-1]) if word in ("--out", "--animate")}
    for name, content in outcome.new.items():
        before = trial.files.get(name)
        if before is not None and content != before.encode("latin-1") and name not in out and command != "new":
            found.append(Fault("files harmed", f"{command}: an input was changed", name))
        if before is None:
            fault = not_whole(name, content)
            if fault:
                found.append(Fault("files harmed", f"{command}: {Path(name).suffix} {fault}", name))
    return found


def not_whole(name: str, content: bytes) -> str:
    """What is wrong with a file that was written, by its ending; empty where it is whole."""
    suffix = Path(name).suffix
    try:
        if suffix == ".json":
            strict_json(content.decode())
        elif suffix == ".svg":
            ElementTree.fromstring(content)
    except (ValueError, ElementTree.ParseError) as error:
        return f"not sound: {str(error)[:60]}"
    if suffix == ".tmp":
        return "left behind"
    ends = {".png": b"IEND\xaeB`\x82", ".pdf": b"%%EOF\n", ".gif": b";", ".html": b"</html>\n"}
    if suffix in ends and not content.endswith(ends[suffix]):
        return "cut short"
    return ""


def strict_json(text: str) -> Any:
    """Raises ValueError; numbers that are not finite are none."""

    def refuse(word: str) -> Any:
        raise ValueError(f"{word} is no number")

    return json.loads(text, parse_constant=refuse)


def _around(text: str, at: int) -> str:
    return text[max(0, at - 150) : at + 100]


# ---------------------------------------------------------------- kept


def keep(trial: Trial, fault: Fault, folder: Path) -> Path:
    """The failing input as a file, named by its fault; a smaller one takes the place of a larger one."""
    folder.mkdir(parents=True, exist_ok=True)
    name = hashlib.sha256(f"{fault.kind} {fault.mark}".encode()).hexdigest()[:10]
    path = folder / f"{trial.kind}-{name}.json"
    text = json.dumps({"fault": asdict(fault), "trial": asdict(trial)}, indent=1)
    if not path.exists() or len(text) < path.stat().st_size:
        path.write_text(text)
    return path


def kept(path: Path) -> Trial:
    """The trial of a kept file."""
    data = json.loads(path.read_text())["trial"]
    return Trial(**(data | {"argv": tuple(data["argv"])}))
