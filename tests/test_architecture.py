"""The shape of the package, read from its source: imports run one way, heavy libraries stay where they belong."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGE = ROOT / "fitment"

# From the ground up. A module may import from layers below its own and from its own layer, as long as nothing
# goes round in a circle. A new module must be put in its place here.
LAYERS: tuple[tuple[str, ...], ...] = (
    ("units", "errors", "frames", "terminal", "write", "questions", "workers", "candidates"),
    ("hub", "brake", "tables", "circles"),
    ("tire", "wheel", "obstacles", "fill"),
    ("sections", "vehicle"),
    ("poses", "steered", "linkage"),
    ("tape", "solid_axle", "links"),
    ("suspension",),
    ("steering_geometry", "adjusters", "alignment"),
    ("trace",),
    ("clearance", "closest", "smooth", "field", "raster", "outermost"),
    (
        "sweeps",
        "worst",
        "places",
        "bolt_on",
        "fit",
        "decided",
        "offsets",
        "measured_gap",
        "stance",
        "ground",
        "cover",
        "removal",
        "road",
        "cautions",
    ),
    ("keepout", "lookup", "catalogue", "room"),
    ("profile",),
    (
        "cases",
        "listed",
        "verdicts",
        "screen",
        "ranking",
        "order",
        "kinematics",
        "align",
        "curves",
        "new",
        "certainty",
        "changes",
        "window",
        "builds",
    ),
    ("report", "draw"),
    ("page", "notebook", "results", "api"),
    ("cli",),
    ("__main__",),
)
LEVEL = {name: level for level, names in enumerate(LAYERS) for name in names}

# who may import what
ONLY_IN: dict[str, tuple[str, ...]] = {
    "pint": ("units",),
    "yaml": ("profile",),
    "pydantic": ("profile",),
    "pydantic_core": ("profile",),
    "click": ("cli",),
    "matplotlib": ("draw",),
    "mpl_toolkits": ("draw",),
    "jinja2": ("page",),
    "markupsafe": ("page",),
}
LONGEST = 60  # [lines] of a function


def module_of(path: Path) -> str:
    """Name of the module or subpackage below `fitment` that a file belongs to."""
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


SOURCES = [path for path in sorted(PACKAGE.rglob("*.py")) if path != PACKAGE / "__init__.py"]
MODULES = sorted({module_of(path) for path in SOURCES})


def imports(tree: ast.AST) -> Iterator[tuple[str, bool]]:
    """Names of imported modules, dotted, and whether only a type checker imports them."""
    typing_only = {
        id(node)
        for block in ast.walk(tree)
        if isinstance(block, ast.If) and ast.unparse(block.test).endswith("TYPE_CHECKING")
        for part in block.body
        for node in ast.walk(part)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for each in node.names:
                yield each.name, id(node) in typing_only
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, "imports are absolute"
            for each in node.names:
                whole = f"{node.module}.{each.name}"
                known = node.module == "fitment" or (PACKAGE / f"{whole.replace('.', '/')}.py").exists()
                yield whole if known else str(node.module), id(node) in typing_only


def inner(path: Path) -> set[str]:
    """Modules of this package that a file imports."""
    tree = ast.parse(path.read_text())
    found = {name.split(".")[1] for name, _ in imports(tree) if name.startswith("fitment.")}
    return found - {module_of(path)}


def test_every_module_has_its_layer() -> None:
    assert sorted(LEVEL) == MODULES


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports_run_one_way(path: Path) -> None:
    module = module_of(path)
    for other in inner(path):
        assert LEVEL[other] <= LEVEL[module], f"{module} looks up to {other}"


def test_no_circles_within_a_layer() -> None:
    looks_at = {name: set[str]() for name in MODULES}
    for path in SOURCES:
        looks_at[module_of(path)] |= inner(path)
    for start in MODULES:
        seen: set[str] = set()
        waiting = list(looks_at[start])
        while waiting:
            name = waiting.pop()
            assert name != start, f"{start} reaches itself by its imports"
            if name not in seen:
                seen.add(name)
                waiting += looks_at[name]


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_libraries_stay_where_they_belong(path: Path) -> None:
    for name, _ in imports(ast.parse(path.read_text())):
        library = name.split(".")[0]
        assert module_of(path) in ONLY_IN.get(library, (module_of(path),)), f"{path.name} imports {library}"


def test_nothing_imports_the_command_line_or_the_pictures_but_the_command_line_and_the_page() -> None:
    for path in SOURCES:
        module = module_of(path)
        draws = {name: {"draw"} for name in ("cli", "page", "notebook", "results")}
        allowed = (draws | {"__main__": {"cli"}}).get(module, set())
        assert inner(path) & {"cli", "draw"} <= allowed, module


def test_the_command_line_imports_nothing_heavy_at_its_top() -> None:
    """What `fitment --help` needs: the rest is imported inside the commands."""
    for path in (*sorted((PACKAGE / "cli").glob("*.py")), PACKAGE / "__main__.py"):
        for node in ast.parse(path.read_text()).body:
            if isinstance(node, ast.Import | ast.ImportFrom):
                for module, _ in imports(ast.Module([node], [])):
                    library = module.split(".")[0]
                    assert library in {*sys.stdlib_module_names, "click"} or module.startswith(
                        ("fitment.errors", "fitment.cli")
                    ), module


@pytest.mark.parametrize(
    ("statement", "not_loaded"),
    [
        ("import fitment.cli", "numpy matplotlib pint pydantic yaml shapely"),
        ("import fitment.tire, fitment.wheel", "numpy matplotlib pint pydantic yaml shapely click"),
        ("import fitment.cases, fitment.report, fitment.screen", "matplotlib pint"),
    ],
)
def test_libraries_that_are_not_loaded(statement: str, not_loaded: str) -> None:
    code = f"import sys; {statement}; print([name for name in {not_loaded.split()!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("command", [["check", "wagon", "--axle", "rear"], ["tire", "225/45R17"]], ids=lambda c: c[0])
def test_commands_without_a_picture_load_no_plotting_and_no_unit_library(command: list[str]) -> None:
    code = (
        "import sys; from fitment.cli import cli; cli(sys.argv[1:], standalone_mode=False); "
        "print([name for name in ('matplotlib', 'pint') if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code, *command], capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.stderr == ""
    assert done.stdout.splitlines()[-1] == "[]"


def functions() -> Iterator[tuple[Path, ast.FunctionDef]]:
    for path in SOURCES:
        for node in ast.walk(ast.parse(path.read_text())):
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
    assert [path.name for path in SOURCES if not ast.get_docstring(ast.parse(path.read_text()))] == []


def test_one_word_for_a_thing() -> None:
    """What is printed says required, vernier calipers, different, separated by."""
    wrong = re.compile(r"\b(asked for|caliper gauge|is other|parted by)\b", re.IGNORECASE)
    printed = [(path.name, path.read_text()) for path in PACKAGE.rglob("page.*")]
    for path in SOURCES:
        tree = ast.parse(path.read_text())
        texts = {
            id(n.value) for n in ast.walk(tree) if isinstance(n, ast.Expr)
        }  # docstrings are for those who read code
        nodes = [n for n in ast.walk(tree) if isinstance(n, ast.Constant) and isinstance(n.value, str)]
        printed += [(path.name, str(n.value)) for n in nodes if id(n) not in texts]
    assert [(name, text[:80]) for name, text in printed if wrong.search(text)] == []


def test_nothing_reaches_for_the_network_or_runs_what_it_reads() -> None:
    forbidden = {"socket", "urllib", "http", "requests", "pickle", "marshal", "shelve", "subprocess"}
    for path in SOURCES:
        tree = ast.parse(path.read_text())
        assert not {name.split(".")[0] for name, _ in imports(tree)} & forbidden, path.name
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
