"""Pictures: what is on the axes, that it agrees with the case, and that the same case gives the same bytes."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from functools import lru_cache
from typing import Any, cast

import numpy as np
import pytest
import shapely
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from pictured import (
    AXLE,
    BALL,
    HORN,
    LIP,
    NEW,
    OLD,
    RING,
    TUB,
    axes,
    color,
    cut_off,
    made,
    overlapping,
    pair,
    said,
    too_small,
)

from fitment.draw.dimensions import moved_text
from fitment.draw.figure_page import height_text
from fitment.draw.files import picture_format, render, save
from fitment.draw.labels import place_labels
from fitment.draw.panel import Panel
from fitment.draw.projection import FRONT, PLAN, SIDE, circle, meridian, nearest_places, silhouette, thick
from fitment.draw.scene import placed
from fitment.draw.sheets import check_sheet, clearance_rows, compare_sheet, comparison_rows, profile_sheet
from fitment.draw.style import LIGHT, SMALL, THEMES, Theme, look, words
from fitment.draw.views.corner import front_section, plan_view
from fitment.draw.views.side import edges_above, gap_above, side_view
from fitment.errors import FitmentError
from fitment.parts.axle import Axle, LowPoint, TapeSuspension
from fitment.units import clearance_text, length_text

SHEETS = {
    "compare": lambda units: compare_sheet(*pair(), units=units),
    "check": lambda units: check_sheet(pair()[1], units=units),
    "profile": lambda units: profile_sheet(pair()[1].ready, NEW, units=units),
}


@lru_cache(maxsize=8)
def sheet(name: str, units: str) -> Figure:
    return SHEETS[name](units)


every_sheet = pytest.mark.parametrize(("name", "units"), list(itertools.product(SHEETS, ("mm", "in"))))


# ---------------------------------------------------------------- the whole sheet


@every_sheet
def test_texts_are_whole_apart_and_legible(name: str, units: str) -> None:
    figure = sheet(name, units)
    assert overlapping(figure) == []
    assert cut_off(figure) == []
    assert too_small(figure) == []


@every_sheet
def test_everything_drawn_is_clipped_to_its_panel(name: str, units: str) -> None:
    for ax in sheet(name, units).axes:
        for artist in [*ax.lines, *ax.patches]:
            assert artist.get_clip_on()
            assert artist.get_clip_box() is not None or artist.get_clip_path() is not None


@every_sheet
def test_the_drawn_panels_have_equal_scales(name: str, units: str) -> None:
    panels = [ax for ax in sheet(name, units).axes if ax.axison]
    assert len(panels) >= 3
    for ax in panels:
        assert ax.get_aspect() == 1.0
        across = abs(np.diff(ax.get_xlim())[0]) / ax.bbox.width
        up = abs(np.diff(ax.get_ylim())[0]) / ax.bbox.height
        assert across == pytest.approx(up, rel=1e-9)


@pytest.mark.parametrize("name", SHEETS)
def test_inch_pictures_carry_no_millimetres(name: str) -> None:
    assert "mm" not in said(sheet(name, "in"))
    assert " mm" in said(sheet(name, "mm"))
    assert not re.search(r"\d in\b", said(sheet(name, "mm")))


@lru_cache(maxsize=1)
def made_again() -> Figure:
    return compare_sheet(made(OLD, build="old"), made(NEW))


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["png", "svg", "pdf"])
def test_the_same_case_gives_the_same_bytes(kind: str) -> None:
    first, second = render(sheet("compare", "mm"), kind), render(made_again(), kind)
    assert first == second
    for stamp in (b"CreationDate", b"<dc:date>", b"Software", b"Matplotlib"):
        assert stamp not in first


def test_the_axle_shows_both_wheels_at_one_distance_from_the_centre() -> None:
    new = pair()[1]
    ax = sheet("compare", "mm").axes[1]
    tires = [p.get_path().get_extents() for p in ax.patches if color(p.get_facecolor()) == LIGHT.new_tire]
    spans = sorted((box.x0, box.x1) for box in tires)
    assert len(spans) == 4  # above and below the axle, on both sides
    assert spans[0] == pytest.approx((-spans[3][1], -spans[3][0]))
    assert spans[1] == pytest.approx((-spans[2][1], -spans[2][0]))
    lower = max(spans)  # negative camber: the lower half stands outboard
    assert np.mean(lower) == pytest.approx(new.stance.track / 2, abs=3.0)


# ---------------------------------------------------------------- numbers


def test_dimensions_say_what_the_cases_say() -> None:
    old, new = pair()
    told = said(sheet("compare", "mm"))
    for case in (old, new):
        for value in (case.stance.section_width, case.stance.overall_diameter, case.stance.track):
            assert length_text(value) in told
    for key in ("outer_face", "inner_face", "tire_outer", "tire_inner"):
        move = getattr(new.stance, key) - getattr(old.stance, key)
        assert f"{abs(move):.1f} mm {'outboard' if move > 0 else 'inboard'}" in told
    assert "clears" in told or "tight" in told or "touches" in told
    assert {case.fit.worst.obstacle for case in (old, new) if case.fit.worst} <= set(told.replace("\n", "|").split("|"))


def test_a_label_carries_both_clearances_of_its_pose() -> None:
    old, new = pair()
    ax = axes()
    with look():
        front_section(ax, new, old)
    told = [text.get_text() for text in ax.texts]
    at = placed(new, None)[1]
    before = placed(old, None)[1]
    near = next(each for each in nearest_places(new, at, FRONT) if each.entry.clearance < 90)
    earlier = min(
        (e for e in old.fit.clearances if e.pose == before.index and e.obstacle == near.entry.obstacle),
        key=lambda e: e.margin,
    )
    expected = f"{clearance_text(earlier.clearance)} → {clearance_text(near.entry.clearance)}"
    assert f"{near.entry.obstacle}\n{expected}" in told


def test_a_gap_on_the_page_has_its_true_length() -> None:
    new = pair()[1]
    for view, share in ((FRONT, 0.0), (PLAN, 1.0), (PLAN, -1.0)):
        for near in nearest_places(new, placed(new, None, share)[1], view):
            length = float(np.linalg.norm(near.core - near.part)) - near.radius
            if near.entry.clearance > 0:  # seen square to the cut, but for the hub's camber: 1 part in 1000
                assert length == pytest.approx(near.entry.clearance, abs=0.2)
                assert np.linalg.norm(near.surface - near.part) == pytest.approx(near.entry.clearance, abs=0.2)


def test_the_gap_to_the_arch_is_measured_upright() -> None:
    new = pair()[1]
    (edge,) = edges_above(new)
    assert edge.name == "fender lip"
    at = placed(new, 0.0)[1]
    top = float(silhouette(new.fit.tire, at, SIDE)[:, 1].max())
    gap = gap_above(new, at, edge)
    assert gap == pytest.approx(410.0 - 3.0 - top, abs=0.01)
    assert top == pytest.approx(new.stance.overall_diameter / 2, abs=3.0)
    low = placed(new, 60.0)[1]
    assert gap_above(new, low, edge) == pytest.approx(cast(float, gap) - 60.0, abs=0.5)


def test_rows_of_the_tables() -> None:
    old, new = pair()
    rows = {row[0]: row[1:] for row in comparison_rows(old, new, "mm")}
    assert rows["overall diameter"] == ("669.0 mm", length_text(new.stance.overall_diameter), "+8.0 mm")
    assert rows[""] == ("old", "new", "change")
    assert rows["scrub radius"][0] == length_text(cast(float, old.stance.scrub_radius))
    worst = clearance_rows(new, "mm")[1]
    assert new.fit.worst is not None
    assert worst[1] == clearance_text(new.fit.worst.clearance).replace("below ", "< ")
    assert worst[2] == clearance_text(new.fit.worst.worst_case).replace("below ", "< ")


@pytest.mark.parametrize(
    ("move", "units", "trade", "text"),
    [
        (57.15, "mm", False, "57.1 mm outboard"),
        (-44.4, "mm", False, "44.4 mm inboard"),
        (0.01, "mm", False, "not moved"),
        (-57.15, "in", False, "2.25 in inboard"),
        (57.15, "in", True, "2 1/4 in outboard"),
        (0.1, "in", True, "not moved"),
    ],
)
def test_moves_in_words(move: float, units: str, trade: bool, text: str) -> None:
    assert moved_text(move, units, trade=trade) == text


def test_heights_have_a_sign_but_not_zero() -> None:
    assert [height_text(z, "mm") for z in (-60.0, 0.0, 35.0)] == ["-60 mm", "0 mm", "+35 mm"]
    assert height_text(0.2, "in") == "0 in"


# ---------------------------------------------------------------- views


def test_old_is_dashed_and_hatched_new_is_solid_and_filled() -> None:
    old, new = pair()
    ax = axes()
    with look():
        drawn = front_section(ax, new, old)
    patches = [artist for artist in drawn if isinstance(artist, PathPatch)]
    by_edge = {name: [p for p in patches if color(p.get_edgecolor()) == name] for name in (LIGHT.old, LIGHT.new)}
    assert all(by_edge.values())
    assert all(p.get_linestyle() not in ("-", "solid") and color(p.get_facecolor()) is None for p in by_edge[LIGHT.old])
    assert all(p.get_linestyle() in ("-", "solid") and color(p.get_facecolor()) is not None for p in by_edge[LIGHT.new])
    assert any(p.get_hatch() for p in patches if color(p.get_edgecolor()) == LIGHT.old_hatch)


def luminance(name: str) -> float:
    """Relative luminance of an sRGB colour. Source: W3C, WCAG 2.1, definition of relative luminance."""
    channels = [int(name[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.03928 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio, 1 to 21. Source: W3C, WCAG 2.1, definition of contrast ratio."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


every_theme = pytest.mark.parametrize("theme", THEMES.values(), ids=THEMES)


@every_theme
def test_text_stands_out_from_its_ground(theme: Theme) -> None:
    """At least 4.5 : 1 (WCAG 2.1, success criterion 1.4.3)."""
    for text in (theme.ink, theme.quiet, theme.old, theme.new):
        for ground in (theme.paper, theme.panel):
            assert contrast(text, ground) >= 4.5, (text, ground)
    assert contrast(theme.alarm_text, theme.alarm) >= 4.5


@every_theme
def test_lines_stand_out_and_old_and_new_differ_without_colour(theme: Theme) -> None:
    """Outlines at least 3 : 1 (WCAG 2.1, 1.4.11); old, new and the fills apart in lightness too."""
    for line in (theme.old, theme.new, theme.part):
        assert contrast(line, theme.panel) >= 3.0
    assert contrast(theme.new, theme.new_tire) >= 3.0
    assert contrast(theme.old, theme.new_tire) >= 3.0
    assert contrast(theme.old, theme.new) >= 1.8
    assert contrast(theme.new_tire, theme.new_wheel) >= 1.5
    nearer_to_ink = [contrast(each, theme.panel) for each in (theme.new, theme.old)]
    assert nearer_to_ink[0] > nearer_to_ink[1]


def test_themes_differ_in_nothing_but_colour() -> None:
    light, dark = (compare_sheet(*pair(), theme=theme) for theme in THEMES.values())
    assert said(light) == said(dark)
    assert [ax.get_xlim() for ax in light.axes] == [ax.get_xlim() for ax in dark.axes]
    assert all(color(ax.get_facecolor()) == THEMES["dark"].panel for ax in dark.axes if ax.axison)


def test_outboard_is_right_and_forward_is_left_or_down() -> None:
    new = pair()[1]
    front, plan, side = axes(), axes(), axes()
    with look():
        front_section(front, new)
        plan_view(plan, new, lock_fraction=1.0)
        side_view(side, new, travel=0.0)
    assert front.get_xlim()[0] < front.get_xlim()[1]
    assert front.get_ylim()[0] < front.get_ylim()[1]
    assert plan.get_xlim()[0] < plan.get_xlim()[1]
    assert plan.get_ylim()[0] > plan.get_ylim()[1]
    assert side.get_xlim()[0] > side.get_xlim()[1]
    for ax, compass in ((front, "outboard ▶"), (plan, "front ▼   outboard ▶"), (side, "◀ front")):
        assert compass in [text.get_text() for text in ax.texts]


def test_the_smallest_clearance_of_a_view_is_marked() -> None:
    new = pair()[1]
    ax = axes()
    with look():
        front_section(ax, new, travel=AXLE.bump)
    marked = [t for t in ax.texts if t.get_bbox_patch() and color(t.get_bbox_patch().get_facecolor()) == LIGHT.alarm]
    near = nearest_places(new, placed(new, "bump")[1], FRONT)
    least = min(near, key=lambda each: each.entry.clearance)
    assert [t.get_text() for t in marked] == [f"{least.entry.obstacle}\n{clearance_text(least.entry.clearance)}"]


def test_outlines_stand_where_the_pose_puts_them() -> None:
    new = pair()[1]
    at = placed(new, None)[1]
    upper = meridian(new.fit.tire, at, FRONT, 1)
    centre = 790.0 + NEW.spacer.thickness - NEW.wheel.offset
    assert upper[:, 1].max() == pytest.approx(30.0 + new.stance.overall_diameter / 2, abs=1.5)
    assert upper[:, 0].mean() == pytest.approx(centre - 300 * np.sin(np.radians(1.1)), abs=6.0)
    rim = circle(0.0, 200.0, at, SIDE)
    assert np.ptp(rim[:, 0]) == pytest.approx(400.0, abs=0.5)


def test_the_caliper_stands_on_its_side_of_the_axle() -> None:
    new = made(NEW, replace(AXLE, obstacles=(RING, LIP)))
    ax = axes()
    with look():
        drawn = front_section(ax, new)
    fills = [p for p in drawn if isinstance(p, PathPatch) and color(p.get_facecolor()) == LIGHT.part_fill]
    rings = [p for p in fills if p.get_path().vertices[:, 1].min() > 100]
    assert rings, "a ring at clock 60 to 130 is cut above the axle"


def test_arms_are_drawn_faintly_where_they_stand() -> None:
    from fitment.parts.axle import LinkSuspension

    points = {
        "lower_inner_front": (195.0, 372.0, -109.0),
        "lower_inner_rear": (-215.0, 366.0, -117.0),
        "lower_ball": (7.0, 700.0, -133.0),
        "upper_inner_front": (118.0, 424.0, 183.0),
        "upper_inner_rear": (-142.0, 418.0, 169.0),
        "upper_ball": (-14.0, 640.0, 215.0),
        "tie_inner": (128.0, 381.0, -82.0),
        "tie_outer": (142.0, 715.0, -95.0),
    }
    axle = replace(AXLE, suspension=LinkSuspension("double_wishbone", -0.5, 0.05, tuple(points.items())))
    axle = replace(axle, obstacles=(LIP,))
    old, new = made(OLD, axle, build="old"), made(NEW, axle)
    figure = compare_sheet(old, new)
    faint = [[line for line in ax.lines if line.get_alpha() is not None] for ax in figure.axes]
    arms = 2 * 3  # two cases; two arms and a tie rod
    assert [len(each) for each in faint[1:6]] == [2 * arms, arms, 0, arms, arms]  # both corners, bump, closest, plans
    lowest: Any = faint[1][3].get_xydata()
    assert lowest[0] == pytest.approx([372.0, -109.0])
    knuckle = new.fit.poses.motions["knuckle"]
    at = placed(new, None)[1].index
    assert lowest[1] == pytest.approx((knuckle[0][at] @ points["lower_ball"] + knuckle[1][at])[1:])
    assert "arms and rods" in said(figure)
    assert "arms and rods" not in said(sheet("compare", "mm"))


# ---------------------------------------------------------------- odd vehicles


@pytest.mark.slow
@pytest.mark.parametrize(
    "axle",
    [
        replace(AXLE, obstacles=()),
        replace(AXLE, obstacles=(TUB, LIP, RING, HORN)),
        replace(AXLE, steering=None, suspension=TapeSuspension(camber=-0.2), ride_heights=()),
        replace(AXLE, ride_heights=tuple((f"height {i}", 10.0 * i) for i in range(7))),
        replace(AXLE, brake=None, obstacles=(BALL,)),
    ],
    ids=["no obstacles", "solid panel and ring", "does not steer", "seven ride heights", "no arch"],
)
def test_odd_vehicles_are_drawn(axle: Axle) -> None:
    new = made(NEW, axle)
    old = made(replace(OLD, ride=30.0), axle)
    figure = compare_sheet(old, new)
    assert render(figure, "png")[:4] == b"\x89PNG"
    for other in (check_sheet(new, units="in"), profile_sheet(new.ready, None)):
        assert words(new.ready.profile.name) in said(other)


@pytest.mark.slow
def test_names_are_text_and_nothing_else() -> None:
    hostile = "$\\frac{1}{0}$ <script>\n\t\u4e2d\U0001f600 " + "x" * 200
    axle = replace(AXLE, obstacles=(replace(LIP, name=hostile), HORN))
    new = made(NEW, axle, build=hostile, name=hostile)
    for figure in (compare_sheet(new, new), profile_sheet(new.ready, NEW)):
        assert render(figure, "svg").startswith(b"<?xml")
        assert "$\\frac{1}{0}$ <script>" in said(figure)
    assert words("a\nb\u4e2d", 10) == "a b?"
    assert words("x" * 30, 10) == "x" * 9 + "…"


def test_a_stray_point_is_seen() -> None:
    axle = replace(AXLE, obstacles=(HORN, replace(BALL, points=((-14.0, 640.0, 2000.0),))))
    figure = profile_sheet(made(NEW, axle).ready, NEW)
    side = figure.axes[1]
    assert side.get_ylim()[1] > 2000
    assert "upper ball joint" in [text.get_text() for text in side.texts]


@pytest.mark.slow
def test_low_points_and_the_brake_are_drawn() -> None:
    """A low point by its name at (x, z) and (y, z); one far inboard at the edge with its y; rotor and caliper."""
    low = (LowPoint("sump", "body", (40.0, 0.0, -150.0)), LowPoint("spring eye", "body", (-200.0, 600.0, -120.0)))
    axle = replace(AXLE, low_points=low, obstacles=(LIP,))
    side, front, _ = profile_sheet(made(NEW, axle).ready, NEW).axes[1:4]

    def marks(ax: Any) -> list[tuple[float, float]]:
        return [tuple(float(v[0]) for v in line.get_data()) for line in ax.lines if line.get_marker() in ("v", "<")]

    assert marks(side) == [(40.0, -150.0), (-200.0, -120.0)]
    assert marks(front)[1] == (600.0, -120.0)
    assert marks(front)[0][1] == -150.0
    said_front, said_side = ({text.get_text() for text in ax.texts} for ax in (front, side))
    assert {"sump, y = 0 mm", "spring eye"} <= said_front
    assert {"sump", "spring eye", "rotor", "caliper"} <= said_side
    # from the side the rotor is a circle of its largest radius about the hub, the caliper within its clock range
    edges = [np.array(each.get_path().vertices) for each in side.patches]
    assert any(np.allclose(np.hypot(*edge.T), 150.0, atol=0.5) for edge in edges)
    arcs = [np.column_stack(line.get_data()) for line in side.lines if len(line.get_xdata()) == 25]
    radii = sorted(float(np.hypot(*arc.T).mean()) for arc in arcs)
    assert radii == pytest.approx([110, 160, 160], abs=1.0)  # 80 mm inboard it stands 80 sin 0.5 deg = 0.7 mm lower
    clocks = np.degrees(np.arctan2(*np.concatenate(arcs).T[::-1]))
    assert (clocks.min(), clocks.max()) == pytest.approx(RING.clock, abs=2.0)


def test_every_obstacle_of_a_profile_is_named_in_every_view() -> None:
    figure = sheet("profile", "mm")
    for ax in figure.axes[1:]:
        names = {text.get_text() for text in ax.texts}
        assert {obstacle.name for obstacle in AXLE.obstacles} <= names
        assert "steering axis" in names


def test_labels_stay_apart_when_there_are_many() -> None:
    ax = axes()
    panel = Panel(ax)
    with look():
        from fitment.draw.panel import Area

        panel.fit(Area(np.zeros(2), np.full(2, 300.0)), (10, 10, 10, 10), (False, False))
        for i in range(24):
            panel.wish(f"part {i}\n{i}.0 mm", (150 + 3 * i, 150), "#000000")
        place_labels(panel)
    assert len(ax.texts) == 24
    for a, b in itertools.combinations(panel.boxes, 2):
        assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]


# ---------------------------------------------------------------- files


@pytest.mark.parametrize("suffix", [".png", ".SVG", ".pdf"])
def test_a_picture_is_written_whole(tmp_path: Any, suffix: str) -> None:
    path = tmp_path / f"picture{suffix}"
    save(sheet("check", "mm"), path)
    assert path.read_bytes()[:4] in (b"\x89PNG", b"<?xm", b"%PDF")
    assert [each.name for each in tmp_path.iterdir()] == [path.name]


@pytest.mark.parametrize("path", ["picture.jpg", "picture", "picture.png.exe"])
def test_other_endings_are_refused_with_what_is_allowed(tmp_path: Any, path: str) -> None:
    with pytest.raises(FitmentError, match=r"\.png, \.svg or \.pdf"):
        picture_format(path)
    with pytest.raises(FitmentError, match=r"\.png, \.svg or \.pdf"):
        save(sheet("check", "mm"), tmp_path / path)
    assert not list(tmp_path.iterdir())


def test_a_bundled_profile_can_be_drawn() -> None:
    from fitment import profile
    from fitment.checks.case import ready

    loaded = profile.load_profile("wagon")
    axle = loaded.axle_names[0]
    figure = profile_sheet(ready(loaded, axle), profile.setup(loaded, axle))
    assert loaded.name.split()[0] in said(figure)
    assert float(SMALL) >= 10.3


@pytest.mark.parametrize("count", [20, 300])
def test_lines_made_thick_end_at_their_radius_however_many_there_are(count: int) -> None:
    """The distance of every corner of the outline to the lines, by shapely; arcs are chords, within 0.02 mm of 4."""
    angle = np.linspace(0.0, 2.0, count)
    points = 300.0 * np.stack([np.cos(angle), np.sin(angle)], -1)
    lines = shapely.multilinestrings([shapely.linestrings(pair) for pair in itertools.pairwise(points)])
    outline = thick(lines, 4.0).boundary
    off = shapely.distance(lines, shapely.points(shapely.get_coordinates(outline)))
    assert np.abs(off - 4.0).max() < 0.02
    middles = shapely.line_interpolate_point(outline, np.linspace(0.0, 1.0, 500), normalized=True)
    assert np.abs(shapely.distance(lines, middles) - 4.0).max() < 0.05
