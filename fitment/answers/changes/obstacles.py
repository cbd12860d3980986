"""One part of the body trimmed, rolled or moved away from the wheel."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from fitment.answers.changes.ask import Ask, answered, kept
from fitment.answers.changes.looks import TIGHTEST, traced
from fitment.answers.changes.record import Change
from fitment.answers.changes.search import Lever, Search
from fitment.answers.changes.trials import Bench, Trial, short, tightest, told, with_axle
from fitment.answers.changes.usable import least_usable
from fitment.answers.changes.words import too_close
from fitment.checks.fit import Clearance
from fitment.clearance.trace import Trace, trace_obstacle
from fitment.frames import Array
from fitment.motion.poses import Poses
from fitment.parts.axle import Axle
from fitment.parts.obstacles import Obstacle, Point, laid_like
from fitment.parts.reshaped import shifted_part
from fitment.parts.rework import AWAY, Rework
from fitment.parts.tire import overall_diameter

FARTHEST = 60  # [mm] how far a part is moved
ABOVE = 0.5  # of the tire's radius: a part that far above the hub is tried upwards too
OPENED = AWAY
HOW = " (trim, roll or move it)"
CAUTION = (
    "Checked as if the whole part were moved; trimming it where the wheel comes does the same. A cut or rolled edge "
    "rusts unless it is sealed. Never cut or bend what carries load, such as frame, sill, strut tower or suspension "
    "mount. Local rules may forbid it."
)


def part_changes(bench: Bench, *, misses: bool = True) -> list[Change]:
    """Every part that is too close on its own, worst first; where there are several, all of them together as well.

    misses : as for `answered`
    """
    changes = [_part_change(bench, name, misses) for name in bench.offenders("clears")]
    if len(changes) > 1 and all(change.value is not None and change.achieves != "no_contact" for change in changes):
        changes.append(_together(bench, changes))
    return changes


def _part_change(bench: Bench, name: str, misses: bool) -> Change:
    obstacle = next(o for o in bench.case.fit.obstacles if o.name == name)
    entries = [e for e in bench.case.fit.clearances if e.obstacle == name]
    worst, closest = tightest(entries, "clears", bench.base.setup.ride), told(entries, bench.base.setup.ride)
    assert worst is not None
    assert closest is not None
    why_not = stays(obstacle)
    if why_not:
        return Change(
            "part", f"{name}: trimmed or moved", "nothing", bench.case.fit.verdict, closest, part=name,
            note=f"Not tried, because {why_not}. As it is, {too_close(closest)}.",
        )  # fmt: skip
    return _best_way(bench, name, ways_of(bench, worst), misses)


def _best_way(bench: Bench, name: str, ways: list[str], misses: bool) -> Change:
    """The direction in which the part has to move least, the one that promises most first."""
    asks = [part_ask(bench, name, way) for way in ways]
    asks.sort(key=lambda ask: Search(bench, ask.lever).promised())
    changes = []
    for ask in asks:
        changes.append(answered(bench, ask, misses=misses))
        if changes[-1].achieves in ("clears", "this_part"):
            return changes[-1]
    useful = next((change for change in changes if change.achieves != "nothing"), None)
    if useful is not None:
        return useful
    nearest = max(changes, key=lambda each: -1e9 if each.worst is None else short(each.worst, "clears"))
    return replace(
        nearest,
        what=f"{name}: trimmed, rolled or moved {' or '.join(ways)}",
        note=nearest.note.replace(
            f"Searched {asks[changes.index(nearest)].searched}", f"Searched 1 to {FARTHEST} mm each"
        ),
        checked=sum(change.checked for change in changes),
    )


def stays(obstacle: Obstacle) -> str:
    """Why a part is not one to be trimmed or moved; empty where it is."""
    carriers = set(obstacle.fixed_to) - {"body"}
    if obstacle.shape == "ring" or carriers:
        carrier = "hub" if obstacle.shape == "ring" else sorted(carriers)[0].replace("_", " ")
        return f"it belongs to the {carrier} and not to the body"
    if obstacle.mesh is not None:
        return "it is a scan, which does not tell what of it can be moved or cut"
    if obstacle.shape in ("rod", "ball"):
        return "it is no edge or panel of the body, and the profile does not tell whether it can be moved"
    return ""


def ways_of(bench: Bench, worst: Clearance) -> list[str]:
    """Directions in which a part could go, seen from the place of it that is closest.

    Along y away from the tire's middle, up where it is above the hub, and away from the wheel's centre all round.
    """
    poses, setup = bench.case.fit.poses, bench.base.setup
    from_hub = np.array(worst.point) - poses.origin[worst.pose]
    outboard = from_hub @ poses.spin_axis[worst.pose] > setup.spacer.thickness - setup.wheel.offset
    above = from_hub[2] > ABOVE * overall_diameter(setup.tire) / 2
    return ["outboard" if outboard else "inboard", *(["up"] if above else []), OPENED]


def part_ask(bench: Bench, name: str, way: str) -> Ask:
    """A part of the body moved in a direction, by whole millimetres."""
    base = bench.base
    values = [float(d) for d in range(1, FARTHEST + 1)]
    fit = bench.case.fit
    obstacle = next(o for o in fit.obstacles if o.name == name)

    tight = sorted((e for e in fit.clearances if e.obstacle == name), key=lambda e: short(e, "clears"))[:TIGHTEST]
    tight_poses = fit.poses.at(np.array(sorted({e.pose for e in tight})))

    def traces(i: int, poses: Poses) -> list[Trace]:
        return [trace_obstacle(_shifted(obstacle, fit.axle.hub_face_at, way, values[i]), poses)]

    return Ask(
        "part",
        Lever(
            values,
            lambda i: moved_parts(base, {name: (way, values[i])}),
            traced(bench, lambda i, _names: traces(i, fit.poses)),
            shift=lambda i: values[i],
            part=name,
            bound=traced(bench, lambda i, _names: traces(i, tight_poses)),
        ),
        part=name,
        sought=f"{name}: trimmed, rolled or moved {way}",
        searched=f"1 to {FARTHEST} mm {way}",
        unit="mm",
        present=0.0,
        name=lambda i: f"{values[i]:g} mm {way}",
        what=lambda i: f"{name} {values[i]:g} mm {way}{HOW}",
        effects=lambda _i, _case: {},
        apply=lambda i: {"obstacle": name, "direction": way, "by_mm": values[i], "move": _move(way, values[i])},
        caution=CAUTION,
    )


def moved_parts(trial: Trial, by: Mapping[str, tuple[str, float]]) -> Trial:
    """The trial with parts of the body moved, in every variant of the axle alike.

    by : name -> direction and how far [mm]
    """

    def shifted(axle: Axle) -> Axle:
        parts = (_shifted(o, axle.hub_face_at, *by[o.name]) if o.name in by else o for o in axle.obstacles)
        return replace(axle, obstacles=tuple(parts))

    axle = shifted(trial.ready.axle)
    variants = [shifted(v.axle) for v in trial.ready.variants]
    alike = [replace(v, obstacles=tuple(map(laid_like, v.obstacles, axle.obstacles))) for v in variants]
    return with_axle(trial, axle, alike)


def _shifted(obstacle: Obstacle, centre: Point, way: str, by: float) -> Obstacle:
    return shifted_part(obstacle, _rework(way, by), centre)


def moved_point(points: Array, centre: Point, way: str, by: float) -> Array:
    """Where points of a part are once it is moved (k, 3) [mm].

    points : (k, 3) [mm]; centre : of the hub face, body frame [mm]; by : how far [mm]
    Source: `reshaped.shifted_part`.
    """
    whole = Obstacle("", "edge", tuple((x, y, z) for x, y, z in points.tolist()))
    return np.array(_shifted(whole, centre, way, by).points).reshape(-1, 3)


def _rework(way: str, by: float) -> Rework:
    """A direction and how far [mm], as a build moves a part."""
    if way == OPENED:
        return Rework(away=by)
    return Rework(up=by) if way == "up" else Rework(out=by if way == "outboard" else -by)


def _move(way: str, by: float) -> dict[str, float]:
    """The same as a build's `move` has it."""
    return {key: value for key, value in vars(_rework(way, by)).items() if value and key != "cuts"}


def _together(bench: Bench, each: list[Change]) -> Change:
    """All of the parts moved, each as far as it alone needs: a part's clearances do not depend on the others."""
    before = bench.checked
    case, moved = bench.case, {}
    for change in each:
        name, step = change.part, (str(change.apply["direction"]), float(str(change.value)))
        moved[name] = moved_parts(bench.base, {name: step})
        case = bench.with_part(name, bench.against(moved[name], {name}), case)
    case = bench.told(case, moved)
    use, why = least_usable(each)
    entry = told(case.fit.clearances, bench.base.setup.ride)
    words = "; ".join(change.what.removesuffix(HOW) for change in each)
    return Change(
        "parts_together", f"all of these parts: {words}", "clears" if kept(case) else "nothing",
        case.fit.verdict, entry, value=words, caution=CAUTION, use=use, use_why=why,
        checked=bench.checked - before, apply={"obstacles": [dict(change.apply) for change in each]},
    )  # fmt: skip
