"""Five links: eccentric bolts at their inner ends and links whose length is set, against distances between points.

The reference (`reference/points_solver.py`) knows no rotation: a bolt is an inner end put elsewhere by hand, a longer
link is a longer distance. What the program says of a setting must come out there, toe as the profile gives it.
"""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
import yaml
from click.testing import CliRunner
from reference.points_solver import FIVE_LINK, Corner, PointCloud

from fitment.cli import cli
from fitment.errors import FitmentError, MotionError
from fitment.motion.adjuster_reach import Target, nearest_settings, reachable_alignment
from fitment.motion.adjusters import Setting, adjusted
from fitment.motion.suspension import poses_at_lock_fraction
from fitment.parts.axle import Adjuster, Axle, LinkSuspension

CAMBER = Adjuster("camber bolt", ("lower_rear_body",), eccentric=5.0)
TOE = Adjuster("toe bolt", ("toe_body",), eccentric=4.0)
UPPER = Adjuster("upper front link", ("upper_front_knuckle",), length=(-5.0, 7.0))
NOW = Adjuster("front cam", ("lower_front_body",), eccentric=3.0, now=(90.0,))
TOE_LINK = Adjuster("toe link", ("toe_knuckle",), length=(-6.0, 6.0))
RIDE = 25.0
TRAVEL = {"droop": -60, "bump": 70}


def axle(*adjusters: Adjuster) -> Axle:
    links = LinkSuspension("five_link", FIVE_LINK.camber, FIVE_LINK.toe_in, tuple(FIVE_LINK.points.items()))
    return Axle("rear", links, (0.0, FIVE_LINK.hub_y, 0.0), 310.0, -60.0, 70.0, adjusters=adjusters)


def by_distances(settings: tuple[Setting, ...], adjusters: tuple[Adjuster, ...], travel: float = RIDE) -> Corner:
    """The corner with its inner ends and lengths set by hand; a bolt lies along x, 0 is outboard, 90 up."""
    cloud = PointCloud(FIVE_LINK)
    for setting, adjuster in zip(settings, adjusters, strict=True):
        k = next(k for k, ends in enumerate(FIVE_LINK.rods) if adjuster.moves[0] in ends)
        if adjuster.length:
            cloud.length[k] += setting.length or 0.0
        else:
            angle, radius = math.radians(setting.angles[0]), adjuster.eccentric or 0.0
            now = math.radians(adjuster.now[0]) if adjuster.now else None
            back = (0.0, 0.0) if now is None else (math.cos(now), math.sin(now))
            cloud.inner[k] += [0.0, radius * (math.cos(angle) - back[0]), radius * (math.sin(angle) - back[1])]
    found = cloud.pose(travel, rack=0.0)
    assert found.worst < 1e-9
    return found


@pytest.mark.parametrize(
    "adjusters",
    [(CAMBER, TOE), (UPPER, TOE_LINK), (TOE_LINK, CAMBER, UPPER), (NOW, TOE)],
    ids=["bolts", "links", "both", "measured while set"],
)
def test_reach_against_distances(adjusters: tuple[Adjuster, ...]) -> None:
    known = reachable_alignment(axle(*adjusters), RIDE)
    assert len(known.settings) > 5
    for i in np.random.default_rng(3).choice(len(known.settings), 5, replace=False):
        told = by_distances(known.settings[i], adjusters).angles()
        assert told["toe_in_deg"] == pytest.approx(FIVE_LINK.toe_in, abs=1e-5)
        assert known.camber[i] == pytest.approx(told["camber_deg"], abs=1e-5)
        assert known.caster[i] == pytest.approx(told["caster_deg"], abs=1e-4)


def test_a_toe_bolt_that_does_not_reach_leaves_the_setting_out() -> None:
    """Every turn of a bolt of 1.5 mm is tried by distances: toe is passed only where `reach` tells a setting."""
    small = Adjuster("toe bolt", ("toe_body",), eccentric=1.5)
    told = {settings[0].angles[0] for settings in reachable_alignment(axle(CAMBER, small), RIDE).settings}
    assert 0 < len(told) < 24
    for angle in (0.0, 60.0, 120.0, 180.0, 240.0, 300.0):
        toes = [
            by_distances((Setting("", angles=(angle,)), Setting("", angles=(turn,))), (CAMBER, small)).angles()
            for turn in np.arange(0.0, 360.0, 30.0)
        ]
        values = [each["toe_in_deg"] for each in toes]
        assert (min(values) < FIVE_LINK.toe_in < max(values)) == (angle in told), angle


def test_without_a_toe_adjuster_the_link_takes_any_length() -> None:
    """As on other suspensions: toe is as given and every turn of the camber bolt counts."""
    known = reachable_alignment(axle(CAMBER), RIDE)
    assert len(known.settings) == 24
    made = adjusted(axle(CAMBER), known.settings[7], travel=RIDE)
    assert -float(poses_at_lock_fraction(made, RIDE, 0.0).steer[0]) == pytest.approx(FIVE_LINK.toe_in, abs=1e-9)


def test_settings_for_a_target() -> None:
    """The chosen settings give the target by distances, at rest and, with the same bolts, over the travel."""
    adjusters = (CAMBER, TOE, UPPER)
    known = reachable_alignment(axle(*adjusters), RIDE)
    wanted = float(np.quantile(known.camber, 0.7)), float(np.quantile(known.caster, 0.6))
    choice = nearest_settings(axle(*adjusters), RIDE, Target(*wanted))
    told = by_distances(choice.settings, adjusters).angles()
    assert (told["camber_deg"], told["caster_deg"]) == pytest.approx(wanted, abs=0.05)
    assert told["toe_in_deg"] == pytest.approx(FIVE_LINK.toe_in, abs=1e-5)
    for travel, toe in choice.toe_after[:: len(choice.toe_after) - 1]:
        assert toe == pytest.approx(by_distances(choice.settings, adjusters, travel).angles()["toe_in_deg"], abs=1e-5)


def test_a_toe_bolt_that_is_set_tells_its_toe() -> None:
    """Set by hand it is not re-set; the other way round it follows a camber bolt that is set."""
    both = (Setting("camber bolt", angles=(40.0,)), Setting("toe bolt", angles=(200.0,)))
    made = adjusted(axle(CAMBER, TOE), both, travel=RIDE)
    told = by_distances(both, (CAMBER, TOE)).angles()
    pose = poses_at_lock_fraction(made, RIDE, 0.0)
    assert -float(pose.steer[0]) == pytest.approx(told["toe_in_deg"], abs=1e-5)
    assert float(pose.camber[0]) == pytest.approx(told["camber_deg"], abs=1e-5)
    assert abs(told["toe_in_deg"] - FIVE_LINK.toe_in) > 0.1
    alone = adjusted(axle(CAMBER, TOE), both[:1], travel=RIDE)
    assert -float(poses_at_lock_fraction(alone, RIDE, 0.0).steer[0]) == pytest.approx(FIVE_LINK.toe_in, abs=1e-9)


def test_what_cannot_be_set_is_refused() -> None:
    with pytest.raises(FitmentError, match="-5 to \\+7 mm longer"):
        adjusted(axle(UPPER), [Setting("upper front link", length=9.0)], travel=0.0)
    with pytest.raises(FitmentError, match="sets no length"):
        adjusted(axle(CAMBER), [Setting("camber bolt", length=1.0)], travel=0.0)
    small = Adjuster("toe bolt", ("toe_body",), eccentric=0.3)
    with pytest.raises(MotionError, match="toe bolt does not give the toe"):
        adjusted(axle(CAMBER, small), [Setting("camber bolt", angles=(0.0,))], travel=RIDE)


WRONG = {
    "{moves: lower_rear_knuckle, eccentric: 5}": "sits at an end on the body",
    "{moves: [lower_rear_body, toe_body], eccentric: 5}": "an adjuster of its own",
    "{moves: lower_rear_body, out: [-3, 0, 3]}": "by an `eccentric` at an end on the body, or by a link's `length`",
    "{moves: toe_body, length: [-3, 3]}": "named by its one end on the knuckle",
    "{moves: toe_knuckle, length: [3, -3]}": "the least and the most",
    "{moves: toe_knuckle, length: [-3, 3], eccentric: 4}": "put the other keys in a second adjuster",
}


@pytest.mark.parametrize("text", WRONG)
def test_adjusters_that_five_links_do_not_have(text: str, tmp_path: Path) -> None:
    data = FIVE_LINK.profile(steering=None, travel=TRAVEL, adjusters=[{"name": "a", **yaml.safe_load(text)}])
    (tmp_path / "car.yaml").write_text(yaml.safe_dump(data), encoding="utf-8")
    result = CliRunner().invoke(cli, ["align", str(tmp_path / "car.yaml")])
    assert result.exit_code == 2
    assert WRONG[text] in " ".join(result.stderr.split())


def test_the_command_and_back_into_check(tmp_path: Path) -> None:
    """`align` writes bolts and lengths; `check` stands as they say, to the digits that are told."""
    adjusters = [
        {"name": "rear upper link", "moves": "upper_rear_knuckle", "length": [-6, 6]},
        {"name": "toe bolt", "moves": "toe_body", "eccentric": 4},
    ]
    data = FIVE_LINK.profile(steering=None, travel=TRAVEL, adjusters=adjusters)
    (tmp_path / "car.yaml").write_text(yaml.safe_dump(data), encoding="utf-8")
    car, out = str(tmp_path / "car.yaml"), tmp_path / "settings.json"
    told = CliRunner().invoke(cli, ["align", car, "--camber", "-1.6"])
    assert "mm longer than measured" in told.stdout or "mm shorter than measured" in told.stdout
    CliRunner().invoke(cli, ["align", car, "--camber", "-1.6", "--out", str(out)])
    settings = json.loads(out.read_text(encoding="utf-8"))[0]["settings"]
    more, turn = settings[0]["length_mm"], settings[1]["angles_deg"]["toe_body"]
    link, bolt = Adjuster("", ("upper_rear_knuckle",), length=(-6.0, 6.0)), TOE
    corner = by_distances((Setting("", length=more), Setting("", angles=(turn,))), (link, bolt), 0.0).angles()
    for given in (str(out), f"rear upper link = longer {more}; toe bolt = {turn}"):
        found = CliRunner().invoke(cli, ["check", car, "--settings", given, "--format", "json"])
        data = json.loads(found.stdout)
        stands = (data[0] if isinstance(data, list) else data)["stance"]
        assert stands["camber"] == pytest.approx(corner["camber_deg"], abs=1e-4)
        assert stands["camber"] == pytest.approx(-1.6, abs=0.05)
