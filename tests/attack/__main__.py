"""`python -m tests.attack --minutes N --seed S`: attack for so long, print the counts; exit code 1 for any fault.

--replay FILE... : failing inputs that were kept, again
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import tempfile
import time
from pathlib import Path

from tests.attack import injected, odd_geometry
from tests.attack.injected import Injection
from tests.attack.runner import LIMIT, Counts, Worker
from tests.attack.trial import judged, kept, run_trial

TURN = 30.0  # [s] of mutants and odd geometry, then of faults
FAULTS = 0.35  # share of the time for faults of the machine
KINDS = ("traceback", "hang", "files harmed", "litter", "workers left", "silent OK", "wrong answer", "bad message")


def main() -> int:
    """Exit code 0 where nothing was found."""
    parser = argparse.ArgumentParser(prog="python -m tests.attack", description=__doc__)
    parser.add_argument("--minutes", type=float, default=5.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--keep", type=Path, default=Path("tests/attack/failing"), help="folder for failing inputs")
    parser.add_argument("--replay", type=Path, nargs="+")
    asked = parser.parse_args()
    if asked.replay:
        return replay(asked.replay)
    return attack(asked.minutes * 60, asked.seed, asked.keep)


def attack(seconds: float, seed: int, where: Path) -> int:
    """Mutants, odd geometry and faults by turns."""
    begun, total, since = time.monotonic(), Counts(), time.time()
    with tempfile.TemporaryDirectory(prefix="attack") as scratch:
        os.environ.pop("FITMENT_CACHE", None)  # what is kept between runs is attacked too, but not the user's
        os.environ["XDG_CACHE_HOME"] = str(Path(scratch) / "caches")
        worker, injection = Worker(seed, where, Path(scratch)), Injection(seed, where)
        told, injecting = begun, 0.0
        try:
            while (gone := time.monotonic() - begun) < seconds:
                turn = min(TURN, seconds - gone)
                start = time.monotonic()
                if total.tried and injecting < FAULTS * gone:
                    total.add(injection.inject_for(turn))
                    injecting += time.monotonic() - start
                else:
                    total.add(worker.tried_for(turn))
                if time.monotonic() - told > 300:
                    told = time.monotonic()
                    print(f"... {(told - begun) / 60:.0f} min: {_line(total)}", flush=True)
        except KeyboardInterrupt:
            print("Stopped.")
        finally:
            worker.end()
    print(_summary(total, seed, (time.monotonic() - begun) / 60, injection.skipped, where))
    for path in sorted(path for path in where.glob("*.json") if path.stat().st_mtime > since - 1):
        print(f"{path.name}: {json.dumps(json.loads(path.read_text()))}")  # where nothing but this text is kept
    return 1 if total.faults else 0


def _line(total: Counts) -> str:
    tried = sum(count for kind, count in total.tried.items() if not kind.startswith("fault "))
    return f"{tried} inputs, {sum(total.tried.values()) - tried} faults injected, " + ", ".join(
        f"{kind} {total.faults[kind]}" for kind in KINDS
    )


def _summary(total: Counts, seed: int, minutes: float, skipped: set[str], where: Path) -> str:
    inputs = {kind: count for kind, count in total.tried.items() if not kind.startswith("fault ")}
    faults = {kind.removeprefix("fault "): count for kind, count in total.tried.items() if kind.startswith("fault ")}
    lines = [
        f"attack, seed {seed}, {minutes:.0f} min; {total.lines} lines of the program reached",
        f"inputs tried     {sum(inputs.values()):8}  " + ", ".join(f"{k} {n}" for k, n in sorted(inputs.items())),
        f"odd vehicles answered {total.answered}, the others refused",
        f"faults injected  {sum(faults.values()):8}  " + ", ".join(f"{k} {n}" for k, n in sorted(faults.items())),
        *(f"{kind:16} {total.faults[kind]:8}" for kind in KINDS),
    ]
    if skipped:
        lines.append("not permitted on this machine: " + "; ".join(sorted(skipped)))
    lines += [f"  {count:5} x {mark}" for mark, count in total.marks.most_common()]
    if total.faults:
        lines.append(f"kept in {where}; again: python -m tests.attack --replay FILE")
    return "\n".join(lines)


def replay(paths: list[Path]) -> int:
    """Each kept input again, with what is wrong with its answer now."""
    wrong = 0
    for path in paths:
        if path.name.startswith("injected-"):
            faults = injected.replayed(path)
        else:
            trial = kept(path)
            odd = trial.kind == "geometry"
            faults = odd_geometry.again(trial, LIMIT) if odd else judged(trial, run_trial(trial, LIMIT))
        wrong += bool(faults)
        print(f"{path.name}: " + ("; ".join(f"{each.kind}, {each.mark}\n{each.detail}" for each in faults) or "sound"))
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
