"""Poses per second: the program against a general-purpose physics engine on the same work.

    python tests/bench/bench_poses.py [poses]

The work: a grid of travel and rack for each invented corner, hub and angles of every pose, on one core as far as the
libraries let it. The program is timed twice, as a whole command in a warm process (profile read, limits found, poses
solved, JSON printed) and as what one more pose costs (the slope between a small and a large grid). The physics engine
is timed as its fastest use allows: the model is built once, every pose starts from its neighbour's and takes Newton
steps on the engine's own constraints (`project`); and as it is used by the book: time runs until all is at rest
(`relax`). Results are compared before they are timed. No limit is asserted: seconds belong to the machine.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from conftest import run_json, write_profile
from reference.physics import Mechanism
from reference.points_solver import LAYOUTS, Layout

AGREE = 1e-4  # [mm]


def grid(layout: Layout, count: int) -> tuple[np.ndarray, np.ndarray]:
    """Travels and racks of about `count` poses."""
    side = max(2, round(count**0.5))
    reach = 15 if layout.kind == "five_link" else 40
    return np.round(np.linspace(-70, 80, side), 6), np.round(np.linspace(-reach, reach, side), 6)


def listed(values: np.ndarray) -> str:
    return ",".join(repr(float(value)) for value in values)


def program(path: str, travels: np.ndarray, racks: np.ndarray) -> tuple[float, np.ndarray]:
    """Seconds of the command, and where the hub is in every pose."""
    began = time.perf_counter()
    answer: dict[str, Any] = run_json(
        "poses", path, "--axle", "front", f"--travel={listed(travels)}", f"--rack={listed(racks)}"
    )
    spent = time.perf_counter() - began
    return spent, np.array([row["hub_face_mm"] for row in answer["poses"]])


def projected(mechanism: Mechanism, travels: np.ndarray, racks: np.ndarray) -> tuple[float, np.ndarray]:
    """As `program`, the engine's constraints solved from pose to neighbouring pose, to and fro."""
    hubs = np.empty((len(travels), len(racks), 3))
    mechanism.drive(float(travels[0]), float(racks[0]))
    began = time.perf_counter()
    for i, travel in enumerate(travels):
        order = range(len(racks)) if i % 2 == 0 else range(len(racks) - 1, -1, -1)
        for k in order:
            mechanism.ask(float(travel), float(racks[k]))
            mechanism.project()
            hubs[i, k] = mechanism.corner().hub
    return time.perf_counter() - began, hubs.reshape(-1, 3)


def relaxed(mechanism: Mechanism, travels: np.ndarray, racks: np.ndarray, most: int = 25) -> float:
    """Poses per second when time runs until the mechanism rests; a sample of the grid is enough."""
    mechanism.drive(float(travels[0]), float(racks[0]))
    asked = [(float(t), float(r)) for t in travels for r in racks][:most]
    began = time.perf_counter()
    for travel, rack in asked:
        mechanism.ask(travel, rack)
        while mechanism.relax(0.05) > 1e-9 or mechanism.residual() > 1e-8:
            pass
    return len(asked) / (time.perf_counter() - began)


def main(count: int) -> None:
    print(
        f"{'':26}{'poses':>7}{'program /s':>12}{'and /s more':>13}{'project /s':>12}{'relax /s':>10}{'ratio':>8}{'':>3}"
    )
    with tempfile.TemporaryDirectory() as folder:
        for name, layout in LAYOUTS.items():
            path = write_profile(Path(folder), layout.profile())
            travels, racks = grid(layout, count)
            few = grid(layout, 9)
            program(path, *few)  # imports are not the work
            spent, hubs = min((program(path, travels, racks) for _ in range(3)), key=lambda timed: timed[0])
            start = min(program(path, *few)[0] for _ in range(3))
            more = (len(hubs) - 9) / (spent - start) if spent > start else float("inf")
            mechanism = Mechanism(layout)
            engine, same = projected(mechanism, travels, racks)
            worst = np.abs(hubs - same).max()
            assert worst < AGREE, f"{name}: {worst} mm apart, nothing to compare"
            ours, theirs = len(hubs) / spent, len(hubs) / engine
            rest = relaxed(mechanism, travels, racks)
            print(f"{name:26}{len(hubs):7}{ours:12.0f}{more:13.0f}{theirs:12.0f}{rest:10.0f}{ours / theirs:8.2f} x")
    print("ratio: whole command against the engine's projection; largest difference of the hubs below 1e-4 mm")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 400)
