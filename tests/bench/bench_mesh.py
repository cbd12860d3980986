"""Rate of the program's check against mesh collision, on the same poses, parts and obstacles.

    python tests/bench/bench_mesh.py [candidates to screen]

An evaluation is one clearance: an obstacle, a part (tire, wheel) and a pose. The mesh side is given what it
needs beforehand: its solids are built and not timed, in two finenesses, the coarser one at the contract's
0.05 mm and no better. Our side is the whole command without the start of Python: reading the profile, poses,
their refinement, sections, clearances, worst cases (each entry carries a second one, for the largest tire and
the tolerances, counted as no extra evaluation), bolt-on checks and JSON. `screen` does the same work for a
list of wheels and tires on the first vehicle; its last line is the one that a screening by mesh would be up
against, since there every candidate's solids have to be built.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import numpy as np
from click.testing import CliRunner
from reference import mesh
from test_against_mesh import scene

SEEDS = (0, 1, 2, 3, 4, 5)
FINENESS = (0.05, mesh.FACET)  # [mm]
REPEATS = 3
ROWS = int(sys.argv[1]) if len(sys.argv) > 1 else 100  # candidates screened


def timed(run: Callable[[], Any]) -> tuple[Any, float]:
    """What it returns and the best of a few runs [s]."""
    best, result = float("inf"), None
    for _ in range(REPEATS):
        start = time.perf_counter()
        result = run()
        best = min(best, time.perf_counter() - start)
    return result, best


def collide(answer: dict[str, Any], solids: dict[str, mesh.Solid], trees: dict[str, list[Any]]) -> None:
    for entry in mesh.entries(answer):
        mesh.mesh_distances(solids[entry.part], answer["poses"], trees[entry.obstacle["name"]])


def solids_of(answer: dict[str, Any], facet: float) -> dict[str, mesh.Solid]:
    return {
        part: mesh.Solid(mesh.tree(*mesh.revolve(section, facet)), 0.0) for part, section in answer["sections"].items()
    }


def candidates(rows: int) -> str:
    """A list of wheels and tires, no two alike."""
    rng, tires = np.random.default_rng(5), {15: "205/70R15", 17: "225/50R17", 18: "255/45R18", 20: "275/40R20"}
    lines = ["wheel,tire"]
    for number in range(rows):
        inches = list(tires)[number % len(tires)]
        width, offset = 7 + 0.5 * rng.integers(0, 7), rng.integers(-400, 600) / 10
        lines.append(f"{inches}x{width:g} ET{offset:g} 5x114.3 CB70.6,{tires[inches]}")
    return "\n".join(lines) + "\n"


def screen(folder: Path) -> float:
    """Seconds for the whole command on ROWS candidates and the first vehicle."""
    from fitment.cli import cli

    answer = mesh.check(folder, scene(SEEDS[0]))
    (folder / "list.csv").write_text(candidates(ROWS), encoding="utf-8")
    command = ["screen", str(folder / "profile.yaml"), str(folder / "list.csv"), "--axle", "front", "--format", "csv"]
    start = time.perf_counter()
    done = CliRunner().invoke(cli, command)
    seconds = time.perf_counter() - start
    if done.exit_code not in (0, 3):
        raise SystemExit(done.output[-2000:])
    evaluations = ROWS * len(answer["clearances"])
    print(
        f"screen, {ROWS} candidates x {len(answer['clearances'])} clearances: {evaluations / seconds:,.0f} per second",
        end="",
    )
    print(f"   {seconds:.2f} s")
    return evaluations / seconds


def main() -> None:
    count, ours, theirs, built = 0, 0.0, dict.fromkeys(FINENESS, 0.0), dict.fromkeys(FINENESS, 0.0)
    with tempfile.TemporaryDirectory() as folder:
        for seed in SEEDS:
            profile = scene(seed)
            answer, seconds = timed(lambda profile=profile: mesh.check(Path(folder), profile))
            ours += seconds
            count += len(answer["clearances"])
            trees = {obstacle["name"]: mesh.trees_of(obstacle) for obstacle in answer["obstacles"]}
            for facet in FINENESS:
                start = time.perf_counter()
                solids = solids_of(answer, facet)
                built[facet] += time.perf_counter() - start
                theirs[facet] += timed(lambda a=answer, s=solids, t=trees: collide(a, s, t))[1]
    print(f"{count} clearances, {len(SEEDS)} vehicles")
    print(f"check, whole command in process   {count / ours:12,.0f} per second   {ours:7.2f} s")
    for facet in FINENESS:
        label = f"mesh distance, facets to {facet:g} mm"
        print(f"{label:33s} {count / theirs[facet]:12,.0f} per second   {theirs[facet]:7.2f} s")
        print(f"{'':33s}   with building the solids {count / (theirs[facet] + built[facet]):,.0f} per second")
        print(f"{'':33s}   ratio, check to mesh {theirs[facet] / ours:.2f}; with building ", end="")
        print(f"{(theirs[facet] + built[facet]) / ours:.2f}")
    with tempfile.TemporaryDirectory() as folder:
        rate = screen(Path(folder))
    for facet in FINENESS:
        print(f"ratio, screen to mesh at {facet:g} mm: {rate * theirs[facet] / count:,.0f}", end="")
        print(f"; with building {rate * (theirs[facet] + built[facet]) / count:,.0f}")


if __name__ == "__main__":
    main()
