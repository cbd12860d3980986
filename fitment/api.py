"""The questions to the program as functions: the commands of their names call them, programs and notebooks too.

Each takes a profile (a file, the bare name of one that comes with the program, or a loaded one) and gives an answer of
`fitment.results`. Lengths are numbers in mm or texts with a unit, angles degrees. Nothing is printed; a mistake in what
was given is a FitmentError that knows the arguments it is about. Without an axle every one of the profile is answered.
`units` (None: those of the profile) is of texts and pictures, data are in mm.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from fitment.answers import builds
from fitment.answers.builds import Given
from fitment.checks.case import ready
from fitment.errors import Argument, FitmentError, UnitError
from fitment.profile import Profile, load_profile
from fitment.progress import doing, steps
from fitment.results import (
    Aligned,
    AxleWindows,
    Checked,
    Compared,
    Enveloped,
    Ordered,
    Posed,
    Screened,
    ToMeasure,
    Windows,
)
from fitment.units import UNITS, typed_mm

if TYPE_CHECKING:
    from fitment.answers.given_way import Willing
    from fitment.checks.case import Ready
    from fitment.motion.adjusters import Setting

LOADED_RADIUS = (100.0, 800.0)  # [mm] that a tire can have
MOST_NUMBERS, LARGEST_NUMBER = 10_000, 1e4  # in a list of travels or angles
FileOrProfile = str | Path | Profile
Length = float | str
Numbers = float | Iterable[float]
R = TypeVar("R")


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
    part: str | None = None,
    full: bool = False,
    units: str | None = None,
    processes: int = 1,
) -> Checked:
    """Check one setup: bolt-on checks, clearances at their worst pose, cautions. Raises FitmentError.

    build : None = the baseline; wheel, tire, spacer [mm], ride (a height's name, or travel at rest [mm]) : in place of
        the build's own
    loaded_radius : wheel centre to ground [mm], for scrub radius and trail
    settings : of the adjusters, as a text of `check --settings` or those that `align` chose
    geometry : the data also carry poses, sections, placed parts and the map of margin
    how_sure : also chances under the stated tolerances; changes : also what would make it clear
    part : also where this panel or lip must be cut; "tightest" for the one that is short by most
    full : `text` is all that can be said; else what decides, in about twenty lines an axle
    processes : among which axles and cut parts are spread; more than 1 in a program needs `if __name__ == "__main__":`
    >>> import fitment
    >>> found = fitment.check("wagon", "front", "wanted")
    >>> found.verdict, found.clears
    ('touches', False)
    >>> found.data["worst"]["obstacle"]
    'inner fender'
    >>> fitment.check("wagon", "front", "wanted", wheel="20x8.5 ET30 5x114.3 CB70.6", tire="235/35R20 92Y XL").verdict
    'clears'
    """
    from fitment.answers.asides import beside_check, part_of

    read = _read(profile)
    words = _units(units, read)
    given = _given(wheel, tire, spacer, ride)
    radius, made = _if_given(_radius, "loaded_radius", loaded_radius), _settings(settings)
    axles = _axles(read, axle, build, given)
    (cases,) = builds.checked(
        read, axles, build, given=given, loaded_radius=radius, settings=made, processes=_processes(processes)
    )
    named = part_of(cases, _if_given(_text, "part", part))
    beside = tuple(
        beside_check(
            case, certainty=how_sure, changes=changes, with_map=geometry, part=own, processes=_processes(processes)
        )
        for case, own in zip(cases, named, strict=True)
    )
    return Checked(
        cases=tuple(cases), asides=beside, geometry=geometry, full=full, units=words, one=axle is not None
    )  # fmt: skip


def next_readings(
    profile: FileOrProfile, axle: str | None = None, build: str | None = None, *, units: str | None = None
) -> ToMeasure:
    """What to measure next: how likely a build clears, and the readings that decide it, in order. Raises FitmentError.

    >>> import fitment
    >>> found = fitment.next_readings("pickup", "rear", "swapped")
    >>> [each["reading"] for each in found.data["sure"]["decided_by"]]
    ['tire', 'obstacles[bed side lip]']
    """
    from fitment.answers.next_reading import sure_of

    read = _read(profile)
    words = _units(units, read)
    cases = tuple(builds.checked(read, _axles(read, axle, build), build)[0])
    return ToMeasure(
        cases=cases,
        sure=tuple(map(sure_of, steps("how likely it clears, axle", cases))),
        units=words,
        one=axle is not None,
    )


def compare(
    profile: FileOrProfile,
    old: str,
    new: str,
    axle: str | None = None,
    *,
    full: bool = False,
    units: str | None = None,
    processes: int = 1,
) -> Compared:
    """Compare two builds; the verdict is that of the new one. Raises FitmentError.

    full : `text` is all that can be said; else what decides
    processes : among which axles and builds are spread, as for `check`
    >>> import fitment
    >>> found = fitment.compare("pickup", "factory", "swapped", "front")
    >>> found
    <Compared: front, 'factory' (clears) -> 'swapped' (clears)>
    >>> sorted(found.data)
    ['axle', 'differences', 'new', 'old', 'profile', 'road', 'verdict']
    """
    from fitment.answers.comparison import compared

    read = _read(profile)
    words = _units(units, read)
    for name, build in (("old", old), ("new", new)):
        if build is None:
            known = ", ".join(read.build_names)
            raise FitmentError(Argument(name), f": name a build; the profile has {known}.")
        _text(name, build)
    axles = builds.common_axles(read, _if_given(_text, "axle", axle), old, new)
    pairs = map(compared, *builds.checked(read, axles, old, new, processes=_processes(processes)))
    return Compared(pairs=tuple(pairs), full=full, units=words, one=axle is not None)


def screen(
    profile: FileOrProfile,
    candidates: str | Path | Iterable[Mapping[str, Any]],
    axle: str | None = None,
    build: str | None = None,
    *,
    sort: str = "margin",
    limit: int | str | None = None,
    column: Mapping[str, str] | Sequence[str] = (),
    processes: int = 1,
    units: str | None = None,
) -> Screened:
    """Check every candidate and rank them; one that cannot be read comes back with the reason. Raises FitmentError.

    candidates : a CSV file, or a mapping each, with wheel and tire, and if wanted spacer [mm], ride, shoulder,
        rim_protector (yes or no) and any others, which are kept; values become texts, as in a CSV file
    sort : the order among those of one verdict: margin, clearance, worst, offsets, or a column; a minus turns it round
    limit : at most so many rows, the best; 0 or "all" for every one. None: every one, of which `text` shows 15
    column : names of columns that are not the usual ones, {"wheel": "Rim"} or ["wheel=Rim"]; of wheel, tire, offset,
        backspacing, circle, bore, spacer, ride
    processes : among which a long list is spread; more than 1 in a program needs an `if __name__ == "__main__":`
    >>> import fitment
    >>> rows = [
    ...     {"name": "wide", "wheel": "20x10 ET30 5x114.3 CB70.6", "tire": "275/40R20 106W XL"},
    ...     {"name": "narrow", "wheel": "20x8.5 ET30 5x114.3 CB70.6", "tire": "235/35R20 92Y XL", "price": 120},
    ... ]
    >>> found = fitment.screen("wagon", rows, "front", "wanted")
    >>> [(row["name"], row["verdict"]) for row in found.data]
    [('narrow', 'clears'), ('wide', 'touches')]
    """
    from fitment.screening.candidates import from_records, read_candidates
    from fitment.screening.ranking import check_sort, limit_of, limited, ranked
    from fitment.screening.screen import screen_candidates
    from fitment.workers import without_collecting

    read = _read(profile)
    words = _units(units, read)
    processes = _processes(processes)
    order, most = _text("sort", sort), limit_of(limit)
    names = read.axle_names if axle is None else read.corners_of(_text("axle", axle)) or (axle,)
    prepared = tuple(ready(read, name, _if_given(_text, "build", build)) for name in names)
    columns = _columns(column)
    if isinstance(candidates, str | Path):
        listed = read_candidates(candidates, columns)
    else:
        listed = from_records(candidates, columns)
    with without_collecting():
        with doing("reading the list"):
            rows = list(listed.rows)
        check_sort(rows, order)
        best_first = ranked(screen_candidates(prepared, rows, processes=processes), order)
    return Screened(
        rows=tuple(limited(best_first, most)), every=tuple(best_first), limit=most, sort=order,
        header=tuple(listed.header), prepared=prepared, delimiter=listed.delimiter, units=words, one=axle is not None,
    )  # fmt: skip


def window(
    profile: FileOrProfile,
    axle: str | None = None,
    build: str | None = None,
    *,
    size: str | Sequence[str] = (),
    tire: str | Sequence[str] = (),
    spacer: Length | None = None,
    ride: Length | None = None,
    with_: str | None = None,
    units: str | None = None,
) -> Windows:
    """The offsets at which a wheel size with a tire clears, and what stops it on each side. Raises FitmentError.

    size : such as "20x10", or several; tire : a code or several; without them the build's own
    with_ : what the builder is ready to do, such as "inner fender 15 mm, stops 28 deg"; the offsets without it are told
        beside
    The data are a list: every size with every tire that goes on it, axle by axle.
    >>> import fitment
    >>> found = fitment.window("wagon", "front", "wanted", size="20x8.5", tire="235/35R20 92Y XL")
    >>> found.data[0]["offset_min_mm"] < found.data[0]["offset_max_mm"]
    True
    """
    from fitment.answers.given_way import giving_way
    from fitment.screening.keep_out import keep_out_at
    from fitment.screening.offset_window import windows

    read = _read(profile)
    words = _units(units, read)
    sizes, tires = _texts("size", size), _texts("tire", tire)
    given = _given(sizes[0] if sizes else None, tires[0] if tires else None, spacer, ride)
    axle_windows = []
    every = [ready(read, name, build) for name in _axles(read, axle, build, given)]
    items = () if with_ is None else _willing(with_, every)
    for as_it_is in every:
        setups = builds.of_sizes(as_it_is, sizes, tires, given)
        prepared, done = giving_way(as_it_is, setups[0], items)
        kept = keep_out_at(prepared, setups[0].ride)
        without = tuple(windows(as_it_is, setups)) if done else ()
        found = tuple(windows(prepared, setups, kept))
        axle_windows.append(AxleWindows(ready=prepared, kept=kept, windows=found, done=done, without=without))
    return Windows(found=tuple(axle_windows), units=words, one=axle is not None)


def _willing(text: str, every: Sequence[Ready]) -> tuple[Willing, ...]:
    """What a builder is ready to do, of one of the axles at least."""
    from fitment.answers.given_way import check_known, willing

    _text("with_", text)
    items = willing(text)
    check_known([prepared.axle for prepared in every], items)
    return items


def align(
    profile: FileOrProfile,
    axle: str | None = None,
    build: str | None = None,
    *,
    ride: Length | None = None,
    camber: float | None = None,
    caster: float | None = None,
    units: str | None = None,
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
    from fitment.answers.alignment import align as aligned

    read = _read(profile)
    words = _units(units, read)
    target = {name: _if_given(_number, name, value) for name, value in (("camber", camber), ("caster", caster))}
    axle_name, build_name = _if_given(_text, "axle", axle), _if_given(_text, "build", build)
    is_set = any(value is not None for value in target.values())
    prepared = builds.adjustable(read, axle_name, build_name, target=is_set)
    alignments = tuple(aligned(prepared_axle, _if_given(_length, "ride", ride), **target) for prepared_axle in prepared)
    return Aligned(found=alignments, units=words, one=axle is not None)


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
    units: str | None = None,
) -> Posed:
    """The motion of the wheel over travel [mm] and steer [deg] or rack [mm]; without them the poses of a check.

    opposite : travel of a solid axle's opposite wheel [mm]; loaded_radius : wheel centre to ground [mm]
    Raises FitmentError.
    >>> import fitment
    >>> found = fitment.poses("pickup", "front", "swapped", travel=[0, 75], steer=0)
    >>> [pose["travel_mm"] for pose in found.data["poses"]]
    [0.0, 75.0]
    """
    from fitment.answers.pose_table import tabulate_poses

    read = _read(profile)
    words = _units(units, read)
    given = (("travel", travel), ("steer", steer), ("rack", rack))
    lists = {f"{name}s": _if_given(_numbers, name, values) for name, values in given}
    other, radius = _if_given(_number, "opposite", opposite), _if_given(_radius, "loaded_radius", loaded_radius)
    prepared = tuple(ready(read, name, build) for name in _axles(read, axle, build))
    tables = tuple(
        tabulate_poses(prepared_axle, **lists, opposite=other, loaded_radius=radius) for prepared_axle in prepared
    )
    return Posed(tables=tables, prepared=prepared, units=words, one=axle is not None)


def order(
    profile: FileOrProfile,
    axle: str | None = None,
    build: str | None = None,
    *,
    wheel: str | None = None,
    tire: str | None = None,
    spacer: Length | None = None,
    ride: Length | None = None,
    units: str | None = None,
) -> Ordered:
    """The sheet to order by: all that a seller must confirm, what was checked and what was not. Raises FitmentError.

    Arguments as for `check`; `pdf()` of the answer is the sheet to print.
    >>> import fitment
    >>> found = fitment.order("wagon", "front", "chosen")
    >>> [line["item"] for line in found.data["confirm"]][:3]
    ['size', 'offset', 'overall width']
    """
    from fitment.answers.order_sheet import axle_order

    read = _read(profile)
    words = _units(units, read)
    given = _given(wheel, tire, spacer, ride)
    axles = _axles(read, axle, build, given)
    cases = builds.checked(read, axles, build, given=given)[0]
    if len(axles) == 1:  # a corner that is asked for alone has a sheet of its own
        cases = [replace(case, mate=None) for case in cases]
    orders = tuple(axle_order(case) for case in cases if not builds.is_ordered_with_its_mate(case, cases))
    return Ordered(orders=orders, units=words, one=axle is not None)


def envelope(
    profile: FileOrProfile,
    axle: str | None = None,
    build: str | Sequence[str] = (),
    *,
    ride: Length | Sequence[Length] = (),
    extra: Length = 0.0,
    deviation: float = 0.5,
    worst: bool = False,
    slice_: str | Sequence[str] = (),
    units: str | None = None,
    processes: int = 1,
) -> Enveloped:
    """The space that tire and wheel sweep through all travel and steering, as a mesh and slices. Raises FitmentError.

    build, ride : one or several, all in one space; without them the baseline, each build at its own height
    extra : clearance round it [mm]; deviation : by which vertices may stand outside of it [mm]
    worst : with the largest tire that its market permits
    slice_ : "x=120", "y=640", "z=0", or "x" for one every 100 mm; without any those through axle line, tire and hub
    processes : among which the search is spread, as for `check`
    `save` writes .stl, .ply, .svg, .pdf, .dxf; `found[0].mesh` has vertices and triangles.
    """
    from fitment.answers.envelope import envelope_of, limits_of

    read = _read(profile)
    words = _units(units, read)
    names: tuple[str | None, ...] = _texts("build", build) or (None,)
    rides = tuple(_length("ride", one) for one in ((ride,) if isinstance(ride, str | float | int) else ride))
    around, within = limits_of(extra, _number("deviation", deviation))
    hands = _processes(processes)
    cuts = _texts("slice_", slice_)
    axles = builds.common_axles(read, _if_given(_text, "axle", axle), *names)
    found = tuple(
        envelope_of(
            read, name, names, rides, extra=around, deviation=within, worst=bool(worst), cuts=cuts, processes=hands
        )
        for name in axles
    )
    return Enveloped(found=found, units=words, one=axle is not None)


# ---------------------------------------------------------------- what was given


def _processes(given: int) -> int:
    if isinstance(given, bool) or not isinstance(given, int) or given < 1:
        raise FitmentError(Argument("processes"), f" {given}: give a whole number, 1 or more.")
    return given


def _read(profile: object) -> Profile:
    if isinstance(profile, Profile):
        return profile
    if isinstance(profile, str | Path):
        with doing("reading the profile"):
            return load_profile(profile)
    raise FitmentError(
        Argument("profile"),
        f": got {type(profile).__name__}; give a file, the name of a bundled profile, or what load_profile gave.",
    )


def _units(units: object, read: Profile) -> str:
    if units is None:
        return read.units
    if units not in UNITS:
        raise FitmentError(Argument("units"), f" {units!r}: give {' or '.join(UNITS)}.")
    return str(units)


def _if_given(read: Callable[[str, Any], R], argument: str, given: object) -> R | None:
    return None if given is None else read(argument, given)


def _text(argument: str, given: object) -> str:
    if not isinstance(given, str):
        raise FitmentError(Argument(argument), f" {given!r}: give it as a text, or leave it out.")
    if not given.strip():
        raise FitmentError(Argument(argument), f" {given!r} is empty; give a text, or leave it out.")
    return given


def _texts(argument: str, given: object) -> tuple[str, ...]:
    if not isinstance(given, Iterable):
        raise FitmentError(Argument(argument), f" {given!r}: give a text, or several.")
    return tuple(_text(argument, text) for text in ((given,) if isinstance(given, str) else given))


def _columns(given: object) -> dict[str, str]:
    """Names of a list's columns by what is read, of {"wheel": "Rim"} or ["wheel=Rim"]. Raises FitmentError."""
    from fitment.screening.candidates import READ

    if isinstance(given, Mapping):
        pairs = [(str(what), _text("column", name)) for what, name in given.items()]
    else:
        texts = _texts("column", given)
        pairs = [(what.strip(), name.strip()) for what, _, name in (text.partition("=") for text in texts)]
    for what, name in pairs:
        if what not in READ or not name:
            said = f"{what}={name}" if name else what
            raise FitmentError(Argument("column"), f" {said}: write NAME=HEADER, NAME one of {', '.join(READ)}.")
    names = [what for what, _ in pairs]
    if len(set(names)) < len(names):
        twice = next(name for name in names if names.count(name) > 1)
        raise FitmentError(Argument("column"), f" {twice} is given twice; keep one.")
    return dict(pairs)


def _number(argument: str, given: Any) -> float:
    try:
        if isinstance(given, bool | str):
            raise TypeError
        value = float(given)
    except (TypeError, ValueError, OverflowError):
        raise FitmentError(Argument(argument), f" {given!r}: give a number.") from None
    if not abs(value) < LARGEST_NUMBER:  # nor is one that is not finite
        raise FitmentError(Argument(argument), f" {value:g}: give a finite number below {LARGEST_NUMBER:,.0f}.")
    return value


def _numbers(argument: str, given: object) -> list[float]:
    listed = [given] if isinstance(given, str) or not isinstance(given, Iterable) else list(given)
    if len(listed) > MOST_NUMBERS:
        words = f": at most {MOST_NUMBERS:,} numbers are taken; {len(listed):,} were given."
        raise FitmentError(Argument(argument), words)
    return [_number(argument, value) for value in listed]


def _length(argument: str, given: object) -> float | str:
    """A number in mm, or a text, to be read where it is known what it may say."""
    return given if isinstance(given, str) else _number(argument, given)


def _radius(argument: str, given: object) -> float:
    """A loaded radius [mm]."""
    try:
        mm = typed_mm(given)
    except UnitError as error:
        raise FitmentError(Argument(argument), f": {error}") from None
    low, high = LOADED_RADIUS
    if not low <= mm <= high:
        raise FitmentError(Argument(argument), f" {given}: {mm:g} mm is not plausible ({low:g} to {high:g} mm).")
    return mm


def _settings(given: str | Sequence[Setting] | None) -> Sequence[Setting]:
    if not isinstance(given, str):
        return given or ()
    from fitment.answers.alignment import read_settings

    return read_settings(given)


def _given(wheel: object, tire: object, spacer: object, ride: object) -> Given:
    """What takes the place of the build's own. Raises FitmentError."""
    return Given(
        wheel=_if_given(_text, "wheel", wheel),
        tire=_if_given(_text, "tire", tire),
        spacer=_if_given(_length, "spacer", spacer),
        ride=_if_given(_length, "ride", ride),
    )


def _axles(read: Profile, axle: object, build: object, given: Given = builds.NOTHING) -> list[str]:
    """The axles that a question is about. Raises FitmentError."""
    return builds.chosen_axles(read, _if_given(_text, "axle", axle), _if_given(_text, "build", build), given)
