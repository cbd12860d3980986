"""Every PDF says what it is, for the reader's window and a shop's archive, and nothing of when or by what it was made.

Read back with PDFium, which is none of ours.
"""

from __future__ import annotations

from pathlib import Path

import pypdfium2
import pytest
from conftest import run, vehicle, write_profile

OUTLINE = [[-95, 120], [-95, 196], [-22, 196], [-14, 186], [-14, 120]]
NAME = "Bench vehicle (invented)"
STAMPS = ("Author", "Subject", "Keywords", "Creator", "Producer", "CreationDate", "ModDate")
PICTURE = f"{NAME}, front axle, measured"


def told(path: Path) -> dict[str, str]:
    book = pypdfium2.PdfDocument(path)
    found = book.get_metadata_dict()
    book.close()
    return dict(found)


@pytest.mark.parametrize(
    ("words", "title"),
    [
        (("check", "{}", "--axle", "front"), PICTURE),
        (("check", "{}", "--axle", "front", "--view", "closest"), PICTURE),
        (("check", "{}", "--axle", "front", "--layout", "banner"), PICTURE),
        (("check", "{}", "--axle", "front", "--layout", "tall"), PICTURE),
        (("compare", "{}", "measured", "lowered", "--axle", "front"), f"{NAME}, front axle, measured → lowered"),
        (("show", "{}", "--axle", "front"), f"{NAME}, front axle, measured, as measured at the reference pose"),
        (("window", "{}", "--axle", "front"), f"{NAME}, front axle, build measured"),
        (("order", "{}", "--axle", "front"), f"Order sheet: {NAME}, front axle, build measured"),
        (("template", "{}", "--axle", "front"), f"Brake template: {NAME}, build measured"),
        (("worksheet", "--kind", "tape"), "Measuring sheets"),
        (("worksheet", "--first"), "First look"),
    ],
)
def test_a_pdf_carries_its_title_and_no_date(words: tuple[str, ...], title: str, tmp_path: Path) -> None:
    path = write_profile(tmp_path, vehicle(brake={"caliper": {"outline": OUTLINE}}))
    done = run(*(word.format(path) for word in words), "--out", str(tmp_path / "a.pdf"))
    assert done.exit_code in (0, 1), done.output
    about = told(tmp_path / "a.pdf")
    assert about["Title"].startswith(title)
    assert [about.get(key, "") for key in STAMPS] == [""] * len(STAMPS)


def test_a_title_keeps_letters_that_the_picture_has_no_type_for(tmp_path: Path) -> None:
    data = vehicle()
    data["name"] = "Überland (車) \\ $x^2$ " + "W" * 60
    path = write_profile(tmp_path, data)
    assert run("check", path, "--axle", "front", "--layout", "tall", "--out", str(tmp_path / "a.pdf")).exit_code == 0
    title = told(tmp_path / "a.pdf")["Title"]
    assert title == "Überland (車) \\ $x^2$ " + "W" * 60 + ", front axle, measured"
