"""The moving picture and the contact sheet: what they go through, that their numbers are the check's, their bytes."""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any, cast

import matplotlib.animation
import numpy as np
import pytest
import shapely
from conftest import run, steered, vehicle, write_profile
from matplotlib.patches import PathPatch
from pictured import (
    AXLE,
    BALL,
    BEAM,
    LIP,
    NEW,
    OLD,
    beam_pair,
    boxes,
    color,
    cut_off,
    made,
    overlapping,
    pair,
    texts,
    too_small,
)
from PIL import Image

from fitment.draw import movie
from fitment.draw.best_of_list import COLUMNS, MOST, Entry, contact_sheet
from fitment.draw.case_parts import ARMS
from fitment.draw.files import render, save
from fitment.draw.movie import FRAME, HOLD, Movie, legs, shots
from fitment.draw.movie_file import gif, movie_format, save_movie
from fitment.draw.style import LIGHT
from fitment.draw.views.closest import turned_in
from fitment.errors import FitmentError
from fitment.parts.obstacles import Obstacle
from fitment.units import clearance_text


@pytest.fixture
def few(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two steps from standstill to standstill, so that a movie is made quickly."""
    monkeypatch.setattr(movie, "PIECE", 2)


def said_in(ax: Any) -> list[str]:
    return [text.get_text() for text in ax.texts if text.get_text()]


def size_of(path: Path) -> tuple[int, int]:
    return Image.open(BytesIO(path.read_bytes())).size


# ---------------------------------------------------------------- the way


def test_every_leg_begins_at_rest_and_together_they_reach_everything() -> None:
    new = pair()[1]
    way = legs(new)
    for leg in way:
        travel, share = leg.places.T
        assert (travel[0], share[0]) == (pytest.approx(30.0), 0.0)
        assert np.all(np.abs(np.diff(travel)) <= 0.35 * np.ptp(travel) + 1e-9)  # slow at both ends
    ends = [(round(float(leg.places[-1, 0]), 6), float(leg.places[-1, 1])) for leg in way]
    worst = new.fit.worst
    assert worst is not None
    assert ends[:4] == [(80.0, 0.0), (-60.0, 0.0), (30.0, 1.0), (30.0, -1.0)]
    assert ends[4][0] == pytest.approx(worst.travel)
    assert len(ends) == 5


def test_a_solid_axle_rolls_instead() -> None:
    new = beam_pair()[1]
    way = legs(new)
    assert [leg.end for leg in way][:4] == [
        "full bump",
        "full droop",
        "the opposite wheel up",
        "the opposite wheel down",
    ]
    opposite = [float(cast(Any, shot.both.new.fit.poses.opposite)[shot.both.new_at.index]) for shot in shots(new, None)]
    assert max(opposite) == pytest.approx(BEAM.bump)
    assert min(opposite) == pytest.approx(BEAM.droop)


def test_it_loops_without_a_jump_and_holds_the_closest_call() -> None:
    old, new = pair()
    found = shots(new, old)
    travel = [shot.both.new_at.travel for shot in found]
    assert abs(travel[-1] - travel[0]) < 6.0  # the last frame is a step before the first
    assert np.abs(np.diff([*travel, travel[0]])).max() < 30.0
    held = [shot for shot in found if shot.duration == HOLD]
    assert len(held) == 1
    worst = new.fit.worst
    assert worst is not None
    at = held[0].both.new_at
    assert [at.travel, at.steer] == pytest.approx([worst.travel, worst.steer], abs=1e-6)
    there = min((e for e in held[0].both.new.fit.clearances if e.pose == at.index), key=lambda e: e.margin)
    assert there.clearance == pytest.approx(worst.clearance, abs=1e-6)
    assert {shot.duration for shot in found} >= {FRAME, HOLD}


def test_both_builds_go_to_the_same_place_within_their_own_travel() -> None:
    old, new = made(OLD, replace(AXLE, bump=40.0), build="old"), pair()[1]
    for shot in shots(new, old):
        assert shot.both.old_at is not None
        assert shot.both.old_at.travel == pytest.approx(min(shot.both.new_at.travel, 40.0), abs=1e-6)


def test_another_kind_of_axle_before_the_swap_is_shown_too() -> None:
    assert len(shots(pair()[1], beam_pair()[0])) == len(shots(pair()[1], None))
    assert len(shots(beam_pair()[1], pair()[0])) == len(shots(beam_pair()[1], None))


def test_without_any_part_there_is_no_closest_call_to_go_to() -> None:
    bare = made(NEW, replace(AXLE, obstacles=()))
    assert [leg.end for leg in legs(bare)] == ["full bump", "full droop", "left lock", "right lock"]
    assert not [shot for shot in shots(bare, None) if shot.duration == HOLD]


# ---------------------------------------------------------------- frames


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.usefixtures("few")
def test_frames_are_legible_and_tell_the_clearance(theme: str) -> None:
    old, new = pair()
    shown = Movie(new, old, theme=theme, date="spring")
    for index in (0, len(shown.shots) - 2):
        shown.show(index)
        assert overlapping(shown.figure) == []
        assert cut_off(shown.figure) == []
        assert too_small(shown.figure) == []
        both = shown.shots[index].both
        at_all = [e for e in both.new.fit.clearances if e.pose == both.new_at.index]
        tightest = min((e for e in at_all if e.obstacle != BALL.name), key=lambda e: e.margin)
        told = said_in(shown.strip)
        assert f"tightest here: {tightest.obstacle}" in told
        assert any(text.endswith((f"→ {clearance_text(tightest.clearance)}", "both below -20 mm")) for text in told)


@pytest.mark.usefixtures("few")
def test_old_is_dashed_and_new_is_solid_in_every_frame() -> None:
    old, new = pair()
    shown = Movie(new, old)
    for index in range(0, len(shown.shots), 5):
        shown.show(index)
        for ax in (panel.ax for _, panel in shown.panels):
            styles: dict[str, set[bool]] = {LIGHT.old: set(), LIGHT.new: set()}
            for patch in ax.patches:
                name = color(patch.get_edgecolor())
                if isinstance(patch, PathPatch) and patch.get_linewidth() > 0 and name in styles:
                    styles[name].add(patch.get_linestyle() in ("-", "solid"))
            assert styles == {LIGHT.old: {False}, LIGHT.new: {True}}


@pytest.mark.usefixtures("few")
def test_the_readout_follows_the_pose_and_tells_a_part_whose_gap_changes() -> None:
    """The ball joint turns with the wheel: its gap is the same in every frame, so it is told apart from the others."""
    shown = Movie(pair()[1])
    values, places = set(), []
    for index, shot in enumerate(shown.shots):
        shown.show(index)
        told = said_in(shown.strip)
        assert f"tightest here: {BALL.name}" not in told
        here = [e for e in shot.both.new.fit.clearances if e.pose == shot.both.new_at.index and e.obstacle != BALL.name]
        if here:  # a pose of the check; others lie between
            assert told[-1] == clearance_text(min(here, key=lambda e: e.margin).clearance)
        values.add(told[-1])
        places.append(shot.words)
    assert {"below -20 mm"} < values
    assert {"at rest", "full bump", "full droop", "left lock", "right lock", "the closest call"} <= set(places)
    assert places[:3] == ["the closest call", "between rest and the closest call", "at rest"]
    assert places[3] == "between rest and full bump"


@pytest.mark.usefixtures("few")
def test_the_first_frame_answers() -> None:
    """A still of the film is its first frame: the deciding gap enlarged beside the whole wheel, and the verdict."""
    old, new = pair()
    shown = Movie(new, old)
    shown.show(0)
    worst, told = new.fit.worst, [text.get_text() for text in texts(shown.figure)]
    assert worst is not None
    assert shown.shots[0].duration == HOLD
    assert {"clears", "tight", "touches"} & set(told) == {new.fit.verdict}
    assert f"gap to {worst.obstacle}" in told
    zoom, (_, whole) = cast(Any, shown.zoom), shown.panels[0]
    times = next(int(text.split()[1]) for text in told if text.startswith("Enlarged "))
    assert whole.per_pt / zoom.panel.per_pt == pytest.approx(times, abs=0.5)
    ends = [np.stack([line.get_xdata(), line.get_ydata()], -1).astype(float).mean(axis=0)
            for line in zoom.panel.ax.lines if line.get_zorder() == 5.8]  # fmt: skip
    assert np.hypot(*(ends[0] - ends[1])) == pytest.approx(abs(worst.clearance), abs=0.05)
    (value,) = (text for text in zoom.panel.ax.texts if re.search("→|both", text.get_text()))
    assert clearance_text(worst.clearance) in value.get_text()
    assert value.get_text().endswith(": overlap") == (worst.clearance < 0)


@pytest.mark.usefixtures("few")
def test_the_enlarged_gap_is_that_of_its_part_in_every_frame() -> None:
    """The least distance in the half plane from the drawn part to the section, by shapely, is the value told."""
    shown = Movie(made(NEW, replace(AXLE, obstacles=(LIP,))))
    zoom = cast(Any, shown.zoom)
    for index in range(0, len(shown.shots), 4):
        shown.show(index)
        case, at = shown.shots[index].both.new, shown.shots[index].both.new_at
        seen = turned_in(case.fit.traces[0], at.index, shapely.box(-400.0, 0.0, 400.0, 600.0))
        gap = min(section.distance(seen) for section in (case.fit.tire, case.fit.wheel))
        (value,) = (text.get_text() for text in zoom.panel.ax.texts if text.get_zorder() == 9)
        assert value.endswith(": overlap") == (gap == 0.0)
        if value == "fender lip: farther away":  # than the window's half width of 44 mm
            assert gap > 44.0
        elif gap > 0:
            assert float(value.removesuffix(" mm")) == pytest.approx(gap, abs=0.15)


@pytest.mark.usefixtures("few")
def test_a_gap_that_is_wide_in_most_frames_is_not_enlarged_but_ringed_in_both_views() -> None:
    """A ball 60 mm above the tire at full bump of 80 mm: at rest and below it is 140 mm away and more."""
    radius = made(NEW, AXLE).stance.overall_diameter / 2
    ball = Obstacle("ball", "ball", ((0.0, 760.0, radius + 80.0 + 60.0 + 10.0),), radius=10.0)
    case = made(NEW, replace(AXLE, obstacles=(ball,)))
    assert case.fit.worst is not None
    assert case.fit.worst.margin > 20.0
    shown = Movie(case)
    assert shown.zoom is None
    assert all(
        title in said_in(panel.ax) for title, (_, panel) in zip(("Front", "From above"), shown.panels, strict=True)
    )
    for index in range(len(shown.shots)):
        shown.show(index)
        told = [words for words in said_in(shown.strip) if words.endswith(" mm") and words[0].isdigit()]
        assert len(told) == 1  # one gap at once
        rings = [artist for _, panel in shown.panels for artist in panel.artists if artist.get_zorder() == 6.6]
        assert len(rings) == 1 or (shown.shots[index].words.endswith("full droop") and not rings)  # far away there


@pytest.mark.usefixtures("few")
def test_arms_are_drawn_in_every_frame() -> None:
    old, new = beam_pair()
    shown = Movie(new, old)
    for index in (0, 3):
        shown.show(index)
        for _, panel in shown.panels:
            assert [line for line in panel.ax.lines if line.get_alpha() == ARMS]


@pytest.mark.usefixtures("few")
def test_a_frame_leaves_nothing_of_the_one_before() -> None:
    shown = Movie(pair()[1])
    first = shown.pixels(0)
    shown.pixels(5)
    assert np.array_equal(shown.pixels(0), first)


@pytest.mark.usefixtures("few")
def test_a_solid_axle_shows_the_other_wheel() -> None:
    old, new = beam_pair()
    shown = Movie(new, old, units="in")
    shown.show(next(i for i, shot in enumerate(shown.shots) if shot.words == "at rest"))
    assert "opposite +1 3/16 in" in said_in(shown.strip)  # both at the ride height of 30 mm = 1.18 in
    assert overlapping(shown.figure) == []


# ---------------------------------------------------------------- files


@pytest.mark.slow
@pytest.mark.usefixtures("few")
def test_a_gif_is_small_loops_for_ever_and_is_the_same_each_time(tmp_path: Path) -> None:
    old, new = pair()
    for name in ("one.gif", "two.gif"):
        save_movie(tmp_path / name, new, old, date="spring")
    content = (tmp_path / "one.gif").read_bytes()
    assert content == (tmp_path / "two.gif").read_bytes()
    picture = cast(Any, Image.open(BytesIO(content)))
    assert picture.size[0] == 700
    assert picture.info["loop"] == 0
    assert picture.n_frames == len(shots(new, old))
    per_frame = len(content) / picture.n_frames
    assert per_frame * len(shots_in_full(new, old)) < 3_000_000
    assert sorted(path.name for path in tmp_path.iterdir()) == ["one.gif", "two.gif"]


def shots_in_full(new: Any, old: Any) -> range:
    """As many frames as a movie has that is not cut short: there and back on every leg."""
    return range(sum(2 * (8 + 1) - 2 for _ in legs(new)))


@pytest.mark.slow
@pytest.mark.usefixtures("few")
def test_a_gif_holds_the_frames_in_their_colours() -> None:
    shown = Movie(pair()[1], theme="dark")
    picture = cast(Any, Image.open(BytesIO(gif(shown))))
    for index in (0, 7):
        picture.seek(index)
        off = np.abs(np.asarray(picture.convert("RGB")).astype(int) - shown.pixels(index).astype(int)).max(axis=-1)
        assert off.mean() < 1.5
        assert np.mean(off > 40) < 0.01


@pytest.mark.parametrize("path", ["movie.avi", "movie", "movie.png"])
def test_other_endings_are_refused(path: str) -> None:
    with pytest.raises(FitmentError, match=r"\.gif or \.mp4"):
        movie_format(path)


def test_mp4_without_a_writer_is_refused_with_words(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(matplotlib.animation.writers, "is_available", lambda _: False)
    with pytest.raises(FitmentError, match=r"nothing on this computer writes MP4 .*write a \.gif"):
        save_movie(tmp_path / "movie.mp4", pair()[1])
    assert list(tmp_path.iterdir()) == []


class Writer(matplotlib.animation.AbstractMovieWriter):
    """Counts what it is given."""

    def __init__(self, fps: int, extra_args: Any) -> None:
        super().__init__(fps=fps)
        assert "yuv420p" in extra_args  # what phones and browsers play

    def setup(self, fig: Any, outfile: Any, dpi: Any = None) -> None:
        super().setup(fig, outfile, dpi)
        self.count = 0

    def grab_frame(self, **more: Any) -> None:
        assert more["facecolor"] is not None
        self.count += 1

    def finish(self) -> None:
        Path(self.outfile).write_bytes(f"{self.count} frames".encode())

    @classmethod
    def isAvailable(cls) -> bool:  # noqa: N802, the library's own name
        return True


@pytest.mark.usefixtures("few")
def test_mp4_is_written_frame_by_frame_where_there_is_a_writer(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setitem(cast(Any, matplotlib.animation.writers)._registered, "ffmpeg", Writer)
    new = pair()[1]
    save_movie(tmp_path / "movie.mp4", new)
    told = sum(shot.duration for shot in shots(new, None))
    assert (tmp_path / "movie.mp4").read_bytes() == f"{told // (FRAME // 2)} frames".encode()


@pytest.mark.usefixtures("few")
def test_a_writer_that_fails_is_told_in_words(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    def fail(self: Writer, **more: Any) -> None:
        raise OSError("Broken pipe")

    monkeypatch.setitem(cast(Any, matplotlib.animation.writers)._registered, "ffmpeg", Writer)
    monkeypatch.setattr(Writer, "grab_frame", fail)
    with pytest.raises(FitmentError, match=r"could not write the MP4 \(Broken pipe\); write a \.gif"):
        save_movie(tmp_path / "movie.mp4", pair()[1])
    assert list(tmp_path.iterdir()) == []


# ---------------------------------------------------------------- contact sheet


def rows(count: int) -> list[tuple[str, str, str, Any]]:
    case = pair()[1]
    verdicts = ("clears", "tight", "touches", "does_not_bolt_on", "not_checked")
    label = f"number one\n{case.fit.setup.tire.code}\n{case.fit.setup.wheel.spec}"
    return [
        (label, verdicts[i % 5], "12.7 mm from tire to fender lip\nat +80 mm, 31° left", case) for i in range(count)
    ]


@pytest.mark.parametrize("count", [1, 3, 4, 5, 12])
def test_candidates_stand_in_their_order_with_verdict_and_limit(count: int) -> None:
    figure = contact_sheet(rows(count), total=40)
    assert too_small(figure) == []
    assert cut_off(figure) == []
    assert overlapping(figure) == []
    told = [text.get_text() for text in texts(figure)]
    assert [text for text in told if text.isdigit()] == [str(i) for i in range(1, count + 1)]
    assert told.count("at +80 mm, 31° left") == count
    assert told.count("clears") == -(-count // 5)
    assert told.count("does not bolt on") == (count + 1) // 5
    best = f"the best {count}" if count > 1 else "the best"
    assert any(f"{best} of 40 candidates" in text for text in told)


def test_pictures_of_candidates_share_one_scale() -> None:
    case, other = pair()
    figure = contact_sheet([Entry("a", "clears", "", case), Entry("b", "tight", "", other)])
    panels = [ax for ax in figure.axes if ax.axison]
    assert (*panels[0].get_xlim(), *panels[0].get_ylim()) == pytest.approx(
        (*panels[1].get_xlim(), *panels[1].get_ylim())
    )
    assert len(panels) == 2


@pytest.mark.slow
def test_a_long_list_is_cut_and_long_words_too() -> None:
    case = made(NEW, replace(AXLE, obstacles=(LIP,)))
    long = [("name " * 40, "touches", "limit " * 60, case)] * (MOST + 3)
    figure = contact_sheet(long, units="in", date="spring")
    assert len([ax for ax in figure.axes if ax.axison]) == MOST
    assert cut_off(figure) == []
    assert overlapping(figure) == []
    widths = {round(ax.bbox.width) for ax in figure.axes if ax.axison}
    assert len(widths) == 1
    assert len([box for box in boxes(figure) if box[0] == "1"]) == 1
    assert MOST % COLUMNS == 0


def test_lengths_of_a_limit_are_turned() -> None:
    told = [text.get_text() for text in texts(contact_sheet(rows(1), units="in"))]
    assert "0.50 in from tire to" in " ".join(told)
    assert "at +3.15 in, 31° left" in told


def test_a_contact_sheet_is_the_same_each_time_and_needs_a_row() -> None:
    assert render(contact_sheet(rows(2)), "png") == render(contact_sheet(rows(2)), "png")
    with pytest.raises(ValueError, match="at least one"):
        contact_sheet([])


# ---------------------------------------------------------------- commands


@pytest.mark.slow
def test_pictures_are_drawn_as_asked(tmp_path: Path) -> None:
    profile = write_profile(tmp_path, steered())
    made_by = ["compare", profile, "measured", "lowered", "--axle", "front"]
    done = run(*made_by, "--out", str(tmp_path / "a.png"), "--view", "closest", "--layout", "banner", "--theme", "dark")
    assert done.exit_code in (0, 1), done.output
    assert size_of(tmp_path / "a.png") == (1600, 800)
    for name in ("b.svg", "c.svg"):
        done = run(*made_by, "--out", str(tmp_path / name), "--date", "spring")
        assert done.exit_code in (0, 1), done.output
    assert (tmp_path / "b.svg").read_bytes() == (tmp_path / "c.svg").read_bytes()
    done = run("check", profile, "--axle", "front", "--view", "motion", "--out", str(tmp_path / "d.png"))
    assert done.exit_code in (0, 1), done.output
    done = run("show", profile, "--theme", "dark", "--date", "spring", "--out", str(tmp_path / "e.png"))
    assert done.exit_code == 0, done.output


@pytest.mark.slow
@pytest.mark.usefixtures("few")
def test_a_moving_picture_is_made_by_either_option(tmp_path: Path) -> None:
    profile = write_profile(tmp_path, vehicle())
    for option in ("--animate", "--out"):
        target = tmp_path / f"{option.strip('-')}.gif"
        done = run("compare", profile, "measured", "lowered", "--axle", "front", option, str(target))
        assert done.exit_code in (0, 1), done.output
        assert f"wrote {target}" in done.stderr
    assert (tmp_path / "animate.gif").read_bytes() == (tmp_path / "out.gif").read_bytes()


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--view", "back", "--out", "x.png"], "view back: there is none of that name"),
        (["--layout", "poster", "--out", "x.png"], "layout poster: there is none of that name"),
        (["--view", "front", "--layout", "sheet", "--out", "x.png"], "view front is not drawn in layout sheet"),
        (["--theme", "blue", "--out", "x.png"], "use light or dark"),
        (["--view", "front"], "--view is for a picture; give --out FILE"),
        (["--layout", "tall", "--out", "x.json"], "--layout is for a picture"),
        (["--view", "front", "--out", "x.gif"], "--view is for a picture"),
        (["--date", "spring"], "--date is for a picture"),
        (["--animate", "x.avi"], ".gif or .mp4"),
        (["--animate", "x.gif", "--out", "y.gif"], "are both moving pictures"),
        (["--animate", "nowhere/x.gif"], "--animate nowhere/x.gif: there is no folder nowhere"),
    ],
)
def test_bad_options_are_refused_before_any_work(options: list[str], told: str, tmp_path: Path) -> None:
    profile = write_profile(tmp_path, vehicle())
    before = set(tmp_path.iterdir())
    done = run("compare", profile, "measured", "lowered", *options, cwd=tmp_path)
    assert done.exit_code == 2
    assert told in done.stderr
    assert "Traceback" not in done.output
    assert set(tmp_path.iterdir()) == before


def test_screen_draws_the_best_of_a_list(tmp_path: Path) -> None:
    profile = write_profile(tmp_path, vehicle())
    listed = tmp_path / "list.csv"
    with listed.open("w", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(["name", "wheel", "tire"])
        for name, offset in (("far out", -60), ("as measured", 0), ("no wheel", None), ("other rim", 10)):
            size = "18" if name == "other rim" else "17"
            wheel = "" if offset is None else f"{size}x8 ET{offset} 5x114.3 CB67.1"
            writer.writerow([name, wheel, "225/45R17 94W XL"])
    target = tmp_path / "sheet.png"
    done = run("screen", profile, str(listed), "--out", str(target), "--theme", "dark")
    assert done.exit_code == 3, done.output  # a row without a wheel
    assert target.read_bytes()[:4] == b"\x89PNG"
    assert size_of(target)[0] == 1600
    listed.write_text("wheel,tire\n18x8 ET0 5x114.3 CB67.1,225/45R17 94W XL\n")
    done = run("screen", profile, str(listed), "--out", str(target))
    assert done.exit_code == 2
    assert "no row of the list can be drawn" in done.stderr


def test_a_figure_that_was_drawn_can_be_saved(tmp_path: Path) -> None:
    save(contact_sheet(rows(1)), tmp_path / "sheet.pdf")
    assert (tmp_path / "sheet.pdf").read_bytes()[:4] == b"%PDF"
