"""Parts that a build moves or trims: where they are then, by closed forms and by shapely, and what is refused."""

from __future__ import annotations

import copy
import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
import yaml
from matplotlib.text import Text

import fitment
from fitment.checks.case import ready
from fitment.errors import FitmentError
from fitment.parts.obstacles import Obstacle, core
from fitment.parts.reshaped import reworked
from fitment.parts.rework import Cut, Rework
from fitment.parts.solid_panel import sheet_triangles
from fitment.profile import loads_profile
from fitment.profile.resolve import bundled_folder

HUB = (10.0, 780.0, 5.0)


def _edge(points: Any, rework: Rework, **more: Any) -> Obstacle:
    placed = tuple((HUB[0] + x, 800.0, HUB[2] + z) for x, z in points)
    return Obstacle("lip", "edge", placed, rework=rework, **more)


def _side(part: Obstacle) -> Any:
    return (np.array(part.points) - HUB)[:, [0, 2]]


def _panel(rows: Any, rework: Rework, **more: Any) -> Obstacle:
    rows = np.array(rows, dtype=float)
    return Obstacle("panel", "panel", tuple(map(tuple, rows.reshape(-1, 3))), rows.shape[1], rework=rework, **more)


def _area(part: Obstacle) -> float:
    """Area of a panel's triangles, by Heron's formula."""
    corners = np.array(part.points)[sheet_triangles(len(part.points) // part.columns, part.columns)]
    a, b, c = (np.linalg.norm(corners[:, i] - corners[:, i - 1], axis=1) for i in range(3))
    s = (a + b + c) / 2
    return float(np.sqrt(np.maximum(s * (s - a) * (s - b) * (s - c), 0)).sum())


def test_a_move_adds_its_step_to_every_point() -> None:
    part = _edge([(-300, 200), (0, 400), (300, 200)], Rework(out=10, ahead=-3, up=5))
    assert np.array(reworked(part, HUB).points) - np.array(part.points) == pytest.approx(np.tile([-3, 10, 5], (3, 1)))


def test_a_part_moved_away_is_that_much_farther_from_the_wheels_centre_in_the_side_view() -> None:
    part = _edge([(-300, 400), (0, 400), (30, 40)], Rework(away=12))
    old, new = _side(part), _side(reworked(part, HUB))
    assert np.hypot(*new.T) - np.hypot(*old.T) == pytest.approx([12, 12, 12])
    assert np.arctan2(*new.T) == pytest.approx(np.arctan2(*old.T))


def test_a_trimmed_edge_is_the_parallel_that_shapely_draws() -> None:
    points = [(-350, 50), (-300, 250), (-100, 380), (120, 390), (330, 240), (360, 60)]
    for direction in (1, -1):
        new = _side(reworked(_edge(points[::direction], Rework(cuts=(Cut(None, 20.0),))), HUB))
        # the way round that has the centre on its right has the side away from it on its left
        parallel = shapely.LineString(points).offset_curve(20.0, join_style="mitre", mitre_limit=50)
        assert shapely.LineString(new).hausdorff_distance(parallel) == pytest.approx(0, abs=1e-9)


def test_a_trimmed_smooth_arch_has_the_larger_radius() -> None:
    angles = np.radians(np.linspace(10, 170, 25))
    points = np.stack([400 * np.cos(angles), 400 * np.sin(angles)], -1)
    part = reworked(_edge(points, Rework(cuts=(Cut(None, 20.0),)), smooth=True), HUB)
    radius = np.hypot(*(core(part) - HUB)[:, [0, 2]].T)[20:-20]  # a natural spline is straight at its ends
    assert radius == pytest.approx(np.full(len(radius), 420.0), abs=0.02)
    assert part.points[0][1] == 800.0


def test_a_trimmed_edge_below_the_wheels_centre_is_cut_downwards() -> None:
    new = _side(reworked(_edge([(-200, -150), (200, -150)], Rework(cuts=(Cut(None, 20.0),))), HUB))
    assert new == pytest.approx(np.array([[-200, -170], [200, -170]]))


def test_a_flat_panel_loses_a_strip_at_its_nearer_end() -> None:
    rows = [[(x, 600 + z, z) for x in (-200, 0, 150)] for z in (100, 300, 500)]
    # the last row is farther off; along the panel 141.42 mm are 100 mm of height
    part = reworked(_panel(rows, Rework(cuts=(Cut(None, 100 * np.sqrt(2)),))), HUB)
    assert np.array(part.points)[:, 2].min() == pytest.approx(200)
    assert _area(part) == pytest.approx(350 * 300 * np.sqrt(2))
    assert part.rework is not None
    assert part.rework.cuts[0].end == "first"
    assert part.rework.cuts[0].stretch == 0


def test_a_cut_past_a_row_takes_that_row_away() -> None:
    rows = [[(x, 600, z) for x in (-200, 200)] for z in (100, 130, 500)]
    part = reworked(_panel(rows, Rework(cuts=(Cut("first", 50.0), Cut("last", 70.0)))), HUB)
    assert sorted(set(np.array(part.points)[:, 2].round(6))) == [150, 430]
    assert _area(part) == pytest.approx(400 * 280)


def test_what_is_left_of_a_twisted_panel_stays_on_its_sheet() -> None:
    drawn = np.random.default_rng(3)
    for ends in (("first",), ("last",), ("first", "last")):
        flat = np.stack(np.meshgrid(np.arange(3) * 200.0, np.arange(4) * 150.0), -1)
        rows = np.insert(flat, 1, 500.0, axis=2) + drawn.uniform(-30, 30, (4, 3, 3))
        whole = _panel(rows, Rework())
        part = reworked(_panel(rows, Rework(cuts=tuple(Cut(end, 40.0) for end in ends))), HUB)
        triangles = np.array(whole.points)[sheet_triangles(4, 3)]
        corners = np.array(part.points)[sheet_triangles(len(part.points) // part.columns, part.columns)]
        for place in drawn.dirichlet([1, 1, 1], 5) @ corners:  # places within every triangle that is left
            for spot in place:
                shares = np.linalg.solve(
                    np.stack([triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0],
                              np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0])], -1),
                    (spot - triangles[:, 0])[..., None],
                )[..., 0]  # fmt: skip
                inside = np.all(shares[:, :2] > -1e-9, axis=1) & (shares[:, :2].sum(1) < 1 + 1e-9)
                off = np.abs(shares[:, 2]) * np.linalg.norm(
                    np.cross(triangles[:, 1] - triangles[:, 0], triangles[:, 2] - triangles[:, 0]), axis=1
                )
                assert off[inside].min(initial=1e9) < 1e-6
        grid, left = rows, np.array(part.points).reshape(-1, part.columns, 3)
        every = 4 if len(ends) == 2 else 2
        for at, end in ((0, "first"), (-1, "last")):
            if end in ends:
                first, second = grid[at], grid[1 if at == 0 else -2]
                cut = first + 40 * (second - first) / np.linalg.norm(second - first, axis=1, keepdims=True)
                assert left[at, ::every] == pytest.approx(cut)


@pytest.mark.parametrize(
    ("part", "words"),
    [
        (Obstacle("spring", "rod", ((0, 500, 0), (0, 500, 300))), "a rod has no edge"),
        (Obstacle("joint", "ball", ((0, 500, 0),)), "a ball has no edge"),
        (Obstacle("shield", "edge", ((0, 500, 0), (0, 500, 300)), fixed_to=("knuckle",)), "fixed to the knuckle"),
        (Obstacle("horn", "edge", ((100, 500, 5), (400, 500, 5))), "runs towards the wheel's centre"),
        (Obstacle("across", "edge", ((0, 500, 300), (0, 700, 300))), "behind one another"),
        (Obstacle("box", "panel", ((0, 5, 0), (9, 5, 0), (0, 5, 9), (9, 5, 9)), 2, solid_behind=True), "filled"),
    ],
)  # fmt: skip
def test_a_part_that_cannot_be_trimmed_is_refused(part: Obstacle, words: str) -> None:
    with pytest.raises(FitmentError, match=words):
        reworked(Obstacle(**{**vars(part), "rework": Rework(cuts=(Cut(None, 5.0),))}), HUB)


def test_more_than_there_is_is_refused() -> None:
    rows = [[(x, 600, z) for x in (-200, 200)] for z in (100, 180)]
    with pytest.raises(FitmentError, match=r"80 mm is more than there is to trim; along it, it measures 80 mm"):
        reworked(_panel(rows, Rework(cuts=(Cut("first", 80.0),))), HUB)
    notch = [(-200, 300), (-20, 300), (0, 290), (20, 300), (200, 300)]
    with pytest.raises(FitmentError, match="nothing is left of that bend"):
        reworked(_edge(notch, Rework(cuts=(Cut(None, 100.0),))), HUB)


def test_an_end_that_is_no_nearer_than_the_other_is_asked_for() -> None:
    rows = [[(x, y, 300 - abs(x - HUB[0]) / 2) for y in (500, 700)] for x in (HUB[0] - 300, HUB[0], HUB[0] + 300)]
    with pytest.raises(FitmentError, match=r"write trim: \{first_row: 20\}, or last_row, or both"):
        reworked(_panel(rows, Rework(cuts=(Cut(None, 20.0),))), HUB)


# ---------------------------------------------------------------- in a profile


def _wagon(obstacles: Any, build: str = "reworked", **more: Any) -> Any:
    data = yaml.safe_load((Path(bundled_folder()) / "wagon.yaml").read_text())
    data["builds"].setdefault(build, copy.deepcopy(data["builds"]["wanted"]))
    data["builds"][build]["front"] |= {"obstacles": obstacles, **more}
    return loads_profile(yaml.safe_dump(data, sort_keys=False), "wagon.yaml")


def test_a_build_that_moves_a_part_is_checked_as_one_that_gives_its_points_there() -> None:
    data = yaml.safe_load((Path(bundled_folder()) / "wagon.yaml").read_text())
    lip = next(part for part in data["axles"]["front"]["obstacles"] if part["name"] == "fender lip")
    points = [[x + 4, y + 10, z + 6] for x, y, z in lip["points"]]
    moved = fitment.check(_wagon({"fender lip": {"move": {"out": 10, "ahead": 4, "up": 6}}}), "front", "reworked")
    given = fitment.check(_wagon({"fender lip": {"points": points}}), "front", "reworked")
    assert moved.data["clearances"] == given.data["clearances"]
    assert moved.data["reworked"] == [
        {
            "obstacle": "fender lip",
            "move_mm": {"out": 10, "ahead": 4, "up": 6},
            "trim": [],
            "what": "fender lip moved 10 mm out, 4 mm forward, 6 mm up",
        }
    ]


def test_a_part_that_a_tape_placed_is_moved_from_where_the_tape_put_it() -> None:
    profile = _wagon({"frame horn": {"move": {"out": -17}}})
    (before, after) = (
        next(part for part in ready(profile, "front", build).axle.obstacles if part.name == "frame horn")
        for build in ("wanted", "reworked")
    )
    assert np.array(after.points) - np.array(before.points) == pytest.approx(np.tile([0, -17, 0], (2, 1)))
    assert ready(profile, "front", "wanted").slid == ready(profile, "front", "reworked").slid


def test_readings_count_for_a_trimmed_part_as_for_the_whole_one() -> None:
    rows = [[[-420, {"value": 560, "tolerance": 3}, 60], [-420, 640, 110]], [[-300, 545, 330], [-300, 640, 385]]]
    profile = _wagon({"inner fender": {"rows": rows, "trim": {"first_row": 30}}})
    prepared = ready(profile, "front", "reworked")
    own = next(part for part in prepared.axle.obstacles if part.name == "inner fender")
    (variant,) = (v for v in prepared.variants if v.reading.startswith("obstacles[inner fender]"))
    other = next(part for part in variant.axle.obstacles if part.name == "inner fender")
    step = np.array(other.points) - np.array(own.points)
    length = np.linalg.norm([120, -15, 270])
    assert step[0] == pytest.approx([0, 3 * (1 - 30 / length), 0], abs=0.05)  # the cut stays 30 mm down the column
    assert step[-1] == pytest.approx([0, 0, 0])


def test_text_and_cautions_say_what_was_done() -> None:
    answer = fitment.check(_wagon({"fender lip": {"move": {"out": 10}, "trim": 20}}), "front", "reworked")
    assert "fender lip moved 10 mm out, trimmed 20 mm" in " ".join(answer.text.split())
    assert any(
        line.startswith("fender lip moved 10 mm out, trimmed 20 mm: first look") for line in answer.data["cautions"]
    )


@pytest.mark.parametrize(
    ("obstacles", "words"),
    [
        ({"fender lp": {"move": {"out": 10}}}, 'no part "fender lp" to move or trim. Did you mean "fender lip"'),
        ({"damper": {"trim": 10}}, "damper cannot be trimmed: a rod has no edge"),
        ({"inner fender": {"trim": 20}}, "write trim: {first_row: 20}"),
        ({"inner fender": {"trim": {"first_row": 290, "last_row": 290}}}, "nothing"),
        ({"fender lip": {"move": {}}}, "write {out: 10}"),
        ({"fender lip": {"move": {"out": {"value": 10, "tolerance": 1}}}}, "The part's own tolerance counts"),
        ({"fender lip": {"trim": {"by": 20, "last_row": 10}}}, "write trim: 20"),
    ],
)  # fmt: skip
def test_a_slip_is_told_with_its_place_in_the_file(obstacles: Any, words: str) -> None:
    if words == "nothing":
        assert _wagon(obstacles)  # both ends together leave enough
        return
    with pytest.raises(FitmentError) as caught:
        _wagon(obstacles)
    assert words in str(caught.value)
    assert "builds.reworked.front.obstacles" in str(caught.value)


def test_the_baseline_is_the_vehicle_as_measured() -> None:
    with pytest.raises(FitmentError, match='build "as_bought" is the vehicle as it was measured'):
        _wagon({"fender lip": {"move": {"out": 10}}}, "as_bought")


@pytest.mark.slow
def test_a_picture_has_the_gap_to_the_part_where_each_build_has_it() -> None:
    figure = fitment.compare(_wagon({"fender lip": {"move": {"up": 20}}}), "wanted", "reworked", "front").figure()
    gaps = [
        [float(gap) for gap in re.findall(r"(\d+) mm", text.get_text())]
        for text in figure.findobj(Text)
        if text.get_text().startswith("to fender lip")
    ]
    assert gaps
    for before, after in gaps:
        assert after - before == pytest.approx(20, abs=1)  # each told in whole millimetres
