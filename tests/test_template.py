"""The brake template: printed to PDF, rasterised at a known resolution, measured on the picture.

Only the raster and the profile's numbers are used: the check bars, the caliper's outline against the hub face, and the
axis. A pixel at 600 per inch is 0.042 mm; what is measured must be true to 0.2 mm.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pytest
import shapely
from conftest import bench_setup, run, vehicle, write_profile
from numpy.typing import NDArray

from fitment.draw.printed.brake_template import CALIPER, CALIPER_FILL, GAP, STROKE, BrakeOutlines

pytestmark = pytest.mark.slow

DPI = 600
MM = 25.4 / DPI  # [mm] of a pixel
TRUE = 0.2  # [mm]
OUTLINE = [[-95, 120], [-95, 196], [-22, 196], [-14, 186], [-14, 120]]
PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}  # [mm] ISO 216; 8.5 x 11 in
Picture = NDArray[np.int16]


def braked(outline: Any = OUTLINE, **more: Any) -> dict[str, Any]:
    return vehicle(brake={"caliper": {"outline": outline, "clock": [60, 130]}} | more)


def printed(folder: Path, data: dict[str, Any], *options: str) -> Path:
    out = folder / "template.pdf"
    result = run("template", write_profile(folder, data), "--out", str(out), *options)
    assert result.exit_code == 0, result.stderr
    return out


def pictures(path: Path) -> list[Picture]:
    """Every page as pixels (rows, columns, 3)."""
    book = pypdfium2.PdfDocument(path)
    found = [np.asarray(page.render(scale=DPI / 72).to_pil().convert("RGB")).astype(np.int16) for page in book]
    book.close()
    return found


def texts(path: Path) -> list[str]:
    book = pypdfium2.PdfDocument(path)
    found = []
    for page in book:
        text_page = page.get_textpage()
        found.append(" ".join(text_page.get_text_range().split()))
        text_page.close()
        page.close()
    book.close()
    return found


def of_colour(picture: Picture, colour: str) -> NDArray[np.bool_]:
    wanted = [int(colour[i : i + 2], 16) for i in (1, 3, 5)]
    return np.abs(picture - wanted).max(axis=2) < 6


def dark(picture: Picture) -> NDArray[np.bool_]:
    return picture.max(axis=2) < 110


def runs(mask: NDArray[np.bool_], least: float) -> list[tuple[int, float]]:
    """(row, length [mm]) of the longest unbroken run of each row that has one of at least so many mm."""
    found = []
    for row in np.flatnonzero(mask.sum(axis=1) * MM >= least):
        edges = np.flatnonzero(np.diff(np.concatenate([[0], mask[row].astype(np.int8), [0]])))
        length = float((edges[1::2] - edges[::2]).max()) * MM
        if length >= least:
            found.append((int(row), length))
    return found


def bars(mask: NDArray[np.bool_]) -> list[float]:
    """Length [mm] of every bar that runs along the rows, from the middle of its first tick to that of its last."""
    rows = [row for row, length in runs(mask, 95) if length < 110]
    found = []
    for row in (row for row in rows if row - 1 not in rows):
        ends = mask[row - round(2.0 / MM)]  # the ticks at the ends are 2.5 mm high, those between 1.4 mm
        columns = np.flatnonzero(ends & mask[row + 1])
        left, right = (columns[np.abs(columns - end) * MM < 1.0] for end in (columns[0], columns[-1]))
        found.append(float(right.mean() - left.mean()) * MM)
    return found


def extent(mask: NDArray[np.bool_]) -> tuple[float, float, float, float]:
    """Left, right, upper and lower end [mm], from the picture's upper left corner."""
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    return columns[0] * MM, (columns[-1] + 1) * MM, rows[0] * MM, (rows[-1] + 1) * MM


# ---------------------------------------------------------------- true to scale


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_true_to_scale(tmp_path: Path, paper: str) -> None:
    (picture,) = pictures(printed(tmp_path, braked(), "--paper", paper))
    assert (picture.shape[1] * MM, picture.shape[0] * MM) == pytest.approx(PAPERS[paper], abs=2 * MM)

    assert bars(dark(picture)) == pytest.approx([100.0, 101.6], abs=TRUE)
    assert bars(dark(picture).T) == pytest.approx([100.0], abs=TRUE), "the bar at the right edge"

    half = STROKE / 72 * 25.4 / 2  # the stroke's middle lies on the outline
    left, right, upper, lower = extent(of_colour(picture, CALIPER))
    assert right - left - 2 * half == pytest.approx(95 - 14, abs=TRUE)
    assert lower - upper - 2 * half == pytest.approx(196 - 120, abs=TRUE)

    face = [column for column, length in runs(dark(picture).T, 150)]
    assert np.mean(face) * MM - (right - half) == pytest.approx(14, abs=TRUE), "hub face to the caliper's side"


def test_the_axis_lies_at_its_radius(tmp_path: Path) -> None:
    """The axis is the chain line below the caliper, whose lower side is at r = 120."""
    (picture,) = pictures(printed(tmp_path, braked()))
    half = STROKE / 72 * 25.4 / 2
    left, _, _, lower = extent(of_colour(picture, CALIPER))
    rows = np.flatnonzero(dark(picture)[:, int(left / MM) : int((left + 81) / MM)].mean(axis=1) > 0.6)
    below = [row for row in rows if lower + 110 < row * MM < lower + 130]
    assert np.mean(below) * MM - (lower - half) == pytest.approx(120, abs=TRUE)


def test_the_outlines_corners(tmp_path: Path) -> None:
    """The filled area is the outline's own: shoelace formula."""
    (picture,) = pictures(printed(tmp_path, braked([[-95, 120], [-95, 196], [-14, 196], [-14, 160], [-50, 120]])))
    inside = of_colour(picture, CALIPER_FILL) | of_colour(picture, CALIPER)
    area = float(inside.sum()) * MM * MM
    by_hand = 81 * 76 - 36 * 40 / 2
    assert area == pytest.approx(by_hand, rel=0.01), "half a stroke more all round, crosses and their names less"


def crosses(path: Path) -> list[dict[tuple[float, float], tuple[float, float]]]:
    """On every page: (y', r) that a cross is named by -> place of its name's first letter on the page [mm]."""
    book = pypdfium2.PdfDocument(path)
    found = []
    for page in book:
        text_page = page.get_textpage()
        text, here = text_page.get_text_range(), {}
        for name in re.finditer(r"(?<![\d.])(-?\d+), (\d+)(?![\d.])", text):
            left, bottom, _, _ = text_page.get_charbox(name.start(), loose=True)
            here[float(name[1]), float(name[2])] = (left / 72 * 25.4, bottom / 72 * 25.4)
        text_page.close()
        page.close()
        found.append(here)
    book.close()
    return found


def test_a_large_brake_is_laid_over_sheets_that_join(tmp_path: Path) -> None:
    outline = [[-150, 140], [-150, 262], [-20, 262], [18, 240], [18, 200], [-12, 190], [-12, 140]]
    path = printed(tmp_path, braked(outline))
    sheets = texts(path)
    assert len(sheets) > 1
    for k, text in enumerate(sheets, 1):
        assert f"sheet {k} of {len(sheets)}: join at crosses of one name" in text
        assert "100 mm" in text
        assert "4 in" in text
    named = crosses(path)
    for here in named:
        (y0, r0), (x0, z0) = next(iter(here.items()))
        for (y, r), (x, z) in here.items():
            assert (x - x0, z - z0) == pytest.approx((y - y0, r - r0), abs=TRUE)
    # every cross round the part stands on some sheet, and every sheet shares one with another
    assert {(y, r) for y in (-150, -100, -50, 0) for r in range(0, 251, 50)} <= {at for here in named for at in here}
    for k, here in enumerate(named):
        assert any(set(here) & set(other) for i, other in enumerate(named) if i != k)


# ---------------------------------------------------------------- what stands on it


def test_words(tmp_path: Path) -> None:
    data = braked(rotor={"outline": [[-62, 177.5], [-34, 177.5]]})
    (text,) = texts(printed(tmp_path, data))
    for words in (
        "Brake template, front axle", "Bench vehicle (invented), build measured", "17x8 ET0 5x114.3 CB67.1",
        "Print on A4 paper at 100 % (actual size, no scaling)", "measure both bars",
        # 196 + 3 mm, common practice, round the brake
        "Least clear radius of the barrel 199.0 mm: a clear diameter of 398.0 mm", "Ask the seller",
        "Caliper, radius 196.0 mm", "Rotor, radius 177.5 mm", "Axis of the wheel", "Hub face (mounting face)",
        "Caliper's outboard side 14.0 mm behind the mounting face",
        "Bead seat of this rim, radius 218.3 mm",  # 436.6 / 2, ISO 4000-2 from memory
        "Wheel register, diameter 67.1 mm",
    ):  # fmt: skip
        assert words in text


def test_a_spacer_moves_the_wheels_face(tmp_path: Path) -> None:
    data = braked()
    bench_setup(data)["spacer"] = 20
    (text,) = texts(printed(tmp_path, data, "--units", "in"))
    assert "With the spacer of 0.79 in" in text
    assert "Wheel's mounting face" in text
    assert re.search(r"Caliper's outboard side 1\.34 in .* behind the mounting face", text)  # 14 + 20 mm


def test_axles_without_an_outline(tmp_path: Path) -> None:
    data = braked()
    data["axles"]["rear"] = vehicle()["axles"]["front"]
    path = write_profile(tmp_path, data)
    both = run("template", path, "--out", str(tmp_path / "a.pdf"))
    assert both.exit_code == 0
    assert "rear: no template, because its caliper's outline is not in the profile" in both.stderr
    assert len(texts(tmp_path / "a.pdf")) == 1
    for options in (["--axle", "rear"], ["--axle", "rear", "--build", "lowered"]):
        result = run("template", path, "--out", str(tmp_path / "b.pdf"), *options)
        assert result.exit_code == 2
        assert "axles.rear.brake.caliper.outline" in result.stderr
    assert not (tmp_path / "b.pdf").exists()


@pytest.mark.parametrize("out", ["x.png", "nowhere/x.pdf", None])
def test_bad_output(tmp_path: Path, out: str | None) -> None:
    path = write_profile(tmp_path, braked())
    result = run("template", path, *(["--out", str(tmp_path / out)] if out else []))
    assert result.exit_code == 2


def test_a_line_for_an_outline(tmp_path: Path) -> None:
    """Two points are a line, as in a profile: its length is measured."""
    (picture,) = pictures(printed(tmp_path, braked([[-90, 190], [-20, 190]])))
    left, right, _, _ = extent(of_colour(picture, CALIPER))
    assert right - left == pytest.approx(70, abs=TRUE)


def test_the_same_input_gives_the_same_bytes(tmp_path: Path) -> None:
    first = printed(tmp_path, braked()).read_bytes()
    assert printed(tmp_path, braked()).read_bytes() == first


OUTBOARD = {
    "lowest corner outboard": [[-95, 196], [-95, 150], [20, 120], [20, 196]],
    "all outboard": [[10, 120], [10, 196], [60, 196], [60, 120]],
    "a line across": [[-40, 190], [30, 120]],
    "a narrow one behind": [[-14, 120], [-14, 196], [-6, 196], [-6, 120]],
}


@pytest.mark.parametrize("outline", OUTBOARD.values(), ids=OUTBOARD.keys())
def test_a_caliper_that_stands_outboard_of_the_face(tmp_path: Path, outline: Any) -> None:
    """The card is one piece: all of the caliper, a foot on the pad, and nothing else in front of the face."""
    printed(tmp_path, braked(outline))
    caliper = shapely.Polygon(outline) if len(outline) > 2 else shapely.LineString(outline)
    piece = BrakeOutlines(tuple(map(tuple, outline)), (), 0.0, None, None).piece()
    assert piece.geom_type == "Polygon"
    assert shapely.covers(piece, caliper.buffer(0.99 * GAP))
    assert shapely.intersection(piece, shapely.box(-20, 0, 0, 50)).area == pytest.approx(20 * 50), "it lies on the pad"
    # in front of the face there is the caliper with its gap, and what it keeps free on its inboard side: r alike
    front = shapely.intersection(piece, shapely.box(0.001, 0, 300, 300))
    y, r = np.meshgrid(np.arange(0.5, 100, 1.0), np.arange(0.5, 260, 1.0))
    for at_y, at_r in np.column_stack([y.ravel(), r.ravel()])[shapely.contains_xy(front, y.ravel(), r.ravel())]:
        assert shapely.LineString([(at_y, at_r), (400, at_r)]).distance(caliper) <= GAP
