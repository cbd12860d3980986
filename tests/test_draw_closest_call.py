"""The closest call: the half plane through the nearest point, to scale, with the check's own numbers."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, cast

import numpy as np
import pytest
import shapely
from matplotlib.axes import Axes
from matplotlib.patches import FancyArrowPatch, PathPatch
from pictured import AXLE, BALL, BEAM, LIP, NEW, OLD, RING, axes, beam_pair, color, made, pair

from fitment.answers.builds import checked
from fitment.clearance.trace import trace_obstacle
from fitment.draw.figure_page import new_sheet
from fitment.draw.style import LIGHT, look
from fitment.draw.views.closest import caption, closest_call, closest_view, place_text, turned_in
from fitment.parts.axle import Axle, TapeSuspension
from fitment.parts.obstacles import Obstacle
from fitment.profile import load_profile
from fitment.units import clearance_text, length_text

UPRIGHT = TapeSuspension(camber=0.0, axis_lower=(0.0, 700.0, -130.0), axis_upper=(0.0, 700.0, 200.0))
STUD = Obstacle("stud", "ball", ((0.0, 760.0, 440.0),), radius=10.0)
RAIL = Obstacle("rail", "rod", ((-300.0, 760.0, 440.0), (300.0, 760.0, 440.0)), radius=8.0)
PLATE = Obstacle(
    "plate",
    "panel",
    ((-300.0, 700.0, 432.0), (-300.0, 850.0, 432.0), (300.0, 700.0, 432.0), (300.0, 850.0, 432.0)),
    columns=2,
)
SHAPES = {"ball": STUD, "rod": RAIL, "panel": PLATE}


def standing(obstacle: Obstacle) -> Axle:
    """An axle whose wheel goes straight up and down, with one part above it."""
    return replace(AXLE, suspension=UPRIGHT, obstacles=(obstacle,), brake=None)


def view(ax: Axes, *cases: Any, **more: Any) -> list[str]:
    with look():
        closest_view(ax, *cases, **more)
    return [text.get_text() for text in ax.texts if text.get_text()]


# ---------------------------------------------------------------- where it is


@pytest.mark.parametrize("name", SHAPES)
def test_a_part_straight_above_is_closest_at_full_bump(name: str) -> None:
    """Hand calculation: height of the part less its radius, less half the diameter, less the travel of 80."""
    obstacle = SHAPES[name]
    new = made(NEW, standing(obstacle))
    call = closest_call(new)
    assert call is not None
    half = new.stance.overall_diameter / 2
    height = obstacle.points[0][2] - obstacle.radius
    assert call.entry.travel == pytest.approx(80.0)
    assert call.entry.clearance == pytest.approx(height - half - 80.0, abs=0.05)
    assert call.clock == pytest.approx(90.0, abs=0.5)
    assert call.part[1] == pytest.approx(half, abs=0.05)
    assert np.linalg.norm(call.surface - call.part) == pytest.approx(call.entry.clearance, abs=1e-6)
    assert call.surface[1] - call.part[1] == pytest.approx(call.entry.clearance, abs=0.05)


@pytest.mark.slow
def test_the_call_is_the_checks_worst_entry_at_its_pose() -> None:
    for case in (*pair(), *beam_pair()):
        call = closest_call(case)
        assert call is not None
        assert call.entry is case.fit.worst
        poses = case.fit.poses
        assert call.at.origin == pytest.approx(poses.origin[call.entry.pose])
        gap = float(np.linalg.norm(call.part - call.core)) - call.trace.obstacle.radius
        if call.entry.clearance > 0:
            assert gap == pytest.approx(call.entry.clearance, abs=1e-6)


@pytest.mark.parametrize(
    ("at", "sector"),
    [
        ((0.0, 760.0, 440.0), "at the top"),
        ((311.0, 760.0, 311.0), "at the front of the top"),
        ((440.0, 760.0, 0.0), "at the front"),
        ((-311.0, 760.0, 311.0), "at the rear of the top"),
        ((-440.0, 760.0, 0.0), "at the rear"),
        ((0.0, 760.0, -440.0), "at the bottom"),
    ],
)
def test_the_caption_says_where_round_the_wheel(at: tuple[float, float, float], sector: str) -> None:
    new = made(NEW, replace(standing(replace(STUD, points=(at,))), steering=None, bump=0.0, droop=0.0, ride_heights=()))
    call = closest_call(new)
    assert call is not None
    assert caption(call, "mm").split("\n")[0] == f"stud to tire, {sector}"


def test_the_caption_says_the_pose_and_what_was_asked_for() -> None:
    new = pair()[1]
    call = closest_call(new)
    assert call is not None
    told = view(axes(), new)
    assert abs(call.entry.steer) > 1
    side = "left" if call.entry.steer > 0 else "right"
    assert f"travel {call.entry.travel:+.0f} mm, {abs(call.entry.steer):.0f}° {side}" in told
    worst = clearance_text(call.entry.worst_case)
    assert f"required {length_text(call.entry.allowance)}, worst case {worst}" in told


def test_a_solid_axles_place_names_corner_and_other_wheel() -> None:
    entry = beam_pair()[1].fit.worst
    assert entry is not None
    assert entry.opposite is not None
    text = place_text(entry, "mm")
    assert f"{entry.corner} corner, opposite wheel {entry.opposite:+.0f} mm".replace("+0", "0") in text
    assert place_text(entry, "mm", short=True) == text.split(", ")[0] + ", straight"


@pytest.mark.slow
def test_forward_is_on_the_side_where_the_wheel_is_seen_from_outside() -> None:
    """A left wheel seen from outside has the front at the left, a right wheel at the right."""
    left = made(NEW, standing(STUD))
    assert "◀ front" in view(axes(), left)
    tank = Obstacle("tank", "ball", ((60.0, 640.0, 120.0),), radius=40.0)
    found = [made(NEW, replace(BEAM, obstacles=(tank,))), made(NEW, replace(BEAM, obstacles=(LIP, tank)))]
    for case in found:
        entry = case.fit.worst
        assert entry is not None
        assert ("◀ front" if entry.corner == "left" else "front ▶") in view(axes(), case)


# ---------------------------------------------------------------- what is drawn


def test_the_gap_is_drawn_to_scale_in_the_half_plane() -> None:
    new = made(NEW, standing(STUD))
    call = closest_call(new)
    assert call is not None
    ax = axes()
    told = view(ax, new)
    assert f"stud\n{length_text(call.entry.clearance)}" in told
    arrows = [patch for patch in ax.patches if isinstance(patch, FancyArrowPatch)]
    ends = [np.array(cast(Any, arrow)._posA_posB) for arrow in arrows]
    # one arrow between both ends, or two that point at them from outside
    drawn = np.linalg.norm(ends[0][1] - (ends[0][0] if len(ends) == 1 else ends[1][1]))
    assert drawn == pytest.approx(call.entry.clearance, abs=1e-6)
    across = abs(np.diff(ax.get_xlim())[0]) / ax.bbox.width
    up = abs(np.diff(ax.get_ylim())[0]) / ax.bbox.height
    assert across == pytest.approx(up)


def test_it_is_much_larger_than_the_section_of_the_whole_wheel() -> None:
    new = made(NEW, standing(STUD))
    ax = axes()
    view(ax, new)
    assert abs(np.diff(ax.get_xlim())[0]) < 200.0  # [mm] across the panel; the whole wheel is 677


def test_the_line_asked_for_runs_around_the_section() -> None:
    """Every place of the dotted line is the allowance away from the tire."""
    new = made(NEW, standing(replace(STUD, allowance=12.0)))
    ax = axes()
    told = view(ax, new)
    assert "12.0 mm required" in told
    outlines = [p for p in ax.patches if isinstance(p, PathPatch) and not isinstance(p, FancyArrowPatch)]
    dotted = [p for p in outlines if p.get_linestyle() not in ("-", "solid")]
    points = np.concatenate([cast(Any, p.get_path().vertices) for p in dotted])
    far = shapely.distance(new.fit.tire, shapely.points(points))
    assert far == pytest.approx(np.full(len(points), 12.0), abs=0.05)


def test_old_stands_dashed_where_it_is_in_the_body_with_its_clearance_there() -> None:
    old, new = made(OLD, standing(STUD), build="old"), made(NEW, standing(STUD))
    ax = axes()
    told = view(ax, new, old)
    at_bump = [e for e in old.fit.clearances if abs(e.travel - 80.0) < 1e-6 and abs(e.steer) < 1e-6]
    before = min(at_bump, key=lambda e: e.margin)
    call = closest_call(new)
    assert call is not None
    assert f"stud\n{length_text(before.clearance)} → {length_text(call.entry.clearance)}" in told
    outlines = [p for p in ax.patches if isinstance(p, PathPatch) and color(p.get_edgecolor()) == LIGHT.old]
    dashed = [p for p in outlines if p.get_linewidth() > 0]
    assert dashed
    top = max(float(np.max(cast(Any, p.get_path().vertices)[:, 1])) for p in dashed)
    assert top == pytest.approx(old.stance.overall_diameter / 2, abs=0.1)  # one hub, one suspension: the same frame


def test_a_part_that_was_elsewhere_is_drawn_dashed_there() -> None:
    moved = standing(replace(STUD, points=((0.0, 760.0, 460.0),)))
    before, new = made(OLD, moved, build="old"), made(NEW, standing(STUD))
    here, there = axes(), axes()
    view(here, new, made(OLD, standing(STUD), build="old"))
    view(there, new, before)

    def dashed(ax: Axes) -> int:
        edges = [p for p in ax.patches if isinstance(p, PathPatch) and color(p.get_edgecolor()) == LIGHT.old]
        return sum(p.get_linewidth() > 0 for p in edges)

    assert dashed(there) == dashed(here) + 1


def test_without_any_part_it_says_so() -> None:
    bare = made(NEW, replace(AXLE, obstacles=()))
    assert closest_call(bare) is None
    assert "no part checked" in view(axes(), bare)


@pytest.mark.parametrize("obstacle", [RING, BALL], ids=["ring", "on the knuckle"])
def test_parts_that_turn_with_the_hub_are_drawn(obstacle: Obstacle) -> None:
    new = made(NEW, replace(AXLE, obstacles=(obstacle,)))
    assert any(text.startswith(obstacle.name) for text in view(axes(), new))


# ---------------------------------------------------------------- a part turned into the plane


def test_a_panel_fills_where_its_points_turn_to() -> None:
    """Points of the sheet, turned about the axle by hand, lie in it; places nearer to the axle and beside it do not."""
    new = made(NEW, standing(PLATE))
    poses = new.fit.poses
    index = int(np.argmax(poses.travel - 1e3 * np.abs(poses.steer)))
    window = shapely.box(-120.0, 250.0, 120.0, 460.0)
    shape = turned_in(trace_obstacle(PLATE, poses), index, window)
    rng = np.random.default_rng(1)
    x, y = rng.uniform(-300, 300, 4000), rng.uniform(700, 850, 4000)
    hub = np.stack([x, y, np.full_like(x, 432.0)], -1) - poses.origin[index]  # the hub of this axle does not turn
    assert poses.rotation[index] == pytest.approx(np.eye(3), abs=1e-9)
    plane = np.stack([hub[:, 1], np.hypot(hub[:, 0], hub[:, 2])], -1)
    inside = plane[shapely.contains_xy(window.buffer(-1.0), plane[:, 0], plane[:, 1])]
    assert len(inside) > 500
    assert np.all(shapely.distance(shape, shapely.points(inside)) < 0.2)
    least = 432.0 - float(poses.origin[index, 2])
    assert shape.bounds[1] == pytest.approx(least, abs=0.1)
    beside = shapely.Point(700.0 - float(poses.origin[index, 1]) - 3.0, least + 20.0)
    assert not shape.contains(beside)


def test_a_radius_is_put_round_the_turned_part() -> None:
    new = made(NEW, standing(RAIL))
    poses = new.fit.poses
    index = int(np.argmax(poses.travel))
    shape = turned_in(trace_obstacle(RAIL, poses), index, shapely.box(-150.0, 200.0, 150.0, 500.0))
    assert shape.bounds[1] == pytest.approx(440.0 - 8.0 - float(poses.origin[index, 2]), abs=0.02)


@pytest.mark.slow
def test_the_dark_label_covers_no_end_of_the_gaps_arrows() -> None:
    """Arrows stand outside a short gap; a label once lay over the end of one of them, at this place and size."""
    case = checked(load_profile("coupe"), ["front left"], "track_day")[0][0]
    entry = next(each for each in case.fit.worst_each if (each.obstacle, each.part) == ("fender lip", "tire"))
    with look(text=True):
        sheet = new_sheet(5.4, LIGHT, width=4.8, edge=0.0)
        ax = sheet.at(sheet.box(5.4))
        closest_view(ax, case, entry=entry)
        sheet.figure.canvas.draw()
        (label,) = (text for text in ax.texts if text.get_color() == LIGHT.alarm_text)
        box = cast(Any, label.get_bbox_patch()).get_window_extent()
        arrows = [patch for patch in ax.patches if isinstance(patch, FancyArrowPatch)]
        assert len(arrows) == 2
        for arrow in arrows:
            for x, y in arrow.get_transform().transform(arrow.get_path().vertices):
                assert not box.contains(x, y)
