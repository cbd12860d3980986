"""Large scans in processor seconds and memory: a check beside the mesh library's same work, or every command.

    python tests/bench/bench_scan.py [triangles, 500000] [profile, wagon] [gap, 60] [list]
    python tests/bench/bench_scan.py commands [triangles, 5000 80000 500000] ...

The first prints processor time [s] of the first check (which prepares the scan) and of the second, each in a process of
its own; the peak of memory [MB]; how many distances of a section to the scan it worked out, and what one costs; what
python-fcl takes to build its tree and for one distance of the revolved tire to the same triangles in poses of the
check; the largest difference. With `list` also the sweep behind lists and windows. The second prints a table of every
command on the demo's well as finely scanned, each a process of its own that is stopped after LIMIT, and then the first
for each size. Asserts nothing.
"""

from __future__ import annotations

import importlib.util
import os
import resource
import shlex
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
LIMIT = 120  # [s] of processor time of a command
LIST = """wheel,tire
17x8 ET30 5x114.3 CB70.6,235/45R17
17x8 ET40 5x114.3 CB70.6,225/45R17
17x7.5 ET20 5x114.3 CB70.6,215/50R17
18x8 ET35 5x114.3 CB70.6,225/40R18
"""
COMMANDS = {
    "check, first": "check {0} --build wide", "check": "check {0} --build wide",
    "check --out .png": "check {0} --build wide --out check.png", "--how-sure": "check {0} --build wide --how-sure",
    "next": "next {0} --build wide", "show --out .png": "show {0} --out show.png",
    "screen, first": "screen {0} list.csv", "screen": "screen {0} list.csv", "window": "window {0} --build wide",
    "--changes": "check {0} --build wide --changes", "--view cut": "check {0} --build wide --view cut --out cut.png",
    "envelope": "envelope {0} --build wide --out swept.stl",
    "template": "template {0} --build wide --part 'well: inner wall' --out template.pdf",
    "report": "report {0} --build wide --out page.html",
}  # fmt: skip


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


# ---------------------------------------------------------------- every command


def demo(count: int, folder: Path) -> None:
    """The demo's profile, its well scanned in about so many triangles."""
    spec = importlib.util.spec_from_file_location("scan_demo", ROOT / "gallery" / "scan_demo.py")
    assert spec is not None
    assert spec.loader is not None
    made: Any = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    well = made.swept
    finer = max(np.sqrt(count / 16_000), 0.3)  # along both ways of the well; it has so many

    def swept(lines: Any, angles: Any) -> Any:
        if lines.shape[1] == len(made.TIRE):
            return well(lines, angles)
        across, along = (np.linspace(0, n - 1, int(n * finer)) for n in lines.shape[1::-1])
        turn = np.interp(along, np.arange(len(angles)), angles)
        every = np.stack([made.section(angle) for angle in turn])
        number = np.arange(every.shape[1])
        placed = [[np.interp(across, number, column) for column in line.T] for line in every]
        return well(np.swapaxes(np.array(placed), 1, 2), turn)

    made.swept, made.HOLES = swept, []
    places, faces = made.body()
    places = places + np.random.default_rng(17).normal(0.0, made.NOISE, places.shape)
    (folder / "scanned_well.ply").write_bytes(made.ply(made.phone(places), faces))
    (folder / "scanned.yaml").write_text((ROOT / "profiles" / "scanned.yaml").read_text(encoding="utf-8"))
    (folder / "list.csv").write_text(LIST)


def every_command(counts: list[str]) -> None:
    """A table of the processor time and the memory of every command by size of the scan."""
    taken: dict[str, list[str]] = {name: [] for name in COMMANDS}
    for count in counts:
        with tempfile.TemporaryDirectory() as name:
            folder = Path(name)
            demo(int(count), folder)
            environment = {**os.environ, "FITMENT_CACHE": str(folder / "cache")}
            for command, words in COMMANDS.items():
                run = [sys.executable, __file__, "limited", *shlex.split(words.format("scanned.yaml"))]
                answer = subprocess.run(run, cwd=folder, env=environment, capture_output=True, text=True, check=False)
                told = answer.stderr.rsplit("measured: ", 1)[-1].strip() if "measured: " in answer.stderr else "failed"
                taken[command].append(told)
                print(f"{command:20} {count:>8} {told}", flush=True)
    print("\n" + f"{'':20}" + "".join(f"{count:>24}" for count in counts))
    for command, found in taken.items():
        print(f"{command:20}" + "".join(f"{told:>24}" for told in found))
    for count in counts:
        subprocess.run([sys.executable, __file__, count], check=True)


def limited(words: list[str]) -> None:
    """A command with its workers, stopped after LIMIT; its time and the peak of its memory go to standard error."""
    run = [sys.executable, "-m", "fitment", *words]
    limit = (LIMIT, LIMIT)
    code = subprocess.run(
        run, check=False, preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_CPU, limit)
    ).returncode
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    end = f"{used.ru_utime:.1f} s {used.ru_maxrss / 1024:.0f} MB" if code in (0, 1) else f"ended with {code}"
    print(f"measured: {end}", file=sys.stderr)


def main() -> None:
    """Each check in a process of its own, on a cache of its own."""
    words = sys.argv[1:]
    if words[:1] == ["limited"]:
        limited(words[1:])
        return
    if words[:1] == ["commands"]:
        every_command(words[1:] or ["5000", "80000", "500000"])
        return
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
