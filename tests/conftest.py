"""A small invented vehicle on which every clearance can be worked in the head, and the command line in-process.

The bench vehicle, front axle, all in mm: the hub face stands 750 from the centre plane (track width 1500), the
wheel travels straight up and down by 50, it neither cambers nor steers. On it a 17x8 ET0 wheel, so that the rim's
centre line lies in the hub face, and a tire whose maker states 230 wide on that rim and 634 across. A post stands
straight up 140 outboard of the hub face, a rail runs along y at 420 above the hub:

    tire to post   890 - 750 - 230 / 2          = 25    at every travel
    wheel to post  890 - 750 - (8 + 1) 25.4 / 2 = 25.7  (overall width: rim width + 2 x 12.7)
    tire to rail   420 - 634 / 2 - 50           = 53    at full bump
"""

from __future__ import annotations

import copy
import json
import os
import signal
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from click.testing import CliRunner, Result
from hypothesis import HealthCheck, settings

if TYPE_CHECKING:
    from page_browser import Browser, Page

    from fitment.results import Checked

settings.register_profile(
    "fitment", deadline=None, derandomize=True, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
settings.load_profile("fitment")

os.environ["FITMENT_CACHE"] = "off"  # what is tested is worked out, and the user's own cache is left alone

# a script that puts the tests in the background has them ignore Ctrl-C, and nohup SIGHUP; what they start would be born
# with that, but a function is not handed on: it hears signals as at a terminal
for _number in (signal.SIGINT, signal.SIGTERM, *((signal.SIGHUP,) if hasattr(signal, "SIGHUP") else ())):
    if signal.getsignal(_number) is signal.SIG_IGN:
        signal.signal(_number, lambda *_: None)

PATIENCE = 300.0  # [s] for what comes at once on a machine that does nothing else; only a hang takes so long


@pytest.fixture(autouse=True)
def _signals_as_before() -> Iterator[None]:
    """What a command minds no more after its end or an interrupt, the next test's processes would not mind either."""
    from fitment.interrupts import ALL

    before = {number: signal.getsignal(number) for number in ALL}
    yield
    for number, handler in before.items():
        signal.signal(number, handler)


# what every text about the bench vehicle begins with, whose front axle is not steered
STRAIGHT = (
    "Look at this first: no steering is given, so the wheel was looked at straight ahead only; give\n"
    "    lock_left and lock_right under steering, as read or assumed (front axle).\n"
)
HUB_FACE, POST, RAIL = 750.0, 890.0, 420.0  # [mm] y, y, z
WIDTH, DIAMETER, SEAT = 230.0, 634.0, 432.0  # [mm] of the tire; SEAT: nominal diameter of a 17 in rim, UN R30
TIRE = {"code": "225/45R17 94W XL", "section_width": WIDTH, "on_rim": 8, "overall_diameter": DIAMETER}
TIRE |= {"shoulder": "usual", "rim_protector": False}  # so that the largest tire is its limits alone

_AXLE: dict[str, Any] = {
    "axle_load": 900,
    "hub_face_width": 2 * HUB_FACE,
    "hub_height": 310,
    "suspension": {"kind": "tape"},
    "travel": {"droop": -50, "bump": 50},
    "ride_heights": {"level": 0, "low": 30},
    "hub": {
        "bolt_circle": "5x114.3",
        "stud": "M12x1.5",
        "stud_length": 40,
        "wheel_register": {"diameter": 67.1, "length": 8},
    },
    "obstacles": [
        {"name": "post", "shape": "edge", "points": [[0, POST, -450], [0, POST, 450]]},
        {"name": "rail", "shape": "edge", "points": [[0, 500, RAIL], [0, 1000, RAIL]]},
    ],
}
_PROFILE: dict[str, Any] = {
    "format": 1,
    "name": "Bench vehicle (invented)",
    "axles": {"front": _AXLE},
    "builds": {
        "measured": {"front": {"wheel": "17x8 ET0 5x114.3 CB67.1", "tire": TIRE, "ride": "level"}},
        "lowered": {"front": {"wheel": "17x8 ET0 5x114.3 CB67.1", "tire": TIRE, "ride": "low"}},
    },
    "baseline": "measured",
}


def vehicle(**front: Any) -> dict[str, Any]:
    """The bench vehicle as plain data, with keys of its front axle replaced; None removes one."""
    data = copy.deepcopy(_PROFILE)
    axle = data["axles"]["front"]
    for key, value in copy.deepcopy(front).items():
        if value is None:
            del axle[key]
        else:
            axle[key] = value
    for part in axle.get("obstacles", []):  # exact, unless a test says otherwise
        part.setdefault("tolerance", 0)
    return data


def bench_setup(data: dict[str, Any], build: str = "measured") -> dict[str, Any]:
    """The front corner of a build, to be changed in place."""
    return data["builds"][build]["front"]  # type: ignore[no-any-return]


def steered(**front: Any) -> dict[str, Any]:
    """The bench vehicle with a vertical steering axis 50 inboard of the hub face and locks of 30 degrees."""
    axis = {"lower": [0, HUB_FACE - 50, -150], "upper": [0, HUB_FACE - 50, 150]}
    known = {"suspension": {"kind": "tape", "steering_axis": axis}, "steering": {"lock_left": 30, "lock_right": 30}}
    return vehicle(**(known | front))


def write_profile(folder: Path, data: dict[str, Any], name: str = "bench.yaml") -> str:
    """The profile as a file (JSON is YAML); its path."""
    path = folder / name
    path.write_text(json.dumps(data, indent=1))
    return str(path)


def run(*arguments: str, cwd: Path | None = None) -> Result:
    """One command in this process; an exception that is no exit fails the test with its traceback."""
    from fitment.cli import cli

    here = Path.cwd()
    if cwd is not None:
        os.chdir(cwd)
    try:
        result = CliRunner().invoke(cli, list(arguments), prog_name="fitment")
    finally:
        os.chdir(here)
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result


def run_json(*arguments: str) -> Any:
    """The JSON that a command prints; exit codes 0 and 1 both carry an answer."""
    result = run(*arguments, "--format", "json")
    assert result.exit_code in (0, 1), result.output
    return json.loads(result.stdout)


@cache
def changes_of(name: str, axle: str, build: str, wheel: str | None = None) -> Checked:
    """A bundled vehicle checked, with what would make it fit: worked out once for the tests of several files."""
    import fitment

    return fitment.check(name, axle, build, wheel=wheel, changes=True)


@cache
def window_of(name: str, axle: str, build: str) -> str:
    """The JSON of a bundled vehicle's offset window, worked out once likewise."""
    return run("window", name, "--axle", axle, "--build", build, "--format", "json").stdout


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """A headless browser; where there is none and none to be had, CI fails and others skip."""
    from page_browser import Browser, MissingError, find_browser

    try:
        path = find_browser()
    except MissingError as error:
        if os.environ.get("CI") == "true":
            pytest.fail(f"no browser, and CI must not go without: {error}")
        pytest.skip(str(error))
    browser = Browser(path, tmp_path_factory.mktemp("browser"))
    yield browser
    browser.close()


@pytest.fixture
def opened(browser: Browser) -> Iterator[Any]:
    """opened(path, ...) -> the page in the browser; afterwards it must have reported no error."""
    pages: list[Page] = []

    def at(path: Path, **how: Any) -> Page:
        pages.append(browser.open(path.as_uri(), **how))
        return pages[-1]

    yield at
    for page in pages:
        page.browser.listen(0.05)
        assert page.errors() == []
        page.close()


@pytest.fixture
def check(tmp_path: Path) -> Callable[..., dict[str, Any]]:
    """check(data, *options) -> the JSON of `check --axle front` on a profile given as plain data."""

    def checked(data: dict[str, Any], *options: str) -> dict[str, Any]:
        found = run_json("check", write_profile(tmp_path, data), "--axle", "front", *options)
        assert isinstance(found, dict)
        return found

    return checked


def least(answer: dict[str, Any], obstacle: str, part: str = "tire", key: str = "clearance_mm") -> float:
    """Smallest value of one obstacle and part over all poses."""
    values = [e[key] for e in answer["clearances"] if (e["obstacle"], e["part"]) == (obstacle, part)]
    assert values, f"{obstacle} - {part} is not in the answer"
    return float(min(values))


def bolt_on(answer: dict[str, Any], item: str) -> tuple[str, str]:
    """Status and detail of one bolt-on check."""
    found = [(entry["status"], entry["detail"]) for entry in answer["bolt_on"] if entry["item"] == item]
    assert len(found) == 1, f"{item}: {found}"
    return found[0]


def written_page(folder: Path, *arguments: str) -> Path:
    """The page of one `report`."""
    out = folder / "page.html"
    result = run("report", *arguments, "--out", str(out))
    assert result.exit_code in (0, 1), result.output
    return out
