"""Pictures of motion, hardpoints and reach: what stands on them, and that it is what the records say."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from functools import lru_cache
from io import BytesIO
from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest
from matplotlib.figure import Figure
from PIL import Image

from fitment.answers import motion_curves as core
from fitment.answers.motion_curves import Curves
from fitment.checks.case import Ready
from fitment.draw.adjuster_reach import reach_sheet, shape_of, state_rows
from fitment.draw.chart import nice_step, scale_of, spread
from fitment.draw.files import LARGE, render, with_palette
from fitment.draw.motion_curves import deviation_text, motion_sheet, note_lines
from fitment.draw.projection import FRONT, on_page
from fitment.draw.sheets import profile_sheet
from fitment.draw.style import LIGHT, SHEET_WIDTH
from fitment.draw.suspension_lines import hardpoints, members_of, rod_lengths
from fitment.motion.suspension import poses_at_lock_fraction
from fitment.parts.axle import Axle, LinkSuspension, Setup, SolidAxle, Steering, TapeSuspension
from fitment.parts.tire_code import parse_tire
from fitment.parts.wheel import parse_wheel

SETUP = Setup(parse_wheel("18x8.5 ET30 5x114.3"), parse_tire("245/45R18"), ride=35.0, ride_name="cruise")
WISHBONES = {
    "lower_inner_front": (195.0, 372.0, -109.0),
    "lower_inner_rear": (-215.0, 366.0, -117.0),
    "lower_ball": (7.0, 700.0, -133.0),
    "upper_inner_front": (118.0, 424.0, 183.0),
    "upper_inner_rear": (-142.0, 418.0, 169.0),
    "upper_ball": (-14.0, 640.0, 215.0),
    "tie_inner": (128.0, 381.0, -82.0),
    "tie_outer": (142.0, 715.0, -95.0),
}
STRUT = {name: WISHBONES[name] for name in ("lower_inner_front", "lower_inner_rear", "lower_ball")} | {
    "strut_top": (-22.0, 560.0, 520.0),
    "strut_axis_point": (2.0, 640.0, 60.0),
    "tie_inner": (-150.0, 330.0, -40.0),
    "tie_outer": (-138.0, 690.0, -50.0),
}
FIVE = {
    "upper_front_body": (130.0, 420.0, 180.0),
    "upper_front_knuckle": (20.0, 690.0, 160.0),
    "upper_rear_body": (-160.0, 430.0, 150.0),
    "upper_rear_knuckle": (-40.0, 690.0, 170.0),
    "lower_front_body": (220.0, 380.0, -60.0),
    "lower_front_knuckle": (30.0, 710.0, -110.0),
    "lower_rear_body": (-180.0, 330.0, -90.0),
    "lower_rear_knuckle": (-60.0, 715.0, -105.0),
    "toe_body": (-210.0, 350.0, -20.0),
    "toe_knuckle": (-170.0, 700.0, -30.0),
}
STEERING = Steering(34.0, 30.0)
AXLE = Axle(
    name="front",
    suspension=LinkSuspension("double_wishbone", -0.5, 0.05, tuple(WISHBONES.items())),
    hub_face_at=(0.0, 794.0, 0.0),
    hub_height=322.0,
    droop=-80.0,
    bump=90.0,
    ride_heights=(("parked", 70.0), ("cruise", 35.0), ("raised", 0.0)),
    steering=STEERING,
)
BEAM = SolidAxle(0.2, 0.05, (80.0, 480.0, 60.0), (80.0, -290.0, 20.0), (4.0, 690.0, -120.0), (-8.0, 672.0, 110.0))
AXLES = {
    "wishbones": AXLE,
    "strut": replace(AXLE, suspension=LinkSuspension("strut", -0.4, 0.05, tuple(STRUT.items()))),
    "five": replace(AXLE, suspension=LinkSuspension("five_link", -1.2, 0.1, tuple(FIVE.items())), steering=None),
    "beam": replace(AXLE, suspension=BEAM),
    "tape": replace(AXLE, suspension=TapeSuspension(-0.5, 0.1, -2.0, 4.0), steering=None, ride_heights=()),
}
LONGER = replace(
    AXLE,
    suspension=LinkSuspension(
        "double_wishbone", -0.2, 0.0, tuple({**WISHBONES, "upper_ball": (-14.0, 655.0, 205.0)}.items())
    ),
)


def prepared(axle: Axle, *, wheelbase: float | None = 2860.0, build: str = "new") -> Ready:
    profile = cast(Any, SimpleNamespace(name="Invented wagon", wheelbase=wheelbase))
    return Ready(profile, build, axle, (), 12.0, cast(Any, None))


@lru_cache(maxsize=16)
def curves(name: str, wheelbase: float | None = 2860.0) -> Curves:
    return core.curves(prepared(AXLES[name], wheelbase=wheelbase), SETUP)


@lru_cache(maxsize=1)
def before() -> Curves:
    return core.curves(prepared(LONGER, build="old"), replace(SETUP, ride=0.0, ride_name="raised"))


HULL = np.array(
    [(-5.0, 4.7), (-5.0, 2.7), (-4.4, 1.4), (-2.6, 1.5), (-1.9, 2.8), (-1.9, 4.8), (-2.5, 6.1), (-4.4, 6.0)]
)
JOINT = [("in", HULL * 0.5 + [-2.0, 1.9]), ("out", HULL * 0.5 + [-1.2, 1.9])]


def reached(**given: Any) -> Figure:
    settings: dict[str, Any] = {
        "hull": HULL,
        "present": (-3.5, 3.8),
        "target": (-1.2, 4.0),
        "best": (-1.9, 3.9),
        "discrete": JOINT,
        "title": "Invented wagon",
        "subtitle": "front axle, new, at parked +70 mm",
        "words": ("upper ball joint: 6 mm out", "lower eccentrics: 90 deg, 105 deg"),
        "units": "mm",
    }
    return reach_sheet(**{**settings, **given})


SHEETS = {
    "motion": lambda units: motion_sheet(curves("wishbones"), units=units),
    "compared": lambda units: motion_sheet(curves("wishbones"), before(), units=units),
    "beam": lambda units: motion_sheet(curves("beam", None), units=units),
    "unsteered": lambda units: motion_sheet(curves("five"), units=units),
    "points": lambda units: profile_sheet(prepared(AXLES["five"]), SETUP, units=units),
    "reach": lambda units: reached(
        units=units, subtitle="front axle", words=("joint: 6 mm out",) if units == "mm" else ("joint: 6.0 mm out",)
    ),
}


@lru_cache(maxsize=32)
def sheet(name: str, units: str) -> Figure:
    return SHEETS[name](units)


def said(figure: Figure) -> str:
    return "\n".join(text.get_text() for ax in figure.axes for text in ax.texts if text.get_text())


every_sheet = pytest.mark.parametrize(("name", "units"), list(itertools.product(SHEETS, ("mm", "in"))))


# ---------------------------------------------------------------- every sheet


@pytest.mark.slow
@every_sheet
def test_texts_are_legible_whole_and_apart(name: str, units: str) -> None:
    figure = sheet(name, units)
    renderer = cast(Any, figure.canvas).get_renderer()
    found = [(text, text.get_window_extent(renderer), ax) for ax in figure.axes for text in ax.texts if text.get_text()]
    for text, box, ax in found:
        assert ax.bbox.x0 - 1 <= box.x0, text.get_text()
        assert box.x1 <= ax.bbox.x1 + 1, text.get_text()
        assert ax.bbox.y0 - 1 <= box.y0, text.get_text()
        assert box.y1 <= ax.bbox.y1 + 1, text.get_text()
        assert float(text.get_fontsize()) / 72 * 700 / SHEET_WIDTH >= 10.0
    for (one, a, _), (other, b, _) in itertools.combinations(found, 2):
        apart = a.x1 <= b.x0 + 1 or b.x1 <= a.x0 + 1 or a.y1 <= b.y0 + 1 or b.y1 <= a.y0 + 1
        assert apart, f"{one.get_text()!r} lies over {other.get_text()!r}"


@every_sheet
def test_units_are_those_asked_for(name: str, units: str) -> None:
    told = said(sheet(name, units))
    if units == "in":
        assert not re.search(r"\bmm\b", told)
    else:
        assert not re.search(r"\d in\b", told)


@pytest.mark.slow
@pytest.mark.parametrize("name", SHEETS)
def test_a_png_is_small_and_the_same_each_time(name: str) -> None:
    first = render(sheet(name, "mm"), "png")
    assert len(first) < LARGE
    assert first == render(SHEETS[name]("mm"), "png")
    assert b"Software" not in first


# ---------------------------------------------------------------- png


def test_a_palette_changes_no_colour_that_can_be_seen() -> None:
    figure = sheet("compared", "mm")
    cast(Any, figure.canvas).draw()
    pixels = np.asarray(cast(Any, figure.canvas).buffer_rgba())
    picture = with_palette(pixels, 256)
    off = np.abs(np.asarray(picture.convert("RGB")).astype(int) - pixels[:, :, :3].astype(int)).max(axis=-1)
    assert off.mean() < 0.5
    assert np.mean(off > 16) < 2e-4
    for color in (LIGHT.paper, LIGHT.panel):
        rgb = tuple(int(color[i : i + 2], 16) for i in (1, 3, 5))
        assert rgb in set(map(tuple, _colors(picture)))


def _colors(picture: Image.Image) -> Any:
    return np.asarray(picture.getpalette()).reshape(-1, 3).tolist()


def test_a_png_keeps_its_size_on_paper() -> None:
    picture = Image.open(BytesIO(render(sheet("reach", "mm"), "png")))
    assert picture.size[0] == 1600
    assert picture.mode == "P"
    assert picture.info["dpi"] == pytest.approx((160, 160), abs=0.1)


# ---------------------------------------------------------------- motion


def test_numbers_at_the_ride_heights_are_written_on() -> None:
    found, told = curves("wishbones"), said(sheet("motion", "mm")).split("\n")
    for name, travel in (*found.rides, ("droop", -80.0), ("bump", 90.0)):
        assert any(line.startswith(f"{name} ") for line in told)
        assert f"{found.at(found.camber, travel) + 0.0:.2f}°" in told
        assert f"{found.at(found.toe_in, travel) + 0.0:.2f}°" in told
    assert f"{found.at(found.half_track_change, 70.0):+.1f} mm" in told


def test_both_builds_are_written_when_compared() -> None:
    new, old, told = curves("wishbones"), before(), said(sheet("compared", "mm")).split("\n")
    for case in (old, new):
        assert f"{case.at(case.camber, 70.0):.2f}°" in told
    assert "front axle, old → new: how the wheel moves, double wishbone" in told


def test_the_drawn_curve_is_the_computed_one() -> None:
    found = curves("wishbones")
    ax = sheet("motion", "mm").axes[1]
    drawn = [np.stack(line.get_data(), -1) for line in ax.lines]
    assert any(
        len(d) == len(found.travel) and np.allclose(d, np.stack([found.camber, found.travel], -1)) for d in drawn
    )


def test_old_curves_are_dashed_and_new_ones_solid() -> None:
    ax = sheet("compared", "mm").axes[1]
    curved = [line for line in ax.lines if len(np.asarray(line.get_xydata())) > 9]
    styles = {
        color: {str(line.get_linestyle()) for line in curved if line.get_color() == color}
        for color in (LIGHT.old, LIGHT.new)
    }
    assert styles == {LIGHT.old: {"--"}, LIGHT.new: {"-"}}


def test_the_deviation_from_the_ideal_is_told() -> None:
    found = curves("wishbones")
    assert found.steer is not None
    assert found.steer.deviation is not None
    told = deviation_text([found])
    assert told.startswith(f"outer wheel {found.steer.deviation[-1]:.1f}° beyond the ideal")
    assert told in said(sheet("motion", "mm"))
    assert any("2860 mm" in line for line in note_lines(found, None, "mm"))
    both = deviation_text([before(), found])
    assert both.count("→") == 2


def test_deviations_of_both_signs_carry_them() -> None:
    found = curves("wishbones")
    assert found.steer is not None
    assert found.steer.ideal is not None
    short = replace(found, steer=replace(found.steer, outer=found.steer.ideal - 1.0))
    assert deviation_text([short]).startswith("outer wheel 1.0° short of the ideal")
    assert "→ -1.0° from the ideal" in deviation_text([found, short])


def test_without_a_wheelbase_the_ideal_is_not_drawn() -> None:
    assert "not drawn: the profile has no wheelbase" in said(sheet("beam", "mm"))
    assert "not drawn" not in said(sheet("motion", "mm"))


def test_without_a_rack_the_assumption_is_said() -> None:
    assert "the left one's steer" in said(sheet("beam", "mm"))
    assert "equally far on the way to their lock" in said(sheet("beam", "mm"))
    assert "both wheels level" in said(sheet("beam", "mm"))


def test_an_axle_that_does_not_steer_has_no_steering_charts() -> None:
    assert "Steer of both wheels" not in said(sheet("unsteered", "mm"))
    assert "Steer of both wheels" in said(sheet("motion", "mm"))


@pytest.mark.slow
@pytest.mark.parametrize("name", AXLES)
def test_every_kind_is_drawn(name: str) -> None:
    assert render(motion_sheet(curves(name), before(), units="in"), "png")[:4] == b"\x89PNG"


def test_many_ride_heights_close_together_stay_readable() -> None:
    axle = replace(AXLE, ride_heights=tuple((f"height {i}", 4.0 * i) for i in range(7)))
    figure = motion_sheet(core.curves(prepared(axle), SETUP), before())
    texts = [t for t in figure.axes[1].texts if "height" in t.get_text()]
    heights = sorted(t.get_window_extent().y0 for t in texts)
    assert len(texts) == 7
    assert min(np.diff(heights)) > 14


def test_a_lock_out_of_reach_is_left_out() -> None:
    found = curves("wishbones")
    assert found.steer is not None
    gone = np.full_like(found.steer.right, np.nan)
    steer = replace(found.steer, right=gone, outer=np.full_like(found.steer.outer, np.nan))
    told = said(motion_sheet(replace(found, steer=steer)))
    assert "left 3" in told
    assert "right" not in told.replace("Right wheel", "")


def test_a_beam_with_one_wheel_moved_alone_rolls() -> None:
    """Hand calculation without a panhard bar: the wheel leans by the beam's roll, whose sine is the difference in
    height over the distance between the hub faces; the hub face comes in as the beam tilts about its middle."""
    free = replace(AXLE, suspension=SolidAxle(0.3, 0.05))
    found = core.curves(prepared(replace(free, steering=None)), SETUP)
    assert found.alone is not None
    apart = found.travel - SETUP.ride
    roll = np.degrees(np.arcsin(apart / (2 * 794.0)))
    assert found.alone.camber == pytest.approx(0.3 - roll, abs=2e-3)
    assert found.alone.hub_face == pytest.approx(np.sqrt(794.0**2 - (apart / 2) ** 2), abs=1e-6)
    assert found.camber == pytest.approx(np.full_like(found.travel, 0.3))  # both wheels level: nothing leans
    assert curves("wishbones").alone is None


def test_the_sheet_of_a_beam_shows_both_ways_to_move() -> None:
    found = curves("beam", None)
    told, ax = said(sheet("beam", "mm")), sheet("beam", "mm").axes[1]
    assert {"both wheels", "this one alone"} <= set(told.split("\n"))
    assert "Thin: this (left) wheel alone, the other one at its ride height; the beam rolls." in told
    assert "this one alone" not in said(sheet("motion", "mm"))
    drawn = [np.stack(line.get_data(), -1) for line in ax.lines]
    assert found.alone is not None
    rolled = np.stack([found.alone.camber, found.travel], -1)
    assert any(len(d) == len(rolled) and np.allclose(d, rolled) for d in drawn)


@pytest.mark.parametrize("old", ["wishbones", "beam"])
def test_a_beam_is_compared_with_any_kind(old: str) -> None:
    assert "this one alone" in said(motion_sheet(curves("beam"), curves(old)))
    assert "this one alone" not in said(motion_sheet(curves("wishbones"), curves("beam")))


# ---------------------------------------------------------------- hardpoints


@pytest.mark.parametrize("name", ["wishbones", "strut", "five", "beam"])
def test_every_hardpoint_is_named_in_its_views_and_listed(name: str) -> None:
    axle = AXLES[name]
    figure = sheet("points", "mm") if name == "five" else profile_sheet(prepared(axle), SETUP)
    names = {point.replace("_", " ") for point in hardpoints(axle)}
    views = [ax for ax in figure.axes if any(t.get_text().startswith("Hardpoints") for t in ax.texts)]
    assert len(views) == 3
    for ax in views:
        assert names <= {text.get_text().replace("\n", " ") for text in ax.texts}
        assert "steering axis" in {text.get_text() for text in ax.texts}
    listed = [text.get_text() for text in figure.axes[-1].texts]
    for place in hardpoints(axle).values():
        assert {f"{value:.1f}" for value in place} <= set(listed)
    for rod, length in rod_lengths(axle):
        assert rod in listed
        assert f"{length:.1f}" in listed


def test_a_vehicle_without_hardpoints_has_no_such_views() -> None:
    assert "Hardpoints" not in said(profile_sheet(prepared(AXLES["tape"]), SETUP))


def test_a_mistyped_hardpoint_is_seen() -> None:
    points = {**WISHBONES, "upper_inner_rear": (-142.0, 418.0, 1690.0)}
    axle = replace(AXLE, suspension=LinkSuspension("double_wishbone", -0.5, 0.05, tuple(points.items())))
    figure = profile_sheet(prepared(axle), SETUP)
    assert figure.axes[1].get_ylim()[1] > 1690
    view = next(ax for ax in figure.axes if any(t.get_text() == "Hardpoints from the front" for t in ax.texts))
    assert view.get_ylim()[1] > 1690


@pytest.mark.parametrize("name", ["wishbones", "strut", "five"])
def test_arms_keep_their_length_in_every_pose(name: str) -> None:
    axle = AXLES[name]
    share = [0.0, 0.0, 0.0] if axle.steering is None else [0.0, 1.0, -1.0]
    poses = poses_at_lock_fraction(axle, [-80.0, 30.0, 90.0], share)
    still = {member.name: member for member in members_of(axle, poses_at_lock_fraction(axle, 0.0, 0.0), 0)}
    for index in range(3):
        for member in members_of(axle, poses, index):
            if member.name == "strut":
                continue  # it slides
            before_it = np.linalg.norm(np.diff(still[member.name].places, axis=0), axis=1)
            assert np.linalg.norm(np.diff(member.places, axis=0), axis=1) == pytest.approx(before_it, abs=1e-6)


def test_arms_lean_as_the_wheel_rises() -> None:
    low, high = (members_of(AXLE, poses_at_lock_fraction(AXLE, z, 0.0), 0)[0].places for z in (0.0, 90.0))
    assert high[0] == pytest.approx(low[0])
    assert on_page(high, FRONT)[1, 1] > on_page(low, FRONT)[1, 1] + 60


def test_the_panhard_bar_is_mirrored_for_the_right_corner() -> None:
    from fitment.motion.solid_axle import solid_axle_poses

    level = np.zeros(1)
    for corner, side in (("left", 1.0), ("right", -1.0)):
        poses = solid_axle_poses(AXLES["beam"], BEAM, level, level - 0.05, level, corner=corner)
        bar = members_of(AXLES["beam"], poses, 0)[1]
        assert bar.ends == ("panhard_body", "panhard_axle")
        assert bar.places[:, 1] == pytest.approx([side * 480.0, side * -290.0])


# ---------------------------------------------------------------- reach


def test_the_reach_tells_its_numbers() -> None:
    told = said(reached())
    for text in ("as it stands\n-3.50°, 3.80°", "target out of reach\n-1.20°, 4.00°", "chosen settings\n-1.90°, 3.90°"):
        assert text in told
    assert state_rows((-3.5, 3.8), (-1.2, 4.0), (-1.9, 3.9))[-1] == ("still missing", "+0.70°", "+0.10°")
    assert {"in", "out"} <= set(told.split("\n"))


def test_a_target_that_is_met_says_so() -> None:
    met = said(reached(target=(-2.5, 4.0), best=(-2.51, 4.0)))
    assert "target\n-2.50°, 4.00°\nreached with\n-2.51°, 4.00°" in met
    assert state_rows((-3.5, 3.8), (-2.5, 4.0), (-2.51, 4.0))[3] == ("chosen settings", "-2.51°", "4.00°")
    steps = said(reached(target=(-2.5, 4.0), best=(-2.7, 4.0)))
    assert "target\n-2.50°, 4.00°" in steps
    assert "reached with" not in steps


@pytest.mark.parametrize(("target", "told"), [((-2.0, None), "camber -2.00°"), ((None, 5.0), "caster 5.00°")])
def test_one_angle_alone_may_be_wanted(target: Any, told: str) -> None:
    text = said(reached(target=target, best=(-2.0, 5.0)))
    assert f"target\n{told}\nreached with\n-2.00°, 5.00°" in text
    assert "as it comes" in text


@pytest.mark.parametrize(
    "given",
    [
        {"target": None, "best": None},
        {"hull": HULL[:1], "discrete": [], "target": None, "best": None},
        {"hull": HULL[:2], "discrete": [("in", HULL[:1]), ("out", HULL[1:2])]},
        {"hull": np.array([(-2.0, 1.0), (-1.5, 1.0), (-1.0, 1.0)]), "discrete": []},
        {"present": (4.0, -3.0), "words": ()},
        {"discrete": [(f"position {i}", HULL + 0.05 * i) for i in range(9)], "title": "x" * 200, "subtitle": "y" * 200},
    ],
    ids=["no target", "a point", "two points", "a line", "far off", "many positions"],
)
def test_odd_regions_are_drawn(given: dict[str, Any]) -> None:
    figure = reached(**given)
    assert "as it stands" in said(figure)
    assert render(figure, "svg").startswith(b"<?xml")


def test_shapes_of_few_vertices() -> None:
    assert shape_of(HULL).area > 1
    assert shape_of(HULL[:2]).geom_type == "LineString"
    assert shape_of(HULL[0]).geom_type == "Point"


# ---------------------------------------------------------------- scales


@pytest.mark.parametrize(
    ("least", "step"), [(0.9, 1.0), (1.0, 1.0), (1.1, 2.0), (2.2, 2.5), (26.0, 50.0), (0.03, 0.05)]
)
def test_steps_are_round(least: float, step: float) -> None:
    assert nice_step(least) == pytest.approx(step)


def test_a_scale_holds_what_is_known_and_is_never_too_fine() -> None:
    scale = scale_of([np.array([1.0, np.nan, 3.0])], least=1.0, most_ticks=5)
    assert (scale.low, scale.high) == pytest.approx((0.88, 3.12))
    flat = scale_of([np.full(3, 0.05)], least=0.4, most_ticks=4)
    assert flat.high - flat.low >= 0.4
    assert (flat.low + flat.high) / 2 == pytest.approx(0.05)
    assert scale_of([np.full(2, np.nan)], least=1.0, most_ticks=4).low < 0


def test_names_spread_where_they_would_touch() -> None:
    assert spread([0.0, 10.0, 20.0], 5.0, 0.0, 20.0) == [0.0, 10.0, 20.0]
    assert spread([9.0, 10.0, 11.0], 4.0, 0.0, 20.0) == pytest.approx([6.0, 10.0, 14.0])
    assert spread([0.0, 1.0, 2.0], 4.0, 0.0, 20.0) == pytest.approx([0.0, 4.0, 8.0])
    assert spread([18.0, 19.0, 20.0], 4.0, 0.0, 20.0) == pytest.approx([12.0, 16.0, 20.0])
    tight = spread([1.0, 1.0, 1.0, 1.0], 10.0, 0.0, 9.0)
    assert tight == pytest.approx([0.0, 3.0, 6.0, 9.0])
