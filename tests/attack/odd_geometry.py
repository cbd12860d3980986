"""Vehicles whose geometry is odd: parts on the spin axis, of no length, collinear, huge, tiny; joints that coincide.

Every answer is held against what does not come from the program: the least distance over halved cells
(`tests/reference/mesh.py`), and three rules that hold for any vehicle. One part more makes no verdict better and moves
no other clearance; a vehicle mirrored fore and aft, with its locks exchanged, has the same clearances; a list gives the
verdict of the check.
"""

from __future__ import annotations

import copy
import json
import math
from collections.abc import Callable
from dataclasses import asdict, replace
from random import Random
from typing import Any

import numpy as np
from conftest import HUB_FACE, steered, vehicle
from reference import mesh

from tests.attack.mutations import as_yaml
from tests.attack.trial import Fault, Trial, judged, run_trial, strict_json

Data = dict[str, Any]
Place = list[float]
NEAR = 0.05  # [mm] clearances against the reference
DEPTH, DEEP, SHARE = 0.5, 20.0, 0.1  # [mm] of an overlap: within DEPTH down to DEEP, then within a share
GAP = 0.01  # [mm] that the reference's least may be too large by
SAME = 2e-3  # [mm] the search between the grid's poses stops at 0.04 mm of motion
ORDER = ("does_not_bolt_on", "touches", "tight", "clears")
CHECK = ("check", "v.yaml", "--axle", "front", "--format", "json", "--geometry")
TINY = (1e-9, 1e-6, 1e-3, 0.02)


def _point(rng: Random, spread: float = 420) -> Place:
    """Somewhere round the wheel."""
    return [
        round(rng.uniform(-spread, spread), 2),
        round(HUB_FACE + rng.uniform(-260, 220), 2),
        round(rng.uniform(-spread, spread), 2),
    ]


def _on_axis(rng: Random) -> Place:
    return [0.0, round(HUB_FACE + rng.uniform(-300, 300), 1), 0.0]


def _beside(at: Place, rng: Random, by: float) -> Place:
    return [each + by * rng.choice((-1, 0, 1)) for each in at]


def edge_on_the_axis(rng: Random) -> Data:
    return {"shape": "edge", "points": [_on_axis(rng), _on_axis(rng)]}


def edge_across_the_axis(rng: Random) -> Data:
    a, c = _point(rng), _on_axis(rng)
    return {"shape": "edge", "points": [a, [2 * m - p for m, p in zip(c, a, strict=True)]]}


def edge_along_the_axis(rng: Random) -> Data:
    a = _point(rng)
    return {"shape": "edge", "points": [a, [a[0], a[1] + rng.choice((-1, 1)) * rng.uniform(1e-6, 400), a[2]]]}


def edge_with_its_points_together(rng: Random) -> Data:
    a = _point(rng)
    return {
        "shape": "edge",
        "smooth": rng.random() < 0.5,
        "points": [a, _beside(a, rng, rng.choice((0, *TINY))), _point(rng)],
    }


def edge_there_and_back(rng: Random) -> Data:
    a, b = _point(rng), _point(rng)
    return {"shape": "edge", "smooth": rng.random() < 0.5, "points": [a, b, a, b][: rng.choice((3, 4))]}


def edge_collinear(rng: Random) -> Data:
    a, b = _point(rng), _point(rng)
    shares = sorted(rng.random() for _ in range(rng.randint(3, 9)))
    return {
        "shape": "edge",
        "smooth": rng.random() < 0.7,
        "points": [[p + s * (q - p) for p, q in zip(a, b, strict=True)] for s in shares],
    }


def edge_on_a_circle(rng: Random) -> Data:
    """Every point as near as the others, round the axis or round the tread."""
    radius, y = rng.choice((0.001, 80, 216, 317, 317.5, 330, 450)), HUB_FACE + rng.choice((-60, 0, 115, 0.001))
    turns = sorted(rng.uniform(0, 2 * math.pi) for _ in range(rng.randint(2, 8)))
    return {
        "shape": "edge",
        "smooth": rng.random() < 0.5,
        "points": [[radius * math.cos(t), y, radius * math.sin(t)] for t in turns],
    }


def huge_edge(rng: Random) -> Data:
    z, y = rng.choice((300, 400, 1400)), rng.choice((HUB_FACE, 500, -290))
    return {"shape": "edge", "radius": rng.choice((0, 1, 100)), "points": [[-1900, y, z], [1900, y, z]]}


def panel_of_no_area(rng: Random) -> Data:
    a, b, c = _point(rng), _point(rng), _point(rng)
    shape = rng.randrange(4)
    rows = ([[a, a], [a, a]], [[a, b], [a, b]], [[a, a], [b, b]], [[a, b], [b, a]])[shape]
    if rng.random() < 0.3:
        rows = [*rows, [c, c]]
    return {"shape": "panel", "rows": [[_beside(p, rng, rng.choice((0, 0, *TINY))) for p in row] for row in rows]}


def panel_through_the_axis(rng: Random) -> Data:
    """The spin axis lies in it."""
    a, turn = rng.uniform(10, 400), rng.choice((0, math.pi / 2, rng.uniform(0, math.pi)))
    x, z = a * math.cos(turn), a * math.sin(turn)
    y = HUB_FACE + rng.uniform(-250, 150)
    return {"shape": "panel", "rows": [[[-x, y, -z], [x, y, z]], [[-x, y + 90, -z], [x, y + 90, z]]]}


def panel_square_to_the_axis(rng: Random) -> Data:
    """All of it as far along the axis, its middle on the axis or beside it."""
    a, y = rng.choice((0.01, 50, 300, 900)), HUB_FACE + rng.choice((-400, -200, -116, -115, 115, 116, 300))
    x = rng.choice((0.0, 0.0, 500.0))
    panel: Data = {"shape": "panel", "rows": [[[x - a, y, -a], [x + a, y, -a]], [[x - a, y, a], [x + a, y, a]]]}
    if rng.random() < 0.4:
        panel["solid"] = "behind"
    return panel


def panel_folded(rng: Random) -> Data:
    """Rows that cross or come back on themselves."""
    a, b, c, d = (_point(rng) for _ in range(4))
    panel: Data = {
        "shape": "panel",
        "rows": rng.choice(([[a, b], [d, c], [a, b]], [[a, c], [d, b]], [[a, b, a], [c, d, c]])),
    }
    if rng.random() < 0.4:
        panel["solid"] = "behind"
    return panel


def tiny_panel(rng: Random) -> Data:
    a, by = _point(rng), rng.choice((1e-6, 1e-3, 0.1))
    x, y, z = a
    return {"shape": "panel", "rows": [[a, [x + by, y, z]], [[x, y, z + by], [x + by, y, z + by]]]}


def ball_on_the_axis(rng: Random) -> Data:
    return {"shape": "ball", "radius": rng.choice((0, 1e-6, 30, 100)), "at": _on_axis(rng)}


def ball_at_the_hub(rng: Random) -> Data:
    return {
        "shape": "ball",
        "radius": rng.choice((0, 1)),
        "fixed_to": "knuckle",
        "at": [0, HUB_FACE + rng.choice((0, 1e-9, -100)), 0],
    }


def ball_anywhere(rng: Random) -> Data:
    return {
        "shape": "ball",
        "radius": rng.choice((0, 0.001, 40, 150, 300)),
        "at": _point(rng, rng.choice((100, 500, 1500))),
    }


def rod_of_no_length(rng: Random) -> Data:
    a = _point(rng)
    return {
        "shape": "rod",
        "radius": rng.choice((0, 5, 80)),
        "from": {"fixed_to": "body", "at": a},
        "to": {"fixed_to": rng.choice(("knuckle", "body")), "at": _beside(a, rng, rng.choice((0, *TINY)))},
    }


def rod_on_the_axis(rng: Random) -> Data:
    return {
        "shape": "rod",
        "radius": rng.choice((0, 10)),
        "fixed_to": rng.choice(("body", "knuckle")),
        "from": _on_axis(rng),
        "to": _on_axis(rng),
    }


def odd_ring(rng: Random) -> Data:
    y, r = rng.uniform(-100, 0), rng.choice((0, 1e-6, 100, 190))
    outline = rng.choice(
        (
            [[y, r], [y, r]],
            [[y, r], [y, r + 20]],
            [[y, r], [y - 20, r], [y - 40, r]],
            [[y, r], [y - 20, r + 20], [y - 20, r], [y, r + 20]],
            [[y, r], [y, r + 20], [y - 30, r + 20], [y, r]],
        )
    )
    return {
        "shape": "ring",
        "outline": outline,
        "clock": rng.choice(([0, 360], [10, 10.001], [0, 1e-9], [350, 370], [-90, 90])),
    }


def usual_edge(rng: Random) -> Data:
    return {"shape": "edge", "points": [_point(rng), _point(rng)]}


PARTS: tuple[Callable[[Random], Data], ...] = (
    edge_on_the_axis,
    edge_across_the_axis,
    edge_along_the_axis,
    edge_with_its_points_together,
    edge_there_and_back,
    edge_collinear,
    edge_on_a_circle,
    huge_edge,
    panel_of_no_area,
    panel_through_the_axis,
    panel_square_to_the_axis,
    panel_folded,
    tiny_panel,
    ball_on_the_axis,
    ball_at_the_hub,
    ball_anywhere,
    rod_of_no_length,
    rod_on_the_axis,
    odd_ring,
    usual_edge,
)
AXES: tuple[Data, ...] = (
    {"lower": [0, 700, 0], "upper": [0, 700, 0]},
    {"lower": [0, 700, 0], "upper": [0, 700, 1e-6]},
    {"lower": [0, 700, 0], "upper": [0, 800, 0]},
    {"lower": [-100, 700, 0], "upper": [100, 700, 0]},
    {"lower": [0, 750, -150], "upper": [0, 750, 150]},
    {"lower": [0, 650, -150], "upper": [0, 650.001, -149.999]},
    {"lower": [0, 690, 150], "upper": [0, 690, -150]},
    {"kingpin_inclination": 0, "caster": 0, "offset": 0},
    {"kingpin_inclination": 30, "caster": -15, "offset": 150, "ahead": 40},
)


def odd_part(rng: Random, number: int) -> Data:
    """A part with a name; now and then of another carrier, with an allowance, or not exact."""
    make = rng.choice(PARTS)
    part = {"name": f"{make.__name__.replace('_', ' ')} {number}", "tolerance": rng.choice((0, 0, 3))} | make(rng)
    if part["shape"] not in ("ring", "rod") and rng.random() < 0.2:
        part["fixed_to"] = "knuckle"
    if part["shape"] != "ring" and "radius" not in part and rng.random() < 0.3:
        part["radius"] = rng.choice((1e-6, 2, 25))
    return part


def odd_vehicle(rng: Random) -> Data:
    """The bench vehicle of the tests with odd parts, and one in three with something odd in its motion."""
    data = steered() if rng.random() < 0.6 else vehicle()
    front = data["axles"]["front"]
    del data["builds"]["lowered"]
    kept = front["obstacles"] if rng.random() < 0.3 else []
    front["obstacles"] = kept + [odd_part(rng, number) for number in range(rng.choice((1, 1, 2, 3)))]
    if rng.random() < 0.35:
        for _ in range(rng.choice((1, 2))):
            rng.choice(MOTIONS)(rng, front)
    return json.loads(json.dumps(data))  # type: ignore[no-any-return]  # no list stands in it twice


def _still(rng: Random, front: Data) -> None:
    front["travel"] = {"droop": -rng.choice((0, 1e-6)), "bump": rng.choice((0, 1e-6))}
    front["ride_heights"] = {"level": 0}


def _far(_rng: Random, front: Data) -> None:
    front["travel"] = {"droop": -500, "bump": 500}


def _leaning(rng: Random, front: Data) -> None:
    front["suspension"]["camber"] = rng.choice((-10, -8, 8, 10, 1e-9))
    front["suspension"]["camber_per_100mm"] = rng.choice((-20, -5, 5, 0))
    front["suspension"]["track_per_100mm"] = rng.choice((-60, 0, 60))


def _toed(rng: Random, front: Data) -> None:
    front["suspension"]["toe_in"] = rng.choice((-5, 5, 1e-9))


def _other_axis(rng: Random, front: Data) -> None:
    front["suspension"]["steering_axis"] = copy.deepcopy(rng.choice(AXES))
    front.setdefault("steering", {"lock_left": 30, "lock_right": 30})


def _locks(rng: Random, front: Data) -> None:
    front["steering"] = {"lock_left": rng.choice((1, 30, 75)), "lock_right": rng.choice((1, 30, 75))}


def _limits(rng: Random, front: Data) -> None:
    front.setdefault("steering", {"lock_left": 30, "lock_right": 30})
    front["steer_limit"] = rng.choice(
        (
            [[0, 0]],
            [[-50, 1], [0, 1], [1e-9, 0]],
            [[-50, 0], [50, 1]],
            [[0, 1.0], [0.001, 0.01]],
            [[-49, 0.5], [-48, 1], [-47, 0.5]],
        )
    )


MOTIONS: tuple[Callable[[Random, Data], None], ...] = (_still, _far, _leaning, _toed, _other_axis, _locks, _limits)


# ---------------------------------------------------------------- what must hold


def trial_of(data: Data, *argv: str) -> Trial:
    """A check of a vehicle, or another command with it."""
    return Trial("geometry", argv or CHECK, {"v.yaml": as_yaml(data)})


def examine(rng: Random, data: Data, limit: float) -> tuple[Trial, list[Fault], bool]:
    """One vehicle checked, held against the reference and one of the rules; whether it was answered (else refused)."""
    trial = trial_of(data)
    answer, found = _asked(trial, limit)
    if answer is None:
        return trial, found, False
    found = _consistent(answer) + _against_cells(rng, answer)
    rule = rng.choice((*RULES, ""))
    if not found and rule:
        make, compare = RULES[rule]
        first, second = make(rng, data)
        trial = replace(second, rule=rule, files=second.files | {"first.json": json.dumps(asdict(first))})
        before = answer if first == trial_of(data) else _asked(first, limit)[0]
        after, found = _asked(trial, limit)
        if before is not None and after is not None:
            found = compare(before, after)
    return trial, found, True


def again(trial: Trial, limit: float) -> list[Fault]:
    """A kept one."""
    answer, found = _asked(trial, limit)
    if answer is None or not trial.rule:
        return found or ([] if answer is None else _consistent(answer) + _against_cells(Random(0), answer))
    first = json.loads(trial.files["first.json"])
    before, found = _asked(Trial(**(first | {"argv": tuple(first["argv"])})), limit)
    return found if before is None else RULES[trial.rule][1](before, answer)


def _asked(trial: Trial, limit: float) -> tuple[Data | None, list[Fault]]:
    """The answer, if there is one, and what is wrong with it at sight."""
    outcome = run_trial(trial, limit)
    found = judged(trial, outcome)
    if found or outcome.exit == 2:
        return None, found
    data = strict_json(outcome.stdout)
    return (data[0] if isinstance(data, list) else data), []


def _lowest(answer: Data) -> dict[tuple[str, str], float]:
    best: dict[tuple[str, str], float] = {}
    for entry in answer["clearances"]:
        key = entry["obstacle"], entry["part"]
        best[key] = min(best.get(key, math.inf), entry["clearance_mm"])
    return best


def _consistent(answer: Data) -> list[Fault]:
    """A verdict that its own numbers do not bear out."""
    verdict = answer["verdict"]
    touching = [e for e in answer["clearances"] if e["clearance_mm"] < 0]
    worst = [e for e in answer["clearances"] if e["worst_case_mm"] < 0 or e["margin_mm"] < 0]
    if verdict in ("clears", "tight") and touching:
        return [Fault("silent OK", "geometry: overlaps, and the verdict says none", f"{verdict}: {touching[0]}")]
    if verdict == "clears" and worst:
        return [Fault("silent OK", "geometry: below what is asked, and the verdict clears", f"{worst[0]}")]
    return []


def _against_cells(rng: Random, answer: Data) -> list[Fault]:
    """Tightest poses and a few others of each part against the least over halved cells."""
    found = []
    sections = {part: mesh.Section(outline) for part, outline in answer["sections"].items()}
    poses = answer["poses"]
    for obstacle in answer["obstacles"]:
        if not obstacle["placed"]:  # it goes with the hub, and is held in the half plane
            continue
        for part, section in sections.items():
            rows = {
                (e["travel_mm"], e["steer_deg"]): e["clearance_mm"]
                for e in answer["clearances"]
                if (e["obstacle"], e["part"]) == (obstacle["name"], part)
            }
            ours = np.array([rows.get((p["travel_mm"], p["steer_deg"]), np.nan) for p in poses])
            known = np.flatnonzero(np.isfinite(ours))
            if not len(known):
                continue
            tight = known[np.argsort(ours[known])[:2]]
            chosen = np.unique([*tight, *rng.choices(list(known), k=2)])
            try:
                theirs = mesh.least_by_pose(section, obstacle, poses, chosen, GAP) - obstacle["radius_mm"]
            except AssertionError:  # parallel to the surface, which takes too many cells
                continue
            label = f"{_kind(obstacle['name'])}, {part}"
            found += _misses(label, ours[chosen], theirs, bool(obstacle.get("solid")))
    return found


def _misses(label: str, ours: np.ndarray, theirs: np.ndarray, solid: bool = False) -> list[Fault]:
    """What is more than the reference has, or less; not less of a solid, whose inside the reference does not know."""
    found, kind = [], label.rpartition(",")[0]
    for mine, other in zip(ours, theirs, strict=True):
        allowed = NEAR if other > 0 else DEPTH if other > -DEEP else max(DEPTH, SHARE * -other)
        detail = f"{label}: {mine:.4f}, reference {other:.4f} mm"
        if mine > other + allowed:
            found.append(Fault("silent OK", f"geometry: {kind}, more than there is", detail))
        elif mine < other - allowed - GAP and not (solid and mine < 0):
            found.append(Fault("wrong answer", f"geometry: {kind}, less than there is", detail))
    return found


def _one_more(rng: Random, data: Data) -> tuple[Trial, Trial]:
    more = copy.deepcopy(data)
    more["axles"]["front"]["obstacles"].append(json.loads(json.dumps(odd_part(rng, 99))))
    return trial_of(data), trial_of(more)


def _no_better(before: Data, after: Data) -> list[Fault]:
    """Another part makes no verdict better, and moves nothing."""
    found = []
    was, now = before["verdict"], after["verdict"]
    if {was, now} <= set(ORDER) and ORDER.index(now) > ORDER.index(was):
        found.append(Fault("silent OK", "geometry: one part more, a better verdict", f"{was} -> {now}"))
    lowest = _lowest(after)
    for key, value in _lowest(before).items():
        if abs(lowest[key] - value) > SAME and value > 0:
            mark = f"geometry: one part more moves {_kind(key[0])}"
            found.append(Fault("wrong answer", mark, f"{key}: {value} -> {lowest[key]}"))
    return found


def _kind(name: str) -> str:
    return name.rstrip("0123456789 ")


def _turned(_rng: Random, data: Data) -> tuple[Trial, Trial]:
    """Front to back: x the other way, toe the other way, locks exchanged."""
    other = copy.deepcopy(data)
    front = other["axles"]["front"]
    if "toe_in" in front["suspension"]:
        front["suspension"]["toe_in"] *= -1
    axis = front["suspension"].get("steering_axis", {})
    for point in (axis[key] for key in ("lower", "upper") if key in axis):
        point[0] *= -1
    for key in ("caster", "ahead"):
        if key in axis:
            axis[key] *= -1
    if "steering" in front:
        locks = front["steering"]
        front["steering"] = {"lock_left": locks["lock_right"], "lock_right": locks["lock_left"]}
    for part in front["obstacles"]:
        _turn_round(part)
    return trial_of(data), trial_of(other)


def _the_same(before: Data, after: Data) -> list[Fault]:
    found = []
    lowest = _lowest(after)
    for key, value in _lowest(before).items():
        allowed = NEAR if value > 0 else DEPTH if value > -DEEP else max(DEPTH, -SHARE * value)
        if abs(lowest[key] - value) > allowed:
            mark = f"geometry: mirrored, {_kind(key[0])} differs"
            found.append(Fault("wrong answer", mark, f"{key}: {value} -> {lowest[key]}"))
    if not found and after["verdict"] != before["verdict"] and not _on_an_edge(before):
        detail = f"{before['verdict']} -> {after['verdict']}"
        found.append(Fault("wrong answer", "geometry: mirrored, another verdict", detail))
    return found


def _on_an_edge(answer: Data) -> bool:
    """Whether a number that the verdict hangs on is 0, as far as it is told: what touches exactly may have either."""
    keys = ("clearance_mm", "margin_mm", "worst_case_mm")
    return any(abs(entry[key]) <= NEAR for entry in answer["clearances"] for key in keys)


def _turn_round(part: Data) -> None:
    if part["shape"] == "ring":
        first, last = part["clock"]
        part["clock"] = [180 - last, 180 - first]
    for key in ("points", "rows", "at", "from", "to"):
        if key in part:
            value = part[key]
            _negate(value["at"] if isinstance(value, dict) else value)


def _negate(value: Any) -> None:
    if isinstance(value[0], list):
        for each in value:
            _negate(each)
    else:
        value[0] *= -1


FITTED = (
    ("17x8 ET0 5x114.3 CB67.1", "225/45R17 94W XL"),
    ("18x9.5 ET20 5x114.3 CB67.1", "255/40R18 99Y XL"),
    ("15x6 ET40 5x114.3 CB67.1", "195/65R15 91H"),
)


def _listed(rng: Random, data: Data) -> tuple[Trial, Trial]:
    wheel, tire = rng.choice(FITTED)
    checked = trial_of(data, *CHECK[:-1], "--wheel", wheel, "--tire", tire)
    listed = trial_of(data, "screen", "v.yaml", "l.csv", "--format", "json")
    return checked, replace(listed, files=listed.files | {"l.csv": f"wheel,tire\n{wheel},{tire}\n"}, rows=1)


def _one_verdict(checked: Data, row: Data) -> list[Fault]:
    """A list's row has the verdict of a check of the same wheel and tire."""
    if row["verdict"] == checked["verdict"]:
        return []
    mark = f"geometry: a list says {row['verdict']}, a check {checked['verdict']}"
    return [Fault("silent OK" if row["verdict"] == "clears" else "wrong answer", mark, str(row))]


Rule = tuple[Callable[[Random, Data], tuple[Trial, Trial]], Callable[[Data, Data], list[Fault]]]
RULES: dict[str, Rule] = {
    "one more": (_one_more, _no_better), "mirrored": (_turned, _the_same), "listed": (_listed, _one_verdict),
}  # fmt: skip
