"""Results as text and as the JSON of the contract."""

from __future__ import annotations

import csv
import io
import json
import math
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from fitment.units import in_units, inches, length_text
from fitment.wheel import wheel_json

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.adjusters import Setting
    from fitment.align import Alignment, RideState
    from fitment.alignment import Choice, Target
    from fitment.bolt_on import BoltOn
    from fitment.cases import Case
    from fitment.fit import Clearance, Fit
    from fitment.kinematics import PoseRow, PoseTable
    from fitment.obstacles import Obstacle
    from fitment.profile import Profile
    from fitment.screen import Row
    from fitment.tire import TireSize
    from fitment.vehicle import Setup
    from fitment.wheel import Wheel

WIDTH = 100
VERDICT_WORDS = {
    "clears": "CLEARS",
    "tight": "TIGHT",
    "not_checked": "NOT CHECKED",
    "touches": "TOUCHES",
    "does_not_bolt_on": "DOES NOT BOLT ON",
    "unreadable": "UNREADABLE",
}
ALIGN_CAUTION = (
    "Angles come from the points given: a reading 2 mm off moves camber by some tenths of a degree. Set and measure on "
    "an alignment rack; a licensed mechanic decides."
)
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


def dumps(data: Any) -> str:
    """JSON text; refuses numbers that are not finite."""
    return json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False)


def rounded(value: float | None, digits: int = 4) -> float | None:
    """A float for JSON: four digits are a tenth of a micrometre."""
    return None if value is None else round(float(value), digits) + 0.0


# JSON


def case_json(case: Case, *, geometry: bool = False) -> dict[str, Any]:
    """The contract's `check` object."""
    fit, setup = case.fit, case.fit.setup
    data: dict[str, Any] = {
        "profile": case.ready.profile.name,
        "axle": fit.axle.name,
        "build": case.ready.build,
        "setup": setup_json(setup),
        "verdict": fit.verdict,
        "worst": None if fit.worst is None else clearance_json(fit.worst),
        "clearances": [clearance_json(entry) for entry in fit.clearances],
        "bolt_on": [vars(check) for check in fit.bolt_on],
        "not_checked": [{"obstacle": name, "reason": reason} for name, reason in fit.not_checked],
        "change": {name: rounded(value) for name, value in case.change.items()},
        "stance": {name: rounded(value) for name, value in vars(case.stance).items()},
        "cautions": [*case.cautions, *(f"assumed: {words}" for words in case.assumptions)],
    }
    if geometry:
        data |= _geometry_json(case)
    return data


def setup_json(setup: Setup) -> dict[str, Any]:
    """What is bolted on and where it stands."""
    return {
        "wheel": setup.wheel.spec,
        "tire": setup.tire.code,
        "spacer_mm": rounded(setup.spacer.thickness),
        "ride_mm": rounded(setup.ride),
        "ride": setup.ride_name,
    }


def clearance_json(entry: Clearance) -> dict[str, Any]:
    """One obstacle, part and pose; of an axle that is not symmetric also the corner and the opposite wheel."""
    more = {} if entry.opposite is None else {"corner": entry.corner, "opposite_mm": rounded(entry.opposite)}
    return more | {
        "obstacle": entry.obstacle,
        "part": entry.part,
        "travel_mm": rounded(entry.travel),
        "steer_deg": rounded(entry.steer, 6),
        "clearance_mm": rounded(entry.clearance),
        "worst_case_mm": rounded(entry.worst_case),
        "allowance_mm": rounded(entry.allowance),
        "margin_mm": rounded(entry.margin),
        "point_mm": [rounded(x) for x in entry.point],
    }


def _geometry_json(case: Case) -> dict[str, Any]:
    fit, poses = case.fit, case.fit.poses
    return {
        "poses": [
            {
                "travel_mm": rounded(poses.travel[k]),
                "steer_deg": rounded(poses.steer[k], 6),
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
    if obstacle.shape == "ring":
        return data | {
            "placed": [],
            "outline_mm": [list(p) for p in obstacle.outline],
            "clock_deg": list(obstacle.clock),
        }
    from fitment.trace import place

    placed = place(obstacle, case.fit.poses)
    if obstacle.shape == "ball":
        return data | {"placed": [[rounded(x, 6) for x in pose[0]] for pose in placed]}
    lists = [[[rounded(x, 6) for x in point] for point in pose] for pose in placed]
    if obstacle.shape == "panel":
        step = obstacle.columns
        lists = [[pose[i : i + step] for i in range(0, len(pose), step)] for pose in lists]  # type: ignore[misc]
        data["solid"] = "behind" if obstacle.solid_behind else None
    return data | {"placed": lists}


def compare_json(old: Case, new: Case) -> dict[str, Any]:
    """Two builds of one axle and what differs between them."""
    before, after = old.stance.lengths(), new.stance.lengths()
    return {
        "profile": new.ready.profile.name,
        "axle": new.fit.axle.name,
        "verdict": new.fit.verdict,
        "old": case_json(old),
        "new": case_json(new),
        "differences": {name: rounded(after[name] - before[name]) for name in after if name in before},
    }


# text


def angle_text(degrees: float, digits: int = 2) -> str:
    """A signed angle: '+0.05 deg', never '-0.00 deg'."""
    return f"{round(degrees, digits) + 0.0:+.{digits}f} deg"


def table(rows: Sequence[Sequence[str]], *, left: int = 1, indent: str = "  ") -> str:
    """Aligned columns: the first `left` flush left, the rest flush right; the first row is the heading.

    A last column without a heading holds remarks and is flush left.
    """
    remarks = len(rows[0]) - 1 if rows[0][-1] == "" else -1
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    lines = []
    for row in rows:
        cells = [
            cell.ljust(w) if i < left or i == remarks else cell.rjust(w)
            for i, (cell, w) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append((indent + "  ".join(cells)).rstrip())
    return "\n".join(lines)


def wrapped(text: str, *, first: str = "  - ", rest: str = "    ") -> str:
    """A paragraph of at most WIDTH columns with a hanging indent."""
    return textwrap.fill(text, WIDTH, initial_indent=first, subsequent_indent=rest, break_long_words=False)


def setup_words(setup: Setup, units: str) -> str:
    """The setup in a line, as a person says it."""
    spacer = f", spacer {length_text(setup.spacer.thickness, units)}" if setup.spacer.thickness else ""
    name = f"{setup.ride_name}, " if setup.ride_name else ""
    height = length_text(setup.ride, units, digits=0, sign=True)
    return f"{setup.wheel.spec} with {setup.tire.code}{spacer} ({name}travel {height} at rest)"


def verdict_words(case: Case, units: str) -> str:
    """What limits the fit, in a sentence."""
    fit = case.fit
    failed = [check for check in fit.bolt_on if check.status == "fail"]
    if failed:
        return "; ".join(f"{check.item}: {in_units(check.detail, units)}" for check in failed)
    worst = fit.worst
    if worst is None:
        return "no obstacle to check against"
    asked = f"{length_text(worst.allowance, units)} asked for"
    where = f"{pose_words(worst, units)}; {asked}"
    if worst.clearance < 0:
        return f"{worst.part} overlaps {worst.obstacle} by {length_text(-worst.clearance, units)} at {where}"
    words = f"closest: {worst.part} to {worst.obstacle}, {length_text(worst.clearance, units)} at {where}"
    against = min(fit.clearances, key=lambda c: c.worst_case)
    if fit.verdict == "tight" and worst.margin >= 0:
        words += (
            f"; but in the worst case {against.part} and {against.obstacle} overlap by "
            f"{length_text(-against.worst_case, units)}"
        )
    return words


def open_words(fit: Fit) -> str:
    """What the verdict leaves open: parts left out, and the bolt-on checks that are not settled."""
    words = [f"not checked: {', '.join(name for name, _ in fit.not_checked)}"] if fit.not_checked else []
    for status, what in (("caution", "caution"), ("not_checked", "not checked")):
        items = [check.item for check in fit.bolt_on if check.status == status]
        if items:
            words.append(f"bolt-on, {what}: {', '.join(items)}")
    return "; ".join(words) or "every bolt-on check was made"


def pose_words(entry: Clearance, units: str) -> str:
    """Travel and steer of an entry; of an axle that is not symmetric also the corner and the opposite wheel."""
    words = f"travel {length_text(entry.travel, units, digits=0, sign=True)}, steer {angle_text(entry.steer, 1)}"
    return ", ".join(filter(None, (words, _corner_words(entry, units))))


def _corner_words(entry: Clearance, units: str) -> str:
    if entry.opposite is None:
        return ""
    return f"{entry.corner} corner, opposite wheel {length_text(entry.opposite, units, digits=0, sign=True)}"


def case_text(case: Case, units: str = "mm") -> str:
    """Verdict, what limits it, the table, the bolt-on checks, the change, the cautions."""
    fit = case.fit
    head = f"{VERDICT_WORDS[fit.verdict]}  {fit.axle.name}, build {case.ready.build}: {setup_words(fit.setup, units)}"
    parts = [wrapped(head, first="", rest="  "), wrapped(verdict_words(case, units), first="  ", rest="  ")]
    parts += [wrapped(open_words(fit), first="  ", rest="  "), ""]
    if fit.clearances:
        parts += [_clearance_table(fit.worst_each, units), ""]
    parts += ["Bolt-on", *(_bolt_on_line(c, units) for c in fit.bolt_on), ""]
    moved = _change_table(case, units)
    if moved:
        parts += [f"Against the baseline ({case.ready.profile.baseline})", moved, ""]
    return "\n".join([*parts, *_small_print(case, units)])


def _small_print(case: Case, units: str) -> list[str]:
    """Cautions, and what was taken for granted."""
    words = ["Cautions", *(wrapped(in_units(caution, units)) for caution in case.cautions)]
    if case.assumptions:
        words += ["", "Taken for granted (a measured figure in the profile beats each)"]
        words += [wrapped(in_units(assumption, units)) for assumption in case.assumptions]
    return words


def _clearance_table(entries: Sequence[Clearance], units: str) -> str:
    rows = [("closest approach", "clearance", "asked for", "worst case", "travel", "steer", "")]
    for c in entries:
        mark = "overlap" if c.clearance < 0 else "short" if c.margin < 0 else "worst case" if c.worst_case < 0 else ""
        rows.append(
            (
                f"{c.part} - {c.obstacle}",
                length_text(c.clearance, units),
                length_text(c.allowance, units),
                length_text(c.worst_case, units),
                length_text(c.travel, units, digits=0, sign=True),
                angle_text(c.steer, 1),
                ", ".join(filter(None, (mark, _corner_words(c, units)))),
            )
        )
    return table(rows)


def _bolt_on_line(check: BoltOn, units: str) -> str:
    words = f"{check.item}: {in_units(check.detail, units)}"
    return wrapped(words, first=f"  {check.status.replace('_', ' '):<12}", rest=" " * 14)


def _change_table(case: Case, units: str) -> str:
    rows = [
        (CHANGE_WORDS[name], *_both_units(value, units, sign=True))
        for name, value in case.change.items()
        if abs(value) >= 0.05
    ]
    return table(rows) if rows else ""


def _both_units(value: float, units: str, *, sign: bool = False) -> tuple[str, ...]:
    """A length, in inch mode also as the trade writes it."""
    text = length_text(value, units, sign=sign)
    return (text, f"({inches(value)})") if units == "in" else (text,)


def compare_text(old: Case, new: Case, units: str = "mm") -> str:
    """The verdict of the new build, then a table of both."""
    parts = []
    for label, case in (("old", old), ("new", new)):
        head = f"{label}  {VERDICT_WORDS[case.fit.verdict]}  {case.ready.build}: {setup_words(case.fit.setup, units)}"
        parts += [
            wrapped(head, first="", rest="     "),
            wrapped(verdict_words(case, units), first="     ", rest="     "),
        ]
    head = f"{VERDICT_WORDS[new.fit.verdict]}  {new.fit.axle.name}: {old.ready.build} -> {new.ready.build}"
    parts = [head, "", *parts, "", _stance_table(old, new, units), "", _both_clearances(old, new, units), ""]
    parts += ["Bolt-on, new build", *(_bolt_on_line(c, units) for c in new.fit.bolt_on), ""]
    return "\n".join([*parts, *_small_print(new, units)])


def _stance_table(old: Case, new: Case, units: str) -> str:
    before, after = old.stance.lengths(), new.stance.lengths()
    rows = [("at rest, straight ahead", old.ready.build, new.ready.build, "change")]
    for name, words in CHANGE_WORDS.items():
        if name in before and name in after:
            a, b = before[name], after[name]
            rows.append((words, length_text(a, units), length_text(b, units), length_text(b - a, units, sign=True)))
    for name, words in (("camber", "camber"), ("caster", "caster"), ("kingpin_inclination", "kingpin inclination")):
        x, y = getattr(old.stance, name), getattr(new.stance, name)
        if x is not None and y is not None:
            rows.append((words, angle_text(x), angle_text(y), angle_text(y - x)))
    return table(rows)


def _both_clearances(old: Case, new: Case, units: str) -> str:
    before = {(c.obstacle, c.part): c for c in old.fit.worst_each}
    rows = [("closest approach", old.ready.build, new.ready.build, "asked for", "where (new)")]
    for c in new.fit.worst_each:
        was = before.get((c.obstacle, c.part))
        rows.append(
            (
                f"{c.part} - {c.obstacle}",
                "-" if was is None else length_text(was.clearance, units),
                length_text(c.clearance, units),
                length_text(c.allowance, units),
                pose_words(c, units),
            )
        )
    return table(rows)


def screen_json(rows: Sequence[Row]) -> list[dict[str, Any]]:
    """The input's columns, then the answer's; a clash keeps the input's name."""
    return [dict(row.candidate.fields) | answer_columns(row) for row in rows]


def answer_columns(row: Row) -> dict[str, Any]:
    """The added columns of a row under names that do not clash with the input's."""
    return {
        free_name(name, row.candidate.fields): rounded(value, 3) if isinstance(value, float) else value
        for name, value in row.answer().items()
    }


def free_name(name: str, taken: Any) -> str:
    """The name, with a suffix when the input has a column of that name."""
    return name if name not in taken else free_name(f"{name}_fitment", taken)


def screen_text(rows: Sequence[Row], units: str = "mm", most: int = 15) -> str:
    """Counts by verdict, then the best rows with what limits each."""
    counts = {word: sum(row.verdict == word for row in rows) for word in VERDICT_WORDS}
    head = ", ".join(f"{n} {VERDICT_WORDS[word].lower()}" for word, n in counts.items() if n)
    shown = [row for row in rows if row.verdict != "unreadable"][:most]
    columns = [
        name for name in ("name", "wheel", "tire", "spacer", "ride") if any(r.candidate.get(name) for r in shown)
    ]
    lines = [["", *columns, "verdict", "clearance", "limited by", "offsets that fit"]]
    for row in shown:
        span = "-"
        if row.offset_min is not None and row.offset_max is not None:
            span = offsets_text(row.offset_min, row.offset_max)
        gap = "-" if row.clearance is None else length_text(row.clearance, units)
        verdict = VERDICT_WORDS[row.verdict].lower()
        given = (row.candidate.get(name) for name in columns)
        lines.append([str(row.rank), *given, verdict, gap, row.limited_by or "-", span])
    parts = [f"{len(rows)} candidates: {head}", "", table(lines, left=len(lines[0]))]
    parts += [wrapped(in_units(row.reason, units)) for row in rows if row.verdict == "unreadable"][:most]
    return "\n".join(parts)


def offsets_text(low: float, high: float) -> str:
    """A range of offsets, rounded inwards: what is printed fits."""
    digits = 0 if math.ceil(low) <= math.floor(high) else 2
    step = 10.0**-digits
    return f"ET{math.ceil(low / step) * step:.{digits}f} to ET{math.floor(high / step) * step:.{digits}f}"


def screen_csv(header: Sequence[str], rows: Sequence[Row]) -> str:
    """The list with its own columns untouched and the answer's behind them."""
    from fitment.screen import COLUMNS

    stream = io.StringIO()
    added = [free_name(name, header) for name in COLUMNS]
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow([*header, *added])
    for row in rows:
        cells = row.candidate.cells or [""] * len(header)
        writer.writerow([*cells, *(_cell(value) for value in row.answer().values())])
    return stream.getvalue()


def _cell(value: object) -> object:
    if value is None:
        return ""
    return f"{value:.3f}" if isinstance(value, float) else value


def clearances_csv(cases: Sequence[Case]) -> str:
    """Every obstacle x part x pose as rows."""
    rows = [{"axle": case.fit.axle.name} | clearance_json(entry) for case in cases for entry in case.fit.clearances]
    for row in rows:
        row["x_mm"], row["y_mm"], row["z_mm"] = row.pop("point_mm")
    return _records_csv(rows)


def _records_csv(rows: Sequence[dict[str, Any]]) -> str:
    stream = io.StringIO()
    writer = csv.DictWriter(stream, list(rows[0]) if rows else [], lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return stream.getvalue()


# tire and wheel


def tire_text(size: TireSize, units: str = "mm") -> str:
    """A tire code explained."""
    family = {
        "metric": "metric passenger", "P": "P-metric passenger", "HL": "high-load passenger", "LT": "light truck",
        "flotation": "flotation light truck",
    }  # fmt: skip
    range_words = f"{size.rim_min:g} to {size.rim_max:g} in (common practice, no published source)"
    rows = [
        ("construction", f"{family[size.family]}, {'radial' if size.radial else 'bias ply'}"),
        ("rim diameter", f"{size.rim_diameter:g} in"),
        ("measuring rim", f"{size.measuring_rim:g} in wide"),
        ("rim range", range_words),
        (f"section width on {size.rim:g} in", length_text(size.section_width, units, digits=0)),
        ("  largest permitted", length_text(size.section_width_max, units, digits=0)),
        ("section height", length_text(size.section_height, units, digits=0)),
        ("overall diameter", length_text(size.overall_diameter, units, digits=0)),
        ("  smallest, largest", " to ".join(
            length_text(d, units, digits=0) for d in (size.overall_diameter_min, size.overall_diameter_max))),
        ("load", "not in the code" if size.load_kg is None else f"index {size.load_index}: {size.load_kg:g} kg a tire"),
        ("speed", _speed_words(size)),
        ("revolutions", "-" if size.revs_per_km is None else f"{size.revs_per_km:.0f} per km"),
    ]  # fmt: skip
    return "\n".join(
        [size.code, table(rows, left=2), *(wrapped(in_units(caution, units)) for caution in size.cautions)]
    )


def _speed_words(size: TireSize) -> str:
    if size.speed_kmh is None:
        return "not in the code"
    above = "above " if size.speed_at_least else ""
    return f"{size.speed_symbol or 'ZR'}: {above}{size.speed_kmh:g} km/h"


def _beside_hub_face(value: float, units: str) -> str:
    return f"{length_text(abs(value), units)} {'outboard' if value >= 0 else 'inboard'} of the hub face"


def wheel_text(wheel: Wheel, units: str = "mm") -> str:
    """A wheel spec explained."""
    data = wheel_json(wheel)
    unknown = "not in the spec"
    circle = wheel.bolt_circle
    circle_words = unknown if circle is None else f"{circle.lugs} on {length_text(circle.diameter, units, digits=2)}"
    rows = [
        ("rim", f"{wheel.rim_diameter:g} in diameter, {wheel.rim_width:g} in wide"),
        ("overall width", length_text(data["overall_width_mm"], units)),
        ("offset", f"ET{wheel.offset:g} mm" + (f" ({length_text(wheel.offset, units)})" if units == "in" else "")),
        ("backspacing", f"{length_text(data['backspacing_mm'], units)} ({inches(data['backspacing_mm'])})"),
        ("outer rim edge", _beside_hub_face(data["outer_edge_mm"], units)),
        ("inner rim edge", _beside_hub_face(data["inner_edge_mm"], units)),
        ("bolt circle", circle_words),
        ("centre bore", unknown if wheel.centre_bore is None else length_text(wheel.centre_bore, units)),
    ]
    return "\n".join(
        [wheel.spec, table(rows, left=2), *(wrapped(in_units(words, units)) for words in data.get("assumptions", ()))]
    )


# poses


def poses_json(poses: PoseTable) -> dict[str, Any]:
    """The contract's `poses` object."""
    return {
        "axle": poses.axle,
        "rake_deg": rounded(poses.rake, 6),
        "poses": [_pose_json(row, poses.rake) for row in poses.rows],
    }


def _pose_json(row: PoseRow, rake: float | None) -> dict[str, Any]:
    to_ground = None if rake is None or row.caster is None else row.caster - rake
    return {
        "travel_mm": rounded(row.travel, 7),
        "rack_mm": rounded(row.rack, 7),
        "steer_deg": rounded(row.steer, 8),
        "toe_in_deg": rounded(row.toe_in, 8),
        "camber_deg": rounded(row.camber, 8),
        "caster_deg": rounded(row.caster, 8),
        "caster_to_ground_deg": rounded(to_ground, 8),
        "kingpin_inclination_deg": rounded(row.kingpin_inclination, 8),
        "scrub_radius_mm": rounded(row.scrub_radius, 7),
        "mechanical_trail_mm": rounded(row.mechanical_trail, 7),
        "hub_face_mm": None if row.hub_face is None else [rounded(x, 7) for x in row.hub_face],
        "spin_axis": None if row.spin_axis is None else [rounded(x, 12) for x in row.spin_axis],
        "reachable": row.reachable,
        "within_limits": row.within_limits,
        "reason": row.reason,
    }


def poses_csv(tables: Sequence[PoseTable]) -> str:
    """Every pose as a row."""
    rows = []
    for each in tables:
        for row in each.rows:
            data = {"axle": each.axle} | _pose_json(row, each.rake)
            for name in ("hub_face_mm", "spin_axis"):
                data |= dict(zip([f"{name}_{axis}" for axis in "xyz"], data.pop(name) or [None] * 3, strict=True))
            rows.append(data)
    return _records_csv(rows)


def poses_text(poses: PoseTable, units: str = "mm") -> str:
    """The motion as a table."""
    rows: list[Sequence[str]] = [
        ("travel", "steer", "toe-in", "camber", "caster", "kingpin incl.", "scrub radius", "trail", "hub face y", "")
    ]
    for row in poses.rows:
        angles = (row.steer, row.toe_in, row.camber, row.caster, row.kingpin_inclination)
        lengths = (row.scrub_radius, row.mechanical_trail, row.hub_face[1] if row.hub_face else None)
        rows.append(
            (
                length_text(row.travel, units, digits=0, sign=True),
                *("-" if a is None else angle_text(a) for a in angles),
                *("-" if x is None else length_text(x, units) for x in lengths),
                "" if row.within_limits and row.reachable else in_units(row.reason or "", units),
            )
        )
    text = f"{poses.axle}\n{table(rows, left=0)}"
    if poses.rake is None:
        return text
    words = f"caster is to the body; at rest this build stands {poses.rake:+.2f} deg nose down, so to the ground it is"
    return f"{text}\n  {words} {-poses.rake:+.2f} deg more"


# the profile itself


def profile_json(case: Case) -> dict[str, Any]:
    """One axle of a profile as it was understood: every obstacle in body coordinates."""
    axle = case.ready.axle
    return {
        "profile": case.ready.profile.name,
        "axle": axle.name,
        "build": case.ready.build,
        "setup": setup_json(case.fit.setup),
        "hub_face_mm": list(axle.hub_face_at),
        "travel_mm": [axle.droop, axle.bump],
        "ride_heights_mm": dict(axle.ride_heights),
        "obstacles": [
            {
                "name": o.name, "shape": o.shape, "fixed_to": list(dict.fromkeys(o.fixed_to)),
                "radius_mm": o.radius, "tolerance_mm": o.tolerance, "points_mm": [list(p) for p in o.points],
                "outline_mm": [list(p) for p in o.outline],
            }
            for o in axle.obstacles
        ],
    }  # fmt: skip


def profile_text(profile: Profile, cases: Sequence[Case], units: str = "mm") -> str:
    """What the profile holds, so that a mistyped point is seen."""
    parts = [profile.name, *([wrapped(profile.note, first="  ", rest="  ")] if profile.note else [])]
    parts += [f"builds: {', '.join(profile.build_names)} (baseline: {profile.baseline})"]
    for case in cases:
        axle = case.ready.axle
        heights = ", ".join(f"{name} {length_text(z, units, digits=0, sign=True)}" for name, z in axle.ride_heights)
        droop, bump = (length_text(z, units, digits=0, sign=True) for z in (axle.droop, axle.bump))
        parts += [
            "",
            f"{axle.name}, build {case.ready.build}: {setup_words(case.fit.setup, units)}",
            f"  hub face {length_text(axle.hub_face_at[1], units)} from the centre plane",
            f"  hub centre {length_text(axle.hub_height, units)} above ground as measured",
            f"  travel {droop} to {bump}; ride heights: {heights or 'none named'}",
        ]
        rows = [("obstacle", "shape", "fixed to", "x", "y", "z (body frame, lowest to highest)")]
        for o in axle.obstacles:
            rows.append((o.name, o.shape, " / ".join(dict.fromkeys(o.fixed_to)), *_spans(o, units)))
        parts += [table(rows, left=3)]
        parts += [
            f"  {name}: slid {length_text(abs(dy), units)} {'outboard' if dy >= 0 else 'inboard'} to reproduce its gap"
            for name, dy in case.ready.slid
        ]
    parts += ["", *(wrapped(in_units(words, units)) for words in profile.warnings)]
    return "\n".join(parts).rstrip()


def _spans(obstacle: Obstacle, units: str) -> tuple[str, str, str]:
    if not obstacle.points:
        return ("hub", "hub", "hub")
    ends = [(min(values), max(values)) for values in zip(*obstacle.points, strict=True)]
    x, y, z = (" to ".join(dict.fromkeys(length_text(v, units, digits=0) for v in pair)) for pair in ends)
    return x, y, z


# alignment


def align_json(found: Alignment) -> dict[str, Any]:
    """The contract's `align` object."""
    data: dict[str, Any] = {
        "axle": found.ready.axle.name,
        "build": found.ready.build,
        "rides": [_ride_json(state) for state in found.rides],
        "reach": None,
        "target": None,
        "settings": None,
        "left_over": None,
    }
    if found.reach is not None:
        data["reach"] = {
            "travel_mm": rounded(found.travel),
            "camber_deg": [rounded(x, 6) for x in (found.reach.camber.min(), found.reach.camber.max())],
            "caster_deg": [rounded(x, 6) for x in (found.reach.caster.min(), found.reach.caster.max())],
        }
    else:
        data["not_reached_because"] = found.why_not
    if found.target is not None and found.choice is not None:
        choice = found.choice
        data["target"] = {"camber_deg": found.target.camber, "caster_deg": found.target.caster}
        data["settings"] = [_setting_json(found, setting) for setting in choice.settings]
        data["given"] = {"camber_deg": rounded(choice.camber, 6), "caster_deg": rounded(choice.caster, 6)}
        left = dict(zip(("camber_deg", "caster_deg"), (rounded(x, 6) for x in choice.left_over), strict=True))
        data["left_over"] = left
        data["toe_change"] = [
            {"travel_mm": rounded(t), "before_deg": rounded(a, 6), "after_deg": rounded(b, 6)}
            for (t, a), (_, b) in zip(choice.toe_before, choice.toe_after, strict=True)
        ]
    return data


def _ride_json(state: RideState) -> dict[str, Any]:
    s = state.stance
    return {
        "name": state.name,
        "travel_mm": rounded(s.ride),
        "camber_deg": rounded(s.camber, 6),
        "caster_deg": rounded(s.caster, 6),
        "caster_to_ground_deg": rounded(state.caster_to_ground, 6),
        "toe_in_deg": rounded(s.toe_in, 6),
        "kingpin_inclination_deg": rounded(s.kingpin_inclination, 6),
        "scrub_radius_mm": rounded(s.scrub_radius),
    }


def _setting_json(found: Alignment, setting: Setting) -> dict[str, Any]:
    if setting.angles:
        moves = next(a.moves for a in found.ready.axle.adjusters if a.name == setting.adjuster)
        return {"adjuster": setting.adjuster, "angles_deg": dict(zip(moves, setting.angles, strict=True))}
    return {"adjuster": setting.adjuster, "out_mm": setting.out, "forward_mm": setting.forward}


def setting_words(found: Alignment, setting: Setting, units: str) -> str:
    """A setting as a person makes it."""
    if not setting.angles:
        parts = ((setting.out, "out", "in"), (setting.forward, "forward", "back"))
        words = [
            f"{length_text(abs(value), units)} {plus if value > 0 else minus}" for value, plus, minus in parts if value
        ]
        return f"{setting.adjuster}: {', '.join(words) or 'middle position'}"
    moves = next(a.moves for a in found.ready.axle.adjusters if a.name == setting.adjuster)
    places = (f"{name.replace('_', ' ')} {angle:.0f} deg" for name, angle in zip(moves, setting.angles, strict=True))
    return f"{setting.adjuster}: {', '.join(places)} (0 = outboard, 90 = up)"


def align_text(found: Alignment, units: str = "mm") -> str:
    """The state, what can be reached, and the settings for a target."""
    axle = found.ready.axle
    parts = [f"{axle.name}, build {found.ready.build}", _ride_table(found, units), ""]
    name = f"{found.ride_name}, " if found.ride_name else ""
    at = f"{name}travel {length_text(found.travel, units, digits=0, sign=True)}"
    if found.reach is None:
        parts.append(wrapped(f"What can be reached: not computed, because {found.why_not}.", first="", rest="  "))
    else:
        low, high = found.reach.camber.min(), found.reach.camber.max()
        back, front = found.reach.caster.min(), found.reach.caster.max()
        parts += [
            f"The adjusters reach at {at}, toe re-set:",
            f"  camber {low:+.2f} to {high:+.2f} deg, caster {back:+.2f} to {front:+.2f} deg (not every pair of them)",
        ]
    if found.target is not None and found.choice is not None:
        parts += ["", *_choice_lines(found, found.target, found.choice, units)]
    parts += ["", wrapped(ALIGN_CAUTION, first="", rest="")]
    return "\n".join(parts)


def _ride_table(found: Alignment, units: str) -> str:
    rows: list[Sequence[str]] = [
        ("ride height", "travel", "camber", "caster", "caster to ground", "toe-in", "kingpin incl.", "scrub radius")
    ]
    for state in found.rides:
        s = state.stance
        angles = (s.camber, s.caster, state.caster_to_ground, s.toe_in, s.kingpin_inclination)
        rows.append(
            (
                state.name or "asked for",
                length_text(s.ride, units, digits=0, sign=True),
                *("-" if a is None else angle_text(a) for a in angles),
                "-" if s.scrub_radius is None else length_text(s.scrub_radius, units),
            )
        )
    return table(rows)


def _choice_lines(found: Alignment, target: Target, choice: Choice, units: str) -> list[str]:
    asked = [
        f"{name} {value:+.2f} deg"
        for name, value in (("camber", target.camber), ("caster", target.caster))
        if value is not None
    ]
    lines = [f"For {' and '.join(asked)}, set"]
    lines += [wrapped(setting_words(found, setting, units)) for setting in choice.settings]
    lines.append(f"which gives camber {choice.camber:+.2f} deg and caster {choice.caster:+.2f} deg;")
    left = [
        f"{name} {value:+.2f} deg"
        for name, value, wanted in (
            ("camber", choice.left_over[0], target.camber),
            ("caster", choice.left_over[1], target.caster),
        )
        if wanted is not None and abs(value) >= 0.05
    ]
    lines.append(f"left over: {', '.join(left)}." if left else "the target is met to 0.05 deg.")
    before, after = (max(t for _, t in toe) - min(t for _, t in toe) for toe in (choice.toe_before, choice.toe_after))
    lines.append(f"Toe changes by {after:.2f} deg over the whole travel (as it is now: {before:.2f} deg).")
    return lines


def align_subtitle(found: Alignment, units: str) -> str:
    """Axle, build and height of an alignment, in a line."""
    name = f"{found.ride_name}, " if found.ride_name else ""
    height = length_text(found.travel, units, digits=0, sign=True)
    return f"{found.ready.axle.name} axle, {found.ready.build}, {name}travel {height}, toe re-set"


def ball_words(settings: Sequence[Setting], units: str) -> str:
    """Positions of the ball joints among settings, short: '6.0 mm out, 6.0 mm forward'."""
    words = []
    for setting in settings:
        for value, plus, minus in ((setting.out, "out", "in"), (setting.forward, "forward", "back")):
            if value:
                words.append(f"{length_text(abs(value), units)} {plus if value > 0 else minus}")
    return ", ".join(words) or "middle"
