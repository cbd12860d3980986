"""How often the full verdict is what a first look called likely: invented vehicles, in full and at first sight.

Each vehicle is drawn from the bands that a first look assumes, and has a lip, a strut's tube, a frame rail and a sway
bar. Measured in full, every value is known and the parts have their own shapes; at first sight only the readings of the
page are typed, in mm, rounded as a tape gives them. Prints a line a vehicle and the counts; asserts nothing.

    python tests/bench/bench_first_looks.py [how many, 20] [seed, 1]
"""

from __future__ import annotations

import json
import sys
from typing import Any

import numpy as np

from fitment import api
from fitment.errors import FitmentError
from fitment.measuring.interview import Session
from fitment.parts.tables import typical_values
from fitment.profile import Profile, loads_profile

AXIS = "suspension.steering_axis."
TIRES = ("215/45R17 91W", "225/45R17 94W", "205/50R17 93W")


def drawn(rng: np.random.Generator) -> dict[str, Any]:
    """A vehicle: every value of it, and what its owner wants."""
    true = {
        key: row.value + row.tolerance * float(np.clip(rng.normal(0, 0.5), -1, 1))
        for key, row in typical_values().items()
    }
    stop = rng.uniform(25, 60)
    true["stop"], true["travel.bump"] = stop, stop * rng.uniform(1, 2) + rng.uniform(5, 35)
    true |= {"up": rng.uniform(375, 420), "before": rng.uniform(0, 12), "behind": rng.uniform(0, 12)}
    true |= {
        "out": rng.uniform(0, 22),
        "tube": rng.uniform(12, 35),
        "rail": rng.uniform(20, 60),
        "bar": rng.uniform(20, 60),
    }
    wheel = f"17x{rng.choice(['7', '7.5', '8'])} ET{rng.integers(30, 48)} 5x114.3"
    return true | {"wheel": wheel, "tire": str(rng.choice(TIRES)), "lower": float(rng.choice([0, 10, 20, 30]))}


def in_full(true: dict[str, Any]) -> Profile:
    """The vehicle with nothing left open: the lip by seven points, the others by their own shapes."""

    def known(value: float) -> dict[str, float]:
        return {"value": round(value, 2), "tolerance": 0.5}

    angles = np.array([15, 45, 68, 90, 112, 135, 165])
    radii = true["up"] + np.interp(
        angles, [15, 45, 90, 135, 165], [1.9 * true["before"], true["before"], 0, true["behind"], 1.9 * true["behind"]]
    )
    lip = [{"clock": int(a), "radius": round(float(r), 1), "out": 0} for a, r in zip(angles, radii, strict=True)]
    parts = [
        {"name": "fender lip", "shape": "edge", "smooth": True, "cover": True, "points": lip, "tolerance": 1,
         "measured_gap": {"to": "rim_plane", "gap": round(true["out"], 1)}},
        {"name": "strut tube", "shape": "rod", "fixed_to": "knuckle", "radius": 26, "tolerance": 1,
         "from": [0, 600, 200], "to": [0, 580, 420], "measured_gap": {"to": "tire", "gap": round(true["tube"], 1)}},
        {"name": "frame rail", "shape": "edge", "radius": 20, "tolerance": 1,
         "points": [[-500, 480, 20], [-120, 500, 20]],
         "measured_gap": {"to": "tire", "gap": round(true["rail"], 1), "at": {"lock": "left"}}},
        {"name": "sway bar", "shape": "edge", "radius": 12, "tolerance": 1,
         "points": [[150, 500, -40], [420, 480, -40]],
         "measured_gap": {"to": "tire", "gap": round(true["bar"], 1), "at": {"lock": "right"}}},
    ]  # fmt: skip
    front = {
        "hub_face_width": 1510, "hub_height": 302,
        "suspension": {
            "kind": "tape", "camber": known(true["suspension.camber"]), "toe_in": known(true["suspension.toe_in"]),
            "camber_per_100mm": round(true["suspension.camber_per_100mm"], 2),
            "track_per_100mm": round(true["suspension.track_per_100mm"], 1),
            "steering_axis": {
                key: round(true[AXIS + key], 1) for key in ("kingpin_inclination", "caster", "offset", "ahead")
            },
        },
        "steering": {key: round(true[f"steering.{key}"], 1) for key in ("lock_left", "lock_right")},
        "travel": {"droop": round(true["travel.droop"]), "bump": round(true["travel.bump"])},
        "obstacles": parts,
    }  # fmt: skip
    now = {"front": {"wheel": "15x7 ET35 5x114.3", "tire": "195/65R15 91H"}}
    wanted = {"front": {"wheel": true["wheel"], "tire": true["tire"], "ride": true["lower"]}}
    whole = {"format": 1, "name": "invented", "axles": {"front": front}, "builds": {"now": now, "wanted": wanted},
             "baseline": "now"}  # fmt: skip
    return loads_profile(json.dumps(whole), "full.yaml")


def at_first_sight(true: dict[str, Any]) -> Profile:
    """What the readings of the page come to."""
    apart = 634.5 * np.sin(np.radians(true["steering.lock_left"]))  # 15 x 25.4 + 2 x 0.65 x 195 = 634.5 mm across
    typed = {
        "1.1": "front", "1.2": "15x7 ET35 5x114.3", "1.3": "195/65R15 91H", "2": "302",
        "3": f"{true['suspension.camber']:.1f}", "4": f"{true['up']:.0f}", "5": f"{true['up'] + true['before']:.0f}",
        "6": f"{true['up'] + true['behind']:.0f}", "7": f"{true['out']:.0f}", "8.1": "strut tube", "8.2": "12:00",
        "8.3": f"{true['tube']:.0f}", "8.4": "yes", "9": f"150, {150 + apart:.0f}", "10.1": "frame rail",
        "10.2": "3:00", "10.3": f"{true['rail']:.0f}", "11.1": "sway bar", "11.2": "8:45", "11.3": f"{true['bar']:.0f}",
        "12": f"{true['stop']:.0f}", "13": true["wheel"], "14": true["tire"], "15": f"{true['lower']:.0f}",
    }  # fmt: skip
    session = Session(look=True)
    while session.current is not None:
        session.give(typed[session.current.numbered.number])
    return loads_profile(session.draft.text(), "first.yaml")


def main() -> None:
    count, seed = (int(given) for given in (*sys.argv[1:], *("20", "1")[len(sys.argv) - 1 :]))
    rng = np.random.default_rng(seed)
    called = right = doubt = safe = 0
    for number in range(1, count + 1):
        true = drawn(rng)
        try:
            full = api.check(in_full(true), "front", "wanted")
            look = api.check(at_first_sight(true), "front", "wanted")
        except FitmentError as error:
            print(f"{number:3}  left out: {error}", flush=True)
            continue
        keeps = min(entry.margin for entry in full.cases[0].fit.clearances) >= 0
        sure = look.asides[0].sure
        chance = sure.chance if sure else 0.0
        called, right = called + 1, right + ((chance >= 0.5) == keeps)
        doubt += (chance - keeps) ** 2
        safe += look.verdict == "clears" and not keeps
        print(
            f"{number:3}  {true['wheel']:24} {true['tire']:14} {true['lower']:3.0f} mm  full: {full.verdict:8}"
            f" every clearance {'kept' if keeps else 'not kept':8}  first look: {look.verdict:8} "
            f"{100 * chance:3.0f} in 100",
            flush=True,
        )
    print(f"\n{right} of {called}: what was likelier than not at first sight is so in full")
    print(f"mean squared error of the chance: {doubt / called:.3f} (0.25 for always saying 50)")
    print(f"first looks that said CLEARS where a clearance is not kept: {safe}")


if __name__ == "__main__":
    main()
