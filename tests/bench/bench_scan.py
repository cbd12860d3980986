"""A check of a large scan in processor seconds, first and with what was kept, beside the mesh library's same work.

    python tests/bench/bench_scan.py [triangles, 500000] [profile, wagon] [gap, 60] [list]

Printed: processor time [s] of the first check (which prepares the scan) and of the second, each in a process of its
own; the peak of memory [MB]; how many distances of a section to the scan it worked out, and what one costs; what
python-fcl takes to build its tree and for one distance of the revolved tire to the same triangles in poses of the
check; the largest difference. With `list` also the sweep behind lists and windows. Asserts nothing.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]
ASKED = 6  # poses in which the mesh library is asked


def made(count: int, name: str, gap: float) -> tuple[Any, Any]:
    """The front axle with the scan alone, and its setup."""
    import scanned

    from fitment import profile
    from fitment.checks.case import ready
    from fitment.clearance.worst_case import setup_sections

    own = ready(profile.load_profile(name), "front")
    setup = profile.setup(own.profile, "front")
    low, _, _, radius = setup_sections(setup)["tire"].bounds
    hub = np.add(own.axle.hub_face_at, (0.0, 0.0, 60.0))
    scan = scanned.well(count, hub, radius + gap, -low + gap + 140, 1.0)
    return scanned.with_parts(own, scanned.scan_part(scan, 3.0), alone=True), setup


def checked(count: int, name: str, gap: float, *, asked: bool, listed: bool) -> None:
    """One check in this process."""
    from fitment.checks.case import run, setup_variants
    from fitment.checks.full_case import in_full
    from fitment.clearance import section_distance

    rows = [0]
    search = section_distance.nearest_faces

    def counted(trace: Any, *rest: Any) -> Any:
        rows[0] += len(trace)
        return search(trace, *rest)

    section_distance.nearest_faces = counted  # type: ignore[assignment]
    own, setup = made(count, name, gap)
    start = time.process_time()
    fit = in_full(run(own, setup, others=setup_variants(own))).fit
    taken = time.process_time() - start
    memory = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"check {taken:6.2f} s  {memory:5.0f} MB  {rows[0]} distances, {1e3 * taken / rows[0]:.2f} ms each")
    if asked:
        by_library(fit, taken / rows[0])
    if listed:
        from fitment.screening.keep_out import keep_out_at

        start = time.process_time()
        keep_out_at(own, setup.ride)
        print(f"sweep {time.process_time() - start:6.2f} s")


def by_library(fit: Any, ours: float) -> None:
    """The same distances of the tire by the mesh library, in some poses of the check."""
    import fcl
    from reference import mesh

    scan = fit.obstacles[0].mesh
    entries = [entry for entry in fit.clearances if entry.part == "tire" and entry.clearance > 0]
    entries = [entries[k] for k in np.linspace(0, len(entries) - 1, ASKED).astype(int)]
    start = time.process_time()
    tree = mesh.tree(scan.vertices, scan.faces)
    built = time.process_time() - start
    solid = mesh.tree(*mesh.revolve(fit.tire.exterior.coords))
    start, off = time.process_time(), []
    for entry in entries:
        there = fcl.Transform(fit.poses.rotation[entry.pose], fit.poses.origin[entry.pose])
        pair = fcl.CollisionObject(solid, there), fcl.CollisionObject(tree, fcl.Transform())
        off.append(fcl.distance(*pair, fcl.DistanceRequest(), fcl.DistanceResult()) - entry.clearance)
    each = (time.process_time() - start) / len(entries)
    print(f"python-fcl: tree {built:.1f} s, a distance {1e3 * each:.1f} ms, {each / ours:.0f} times ours, "
          f"differs by {np.abs(off).max():.3f} mm at most")  # fmt: skip


def main() -> None:
    """Each check in a process of its own, on a cache of its own."""
    words = sys.argv[1:]
    if words[:1] == ["one"]:
        count, name, gap = words[1:4]
        checked(int(count), name, float(gap), asked="asked" in words, listed="list" in words)
        return
    count, name, gap = [*words[:3], *("500000", "wagon", "60")[len(words[:3]) :]]
    with tempfile.TemporaryDirectory() as folder:
        environment = {**os.environ, "FITMENT_CACHE": folder}
        for more in ([], ["asked", *words[3:]]):
            command = [sys.executable, __file__, "one", count, name, gap, *more]
            subprocess.run(command, check=True, env=environment)


if __name__ == "__main__":
    main()
