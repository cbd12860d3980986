"""The shape of the package, read from its source: imports run one way, heavy libraries stay where they belong."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "fitment"

# From the ground up: what a room holds (a package, or modules that stand by themselves), and what it is for. A room
# imports from rooms above it in this list and from itself, where nothing goes round in a circle. A new room must be
# put in its place here; a new module belongs to the room it lies in.
ROOMS: tuple[tuple[str, str], ...] = (
    (
        "errors corners units frames interrupts files cache terminal progress workers",
        "messages; names of corners; numbers and text; axes; signals; whole files; what is kept; progress; processes",
    ),
    ("parts", "wheels, tires, hubs, brakes and what stands around them, each by itself"),
    ("scans", "a file of triangles to what counts of it in the body's frame"),
    ("motion", "where the hub is through travel and steer, and what can be set"),
    ("profile", "a file to checked models to the records of the parts"),
    ("clearance", "from obstacles in the hub's half plane to the gap of one section in the worst pose"),
    ("checks", "one setup on one axle judged, and the case that joins its checks"),
    ("screening", "a list of setups judged together"),
    ("measuring", "the questions on a vehicle, and the profile that is made of their answers"),
    ("answers", "what is asked of checked builds beside the check, one module a question"),
    ("report", "results as text, JSON and CSV"),
    ("draw", "results as pictures, moving pictures and sheets to print"),
    ("page", "the page to hand over"),
    ("notebook results api", "the functions for programs, and what they answer with"),
    ("cli", "the command line: read, call, print, exit code"),
    ("__main__", "`python -m fitment`"),
)
FLOOR = {name: floor for floor, (names, _) in enumerate(ROOMS) for name in names.split()}

# who may import what
ONLY_IN: dict[str, tuple[str, ...]] = {
    "pint": ("units",),
    "yaml": ("profile",),
    "pydantic": ("profile",),
    "pydantic_core": ("profile",),
    "click": ("cli",),
    "ezdxf": ("draw",),
    "matplotlib": ("draw",),
    "mpl_toolkits": ("draw",),
    "jinja2": ("page",),
    "markupsafe": ("page",),
    "trimesh": ("scans",),
}
DRAW = ("draw", "cli", "page", "notebook", "results")
DOOR = "screening.keep_out"  # of the engine that judges long lists
ENGINE = tuple(
    f"screening.{name}"
    for name in (
        "boundary_chains",
        "boundary_points",
        "by_size",
        "distance_field",
        "kept_sweeps",
        "nearest_points",
        "raster",
        "swept_obstacle",
        "swept_scan",
    )
)
LONGEST = 60  # [lines] of a function
SOURCES = [path for path in sorted(PACKAGE.rglob("*.py")) if path != PACKAGE / "__init__.py"]


def module_of(path: Path) -> str:
    """Dotted name of a file below `fitment`; a package's own file has the package's name."""
    parts = path.relative_to(PACKAGE).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def room_of(module: str) -> str:
    """The package that a module lies in, or the module itself where it stands by itself."""
    return module.partition(".")[0]


MODULES = {module_of(path): path for path in SOURCES}


@cache
def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text())


def imports(tree: ast.AST) -> Iterator[str]:
    """Dotted names of imported modules."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (each.name for each in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are absolute"
            for each in node.names:
                whole = f"{node.module}.{each.name}"
                yield whole if whole.removeprefix("fitment.") in MODULES else str(node.module)


def inner(path: Path) -> set[str]:
    """Modules of this package that a file imports."""
    names = {name.removeprefix("fitment.") for name in imports(parsed(path)) if name.startswith("fitment.")}
    return names - {module_of(path)}


def test_every_room_has_its_floor_and_every_room_its_sentence() -> None:
    assert sorted(FLOOR) == sorted({room_of(module) for module in MODULES})
    structure = (ROOT / "DEVELOPERS.md").read_text().split("\n## Structure\n")[1].split("\n## ")[0]
    places = [structure.find(f"\n{names.split()[0]}") for names, _ in ROOMS if names != "__main__"]
    assert -1 not in places
    assert places == sorted(places)


def test_imports_run_strictly_down_between_rooms() -> None:
    up = [
        f"{module} looks up to {other}"
        for module, path in MODULES.items()
        for other in inner(path)
        if room_of(other) != room_of(module) and FLOOR[room_of(other)] > FLOOR[room_of(module)]
    ]
    assert up == []


def test_no_circles() -> None:
    looks_at = {module: inner(path) for module, path in MODULES.items()}
    for start, first in looks_at.items():
        seen: set[str] = set()
        waiting = list(first)
        while waiting:
            name = waiting.pop()
            assert name != start, f"{start} reaches itself by its imports"
            if name not in seen:
                seen.add(name)
                waiting += looks_at[name]


def test_the_list_engine_is_asked_through_its_door() -> None:
    assert set(ENGINE) <= set(MODULES)
    asking = {module for module, path in MODULES.items() if inner(path) & set(ENGINE)}
    assert asking - set(ENGINE) == {DOOR}


def test_libraries_stay_where_they_belong() -> None:
    for module, path in MODULES.items():
        for name in imports(parsed(path)):
            library = name.split(".")[0]
            assert room_of(module) in ONLY_IN.get(library, (room_of(module),)), f"{module} imports {library}"


def test_nothing_imports_the_command_line_or_the_pictures_but_the_command_line_and_the_page() -> None:
    for module, path in MODULES.items():
        rooms = {room_of(other) for other in inner(path)} - {room_of(module)}
        assert "draw" not in rooms or room_of(module) in DRAW, module
        assert "cli" not in rooms or module == "__main__", module


# what reports and the page may call of the rooms that compute: choices among what is known, and points to draw
ASKED_BY_REPORTS = {
    "corners", "place", "laid_out", "to_hub", "is_open", "on_its_rim", "stop", "widest", "too_close", "grouped",
    "place_of", "rest_place", "kept", "bare",
}  # fmt: skip


def test_reports_and_the_page_compute_no_answer() -> None:
    computing = tuple(f"fitment.{room}." for room in ("motion", "clearance", "checks", "screening", "answers"))
    asked = {
        each.name
        for module, path in MODULES.items()
        if room_of(module) in ("report", "page", "notebook")
        for node in ast.walk(parsed(path))
        if isinstance(node, ast.ImportFrom) and str(node.module).startswith(computing)
        for each in node.names
        if each.name[0].islower()
    }
    assert asked - ASKED_BY_REPORTS == set()


def test_the_command_line_imports_nothing_heavy_at_its_top() -> None:
    """What `fitment --help` needs: the rest is imported inside the commands."""
    for path in (*sorted((PACKAGE / "cli").glob("*.py")), PACKAGE / "__main__.py"):
        for node in parsed(path).body:
            if isinstance(node, ast.Import | ast.ImportFrom):
                for module in imports(ast.Module([node], [])):
                    library = module.split(".")[0]
                    assert library in {*sys.stdlib_module_names, "click"} or module.startswith(
                        ("fitment.errors", "fitment.interrupts", "fitment.progress", "fitment.cli")
                    ), module


@pytest.mark.parametrize(
    ("statement", "not_loaded"),
    [
        ("import fitment.cli", "numpy matplotlib pint pydantic yaml shapely"),
        ("import fitment.parts.tire_code, fitment.parts.wheel", "numpy matplotlib pint pydantic yaml shapely click"),
        ("import fitment.report", "numpy matplotlib pint pydantic yaml shapely"),  # `tire` and `wheel` need no more
        ("import fitment.checks.case, fitment.report, fitment.screening.screen", "matplotlib pint"),
    ],
)
def test_libraries_that_are_not_loaded(statement: str, not_loaded: str) -> None:
    code = f"import sys; {statement}; print([name for name in {not_loaded.split()!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "[]"


DRAWING = "matplotlib PIL fontTools"
COMPUTING = f"numpy shapely pydantic yaml {DRAWING} pint jinja2 multiprocessing"
LAZY = [  # a command, and what it must not load
    ("--help", f"{COMPUTING} json csv email importlib.metadata fitment.parts fitment.report"),
    ("report --help", f"{COMPUTING} email importlib.metadata fitment.parts fitment.report"),
    ("tire 225/45R17", f"{COMPUTING} email importlib.resources fitment.profile fitment.checks"),
    ("wheel 17x8ET35", f"{COMPUTING} email importlib.resources fitment.profile fitment.checks"),
    ("worksheet", f"shapely {DRAWING} pint jinja2 multiprocessing fitment.checks fitment.motion"),
    ("new {folder}/new.yaml", f"{DRAWING} pint jinja2 multiprocessing fitment.screening fitment.answers fitment.api"),
    ("check wagon --axle rear", f"{DRAWING} pint jinja2 multiprocessing fitment.screening fitment.draw fitment.page"),
    ("check wagon --axle rear", "fitment.measuring fitment.scans.placed_scan fitment.answers.cut_lines"),
    ("screen wagon {list} --axle rear", f"{DRAWING} pint jinja2 fitment.draw fitment.page fitment.measuring"),
    ("window wagon --axle rear", f"{DRAWING} pint jinja2 multiprocessing fitment.draw fitment.page fitment.measuring"),
    ("order wagon --axle rear", f"{DRAWING} pint jinja2 multiprocessing fitment.draw fitment.page fitment.measuring"),
    pytest.param("report wagon --axle rear --out {folder}/page.html", "pint matplotlib.pyplot tkinter",
                 marks=pytest.mark.slow),
]  # fmt: skip


@pytest.mark.parametrize(("command", "not_loaded"), LAZY)
def test_a_command_loads_nothing_that_it_does_not_use(command: str, not_loaded: str, tmp_path: Path) -> None:
    listed = tmp_path / "list.csv"
    listed.write_text("wheel,tire\n15x6 ET35 5x114.3 CB70.6,205/70R15\n")
    code = (
        f"import atexit, os, sys; from fitment.__main__ import main; names = {not_loaded.split()!r}; "
        "atexit.register(lambda: os.write(1, f'{[n for n in names if n in sys.modules]}'.encode())); main()"
    )
    words = command.format(folder=tmp_path, list=listed).split()
    done = subprocess.run(
        [sys.executable, "-c", code, *words], capture_output=True, text=True, check=False, cwd=ROOT,
        stdin=subprocess.DEVNULL,
    )  # fmt: skip
    assert done.returncode in (0, 1), done.stderr
    assert done.stdout.endswith("[]"), done.stdout[-200:]


def test_no_class_has_the_name_of_another() -> None:
    names = Counter(node.name for path in SOURCES for node in ast.walk(parsed(path)) if isinstance(node, ast.ClassDef))
    assert [name for name, times in names.items() if times > 1] == []


def test_no_public_function_has_the_name_of_a_module_beside_it() -> None:
    """So that `from package import name` can mean one thing only. A command's function has the command's name."""
    for module, path in MODULES.items():
        package = path.parent
        beside = {each.stem for each in package.glob("*.py")} | {each.name for each in package.iterdir()}
        if path.name == "__init__.py":
            beside.add(package.name)
        own = {node.name for node in parsed(path).body if isinstance(node, ast.FunctionDef | ast.ClassDef)}
        assert own & beside <= ({"cli"} if module == "cli" else set()), module


def functions() -> Iterator[tuple[Path, ast.FunctionDef]]:
    for path in SOURCES:
        for node in ast.walk(parsed(path)):
            if isinstance(node, ast.FunctionDef):
                yield path, node


def test_no_function_is_long() -> None:
    long = [
        f"{path.name}:{node.lineno} {node.name}: {(node.end_lineno or 0) - node.lineno + 1} lines"
        for path, node in functions()
        if (node.end_lineno or 0) - node.lineno + 1 > LONGEST
    ]
    assert long == []


def test_every_module_says_what_it_is_for() -> None:
    assert [str(path) for path in SOURCES if not ast.get_docstring(parsed(path))] == []


def test_nothing_reaches_for_the_network_or_runs_what_it_reads() -> None:
    forbidden = {"socket", "urllib", "http", "requests", "pickle", "marshal", "shelve", "subprocess"}
    for path in SOURCES:
        tree = parsed(path)
        assert not {name.split(".")[0] for name in imports(tree)} & forbidden, path.name
        calls = {ast.unparse(node.func) for node in ast.walk(tree) if isinstance(node, ast.Call)}
        assert not calls & {"eval", "exec", "yaml.load", "os.system", "__import__"}, path.name


@pytest.mark.parametrize("path", sorted((ROOT / "profiles").glob("*.yaml")), ids=lambda path: path.stem)
def test_bundled_profiles_say_that_they_are_invented(path: Path) -> None:
    text = path.read_text()
    assert re.search(r"\binvented\b", text, re.IGNORECASE)
    assert re.search(r"no (?:such )?vehicle (?:like it )?exists", text)


def test_the_bundled_profiles_hold_a_before_and_an_after_and_a_list() -> None:
    """At least two vehicles with a list of 30 and more candidates, one of them measured with a tape."""
    lists = sorted((ROOT / "profiles").glob("*.csv"))
    assert len(lists) >= 2
    taped = 0
    for path in lists:
        assert len(path.read_text().splitlines()) > 30, path.name
        profile = path.with_name(f"{path.stem.removesuffix('_wheels')}.yaml").read_text()
        assert len(re.findall(r"^  \w+:$", profile.split("\nbuilds:")[1], re.MULTILINE)) >= 2
        taped += "kind: tape" in profile
    assert taped >= 1


def test_one_word_for_a_thing() -> None:
    """What is printed says required, vernier calipers, different, separated by."""
    wrong = re.compile(r"\b(asked for|caliper gauge|is other|parted by)\b", re.IGNORECASE)
    printed = [(path.name, path.read_text()) for path in (PACKAGE / "page").glob("page.*")]
    for path in SOURCES:
        tree = ast.parse(path.read_text())
        texts = {
            id(n.value) for n in ast.walk(tree) if isinstance(n, ast.Expr)
        }  # docstrings are for those who read code
        nodes = [n for n in ast.walk(tree) if isinstance(n, ast.Constant) and isinstance(n.value, str)]
        printed += [(path.name, str(n.value)) for n in nodes if id(n) not in texts]
    assert [(name, text[:80]) for name, text in printed if wrong.search(text)] == []
