"""The moving drawing of one axle as plain data for the page's script.

Points stand in the body frame ("b") or in the hub's ("h") where they do not move there, else in the body frame pose
by pose ("p"); millimetres, millimetre tenths or hundredths are enough for a drawing. Clearances keep the four digits
of the contract's JSON. What is alike in all poses, or in both builds, is written once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import shapely

from fitment.answers.handover import Subject
from fitment.answers.slider_poses import Moved, SliderMotion, place_of, rest_place
from fitment.checks.case import Case
from fitment.checks.fit import Approach
from fitment.checks.posed_case import AnyCase
from fitment.clearance.trace import corners, laid_out, place, to_hub
from fitment.draw.projection import FRONT, PLAN, View
from fitment.draw.suspension_lines import members_of
from fitment.frames import Array
from fitment.motion.poses import Poses
from fitment.parts.obstacles import Obstacle, Part, fixed_to_hub
from fitment.parts.scan import coarser
from fitment.parts.solid_panel import fill_of
from fitment.report import rounded

Pair = tuple[str, Part]
"""An obstacle, and what it could meet"""
TENTHS = 10_000  # of a micrometre in a millimetre: steps between clearances are whole ones
STILL = 0.01  # [mm] a point that moves less stands
NAMED = 75.0  # [mm] nearest places farther away than this are not drawn
MARGINS = {"front": (60.0, 60.0, 90.0, 30.0), "plan": (60.0, 60.0, 60.0, 60.0)}  # [mm] left, right, above, below
LEAST_WIDTH = 0.72  # of its height, so that a view beside the other stays as tall as a screen
SCAN_TRIANGLES = 1200  # of a scan as it is drawn
AROUND = 24  # points round a circle when the area of a view is sought


def moving_json(subject: Subject) -> dict[str, Any]:
    """Everything that the script draws and says: sliders, cases, rows of clearances, areas of the views."""
    old, new, there = subject.old, subject.new, subject.moved
    letters, pairs = letters_of(old, new), row_pairs(old, new)
    fixed = _fixed_rows(subject.cases, pairs)
    rides = {rounded(travel): name for name, travel in reversed(new.fit.axle.ride_heights)}
    cases = [_case_json(moved, moved is not there[-1], letters, pairs) for moved in there]
    return {
        "motions": [_motion_json(motion, new) for motion in subject.motions],
        "mirrored": new.fit.axle.sides == ("right",),
        "rides": [rides.get(rounded(float(travel)), "") for travel in subject.motions[0].levels[0]],
        "cases": [*(_apart(was, cases[-1]) for was in cases[:-1]), cases[-1]],
        "pairs": [[part, name] for name, part in pairs],
        "letters": [letters[name] for name, _ in pairs],
        "asked": [_asked(old, new, pair) for pair in pairs],
        "fixed": [row for row, pair in enumerate(pairs) if pair in fixed],
        "open": _opening(subject, fixed),
        "shown": [None if place is None else list(place) for place in (_shown(there[-1], new, pair) for pair in pairs)],
        "views": {name: _area(there, view, MARGINS[name]) for name, view in (("front", FRONT), ("plan", PLAN))},
    }


def row_pairs(old: Case | None, new: Case) -> list[Pair]:
    """(obstacle, part) of every row: tightest first as in the new build, then what only the old one has."""
    entries = [entry for case in (new, old) if case is not None for entry in case.fit.worst_each]
    return list(dict.fromkeys((entry.obstacle, entry.part) for entry in entries))


def letters_of(old: Case | None, new: Case) -> dict[str, str]:
    """The letter that stands for each obstacle in the drawing, in the order of the rows."""
    return {name: _letter(i) for i, name in enumerate(dict.fromkeys(name for name, _ in row_pairs(old, new)))}


def _letter(i: int) -> str:
    return (_letter(i // 26 - 1) if i >= 26 else "") + chr(ord("A") + i % 26)


def _motion_json(motion: SliderMotion, new: Case) -> dict[str, Any]:
    travels, *lock_fractions = motion.levels
    return {
        "name": motion.name,
        "kinds": list(motion.kinds),
        "levels": [[rounded(float(t)) for t in travels], *(fractions.tolist() for fractions in lock_fractions)],
        "more": [[rounded(value) for value in place] for place in motion.places[motion.stops :].tolist()],
        "rest": rest_place(motion, new),
    }


def _asked(old: Case | None, new: Case, pair: Pair) -> float | None:
    """The clearance required [mm]: the new build's, or the old one's where only that has the pair."""
    entries = [entry for case in (new, old) if case is not None for entry in case.fit.worst_each]
    return rounded(next(entry.allowance for entry in entries if (entry.obstacle, entry.part) == pair))


def _shown(there: Moved, new: Case, pair: Pair) -> tuple[int, int] | None:
    """Motion and place of the pose in which a pair comes closest in the new build."""
    entry = next((e for e in new.fit.worst_each if (e.obstacle, e.part) == pair), None)
    return None if entry is None else place_of(there, new, entry.pose)


def _fixed_rows(cases: Sequence[Case], pairs: Sequence[Pair]) -> set[Pair]:
    """Pairs that no pose changes and that do not touch; none where there is no other."""
    entries = [entry for case in cases for entry in case.fit.worst_each]
    carried = [{obstacle.name: fixed_to_hub(obstacle) for obstacle in case.fit.obstacles} for case in cases]
    changing = {(e.obstacle, e.part) for e in cases[-1].fit.worst_each if e.clearance < 0}
    changing |= {pair for pair in pairs if not all(still.get(pair[0], True) for still in carried)}
    known = {(entry.obstacle, entry.part) for entry in entries}
    return known - changing if changing else set()


def _opening(subject: Subject, fixed: set[Pair]) -> list[int]:
    """Motion and place in which the new build is tightest, as its headline has it; of what a pose changes."""
    new = subject.new
    for entry in new.fit.worst_each:
        place = None if (entry.obstacle, entry.part) in fixed else place_of(subject.moved[-1], new, entry.pose)
        if place is not None:
            return list(place)
    return [0, rest_place(subject.motions[0], new)]


# ---------------------------------------------------------------- one case


def _case_json(each: Moved, is_old: bool, letters: dict[str, str], pairs: Sequence[Pair]) -> dict[str, Any]:
    case, poses = each.case, each.case.fit.poses
    tire = case.fit.tire
    near, still = _near(case, pairs)
    return {
        "name": case.ready.build,
        "old": is_old,
        "tire": _outline(tire.simplify(0.05)),
        "wheel": _outline(case.fit.wheel.simplify(0.05)),
        "whole": _outline(tire.convex_hull.simplify(0.2)),
        "ground": rounded(case.stance.hub_height, 1),
        "at": [at.tolist() for at in each.at],
        "poses": [
            [*place, *turned]
            for place, turned in zip(
                np.round(poses.origin, 2).tolist(), np.round(_quaternions(poses.rotation), 5).tolist(), strict=True
            )
        ],
        "steer": [rounded(float(s), 2) for s in poses.turned],
        "opposite": None if poses.opposite is None else [rounded(float(t), 2) for t in poses.opposite],
        "gaps": _gaps(case, pairs),
        "near": near,
        "still": still,
        "obstacles": [_obstacle_json(o, poses, letters[o.name]) for o in case.fit.obstacles],
        "brake": _brake_json(case),
        "arms": _arms_json(case),
    }


def _apart(was: dict[str, Any], new: dict[str, Any]) -> dict[str, Any]:
    """What of a case differs from the new one's; parts that are alike by their letter."""
    obstacles = [each["letter"] if each in new["obstacles"] else each for each in was["obstacles"]]
    return {key: value for key, value in was.items() if value != new[key]} | {"obstacles": obstacles}


def _outline(section: shapely.Polygon) -> list[list[float]]:
    return np.round(np.array(section.exterior.coords)[:-1], 2).tolist()


def _quaternions(rotation: Array) -> Array:
    """The vectors of unit quaternions (n, 3) of rotations (n, 3, 3) of less than half a turn."""
    twice = np.sqrt(1.0 + np.trace(rotation, axis1=1, axis2=2))
    across = [rotation[:, i, j] - rotation[:, j, i] for i, j in ((2, 1), (0, 2), (1, 0))]
    return np.stack(across, axis=-1) / (2.0 * twice[:, None])


def _gaps(case: AnyCase, pairs: Sequence[Pair]) -> list[list[int | None] | float | None]:
    """Clearances of every row: one [mm] for all poses, else steps from one pose to the next in TENTHS of a micrometre.

    None where the case has no such pair.
    """
    rows: dict[Pair, list[float | None]] = {}
    for entry in case.fit.clearances:
        gaps = rows.setdefault((entry.obstacle, entry.part), [None] * len(case.fit.poses))
        gaps[entry.pose] = rounded(entry.clearance)
    return [_steps(rows.get(pair)) for pair in pairs]


def _steps(gaps: list[float | None] | None) -> list[int | None] | float | None:
    if gaps is None:
        return None
    if len(set(gaps)) == 1:
        return gaps[0]
    steps, before = list[int | None](), 0
    for gap in gaps:
        whole = before if gap is None else round(gap * TENTHS)
        steps.append(None if gap is None else whole - before)
        before = whole
    return steps


def _near(case: AnyCase, pairs: Sequence[Pair]) -> tuple[list[list[list[float]]], list[list[float]]]:
    """Nearest places: of every pose, and of what is fixed to the hub, the same in all.

    A place is its row, where it is seen (`SIDES` of the script), (y', r) [mm] of the obstacle's core and the section.
    What is tightest in a pose has one wherever it is, the rest only near by.
    """
    row = {pair: i for i, pair in enumerate(pairs)}
    carried = {obstacle.name for obstacle in case.fit.obstacles if fixed_to_hub(obstacle)}
    best: list[dict[str, Approach]] = [{} for _ in range(len(case.fit.poses))]
    for entry in case.fit.clearances:
        here = best[entry.pose]
        if entry.obstacle not in here or entry.urgency < here[entry.obstacle].urgency:
            here[entry.obstacle] = entry
    seen: list[Approach] = []
    for here in best:
        moving = sorted((e for e in here.values() if e.obstacle not in carried), key=lambda e: e.urgency)
        seen += [entry for i, entry in enumerate(moving) if not i or entry.clearance < NAMED]
    near: list[list[list[float]]] = [[] for _ in best]
    for entry, own in zip(seen, _places(case.fit.poses, seen), strict=True):
        near[entry.pose].append([row[entry.obstacle, entry.part], *own])
    fixed = [entry for entry in best[0].values() if entry.obstacle in carried]
    still = zip(fixed, _places(case.fit.poses, fixed), strict=True)
    return near, [[row[entry.obstacle, entry.part], *own] for entry, own in still]


def _places(poses: Poses, entries: Sequence[Approach]) -> list[list[float]]:
    """Where each nearest place is seen, and (y', r) of the obstacle's core and of the section [mm]."""
    if not entries:
        return []
    pose = np.array([entry.pose for entry in entries])
    body = np.array([(entry.point, entry.at_part) for entry in entries]) - poses.origin[pose, None]
    x, y, z = np.moveaxis(body @ poses.rotation[pose], 2, 0)
    front = np.abs(x[:, 0]) <= np.abs(z[:, 0])
    side = 2 * ~front + (np.where(front, z[:, 0], x[:, 0]) < 0)
    plane = np.round(np.stack([y, np.hypot(x, z)], -1).reshape(-1, 4), 1)
    return [[seen, *places] for seen, places in zip(side.tolist(), plane.tolist(), strict=True)]


def _obstacle_json(obstacle: Obstacle, poses: Poses, letter: str) -> dict[str, Any]:
    data: dict[str, Any] = {"letter": letter, "shape": obstacle.shape, "radius": rounded(obstacle.radius, 2)}
    if obstacle.shape == "ring":
        return data | _hub_outline(obstacle.outline, obstacle.clock)
    if obstacle.mesh is not None:
        drawn = coarser(obstacle.mesh, SCAN_TRIANGLES)
        places = _points(place(replace(obstacle, mesh=drawn), poses), poses)
        return data | {"shape": "panel", "points": places, "faces": drawn.faces.tolist(), "solid": None}
    data["points"] = _points(corners(obstacle, poses), poses)
    if obstacle.shape == "panel":
        data |= {"columns": obstacle.columns, "count": len(obstacle.points), "solid": None}
        if obstacle.solid_behind:
            data["solid"] = fill_of(laid_out(obstacle, poses)).pieces.tolist()
    return data


def _points(places: Array, poses: Poses) -> list[list[Any]]:
    """Body-frame points (n, v, 3), each in the frame in which it stands, else pose by pose."""
    hub = to_hub(places, poses)
    entries: list[list[Any]] = []
    for v in range(places.shape[1]):
        for frame, points in (("b", places[:, v]), ("h", hub[:, v])):
            if np.all(np.ptp(points, axis=0) < STILL):
                entries.append([frame, *np.round(points[0], 2).tolist()])
                break
        else:
            entries.append(["p", np.round(places[:, v], 1).tolist()])
    return entries


def _hub_outline(outline: Sequence[tuple[float, float]], clock: tuple[float, float]) -> dict[str, Any]:
    """Something that stands in the hub frame over a clock range, and the half planes of each view it is seen in."""
    first, last = clock

    def covered(angle: float) -> bool:
        return last - first >= 360.0 or (angle - first) % 360.0 <= (last - first) % 360.0

    return {
        "outline": np.round(np.array(outline), 2).tolist(),
        "front": [side for side, angle in ((1, 90.0), (-1, 270.0)) if covered(angle)],
        "plan": [side for side, angle in ((1, 0.0), (-1, 180.0)) if covered(angle)],
    }


def _brake_json(case: AnyCase) -> list[dict[str, Any]]:
    brake = case.fit.axle.brake
    if brake is None:
        return []
    parts = [(brake.rotor.outline, (0.0, 360.0))] if brake.rotor else []
    parts += [(brake.caliper.outline, brake.caliper.clock)] if brake.caliper else []
    return [_hub_outline(outline, clock) for outline, clock in parts if len(outline) > 1]


def _arms_json(case: AnyCase) -> list[list[list[Any]]]:
    """Arms and rods as lines through their hardpoints."""
    axle, poses = case.fit.axle, case.fit.poses
    every = [members_of(axle, poses, pose) for pose in range(len(poses))]
    return [_points(np.stack([arms[i].places for arms in every]), poses) for i in range(len(every[0]))]


# ---------------------------------------------------------------- areas


def _area(there: Sequence[Moved], view: View, margins: tuple[float, float, float, float]) -> list[float]:
    """Left, top, width, height of a view [mm] that holds the wheels in every pose; down the page is positive."""
    angle = np.linspace(0, 2 * np.pi, AROUND, endpoint=False)
    ends = []
    for moved in there:
        y, r = np.array(moved.case.fit.tire.convex_hull.simplify(1.0).exterior.coords).T
        rim = np.stack(
            [np.outer(np.cos(angle), r), np.broadcast_to(y, (AROUND, len(y))), np.outer(np.sin(angle), r)], -1
        )
        poses = moved.case.fit.poses
        body = rim.reshape(-1, 3) @ np.swapaxes(poses.rotation, 1, 2) + poses.origin[:, None]
        page = body[..., [view.across, view.up]] * (1.0, 1.0 if view.up_flipped else -1.0)
        ends += [page.min(axis=(0, 1)), page.max(axis=(0, 1))]
    left, right, above, below = margins
    low, high = np.min(ends, axis=0) - np.array([left, above]), np.max(ends, axis=0) + np.array([right, below])
    more = max(LEAST_WIDTH * (high[1] - low[1]) - (high[0] - low[0]), 0.0)
    low[0], high[0] = low[0] - 0.7 * more, high[0] + 0.3 * more  # most parts are inboard
    return np.round([*low, *(high - low)], 0).tolist()
