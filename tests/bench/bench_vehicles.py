"""Whole commands on ten vehicles drawn from seeds, against the numbers of the design (section 6); the worst counts.

    python tests/bench/bench_vehicles.py [--against COMMIT] [--only WORD] [--rows 100000] [--seed 0] [--limit 120]

Printed are multiples of `python -c "import shapely"` in the same environment, in processor time, so that a busy
machine does not matter much (on a quiet one it is the wall time, but for long lists, which take several cores): `check`
of the front axle, `compare` with one picture, `report` of both axles, `screen` of 30 rows, and the same again with
what the first run may have kept in the user's cache (every other run begins with none). Long lists, a *catalogue* and
one in which *no two rows are alike*, are in seconds: of the wall, of the processor in brackets; MB is the peak of all
processes of any command together. `mesh` is how many times as long a mesh collision library takes for a row as
the list of unlike rows does, each row's tire and wheel revolved into facets within 0.05 mm, one distance query an
obstacle and pose (of the grid alone), building the solids left out and, behind the stroke, counted.

--against COMMIT measures another commit in turn with this tree, in a git worktree that is removed again; its numbers
stand in a line of their own. --only takes the vehicles whose name has the word; a name or file of a profile that
is none of the ten (wagon) is measured by itself. A long list that takes longer than --limit seconds of the processor,
and another command that takes a third of that, is stopped: `>`. Lines have numbers, and the last ones name by them the
vehicle that is worst in a column. `!` marks what is over the design's number; the wall is only worth reading where
nobody else works. Nothing fails here, because a time depends on the machine. The whole table takes some 20 minutes of
two idle cores.
"""

from __future__ import annotations

import argparse
import csv
import json
import os
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml
from drawn_vehicles import VEHICLES, Drawn, catalogue, distinct, drawn, short
from measured import ROOT, Run, checked_out, run, shapely_import

COMMANDS = {"check": 5.0, "compare": 12.0, "report": 20.0, "30 rows": 10.0, "again": 10.0}  # multiples allowed
LONG = {"catalogue": 10.0, "all unlike": 10.0}  # [s] of the wall on two cores, 100,000 rows
MEMORY, MESH = 500.0, 1000.0  # [MB], ratio
FACET = 0.05  # [mm]


@dataclass
class Measured:
    """What one tree takes for one vehicle: runs by column, and mesh seconds a row (queries, with building)."""

    runs: dict[str, Run] = field(default_factory=dict)
    mesh: tuple[float, float] | None = None


@dataclass(frozen=True)
class Vehicle:
    """A vehicle's files, and the builds to compare."""

    name: str
    path: Path
    lists: dict[str, Path]
    old: str
    new: str


# ---------------------------------------------------------------- what is measured


def written(folder: Path, vehicle: Drawn, rows: int) -> Vehicle:
    """A drawn vehicle as files."""
    path = folder / "vehicle.yaml"
    path.write_text(json.dumps(vehicle.profile, indent=1), encoding="utf-8")
    return Vehicle(vehicle.name, path, lists_of(folder, rows, vehicle.diameter), "own", "wanted")


def bundled(folder: Path, given: str, rows: int) -> Vehicle:
    """A profile that is there: its baseline against its last build."""
    path = Path(given) if given.endswith(".yaml") else ROOT / "profiles" / f"{given}.yaml"
    data = yaml.safe_load(path.read_text(encoding="utf-8"))
    builds = [name for name in data["builds"] if name != data["baseline"]]
    return Vehicle(path.stem, path.resolve(), lists_of(folder, rows, 650.0), data["baseline"], builds[-1])


def lists_of(folder: Path, rows: int, diameter: float) -> dict[str, Path]:
    tables = {
        "30 rows": short(30, diameter),
        "catalogue": catalogue(rows, diameter),
        "all unlike": distinct(rows, diameter),
    }
    paths = {}
    for name, table in tables.items():
        paths[name] = folder / f"{name.replace(' ', '_')}.csv"
        with paths[name].open("w", newline="", encoding="utf-8") as stream:
            csv.writer(stream, lineterminator="\n").writerows(table)
    return paths


def measures(vehicle: Vehicle, folder: Path, columns: list[str]) -> dict[str, list[str]]:
    """The command of each column."""
    own = str(vehicle.path)

    def screen(which: str) -> list[str]:
        return ["screen", own, str(vehicle.lists[which]), "--axle", "front", "--out", str(folder / "answer.csv")]

    commands = {
        "check": ["check", own, "--axle", "front"],
        "compare": ["compare", own, vehicle.old, vehicle.new, "--axle", "front", "--out", str(folder / "sheet.png")],
        "report": ["report", own, "--build", vehicle.new, "--out", str(folder / "page.html")],
        "30 rows": screen("30 rows"),
        "again": screen("30 rows"),
        "catalogue": screen("catalogue"),
        "all unlike": screen("all unlike"),
    }
    return {name: command for name, command in commands.items() if name in columns}


def measure(vehicle: Vehicle, roots: list[Path], folder: Path, asked: argparse.Namespace) -> list[Measured]:
    """Every column, the trees in turn."""
    answers = [Measured() for _ in roots]
    for name, command in measures(vehicle, folder, asked.columns).items():
        for number, (root, answer) in enumerate(zip(roots, answers, strict=True)):
            cache = folder / f"cache {number} {'30 rows' if name == 'again' else name}"
            cache.mkdir(exist_ok=True)
            limit = asked.limit if name in LONG else asked.limit / 3
            answer.runs[name] = run(["-m", "fitment", *command], root, cache, limit)
            if name == "all unlike" and not asked.without_mesh and answer.runs[name].ended:
                answer.mesh = mesh_rate(vehicle, root, folder, asked)
        print(".", end="", file=sys.stderr, flush=True)
    return answers


def mesh_rate(vehicle: Vehicle, root: Path, folder: Path, asked: argparse.Namespace) -> tuple[float, float] | None:
    """Processor seconds that a row takes by mesh, without and with building its solids; None if a check failed."""
    from reference import mesh

    with vehicle.lists["all unlike"].open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    queries = building = 0.0
    chosen = rows[:: max(len(rows) // asked.sample, 1)][: asked.sample]
    for row in chosen:
        out, more = folder / "row.json", ["--spacer", row["spacer"]] if row["spacer"] else []
        command = ["check", str(vehicle.path), "--axle", "front", "--wheel", row["wheel"], "--tire", row["tire"]]
        done = run(["-m", "fitment", *command, *more, "--geometry", "--out", str(out)], root, folder, asked.limit)
        if not done.ended:
            return None
        answer = json.loads(out.read_text(encoding="utf-8"))
        at = grid_of(answer)
        poses = [answer["poses"][k] for k in at]
        trees = [[mesh.trees_of(obstacle)[k] for k in at] for obstacle in answer["obstacles"]]
        start = time.process_time()
        solids = [mesh.Solid(mesh.tree(*mesh.revolve(outline, FACET)), 0.0) for outline in answer["sections"].values()]
        built = time.process_time()
        for solid in solids:
            for tree in trees:
                mesh.mesh_distances(solid, poses, tree)
        building += built - start
        queries += time.process_time() - built
    return queries / len(chosen), (queries + building) / len(chosen)


def grid_of(answer: dict[str, Any]) -> list[int]:
    """Indexes of the poses of the grid: at travels at which five steer angles are found, or all that do not steer."""
    count = Counter(pose["travel_mm"] for pose in answer["poses"])
    at = [k for k, pose in enumerate(answer["poses"]) if count[pose["travel_mm"]] >= 5]
    return at or list(range(len(answer["poses"])))


# ---------------------------------------------------------------- what is printed


def cells(answer: Measured, unit: float, rows: int) -> Cells:
    """Each column's text and its value for the worst of all (inf where there is none)."""
    told: Cells = {}
    for name, done in answer.runs.items():
        if not done.ended:
            text = f"> {done.processor:.0f} s" if done.code is None else "failed"
            told[name] = text, float("inf")
        elif name in COMMANDS:
            times = done.processor / unit
            told[name] = f"{times:.1f}{'!' if times > COMMANDS[name] else ''}", times
        else:
            over = done.wall > LONG[name] * rows / 100_000
            told[name] = f"{done.wall:.0f} ({done.processor:.0f}){'!' if over else ''}", done.processor
    if answer.runs:
        most = max(done.memory for done in answer.runs.values())
        told["MB"] = f"{most:.0f}{'!' if most > MEMORY else ''}", most
    if answer.mesh:
        ours = answer.runs["all unlike"].processor / rows
        ratios = [seconds / ours for seconds in answer.mesh]
        told["mesh"] = f"{ratios[0]:,.0f}/{ratios[1]:,.0f}{'!' if ratios[0] < MESH else ''}", -ratios[0]
    return told


WIDTHS = dict.fromkeys(COMMANDS, 9) | dict.fromkeys(LONG, 13) | {"MB": 7, "mesh": 16}


Cells = dict[str, tuple[str, float]]


def line(name: str, told: Cells, columns: list[str]) -> str:
    return f"{name:<30}" + "".join(f"{told.get(each, ('-', 0))[0]:>{WIDTHS[each]}}" for each in columns)


def worst(all_told: list[Cells]) -> tuple[Cells, Cells]:
    """Of each column the cell that is worst, and the number of its line."""
    cells: Cells = {}
    numbers: Cells = {}
    for name in {name for told in all_told for name in told}:
        known = [(told[name], number) for number, told in enumerate(all_told, 1) if name in told]
        cells[name], number = max(known, key=lambda cell: cell[0][1])
        numbers[name] = f"in {number}", 0.0
    return cells, numbers


def units(unit: float, columns: list[str]) -> str:
    """What the columns are in, over their names."""
    kinds = [(f"x {unit:.3f} s, import shapely", COMMANDS), ("s, wall (processor)", LONG)]
    return " " * 30 + "".join(f"{words:>{sum(WIDTHS[each] for each in columns if each in of)}}" for words, of in kinds)


def asked_for() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--against", metavar="COMMIT", help="measure another commit beside this tree")
    parser.add_argument("--only", metavar="WORD", action="append", help="vehicles by a word of the name; or a profile")
    parser.add_argument("--columns", metavar="NAME,...", help=", ".join([*COMMANDS, *LONG]) + "; all if not given")
    parser.add_argument("--rows", type=int, default=100_000, help="of the long lists")
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument(
        "--limit", type=float, default=120.0, help="[s] of the processor for a long list; a third for another command"
    )
    parser.add_argument("--sample", type=int, default=2, help="rows timed on the mesh side")
    parser.add_argument("--without-mesh", action="store_true")
    asked = parser.parse_args()
    known = [*COMMANDS, *LONG]
    asked.columns = asked.columns.split(",") if asked.columns else known
    if set(asked.columns) - set(known):
        parser.error(f"columns are {', '.join(known)}")
    return asked


def chosen(words: list[str] | None) -> list[str]:
    if not words:
        return list(VEHICLES)
    return [name for word in words for name in ([n for n in VEHICLES if word in n] or [word])]


def main() -> None:
    asked = asked_for()
    with checked_out(asked.against) as other, tempfile.TemporaryDirectory() as name:
        unit, wall = shapely_import(Path(name))
        cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
        print(
            f"import shapely: {unit:.3f} s of the processor, {wall:.3f} s; {cores} cores; seed {asked.seed}; ", end=""
        )
        print(f"long lists of {asked.rows:,} rows")
        columns, start = [*asked.columns, "MB", "mesh"], time.perf_counter()
        print(units(unit, columns))
        print(line("", {each: (each, 0) for each in columns}, columns), flush=True)
        roots = [ROOT, *([other] if other else [])]
        told: list[list[Cells]] = [[] for _ in roots]
        for count, vehicle in enumerate(chosen(asked.only), 1):
            with tempfile.TemporaryDirectory(dir=name) as folder:
                place = Path(folder)
                files = (
                    written(place, drawn(vehicle, asked.seed), asked.rows)
                    if vehicle in VEHICLES
                    else bundled(place, vehicle, asked.rows)
                )
                answers = measure(files, roots, place, asked)
            print(file=sys.stderr)
            for number, answer in enumerate(answers):
                told[number].append(cells(answer, unit, asked.rows))
                label = f"    {asked.against}" if number else f"{count:>2}  {files.name}"
                print(line(label, told[number][-1], columns), flush=True)
                for column, done in answer.runs.items():
                    if not done.ended and done.code is not None:
                        print(f"    {column} ended with {done.code}: {done.said}", flush=True)
        for number, each in enumerate(told):
            for label, found in zip((f"worst, {asked.against}" if number else "worst", ""), worst(each), strict=True):
                print(line(label, found, columns))
        allowed = {each: (f"{most:g}", 0.0) for each, most in (COMMANDS | LONG).items()}
        print(line("allowed", {**allowed, "MB": (f"{MEMORY:g}", 0), "mesh": (f"{MESH:g}", 0)}, columns))
        print(f"measured in {(time.perf_counter() - start) / 60:.0f} minutes")


if __name__ == "__main__":
    main()
