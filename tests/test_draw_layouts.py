"""Views and layouts: what each picture holds, that nothing overlaps or is cut off, what is refused."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import lru_cache
from io import BytesIO
from typing import Any, cast

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from pictured import (
    AXLE,
    BALL,
    BEAM,
    LIP,
    NEW,
    OLD,
    axes,
    beam_pair,
    color,
    cut_off,
    made,
    overlapping,
    pair,
    said,
    texts,
    too_small,
)
from PIL import Image

from fitment.checks.case import Case
from fitment.checks.fit import Clearance
from fitment.checks.posed_case import posed
from fitment.draw.dimensions import contact, wider_text
from fitment.draw.files import render
from fitment.draw.layouts import VIEWS, picture
from fitment.draw.named_views import LAYOUTS, chosen
from fitment.draw.projection import posed_hub
from fitment.draw.scene import at_same_place, placed, rides, shown
from fitment.draw.style import LIGHT, THEMES, look
from fitment.draw.views.axle import axle_section
from fitment.draw.views.film import film_steps
from fitment.draw.views.side import edges_above
from fitment.errors import FitmentError
from fitment.parts.obstacles import Obstacle
from fitment.units import clearance_text, length_text

ALL = [(view, layout) for layout, views in LAYOUTS.items() for view in views if layout != "sheet"]
SOME = [(None, "banner"), (None, "tall"), ("film", "single"), ("closest", "tall"), ("plan", "single")]
PICTURES = [
    *(("wagon", view, layout, "mm") for view, layout in ALL),
    *(("wagon", view, layout, "in") for view, layout in SOME[:3]),
    *(("beam", view, layout, "mm") for view, layout in SOME),
    *(("alone", view, layout, "in") for view, layout in SOME[:3]),
    *((name, "front", "banner", "in") for name in ("beam", "alone")),
]


@lru_cache(maxsize=8)
def drawn(name: str, view: str | None, layout: str, units: str) -> Figure:
    old, new = beam_pair() if name == "beam" else pair()
    return picture(new, None if name == "alone" else old, view=view, layout=layout, units=units)


def with_speed(name: str, view: str | None, layout: str, units: str) -> Any:
    """The picture as a parameter; quick are the wagon's views, each alone, but for its cut."""
    marks = () if (name, layout) == ("wagon", "single") and view != "cut" else (pytest.mark.slow,)
    return pytest.param(name, view, layout, units, marks=marks)


# the scope keeps the tests of one picture together, so that each is drawn once and let go
every_picture = pytest.mark.parametrize(
    ("name", "view", "layout", "units"), [with_speed(*each) for each in PICTURES], scope="module"
)


# ---------------------------------------------------------------- every picture


@every_picture
def test_texts_are_whole_apart_and_legible(name: str, view: str | None, layout: str, units: str) -> None:
    figure = drawn(name, view, layout, units)
    assert overlapping(figure) == []
    assert cut_off(figure) == []
    assert too_small(figure) == []


@every_picture
def test_units_are_those_asked_for(name: str, view: str | None, layout: str, units: str) -> None:
    told = said(drawn(name, view, layout, units))
    assert re.search(rf"\d {units}\b", told)
    assert not re.search(r"\bmm\b" if units == "in" else r"\d in\b", told)


@every_picture
def test_vehicle_builds_heights_and_caution_stand_on_it(name: str, view: str | None, layout: str, units: str) -> None:
    told = said(drawn(name, view, layout, units))
    old, new = beam_pair() if name == "beam" else pair()
    assert "Invented wagon" in told.replace("\n", " ")
    assert ("new" if name == "alone" else "old → new") in told
    for case in (new,) if name == "alone" else (old, new):
        assert f"{case.fit.setup.ride_name} {'+' if case.fit.setup.ride else ''}" in told
        assert case.fit.verdict.replace("_", " ") in told
    assert "Test fit through full travel and lock on both sides before driving." in told.replace("\n", " ")


@every_picture
def test_old_is_dashed_and_new_is_solid(name: str, view: str | None, layout: str, units: str) -> None:
    if view == "map":
        pytest.skip("a map draws no outlines: old and new are panels of their own, each with its name")
    edges: dict[str, set[bool]] = {LIGHT.old: set(), LIGHT.new: set()}
    for ax in drawn(name, view, layout, units).axes:
        for patch in ax.patches:
            if isinstance(patch, PathPatch) and patch.get_linewidth() > 0 and color(patch.get_edgecolor()) in edges:
                edges[cast(str, color(patch.get_edgecolor()))].add(patch.get_linestyle() in ("-", "solid"))
        for line in ax.lines if view in ("motion", "cut") else ():  # curves, not outlines
            if (view == "cut" or len(np.asarray(line.get_xdata())) > 20) and line.get_color() in edges:
                edges[cast(str, line.get_color())].add(line.get_linestyle() in ("-", "solid"))
    assert edges == {LIGHT.old: set() if name == "alone" else {False}, LIGHT.new: {True}}


@pytest.mark.parametrize(("layout", "size"), [("banner", (1600, 800)), ("tall", (1080, 1920))])
def test_sizes_for_a_post_and_for_a_phone(layout: str, size: tuple[int, int]) -> None:
    assert Image.open(BytesIO(render(drawn("wagon", None, layout, "mm"), "png"))).size == size


@pytest.mark.parametrize("name", ["wagon", "beam", "alone"])
def test_the_axle_fills_the_width_of_a_banner(name: str) -> None:
    """Both wheels span four fifths of the axle's panel but for its labels; numbers stand in what is left beside it.

    The labels have 82 points beside the left wheel; the picture is 10 inches wide.
    """
    figure = drawn(name, "front", "banner", "mm")
    axle = next(ax for ax in figure.axes if any("At ride height" in text.get_text() for text in ax.texts))
    wheels = np.concatenate([each.get_path().vertices[:, 0] for each in axle.patches if isinstance(each, PathPatch)])
    low, high = axle.get_xlim()
    labels = 82 / 72 / (axle.get_position().width * 10)
    assert np.ptp(wheels) / (high - low) > 0.8 - labels
    numbers = figure.axes[figure.axes.index(axle) + 1]
    assert any(re.search(r"\d mm", text.get_text()) for text in numbers.texts)
    left, right = axle.get_position(), numbers.get_position()
    assert right.x0 - left.x1 < 0.03
    assert left.x0 < 0.03
    assert right.x1 > 0.97


@pytest.mark.slow
@pytest.mark.parametrize(("view", "layout"), SOME)
def test_the_same_case_gives_the_same_bytes(view: str | None, layout: str) -> None:
    old, new = pair()
    again = picture(new, old, view=view, layout=layout)
    assert render(again, "png") == render(drawn("wagon", view, layout, "mm"), "png")


@pytest.mark.parametrize("view", ["closest", "film"])
def test_themes_differ_in_nothing_but_colour(view: str) -> None:
    old, new = pair()
    dark = picture(new, old, view=view, theme="dark")
    assert said(dark) == said(drawn("wagon", view, "single", "mm"))
    grounds = {color(ax.get_facecolor()) for ax in dark.axes if ax.axison}
    assert grounds == {THEMES["dark"].panel}


@pytest.mark.slow
@pytest.mark.parametrize("layout", ["single", "sheet", "banner", "tall"])
def test_a_date_stands_there_only_when_it_is_given(layout: str) -> None:
    old, new = pair()
    view = "front" if layout == "single" else None
    dated = picture(new, old, view=view, layout=layout, date="spring, with $1 in it")
    assert "spring, with $1 in it" in said(dated)
    assert cut_off(dated) == []
    assert overlapping(dated) == []
    assert not re.search(r"\b(19|20)\d\d\b", said(picture(new, old, view=view, layout=layout)))


@lru_cache(maxsize=1)
def long_names() -> tuple[Case, Case]:
    name = "A wagon with a name that nobody would ever give to a vehicle, " * 3
    axle = replace(AXLE, obstacles=tuple(replace(o, name=f"{o.name} {'very ' * 20}long") for o in AXLE.obstacles))
    return made(OLD, axle, name=name, build="a" * 80), made(NEW, axle, name=name, build="b" * 80)


@pytest.mark.slow
@pytest.mark.parametrize(("view", "layout"), SOME)
def test_long_names_are_cut_not_laid_over_others(view: str | None, layout: str) -> None:
    old, new = long_names()
    figure = picture(new, old, view=view, layout=layout)
    assert overlapping(figure) == []
    assert cut_off(figure) == []


# ---------------------------------------------------------------- what may be asked for


@pytest.mark.parametrize(
    ("asked", "got"),
    [
        ((None, None), (None, "sheet")),
        (("closest", None), ("closest", "single")),
        (("motion", None), ("motion", "sheet")),
        ((None, "tall"), (None, "tall")),
        (("film", "banner"), ("film", "banner")),
        (("motion", "tall"), ("motion", "tall")),
    ],
)
def test_what_is_left_open_is_filled_in(asked: tuple[Any, Any], got: tuple[Any, Any]) -> None:
    assert chosen(*asked) == got


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        (("back", None), r"view back: there is none of that name; the views are front, plan, side, closest"),
        ((None, "poster"), r"layout poster: there is none of that name; the layouts are single, sheet, banner, tall\."),
        (
            ("front", "sheet"),
            r"view front is not drawn in layout sheet but in single, banner, tall; layout sheet takes",
        ),
        (
            ("room", "sheet"),
            r"view room is not drawn in layout sheet but in .*; layout sheet takes motion",
        ),
        ((None, "single"), r"layout single shows one view; name it; layout single takes front, plan"),
        (("", None), r"the views are"),
    ],
)
def test_other_combinations_are_refused_with_what_there_is(asked: tuple[Any, Any], told: str) -> None:
    with pytest.raises(FitmentError, match=told):
        chosen(*asked)
    with pytest.raises(FitmentError, match=told):
        picture(pair()[1], view=asked[0], layout=asked[1])


def test_an_unknown_theme_is_refused() -> None:
    with pytest.raises(FitmentError, match=r"theme blue: .*light or dark"):
        picture(pair()[1], theme="blue")


def test_every_view_is_drawn_alone_and_in_both_formats_for_posts() -> None:
    for view in VIEWS:
        assert all(view in LAYOUTS[layout] for layout in ("single", "banner", "tall"))


# ---------------------------------------------------------------- the axle


def test_the_track_is_drawn_from_contact_to_contact_and_its_widening_said() -> None:
    old, new = pair()
    figure = drawn("wagon", "front", "single", "mm")
    assert f"track {length_text(new.stance.track)}, {wider_text(new.stance.track - old.stance.track, 'mm')}" in said(
        figure
    )
    for case in (old, new):  # both wheels stand alike, so each contact point is half a track from the centre
        assert contact(*placed(case, None)) == pytest.approx(case.stance.track / 2, abs=1e-9)
    ends = [round(float(x), 3) for ax in figure.axes for line in ax.lines for x in np.asarray(line.get_xdata())]
    for case in (old, new):
        assert round(case.stance.track / 2, 3) in ends
        assert round(-case.stance.track / 2, 3) in ends


@pytest.mark.parametrize(
    ("change", "units", "told"),
    [(23.64, "mm", "23.6 mm wider"), (-30.5, "in", "1.20 in narrower"), (0.01, "mm", "as wide as before")],
)
def test_the_widening_in_words(change: float, units: str, told: str) -> None:
    assert wider_text(change, units) == told


def test_a_part_on_one_side_is_drawn_and_named_on_that_side() -> None:
    tank = Obstacle("tank", "ball", ((0.0, 570.0, 150.0),), radius=45.0, side="right")
    new = made(NEW, replace(AXLE, obstacles=(LIP, tank)))
    ax = axes()
    with look():
        axle_section(ax, new)
    fills = [p.get_path().get_extents() for p in ax.patches if color(p.get_facecolor()) == LIGHT.part_fill]
    wide = [box for box in fills if box.width > 80]
    assert [round((box.x0 + box.x1) / 2) for box in wide] == [-570]
    labels = [t for t in ax.texts if t.get_text().startswith("tank\n")]
    assert len(labels) == 1
    leaders = [line for line in ax.lines if np.allclose(np.asarray(line.get_ydata()), 150.0, atol=60.0)]
    assert any(float(np.max(np.asarray(line.get_xdata()))) < 0 for line in leaders)


def test_both_corners_of_a_solid_axle_stand_where_the_panhard_bar_puts_them() -> None:
    """The bar swings sideways as the axle rises, so one hub face goes outboard as far as the other goes inboard.

    Hand calculation: from (80, 480, 60) to (80, -290, 20) the bar spans 770 across and 40 up at travel 0. At travel
    +30 it spans 10 up, so across it spans sqrt(770^2 + 40^2 - 10^2) = 770.973: the axle goes 0.973 to the right.
    """
    old, new = beam_pair()
    left, right = placed(new, None), placed(new, None, corner="right")
    shift = np.sqrt(770.0**2 + 40.0**2 - 10.0**2) - 770.0
    assert left[1].origin[1] == pytest.approx(790.0 - shift, abs=1e-6)
    assert right[1].origin[1] == pytest.approx(790.0 + shift, abs=1e-6)
    assert left[0] is new  # the check has these poses, nothing is computed twice
    assert right[0] is new
    told = said(picture(new, old, view="front"))
    assert "tank\n" in told  # on the right only, and named


# ---------------------------------------------------------------- poses


def test_a_pose_beside_the_grid_is_computed_there() -> None:
    new = pair()[1]
    case, at = placed(new, 33.3, 0.25)
    assert case is not new
    assert len(case.fit.poses) == 1
    assert at.travel == pytest.approx(33.3)
    assert at.steer == pytest.approx(0.25 * 34.0)  # a tape-measured axle without toe: a quarter of the left lock
    assert placed(new, 1000.0)[1].travel == AXLE.bump
    assert [placed(new, end)[1].travel for end in ("droop", "bump")] == [AXLE.droop, AXLE.bump]


def test_clearances_of_a_picture_are_those_of_the_check() -> None:
    for case in (pair()[1], beam_pair()[1]):
        chosen_poses = np.arange(0, len(case.fit.poses), 7)
        again = posed(case, case.fit.poses.at(chosen_poses))
        known = {(e.obstacle, e.part, e.pose): e for e in case.fit.clearances}
        assert len(again.fit.clearances) == len(chosen_poses) * len({(o, p) for o, p, _ in known})
        for entry in again.fit.clearances:
            there = known[entry.obstacle, entry.part, int(chosen_poses[entry.pose])]
            assert entry.clearance == pytest.approx(there.clearance, abs=1e-6)
            assert (entry.corner, entry.opposite, entry.allowance) == (there.corner, there.opposite, there.allowance)
            assert not isinstance(entry, Clearance)  # so it cannot be taken for one with a worst case
            if entry.clearance > 0:
                assert entry.point == pytest.approx(there.point, abs=1e-3)
                assert entry.at_part == pytest.approx(there.at_part, abs=1e-3)


def test_the_old_build_goes_to_the_same_place_of_travel_and_lock() -> None:
    old, new = pair()
    entry = new.fit.worst
    assert entry is not None
    found = at_same_place(new, entry, old)
    assert found is not None
    assert found[1].travel == pytest.approx(entry.travel)
    assert found[1].steer == pytest.approx(entry.steer, abs=1e-6)  # one suspension, one lock
    low = made(replace(OLD, ride=0.0), replace(AXLE, bump=10.0, ride_heights=()))
    assert at_same_place(new, entry, low) is None  # its travel ends below
    assert at_same_place(new, entry, beam_pair()[0]) is None  # another kind of axle


@pytest.mark.slow
def test_an_unnamed_ride_height_is_among_those_drawn() -> None:
    case = made(replace(NEW, ride=12.0, ride_name=None))
    assert rides(case) == [("raised", 0.0), ("at rest", 12.0), ("cruise", 30.0), ("parked", 60.0)]
    assert "at rest, +12 mm" in said(picture(case, view="side"))


@pytest.mark.slow
def test_a_ride_height_beyond_the_travel_is_drawn_where_it_is() -> None:
    case = made(replace(NEW, ride=95.0, ride_name=None))
    found, at = placed(case, None)
    assert at.travel == pytest.approx(95.0)
    assert found is case
    assert "at rest, +95 mm" in said(picture(case, view="side"))


@pytest.mark.slow
@pytest.mark.parametrize(("view", "layout"), [("film", "single"), (None, "sheet"), (None, "tall")])
def test_a_wheel_that_does_not_travel_is_drawn_too(view: str | None, layout: str) -> None:
    fixed = replace(AXLE, droop=0.0, bump=0.0, ride_heights=(), steering=None, obstacles=(LIP,))
    figure = picture(made(replace(NEW, ride=0.0), fixed), view=view, layout=layout)
    assert render(figure, "png")[:4] == b"\x89PNG"


# ---------------------------------------------------------------- side


@pytest.mark.slow
def test_edges_above_the_wheel_are_the_ones_of_the_bodywork() -> None:
    """An edge far inboard passes above the hub too, but it is no arch; one that is said to be none neither."""
    rail = Obstacle("rail", "edge", ((-400.0, 500.0, 420.0), (400.0, 500.0, 420.0)))
    flare = replace(LIP, name="flare", points=tuple((x, y + 25.0, z - 15.0) for x, y, z in LIP.points))
    new = made(NEW, replace(AXLE, obstacles=(LIP, rail, flare)))
    assert [edge.name for edge in edges_above(new)] == ["flare", "fender lip"]  # the lowest first
    told = said(picture(new, view="side"))
    assert "to flare" in told
    assert {"flare", "fender lip"} <= set(told.split("\n"))
    assert "rail" not in told.split("\n")
    none = made(NEW, replace(AXLE, obstacles=(replace(LIP, cover=False), rail)))
    assert edges_above(none) == []
    assert "no edge measured above it" in said(picture(none, view="side"))


# ---------------------------------------------------------------- film


def test_a_film_goes_from_droop_to_bump_through_the_ride_heights() -> None:
    old, new = pair()
    steps = film_steps(new, old, 8)
    heights = [step.travel for step in steps]
    assert len(steps) == 8
    assert heights == sorted(heights)
    assert {-60.0, 0.0, 30.0, 60.0, 80.0} <= set(heights)
    assert [step.name for step in steps if step.name] == ["droop", "raised", "cruise", "parked", "bump"]
    for step in steps:
        assert step.both.new_at.travel == pytest.approx(step.travel)
        assert step.both.old_at is not None
        assert step.both.old_at.travel == pytest.approx(step.travel)


def test_a_film_tells_the_checks_numbers_and_begins_with_the_closest_call() -> None:
    new = pair()[1]
    figure = picture(new, view="film")
    for travel in (AXLE.droop, 0.0, 30.0, AXLE.bump):
        straight = [e for e in new.fit.clearances if abs(e.travel - travel) < 1e-6 and abs(e.steer) < 1e-6]
        fixed = min((e for e in straight if e.obstacle == BALL.name), key=lambda e: e.margin)
        tightest = min((e for e in straight if e.obstacle != BALL.name), key=lambda e: e.margin)
        frame = next(ax for ax in figure.axes if any(t.get_text().startswith(f"{travel:+.0f} mm".replace("+0", "0"))
                                                    for t in ax.texts))  # fmt: skip
        told = {t.get_text() for t in frame.texts}
        assert {clearance_text(tightest.clearance), tightest.obstacle} <= told
        assert (f"{clearance_text(fixed.clearance)} {BALL.name}" in told) == (fixed.margin < tightest.margin)
    filled = [t for t in texts(figure) if t.get_bbox_patch() and t.get_color() == LIGHT.alarm_text]
    in_panels = [t for t in filled if cast(Any, t.axes).axison]
    moving = [e for e in new.fit.clearances if e.obstacle != BALL.name]
    closest = min(moving, key=lambda e: e.urgency)
    panels = [ax for ax in figure.axes if ax.axison]
    assert [text.axes for text in in_panels] == panels[:2]  # the whole wheel, and enlarged
    assert all(clearance_text(closest.clearance) in text.get_text() for text in in_panels)
    assert closest.obstacle in {text.get_text() for text in panels[0].texts}


def test_frames_share_one_scale_and_place() -> None:
    frames = [ax for ax in drawn("wagon", "film", "single", "mm").axes if ax.axison]
    assert len(frames) == 8
    for ax in frames[3:]:  # after the closest call, whole and enlarged
        assert (*ax.get_xlim(), *ax.get_ylim()) == pytest.approx((*frames[2].get_xlim(), *frames[2].get_ylim()))


@pytest.mark.slow
def test_each_case_goes_to_its_own_bump() -> None:
    old = made(OLD, replace(AXLE, bump=40.0), build="old")
    both = shown(pair()[1], old, travel="bump")
    assert both.old_at is not None
    assert (both.new_at.travel, both.old_at.travel) == (80.0, 40.0)
    assert "Full bump, +40 mm → +80 mm" in said(picture(pair()[1], old))


def test_a_stand_is_one_of_the_poses() -> None:
    poses = beam_pair()[1].fit.poses
    at = posed_hub(poses, 3)
    assert at.travel == poses.travel[3]
    hub = np.array([[0.0, 10.0, 20.0]])
    assert at.hub(at.body(hub)) == pytest.approx(hub)
    assert BEAM.steering is None
