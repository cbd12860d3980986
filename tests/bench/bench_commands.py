"""Times whole commands, cold, as a user waits for them, against the budgets of the design (section 6).

    python tests/bench/bench_commands.py [--runs 5]

Prints a table; nothing fails here, because a time depends on the machine. The first run of each command is not
counted, so that files are in the disk cache; every run is a process of its own.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
LIST = ROOT / "profiles" / "wagon_wheels.csv"


def commands(folder: Path) -> list[tuple[str, list[str], float | None]]:
    """What to time, as (name, arguments, budget [s] or None where the design sets none)."""
    picture = str(folder / "sheet.png")
    return [
        ("--help", ["--help"], 0.15),
        ("tire, one code", ["tire", "305/45R20 112W XL"], None),
        ("check wagon, one axle", ["check", "wagon", "--axle", "front"], 1.0),
        ("check wagon, both axles", ["check", "wagon"], 1.0),
        ("check pickup, both axles", ["check", "pickup"], 1.0),
        (
            "compare wagon, one picture",
            ["compare", "wagon", "as_bought", "wanted", "--axle", "front", "--out", picture],
            3.0,
        ),
        (
            f"screen wagon, {sum(1 for _ in LIST.open()) - 1} rows, front",
            ["screen", "wagon", str(LIST), "--axle", "front"],
            None,
        ),
    ]


def seconds(arguments: list[str]) -> float:
    """Wall time of one process [s]."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    start = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-m", "fitment", *arguments], capture_output=True, check=False, cwd=ROOT, env=environment
    )
    took = time.perf_counter() - start
    if done.returncode not in (0, 1):
        raise SystemExit(done.stderr.decode())
    return took


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=5, help="counted runs of each command")
    runs = parser.parse_args().runs
    print(f"{'command':<34} {'median':>8} {'least':>8} {'most':>8} {'budget':>8}")
    with tempfile.TemporaryDirectory() as folder:
        for name, arguments, budget in commands(Path(folder)):
            seconds(arguments)
            times = [seconds(arguments) for _ in range(runs)]
            middle = statistics.median(times)
            limit = "-" if budget is None else f"{budget:.2f} s"
            mark = "" if budget is None or middle <= budget else "  over"
            print(f"{name:<34} {middle:>6.2f} s {min(times):>6.2f} s {max(times):>6.2f} s {limit:>8}{mark}", flush=True)


if __name__ == "__main__":
    main()
