"""A long list through `screen`, as a user waits for it, against the budgets of the design (section 6).

    python tests/bench/bench_screen.py [--rows 100000] [--without-mesh]

Two lists: a *catalogue*, as shops have it (sizes x offsets in whole millimetres x makes with a name and a price, the
tires that suit each width), and one in which *no two rows are alike* (offsets in tenths, spacers). The vehicle is a
bundled one with parts added, so that a check of it has about 45 poses on its grid and 10 obstacles.

Every run is a process of its own, and each list is run twice: once timed, once with its memory watched, which takes
time itself. Printed are rows, wall time, processor time of all its processes (on a machine that does other work too
this is the one to go by) and the peak of memory: of the largest process, and of all together.

The ratio is to a mesh collision library on the same candidates: each tire and wheel revolved into facets within
0.05 mm, one distance query an obstacle and pose. That is timed on a sample and told in candidates per second, once
with the solids given and once with building them. Nothing fails here, because a time depends on the machine.
"""

from __future__ import annotations

import argparse
import csv
import os
import resource
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

RIMS = [(inches, inches / 2 + add) for inches in range(15, 21) for add in (-1.5, -1.0, -0.5, 0.0, 0.5)]
DIAMETERS = (590.0, 690.0)  # [mm] of the tires
MAKES = [f"Make {letter}" for letter in "ABCDEFGH"]
ADDED = [  # parts that make the wagon's front axle one with ten obstacles
    {"name": "liner screw", "shape": "ball", "radius": 6, "at": [-250, 700, 395]},
    {"name": "brake hose", "fixed_to": "knuckle", "shape": "rod", "radius": 8,
     "from": {"at": [-90, 640, 60]}, "to": {"at": [-150, 600, 140]}},
    {"name": "bumper bracket", "shape": "edge", "radius": 4, "points": [[390, 700, 40], [400, 820, 60]]},
]  # fmt: skip


def sizes() -> list[tuple[str, str]]:
    """Rims and the tires that suit them, as (wheel without offset, tire)."""
    from fitment.parts.tire import overall_diameter, rim_range
    from fitment.parts.tire_code import parse_tire

    found = []
    for inches, width in RIMS:
        for nominal in range(185, 316, 10):
            for aspect in range(25, 75, 5):
                tire = parse_tire(f"{nominal}/{aspect}R{inches}")
                low, high = rim_range(tire)
                if low <= width <= high and DIAMETERS[0] <= overall_diameter(tire) <= DIAMETERS[1]:
                    found.append((f"{inches}x{width:g}", tire.code))
    return found


def catalogue(rows: int) -> list[list[str]]:
    """Sizes x offsets in whole millimetres x makes, as many makes as it takes."""
    found = [["name", "wheel", "tire", "price"]]
    for number in range(rows):
        make, left = divmod(number, len(sizes_) * 61)
        offset, size = divmod(left, len(sizes_))
        wheel, tire = sizes_[size]
        name = f"{MAKES[make % len(MAKES)]} {number}"
        bore = ("70.6", "72.6", "73.1")[make % 3]
        found.append([name, f"{wheel} ET{offset} 5x114.3 CB{bore}", tire, str(200 + number * 37 % 900)])
    return found


def distinct(rows: int) -> list[list[str]]:
    """No two rows alike: offsets in tenths of a millimetre, every third with a spacer."""
    found = [["wheel", "tire", "spacer"]]
    for number in range(rows):
        turn, size = divmod(number, len(sizes_))
        wheel, tire = sizes_[size]
        offset = -5 + 65 * (turn * 0.6180339887 % 1.0)
        found.append([f"{wheel} ET{offset:.1f} 5x114.3 CB70.6", tire, ("", "", "3")[number % 3]])
    return found


def profile(folder: Path) -> Path:
    """The wagon with ten obstacles in front and one ride height fewer, so that the grid has 45 poses."""
    data = yaml.safe_load((ROOT / "profiles" / "wagon.yaml").read_text(encoding="utf-8"))
    front = data["axles"]["front"]
    front["obstacles"] += ADDED
    front["ride_heights"] = {"cruise": 40, "raised": 0, "parked": 60}
    data["axles"] = {"front": front}
    data["builds"] = {"own": {"front": data["builds"]["as_bought"]["front"]}}
    data["baseline"] = "own"
    path = folder / "vehicle.yaml"
    path.write_text(yaml.safe_dump(data, sort_keys=False), encoding="utf-8")
    return path


@dataclass(frozen=True)
class Run:
    """One process with its children: wall and processor time [s], memory [MB]."""

    wall: float
    processor: float
    largest: float
    together: float
    verdicts: Counter[str]


def memory_of_group(group: int) -> float:
    """Memory that the processes of a group hold now [MB], what they share counted once (Linux; else 0)."""
    total = 0.0
    for entry in Path("/proc").glob("[0-9]*"):
        try:
            if os.getpgid(int(entry.name)) == group:
                text = (entry / "smaps_rollup").read_text()
                total += sum(int(line.split()[1]) for line in text.splitlines() if line.startswith("Pss:")) / 1024
        except (OSError, ValueError):
            continue
    return total


def screened(path: Path, listed: Path, *, watched: bool) -> Run:
    """`screen` as a user runs it, its answer written as CSV; watched : its memory is, several times a second."""
    out = listed.with_suffix(".out.csv")
    command = [sys.executable, "-m", "fitment", "screen", str(path), str(listed), "--axle", "front", "--out", str(out)]
    before, start = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
    process = subprocess.Popen(
        command,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.DEVNULL,
        start_new_session=True,
    )
    peak = [0.0]
    done = threading.Event()

    def watch() -> None:
        while not done.wait(0.25):
            peak[0] = max(peak[0], memory_of_group(process.pid))

    watching = threading.Thread(target=watch)
    if watched:
        watching.start()
    code = process.wait()
    wall, after = time.perf_counter() - start, resource.getrusage(resource.RUSAGE_CHILDREN)
    done.set()
    if watched:
        watching.join()
    if code not in (0, 3):
        raise SystemExit(f"screen ended with {code}")
    with out.open(encoding="utf-8") as stream:
        verdicts = Counter(row["verdict"] for row in csv.DictReader(stream))
    processor = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return Run(wall, processor, after.ru_maxrss / 1024, peak[0], verdicts)


def written(path: Path, rows: list[list[str]]) -> Path:
    with path.open("w", newline="", encoding="utf-8") as stream:
        csv.writer(stream, lineterminator="\n").writerows(rows)
    return path


# ---------------------------------------------------------------- the mesh side


def mesh_rate(path: Path, rows: list[list[str]], sample: int) -> tuple[float, float, int, int]:
    """Seconds a candidate takes by mesh, without and with building its solids; poses and obstacles it is asked for."""
    from click.testing import CliRunner
    from reference import mesh

    from fitment.cli import cli

    queries = building = 0.0
    chosen = rows[1 :: max(len(rows) // sample, 1)][:sample]
    answer: dict[str, Any] = {}
    at, trees = [], {}
    for row in chosen:
        fields = dict(zip(rows[0], row, strict=True))
        more = ["--spacer", fields["spacer"]] if fields.get("spacer") else []
        done = CliRunner().invoke(
            cli, ["check", str(path), "--axle", "front", "--wheel", fields["wheel"], "--tire", fields["tire"], *more,
                  "--format", "json", "--geometry"],
        )  # fmt: skip
        import json

        answer = json.loads(done.output)
        # the grid's poses alone: what a check finds between them is its own doing
        if not at:
            at = grid_of(answer)
            poses = [answer["poses"][k] for k in at]
            trees = {o["name"]: [mesh.trees_of(o)[k] for k in at] for o in answer["obstacles"]}
        start = time.perf_counter()
        solids = {part: mesh.Solid(mesh.tree(*mesh.revolve(s, 0.05)), 0.0) for part, s in answer["sections"].items()}
        building += time.perf_counter() - start
        start = time.perf_counter()
        for solid in solids.values():
            for tree in trees.values():
                mesh.mesh_distances(solid, poses, tree)
        queries += time.perf_counter() - start
    return queries / sample, (queries + building) / sample, len(at), len(trees)


def grid_of(answer: dict[str, Any]) -> list[int]:
    """Indexes of the poses at travels at which five steer angles are found: those of the grid."""
    count = Counter(pose["travel_mm"] for pose in answer["poses"])
    return [k for k, pose in enumerate(answer["poses"]) if count[pose["travel_mm"]] >= 5]


# ---------------------------------------------------------------- what is printed

sizes_ = sizes()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", type=int, default=100_000)
    parser.add_argument("--sample", type=int, default=12, help="candidates timed on the mesh side")
    parser.add_argument("--without-mesh", action="store_true")
    asked = parser.parse_args()
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    print(f"{asked.rows:,} rows, {len(sizes_)} sizes of wheel and tire, {cores} cores; budget 10 s, 500 MB")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path = profile(folder)
        lists = {"catalogue": catalogue(asked.rows), "no two rows alike": distinct(asked.rows)}
        runs = {}
        for label, rows in lists.items():
            listed = written(folder / f"{label}.csv".replace(" ", "_"), rows)
            runs[label] = run = screened(path, listed, watched=False)
            memory = screened(path, listed, watched=True)
            said = ", ".join(f"{n:,} {verdict}" for verdict, n in run.verdicts.most_common())
            print(f"{label}: {run.wall:.1f} s, processor {run.processor:.1f} s, ", end="")
            print(f"largest process {memory.largest:.0f} MB, together {memory.together:.0f} MB   ({said})", flush=True)
        if asked.without_mesh:
            return
        for label, rows in lists.items():
            given, built, poses, parts = mesh_rate(path, rows, asked.sample)
            ours = runs[label].wall / asked.rows
            print(f"mesh, {label}: {given:.2f} s a candidate, {built:.2f} s with building its solids ", end="")
            print(f"({poses} poses x {parts} obstacles, {asked.sample} candidates timed)")
            print(f"  for all rows that is {given * asked.rows / 3600:.1f} h; ", end="")
            print(f"ratio {given / ours:,.0f}, with building {built / ours:,.0f}", flush=True)


if __name__ == "__main__":
    main()
