"""One checked build, and two of them compared, as text, JSON and CSV."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from fitment.report.common import (
    VERDICT_WORDS,
    angle_text,
    axle_json,
    bolt_on_json,
    both_units,
    case_words,
    corner_words,
    head_json,
    measure_text,
    overlap_text,
    pose_words,
    records_csv,
    rounded,
    table,
    wrapped,
)
from fitment.report.in_service import (
    is_short_in_service,
    open_in_service,
    service_cell,
    service_json,
    service_lines,
    service_words,
)
from fitment.report.readings import assumed_words, effects_json, slip_lines, source_lines, usual_json
from fitment.report.road_changes import (
    cover_json,
    ground_json,
    ground_lines,
    removal_json,
    road_json,
    road_lines,
)
from fitment.report.scan_places import place_line, scan_place, with_side
from fitment.report.where_short import where_json, where_lines, where_of
from fitment.units import DEEP, clearance_text, in_units, length_text

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.answers.comparison import Comparison
    from fitment.checks.bolt_on import BoltOn
    from fitment.checks.case import Case
    from fitment.checks.fit import Clearance, Fit
    from fitment.checks.full_case import FullCase
    from fitment.parts.obstacles import Obstacle
    from fitment.parts.rework import Rework

WITH_THIS_BUILD = "With this build"
IF_TIRE_HAS = {"rim_protector": "no rib beside the rim", "shoulder": "a usual shoulder, not a square one"}
LOOK_AT = {"rim_protector": "the sidewall beside the rim", "shoulder": "the edge of the tread"}
TELL = {"rim_protector": "rim_protector: false", "shoulder": "shoulder: usual"}
SAME_GAP = 0.05  # [mm] between two gaps below which they read alike
CHANGE_WORDS = {
    "ride": "ride height (travel at rest)",
    "hub_face": "hub face, outward",
    "outer_face": "outer wheel face, outward",
    "inner_face": "inner wheel face, outward",
    "tire_outer": "tire's outer side, outward",
    "tire_inner": "tire's inner side, outward",
    "track": "track at the ground",
    "overall_diameter": "overall diameter",
    "section_width": "section width",
    "backspacing": "backspacing",
    "hub_height": "hub above ground",
    "scrub_radius": "scrub radius",
    "mechanical_trail": "mechanical trail",
}


def case_json(case: FullCase, *, geometry: bool = False) -> dict[str, Any]:
    """The contract's `check` object."""
    fit = case.fit
    data: dict[str, Any] = {
        **head_json(case),
        "reworked": [_rework_json(name, rework) for name, rework in case.ready.reworked],
        "verdict": fit.verdict,
        "worst": None if fit.worst is None else _closest_json(fit.worst, case),
        "clearances": _clearances_json(case),
        "at_rest": [approach_json(entry) for entry in fit.at_rest.values()],
        "hangs_on": [list(keys) for keys in case.hangs_on],
        "bolt_on": [bolt_on_json(check) for check in fit.bolt_on],
        "not_checked": [{"obstacle": name, "reason": reason} for name, reason in fit.not_checked],
        "usual_tolerance": usual_json(case.ready),
        "assumed": effects_json(case),
        "in_service": service_json(fit),
        "straight_ahead": None if case.straight_ahead is None else clearance_json(case.straight_ahead),
        "baseline_overlaps": list(case.ready.baseline_touches),
        "change": {name: rounded(value) for name, value in case.change.items()},
        "stance": {name: rounded(value) for name, value in vars(case.stance).items()},
        "ground": ground_json(case.ground),
        "cover": cover_json(case.cover),
        "removal": removal_json(case.removal),
        "road": road_json(case.road),
        "cautions": cautions_json(case),
    }
    if len(fit.axle.sides) == 1:
        for entry in (*data["clearances"], *data["at_rest"], *filter(None, (data["worst"], data["straight_ahead"]))):
            entry["corner"] = fit.axle.sides[0]
        data["sides_differ"] = list(case.unlike)
    if geometry:
        data |= _geometry_json(case)
    return data


def _rework_json(name: str, rework: Rework) -> dict[str, Any]:
    """How far the build moves a part, and what it takes off it, at which end of a panel."""
    move = {way: rounded(by) for way in ("out", "ahead", "up", "away") if (by := getattr(rework, way))}
    cuts = [{"end": cut.end, "by_mm": rounded(cut.by)} for cut in rework.cuts]
    return {"obstacle": name, "move_mm": move, "trim": cuts, "what": f"{name} {rework.words}"}


def cautions_json(case: FullCase) -> list[str]:
    """What the build causes, what holds for every build, what the readings ask, what was assumed."""
    return [*case.caused, *case.standing, *case.cautions, *(f"assumed: {words}" for words in case.assumptions)]


def approach_json(entry: Clearance) -> dict[str, Any]:
    """One obstacle, part and pose, and what is left of the gap; of an axle that is not symmetric also the corner and
    the opposite wheel. A number deeper than DEEP is rough: within a tenth."""
    more: dict[str, Any] = {"rough": True} if min(entry.clearance, entry.worst_case) < -DEEP else {}
    if entry.opposite is not None:
        more |= {"corner": entry.corner, "opposite_mm": rounded(entry.opposite)}
    return more | {
        "obstacle": entry.obstacle,
        "part": entry.part,
        "travel_mm": rounded(entry.travel),
        "steer_deg": rounded(entry.steer, 6),
        "clearance_mm": rounded(entry.clearance),
        "worst_case_mm": rounded(entry.worst_case),
        "allowance_mm": rounded(entry.allowance),
    }


def clearance_json(entry: Clearance) -> dict[str, Any]:
    """The same with its margin, and the place of the part that is nearest, in the body."""
    return approach_json(entry) | {
        "margin_mm": rounded(entry.margin),
        "point_mm": [rounded(x) for x in entry.point],
    }


def _clearances_json(case: FullCase) -> list[dict[str, Any]]:
    """Every entry; where an obstacle and part come closest also where they fall short, null where they do not.

    Where service is counted also the clearance in service, null where it cannot be the least of its part.
    """
    closest = set(map(id, case.fit.worst_each))
    told = [
        _closest_json(entry, case) if id(entry) in closest else clearance_json(entry) for entry in case.fit.clearances
    ]
    for entry, left in zip(told, case.fit.in_service.entries if case.fit.in_service else (), strict=False):
        entry["in_service_mm"] = rounded(left)
    return told


def _closest_json(entry: Clearance, case: FullCase) -> dict[str, Any]:
    place = scan_place(entry, case.fit, "mm")
    told = clearance_json(entry) | {"where_short": where_json(where_of(case, entry))}
    return told | {"place": place} if place else told


def _geometry_json(case: Case) -> dict[str, Any]:
    fit, poses = case.fit, case.fit.poses
    return {
        "poses": [
            {
                "travel_mm": rounded(poses.travel[k]),
                "steer_deg": rounded(poses.turned[k], 6),
                "origin_mm": [rounded(x, 6) for x in poses.origin[k]],
                "rotation": [[rounded(x, 12) for x in row] for row in poses.rotation[k]],
            }
            for k in range(len(poses))
        ],
        "sections": {
            "tire": [[rounded(y, 6), rounded(r, 6)] for y, r in fit.tire.exterior.coords],
            "wheel": [[rounded(y, 6), rounded(r, 6)] for y, r in fit.wheel.exterior.coords],
        },
        "obstacles": [_obstacle_json(obstacle, case) for obstacle in fit.obstacles],
    }


def _obstacle_json(obstacle: Obstacle, case: Case) -> dict[str, Any]:
    data: dict[str, Any] = {"name": obstacle.name, "shape": obstacle.shape, "radius_mm": rounded(obstacle.radius)}
    if obstacle.mesh is not None:  # once: it moves with its carrier, and holds very many triangles
        return data | {
            "fixed_to": obstacle.fixed_to[0], "placed": [], "vertices_mm": obstacle.mesh.vertices.round(6).tolist(),
            "faces": obstacle.mesh.faces.tolist(),
        }  # fmt: skip
    if obstacle.shape == "ring":
        return data | {
            "placed": [],
            "outline_mm": [list(p) for p in obstacle.outline],
            "clock_deg": list(obstacle.clock),
        }
    if obstacle.mesh is not None:
        return data | {"placed": [], "triangles": len(obstacle.mesh.faces)}
    from fitment.clearance.trace import corners, place

    placed = place(obstacle, case.fit.poses)
    if obstacle.shape == "ball":
        return data | {"placed": [[rounded(x, 6) for x in pose[0]] for pose in placed]}
    if obstacle.shape != "panel":
        return data | {"placed": [[[rounded(x, 6) for x in point] for point in pose] for pose in placed]}

    def rows(points: Any, step: int) -> list[Any]:
        return [[[rounded(x, 6) for x in point] for point in points[i : i + step]] for i in range(0, len(points), step)]

    solid, columns = "behind" if obstacle.solid_behind else None, obstacle.columns
    data |= {"solid": solid, "placed": [rows(pose, columns) for pose in placed]}
    if obstacle.solid_behind:
        # three for each triangle: those at corners (i, j), (i, j+1), (i+1, j+1) of all cells, then the others
        sheet = placed.shape[1]
        data["filled_to"] = [rows(pose[sheet:], 3) for pose in corners(obstacle, case.fit.poses)]
    return data


def compare_json(both: Comparison) -> dict[str, Any]:
    """Two builds of one axle and what differs between them."""
    old, new = both.old, both.new
    return {
        "profile": new.ready.profile.name,
        **axle_json(new.fit.axle.name),
        "verdict": new.fit.verdict,
        "old": case_json(old),
        "new": case_json(new),
        "differences": {name: rounded(value) for name, value in both.change.items()},
        "road": road_json(both.road),
    }


def verdict_words(case: Case, units: str) -> str:
    """What limits the fit, in a sentence."""
    failed = [check for check in case.fit.bolt_on if check.status == "fail"]
    if not failed:
        limit = _with_service(case, clearance_words(case, units), units)
        return ". ".join(filter(None, (limit, hangs_words(getattr(case, "hangs_on", ())))))
    words = [f"{check.item}: {in_units(check.detail, units)}" for check in failed]
    overlaps = [
        f"{entry.part} overlaps {entry.obstacle} by {overlap_text(entry.clearance, units)}"
        for entry in case.fit.worst_each
        if entry.clearance < 0
    ]
    return "; ".join([*words, *([f"and besides, {', '.join(overlaps)}"] if overlaps else [])])


def _with_service(case: Case, words: str, units: str) -> str:
    """What limits as measured and in service, what decides first; where something overlaps anyway that alone."""
    served = "" if case.fit.clearance_verdict == "touches" else service_words(case.fit, units)
    both = (served, f"as measured, {words}") if case.fit.is_tight_in_service else (words, served)
    return (
        ". ".join(filter(None, both)).replace(". in service", ". In service").replace(". as measured", ". As measured")
    )


def clearance_words(case: Case, units: str) -> str:
    """What limits, in a sentence; what else comes closer, and what overlaps in the worst case."""
    fit, worst = case.fit, case.fit.worst
    if worst is None:
        return "no part near the wheel was checked"
    asked = f"{length_text(worst.allowance, units)} required"
    where = f"{pose_words(worst, units)}; {asked}"
    if worst.clearance < 0:
        return f"{worst.part} overlaps {with_side(worst, fit)} by {overlap_text(worst.clearance, units)} at {where}"
    nearest = min(fit.clearances, key=lambda c: c.clearance)
    alone = nearest.clearance > worst.clearance - SAME_GAP
    words = f"{worst.part} to {with_side(worst, fit)}, {clearance_text(worst.clearance, units)} at {where}"
    words = f"tightest: {words}" if alone else f"tightest against what is required: {words}"
    if not alone:
        words += f". Smallest gap: {nearest.part} to {nearest.obstacle}, {clearance_text(nearest.clearance, units)}"
    against = min(fit.clearances, key=lambda c: c.worst_case)
    if against.worst_case < 0:
        words += (
            f"; but in the worst case {against.part} and {against.obstacle} overlap by "
            f"{overlap_text(against.worst_case, units)}"
        )
    return words


def hangs_words(alternatives: Sequence[Sequence[str]]) -> str:
    """What a verdict hangs on that nobody told of the tire, and where to look; empty where it does not."""
    if not alternatives:
        return ""
    joined = " or ".join(" and ".join(IF_TIRE_HAS[key] for key in keys) for keys in alternatives)
    told = list(dict.fromkeys(key for keys in alternatives for key in keys))
    look, key = (" and ".join(words[key] for key in told) for words in (LOOK_AT, TELL))
    return f"It clears if the tire has {joined}: look at {look}, and tell it ({key})"


def left_open(case: FullCase, units: str) -> str:
    """What the verdict leaves open, and the checks against the ground and of the bodywork that are not settled."""
    words = [
        *filter(
            None,
            (
                *(in_units(each, units) for each in (case.ready.usual_words, case.ready.scan_words)),
                assumed_words(case, units),
            ),
        ),
        open_words(case.fit),
    ]
    words += open_checks("ground and bodywork", case.on_ground)
    words += [f"not checked: {left}" for left in [in_units(open_in_service(case.fit), units)] if left]
    if case.near_barrel:
        words.append(f"assumed, not measured: the inside of the barrel, next to {', '.join(case.near_barrel)}")
    return "; ".join(words)


def open_words(fit: Fit) -> str:
    """What the verdict leaves open: parts left out, and the bolt-on checks that are not settled."""
    words = [f"not checked: {', '.join(name for name, _ in fit.not_checked)}"] if fit.not_checked else []
    return "; ".join([*words, *open_checks("bolt-on", fit.bolt_on)]) or "nothing in the bolt-on checks is open"


def open_checks(group: str, checks: Sequence[BoltOn]) -> list[str]:
    """Which checks of a group are not settled, in words."""
    words = []
    for status, what in (("caution", "caution"), ("not_checked", "not checked")):
        items = [check.item for check in checks if check.status == status]
        if items:
            words.append(f"{group}, {what}: {', '.join(items)}")
    return words


def case_text(case: FullCase, units: str = "mm", *, last: bool = True, sure: str = "") -> str:
    """Verdict, what limits it, the table, the bolt-on checks, the change, the cautions.

    last : of the axles that are told; what holds for every build is told with it
    sure : how likely it clears and what to measure next, a sentence, where that is to be said
    """
    fit = case.fit
    head = f"{VERDICT_WORDS[fit.verdict]}  {fit.axle.name}, build {case.ready.build}: {case_words(case, units)}"
    parts = [wrapped(head, first="", rest="  "), wrapped(verdict_words(case, units), first="  ", rest="  ")]
    parts += [wrapped(sure, first="  ", rest="  ")] if sure else []
    parts += [wrapped(left_open(case, units), first="  ", rest="  "), ""]
    parts[1:1] = slip_lines([case.ready], units)
    if fit.clearances:
        parts += [table(clearance_rows(fit, units)), *_table_notes(case, units), ""]
        parts += [*where, ""] if (where := where_lines(case, units)) else []
        parts += [*served, ""] if (served := service_lines(fit, units)) else []
    parts += ["Bolt-on", *(_bolt_on_line(c, units) for c in fit.bolt_on), ""]
    parts += ["Ground and bodywork", *ground_lines(case, units, _bolt_on_line), ""]
    moved = _change_table(case, units)
    if moved:
        parts += [f"Against the baseline ({case.ready.profile.baseline})", moved, ""]
    parts += ["On the road", *road_lines(case.road, units, case.ready.profile.baseline), ""]
    parts += [*unlike, ""] if (unlike := unlike_lines(case, units)) else []
    return "\n".join([*parts, *_small_print(case, units, last=last)])


def unlike_lines(case: FullCase, units: str) -> list[str]:
    """How the sides of an axle differ, and what that means."""
    lines = [wrapped(in_units(line, units), first="  ", rest="    ") for line in case.unlike]
    return ["The sides differ", *lines] if lines else []


def _small_print(case: FullCase, units: str, *, last: bool) -> list[str]:
    """What the build causes, cautions, and what was assumed."""
    words = []
    if case.caused:
        words += [WITH_THIS_BUILD, *(wrapped(in_units(line, units)) for line in case.caused), ""]
    standing = case.standing if last else ()
    words += ["Cautions", *(wrapped(in_units(caution, units)) for caution in (*standing, *case.cautions))]
    if case.assumptions:
        words += ["", "Assumed (a figure measured and written in the profile replaces it)"]
        words += [wrapped(in_units(assumption, units)) for assumption in case.assumptions]
    return words


def _table_notes(case: Case, units: str) -> list[str]:
    """What a person can check: where a tape finds the gaps at rest, and from which reading each part came."""
    ride = length_text(case.fit.setup.ride, units, digits=0, sign=True)
    rest = f"  at rest: straight ahead at travel {ride}, where a tape can check it"
    places = [line for entry in case.fit.worst_each for line in place_line(entry, case.fit, units)]
    return [rest, *places, "", "Where the parts come from", *source_lines(case.ready)]


def clearance_rows(fit: Fit, units: str) -> list[tuple[str, ...]]:
    """Heading and cells: every obstacle and part where it comes closest; remarks in the last column."""
    served = ("in service",) if fit.in_service else ()
    rows: list[tuple[str, ...]] = [
        ("closest approach", "clearance", "at rest", "required", "worst case", *served, "travel", "steer", "")
    ]
    for c in fit.worst_each:
        mark = "worst case" if c.worst_case < 0 else "in service" if is_short_in_service(fit, c) else ""
        mark = "overlap" if c.clearance < 0 else "below required" if c.margin < 0 else mark
        rows.append(
            (
                f"{c.part} - {c.obstacle}",
                clearance_text(c.clearance, units),
                clearance_text(fit.at_rest[c.obstacle, c.part, c.corner].clearance, units),
                length_text(c.allowance, units),
                clearance_text(c.worst_case, units),
                *(service_cell(fit, c, units) for _ in served),
                length_text(c.travel, units, digits=0, sign=True),
                angle_text(c.steer, 1),
                ", ".join(filter(None, (mark, corner_words(c, units)))),
            )
        )
    return rows


def _bolt_on_line(check: BoltOn, units: str, *, tape: bool = False) -> str:
    words = f"{check.item}: {in_units(check.detail, units, tape=tape)}"
    return wrapped(words, first=f"  {check.status.replace('_', ' '):<12}", rest=" " * 14)


def _change_table(case: Case, units: str) -> str:
    rows = [
        (CHANGE_WORDS[name], *both_units(name, value, units))
        for name, value in case.change.items()
        if abs(value) >= 0.05
    ]
    return table(rows) if rows else ""


def compare_text(both: Comparison, units: str = "mm", *, last: bool = True) -> str:
    """The verdict of the new build, then a table of both; last : as for `case_text`."""
    old, new = both.old, both.new
    parts = []
    for label, case in (("old", old), ("new", new)):
        head = f"{label}  {VERDICT_WORDS[case.fit.verdict]}  {case.ready.build}: {case_words(case, units)}"
        parts += [
            wrapped(head, first="", rest="     "),
            wrapped(verdict_words(case, units), first="     ", rest="     "),
        ]
    head = f"{VERDICT_WORDS[new.fit.verdict]}  {new.fit.axle.name}: {old.ready.build} -> {new.ready.build}"
    rests_on = in_units("; ".join(new.ready.rests_on), units)
    parts += [wrapped(rests_on, first="     ", rest="     ")] if rests_on else []
    parts = [head, *slip_lines([new.ready], units), "", *parts, "", table(stance_rows(both, units)), ""]
    parts += [table(both_clearance_rows(both, units)), ""]
    parts += [*service, ""] if (service := service_lines(new.fit, units)) else []
    parts += ["Bolt-on, new build", *(_bolt_on_line(c, units) for c in new.fit.bolt_on), ""]
    parts += ["Ground and bodywork, new build", *ground_lines(new, units, _bolt_on_line), ""]
    parts += ["On the road, new build", *road_lines(both.road, units, old.ready.build), ""]
    return "\n".join([*parts, *_small_print(new, units, last=last)])


def stance_rows(both: Comparison, units: str) -> list[tuple[str, ...]]:
    """Heading and cells: how both builds stand at rest, and the change."""
    old, new = both.old, both.new
    before, after = old.stance.lengths(), new.stance.lengths()
    rows: list[tuple[str, ...]] = [("at rest, straight ahead", old.ready.build, new.ready.build, "change")]
    for name, words in CHANGE_WORDS.items():
        if name in both.change:
            texts = (measure_text(name, lengths[name], units) for lengths in (before, after))
            rows.append((words, *texts, measure_text(name, both.change[name], units, sign=True)))
    for name, words in (("camber", "camber"), ("caster", "caster"), ("kingpin_inclination", "kingpin inclination")):
        x, y = getattr(old.stance, name), getattr(new.stance, name)
        if x is not None and y is not None:
            rows.append((words, angle_text(x), angle_text(y), angle_text(y - x)))
    return rows


def both_clearance_rows(both: Comparison, units: str) -> list[tuple[str, ...]]:
    """Heading and cells: every obstacle and part where it comes closest, in both builds."""
    old, new = both.old, both.new
    before = {(c.obstacle, c.part): c for c in old.fit.worst_each}
    served = ("in service (new)",) if new.fit.in_service else ()
    rows: list[tuple[str, ...]] = [
        ("closest approach", old.ready.build, new.ready.build, "required", *served, "where (new)")
    ]
    for c in new.fit.worst_each:
        was = before.get((c.obstacle, c.part))
        rows.append(
            (
                f"{c.part} - {c.obstacle}",
                "-" if was is None else clearance_text(was.clearance, units),
                clearance_text(c.clearance, units),
                length_text(c.allowance, units),
                *(service_cell(new.fit, c, units) for _ in served),
                pose_words(c, units),
            )
        )
    return rows


def clearances_csv(cases: Sequence[Case]) -> str:
    """Every obstacle x part x pose as rows."""
    rows = []
    is_served = any(case.fit.in_service for case in cases)
    for case in cases:
        own = case.fit.in_service.entries if case.fit.in_service else [None] * len(case.fit.clearances)
        for entry, left in zip(case.fit.clearances, own, strict=True):
            row = axle_json(case.fit.axle.name) | clearance_json(entry)
            rows.append(row | ({"in_service_mm": rounded(left)} if is_served else {}))
    for row in rows:
        row["x_mm"], row["y_mm"], row["z_mm"] = row.pop("point_mm")
    return records_csv(rows)
