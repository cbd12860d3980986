"""The command line: read, call, print, exit code. Nothing heavy is imported before it is needed."""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fitment.errors import FitmentError, ProfileError, UnitError

if TYPE_CHECKING:
    from fitment.align import Alignment
    from fitment.cases import Case
    from fitment.profile import Profile

CLEARS, DOES_NOT, BAD_INPUT, SOME_UNREADABLE = 0, 1, 2, 3
PICTURES = (".png", ".svg", ".pdf")
AXLES = click.Choice(["front", "rear"])


class _Group(click.Group):
    """Turns a user's mistake into one message and exit code 2, without a traceback."""

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except FitmentError as error:
            click.echo(f"Error: {error}", err=True)
            ctx.exit(BAD_INPUT)


def _options(*options: Callable[[Any], Any]) -> Callable[[Any], Any]:
    def decorate(function: Any) -> Any:
        for option in reversed(options):
            function = option(function)
        return function

    return decorate


AXLE = click.option("--axle", type=AXLES, help="One axle only; without it every axle of the profile.")
BUILD = click.option("--build", metavar="NAME", help="A build of the profile; without it the baseline.")
UNITS = click.option("--units", type=click.Choice(["mm", "in"]), default="mm", help="Of text and pictures.")
FORMAT = click.option("--format", "form", type=click.Choice(["text", "json"]), default="text", help="JSON is in mm.")
OUT = click.option("--out", metavar="FILE", help="Its suffix says what: .png .svg .pdf a picture, .json .csv data.")
LOADED = click.option("--loaded-radius", metavar="MM", help="Wheel centre to ground, for scrub radius and trail.")
SETUP = _options(
    click.option("--wheel", metavar="SPEC", help='Another wheel, such as "20x10 ET25 6x139.7 CB78.1".'),
    click.option("--tire", metavar="CODE", help="Another tire, such as 305/45R20."),
    click.option("--spacer", metavar="LENGTH", help="Spacer thickness, 0 for none."),
    click.option("--ride", metavar="NAME|MM", help="A ride height of the profile, or travel at rest."),
)


@click.group(cls=_Group, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(package_name="fitment")
def cli() -> None:
    """Tells whether a wheel and tire bolt on and clear on a modified vehicle, and draws it.

    PROFILE is a file, or the bare name of a vehicle that comes with the program.
    """


@cli.command()
@click.argument("profile")
@_options(AXLE, BUILD, SETUP, LOADED, FORMAT, OUT, UNITS)
@click.option("--geometry", is_flag=True, help="JSON also carries poses, sections and placed obstacles.")
@click.option("--settings", metavar="TEXT|FILE", help="Adjusters as set: a JSON of align, or NAME = 90, 120; ...")
@click.pass_context
def check(
    ctx: click.Context, profile: str, axle: str | None, build: str | None, wheel: str | None, tire: str | None,
    spacer: str | None, ride: str | None, loaded_radius: str | None, form: str, out: str | None, units: str,
    geometry: bool, settings: str | None,
) -> None:  # fmt: skip
    """Check one setup: bolt-on checks, clearances at their worst pose, cautions.

    Exit code 0 when it clears, 1 when it does not, 2 for bad input.
    """
    from fitment import report

    _check_suffix(out, (*PICTURES, ".json", ".csv"))
    read = _load(profile)
    given = {"wheel": wheel, "tire": tire, "spacer": spacer, "ride": ride}
    cases = _cases(read, _axles(read, axle, build, given), build, given, loaded_radius, settings)

    def data() -> str:
        found = [report.case_json(case, geometry=geometry) for case in cases]
        return report.dumps(found[0] if axle else found)

    if out and Path(out).suffix in PICTURES:
        from fitment.draw import check_sheet

        _pictures(out, [(case.fit.axle.name, check_sheet(case, units=units)) for case in cases])
    elif out and out.endswith(".csv"):
        _write(out, report.clearances_csv(cases))
    elif out:
        _write(out, data() + "\n")
    if form == "json":
        click.echo(data())
    else:
        click.echo("\n\n".join(report.case_text(case, units) for case in cases))
    ctx.exit(CLEARS if all(case.fit.verdict == "clears" for case in cases) else DOES_NOT)


@cli.command()
@click.argument("profile")
@click.argument("old")
@click.argument("new")
@_options(AXLE, FORMAT, OUT, UNITS)
@click.pass_context
def compare(
    ctx: click.Context, profile: str, old: str, new: str, axle: str | None, form: str, out: str | None, units: str
) -> None:
    """Compare two builds of a profile: a table of differences and the overlay picture.

    Exit code as for check, for the NEW build.
    """
    from fitment import report

    _check_suffix(out, (*PICTURES, ".json"))
    read = _load(profile)
    axles = [name for name in _axles(read, axle, new, {}) if name in _axles(read, axle, old, {})]
    if not axles:
        raise ProfileError(
            f"builds {old} and {new} have no axle in common that names a wheel and a tire.", file=profile
        )
    pairs = list(zip(_cases(read, axles, old, {}), _cases(read, axles, new, {}), strict=True))

    def data() -> str:
        found = [report.compare_json(a, b) for a, b in pairs]
        return report.dumps(found[0] if axle else found)

    if out and Path(out).suffix in PICTURES:
        from fitment.draw import compare_sheet

        _pictures(out, [(b.fit.axle.name, compare_sheet(a, b, units=units)) for a, b in pairs])
    elif out:
        _write(out, data() + "\n")
    if form == "json":
        click.echo(data())
    else:
        click.echo("\n\n".join(report.compare_text(a, b, units) for a, b in pairs))
    ctx.exit(CLEARS if all(b.fit.verdict == "clears" for _, b in pairs) else DOES_NOT)


@cli.command()
@click.argument("profile")
@click.argument("candidates", metavar="LIST.csv")
@_options(AXLE, BUILD, OUT, UNITS)
@click.option(
    "--format", "form", type=click.Choice(["text", "csv", "json"]), help="Default: text at a terminal, else csv."
)
@click.pass_context
def screen(
    ctx: click.Context, profile: str, candidates: str, axle: str | None, build: str | None, out: str | None,
    units: str, form: str | None,
) -> None:  # fmt: skip
    """Check every row of a list (columns wheel and tire; spacer, ride and any others) and rank them.

    Exit code 3 when some rows could not be read; they come back with the reason.
    """
    from fitment import report
    from fitment import screen as screening

    _check_suffix(out, (".csv", ".json"))
    read = _load(profile)
    prepared = [_ready(read, name, build) for name in _axles(read, axle, build, {"wheel": "-", "tire": "-"})]
    header, rows = screening.read_candidates(candidates)
    screener = screening.Screener(prepared)
    done = []
    watched = sys.stderr.isatty() and Path(candidates).is_file()  # a pipe cannot be counted beforehand
    with click.progressbar(
        length=_line_count(candidates) if watched else 0, label="screening", file=sys.stderr, hidden=not watched
    ) as bar:
        for row in rows:
            done.append(screener.check(row))
            bar.update(1)
    ranked = screening.ranked(done)
    if out:
        write = report.screen_csv(header, ranked) if out.endswith(".csv") else report.dumps(report.screen_json(ranked))
        _write(out, write if write.endswith("\n") else write + "\n")
    form = form or ("text" if out or sys.stdout.isatty() else "csv")
    if form == "json":
        click.echo(report.dumps(report.screen_json(ranked)))
    else:
        click.echo(
            report.screen_csv(header, ranked) if form == "csv" else report.screen_text(ranked, units), nl=form == "text"
        )
    ctx.exit(SOME_UNREADABLE if any(row.verdict == "unreadable" for row in ranked) else CLEARS)


@cli.command()
@click.argument("profile")
@_options(AXLE, BUILD, FORMAT, OUT, UNITS)
def show(profile: str, axle: str | None, build: str | None, form: str, out: str | None, units: str) -> None:
    """Draw the profile itself, so that a mistyped point is seen (--out FILE), and list what it holds."""
    from fitment import report

    _check_suffix(out, (*PICTURES, ".json"))
    read = _load(profile)
    cases = _cases(read, _axles(read, axle, build, {}), build, {})
    data = [report.profile_json(case) for case in cases]
    if out and Path(out).suffix in PICTURES:
        from fitment.draw import profile_sheet

        sheets = [(case.fit.axle.name, profile_sheet(case.ready, case.fit.setup, units=units)) for case in cases]
        _pictures(out, sheets)
    elif out:
        _write(out, report.dumps(data[0] if axle else data) + "\n")
    text = report.dumps(data[0] if axle else data) if form == "json" else report.profile_text(read, cases, units)
    click.echo(text)


@cli.command()
@click.argument("codes", metavar="CODE...", nargs=-1, required=True)
@click.option("--rim", metavar="INCHES", type=float, help="Rim width the tire is mounted on.")
@_options(FORMAT, UNITS)
def tire(codes: Sequence[str], rim: float | None, form: str, units: str) -> None:
    """What a tire code means: dimensions, load, speed, rim range. Quote a code that has spaces."""
    from fitment import report
    from fitment.tire import parse_tire, size_on, tire_json

    sizes = [size_on(parse_tire(code), rim) for code in codes]
    if form == "json":
        click.echo(report.dumps([tire_json(size) for size in sizes]))
    else:
        click.echo("\n\n".join(report.tire_text(size, units) for size in sizes))


@cli.command()
@click.argument("specs", metavar="SPEC...", nargs=-1, required=True)
@_options(FORMAT, UNITS)
def wheel(specs: Sequence[str], form: str, units: str) -> None:
    """What a wheel spec means, and where its rims stand against the hub face. Quote each spec."""
    from fitment import report
    from fitment.wheel import parse_wheel, wheel_json

    wheels = [parse_wheel(spec) for spec in specs]
    if form == "json":
        click.echo(report.dumps([wheel_json(each) for each in wheels]))
    else:
        click.echo("\n\n".join(report.wheel_text(each, units) for each in wheels))


@cli.command()
@click.argument("profile")
@_options(AXLE, BUILD, FORMAT, OUT, UNITS, LOADED)
@click.option("--travel", metavar="LIST", help="Travels in mm, such as -80,0,90; without it the pose grid.")
@click.option("--steer", metavar="LIST", help="Steer angles in degrees, such as -30,0,30.")
@click.option("--rack", metavar="LIST", help="Rack displacements in mm, instead of --steer.")
@click.option("--opposite", metavar="MM", type=float, help="Travel of a solid axle's other wheel.")
def poses(
    profile: str, axle: str | None, build: str | None, form: str, out: str | None, units: str,
    loaded_radius: str | None, travel: str | None, steer: str | None, rack: str | None,
    opposite: float | None,
) -> None:  # fmt: skip
    """The motion of the wheel as a table: camber, toe, steering geometry over travel and steer."""
    from fitment import report
    from fitment.kinematics import pose_table

    _check_suffix(out, (*PICTURES, ".json", ".csv"))
    read = _load(profile)
    radius = _length(loaded_radius)
    tables = [
        pose_table(
            _ready(read, name, build), travels=_numbers("--travel", travel), steers=_numbers("--steer", steer),
            racks=_numbers("--rack", rack), opposite=opposite, loaded_radius=radius,
        )
        for name in _axles(read, axle, build, {})
    ]  # fmt: skip
    data = [report.poses_json(each) for each in tables]
    if out and Path(out).suffix in PICTURES:
        _pictures(out, [_motion_sheet(read, name, build, units) for name in _axles(read, axle, build, {})])
    elif out:
        one = report.poses_csv(tables) if out.endswith(".csv") else report.dumps(data[0] if axle else data) + "\n"
        _write(out, one)
    if form == "json":
        click.echo(report.dumps(data[0] if axle else data))
    else:
        click.echo("\n\n".join(report.poses_text(each, units) for each in tables))


@cli.command()
@click.argument("profile")
@_options(AXLE, BUILD, FORMAT, OUT, UNITS)
@click.option("--ride", metavar="NAME|MM", help="Ride height at which to set; without it the build's own.")
@click.option("--camber", metavar="DEG", type=float, help="Wanted camber.")
@click.option("--caster", metavar="DEG", type=float, help="Wanted caster, to the body.")
def align(
    profile: str, axle: str | None, build: str | None, form: str, out: str | None, units: str, ride: str | None,
    camber: float | None, caster: float | None,
) -> None:  # fmt: skip
    """Camber, caster, toe at each ride height; what the adjusters reach; the settings for a target."""
    from fitment import align as aligning
    from fitment import report

    _check_suffix(out, (*PICTURES, ".json"))
    read = _load(profile)
    names = _axles(read, axle, build, {})
    if camber is not None or caster is not None:
        names = names if axle else [name for name in names if _ready(read, name, build).axle.adjusters] or names
    found = [aligning.align(_ready(read, name, build), ride, camber=camber, caster=caster) for name in names]
    data = [report.align_json(each) for each in found]
    if out and Path(out).suffix in PICTURES:
        _pictures(out, [(each.ready.axle.name, _reach_sheet(each, units)) for each in found])
    elif out:
        _write(out, report.dumps(data[0] if axle else data) + "\n")
    if form == "json":
        click.echo(report.dumps(data[0] if axle else data))
    else:
        click.echo("\n\n".join(report.align_text(each, units) for each in found))


@cli.command()
def schema() -> None:
    """JSON Schema of the profile, for an editor."""
    from fitment import report
    from fitment.profile.json_schema import json_schema

    click.echo(report.dumps(json_schema()))


# shared by the commands


def _motion_sheet(read: Profile, axle: str, build: str | None, units: str) -> tuple[str, Any]:
    """The axle's name and the picture of its motion."""
    from fitment import profile as profiles
    from fitment.curves import curves
    from fitment.draw import motion_sheet

    return axle, motion_sheet(curves(_ready(read, axle, build), profiles.setup(read, axle, build)), units=units)


def _reach_sheet(found: Alignment, units: str) -> Any:
    """The picture of what the adjusters reach. Raises FitmentError where there is nothing to draw."""
    from fitment import report
    from fitment.alignment import outlines
    from fitment.draw import reach_sheet

    if found.reach is None:
        raise FitmentError(f"nothing to draw: {found.why_not}.")
    whole, discrete = outlines(found.reach)
    present, choice, target = found.present, found.choice, found.target
    assert present.caster is not None  # what has adjusters has a steering axis
    return reach_sheet(
        hull=whole,
        present=(present.camber, present.caster),
        target=None if target is None else (target.camber, target.caster),
        best=None if choice is None else (choice.camber, choice.caster),
        discrete=[(report.ball_words(settings, units), hull) for settings, hull in discrete],
        title=found.ready.profile.name,
        subtitle=report.align_subtitle(found, units),
        words=() if choice is None else tuple(report.setting_words(found, s, units) for s in choice.settings),
        units=units,
    )


def _load(profile: str) -> Profile:
    from fitment.profile import load_profile

    return load_profile(profile)


def _ready(read: Profile, axle: str, build: str | None) -> Any:
    from fitment.cases import ready

    return ready(read, axle, build)


def _axles(read: Profile, axle: str | None, build: str | None, given: dict[str, str | None]) -> list[str]:
    """Axles to work on: the one asked for, else every axle whose build (or the command line) names a setup."""
    from fitment import profile as profiles

    if axle:
        return [axle]
    named = given.get("wheel") and given.get("tire")
    found = [name for name in read.axle_names if named or profiles.has_setup(read, name, build)]
    if not found:
        raise ProfileError(
            f"build {build or read.baseline} names no wheel and tire for any axle; give --wheel and --tire.",
            file=str(read.path),
        )
    return found


def _cases(
    read: Profile, axles: Sequence[str], build: str | None, given: dict[str, str | None], loaded: str | None = None,
    settings: str | None = None,
) -> list[Case]:  # fmt: skip
    from fitment import profile as profiles
    from fitment.cases import ready, run, setup_variants

    cases = []
    for name in axles:
        prepared = ready(read, name, build)
        setup = profiles.setup(
            read, name, build,
            wheel=given.get("wheel"), tire=given.get("tire"), spacer=given.get("spacer"), ride=given.get("ride"),
        )  # fmt: skip
        if settings is not None:
            from fitment import align

            prepared = align.with_settings(prepared, align.read_settings(settings), setup.ride)
        others = () if given.get("wheel") or given.get("tire") or given.get("spacer") else setup_variants(prepared)
        cases.append(run(prepared, setup, others=others, loaded_radius=_length(loaded)))
    return cases


def _length(text: str | None) -> float | None:
    if text is None:
        return None
    from fitment.units import split_quantity, to_mm

    try:
        value, unit = split_quantity(text)
        length = to_mm(text if unit else value)
    except UnitError as error:
        raise FitmentError(f"--loaded-radius: {error}") from None
    if not 100 <= length <= 800:
        raise FitmentError(f"--loaded-radius {text}: {length:g} mm is not plausible (100 to 800 mm).")
    return length


def _numbers(option: str, text: str | None) -> list[float] | None:
    if text is None:
        return None
    import math

    try:
        values = [float(part) for part in text.split(",")]
    except ValueError:
        raise FitmentError(f'{option} "{text}": give numbers separated by commas, such as -80,0,90.') from None
    if len(values) > 10_000 or not all(math.isfinite(value) and abs(value) < 1e4 for value in values):
        raise FitmentError(f"{option}: at most 10,000 finite numbers below 10,000 each.")
    return values


def _check_suffix(out: str | None, allowed: Sequence[str]) -> None:
    """Refuse an output file before the work is done."""
    if out is None:
        return
    if Path(out).suffix not in allowed:
        raise FitmentError(f"--out {out}: this command writes {', '.join(allowed)}; choose one of these suffixes.")
    if not Path(out).parent.is_dir():
        raise FitmentError(f"--out {out}: there is no folder {Path(out).parent}; make it first.")
    _check_target(Path(out))


def _check_target(path: Path) -> None:
    """Refuse to write over a file that is protected against writing."""
    if path.is_file() and not path.stat().st_mode & 0o222:
        raise FitmentError(f"{path} is protected against writing; choose another name.")


def _write(out: str, text: str) -> None:
    from fitment.write import write_whole

    write_whole(out, text.encode())
    click.echo(f"wrote {out}", err=True)


def _pictures(out: str, sheets: Sequence[tuple[str, Any]]) -> None:
    """One file an axle; with several, the axle's name goes before the suffix."""
    from fitment.draw import save

    path = Path(out)
    targets = [path if len(sheets) == 1 else path.with_name(f"{path.stem}-{axle}{path.suffix}") for axle, _ in sheets]
    for target in targets:  # before the first is written: all of them or none
        _check_target(target)
        if target.is_dir():
            raise FitmentError(f"{target} is a folder; name a file in it.")
    for (_, figure), target in zip(sheets, targets, strict=True):
        save(figure, target)
        click.echo(f"wrote {target}", err=True)


def _line_count(path: str) -> int:
    """Lines of a file, for the progress bar."""
    with Path(path).open("rb") as stream:
        return max(sum(block.count(b"\n") for block in iter(lambda: stream.read(1 << 20), b"")) - 1, 1)
