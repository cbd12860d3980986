"""Screening a list: every row comes back as it was, with the verdict that `check` gives, ranked."""

from __future__ import annotations

import csv
import json
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from conftest import STRAIGHT, bench_setup, least, run, run_json, vehicle, write_profile

import fitment
from fitment.checks.fit import VERDICTS
from fitment.screening.candidates import read_candidates
from fitment.terminal import laid_out

ADDED = [
    "verdict", "rank", "clearance_mm", "worst_case_mm", "limited_by", "travel_mm", "steer_deg",
    "offset_min_mm", "offset_max_mm", "reason", "margin_mm", "part", "gap_mm",
]  # fmt: skip
BUNDLED = Path(__file__).parent.parent / "profiles"
WHEEL, TIRE = "17x8 ET0 5x114.3 CB67.1", "225/45R17 94W XL"
RIB = 8  # [mm] permitted for rim protectors beyond 4 % of the width, all of them on one side; UN R30, from memory


@pytest.fixture
def bench(tmp_path: Path) -> str:
    return write_profile(tmp_path, vehicle())


def listed(folder: Path, content: str | bytes) -> str:
    path = folder / "list.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return str(path)


def screened(profile: str, candidates: str, *options: str) -> list[dict[str, str]]:
    """Rows of the CSV that `screen` prints."""
    result = run("screen", profile, candidates, "--format", "csv", *options)
    assert result.exit_code in (0, 3), result.output
    lines = result.stdout.splitlines()
    return list(csv.DictReader(lines, delimiter=max(",;\t", key=lines[0].count)))


# ---------------------------------------------------------------- the same verdict as check


@pytest.mark.slow
@pytest.mark.parametrize("start", [0, 10])
@pytest.mark.parametrize(("vehicle_name", "build"), [("wagon", "wanted"), ("pickup", "swapped")])
def test_same_answer_as_check(vehicle_name: str, build: str, start: int, tmp_path: Path) -> None:
    """A sample of both bundled lists on the front axle: verdict, clearance, worst case and what limits it.

    Every twentieth row from two starts: a row takes a second, both lists hold 117.
    """
    with (BUNDLED / f"{vehicle_name}_wheels.csv").open() as stream:
        rows = list(csv.DictReader(stream))[start::20]
    names = list(rows[0])
    path = listed(tmp_path, "\n".join([",".join(names), *(",".join(row.values()) for row in rows)]) + "\n")
    found = {row["name"]: row for row in screened(vehicle_name, path, "--axle", "front", "--build", build)}
    assert len(found) == len(rows) >= 2
    for row in rows:
        options = ["--axle", "front", "--build", build, "--wheel", row["wheel"], "--tire", row["tire"]]
        for name in ("spacer", "ride"):
            options += [f"--{name}", row[name]] if row.get(name) else []
        screen = found[row["name"]]
        checked = run("check", vehicle_name, *options, "--format", "json")
        if checked.exit_code == 2:  # a tire that is not for the rim
            assert screen["verdict"] == "does_not_bolt_on"
            assert "rim" in screen["reason"]
            continue
        answer = json.loads(checked.stdout)
        assert screen["verdict"] == answer["verdict"], row
        if screen["clearance_mm"] == "":  # settled without geometry
            assert screen["reason"].startswith(("bolt circle: ", "centre bore: "))
            continue
        entries = answer["clearances"]
        assert float(screen["clearance_mm"]) == pytest.approx(min(e["clearance_mm"] for e in entries), abs=6e-4)
        assert float(screen["worst_case_mm"]) == pytest.approx(min(e["worst_case_mm"] for e in entries), abs=6e-4)
        assert screen["limited_by"] == answer["worst"]["obstacle"]
        assert float(screen["travel_mm"]) == pytest.approx(answer["worst"]["travel_mm"], abs=6e-4)
        assert float(screen["steer_deg"]) == pytest.approx(answer["worst"]["steer_deg"], abs=6e-4)


def test_both_axles_decide_together(tmp_path: Path) -> None:
    """Without --axle a candidate must suit every axle; what limits it names the axle."""
    data = vehicle()
    data["axles"]["rear"] = json.loads(json.dumps(data["axles"]["front"]))
    data["axles"]["rear"]["hub_face_width"] = 1506  # each hub face 3 mm further out, so 3 mm less to the post
    for build in data["builds"].values():
        build["rear"] = build["front"]
    profile = write_profile(tmp_path, data)
    row = screened(profile, listed(tmp_path, f"wheel,tire\n{WHEEL},{TIRE}\n"))[0]
    front, rear = (
        run_json("check", profile, "--axle", axle, "--wheel", WHEEL, "--tire", TIRE) for axle in data["axles"]
    )
    assert least(rear, "post") == pytest.approx(least(front, "post") - 3)
    assert float(row["clearance_mm"]) == pytest.approx(least(rear, "post"), abs=6e-4)
    assert row["limited_by"] == "rear: post"


def test_named_ride_and_spacer_of_a_row(bench: str, tmp_path: Path) -> None:
    table = f"wheel,tire,spacer,ride\n{WHEEL},{TIRE},,\n{WHEEL},{TIRE},1/4 in,low\n{WHEEL},{TIRE},10,50\n"
    rows = {row["spacer"]: row for row in screened(bench, listed(tmp_path, table))}
    plain = float(rows[""]["clearance_mm"])
    assert float(rows["1/4 in"]["clearance_mm"]) == pytest.approx(plain - 6.35, abs=2e-3)
    assert float(rows["10"]["clearance_mm"]) == pytest.approx(plain - 10, abs=2e-3)
    # a post that stands as far at every travel is told at the row's own ride height
    assert [float(rows[spacer]["travel_mm"]) for spacer in ("", "1/4 in", "10")] == [0, 30, 50]


@pytest.mark.parametrize("count", [2, 8])
def test_parts_beyond_any_wheel_are_clear(count: int, tmp_path: Path) -> None:
    """A ball 1.5 m out: `check` clears it, and so does a list of any length."""
    profile = write_profile(tmp_path, vehicle(obstacles=[{"name": "far", "shape": "ball", "at": [0, 1500, 0]}]))
    assert run_json("check", profile, "--axle", "front", "--wheel", WHEEL, "--tire", TIRE)["verdict"] == "clears"
    rows = screened(profile, listed(tmp_path, "wheel,tire\n" + f"{WHEEL},{TIRE}\n" * count))
    assert [row["verdict"] for row in rows] == ["clears"] * count
    assert "not checked: " in rows[0]["reason"], "what a row that clears leaves open"


# ---------------------------------------------------------------- every row comes back, as it was


def test_columns_are_kept_untouched_and_clashes_get_a_suffix(bench: str, tmp_path: Path) -> None:
    table = (
        "verdict,shop, link ,wheel,tire,rank,rank_fitment,price\n"
        f'mine,"Smith, ""B"" & co",http://x/?a=1&b=2,{WHEEL},{TIRE},9,8, 1.50 \n'
    )
    path = listed(tmp_path, table)
    lines = list(csv.reader(run("screen", bench, path, "--format", "csv").stdout.splitlines()))
    names = {"verdict": "verdict_fitment", "rank": "rank_fitment_fitment"}
    own = ["verdict", "shop", "link", "wheel", "tire", "rank", "rank_fitment", "price"]
    assert lines[0] == own + [names.get(name, name) for name in ADDED]
    assert lines[1][:8] == ["mine", 'Smith, "B" & co', "http://x/?a=1&b=2", WHEEL, TIRE, "9", "8", " 1.50 "]
    assert lines[1][8:10] == ["clears", "1"]
    found = run_json("screen", bench, path)[0]
    assert found["verdict"] == "mine"
    assert found["verdict_fitment"] == "clears"
    assert found["rank_fitment_fitment"] == 1


def test_columns_without_a_name_are_kept(bench: str, tmp_path: Path) -> None:
    """A spreadsheet's empty headings: what stands under each of them stays where it was."""
    path = listed(tmp_path, f"wheel,tire,,,\n{WHEEL},{TIRE},a,b,c\n")
    lines = list(csv.reader(run("screen", bench, path, "--format", "csv").stdout.splitlines()))
    assert lines[0][:6] == ["wheel", "tire", "", "", "", "verdict"]
    assert lines[1][:6] == [WHEEL, TIRE, "a", "b", "c", "clears"]
    assert set("abc") <= {value for value in run_json("screen", bench, path)[0].values() if isinstance(value, str)}


BROKEN = f"""name,wheel,tire,spacer,ride
good,{WHEEL},{TIRE},,
no wheel,,{TIRE},,
no tire,{WHEEL},,,
no offset,17x8,{TIRE},,
no tire code,{WHEEL},round,,
no spacer,{WHEEL},{TIRE},thick,
spacer too thick,{WHEEL},{TIRE},900,
no ride,{WHEEL},{TIRE},,high
too few
too many,{WHEEL},{TIRE},,,surplus

other rim,18x8 ET0,{TIRE},,
touches,17x8 ET-40 5x114.3 CB67.1,{TIRE},,
"""


def test_unreadable_rows_come_back_with_line_and_reason(bench: str, tmp_path: Path) -> None:
    result = run("screen", bench, listed(tmp_path, BROKEN), "--format", "csv")
    assert result.exit_code == 3
    assert result.stderr == f"note: {STRAIGHT}"
    rows = list(csv.DictReader(result.stdout.splitlines()))
    assert [row["name"] for row in rows] == [
        "good", "touches", "other rim",
        "no wheel", "no tire", "no offset", "no tire code", "no spacer", "spacer too thick", "no ride", "too few",
        "too many",
    ]  # fmt: skip
    words = {
        "no wheel": (3, "the wheel is missing"),
        "no tire": (4, "the tire is missing"),
        "no offset": (5, "the offset is missing"),
        "no tire code": (6, "round"),
        "no spacer": (7, '"thick"'),
        "spacer too thick": (8, "0 to 150 mm"),
        "no ride": (9, 'is not a ride height.*level, low'),
        "too few": (10, "1 fields under 5 columns"),
        "too many": (11, "6 fields under 5 columns.*surplus"),
    }  # fmt: skip
    for row in rows[3:]:
        line, expected = words[row["name"]]
        assert row["verdict"] == "unreadable"
        assert row["rank"] == row["clearance_mm"] == row["limited_by"] == ""
        assert row["reason"].startswith(f"line {line}: ")
        assert re.search(expected, row["reason"]), row["reason"]


def test_a_tire_not_for_the_rim_does_not_bolt_on_and_says_so(bench: str, tmp_path: Path) -> None:
    rows = screened(bench, listed(tmp_path, f"wheel,tire\n18x8 ET0 5x114.3 CB67.1,{TIRE}\n"))
    assert rows[0]["verdict"] == "does_not_bolt_on"
    assert "17 in rim" in rows[0]["reason"]
    assert "18 in" in rows[0]["reason"]
    assert rows[0]["rank"] == "1"


def test_reasons(tmp_path: Path) -> None:
    """Each verdict says why, with the numbers of the bench vehicle (conftest.py)."""
    table = (
        "name,wheel,tire\n"
        f"clears,{WHEEL},{TIRE}\n"
        f"touches,17x8 ET-35 5x114.3 CB67.1,{TIRE}\n"
        f"short,17x8 ET-22 5x114.3 CB67.1,{TIRE}\n"
        f"worst,17x8 ET-12 5x114.3 CB67.1,{TIRE}\n"
        f"circle,17x8 ET0 5x115 CB67.1,{TIRE}\n"
    )
    data = vehicle()
    bench_tire = bench_setup(data)["tire"]
    assert bench_tire["section_width"] == 230
    # in a list the tire is a code alone: 225/45R17 on an 8 in rim by UN R30 6.1.1 (formula read, share from memory):
    # 225 + 0.4 (203.2 - 0.85 x 225)
    half = (225 + 0.4 * (8 * 25.4 - 0.85 * 225)) / 2
    gap = 890 - 750 - half
    data["axles"]["front"]["obstacles"][0]["tolerance"] = 10
    rows = {row["name"]: row for row in screened(write_profile(tmp_path, data), listed(tmp_path, table))}
    assert {name: row["verdict"] for name, row in rows.items()} == {
        "clears": "clears", "worst": "tight", "short": "tight", "touches": "touches", "circle": "does_not_bolt_on"
    }  # fmt: skip
    # a row that clears says what is still open: the bench vehicle has no rotor, pad, nuts, caliper or top speed
    left_open = "rotor register, studs, nuts, caliper in the wheel, wheel load, speed symbol"
    assert rows["clears"]["reason"] == f"not checked: {left_open}"
    assert rows["touches"]["reason"] == f"tire overlaps post by {35 - gap:.1f} mm"
    assert rows["short"]["reason"] == f"{gap - 22:.1f} mm from tire to post, 5 mm required"
    assert rows["worst"]["reason"] == f"worst case {gap - 12 - 0.04 * half - RIB - 10:.1f} mm from tire to post"
    assert rows["circle"]["reason"].startswith("bolt circle: ")


# ---------------------------------------------------------------- ranking


def test_ranking(tmp_path: Path) -> None:
    """By verdict, then by the smallest margin, best first; equals in the list's order; unreadable rows last."""
    offsets = [-40, -22, -5, 0, 10, 25, -35, 0, 60]
    rows = [f"{i},17x8 ET{et} 5x114.3 CB67.1,{TIRE}" for i, et in enumerate(offsets)]
    rows += [f"{len(rows)},17x8 ET0 5x115 CB67.1,{TIRE}", "99,bad,bad", f"{len(rows) + 1},17x8 ET5 5x115 CB67.1,{TIRE}"]
    profile = write_profile(tmp_path, vehicle())
    found = screened(profile, listed(tmp_path, "name,wheel,tire\n" + "\n".join(rows) + "\n"))
    assert [row["rank"] for row in found] == [str(i) for i in range(1, len(found))] + [""]
    assert found[-1]["name"] == "99"
    order = [VERDICTS.index(row["verdict"]) for row in found[:-1]]  # type: ignore[arg-type]
    assert order == sorted(order)
    margins: dict[str, list[float]] = {}
    for row in found[:-1]:
        if not row["clearance_mm"]:  # its circle settled it without geometry: in the list's order
            continue
        answer = run_json("check", profile, "--axle", "front", "--wheel", row["wheel"], "--tire", row["tire"])
        margins.setdefault(row["verdict"], []).append(answer["worst"]["margin_mm"])
    for values in margins.values():
        assert values == sorted(values, reverse=True)
    assert {"clears", "tight", "touches"} == set(margins)
    assert [row["name"] for row in found if row["verdict"] == "does_not_bolt_on"] == ["9", "10"]
    twins = [row["name"] for row in found if row["wheel"].startswith("17x8 ET0 5x114.3")]
    assert twins == ["3", "7"]


# ---------------------------------------------------------------- files as the world writes them

FORMS: dict[str, bytes] = {
    "comma": f"name,wheel,tire\nA,{WHEEL},{TIRE}\n".encode(),
    "semicolon": f"name;wheel;tire\nA;{WHEEL};{TIRE}\n".encode(),
    "semicolon with commas in the heading": f"name, its;wheel;tire\nA;{WHEEL};{TIRE}\n".encode(),
    "tab": f"name\twheel\ttire\nA\t{WHEEL}\t{TIRE}\n".encode(),
    "byte order mark": b"\xef\xbb\xbf" + f"wheel,tire,name\n{WHEEL},{TIRE},A\n".encode(),
    "CRLF": f"name,wheel,tire\r\nA,{WHEEL},{TIRE}\r\n".encode(),
    "no last line end": f"name,wheel,tire\nA,{WHEEL},{TIRE}".encode(),
    "quoted": f'"name","wheel","tire"\n"A","{WHEEL}","{TIRE}"\n'.encode(),
    "spaces round the names": f"name , wheel , tire \nA, {WHEEL} , {TIRE} \n".encode(),
    "blank lines": f"name,wheel,tire\n\n,,\nA,{WHEEL},{TIRE}\n\n".encode(),
}


@pytest.mark.slow
@pytest.mark.parametrize("content", FORMS.values(), ids=FORMS.keys())
def test_list_forms(bench: str, tmp_path: Path, content: bytes) -> None:
    rows = screened(bench, listed(tmp_path, content))
    assert [(row["verdict"], row["rank"]) for row in rows] == [("clears", "1")]
    assert "A" in rows[0].values()


def test_a_quoted_field_may_hold_lines(bench: str, tmp_path: Path) -> None:
    """Line numbers are those of the file, not of the rows."""
    rows = screened(bench, listed(tmp_path, f'note,wheel,tire\n"two\nlines",{WHEEL},{TIRE}\nnext,bad,{TIRE}\n'))
    assert rows[0]["note"] in ("two\nlines", "twolines")
    assert rows[1]["reason"].startswith("line 4: ")


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (b'"A" x,17x8 ET0,225/45R17\n', "line 3: not a CSV row"),
        (b"A,\x00,225/45R17\n", "line 3: "),
        (b"A," + b"9" * 20_000 + b",225/45R17\n", "line 3: not a CSV row"),
    ],
    ids=["text behind a quote", "a zero byte", "a field without end"],
)
def test_a_broken_line_does_not_end_the_list(bench: str, tmp_path: Path, line: bytes, words: str) -> None:
    good = f"G,{WHEEL},{TIRE}\n".encode()
    result = run("screen", bench, listed(tmp_path, b"name,wheel,tire\n" + good + line + good), "--format", "csv")
    assert result.exit_code == 3
    rows = list(csv.DictReader(result.stdout.splitlines()))
    assert [row["verdict"] for row in rows] == ["clears", "clears", "unreadable"]
    assert rows[2]["reason"].startswith(words)


ROWS = [
    f"A,{WHEEL},{TIRE},x",
    f'B,"{WHEEL},{TIRE},x',  # in the wheel
    f'C,{WHEEL},{TIRE},"two\nlines"',
    f'D,{WHEEL},{TIRE},"x',  # in a note; the next line ends with a mark and so closes it
    f'E,{WHEEL},{TIRE},7"',
    f'F",{WHEEL},{TIRE},x',
    f'G,{WHEEL},{TIRE},"x',  # to the end of the file
    f"H,{WHEEL},{TIRE},x",
]


@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_an_open_quote_takes_no_other_row_with_it(bench: str, tmp_path: Path, end: str) -> None:
    path = listed(tmp_path, end.join(["name,wheel,tire,note", *ROWS, ""]))
    result = run("screen", bench, path, "--format", "json")
    rows = json.loads(result.stdout)
    assert result.exit_code == 3
    assert [row["name"] for row in rows if row["verdict"] == "clears"] == ["A", "C", "E", 'F"', "H"]
    broken = [row["reason"] for row in rows if row["verdict"] == "unreadable"]
    assert [reason.split(":")[0] for reason in broken] == ["line 3", "line 6", "line 9"]
    assert all("quotation mark" in reason for reason in broken)


def test_bytes_that_are_no_text_make_one_row_unreadable(bench: str, tmp_path: Path) -> None:
    """A shop's umlaut in an old encoding: its row says so with its line, the others are read."""
    good = f"G,{WHEEL},{TIRE}\n".encode()
    content = b"name,wheel,tire\n" + good + f"M\xfcller,{WHEEL},{TIRE}\n".encode("latin-1") + good
    result = run("screen", bench, listed(tmp_path, content), "--format", "csv")
    assert result.exit_code == 3
    rows = list(csv.DictReader(result.stdout.splitlines()))
    assert [row["verdict"] for row in rows] == ["clears", "clears", "unreadable"]
    assert rows[2]["reason"] == "line 3: not UTF-8 text; save the list as CSV with UTF-8 text"
    assert rows[2]["name"] == "M\ufffdller"


def test_an_empty_list_has_no_rows(bench: str, tmp_path: Path) -> None:
    path = listed(tmp_path, "wheel,tire\n")
    assert run("screen", bench, path, "--format", "csv").stdout.splitlines() == [",".join(["wheel", "tire", *ADDED])]
    assert run_json("screen", bench, path) == []
    assert run("screen", bench, path, "--format", "text").stdout.startswith(f"  {STRAIGHT}0 candidates")


# ---------------------------------------------------------------- streaming, output


def test_rows_are_read_as_they_are_asked_for(tmp_path: Path) -> None:
    """The list may be longer than memory: nothing beyond the row asked for needs to be there yet."""
    read, write = os.pipe()
    os.write(write, b"wheel,tire\n" + b"x,y\n" * 3000)
    _, rows, _ = read_candidates(f"/dev/fd/{read}")
    assert next(rows).line == 2
    assert next(rows).line == 3
    os.write(write, b"last,one\n")
    os.close(write)
    *_, last = rows
    os.close(read)
    assert last.line == 3002
    assert last.fields["wheel"] == "last"


def test_a_long_list_of_unreadable_rows(bench: str, tmp_path: Path) -> None:
    path = listed(tmp_path, "id,wheel,tire\n" + "".join(f"{i},17x8,{TIRE}\n" for i in range(2000)))
    rows = screened(bench, path)
    assert [row["id"] for row in rows] == [str(i) for i in range(2000)]
    assert [row["reason"].split(":")[0] for row in rows] == [f"line {i + 2}" for i in range(2000)]


def test_list_from_a_pipe(bench: str) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "fitment", "screen", bench, "/dev/stdin"], input=f"wheel,tire\n{WHEEL},{TIRE}\n",
        capture_output=True, text=True, check=False, env={**os.environ, "PYTHONPATH": str(BUNDLED.parent)},
    )  # fmt: skip
    assert done.stderr == f"note: {STRAIGHT}"
    assert done.returncode == 0
    assert done.stdout.splitlines()[1].startswith(f"{WHEEL},{TIRE},clears,1,")


def test_out_and_format(bench: str, tmp_path: Path) -> None:
    path = listed(tmp_path, BROKEN)
    as_csv, as_json = tmp_path / "ranked.csv", tmp_path / "ranked.json"
    result = run("screen", bench, path, "--out", str(as_csv))
    assert result.exit_code == 3
    assert result.stderr == f"wrote {as_csv}\n"
    assert as_csv.read_text() == run("screen", bench, path, "--format", "csv").stdout
    run("screen", bench, path, "--out", str(as_json))
    assert json.loads(as_json.read_text()) == json.loads(run("screen", bench, path, "--format", "json").stdout)
    # with a file the terminal gets the summary
    text = result.stdout.removeprefix(f"  {STRAIGHT}").splitlines()
    counts = "12 candidates for front, build measured: 1 clears, 1 touches, 1 does not bolt on, 9 unreadable."
    assert " ".join(map(str.strip, text[:2])) == f"{counts} 12 of 12 shown, by verdict, then margin, largest first."
    assert sum("line " in line for line in text) >= 9


def test_text_shows_only_offsets_that_fit(bench: str, tmp_path: Path) -> None:
    """Whole millimetres rounded inwards: an offset read off the table keeps every allowance."""
    row: dict[str, Any] = screened(bench, listed(tmp_path, f"wheel,tire\n{WHEEL},{TIRE}\n"))[0]
    text = run("screen", bench, str(tmp_path / "list.csv"), "--format", "text").stdout
    first, last = [float(word) for word in re.findall(r"\bET(-?\d+)", text)][-2:]
    assert float(row["offset_min_mm"]) <= first < float(row["offset_min_mm"]) + 1
    assert float(row["offset_max_mm"]) - 1 < last <= float(row["offset_max_mm"])


# ---------------------------------------------------------------- sorting, picking, grouping

PRICED = f"""name,wheel,tire,price,make
a,17x8 ET0 5x114.3 CB67.1,{TIRE},300,north
b,17x8 ET5 5x114.3 CB67.1,{TIRE},100,south
c,17x8 ET-22 5x114.3 CB67.1,{TIRE},50,north
d,17x8 ET2 5x114.3 CB67.1,{TIRE},,south
"""


@pytest.mark.slow
def test_sort_by_a_column_within_a_verdict(bench: str, tmp_path: Path) -> None:
    """Prices as numbers, cheapest first; what clears stays before what does not; no price comes behind."""
    path = listed(tmp_path, PRICED)
    assert [row["name"] for row in screened(bench, path, "--sort", "price")] == ["b", "a", "d", "c"]
    assert [row["name"] for row in screened(bench, path, "--sort", "-price")] == ["a", "b", "d", "c"]
    # further in leaves more: ET5, then ET2, then ET0
    assert [row["name"] for row in screened(bench, path)] == ["b", "d", "a", "c"]
    assert [row["name"] for row in screened(bench, path, "--sort", "-margin")] == ["a", "d", "b", "c"]


@pytest.mark.slow
def test_a_price_that_is_no_number_comes_behind_and_is_said(bench: str, tmp_path: Path) -> None:
    """Compared with anything nan is neither more nor less, so an order by it is any order."""
    prices = {"a": "100", "b": "nan", "c": "90", "d": "1e400", "e": "on request", "f": "95", "g": "", "h": "-inf"}
    path = listed(tmp_path, "name,wheel,tire,price\n" + "".join(f"{n},{WHEEL},{TIRE},{p}\n" for n, p in prices.items()))
    for sort, order in (("price", ["c", "f", "a"]), ("-price", ["a", "f", "c"])):
        result = run("screen", bench, path, "--format", "json", f"--sort={sort}")
        assert [row["name"] for row in json.loads(result.stdout)][:3] == order
        assert '--sort price: no number in line 3 ("nan") and 3 more' in result.stderr
    assert "no number" not in run("screen", bench, path, "--format", "json", "--sort", "name").stderr


def test_only_some_verdicts(bench: str, tmp_path: Path) -> None:
    path = listed(tmp_path, PRICED)
    assert [row["name"] for row in screened(bench, path, "--only", "tight")] == ["c"]
    text = run("screen", bench, path, "--only", "tight", "--format", "text").stdout
    assert "3 of 4 rows are of another verdict and left out." in text


def test_groups(bench: str, tmp_path: Path) -> None:
    path = listed(tmp_path, PRICED)
    text = run("screen", bench, path, "--group-by", "make", "--format", "text").stdout
    assert "make south: 2 of 2 clear" in text
    assert "make north: 1 of 2 clear" in text
    assert [row["name"] for row in screened(bench, path, "--group-by", "make")] == ["b", "d", "a", "c"]


# ---------------------------------------------------------------- how many are shown


def names(text: str) -> list[str]:
    """The second cell of each ranked row of a text."""
    return [line.split()[1] for line in text.splitlines() if re.match(r"  \d+ +\S", line)]


def test_a_limit_leaves_the_best_and_says_of_how_many(bench: str, tmp_path: Path) -> None:
    """The order without a limit is known (test_sort_by_a_column_within_a_verdict): b, d, a, then c, which is tight."""
    path = listed(tmp_path, PRICED)
    for form in ("csv", "json"):
        told = run("screen", bench, path, "--format", form, "--limit", "2").stdout
        rows = json.loads(told) if form == "json" else list(csv.DictReader(told.splitlines()))
        assert [row["name"] for row in rows] == ["b", "d"], form
    text = run("screen", bench, path, "--format", "text", "--limit", "2").stdout
    assert names(text) == ["b", "d"]
    head = "4 candidates for front, build measured: 3 clears, 1 tight. 2 of 4 shown, by verdict, then margin, largest "
    assert head in " ".join(text.split())
    for every in ("all", "ALL", "0", "1000000000"):
        assert names(run("screen", bench, path, "--format", "text", "--limit", every).stdout) == ["b", "d", "a", "c"]


def test_a_limit_comes_after_verdicts_order_and_groups(bench: str, tmp_path: Path) -> None:
    path = listed(tmp_path, PRICED)
    assert [row["name"] for row in screened(bench, path, "--limit", "1", "--only", "tight")] == ["c"]
    assert [row["name"] for row in screened(bench, path, "--limit", "2", "--sort", "-price")] == ["a", "b"]
    # the best of each make first: b of south, a of north; then the second of the better one
    assert [row["name"] for row in screened(bench, path, "--limit", "2", "--group-by", "make")] == ["b", "a"]
    assert [row["name"] for row in screened(bench, path, "--limit", "3", "--group-by", "make")] == ["b", "d", "a"]
    text = run("screen", bench, path, "--limit", "2", "--group-by", "make", "--format", "text").stdout
    assert names(text) == ["b", "a"]
    assert "make south: 2 of 2 clear" in text
    assert "2 of 4 shown" in text


def test_a_text_shows_fifteen_and_a_table_for_programs_all(bench: str, tmp_path: Path) -> None:
    path = listed(tmp_path, "name,wheel,tire\n" + "".join(f"n{i},{WHEEL},{TIRE}\n" for i in range(17)))
    text = run("screen", bench, path, "--format", "text").stdout
    assert len(names(text)) == 15
    assert "17 candidates for front, build measured: 17 clears. 15 of 17 shown" in text
    assert "--limit all shows every row." in text
    assert len(screened(bench, path)) == 17
    found = fitment.screen(bench, path)
    assert (len(found.rows), len(found.data)) == (17, 17)
    assert "15 of 17 shown" in found.text
    assert "17 of 17 shown" in fitment.screen(bench, path, limit="all").text
    few = fitment.screen(bench, path, limit=3)
    assert (len(few.rows), len(few.data), len(few.csv.splitlines())) == (3, 3, 4)
    assert "3 of 17 shown" in few.text


@pytest.mark.parametrize("limit", ["-1", "x", "1e9", "2.5", ""])
def test_a_limit_that_is_no_number_of_rows_is_refused(limit: str, bench: str, tmp_path: Path) -> None:
    result = run("screen", bench, listed(tmp_path, PRICED), "--limit", limit)
    assert result.exit_code == 2
    assert f"--limit {limit[:40]}" in result.stderr
    assert "a whole number of rows, such as 20, or all (0)" in result.stderr
    for wrong in (True, 2.5, [3]):
        with pytest.raises(fitment.FitmentError, match="limit"):
            fitment.screen(bench, [], limit=wrong)  # type: ignore[arg-type]


def test_the_margin_that_ranks_stands_in_a_column(bench: str, tmp_path: Path) -> None:
    """By hand: the post is 140 outboard of the hub face, the tire's side half its width less ET; 5 are required."""
    path = listed(tmp_path, PRICED)
    half = run_json("tire", TIRE, "--rim", "8")[0]["section_width_mm"] / 2
    by_hand = [140 - (half - et) - 5 for et in (5, 2, 0, -22)]
    assert [float(row["margin_mm"]) for row in screened(bench, path)] == pytest.approx(by_hand, abs=0.02)
    head, *lines = run("screen", bench, path, "--format", "text").stdout.split("\n\n")[1].splitlines()
    end = head.index("margin") + len("margin")
    assert [float(line[:end].split()[-2]) for line in lines] == pytest.approx(by_hand, abs=0.07)
    by_worst = run("screen", bench, path, "--format", "text", "--sort", "worst").stdout
    assert "then worst case, largest first" in " ".join(by_worst.split())


@pytest.mark.parametrize("columns", [60, 70, 78, 80, 100, 120, 160, 200])
def test_rows_are_read_at_any_width(columns: int, bench: str, tmp_path: Path) -> None:
    """No line is longer than the terminal, and rank, name, verdict, margin and limit of each row stand there."""
    found = fitment.screen(bench, listed(tmp_path, PRICED))
    with laid_out(columns):
        text = found.text
    assert max(map(len, text.splitlines())) <= columns
    assert names(text) == ["b", "d", "a", "c"]
    for word in ("verdict", "limited by", "margin", "worst case", "25.1 mm", "-1.9 mm", "post, tire", "tight"):
        assert word in text, word


@pytest.mark.parametrize(
    ("option", "words"),
    [(["--sort", "colour"], "margin, clearance, worst, offsets"), (["--only", "good"], "clears, tight"),
     (["--group-by", "colour"], "name, wheel, tire, price, make")],
)  # fmt: skip
def test_unknown_keys_are_refused(option: list[str], words: str, bench: str, tmp_path: Path) -> None:
    result = run("screen", bench, listed(tmp_path, PRICED), *option)
    assert result.exit_code == 2
    assert words in result.stderr


# ---------------------------------------------------------------- what a builder must not miss


def test_the_list_itself_is_not_overwritten(bench: str, tmp_path: Path) -> None:
    path = listed(tmp_path, f"wheel,tire\n{WHEEL},{TIRE}\n")
    before = Path(path).read_bytes()
    done = run("screen", bench, path, "--out", path)
    assert done.exit_code == 2
    assert "is the list itself; name another file" in done.output
    assert Path(path).read_bytes() == before


def test_a_table_tells_one_pair_and_why(bench: str, tmp_path: Path) -> None:
    """What limits a row stands beside its own gap, and what the table does not tell stands below it."""
    path = listed(tmp_path, f"wheel,tire,price\n{WHEEL},{TIRE},7\n17x8 ET0 5x112,{TIRE},9\n")
    text = run("screen", bench, path, "--format", "text", "--sort", "price").stdout
    worst = run_json("check", bench, "--axle", "front", "--wheel", WHEEL, "--tire", TIRE)["worst"]
    row = next(line for line in text.splitlines() if line.startswith("  1 "))
    assert f"{worst['clearance_mm']:.1f} mm" in row
    assert f"{worst['obstacle']}, {worst['part']}" in row
    assert "price" in text
    assert "2: bolt circle: the wheel has 5x112 mm" in " ".join(text.split())
    assert "At the offsets the nominal tire meets every required clearance." in text
