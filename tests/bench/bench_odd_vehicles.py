"""How one `check` grows with what it is given: points of a panel, balls, points of edges and of `steer_limit`, rods.

    python tests/bench/bench_odd_vehicles.py [--only WORD] [--against FOLDER] [--runs 1]

Prints the processor time (user) of each whole command, cold, and what it takes as a multiple of importing shapely;
beside another checkout of the program where one is given, in turn. Nothing fails here, because a time depends on the
machine. Every vehicle is made up: the bundled wagon's front axle with other parts.
"""

from __future__ import annotations

import argparse
import copy
import math
import os
import random
import resource
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

import yaml

ROOT = Path(__file__).resolve().parents[2]
Part = dict[str, Any]


def wagon() -> dict[str, Any]:
    """The bundled wagon, its front axle alone, with nothing near the wheel and no reading that has a tolerance."""
    whole = yaml.safe_load((ROOT / "profiles" / "wagon.yaml").read_text())
    front = whole["axles"]["front"]
    front.pop("low_points"), front.pop("brake")
    front["obstacles"] = []
    front["hub_face_width"], front["suspension"]["camber"] = 1572, -0.5
    builds = {name: {"front": whole["builds"][name]["front"]} for name in ("as_bought", "wanted")}
    return {"format": 1, "name": "made up", "axles": {"front": front}, "builds": builds, "baseline": "as_bought"}


def panel(n: int, *, y: float, solid: bool = False) -> Part:
    """A wavy sheet of n x n points beside the wheel, y from the centre plane [mm]; the wheel is at 640 to 910."""
    at = [i / (n - 1) for i in range(n)]
    rows = [[[-450 + 900 * u, y + 8 * math.sin(9 * u) * math.cos(7 * v), -150 + 600 * v] for v in at] for u in at]
    return {"name": "panel", "shape": "panel", "rows": rows, **({"solid": "behind"} if solid else {})}


def house(n: int, *, radius: float, solid: bool = False) -> Part:
    """A wheelhouse of n x n points over the wheel [mm]; the wanted tire has a radius of 364."""
    rows = []
    for i in range(n):
        angle = math.radians(20 + 140 * i / (n - 1))
        across = [j / (n - 1) for j in range(n)]
        rows.append(
            [[(radius + 12 * v) * math.cos(angle), 560 + 300 * v, (radius + 12 * v) * math.sin(angle)] for v in across]
        )
    return {"name": "panel", "shape": "panel", "rows": rows, **({"solid": "behind"} if solid else {})}


def balls(n: int, *, near: float) -> list[Part]:
    """Balls strewn round the tire, from so far off the wheel on [mm]."""
    draw = random.Random(n)
    parts = []
    for i in range(n):
        angle, out = draw.uniform(0, math.pi), draw.uniform(0, 80)
        if draw.random() < 0.5:
            at = [(400 + near + out) * math.cos(angle), draw.uniform(600, 850), (440 + near + out) * math.sin(angle)]
        else:
            at = [draw.uniform(80, 330) * math.cos(angle), 560 - near - out, draw.uniform(80, 330) * math.sin(angle)]
        parts.append({"name": f"ball {i}", "shape": "ball", "radius": 6, "at": [round(c, 1) for c in at]})
    return parts


def edge(n: int, name: str = "edge", *, shift: float = 0.0, smooth: bool = False) -> Part:
    """A lip of n points over the wheel."""
    angles = [math.radians(10 + 160 * i / (n - 1)) for i in range(n)]
    points = [[430 * math.cos(a), 880 + shift + 3 * math.sin(40 * a), 430 * math.sin(a)] for a in angles]
    return {"name": name, "shape": "edge", "radius": 3, "points": points, **({"smooth": True} if smooth else {})}


def rods(n: int) -> list[Part]:
    """Rods strewn inboard of the wheel."""
    draw = random.Random(n)
    ends = [
        [[draw.uniform(-300, 300), draw.uniform(350, 560), draw.uniform(-200, 350)] for _ in "ab"] for _ in range(n)
    ]
    return [
        {"name": f"rod {i}", "shape": "rod", "radius": 12, "from": {"at": a}, "to": {"at": b}}
        for i, (a, b) in enumerate(ends)
    ]


def limit(n: int) -> list[list[float]]:
    """A `steer_limit` of n points that goes up and down a little."""
    return [[-70 + 150 * i / (n - 1), 0.9 + 0.05 * math.sin(i)] for i in range(n)]


def vehicles() -> dict[str, dict[str, Any]]:
    """What is checked, by name."""
    made: dict[str, dict[str, Any]] = {}

    def add(name: str, parts: list[Part], *, read: bool = False, **keys: Any) -> None:
        whole = copy.deepcopy(wagon())
        front = whole["axles"]["front"]
        front["obstacles"] = parts
        front.update(keys)
        if read:
            front["hub_face_width"] = {"value": 1572, "tolerance": 2}
            front["suspension"].update(
                camber={"value": -0.5, "tolerance": 0.1}, toe_in={"value": 0.05, "tolerance": 0.05}
            )
            for ball in parts:
                ball["tolerance"] = 3
        made[name] = whole

    add("nothing near", [])
    for n in (2, 5, 10, 50, 100):
        for solid in (False, True):
            kind = "solid" if solid else "plain"
            add(f"panel {n}x{n} {kind}, clear", [panel(n, y=400, solid=solid)])
            add(f"panel {n}x{n} {kind}, through the wheel", [panel(n, y=700, solid=solid)])
            add(f"panel {n}x{n} {kind}, near over it", [house(n, radius=455, solid=solid)])
            add(f"panel {n}x{n} {kind}, rubs over it", [house(n, radius=420, solid=solid)])
    add("panel 100x100 plain, readings", [house(100, radius=455)], read=True)
    add("panel 100x100 solid, readings", [house(100, radius=455, solid=True)], read=True)
    for n in (25, 100, 400):
        for near in (0, 40):
            where = "near" if near else "among the wheel's poses"
            add(f"{n} balls {where}", balls(n, near=near))
            add(f"{n} balls {where}, readings", balls(n, near=near), read=True)
    for n in (10, 30, 100, 300):
        add(f"steer_limit of {n} points", [edge(9), panel(5, y=500)], steer_limit=limit(n))
    for n in (50, 500):
        add(f"edge of {n} points", [edge(n)])
        add(f"smooth edge of {n} points", [edge(n, smooth=True)])
        add(f"10 edges of {n} points, readings", [edge(n, f"edge {i}", shift=5 * i) for i in range(10)], read=True)
    for n in (10, 40, 160):
        add(f"{n} rods", rods(n))
        add(f"{n} rods, readings", rods(n), read=True)
    return made


def seconds(command: list[str], folder: Path) -> float:
    """Processor time (user) of one process [s]."""
    environment = {**os.environ, "PYTHONPATH": str(folder), "FITMENT_NO_CACHE": "1"}
    before = resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime
    done = subprocess.run([sys.executable, *command], capture_output=True, check=False, cwd=folder, env=environment)
    if done.returncode not in (0, 1):
        raise SystemExit(done.stderr.decode())
    return resource.getrusage(resource.RUSAGE_CHILDREN).ru_utime - before


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--only", default="", help="vehicles whose name holds this word")
    parser.add_argument("--against", type=Path, help="another checkout, measured in turn")
    parser.add_argument("--runs", type=int, default=1, help="of which the least counts")
    parser.add_argument("--keep", type=Path, help="a folder in which the profiles are left")
    asked = parser.parse_args()
    folders = [ROOT, *([asked.against.resolve()] if asked.against else [])]
    unit = min(seconds(["-c", "import shapely"], ROOT) for _ in range(3))
    print(f"importing shapely: {unit:.2f} s")
    with tempfile.TemporaryDirectory() as made:
        at = asked.keep or Path(made)
        for name, vehicle in vehicles().items():
            if asked.only not in name:
                continue
            file = at / f"{name.replace(' ', '_').replace(',', '')}.yaml"
            file.write_text(yaml.safe_dump(vehicle))
            command = ["-m", "fitment", "check", str(file), "--build", "wanted"]
            times = [min(seconds(command, folder) for _ in range(asked.runs)) for folder in folders]
            shown = "".join(f"{t:>9.2f} s {t / unit:>6.1f} x" for t in times)
            print(f"{name:<44}{shown}", flush=True)


if __name__ == "__main__":
    main()
