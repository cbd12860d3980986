"""What must go of a panel or a lip, in the words of a shop and as JSON; depths and ranges are rounded outward."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from fitment.report.common import rounded, wrapped
from fitment.report.scan_places import off_words
from fitment.units import MM_PER_INCH, length_text

if TYPE_CHECKING:  # what a result is made of is loaded by whoever made it
    from fitment.answers.cut_lines import CutLine, CutLines, CutPiece
    from fitment.clearance.sheet_levels import LevelLines
    from fitment.scans.laid_grid import GridOver

CLOCK_STEP = 5  # [min] to which o'clock is told
TOLD = 4  # pieces that a text names
STRIP = 4.0  # times as long as deep, from where a notch is called a strip
STRUCTURAL = (
    "CAUTION: by its name this part carries the vehicle. Never cut a frame or a structural part by this; whether and "
    "how it may be changed is for a licensed practice."
)
BEFORE = (
    "Before cutting, look at what the part carries and what lies behind it: structure, airbag sensors, fuel and brake "
    "lines, wiring. Leave structure to a licensed practice."
)
WHILE = (
    "Cut short of the line, test fit through full travel and lock, then cut to it. Deburr and seal bare edges against "
    "rust. A rolled lip takes room where it lies: measure again."
)
CAUTIONS = BEFORE, WHILE
UPRIGHT = "The sheet above the lip is taken to stand upright; what lies behind it was not looked at."
CLOCK = "O'clock is as seen from outside the left side: 9:00 is ahead, 12:00 up, on the right side too."
IN_SERVICE = "What happens in service (growth, cornering, braking) is not counted in this line."
JOINS = " One letter on two sections is one place on the fold between them."
COUNTED = "every required clearance is kept as measured, and nothing touches in the worst case"


def cut_text(found: CutLines, units: str = "mm") -> str:
    """What must go of the part, a sentence a piece, then what to look out for."""
    name = found.obstacle.name
    lines = [wrapped(STRUCTURAL, first="  ", rest="  ")] if found.is_structural else []
    if not found.serves:
        lines += [wrapped(words) for words in (no_use_words(found, units), nominal_words(found, units), CLOCK)]
        return "\n".join([f"Where to cut, {name}: so that {COUNTED}", *lines])
    told = [*found.kept.pieces[:TOLD]]
    sentences = [piece_words(piece, units) for piece in told] or ["Nothing to cut."]
    left = len(found.kept.pieces) - len(told)
    sentences += [f"{left} smaller {'piece' if left == 1 else 'pieces'} more; all are in the data."] if left else []
    sentences += [nominal_words(found, units), *_trimmed(found)]
    lines += [wrapped(sentence) for sentence in sentences]
    lines += [wrapped(caution) for caution in (*basis(found, units), *(CAUTIONS if found.is_short else ()))]
    return "\n".join([f"Where to cut, {name}: so that {COUNTED}", *lines])


def no_use_words(found: CutLines, units: str) -> str:
    """That too much of a part would have to go."""
    area = area_text(sum(piece.area for piece in found.kept.pieces), units)
    return (
        f"Cutting does not serve: {math.floor(100 * found.gone)} % of it would have to go ({area}). Move the part, or "
        "choose another wheel, tire, spacer or steer stop. Above 75 % no pattern is made, by a rule of our own."
    )


def piece_words(piece: CutPiece, units: str) -> str:
    """One piece that must go."""
    deep, long = depth_text(piece.deep, units), length_text(_up(piece.long), units, digits=0)
    first, last, at = _clock_range(piece)
    if piece.kind == "edge":
        if piece.more:
            return (
                f"From {first} to {last}: more than {length_text(piece.deep, units, digits=0)} at {at}. Trimming does "
                "not serve there; move the part out, or choose another wheel or tire."
            )
        return f"Roll or trim from {first} to {last}, up to {deep} at {at}, over {long} of the lip."
    area = area_text(piece.area, units)
    if piece.kind == "all":
        return f"All of it must go ({area})."
    if piece.kind == "notch":
        if piece.long > STRIP * piece.deep:
            return f"Cut a strip off its edge, from {first} to {last}: up to {deep} wide, {long} long, {area}."
        return f"Cut a notch into its edge, from {first} to {last}: up to {deep} deep, {long} wide at the edge, {area}."
    return f"Cut a hole, from {first} to {last}: {long} long, {deep} wide, {area}."


def nominal_words(found: CutLines, units: str) -> str:
    """The same without tolerances, in a sentence."""
    pieces = found.nominal.pieces
    if not pieces:
        return "As measured, tolerances not counted, nothing would have to go."
    much = area_text(sum(piece.area for piece in pieces), units)
    if found.is_lip:  # another piece of a panel may be cut from another edge, so that its depth tells nothing here
        much = f"up to {depth_text(max(piece.deep for piece in pieces), units)}, {much}"
    rough = " but the scan's roughness taken off" if found.over is not None else ""
    return f"As measured, tolerances not counted{rough}: {much} in all."


def _trimmed(found: CutLines) -> list[str]:
    """How to check a lip trimmed; nothing where trimming does not serve."""
    serves = found.is_lip and found.is_short and not any(piece.more for piece in found.kept.pieces)
    return [trim_words(found)] if serves else []


def trim_words(found: CutLines) -> str:
    """How a build says it, where it is one depth all along."""
    deep = math.ceil(max(piece.deep for piece in found.kept.pieces))
    return f"To check it so: a build with obstacles: {{{found.obstacle.name}: {{trim: {deep} mm}}}} trims it all along."


def basis(found: CutLines, units: str) -> tuple[str, ...]:
    """What the lines rest on."""
    words = [UPRIGHT, CLOCK] if found.is_lip else [CLOCK]
    if found.over is not None:
        words += [_over_words(found.over, units), mark_words(found, units)]
    share, off = found.stretch
    if share >= 1e-4:
        words.append(f"Laid flat, it is stretched by up to {100 * share:.1f} %, {length_text(off, units)} at most.")
    return tuple(filter(None, (*words, IN_SERVICE if found.has_service else "")))


def mark_words(found: CutLines, units: str) -> str:
    """Where a scan's marks are, so that a pattern is laid by them; empty where it has none."""
    if found.over is None or not found.points:
        return ""
    marks = dict.fromkeys(f"{point.name} {off_words(point.place, units)}" for point in found.points)
    joins = JOINS if found.has_joins else ""
    return f"Marks, from the hub face's centre: {'; '.join(marks)}.{joins}"


def _over_words(over: GridOver, units: str) -> str:
    """What stands for a scan, and what that costs."""
    laid, lies = ("smooth sheet laid through the scan", ("stands", "before"))
    if over.is_folded:
        laid, lies = "sheet laid through the scan, along its folds", ("lies", "off")
    held = (
        f"The line is drawn on a {laid}. The scan {lies[0]} up to {depth_text(over.off, units)} {lies[1]} it; that is "
        "taken off everywhere, so more goes than must."
    )
    share = math.ceil(100 * over.bridged)
    return f"{held} {share} % of its points lie over holes, where nothing is known." if over.bridged else held


def required_words(found: CutLines, units: str) -> str:
    """What is required to each part that it meets, in short."""
    own = {part: found.obstacle.allowance_to(part) for part in found.obstacle.meets}
    if len(set(own.values())) == 1:
        return length_text(next(iter(own.values())), units)
    return ", ".join(f"{length_text(value, units)} ({part})" for part, value in own.items())


def area_text(area: float, units: str) -> str:
    """An area in cm2, or in square inches; area : [mm^2]"""
    return f"{math.ceil(area / 100)} cm²" if units == "mm" else f"{math.ceil(area / MM_PER_INCH**2 * 10) / 10:g} sq in"


def clock_text(hours: float) -> str:
    """O'clock as on a clock face, such as 10:30; hours : [h], of a range in one piece"""
    minutes = round(hours * 60 / CLOCK_STEP) * CLOCK_STEP % 720
    return f"{minutes // 60 or 12}:{minutes % 60:02d}"


def _clock_range(piece: CutPiece) -> tuple[str, str, str]:
    first, last, at = piece.clock
    step = CLOCK_STEP / 60
    return clock_text(math.floor(first / step) * step), clock_text(math.ceil(last / step) * step), clock_text(at)


def depth_text(mm: float, units: str) -> str:
    """How deep it must go, not less [mm]."""
    return length_text(_up(mm), units)


def _up(mm: float) -> float:
    return math.ceil(mm * 10 - 1e-6) / 10


def cut_json(found: CutLines) -> dict[str, Any]:
    """The part, what must go, and the lines in the body frame."""
    return {
        "part": found.obstacle.name,
        "shape": found.obstacle.shape,
        "structural": found.is_structural,
        "required_mm": {part: rounded(found.obstacle.allowance_to(part)) for part in found.obstacle.meets},
        "counted": "worst_case",
        "scan_before_sheet_mm": None if found.over is None else rounded(found.over.off),
        "over_holes": None if found.over is None else rounded(found.over.bridged, 3),
        "nothing_to_cut": not found.is_short,
        "share_to_cut": rounded(found.gone, 3),
        "cutting_serves": found.serves,
        "pieces": [_piece_json(piece) for piece in found.kept.pieces],
        "lines_mm": _lines_json(found.kept.line),
        "as_measured": _cut_json(found.nominal),
        "equal_clearance": [
            {"clearance": name, "lines_mm": _lines_json(lines)}
            for name, lines in (("0", found.touching), ("required", found.required), ("required + 5 mm", found.more))
        ],
        "stretch": rounded(found.stretch[0], 6),
        "cautions": [*([STRUCTURAL] if found.is_structural else ()), *basis(found, "mm"), *CAUTIONS],
    }


def _cut_json(cut: CutLine) -> dict[str, Any]:
    return {"pieces": [_piece_json(piece) for piece in cut.pieces], "lines_mm": _lines_json(cut.line)}


def _piece_json(piece: CutPiece) -> dict[str, Any]:
    first, last, at = _clock_range(piece)
    return {
        "kind": piece.kind,
        "deep_mm": rounded(piece.deep),
        "deeper_than_looked": piece.more,
        "long_mm": rounded(piece.long),
        "area_mm2": rounded(piece.area, 1),
        "clock": {"from": first, "to": last, "deepest": at},
        "sentence": piece_words(piece, "mm"),
    }


def _lines_json(lines: LevelLines) -> list[list[list[float | None]]]:
    return [[[rounded(x, 2) for x in point] for point in line.places.tolist()] for line in lines.lines]


def heading_words(found: CutLines, units: str) -> Sequence[str]:
    """The title of a picture, and what is told below it."""
    what, served = found.obstacle.name, " Service is not counted." if found.has_service else ""
    if not found.kept.pieces:
        return f"{what}: nothing to cut", f"Every required clearance is kept.{served}"
    side = f" The {found.side} side; the other has a line of its own (--axle)." if found.side else ""
    if not found.serves:
        return f"{what}: cutting does not serve", no_use_words(found, units) + side + served
    return f"{what}: what must go", largest_words(found, units) + side + served


def largest_words(found: CutLines, units: str) -> str:
    """The cut that goes deepest, and how many there are."""
    count = len(found.kept.pieces)
    deepest = max(found.kept.pieces, key=lambda piece: piece.deep)
    return piece_words(deepest, units) + (f" The deepest of {count} cuts; all are drawn." if count > 1 else "")
