"""Labels: where they go, what they must not cover, and that a sheet says what it shows."""

from __future__ import annotations

import itertools
from dataclasses import replace
from io import BytesIO
from typing import cast

import numpy as np
import pytest
import shapely
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from pictured import AXLE, BEAM, HORN, LIP, NEW, OLD, axes, beam_pair, boxes, cut_off, made, overlapping, pair, texts
from PIL import Image

from fitment.draw.answers import _label
from fitment.draw.best_of_list import Entry, contact_sheet
from fitment.draw.labels import place_labels
from fitment.draw.layouts import picture
from fitment.draw.panel import Area, Panel
from fitment.draw.printed.preview import pages_png
from fitment.draw.projection import FRONT, PLAN, cut, edges, posed_hub
from fitment.draw.scene import placed, steady
from fitment.draw.sheets import profile_sheet
from fitment.draw.style import look
from fitment.draw.views.closest import closest_view
from fitment.draw.views.free_space import room_view
from fitment.draw.views.side import side_view
from fitment.parts.axle import Spacer
from fitment.parts.obstacles import SOLID_DEPTH, Obstacle
from fitment.parts.wheel import parse_wheel
from fitment.screening.screen import ScreenedRow
from fitment.units import clearance_text


def blank(*, across: float = 300.0) -> Panel:
    panel = Panel(axes())
    panel.fit(Area(np.zeros(2), np.array([across, across])), (10, 10, 10, 10), (False, False))
    return panel


def box_of(panel: Panel, text: str) -> shapely.Polygon:
    """A label's box in page coordinates."""
    (found,) = (each for each in panel.ax.texts if each.get_text() == text)
    x0, y0, x1, y1 = panel.extent(found)
    (left, low), (right, high) = panel.ax.transData.inverted().transform([(x0, y0), (x1, y1)])
    return shapely.box(left, low, right, high)


# ---------------------------------------------------------------- places


def test_a_name_stands_within_what_it_names_without_a_leader() -> None:
    with look():
        panel = blank()
        area = shapely.box(20.0, 40.0, 220.0, 160.0)
        panel.wish("tire", (120.0, 100.0), "#000000", area=area)
        place_labels(panel)
    assert area.contains(box_of(panel, "tire"))
    assert not panel.ax.lines


def test_a_name_too_long_for_its_area_stands_beside_it_on_free_ground_with_a_leader_into_it() -> None:
    with look():
        panel = blank()
        narrow, other = shapely.box(100.0, 50.0, 112.0, 250.0), shapely.box(112.0, 50.0, 260.0, 250.0)
        for area in (narrow, other):
            panel.fill_ink(area, 0.6, named=True)
        panel.wish("not reached\nfrom the hub", (106.0, 150.0), "#000000", area=narrow)
        panel.wish("damper", (180.0, 150.0), "#000000", area=other)
        place_labels(panel)
    told = box_of(panel, "not reached\nfrom the hub")
    assert not told.intersects(other)
    assert other.contains(box_of(panel, "damper"))
    leader = next(line for line in panel.ax.lines if len(line.get_xdata()) == 2)
    ends = shapely.points(np.stack([leader.get_xdata(), leader.get_ydata()], -1))
    assert narrow.covers(ends[0])
    assert told.buffer(2.0).covers(ends[1])


def test_a_name_that_belongs_within_is_left_out_where_it_does_not_fit() -> None:
    with look():
        panel = blank()
        area = shapely.box(100.0, 50.0, 104.0, 250.0)
        panel.wish("sway bar bend", (102.0, 150.0), "#000000", area=area, within=True, optional=True)
        place_labels(panel)
    assert not panel.ax.texts


def test_a_label_does_not_cross_an_outline_where_it_can_stand_beside_it() -> None:
    with look():
        panel = blank()
        panel.line([(165.0, 0.0), (165.0, 300.0)], "#000000")
        panel.wish("quarter lip\n14.4 mm", (149.0, 150.0), "#000000", alarm=True)
        place_labels(panel)
    told = box_of(panel, "quarter lip\n14.4 mm")
    assert not told.intersects(shapely.LineString([(165.0, 0.0), (165.0, 300.0)]))
    assert told.bounds[2] < 165.0  # on the side of its place


def test_the_room_left_over_goes_where_it_is_wanted() -> None:
    panel = Panel(axes())  # 5 by 7 inches: what is twice as high as wide leaves room across
    area = Area(np.zeros(2), np.array([100.0, 400.0]))
    panel.fit(area, (10, 20, 10, 10), (False, False), lean=0.0)
    (left, right), per_pt = panel.ax.get_xlim(), panel.per_pt
    assert left == pytest.approx(-10 * per_pt)
    assert right == pytest.approx((5 * 72 - 10) * per_pt)
    panel.fit(area, (10, 20, 10, 10), (False, False))
    left, right = panel.ax.get_xlim()
    assert (left + right) / 2 == pytest.approx(50.0 + 5 * per_pt)


# ---------------------------------------------------------------- what is drawn


@pytest.mark.slow
def test_an_edge_that_runs_at_the_reader_is_a_disc_in_the_cut() -> None:
    """A round bar of 6 mm radius along x is cut across by the front section: a circle of 36 pi mm2."""
    bar = Obstacle("bar", "edge", ((-100.0, 700.0, 300.0), (100.0, 700.0, 300.0)), radius=6.0)
    case, at = placed(made(replace(NEW, ride=0.0), replace(AXLE, obstacles=(bar, LIP))), 0.0)
    seen = cut(next(each for each in case.fit.traces if each.obstacle.name == "bar"), at, FRONT)
    assert seen.area == pytest.approx(36 * np.pi, rel=0.02)
    assert (seen.centroid.x, seen.centroid.y) == pytest.approx((700.0, 300.0), abs=0.01)
    upright = Obstacle("post", "edge", ((100.0, 600.0, -50.0), (100.0, 600.0, 50.0)), radius=4.0)
    case, at = placed(made(replace(NEW, ride=0.0), replace(AXLE, obstacles=(upright, LIP))), 0.0)
    seen = cut(next(each for each in case.fit.traces if each.obstacle.name == "post"), at, PLAN)
    assert seen.area == pytest.approx(16 * np.pi, rel=0.05)


@pytest.mark.slow
def test_a_filled_panel_is_cut_as_an_area_in_every_pose_of_a_rolling_axle() -> None:
    """520 mm high, filled to SOLID_DEPTH behind it; the ends of the cut lines differ by rounding from pose to pose."""
    corners = tuple((x, 560.0, z) for x in (-400.0, 400.0) for z in (40.0, 560.0))
    house = Obstacle("bed wheelhouse", "panel", corners, columns=2, solid_behind=True)
    case = made(NEW, replace(BEAM, obstacles=(LIP, house)))
    seen = next(each for each in case.fit.traces if each.obstacle.name == house.name)
    areas = [cut(seen, posed_hub(case.fit.poses, i), FRONT).area for i in range(len(case.fit.poses))]
    assert areas == pytest.approx([520.0 * SOLID_DEPTH] * len(areas), rel=1e-3)


def test_what_tire_and_wheel_share_is_dashed_once() -> None:
    tire, wheel = shapely.box(0.0, 10.0, 30.0, 20.0), shapely.box(0.0, 0.0, 30.0, 10.0)
    one, other = edges(tire, wheel)
    assert one.length == pytest.approx(10 + 30 + 10, abs=0.7)
    assert other.length == pytest.approx(80.0)
    assert one.intersection(other.buffer(0.1)).length < 0.3


@pytest.mark.slow
def test_parts_at_the_knuckle_keep_their_place_to_the_wheel() -> None:
    assert steady(pair()[1]) == {"upper ball joint"}
    assert steady(beam_pair()[1]) == {"leaf spring"}
    alone = made(NEW, replace(AXLE, obstacles=(AXLE.obstacles[3],)))
    assert steady(alone) == frozenset()  # nothing else could be told instead


# ---------------------------------------------------------------- panels


def test_a_small_closest_call_says_was_and_now_in_two_lines() -> None:
    old, new = pair()
    figure = Figure(figsize=(3.2, 3.1), dpi=160)
    FigureCanvasAgg(figure)
    with look():
        closest_view(figure.add_axes((0.0, 0.0, 1.0, 1.0)), new, old)
    worst = new.fit.worst
    assert worst is not None
    told = [text.get_text() for text in figure.axes[0].texts]
    (value,) = (text for text in told if text.startswith("was "))
    assert value.endswith(f"\nnow {clearance_text(worst.clearance)}")
    assert overlapping(figure) == []
    assert cut_off(figure) == []


def test_the_room_names_every_part() -> None:
    ax = axes()
    with look():
        room_view(ax, pair()[1])
    told = [text.get_text().split("\n")[0] for text in ax.texts]
    assert {obstacle.name for obstacle in AXLE.obstacles} <= set(told)
    assert overlapping(cast(Figure, ax.figure)) == []
    assert cut_off(cast(Figure, ax.figure)) == []


def test_both_gaps_above_the_wheel_carry_their_unit() -> None:
    old, new = pair()
    ax = axes()
    with look():
        side_view(ax, new, old, travel=0.0, units="in")
    caption = next(text.get_text() for text in ax.texts if text.get_text().startswith("to "))
    assert caption.count(" in") == 2, caption


@pytest.mark.parametrize("layout", ["banner", "tall"])
@pytest.mark.parametrize("units", ["mm", "in"])
def test_no_drawing_runs_under_the_scale(layout: str, units: str) -> None:
    old, new = pair()
    figure = picture(new, old, layout=layout, units=units)
    found = boxes(figure)
    for ax in (each for each in figure.axes if each.axison):
        length = next(box for text, box, there in found if there is ax and text in ("100 mm", "50 mm", "20 mm", "4 in",
                                                                                "2 in", "1 in"))  # fmt: skip
        for patch in (each for each in ax.patches if isinstance(each, PathPatch) and each.get_zorder() < 5):
            extent = patch.get_window_extent()
            apart = extent.x1 < length.x0 or extent.y0 > length.y1 - 1 or extent.y1 < length.y0
            assert apart or patch.get_path().get_extents().height == 0


def test_the_grid_of_a_wide_axle_has_room_for_its_numbers() -> None:
    case = beam_pair()[1]
    figure = profile_sheet(case.ready, NEW)
    assert overlapping(figure) == []
    assert cut_off(figure) == []
    assert BEAM.name in case.fit.axle.name


# ---------------------------------------------------------------- the best of a list


@pytest.mark.slow
def test_a_candidate_is_named_with_bore_and_spacer_in_whole_lines() -> None:
    setup = replace(NEW, wheel=parse_wheel("18x8.5 ET30 5x114.3 CB70.6"), spacer=Spacer(5.0))
    case = made(setup)
    label = _label(ScreenedRow({"name": "W07"}, "clears"), case, 1)
    assert label.split("\n") == ["W07", "245/45R18", "18x8.5 ET30 5x114.3", "CB70.6, 5 mm spacer"]
    figure = contact_sheet([Entry(label, "clears", "18.3 mm from tire to inner fender", case)] * 4)
    told = [text.get_text() for text in texts(figure)]
    assert told.count("CB70.6, 5 mm spacer") == 4
    assert not [text for text in told if "…" in text]


def test_the_drawing_of_a_candidate_stays_clear_of_its_text_and_shows_the_gap() -> None:
    case = made(NEW, replace(AXLE, obstacles=(replace(HORN, points=((-300.0, 640.0, 420.0), (300.0, 640.0, 60.0))),)))
    label = "one\n245/45R18\n18x8.5 ET30 5x114.3\nCB70.6"
    figure = contact_sheet([Entry(label, "tight", "gap\ntravel +80 mm, straight", case)] * 4)
    panels, words = [[ax for ax in figure.axes if ax.axison == on] for on in (True, False)]
    words = [ax for ax in words if any(text.get_text() == "one" for text in ax.texts)]
    for panel, told in zip(panels, words, strict=True):
        written = [box for _, box, ax in boxes(figure) if ax is told]
        for patch in (each for each in panel.patches if each.get_zorder() < 5):
            drawn = patch.get_window_extent()
            assert not any(box.overlaps(drawn) for box in written)
        arrows = [each for each in panel.patches if each.get_zorder() == 6]
        assert len(arrows) in (1, 2)  # between the ends of the gap, or from outside


@pytest.mark.slow
def test_the_gap_of_a_candidate_has_its_true_length_at_the_scale_of_all() -> None:
    old, new = made(OLD), made(NEW)
    figure = contact_sheet([Entry("a", "clears", "", old), Entry("b", "clears", "", new)])
    for ax, case in zip((each for each in figure.axes if each.axison), (old, new), strict=True):
        ticks = [line for line in ax.lines if line.get_zorder() == 5.8]
        worst = case.fit.worst
        assert worst is not None
        a, b = (np.stack([line.get_xdata(), line.get_ydata()], -1).astype(float).mean(axis=0) for line in ticks)
        assert np.hypot(*(a - b)) == pytest.approx(abs(worst.clearance), abs=0.05)


def test_two_labels_far_apart_keep_their_first_places() -> None:
    """Choosing again changes nothing where nothing is in the way."""
    places = []
    for _ in range(2):
        with look():
            panel = blank()
            for x in (60.0, 240.0):
                panel.wish(f"at {x:g}", (x, 150.0), "#000000")
            place_labels(panel)
        places.append([text.get_position() for text in panel.ax.texts])
    assert places[0] == places[1]
    for (x, _), at in zip(places[0], (60.0, 240.0), strict=True):
        assert abs(x - at) < 60.0
    assert not any(a == b for a, b in itertools.combinations(places[0], 2))


def test_pages_stand_side_by_side_and_are_the_same_each_time() -> None:
    pages = []
    for _ in range(2):
        page = Figure(figsize=(2.0, 3.0), facecolor="white")
        page.text(0.1, 0.5, "box 1.1")
        pages.append(page)
    content = pages_png(pages)
    assert content == pages_png(pages)
    with Image.open(BytesIO(content)) as row:
        assert row.size == (2 * 2 * 96 + 3 * 12, 3 * 96 + 2 * 12)
        grey = np.asarray(row.convert("L"))
    assert grey[0, 0] == grey[100, 2 * 96 + 12 + 5] < 200  # the ground round and between them
    assert np.array_equal(grey[12:-12, 12 : 12 + 192], grey[12:-12, 24 + 192 : 24 + 384])
    assert grey[12:-12, 12 : 12 + 192].min() < 100  # the text
    with pytest.raises(ValueError, match="at least one page"):
        pages_png([])
