"""The questions of the command line as functions, for programs and notebooks.

Each takes a profile (a file, the bare name of one that comes with the program, or a loaded one), asks what the command
of its name asks, and gives an answer of `fitment.results`. Lengths are numbers in mm or texts with a unit, angles
degrees. Nothing is printed; a mistake in what was given is a FitmentError. Without an axle every one of the profile is
answered. `units` is of texts and pictures, data are in mm.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from copy import copy
from functools import wraps
from inspect import signature
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

from fitment import report
from fitment.answers import builds
from fitment.answers.alignment import align as aligned
from fitment.answers.alignment import read_settings
from fitment.answers.order_sheet import axle_order
from fitment.answers.pose_table import tabulate_poses
from fitment.checks.case import ready
from fitment.errors import FitmentError, ProfileError, UnitError
from fitment.motion.adjusters import Setting
from fitment.profile import Profile, load_profile
from fitment.results import Aligned, AxleWindows, Checked, Compared, Ordered, Posed, Screened, Windows
from fitment.screening.candidates import from_records, read_candidates
from fitment.screening.keep_out import keep_out_at
from fitment.screening.offset_window import windows
from fitment.screening.ranking import ranked
from fitment.screening.screen import screen_candidates as screen_rows
from fitment.units import to_mm

UNITS = ("mm", "in")
FileOrProfile = str | Path | Profile
Length = float | str
Numbers = float | Iterable[float]
P = ParamSpec("P")
R = TypeVar("R")


def _in_its_own_words(function: Callable[P, R]) -> Callable[P, R]:
    """The function with its mistakes told in its own words: an option of the command is an argument here."""
    names = tuple(signature(function).parameters)

    @wraps(function)
    def asked(*args: P.args, **kwargs: P.kwargs) -> R:
        try:
            return function(*args, **kwargs)
        except FitmentError as error:
            raise _told(error, names) from error.__cause__

    return asked


def _told(error: FitmentError, names: Sequence[str]) -> FitmentError:
    """The same error with `give --ride` as `give ride=`, and any other `--ride` as `ride`."""
    options = "|".join(re.escape(name.replace("_", "-")) for name in names)

    def worded(text: str) -> str:
        asked_for = re.sub(rf"\b(give|and|or) --({options})\b", lambda found: f"{found[1]} {found[2]}=", text)
        return re.sub(rf"--({options})\b", r"\1", asked_for).replace("loaded-radius", "loaded_radius")

    found = copy(error)
    found.args = (worded(str(error)),)
    if isinstance(found, ProfileError):
        found.key, found.message = worded(found.key), worded(found.message)
    return found


@_in_its_own_words
def check(
    profile: FileOrProfile,
    axle: str | None = None,
    build: str | None = None,
    *,
    wheel: str | None = None,
    tire: str | None = None,
    spacer: Length | None = None,
    ride: Length | None = None,
    loaded_radius: Length | None = None,
    settings: str | Sequence[Setting] | None = None,
    geometry: bool = False,
    how_sure: bool = False,
    changes: bool = False,
    units: str = "mm",
) -> Checked:
    """Check one setup: bolt-on checks, clearances at their worst pose, cautions. Raises FitmentError.

    build : None = the baseline; wheel, tire, spacer [mm], ride (a height's name, or travel at rest [mm]) : in place of
        the build's own
    loaded_radius : wheel centre to ground [mm], for scrub radius and trail
    settings : of the adjusters, as a text of `check --settings` or those that `align` chose
    geometry : the data also carry poses, sections and placed parts
    how_sure : also chances under the stated tolerances; changes : also what would make it clear
    >>> import fitment
    >>> found = fitment.check("wagon", "front", "wanted")
    >>> found.verdict, found.clears
    ('touches', False)
    >>> found.data["worst"]["obstacle"]
    'inner fender'
    >>> fitment.check("wagon", "front", "wanted", wheel="20x8.5 ET35 5x114.3 CB70.6", tire="235/35R20 92Y XL").verdict
    'clears'
    """
    read, words = _read(profile), _units(units)
    given = _given(wheel, tire, spacer, ride)
    radius = None if loaded_radius is None else _radius(loaded_radius)
    made = read_settings(settings) if isinstance(settings, str) else settings or ()
    axles = _axles(read, axle, build, given)
    cases = builds.checked(read, axles, build, given, loaded_radius=radius, settings=made)
    asides = tuple(report.asides(case, how_sure=how_sure, changes=changes) for case in cases)
    return Checked(cases=tuple(cases), asides=asides, geometry=geometry, units=words, one=axle is not None)


@_in_its_own_words
def compare(profile: FileOrProfile, old: str, new: str, axle: str | None = None, *, units: str = "mm") -> Compared:
    """Compare two builds; the verdict is that of the new one. Raises FitmentError.

    >>> import fitment
    >>> found = fitment.compare("pickup", "factory", "swapped", "front")
    >>> found
    <Compared: front, 'factory' (clears) -> 'swapped' (clears)>
    >>> sorted(found.data)
    ['axle', 'differences', 'new', 'old', 'profile', 'road', 'verdict']
    """
    read, words = _read(profile), _units(units)
    for name, build in (("old", old), ("new", new)):
        if _name(name, build) is None:
            raise FitmentError(f"{name}: name a build; the profile has {', '.join(read.build_names)}.")
    axles = builds.common_axles(read, _name("axle", axle), old, new, read.path)
    pairs = zip(builds.checked(read, axles, old, {}), builds.checked(read, axles, new, {}), strict=True)
    return Compared(pairs=tuple(pairs), units=words, one=axle is not None)


@_in_its_own_words
def screen(
    profile: FileOrProfile,
    candidates: str | Path | Iterable[Mapping[str, Any]],
    axle: str | None = None,
    build: str | None = None,
    *,
    processes: int = 1,
    units: str = "mm",
) -> Screened:
    """Check every candidate and rank them; one that cannot be read comes back with the reason. Raises FitmentError.

    candidates : a CSV file, or a mapping each, with wheel and tire, and if wanted spacer [mm], ride and any others,
        which are kept; values become texts, as in a CSV file
    processes : among which a long list is spread; more than 1 in a program needs an `if __name__ == "__main__":`
    >>> import fitment
    >>> rows = [
    ...     {"name": "wide", "wheel": "20x10 ET30 5x114.3 CB70.6", "tire": "275/40R20 106W XL"},
    ...     {"name": "narrow", "wheel": "20x8.5 ET35 5x114.3 CB70.6", "tire": "235/35R20 92Y XL", "price": 120},
    ... ]
    >>> found = fitment.screen("wagon", rows, "front", "wanted")
    >>> [(row["name"], row["verdict"]) for row in found.data]
    [('narrow', 'clears'), ('wide', 'touches')]
    """
    read, words = _read(profile), _units(units)
    if isinstance(processes, bool) or not isinstance(processes, int) or processes < 1:
        raise FitmentError(f"processes {processes}: give a whole number, 1 or more.")
    names = _axles(read, axle, build, {"wheel": "-", "tire": "-"})
    header, rows = read_candidates(candidates) if isinstance(candidates, str | Path) else from_records(candidates)
    prepared = tuple(ready(read, name, build) for name in names)
    found = ranked(screen_rows(prepared, rows, processes=processes))
    return Screened(rows=tuple(found), header=tuple(header), prepared=prepared, units=words, one=axle is not None)


@_in_its_own_words
def window(
    profile: FileOrProfile,
    axle: str | None = None,
    build: str | None = None,
    *,
    size: str | Sequence[str] = (),
    tire: str | Sequence[str] = (),
    spacer: Length | None = None,
    ride: Length | None = None,
    units: str = "mm",
) -> Windows:
    """The offsets at which a wheel size with a tire clears, and what stops it on each side. Raises FitmentError.

    size : such as "20x10", or several; tire : a code or several; without them the build's own
    The data are a list: every size with every tire that goes on it, axle by axle.
    >>> import fitment
    >>> found = fitment.window("wagon", "front", "wanted", size="20x8.5", tire="235/35R20 92Y XL")
    >>> found.data[0]["offset_min_mm"] < found.data[0]["offset_max_mm"]
    True
    """
    read, words = _read(profile), _units(units)
    sizes, tires = _texts("size", size), _texts("tire", tire)
    given = _given(sizes[0] if sizes else None, tires[0] if tires else None, spacer, ride)
    found = []
    for name in _axles(read, axle, build, given):
        prepared = ready(read, name, build)
        setups = builds.of_sizes(prepared, sizes, tires, given["spacer"], given["ride"])
        kept = keep_out_at(prepared, setups[0].ride)
        found.append(AxleWindows(ready=prepared, kept=kept, windows=tuple(windows(prepared, setups, kept))))
    return Windows(found=tuple(found), units=words, one=axle is not None)


@_in_its_own_words
def align(
    profile: FileOrProfile,
    axle: str | None = None,
    build: str | None = None,
    *,
    ride: Length | None = None,
    camber: float | None = None,
    caster: float | None = None,
    units: str = "mm",
) -> Aligned:
    """Camber, caster, toe at each ride height; what the adjusters reach; the settings for a target [deg].

    ride : at which to set, a height's name or travel at rest [mm]. Raises FitmentError.
    >>> import fitment
    >>> found = fitment.align("pickup", "front", "swapped", ride="lowered", camber=-1.2, caster=4.5)
    >>> [each["adjuster"] for each in found.data["settings"]]
    ['upper ball joint position', 'lower eccentric bushings']
    >>> chosen = found.found[0].choice.settings
    >>> fitment.check("pickup", "front", "swapped", ride="lowered", settings=chosen).axles
    ('front',)
    """
    read, words = _read(profile), _units(units)
    asked = {name: None if v is None else _number(name, v) for name, v in (("camber", camber), ("caster", caster))}
    target = any(value is not None for value in asked.values())
    prepared = builds.adjustable(read, _name("axle", axle), _name("build", build), target=target)
    found = tuple(aligned(each, _text("ride", ride), **asked) for each in prepared)
    return Aligned(found=found, units=words, one=axle is not None)


@_in_its_own_words
def poses(
    profile: FileOrProfile,
    axle: str | None = None,
    build: str | None = None,
    *,
    travel: Numbers | None = None,
    steer: Numbers | None = None,
    rack: Numbers | None = None,
    opposite: float | None = None,
    loaded_radius: Length | None = None,
    units: str = "mm",
) -> Posed:
    """The motion of the wheel over travel [mm] and steer [deg] or rack [mm]; without them the poses of a check.

    opposite : travel of a solid axle's opposite wheel [mm]; loaded_radius : wheel centre to ground [mm]
    Raises FitmentError.
    >>> import fitment
    >>> found = fitment.poses("pickup", "front", "swapped", travel=[0, 75], steer=0)
    >>> [pose["travel_mm"] for pose in found.data["poses"]]
    [0.0, 75.0]
    """
    read, words = _read(profile), _units(units)
    radius = None if loaded_radius is None else _radius(loaded_radius)
    lists = {"travels": _numbers("travel", travel), "steers": _numbers("steer", steer), "racks": _numbers("rack", rack)}
    other = None if opposite is None else _number("opposite", opposite)
    names = _axles(read, axle, build, {})
    prepared = tuple(ready(read, name, build) for name in names)
    tables = tuple(tabulate_poses(each, **lists, opposite=other, loaded_radius=radius) for each in prepared)
    return Posed(tables=tables, prepared=prepared, units=words, one=axle is not None)


@_in_its_own_words
def order(
    profile: FileOrProfile,
    axle: str | None = None,
    build: str | None = None,
    *,
    wheel: str | None = None,
    tire: str | None = None,
    spacer: Length | None = None,
    ride: Length | None = None,
    units: str = "mm",
) -> Ordered:
    """The sheet to order by: all that a seller must confirm, what was checked and what was not. Raises FitmentError.

    Arguments as for `check`; `pdf()` of the answer is the sheet to print.
    >>> import fitment
    >>> found = fitment.order("wagon", "front", "chosen")
    >>> [line["item"] for line in found.data["confirm"]][:3]
    ['size', 'offset', 'overall width']
    """
    read, words = _read(profile), _units(units)
    given = _given(wheel, tire, spacer, ride)
    axles = _axles(read, axle, build, given)
    orders = tuple(axle_order(case) for case in builds.checked(read, axles, build, given))
    return Ordered(orders=orders, units=words, one=axle is not None)


# ---------------------------------------------------------------- what was given


def _read(profile: object) -> Profile:
    if isinstance(profile, Profile):
        return profile
    if isinstance(profile, str | Path):
        return load_profile(profile)
    raise FitmentError(
        f"profile: got {type(profile).__name__}; give a file, the name of a bundled profile, or what load_profile gave."
    )


def _units(units: object) -> str:
    if units not in UNITS:
        raise FitmentError(f"units {units!r}: give {' or '.join(UNITS)}.")
    return str(units)


def _name(what: str, given: object) -> str | None:
    if given is None or (isinstance(given, str) and given.strip()):
        return given
    raise FitmentError(f"{what} {given!r}: give it as a text, or leave it out.")


def _axles(read: Profile, axle: object, build: object, given: builds.Given) -> list[str]:
    """The axles that a question is about. Raises FitmentError."""
    return builds.chosen_axles(read, _name("axle", axle), _name("build", build), given)


def _given(wheel: str | None, tire: str | None, spacer: object, ride: object) -> dict[str, str | None]:
    """What takes the place of the build's own, as the command line would have it."""
    found = {"wheel": wheel, "tire": tire}
    words = {name: _name(name, text) for name, text in found.items()}
    return words | {"spacer": _text("spacer", spacer), "ride": _text("ride", ride)}


def _text(what: str, given: object) -> str | None:
    """A length as it would be typed: a number is in mm."""
    if given is None or isinstance(given, str):
        return given
    return repr(_number(what, given))


def _number(what: str, given: object) -> float:
    try:
        if isinstance(given, bool | str):
            raise TypeError
        value = float(given)  # type: ignore[arg-type]
    except (TypeError, ValueError, OverflowError):
        raise FitmentError(f"{what} {given!r}: give a number.") from None
    if not abs(value) < builds.LARGEST_NUMBER:  # nor is one that is not finite
        raise FitmentError(f"{what} {given!r}: give a finite number below {builds.LARGEST_NUMBER:,.0f}.")
    return value


def _numbers(what: str, given: Any) -> list[float] | None:
    if given is None:
        return None
    if isinstance(given, str) or not isinstance(given, Iterable):
        return [_number(what, given)]
    return builds.plausible_numbers(what, [_number(what, each) for each in given])


def _radius(given: Length) -> float:
    try:
        return builds.plausible_radius("loaded_radius", given, to_mm(given))
    except UnitError as error:
        raise FitmentError(f"loaded_radius: {error}") from None


def _texts(what: str, given: str | Sequence[str]) -> tuple[str, ...]:
    if not isinstance(given, Iterable):
        raise FitmentError(f"{what} {given!r}: give a text, or several.")
    found = (given,) if isinstance(given, str) else tuple(given)
    for each in found:
        if _name(what, each) is None:
            raise FitmentError(f"{what} {each!r}: give a text, or several.")
    return found
