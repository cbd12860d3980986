"""How deep overlaps are: right to half a millimetre down to 20 mm, to a tenth beyond, and told so.

The depth of a point is its distance from the outline (shapely), on parts laid out densely from their definitions; the
deepest places of plain figures are known in closed form.
"""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
import yaml
from click.testing import CliRunner
from shapely import Polygon

from fitment.clearance import section_distance
from fitment.clearance.section_distance import clearances, section_peaks
from fitment.clearance.trace import trace_of_corners
from fitment.cli import cli
from fitment.parts.obstacles import Obstacle
from fitment.parts.sections import tire_section, wheel_section
from fitment.parts.tire_code import parse_tire
from fitment.parts.wheel import parse_wheel
from fitment.report.common import overlap_text

PROFILES = Path(__file__).resolve().parents[1] / "profiles"
SETUPS = (("20x10 ET30 5x114.3 CB70.6", "275/40R20"), ("15x6 ET35 5x114.3 CB70.6", "205/70R15"))


@pytest.mark.parametrize(("wheel", "tire"), SETUPS)
@pytest.mark.parametrize("radius", [0.0, 12.0])
def test_no_point_of_a_line_is_deeper_than_is_told(wheel: str, tire: str, radius: float) -> None:
    """Lines with three corners thrown through tire and wheel, every one in a pose of its own."""
    rng = np.random.default_rng(5)
    mounted = parse_wheel(wheel)
    for section in (tire_section(parse_tire(tire), mounted), wheel_section(mounted)):
        low, high = np.array(section.bounds).reshape(2, 2)
        y, r = np.moveaxis(rng.uniform(low - 20, high + 20, (60, 3, 2)), -1, 0)
        angle = rng.uniform(0, 0.9, (60, 3))
        hub = np.stack([r * np.cos(angle), y, r * np.sin(angle)], -1)
        obstacle = Obstacle("line", "edge", ("body",) * 3, ((0.0, 0.0, 0.0),) * 3, radius=radius)
        told = -clearances(section, trace_of_corners(obstacle, hub))
        share = np.linspace(0, 1, 900)[:, None, None]
        laid = np.concatenate([(1 - share) * hub[:, k] + share * hub[:, k + 1] for k in (0, 1)])
        at = shapely.points(laid[..., 1], np.hypot(laid[..., 0], laid[..., 2]))
        depth = np.where(shapely.covers(section, at), 1, -1) * shapely.distance(section.exterior, at)
        depth = depth.max(axis=0) + radius
        over = depth > 0.5
        assert over.sum() > 20
        assert (depth > 20).sum() > 10 or section.area < 15000  # metal is thin
        assert np.all(np.abs(told - depth)[over] <= np.where(depth > 20, 0.1 * depth, 0.5)[over])
        assert np.all((told > 0) == (depth > 0), where=np.abs(depth) > 0.05)


def test_what_hardly_overlaps_is_never_told_as_clear() -> None:
    """Lines that cut off a square's corner, e below it: half the chord is e, the depth e / sqrt(2)."""
    rng = np.random.default_rng(8)
    section = Polygon([(100, 340), (160, 400), (100, 460), (40, 400)])
    e, ends = rng.uniform(0.004, 0.1, 400), rng.uniform(20, 90, (400, 2)) * (-1, 1)
    hub = np.stack([np.repeat(460 - e[:, None], 2, axis=1), 100 + ends, np.zeros((400, 2))], -1)  # in one half plane
    obstacle = Obstacle("line", "edge", ("body",) * 2, ((0.0, 0.0, 0.0),) * 2)
    told, depth = -clearances(section, trace_of_corners(obstacle, hub)), e / np.sqrt(2)
    assert np.all(told > depth / 3)
    assert np.all(told < depth + 1e-6)


def test_a_line_that_lies_in_a_face_is_looked_at_in_few_places(monkeypatch: pytest.MonkeyPatch) -> None:
    """Lines along a rectangle's face, on it, and leaning in by a hair: none is deeper anywhere than at an end."""
    section = Polygon([(0, 100), (300, 100), (300, 160), (0, 160)])
    lean = np.array([0.0, 1e-9, 1e-5, 1e-3, 0.05, -1e-3])
    hub = np.zeros((len(lean), 2, 3))
    hub[:, 0, 1], hub[:, 1, 1], hub[:, 0, 0] = 20, 280, 160
    hub[:, 1, 0] = 160 - lean
    looked: list[int] = []
    measured = section_distance._Deepest.measured

    def counted(self: Any, points: Any, owner: Any) -> Any:
        looked.append(len(points))
        return measured(self, points, owner)

    monkeypatch.setattr(section_distance._Deepest, "measured", counted)
    obstacle = Obstacle("line", "edge", ("body",) * 2, ((0.0, 0.0, 0.0),) * 2)
    told = -clearances(section, trace_of_corners(obstacle, hub))
    assert np.all(np.abs(told - np.maximum(lean, 0)) <= 1e-3 + 1e-6)  # as deep as where it comes closest
    assert sum(looked) < 40_000, "halved to a tenth of a micrometre it would be millions"


FIGURES: dict[str, tuple[list[tuple[float, float]], list[tuple[float, float, float]]]] = {
    # a square of 60 and one of 40 joined by a neck of 10: half their sides, in their middles
    "two squares": (
        [(0, 100), (60, 100), (60, 125), (90, 125), (90, 110), (130, 110), (130, 150), (90, 150), (90, 135), (60, 135),
         (60, 160), (0, 160)],
        [(30, 130, 30.0), (110, 130, 20.0)],
    ),
    # a strip is as deep everywhere along its middle: one place stands for all
    "a strip": ([(0, 100), (120, 100), (120, 106), (0, 106)], [(60, 103, 3.0)]),
    # 3, 4, 5: the radius of the circle within is 1
    "a triangle": ([(0, 100), (120, 100), (0, 190)], [(30, 130, 30.0)]),
}  # fmt: skip


@pytest.mark.parametrize("name", FIGURES)
def test_the_deepest_places_of_plain_figures(name: str) -> None:
    corners, expected = FIGURES[name]
    section = Polygon(corners)
    peaks = section_peaks(section)
    depth = shapely.distance(section.exterior, shapely.points(peaks))
    for y, r, deep in expected:
        off = 60 if name == "a strip" else 1.5
        assert np.any((np.hypot(*(peaks - (y, r)).T) <= off) & (np.abs(depth - deep) <= max(0.3, 0.05 * deep))), name
    assert np.all(depth <= max(deep for *_, deep in expected) + 1e-9)


def test_words_for_a_depth() -> None:
    """As far as it is right it is told; what is deeper is told as more than 20 mm (0.79 in)."""
    assert [overlap_text(-depth, "mm") for depth in (0.01, 3.2, 20.0, 20.1, 80.0)] == [
        "less than 0.1 mm", "3.2 mm", "20.0 mm", "more than 20 mm", "more than 20 mm",
    ]  # fmt: skip
    assert overlap_text(-80.0, "in") == "more than 0.79 in"


@pytest.fixture(scope="module")
def deep(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wagon with one part, a bar that stands some 40 mm in the tire."""
    data = yaml.safe_load((PROFILES / "wagon.yaml").read_text(encoding="utf-8"))
    front = data["axles"]["front"]
    front["obstacles"] = [
        {"name": "deep bar", "fixed_to": "knuckle", "shape": "edge", "points": [[-40, 700, 280], [40, 780, 280]]},
    ]
    data["axles"] = {"front": front}
    data["builds"] = {name: {"front": build["front"]} for name, build in data["builds"].items()}
    path = tmp_path_factory.mktemp("deep") / "deep.yaml"
    path.write_text(yaml.safe_dump(data, sort_keys=False), encoding="utf-8")
    return path


def said(*words: str) -> str:
    done = CliRunner().invoke(cli, list(words))
    assert done.exit_code in (0, 1), done.output
    return done.stdout


def test_a_check_tells_a_deep_overlap_as_more_and_its_data_as_rough(deep: Path) -> None:
    text = said("check", str(deep))
    assert "overlaps deep bar by more than 20 mm" in text
    assert "below -20" in text
    entries: list[dict[str, Any]] = json.loads(said("check", str(deep), "--format", "json"))[0]["clearances"]
    for entry in entries:
        assert entry.get("rough", False) == (min(entry["clearance_mm"], entry["worst_case_mm"]) < -20), entry
    assert any("rough" in entry for entry in entries)


def test_the_csv_of_a_check_holds_deep_and_other_rows_under_one_header(deep: Path, tmp_path: Path) -> None:
    data = yaml.safe_load(deep.read_text(encoding="utf-8"))
    far = {"name": "far", "fixed_to": "body", "shape": "ball", "radius": 5, "at": [0, 300, 900]}
    data["axles"]["front"]["obstacles"].insert(0, far)
    path, out = tmp_path / "both.yaml", tmp_path / "rows.csv"
    path.write_text(yaml.safe_dump(data, sort_keys=False), encoding="utf-8")
    said("check", str(path), "--out", str(out))
    rows = list(csv.DictReader(out.read_text(encoding="utf-8").splitlines()))
    assert rows[0]["obstacle"] == "far"
    for row in rows:
        assert (row["rough"] == "True") == (min(float(row["clearance_mm"]), float(row["worst_case_mm"])) < -20)
    assert {row["rough"] for row in rows} == {"", "True"}


def test_rows_of_a_list_tell_so_too(deep: Path, tmp_path: Path) -> None:
    listed = tmp_path / "list.csv"
    listed.write_text("wheel,tire\n17x8 ET40 5x114.3 CB70.6,225/50R17\n", encoding="utf-8")
    (row,) = json.loads(said("screen", str(deep), str(listed), "--format", "json"))
    assert row["clearance_mm"] < -20
    assert row["rough"] is True
    assert "more than 20 mm" in row["reason"]
    assert "below -20 mm" in said("screen", str(deep), str(listed), "--format", "text")
