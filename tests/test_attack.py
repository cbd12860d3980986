"""The attack (tests/attack) sees what it is to see: its judge is shown answers that are wrong on purpose."""

from __future__ import annotations

import json
import re
import subprocess
import sys
import warnings
from dataclasses import replace
from pathlib import Path
from random import Random

import numpy as np
import pytest
from conftest import steered, vehicle, write_profile
from reference import mesh

import fitment
from tests.attack.fuzz import Fuzz
from tests.attack.injected import Injection, full_stdout, read_only
from tests.attack.lines import Lines
from tests.attack.odd_geometry import PARTS, _consistent, _misses, _the_same, odd_vehicle
from tests.attack.runner import Counts
from tests.attack.trial import Fault, Outcome, Trial, judged, keep, kept, not_whole, place_of, run_trial

TIRE = Trial("codes", ("tire", "225/45R17", "--format", "json"))
GOOD = Outcome(exit=0, stdout='[{"a": 1.0}]', stderr="", error="", seconds=0.1, new={})


def kinds(found: list[Fault]) -> list[str]:
    return [fault.kind for fault in found]


def test_a_sound_answer_and_a_sound_refusal_are_no_faults() -> None:
    assert judged(TIRE, run_trial(TIRE, 30)) == []
    refused = run_trial(Trial("codes", ("tire", "--", "225/45R")), 30)
    assert refused.exit == 2
    assert judged(TIRE, refused) == []


@pytest.mark.parametrize(
    ("change", "kind"),
    [
        ({"error": 'Traceback\n  File "/x/fitment/units.py", line 3, in read\nKeyError: 1'}, "traceback"),
        ({"exit": 70, "stderr": "Error: a fault"}, "bad message"),
        ({"exit": 1}, "bad message"),  # a tire code has no verdict
        ({"exit": 2, "stdout": "", "stderr": ""}, "bad message"),
        ({"exit": 2, "stdout": "half an answer", "stderr": "Error: no"}, "bad message"),
        ({"exit": 2, "stdout": "", "stderr": "Error: <class 'int'> is no width"}, "bad message"),
        ({"exit": 2, "stdout": "", "stderr": "Error: no", "new": {"x.png": b""}}, "files harmed"),
        ({"stdout": '[{"a": NaN}]'}, "wrong answer"),
        ({"new": {"x.svg": b"<svg>"}}, "files harmed"),
        ({"new": {".x.png.1234.tmp": b""}}, "files harmed"),
        ({"warned": ("RuntimeWarning: divide by zero (trace.py:4)",)}, "bad message"),
    ],
)
def test_the_judge_sees(change: dict[str, object], kind: str) -> None:
    assert kind in kinds(judged(TIRE, replace(GOOD, **change)))  # type: ignore[arg-type]


def test_rows_that_are_lost_and_inputs_that_are_changed_are_seen() -> None:
    trial = Trial("lists", ("screen", "v.yaml", "l.csv", "--format", "json"), {"l.csv": "wheel"}, rows=2)
    assert kinds(judged(trial, replace(GOOD, new={"l.csv": b"other"}))) == ["wrong answer", "files harmed"]


def test_a_word_that_a_list_in_utf_16_has_is_the_lists_own() -> None:
    for letters in ("ft-inf", "\0".join("ft-inf")):
        trial = Trial("lists", ("screen", "v.yaml", "l.csv"), {"l.csv": letters})
        assert judged(trial, replace(GOOD, stdout="ride\tft-inf")) == []
    assert kinds(judged(replace(trial, files={"l.csv": "wheel"}), replace(GOOD, stdout="ride\tft-inf"))) == [
        "wrong answer"
    ]


def test_a_terminal_shows_what_is_typed_and_the_program_does_not_say_it_again_as_it_is() -> None:
    trial = Trial("answers", ("new", "v.yaml"), typed="\x1b[31m\n")
    assert judged(trial, replace(GOOD, stdout="Name > \x1b[31m\n")) == []
    assert kinds(judged(trial, replace(GOOD, stdout="Name > \x1b[31m\n  ! \x1b[31m is no name"))) == ["bad message"]


def test_files_cut_short_are_seen() -> None:
    assert not_whole("x.pdf", b"%PDF-1.4 ...") == "cut short"
    assert not_whole("x.pdf", b"%PDF-1.4 ... %%EOF\n") == ""
    assert not_whole("x.json", b'{"a": 1') != ""
    assert not_whole("x.html", b"<html>") == "cut short"


def test_one_fault_is_kept_once_by_its_place_and_can_be_played_again(tmp_path: Path) -> None:
    error = 'File "/a/fitment/parts/tire.py", line 3, in read\n  x\nKeyError: 3'
    assert place_of(error) == "KeyError in parts/tire.py, read"
    fault = Fault("traceback", place_of(error), error)
    long, short = replace(TIRE, argv=(*TIRE.argv, "--units", "in")), TIRE
    paths = {keep(trial, fault, tmp_path) for trial in (long, short, long)}
    assert len(paths) == 1
    assert kept(paths.pop()) == short


def test_lines_that_are_reached_are_counted_once() -> None:
    lines = Lines()
    with lines.traced():
        run_trial(TIRE, 30)
    first = lines.reached
    assert first > 100
    with lines.traced():
        run_trial(TIRE, 30)
    assert lines.reached < first * 1.2  # what the first call had made ready is gone another way


def test_the_same_seed_draws_the_same_inputs() -> None:
    one, other = Fuzz(Random(4)), Fuzz(Random(4))
    drawn = [one.draw() for _ in range(200)]
    assert drawn == [other.draw() for _ in range(200)]
    assert {trial.kind for trial in drawn} >= {"codes", "specs", "profiles", "lists", "options", "answers"}


def test_every_odd_part_has_a_shape_and_numbers_that_json_can_hold() -> None:
    rng = Random(2)
    shapes = {make(rng)["shape"] for make in PARTS for _ in range(5)}
    assert shapes == {"edge", "rod", "ball", "panel", "ring"}
    assert json.loads(json.dumps(odd_vehicle(rng), allow_nan=False))["format"] == vehicle()["format"]


def test_a_silent_ok_is_seen() -> None:
    entry = {"clearance_mm": -1.0, "worst_case_mm": -2.0, "margin_mm": -6.0}
    assert kinds(_consistent({"verdict": "clears", "clearances": [entry]})) == ["silent OK"]
    assert kinds(_consistent({"verdict": "touches", "clearances": [entry]})) == []
    # 0.05 mm and, of an overlap down to 20 mm, 0.5 mm are what the references hold (tests/README.md)
    assert kinds(_misses("edge, tire", [10.1, 10.0, 9.8], [10.0, 10.0, 10.0])) == ["silent OK", "wrong answer"]  # type: ignore[arg-type]
    assert kinds(_misses("edge, tire", [-9.6, -9.4], [-10.0, -10.0])) == ["silent OK"]  # type: ignore[arg-type]


def test_of_a_solid_the_faces_of_its_prisms_are_known_and_not_what_lies_deeper() -> None:
    """A square of 2 mm filled 10 mm back: sheet, far face and walls, 2 + 2 + 12 triangles."""
    square = [[[0, 0, 0], [2, 0, 0]], [[0, 0, 2], [2, 0, 2]]]
    far = [[[0, 10, 0], [2, 10, 0], [2, 10, 2]], [[0, 10, 0], [2, 10, 2], [0, 10, 2]]]
    solid = {"shape": "panel", "solid": "behind", "placed": [square], "filled_to": [far]}
    faces = mesh.border(solid, 0)
    area = np.linalg.norm(np.cross(faces[:, 1] - faces[:, 0], faces[:, 2] - faces[:, 0]), axis=-1).sum() / 2
    slope = 2 * np.hypot(2, 2) * 10  # of the wall between the two prisms, once of each
    assert len(faces) == 16
    assert area == pytest.approx(2 * 4 + 4 * 2 * 10 + slope)
    assert kinds(_misses("panel, tire", [-30.0], [-10.0], solid=True)) == []  # type: ignore[arg-type]
    assert kinds(_misses("panel, tire", [-5.0], [-10.0], solid=True)) == ["silent OK"]  # type: ignore[arg-type]


def test_what_touches_exactly_may_have_either_verdict() -> None:
    """A panel against a sidewall to the last bit: mirrored, the clearance of 0 is written with the other sign."""
    entry = {"obstacle": "panel", "part": "tire", "clearance_mm": 0.0, "worst_case_mm": -4.6, "margin_mm": -5.0}
    one, other = ({"verdict": verdict, "clearances": [entry]} for verdict in ("tight", "touches"))
    assert _the_same(one, other) == []
    one, other = (answer | {"clearances": [entry | {"clearance_mm": 0.2}]} for answer in (one, other))
    assert kinds(_the_same(one, other)) == ["wrong answer"]


def test_a_moment_of_the_whole_attack_finds_nothing(tmp_path: Path) -> None:
    """Inputs are tried, in a process of its own; then two faults are injected at an output."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.attack", "--minutes", "0.05", "--keep", str(tmp_path)], capture_output=True,
        text=True, check=False, cwd=Path(__file__).parents[1],
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, ""), done.stdout
    assert int(re.search(r"^inputs tried +(\d+)", done.stdout, re.MULTILINE)[1]) > 0  # type: ignore[index]
    counts, injection = Counts(), Injection(1, tmp_path)
    for fault in (full_stdout, read_only):
        assert injection.one("order.txt", fault, 1, counts) == []
    assert sum(counts.tried.values()) + len(injection.skipped) == 2
    assert list(tmp_path.iterdir()) == []


# ---------------------------------------------------------------- faults that it found, mended


@pytest.mark.parametrize(
    ("error", "words"),
    [
        (MemoryError(), "Error: there is too little memory here."),
        (ImportError("libz.so: failed to map segment from shared object"), "Error: there is too little memory here."),
        (OSError(12, "Cannot allocate memory"), "Error: there is too little memory here."),
        (SystemError("error return without exception set"), "Error: there is too little memory here."),
        (OSError(24, "Too many open files", "utf_32_be.py"), "Error: too few files may be open at once here"),
    ],
)
def test_what_the_machine_lacks_is_one_line_and_no_fault_of_the_program(
    error: Exception, words: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Found by RLIMIT_AS and RLIMIT_NOFILE at each output: exit 70 and "a fault of fitment itself"."""
    import fitment.cli
    from fitment import __main__, interrupts

    def fails(**_: object) -> None:
        raise error

    monkeypatch.setattr(fitment.cli, "cli", fails)
    for name in ("listen", "ignore"):
        monkeypatch.setattr(interrupts, name, lambda: None)
    monkeypatch.setattr(sys, "unraisablehook", sys.unraisablehook)  # put back afterwards
    with pytest.raises(SystemExit) as end:
        __main__.main()
    assert end.value.code == 2
    said = capsys.readouterr().err
    assert said.startswith(words)
    assert said.count("\n") == 1


def test_a_picture_that_has_no_memory_for_its_colours_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    from PIL import Image

    from fitment.draw.files import with_palette

    def fails(*_: object, **__: object) -> None:
        raise ValueError("quantization error")  # what Pillow says where it can have no more memory

    monkeypatch.setattr(Image.Image, "quantize", fails)
    with pytest.raises(MemoryError):
        with_palette(np.zeros((4, 4, 4), dtype=np.uint8), 8)


def test_fonts_that_are_gone_are_named(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Found by hiding them: FileNotFoundError out of every picture."""
    import matplotlib

    from fitment.draw.style import _font_file
    from fitment.errors import FitmentError

    monkeypatch.setattr(matplotlib, "get_data_path", lambda: str(tmp_path))
    with pytest.raises(FitmentError, match=r"DejaVuSans\.ttf is gone.*install matplotlib again"):
        _font_file(False)


def test_a_region_where_travel_is_a_millionth_of_a_millimetre_has_ends(tmp_path: Path) -> None:
    """Found by odd geometry: the ends of the region in which a part falls short were the mean of nothing.

    A post through the tire touches it in every pose there is: travel -1e-6 to 0, both locks.
    """
    data = steered(travel={"droop": -1e-6, "bump": 0}, ride_heights=None)
    del data["builds"]["lowered"]
    data["builds"]["measured"]["front"]["ride"] = 0
    data["axles"]["front"]["obstacles"] = [
        {"name": "post", "shape": "edge", "points": [[0.0, 964.3, 0.0], [0.0, 503.7, 0.0]], "tolerance": 0}
    ]
    found = fitment.check(write_profile(tmp_path, data), "front")
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert "nan" not in found.text
        json.dumps(found.data, allow_nan=False)
    assert found.verdict == "touches"
