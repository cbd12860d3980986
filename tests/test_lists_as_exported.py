"""Lists as spreadsheets export them: headings, a wheel's figures in columns, marks between cells, numbers."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from conftest import run, vehicle, write_profile

import fitment
from fitment.errors import ListError
from fitment.screening.candidates import from_records, read_candidates
from fitment.screening.cell_numbers import looks_like_numbers, numbers

WHEEL, TIRE = "17x8 ET0 5x114.3 CB67.1", "225/45R17 94W XL"


@pytest.fixture
def bench(tmp_path: Path) -> str:
    return write_profile(tmp_path, vehicle())


def answers(bench: str, tmp_path: Path, content: str | bytes, *options: str) -> list[list[str]]:
    """The cells that `screen` prints, the heading first."""
    path = tmp_path / "list.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    done = run("screen", bench, str(path), "--format", "csv", *options)
    assert done.exit_code in (0, 3), done.output
    mark = max(",;\t", key=done.stdout.splitlines()[0].count)
    return list(csv.reader(done.stdout.splitlines(), delimiter=mark))


@pytest.mark.parametrize(
    "heading", ["Wheel,Tyre", "RIM,TIRE", "Wheel size,Tyre size", "Wheel_Size (in),Tire Size", "Size,Tyre"]
)
def test_common_headings(bench: str, tmp_path: Path, heading: str) -> None:
    head, row = answers(bench, tmp_path, f"{heading}\n{WHEEL},{TIRE}\n")
    assert head[:2] == heading.split(",")
    assert row[:3] == [WHEEL, TIRE, "clears"]


@pytest.mark.parametrize(
    ("heading", "cells"),
    [
        ("Rim;Offset;PCD;Bore;Tyre", "17x8;0;5x114,3;67,1"),
        ("Rim;ET;Bolt pattern;Centre bore (mm);Tyre", "8Jx17;ET0;5/114.3;CB67.1"),
        ("Size;Backspacing;Bolt Circle;Hub bore;Tyre", '17x8;4 1/2";5x4.5";67.1mm'),  # 4.5 in is half of 8 + 1 in
    ],
)
def test_a_wheel_in_columns_of_its_own(bench: str, tmp_path: Path, heading: str, cells: str) -> None:
    whole = answers(bench, tmp_path, f"wheel,tire\n{WHEEL},{TIRE}\n")[1]
    parts = answers(bench, tmp_path, f"{heading}\n{cells};{TIRE}\n")
    assert parts[1][:5] == [*cells.split(";"), TIRE]
    assert [cell.replace(",", ".") for cell in parts[1][5:]] == [cell.replace(",", ".") for cell in whole[2:]]


def test_what_spec_and_column_both_say_must_agree(bench: str, tmp_path: Path) -> None:
    table = f"wheel,tire,offset\n{WHEEL},{TIRE},+0 mm\n{WHEEL},{TIRE},35\n{WHEEL},{TIRE},soon\n"
    _, same, other, odd = answers(bench, tmp_path, table)
    assert same[3] == "clears"
    assert other[3] == odd[3] == "unreadable"
    assert '"0" here and "35" in a column of its own' in other[-4]
    assert '"soon" is not read as the offset' in odd[-4]


def test_a_column_is_named(bench: str, tmp_path: Path) -> None:
    table = f"Article;Mine;Wheel;Tyre\nA;{WHEEL};Model X;{TIRE}\n"
    assert answers(bench, tmp_path, table, "--column", "wheel=Mine")[1][4] == "clears"
    rows = [{"Mine": WHEEL, "Tyre": TIRE}]
    assert fitment.screen(bench, rows, column={"wheel": "Mine"}).data[0]["verdict"] == "clears"


@pytest.mark.parametrize(
    ("column", "said"),
    [
        ("wheel=Felloe", 'no column "Felloe"; it has Rim, Tyre'),
        ("colour=Rim", "write NAME=HEADER, NAME one of wheel, tire, offset"),
        ("wheel", "write NAME=HEADER"),
        ("wheel=", "write NAME=HEADER"),
    ],
)
def test_a_column_that_is_not_there_is_refused(bench: str, tmp_path: Path, column: str, said: str) -> None:
    path = tmp_path / "list.csv"
    path.write_text(f"Rim,Tyre\n{WHEEL},{TIRE}\n")
    done = run("screen", bench, str(path), "--column", column)
    assert done.exit_code == 2
    assert said in done.stderr


def test_two_headings_for_one_thing_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text(f"Rim,Wheel size,Tyre\nAcme,{WHEEL},{TIRE}\n")
    with pytest.raises(ListError, match=r'both "Rim" and "Wheel size" could be the wheel.*--column wheel='):
        read_candidates(path)
    with pytest.raises(ListError, match="there is no column tire"):
        from_records([{"Rim": WHEEL}])


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_marks_and_cells_come_back_untouched(bench: str, tmp_path: Path, mark: str, encoding: str) -> None:
    table = [["Tyre", "Rim", "Price, net"], [TIRE, WHEEL, "\u20ac 1.299,50"], [TIRE, WHEEL, "\u20ac 89,90"]]
    text = "\r\n".join(mark.join(f'"{cell}"' for cell in row) for row in table) + "\r\n"
    head, *rows = answers(bench, tmp_path, text.encode(encoding), "--sort", "Price, net")
    assert head[:3] == table[0]
    assert [row[:3] for row in rows] == [table[2], table[1]]  # cheapest first
    decimal = rows[0][head.index("clearance_mm")]
    assert ("," if mark != "," else ".") in decimal  # as the list writes its own decimals


@pytest.mark.parametrize(
    ("texts", "read"),
    [
        (["1.299,50 \u20ac", "89,90", ""], [1299.5, 89.9, None]),
        (["$1,299.00", "$89"], [1299, 89]),
        (["1 299,50", "3"], [1299.5, 3]),
        (["1299.5", "1e3", "-2"], [1299.5, 1000, -2]),
        (["USD 120", "95 usd"], [120, 95]),
        (["1,299", "2,499"], [None, None]),  # 1299 or 1.299
        (["1,299", "89.50"], [1299, 89.5]),
        (["1,299", "89,5"], [1.299, 89.5]),
        (["1.299"], [1.299]),
    ],
)
def test_numbers_of_a_column(texts: list[str], read: list[float | None]) -> None:
    assert numbers(texts) == read


def test_a_column_of_numbers_that_sorts_as_text_is_said(bench: str, tmp_path: Path) -> None:
    assert looks_like_numbers(["1,299", "2,499"]) == "1,299"
    assert looks_like_numbers(["12 kg", "9 kg"]) == "12 kg"
    assert looks_like_numbers(["W07", "W08"]) is None
    assert looks_like_numbers(["12", "9"]) is None
    path = tmp_path / "list.csv"
    path.write_text(f'wheel,tire,price\n{WHEEL},{TIRE},"1,299"\n{WHEEL},{TIRE},"999,500"\n')
    done = run("screen", bench, str(path), "--sort", "price")
    assert 'the column was sorted as text; "1,299" looks like a number' in done.stderr
