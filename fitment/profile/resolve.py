"""A profile on disk to the frozen records of an axle and what is bolted to it.

Loading reads and checks every build at once, so a slip anywhere is found before anything is computed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

from pydantic import ValidationError

from fitment.corners import axle_of, side_of
from fitment.errors import Argument, FitmentError, ProfileError, ScanError, did_you_mean
from fitment.parts import axle as vehicle
from fitment.parts.obstacles import Obstacle
from fitment.parts.obstacles import Point as BodyPoint
from fitment.parts.reshaped import reworked
from fitment.parts.solid_panel import crossed_over
from fitment.parts.steer_limit import Points, fewer_points
from fitment.parts.tables import typical_values
from fitment.parts.tire import Market, Tire
from fitment.parts.tire_code import parse_tire
from fitment.parts.wheel import parse_wheel
from fitment.profile import records, yaml_core
from fitment.profile.datum import Datum, datum_of, hub_face_at
from fitment.profile.measured import has_value, measured_values, no_reading, steps_of, with_delta
from fitment.profile.merge import Layer, Merged, merge_layers
from fitment.profile.plausibility import cautions_of, doubts_of
from fitment.profile.schema.assumed import AXIS, LINKS, lacks_axis, lacks_links
from fitment.profile.schema.axle import AxlePart, RightRule
from fitment.profile.schema.base import Travel, problems_of
from fitment.profile.schema.builds import CornerPart, SpacerPart
from fitment.profile.schema.scans import ScanPart
from fitment.profile.schema.suspension import SuspensionPart
from fitment.profile.schema.whole import ProfileModel
from fitment.profile.values import Angle, LengthRule, Problem, RefusedError, SquarePoint, refused
from fitment.profile.yaml_core import At, Document, path_text, told_whose
from fitment.units import Measured

if TYPE_CHECKING:  # what a scan takes is loaded where there is one
    from fitment.scans.placed_scan import PlacedScan

SHOWN = 5  # problems listed in one message
_AXLES = ("front", "rear")
LEFT, RIGHT = "left", "right"
_SETUP_PARTS = ("wheel", "tire", "spacer")
_SETUP_KEYS = (*_SETUP_PARTS, "ride")
_OWN_KEYS = (*_SETUP_KEYS, RIGHT)  # of what a build says of an axle, those that are not laid over it as they stand
_DATUM = ("hub_face_width", "hub_face_at", "suspension.camber", "suspension.toe_in")
_POSE = ("suspension.", "steering.", "steer_limit", "travel.droop")  # places the hub of a scan that says how it stood
CROSSED = (
    "give the points of every row in the same direction, and the rows in order. As given, the panel crosses itself "
    "and has no far side to fill."
)
OFFSET = "wheel.offset"  # the wheel's record holds its tolerance
BASELINE = "baseline:"  # before a reading that belongs to the baseline's hub face alone


@dataclass(frozen=True)
class Reading:
    """A measured value that has a tolerance.

    path : key path within the axle, as `axle(..., moved=...)` takes it
    tolerance : half width of its band in `unit`; 0 = none is stated
    unit : mm or deg
    assumed : nobody read it on this vehicle: what is typical, with its band
    """

    path: str
    tolerance: float
    unit: str
    assumed: bool = False


@dataclass(frozen=True)
class Assumed:
    """A value that nobody read on this vehicle.

    path : its key path within the axle; value, tolerance [unit]; unit : mm or deg
    source : where the value and its band come from
    """

    path: str
    value: float
    tolerance: float
    unit: str
    source: str

    @property
    def name(self) -> str:
        """What is assumed, in words: 'steering axis' for each of its readings."""
        bare = self.path.removeprefix(BASELINE)
        if bare.startswith(AXIS):
            return "steering axis"
        if bare.startswith(LINKS):
            return "the axle's links"
        part = re.fullmatch(r"obstacles\[(.*?)\]\.?(.*)", bare)
        return f"{part[1]} {part[2]}" if part else bare.removeprefix("suspension.").replace("_", " ").replace(".", " ")


@dataclass(frozen=True)
class MergedCorner:
    """One axle in one build, after the merge and fully checked; name : its axle's, with its side where they differ."""

    name: str
    axle: AxlePart
    merged: Merged
    setup: CornerPart | None

    @cached_property
    def values(self) -> tuple[tuple[str, Measured], ...]:
        """Every measured value of the axle with its key path."""
        return tuple(measured_values(self.axle, ""))

    @cached_property
    def without_tolerance(self) -> tuple[str, ...]:
        """Names of the parts that state no tolerance."""
        told = [part for part in self.axle.obstacles if not isinstance(part, ScanPart)]  # a scan tells its own
        return tuple(part.name for part in told if not records.states_tolerance(part))


@dataclass(frozen=True, eq=False)
class Profile:
    """A profile that was read and checked whole.

    path : as the user gave it, or the file of a bundled profile
    corners : (build, axle) -> the axle in that build; where its right side differs, "front left" and "front right"
    warnings : implausible but possible; each names its build and axle
    """

    name: str
    note: str
    path: str
    model: ProfileModel
    document: Document = field(repr=False)
    corners: Mapping[tuple[str, str], MergedCorner] = field(repr=False)
    warnings: tuple[str, ...] = ()

    def __repr__(self) -> str:
        axles, builds = ", ".join(self.axle_names), ", ".join(self.build_names)
        return f"<Profile {self.name!r}: {axles}; builds {builds}; baseline {self.baseline}>"

    @property
    def build_names(self) -> tuple[str, ...]:
        return tuple(self.model.builds)

    @property
    def baseline(self) -> str:
        return self.model.baseline

    @property
    def axle_names(self) -> tuple[str, ...]:
        """As `corners` has them: front, rear; of an axle whose right side differs front left, front right."""
        return tuple(name for build, name in self.corners if build == self.baseline)

    def corners_of(self, axle: str) -> tuple[str, ...]:
        """The names of an axle's corners: its own, or where its right side differs each side's; of a corner it.

        A side of an axle whose sides are alike is that axle.
        """
        found = tuple(name for name in self.axle_names if axle in (name, axle_of(name)))
        if not found and side_of(axle) in (LEFT, RIGHT):
            return tuple(name for name in self.axle_names if name == axle_of(axle))
        return found

    def beside(self, axle: str) -> str | None:
        """The corner of the other axle on the same side as this one; None where the profile has none."""
        others = [name for name in self.axle_names if axle_of(name) != axle_of(axle)]
        return next((name for name in others if side_of(name) == side_of(axle)), next(iter(others), None))

    def across(self, axle: str) -> str | None:
        """The other corner of an axle whose right side differs, else None."""
        return next((name for name in self.corners_of(axle_of(axle)) if name != axle), None)

    @property
    def units(self) -> str:
        """Of text, pictures and questions where nothing else is asked for: mm or in."""
        return self.model.units or "mm"

    @property
    def wheelbase(self) -> float | None:
        """Axle to axle [mm], None when it was not measured."""
        return self.model.wheelbase.value if self.model.wheelbase else None

    @property
    def diameter_tolerance(self) -> float | None:
        """What the vehicle's maker permits between front and rear overall diameter [%], None when not told."""
        return self.model.diameter_tolerance


# loading -------------------------------------------------------------------------------------------------------


def bundled_folder() -> Path:
    """Folder of the profiles that come with the program."""
    package = Path(__file__).resolve().parent.parent
    inside = package / "profiles"
    return inside if inside.is_dir() else package.parent / "profiles"


def bundled_names() -> tuple[str, ...]:
    """Names of the profiles that come with the program."""
    return tuple(sorted(path.stem for path in bundled_folder().glob("*.yaml")))


def load_profile(path_or_name: str | Path) -> Profile:
    """Read a profile from a path, or a bundled one by its bare name.

    Raises ProfileError naming file, line and key for the first five problems.
    """
    return build_profile(yaml_core.load_file(_find(path_or_name)))


def loads_profile(text: str, file: str = "profile", folder: Path | None = None) -> Profile:
    """Read a profile from a text; `file` is the name used in errors, `folder` where its scans lie, None = nowhere."""
    return build_profile(yaml_core.load_text(text, file, folder))


def _find(given: str | Path) -> str | Path:
    text = str(given)
    bare = text.isprintable() and text != "" and Path(text).name == text and Path(text).suffix == ""
    if not bare or isinstance(given, Path):
        return given
    try:
        is_file = Path(text).is_file()
    except (OSError, ValueError):
        return given
    if is_file:
        return given
    names = bundled_names()
    if text in names:
        return bundled_folder() / f"{text}.yaml"
    hint = did_you_mean(text, names)
    listed = ", ".join(names) or "none"
    raise ProfileError(
        f"there is no such file, and no vehicle of this name comes with the program.{hint} These do: {listed}.",
        file=text,
    )


def build_profile(document: Document) -> Profile:
    """Check plain data whole and put a profile together."""
    try:
        model = ProfileModel.model_validate(document.data)
    except ValidationError as error:
        raise _told(document, problems_of(error, document.data)) from None
    corners, problems = {}, []
    for build in model.builds:
        for axle_name in _AXLES:
            for name in _corner_names(document, axle_name):
                corner, wrong = _corner(document, model, build, name)
                problems += wrong
                if corner is not None:
                    corners[build, name] = corner
                    problems += _setup_problems(document, build, corner)
    if not problems:
        problems = [
            *_datum_problems(model, corners), *_gap_problems(model, corners), *_rework_problems(model, corners),
        ]  # fmt: skip
    profile = Profile(model.name, model.note, document.file, model, document, corners)
    if not problems:
        problems = _place_problems(profile)
    if problems:
        raise _told(document, problems)
    return replace(profile, warnings=_warnings(profile))


def _warnings(profile: Profile) -> tuple[str, ...]:
    """Cautions of every axle; those of some builds only say of which."""
    warnings: list[str] = []
    for axle_name in profile.axle_names:
        builds: dict[str, list[str]] = {}
        for build in profile.build_names:
            for text in cautions(profile, axle_name, build):
                builds.setdefault(text, []).append(build)
        for text, names in builds.items():
            where = "" if len(names) == len(profile.build_names) else f", build {', '.join(names)}"
            warnings.append(f"{axle_name} axle{where}: {text}")
    return tuple(warnings)


def _corner_names(document: Document, axle_name: str) -> tuple[str, ...]:
    """The axle's own where both sides are alike in every build; none where the profile has no such axle."""
    base = document.data["axles"].get(axle_name)
    if base is None:
        return ()
    told = (base, *(build.get(axle_name) or {} for build in document.data["builds"].values()))
    differs = any(each.get(RIGHT) for each in told)
    return (f"{axle_name} {LEFT}", f"{axle_name} {RIGHT}") if differs else (axle_name,)


def _corner(
    document: Document, model: ProfileModel, build: str, name: str
) -> tuple[MergedCorner | None, list[Problem]]:
    axle_name, is_right = axle_of(name), side_of(name) == RIGHT
    base, base_at = document.data["axles"][axle_name], ("axles", axle_name)
    over_at = ("builds", build, axle_name)
    raw = document.data["builds"][build].get(axle_name) or {}
    layers: list[Layer] = [
        (base.get(RIGHT) or {} if is_right else {}, (*base_at, RIGHT)),
        ({key: value for key, value in raw.items() if key not in _OWN_KEYS}, over_at),
    ]
    given, problems = getattr(model.builds[build], axle_name), list[Problem]()
    if is_right and raw.get(RIGHT) is not None:
        given, over, problems = _right_of_build(raw, (*over_at, RIGHT))
        layers.append((over, (*over_at, RIGHT)))
    layers = [layer for layer in layers if layer[0]]
    merged = merge_layers({key: value for key, value in base.items() if key != RIGHT}, base_at, layers)
    if not layers:
        axle = getattr(model.axles, axle_name).model_copy(update={RIGHT: None})
        return MergedCorner(name, axle, merged, given), problems
    problems += [Problem(at, text) for at, text in merged.problems]
    try:
        axle = AxlePart.model_validate(merged.data)
    except ValidationError as error:
        found = problems_of(error, merged.data)
        return None, problems + [_at_origin(merged, problem, layers, build) for problem in found]
    if side_of(name):
        axle = _as_far_off(axle, getattr(model.axles, axle_name), [data for data, at in layers if at[0] == "builds"])
    return MergedCorner(name, axle, merged, given), problems


def _as_far_off(axle: AxlePart, measured: AxlePart, builds: Sequence[dict[str, Any]]) -> AxlePart:
    """Other hub faces in a build stand as far off the middle as the measured ones, unless it says where they are.

    Source: geometry: each hub face moves by half of what the width grows.
    """
    given = {key for layer in builds for key in layer}
    if "hub_face_width" not in given or "hub_face_at" in given or not isinstance(axle.hub_face_at, tuple):
        return axle
    x, y, z = axle.hub_face_at
    wider = (axle.hub_face_width.value - measured.hub_face_width.value) / 2
    return axle.model_copy(update={"hub_face_at": (x, replace(y, value=y.value + wider), z)})


def _right_of_build(raw: dict[str, Any], at: At) -> tuple[CornerPart, dict[str, Any], list[Problem]]:
    """What a build bolts on at the right, and what it lays over the axle there."""
    try:
        right = RightRule().read(raw[RIGHT])
    except RefusedError as error:
        return CornerPart.model_construct(), {}, [Problem((*at, *each.at), each.text) for each in error.problems]
    over = {key: value for key, value in right.items() if key not in _SETUP_KEYS}
    own = {key: value for key, value in (raw | right).items() if key in _SETUP_KEYS and value is not None}
    try:
        return CornerPart.model_validate(own), over, []
    except ValidationError as error:
        wrong = [Problem((*at, *each.at), each.text) for each in problems_of(error, own) if each.at[:1][0] in right]
        return CornerPart.model_construct(), over, wrong


def _at_origin(merged: Merged, problem: Problem, layers: Sequence[Layer], build: str) -> Problem:
    """A problem found after the merge, at the overriding key when the cause lies there."""
    at = merged.origin(problem.at) if problem.at else layers[-1][1]
    text = problem.text
    if not any(at[: len(over)] == over for _, over in layers):
        where = [f"in build {build}" if over[0] == "builds" else "on the right" for _, over in layers]
        text += f" ({' and '.join(dict.fromkeys(where))}, laid over the axle)"
    return Problem(at, text)


def _setup_problems(document: Document, build: str, corner: MergedCorner) -> list[Problem]:
    ride = corner.setup.ride if corner.setup else None
    if not isinstance(ride, str):
        return []
    try:
        _ride(ride, corner.axle)
    except RefusedError as error:
        axle_name, right = axle_of(corner.name), document.data["builds"][build][axle_of(corner.name)].get(RIGHT) or {}
        own = (RIGHT,) if side_of(corner.name) == RIGHT and "ride" in right else ()
        return [Problem(("builds", build, axle_name, *own, "ride"), problem.text) for problem in error.problems]
    return []


def _datum_problems(model: ProfileModel, corners: Mapping[tuple[str, str], MergedCorner]) -> list[Problem]:
    """The baseline's hub face cannot be counted from itself."""
    text = "the baseline's own hub face is what ahead, up and out count from; write [x, y, z] here."
    return [
        Problem(corner.merged.origin(("hub_face_at",)), text)
        for (build, _), corner in corners.items()
        if build == model.baseline and isinstance(corner.axle.hub_face_at, SquarePoint)
    ]


def _gap_problems(model: ProfileModel, corners: Mapping[tuple[str, str], MergedCorner]) -> list[Problem]:
    problems: list[Problem] = []
    for (_, name), corner in corners.items():
        baseline = corners[model.baseline, name]
        for index, obstacle in enumerate(corner.axle.obstacles):
            gap = getattr(obstacle, "measured_gap", None)
            if gap is not None:
                at = corner.merged.origin(("obstacles", index, "measured_gap"))
                found = _gap_problem(at, gap, axle_of(name), model.baseline, baseline)
                problems += [problem for problem in found if problem not in problems]
    return problems


def _gap_problem(at: At, gap: Any, axle_name: str, name: str, baseline: MergedCorner) -> list[Problem]:
    """Why a gap cannot have been read on the baseline of this name, or nothing."""
    setup, travel = baseline.setup, baseline.axle.travel
    if setup is None or setup.wheel is None or setup.tire is None:
        text = f'the gap is to the {gap.to} of the baseline, but build "{name}" names no wheel and tire'
        return [Problem(at, f"{text} for the {axle_name} axle; add them.")]
    if gap.at.lock != "straight" and baseline.axle.steering is None:
        text = f"the gap was read at {gap.at.lock} lock, but the {axle_name} axle has no steering; give its locks."
        return [Problem((*at, "at", "lock"), text)]
    heights = [height.value for height in baseline.axle.ride_heights.values()]
    low, high = min(travel.droop.value, *heights, 0.0), max(travel.bump.value, *heights, 0.0)
    if gap.at.travel is not None and not low <= gap.at.travel.value <= high:
        text = f"the gap was read at travel {gap.at.travel.value:g} mm, the wheel moves from {low:g} to {high:g} mm; "
        return [Problem((*at, "at", "travel"), text + "up is positive. Check the reading, droop and bump.")]
    return []


def _place_problems(profile: Profile) -> list[Problem]:
    """Parts without extent, or filled and crossing themselves, once every point is in the body frame; unsound scans."""
    problems: list[Problem] = []
    for (_, name), corner in profile.corners.items():
        datum = _datum(profile, name)
        suspension = corner_of(profile, name).axle.suspension
        for index, part in enumerate(corner.axle.obstacles):
            if isinstance(part, ScanPart):
                found = _scan_problems(part, corner, index, datum, suspension)
                problems += [each for each in found if each not in problems]
                continue
            placed = records.obstacle(part, datum)
            fault = records.no_extent(placed)
            if not fault and placed.solid_behind and crossed_over(placed):
                fault = CROSSED
            if fault:
                key = part.surface_key if part.shape == "panel" else "points" if part.shape == "edge" else "to"
                at = corner.merged.origin(("obstacles", index, key))
                problem = Problem(at, f"{part.name}: {fault}")
                problems += [problem] if problem not in problems else []
            else:
                problems += _reworked_problem(part, placed, corner, index, datum)
    return problems


def _scan_problems(
    part: ScanPart, corner: MergedCorner, index: int, datum: Datum, suspension: SuspensionPart
) -> Iterator[Problem]:
    """Why a scan cannot be used, or why its zones have no names of their own, or nothing; suspension : baseline's."""
    from fitment.profile.scan_parts import scan_of
    from fitment.profile.scan_pose import motion_problem

    at = ("obstacles", index)
    others = {name for other in corner.axle.obstacles if other is not part for name in records.names_of(other)}
    for name in others.intersection(part.names[1:]):
        text = f'the zone is called "{name}" in reports, as another part is; give it another name.'
        yield Problem(corner.merged.origin((*at, "zones")), text)
    if untold := motion_problem(part, suspension):
        yield Problem(corner.merged.origin((*at, "at")), untold)
        return
    try:
        scan_of(part, datum)
    except ScanError as error:
        yield Problem(corner.merged.origin((*at, *error.at)), str(error))


def _rework_problems(model: ProfileModel, corners: Mapping[tuple[str, str], MergedCorner]) -> list[Problem]:
    """Parts that the baseline itself shifts or shortens, which it was measured with."""
    text = (
        f'move and trim say what a build changes, but build "{model.baseline}" is the vehicle as it was measured. Put '
        "them into another build, or give the part where it is."
    )
    problems: list[Problem] = []
    for (build, _), corner in corners.items():
        for index, part in enumerate(corner.axle.obstacles if build == model.baseline else ()):
            for key in ("move", "trim"):
                problem = Problem(corner.merged.origin(("obstacles", index, key)), text)
                if getattr(part, key) is not None and problem not in problems:
                    problems.append(problem)
    return problems


def _reworked_problem(part: Any, placed: Obstacle, corner: MergedCorner, index: int, datum: Any) -> list[Problem]:
    """Why a part cannot be moved or trimmed so, or nothing; one that a tape places is tried when it stands there."""
    if placed.rework is None or placed.measured_gap is not None:
        return []
    try:
        reworked(placed, hub_face_at(corner.axle, datum))
    except FitmentError as error:
        key = "move" if part.trim is None else "trim"
        return [Problem(corner.merged.origin(("obstacles", index, key)), str(error))]
    return []


def _told(document: Document, problems: list[Problem]) -> ProfileError:
    """One error that lists the first problems, each with file, line and key path."""
    entries: dict[tuple[int, str, str], None] = {}
    for problem in problems:
        at = _existing(document.data, problem.at)
        words = [step for step in problem.at if isinstance(step, str)]
        text = problem.text.replace("{key}", words[-1] if words else "value")
        entries[document.line(at), path_text(at), told_whose(document.data, problem.at, text)] = None
    listed = sorted(entries, key=lambda entry: entry[0])
    (line, key, message), *others = listed
    for other_line, other_key, text in others[: SHOWN - 1]:
        message += "\n" + str(ProfileError(text, file=document.file, line=other_line, key=other_key))
    if len(listed) > SHOWN:
        message += f"\nand {len(listed) - SHOWN} more mistake{'s' if len(listed) > SHOWN + 1 else ''}."
    return ProfileError(message, file=document.file, line=line, key=key)


def _existing(data: Any, at: At) -> At:
    """The part of a key path that stands in the file."""
    for index, step in enumerate(at):
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError):
            return at[:index]
    return at


# what to look at -----------------------------------------------------------------------------------------------


def _named_build(profile: Profile, build: str | None) -> str:
    if build is None:
        return profile.baseline
    if build not in profile.model.builds:
        names = profile.build_names
        hint = f"{did_you_mean(build, names)} The profile has: {', '.join(names)}."
        raise ProfileError(f'there is no build "{build}".{hint}', file=profile.path, key="builds")
    return build


def corner_of(profile: Profile, axle_name: str, build: str | None = None) -> MergedCorner:
    """The axle in a build. Raises ProfileError listing the names for one that the profile has not."""
    name = _named_build(profile, build)
    own = profile.corners_of(axle_name)
    if not own:
        names = profile.axle_names
        hint = f"{did_you_mean(axle_name, names)} The profile has: {', '.join(names)}."
        raise ProfileError(f'there is no axle "{axle_name}".{hint}', file=profile.path, key="axles")
    return profile.corners[name, own[0]]


def cautions(profile: Profile, axle_name: str, build: str | None = None) -> tuple[str, ...]:
    """What is possible but unlikely in one axle of one build, in plain sentences."""
    corner, baseline = corner_of(profile, axle_name, build), corner_of(profile, axle_name)
    is_front = axle_of(axle_name) == "front"
    told = (
        *_lacking(profile, corner), *cautions_of(corner.axle, corner.setup, baseline.setup, is_front=is_front),
    )  # fmt: skip
    if not (found := scans(profile, axle_name, build)):
        return told
    from fitment.profile.scan_parts import scan_cautions

    suspension = baseline.axle.suspension
    return (*told, *(text for part, scan in found for text in scan_cautions(part, scan, suspension)))


def doubts(profile: Profile, axle_name: str, build: str | None = None) -> tuple[str, ...]:
    """Of the `cautions` those that belong beside the verdict: a reading is likely a slip, or is lacking."""
    corner, baseline = corner_of(profile, axle_name, build), corner_of(profile, axle_name)
    return tuple(doubts_of(corner.axle, baseline.setup, is_front=axle_of(axle_name) == "front"))


_NOT_GIVEN = (
    (
        lacks_axis,
        "steering_axis",
        (
            "not given, so a typical one is taken, with its band; only the gaps straight ahead do not hang on it. Give "
            "two points of the axis (lower, upper), or kingpin_inclination, caster and offset"
        ),
    ),
    (
        lacks_links,
        "links",
        (
            "not given, so how far the axle moves fore and aft, and steers in roll, is taken as typical, with its "
            "band. Measure the links' front and rear pivots (lower_body, lower_axle), or a leaf spring's eye and its "
            "seat on the axle (spring_eye, spring_axle)"
        ),
    ),
)


def _lacking(profile: Profile, corner: MergedCorner) -> Iterator[str]:
    """What was taken as typical because it is not given, and where to fill it in."""
    for lacks, key, text in _NOT_GIVEN:
        if lacks(corner.merged.data):
            at = corner.merged.origin(("suspension", key))
            line = profile.document.line(at)
            yield str(ProfileError(text, file=Path(profile.path).name, line=line, key=path_text(at)))


def axle(
    profile: Profile,
    axle_name: str,
    build: str | None = None,
    moved: Mapping[str, float] | None = None,
    obstacle: str | None = None,
) -> vehicle.Axle:
    """One axle in one build, in body coordinates at the reference pose.

    build : None = the baseline
    moved : [mm or deg] added to the measured value at a key path, see `readings`
    obstacle : the one that is wanted; None = all
    """
    own, datum = _moved_pair(profile, axle_name, build, moved or {})
    corner, baseline = corner_of(profile, axle_name, build), corner_of(profile, axle_name)
    shared = _same_origin(corner, baseline, AXIS)  # an axis by its angles counts from the hub face it was read at
    origin = _datum(profile, axle_name, datum, moved or {})
    axis_from = hub_face_at(datum if shared else own, origin)
    found = _converted(profile, corner, own, origin, axis_from, obstacle)
    return _with_other_end(profile, found, build, moved or {})


def baseline_axle(
    profile: Profile,
    axle_name: str,
    build: str | None = None,
    moved: Mapping[str, float] | None = None,
    obstacle: str | None = None,
) -> vehicle.Axle:
    """The baseline's axle, with those of a build's moved readings that belong to both.

    obstacle : the one that is wanted; None = all
    """
    _, datum = _moved_pair(profile, axle_name, build, moved or {})
    corner = corner_of(profile, axle_name)
    origin = _datum(profile, axle_name, datum, moved or {})
    found = _converted(profile, corner, datum, origin, hub_face_at(datum), obstacle)
    return _with_other_end(profile, found, None, moved or {})


def _datum(
    profile: Profile, axle_name: str, read: AxlePart | None = None, moved: Mapping[str, float] | None = None
) -> Datum:
    """What points count from, and how the baseline's hub moves; read : the baseline's axle with readings moved."""
    baseline = corner_of(profile, axle_name)
    part = baseline.axle if read is None else read
    datum = datum_of(part, baseline.setup, profile.document.folder)
    moving = _with_other_end(profile, _moving(baseline.name, part, datum, hub_face_at(part)), None, moved or {})
    return replace(datum, moving=moving)


def _with_other_end(
    profile: Profile, axle: vehicle.Axle, build: str | None, moved: Mapping[str, float]
) -> vehicle.Axle:
    """A corner of a solid axle with the beam's other end, and the one panhard bar as it was read on the left."""
    other_name, suspension = profile.across(axle.name), axle.suspension
    if other_name is None or not isinstance(suspension, vehicle.SolidAxle):
        return axle
    own, other = (corner_of(profile, name, build) for name in (axle.name, other_name))
    both = {path: by for path, by in moved.items() if path.startswith(BASELINE) or _same_origin(own, other, path)}
    part, datum = _moved_pair(profile, other_name, build, both)
    origin = datum_of(datum)
    at = hub_face_at(part, origin)
    there = records.SUSPENSIONS[part.suspension.kind](part.suspension, origin, at)
    if not isinstance(there, vehicle.SolidAxle):
        return axle
    left = suspension if side_of(axle.name) == LEFT else there
    led = replace(
        suspension,
        panhard_body=left.panhard_body,
        panhard_axle=left.panhard_axle,
        across=vehicle.AxleEnd(at, there.links),
    )
    return replace(axle, suspension=led)


def readings(profile: Profile, axle_name: str, build: str | None = None) -> tuple[Reading, ...]:
    """Every measured value with a tolerance in this axle and build, in the order of the schema.

    A reading of the baseline's hub face that the build overrides still places the body; its path begins
    with `baseline:`. Paths that begin with wheel, tire or spacer are for `setup`, the others for `axle`; each
    passes over the other's. Tolerances of an obstacle as a whole and of the wheel's offset are no readings.
    """
    found = _values(profile, axle_name, build)
    return tuple(_reading(path, value) for path, value in found if value.tolerance > 0 and path != OFFSET)


def exact_readings(profile: Profile, axle_name: str, build: str | None = None) -> tuple[Reading, ...]:
    """Every measured value in this axle and build that is given without a tolerance, and so is taken as exact.

    One that states a tolerance of 0 is exact, and left out.

    An obstacle's own tolerance covers all readings of that part, which are then left out.
    """
    corner = corner_of(profile, axle_name, build)
    covered = [
        f"obstacles[{part.name}]"
        for part in corner.axle.obstacles
        if part.tolerance or part.name in corner.without_tolerance
    ]
    return tuple(
        _reading(path, value)
        for path, value in _values(profile, axle_name, build)
        if not value.stated and path != OFFSET and not any(path.startswith(name) for name in covered)
    )


def exact_by_statement(profile: Profile, axle_name: str, build: str | None = None) -> tuple[str, ...]:
    """Key paths of the values of this axle and build that state a tolerance of 0."""
    return tuple(path for path, value in _values(profile, axle_name, build) if value.stated and not value.tolerance)


def reads_from_ground(profile: Profile, axle_name: str, build: str | None = None) -> bool:
    """Whether a point's height was read from the ground, so that hub_height places it."""
    return any(path.endswith(".above_ground") for path, _ in corner_of(profile, axle_name, build).values)


def usual_tolerances(profile: Profile, axle_name: str, build: str | None = None) -> tuple[str, ...]:
    """Names of the parts that state no tolerance, so that the usual one is taken."""
    return corner_of(profile, axle_name, build).without_tolerance


def assumed_values(profile: Profile, axle_name: str, build: str | None = None) -> tuple[Assumed, ...]:
    """Every value of this axle and build that nobody read, with its band, in the order of the schema."""
    found = []
    for path, value in _values(profile, axle_name, build):
        if not value.assumed:
            continue
        key = path.removeprefix(BASELINE)
        rows = [row for name, row in typical_values().items() if name == key or name.startswith(f"{key} of ")]
        same = [row for row in rows if (row.value, row.tolerance) == (value.value, value.tolerance)]
        source = same[0].source if same else "as the profile says"
        found.append(Assumed(path, value.value, value.tolerance, _unit(value), source))
    return tuple(found)


def _unit(value: Measured) -> str:
    return "deg" if isinstance(value, Angle) else "mm"


def _reading(path: str, value: Measured) -> Reading:
    return Reading(path, value.tolerance, _unit(value), value.assumed)


def _values(profile: Profile, axle_name: str, build: str | None) -> list[tuple[str, Measured]]:
    """Every measured value that places a part of this axle and build, or what is bolted to it, with its key path."""
    corner, baseline = corner_of(profile, axle_name, build), corner_of(profile, axle_name)
    values = [*corner.values]
    datum = (*_DATUM, "hub_height") if reads_from_ground(profile, axle_name, build) else _DATUM
    apart = [path for path in datum if not _same_origin(corner, baseline, path)]
    poses = _POSE if any(isinstance(part, ScanPart) and part.at for part in corner.axle.obstacles) else ()
    for path, value in baseline.values if apart or poses else ():
        is_of_pose = path.startswith(poses) and not _same_origin(corner, baseline, path)
        if is_of_pose or any(path == root or path.startswith(root + "[") for root in apart):
            values.append((BASELINE + path, value))
    if corner.setup is not None:
        for key in _SETUP_PARTS:
            values += measured_values(getattr(corner.setup, key), key)
    return values


def sources(profile: Profile, axle_name: str, build: str | None = None) -> dict[str, str]:
    """From which reading each part of this axle and build came, by its name; lengths in mm."""
    parts = corner_of(profile, axle_name, build).axle.obstacles
    return {name: records.source(part) for part in parts for name in records.names_of(part)}


def scans(profile: Profile, axle_name: str, build: str | None = None) -> tuple[tuple[ScanPart, PlacedScan], ...]:
    """The scans of this axle and build: what the profile says of each, and what it comes to."""
    corner, baseline = corner_of(profile, axle_name, build), corner_of(profile, axle_name)
    if not (parts := [part for part in corner.axle.obstacles if isinstance(part, ScanPart)]):
        return ()
    from fitment.profile.scan_parts import scan_of

    origin = _datum(profile, baseline.name)
    return tuple((part, scan_of(part, origin)) for part in parts)


def part_at(profile: Profile, axle_name: str, build: str | None, part: str) -> tuple[int, str]:
    """Line and key path in the file of a part's measured gap."""
    corner = corner_of(profile, axle_name, build)
    index = next(i for i, obstacle in enumerate(corner.axle.obstacles) if obstacle.name == part)
    at = corner.merged.origin(("obstacles", index, "measured_gap"))
    return profile.document.line(at), path_text(at)


def has_setup(profile: Profile, axle_name: str, build: str | None = None) -> bool:
    """Whether the build names both a wheel and a tire for the axle."""
    given = corner_of(profile, axle_name, build).setup
    return given is not None and given.wheel is not None and given.tire is not None


def setup(
    profile: Profile,
    axle_name: str,
    build: str | None = None,
    *,
    wheel: str | None = None,
    tire: str | None = None,
    spacer: float | str | None = None,
    ride: float | str | None = None,
    moved: Mapping[str, float] | None = None,
) -> vehicle.Setup:
    """What is bolted on in a build, or what is put in its place.

    spacer : [mm], or a text as typed; ride : travel at rest [mm], or a text as typed, a height's name too
    moved : readings of the setup by their paths, each with how far it is moved

    Raises CodeError for a wheel or tire that cannot be read, ProfileError for the rest.
    """
    corner, name = corner_of(profile, axle_name, build), _named_build(profile, build)
    given = corner.setup or CornerPart.model_construct()
    _check_complete(profile, ("builds", name, axle_of(axle_name)), given, wheel, tire)
    for path, delta in (moved or {}).items():
        head, _, rest = path.partition(".")
        part = getattr(given, head) if head in _SETUP_PARTS else None
        if part is not None and has_value(part, steps_of(rest)):
            given = given.model_copy(update={head: with_delta(part, steps_of(rest), delta)})
    own, _ = _moved_pair(profile, axle_name, build, moved or {})
    travel, ride_name = _setup_ride(given, own, ride)
    return vehicle.Setup(
        wheel=parse_wheel(wheel) if wheel is not None else given.wheel.record(),  # type: ignore[union-attr]
        tire=tire_as_sold(profile, tire) if tire is not None else _own_tire(profile, given),
        spacer=_spacer(given.spacer, spacer),
        ride=travel,
        ride_name=ride_name,
    )


def tire_as_sold(profile: Profile, code: str) -> Tire:
    """A tire of which only the code is known, in the profile's market. Raises CodeError."""
    return _in_market(profile, parse_tire(code))


def _in_market(profile: Profile, tire: Tire) -> Tire:
    return replace(tire, market=cast(Market, profile.model.market or "un"))


def _own_tire(profile: Profile, given: CornerPart) -> Tire:
    """A build's own tire; an outline was read on the build's own rim unless another is named. Raises CodeError."""
    assert given.tire is not None
    tire = _in_market(profile, given.tire.record())
    if tire.outline and tire.on_rim is None and given.wheel is not None:
        return replace(tire, on_rim=given.wheel.record().rim_width)
    return tire


def _check_complete(profile: Profile, at: At, given: CornerPart, wheel: str | None, tire: str | None) -> None:
    missing = [key for key, text in (("wheel", wheel), ("tire", tire)) if text is None and getattr(given, key) is None]
    if missing:
        text = f'build "{at[1]}" names no {" and no ".join(missing)} for the {at[2]} axle; add it there, or give '
        options = [word for key in missing for word in (" and ", Argument(key, to_give=True))][1:]
        raise ProfileError(text, *options, ".", file=profile.path, line=profile.document.line(at), key=path_text(at))


# conversion ---------------------------------------------------------------------------------------------------


def _converted(
    profile: Profile,
    corner: MergedCorner,
    part: AxlePart,
    datum: Datum,
    axis_from: BodyPoint,
    only: str | None = None,
) -> vehicle.Axle:
    """An axle in body coordinates; corner : as it was read, part and datum : perhaps with readings moved."""
    axle_name, read_from = corner.name, _datum(profile, corner.name)
    return replace(
        _moving(axle_name, part, datum, axis_from),
        driven=part.driven,
        final_drive=part.final_drive,
        axle_load=part.axle_load,
        adjusters=tuple(records.adjuster(adjuster) for adjuster in part.adjusters),
        top_speed=part.top_speed,
        vehicle_class=cast(vehicle.VehicleClass | None, profile.model.vehicle_class),
        hub=records.hub(part.hub) if part.hub else None,
        brake=records.brake(part.brake) if part.brake else None,
        obstacles=tuple(
            made
            for each, read in zip(part.obstacles, corner.axle.obstacles, strict=True)
            if (only is None or only in records.names_of(each))
            and (not side_of(axle_name) or each.side in (None, side_of(axle_name)))
            for made in records.obstacles(each, datum, (read, read_from))
            if only in (None, made.name)
        ),
        low_points=tuple(records.low_point(low_point, datum) for low_point in part.low_points),
        service=records.service(part.service) if part.service else None,
    )


def _moving(axle_name: str, part: AxlePart, datum: Datum, axis_from: BodyPoint) -> vehicle.Axle:
    """What of an axle decides how its hub moves, in body coordinates."""
    steering = part.steering
    return vehicle.Axle(
        name=axle_name,
        suspension=records.SUSPENSIONS[part.suspension.kind](part.suspension, datum, axis_from),
        hub_face_at=hub_face_at(part, datum),
        hub_height=part.hub_height.value,
        droop=part.travel.droop.value,
        bump=part.travel.bump.value,
        ride_heights=tuple((name, height.value) for name, height in part.ride_heights.items()),
        steering=vehicle.Steering(steering.lock_left.value, steering.lock_right.value) if steering else None,
        steer_limit=_steer_limit(part),
    )


def _steer_limit(part: AxlePart) -> Points:
    """In fewer points where no tolerance of one counts by itself."""
    limit = tuple((travel.value, share) for travel, share in part.steer_limit)
    return limit if any(travel.tolerance for travel, _ in part.steer_limit) else fewer_points(limit)


def _spacer(part: SpacerPart | None, given: float | str | None) -> vehicle.Spacer:
    if given is None:
        return records.spacer(part)
    try:
        return vehicle.Spacer(LengthRule(0, 150, "spacer").number(_number_or_text(given)))
    except RefusedError as error:
        raise ProfileError(Argument("spacer"), f": {error.problems[0].text.replace('{key}', 'spacer')}") from None


def _number_or_text(given: float | str) -> float | str:
    """Of a text that is a bare number the number, which is in mm."""
    if isinstance(given, str) and (len(given) > 30 or "_" in given):
        return given
    try:
        return float(given)
    except ValueError:
        return given


def _setup_ride(given: CornerPart, part: AxlePart, instead: float | str | None) -> tuple[float, str | None]:
    if instead is not None:
        try:
            return _ride(instead, part)
        except RefusedError as error:
            raise ProfileError(Argument("ride"), f": {error.problems[0].text}") from None
    if given.ride is None:
        return 0.0, None
    return _ride(given.ride, part) if isinstance(given.ride, str) else (given.ride.value, None)


def _ride(given: float | str, part: AxlePart) -> tuple[float, str | None]:
    """Travel at rest [mm] and its name, from a name of ride_heights or a length."""
    if given in part.ride_heights:
        return part.ride_heights[given].value, given
    text = str(given)
    names = ", ".join(part.ride_heights) or "none"
    if not any(letter.isdigit() for letter in text):
        hint = did_you_mean(text, part.ride_heights)
        raise refused(f'"{text}" is not a ride height.{hint} The axle has: {names}; or give millimetres.')
    try:
        return Travel.number(_number_or_text(given)), None
    except RefusedError as error:
        hint = did_you_mean(text, part.ride_heights)
        said = error.problems[0].text.replace("{key}", "ride")
        raise refused(f"{said}{hint} The axle has the ride heights: {names}.") from None


# readings that move -------------------------------------------------------------------------------------------


def _same_origin(corner: MergedCorner, baseline: MergedCorner, path: str) -> bool:
    """Whether a value of a build is the very reading that the baseline has there."""
    return _origin(corner, path) == _origin(baseline, path)


def _origin(corner: MergedCorner, path: str) -> At:
    at: At = ()
    node: Any = corner.merged.data
    for step in steps_of(path):
        if isinstance(node, list):
            names = [entry.get("name") if isinstance(entry, dict) else None for entry in node]
            key: str | int = names.index(step) if step in names else int(step) if step.isdigit() else step
        else:
            key = step
        at = (*at, key)
        try:
            node = node[key]
        except (KeyError, IndexError, TypeError):
            node = None
    return corner.merged.origin(at)


def _moved_pair(
    profile: Profile, axle_name: str, build: str | None, moved: Mapping[str, float]
) -> tuple[AxlePart, AxlePart]:
    """The axle of a build and of the baseline with their readings moved; a shared one moves in both.

    A path that only another build has moves nothing here.
    """
    corner, baseline = corner_of(profile, axle_name, build), corner_of(profile, axle_name)
    own, datum = corner.axle, baseline.axle
    for path, delta in moved.items():
        bare = path.removeprefix(BASELINE)
        steps = steps_of(bare)
        if steps and steps[0] in _SETUP_PARTS:
            continue  # of the setup, not of the axle
        if bare != path:
            datum = with_delta(datum, steps, delta)
            own = datum if corner is baseline else own
        elif has_value(own, steps):
            own = with_delta(own, steps, delta)
            if corner is baseline or _same_origin(corner, baseline, path):
                datum = with_delta(datum, steps, delta)
        elif not any(has_value(corner_of(profile, axle_name, name).axle, steps) for name in profile.build_names):
            raise no_reading(path)
    return own, datum
