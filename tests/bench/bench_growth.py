"""How cost grows with the number of obstacles, points, readings, poses and rows, with the exponent of its growth.

    python tests/bench/bench_growth.py [--against COMMIT] [--only WORD] [--limit 300] [--times 1]

Each line is one command on one drawn vehicle, of which one thing is made four times as many, twice. Printed is
processor time [s] and the exponent of what was added: 1 is linear, and `-` means that too little was added to tell.
A command that takes longer than --limit seconds is stopped: `>`. Nothing fails here.
"""

from __future__ import annotations

import argparse
import csv
import json
import math
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from drawn_vehicles import Rng, catalogue, distinct, fine_edge, fine_panel, narrow, parts, short, suspended, vehicle
from measured import ROOT, Run, checked_out, run, shapely_import
from reference import mesh

Axle = dict[str, Any]
Made = Callable[[Rng, mesh.Vehicle, int], None]  # changes the axle of a vehicle that has four parts


def many(draw: Callable[[Rng, mesh.Vehicle, int], list[Axle]]) -> Made:
    """Adds parts to the axle."""

    def made(rng: Rng, car: mesh.Vehicle, count: int) -> None:
        car.axle["obstacles"] += draw(rng, car, count)

    return made


def nothing(_: Rng, __: mesh.Vehicle, ___: int) -> None:
    """The list alone grows."""


def limits(_: Rng, car: mesh.Vehicle, count: int) -> None:
    """A steer limit of so many points, smooth."""
    travel = car.axle["travel"]
    at = np.linspace(travel["droop"], travel["bump"], count)
    share = 0.8 + 0.2 * np.cos(at / 40)
    car.axle["steer_limit"] = [[round(float(t), 2), round(float(s), 3)] for t, s in zip(at, share, strict=True)]


def rides(_: Rng, car: mesh.Vehicle, count: int) -> None:
    """So many ride heights, each a level of the grid of poses."""
    travel = car.axle["travel"]
    at = np.linspace(travel["droop"] + 3, travel["bump"] - 3, count)
    car.axle["ride_heights"] |= {f"height {number}": round(float(t), 1) for number, t in enumerate(at)}


def balls(_: Rng, car: mesh.Vehicle, count: int) -> list[Axle]:
    """So many balls inboard of the tire, all round its sidewall."""
    at = [(round(0.85 * car.radius * math.cos(k), 1), round(0.85 * car.radius * math.sin(k), 1)) for k in range(count)]
    y = round(car.centre - car.half, 1)
    return [
        {
            "name": f"ball {k}",
            "shape": "ball",
            "fixed_to": "body",
            "radius": 5,
            "tolerance": 2,
            "at": [x, y - 40 - k % 7, z],
        }
        for k, (x, z) in enumerate(at)
    ]


def readings(rng: Rng, car: mesh.Vehicle, count: int) -> None:
    """Tolerances on so many readings of the parts, each a ball that a tape between it and the tire places."""
    read = {"to": "tire", "gap": {"value": 60, "tolerance": 2}}
    car.axle["obstacles"] += [part | {"measured_gap": read} for part in balls(rng, car, count)]


@dataclass(frozen=True)
class Series:
    """A command, what there is more of, and how many of it."""

    command: str
    counts: tuple[int, int, int]
    make: Made
    listed: Callable[[int, float], list[list[str]]] | None = None  # rows of `screen`, by count and diameter [mm]


CHECK, SCREEN = (6, 24, 96), (1_000, 4_000, 16_000)
SERIES = {
    "obstacles of every kind": Series("check", CHECK, many(lambda r, c, n: parts(r, c, n, by=30))),
    "obstacles that overlap": Series("check", CHECK, many(lambda r, c, n: parts(r, c, n, by=-60))),
    "obstacles just off the tire": Series("check", CHECK, many(lambda r, c, n: [narrow(r, c, k) for k in range(n)])),
    "balls": Series("check", CHECK, many(balls)),
    "gaps read by tape": Series("check", CHECK, readings),
    "points of an edge": Series("check", (100, 400, 1600), many(lambda r, c, n: [fine_edge(r, c, n)])),
    "points of a panel, clear": Series(
        "check", (400, 1600, 6400), many(lambda r, c, n: [fine_panel(r, c, round(n**0.5), out=250)])),
    "points of a panel, met": Series(
        "check", (400, 1600, 6400), many(lambda r, c, n: [fine_panel(r, c, round(n**0.5))])),
    "points of a solid panel": Series(
        "check", (400, 1600, 6400), many(lambda r, c, n: [fine_panel(r, c, round(n**0.5), solid=True)])),
    "points of a steer limit": Series("check", (10, 40, 160), limits),
    "ride heights": Series("check", (4, 16, 64), rides),
    "rows of a catalogue": Series("screen", SCREEN, nothing, catalogue),
    "rows, all unlike": Series("screen", SCREEN, nothing, distinct),
    "obstacles, 30 rows": Series(
        "screen", CHECK, many(lambda r, c, n: parts(r, c, n, by=30)), lambda _, diameter: short(30, diameter)),
}  # fmt: skip


def command(series: Series, count: int, folder: Path) -> list[str]:
    """Writes the vehicle (wishbones in front, tape behind) and the list; what to run."""
    rng = np.random.default_rng(2028)
    front, rear = suspended(rng, "wishbones", steered=True), suspended(rng, "tape", steered=False)
    front.axle["obstacles"] = parts(rng, front, 4, by=30)
    front.axle.pop("steer_limit", None)
    series.make(rng, front, count)
    for number, part in enumerate(front.axle["obstacles"]):
        part["name"] += f" of {number}"
    path = folder / "vehicle.yaml"
    path.write_text(json.dumps(vehicle(front, rear, "Growth")), encoding="utf-8")
    arguments = ["-m", "fitment", series.command, str(path)]
    if series.listed:
        listed = folder / "list.csv"
        with listed.open("w", newline="", encoding="utf-8") as stream:
            csv.writer(stream).writerows(series.listed(count, 2 * front.radius))
        arguments += [str(listed), "--out", str(folder / "answer.csv")]
    return [*arguments, "--axle", "front"]


def exponent(counts: tuple[int, ...], seconds: list[float], unit: float) -> str:
    """Of the cost that was added, between the last two steps; of equal factors."""
    first, second, third = seconds
    if third - second < unit or second - first < unit / 10:
        return "-"
    return f"{math.log((third - second) / (second - first)) / math.log(counts[2] / counts[1]):.2f}"


def told(done: Run) -> str:
    if done.ended:
        return f"{done.processor:.1f}"
    return f">{done.processor:.0f}" if done.code is None else f"({done.code}: {done.said[:60]})"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--against", metavar="COMMIT", help="measure another commit beside this tree")
    parser.add_argument("--only", metavar="WORD", default="", help="lines whose name has the word")
    parser.add_argument("--limit", type=float, default=300.0, help="[s] for a command")
    parser.add_argument("--times", type=int, default=1, help="how often each is run; the least counts")
    asked = parser.parse_args()
    with checked_out(asked.against) as other, tempfile.TemporaryDirectory() as name:
        unit, _ = shapely_import(Path(name))
        print(f"import shapely: {unit:.3f} s of the processor; seconds of the processor for each command")
        print(f"{'':<30}{'command':<9}{'how many':>22}{'seconds':>30}{'exponent':>10}", flush=True)
        for label, series in SERIES.items():
            if asked.only not in label:
                continue
            for root in [ROOT, *([other] if other else [])]:
                best = []
                for count in series.counts:
                    with tempfile.TemporaryDirectory(dir=name) as folder:
                        arguments = command(series, count, Path(folder))
                        runs = [run(arguments, root, Path(folder), asked.limit) for _ in range(asked.times)]
                    best.append(min(runs, key=lambda done: done.processor))
                grown = exponent(series.counts, [done.processor for done in best], unit)
                grown = grown if all(done.ended for done in best) else "-"
                line = f"{label if root == ROOT else f'  {asked.against}':<30}{series.command:<9}"
                line += f"{', '.join(f'{count:,}' for count in series.counts):>22}"
                print(f"{line}{', '.join(told(done) for done in best):>30}{grown:>10}", flush=True)


if __name__ == "__main__":
    main()
